"""What may be added comes back; workshops that are named; what own tiles and strips say against figures."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from own_words import BOW, COPPER_STRIP

from refdb.cli.main import main
from refdb.errors import StoreUnusable
from refdb.judge.evidence import GRADES
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import OWN

CLASS, METAL = "clear-hard-lead-free", "copper-sheet"


def one_line(ran, status: int, *words: str) -> None:
    assert (ran.status, ran.out) == (status, ""), ran
    assert ran.err.startswith("refdb: ")
    assert ran.err.count("\n") == 1
    for word in words:
        assert word in ran.err


# Whatever is accepted comes back

SIGNS = st.characters(exclude_categories=["Cs", "Cc", "Cf", "Co", "Cn", "Zl", "Zp"])
TEXTS = st.text(SIGNS, min_size=1, max_size=20) | st.sampled_from(
    ["=1+1", "-x", "'", "007", "1/2", "none", "May 5", "a\tb", "12:30"]
)
BASES = st.sampled_from(["own test", "maker's sheet", "guess"])


def amounts(*usual: str, unit: str = ""):
    """Usual figures most often, at times any."""
    any_figure = st.floats(1e-3, 3e3).map(lambda x: f"{x:.4g}")
    return st.integers(0, 7).flatmap(lambda n: st.sampled_from(usual) if n else any_figure).map(lambda x: f"{x}{unit}")


def options(must=(), **kinds):
    """These options and some of the others, as they are typed."""
    return st.fixed_dictionaries(
        {k: kinds[k] for k in must}, optional={k: v for k, v in kinds.items() if k not in must}
    ).map(lambda found: [x for name, text in found.items() for x in (f"--{name.replace('_', '-')}={text}",)])


HEATS = amounts("300", "780-815", "49", "50", "100", "1400", "1600", "1601", unit="C")
EXPANSION = st.builds(
    lambda f, s, c: [f"--expansion={f}", f"--span={s}", *c],
    amounts("12.4", "9-10", "0.1", "30", "30.1", "0.09", "12  ", unit=" ppm/K"),
    amounts("20-400", "-273.15-2500", "400-20", unit="C"),
    st.sampled_from([[], ["--cubical"]]),
) | st.just([])
COMMANDS = st.one_of(
    st.builds(
        lambda a, e: ["add", "glass", *a, *e],
        options(
            ("name", "basis"),
            name=TEXTS,
            basis=BASES,
            like=st.just(CLASS),
            fuses=HEATS,
            set_point=HEATS,
            colourant=TEXTS,
            note=TEXTS,
            lead=st.sampled_from(["free", "contains"]),
            date=st.dates().map(str),
        ),
        EXPANSION,
    ),
    st.builds(
        lambda a, e: ["add", "metal", *a, *e],
        options(
            ("name", "basis"),
            name=TEXTS,
            basis=BASES,
            like=st.sampled_from([METAL, "brass-70-30"]),
            solidus=HEATS,
            shrinkage=amounts("0", "10-12", "60", "61", unit="%"),
            note=TEXTS,
            alloy=st.sampled_from(["Cu 99.9", "Cu 70, Zn 30", "copper, zinc 5", "Cu 50", "Ag 92.5, Cu 7.5", "Xx"]),
        ),
        EXPANSION,
    ),
    st.builds(
        lambda a: ["add", "leaf", *a],
        options(
            ("name", "basis"),
            name=TEXTS,
            basis=BASES,
            metal=st.sampled_from(["Au", "Cu Zn", "Ag 9", "gold"]),
            fineness=TEXTS,
            note=TEXTS,
            thickness=amounts("0.05", "3", "2-4", "500", "501", unit="um"),
        ),
    ),
    st.builds(
        lambda a: ["tile", CLASS, METAL, "--outcome=crazed", *a],
        options(
            metal_thickness=amounts("0.005", "0.8", "50", "51", unit="mm"),
            front=amounts("0", "0.3", "50", "51", unit="mm"),
            back=amounts("0", "0.3", "50", unit="mm"),
            kiln=HEATS,
            minutes=amounts("2.5", "0.05", "1440", "1441"),
            note=TEXTS,
        ),
    ),
    st.builds(
        lambda m, n: ["stock", METAL, m, *n],
        amounts("0", "45", "1000", "1001", "1e9", "1e-9", unit="kg"),
        options(note=TEXTS),
    ),
    st.builds(
        lambda m, n: ["kiln", m, *n],
        amounts("12", "-12", "-300", "300", "301", "-5 to 8", unit=" K"),
        options(note=TEXTS),
    ),
    st.builds(
        lambda t, m, k: ["edit", "my:jar", f"--observed={t} {m} copper {k}"],
        amounts("49", "50", "815", "1600", "1601", unit="C"),
        amounts("0.05", "3", "60", "61", unit="min"),
        amounts("0.09", "0.1", "0.75", "10", "11", unit="mm"),
    ),
    st.builds(
        lambda m, g, x, b, w, n: [
            "strip",
            f"--metal={METAL}",
            "--save=my:jar",
            f"--metal-thickness={m}mm",
            f"--glass-thickness={g}mm",
            f"--length={x}mm",
            f"--bow={b}mm",
            f"--width={w}mm",
            *n,
        ],
        st.sampled_from(["0.5", "0.4", "0.6", "0.004"]),
        st.sampled_from(["0.3", "0.25", "0.2", "0.001"]),
        st.sampled_from(["100", "110", "120", "9e3"]),
        st.sampled_from(["4", "3.5", "3", "-30"]),
        st.sampled_from(["10", "12", "15", "900"]),
        options(note=TEXTS),
    ),
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)
@given(commands=st.lists(COMMANDS, min_size=4, max_size=8))
def test_whatever_is_added_can_be_exported_and_imported_again(store, tmp_path_factory, capsys, commands):
    folder = tmp_path_factory.mktemp("bounds")
    first, second = folder / "first.db", folder / "second.db"

    def run(workshop: Path, *arguments: str) -> tuple[int, str]:
        status = main(["--store", str(store), "--workshop", str(workshop), "mine", *arguments])
        return status, capsys.readouterr().err

    assert run(first, "add", "glass", "--name", "jar", "--like", CLASS)[0] == 0
    for number, command in enumerate(commands):
        # No name is taken twice.
        command = [f"{x}{number}" if x.startswith("--name=") else x for x in command]
        status, told = run(first, *command)
        assert status in (0, 2, 3), (command, told)
        assert "Traceback" not in told
    assert run(first, "export", str(folder / "out"))[0] == 0
    status, told = run(second, "import", str(folder / "out"))
    assert (status, told) == (0, "")
    with Workshop(first) as shop, Workshop(second) as again:
        assert {k: shop.listed(k) for k in OWN} == {k: again.listed(k) for k in OWN}


@pytest.mark.parametrize("mass", ["1e9kg", "1001kg", "1000.1 kg"])
def test_more_stock_than_may_be_imported_is_not_taken(mine, mass):
    one_line(mine("mine", "stock", METAL, mass), 2, "MASS", "1e+06 g")
    assert not mine.path.exists()


def test_the_most_stock_comes_back(mine, tmp_path):
    assert mine("mine", "stock", METAL, "1000kg").status == 0
    mine("mine", "export", str(tmp_path / "out"))
    assert mine("mine", "import", str(tmp_path / "out")).status == 0


@pytest.mark.parametrize(("seen", "words"), [("20C 3min copper 0.75mm", "kiln"), ("815C 90min copper 0.75mm", "min")])
def test_a_firing_out_of_bounds_is_not_taken(mine, seen, words):
    one_line(mine("mine", "add", "glass", "--name", "a", "--like", CLASS, "--observed", seen), 2, "--observed", words)


# A workshop that is named

READERS = (
    ("mine", "list"),
    ("mine", "tiles"),
    ("mine", "show", "my:jar"),
    ("mine", "export", "out"),
    ("mine", "remove", "my:jar"),
    ("mine", "edit", "my:jar", "--note", "x"),
    ("mine", "stock"),
)


@pytest.mark.parametrize("named", ["option", "environment"])
@pytest.mark.parametrize("what", ["missing", "folder", "empty"])
@pytest.mark.parametrize("command", READERS)
def test_a_named_workshop_that_is_none_is_told(refdb, tmp_path, monkeypatch, named, what, command):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "named"
    if what == "folder":
        path.mkdir()
    elif what == "empty":
        path.touch()
    if named == "environment":
        monkeypatch.setenv("REFDB_WORKSHOP", str(path))
    ran = refdb(*command, *(("--workshop", str(path)) if named == "option" else ()))
    one_line(ran, 4, "named", "workshop")
    assert what != "empty" or path.stat().st_size == 0
    assert what != "missing" or not path.exists()


def odd_place(what: str, folder: Path) -> tuple[Path, str]:
    """What is named as a workshop and is none, and words that say so."""
    path = folder / ("x" * 300 if what == "a name too long" else "named")
    if what == "a pipe":
        os.mkfifo(path)
    elif what == "a loop":
        path.symlink_to(path)
    elif what == "under a file":
        path.touch()
        path /= "named"
    return path, {"a pipe": "this is no file", "a name too long": "file name too long"}.get(what, "workshop")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no such files here")
@pytest.mark.parametrize("what", ["a pipe", "a loop", "under a file", "a name too long"])
@pytest.mark.parametrize(
    "command",
    [
        ("mine", "list"),
        ("mine", "add", "glass", "--name", "a"),
        ("mine", "kiln", "5 K"),
        ("suits", CLASS, METAL),
        ("mine", "repair"),
        ("verify",),
    ],
)
def test_a_workshop_that_can_be_no_file_is_told_at_once(refdb, tmp_path, what, command):
    path, words = odd_place(what, tmp_path)
    one_line(refdb(*command, "--workshop", str(path)), 4, words, str(path)[-20:])


@pytest.mark.parametrize("command", [("metals",), ("suits", CLASS, METAL), ("glasses", "--on", METAL), ("verify",)])
def test_look_ups_tell_it_too(refdb, tmp_path, monkeypatch, command):
    one_line(refdb(*command, "--workshop", str(tmp_path / "typo.db")), 4, "typo.db", "no workshop here")
    one_line(refdb(*command, "--workshop", str(tmp_path)), 4, "folder")
    # Set for a shelf that is still to be made, the environment stands in no look-up's way.
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "to-come.db"))
    assert refdb(*command).status == 0


@pytest.mark.parametrize(
    "command",
    [
        ("mine", "add", "glass", "--name", "a"),
        ("mine", "tile", CLASS, METAL, "--outcome", "sound"),
        ("mine", "stock", METAL, "5g"),
        ("mine", "kiln", "5 K"),
    ],
)
@pytest.mark.parametrize("there", [True, False])
def test_what_writes_may_make_a_named_one(refdb, tmp_path, command, there):
    path = tmp_path / "new.db"
    if there:
        path.touch()
    assert refdb(*command, "--workshop", str(path)).status == 0
    assert refdb("mine", "list", "--workshop", str(path)).status == 0


def test_the_usual_one_need_not_be_there(refdb, tmp_path, monkeypatch):
    monkeypatch.delenv("REFDB_WORKSHOP")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    ran = refdb("mine", "list")
    assert (ran.status, ran.err) == (0, "")
    assert "Nothing is yours yet" in ran.out


# A jar of which nothing is known


@pytest.mark.parametrize("basis", ["guess", "own test", "maker's sheet", None])
def test_the_figure_of_a_class_is_a_likeness_of_a_jar_at_best(mine, basis):
    """The class rests on published figures; only the jar's own figure lifts the jar, and it moves no outcome."""
    assert json.loads(mine("suits", CLASS, METAL, "--workshop", _made(mine), "--json").out)["verdict"] == "suits"
    ran = mine("mine", "add", "glass", "--name", "g", "--like", CLASS, *(("--basis", basis) if basis else ()))
    assert "widened" not in ran.out
    told = json.loads(mine("suits", "my:g", METAL, "--json").out)
    assert told["verdict"] == "suits"
    assert GRADES.index(told["evidence"]["grade"]) >= GRADES.index("trade")
    assert told["evidence"]["weakest"]["record"] == "my:g"
    assert "strip" in told["evidence"]["lift"]
    steel = json.loads(mine("suits", "my:g", "low-carbon-steel", "--json").out)
    assert GRADES.index(steel["evidence"]["grade"]) >= GRADES.index("likeness")
    mine("mine", "edit", "my:g", "--expansion", "13.3 ppm/K", "--span", "20-400C", "--basis", "maker's sheet")
    lifted = json.loads(mine("suits", "my:g", METAL, "--json").out)
    assert lifted["verdict"] == "suits"
    assert GRADES.index(lifted["evidence"]["grade"]) < GRADES.index(told["evidence"]["grade"])


def _made(mine) -> str:
    Workshop(mine.path, write=True).close()
    return str(mine.path)


def test_a_jar_that_is_like_nothing_is_told_how_to_be_like_something(mine):
    mine("mine", "add", "glass", "--name", "alone", "--basis", "own test")
    told = json.loads(mine("suits", "my:alone", METAL, "--json").out)
    assert told["verdict"] == "cannot say"
    assert len(told["missing"]) == 1
    assert "refdb mine edit my:alone --like KEY" in told["missing"][0]
    assert "ask the maker" not in told["sentence"]
    assert "stiffness" in told["sentence"]


# Tiles and strips that speak against figures


def test_a_ranking_marks_what_own_tiles_came_out_as(mine):
    mine(
        "mine",
        "add",
        "glass",
        "--name",
        "m",
        "--like",
        CLASS,
        "--expansion",
        "13.3 ppm/K",
        "--span",
        "20-400C",
        "--basis",
        "maker's sheet",
    )
    before = mine("glasses", "--on", METAL).out
    assert "your tile" not in before
    mine("mine", "tile", "my:m", METAL, "--outcome", "crazed")
    mine("mine", "tile", "my:m", METAL, "--outcome", "sound")
    mine("mine", "tile", CLASS, METAL, "--outcome", "sound")
    mine("mine", "tile", "my:m", "fine-silver-sheet", "--outcome", "burnt")
    shown = " ".join(mine("glasses", "--on", METAL).out.split())
    assert shown.count("your tile crazed") == 1
    assert shown.count("your tile sound") == 1
    assert "burnt" not in shown
    rows = {r["key"]: r["own_tiles"] for r in json.loads(mine("glasses", "--on", METAL, "--json").out)["rows"]}
    assert (rows["my:m"], rows[CLASS], rows["clear-medium-lead-free"]) == ("crazed", "sound", "")


STRIP = ("mine", "strip", *COPPER_STRIP, *BOW, "--save", "my:j")


@pytest.mark.parametrize(
    ("figure", "disagrees"), [("7 ppm/K", True), ("19 ppm/K", True), ("13.4-14.6 ppm/K", False), (None, False)]
)
def test_a_strip_says_where_it_gainsays_the_figure_that_stood_there(mine, figure, disagrees):
    mine(
        "mine",
        "add",
        "glass",
        "--name",
        "j",
        "--like",
        CLASS,
        "--basis",
        "maker's sheet",
        *(("--expansion", figure, "--span", "20-400C") if figure else ()),
    )
    told = json.loads(mine(*STRIP, "--json").out)
    assert (told["disagrees"] is not None) == disagrees, told["expansion_ppm_per_k"]
    assert told["saved"] == "strip:1"
    if disagrees:
        apart = abs(told["expansion_ppm_per_k"]["value"] - 1.06 * float(figure.split()[0]))
        assert f"by {apart:.2f} ppm/K" in told["disagrees"]
        for word in ("side", "set point", "thicknesses", "my:j", "maker's sheet"):
            assert word in told["disagrees"]
    row = json.loads(mine("mine", "show", "my:j", "--json").out)["row"]
    assert row["expansion_ppm_per_k"] == pytest.approx(told["expansion_ppm_per_k"]["value"], abs=1e-3)


def test_the_page_of_a_strip_says_so_too(mine):
    mine(
        "mine",
        "add",
        "glass",
        "--name",
        "j",
        "--like",
        CLASS,
        "--basis",
        "maker's sheet",
        "--expansion",
        "7 ppm/K",
        "--span",
        "20-400C",
    )
    assert "their ranges do not meet" in " ".join(mine(*STRIP).out.split())
    assert "do not meet" not in " ".join(mine(*STRIP).out.split())


# Words


def test_a_copy_that_cannot_be_written_blames_its_place(mine, tmp_path):
    mine("mine", "add", "glass", "--name", "j")
    ran = mine("mine", "backup", str(tmp_path / "gone" / "x.db"))
    one_line(ran, 2, "gone", "no such folder")
    assert "mine.db" not in ran.err
    (tmp_path / "file").touch()
    ran = mine("mine", "backup", str(tmp_path / "file" / "x.db"))
    one_line(ran, 2, "file", "no such folder")
    assert not [name for name in os.listdir(tmp_path) if name.endswith(".part")]


def test_a_range_that_falls_and_a_day_to_come(mine):
    one_line(mine("mine", "add", "glass", "--name", "j", "--fuses", "815-780C"), 2, "--fuses", "from high to low")
    one_line(mine("mine", "add", "glass", "--name", "j", "--date", "3024-02-01"), 2, "--date", "in the future")
    one_line(mine("mine", "add", "glass", "--name", "j", "--date", "3024-02-31"), 2, "--date", "not a date")


def test_a_day_after_tomorrow_is_refused_wherever_a_day_is_given(mine, tmp_path, monkeypatch):
    """On the last of June; tomorrow is let pass, for it is today further east."""
    monkeypatch.setattr("refdb.store.workshop.cells.today", lambda: date(2024, 6, 30))
    tile = ("mine", "tile", CLASS, "copper-sheet", "--outcome", "sound", "--date")
    assert mine(*tile, "2024-07-01").status == 0
    one_line(mine(*tile, "2024-07-02"), 2, "--date", "in the future")
    one_line(mine("mine", "add", "glass", "--name", "j", "--date", "2024-07-02"), 2, "--date", "in the future")
    path = tmp_path / "tiles.csv"
    for day, status in (("2024-07-02", 2), ("2024-07-01", 0)):
        path.write_text(f"glass,metal,outcome,date\n{CLASS},copper-sheet,sound,{day}\n", "utf-8")
        ran = mine("mine", "import", str(path), "--kind", "tile")
        assert ran.status == status, ran.err
        assert ("line 2" in ran.err and "in the future" in ran.err) == (status == 2)


def test_own_names_that_begin_like_a_formula_stay_text_in_a_list(mine):
    mine("mine", "add", "glass", "--name", "=1+1", "--like", CLASS)
    assert "\nmy:1-1,'=1+1," in mine("glasses", "--csv").out


@pytest.mark.parametrize("command", [("metals",), ("metals", "--json"), ("show", METAL), ("suits", CLASS, METAL)])
def test_without_a_standard_output_that_is_told(store, plain_environment, monkeypatch, command):
    monkeypatch.setattr("sys.stdout", None)
    assert main(["--store", str(store), *command]) == 4


def test_a_closed_standard_output_gives_a_line(store, plain_environment):
    environment = os.environ | {"REFDB_STORE": str(store)}
    ran = subprocess.run(
        ["sh", "-c", f'"{sys.executable}" -m refdb metals >&-'],
        capture_output=True,
        check=False,
        timeout=60,
        env=environment,
    )
    assert ran.returncode == 4
    assert b"standard output is closed" in ran.stderr
    assert ran.stderr.count(b"\n") == 1


def test_a_workshop_that_may_not_be_read_stands_in_no_look_ups_way(refdb, tmp_path, monkeypatch):
    """Whichever way a command is read: what is said of a file is said by whoever opens it."""
    from refdb.cli.application import read_and_run

    path = tmp_path / "shut.db"
    path.touch()
    allowed = os.access
    monkeypatch.setattr(os, "access", lambda name, mode, **more: str(name) != str(path) and allowed(name, mode, **more))
    assert refdb("show", METAL, "--workshop", str(path)).status == 4, "it is empty"
    with pytest.raises(StoreUnusable, match="the file is empty"):
        read_and_run(["--workshop", str(path), "show", METAL])
