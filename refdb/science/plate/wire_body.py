"""A wire as a body that yields: its movement in modes over its height and its width, between glass at both sides.

Lengths are told against the wire's height. Half of the wire is reckoned with, the other half is its mirror.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from refdb.science.plate.layers import Array
from refdb.science.plate.radial_return import APART, EVEN, Balance, Metal, State, returned, to_balance
from refdb.science.plate.wire_modes import BLOCKS, COUNT, SIDE, STARTS, gauss, modes

_ROUND, _TALL = 2, 8


class Side(NamedTuple):
    """What the glass at the side does: forces of the modes (n, modes) [Pa] at rest, and their slope [Pa]."""

    at_rest: Array
    stiffness: Array

    def rows(self, part: Any) -> Side:
        """Those of a part of the batch."""
        return Side(self.at_rest[part], self.stiffness[part])


@cache
def _shapes() -> tuple[Array, Array, Array]:
    """Strain by mode from slopes across, (points, 4, COUNT), and from those up; and the weights."""
    (x, x_weights), (y, y_weights) = gauss(_ROUND), gauss(_TALL)
    value, slope = modes(SIDE, y)
    points = _ROUND * _TALL
    by_x, by_y = np.zeros((2, points, 4, COUNT))
    for start, (part, power, count) in zip(STARTS, BLOCKS, strict=True):
        at = slice(start, start + count)
        leans = power * x ** max(power - 1, 0)
        by_x[:, 3 if part else 0, at] = np.einsum("i,kj->ijk", leans, value[:count]).reshape(points, count)
        by_y[:, 1 if part else 3, at] = np.einsum("i,kj->ijk", x**power, slope[:count]).reshape(points, count)
    return by_x, by_y, np.outer(x_weights, y_weights).ravel()


class Wires:
    """Wires of one slenderness, half the width over the height, that cool between glass."""

    def __init__(self, half: float, n: int, kept: npt.NDArray[np.intp]) -> None:
        """`kept` are the modes that the base leaves."""
        by_x, by_y, weights = _shapes()
        shape = (by_x / half + by_y)[:, :, kept]
        self.count = len(kept)
        self.weights, self.flat = weights * half, np.ascontiguousarray(shape.reshape(-1, self.count))
        apart = np.einsum("qcN,cd,qdM->qNM", shape, APART, shape)
        even = np.einsum("c,qcN->qN", EVEN, shape)
        self.apart = (apart * self.weights[:, None, None]).reshape(len(weights), -1)
        self.even = (even.T * self.weights) @ even
        none = np.zeros((n, len(weights), 4))
        self.state, self.moved, self.left = State(none, none, none[:, :, 0]), np.zeros((n, self.count)), np.zeros(n)

    def cool(self, metal: Metal, free: Array, side: Side, ahead: float = 1.0) -> None:
        """Go on to the free strain (n,) of the metal against the base, and to other forces of the glass.

        The balance is looked for from where the wire stands, times `ahead`.
        """
        before = self.state

        def balance(rows: Any, moved: Array) -> Balance:
            return self._balance(metal.rows(rows), before.rows(rows), free[rows], moved, side.rows(rows))

        self.moved, self.state, self.left = to_balance(self.moved * ahead, before, balance, "a wire in glass")

    def along_pa(self) -> Array:
        """Mean stress of the wires along themselves [Pa]; (n,)."""
        return np.asarray(self.state.stress[:, :, 2] @ (self.weights / self.weights.sum()))

    def slip(self) -> Array:
        """Mean equivalent plastic strain of the wires [-]; (n,)."""
        return np.asarray(self.state.slip @ (self.weights / self.weights.sum()))

    def _balance(self, metal: Metal, before: State, free: Array, moved: Array, side: Side) -> Balance:
        """The radial return at every point, and what it leaves of the forces."""
        n, points = len(moved), len(self.weights)
        strain = (moved @ self.flat.T).reshape(n, points, 4) - free[:, None, None] * EVEN
        now = returned(metal, before, strain)
        weighed = (now.stress * self.weights[:, None]).reshape(n, -1)
        off = weighed @ self.flat + side.at_rest + np.einsum("nNM,nM->nN", side.stiffness, moved)
        slope = ((2.0 * metal.shear_pa[:, None] * now.keeps) @ self.apart).reshape(n, self.count, self.count)
        slope += metal.bulk_pa[:, None, None] * self.even + side.stiffness
        flows = now.flows.any(axis=1)
        if flows.any():
            normal = np.where(now.flows, self.weights, 0.0)[..., None] * now.normal
            along = np.einsum("nqc,qcN->nqN", normal[flows], self.flat.reshape(points, 4, self.count))
            factor = now.factor[flows] / self.weights
            slope[flows] += along.transpose(0, 2, 1) @ (along * factor[..., None])
        return Balance(off, slope, State(strain, now.stress, now.slip))
