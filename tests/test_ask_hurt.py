"""Who has swallowed something or feels ill is told what to do before all else; and of what nothing here speaks."""

from __future__ import annotations

import pytest
from phrase_score import phrases

from refdb.ask.question import answered
from refdb.store.opening import open_reference
from refdb.store.search import search
from refdb.store.search_words import EVERYWHERE, may_stand, nouns, starts_of
from refdb.store.topics import telling


@pytest.fixture(scope="module")
def ref(store):
    with open_reference(store) as found:
        yield found


@pytest.mark.parametrize(
    ("asked", "key", "nearest"),
    [
        ("my dog ate frit", "swallowed", "can I eat off an enamel dish"),
        ("my child swallowed enamel powder", "swallowed", "is powder safe for my child"),
        ("I drank from the pickle jar by mistake", "swallowed", "how do I mix pickle"),
        ("the acid ate through my foil and the cat licked it", "swallowed", "the acid ate through my foil"),
        ("I have a headache after firing in the shed", "feeling-ill", "which shed for a kiln"),
        ("feeling sick after brazing brass", "feeling-ill", "can I braze brass"),
        ("the line came out faint and I feel faint", "feeling-ill", "the line came out faint"),
    ],
)
def test_what_has_hurt_someone_comes_first(ref, asked, key, nearest):
    """Usual first aid: a poison centre for what was swallowed, fresh air for what may be carbon monoxide."""
    found, other = answered(ref, asked), answered(ref, nearest)
    assert found.kind == "cautions"
    assert found.keys[0] == key
    assert any(word in found.lines[0] for word in ("poison centre", "fresh air"))
    assert other is None or other.keys[0] != key


@pytest.mark.parametrize(
    ("asked", "key", "nearest"),
    [
        ("contact lenses at the kiln", "contact-lenses", "which lens for fine work"),
        ("can I bake bread in the kiln", "food-kiln", "can I bake clay in the kiln"),
    ],
)
def test_harm_that_is_asked_for_by_name(ref, asked, key, nearest):
    other = answered(ref, nearest)
    assert answered(ref, asked).keys[0] == key
    assert other is None or other.keys[0] != key


def test_a_care_names_the_work_that_it_is_of_and_what_is_named_comes_first(ref):
    care = answered(ref, "how do I pickle copper").lines[-1]
    assert care.startswith("Take care: pickling bare metal: burns and acid mist")


def test_a_small_word_after_an_article_is_a_thing(ref):
    assert nouns(["write", "a", "will"]) == {2}
    assert nouns(["will", "a", "piece", "hold"]) == set()
    assert "will" in search(ref, "write a will", idle=EVERYWHERE).nowhere
    # A spray can is spoken of; who can do what is not asked of it.
    assert search(ref, "is the can empty", idle=EVERYWHERE).nowhere == ()
    assert search(ref, "can I write", idle=EVERYWHERE).words == ("write",)


def test_of_a_sentence_cut_to_one_word_nothing_is_claimed(ref):
    assert search(ref, "can I enamel a cat", idle=EVERYWHERE).said_of_all() == "only “cat” of it was looked for"
    assert search(ref, "what is crazing", idle=EVERYWHERE).said_of_all() == ""
    assert search(ref, "crazing", idle=EVERYWHERE).said_of_all() == ""


@pytest.mark.parametrize(
    ("asked", "kind", "first"),
    [
        ("how thick should the enamel be on copper", "thickness", "how thick the glass on copper sheet may be"),
        ("how thick should copper be", "thickness", "how thick copper sheet has to be for glass"),
        ("how long do I leave it in the kiln at 800", "practice", "how hot and how long enamel is fired"),
        ("can I put enamel on a stainless steel ring", "ranking", "which glasses suit stainless steel 304"),
    ],
)
def test_what_is_asked_of_a_metal_and_what_on_it_are_told_apart(ref, asked, kind, first):
    found = answered(ref, asked)
    assert found.kind == kind
    assert found.understood.startswith(first)


def test_what_holds_for_silver_is_said_of_sterling_too(ref):
    assert not answered(ref, "why does my red go brown on sterling").beside
    assert "bathtub" in answered(ref, "why does my red go brown on the bathtub").beside


@pytest.mark.parametrize(
    ("told", "key"),
    [
        ("tiny pits in the surface after the last firing", "pinholes"),
        ("hairline cracks showed up a week later", "hairline"),
    ],
)
def test_when_a_fault_showed_is_not_what_it_is(ref, told, key):
    found = answered(ref, told)
    assert found.kind == "fault"
    assert found.keys[0] == key


def test_a_way_of_working_that_is_not_named_does_not_come_first(ref):
    """The rule of champlevé speaks of small cells without counter enamel, which asks for no small piece."""
    assert "champleve-counter" not in answered(ref, "do I need counter enamel on small earrings").keys
    assert "champleve-counter" in answered(ref, "do I need counter enamel on champlevé").keys


def test_a_deed_asked_for_in_more_words_than_a_harm_comes_first_and_no_sooner(ref):
    assert answered(ref, "how do I clean my kiln shelf").keys[1] == "kiln-wash-floor"
    assert answered(ref, "how far from a shelf is my kiln safe").kind == "cautions"


def test_glasses_that_are_worn_are_no_kind_of_enamel(ref):
    """EN 171: filters against infrared."""
    assert answered(ref, "what glasses should I wear to look in the kiln").keys[0] == "kiln-infrared"
    other = answered(ref, "which glasses go on copper")
    assert other.kind == "ranking"


def test_a_name_that_is_passed_over_without_being_cut_is_in_no_question(ref):
    """Every name of the store against many questions: what the beginnings of words rule out holds in none."""
    names = {
        name
        for table, column in (("practice_rules", "asked"), ("hazards", "asked"), ("practice_topics", "words"))
        for row in ref.rows(f"SELECT {column} AS names FROM {table} WHERE {column} IS NOT NULL")
        for name in str(row["names"]).split(";")
    }
    ruled_out = 0
    for row in phrases()[::4]:
        asked = telling(row["phrase"])
        starts = starts_of(asked)
        out = {name for name in names if not may_stand(name, starts)}
        ruled_out += len(out)
        assert not [name for name in out if telling(name) and telling(name) <= asked], row["phrase"]
    assert ruled_out > 100 * len(names)
    # Forms that no ending tells, and marks within a name.
    assert may_stand("dog ate it", starts_of(telling("has my dog eaten it")))
    assert may_stand("0.3 mm copper", starts_of(telling("copper 0.3 mm")))
    assert not may_stand("wash enamel", starts_of(telling("copper 0.3 mm")))
