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
    expected_gain,
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
STRENGTH = 13.05e6


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
    return FiredTile(outcome, worst, np.asarray(contraction_gap_ppm(copper_strain, grid, 510.0)), STRENGTH)


def shared(outcome, draws, slope=6e12, seed=0):
    """A tile whose tension is drawn, together with those of the same seed."""
    middles = 13e-6 + 1.5e-6 * np.random.default_rng(seed).standard_normal(draws)
    tension = slope * (PER_K - middles[:, None])
    return FiredTile(outcome, tension, np.full_like(tension, -1e5), np.full(draws, STRENGTH))


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


def test_what_tiles_share_is_averaged_over_as_the_closed_form_says():
    """A toy: the first tile tells which of two strengths a jar has, and only so does it bear on the second tile.

    One expansion makes a tile of no tension, the other one of 20 MPa; strength is 0 or 40 MPa, even odds. Worked by
    hand with c = logistic((tension − strength)/width): of outcomes (crazed, sound) the odds are Σ c₁(1−c₂) over both
    strengths, each at its expansion; averages multiplied would give other odds.
    """
    by = Chances(tension_width_pa=5e6, slip=1e-12)
    grid, strength = np.array([10e-6, 12e-6]), np.array([0.0, 40e6])
    none = np.full((2, 2), -1e9)
    first = FiredTile("crazed", np.full((2, 2), 20e6), none, strength)
    second = FiredTile("sound", np.array([[0.0, 20e6]] * 2), none, strength)
    found = expansion_from_tiles(grid, [1, 1], [first, second], by)

    def c(tension, strong):
        return 1 / (1 + math.exp(-(tension - strong) / 5.0))

    by_hand = [sum(c(20, s) * (1 - c(t, s)) for s in (0, 40)) for t in (0, 20)]
    assert found.posterior == pytest.approx(np.array(by_hand) / sum(by_hand), rel=1e-9)
    draws = [[c(20, s) * (1 - c(t, s)) for t in (0, 20)] for s in (0, 40)]
    assert found.by_draw == pytest.approx(np.array(draws) / np.sum(draws, axis=0), rel=1e-9)
    apart = [sum(1 - c(t, s) for s in (0, 40)) for t in (0, 20)]
    assert abs(found.posterior[0] - apart[0] / sum(apart)) > 0.1
    assert found.told == 1


def test_alike_normal_tiles_that_share_a_shift_are_the_closed_form():
    """Many tiles pin the expansion less a normal shift that they share, and no more than that.

    So the deviation of the belief after nears 1/√(1/τ² + 1/σ²) of the shift's σ and the prior's τ; of tiles weighed as
    if nothing were shared it would be a small part of that.
    """
    draws, shift, prior_wide = 256, 1.5e-6, 2e-6
    middles = 13e-6 + shift * np.array([NormalDist().inv_cdf((k + 0.5) / draws) for k in range(draws)])
    tension = 40e12 * (PER_K - middles[:, None])
    none, strong = np.full((draws, len(PER_K)), -1e9), np.zeros(draws)
    tiles = [FiredTile(w, tension, none, strong) for w in ("crazed", "sound") * 20]
    found = expansion_from_tiles(PER_K, normal_prior(PER_K, 13e-6, prior_wide), tiles)
    spread = math.sqrt(found.posterior @ (PER_K - found.posterior @ PER_K) ** 2)
    assert spread == pytest.approx((shift**-2 + prior_wide**-2) ** -0.5, rel=0.05)
    alone = expansion_from_tiles(
        PER_K, found.prior, [FiredTile(t.outcome, 40e12 * (PER_K - 13e-6), none[0], 0.0) for t in tiles]
    )
    assert alone.after[2] - alone.after[1] < 0.2 * (found.after[2] - found.after[1])


@given(st.lists(st.sampled_from(["sound", "crazed"]), min_size=2, max_size=8), st.integers(1, 7))
@settings(max_examples=20, deadline=None)
def test_tiles_counted_before_still_tell_which_draws_are_likely(words, cut):
    """One after another is all at once, though what they share was averaged out in between."""
    tiles = [shared(w, 16, slope=(6e12, 9e12)[k % 2]) for k, w in enumerate(words)]
    prior = normal_prior(PER_K, 13e-6, 2e-6)
    earlier = tiles[:cut]
    kept = expansion_from_tiles(PER_K, prior, earlier).posterior
    one_by_one = expansion_from_tiles(PER_K, kept, tiles[cut:], counted=earlier)
    at_once = expansion_from_tiles(PER_K, prior, tiles)
    assert one_by_one.posterior == pytest.approx(at_once.posterior, rel=1e-6, abs=1e-12)
    assert one_by_one.by_draw == pytest.approx(at_once.by_draw, rel=1e-6, abs=1e-12)


def test_one_draw_is_no_draw():
    apart = [tile("crazed", back_mm=0.3), tile("sound")]
    one = [FiredTile(t.outcome, t.tension_pa[None], t.gap_ppm[None], np.array([STRENGTH])) for t in apart]
    prior = normal_prior(PER_K, 13e-6, 2e-6)
    assert expansion_from_tiles(PER_K, prior, one).posterior == pytest.approx(
        expansion_from_tiles(PER_K, prior, apart).posterior
    )


def test_the_gain_of_a_tile_is_the_mean_fall_of_entropy():
    """Worked the other way round: over its outcomes, the mean Kullback-Leibler divergence of after from before."""
    belief = expansion_from_tiles(PER_K, normal_prior(PER_K, 13e-6, 2e-6), [shared("crazed", 16)])
    due = 0.0
    for word in ("sound", "crazed", "chipped"):
        one = shared(word, 16, slope=9e12)
        after = expansion_from_tiles(PER_K, belief.posterior, [one], counted=[shared("crazed", 16)])
        logs = np.exp(fit_log_likelihood(one))
        chance = float(((belief.by_draw * logs).sum(axis=0)) @ belief.posterior)
        due += chance * float((after.posterior * np.log2(after.posterior / belief.posterior)).sum())
    assert expected_gain(belief, shared("", 16, slope=9e12)) == pytest.approx(due, rel=1e-9)
    assert expected_gain(belief, shared("", 16, slope=0.0)) == pytest.approx(0.0, abs=1e-9)
    # A tile told of by nothing but what it shares tells nothing of the expansion, however surely it crazes.
    sharp = normal_prior(PER_K, 13e-6, 1e-8)
    told = expansion_from_tiles(PER_K, sharp, [])
    assert expected_gain(told, tile("")) < 1e-3


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
    tiles = [FiredTile(w, tension(grid), gap(grid), STRENGTH) for w in seen]
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
    at_once = expansion_from_tiles(PER_K, prior, [FiredTile(w, tension, gap, STRENGTH) for w in order])
    belief = prior
    for word in order:
        belief = expansion_from_tiles(PER_K, belief, [FiredTile(word, tension, gap, STRENGTH)]).posterior
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
    kinds = [("crazed", t, -1e5) for t in (13.05e6, 0.0)] + [("chipped", -1e9, g) for g in (6000, 4500)]
    found = [math.exp(fit_log_likelihood(FiredTile(w, n + t, n + g, STRENGTH), by)[0]) for w, t, g in kinds]
    assert found == pytest.approx([0.5, 0.05, 0.5, 0.047], abs=2e-3)


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
        lambda: expansion_from_tiles(PER_K, np.ones(len(PER_K)), [FiredTile("sound", PER_K[:3], PER_K[:3], 1e7)]),
        lambda: expansion_from_tiles(
            PER_K, np.ones(len(PER_K)), [shared("sound", 3), FiredTile("sound", PER_K, PER_K, np.ones(4))]
        ),
    ],
)
def test_what_cannot_be_is_said_in_one_line(wrong):
    with pytest.raises(BadInput) as caught:
        wrong()
    assert "\n" not in caught.value.line
