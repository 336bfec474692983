"""What the tiles of many studios say of a class of glass: a hierarchical model on a grid, summed exactly.

A class has a mean expansion and a spread between jars; a jar lies at N(mean, spread); a studio's tiles craze at a
tension that is shifted by a number of its own, N(0, `Prior.shift_pa`), since eyes, coats and kilns differ. What the
tiles of one jar share (strength, set point, stiffness, yield) is averaged out within the jar before it comes here
(`jar_chances`). Two shares keep bad rows from ruling: a jar may be of another glass than its label says,
anywhere on the grid, and a studio may be careless, its outcomes telling nothing. How many jars are of another glass is
learnt with the rest, for a share that is set takes, of many jars, the outermost for strays and makes the spread too
small. All is finite sums on grids, so
there is no sampler and no chance: the same tiles give the same answer. (Gelman and others, Bayesian Data Analysis, 3rd
edition, 2013, chapter 5, for the model; mixtures against outliers: Box and Tiao, Biometrika 55 (1968) 119.)

The grids of mean, spread and share are laid anew where the weight lies, until their steps are fine against it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.science.inference.jar_chances import Single
from refdb.science.normal import NORMAL_END
from refdb.science.plate.layers import Array
from refdb.science.sampling import band_of_density

#: Whole numbers.
Whole = npt.NDArray[np.intp]
#: Means, spreads and shares of stray jars.
Nodes = tuple[Array, Array, Array]

#: Nodes of the mean, of the spread, of the share of stray jars and of a studio's shift.
_MEANS, _SPREADS, _SHARES, _SHIFTS = 45, 20, 7, 7
#: No greater share of stray jars is looked at.
_MOST_STRAYS = 0.3
#: The grids are laid anew at most so often.
_PASSES = 5
#: A grid is laid anew while a step is wider than this part of the standard deviation, and so much weight may be cut off
#: at either end then. Of the share nothing is told but its mean over the grid, for which few nodes do.
_FINE, _CUT = 0.5, 1e-7
_FINE_SHARE, _CUT_SHARE = 1.3, 1e-4
#: So many jars are summed at a time, which bounds the memory.
_CHUNK = 256


@dataclass(frozen=True)
class Prior:
    """What is believed before: of a class's mean, of the spread between jars, of studios, and of bad rows.

    `grid` (n,) holds rising expansions, `mean` (n,) weights of the class's mean on it. `spread` is the scale of the
    half-normal belief in the standard deviation between jars, of which `least_spread` to `most_spread` is looked at,
    in the unit of the grid. `stray_jars` is the mean of the belief in their share, a beta distribution whose first
    parameter is 2, so that neither none nor many are likely; the share of careless studios is set. All of these are our
    judgement.
    """

    grid: Array
    mean: Array
    spread: float = 1.0e-6
    least_spread: float = 0.02e-6
    most_spread: float = 3.0e-6
    shift_pa: float = 3.0e6
    stray_jars: float = 0.03
    careless_studios: float = 0.05

    @property
    def strays(self) -> Array:
        """Shares of stray jars that are looked at first, close together near nought."""
        return _MOST_STRAYS * np.linspace(0, 1, _SHARES) ** 2 if self.stray_jars else np.zeros(1)

    @property
    def shifts(self) -> tuple[Array, Array]:
        """Nodes [Pa] and weights of a studio's shift (Gauss-Hermite)."""
        if self.shift_pa == 0:
            return np.zeros(1), np.ones(1)
        nodes, weights = np.polynomial.hermite_e.hermegauss(_SHIFTS)
        return np.asarray(nodes * self.shift_pa), np.asarray(weights / weights.sum())


@dataclass(frozen=True)
class Pooled:
    """The posterior of one class.

    `joint` (means, spreads) sums to 1 over `means` (m,) and `spreads` (t,), and `share` (k,) over the shares of stray
    jars `strays` (k,). `new_jar` (n,) is the predictive weight of
    the next jar on `prior.grid`. By studio, in order of its number: `shift_pa` (s, 3) median and ends of its shift,
    `careless` (s,) the chance that it tells nothing; by jar `stray` (j,), the chance that it is of another glass.
    """

    prior: Prior
    means: Array
    spreads: Array
    joint: Array
    new_jar: Array
    shift_pa: Array
    careless: Array
    stray: Array
    strays: Array
    share: Array

    @property
    def mean(self) -> tuple[float, float, float]:
        """Median, 5 % and 95 % of the class's mean."""
        return band_of_density(self.means, self.densities[0])

    @property
    def spread(self) -> tuple[float, float, float]:
        """Median, 5 % and 95 % of the standard deviation between jars."""
        return band_of_density(self.spreads, self.densities[1])

    @property
    def jar(self) -> tuple[float, float, float]:
        """Median, 5 % and 95 % of the next jar of the class."""
        return band_of_density(self.prior.grid, self.new_jar)

    @property
    def densities(self) -> tuple[Array, Array]:
        """Density of the class's mean at `means`, and of the spread at `spreads` [1 / their unit]."""
        return self.joint.sum(axis=1) / _widths(self.means), self.joint.sum(axis=0) / _widths(self.spreads)

    @property
    def mean_deviation(self) -> float:
        """Standard deviation of the class's mean."""
        return _deviation(self.means, self.joint.sum(axis=1))


def prior_only(prior: Prior) -> Pooled:
    """The belief before as a posterior of no jar."""
    nodes = len(prior.shifts[0])
    return pool(prior, np.zeros((0, nodes, len(prior.grid))), np.zeros(0, dtype=int), np.zeros(0))


def pool(prior: Prior, logs: Array | Single, studio: Whole, careless: Array) -> Pooled:
    """Return the posterior of a class.

    Parameters
    ----------
    prior : Prior
    logs : array (jars, shifts, n)
        Logarithm of the chance of what was seen of each jar, at each of `prior.shifts` and each value of the grid.
    studio : array of int (jars,)
        Number of each jar's studio, 0 to s − 1.
    careless : array (s,)
        Logarithm of the chance of all that a studio saw if its outcomes tell nothing.

    Raises
    ------
    BadInput
        Shapes differ, a number is not finite, the grid does not rise, or the prior has no weight.
    """
    _checked(prior, logs, studio, careless)
    order = np.argsort(studio, kind="stable")
    jars = _Jars.of(
        prior, np.asarray(logs, dtype=np.float64)[order], np.asarray(studio)[order], np.asarray(careless, dtype=float)
    )
    cumulative = np.cumsum(prior.mean) / np.sum(prior.mean)
    low, high = np.interp((1e-5, 1 - 1e-5), cumulative, prior.grid)
    means = np.linspace(low, high, _MEANS)
    nodes = means, np.geomspace(prior.least_spread, prior.most_spread, _SPREADS), prior.strays
    for turn in range(_PASSES):
        joint = _joint(prior, nodes, jars.log_chance(nodes))
        fine = (_FINE, _CUT), (_FINE, _CUT), (_FINE_SHARE, _CUT_SHARE)
        laid = tuple(_laid_anew(nodes[k], _margin(joint, k), *fine[k]) for k in range(3))
        if turn == _PASSES - 1 or all(a is b for a, b in zip(laid, nodes, strict=True)):
            break
        nodes = laid[0], laid[1], laid[2]
    shift, bad, stray = jars.told(nodes, joint)
    both = joint.sum(axis=0)
    return Pooled(
        prior,
        nodes[0],
        nodes[1],
        both,
        _kernel(prior.grid, nodes[0], nodes[1]) @ both.ravel(),
        shift,
        bad,
        stray[np.argsort(order, kind="stable")],
        nodes[2],
        _margin(joint, 2),
    )


def moved_by(pooled: Pooled, alone: Pooled) -> float:
    """Return where the mean of `pooled` lies in the belief of `alone`: 0.5 at its middle, near 0 or 1 far outside."""
    weights = alone.joint.sum(axis=1)
    return float(np.interp(pooled.mean[0], alone.means, np.cumsum(weights) - weights / 2))


def at_jars(prior: Prior, chances: Mapping[str, Single]) -> tuple[Array, Array]:
    """Return mean chance of each outcome of a build at each expansion, (3, n), and the mean of its square over what is
    shared by tiles of a jar, (3, n), from `log_chances`."""
    weights = prior.shifts[1][None, :, None]
    each = [np.exp(logs.astype(float)) for logs in chances.values()]
    return (
        np.stack([(p * weights).sum(axis=1).mean(axis=0) for p in each]),
        np.stack([(p**2 * weights).sum(axis=1).mean(axis=0) for p in each]),
    )


def expected_gain(pooled: Pooled, at_each: Array) -> float:
    """Return what one tile of a build, of a new jar, is expected to tell of the class's mean and spread [bit].

    The mutual information of its outcome with both (Lindley, Ann. Math. Stat. 27 (1956) 986). `at_each` (3, n) is the
    chance of each outcome at each expansion, as `at_jars` gives it.
    """
    kernel = _kernel(pooled.prior.grid, pooled.means, pooled.spreads)
    chance = np.clip(at_each @ kernel, 1e-12, 1.0)
    alone = chance @ pooled.joint.ravel()
    return float(-(alone * np.log2(alone)).sum() + (chance * np.log2(chance)).sum(axis=0) @ pooled.joint.ravel())


@dataclass(frozen=True)
class _Jars:
    """Jars in order of their studio, their chances scaled to 1 at most."""

    prior: Prior
    chances: Single
    starts: Whole
    careless: Array

    @classmethod
    def of(cls, prior: Prior, logs: Array | Single, studio: Whole, careless: Array) -> _Jars:
        most = logs.max(axis=(1, 2), keepdims=True) if len(logs) else np.zeros((0, 1, 1))
        scaled = np.exp(logs - most).astype(np.float32)
        gone = np.zeros(len(careless))
        np.add.at(gone, studio, most[:, 0, 0])
        return cls(prior, scaled, np.searchsorted(studio, np.arange(len(careless) + 1)), careless - gone)

    def _chunks(self) -> list[tuple[int, int]]:
        """Studios from and to, of about `_CHUNK` jars each."""
        found, first = [], 0
        for s in range(len(self.careless)):
            if self.starts[s + 1] - self.starts[first] >= _CHUNK or s == len(self.careless) - 1:
                found.append((first, s + 1))
                first = s + 1
        return found

    def _studios(self, first: int, last: int, kernel: Single) -> tuple[Single, Single]:
        """Of some studios the chance of each jar (j, shifts, m·t), and of each if it is stray (j, shifts, 1)."""
        part = self.chances[self.starts[first] : self.starts[last]]
        rows = part.reshape(-1, part.shape[2])
        stray = rows.mean(axis=1).reshape(*part.shape[:2], 1)
        return (rows @ kernel).reshape(*part.shape[:2], kernel.shape[1]), stray

    def _mixed(self, sound: Single, stray: Single, share: float) -> Single:
        return np.asarray(np.maximum((1 - np.float32(share)) * sound + np.float32(share) * stray, 1e-30), np.float32)

    def _at_shifts(self, jar: Single, first: int, last: int) -> Array:
        """Log chance of all jars of each studio at each shift (s, shifts, m·t), if it is not careless."""
        at = self.starts[first:last] - self.starts[first]
        each = np.add.reduceat(np.log(jar), at, axis=0).astype(float)
        return np.asarray(each + np.log(self.prior.shifts[1])[None, :, None])

    def _whole(self, each: Array, first: int, last: int) -> Array:
        """Log chance of all that each studio saw (s, m·t)."""
        honest, share = _log_sum(each, 1), self.prior.careless_studios
        if share == 0:
            return honest
        return np.logaddexp(math.log(1 - share) + honest, math.log(share) + self.careless[first:last, None])

    def log_chance(self, nodes: Nodes) -> Array:
        """Log chance of all that was seen, (shares, means, spreads)."""
        kernel = _kernel(self.prior.grid, nodes[0], nodes[1]).astype(np.float32)
        found = np.zeros((len(nodes[2]), kernel.shape[1]))
        for first, last in self._chunks():
            sound, stray = self._studios(first, last, kernel)
            for k, share in enumerate(nodes[2].tolist()):
                each = self._at_shifts(self._mixed(sound, stray, share), first, last)
                found[k] += self._whole(each, first, last).sum(axis=0)
        return found.reshape(len(nodes[2]), len(nodes[0]), len(nodes[1]))

    def told(self, nodes: Nodes, joint: Array) -> tuple[Array, Array, Array]:
        """Shift of each studio (s, 3), the chance that it is careless (s,), and that a jar is stray (j,)."""
        kernel = _kernel(self.prior.grid, nodes[0], nodes[1]).astype(np.float32)
        points, weights = self.prior.shifts
        count = len(self.careless)
        at_shift, strays = np.zeros((count, len(points))), np.zeros(len(self.chances))
        for first, last in self._chunks():
            sound, stray = self._studios(first, last, kernel)
            a, b = self.starts[first], self.starts[last]
            owner = np.repeat(np.arange(last - first), np.diff(self.starts[first : last + 1]))
            for k, share in enumerate(nodes[2].tolist()):
                jar = self._mixed(sound, stray, share)
                each = self._at_shifts(jar, first, last)
                whole = self._whole(each, first, last)
                of = np.exp(each - whole[:, None, :]) * (1 - self.prior.careless_studios) * joint[k].ravel()
                at_shift[first:last] += of.sum(axis=2)
                for n in range(b - a) if share else ():
                    strays[a + n] += (of[owner[n]] * (share * stray[n] / jar[n])).sum()
        shifts = [_of_nodes(points, p if p.sum() > 1e-12 else weights) for p in at_shift]
        bad = np.clip(1 - at_shift.sum(axis=1), 0, 1)
        return np.array(shifts).reshape(count, 3), bad, np.clip(strays, 0, 1)


def _of_nodes(nodes: Array, weights: Array) -> tuple[float, float, float]:
    """Median and ends of a distribution known at a few nodes: a normal one with its mean and variance."""
    weights = weights / weights.sum()
    middle = float(weights @ nodes)
    apart = NORMAL_END * math.sqrt(max(float(weights @ (nodes - middle) ** 2), 0.0))
    return middle, middle - apart, middle + apart


def _checked(prior: Prior, logs: Array | Single, studio: Whole, careless: Array) -> None:
    grid = np.asarray(prior.grid, dtype=float)
    if grid.ndim != 1 or len(grid) < 3 or not (np.isfinite(grid).all() and (np.diff(grid) > 0).all()):
        raise BadInput("a grid needs at least three finite values that rise", "grid")
    mean = np.asarray(prior.mean)
    if mean.shape != grid.shape or not (np.isfinite(mean).all() and (mean >= 0).all() and mean.sum() > 0):
        raise BadInput("a prior needs one weight for each value, none below zero", "prior")
    if np.ndim(logs) != 3 or np.shape(logs)[1:] != (len(prior.shifts[0]), len(grid)) or np.isnan(logs).any():
        raise BadInput("a jar needs one number for each shift and each value of the grid", "jars")
    if np.shape(studio) != np.shape(logs)[:1] or np.shape(careless) != (len(np.unique(studio)),):
        raise BadInput("each jar needs a studio, and each studio a jar", "studios")


def _kernel(grid: Array, means: Array, spreads: Array) -> Array:
    """Weights of jars on the grid (n, means·spreads), each column summing to 1.

    A spread below half a step of the grid counts as that, or a mean between two values would be taken for the nearer.
    """
    apart = grid[:, None, None] - means[None, :, None]
    wide = np.maximum(spreads, np.diff(grid).min() / 2)
    logs = (-0.5 * (apart / wide) ** 2).reshape(len(grid), -1)
    weights = np.exp(logs - logs.max(axis=0))
    return np.asarray(weights / weights.sum(axis=0), dtype=np.float64)


def _joint(prior: Prior, nodes: Nodes, logs: Array) -> Array:
    """Posterior weights on shares of strays, means and spreads, summing to 1."""
    means, spreads, strays = nodes
    density = np.interp(means, prior.grid, prior.mean) * _widths(means)
    wide = np.exp(-0.5 * (spreads / prior.spread) ** 2) * _widths(spreads)
    few = _widths(strays) * strays * (1 - strays) ** (2 / prior.stray_jars - 3) if len(strays) > 1 else np.ones(1)
    with np.errstate(divide="ignore"):
        whole = np.log(few)[:, None, None] + np.log(density)[:, None] + np.log(wide) + logs
    weights = np.exp(whole - whole.max())
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _margin(joint: Array, axis: int) -> Array:
    """Weights of means, spreads or shares, by their place among the nodes."""
    return np.asarray(joint.sum(axis=((0, 2), (0, 1), (1, 2))[axis]), dtype=np.float64)


def _laid_anew(nodes: Array, weights: Array, fine: float, cut: float) -> Array:
    """The nodes, or as many evenly over where the weight lies, while steps are wide against its width."""
    if len(nodes) == 1 or np.diff(nodes).max() <= fine * max(_deviation(nodes, weights), 1e-30):
        return nodes
    below = np.cumsum(weights)
    first = max(int(np.searchsorted(below, cut)) - 1, 0)
    last = min(int(np.searchsorted(below, 1 - cut)) + 1, len(nodes) - 1)
    if first == 0 and last == len(nodes) - 1 and np.ptp(np.diff(nodes)) < 1e-9 * nodes[-1]:
        return nodes
    return np.linspace(nodes[first], nodes[last], len(nodes))


def _widths(nodes: Array) -> Array:
    """Width that each node stands for, by the trapezoid rule."""
    widths = np.asarray(np.gradient(nodes), dtype=np.float64)
    widths[[0, -1]] /= 2
    return widths


def _deviation(nodes: Array, weights: Array) -> float:
    middle = float(weights @ nodes)
    return math.sqrt(max(float(weights @ (nodes - middle) ** 2), 0.0))


def _log_sum(logs: Array, axis: int) -> Array:
    most = logs.max(axis=axis, keepdims=True)
    return np.asarray(np.log(np.exp(logs - most).sum(axis=axis)) + most.squeeze(axis), dtype=np.float64)
