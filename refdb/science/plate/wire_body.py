"""A wire as a body that yields: its movement in modes over its height and its width, between glass at both sides.

Lengths are told against the wire's height. Half of the wire is reckoned with, the other half is its mirror.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import Any, NamedTuple

import numpy as np

from refdb.errors import NotConverged
from refdb.frozen import dataclass
from refdb.science.plate.layers import Array
from refdb.science.plate.wire_modes import SIDE, gauss, modes

_MOST_ITERATIONS, _MOST_HALVINGS = 60, 12
_TOLERANCE_PA = 1.0
#: How the wire moves, across (0) and up (1): power of the way from its middle, and modes over its height.
_BLOCKS = ((0, 1, SIDE), (0, 3, SIDE // 2), (1, 0, SIDE), (1, 2, SIDE // 2))
_COUNT = sum(count for *_, count in _BLOCKS)
_ROUND, _TALL = 2, 8
#: Strain and stress are told across, up, along, and in shear.
_EVEN = np.array([1.0, 1.0, 1.0, 0.0])
_APART = np.diag([1.0, 1.0, 1.0, 0.5]) - np.outer(_EVEN, _EVEN) / 3.0
_TWICE = np.array([1.0, 1.0, 1.0, 2.0])


@dataclass(frozen=True)
class Metal:
    """Elastic constants and yield of the wires of a batch at one temperature; (n,) each, [Pa]."""

    shear_pa: Array
    bulk_pa: Array
    yields_pa: Array
    hardens_pa: Array

    def rows(self, part: Any) -> Metal:
        """Those of a part of the batch."""
        return Metal(self.shear_pa[part], self.bulk_pa[part], self.yields_pa[part], self.hardens_pa[part])


@dataclass(frozen=True)
class State:
    """Strain, stress (n, points, 4) and equivalent plastic strain (n, points) at the points of the wires."""

    strain: Array
    stress: Array
    slip: Array

    def rows(self, part: Any) -> State:
        """Those of a part of the batch."""
        return State(self.strain[part], self.stress[part], self.slip[part])


class Side(NamedTuple):
    """What the glass at the side does: forces (n, 2·SIDE) [Pa] at rest, and their slope with the movement [Pa]."""

    at_rest: Array
    stiffness: Array

    def rows(self, part: Any) -> Side:
        """Those of a part of the batch."""
        return Side(self.at_rest[part], self.stiffness[part])


@cache
def _shapes() -> tuple[Array, Array, Array, Array]:
    """Strain by mode from slopes across, (points, 4, modes), and from those up; weights; the movement of the side."""
    (x, x_weights), (y, y_weights) = gauss(_ROUND), gauss(_TALL)
    value, slope = modes(SIDE, y)
    points = _ROUND * _TALL
    by_x, by_y, side = np.zeros((points, 4, _COUNT)), np.zeros((points, 4, _COUNT)), np.zeros((2 * SIDE, _COUNT))
    start = 0
    for part, power, count in _BLOCKS:
        at = slice(start, start + count)
        leans = power * x ** max(power - 1, 0)
        by_x[:, 3 if part else 0, at] = np.einsum("i,kj->ijk", leans, value[:count]).reshape(points, count)
        by_y[:, 1 if part else 3, at] = np.einsum("i,kj->ijk", x**power, slope[:count]).reshape(points, count)
        side[part * SIDE : part * SIDE + count, at] = np.eye(count)
        start += count
    return by_x, by_y, np.outer(x_weights, y_weights).ravel(), side


class _Balance(NamedTuple):
    """Forces of the modes that are left [Pa], their slope [Pa], and the state they belong to."""

    off: Array
    slope: Array
    strain: Array
    stress: Array
    slip: Array


class Wires:
    """Wires of one slenderness, half the width over the height, that cool between glass."""

    def __init__(self, half: float, n: int) -> None:
        by_x, by_y, weights, self.side = _shapes()
        shape = by_x / half + by_y
        self.weights, self.flat = weights * half, np.ascontiguousarray(shape.reshape(-1, _COUNT))
        apart = np.einsum("qcN,cd,qdM->qNM", shape, _APART, shape)
        even = np.einsum("c,qcN->qN", _EVEN, shape)
        self.apart = (apart * self.weights[:, None, None]).reshape(len(weights), -1)
        self.even = (even.T * self.weights) @ even
        none = np.zeros((n, len(weights), 4))
        self.state, self.moved, self.left = State(none, none, none[:, :, 0]), np.zeros((n, _COUNT)), np.zeros(n)

    def cool(self, metal: Metal, free: Array, side: Side, ahead: float = 1.0) -> None:
        """Go on to the free strain (n,) of the metal against the base, and to other forces of the glass.

        The balance is looked for from where the wire stands, times `ahead`.
        """
        rest, within = side.at_rest @ self.side, self.side.T @ side.stiffness @ self.side
        before, moved = self.state, self.moved * ahead
        after = State(before.strain.copy(), before.stress.copy(), before.slip.copy())

        def balance(rows: Any, moved: Array) -> _Balance:
            return self._balance(metal.rows(rows), before.rows(rows), free[rows], moved, Side(rest[rows], within[rows]))

        rows = np.arange(len(moved))
        now = balance(rows, moved)
        for _ in range(_MOST_ITERATIONS):
            after.strain[rows], after.stress[rows], after.slip[rows] = now.strain, now.stress, now.slip
            self.left[rows] = np.abs(now.off).max(axis=1)
            wide = self.left[rows] > _TOLERANCE_PA
            if not wide.any():
                break
            rows, off = rows[wide], now.off[wide]
            step = np.asarray(-np.linalg.solve(now.slope[wide], off[..., None])[..., 0])
            moved[rows], now = _go(moved[rows], step, off, partial(balance, rows))
        else:
            raise NotConverged("a wire in glass does not come to balance while it cools", "wire")
        self.state, self.moved = after, moved

    def along_pa(self) -> Array:
        """Mean stress of the wires along themselves [Pa]; (n,)."""
        return np.asarray(self.state.stress[:, :, 2] @ (self.weights / self.weights.sum()))

    def slip(self) -> Array:
        """Mean equivalent plastic strain of the wires [-]; (n,)."""
        return np.asarray(self.state.slip @ (self.weights / self.weights.sum()))

    def side_moved(self) -> Array:
        """Movement of the wires' sides in modes (n, 2·SIDE), across first [height]."""
        return np.asarray(self.moved @ self.side.T)

    def _balance(self, metal: Metal, before: State, free: Array, moved: Array, side: Side) -> _Balance:
        """The radial return at every point, and what it leaves of the forces."""
        n, points = len(moved), len(self.weights)
        strain = (moved @ self.flat.T).reshape(n, points, 4) - free[:, None, None] * _EVEN
        more = strain - before.strain
        shear, bulk = metal.shear_pa[:, None], metal.bulk_pa[:, None]
        trial = before.stress + (2.0 * shear)[..., None] * (more @ _APART) + (bulk * (more @ _EVEN))[..., None] * _EVEN
        level = trial[:, :, :3].mean(axis=2)[..., None] * _EVEN
        apart = trial - level
        size = np.sqrt(1.5 * (apart**2 @ _TWICE))
        rise = metal.hardens_pa[:, None]
        over = np.maximum(size - metal.yields_pa[:, None] - rise * before.slip, 0.0)
        stiff = 3.0 * shear + rise
        amount, size = over / stiff, np.where(over > 0.0, size, 1.0)
        keeps = 1.0 - 3.0 * shear * amount / size
        stress = level + apart * keeps[..., None]
        weighed = (stress * self.weights[:, None]).reshape(n, -1)
        off = weighed @ self.flat + side.at_rest + np.einsum("nNM,nM->nN", side.stiffness, moved)
        slope = ((2.0 * shear * keeps) @ self.apart).reshape(n, _COUNT, _COUNT)
        slope += metal.bulk_pa[:, None, None] * self.even + side.stiffness
        flows = (over > 0.0).any(axis=1)
        if flows.any():
            normal = np.where(over > 0.0, self.weights, 0.0)[..., None] * (apart / size[..., None])
            along = np.einsum("nqc,qcN->nqN", normal[flows], self.flat.reshape(points, 4, _COUNT))
            factor = (9.0 * shear**2 * (amount / size - 1.0 / stiff))[flows] / self.weights
            slope[flows] += along.transpose(0, 2, 1) @ (along * factor[..., None])
        return _Balance(off, slope, strain, stress, before.slip + amount)


def _go(moved: Array, step: Array, off: Array, balance: Callable[[Array], _Balance]) -> tuple[Array, _Balance]:
    """Take a step of Newton's, shortened where it overshoots: the balance is the slope of a convex energy."""
    downhill = -np.einsum("nN,nN->n", off, step)
    share = np.ones(len(step))
    for _ in range(_MOST_HALVINGS):
        there = moved + share[:, None] * step
        then = balance(there)
        beyond = np.einsum("nN,nN->n", then.off, step) > 0.5 * downhill
        beyond &= np.abs(then.off).max(axis=1) > _TOLERANCE_PA
        if not beyond.any():
            break
        share = np.where(beyond, share / 2.0, share)
    return there, then
