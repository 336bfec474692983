"""Every step of a sound piece carries something: a finding or a number that is gone or other without it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from techniques import TECHNIQUES

import refdb.plan
from refdb.judge.piece.steps import DOINGS, Piece
from refdb.judge.piece.verdict import judge_pieces
from refdb.judge.reason import NOT
from refdb.judge.verdict import Verdict
from refdb.plan.piecefile import parse_piece

DEMO = (Path(refdb.plan.__file__).parent / "new_piece.toml").read_text(encoding="utf-8")
#: A domed pendant of sterling, foil and drawing under a soft clear, stoned and flashed, a stone set last.
PENDANT = """
[piece]
title = "Pendant"
width = "32 mm"
height = "32 mm"
shape = "domed"
rise = "3-4 mm"
[base]
metal = "sterling-sheet"
thickness = "1.0 mm"
[[step]]
do = "clean"
face = "back"
[[step]]
do = "mask"
face = "front"
[[step]]
do = "coat"
face = "back"
glass = "clear-for-silver"
thickness = "0.25 mm"
[[step]]
do = "fire"
kiln = "770 C"
[[step]]
do = "clean"
[[step]]
do = "coat"
glass = "clear-for-silver"
thickness = "0.15 mm"
washed = true
[[step]]
do = "fire"
kiln = "770 C"
[[step]]
do = "leaf"
leaf = "fine-silver-foil-heavy"
coverage = "50 %"
[[step]]
do = "fire"
kiln = "760 C"
[[step]]
do = "coat"
glass = "clear-soft-lead-free"
thickness = "0.12 mm"
washed = true
[[step]]
do = "fire"
kiln = "750 C"
[[step]]
do = "line"
glass = "painting-black"
coverage = "5 %"
[[step]]
do = "fire"
kiln = "750 C"
[[step]]
do = "stone"
[[step]]
do = "fire"
kiln = "750 C"
[[step]]
do = "join"
solder = "setting"
note = "a garnet in its bezel"
"""


@pytest.fixture(scope="module")
def judged(ref):
    """Of a text: its piece, its verdict, and the verdicts with each of its steps left out."""

    @cache
    def of(text: str) -> tuple[Piece, Verdict, list[Verdict]]:
        piece = parse_piece(text, ref)
        less = [
            replace(
                piece,
                steps=tuple(replace(s, number=n) for n, s in enumerate((s for s in piece.steps if s is not gone), 1)),
            )
            for gone in piece.steps
        ]
        whole, *others = judge_pieces(ref, [piece, *less])
        return piece, whole, others

    return of


def said(verdict: Verdict) -> list[tuple[str, str, str]]:
    """What a verdict found, without the numbers of steps, which shift when one is left out."""
    return sorted((t.key, t.outcome, str(t.found)) for t in verdict.told)


@pytest.mark.parametrize("text", [DEMO, PENDANT], ids=["demo", "pendant"])
def test_without_any_one_step_something_is_said_otherwise(judged, text):
    piece, whole, others = judged(text)
    idle = [step.title for step, other in zip(piece.steps, others, strict=True) if said(other) == said(whole)]
    assert idle == []


@pytest.mark.parametrize("text", [DEMO, PENDANT], ids=["demo", "pendant"])
def test_every_finding_names_its_step(judged, text):
    piece, whole, _ = judged(text)
    titles = {s.title for s in piece.steps}
    for told in whole.told:
        assert told.where.removesuffix(", at a spot of another glass") in (
            titles if told.key != "least-metal" else {f"the base, {piece.base.metal}"}
        )


def test_these_pieces_and_those_of_the_techniques_hold_every_kind_of_step(judged):
    pieces = [judged(text)[0] for text in (DEMO, PENDANT)]
    others = {str(s["do"]) for t in TECHNIQUES.values() for s in t.piece.steps}
    assert {s.do for p in pieces for s in p.steps} | others == set(DOINGS)
    assert {p.shape for p in pieces} == {"domed"}
    assert all(judged(text)[1].outcome != NOT for text in (DEMO, PENDANT))


@pytest.mark.parametrize(
    ("gone", "rule"),
    [
        ("mask", "bare-face-scale"),
        ("line", "fired-again"),
        ("leaf", "fired-again"),
        ("stone", "stoned-and-fired"),
        ("join", "join-holds"),
    ],
)
def test_what_is_said_otherwise_is_about_that_step(judged, gone, rule):
    """Left out, a step takes its finding with it, or brings the one that it was there to avert."""
    piece, whole, others = judged(PENDANT)
    at = next(n for n, s in enumerate(piece.steps) if s.do == gone)
    before, after = ([r.rule for r in v.reasons].count(rule) for v in (whole, others[at]))
    assert before != after


def test_each_clean_is_missed_on_its_own_face(judged):
    piece, whole, others = judged(PENDANT)
    for number, step in enumerate(piece.steps):
        if step.do == "clean":
            found = [r for r in others[number].reasons if r.rule in ("clean-metal", "scale-under-glass")]
            assert len(found) == 1
            assert found[0].subject.face == step.face
    assert not any(r.rule in ("clean-metal", "scale-under-glass") for r in whole.reasons)
