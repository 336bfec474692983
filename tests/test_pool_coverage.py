"""Studios made up from a known truth by `scripts/simulate_pool.py`: intervals of the pool hold it, and shrink.

The truth is drawn continuously and goes through the plate one jar at a time; the pool knows its few shared draws and
its grids. The class's mean is drawn from the belief before.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from refdb.judge.own.pooling import Folded, class_learnt, pool_prior
from refdb.science.inference.pooled import pool
from refdb.store.reference import Reference

CLASS = "clear-hard-lead-free"
_FILE = Path(__file__).resolve().parent.parent / "scripts/simulate_pool.py"
_SPEC = importlib.util.spec_from_file_location("simulate_pool", _FILE)
simulate = importlib.util.module_from_spec(_SPEC)
sys.modules["simulate_pool"] = simulate
_SPEC.loader.exec_module(simulate)


@pytest.fixture(scope="module")
def ref(store):
    with Reference(store) as found:
        yield found


def rows_of(ref, design, seed, count=20, tiles=20, **truth):
    rng = np.random.default_rng(seed)
    return simulate.studios(ref, CLASS, simulate.Truth(**truth), count, tiles, simulate.DESIGNS[design], rng)


def covered(ref, design, spread, truths, count=20, seed=11):
    """Share of truths whose mean lies in its nine-in-ten band, and how many jars of them lie in theirs; None draws the
    spread. Of a truth the share of its jars within the band is known, so that no jar has to be drawn.
    """
    glass = ref.glass(CLASS)
    prior, tables = pool_prior(glass), {}
    rng = np.random.default_rng(seed)
    below = np.cumsum(prior.mean) / prior.mean.sum()
    # Every slice of the belief before is there once, so that chance in the truth does not blur the share.
    means = rng.permutation(np.interp((np.arange(truths) + 0.5) / truths, below, prior.grid)) * 1e6
    if spread is None:
        spreads = rng.permutation([NormalDist().inv_cdf(0.5 + (k + 0.5) / truths / 2) for k in range(truths)])
    else:
        spreads = np.full(truths, spread)
    of_mean = of_jar = 0.0
    for k in range(truths):
        rows = rows_of(ref, design, 1000 * seed + k, count, mean=means[k], spread=spreads[k])
        found = pool(prior, *Folded(ref, glass, prior, rows, tables).arrays())
        mean, jar = (np.array(x) * 1e6 for x in (found.mean, found.jar))
        of_mean += mean[1] <= means[k] <= mean[2]
        jars = NormalDist(means[k], max(spreads[k], 1e-6))
        of_jar += jars.cdf(jar[2]) - jars.cdf(jar[1])
    return of_mean / truths, of_jar / truths


@pytest.mark.slow
@pytest.mark.parametrize("design", ["mixed", "thin", "standard"])
def test_nine_in_ten_bands_of_mean_and_new_jar_hold_the_truth(ref, design):
    """86 to 94 % of 200 truths, mean and spread drawn from the belief before: what such a band promises.

    Of 400 truths it was 90, 89 and 91 % for a new jar, each within 0.7 %, and 90, 91 and 91 % for the mean.
    """
    mean, jar = covered(ref, design, None, 200)
    print(f"{design}: mean {mean:.3f}, new jar {jar:.3f}")
    assert 0.86 <= mean <= 0.94
    assert 0.86 <= jar <= 0.94


#: Of a new jar, at a given spread [ppm/K], from 400 truths, each within 1 %.
GIVEN = {("mixed", 0.3): 0.933, ("mixed", 1.0): 0.865, ("thin", 0.3): 0.990, ("thin", 0.6): 0.924, ("thin", 1.0): 0.821}


@pytest.mark.slow
@pytest.mark.parametrize(("design", "spread"), GIVEN)
def test_at_a_given_spread_the_bands_hold_what_they_held(ref, design, spread):
    """A band that is right over all spreads that are believed in holds more where jars are alike, and less where they
    differ much, as long as the tiles do not tell which: thin builds alone, and the standard one, hardly do.

    100 truths, within 3 % of what 400 gave; the mean's never below 84 %, which nine in ten miss once in forty times.
    """
    mean, jar = covered(ref, design, spread, 100)
    print(f"{design}, spread {spread}: mean {mean:.3f}, new jar {jar:.3f}")
    assert mean >= 0.84
    assert jar == pytest.approx(GIVEN[design, spread], abs=0.03)


def test_most_bands_hold_the_truth(ref):
    """A short form of the slow test: nine in ten reach less than 24 of 32 once in two hundred times."""
    mean, jar = covered(ref, "mixed", 0.6, 32, count=10)
    assert min(mean, jar) >= 24 / 32


def test_more_studios_know_the_mean_better(ref):
    """Standard deviations of 5, 20, 50 and 100 studios of 20 tiles: at most 0.62, 0.40, 0.24 and 0.17 ppm/K."""
    glass = ref.glass(CLASS)
    prior, tables = pool_prior(glass), {}
    for count, most in ((5, 0.62), (20, 0.40), (50, 0.24), (100, 0.17)):
        found = [
            pool(prior, *Folded(ref, glass, prior, rows_of(ref, "mixed", seed, count), tables).arrays())
            for seed in (1, 2, 3)
        ]
        assert np.mean([f.mean_deviation for f in found]) < most * 1e-6


def test_the_standard_build_teaches_nothing_and_the_build_to_fire_is_another(ref):
    learnt = class_learnt(ref, ref.glass(CLASS), rows_of(ref, "standard", 3, 50))
    assert not learnt.taught
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
    from dataclasses import replace

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
    from dataclasses import replace

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
