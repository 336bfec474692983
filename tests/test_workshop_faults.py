"""Every write, sync, new name and read of every command fails once, or the process ends there: nothing is half there.

The outside judge of what may fail is the C library itself: a small library, compiled here and loaded before it, counts
the calls that write, name or read files and lets the n-th fail, or all from the n-th on, as on a full disk; or it ends
the process at the n-th, as `kill -9` does.
"""

from __future__ import annotations

import errno
import io
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

import pytest
import typer

from refdb.cli.application import application
from refdb.cli.main import main
from refdb.store.pool import file as pool_file
from refdb.store.pool.place import pool_path
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import OWN

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and signals")

FAULTS = r"""
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>
#include <stdio.h>
#include <stdlib.h>
static long left, seen;
static int code, lasting, reads;
static char place[4096];
/* error: 0 nothing fails, below 0 the process ends; of_reads: calls that read are counted, not those that write */
void faults_arm(long n, int error, int from_then_on, int of_reads, const char *folder) {
    left = n; seen = 0; code = error; lasting = from_then_on; reads = of_reads;
    strncpy(place, folder, sizeof place - 1);
}
long faults_seen(void) { return seen; }
static int counted(const char *path) {
    if (strncmp(path, place, strlen(place))) return 0;
    seen++;
    if (lasting ? seen < left : seen != left) return 0;
    if (code < 0) _exit(99);
    errno = code;
    return 1;
}
static int fails(int fd, int reading) {
    char link[64], path[4096];
    if (!code || reading != reads) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, sizeof path - 1);
    if (n < 0) return 0;
    path[n] = 0;
    return counted(path);
}
static int unnamed(const char *path) { return code && !reads && counted(path); }
#define NEXT(name) static __typeof__(name) *real; if (!real) real = dlsym(RTLD_NEXT, #name)
ssize_t write(int fd, const void *b, size_t n) { NEXT(write); return fails(fd, 0) ? -1 : real(fd, b, n); }
ssize_t pwrite(int fd, const void *b, size_t n, off_t o) { NEXT(pwrite); return fails(fd, 0) ? -1 : real(fd, b, n, o); }
ssize_t pwrite64(int fd, const void *b, size_t n, off64_t o) {
    NEXT(pwrite64); return fails(fd, 0) ? -1 : real(fd, b, n, o);
}
int fsync(int fd) { NEXT(fsync); return fails(fd, 0) ? -1 : real(fd); }
int fdatasync(int fd) { NEXT(fdatasync); return fails(fd, 0) ? -1 : real(fd); }
int ftruncate(int fd, off_t n) { NEXT(ftruncate); return fails(fd, 0) ? -1 : real(fd, n); }
int ftruncate64(int fd, off64_t n) { NEXT(ftruncate64); return fails(fd, 0) ? -1 : real(fd, n); }
int rename(const char *a, const char *b) { NEXT(rename); return unnamed(b) ? -1 : real(a, b); }
int link(const char *a, const char *b) { NEXT(link); return unnamed(b) ? -1 : real(a, b); }
ssize_t read(int fd, void *b, size_t n) { NEXT(read); return fails(fd, 1) ? -1 : real(fd, b, n); }
ssize_t pread(int fd, void *b, size_t n, off_t o) { NEXT(pread); return fails(fd, 1) ? -1 : real(fd, b, n, o); }
ssize_t pread64(int fd, void *b, size_t n, off64_t o) { NEXT(pread64); return fails(fd, 1) ? -1 : real(fd, b, n, o); }
"""
#: Ways to fail: error (below 0 the process ends), whether all later calls fail too, whether calls that read are meant.
WAYS = ((errno.EIO, 0, 0), (errno.ENOSPC, 1, 0), (-1, 0, 0), (errno.EIO, 0, 1))
STRIP = (
    *("--metal", "copper-sheet", "--metal-thickness", "0.5mm", "--glass-thickness", "0.3mm"),
    *("--length", "100mm", "--bow", "4mm"),
)
#: Commands with {out} for what they write beside the workshop, {csv} for a file to import, {theirs} for one to share.
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("mine", "add", "glass", "--name", "New", "--basis", "guess"),
    ("mine", "edit", "my:jar-1", "--note", "changed"),
    ("mine", "edit", "my:jar-1", "--name", "Other"),
    ("mine", "remove", "my:jar-2"),
    ("mine", "restore", "my:gone"),
    ("mine", "tile", "my:jar-1", "copper-sheet", "--outcome", "sound"),
    ("mine", "stock", "my:jar-1", "30g"),
    ("mine", "kiln", "12 K"),
    ("mine", "import", "{csv}"),
    ("mine", "forget", "my:jar-1", "--yes"),
    ("mine", "backup", "{out}/copy.db"),
    ("mine", "export", "{out}/shelf"),
    ("mine", "add", "metal", "--name", "New sheet", "--like", "copper-sheet", "--basis", "guess"),
    ("mine", "edit", "my:jar-1", "--observed", "815C 3min copper 0.75mm"),
    ("mine", "remove", "tile:3"),
    ("mine", "kiln", "none"),
    ("mine", "forget", "--yes"),
    ("mine", "share", "{out}/mine.csv", "--yes"),
    ("pool", "add", "{theirs}"),
    ("pool", "remove", "1"),
    ("pool", "use"),
    ("piece", "new", "{out}/moth.toml"),
    ("pool", "unuse"),
    ("pool", "learn"),
    ("mine", "share", "{out}/mine.csv", "--yes", "--new-number"),
    ("mine", "strip", *STRIP, "--save", "my:jar-1"),
    ("mine", "learn", "my:jar-3", "--keep"),
    ("mine", "learn", "kiln", "--keep"),
    ("mine", "add", "leaf", "--name", "New foil", "--like", "gold-foil-24k", "--basis", "guess"),
)
#: Commands that change nothing and read the workshop or the pool, with {moth} for a piece file.
ON = ("--on", "copper-sheet")
LOOK_UPS: tuple[tuple[str, ...], ...] = (
    ("mine", "list"),
    ("mine", "list", "--removed"),
    ("mine", "show", "my:jar-1"),
    ("mine", "show", "tile:3"),
    ("mine", "stock"),
    ("mine", "stock", "my:jar-1"),
    ("mine", "tiles"),
    ("mine", "learn", "my:jar-3"),
    ("mine", "learn", "kiln"),
    ("mine", "kiln"),
    ("mine", "strip", *STRIP),
    ("pool", "list"),
    ("verify",),
    ("suits", "my:jar-1", "copper-sheet"),
    ("suits", "clear-hard-lead-free", "copper-sheet", "--pool"),
    ("metals",),
    ("glasses",),
    ("glasses", *ON),
    ("leaf",),
    ("compare", "my:jar-1", "opal-lead-free", *ON),
    ("builds", "copper-sheet", "--glass", "my:jar-1"),
    ("clears", "gold-foil-24k", *ON),
    ("amounts", "6", "--size", "30", "--coats", "my:jar-1 0.2 mm both"),
    ("estimate", "SiO2 54, Na2O 14, B2O3 10, K2O 8, CaO 10, Al2O3 4", *ON),
    ("show", "my:jar-1"),
    ("find", "jar"),
    ("fault", "crazed"),
    ("practice", "pickle"),
    ("cautions", "my:jar-1"),
    ("piece", "check", "{moth}"),
    ("piece", "plan", "{moth}"),
    ("piece", "improve", "{moth}"),
)
#: Commands that need neither a workshop nor a pool, or run until they are stopped.
WITHOUT = {"kiln", "sources", "browse", "build", "piece schema", "mine columns", "pool columns"}
#: The commands are shared out to so many tests.
PARTS = 3
DAY = "2024-01-01"


def begun(path: Path) -> None:
    """A workshop with some of each kind and a jar that was removed, a pool, and files to take in beside them."""
    with Workshop(path, write=True) as shop, shop.change():
        for n in range(8):
            own = {"name": f"Jar {n}", "like": "clear-hard-lead-free", "basis": "guess", "date": DAY}
            shop.add("glass", {**own, "note": "n" * 300})
            tile = {"glass": f"my:jar-{n}", "metal": "copper-sheet", "outcome": "sound", "date": DAY}
            shop.add("tile", {**tile, "metal_mm": 0.8, "front_mm": 0.3, "back_mm": 0.3})
        tile = {"glass": "clear-hard-lead-free", "metal": "copper-sheet", "outcome": "burnt", "date": DAY}
        shop.add("tile", {**tile, "kiln_c": 800.0, "metal_mm": 0.8, "front_mm": 0.3, "back_mm": 0.3})
        shop.add("stock", {"key": "my:jar-1", "grams": 45.0, "date": DAY})
        shop.add("kiln", {"key": "kiln", "offset_k": 5.0, "basis": "guess", "date": DAY})
        shop.add("glass", {"name": "Gone", "basis": "guess", "date": DAY})
        shop.remove("glass", "gone")
    lines = "".join(f"Imported {n},guess,{DAY}\n" for n in range(60))
    path.with_name("glasses.csv").write_text(f"name,basis,date\n{lines}", encoding="utf-8")
    theirs = path.with_name("theirs")
    theirs.mkdir()
    shutil.copyfile(path, theirs / "workshop.db")
    for file in ("theirs-1.csv", "theirs.csv"):
        assert (
            main(["--workshop", str(theirs / "workshop.db"), "mine", "share", str(path.with_name(file)), "--yes"]) == 0
        )
        (theirs / "workshop-pool.db").unlink()
    # The number of one's own studio is drawn once, so that what is shared later is always the same.
    assert run(path, ("mine", "share", str(theirs / "own.csv"), "--yes")) == 0
    assert run(path, ("pool", "add", str(path.with_name("theirs-1.csv")))) == 0


def always() -> bytes:
    """A number that is drawn anew is the same each time, so that what comes of it can be told."""
    return bytes(32)


BESIDE = ("workshop.db", "workshop-pool.db", "glasses.csv", "theirs.csv")


def copied(source: Path, folder: Path) -> Path:
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "out").mkdir(parents=True)
    for name in BESIDE:
        shutil.copyfile(source.with_name(name), folder / name)
    return folder / "workshop.db"


def run(path: Path, command: tuple[str, ...]) -> int:
    names = {"out": "out", "csv": "glasses.csv", "theirs": "theirs.csv", "moth": "../moth.toml"}
    places = {k: path.parent / name for k, name in names.items()}
    told = [part.format(**places) if "{" in part else part for part in command]
    return main(["--workshop", str(path), *told])


def state(path: Path) -> dict[str, list[object]]:
    """All that stands in a workshop and its pool and all that is kept, without the times; it must be sound."""
    with Workshop(path) as shop:
        assert shop.findings() == []
        held: dict[str, list[object]] = {k: [tuple(r.values()) for r in shop.listed(k)] for k in OWN}
        held["past"] = [tuple(r.values()) for r in shop.rows("SELECT kind, key, row, why, became FROM past")]
    pool = pool_path(path)
    if pool.is_file():
        with closing(sqlite3.connect(pool)) as db:
            assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            held["pool"] = db.execute("SELECT number, name FROM files ORDER BY number").fetchall()
            held["shared"] = db.execute("SELECT * FROM shared ORDER BY file, studio, row").fetchall()
            held["kept"] = db.execute("SELECT * FROM kept ORDER BY name").fetchall()
    return held


def written(path: Path) -> dict[str, object]:
    """What a command wrote beside the workshop: names, and the rows of a copy, with which its pool is looked at."""
    out = path.parent / "out"
    names = {str(p.relative_to(out)): p for p in sorted(out.rglob("*")) if p.is_file() and p.name != "copy-pool.db"}
    # Rows that are shared are in no order.
    return {
        n: state(p) if n.endswith(".db") else sorted(lines) if n == "mine.csv" else lines
        for n, p in names.items()
        for lines in [p.read_bytes().splitlines()]
    }


def ends(source: Path, folder: Path, command: tuple[str, ...]) -> tuple[tuple[object, object], tuple[object, object]]:
    """Workshop and written files before a command and after it."""
    path = copied(source, folder)
    before = state(path), written(path)
    assert run(path, command) == 0, command
    return before, (state(path), written(path))


def child_of(path: Path, command: tuple[str, ...], armed: Callable[[], None] = lambda: None) -> int:
    """A process of its own that runs a command in silence: its number."""
    child = os.fork()
    if not child:
        try:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.dup2(nowhere, 2)
            armed()
            run(path, command)
        finally:
            os._exit(0)
    return child


def in_a_child(path: Path, command: tuple[str, ...], armed: Callable[[], None]) -> bool:
    """Run a command in a process of its own; whether it was ended in the middle."""
    return os.waitstatus_to_exitcode(os.waitpid(child_of(path, command, armed), 0)[1]) == 99


def tried(
    path: Path, command: tuple[str, ...], n: int, way: tuple[int, int, int], arm: Callable[..., None], seen: Any
) -> tuple[int | None, bool]:
    """Run a command of which the n-th call fails: its status, None where it was ended, and whether there was one."""
    folder = str(path.parent).encode()
    if way[0] < 0:
        ended = in_a_child(path, command, lambda: arm(n, *way, folder))
        return None if ended else 0, ended
    arm(n, *way, folder)
    status = run(path, command)
    count = seen()
    arm(0, 0, 0, 0, b"")
    return status, count >= n


def inject(folder: Path, arm: Callable[..., None], seen: Callable[[], int], first: int) -> list[int]:
    """Let each call of every third command fail, and hold what is there to what was before or is after.

    Returns
    -------
    list of int
        Faults by way.
    """
    source = folder / "source" / "workshop.db"
    faults = [0] * len(WAYS)
    for command in COMMANDS[first::PARTS]:
        before, after = ends(source, folder / "whole", command)
        for k, way in enumerate(WAYS):
            n, there_was_one = 0, True
            while there_was_one:
                n += 1
                path = copied(source, folder / "run")
                status, there_was_one = tried(path, command, n, way, arm, seen)
                faults[k] += there_was_one
                what = (command, way, n, status)
                assert status in (None, 0, 2, 4), what
                there = state(path)
                assert there in (before[0], after[0]), what
                if status == 0:
                    assert there == after[0], what
                beside = {
                    name: held for name, held in written(path).items() if status is not None or "part" not in name
                }
                assert [name for name in beside if "part" in name] == [], what
                assert all(beside[name] == after[1][name] for name in beside), what  # type: ignore[index]
                assert not (status == 0 and beside != after[1]), what
                assert run(path, ("mine", "list")) == 0, what
                # Whatever failed for once is done by the same command later, unless it was done.
                if there == before[0] and not beside and status != 0:
                    assert run(path, command) == 0, what
                    assert (state(path), written(path)) == after, what
    return faults


def spoilt(source: Path, folder: Path) -> Path:
    """A workshop with a log, of which a table is damaged."""
    path = copied(source, folder)
    with closing(sqlite3.connect(path)) as db:
        page = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'tiles'").fetchone()[0]
    data = bytearray(path.read_bytes())
    data[(page - 1) * 4096 : page * 4096] = bytes(4096)
    path.write_bytes(data)
    return path


def inject_in_repair(folder: Path, arm: Callable[..., None], seen: Callable[[], int], _: int) -> list[int]:
    """A repair that fails or ends anywhere leaves a workshop there, and the next repair saves as much."""
    source = folder / "source" / "workshop.db"
    path = spoilt(source, folder / "whole")
    damaged = path.read_bytes()
    assert run(path, ("mine", "repair")) == 1
    after = state(path)
    faults = [0] * len(WAYS)
    for k, way in enumerate(WAYS):
        n, there_was_one = 0, True
        while there_was_one:
            n += 1
            path = spoilt(source, folder / "run")
            status, there_was_one = tried(path, ("mine", "repair"), n, way, arm, seen)
            faults[k] += there_was_one
            assert status in (None, 0, 1, 2, 4), (way, n, status)
            assert path.is_file(), (way, n, status)
            if path.read_bytes() == damaged:
                assert run(path, ("mine", "repair")) == 1, (way, n)
            # What could not be read was told to be lost, and the damaged file is kept.
            kept = [p.read_bytes() for p in path.parent.glob("workshop.db.damaged-[0-9]")]
            assert damaged in kept, (way, n, status)
            if not way[2]:
                assert state(path) == after, (way, n, status)
                assert len(kept) == 1, (way, n, status)
    return faults


def answered(path: Path, command: tuple[str, ...]) -> tuple[int, str, str]:
    """Status of a command, and what it printed and complained of."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = run(path, command)
    return status, out.getvalue(), err.getvalue()


def inject_in_look_ups(folder: Path, arm: Callable[..., None], seen: Callable[[], int], _: int) -> list[int]:
    """Where a read fails a look-up answers as without it, answers less and says so, or ends with one line."""
    source, faults = folder / "source" / "workshop.db", 0
    assert run(source, ("piece", "new", "{moth}")) == 0
    for command in LOOK_UPS:
        path = copied(source, folder / "run")
        whole = answered(path, command)
        assert whole[0] == 0, (command, whole)
        n = 0
        while True:
            n += 1
            arm(n, errno.EIO, 0, 1, str(path.parent).encode())
            status, out, err = answered(path, command)
            count = seen()
            arm(0, 0, 0, 0, b"")
            if count < n:
                break
            faults += 1
            what = (command, n, status, out, err)
            if command == ("verify",):
                assert (status, out.count("\n") > 1) == (1, True) or (status, out) == (4, ""), what
            elif status == 0:
                assert out == whole[1] or "left out" in err, what
            else:
                assert (status, out) == (4, ""), what
                assert err.splitlines()[-1].startswith("refdb: "), what
            assert "Traceback" not in err, what
            assert len(err.splitlines()) <= 2 + whole[2].count("\n"), what
    return [faults]


DRIVER = """
import ctypes, os, sys
from pathlib import Path
sys.path.insert(0, os.path.dirname(sys.argv[2]))
import test_workshop_faults as faults
here = ctypes.CDLL(None)
here.faults_seen.restype = ctypes.c_long
here.faults_arm.argtypes = (ctypes.c_long, ctypes.c_int, ctypes.c_int, ctypes.c_int, ctypes.c_char_p)
real, sys.stdout = sys.stdout, open(os.devnull, "w")
sys.stderr.flush()
folder, part = Path(sys.argv[1]), int(sys.argv[3])
(folder / "source").mkdir()
faults.begun(folder / "source" / "workshop.db")
faults.pool_file.drawn = faults.always
work = {faults.PARTS: faults.inject_in_repair, faults.PARTS + 1: faults.inject_in_look_ups}.get(part, faults.inject)
print(*work(folder, here.faults_arm, here.faults_seen, part), file=real)
"""


def commands_of(group: Any, name: str = "") -> set[str]:
    """Names of the commands of a group and of the groups in it."""
    return {
        found
        for part, one in group.commands.items()
        for found in (commands_of(one, f"{name}{part} ") if hasattr(one, "commands") else {name + part})
    }


def test_every_command_has_its_faults():
    """Whatever reads or writes a workshop or a pool is one of the commands that faults are injected in."""
    every = commands_of(typer.main.get_command(application()))
    told = {" ".join(command[:length]) for command in (*COMMANDS, *LOOK_UPS) for length in (1, 2, 3)}
    assert every - told == WITHOUT | {"mine repair"}


@pytest.mark.slow
@pytest.mark.compiler
@pytest.mark.parametrize(
    ("part", "least", "ways"),
    [(0, 60, len(WAYS)), (1, 60, len(WAYS)), (2, 60, len(WAYS)), (PARTS, 30, len(WAYS)), (PARTS + 1, 150, 1)],
    ids=["0", "1", "2", "repair", "look-ups"],
)
def test_every_write_name_and_read_may_fail_or_be_the_last(store, tmp_path, part, least, ways):
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None or not sys.platform.startswith("linux"):
        pytest.skip("no compiler is here")
    (tmp_path / "faults.c").write_text(FAULTS, encoding="ascii")
    library = tmp_path / "faults.so"
    subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(tmp_path / "faults.c"), "-ldl"], check=True
    )
    ran = subprocess.run(
        [sys.executable, "-c", DRIVER, str(tmp_path), __file__, str(part)],
        env={**os.environ, "LD_PRELOAD": str(library), "REFDB_STORE": str(store)},
        capture_output=True,
        text=True,
        timeout=500,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-3000:]
    faults = [int(n) for n in ran.stdout.split()]
    assert len(faults) == ways
    assert min(faults) > least, faults


@pytest.mark.slow
def test_killed_commands_leave_all_or_nothing(store, tmp_path, monkeypatch):
    """Children are forked with everything loaded, so that the kills fall into the work itself."""
    monkeypatch.setenv("REFDB_STORE", str(store))
    rng, kills, caught = random.Random(11), 504, 0
    source = tmp_path / "source" / "workshop.db"
    source.parent.mkdir()
    begun(source)
    monkeypatch.setattr(pool_file, "drawn", always)
    known = {}
    for command in COMMANDS:
        known[command] = ends(source, tmp_path / "whole", command)
        begun_at = time.perf_counter()
        ends(source, tmp_path / "whole", command)
        known[command] += (time.perf_counter() - begun_at,)
    for n in range(kills):
        command = COMMANDS[n % len(COMMANDS)]
        before, after, length = known[command]
        path = copied(source, tmp_path / "run")
        child = child_of(path, command)
        time.sleep(length * rng.random())
        os.kill(child, signal.SIGKILL)
        caught += os.WIFSIGNALED(os.waitpid(child, 0)[1])
        assert state(path) in (before[0], after[0]), command
        for name in ("copy.db", "shelf/datapackage.json", "mine.csv", "moth.toml"):
            if (path.parent / "out" / name).exists():
                # A second name that was not yet taken away again goes with the next command.
                assert {n: held for n, held in written(path).items() if ".part" not in n} == after[1], command
        unbegun = not written(path).keys() & after[1].keys()
        if command[1] in ("backup", "export", "share", "new") and unbegun:
            assert run(path, command) == 0
            assert written(path) == after[1], command
    assert caught > kills // 5, "the kills came too late to tell anything"
