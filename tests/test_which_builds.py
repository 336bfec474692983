"""Which builds hold: against the verdict on each, by laws that have to hold, and as people ask."""

from __future__ import annotations

import json
import random
import shlex
import subprocess
import sys
from contextlib import suppress
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refdb.curate.builds import as_csv, ratios, rows_of
from refdb.errors import BadInput
from refdb.judge.fit.answer import followed
from refdb.judge.fit.build import ORDERS, Build
from refdb.judge.fit.build_map import build_map
from refdb.judge.fit.builds import builds
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.fit.many import shares_of
from refdb.judge.fit.one_face import FIRST_COATS_MM, Ratio, inputs_of, one_face_ratio
from refdb.judge.fit.question import Question
from refdb.judge.fit.ratios import folded, made_for, ratios_on
from refdb.judge.fit.wishes import Range, Wishes, wishes_of
from refdb.judge.limits import HOLDS_BELOW
from refdb.judge.needs import missing_figures
from refdb.judge.piece.shared import Shared
from refdb.judge.piece.verdict import findings_of, sample, verdict_of
from refdb.judge.reason import NOT, outcome_of
from refdb.quantities import Band
from refdb.records import Glass
from refdb.store.reference import Reference

CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"
STALE = "builds.csv is out of date: run scripts/make_builds.py"
MM = 1e-3


def coats(metal: float, front: float, back: float, first: float = 0.2, **more: object) -> Build:
    sizes = [Band.exact(mm * MM) for mm in (metal, front, back)]
    return Build(*sizes, first * MM, **more).checked()  # type: ignore[arg-type]


def fails(ref: Reference, glass: str, metal: str, build: Build) -> float:
    return shares_of([Question(ref.glass(glass), ref.metal(metal), build)])[0][2]


def given_of(build: Build) -> dict[str, Any]:
    """A build as a program gives it."""
    names = ("metal_m", "front_m", "back_m", "first_m", "shape", "order")
    return {"metal_thickness_m" if name == "metal_m" else name: getattr(build, name) for name in names}


# against the verdict on each


@pytest.mark.parametrize("seed", range(3))
def test_a_map_says_of_each_cell_what_the_verdict_says(ref, seed):
    chance = random.Random(seed)
    metal = ref.metal(
        chance.choice(["copper-sheet", "copper-clay", "fine-silver-sheet", "gilding-95-5", "gold-18k-yellow"])
    )
    glass = chance.choice([g for g in made_for(ref, metal) if not missing_figures(g, metal)])
    build = Build(
        Band.exact(chance.choice([0.3, 0.5, 0.8]) * MM),
        first_m=chance.choice([0.1, 0.2]) * MM,
        shape=chance.choice(["flat", "domed"]),
        order=chance.choice(["", *ORDERS]),
    )
    found = build_map(ref, glass, metal, build, (0.05, 0.2, 0.3, 0.5, 0.6), (0.0, 0.1, 0.3, 0.6))
    assert found is not None
    shared = Shared(ref)
    for front in range(5):
        for back in range(4):
            one = found.at(front, back)
            walked = followed(one.question)
            verdict = verdict_of(shared, walked, findings_of(shared, walked), sample([walked])[0], {})
            assert verdict.outcome == one.outcome, one.command
            assert one.holds == pytest.approx(1 - verdict.shares[NOT], abs=1e-9)
    one = found.one()
    assert suits(ref, glass, metal, **given_of(one.question.build)).outcome == one.outcome


def test_a_map_of_a_metal_that_is_refused_holds_nowhere(ref):
    found = build_map(ref, ref.glass(CLEAR), ref.metal("brass-70-30"), Build(), (0.2, 0.3), (0.0, 0.3))
    assert found is not None
    assert {row["verdict"] for row in found.rows()} == {NOT}
    assert {row["holds"] for row in found.rows()} == {0.0}
    assert found.refused_by == "brass-zinc"


def test_without_a_figure_there_is_no_map_and_no_ratio(ref):
    glass = ref.glass("painting-black")
    assert missing_figures(glass, ref.metal(COPPER))
    assert build_map(ref, glass, ref.metal(COPPER)) is None
    assert one_face_ratio(ref, glass, ref.metal(COPPER)) is None


@pytest.mark.parametrize(("glass", "metal"), [(CLEAR, COPPER), ("clear-soft-leaded", "fine-silver-sheet")])
def test_a_ratio_is_the_last_that_holds(ref, glass, metal):
    ratio = one_face_ratio(ref, ref.glass(glass), ref.metal(metal))
    assert ratio is not None
    for back, limit in ((0.2, ratio.first), (0.0, ratio.bare)):
        assert limit is not None
        at, beyond = (fails(ref, glass, metal, coats(0.2 / r, 0.2, back)) for r in (limit, limit + 0.01))
        assert at < HOLDS_BELOW <= beyond


@pytest.mark.parametrize("times", [0.25, 0.5])
def test_the_plate_has_no_length_of_its_own(ref, times):
    """Until energy counts, which grows with thickness, only ratios decide."""
    sizes = (0.45, 0.2, 0.1)
    whole, less = (fails(ref, CLEAR, COPPER, coats(*(mm * k for mm in sizes), 0.2 * k)) for k in (1.0, times))
    assert whole == less > 0


def test_front_and_back_are_alike_where_neither_is_first(ref):
    for front, back in ((0.5, 0.1), (0.3, 0.05), (0.6, 0.2)):
        one, other = (
            fails(ref, CLEAR, "copper-clay", coats(0.6, a, b, order="together"))
            for a, b in ((front, back), (back, front))
        )
        assert one == other


@given(
    pair=st.tuples(st.integers(0, 10**6), st.sampled_from(["copper-sheet", "copper-clay", "fine-silver-sheet"])),
    coat=st.floats(0.05, 0.4),
    ratio=st.floats(0.1, 0.95),
    thinner=st.floats(0.3, 0.99),
    thicker=st.floats(1.01, 3.0),
    bare=st.booleans(),
)
@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_thicker_metal_or_a_thinner_first_coat_never_holds_less_often(ref, pair, coat, ratio, thinner, thicker, bare):
    """Of glasses made for the metal, and of metal up to ten times the coat."""
    metal = ref.metal(pair[1])
    glasses = [g for g in made_for(ref, metal) if not missing_figures(g, metal)]
    glass, sheet = glasses[pair[0] % len(glasses)].key, coat / ratio

    def failing(coat: float, sheet: float) -> float:
        return fails(ref, glass, pair[1], coats(sheet, coat, 0.0 if bare else coat, 0.4))

    before = failing(coat, sheet)
    assert failing(max(coat * thinner, sheet * 0.1), sheet) <= before
    assert failing(coat, min(sheet * thicker, coat * 10)) <= before


# what is stored


@pytest.mark.parametrize("metal_key", ["copper-clay", "brass-85-15"])
def test_stored_ratios_are_what_the_calculation_gives(ref, metal_key):
    check_stored(ref, metal_key, glasses=("clear-soft-leaded", "window-soda-lime"))


@pytest.mark.slow
def test_every_stored_ratio_is_what_the_calculation_gives(ref):
    for metal in ref.materials("metal"):
        check_stored(ref, metal.key)


def check_stored(ref: Reference, metal_key: str, glasses: tuple[str, ...] = ()) -> None:
    metal = ref.metal(metal_key)
    stored = {row["glass"]: row for row in ref.builds(metal_key)}
    fresh = (
        {key: one_face_ratio(ref, ref.glass(key), metal) for key in glasses}
        if glasses
        else dict(ratios(ref, metal_key))
    )
    if not glasses:
        assert fresh.keys() == stored.keys(), STALE
    for key, ratio in fresh.items():
        assert ratio is not None
        row = stored[key]
        names = ("first_ratio", "first_even", "bare_ratio", "bare_even")
        for name, value in zip(names, (ratio.first, ratio.first_even, ratio.bare, ratio.bare_even), strict=True):
            # Another processor may round a draw to the other side of a limit.
            assert row[name] == (None if value is None else pytest.approx(value, abs=0.011)), (key, name, STALE)
        assert (row["refused_by"] or "") == ratio.refused_by, (key, STALE)


def test_own_and_changed_records_are_worked_out(ref):
    glass = ref.glass(CLEAR)
    stored = ratios_on(ref, ref.metal(COPPER), glass)[CLEAR]
    changed = glass.with_expansion(Band(15.5, 15.3, 15.7), (20.0, 400.0))
    assert inputs_of(changed) != inputs_of(glass)
    found = ratios_on(ref, ref.metal(COPPER), changed)[CLEAR]
    assert found != stored
    assert found.first is not None
    assert stored.first is not None
    assert found.first > stored.first, "a glass that shrinks more like copper is stretched less"


def test_the_file_has_a_row_for_each_pair_with_figures(ref, store):
    rows = rows_of(store, "titanium-sheet")
    assert {metal for _, metal, _ in rows} == {"titanium-sheet"}
    lines = as_csv([*reversed(rows)]).splitlines()
    assert lines[0].startswith("glass,metal,first_ratio")
    assert lines[1:] == sorted(lines[1:])
    wanted = {
        g.key for g in ref.materials("glass") if isinstance(g, Glass) and not missing_figures(g, ref.metal(COPPER))
    }
    assert {row["glass"] for row in ref.builds(COPPER)} == wanted


def test_classes_with_one_map_are_one_row(ref):
    metal = ref.metal(COPPER)
    classes, found = made_for(ref, metal), ratios_on(ref, metal)
    folds = folded(classes, found)
    assert 1 < len(folds) < 8
    told = [g.key for fold in folds for g in fold.glasses]
    assert sorted(told) == sorted(g.key for g in classes if g.key in found and found[g.key].first)
    for fold in folds:
        for ratio in fold.ratios:
            assert fold.first[0] <= (ratio.first or 0) <= fold.first[1]
            assert all(
                a >= (ratio.least_metal_mm(mm) or 0) for a, mm in zip(fold.least_metal_mm, FIRST_COATS_MM, strict=True)
            )


def test_least_metal_is_a_whole_step_and_holds(ref):
    ratio = ratios_on(ref, ref.metal(COPPER))[CLEAR]
    for mm in FIRST_COATS_MM:
        least = ratio.least_metal_mm(mm)
        assert least is not None
        assert round(least / 0.05, 6) % 1 == 0
        assert fails(ref, CLEAR, COPPER, coats(least, mm, mm)) < HOLDS_BELOW
    assert Ratio(0.5, None, None, None).least_metal_mm(0.2) == 0.4
    assert Ratio(None, None, None, None, "kiln").least_metal_mm(0.2) is None


# wishes


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("front at least 0.5 mm", {"front": Range(0.5 * MM)}),
        ("at least 0.5 mm of glass on the front", {"front": Range(0.5 * MM)}),
        ("front 0.3 mm", {"front": Range(0.3 * MM, 0.3 * MM)}),
        ("front 0.3-0.5 mm", {"front": Range(0.3 * MM, 0.5 * MM)}),
        ("no glass on the back", {"back": Range(0.0, 0.0)}),
        ("the back bare", {"back": Range(0.0, 0.0)}),
        ("bare back", {"back": Range(0.0, 0.0)}),
        ("kiln at most 800 °C", {"kiln_most_c": 800.0}),
        ("kiln up to 1472 F", {"kiln_most_c": 800.0}),
        ("two fires at most", {"fires_most": 2}),
        ("at most 3 firings", {"fires_most": 3}),
        ("clay of three cards", {"metal_text": "3 cards"}),
        ("metal at most 0.6 mm", {"metal": Range(0.0, 0.6 * MM)}),
        ("first coat 0.1 mm", {"first": Range(0.1 * MM, 0.1 * MM)}),
        ("Domed", {"shape": "domed"}),
        ("both faces together", {"order": "together"}),
        (
            "domed, two fires at most and front 0.3 mm",
            {"shape": "domed", "fires_most": 2, "front": Range(0.3 * MM, 0.3 * MM)},
        ),
        ("make it pretty", None),
        ("front", None),
        ("front blue", None),
        ("kiln at least 800 C", None),
        ("metal at most 3 cards", None),
        ("front at least 0.5 mm, front at most 0.3 mm", None),
        ("flat and domed", None),
        ("", None),
    ],
)
def test_wishes_are_read_or_refused(text, wanted):
    if wanted is None:
        with pytest.raises(BadInput):
            wishes_of([text])
        return
    found = wishes_of([text])
    assert not found.are_open
    for name, value in vars(replace(Wishes(in_words=True), **wanted)).items():
        held = getattr(found, name)
        if isinstance(value, Range):
            assert (held.least, held.most) == pytest.approx((value.least, value.most)), name
        else:
            assert held == (pytest.approx(value) if isinstance(value, float) else value), name


WORDS = (
    "front",
    "back",
    "at least",
    "at most",
    "0.5",
    "mm",
    "two",
    "fires",
    "kiln",
    ",",
    "and",
    "no glass on",
    "-1",
    "°",
)


@given(st.lists(st.sampled_from(WORDS)))
@settings(deadline=None)
def test_no_wish_breaks_the_reader(words):
    found = Wishes()
    with suppress(BadInput):
        found = wishes_of([" ".join(words)])
    assert found.front.least <= found.front.most


@pytest.mark.parametrize(
    ("metal", "glass", "wish"),
    [
        pytest.param(COPPER, CLEAR, "front at least 0.5 mm", marks=pytest.mark.slow),
        (COPPER, CLEAR, "no glass on the back, front 0.2 mm"),
        pytest.param(COPPER, CLEAR, "two fires at most, metal at most 0.6 mm", marks=pytest.mark.slow),
        ("copper-clay", CLEAR, "clay of three cards"),
        pytest.param(
            "fine-silver-sheet", "clear-for-silver", "front first, back at least 0.2 mm", marks=pytest.mark.slow
        ),
    ],
)
def test_what_is_found_is_as_wished_and_holds(ref, refdb, metal, glass, wish):
    wishes = wishes_of([wish])
    found = builds(ref, metal, glass, wish=wish)
    assert found
    for one in found:
        build = one.question.build
        assert build.front_m.value in wishes.front
        assert build.back_m.value in wishes.back
        assert build.metal_m.value in wishes.metal
        assert one.fires <= (wishes.fires_most or one.fires)
        assert wishes.order in ("", build.order)
        assert one.shares[2] < HOLDS_BELOW
    told = json.loads(refdb(*shlex.split(found[-1].command)[1:], "--json").out)
    assert told["verdict"] == found[-1].outcome == found.rows()[-1]["verdict"]
    order = [(x.question.build.metal_m.value, x.fires) for x in found]
    assert order == sorted(order)
    assert "builds that hold" in repr(found)
    assert [row["command"] for row in found.rows()] == [one.command for one in found]


def test_no_build_found_is_beaten_by_a_thinner_one(ref):
    """The thinnest metal found is the thinnest of all that the steps have, by asking every thinner one."""
    found = builds(ref, COPPER, CLEAR, wish="front 0.3 mm, back 0.3 mm, front first, first coat 0.2 mm")
    thinnest = found[0].question.build.metal_m.value * 1e3
    assert thinnest > 0.3
    tried = [mm / 20 for mm in range(6, round(thinnest * 20))]
    assert tried
    for mm in tried:
        assert fails(ref, CLEAR, COPPER, coats(mm, 0.3, 0.3, order="front-first")) >= HOLDS_BELOW


def test_what_cannot_be_met_names_what_refuses(ref):
    found = builds(ref, COPPER, CLEAR, wish="kiln at most 790 C, metal 0.8 mm")
    assert not found
    assert found.refused_by == "kiln"
    assert repr(found) == "<No builds that hold>"
    assert outcome_of((0.0, 0.0, 1.0)) == NOT


# the command


def test_a_look_up_loads_nothing_heavy(store):
    program = "import sys; from refdb.cli.main import main; main(sys.argv[1:]); print(*sys.modules, file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", program, "--store", str(store), "builds", COPPER],
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {name.partition(".")[0] for name in done.stderr.split()}
    assert "refdb" in loaded
    assert loaded & {"numpy", "pint", "sqlite_utils", "datasette", "rich"} == set()


def test_a_look_up_of_ratios_fits_a_screen(refdb):
    for metal in (
        "copper-sheet",
        "copper-clay",
        "fine-silver-sheet",
        "low-carbon-steel",
        "brass-70-30",
        "gold-18k-yellow",
    ):
        ran = refdb("builds", metal)
        assert ran.status == 0
        lines = ran.out.splitlines()
        assert len(lines) <= 24
        assert max(map(len, lines)) <= 80


def test_a_map_fits_a_screen_and_says_what_its_rows_say(refdb):
    asked = ("builds", COPPER, "--glass", CLEAR, "--metal-thickness", "0.6mm")
    lines = refdb(*asked).out.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    signs = {}
    backs = next(line.split("mm")[1].split() for line in lines if line.strip().startswith("back, mm"))
    for line in lines:
        head, *cells = line.split() or [""]
        if len(cells) == len(backs) and set(cells) <= set("#+."):
            signs |= {(float(head), float(back)): cell for back, cell in zip(backs, cells, strict=True)}
    rows = json.loads(refdb(*asked, "--json").out)["rows"]
    assert len(rows) == len(signs) > 80
    for row in rows:
        sign = signs[row["front_mm"], row["back_mm"]]
        assert sign == ("#" if row["holds"] > 0.9 else "+" if row["holds"] > 0.5 else ".")
    assert set(signs.values()) == set("#+.")


def test_a_thickness_alone_takes_the_class_that_stands_for_most(refdb):
    told = json.loads(refdb("builds", "copper-clay", "--metal-thickness", "3 cards", "--json").out)
    assert told["question"]["glass"]
    assert len(told["rows"]) > 80


def test_a_bare_front_has_its_glass_on_the_back(refdb):
    """What holds with the faces changed over holds as often: nothing tells the front of a flat piece from its back."""
    front, back = (
        json.loads(refdb("builds", COPPER, "--glass", "clear-hard-lead-free", "--wish", f"{face} bare", "--json").out)
        for face in ("front", "back")
    )
    assert front["rows"][0]["front_mm"] == 0 < front["rows"][0]["back_mm"]
    swapped = {"front_mm": "back_mm", "back_mm": "front_mm"}
    for one, other in zip(front["rows"], back["rows"], strict=True):
        assert {name: one[swapped.get(name, name)] for name in ("front_mm", "back_mm", "metal_mm", "holds")} == {
            name: other[name] for name in ("front_mm", "back_mm", "metal_mm", "holds")
        }
    assert "front bare, 0.30 back" in " ".join(
        refdb("builds", COPPER, "--glass", "clear-hard-lead-free", "--front", "0").out.split()
    )


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (("nonsuch",), 3),
        ((COPPER, "--glass", "nonsuch"), 3),
        ((COPPER, "--wish", "make it pretty"), 2),
        ((COPPER, "--front", "0", "--back", "0"), 2),
        ((COPPER, "--glass", "clear-hard-lead-free", "--front", "0", "--back", "0"), 2),
        ((COPPER, "--shape", "round"), 2),
        ((COPPER, "--front", "0.3mm", "--wish", "clay of 3 cards"), 2),
        ((COPPER, "--json", "--csv"), 2),
        (("brass-70-30", "--metal-thickness", "0.8mm"), 2),
    ],
)
def test_bad_input_is_one_line(refdb, arguments, status):
    ran = refdb("builds", *arguments)
    assert (ran.status, ran.out) == (status, "")
    assert len(ran.err.strip().splitlines()) == 1


def test_csv_and_json_hold_the_same_rows(refdb):
    for more in ((), ("--glass", CLEAR, "--front", "0.3mm", "--back", "0.3mm", "--metal-thickness", "0.8mm")):
        rows = json.loads(refdb("builds", COPPER, *more, "--json").out)["rows"]
        lines = refdb("builds", COPPER, *more, "--csv").out.splitlines()
        assert len(lines) == len(rows) + 1 > 1
        assert set(lines[0].split(",")) == rows[0].keys()
