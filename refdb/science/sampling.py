"""How bands of the inputs become bands of the answer: a fixed, evenly spread sample, the same every time.

Every reading of a band stands here: as draws on both sides of a value, as a factor either way, as the deviations of a
normal distribution, and as quantiles of a sample or of a density on a grid.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

#: Samples of a verdict. A power of two keeps every single input evenly cut.
SAMPLES = 128

#: A band is read as the middle nine tenths of a distribution, its value as the median.
BAND_FRACTION = 0.9
#: Median, low and high end as quantiles.
_QUANTILES = (0.5, 0.05, 0.95)

# Generators of the additive recurrence: fractional parts of square roots of the first primes
# (Richtmyer 1951; Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods, SIAM 1992).
_PASSES = 4


def evenly_spread(names: Iterable[str], samples: int = SAMPLES) -> dict[str, Array]:
    """Return fractions in (0, 1) for each named input, evenly spread together and each alone.

    Parameters
    ----------
    names : iterable of str
        The inputs that have a band.
    samples : int
        How many draws.

    Returns
    -------
    dict of str to array (samples,)
        An additive recurrence with the square roots of primes, freed of chance correlation between columns and
        put in rank order, so that every input takes each of its `samples` equal slices exactly once (a Latin
        hypercube; Iman and Conover, Commun. Stat. B 11 (1982) 311, for the way).
    """
    names = tuple(names)
    table = spread_table(len(names), samples)
    return {name: table[k] for k, name in enumerate(names)}


@lru_cache(maxsize=32)
def spread_table(inputs: int, samples: int) -> Array:
    """Return the fractions of so many inputs; (inputs, samples), not to be written to."""
    roots = np.sqrt(np.array(_primes(inputs), dtype=float))
    table = _ranked((np.arange(1, samples + 1)[:, None] * roots) % 1.0)
    if inputs < samples // 2:
        for _ in range(_PASSES):
            factor = np.linalg.cholesky(np.corrcoef(table, rowvar=False).reshape(inputs, inputs))
            table = _ranked(np.linalg.solve(factor, table.T).T)
    fractions = np.ascontiguousarray((table + 0.5 * samples).T) / samples
    fractions.flags.writeable = False
    return fractions


def _primes(count: int) -> list[int]:
    """The first primes."""
    found: list[int] = []
    candidate = 2
    while len(found) < count:
        if all(candidate % p for p in found):
            found.append(candidate)
        candidate += 1
    return found


def _ranked(table: Array) -> Array:
    """Each column by rank, evenly spaced about zero."""
    rank = np.argsort(np.argsort(table, axis=0, kind="stable"), axis=0, kind="stable")
    return np.asarray(rank - (len(table) - 1) / 2.0, dtype=np.float64)


@lru_cache(maxsize=32)
def lattice(weights: tuple[float, ...], points: int) -> Array:
    """Return fractions of inputs, (inputs, points), whose mean comes nearer to the whole than that of as many draws.

    Parameters
    ----------
    weights : tuple of float
        How much each input decides, above zero; the heaviest are spread best together.
    points : int
        How many, 3 or more.

    Returns
    -------
    array (inputs, points)
        A rank-1 lattice, built column by column for the least squared worst error in a weighted Korobov space of
        smoothness 1 (Dick, Kuo and Sloan, Acta Numerica 22 (2013) 133), then folded by the baker's
        transform (Hickernell, in Monte Carlo and Quasi-Monte Carlo Methods 2000, Springer 2002, 274). Not to be
        written to.
    """
    step = np.arange(points)
    kernel = 2 * np.pi**2 * ((step / points) ** 2 - step / points + 1 / 6)
    columns = np.outer([z for z in range(1, points // 2 + 1) if math.gcd(z, points) == 1], step) % points
    free = np.ones(len(columns), dtype=bool)
    found, product = np.zeros((len(weights), points)), np.ones(points)
    for place in np.argsort(-np.array(weights), kind="stable"):
        free = free if free.any() else ~free
        errors = kernel[columns] @ product
        best = int(np.argmin(np.where(free, errors, np.inf)))
        free[best] = False
        product = product * (1 + weights[place] * kernel[columns[best]])
        found[place] = 1 - np.abs(2 * (columns[best] + 0.5) / points - 1)
    found.flags.writeable = False
    return found


def from_band(fraction: Any, value: float, low: float, high: float) -> Any:
    """Return the value of an input at fractions of its distribution.

    Parameters
    ----------
    fraction : float or array
        Between 0 and 1.
    value, low, high : float
        Median, and the ends of the band; `low <= value <= high`.

    Returns
    -------
    float or array
        Half of the draws lie below the value and half above, evenly spread on each side, and nine tenths of
        them in the band: the ends reach a ninth beyond it on each side.
    """
    reach = 0.5 / (0.5 * BAND_FRACTION)
    left, right = (value - low) * reach, (high - value) * reach
    u = np.asarray(fraction) * 2.0 - 1.0
    return np.where(u < 0, value + u * left, value + u * right)


def restated(value: float, low: float, high: float, share: float) -> tuple[float, float]:
    """Return the ends of the band that a sample reads, of a printed range that holds another share of what was found.

    Parameters
    ----------
    value, low, high : float
        Median, and the ends as they are printed.
    share : float
        What lies between them, above 0 and up to 1: 0.8 from the 10th to the 90th percentile.

    Returns
    -------
    low, high : float
        As far out that `from_band` draws the printed ends with the chance they had.
    """
    wider = BAND_FRACTION / share
    return value - (value - low) * wider, value + (high - value) * wider


def from_factor(fraction: Any, value: float, factor: float) -> Any:
    """Return the value of an input, float or array, whose band is value/factor to value·factor, even in the logarithm.

    Parameters
    ----------
    fraction : float or array
        Between 0 and 1.
    value, factor : float
        Median, above zero, and the factor, 1 or more.
    """
    width = math.log(factor)
    return value * np.exp(from_band(fraction, 0.0, -width, width))


def normally_spread(names: Iterable[str], samples: int = SAMPLES) -> dict[str, Array]:
    """Return standard normal numbers (samples,) for each named input, at the fractions of `evenly_spread`."""
    normal = NormalDist()
    # Every column is a permutation of the same fractions.
    steps = np.array([normal.inv_cdf((k + 0.5) / samples) for k in range(samples)])
    table = evenly_spread(names, samples)
    return {name: steps[np.rint(column * samples - 0.5).astype(int)] for name, column in table.items()}


def bands_of(samples: Array) -> Array:
    """Return median, 5 % and 95 % of samples along the last axis; (..., 3)."""
    # numpy's own quantile, default method, without the 15 ms that its import of masked arrays costs.
    ordered = np.sort(samples, axis=-1)
    last = ordered.shape[-1] - 1
    places = last * np.array(_QUANTILES)
    below = places.astype(int)
    low, high = ordered[..., below], ordered[..., np.minimum(below + 1, last)]
    # Infinite entries lie at the ends: between two of them nothing is to be interpolated.
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(low == high, low, low + (high - low) * (places - below)))


def band_of(sample: Array) -> tuple[float, float, float]:
    """Return median, 5 % and 95 % of a sample (n,)."""
    middle, low, high = bands_of(sample).tolist()
    return middle, low, high


def band_of_density(grid: Array, density: Array) -> tuple[float, float, float]:
    """Return median, 5 % and 95 % of a distribution by its density, of any scale, on a rising grid; trapezoid rule."""
    parts = np.diff(grid) * (density[1:] + density[:-1]) / 2
    below = np.concatenate(([0.0], np.cumsum(parts)))
    middle, low, high = np.interp(_QUANTILES, below / below[-1], grid)
    return float(middle), float(low), float(high)


def most_telling(columns: dict[str, Array], outcome: Any) -> str:
    """Return the name of the input whose place in its band decides most about the outcome.

    Parameters
    ----------
    columns : dict of str to array (samples,)
        The fractions drawn for each input.
    outcome : array (samples,)
        A number for the outcome of each draw.

    Returns
    -------
    str
        The input with the greatest absolute rank correlation; empty when the outcome never varies.
    """
    outcome = np.asarray(outcome, dtype=float)
    if not columns or float(np.ptp(outcome)) == 0.0:
        return ""
    table = np.stack(list(columns.values()))
    table -= table.mean(axis=1, keepdims=True)
    away = outcome - outcome.mean()
    size = np.sqrt((table**2).sum(axis=1) * (away @ away))
    strength = dict(zip(columns, np.abs(table @ away / size).tolist(), strict=True))
    return max(strength, key=lambda name: (round(strength[name], 6), name))
