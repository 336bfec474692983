"""The fit grid and the picture at the front."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from refdb.pictures.cover import COVER, domed_section
from refdb.pictures.grid import SHORT, fit_grid

GLASSES = [("Clears", [("c1", "clear <one>"), ("c2", "clear two")]), ("Whites", [("w", "white")])]
METALS = [("cu", "copper"), ("ag", "silver & co")]
OUTCOMES = {
    ("c1", "cu"): "suits",
    ("c1", "ag"): "suits with care",
    ("c2", "cu"): "does not suit",
    ("c2", "ag"): "cannot say",
    ("w", "cu"): "suits",
    ("w", "ag"): "does not suit",
}


def grid():
    return ET.fromstring(
        fit_grid(
            GLASSES,
            METALS,
            lambda g, m: OUTCOMES[(g, m)],
            lambda key: f"/m/{key}",
            lambda g, m: f"/s?g={g}&m={m}",
            "Three on two",
        )
    )


def test_every_pair_has_a_cell_with_mark_word_and_link():
    found = {}
    for row in grid().iter("tr"):
        cells = row.findall("td")
        for cell in cells:
            link = cell.find("a")
            found[link.get("href")] = (
                "".join(link.itertext()),
                link.get("aria-label"),
                link.find("svg/use").get("href"),
            )
    assert len(found) == len(OUTCOMES)
    for (glass, metal), outcome in OUTCOMES.items():
        word, label, shape = found[f"/s?g={glass}&m={metal}"]
        assert word == SHORT[outcome]
        assert label.endswith(f": {outcome}")
        assert (
            shape
            == {
                "suits": "#m-suits",
                "suits with care": "#m-care",
                "does not suit": "#m-not",
                "cannot say": "#m-unsure",
            }[outcome]
        )


def test_heads_have_scope_and_the_table_a_caption():
    table = grid()
    assert table.find("caption").text == "Three on two"
    assert [th.get("scope") for th in table.find("thead").iter("th")] == ["col"] * 3
    kinds = [th.get("scope") for body in table.findall("tbody") for th in body.iter("th")]
    assert kinds == ["rowgroup", "row", "row", "rowgroup", "row"]


def test_labels_are_escaped():
    assert "clear <one>" in ["".join(a.itertext()) for a in grid().iter("a")]


def test_the_front_picture_numbers_every_layer_and_names_them():
    names = ("a", "b <", "c", "d", "e")
    picture = ET.fromstring(domed_section(names))
    assert [t.text for t in picture.iter("text")] == ["1", "2", "3", "4", "5"]
    assert picture[1].text == "From the front: 1 a, 2 b <, 3 c, 4 d, 5 e."
    assert len([e for e in picture if e.get("class") == "gl"]) == sum(arc.kind == "glass" for arc in COVER)
