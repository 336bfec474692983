"""From a piece to plates: where layers lie, what a dome does, over which chord a bow is told; how much decides."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from pieces import piece

from refdb.judge import cooled_blocks, decision, stack
from refdb.judge.cooled_blocks import State
from refdb.judge.draws import DOME_INPUTS, HOOP_INPUTS, Draws, Rim
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.numbers import RuleNumbers
from refdb.judge.piece.states import walk
from refdb.judge.piece.verdict import follow, judge_piece, sample
from refdb.judge.reason import CARE, NOT, SUITS, UNSURE, Reason, Subject
from refdb.quantities import Band
from refdb.science.plate import rim_hoop_pa

HARD, SOFT, COPPER = "clear-hard-lead-free", "clear-soft-lead-free", "copper-sheet"


def exact(record):
    """The record with every preferred figure at its middle."""
    middle = [replace(v, value=v.band.value, low=None, high=None) if v.preferred else v for v in record.values]
    return replace(record, values=tuple(middle))


def last_stage(ref, lines, **more):
    """The last stage of a piece whose figures are known exactly; so are its numbers, in every draw."""
    glasses = {key: exact(ref.glass(key)) for key in (HARD, SOFT)}
    (numbers,) = sample([follow(walk(piece(lines, **more), glasses, {}), exact(ref.metal(COPPER)))])
    return numbers.stages[-1].as_stage()


def test_two_glasses_on_the_back_lie_mirrored_to_two_on_the_front(ref):
    """The first coat touches the metal on either face, so that the piece turned over is the same piece."""
    lines = [f"coat {{}} {HARD} 0.3", "fire 815", f"coat {{}} {SOFT} 0.1", "fire 740"]
    front, back = (last_stage(ref, [line.format(face) for line in lines]) for face in ("front", "back"))
    assert [x.name for x in front.layers] == ["metal", f"{HARD}, front", f"{SOFT}, front"]
    assert [x.name for x in back.layers] == [f"{SOFT}, back", f"{HARD}, back", "metal"]
    assert front.bow_mm_per_30mm.value == pytest.approx(-back.bow_mm_per_30mm.value)
    assert abs(front.bow_mm_per_30mm.value) > 0.1
    for one, other in zip(front.layers, reversed(back.layers), strict=True):
        assert (one.bottom_mpa.value, one.top_mpa.value) == pytest.approx((other.top_mpa.value, other.bottom_mpa.value))


def test_a_bow_is_told_over_thirty_millimetres(ref):
    """By hand: the stress of an elastic coat falls over its thickness by E/(1-ν) times the curvature, and the middle of
    a chord c lies c²/8 times the curvature below its arc."""
    coat = last_stage(ref, [f"coat front {HARD} 0.3", "fire 815"])
    glass = next(x for x in coat.layers if x.name != "metal")
    hard = ref.glass(HARD)
    modulus_pa = hard.band("youngs_modulus").value / (1 - hard.band("poisson_ratio").value)
    curvature_per_m = (glass.top_mpa.value - glass.bottom_mpa.value) * 1e6 / (modulus_pa * 0.3e-3)
    assert abs(coat.bow_mm_per_30mm.value) == pytest.approx(abs(curvature_per_m) * 0.030**2 / 8 * 1e3, rel=1e-3)


def test_the_higher_a_dome_the_less_it_bows(ref):
    """The rise of the piece itself counts; where none is given it is 1 to 3 mm; alike of a piece and of a question."""
    lines = [f"coat front {HARD} 0.2", "fire 815"]
    rises = [None, *(Band.exact(mm * 1e-3) for mm in (0.5, 2.0, 10.0))]
    unsaid, *given = (judge_piece(ref, piece(lines, shape="domed", rise_m=r)).stages[-1] for r in rises)
    flat = judge_piece(ref, piece(lines)).stages[-1]
    bows = [abs(s.bow_mm_per_30mm.value) for s in (flat, *given)]
    assert all(b < 0.98 * a for a, b in pairwise(bows))
    assert bows[3] < abs(unsaid.bow_mm_per_30mm.value) < bows[1]
    asked = [
        abs(suits(ref, HARD, COPPER, back_m=0.0, front_m=0.2e-3, shape="domed", rise_m=r * 1e-3).stages[-1]
            .bow_mm_per_30mm.value)
        for r in (0.3, 10.0)
    ]  # fmt: skip
    assert asked[1] < 0.5 * asked[0]


def test_the_rim_of_a_dome_is_told_apart_from_its_middle_and_the_worse_one_counts(ref):
    """The rim bends freely: it has the stress of the flat piece, and a little of what restraint would take away; the
    middle of a high dome hardly bends, so that its free face is squeezed where the rim's is stretched."""
    lines = [f"coat front {HARD} 0.3", "fire 815"]

    def judged(**more):
        return judge_piece(ref, piece(lines, "fine-silver-sheet", mm=0.4, **more))

    def glass(verdict):
        return next(x for x in verdict.stages[-1].layers if x.name != "metal")

    flat, low, high = judged(), *(judged(shape="domed", rise_m=Band.exact(mm * 1e-3)) for mm in (1.0, 5.0))
    assert glass(flat).rim_top_mpa is None
    free = glass(flat).top_mpa.value
    assert free > 10
    for dome in (low, high):
        rim = glass(dome).rim_top_mpa
        assert free < rim.value < 1.3 * free
        assert glass(dome).top_mpa.value < rim.value
        assert glass(dome).rim_bottom_mpa.value < rim.value
    assert glass(high).top_mpa.value < 0
    # By hand, of the middle draw: flat and 0.08 of the way from full restraint, which hardly differs from a high dome.
    beyond = free + 0.08 * (free - glass(high).top_mpa.value)
    assert glass(high).rim_top_mpa.value == pytest.approx(beyond, rel=0.1)
    for dome in (low, high):
        held = next(r for r in dome.reasons if r.rule == "tension-lasting")
        assert held.found.value == pytest.approx(glass(dome).rim_top_mpa.value, rel=0.02)


@pytest.mark.parametrize("of_each", [(1.0, 100.0, 2.0), (2.0, 100.0, 1.0)])
def test_of_two_coats_the_one_that_sets_more_free_counts(ref, monkeypatch, of_each):
    """Back, metal and front: the metal leaves nobody."""
    monkeypatch.setattr(cooled_blocks, "release_rates", lambda bottom, *_: np.tile(of_each, (len(bottom), 1)))
    for stage in suits(ref, HARD, COPPER, metal_thickness_m=0.81e-3).stages:
        release = stage.release_j_per_m2
        assert (release.low, release.value, release.high) == (2.0, 2.0, 2.0)


def test_the_rim_is_told_along_and_around_by_what_the_dome_is_flat_and_held():
    """Two layers and two draws by hand: along, beyond flat by its part; around, the closed form of a shell."""

    def state(faces_mpa, bow_mm=0.0):
        faces = np.zeros((2, 3, 2))
        faces[:, ::2] = np.array(faces_mpa)[:, :, None]
        youngs = np.array([[70e9, 60e9], [80e9, 90e9]])
        return State(faces, [True, True], np.full((3, 2), bow_mm), np.zeros(2), np.full(2, 0.6e-3), youngs, np.zeros(2))

    flat, full = state([[40.0, 10.0], [-8.0, 5.0]], bow_mm=-0.9), state([[-70.0, -60.0], [15.0, 20.0]])
    rim = Rim(np.array([0.1, 0.05]), np.array([0.7, 0.5]), np.array([15e-3, 20e-3]))
    base = stack.Stack((), None, (), np.array([2e-3, 3e-3]), np.ones(2), rim)
    along, around = stack._rim((flat, full), base)
    assert along[0, 0] == pytest.approx([40 + 0.1 * 110, 40 + 0.05 * 110])
    assert along[1, 1] == pytest.approx([5 - 0.1 * 15, 5 - 0.05 * 15])
    curvature = -0.9e-3 * 8 / 0.030**2
    for draw, (youngs, radius, rise, followed) in enumerate([(70e9, 15e-3, 2e-3, 0.7), (60e9, 20e-3, 3e-3, 0.5)]):
        due = rim_hoop_pa(-70e6, 40e6, curvature, 0.6e-3, youngs, radius, rise, followed) / 1e6
        assert around[0, 0, draw] == pytest.approx(due)
    assert around[1, 0, 0] == pytest.approx(rim_hoop_pa(15e6, -8e6, curvature, 0.6e-3, 80e9, 15e-3, 2e-3, 0.7) / 1e6)


def test_glass_on_the_hollow_face_alone_is_stretched_around_the_rim(ref):
    """Finite elements, silver of 0.4 mm under 0.2 mm: +58 to +126 MPa one wall thickness in, of +42 on a flat piece.
    The same coat on the domed face is stretched along the meridian alone, hardly more than flat; one on both is
    squeezed.
    """

    def judged(lines, **more):
        return judge_piece(ref, piece(lines, "fine-silver-sheet", mm=0.4, **more))

    def worst(verdict):
        return next(r for r in verdict.reasons if r.rule == "tension-lasting")

    inside, outside = (f"coat {face} {HARD} 0.2" for face in ("back", "front"))
    dome = {"shape": "domed", "rise_m": Band.exact(2e-3)}
    flat = worst(judged([inside, "fire 815"]))
    hollow, domed, both = (
        worst(judged([*lines, "fire 815"], **dome)) for lines in ([inside], [outside], [inside, outside])
    )
    assert flat.found.value + 30 < hollow.found.value < flat.found.value + 90
    assert abs(domed.found.value - flat.found.value) < 15
    assert both.found.value < 0
    assert (hollow.case, domed.case, flat.case) == ("rim", "", "")
    assert hollow.outcome == NOT
    # The lower a dome, the less it has of the hoop.
    low = worst(judged([inside, "fire 815"], shape="domed", rise_m=Band.exact(0.2e-3)))
    assert flat.found.value < low.found.value < hollow.found.value


def test_of_a_domes_restraint_about_half_acts_and_anywhere_from_none_to_all(ref):
    rise, grip, _ = Draws((*DOME_INPUTS, *HOOP_INPUTS)).dome(Band(2e-3, 1e-3, 3e-3))
    assert np.quantile(grip, (0.05, 0.5, 0.95)) == pytest.approx((0.05, 0.5, 0.95), abs=0.03)
    assert np.quantile(rise, (0.05, 0.5, 0.95)) == pytest.approx((1e-3, 2e-3, 3e-3), abs=0.1e-3)


# How much of the sample decides


@pytest.mark.parametrize(
    ("shares", "outcome", "confidence"),
    [
        ((0.5, 0.41, 0.09), SUITS, 0.5),
        ((0.49, 0.42, 0.09), CARE, 0.91),
        ((0.9, 0.0, 0.1), CARE, 0.9),
        ((0.3, 0.36, 0.34), CARE, 0.66),
        ((0.65, 0.0, 0.35), UNSURE, 0.65),
        ((0.2, 0.16, 0.64), UNSURE, 0.64),
        ((0.2, 0.15, 0.65), NOT, 0.65),
    ],
)
def test_the_draws_that_do_not_hold_decide_and_their_share_is_told(shares, outcome, confidence):
    found = decision.decide(shares, (), 0)
    assert found == (outcome, pytest.approx(confidence))


@pytest.mark.parametrize(
    ("split", "outcome"),
    [
        ((0.51, 0.49, 0.0), SUITS),
        ((0.49, 0.51, 0.0), CARE),
        ((0.9, 0.01, 0.09), SUITS),
        ((0.5, 0.25, 0.25), CARE),
        ((0.2, 0.31, 0.49), UNSURE),
        ((0.35, 0.0, 0.65), NOT),
    ],
)
def test_a_rule_goes_by_its_shares_as_the_verdict_does(split, outcome):
    assert RuleNumbers("gap", Subject(), split, (0.0, 0.0, 0.0)).outcome == outcome


def test_what_no_draw_objects_to_has_made_no_verdict():
    """A verdict that is open for want of a figure names none of what was found to be well."""
    well = Reason("gap", SUITS, split=(1.0, 0.0, 0.0))
    assert [r.deciding for r in decision.with_deciding(UNSURE, [well])] == [False]
    doubtful = Reason("gap", SUITS, split=(0.6, 0.3, 0.1))
    assert [r.deciding for r in decision.with_deciding(UNSURE, [well, doubtful])] == [True, False]
