"""The one search: words as people write them, what stands for them, and how it says that it was not all found."""

from __future__ import annotations

import json
import re

import pytest

from refdb.errors import BadInput
from refdb.store.practice_search import practice_of
from refdb.store.search import search
from refdb.store.search_words import Synonyms, denied, root, tokens, unaccented, with_denials
from refdb.store.spelling import nearest_words, slips_between


def first(ref, text: str, most: int = 5) -> list[str]:
    return [h.key for h in search(ref, text, most=most).hits]


#: Words of the trade that people look for, and a record that speaks of each.
WORDS = {
    "keum-boo": "gold-foil-heavy",
    "keum boo": "gold-foil-heavy",
    "kum boo": "gold-foil-heavy",
    "keumboo": "gold-foil-heavy",
    "tombac": "gilding-95-5",
    "plique": "open-cell",
    "plique-à-jour": "plique-by-mica",
    "grisaille": "white-painting",
    "guilloché": "guilloche-cut",
    "basse-taille": "basse-taille-depth",
    "basse taille": "basse-taille-depth",
    "decal": "decal-fire",
    "sgraffito": "words-sgraffito",
    "millefiori": "other-threads",
    "cabochon": "stone-spoilt",
    "bezel": "setting-bezel",
    "findings": "clay-no-sterling",
    "headpin": "headpin-dip",
    "electroform": "electroformed-first",
    "resin": "epoxy-kiln",
    "soap": "clean-finished",
    "detergent": "clean-finished",
    "glue": "agent-cellulose",
    "tragacanth": "agent-tragacanth",
    "vermiculite": "slow-thick",
    "pyrometer": "kiln-thermocouple",
    "class": "lesson-load",
    "shipping": "ship-space",
    "china paint": "painting-ground",
    "lustre": "line-faded",
    "citric": "pickle-citric",
    "thermocouple": "kiln-thermocouple",
    "trivet": "kiln-rack",
    "stones": "stones-after",
    "storage": "after-care-store",
    "waste": "waste-drain",
    "silver clay": "fine-silver-clay",
    "plating": "plate-after",
    "champleve": "champleve-depth",
    "champlevé": "champleve-depth",
    "carbon monoxide": "clay-carbon-monoxide",
    "firescale": "fire-scale",
    "fire-stain": "fire-stain",
    "aluminum": "aluminium-sheet",
}


@pytest.mark.parametrize("word", WORDS)
def test_words_of_the_trade_find_what_speaks_of_them(ref, word):
    assert WORDS[word] in first(ref, word)


@pytest.mark.parametrize("topic", ["trivet", "stones", "storage", "silver clay", "plating", "champleve", "champlevé"])
def test_practice_has_rules_on_it(ref, topic):
    assert practice_of(ref, topic).rules


@pytest.mark.parametrize(
    ("asked", "meant"),
    [
        ("ring", r"\b(rings?|ringing)\b"),
        ("plating", r"\b(electro)?plat(ing|ed)\b|\bplate (after|in|the|bath)|electroplate|gilt|rhodium|gold[- ]plate"),
        ("matt", r"\b(matt|matte|dull\w*|not shiny)\b"),
        ("lead", r"\b(lead|leaded|pb|unleaded)\b"),
    ],
)
def test_a_word_within_another_or_of_its_stem_alone_is_no_match(ref, asked, meant):
    """Not firing for ring, nor a plate for plating, nor matters for matt."""
    hits = search(ref, asked, most=50).hits
    assert hits
    for hit in hits:
        row = ref.rows("SELECT key, title, words, body FROM search WHERE key = ? AND kind = ?", hit.key, hit.kind)[0]
        assert re.search(meant, unaccented(" ".join(map(str, row.values()))).lower()), hit


@pytest.mark.parametrize(("text", "key"), [("firescale", "fire-scale"), ("fire stain", "fire-stain")])
def test_a_record_of_the_very_name_comes_before_what_has_the_word_in_another(ref, text, key):
    """A silver is called firescale-free; who asks for firescale wants the fault."""
    assert first(ref, text)[0] == key


def test_all_words_come_before_some_of_them_and_it_is_said(ref):
    whole = search(ref, "orange peel")
    assert whole.whole
    assert whole.said() == ""
    some = search(ref, "orange peel bicycle")
    assert not some.whole
    assert "no record holds all of" in some.said()
    assert "bicycle" in some.said()
    assert {h.key for h in some.hits[:3]} & {h.key for h in whole.hits[:3]}


def test_a_slip_of_the_pen_is_read_as_the_nearest_word_and_it_is_said(ref):
    found = search(ref, "cooper")
    assert found.read_as == {"cooper": "copper"}
    assert "“cooper” is not in the store, read as “copper”" in found.said()
    assert found.hits[0].key.startswith("copper")
    # The nearest counter-example: a word the store holds is read as it stands.
    assert search(ref, "copper").read_as == {}


def test_nothing_is_found_of_another_trade(ref):
    found = search(ref, "qqqq zzzz")
    assert (found.hits, found.nowhere) == ((), ("qqqq", "zzzz"))
    with pytest.raises(BadInput):
        search(ref, "?!")


def test_what_is_denied_is_one_word():
    assert tokens("It won't stick to Champlevé's wall") == ["it", "wo", "not", "stick", "to", "champleve", "wall"]
    assert denied(["does", "not", "stick"]) == [(1, 3, "notstick")]
    assert with_denials("does not stick; sticks") == "does not stick; sticks notstick"
    assert with_denials("sticks") == "sticks"


def test_synonyms_are_of_whole_words_and_phrases_alone():
    words = Synonyms(
        [{"words": "fire scale; firescale", "apart": None}, {"words": "plating", "apart": "plate; plates"}]
    )
    assert words.of(["firescale"]) == ["fire scale", "firescale"]
    assert words.of(["fire", "scale"]) == ["fire scale", "firescale"]
    assert words.of(["scale"]) == []
    assert words.apart("plating") == {"plate", "plates"}
    assert (root("bubbles"), root("glass"), root("berries")) == ("bubbl", "glass", "berry")


@pytest.mark.parametrize(
    ("a", "b", "slips"), [("copper", "cooper", 1), ("enamel", "enmael", 1), ("craze", "craze", 0), ("a", "abcd", 3)]
)
def test_slips_are_counted(a, b, slips):
    assert slips_between(a, b, 3) == slips
    assert slips_between(b, a, 3) == slips
    assert slips_between("copper", "silver", 2) == 3


def test_near_words_are_words_of_the_store(ref):
    assert nearest_words(ref, "cloisone") in (["cloisonne"], ["cloison"])
    assert nearest_words(ref, "enmael") == ["enamel"]
    assert nearest_words(ref, "xq") == []
    assert nearest_words(ref, "qqqqqqqq") == []


@pytest.mark.parametrize("command", ["find", "fault", "practice", "cautions", "sources"])
@pytest.mark.parametrize(
    "words",
    [
        "x" * 100_000,
        "\x00\x07\x1b[31m",
        "'; DROP TABLE search; --",
        'a" OR NEAR(b c) NOT d* ^e {title} : f',
        "🙂🔥",
        "مينا‎ ‮זכוכית",
        "((((((",
        "AND OR NOT",
        "%_*?[]",
        "é" * 300,
        "-",
        "*",
    ],
)
def test_hostile_words_are_one_line_or_an_honest_page(refdb, command, words):
    ran = refdb(command, "--", words)
    assert ran.status in (0, 2, 3)
    if ran.status:
        assert ran.out == ""
        assert ran.err.count("\n") == 1
        assert len(ran.err) < 500
        assert "\x1b" not in ran.err
    else:
        assert "all of" in ran.out or "read as" in ran.out
        assert ran.out.count("\n") <= 24


@pytest.mark.parametrize("command", ["find", "practice", "cautions", "sources", "fault"])
def test_every_answer_of_words_fits_one_screen(refdb, ref, command):
    asked = [*WORDS, "copper", "silver", "lead", "fire", "how do I wash it", "does opal suit copper"]
    if command == "practice":
        asked += [*practice_of(ref, "").topics, "--on=copper", "--on=copper-clay"]
    if command == "cautions":
        asked += ["copper clay", "--use=child", "--use=food"]
    for words in ["", *asked]:
        ran = refdb(command, *([words] if words else []))
        assert ran.status in (0, 3) if words else ran.status in (0, 2), (words, ran)
        assert ran.out.count("\n") <= 24, (command, words)


def test_records_are_told_once_and_without_marks(refdb):
    rows = json.loads(refdb("find", "cracks", "--json").out)["rows"]
    assert len({(r["kind"], r["key"]) for r in rows}) == len(rows)
    assert sum(r["key"] == "crazing" for r in rows) == 1
    text = json.dumps(json.loads(refdb("find", "sterling", "--json").out)["rows"])
    for mark in ("key:", "optical:", "handled copper", "|"):
        assert mark not in text


def test_practice_of_a_metal_speaks_of_it(refdb):
    rows = json.loads(refdb("practice", "--on", "copper", "--json").out)["rows"]
    assert rows
    for row in rows:
        assert "copper" in f"{row['topic']} {row['statement']} {row['reason']} {row['applies_to']}".lower()
    assert not [r for r in rows if r["topic"] == "metal clay"]
    clay = json.loads(refdb("practice", "--on", "copper-clay", "--json").out)
    assert any(r["topic"] == "metal clay" for r in clay["rows"])
    assert {p["clay_family"] for p in clay["schedules"]} == {"copper-carbon"} or clay["schedules"]


def test_cautions_for_a_use_come_with_its_limits(refdb):
    child = json.loads(refdb("cautions", "--use", "child", "--json").out)
    assert {"child-lead", "child-edges"} <= {r["key"] for r in child["rows"]}
    assert child["limits"]
    assert refdb("cautions", "--use", "pets").status == 2
