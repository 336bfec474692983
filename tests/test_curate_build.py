"""Building the store: whole or not at all, the same bytes every time, and a schema that holds by itself."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import small_sources

from refdb.curate import build as building
from refdb.curate import layout
from refdb.curate.build import build
from refdb.curate.check import check
from refdb.curate.dump import verify
from refdb.curate.read import Problems, read_folder
from refdb.curate.record import Record
from refdb.curate.seal import is_as_built
from refdb.errors import BadSource, StoreUnusable
from refdb.store.schema import APPLICATION_ID, SCHEMA_VERSION, TABLE, TABLES

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "data_sources"


@pytest.fixture
def sources(tmp_path: Path) -> Path:
    return small_sources.write(tmp_path / "sources")


@pytest.fixture
def store(tmp_path: Path, sources: Path) -> Iterator[sqlite3.Connection]:
    build(sources, tmp_path / "store.db")
    with closing(sqlite3.connect(tmp_path / "store.db")) as connection:
        connection.execute("PRAGMA foreign_keys = ON")
        yield connection


def python(*arguments: str, hash_seed: str = "0") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments], capture_output=True, text=True, timeout=120, check=False,
        cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": hash_seed},
    )  # fmt: skip


def test_two_builds_are_byte_identical(tmp_path: Path, sources: Path) -> None:
    first = build(sources, tmp_path / "first.db")
    for seed in ("1", "2"):
        ran = python("scripts/build_store.py", "--from", str(sources), "--to", str(tmp_path / f"{seed}.db"),
                     hash_seed=seed)  # fmt: skip
        assert ran.returncode == 0, ran.stderr
        assert first.fingerprint in ran.stdout
        assert (tmp_path / f"{seed}.db").read_bytes() == first.target.read_bytes()


def test_line_ends_do_not_change_the_bytes(tmp_path: Path, sources: Path) -> None:
    plain = build(sources, tmp_path / "plain.db").target.read_bytes()
    for path in sources.glob("*.csv"):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert build(sources, tmp_path / "crlf.db").target.read_bytes() == plain


def test_another_figure_gives_another_store(tmp_path: Path, sources: Path) -> None:
    first = build(sources, tmp_path / "first.db")
    small_sources.write(sources, small_sources.changed("property_values.csv", 0, value="110.5"))
    second = build(sources, tmp_path / "second.db")
    assert first.fingerprint != second.fingerprint


def test_the_report_tells_what_was_built(tmp_path: Path, sources: Path) -> None:
    report = build(sources, tmp_path / "store.db")
    assert report.rows == {
        "sources": 4, "source_subjects": 28, "properties": 7, "materials": 4, "metal_details": 2, "glass_details": 1,
        "leaf_details": 1, "aliases": 3, "glass_groups": 0, "property_bounds": 12, "elements": 3,
        "property_values": 6, "expansion_points": 13, "fit_rules": 1,
        "colour_reactions": 1, "symptoms": 1, "synonyms": 1, "faults": 2, "observed_firings": 1, "contacts": 1,
        "solders": 1,
        "practice_topics": 1,
        "firing_phases": 1, "practice_rules": 1, "known_pairs": 1, "hazards": 1, "exposure_limits": 1, "answers": 0,
        "builds": 0, "reference_glasses": 1, "compositions": 3, "reference_values": 1, "estimates": 0,
    }  # fmt: skip
    assert report.size_bytes == report.target.stat().st_size


def test_absent_answers_build_the_same_store(tmp_path: Path, sources: Path) -> None:
    first = build(sources, tmp_path / "first.db").target.read_bytes()
    (sources / "answers.csv").unlink()
    assert build(sources, tmp_path / "second.db").target.read_bytes() == first


def test_the_header_of_the_file_says_what_it_is(store: sqlite3.Connection) -> None:
    def pragma(name: str) -> object:
        return store.execute(f"PRAGMA {name}").fetchone()[0]

    assert pragma("application_id") == APPLICATION_ID
    assert pragma("user_version") == SCHEMA_VERSION
    assert pragma("journal_mode") == "delete"
    assert pragma("page_size") == building.PAGE_SIZE
    assert pragma("freelist_count") == 0
    strict = dict(store.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'"))
    assert [table.name for table in TABLES if strict[table.name] != 1] == []


def test_values_are_stored_in_the_canonical_unit_beside_what_was_printed(store: sqlite3.Connection) -> None:
    rows = store.execute(
        "SELECT material, property, value, low, high, as_printed, unit_as_printed FROM property_values "
        "WHERE preferred = 1 ORDER BY 1, 2").fetchall()  # fmt: skip
    assert rows == [
        ("clear-hard", "expansion", 11.0, 10.0, 12.0, "110 (100-120)", "1e-7/K"),
        ("copper-sheet", "expansion", 17.64, None, None, "9.8e-6 per °F", "1e-6/delta_degF"),
        ("copper-sheet", "solidus", 9760 / 9, None, None, "1984 °F", "degF"),
        ("copper-sheet", "youngs_modulus", None, 110e9, 130e9, "110-130", "GPa"),
        ("silver-foil", "leaf_thickness", 1e-05, None, None, "10", "um"),
    ]


def test_views_show_details_and_preferred_values_in_shown_units(store: sqlite3.Connection) -> None:
    store.row_factory = sqlite3.Row
    copper, silver = map(dict, store.execute("SELECT * FROM metals"))
    assert copper["expansion_ppm_per_k"] == 17.64
    assert copper["solidus_c"] == 1084.444444
    assert copper["youngs_modulus_gpa"] == 120.0
    assert copper["form"] == "sheet"
    assert silver["expansion_ppm_per_k"] is None
    assert [row["leaf_thickness_um"] for row in store.execute("SELECT * FROM leaf")] == [10.0]
    assert [row["key"] for row in store.execute("SELECT * FROM glasses")] == ["clear-hard"]


def test_a_view_shows_the_preferred_of_two_rivals(tmp_path: Path) -> None:
    handbook, rival = 1, 2
    rows = small_sources.ROWS["property_values.csv"]
    for chosen, expected in ((handbook, 17.64), (rival, 17.7)):
        swapped = [
            {**row, "preferred": str(int(at == chosen))} if at in (handbook, rival) else row
            for at, row in enumerate(rows)
        ]
        sources = small_sources.write(tmp_path / "sources", {"property_values.csv": swapped})
        target = build(sources, tmp_path / "store.db").target
        with closing(sqlite3.connect(target)) as store:
            shown = store.execute("SELECT expansion_ppm_per_k FROM metals WHERE key = 'copper-sheet'")
            assert shown.fetchone()[0] == expected


@pytest.mark.parametrize(
    ("name", "unit", "column"),
    [
        ("expansion", "ppm/K", "expansion_ppm_per_k"), ("density", "kg/m**3", "density_kg_per_m3"),
        ("areal_mass", "mg/cm**2", "areal_mass_mg_per_cm2"), ("poisson_ratio", "1", "poisson_ratio"),
        ("solidus", "degC", "solidus_c"), ("zinc_content", "percent", "zinc_content_percent"),
        ("leaf_thickness", "µm", "leaf_thickness_um"), ("flow_ratio_500c", "1", "flow_ratio_500c"),
    ],
)  # fmt: skip
def test_a_view_column_ends_in_its_unit(name: str, unit: str, column: str) -> None:
    assert layout.view_column(name, unit) == column


@pytest.mark.parametrize(
    ("words", "hits"),
    [
        ('"silver copper"', {("Ag Cu", "contacts")}), ("gloves", {("burns", "hazards")}),
        ('"lead-free"', {("no-leaded-under", "fit_rules")}), ("drying", {("dry-first", "practice_rules")}),
        ("base", {("clear-hard", "glass")}), ("handbook", {("made-up-handbook", "sources")}),
        ("bright", {("silver-foil", "leaf")}), ("solder", {("hard-silver", "solders")}),
        ("golden", {("clear-on-copper", "colour_reactions")}), ("knock", {("edge-chip", "symptoms")}),
        ("silica", {("silica", "exposure_limits")}), ("air", {("silver-once", "firing_phases")}),
    ],
)  # fmt: skip
def test_search_finds_each_kind_of_row(store: sqlite3.Connection, words: str, hits: set[tuple[str, str]]) -> None:
    found = store.execute("SELECT key, kind FROM search WHERE search MATCH ?", (words,)).fetchall()
    assert hits <= set(found)
    assert len(found) <= 2


def test_every_searched_column_is_in_the_schema() -> None:
    for name, searched in layout.SEARCHED.items():
        assert {c for part in searched for c in part} <= {column.name for column in TABLE[name].columns}


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT INTO hazards VALUES ('x', 's', 'h', 'c', 't', 1, NULL, NULL, 'guess', 'reckoned', NULL)",
        "INSERT INTO hazards VALUES ('x', 's', 'h', 'c', 't', 10, NULL, NULL, 'estimate', 'reckoned', NULL)",
        "INSERT INTO hazards VALUES ('x', 's', 'h', 'c', 't', 1, NULL, NULL, 'estimate', 'nobody', NULL)",
        "INSERT INTO hazards VALUES ('X', 's', 'h', 'c', 't', 1, NULL, NULL, 'estimate', 'reckoned', NULL)",
        "INSERT INTO hazards VALUES ('x', '', 'h', 'c', 't', 1, NULL, NULL, 'estimate', 'reckoned', NULL)",
        "INSERT INTO hazards VALUES ('x', NULL, 'h', 'c', 't', 1, NULL, NULL, 'estimate', 'reckoned', NULL)",
        "INSERT INTO hazards VALUES ('burns', 's', 'h', 'c', 't', 1, NULL, NULL, 'estimate', 'reckoned', NULL)",
        "UPDATE property_values SET value = 9e999",
        "UPDATE property_values SET value = 'about 11'",
        "UPDATE property_values SET low = 13 WHERE material = 'clear-hard'",
        "UPDATE property_values SET temp_low_c = NULL WHERE material = 'clear-hard'",
        "UPDATE property_values SET preferred = 1",
        "UPDATE solders SET liquidus_c = 700",
        "DELETE FROM materials WHERE key = 'clear-hard'",
    ],
)
def test_the_store_itself_refuses_a_bad_row(store: sqlite3.Connection, statement: str) -> None:
    with pytest.raises(sqlite3.IntegrityError):
        store.execute(statement)


def test_a_sound_row_is_not_refused_by_the_store(store: sqlite3.Connection) -> None:
    store.execute("INSERT INTO hazards VALUES ('x', 's', 'h', 'c', 't', 1, NULL, NULL, 'estimate', 'reckoned', NULL)")


def test_references_and_their_indexes(store: sqlite3.Connection) -> None:
    plans = [
        f"{table.name}.{column.name}"
        for table in TABLES
        for column in table.columns
        if column.refers
        and "SCAN" in store.execute(
            f"EXPLAIN QUERY PLAN SELECT 1 FROM {table.name} WHERE {column.name} = 'x'").fetchone()[3]
    ]  # fmt: skip
    assert plans == []


def test_a_row_only_the_store_refuses_is_told_with_its_place(
    tmp_path: Path, sources: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    problems = Problems()
    records = check(read_folder(sources, problems), problems)
    bad = records["hazards"][0]
    for at in range(300):  # more than one batch of inserts
        records["hazards"].append(Record("hazards.csv", 3 + at, {**bad.values, "key": f"other-{at}"}))
    records["hazards"].append(Record("hazards.csv", 777, {**bad.values, "key": "other", "weight": 99}))
    monkeypatch.setattr(building, "check", lambda rows, problems: records)
    with pytest.raises(BadSource, match=r"hazards\.csv line 777: the store refuses the row \(CHECK"):
        build(sources, tmp_path / "store.db")
    assert not (tmp_path / "store.db").exists()


STEPS = [(building, "_fill"), (building, "_check_built"), (building, "fingerprint"), (os, "fsync"), (os, "replace")]


@pytest.mark.parametrize(("module", "step"), STEPS)
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_build_that_fails_midway_leaves_the_old_store_and_no_litter(
    tmp_path: Path, sources: Path, monkeypatch: pytest.MonkeyPatch, module: object, step: str, error: BaseException
) -> None:
    build(sources, tmp_path / "store.db")
    before = (tmp_path / "store.db").read_bytes()
    small_sources.write(sources, small_sources.changed("property_values.csv", 0, value="111"))

    def fail(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(module, step, fail)
    with pytest.raises(StoreUnusable if isinstance(error, OSError) else KeyboardInterrupt):
        build(sources, tmp_path / "store.db")
    assert (tmp_path / "store.db").read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sources", "store.db", "store.db.sha256"]
    assert is_as_built(tmp_path / "store.db")


KILLED = """
import pathlib, sys, time
sys.path.insert(0, sys.argv[1])
from refdb.curate import build as building
def hang(*_):
    pathlib.Path(sys.argv[4]).touch()
    time.sleep(60)
{patch} = hang
building.build(pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3]))
"""


@pytest.mark.parametrize("patch", ["building._check_built", "building.os.replace"])
def test_a_killed_build_leaves_the_old_store_and_the_next_build_works(
    tmp_path: Path, sources: Path, patch: str
) -> None:
    target, flag = tmp_path / "store.db", tmp_path / "flag"
    build(sources, target)
    before = target.read_bytes()
    small_sources.write(sources, small_sources.changed("property_values.csv", 0, value="111"))
    arguments = [str(ROOT), str(sources), str(target), str(flag)]
    with subprocess.Popen([sys.executable, "-c", KILLED.format(patch=patch), *arguments]) as process:
        until = time.monotonic() + 60
        while not flag.exists() and process.poll() is None and time.monotonic() < until:
            time.sleep(0.02)
        assert process.poll() is None
        process.kill()
        assert process.wait(30) == -signal.SIGKILL
    assert flag.exists()
    assert target.read_bytes() == before
    (litter,) = tmp_path.glob("store.db.*.part")
    hours_ago = time.time() - 7200
    os.utime(litter, (hours_ago, hours_ago))
    build(sources, target)
    assert target.read_bytes() != before
    assert verify(target) == []
    assert not litter.exists()


def test_a_read_only_folder_is_one_clear_line() -> None:
    folder = Path(tempfile.mkdtemp())
    try:
        sources = small_sources.write(folder / "sources")
        (folder / "locked").mkdir()
        folder.chmod(0o755)
        (folder / "locked").chmod(0o555)
        was = os.geteuid()
        if was == 0:
            os.seteuid(65534)  # to the superuser no folder is read-only
        try:
            with pytest.raises(StoreUnusable) as caught:
                build(sources, folder / "locked" / "store.db")
        finally:
            os.seteuid(was)
        assert "cannot write the store (permission denied); choose a folder" in caught.value.line
        assert "\n" not in caught.value.line
        assert list((folder / "locked").iterdir()) == []
    finally:
        shutil.rmtree(folder)


def test_a_target_that_cannot_be_a_file_is_one_clear_line(tmp_path: Path, sources: Path) -> None:
    for target, words in (
        (tmp_path, "this is a folder"),
        (tmp_path / "nowhere" / "store.db", "no such file or directory"),
        (sources / "leaf.csv" / "store.db", "not a directory"),
    ):
        with pytest.raises(StoreUnusable) as caught:
            build(sources, target)
        assert words in caught.value.line
        assert "\n" not in caught.value.line


def test_the_store_can_be_read_by_others_and_keeps_its_mode(tmp_path: Path, sources: Path) -> None:
    target = build(sources, tmp_path / "store.db").target
    assert target.stat().st_mode & 0o777 == 0o644
    target.chmod(0o640)
    build(sources, target)
    assert target.stat().st_mode & 0o777 == 0o640


def test_the_script_tells_bad_sources_without_a_traceback(tmp_path: Path, sources: Path) -> None:
    small_sources.write(sources, small_sources.changed("property_values.csv", 0, value="11,5"))
    ran = python("scripts/build_store.py", "--from", str(sources), "--to", str(tmp_path / "store.db"))
    assert ran.returncode == 2
    assert ran.stderr.startswith("property_values.csv line 2, column value: '11,5' has a decimal comma")
    assert "Traceback" not in ran.stderr
    assert not (tmp_path / "store.db").exists()


def test_a_build_needs_no_numpy(tmp_path: Path, sources: Path) -> None:
    code = (
        "import sys; sys.modules['numpy'] = None; from pathlib import Path; "
        "from refdb.curate.build import build; "
        "assert 'pint' not in sys.modules and 'sqlite_utils' not in sys.modules; "
        f"build(Path({str(sources)!r}), Path({str(tmp_path / 'store.db')!r}))"
    )
    ran = python("-c", code)
    assert ran.returncode == 0, ran.stderr
    assert verify(tmp_path / "store.db") == []


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(DATA, tmp_path_factory.mktemp("real") / "reference.db").target


def test_the_curated_sources_build_a_sound_store_of_at_most_eight_megabytes(real: Path) -> None:
    assert verify(real) == []
    assert real.stat().st_size <= 8_000_000


def test_the_store_wastes_no_room(real: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(real)) as store:
        store.execute("VACUUM INTO ?", (str(tmp_path / "again.db"),))
    assert real.stat().st_size == (tmp_path / "again.db").stat().st_size


def test_the_curated_sources_reach_their_coverage(real: Path) -> None:
    with closing(sqlite3.connect(real)) as store:
        counts = {name: store.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
                  for name in ("metals", "glasses", "leaf", "contacts")}  # fmt: skip
    assert counts["metals"] >= 22
    assert counts["glasses"] >= 30
    assert counts["leaf"] >= 12
    assert counts["contacts"] >= 40
