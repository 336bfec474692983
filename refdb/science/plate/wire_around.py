"""How glass beside a wire and what lies beneath them give way, in plane strain along the wire.

The wire's height is one, lengths are told against it and moduli against Young's modulus of the glass.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from refdb.frozen import dataclass
from refdb.science.plate.layers import Array
from refdb.science.plate.wire_modes import gauss, moved

#: Degree of the elements, and their nodes, those of Gauss and Lobatto.
_DEGREE = 3
_NODES = np.array([0.0, (1.0 - 5.0**-0.5) / 2.0, (1.0 + 5.0**-0.5) / 2.0, 1.0])
#: Ends of elements over the height of the glass, of those of a layer beneath from its top, and of those under a wire.
_FILM, _LAYER, _UNDER = np.array([0.0, 0.06, 0.25, 0.7, 1.0]), np.array([0.0, 0.3, 1.0]), np.array([0.0, 0.6, 1.0])
#: Columns of elements beside a wire, and the width of the first.
_COLUMNS, _FIRST = 6, 0.08
#: From a wire that stands alone to where nothing of it is left: so many heights, and depths of what lies beneath.
_FADES, _FADES_DEPTHS = 4.0, 2.0
#: Metal that flows more is taken to flow so much.
_MOST_FLOWS = 0.97
#: Poisson's ratios between which the glass of a batch is interpolated lie no nearer than this.
_LEAST_SPREAD = 0.01


@dataclass(frozen=True)
class Stratum:
    """A layer that lies beneath a wire.

    `hardens_pa` is the rise of the flow stress of metal that flows as the glass shrinks [Pa]; None of what never does.
    """

    thickness_m: float
    youngs_modulus_pa: float
    poisson_ratio: float
    hardens_pa: float | None = None


class _Moduli(NamedTuple):
    """Of a layer, over Young's modulus of the glass: across, up, between the two, and in shear."""

    across: float
    up: float
    mixed: float
    shear: float


def _moduli(young: float, poisson: float, hardens: float | None = None, flows: float = 0.0) -> _Moduli:
    """Elastic; or of metal that hardens and flows as it is stretched in its plane, `flows` the plastic share of that.

    What a wire does to the base grows as the glass stretches it. So von Mises' flow comes to Hencky's deformation:
    the secant stiffness against what changes the shape otherwise than the flow does, and along the flow the tangent in
    the share that flows, in the other share the secant too.
    """
    elastic = young / (2.0 * (1.0 + poisson))
    bulk = young / (3.0 * (1.0 - 2.0 * poisson))
    shear, less = elastic, 0.0
    if hardens is not None and flows > 0.0:
        flows = min(flows, _MOST_FLOWS)
        shear = elastic / (1.0 + 3.0 * (1.0 - poisson) / (1.0 + poisson) * flows / (1.0 - flows))
        tangent = elastic * hardens / (3.0 * elastic + hardens)
        less = flows * (shear - tangent) / 3.0
    own, mixed = bulk + 4.0 * shear / 3.0, bulk - 2.0 * shear / 3.0
    return _Moduli(own - less, own - 4.0 * less, mixed + 2.0 * less, shear)


def _in_element() -> tuple[Array, Array, Array]:
    """Integrals over one element of its functions by each other, slope by function, and slope by slope."""
    at, weights = gauss(_DEGREE + 1)
    factors = np.linalg.inv(np.vander(_NODES, increasing=True))
    value = np.vander(at, _DEGREE + 1, increasing=True) @ factors
    powers = np.arange(1, _DEGREE + 1)
    slope = (powers * np.vander(at, _DEGREE, increasing=True)) @ factors[1:]
    by_weight = value.T * weights, slope.T * weights
    return by_weight[0] @ value, by_weight[1] @ value, by_weight[1] @ slope


_MASS, _MIXED, _STIFF = _in_element()


def _nodes(ends: Array) -> Array:
    """Places of all nodes of elements with these ends."""
    inner = ends[:-1, None] + np.diff(ends)[:, None] * _NODES[1:]
    return np.concatenate((ends[:1], inner.ravel()))


class _Section:
    """A cut through layers: energy q′Aq′/2 + q′Bq + qCq/2 for the movement q of its nodes, across first, then up."""

    def __init__(self, ends: Array, layers: Sequence[_Moduli]) -> None:
        self.count = _DEGREE * len(layers) + 1
        n = self.count
        self.a, self.b, self.c = np.zeros((3, 2 * n, 2 * n))
        for k, (of, high) in enumerate(zip(layers, np.diff(ends), strict=True)):
            at = np.arange(_DEGREE * k, _DEGREE * (k + 1) + 1)
            x, y = np.ix_(at, at), np.ix_(n + at, n + at)
            self.a[x] += of.across * high * _MASS
            self.a[y] += of.shear * high * _MASS
            self.b[np.ix_(at, n + at)] += of.mixed * _MIXED.T
            self.b[np.ix_(n + at, at)] += of.shear * _MIXED.T
            self.c[x] += of.shear / high * _STIFF
            self.c[y] += of.up / high * _STIFF

    def column(self, wide: float) -> Array:
        """Stiffness of a column of elements; its lines of nodes one after the other."""
        both = np.kron(_MIXED, self.b)
        whole: Array = np.kron(_STIFF / wide, self.a) + np.kron(_MASS * wide, self.c) + both + both.T
        return whole


def _condensed(matrix: Array, kept: npt.NDArray[np.intp], gone: npt.NDArray[np.intp]) -> tuple[Array, Array]:
    """Stiffness of what is kept, and how the rest follows it."""
    follows = np.asarray(-np.linalg.solve(matrix[np.ix_(gone, gone)], matrix[np.ix_(gone, kept)]), dtype=np.float64)
    return matrix[np.ix_(kept, kept)] + matrix[np.ix_(kept, gone)] @ follows, follows


class _Around:
    """All that is not wire, for one ratio of Poisson of the glass."""

    def __init__(self, half: float, gap: float | None, poisson: float, layers: Sequence[tuple[float, _Moduli]]) -> None:
        """`layers` from the foot down, each with its thickness."""
        glass = _moduli(1.0, poisson)
        ends, of = list(_FILM), [glass] * (len(_FILM) - 1)
        for thick, moduli in layers:
            ends = [*(ends[0] - thick * _LAYER[:0:-1]), *ends]
            of = [*[moduli] * (len(_LAYER) - 1), *of]
        self.half, self.ends, self.beneath = half, np.array(ends), len(layers) * (len(_LAYER) - 1)
        self.of, self.section = of, _Section(self.ends, of)
        self.foot = _DEGREE * self.beneath
        if gap is None:
            gap = _FADES - _FADES_DEPTHS * ends[0]
        growth = max(1.0, float(np.log(_FIRST / gap) / np.log(1.0 / _COLUMNS)))
        self.wide = np.diff(gap * np.linspace(0.0, 1.0, _COLUMNS + 1) ** growth)
        self.held = [] if layers else [0, self.section.count]

    def at_side(self) -> tuple[Array, Array]:
        """Stiffness of the line of nodes at the side, down to the underside, and the mean stress across the glass."""
        n, lines = self.section.count, _DEGREE + 1
        line = 2 * n
        free = np.setdiff1d(np.arange(line), self.held)
        # At the mirror nothing moves across, and a base that bends is held up.
        far = np.setdiff1d(free, [*range(n), n])
        stiffness, follows = np.zeros((line, line)), np.zeros((0, 0))
        for k in reversed(range(_COLUMNS)):
            column = self.section.column(self.wide[k])
            column[-line:, -line:] += stiffness
            inner = np.concatenate([j * line + free for j in range(1, lines - 1)])
            last = (lines - 1) * line + (far if k == _COLUMNS - 1 else free)
            gone = np.concatenate((inner, last))
            stiffness = np.zeros((line, line))
            stiffness[np.ix_(free, free)], follows = _condensed(column, free, gone)
        # The pull of the first column of glass alone on the side, as the test of an even movement finds it.
        none = _Moduli(0.0, 0.0, 0.0, 0.0)
        alone = _Section(self.ends, [none] * self.beneath + list(self.of[self.beneath :])).column(self.wide[0])
        pull = -alone[self.foot : n].sum(axis=0)
        across = np.zeros(line)
        across[free] = pull[free] + pull[gone] @ follows
        return stiffness, across

    def in_modes(self) -> tuple[Array, Array]:
        """Forces of the wire's modes [E·height] for their movements (COUNT, COUNT), and the mean stress across [E]."""
        stiffness, across = self.at_side()
        n = self.section.count
        places = _nodes(self.ends)[self.foot :]
        moves = [moved(part, 1.0, places) for part in (0, 1)]
        on_side = np.concatenate((np.arange(self.foot, n), n + np.arange(self.foot, n)))
        if not self.beneath:
            moves_side = np.vstack(moves)
            return moves_side.T @ stiffness[np.ix_(on_side, on_side)] @ moves_side, across[on_side] @ moves_side
        below = _Section(self.ends[: self.beneath + 1], self.of[: self.beneath])
        m, under = below.count, self.half * _UNDER
        lines = _DEGREE * (len(_UNDER) - 1)
        side = lines * 2 * m
        whole = np.zeros((side + 2 * n, side + 2 * n))
        whole[side:, side:] = stiffness
        places_of = np.concatenate((np.arange(side), side + np.arange(m), side + n + np.arange(m)))
        for k, wide in enumerate(np.diff(under)):
            at = places_of[_DEGREE * k * 2 * m : (_DEGREE * (k + 1) + 1) * 2 * m]
            whole[np.ix_(at, at)] += below.column(wide)
        foot = np.arange(lines) * 2 * m + m - 1
        across_foot = _nodes(_UNDER)[:-1]
        moves_all = np.vstack((*moves, moved(0, across_foot, 0.0), moved(1, across_foot, 0.0)))
        kept = np.concatenate((side + on_side, foot, foot + m))
        gone = np.setdiff1d(np.arange(len(whole)), np.concatenate((kept, np.arange(m))))
        stiffness, follows = _condensed(whole, kept, gone)
        pull = np.concatenate((np.zeros(side), across))
        return moves_all.T @ stiffness @ moves_all, (pull[kept] + pull[gone] @ follows) @ moves_all


def around(
    poisson: Array, half: float, gap: float | None, beneath: Sequence[tuple[float, _Moduli]] = ()
) -> tuple[Array, Array]:
    """Return what glass and base do to a wire that moves.

    Parameters
    ----------
    poisson : array (n,)
        Poisson's ratio of the glass.
    half : float
        Half the wire's width over its height.
    gap : float, optional
        From the wire's side to the middle between it and the next, over the height; None for a wire alone.
    beneath : sequence
        Thickness over the height, and moduli, of each layer from the foot down; without any the foot stands unyielding.

    Returns
    -------
    stiffness : array (n, COUNT, COUNT)
        Forces of the wire's modes on what is around it [E·height] for their movements [height].
    across : array (n, COUNT)
        Mean stress across the side [E] for the same.

    Notes
    -----
    Plane strain, elements of the third degree. The underside is free, so that the base bends between two wires.
    """
    low, high = float(poisson.min()), float(poisson.max())
    middle, spread = (low + high) / 2.0, max((high - low) / 2.0, _LEAST_SPREAD)
    at = [middle - spread, middle, middle + spread] if high > low else [middle]
    stiffness, across = (
        np.array(values) for values in zip(*(_Around(half, gap, p, beneath).in_modes() for p in at), strict=True)
    )
    # Lagrange's parabola through the three.
    x = (poisson - middle) / spread
    weights = np.stack((x * (x - 1.0) / 2.0, 1.0 - x**2, x * (x + 1.0) / 2.0), axis=-1)
    weights = weights if high > low else np.ones((len(poisson), 1))
    return np.tensordot(weights, stiffness, 1), weights @ across


def layers_beneath(
    strata: Sequence[Stratum], height_m: float, glass_pa: float, *, flows: float
) -> list[tuple[float, _Moduli]]:
    """Strata over a wire's height and Young's modulus of its glass [Pa]; metal as it flows by the share `flows`."""
    return [
        (
            one.thickness_m / height_m,
            _moduli(
                one.youngs_modulus_pa / glass_pa,
                one.poisson_ratio,
                one.hardens_pa / glass_pa if one.hardens_pa is not None else None,
                flows,
            ),
        )
        for one in strata
    ]
