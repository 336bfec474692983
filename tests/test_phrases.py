"""Phrases people use, each asked where they would ask it; how many are answered may not fall."""

from __future__ import annotations

from collections import Counter

import pytest
from phrase_score import HIT, WRONG, Scorer, phrases

from refdb.store.reference import Reference

#: For each half: how many phrases were answered, and answered wrongly, when they were first put, and when this was
#: last looked at. The reader had not seen the search; its half was not tuned for afterwards.
#: The last 86 of the maker are of students, in odd words: 56 put before rules and cautions were named in theirs, and
#: 30 after it, of which 26 were answered at first; rules were named for the rest afterwards.
FIRST = {"reader": (203, 14), "maker": (234, 24)}
LAST = {"reader": (216, 8), "maker": (272, 2)}


@pytest.fixture(scope="module")
def scorer(store):
    with Reference(store) as ref:
        yield Scorer(ref)


@pytest.fixture(scope="module")
def came(scorer):
    return [(row, scorer.came(row)) for row in phrases()]


def test_every_key_of_a_phrase_is_a_record(scorer):
    named = {
        k for r in phrases() if r["must_find"] != "nothing" for part in scorer.wanted(r["must_find"]) for k in part
    }
    assert named <= scorer.known, named - scorer.known


@pytest.mark.parametrize("half", ["reader", "maker"])
def test_as_many_phrases_are_answered_as_before(came, half, capsys):
    counts = Counter(found.outcome for row, found in came if row["written_by"] == half)
    total = sum(counts.values())
    assert total >= {"reader": 241, "maker": 150}[half]
    with capsys.disabled():
        print(
            f"\nphrases of the {half}: {counts[HIT]} of {total} answered ({counts[HIT] / total:.0%}), "
            f"{counts[WRONG]} wrongly ({counts[WRONG] / total:.0%}); at first {FIRST[half][0]} and {FIRST[half][1]}"
        )
    assert counts[HIT] >= LAST[half][0]
    assert counts[WRONG] <= LAST[half][1]


def test_phrases_of_another_trade_claim_nothing(came):
    strange = [(row, found) for row, found in came if row["must_find"] == "nothing"]
    assert len(strange) >= 12
    assert not [row["phrase"] for row, found in strange if found.outcome != HIT]


def test_a_phrase_that_is_answered_by_anything_is_no_witness(scorer):
    """A key that stands for something else is not taken for a hit, so the score can fall."""
    assert scorer.came({"phrase": "bubbles", "asked_in": "fault", "must_find": "warp"}).outcome == WRONG
    assert scorer.came({"phrase": "copper", "asked_in": "metal", "must_find": "titanium-sheet"}).outcome == WRONG
    assert scorer.came({"phrase": "water break test", "asked_in": "find", "must_find": "mesh-80"}).outcome != HIT
