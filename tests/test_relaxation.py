"""The sharp set point with a glass that contracts more than its figure, against a glass that relaxes.

The relaxing glass is first held to what is known of it in closed form and from its literature.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from relaxation_model import (
    ACTIVATION_K,
    ZERO_C,
    Relaxing,
    cooling,
    relaxed,
    stress_on_elastic,
    stress_on_rigid,
    with_transition,
)

from refdb.judge.limits import TRANSITION_CONTRACTION
from refdb.science.expansion import GLASS_MIDDLE_C, GLASS_SLOPE_PER_K, glass_strain
from refdb.science.plate import Layer, cool

EULER = 0.5772156649
#: A coat's set point is taken to lie so far above the temperature where viscosity is 10^12 Pa·s [K], as in the store.
ABOVE_TRANSITION_K = 20.0
GLASS_PA = 68e9 / 0.78


def even(value):
    return lambda temp_c: np.full_like(np.asarray(temp_c, dtype=float), value)


PLAIN = Relaxing(even(10e-6), even(30e-6))


class Exponential(Relaxing):
    """A time of relaxation that follows the temperature alone, by a plain exponential: it has closed forms."""

    def log_tau(self, temp_c, fictive_c):
        return np.log(self.tau_s) - 0.1 * (temp_c - self.at_c)


@pytest.mark.parametrize("exponent", [0.4, 0.55, 1.0])
def test_a_small_jump_relaxes_by_the_stretched_exponential(exponent):
    """The definition: 1 K down in no time, then held; the fictive temperature follows exp(-(t/τ)^β)."""
    glass = replace(PLAIN, exponent=exponent, mixing=1.0, tau_s=50.0)
    time = np.concatenate(([0.0], np.linspace(0, 400, 41)))
    temp = np.concatenate(([501.0], np.full(41, 500.0)))
    expected = 500 + np.exp(-((time[1:] / 50.0) ** exponent))
    assert relaxed(glass, time, temp).fictive_c[1:] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("exponent", "rate"), [(1.0, 0.1), (0.55, 0.1), (0.55, 10.0), (0.7, 1.0)])
def test_on_cooling_the_fictive_temperature_freezes_where_the_closed_form_says(exponent, rate):
    """τ = τ₀·exp(-k(T-T₀)), no memory of structure: T₀ + (ln(k·q·τ₀) - γ/β)/k (derived here); to 0.5 K."""
    glass = Exponential(even(10e-6), even(30e-6), exponent=exponent)
    frozen = relaxed(glass, *cooling(750, 200, rate, 0.5)).fictive_c[-1]
    assert frozen == pytest.approx(500 + (np.log(0.1 * rate * 100) - EULER / exponent) / 0.1, abs=0.5)


@pytest.mark.parametrize(("speed", "exponent"), [(1.0, 1.0), (1.0, 0.55), (9.0, 0.55)])
def test_without_a_liquid_of_its_own_stress_is_that_of_a_sharp_set_point(speed, exponent):
    """The same closed form with τ/speed is the set point; rigid metal, liquid as the glass; to 1 %."""
    glass = Exponential(even(10e-6), even(10e-6), stress_speed=speed, stress_exponent=exponent)
    history = relaxed(glass, *cooling(750, 20, 1.0, 0.5))
    set_c = 500 + (np.log(0.1 * 100 / speed) - EULER / exponent) / 0.1
    found = stress_on_rigid(glass, history, 16e-6 * (history.temp_c - 20), GLASS_PA)
    assert found == pytest.approx(-GLASS_PA * 6e-6 * (set_c - 20), rel=0.01)


@pytest.mark.parametrize("mixing", [0.4, 0.5, 1.0])
def test_the_fictive_temperature_rises_with_the_rate_by_the_activation_energy(mixing):
    """Moynihan, Easteal, DeBolt and Tucker, J. Am. Ceram. Soc. 59 (1976) 12 (from memory): d ln q / d(1/Tf) = -ΔH/R.

    Exactly it is ΔH/R + 2·Tf, since what stands against the rate is Tf²/τ, not 1/τ."""
    glass = replace(PLAIN, mixing=mixing)
    slow, quick = (relaxed(glass, *cooling(750, 200, rate)).fictive_c[-1] + ZERO_C for rate in (0.1, 10.0))
    assert quick > slow
    found = np.log(100) / (1 / slow - 1 / quick)
    assert found == pytest.approx(ACTIVATION_K, rel=0.025)
    assert found == pytest.approx(ACTIVATION_K + slow + quick, rel=1e-3)


def test_a_glass_approaches_from_above_faster_than_from_below():
    """Tool's asymmetry (J. Am. Ceram. Soc. 29 (1946) 240, from memory): what has shrunk moves slower."""
    time = np.concatenate(([0.0, 0.0], np.geomspace(1e-3, 1e3, 200)))
    for mixing, asymmetric in ((0.5, True), (1.0, False)):
        glass = replace(PLAIN, mixing=mixing)
        down, up = (relaxed(glass, time, np.array([x, *[500.0] * 201])).fictive_c - 500 for x in (520.0, 480.0))
        assert (down[150] < -up[150] - 0.5) == asymmetric
    assert down == pytest.approx(-up)


@pytest.mark.parametrize(("exponent", "crosses"), [(0.55, True), (1.0, False)])
def test_a_glass_remembers_how_it_came_to_where_it_is(exponent, crosses):
    """Kovacs' crossing (1963, from memory): held cold until as dense as 500 °C, then warmed to it, it swells first."""
    glass = replace(PLAIN, exponent=exponent, mixing=1.0)
    wait = np.linspace(0, 3000, 601)
    cold = relaxed(glass, np.concatenate(([0.0], wait)), np.array([520.0, *[490.0] * 601])).fictive_c[1:]
    held = wait[int(np.argmin(np.abs(cold - 500.0)))]
    stay = np.linspace(0, 1000, 201)
    time = np.concatenate(([0.0], wait[wait <= held], held + stay))
    temp = np.concatenate(([520.0], np.full((wait <= held).sum(), 490.0), np.full(201, 500.0)))
    after = relaxed(glass, time, temp).fictive_c[-201:]
    assert (after.max() > 501.0) == crosses


def test_the_two_limits_of_the_rate():
    """A glass that is always quick follows its temperature; one that is always slow keeps its structure."""
    quick = relaxed(replace(PLAIN, tau_s=1e-9, activation_k=0.0), *cooling(600, 100, 1.0))
    slow = relaxed(replace(PLAIN, tau_s=1e15, activation_k=0.0), *cooling(600, 100, 1.0))
    assert quick.fictive_c == pytest.approx(quick.temp_c)
    assert slow.fictive_c == pytest.approx(600, abs=0.1)
    assert quick.free[-1] == pytest.approx(-30e-6 * 500)
    assert slow.free[-1] == pytest.approx(-10e-6 * 500, rel=1e-3)


def test_a_finer_step_changes_nothing():
    glass = relaxing("copper", 3.2, 1.0)
    coarse, fine = (relaxed(glass, *cooling(650, 20, 1.0, step)) for step in (2.0, 0.5))
    assert coarse.fictive_c[-1] == pytest.approx(fine.fictive_c[-1], abs=0.3)
    assert coarse.free[-1] == pytest.approx(fine.free[-1], rel=2e-3)


def test_a_coat_on_elastic_metal_has_the_limits_of_a_plate():
    """Very thick metal is rigid; and a liquid as the glass with one quick jump of stiffness is the plate itself."""
    glass = relaxing("copper", 2.7, 3.0)
    history = relaxed(glass, *cooling(650, 20, 1.0, 2.0))
    metal = metal_strain("copper", history.temp_c)
    low, high, _ = stress_on_elastic(glass, history, metal, (1.0, 0.2e-3), (177e9, GLASS_PA))
    assert (low, high) == (pytest.approx(stress_on_rigid(glass, history, metal, GLASS_PA), rel=2e-3),) * 2
    frozen = replace(glass, tau_s=1e15, activation_k=0.0)
    history = relaxed(frozen, *cooling(500, 20, 1.0, 2.0))
    metal = metal_strain("copper", history.temp_c)
    found = stress_on_elastic(frozen, history, metal, (0.8e-3, 0.2e-3), (117e9 / 0.66, GLASS_PA))
    assert found == pytest.approx(sharp("copper", 0.0, 500.0), rel=2e-3)


#: Metal: mean expansion from 20 to 500 °C [1/K] and its relative slope [1/K], modulus, Poisson's ratio, thickness [m];
#: glass: mean expansion over 20-400 °C [1/K] and transition [°C]; near the store's rows.
PAIRS = {
    "copper": (18.49e-6, 4.0e-4, 117e9, 0.34, 0.8e-3, 12.4e-6, 500.0),
    "silver": (20.97e-6, 3.4e-4, 83e9, 0.37, 0.8e-3, 13.3e-6, 480.0),
    "steel": (14.08e-6, 4.0e-4, 205e9, 0.29, 0.8e-3, 10.0e-6, 500.0),
    "gold": (15.2e-6, 2.0e-4, 78e9, 0.42, 0.8e-3, 15.0e-6, 480.0),
}
#: The liquid's expansion over the glass's, how many times as fast stress relaxes, and the rate of cooling [K/s].
WAYS = list(product((2.2, 3.2), (1.0, 9.0), (1.0, 10.0)))
COAT_M = 0.2e-3


def metal_strain(name, temp_c):
    mean, slope = PAIRS[name][:2]
    return mean * (temp_c - 20.0) * (1 + slope * ((temp_c + 20.0) / 2 - 260.0))


def relaxing(name, liquid, speed):
    mean, tg_c = PAIRS[name][-2:]

    def solid(temp_c):
        return mean * (1 + GLASS_SLOPE_PER_K * (temp_c - GLASS_MIDDLE_C))

    glass = Relaxing(solid, lambda temp_c: liquid * solid(temp_c), at_c=tg_c, stress_speed=speed)
    return with_transition(glass, tg_c)


def sharp(name, more, set_c=None):
    """Our elastic plate: stress at the coat's lower and upper face [Pa] and curvature [1/m]."""
    _, _, youngs, poisson, thick, mean, tg_c = PAIRS[name]
    set_c = tg_c + ABOVE_TRANSITION_K if set_c is None else set_c
    metal = Layer("metal", thick, youngs, poisson, lambda t: metal_strain(name, t))
    coat = Layer("coat", COAT_M, 68e9, 0.22, lambda t: glass_strain(t, mean * (1 + more)), set_c)
    found = cool([metal, coat])
    return found.layers[1].bottom_pa, found.layers[1].top_pa, found.curvature_per_m


def sharp_on_rigid(name, more):
    set_c = PAIRS[name][-1] + ABOVE_TRANSITION_K
    return GLASS_PA * (glass_strain(set_c, PAIRS[name][-2] * (1 + more)) - metal_strain(name, set_c))


@pytest.mark.parametrize("name", ["copper", "silver", "steel"])
def test_what_a_glass_contracts_more_lies_in_the_judges_band(name):
    """Every way a glass may relax, on rigid and on elastic metal.

    Without it every coat comes out too squeezed and every plate too bent; with it the stress lies between those of the
    band's ends, and the middle of the ways at its value."""
    value, low, high = TRANSITION_CONTRACTION
    needed = []
    for liquid, speed, rate in WAYS:
        glass = relaxing(name, liquid, speed)
        tg_c = PAIRS[name][-1]
        history = relaxed(glass, *cooling(tg_c + 150, 20.0, rate, 2.0))
        metal = metal_strain(name, history.temp_c)
        rigid = stress_on_rigid(glass, history, metal, GLASS_PA)
        assert sharp_on_rigid(name, 0.0) < sharp_on_rigid(name, low) <= rigid <= sharp_on_rigid(name, high)
        _, _, youngs, poisson, thick, *_ = PAIRS[name]
        elastic = stress_on_elastic(glass, history, metal, (thick, COAT_M), (youngs / (1 - poisson), GLASS_PA))
        for found, none, least, most in zip(elastic, *(sharp(name, x) for x in (0.0, low, high)), strict=True):
            assert min(least, most) <= found <= max(least, most)
            assert abs(found) < abs(none)
        plain, raised = sharp_on_rigid(name, 0.0), sharp_on_rigid(name, value)
        needed.append((rigid - plain) / (raised - plain) * value)
        print(
            f"{name}, liquid {liquid}, stress {speed:g} times, {rate:g} K/s: {rigid / 1e6:.0f} MPa, sharp "
            f"{plain / 1e6:.0f}, with the contraction {raised / 1e6:.0f}; needs {needed[-1]:.1%}"
        )
    assert np.median(needed) == pytest.approx(value, abs=0.01)


def test_a_glass_that_grows_like_its_metal_ends_in_tension():
    """Gold of 24 carat with 15 ppm/K: by its figure it is all but free; it relaxes into tension of tens of MPa."""
    plain = sharp_on_rigid("gold", 0.0)
    assert abs(plain) < 10e6
    for liquid, speed, rate in WAYS:
        glass = relaxing("gold", liquid, speed)
        history = relaxed(glass, *cooling(630, 20.0, rate, 2.0))
        found = stress_on_rigid(glass, history, metal_strain("gold", history.temp_c), GLASS_PA)
        print(f"liquid {liquid}, stress {speed:g} times, {rate:g} K/s: {found / 1e6:.0f} MPa, sharp {plain / 1e6:.0f}")
        assert found > max(plain + 10e6, 15e6)
