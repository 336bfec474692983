"""Surface tension of melts, against hand sums of the published coefficients."""

from __future__ import annotations

import pytest

from refdb.science.surface_tension import contrast_warning, surface_tension_n_per_m

LEAD = {"PbO": 15.0, "K2O": 10.0, "Na2O": 5.0, "SiO2": 70.0}


def test_published_coefficients():
    """Kucuk, Clare and Jones (1999), summed by hand with 0.04 mN/m per kelvin below 1400 °C, to 0.0001 N/m."""
    assert surface_tension_n_per_m(LEAD, 815.0) == pytest.approx(0.2517, abs=5e-5)
    assert surface_tension_n_per_m({"SiO2": 100.0}, 815.0) == pytest.approx(0.2946, abs=5e-5)


def test_outside_its_limits_nothing_is_told():
    assert surface_tension_n_per_m(LEAD, 300.0) is None
    assert surface_tension_n_per_m({**LEAD, "F": 4.0}, 815.0) is None


def test_only_a_lower_tension_beneath_is_warned_of():
    assert "lower" in contrast_warning(0.25, 0.28)
    assert contrast_warning(0.28, 0.25) == ""
    assert contrast_warning(0.275, 0.28) == ""
    assert contrast_warning(None, 0.28) == ""
