"""What a person's own tiles teach: the expansion of a jar, and how much hotter the kiln is than it shows."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

import numpy as np

from refdb.errors import BadInput, NotFound, RefdbError
from refdb.frozen import dataclass
from refdb.judge.fit.build import Build
from refdb.judge.limits import TRANSITION_CONTRACTION
from refdb.judge.own.effective import effective_20_400, figure_20_400, is_effective
from refdb.judge.own.foretold import Foretold
from refdb.records import WEAK_BASES, Glass, KilnOffset, OwnTile, PropertyValue
from refdb.science.inference.tiles import (
    FIT_WORDS,
    HEAT_WORDS,
    FiredTile,
    Firing,
    Update,
    expansion_from_tiles,
    kiln_offset,
    normal_prior,
)
from refdb.science.normal import NORMAL_END
from refdb.science.plate import Array
from refdb.science.sampling import from_band

if TYPE_CHECKING:
    from refdb.store.workshop.beside_reference import Shelf

#: Expansions looked at [1/K], and kiln offsets [K].
GRID_PER_K = np.arange(2.0, 20.0001, 0.05) * 1e-6
GRID_K = np.arange(-80.0, 80.1, 1.0)
#: What is believed of a kiln nobody has checked: right on average, give or take this [K] (from memory).
KILN_DEVIATION_K = 15.0
#: No jar's expansion is known better than this [1/K] (from memory).
LEAST_DEVIATION_PER_K = 0.05e-6
#: And of an offset that was written down without its ends [K] (from memory).
WRITTEN_DEVIATION_K = 5.0
#: An estimate becomes a test's result once tiles have taken it to this share of its width (our judgement).
NARROWED = 0.75
#: So many values of the transition's contraction make the belief before of a dilatometer's figure.
_CONTRACTIONS = 32


@dataclass(frozen=True)
class Learnt:
    """The update of one quantity: belief before, each tile's outcome that told something, belief after.

    `counted` are tiles that the belief before holds already, and `gone` numbers of such as are no longer there.
    `basis` is what the belief after rests on, in the words of the person's own records; `left_out` tells, in words,
    of tiles that nothing can be foretold for. Of an expansion, `foretold` holds what the plate says of its tiles.
    """

    update: Update
    tiles: tuple[OwnTile, ...]
    silent: tuple[OwnTile, ...]
    prior_words: str
    counted: tuple[OwnTile, ...] = ()
    gone: tuple[int, ...] = ()
    basis: str = "own test"
    left_out: tuple[str, ...] = ()
    foretold: Foretold | None = None

    @property
    def rests_on(self) -> tuple[int, ...]:
        """Numbers of all tiles that the belief after holds."""
        return tuple(sorted({*(t.number for t in (*self.tiles, *self.counted)), *self.gone}))


def _new_and_counted(
    tiles: Sequence[OwnTile], counted: Collection[int]
) -> tuple[list[OwnTile], tuple[OwnTile, ...], tuple[int, ...]]:
    """Tiles not counted yet, those that are, and numbers counted that are no longer there."""
    there = {t.number for t in tiles}
    return (
        [t for t in tiles if t.number not in counted],
        tuple(t for t in tiles if t.number in counted),
        tuple(sorted(n for n in counted if n not in there)),
    )


def expansion_learnt(ref: Shelf, glass: Glass, tiles: Sequence[OwnTile], counted: Collection[int] = ()) -> Learnt:
    """Update the effective expansion of a glass from its tiles.

    Parameters
    ----------
    ref : Shelf
        For the metals of the tiles.
    glass : Glass
        Its own expansion with its band is the belief before, with the transition's contraction added unless it is
        effective already; a single figure is good to `limits.OWN_EXPANSION_PPM_PER_K`, as where it is typed with a
        question.
    tiles : sequence of OwnTile
        Its tiles; thicknesses not written down are those of the standard build.
    counted : collection of int
        Numbers of tiles that the expansion was learnt from before. They are not counted again, but still tell which
        set points, strengths and yields are likely with which expansion.

    Raises
    ------
    BadInput
        The expansion of the glass is not known at all.
    """
    row = glass.value("expansion")
    if row is None or row.temp_low_c is None or row.temp_high_c is None:
        raise BadInput("no expansion to begin with", glass.key, "say what the jar is like: refdb mine edit KEY --like")
    fresh, known, gone = _new_and_counted(tiles, counted)
    plates, told, faults = _of_tiles(ref, glass, [*fresh, *known])
    telling = [t for t in fresh if t.number in told]
    update = expansion_from_tiles(
        GRID_PER_K,
        effective_prior(row),
        [told[t.number] for t in telling],
        counted=[told[t.number] for t in known if t.number in told],
    )
    words = f"{row.basis}, as of {glass.like}" if glass.like and row.taken_from else row.basis
    if not is_effective(row):
        value, low, high = (f"{x * 100:.0f}" for x in TRANSITION_CONTRACTION)
        words += f", {value} % ({low} to {high}) added for the transition"
    width, was = (ends[2] - ends[1] for ends in (update.after, update.before))
    borrowed = row.basis in WEAK_BASES or bool(glass.like and row.taken_from)
    weak = borrowed and width > NARROWED * max(was, _class_width(ref, glass))
    return Learnt(
        update,
        tuple(telling),
        tuple(t for t in fresh if t not in telling),
        words,
        known,
        gone,
        "guess" if weak else "own test",
        tuple(faults[t.number] for t in fresh if t.number in faults),
        plates,
    )


def _of_tiles(
    ref: Shelf, glass: Glass, tiles: Sequence[OwnTile]
) -> tuple[Foretold, dict[int, FiredTile], dict[int, str]]:
    """The plates of a jar, what is foretold of each tile that tells of fit, and why a tile is left out; by number."""
    metals, faults, found = {}, {}, {}
    telling = [t for t in tiles if words_of(t, FIT_WORDS)]
    for tile in telling:
        try:
            metals[tile.metal] = ref.metal(tile.metal)
        except RefdbError as fault:
            faults[tile.number] = f"tile:{tile.number} is left out, for {fault.what}"
    plates = Foretold(glass, list(metals.values()), GRID_PER_K)
    for tile in telling:
        if tile.number not in faults:
            try:
                found[tile.number] = plates.tile(tile.metal, *sizes_of(tile), words_of(tile, FIT_WORDS))
            except RefdbError as fault:
                faults[tile.number] = f"tile:{tile.number} is left out, for {fault.what}"
    return plates, found, faults


def sizes_of(tile: OwnTile) -> tuple[float, float, float]:
    """Metal, front and back of a tile [m]; what was not written down is that of the standard build."""
    usual = Build()

    def metres(mm: float | None, standard: float) -> float:
        return standard if mm is None else mm * 1e-3

    return (
        metres(tile.metal_mm, usual.metal_m.value),
        metres(tile.front_mm, usual.front_m.value),
        metres(tile.back_mm, usual.back_m.value),
    )


def _class_width(ref: Shelf, glass: Glass) -> float:
    """The width of the band of the class that a jar is like [1/K]: what was believed before any tile."""
    row = ref.glass(glass.like).value("expansion") if glass.like else None
    if row is None or row.temp_low_c is None or row.temp_high_c is None or row.band.is_exact:
        return 0.0
    band = effective_20_400(row)
    return band.high - band.low


def effective_prior(figure: PropertyValue) -> Array:
    """The belief before in the effective expansion, on `GRID_PER_K`, from a figure over a known span.

    A dilatometer's figure is spread over `limits.TRANSITION_CONTRACTION`. Tiles cannot tell that from the figure, for
    the plate knows their product alone; so it is averaged out here, and not with what else the tiles share.
    """
    band = figure_20_400(figure)
    more: Sequence[float] = (0.0,)
    if not is_effective(figure):
        more = from_band((np.arange(_CONTRACTIONS) + 0.5) / _CONTRACTIONS, *TRANSITION_CONTRACTION)
    priors = [
        band_prior(GRID_PER_K, band.value * (1 + m), band.low * (1 + m), band.high * (1 + m), LEAST_DEVIATION_PER_K)
        for m in more
    ]
    return np.asarray(np.mean(priors, axis=0), dtype=np.float64)


def kiln_learnt(ref: Shelf, tiles: Sequence[OwnTile], kept: KilnOffset | None = None) -> Learnt:
    """Update the kiln's offset, true heat less setting, from tiles with a setting and an outcome of heat.

    Parameters
    ----------
    ref : Shelf
        For the glasses of the tiles.
    tiles : sequence of OwnTile
    kept : KilnOffset, optional
        What is written down of the kiln is the belief before; the tiles it was learnt from are not counted again.
    """
    firings, telling, left_out = [], [], []
    fresh, known, gone = _new_and_counted(tiles, kept.tiles if kept is not None else ())
    for tile in fresh:
        word = words_of(tile, HEAT_WORDS)
        if tile.kiln_c is None or not word:
            continue
        try:
            glass = ref.glass(tile.glass)
        except NotFound:
            left_out.append(f"tile:{tile.number} is left out, for {tile.glass} is no longer there")
            continue
        low, high = glass.band("fuse_low"), glass.band("fuse_high")
        if low is not None and high is not None:
            firings.append(Firing(word, tile.kiln_c, low.value, high.value))
            telling.append(tile)
    if kept is None:
        prior = normal_prior(GRID_K, 0.0, KILN_DEVIATION_K)
        words = f"a kiln nobody has checked: 0 K, give or take {KILN_DEVIATION_K:.0f}"
    else:
        least = 1.0 if kept.low_k < kept.high_k else WRITTEN_DEVIATION_K
        prior = band_prior(GRID_K, kept.offset_k, kept.low_k, kept.high_k, least)
        words = f"{kept.basis}, {kept.date}"
    return Learnt(
        kiln_offset(GRID_K, prior, firings),
        tuple(telling),
        tuple(t for t in fresh if t not in telling),
        words,
        known,
        gone,
        left_out=tuple(left_out),
    )


def band_prior(grid: Array, value: float, low: float, high: float, least: float) -> Array:
    """A belief on a grid that has a band's value as its median and its ends as 5 % and 95 %, summing to 1.

    Two halves of normal curves, of a standard deviation of at least `least`: the same on both sides for a band that
    is even, so that a belief after some tiles, written down as a band, is the belief before of the next.
    """
    apart = grid - value
    deviation = np.where(apart < 0, max((value - low) / NORMAL_END, least), max((high - value) / NORMAL_END, least))
    logs = -0.5 * (apart / deviation) ** 2
    weights = np.exp(logs - logs.max())
    for half in (apart < 0, apart >= 0):
        if weights[half].sum() > 0:
            weights[half] /= 2 * weights[half].sum()
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def words_of(tile: OwnTile, known: dict[str, str]) -> str:
    """The outcome of a tile that tells most of a matter: a fault before `sound`; empty when none does."""
    words = [w.strip().replace(" ", "-") for w in tile.outcome.split(";")]
    told = [w for w in words if w in known]
    return next((w for w in told if w != "sound"), told[0] if told else "")
