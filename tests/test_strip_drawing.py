"""The drawing of how a strip's bow is measured, for pages and in plain characters."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from refdb.pictures.strip_drawing import strip_drawing, strip_text


def lowest(picture, shape):
    """The lowest point of a layer: the last of the path's heights at its left end."""
    data = next(e.get("d") for e in picture if e.get("class") == shape)
    return float(data.split()[1].split("Q")[0])


@pytest.mark.parametrize("glass_outside", [True, False])
def test_the_outer_layer_is_drawn_above_and_told(glass_outside):
    picture = ET.fromstring(strip_drawing("p", "A <strip>", bow_mm=-4.367, length_mm=120, glass_outside=glass_outside))
    assert picture.get("aria-labelledby") == "p-t p-d"
    assert picture[0].text == "A <strip>"
    assert (lowest(picture, "gl") < lowest(picture, "me")) == glass_outside
    told = picture[1].text
    assert ("outside of the bend: the bow counts above zero" in told) == glass_outside
    assert ("inside of the bend: the bow counts below zero" in told) == (not glass_outside)
    words = [e.text.replace("\u00a0", " ") for e in picture if e.tag == "text"]
    assert "bow 4.37 mm" in words
    assert "length 120 mm, straight from end to end" in words
    assert words.index("metal") != words.index("glass")


def test_the_bow_is_measured_between_the_ground_and_the_middle():
    """By hand: a parabola with its control point at twice the rise passes through the end of the bow's line."""
    picture = ET.fromstring(strip_drawing("p", "t"))
    metal = next(e.get("d") for e in picture if e.get("class") == "me")
    start, control = metal[1:].split("V")[0].split("Q")
    low, (_, peak, *_) = float(start.split()[1]), map(float, control.split())
    bow = next(e.get("d") for e in picture if e.get("class") == "wk")
    assert float(bow.split("V")[0].split()[1]) == (low + peak) / 2
    assert next(e.text for e in picture if e.tag == "text") == "bow"


@pytest.mark.parametrize("glass_outside", [True, False])
@pytest.mark.parametrize("figures", [{}, {"bow_mm": 3.2, "length_mm": 80.0}, {"bow_mm": 123.45, "length_mm": 12345.0}])
def test_plain_characters_fit_the_page_and_show_which_side_the_glass_is(glass_outside, figures):
    lines = strip_text(glass_outside=glass_outside, **figures)
    assert max(map(len, lines)) <= 78
    assert all(line.isascii() and line == line.rstrip() for line in lines)
    assert (lines[0].strip()[0] == "=") == glass_outside
    assert "= glass" in " ".join(lines)
    assert "# metal" in " ".join(lines)
    for value, unit in ((figures.get("bow_mm"), "bow"), (figures.get("length_mm"), "length")):
        wanted = f"{unit} {value:,.2f} mm" if unit == "bow" and value else f"{unit} {value:,.0f} mm" if value else unit
        assert wanted in " ".join(lines)
