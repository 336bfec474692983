"""What the tiles of many studios say of a class of glass: a hierarchical model on a grid, summed exactly.

A class has a mean expansion and a spread between jars; a jar lies at N(mean, spread); a studio's tiles craze at a
tension that is shifted by a number of its own, N(0, `Prior.shift_pa`), since eyes, coats and kilns differ. What the
tiles of one jar share (strength, set point, stiffness, yield) is averaged out within the jar before it comes here
(`jar_log_likelihoods`). Two shares keep bad rows from ruling: a jar may be of another glass than its label says,
anywhere on the grid, and a studio may be careless, its outcomes telling nothing. All is finite sums on grids, so
there is no sampler and no chance: the same tiles give the same answer. (Gelman and others, Bayesian Data Analysis, 3rd
edition, 2013, chapter 5, for the model; mixtures against outliers: Box and Tiao, Biometrika 55 (1968) 119.)

The grids of mean and spread are laid anew where the weight lies, until their steps are fine against it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np
import numpy.typing as npt

from refdb.errors import BadInput
from refdb.frozen import dataclass, replace
from refdb.science.inference.tiles import Chances, FiredTile, fit_chances
from refdb.science.plate.layers import Array
from refdb.science.sampling import band_of_density

#: Whole numbers, and chances in single precision.
Whole = npt.NDArray[np.intp]
Single = npt.NDArray[np.float32]

#: Nodes of the mean, of the spread and of a studio's shift.
_MEANS, _SPREADS, _SHIFTS = 61, 20, 7
#: The grids are laid anew at most so often, and no more once a step is below this part of the standard deviation.
_PASSES, _FINE = 5, 0.4
#: Weight that may be cut off at either end when a grid is laid anew.
_CUT = 1e-7
#: So many jars are summed at a time, which bounds the memory.
_CHUNK = 256


@dataclass(frozen=True)
class Prior:
    """What is believed before: of a class's mean, of the spread between jars, of studios, and of bad rows.

    `grid` (n,) holds rising expansions, `mean` (n,) weights of the class's mean on it. `spread` is the scale of the
    half-normal belief in the standard deviation between jars, of which `least_spread` to `most_spread` is looked at,
    in the unit of the grid. The spread, the shift and the shares are our judgement.
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
    def shifts(self) -> tuple[Array, Array]:
        """Nodes [Pa] and weights of a studio's shift (Gauss-Hermite)."""
        if self.shift_pa == 0:
            return np.zeros(1), np.ones(1)
        nodes, weights = np.polynomial.hermite_e.hermegauss(_SHIFTS)
        return np.asarray(nodes * self.shift_pa), np.asarray(weights / weights.sum())


@dataclass(frozen=True)
class Pooled:
    """The posterior of one class.

    `joint` (means, spreads) sums to 1 over `means` (m,) and `spreads` (t,). `new_jar` (n,) is the predictive weight of
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
    by_studio: Array = field(repr=False)

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
    def light(self) -> Pooled:
        """The same without what each studio saw, which is large and of use to `without` alone."""
        return replace(self, by_studio=self.by_studio[:, :0])

    @property
    def mean_deviation(self) -> float:
        """Standard deviation of the class's mean."""
        return _deviation(self.means, self.joint.sum(axis=1))


def prior_only(prior: Prior) -> Pooled:
    """The belief before as a posterior of no jar."""
    nodes = len(prior.shifts[0])
    return pool(prior, np.zeros((0, nodes, len(prior.grid))), np.zeros(0, dtype=int), np.zeros(0))


def log_chances(
    tile: FiredTile, shifts_pa: Array, chances: Chances | None = None, kinds: Sequence[str] = ()
) -> dict[str, Single]:
    """Return the logarithm of the chance of each outcome of a build: (draws, shifts, n) each, in single precision.

    Parameters
    ----------
    tile : FiredTile
        What the plate foretells, (draws, n), and its strength (draws,).
    shifts_pa : array (s,)
        How much more tension a studio's tiles bear than the model says.
    kinds : sequence of str
        Outcomes that are wanted; all where empty.
    """
    strength = np.broadcast_to(np.asarray(tile.strength_pa, dtype=float), (len(np.atleast_2d(tile.tension_pa)),))
    parts: dict[str, list[Single]] = {}
    for shift in shifts_pa:
        found = fit_chances(FiredTile("", tile.tension_pa, tile.gap_ppm, strength + shift), chances)
        for kind in kinds or found:
            parts.setdefault(kind, []).append(np.log(found[kind]).astype(np.float32))
    return {kind: np.stack(each, axis=1) for kind, each in parts.items()}


def jar_log_likelihood(seen: Sequence[tuple[Single, int]]) -> Single:
    """Return the logarithm of the chance of all tiles of one jar, (shifts, n): multiplied within each shared draw,
    then averaged over the draws.

    Parameters
    ----------
    seen : sequence of (array (draws, shifts, n), int)
        Logarithm of the chance of an outcome of a build, as `log_chances` gives it, and how often it was seen: tiles
        alike in build and outcome are folded into one.
    """
    whole = seen[0][0] * np.float32(seen[0][1])
    for logs, count in seen[1:]:
        whole += logs * np.float32(count)
    most = whole.max(axis=0)
    whole -= most
    np.exp(whole, out=whole)
    return np.asarray(np.log(whole.mean(axis=0)) + most, dtype=np.float32)


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
    spreads = np.geomspace(prior.least_spread, prior.most_spread, _SPREADS)
    for turn in range(_PASSES):
        by_studio = jars.by_studio(means, spreads)
        joint = _joint(prior, means, spreads, by_studio.sum(axis=0))
        laid = _laid_anew(means, joint.sum(axis=1)), _laid_anew(spreads, joint.sum(axis=0))
        if turn == _PASSES - 1 or (laid[0] is means and laid[1] is spreads):
            break
        means, spreads = laid
    kernel = _kernel(prior.grid, means, spreads)
    shift, bad, stray = jars.told(means, spreads, joint, by_studio)
    back = np.argsort(order, kind="stable")
    return Pooled(
        prior,
        means,
        spreads,
        joint,
        kernel @ joint.ravel(),
        shift,
        bad,
        stray[back],
        by_studio.reshape(len(by_studio), joint.size),
    )


def without(pooled: Pooled, studios: Sequence[int]) -> Array:
    """Return the posterior (means, spreads) with some studios left out, on the grids of the whole."""
    rest = np.delete(np.arange(len(pooled.by_studio)), list(studios))
    return _joint(pooled.prior, pooled.means, pooled.spreads, pooled.by_studio[rest].sum(axis=0))


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

    def _studios(self, first: int, last: int, kernel: Single) -> tuple[Array, Single, Single]:
        """Of some studios: log chance at each shift (s, shifts, m·t), chance of each jar, and of each jar if stray."""
        prior = self.prior
        part = self.chances[self.starts[first] : self.starts[last]]
        rows = part.reshape(-1, part.shape[2])
        shape = (*part.shape[:2], kernel.shape[1])
        stray = prior.stray_jars * rows.mean(axis=1).reshape(part.shape[:2])
        jar = (1 - prior.stray_jars) * (rows @ kernel).reshape(shape) + stray[:, :, None]
        logs = np.log(np.maximum(jar, 1e-30))
        at = self.starts[first:last] - self.starts[first]
        each = np.add.reduceat(logs, at, axis=0).astype(float) + np.log(prior.shifts[1])[None, :, None]
        return each, jar, stray

    def by_studio(self, means: Array, spreads: Array) -> Array:
        """Log chance of all that each studio saw, (studios, means, spreads)."""
        kernel = _kernel(self.prior.grid, means, spreads).astype(np.float32)
        found = np.zeros((len(self.careless), kernel.shape[1]))
        for first, last in self._chunks():
            honest = _log_sum(self._studios(first, last, kernel)[0], 1)
            found[first:last] = self._mixed(honest, first, last)
        return found.reshape(len(self.careless), len(means), len(spreads))

    def _mixed(self, honest: Array, first: int, last: int) -> Array:
        share = self.prior.careless_studios
        if share == 0:
            return honest
        return np.logaddexp(math.log(1 - share) + honest, math.log(share) + self.careless[first:last, None])

    def told(self, means: Array, spreads: Array, joint: Array, by_studio: Array) -> tuple[Array, Array, Array]:
        """Shift of each studio (s, 3), the chance that it is careless (s,), and that a jar is stray (j,)."""
        kernel = _kernel(self.prior.grid, means, spreads).astype(np.float32)
        count = len(self.careless)
        shifts, bad, strays = np.zeros((count, 3)), np.zeros(count), np.zeros(len(self.chances))
        whole = by_studio.reshape(count, joint.size)
        nodes, weights = self.prior.shifts
        for first, last in self._chunks():
            each, jar, stray = self._studios(first, last, kernel)
            share = np.exp(each - whole[first:last, None, :]) * (1 - self.prior.careless_studios) * joint.ravel()
            at_shift = share.sum(axis=2)
            bad[first:last] = np.clip(1 - at_shift.sum(axis=1), 0, 1)
            shifts[first:last] = [_of_nodes(nodes, p if p.sum() > 1e-12 else weights) for p in at_shift]
            a, b = self.starts[first], self.starts[last]
            owner = np.repeat(np.arange(last - first), np.diff(self.starts[first : last + 1]))
            for k in range(b - a):
                strays[a + k] = (share[owner[k]] * (stray[k][:, None] / np.maximum(jar[k], 1e-30))).sum()
        return shifts, bad, np.clip(strays, 0, 1)


def _of_nodes(nodes: Array, weights: Array) -> tuple[float, float, float]:
    """Median and ends of a distribution known at a few nodes: a normal one with its mean and variance."""
    weights = weights / weights.sum()
    middle = float(weights @ nodes)
    apart = 1.6449 * math.sqrt(max(float(weights @ (nodes - middle) ** 2), 0.0))
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


def _joint(prior: Prior, means: Array, spreads: Array, logs: Array) -> Array:
    """Posterior weights on means and spreads, summing to 1."""
    density = np.interp(means, prior.grid, prior.mean) * _widths(means)
    wide = np.exp(-0.5 * (spreads / prior.spread) ** 2) * _widths(spreads)
    with np.errstate(divide="ignore"):
        whole = np.log(density)[:, None] + np.log(wide) + logs.reshape(len(means), len(spreads))
    weights = np.exp(whole - whole.max())
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _laid_anew(nodes: Array, weights: Array) -> Array:
    """The nodes, or as many evenly over where the weight lies, while steps are wide against its width."""
    if np.diff(nodes).max() <= _FINE * max(_deviation(nodes, weights), 1e-30):
        return nodes
    below = np.cumsum(weights)
    first = max(int(np.searchsorted(below, _CUT)) - 1, 0)
    last = min(int(np.searchsorted(below, 1 - _CUT)) + 1, len(nodes) - 1)
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
