"""Stepping of a batch of layered plates down in temperature; `cooled` says what is solved.

Arrays have the plates on their last axis. The temperatures of the steps are known before they begin, and with
them all that elastic layers bring to the balances; only the points of the yielding layers are followed step by
step (`one_metal`, `yielding`). The stress of an elastic layer is its modulus times its strain since it set, less its
free strain since then, so it is worked out once, after the last step.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from refdb.errors import NotConverged
from refdb.science.plate.layers import Array, Plates
from refdb.science.plate.one_metal import OneMetal
from refdb.science.plate.yielding import Loads, Yielding


class Batch:
    """Plates while they cool: geometry and stiffness (layers, n), strain and curvature of each step (steps + 1, n).

    Parameters
    ----------
    plates : Plates
    temps : array (steps + 1, n)
        Temperatures from which and to which the steps go [°C].
    """

    def __init__(self, plates: Plates, temps: Array) -> None:
        self.plates, self.temps = plates, temps
        thickness = np.ascontiguousarray(plates.thickness_m.T)
        edges = np.concatenate((np.zeros((1, thickness.shape[1])), np.cumsum(thickness, axis=0)))
        edges -= edges[-1:] / 2
        self.low, self.high, self.total = edges[:-1], edges[1:], edges[-1] - edges[0]
        self.set_c, metal_at = _setting_temperatures(plates)
        self.restraint_n_m = plates.restraint_n_m
        self.free = _FreeStrains(plates, self.set_c, self.temps)
        self.metal = OneMetal.of(plates, self.low, self.high) or Yielding(plates, self.low, self.high)
        self.elastic = [k for k in range(len(plates.names)) if k not in self.metal.layers]
        self.modulus = (plates.youngs_modulus_pa / (1.0 - plates.poisson_ratio)).T
        self.loads = _loads((self._stiffness(k) for k in self.elastic), self.temps, plates.restraint_n_m)
        self.carried = self.loads.force_before, self.loads.moment_before
        self.strain, self.curvature = np.empty_like(self.temps), np.zeros_like(self.temps)
        self.strain[0] = plates.strain[metal_at](self.temps[0])

    @classmethod
    def cooling(cls, plates: Plates, room_c: float, step_k: float) -> Batch:
        """A batch that is to cool to room temperature."""
        return cls(plates, _temperatures(_setting_temperatures(plates)[0], room_c, step_k))

    def cooled(self) -> tuple[Array, ...]:
        """Cool the batch: the columns of `ResidualMany`.

        Raises
        ------
        NotConverged
            Force and moment of a plate do not vanish.
        """
        force, moment = self.run()
        bottom, mean, top, plastic = self.stresses()
        total = self.total
        scale = (np.maximum(np.abs(bottom), np.abs(top)) * self.plates.thickness_m).sum(axis=1) + 1e4 * total
        if not ((np.abs(force) <= 1e-6 * scale).all() and (np.abs(moment) <= 1e-6 * scale * total).all()):
            raise NotConverged("force and moment of the cooled plate do not balance", todo="no answer can be given")
        return self.curvature[-1], self.strain[-1], bottom, mean, top, plastic, force, moment

    def left(self, few: npt.NDArray[np.intp], step_k: float) -> Array:
        """The curvature that stays in the metal of some of the plates, which have cooled [1/m]; `refired` says how.

        Raises
        ------
        NotConverged
            Force and moment of a plate do not vanish.
        """
        if not self.metal.layers or not len(few):
            return np.zeros(len(few))
        lets_go = np.where(self.plates.thickness_m.T > 0, self.set_c, np.inf).min(axis=0)
        # All of the batch have a say in how many steps it takes, so that it is not told by who is fired again.
        warm = Batch(self.plates.rows(few), _warming(self.temps[-1], lets_go, step_k)[:, few])
        warm.strain[0], warm.curvature[0] = self.strain[-1, few], self.curvature[-1, few]
        warm.metal.stress[:], warm.metal.strain[:] = self.metal.stress[..., few], self.metal.strain[..., few]
        before = (carried[few] for carried in self.carried)
        warm.loads = warm.loads._replace(**dict(zip(("force_before", "moment_before"), before, strict=True)))
        warm.run()
        return warm.let_go()

    def _stiffness(self, k: int) -> tuple[Array, Array, Array, Array, Array]:
        modulus, low, high = self.modulus[k], self.low[k], self.high[k]
        of_face, of_other = high * high, low * low
        moments = high - low, (of_face - of_other) / 2, (of_face * high - of_other * low) / 3
        return (*(modulus * moment for moment in moments), self.set_c[k], self.free.of(k))

    def run(self) -> tuple[Array, Array]:
        """Take every step; what is left of force [N/m] and moment [N] after the last, (n,) each."""
        metal, loads = self.metal, self.loads
        free = np.array([self.free.of(k) for k in metal.layers]).reshape(-1, *self.temps.shape)
        strain, curvature = metal.march(self.temps, self.set_c[metal.layers], free, loads)
        np.cumsum(strain, axis=0, out=self.strain[1:])
        np.cumsum(curvature, axis=0, out=self.curvature[1:])
        self.strain[1:] += self.strain[0]
        self.curvature[1:] += self.curvature[0]
        # What elastic layers carry and what the stress of the others adds up to, not what the steps took for balanced.
        self.carried = loads.carried(strain, curvature)
        force, moment = metal.left()
        return self.carried[0] + force, self.carried[1] + moment

    def let_go(self) -> Array:
        """The curvature once the glass of a plate carries nothing more, (n,): its metal alone comes to balance."""
        none, metal = np.zeros((1, len(self.total))), self.metal
        held = none if self.restraint_n_m is None else self.restraint_n_m[None]
        loads = Loads(none, none, none, none, held, none[0], held[0] * self.curvature[-1])
        temps = self.temps[[-1, -1]]
        x, y = metal.march(
            temps, temps[:1].repeat(len(metal.layers), axis=0), np.zeros((len(metal.layers), *temps.shape)), loads
        )
        force, moment = (a + b for a, b in zip(loads.carried(x, y), metal.left(), strict=True))
        if not ((np.abs(force) <= 1.0).all() and (np.abs(moment) <= 1.0 * self.total).all()):
            raise NotConverged("the metal of a plate does not come to balance", todo="no answer can be given")
        return np.asarray(self.curvature[-1] + y[0])

    def stresses(self) -> tuple[Array, Array, Array, Array]:
        """Stress at the bottom, on average and at the top [Pa], and plastic strain, of each layer; (n, layers) each."""
        n, layers = len(self.total), len(self.low)
        bottom, mean, top, plastic = (np.zeros((n, layers)) for _ in range(4))
        for values, found in zip((bottom, mean, top, plastic), self.metal.faces(), strict=True):
            values[:, self.metal.layers] = found.T
        for k in self.elastic:
            since, free = ((self.temps > self.set_c[k]).sum(axis=0), np.arange(n)), self.free.of(k)
            membrane = self.strain[-1] - self.strain[since] - (free[-1] - free[since])
            bending = self.curvature[-1] - self.curvature[since]
            bottom[:, k] = self.modulus[k] * (membrane + bending * self.low[k])
            top[:, k] = self.modulus[k] * (membrane + bending * self.high[k])
            mean[:, k] = (bottom[:, k] + top[:, k]) / 2
        return bottom, mean, top, plastic


def _setting_temperatures(plates: Plates) -> tuple[Array, int]:
    """Temperature from which each layer of each plate is solid (layers, n), and which layer is the metal."""
    given = plates.set_c.T
    # A layer without thickness must neither raise the start nor add a stop, unless there is no other glass.
    acting = np.where((plates.thickness_m.T > 0) | np.isnan(given), given, -np.inf)
    start = np.nanmax(acting, axis=0)
    start = np.where(np.isfinite(start), start, np.nanmax(given, axis=0))
    metal_at = next((k for k in range(len(plates.names)) if np.isnan(given[k]).all()), 0)
    return np.where(np.isfinite(acting), acting, start), metal_at


def _temperatures(set_c: Array, room_c: float, step_k: float) -> Array:
    """Temperatures of every plate (steps + 1, n); it stops at its own setting temperatures, where stiffness jumps.

    Between two stops the steps are even and at most `step_k`; a plate that has two of them together waits there.
    """
    stops = [*-np.sort(-set_c, axis=0), np.full(set_c.shape[1], room_c)]
    temps = [stops[0]]
    for above, below in pairwise(stops):
        fall = above - below
        steps = math.ceil(float(fall.max()) / step_k)
        temps += [above - fall * (k / steps) for k in range(1, steps)] + [below] * (steps > 0)
    return np.stack(temps)


def _warming(from_c: Array, lets_go: Array, step_k: float) -> Array:
    """Temperatures of every plate from where it has cooled to up to where its glass lets go (steps + 1, n)."""
    rise = lets_go - from_c
    steps = math.ceil(float(rise.max()) / step_k)
    return np.stack([from_c + rise * (k / steps) for k in range(steps + 1)])


class _FreeStrains:
    """Free strain of every layer at every temperature of the steps, constant from its setting temperature up."""

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


def _loads(layers: Iterable[tuple[Array, Array, Array, Array, Array]], temps: Array, restraint: Array | None) -> Loads:
    """What the elastic layers and a dome's restraint bring to each step.

    `layers` holds of each its modulus times thickness and times its first and second moment about the middle of the
    plate, its setting temperature and its free strain.
    """
    steps, n = len(temps) - 1, temps.shape[1]
    k00, k01, k11, force, moment = np.zeros((5, steps, n))
    from_c = np.maximum(temps[:-1], temps[1:])
    for zeroth, first, second, set_c, free in layers:
        on, change = set_c >= from_c, free[1:] - free[:-1]
        k00 += zeroth * on
        k01 += first * on
        k11 += second * on
        force -= zeroth * change
        moment -= first * change
    if restraint is not None:
        k11 += restraint
    return Loads(force, moment, k00, k01, k11, *np.zeros((2, n)))
