"""Build the store from `data_sources/`: checked rows in, one file out, whole or not at all.

Same sources, same bytes on one SQLite: no clock, no chance, fixed page size, vacuumed.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refdb.curate import layout
from refdb.curate.check import check
from refdb.curate.dump import fingerprint
from refdb.curate.read import Problems, read_folder, where
from refdb.curate.seal import hash_of
from refdb.errors import BadSource, StoreUnusable
from refdb.frozen import dataclass
from refdb.store.edition import Seal, seal_path
from refdb.store.schema import APPLICATION_ID, SCHEMA_VERSION, TABLES

if TYPE_CHECKING:
    from sqlite_utils import Database

    from refdb.curate.record import Records

PAGE_SIZE = 4096
_STALE_S = 3600.0


@dataclass(frozen=True)
class BuildReport:
    """What was built: where, how many rows in each table, how large, and the hash of its canonical dump."""

    target: Path
    rows: dict[str, int]
    size_bytes: int
    fingerprint: str


def build(sources: Path, target: Path, also: Callable[[Records], None] | None = None) -> BuildReport:
    """Build the store from a folder of CSV files.

    The target is replaced in one step at the very end: whatever fails or is killed before that leaves it
    untouched, byte for byte. Then its fingerprint is written beside it, for `seal.is_as_built`.

    Parameters
    ----------
    sources : Path
        Folder with the files of `schema.FILES`; `answers.csv` may be absent.
    target : Path
        The file to write.
    also : callable, optional
        Changes the checked records before they are written.

    Raises
    ------
    BadSource
        When a row is wrong; it carries every problem found (`read.BadSources`).
    StoreUnusable
        When the target cannot be written.
    """
    problems = Problems()
    rows = read_folder(Path(sources), problems)
    records = check(rows, problems)
    if also is not None:
        also(records)
    target = Path(target)
    with _written_beside(target) as part:
        _write(part, records)
        dump = fingerprint(part)
        size = part.stat().st_size
        seal = Seal(hash_of(part), dump)
    _write_seal(target, seal)
    return BuildReport(target, {name: len(found) for name, found in records.items()}, size, dump)


def _write_seal(target: Path, seal: Seal) -> None:
    path = seal_path(target)
    try:
        with _written_beside(path) as part:
            part.write_text(seal.text(target), encoding="utf-8", errors="surrogateescape", newline="\n")
    except BaseException:
        # That of the store before would speak against this one.
        with suppress(OSError):
            path.unlink()
        raise


@contextmanager
def _written_beside(target: Path) -> Iterator[Path]:
    """Yield the path of a new file beside the target; it replaces the target when the body raises nothing."""
    folder, part = target.parent, None
    try:
        if target.is_dir():
            raise StoreUnusable("this is a folder", str(target), "give the name of a file to write")
        handle, name = tempfile.mkstemp(prefix=f"{target.name}.", suffix=".part", dir=folder)
        os.close(handle)
        part = Path(name)
        _remove_stale(target)
        yield part
        part.chmod(target.stat().st_mode & 0o777 if target.exists() else 0o644)
        _flush(part)
        os.replace(part, target)
        part = None
        _flush(folder)
    except (OSError, sqlite3.OperationalError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise StoreUnusable(
            f"cannot write the store ({(reason or type(error).__name__).lower()})",
            str(target),
            "choose a folder that exists and that you may write to",
        ) from None
    finally:
        if part is not None:
            for leftover in (part, Path(f"{part}-journal")):
                with suppress(OSError):
                    leftover.unlink()


def _remove_stale(target: Path) -> None:
    """Delete unfinished files of builds that were killed; those of a build under way are younger than the limit."""
    for path in target.parent.glob(f"{target.name}.*.part"):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime > _STALE_S:
                path.unlink()


def _flush(path: Path) -> None:
    """Have the disk hold what was written; a folder where the system can open and sync one."""
    try:
        # Not every system syncs what is open for reading alone, and a folder cannot be open otherwise.
        handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    except OSError:
        if path.is_dir():
            return
        raise
    try:
        os.fsync(handle)
    except OSError:
        if not path.is_dir():
            raise
    finally:
        os.close(handle)


def _write(path: Path, records: Records) -> None:
    import sqlite_utils

    connection = sqlite3.connect(path)
    try:
        for pragma in (
            f"page_size = {PAGE_SIZE}",
            "encoding = 'UTF-8'",
            "auto_vacuum = NONE",
            "journal_mode = MEMORY",
            "synchronous = OFF",
            "temp_store = MEMORY",
            "foreign_keys = ON",
            f"application_id = {APPLICATION_ID}",
            f"user_version = {SCHEMA_VERSION}",
        ):
            connection.execute(f"PRAGMA {pragma}")
        database = sqlite_utils.Database(connection, execute_plugins=False)
        with database.atomic():
            _fill(database, records)
        _check_built(connection)
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("VACUUM")
    finally:
        connection.close()


def _fill(database: Database, records: Records) -> None:
    values = {name: [record.values for record in found] for name, found in records.items()}
    for table in TABLES:
        database.execute(layout.table_sql(table))
        for statement in layout.index_sql(table):
            database.execute(statement)
        if values[table.name]:
            try:
                database.table(table.name).insert_all(values[table.name], pk=table.key)
            except sqlite3.IntegrityError as error:
                raise _at_fault(database, table.name, records, error) from None
    shown = {str(row["key"]): str(row["shown_unit"]) for row in values["properties"]}
    stored = {str(row["key"]): str(row["unit"]) for row in values["properties"]}
    kind_of = {row["key"]: row["kind"] for row in values["materials"]}
    for kind in layout.kinds():
        used = {str(row["property"]) for row in values["property_values"] if kind_of[row["material"]] == kind}
        database.execute(layout.view_sql(kind, {name: shown[name] for name in used}, stored))
    for statement in layout.search_sql():
        database.execute(statement)
    rows = layout.search_rows(values)
    told: tuple[tuple[str, tuple[str, ...], Any], ...] = (
        ("search", layout.SEARCH_COLUMNS, rows),
        ("spelling", layout.SPELLING_COLUMNS, layout.spelling_rows(rows)),
    )
    for name, columns, held in told:
        database.table(name).insert_all(dict(zip(columns, row, strict=True)) for row in held)


def _at_fault(database: Database, name: str, records: Records, error: sqlite3.Error) -> BadSource:
    """Return the error with the place of the row that SQLite refused, past every check of ours."""
    database.execute(f"DELETE FROM {name}")
    for record in records[name]:
        marks = ", ".join("?" for _ in record.values)
        try:
            database.execute(
                f"INSERT INTO {name} ({', '.join(record.values)}) VALUES ({marks})", tuple(record.values.values())
            )
        except sqlite3.IntegrityError as refusal:
            return BadSource(
                f"the store refuses the row ({refusal})", where(record.file, record.line), "correct the row"
            )
    return BadSource(f"the store refuses a row ({error})", name, "correct the row")


def _check_built(connection: sqlite3.Connection) -> None:
    for pragma in ("foreign_key_check", "integrity_check"):
        found = connection.execute(f"PRAGMA {pragma}").fetchone()
        if found not in (None, ("ok",)):
            raise BadSource(
                f"the built store fails its {pragma} ({found[0]})", "the build", "report this with the sources used"
            )
