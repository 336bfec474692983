"""Surface tension of melts, against hand sums of the published coefficients."""

from __future__ import annotations

import statistics

import pytest

from refdb.science.glass.composition import mole_percent
from refdb.science.glass.surface_tension import TYPICAL_N_PER_M
from refdb.store.reference import open_reference

#: mN/m for each mole per cent about 271.2 at 1400 °C (Kucuk, Clare and Jones, Glass Technol. 40 (1999) 149), and 0.04
#: for each kelvin below.
PER_MOL_PCT = {
    "Li2O": 1.48, "K2O": -2.22, "MgO": 1.96, "CaO": 3.34, "BaO": 1.28, "SrO": 3.32, "FeO": 2.68, "MnO": 2.92,
    "PbO": -1.38, "B2O3": -2.86, "Al2O3": 3.47,
}  # fmt: skip
LEAD = {"PbO": 15.0, "K2O": 10.0, "Na2O": 5.0, "SiO2": 70.0}


def published(moles, temp_c):
    """Surface tension, N/m, by the published coefficients."""
    return 1e-3 * (271.2 + sum(PER_MOL_PCT.get(k, 0.0) * v for k, v in moles.items()) + 0.04 * (1400.0 - temp_c))


def test_the_published_coefficients_are_those_of_a_hand_sum():
    assert published(LEAD, 815.0) == pytest.approx(0.2517, abs=5e-5)
    assert published({"SiO2": 100.0}, 815.0) == pytest.approx(0.2946, abs=5e-5)


def test_what_stands_for_an_unknown_glass_holds_the_reference_enamels(store):
    """By the published coefficients at 800 °C: all but those for gold to 4 mN/m, their median to 20 mN/m."""
    low, typical, high = TYPICAL_N_PER_M
    with open_reference(store) as ref:
        found = [
            published(mole_percent(dict(glass.composition)), 800.0)
            for record in ref.materials("glass")
            if record.role != "not an enamel"
            for glass in ref.reference_glasses(record.key)
            if glass.for_metal != "gold"
        ]
    assert len(found) > 20
    assert min(found) == pytest.approx(low, abs=4e-3)
    assert max(found) == pytest.approx(high, abs=4e-3)
    assert statistics.median(found) == pytest.approx(typical, abs=0.02)


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
                published(mole_percent(dict(g.composition)), 800.0)
                for g in ref.reference_glasses(record.key)
                if record.role == "not an enamel" or g.for_metal in metals
            ]
            assert found
            assert row.band.value == pytest.approx(sum(found) / len(found), abs=0.6e-3)
            width = 7e-3 if len(found) < 3 else 0.0
            assert row.band.low == pytest.approx(min(min(found), row.band.value - width), abs=1.1e-3)
            assert row.band.high == pytest.approx(max(max(found), row.band.value + width), abs=1.1e-3)
        assert told >= 9


def test_classes_without_a_composition_have_no_figure(store):
    with open_reference(store) as ref:
        for record in ref.materials("glass"):
            if not ref.reference_glasses(record.key):
                assert record.value("surface_tension") is None, record.key
