"""What a firing leaves in the metal: against CalculiX, a finite-element solver, and what must always hold."""

from __future__ import annotations

import os
import shutil

import numpy as np
import pytest
from finite_elements import Solid, refired
from hypothesis import given, settings
from hypothesis import strategies as st
from pieces import numbers_of, piece

from refdb.judge.bent import bent_words
from refdb.judge.fit.question import Question
from refdb.judge.numbers import Numbers
from refdb.judge.piece.verdict import judge_piece
from refdb.science.plate import HardeningYield, Plates, cool_many
from refdb.science.plate.refired import left_curvature

SET_C = 510.0
COPPER = (117e9, 0.34, 17.8e-6, (42e6, 2e9, 0.7))
SILVER = (83e9, 0.37, 20.5e-6, (32e6, 1.3e9, 0.7))
STEEL = (205e9, 0.29, 14.0e-6, (180e6, 0.7e9, 0.55))


def glass(mm, ppm):
    return Solid(mm * 1e-3, 68e9, 0.22, ppm * 1e-6)


def metal(mm, of=COPPER):
    return Solid(mm * 1e-3, *of)


CASES = {
    "copper, one face": [metal(0.8), glass(0.2, 12.5)],
    "silver, one face": [metal(0.8, SILVER), glass(0.3, 13.5)],
    "thin silver, one face": [metal(0.5, SILVER), glass(0.2, 13.5)],
    "steel, one face": [metal(0.8, STEEL), glass(0.3, 9.5)],
    "copper, uneven faces": [glass(0.1, 12.5), metal(0.8), glass(0.3, 12.5)],
    "thick glass on copper": [metal(0.65), glass(0.45, 12.5)],
}
QUICK = ("copper, one face", "copper, uneven faces")


def plates(layers, set_c=SET_C):
    def grows(per_k):
        return lambda temp_c: per_k * (np.asarray(temp_c) - 20.0)

    return Plates(
        tuple(str(k) for k in range(len(layers))),
        np.array([[x.thickness_m for x in layers]]),
        np.array([[x.youngs_pa for x in layers]]),
        np.array([[x.poisson for x in layers]]),
        tuple(grows(x.expansion_per_k) for x in layers),
        np.array([[np.nan if x.yields else set_c for x in layers]]),
        tuple(HardeningYield(*x.yields) if x.yields else None for x in layers),
    )


def left(layers, **more):
    return float(left_curvature(plates(layers), **more)[0])


@pytest.mark.solver
@pytest.mark.skipif(not shutil.which("ccx") and not os.environ.get("CI"), reason="the solver ccx is not installed")
@pytest.mark.parametrize(
    "name", [name if name in QUICK else pytest.param(name, marks=pytest.mark.slow) for name in CASES]
)
def test_what_is_left_agrees_with_finite_elements(name, tmp_path):
    """CalculiX 2.20, cooled, warmed again and its glass melted: within 4 % and a hundredth of the bow when cold."""
    assert shutil.which("ccx"), "the finite-element solver must be there under CI"
    layers = CASES[name]
    cold = abs(float(cool_many(plates(layers)).curvature_per_m[0]))
    outside = refired(layers, SET_C, tmp_path)
    print(f"{name}: left {left(layers):.4f} against {outside:.4f} per m, {cold:.4f} when cold")
    assert left(layers) == pytest.approx(outside, rel=0.04, abs=0.01 * cold)


def test_metal_that_does_not_yield_and_glass_alike_on_both_faces_leave_nothing():
    hard = Solid(0.8e-3, 117e9, 0.34, 17.8e-6, (5e9, 1e9, 1.0))
    assert left([hard, glass(0.3, 12.5)]) == pytest.approx(0.0, abs=1e-9)
    assert left([glass(0.3, 12.5), metal(0.8), glass(0.3, 12.5)]) == pytest.approx(0.0, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.4, 1.2), st.floats(0.08, 0.4), st.sampled_from([COPPER, SILVER]), st.floats(11.0, 14.5))
def test_it_is_less_than_the_bow_of_the_same_sign_and_turns_with_the_face(thick, coat, of, ppm):
    over, under = [metal(thick, of), glass(coat, ppm)], [glass(coat, ppm), metal(thick, of)]
    cold = float(cool_many(plates(over)).curvature_per_m[0])
    found = left(over)
    assert 0.0 <= found < cold
    assert left(under) == pytest.approx(-found, abs=1e-6 * cold)


def test_finer_steps_change_nothing():
    """To a five-hundredth of the bow when cold."""
    for layers in CASES.values():
        cold = abs(float(cool_many(plates(layers)).curvature_per_m[0]))
        assert left(layers) == pytest.approx(left(layers, step_k=2.0), abs=2e-3 * cold)


def test_thicker_metal_of_the_same_build_is_left_less_bent():
    """The advice: thicker metal under the same coat keeps less of a bow, as 30 mm of it shows."""
    bows = [left([metal(mm), glass(0.2, 12.5)]) for mm in (0.5, 0.8, 1.2, 2.0)]
    assert bows[1] > bows[2] > bows[3]


# Pieces

CLEAR = "clear-hard-lead-free"
FRONT, BACK = f"coat front {CLEAR} 0.2", f"coat back {CLEAR} 0.2"


def stages(ref, lines, metal="copper-sheet", mm=0.8):
    return judge_piece(ref, piece(lines, metal=metal, mm=mm)).stages


def bows(found):
    return [s.bow_mm_per_30mm.value for s in found]


@pytest.mark.trade
@pytest.mark.parametrize(("metal", "low", "high"), [("copper-sheet", 0.05, 0.15), ("fine-silver-sheet", 0.08, 0.2)])
def test_a_piece_bent_in_its_one_face_fire_is_not_flat_again(ref, metal, low, high):
    """Common practice: glass on the other face pulls it back, not flat. A model written apart found 0.08 mm over 30 mm
    of copper and 0.12 to 0.15 of silver. Its counter-example: both faces in one fire leave it flat."""
    bent = stages(ref, [FRONT, "fire 830", BACK, "fire 830"], metal)
    assert bows(bent)[0] > 2 * bows(bent)[1]
    assert low < bows(bent)[1] < high
    assert bent[0].bow_left_mm_per_30mm.value == 0.0
    assert bent[1].bow_left_mm_per_30mm.value == pytest.approx(bows(bent)[1], abs=2e-3)
    assert "both faces in one fire leave none" in bent_words(bent)
    flat = stages(ref, [FRONT, BACK, "fire 830"], metal)
    assert abs(bows(flat)[0]) < 2e-3
    assert bent_words(flat) == ""


def test_each_further_fire_of_one_face_bends_it_more(ref):
    """By hand: a fire that leaves as much as the one before adds as much."""
    found = stages(ref, [FRONT, "fire 830", "fire 830", "fire 830"])
    left = [s.bow_left_mm_per_30mm.value for s in found]
    assert left[0] == 0.0
    assert left[2] == pytest.approx(2 * left[1], rel=1e-6)
    assert 0.0 < bows(found)[0] < bows(found)[1] < bows(found)[2]


def test_fires_of_the_back_first_bend_it_the_other_way(ref):
    orders = ((FRONT, BACK), (BACK, FRONT))
    forth, back = (stages(ref, [one, "fire 830", other, "fire 830"]) for one, other in orders)
    assert bows(forth)[1] == pytest.approx(-bows(back)[1], rel=0.02)
    assert "of the last bow" in bent_words(back).lower()


def test_what_is_left_is_kept_with_the_stored_numbers(ref):
    """Stages with and without come back as they went; those stored before it was told count as nothing left."""
    numbers = numbers_of(Question(ref.glass(CLEAR), ref.metal("copper-sheet")))
    assert Numbers.from_plain(numbers.to_plain(exact=True)) == numbers
    assert numbers.stages[0].left_mm is None
    assert numbers.stages[-1].left_mm is not None
    assert numbers.stages[0].as_stage().bow_left_mm_per_30mm.value == 0.0
