"""Slow cooling in the verdict: silent for ordinary pieces, in minutes for thick glass and wide pieces."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from pieces import piece

from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.reason import CARE
from refdb.plan.schedule import plan_of

HARD = "clear-hard-lead-free"
BASE = ["clean front", f"coat front {HARD} 0.15", "clean back", f"coat back {HARD} 0.15"]


def cooling(verdict):
    return next((r for r in verdict.reasons if r.rule == "slow-cooling"), None)


def minutes(ref, face_m: float) -> float:
    found = cooling(suits(ref, HARD, "copper-sheet", metal_thickness_m=6e-3, front_m=face_m, back_m=face_m))
    return found.values["minutes"] if found else 0.0


@pytest.mark.trade
@pytest.mark.parametrize("metal", ["copper-sheet", "fine-silver-sheet", "low-carbon-steel"])
def test_ordinary_glass_says_nothing_of_cooling_and_thick_glass_does(ref, metal):
    """Common practice: a small enamel cools in still air; glass of some millimetres is annealed in the kiln."""
    assert cooling(suits(ref, HARD, metal)) is None
    thick = cooling(suits(ref, HARD, metal, metal_thickness_m=3e-3, front_m=1.5e-3, back_m=1.5e-3))
    assert thick.outcome == CARE
    assert 5 < thick.values["minutes"] < 40


def test_thicker_glass_never_cools_faster(ref):
    taken = [minutes(ref, x * 1e-3) for x in (0.3, 0.7, 0.8, 1.0, 1.5, 2.0, 3.0, 5.0)]
    assert taken == sorted(taken)
    assert taken[1] == 0 < taken[2]
    # With the square of the thickness, up to the whole minute.
    assert taken[7] == pytest.approx(taken[5] * 2.5**2, abs=4)


def test_wide_piece_cools_slowly_and_a_brooch_does_not(ref):
    made = piece([*BASE, "fire 815"])
    assert cooling(judge_piece(ref, made)) is None
    wide = cooling(judge_piece(ref, replace(made, width_m=0.2)))
    assert (wide.case, wide.outcome) == ("wide", CARE)
    assert wide.values["minutes"] >= 10


def test_command_tells_the_minutes_and_never_a_drop_that_would_be_safe(refdb):
    args = f"suits {HARD} copper-sheet --metal-thickness 3mm --front 1mm --back 1mm".split()
    out = refdb(*args, "--full").out
    assert "cool it in the closed kiln from" in " ".join(out.split())
    assert "quenched" in out
    assert "safe" not in out
    assert "slow-cooling" in [r["rule"] for r in json.loads(refdb(*args, "--json").out)["reasons"]]


def test_plan_of_thick_glass_sends_it_to_the_closed_kiln_and_not_to_the_open_air(ref):
    def between(mm):
        made = piece(
            ["clean front", f"coat front {HARD} {mm}", "clean back", f"coat back {HARD} {mm}", "fire 815"], mm=3
        )
        return [line.text for line in plan_of(ref, made).between]

    thick, thin = between(1.0), between(0.15)
    assert "Cool it in the closed kiln from" in thick[0]
    assert not any("still air" in line for line in thick)
    assert any("still air" in line for line in thin)
    assert not any("closed kiln" in line for line in thin)
