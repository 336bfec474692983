"""How a sintered metal differs from the solid one by its relative density: stiffness and strength.

Expansion does not differ: it is all but independent of the pores (Ternero and others, Metals 11 (2021) 730, read).
"""

from __future__ import annotations

#: Strength goes with the relative density to this power (recalled; 2 to 3 are printed).
STRENGTH_POWER = 2.5


def least_stiffness(relative_density: float, solid_poisson: float) -> float:
    """Return Young's modulus over that of the solid metal by the formula that makes it least (Ramakrishnan and
    Arunachalam; recalled): (1 - p)²/(1 + (2 - 3ν)p), with p what the pores take of the volume."""
    pores = 1.0 - relative_density
    return (1.0 - pores) ** 2 / (1.0 + (2.0 - 3.0 * solid_poisson) * pores)


def most_stiffness(relative_density: float) -> float:
    """Return the same by the formula that makes it most (Gibson and Ashby; recalled): the relative density squared."""
    return relative_density**2
