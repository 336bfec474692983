"""How a verdict is decided: by what does not hold; the evidence beside it, what is missing, and how it is told."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.judge import limits
from refdb.judge.evidence import GRADES, evidence_of
from refdb.judge.fit.glass_on_metal import followed, rank, suits
from refdb.judge.fit.question import Question
from refdb.judge.needs import missing_figures
from refdb.judge.numbers import Numbers, RuleNumbers, SampledLayer, SampledStage, worst_of_each
from refdb.judge.piece import verdict as piece_verdict
from refdb.judge.piece.shared import Shared
from refdb.judge.reason import CARE, NOT, ORDER, SUITS, UNSURE, Subject, outcome_of
from refdb.judge.rules import RULES
from refdb.judge.verdict import TEST_TILE, Verdict
from refdb.quantities.typed import Band
from refdb.records import FitRule
from refdb.store.reference import Reference

TRIPLE = (1.0, 0.5, 1.5)
CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"


def numbers(
    rules: dict[str, tuple[float, float, float]], joint: tuple[float, float, float], decides: str = "metal yield"
) -> Numbers:
    """Sampled numbers made by hand."""
    squeezed = (-40.0, -60.0, -20.0)
    return Numbers(
        joint,
        tuple(RuleNumbers(k, Subject(), s, TRIPLE) for k, s in rules.items()),
        {"gap_ppm": TRIPLE, "kiln_low_c": (780.0, 780.0, 780.0), "kiln_high_c": (830.0, 830.0, 830.0)},
        (SampledStage("full build", 1, (SampledLayer("front glass", *[squeezed] * 3),), TRIPLE, TRIPLE, TRIPLE),),
        decides,
    )


def verdict_of(ref: Reference, made: Numbers, rules: list[FitRule] | None = None, glass: str = CLEAR) -> Verdict:
    """The verdict on a glass on copper from numbers made by hand, with these rules of the surface and no others."""
    shared = Shared(ref)
    shared.rows.fit_rules = rules or []
    question = Question(ref.glass(glass), ref.metal(COPPER))
    found = followed(question)
    return piece_verdict.verdict_of(shared, found, piece_verdict.findings_of(shared, found), made, question.as_dict())


def rule_with(outcome: str) -> FitRule:
    return FitRule(
        "k",
        "A rule",
        "any",
        "any",
        outcome,
        "Something was found.",
        "nothing found",
        "Why.",
        "Change it.",
        "common-practice",
    )


# The decision


#: Shares of the draws, the outcome and its confidence, by hand from the three limits of draws that fail.
DECISIONS = [
    ((0.9, 0.1, 0.0), SUITS, 0.9),
    ((0.5, 0.5, 0.0), SUITS, 0.5),
    ((0.49, 0.51, 0.0), CARE, 1.0),
    ((0.5, 0.401, 0.099), SUITS, 0.5),
    ((0.47, 0.44, 0.09), CARE, 0.91),
    ((0.9, 0.0, 0.1), CARE, 0.9),
    ((0.0, 0.651, 0.349), CARE, 0.651),
    ((0.65, 0.0, 0.35), UNSURE, 0.65),
    ((0.0, 0.5, 0.5), UNSURE, 0.5),
    ((0.351, 0.0, 0.649), UNSURE, 0.649),
    ((0.35, 0.0, 0.65), NOT, 0.65),
    ((0.0, 0.0, 1.0), NOT, 1.0),
]


@pytest.mark.parametrize(("shares", "outcome", "confidence"), DECISIONS)
def test_the_share_that_does_not_hold_decides(ref, shares, outcome, confidence):
    """Below a tenth it holds, below 35 hundredths with that risk, from 65 on it does not; between it is not told."""
    verdict = verdict_of(ref, numbers({"gap": shares}, shares))
    assert verdict.outcome == outcome
    assert verdict.confidence == pytest.approx(confidence)
    assert verdict.shares == dict(zip((SUITS, CARE, NOT), shares, strict=True))
    assert next(r.outcome for r in verdict.reasons if r.rule == "gap") == outcome


thirds = st.tuples(*[st.integers(0, 128)] * 2).map(sorted).map(lambda ab: (ab[0], ab[1] - ab[0], 128 - ab[1]))


@settings(max_examples=300, deadline=None)
@given(thirds, st.integers(0, 2), st.integers(0, 2), st.integers(0, 128))
def test_moving_draws_to_a_worse_outcome_never_makes_it_better(counts, one, other, moved):
    good, worse = sorted((one, other))
    after = list(counts)
    moved = min(moved, counts[good])
    after[good] -= moved
    after[worse] += moved
    told, then = (outcome_of(tuple(n / 128 for n in c)) for c in (counts, after))
    assert ORDER[then] >= ORDER[told]


@pytest.mark.parametrize("shares", [(0.4, 0.2, 0.4), (0.3, 0.3, 0.4), (0.0, 0.4, 0.6)])
def test_as_open_as_a_coin_it_cannot_say_and_names_the_input_that_decides(ref, shares):
    verdict = verdict_of(ref, numbers({"gap": shares}, shares, "metal yield"))
    assert verdict.outcome == UNSURE
    assert verdict.exit_status == 5
    assert "metal yield" in verdict.sentence
    other = verdict_of(ref, numbers({"gap": shares}, shares, "set point"))
    assert "set point" in other.sentence
    assert "metal yield" not in other.sentence
    assert verdict.sentence.split("To settle it: ")[1] != other.sentence.split("To settle it: ")[1]


@pytest.mark.parametrize(("rule", "expected"), [(SUITS, (SUITS, 0.72)), (CARE, (CARE, 0.92)), (NOT, (NOT, 1.0))])
def test_a_rule_of_the_surface_holds_for_every_draw(ref, rule, expected):
    verdict = verdict_of(ref, numbers({"gap": (0.72, 0.2, 0.08)}, (0.72, 0.2, 0.08)), rules=[rule_with(rule)])
    assert verdict.outcome == expected[0]
    assert verdict.confidence == pytest.approx(expected[1])


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 4), st.floats(0.1, 5.0))
def test_no_reason_is_worse_than_its_verdict_and_every_verdict_says_why(ref, seed, count, lean):
    random = np.random.default_rng(seed)
    names = ["gap", "kiln", "glass-of-metal", "curve-end"][:count]
    draws = random.choice(3, size=(count, 128), p=np.array([lean, 1, 1]) / (lean + 2))
    share = {n: tuple(float((row == k).mean()) for k in range(3)) for n, row in zip(names, draws, strict=True)}
    joint = tuple(float((draws.max(axis=0) == k).mean()) for k in range(3))
    verdict = verdict_of(ref, numbers(share, joint))
    assert len(verdict.sentence) > 15
    assert max(ORDER[r.outcome] for r in verdict.reasons) <= ORDER[verdict.outcome]
    assert verdict.confidence == {
        SUITS: joint[0], CARE: joint[0] + joint[1], UNSURE: max(joint), NOT: joint[2]
    }[verdict.outcome]  # fmt: skip
    says_why(verdict)


def says_why(verdict: Verdict) -> None:
    """What decided stands first, and the sentence is made of its heads and of nothing else."""
    deciding = [t for t in verdict.told if t.reason.deciding]
    assert list(verdict.told[: len(deciding)]) == deciding
    if verdict.outcome == SUITS or verdict.missing:
        assert not deciding or verdict.outcome == NOT
        return
    assert deciding
    at_outcome = [r for r in verdict.reasons if r.outcome == verdict.outcome]
    assert all(r.deciding for r in at_outcome)
    # What is a consequence of another stands behind it in the sentence, after what is graver.
    causes = {key for key, rule in RULES.items() if rule.cause}
    deciding = sorted(deciding, key=lambda t: (-ORDER[t.reason.outcome], t.reason.rule not in causes))
    heads = [t.head for t in deciding if t.head]
    said = verdict.sentence.lower()
    assert heads
    assert all(head.lower() in said for head in list(dict.fromkeys(heads))[:2])
    for other in verdict.told:
        assert other.reason.deciding or not other.head or other.head in heads or other.head.lower() not in said


def test_several_small_doubts_that_add_up_are_named(ref):
    joint = (0.4, 0.6, 0.0)
    verdict = verdict_of(ref, numbers({"gap": (0.6, 0.4, 0.0), "kiln": (0.7, 0.3, 0.0)}, joint))
    assert verdict.outcome == CARE
    assert {r.outcome for r in verdict.reasons} == {SUITS}
    assert verdict.sentence.lower().startswith(RULES["gap"].words.head_care)
    assert RULES["kiln"].words.head_care in verdict.sentence


def test_the_worst_firing_of_a_rule_counts():
    one, two = (
        RuleNumbers("tension-between", Subject(fire=k), split, TRIPLE)
        for k, split in ((1, (0.9, 0.1, 0.0)), (2, (0.5, 0.2, 0.3)))
    )
    gap = RuleNumbers("gap", Subject(), (1.0, 0.0, 0.0), TRIPLE)
    assert worst_of_each((one, two, gap)) == worst_of_each((two, one, gap)) == [two, gap]


def test_reasons_stand_worst_first(ref):
    for metal, glass in product(
        ("copper-sheet", "sterling-sheet", "low-carbon-steel"),
        ("window-soda-lime", "clear-soft-lead-free", "steel-ground-coat"),
    ):
        reasons = suits(ref, glass, metal).reasons
        ranks = [(r.deciding, ORDER[r.outcome]) for r in reasons]
        assert ranks == sorted(ranks, reverse=True)


# Evidence


def with_basis(record, basis: str, taken_from: str = ""):
    """The record with the same expansion resting on something else."""
    row = record.value("expansion")
    return replace(
        record, values=tuple(replace(v, basis=basis, taken_from=taken_from) if v == row else v for v in record.values)
    )


#: What each basis of an expansion counts for, on a metal that is not the one the glass is made for.
GRADE_OF = {
    "measured": "measured",
    "published": "published",
    "standard": "published",
    "common practice": "trade",
    "computed": "likeness",
    "estimate": "likeness",
    "analogue": "likeness",
    "from memory": "guess",
    "no evidence": "guess",
}


@pytest.mark.parametrize("basis", GRADE_OF)
@pytest.mark.parametrize("shares", [(0.9, 0.1, 0.0), (0.2, 0.8, 0.0), (0.3, 0.3, 0.4), (0.0, 0.1, 0.9)])
def test_what_a_verdict_rests_on_stands_beside_it_and_never_moves_it(ref, monkeypatch, basis, shares):
    monkeypatch.setattr("refdb.judge.evidence.words_of", lambda *_: set())
    glass, copper = with_basis(ref.glass(CLEAR), basis), with_basis(ref.metal(COPPER), "measured")
    made = numbers({"gap": shares}, shares)
    shared = Shared(ref)
    shared.rows.fit_rules = []
    question = Question(glass, copper)
    verdict = piece_verdict.verdict_of(shared, followed(question), [], made, question.as_dict())
    plain = verdict_of(ref, made)
    assert verdict.evidence is not None
    assert verdict.evidence.grade == GRADE_OF[basis]
    assert (verdict.outcome, verdict.confidence, verdict.sentence) == (plain.outcome, plain.confidence, plain.sentence)
    assert [(r.rule, r.outcome) for r in verdict.reasons] == [(r.rule, r.outcome) for r in plain.reasons]


def test_a_pair_the_trade_makes_for_one_another_rests_on_practice_at_least(ref):
    """A clear made for copper rests on practice there, however little is published; on steel the same guess is one."""
    glass = with_basis(ref.glass(CLEAR), "no evidence")
    on_copper, on_steel = (evidence_of([glass], ref.metal(m)) for m in (COPPER, "low-carbon-steel"))
    assert on_copper is not None
    assert on_steel is not None
    assert (on_copper.grade, on_copper.made_for) == ("trade", True)
    assert (on_steel.grade, on_steel.made_for) == ("guess", False)
    # A better figure is not made worse by it.
    sure = evidence_of([with_basis(glass, "measured")], with_basis(ref.metal(COPPER), "measured"))
    assert sure is not None
    assert (sure.grade, sure.lift) == ("measured", "")


def test_the_weakest_of_both_expansions_tells_the_grade_and_what_would_lift_it(ref):
    glass, metal = ref.glass(CLEAR), ref.metal("low-carbon-steel")
    pairs = {
        ("measured", "from memory"): ("guess", metal.key),
        ("analogue", "published"): ("likeness", glass.key),
        ("published", "measured"): ("published", glass.key),
    }
    for (of_glass, of_metal), (grade, weakest) in pairs.items():
        found = evidence_of([with_basis(glass, of_glass)], with_basis(metal, of_metal))
        assert found is not None
        assert (found.grade, found.weakest) == (grade, weakest)
        assert ("strip" in found.lift) == (weakest == glass.key)
    assert evidence_of([glass, without(glass, "expansion")], without(metal, "expansion")) is None


def test_a_figure_taken_from_a_class_is_a_likeness_at_best(ref):
    """A jar of one's own like a class has the class's figure, however well that was measured."""
    steel = with_basis(ref.metal("low-carbon-steel"), "measured")
    for basis, grade in (("measured", "likeness"), ("published", "likeness"), ("no evidence", "guess")):
        found = evidence_of([with_basis(ref.glass(CLEAR), basis, taken_from=CLEAR)], steel)
        assert found is not None
        assert found.grade == grade


def test_a_makers_figure_lifts_the_grade_and_narrows_the_band(ref):
    glass, steel = ref.glass("blue-transparent-lead-free"), ref.metal("low-carbon-steel")
    own = glass.with_expansion(Band(12.4, 12.2, 12.6), (20.0, 400.0))
    guess = glass.with_expansion(Band(12.4, 12.2, 12.6), (20.0, 400.0), basis="from memory")
    one, other = suits(ref, own, steel), suits(ref, guess, steel)
    assert one.evidence is not None
    assert other.evidence is not None
    assert GRADES.index(one.evidence.grade) < GRADES.index(other.evidence.grade) == GRADES.index("guess")
    assert (one.outcome, one.shares) == (other.outcome, other.shares)
    assert one.measures["glass_expansion_ppm_per_k"].value == pytest.approx(12.4, rel=0.001)
    wide = suits(ref, glass, steel).measures["glass_expansion_ppm_per_k"]
    narrow = one.measures["glass_expansion_ppm_per_k"]
    assert narrow.high - narrow.low < 0.5 * (wide.high - wide.low)


# What is missing


def without(record, name: str):
    return replace(record, values=tuple(v for v in record.values if v.property != name))


NEEDS = [("glass", n) for n in ("expansion", "set_point", "youngs_modulus", "poisson_ratio", "fuse_low", "fuse_high")]
NEEDS += [
    ("metal", n)
    for n in (
        "expansion",
        "youngs_modulus",
        "poisson_ratio",
        "flow_stress",
        "hardening",
        "flow_ratio_500c",
        "solidus",
        "least_thickness",
    )
]


@pytest.mark.parametrize(("kind", "name"), NEEDS)
def test_a_missing_figure_gives_cannot_say_and_is_named_with_how_to_get_it(ref, kind, name):
    glass, metal = ref.glass(CLEAR), ref.metal(COPPER)
    glass, metal = (without(glass, name), metal) if kind == "glass" else (glass, without(metal, name))
    verdict = suits(ref, glass, metal)
    assert verdict.outcome == UNSURE
    assert verdict.confidence == 0.0
    label = (glass if kind == "glass" else metal).label.lower()
    plain = {"youngs_modulus": "stiffness", "poisson_ratio": "narrowing when stretched"}
    assert verdict.missing[0].startswith(f"{plain.get(name, name.replace('_', ' '))} of {label} (")
    assert verdict.missing[0] in verdict.sentence
    assert ("bend a test strip" in verdict.sentence) == (name == "expansion")
    assert "ask the maker" in verdict.sentence


def test_a_metal_without_a_curve_gives_cannot_say(ref):
    verdict = suits(ref, CLEAR, replace(ref.metal(COPPER), points=()))
    assert verdict.outcome == UNSURE
    assert "expansion curve of copper sheet" in verdict.sentence


def test_a_definite_refusal_needs_no_missing_figure(ref):
    glass = next(g for g in ref.materials("glass") if missing_figures(g, ref.metal(COPPER)))
    assert suits(ref, glass.key, COPPER).outcome == UNSURE
    refused = suits(ref, glass.key, "brass-70-30")
    assert refused.outcome == NOT
    assert refused.missing
    assert "zinc" in refused.sentence


# What was changed is not what was precomputed


@pytest.mark.parametrize("change", ["glass", "metal"])
def test_a_changed_record_is_worked_out_afresh(ref, change):
    glass, metal = ref.glass(CLEAR), ref.metal(COPPER)
    name = "set_point" if change == "glass" else "flow_stress"
    record = glass if change == "glass" else metal
    other = replace(
        record,
        values=tuple(
            replace(v, value=v.band.value * 0.9, low=v.band.low * 0.9, high=v.band.high * 0.9)
            if v.property == name
            else v
            for v in record.values
        ),
    )
    plain = suits(ref, CLEAR, COPPER)
    fresh = suits(ref, other, metal) if change == "glass" else suits(ref, glass, other)
    assert fresh.stages != plain.stages
    assert suits(ref, glass, metal).stages == plain.stages


# Ranking


@pytest.mark.parametrize("metal", ["copper-sheet", "sterling-sheet", "low-carbon-steel", "aluminium-sheet"])
def test_a_ranking_holds_every_glass_best_first_with_ties(ref, metal):
    rows = rank(ref, metal)
    assert sorted(r.glass.key for r in rows) == sorted(g.key for g in ref.materials("glass"))
    assert [ORDER[r.verdict.outcome] for r in rows] == sorted(ORDER[r.verdict.outcome] for r in rows)
    places = [r.place for r in rows]
    assert places[0] == 1
    for row in rows:
        assert row.tied == (places.count(row.place) > 1)
        assert row.place == 1 + sum(p < row.place for p in places)
    assert any(r.tied for r in rows)
    one = rows[0]
    assert one.verdict.outcome == suits(ref, one.glass.key, metal).outcome


def test_a_glass_for_the_metal_stands_before_one_for_another(ref):
    """The trade's own choice for sterling and silver against what is made for steel."""
    for metal, made_for_it in (
        ("sterling-sheet", ("clear-for-silver", "clear-medium-lead-free")),
        ("fine-silver-sheet", ("clear-for-silver", "clear-hard-lead-free")),
        ("copper-sheet", ("clear-medium-lead-free", "amber-transparent-lead-free")),
    ):
        place = {r.glass.key: r.place for r in rank(ref, metal)}
        for other in ("steel-cover-coat-titania", "steel-cover-coat-zirconia", "steel-ground-coat", "lead-crystal-24"):
            assert max(place[g] for g in made_for_it) < place[other], (metal, other)
    steel = {r.glass.key: r.place for r in rank(ref, "low-carbon-steel")}
    assert steel["steel-ground-coat"] == 1
    assert steel["steel-ground-coat"] < steel["clear-for-silver"]


def test_every_metal_can_be_ranked_and_no_reason_beats_its_verdict(ref):
    for metal in ref.materials("metal"):
        for row in rank(ref, metal.key):
            verdict = row.verdict
            assert len(verdict.sentence) > 15
            if not verdict.missing:
                worst = max(ORDER[r.outcome] for r in verdict.reasons)
                assert worst <= ORDER[verdict.outcome], (row.glass.key, metal.key)
            says_why(verdict)


@pytest.mark.parametrize(("front", "back"), [(0.3e-3, 0.3e-3), (0.3e-3, 0.22e-3)])
def test_a_plain_yes_tells_by_how_much_its_glass_is_squeezed_on_average(ref, front, back):
    verdict = suits(ref, CLEAR, "copper-sheet", front_m=front, back_m=back)
    assert verdict.outcome == SUITS
    told = re.search(r"squeezed on both faces, by about (\d+) MPa", verdict.sentence)
    assert told
    glass = [layer.mean_mpa.value for layer in verdict.stages[-1].layers if layer.name != "metal"]
    assert int(told[1]) == pytest.approx(-sum(glass) / 2, abs=0.51)


def test_a_rule_that_may_refuse_stands_before_those_that_only_want_care(ref):
    """A share beyond the outcome is told, adds up, and counts before how often the rule wants care."""
    verdict = suits(ref, CLEAR, "copper-clay", metal_thickness_m=Band(0.45e-3, 0.38e-3, 0.51e-3))
    assert verdict.outcome == CARE
    first, *others = verdict.reasons
    assert first.rule == "tension-between"
    assert first.worse == pytest.approx(verdict.shares[NOT])
    assert 0.05 < first.at_outcome < first.share == pytest.approx(first.at_outcome + first.worse)
    assert any(r.outcome == CARE and r.worse == 0.0 and r.share == 1.0 for r in others)
    body = verdict.as_dict()["reasons"]
    assert body[0]["split"] == pytest.approx(
        {SUITS: 1 - first.share, CARE: first.at_outcome, NOT: first.worse}, abs=1e-4
    )
    assert all(sum(r["split"].values()) == pytest.approx(1.0, abs=2e-4) for r in body if "split" in r)


def test_glass_that_shrinks_more_than_its_metal_is_not_told_to_thin_its_coats(ref):
    """On titanium an ordinary glass is stretched wherever it lies; on thin silver it is the bending that does it."""
    titanium = suits(ref, CLEAR, "titanium-sheet")
    silver = suits(ref, CLEAR, "fine-silver-sheet", metal_thickness_m=0.3e-3, first_m=0.3e-3)
    pulled, bent = (next(r for r in v.reasons if r.rule == "tension-between") for v in (titanium, silver))
    assert pulled.outcome == bent.outcome == NOT
    assert titanium.measures["gap_ppm"].high < 0 < silver.measures["gap_ppm"].low
    assert (pulled.case, bent.case) == ("pulled", "")
    assert "shrinks more than the metal" in titanium.sentence
    assert "one face" not in titanium.sentence
    assert "one face" in silver.sentence


def test_a_figure_that_was_typed_is_not_called_measured(ref):
    own = ref.glass(CLEAR).with_expansion(Band.exact(12.4), (20.0, 400.0))
    assert suits(ref, own, COPPER).question["glass_expansion"]["basis"] == "as given"
    assert suits(ref, CLEAR, COPPER).question["glass_expansion"]["basis"] == "published"


# The form of an answer


def test_the_stable_form_has_these_keys_and_no_others(ref):
    body = suits(ref, CLEAR, "copper-clay", shape="domed", kiln_c=815.0).as_dict()
    assert body["schema"] == "refdb/2"
    assert set(body) == {
        "schema",
        "question",
        "verdict",
        "confidence",
        "sentence",
        "shares",
        "missing",
        "evidence",
        "changes",
        "reasons",
        "numbers",
        "cautions",
        "test_tile",
        "sources",
    }
    assert set(body["question"]) == {
        "glass",
        "glass_label",
        "metal",
        "metal_label",
        "metal_thickness_mm",
        "front_mm",
        "back_mm",
        "first_coat_mm",
        "shape",
        "rise_mm",
        "kiln_c",
        "kiln_offset_k",
        "glass_expansion",
        "hours_between",
        "kiln_most_c",
    }
    triple = {"value", "low", "high"}
    for reason in body["reasons"]:
        assert set(reason) - {"step", "case", "split"} == {
            "rule",
            "title",
            "subject",
            "outcome",
            "found",
            "limit",
            "why",
            "remedy",
            "source",
            "share",
            "deciding",
        }
        assert set(reason["found"]) in (triple | {"unit"}, {"text"})
        assert reason["source"] in body["sources"]
    assert any("step" in reason for reason in body["reasons"])
    assert set(body["numbers"]) == {
        "gap_ppm",
        "glass_expansion_ppm_per_k",
        "metal_expansion_ppm_per_k",
        "set_point_c",
        "metal_thickness_mm",
        "kiln_low_c",
        "kiln_high_c",
        "stages",
    }
    for stage in body["numbers"]["stages"]:
        plate = {"bow_mm_per_30mm", "bow_left_mm_per_30mm", "metal_plastic_strain", "release_j_per_m2"}
        assert set(stage) == {"name", "fire", "layers", *plate}
        for layer in stage["layers"]:
            faces = {"bottom_mpa", "mean_mpa", "top_mpa", "rim_bottom_mpa", "rim_top_mpa"}
            assert set(layer) == {"name", *faces}
            assert all(set(layer[k]) == triple for k in faces)
    assert all(set(c) == {"key", "text", "source"} and c["source"] in body["sources"] for c in body["cautions"])
    assert {limits.RELEASE_SOURCE, limits.DOME_SOURCE} <= set(body["sources"])
    assert set(body["evidence"]) == {"grade", "words", "weakest", "lift"}
    flat = suits(ref, CLEAR, "copper-clay").as_dict()
    assert all(
        set(x) == {"name", "bottom_mpa", "mean_mpa", "top_mpa"} for s in flat["numbers"]["stages"] for x in s["layers"]
    )
    changed = suits(ref, CLEAR, COPPER, metal_thickness_m=0.4e-3, order="back-first").as_dict()
    assert changed["question"]["order"] == "back-first"
    assert changed["changes"]
    for change in changed["changes"]:
        assert set(change) == {"change", "words", "outcome", "confidence"}
        assert set(change["change"]) == {"kind", "value"}


@pytest.mark.parametrize(
    ("pair", "outcome", "status"),
    [
        ((CLEAR, COPPER), SUITS, 0),
        (("clear-medium-leaded", COPPER), CARE, 0),
        (("borosilicate-3-3", COPPER), NOT, 1),
        (("yellow-opaque-antimony", COPPER), UNSURE, 5),
    ],
)
def test_outcome_and_exit_status(ref, pair, outcome, status):
    verdict = suits(ref, *pair)
    assert (verdict.outcome, verdict.exit_status) == (outcome, status)
    assert verdict.as_dict()["test_tile"] == TEST_TILE
    assert "test tile" in TEST_TILE
