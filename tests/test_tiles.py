"""Fired tiles: the update against closed forms and against integrals worked out without it."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.science.expansion import contraction_gap_ppm, glass_strain
from refdb.science.inference.tiles import (
    Chances,
    FiredTile,
    Firing,
    expansion_from_tiles,
    fit_log_likelihood,
    heat_log_likelihood,
    kiln_offset,
    normal_prior,
    summary,
    update,
)
from refdb.science.plate import cool_many
from refdb.science.plate.layers import ByPlate, HardeningYield, Plates

PER_K = np.linspace(6e-6, 20e-6, 561)
OFFSETS = np.linspace(-80.0, 80.0, 641)


def copper_strain(temp_c):
    return 17.8e-6 * (np.asarray(temp_c) - 20.0)


def tile(outcome, metal_mm=0.65, front_mm=0.3, back_mm=0.0, grid=PER_K):
    """A copper tile with its tension and gap from the plate."""
    n = len(grid)
    ones = np.ones(n)
    curve = ByPlate(glass_strain, (grid,))
    plates = Plates(
        ("back", "copper", "front"),
        np.outer(ones, [back_mm, metal_mm, front_mm]) * 1e-3,
        np.outer(ones, [68e9, 117e9, 68e9]),
        np.outer(ones, [0.22, 0.34, 0.22]),
        (curve, copper_strain, curve),
        np.outer(ones, [510.0, np.nan, 510.0]),
        (None, HardeningYield(42e6, 2e9, 0.7), None),
    )
    done = cool_many(plates, step_k=20.0)
    worst = np.maximum(done.bottom_pa[:, 2], done.top_pa[:, 2])
    return FiredTile(outcome, worst, np.asarray(contraction_gap_ppm(copper_strain, grid, 510.0)))


@given(st.floats(-3, 3), st.floats(0.3, 2), st.lists(st.tuples(st.floats(-3, 3), st.floats(0.3, 2)), max_size=4))
@settings(max_examples=60, deadline=None)
def test_normal_beliefs_and_normal_data_are_the_conjugate_closed_form(mean, deviation, data):
    """Closed form (Gelman and others 2013, section 2.5): precisions add and means weigh by them; to 1e-3."""
    grid = np.linspace(-25, 25, 10001)
    found = update(grid, normal_prior(grid, mean, deviation), [-0.5 * ((grid - x) / s) ** 2 for x, s in data])
    precision = deviation**-2 + sum(s**-2 for _, s in data)
    middle = (mean * deviation**-2 + sum(x * s**-2 for x, s in data)) / precision
    wanted = NormalDist(middle, precision**-0.5)
    assert found.after == pytest.approx((middle, wanted.inv_cdf(0.05), wanted.inv_cdf(0.95)), abs=1e-3)
    assert found.told == len(data)
    assert found.prior.sum() == pytest.approx(1)
    assert found.posterior.sum() == pytest.approx(1)


def simpson(function, low, high, parts=4000):
    """Composite rule, in plain Python."""
    step = (high - low) / parts
    inner = sum((4 if k % 2 else 2) * function(low + k * step) for k in range(1, parts))
    return step / 3 * (function(low) + inner + function(high))


def test_a_kiln_offset_agrees_with_integrals_worked_out_in_plain_python():
    """Simpson's rule over the written-out formulas: the share below each end of the interval, to 1e-3."""
    seen = [("under-fired", 760.0), ("sound", 800.0), ("sound", 790.0), ("over-fired", 825.0)]
    low, high, width, slip = 780.0, 815.0, 8.0, 0.05

    def density(k):
        whole = math.exp(-0.5 * ((k + 5) / 20) ** 2)
        for outcome, setting in seen:
            u = 1 / (1 + math.exp((setting + k - low) / width))
            o = 1 / (1 + math.exp((high - setting - k) / width))
            p = {"under-fired": u, "over-fired": o, "sound": 1 - u - o}[outcome]
            whole *= (1 - slip) * p + slip / 3
        return whole

    found = kiln_offset(OFFSETS, normal_prior(OFFSETS, -5, 20), [Firing(o, s, low, high) for o, s in seen])
    total = simpson(density, -80, 80)
    for share, end in zip((0.5, 0.05, 0.95), found.after, strict=True):
        assert simpson(density, -80, end) / total == pytest.approx(share, abs=1e-3)


def test_an_expansion_agrees_with_integrals_worked_out_in_plain_python():
    """Simpson's rule over the written-out formulas, tension and gap straight in expansion: to 1e-3."""

    def tension(ppm):
        return 6e6 * (ppm - 13)

    def gap(ppm):
        return 490 * (17.8 - ppm) * 1.5

    seen = ["sound", "crazed", "sound", "chipped", "cloudy"]

    def density(ppm):
        c = 1 / (1 + math.exp(-(tension(ppm) - 13.05e6) / 4.4e6))
        h = 1 / (1 + math.exp(-(gap(ppm) - 6000) / 500))
        p = {"sound": (1 - c) * (1 - h), "crazed": c * (1 - h) + c * h / 2, "chipped": h * (1 - c) + c * h / 2}
        whole = math.exp(-0.5 * ((ppm - 12.5) / 1.5) ** 2)
        for word in seen:
            whole *= 0.95 * p[word] + 0.05 / 3 if word in p else 1.0
        return whole

    grid = PER_K * 1e6
    tiles = [FiredTile(w, tension(grid), gap(grid)) for w in seen]
    found = expansion_from_tiles(PER_K, normal_prior(PER_K, 12.5e-6, 1.5e-6), tiles)
    assert found.told == 4
    total = simpson(density, 6, 20)
    for share, end in zip((0.5, 0.05, 0.95), found.after, strict=True):
        assert simpson(density, 6, end * 1e6) / total == pytest.approx(share, abs=1e-3)


def test_chances_of_all_outcomes_sum_to_one():
    fit = sum(np.exp(fit_log_likelihood(tile(o))) for o in ("sound", "crazed", "chipped"))
    assert fit == pytest.approx(np.ones(len(PER_K)))
    heat = sum(
        np.exp(heat_log_likelihood(Firing(o, 790.0, 780.0, 782.0), OFFSETS))
        for o in ("sound", "under-fired", "over-fired")
    )
    assert heat == pytest.approx(np.ones(len(OFFSETS)))


def test_a_crazed_tile_raises_the_expansion_of_a_jar_and_a_chipped_one_lowers_it():
    """Coated on both faces, copper stretches glass of high expansion and squeezes off glass of low."""
    prior = normal_prior(PER_K, 14e-6, 3e-6)

    def after(outcome, **build):
        return expansion_from_tiles(PER_K, prior, [tile(outcome, **build)]).after

    plain = summary(PER_K, prior)
    both = {"back_mm": 0.3}
    assert after("crazed", **both)[0] > plain[0] + 0.5e-6
    assert after("chipped", **both)[0] < plain[0] - 0.5e-6
    _, low, high = after("sound", **both)
    assert high < plain[2]
    assert high - low < plain[2] - plain[1]


def test_one_face_on_thin_copper_crazes_by_bending_and_says_so():
    """On thin soft copper a hard clear on one face is stretched at its surface: crazing then lowers the expansion."""
    prior = normal_prior(PER_K, 13e-6, 1.5e-6)
    bent = expansion_from_tiles(PER_K, prior, [tile("crazed", metal_mm=0.4)] * 2)
    assert bent.after[0] < summary(PER_K, prior)[0]


def test_words_that_do_not_bear_on_it_change_nothing():
    prior = normal_prior(PER_K, 12.5e-6, 1e-6)
    silent = expansion_from_tiles(PER_K, prior, [tile(w) for w in ("cloudy", "burnt", "crawled", "bubbled")])
    assert silent.told == 0
    assert silent.posterior == pytest.approx(silent.prior)
    assert kiln_offset(OFFSETS, np.ones(len(OFFSETS)), [Firing("chipped", 800, 780, 815)]).told == 0


@given(st.integers(0, 5), st.integers(0, 5), st.floats(760, 830))
@settings(max_examples=30, deadline=None)
def test_more_under_fired_tiles_make_a_colder_kiln(under, more, setting_c):
    prior = normal_prior(OFFSETS, 0, 20)
    few = kiln_offset(OFFSETS, prior, [Firing("under-fired", setting_c, 780, 815)] * under)
    many = kiln_offset(OFFSETS, prior, [Firing("under-fired", setting_c, 780, 815)] * (under + more))
    assert many.after[0] <= few.after[0] + 1e-9
    over = kiln_offset(OFFSETS, prior, [Firing("over-fired", setting_c, 780, 815)] * (under + more))
    assert over.after[0] >= few.before[0] - 1e-9


@given(st.permutations(["sound", "crazed", "chipped", "sound", "cloudy"]))
@settings(max_examples=10, deadline=None)
def test_the_order_of_tiles_does_not_matter_and_one_by_one_is_all_at_once(order):
    prior = normal_prior(PER_K, 13e-6, 2e-6)
    tension, gap = 6e12 * (PER_K - 13e-6), 735e6 * (17.8e-6 - PER_K)
    at_once = expansion_from_tiles(PER_K, prior, [FiredTile(w, tension, gap) for w in order])
    belief = prior
    for word in order:
        belief = expansion_from_tiles(PER_K, belief, [FiredTile(word, tension, gap)]).posterior
    assert belief == pytest.approx(at_once.posterior, rel=1e-9, abs=1e-15)


def test_many_tiles_find_a_kiln_that_is_off():
    """Tiles made up by the model itself at an offset of 22 K: the interval of sixty holds it and is narrow."""
    rng = np.random.default_rng(5)
    firings = []
    for setting in rng.uniform(740, 840, 60):
        chance = [
            float(np.exp(heat_log_likelihood(Firing(o, setting, 780, 815), np.array([22.0])))[0])
            for o in ("under-fired", "sound", "over-fired")
        ]
        firings.append(Firing(str(rng.choice(["under-fired", "sound", "over-fired"], p=chance)), setting, 780, 815))
    found = kiln_offset(OFFSETS, normal_prior(OFFSETS, 0, 30), firings)
    _, low, high = found.after
    assert low <= 22 <= high
    assert high - low < 15
    assert found.before[2] - found.before[1] > 90


def test_nine_in_ten_intervals_of_the_kiln_hold_the_truth():
    """Offsets from the prior and tiles from the likelihood: 86 to 94 % of 500 intervals of five tiles."""
    rng = np.random.default_rng(3)
    words, prior, hits = ("under-fired", "sound", "over-fired"), normal_prior(OFFSETS, 0, 20), 0
    for true in rng.normal(0, 20, 500):
        firings = []
        for setting in rng.uniform(760, 830, 5):
            chance = [
                float(np.exp(heat_log_likelihood(Firing(o, setting, 780, 815), np.array([true])))[0]) for o in words
            ]
            firings.append(Firing(str(rng.choice(words, p=chance)), setting, 780, 815))
        _, low, high = kiln_offset(OFFSETS, prior, firings).after
        hits += low <= true <= high
    assert 0.86 <= hits / 500 <= 0.94, hits


def test_one_odd_tile_among_many_does_not_overthrow_them():
    prior = normal_prior(PER_K, 13e-6, 2e-6)
    sound = [tile("sound", back_mm=0.3)] * 12
    odd = expansion_from_tiles(PER_K, prior, [*sound, tile("chipped", back_mm=0.3)]).after
    assert odd[0] == pytest.approx(expansion_from_tiles(PER_K, prior, sound).after[0], abs=1e-6)


def test_chances_at_their_middles_are_as_said():
    """By hand: even at the middle, and about one in twenty at no tension and at 4500 ppm."""
    by = Chances(slip=1e-9)
    n = np.array([0.0])
    crazed = [math.exp(fit_log_likelihood(FiredTile("crazed", n + t, n - 1e5), by)[0]) for t in (13.05e6, 0.0)]
    assert crazed == pytest.approx([0.5, 0.05], abs=2e-3)
    chipped = [math.exp(fit_log_likelihood(FiredTile("chipped", n - 1e9, n + g), by)[0]) for g in (6000, 4500)]
    assert chipped == pytest.approx([0.5, 0.047], abs=2e-3)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: update([1.0, 1.0], [1, 1], []),
        lambda: update([1.0], [1], []),
        lambda: update([1.0, 2.0], [1, -1], []),
        lambda: update([1.0, 2.0], [0, 0], []),
        lambda: update([1.0, 2.0], [1, 1], [[0.0]]),
        lambda: update([1.0, 2.0], [1, 1], [[math.nan, 0.0]]),
        lambda: update([1.0, 2.0], [1, 0], [[-math.inf, 0.0]]),
        lambda: normal_prior([1.0, 2.0], 0.0, 0.0),
        lambda: normal_prior([1.0, 2.0], math.nan, 1.0),
        lambda: heat_log_likelihood(Firing("sound", 800, 815, 780), OFFSETS),
        lambda: fit_log_likelihood(tile("sound"), Chances(slip=0.0)),
        lambda: expansion_from_tiles(PER_K, np.ones(len(PER_K)), [FiredTile("sound", PER_K[:3], PER_K[:3])]),
    ],
)
def test_what_cannot_be_is_said_in_one_line(wrong):
    with pytest.raises(BadInput) as caught:
        wrong()
    assert "\n" not in caught.value.line
