"""Amounts without a piece file: what people type, and grams against a calculation by hand."""

from __future__ import annotations

import json
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.plan.asked_amounts import coats_of, count_of, size_of

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


def test_unknown_glass_is_no_such_record(refdb):
    assert refdb("amounts", "12", "--size", "20", "--coats", "zzqq 0.2").status == 3


@given(st.text(max_size=40))
def test_anything_typed_is_read_or_refused(text):
    for read in (count_of, size_of, coats_of):
        # Anything but a refusal of ours would be a traceback.
        with suppress(BadInput):
            assert read(text)
