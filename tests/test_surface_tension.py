"""Surface tension of melts, against hand sums of the published coefficients."""

from __future__ import annotations

import pytest

from refdb.judge.limits import SURFACE_TENSION
from refdb.science.glass.composition import mole_percent
from refdb.science.glass.surface_tension import CONTRAST_N_PER_M, contrast_warning, surface_tension_n_per_m
from refdb.store.reference import open_reference

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


def test_figures_of_the_classes_are_those_of_their_compositions(store):
    """Each stored band holds every composition of its class at 800 °C, to the 1 mN/m it is printed to."""
    with open_reference(store) as ref:
        told = 0
        for record in ref.materials("glass"):
            row = record.value("surface_tension")
            if row is None:
                continue
            told += 1
            assert (row.source, row.basis) == ("kucuk-1999", "computed")
            metals = {w.strip() for w in record.made_for.split(";")}
            found = [
                surface_tension_n_per_m(mole_percent(dict(g.composition)), 800.0)
                for g in ref.reference_glasses(record.key)
                if record.role == "not an enamel" or g.for_metal in metals
            ]
            assert found
            assert row.band.value == pytest.approx(sum(found) / len(found), abs=0.6e-3)
            width = 7e-3 if len(found) < 3 else 0.0
            assert row.band.low == pytest.approx(min(min(found), row.band.value - width), abs=1.1e-3)
            assert row.band.high == pytest.approx(max(max(found), row.band.value + width), abs=1.1e-3)
        assert told >= 9


def test_the_limit_of_a_verdict_is_that_of_the_warning():
    assert pytest.approx(CONTRAST_N_PER_M) == SURFACE_TENSION.fine * 1e-3


def test_classes_without_a_composition_have_no_figure(store):
    with open_reference(store) as ref:
        for record in ref.materials("glass"):
            if not ref.reference_glasses(record.key):
                assert record.value("surface_tension") is None, record.key
