"""The march of a batch of layered plates down in temperature; `plate` says what is solved.

Arrays have the plates on their last axis. The temperatures of the march are known before it begins, and with
them all that elastic layers bring to the balances; only the points of the yielding layers are followed step by
step (`yielding`). An elastic layer's stress is its modulus times what it was strained since it set, so it is
told at the end.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Any

import numpy as np

from refdb.errors import NotConverged
from refdb.science.plate.layers import Array, Plates
from refdb.science.plate.yielding import Loads, Yielding


def march(plates: Plates, room_c: float, step_k: float) -> tuple[Array, ...]:
    """Cool a batch to room temperature; the columns of `ResidualMany`, or NotConverged."""
    thickness = np.ascontiguousarray(plates.thickness_m.T)
    edges = np.concatenate((np.zeros((1, thickness.shape[1])), np.cumsum(thickness, axis=0)))
    edges -= edges[-1:] / 2
    low, high, total = edges[:-1], edges[1:], edges[-1] - edges[0]
    set_c, metal_at = _set_points(plates)
    temps = _temperatures(set_c, room_c, step_k)
    free = _FreeStrains(plates, set_c, temps)
    metal = Yielding(plates, low, high)
    elastic = [k for k in range(len(plates.names)) if k not in metal.layers]
    modulus = (plates.youngs_modulus_pa / (1.0 - plates.poisson_ratio)).T
    loads = _Elastic(
        [
            (
                modulus[k] * thickness[k],
                modulus[k] * (high[k] ** 2 - low[k] ** 2) / 2,
                modulus[k] * (high[k] ** 3 - low[k] ** 3) / 3,
                set_c[k],
                free.of(k),
            )
            for k in elastic
        ],
        temps,
        plates.restraint_n_m,
    )
    steps, n = len(temps), len(total)
    strain, curvature = np.empty((steps, n)), np.zeros((steps, n))
    strain[0] = plates.strain[metal_at](temps[0])
    # The last increments per kelvin are the first guess of the next ones.
    strain_per_k, curvature_per_k = np.zeros(n), np.zeros(n)
    force, moment = np.zeros(n), np.zeros(n)
    bends = [free.of(k) for k in metal.layers]
    for k in range(1, steps):
        fall = temps[k - 1] - temps[k]
        x, y = strain_per_k * fall, curvature_per_k * fall
        force, moment = metal.step(
            temps[k],
            (set_c[metal.layers] >= temps[k - 1]).astype(float),
            np.array([b[k] - b[k - 1] for b in bends]).reshape(-1, n),
            loads.at(k),
            x,
            y,
        )
        loads.moved(k, x, y)
        strain[k], curvature[k] = strain[k - 1] + x, curvature[k - 1] + y
        np.divide(x, fall, out=strain_per_k, where=fall > 0)
        np.divide(y, fall, out=curvature_per_k, where=fall > 0)
    bottom, mean, top, plastic = (np.zeros((n, len(plates.names))) for _ in range(4))
    for values, found in zip((bottom, mean, top, plastic), metal.faces(), strict=True):
        values[:, metal.layers] = found.T
    for k in elastic:
        since = (temps > set_c[k]).sum(axis=0), np.arange(n)
        even = strain[-1] - strain[since] - (free.of(k)[-1] - free.of(k)[since])
        uneven = curvature[-1] - curvature[since]
        bottom[:, k], top[:, k] = modulus[k] * (even + uneven * low[k]), modulus[k] * (even + uneven * high[k])
        mean[:, k] = (bottom[:, k] + top[:, k]) / 2
    scale = (np.maximum(np.abs(bottom), np.abs(top)) * plates.thickness_m).sum(axis=1) + 1e4 * total
    if not ((np.abs(force) <= 1e-6 * scale).all() and (np.abs(moment) <= 1e-6 * scale * total).all()):
        raise NotConverged("force and moment of the cooled plate do not balance", todo="no answer can be given")
    return curvature[-1], strain[-1], bottom, mean, top, plastic, force, moment


def _set_points(plates: Plates) -> tuple[Array, int]:
    """Temperature from which each layer of each plate is solid (layers, n), and which layer is the metal."""
    given = plates.set_c.T
    # A layer without thickness must neither raise the start nor add a stop, unless there is no other glass.
    acting = np.where((plates.thickness_m.T > 0) | np.isnan(given), given, -np.inf)
    start = np.nanmax(acting, axis=0)
    start = np.where(np.isfinite(start), start, np.nanmax(given, axis=0))
    metal_at = next((k for k in range(len(plates.names)) if np.isnan(given[k]).all()), 0)
    return np.where(np.isfinite(acting), acting, start), metal_at


def _temperatures(set_c: Array, room_c: float, step_k: float) -> Array:
    """Temperatures of every plate (steps + 1, n): it stops at each of its own set points, where stiffness jumps.

    Between two stops the steps are even and at most `step_k`; a plate whose set points fall together waits there.
    """
    stops = [*-np.sort(-set_c, axis=0), np.full(set_c.shape[1], room_c)]
    temps = [stops[0]]
    for above, below in pairwise(stops):
        fall = above - below
        steps = math.ceil(float(fall.max()) / step_k)
        temps += [above - fall * (k / steps) for k in range(1, steps)] + [below] * (steps > 0)
    return np.stack(temps)


class _FreeStrains:
    """Free strain of every layer at every temperature of the march, held from the set point up."""

    def __init__(self, plates: Plates, set_c: Array, temps: Array) -> None:
        self._curves, self._set_c, self._temps = plates.strain, set_c, temps
        self._known: list[tuple[Callable[[Array], Any], Array, Array]] = []

    def of(self, layer: int) -> Array:
        """Free strain of a layer (steps + 1, n); layers of one glass share it."""
        curve, set_c = self._curves[layer], self._set_c[layer]
        for other, at, strain in self._known:
            if other is curve and np.array_equal(at, set_c):
                return strain
        held = np.minimum(self._temps, set_c)
        strain = np.array(np.broadcast_to(curve(held), held.shape), dtype=float)
        self._known.append((curve, set_c, strain))
        return strain


class _Elastic:
    """What the elastic layers and a dome's resistance bring to each step, and what they carry by then.

    `layers` tells of each its modulus times thickness and times its first and second moment about the middle of
    the plate, its set point and its free strain.
    """

    def __init__(
        self, layers: Iterable[tuple[Array, Array, Array, Array, Array]], temps: Array, restraint: Array | None
    ) -> None:
        steps, n = len(temps) - 1, temps.shape[1]
        self._k00, self._k01, self._k11, self._force_free, self._moment_free = np.zeros((5, steps, n))
        for even, first, second, set_c, free in layers:
            on, change = set_c >= temps[:-1], free[1:] - free[:-1]
            self._k00 += even * on
            self._k01 += first * on
            self._k11 += second * on
            self._force_free -= even * change
            self._moment_free -= first * change
        if restraint is not None:
            self._k11 += restraint
        self._force, self._moment = np.zeros((2, n))

    def at(self, step: int) -> Loads:
        """The loads of a step, counted from 1."""
        k = step - 1
        return Loads(
            self._force + self._force_free[k],
            self._moment + self._moment_free[k],
            self._k00[k],
            self._k01[k],
            self._k11[k],
        )

    def moved(self, step: int, strain: Array, curvature: Array) -> None:
        """Take over the increments of a step."""
        found = self.at(step)
        self._force = found.force + found.k00 * strain + found.k01 * curvature
        self._moment = found.moment + found.k01 * strain + found.k11 * curvature
