"""What is forgotten is gone: no table, no log, no page given up before holds a byte of it."""

from __future__ import annotations

import io
import json
import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from browse_client import Asking

from refdb.store.workshop.file import Workshop

SECRET = "zyzzyva"


def made(mine) -> None:
    """A jar of the secret name with all that can name it, some of it removed, renamed or changed, and another jar."""
    for arguments in (
        ("add", "glass", "--name", SECRET, "--basis", "guess", "--note", f"{SECRET} {'x' * 400}"),
        ("add", "glass", "--name", "Other", "--basis", "guess"),
        ("tile", f"my:{SECRET}", "copper-sheet", "--outcome", "sound"),
        ("tile", f"my:{SECRET}", "copper-sheet", "--outcome", "crazed"),
        ("tile", "my:other", "copper-sheet", "--outcome", "sound"),
        ("stock", f"my:{SECRET}", "45g"),
        ("stock", f"my:{SECRET}", "40g"),
        ("edit", f"my:{SECRET}", "--observed", "815C 3min copper 0.75mm"),
        ("edit", f"my:{SECRET}", "--note", "none"),
        ("edit", f"my:{SECRET}", "--name", "Plain"),
        ("edit", "my:plain", "--name", f"{SECRET} two"),
        ("remove", "tile:2"),
        ("edit", "my:other", "--note", "an earlier state of another"),
    ):
        assert mine("mine", *arguments).status == 0, arguments


def bytes_beside(path: Path) -> bytes:
    """All bytes of the workshop and what lies beside it."""
    return b"".join(p.read_bytes() for p in path.parent.glob(f"{path.name}*")).lower()


@pytest.mark.parametrize("removed", [False, True])
def test_a_record_goes_with_all_that_names_it(mine, removed):
    made(mine)
    assert SECRET.encode() in bytes_beside(mine.path)
    if removed:
        assert mine("mine", "remove", f"my:{SECRET}-two").status == 0
    ran = mine("mine", "forget", f"my:{SECRET}-two", "--yes", "--json")
    assert ran.status == 0, ran
    told = json.loads(ran.out)["forgotten"]
    assert (told.get("glass", 0), told["tile"], told["firing"], told["stock"]) == (0 if removed else 1, 1, 1, 1)
    assert SECRET.encode() not in bytes_beside(mine.path)
    assert b"plain" not in bytes_beside(mine.path)
    assert mine("mine", "restore", f"my:{SECRET}-two").status == 3
    assert mine("mine", "restore", "tile:2").status == 3
    with Workshop(mine.path) as shop:
        assert shop.findings() == shop.loose_ends() == []
        assert [r["key"] for r in shop.listed("glass")] == ["other"]
        assert [r["glass"] for r in shop.listed("tile")] == ["my:other"]
    assert mine("mine", "restore", "my:other").status == 0


def test_an_earlier_record_of_a_name_that_another_has_now_stays(mine):
    for arguments in (
        ("add", "glass", "--name", "A", "--basis", "guess"),
        ("edit", "my:a", "--name", "B"),
        ("add", "glass", "--name", "A", "--basis", "guess", "--note", "another"),
        ("edit", "my:a", "--note", "changed"),
        ("forget", "my:b", "--yes"),
    ):
        assert mine("mine", *arguments).status == 0, arguments
    assert mine("mine", "restore", "my:a").status == 0
    assert json.loads(mine("mine", "show", "my:a", "--json").out)["row"]["note"] == "another"
    assert mine("mine", "show", "my:b").status == 3


def test_without_a_key_all_earlier_states_go_and_what_stands_stays(mine):
    made(mine)
    with Workshop(mine.path) as shop:
        before = {k: shop.listed(k) for k in ("glass", "tile", "stock", "firing")}
    assert mine("mine", "forget", "--yes").status == 0
    with Workshop(mine.path) as shop:
        assert shop.rows("SELECT * FROM past") == []
        assert {k: shop.listed(k) for k in before} == before
        assert shop.findings() == []
    assert b"an earlier state" in bytes_beside(mine.path)
    assert b"'45" not in bytes_beside(mine.path)
    assert b"xxxxxxxx" not in bytes_beside(mine.path)
    assert "Nothing was there to erase" in mine("mine", "forget", "--yes").out


def test_one_tile_goes_alone(mine):
    made(mine)
    assert mine("mine", "forget", "tile:2", "--yes").status == 0
    assert mine("mine", "restore", "tile:2").status == 3
    with Workshop(mine.path) as shop:
        assert [r["number"] for r in shop.listed("tile")] == [1, 3]


def test_in_a_pipe_it_must_be_meant(mine):
    made(mine)
    before = sqlite3.connect(mine.path).execute("SELECT count(*) FROM past").fetchall()
    ran = mine("mine", "forget", f"my:{SECRET}-two")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "say --yes if that is meant" in ran.err
    assert mine("mine", "show", f"my:{SECRET}-two").status == 0
    assert sqlite3.connect(mine.path).execute("SELECT count(*) FROM past").fetchall() == before
    ran = mine("mine", "forget", "my:never-was", "--yes")
    assert (ran.status, ran.err.count("\n")) == (3, 1)


def test_copies_that_may_hold_it_are_named(mine):
    made(mine)
    copy = Path(f"{mine.path}.version-3")
    copy.touch()
    ran = mine("mine", "forget", f"my:{SECRET}-two", "--yes", "--json")
    assert json.loads(ran.out)["copies"] == [str(copy)]


@pytest.mark.parametrize("name", ["shelf[1].db", "a shelf.db", "*.db"])
def test_copies_of_a_workshop_of_any_name_are_named(refdb, tmp_path, name):
    path = tmp_path / name
    assert refdb("--workshop", str(path), "mine", "add", "glass", "--name", "A", "--basis", "guess").status == 0
    copies = [tmp_path / f"{name}.{end}" for end in ("damaged-2", "damaged-2-wal", "version-1")]
    for copy in (*copies, tmp_path / "other.db.version-1"):
        copy.touch()
    told = json.loads(refdb("--workshop", str(path), "mine", "forget", "my:a", "--yes", "--json").out)
    assert told["copies"] == [str(copy) for copy in copies]


def left_by(process: int, path: Path) -> list[Path]:
    """What a repair of this process leaves where it is ended: its new file, and its copy of the damaged one."""
    folder = Path(tempfile.gettempdir()) / f"refdb-{process}-a1b2c3d4"
    folder.mkdir()
    left = [Path(f"{path}.{process}.part"), Path(f"{path}.{process}.part-wal"), folder / "damaged.db"]
    for file in left:
        file.write_text(SECRET)
    return left


@pytest.mark.parametrize("command", ["forget", "repair"])
def test_what_a_stopped_repair_left_goes_too(mine, tmp_path, monkeypatch, command):
    made(mine)
    (tmp_path / "passing").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "passing"))
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    left, of_another = left_by(gone.pid, mine.path), left_by(os.getppid(), mine.path)
    if command == "repair":
        data = mine.path.read_bytes()
        mine.path.write_bytes(bytes(16) + data[16:])
    assert mine("mine", command, *(["--yes"] if command == "forget" else [])).status == 0
    assert [file for file in left if file.exists() or (file.parent != tmp_path and file.parent.exists())] == []
    # One that is still at work keeps its own.
    assert all(file.exists() for file in of_another)


def test_the_log_that_another_program_has_open_is_emptied_or_told_of(mine, monkeypatch):
    monkeypatch.setitem(Workshop.__init__.__kwdefaults__, "patience_s", 0.2)
    made(mine)
    other = sqlite3.connect(mine.path, isolation_level=None)
    assert other.execute("SELECT count(*) FROM glasses").fetchone() == (2,)
    assert json.loads(mine("mine", "forget", f"my:{SECRET}-two", "--yes", "--json").out)["log_emptied"]
    assert SECRET.encode() not in bytes_beside(mine.path)
    # One that reads just now holds what it reads.
    other.execute("BEGIN")
    assert other.execute("SELECT count(*) FROM glasses").fetchone() == (1,)
    told = " ".join(mine("mine", "forget", "my:other", "--yes").out.split())
    assert "Its log may still hold some of it" in told
    other.close()
    assert "Its log" not in mine("mine", "forget", "--yes").out
    assert b"other" not in bytes_beside(mine.path)


def without_overwriting(monkeypatch) -> None:
    """SQLite as most systems have it: what is deleted is not overwritten where it stood."""
    before = Workshop._connected

    def connected(self, write):
        db = before(self, write)
        db.execute("PRAGMA secure_delete=OFF").fetchone()
        return db

    monkeypatch.setattr(Workshop, "_connected", connected)


def test_pages_given_up_before_hold_it_no_longer(mine, monkeypatch):
    without_overwriting(monkeypatch)
    made(mine)
    for n in range(30):
        assert mine("mine", "add", "glass", "--name", f"{SECRET} {n}", "--basis", "guess").status == 0
        assert mine("mine", "edit", f"my:{SECRET}-{n}", "--name", f"Plain {n}").status == 0
    assert mine("mine", "forget", f"my:{SECRET}-two", "--yes").status == 0
    told = json.loads(mine("mine", "forget", "--yes", "--json").out)
    assert (told["rewritten"], told["log_emptied"]) == (True, True)
    assert SECRET.encode() not in bytes_beside(mine.path)


def test_without_room_to_write_the_file_anew_it_says_so(mine, monkeypatch):
    """No file may grow beyond what the change itself takes: erased, but what was given up before may stay."""
    without_overwriting(monkeypatch)
    made(mine)
    with Workshop(mine.path, write=True) as shop, shop.change():
        for n in range(300):
            shop.add("glass", {"name": f"Jar {n}", "basis": "guess", "date": "2024-01-01", "note": "y" * 900})
    assert mine("mine", "edit", f"my:{SECRET}-two", "--note", "quagga " * 40).status == 0
    assert mine.path.stat().st_size > 300_000
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, hard))
    try:
        ran = mine("mine", "forget", f"my:{SECRET}-two", "--yes")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert ran.status == 0, ran
    assert ran.err == ""
    assert "no room to write the file anew" in " ".join(ran.out.split())
    assert mine("mine", "restore", f"my:{SECRET}-two").status == 3
    # What stood until now is overwritten all the same.
    assert b"quagga" not in bytes_beside(mine.path)
    assert "no room" not in mine("mine", "forget", "--yes").out
    assert SECRET.encode() not in bytes_beside(mine.path)


def test_the_browse_view_no_longer_holds_it(mine, store):
    made(mine)
    asking = Asking(store, workshop=mine.path)
    try:
        address = "/workshop/past.json?_shape=array"
        assert len(json.loads(asking.get(address).body)) > 3
        assert mine("mine", "forget", "--yes").status == 0
        assert json.loads(asking.get(address).body) == []
    finally:
        asking.close()


@pytest.mark.parametrize(
    ("answer", "erased"), [("y", True), ("yes", True), ("n", False), ("", False), ("maybe\nno", False)]
)
def test_in_a_terminal_it_asks_and_only_yes_erases(mine, monkeypatch, answer, erased):
    made(mine)

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Terminal(f"{answer}\n"))
    ran = mine("mine", "forget", f"my:{SECRET}-two")
    assert "Erase " in ran.err
    assert " for good? [y/N]" in ran.err
    assert (ran.status == 0) == erased
    assert (SECRET.encode() in bytes_beside(mine.path)) == (not erased)
    with Workshop(mine.path) as shop:
        assert (shop.row("glass", f"{SECRET}-two") is None) == erased


def test_a_question_that_nobody_answers_erases_nothing(mine, monkeypatch):
    made(mine)

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Terminal(""))
    ran = mine("mine", "forget", f"my:{SECRET}-two")
    assert ran.status != 0
    assert "Traceback" not in ran.err
    assert SECRET.encode() in bytes_beside(mine.path)
