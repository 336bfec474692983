"""How a shallow dome resists a change of its curvature."""

from __future__ import annotations

from typing import Any


def dome_restraint_n_m(stiffness_n_per_m: Any, rise_m: Any) -> Any:
    """Return the moment per width for unit change of curvature that a dome adds to its wall's own bending stiffness.

    Parameters
    ----------
    stiffness_n_per_m : float or array
        Σ E·h through the wall, glass and metal [N/m].
    rise_m : float or array
        Height of the dome over its rim [m].

    Returns
    -------
    float or array
        Σ E·h · rise²/24 [N·m].

    Notes
    -----
    Energy method for a shallow spherical cap with free edge whose curvature changes evenly: the membrane stresses
    follow from ∇⁴F = −(E/R)∇²w with R = a²/(2·rise), and the radius a drops out. An even change of curvature is the
    stiffest way a dome can bend, so this is an upper bound; the rim itself bends more freely.
    """
    return stiffness_n_per_m * rise_m**2 / 24.0
