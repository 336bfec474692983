"""Small figures and choices of the judge, each held by a case worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from at_limits import COPPER, FOIL, HARD
from pieces import piece

from refdb.errors import BadInput
from refdb.judge.decision import joint
from refdb.judge.fit.build import Build
from refdb.judge.own.kiln import check_heat
from refdb.judge.piece import rules_of_leaf
from refdb.judge.piece.known import Known
from refdb.judge.piece.states import walk
from refdb.quantities import Band
from refdb.store.reference import open_reference


@pytest.fixture(scope="module")
def ref(store):
    with open_reference(store) as ref:
        yield ref


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
