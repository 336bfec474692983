"""How a closed coat levels to a gloss, and how much of what lies under it flows with it.

Grains fall at random, so the closed coat starts with a roughness of all wavelengths; surface tension levels the
short ones first. Gloss is reached when the slopes that are left no longer scatter a reflection.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refdb.science.firing.sintering import USUAL_GRAINS, Grains

Array = NDArray[np.float64]

#: Slope, rad, whose mirror image just leaves the receptor of the 60° gloss geometry, ±2.2° (ISO 2813, angles
#: recalled). A criterion half as large again, or as small, moves times by 30 to 45 %.
GLOSS_SLOPE = math.radians(1.1)
#: Packing of a powder pore and share of it that wicks (assumptions of the estimate of wicking).
_PORE_SHARE, _LAID_DENSITY = 0.35, 0.55


def levelling_rate_per_m(wavenumber_per_m: ArrayLike, thickness_m: float) -> Array:
    """Return the decay rate of a ripple times viscosity over surface tension, 1/m.

    Parameters
    ----------
    wavenumber_per_m : float or array
        2π over the wavelength.
    thickness_m : float
        Thickness of the molten film.

    Notes
    -----
    (k/2)(sinh x cosh x - x)/(cosh²x + x²), x = kh (Orchard, 1962; full form recalled); k⁴h³/3 for a thin film
    (read) and k/2 for a deep one.
    """
    k = np.asarray(wavenumber_per_m, dtype=float)
    return np.asarray(_ripple(k * thickness_m) / thickness_m)


def _ripple(x: Array) -> Array:
    """Orchard's rate times thickness, as a function of x = kh; its limits where the full form would fail."""
    small, deep = x < 1e-3, x > 40.0
    safe = np.where(small | deep, 1.0, x)
    full = safe / 2.0 * (np.sinh(safe) * np.cosh(safe) - safe) / (np.cosh(safe) ** 2 + safe**2)
    return np.asarray(np.where(small, x**4 / 3.0, np.where(deep, x / 2.0, full)))


@cache
def _table() -> tuple[Array, Array]:
    """log of dose over thickness, and log of ∫x³ exp(-2·dose/thickness·ripple(x)) dx, both rising in -slope."""
    x = np.geomspace(1e-3, 1e3, 2000)
    ripple = _ripple(x)
    dose = np.geomspace(0.02, 1e6, 200)
    left = np.empty(dose.size)
    for i, value in enumerate(dose):
        f = x**3 * np.exp(-2.0 * value * ripple)
        left[i] = float(np.sum((f[1:] + f[:-1]) * np.diff(x)) / 2.0)
    return np.log(dose), np.log(left)


def slope_after(dose_m: ArrayLike, thickness_m: float, grains: Grains = USUAL_GRAINS) -> Array:
    """Return the root-mean-square slope, rad, of a coat after a dose ∫γ dt/η, m.

    Notes
    -----
    slope² = (h V/2π) ∫k³ exp(-2 Ψ w(k)) dk: a white spectrum hV of random grains of volume V (elementary shot
    noise) with `levelling_rate_per_m`. It holds once ripples shorter than a grain have gone, and near the
    threshold of gloss; before that the coat is too rough for slopes to be small.
    """
    logs, left = _table()
    inside = np.interp(np.log(np.asarray(dose_m, dtype=float) / thickness_m), logs, left)
    return np.asarray(np.sqrt(grains.volume_m3 / (2.0 * math.pi * thickness_m**3) * np.exp(inside)))


def gloss_dose_m(
    thickness_m: ArrayLike, volume_m3: ArrayLike = USUAL_GRAINS.volume_m3, slope: ArrayLike = GLOSS_SLOPE
) -> Array:
    """Return the dose ∫γ dt/η, m, after which a coat shines.

    Parameters
    ----------
    thickness_m : float or array
        Molten thickness that levels.
    volume_m3 : float or array
        Mean grain volume.
    slope : float or array
        Slope at which it counts as gloss, rad.

    Notes
    -----
    `slope_after` solved for the dose. In kh the integral depends on dose over thickness alone, so one table
    serves every coat. For a thin film it becomes `gloss_dose_thin_m`, for a deep one (3hV/(π s²))^(1/4): up to about
    1 mm a thicker coat shines sooner, beyond it the roughness of more grains takes longer.
    """
    h = np.asarray(thickness_m, dtype=float)
    logs, left = _table()
    wanted = np.log(2.0 * math.pi * h**3 * np.asarray(slope, dtype=float) ** 2 / np.asarray(volume_m3, dtype=float))
    return np.asarray(h * np.exp(np.interp(-wanted, -left, logs)))


def gloss_dose_thin_m(
    thickness_m: float, volume_m3: float = USUAL_GRAINS.volume_m3, slope: float = GLOSS_SLOPE
) -> float:
    """Return the thin-film limit of `gloss_dose_m`, 3V/(16π h² s²); it falls short when ripples are deep."""
    return 3.0 * volume_m3 / (16.0 * math.pi * thickness_m**2 * slope**2)


def share_from_below(under_m: float, over_m: float, fluidity_ratio: ArrayLike) -> Array:
    """Return the share of the flow into a trough that the under coat supplies, 0 to 1.

    Parameters
    ----------
    under_m, over_m : float
        Thicknesses of the two coats.
    fluidity_ratio : float or array
        Viscosity of the over coat divided by that of the under coat.

    Notes
    -----
    Two layers on a rigid base in the lubrication limit under one pressure gradient: q1 = (a³/3 + a²b/2)M, q2 =
    b³/3 + (a²b/2 + ab²)M, share = q1/(q1 + q2). Derived here; agrees with velocity profiles by finite differences.
    """
    a, b, m = under_m, over_m, np.asarray(fluidity_ratio, dtype=float)
    below = (a**3 / 3.0 + a * a * b / 2.0) * m
    above = b**3 / 3.0 + (a * a * b / 2.0 + a * b * b) * m
    return np.asarray(below / (below + above))


def wicked_share(under_dose_m: ArrayLike, over_m: float, grains: Grains = USUAL_GRAINS) -> Array:
    """Return how far, as a share of its powder height, the over coat is wetted from below before it closes.

    Parameters
    ----------
    under_dose_m : float or array
        Dose ∫γ dt/η of the under coat, m, by the time the over coat closes.
    over_m : float
        Fired thickness of the over coat.

    Notes
    -----
    L² = γ r_p t/(2η) for a wetting melt (Washburn, 1921), pores 0.35 of the grain radius (assumed).
    """
    risen = np.sqrt(_PORE_SHARE * grains.radius_m * np.asarray(under_dose_m, dtype=float) / 2.0)
    return np.asarray(risen / (over_m / _LAID_DENSITY))


def bare_share(over_m: float, grains: Grains = USUAL_GRAINS) -> float:
    """Return the share of the face that random sifting leaves bare before melting, exp(-1.5 h/(2r))."""
    return math.exp(-1.5 * over_m / (2.0 * grains.radius_m))
