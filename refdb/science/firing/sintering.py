"""How a bed of glass grains closes to a film: viscous sintering held by a rigid base.

The capillary time of a firing is the integral of surface tension over viscosity, in metres; divided by the grain
radius it is the reduced time, which tells how dense the bed has become.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import NDArray

from refdb.errors import BadInput
from refdb.frozen import dataclass

Array = NDArray[np.float64]

#: Fraction of solid in a bed of crushed grains as laid (estimate, 0.5 to 0.6; it hardly moves any time).
LAID_DENSITY = 0.55
#: Relative density up to which the coat looks sugary, and from which it is closed: the orange peel.
SUGARY_DENSITY, CLOSED_DENSITY = 0.75, 0.95
#: Crushed grains sinter faster than spheres of their size, 1 to 5 times (Cutler and Henrichsen 1968, recalled);
#: 2 meets the published shrinkage temperatures of a reference glass in the heating microscope.
CRUSHED_FACTOR = 2.0
#: Openings of the sieves of 80 and 325 mesh, m (ASTM E11).
MESH_80_M, MESH_325_M = 177e-6, 44e-6


@dataclass(frozen=True)
class Grains:
    """Radius that sinters like the powder (surface mean), m, and its mass-weighted mean grain volume, m³."""

    radius_m: float
    volume_m3: float


def grains_between(coarse_m: float, fine_m: float) -> Grains:
    """Return the powder between two sieves, its mass spread evenly over the logarithm of size.

    Parameters
    ----------
    coarse_m, fine_m : float
        Openings of the sieve it passes and of the one that holds it, m.

    Notes
    -----
    r = ½ ln(D1/D2)/(1/D2 - 1/D1) and V = (π/6)(D1³ - D2³)/(3 ln(D1/D2)); a definition made here.

    Raises
    ------
    BadInput
        When the openings are not above zero, or in the wrong order.
    """
    if not 0.0 < fine_m < coarse_m < 0.01:
        raise BadInput("the coarser sieve comes first and both are openings in metres", "grains")
    spread = math.log(coarse_m / fine_m)
    return Grains(
        0.5 * spread / (1.0 / fine_m - 1.0 / coarse_m), math.pi / 6.0 * (coarse_m**3 - fine_m**3) / (3.0 * spread)
    )


#: The usual sifted powder: through 80 mesh, fines below 325 mesh washed out.
USUAL_GRAINS = grains_between(MESH_80_M, MESH_325_M)


def film_constraint(density: float | Array) -> Array:
    """Return how much slower a film on a rigid base densifies than a free body, 0 to 1.

    Notes
    -----
    (1 + ν)/(3(1 - ν)) with the viscous Poisson's ratio ν = ½ sqrt(ρ/(3 - 2ρ)) (Scherer and Garino, 1985; abstract
    read, formula recalled).
    """
    density = np.asarray(density, dtype=float)
    ratio = 0.5 * np.sqrt(density / (3.0 - 2.0 * density))
    return np.asarray((1.0 + ratio) / (3.0 * (1.0 - ratio)))


@cache
def reduced_time(density: float, laid: float = LAID_DENSITY, film: bool = True) -> float:
    """Return the reduced time ∫γ/(η r) dt [-] from the density as laid to a relative density.

    Parameters
    ----------
    density, laid : float
        Relative densities, 0 < laid < density < 1.
    film : bool
        Whether the coat is held by its base.

    Notes
    -----
    dρ/dθ = 1.5 (1-ρ)^(2/3) ρ^(1/3), one pore for each grain (Mackenzie and Shuttleworth, 1949; recalled), times
    `film_constraint` for a film.

    Raises
    ------
    BadInput
        When the densities are not in that order.
    """
    if not 0.0 < laid < density < 1.0:
        raise BadInput("the density must rise from above 0 to below 1", "sintering")
    rho = np.linspace(laid, density, 4001)
    slowness = 1.0 / (1.5 * (1.0 - rho) ** (2.0 / 3.0) * np.cbrt(rho) * (film_constraint(rho) if film else 1.0))
    return float(np.sum((slowness[1:] + slowness[:-1]) * np.diff(rho)) / 2.0)


def sintering_capillary_time_m(density: float, grains: Grains = USUAL_GRAINS) -> float:
    """Return the capillary time ∫γ/η dt, m, that brings a coat of these grains to a relative density."""
    return reduced_time(density) * grains.radius_m / CRUSHED_FACTOR
