"""A canonical dump of a store, its hash, and the checks behind `refdb verify`; standard library only."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from refdb.curate import layout
from refdb.errors import StoreUnusable
from refdb.store.schema import APPLICATION_ID, FILES, SCHEMA_VERSION, TABLES, Table

_SEARCH = (("search", layout.SEARCH_COLUMNS), ("spelling", layout.SPELLING_COLUMNS))
_LARGEST = "1.7976931348623157e308"
_TODO = "build it anew with `refdb build --from data_sources`"
#: Enough to say what is wrong; a wrecked store has thousands.
_MOST = 5


def opened(path: Path) -> sqlite3.Connection:
    """Return a read-only connection to a store.

    Raises
    ------
    StoreUnusable
        When there is no such file, or it cannot be opened.
    """
    path = Path(path)
    if not path.is_file():
        raise StoreUnusable("there is no store here" if not path.exists() else "this is not a file", str(path), _TODO)
    try:
        return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
    except sqlite3.Error as error:
        raise StoreUnusable(f"the store cannot be opened ({error})", str(path), _TODO) from None


def dump(path: Path) -> Iterator[str]:
    """Yield the lines of the canonical dump: tables by name, rows sorted, floats to 12 significant digits.

    Two stores built from the same sources give the same dump on any version of SQLite.

    Raises
    ------
    StoreUnusable
        When the store cannot be read, or a table or column is missing.
    """
    tables = [(table.name, tuple(column.name for column in table.columns)) for table in TABLES] + [*_SEARCH]
    with closing(opened(path)) as store:
        yield f"application {APPLICATION_ID} version {_pragma(store, path, 'user_version')}"
        for name, columns in sorted(tables):
            yield f"table {name} ({', '.join(columns)})"
            yield from sorted(
                "\t".join(map(_canonical, row))
                for row in _asked(store, path, f"SELECT {', '.join(columns)} FROM {name}")
            )


def fingerprint(path: Path) -> str:
    """Return the SHA-256 of the canonical dump, in hexadecimal; raises StoreUnusable."""
    digest = hashlib.sha256()
    for line in dump(path):
        digest.update(line.encode("utf-8", "surrogatepass") + b"\n")
    return digest.hexdigest()


def _canonical(value: object) -> str:
    if value is None:
        return "null"
    if isinstance(value, float):
        return repr(float(f"{value:.12g}") + 0.0)
    return json.dumps(value, ensure_ascii=False) if isinstance(value, (int, str)) else repr(value)


def _asked(store: sqlite3.Connection, path: Path, sql: str) -> list[tuple[object, ...]]:
    try:
        return store.execute(sql).fetchall()
    except sqlite3.Error as error:
        raise StoreUnusable(f"the store cannot be read ({error})", str(path), _TODO) from None


def _pragma(store: sqlite3.Connection, path: Path, name: str) -> object:
    return _asked(store, path, f"PRAGMA {name}")[0][0]


def verify(path: Path) -> list[StoreUnusable]:
    """Return everything that is wrong with a store, one finding each; an empty list means it is sound.

    Parameters
    ----------
    path : Path
        The store, opened read-only.

    Raises
    ------
    StoreUnusable
        When there is no file to look at.
    """
    path = Path(path)
    with closing(opened(path)) as store:
        whats: list[str] = []
        try:
            whats += _head(store)
            for table in TABLES:
                whats += _table(store, table)
            whats += _others(store)
        except sqlite3.Error as error:
            whats.append(f"the store cannot be read ({error})")
    return [StoreUnusable(what, str(path), _TODO) for what in whats]


def _head(store: sqlite3.Connection) -> Iterator[str]:
    for name, due in (("application_id", APPLICATION_ID), ("user_version", SCHEMA_VERSION)):
        found = store.execute(f"PRAGMA {name}").fetchone()[0]
        if found != due:
            yield f"{name} is {found}, not {due}: the file is of another kind or version"
    for (found,) in store.execute(f"PRAGMA integrity_check({_MOST})").fetchall():
        if found != "ok":
            yield f"integrity check: {found}"
    for table, row, parent, _ in store.execute("PRAGMA foreign_key_check").fetchmany(_MOST):
        yield f"row {row} of {table} refers to a missing row of {parent}"


def _table(store: sqlite3.Connection, table: Table) -> Iterator[str]:
    due = [
        (c.name, c.type, int(c.required), table.key.index(c.name) + 1 if c.name in table.key else 0)
        for c in table.columns
    ]
    found = [
        tuple(row)
        for row in store.execute(
            f"SELECT name, type, \"notnull\", pk FROM pragma_table_info('{table.name}') ORDER BY cid"
        )
    ]
    if not found:
        yield f"the table {table.name} is missing"
        return
    if found != due:
        odd = sorted({row[0] for row in set(found) ^ set(due)}) or ["their order"]
        yield f"the columns of {table.name} are not those of the schema ({', '.join(odd)})"
        return
    if not store.execute("SELECT strict FROM pragma_table_list WHERE name = ?", (table.name,)).fetchone()[0]:
        yield f"the table {table.name} is not strict about types"
    for column in table.columns:
        name = column.name
        wrong = {
            "REAL": f"typeof({name}) NOT IN ('real', 'null') OR abs({name}) > {_LARGEST}",
            "INTEGER": f"typeof({name}) NOT IN ('integer', 'null')",
            "TEXT": f"typeof({name}) NOT IN ('text', 'null')",
        }[column.type]
        count = store.execute(f"SELECT count(*) FROM {table.name} WHERE {wrong}").fetchone()[0]
        if count:
            kind = "text" if column.type == "TEXT" else "a finite number"
            yield f"{count} of {table.name}.{name} are not {kind}"
        if column.refers:
            target, key = column.refers.split(".")
            for (lost,) in store.execute(
                f"SELECT DISTINCT {name} FROM {table.name} WHERE {name} IS NOT NULL AND {name} NOT IN "
                f"(SELECT {key} FROM {target}) ORDER BY 1 LIMIT {_MOST}"
            ):
                yield f"{table.name}.{name} names {lost!r}, which {target} lacks"
    # Asked here as well as of SQLite: a store made by other hands may lack its CHECKs.
    for rule in (*(rule for c in table.columns for rule in layout.column_rules(table, c)), *table.checks):
        count = store.execute(f"SELECT count(*) FROM {table.name} WHERE NOT ({rule})").fetchone()[0]
        if count:
            yield f"{count} of {table.name} break the rule {rule}"
    if table.name == "property_values":
        for material, name, count in store.execute(
            "SELECT material, property, sum(preferred = 1) AS chosen FROM property_values "
            f"GROUP BY 1, 2 HAVING chosen != 1 ORDER BY 1, 2 LIMIT {_MOST}"
        ):
            yield f"{material}, {name} has {count} preferred rows instead of one"


def _others(store: sqlite3.Connection) -> Iterator[str]:
    """The views and the search table: present, answering, and the index true to its text."""
    views = [file.name.removesuffix(".csv") for file in FILES if "materials" in file.fixed]
    for name in (*views, "search", "spelling"):
        try:
            count = store.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
        except sqlite3.OperationalError as error:
            yield f"{name} cannot be asked ({error})"
            continue
        if not count:
            yield f"{name} is empty"
    # The index checks itself only through a write, so a copy in memory is asked.
    with closing(sqlite3.connect(":memory:")) as copy:
        store.backup(copy)
        for name, _ in _SEARCH:
            try:
                copy.execute(f"INSERT INTO {name}({name}) VALUES ('integrity-check')")
            except sqlite3.Error as error:
                yield f"the {name} index is not true to its text ({error})"
