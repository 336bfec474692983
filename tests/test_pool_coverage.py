"""Studios made up from a known truth by `scripts/simulate_pool.py`: intervals of the pool hold it, and shrink.

The truth is drawn continuously and goes through the plate one jar at a time; the pool knows the points of its lattice
and its grids. The class's mean is drawn from the belief before.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from refdb.judge.limits import HOURS_FOR_GOOD, STRENGTH_MPA
from refdb.judge.own.foretold import LATTICE, Foretold
from refdb.judge.own.pool_told import doubts_of
from refdb.judge.own.pooled_strips import StripTables
from refdb.judge.own.pooling import Folded, class_learnt, pool_prior
from refdb.judge.own.strip_test import Measured, strip_of
from refdb.quantities.band import Band
from refdb.science.inference.jar_chances import log_chances
from refdb.science.inference.pooled import pool
from refdb.science.inference.strip import read_strips
from refdb.science.plate.duration import duration_factor
from refdb.science.sampling import band_of_density, from_band, lattice

CLASS = "clear-hard-lead-free"
_FILE = Path(__file__).resolve().parent.parent / "scripts/simulate_pool.py"
_SPEC = importlib.util.spec_from_file_location("simulate_pool", _FILE)
simulate = importlib.util.module_from_spec(_SPEC)
sys.modules["simulate_pool"] = simulate
_SPEC.loader.exec_module(simulate)


def rows_of(ref, design, seed, count=20, tiles=20, **truth):
    rng = np.random.default_rng(seed)
    return simulate.studios(ref, CLASS, simulate.Truth(**truth), count, tiles, simulate.DESIGNS[design], rng)


def below(weights):
    """Share of a belief that lies below each of its nodes."""
    return (np.cumsum(weights) - weights / 2) / weights.sum()


def placed(ref, design, spread, truths, count=20, seed=11, strips=0):
    """Where each of so many truths lies in what is believed after: mean, spread and one new jar, from 0 to 1 (truths,
    3), and of its jars the share within their nine-in-ten band; a spread of None is drawn from the belief before.
    """
    glass = ref.glass(CLASS)
    prior, tables = pool_prior(glass), {}
    rng = np.random.default_rng(seed)
    # Every slice of the belief before is there once, so that chance in the truth does not blur the share.
    slices = (np.arange(truths) + 0.5) / truths
    means = rng.permutation(np.interp(slices, below(prior.mean), prior.grid)) * 1e6
    spreads = np.full(truths, spread)
    if spread is None:
        ends = [NormalDist().cdf(x / prior.spread) for x in (prior.least_spread, prior.most_spread)]
        spreads = rng.permutation([NormalDist().inv_cdf(ends[0] + x * (ends[1] - ends[0])) for x in slices])
    places, shares = [], []
    for k in range(truths):
        rows = rows_of(ref, design, 1000 * seed + k, count, mean=means[k], spread=spreads[k], strips=strips)
        found = pool(prior, *Folded(ref, glass, prior, rows, tables).arrays())
        jars = NormalDist(means[k], max(spreads[k], 1e-6))
        beliefs = (
            (found.means, found.joint.sum(axis=1)),
            (found.spreads, found.joint.sum(axis=0)),
            (prior.grid, found.new_jar),
        )
        truth = means[k], spreads[k], jars.inv_cdf(rng.uniform(1e-9, 1))
        places.append([np.interp(x * 1e-6, at, below(of)) for x, (at, of) in zip(truth, beliefs, strict=True)])
        shares.append(jars.cdf(found.jar[2] * 1e6) - jars.cdf(found.jar[1] * 1e6))
    return np.array(places), np.array(shares)


def within(places):
    """Share that lies in the middle nine tenths."""
    return float(np.mean(np.abs(places - 0.5) <= 0.45))


@pytest.mark.slow
@pytest.mark.parametrize("design", ["mixed", "thin", "standard"])
def test_truths_drawn_from_the_belief_before_lie_anywhere_in_the_belief_after(ref, design):
    """What a belief promises, and all it promises: mean, spread and a new jar lie evenly over their places from 0 to 1
    (Cook, Gelman and Rubin, J. Comput. Graph. Stat. 15 (2006) 675), and nine in ten within the band.

    Of 200 truths: Kolmogorov's distance from even below 1.95/√200, which even places exceed once in a thousand times;
    the bands hold 86 to 94 %, twice the binomial error of 2.1 % on either side.
    """
    places, shares = placed(ref, design, None, 200)
    even = np.arange(1, 201) / 200
    apart = [np.abs(np.sort(column) - even + 1 / 400).max() + 1 / 400 for column in places.T]
    print(f"{design}: distances {np.round(apart, 3)}, mean {within(places[:, 0]):.3f}, new jar {shares.mean():.3f}")
    assert max(apart) < 1.95 / 200**0.5
    assert 0.86 <= within(places[:, 0]) <= 0.94
    assert 0.86 <= shares.mean() <= 0.94


@pytest.mark.slow
@pytest.mark.parametrize(("design", "strips", "truths"), [("mixed", 0, 300), ("mixed", 1, 150), ("thin", 1, 150)])
def test_bands_hold_nine_in_ten_at_each_spread_where_the_spread_is_told(ref, design, strips, truths):
    """Twenty studios of 20 tiles: mixed builds alone, and either design with a strip of each jar. At 0.3, 0.6 and 1.0
    ppm/K the bands of mean and next jar hold 86 to 94 % of so many truths.

    A strip reads its jar whatever breaks the glass, while all one-face tiles of a jar share its strength.
    """
    for spread in (0.3, 0.6, 1.0):
        places, shares = placed(ref, design, spread, truths, strips=strips)
        print(f"{design}, {strips} strips, {spread}: mean {within(places[:, 0]):.3f}, new jar {shares.mean():.3f}")
        assert 0.86 <= within(places[:, 0]) <= 0.94
        assert 0.86 <= shares.mean() <= 0.94


def test_who_cannot_tell_the_spread_is_told_so(ref):
    """Few studios with thin builds alone, against as many with a strip of each jar."""
    glass = ref.glass(CLASS)
    tiles, strips = (class_learnt(ref, glass, rows_of(ref, "thin", 4, 20, strips=n)) for n in (0, 1))
    assert tiles.taught
    assert strips.taught
    assert [one.spread_told for one in (tiles, strips)] == [False, True]
    told = [" ".join(doubts_of(one)) for one in (tiles, strips)]
    assert ["hardly tell how far jars differ" in words for words in told] == [True, False]


@pytest.mark.slow
@pytest.mark.parametrize("design", ["mixed", "thin"])
def test_at_a_given_spread_bands_hold_more_where_jars_are_alike(ref, design):
    """Over all spreads they hold nine in ten, so where the tiles do not tell the spread they must hold more where it is
    small and less where it is large; the more the tiles tell, the less so."""
    shares = [placed(ref, design, spread, 60)[1].mean() for spread in (0.3, 0.6, 1.0)]
    print(f"{design}: at 0.3, 0.6 and 1.0 ppm/K {np.round(shares, 3)}")
    assert shares == sorted(shares, reverse=True)
    # Of 60 truths the error is some 2 %.
    assert shares[0] > 0.88


def test_a_lattice_sums_a_smooth_product_as_its_integral():
    """Product of cosines, of which the integral is a product of sines over their angles: within 3 in 10,000."""
    weights = (0.3, 0.21, 0.15, 0.12, 0.09, 0.06, 0.03, 0.015, 0.006, 0.003)
    angles = 4 * np.array(weights)
    for points in (128, 192, LATTICE):
        found = np.cos(angles[:, None] * lattice(weights, points)).prod(axis=0).mean()
        assert found == pytest.approx(np.prod(np.sin(angles) / angles), rel=3e-4)


def test_what_jars_share_is_averaged_as_many_jars_drawn_at_random_have_it(ref):
    """Chance to craze of the thin builds at 12 and 13 ppm/K, of 12,000 jars drawn by chance through the plate, with an
    error of 0.003: the lattice is within 0.01, and of 384 of the usual draws one build is further off."""
    glass, metal, count = ref.glass(CLASS), ref.metal("copper-sheet"), 12_000
    rng, grid = np.random.default_rng(5), np.array([12.0, 12.5, 13.0]) * 1e-6
    builds = simulate.DESIGNS["thin"]
    metals = simulate.drawn_metals(ref, builds, count, rng)
    jar = {n: simulate._drawn(glass.band(n), count, rng) for n in ("set_point", "youngs_modulus", "poisson_ratio")}
    strength = from_band(rng.uniform(size=count), *STRENGTH_MPA) * duration_factor(HOURS_FOR_GOOD) * 1e6
    off = {True: [], False: []}
    for build in builds:
        key, metal_mm, front, _ = build
        for even in off:
            plates = Foretold(glass, [metal], grid, LATTICE if even else 384, even)
            told = plates.tile(key, 0.8e-3, front / metal_mm * 0.8e-3, 0.0)
            crazed = np.exp(log_chances(told, np.zeros(1), kinds=("crazed",))["crazed"]).mean(axis=(0, 1))
            for place in (0, 2):
                jars = np.full(count, grid[place])
                due = simulate.true_chances(ref, build, jars, jar, metals[key], strength)[1].mean()
                off[even].append(abs(crazed[place] - due))
    assert max(off[True]) < 0.01
    assert max(off[False]) > 0.015


def test_finer_grids_give_the_same_bands(ref, monkeypatch):
    """Twice the means and four times the spreads: each end of mean and next jar within 0.06 ppm/K."""
    prior = pool_prior(ref.glass(CLASS))
    for design, seed in (("mixed", 1), ("thin", 2)):
        given = Folded(ref, ref.glass(CLASS), prior, rows_of(ref, design, seed, 20)).arrays()
        coarse = pool(prior, *given)
        with monkeypatch.context() as finer:
            for name, count in (("_MEANS", 121), ("_SPREADS", 80)):
                finer.setattr(f"refdb.science.inference.pooled.{name}", count)
            fine = pool(prior, *given)
        for a, b in ((coarse.mean, fine.mean), (coarse.jar, fine.jar), (coarse.spread, fine.spread)):
            assert np.array(a) * 1e6 == pytest.approx(np.array(b) * 1e6, abs=0.06)


def test_most_bands_hold_the_truth(ref):
    """A short form of the slow test: nine in ten reach less than 24 of 32 once in two hundred times."""
    places, shares = placed(ref, "mixed", 0.6, 32, count=10)
    assert min(within(places[:, 0]), shares.mean()) >= 24 / 32


def test_more_studios_know_the_mean_better(ref):
    """Standard deviations of 5, 20, 50 and 100 studios of 20 tiles: at most 0.53, 0.36, 0.21 and 0.15 ppm/K."""
    glass = ref.glass(CLASS)
    prior, tables = pool_prior(glass), {}
    for count, most in ((5, 0.53), (20, 0.36), (50, 0.21), (100, 0.15)):
        found = [
            pool(prior, *Folded(ref, glass, prior, rows_of(ref, "mixed", seed, count), tables).arrays())
            for seed in (1, 2, 3)
        ]
        assert np.mean([f.mean_deviation for f in found]) < most * 1e-6


def test_the_standard_build_teaches_nothing_and_the_build_to_fire_is_another(ref):
    learnt = class_learnt(ref, ref.glass(CLASS), rows_of(ref, "standard", 3, 50))
    assert not learnt.taught
    assert "Nothing to speak of was learnt: the class's own band stays in verdicts." in doubts_of(learnt)
    assert learnt.next_build.back_mm == 0
    assert learnt.next_build.gain_bit > 20 * learnt.next_build.standard_bit
    taught = class_learnt(ref, ref.glass(CLASS), rows_of(ref, "thin", 3, 50))
    assert taught.taught
    assert taught.pooled.mean_deviation < 0.4 * learnt.pooled.mean_deviation


@pytest.mark.parametrize("seed", range(4))
def test_a_liar_among_ten_is_found_and_hardly_moves_the_class(ref, seed):
    """By less than 0.1 ppm/K; and of ten honest studios none is called unlike the others."""
    glass = ref.glass(CLASS)
    rows = rows_of(ref, "mixed", seed, 10, liars=1)
    learnt = class_learnt(ref, glass, rows)
    honest = class_learnt(ref, glass, rows_of(ref, "mixed", seed, 10))
    assert len(learnt.unlike) == 1
    liar = learnt.unlike[0][0]
    truthful = class_learnt(ref, glass, [r for r in rows if r.studio != liar])
    assert abs(learnt.pooled.mean[0] - truthful.pooled.mean[0]) < 0.1e-6
    assert honest.unlike == ()


def test_what_the_model_does_not_know_is_told_where_it_shows(ref):
    """Tiles that craze for the kiln's sake contradict it; set points 30 K up hardly move the mean."""
    glass = ref.glass(CLASS)
    usual = class_learnt(ref, glass, rows_of(ref, "mixed", 5, 50))
    cool = class_learnt(ref, glass, rows_of(ref, "mixed", 5, 50, cool_kilns=0.15))
    high = class_learnt(ref, glass, rows_of(ref, "mixed", 5, 50, set_k=30))
    weak = class_learnt(ref, glass, rows_of(ref, "mixed", 5, 50, strength_mpa=-8))
    moved = [abs(x.pooled.mean[0] - usual.pooled.mean[0]) * 1e6 for x in (cool, high, weak)]
    print(moved, [len(x.contradicting) for x in (usual, cool, high, weak)])
    assert usual.contradicting == ()
    assert cool.contradicting
    # Of a kiln that crazes a seventh of all tiles, where the build is told; a smaller least spread moves it by 0.07.
    assert max(moved) < 0.85


def test_a_studio_whose_kiln_is_hard_on_glass_stands_out(ref):
    """Eight jars of it craze at 20 MPa less. Of studios that are alike none stands out, and one jar tells nothing."""
    glass = ref.glass(CLASS)
    odd, alike = (
        class_learnt(ref, glass, rows_of(ref, "mixed", 0, 32, jars=8, shift_mpa=0.0, odd_jars=n)) for n in (8, 0)
    )
    assert len(odd.standing_out) == 1
    assert alike.standing_out == ()
    assert odd.standing_out[0][2] < 0
    one = class_learnt(ref, glass, rows_of(ref, "mixed", 0, 10))
    assert one.pooled.shift_pa[:, 2] - one.pooled.shift_pa[:, 1] == pytest.approx(2 * 1.645 * 3e6, rel=0.1)


def test_tiles_of_no_tension_and_of_unknown_metals_are_counted_not_weighed(ref):
    rows = rows_of(ref, "thin", 1, 3, 4)
    more = [
        replace(rows[0], row="0" * 12, outcome="cloudy"),
        replace(rows[0], row="1" * 12, kind="firing", outcome="gloss"),
    ]
    learnt = class_learnt(ref, ref.glass(CLASS), [*rows, *more])
    assert (learnt.tiles, learnt.silent) == (12, 2)
    assert learnt.pooled.joint == pytest.approx(class_learnt(ref, ref.glass(CLASS), rows).pooled.joint)


def test_a_strip_tells_of_its_jar(ref):
    """A strip of one jar narrows the class more than a sound tile does, and towards what the strip gives alone."""
    tile = rows_of(ref, "thin", 1, 1, 1)[0]
    strip = replace(
        tile, kind="strip", metal_mm=0.5, front_mm=0.3, back_mm=None, outcome=None, length_mm=100.0, bow_mm=4.0
    )
    glass = ref.glass(CLASS)
    learnt = class_learnt(ref, glass, [strip])
    assert learnt.strips == 1
    assert learnt.pooled.mean_deviation < class_learnt(ref, glass, [tile]).pooled.mean_deviation
    impossible = class_learnt(ref, glass, [replace(strip, bow_mm=-900.0)])
    assert impossible.strips == 0
    assert impossible.left_out


@pytest.mark.parametrize(
    ("metal_mm", "coat_mm", "length_mm", "bow_mm"),
    [
        (0.5, 0.3, 100.0, 4.0),
        (0.65, 0.3, 100.0, 4.0),
        (0.8, 0.3, 80.0, 1.0),
        (0.3, 0.2, 60.0, 2.0),
        (0.5, 0.3, 100.0, 8.0),
    ],
)
def test_a_shared_strip_says_what_the_strip_test_says(ref, metal_mm, coat_mm, length_mm, bow_mm):
    """Against the strip test, which cools each strip by itself in draws of its own: the middle within 0.15 ppm/K, the
    ends within 0.2."""
    glass, metal = ref.glass(CLASS), ref.metal("copper-sheet")
    row = replace(
        rows_of(ref, "thin", 1, 1, 1)[0], kind="strip", metal_mm=metal_mm, front_mm=coat_mm, back_mm=None, outcome=None,
        length_mm=length_mm, bow_mm=bow_mm,
    )  # fmt: skip
    grid = pool_prior(glass).grid
    logs = StripTables(glass, {metal.key: metal}, grid).log_likelihood(row).astype(float)
    density = np.exp(logs - logs.max()).mean(axis=0)
    measured = Measured(Band.exact(metal_mm / 1e3), Band.exact(coat_mm / 1e3), length_mm / 1e3, bow_mm / 1e3)
    alone = read_strips([strip_of(glass, metal, measured, glass)[0]], with_advice=False).triple
    found = np.array(band_of_density(grid, density / density.sum())) - alone
    assert abs(found[0]) < 0.15e-6
    assert np.abs(found[1:]).max() < 0.2e-6
