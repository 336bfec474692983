"""A sentence that asks is answered by what it wants; what is not understood is left to the search."""

from __future__ import annotations

import json
from urllib.parse import quote

import pytest
from browse_client import as_typed

from refdb.ask.question import answered
from refdb.ask.spans import taken_apart

ANSWERED = (
    ("does hard clear suit copper at 3 cards", "verdict", {"clear-hard-lead-free", "copper-sheet"}),
    ("copper clay clear", "verdict", {"copper-clay"}),
    ("can I put opal on sterling?", "verdict", {"opal-lead-free", "sterling-sheet"}),
    ("hard clear on 18 gauge copper", "verdict", {"clear-hard-lead-free", "copper-sheet"}),
    ("which clear over silver leaf", "clears", {"fine-silver-leaf", "copper-sheet"}),
    ("which clear goes over gold foil on fine silver", "clears", {"gold-foil-24k", "fine-silver-sheet"}),
    ("which clear under gold leaf", "bed", {"copper-sheet", "clear-hard-lead-free"}),
    ("what goes beneath silver foil on sterling", "bed", {"fine-silver-foil", "sterling-sheet"}),
    ("how hot for opal on silver", "heat", {"opal-lead-free", "fine-silver-sheet"}),
    ("what temperature to fire copper clay", "heat", {"copper-clay"}),
    ("is copper clay safe to fire indoors", "cautions", {"clay-carbon-monoxide"}),
    ("leaded clear cautions", "cautions", {"lead-glass", "lead-pregnancy"}),
    ("hazards of copper clay", "cautions", {"clay-carbon-monoxide"}),
    ("is enamel food safe", "cautions", {"food-ware"}),
    ("does enamel stick to bronze", "ranking", {"bronze-sheet"}),
    ("which clear on copper", "ranking", {"copper-sheet"}),
    ("what temperature does sterling melt", "melting", {"sterling-sheet"}),
    ("does silver melt on copper", "contact", {"Ag Cu"}),
    ("why did my enamel crack", "fault", {"crazing", "hairline"}),
    ("what is tombac", "record", {"gilding-95-5"}),
)
SENTENCES = [asked for asked, _, _ in ANSWERED]


@pytest.mark.parametrize(("asked", "kind", "keys"), ANSWERED)
def test_a_sentence_gets_the_answer_it_wants(ref, asked, kind, keys):
    answer = answered(ref, asked)
    assert answer is not None
    assert answer.kind == kind
    assert keys <= set(answer.keys)
    assert answer.understood
    assert answer.lines


def test_the_address_of_an_answer_is_that_of_a_page(asking, ref):
    for asked in SENTENCES:
        address = answered(ref, asked).address
        assert asking.get(address).status == 200, (asked, address)


def test_the_bed_of_a_leaf_is_one_that_its_metal_bears(ref):
    """Sterling melts where the hard clear begins to fuse; the nearest sentence asks what goes over."""
    assert "clear-hard-lead-free" in answered(ref, "which clear under silver foil on fine silver").keys
    assert "clear-hard-lead-free" not in answered(ref, "which clear under silver foil on sterling").keys
    assert answered(ref, "which clear over silver foil on sterling").kind == "clears"


@pytest.mark.parametrize(
    ("asked", "topic"),
    [
        ("how do I dry a coat", "drying"),
        ("can I torch fire enamel", "torch"),
        ("torch enamelling", "torch"),
        ("can I torch fire hard clear on copper", "torch"),
        ("what do I do with wash water", "waste-and-wash-water"),
        ("how do I check my kiln temperature is right", "kiln-truth"),
    ],
)
def test_a_question_of_practice_is_answered_by_its_subject(ref, asked, topic):
    found = answered(ref, asked)
    assert found is not None
    assert (found.kind, found.keys[0], found.address) == ("practice", topic, f"/practice/{topic}")
    assert len(found.lines) >= 3


def test_an_answer_on_the_torch_always_says_what_cannot_be_judged(ref):
    for asked in ("can I torch fire enamel", "how long to torch fire copper", "which flame for a torch"):
        found = answered(ref, asked)
        assert "torch-cannot" in found.keys
        assert any("nobody knows" in line for line in found.lines)


@pytest.mark.parametrize(
    ("asked", "kind", "first", "nearest", "other"),
    [
        ("how much does silver clay shrink", "figure", "fine-silver-clay", "which glass for silver clay", "ranking"),
        ("what is the coe of window glass", "figure", "window-soda-lime", "what is window glass", "record"),
        ("how thick should copper be for enamelling", "thickness", "copper-sheet", "what gauge copper for earrings",
         "practice"),
        ("what is 18 gauge in mm", "gauge", "gauge-in-mm", "hard clear on 18 gauge copper", "verdict"),
        ("how long do I fire copper clay", "heat", "copper-clay", "how long do I dry before firing", "practice"),
        ("is ferric chloride safe for silver", "practice", "etching", "is ferric chloride dangerous", "cautions"),
        ("what thickness of copper for a 10 cm bowl", "practice", "size-and-mass", "can I eat from a bowl", "cautions"),
        ("how do I clean copper before enamelling", "practice", "cleaning", "how do I clean finished enamel jewellery",
         "practice"),
        ("how many pendants fit in my kiln", "practice", "lesson-load", "how much enamel for a class of 12 children",
         "practice"),
        ("can I use a torch instead of a kiln", "practice", "torch", "can I anneal silver with a torch", ""),
        ("what trivet to use", "practice", "supports", "kiln furniture wash", "practice"),
        ("what glasses for looking into the kiln", "cautions", "kiln-infrared", "which glasses suit copper", "ranking"),
        ("is pickle dangerous", "cautions", "acid-pickle", "how do I pickle copper", "practice"),
        ("can my six year old enamel", "cautions", "child-lead", "how old is enamelling", ""),
        ("why is my clear cloudy", "fault", "cloudy", "which clear on copper", "ranking"),
    ],
)  # fmt: skip
def test_a_question_goes_where_it_belongs_and_its_nearest_elsewhere(ref, asked, kind, first, nearest, other):
    found, near = answered(ref, asked), answered(ref, nearest)
    assert found is not None
    assert (found.kind, found.keys[0]) == (kind, first)
    assert (near.kind if near is not None else "") == other
    assert near is None or (near.kind, near.keys[0]) != (kind, first)


def test_figures_are_those_of_the_store(ref):
    assert any("10 % (8 to 12)" in line for line in answered(ref, "how much does silver clay shrink").lines)
    # ASTM B258: 18 gauge of Brown and Sharpe is 0.0403 in.
    assert "18 gauge: 1.02 mm." in answered(ref, "what is 18 gauge in mm").lines
    # No such gauge is made up: the rule that tells how gauges are counted is all that is shown.
    unknown = answered(ref, "what is 80 gauge in mm")
    assert unknown is None or (unknown.kind == "practice" and "gauge-in-mm" in unknown.keys)


@pytest.mark.parametrize(
    "asked",
    [
        "silver foil",
        "copper",
        "copper price in winter",
        "stoneware glaze cone 10 reduction",
        "tooth enamel sensitivity",
        "is the earth flat",
        "x" * 1000,
        "🙂",
        "",
    ],
)
def test_what_is_not_understood_is_left_to_the_search(ref, asked):
    assert answered(ref, asked) is None


def test_a_leaf_that_is_named_is_not_passed_over(ref):
    """The nearest sentence without the leaf is a ranking."""
    with_leaf, without = answered(ref, "which clear under gold leaf on copper"), answered(ref, "which clear on copper")
    assert without is not None
    assert without.kind == "ranking"
    assert with_leaf is None or with_leaf.kind != "ranking"


@pytest.mark.parametrize(
    ("asked", "thickness"),
    [
        ("does hard clear suit copper at 3 cards", "3 cards"),
        ("hard clear on 18 gauge copper", "18 gauge"),
        ("does hard clear suit copper", ""),
    ],
)
def test_a_thickness_is_taken_with_its_metal(ref, asked, thickness):
    assert taken_apart(ref, asked).thickness == thickness


def test_small_words_are_no_names(ref):
    """In French "or" is gold."""
    assert all(span.words != "or" for span in taken_apart(ref, "hard or soft").spans)
    assert [s.words for s in taken_apart(ref, "which clear over silver leaf").spans] == ["clear", "silver leaf"]


@pytest.mark.parametrize(
    ("asked", "glass", "metal", "options"),
    [
        ("does hard clear suit copper", "clear-hard-lead-free", "copper-sheet", ()),
        ("does window glass suit copper", "window-soda-lime", "copper-sheet", ()),
        ("does hard clear suit copper at 3 cards", "clear-hard-lead-free", "copper-sheet", ("3 cards",)),
    ],
)
def test_the_answer_is_that_of_the_command_it_names(refdb, asked, glass, metal, options):
    answer = json.loads(refdb("find", asked, "--json").out)["answer"]
    thick = ("--metal-thickness", *options) if options else ()
    verdict = json.loads(refdb("suits", glass, metal, *thick, "--json").out)
    assert answer["outcome"] == verdict["verdict"]
    assert f"refdb suits {glass} {metal}" in answer["command"]


@pytest.mark.parametrize(
    "asked", ["does hard clear suit copper", "is copper clay safe to fire indoors", "why did my enamel crack", "cracks"]
)
def test_page_and_command_give_the_same_answer(asking, refdb, asked):
    told = json.loads(refdb("find", asked, "--json").out).get("answer")
    body = asking.get(f"/find?q={quote(asked)}").body
    assert ("Understood as:" in body) == (told is not None)
    if told is not None:
        from html import unescape

        text = as_typed(" ".join(unescape(body).replace("\u00a0", " ").split()))
        for line in told["lines"]:
            assert line in text


def test_the_answer_stands_first_and_the_page_keeps_to_the_screen(refdb):
    out = refdb("find", "does", "hard", "clear", "suit", "copper").out
    assert out.startswith("Understood as: does lead-free hard clear suit copper sheet")
    found = out.index("Suits, holds in 10 of 10 draws.")
    assert found < out.index("All of it: refdb suits clear-hard-lead-free copper-sheet")
    assert out.count("\n") <= 24
