"""Printing: widths, encodings, JSON, CSV, help pages, and what the pages of text say."""

from __future__ import annotations

import csv
import inspect
import io
import json
import re
import shlex
import sqlite3

import pytest

from refdb.cli.application import application
from refdb.cli.commands import COMMANDS, hoisted
from refdb.cli.output import Column, Page, in_fahrenheit, written_for
from refdb.records.printed import SCALES, sure

KEY, PAIR = "copper-sheet", ("suits", "clear-hard-lead-free", "copper-sheet")
PAGES = [
    (),
    ("--help",),
    ("metals",),
    ("glasses",),
    ("leaf",),
    ("find", "silver"),
    ("find", "turquoise-transparent"),
    ("sources",),
    ("sources", "crc-elements"),
    ("show", KEY),
    ("show", KEY, "--full"),
    ("glasses", "--on", "copper-sheet"),
    ("glasses", "--on", "copper-sheet", "--full"),
    ("clears", "fine-silver-foil", "--on", "copper-sheet"),
    ("show", "copper-clay"),
    ("show", "borosilicate-3-3"),
    ("show", "fine-silver-foil"),
    ("show", "painting-black"),
    ("show", "Ag Cu"),
    ("show", "crc-elements"),
    ("fault",),
    ("fault", "cracked", "and", "bubbled"),
    ("show", "gold-ruby-silver"),
    ("show", "clear-hard-copper-815-gloss"),
    ("practice",),
    ("practice", "copper"),
    ("practice", "solder"),
    ("cautions",),
    ("cautions", "copper-clay"),
    PAIR,
    (*PAIR, "--full"),
    ("suits", "yellow-opaque-antimony", "sterling-clay", "--metal-thickness", "3 cards"),
    ("verify",),
]
ROWS = [
    ("metals",),
    ("glasses",),
    ("leaf",),
    ("find", "silver"),
    ("sources",),
    ("sources", "crc-elements"),
    ("fault",),
    ("fault", "chipped"),
    ("practice",),
    ("practice", "copper"),
    ("cautions",),
]


def helps() -> dict[str, str]:
    """The help text of each command; compilers from Python 3.13 on take the common indent away themselves."""
    return {c.name: inspect.cleandoc(c.callback.__doc__) for c in application().registered_commands}


#: A command that holds others, and one that stays up until it is stopped.
GROUPS, SERVERS = {"mine", "piece", "pool"}, {"browse"}


def examples() -> list[str]:
    """Every example of every help page."""
    return [
        line.strip()
        for name, text in helps().items()
        if name not in SERVERS
        for line in text.splitlines()
        if line.startswith("  refdb ")
    ]


@pytest.mark.parametrize("setting", [{}, {"REFDB_UNITS": "studio"}, {"LC_ALL": "C"}])
@pytest.mark.parametrize("arguments", PAGES)
def test_no_line_is_wider_than_80_columns_in_a_pipe(refdb, monkeypatch, arguments, setting):
    for name, value in setting.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("COLUMNS", "200")
    ran = refdb(*arguments)
    assert ran.status in (0, 1, 5)
    assert ran.err == ""
    lines = ran.out.splitlines()
    assert len(lines) >= 2
    assert [line for line in lines if len(line) > 80] == []
    assert [line for line in lines if line != line.rstrip()] == []
    assert not set("│─┌└╭╰\x1b") & set(ran.out)
    if "LC_ALL" in setting:
        assert ran.out.isascii()


def test_a_terminal_is_filled_up_to_100_columns(monkeypatch):
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    for columns, width in ((40, 60), (72, 72), (90, 90), (300, 100)):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert Page().width == width


@pytest.mark.parametrize(
    "settings",
    [
        {"PYTHONIOENCODING": "ascii"},
        {"LC_ALL": "C"},
        {"PYTHONIOENCODING": "latin-1"},
        {"HOME": None},
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    ],
)
def test_any_encoding_and_no_home(refdb_process, settings):
    done = refdb_process("show", KEY, "--full", settings=settings)
    assert done.returncode == 0
    assert done.stderr == b""
    text = done.stdout.decode("utf-8")
    if "HOME" in settings:
        assert "solidus, °C" in text
    else:
        assert text.isascii()
        assert "solidus, degC" in text
        assert "?" not in text


def test_a_fault_in_ascii(refdb_process):
    done = refdb_process("show", "zoisité", settings={"PYTHONIOENCODING": "ascii:strict"})
    assert done.returncode == 3
    assert b"zoisite" in done.stderr
    assert done.stderr.count(b"\n") == 1


def test_module_runs_as_the_command(refdb_process):
    done = refdb_process("--version")
    assert done.returncode == 0
    assert re.fullmatch(rb"refdb \d+\.\d+\.\d+\S*\ndata of \d{4}-\d\d-\d\d\nfingerprint [0-9a-f]{64}\n", done.stdout)


@pytest.mark.parametrize(
    "arguments", [*ROWS, ("show", KEY), ("show", "crc-elements"), ("show", "Ag Cu"), PAIR, ("verify",)]
)
@pytest.mark.parametrize("ascii_only", [False, True])
def test_json_is_of_our_schema(refdb, monkeypatch, arguments, ascii_only):
    if ascii_only:
        monkeypatch.setenv("LC_ALL", "C")
    ran = refdb(*arguments, "--json")
    assert ran.status == 0
    assert ran.err == ""
    body = json.loads(ran.out, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    assert body["schema"] == "refdb/2"
    assert ran.out.isascii() or not ascii_only
    if arguments in ROWS:
        assert body["rows"]


@pytest.mark.parametrize("arguments", ROWS)
def test_csv_holds_the_rows_of_the_json(refdb, arguments):
    rows = list(csv.DictReader(io.StringIO(refdb(*arguments, "--csv").out)))
    found = json.loads(refdb(*arguments, "--json").out)["rows"]
    assert len(rows) == len(found) > 0
    for row, same in zip(rows, found, strict=True):
        assert None not in row
        for name, text in row.items():
            value = same[name]
            if isinstance(value, (int, float)) and not isinstance(value, bool):
                assert float(text) == value
            else:
                assert text == ("" if value is None else str(value))


def test_json_and_csv_do_not_change_with_units(refdb):
    for form in ("--json", "--csv"):
        assert refdb("metals", form).out == refdb("metals", form, "--units", "studio").out


def test_every_command_has_help_with_an_example():
    assert set(helps()) == set(COMMANDS) - GROUPS
    for name, text in helps().items():
        assert text.isascii()
        first = text.splitlines()[0]
        assert first.endswith(".")
        assert re.search(rf"^  refdb {name}( |$)", text, re.MULTILINE)


@pytest.mark.parametrize("name", list(COMMANDS))
def test_help_pages(refdb, name):
    ran = refdb(name, "-h")
    assert ran.status == 0
    assert ran.out == refdb(name, "--help").out
    assert f"Usage: refdb {name}" in ran.out
    assert name in GROUPS | SERVERS or "--json" in ran.out


@pytest.mark.parametrize("name", ["", *sorted(GROUPS)])
def test_no_command_is_told_in_half_a_sentence(refdb, name):
    listed = refdb(*name.split(), "-h").out.partition("Commands:")[2]
    assert listed
    assert "..." not in listed


def test_examples_are_found():
    assert len(examples()) >= len(helps())


@pytest.mark.parametrize("line", examples())
def test_every_example_works(refdb, tmp_path, monkeypatch, line):
    from conftest import SOURCES

    (tmp_path / "data_sources").symlink_to(SOURCES)
    monkeypatch.chdir(tmp_path)
    if "--piece moth.toml" in line:
        assert refdb("piece", "new", "moth.toml").status == 0
    ran = refdb(*shlex.split(line)[1:])
    assert ran.status == 0, ran
    assert ran.err == ""
    assert ran.out


def test_store_may_be_named_after_the_command(refdb, store):
    assert refdb("leaf", "--store", str(store), on="/nowhere.db").out == refdb("leaf").out
    assert hoisted(["find", "--", "--store", "x"]) == ["find", "--", "--store", "x"]
    assert hoisted(["a", "--store=x", "b", "--store", "y"]) == ["--store=x", "--store", "y", "a", "b"]


def test_completion_gives_keys_and_never_fails(refdb_process, tmp_path):
    asked = {"_REFDB_COMPLETE": "complete_bash", "COMP_WORDS": "refdb suits clear-h", "COMP_CWORD": "2"}
    done = refdb_process(settings=asked)
    assert done.returncode == 0
    assert done.stdout.decode().split() == ["clear-hard-lead-free", "clear-hard-leaded"]
    metal = asked | {"COMP_WORDS": "refdb suits clear-hard-leaded copper-c", "COMP_CWORD": "3"}
    assert refdb_process(settings=metal).stdout.decode().split() == ["copper-clay", "copper-clay-open"]
    bad = refdb_process(settings=asked | {"REFDB_STORE": str(tmp_path / "gone.db")})
    assert (bad.returncode, bad.stdout.strip(), bad.stderr) == (0, b"", b"")


def test_every_property_is_shown_in_its_own_unit(store):
    database = sqlite3.connect(store)
    rows = database.execute("SELECT key, unit, shown_unit FROM properties").fetchall()
    database.close()
    assert len(rows) > 20
    assert [r for r in rows if r[1] != r[2] and (r[1], r[2]) not in SCALES] == []


def test_scales_agree_with_the_unit_library():
    """Against pint, exactly but for rounding: what a stored value is multiplied by to be shown."""
    import pint

    units = pint.UnitRegistry()
    for (stored, shown), scale in SCALES.items():
        assert units.Quantity(1.0, stored).to(shown).magnitude == pytest.approx(scale, rel=1e-12)


def test_show_prints_the_stored_figures(refdb, store):
    database = sqlite3.connect(store)
    value, low, source = database.execute(
        "SELECT v.value, v.low, s.name FROM property_values v JOIN sources s ON s.key = v.source "
        "WHERE v.material = 'copper-sheet' AND v.property = 'youngs_modulus' AND v.preferred = 1"
    ).fetchone()
    count = database.execute("SELECT count(*) FROM property_values WHERE material = 'copper-sheet'").fetchone()[0]
    database.close()
    out = refdb("show", KEY, "--full").out
    modulus = out[out.index("Young's modulus, GPa") :]
    assert re.match(rf"Young's modulus, GPa\n  \* +{value / 1e9:g}  {low / 1e9:g} to .* {re.escape(source)}\n", modulus)
    figures = out[out.index("Figures") : out.index("Free expansion")]
    assert len(re.findall(r"(?m)^  [* ] {1,9}[\d.,]+  |^  [* ]  +[\d.,]+ to [\d.,]+  ", figures)) == count
    assert len(json.loads(refdb("show", KEY, "--json").out)["values"]) == count


def test_show_in_studio_units(refdb):
    assert re.search(r"solidus, °C\n  \* +1085 ", refdb("show", KEY, "--full").out)
    assert re.search(r"solidus, °F\n  \* +1984 ", refdb("show", KEY, "--full", "--units", "studio").out)


def test_show_says_what_is_not_known(refdb):
    out = refdb("show", "painting-black", "--full").out
    assert "thermal expansion" in out[out.index("Not known") : out.index("Sources")]
    assert json.loads(refdb("show", "painting-black", "--json").out)["not_known"][0] == "thermal expansion"
    assert "Nothing that a verdict needs is missing." in refdb("show", KEY, "--full").out


def test_everything_that_find_gives_can_be_shown(refdb):
    seen = set()
    for word in ("silver", "lead", "copper", "carbon", "zinc", "kiln"):
        for row in json.loads(refdb("find", word, "--json").out)["rows"]:
            if row["kind"] not in seen:
                seen.add(row["kind"])
                ran = refdb("show", row["key"])
                assert ran.status == 0, row
                assert ran.out
    assert len(seen) >= 8


def test_lists_can_be_narrowed(refdb):
    def keys(*arguments):
        return {row["key"] for row in json.loads(refdb(*arguments, "--json").out)["rows"]}

    every = keys("metals")
    clays = keys("metals", "--form", "clay")
    assert {"copper-clay", "fine-silver-clay"} <= clays < every
    assert "copper-sheet" not in clays
    assert keys("metals", "--family", "Stainless-Steel") == {"stainless-304", "stainless-430"}
    lead_free = keys("glasses", "--lead-free")
    assert "clear-hard-lead-free" in lead_free
    assert not {"clear-medium-leaded", "painting-black"} & lead_free
    hard = keys("glasses", "--hardness", "very-hard", "--lead-free")
    assert hard == {"borosilicate-3-3", "window-soda-lime"}
    text = refdb("glasses", "--hardness", "very hard", "--lead-free").out
    assert {w for w in text.split() if w in every | keys("glasses")} == hard
    assert "Nothing in the store" in refdb("metals", "--family", "titanium", "--form", "clay").out


def test_a_source_tells_what_rests_on_it(refdb, store):
    database = sqlite3.connect(store)
    count = database.execute("SELECT count(*) FROM property_values WHERE source = 'crc-elements'").fetchone()[0]
    database.close()
    assert f"figures ({count})" in refdb("sources", "crc-elements").out
    rows = json.loads(refdb("sources", "crc-elements", "--json").out)["rows"]
    assert sum(row["place"] == "figures" for row in rows) == count


def test_a_source_of_a_limit_says_so(refdb):
    assert "tension-lasting" in refdb("sources", "en-16612").out
    rows = json.loads(refdb("sources", "trade-calibrated", "--json").out)["rows"]
    assert {"gap", "pull-through"} <= {row["key"] for row in rows if row["place"] == "limits of a verdict"}
    assert "No row of the store is taken from it" in refdb("sources", "timoshenko-1925").out


def test_materials_called_by_the_word_are_found_first(refdb):
    rows = json.loads(refdb("find", "silver", "--json").out)["rows"]
    kinds = [row["kind"] in ("base metal", "glass", "leaf") for row in rows]
    assert 5 < sum(kinds) < len(kinds)
    assert kinds == sorted(kinds, reverse=True)
    assert "silver" in f"{rows[0]['key']} {rows[0]['title']}".lower()


@pytest.mark.parametrize("word", ["handled", "brass", "sterling", "steel"])
def test_what_find_prints_is_words(refdb, word):
    """Not the marks by which rules pick their materials, and no sentence that ends twice."""
    out = refdb("find", word).out
    assert not re.search(r"\b(key|family|optical|role|made_for|lead|cadmium|undercoat):\S|\||\.\.", out)


def test_amounts_of_practice_have_their_units_in_words(refdb):
    pages = [refdb("practice", topic, "--full").out for topic in ("amounts", "cleaning", "kiln", "grain", "thickness")]
    assert "ml/cm²" in pages[0]
    for page in pages:
        assert not re.search(r"delta_|\*\*|\bum\b|\d 1(;| \[)|\d percent\b", page)
    assert "60 to 150 K" in pages[2]
    assert "108 to 270 °F" in refdb("practice", "preheat", "--full", "--units", "studio").out
    assert "no lid" in refdb("practice", "sinter", "--full").out


def test_cautions_may_be_asked_for_by_a_word(refdb):
    lead = refdb("cautions", "lead")
    assert lead.status == 0
    assert "lead poisoning" in lead.out
    assert "arbon monoxide" not in lead.out
    assert "leadx" in refdb("cautions", "leadx").out.partition("\n")[0]
    assert refdb("cautions", "xylophone").status == 3


def test_cautions_of_a_glass_hold_for_its_content(refdb):
    leaded, free = (
        " ".join(refdb("cautions", key).out.split()) for key in ("clear-medium-leaded", "clear-medium-lead-free")
    )
    assert "lead poisoning" in leaded
    assert "lead poisoning" not in free
    assert "never quench" in free
    assert len(refdb("cautions").out) > len(leaded)


def test_practice_finds_all_words(refdb):
    rows = json.loads(refdb("practice", "foil", "prick", "--json").out)["rows"]
    assert rows
    assert all("foil" in str(r).lower() and "prick" in str(r).lower() for r in rows)
    schedules = json.loads(refdb("practice", "copper,", "carbon", "--json").out)["schedules"]
    assert {s["clay_family"] for s in schedules} >= {"copper, carbon-fired"}


def test_build_and_verify(refdb, tmp_path):
    import small_sources

    folder = small_sources.write(tmp_path)
    target = tmp_path / "own.db"
    body = json.loads(refdb("build", "--from", str(folder), "--to", str(target), "--json").out)
    assert target.stat().st_size == body["size_bytes"]
    assert json.loads(refdb("verify", str(target), "--json").out)["fingerprint"] == body["fingerprint"]
    assert refdb("metals", on=target).status == 0


def test_columns_line_up():
    page = Page(40)
    page.table(
        [Column("key"), Column("heat\n°C", right=True), Column("why", wraps=True)],
        [["a", "815", "one two three four five six seven"], ["bbb", "1,083", "eight"]],
    )
    assert page.lines == [
        "        heat",
        "  key     °C  why",
        "  a      815  one two three four five",
        "              six seven",
        "  bbb  1,083  eight",
    ]


def test_text_is_held_together_and_made_plain(monkeypatch):
    monkeypatch.delenv("LC_ALL", raising=False)
    page = Page(20)
    page.paragraph("it was about 0.65 mm thick, at −87 MPa\x0bor so")
    assert [line.replace("\u00a0", " ") for line in page.lines] == [
        "it was about 0.65 mm",
        "thick, at -87 MPa or",
        "so",
    ]
    assert written_for("815 °C", io.TextIOWrapper(io.BytesIO(), encoding="ascii")) == "815 degC"
    assert written_for("µ é ő", io.TextIOWrapper(io.BytesIO(), encoding="utf-8")) == "µ é ő"


def test_sure_is_told_to_the_nearest_tenth():
    assert [sure(x) for x in (0.5, 0.84, 0.85, 0.94, 0.949, 0.95, 1.0)] == [
        "5 of 10",
        "8 of 10",
        "9 of 10",
        "9 of 10",
        "9 of 10",
        "10 of 10",
        "10 of 10",
    ]


def test_temperatures_in_text_are_told_in_fahrenheit_where_asked():
    told = in_fahrenheit("glass from 800 °C, 780 to 815 °C, 20-400 °C; within 15 K of 1,064 °C; 12 ppm/K")
    assert told == "glass from 1472 °F, 1436 to 1499 °F, 68-752 °F; within 15 K of 1947 °F; 12 ppm/K"
    page = Page(80, fahrenheit=True)
    page.paragraph("stays below 779 °C")
    assert page.lines == ["stays below 1434\u00a0°F"]
