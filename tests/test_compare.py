"""Several side by side: each verdict is that of `suits`, the order that of the ranking, page and command agree."""

from __future__ import annotations

import json
import re

import pytest
from browse_client import Outline, printed

from refdb.cli.output import SCREEN
from refdb.errors import BadInput
from refdb.judge.fit.compared import compare, together_words
from refdb.judge.fit.glass_on_metal import rank, suits
from refdb.pictures.compared import LINES, Bar, Curve, bars, curves_together
from refdb.pictures.drawing import Triple

GLASSES = ("clear-hard-lead-free", "opal-lead-free", "window-soda-lime")
METAL = "copper-clay"


def compared(ref, glasses, metals, **texts):
    return compare(ref, [ref.glass(g) for g in glasses], [ref.metal(m) for m in metals], texts)


def test_each_verdict_is_that_of_suits(refdb):
    told = json.loads(refdb("compare", *GLASSES, "--on", METAL, "--json").out)
    assert told["schema"] == "refdb/2"
    assert told["question"] == {"glasses": list(GLASSES), "metals": [METAL]}
    for row, glass in zip(told["rows"], GLASSES, strict=True):
        assert row["answer"] == json.loads(refdb("suits", glass, METAL, "--json").out)


def test_a_build_holds_for_all_of_them(refdb):
    told = json.loads(
        refdb("compare", *GLASSES[:2], "--on", METAL, "--metal-thickness", "3 cards", "--back", "0", "--json").out
    )
    for row, glass in zip(told["rows"], GLASSES[:2], strict=True):
        alone = refdb("suits", glass, METAL, "--metal-thickness", "3 cards", "--back", "0", "--json")
        assert row["answer"]["verdict"] == json.loads(alone.out)["verdict"]
        assert row["answer"]["numbers"] == json.loads(alone.out)["numbers"]


def test_the_order_is_that_of_the_ranking(ref):
    places = {r.glass.key: r.place for r in rank(ref, "copper-sheet")}
    glasses = ("clear-hard-lead-free", "clear-soft-lead-free", "titania-white-steel", "window-soda-lime")
    glasses = tuple(g for g in glasses if g in places)
    assert len(glasses) >= 3
    rows = compared(ref, glasses, ["copper-sheet"]).rows
    for one in rows:
        for other in rows:
            a, b = places[one.question.glass.key], places[other.question.glass.key]
            assert (one.place < other.place) == (a < b)
            assert one.tied or one.place != other.place or one is other


def test_metals_under_one_glass(ref):
    found = compared(ref, ["opal-lead-free"], ["copper-sheet", "brass-70-30"])
    assert found.of == "metal"
    assert [r.verdict.outcome for r in found.rows] == [
        suits(ref, "opal-lead-free", m).outcome for m in ("copper-sheet", "brass-70-30")
    ]
    assert found.sentence.startswith("Copper sheet comes first: it suits, while brass 70/30 does not suit")
    assert together_words(found) == []


def test_what_ties_is_said_to_tie_and_what_parts_them_is_named(ref):
    twins = [r for r in rank(ref, "copper-sheet") if r.tied]
    pair = [r.glass.key for r in twins if r.place == twins[0].place][:2]
    assert "does not tell them apart" in compared(ref, pair, ["copper-sheet"]).sentence
    apart = compared(ref, GLASSES[:2], [METAL])
    assert "better known" in apart.sentence
    none = compared(ref, ["borosilicate-3-3", "window-soda-lime"], ["copper-sheet"])
    assert none.sentence.startswith("Nothing here suits.")


def test_settings_that_serve_all_are_where_their_windows_meet(ref):
    found = compared(ref, GLASSES[:2], [METAL])
    windows = [r.window_c for r in found.rows]
    assert found.together.common_c == (max(w[0] for w in windows), min(w[1] for w in windows))
    # The harder one is the one whose glass needs more heat.
    assert found.together.order == GLASSES[:2]
    assert "800 to 815" in together_words(found)[0]
    apart = compared(ref, ("clear-hard-lead-free", "clear-soft-lead-free"), [METAL])
    low, high = apart.rows[1].window_c[1], apart.rows[0].window_c[0]
    assert (apart.together.common_c is None) == (low <= high)


@pytest.mark.parametrize(
    ("glasses", "metals"),
    [
        (GLASSES[:1], [METAL]),
        ([GLASSES[0], GLASSES[0]], [METAL]),
        (GLASSES[:2], [METAL, "copper-sheet"]),
        ([*GLASSES, "opal-leaded", "clear-hard-leaded"], [METAL]),
    ],
)
def test_what_cannot_be_compared_is_refused(ref, glasses, metals):
    with pytest.raises(BadInput):
        compared(ref, glasses, metals)


@pytest.mark.parametrize(
    "arguments",
    [
        (*GLASSES, "--on", METAL),
        ("hard clear", *GLASSES[1:], "turquoise-transparent", "--on", "copper"),
        (GLASSES[0], "--on", "copper-sheet", "--on", "fine-silver-sheet", "--on", "gold-24k", "--on", "brass-70-30"),
        ("borosilicate-3-3", "painting-black", "--on", "brass-70-30"),
    ],
)
def test_it_fits_a_screen(refdb, arguments):
    ran = refdb("compare", *arguments)
    assert ran.status == 0
    lines = ran.out.splitlines()
    assert len(lines) <= SCREEN
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize(
    ("query", "arguments"),
    [
        (
            "glass=hard+clear&glass=opal&glass=window+glass&metal=copper-clay",
            ("hard clear", "opal", "window glass", "--on", "copper-clay"),
        ),
        (
            "glass=opal-lead-free&metal=copper-sheet&metal=fine-silver-sheet&back=0+mm",
            ("opal-lead-free", "--on", "copper-sheet", "--on", "fine-silver-sheet", "--back", "0"),
        ),
    ],
)
def test_the_page_says_what_the_command_says(asking, refdb, query, arguments):
    told = json.loads(refdb("compare", *arguments, "--json").out)
    answer = asking.get(f"/compare?{query}")
    assert answer.status == 200
    text = Outline(answer.body).text
    assert told["sentence"] in text
    for row in told["rows"]:
        assert row["decided_by"] in text
        assert row["answer"]["sentence"] in text
        assert f"{printed(row['answer']['numbers']['gap_ppm']['value'])} ppm" in text
        for stage in row["answer"]["numbers"]["stages"]:
            faces = [x[f]["value"] for x in stage["layers"] if x["name"] != "metal" for f in ("top_mpa", "bottom_mpa")]
            assert f"{printed(max(faces), signed=True)} MPa" in text
        assert f"/suits?glass={row['glass']}&amp;metal={row['metal']}" in answer.body
    if told["together"] and told["together"]["kiln_c"]:
        assert "All flow at {:.0f} to {:.0f} °C".format(*told["together"]["kiln_c"]) in text


def test_names_are_forgiven_and_another_meaning_is_a_link(asking):
    answer = asking.get("/compare?glass=hard+clear&glass=opal&metal=copper")
    outline = Outline(answer.body)
    assert '"opal" is taken as lead-free opal' in outline.text
    assert "/compare?glass=hard+clear&glass=opal-leaded&metal=copper" in outline.links
    lost = asking.get("/compare?glass=hard+clear&glass=nosuch&metal=copper")
    assert lost.status == 404


@pytest.mark.parametrize(
    "query",
    [
        "glass=opal-lead-free&glass=opal-lead-free&metal=copper-sheet",
        "glass=opal-lead-free&glass=opal-leaded&metal=copper-sheet&metal=brass-70-30",
        "glass=opal-lead-free&glass=opal-leaded&metal=copper-sheet&metal_thickness=thick",
        "&".join(["glass=opal-lead-free"] * 5) + "&metal=copper-sheet",
        "glass=opal-lead-free&metal=copper-sheet&front=1&front=2",
    ],
)
def test_bad_questions_keep_a_page_in_our_look(asking, query):
    answer = asking.get(f"/compare?{query}")
    assert answer.status == 400
    assert "<h1" in answer.body
    assert "Traceback" not in answer.body


def test_empty_fields_of_the_form_are_as_good_as_none(asking):
    full = asking.get("/compare?glass=opal-lead-free&glass=opal-leaded&metal=copper-sheet")
    form = asking.get("/compare?glass=opal-lead-free&glass=opal-leaded&glass=&glass=&metal=copper-sheet")
    assert Outline(full.body).text == Outline(form.body).text
    for address in ("/compare", "/compare?glass=opal-lead-free&metal=copper-sheet"):
        assert len(Outline(asking.get(address).body).all("form")) == 2


def test_verdicts_and_rankings_lead_there(asking):
    verdict = Outline(asking.get("/suits?glass=opal-lead-free&metal=copper-sheet&back=0+mm").body)
    assert "/compare?glass=opal-lead-free&metal=copper-sheet&back=0+mm" in verdict.links
    ranked = [link for link in Outline(asking.get("/suits?metal=copper-sheet").body).links if "/compare?" in link]
    assert len(re.findall("glass=", ranked[0])) == 3
    assert asking.get(ranked[0]).status == 200


def test_bars_stand_where_their_numbers_lie():
    rows = [Bar("a", Triple(10, 0, 20), "10"), Bar("b", None, "not known")]
    drawn = bars(rows, [(50.0, ""), (100.0, "")], ("holds", "care", "not"), "k", "Title", "ppm")
    dot = float(re.search(r'<circle class="bdot" cx="([\d.]+)"', drawn)[1])
    uprights = [float(x) for x in re.findall(r'd="M([\d.]+) 34V', drawn)]
    # One scale: from 10 to 50 is as far as from 60 to 100.
    assert (uprights[0] - dot) / (uprights[1] - uprights[0]) == pytest.approx(40 / 50, abs=0.01)
    assert "not known" in drawn
    assert "10, 0 to 20" in drawn


def test_curves_differ_by_line_and_each_is_named():
    several = [Curve([(20, 0), (500, 5000 + 100 * n)], f"glass {n}", True) for n in range(LINES)]
    drawn = curves_together(several, Curve([(20, 0), (600, 10000)], "copper", False), 600, "k", "Title")
    assert [c for n in range(1, LINES + 1) for c in [f'class="cc c{n}"'] if c in drawn] == [
        f'class="cc c{n}"' for n in range(1, LINES + 1)
    ]
    assert all(f">glass {n}</text>" in drawn for n in range(LINES))
    heights = [float(y) for y in re.findall(r'y="([\d.]+)">glass', drawn)]
    assert min(abs(a - b) for a in heights for b in heights if a is not b) >= 15
