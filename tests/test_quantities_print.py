"""Quantities printed for the bench and read back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb import quantities as q
from refdb.quantities import Band


@pytest.mark.parametrize(
    ("printed", "expected"),
    [
        (q.format_length_mm(0.65e-3, plain=True), "0.65 mm"),
        (q.format_length_mm(0.00081182, plain=True), "0.81 mm"),
        (q.format_length_mm(0.0254, plain=True), "25.4 mm"),
        (q.format_length_mm(0.03, plain=True), "30 mm"),
        (q.format_length_mm(65e-6, plain=True), "0.065 mm"),
        (q.format_length_mm(0.00015, plain=True), "0.15 mm"),
        (q.format_length_mm(1.2e-7, plain=True), "0.12 µm"),
        (q.format_length_mm(0.0), "0\u00a0mm"),
        (q.format_length_mm(-0.002), "\u22122.00\u00a0mm"),
        (q.format_length_mm(math.nan), "unknown"),
        (q.format_ppm(2437.3, plain=True), "2,440 ppm"),
        (q.format_ppm(-850.0), "\u2212850\u00a0ppm"),
        (q.format_ppm(999.6, plain=True), "1,000 ppm"),
        (q.format_ppm(math.nan), "unknown"),
        (q.format_expansion(12.5e-6, plain=True), "12.5 ppm/K"),
        (q.format_number(0.0), "0"),
        (q.format_number(1e20, plain=True), "1.00e20"),
        (q.format_number(-3.2e-7), "\u22123.20e\u22127"),
        (q.format_temperature(815.0), "815\u00a0°C"),
        (q.format_temperature(-20.0, plain=True), "-20 °C"),
        (q.format_temperature(815.5556, units="studio", plain=True), "1500 °F"),
        (q.format_temperature(-0.2), "0\u00a0°C"),
        (q.format_temperature(math.inf), "unknown"),
        (q.format_temperature_difference(30.0, units="studio", plain=True), "54 °F"),
        (q.format_duration(2.5, plain=True), "2.5 min"),
        (q.format_duration(3.0, plain=True), "3 min"),
        (q.format_duration(0.5, plain=True), "30 s"),
        (q.format_duration(90.0, plain=True), "1 h 30 min"),
        (q.format_duration(180.0, plain=True), "3 h"),
        (q.format_band(Band(2437, 2100, 2803), "ppm", plain=True), "2,440 ppm (2,100 to 2,800)"),
        (q.format_band(Band(12.5, 12, 13), "ppm/K", plain=True), "12.5 ppm/K (12.0 to 13.0)"),
        (q.format_band(Band(1e-3, 1e-3, 2e-3), "mm", scale=1e3, plain=True), "1.00 mm (1.00 to 2.00)"),
        (q.format_band(Band(1, -2, 3), "MPa", digits=1), "1\u00a0MPa (\u22122 to 3)"),
        (q.format_band(Band.exact(0.3), "mm", digits=2, plain=True), "0.30 mm"),
    ],
)
def test_printing(printed, expected):
    assert printed == expected


@given(st.floats(1e-8, 0.9))
def test_printed_lengths_are_read_back(length_m):
    for plain in (True, False):
        back = q.length_m(q.format_length_mm(length_m, plain=plain))
        assert back == pytest.approx(length_m, rel=0.0503)


@given(st.floats(-250.0, 3000.0), st.sampled_from(["metric", "studio"]), st.booleans())
def test_printed_temperatures_are_read_back(temp_c, units, plain):
    printed = q.format_temperature(temp_c, units=units, plain=plain)
    assert q.temperature_c(printed) == pytest.approx(temp_c, abs=0.5001)
    assert q.temperature_c(q.ascii_fallback(printed)) == q.temperature_c(printed)


@given(st.floats(0.1e-6, 30e-6))
def test_printed_expansions_are_read_back(expansion):
    assert q.expansion_per_k(q.format_expansion(expansion)).value == pytest.approx(expansion, rel=0.0051)


@given(st.text())
def test_ascii_fallback_is_ascii_and_leaves_ascii_alone(text):
    plain = q.ascii_fallback(text)
    assert plain.isascii()
    assert q.ascii_fallback(plain) == plain


def test_ascii_fallback_words():
    shown = "815\u00a0°C, 6.9×10⁻⁶/°F, 30 µm – 0.65 ± 0.05 mm², ≥ −5°"
    assert q.ascii_fallback(shown) == "815 degC, 6.9x10^-6/degF, 30 um - 0.65 +/- 0.05 mm2, >= -5 deg"
