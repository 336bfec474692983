"""The sample: the same every time, even in each input, and quantiles that come back."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.science.sampling import band_of, evenly_spread, from_band, most_telling

NAMES = [f"input {k}" for k in range(17)]


def test_the_sample_is_the_same_every_time_and_even_in_each_input():
    one, two = evenly_spread(NAMES), evenly_spread(NAMES)
    for name in NAMES:
        assert (one[name] == two[name]).all()
        assert sorted(one[name] * 128) == pytest.approx(np.arange(128) + 0.5)


def test_inputs_are_not_bound_to_each_other():
    """No two inputs rise together: rank correlation stays small, and a mean of a product factors."""
    columns = evenly_spread(NAMES)
    for a in NAMES:
        for b in NAMES:
            if a < b:
                assert abs(np.corrcoef(columns[a], columns[b])[0, 1]) < 0.08, (a, b)


def test_a_sum_over_the_sample_comes_near_a_large_random_one():
    """numpy's own generator, 200,000 draws of a curved function of five inputs: median and ends within 4 %."""

    def curved(u):
        return u[0] + u[1] ** 2 + 2 * u[2] * u[3] - 0.5 * u[4]

    ours = band_of(curved([evenly_spread(NAMES)[n] for n in NAMES[:5]]))
    wanted = band_of(curved(np.random.default_rng(5).uniform(size=(5, 200_000))))
    for a, b in zip(ours, wanted, strict=True):
        assert a == pytest.approx(b, abs=0.12)


@given(st.floats(-10, 10), st.floats(0, 5), st.floats(0, 5))
def test_nine_tenths_lie_in_the_band_and_half_on_each_side(value, down, up):
    draws = from_band(evenly_spread(["x"], 2000)["x"], value, value - down, value + up)
    assert ((draws >= value - down - 1e-9) & (draws <= value + up + 1e-9)).mean() >= 0.9 - 1e-3
    assert (draws < value + 1e-9).mean() >= 0.5
    if down > 0.1 and up > 0.1:
        middle, low, high = band_of(draws)
        assert middle == pytest.approx(value, abs=0.01)
        assert low == pytest.approx(value - down, abs=0.01)
        assert high == pytest.approx(value + up, abs=0.01)


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=60))
def test_the_band_of_a_sample_is_numpys_quantiles(values):
    """numpy.quantile, default method."""
    low, middle, high = np.quantile(values, (0.05, 0.5, 0.95))
    assert band_of(np.array(values)) == pytest.approx((middle, low, high), abs=1e-9)


def test_the_telling_input_is_found():
    columns = evenly_spread(NAMES)
    outcome = (columns["input 3"] > 0.6).astype(float)
    assert most_telling(columns, outcome) == "input 3"
    assert most_telling(columns, np.zeros(128)) == ""


def test_an_input_tells_as_much_when_the_outcome_falls_with_it():
    columns = evenly_spread(NAMES)
    assert most_telling(columns, columns["input 5"] - 2 * columns["input 3"]) == "input 3"
    assert most_telling(columns, 2 * columns["input 5"] - columns["input 3"]) == "input 5"
