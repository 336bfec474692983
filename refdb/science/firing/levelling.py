"""How a closed coat levels to a gloss.

Grains fall at random, so the closed coat starts with a roughness of all wavelengths; surface tension levels the
short ones first. Gloss is reached when the slopes that are left no longer scatter a reflection.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refdb.science.firing.sintering import USUAL_GRAINS, Grains

Array = NDArray[np.float64]

#: Slope, rad, whose mirror image just leaves the receptor of the 60° gloss geometry, ±2.2° (ISO 2813, angles
#: recalled). A criterion half as large again, or as small, moves times by 30 to 45 %.
GLOSS_SLOPE = math.radians(1.1)
#: Molten glass is a film from about one grain of the usual powder on: its mean grain is 0.11 mm across.
_LEAST_FILM_M = 0.1e-3


def least_film_m(grains: Grains = USUAL_GRAINS) -> float:
    """Return the least depth of molten glass, m, that is a film and not grains apart: about one grain of the powder."""
    return float(_LEAST_FILM_M * np.cbrt(grains.volume_m3 / USUAL_GRAINS.volume_m3))


def levelling_depth_m(coat_m: float, beneath: Iterable[tuple[float, float]]) -> float:
    """Return the thickness of a film of the top coat alone, m, that levels as soon as a coat on molten glass does.

    Parameters
    ----------
    coat_m : float
        The top coat.
    beneath : iterable of (float, float)
        Thickness, m, and fluidity over that of the top coat, of each layer beneath, nearest first.

    Notes
    -----
    Lubrication: under a pressure that is even through the depth, ∫u dz ∝ ∫(H - z)²/η dz, so H_e³ is the sum of
    M·(d_below³ - d_above³) over the layers, d from the surface down. What is more fluid than the top coat is taken as
    fluid as it.
    """
    depth, cubed = coat_m, coat_m**3
    for thickness_m, more_fluid in beneath:
        cubed += min(more_fluid, 1.0) * ((depth + thickness_m) ** 3 - depth**3)
        depth += thickness_m
    return float(cubed ** (1.0 / 3.0))


def _ripple(x: Array) -> Array:
    """Decay rate of a ripple times viscosity, over surface tension, times thickness, as a function of x = kh.

    (x/2)(sinh x cosh x - x)/(cosh²x + x²) (Orchard, 1962; full form recalled); x⁴/3 for a thin film (read) and x/2
    for a deep one, which are taken where the full form would fail.
    """
    small, deep = x < 1e-3, x > 40.0
    safe = np.where(small | deep, 1.0, x)
    full = safe / 2.0 * (np.sinh(safe) * np.cosh(safe) - safe) / (np.cosh(safe) ** 2 + safe**2)
    return np.asarray(np.where(small, x**4 / 3.0, np.where(deep, x / 2.0, full)))


@cache
def _table() -> tuple[Array, Array]:
    """Logarithms of t = capillary time over thickness, rising, and of ∫x³ exp(-2t·ripple(x)) dx there, falling."""
    x = np.geomspace(1e-3, 1e3, 2000)
    ripple = _ripple(x)
    times = np.geomspace(0.02, 1e6, 200)
    left = np.empty(times.size)
    for i, value in enumerate(times):
        f = x**3 * np.exp(-2.0 * value * ripple)
        left[i] = float(np.sum((f[1:] + f[:-1]) * np.diff(x)) / 2.0)
    return np.log(times), np.log(left)


def gloss_capillary_time_m(
    thickness_m: ArrayLike, volume_m3: ArrayLike = USUAL_GRAINS.volume_m3, slope: ArrayLike = GLOSS_SLOPE
) -> Array:
    """Return the capillary time ∫γ/η dt, m, after which a coat shines; shape of the inputs together.

    Parameters
    ----------
    thickness_m : float or array
        Molten thickness that levels.
    volume_m3 : float or array
        Mean grain volume.
    slope : float or array
        Root-mean-square slope at which it counts as gloss, rad.

    Notes
    -----
    slope² = (h V/2π) ∫k³ exp(-2 Ψ w(k)) dk solved for Ψ: a white spectrum hV of random grains of volume V (elementary
    shot noise), each ripple decaying at Orchard's rate w. It holds once ripples shorter than a grain have gone. In kh
    the integral depends on Ψ/h alone, so one table serves every coat. For a thin film Ψ is 3V/(16π h² s²), for a deep
    one (3hV/(π s²))^(1/4): up to about 1 mm a thicker coat shines sooner, since a thin film drags on its base (its
    ripples decay as h³), beyond it the roughness of more grains takes longer. Below `least_film_m` there is no film,
    and this says nothing.
    """
    h = np.asarray(thickness_m, dtype=float)
    logs, left = _table()
    wanted = np.log(2.0 * math.pi * h**3 * np.asarray(slope, dtype=float) ** 2 / np.asarray(volume_m3, dtype=float))
    return np.asarray(h * np.exp(np.interp(-wanted, -left, logs)))
