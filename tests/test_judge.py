"""How a verdict is decided: the largest share, the evidence, what is missing, the surface, and how it is told."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.judge import limits
from refdb.judge.fit.glass_on_metal import followed, rank, suits
from refdb.judge.fit.question import Question
from refdb.judge.needs import missing_figures
from refdb.judge.numbers import Numbers, RuleNumbers, SampledStage, worst_of_each
from refdb.judge.piece import verdict as piece_verdict
from refdb.judge.piece.reasons import evidence
from refdb.judge.reason import CARE, NOT, RANK, SUITS, UNSURE, Subject
from refdb.judge.rules import RULES
from refdb.judge.verdict import TEST_TILE, Verdict
from refdb.quantities.typed import Band
from refdb.records import WEAK_BASES, FitRule
from refdb.store.reference import Reference, open_reference

TRIPLE = (1.0, 0.5, 1.5)
CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"


@pytest.fixture(scope="module")
def ref(store) -> Iterator[Reference]:
    with open_reference(store) as opened:
        yield opened


def numbers(
    rules: dict[str, tuple[float, float, float]], joint: tuple[float, float, float], decides: str = "metal yield"
) -> Numbers:
    """Sampled numbers made by hand."""
    squeezed = (-40.0, -60.0, -20.0)
    return Numbers(
        joint,
        tuple(RuleNumbers(k, Subject(), s, TRIPLE) for k, s in rules.items()),
        {"gap_ppm": TRIPLE, "kiln_low_c": (780.0, 780.0, 780.0), "kiln_high_c": (830.0, 830.0, 830.0)},
        (SampledStage("full build", 1, (("front glass", squeezed, squeezed, squeezed),), TRIPLE, TRIPLE, TRIPLE),),
        decides,
    )


def verdict_of(ref: Reference, made: Numbers, rules: list[FitRule] | None = None, glass: str = CLEAR) -> Verdict:
    """The verdict on a glass on copper from numbers made by hand, with these rules of the surface and no others."""
    shared = piece_verdict.Shared(ref)
    shared.fit_rules = rules or []
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


@pytest.mark.parametrize(
    ("shares", "outcome"),
    [
        ((0.9, 0.1, 0.0), SUITS),
        ((0.3, 0.6, 0.1), CARE),
        ((0.1, 0.2, 0.7), NOT),
        ((0.5, 0.3, 0.2), SUITS),
        ((0.5, 0.5, 0.0), CARE),
        ((0.5, 0.0, 0.5), NOT),
        ((0.0, 0.5, 0.5), NOT),
    ],
)
def test_the_largest_share_decides_and_the_worse_one_when_two_are_equal(ref, shares, outcome):
    verdict = verdict_of(ref, numbers({"gap": shares}, shares))
    assert verdict.outcome == outcome
    assert verdict.confidence == max(shares)
    assert verdict.shares == dict(zip((SUITS, CARE, NOT), shares, strict=True))


@pytest.mark.parametrize("shares", [(0.4, 0.35, 0.25), (0.3, 0.3, 0.4), (0.25, 0.49, 0.26)])
def test_under_one_half_it_cannot_say_and_names_the_input_that_decides(ref, shares):
    verdict = verdict_of(ref, numbers({"gap": shares}, shares, "metal yield"))
    assert verdict.outcome == UNSURE
    assert verdict.exit_status == 5
    assert "metal yield" in verdict.sentence
    other = verdict_of(ref, numbers({"gap": shares}, shares, "set point"))
    assert "set point" in other.sentence
    assert "metal yield" not in other.sentence
    assert verdict.sentence.split("To settle it: ")[1] != other.sentence.split("To settle it: ")[1]


@pytest.mark.parametrize(("rule", "expected"), [(SUITS, (SUITS, 0.7)), (CARE, (CARE, 0.8)), (NOT, (NOT, 1.0))])
def test_a_rule_of_the_surface_holds_for_every_draw(ref, rule, expected):
    verdict = verdict_of(ref, numbers({"gap": (0.7, 0.1, 0.2)}, (0.7, 0.1, 0.2)), rules=[rule_with(rule)])
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
    if verdict.outcome != UNSURE:
        assert max(RANK[r.outcome] for r in verdict.reasons) <= RANK[verdict.outcome]
        assert verdict.confidence == max(joint)


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
        ranks = [RANK[r.outcome] for r in suits(ref, glass, metal).reasons]
        assert ranks == sorted(ranks, reverse=True)


# Evidence


def test_weak_evidence_never_earns_a_plain_suits(ref):
    made = numbers({"gap": (1.0, 0.0, 0.0)}, (1.0, 0.0, 0.0))
    weak = [g for g in ref.materials("glass") if (v := g.value("expansion")) and v.basis in WEAK_BASES]
    sound = [g for g in ref.materials("glass") if (v := g.value("expansion")) and v.basis not in WEAK_BASES]
    assert len(weak) >= 20
    assert len(sound) >= 5
    for glass in (*weak, *sound):
        verdict = verdict_of(ref, made, glass=glass.key)
        assert verdict.outcome == (CARE if glass in weak else SUITS), glass.key


def test_a_makers_figure_lifts_the_cap_and_only_then(ref):
    glass, copper = ref.glass("blue-transparent-lead-free"), ref.metal(COPPER)
    own = glass.with_expansion(Band(12.4, 12.2, 12.6), (20.0, 400.0))
    assert [r.rule for r in evidence(glass, copper)] == ["evidence-glass"]
    assert list(evidence(own, copper)) == []
    assert suits(ref, glass, copper).outcome == CARE
    lifted = suits(ref, own, copper)
    assert not any(r.rule.startswith("evidence") for r in lifted.reasons)
    assert lifted.measures["glass_expansion_ppm_per_k"].value == pytest.approx(12.4, rel=0.001)
    guess = glass.with_expansion(Band(12.4, 12.2, 12.6), (20.0, 400.0), basis="from memory")
    assert [(r.rule, r.case) for r in evidence(guess, copper)] == [("evidence-glass", "from memory")]


def test_a_metal_of_guessed_expansion_caps_as_well(ref):
    copper = ref.metal(COPPER)
    values = tuple(replace(v, basis="analogue") if v.property == "expansion" else v for v in copper.values)
    assert [r.rule for r in evidence(ref.glass(CLEAR), replace(copper, values=values))] == ["evidence-metal"]
    assert suits(ref, CLEAR, replace(copper, values=values)).outcome == CARE
    assert suits(ref, CLEAR, copper).outcome == SUITS


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
    order = {SUITS: 0, CARE: 1, UNSURE: 2, NOT: 3}
    rows = rank(ref, metal)
    assert sorted(r.glass.key for r in rows) == sorted(g.key for g in ref.materials("glass"))
    assert [order[r.verdict.outcome] for r in rows] == sorted(order[r.verdict.outcome] for r in rows)
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
            if verdict.outcome != UNSURE:
                worst = max(RANK[r.outcome] for r in verdict.reasons)
                assert worst <= RANK[verdict.outcome], (row.glass.key, metal.key)


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
    """On titanium an ordinary glass is stretched wherever it lies; on thin copper it is the bending that does it."""
    titanium = suits(ref, CLEAR, "titanium-sheet")
    copper = suits(ref, CLEAR, COPPER, metal_thickness_m=0.3e-3)
    pulled, bent = (next(r for r in v.reasons if r.rule == "tension-between") for v in (titanium, copper))
    assert pulled.outcome == bent.outcome == NOT
    assert titanium.measures["gap_ppm"].high < 0 < copper.measures["gap_ppm"].low
    assert (pulled.case, bent.case) == ("pulled", "")
    assert "shrinks more than the metal" in titanium.sentence
    assert "one face" not in titanium.sentence
    assert "one face" in copper.sentence


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
        assert set(stage) == {"name", "fire", "layers", "bow_mm_per_30mm", "metal_plastic_strain", "release_j_per_m2"}
        for layer in stage["layers"]:
            assert set(layer) == {"name", "bottom_mpa", "mean_mpa", "top_mpa"}
            assert all(set(layer[k]) == triple for k in ("bottom_mpa", "mean_mpa", "top_mpa"))
    assert all(set(c) == {"key", "text", "source"} and c["source"] in body["sources"] for c in body["cautions"])
    assert {limits.RELEASE_SOURCE, limits.DOME_SOURCE} <= set(body["sources"])


@pytest.mark.parametrize(
    ("pair", "outcome", "status"),
    [
        ((CLEAR, COPPER), SUITS, 0),
        (("blue-transparent-lead-free", COPPER), CARE, 0),
        (("borosilicate-3-3", COPPER), NOT, 1),
        (("yellow-opaque-antimony", COPPER), UNSURE, 5),
    ],
)
def test_outcome_and_exit_status(ref, pair, outcome, status):
    verdict = suits(ref, *pair)
    assert (verdict.outcome, verdict.exit_status) == (outcome, status)
    assert verdict.as_dict()["test_tile"] == TEST_TILE
    assert "test tile" in TEST_TILE
