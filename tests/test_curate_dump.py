"""The canonical dump and the verifier: each fault planted in a store is found and named."""

from __future__ import annotations

import hashlib
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
import small_sources

from refdb.curate.build import build
from refdb.curate.dump import dump, fingerprint, verify
from refdb.errors import StoreUnusable
from refdb.store.schema import TABLES


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return build(small_sources.write(tmp_path / "sources"), tmp_path / "store.db").target


def change(store: Path, *statements: str) -> None:
    """Change a store behind the back of its own CHECKs and references."""
    with closing(sqlite3.connect(store)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def findings(store: Path) -> str:
    return "\n".join(finding.line for finding in verify(store))


def test_a_sound_store_has_no_findings(store: Path) -> None:
    assert verify(store) == []


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("PRAGMA user_version = 99", "user_version is 99, not"),
        ("PRAGMA application_id = 7", "application_id is 7, not"),
        ("DROP TABLE exposure_limits", "the table exposure_limits is missing"),
        ("DROP TABLE sources", "the table sources is missing"),
        ("ALTER TABLE hazards DROP COLUMN note", "the columns of hazards are not those of the schema (note)"),
        ("ALTER TABLE hazards ADD COLUMN colour TEXT", "the columns of hazards are not those of the schema (colour)"),
        ("ALTER TABLE hazards RENAME COLUMN note TO remark", "the schema (note, remark)"),
        ("UPDATE property_values SET value = 9e999", "6 of property_values.value are not a finite number"),
        ("UPDATE property_values SET low = -9e999 WHERE low > 0", "property_values.low are not a finite number"),
        ("UPDATE hazards SET source = 'nobody'", "hazards.source names 'nobody', which sources lacks"),
        ("DELETE FROM sources WHERE key = 'reckoned'", "names 'reckoned', which sources lacks"),
        (
            "UPDATE property_values SET material = 'tin' WHERE property = 'solidus'",
            "names 'tin', which materials lacks",
        ),
        ("UPDATE property_values SET preferred = 0", "clear-hard, expansion has 0 preferred rows instead of one"),
        ("UPDATE solders SET solidus_c = 900", "1 of solders break the rule solidus_c IS NULL OR"),
        ("UPDATE hazards SET weight = 99", "1 of hazards break the rule weight <= 9"),
        ("UPDATE hazards SET basis = 'hearsay'", "1 of hazards break the rule basis IN"),
        ("DROP VIEW metals", "metals cannot be asked"),
        ("DELETE FROM search", "search is empty"),
        ("DELETE FROM search_content WHERE id = 1", "the search index is not true to its text"),
        ("UPDATE search_content SET c3 = 'other words'", "the search index is not true to its text"),
    ],
)
def test_each_planted_fault_is_named(store: Path, statement: str, words: str) -> None:
    change(store, statement)
    found = findings(store)
    assert words in found
    assert all(line.startswith(f"{store}: ") and "refdb build" in line for line in found.split("\n"))


def test_two_preferred_rows_are_named(store: Path) -> None:
    change(store, "DROP INDEX one_preferred", "UPDATE property_values SET preferred = 1")
    assert "copper-sheet, expansion has 2 preferred rows instead of one" in findings(store)


def test_a_table_that_lost_its_types_is_named(store: Path) -> None:
    columns = next(table for table in TABLES if table.name == "hazards").columns
    loose = ", ".join(f"{c.name} {c.type}{' NOT NULL' if c.required else ''}" for c in columns)
    change(store, "ALTER TABLE hazards RENAME TO old", f"CREATE TABLE hazards ({loose}, PRIMARY KEY (key))",
           "INSERT INTO hazards SELECT * FROM old", "DROP TABLE old",
           "UPDATE hazards SET weight = 'heavy'")  # fmt: skip
    found = findings(store)
    assert "the table hazards is not strict about types" in found
    assert "1 of hazards.weight are not a finite number" in found


def test_a_damaged_page_is_named(store: Path) -> None:
    content = bytearray(store.read_bytes())
    for at in range(3 * 4096, len(content) - 4096, 4096):
        content[at : at + 64] = b"\xff" * 64
    store.write_bytes(content)
    assert findings(store)


@pytest.mark.parametrize("content", [b"", b"not a database at all, only words " * 9, b"SQLite format 3\x00"])
def test_another_kind_of_file_is_named(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "store.db"
    path.write_bytes(content)
    assert findings(path)
    with pytest.raises(StoreUnusable):
        fingerprint(path)


def test_no_file_and_a_folder_are_one_clear_line(tmp_path: Path) -> None:
    for path, words in ((tmp_path / "none.db", "there is no store here"), (tmp_path, "this is not a file")):
        for function in (verify, fingerprint):
            with pytest.raises(StoreUnusable, match=words) as caught:
                function(path)
            assert "\n" not in caught.value.line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["a store?.db", "50%20#1.db", "größe.db"])
def test_odd_file_names_are_no_matter(store: Path, name: str) -> None:
    odd = store.rename(store.parent / name)
    assert verify(odd) == []
    assert len(fingerprint(odd)) == 64


def test_the_dump_is_sorted_and_hashed_line_by_line(store: Path) -> None:
    lines = list(dump(store))
    heads = [line.split(" ")[1] for line in lines if line.startswith("table ")]
    assert heads == sorted([*(table.name for table in TABLES), "search", "spelling"])
    assert hashlib.sha256("".join(line + "\n" for line in lines).encode()).hexdigest() == fingerprint(store)
    expected = ('"clear-hard"\t"expansion"\t11.0\t10.0\t12.0\t"110 (100-120)"\t"1e-7/K"\t20.0\t400.0\t"published"\t'
                '"read"\t"made-up-handbook"\tnull\t1\tnull\tnull')  # fmt: skip
    assert expected in lines


def test_the_dump_does_not_depend_on_how_the_file_is_laid_out(store: Path, tmp_path: Path) -> None:
    before = fingerprint(store)
    content = store.read_bytes()
    change(store, "CREATE TABLE other AS SELECT * FROM sources", "DELETE FROM sources WHERE 0")
    with closing(sqlite3.connect(store)) as connection:
        for name in ("sources", "property_values"):
            rows = connection.execute(f"SELECT * FROM {name}").fetchall()
            connection.execute(f"DELETE FROM {name}")
            connection.executemany(f"INSERT INTO {name} VALUES ({', '.join('?' * len(rows[0]))})", rows[::-1])
        connection.commit()
        connection.execute("PRAGMA page_size = 8192")
        connection.execute("VACUUM")
    assert store.read_bytes() != content
    assert fingerprint(store) == before


def test_the_dump_forgives_the_last_bits_of_a_number_and_nothing_more(store: Path) -> None:
    before = fingerprint(store)
    change(store, "UPDATE property_values SET value = value * (1 + 4e-16)")
    assert fingerprint(store) == before
    change(store, "UPDATE property_values SET value = value * (1 + 1e-9) WHERE property = 'solidus'")
    assert fingerprint(store) != before


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE sources SET title = title || ' ' WHERE key = 'reckoned'",
        "DELETE FROM expansion_points WHERE temp_c = 50",
        "UPDATE property_values SET note = '' WHERE property = 'solidus'",
        "UPDATE search SET title = 'x' WHERE key = 'burns'",
        "PRAGMA user_version = 2",
    ],
)
def test_any_change_of_content_changes_the_hash(store: Path, statement: str) -> None:
    before = fingerprint(store)
    change(store, statement)
    assert fingerprint(store) != before


def test_verifying_needs_the_standard_library_only(store: Path) -> None:
    code = ("import sys; from pathlib import Path; from refdb.curate.dump import verify; "
            f"assert verify(Path({str(store)!r})) == []; "
            "print(sorted({'pint', 'sqlite_utils', 'numpy', 'rich'} & set(sys.modules)))")  # fmt: skip
    root = Path(__file__).resolve().parent.parent
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=root)
    assert ran.stdout == "[]\n", ran.stderr
