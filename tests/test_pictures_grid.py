"""The fit grid and the picture at the front."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from refdb.pictures.cover import COVER, domed_section
from refdb.pictures.grid import SHORT, Cell, Row, fit_grid, rows_alike

METALS = [("cu", "copper"), ("ag", "silver & co")]
GLASSES = {"c1": "clear <one>", "c2": "clear two", "w": "white"}
CELLS = {
    "c1": (Cell("suits", 10, 2.0), Cell("suits with care", 9, -0.5)),
    "c2": (Cell("does not suit", 1, None, "by a rule"), Cell("cannot say", None, None, "not known")),
    "w": (Cell("suits", 10, 0.0), Cell("does not suit", 0, -4.0)),
}


def rows(*keys):
    return [Row(((key, GLASSES[key]),), CELLS[key]) for key in keys]


def grid(groups=None):
    found = groups or [("Clears", rows("c1", "c2")), ("Whites", rows("w"))]
    return ET.fromstring(
        fit_grid(found, METALS, lambda key: f"/m/{key}", lambda g, m: f"/s?g={g}&m={m}", "Three on two")
    )


def test_every_pair_has_a_cell_with_mark_word_share_and_link():
    found = {a.get("href"): a for td in grid().iter("td") for a in td.findall("a")}
    assert len(found) == len(CELLS) * len(METALS)
    for glass, cells in CELLS.items():
        for (metal, label), cell in zip(METALS, cells, strict=True):
            link = found[f"/s?g={glass}&m={metal}"]
            sure = "" if cell.holds is None else f", holds in {cell.holds} of 10"
            assert link.get("aria-label") == f"{GLASSES[glass]} on {label}: {cell.outcome}{sure}"
            assert link.find("span[@class='w']").text == SHORT[cell.outcome]
            assert (link.find("b").text if link.find("b") is not None else None) == (
                None if cell.holds is None else str(cell.holds)
            )
            assert [e.text for e in link.findall("span[@class='by']")] == ([cell.by] if cell.room is None else [])
            shape = {"suits": "suits", "suits with care": "care", "does not suit": "not", "cannot say": "unsure"}
            assert link.find("svg/use").get("href") == f"#m-{shape[cell.outcome]}"


def test_room_lies_right_of_the_limit_and_what_is_past_left_of_it():
    bars = {}
    for a in (a for td in grid().iter("td") for a in td.findall("a")):
        room = a.find("svg[@class='room']")
        if room is not None:
            limit = float(room.find("path[@class='lim']").get("d")[1:].split()[0])
            bar = room.find("rect")
            bars[a.get("href")] = (bar.get("class"), float(bar.get("x")) - limit, float(bar.get("width")))
    assert bars["/s?g=c1&m=cu"] == ("in", 0, 32)
    assert bars["/s?g=c1&m=ag"] == ("out", -8, 8)
    # Nothing left is still seen, and what is far past is drawn to its end.
    assert bars["/s?g=w&m=cu"] == ("in", 0, 1)
    assert bars["/s?g=w&m=ag"] == ("out", -16, 16)


def test_rows_that_look_alike_are_one_and_all_its_glasses_are_named():
    near = (Cell("suits", 10, 2.1), CELLS["c1"][1])
    found = rows_alike([(("c1", "one"), CELLS["c1"]), (("w", "white"), CELLS["w"]), (("c3", "three"), near)])
    assert [row.glasses for row in found] == [(("c1", "one"), ("c3", "three")), (("w", "white"),)]
    head = next(th for th in grid([("Clears", found)]).iter("th") if th.find("details") is not None)
    assert [a.get("href") for a in head.iter("a")] == ["/m/c1", "/m/c3"]
    assert head.find("details/summary").text == "1 alike"
    for other in (Cell("suits", 9, 2.0), Cell("suits", 10, 1.0), Cell("suits with care", 10, 2.0), Cell("suits", 10)):
        assert len(rows_alike([(("a", ""), [CELLS["c1"][0]]), (("b", ""), [other])])) == 2


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
