"""Limits with their sources and words, rules of surface and use, and cautions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

import refdb.judge.fit.sample as sampled
from refdb.errors import BadInput
from refdb.judge import limits
from refdb.judge.cautions import MOST_SHOWN, cautions_for, triggers
from refdb.judge.fit.build import Build
from refdb.judge.fit.glass_on_metal import judged
from refdb.judge.numbers import RuleNumbers
from refdb.judge.reasons import short_of
from refdb.judge.selectors import GLASS_FIELDS, METAL_FIELDS, holding, matches, words_of
from refdb.judge.verdict import CARE, SUITS
from refdb.quantities.typed import Band
from refdb.records import Glass, Metal
from refdb.science.plate.fracture import ANNEALED_STRENGTH_PA, PERMANENT_FACTOR, duration_factor
from refdb.store.reference import Reference, open_reference

TRIPLE = (1.0, 0.5, 1.5)
CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"


@pytest.fixture(scope="module")
def ref(store) -> Iterator[Reference]:
    with open_reference(store) as opened:
        yield opened


def test_the_source_of_every_limit_is_in_the_store(ref):
    keys = {s.key: s.kind for s in ref.sources()}
    for limit in limits.ALL_LIMITS:
        assert limit.source in keys, limit.key
        if limit.basis in ("common practice", "standard", "computed"):
            assert keys[limit.source] == limit.basis, limit.key
        assert all((limit.rule, limit.words, limit.why, limit.remedy))
    assert {limits.RELEASE_SOURCE, limits.DOME_SOURCE, limits.EVIDENCE_SOURCE} <= set(keys)
    assert len(limits.BY_KEY) == len(limits.ALL_LIMITS)


def test_every_sampled_rule_has_its_words(ref):
    made = sampled.sample(ref.glass("window-soda-lime"), ref.metal("aluminium-sheet"), Build(kiln_c=800.0))
    alone = sampled.sample(ref.glass(CLEAR), ref.metal(COPPER), Build(back_m=Band.exact(0.0)))
    heads = {k.partition(":")[0] for k in (*made.rules, *alone.rules)}
    assert {"curve-end", "setting", "one-face", "faces-alike"} <= heads
    for head in heads:
        assert short_of(head, CARE)
        for shares in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)):
            only = replace(made, rules={head: RuleNumbers(shares, TRIPLE)}, shares=shares)
            reason = next(r for r in judged(ref.glass(CLEAR), ref.metal(COPPER), Build(), only, (), [], []).reasons)
            assert all((reason.rule, reason.limit, reason.why, reason.source))
            assert bool(reason.remedy) == (reason.outcome != SUITS)


def test_strength_limits_are_those_of_the_standard():
    """EN 16612 with EN 572-1: 45 MPa times the duration factor, for good and for a week, to three digits."""
    assert limits.TENSION_LASTING.care == pytest.approx(ANNEALED_STRENGTH_PA / 1e6 * PERMANENT_FACTOR, rel=1e-3)
    week = duration_factor(limits.HOURS_BETWEEN_FIRINGS)
    assert limits.TENSION_BETWEEN.care == pytest.approx(ANNEALED_STRENGTH_PA / 1e6 * week, rel=1e-3)


def test_every_rule_of_the_surface_can_be_read_and_holds_somewhere_but_not_everywhere(ref):
    glasses = [g for g in ref.materials("glass") if isinstance(g, Glass)]
    # A glass known by its composition alone is of no class of the store.
    glasses.append(replace(glasses[0], key="a-composition", family="own compositions"))
    metals = [m for m in ref.materials("metal") if isinstance(m, Metal)]
    for rule in ref.fit_rules():
        hits = sum(bool(holding([rule], g, m)) for g in glasses for m in metals)
        assert 0 < hits < len(glasses) * len(metals), rule.key
        for selector, records in ((rule.glass, glasses), (rule.metal, metals)):
            for token in (t.strip() for t in selector.split(";")):
                if token == "any":
                    continue
                name, _, words = token.lstrip("!").partition(":")
                known = set().union(*(words_of(r, name) for r in records))
                known |= {m.family for m in metals} if name == "made_for" else set()
                assert {w.strip() for w in words.split("|")} <= known, (rule.key, token)


@pytest.mark.parametrize("selector", ["colour:red", "family", "family:", "", "family:copper; nonsense:x"])
def test_a_selector_that_cannot_be_read_is_refused(ref, selector):
    with pytest.raises(BadInput, match="selector"):
        matches(selector, ref.metal(COPPER))
    assert set(METAL_FIELDS) & set(GLASS_FIELDS) == {"key", "family"}


@pytest.mark.parametrize(
    ("glass", "metal", "held", "not_held"),
    [
        ("clear-medium-leaded", COPPER, {"lead"}, {"cadmium", "clay in carbon"}),
        ("red-opaque-cadmium", COPPER, {"cadmium"}, {"lead"}),
        (CLEAR, "copper-clay", {"clay in carbon"}, {"lead", "cadmium"}),
        (CLEAR, "fine-silver-clay", set(), {"clay in carbon", "zinc"}),
        (CLEAR, "brass-70-30", {"zinc"}, {"nickel"}),
        (CLEAR, "nickel-sheet", {"nickel"}, {"zinc"}),
        (CLEAR, "stainless-304", {"nickel"}, set()),
        (CLEAR, "gold-18k-white-palladium", set(), {"nickel"}),
        ("counter-enamel-mixed", COPPER, {"lead", "cadmium"}, set()),
    ],
)
def test_cautions_follow_what_is_in_the_glass_and_the_metal(ref, glass, metal, held, not_held):
    the_glass, the_metal = ref.glass(glass), ref.metal(metal)
    assert held | {"always"} <= triggers(the_glass, the_metal)
    assert not not_held & triggers(the_glass, the_metal)
    hazards = ref.hazards()
    shown = cautions_for(hazards, the_glass, the_metal)
    assert 0 < len(shown) <= MOST_SHOWN
    text = " ".join(c.text.lower() for c in shown)
    for word in held & {"lead", "cadmium", "nickel", "zinc"}:
        assert word in text
    for word in not_held & {"lead", "cadmium"}:
        assert word not in text
    assert ("carbon monoxide" in text) == ("clay in carbon" in held)


def test_a_weighty_caution_is_never_pushed_out(ref):
    """Lead, cadmium and a clay in carbon together: the first of each is still among those shown."""
    shown = cautions_for(ref.hazards(), ref.glass("counter-enamel-mixed"), ref.metal("copper-clay"))
    text = " ".join(c.text.lower() for c in shown)
    for word in ("lead", "cadmium", "carbon monoxide"):
        assert word in text
