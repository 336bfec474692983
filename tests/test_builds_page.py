"""The page of builds: it tells what the command tells, and every cell of its map leads to its verdict."""

from __future__ import annotations

import json
import re
from html import unescape
from urllib.parse import parse_qsl, urlsplit

import pytest
from browse_client import Outline

from refdb.pictures.heat_map import heat_map, tenths_text, zone

CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"
MAP = f"/builds?metal={COPPER}&glass={CLEAR}&metal_thickness=0.6+mm"


def links_of(body: str, part: str) -> list[str]:
    """Addresses in an element of a page."""
    held = re.search(rf"<{part}[ >].*?</{part.split()[0]}>", body, re.S)
    assert held, part
    return [unescape(link) for link in re.findall(r'<a href="([^"]*)"', held[0])]


def test_a_map_is_the_command_s(asking, refdb):
    body = asking.get(MAP).body
    command = unescape(re.search(r"<code>(refdb builds [^<]*)</code>", body)[1])  # type: ignore[index]
    assert command == f'refdb builds {COPPER} --glass {CLEAR} --metal-thickness "0.6 mm"'
    ran = refdb("builds", COPPER, "--glass", CLEAR, "--metal-thickness", "0.6 mm", "--json")
    rows = json.loads(ran.out)["rows"]
    cells = re.findall(r'<td class="n"><a href="([^"]*)"[^>]*>(\d+)</a></td>', body)
    found = {}
    for link, hundredths in cells:
        asked = dict(parse_qsl(urlsplit(unescape(link)).query))
        found[float(asked["front"].removesuffix("mm")), float(asked["back"].removesuffix("mm"))] = int(hundredths)
    assert found == {(row["front_mm"], row["back_mm"]): int(row["holds"] * 100 + 1e-6) for row in rows}
    drawn = re.search(r'<svg class="fig heat".*?</svg>', body, re.S)[0]  # type: ignore[index]
    assert sorted(re.findall(r'<a href="([^"]*)"', drawn)) == sorted(link for link, _ in cells)
    assert 'class="l9"' in drawn
    assert 'class="l5"' in drawn


def test_cells_lead_to_verdicts_that_agree(asking):
    body = asking.get(MAP).body
    cells = re.findall(r'<td class="n"><a href="([^"]*)"[^>]*>(\d+)</a></td>', body)
    for link, hundredths in (cells[0], cells[len(cells) // 2], cells[-1]):
        answer = asking.get(unescape(link))
        assert answer.status == 200
        word = re.search(r'<p class="word">.*?</svg> ([^<]*)<', answer.body)[1].lower()  # type: ignore[index]
        assert (word in ("suits", "suits with care")) == (int(hundredths) > 65), link
    assert "/builds?" in answer.body, "the verdict leads back to the map"


def test_builds_for_a_wish_are_the_command_s(asking, refdb):
    body = asking.get(f"/builds?metal=copper-clay&glass={CLEAR}&wish=clay+of+four+cards,+front+0.5+mm").body
    rows = json.loads(
        refdb("builds", "copper-clay", "--glass", CLEAR, "--wish", "clay of four cards, front 0.5 mm", "--json").out
    )["rows"]
    links = links_of(body, 'ol class="best"')
    assert len(links) == len(rows) > 0
    for link, row in zip(links, rows, strict=True):
        asked = dict(parse_qsl(urlsplit(link).query))
        assert asked["metal_thickness"] == "4 cards"
        assert float(asked["front"].removesuffix("mm")) == row["front_mm"]
        assert float(asked["back"].removesuffix("mm")) == row["back_mm"]
        assert row["verdict"] in body


def test_a_metal_alone_has_the_ratios_of_the_command(asking, refdb):
    body = asking.get("/builds?metal=fine-silver-sheet&metal_thickness=0.8+mm&shape=flat").body
    rows = json.loads(refdb("builds", "fine-silver-sheet", "--json").out)["rows"]
    made = {row["glass"] for row in rows if row["made_for"] == "yes" and row["first_ratio"]}
    linked = [dict(parse_qsl(urlsplit(link).query)) for link in links_of(body, 'table class="tight stack"')]
    assert {one["glass"] for one in linked} == made
    assert "<code>refdb builds fine-silver-sheet</code>" in body


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("", 200),
        (f"?metal={COPPER}&glass=painting-black", 200),
        ("?metal=brass-70-30", 200),
        (f"?metal={COPPER}&glass={CLEAR}&wish=kiln+at+most+790+C", 200),
        (f"?metal={COPPER}&wish=pretty", 400),
        ("?metal=nonsuch", 404),
        (f"?metal={COPPER}&shape=round", 400),
        (f"?metal={COPPER}&colour=blue", 400),
        ("?metal=brass-70-30&metal_thickness=1+mm", 400),
    ],
)
def test_every_question_has_a_page(asking, query, status):
    assert asking.get(f"/builds{query}").status == status


def test_it_is_linked_from_the_front_page(asking):
    assert 'href="/builds"' in asking.get("/").body


def test_a_cell_never_says_more_than_its_zone():
    for hundredth in range(101):
        share = hundredth / 100
        shown = tenths_text(share)
        tenths = 0 if shown == "·" else int(shown)
        assert tenths <= share * 10 + 1e-6
        assert (tenths >= 9) == (zone(share) == 1)
        assert (tenths >= 5) == (zone(share) <= 2)


def test_the_lines_part_what_holds_from_what_does_not():
    shares = [[1.0, 0.95, 0.6], [0.95, 0.7, 0.2]]
    picture = heat_map(
        "x",
        "t",
        "d",
        "abc",
        "uv",
        lambda r, c: shares[r][c],
        lambda r, c: f"/{r}{c}",
        lambda r, c: f"<{r}{c}>",
        ("x", "y"),
    )
    strokes = dict(re.findall(r'<path class="(l\d)" d="([^"]*)"', picture))
    assert strokes["l9"].count("M") == 3
    assert strokes["l5"].count("M") == 2
    assert picture.count("<rect") == 6
    assert "&lt;00&gt;" in picture


@pytest.mark.parametrize(
    ("name", "typed"), [("metal_thickness", "thin"), ("metal_thickness", "3 kg"), ("wish", "thin")]
)
def test_a_wrong_field_is_redrawn_with_its_value_and_the_message_beside_it(asking, name, typed):
    answer = asking.get(f"/builds?metal={COPPER}&glass={CLEAR}&{name}={typed.replace(' ', '+')}")
    assert answer.status == 400
    outline = Outline(answer.body)
    assert outline.faults == []
    (wrong,) = [g for _, g in outline.tags if g.get("aria-invalid") == "true"]
    assert (wrong["name"], wrong["aria-describedby"]) == (name, "f-wrong")
    assert typed in wrong["value"]
    assert "f-wrong" in outline.ids
    assert [g["value"] for g in outline.all("option") if "selected" in g][:2] == [CLEAR, COPPER]
