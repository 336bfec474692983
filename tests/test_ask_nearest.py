"""An answer says which words of its question it does not answer, and one that answers none of them is not given."""

from __future__ import annotations

import json
from html import unescape
from urllib.parse import quote

import pytest
from browse_client import Asking

from refdb.ask.question import answered
from refdb.ask.respelt import respelt

#: Questions of other trades and of daily life that share words with this one; common sense is what they are held to.
FAR = (
    "does lipstick stain teeth",
    "best oil for frying",
    "how to solder a copper pipe under the sink",
    "how do I fire raku pots",
    "does bleach kill mould",
    "what thread for embroidery",
    "is aspirin safe in pregnancy",
    "can I wash my jeans at 60 degrees",
    "how to grow roses in clay soil",
    "how to carve wood",
    "how to gild a picture frame",
    "what tyre pressure for my car",
    "how to repair a phone screen",
    "is gluten bad for children",
    "how to varnish a table",
    "gel nails peeling why",
    "my tooth cracked",
    "can I glue the leg of a chair",
    "is gold a good investment",
    "how to cast resin with flowers",
)


@pytest.mark.parametrize("asked", FAR)
def test_of_another_trade_no_sure_answer_is_given(ref, asked):
    found = answered(ref, asked)
    assert found is None or not found.sure


@pytest.mark.parametrize(
    ("asked", "key", "far"),
    [
        ("how do I wash enamel powder", "washing", "how do I wash my jeans"),
        ("how do I polish enamelled silver", "clean-finished", "how do I polish a car"),
        ("what glue holds powder", "holding-agent", "what glue for a chair leg"),
        ("is lead glass safe in pregnancy", "lead-pregnancy", "is aspirin safe in pregnancy"),
        ("is a child safe at the bench", "child-work", "is gluten bad for a child"),
        ("why did my enamel crack", "crazing", "why did my tooth crack"),
    ],
)
def test_a_question_of_this_trade_is_answered_and_its_nearest_of_another_is_not(ref, asked, key, far):
    found, other = answered(ref, asked), answered(ref, far)
    assert found is not None
    assert found.sure
    assert key in found.keys
    assert other is None or not other.sure


def test_what_nothing_speaks_of_and_what_the_answer_does_not_are_told_apart(ref):
    """Sinks stand in the store, under waste; tortoises stand nowhere in it."""
    pet = answered(ref, "is my tortoise in danger in the studio")
    assert (pet.unknown, pet.beside) == (("tortoise",), ())
    assert pet.head.startswith("Nothing here speaks of “tortoise”. The nearest: ")
    sink = answered(ref, "how to solder a copper pipe under the sink")
    assert "sink" in sink.beside
    assert not sink.unknown
    assert sink.head.startswith("This says nothing of “")


def test_page_and_command_tell_it_alike(store, refdb):
    asked = "is my tortoise in danger in the studio"
    told = refdb("find", asked)
    answer = json.loads(refdb("find", asked, "--json").out)["answer"]
    assert answer["unknown"] == ["tortoise"]
    asking = Asking(store)
    body = " ".join(unescape(asking.get(f"/find?q={quote(asked)}").body).split())
    asking.close()
    for said in (" ".join(told.out.split()), body):
        assert "Nothing here speaks of “tortoise”. The nearest: cautions on" in said
        assert "Understood as" not in said


@pytest.mark.parametrize(
    ("asked", "kind", "person"),
    [
        ("does perfume harm enamel", "practice", "does nickel harm skin"),
        ("does chlorine damage silver", "practice", "is chlorine harmful to lungs"),
    ],
)
def test_harm_to_a_thing_and_to_a_person_are_told_apart(ref, asked, kind, person):
    assert answered(ref, asked).kind == kind
    assert answered(ref, person).kind == "cautions"


def test_a_small_word_that_is_all_a_name_tells_is_no_name(ref):
    """ "Looking in kiln" asks for infrared light; a kiln alone asks for nothing of the kind."""
    assert answered(ref, "looking into the kiln is it safe").keys[0] == "kiln-infrared"
    needed = answered(ref, "is a kiln needed")
    assert needed is None or needed.kind != "cautions"


@pytest.mark.parametrize(
    ("asked", "key", "nearest", "other"),
    [
        ("copper dust", "metal-dust", "enamel dust in lungs", "powder-dust"),
        ("is steel dust dangerous", "metal-dust", "is steel dangerous", "powder-dust"),
        ("acid in my eye", "acid-pickle", "how do I mix acid", "acid-into-water"),
        ("can a 12 year old take my enamelling class", "child-work", "which brooch for a child", "child-lead"),
    ],
)
def test_harm_is_told_of_what_is_named(ref, asked, key, nearest, other):
    """Common practice; the nearest names another thing."""
    assert answered(ref, asked).keys[0] == key
    assert other in answered(ref, nearest).keys


def test_why_nothing_suits_comes_in_place_of_a_list(ref):
    """Common practice: zinc boils out of brass; gilding metal, 5 % of zinc, is enamelled."""
    brass, gilding = answered(ref, "can I enamel brass"), answered(ref, "can I enamel gilding metal")
    assert "zinc" in brass.lines[1]
    assert not any("10 of 10" in line for line in brass.lines)
    assert any("of 10" in line for line in gilding.lines[1:])


def test_a_care_bears_on_what_is_told(ref):
    """Glass in food is no care of the sun, acid is one of pickle."""
    assert not any("food" in line for line in answered(ref, "will sun fade enamel").lines)
    assert any(line.startswith("Take care: ") for line in answered(ref, "how do I pickle copper").lines)


@pytest.mark.parametrize(
    ("typed", "read", "far"),
    [("craking", "cracking", "chicken"), ("enamle", "enamel", "charge"), ("tempreature", "temperature", "dentist")],
)
def test_a_slip_of_the_pen_is_read_and_a_word_of_its_own_is_not(ref, typed, read, far):
    assert respelt(ref, typed)[1] == {typed: read}
    assert respelt(ref, far)[1] == {}


def test_words_that_stand_in_no_one_entry_together_are_said_to(ref):
    scattered, whole = (
        answered(ref, "how many layers of transparent should I build up"),
        answered(ref, "how do I pickle"),
    )
    assert scattered.head.startswith("No one entry holds all of this. The nearest: ")
    assert whole.head.startswith("Understood as: ")


def test_a_question_of_harm_goes_to_cautions_before_practice(ref):
    """Carbon monoxide kills (NIOSH 1972); how it is done is the nearest question."""
    assert answered(ref, "is copper clay firing in carbon dangerous").keys[0] == "clay-carbon-monoxide"
    assert answered(ref, "how is copper clay fired in carbon").kind != "cautions"


@pytest.mark.parametrize("asked", ["how to cut stained glass", "how to stain wood"])
def test_what_stains_is_not_what_is_stained(ref, asked):
    found = answered(ref, asked)
    assert found is None or not found.sure
    assert found is None or "fire-stain-cover" not in found.keys
