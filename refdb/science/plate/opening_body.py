"""Bodies round an axis: how they move and strain, in elements over the radius and powers of the height.

Lengths are told against the radius of the opening. The upper half is reckoned with, the lower half is its mirror.
Strain and stress are told along the radius, up, around, and in shear.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np

from refdb.science.plate.layers import Array
from refdb.science.plate.radial_return import APART, EVEN, Metal, Returned
from refdb.science.plate.wire_modes import gauss

#: Powers of the height in which the radius moves, and in which the height does: odd ones, so that the middle stays.
_OUTWARD, _UP = np.array([0, 2]), np.array([1, 3])
#: How a node moves: outward first, then up.
MODES = len(_OUTWARD) + len(_UP)
_POWERS = np.concatenate([_OUTWARD, _UP])
_ROUND, _TALL = 2, 4
#: The first element at the seam of metal and glass, in half thicknesses, and how much elements may grow.
_FIRST, _MOST_GROWTH = 0.25, 3.0


def spaced(width: float, elements: int, half: float) -> Array:
    """Ends of elements over a width, narrow at the start, where the stress changes over parts of `half` a thickness."""
    first = min(width / elements, _FIRST * half)
    growth = np.clip(np.log(first / width) / np.log(1.0 / elements), 1.0, _MOST_GROWTH)
    return np.asarray(width * np.linspace(0.0, 1.0, elements + 1) ** growth)


def at_height(share: Array) -> Array:
    """The modes of a node told against another half thickness, `share` of the first; (n, MODES)."""
    return np.asarray(share[:, None] ** _POWERS)


class Body:
    """Elements of one batch of bodies, each of them half so thick as `half` (n,) tells; three nodes an element."""

    def __init__(self, ends: Array, half: Array) -> None:
        (x, x_weights), (z, z_weights) = gauss(_ROUND), gauss(_TALL)
        elements, wide = len(ends) - 1, np.diff(ends)
        value = np.array([2.0 * (x - 0.5) * (x - 1.0), 4.0 * x * (1.0 - x), 2.0 * x * (x - 0.5)])
        slope = np.array([4.0 * x - 3.0, 4.0 - 8.0 * x, 4.0 * x - 1.0]) / wide[:, None, None]
        radius = ends[:-1, None] + wide[:, None] * x
        by_r, by_z = np.zeros((2, elements, _ROUND, _TALL, 4, 3, MODES))
        out, up = slice(len(_OUTWARD)), slice(len(_OUTWARD), None)
        by_r[..., 0, :, out] = np.einsum("eix,za->exzia", slope, z[:, None] ** _OUTWARD)
        by_r[..., 2, :, out] = np.einsum("ix,ex,za->exzia", value, 1.0 / radius, z[:, None] ** _OUTWARD)
        by_r[..., 3, :, up] = np.einsum("eix,za->exzia", slope, z[:, None] ** _UP)
        by_z[..., 1, :, up] = np.einsum("ix,za->xzia", value, _UP * z[:, None] ** (_UP - 1))
        by_z[..., 3, :, out] = np.einsum("ix,za->xzia", value, _OUTWARD * z[:, None] ** np.maximum(_OUTWARD - 1, 0))
        by_r, by_z = (b.reshape(elements, _ROUND * _TALL, 4, 3 * MODES) for b in (by_r, by_z))
        #: Strain at the points of each element by the movement of its nodes; (n, elements, points, 4, 3·MODES).
        self.shape = by_r + by_z / half[:, None, None, None, None]
        weights = (radius * wide[:, None])[:, :, None] * x_weights[:, None] * z_weights
        self.weights = weights.reshape(elements, -1) * half[:, None, None]
        self.radius = np.repeat(radius, _TALL, axis=1)
        self.count = (2 * elements + 1) * MODES
        self._parts = [slice(2 * e * MODES, (2 * e + 3) * MODES) for e in range(elements)]
        places = np.empty(2 * elements + 1)
        places[::2], places[1::2] = ends, (ends[1:] + ends[:-1]) / 2.0
        #: How the body moves when every strain is one; (n, count).
        grown = np.zeros((len(half), len(places), MODES))
        grown[..., 0], grown[..., len(_OUTWARD)] = places, half[:, None]
        self.grown = grown.reshape(len(half), -1)

    def rows(self, part: Any) -> Body:
        """Those of a part of the batch."""
        one = copy.copy(self)
        one.shape, one.weights = self.shape[part], self.weights[part]
        return one

    def strain(self, moved: Array, free: Array) -> Array:
        """Strain beyond the free one (n,) at all points; (n, elements·points, 4)."""
        nodes = np.stack([moved[:, part] for part in self._parts], axis=1)
        found = np.einsum("neqik,nek->neqi", self.shape, nodes)
        return np.asarray(found.reshape(len(moved), -1, 4) - free[:, None, None] * EVEN)

    def forces(self, stress: Array) -> Array:
        """Forces of the modes (n, count) of a stress (n, elements·points, 4)."""
        weighed = stress.reshape(*self.weights.shape, 4) * self.weights[..., None]
        each = np.einsum("neqik,neqi->nek", self.shape, weighed)
        out = np.zeros((len(each), self.count))
        for e, part in enumerate(self._parts):
            out[:, part] += each[:, e]
        return out

    def stiffness(self, slope: Array) -> Array:
        """The same of a slope of stress with strain (n, elements·points, 4, 4): (n, count, count)."""
        weighed = slope.reshape(*self.weights.shape, 4, 4) * self.weights[..., None, None]
        # The sum over points and directions as one product of matrices.
        n, elements, points, _, modes = self.shape.shape
        left = self.shape.reshape(n, elements, points * 4, modes)
        each = left.transpose(0, 1, 3, 2) @ (weighed @ self.shape).reshape(n, elements, points * 4, modes)
        out = np.zeros((n, self.count, self.count))
        for e, part in enumerate(self._parts):
            out[:, part, part] += each[:, e]
        return out


def disc(body: Body, young: Array, poisson: Array) -> tuple[Array, Array]:
    """Return what a solid disc of radius one does at its edge, and feels within, when the edge moves.

    Parameters
    ----------
    body : Body
        From the axis to the edge.
    young, poisson : array (n,)
        Elastic constants [Pa], [-].

    Returns
    -------
    stiffness : array (n, MODES, MODES)
        Forces of the edge's modes [Pa] for its movement.
    within : array (n, MODES)
        Mean stress in the plane, over the thickness and the inner half of the radius [Pa], for the same.
    """
    n, points = len(young), body.weights[0].size
    glass = Metal(young / (2.0 * (1.0 + poisson)), young / (3.0 * (1.0 - 2.0 * poisson)), *np.zeros((2, n)))
    slope = np.broadcast_to(elastic(glass)[:, None], (n, points, 4, 4))
    whole = body.stiffness(slope)
    inner = np.arange(len(_OUTWARD), body.count - MODES)  # The axis does not move outward.
    follows = np.zeros((n, body.count, MODES))
    follows[:, -MODES:] = np.eye(MODES)
    follows[:, inner] = -np.linalg.solve(whole[:, inner[:, None], inner], whole[:, inner, -MODES:])
    share = np.where(body.radius < 0.5, body.weights, 0.0).reshape(n, -1)
    share /= share.sum(axis=1)[:, None]
    within = np.empty((n, MODES))
    for mode in range(MODES):
        stress = np.einsum("npij,npj->npi", slope, body.strain(follows[:, :, mode], np.zeros(n)))
        within[:, mode] = ((stress[:, :, 0] + stress[:, :, 2]) / 2.0 * share).sum(axis=1)
    return whole[:, -MODES:] @ follows, within


def elastic(metal: Metal) -> Array:
    """Slope of stress with strain of what does not yield (n, 4, 4) [Pa]."""
    apart = 2.0 * metal.shear_pa[:, None, None] * APART
    return np.asarray(apart + metal.bulk_pa[:, None, None] * np.outer(EVEN, EVEN))


def slope_of(metal: Metal, now: Returned) -> Array:
    """The same of what was returned (n, points, 4, 4) [Pa]."""
    keeps = 2.0 * metal.shear_pa[:, None] * now.keeps
    slope = keeps[..., None, None] * APART + (metal.bulk_pa[:, None, None] * np.outer(EVEN, EVEN))[:, None]
    flowing = now.factor * now.flows
    return np.asarray(slope + flowing[..., None, None] * now.normal[..., :, None] * now.normal[..., None, :])
