"""Levelling against analytic limits and a random coat levelled by Fourier transform."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.science.firing.levelling import (
    GLOSS_SLOPE,
    bare_share,
    gloss_dose_m,
    gloss_dose_thin_m,
    levelling_rate_per_m,
    share_from_below,
    slope_after,
    wicked_share,
)
from refdb.science.firing.sintering import USUAL_GRAINS

COAT = 0.12e-3


def test_rate_and_its_two_limits():
    """Orchard (1962): 446.25 1/m for a ripple of 1 mm on 0.12 mm; k^4 h^3/3 when thin and k/2 when deep, to 2e-6."""
    assert levelling_rate_per_m(2 * math.pi / 1e-3, COAT) == pytest.approx(446.25, abs=0.005)
    thin = 1e-3 / COAT
    assert levelling_rate_per_m(thin, COAT) == pytest.approx(thin**4 * COAT**3 / 3, rel=2e-6)
    deep = 30 / COAT
    assert levelling_rate_per_m(deep, COAT) == pytest.approx(deep / 2, rel=2e-6)


def test_rate_has_no_step_where_the_series_takes_over():
    k = np.array([0.9999e-3, 1.0001e-3]) / COAT
    below, above = levelling_rate_per_m(k, COAT)
    assert above / below == pytest.approx((1.0001 / 0.9999) ** 4, rel=5e-6)


def test_dose_for_gloss_and_its_thin_limit():
    """0.010551 m for the usual coat and 0.0076972 m in the thin limit, from an integration apart from here; the
    slope was rounded to 0.0192 there, hence 3e-4."""
    assert gloss_dose_m(COAT) == pytest.approx(0.010551, rel=3e-4)
    assert gloss_dose_thin_m(COAT) == pytest.approx(0.0076972, rel=3e-4)


def test_dose_is_the_slope_turned_round():
    for thickness in (0.05e-3, 0.12e-3, 0.3e-3, 1e-3):
        assert slope_after(gloss_dose_m(thickness), thickness) == pytest.approx(GLOSS_SLOPE, rel=1e-4)


def test_a_very_thin_coat_meets_the_thin_limit():
    volume = USUAL_GRAINS.volume_m3 * 10
    assert gloss_dose_m(0.03e-3, volume) == pytest.approx(gloss_dose_thin_m(0.03e-3, volume), rel=0.02)


def test_slope_of_a_coat_of_random_grains():
    """Grains laid at random on 12.8 x 12.8 mm, every Fourier component damped on its own; one draw scatters by 7 %."""
    rng = np.random.default_rng(3)
    n, step = 512, 25e-6
    heights = rng.poisson(COAT * step**2 / USUAL_GRAINS.volume_m3, (n, n)) * USUAL_GRAINS.volume_m3 / step**2
    k = 2 * np.pi * np.hypot(*np.meshgrid(np.fft.fftfreq(n, step), np.fft.fftfreq(n, step)))
    for dose in (0.003, 0.01, 0.03):
        left = np.fft.fft2(heights - heights.mean()) * np.exp(-dose * levelling_rate_per_m(k, COAT))
        slope = math.sqrt(float(np.sum(np.abs(left * k) ** 2)) / n**4)
        assert float(slope_after(dose, COAT)) == pytest.approx(slope, rel=0.07)


def test_a_very_deep_coat_meets_the_deep_limit():
    """Ripples that do not feel the base, in closed form: (3 h V/(pi s^2))^(1/4); 1 %."""
    deep = (3 * 0.01 * USUAL_GRAINS.volume_m3 / (math.pi * GLOSS_SLOPE**2)) ** 0.25
    assert gloss_dose_m(0.01) == pytest.approx(deep, rel=0.01)


@given(st.floats(0.03e-3, 0.3e-3), st.floats(1.05, 3.0))
def test_thicker_coats_and_finer_grains_shine_sooner(thickness, factor):
    assert gloss_dose_m(thickness * factor) < gloss_dose_m(thickness)
    assert gloss_dose_m(thickness, USUAL_GRAINS.volume_m3 / factor) < gloss_dose_m(thickness)


def test_flow_from_below():
    """Two equal layers with fluidities 0.01 to 100, against a finite-difference velocity profile, to 4 figures."""
    found = share_from_below(1.0, 1.0, [0.01, 0.1, 1.0, 10.0, 100.0])
    assert found == pytest.approx([0.0234, 0.1471, 0.3125, 0.3521, 0.3566], abs=5e-5)


def test_flow_from_below_against_a_velocity_profile():
    """The momentum balance solved by integration over 4000 slices, to 1e-3."""
    a, b, m = 0.7, 1.3, 3.0
    z = np.linspace(0.0, a + b, 40001)
    shear = (a + b - z) * np.where(z < a, m, 1.0)
    speed = np.concatenate([[0.0], np.cumsum((shear[1:] + shear[:-1]) / 2 * np.diff(z))])
    below = float(np.sum(speed[z < a])) / float(np.sum(speed))
    assert float(share_from_below(a, b, m)) == pytest.approx(below, rel=1e-3)


def test_wicking_and_bare_spots():
    assert wicked_share(4e-4, COAT) == pytest.approx(2 * wicked_share(1e-4, COAT))
    assert bare_share(0.06e-3) == pytest.approx(0.33, abs=0.005)
    assert bare_share(0.20e-3) == pytest.approx(0.025, abs=0.0005)
