"""The order of work: every line has a source, and each step of the file leaves its mark."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import refdb.plan
from refdb.judge.piece.steps import Base, Piece, Step
from refdb.plan.lines import OWN, Plan
from refdb.plan.packing import container_of
from refdb.plan.piecefile import read_piece
from refdb.plan.schedule import clay_schedules, plan_of
from refdb.quantities import Band

DEMO = Path(refdb.plan.__file__).parent / "new_piece.toml"
THIN = Band.exact(0.15e-3)


@pytest.fixture
def demo(ref) -> Piece:
    return read_piece(DEMO, ref)


def copper(*steps: Step, metal: str = "copper-sheet", **more) -> Piece:
    numbered = tuple(replace(s, number=n) for n, s in enumerate(steps, 1))
    return Piece("trial", 0.03, 0.02, Base(metal, Band.exact(0.8e-3)), numbered, **more)


def coat(glass: str = "clear-hard-lead-free", **more) -> Step:
    return Step(0, "coat", **({"glass": glass, "thickness_m": THIN} | more))


def fire(kiln_c: float = 815.0, **more) -> Step:
    return Step(0, "fire", kiln_c=kiln_c, **more)


def lines_of(plan: Plan):
    """Every line of a plan."""
    for phase in plan.before:
        yield from phase.lines
    for firing in plan.firings:
        yield from (*firing.prepare, *firing.right, *firing.under, *firing.over, *firing.notes)
    yield from (*plan.between, *plan.after, *plan.times)


def words_of(plan: Plan) -> str:
    return " ".join([*(line.text for line in lines_of(plan)), *(c.text for c in plan.cautions)])


def metal_keys(ref) -> list[str]:
    return [m.key for m in ref.materials("metal")]


def test_every_line_of_every_metal_has_a_source_of_the_store(ref, demo):
    known = {s.key for s in ref.sources()} | {OWN}
    for key in metal_keys(ref):
        plan = plan_of(ref, replace(demo, base=Base(key, Band.exact(0.8e-3))))
        for line in lines_of(plan):
            assert line.text.strip()
            assert line.source in known, line
            assert line.source in plan.sources
        for firing in plan.firings:
            assert firing.minutes.source in plan.sources
        assert all(c.source in plan.sources for c in plan.cautions)
        assert all(s in plan.sources for a in plan.amounts.rows for s in a.sources)


def test_each_step_of_the_demo_is_in_its_plan(ref, demo):
    plan = plan_of(ref, demo)
    told = {line.step for line in lines_of(plan)} | {f.step for f in plan.firings}
    assert {s.number for s in demo.steps} <= told
    assert [f.step for f in plan.firings] == [s.number for s in demo.steps if s.do == "fire"]
    assert [f.number for f in plan.firings] == [1, 2, 3, 4, 5]


def test_taking_any_step_away_changes_the_plan(ref, demo):
    whole = plan_of(ref, demo).as_dict()
    for step in demo.steps:
        rest = tuple(replace(s, number=n) for n, s in enumerate((s for s in demo.steps if s is not step), 1))
        assert plan_of(ref, replace(demo, steps=rest)).as_dict() != whole, step.title


def test_settings_in_both_scales(ref):
    firing = plan_of(ref, copper(coat(), fire(815.0))).firings[0]
    assert firing.kiln_c == 815.0
    assert firing.kiln_f == pytest.approx(1499.0)


def test_clay_schedules_stand_side_by_side(ref):
    """Every row of the family's schedules is shown, those fit for glass first."""
    for key in metal_keys(ref):
        metal = ref.metal(key)
        found = clay_schedules(ref, metal)
        rows = ref.rows("SELECT * FROM firing_phases WHERE clay_family = ?", metal.clay_family)
        assert sum(len(s.phases) for s in found) == len(rows)
        assert bool(found) == bool(metal.clay_family)
        fit = [s.for_glass for s in found]
        assert fit == sorted(fit, reverse=True)


def test_the_two_copper_clays_never_share_a_schedule(ref):
    carbon, open_fired = (clay_schedules(ref, ref.metal(k)) for k in ("copper-clay", "copper-clay-open"))
    best, other = carbon[0], open_fired[0]
    assert best.for_glass
    assert best.in_carbon
    assert len(best.phases) == 2
    assert other.for_glass
    assert not other.in_carbon
    assert "Never swap the schedules" in words_of(plan_of(ref, copper(coat(), fire(), metal="copper-clay-open")))


def test_carbon_monoxide_is_warned_of_where_clay_is_fired_in_carbon(ref):
    def warned(metal: str) -> bool:
        plan = plan_of(ref, copper(coat(), fire(), metal=metal))
        return any("carbon monoxide alarm" in c.text for c in plan.cautions)

    assert warned("copper-clay")
    assert warned("sterling-clay")
    assert not warned("fine-silver-clay")
    assert not warned("copper-sheet")


def test_sheet_has_no_clay_in_its_plan(ref):
    plan = plan_of(ref, copper(coat(), fire()))
    assert plan.schedules == ()
    assert all("clay" not in p.title for p in plan.before)


def test_own_minutes_are_kept(ref):
    minutes = plan_of(ref, copper(coat(), fire(minutes=2.25))).firings[0].minutes
    assert minutes.band == Band.exact(2.25)
    assert minutes.words == "2.25 min"
    assert minutes.source == OWN


def test_a_class_gives_minutes_only_with_their_range(ref):
    minutes = plan_of(ref, copper(coat("clear-medium-lead-free"), fire(800.0))).firings[0].minutes
    assert minutes.band is not None
    assert minutes.band.high > 2.5 * minutes.band.low
    assert "class" in minutes.note
    assert minutes.stages == ()
    assert " to " in minutes.words
    assert 0.3 < minutes.first_look.low <= minutes.first_look.value <= minutes.first_look.high < minutes.band.value
    assert minutes.look_words.startswith("first look after ")


def test_hotter_is_quicker_and_the_slowest_coat_counts(ref):
    def gloss(*steps: Step) -> float:
        return plan_of(ref, copper(*steps)).firings[0].minutes.band.value

    assert gloss(coat(), fire(850.0)) < gloss(coat(), fire(820.0))
    soft = coat("clear-soft-lead-free", face="back")
    assert gloss(soft, fire(820.0)) < gloss(coat(), fire(820.0))
    assert gloss(coat(), soft, fire(820.0)) == pytest.approx(gloss(coat(), fire(820.0)), rel=0.25)


def test_too_cold_for_a_glass_gives_no_minutes(ref):
    minutes = plan_of(ref, copper(coat(), fire(600.0))).firings[0].minutes
    assert "too cold" in minutes.note


def test_signs_follow_what_is_fired(ref):
    def right(*steps: Step, metal: str = "copper-sheet") -> str:
        return " ".join(x.text for x in plan_of(ref, copper(*steps, metal=metal)).firings[-1].right)

    assert "orange to gold" in right(coat(), fire())
    assert "bright through it" in right(coat(), fire(), metal="fine-silver-sheet")
    assert "even shine" in right(coat("white-opaque-lead-free"), fire())
    assert "clouded" in right(coat(), fire(), coat("opal-lead-free"), fire())
    assert "lie down" in right(coat(), fire(), Step(0, "leaf", leaf="gold-foil-24k"), fire())
    assert "needle" in right(coat(), fire(), Step(0, "line", glass="painting-black", thickness_m=THIN), fire())
    assert "tight at the edge" in right(coat(face="back"), fire())
    assert "even all over" in right(fire())


def test_straw_yellow_is_told_over_silver_only(ref):
    def over(metal: str) -> str:
        return " ".join(x.text for x in plan_of(ref, copper(coat(), fire(), metal=metal)).firings[0].over)

    assert "straw-yellow" in over("fine-silver-sheet")
    assert "straw-yellow" not in over("copper-sheet")


def test_a_hard_clear_on_bare_copper_wants_a_minute_more(ref):
    def notes(glass: str, metal: str) -> str:
        return " ".join(x.text for x in plan_of(ref, copper(coat(glass), fire(), metal=metal)).firings[0].notes)

    assert "about a minute after" in notes("clear-hard-lead-free", "copper-sheet")
    assert "about a minute after" not in notes("clear-soft-lead-free", "copper-sheet")
    assert "about a minute after" not in notes("clear-hard-lead-free", "fine-silver-sheet")


def test_stoning_is_followed_by_a_flash(ref):
    plan = plan_of(ref, copper(coat(), fire(), Step(0, "stone"), fire(800.0)))
    last = plan.firings[-1]
    assert last.what == ("again, nothing new",)
    assert last.minutes.words == "about 1 min"
    assert any("fire briefly" in x.text for x in last.prepare)
    assert any("slurry" in c.text for c in plan.cautions)
    unstoned = plan_of(ref, copper(coat(), fire(), fire(800.0)))
    assert unstoned.firings[-1].minutes.words != "about 1 min"
    assert not any("slurry" in c.text for c in unstoned.cautions)


def test_transparents_are_washed_and_opaques_are_not(ref):
    washed = words_of(plan_of(ref, copper(coat(), fire())))
    assert "Wash lead-free hard clear in clean water" in washed
    plain = words_of(plan_of(ref, copper(coat("white-opaque-lead-free"), fire())))
    assert "in clean water until it runs clear" not in plain
    assert "Wash lead-free hard opaque white" in words_of(
        plan_of(ref, copper(coat("white-opaque-lead-free", washed=True), fire()))
    )


def test_a_bare_face_that_scales_is_masked(ref):
    assert "scale-inhibiting" in words_of(plan_of(ref, copper(coat(), fire())))
    assert "scale-inhibiting" not in words_of(plan_of(ref, copper(coat(), coat(face="back"), fire())))
    assert "scale-inhibiting" not in words_of(plan_of(ref, copper(coat(), fire(), metal="fine-silver-sheet")))


def test_use_brings_its_cautions(ref):
    def cautions(use: str) -> str:
        return " ".join(c.text for c in plan_of(ref, copper(coat(), fire(), use=use)).cautions)

    assert "mouth and swallow" in cautions("child")
    assert "food contact" in cautions("food")
    assert "mouth and swallow" not in cautions("adult")


def test_glass_is_never_quenched_and_no_drop_is_called_safe(ref, demo):
    for key in metal_keys(ref):
        words = words_of(plan_of(ref, replace(demo, base=Base(key, Band.exact(0.8e-3))))).lower()
        assert "never quench or chill a piece that carries glass" in words
        assert "safe drop" not in words
        assert "safe to quench" not in words


def test_a_join_is_told_with_its_melting(ref):
    steps = (Step(0, "join", solder="gold-solder-22-ct"), coat(), fire())
    words = words_of(plan_of(ref, copper(*steps)))
    solidus = ref.rows("SELECT solidus_c FROM solders WHERE key = 'gold-solder-22-ct'")[0]["solidus_c"]
    assert f"begins to melt at {solidus:.0f} °C" in words
    assert "filter shade" in words
    glued = plan_of(ref, copper(coat(), fire(), Step(0, "join", solder="adhesive")))
    assert "Glue it." in " ".join(x.text for x in glued.after)
    assert "filter shade" not in words_of(glued)


def test_time_at_the_kiln_by_hand(ref):
    """By hand: two firings of 3 and 2 min, each with 0.5 to 2 min for the kiln to come back: 6 to 9 min, middle 7.5."""
    piece = copper(coat(), fire(minutes=3), coat(face="back"), fire(minutes=2), quantity=10)
    plan = plan_of(ref, piece)
    band = plan.kiln_minutes
    assert (band.low, band.value, band.high) == pytest.approx((6.0, 7.5, 9.0))
    assert any("60 to 90 min for all 10" in t.text for t in plan.times)


def test_nothing_fired_is_planned_too(ref):
    plan = plan_of(ref, copper(coat()))
    assert plan.firings == ()
    assert any(line.step == 1 for line in plan.after)


def test_the_container_takes_the_size_before_firing(ref):
    box = container_of("200x150x80 mm")
    fired = plan_of(ref, copper(coat(), fire(), metal="copper-sheet"), box).packed
    fresh = plan_of(ref, copper(coat(), fire(), metal="copper-clay"), box).packed
    assert fired is not None
    assert fresh is not None
    assert fresh.places[0].width_m > fired.places[0].width_m
    assert "not needed" in fired.note
    assert fresh.note == ""
    assert (fresh.spacing_m, fresh.carbon_m) == pytest.approx((0.013, 0.025))


def test_build_order_runs_from_front_to_back(ref, demo):
    build = plan_of(ref, demo).build
    kinds = [x.kind for x in build]
    assert kinds.count("metal") == 1
    assert kinds.count("leaf") == 1
    assert build[0].label.startswith("lead-free opal")
    assert [x.firing for x in build if x.kind != "metal"] == ["5", "5", "4", "3", "2", "1", "4"]
