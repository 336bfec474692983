"""What own tiles teach: the plate's foretelling goes into the update, and belief moves the way it must."""

from dataclasses import replace

import numpy as np
import pytest

from refdb.errors import BadInput
from refdb.judge import limits
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.own.foretold import Foretold
from refdb.judge.own.tile_advice import which_tile
from refdb.judge.own.tile_update import GRID_PER_K, effective_prior, expansion_learnt, kiln_learnt, words_of
from refdb.judge.rules import limit_of
from refdb.quantities.band import Band
from refdb.records import OwnTile
from refdb.science.inference.tiles import FIT_WORDS, HEAT_WORDS, summary
from refdb.science.sampling import band_of

HARD = "clear-hard-lead-free"


def tile(outcome, metal="copper-sheet", glass=HARD, kiln=None, front=0.3, back=0.3, number=1):
    return OwnTile(number, glass, metal, 0.8, front, back, kiln, None, outcome, None, "2026-11-25", None)


def test_what_is_foretold_is_what_the_judge_finds(ref):
    """A figure of an own test goes into both unchanged: stress and gap as `suits` has them, within 4 MPa and 40 ppm.

    And the strength that breaks every second tile is the middle of what the judge holds a finished piece against.
    """
    glass = own_test(ref, Band(13.0, 13.0, 13.0))
    plates = Foretold(glass, [ref.metal("copper-sheet")], GRID_PER_K)
    told = plates.tile("copper-sheet", 0.8e-3, 0.3e-3, 0.3e-3)
    at = int(np.argmin(np.abs(GRID_PER_K - 13e-6)))
    plain = suits(ref, glass, "copper-sheet")
    face = plain.stages[-1].layers[-1]
    assert band_of(told.tension_pa[:, at] / 1e6) == pytest.approx(
        (face.top_mpa.value, face.top_mpa.low, face.top_mpa.high), abs=4
    )
    assert float(np.median(told.gap_ppm[:, at])) == pytest.approx(plain.numbers["gap_ppm"]["value"], abs=40)
    assert float(np.median(told.strength_pa)) / 1e6 == pytest.approx(limit_of("tension-lasting").care, rel=0.02)


def test_between_its_nodes_the_plate_is_straight_enough(ref):
    """The nodes are 0.5 ppm/K apart; cooled at every value of a finer grid the stress is off by 1 MPa at most."""
    glass, copper = ref.glass(HARD), ref.metal("copper-sheet")
    fine = GRID_PER_K[160:240:5]
    # A grid of 16 values, 0.25 ppm/K apart, has nodes on every second of them.
    exact = [Foretold(glass, [copper], np.array([x, x + 1e-9]), 8) for x in fine]
    for sizes in ((0.8e-3, 0.3e-3, 0.3e-3), (0.5e-3, 0.2e-3, 0.0), (0.3e-3, 0.2e-3, 0.0)):
        told = Foretold(glass, [copper], GRID_PER_K, 8).tile("copper-sheet", *sizes).tension_pa[:, 160:240:5]
        due = np.stack([x.tile("copper-sheet", *sizes).tension_pa[:, 0] for x in exact], axis=1)
        assert np.abs(told - due).max() < 1e6


def test_tiles_of_one_metal_share_its_yield_and_those_of_another_have_theirs(ref):
    glass = ref.glass(HARD)
    copper, steel = ref.metal("copper-sheet"), ref.metal("low-carbon-steel")
    plates = Foretold(glass, [copper, steel], GRID_PER_K)
    thin, thick = (plates.tile("copper-sheet", m * 1e-3, 0.2e-3, 0.0).tension_pa[:, 220] for m in (0.4, 0.6))
    other = plates.tile("low-carbon-steel", 0.4e-3, 0.2e-3, 0.0)
    assert np.corrcoef(thin, thick)[0, 1] > 0.9
    yields = [plates._drawn(m).metal(m).flow.stress_0_pa for m in (copper, steel)]
    assert abs(np.corrcoef(*yields)[0, 1]) < 0.1
    assert np.array_equal(other.strength_pa, plates.tile("copper-sheet", 5e-4, 2e-4, 0.0).strength_pa)


def test_a_dilatometers_figure_is_raised_before_tiles_and_an_own_tests_is_not(ref):
    """The middle and the ends by `limits.TRANSITION_CONTRACTION`, to two steps of the grid."""
    sheet = ref.glass(HARD).with_expansion(Band(12.0, 11.99, 12.01), (20.0, 400.0))
    raised = summary(GRID_PER_K, effective_prior(sheet.value("expansion")))
    assert [x * 1e6 for x in raised] == pytest.approx([12 * (1 + m) for m in limits.TRANSITION_CONTRACTION], abs=0.1)
    tested = own_test(ref, Band(12.0, 11.9, 12.1)).value("expansion")
    assert [x * 1e6 for x in summary(GRID_PER_K, effective_prior(tested))] == pytest.approx([12, 11.9, 12.1], abs=0.06)


def test_where_sound_tiles_of_the_standard_build_say_nothing_a_thin_one_face_build_is_named(ref):
    """And a tile of the named build, crazed, moves belief by more than six of the standard build."""
    glass = ref.glass(HARD)
    learnt = expansion_learnt(ref, glass, [tile("sound", number=k) for k in range(6)])
    assert learnt.update.after == pytest.approx(learnt.update.before, abs=0.05e-6)
    best = which_tile(learnt)
    assert best.worth_it
    assert (best.metal, best.back_mm) == ("copper-sheet", 0.0)
    assert best.metal_mm < 0.8
    assert best.gain_bit > 10 * best.last_bit
    named = OwnTile(
        9, HARD, "copper-sheet", best.metal_mm, best.front_mm, 0.0, None, None, "crazed", None, "2026-11-25", None
    )
    after = expansion_learnt(ref, glass, [named]).update
    assert after.after[0] < after.before[0] - 0.3e-6


def test_no_tile_told_nothing_advised(ref):
    assert which_tile(expansion_learnt(ref, ref.glass(HARD), [tile("cloudy")])) is None
    assert which_tile(kiln_learnt(ref, [tile("sound", kiln=800.0)])) is None


def own_test(ref, band):
    """The jar with an expansion that a strip or tiles gave."""
    glass = ref.glass(HARD).with_expansion(band, (20.0, 400.0))
    values = tuple(
        replace(v, source="own-test", basis="measured") if v.property == "expansion" else v for v in glass.values
    )
    return replace(glass, values=values)


def test_crazed_on_steel_means_a_higher_expansion_and_sound_a_lower(ref):
    """Balanced faces on stiff steel: glass of high expansion is stretched, so a crazed tile raises belief."""
    glass = ref.glass(HARD)
    before = glass.band("expansion").value * (1 + limits.TRANSITION_CONTRACTION[0])
    crazed = expansion_learnt(ref, glass, [tile("crazed", "low-carbon-steel", number=k) for k in range(3)]).update
    sound = expansion_learnt(ref, glass, [tile("sound", "low-carbon-steel", number=k) for k in range(3)]).update
    middle = [summary(u.grid, u.posterior)[0] * 1e6 for u in (crazed, sound)]
    assert middle[0] > before > middle[1]
    assert summary(crazed.grid, crazed.prior)[0] * 1e6 == pytest.approx(before, abs=0.3)


def test_tiles_that_tell_nothing_leave_belief_alone(ref):
    learnt = expansion_learnt(ref, ref.glass(HARD), [tile("cloudy; bubbled")])
    assert learnt.tiles == ()
    assert np.allclose(learnt.update.posterior, learnt.update.prior)


def test_under_fired_tiles_say_that_the_kiln_is_cooler_than_it_shows(ref):
    cool = kiln_learnt(ref, [tile("under fired", kiln=815.0, number=k) for k in range(3)]).update
    right = kiln_learnt(ref, [tile("sound", kiln=835.0, number=k) for k in range(3)]).update
    burnt = kiln_learnt(ref, [tile("burnt", kiln=860.0, number=k) for k in range(3)]).update
    offsets = [summary(u.grid, u.posterior)[0] for u in (cool, right, burnt)]
    assert offsets[0] < -5 < offsets[1] < 5 < offsets[2]


@pytest.mark.parametrize(
    ("outcome", "known", "word"),
    [
        ("sound; crazed", FIT_WORDS, "crazed"),
        ("cloudy; sound", FIT_WORDS, "sound"),
        ("burnt", FIT_WORDS, ""),
        ("under fired; sound", HEAT_WORDS, "under-fired"),
    ],
)
def test_a_fault_tells_more_than_sound(outcome, known, word):
    assert words_of(tile(outcome), known) == word


def test_a_glass_without_any_expansion_cannot_begin(ref):
    with pytest.raises(BadInput, match="no expansion"):
        expansion_learnt(ref, ref.glass("painting-black"), [tile("sound", glass="painting-black")])
    own = ref.glass(HARD).with_expansion(Band(12.0, 11.9, 12.1), (20.0, 400.0))
    assert expansion_learnt(ref, own, [tile("sound")]).update.told == 1
