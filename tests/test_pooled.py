"""The hierarchical model on its grid: against closed forms, a general sampler, and what must not matter."""

from __future__ import annotations

import math
import os

import numpy as np
import pytest

from refdb.errors import BadInput
from refdb.science.inference.jar_chances import jar_log_likelihood, log_chances
from refdb.science.inference.pooled import Prior, at_jars, expected_gain, moved_by, pool, prior_only
from refdb.science.inference.tiles import FiredTile

GRID = np.arange(6.0, 20.001, 0.1)


def plain(**more):
    """Mean 13.3 ± 0.85, no shift and no bad rows, in ppm/K."""
    weights = np.exp(-0.5 * ((GRID - 13.3) / 0.85) ** 2)
    return Prior(GRID, weights, **({"spread": 1.0, "least_spread": 0.1, "most_spread": 3.0, "shift_pa": 0.0,
                                    "stray_jars": 0.0, "careless_studios": 0.0} | more))  # fmt: skip


def measured(y, sd, shifts=(0.0,), slope=0.0):
    """Log-likelihood of jars that were measured with a normal error, moved by the studio's shift."""
    return np.stack([[-0.5 * ((GRID + slope * d - one) / sd) ** 2 for d in shifts] for one in y])


@pytest.mark.parametrize(("count", "sd"), [(3, 0.5), (20, 0.4), (300, 0.3)])
def test_measured_jars_give_the_closed_form_of_the_conjugate_normal(count, sd):
    """At each spread the mean is normal, with the precisions added: middle within 2 %, width within 3 %.

    And the weight of each spread is that of its marginal likelihood (Gelman and others, section 5.4), the total
    variation below 2 %.
    """
    rng = np.random.default_rng(count)
    y = 13 + 0.6 * rng.standard_normal(count) + sd * rng.standard_normal(count)
    found = pool(plain(), measured(y, sd), np.arange(count), np.zeros(count))
    logs = []
    for k, tau in enumerate(found.spreads):
        v = tau**2 + sd**2
        precision = 1 / 0.85**2 + count / v
        middle = (13.3 / 0.85**2 + y.sum() / v) / precision
        column = found.joint[:, k] / found.joint[:, k].sum()
        mean = column @ found.means
        deviation = math.sqrt(column @ (found.means - mean) ** 2)
        if found.joint[:, k].sum() > 1e-3:
            assert mean == pytest.approx(middle, abs=0.02 / math.sqrt(precision))
            assert deviation == pytest.approx(1 / math.sqrt(precision), rel=0.03)
        covariance = v * np.eye(count) + 0.85**2
        apart = y - 13.3
        logs.append(
            -0.5 * (apart @ np.linalg.solve(covariance, apart) + np.linalg.slogdet(covariance)[1]) - 0.5 * tau**2
        )
    logs = np.array(logs)
    step = np.gradient(found.spreads)
    step[[0, -1]] /= 2
    due = np.exp(logs - logs.max()) * step
    assert np.abs(found.joint.sum(axis=0) - due / due.sum()).sum() / 2 < 0.02


def test_jars_of_one_studio_share_its_shift():
    """Linear and normal: the variance by matrices, within 3 %; one shared shift leaves more than as many studios do."""
    prior = plain(shift_pa=3.0)
    nodes, slope, sd, jars = prior.shifts[0], 0.15, 0.4, 6
    y = np.full(jars, 13.0)
    together = pool(prior, measured(y, sd, nodes, slope), np.zeros(jars, dtype=int), np.zeros(1))
    apart = pool(prior, measured(y, sd, nodes, slope), np.arange(jars), np.zeros(jars))
    for found, shared in ((together, np.ones((jars, jars))), (apart, np.eye(jars))):
        k = int(np.argmax(found.joint.sum(axis=0)))
        noise = (sd**2 + found.spreads[k] ** 2) * np.eye(jars) + (slope * 3.0) ** 2 * shared
        precision = 1 / 0.85**2 + np.linalg.inv(noise).sum()
        column = found.joint[:, k] / found.joint[:, k].sum()
        mean = column @ found.means
        assert math.sqrt(column @ (found.means - mean) ** 2) == pytest.approx(precision**-0.5, rel=0.03)
    assert together.mean_deviation > 1.2 * apart.mean_deviation


def tiles_of(shifts, strengths=(15e6, 22e6, 30e6)):
    """Log chances of a thin build whose tension falls with expansion, in a few shared draws."""
    strength = np.array(strengths)
    tension = np.stack([(70 - 4.0 * GRID + k) * 1e6 for k in range(len(strength))])
    gap = np.broadcast_to(3000 - 150 * (GRID - 13), tension.shape)
    return log_chances(FiredTile("", tension, gap, strength), shifts)


def simulated(prior, studios, tiles, rng):
    logs, careless = [], []
    for _ in range(studios):
        x, shift, draw = 13 + 0.6 * rng.standard_normal(), 3e6 * rng.standard_normal(), rng.integers(3)
        tension = (70 - 4.0 * x + draw) * 1e6
        c = 1 / (1 + math.exp(-(tension - (15e6, 22e6, 30e6)[draw] - shift) / 4.4e6))
        crazed = int(rng.binomial(tiles, c))
        table = tiles_of(prior.shifts[0])
        seen = [(table[w], n) for w, n in (("crazed", crazed), ("sound", tiles - crazed)) if n]
        logs.append(jar_log_likelihood(seen))
        careless.append(tiles * math.log(1 / 3))
    return np.array(logs), np.array(careless)


CASES = {
    "measured jars": {"shift_pa": 0.0},
    "tiles of studios that see otherwise": {"shift_pa": 3e6},
    "stray jars and careless studios": {"shift_pa": 3e6, "stray_jars": 0.1, "careless_studios": 0.1},
}


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_a_general_sampler_gives_the_same_posterior(name):
    """Against emcee (affine-invariant ensemble sampler, Foreman-Mackey and others 2013): mean within 0.1 and width
    within 12 % of the posterior's standard deviation, which is three of its own errors.

    It walks over the class's mean, the logarithm of the spread, each jar's expansion and each studio's shift, where
    the grid sums the latter two, and over the share of stray jars where there are any.
    """
    emcee = pytest.importorskip("emcee") if not os.environ.get("CI") else __import__("emcee")
    prior, rng = plain(**CASES[name]), np.random.default_rng(5)
    nodes, count = prior.shifts[0], 4
    if name == "measured jars":
        logs, careless = measured([12.4, 13.1, 13.0, 14.2], 0.4), np.zeros(count)
    else:
        logs, careless = simulated(prior, count, 8, rng)
    found = pool(prior, logs, np.arange(count), careless)
    wide = np.log(np.exp(np.asarray(logs, dtype=float)).mean(axis=2))

    def chance(walkers):
        mean, tau = walkers[:, 0], np.exp(walkers[:, 1])
        x, z = walkers[:, 2 : 2 + count], walkers[:, 2 + count : 2 + 2 * count]
        # The share, from 0 to 0.3, by the logarithm of its odds there.
        share = 0.3 / (1 + np.exp(-walkers[:, -1])) if prior.stray_jars else np.zeros(len(walkers))
        whole = -0.5 * ((mean - 13.3) / 0.85) ** 2 - 0.5 * tau**2 + walkers[:, 1]
        whole = np.where((tau < 0.1) | (tau > 3.0) | (x < GRID[0]).any(1) | (x > GRID[-1]).any(1), -np.inf, whole)
        for j in range(count):
            at = np.clip((x[:, j] - GRID[0]) / 0.1, 0, len(GRID) - 1.001)
            low = at.astype(int)
            if len(nodes) == 1:
                here = logs[j][0][low] * (1 - at + low) + logs[j][0][low + 1] * (at - low)
                whole = whole - 0.5 * ((x[:, j] - mean) / tau) ** 2 - np.log(tau) + here
                continue
            whole = whole - 0.5 * z[:, j] ** 2
            # Between the nodes of the shift the logarithm is taken by the polynomial through them.
            basis = np.stack([np.prod([(z[:, j] * 3e6 - o) / (n - o) for o in nodes if o != n], axis=0) for n in nodes])
            rows = logs[j][:, low] * (1 - at + low) + logs[j][:, low + 1] * (at - low)
            here = np.clip((basis * rows).sum(axis=0), -60.0, 0.0)
            gone = (basis * wide[j][:, None]).sum(axis=0)
            normal = -0.5 * ((x[:, j] - mean) / tau) ** 2 - np.log(tau * math.sqrt(2 * math.pi))
            # Of a stray or careless jar the walker of x is held by the normal, so that it still has a place.
            bad = prior.careless_studios
            honest = np.logaddexp(np.log1p(-share) + here, np.log(share) + gone) if prior.stray_jars else here
            whole = whole + normal
            whole = whole + (np.logaddexp(np.log1p(-bad) + honest, np.log(bad) + careless[j]) if bad else honest)
        if prior.stray_jars:
            whole = whole + np.log(share**2 * (1 - share / 0.3)) + (2 / prior.stray_jars - 3) * np.log1p(-share)
        return np.where(np.isnan(whole), -np.inf, whole)

    dimensions = 2 + count * (1 if len(nodes) == 1 else 2) + bool(prior.stray_jars)
    start = np.concatenate([np.full(1, 13.0), np.full(1, -0.5), np.full(count, 13.0)])
    start = np.concatenate([start, np.zeros(dimensions - len(start))])
    walkers = start + 0.1 * rng.standard_normal((64, dimensions))
    sampler = emcee.EnsembleSampler(64, dimensions, chance, vectorize=True)
    sampler.random_state = np.random.RandomState(3).get_state()
    sampler.run_mcmc(walkers, 6000)
    chain = sampler.get_chain(discard=1000, flat=True)
    weights = found.joint.sum(axis=1)
    middle, deviation = weights @ found.means, found.mean_deviation
    assert chain[:, 0].mean() == pytest.approx(middle, abs=0.1 * deviation)
    assert chain[:, 0].std() == pytest.approx(deviation, rel=0.12)
    spread = found.joint.sum(axis=0) @ found.spreads
    assert np.exp(chain[:, 1]).mean() == pytest.approx(spread, rel=0.1)


def test_tiles_folded_are_tiles_one_by_one():
    table = tiles_of(np.array([-3e6, 0.0, 3e6]))
    folded = jar_log_likelihood([(table["sound"], 3), (table["crazed"], 2)])
    singly = jar_log_likelihood([(table["sound"], 1)] * 3 + [(table["crazed"], 1)] * 2)
    assert folded == pytest.approx(singly, abs=1e-4)
    each = [
        np.exp(table["sound"][d].astype(float)) ** 3 * np.exp(table["crazed"][d].astype(float)) ** 2 for d in (0, 1, 2)
    ]
    assert folded == pytest.approx(np.log(np.mean(each, axis=0)), abs=1e-4)


def test_the_order_of_jars_does_not_matter_and_each_keeps_its_place():
    prior = plain(stray_jars=0.05, careless_studios=0.05)
    y, studio = np.array([13.0, 13.2, 19.0, 12.9, 13.1]), np.array([0, 1, 0, 2, 1])
    first = pool(prior, measured(y, 0.3), studio, np.full(3, -8.0))
    turned = pool(prior, measured(y[::-1], 0.3), studio[::-1], np.full(3, -8.0))
    assert first.joint == pytest.approx(turned.joint)
    assert first.stray == pytest.approx(turned.stray[::-1])
    assert first.stray[2] > 0.9
    assert first.stray[[0, 1, 3, 4]].max() < 0.2


def test_one_stray_jar_among_ten_does_not_rule():
    """The class is nearly the same without it; with no share for stray jars it would move by thrice as much."""
    y = np.array([13.0, 13.4, 12.8, 13.2, 12.9, 13.3, 13.1, 12.7, 13.5, 18.0])
    moves = []
    for share in (0.03, 0.0):
        prior = plain(stray_jars=share)
        found = pool(prior, measured(y, 0.3), np.arange(10), np.zeros(10))
        alone = pool(prior, measured(y[:9], 0.3), np.arange(9), np.zeros(9))
        moves.append(abs(found.mean[0] - alone.mean[0]))
        moves.append(found.spread[0] - alone.spread[0])
    assert moves[0] < 0.05
    assert moves[2] > 3 * moves[0]
    assert moves[1] < 0.2 < moves[3]


def test_nothing_seen_leaves_the_belief_before():
    before = prior_only(plain())
    assert before.mean == pytest.approx((13.3, 13.3 - 1.6449 * 0.85, 13.3 + 1.6449 * 0.85), abs=0.02)
    flat = pool(plain(), np.zeros((2, 1, len(GRID))), np.arange(2), np.zeros(2))
    assert flat.mean == pytest.approx(before.mean, abs=0.01)
    assert flat.new_jar.sum() == pytest.approx(1.0)


def test_a_build_that_tells_nothing_gains_nothing_and_one_on_the_edge_most():
    prior = plain()
    before = prior_only(prior)
    shifts = prior.shifts[0]
    edge = at_jars(prior, tiles_of(shifts))[0]
    safe = at_jars(prior, tiles_of(shifts, strengths=(200e6, 200e6, 200e6)))[0]
    assert edge.sum(axis=0) == pytest.approx(1.0)
    assert expected_gain(before, edge) > 0.02 > 0.001 > expected_gain(before, safe) >= -1e-9


def test_where_a_mean_moved_to_is_told_by_the_belief_of_others():
    quiet = pool(plain(), measured([13.2, 13.4], 0.3), np.arange(2), np.zeros(2))
    moved = pool(plain(), measured([13.2, 13.4] + [17.0] * 30, 0.3), np.arange(32), np.zeros(32))
    assert moved_by(quiet, quiet) == pytest.approx(0.5, abs=0.02)
    assert moved_by(moved, quiet) > 0.99


@pytest.mark.parametrize(
    ("logs", "studio", "careless"),
    [
        (np.zeros((2, 1, 5)), np.arange(2), np.zeros(2)),
        (np.zeros((2, 1, len(GRID))), np.arange(3), np.zeros(3)),
        (np.full((1, 1, len(GRID)), np.nan), np.arange(1), np.zeros(1)),
        (np.zeros((2, 1, len(GRID))), np.arange(2), np.zeros(1)),
    ],
)
def test_shapes_that_do_not_fit_are_refused(logs, studio, careless):
    with pytest.raises(BadInput):
        pool(plain(), logs, studio, careless)
