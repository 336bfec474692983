"""Every write and every sync of every command fails once, and processes are killed: nothing is half there or lost.

The outside judge of what may fail is the C library itself: a small library, compiled here and loaded before it, counts
the calls that write and lets the n-th fail, or all from the n-th on, as on a full disk.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from refdb.cli.main import main
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
static long left, seen, lasting;
static int code;
static char place[4096];
void faults_arm(long n, int error, int from_then_on, const char *folder) {
    left = n; seen = 0; code = error; lasting = from_then_on; strncpy(place, folder, sizeof place - 1);
}
long faults_seen(void) { return seen; }
static int fails(int fd) {
    char link[64], path[4096];
    if (!code) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, sizeof path - 1);
    if (n < 0) return 0;
    path[n] = 0;
    if (strncmp(path, place, strlen(place))) return 0;
    seen++;
    if (lasting ? seen >= left : seen == left) { errno = code; return 1; }
    return 0;
}
#define NEXT(name) static __typeof__(name) *real; if (!real) real = dlsym(RTLD_NEXT, #name)
ssize_t write(int fd, const void *b, size_t n) { NEXT(write); return fails(fd) ? -1 : real(fd, b, n); }
ssize_t pwrite(int fd, const void *b, size_t n, off_t o) { NEXT(pwrite); return fails(fd) ? -1 : real(fd, b, n, o); }
ssize_t pwrite64(int fd, const void *b, size_t n, off64_t o) {
    NEXT(pwrite64); return fails(fd) ? -1 : real(fd, b, n, o);
}
int fsync(int fd) { NEXT(fsync); return fails(fd) ? -1 : real(fd); }
int fdatasync(int fd) { NEXT(fdatasync); return fails(fd) ? -1 : real(fd); }
int ftruncate(int fd, off_t n) { NEXT(ftruncate); return fails(fd) ? -1 : real(fd, n); }
int ftruncate64(int fd, off64_t n) { NEXT(ftruncate64); return fails(fd) ? -1 : real(fd, n); }
"""
#: Commands with {out} for what they write beside the workshop, and {csv} for a file to import.
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
)
DAY = "2024-01-01"


def begun(path: Path) -> None:
    """A workshop with some of each kind, a jar that was removed, and a file to import beside it."""
    with Workshop(path, write=True) as shop, shop.change():
        for n in range(8):
            shop.add("glass", {"name": f"Jar {n}", "basis": "guess", "date": DAY, "note": "n" * 300})
            shop.add("tile", {"glass": f"my:jar-{n}", "metal": "copper-sheet", "outcome": "sound", "date": DAY})
        shop.add("stock", {"key": "my:jar-1", "grams": 45.0, "date": DAY})
        shop.add("glass", {"name": "Gone", "basis": "guess", "date": DAY})
        shop.remove("glass", "gone")
    lines = "".join(f"Imported {n},guess,{DAY}\n" for n in range(60))
    path.with_name("glasses.csv").write_text(f"name,basis,date\n{lines}", encoding="utf-8")


def copied(source: Path, folder: Path) -> Path:
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "out").mkdir(parents=True)
    shutil.copyfile(source, folder / "workshop.db")
    shutil.copyfile(source.with_name("glasses.csv"), folder / "glasses.csv")
    return folder / "workshop.db"


def run(path: Path, command: tuple[str, ...]) -> int:
    out, csv = path.parent / "out", path.parent / "glasses.csv"
    told = [part.replace("{out}", str(out)).replace("{csv}", str(csv)) for part in command]
    return main(["--workshop", str(path), *told])


def state(path: Path) -> dict[str, list[object]]:
    """All that stands in a workshop and all that is kept, without the times; it must be sound."""
    with Workshop(path) as shop:
        assert shop.findings() == []
        held: dict[str, list[object]] = {k: [tuple(r.values()) for r in shop.listed(k)] for k in OWN}
        held["past"] = [tuple(r.values()) for r in shop.rows("SELECT kind, key, row, why, became FROM past")]
    return held


def written(path: Path) -> dict[str, object]:
    """What a command wrote beside the workshop: names, and the rows of a copy."""
    out = path.parent / "out"
    names = {str(p.relative_to(out)): p for p in sorted(out.rglob("*")) if p.is_file()}
    return {n: state(p) if n.endswith(".db") else p.read_bytes() for n, p in names.items()}


def ends(source: Path, folder: Path, command: tuple[str, ...]) -> tuple[tuple[object, object], tuple[object, object]]:
    """Workshop and written files before a command and after it."""
    path = copied(source, folder)
    before = state(path), written(path)
    assert run(path, command) == 0, command
    return before, (state(path), written(path))


def inject(folder: Path, arm: Callable[..., None], seen: Callable[[], int]) -> int:
    """Let each call of each command fail, and hold what is there to what was before or is after; the faults tried."""
    source = folder / "source" / "workshop.db"
    source.parent.mkdir()
    begun(source)
    tried = 0
    for command in COMMANDS:
        before, after = ends(source, folder / "whole", command)
        for code, lasting in ((5, 0), (28, 1)):
            n = 0
            while True:
                n += 1
                path = copied(source, folder / "run")
                arm(n, code, lasting, str(path.parent).encode())
                status = run(path, command)
                count = seen()
                arm(0, 0, 0, b"")
                there = state(path)
                what = (command, code, n, status)
                assert status in (0, 2, 4), what
                assert there in (before[0], after[0]), what
                if status == 0:
                    assert there == after[0], what
                beside = written(path)
                assert [name for name in beside if "part" in name] == [], what
                assert all(beside[name] == after[1][name] for name in beside), what  # type: ignore[index]
                assert not (status == 0 and beside != after[1]), what
                assert run(path, ("mine", "list")) == 0, what
                if count < n:
                    break
                tried += 1
    return tried


DRIVER = """
import ctypes, os, sys
from pathlib import Path
sys.path.insert(0, os.path.dirname(sys.argv[2]))
import test_workshop_faults as faults
here = ctypes.CDLL(None)
here.faults_seen.restype = ctypes.c_long
here.faults_arm.argtypes = (ctypes.c_long, ctypes.c_int, ctypes.c_int, ctypes.c_char_p)
real, sys.stdout = sys.stdout, open(os.devnull, "w")
sys.stderr.flush()
print(faults.inject(Path(sys.argv[1]), here.faults_arm, here.faults_seen), file=real)
"""


@pytest.mark.slow
@pytest.mark.compiler
def test_every_write_and_sync_may_fail(store, tmp_path):
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None or not sys.platform.startswith("linux"):
        pytest.skip("no compiler is here")
    (tmp_path / "faults.c").write_text(FAULTS, encoding="ascii")
    library = tmp_path / "faults.so"
    subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(tmp_path / "faults.c"), "-ldl"], check=True
    )
    ran = subprocess.run(
        [sys.executable, "-c", DRIVER, str(tmp_path), __file__],
        env={**os.environ, "LD_PRELOAD": str(library), "REFDB_STORE": str(store)},
        capture_output=True,
        text=True,
        timeout=280,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-3000:]
    assert int(ran.stdout.split()[-1]) > 200, ran.stdout


@pytest.mark.slow
def test_killed_commands_leave_all_or_nothing(store, tmp_path, monkeypatch):
    """Children are forked with everything loaded, so that the kills fall into the work itself."""
    monkeypatch.setenv("REFDB_STORE", str(store))
    rng, kills, caught = random.Random(11), 504, 0
    source = tmp_path / "source" / "workshop.db"
    source.parent.mkdir()
    begun(source)
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
        child = os.fork()
        if not child:
            try:
                nowhere = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nowhere, 1)
                os.dup2(nowhere, 2)
                run(path, command)
            finally:
                os._exit(0)
        time.sleep(length * rng.random())
        os.kill(child, signal.SIGKILL)
        caught += os.WIFSIGNALED(os.waitpid(child, 0)[1])
        assert state(path) in (before[0], after[0]), command
        for name in ("copy.db", "shelf/datapackage.json"):
            if (path.parent / "out" / name).exists():
                assert written(path) == after[1], command
        if command[1] in ("backup", "export") and not written(path).keys() & after[1].keys():
            assert run(path, command) == 0
            assert written(path) == after[1], command
    assert caught > kills // 5, "the kills came too late to tell anything"
