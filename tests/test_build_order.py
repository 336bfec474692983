"""The picture of the build: well-formed, to scale where it can be, and telling what it was given."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from refdb.pictures.build_order import BuildLayer, build_order

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
    assert any((t.text or "").endswith("…") and len(t.text) <= 27 for t in root.iter(f"{SPACE}text"))
    assert name.strip() in root.find(f"{SPACE}desc").text


def test_text_is_escaped():
    assert "<clear>" not in build_order(LAYERS, "build", "a")
    assert re.search(r"&lt;clear&gt; &amp; more", build_order(LAYERS, "build", "a"))


def test_wires_stand_on_their_coat_and_are_as_high_as_they_are_told():
    """A wire as high as the two coats above it ends level with them; a lump is drawn out of the front."""
    coats = (BuildLayer("clear", "glass", 0.3, "3"), BuildLayer("clear", "glass", 0.3, "3"))
    bed = (BuildLayer("bed", "glass", 0.2, "1"), BuildLayer("copper", "metal", 0.8))
    root = drawn((*coats, BuildLayer("wire", "wire", 0.6, "2"), *bed))
    wires = [r for r in root.iter(f"{SPACE}rect") if r.attrib.get("class") == "me" and r.attrib["width"] == "3"]
    glass = [r for r in root.iter(f"{SPACE}rect") if r.attrib.get("class") == "gl"]
    assert len(wires) == 3
    assert [float(w.attrib["y"]) for w in wires] == pytest.approx([float(glass[0].attrib["y"])] * 3, abs=0.1)
    assert float(wires[0].attrib["height"]) == pytest.approx(sum(float(g.attrib["height"]) for g in glass[:2]), abs=0.2)
    lump = drawn((BuildLayer("lump", "inset", 0.6, "2"), *bed))
    assert float(lump.attrib["viewBox"].split()[1]) < 0


@pytest.mark.parametrize(("kind", "share"), [("recess", 0.5), ("opening", 1.0)])
def test_what_is_cut_into_the_metal_is_drawn_in_it(kind, share):
    root = drawn((BuildLayer("cut", kind, 0.8 * share), BuildLayer("copper", "metal", 0.8)))
    (metal,) = (r for r in root.iter(f"{SPACE}rect") if r.attrib.get("class") == "me")
    cuts = [r for r in root.iter(f"{SPACE}rect") if r.attrib.get("class") == "gl"]
    assert cuts
    for cut in cuts:
        assert float(cut.attrib["height"]) == pytest.approx(float(metal.attrib["height"]) * share, abs=0.1)
    assert {float(c.attrib["y"]) for c in cuts} == {float(metal.attrib["y"])}
