"""Jars made up from a known truth, one at a time through the plate: nine in ten intervals of their tiles hold it.

The truth is drawn here at random and continuously, with the formulas of the chances written out; the update knows only
its own few shared draws and its grid.
"""

from __future__ import annotations

import time
from statistics import NormalDist

import numpy as np
import pytest

from refdb.judge import limits
from refdb.judge.own.foretold import DRAWS, Foretold
from refdb.judge.own.tile_update import GRID_PER_K, effective_prior, expansion_learnt
from refdb.records import OwnTile
from refdb.science.expansion import glass_strain
from refdb.science.inference.tiles import FiredTile, expansion_from_tiles
from refdb.science.plate import ByPlate, HardeningYield, Plates, cool_many
from refdb.science.plate.duration import duration_factor
from refdb.science.sampling import from_band
from refdb.store.reference import Reference

JAR = "clear-hard-lead-free"
WORDS = ("sound", "crazed", "chipped")
#: Metal, front and back [mm]; twenty tiles take them in turn.
MIXED = (
    ("copper-sheet", 0.8, 0.3, 0.3),
    ("copper-sheet", 0.8, 0.3, 0.0),
    ("copper-sheet", 0.5, 0.2, 0.0),
    ("copper-sheet", 0.4, 0.3, 0.0),
    ("copper-sheet", 1.0, 0.2, 0.0),
    ("copper-sheet", 0.6, 0.5, 0.2),
    ("low-carbon-steel", 0.8, 0.3, 0.3),
    ("low-carbon-steel", 0.5, 0.2, 0.0),
)
DESIGNS = {
    "eight builds": MIXED,
    "thin copper on one face": MIXED[2:3],
    "thick copper on one face": MIXED[1:2],
    "the standard build": MIXED[:1],
    "steel": MIXED[6:7],
}


@pytest.fixture(scope="module")
def ref(store):
    with Reference(store) as found:
        yield found


def drawn_jars(ref, count, rng):
    """True effective expansions (count,) [1/K] of jars of the class, and all else that their tiles share."""
    glass = ref.glass(JAR)
    band = glass.band("expansion")
    end = NormalDist().inv_cdf(0.95)
    # Every slice of the class is there once, so that chance in the truth does not blur the share that is counted.
    z = rng.permutation([NormalDist().inv_cdf((k + 0.5) / count) for k in range(count)])
    figure = band.value + z * np.where(z < 0, band.value - band.low, band.high - band.value) / end

    def of(band):
        return from_band(rng.uniform(size=count), band.value, band.low, band.high)

    row = glass.value("expansion")
    slope = 1 + 5.4e-4 * ((row.temp_low_c + row.temp_high_c) / 2 - 210)
    true = figure / slope * 1e-6 * (1 + from_band(rng.uniform(size=count), *limits.TRANSITION_CONTRACTION))
    jar = {name: of(glass.band(name)) for name in ("set_point", "youngs_modulus", "poisson_ratio")}
    jar["strength_pa"] = from_band(rng.uniform(size=count), *limits.STRENGTH_MPA) * 1e6 * duration_factor(438_300.0)
    metals = {}
    for key in sorted({build[0] for build in MIXED}):
        metal, share = ref.metal(key), rng.uniform(size=count)
        metals[key] = {
            name: of(metal.band(name)) for name in ("youngs_modulus", "poisson_ratio", "flow_ratio_500c", "expansion")
        }
        for name in ("flow_stress", "hardening"):
            b = metal.band(name)
            metals[key][name] = from_band(share, b.value, b.low, b.high)
    return true, jar, metals


def true_chances(ref, build, true, jar, metals):
    """Chance of sound, crazed and chipped (3, jars) of a build on each jar, straight from the plate."""
    key, *sizes = build
    metal, of_metal = ref.metal(key), metals[build[0]]
    n, curve = len(true), metal.curve
    set_c = np.minimum(jar["set_point"], curve.high_c)
    factor = of_metal["expansion"] / metal.band("expansion").value
    glass = ByPlate(glass_strain, (true,))
    m, f, b = (np.full(n, x * 1e-3) for x in sizes)
    many = cool_many(
        Plates(
            ("back", "metal", "front"),
            np.stack((b, m, f), axis=1),
            np.stack((jar["youngs_modulus"], of_metal["youngs_modulus"], jar["youngs_modulus"]), axis=1),
            np.stack((jar["poisson_ratio"], of_metal["poisson_ratio"], jar["poisson_ratio"]), axis=1),
            (glass, ByPlate(lambda t, k: curve(t) * k, (factor,)), glass),
            np.stack((set_c, np.full(n, np.nan), set_c), axis=1),
            (None, HardeningYield(of_metal["flow_stress"], of_metal["hardening"], of_metal["flow_ratio_500c"]), None),
        )
    )
    there = [k for k in (0, 2) if (b, m, f)[k][0] > 0]
    worst = np.maximum(many.bottom_pa, many.top_pa)[:, there].max(axis=1)
    gap = (curve(set_c) * factor - glass_strain(set_c, true)) * 1e6
    c = 1 / (1 + np.exp(-(worst - jar["strength_pa"]) / 4.4e6))
    h = 1 / (1 + np.exp(-(gap - 6000) / 500))
    return 0.95 * np.array([(1 - c) * (1 - h), c * (1 - h / 2), h * (1 - c / 2)]) + 0.05 / 3


def foretold_by(ref, builds, draws=DRAWS):
    plates = Foretold(ref.glass(JAR), [ref.metal(k) for k in dict.fromkeys(b[0] for b in builds)], GRID_PER_K, draws)
    return [plates.tile(b[0], *(x * 1e-3 for x in b[1:])) for b in builds]


def intervals(ref, builds, count, tiles=20, seed=7, told=None):
    """Truth (count,) and intervals (count, 3) of simulated jars, each of so many tiles in turn of the builds."""
    rng = np.random.default_rng(seed)
    true, jar, metals = drawn_jars(ref, count, rng)
    chances = [true_chances(ref, b, true, jar, metals) for b in builds]
    told = told or foretold_by(ref, builds)
    prior, found = effective_prior(ref.glass(JAR).value("expansion")), []
    for j in range(count):
        seen = []
        for k in range(tiles):
            one = told[k % len(builds)]
            word = str(rng.choice(WORDS, p=chances[k % len(builds)][:, j]))
            seen.append(FiredTile(word, one.tension_pa, one.gap_ppm, one.strength_pa))
        found.append(expansion_from_tiles(GRID_PER_K, prior, seen).after)
    return true, np.array(found)


def covered(true, found):
    return float(((found[:, 1] <= true) & (true <= found[:, 2])).mean())


@pytest.mark.slow
@pytest.mark.parametrize("name", DESIGNS)
def test_nine_in_ten_intervals_of_twenty_tiles_hold_the_truth(ref, name):
    """86 to 94 % of 200 jars, which nine in ten miss by chance less than once in seventeen times."""
    true, found = intervals(ref, DESIGNS[name], 200)
    share = covered(true, found)
    print(f"{name}: {share:.3f}, mean width {1e6 * (found[:, 2] - found[:, 1]).mean():.2f} ppm/K")
    assert 0.86 <= share <= 0.94


@pytest.mark.slow
def test_fixed_at_their_middles_the_intervals_would_miss(ref):
    """The counter-example: with all that tiles share held at its value, one build on steel hits 75 % at most."""
    builds = DESIGNS["steel"]
    true, found = intervals(ref, builds, 200, told=foretold_by(ref, builds, draws=1))
    assert covered(true, found) < 0.75


@pytest.mark.slow
def test_twice_as_many_draws_say_the_same(ref):
    """Ends move by less than a tenth of the width on the mean over jars."""
    few, many = (intervals(ref, MIXED, 40, told=foretold_by(ref, MIXED, n))[1] for n in (DRAWS, 2 * DRAWS))
    assert np.abs(few - many).mean() < 0.1 * (few[:, 2] - few[:, 1]).mean()


def test_most_intervals_of_two_builds_hold_the_truth(ref):
    """A short form of the slow test: 80 % of 120 jars and more, which nine in ten miss once in two thousand times."""
    builds = (MIXED[2], MIXED[6])
    assert covered(*intervals(ref, builds, 120, tiles=10)) >= 0.80


def test_twenty_tiles_are_weighed_quickly_and_the_same_every_time(ref):
    """In a few seconds on any machine, though each build is cooled in every draw; and no number is drawn anew."""
    glass = ref.glass(JAR)
    tiles = [OwnTile(k, JAR, *MIXED[k % 4], None, None, WORDS[k % 2], None, "2026-11-25", None) for k in range(20)]
    began = time.perf_counter()
    first = expansion_learnt(ref, glass, tiles)
    assert time.perf_counter() - began < 5
    again = expansion_learnt(ref, glass, tiles)
    assert np.array_equal(first.update.posterior, again.update.posterior)
    by_hand = expansion_from_tiles(
        GRID_PER_K,
        effective_prior(glass.value("expansion")),
        [
            FiredTile(t.outcome, one.tension_pa, one.gap_ppm, one.strength_pa)
            for t, one in zip(tiles, foretold_by(ref, MIXED[:4]) * 5, strict=True)
        ],
    )
    assert first.update.posterior == pytest.approx(by_hand.posterior)
