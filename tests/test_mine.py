"""The commands of the person's own shelf, in scripts and at a terminal."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from own_words import ADD_JAR

from refdb.store.workshop.file import Workshop

JAR = ("mine", *ADD_JAR)


def row_of(mine, key: str) -> dict[str, object]:
    ran = mine("mine", "show", key, "--json")
    assert ran.status == 0, ran
    return json.loads(ran.out)["row"]


def one_line(ran, status: int, *words: str) -> None:
    assert ran.status == status, ran
    assert ran.out == ""
    assert ran.err.startswith("refdb: ")
    assert ran.err.count("\n") == 1
    assert len(ran.err) < 420
    assert "Traceback" not in ran.err
    for word in words:
        assert word in ran.err


def test_a_jar_is_added_and_its_key_works(mine):
    ran = mine(*JAR)
    assert (ran.status, ran.err) == (0, "")
    assert "my:jar-12" in ran.out
    row = row_of(mine, "my:jar-12")
    assert row == {
        **row,
        "name": "Jar 12",
        "like": "clear-medium-lead-free",
        "expansion_ppm_per_k": 12.4,
        "expansion_from_c": 20.0,
        "expansion_to_c": 400.0,
        "expansion_low_ppm_per_k": None,
        "fuse_low_c": 780.0,
        "fuse_high_c": 815.0,
        "hardness": "medium",
        "lead": "free",
        "basis": "maker's sheet",
        "date": "2024-05-31",
        "expansion_as_given": "12.4 ppm/K",
    }
    verdict = json.loads(mine("suits", "my:jar-12", "copper-sheet", "--json").out)
    assert verdict["question"]["glass_expansion"]["ppm_per_k"]["value"] == 12.4
    assert verdict["verdict"] == "suits"


@pytest.mark.parametrize("place", ["front", "behind", "joined", "environment"])
def test_the_workshop_may_be_named_anywhere(refdb, tmp_path, monkeypatch, place):
    path = str(tmp_path / "deep" / "own.db")
    if place == "environment":
        monkeypatch.setenv("REFDB_WORKSHOP", path)
        ran = refdb(*JAR)
    elif place == "front":
        ran = refdb("--workshop", path, *JAR)
    else:
        ran = refdb(*JAR, *(("--workshop", path) if place == "behind" else (f"--workshop={path}",)))
    assert ran.status == 0
    assert Path(path).is_file()
    assert not (tmp_path / "workshop.db").exists()


def test_a_range_a_cubical_figure_and_other_units(mine):
    assert (
        mine(
            "mine",
            "add",
            "glass",
            "--name",
            "A",
            "--expansion",
            "37.2 ppm/K",
            "--cubical",
            "--span",
            "68-752F",
            "--fuses",
            "1450F",
            "--set-point",
            "500-540C",
            "--basis",
            "own test",
        ).status
        == 0
    )
    row = row_of(mine, "my:a")
    assert row["expansion_ppm_per_k"] == pytest.approx(12.4, abs=1e-9)
    assert (row["expansion_from_c"], row["expansion_to_c"]) == pytest.approx((20.0, 400.0))
    assert row["fuse_low_c"] == row["fuse_high_c"] == pytest.approx(787.78, abs=0.01)
    assert (row["set_point_low_c"], row["set_point_c"], row["set_point_high_c"]) == (500.0, 520.0, 540.0)
    assert (
        mine(
            "mine",
            "add",
            "glass",
            "--name",
            "B",
            "--expansion",
            "12 to 13 ppm/K",
            "--span",
            "20-300C",
            "--basis",
            "guess",
        ).status
        == 0
    )
    row = row_of(mine, "my:b")
    assert (
        row["expansion_low_ppm_per_k"],
        row["expansion_ppm_per_k"],
        row["expansion_high_ppm_per_k"],
    ) == pytest.approx((12.0, 12.5, 13.0))


def test_metal_and_leaf(mine):
    assert (
        mine(
            "mine",
            "add",
            "metal",
            "--name",
            "Old clay",
            "--like",
            "copper-clay",
            "--form",
            "clay",
            "--alloy",
            "Cu 99",
            "--solidus",
            "1060-1080C",
            "--shrinkage",
            "10-12 %",
            "--basis",
            "own test",
        ).status
        == 0
    )
    row = row_of(mine, "my:old-clay")
    assert (row["shrinkage_low_percent"], row["shrinkage_high_percent"]) == pytest.approx((10.0, 12.0))
    assert (row["solidus_low_c"], row["solidus_high_c"]) == (1060.0, 1080.0)
    assert (
        mine(
            "mine",
            "add",
            "leaf",
            "--name",
            "Thick",
            "--like",
            "gold-foil-24k",
            "--metal",
            "Au",
            "--fineness",
            "980",
            "--thickness",
            "5 um",
            "--basis",
            "maker's sheet",
        ).status
        == 0
    )
    assert row_of(mine, "my:thick")["leaf_thickness_um"] == 5.0


BAD = [
    (("--name", "---"), ("makes no key",)),
    (("--name", "x" * 90), ("--name", "at most 80")),
    (("--name", " "), ("--name", "nothing was typed")),
    (("--name", "a\x07b"), ("cannot be seen",)),
    (("--name", "Jar", "--like", "clear-medum-lead-free"), ("--like", "clear-medium-lead-free")),
    (("--name", "Jar", "--expansion", "12.4 ppm/K"), ("--expansion", "--span")),
    (("--name", "Jar", "--span", "20-400C"), ("--span", "--expansion")),
    (("--name", "Jar", "--cubical"), ("--cubical", "--expansion")),
    (("--name", "Jar", "--expansion", "37 ppm/K", "--span", "20-400C"), ("--cubical",)),
    (("--name", "Jar", "--expansion", "12.4", "--span", "20-400C"), ("--expansion", "unit")),
    (("--name", "Jar", "--expansion", "12,4 ppm/K", "--span", "20-400C"), ("--expansion",)),
    (("--name", "Jar", "--expansion", "12.4 %", "--span", "20-400C"), ("--expansion",)),
    (("--name", "Jar", "--expansion", "-12 ppm/K", "--span", "20-400C"), ("--expansion",)),
    (("--name", "Jar", "--expansion", "12.4 ppm/K", "--span", "400-20C"), ("--expansion-span", "lower")),
    (("--name", "Jar", "--fuses", "815-780C"), ("--fuses",)),
    (("--name", "Jar", "--fuses", "815"), ("--fuses",)),
    (("--name", "Jar", "--fuses", "20-30C"), ("--fuses", "between")),
    (("--name", "Jar", "--hardness", "rock"), ("--hardness", "soft")),
    (("--name", "Jar", "--lead", "some"), ("--lead", "free")),
    (("--name", "Jar", "--lead", "contains", "--lead-free"), ("--lead", "exclude")),
    (("--name", "Jar", "--date", "31.5.24"), ("--date", "2024-05-31")),
    (("--name", "Jar", "--note", "x" * 600), ("--note", "at most 500")),
    (("--name", "\udcff"), ("--name", "UTF-8")),
]


@pytest.mark.parametrize(("options", "words"), BAD)
def test_what_cannot_be_added(mine, options, words):
    ran = mine("mine", "add", "glass", "--basis", "own test", *options)
    words = tuple("--span" if w == "--expansion-span" else w for w in words)
    one_line(ran, 3 if "--like" in options else 2, *words)
    assert not mine.path.exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("mine", "add", "glass", "--basis", "guess"), ("--name",)),
        (("mine", "add", "glass", "--name", "Jar", "--basis", "hearsay"), ("guess",)),
        (
            ("mine", "add", "glass", "--name", "Jar", "--basis", "guess", "--set-point", "500C"),
            ("--set-point", "range"),
        ),
        (("mine", "add"), ("glass, metal or leaf",)),
        (("mine", "list", "cups"), ("cups", "glass")),
        (("mine", "import", "no-such-file.csv"), ("no-such-file.csv",)),
        (("mine", "import", "x.csv", "--kind", "cup"), ("cup",)),
        (("mine", "tile", "clear-hard-lead-free", "copper-sheet"), ("--outcome",)),
        (("mine", "tile", "clear-hard-lead-free", "copper-sheet", "--outcome", "lovely"), ("lovely", "sound")),
        (("mine", "tile", "clear-hard-lead-free", "copper-sheet", "--outcome", "sound, crazed"), ("both",)),
        (("mine", "tile", "clear-hard-lead-free", "copper-sheet", "--outcome", "sound", "--kiln", "815"), ("--kiln",)),
        (
            (
                "mine",
                "tile",
                "clear-hard-lead-free",
                "copper-sheet",
                "--outcome",
                "sound",
                "--front",
                "0",
                "--back",
                "0",
            ),
            ("no glass",),
        ),
        (
            ("mine", "tile", "clear-hard-lead-free", "copper-sheet", "--outcome", "sound", "--showed", "never"),
            ("later",),
        ),
        (("mine", "stock", "clear-hard-lead-free", "45"), ("MASS", "unit")),
        (("mine", "stock", "clear-hard-lead-free", "4,5g"), ("MASS",)),
        (("mine", "tile", "clear-hard-lead-free", "copper-sheet", "--outcome", "sound", "--kiln", "20C"), ("--kiln",)),
        (
            ("mine", "tile", "clear-hard-lead-free", "copper-sheet", "--outcome", "sound", "--minutes", "90h"),
            ("--minutes",),
        ),
    ],
)
def test_what_cannot_be_done(mine, arguments, words):
    one_line(mine(*arguments), 2, *words)
    assert not mine.path.exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ("mine", "show", "my:jar"),
        ("mine", "edit", "my:jar", "--note", "x"),
        ("mine", "remove", "my:jar"),
        ("mine", "restore", "my:jar"),
        ("mine", "export", "out"),
        ("mine", "backup", "copy.db"),
    ],
)
def test_without_a_workshop_there_is_one_clear_line(mine, arguments, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    one_line(mine(*arguments), 4, "refdb mine add")
    assert not mine.path.exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ("mine", "show", "my:jar-13"),
        ("mine", "edit", "my:jar-13", "--note", "x"),
        ("mine", "remove", "my:jar-13"),
        ("mine", "remove", "tile:9"),
        ("mine", "restore", "tile:9"),
        ("mine", "restore", "my:jar-13"),
        ("mine", "tile", "my:jar-13", "copper-sheet", "--outcome", "sound"),
        ("mine", "stock", "my:jar-13", "5g"),
        ("mine", "stock", "my:jar-12"),
    ],
)
def test_what_is_not_there(mine, arguments):
    mine(*JAR)
    one_line(mine(*arguments), 3)


def test_editing_removing_and_restoring(mine):
    mine(*JAR)
    before = row_of(mine, "my:jar-12")
    assert (
        mine("mine", "edit", "my:jar-12", "--set-point", "510C", "--basis", "own test", "--date", "2024-06-01").status
        == 0
    )
    row = row_of(mine, "my:jar-12")
    assert row == before | {"set_point_c": 510.0, "set_point_basis": "own test", "set_point_date": "2024-06-01"}
    one_line(mine("mine", "edit", "my:jar-12", "--set-point", "500C"), 2, "--basis")
    one_line(mine("mine", "edit", "my:jar-12", "--solidus", "500C", "--basis", "guess"), 2, "--solidus")
    one_line(mine("mine", "edit", "my:jar-12"), 2, "nothing is to be changed")
    assert mine("mine", "edit", "my:jar-12", "--expansion", "none", "--note", "from the blue tin").status == 0
    row = row_of(mine, "my:jar-12")
    assert [row[n] for n in row if n.startswith("expansion_")] == [None] * 9
    assert row["note"] == "from the blue tin"
    assert mine("mine", "restore", "my:jar-12").status == 0
    assert row_of(mine, "my:jar-12")["expansion_ppm_per_k"] == 12.4
    assert mine("mine", "remove", "my:jar-12").status == 0
    assert mine("mine", "show", "my:jar-12").status == 3
    assert "my:jar-12" in mine("mine", "list", "--removed").out
    assert mine("mine", "restore", "my:jar-12").status == 0
    assert row_of(mine, "my:jar-12")["expansion_ppm_per_k"] == 12.4
    assert mine("mine", "edit", "my:jar-12", "--name", "Green").status == 0
    assert row_of(mine, "my:green")["set_point_c"] == 510.0
    one_line(mine(*JAR[:4], "green", "--basis", "guess"), 2, "taken by a glass", "refdb mine edit my:green")


def test_tiles_and_stock(mine):
    mine(*JAR)
    ran = mine(
        "mine",
        "tile",
        "my:jar-12",
        "copper-sheet",
        "--outcome",
        "bubbled, crazed",
        "--showed",
        "within-a-day",
        "--metal-thickness",
        "20 ga",
        "--front",
        "0.3mm",
        "--back",
        "0",
        "--kiln",
        "1500F",
        "--minutes",
        "2.5",
        "--date",
        "2024-06-01",
        "--json",
    )
    row = json.loads(ran.out)["row"]
    assert (row["key"], row["outcome"], row["showed"]) == ("tile:1", "crazed; bubbled", "within a day")
    assert (row["metal_mm"], row["back_mm"], row["minutes"]) == (pytest.approx(0.81, abs=0.01), 0.0, 2.5)
    assert row["kiln_c"] == pytest.approx(815.6, abs=0.1)
    assert "crazed;" in mine("mine", "tiles").out
    assert json.loads(mine("mine", "tiles", "--json").out)["rows"] == [row]
    assert "crazed" in mine("mine", "show", "my:jar-12").out
    assert mine("mine", "stock", "my:jar-12", "1.5oz").status == 0
    assert mine("mine", "stock", "clear-hard-lead-free", "0g").status == 0
    rows = {r["key"]: r["grams"] for r in json.loads(mine("mine", "stock", "--json").out)["rows"]}
    assert rows == {"my:jar-12": pytest.approx(42.524, abs=1e-3), "clear-hard-lead-free": 0.0}
    assert "42.5" in mine("mine", "stock", "my:jar-12").out


def test_export_import_and_backup(mine, refdb, tmp_path):
    mine(*JAR)
    mine("mine", "tile", "my:jar-12", "copper-sheet", "--outcome", "sound")
    mine("mine", "stock", "my:jar-12", "45g")
    assert mine("mine", "export", str(tmp_path / "out")).status == 0
    other = str(tmp_path / "other.db")
    ran = refdb("mine", "import", str(tmp_path / "out"), "--workshop", other, "--json")
    assert json.loads(ran.out)["imported"] == {
        "glass": 1,
        "metal": 0,
        "leaf": 0,
        "tile": 1,
        "strip": 0,
        "stock": 1,
        "firing": 0,
        "kiln": 0,
    }
    assert refdb("mine", "export", str(tmp_path / "again"), "--workshop", other).status == 0
    for file in (tmp_path / "out").iterdir():
        assert file.read_bytes() == (tmp_path / "again" / file.name).read_bytes()
    assert mine("mine", "backup", str(tmp_path / "copy.db")).status == 0
    one_line(mine("mine", "backup", str(tmp_path / "copy.db")), 2, "already")
    assert refdb("mine", "list", "--workshop", str(tmp_path / "copy.db")).out == mine("mine", "list").out


def test_an_import_takes_plain_names_as_every_command_does(mine, tmp_path):
    """A name that means several is refused with its choices; a thickness said with a metal has no place there."""
    file = tmp_path / "metals.csv"
    head = "name,like,basis,date\n"
    file.write_text(head + "S1,copper,guess,2024-01-01\nS2,copper-sheet,guess,2024-01-01\n")
    ran = mine("mine", "import", str(file), "--kind", "metal")
    assert ran.status == 0
    assert "copper: taken as copper sheet" in ran.err
    listed = json.loads(mine("mine", "list", "metal", "--json").out)["rows"]
    assert [row["like"] for row in listed] == ["copper-sheet", "copper-sheet"]
    file.write_text(head + "S3,18 gauge copper,guess,2024-01-01\nS5,brass,guess,2024-01-01\n")
    ran = mine("mine", "import", str(file), "--kind", "metal")
    assert (ran.status, "line 2, like: no thickness" in ran.err, "line 3" in ran.err) == (2, True, False)
    file.write_text(head + "S4,zzqqx,guess,2024-01-01\n")
    ran = mine("mine", "import", str(file), "--kind", "metal")
    assert (ran.status, "line 2, like" in ran.err) == (2, True)


def test_an_import_tells_its_bad_lines(mine, tmp_path):
    file = tmp_path / "glasses.csv"
    file.write_text("name,set_point_c,basis,date\nA,510,own test,2024-01-01\nB,x,own test,2024-01-01\n")
    ran = mine("mine", "import", str(file), "--check")
    assert (ran.status, ran.out) == (2, "1 good, 1 bad; nothing was changed\n")
    assert ran.err.startswith("refdb: glasses.csv line 3, set_point_c")
    ran = mine("mine", "import", str(file))
    assert ran.status == 2
    assert "nothing was imported" in ran.err
    assert not mine.path.exists() or mine("mine", "list", "--json").out.count("my:") == 0
    assert mine("mine", "import", str(file), "--keep-good").status == 0
    assert "my:a" in mine("mine", "list").out


def test_columns_and_lists(mine):
    for kind in ("glass", "metal", "leaf", "tile", "strip", "stock", "firing", "kiln"):
        ran = mine("mine", "columns", kind)
        assert ran.status == 0
        assert all(len(line) <= 80 for line in ran.out.splitlines())
        names = [f["name"] for f in json.loads(mine("mine", "columns", kind, "--json").out)["table_schema"]["fields"]]
        assert all(name in ran.out for name in names)
        one_line(mine("mine", "list", kind), 4, "no workshop here")
    for command in ("add", "edit", "import", "tile", "stock"):
        assert mine("mine", command, "--help").status == 0


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("tile", "refdb mine tile GLASS METAL"),
        ("tiles", "refdb mine tile GLASS METAL"),
        ("strips", "refdb mine strip"),
        ("stock", "refdb mine stock KEY"),
        ("firings", "--observed"),
        ("kiln", "refdb mine kiln"),
        ("glasses", "refdb mine add glass"),
        ("leaf", "refdb mine add glass"),
    ],
)
def test_an_empty_list_says_how_to_fill_it(mine, kind, words):
    mine(*JAR)
    mine("mine", "remove", "my:jar-12")
    ran = mine("mine", "list", kind)
    assert (ran.status, ran.err) == (0, "")
    assert words in " ".join(ran.out.split())


def test_the_help_of_the_shelf_cuts_no_line_short(mine):
    ran = mine("mine", "--help")
    assert "..." not in ran.out.partition("Commands:")[2]
    for command in ("add glass", "edit", "learn", "kiln", "strip", "tile", "stock", "export", "import", "list", "show"):
        ran = mine("mine", *command.split(), "--help")
        assert ran.status == 0
        assert max(map(len, ran.out.splitlines())) <= 80, command


@pytest.mark.parametrize(
    "answers", ["Jar 7\nclear-medium-lead-free\n12.4 ppm/K\n20-400C\n780-815C\nmedium\nfree\nown test\n"]
)
def test_a_terminal_is_asked(store, tmp_path, answers):
    """In a terminal of its own, for what the options leave open."""
    pty = pytest.importorskip("pty")
    main, child = pty.openpty()
    path = tmp_path / "mine.db"
    environment = os.environ | {"REFDB_STORE": str(store), "REFDB_WORKSHOP": str(path)}
    run = subprocess.Popen(
        [sys.executable, "-m", "refdb", "mine", "add", "glass"],
        stdin=child,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment,
        text=True,
    )
    os.close(child)
    writer = threading.Thread(target=os.write, args=(main, answers.encode()))
    writer.start()
    out, err = run.communicate(timeout=60)
    writer.join()
    os.close(main)
    assert run.returncode == 0, err
    assert "my:jar-7" in out
    assert "Expansion" in err
    with Workshop(path) as shop:
        row = shop.row("glass", "jar-7")
    assert row is not None
    assert (row["expansion_ppm_per_k"], row["lead"], row["basis"]) == (12.4, "free", "own test")


def test_a_full_terminal_and_a_closed_pipe_are_no_trouble(refdb_process, tmp_path):
    settings = {"REFDB_WORKSHOP": str(tmp_path / "mine.db")}
    assert refdb_process(*JAR, settings=settings).returncode == 0
    ran = refdb_process("mine", "list", settings=settings | {"LC_ALL": "C"})
    assert ran.returncode == 0
    assert ran.stdout.isascii()
    if Path("/dev/full").exists():
        with open("/dev/full", "wb") as full:
            ran = refdb_process("mine", "list", settings=settings, stdout=full.fileno())
        assert ran.returncode == 2
        assert ran.stderr.count(b"\n") == 1


def test_an_own_jar_loads_no_more_than_a_class_does(store, tmp_path):
    """Without a workshop, nothing that only a workshop needs; with one, nothing heavy."""
    program = (
        "import sys\nfrom refdb.cli.main import main\nstatus = main(sys.argv[1:])\n"
        "print(status, *sorted(sys.modules), file=sys.stderr)"
    )

    def loaded(*arguments: str) -> set[str]:
        done = subprocess.run(
            [sys.executable, "-c", program, *arguments],
            capture_output=True,
            text=True,
            timeout=60,
            check=True,
            env=os.environ | {"REFDB_STORE": str(store), "REFDB_WORKSHOP": str(tmp_path / "mine.db")},
        )
        status, *names = done.stderr.split()
        assert status == "0"
        return set(names)

    assert not {"platformdirs", "csv", "refdb.store.workshop.rows"} & loaded("show", "copper-sheet")
    loaded(*JAR)
    heads = {n.partition(".")[0] for n in loaded("show", "my:jar-12")}
    assert not {"pint", "rich", "sqlite_utils", "numpy", "datasette", "platformdirs"} & heads


def test_figures_of_which_nothing_says_what_they_rest_on_are_wide_guesses(mine):
    ran = mine(
        "mine",
        "add",
        "glass",
        "--name",
        "Jar 13",
        "--expansion",
        "12.4 ppm/K",
        "--expansion-span",
        "20-400C",
        "--fuses",
        "780-815C",
        "--hardness",
        "medium",
        "--lead-free",
    )
    assert ran.status == 0, ran.err
    assert "Taken as a guess" in ran.out
    row = json.loads(mine("mine", "show", "my:jar-13", "--json").out)
    found = row.get("row", row)
    assert found["basis"] == "guess"
    assert (found["expansion_low_ppm_per_k"], found["expansion_high_ppm_per_k"]) == (10.9, 13.9)
    judged = json.loads(mine("suits", "my:jar-13", "low-carbon-steel", "--json").out)
    assert judged["evidence"]["grade"] == "guess"
    assert judged["evidence"]["weakest"]["record"] == "my:jar-13"


@pytest.mark.parametrize(
    ("options", "like"),
    [
        (("--hardness", "medium", "--lead-free"), "clear-medium-lead-free"),
        (("--hardness", "soft", "--lead", "contains"), "clear-soft-leaded"),
        (("--hardness", "medium", "--lead-free", "--optical", "opaque"), None),
        (("--hardness", "medium"), None),
        (("--hardness", "medium", "--lead-free", "--like", "none"), None),
        (("--hardness", "medium", "--lead-free", "--like", "clear-for-gold"), "clear-for-gold"),
    ],
)
def test_hardness_and_lead_tell_which_clear_a_jar_is_like(mine, options, like):
    ran = mine("mine", "add", "glass", "--name", "Jar 14", *options, "--basis", "own test", "--json")
    assert ran.status == 0, ran.err
    assert json.loads(ran.out)["row"]["like"] == like


CLAY = ("mine", "add", "metal", "--name", "Red clay", "--like", "copper-clay", "--basis", "maker's sheet")


def test_a_clay_is_fired_by_the_schedule_of_its_own_packet(mine, tmp_path):
    """It stands first in practice and plan, before the ranges of the trade, as it was typed."""
    assert mine(*CLAY, "--schedule", "650 F, 30 min, open; 1600F, 3 h, carbon").status == 0
    assert row_of(mine, "my:red-clay")["schedule"] == "343.3 C, 30 min, open air; 871.1 C, 180 min, carbon"
    told = json.loads(mine("practice", "--on", "my:red-clay", "--json").out)["schedules"]
    own = [p for p in told if p["schedule"] == "your own packet"]
    assert [(p["temp_low_c"], p["hold_low_min"], p["carbon_mm"]) for p in own] == [(343.3, 30, None), (871.1, 180, 25)]
    assert len(told) > len(own)
    file = tmp_path / "clay.toml"
    file.write_text(
        '[piece]\nwidth = "30 mm"\nheight = "30 mm"\n[base]\nmetal = "my:red-clay"\nthickness = "1 mm"\n'
        '[[step]]\ndo = "coat"\nface = "front"\nglass = "clear-hard-lead-free"\nthickness = "0.15 mm"\n'
        '[[step]]\ndo = "fire"\nkiln = "820 C"\n'
    )
    plan = json.loads(mine("piece", "plan", str(file), "--json").out)
    first, *others = plan["clay_schedules"]
    assert [p["temp_c"] for p in first["phases"]] == [[343.3, 343.3], [871.1, 871.1]]
    assert others
    assert first["name"] == "your own packet"


def test_a_clay_whose_packet_says_carbon_is_warned_of_its_fumes(mine):
    """The class is fired in the open and has no such caution; nor has a packet that says open."""

    def warned(key: str) -> bool:
        return "clay-carbon-monoxide" in {r["key"] for r in json.loads(mine("cautions", key, "--json").out)["rows"]}

    for name, schedule in (("One", "900 C, 2 h, carbon"), ("Two", "900 C, 2 h")):
        row = ("mine", "add", "metal", "--name", name, "--like", "fine-silver-clay", "--basis", "maker's sheet")
        assert mine(*row, "--schedule", schedule).status == 0
    assert not warned("fine-silver-clay")
    assert warned("my:one")
    assert not warned("my:two")


@pytest.mark.parametrize(
    ("schedule", "word"),
    [
        ("900, 3 h", "which degrees"),
        ("900 C, 3 h, water", "neither open nor carbon"),
        ("900 C", "no phase of a schedule"),
        ("900 C, 3 h; 9000 F, 3 h", "no firing of a clay"),
        (";", "a schedule of 0 phases"),
    ],
)
def test_a_schedule_that_cannot_be_read_is_one_line(mine, schedule, word):
    one_line(mine(*CLAY, "--schedule", schedule), 2, "--schedule", word)
