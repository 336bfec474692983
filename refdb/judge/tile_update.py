"""What a person's own tiles teach: the expansion of a jar, and how much hotter the kiln is than it shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from refdb.errors import BadInput
from refdb.judge.builds import Build
from refdb.judge.glass_on_metal import missing_figures
from refdb.records import Glass, Metal, OwnTile
from refdb.science.expansion import ROOM_C, contraction_gap_ppm, glass_mean_20_400, glass_strain
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, cool_many
from refdb.science.tiles import (
    FIT_WORDS,
    HEAT_WORDS,
    FiredTile,
    Firing,
    Update,
    expansion_from_tiles,
    kiln_offset,
    normal_prior,
)

if TYPE_CHECKING:
    from refdb.store.shelf import Shelf

#: Expansions looked at [1/K], and kiln offsets [K].
GRID_PER_K = np.arange(6.0, 20.0001, 0.05) * 1e-6
GRID_K = np.arange(-80.0, 80.1, 1.0)
#: What is believed of a kiln nobody has checked: right on average, give or take this [K] (from memory).
KILN_DEVIATION_K = 15.0
#: From the value to either end of a band, which holds nine tenths, in standard deviations.
_TO_AN_END = 1.6449


@dataclass(frozen=True)
class Learnt:
    """The update of one quantity: belief before, each tile's outcome that told something, belief after."""

    update: Update
    tiles: tuple[OwnTile, ...]
    silent: tuple[OwnTile, ...]
    prior_words: str


def expansion_learnt(ref: Shelf, glass: Glass, tiles: Sequence[OwnTile]) -> Learnt:
    """Update the expansion of a glass from its tiles.

    Parameters
    ----------
    ref : Shelf
        For the metals of the tiles.
    glass : Glass
        Its own expansion with its band is the belief before.
    tiles : sequence of OwnTile
        Its tiles; thicknesses not written down are those of the standard build.

    Raises
    ------
    BadInput
        The expansion of the glass is not known at all, or a metal lacks a figure.
    """
    row = glass.value("expansion")
    if row is None or row.temp_low_c is None or row.temp_high_c is None:
        raise BadInput("no expansion to begin with", glass.key, "say what the jar is like: refdb mine edit KEY --like")
    band = row.band.scaled(1e-6)
    mean, low, high = (float(glass_mean_20_400(x, row.temp_low_c, row.temp_high_c))
                       for x in (band.value, band.low, band.high))
    deviation = max((high - low) / 2 / _TO_AN_END, 0.05e-6)
    telling = [t for t in tiles if words_of(t, FIT_WORDS)]
    fired = [_foretold(ref, glass, t) for t in telling]
    prior = normal_prior(GRID_PER_K, mean, deviation)
    words = f"{row.basis}: {mean * 1e6:.1f} ppm/K, {low * 1e6:.1f} to {high * 1e6:.1f}"
    return Learnt(expansion_from_tiles(GRID_PER_K, prior, fired), tuple(telling),
                  tuple(t for t in tiles if t not in telling), words)


def kiln_learnt(ref: Shelf, tiles: Sequence[OwnTile]) -> Learnt:
    """Update the kiln's offset, true heat less setting, from tiles with a setting and an outcome of heat."""
    firings, telling = [], []
    for tile in tiles:
        glass = ref.glass(tile.glass)
        low, high = glass.band("fuse_low"), glass.band("fuse_high")
        word = words_of(tile, HEAT_WORDS)
        if tile.kiln_c is not None and low is not None and high is not None and word:
            firings.append(Firing(word, tile.kiln_c, low.value, high.value))
            telling.append(tile)
    prior = normal_prior(GRID_K, 0.0, KILN_DEVIATION_K)
    return Learnt(kiln_offset(GRID_K, prior, firings), tuple(telling), tuple(t for t in tiles if t not in telling),
                  f"a kiln nobody has checked: 0 K, give or take {KILN_DEVIATION_K:.0f}")


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
    many = cool_many(Plates(
        ("back", "metal", "front"), thickness, np.tile([glass_e, middle(metal, "youngs_modulus"), glass_e], (n, 1)),
        np.tile([glass_nu, middle(metal, "poisson_ratio"), glass_nu], (n, 1)), (free, metal.curve, free),
        np.tile([set_c, np.nan, set_c], (n, 1)),
        (None, HardeningYield(middle(metal, "flow_stress"), middle(metal, "hardening"),
                              middle(metal, "flow_ratio_500c")), None)))
    worst: Array = np.where(thickness > 0, np.maximum(many.bottom_pa, many.top_pa), -np.inf)[:, (0, 2)].max(axis=1)
    gap = np.asarray(contraction_gap_ppm(metal.curve, GRID_PER_K, set_c), dtype=float)
    return FiredTile(words_of(tile, FIT_WORDS), worst, gap)
