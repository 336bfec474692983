"""Subjects of practice: each is described, has rules that say how much and how it fails, and is found by plain words.

The questions of `practice_questions.csv` are in parts, all by who made the rows: `tuned` was put before the rules were
written and again until it was answered, `held out` was written after that and nothing was changed for it. `reader` (on
every subject), `beginner` (with slips of the pen, and two questions in one) and `nonsense` (nothing of which may be
claimed) were written from the front page of the project alone, and what they found wanting was mended afterwards; so
was `student`, whose answers were then named by the one rule, caution or fault that a layman could act on.
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest
from conftest import SOURCES
from phrase_score import HIT, WRONG, Scorer

from refdb.store.topics import named_topic, topic_meant, topics

QUESTIONS = Path(__file__).resolve().parent / "practice_questions.csv"
#: Of each half: answered and answered wrongly when it was first put, and when this was last looked at.
FIRST = {"tuned": (86, 22), "held out": (42, 2), "reader": (96, 11), "beginner": (18, 3), "nonsense": (16, 3)}
FIRST["student"] = (95, 36)
LAST = {"tuned": (145, 0), "held out": (48, 1), "reader": (112, 0), "beginner": (29, 1), "nonsense": (18, 1)}
LAST["student"] = (146, 0)
#: What a maker has to be able to act on, each with so many rules.
SUBJECTS = (
    "cloisonné", "champlevé", "basse-taille", "guilloché", "plique-à-jour", "grisaille", "painting",
    "lustre and liquid gold", "decals", "liquid enamel", "sifting", "wet laying", "finishing", "torch", "size and mass",
    "things in clay", "clay rings", "hollow clay", "two clays", "clay fired again", "setting", "repair", "stripping",
    "old and unknown glass", "wear by use", "shipping", "testing", "other glasses", "gold foil bonded to silver",
    "waste and wash water", "mixed jars", "kiln", "kiln truth", "lessons", "children at the bench", "starter set",
)  # fmt: skip


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def came(ref):
    scorer = Scorer(ref)
    asked = _rows(QUESTIONS)
    return [(r, scorer.came({"phrase": r["question"]} | r)) for r in asked]


@pytest.mark.parametrize("half", FIRST)
def test_as_many_questions_are_answered_as_before(came, half, capsys):
    counts = Counter(found.outcome for row, found in came if row["half"] == half)
    total = sum(counts.values())
    with capsys.disabled():
        print(f"\nquestions of practice, {half}: {counts[HIT]} of {total} answered, {counts[WRONG]} wrongly")
    assert total >= {"tuned": 146, "held out": 54, "reader": 112, "beginner": 30, "nonsense": 19, "student": 146}[half]
    assert counts[HIT] >= LAST[half][0]
    assert counts[WRONG] <= LAST[half][1]


@pytest.mark.parametrize("topic", SUBJECTS)
def test_a_maker_can_act_on_each_subject(topic):
    held = [r for r in _rows(SOURCES / "practice_rules.csv") if r["topic"] == topic]
    assert len(held) >= 5
    assert all(r["reason"] for r in held if r["place"])
    safety = ("waste and wash water", "mixed jars")
    assert sum(bool(r["faults"]) for r in held) >= 2 or topic in ("children at the bench", "starter set", *safety)
    assert sum(bool(r["low"] or r["high"]) for r in held) >= (0 if topic == "mixed jars" else 1)


def test_every_subject_is_told_apart(ref):
    for topic in topics(ref):
        assert named_topic(ref, topic.topic) == named_topic(ref, topic.key) == topic
        assert named_topic(ref, topic.topic.upper()) == topic


def test_words_that_two_subjects_share_mean_neither(ref):
    assert topic_meant(ref, "what is a fraction") is None
    found = topic_meant(ref, "torch fired silver clay before enamel")
    assert found is not None
    assert found.topic.key == "clay-fired-again"
    assert topic_meant(ref, "which torch").topic.key == "torch"


@pytest.mark.parametrize(
    ("question", "due"),
    [
        ("what do I do after stoning", "finishing"),
        ("how do I stone enamel level", "finishing"),
        ("can I fire stones", "stones"),
        ("can I put a stone in it", "stones"),
    ],
)
def test_a_word_is_of_the_subject_that_writes_it_so(ref, question, due):
    assert topic_meant(ref, question).topic.key == due


def test_the_fixed_points_are_those_of_the_scale(ref):
    """ITS-90, table 1: silver 961.78, gold 1064.18, aluminium 660.323 °C; the eutectic as NIST's diagram has it."""
    (silver,) = ref.rows("SELECT * FROM practice_rules WHERE key = 'truth-silver'")
    assert (silver["low"], silver["high"]) == (pytest.approx(660.323, abs=0.05), pytest.approx(1064.18, abs=0.05))
    assert "961.8" in silver["statement"]
    (eutectic,) = ref.rows("SELECT * FROM practice_rules WHERE key = 'truth-eutectic'")
    (contact,) = ref.rows("SELECT * FROM contacts WHERE metal_a = 'Ag' AND metal_b = 'Cu' AND source = 'nist-agcu'")
    assert eutectic["low"] == pytest.approx(contact["first_melts_c"], abs=1.0)


def test_grams_of_a_class_follow_from_the_coat_and_its_loss(ref):
    """A disc of 30 mm: its area, times the mass of a coat, four coats, and what falls beside."""
    of = {r["key"]: r for r in ref.rows("SELECT key, low, high FROM practice_rules WHERE low IS NOT NULL")}
    area = 3.14159 * 1.5**2
    least = 4 * area * of["coat-mass"]["low"] * (1 + of["sift-loss"]["low"])
    most = 4 * area * of["coat-mass"]["high"] * (1 + of["sift-loss"]["high"])
    assert of["lesson-amounts"]["low"] == pytest.approx(least, rel=0.15)
    assert of["lesson-amounts"]["high"] == pytest.approx(most, rel=0.15)


HURTS = {
    "mercury-gilding": "is mercury gilding safe",
    "thallium-glass": "thallium in old glass",
    "china-paint-metals": "are china paint colours poisonous",
    "decal-fume": "is decal smoke toxic",
    "lead-strip": "scraping old enamel off lead",
    "caustic-strip": "hot caustic",
    "resin-dust": "sanding resin dust",
    "vermiculite-asbestos": "vermiculite asbestos",
    "child-work": "is it safe with children at the bench",
    "waste-water": "is it safe to pour wash water away",
    "flex-splinters": "flexing trial pieces dangerous",
    "hydrofluoric": "hydrofluoric acid",
    "lustre-fume": "are lustre fumes dangerous",
    "torch-gas": "is the torch safe",
    "uranium-glass": "uranium glass",
    "etch-nitric": "nitric acid",
}


@pytest.mark.parametrize("key", HURTS)
def test_a_question_meets_the_caution(ref, key):
    from refdb.ask.cautions import cautions_about

    assert key in {h.key for h in cautions_about(ref, HURTS[key]).hazards[:6]}


def test_every_hazard_of_a_subject_stands_with_it(ref, refdb):
    import json

    from refdb.judge.cautions import parts_of

    for topic in ("torch", "decals", "stripping", "children at the bench", "old and unknown glass", "plating"):
        told = {h["key"] for h in json.loads(refdb("practice", topic, "--json").out)["cautions"]}
        due = {h.key for h in ref.hazards() if ("practice", topic) in parts_of(h.trigger)}
        assert due
        assert told == due


def test_the_list_of_subjects_fits_the_screen(refdb):
    assert refdb("practice").out.count("\n") <= 24


def test_a_subject_tells_at_the_terminal_what_comes_of_it_otherwise(refdb):
    out = " ".join(refdb("practice", "torch", "--full").out.split())
    assert "otherwise: soot, muddy" in out
    assert refdb("practice", "torch").out.count("\n") <= 24
    assert "No verdict here is for the torch" in refdb("practice", "torch").out
