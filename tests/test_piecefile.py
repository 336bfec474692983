"""The piece file: what is read from it, and one clear line for whatever is wrong with it."""

from __future__ import annotations

import pytest

from refdb.errors import BadInput, NotFound, RefdbError
from refdb.plan.piecefile import MOST_STEPS, parse_piece, read_piece
from refdb.plan.step_keys import STEP_KEYS
from refdb.quantities import Band

GOOD = """
[piece]
title = "Leaf pin"
width = "30 mm"
height = "20 mm"

[base]
metal = "copper-sheet"
thickness = "0.8 mm"

[[step]]
do = "coat"
glass = "clear-hard-lead-free"
thickness = "0.15 mm"

[[step]]
do = "fire"
kiln = "815 C"
"""


def fault_of(text: str, ref) -> RefdbError:
    """The fault of a text, checked to be one printable line that names the file."""
    with pytest.raises(RefdbError) as caught:
        parse_piece(text, ref, "own.toml")
    line = caught.value.line
    assert "\n" not in line
    assert all(c.isprintable() for c in line)
    assert len(line) < 420
    return caught.value


def test_what_is_read(ref):
    piece = parse_piece(GOOD, ref)
    assert (piece.title, piece.width_m, piece.height_m) == ("Leaf pin", 0.03, 0.02)
    assert (piece.quantity, piece.use, piece.shape) == (1, "adult", "flat")
    assert piece.base.metal == "copper-sheet"
    assert piece.base.thickness_m == Band.exact(0.8e-3)
    assert piece.base.fresh_thickness_m is None
    assert [s.do for s in piece.steps] == ["coat", "fire"]
    assert piece.steps[0].thickness_m == Band.exact(0.15e-3)
    assert piece.steps[1].kiln_c == pytest.approx(815)


def test_cards_of_a_clay_shrink(ref):
    """Four cards are 1.00 to 1.20 mm; fine silver clay keeps 88 to 92 % of it (common practice)."""
    piece = parse_piece(GOOD.replace("copper-sheet", "fine-silver-clay").replace("0.8 mm", "4 cards"), ref)
    assert piece.base.fresh_thickness_m is not None
    assert piece.base.fresh_thickness_m.low == pytest.approx(1.00e-3)
    assert piece.base.fresh_thickness_m.high == pytest.approx(1.20e-3)
    assert piece.base.thickness_m.low == pytest.approx(0.88e-3)
    assert piece.base.thickness_m.high == pytest.approx(1.104e-3)


def test_units_do_not_matter(ref):
    inches = GOOD.replace("30 mm", "3 cm").replace("815 C", "1499 F").replace("0.15 mm", "150 um")
    piece, other = parse_piece(GOOD, ref), parse_piece(inches, ref)
    assert other.width_m == pytest.approx(piece.width_m)
    assert other.steps[0].thickness_m.value == pytest.approx(piece.steps[0].thickness_m.value)
    assert other.steps[1].kiln_c == pytest.approx(815)


def test_siftings_stand_for_a_thickness(ref):
    """One sifted coat fuses to about 0.1 to 0.2 mm (common practice)."""
    piece = parse_piece(GOOD.replace('thickness = "0.15 mm"', "siftings = 2"), ref)
    assert piece.steps[0].siftings == 2
    assert (piece.steps[0].thickness_m.low, piece.steps[0].thickness_m.high) == pytest.approx((0.2e-3, 0.4e-3))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('thickness = "0.8 mm"', "", ("[base]", "thickness is missing")),
        ('thickness = "0.8 mm"', 'thickness = "-0.8 mm"', ("[base] thickness",)),
        ('thickness = "0.8 mm"', "thickness = 0.8", ("[base] thickness", "quotes")),
        ('thickness = "0.8 mm"', 'thickness = "0.8 kg"', ("[base] thickness", "kg")),
        ('thickness = "0.8 mm"', 'thickness = "815 C"', ("[base] thickness",)),
        ('thickness = "0.15 mm"', "", ("step 1", "thickness is missing", "siftings")),
        ('thickness = "0.15 mm"', 'thickness = "-0.15 mm"', ("step 1 thickness",)),
        ('thickness = "0.15 mm"', 'thickness = "0.15 mm"\nsiftings = 1', ("step 1", "one of them")),
        ('thickness = "0.15 mm"', "siftings = 0", ("step 1 siftings", "1 to 20")),
        ('thickness = "0.15 mm"', "siftings = true", ("step 1 siftings",)),
        ('do = "coat"', 'do = "caot"', ("step 1 do", "did you mean coat")),
        ('do = "coat"', 'do = "polish"', ("step 1 do", "coat, leaf")),
        ('do = "coat"', "", ("step 1 do", "is missing")),
        ('kiln = "815 C"', "", ("step 2", "kiln setting is missing")),
        ('kiln = "815 C"', 'kiln = "815"', ("step 2 kiln", "815 C")),
        ('kiln = "815 C"', 'kiln = "20 C"', ("step 2 kiln", "no kiln setting")),
        ('kiln = "815 C"', 'kiln = "815 C"\nminutes = 0', ("step 2 minutes", "0.1 to 60")),
        ('kiln = "815 C"', 'kiln = "815 C"\nface = "back"', ("step 2", "'face'")),
        ('width = "30 mm"', "", ("[piece]", "width is missing")),
        ('width = "30 mm"', 'width = "30 kg"', ("[piece] width",)),
        ('width = "30 mm"', 'width = "30 m"', ("[piece] width", "1 mm to 1 m")),
        ('width = "30 mm"', 'width = "30 mm"\nquantity = 0', ("[piece] quantity", "quantity of 0")),
        ('width = "30 mm"', 'width = "30 mm"\nquantity = 2.5', ("[piece] quantity",)),
        ('width = "30 mm"', 'width = "30 mm"\nuse = "toy"', ("[piece] use", "adult, child, food, display")),
        ('width = "30 mm"', 'width = "30 mm"\nwidht = "3 mm"', ("[piece]", "did you mean width")),
        ('width = "30 mm"', 'width = "30 mm"\narea = "6"', ("[piece] area", "cm2")),
        ('width = "30 mm"', 'width = "30 mm"\narea = "-6 cm2"', ("[piece] area",)),
        ('title = "Leaf pin"', "title = 5", ("[piece] title", "quotes")),
        ('title = "Leaf pin"', f'title = "{"x" * 300}"', ("[piece] title", "200")),
        ('glass = "clear-hard-lead-free"', "", ("step 1", "glass is missing")),
        ('glass = "clear-hard-lead-free"', 'glass = "clear-hard-lead-free"\ncoverage = 0', ("step 1 coverage",)),
        ('glass = "clear-hard-lead-free"', 'glass = "clear-hard-lead-free"\ncoverage = "140 %"', ("step 1 coverage",)),
        ('glass = "clear-hard-lead-free"', 'glass = "clear-hard-lead-free"\nwashed = "yes"', ("step 1 washed", "true")),
        ('glass = "clear-hard-lead-free"', 'glass = "clear-hard-lead-free"\nface = "top"', ("step 1 face", "front")),
        ('do = "coat"', 'do = "join"\nsolder = "tin-foil-glue"', ("step 1",)),
    ],
)
def test_what_is_wrong_is_named_with_its_place(ref, old, new, words):
    assert old in GOOD
    error = fault_of(GOOD.replace(old, new, 1), ref)
    assert isinstance(error, BadInput)
    assert error.line.startswith("own.toml")
    for word in words:
        assert word in error.line


@pytest.mark.parametrize(
    ("old", "new", "near"),
    [
        ("clear-hard-lead-free", "clear-hard-lead-fre", "clear-hard-lead-free"),
        ("clear-hard-lead-free", "copper-sheet", "not a glass"),
        ("copper-sheet", "coper-sheet", "copper-sheet"),
    ],
)
def test_unknown_material_with_near_names(ref, old, new, near):
    error = fault_of(GOOD.replace(old, new, 1), ref)
    assert isinstance(error, NotFound)
    assert error.exit_status == 3
    assert near in error.line


def test_unknown_solder_with_near_names(ref):
    join = '[[step]]\ndo = "join"\nsolder = "gold-solder-23-ct"\n\n[[step]]\ndo = "coat"'
    error = fault_of(GOOD.replace('[[step]]\ndo = "coat"', join, 1), ref)
    assert "gold-solder-22-ct" in error.line


def test_materials_are_named_as_people_say_them(ref):
    text = GOOD.replace('metal = "copper-sheet"', 'metal = "18 gauge copper"', 1).replace(
        'glass = "clear-hard-lead-free"', 'glass = "hard clear"', 1
    )
    named = parse_piece(text.replace('thickness = "0.8 mm"', 'thickness = "18 ga"', 1), ref)
    assert (named.base.metal, named.steps[0].glass) == ("copper-sheet", "clear-hard-lead-free")
    assert named.base.thickness_m.value == pytest.approx(1.024e-3, rel=1e-3)
    assert {place: one["typed"] for place, one in named.taken.items()} == {
        "[base] metal": "18 gauge copper",
        "step 1 glass": "hard clear",
    }
    with pytest.raises(BadInput, match="another thickness"):
        parse_piece(text, ref)
    without = parse_piece(text.replace('thickness = "0.8 mm"\n', "", 1), ref)
    assert without.base.thickness_m == named.base.thickness_m


@pytest.mark.parametrize(
    "text",
    [
        "[piece\n",
        "[piece]\ntitle = 'a\n",
        "x = = 1",
        "[piece]\nwidth = 30 mm",
        "\x00",
        '[piece]\ntitle = "a"\ntitle = "b"',
    ],
)
def test_what_is_no_toml_names_line_and_column(ref, text):
    line = fault_of(text, ref).line
    assert "not TOML" in line
    assert "line " in line or "end of document" in line


def test_deep_nesting_is_refused(ref):
    assert "not TOML" in fault_of("x = " + "[" * 100_000, ref).line


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "[piece]"),
        ('[piece]\nwidth = "3 cm"', "[base]"),
        ('[[step]]\ndo = "coat"\nglass = "clear-hard-lead-free"\n[piece]\nwidth = "3 cm"', "[base]"),
        ('[piece]\n[base]\nmetal = "copper-sheet"', "there is no step"),
        ("piece = 3\nbase = 4", "[piece]"),
        ("[piece]\n[base]\n[step]\n", "there is no step"),
        ("[piece]\n[base]\nstep = []\n", "known"),
        ("[piece]\n[base]\n[steps]\n", "did you mean step"),
    ],
)
def test_missing_tables(ref, text, words):
    assert words in fault_of(text, ref).line


def test_a_step_that_is_no_table(ref):
    whole = GOOD[: GOOD.index("[[step]]")]
    assert "step 2" in fault_of("step = [{do = 'stone'}, 3]\n" + whole, ref).line


def test_too_many_steps(ref):
    assert "1,002 steps" in fault_of(GOOD + '[[step]]\ndo = "stone"\n' * 1000, ref).line
    most = GOOD + '[[step]]\ndo = "stone"\n' * (MOST_STEPS - 2)
    assert len(parse_piece(most, ref).steps) == MOST_STEPS


def test_ten_megabytes(ref, tmp_path):
    path = tmp_path / "big.toml"
    path.write_text("# x\n" * 2_500_000)
    with pytest.raises(BadInput) as caught:
        read_piece(path, ref)
    assert "larger than 1 MB" in caught.value.line
    with pytest.raises(BadInput, match="longer than 1 MB"):
        parse_piece("# x\n" * 500_000, ref)


def test_files_that_cannot_be_read(ref, tmp_path):
    (tmp_path / "latin.toml").write_bytes('title = "Émail"'.encode("latin-1"))
    for path, words in (
        (tmp_path / "gone.toml", "cannot be read"),
        (tmp_path, "cannot be read"),
        (tmp_path / "latin.toml", "UTF-8"),
    ):
        with pytest.raises(BadInput) as caught:
            read_piece(path, ref)
        assert words in caught.value.line


def test_control_characters_in_a_title_are_harmless(ref):
    piece = parse_piece(GOOD.replace("Leaf pin", "\\u001b[31mLeaf\\u0007 pin"), ref)
    assert piece.title == "?[31mLeaf? pin"


def test_markup_in_a_title_is_kept_as_text(ref):
    assert parse_piece(GOOD.replace("Leaf pin", "<b>&"), ref).title == "<b>&"


def test_every_way_of_doing_has_its_keys():
    from refdb.judge.piece.steps import DOINGS

    assert set(STEP_KEYS) == set(DOINGS)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('metal = "copper-sheet"', 'metal = "silver"', ("[base] metal", "fine silver sheet", "say which")),
        ('glass = "clear-hard-lead-free"', 'glass = "clear-hardest"', ("step 1 glass", "clear-hard")),
        (
            'do = "coat"\nglass = "clear-hard-lead-free"\nthickness = "0.15 mm"',
            'do = "leaf"\nleaf = "gold-foils-24"',
            ("step 1 leaf", "gold-foil"),
        ),
        ('height = "20 mm"', 'height = "20 mm"\narea = "690 cm2"', ("[piece] area", "30 by 20 mm")),
        ('thickness = "0.8 mm"', 'thickness = "0.8 mm"\nfresh_width = "38 mm"', ("[base] fresh_width", "clay")),
    ],
)
def test_what_is_wrong_in_a_file_is_told_with_its_place(ref, old, new, words):
    assert old in GOOD
    with pytest.raises((BadInput, NotFound)) as told:
        parse_piece(GOOD.replace(old, new, 1), ref, "pin.toml")
    assert all(word in told.value.line for word in ("pin.toml", *words))


def test_a_mark_of_byte_order_and_an_empty_title_do_no_harm(ref, tmp_path):
    file = tmp_path / "pin.toml"
    file.write_text("\ufeff" + GOOD.replace('"Leaf pin"', '" "'), encoding="utf-8")
    assert read_piece(file, ref).title == "Untitled piece"
