"""Glasses pinned by a firing that was seen: what counts, how far, and what it changes in a piece."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pieces import BASE, piece

from refdb.errors import BadInput
from refdb.judge.piece.in_kiln import Heated
from refdb.judge.piece.observed_firing import Firings, curve_of_class, maturing, usual_thickness_m
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.verdict import CARE, NOT, SUITS
from refdb.plan.observed import observed_firings
from refdb.plan.schedule import plan_of
from refdb.records import ObservedFiring
from refdb.store.reference import Reference

HARD, MEDIUM, TURQUOISE = "clear-hard-lead-free", "clear-medium-lead-free", "turquoise-opaque-lead-free"


class Held:
    """A store whose observed firings are these."""

    def __init__(self, ref: Reference, firings: list[ObservedFiring]) -> None:
        self._ref, self._firings = ref, firings

    def __getattr__(self, name: str):
        return getattr(self._ref, name)

    def observed_firings(self, key: str | None = None) -> list[ObservedFiring]:
        return [f for f in self._firings if key in (None, f.material)]


def seen(
    minutes: float,
    result: str = "gloss",
    kiln_c: float = 815.0,
    glass: str = HARD,
    mm: float | None = 0.75,
    source: str = "own-figure",
) -> ObservedFiring:
    return ObservedFiring("one", glass, kiln_c, minutes, "copper-sheet", mm, result, "measured", source)


def gloss(ref, firings, kiln_c: float = 815.0, glass: str = HARD, metal_m: float = 0.75e-3):
    found = maturing(ref.glass(glass), kiln_c, 0.12e-3, Heated(ref.metal("copper-sheet"), metal_m, 0.24e-3), firings)
    assert found.gloss is not None, found.reason
    return found


def test_a_firing_gives_its_own_minutes_back_at_its_own_setting(ref):
    """On the metal it was seen on, to 1 %, with a factor of 1.3 either way; by the class alone the range is wider."""
    found = gloss(ref, Firings(ref, [seen(2.4)]))
    assert found.gloss.value == pytest.approx(2.4, rel=0.01)
    assert found.gloss.high / found.gloss.value == pytest.approx(1.3, rel=0.01)
    assert found.sugary.value < found.orange_peel.value < found.gloss.value
    alone = gloss(Held(ref, []), Firings(Held(ref, [])))
    assert alone.pinned is None
    assert alone.gloss.high / alone.gloss.low > 2 * found.gloss.high / found.gloss.low


def test_practice_in_another_kiln_holds_less_closely(ref):
    """The factors 1.3 and 1.5 together, 1.62, by hand: exp(sqrt(0.2624² + 0.4055²)) = 1.621."""
    found = gloss(ref, Firings(Held(ref, [seen(2.4, source="common-practice")])))
    assert found.gloss.value / found.gloss.low == pytest.approx(1.621, rel=0.01)


def test_a_thickness_that_was_not_said_widens_the_range_and_is_not_guessed(ref):
    """Three thicknesses from the metal's least to where the trade counts it heavy; each end alone is narrower."""
    copper = ref.metal("copper-sheet")
    middle, low, high = usual_thickness_m(seen(2.4, mm=None), copper)
    assert (low, high) == pytest.approx((copper.band("least_thickness").low, 1.3e-3))
    assert low < middle < high
    unsaid = gloss(ref, Firings(ref, [seen(2.4, mm=None)])).gloss
    thin, thick = (gloss(ref, Firings(ref, [seen(2.4, mm=m * 1e3)])).gloss for m in (low, high))
    assert unsaid.low == pytest.approx(min(thin.low, thick.low))
    assert unsaid.high == pytest.approx(max(thin.high, thick.high))
    assert thick.value < unsaid.value < thin.value


@pytest.mark.parametrize("result", ["oxide cleared", "orange peel", "sugary"])
def test_only_gloss_pins(ref, result):
    """Copper comes clean after the shine, and peel and sugary are states: none is taken for the moment of gloss."""
    held = Held(ref, [seen(3.0, result)])
    assert gloss(held, Firings(held)).pinned is None
    assert gloss(held, Firings(held)).gloss == gloss(Held(ref, []), Firings(Held(ref, []))).gloss


def test_the_stored_firing_of_the_hard_clear_is_used_and_not_the_one_to_clean_copper(ref):
    found = gloss(ref, Firings(ref))
    assert found.pinned.record.result == "gloss"
    assert found.pinned.record.minutes == 2.0
    assert gloss(ref, Firings(ref), 843.0).pinned.record.kiln_c == 815.0


def test_what_is_given_goes_before_what_is_stored(ref):
    assert gloss(ref, Firings(ref, [seen(3.5)])).gloss.value == pytest.approx(3.5, rel=0.01)
    both = Firings(ref, [seen(3.5)])
    assert {f.source for f in both.of(HARD) if f.result == "gloss"} == {"own-figure"}
    assert any(f.result == "oxide cleared" for f in both.of(HARD))
    assert Firings(ref).with_own([seen(3.5)]).of(HARD) == both.of(HARD)


def test_of_several_the_nearest_setting_counts(ref):
    held = Held(ref, [seen(2.4), seen(4.5, kiln_c=780.0)])
    assert gloss(held, Firings(held), 785.0).pinned.record.kiln_c == 780.0
    assert gloss(held, Firings(held), 805.0).pinned.record.kiln_c == 815.0
    rivals = Held(ref, [seen(2.0), replace(seen(3.0), key="two")])
    found = gloss(rivals, Firings(rivals)).gloss
    assert found.low == pytest.approx(2.0 / 1.3, rel=0.02)
    assert found.high == pytest.approx(3.0 * 1.3, rel=0.02)


def test_a_firing_that_no_glass_could_have_is_passed_over(ref):
    held = Held(ref, [seen(0.05)])
    assert gloss(held, Firings(held)).pinned is None
    odd = Held(ref, [replace(seen(2.0), metal="no-such-metal")])
    assert gloss(odd, Firings(odd)).pinned is None


def index(ref, lines, own=()):
    verdict = judge_piece(ref, replace(piece(lines), seen=tuple(own)))
    found = [
        t for t in verdict.told if t.key == "pull-through" and ref.glass(t.reason.subject.under).optical == "opaque"
    ]
    assert len(found) == 1
    return found[0]


@pytest.mark.trade
def test_a_colour_seen_to_shine_as_soon_as_the_clear_above_comes_up(ref):
    """Common practice: what flows as readily as the coat above it comes up; what was seen to be stiff does not."""
    lines = [*BASE, f"coat front {TURQUOISE} 0.12", "fire 800", f"coat front {MEDIUM} 0.12", "fire 800"]
    clear = seen(2.0, glass=MEDIUM, kiln_c=800.0)
    soft, stiff = (seen(m, glass=TURQUOISE, kiln_c=800.0) for m in (1.6, 8.0))
    loose, firm = index(ref, lines, [clear, soft]), index(ref, lines, [clear, stiff])
    assert loose.outcome in (CARE, NOT)
    assert firm.outcome == SUITS
    assert "by the firing you saw" in loose.why
    assert "own-figure" in firm.why
    assert "Flow" not in index(ref, lines).why


def test_stored_firings_count_in_the_index(ref):
    """A white under the hard clear: the stored firing of the clear alone frees the white, whose figures are the same.

    Two classes of one figure and no firing gloss at one dose; where practice saw one of them, the other may be off.
    """
    lines = [*BASE, "coat front white-opaque-lead-free 0.12", "fire 820", f"coat front {HARD} 0.12", "fire 830"]
    with_it, without = index(ref, lines), index(Held(ref, []), lines)
    assert (with_it.found.low, with_it.found.high) != (without.found.low, without.found.high)
    assert "common practice" in with_it.why
    assert "common practice" not in without.why


def test_classes_keep_their_distance_where_practice_pins_only_one(ref):
    hard, white = ref.glass(HARD), ref.glass("white-opaque-lead-free")
    under, over = Firings(ref).pair(white, hard, 830.0)
    apart = curve_of_class(white).vft.t0_c - curve_of_class(hard).vft.t0_c
    assert under.vft.t0_c - over.vft.t0_c == pytest.approx(apart)
    own = Firings(ref, [seen(2.0)]).pair(white, hard, 830.0)
    assert own[0] == curve_of_class(white)


def test_the_minutes_of_the_file_count_where_the_clear_above_is_pinned(ref):
    """Left longer than to its gloss, more of the coat beneath comes up; of classes alone no minutes are told."""

    def lines(minutes):
        return [*BASE, f"coat front {TURQUOISE} 0.12", "fire 800", f"coat front {MEDIUM} 0.12", f"fire 800 {minutes}"]

    clear = [seen(2.0, glass=MEDIUM, kiln_c=800.0)]
    assert index(ref, lines(4), clear).found.value > 1.5 * index(ref, lines(2), clear).found.value
    assert index(ref, lines(4)).found.value == index(ref, lines(2)).found.value


@pytest.mark.parametrize(
    ("firing", "words"),
    [
        (seen(3.0, "oxide cleared"), "does not tell when it shines"),
        (seen(1.0, "orange peel"), "orange peel after 1 min at 815 °C"),
        (seen(0.05), "passed over"),
    ],
)
def test_a_firing_that_pins_nothing_is_told_and_not_dropped_in_silence(ref, firing, words):
    held = Held(ref, [firing])
    assert words in plan_of(held, piece(BASE)).firings[0].minutes.note
    assert words not in plan_of(ref, piece(BASE)).firings[0].minutes.note
    assert words not in plan_of(Held(ref, []), piece(BASE)).firings[0].minutes.note


def test_a_plan_tells_when_copper_comes_clean_apart_from_gloss(ref):
    first = plan_of(ref, piece(BASE)).firings[0]
    assert any("came clean after 3 min" in x.text and "says nothing of gloss" in x.text for x in first.notes)
    silver = plan_of(ref, piece(BASE, metal="fine-silver-sheet")).firings[0]
    assert not any("came clean" in x.text for x in silver.notes)


@pytest.mark.parametrize(
    ("text", "material", "result"),
    [
        (f"{HARD}: 815C 3min copper 0.75mm", HARD, "gloss"),
        (f"{HARD}: copper 815 C 3 min 0.75 mm", HARD, "gloss"),
        (f"{HARD}:815C 180 s copper-sheet 0.75mm", HARD, "gloss"),
        (f"{HARD}: 1499 F 3min copper 0.75mm oxide cleared", HARD, "oxide cleared"),
    ],
)
def test_firings_as_typed(ref, text, material, result):
    (found,) = observed_firings([text], ref)
    assert (found.material, found.metal, found.result) == (material, "copper-sheet", result)
    assert (found.kiln_c, found.minutes, found.metal_mm) == pytest.approx((815.0, 3.0, 0.75), abs=0.1)
    assert found.source == "own-figure"


def test_one_glass_is_given_once_a_result(ref):
    text = f"{HARD}: 815C 3min copper 0.75mm"
    assert len(observed_firings([text, f"{text} oxide cleared"], ref)) == 2
    with pytest.raises(BadInput, match="twice"):
        observed_firings([text, text], ref)
