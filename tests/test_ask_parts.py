"""Two questions in one sentence, comparisons of two things, and sentences that only tell what was seen."""

from __future__ import annotations

import json
from html import unescape
from urllib.parse import quote

import pytest
from browse_client import Asking, as_typed

from refdb.ask.parts import in_two
from refdb.ask.question import answered
from refdb.ask.spans import taken_apart


@pytest.mark.parametrize(
    ("asked", "kinds", "nearest"),
    [
        ("can I fire opal on sterling and how hot?", ["verdict", "heat"], "can I fire opal on sterling and copper"),
        ("how thick should copper be and how hot do I fire it", ["thickness", "heat"], "how thick should copper be"),
        ("is lead enamel dangerous and which clear suits copper", ["cautions", "ranking"], "is lead enamel dangerous"),
        ("what is fire scale and how do I remove it", ["practice", "practice"], "what is fire scale and fire stain"),
    ],
)
def test_two_questions_get_two_answers_and_one_gets_one(ref, asked, kinds, nearest):
    assert [one.kind for one in answered(ref, asked).each] == kinds
    one = answered(ref, nearest)
    assert one is None or one.then is None


def test_two_clays_are_told_apart_from_their_heats(ref):
    """Silver and copper melt at 779 °C where they touch (Ag-Cu diagram); each clay has a heat of its own."""
    told = answered(ref, "can I fire silver clay and copper clay together and how hot?")
    assert any("779" in line for line in told.lines)
    assert [one.kind for one in told.each] == ["contact", "heat", "heat"]
    assert [one.keys[0] for one in told.each[1:]] == ["fine-silver-clay", "copper-clay"]


def test_what_the_second_question_leaves_out_is_what_the_first_names(ref):
    def parts(text):
        return in_two(text, taken_apart(ref, text))

    assert parts("can i fire opal on sterling and how hot?") == (
        "can i fire opal on sterling",
        "how hot opal and sterling",
    )
    assert parts("what is solder and how do i use it") == ("what is solder", "how do i use solder")
    assert parts("how hot and how long do i fire white") == ("how hot white", "how long do i fire white")
    assert parts("can i fire silver and copper") is None
    assert parts("silver and how hot") is None


def test_page_and_command_tell_both_answers(store, refdb):
    asked = "can I fire opal on sterling and how hot?"
    told = json.loads(refdb("find", asked, "--json").out)["answer"]
    asking = Asking(store)
    body = as_typed(" ".join(unescape(asking.get(f"/find?q={quote(asked)}").body).replace("\u00a0", " ").split()))
    asking.close()
    for answer in (told, told["then"]):
        for line in answer["lines"]:
            assert line in body
    out = refdb("find", asked)
    assert out.out.count("All of it: refdb ") == 2
    assert out.out.count("\n") <= 24


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        # Fixed points of ITS-90: silver 961.78 °C, gold 1064.18 °C, copper 1084.62 °C, aluminium 660.32 °C.
        ("does silver melt before copper", "Fine silver sheet begins to melt first."),
        ("aluminium melts higher than copper?", "Aluminium sheet begins to melt first."),
        ("is 24k gold melting higher than fine silver", "Fine silver sheet begins to melt first."),
        # CRC Handbook: copper expands by 16.5 ppm/K near room temperature, silver by 18.9; titanium is 4.5 g/cm³.
        ("does copper expand more than silver", "Fine silver sheet has the higher thermal expansion."),
        ("is titanium lighter than steel", "Low-carbon enamelling steel has the higher density."),
    ],
)
def test_two_things_are_weighed_against_each_other(ref, asked, first):
    found = answered(ref, asked)
    assert (found.kind, found.lines[0]) == ("figure", first)
    assert found.sure


def test_bands_that_overlap_are_not_ranked(ref):
    """The classes of opal and hard clear reach over each other; the nearest question is of touching, not of ranks."""
    assert "overlap" in answered(ref, "does opal expand more than hard clear").lines[0]
    assert answered(ref, "does silver melt on copper").kind == "contact"
    assert "softer" in answered(ref, "is brass softer than copper").beside


@pytest.mark.parametrize(
    ("told", "key", "nearest"),
    [
        ("my enamel jumped off the copper", "pop-off", "how do I keep enamel on copper"),
        ("the transparent went milky over silver", "cloudy", "which transparent over silver"),
        ("the silver foil wrinkled", "foil-wrinkle", "silver foil"),
        ("rough sandy surface", "grainy", "how do I make a rough surface smooth"),
        ("enamel boiled", "bubbles", "how long is clay boiled"),
        ("green tint in the clear over copper", "copper-green", "which clear over copper foil"),
        ("black specks in my white enamel", "black-dots", "white enamel over my copper"),
        ("the edges burned off and turned black", "edge-burn", "which black for drawing"),
    ],
)
def test_what_is_told_of_a_piece_is_taken_for_a_fault(ref, told, key, nearest):
    found, other = answered(ref, told), answered(ref, nearest)
    assert (found.kind, found.keys[0]) == ("fault", key)
    assert other is None or other.kind != "fault"


@pytest.mark.parametrize("asked", ["why do transparents look better on silver", "why does steel need a ground coat"])
def test_why_something_is_so_is_no_fault_and_why_mine_is_so_is_one(ref, asked):
    found = answered(ref, asked)
    assert found is None or found.kind != "fault"
    assert answered(ref, "why is my transparent on silver yellow").kind == "fault"


@pytest.mark.parametrize(
    ("asked", "key", "nearest"),
    [
        ("what causes crazing", "crazing", "what is crazing clay"),
        ("what causes pits in copper clay", "clay-pits", "what goes into copper clay"),
        ("how to enamel a ring without it cracking", "dry-cracks", "how to enamel a ring without a kiln"),
    ],
)
def test_what_causes_a_fault_asks_for_it_and_so_does_how_to_keep_clear_of_it(ref, asked, key, nearest):
    found, other = answered(ref, asked), answered(ref, nearest)
    assert found.kind == "fault"
    assert key in found.keys
    assert other is None or other.kind != "fault"


def test_what_causes_harm_is_no_fault_of_a_piece(ref):
    assert answered(ref, "what causes lead poisoning").kind == "cautions"
