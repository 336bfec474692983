"""Nothing is lost: processes killed in the middle, many that write at once, full disks, files copied while written."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from refdb.errors import StoreUnusable
from refdb.store.pool.file import Pool
from refdb.store.workshop.file import Workshop

KNOWN: dict[str, set[str]] = {"glass": {"clear-hard-lead-free"}, "metal": {"copper-sheet"}, "leaf": set()}
ROWS = 10_000
KILLS = 100
TILE = {"glass": "clear-hard-lead-free", "metal": "copper-sheet", "outcome": "sound", "date": "2024-06-01"}

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and signals")


def jars(path: Path, rows: int) -> Path:
    lines = [f"Jar {n},12.4,20,400,own test,2024-01-01,a note" for n in range(rows)]
    head = "name,expansion_ppm_per_k,expansion_from_c,expansion_to_c,basis,date,note"
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return path


def whole(path: Path) -> int:
    """How many jars there are in a sound workshop."""
    with Workshop(path) as shop:
        assert shop.findings() == []
        return shop.count("glass")


#: Forks importers that have everything loaded already, and kills each at a random moment.
STORM = """
import os, random, signal, sys, time
from pathlib import Path
sys.path.insert(0, os.path.dirname(sys.argv[4]))
from refdb.store.workshop import csv_files as own_csv, file as workshop
import test_workshop_storms as storms

folder, kills, rng = Path(sys.argv[1]), int(sys.argv[2]), random.Random(int(sys.argv[3]))
file = storms.jars(folder / "glasses.csv", storms.ROWS)

def run(target):
    child = os.fork()
    if not child:
        try:
            own_csv.Importer(storms.KNOWN, print).run([file], target)
        finally:
            os._exit(0)
    return child

def fresh(name):
    target = folder / name
    with workshop.Workshop(target, write=True):
        pass
    return target

begun = time.perf_counter()
os.waitpid(run(fresh("timed.db")), 0)
length = time.perf_counter() - begun
assert storms.whole(folder / "timed.db") == storms.ROWS
seen = {0: 0, storms.ROWS: 0}
target = fresh("target.db")
for n in range(kills):
    child = run(target)
    if n % 2:
        # While the rows go into the log and the log is made good.
        log, until = Path(f"{target}-wal"), time.perf_counter() + 3 * length
        while not (log.exists() and log.stat().st_size) and time.perf_counter() < until:
            time.sleep(0.0003)
        time.sleep(0.025 * rng.random())
    else:
        time.sleep(length * 1.05 * rng.random())
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    count = storms.whole(target)
    seen[count] += 1
    if count:
        target = fresh(f"target-{n}.db")
print(seen[0], seen[storms.ROWS])
"""


def test_a_killed_import_leaves_all_or_nothing(tmp_path):
    runs = []
    for seed in (1, 2):
        folder = tmp_path / str(seed)
        folder.mkdir()
        runs.append(
            subprocess.Popen(
                [sys.executable, "-c", STORM, str(folder), str(KILLS // 2), str(seed), __file__],
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
        )
    seen = []
    for run in runs:
        out, err = run.communicate(timeout=240)
        assert run.returncode == 0, err
        seen.append([int(x) for x in out.split()])
    assert sum(map(sum, seen)) == KILLS
    assert sum(none for none, _ in seen) > 10, "the kills came too late to tell anything"


WRITER = """
import sys
from pathlib import Path
from refdb.errors import StoreUnusable
from refdb.store.pool.file import Pool
from refdb.store.workshop.file import Workshop
who, count = int(sys.argv[2]), int(sys.argv[3])
for n in range(count):
    with Workshop(Path(sys.argv[1]), write=True) as shop:
        shop.add("tile", {"glass": "a", "metal": "b", "outcome": "sound", "date": "2024-01-01", "note": f"{who} {n}"})
        if n % 5 == 0:
            shop.add("glass", {"name": f"Jar {who} {n}", "basis": "guess", "date": "2024-01-01"})
            shop.edit("glass", f"jar-{who}-{n}", {"name": f"Jar {who} {n}", "basis": "own test", "date": "2024-01-02"})
"""


@pytest.mark.parametrize("kind", [Workshop, Pool])
@pytest.mark.parametrize("at", ["PRAGMA user_version", "SELECT count(*) FROM sqlite_master"])
def test_a_file_that_another_makes_while_it_is_opened_is_not_taken_for_a_strange_one(tmp_path, monkeypatch, kind, at):
    """Between each two of the readings that tell whose file it is."""
    path, made = tmp_path / "new.db", []
    usual = sqlite3.connect

    class Late(sqlite3.Connection):
        def execute(self, sql, *values):
            if sql == at and not made:
                made.append(True)
                with monkeypatch.context() as patch:
                    patch.setattr(sqlite3, "connect", lambda *words, **more: usual(*words, **more | {"timeout": 0}))
                    with suppress(StoreUnusable):
                        kind(path, write=True).close()
            return super().execute(sql, *values)

    with monkeypatch.context() as patch:
        patch.setattr(sqlite3, "connect", lambda *words, **more: usual(*words, **more, factory=Late))
        kind(path, write=True).close()
    assert made
    kind(path).close()


@pytest.mark.parametrize(("writers", "each"), [(2, 40), (8, 15)])
def test_many_write_at_once_and_nothing_is_lost(tmp_path, writers, each):
    """From a file that is not there yet, so that they make it at once as well."""
    path = tmp_path / "new" / "workshop.db"
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), str(who), str(each)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for who in range(writers)
    ]
    for run in runs:
        out, err = run.communicate(timeout=120)
        assert (run.returncode, out, err) == (0, "", "")
    with Workshop(path) as shop:
        assert shop.findings() == []
        tiles = shop.listed("tile")
        assert {t["note"] for t in tiles} == {f"{who} {n}" for who in range(writers) for n in range(each)}
        assert len(tiles) == writers * each
        due = {f"jar-{who}-{n}" for who in range(writers) for n in range(0, each, 5)}
        assert {g["key"] for g in shop.listed("glass")} == due
        assert {g["basis"] for g in shop.listed("glass")} == {"own test"}


def test_two_imports_at_once_take_a_name_once(tmp_path):
    files = [jars(tmp_path / f"{n}.csv", 300) for n in range(2)]
    path = tmp_path / "workshop.db"
    program = (
        "import sys\nfrom pathlib import Path\nfrom refdb.store.workshop.csv_files import Importer\n"
        "known = {'glass': set(), 'metal': set(), 'leaf': set()}\n"
        "r = Importer(known, lambda e: None).run([Path(sys.argv[1])], Path(sys.argv[2]), 'glass')\n"
        "print(sum(r.good.values()), r.there, r.bad)"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", program, str(f), str(path)], stdout=subprocess.PIPE, text=True)
        for f in files
    ]
    told = sorted(run.communicate(timeout=60)[0].split() for run in runs)
    assert told == [["0", "300", "0"], ["300", "0", "0"]]
    assert whole(path) == 300


def small_disk(tmp_path: Path, size: str) -> Path | None:
    """A file system of this size, or None where none can be mounted."""
    place = tmp_path / "disk"
    place.mkdir()
    if os.geteuid() != 0 or shutil.which("mount") is None:
        return None
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], check=False, capture_output=True
    )
    return place if done.returncode == 0 else None


LIMITED = """
import resource, sys
from pathlib import Path
from refdb.errors import RefdbError
from refdb.store.workshop.csv_files import Importer
known = {"glass": set(), "metal": set(), "leaf": set()}
if len(sys.argv) > 3:
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]),) * 2)
try:
    print(Importer(known, print).run([Path(sys.argv[1])], Path(sys.argv[2]), "glass").done)
except RefdbError as error:
    print(error.line)
"""


def limited(file: Path, path: Path, *more: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(file), str(path), *more],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_a_full_disk_changes_nothing(tmp_path):
    """On a small file system where one can be mounted; the limit on the size of a file is the next test."""
    place = small_disk(tmp_path, "700k")
    if place is None:
        pytest.skip("no file system can be mounted here")
    try:
        path = place / "workshop.db"
        with Workshop(path, write=True) as shop:
            shop.add("tile", TILE)
        (line,) = limited(jars(tmp_path / "jars.csv", ROWS), path)
        assert "full" in line
        assert "nothing was changed" in line
        assert whole(path) == 0
        with Workshop(path, write=True) as shop:
            shop.add("tile", TILE)
            assert shop.count("tile") == 2
    finally:
        subprocess.run(["umount", str(place)], check=True)


@pytest.mark.parametrize("most", [40_000, 200_000, 900_000])
def test_a_file_that_may_not_grow_changes_nothing(tmp_path, most):
    path = tmp_path / "workshop.db"
    with Workshop(path, write=True) as shop:
        shop.add("tile", TILE)
    (line,) = limited(jars(tmp_path / "jars.csv", ROWS), path, str(most))
    assert "disk" in line, line
    assert whole(path) == 0
    with Workshop(path) as shop:
        assert shop.count("tile") == 1


STEADY = """
import sys
from pathlib import Path
from refdb.store.workshop.tables import put
from refdb.errors import StoreUnusable
from refdb.store.pool.file import Pool
from refdb.store.workshop.file import Workshop
with Workshop(Path(sys.argv[1]), write=True) as shop:
    print("ready", flush=True)
    n = 0
    while True:
        with shop.change() as db:
            for _ in range(7):
                n += 1
                put(db, "tile", {"number": n, "glass": "a", "metal": "b", "outcome": "sound", "date": "2024-01-01",
                                  "note": "x" * 300})
"""


def test_the_files_as_a_power_cut_leaves_them_are_sound(tmp_path):
    """The writer is stopped, store and log are copied as they lie, without the index of the log, and opened."""
    path = tmp_path / "workshop.db"
    rng, last = random.Random(5), -1
    with subprocess.Popen([sys.executable, "-c", STEADY, str(path)], stdout=subprocess.PIPE) as writer:
        try:
            assert writer.stdout is not None
            assert writer.stdout.readline() == b"ready\n"
            for n in range(15):
                time.sleep(rng.uniform(0.002, 0.04))
                os.kill(writer.pid, signal.SIGSTOP)
                os.waitid(os.P_PID, writer.pid, os.WSTOPPED | os.WNOWAIT)
                copy = tmp_path / f"copy-{n}.db"
                for end in ("", "-wal"):
                    if Path(f"{path}{end}").exists():
                        shutil.copyfile(f"{path}{end}", f"{copy}{end}")
                # The writer waits meanwhile, or there is more to look over each time.
                with Workshop(copy) as shop:
                    assert shop.findings() == []
                    count = shop.count("tile")
                os.kill(writer.pid, signal.SIGCONT)
                assert count % 7 == 0
                assert count >= last
                last = count
        finally:
            writer.kill()
    assert last > 0


def test_a_log_cut_short_loses_its_last_part_alone(tmp_path):
    path = tmp_path / "workshop.db"
    with Workshop(path, write=True) as shop:
        for _ in range(5):
            shop.add("tile", TILE)
        # Opened by itself, so that closing does not take the log away.
        for end in ("", "-wal"):
            shutil.copyfile(f"{path}{end}", tmp_path / f"copy.db{end}")
    log = tmp_path / "copy.db-wal"
    log.write_bytes(log.read_bytes()[:-1000])
    with Workshop(tmp_path / "copy.db") as shop:
        assert shop.findings() == []
        assert shop.count("tile") == 4


def test_readers_are_not_held_up_by_a_writer(tmp_path):
    path = tmp_path / "workshop.db"
    with Workshop(path, write=True) as shop:
        shop.add("tile", TILE)
        with shop.change() as db:
            db.execute("DELETE FROM tiles")
            with Workshop(path, patience_s=0.2) as reader:
                assert reader.count("tile") == 1
    assert sqlite3.connect(path).execute("SELECT count(*) FROM tiles").fetchone() == (0,)
