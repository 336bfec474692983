"""Free expansion: interpolation of metals, rescaling of glasses between spans."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.science.expansion import StrainCurve, contraction_gap_ppm, glass_mean_20_400, glass_strain


@given(st.lists(st.floats(0.1, 5), min_size=2, max_size=12), st.lists(st.floats(0, 5), min_size=12, max_size=12))
def test_the_curve_goes_through_its_points_and_never_overshoots(steps, rises):
    """Fritsch and Butland 1984: monotone data give a monotone curve."""
    temps = np.cumsum(steps)
    strains = np.cumsum(rises[: len(steps)])
    curve = StrainCurve(temps, strains)
    assert curve(temps) == pytest.approx(strains)
    fine = curve(np.linspace(temps[0], temps[-1], 200))
    assert (np.diff(fine) >= -1e-9).all()
    assert curve(float(temps[0])) == pytest.approx(strains[0])


def test_a_smooth_curve_is_followed_closely():
    """A quadratic strain such as copper's, in 50 K points: within 0.5 ppm between them."""

    def strain(t):
        return (16.6 + 0.0045 * (t - 20) / 2) * 1e-6 * (t - 20)

    temps = np.concatenate([[20.0], np.arange(50.0, 601.0, 50.0)])
    curve = StrainCurve(temps, strain(temps))
    between = np.linspace(20, 600, 333)
    assert curve(between) == pytest.approx(strain(between), abs=5e-7)
    assert curve(333.0) == pytest.approx(float(curve(np.array([333.0]))[0]), rel=1e-12)


def test_nothing_is_extrapolated():
    curve = StrainCurve([20.0, 100.0], [0.0, 1e-3])
    for outside in (19.0, 101.0, np.array([50.0, 120.0])):
        with pytest.raises(ValueError, match="no expansion known"):
            curve(outside)
    with pytest.raises(ValueError, match="rise"):
        StrainCurve([20.0, 20.0], [0.0, 1.0])


@pytest.mark.parametrize(("span", "ratio"), [((20, 300), 0.974), ((20, 180), 0.943), ((300, 400), 1.080)])
def test_spans_of_a_glass_keep_the_measured_ratios(span, ratio):
    """Open SciGlass tables, medians of the same glasses: the mean about 100, 160 and 350 °C against that about 210."""
    own = ratio * 12.5e-6
    assert glass_mean_20_400(own, *span) == pytest.approx(12.5e-6, rel=0.005)


@given(st.floats(3, 20), st.floats(20, 100), st.floats(200, 600))
def test_the_mean_over_a_span_comes_back(mean, low, high):
    """Rescaling to 20-400 °C and reading the curve over the same span are inverse."""
    base = glass_mean_20_400(mean * 1e-6, low, high)
    back = (glass_strain(high, base) - glass_strain(low, base)) / (high - low)
    assert back == pytest.approx(mean * 1e-6, rel=1e-12)


def test_the_gap_is_positive_when_the_metal_shrinks_more():
    assert contraction_gap_ppm(lambda t: 18e-6 * (t - 20), 12e-6, 500.0) > 0
    assert contraction_gap_ppm(lambda t: 10e-6 * (t - 20), 12e-6, 500.0) < 0
    # By hand, where a mean over 20-400 °C is what its name says: 6 ppm/K over 380 K.
    assert contraction_gap_ppm(lambda t: 18e-6 * (t - 20), 12e-6, 400.0) == pytest.approx(6 * 380, rel=1e-12)
