"""How glass that stands on a base gives way at the side of a wire: a strip that has no end, or ends at a mirror.

The wire's height is one, lengths and stiffness are told against it and against Young's modulus of the glass.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from refdb.science.plate.layers import Array

#: Modes over the height in which the side of a wire moves, and in which the glass beyond it does.
SIDE, _BEYOND = 8, 12
#: Poisson's ratios between which the glass of a batch is interpolated lie no nearer than this.
_LEAST_SPREAD = 0.01


def gauss(points: int) -> tuple[Array, Array]:
    """Points and weights of Gauss and Legendre between zero and one."""
    at, weights = np.polynomial.legendre.leggauss(points)
    return np.asarray((at + 1.0) / 2.0), np.asarray(weights / 2.0)


def modes(count: int, at: Array) -> tuple[Array, Array]:
    """Modes that are zero at the foot, y·P(2y−1) with Legendre's polynomials, and their slopes; (count, points)."""
    x = 2.0 * at - 1.0
    polynomial, slope = [np.ones_like(x), x], [np.zeros_like(x), np.ones_like(x)]
    for k in range(1, count - 1):
        polynomial.append(((2 * k + 1) * x * polynomial[k] - k * polynomial[k - 1]) / (k + 1))
        slope.append(slope[k - 1] + (2 * k + 1) * polynomial[k])
    plain = np.array(polynomial[:count])
    return at * plain, plain + 2.0 * at * np.array(slope[:count])


def side_of_glass(poisson: Array, gap: Array | None) -> tuple[Array, Array]:
    """Return what the glass does at the wire's side when that moves.

    Parameters
    ----------
    poisson : array (n,)
        Poisson's ratio of the glass.
    gap : array (n,), optional
        From the wire's side to the middle between it and the next, over the height; None for a wire alone.

    Returns
    -------
    stiffness : array (n, 2·SIDE, 2·SIDE)
        Forces of the modes, those across first, on the glass [E·height] for the movements of the modes [height].
    across : array (n, 2·SIDE)
        Mean stress across the side [E] for the same.

    Notes
    -----
    Plane strain. Over the height the glass moves in `modes`, away from the side as it will: ordinary differential
    equations in the way from the side (Kantorovich's method), solved by their exponentials.
    """
    if gap is not None:
        both = [_side(float(p), float(g)) for p, g in zip(poisson, gap, strict=True)]
        return np.array([k for k, _ in both]), np.array([a for _, a in both])
    middle = (poisson.min() + poisson.max()) / 2.0
    half = max((poisson.max() - poisson.min()) / 2.0, _LEAST_SPREAD)
    three = [_side(float(round(middle + x * half, 12)), None) for x in (-1.0, 0.0, 1.0)]
    # Lagrange's parabola through the three.
    x = (poisson - middle) / half
    weights = np.stack((x * (x - 1.0) / 2.0, 1.0 - x**2, x * (x + 1.0) / 2.0), axis=-1)
    stiffness, across = (np.array(values) for values in zip(*three, strict=True))
    return np.tensordot(weights, stiffness, 1), weights @ across


#: Mean of each mode over the height, and what it is at the top.
MEANS, TOPS = modes(SIDE, gauss(SIDE)[0])[0] @ gauss(SIDE)[1], np.ones(SIDE)


@cache
def _over_height() -> tuple[Array, Array, Array, Array, Array]:
    """Integrals of mode by mode, mode by slope, slope by slope and mode alone, and the modes at the top."""
    at, weights = gauss(_BEYOND + 1)
    value, slope = modes(_BEYOND, at)
    by_weight = value * weights
    return (
        by_weight @ value.T,
        by_weight @ slope.T,
        (slope * weights) @ slope.T,
        by_weight.sum(axis=1),
        np.ones(_BEYOND),
    )


def _side(poisson: float, gap: float | None) -> tuple[Array, Array]:
    """Stiffness and mean stress across of one strip; see `side_of_glass`."""
    mass, mixed, stiff, alone, top = _over_height()
    own = (1.0 - poisson) / ((1.0 + poisson) * (1.0 - 2.0 * poisson))
    other, shear = own * poisson / (1.0 - poisson), 0.5 / (1.0 + poisson)
    none, n = np.zeros_like(mass), 2 * _BEYOND
    # Energy: q′Aq′/2 + q′Bq + qCq/2, with q the amplitudes across and up.
    a = np.block([[own * mass, none], [none, shear * mass]])
    b = np.block([[none, other * mixed], [shear * mixed, none]])
    c = np.block([[shear * stiff, none], [none, own * stiff]])
    first_order = np.block([[np.zeros((n, n)), np.eye(n)], [np.linalg.solve(a, np.hstack((c, b.T - b)))]])
    rates, vectors = np.linalg.eig(first_order)
    fades = rates.real < 0
    moved, rate = vectors[:n, fades], rates[fades]
    if gap is None:
        slope = (moved * rate) @ np.linalg.inv(moved)
    else:
        back, grow = vectors[:n, ~fades], rates[~fades]
        far, near = np.exp(rate * gap), np.exp(-grow * gap)
        # At the mirror nothing moves across, and nothing shears.
        ends = np.hstack((moved * far, back))[:_BEYOND]
        shears = np.hstack(((a @ (moved * rate) + b @ moved) * far, a @ (back * grow) + b @ back))[_BEYOND:]
        share = np.linalg.solve(np.vstack((np.hstack((moved, back * near)), ends, shears)), np.eye(2 * n)[:, :n])
        slope = np.hstack((moved * rate, back * grow * near)) @ share
    force = (a @ slope + b).real
    mean = own * (alone @ slope.real[:_BEYOND])
    mean[_BEYOND:] += other * top
    kept = np.r_[:SIDE, _BEYOND : _BEYOND + SIDE]
    stiffness = -(force + force.T)[np.ix_(kept, kept)] / 2.0
    return stiffness, mean[kept]
