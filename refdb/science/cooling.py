"""The march of a batch of layered plates down in temperature; `plate` says what is solved.

Arrays have the plates on their last axis, and yielding layers carry their points through the thickness on the
axis before: (layers, points, plates). Sums over the points are then products with a small matrix, and whatever
differs only from plate to plate is broadcast along rows that lie together in memory.
"""

from __future__ import annotations

import math
from copy import copy
from typing import Any

import numpy as np
import numpy.typing as npt

from refdb.errors import NotConverged
from refdb.science.layers import Array, HardeningYield, Plates

_POINTS = 15
_TOLERANCE = 1e-9
_MOST_ITERATIONS, _MOST_HALVINGS = 100, 12
#: Below so many plates the cutting costs more than it saves.
_WORTH_CUTTING = 768


def _lobatto(points: int) -> tuple[Array, Array]:
    """Gauss-Lobatto nodes and weights on [-1, 1]; the ends are nodes, so face stresses need no extrapolation."""
    inner = np.polynomial.legendre.Legendre.basis(points - 1).deriv().roots()
    nodes = np.concatenate(([-1.0], np.sort(inner), [1.0]))
    weights = 2.0 / (points * (points - 1) * np.polynomial.legendre.Legendre.basis(points - 1)(nodes) ** 2)
    return nodes, weights


_NODES, _WEIGHTS = _lobatto(_POINTS)
#: Row k weighs values at the points for ∫ f·uᵏ du over [-1, 1].
_MOMENTS = np.stack([_WEIGHTS * _NODES**k for k in range(3)])


class _State:
    """Stresses of a batch while it cools: elastic layers as offset + slope·z, yielding ones point by point."""

    def __init__(self, plates: Plates) -> None:
        h = np.ascontiguousarray(plates.thickness_m.T)
        edges = np.concatenate((np.zeros((1, h.shape[1])), np.cumsum(h, axis=0)))
        edges -= edges[-1:] / 2
        self.low, self.high, self.total = edges[:-1], edges[1:], h.sum(axis=0)
        n = len(self.total)
        self.restraint = np.zeros(n) if plates.restraint_n_m is None else plates.restraint_n_m
        modulus = (plates.youngs_modulus_pa / (1.0 - plates.poisson_ratio)).T
        self.flows = [flow for flow in plates.flow_stress if flow is not None]
        self.linear = all(isinstance(flow, HardeningYield) for flow in self.flows)
        self.plastic = [k for k, flow in enumerate(plates.flow_stress) if flow is not None]
        self.elastic = [k for k, flow in enumerate(plates.flow_stress) if flow is None]
        e, p = self.elastic, self.plastic
        self.modulus_e = modulus[e]
        self.s0 = h[e]
        self.s1 = (self.high[e] ** 2 - self.low[e] ** 2) / 2
        self.s2 = (self.high[e] ** 3 - self.low[e] ** 3) / 3
        self.offset, self.slope = np.zeros((len(e), n)), np.zeros((len(e), n))
        self.modulus_p = np.ascontiguousarray(modulus[p])[:, None]
        self.middle, self.half = (self.high + self.low)[p] / 2, h[p] / 2
        self.z = self.middle[:, None] + self.half[:, None] * _NODES[:, None]
        self.stress, self.strain_p = np.zeros_like(self.z), np.zeros_like(self.z)


def march(plates: Plates, room_c: float, step_k: float) -> tuple[Array, ...]:
    """Cool a batch to room temperature; the columns of `ResidualMany`, or NotConverged."""
    state = _State(plates)
    n = len(state.total)
    given_c = plates.set_c.T
    start = np.nanmax(given_c, axis=0)
    set_c = np.where(np.isnan(given_c), start, given_c)
    steps = max(1, math.ceil(float((start - room_c).max()) / step_k))
    metal = next((k for k in range(len(plates.names)) if np.isnan(given_c[k]).all()), 0)
    strain0 = np.array(np.broadcast_to(plates.strain[metal](start), (n,)), dtype=float)
    curvature = np.zeros(n)
    # The last increment is the first guess of the next one.
    guess = (np.zeros(n), np.zeros(n))
    force, moment = np.zeros(n), np.zeros(n)
    temp = start
    free = _free_strains(plates, np.minimum(temp, set_c))
    for k in range(1, steps + 1):
        new_temp = start + (room_c - start) * (k / steps)
        share = np.clip((set_c - new_temp) / (temp - new_temp), 0.0, 1.0)
        new_free = _free_strains(plates, np.minimum(new_temp, set_c))
        guess, force, moment = _step(state, new_temp, share, new_free - free, guess, curvature)
        strain0 = strain0 + guess[0]
        curvature = curvature + guess[1]
        temp, free = new_temp, new_free
    bottom, mean, top, plastic = _faces(state, len(plates.names))
    scale = (np.maximum(np.abs(bottom), np.abs(top)) * plates.thickness_m).sum(axis=1) + 1e4 * state.total
    if not ((np.abs(force) <= 1e-6 * scale).all() and (np.abs(moment) <= 1e-6 * scale * state.total).all()):
        raise NotConverged("force and moment of the cooled plate do not balance", todo="no answer can be given")
    return curvature, strain0, bottom, mean, top, plastic, force, moment


def _free_strains(plates: Plates, temps: Array) -> Array:
    return np.stack([np.broadcast_to(curve(temp), temp.shape)
                     for curve, temp in zip(plates.strain, temps, strict=True)])


def _step(state: _State, temp: Array, share: Array, free: Array, guess: tuple[Array, Array],
          curvature: Array) -> tuple[tuple[Array, Array], Array, Array]:
    """Find the strain increment that balances force and moment, and move the state there."""
    e = state.elastic
    weight_e = state.modulus_e * share[e]
    base = state.offset - state.modulus_e * free[e]
    balances = _Balances(state, temp, share, free, weight_e, base, curvature)
    x, y, force, moment = _balanced(balances, *guess)
    state.offset = base + weight_e * x
    state.slope = state.slope + weight_e * y
    state.stress = balances.stress
    state.strain_p += 2 * balances.slip()
    return (x, y), force, moment


def _balanced(balances: _Balances, x: Array, y: Array) -> tuple[Array, Array, Array, Array]:
    """Increments of strain and curvature that close both balances, and what is left of these: Newton's method."""
    force, moment = balances.move(x, y)
    for tries in range(_MOST_ITERATIONS):
        open_ = np.maximum(np.abs(force), np.abs(moment) / balances.total) > _TOLERANCE * 1e6 * balances.total
        few = np.flatnonzero(open_)
        if not len(few):
            return x, y, force, moment
        if tries and len(x) >= _WORTH_CUTTING and 2 * len(few) < len(x) and balances.linear:
            # Most plates are done after one move; the others go on by themselves.
            part = balances.rows(few)
            x[few], y[few], force[few], moment[few] = _balanced(part, x[few], y[few])
            balances.stress[..., few], balances.excess[..., few] = part.stress, part.excess
            return x, y, force, moment
        a, b, d = balances.stiffness()
        scale = np.where(open_, -1.0 / (a * d - b * b), 0.0)
        move_x, move_y = scale * (d * force - b * moment), scale * (a * moment - b * force)
        # The balance is the gradient of a convex energy: a step is shortened until it no longer overshoots.
        before = np.abs(force * move_x + moment * move_y)
        length: Any = 1.0
        for _ in range(_MOST_HALVINGS):
            tried_x, tried_y = x + length * move_x, y + length * move_y
            force, moment = balances.move(tried_x, tried_y)
            after = force * move_x + moment * move_y
            over = after > 0.5 * before
            if not over.any():
                break
            length = np.where(over, length * before / np.where(over, before + after, 1.0), length)
        x, y = tried_x, tried_y
    raise NotConverged("force and moment of a plate do not balance while it cools", todo="no answer can be given")


class _Balances:
    """Force and moment of a batch over one step: elastic layers are linear in the unknowns, the others yield.

    Every array has the plates on its last axis, so `rows` can cut them all alike.
    """

    def __init__(self, state: _State, temp: Array, share: Array, free: Array, weight_e: Array, base: Array,
                 curvature: Array) -> None:
        p = state.plastic
        self.flows, self.linear = state.flows, state.linear
        self.total, self.z, self.middle, self.half = state.total, state.z, state.middle, state.half
        self.k00, self.k01, self.k11 = ((weight_e * s).sum(axis=0) for s in (state.s0, state.s1, state.s2))
        self.k11 += state.restraint
        self.force = (base * state.s0 + state.slope * state.s1).sum(axis=0)
        self.moment = (base * state.s1 + state.slope * state.s2).sum(axis=0) + state.restraint * curvature
        self.temp, self.strain_p, self.modulus = temp, state.strain_p, state.modulus_p
        self.gain = state.modulus_p * share[p][:, None]
        self.trial = state.stress - state.modulus_p * free[p][:, None]
        self.flow, slope = self._flow(state.strain_p)
        self.flow_down = -self.flow
        self._set_slope(slope)

    def rows(self, few: npt.NDArray[np.intp]) -> _Balances:
        """The same for some of the plates."""
        part = copy(self)
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray):
                setattr(part, name, value[..., few])
        return part

    def _set_slope(self, slope: Array) -> None:
        # The equivalent plastic strain grows by twice the slip, which is that in the plane.
        self.resistance = self.modulus + 2 * slope
        self.hardens = 2 * slope / self.resistance

    def _flow(self, strain: Array) -> tuple[Array, Array]:
        """Flow stress and its slope with plastic strain; the slope is (layers, 1, plates) where it is even."""
        values, slopes = np.empty_like(strain), np.empty_like(strain[:, :1] if self.linear else strain)
        for k, flow in enumerate(self.flows):
            if isinstance(flow, HardeningYield):
                factor = np.asarray(flow.factor(self.temp))
                slopes[k] = flow.hardening_pa * factor
                np.multiply(strain[k], flow.hardening_pa * factor, out=values[k])
                values[k] += flow.stress_0_pa * factor
            else:
                part, temp = strain[k].T, self.temp[:, None]
                value = np.broadcast_to(flow(temp, part), part.shape)
                values[k] = value.T
                slopes[k] = ((flow(temp, part + 1e-7) - value) / 1e-7).T
        return values, slopes

    def move(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Force and moment after an increment of strain and curvature; keeps the stresses of yielding layers."""
        trial = self.gain * y * self.z
        trial += self.trial
        trial += self.gain * x
        stress = np.clip(trial, self.flow_down, self.flow)
        trial -= stress
        self.excess = trial
        if self.linear:
            stress += self.excess * self.hardens
        else:
            self._follow(stress)
            stress += self.excess - np.copysign(self.modulus * self.slipped, self.excess)
        self.stress = stress
        even, uneven = (_MOMENTS[:2] @ stress).swapaxes(0, 1)
        return (self.force + self.k00 * x + self.k01 * y + (self.half * even).sum(axis=0),
                self.moment + self.k01 * x + self.k11 * y
                + (self.half * (self.middle * even + self.half * uneven)).sum(axis=0))

    def _follow(self, clipped: Array) -> None:
        """Slip where the flow stress is not linear in plastic strain, by Newton's method at every point."""
        size, yielded = np.abs(clipped + self.excess), self.excess != 0
        slip = np.abs(self.excess) / self.resistance
        for _ in range(30):
            flow, slope = self._flow(self.strain_p + 2 * slip)
            miss = np.where(yielded, size - self.modulus * slip - flow, 0.0)
            self._set_slope(slope)
            slip = np.maximum(slip + miss / self.resistance, 0.0)
            if np.abs(miss).max() <= 1e-3:
                break
        self.slipped = slip

    def slip(self) -> Array:
        """In-plane plastic strain (unsigned) that the last move added at every point."""
        return np.abs(self.excess) / self.resistance if self.linear else self.slipped

    def stiffness(self) -> tuple[Array, Array, Array]:
        """Slope of force with strain, of either with the other, and of moment with curvature, after the last move."""
        share = _MOMENTS @ np.where(self.excess != 0, self.hardens, 1.0)
        t0, t1, t2 = (self.gain * share).swapaxes(0, 1)
        middle, half = self.middle, self.half
        return (self.k00 + (half * t0).sum(axis=0), self.k01 + (half * (middle * t0 + half * t1)).sum(axis=0),
                self.k11 + (half * (middle**2 * t0 + 2 * middle * half * t1 + half**2 * t2)).sum(axis=0))


def _faces(state: _State, count: int) -> tuple[Array, Array, Array, Array]:
    bottom, mean, top, plastic = (np.zeros((len(state.total), count)) for _ in range(4))
    e, p = state.elastic, state.plastic
    bottom[:, e] = (state.offset + state.slope * state.low[e]).T
    top[:, e] = (state.offset + state.slope * state.high[e]).T
    mean[:, e] = (bottom[:, e] + top[:, e]) / 2
    bottom[:, p], top[:, p] = state.stress[:, 0].T, state.stress[:, -1].T
    mean[:, p] = (_MOMENTS[0] @ state.stress).T / 2
    plastic[:, p] = state.strain_p.max(axis=1).T
    return bottom, mean, top, plastic
