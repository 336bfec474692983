"""Rules of practice, cautions and reactions say how much and in what way: no vague words, no sentence said twice."""

from __future__ import annotations

import csv
import re
from collections import defaultdict

import pytest
from conftest import SOURCES

#: Where sentences stand, by table.
SENTENCES = {
    "practice_rules": ("statement", "reason"),
    "hazards": ("caution",),
    "colour_reactions": ("change", "why", "remedy"),
    "firing_phases": ("note",),
}
#: Words that leave open how, how much or when, and a sentence that says nothing.
VAGUE = (
    "try it first", "try them first", "even thickness", "carefully", "with care", "with most care", "properly",
    "appropriate", "appropriately", "suitable", "suitably", "as needed", "as required", "if necessary", "a little",
    "a bit", "slightly", "evenly", "usually", "very little", "some time", "a while", "well", "be careful", "take care",
    "as for lead", "gently", "reasonable", "adequate", "sufficient", "sufficiently",
)  # fmt: skip
_VAGUE = re.compile(rf"\b({'|'.join(map(re.escape, VAGUE))})\b", re.IGNORECASE)
#: A sentence of so many words is no mere phrase: it stands once.
WORDS = 5


def _rows(name: str) -> list[dict[str, str]]:
    with (SOURCES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def said() -> list[tuple[str, str, str]]:
    """Every text, with its table and key."""
    return [
        (table, row["key"], row[column])
        for table, columns in SENTENCES.items()
        for row in _rows(table)
        for column in columns
        if row[column]
    ]


@pytest.mark.parametrize("table", SENTENCES)
def test_nothing_is_vague(table):
    found = [(key, m[0], text) for where, key, text in said() if where == table and (m := _VAGUE.search(text))]
    assert found == []


def test_no_sentence_is_said_twice():
    seen: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for table, key, text in said():
        for sentence in re.split(r"(?<=[.;!?])\s+", text):
            plain = sentence.strip().rstrip(".;!?").lower()
            if len(plain.split()) >= WORDS:
                seen[plain].add((table, key))
    assert {s: sorted(at) for s, at in seen.items() if len(at) > 1} == {}


#: What a fault is traced to, told by and mended with says how much as well; these words leave it open there.
FAULT_TEXTS = ("cause", "how_to_tell", "remedy", "prevention")
VAGUE_OF_A_FAULT = re.compile(
    rf"\b({'|'.join(map(re.escape, VAGUE))}|enough|even|lightly|slowly|once or twice)\b", re.IGNORECASE
)
_BY_HOW_MUCH = re.compile(r"\b(hotter|cooler|longer|shorter)\b", re.IGNORECASE)
_A_MEASURE = re.compile(r"\d|\bhalf\b|\ba minute\b", re.IGNORECASE)


@pytest.mark.parametrize("column", FAULT_TEXTS)
def test_a_fault_is_not_told_vaguely(column):
    found = [(r["key"], m[0]) for r in _rows("faults") if (m := VAGUE_OF_A_FAULT.search(r[column]))]
    assert found == []


def test_a_remedy_says_by_how_much_to_fire_otherwise():
    """\"Fire hotter\" helps nobody: 20 °C, or half a minute."""
    compared = [r for r in _rows("faults") if _BY_HOW_MUCH.search(r["remedy"])]
    assert len(compared) >= 15
    assert [r["key"] for r in compared if not _A_MEASURE.search(r["remedy"])] == []


@pytest.mark.parametrize(
    ("text", "vague"), [("Dry it slowly.", True), ("Even thickness.", True), ("Odd marks.", False)]
)
def test_the_vague_words_of_a_fault_are_found(text, vague):
    assert bool(VAGUE_OF_A_FAULT.search(text)) == vague


@pytest.mark.parametrize(
    ("text", "vague"),
    [("Try it first.", True), ("Use a little gum.", True), ("Rinse it well.", True), ("Rinse for a minute.", False)],
)
def test_the_list_of_vague_words_finds_them(text, vague):
    assert bool(_VAGUE.search(text)) == vague


#: The trade's ways of working, and the words by which a person looks for them.
TOPICS = (
    "cloisonné", "champlevé", "basse-taille", "plique-à-jour", "grisaille", "painting", "lustre and liquid gold",
    "decals", "sifting", "wet laying", "liquid enamel", "holding agent", "pickling", "etching", "plating", "hallmark",
    "kiln", "gold foil bonded to silver", "acid and alkali resistance", "firescale and fire-stain", "stones", "torch",
    "words of the trade", "metal clay", "finishing", "after-care",
)  # fmt: skip


@pytest.mark.parametrize("topic", TOPICS)
def test_each_way_of_working_has_rules_with_a_reason_and_a_figure(topic):
    held = [r for r in _rows("practice_rules") if r["topic"] == topic]
    assert len(held) >= 2
    assert sum(bool(r["reason"]) for r in held) >= 0.5 * len(held), topic
    assert topic == "words of the trade" or any(r["low"] or r["high"] for r in held)


@pytest.mark.parametrize(
    ("words", "key"),
    [
        ("keum-boo", "bond-heat"),
        ("cloisonne", "cloisonne-wire"),
        ("champleve", "champleve-metal"),
        ("plique", "plique-opening"),
        ("grisaille", "grisaille-white"),
        ("china paints", "painting-ground"),
        ("tragacanth", "agent-tragacanth"),
        ("thermocouple", "kiln-thermocouple"),
        ("hallmark", "hallmark-before"),
        ("nickel silver", "nickel-silver-zinc"),
        ("fondant", "words-flux"),
        ("sgraffito", "words-sgraffito"),
        ("dishwasher", "alkali-resistance"),
        ("opal pearl amber", "stones-never"),
    ],
)
def test_a_word_of_the_trade_leads_to_its_rule(refdb, words, key):
    import json

    found = json.loads(refdb("practice", *words.split(), "--json").out)["rows"]
    assert key in {r["key"] for r in found}
