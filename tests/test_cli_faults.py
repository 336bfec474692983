"""Whatever is typed, a fault is one clear line with its exit status."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

import pytest

LONG = "x" * 100_000
PAIR = ("suits", "clear-hard-lead-free", "copper-sheet")


def one_line(ran, status: int, *words: str) -> None:
    """Check that a run ended with this status and printed one line only, on stderr, that has the words."""
    assert ran.status == status, ran
    assert ran.out == ""
    assert ran.err.startswith("refdb: ")
    assert ran.err.endswith("\n")
    assert ran.err.count("\n") == 1
    line = ran.err[:-1]
    assert all(c.isprintable() for c in line)
    assert len(line) < 420
    assert "Traceback" not in line
    for word in words:
        assert word in line


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("show", "cooper-sheet"), ("cooper-sheet", "copper-sheet")),
        (("suits", "clear-hard-lead-fre", "copper-sheet"), ("no glass", "clear-hard-lead-free")),
        (("suits", "clear-hard-lead-free", "coper-shet"), ("no base metal", "copper-sheet")),
        (("suits", "copper-sheet", "fine-silver-sheet"), ("is a base metal, not a glass",)),
        (("glasses", "--on", "copper-sheat"), ("copper-sheet",)),
        (("cautions", "clear-hard-lead"), ("clear-hard-lead-free",)),
        (("cautions", "nope"), ("no material and no caution",)),
        (("sources", "crcelemants"), ("crc-elements",)),
        (("show", ""), ("no record is named",)),
        (("suits", "", "copper-sheet"), ("no glass is named",)),
        (("sources", ""), ("no source",)),
        (("show", LONG), ("xxx",)),
        (("suits", LONG, "copper-sheet"), ("xxx",)),
        (("suits", "clear-hard-lead-free", LONG), ("xxx",)),
        (("sources", LONG), ("no source",)),
        (("find", LONG), ("nothing in the store",)),
        (("find", "zzyzxq-qwrtzq"), ("nothing in the store",)),
        (("practice", "zzyzxq-qwrtzq"), ("no rule of practice", "the topics are")),
        (("show", "copper\x00sheet"), ("copper?sheet",)),
        (("show", "\x1b[31mcopper\n\r"), ("?[31mcopper",)),
        (("show", "\udcff\udc80"), ("no record",)),
        (("suits", "\udcff", "copper-sheet"), ("no glass",)),
        (("show", "'; DROP TABLE materials; --"), ("no record",)),
    ],
)
def test_no_such_record(refdb, arguments, words):
    one_line(refdb(*arguments), 3, *words)


@pytest.mark.parametrize("option", ["--metal-thickness", "--front", "--back", "--first"])
@pytest.mark.parametrize(
    "text",
    [
        "-0.8 mm",
        "nan mm",
        "inf mm",
        "1e400 mm",
        "10 m",
        "0.8 kg",
        "0.8",
        "",
        " ",
        "mm",
        "0,8 mm",
        "0.8 mm mm",
        "\x00",
        "0.8\x1b[2J mm",
        "\udcff mm",
        LONG,
        "9" * 150 + " mm",
        "0.01 um",
        "815 C",
    ],
)
def test_thickness_that_cannot_be(refdb, option, text):
    one_line(refdb(*PAIR, option, text), 2, option)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--metal-thickness", "0 mm"), ("--metal-thickness",)),
        (("--first", "0 mm"), ("--first",)),
        (("--metal-thickness", "40 mm"), ("metal thickness", "mm")),
        (("--front", "0", "--back", "0"), ("no glass on either face", "--front and --back")),
        (("--front", "none", "--back", "0 mm"), ("no glass on either face",)),
        (("--kiln", "815"), ("--kiln", "815 C")),
        (("--kiln", "-400 C"), ("--kiln", "absolute zero")),
        (("--kiln", "0.8 mm"), ("--kiln",)),
        (("--kiln", LONG), ("--kiln", "too long")),
        (("--kiln", "816C", "--kiln-most", "700C"), ("--kiln-most", "hottest that it goes")),
        (("--kiln-offset", "10"), ("--kiln-offset", "10")),
        (("--kiln-offset", "lots"), ("--kiln-offset",)),
        (("--shape", "round"), ("--shape", "flat, domed")),
        (("--shape", LONG), ("--shape",)),
        (("--rise", "2 mm"), ("--rise", "--shape to domed")),
        (("--shape", "domed", "--rise", "0 mm"), ("--rise",)),
        (("--expansion", "12.4 ppm/K"), ("--expansion", "--span, such as 20-400C")),
        (("--span", "20-400C"), ("--span", "--expansion")),
        (("--cubical",), ("--cubical", "--expansion")),
        (("--expansion", "37 ppm/K", "--span", "20-400C"), ("--cubical", "30 ppm/K")),
        (("--expansion", "12.4 ppm/K", "--span", "400-20C"), ("--span", "lower temperature first")),
        (("--expansion", "12.4 MPa", "--span", "20-400C"), ("--expansion",)),
        (("--expansion", "nan ppm/K", "--span", "20-400C"), ("--expansion",)),
        (("--units", "imperial"), ("--units", "try refdb suits --help")),
    ],
)
def test_question_that_cannot_be(refdb, arguments, words):
    one_line(refdb(*PAIR, *arguments), 2, *words)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("sutis",), ("sutis", "suits", "try refdb --help")),
        ((LONG,), ("no such command", "try refdb --help")),
        (("metals", "--colour"), ("--colour", "try refdb metals --help")),
        (("metals", "copper"), ("copper", "try refdb metals --help")),
        (("suits", "clear-hard-lead-free"), ("metal", "try refdb suits --help")),
        (("suits",), ("glass", "try refdb suits --help")),
        (("show",), ("NAME", "try refdb show --help")),
        (("find",), ("TEXT", "try refdb find --help")),
        (("build",), ("--from", "try refdb build --help")),
        (("metals", "--json", "--csv"), ("--json and --csv",)),
        (("find", "foil", "--json", "--csv"), ("--json and --csv",)),
        (("find", "…"), ("nothing to look for",)),
        (("find", ""), ("nothing to look for",)),
        (("practice", "--", "--"), ("nothing to look for",)),
        (("metals", "--family", "wood"), ("--family", "wood", "copper")),
        (("metals", "--family", LONG), ("--family",)),
        (("metals", "--form", "ingot"), ("--form", "sheet, clay, cast")),
        (("glasses", "--hardness", "tough"), ("--hardness", "very hard")),
        (("leaf", "--family", "\x07"), ("--family",)),
    ],
)
def test_usage(refdb, arguments, words):
    one_line(refdb(*arguments), 2, *words)


def test_units_of_the_environment_that_are_none(refdb, monkeypatch):
    monkeypatch.setenv("REFDB_UNITS", "cubits")
    one_line(refdb("metals"), 2, "REFDB_UNITS", "cubits", "studio")


def damaged(kind: str, store: Path, folder: Path) -> Path:
    """A store that cannot be used."""
    path = folder / "broken.db"
    whole = store.read_bytes()
    if kind == "empty":
        path.write_bytes(b"")
    elif kind == "text":
        path.write_text("key,label\ncopper,Copper\n" * 400)
    elif kind == "header cut":
        path.write_bytes(whole[:50])
    elif kind == "half":
        path.write_bytes(whole[: len(whole) // 2])
    elif kind == "other database":
        other = sqlite3.connect(path)
        other.execute("CREATE TABLE materials (key TEXT)")
        other.commit()
        other.close()
    elif kind == "other version":
        path.write_bytes(whole)
        other = sqlite3.connect(path)
        other.execute("PRAGMA user_version = 999")
        other.commit()
        other.close()
    elif kind == "folder":
        path.mkdir()
    elif kind == "long name":
        return folder / LONG
    return path


@pytest.mark.parametrize("arguments", [("metals",), ("show", "copper-sheet"), PAIR, ("find", "foil"), ("practice",)])
@pytest.mark.parametrize(
    "kind", ["missing", "empty", "text", "header cut", "half", "other database", "other version", "folder"]
)
def test_store_that_cannot_be_used(refdb, store, tmp_path, kind, arguments):
    path = damaged(kind, store, tmp_path)
    one_line(refdb(*arguments, on=path), 4, "broken.db")


def test_one_spoilt_page_never_changes_an_answer_in_silence(refdb, store, tmp_path):
    commands = [("metals",), ("show", "copper-sheet", "--json"), ("find", "foil"), ("sources",)]
    sound = {arguments: refdb(*arguments) for arguments in commands}
    whole = store.read_bytes()
    size = 4096
    path = tmp_path / "broken.db"
    refused = 0
    for at in range(size, len(whole), 17 * size):
        path.write_bytes(whole[:at] + bytes(range(256)) * (size // 256) + whole[at + size :])
        assert refdb("verify", str(path)).status == 1
        for arguments in commands:
            ran = refdb(*arguments, on=path)
            if ran != sound[arguments]:
                one_line(ran, 4, "broken.db")
                refused += 1
    assert refused > 0


def test_store_with_a_name_too_long(refdb, store, tmp_path):
    one_line(refdb("metals", on=damaged("long name", store, tmp_path)), 4)


def test_store_of_the_environment_that_is_missing(refdb, monkeypatch, tmp_path):
    monkeypatch.setenv("REFDB_STORE", str(tmp_path / "gone.db"))
    one_line(refdb("metals", on=None), 4, "gone.db", "refdb build")


def test_verify_of_what_is_no_store(refdb, tmp_path):
    one_line(refdb("verify", str(tmp_path / "gone.db")), 4, "gone.db")


def test_verify_finds_faults(refdb, store, tmp_path):
    path = tmp_path / "own.db"
    path.write_bytes(store.read_bytes())
    database = sqlite3.connect(path)
    database.execute("PRAGMA foreign_keys = OFF")
    database.execute("DELETE FROM sources WHERE key = 'crc-elements'")
    database.commit()
    database.close()
    ran = refdb("verify", str(path))
    assert ran.status == 1
    assert ran.out.startswith("Not sound:")
    assert ran.err == ""
    assert refdb("verify", str(store)).status == 0


@pytest.mark.parametrize("kind", ["no parent", "parent is a file", "is a folder"])
def test_build_to_where_nothing_can_be_written(refdb, small_folder, tmp_path, kind):
    target = tmp_path / "own.db"
    if kind == "no parent":
        target = tmp_path / "none" / "own.db"
    elif kind == "parent is a file":
        (tmp_path / "file").write_text("")
        target = tmp_path / "file" / "own.db"
    else:
        target.mkdir()
    one_line(refdb("build", "--from", str(small_folder), "--to", str(target)), 4, "own.db")


@pytest.mark.skipif(os.name != "posix", reason="there are no such permissions here")
def test_build_into_a_read_only_folder(refdb, small_folder, tmp_path):
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o500)
    if os.geteuid() == 0:  # who may write everywhere, but not here
        folder = Path("/sys")
    one_line(refdb("build", "--from", str(small_folder), "--to", str(folder / "own.db")), 4, "own.db")


@pytest.mark.parametrize("kind", ["missing", "a file", "long name"])
def test_build_from_no_folder(refdb, tmp_path, kind):
    place = tmp_path / (LONG if kind == "long name" else "sources")
    if kind == "a file":
        place.write_text("")
    one_line(refdb("build", "--from", str(place), "--to", str(tmp_path / "own.db")), 2, "--from")


def test_build_from_an_empty_folder_names_the_files(refdb, tmp_path):
    ran = refdb("build", "--from", str(tmp_path), "--to", str(tmp_path / "own.db"))
    assert ran.status == 2
    assert ran.out == ""
    assert "metals.csv" in ran.err
    assert all(line.startswith("refdb: ") for line in ran.err.splitlines())
    assert not (tmp_path / "own.db").exists()


def test_build_with_a_wrong_row_names_the_place_and_keeps_the_old_store(refdb, small_folder, tmp_path):
    target = tmp_path / "own.db"
    assert refdb("build", "--from", str(small_folder), "--to", str(target)).status == 0
    before = target.read_bytes()
    values = small_folder / "property_values.csv"
    lines = values.read_text().splitlines()
    cells = lines[1].split(",")
    cells[2] = "warm"
    values.write_text("\n".join([lines[0], ",".join(cells), *lines[2:]]) + "\n")
    ran = refdb("build", "--from", str(small_folder), "--to", str(target))
    assert ran.status == 2
    assert "property_values.csv line 2" in ran.err
    assert target.read_bytes() == before


@pytest.fixture
def small_folder(tmp_path):
    import small_sources

    folder = tmp_path / "small"
    folder.mkdir()
    small_sources.write(folder)
    return folder


def test_interruption(refdb, monkeypatch):
    def interrupted(*given, **more):
        raise KeyboardInterrupt

    monkeypatch.setattr("refdb.store.workshop.beside_reference.Shelf", interrupted)
    ran = refdb("metals")
    assert ran.status == 130
    assert "Traceback" not in ran.err


@pytest.mark.parametrize("arguments", [("sources",), ("metals", "--json"), ("metals", "--csv"), ("--help",), PAIR])
def test_closed_pipe_makes_no_noise(refdb_process, arguments):
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = refdb_process(*arguments, stdout=writer)
    finally:
        os.close(writer)
    assert done.stderr == b""
    assert done.returncode == 141


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
def test_full_disk(refdb_process):
    with open("/dev/full", "wb") as full:
        done = refdb_process("metals", stdout=full.fileno())
    assert done.returncode == 2
    assert done.stderr.count(b"\n") == 1
    assert b"cannot be written" in done.stderr
