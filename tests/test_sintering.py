"""Grains and densification against closed forms and the limits that other models share."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.science.firing.sintering import (
    USUAL_GRAINS,
    film_constraint,
    grains_between,
    reduced_time,
    sintering_capillary_time_m,
)


def test_usual_grains():
    """Closed form for mass even in the logarithm of size between 177 and 44 um, to the five figures printed."""
    found = grains_between(177e-6, 44e-6)
    assert found == USUAL_GRAINS
    assert found.radius_m == pytest.approx(40.754e-6, abs=5e-10)
    assert found.volume_m3 == pytest.approx(6.8462e-13, abs=5e-18)


def test_grains_against_a_sum_over_sizes():
    """Numerical sum over the same distribution: surface-mean radius and mass-weighted volume, to 1e-4."""
    d = np.geomspace(44e-6, 177e-6, 20001)
    weight = np.ones_like(d)  # mass per step of ln d
    volume = float(np.sum(weight * math.pi / 6 * d**3) / np.sum(weight))
    radius = float(0.5 * np.sum(weight) / np.sum(weight / d))
    assert USUAL_GRAINS.volume_m3 == pytest.approx(volume, rel=2e-4)
    assert USUAL_GRAINS.radius_m == pytest.approx(radius, rel=2e-4)


@pytest.mark.parametrize(
    ("density", "film", "expected"),
    [(0.75, False, 0.3143), (0.95, False, 0.8635), (0.75, True, 0.4951), (0.95, True, 1.1778)],
)
def test_reduced_times(density, film, expected):
    """Mackenzie and Shuttleworth (1949) integrated apart from here, with and without a rigid base, to 0.0001."""
    assert reduced_time(density, film=film) == pytest.approx(expected, abs=1e-4)


def test_first_shrinkage_is_frenkels():
    """Frenkel (1945): two spheres approach by dL/L = 3 theta/8, so 0.55 to 0.65 takes 0.146; models differ by 2 %."""
    shrinkage = 1 - (0.55 / 0.65) ** (1 / 3)
    assert reduced_time(0.65, film=False) == pytest.approx(8 / 3 * shrinkage, rel=0.02)


def test_the_constraint_of_a_film():
    """Scherer and Garino (1985): none left in dense glass; a bed of 0.55 densifies at 0.58 of its free rate."""
    assert film_constraint(1.0) == pytest.approx(1.0, abs=1e-12)
    assert film_constraint(0.55) == pytest.approx(0.58, abs=0.005)


@given(st.floats(0.56, 0.98), st.floats(0.001, 0.01))
def test_denser_takes_longer(density, more):
    assert reduced_time(density + more) > reduced_time(density)


def test_finer_grains_close_sooner():
    assert sintering_capillary_time_m(0.95, grains_between(74e-6, 44e-6)) < sintering_capillary_time_m(0.95)


def test_bad_input():
    with pytest.raises(BadInput):
        grains_between(44e-6, 177e-6)
    with pytest.raises(BadInput):
        reduced_time(1.0)
