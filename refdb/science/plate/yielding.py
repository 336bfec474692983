"""Balance of force and moment of a batch of layered plates over one step of cooling, by Newton's method.

Arrays have the plates on their last axis, and yielding layers carry their points through the thickness on the
axis before: (layers, points, plates). Sums over the points are then products with a small matrix, and whatever
differs only from plate to plate is broadcast along rows that lie together in memory.
"""

from __future__ import annotations

from copy import copy
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from refdb.errors import NotConverged
from refdb.science.plate.layers import Array, HardeningYield, Plates

POINTS = 15
TOLERANCE_PA = 1e-3
MOST_ITERATIONS, MOST_HALVINGS = 100, 12
#: Least slope of a yielding point in Newton's matrix, over its elastic one: metal that does not harden has none.
LEAST_TANGENT = 0.002
#: Below so many plates the cutting costs more than it saves.
WORTH_CUTTING = 192


def _lobatto(points: int) -> tuple[Array, Array]:
    """Gauss-Lobatto nodes and weights on [-1, 1]; the ends are nodes, so face stresses need no extrapolation.

    The inner nodes are the roots of the Jacobi polynomial with both exponents one, hence the eigenvalues of the
    symmetric matrix of its recurrence, which are real: Golub and Welsch (1969).
    """
    k = np.arange(1.0, points - 2)
    beside = np.sqrt(k * (k + 2) / ((2 * k + 1) * (2 * k + 3)))
    inner = np.linalg.eigvalsh(np.diag(beside, -1))
    nodes = np.concatenate(([-1.0], (inner - inner[::-1]) / 2, [1.0]))
    weights = 2.0 / (points * (points - 1) * np.polynomial.legendre.Legendre.basis(points - 1)(nodes) ** 2)
    return nodes, weights


_NODES, _WEIGHTS = _lobatto(POINTS)
#: Row k weighs values at the points for ∫ f·uᵏ du over [-1, 1].
MOMENTS = np.stack([_WEIGHTS * _NODES**k for k in range(3)])
#: A value in the middle and a slope, at the points.
LINE = np.stack((np.ones(POINTS), _NODES), axis=1)
#: ∫ uᵏ du over [-1, 1].
_WHOLE = np.array([[2.0], [0.0], [2.0 / 3.0]])


class Loads(NamedTuple):
    """What the elastic layers and a dome's restraint bring to the balances of each step; arrays (steps, n).

    Force [N/m] and moment [N] that a step adds when nothing moves, and their slopes: of force with strain, of either
    with the other, of moment with curvature. `force_before` and `moment_before` (n,) are there before the first step.
    """

    force: Array
    moment: Array
    k00: Array
    k01: Array
    k11: Array
    force_before: Array
    moment_before: Array

    def carried(self, strain: Array, curvature: Array) -> tuple[Array, Array]:
        """Force and moment (n,) after all steps, by the increments of each (steps, n)."""
        force = self.force + self.k00 * strain + self.k01 * curvature
        moment = self.moment + self.k01 * strain + self.k11 * curvature
        return self.force_before + force.sum(axis=0), self.moment_before + moment.sum(axis=0)


class _Load(NamedTuple):
    """The same of one step, with all that was there before it; arrays (n,)."""

    force: Array
    moment: Array
    k00: Array
    k01: Array
    k11: Array


class Yielding:
    """The layers of a batch that yield: stress and plastic strain at their points."""

    def __init__(self, plates: Plates, low: Array, high: Array) -> None:
        self.layers = [k for k, flow in enumerate(plates.flow_stress) if flow is not None]
        self.flows = [flow for flow in plates.flow_stress if flow is not None]
        self.linear = all(isinstance(flow, HardeningYield) for flow in self.flows)
        p = self.layers
        self.modulus = (plates.youngs_modulus_pa / (1.0 - plates.poisson_ratio)).T[p]
        self.middle, self.half = (high + low)[p] / 2, (high - low)[p] / 2
        self.total = (high - low).sum(axis=0)
        self.stress, self.strain = (np.zeros((len(p), POINTS, len(self.total))) for _ in range(2))

    def march(self, temps: Array, solid: Array, free: Array, loads: Loads) -> tuple[Array, Array]:
        """Close the balances over each step and take it; the increments of strain [-] and curvature [1/m], (steps, n).

        Parameters
        ----------
        temps : array (steps + 1, n)
            Temperatures from which and to which the steps go [°C].
        solid : array (layers, n)
            Up to which temperature a yielding layer is solid [°C].
        free : array (layers, steps + 1, n)
            Its free strain at each temperature.
        loads : Loads

        Raises
        ------
        NotConverged
            The balances do not close.
        """
        n = temps.shape[1]
        # The last increments per kelvin are the first guess of the next ones.
        strain_per_k, curvature_per_k = np.zeros(n), np.zeros(n)
        strains, curvatures = np.empty((2, len(temps) - 1, n))
        force, moment = loads.force_before, loads.moment_before
        for k, (x, y) in enumerate(zip(strains, curvatures, strict=True)):
            fall = temps[k] - temps[k + 1]
            x[:], y[:] = strain_per_k * fall, curvature_per_k * fall
            on = (solid >= np.maximum(temps[k], temps[k + 1])).astype(float)
            load = _Load(force + loads.force[k], moment + loads.moment[k], loads.k00[k], loads.k01[k], loads.k11[k])
            self._step(temps[k + 1], on, free[:, k + 1] - free[:, k], load, x, y)
            force = load.force + load.k00 * x + load.k01 * y
            moment = load.moment + load.k01 * x + load.k11 * y
            np.divide(x, fall, out=strain_per_k, where=fall != 0)
            np.divide(y, fall, out=curvature_per_k, where=fall != 0)
        return strains, curvatures

    def _step(self, temp: Array, on: Array, free: Array, load: _Load, x: Array, y: Array) -> None:
        """Close the balances over a step and take it; the first guess of its increments is changed in place."""
        balances = _Balances(self, temp, on, free, load)
        force, moment = balances.move(x, y)
        _balance(balances, x, y, force, moment)
        balances.settle(x, y)

    def left(self) -> tuple[Array, Array]:
        """What the layers bring to force [N/m] and moment [N] by their stress, (n,) each."""
        membrane, bending = (MOMENTS[:2] @ self.stress).swapaxes(0, 1)
        force = self.half * membrane
        return force.sum(axis=0), (self.middle * force + self.half**2 * bending).sum(axis=0)

    def faces(self) -> tuple[Array, Array, Array, Array]:
        """Stress at the bottom, on average and at the top, and the largest plastic strain; (layers, n) each."""
        return self.stress[:, 0], MOMENTS[0] @ self.stress / 2, self.stress[:, -1], self.strain.max(axis=1)


def _balance(balances: _Balances, x: Array, y: Array, force: Array, moment: Array) -> None:
    """Move the increments until both balances close, by Newton's method; the arrays are changed in place."""
    for _ in range(MOST_ITERATIONS):
        open_ = np.maximum(np.abs(force), np.abs(moment) / balances.total) > TOLERANCE_PA * balances.total
        few = np.flatnonzero(open_)
        if not len(few):
            return
        if balances.worth_cutting(few):
            # Most plates are done after one move; the others go on by themselves.
            part, moved = balances.rows(few), [values[few] for values in (x, y, force, moment)]
            _balance(part, *moved)
            balances.take(few, part)
            for values, new in zip((x, y, force, moment), moved, strict=True):
                values[few] = new
            return
        a, b, d = balances.stiffness()
        scale = np.where(open_, -1.0 / (a * d - b * b), 0.0)
        move_x, move_y = scale * (d * force - b * moment), scale * (a * moment - b * force)
        before = np.abs(force * move_x + moment * move_y)
        force[:], moment[:] = balances.move(x + move_x, y + move_y)
        length = _shortened(balances, (x, y), (move_x, move_y), before, force, moment)
        x += length * move_x
        y += length * move_y
    raise NotConverged("force and moment of a plate do not balance while it cools", todo="no answer can be given")


def _shortened(
    balances: _Balances,
    start: tuple[Array, Array],
    full: tuple[Array, Array],
    before: Array,
    force: Array,
    moment: Array,
) -> Array:
    """Fraction of a full step at which it no longer overshoots; the balance is the gradient of a convex energy.

    `before` is the slope of the energy at the start; force and moment are changed in place.
    """
    (x, y), (move_x, move_y), length = start, full, np.ones_like(before)
    for _ in range(MOST_HALVINGS):
        after = force * move_x + moment * move_y
        over = after > 0.5 * before
        few = np.flatnonzero(over)
        if not len(few):
            break
        length = np.where(over, length * before / np.where(over, before + after, 1.0), length)
        if balances.worth_cutting(few):
            part = balances.rows(few)
            force[few], moment[few] = part.move(*((at + length * by)[few] for at, by in ((x, move_x), (y, move_y))))
            balances.take(few, part)
        else:
            force[:], moment[:] = balances.move(x + length * move_x, y + length * move_y)
    return length


class _Balances:
    """Force and moment of a batch over one step: elastic layers are linear in the unknowns, the others yield.

    Every array has the plates on its last axis, so `rows` can cut them all alike.
    """

    def __init__(self, metal: Yielding, temp: Array, on: Array, free: Array, loads: _Load) -> None:
        self.flows, self.linear = metal.flows, metal.linear
        self.total, self.middle, self.half = metal.total, metal.middle, metal.half
        self.force, self.moment, self.k00, self.k01, self.k11 = loads
        self.temp, self.strain, self.modulus = temp, metal.strain, metal.modulus[:, None]
        self.gain, self.shrinks = metal.modulus * on, metal.modulus * free
        self.stress = metal.stress
        self.membrane, self.bending = (MOMENTS[:2] @ metal.stress).swapaxes(0, 1)
        self.flow, slope = self._flow(metal.strain)
        self.flow_down = -self.flow
        self._set_slope(slope)

    def worth_cutting(self, few: npt.NDArray[np.intp]) -> bool:
        """Whether to go on with these plates alone."""
        return self.linear and len(self.total) >= WORTH_CUTTING and 4 * len(few) < 3 * len(self.total)

    def rows(self, few: npt.NDArray[np.intp]) -> _Balances:
        """The same for some of the plates."""
        part = copy(self)
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray):
                setattr(part, name, value[..., few])
        return part

    def take(self, few: npt.NDArray[np.intp], part: _Balances) -> None:
        """Have the last move of some of the plates stand for them."""
        self.excess[..., few] = part.excess

    def _set_slope(self, slope: Array) -> None:
        self.resistance = self.modulus + 2 * slope
        self.hardens = 2 * slope / self.resistance

    def _flow(self, strain: Array) -> tuple[Array, Array]:
        """Flow stress and its slope with plastic strain; (layers, 1, plates) where it is the same all through."""
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

    def _added(self, x: Array, y: Array) -> Array:
        """What an increment adds to the stress of the yielding layers if none yields (layers, 2, n): in the middle,
        and from there to the upper face."""
        return np.stack((self.gain * (x + self.middle * y) - self.shrinks, self.gain * (self.half * y)), axis=1)

    def move(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Force and moment after an increment of strain and curvature; stores by how much each point exceeds yield."""
        added = self._added(x, y)
        excess = LINE @ added
        excess += self.stress
        inside = np.clip(excess, self.flow_down, self.flow)
        excess -= inside
        self.excess = excess
        if self.linear:
            lost = (MOMENTS[:2] @ excess) * (1.0 - self.hardens)
        else:
            self._follow(inside)
            lost = MOMENTS[:2] @ np.copysign(self.modulus * self.slipped, excess)
        membrane = self.membrane + 2.0 * added[:, 0] - lost[:, 0]
        bending = self.bending + (2.0 / 3.0) * added[:, 1] - lost[:, 1]
        return (
            self.force + self.k00 * x + self.k01 * y + (self.half * membrane).sum(axis=0),
            self.moment
            + self.k01 * x
            + self.k11 * y
            + (self.half * (self.middle * membrane + self.half * bending)).sum(axis=0),
        )

    def _follow(self, clipped: Array) -> None:
        """Slip where the flow stress is not linear in plastic strain, by Newton's method at every point."""
        size, yielded = np.abs(clipped + self.excess), self.excess != 0
        slip = np.abs(self.excess) / self.resistance
        for _ in range(30):
            flow, slope = self._flow(self.strain + 2 * slip)
            miss = np.where(yielded, size - self.modulus * slip - flow, 0.0)
            self._set_slope(slope)
            slip = np.maximum(slip + miss / self.resistance, 0.0)
            if np.abs(miss).max() <= 1e-3:
                break
        self.slipped = slip

    def settle(self, x: Array, y: Array) -> None:
        """Take the increment over, in place: stress and plastic strain after the last move."""
        if self.linear:
            lost, slip = self.excess * (1.0 - self.hardens), np.abs(self.excess)
            slip *= 2.0 / self.resistance
        else:
            lost, slip = np.copysign(self.modulus * self.slipped, self.excess), 2.0 * self.slipped
        self.stress += LINE @ self._added(x, y)
        self.stress -= lost
        # The equivalent plastic strain grows by twice the slip, which is that in the plane.
        self.strain += slip

    def stiffness(self) -> tuple[Array, Array, Array]:
        """Slope of force with strain, of either with the other, and of moment with curvature, after the last move."""
        softens = 1.0 - np.maximum(self.hardens, LEAST_TANGENT)
        if self.linear:
            elastic = _WHOLE - (MOMENTS @ (self.excess != 0).astype(float)) * softens
        else:
            elastic = _WHOLE - MOMENTS @ np.where(self.excess != 0, softens, 0.0)
        t0, t1, t2 = self.gain * elastic.swapaxes(0, 1)
        middle, half = self.middle, self.half
        return (
            self.k00 + (half * t0).sum(axis=0),
            self.k01 + (half * (middle * t0 + half * t1)).sum(axis=0),
            self.k11 + (half * (middle**2 * t0 + 2 * middle * half * t1 + half**2 * t2)).sum(axis=0),
        )
