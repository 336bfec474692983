"""The modes in which a wire moves: powers of the way from its middle by polynomials over its height, which is one."""

from __future__ import annotations

import numpy as np

from refdb.science.plate.layers import Array

#: Modes over the height in which the side of a wire moves; the first is even, all others are zero at the foot.
SIDE = 9
#: How a wire moves, across (0) and up (1): power of the way from its middle, and modes over its height.
BLOCKS = ((0, 1, SIDE), (0, 3, SIDE // 2 + 1), (1, 0, SIDE), (1, 2, SIDE // 2 + 1))
COUNT = sum(count for *_, count in BLOCKS)
#: Where each block begins, and which modes move the foot.
STARTS = tuple(sum(count for *_, count in BLOCKS[:k]) for k in range(len(BLOCKS)))
MOVES_FOOT = np.isin(np.arange(COUNT), STARTS)


def gauss(points: int) -> tuple[Array, Array]:
    """Points and weights of Gauss and Legendre between zero and one."""
    at, weights = np.polynomial.legendre.leggauss(points)
    return np.asarray((at + 1.0) / 2.0), np.asarray(weights / 2.0)


def modes(count: int, at: Array) -> tuple[Array, Array]:
    """Modes over the height, one and then y·P(2y−1) with Legendre's polynomials, and their slopes; (count, points)."""
    x = 2.0 * at - 1.0
    polynomial, slope = [np.ones_like(x), x], [np.zeros_like(x), np.ones_like(x)]
    for k in range(1, count - 2):
        polynomial.append(((2 * k + 1) * x * polynomial[k] - k * polynomial[k - 1]) / (k + 1))
        slope.append(slope[k - 1] + (2 * k + 1) * polynomial[k])
    plain, rises = np.array(polynomial[: count - 1]), np.array(slope[: count - 1])
    value = np.vstack((np.ones_like(x), at * plain))
    return value, np.vstack((np.zeros_like(x), plain + 2.0 * at * rises))


def moved(part: int, across: float | Array, at: float | Array) -> Array:
    """How far points move across or up in each mode (points, COUNT); `across` from the middle, over half the width."""
    across, at = np.broadcast_arrays(np.atleast_1d(across).astype(float), np.atleast_1d(at).astype(float))
    value, _ = modes(SIDE, at)
    out = np.zeros((len(at), COUNT))
    for start, (which, power, count) in zip(STARTS, BLOCKS, strict=True):
        if which == part:
            out[:, start : start + count] = (across**power * value[:count]).T
    return out


def _means() -> Array:
    at, weights = gauss(SIDE)
    return np.asarray(weights @ moved(0, 1.0, at))


#: Mean way of each mode across the side, and how far it lifts the top of the side from its foot.
MEANS, TALLER = _means(), (moved(1, 1.0, 1.0) - moved(1, 1.0, 0.0))[0]
#: The mode that lifts every point by its height.
GROWS_UP = STARTS[2] + 1
