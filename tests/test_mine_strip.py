"""The strip test at the command line: from measures to an interval, and into a jar of one's own."""

from __future__ import annotations

import json
import math
import sqlite3

import pytest
from own_words import BOW, COPPER_STRIP

from refdb.errors import BadInput
from refdb.judge.own.strip_test import Measured, strip_of
from refdb.quantities.band import Band
from refdb.records import Metal
from refdb.science.inference.strip import read_strips
from refdb.science.inference.strip_table import bow_of_curvature
from refdb.science.plate import cool
from refdb.store.opening import open_reference
from refdb.store.reference import Reference

STRIP = ("mine", "strip", *COPPER_STRIP)


@pytest.fixture
def shelf(refdb, tmp_path, monkeypatch):
    """The command with a workshop of its own that holds one jar."""
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "mine.db"))
    made = refdb("mine", "add", "glass", "--name", "Jar 12", "--like", "clear-hard-lead-free", "--basis", "guess")
    assert made.status == 0, made.err
    return refdb


def answer(ran):
    assert ran.status == 0, ran.err
    return json.loads(ran.out)


@pytest.fixture
def known(store):
    with Reference(store) as ref:
        yield ref.glass("clear-medium-lead-free"), ref.metal("copper-sheet")


def test_a_strip_from_records_is_bent_and_read_back(known):
    """The plate's own bow for a chosen expansion, from the records' figures: back to 0.01 ppm/K."""
    from dataclasses import replace

    from refdb.science.expansion import glass_strain

    glass, metal = known
    measured = Measured(Band.exact(0.5e-3), Band.exact(0.3e-3), 0.1, 0.0)
    flat, notes = strip_of(glass, metal, measured, glass)
    coat = replace(flat.glass, strain=lambda t: glass_strain(t, 12.9e-6))
    bow = bow_of_curvature(cool([flat.metal, coat]).curvature_per_m, 0.1)
    found = read_strips([replace(flat, bow_m=bow)])
    assert found.value_per_k == pytest.approx(12.9e-6, abs=0.01e-6)
    assert found.low_per_k < 12.9e-6 < found.high_per_k
    assert "set point" in notes[-2]


def test_bands_become_errors_that_hold_nine_tenths(known):
    """By hand: half a band over 1.6449; of what is a share, that of the logarithms of its ends."""
    glass, metal = known
    strip, _ = strip_of(glass, metal, Measured(Band(0.5e-3, 0.45e-3, 0.55e-3), Band.exact(0.3e-3), 0.1, 1e-3), glass)
    flow, sets = metal.band("flow_stress"), glass.band("set_point")
    assert strip.errors.flow == pytest.approx(math.log(flow.high / flow.low) / 3.2898, rel=1e-4)
    assert strip.errors.set_k == pytest.approx((sets.high - sets.low) / 3.2898, rel=1e-4)
    assert strip.errors.metal_thickness == pytest.approx(math.log(0.55 / 0.45) / 3.2898, rel=1e-4)
    assert strip.errors.glass_thickness == pytest.approx(0.02 / 0.3)
    measured = Measured(Band.exact(0.5e-3), Band.exact(0.3e-3), 0.1, 1e-3, set_c=Band.exact(505.0))
    told, _ = strip_of(None, metal, measured, glass)
    assert (told.glass.set_c, told.errors.set_k) == (505.0, 10.0)


def test_a_metal_of_which_figures_are_missing_is_refused(known):
    glass, _ = known
    with pytest.raises(BadInput, match="flow stress"):
        strip_of(None, Metal("odd", "Odd", "", "", ""), Measured(Band.exact(5e-4), Band.exact(3e-4), 0.1, 1e-3), glass)


def test_the_page_tells_value_interval_what_dominates_and_how_to_measure(shelf):
    ran = shelf(*STRIP, *BOW, "--set-point", "510C")
    assert ran.status == 0, ran.err
    data = answer(shelf(*STRIP, *BOW, "--set-point", "510C", "--json"))
    value = data["expansion_ppm_per_k"]
    assert 11 < value["low"] < value["value"] < value["high"] < 16
    assert f"Expansion {value['value']:.2f} ppm/K, {value['low']:.2f} to {value['high']:.2f}" in ran.out
    assert data["dominates"] == next(iter(data["shares"]))
    assert f"interval from  {data['dominates']} " in ran.out
    assert "bow 4.40 mm" in ran.out
    assert "length 100 mm, straight from end to end" in ran.out
    assert "mean over 20 to 400" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80
    # The slope printed is the one that joins two bows.
    more = answer(shelf(*STRIP, "--bow", "4.6mm", "--set-point", "510C", "--json"))["expansion_ppm_per_k"]
    assert (more["value"] - value["value"]) * data["bow_mm_per_ppm_per_k"] == pytest.approx(0.2, rel=0.03)


def test_a_radius_says_the_same_as_its_bow(shelf):
    """By hand: an arc of radius 286.3 mm rises 286.3 - sqrt(286.3² - 50²) = 4.40 mm over 100 mm."""
    rise = 286.3 - math.sqrt(286.3**2 - 2500)
    by_radius = answer(shelf(*STRIP, "--radius", "286.3mm", "--json"))
    by_bow = answer(shelf(*STRIP, "--bow", f"{rise:.9f}mm", "--json"))
    assert by_radius["expansion_ppm_per_k"] == by_bow["expansion_ppm_per_k"]
    assert by_radius["bow_mm"] == pytest.approx(4.40, abs=0.005)


def test_a_known_set_point_narrows_the_interval(shelf):
    def width(*more):
        value = answer(shelf(*STRIP, *BOW, *more, "--json"))["expansion_ppm_per_k"]
        return value["high"] - value["low"]

    assert width("--set-point", "515C") < 0.8 * width()
    assert width("--bow-error", "0.6mm") > width()


def test_what_is_kept_becomes_the_jars_expansion_and_judges(shelf):
    kept = answer(shelf(*STRIP, *BOW, "--save", "my:jar-12", "--json"))
    assert kept["saved"] == "strip:1"
    row = answer(shelf("mine", "show", "my:jar-12", "--json"))
    text = json.dumps(row)
    assert "own test" in text
    value = kept["expansion_ppm_per_k"]
    verdict = answer(shelf("suits", "my:jar-12", "copper-sheet", "--json"))
    assert verdict["question"]["glass_expansion"]["ppm_per_k"]["value"] == pytest.approx(value["value"], abs=1e-3)
    assert verdict["question"]["glass_expansion"]["span_c"] == [20.0, 400.0]
    assert shelf("mine", "restore", "my:jar-12").status == 0
    assert answer(shelf("mine", "show", "my:jar-12", "--json"))["row"]["expansion_ppm_per_k"] is None


def test_strips_of_one_jar_are_read_together(shelf):
    """A strip after one that was kept: narrower than alone, and both are counted."""
    shelf(*STRIP, *BOW, "--set-point", "515C", "--save", "my:jar-12")
    second = (
        "mine",
        "strip",
        "--metal",
        "copper-sheet",
        "--metal-thickness",
        "0.8mm",
        "--glass-thickness",
        "0.15mm",
        "--length",
        "100mm",
        "--bow",
        "1.9mm",
        "--set-point",
        "515C",
        "--glass",
        "my:jar-12",
    )
    both, alone = answer(shelf(*second, "--json")), answer(shelf(*second, "--alone", "--json"))
    assert (both["strips"], alone["strips"]) == (2, 1)
    assert both["saved"] is None
    ends = [d["expansion_ppm_per_k"] for d in (both, alone)]
    assert ends[0]["high"] - ends[0]["low"] < ends[1]["high"] - ends[1]["low"]


def test_a_strip_keeps_its_own_errors(shelf):
    """Of bow and thicknesses, as they were told; an export and an import of it keep them too."""
    shelf(
        "mine",
        "strip",
        "--metal",
        "copper-sheet",
        "--metal-thickness",
        "0.48-0.52mm",
        "--glass-thickness",
        "0.3mm",
        "--length",
        "100mm",
        *BOW,
        "--bow-error",
        "0.4mm",
        "--save",
        "my:jar-12",
    )
    row = answer(shelf("mine", "show", "strip:1", "--json"))["row"]
    assert (row["bow_error_mm"], row["metal_low_mm"], row["metal_mm"], row["metal_high_mm"]) == pytest.approx(
        (0.4, 0.48, 0.5, 0.52)
    )
    assert (row["glass_mm"], row["glass_low_mm"], row["glass_high_mm"]) == (0.3, None, None)


def test_strips_are_combined_each_with_its_own_error(shelf, tmp_path):
    """Against the plate read backwards on the same two strips directly; and a poorer first strip helps less."""
    widths = {}
    second = (*STRIP, "--bow", "4.3mm", "--set-point", "515C", "--glass", "my:jar-12", "--json")
    for error in ("0.05mm", "1.5mm"):
        answer(shelf(*STRIP, *BOW, "--bow-error", error, "--set-point", "515C", "--save", "my:jar-12", "--json"))
        both = answer(shelf(*second))
        assert both["strips"] == 2
        widths[error] = both["expansion_ppm_per_k"]["high"] - both["expansion_ppm_per_k"]["low"]
        with open_reference() as ref:
            glass, metal = ref.glass("clear-hard-lead-free"), ref.metal("copper-sheet")
            strips = [
                strip_of(
                    glass,
                    metal,
                    Measured(Band.exact(0.5e-3), Band.exact(0.3e-3), 0.1, bow, 0.0, None, off, Band.exact(515.0)),
                    glass,
                )[0]
                for bow, off in ((4.4e-3, float(error[:-2]) * 1e-3), (4.3e-3, 1e-4))
            ]
        due = read_strips(strips)
        assert both["expansion_ppm_per_k"]["value"] == pytest.approx(due.value_per_k * 1e6, abs=0.01)
        assert both["expansion_ppm_per_k"]["high"] == pytest.approx(due.high_per_k * 1e6, abs=0.01)
        assert shelf("mine", "remove", f"strip:{len(widths)}").status == 0
    assert widths["1.5mm"] > 1.02 * widths["0.05mm"]


def test_a_strip_kept_before_errors_were_kept_has_the_usual_one(shelf, tmp_path):
    answer(shelf(*STRIP, *BOW, "--set-point", "515C", "--save", "my:jar-12", "--json"))
    second = (*STRIP, "--bow", "4.3mm", "--set-point", "515C", "--glass", "my:jar-12", "--json")
    told = answer(shelf(*second))
    with sqlite3.connect(tmp_path / "mine.db") as db:
        assert db.execute("SELECT bow_error_mm FROM strips").fetchall() == [(0.1,)]
        db.execute("UPDATE strips SET bow_error_mm = NULL")
    assert answer(shelf(*second)) == told


def test_what_is_kept_of_a_strip_can_be_imported(shelf, tmp_path):
    """What lies outside the columns' bounds is refused when it is kept, not when it comes back."""
    ran = shelf(*STRIP, *BOW, "--bow-error", "0.0001mm", "--save", "my:jar-12")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "--bow-error" in ran.err
    answer(shelf(*STRIP, *BOW, "--save", "my:jar-12", "--json"))
    shelf("mine", "export", str(tmp_path / "out"))
    ran = shelf("mine", "import", str(tmp_path / "out"), "--workshop", str(tmp_path / "other.db"))
    assert (ran.status, ran.err) == (0, "")


def test_strip_and_jar_are_kept_both_or_neither(shelf, tmp_path):
    """The jar is locked against change by a trigger; the strip must then not be there either."""
    with sqlite3.connect(tmp_path / "mine.db") as db:
        db.execute("CREATE TRIGGER no BEFORE DELETE ON glasses BEGIN SELECT RAISE(ABORT, 'no'); END")
    ran = shelf(*STRIP, *BOW, "--save", "my:jar-12")
    assert ran.status != 0
    assert len(ran.err.splitlines()) == 1
    with sqlite3.connect(tmp_path / "mine.db") as db:
        assert db.execute("SELECT count(*) FROM strips").fetchone() == (0,)
        assert db.execute("SELECT count(*) FROM glasses").fetchone() == (1,)


def test_a_strip_that_gave_way_says_so_and_advises(shelf):
    thin = (
        "mine",
        "strip",
        "--metal",
        "copper-sheet",
        "--metal-thickness",
        "0.1mm",
        "--glass-thickness",
        "0.3mm",
        "--length",
        "100mm",
        "--bow",
        "6mm",
    )
    told = answer(shelf(*thin, "--json"))
    assert not told["identifies"]
    assert told["metal_yielded"]
    assert told["advice"]["metal_mm"] > 0.1
    page = " ".join(shelf(*thin).out.split())
    assert "does not identify the expansion" in page
    assert f"{told['advice']['metal_mm']:.2f} mm of this metal with {told['advice']['glass_mm']:.2f} mm" in page


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("--bow", "60mm"), "more than half of the length"),
        (("--bow", "45mm"), "no glass between"),
        ((), "--bow"),
        ((*BOW, "--radius", "300mm"), "--bow"),
        (("--radius", "30mm"), "--radius"),
        ((*BOW, "--length", "0mm"), "--length"),
        ((*BOW, "--length", "-5mm"), "--length"),
        ((*BOW, "--metal-thickness", "0mm"), "--metal-thickness"),
        ((*BOW, "--glass-thickness", "-1mm"), "--glass-thickness"),
        ((*BOW, "--set-point", "30C"), "set point"),
        (("--bow", "4.4"), "--bow"),
        ((*BOW, "--bow-before", "70mm"), "bow before"),
        ((*BOW, "--width", "0mm"), "--width"),
        ((*BOW, "--bow-error", "-1mm"), "--bow-error"),
        ((*BOW, "--save", "clear-hard-lead-free"), "--save"),
        ((*BOW, "--save", "my:nothing"), "my:nothing"),
        ((*BOW, "--metal", "nothing"), "nothing"),
        ((*BOW, "--glass", "copper-sheet"), "copper-sheet"),
    ],
)
def test_bad_input_is_one_line(shelf, change, words):
    ran = shelf(*STRIP, *change)
    assert ran.status in (2, 3)
    assert ran.out == ""
    assert len(ran.err.splitlines()) == 1
    assert words in ran.err


def test_plain_terminals_get_plain_signs(shelf, monkeypatch):
    monkeypatch.setenv("LC_ALL", "C")
    ran = shelf(*STRIP, *BOW)
    assert ran.status == 0
    assert ran.out.isascii()


def test_a_dilatometers_figure_is_held_against_a_strip_with_the_transition_added(known):
    """A strip of 1.06 times the maker's figure agrees with it; the figure alone, as if effective, would not."""
    from dataclasses import replace

    from refdb.judge import limits
    from refdb.plan.own.strips import disagreement

    glass, _ = known
    found = 12.0e-6 * (1 + limits.TRANSITION_CONTRACTION[0])

    def told(source):
        jar = glass.with_expansion(Band.exact(12.0), (20.0, 400.0))
        values = tuple(replace(v, source=source) if v.property == "expansion" else v for v in jar.values)
        return disagreement(replace(jar, key="my:x", values=values), (found, found - 0.1e-6, found + 0.1e-6))

    assert told("own-makers-sheet") == ""
    assert "disagree" in told("own-test")
