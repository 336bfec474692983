"""The table of rules: sources, words that can be said, strengths of the standard, and which materials a row picks."""

from __future__ import annotations

import string
from dataclasses import fields, replace
from itertools import product

import pytest
from pieces import piece
from techniques import BLUE, TECHNIQUES, WHITE, coat, do, fire

from refdb.errors import BadInput
from refdb.judge import limits
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.own.kiln import Heat
from refdb.judge.piece.observed_firing import Basis, Flow
from refdb.judge.piece.steps import Piece
from refdb.judge.piece.verdict import judge_pieces
from refdb.judge.reason import CARE, NOT, SUITS, Measure, Reason, Subject
from refdb.judge.rules import RULES, Limit, Rule, Words, limit_of, of_fit_row, of_reaction
from refdb.judge.selectors import GLASS_FIELDS, METAL_FIELDS, holding, matches, words_of
from refdb.judge.wording import Context, told
from refdb.plan.piecefile import parse_piece
from refdb.quantities import Band
from refdb.records import Glass, Metal
from refdb.science.plate.cooling import CHILLS_SOURCE
from refdb.science.plate.fracture import ANNEALED_STRENGTH_PA, PERMANENT_FACTOR
from refdb.store.reference import Reference

HARD, MEDIUM, SOFT, COPPER = "clear-hard-lead-free", "clear-medium-lead-free", "clear-soft-lead-free", "copper-sheet"
#: Sources of practice that are no source of our own practice: old handbooks, one of them recalled, and a statute.
PRACTICE_IN_PRINT = {"chapin-1911", "fisher-1904", "cpsia", "handbook-recalled"}
#: Every case of every rule, in which it says something.
CASES = [(rule, case) for rule in RULES.values() for case in ("", *rule.cases)]


def test_the_source_of_every_rule_is_in_the_store(ref):
    kinds = {s.key: s.kind for s in ref.sources()}
    for rule in RULES.values():
        assert kinds[rule.source] == rule.basis or rule.source in PRACTICE_IN_PRINT, rule.key
    of_limits = {key for name, key in vars(limits).items() if name.endswith("_SOURCE")} - {limits.POOL_SOURCE}
    assert of_limits | {CHILLS_SOURCE, "iso-4531"} <= set(kinds)
    assert len(of_limits) == 4


def test_strength_limits_are_the_middle_strength_times_the_factor_of_the_standard():
    """EN 16612: 0.663 · t^(-1/16), which its tables round to 0.29 for 50 years; a day is 24 h. The low end of the
    strength is the characteristic 45 MPa of EN 572-1."""
    middle, low, high = limits.STRENGTH_MPA
    assert low * 1e6 == ANNEALED_STRENGTH_PA < middle * 1e6 < high * 1e6
    years = 0.663 * (50 * 365.25 * 24) ** (-1 / 16)
    assert round(years, 2) == PERMANENT_FACTOR
    assert limit_of("tension-lasting").care == pytest.approx(middle * years)
    assert limit_of("tension-between").care == pytest.approx(middle * 0.663 * 24.0 ** (-1 / 16))


def test_a_rule_without_a_limit_has_none_to_give():
    with pytest.raises(ValueError, match="no limit"):
        limit_of("leaf-on-powder")
    with pytest.raises(KeyError):
        limit_of("no-such-rule")


# A rule is whole, or is no rule

WHOLE = Words("Something.", "nothing", "Because.", "Do less.")


def made(words: Words = WHOLE, **more) -> Rule:
    return Rule(**{
        "key": "k", "title": "A rule", "speaks_of": "step", "source": "s", "basis": "computed", "words": words
    } | more)  # fmt: skip


@pytest.mark.parametrize(
    ("words", "more", "forgotten"),
    [
        (replace(WHOLE, limit=""), {}, "limit"),
        (replace(WHOLE, why=""), {}, "why"),
        (replace(WHOLE, remedy=""), {}, "remedy"),
        (replace(WHOLE, found=""), {}, "found"),
        (replace(WHOLE, found=""), {"limit": Limit(1.0, None, "mm")}, "head_care"),
        (replace(WHOLE, limit=""), {"cases": {"one": WHOLE}}, "limit"),
        (WHOLE, {"key": ""}, "key"),
        (WHOLE, {"title": ""}, "title"),
        (WHOLE, {"source": ""}, "source"),
        (WHOLE, {"speaks_of": "the moon"}, "the moon"),
        (WHOLE, {"basis": "hearsay"}, "hearsay"),
        (replace(WHOLE, limit="up to {gloss_min} min"), {"limit": Limit(1.0, None, "min")}, "limit_plainly"),
    ],
)
def test_a_forgotten_text_is_found_when_the_rule_is_written_down(words, more, forgotten):
    assert made().key == "k"
    with pytest.raises(ValueError, match=forgotten):
        made(words, **more)


def test_a_template_that_cannot_be_read_is_found_when_it_is_written_down():
    with pytest.raises(ValueError, match="expected"):
        Words("Laid {thick mm.")


# Every word can be said

#: What the templates of the rules may name, besides records and limits; a new name has to come from its rule too.
NUMBERS = dict.fromkeys(
    [
        *("low_c", "high_c", "safe_c", "melts_c", "flows_c", "hottest_c", "most_c", "margin", "least_mm"),
        *("expansion", "low", "high", "low_mm", "high_mm", "total_mm", "coverage"),
        *("gloss_min", "given_min", "minutes", "fires", "area_mm2", "across_mm", "over_k"),
        *("draught", "slab", "water", "wide_mm"),
    ],
    1.5,
)
OTHERS = {
    "heat": Heat(815.0, Band(5.0, 0.0, 9.0)),
    "strength": Measure(21.8, 13.0, 36.3, "MPa"),
    "thick": Measure(0.1, 0.05, 0.2, "mm"),
    "flow": Flow(),
    "basis": Basis(None),
    "what": HARD,
    "like": HARD,
    "solder": "ag-155",
    "by": "rivet",
    "whom": "a child",
}


def context_of(ref: Reference) -> Context:
    records = {HARD: ref.glass(HARD), SOFT: ref.glass(SOFT), COPPER: ref.metal(COPPER), **ref.solders()}
    rows = [*map(of_fit_row, ref.fit_rules()), *map(of_reaction, ref.colour_reactions())]
    return Context({**records, "fine-silver-foil": ref.leaf("fine-silver-foil")}, {r.key: r for r in rows})


ABOUT = Subject(3, 2, "front", HARD, SOFT, "fine-silver-foil", COPPER)


def left_open(text: object) -> bool:
    return "{" in str(text) or "}" in str(text) or "None" in str(text)


@pytest.mark.parametrize(("rule", "case"), CASES, ids=[f"{r.key} {c}".strip() for r, c in CASES])
def test_every_case_of_every_rule_can_be_said_with_what_may_be_named(ref, rule, case):
    context, values = context_of(ref), NUMBERS | OTHERS
    words = rule.words_of(case)
    number = None if words.found else Measure(1.0, 0.5, 2.0, "mm")
    for outcome in (SUITS, CARE, NOT) if rule.fine else (CARE, NOT):
        said = told(Reason(rule.key, outcome, ABOUT, number, case, values), context)
        for text in (said.title, said.found, said.limit, said.why, said.remedy, said.head, rule.limit_words):
            assert not left_open(text), text
        assert said.title
        assert said.limit
        assert said.why
        assert outcome == SUITS or rule.only_good or (said.remedy and said.head)


def test_only_what_is_known_may_be_named_in_a_template():
    known = {*NUMBERS, *OTHERS, "fine", "care", *(f.name for f in fields(Subject))}
    for rule, case in CASES:
        for text in vars(rule.words_of(case)).values():
            named = {n.partition(".")[0].lower() for _, n, _, _ in string.Formatter().parse(text) if n}
            assert named <= known, (rule.key, case, named - known)


def test_rows_of_the_store_are_said_as_they_stand(ref):
    context = context_of(ref)
    for row in context.rules.values():
        for case in ("", *row.cases):
            said = told(Reason(row.key, CARE, ABOUT, case=case, values={"fires": 4}), context)
            assert not left_open(said.found)
            assert said.limit
            assert said.why


BASE = ["clean front", "mask back", f"coat front {HARD} 0.12", "fire 815", "clean back", f"coat back {HARD} 0.2"]
#: What is done after a base, each line or lines fired at each heat; between them they find most of what can be found.
LATER = [
    [f"coat front {MEDIUM} 0.05 to=0.2 unwashed part=0.5"],
    ["coat front turquoise-opaque-lead-free 0.05"],
    ["coat front opal-lead-free 0.05"],
    ["coat front red-opaque-cadmium 0.1"],
    [f"coat back {SOFT} 0.5"],
    ["coat front ruby-gold-transparent 0.1", "fire 790", f"coat front {SOFT} 0.1"],
    ["leaf fine-silver-foil", "line front painting-black"],
    ["leaf aluminium-leaf", "fire 800", f"coat front {MEDIUM} 0.1 to=0.3 unwashed part=0.5"],
    ["leaf gold-foil-24k", "fire 800", "coat front turquoise-opaque-lead-free 0.1"],
    ["line front painting-black", "fire 780", "coat front opal-lead-free 0.12"],
    ["stone front"],
    ["join ag-155"],
    ["join adhesive"],
    ["join setting"],
]


def of_techniques(ref) -> list[Piece]:
    """Every technique, sound and spoilt, and what else can be wrong with one."""
    sketches = [s for t in TECHNIQUES.values() for s in (t.piece, t.spoil(t.piece))]
    bare, wire = TECHNIQUES["lustre"].piece, {"do": "wire", "metal": "fine-silver-sheet", "thickness": "0.1 mm"}
    cells, plique = TECHNIQUES["champlevé"].piece, TECHNIQUES["plique-à-jour"].piece
    paint = {"do": "paint", "glass": "painting-black", "thickness": "0.08 mm"}
    sketches += [
        bare.with_step(9, wire | {"height": "1 mm", "bent": False}).with_step(10, fire(980)),
        bare.with_step(7, wire | {"height": "0.1 mm"}).with_changed(6, coat(WHITE, 0.05)),
        bare.with_step(8, paint).with_step(10, coat(WHITE, 0.1)),
        TECHNIQUES["cloisonné"].piece.without(14).with_changed(8, wire | {"height": "0.15 mm"}),
        cells.with_changed(9, coat(BLUE, 0.05, within="recess")),
        cells.with_changed(9, coat(BLUE, 0.3, within="recess")).without(12).without(11),
        plique.without(5).without(3).with_body(plique.piece, {"metal": COPPER, "thickness": "1 mm"}),
        plique.with_changed(1, {**plique.steps[0], "backing": "copper foil"}).with_body(
            plique.piece, {"metal": "sterling-sheet", "thickness": "1 mm"}
        ),
        TECHNIQUES["slip"].piece.with_changed(8, do("slip", glass="liquid-base-white", thickness="0.3 mm")),
        TECHNIQUES["lump"].piece.with_changed(8, do("inset", glass=HARD, thickness="3 mm", size="4 mm")),
    ]
    return [parse_piece(s.text, ref) for s in sketches]


def test_what_a_sweep_of_pieces_finds_can_all_be_said(ref):
    """Findings as the judge makes them, on clean and foul bases, cool, right, hot and long: none lacks a value."""
    pieces = [
        piece([*(line for line in BASE if line != gone), fire, *later, fire], metal, use=use)
        for (gone, fire), later, (metal, use) in product(
            [
                ("", "fire 815 3"),
                ("clean back", "fire 815 0.3"),
                ("mask back", "fire 740 9"),
                ("clean front", "fire 985"),
            ],
            LATER,
            [(COPPER, "adult"), ("sterling-sheet", "food")],
        )
    ]
    pieces += [
        piece([f"leaf {leaf}", f"coat front {HARD} 0.1", "fire 900"], metal)
        for leaf in ("gold-foil-24k", "fine-silver-foil", "tin-leaf")
        for metal in (COPPER, "fine-silver-sheet", "titanium-sheet")
    ]
    pieces += [
        piece(["join ag-155", *BASE, *["fire 815"] * 11]),
        piece(BASE[:3]),
        piece(["clean front", f"coat front {HARD} 0.05 part=0.5", "leaf fine-silver-foil", *["fire 800"] * 5]),
        piece([*BASE, "fire 815", "stone front", "join rivet"]),
        piece([*BASE, f"coat front {HARD} 1.6", "fire 815"]),
    ]
    pieces += of_techniques(ref)
    found = set()
    for verdict in judge_pieces(ref, pieces):
        for said in verdict.told:
            found.add(said.key)
            assert not any(left_open(t) for t in (said.title, said.found, said.limit, said.why, said.remedy, said.head))
        assert verdict.as_dict()["reasons"]
    seldom = {"kiln", "curve-end", "past-gloss", "foil-unpricked", "damp-coat", "surface-tension"}
    assert set(RULES) - found <= seldom
    assert len(found - set(RULES)) >= 4


def test_what_only_a_question_finds_can_be_said(ref):
    found = {t.key for t in suits(ref, HARD, "aluminium-sheet").told}
    found |= {t.key for t in suits(ref, ref.glass("window-soda-lime"), "aluminium-sheet", kiln_c=800.0).told}
    assert {"kiln", "curve-end", "metal-melts"} <= found
    assert "beyond" in {t.reason.case for t in suits(ref, "window-soda-lime", COPPER).told if t.key == "kiln"}


# Which materials a row of surface and use picks


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
