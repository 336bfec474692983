"""The same balance as in `yielding` where one layer alone yields, its flow stress linear in plastic strain.

That is nearly every plate there is. The unknowns are then told as what they add to the stress of that layer if it does
not yield: in its middle, and from there to its upper face [Pa]. In these a step takes half the time, and the two
balances stay symmetric. They are force over half the layer's thickness, and moment about the layer's middle
over the square of that. Arrays are (points, n), (2, n) for pairs, and (n,).
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from refdb.errors import NotConverged
from refdb.science.plate.layers import Array, HardeningYield, Plates
from refdb.science.plate.yielding import (
    LEAST_TANGENT,
    LINE,
    MOMENTS,
    MOST_HALVINGS,
    MOST_ITERATIONS,
    POINTS,
    TOLERANCE_PA,
    WORTH_CUTTING,
    Loads,
)

#: A layer thinner than this share of its plate is left to the general way, whose equations it cannot make stiff.
_LEAST_SHARE = 0.01
#: Rows of what a balance holds: stress and limit of the points, its equations, where it starts, and its weights.
_HELD = 2 * POINTS + 9
_ROWS = tuple(slice(*ends) for ends in pairwise((0, POINTS, 2 * POINTS, 2 * POINTS + 5, 2 * POINTS + 7, _HELD)))
_FORCE_AND_MOMENT = np.ascontiguousarray(MOMENTS[:2])
#: Membrane and bending of an elastic layer over what its stress is in the middle and grows by to its face.
_OWN = np.array([[2.0], [0.0], [2.0 / 3.0]])


class OneMetal:
    """The layer of a batch that yields: stress and plastic strain at its points (points, n)."""

    def __init__(self, plates: Plates, layer: int, low: Array, high: Array) -> None:
        flow = plates.flow_stress[layer]
        assert isinstance(flow, HardeningYield)
        self.layers, self.flow = [layer], flow
        self.modulus = (plates.youngs_modulus_pa / (1.0 - plates.poisson_ratio)).T[layer]
        self.middle, self.half = (high + low)[layer] / 2, (high - low)[layer] / 2
        self.total = (high - low).sum(axis=0)
        self.held = np.empty((_HELD, len(self.total)))
        self.stress, self.strain = self.held[_ROWS[0]], np.zeros((POINTS, len(self.total)))
        self.stress[:] = 0.0
        # Half of the room goes to either balance, so that both hold about the middle of the plate as well.
        least = self.half / (0.5 * TOLERANCE_PA * self.total)
        self.held[-2:] = least, least * self.half / self.total

    @classmethod
    def of(cls, plates: Plates, low: Array, high: Array) -> OneMetal | None:
        """The one layer that yields; None where it has to be followed the general way."""
        layers = [k for k, flow in enumerate(plates.flow_stress) if flow is not None]
        if len(layers) != 1 or not isinstance(plates.flow_stress[layers[0]], HardeningYield):
            return None
        k = layers[0]
        thick = plates.thickness_m[:, k] >= _LEAST_SHARE * plates.thickness_m.sum(axis=1)
        return cls(plates, k, low, high) if thick.all() and np.isnan(plates.set_c[:, k]).all() else None

    def march(self, temps: Array, solid: Array, free: Array, loads: Loads) -> tuple[Array, Array]:
        """Take all steps, as `Yielding.march` does; the layer is solid throughout.

        What is known before the first step is worked out for all of them at once: stiffness, flow stress, and what
        each brings to the balances.
        """
        steps = self._steps(temps, free[0], loads)
        left, found = self._carried(loads), np.empty((len(steps.brings), 2, len(self.total)))
        balance = _Balance(self.held)
        for k, added in enumerate(found):
            left += steps.brings[k]
            balance.begin(self.strain, left, steps, k)
            # As if nothing yielded is nearer than as if nothing moved; then, as if what yielded last went on to.
            added[:] = balance.foreseen() if k else balance.elastic()
            left = balance.close(added)
            balance.settle(self.strain, steps, k)
            added[0] += steps.shrinks[k]
        curvature = found[:, 1] / (self.modulus * self.half)
        return found[:, 0] / self.modulus - self.middle * curvature, curvature

    def left(self) -> tuple[Array, Array]:
        """What the layer brings to force [N/m] and moment [N] by its stress, (n,) each."""
        membrane, bending = _FORCE_AND_MOMENT @ self.stress
        return self.half * membrane, self.half * (self.half * bending + self.middle * membrane)

    def faces(self) -> tuple[Array, Array, Array, Array]:
        """Stress at the bottom, on average and at the top, and the largest plastic strain; (1, n) each."""
        mean = _FORCE_AND_MOMENT[:1] @ self.stress / 2
        return self.stress[:1], mean, self.stress[-1:], self.strain.max(axis=0)[None]

    def _steps(self, temps: Array, free: Array, loads: Loads) -> _Steps:
        """The equations of all steps: about the middle of the layer, in what the unknowns add to its stress."""
        middle, half, modulus = self.middle, self.half, self.modulus
        factor = np.asarray(self.flow.factor(temps[1:]))
        slope = self.flow.hardening_pa * factor
        hardens = 2 * slope / (modulus + 2 * slope)
        change, keeps = free[1:] - free[:-1], 1.0 - hardens
        across = loads.k01 - middle * loads.k00
        equations, brings = np.empty((len(change), 5, len(half))), np.empty((len(change), 2, len(half)))
        stiffness = equations[:, :3]
        stiffness[:, 0] = loads.k00
        stiffness[:, 1] = across / half
        stiffness[:, 2] = (loads.k11 - middle * (loads.k01 + across)) / half**2
        stiffness *= 1.0 / (half * modulus)
        stiffness += _OWN
        brings[:, 0] = (loads.force + loads.k00 * change) / half
        brings[:, 1] = (loads.moment - middle * loads.force + across * change) / half**2
        equations[:, 3] = keeps
        equations[:, 4] = np.maximum(hardens, LEAST_TANGENT) - 1.0
        return _Steps(
            modulus * change, slope, self.flow.stress_0_pa * factor, equations, brings, 1.0 - keeps, 2 * keeps / modulus
        )

    def _carried(self, loads: Loads) -> Array:
        """Both balances (2, n) before the first step."""
        found = _FORCE_AND_MOMENT @ self.stress
        found[0] += loads.force_before / self.half
        found[1] += (loads.moment_before - self.middle * loads.force_before) / self.half**2
        return found


class _Steps(NamedTuple):
    """What is known of every step beforehand: (steps, n), and between them 5 rows of `equations` and 2 of `brings`.

    What the layer shrinks by if held [Pa], flow stress and its slope with plastic strain; the stiffness of the balances
    in three rows, what a point beyond yield loses, and what it softens by, negative; what the step brings to the
    balances; what a point beyond yield keeps, and how much it slips for each pascal.
    """

    shrinks: Array
    slope: Array
    flow: Array
    equations: Array
    brings: Array
    hardens: Array
    slips: Array


class _Balance:
    """Both balances of a batch over one step; of the last move, `inside` is the stress of each point within yield, and
    `excess` by how much it is beyond that.

    Each balance is `start + stiffness·added` less what yielding takes away. `stiffness` (3, n) holds the two on the
    diagonal first and last. All that is known of a plate stands in one column of `held`, so that a few of them are
    taken out by one call.
    """

    def __init__(self, held: Array, room: Array | None = None) -> None:
        self.held, n = held, held.shape[1]
        self.stress, self.limit, self.equations, self.start, self.weights = (held[rows] for rows in _ROWS)
        self.stiffness, self.loses, self.softens = self.equations[:3], self.equations[3], self.equations[4]
        self.diagonal, self.across = self.stiffness[::2], self.stiffness[1]
        # Arrays of points are dear to come by: what is left of the room is for those that go on by themselves.
        size = 4 * POINTS * n
        if room is None:
            room = np.empty(2 * size)
        room, self._rest = (room, room[size:]) if size <= len(room) else (np.empty(size), room)
        points = room[:size].reshape(-1, n)
        self.moved, self.spare, self.least = points[: 2 * POINTS], points[2 * POINTS : 3 * POINTS], points[-POINTS:]
        self.excess, self.inside = self.moved[:POINTS], self.moved[POINTS:]
        self._pair, self._worst, self._open = np.empty((2, n)), np.empty(n), np.empty(n, dtype=bool)

    def begin(self, strain: Array, start: Array, steps: _Steps, k: int) -> None:
        """Go on to a step, from what is left of the balances and the plastic strain of each point."""
        np.multiply(strain, steps.slope[k], out=self.limit)
        self.limit += steps.flow[k]
        np.negative(self.limit, out=self.least)
        self.equations[:] = steps.equations[k]
        self.start[:] = start

    def move(self, added: Array, left: Array) -> None:
        """Work out what is left of the balances (2, n) after an increment."""
        excess, inside, pair = self.excess, self.inside, self._pair
        np.matmul(LINE, added, out=excess)
        excess += self.stress
        np.maximum(excess, self.least, out=inside)
        np.minimum(inside, self.limit, out=inside)
        excess -= inside
        np.multiply(self.diagonal, added, out=left)
        np.multiply(self.across, added[::-1], out=pair)
        left += pair
        left += self.start
        np.matmul(_FORCE_AND_MOMENT, excess, out=pair)
        pair *= self.loses
        left -= pair

    def close(self, added: Array) -> Array:
        """Move until both balances close, by Newton's method; increments are changed in place. What is left (2, n)."""
        left = np.empty_like(added)
        self.move(added, left)
        return self._closed(added, left)

    def _closed(self, added: Array, left: Array) -> Array:
        n, few = added.shape[1], self._still_open(left)
        tried, before = np.empty_like(added), np.empty_like(added)
        for _ in range(MOST_ITERATIONS):
            if not len(few):
                return left
            if n >= WORTH_CUTTING and 4 * len(few) < 3 * n:
                # Most plates are done after one move; the others go on by themselves.
                part, moved = self._rows(few), added.take(few, axis=1)
                self.excess.take(few, axis=1, out=part.excess, mode="clip")
                left[:, few] = part._closed(moved, left.take(few, axis=1))
                added[:, few], self.moved[:, few] = moved, part.moved
                return left
            move = self._newton(left)
            if len(few) < n:
                move *= self._open
            np.add(added, move, out=tried)
            left, before = before, left
            self.move(tried, left)
            few = self._still_open(left)
            if len(few):
                few = self._shortened(added, move, before, left, few)
            else:
                added[:] = tried
        raise NotConverged("force and moment of a plate do not balance while it cools", todo="no answer can be given")

    def _still_open(self, left: Array) -> npt.NDArray[np.intp]:
        """Which plates are out of balance."""
        pair = self._pair
        np.abs(left, out=pair)
        pair *= self.weights
        np.maximum(pair[0], pair[1], out=self._worst)
        np.greater(self._worst, 1.0, out=self._open)
        return self._open.nonzero()[0]

    def _newton(self, left: Array) -> Array:
        """The full step (2, n) at the slopes after the last move."""
        np.not_equal(self.excess, 0.0, out=self.spare)
        k = MOMENTS @ self.spare
        k *= self.softens
        k += self.stiffness
        return _solved(k, left)

    def elastic(self) -> Array:
        """The increment (2, n) that closes the balances if no point yields."""
        return _solved(self.stiffness, self.start)

    def foreseen(self) -> Array:
        """The increment (2, n) that closes the balances if the points go on to yield that were beyond it last."""
        on, yields = self.inside, self.spare
        np.not_equal(self.excess, 0.0, out=on)
        k = MOMENTS @ on
        k *= self.softens
        k += self.stiffness
        np.copysign(self.limit, self.excess, out=yields)
        np.subtract(self.stress, yields, out=yields)
        yields *= on
        start = _FORCE_AND_MOMENT @ yields
        start *= self.loses
        np.subtract(self.start, start, out=start)
        return _solved(k, start)

    def _shortened(
        self, added: Array, move: Array, before: Array, left: Array, few: npt.NDArray[np.intp]
    ) -> npt.NDArray[np.intp]:
        """Take a step of which the whole was tried, or the fraction at which it no longer overshoots, as in `yielding`.

        `added` and `left` are changed in place. Returned is which plates are out of balance after it.
        """
        length: float | Array = 1.0
        steep = np.abs(_along(before, move))
        for _ in range(MOST_HALVINGS):
            after = _along(left, move)
            over = after > 0.5 * steep
            (far,) = over.nonzero()
            if not len(far):
                break
            length = np.where(over, length * steep / np.where(over, steep + after, 1.0), length)
            if len(over) >= WORTH_CUTTING and 4 * len(far) < 3 * len(over):
                part, rest = self._rows(far), np.empty((2, len(far)))
                part.move(added[:, far] + length[far] * move[:, far], rest)
                left[:, far], self.moved[:, far] = rest, part.moved
            else:
                self.move(added + length * move, left)
        added += length * move
        return few if isinstance(length, float) else self._still_open(left)

    def _rows(self, few: npt.NDArray[np.intp]) -> _Balance:
        size, rest = len(few) * len(self.held), self._rest
        held = rest[:size].reshape(-1, len(few)) if size <= len(rest) else np.empty((len(self.held), len(few)))
        part = _Balance(self.held.take(few, axis=1, out=held, mode="clip"), rest[size:])
        np.negative(part.limit, out=part.least)
        return part

    def settle(self, strain: Array, steps: _Steps, k: int) -> None:
        """Take the last move over into the stress and plastic strain of the points, in place."""
        # Yielding takes away `loses` of what is beyond, and the equivalent plastic strain grows by twice the slip.
        np.multiply(self.excess, steps.hardens[k], out=self.spare)
        np.add(self.inside, self.spare, out=self.stress)
        np.abs(self.excess, out=self.spare)
        self.spare *= steps.slips[k]
        strain += self.spare


def _along(left: Array, move: Array) -> Array:
    """How steep the energy of each plate is along a move (n,)."""
    steep = left[0] * move[0]
    steep += left[1] * move[1]
    return np.asarray(steep)


def _solved(k: Array, left: Array) -> Array:
    """What takes away what is left of two balances (2, n), at these slopes (3, n)."""
    move = k[::-2] * left
    move -= k[1] * left[::-1]
    move *= 1.0 / (k[1] * k[1] - k[0] * k[2])
    return np.asarray(move)
