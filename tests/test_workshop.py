"""The person's own store: made, changed, brought back, brought up to date, and refused where it must be."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from refdb.errors import BadInput, NotFound, StoreUnusable
from refdb.store.workshop import connection, schema
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.keys import default_path, key_of, own_key, user_folder
from refdb.store.workshop.schema import APPLICATION_ID, MIGRATIONS, OWN, VERSION

JAR = {
    "name": "Jar 12",
    "basis": "own test",
    "date": "2024-05-31",
    "expansion_ppm_per_k": 12.4,
    "expansion_from_c": 20.0,
    "expansion_to_c": 400.0,
}
TILE = {"glass": "my:jar-12", "metal": "copper-sheet", "outcome": "sound", "date": "2024-06-01"}
FIRING = {
    "glass": "my:jar-12",
    "kiln_c": 790.0,
    "minutes": 2.5,
    "metal": "copper-sheet",
    "metal_mm": 0.75,
    "result": "gloss",
    "date": "2024-06-01",
}
#: The tables as the first version made them, written down when it was published.
FIRST = """
CREATE TABLE glasses (key TEXT PRIMARY KEY, name TEXT NOT NULL, like TEXT, optical TEXT, hardness TEXT, lead TEXT,
  cadmium TEXT, colourant TEXT, expansion_ppm_per_k REAL, expansion_low_ppm_per_k REAL, expansion_high_ppm_per_k REAL,
  expansion_from_c REAL, expansion_to_c REAL, expansion_as_given TEXT, expansion_basis TEXT, expansion_date TEXT,
  fuse_low_c REAL, fuse_high_c REAL, fuse_basis TEXT, fuse_date TEXT, set_point_c REAL, set_point_low_c REAL,
  set_point_high_c REAL, set_point_basis TEXT, set_point_date TEXT, basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT,
  CHECK ((expansion_ppm_per_k IS NULL) = (expansion_from_c IS NULL) AND (expansion_from_c IS NULL) =
  (expansion_to_c IS NULL) AND (expansion_from_c IS NULL OR expansion_from_c < expansion_to_c))) STRICT, WITHOUT ROWID;
CREATE TABLE metals (key TEXT PRIMARY KEY, name TEXT NOT NULL, like TEXT, form TEXT, alloy TEXT,
  expansion_ppm_per_k REAL, expansion_low_ppm_per_k REAL, expansion_high_ppm_per_k REAL, expansion_from_c REAL,
  expansion_to_c REAL, expansion_as_given TEXT, expansion_basis TEXT, expansion_date TEXT, solidus_c REAL,
  solidus_low_c REAL, solidus_high_c REAL, solidus_basis TEXT, solidus_date TEXT, shrinkage_percent REAL,
  shrinkage_low_percent REAL, shrinkage_high_percent REAL, shrinkage_basis TEXT, shrinkage_date TEXT,
  basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT) STRICT, WITHOUT ROWID;
CREATE TABLE leaf (key TEXT PRIMARY KEY, name TEXT NOT NULL, like TEXT, metal TEXT, fineness TEXT, form TEXT,
  leaf_thickness_um REAL, leaf_thickness_low_um REAL, leaf_thickness_high_um REAL, leaf_thickness_basis TEXT,
  leaf_thickness_date TEXT, basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT) STRICT, WITHOUT ROWID;
CREATE TABLE tiles (number INTEGER PRIMARY KEY, glass TEXT NOT NULL, metal TEXT NOT NULL, metal_mm REAL, front_mm REAL,
  back_mm REAL, kiln_c REAL, minutes REAL, outcome TEXT NOT NULL, date TEXT NOT NULL, note TEXT) STRICT;
CREATE INDEX tiles_of ON tiles (glass, metal);
CREATE TABLE past (number INTEGER PRIMARY KEY, kind TEXT NOT NULL, key TEXT NOT NULL, row TEXT NOT NULL,
  why TEXT NOT NULL CHECK (why IN ('removed', 'edited')), at TEXT NOT NULL) STRICT;
CREATE INDEX past_of ON past (kind, key);
"""
#: What the second version added, written down likewise.
SECOND = """
ALTER TABLE tiles ADD COLUMN showed TEXT;
CREATE INDEX glasses_words ON glasses (name, colourant, note);
CREATE INDEX metals_words ON metals (name, alloy, note);
CREATE INDEX leaf_words ON leaf (name, metal, note);
CREATE TABLE strips (number INTEGER PRIMARY KEY, glass TEXT NOT NULL, metal TEXT NOT NULL, metal_mm REAL NOT NULL,
  glass_mm REAL NOT NULL, length_mm REAL NOT NULL, width_mm REAL, bow_mm REAL NOT NULL, bow_before_mm REAL,
  set_point_c REAL, expansion_ppm_per_k REAL, expansion_low_ppm_per_k REAL, expansion_high_ppm_per_k REAL,
  date TEXT NOT NULL, note TEXT) STRICT;
CREATE INDEX strips_of ON strips (glass);
CREATE TABLE stock (key TEXT PRIMARY KEY, grams REAL NOT NULL, date TEXT NOT NULL, note TEXT) STRICT, WITHOUT ROWID;
"""
#: What the third version added.
THIRD = """
ALTER TABLE glasses ADD COLUMN expansion_tiles TEXT;
ALTER TABLE strips ADD COLUMN metal_low_mm REAL;
ALTER TABLE strips ADD COLUMN metal_high_mm REAL;
ALTER TABLE strips ADD COLUMN glass_low_mm REAL;
ALTER TABLE strips ADD COLUMN glass_high_mm REAL;
ALTER TABLE strips ADD COLUMN bow_error_mm REAL;
CREATE TABLE firings (number INTEGER PRIMARY KEY, glass TEXT NOT NULL, kiln_c REAL NOT NULL, minutes REAL NOT NULL,
  metal TEXT NOT NULL, metal_mm REAL, result TEXT NOT NULL, date TEXT NOT NULL, note TEXT) STRICT;
CREATE INDEX firings_of ON firings (glass);
CREATE TABLE kilns (key TEXT PRIMARY KEY, offset_k REAL NOT NULL, offset_low_k REAL, offset_high_k REAL, tiles TEXT,
  basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT) STRICT, WITHOUT ROWID;
"""
FOURTH = "ALTER TABLE metals ADD COLUMN schedule TEXT;"


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "deep" / "workshop.db"


def first_version(path: Path) -> None:
    """A workshop of the first version with a jar, a removed one and a tile."""
    earlier_version(path, 1)


def earlier_version(path: Path, version: int) -> None:
    """A workshop of an earlier version with a jar, a removed one and a tile, and of the second a strip and stock."""
    path.parent.mkdir(parents=True, exist_ok=True)
    db = sqlite3.connect(path)
    db.executescript(FIRST)
    if version > 1:
        db.executescript(SECOND)
        db.execute(
            "INSERT INTO strips (glass, metal, metal_mm, glass_mm, length_mm, bow_mm, date) "
            "VALUES ('my:old', 'copper-sheet', 0.5, 0.3, 100, 4.4, '2020-01-04')"
        )
        db.execute("INSERT INTO stock (key, grams, date) VALUES ('my:old', 45, '2020-01-05')")
    if version > 2:
        db.executescript(THIRD)
    if version > 3:
        db.executescript(FOURTH)
    db.execute(
        "INSERT INTO glasses (key, name, basis, date, note) VALUES ('old', 'Old', 'guess', '2020-01-02', 'kept')"
    )
    db.execute(
        "INSERT INTO tiles (glass, metal, outcome, date) VALUES ('my:old', 'copper-sheet', 'crazed', '2020-01-03')"
    )
    db.execute(
        "INSERT INTO past (kind, key, row, why, at) VALUES ('glass', 'gone', "
        '\'{"key": "gone", "name": "Gone", "basis": "guess", "date": "2020-01-01"}\', \'removed\', '
        "'2020-02-01T00:00:00+00:00')"
    )
    db.execute(f"PRAGMA application_id={APPLICATION_ID}")
    db.execute(f"PRAGMA user_version={version}")
    db.commit()
    db.execute("PRAGMA journal_mode=WAL")
    db.close()


def test_the_folder_is_the_one_that_platformdirs_names(monkeypatch, tmp_path):
    """Against platformdirs itself, with and without XDG_DATA_HOME."""
    import platformdirs

    for value in (None, str(tmp_path), "", "  "):
        monkeypatch.delenv("XDG_DATA_HOME", raising=False)
        if value is not None:
            monkeypatch.setenv("XDG_DATA_HOME", value)
        assert user_folder() == platformdirs.user_data_path("refdb", appauthor=False)
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "own.db"))
    assert default_path() == tmp_path / "own.db"


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Jar 12", "jar-12"),
        ("  Émail, n° 5 ", "émail-n-5"),
        ("a--b__c", "a-b-c"),
        ("12", "12"),
        ("---", ""),
        ("", ""),
        ("STRAẞE", "strasse"),
    ],
)
def test_keys_come_from_names(name, key):
    assert key_of(name) == key
    assert own_key(f"My:{name}") == own_key(f"my: {name} ") == key
    assert key_of(key) == key


def test_the_columns_described_are_those_stored(path):
    with Workshop(path, write=True) as shop:
        for own in OWN.values():
            columns = shop.rows(f"SELECT name, type FROM pragma_table_info('{own.table}')")
            stored = {r["name"]: r["type"] for r in columns}
            described = {c.name: c.type for c in own.columns} | ({"key": "TEXT"} if own.named else {})
            assert stored == described, own.kind


def test_what_is_added_is_there_and_stays(path):
    with Workshop(path, write=True) as shop:
        assert shop.add("glass", JAR)["key"] == "jar-12"
        assert shop.add("tile", TILE)["number"] == 1
        assert shop.rows("PRAGMA journal_mode") == [{"journal_mode": "wal"}]
    with Workshop(path) as shop:
        assert shop.kind_of("jar-12") == "glass"
        row = shop.row("glass", "jar-12")
        assert row is not None
        assert {k: row[k] for k in JAR} == JAR
        assert shop.row("tile", "1") == shop.listed("tile")[0]
        assert shop.findings() == []
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_a_name_is_given_once_over_all_kinds(path):
    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
        for kind in ("glass", "metal", "leaf"):
            with pytest.raises(BadInput, match="taken by a glass of yours"):
                shop.add(kind, {"name": "JAR-12", "basis": "guess", "date": "2024-01-01"})
        assert [shop.count(k) for k in ("glass", "metal", "leaf")] == [1, 0, 0]


def test_removed_and_changed_rows_come_back(path):
    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
        before = shop.row("glass", "jar-12")
        shop.remove("glass", "jar-12")
        assert shop.row("glass", "jar-12") is None
        assert [(r["kind"], r["key"]) for r in shop.removed()] == [("glass", "jar-12")]
        assert shop.restore(("glass", "metal", "leaf"), "jar-12") == ("glass", before)
        assert shop.row("glass", "jar-12") == before
        assert shop.removed() == []
        shop.edit("glass", "jar-12", {**JAR, "expansion_ppm_per_k": 9.9})
        shop.restore(("glass",), "jar-12")
        assert shop.row("glass", "jar-12") == before
        shop.restore(("glass",), "jar-12")
        changed = shop.row("glass", "jar-12")
        assert changed is not None
        assert changed["expansion_ppm_per_k"] == 9.9
        with pytest.raises(NotFound, match="nothing is kept"):
            shop.restore(("glass",), "never-was")


def test_a_removed_row_does_not_push_out_one_of_another_kind(path):
    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
        shop.remove("glass", "jar-12")
        shop.add("metal", {"name": "Jar 12", "basis": "guess", "date": "2024-01-01"})
        with pytest.raises(BadInput, match="taken by a metal"):
            shop.restore(("glass", "metal", "leaf"), "jar-12")
        assert shop.kind_of("jar-12") == "metal"


def test_numbers_of_removed_tiles_are_not_given_again(path):
    with Workshop(path, write=True) as shop:
        shop.add("tile", TILE)
        shop.remove("tile", "1")
        assert shop.add("tile", TILE)["number"] == 2
        shop.restore(("tile",), "1")
        assert [r["number"] for r in shop.listed("tile")] == [1, 2]


def test_a_new_name_takes_what_belongs_to_it_along(path):
    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
        shop.add("tile", TILE)
        shop.add("stock", {"key": "my:jar-12", "grams": 45.0, "date": "2024-01-01"})
        shop.add("firing", FIRING)
        shop.edit("glass", "jar-12", {**JAR, "name": "Green"})
        assert shop.listed("tile")[0]["glass"] == shop.listed("firing")[0]["glass"] == "my:green"
        assert shop.belonging("my:green") == {"tile": 1, "firing": 1}
        assert shop.belonging("my:jar-12") == {}
        assert shop.listed("stock")[0]["key"] == "my:green"
        assert shop.kind_of("jar-12") is None


def test_stock_is_replaced_and_the_old_figure_kept(path):
    with Workshop(path, write=True) as shop:
        for grams in (45.0, 30.0):
            shop.add("stock", {"key": "my:jar-12", "grams": grams, "date": "2024-01-01"})
        assert [r["grams"] for r in shop.listed("stock")] == [30.0]
        shop.restore(("stock",), "my:jar-12")
        assert [r["grams"] for r in shop.listed("stock")] == [45.0]


@pytest.mark.parametrize("version", [1, 2, 3, 4])
def test_the_steps_to_a_version_are_what_it_made(version):
    """Against the text of earlier versions' tables, kept here apart from the code."""

    def tables(statements: str) -> dict[str, list[tuple[object, ...]]]:
        db = sqlite3.connect(":memory:")
        db.executescript(statements)
        names = [r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            n: db.execute(f"SELECT name, type, \"notnull\", pk FROM pragma_table_info('{n}')").fetchall() for n in names
        }

    texts = (FIRST, SECOND, THIRD, FOURTH)[:version]
    assert tables(";".join(texts)) == tables(";".join(s for step in MIGRATIONS[:version] for s in step))


@pytest.mark.parametrize("write", [False, True])
@pytest.mark.parametrize("version", [1, 2, 3, 4])
def test_every_earlier_version_is_brought_up_to_date(path, write, version):
    assert VERSION == 5, "add the new earlier version here"
    earlier_version(path, version)
    with Workshop(path, write=write) as shop:
        assert shop.rows("PRAGMA user_version") == [{"user_version": VERSION}]
        assert shop.listed("glass")[0]["note"] == "kept"
        assert shop.listed("tile")[0]["showed"] is None
        strips = shop.listed("strip")
        assert [(s["bow_mm"], s["bow_error_mm"]) for s in strips] == ([(4.4, None)] if version > 1 else [])
        assert [s["grams"] for s in shop.listed("stock")] == ([45.0] if version > 1 else [])
        assert shop.listed("firing") == shop.listed("kiln") == []
        assert shop.findings() == []
        copy = shop.copy_before(version)
    with Workshop(path, write=True) as shop:
        assert shop.restore(("glass",), "gone")[1]["name"] == "Gone"
        shop.add("tile", TILE | {"showed": "on cooling"})
        shop.add("firing", FIRING | {"glass": "my:old"})
    old = sqlite3.connect(copy)
    assert old.execute("PRAGMA user_version").fetchone() == (version,)
    assert old.execute("SELECT name FROM glasses").fetchall() == [("Old",)]
    assert old.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_migration_that_fails_changes_nothing(path, monkeypatch):
    first_version(path)
    before = sqlite3.connect(path).execute("SELECT sql FROM sqlite_master ORDER BY name").fetchall()
    bad = (*MIGRATIONS[:1], ("ALTER TABLE tiles ADD COLUMN showed TEXT", "CREATE TABLE glasses (x)"))
    monkeypatch.setattr(connection, "MIGRATIONS", bad)
    with pytest.raises(StoreUnusable):
        Workshop(path, write=True)
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA user_version").fetchone() == (1,)
    assert db.execute("SELECT sql FROM sqlite_master ORDER BY name").fetchall() == before


def refusal(path: Path, write: bool) -> StoreUnusable:
    with pytest.raises(StoreUnusable) as caught:
        Workshop(path, write=write, patience_s=0.3)
    assert "\n" not in caught.value.line
    assert "locked" not in caught.value.line
    return caught.value


@pytest.mark.parametrize("write", [False, True])
def test_a_newer_workshop_is_refused_and_left_alone(path, write):
    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version={VERSION + 1}")
    db.close()
    before = path.read_bytes()
    assert "newer refdb" in refusal(path, write).line
    assert path.read_bytes() == before


@pytest.mark.parametrize("write", [False, True])
def test_what_is_no_workshop_is_refused_and_left_alone(path, write, store):
    path.parent.mkdir()
    path.write_bytes(b"this is a letter, not a store. " * 400)
    assert "damaged or no workshop" in refusal(path, write).line
    shutil.copyfile(store, path)
    assert "this is not a workshop" in refusal(path, write).line
    assert path.read_bytes() == store.read_bytes()
    path.unlink()
    path.mkdir()
    refusal(path, write)


def test_there_is_nothing_to_read_yet(path):
    assert "refdb mine add makes one" in refusal(path, False).line
    assert not path.parent.exists()


def test_a_torn_file_is_found_out(path):
    with Workshop(path, write=True) as shop:
        for n in range(300):
            shop.add("tile", TILE | {"number": n + 1})
    whole = path.read_bytes()
    path.write_bytes(whole[:8192] + bytes(len(whole) - 8192 - 4096) + whole[-4096:])
    try:
        with Workshop(path) as shop:
            found = shop.findings()
    except StoreUnusable as error:
        found = [error.line]
    assert found


def test_waiting_has_an_end(path):
    with Workshop(path, write=True):
        pass
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with Workshop(path, write=True, patience_s=0.3) as shop, pytest.raises(StoreUnusable) as caught:
        shop.add("tile", TILE)
    assert "too long" in caught.value.line
    assert "locked" not in caught.value.line
    holder.execute("ROLLBACK")
    with Workshop(path, write=True) as shop:
        shop.add("tile", TILE)


def test_a_copy_is_whole_and_overwrites_nothing(path, tmp_path):
    target = tmp_path / "copy.db"
    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
        shop.backup(target)
        with pytest.raises(BadInput, match="already"):
            shop.backup(target)
        with pytest.raises((BadInput, StoreUnusable)):
            shop.backup(tmp_path / "no" / "such" / "folder.db")
    with Workshop(target) as copy:
        assert copy.count("glass") == 1
    assert not list(tmp_path.glob("*.part"))


READ_ONLY = """
import os, sys
import urllib.parse  # Python 3.13 imports it late, when the folder of Python may be closed to the other user.
from pathlib import Path
from refdb.errors import RefdbError
from refdb.store.workshop.file import Workshop
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
path = Path(sys.argv[1])
with Workshop(path) as shop:
    print(shop.count("glass"))
for target in (path, path.parent / "other.db", path.parent / "deep" / "other.db"):
    try:
        with Workshop(target, write=True) as shop:
            shop.add("tile", {"glass": "a", "metal": "b", "outcome": "sound", "date": "2024-01-01"})
    except RefdbError as error:
        print(error.line)
"""


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="there are no such permissions here")
def test_a_folder_that_cannot_be_written_can_be_read():
    """As another user where root runs the tests, whom no permission stops."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Workshop(folder / "workshop.db", write=True) as shop:
            shop.add("glass", JAR)
        folder.chmod(0o555)
        (folder / "workshop.db").chmod(0o444)
        done = subprocess.run(
            [sys.executable, "-c", READ_ONLY, str(folder / "workshop.db")],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        folder.chmod(0o755)
        assert done.returncode == 0, done.stderr
        count, *lines = done.stdout.splitlines()
        assert count == "1"
        assert len(lines) == 3
        assert all("opened" in line or "written" in line for line in lines), lines
        assert [p.name for p in folder.iterdir()] == ["workshop.db"]


def test_verify_looks_the_workshop_over_too(refdb, path):
    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
    ran = refdb("verify", "--workshop", str(path))
    assert ran.status == 0, ran
    assert str(path) in ran.out.replace("\n", "").replace("    ", "") or path.name in ran.out
    ran = refdb("verify", str(path))
    assert ran.status == 0
    db = sqlite3.connect(path)
    db.execute("DROP TABLE stock")
    db.commit()
    db.close()
    for arguments in (("--workshop", str(path)), (str(path),)):
        ran = refdb("verify", *arguments)
        assert ran.status == 1
        assert "stock is missing" in ran.out


def test_building_the_reference_anew_leaves_the_workshop_alone(refdb, path, tmp_path):
    import small_sources

    with Workshop(path, write=True) as shop:
        shop.add("glass", JAR)
    before = path.read_bytes()
    sources = tmp_path / "sources"
    small_sources.write(sources)
    ran = refdb("build", "--from", str(sources), "--to", str(tmp_path / "new.db"), "--workshop", str(path))
    assert ran.status == 0, ran
    assert path.read_bytes() == before


def test_a_column_declared_for_the_next_version_makes_its_own_step(monkeypatch):
    new = schema.number_column("weight_g", "weight", "g", 0, 100)
    jar = OWN["glass"]
    later = jar._replace(columns=(*jar.columns, new), added={**jar.added, VERSION + 1: ("weight_g",)})
    monkeypatch.setitem(schema.OWN, "glass", later)
    *before, step = schema._later_steps()
    assert step == ("ALTER TABLE glasses ADD COLUMN weight_g REAL",)
    assert len(before) == VERSION - len(schema.PUBLISHED)
