"""The section with its stress, and the firings."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from refdb.pictures.drawing import Triple
from refdb.pictures.section import LayerStress, drawn_thicker, firing, section, stress_scale_mpa


def layer(name, kind, thickness, top, mean, bottom, spread=5.0):
    return LayerStress(name, kind, thickness, *(Triple(x, x - spread, x + spread) for x in (top, mean, bottom)))


BOTH = (
    layer("front glass", "glass", 0.30, -60, -60, -60),
    layer("copper", "metal", 0.65, 55, 55, 55),
    layer("back glass", "glass", 0.30, -60, -60, -60),
)
FIRST = (layer("front glass", "glass", 0.20, -25, -56, -87), layer("copper", "metal", 0.65, 58, 17, -57))


def bars(picture):
    found = [e for e in picture if e.get("class") in ("sq", "st")]
    return [(e.get("class"), float(e.get("x")), float(e.get("width"))) for e in found]


def test_title_and_description_name_the_picture_and_tell_its_numbers():
    picture = ET.fromstring(section(BOTH, "s", "A <piece>"))
    assert picture.get("role") == "img"
    assert picture.get("aria-labelledby") == "s-t s-d"
    assert [picture[0].get("id"), picture[1].get("id")] == ["s-t", "s-d"]
    assert picture[0].text == "A <piece>"
    words = picture[1].text
    assert "1.25 mm deep" in words
    assert "Front glass, 0.30 mm: mean −60 MPa, −65 to −55" in words
    assert "Copper, 0.65 mm: mean +55 MPa, +50 to +60" in words


def test_squeezed_bars_go_left_of_zero_and_stretched_ones_right():
    """0.84 units a MPa from zero at 236, as the scale of 100 MPa over 84 units has it."""
    for kind, x, width in bars(ET.fromstring(section(BOTH, "s", "t"))):
        if kind == "sq":
            assert x + width == pytest.approx(236, abs=0.1)
            assert width == pytest.approx(60 * 0.84, abs=0.1)
        else:
            assert x == pytest.approx(236, abs=0.1)
            assert width == pytest.approx(55 * 0.84, abs=0.1)


def test_values_stand_outside_with_their_sign():
    texts = [e.text for e in ET.fromstring(section(BOTH, "s", "t")) if e.get("class", "").startswith("b ")]
    assert texts == ["−60", "+55", "−60"]


def test_glass_runs_straight_and_metal_keeps_its_faces_and_mean():
    glass, metal = FIRST
    assert glass.stress_mpa(0.5) == pytest.approx(-56)
    assert metal.stress_mpa(0.0) == 58
    assert metal.stress_mpa(1.0) == pytest.approx(-57)
    steps = [metal.stress_mpa((n + 0.5) / 2000) for n in range(2000)]
    assert sum(steps) / 2000 == pytest.approx(17, abs=0.5)
    assert max(steps) <= 58


def test_the_scale_grows_in_steps_of_fifty():
    assert stress_scale_mpa(BOTH) == 100
    assert stress_scale_mpa((layer("x", "glass", 0.3, -80, -110, -120),)) == 150
    wide = layer("x", "glass", 0.3, 0, 0, 0, spread=170)
    assert stress_scale_mpa((wide,)) == 200
    assert stress_scale_mpa((wide,), ranges=False) == 100


def test_a_thin_coat_is_drawn_thicker_and_said_so():
    thin = (layer("front glass", "glass", 0.05, -1, -1, -1), *BOTH[1:])
    assert drawn_thicker(thin) == ("front glass",)
    assert drawn_thicker(BOTH) == ()
    strips = [float(e.get("height")) for e in ET.fromstring(section(thin, "s", "t")) if e.get("class") == "gl"]
    assert min(strips) == 30


def test_a_thick_piece_stays_within_its_height():
    thick = tuple(layer(x.name, x.kind, x.thickness_mm * 8, 0, 0, 0) for x in BOTH)
    box = ET.fromstring(section(thick, "s", "t")).get("viewBox").split()
    assert float(box[3]) <= 48 + 260 + 22 + 1


def test_a_name_is_escaped_and_stays_beside_its_layer():
    odd = (layer("<i>&", "glass", 0.3, 0, 0, 0), BOTH[1])
    assert "<i>&" in [e.text for e in ET.fromstring(section(odd, "s", "t"))]


def test_firings_share_their_scales_and_the_height_of_the_metal():
    tops = []
    for layers, bow in ((FIRST, 0.4), (BOTH, 0.0)):
        picture = ET.fromstring(firing(layers, bow, "f", "1. First", most_mpa=100, deepest_mm=1.25, front_mm=0.30))
        tops.append(next(float(e.get("y")) for e in picture if e.get("class") == "me"))
        words = "".join(picture.itertext())
        assert ("bow 0.40 mm, drawn ×5" in words) == (bow != 0)
        assert ("flat" in words) == (bow == 0)
    assert tops[0] == tops[1]


def test_a_bow_beyond_the_picture_says_that_it_is_not_to_scale():
    picture = firing(FIRST, 9.0, "f", "t", most_mpa=100, deepest_mm=1.25, front_mm=0.2)
    assert "bow 9.00 mm, not to scale" in picture
    assert re.search(r"Q75 138 ", picture)


@pytest.mark.parametrize("squeezed", [-20, -60, -85, -99, -140, -480])
@pytest.mark.parametrize("pulled", [20, 95, 480])
def test_no_figure_lies_on_the_layers_or_beyond_the_picture(squeezed, pulled):
    """A bold figure is taken as nine units a sign; the layers end at 128, and the picture at 340."""
    layers = (
        layer("front glass", "glass", 0.30, squeezed, squeezed, squeezed, 15.0),
        layer("copper", "metal", 0.80, pulled, pulled, pulled, 15.0),
    )
    picture = ET.fromstring(section(layers, "s", "t"))
    figures = [e for e in picture.iter() if "b" in (e.get("class") or "").split()]
    assert len(figures) == 2
    for one in figures:
        wide, x = 9.0 * len(one.text), float(one.get("x"))
        left = x - wide if "e" in one.get("class").split() else x
        assert left > 126
        assert left + wide < 345
