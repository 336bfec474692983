"""Lengths, gauges and thicknesses as people type them."""

from __future__ import annotations

import itertools

import pytest

from refdb import quantities as q
from refdb.errors import BadInput
from refdb.quantities import Band
from refdb.quantities.lengths import CARD_M, SWG_IN


def refused(reader, text, **named) -> str:
    """The one line with which `reader` refuses `text`."""
    with pytest.raises(BadInput) as caught:
        reader(text, **named)
    line = caught.value.line
    assert "\n" not in line
    assert line.isprintable()
    return line


@pytest.mark.parametrize(
    ("text", "expected_m"),
    [
        ("0.8mm", 0.8e-3),
        ("0.8 mm", 0.8e-3),
        (".8mm", 0.8e-3),
        ("0.8 MM", 0.8e-3),
        (" +0.80\u00a0mm ", 0.8e-3),
        ("0.03 in", 0.762e-3),
        ('0.03"', 0.762e-3),
        ("0.03″", 0.762e-3),
        ("30 thou", 0.762e-3),
        ("1/32 in", 0.79375e-3),
        ('1/16"', 1.5875e-3),
        ("1 1/2 in", 38.1e-3),
        ("300 um", 0.3e-3),
        ("300 µm", 0.3e-3),
        ("300 μm", 0.3e-3),
        ("300 microns", 0.3e-3),
        ("1e3 um", 1e-3),
        ("2 x 10^-3 m", 2e-3),
        ("2×10⁻³ m", 2e-3),
        ("120 nm", 0.12e-6),
        ("0.5 ft", 0.1524),
        ("3 cm", 0.03),
        ("5.mm", 5e-3),
    ],
)
def test_lengths_as_typed(text, expected_m):
    assert q.length_m(text) == pytest.approx(expected_m, rel=1e-12)


def test_decimal_lengths_are_the_nearest_float():
    assert (q.length_m("0.8 mm"), q.length_m("300 µm"), q.length_m("0.3 mm")) == (0.0008, 0.0003, 0.0003)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("0.3", "no unit"),
        ("0,8 mm", "point"),
        ("1,500 mm", "point"),
        ("", "empty"),
        (" \t", "empty"),
        ("mm", "number"),
        ("nan mm", "number"),
        ("inf mm", "number"),
        ("1e999 mm", "too large"),
        ("0 mm", "zero"),
        ("-1 mm", "zero"),
        ("30 mil", "thou"),
        ("3 kg", "unit"),
        ("0.8 mm mm", "unit"),
        ("3 cards", "thickness"),
        ("200 m", "100 m"),
        ("0.6-0.7 mm", "more than one"),
        ("1/0 in", "zero"),
        ("x" * 201, "too long"),
        ("٣ mm", "number"),
        ("2 x 107 um", "unit"),
        (0.8, "quotes"),
        (None, "quotes"),
    ],
)
def test_lengths_refused_say_what_to_write(text, hint):
    line = refused(q.length_m, text, where="--front")
    assert line.startswith("--front: ")
    assert hint in line
    assert "mm" in line


def test_length_may_be_zero_or_negative_only_where_asked():
    assert q.length_m("0 mm", zero_ok=True) == 0.0
    assert q.length_m("−2 mm", signed=True) == -0.002
    refused(q.length_m, "-2 mm", zero_ok=True)


def test_typed_text_is_cut_and_control_characters_are_harmless():
    line = refused(q.length_m, "9\x1b[31m\n\u202e" + "y" * 100)
    assert "y" * 38 not in line
    assert "..." in line


@pytest.mark.parametrize(
    ("gauge", "expected_in"),
    [(10, 0.1019), (16, 0.0508), (18, 0.0403), (20, 0.0320), (24, 0.0201), (30, 0.0100), (36, 0.0050), (40, 0.0031)],
)
@pytest.mark.parametrize("word", [" ga", "ga", " gauge", " gage", " awg", " B&S", " b & s gauge"])
def test_brown_and_sharpe_gauges(gauge, expected_in, word):
    """ASTM B258 as tabulated in inches, to half of the last printed digit."""
    assert q.length_m(f"{gauge}{word}") / 0.0254 == pytest.approx(expected_in, abs=0.00005)


@pytest.mark.parametrize(
    ("gauge", "expected_mm"),
    [
        (8, 4.064),
        (14, 2.032),
        (18, 1.219),
        (20, 0.914),
        (22, 0.711),
        (24, 0.559),
        (27, 0.417),
        (33, 0.254),
        (40, 0.122),
    ],
)
def test_imperial_gauges(gauge, expected_mm):
    """BS 3737:1964 as tabulated in mm, to half of the last printed digit."""
    assert q.length_m(f"{gauge} swg") * 1e3 == pytest.approx(expected_mm, abs=0.0005)


def test_imperial_gauges_get_thinner_with_the_number():
    assert len(SWG_IN) == 51
    assert all(thicker > thinner for thicker, thinner in itertools.pairwise(SWG_IN))


@pytest.mark.parametrize("text", ["41 ga", "51 swg", "20.5 ga", "ga", "20-22 ga", "-3 ga", "20 ga mm", "20 ga swg"])
def test_gauges_that_are_none_are_refused(text):
    assert "gauge" in refused(q.length_m, text)
    assert "gauge" in refused(q.thickness, text)


# --- thickness


@pytest.mark.parametrize(
    ("text", "value", "low", "high"),
    [
        ("0.8 mm", 0.8, 0.8, 0.8),
        ("0.6-0.7 mm", 0.65, 0.6, 0.7),
        ("0.6–0.7mm", 0.65, 0.6, 0.7),
        ("0.6 to 0.7mm", 0.65, 0.6, 0.7),
        ("0.6 mm - 0.7 mm", 0.65, 0.6, 0.7),
        ("600 um to 0.7 mm", 0.65, 0.6, 0.7),
        ("0.6..0.7 mm", 0.65, 0.6, 0.7),
        ("0.65±0.05 mm", 0.65, 0.6, 0.7),
        ("0.65 mm +/- 50 um", 0.65, 0.6, 0.7),
        ("(0.65 ± 0.05) mm", 0.65, 0.6, 0.7),
        ("0.5 mm ± 10 %", 0.5, 0.45, 0.55),
        ("3 cards", 0.84, 0.75, 0.90),
        ("3-card", 0.84, 0.75, 0.90),
        ("1 playing card", 0.28, 0.25, 0.30),
        ("2-3 cards", 0.70, 0.50, 0.90),
        ("1/32 in", 0.79375, 0.79375, 0.79375),
        ("0.001 mm", 0.001, 0.001, 0.001),
        ("50 mm", 50, 50, 50),
    ],
)
def test_thickness_as_typed(text, value, low, high):
    taken = q.thickness(text)
    assert taken.said == text
    assert (taken.band.value, taken.band.low, taken.band.high) == pytest.approx((value / 1e3, low / 1e3, high / 1e3))


def test_cards_of_clay_shrink_in_firing_and_millimetres_do_not():
    shrinkage = Band(0.2, 0.15, 0.25)
    fired = q.thickness("3 cards", shrinkage=shrinkage)
    assert fired.band.value == pytest.approx(3 * 0.28e-3 * 0.8)
    assert (fired.band.low, fired.band.high) == pytest.approx((3 * 0.25e-3 * 0.75, 3 * 0.30e-3 * 0.85))
    assert "before firing" in fired.note
    sheet = q.thickness("0.8 mm", shrinkage=shrinkage)
    assert sheet.band == Band.exact(0.0008)
    assert "after firing" in sheet.note
    assert q.thickness("3 cards").band == CARD_M.scaled(3)
    refused(q.thickness, "3 cards", shrinkage=Band(0.5, 0.4, 1.0))
    refused(q.thickness, "3 cards", shrinkage=Band(0.1, -0.1, 0.2))


def test_gauge_note_names_the_gauge_and_the_millimetres():
    assert "Brown & Sharpe" in q.thickness("20 ga").note
    assert "0.81 mm" in q.thickness("20 ga").note
    assert "imperial" in q.thickness("20 swg").note
    assert "0.91 mm" in q.thickness("20 swg").note


@pytest.mark.parametrize(
    "text",
    [
        "0.1 um",
        "51 mm",
        "0.9 um to 1 mm",
        "49-51 mm",
        "0.7-0.6 mm",
        "0.5±0.5 mm",
        "0.5 ± -0.1 mm",
        "0 cards",
        "-1 cards",
        "3 cards - 1 mm",
        "1 mm - 3 cards",
        "500 cards",
        "0",
        "0 mm",
        "none",
        "0.6-0.7",
        "0.6-0.7-0.8 mm",
        "1e308-1e309 mm",
    ],
)
def test_thickness_refused(text):
    refused(q.thickness, text)


@pytest.mark.parametrize("text", ["0", "0 mm", "none", 0, 0.0])
def test_no_coat_at_all_only_where_asked(text):
    assert q.thickness(text, zero_ok=True).band == Band.exact(0.0)
    refused(q.thickness, text)


def test_zero_ok_lets_no_sliver_or_truth_value_through():
    for text in ("0-0.5 mm", "0.5 um", "-0.1 mm", False):
        refused(q.thickness, text, zero_ok=True)


def test_whole_number_too_long_to_write_out_is_refused():
    assert "quotes" in refused(q.length_m, 10**5000)
