"""How a shallow dome resists a change of its curvature, and what its free rim does."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from refdb.errors import BadInput

#: Width of a rim over √(R·h), from just below to just above what was found: three quarters of the freedom are left at
#: 0.48 of an elastic wall and half at 0.79; with metal that yields at 0.41-0.89 and 0.67-1.21.
RIM_NARROW, RIM_WIDE = 0.4, 1.25


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
    stiffest way a dome can bend, so this is an upper bound; the rim itself bends more freely (`dome_rim`), and the
    middle of a low dome can be squeezed harder than by this bound, since the rim's bending waves reach it.
    """
    return stiffness_n_per_m * rise_m**2 / 24.0


def dome_rim(radius_m: float, rise_m: float, thickness_m: float) -> tuple[float, float]:
    """Return how wide the rim of a spherical dome is, over which it bends freely along its meridian.

    Parameters
    ----------
    radius_m : float
        Radius of the rim's circle [m], above zero.
    rise_m : float
        Height of the dome over its rim [m], from zero (flat) to the radius (half a ball).
    thickness_m : float
        The whole wall, glass and metal [m], above zero.

    Returns
    -------
    narrow_m, wide_m : float
        Way along the meridian from the edge [m]: 0.4 and 1.25 times √(R·h), R = (radius² + rise²)/(2·rise), and
        never more than the way from the edge to the pole. A flat piece is rim all over.

    Raises
    ------
    BadInput
        A radius, rise or thickness outside these limits.

    Notes
    -----
    Where a dome is stopped from bending, a free edge brings that back as M = M₀·e^(−ξ)·(cos ξ + sin ξ) with
    ξ = x·(3(1−ν²))^(1/4)/√(R·h), the boundary layer of shell theory (Timoshenko and Woinowsky-Krieger, Theory of Plates
    and Shells, 2nd ed. (1959), from memory): three quarters of it are left at 0.48·√(R·h), half at 0.79, for ν of 0.3.
    Computed with finite elements for yielding silver of 0.3 and 0.5 mm under 0.2 mm of glass on either face, radius
    15 mm, rise 1-5 mm: 0.41-0.89 and 0.67-1.21. The pair spans them all.
    """
    if not (math.isfinite(radius_m) and radius_m > 0):
        raise BadInput("must be above zero and finite", "radius", "give the radius of the rim in metres")
    if not 0 <= rise_m <= radius_m:
        raise BadInput("must lie between none and the radius", "rise", "give the height over the rim in metres")
    if not (math.isfinite(thickness_m) and thickness_m > 0):
        raise BadInput("must be above zero and finite", "thickness", "give the whole wall in metres")
    ball = (radius_m**2 + rise_m**2) / (2.0 * rise_m) if rise_m > 0 else math.inf
    # Below a millionth the arc is the radius, and an arc sine of nothing times a ball without end would not be.
    length = ball * 2.0 * math.atan2(rise_m, radius_m) if rise_m > 1e-6 * radius_m else radius_m
    scale = math.sqrt(ball * thickness_m)
    return min(RIM_NARROW * scale, length), min(RIM_WIDE * scale, length)


def rim_hoop_strain(curvature_per_m: Any, thickness_m: Any, poisson_ratio: Any = 0.3) -> Any:
    """Return by how much the rim of a dome stretches around, where a flat wall of the same make would bow.

    Parameters
    ----------
    curvature_per_m : float or array
        Curvature that the flat wall would take [1/m], the domed face more convex > 0.
    thickness_m : float or array
        The whole wall, glass and metal [m].
    poisson_ratio : float or array
        Of the wall [-].

    Returns
    -------
    float or array
        Strain of the rim's hoop against the middle of the dome [-], tension positive: −(κ·h/2)·√((1+ν)/(3(1−ν))).

    Notes
    -----
    Shell theory as in `dome_rim`: the edge moment D(1+ν)κ that frees the rim moves it by w = M/(2β²D) with
    β⁴ = 3(1−ν²)/(R·h)², and the hoop strain is w/R; the radius drops out. Elastic and even wall; valid where the rim is
    narrower than the dome. A coat on the hollow face bows the wall the other way, and its rim is stretched around.
    """
    return -curvature_per_m * thickness_m / 2.0 * ((1.0 + poisson_ratio) / (3.0 * (1.0 - poisson_ratio))) ** 0.5


def rim_hoop_pa(
    held_pa: Any,
    flat_pa: Any,
    curvature_per_m: Any,
    thickness_m: Any,
    youngs_pa: Any,
    radius_m: Any,
    rise_m: Any,
    followed: Any,
) -> Any:
    """Return the stress around the rim of a dome at a face of one of its layers, one wall thickness in from the edge.

    Parameters
    ----------
    held_pa, flat_pa : float or array
        Stress at that face of a wall that may not bend at all, and of a flat one [Pa].
    curvature_per_m : float or array
        Curvature that the flat wall takes [1/m], the domed face more convex > 0.
    thickness_m, youngs_pa : float or array
        The whole wall, glass and metal [m], and the layer's modulus [Pa].
    radius_m, rise_m : float or array
        Radius of the rim's circle and height of the dome over it [m], above zero.
    followed : float or array
        Share of flat less held that the freed bending along the meridian brings around [-]: Poisson's ratio of an
        elastic wall, more of one that yields.

    Returns
    -------
    float or array
        Stress around [Pa], tension positive.

    Notes
    -----
    The boundary layer of `dome_rim`, with ξ one wall thickness in: the bending along it fades as e^(−ξ)(cos ξ + sin ξ),
    the hoop of `rim_hoop_strain` as e^(−ξ)(cos ξ − sin ξ). A dome lower than its wall is rim all over, and stretches
    by rise/thickness of that hoop. Computed with finite elements for one coat on the hollow face, 64 builds of silver
    and copper that yield, 0.4-0.8 mm under 0.1-0.3 mm of glass, radius 8-30 mm, rise 1-5 mm: `followed` is 0.43-0.91 in
    nine tenths of them, 0.73 in the middle, which leaves errors of −32 to +18 MPa; an elastic wall has 0.4. Nearer to
    the edge there is more, by up to 60 MPa.
    """
    ball = (radius_m**2 + rise_m**2) / (2.0 * rise_m)
    inward = (3.0 * (1.0 - 0.3**2)) ** 0.25 * (thickness_m / ball) ** 0.5
    fades = np.exp(-inward)
    bent = (flat_pa - held_pa) * fades * (np.cos(inward) + np.sin(inward))
    hoop = youngs_pa * rim_hoop_strain(curvature_per_m, thickness_m) * fades * (np.cos(inward) - np.sin(inward))
    return held_pa + followed * bent + np.minimum(rise_m / thickness_m, 1.0) * hoop
