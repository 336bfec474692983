"""Free thermal expansion: curves of metals from points, curves of glasses from one mean value.

Strains are free thermal strains from 20 °C, without dimension (1 ppm is 1e-6).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

ROOM_C = 20.0

#: Relative slope of a silicate glass's expansion coefficient, per kelvin about 210 °C (the middle of
#: 20-400 °C). From means of the same glasses over several spans in the open SciGlass tables: the mean about
#: 100, 160 and 350 °C is 0.943, 0.974 and 1.080 of the mean about 210 °C, which is 5.2 to 5.7e-4 per K.
GLASS_SLOPE_PER_K = 5.4e-4
GLASS_MIDDLE_C = 210.0


def glass_mean_20_400(mean_per_k: Any, span_low_c: Any, span_high_c: Any) -> Any:
    """Return a glass's mean linear expansion over one span as its mean over 20-400 °C.

    Parameters
    ----------
    mean_per_k : float or array
        Mean linear expansion over the span [1/K].
    span_low_c, span_high_c : float or array
        The span [°C].

    Returns
    -------
    float or array
        Mean linear expansion over 20-400 °C [1/K].

    Notes
    -----
    Takes a coefficient that grows linearly with temperature by `GLASS_SLOPE_PER_K`, so that the mean over a
    span is the coefficient in its middle. Valid for silicate glasses below their transition.
    """
    return mean_per_k / (1.0 + GLASS_SLOPE_PER_K * ((span_low_c + span_high_c) / 2.0 - GLASS_MIDDLE_C))


def glass_strain(temp_c: Any, mean_20_400_per_k: Any) -> Any:
    """Return the free thermal strain of a glass from 20 °C.

    Parameters
    ----------
    temp_c : float or array
        Temperature, below the setting temperature [°C].
    mean_20_400_per_k : float or array
        Mean linear expansion over 20-400 °C [1/K].

    Returns
    -------
    float or array
        Strain from 20 °C [-]; at 400 °C it is 380 K times the mean.
    """
    rise = temp_c - ROOM_C
    return mean_20_400_per_k * rise * (1.0 + GLASS_SLOPE_PER_K * ((temp_c + ROOM_C) / 2.0 - GLASS_MIDDLE_C))


class StrainCurve:
    """A metal's free thermal strain from 20 °C, by monotone cubic interpolation of points.

    The slopes are those of Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5 (1984) 300), so the curve never
    overshoots its points. Calling it outside the points raises ValueError: nothing is extrapolated.

    Parameters
    ----------
    temps_c : sequence of float
        Temperatures, strictly rising [°C], at least two.
    strains : sequence of float
        Free strain from 20 °C at each [-].
    """

    def __init__(self, temps_c: Sequence[float], strains: Sequence[float]) -> None:
        if len(temps_c) != len(strains) or len(temps_c) < 2:
            raise ValueError("an expansion curve needs at least two points and one strain for each")
        if any(b <= a for a, b in pairwise(temps_c)):
            raise ValueError("the temperatures of an expansion curve must rise")
        self.temps_c = tuple(float(t) for t in temps_c)
        self.strains = tuple(float(s) for s in strains)
        self._slopes = _butland_slopes(self.temps_c, self.strains)
        self._table: Any = None

    @property
    def low_c(self) -> float:
        """Lowest temperature of the points [°C]."""
        return self.temps_c[0]

    @property
    def high_c(self) -> float:
        """Highest temperature of the points [°C]."""
        return self.temps_c[-1]

    def __call__(self, temp_c: Any) -> Any:
        """Strain at a temperature or an array of temperatures [-]."""
        if isinstance(temp_c, (int, float)):
            return self._at(float(temp_c))
        return self._at_many(temp_c)

    def _at(self, temp_c: float) -> float:
        if not self.low_c <= temp_c <= self.high_c:
            raise ValueError(f"no expansion known at {temp_c:g} °C, only {self.low_c:g}-{self.high_c:g} °C")
        k = min(bisect_right(self.temps_c, temp_c) - 1, len(self.temps_c) - 2)
        step = self.temps_c[k + 1] - self.temps_c[k]
        return float(
            _hermite(
                (temp_c - self.temps_c[k]) / step,
                step,
                self.strains[k],
                self.strains[k + 1],
                self._slopes[k],
                self._slopes[k + 1],
            )
        )

    def _at_many(self, temp_c: Any) -> Any:
        import numpy as np

        temp = np.asarray(temp_c, dtype=float)
        if temp.size and not (temp.min() >= self.low_c and temp.max() <= self.high_c):
            raise ValueError(f"no expansion known outside {self.low_c:g}-{self.high_c:g} °C")
        if self._table is None:
            self._table = tuple(np.array(x) for x in (self.temps_c, self.strains, self._slopes))
        temps, strains, slopes = self._table
        k = np.clip(np.searchsorted(temps, temp, side="right") - 1, 0, len(temps) - 2)
        step = temps[k + 1] - temps[k]
        return _hermite((temp - temps[k]) / step, step, strains[k], strains[k + 1], slopes[k], slopes[k + 1])

    def mean_per_k(self, low_c: float, high_c: float) -> float:
        """Mean linear expansion between two temperatures, referred to 20 °C [1/K]."""
        return (self._at(high_c) - self._at(low_c)) / (high_c - low_c)


def _hermite(u: Any, step: Any, y0: Any, y1: Any, d0: Any, d1: Any) -> Any:
    return (
        y0 * (1 + 2 * u) * (1 - u) ** 2
        + step * d0 * u * (1 - u) ** 2
        + y1 * u * u * (3 - 2 * u)
        - step * d1 * u * u * (1 - u)
    )


def _butland_slopes(x: Sequence[float], y: Sequence[float]) -> tuple[float, ...]:
    steps = [b - a for a, b in pairwise(x)]
    rises = [(b - a) / h for a, b, h in zip(y, y[1:], steps, strict=False)]
    if len(rises) == 1:
        return (rises[0], rises[0])
    inner = []
    for h0, h1, r0, r1 in zip(steps, steps[1:], rises, rises[1:], strict=False):
        if r0 * r1 <= 0:
            inner.append(0.0)
        else:
            weight = (h0 + 2 * h1) / (3 * (h0 + h1))
            inner.append(r0 * r1 / (weight * r1 + (1 - weight) * r0))
    first = _end_slope(steps[0], steps[1], rises[0], rises[1])
    last = _end_slope(steps[-1], steps[-2], rises[-1], rises[-2])
    return (first, *inner, last)


def _end_slope(h0: float, h1: float, r0: float, r1: float) -> float:
    slope = ((2 * h0 + h1) * r0 - h0 * r1) / (h0 + h1)
    if slope * r0 <= 0:
        return 0.0
    return 3 * r0 if r0 * r1 < 0 and abs(slope) > 3 * abs(r0) else slope


def contraction_gap_ppm(metal_strain: Callable[[Any], Any], mean_20_400_per_k: Any, set_c: Any) -> Any:
    """Return the thermal contraction mismatch: how much more the metal contracts than the glass down to 20 °C.

    Parameters
    ----------
    metal_strain : callable
        Free thermal strain of the metal from 20 °C [-] at a temperature [°C].
    mean_20_400_per_k : float or array
        The glass's mean linear expansion over 20-400 °C [1/K].
    set_c : float or array
        Setting temperature of the glass [°C], from which it is counted.

    Returns
    -------
    float or array
        Mismatch [ppm]; positive when it leaves the glass in compression.
    """
    return (metal_strain(set_c) - glass_strain(set_c, mean_20_400_per_k)) * 1e6
