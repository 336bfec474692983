"""The same balance as in `yielding` where one layer alone yields, its flow stress linear in plastic strain.

That is nearly every plate there is. The unknowns are then told as what they add to the stress of that layer if it does
not yield: in its middle, and from there to its upper face [Pa]. In these a step takes half the time, and the two
balances stay symmetric. They are force over half the layer's thickness, and moment about the layer's middle
over the square of that. Arrays are (points, n), (2, n) for pairs, and (n,).
"""

from __future__ import annotations

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
#: So many arrays of points a step needs beside what it knows.
_ROOM = 4
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
        self.stress, self.strain = (np.zeros((POINTS, len(self.total))) for _ in range(2))
        # Half of the room goes to either balance, so that both hold about the middle of the plate as well.
        least = self.half / (0.5 * TOLERANCE_PA * self.total)
        self.weights = _pair(least, least * self.half / self.total)

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
        steps, fall = self._steps(temps, free[0], loads), temps[:-1] - temps[1:]
        moves = (fall != 0).all(axis=1).tolist()
        left, found = self._carried(loads), np.empty((len(fall), 2, fall.shape[1]))
        # The last increments per kelvin are the first guess of the next ones.
        per_k = np.zeros((2, fall.shape[1]))
        # Arrays of this size are dear to come by, so those of a step are used again by the next.
        limit, room = np.empty_like(self.strain), np.empty((2 * _ROOM, *self.strain.shape))
        for k, added in enumerate(found):
            np.multiply(self.strain, steps.slope[k], out=limit)
            limit += steps.flow[k]
            left += steps.brings[k]
            of_step = steps.stiffness[k], steps.keeps[k], steps.softens[k], self.weights
            balance = _Balance(_Part(self.stress, limit, left, *of_step), room.reshape(-1))
            if per_k.any():
                np.multiply(per_k, fall[k], out=added)
                added[0] -= steps.shrinks[k]
            else:
                # As if nothing yielded is nearer than as if nothing moved.
                added[:] = balance.elastic()
            left = balance.move(added)
            balance.close(added, left)
            balance.settle(self.stress, self.strain, steps.slips[k])
            added[0] += steps.shrinks[k]
            if moves[k]:
                np.divide(added, fall[k], out=per_k)
            else:
                np.divide(added, fall[k], out=per_k, where=fall[k] != 0)
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
        stiffness, brings = np.empty((len(change), 3, len(half))), np.empty((len(change), 2, len(half)))
        stiffness[:, 0] = loads.k00
        stiffness[:, 1] = across / half
        stiffness[:, 2] = (loads.k11 - middle * (loads.k01 + across)) / half**2
        stiffness *= 1.0 / (half * modulus)
        stiffness += _OWN
        brings[:, 0] = (loads.force + loads.k00 * change) / half
        brings[:, 1] = (loads.moment - middle * loads.force + across * change) / half**2
        softens = 1.0 - np.maximum(hardens, LEAST_TANGENT)
        return _Steps(
            modulus * change,
            slope,
            self.flow.stress_0_pa * factor,
            stiffness,
            brings,
            keeps,
            softens,
            2 * keeps / modulus,
        )

    def _carried(self, loads: Loads) -> Array:
        """Both balances (2, n) before the first step."""
        found = _FORCE_AND_MOMENT @ self.stress
        found[0] += loads.force_before / self.half
        found[1] += (loads.moment_before - self.middle * loads.force_before) / self.half**2
        return found


class _Steps(NamedTuple):
    """What is known of every step beforehand: (steps, n), and between them 3 of `stiffness` and 2 of `brings`.

    What the layer shrinks by if held [Pa], flow stress and its slope with plastic strain, stiffness and load of the
    balances, what a point beyond yield loses and softens by, and how much it slips for each pascal.
    """

    shrinks: Array
    slope: Array
    flow: Array
    stiffness: Array
    brings: Array
    keeps: Array
    softens: Array
    slips: Array


class _Part(NamedTuple):
    """What a balance holds for each plate."""

    stress: Array
    limit: Array
    start: Array
    stiffness: Array
    keeps: Array
    softens: Array
    weights: Array


class _Balance:
    """Both balances of a batch over one step; of the last move, `inside` is the stress of each point within yield, and
    `excess` by how much it is beyond that.

    Each balance is `start + stiffness·added` less what yielding takes away. `stiffness` (3, n) holds the two on the
    diagonal first and last.
    """

    def __init__(self, parts: _Part, room: Array) -> None:
        self.parts, size = parts, _ROOM * parts.stress.size
        # What is left of the room is for those of the plates that go on by themselves.
        room, self._rest = (room, room[size:]) if size <= len(room) else (np.empty(size), room)
        self.excess, self.inside, self.spare, self.limit_down = room[:size].reshape(_ROOM, *parts.stress.shape)
        np.negative(parts.limit, out=self.limit_down)

    def move(self, added: Array) -> Array:
        """What is left of the balances (2, n) after an increment."""
        p, excess, inside = self.parts, self.excess, self.inside
        np.matmul(LINE, added, out=excess)
        excess += p.stress
        np.maximum(excess, self.limit_down, out=inside)
        np.minimum(inside, p.limit, out=inside)
        excess -= inside
        lost = _FORCE_AND_MOMENT @ excess
        lost *= p.keeps
        left = p.stiffness[::2] * added
        left += p.stiffness[1] * added[::-1]
        left += p.start
        left -= lost
        return np.asarray(left)

    def close(self, added: Array, left: Array) -> None:
        """Move until both balances close, by Newton's method; increments and what is left are changed in place."""
        for _ in range(MOST_ITERATIONS):
            open_ = np.abs(left)
            open_ *= self.parts.weights
            (few,) = (np.maximum(open_[0], open_[1]) > 1.0).nonzero()
            n = left.shape[1]
            if not len(few):
                return
            if n >= WORTH_CUTTING and 4 * len(few) < 3 * n:
                # Most plates are done after one move; the others go on by themselves.
                part, moved, rest = self._rows(few), added[:, few], left[:, few]
                self.excess.take(few, axis=1, out=part.excess, mode="clip")
                part.close(moved, rest)
                added[:, few], left[:, few] = moved, rest
                self._take(few, part)
                return
            move = self._newton(left)
            if len(few) < n:
                shut = np.ones(n, dtype=bool)
                shut[few] = False
                move[:, shut] = 0.0
            before = np.abs(_along(left, move))
            left[:] = self.move(added + move)
            added += self._shortened(added, move, before, left) * move
        raise NotConverged("force and moment of a plate do not balance while it cools", todo="no answer can be given")

    def _newton(self, left: Array) -> Array:
        """The full step (2, n) at the slopes after the last move."""
        p = self.parts
        np.not_equal(self.excess, 0.0, out=self.spare)
        k = MOMENTS @ self.spare
        k *= -p.softens
        k += p.stiffness
        return _solved(k, left)

    def elastic(self) -> Array:
        """The increment (2, n) that closes the balances if no point yields."""
        return _solved(self.parts.stiffness, self.parts.start)

    def _shortened(self, added: Array, move: Array, before: Array, left: Array) -> float | Array:
        """Fraction of a full step at which it no longer overshoots, as in `yielding`; `left` is changed in place."""
        length: float | Array = 1.0
        for _ in range(MOST_HALVINGS):
            after = _along(left, move)
            over = after > 0.5 * before
            (few,) = over.nonzero()
            if not len(few):
                break
            length = np.where(over, length * before / np.where(over, before + after, 1.0), length)
            if len(before) >= WORTH_CUTTING and 4 * len(few) < 3 * len(before):
                part = self._rows(few)
                left[:, few] = part.move(added[:, few] + length[few] * move[:, few])
                self._take(few, part)
            else:
                left[:] = self.move(added + length * move)
        return length

    def _rows(self, few: npt.NDArray[np.intp]) -> _Balance:
        return _Balance(_Part(*(values.take(few, axis=-1) for values in self.parts)), self._rest)

    def _take(self, few: npt.NDArray[np.intp], part: _Balance) -> None:
        self.excess[:, few], self.inside[:, few] = part.excess, part.inside

    def settle(self, stress: Array, strain: Array, slips: Array) -> None:
        """Take the last move over into the stress and plastic strain of the points, in place."""
        # Yielding takes away `keeps` of what is beyond, and the equivalent plastic strain grows by twice the slip.
        np.multiply(self.excess, 1.0 - self.parts.keeps, out=self.spare)
        np.add(self.inside, self.spare, out=stress)
        np.abs(self.excess, out=self.spare)
        self.spare *= slips
        strain += self.spare


def _pair(one: Array, other: Array) -> Array:
    """Two of (n,) as (2, n), in a third of the time that `stack` takes."""
    pair = np.empty((2, len(one)))
    pair[0], pair[1] = one, other
    return pair


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
