"""A damaged workshop, or a damaged store: one line, look-ups that still answer, and a repair that says what is lost."""

from __future__ import annotations

import json
import os
import random
import resource
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from refdb.errors import StoreUnusable
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.repair import repair

DAY = "2024-01-01"
JARS, TILES = 120, 400
GLASS, METAL = "clear-hard-lead-free", "copper-sheet"
PAGE = 4096
LOOK_UPS = (("suits", GLASS, METAL), ("show", METAL), ("glasses",), ("find", "jar"), ("metals", "--json"))
OF_ONES_OWN = (("mine", "list"), ("mine", "show", "my:jar-7"), ("suits", "my:jar-7", METAL), ("mine", "tiles"))


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> bytes:
    """The bytes of a workshop with many jars and tiles, and of each other kind one."""
    path = tmp_path_factory.mktemp("whole") / "workshop.db"
    with Workshop(path, write=True) as shop, shop.change():
        for n in range(JARS):
            shop.add("glass", {"name": f"Jar {n}", "basis": "guess", "date": DAY, "note": "n" * 200})
        for n in range(TILES):
            own = {"glass": f"my:jar-{n % JARS}", "metal": METAL, "outcome": "sound", "date": DAY, "note": "t" * 60}
            shop.add("tile", own)
        shop.add("metal", {"name": "Old sheet", "basis": "guess", "date": DAY})
        shop.add("kiln", {"key": "kiln", "offset_k": 5.0, "basis": "guess", "date": DAY})
        shop.add("stock", {"key": "my:jar-7", "grams": 45.0, "date": DAY})
        shop.remove("glass", "jar-3")
    return path.read_bytes()


def pages_of(whole: bytes, table: str, folder: Path) -> list[int]:
    """Numbers of the pages of a table, from 0, its root first."""
    path = folder / "looked-at.db"
    path.write_bytes(whole)
    with sqlite3.connect(path) as db:
        try:
            return [
                r[0] - 1 for r in db.execute("SELECT pageno FROM dbstat WHERE name = ? ORDER BY path, pageno", (table,))
            ]
        except sqlite3.Error:
            root = db.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0]
            return [root - 1]


def without(whole: bytes, page: int) -> bytes:
    return whole[: page * PAGE] + bytes(PAGE) + whole[(page + 1) * PAGE :]


@pytest.fixture
def path(tmp_path, monkeypatch) -> Path:
    found = tmp_path / "workshop.db"
    monkeypatch.setenv("REFDB_WORKSHOP", str(found))
    return found


@pytest.mark.parametrize("command", LOOK_UPS)
@pytest.mark.parametrize("damage", ["no file of this kind", "cut", "its table"])
def test_look_ups_answer_beside_a_damaged_workshop(refdb, path, whole, tmp_path, damage, command):
    path.write_bytes(
        {
            "no file of this kind": b"what is this?" * 400,
            "cut": whole[: 5 * PAGE],
            "its table": without(whole, pages_of(whole, "glasses", tmp_path)[0]),
        }[damage]
    )
    ran = refdb(*command)
    assert ran.status == 0, ran
    assert ran.out
    # The page of a metal of the reference asks nothing of a workshop; names are also found by their index.
    if command[0] in ("suits", "glasses", "find") and (damage != "its table" or command[0] == "glasses"):
        assert ran.err.count("\n") == 1, ran.err
        assert "your own records are left out here, or some" in ran.err
        assert str(path) in ran.err


@pytest.mark.parametrize("command", OF_ONES_OWN)
def test_what_is_ones_own_says_so_in_a_line(refdb, path, whole, command):
    path.write_bytes(whole[: 3 * PAGE])
    ran = refdb(*command)
    assert (ran.status, ran.out) == (4, "")
    assert ran.err.count("\n") == 1
    assert "refdb mine repair saves what can be read" in ran.err


def test_a_record_that_is_spoilt_is_left_out_alone(refdb, path, whole):
    path.write_bytes(whole)
    with sqlite3.connect(path) as db:
        db.execute("UPDATE glasses SET basis = 'guesz' WHERE key = 'jar-7'")
        db.execute("UPDATE kilns SET tiles = 'one'")
    db.close()
    ran = refdb("glasses")
    assert ran.status == 0
    assert "my:jar-8 " in ran.out
    assert "my:jar-7 " not in ran.out
    assert "my:jar-7 cannot be read as it stands" in ran.err
    ran = refdb("suits", "my:jar-7", METAL)
    assert (ran.status, ran.err.count("\n")) == (4, 1)
    assert "kiln" in refdb("suits", GLASS, METAL, "--kiln", "815C").err


def spoilt(rng: random.Random, whole: bytes) -> bytes:
    """The bytes with flipped bits, a page of others, an end cut off, or a spoilt head."""
    data = bytearray(whole)
    at = rng.randrange(len(data))
    how = rng.randrange(4)
    if how == 0:
        for _ in range(rng.choice((1, 30))):
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    elif how == 1:
        data[at : at + PAGE] = rng.choice((bytes, rng.randbytes))(len(data[at : at + PAGE]))
    elif how == 2:
        del data[max(at, 1) :]
    else:
        for _ in range(3):
            data[rng.randrange(110)] = rng.randrange(256)
    return bytes(data)


@pytest.mark.parametrize("of", ["workshop", "store"])
@pytest.mark.parametrize("seed", [1, 2])
def test_no_damage_gives_a_traceback(refdb, store, path, whole, tmp_path, monkeypatch, seed, of):
    """Bits, pages, ends and heads of the one file or the other; each command ends with an answer or a line."""
    rng = random.Random(seed)
    named = path
    if of == "store":
        named = tmp_path / "reference.db"
        shutil.copyfile(f"{store}.sha256", f"{named}.sha256")
        monkeypatch.setenv("REFDB_STORE", str(named))
        path.write_bytes(whole)
    sound = whole if of == "workshop" else store.read_bytes()
    commands = (*LOOK_UPS, *OF_ONES_OWN, ("verify",), ("mine", "list", "--removed"), ("practice", "pickle"))
    for _ in range(40):
        for end in ("-wal", "-shm"):
            Path(f"{named}{end}").unlink(missing_ok=True)
        named.write_bytes(spoilt(rng, sound))
        ran = refdb(*rng.choice(commands))
        assert ran.status in (0, 1, 3, 4, 5), ran
        assert "Traceback" not in ran.err + ran.out


# Repair


def test_a_sound_workshop_is_left_alone(mine):
    assert mine("mine", "add", "glass", "--name", "a", "--basis", "guess").status == 0
    before = mine.path.read_bytes()
    ran = mine("mine", "repair")
    assert (ran.status, "Sound, so nothing was done" in ran.out) == (0, True)
    assert mine.path.read_bytes() == before
    assert [p.name for p in mine.path.parent.iterdir() if p.name.startswith(mine.path.name)] == [mine.path.name]


def test_repair_saves_all_but_a_page_and_names_what_is_lost(refdb, path, whole, tmp_path):
    pages = pages_of(whole, "tiles", tmp_path)
    if len(pages) < 3:
        pytest.skip("this SQLite does not tell the pages of a table")
    damaged = without(whole, pages[len(pages) // 2])
    path.write_bytes(damaged)
    assert refdb("verify").status != 0
    ran = refdb("mine", "repair", "--json")
    assert ran.status == 1, ran
    told = json.loads(ran.out)
    assert Path(told["kept"]).read_bytes() == damaged
    assert (told["saved"]["glass"], told["saved"]["past"], told["saved"]["kiln"]) == (JARS - 1, 1, 1)
    lost = {line for line in told["lost"] if line.startswith("tile:")}
    assert told["saved"]["tile"] + len(lost) == TILES
    assert 0 < len(lost) < 60
    with Workshop(path) as shop:
        assert shop.findings() == []
        assert {f"tile:{n} is lost" for n in range(1, TILES + 1)} - {
            f"tile:{r['number']} is lost" for r in shop.listed("tile")
        } == lost
        assert shop.listed("stock")[0]["grams"] == 45.0
    assert refdb("verify").status == 0
    assert refdb("mine", "restore", "my:jar-3").status == 0


def test_a_flipped_figure_is_saved_and_told(refdb, path, whole):
    path.write_bytes(whole)
    with sqlite3.connect(path) as db:
        db.execute("UPDATE stock SET grams = 54")
        db.execute("UPDATE glasses SET basis = 'guesz' WHERE key = 'jar-7'")
    db.close()
    ran = refdb("mine", "repair")
    assert ran.status == 1
    said = " ".join(ran.out.split())
    assert "Look these over with refdb mine show: stock my:jar-7 is not as it was written down" in said
    assert "Lost: my:jar-7 cannot be read as it stands" in said
    assert refdb("verify").status == 0


def test_a_spoilt_head_is_made_good(path, whole):
    path.write_bytes(bytes(16) + whole[16:])
    found = repair(path)
    assert found.saved["tile"] == TILES
    assert found.lost == found.doubtful == []


def test_a_repair_that_was_stopped_is_taken_up_again(path, whole):
    """Stopped before the new file took its place: the damaged one has two names, and its log is under the second."""
    path.write_bytes(bytes(16) + whole[16:])
    kept = path.with_name("workshop.db.damaged-1")
    os.link(path, kept)
    Path(f"{kept}-wal").write_bytes(b"a log that is none")
    found = repair(path)
    assert (found.kept, found.saved["tile"], found.lost) == (kept, TILES, [])
    assert kept.read_bytes() == bytes(16) + whole[16:]
    # A log that holds nothing is let go of; none is left for the new file to take for its own.
    assert {p.name for p in path.parent.glob("workshop*")} - {f"{kept.name}-wal"} == {"workshop.db", kept.name}
    with Workshop(path) as shop:
        assert shop.findings() == []


def test_nothing_to_save_changes_nothing(refdb, path):
    path.write_bytes(b"what is this?" * 400)
    ran = refdb("mine", "repair")
    assert (ran.status, ran.out, ran.err.count("\n")) == (4, "", 1)
    assert path.read_bytes() == b"what is this?" * 400
    assert [p.name for p in path.parent.glob("workshop*")] == ["workshop.db"]


def test_any_damage_is_repaired_or_refused(path, whole):
    """Whatever is saved is as it was, or said to be doubtful; whatever is not is said to be lost."""
    rng, saved = random.Random(3), 0
    for n in range(60):
        folder = path.parent / str(n)
        folder.mkdir()
        file = folder / "workshop.db"
        file.write_bytes(spoilt(rng, whole))
        try:
            found = repair(file)
        except StoreUnusable:
            continue
        with Workshop(file) as shop:
            assert shop.findings() == []
            there = {r["key"]: r for r in shop.listed("glass")}
        saved += bool(there)
        if found.kept is None:
            continue
        odd = [k for k, r in there.items() if (r["basis"], r["date"], r["note"]) != ("guess", DAY, "n" * 200)]
        told = " ".join(found.doubtful + found.lost)
        assert all(f"my:{k} " in told or "in glasses have no checksum" in told for k in odd)
    assert saved > 25


# Where nothing can be written

READING = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
from pathlib import Path
from refdb.store.workshop.file import Workshop
with Workshop(Path(sys.argv[1])) as shop:
    sys.stderr.write(f"{shop.count('glass')} {shop.count('tile')}")
"""


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="there is no such limit here")
@pytest.mark.parametrize("log", [False, True])
def test_a_workshop_is_read_where_no_file_may_grow(path, whole, log):
    """As on a full disk: not even the index of the log can be made, whether the log holds anything or not."""
    path.write_bytes(whole)
    if log:
        with Workshop(path, write=True) as shop:
            shop.add("glass", {"name": "New", "basis": "guess", "date": DAY})
            for end in ("", "-wal"):
                shutil.copyfile(f"{path}{end}", f"{path}.copy{end}")
        path = Path(f"{path}.copy")
    ran = subprocess.run(
        [sys.executable, "-c", READING, str(path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert (ran.returncode, ran.stderr) == (0, f"{JARS - 1 + log} {TILES}")


def test_an_earlier_version_is_read_where_nothing_can_be_written(tmp_path):
    from test_workshop import earlier_version

    path = tmp_path / "old" / "workshop.db"
    earlier_version(path, 2)
    ran = subprocess.run(
        [sys.executable, "-c", READING, str(path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert (ran.returncode, ran.stderr) == (0, "1 1")
    assert sqlite3.connect(path).execute("PRAGMA user_version").fetchone() == (2,)


# Unfinished files


def test_parts_of_a_killed_copy_or_export_go_with_the_next(mine, tmp_path):
    assert mine("mine", "add", "glass", "--name", "a", "--basis", "guess").status == 0
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    stale = [tmp_path / f"copy.db.{gone.pid}.part", tmp_path / f"copy.db.{gone.pid}.part-journal"]
    mine_still = tmp_path / f"copy.db.{os.getppid()}.part"
    for file in (*stale, mine_still):
        file.touch()
    folder = tmp_path / "shelf"
    (folder / f"export.{gone.pid}.part").mkdir(parents=True)
    (folder / f"export.{gone.pid}.part" / "glasses.csv").touch()
    assert mine("mine", "backup", str(tmp_path / "copy.db")).status == 0
    assert mine("mine", "export", str(folder)).status == 0
    assert [file for file in stale if file.exists()] == []
    assert mine_still.exists()
    assert [p.name for p in folder.iterdir() if "part" in p.name] == []


def test_folders_are_synced_once_the_file_has_its_name(mine, tmp_path, monkeypatch):
    assert mine("mine", "add", "glass", "--name", "a", "--basis", "guess").status == 0
    done: list[tuple[str, str]] = []
    real_fsync, real_replace = os.fsync, os.replace

    def fsync(handle: int) -> None:
        done.append(("sync", os.readlink(f"/proc/self/fd/{handle}") if os.path.exists("/proc/self/fd") else ""))
        real_fsync(handle)

    def replace(source: object, target: object) -> None:
        done.append(("name", str(target)))
        real_replace(source, target)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(os, "replace", replace)
    assert mine("mine", "backup", str(tmp_path / "copy.db")).status == 0
    named = done.index(("name", str(tmp_path / "copy.db")))
    assert done[named - 1][0] == "sync"
    assert done[named + 1] == ("sync", str(tmp_path))
    done.clear()
    assert mine("mine", "export", str(tmp_path / "shelf")).status == 0
    assert [d for d, _ in done] == ["sync"] * 9 + ["name"] * 9 + ["sync"]


@pytest.mark.parametrize("name", [":memory:", "file:x.db", "file::memory:?cache=shared"])
@pytest.mark.parametrize("command", [("mine", "add", "glass", "--name", "a", "--basis", "guess"), ("glasses",)])
def test_a_workshop_in_memory_is_refused(refdb, tmp_path, monkeypatch, name, command):
    monkeypatch.chdir(tmp_path)
    ran = refdb("--workshop", name, *command)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "names no file" in ran.err
    assert list(tmp_path.glob("*:*")) == []


def test_a_text_file_is_whole_under_its_name_or_not_there(tmp_path, monkeypatch):
    """A sheet or a piece file that cannot be written to the end leaves what was there, and no part beside."""
    from refdb.store.workshop.files import write_whole

    file, link = tmp_path / "sheet.html", tmp_path / "link.html"
    write_whole(file, "one\n")
    with pytest.raises(FileExistsError):
        write_whole(file, "two\n")
    link.symlink_to(file)
    write_whole(link, "two\n", over=True)
    assert (file.read_bytes(), link.is_symlink()) == (b"two\n", True)
    # Where a file can have no second name it is renamed, and still none is written over.
    monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(OSError("no links here")))
    write_whole(tmp_path / "other.html", "three\n")
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError("no space")))
    for target, over in ((file, True), (tmp_path / "new.html", False)):
        with pytest.raises(OSError, match="no space"):
            write_whole(target, "four\n", over=over)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["link.html", "other.html", "sheet.html"]
    assert file.read_bytes() == b"two\n"
