"""Levelling against analytic limits and a random coat levelled by Fourier transform."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.science.firing.levelling import GLOSS_SLOPE, gloss_capillary_time_m
from refdb.science.firing.sintering import USUAL_GRAINS

COAT = 0.12e-3


def orchard(wavenumber_per_m, thickness_m):
    """Decay rate times viscosity over surface tension, 1/m: Orchard (1962), in exponentials that cannot overflow."""
    x = np.asarray(wavenumber_per_m, dtype=float) * thickness_m
    e = np.exp(-2 * x)
    return x / thickness_m / 2 * (1 - e**2 - 4 * x * e) / ((1 + e) ** 2 + 4 * x**2 * e)


def thin_limit(thickness_m, volume_m3=USUAL_GRAINS.volume_m3):
    """Capillary time to gloss when every ripple feels the base, in closed form."""
    return 3 * volume_m3 / (16 * math.pi * thickness_m**2 * GLOSS_SLOPE**2)


def test_the_slope_of_gloss_is_that_of_the_gloss_meter():
    """ISO 2813, 60° geometry: a receptor 4.4° wide, and a mirror image turns by twice the slope."""
    assert math.degrees(GLOSS_SLOPE) == pytest.approx(4.4 / 2 / 2, rel=1e-9)


def test_the_rate_used_here_has_its_two_limits():
    """446.25 1/m for a ripple of 1 mm on 0.12 mm, by a calculation coded apart; k^4 h^3/3 when thin, k/2 when deep."""
    assert orchard(2 * math.pi / 1e-3, COAT) == pytest.approx(446.25, abs=0.005)
    assert orchard(0.02 / COAT, COAT) == pytest.approx((0.02 / COAT) ** 4 * COAT**3 / 3, rel=1e-3)
    assert orchard(30 / COAT, COAT) == pytest.approx(15 / COAT, rel=2e-6)


def test_time_to_gloss_against_an_integration_apart():
    """0.010551 m for the usual coat, where the slope was rounded to 0.0192; hence 3e-4. Its thin limit is 0.0076972."""
    assert gloss_capillary_time_m(COAT) == pytest.approx(0.010551, rel=3e-4)
    assert thin_limit(COAT) == pytest.approx(0.0076972, rel=3e-4)


@pytest.mark.parametrize("thickness", [0.05e-3, 0.12e-3, 0.3e-3, 1e-3])
def test_the_slope_left_at_that_time_is_that_of_gloss(thickness):
    """The integral over all ripples summed here by the trapezoid rule, with Orchard's rate in another form; 1e-3."""
    k = np.geomspace(1e-3, 1e3, 20_001) / thickness
    f = k**3 * np.exp(-2 * float(gloss_capillary_time_m(thickness)) * orchard(k, thickness))
    whole = float(np.sum((f[1:] + f[:-1]) / 2 * np.diff(k)))
    slope = math.sqrt(thickness * USUAL_GRAINS.volume_m3 / (2 * math.pi) * whole)
    assert slope == pytest.approx(GLOSS_SLOPE, rel=1e-3)


def test_a_very_thin_coat_meets_the_thin_limit():
    volume = USUAL_GRAINS.volume_m3 * 10
    assert gloss_capillary_time_m(0.03e-3, volume) == pytest.approx(thin_limit(0.03e-3, volume), rel=0.02)


def test_a_coat_of_random_grains_shines_then():
    """Grains laid at random on 12.8 x 12.8 mm, every Fourier component damped on its own; one draw scatters by 7 %."""
    rng = np.random.default_rng(3)
    n, step = 512, 25e-6
    heights = rng.poisson(COAT * step**2 / USUAL_GRAINS.volume_m3, (n, n)) * USUAL_GRAINS.volume_m3 / step**2
    k = 2 * np.pi * np.hypot(*np.meshgrid(np.fft.fftfreq(n, step), np.fft.fftfreq(n, step)))
    for slope in (GLOSS_SLOPE / 2, GLOSS_SLOPE, 2 * GLOSS_SLOPE):
        time_m = float(gloss_capillary_time_m(COAT, slope=slope))
        left = np.fft.fft2(heights - heights.mean()) * np.exp(-time_m * orchard(k, COAT))
        assert math.sqrt(float(np.sum(np.abs(left * k) ** 2)) / n**4) == pytest.approx(slope, rel=0.07)


def test_a_very_deep_coat_meets_the_deep_limit():
    """Ripples that do not feel the base, in closed form: (3 h V/(pi s^2))^(1/4); 1 %."""
    deep = (3 * 0.01 * USUAL_GRAINS.volume_m3 / (math.pi * GLOSS_SLOPE**2)) ** 0.25
    assert gloss_capillary_time_m(0.01) == pytest.approx(deep, rel=0.01)


@given(st.floats(0.03e-3, 0.3e-3), st.floats(1.05, 3.0))
def test_thicker_coats_and_finer_grains_shine_sooner(thickness, factor):
    assert gloss_capillary_time_m(thickness * factor) < gloss_capillary_time_m(thickness)
    assert gloss_capillary_time_m(thickness, USUAL_GRAINS.volume_m3 / factor) < gloss_capillary_time_m(thickness)
