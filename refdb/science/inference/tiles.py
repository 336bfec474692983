"""What fired tiles say: a small Bayesian update on a grid, for a jar's expansion and for a kiln's offset.

Every tile has a likelihood: the chance of what was seen, for each value on the grid. The prior is multiplied by the
likelihoods of all tiles and made to sum to one (Bayes' rule; see Gelman and others, Bayesian Data Analysis, 3rd
edition, 2013, chapters 1 and 2). Prior, likelihood and posterior all stay, so that they can be shown.

Expansion: a tile crazes the likelier the higher the tensile stress in its glass is against the strength of that glass,
and chips the likelier the greater its thermal contraction mismatch; both chances are logistic with a middle and a
width. What tiles of one jar share but nobody knows (set point, stiffness, strength, the yield of the metal) is drawn:
given the shared draw the tiles are independent, so their likelihoods multiply within a draw, and the products are
averaged over the draws (the marginal likelihood of a hierarchical model; Gelman and others, chapter 5). Multiplying
averages instead would count what is shared once for each tile, and the belief would grow too sure.

Kiln: a tile is under-fired the likelier the further its true temperature lies below the glass's range, over-fired the
further above. In one tile of `Chances.slip` anything may happen for reasons that are not in the model. Middles and
widths are set to agree with the limits of the trade; they are not measured, so they are parameters.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from refdb.errors import BadInput
from refdb.frozen import dataclass, replace
from refdb.science.plate.layers import Array
from refdb.science.sampling import band_of_density

SOUND, CRAZED, CHIPPED = "sound", "crazed", "chipped"
UNDER, OVER = "under-fired", "over-fired"
#: What each word of a tile's record says about fit; every other word says nothing of the expansion.
FIT_WORDS = {"sound": SOUND, "crazed": CRAZED, "cracked": CRAZED, "chipped": CHIPPED}
#: The same about the kiln temperature. A cloudy, crawled or pulled-through tile has many causes and says nothing of it.
HEAT_WORDS = {
    "sound": SOUND,
    "under-fired": UNDER,
    "sugary": UNDER,
    "orange-peel": UNDER,
    "over-fired": OVER,
    "burnt": OVER,
}


@dataclass(frozen=True)
class Chances:
    """Middles (even chance) and logistic widths of the likelihoods, and the slip rate.

    At a tension equal to the tile's strength every second crazes, and 13 MPa below it one in twenty; at a mismatch of
    4500 ppm one in twenty chips and at 6000 every second. Kiln: a width of 8 K at either end of the range. Common
    practice and from memory.
    """

    tension_width_pa: float = 4.4e6
    gap_middle_ppm: float = 6000.0
    gap_width_ppm: float = 500.0
    heat_width_k: float = 8.0
    slip: float = 0.05


@dataclass(frozen=True)
class FiredTile:
    """One tile for the expansion: what was seen, and what the plate foretells on the grid of expansions.

    `tension_pa` is the worst stress in its glass, tension positive, and `gap_ppm` its thermal contraction mismatch:
    (n,) with every other input at its value, or (draws, n) in draws of what the tiles of a jar share, the same for all
    of them. `strength_pa`, one number or (draws,), is the tension that breaks every second such tile.
    """

    outcome: str
    tension_pa: Array
    gap_ppm: Array
    strength_pa: float | Array


@dataclass(frozen=True)
class Firing:
    """One tile for the kiln: what was seen, the setting, and the glass's kiln range [°C]."""

    outcome: str
    setting_c: float
    low_c: float
    high_c: float


@dataclass(frozen=True)
class Update:
    """Prior and posterior on one grid; each of `prior` and `posterior` sums to 1, `likelihood` has its best at 1.

    `told` counts the tiles that say anything. `by_draw` (draws, n), each column summing to 1, is the weight after of
    each draw of what the tiles share, given the value; None where nothing is shared.
    """

    grid: Array
    prior: Array
    likelihood: Array
    posterior: Array
    told: int
    by_draw: Array | None = None

    @property
    def before(self) -> tuple[float, float, float]:
        """Median, 5 % and 95 % of the prior."""
        return summary(self.grid, self.prior)

    @property
    def after(self) -> tuple[float, float, float]:
        """Median, 5 % and 95 % of the posterior."""
        return summary(self.grid, self.posterior)


def normal_prior(grid: Any, mean: float, deviation: float) -> Array:
    """Return a normal prior on a grid, summing to 1; `deviation` is the standard deviation, in the grid's unit.

    Of a band of 5-95 % the standard deviation is half the width over `normal.NORMAL_END`.
    """
    grid = _grid(grid)
    if not (deviation > 0 and np.isfinite([mean, deviation]).all()):
        raise BadInput("a prior needs a finite mean and a spread above zero", "prior")
    return _whole(-0.5 * ((grid - mean) / deviation) ** 2)


def update(grid: Any, prior: Any, log_likelihoods: Iterable[Any]) -> Update:
    """Return the posterior on a grid by Bayes' rule.

    Parameters
    ----------
    grid : array (n,)
        Rising values.
    prior : array (n,)
        Prior weights, none below zero, of any sum.
    log_likelihoods : iterable of array (n,)
        Logarithm of the chance of each thing seen; an array of equal values says nothing.

    Returns
    -------
    Update

    Raises
    ------
    BadInput
        Lengths differ, the grid does not rise, or what was seen cannot be under the prior.
    """
    grid = _grid(grid)
    before = np.asarray(prior, dtype=float)
    if before.shape != grid.shape or not (np.isfinite(before).all() and (before >= 0).all() and before.sum() > 0):
        raise BadInput("a prior needs one weight for each value, none below zero", "prior")
    before = before / before.sum()
    whole, told = np.zeros(len(grid)), 0
    for part in log_likelihoods:
        logs = np.asarray(part, dtype=float)
        if logs.shape != grid.shape or np.isnan(logs).any() or (logs == np.inf).any():
            raise BadInput("a likelihood needs one number for each value of the grid", "likelihood")
        whole = whole + logs
        told += _varies(logs)
    with np.errstate(divide="ignore"):
        logs = np.log(before) + whole
    if not np.isfinite(logs).any():
        raise BadInput("what was seen cannot be, by the prior", "prior", "take a wider prior")
    return Update(grid, before, np.exp(whole - whole.max()), _whole(logs), told)


def summary(grid: Any, density: Any) -> tuple[float, float, float]:
    """Return median, 5 % and 95 % of a distribution by its density on a grid, by the trapezoid rule."""
    return band_of_density(_grid(grid), np.asarray(density, dtype=float))


def fit_log_likelihood(tile: FiredTile, chances: Chances | None = None) -> Array:
    """Return the logarithm of the chance of a tile's outcome, shaped as its tension: (n,) or (draws, n).

    Zero everywhere for a word that says nothing of fit.
    """
    kind = FIT_WORDS.get(tile.outcome)
    if kind is None:
        return np.zeros(np.shape(tile.tension_pa))
    return np.log(fit_chances(tile, chances)[kind])


def fit_chances(tile: FiredTile, chances: Chances | None = None) -> dict[str, Array]:
    """Return the chance of each outcome of a tile, whatever it showed; together they are 1.

    With c the chance to craze and h that to chip, independent of each other: sound (1−c)(1−h); crazed c(1−h/2);
    chipped h(1−c/2), for where both happen either may be noted. Then slip: (1−slip)·p + slip/3.
    """
    by = chances or Chances()
    tension, strength = np.asarray(tile.tension_pa, dtype=float), np.asarray(tile.strength_pa, dtype=float)
    middle = strength[:, None] if strength.ndim else strength
    craze = _logistic((tension - middle) / by.tension_width_pa)
    chip = _logistic((np.asarray(tile.gap_ppm, dtype=float) - by.gap_middle_ppm) / by.gap_width_ppm)
    found = {SOUND: (1 - craze) * (1 - chip), CRAZED: craze * (1 - chip / 2), CHIPPED: chip * (1 - craze / 2)}
    return {kind: _slipped(chance, by.slip) for kind, chance in found.items()}


def heat_log_likelihood(firing: Firing, offset_k: Any, chances: Chances | None = None) -> Array:
    """Return the logarithm of the chance of a firing's outcome on a grid of kiln offsets.

    The true temperature t is setting plus offset. With u = logistic((low − t)/width), o = logistic((t − high)/width),
    scaled down where they would sum to more than 1: under-fired u, over-fired o, sound 1−u−o; then slip.
    """
    by = chances or Chances()
    offset = np.asarray(offset_k, dtype=float)
    kind = HEAT_WORDS.get(firing.outcome)
    if kind is None:
        return np.zeros(len(offset))
    if not firing.low_c <= firing.high_c:
        raise BadInput(f"a range from {firing.low_c:g} to {firing.high_c:g} °C runs backwards", "kiln range")
    true_c = firing.setting_c + offset
    under = _logistic((firing.low_c - true_c) / by.heat_width_k)
    over = _logistic((true_c - firing.high_c) / by.heat_width_k)
    most = np.maximum(under + over, 1.0)
    under, over = under / most, over / most
    return np.log(_slipped({UNDER: under, OVER: over, SOUND: 1 - under - over}[kind], by.slip))


def expansion_from_tiles(
    grid_per_k: Any,
    prior: Any,
    tiles: Sequence[FiredTile],
    chances: Chances | None = None,
    counted: Sequence[FiredTile] = (),
) -> Update:
    """Return a jar's expansion from its tiles: prior · mean over the shared draws of the product over the tiles.

    Parameters
    ----------
    grid_per_k : array (n,)
        Mean linear expansions [1/K] on which the tiles' tension and mismatch were worked out.
    prior : array (n,)
        Prior: of the class, of the maker's sheet, of a strip, or of earlier tiles.
    tiles : sequence of FiredTile
        All in the same draws.
    chances : Chances, optional
    counted : sequence of FiredTile
        Tiles that the prior rests on already. They say nothing more of the expansion, but which draws of what is shared
        are likely, given the expansion; so tiles weighed one after another say what they say together.

    Returns
    -------
    Update

    Raises
    ------
    BadInput
        A tile without a figure for each value of the grid in each draw, or as `update`.
    """
    count = len(np.atleast_1d(grid_per_k))
    all_tiles = [*tiles, *counted]
    draws = max((len(np.atleast_2d(t.tension_pa)) for t in all_tiles), default=1)
    for tile in all_tiles:
        shapes = {np.shape(tile.tension_pa), np.shape(tile.gap_ppm)}
        if not shapes <= {(count,), (draws, count)} or np.shape(tile.strength_pa) not in ((), (draws,)):
            raise BadInput("a tile needs tension and gap at each expansion of the grid", "tile")
    joint, told = np.zeros((draws, count)), 0
    for tile in counted:
        joint += fit_log_likelihood(tile, chances)
    joint -= _log_sum(joint)
    for tile in tiles:
        logs = fit_log_likelihood(tile, chances)
        joint += logs
        told += _varies(logs)
    likelihood = _log_sum(joint)
    return replace(update(grid_per_k, prior, [likelihood]), told=told, by_draw=np.exp(joint - likelihood))


def expected_gain(belief: Update, tile: FiredTile, chances: Chances | None = None) -> float:
    """Return what one more tile of a build is expected to tell of the expansion [bit], whatever it will show.

    The mutual information of outcome and expansion under the belief after (Lindley, Ann. Math. Stat. 27 (1956) 986):
    the entropy of the outcome less its mean entropy at a known expansion, what the tiles share averaged out in both.
    Between 0 and log2(3). The outcome that `tile` carries is not looked at.
    """
    weights = np.ones((1, len(belief.grid))) if belief.by_draw is None else belief.by_draw
    at_each = np.stack([(weights * p).sum(axis=0) for p in fit_chances(tile, chances).values()])
    alone = at_each @ belief.posterior
    return float(-(alone * np.log2(alone)).sum() + (at_each * np.log2(at_each)).sum(axis=0) @ belief.posterior)


def kiln_offset(grid_k: Any, prior: Any, firings: Sequence[Firing], chances: Chances | None = None) -> Update:
    """Return how much hotter the kiln is than it shows [K], from tiles under-fired, sound and over-fired."""
    return update(grid_k, prior, [heat_log_likelihood(f, grid_k, chances) for f in firings])


def _grid(grid: Any) -> Array:
    values = np.asarray(grid, dtype=float)
    if values.ndim != 1 or len(values) < 2 or not (np.isfinite(values).all() and (np.diff(values) > 0).all()):
        raise BadInput("a grid needs at least two finite values that rise", "grid")
    return values


def _whole(logs: Array) -> Array:
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _log_sum(logs: Array) -> Array:
    """Logarithm of the sum over the first axis."""
    most = logs.max(axis=0)
    return np.asarray(most + np.log(np.exp(logs - most).sum(axis=0)), dtype=np.float64)


def _varies(logs: Array) -> bool:
    return bool((logs != logs[..., :1]).any())


def _logistic(x: Array) -> Array:
    return 0.5 * (1.0 + np.tanh(x / 2.0))


def _slipped(chance: Array, slip: float) -> Array:
    if not 0 < slip < 1:
        raise BadInput("the slip rate must lie between 0 and 1", "slip")
    return np.asarray((1 - slip) * chance + slip / 3, dtype=np.float64)
