"""Amounts without a piece file: what people type, and grams against a calculation by hand."""

from __future__ import annotations

import json
import re
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.plan.asked_amounts import coats_of, count_of, size_of
from refdb.plan.asked_cells import openings_of, recesses_of

ASKED = ("amounts", "12 pendants", "--size", "30x24 mm rectangle", "--coats")


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("12 pendants", 12),
        ("a dozen pendants", 12),
        ("two dozen", 24),
        ("6 pairs of earrings", 12),
        ("pair of earrings", 2),
        ("brooch", 1),
        ("twelve pendants", 12),
        ("twenty-five discs", 25),
        ("thirty two discs", 32),
        ("a hundred", 100),
        ("1,000 tiles", 1000),
    ],
)
def test_counts_are_read_as_they_are_said(text, count):
    assert count_of(text) == count


@pytest.mark.parametrize("text", ["pendants", "some earrings", "umpteen discs"])
def test_several_pieces_without_a_number_are_refused(text):
    """The nearest is one piece by its name: a brooch."""
    with pytest.raises(BadInput, match="no number of pieces"):
        count_of(text)


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("30x24 mm", (30, 24, False)),
        ("30 × 24mm", (30, 24, False)),
        ("30 by 24", (30, 24, False)),
        ("3 cm x 2,4 cm", (30, 24, False)),
        ("25 mm round", (25, 25, False)),
        ("1 in square", (25.4, 25.4, True)),
    ],
)
def test_sizes_are_read_as_they_are_said(text, size):
    wide, high, square = size_of(text)
    assert (wide * 1e3, high * 1e3, square) == pytest.approx(size)


def test_coats_are_read_as_they_are_said():
    clear, white, bare = coats_of("hard clear 0,2 mm both; 2 coats opaque white 60 % front unwashed, soft green back")
    assert (clear.glass, clear.faces, clear.thickness_m.value) == ("hard clear", ("front", "back"), pytest.approx(2e-4))
    assert (white.glass, white.layers, white.cover, white.washed) == ("opaque white", 2, pytest.approx(0.6), False)
    assert (bare.glass, bare.faces, bare.layers, bare.washed) == ("soft green", ("back",), 1, None)
    # One sifted coat.
    assert (bare.thickness_m.low, bare.thickness_m.high) == pytest.approx((1e-4, 2e-4))


@pytest.mark.parametrize(
    ("text", "mm"), [("my:jar-1 both", 0.15), ("my:jar-12 0.2 mm", 0.2), ("my:jar-1 2 coats", 0.15)]
)
def test_the_number_of_a_jar_is_no_thickness(text, mm):
    (coat,) = coats_of(text)
    assert (coat.glass, coat.thickness_m.value) == (text.split()[0], pytest.approx(mm * 1e-3))


def test_grams_are_area_times_thickness_times_density(refdb):
    """By hand: 12 × 2 faces × 7.2 cm² × 0.02 cm × the density that the store shows."""
    found = json.loads(refdb(*ASKED, "clear-hard-lead-free 0.2 mm both unwashed", "--json").out)
    shown = json.loads(refdb("show", "clear-hard-lead-free", "--json").out)
    density = next(v for v in shown["values"] if v["property"] == "density" and v["preferred"])
    powder = found["rows"][0]
    assert powder["needed"]["value"] == pytest.approx(12 * 2 * 7.2 * 0.02 * density["value"] / 1e3, rel=1e-4)
    assert powder["needed"]["value"] < powder["low"] <= powder["value"] <= powder["high"]
    assert [r["unit"] for r in found["rows"]] == ["g", "ml"]


def test_command_and_plan_of_a_file_agree(refdb, tmp_path):
    file = tmp_path / "piece.toml"
    file.write_text(
        '[piece]\ntitle = "Trial"\nquantity = 12\nwidth = "30 mm"\nheight = "24 mm"\n[base]\nmetal = "copper-sheet"\n'
        'thickness = "0.8 mm"\n[[step]]\ndo = "coat"\nface = "front"\nglass = "clear-hard-lead-free"\n'
        'thickness = "0.2 mm"\n[[step]]\ndo = "fire"\nkiln = "815 C"\n'
    )
    planned = json.loads(refdb("piece", "plan", str(file), "--json").out)
    asked = refdb("amounts", "12", "--size", "30x24", "--coats", "clear-hard-lead-free 0.2", "--json")
    grams = {k: json.loads(asked.out)["rows"][0][k] for k in ("low", "value", "high")}
    powder = next(a for a in planned["amounts"] if a["key"] == "clear-hard-lead-free")
    assert grams == {k: powder[k] for k in grams}


def test_more_pieces_take_more_and_one_screen_tells_it(refdb):
    few, many = (
        json.loads(refdb("amounts", n, "--size", "20", "--coats", "hard clear", "--json").out) for n in ("6", "12")
    )
    assert many["rows"][0]["value"] == pytest.approx(2 * few["rows"][0]["value"], rel=1e-4)
    out = refdb("amounts", "12", "--size", "20", "--coats", "hard clear both, opaque white").out
    assert "taken as" in out
    assert len(out.splitlines()) <= 24
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("0 pendants", "20 mm", "hard clear"), "number of pieces"),
        (("2.5", "20 mm", "hard clear"), "number of pieces"),
        (("12", "20x30x40", "hard clear"), "one or two lengths"),
        (("12", "3 m", "hard clear"), "no size of a small piece"),
        (("12", "20", "0.2 mm both"), "no glass is named"),
        (("12", "20", ";"), "no coats"),
        (("12", "20", "hard clear 0 %"), "covers nothing"),
    ],
)
def test_what_cannot_be_read_is_one_line(refdb, arguments, says):
    count, size, coats = arguments
    ran = refdb("amounts", count, "--size", size, "--coats", coats)
    assert (ran.status, ran.out) == (2, "")
    assert says in ran.err
    assert len(ran.err.splitlines()) == 1


# Cells

CELLS = ("amounts", "6 brooches", "--size", "30 mm", "--coats")


def rows_of(ran) -> dict[str, dict]:
    assert ran.status == 0, ran.err
    return {r["what"]: r for r in json.loads(ran.out)["rows"]}


def test_wire_is_as_long_and_as_heavy_as_it_is_by_hand(refdb):
    """By hand: 6 pieces of 120 mm, and what is cut off; 0.15 by 0.8 mm of silver at 10.49 g/cm³ (metal handbooks)."""
    ran = refdb(*CELLS, "hard clear", "--wire", "fine silver 0.15x0.8 mm, 120 mm; 24k gold 0.1x0.5 mm 8 cm", "--json")
    rows = rows_of(ran)
    silver = rows["Wire of fine silver sheet, 0.15 mm by 0.80 mm"]
    assert (silver["needed"]["value"], silver["unit"]) == (720, "mm")
    assert silver["low"] > 720
    told = re.search(r"weighs ([\d.]+) to ([\d.]+) g", silver["note"])
    for said, mm in zip(told.groups(), (silver["low"], silver["high"]), strict=True):
        assert float(said) == pytest.approx(0.015 * 0.08 * mm / 10 * 10.49, rel=0.01)
    assert rows["Wire of 24 carat gold, 0.10 mm by 0.50 mm"]["needed"]["value"] == pytest.approx(480)
    cells = json.loads(ran.out)["question"]["cells"]
    assert [(c["do"], c["length_mm"]) for c in cells] == [("wire", 120), ("wire", 80)]


def test_insets_are_counted_and_weighed(refdb):
    """By hand: 12 discs of gold of 3 by 0.5 mm are at most 12 x pi/4 x 0.3² x 0.05 cm³ x 19.3 g/cm³ = 0.82 g."""
    rows = rows_of(refdb(*CELLS, "hard clear", "--inset", "3 opaque white 4x0.8 mm; 2 gold-24k 3x0.5 mm", "--json"))
    gold = rows["Set in: 24 carat gold"]
    assert (gold["value"], gold["unit"]) == (12, "pieces")
    assert float(re.search(r"to ([\d.]+) g", gold["note"])[1]) == pytest.approx(0.82, abs=0.01)
    white = next(r for r in rows.values() if "white" in r["key"])
    assert (white["value"], white["unit"]) == (18, "pieces")


def test_glass_of_a_recess_has_its_own_line_and_fills_it_unless_its_thickness_is_said(refdb):
    """By hand: 6 x 7.07 cm² x 60 % x 0.03 cm x the density that the store shows."""
    asked = (*CELLS, "hard clear back; clear-hard-lead-free in recess", "--metal", "copper 1.5 mm")
    rows = rows_of(refdb(*asked, "--recess", "0.3 mm, 60 %", "--json"))
    shown = json.loads(refdb("show", "clear-hard-lead-free", "--json").out)
    density = next(v for v in shown["values"] if v["property"] == "density" and v["preferred"])["value"] / 1e3
    fill = rows["Glass to fill the recess level"]
    assert fill["value"] == pytest.approx(6 * 7.0686 * 0.6 * 0.03 * density, rel=1e-3)
    assert "the coats fill it level" in fill["note"]
    copper = rows["Copper sheet cut out, recess"]
    assert copper["value"] == pytest.approx(6 * 7.0686 * 0.6 * 0.03 * 8.93, rel=0.01)
    less = refdb(*CELLS, "hard clear 0.2 mm in the recess", *asked[-2:], "--recess", "0.3 mm 60 %", "--json")
    assert "the coats end 0.10 mm below the metal" in rows_of(less)["Glass to fill the recess level"]["note"]
    over = refdb(*CELLS, "hard clear 0.4 mm", *asked[-2:], "--recess", "0.3 mm, 50 %", "--json")
    # 0.4 mm over all is 0.15 mm in the mean within the recess and as much more on top.
    assert "stand 0.25 mm over the metal" in rows_of(over)["Glass to fill the recess level"]["note"]


def test_glass_in_openings_is_as_deep_as_the_metal_unless_it_is_said(refdb):
    asked = (*CELLS, "clear-for-silver in openings unwashed", "--metal", "fine silver 1 mm", "--opening", "5 mm 40 %")
    rows = rows_of(refdb(*asked, "--json"))
    glass = next(r for r in rows.values() if r["key"] == "clear-for-silver")
    inside = rows["Glass in the openings"]
    assert inside["value"] == pytest.approx(glass["needed"]["value"])
    assert rows["Fine silver sheet cut out, openings"]["value"] == pytest.approx(
        6 * 7.0686 * 0.4 * 0.1 * 10.49, rel=0.01
    )
    # Nothing is held by an agent there.
    assert not any(r["unit"] == "ml" for r in rows.values())


def test_cells_asked_and_those_of_a_file_agree(refdb, tmp_path):
    file = tmp_path / "piece.toml"
    file.write_text(
        '[piece]\ntitle = "Trial"\nquantity = 6\nwidth = "30 mm"\nheight = "30 mm"\n[base]\nmetal = "copper-sheet"\n'
        'thickness = "1.5 mm"\n[[step]]\ndo = "recess"\ndepth = "0.2-0.4 mm"\ncoverage = "60 %"\n[[step]]\n'
        'do = "wire"\nmetal = "gold-24k"\nthickness = "0.1 mm"\nheight = "0.5 mm"\nlength = "80 mm"\n[[step]]\n'
        'do = "inset"\nmetal = "gold-24k"\nthickness = "0.5 mm"\nsize = "3 mm"\ncount = 2\n[[step]]\ndo = "coat"\n'
        'glass = "clear-hard-lead-free"\nthickness = "0.3 mm"\nwithin = "recess"\n[[step]]\ndo = "fire"\n'
        'kiln = "815 C"\n'
    )
    planned = json.loads(refdb("piece", "plan", str(file), "--json").out)["amounts"]
    asked = refdb(
        *CELLS, "clear-hard-lead-free 0.3 in recess", "--metal", "copper 1.5 mm", "--recess", "0.2-0.4 mm 60 %",
        "--wire", "gold-24k 0.1x0.5 mm, 80 mm", "--inset", "2 gold-24k 3x0.5 mm", "--json",
    )  # fmt: skip
    found = rows_of(asked)
    assert {a["what"] for a in planned} == set(found)
    for row in planned:
        assert {k: row[k] for k in ("low", "value", "high")} == {
            k: found[row["what"]][k] for k in ("low", "value", "high")
        }


@pytest.mark.parametrize(
    ("more", "says", "status"),
    [
        (("--recess", "0.3 mm"), "no metal to cut into", 2),
        (("--metal", "copper", "--recess", "0.3 mm"), "no thickness with its unit", 2),
        (("--metal", "copper 1 mm", "--recess", "1.3 mm"), "1.3 mm deep in metal of 1 mm", 2),
        (("--metal", "copper 1 mm", "--recess", "0.3 mm; 0.2 mm"), "two recesses in one face", 2),
        (("--metal", "copper 1 mm", "--opening", "5 mm blue"), "'blue' says nothing here", 2),
        (("--metal", "copper 1 mm", "--opening", "5 mm 0 %"), "covers nothing", 2),
        (("--wire", "silver"), "no thickness by height", 2),
        (("--wire", "fine silver 0.1x0.5 mm"), "no length with its unit", 2),
        (("--wire", "0.1x0.5 mm 20 mm"), "no metal is named", 2),
        (("--wire", "zzqq 0.1x0.5 mm 20 mm"), "refdb: --wire: no base metal is called 'zzqq'; refdb metals", 3),
        (("--wire", "fine-silver-shet 0.1x0.5 mm 20 mm"), "refdb: --wire: no base metal is called", 3),
        (("--wire", "fine-silver-shet 0.1x0.5 mm 20 mm"), "did you mean fine-silver-sheet or", 3),
        (("--wire", "silver 0.1x0.5 mm 20 mm"), "refdb: --wire: 'silver' may be", 2),
        (("--inset", "0 opaque white 3x1 mm"), "0 is no number of insets", 2),
        (("--inset", "zzqq 3x1 mm"), "refdb: --inset: no glass or metal is called 'zzqq'; refdb glasses and", 3),
        (("--inset", "fine-silver-shet 3x1 mm"), "did you mean fine-silver-sheet or", 3),
        (("--inset", "opal-whte-x 3x1 mm"), "refdb: --inset: no glass or metal is called 'opal-whte-x'", 3),
        (("--inset", "opaque white 3x900 mm"), "no size of it", 2),
        (("--inset", ";"), "nothing is said", 2),
    ],
)
def test_cells_that_cannot_be_read_are_one_line(refdb, more, says, status):
    ran = refdb(*CELLS, "hard clear", *more)
    assert (ran.status, ran.out) == (status, "")
    assert says in ran.err
    assert len(ran.err.splitlines()) == 1


@pytest.mark.parametrize("where", ["recess", "the openings"])
def test_a_coat_in_what_is_not_there_is_refused(refdb, where):
    ran = refdb(*CELLS, f"hard clear in {where}", "--metal", "copper 1 mm")
    assert ran.status == 2
    assert "there is no recess in the front" in ran.err or "there are no openings" in ran.err


def test_unknown_glass_is_no_such_record(refdb):
    assert refdb("amounts", "12", "--size", "20", "--coats", "zzqq 0.2").status == 3


@given(st.text(max_size=40))
def test_anything_typed_is_read_or_refused(text):
    for read in (count_of, size_of, coats_of, recesses_of, openings_of):
        # Anything but a refusal of ours would be a traceback.
        with suppress(BadInput):
            assert read(text) or not text
