"""Rules of laying and firing: each finds its case, names its step, and leaves the nearest sound case alone."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pytest
from pieces import piece

import refdb.judge
from refdb.judge.piece.rule_keys import COLOUR_RULE, GOOD_ONLY, NOT_IN_FILE, OF_PIECE, RuleKeys, keys_known
from refdb.judge.piece.steps import Piece
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.verdict import CARE, Reason
from refdb.records import ObservedFiring
from refdb.store.reference import Reference

HARD, MEDIUM, SOFT = "clear-hard-lead-free", "clear-medium-lead-free", "clear-soft-lead-free"
TURQUOISE, WHITE, OPAL = "turquoise-opaque-lead-free", "white-opaque-lead-free", "opal-lead-free"
GOLD_RED = "red-opaque-cadmium"
BASE = [
    "clean front",
    "mask back",
    f"coat front {HARD} 0.12",
    "fire 815",
    "clean back",
    f"coat back {HARD} 0.2",
    "fire 815",
]


@pytest.fixture(scope="module")
def ref(store):
    with Reference(store) as found:
        yield found


def reasons(ref, lines: list[str] | Piece, rule: str, **more) -> list[Reason]:
    made = lines if isinstance(lines, Piece) else piece(lines, **more)
    return [r for r in judge_piece(ref, made).reasons if r.rule.startswith(rule)]


def steps(ref, lines, rule: str, **more) -> list[str]:
    found = reasons(ref, lines, rule, **more)
    assert all(r.outcome == CARE and r.step and r.source and r.remedy for r in found)
    return [r.step.partition(",")[0] for r in found]


def saying(lines: list[str], number: int, **said: bool) -> Piece:
    """A piece one of whose steps says more."""
    made = piece(lines)
    told = tuple(replace(s, **said) if s.number == number else s for s in made.steps)
    return replace(made, steps=told)


CASES = [
    (
        "Thick at once",
        [*BASE, f"coat front {MEDIUM} 0.45", "fire 795"],
        [*BASE, f"coat front {MEDIUM} 0.4", "fire 795"],
        8,
    ),
    (
        "Even coat",
        [*BASE, f"coat front {MEDIUM} 0.10 to=0.20", "fire 795"],
        [*BASE, f"coat front {MEDIUM} 0.10 to=0.15", "fire 795"],
        8,
    ),
    (
        "First coat thin",
        ["clean front", "mask back", f"coat front {HARD} 0.06", "fire 815"],
        ["clean front", "mask back", f"coat front {HARD} 0.12", "fire 815"],
        3,
    ),
    (
        "Thin over another colour",
        [*BASE, f"coat front {TURQUOISE} 0.08", "fire 795"],
        [*BASE, f"coat front {TURQUOISE} 0.12", "fire 795"],
        8,
    ),
    (
        "Opal thin",
        [*BASE, f"coat front {OPAL} 0.08", "fire 790"],
        [*BASE, f"coat front {OPAL} 0.08", f"coat front {OPAL} 0.08", "fire 790"],
        8,
    ),
    (
        "Bare metal beside glass",
        ["clean front", "mask back", f"coat front {HARD} 0.12 part=0.6", "fire 815"],
        [
            "clean front",
            "mask back",
            f"coat front {HARD} 0.12 part=0.6",
            f"coat front {HARD} 0.12 part=0.4",
            "fire 815",
        ],
        3,
    ),
    (
        "Bare metal beside glass",
        ["clean front", "mask back", f"coat front {HARD} 0.12 part=0.6", "fire 815"],
        ["clean front", "mask back", "mask front", f"coat front {HARD} 0.12 part=0.6", "fire 815"],
        3,
    ),
    (
        "Back softer than the front",
        [*BASE, f"coat back {SOFT} 0.1", "fire 740"],
        [*BASE, f"coat front {SOFT} 0.1", "fire 740"],
        8,
    ),
    (
        "colour lost",
        [*BASE, f"coat front {GOLD_RED} 0.12", "fire 760", "fire 760", "fire 760"],
        [*BASE, f"coat front {GOLD_RED} 0.12", "fire 760", "fire 760"],
        8,
    ),
    (
        "Washed glass",
        [*BASE, f"coat front {MEDIUM} 0.12 unwashed", "fire 795"],
        [*BASE, f"coat front {MEDIUM} 0.12 washed", "fire 795"],
        8,
    ),
    (
        "Washed glass",
        [*BASE, f"coat front {MEDIUM} 0.12 unwashed", "fire 795"],
        [*BASE, f"coat front {TURQUOISE} 0.12 unwashed", "fire 795"],
        8,
    ),
    ("Set before the fire", ["join setting", *BASE], [*BASE, "join setting"], 1),
    (
        "Surface tension",
        [*BASE, f"coat front {SOFT} 0.12", "fire 740", f"coat front {HARD} 0.12", "fire 830"],
        [*BASE, f"coat front {SOFT} 0.12", "fire 740"],
        10,
    ),
    (
        "Surface tension",
        [*BASE, f"coat front {SOFT} 0.12", "fire 740", f"coat front {HARD} 0.12", "fire 830"],
        [
            *BASE,
            f"coat front {SOFT} 0.12",
            "fire 740",
            "leaf fine-silver-foil",
            "fire 740",
            f"coat front {HARD} 0.12",
            "fire 830",
        ],
        10,
    ),
]


@pytest.mark.trade
@pytest.mark.parametrize(("rule", "wrong", "right", "step"), CASES)
def test_a_rule_finds_its_case_and_leaves_its_nearest_counter_example(ref, rule, wrong, right, step):
    """Common practice; the surface tension is that of Kucuk, Clare and Jones (1999)."""
    assert steps(ref, wrong, rule) == [f"step {step}"]
    assert steps(ref, right, rule) == []


def test_siftings_are_no_uneven_coat(ref):
    """One sifting is known only as 0.10 to 0.20 mm: that is no statement of the maker on how even it is."""
    made = piece([*BASE, f"coat front {MEDIUM} 0.10 to=0.20", "fire 795"])
    sifted = replace(made, steps=tuple(replace(s, siftings=1) if s.number == 8 else s for s in made.steps))
    assert steps(ref, made, "Even coat") == ["step 8"]
    assert steps(ref, sifted, "Even coat") == []
    foil = piece([*BASE, "leaf fine-silver-foil", "fire 800", f"coat front {MEDIUM} 0.10 to=0.20", "fire 795"])
    sifted = replace(foil, steps=tuple(replace(s, siftings=1) if s.number == 10 else s for s in foil.steps))
    assert steps(ref, foil, "An even coat over leaf") == ["step 10"]
    assert steps(ref, sifted, "An even coat over leaf") == []


def test_damp_and_unpricked_are_found_only_where_the_file_says_so(ref):
    lines = [*BASE, "leaf fine-silver-foil-heavy", "fire 800", f"coat front {MEDIUM} 0.15 washed", "fire 795"]
    assert steps(ref, lines, "Dry before the fire") == []
    assert steps(ref, lines, "Foil pricked") == []
    assert steps(ref, saying(lines, 8, dried=False), "Dry before the fire") == ["step 8"]
    assert steps(ref, saying(lines, 10, dried=False), "Dry before the fire") == ["step 10"]
    assert steps(ref, saying(lines, 10, dried=True), "Dry before the fire") == []
    assert steps(ref, saying(lines, 8, pierced=False), "Foil pricked") == ["step 8"]
    assert steps(ref, saying(lines, 8, pierced=True), "Foil pricked") == []
    thin = [x.replace("fine-silver-foil-heavy", "gold-leaf-24k") for x in lines]
    assert steps(ref, saying(thin, 8, pierced=False), "Foil pricked") == []


class Without:
    """A store whose glasses lack one property."""

    def __init__(self, ref: Reference, prop: str) -> None:
        self._ref, self._prop = ref, prop

    def __getattr__(self, name: str):
        return getattr(self._ref, name)

    def glass(self, key: str):
        found = self._ref.glass(key)
        return replace(found, values=tuple(v for v in found.values if v.property != self._prop))


def test_without_a_surface_tension_nothing_is_claimed(ref):
    lines = [*BASE, f"coat front {SOFT} 0.12", "fire 740", f"coat front {HARD} 0.12", "fire 830"]
    found = reasons(ref, lines, "Surface tension")
    assert [r.source for r in found] == ["kucuk-1999"]
    assert found[0].found.low > 0
    assert found[0].found.value >= 10
    assert reasons(Without(ref, "surface_tension"), lines, "Surface tension") == []
    unknown = [x.replace(HARD, "clear-hard-leaded") for x in lines]
    assert ref.glass("clear-hard-leaded").band("surface_tension") is None
    assert reasons(ref, unknown, "Surface tension") == []
    near = [x.replace(HARD, MEDIUM) for x in lines[7:]]
    assert reasons(ref, [*BASE, *near], "Surface tension") == []


def test_minutes_that_are_surely_too_short_or_far_too_long(ref):
    """Half a minute does not bring a medium clear to gloss; two do; twenty are long past it."""

    def lines(minutes: float) -> list[str]:
        return [*BASE, f"coat front {MEDIUM} 0.12", f"fire 800 {minutes}"]

    assert steps(ref, lines(0.5), "Minutes in the fire") == ["step 9"]
    assert steps(ref, lines(2), "Minutes in the fire") == []
    assert steps(ref, lines(20), "Long fire") == ["step 9"]
    watched = ObservedFiring("one", MEDIUM, 800.0, 1.5, "copper-sheet", 0.8, "gloss", "measured", "own-figure")
    seen = replace(piece(lines(4.5)), seen=(watched,))
    assert steps(ref, lines(4.5), "Long fire") == []
    assert steps(ref, seen, "Long fire") == ["step 9"]
    slower = replace(piece(lines(2)), seen=(replace(watched, minutes=4.0),))
    assert steps(ref, slower, "Minutes in the fire") == ["step 9"]
    assert "by the firing you saw" in reasons(ref, slower, "Minutes in the fire")[0].limit


@pytest.mark.trade
def test_an_inner_coat_may_stop_at_orange_peel(ref):
    """Common practice: inner coats are stopped early, but neither the one on the metal nor the last."""
    inner = [*BASE, f"coat front {MEDIUM} 0.12", "fire 800 0.5", f"coat front {SOFT} 0.12", "fire 750"]
    assert steps(ref, inner, "Minutes in the fire") == []
    first = [x.replace("fire 815", "fire 815 0.5", 1) if k == 3 else x for k, x in enumerate(inner)]
    assert steps(ref, first, "Minutes in the fire") == ["step 4"]


def test_a_cadmium_colour_beside_lead_darkens(ref):
    lines = [*BASE, "coat front clear-medium-leaded 0.12", "fire 760", f"coat front {GOLD_RED} 0.12", "fire 760"]
    found = [r.step.partition(",")[0] for r in reasons(ref, lines, COLOUR_RULE) if "dark line" in str(r.found)]
    assert found == ["step 10"]
    free = [x.replace("clear-medium-leaded", MEDIUM) for x in lines]
    assert not any("dark line" in str(r.found) for r in reasons(ref, free, COLOUR_RULE))


# Keys by which faults name rules


def titles() -> set[str]:
    """The names that reasons are given in the files that judge a piece."""
    found = set()
    for name in ("layered_rules.py", "layered_practice.py", "pull_through.py"):
        tree = ast.parse((Path(refdb.judge.__file__).parent / name).read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            calls = isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("_reason", "_care", "Reason")
            first = node.args[0] if calls and node.args else None
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                found.add(first.value)
    return found


def test_every_rule_of_a_piece_has_one_key(ref):
    named = titles()
    assert len(named) > 30
    keys = RuleKeys(ref.fit_rules(), ref.colour_reactions())
    known = keys_known((r.key for r in ref.fit_rules()), (r.key for r in ref.colour_reactions()))
    assert len(named & {*GOOD_ONLY, COLOUR_RULE}) == 4
    for title in named - {*GOOD_ONLY, COLOUR_RULE}:
        assert keys.of(Reason(title, CARE, "x", "", "", "", "")) in known, title
    assert len(set(OF_PIECE.values())) == len(OF_PIECE)
    made_up = {"Bed under the leaf", "Lead for", "Cadmium for", "Made for"}
    for key, words in OF_PIECE.items():
        assert any(t.startswith(words) for t in named | made_up), key


def test_rules_of_fit_and_of_colour_are_told_apart(ref):
    keys = RuleKeys(ref.fit_rules(), ref.colour_reactions())
    zinc = [r for r in ref.fit_rules() if r.rule == "zinc in the metal"]
    assert len(zinc) > 1
    for rule in zinc:
        assert keys.of(Reason(rule.rule, rule.outcome, rule.found, "", "", "", "")) == rule.key
    reaction = next(r for r in ref.colour_reactions() if r.key == "cadmium-beside-lead")
    assert keys.of(Reason(COLOUR_RULE, CARE, reaction.change, "", "", "", "")) == reaction.key


def test_every_cause_of_a_fault_names_a_rule_or_says_that_no_file_can_tell(ref):
    known = keys_known((r.key for r in ref.fit_rules()), (r.key for r in ref.colour_reactions()))
    for fault in ref.faults():
        named = [w.strip() for w in fault.rules.split(";")]
        assert fault.rules == NOT_IN_FILE or set(named) <= known, fault.key
    open_ones = [f for f in ref.faults() if f.rules == NOT_IN_FILE]
    assert len(open_ones) <= 32
