"""A question at the thicknesses beside it: each outcome is that of the verdict itself."""

from __future__ import annotations

from collections import OrderedDict

import pytest
from pieces import piece

import refdb
from refdb.judge import cooled_blocks
from refdb.judge.fit.beside import judge_with_neighbours
from refdb.judge.fit.question import asked
from refdb.judge.piece.verdict import judge_pieces


def around(ref, glass, metal, **texts):
    question = asked(ref.glass(glass), ref.metal(metal), texts, str)
    said = texts.get("metal_thickness", "")
    verdict, near = judge_with_neighbours(ref, question, said)
    return verdict, near()


@pytest.mark.parametrize(
    ("metal", "said", "texts", "here"),
    [
        ("copper-sheet", "", ["0.6 mm", "0.8 mm", "1 mm"], "0.8 mm"),
        ("copper-sheet", "0.3mm", ["0.3 mm", "0.4 mm"], "0.3 mm"),
        ("copper-sheet", "0.7 mm", ["0.6 mm", "0.7 mm", "0.8 mm"], "0.7 mm"),
        ("copper-clay", "3 cards", ["2 cards", "3 cards", "4 cards"], "3 cards"),
        ("copper-clay", "1 card", ["1 card", "2 cards"], "1 card"),
        ("copper-sheet", "0.7-0.9 mm", [], ""),
    ],
)
def test_neighbours_are_thicknesses_that_are_to_be_had(metal, said, texts, here):
    with refdb.open_reference() as ref:
        verdict, found = around(ref, "clear-hard-lead-free", metal, **({"metal_thickness": said} if said else {}))
    assert [one.text for one in found] == texts
    assert [one.text for one in found if one.asked] == ([here] if here else [])
    assert all(one.outcome == verdict.outcome for one in found if one.asked)


@pytest.mark.parametrize(
    ("glass", "metal", "said"),
    [
        ("opal-lead-free", "copper-clay-open", "2 cards"),
        ("clear-hard-lead-free", "fine-silver-sheet", "0.4 mm"),
        ("titanium-low-expansion", "copper-sheet", "0.8 mm"),
    ],
)
def test_outcomes_are_those_of_the_verdicts(glass, metal, said):
    with refdb.open_reference() as ref:
        _, found = around(ref, glass, metal, metal_thickness=said)
        for one in found:
            assert one.outcome == refdb.suits(ref, glass, metal, metal_thickness_m=one.text).outcome


def test_what_is_not_known_stays_so():
    with refdb.open_reference() as ref:
        verdict, found = around(ref, "painting-black", "copper-sheet")
        assert verdict.outcome == refdb.suits(ref, "painting-black", "copper-sheet").outcome
        assert {one.outcome for one in found} == {verdict.outcome}


def test_the_same_plates_are_cooled_once_and_others_anew(monkeypatch):
    """Of two questions that differ in the kiln alone the second cools nothing, and is answered as if it stood alone."""
    cooled = []
    monkeypatch.setattr(cooled_blocks, "_batches", OrderedDict())
    cool = cooled_blocks.cool_and_refire
    monkeypatch.setattr(cooled_blocks, "cool_and_refire", lambda *given: cooled.append(1) or cool(*given))

    def asking(ref, **texts):
        return [
            v.as_dict() if n == 0 else v
            for n, v in enumerate(around(ref, "clear-hard-lead-free", "copper-sheet", **texts))
        ]

    with refdb.open_reference() as ref:
        glass, metal = ref.glass("clear-hard-lead-free"), ref.metal("copper-sheet")
        monkeypatch.setattr(type(ref), "glass", lambda *given: glass)
        monkeypatch.setattr(type(ref), "metal", lambda *given: metal)
        asking(ref, kiln="800 C", front="0.31 mm")
        assert len(cooled) == 1
        after = asking(ref, kiln="805 C", front="0.31 mm")
        assert len(cooled) == 1
        cooled_blocks._batches.clear()
        assert asking(ref, kiln="805 C", front="0.31 mm") == after
        for n in range(12):
            asking(ref, front=f"0.32{n} mm")
        assert len(cooled) == 14
        assert len(cooled_blocks._batches) == 8
        asking(ref, shape="domed")
        asking(ref, shape="domed", kiln="805 C")
        assert len(cooled) == 15
        # A piece of many coats is not kept: eight of them would take a hundred megabytes.
        coats = [f"coat {face} clear-hard-lead-free 0.0{n + 1}" for n in range(8) for face in ("front", "back")]
        many = piece([one for coat in coats for one in (coat, "fire 805")])
        before = list(cooled_blocks._batches)
        judge_pieces(ref, [many])
        assert list(cooled_blocks._batches) == before
        assert sum(s.faces.nbytes for b in cooled_blocks._batches.values() for s in b) < 10e6
