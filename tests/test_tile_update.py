"""What own tiles teach: the plate's foretelling goes into the update, and belief moves the way it must."""

import numpy as np
import pytest

from refdb.errors import BadInput
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.own.tile_update import GRID_PER_K, _foretold, expansion_learnt, kiln_learnt, words_of
from refdb.quantities.band import Band
from refdb.records import OwnTile
from refdb.science.inference.tiles import FIT_WORDS, HEAT_WORDS, summary
from refdb.store.reference import Reference

HARD = "clear-hard-lead-free"


@pytest.fixture(scope="module")
def ref(store):
    with Reference(store) as found:
        yield found


def tile(outcome, metal="copper-sheet", glass=HARD, kiln=None, front=0.3, back=0.3, number=1):
    return OwnTile(number, glass, metal, 0.8, front, back, kiln, None, outcome, None, "2026-11-25", None)


def test_what_is_foretold_is_what_the_judge_finds(ref):
    """At the class's own expansion the finished stress agrees with `suits` at its middle, within 4 MPa."""
    glass = ref.glass(HARD)
    told = _foretold(ref, glass, tile("sound"))
    at = int(np.argmin(np.abs(GRID_PER_K - glass.band("expansion").value * 1e-6)))
    plain = suits(ref, HARD, "copper-sheet").stages[-1].layers[-1]
    assert told.tension_pa[at] / 1e6 == pytest.approx(plain.top_mpa.value, abs=4)


def test_crazed_on_steel_means_a_higher_expansion_and_sound_a_lower(ref):
    """Balanced faces on stiff steel: glass of high expansion is stretched, so a crazed tile raises belief."""
    glass = ref.glass(HARD)
    before = glass.band("expansion").value
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
