"""The person's own store: one SQLite file in the user's data folder, which no upgrade of the reference touches.

Every change is one transaction of a write-ahead log, synced to the disk. Whoever has to wait for another process
waits, within bounds. What is removed or changed is kept in `past` and can be brought back.
"""

from __future__ import annotations

import json
import os
import random
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from refdb.errors import BadInput, NotFound, StoreUnusable
from refdb.store.workshop.keys import key_of
from refdb.store.workshop.schema import APPLICATION_ID, MIGRATIONS, NAMED, NUMBERED, OWN, PREFIX, VERSION
from refdb.store.workshop.tables import copy_to, delete, put, rename

#: How long a process waits for others before it gives up [s].
PATIENCE_S = 30.0
_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_Answer = TypeVar("_Answer")
Row = dict[str, Any]


class Workshop:
    """An open workshop. Close it, or use it in a `with` statement.

    Parameters
    ----------
    path : Path
        The file.
    write : bool
        Whether it may be changed; a file that is not there is then made, and its folder too.

    Raises
    ------
    StoreUnusable
        There is none to read, it is no workshop, it is of a newer version, or it cannot be opened.
    """

    def __init__(self, path: Path, *, write: bool = False, patience_s: float = PATIENCE_S) -> None:
        self.path, self.patience_s = path, patience_s
        if not write and not path.is_file():
            raise StoreUnusable("no workshop here", str(path), "refdb mine add makes one")
        if write:
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise self._refused((error.strerror or "the folder cannot be made").lower()) from None
        self._db = self.patiently(lambda: self._opened(write))

    def __enter__(self) -> Workshop:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    @property
    def connection(self) -> sqlite3.Connection:
        """The open file, for what needs tables of its own beside it."""
        return self._db

    # Opening

    def _opened(self, write: bool) -> sqlite3.Connection:
        db = self._connected(write)
        try:
            version = self._version(db)
            if version < VERSION and not write:
                db.close()
                with closing(self._connected(True)) as writer:
                    self._migrate(writer)
                db = self._connected(False)
            elif version < VERSION:
                self._migrate(db)
            return db
        except BaseException:
            db.close()
            raise

    def _connected(self, write: bool) -> sqlite3.Connection:
        try:
            if write:
                db = sqlite3.connect(self.path, timeout=self.patience_s, isolation_level=None)
            else:
                address = self.path.resolve().as_uri()
                # Who may write leaves no log behind on closing. A folder that cannot be written has no room for the
                # log's index; without a log none is needed.
                mine = os.access(self.path, os.W_OK) and os.access(self.path.parent, os.W_OK)
                log = Path(f"{self.path}-wal")
                alone = not mine and not (log.exists() and log.stat().st_size)
                mode = "rw" if mine else "ro&immutable=1" if alone else "ro"
                db = sqlite3.connect(f"{address}?mode={mode}", uri=True, timeout=self.patience_s, isolation_level=None)
            db.row_factory = sqlite3.Row
            if write and db.execute("PRAGMA application_id").fetchone()[0] in (0, APPLICATION_ID):
                db.execute("PRAGMA journal_mode=WAL").fetchone()
                db.execute("PRAGMA synchronous=FULL")
            return db
        except OSError as error:
            raise self._refused((error.strerror or "unknown reason").lower()) from None

    def _version(self, db: sqlite3.Connection) -> int:
        """The version of the file, 0 where it is empty; StoreUnusable where it is not ours to open."""
        application = db.execute("PRAGMA application_id").fetchone()[0]
        version: int = db.execute("PRAGMA user_version").fetchone()[0]
        tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if application != APPLICATION_ID and (tables or version or application):
            raise StoreUnusable("this is not a workshop", str(self.path), "give another file with --workshop")
        if version > VERSION:
            raise StoreUnusable(
                f"the workshop was made by a newer refdb (version {version}, this one reads {VERSION})",
                str(self.path),
                "install the newer refdb",
            )
        return version

    def _migrate(self, db: sqlite3.Connection) -> None:
        """Bring the file to the present version in one transaction, after a copy of it where it holds anything."""
        found = self._version(db)
        if found:
            self._copied_aside(db, found)
        db.execute("BEGIN IMMEDIATE")
        try:
            # Another process may have been quicker.
            for step in range(self._version(db), VERSION):
                for statement in MIGRATIONS[step]:
                    db.execute(statement)
            db.execute(f"PRAGMA application_id={APPLICATION_ID}")
            db.execute(f"PRAGMA user_version={VERSION}")
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise

    def copy_before(self, version: int) -> Path:
        """Where the copy is that was made before a file of this version was brought up to date."""
        return self.path.with_name(f"{self.path.name}.version-{version}")

    def _copied_aside(self, db: sqlite3.Connection, version: int) -> None:
        target = self.copy_before(version)
        if not target.exists():
            copy_to(db, target)

    # Errors and patience

    def _refused(self, why: str) -> StoreUnusable:
        return StoreUnusable(
            f"the workshop cannot be opened ({why})", str(self.path), "give a file you may write with --workshop"
        )

    def fault(self, error: sqlite3.Error) -> StoreUnusable:
        """An error of SQLite as one clear line."""
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        where = str(self.path)
        if code in _BUSY:
            return StoreUnusable(
                "another refdb has been writing to the workshop for too long", where, "try again when it has finished"
            )
        if code == sqlite3.SQLITE_FULL:
            return StoreUnusable("the disk is full; nothing was changed", where, "free some space and try again")
        if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN):
            return StoreUnusable(
                "the workshop cannot be opened or written here",
                where,
                "see that the file and its folder may be written, or give another with --workshop",
            )
        if code == sqlite3.SQLITE_IOERR:
            return StoreUnusable(
                "the disk refuses; nothing was changed", where, "see that it has space and is well, and try again"
            )
        if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
            return StoreUnusable(
                f"the file is damaged or no workshop ({error})",
                where,
                "put a copy made with refdb mine backup in its place",
            )
        return StoreUnusable(f"the workshop cannot be used ({error})", where, "look it over with refdb verify")

    def patiently(self, work: Callable[[], _Answer]) -> _Answer:
        """Do some work on the file, again while others hold it, and at most for `patience_s`."""
        until = time.monotonic() + self.patience_s
        while True:
            try:
                return work()
            except sqlite3.Error as error:
                if getattr(error, "sqlite_errorcode", 0) & 0xFF not in _BUSY or time.monotonic() > until:
                    raise self.fault(error) from None
            time.sleep(random.uniform(0.005, 0.05))

    # Reading

    def rows(self, sql: str, *values: Any) -> list[Row]:
        """All rows of a query as dictionaries."""
        return self.patiently(lambda: [dict(r) for r in self._db.execute(sql, values)])

    def row(self, kind: str, key: str) -> Row | None:
        """A named record or a stock by its key, any other by its number; None where there is none."""
        column = "number" if kind in NUMBERED else "key"
        found = self.rows(f"SELECT * FROM {OWN[kind].table} WHERE {column} = ?", key)
        return found[0] if found else None

    def kind_of(self, key: str) -> str | None:
        """The kind of the named record of this key (without prefix), or None."""
        return next((k for k in NAMED if self.rows(f"SELECT 1 FROM {OWN[k].table} WHERE key = ?", key)), None)

    def listed(self, kind: str, most: int | None = None) -> list[Row]:
        """Rows of a kind in order, at most so many."""
        own = OWN[kind]
        order = "number" if "number" in own.names else "key"
        return self.rows(f"SELECT * FROM {own.table} ORDER BY {order} LIMIT ?", -1 if most is None else most)

    def count(self, kind: str) -> int:
        """How many rows there are of a kind."""
        return int(self.rows(f"SELECT count(*) AS n FROM {OWN[kind].table}")[0]["n"])

    def stream(self, kind: str) -> Iterator[tuple[Any, ...]]:
        """Rows of a kind in order, one after another, each in the order of the kind's columns."""
        own = OWN[kind]
        order = "number" if "number" in own.names else "key"
        sql = f"SELECT {', '.join(own.names)} FROM {own.table} ORDER BY {order}"
        cursor = self.patiently(lambda: self._db.cursor())
        cursor.row_factory = None
        yield from self.patiently(lambda: cursor.execute(sql))

    def belonging(self, key: str) -> dict[str, int]:
        """How many tiles, strips and firings name a material by this key, by kind; kinds without any are left out."""
        counts = {
            k: int(self.rows(f"SELECT count(*) AS n FROM {OWN[k].table} WHERE glass = ?1 OR metal = ?1", key)[0]["n"])
            for k in NUMBERED
        }
        return {k: n for k, n in counts.items() if n}

    def near(self, key: str, kinds: tuple[str, ...] = NAMED, most: int = 3) -> list[str]:
        """The nearest keys, with their prefix."""
        from difflib import get_close_matches

        # Spelling is compared with those alone that begin alike: there may be a hundred thousand.
        keys: list[str] = []
        for kind in kinds:
            sql = f"SELECT key FROM {OWN[kind].table} WHERE key >= ?1 AND key < ?1 || '\U0010ffff' LIMIT 400"
            keys += [r["key"] for start in dict.fromkeys((key[:-1], key[:1])) for r in self.rows(sql, start)]
        return [PREFIX + k for k in get_close_matches(key[:80], list(dict.fromkeys(keys)), most, 0.6)]

    def not_found(self, key: str) -> NotFound:
        """No named record has this key (without prefix)."""
        near = self.near(key)
        return NotFound(
            f"nothing of yours has the key '{PREFIX}{key[:60]}'",
            todo=f"did you mean {' or '.join(near)}?" if near else "refdb mine list has them all",
            near=tuple(near),
        )

    # Writing

    @contextmanager
    def change(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all that is done in it, or nothing; a change within a change is part of it."""
        if self._db.in_transaction:
            yield self._db
            return
        self.patiently(lambda: self._db.execute("BEGIN IMMEDIATE"))
        try:
            yield self._db
            self._db.execute("COMMIT")
        except BaseException as error:
            try:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
            except sqlite3.Error:
                pass
            if isinstance(error, sqlite3.Error):
                raise self.fault(error) from None
            raise

    def add(self, kind: str, row: Mapping[str, Any]) -> Row:
        """Add one checked row (see `own_rows`), and give it back with its key or number; BadInput for a taken name."""
        own = OWN[kind]
        full = dict(row)
        with self.change() as db:
            if own.named:
                full["key"] = key_of(full["name"])
                self._free(full["key"])
            elif kind in NUMBERED and full.get("number") is None:
                full["number"] = self.next_number(kind)
            if kind in ("stock", "kiln"):
                self._keep(db, kind, full["key"], "edited")
                delete(db, kind, full["key"])
            put(db, own.table, full)
        return full

    def next_number(self, kind: str) -> int:
        """The number of the next tile, strip or firing."""
        # Numbers of removed ones are not given again, so that they can come back.
        sql = (
            f"SELECT max(ifnull((SELECT max(number) FROM {OWN[kind].table}), 0), "
            "ifnull((SELECT max(CAST(key AS INTEGER)) FROM past WHERE kind = ?), 0)) AS n"
        )
        return int(self.rows(sql, kind)[0]["n"]) + 1

    def _free(self, key: str) -> None:
        taken = self.kind_of(key)
        if taken:
            raise BadInput(
                f"the name is taken by a {taken} of yours",
                PREFIX + key,
                f"give another, or change that one with: refdb mine edit {PREFIX}{key}",
            )

    def edit(self, kind: str, key: str, row: Mapping[str, Any]) -> Row:
        """Put a checked row in the place of the one of this key; a new name takes what belongs to it along."""
        own = OWN[kind]
        full = dict(row)
        with self.change() as db:
            self._keep(db, kind, key, "edited")
            if own.named:
                full["key"] = key_of(full["name"])
                if full["key"] != key:
                    self._free(full["key"])
                    rename(db, key, full["key"])
            delete(db, kind, key)
            put(db, own.table, full)
        return full

    def remove(self, kind: str, key: str) -> None:
        """Take a row away; it is kept and can be restored."""
        with self.change() as db:
            self._keep(db, kind, key, "removed")
            delete(db, kind, key)

    def _keep(self, db: sqlite3.Connection, kind: str, key: str, why: str) -> None:
        row = self.row(kind, key)
        if row is not None:
            at = datetime.now().astimezone().isoformat(timespec="seconds")
            db.execute(
                "INSERT INTO past (kind, key, row, why, at) VALUES (?, ?, ?, ?, ?)",
                (kind, str(key), json.dumps(row, ensure_ascii=False), why, at),
            )

    def restore(self, kinds: tuple[str, ...], key: str) -> tuple[str, Row]:
        """Bring back what was removed last under this key, or the state before its last change.

        Returns
        -------
        tuple
            The kind and the row that stands there now.

        Raises
        ------
        NotFound
            Nothing is kept under this key.
        BadInput
            The name has been taken since.
        """
        marks = ", ".join("?" for _ in kinds)
        with self.change() as db:
            kept = self.rows(
                f"SELECT * FROM past WHERE kind IN ({marks}) AND key = ? ORDER BY number DESC LIMIT 1", *kinds, str(key)
            )
            if not kept:
                raise NotFound(f"nothing is kept under '{key}'", todo="refdb mine list --removed has what is")
            kind, row = kept[0]["kind"], json.loads(kept[0]["row"])
            taken = self.kind_of(str(key)) if kind in NAMED else None
            if taken and taken != kind:
                raise BadInput(f"the name is taken by a {taken} of yours", PREFIX + str(key), "rename that one first")
            self._keep(db, kind, key, "edited")
            delete(db, kind, key)
            db.execute("DELETE FROM past WHERE number = ?", (kept[0]["number"],))
            put(db, OWN[kind].table, row)
        return kind, row

    def removed(self) -> list[Row]:
        """What was removed and not brought back, latest first: kind, key and when."""
        return self.rows(
            "SELECT kind, key, max(at) AS at FROM past WHERE why = 'removed' GROUP BY kind, key ORDER BY at DESC, key"
        )

    # Care

    def backup(self, target: Path) -> None:
        """A copy of the whole workshop in another file, which must not be there yet."""
        if target.exists():
            raise BadInput("there is a file of this name already", str(target), "give another name")
        if not target.parent.is_dir():
            raise BadInput("there is no such folder to write the copy into", str(target.parent), "give another place")
        try:
            # So that what is wrong with the place is not laid to the workshop.
            probe = target.with_name(f"{target.name}.{os.getpid()}.part")
            probe.touch()
            probe.unlink()
            self.patiently(lambda: copy_to(self._db, target))
        except OSError as error:
            raise BadInput(
                f"it cannot be written ({(error.strerror or 'unknown reason').lower()})",
                str(target),
                "give another place",
            ) from None

    def findings(self) -> list[str]:
        """What is wrong with the file, in words; nothing when it is sound."""
        found = [
            f"integrity check: {r['integrity_check']}"
            for r in self.rows("PRAGMA integrity_check(20)")
            if r["integrity_check"] != "ok"
        ]
        tables = {r["name"] for r in self.rows("SELECT name FROM sqlite_master WHERE type = 'table'")}
        found += [f"the table {own.table} is missing" for own in OWN.values() if own.table not in tables]
        if not found:
            every = " UNION ALL ".join(f"SELECT key FROM {OWN[k].table}" for k in NAMED)
            found += [
                f"{PREFIX}{r['key']} stands in two lists"
                for r in self.rows(f"SELECT key FROM ({every}) GROUP BY key HAVING count(*) > 1 LIMIT 20")
            ]
        return found
