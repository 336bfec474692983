"""What a person's own tiles teach: the expansion of a jar, and how much hotter the kiln is than it shows."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from refdb.errors import BadInput, NotFound, RefdbError
from refdb.judge.fit.build import Build
from refdb.judge.limits import OWN_EXPANSION_PPM_PER_K
from refdb.judge.needs import missing_figures
from refdb.quantities.band import Band
from refdb.records import WEAK_BASES, Glass, KilnOffset, Metal, OwnTile
from refdb.science.expansion import ROOM_C, contraction_gap_ppm, glass_mean_20_400, glass_strain
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
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, cool_many

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
#: From the value to either end of a band, which holds nine tenths, in standard deviations.
_TO_AN_END = 1.6449


@dataclass(frozen=True)
class Learnt:
    """The update of one quantity: belief before, each tile's outcome that told something, belief after.

    `counted` are tiles that the belief before holds already, and `gone` numbers of such as are no longer there.
    `basis` is what the belief after rests on, in the words of the person's own records; `left_out` tells, in words,
    of tiles that nothing can be foretold for.
    """

    update: Update
    tiles: tuple[OwnTile, ...]
    silent: tuple[OwnTile, ...]
    prior_words: str
    counted: tuple[OwnTile, ...] = ()
    gone: tuple[int, ...] = ()
    basis: str = "own test"
    left_out: tuple[str, ...] = ()

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
    """Update the expansion of a glass from its tiles.

    Parameters
    ----------
    ref : Shelf
        For the metals of the tiles.
    glass : Glass
        Its own expansion with its band is the belief before; a single figure is good to
        `limits.OWN_EXPANSION_PPM_PER_K`, as where it is typed with a question.
    tiles : sequence of OwnTile
        Its tiles; thicknesses not written down are those of the standard build.
    counted : collection of int
        Numbers of tiles that the expansion was learnt from before; they are not counted again.

    Raises
    ------
    BadInput
        The expansion of the glass is not known at all.
    """
    row = glass.value("expansion")
    if row is None or row.temp_low_c is None or row.temp_high_c is None:
        raise BadInput("no expansion to begin with", glass.key, "say what the jar is like: refdb mine edit KEY --like")
    band = row.band.scaled(1e-6)
    if band.is_exact:
        apart = min(OWN_EXPANSION_PPM_PER_K * 1e-6, band.value / 2)
        band = Band(band.value, band.value - apart, band.value + apart)
    mean, low, high = (
        float(glass_mean_20_400(x, row.temp_low_c, row.temp_high_c)) for x in (band.value, band.low, band.high)
    )
    fresh, known, gone = _new_and_counted(tiles, counted)
    telling, fired, left_out = [], [], []
    for tile in fresh:
        if words_of(tile, FIT_WORDS):
            try:
                fired.append(_foretold(ref, glass, tile))
                telling.append(tile)
            except RefdbError as fault:
                left_out.append(f"tile:{tile.number} is left out, for {fault.what}")
    prior = band_prior(GRID_PER_K, mean, low, high, LEAST_DEVIATION_PER_K)
    words = f"{row.basis}, as of {glass.like}" if glass.like and row.taken_from else row.basis
    update = expansion_from_tiles(GRID_PER_K, prior, fired)
    low_after, high_after = update.after[1:]
    weak = row.basis in WEAK_BASES and high_after - low_after > NARROWED * max(high - low, _class_width(ref, glass))
    return Learnt(
        update,
        tuple(telling),
        tuple(t for t in fresh if t not in telling),
        words,
        known,
        gone,
        "guess" if weak else "own test",
        tuple(left_out),
    )


def _class_width(ref: Shelf, glass: Glass) -> float:
    """The width of the band of the class that a jar is like [1/K]: what was believed before any tile."""
    band = ref.glass(glass.like).band("expansion") if glass.like else None
    return (band.high - band.low) * 1e-6 if band is not None else 0.0


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
    deviation = np.where(apart < 0, max((value - low) / _TO_AN_END, least), max((high - value) / _TO_AN_END, least))
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


def _foretold(ref: Shelf, glass: Glass, tile: OwnTile) -> FiredTile:
    """The worst tension and the gap of a tile's build for every expansion of the grid, all else at its middle."""
    metal = ref.metal(tile.metal)
    gone = missing_figures(glass, metal)
    if gone:
        raise BadInput(f"not known: {'; '.join(gone)}", f"tile:{tile.number}")
    usual = Build()

    def middle(record: Glass | Metal, name: str) -> float:
        band = record.band(name)
        assert band is not None
        return band.value

    def metres(mm: float | None, standard: float) -> float:
        return standard if mm is None else mm * 1e-3

    n = len(GRID_PER_K)
    set_c = min(max(middle(glass, "set_point"), ROOM_C + 1), metal.curve.high_c)
    front, back = metres(tile.front_mm, usual.front_m.value), metres(tile.back_mm, usual.back_m.value)
    thickness = np.tile([back, metres(tile.metal_mm, usual.metal_m.value), front], (n, 1))
    glass_e, glass_nu = middle(glass, "youngs_modulus"), middle(glass, "poisson_ratio")
    free = ByPlate(glass_strain, (GRID_PER_K,))
    many = cool_many(
        Plates(
            ("back", "metal", "front"),
            thickness,
            np.tile([glass_e, middle(metal, "youngs_modulus"), glass_e], (n, 1)),
            np.tile([glass_nu, middle(metal, "poisson_ratio"), glass_nu], (n, 1)),
            (free, metal.curve, free),
            np.tile([set_c, np.nan, set_c], (n, 1)),
            (
                None,
                HardeningYield(
                    middle(metal, "flow_stress"), middle(metal, "hardening"), middle(metal, "flow_ratio_500c")
                ),
                None,
            ),
        )
    )
    worst: Array = np.where(thickness > 0, np.maximum(many.bottom_pa, many.top_pa), -np.inf)[:, (0, 2)].max(axis=1)
    gap = np.asarray(contraction_gap_ppm(metal.curve, GRID_PER_K, set_c), dtype=float)
    return FiredTile(words_of(tile, FIT_WORDS), worst, gap)
