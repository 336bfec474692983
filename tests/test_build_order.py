"""The picture of the build: well-formed, to scale where it can be, and telling what it was given."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from refdb.pictures.build_order import build_order
from refdb.pictures.build_strip import BuildLayer

LAYERS = (
    BuildLayer("soft <clear> & more", "glass", 0.10, "3"),
    BuildLayer("drawing", "line", 0.03, "2"),
    BuildLayer("gold foil", "leaf", 0.003, "2"),
    BuildLayer("hard clear", "glass", 0.20, "1"),
    BuildLayer("copper", "metal", 0.80),
)
SPACE = "{http://www.w3.org/2000/svg}"


def drawn(layers=LAYERS) -> ET.Element:
    picture = build_order(layers, "build", "The build").replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return ET.fromstring(picture)


def heights(root: ET.Element, shape: str) -> list[float]:
    return [float(r.attrib["height"]) for r in root.iter(f"{SPACE}rect") if r.attrib.get("class") == shape]


def test_title_and_description_tell_the_layers():
    root = drawn()
    assert root.find(f"{SPACE}title").text == "The build"
    told = root.find(f"{SPACE}desc").text
    assert told == (
        "From the front down: soft <clear> & more, 0.10 mm, firing 3; drawing, firing 2; "
        "gold foil, firing 2; hard clear, 0.20 mm, firing 1; copper, 0.80 mm."
    )


def test_solid_layers_are_to_scale():
    glass, metal = heights(drawn(), "gl"), heights(drawn(), "me")
    assert metal[0] / glass[1] == pytest.approx(4.0, rel=0.02)
    assert len(glass) == 2


def test_a_very_thin_layer_can_still_be_seen():
    root = drawn((BuildLayer("film", "glass", 0.001, "1"), BuildLayer("copper", "metal", 1.0)))
    assert heights(root, "gl")[0] >= 8


@pytest.mark.parametrize("count", [1, 5, 12, 40])
def test_labels_never_overlap_and_stay_inside(count):
    layers = [BuildLayer(f"coat {n}", "glass", 0.05, str(n)) for n in range(count)]
    root = drawn([*layers, BuildLayer("copper", "metal", 0.8)])
    box = [float(x) for x in root.attrib["viewBox"].split()]
    places = [float(t.attrib["y"]) for t in root.iter(f"{SPACE}text") if (t.text or "").startswith("coat")]
    assert len(places) == count
    assert all(b - a >= 15 for a, b in pairwise(places))
    assert max(places) <= box[3]


def test_a_long_name_is_cut_in_the_picture_only():
    name = "transparent " * 8
    root = drawn((BuildLayer(name.strip(), "glass", 0.1, "1"), BuildLayer("copper", "metal", 1.0)))
    lines = [t.text for t in root.iter(f"{SPACE}text") if "transparent" in (t.text or "")]
    assert len(lines) == 2
    assert lines[1].endswith("…")
    assert max(map(len, lines)) <= 27
    assert name.strip() in root.find(f"{SPACE}desc").text


def test_text_is_escaped():
    assert "<clear>" not in build_order(LAYERS, "build", "a")
    assert re.search(r"&lt;clear&gt; &amp; more", build_order(LAYERS, "build", "a"))


# Cells


BED = (BuildLayer("bed", "glass", 0.2, "1"), BuildLayer("copper", "metal", 0.8))


def rings(root: ET.Element, shape: str) -> list[list[tuple[float, float]]]:
    """Points of the closed outlines of a class, in the order drawn."""
    data = (p.attrib["d"] for p in root.iter(f"{SPACE}path") if p.attrib.get("class") == shape)
    parts = [part for d in data if "Q" not in d for part in d.split("Z") if part]
    return [[tuple(map(float, p.split())) for p in part.removeprefix("M").split("L")] for part in parts]


def deep(ring: list[tuple[float, float]], x: float | None = None) -> tuple[float, float]:
    """Upper and lower end of an outline, or of its points at a place."""
    ys = [b for a, b in ring if x is None or a == pytest.approx(x, abs=0.1)]
    return min(ys), max(ys)


def test_wires_stand_on_their_coat_and_are_as_high_as_they_are_told():
    """A wire as high as the two coats above it ends level with them; a lump stands as high over the front."""
    coats = (BuildLayer("clear", "glass", 0.3, "3"), BuildLayer("clear", "glass", 0.3, "3"))
    root = drawn((*coats, BuildLayer("wire", "wire", 0.6, "2"), *BED))
    metal, *wires = rings(root, "me")
    top, foot = deep(rings(root, "gl")[-1])[0], deep(rings(root, "gl")[0])[0]
    assert len(wires) == 3
    for wire in wires:
        assert deep(wire) == pytest.approx((top, foot), abs=0.2)
    per_mm = (deep(metal)[1] - deep(metal)[0]) / 0.8
    lump = drawn((BuildLayer("lump", "inset", 0.6, "2"), *BED))
    metal = rings(lump, "me")[0]
    per_mm = (deep(metal)[1] - deep(metal)[0]) / 0.8
    # Round on top: its highest point is the y of the two curves' ends.
    (round_,) = (p.attrib["d"] for p in lump.iter(f"{SPACE}path") if "Q" in p.attrib.get("d", ""))
    foot, top = float(re.match(r"M\S+ (\S+)Q", round_)[1]), float(re.match(r"M\S+ \S+Q\S+ (\S+) ", round_)[1])
    assert foot - top == pytest.approx(0.6 * per_mm, abs=0.3)


def test_the_floor_of_a_recess_falls_from_its_shallowest_to_its_deepest_and_glass_fills_it():
    """By hand: metal of 1 mm, cut 0.2 to 0.4 mm over half of its face; 0.3 mm of glass in the mean is level with it."""
    rows = (
        BuildLayer("clear", "glass", 0.3, "2", (0.0, 0.2, 0.4)),
        BuildLayer("recess", "recess", 0.4, "", (0.2, 0.4), 0.5),
        BuildLayer("copper", "metal", 1.0),
    )
    root = drawn(rows)
    (metal,), (glass,) = rings(root, "me"), rings(root, "gl")
    top, bottom = deep(metal)
    per_mm = bottom - top
    xs = sorted({x for x, _ in metal})
    assert len(xs) == 4
    assert xs[2] - xs[1] == pytest.approx(0.5 * (xs[3] - xs[0]), abs=0.3)
    for x, mm in ((xs[1], 0.2), (xs[2], 0.4)):
        assert deep(metal, x) == pytest.approx((top, top + mm * per_mm), abs=0.2)
        assert deep(glass, x) == pytest.approx((top, top + mm * per_mm), abs=0.2)
    assert "0.20 to 0.40 mm in the recess and none on the land" in root.find(f"{SPACE}desc").text
    # A recess in the back is cut from below.
    back = drawn((rows[2], rows[1], rows[0]))
    (metal,), (glass,) = rings(back, "me"), rings(back, "gl")
    bottom = deep(metal)[1]
    assert deep(metal, xs[2]) == pytest.approx((bottom - 0.4 * per_mm, bottom), abs=0.2)
    assert deep(glass, xs[2]) == pytest.approx((bottom - 0.4 * per_mm, bottom), abs=0.2)


@pytest.mark.parametrize(("backing", "beneath"), [("", 0.1), ("mica", 0.0)])
def test_glass_in_openings_is_as_deep_as_it_is_laid(backing, beneath):
    """0.8 mm in metal of 1 mm: between the walls it hangs in the middle; on a backing it lies on that."""
    rows = (
        BuildLayer("clear", "within", 0.5, "2"),
        BuildLayer("clear", "within", 0.3, "1"),
        BuildLayer("openings", "opening", 1.0, backing=backing),
        BuildLayer("silver", "metal", 1.0),
    )
    root = drawn(rows)
    walls, glass = rings(root, "me"), rings(root, "gl")
    top, bottom = deep(walls[0])
    per_mm = bottom - top
    assert (len(walls), len(glass)) == (3, 4)
    assert {(min(a for a, _ in w), max(a for a, _ in w)) for w in walls} & {(1.0, 16.0), (82.0, 97.0)}
    first, second = deep(glass[0]), deep(glass[2])
    assert first == pytest.approx((bottom - (beneath + 0.3) * per_mm, bottom - beneath * per_mm), abs=0.2)
    assert second[1] == pytest.approx(first[0], abs=0.1)
    assert second[1] - second[0] == pytest.approx(0.5 * per_mm, abs=0.2)


def test_cells_say_that_widths_are_not_to_scale_and_plain_builds_need_not():
    assert "widths not" in build_order((BuildLayer("wire", "wire", 0.6, "2"), *BED), "b", "t")
    assert "widths not" not in build_order(LAYERS, "build", "The build")


@pytest.mark.parametrize(
    "kinds", [("recess", "opening", "recess"), ("wire", "inset", "set metal"), ("leaf", "line", "wire", "recess")]
)
def test_any_cells_together_are_drawn_within_the_picture(kinds):
    rows = [BuildLayer(k, k, 0.3, "1", (0.1, 0.3) if k == "recess" else ()) for k in kinds]
    root = drawn([*rows[:-1], BuildLayer("copper", "metal", 1.0), *rows[-1:]])
    wide, high = (float(x) for x in root.attrib["viewBox"].split()[2:])
    for p in root.iter(f"{SPACE}path"):
        for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", p.attrib["d"]):
            assert 0 <= float(x) <= wide
            assert 0 <= float(y) <= high


@pytest.mark.parametrize("cover", [0.4, 1.0])
@pytest.mark.parametrize("face", ["front", "back"])
def test_recess_and_openings_of_one_face_do_not_overlap(cover, face):
    """Openings lie beside a recess, or in the floor of one that takes the whole face; no coat spans an opening."""
    above = (
        BuildLayer("wire", "wire", 0.3),
        BuildLayer("clear", "glass", 0.3, "2", (0.0 if cover < 1 else 0.1, 0.2, 0.4)),
        BuildLayer("recess", "recess", 0.4, "", (0.2, 0.4), cover),
    )
    cut = (BuildLayer("clear", "within", 0.5, "1"), BuildLayer("openings", "opening", 1.0))
    metal = BuildLayer("silver", "metal", 1.0)
    root = drawn((*above, metal, *cut) if face == "front" else (*cut, metal, *reversed(above)))
    walls = sorted(rings(root, "me"), key=lambda r: (len(r), r))
    spans = sorted({(min(x for x, _ in r), max(x for x, _ in r)) for r in rings(root, "me")})
    bars = [s for s in spans if s[1] - s[0] > 4.0]
    holes = [(a[1], b[0]) for a, b in pairwise(bars)]
    assert len(bars) == 3
    assert all(b - a > 10.0 for a, b in holes)
    hollow = [r for r in rings(root, "gl") if any((min(x for x, _ in r), max(x for x, _ in r)) == h for h in holes)]
    coats = [r for r in rings(root, "gl") if r not in hollow]
    assert len(hollow) == 2
    assert len(coats) == (1 if cover < 1 else 3)
    for ring in (*coats, *walls):
        left, right = min(x for x, _ in ring), max(x for x, _ in ring)
        assert all(right <= a or left >= b for a, b in holes)
