"""The strip test: from the bow of a metal strip coated on one face, the expansion of the glass.

The layered plate of `plate` is run backwards. Its inputs that are not exactly known are drawn within their errors;
for every draw the bow is worked out over a row of expansions, and each expansion is weighed by how well its bows
agree with the measured one (errors of bow and length normal, a flat prior from 0.5 to 30 ppm/K). The interval is the
middle nine tenths of the posterior. Several strips of one glass are weighed in the same draws, so that what they share
(setting temperature, yield of one metal) counts once. While the metal stays elastic the value
is Timoshenko's inverse (J. Opt. Soc. Am. 11 (1925) 233), with E/(1−ν) for E.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.science.inference.strip_advice import Advice, advise
from refdb.science.inference.strip_table import (
    LEAST_PER_K,
    MOST_PER_K,
    ROUGH_STEP_K,
    Errors,
    Strip,
    bend,
    bow_of_curvature,
    bow_slope_m2,
    checked,
    curvatures,
    draw,
    elastic_slope,
)
from refdb.science.plate.fracture import ANNEALED_STRENGTH_PA, duration_factor
from refdb.science.plate.layers import Array, Layer
from refdb.science.sampling import band_of_density

__all__ = ["Advice", "Errors", "OneStrip", "Strip", "StripReading", "expansion_from_bow", "read_strips"]

#: A wider interval than this tells no more than the class does: lead-free glasses of one hardness made for copper
#: lie anywhere between 11.5 and 14.5 ppm/K.
WIDEST_USEFUL_PER_K = 3e-6
#: A strip narrower than this many of its thicknesses does not bend as a plate.
LEAST_WIDTHS = 5.0
#: More than this of the metal's strain gone to yield counts as yielded.
_YIELDED = 2e-5
_COARSE_NODES, _COARSE_DRAWS, _FINE_NODES, _GRID, _POINTS = 16, 12, 9, 501, 17
#: The nodes never stand wider apart than this; a posterior is cut off at an end of the grid where it is above this
#: fraction of its best.
_FINE_PER_K, _CUT = 0.5e-6, 2e-3
#: The bow may miss what any strip of the sample shows by so many standard deviations; beyond, it is refused.
_WORST_MISS = 4.0


@dataclass(frozen=True)
class OneStrip:
    """What one strip says by itself.

    `value_per_k` is the expansion that gives the measured bow with every input at its value (None where none does);
    `curvature_per_m` the change of curvature; `bow_per_expansion_m_k` how the bow moves with expansion [m per 1/K],
    below zero; `elastic_share` this as a fraction of that of a strip whose metal never yields; `plastic_strain` of the
    metal; `tension_pa` the worst stress in the coat, tension positive.
    """

    value_per_k: float | None
    curvature_per_m: float
    bow_per_expansion_m_k: float
    elastic_share: float
    plastic_strain: float
    tension_pa: float

    @property
    def yielded(self) -> bool:
        """Whether the metal yielded while it cooled."""
        return self.plastic_strain > _YIELDED


@dataclass(frozen=True)
class StripReading:
    """The expansion of a glass by one strip or several: mean linear over 20-400 °C [1/K], 5-95 %.

    `shares` tells what the width of the interval comes from, as fractions of its variance, greatest first; `dominates`
    names the first. `identifies` is False when the bow hardly tells expansions apart any more. `grid` and `posterior`
    (summing to 1) hold the whole distribution, to be joined with other evidence.
    """

    value_per_k: float
    low_per_k: float
    high_per_k: float
    shares: dict[str, float]
    identifies: bool
    strips: tuple[OneStrip, ...]
    warnings: tuple[str, ...]
    advice: Advice | None
    grid: Array
    posterior: Array

    @property
    def dominates(self) -> str:
        """The input that most of the interval's width comes from; empty when nothing is uncertain."""
        return next(iter(self.shares), "")

    @property
    def triple(self) -> tuple[float, float, float]:
        """Value, low and high [1/K]."""
        return self.value_per_k, self.low_per_k, self.high_per_k


def expansion_from_bow(
    bow_m: float,
    length_m: float,
    metal_layer: Layer,
    glass_layer: Layer,
    *,
    bow_error_m: float = 1e-4,
    length_error_m: float = 1e-3,
    set_error_k: float = 30.0,
    flow_error: float = 0.2,
) -> tuple[float, float, float]:
    """Return the expansion of the glass on a strip from the change of the strip's bow in the firing.

    Parameters
    ----------
    bow_m : float
        Rise of the middle over the ends at room temperature, of a strip that was straight before [m]; positive with
        the glass on the convex side.
    length_m : float
        Straight distance over which the bow is measured [m].
    metal_layer, glass_layer : Layer
        The strip and its coat. The glass needs its setting temperature; its strain gives the shape of its expansion
        curve, of which only the size is sought.
    bow_error_m, length_error_m, set_error_k, flow_error : float
        Standard deviations of bow and length [m], of the setting temperature [K], and of the flow stress as a
        fraction of it.

    Returns
    -------
    tuple of float
        Value, low and high (5-95 %) of the mean linear expansion over 20-400 °C [1/K]. Thicknesses, stiffness and
        the metal's expansion are taken as exact here; `read_strips` takes their errors, and the bow before firing.

    Raises
    ------
    BadInput
        A number that cannot be, or a bow that no glass gives this strip.

    Examples
    --------
    >>> import refdb
    >>> def grows(per_k):
    ...     return lambda temp_c: per_k * (temp_c - 20.0)
    >>> copper = refdb.Layer("copper", 0.65e-3, 115e9, 0.34, grows(18.5e-6))
    >>> coat = refdb.Layer("glass", 0.30e-3, 70e9, 0.22, grows(12e-6), set_c=500.0)
    >>> value, low, high = refdb.expansion_from_bow(4.0e-3, 0.1, copper, coat)
    >>> low < value < high
    True
    """
    errors = Errors(bow_error_m, set_error_k, flow_error, length_m=length_error_m)
    strip = Strip(bow_m, length_m, metal_layer, glass_layer, errors=errors)
    return read_strips([strip], with_advice=False).triple


def read_strips(strips: Sequence[Strip], *, with_advice: bool = True) -> StripReading:
    """Return the expansion of one glass from one strip or several.

    Parameters
    ----------
    strips : sequence of Strip
        All of the same glass.
    with_advice : bool
        Whether to look for a strip that would tell more.

    Returns
    -------
    StripReading

    Raises
    ------
    BadInput
        No strip, a number that cannot be, or a bow that no glass gives a strip.
    NotConverged
        The plate could not be balanced.
    """
    if not strips:
        raise BadInput("no strip was given", "strip")
    strips = [checked(s) for s in strips]
    drawn = draw(strips)
    rows = len(next(iter(drawn[0].values()))) if drawn[0] else 1
    low, high = _where(strips, drawn, min(rows, _COARSE_DRAWS + 1))
    while True:
        nodes = np.linspace(low, high, max(_FINE_NODES, math.ceil((high - low) / _FINE_PER_K)))
        tables = [curvatures(s, nodes, z, rows) for s, z in zip(strips, drawn, strict=True)]
        grid = np.linspace(low, high, _GRID)
        posterior = _posterior(strips, tables, nodes, grid)
        # The closer look may find more at an end than the coarse one did.
        cut = [x > _CUT * posterior.max() for x in (posterior[0], posterior[-1])]
        wider = (
            max(LEAST_PER_K, 2 * low - high) if cut[0] else low,
            min(MOST_PER_K, 2 * high - low) if cut[1] else high,
        )
        if wider == (low, high):
            break
        low, high = wider
    ones = tuple(_alone(s, table[0], nodes) for s, table in zip(strips, tables, strict=True))
    middle, *ends = band_of_density(grid, posterior)
    sole = ones[0].value_per_k if len(ones) == 1 else None
    value = middle if sole is None else sole
    exact = rows == 1 and all(s.curvature_error_per_m == 0 for s in strips)
    bounds = (value, value) if exact and sole is not None else (min(ends[0], value), max(ends[1], value))
    shares = _shares(strips, tables, drawn, nodes, value)
    identifies = bounds[1] - bounds[0] <= WIDEST_USEFUL_PER_K and not _cut_off(bounds)
    # Only a strip of its own size can be bettered; several strips are already more than one.
    best = advise(strips[0], value) if with_advice and len(strips) == 1 else None
    return StripReading(
        value, *bounds, shares, identifies, ones, _warnings(strips, ones, bounds, identifies), best, grid, posterior
    )


def _where(strips: Sequence[Strip], drawn: Sequence[dict[str, Array]], rows: int) -> tuple[float, float]:
    """The expansions worth a closer look, from a coarse table over all that are possible.

    Raises
    ------
    BadInput
        No expansion gives a bow near the measured one.
    """
    nodes = np.linspace(LEAST_PER_K, MOST_PER_K, _COARSE_NODES)
    tables = [curvatures(s, nodes, z, rows, ROUGH_STEP_K) for s, z in zip(strips, drawn, strict=True)]
    for place, (strip, table) in enumerate(zip(strips, tables, strict=True)):
        least, most = float(table.min()), float(table.max())
        slack = _WORST_MISS * strip.curvature_error_per_m + 1e-9
        if not least - slack <= strip.curvature_per_m <= most + slack:
            ends = [bow_of_curvature(k, strip.length_m) * 1e3 for k in (least, most)]
            raise BadInput(
                f"no glass between {LEAST_PER_K * 1e6:g} and {MOST_PER_K * 1e6:g} ppm/K bends this strip so: with "
                f"these figures the firing changes its bow by {ends[0]:.2f} to {ends[1]:.2f} mm",
                "bow" if len(strips) == 1 else f"bow of strip {place + 1}",
                "check thicknesses, length and which side bulges (above zero: the glass is outside)",
            )
    grid = np.linspace(LEAST_PER_K, MOST_PER_K, _GRID)
    posterior = _posterior(strips, tables, nodes, grid)
    held = np.flatnonzero(np.cumsum(posterior) >= 1e-4)[0], np.flatnonzero(np.cumsum(posterior) <= 1 - 1e-4)
    first, last = int(held[0]), int(held[1][-1]) if len(held[1]) else int(held[0])
    # What a coarse table misses lies within half of its steps.
    margin = (nodes[1] - nodes[0]) / 2
    low = max(LEAST_PER_K, float(grid[min(first, last)]) - margin)
    high = min(MOST_PER_K, float(grid[max(first, last)]) + margin)
    sure = [k for k in (_root(s, table[0], nodes) for s, table in zip(strips, tables, strict=True)) if k is not None]
    return min([low, *(k - margin / 2 for k in sure)]), max([high, *(k + margin / 2 for k in sure)])


def _weights(nodes: Array, grid: Array) -> Array:
    """Matrix (nodes, grid) of linear interpolation."""
    apart = np.abs(grid[None, :] - nodes[:, None]) / (nodes[1] - nodes[0])
    return np.asarray(np.maximum(0.0, 1.0 - apart), dtype=np.float64)


def _posterior(strips: Sequence[Strip], tables: Sequence[Array], nodes: Array, grid: Array) -> Array:
    """Posterior weight of each expansion of the grid, summing to 1."""
    weights = _weights(nodes, grid)
    total: Array | None = None
    for strip, table in zip(strips, tables, strict=True):
        part = table[1:] if len(table) > 1 else table
        at = part @ weights
        # An error finer than the grid would fall between its points.
        reach = np.hypot(strip.curvature_error_per_m, np.gradient(at, axis=1)) + 1e-12
        logs = -0.5 * ((at - strip.curvature_per_m) / reach) ** 2 - np.log(reach)
        total = logs if total is None else total + logs
    assert total is not None
    density = np.exp(total - total.max()).sum(axis=0)
    return np.asarray(density / density.sum(), dtype=np.float64)


def _root(strip: Strip, row: Array, nodes: Array) -> float | None:
    """Where a row of curvatures over expansions meets the measured one; the bow falls as expansion rises."""
    miss = row - strip.curvature_per_m
    place = np.flatnonzero((miss[:-1] >= 0) & (miss[1:] <= 0) & (miss[:-1] != miss[1:]))
    if not len(place):
        return None
    k = int(place[0])
    return float(nodes[k] + (nodes[k + 1] - nodes[k]) * miss[k] / (miss[k] - miss[k + 1]))


def _alone(strip: Strip, row: Array, nodes: Array) -> OneStrip:
    """One strip with every input at its value: the expansion found again in finer steps, and how the strip is then."""
    step = float(nodes[1] - nodes[0])
    rough = _root(strip, row, nodes)
    best = rough if rough is not None else float(nodes[int(np.abs(row - strip.curvature_per_m).argmin())])
    fine = best + step * np.linspace(-1.0, 1.0, _POINTS)
    bent = bend(strip, fine, {})
    value = _root(strip, bent.curvature_per_m, fine) if rough is not None else None
    place = best if value is None else value

    def there(values: Array) -> float:
        return float(np.interp(place, fine, values))

    # Over two coarse steps, so that a kink in the curve does not pass for its slope.
    slope = float(bent.curvature_per_m[-1] - bent.curvature_per_m[0]) / (2 * step)
    free = elastic_slope(strip)
    worst = np.maximum(bent.bottom_pa[:, 1], bent.top_pa[:, 1])
    return OneStrip(
        value,
        strip.curvature_per_m,
        slope * bow_slope_m2(strip.bow_m, strip.length_m),
        slope / free,
        there(bent.plastic_strain[:, 0]),
        there(worst),
    )


def _shares(
    strips: Sequence[Strip], tables: Sequence[Array], drawn: Sequence[dict[str, Array]], nodes: Array, value: float
) -> dict[str, float]:
    """Fraction of the interval's variance by input, greatest first: what moves the expansion of each draw, squared.

    Of several strips the shares are averaged, each strip weighing as its own variance lets it.
    """
    sums: dict[str, float] = {}
    for strip, table, own in zip(strips, tables, drawn, strict=True):
        place = int(np.clip(np.searchsorted(nodes, value), 1, len(nodes) - 1))
        slopes = (table[:, place] - table[:, place - 1]) / (nodes[1] - nodes[0])
        slope = float(np.mean(slopes)) or -math.inf
        variance = {name: (error / slope) ** 2 for name, error in strip.curvature_errors_per_m.items()}
        if own:
            at = np.array([np.interp(value, nodes, row) for row in table[1:]]) / slope
            columns = np.stack([z[1:] for z in own.values()], axis=1)
            effect = np.linalg.lstsq(np.column_stack([columns, np.ones(len(at))]), at, rcond=None)[0][:-1]
            variance |= {name: float(e) ** 2 for name, e in zip(own, effect, strict=True)}
        whole = sum(variance.values())
        if whole > 0:
            for name, part in variance.items():
                sums[name] = sums.get(name, 0.0) + part / whole / whole
    whole = sum(sums.values())
    ranked = sorted(((name, part / whole) for name, part in sums.items() if part > 0), key=lambda x: -x[1])
    return dict(ranked)


def _warnings(
    strips: Sequence[Strip], ones: Sequence[OneStrip], bounds: tuple[float, float], identifies: bool
) -> tuple[str, ...]:
    found: list[str] = []
    for place, (strip, one) in enumerate(zip(strips, ones, strict=True), 1):
        total, first = strip.metal.thickness_m + strip.glass.thickness_m, len(found)
        if strip.width_m is not None and strip.width_m < LEAST_WIDTHS * total:
            found.append(
                f"the strip is narrower than {LEAST_WIDTHS:g} times its thickness, so it bends less than the "
                "plate it is taken for"
            )
        across = abs(one.curvature_per_m) * (strip.width_m or 0.0) ** 2 / 8
        if across > total / 2:
            found.append("the strip is so wide and so bent that it dishes across as well; a narrower one is truer")
        if one.value_per_k is None:
            found.append(
                "no expansion gives this bow with every figure at its value; the answer rests on the "
                "spread of the figures alone"
            )
        if one.tension_pa > ANNEALED_STRENGTH_PA * duration_factor(24.0):
            found.append(
                "the coat would be stretched beyond what glass bears for a day; if it has cracked, however "
                "finely, the strip bends less and this figure is wrong"
            )
        if one.yielded and one.elastic_share < 0.5:
            found.append("the metal has yielded so far that the bow tells little of the expansion any more")
        if len(strips) > 1:
            found[first:] = [f"strip {place} of {len(strips)}: {words}" for words in found[first:]]
    if not identifies:
        found.append(
            "the bow does not identify the expansion: the interval is no narrower than the range of glasses "
            "of one class, or is cut off"
        )
    if _cut_off(bounds):
        found.append(f"the interval ends where it was cut off, at {LEAST_PER_K * 1e6:g} or {MOST_PER_K * 1e6:g} ppm/K")
    if len(ones) > 1 and any(o.value_per_k is not None and not _near(o.value_per_k, bounds) for o in ones):
        found.append("the strips disagree by more than their errors explain; measure each again")
    return tuple(dict.fromkeys(found))


def _cut_off(bounds: tuple[float, float]) -> bool:
    return bounds[0] <= LEAST_PER_K + 1e-7 or bounds[1] >= MOST_PER_K - 1e-7


def _near(value: float, bounds: tuple[float, float]) -> bool:
    middle, half = (bounds[0] + bounds[1]) / 2, (bounds[1] - bounds[0]) / 2
    return abs(value - middle) <= 4 * half + 1e-7
