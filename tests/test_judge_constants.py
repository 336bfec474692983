"""Small figures and choices of the judge, each held by a case worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from at_limits import COPPER, FOIL, HARD
from pieces import piece

from refdb.errors import BadInput
from refdb.judge.decision import joint, sentence, with_deciding
from refdb.judge.fit.build import Build
from refdb.judge.fit.question import Question
from refdb.judge.numbers import Numbers, RuleNumbers
from refdb.judge.own.kiln import check_heat
from refdb.judge.own.tiles import tiles_of_piece
from refdb.judge.piece import rules_of_leaf
from refdb.judge.piece.known import Known
from refdb.judge.piece.observed_firing import _hull
from refdb.judge.piece.pull_through import shows
from refdb.judge.piece.states import walk
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.reason import CARE, SUITS, Measure, Reason, Subject
from refdb.judge.rules import RULES, limit_of
from refdb.judge.wording import Context, where_of
from refdb.quantities import Band
from refdb.science.firing.doses import Ranged
from refdb.store.workshop.beside_reference import Shelf
from refdb.store.workshop.file import Workshop


def test_an_uneven_cover_of_leaf_tells_both_of_its_ends(ref):
    lines = [f"coat front {HARD} 0.2", "fire 815", f"leaf {FOIL}", "fire 800", f"coat front {HARD} 0.1 to=0.3"]
    trail = walk(piece([*lines, "fire 800"]), {HARD: ref.glass(HARD)}, {FOIL: ref.leaf(FOIL)})
    known = Known(ref.metal(COPPER), [], ref.contacts(), {}, [])
    uneven = [r for r in rules_of_leaf.leaves(trail, known) if r.rule == "leaf-uneven-cover"]
    assert [dict(r.values) for r in uneven] == [pytest.approx({"low_mm": 0.1, "high_mm": 0.3})]


REFUSED = {
    "hotter than iron is near its melting": {"kiln_c": 1500.0},
    "a warm day is no firing": {"kiln_c": 40.0},
    "a paving slab of metal": {"metal_m": Band.exact(50e-3)},
    "glass whose upper end is a brick": {"front_m": Band(15e-3, 15e-3, 30e-3)},
    "metal thinner than kitchen foil": {"metal_m": Band.exact(0.010e-3)},
    "glass of less than nothing": {"back_m": Band(0.1e-3, -0.1e-3, 0.2e-3)},
    "no glass on either face": {"front_m": Band.exact(0.0), "back_m": Band.exact(0.0)},
    "no first coat": {"first_m": 0.0},
    "a dome without a rise": {"shape": "domed", "rise_m": Band.exact(0.0)},
    "a shape nobody knows": {"shape": "knotted"},
    "no number": {"kiln_c": float("nan")},
}


@pytest.mark.parametrize("why", REFUSED)
def test_a_build_that_cannot_be_is_refused(why):
    """Kitchen foil is 0.011 to 0.016 mm; iron melts at 1538 °C, and nothing for jewellery is fired near it."""
    with pytest.raises(BadInput):
        replace(Build(), **REFUSED[why]).checked()


TAKEN = {
    "no setting is asked about": {"kiln_c": None},
    "copper on the point of melting": {"kiln_c": 1085.0},
    "drying at 110 °C": {"kiln_c": 110.0},
    "a lump of metal": {"metal_m": Band.exact(10e-3)},
    "metal as thin as heavy foil": {"metal_m": Band.exact(0.05e-3)},
    "glass on the front alone": {"back_m": Band.exact(0.0)},
    "glass on the back alone": {"front_m": Band.exact(0.0)},
    "a kiln off by the fall of a door": {"kiln_offset_k": Band.exact(60.0)},
}


@pytest.mark.parametrize("what", TAKEN)
def test_a_build_that_can_be_is_taken_as_it_is(what):
    build = replace(Build(), **TAKEN[what])
    assert build.checked() == build


@pytest.mark.parametrize("offset_k", [400.0, -770.0])
def test_a_kiln_that_would_melt_platinum_or_freeze_is_refused(offset_k):
    """Platinum melts at 1768 °C; 1300 + 400 is beyond what heats a small kiln, and 800 - 770 is a warm day."""
    setting_c = 1300.0 if offset_k > 0 else 800.0
    with pytest.raises(BadInput, match="kiln"):
        check_heat(setting_c, Band.exact(offset_k), "here")
    check_heat(815.0, Band(-10.0, -25.0, 5.0), "here")


def test_where_nothing_was_sampled_no_outcome_has_a_share():
    assert [joint(None, floor) for floor in (0, 1, 2)] == [(0.0, 0.0, 0.0)] * 3


def test_a_rule_that_holds_for_every_draw_moves_the_shares_up_to_it():
    """By hand: what was fine becomes care under a rule of care, and everything is refused under one that forbids."""
    shares = (0.5, 0.3, 0.2)
    assert joint(shares, 0) == shares
    assert joint(shares, 1) == pytest.approx((0.0, 0.8, 0.2))
    assert joint(shares, 2) == (0.0, 0.0, 1.0)


def of_own_figure(glass, **more):
    """The glass with its expansion printed as 8.8 (8.1 to 9.9) ppm/K over 20 to 300 °C, and said to be so and so."""
    (row,) = [v for v in glass.values if v.property == "expansion" and v.preferred]
    figure = {"value": 8.8, "low": 8.1, "high": 9.9, "temp_low_c": 20.0, "temp_high_c": 300.0}
    return replace(glass, values=(replace(row, **figure, **more),))


def test_a_question_repeats_the_expansion_it_was_asked_with(ref):
    glass = of_own_figure(ref.glass(HARD), source="own-figure", basis="from memory")
    assert Question(glass, ref.metal(COPPER)).as_dict()["glass_expansion"] == {
        "ppm_per_k": {"value": 8.8, "low": 8.1, "high": 9.9},
        "span_c": [20.0, 300.0],
        "basis": "from memory",
    }


@pytest.mark.parametrize(
    ("source", "basis", "told"),
    [
        ("own-figure", "measured", "as given"),
        ("own-figure", "from memory", "from memory"),
        ("someone-1999", "measured", "measured"),
        ("someone-1999", "analogue", "analogue"),
    ],
)
def test_only_a_figure_that_was_typed_as_measured_is_as_given(ref, source, basis, told):
    """A figure on a label is no measurement of this jar; one that a paper measured is."""
    glass = of_own_figure(ref.glass(HARD), source=source, basis=basis)
    assert Question(glass, ref.metal(COPPER)).as_dict()["glass_expansion"]["basis"] == told


def test_the_coats_of_a_question_come_to_the_glass_asked_about(ref):
    """Value, low and high each: a coat of 0.2 mm, then what is left."""
    front, back = Band(0.40e-3, 0.33e-3, 0.51e-3), Band(0.30e-3, 0.24e-3, 0.35e-3)
    made = Question(ref.glass(HARD), ref.metal(COPPER), Build(front_m=front, back_m=back)).piece
    for face, wanted in (("front", front), ("back", back)):
        laid = [s.thickness_m for s in made.steps if s.do == "coat" and s.face == face]
        for end in ("value", "low", "high"):
            assert sum(getattr(b, end) for b in laid) == pytest.approx(getattr(wanted, end)), (face, end)
    assert [s.number for s in made.steps] == list(range(1, len(made.steps) + 1))


def test_a_verdict_repeats_the_size_of_the_piece(ref):
    made = replace(piece([f"coat front {HARD} 0.2", "fire 815"]), width_m=0.03, height_m=0.04)
    question = judge_piece(ref, made).question
    assert (question["width_mm"], question["height_mm"], question["metal_thickness_mm"]["value"]) == (30.0, 40.0, 0.8)
    # An oval, unless the person gives another area.
    assert question["area_mm2"] == pytest.approx(math.pi * 15.0 * 20.0, abs=0.005)


def test_a_finding_on_thin_metal_tells_the_least_of_that_metal(ref):
    """The figure is the metal's own row, in millimetres, with its source."""
    least = ref.metal(COPPER).value("least_thickness")
    found = judge_piece(ref, piece([f"coat front {HARD} 0.1", "fire 815"], mm=0.1)).reasons
    (thin,) = [r for r in found if r.rule == "least-metal"]
    assert thin.values["least_mm"] == pytest.approx(least.band.value * 1e3)
    assert thin.source == least.source


def test_the_band_that_holds_several_is_their_hull():
    """By hand: 2 to 8 about 4 and 3 to 9 about 6 about the first."""
    assert _hull([Ranged(4.0, 2.0, 8.0), Ranged(6.0, 3.0, 9.0)]) == pytest.approx((4.0, 2.0, 9.0))
    never = float("inf")
    assert _hull([Ranged(never, 5.0, never), Ranged(never, 7.0, never)]) == (never, 5.0, never)


def test_tiles_are_held_against_the_glass_of_each_face_of_a_piece(store, tmp_path):
    """Two coats of 0.1 to 0.2 mm are 0.2 to 0.4 mm together: a tile of 0.3 mm is of this build, one of 0.9 mm not."""
    path = tmp_path / "mine.db"
    tile = {"glass": HARD, "metal": COPPER, "outcome": "sound", "date": "2024-06-01", "metal_mm": 0.8, "back_mm": 0.2}
    with Workshop(path, write=True) as shop:
        for front_mm in (0.3, 0.21, 0.39, 0.9, 0.1):
            shop.add("tile", tile | {"front_mm": front_mm})
    coats = [f"coat front {HARD} 0.1 to=0.2", f"coat back {HARD} 0.2", "fire 815", f"coat front {HARD} 0.1 to=0.2"]
    made = piece([*coats, "fire 815"])
    with Shelf(store, path) as shelf:
        seen = tiles_of_piece(shelf, made, judge_piece(shelf, made))
    assert {t.tile.front_mm: t.another_build for t in seen} == {
        0.3: False,
        0.21: False,
        0.39: False,
        0.9: True,
        0.1: True,
    }


CLEAR, BLUE, GREEN, WHITE = HARD, "blue-transparent-lead-free", "green-transparent-lead-free", "white-opaque-lead-free"


@pytest.mark.parametrize(
    ("over", "under", "seen"),
    [
        (CLEAR, BLUE, True),
        (BLUE, WHITE, True),
        (WHITE, BLUE, True),
        (WHITE, CLEAR, True),
        (CLEAR, WHITE, True),
        (BLUE, CLEAR, False),
        (BLUE, GREEN, False),
        (CLEAR, "clear-soft-lead-free", False),
        (WHITE, WHITE, False),
    ],
)
def test_what_comes_up_is_seen_where_the_eye_can_tell_them_apart(ref, over, under, seen):
    """A colour in a clear, and white in anything or anything in white; blue specks of clear in blue are not seen."""
    assert shows(ref.glass(over), ref.glass(under)) is seen


def test_where_a_finding_is_about_goes_by_its_step_then_its_firing_then_the_base():
    """Each told by the key of what it is; what the piece has not, and what only the whole could mean, by none."""
    question = Context({}, firings={1: "first coat", 2: "both faces"})
    assert [where_of(Subject(fire=n), question) for n in (1, 2, 3)] == ["first coat", "both faces", ""]
    assert where_of(Subject(metal=COPPER), question) == ""
    of_piece = Context({}, steps={4: "step 4"}, firings={2: "the second fire"})
    assert where_of(Subject(step=4, fire=2), of_piece) == "step 4"
    assert where_of(Subject(step=5, fire=2), of_piece) == "the second fire"
    assert COPPER in where_of(Subject(metal=COPPER), of_piece)


def test_only_a_rule_with_a_limit_gives_one():
    without = [key for key, rule in RULES.items() if rule.limit is None]
    for key in without[:3]:
        with pytest.raises(ValueError, match=key):
            limit_of(key)
    with pytest.raises(KeyError):
        limit_of("no such rule")
    assert all(limit_of(key) is rule.limit for key, rule in RULES.items() if rule.limit is not None)
    assert without


def test_where_several_rules_together_want_care_the_one_that_most_often_does_is_said_first():
    """Three rules that each hold in most draws: 40, 30 and 0 in a hundred want care, and the last is not named."""
    splits = {"faces-alike": (0.7, 0.3, 0.0), "one-face": (0.6, 0.4, 0.0), "gap": (1.0, 0.0, 0.0)}
    rules = tuple(RuleNumbers(key, Subject(), split, (1.0, 1.0, 1.0)) for key, split in splits.items())
    numbers = Numbers((0.4, 0.6, 0.0), rules, {}, (), "thickness")
    reasons = [Reason(key, SUITS, Subject(), Measure(1.0, 1.0, 1.0, ""), split=split) for key, split in splits.items()]

    def heads(*keys: str) -> list[int]:
        made = with_deciding(CARE, reasons)
        said = sentence(CARE, made, Context(is_question=True), numbers, (), numbers.shares).lower()
        return [said.find(RULES[key].words.head_care.lower()) for key in keys]

    often, seldom, never = heads("one-face", "faces-alike", "gap")
    assert (often, never) == (0, -1)
    assert seldom > often
