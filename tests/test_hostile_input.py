"""Whatever is typed, sent or written in a file is read, or refused in one printable line; nothing else comes of it."""

from __future__ import annotations

import json
import math
import os
import sys
from pathlib import Path

import pytest
from browse_client import Outline
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb import quantities as q
from refdb.browse.server.upload import body_of
from refdb.cli import output
from refdb.errors import BadInput, RefdbError
from refdb.plan.piecefile import parse_piece, read_piece
from refdb.quantities import Band, Thickness
from refdb.science.glass.composition import normalise, parse_composition
from refdb.store.reference import Reference
from refdb.store.workshop.cells import iso_date
from refdb.store.workshop.rows import Cells
from refdb.store.workshop.schema import OWN

LONG, LONGER = "9" * 400, "0x" + "f" * 6000
PIECE = """
[piece]
width = "30 mm"
height = "20 mm"
{piece}
[base]
metal = "copper-sheet"
thickness = "0.8 mm"
{base}
[[step]]
do = "coat"
glass = "clear-hard-lead-free"
{coat}
[[step]]
do = "fire"
kiln = "815 C"
{fire}
"""
QUANTITIES = {
    "length": q.length_m,
    "thickness": q.thickness,
    "area": q.area_m2,
    "mass": q.mass_kg,
    "time": q.duration_min,
    "temperature": q.temperature_c,
    "difference": q.temperature_difference_k,
    "differences": q.temperature_difference_band_k,
    "span": q.span_c,
    "expansion": q.expansion_per_k,
    "fraction": q.fraction,
    "fractions": q.fraction_band,
    "composition": parse_composition,
}


def refused(read, *arguments, kind=BadInput, **named):
    """The line of the refusal, checked to be one that can be shown."""
    with pytest.raises(kind) as caught:
        read(*arguments, **named)
    assert caught.value.line.isprintable()
    assert len(caught.value.line) < 420
    return caught.value


def value_or_line(read, *arguments, most=420):
    """What was read, or None after a refusal in one line that can be shown; any other error goes through."""
    refusal = None
    try:
        return read(*arguments)
    except RefdbError as error:
        refusal = error
    assert refusal.line.isprintable()
    assert len(refusal.line) < most
    return None


def piece_text(**parts):
    parts = {"piece": "", "base": "", "coat": "", "fire": ""} | parts
    if "thickness" not in parts["coat"]:
        parts["coat"] += '\nthickness = "0.15 mm"'
    return PIECE.format(**parts)


# --- quantities and compositions


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        *(
            ("length", t)
            for t in (
                "１２ mm",
                "1２ mm",
                "1٢ mm",
                "1_0 mm",
                "3 px",
                "3 pixel",
                "0.8 din",
                "1 da",
                "1 pica",
                "1 point",
                "1 css_pixel",
                "5 scaled_point",
                "1 hand",
                "0.001 l/cm^2",
                "1 mm mm/mm",
                "1 \ud800",
                "20 \u017fwg",
                "1 m\u0660m",
            )
        ),
        *(("thickness", t) for t in ("３ cards", "2-３ cards", "3 px", "0.1-0.2 px", "0.8 din", "3 card\u017f")),
        *(
            ("area", t)
            for t in (
                "1_0 cm2",
                "５ cm2",
                "٥ cm2",
                "5 c\u0660m2",
                "nan cm2",
                "5",
                "5 cm3",
                "0 cm2",
                "-5 cm2",
                "1-2 cm2",
                "5 px2",
            )
        ),
        *(("mass", t) for t in ("1 u", "1 Da", "１ g", "1 slug", "1_0 g", "3 electron_mass")),
        *(("time", t) for t in ("1 da", "1 das", "1 a", "３ min", "1 h ３0 min", "1_0 min", "1 fortnight")),
        *(("temperature", t) for t in ("８15 C", "8１5 C", "8_15 C", "815 px", "815\ud800 C")),
        *(("span", t) for t in ("20-４00 C", "２0-400 C", "20-4_00 C")),
        *(("fraction", t) for t in ("1 bit", "0.5 radian", "0.5 count", "５ %", "0.5 din")),
        *(("expansion", t) for t in ("1e-5 bit/K", "12e-6 px/px/K", "12 microradian/K", "１2 ppm/K", "12_0e-7/K")),
        *(
            ("composition", t)
            for t in (
                "SiO2 ４８, Na2O ５２",
                "SiO2 4８",
                "SiO2 4₈",
                "SiO2 ₄₈",
                "SiO2 4\u0668 Na2O 1",
                "SiO2 4_8",
                "SiO2 48\ud800",
                "SiO２ 48",
                "SiO2 1e999",
                "SiO2 ²",
            )
        ),
    ],
)
def test_what_nobody_means_is_refused(kind, text):
    refused(QUANTITIES[kind], text)


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        ("length", "2 ft", 0.6096),
        ("length", "1 yd", 0.9144),
        ("mass", "1 t", 1000.0),
        ("time", "1 week", 10080.0),
        ("area", "7.2 cm2", 7.2e-4),
        ("area", "720 mm^2", 7.2e-4),
        ("area", "7.2 cm²", 7.2e-4),
    ],
)
def test_what_people_type_is_still_read(kind, text, value):
    assert QUANTITIES[kind](text) == pytest.approx(value)


def test_figures_set_low_belong_to_formulas():
    assert parse_composition("SiO₂ 48, Na₂O −0") == {"SiO2": 48.0, "Na2O": 0.0}


_SCRIPTS = st.sampled_from("0123456789０９٣۴९₈²½.,-+−_eE %/^")
_UNITS = st.sampled_from(
    [
        "mm",
        "cm2",
        "µm",
        "in",
        "g",
        "C",
        "F",
        "K",
        "min",
        "h",
        "%",
        "ppm/K",
        "px",
        "din",
        "da",
        "cards",
        "ga",
        "to",
        "±",
        "SiO2",
        "Na2O",
        "B₂O₃",
        "CaF2",
        "wt",
        "mol",
        "radian",
        "ſ",
        "\u212a",
        "\ud800",
        "\udcff",
        "\x1b[31m",
        "\u202e",
        "\x00",
    ]
)
_TYPED = st.one_of(
    st.text(max_size=40),
    st.lists(st.one_of(_SCRIPTS, _UNITS), max_size=12).map("".join),
    st.lists(st.one_of(_SCRIPTS, _UNITS), max_size=12).map(" ".join),
)


def numbers_in(found):
    if isinstance(found, Thickness):
        found = found.band
    if isinstance(found, Band):
        return [found.value, found.low, found.high]
    if isinstance(found, dict):
        return list(found.values())
    return list(found) if isinstance(found, tuple) else [found]


@settings(deadline=None, max_examples=600)
@given(st.sampled_from(sorted(QUANTITIES)), _TYPED)
def test_typed_text_is_a_value_or_one_line(kind, text):
    found = value_or_line(QUANTITIES[kind], text)
    if found is None:
        return
    assert all(math.isfinite(number) for number in numbers_in(found))
    digits = [c for c in text if c.isdecimal()]
    assert all(c.isascii() for c in digits), "a number of another script was read"


@settings(deadline=None, max_examples=150)
@given(
    st.dictionaries(
        st.one_of(st.sampled_from(["SiO2", "Na2O", "CaO", "F"]), st.text(max_size=8)),
        st.one_of(st.floats(), st.integers(), st.just(10**400), st.just(-(10**5000)), st.text(max_size=5), st.none()),
        max_size=4,
    )
)
def test_a_composition_from_elsewhere_is_a_value_or_one_line(amounts):
    found = value_or_line(normalise, amounts)
    assert found is None or sum(found.amounts.values()) == pytest.approx(100.0)


# --- piece files


@pytest.mark.parametrize("number", [LONG, "-" + LONG, LONGER, "nan", "inf", "-inf", "-0.0", "1979-05-27"])
@pytest.mark.parametrize(
    ("part", "key"),
    [
        ("piece", "quantity"),
        ("piece", "title"),
        ("piece", "area"),
        ("piece", "rise"),
        ("piece", "shape"),
        ("base", "fresh_width"),
        ("coat", "coverage"),
        ("coat", "face"),
        ("coat", "washed"),
        ("coat", "thickness"),
        ("coat", "note"),
        ("fire", "minutes"),
    ],
)
def test_a_number_no_piece_can_have_is_refused(ref, part, key, number):
    refused(parse_piece, piece_text(**{part: f"{key} = {number}"}), ref, "own.toml")


@pytest.mark.parametrize("number", [LONG, LONGER, "-1", "21", "2.0"])
def test_siftings_are_a_small_whole_number(ref, number):
    text = piece_text(coat='thickness = "0.15 mm"').replace('thickness = "0.15 mm"', f"siftings = {number}")
    refused(parse_piece, text, ref, "own.toml")


@pytest.mark.parametrize(
    "text",
    [
        piece_text(piece='title = "a\ud800"'),
        piece_text(piece='title = "\\ud800"'),
        "\ud800",
        "\udcff = 1",
        piece_text(piece='area = "1_0 mm2"'),
        piece_text(piece='area = "１0 mm2"'),
        piece_text(piece='rise = "3 px"'),
        piece_text(coat='coverage = "４0 %"'),
        piece_text(fire='minutes = "３ min"'),
        "[" + "a" * 400_000 + "]\n[" + "a" * 400_000 + "]",
        "x = " + "9" * 5000,
        "[piece]\n" + '"\\u001b[31m" = 1\n[base]',
    ],
)
def test_a_text_no_piece_can_have_is_refused(ref, text):
    refused(parse_piece, text, ref, "own.toml", kind=RefdbError)


@pytest.mark.parametrize("name", ["a\x00b.toml", "a\ud800.toml", "no\udcffsuch\x1b[31m.toml"])
def test_a_file_name_no_system_has_is_refused(ref, name):
    refused(read_piece, Path(name), ref)


_VALUES = st.one_of(
    st.integers().map(str),
    st.floats().map(repr),
    st.sampled_from([LONG, LONGER, "true", "[]", "{}", "[[1]]", '""']),
    _TYPED.map(lambda text: json.dumps(text)),
    st.text(max_size=12),
)
_LINES = st.lists(
    st.tuples(
        st.sampled_from(
            [
                "title",
                "area",
                "quantity",
                "use",
                "shape",
                "rise",
                "face",
                "coverage",
                "washed",
                "minutes",
                "note",
                "metal",
                "fresh_width",
                "kiln",
                "solder",
                "a.b",
            ]
        ),
        _VALUES,
    ),
    max_size=2,
).map(lambda pairs: "\n".join(f"{key} = {value}" for key, value in pairs))


@settings(deadline=None, max_examples=250)
@given(_LINES, _LINES, _LINES, _LINES)
def test_any_piece_file_is_a_piece_or_one_line(store, piece, base, coat, fire):
    with Reference(store) as ref:
        text = piece_text(piece=piece, base=base, coat=coat, fire=fire)
        found = value_or_line(parse_piece, text, ref, "own.toml", most=600)
    assert found is None or (found.title.isprintable() and 1 <= found.quantity <= 100_000)


# --- rows of a person's own


@pytest.mark.parametrize("text", ["2024-W01-1", "２０２４-05-31", "2024-0５-31", "20240531", "2024-13-01", "\ud800"])
def test_no_date_is_no_date(text):
    refused(iso_date, text)


@settings(deadline=None, max_examples=200)
@given(st.lists(_TYPED, min_size=8, max_size=8))
def test_any_row_is_a_row_or_one_line(cells):
    names = ["name", "like", "expansion_ppm_per_k", "expansion_from_c", "expansion_to_c", "basis", "date", "note"]
    known = {"glass": ["clear-hard-lead-free"], "metal": ["copper-sheet"], "leaf": ["fine-silver-foil"]}
    row = value_or_line(Cells(OWN["glass"], names, known).row, cells)
    assert all(value.isprintable() for value in (row or {}).values() if isinstance(value, str))


@pytest.mark.parametrize("key", ["\ud800", "my:\ud800", "a\x00b", "x" * 100_000])
def test_a_key_that_is_no_text_is_refused(ref, key):
    for look_up in (ref.glass, ref.metal, ref.leaf):
        refused(look_up, key, kind=RefdbError)


# --- the command line


def test_zero_has_no_sign_in_json_and_nothing_steers_a_terminal(capsys):
    output.emit_json({"a": -0.0, "b": [{"c": (-0.0, 1.5)}], "d": "\ud800\x1b\x9b\u202e", "e": True, "f": -0.1})
    out = capsys.readouterr().out
    assert "-0.0" not in out
    assert all(c.isprintable() or c == "\n" for c in out)
    told = json.loads(out)
    assert told["d"] == "\ud800\x1b\x9b\u202e"
    assert (told["e"], told["f"], told["b"][0]["c"]) == (True, -0.1, [0.0, 1.5])


def test_zero_has_no_sign_in_csv(capsys):
    output.emit_csv([{"a": -0.0, "b": "x\ud800\x1b"}], ["a", "b"])
    assert capsys.readouterr().out == "a,b\n0.0,x??\n"


def test_halves_of_signs_and_control_characters_are_shown_as_question_marks(capsys):
    page = output.Page(80)
    page.line("a file \x1b[31mred\udcff")
    page.show()
    output.emit("x\ud800y\x07\n")
    assert capsys.readouterr().out == "a file ?[31mred?\nx?y?\n"


@pytest.mark.parametrize(
    ("option", "text"), [("--name", "jar\udcff"), ("--note", "n\udcff"), ("--name", "jar\x1b[31m")]
)
def test_a_name_of_ones_own_that_is_no_text_is_refused(mine, option, text):
    named = () if option == "--name" else ("--name", "Jar")
    ran = mine("mine", "add", "glass", *named, option, text, "--like", "clear-hard-lead-free")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.count("\n") == 1
    assert ran.err.rstrip("\n").isprintable()
    assert option in ran.err


@pytest.mark.skipif(sys.platform == "win32", reason="arguments are text there")
@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (("show", "\udced\udca0\udc80"), 3),
        (("suits", "clear-hard-lead-free", "\udcff\x1b[31m"), 3),
        (("suits", "clear-hard-lead-free", "copper-sheet", "--front", "1\udcff mm"), 2),
        (("piece", "check", "no\udcffsuch\x1b[31m.toml"), 2),
        (("estimate", "SiO2 ４８ \udcff"), 2),
    ],
)
@pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
def test_bytes_that_are_no_text_end_in_one_line(refdb_process, arguments, status, locale):
    ran = refdb_process(*arguments, settings={"LC_ALL": locale})
    assert ran.returncode == status
    assert ran.stdout == b""
    line, end, rest = ran.stderr.decode().partition("\n")
    assert (end, rest) == ("\n", "")
    assert line.isprintable()


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="names of files are text there")
def test_the_name_of_a_file_cannot_steer_the_terminal(refdb_process, tmp_path):
    path = os.fsencode(tmp_path) + b"/own\xff\x1b[31m\n.toml"
    with open(path, "w", encoding="utf-8") as file:
        file.write(piece_text(fire=f"minutes = {LONG}"))
    ran = refdb_process("piece", "check", os.fsdecode(path))
    assert (ran.returncode, ran.stdout, ran.stderr.count(b"\n")) == (2, b"", 1)
    assert ran.stderr.decode().rstrip("\n").isprintable()


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="names of files are text there")
def test_a_file_of_any_name_is_written_whole(refdb, tmp_path):
    path = tmp_path / "own\udcff\x1b[31m\n.toml"
    assert refdb("piece", "new", str(path)).status == 0
    sheet = tmp_path / "sheet.html"
    ran = refdb("piece", "plan", str(path), "--html", str(sheet))
    assert ran.status in (0, 1, 5), ran.err
    assert all(c.isprintable() or c == "\n" for c in ran.out)
    assert "</html>" in sheet.read_text(encoding="utf-8")


@pytest.mark.parametrize("port", ["１２", "1_2", "0", "65536", "-1", "9" * 400, "\udcff"])
def test_no_port_is_no_port(refdb, port):
    ran = refdb("browse", "--no-open", f"--port={port}")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert ran.err.rstrip("\n").isprintable()


# --- the pages


@pytest.mark.parametrize(
    "text",
    [
        piece_text(fire=f"minutes = {LONG}"),
        piece_text(coat=f"coverage = {LONGER}"),
        piece_text(piece=f"quantity = {LONGER}"),
        piece_text(piece='title = "\\ud800"'),
        piece_text(piece='area = "１0 mm2"'),
        piece_text(piece='rise = "3 px"'),
        "[" + "a" * 4000 + "]\n[" + "a" * 4000 + "]",
    ],
)
@pytest.mark.parametrize("sheet", [False, True])
def test_a_hostile_piece_is_refused_in_our_look(asking, text, sheet):
    mark = b"--mark\r\nContent-Disposition: form-data; name="
    body = mark + b'"file"; filename="own\x1b[31m.toml"\r\n\r\n' + text.encode() + b"\r\n"
    body += (mark + b'"as"\r\n\r\nsheet\r\n' if sheet else b"") + b"--mark--\r\n"
    headers = [(b"content-type", b"multipart/form-data; boundary=mark"), (b"content-length", str(len(body)).encode())]
    answer = asking.raw(b"/piece", method="POST", headers=headers, body=[body])
    assert answer.status == 400
    outline = Outline(answer.body)
    assert outline.faults == []
    assert len(outline.all("h1")) == 1
    assert "Traceback" not in answer.body
    assert "\x1b" not in answer.body


@pytest.mark.parametrize("length", ["²", "１２", "-1", "9" * 500, ""])
def test_a_length_that_is_no_number_is_passed_over(length):
    import asyncio

    async def receive():
        return {"type": "http.request", "body": b"abc"}

    assert asyncio.run(body_of(receive, length)) == b"abc"
