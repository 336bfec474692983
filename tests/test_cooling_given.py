"""Slow cooling as a word of a fire: judged, planned, drawn, and found by the search for edits."""

from __future__ import annotations

import json
import tomllib

import pytest
from browse_client import Outline
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.browse.pages.builder_forms import step_of, words_of
from refdb.browse.server.packed import packed, unpacked
from refdb.errors import BadInput
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.piece.verdict import judge_piece
from refdb.pictures.firings import FiringBlock, firing_blocks
from refdb.plan.allowances import Allowances
from refdb.plan.bench_sheet import bench_sheet
from refdb.plan.improve import improve_text
from refdb.plan.kiln_day import kiln_day
from refdb.plan.piecefile import MOST_COOLING_MIN, parse_piece
from refdb.plan.schedule import plan_of
from refdb.plan.sheet import sheet
from refdb.plan.sketch import Sketch
from refdb.store.reference import Reference

HARD = "clear-hard-lead-free"


def text(*firings: tuple[float, float, str], mm: float = 3.0, width: str = "30 mm") -> str:
    """A disc of copper with firings of so much glass on the front and on the back [mm], each with its cooling."""
    steps: list[dict] = []
    for front, back, cooling in firings:
        steps += [{"do": "clean"}, {"do": "clean", "face": "back"}] if not steps else []
        for face, thick in (("front", front), ("back", back)):
            if thick:
                steps.append({"do": "coat", "face": face, "glass": HARD, "thickness": f"{thick} mm"})
        steps.append({"do": "fire", "kiln": "820 C"} | ({"cooling": cooling} if cooling else {}))
    sketch = Sketch(
        {"title": "disc", "width": width, "height": "30 mm"},
        {"metal": "copper-sheet", "thickness": f"{mm} mm"},
        steps=tuple(steps),
    )
    return sketch.text


def lacking(ref, written: str) -> list:
    return [r for r in judge_piece(ref, parse_piece(written, ref)).reasons if r.rule == "slow-cooling"]


@pytest.mark.parametrize("face_mm", [0.8, 1.5, 3.0])
def test_what_suffices_is_silent_and_one_minute_less_speaks_with_what_is_needed(ref, face_mm):
    (bare,) = lacking(ref, text((face_mm, face_mm, "")))
    least = bare.values["minutes"]
    assert bare.case == ""
    assert lacking(ref, text((face_mm, face_mm, f"{least} min"))) == []
    (short,) = lacking(ref, text((face_mm, face_mm, f"{least - 1} min")))
    assert (short.case, short.values["given_min"], short.values["minutes"]) == ("short", least - 1, least)
    told = next(
        t for t in judge_piece(ref, parse_piece(text((face_mm, face_mm, "1 min")), ref)).told if t.key == short.rule
    )
    assert f"over {least} min or more" in told.remedy
    assert told.head == f"1 min of slow cooling is too short for thick glass: it wants {least} min"


def test_each_fire_is_judged_by_the_glass_that_is_on_it_then(ref):
    found = lacking(ref, text((0.5, 0.5, ""), (0.5, 0.5, ""), (0.5, 0, "")))
    # Steps: two cleanings, two coats and a fire; two coats and a fire; one coat and a fire.
    assert [r.subject.step for r in found] == [8, 10]
    assert found[0].values["minutes"] <= found[1].values["minutes"]
    assert [r.subject.step for r in lacking(ref, text((0.5, 0.5, ""), (0.5, 0.5, "1 h"), (0.5, 0, "")))] == [10]


def test_a_wide_piece_is_given_its_minutes_too(ref):
    (wide,) = lacking(ref, text((0.15, 0.15, ""), width="200 mm", mm=0.8))
    assert (wide.case, wide.values["minutes"]) == ("wide", 10)
    (short,) = lacking(ref, text((0.15, 0.15, "9 min"), width="200 mm", mm=0.8))
    assert short.case == "wide-short"
    assert lacking(ref, text((0.15, 0.15, "10 min"), width="200 mm", mm=0.8)) == []


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ('"25"', "has no unit"),
        ('"-3 min"', "not a duration above zero"),
        ('"20 s"', "0.333333 minutes of slow cooling"),
        ('"8 d"', "give 1 to 10,080, or leave it out"),
        ("true", "not a text"),
        ("1e400", "minutes of slow cooling"),
        ('"some"', "does not start with a number"),
    ],
)
def test_a_cooling_that_cannot_be_is_refused_in_one_line(ref, said, words):
    with pytest.raises(BadInput) as caught:
        parse_piece(text((0.2, 0.2, "7 min")).replace('"7 min"', said), ref)
    assert words in caught.value.line
    assert "step 5 cooling" in caught.value.line
    assert "\n" not in caught.value.line


@settings(max_examples=30, deadline=None)
@given(st.floats(1, MOST_COOLING_MIN))
def test_a_cooling_survives_file_form_and_address(store, minutes):
    shown = f"{minutes:.2f}"
    step = step_of("fire", {"kiln": "820", "cooling": shown}, {})
    assert step == {"do": "fire", "kiln": "820 C", "cooling": f"{shown} min"}
    assert f"cooled slowly over {shown} min" in words_of(step, {})[1]
    sketch = Sketch.of(text((0.2, 0.2, ""))).with_changed(5, step)
    assert Sketch.of(unpacked(packed(sketch.text))) == sketch
    with Reference(store) as ref:
        for form in (sketch.text, sketch.text.replace(f'"{shown} min"', shown)):
            assert parse_piece(form, ref).steps[4].cooling_min == pytest.approx(float(shown))


def test_the_plan_keeps_the_kiln_shut_and_counts_the_time(ref):
    air, slow = (plan_of(ref, parse_piece(text((1.0, 1.0, x)), ref)) for x in ("", "40 min"))
    assert [f.cooling for f in air.firings] == [None]
    (firing,) = slow.firings
    assert firing.cooling.minutes == 40
    notes = " ".join(line.text for line in firing.notes)
    assert (
        f"let the closed kiln fall from {firing.cooling.high_c:.0f} to {firing.cooling.low_c:.0f} °C over 40 min"
        in notes
    )
    # 3 to 12 hours until a closed kiln is cold, by the row of practice.
    assert slow.kiln_minutes.low - air.kiln_minutes.low == pytest.approx(40 + 180)
    assert slow.kiln_minutes.high - air.kiln_minutes.high == pytest.approx(40 + 720)
    assert slow.as_dict()["firings"][0]["cooling"] == firing.cooling.as_dict()
    assert "cooling" not in air.as_dict()["firings"][0]
    between = " ".join(line.text for line in slow.between)
    assert "it cools in the closed kiln" in between
    assert "still air" not in between


def test_a_kiln_that_another_firing_follows_heats_up_again(ref):
    once, twice = (plan_of(ref, parse_piece(text((0.9, 0.9, x), (0.1, 0.1, "40 min")), ref)) for x in ("", "40 min"))
    # 30 to 90 min to heat up a small kiln, by the row of practice.
    assert twice.kiln_minutes.low - once.kiln_minutes.low == pytest.approx(40 + 180 + 30)
    assert twice.kiln_minutes.high - once.kiln_minutes.high == pytest.approx(40 + 720 + 90)


def test_both_sheets_and_the_picture_of_the_firings_show_it(ref):
    made = parse_piece(text((0.2, 0.2, ""), (0.8, 0.8, "25 min")), ref)
    plan, verdict = plan_of(ref, made), judge_piece(ref, made)
    for page in (bench_sheet(plan, verdict), sheet(plan, verdict)):
        outline = Outline(page)
        assert outline.faults == []
        words = outline.text.replace("\u00a0", " ")
        assert "then 25" in words
        assert "slowly" in words
    bench = Outline(bench_sheet(plan, verdict)).text.replace("\u00a0", " ")
    assert "After firing 2 leave it in the closed kiln until it is cold, after the others in still air." in bench
    drawn = firing_blocks([FiringBlock(820, "a coat"), FiringBlock(820, "a coat", None, None, 25)], 950, "", "k", "t")
    assert drawn.count("25 min") == 2
    assert "then slow cooling over 25 min" in drawn
    assert "slow cooling" not in firing_blocks([FiringBlock(820, "a coat")], 950, "", "k", "t")


def test_a_day_at_the_kiln_with_slow_cooling_by_hand(refdb):
    """The day of `test_kiln_day` by hand, 2 loads, 2 rounds of 10 to 49.5 min as there; in the last one each load
    fires 2.5 min, cools 25 min and 3 to 12 h, and between the two the kiln heats up for 30 to 90 min, as it did first:
    30 + 2 x 10 + 2 x 207.5 + 30 = 495, and 90 + 2 x 49.5 + 2 x 747.5 + 90 = 1774."""
    asked = ("kiln", "12 pendants", "--size", "30x24 mm", "--floor", "120x100 mm", "--minutes", "2.5")
    found = json.loads(refdb(*asked, "--cooling", "25", "--json").out)
    assert (found["all_min"]["low"], found["all_min"]["high"]) == (495.0, 1774.0)
    assert (found["slow_cooling_min"]["low"], found["slow_cooling_min"]["high"]) == (205.0, 745.0)
    assert "keeps the kiln shut for 205 to 745 min" in " ".join(refdb(*asked, "--cooling", "25 min").out.split())
    assert refdb(*asked, "--cooling", "never").status == 2


@settings(max_examples=20, deadline=None)
@given(count=st.integers(1, 40), fires=st.integers(1, 5), minutes=st.floats(1, 600), more=st.floats(0.1, 600))
def test_longer_cooling_never_finishes_more(store, count, fires, minutes, more):
    with Reference(store) as ref:
        allowed = Allowances(ref)

    def day(cooling_min: float | None):
        return kiln_day(allowed, count, (0.03, 0.024), (0.12, 0.1), fires, time_min=2000, cooling_min=cooling_min)

    air, short, long = day(None), day(minutes), day(minutes + more)
    assert all(a >= b >= c for a, b, c in zip(air.done, short.done, long.done, strict=True))
    assert short.all.low < long.all.low
    assert long.all.low - short.all.low == pytest.approx(more * short.loads)


# Edits


@pytest.mark.parametrize("face_mm", [0.8, 1.5, 3.0])
def test_thick_glass_is_improved_until_it_cools_slowly_enough_and_no_less_would_do(ref, face_mm):
    written = text((0.2, 0.2, ""), (face_mm - 0.2, face_mm - 0.2, ""))
    (bare,) = lacking(ref, written)
    found = improve_text(ref, written)
    assert not any(r.rule == "slow-cooling" for r in found.after.reasons)
    before, after = tomllib.loads(written)["step"], tomllib.loads(found.text)["step"]
    assert "cooling" not in after[4]
    said = after[7]["cooling"]
    given_min = parse_piece(found.text, ref).steps[7].cooling_min
    assert bare.values["minutes"] <= given_min < bare.values["minutes"] + 5
    assert any(f"{given_min:.0f} min of slow cooling" in edit.words for edit in found.edits)
    # With one minute less than the least it is not mended, whatever else was changed with it.
    less = found.text.replace(f'"{said}"', f'"{bare.values["minutes"] - 1} min"')
    assert [r.case for r in lacking(ref, less)] == ["short"]
    assert {k: v for k, v in after[7].items() if k != "cooling"} == before[7]


def test_a_cooling_that_is_too_short_is_lengthened_in_its_place(ref):
    found = improve_text(ref, text((1.0, 1.0, "2 min")))
    assert len(found.edits) == 1
    assert found.text.count("cooling") == 1
    assert not any(r.rule == "slow-cooling" for r in found.after.reasons)


def test_a_coat_is_made_thinner_where_that_mends_more(ref):
    """A coat of 0.41 mm is too much at once and brings the glass to 1.56 mm: 0.35 mm mends both."""
    written = text((0.3, 0.3, ""), (0.25, 0.3, ""), (0.41, 0, ""), mm=3.0)
    assert lacking(ref, written)
    found = improve_text(ref, written)
    assert not any(r.rule == "slow-cooling" for r in found.after.reasons)
    assert "cooling" not in found.text
    assert [e.words for e in found.edits] == [f"0.35 mm of {HARD} in step 9"]


def test_a_piece_that_may_cool_in_air_is_given_no_slow_cooling(ref):
    thin = text((0.15, 0.15, ""), mm=0.8)
    assert improve_text(ref, thin).text == thin


def test_a_question_tells_its_last_fire_once(ref):
    asked = suits(ref, HARD, "copper-sheet", metal_thickness_m=3e-3, front_m=1e-3, back_m=1e-3)
    (told,) = (r for r in asked.reasons if r.rule == "slow-cooling")
    assert told.subject.step is None
    assert told.values["total_mm"] == pytest.approx(2.0)
