"""The precomputed answers: each is worked out again and compared, and tells the same verdict as a fresh sample."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from refdb.curate.answers import answered, as_csv, as_text, metal_keys
from refdb.judge.fit.answer import STANDARD, Answer, followed
from refdb.judge.fit.changes import Change
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.fit.question import Question
from refdb.judge.needs import missing_figures
from refdb.judge.numbers import Numbers
from refdb.judge.piece.shared import Shared
from refdb.judge.piece.verdict import findings_of, verdict_of
from refdb.judge.reason import CARE, ORDER, SUITS, Reason, Triple, outcome_of
from refdb.judge.verdict import Verdict

SOURCES = Path(__file__).resolve().parent.parent / "data_sources"
with (SOURCES / "metals.csv").open(encoding="utf-8", newline="") as _file:
    METALS = [row["key"] for row in csv.DictReader(_file)]

STALE = "answers.csv is out of date: run scripts/make_answers.py"
#: Another processor may round a draw to the other side of a limit, but hardly more than two of 128.
SHARE = 2 / 128 + 1e-5
#: Numbers are stored with five digits; besides, what is nearly nothing may differ by a hair of its own scale.
RELATIVE = 1e-3
NEARLY_NOTHING = {"mpa": 0.05, "bow": 1e-3, "strain": 1e-5, "release": 1e-2, "measure": 1e-2, "found": 5e-2}


def numbers_of(answer: Numbers) -> Iterator[tuple[str, str, Triple]]:
    """Every number of an answer with what it is and of which kind."""
    for rule in answer.rules:
        yield f"rule {rule.rule} {rule.subject}", "found", rule.found
    for key, measure in answer.measures.items():
        yield key, "measure", measure
    for stage in answer.stages:
        for name, *faces in stage.layers:
            for face, values in zip(("bottom", "mean", "top", "rim bottom", "rim top"), faces, strict=True):
                if values is not None:
                    yield f"{stage.name} {name} {face}", "mpa", values
        yield f"{stage.name} bow", "bow", stage.bow_mm
        yield f"{stage.name} plastic strain", "strain", stage.plastic_strain
        yield f"{stage.name} release", "release", stage.release


def told(verdict: Verdict) -> list[Reason]:
    """The reasons of a verdict in their order, but for what is drawn, which `compare` holds to its tolerance."""
    return [replace(r, found=None, split=None, values={}) for r in verdict.reasons]


def compare(stored: Numbers, fresh: Numbers) -> None:
    assert stored.shares == pytest.approx(fresh.shares, abs=SHARE), STALE
    assert [(r.rule, r.subject) for r in stored.rules] == [(r.rule, r.subject) for r in fresh.rules], STALE
    for old_rule, rule in zip(stored.rules, fresh.rules, strict=True):
        assert old_rule.split == pytest.approx(rule.split, abs=SHARE), (rule.rule, STALE)
    pairs = list(zip(numbers_of(stored), numbers_of(fresh), strict=True))
    assert len(pairs) > 20
    for (name, kind, old), (fresh_name, _, new) in pairs:
        assert name == fresh_name, STALE
        assert old == pytest.approx(new, rel=RELATIVE, abs=NEARLY_NOTHING[kind]), (name, STALE)
    if stored.shares == pytest.approx(fresh.shares, abs=1e-5):
        assert stored.decides == fresh.decides, STALE


#: Told in the quick suite: yielding and not, with a low melting point, of clay, of a guessed curve, and one refused.
A_FEW = ["copper-clay", "copper-sheet", "fine-silver-sheet", "low-carbon-steel", "sterling-sheet"]


@pytest.mark.parametrize("metal_key", [pytest.param(k, marks=[] if k in A_FEW else [pytest.mark.slow]) for k in METALS])
def test_stored_answers_are_what_the_calculation_gives(ref, metal_key):
    """Numbers, reasons and changes of every glass on the metal, each worked out again."""
    metal = ref.metal(metal_key)
    shared = Shared(ref)
    stored = {r["glass"]: Answer.from_plain(json.loads(r["numbers"])) for r in ref.answers(STANDARD, metal=metal_key)}
    seen = set()
    for glass_key, fresh in answered(ref, metal_key):
        assert glass_key in stored, STALE
        compare(stored[glass_key].numbers, fresh.numbers)
        same_changes(stored[glass_key], fresh)
        found = followed(Question(ref.glass(glass_key), metal))
        fixed = findings_of(shared, found)
        from_store, from_sample = (
            verdict_of(shared, found, fixed, one.numbers, {}) for one in (stored[glass_key], fresh)
        )
        assert from_store.outcome == from_sample.outcome, glass_key
        assert told(from_store) == told(from_sample), glass_key
        seen.add(glass_key)
    assert seen == set(stored)
    assert len(seen) > 30


def same_changes(stored: Answer, fresh: Answer) -> None:
    """The same changes to the same values in the same order; their shares may be off by a draw or two."""
    assert [(c.kind, c.value, c.outcome) for c in stored.changes] == [
        (c.kind, c.value, c.outcome) for c in fresh.changes
    ], STALE
    for one, other in zip(stored.changes, fresh.changes, strict=True):
        assert one.confidence == pytest.approx(other.confidence, abs=SHARE), STALE


def test_every_stored_answer_is_whole(ref):
    """Read back from the file: five parts of numbers and a sixth of changes, shares that come to one, each change an
    improvement of its own kind, none where it suits."""
    rows = ref.answers(STANDARD)
    with_changes = 0
    for row in rows:
        plain = json.loads(row["numbers"])
        assert len(plain) == 6
        answer = Answer.from_plain(plain)
        assert sum(answer.numbers.shares) == pytest.approx(1.0, abs=1e-5)
        assert len(answer.changes) <= 3
        assert len({c.kind for c in answer.changes}) == len(answer.changes)
        before = outcome_of(answer.numbers.shares)
        assert not (answer.changes and before == SUITS)
        for change in answer.changes:
            assert ORDER[change.outcome] < ORDER[before] or (
                change.outcome == before == CARE and answer.numbers.shares[2] >= 0.10
            ), (row["glass"], row["metal"], change)
        with_changes += bool(answer.changes)
        # The numbers of a change are rounded as they are stored, so that reading and writing gives the same text.
        assert as_text(answer) == row["numbers"]
    assert 20 < with_changes < len(rows)


def test_there_is_an_answer_for_every_pair_whose_figures_are_known(ref):
    glasses, metals = ref.materials("glass"), ref.materials("metal")
    assert sorted(m.key for m in metals) == sorted(METALS)
    wanted = {(g.key, m.key) for g in glasses for m in metals if not missing_figures(g, m)}
    assert {(r["glass"], r["metal"]) for r in ref.answers(STANDARD)} == wanted
    assert len(wanted) < len(glasses) * len(metals)


def test_the_standard_question_is_told_from_the_stored_numbers(ref, monkeypatch):
    def not_sampled(*_: object) -> None:
        raise AssertionError("the standard build was sampled again")

    stored = json.loads(ref.answer("clear-hard-lead-free", "copper-clay", STANDARD))
    monkeypatch.setattr("refdb.judge.piece.sample.sample_beside", not_sampled)
    verdict = suits(ref, "clear-hard-lead-free", "copper-clay")
    assert verdict.stages == tuple(s.as_stage() for s in Answer.from_plain(stored).numbers.stages)
    with pytest.raises(AssertionError, match="sampled again"):
        suits(ref, "clear-hard-lead-free", "copper-clay", front_m=0.31e-3)


def test_a_changed_number_is_noticed(ref):
    stored = Answer.from_plain(json.loads(ref.answer("clear-hard-lead-free", "copper-clay", STANDARD))).numbers
    compare(stored, stored)
    for change in (
        {"decides": "the moon"},
        {"shares": (0.5, 0.25, 0.25)},
        {"stages": stored.stages[:-1]},
        {"measures": stored.measures | {"gap_ppm": tuple(x * 1.01 for x in stored.measures["gap_ppm"])}},
    ):
        other = replace(stored, **change)
        with pytest.raises((AssertionError, ValueError)):
            compare(stored, other)


def test_a_changed_change_is_noticed():
    numbers = Numbers((1.0, 0.0, 0.0), (), {}, (), "")
    change = Change("first", 0.15, SUITS, 0.9)
    stored = Answer(numbers, (change,))
    same_changes(stored, replace(stored, changes=(replace(change, confidence=0.9 + 1 / 128),)))
    for other in (
        (),
        (replace(change, value=0.10),),
        (replace(change, outcome=CARE),),
        (replace(change, confidence=0.8),),
        (change, replace(change, kind="front")),
    ):
        with pytest.raises(AssertionError):
            same_changes(stored, replace(stored, changes=other))


def test_the_file_is_sorted_and_compact(ref, store):
    assert metal_keys(store) == [m.key for m in ref.materials("metal")]
    answer = Answer.from_plain(json.loads(ref.answer("clear-hard-lead-free", "copper-clay", STANDARD)))
    text = as_text(answer)
    assert " " not in text.replace("first coat, front", "").replace("then the back", "").replace(
        "full build", ""
    ).replace("front glass", "").replace("back glass", "").replace(answer.numbers.decides, "")
    lines = as_csv([("b", "x", STANDARD, text), ("a", "y", STANDARD, text)]).splitlines()
    assert [line[:2] for line in lines] == ["gl", "a,", "b,"]
