"""The pool's file and commands: shared, added, learnt, removed; and what must be refused."""

from __future__ import annotations

import csv
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import frictionless
import numpy as np
import pytest
from conftest import ROOT
from test_pool_coverage import CLASS, simulate

from refdb.errors import BadInput, StoreUnusable
from refdb.records.pooled import SharedRow
from refdb.store.pool.columns import NAMES, schema, written
from refdb.store.pool.file import Pool
from refdb.store.reference import Reference

GOOD = SharedRow(
    "tile",
    "0" * 16,
    "1" * 8,
    "2" * 12,
    CLASS,
    "copper-sheet",
    0.5,
    0.2,
    0.0,
    800.0,
    3.0,
    "crazed",
    "on cooling",
    "2024-05",
)


def file_of(path, rows):
    with path.open("w", encoding="utf-8", newline="") as file:
        written(rows, file)
    return str(path)


def spoiled(path, **cells):
    """A file with one good row and one whose cells are as given, as text."""
    file_of(path, [GOOD, replace(GOOD, row="3" * 12)])
    lines = list(csv.reader(path.read_text("utf-8").splitlines()))
    for name, text in cells.items():
        lines[2][NAMES.index(name)] = text
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(lines)
    return str(path)


@pytest.fixture
def pooled(tmp_path):
    return tmp_path / "workshop-pool.db"


def dumped(path):
    """All that counts: rows as learnt from."""
    with Pool(path) as pool:
        return pool.counted()


@pytest.fixture(scope="module")
def simulated(store):
    """Twelve studios of eight tiles each, and three hundred made up to say that all glass crazes."""
    rng = np.random.default_rng(5)
    with Reference(store) as ref:
        honest = simulate.studios(ref, CLASS, simulate.Truth(), 12, 8, simulate.DESIGNS["mixed"], rng)
    poison = [
        replace(
            r, studio=f"{k:016x}", jar=f"{k:08x}", row=f"{k:012x}", outcome="crazed" if "steel" in r.metal else "sound"
        )
        for k in range(300)
        for r in honest[:1]
    ]
    poison = [
        replace(r, metal="low-carbon-steel", metal_mm=0.8, front_mm=0.3, back_mm=0.3, outcome="crazed") for r in poison
    ]
    return honest, poison


def test_what_is_shared_can_be_added_and_names_nothing(refdb, tmp_path, pooled):
    refdb("mine", "add", "glass", "--name", "Secret jar", "--like", CLASS, "--basis", "guess")
    build = ("--metal-thickness", "0.5mm", "--front", "0.2mm", "--back", "0")
    refdb("mine", "tile", "my:secret-jar", "copper-sheet", "--outcome", "crazed", *build, "--note", "by the harbour")
    refdb("mine", "tile", CLASS, "copper-sheet", "--outcome", "sound")
    out = tmp_path / "out.csv"
    seen = refdb("mine", "share", str(out))
    assert seen.status == 0, seen.err
    assert not out.exists()
    assert CLASS in seen.out
    assert refdb("mine", "share", str(out), "--yes").status == 0
    text = out.read_text("utf-8")
    assert text.count("\n") == 3
    assert not any(word in text.lower() for word in ("secret", "harbour", "my:"))
    assert not any(len(month) != 7 for month in (r["month"] for r in csv.DictReader(text.splitlines())))
    assert refdb("pool", "add", str(out)).status == 0
    assert {r.outcome for r in dumped(pooled)} == {"sound", "crazed"}
    again = tmp_path / "again.csv"
    refdb("mine", "share", str(again), "--yes")
    assert sorted(again.read_text().splitlines()) == sorted(text.splitlines())
    assert refdb("pool", "add", str(again)).status == 2
    anew = tmp_path / "anew.csv"
    # A new number that is only looked at is not taken.
    refdb("mine", "share", str(anew), "--new-number")
    refdb("mine", "share", str(anew), "--yes")
    assert sorted(anew.read_text().splitlines()) == sorted(text.splitlines())
    anew.unlink()
    refdb("mine", "share", str(anew), "--yes", "--new-number")
    assert {r["studio"] for r in csv.DictReader(anew.open())}.isdisjoint(
        {r["studio"] for r in csv.DictReader(text.splitlines())}
    )
    assert refdb("mine", "share", str(out), "--yes").status == 2


def test_a_jar_of_no_class_stays_here(refdb, tmp_path):
    refdb("mine", "add", "glass", "--name", "Odd", "--expansion", "12 ppm/K", "--span", "20-400C", "--basis", "guess",
          "--expansion", "11-13 ppm/K")  # fmt: skip
    refdb("mine", "tile", "my:odd", "copper-sheet", "--outcome", "sound")
    ran = refdb("mine", "share", str(tmp_path / "out.csv"), "--yes")
    assert ran.status == 2
    assert "no class is known of its jar" in ran.err


def test_the_schema_describes_what_is_written(tmp_path):
    """Against Frictionless: a file of every kind is valid, and one with a wrong word is not."""
    strip = replace(
        GOOD, kind="strip", row="4" * 12, outcome=None, showed=None, back_mm=None, length_mm=100.0, bow_mm=4.4
    )
    path = tmp_path / "rows.csv"
    file_of(path, [GOOD, strip])
    described = frictionless.Schema.from_descriptor(schema())
    resource = frictionless.Resource(path="rows.csv", basepath=str(tmp_path), schema=described)
    assert frictionless.validate(resource).valid
    spoiled(path, kind="tale")
    assert not frictionless.validate(resource).valid
    kept = json.loads((ROOT / "refdb/store/pool/pool.schema.json").read_text("utf-8"))
    assert kept == schema()


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({"outcome": "=cmd|'/c calc'!A0"}, "outcome"),
        ({"glass": "no-such-glass"}, "glass"),
        ({"glass": "copper-sheet"}, "glass"),
        ({"metal": "my:sheet"}, "metal"),
        ({"metal_mm": "1e999"}, "metal_mm"),
        ({"metal_mm": "nan"}, "metal_mm"),
        ({"metal_mm": "99999999999"}, "metal_mm"),
        ({"metal_mm": "0,5"}, "metal_mm"),
        ({"metal_mm": "0.05", "front_mm": "5"}, "front_mm"),
        ({"front_mm": "0", "back_mm": "0"}, "front_mm"),
        ({"studio": "Studio Harbour"}, "studio"),
        ({"row": "+1"}, "row"),
        ({"jar": "1111111\x07"}, "jar"),
        ({"month": "2026-13"}, "month"),
        ({"month": "2026-11-05"}, "month"),
        ({"kind": "strip"}, "length_mm"),
        ({"kind": "firing"}, "outcome"),
        ({"kind": "strip", "outcome": "", "length_mm": "100", "bow_mm": "80"}, "bow_mm"),
        ({"outcome": "sound; crazed"}, "outcome"),
        ({"showed": "once"}, "showed"),
        ({"row": "2" * 12}, "twice"),
        ({"metal": "COPPER-SHEET"}, "did you mean copper-sheet?"),
        ({"glass": "clear-hard-\u200blead-free"}, "did you mean clear-hard-lead-free?"),
        ({"metal_mm": "-0"}, "metal_mm"),
        ({"front_mm": "-0.0", "back_mm": "-0"}, "front_mm"),
        ({"metal_mm": "1e308"}, "metal_mm"),
        ({"metal_mm": "1e-308"}, "metal_mm"),
        ({"metal_mm": "0x1"}, "metal_mm"),
        ({"metal_mm": "0_5"}, "metal_mm"),
        ({"metal_mm": "\u0660.\u0665"}, "metal_mm"),
        ({"minutes": "-3"}, "minutes"),
        ({"outcome": "\x1b[31mcrazed"}, "outcome"),
        ({"outcome": "\u202ecrazed"}, "outcome"),
        ({"outcome": "sou\x00nd"}, "outcome"),
        ({"month": "9999-12"}, "month"),
        ({"row": "A" * 12}, "row"),
    ],
)
def test_a_bad_row_is_told_by_line_and_nothing_is_added(refdb, tmp_path, pooled, cells, told):
    path = spoiled(tmp_path / "rows.csv", **cells)
    ran = refdb("pool", "add", path)
    assert ran.status == 2
    assert "line 3" in ran.err
    assert told in ran.err
    assert "Traceback" not in ran.err
    assert dumped(pooled) == []
    assert refdb("pool", "add", path, "--keep-good").status == 0
    assert dumped(pooled) == [GOOD]


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"\n\n",
        b"a,b\n1,2\n",
        "kind,studio\n".encode("utf-16"),
        b"\x00\x01\x02",
        b"kind,kind\n",
        ",".join(NAMES).encode() + b",evil\n",
        (",".join(NAMES) + "\n").encode(),
        (",".join(NAMES) + "\n" + "x" * 30_000 + "\n").encode(),
        (",".join(NAMES) + "\n" + '"' * 17 + "\n").encode(),
        (",".join(NAMES) + "\n").encode() + b"tile,\xff\xfe" + b"," * 16 + b"\n",
        ",".join(NAMES).encode("utf-16-le"),
        ",".join(NAMES).encode("utf-32"),
        (",".join(NAMES) + "\n").encode() + b"x" * 10_000_000 + b"\n",
        b"kind," * 2_000_000 + b"\n",
        b"SQLite format 3\0" + b"\0" * 5000,
        b"PK\3\4" + bytes(range(256)) * 20,
        b'{"kind": "tile"}',
    ],
)
def test_files_that_are_none_of_ours_are_refused_in_plain_words(refdb, tmp_path, text):
    path = tmp_path / "odd.csv"
    path.write_bytes(text)
    ran = refdb("pool", "add", str(path))
    assert ran.status == 2
    assert "Traceback" not in ran.err
    assert "odd.csv" in ran.err
    assert len(ran.err) < 2000
    assert refdb("pool", "add", str(tmp_path)).status == 2
    assert refdb("pool", "add", str(tmp_path / "none.csv")).status == 2


@pytest.mark.parametrize("end", ["\r", "\x85", "\u2028"])
def test_lines_that_end_otherwise_are_told(refdb, tmp_path, end):
    path = tmp_path / "odd.csv"
    path.write_text(Path(file_of(tmp_path / "good.csv", [GOOD])).read_text("utf-8").replace("\n", end), "utf-8")
    ran = refdb("pool", "add", str(path))
    assert ran.status == 2
    assert "its lines end with" in ran.err


@pytest.mark.parametrize(
    "changed",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace(",", ";"),
        lambda text: text.replace(",", "\t"),
        lambda text: text.replace("\n", "\n\n"),
        lambda text: text.replace("kind,studio", "Kind,STUDIO").replace("crazed", "Crazed"),
    ],
)
def test_what_spreadsheets_make_of_a_file_is_read_all_the_same(refdb, tmp_path, pooled, changed):
    path = Path(file_of(tmp_path / "good.csv", [GOOD]))
    path.write_text(changed(path.read_text("utf-8")), "utf-8", newline="")
    assert refdb("pool", "add", str(path)).status == 0
    assert dumped(pooled) == [GOOD]


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="has no file without an end")
def test_a_file_without_an_end_is_refused(refdb):
    ran = refdb("pool", "add", "/dev/zero")
    assert ran.status == 2
    assert "has no end" in ran.err


def test_a_pool_is_bounded(tmp_path, pooled, monkeypatch):
    monkeypatch.setattr("refdb.store.pool.file.MOST_ROWS", 3)
    rows = [(k, replace(GOOD, row=f"{k:012x}")) for k in range(5)]
    with Pool(pooled, write=True) as pool:
        with pytest.raises(BadInput, match="more than 3 rows"), pool.change() as db:
            pool.put(db, "many.csv", rows, print)
        assert pool.files() == []


@pytest.mark.slow
@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="tells memory by /proc")
def test_a_million_rows_and_one_are_refused_and_leave_nothing(tmp_path, pooled, store):
    """In bounded memory: below 300 MB, of which the file is 124."""
    path = tmp_path / "million.csv"
    file_of(path, [GOOD])
    head, line = path.read_text("utf-8").splitlines()
    before, after = line.split(GOOD.row)
    with path.open("w", encoding="utf-8") as file:
        file.write(f"{head}\n")
        file.writelines(f"{before}{k:012x}{after}\n" for k in range(1_000_001))
    # The most that this process held by itself: what getrusage tells begins with what its parent held.
    run = (
        "import pathlib, re, sys; from refdb.cli.main import main; status = main(sys.argv[1:]); "
        "told = pathlib.Path('/proc/self/status').read_text(); "
        "print(re.search(r'VmHWM:\\s*(\\d+)', told).group(1)); sys.exit(status)"
    )
    environment = {**os.environ, "REFDB_STORE": str(store), "REFDB_WORKSHOP": str(tmp_path / "workshop.db")}
    done = subprocess.run([sys.executable, "-c", run, "pool", "add", str(path)], cwd=ROOT, env=environment,
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.returncode == 2
    assert "more than 1,000,000 rows" in done.stderr
    assert int(done.stdout.split()[-1]) < 300_000
    assert dumped(pooled) == []


def test_removal_undoes_to_the_row_and_to_the_figure(refdb, tmp_path, pooled, simulated):
    honest, _ = simulated
    ours, theirs = honest[: len(honest) // 2], [*honest[len(honest) // 3 :], replace(honest[0], outcome="chipped")]
    refdb("pool", "add", file_of(tmp_path / "ours.csv", ours))
    before, learnt = dumped(pooled), refdb("pool", "learn", "--json").out
    assert refdb("pool", "add", file_of(tmp_path / "theirs.csv", theirs)).status == 0
    there = dumped(pooled)
    assert len(there) == len(honest)
    assert next(r for r in there if r.row == honest[0].row).outcome == "chipped"
    assert refdb("pool", "learn", "--json").out != learnt
    listed = json.loads(refdb("pool", "list", "--json").out)["rows"]
    assert sum(f["counted"] for f in listed) == len(honest)
    assert refdb("pool", "remove", "2").status == 0
    assert dumped(pooled) == before
    assert refdb("pool", "learn", "--json").out == learnt
    assert refdb("pool", "remove", "7").status == 3


def test_what_was_learnt_fits_a_screen_and_says_what_next(refdb, tmp_path, simulated):
    honest, _ = simulated
    refdb("pool", "add", file_of(tmp_path / "ours.csv", honest))
    for words in (("pool", "learn"), ("pool", "learn", CLASS)):
        ran = refdb(*words)
        assert ran.status == 0, ran.err
        lines = ran.out.splitlines()
        assert len(lines) <= 24
        assert max(map(len, lines)) <= 80
        assert "ire next" in ran.out
        assert "bit" in ran.out
    found = json.loads(refdb("pool", "learn", "--json").out)["rows"][0]
    assert found["tiles"] == len(honest)
    assert found["mean"]["high"] - found["mean"]["low"] < found["mean_before"]["high"] - found["mean_before"]["low"]
    assert len(found["shifts"]) == 12
    assert refdb("pool", "learn", "opal-lead-free").status == 3


def test_a_poisoned_file_is_flagged_and_an_honest_one_is_not(refdb, tmp_path, simulated):
    """Three hundred studios made up, each with a crazed tile of the stiffest build, move the class too far."""
    honest, poison = simulated
    ran = refdb("pool", "add", file_of(tmp_path / "ours.csv", honest))
    assert "beyond" not in ran.err
    ran = refdb("pool", "add", file_of(tmp_path / "poison.csv", poison), "--json")
    assert json.loads(ran.out)["moved"] == [{"file": 2, "glass": CLASS}]


def test_one_studio_of_many_rows_weighs_no_more_than_a_jar(refdb, tmp_path, simulated):
    """A thousand rows under one number move the mean by less than a tenth of its width before."""
    honest, poison = simulated
    refdb("pool", "add", file_of(tmp_path / "ours.csv", honest))
    before = json.loads(refdb("pool", "learn", "--json").out)["rows"][0]
    one = [replace(r, studio="f" * 16, jar="f" * 8) for r in poison]
    refdb("pool", "add", file_of(tmp_path / "one.csv", one))
    after = json.loads(refdb("pool", "learn", "--json").out)["rows"][0]
    width = before["mean"]["high"] - before["mean"]["low"]
    assert abs(after["mean"]["value"] - before["mean"]["value"]) < 0.25 * width


def test_another_file_is_no_pool(tmp_path, pooled):
    with sqlite3.connect(pooled) as db:
        db.execute("CREATE TABLE x (a)")
    with pytest.raises(StoreUnusable, match="not a pool"):
        Pool(pooled, write=True)
    pooled.write_bytes(b"SQLite format 3\x00" + b"\xff" * 4000)
    with pytest.raises(StoreUnusable):
        Pool(pooled, write=True)


def test_a_full_disk_changes_nothing(pooled):
    with Pool(pooled, write=True) as pool:
        with pool.change() as db:
            pool.put(db, "first.csv", [(1, GOOD)], print)
        pool._db.execute("PRAGMA max_page_count = 12").fetchone()
        with pytest.raises(StoreUnusable, match="disk is full; nothing was changed"), pool.change() as db:
            pool.put(db, "big.csv", [(k, replace(GOOD, row=f"{k:012x}")) for k in range(5000)], print)
        assert pool.counted() == [GOOD]


def test_a_killed_add_leaves_the_pool_as_it_was(tmp_path, pooled, store):
    with Pool(pooled, write=True) as pool, pool.change() as db:
        pool.put(db, "first.csv", [(1, GOOD)], print)
    path = file_of(tmp_path / "many.csv", [replace(GOOD, row=f"{k:012x}") for k in range(150_000)])
    environment = {**os.environ, "REFDB_STORE": str(store), "REFDB_WORKSHOP": str(tmp_path / "workshop.db")}
    for wait in (0.5, 1.0):
        run = subprocess.Popen([sys.executable, "-m", "refdb", "pool", "add", path], cwd=ROOT, env=environment,
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE)  # fmt: skip
        time.sleep(wait)
        run.send_signal(signal.SIGKILL)
        run.communicate()
        assert dumped(pooled) == [GOOD]


def test_columns_are_told(refdb):
    ran = refdb("pool", "columns")
    assert all(name in ran.out for name in NAMES)
    assert json.loads(refdb("pool", "columns", "--json").out)["primaryKey"] == ["studio", "row"]


def test_the_empty_pool_says_how_to_begin(refdb):
    assert "refdb pool add" in refdb("pool", "list").out
    assert refdb("pool", "learn").status == 4
    assert refdb("pool", "remove", "1").status == 4
    assert Path(refdb("pool").out.split()[0]).name


@pytest.mark.parametrize(("month", "sound"), [("2024-06", True), ("2024-07", True), ("2024-08", False)])
def test_a_month_to_come_is_refused_by_line_and_column(refdb, tmp_path, pooled, monkeypatch, month, sound):
    """On the last of June: the month after is let pass, for clocks differ."""
    monkeypatch.setattr("refdb.store.workshop.cells.today", lambda: date(2024, 6, 30))
    ran = refdb("pool", "add", spoiled(tmp_path / "rows.csv", month=month))
    assert ran.status == (0 if sound else 2)
    if not sound:
        assert f"rows.csv line 3, month: {month} is in the future" in ran.err
        assert dumped(pooled) == []
