"""Curves of free expansion."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from refdb.pictures.curves import expansion_curves, hottest_c, one_curve
from refdb.pictures.drawing import Triple

METAL = [(t, 18.0 * (t - 20)) for t in range(20, 601, 20)]


def glass(ppm_per_k, to=480):
    return [(t, ppm_per_k * (t - 20)) for t in range(20, to + 1, 20)]


GAP = Triple(2760, 2100, 3300)


def both(gap=GAP, names=("copper", "the clear")):
    return ET.fromstring(
        expansion_curves(
            METAL, glass(12.0), glass(11.0), glass(13.0), Triple(480, 450, 510), gap, names, "c", "Free <growth>"
        )
    )


def points(picture, kind):
    found = [e for e in picture if e.get("class") == kind]
    return [[tuple(map(float, p.split(","))) for p in e.get("points").split()] for e in found]


def test_the_description_tells_the_numbers_drawn():
    picture = both()
    assert picture[0].text == "Free <growth>"
    words = picture[1].text
    assert "480 °C (450 to 510)" in words
    assert "copper has grown by 8,280 ppm" in words
    assert "the clear by 5,520 ppm" in words
    assert "2,760 ppm, 2,100 to 3,300" in words


def test_the_glass_ends_at_its_set_point_and_the_metal_goes_on():
    """Temperature runs over 284 units to the end of the axis; strain over 226 units to 12,000 ppm."""
    picture = both()
    end = hottest_c(510)
    (metal,), (curve,) = points(picture, "cm"), points(picture, "cg")
    assert curve[-1][0] == pytest.approx(44 + 284 * 480 / end, abs=0.06)
    assert curve[-1][1] == pytest.approx(244 - 226 * 5520 / 12000, abs=0.06)
    assert metal[-1][0] == pytest.approx(44 + 284 * 600 / end, abs=0.06)
    assert len(points(picture, "cb")) == 2


def test_the_gap_is_shaded_between_the_two_curves():
    shaded = points(both(), "gapf")[0]
    (curve,) = points(both(), "cg")
    assert shaded[-len(curve) :] == curve[::-1]


def test_the_axis_leaves_room_for_the_number_of_the_gap():
    assert hottest_c(470) == 600
    assert hottest_c(552) == 700


def test_names_are_escaped():
    assert {"<m>", "g&"} <= {e.text for e in both(names=("<m>", "g&"))}


def test_one_curve_tells_its_end_and_its_range():
    picture = ET.fromstring(one_curve(glass(12), glass(11), glass(13), "clear", "glass", "k", "t"))
    assert "5,520 ppm up to 480 °C, 5,060 to 5,980" in picture[1].text
    assert len(points(picture, "cb")) == 2
    alone = ET.fromstring(one_curve(METAL, None, None, "copper", "metal", "k", "t"))
    assert points(alone, "cb") == []
    assert "10,440 ppm up to 600 °C." in alone[1].text


@pytest.mark.parametrize("ppm_per_k", [2, 4, 6, 9, 12, 15])
@pytest.mark.parametrize("set_c", [420, 480, 525, 560])
@pytest.mark.parametrize("name", ["the clear", "lead-free hard clear", "opaque cadmium red and orange"])
def test_the_set_points_figure_stands_clear_of_the_name(ppm_per_k, set_c, name):
    """Words as wide as a phone draws them: 6.8 units a letter of the name, 48 for the longer line of the other."""
    drawn = expansion_curves(
        METAL, *(glass(ppm_per_k * k, set_c) for k in (1, 0.9, 1.1)), Triple(set_c, set_c - 30, set_c + 30), GAP,
        ("copper", name), "c", "t",
    )  # fmt: skip
    words = {e.text: e for e in ET.fromstring(drawn) if e.tag == "text"}
    x, y = (float(words[name].get(c)) for c in "xy")
    a, b = float(words["sets at"].get("x")), float(words["sets at"].get("y"))
    left = a - 48 if "e" in words["sets at"].get("class").split() else a
    across = min(x + 6.8 * len(name), left + 48) - max(x, left)
    down = min(y + 4, b + 14 + 4) - max(y - 11, b - 10)
    assert across <= 0 or down <= 0
    assert y <= 240
