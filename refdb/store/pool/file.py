"""The file of a pool beside the workshop: shared rows by the file they came in, and what was learnt of them.

Every change is one transaction, synced to the disk. Rows are kept for each file apart, and counted once by the signs
of studio and row, as the file that was added last has them; so taking a file away leaves what was there before it.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any, Self

from refdb.errors import BadInput, NotFound, StoreUnusable
from refdb.frozen import dataclass
from refdb.records.pooled import SharedRow
from refdb.store.pool.columns import COLUMNS, NAMES
from refdb.store.workshop.connection import all_or_nothing, signs_of
from refdb.store.workshop.tables import copy_to

#: Stands in the header of every pool (PRAGMA application_id): the letters "refp".
APPLICATION_ID, VERSION = 0x72656670, 1
#: A pool holds no more rows than this.
MOST_ROWS = 1_000_000
#: How long a process waits for another [s].
_PATIENCE_S = 30.0
#: Under which the number behind one's own signs is kept.
_SECRET = "secret"
_COLUMNS = ", ".join(f"{c.name} {c.type}" + (" NOT NULL" if c.required else "") for c in COLUMNS)
_TABLES = (
    "CREATE TABLE files (number INTEGER PRIMARY KEY, name TEXT NOT NULL, digest TEXT NOT NULL UNIQUE, "
    "added TEXT NOT NULL) STRICT",
    f"CREATE TABLE shared (file INTEGER NOT NULL REFERENCES files (number), {_COLUMNS}, "
    "PRIMARY KEY (studio, row, file)) STRICT, WITHOUT ROWID",
    "CREATE INDEX shared_of ON shared (file)",
    "CREATE TABLE kept (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID",
)
#: Of rows that came in several files the one of the last.
_COUNTED = (
    f"SELECT {', '.join(f's.{n}' for n in NAMES)} FROM shared s WHERE s.file = "
    "(SELECT max(o.file) FROM shared o WHERE o.studio = s.studio AND o.row = s.row)"
)
#: A file's digest stands for its rows.
_ALL_OF_IT = (
    "SELECT * FROM files ORDER BY number",
    "SELECT file, count(*) FROM shared GROUP BY file ORDER BY file",
    "SELECT * FROM kept ORDER BY name",
)


def drawn() -> bytes:
    """A number at random for the signs of a studio's rows."""
    return secrets.token_bytes(32)


@dataclass(frozen=True)
class PoolFileRow:
    """A file of the pool: its number, name, the day it was added, its rows, studios and classes, and rows counted."""

    number: int
    name: str
    added: str
    rows: int
    studios: int
    classes: int
    counted: int


class Pool:
    """An open pool. Close it, or use it in a `with` statement.

    Raises
    ------
    StoreUnusable
        There is none to read, it is no pool, it is of a newer version, or it cannot be opened.
    """

    def __init__(self, path: Path, *, write: bool = False) -> None:
        self.path = path
        if not write and not (path.is_file() and path.stat().st_size):
            raise StoreUnusable("no pool here", str(path), "refdb pool add makes one")
        try:
            if write:
                path.parent.mkdir(parents=True, exist_ok=True)
                self._db = sqlite3.connect(path, timeout=_PATIENCE_S, isolation_level=None)
            else:
                # Whoever may write also takes back what another process was stopped in the middle of.
                mode = "rw" if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK) else "ro"
                address = f"{path.resolve().as_uri()}?mode={mode}"
                self._db = sqlite3.connect(address, uri=True, timeout=_PATIENCE_S, isolation_level=None)
            try:
                self._looked_over(write)
            except BaseException:
                self._db.close()
                raise
        except sqlite3.Error as error:
            raise self._fault(error) from None
        except OSError as error:
            why = (error.strerror or "unknown reason").lower()
            raise StoreUnusable(f"the pool cannot be opened ({why})", str(path), "give another --workshop") from None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def _looked_over(self, write: bool) -> None:
        application, version, tables = signs_of(self._db)
        if application != APPLICATION_ID and (application or version or tables):
            raise StoreUnusable("this is not a pool", str(self.path), "move that file away")
        if version > VERSION:
            raise StoreUnusable("the pool was made by a newer refdb", str(self.path), "install the newer refdb")
        if write:
            self._db.execute("PRAGMA synchronous=FULL")
            self._db.execute("PRAGMA foreign_keys=ON")
            if not version:
                self._db.execute("BEGIN IMMEDIATE")
                if not self._db.execute("PRAGMA user_version").fetchone()[0]:
                    for statement in _TABLES:
                        self._db.execute(statement)
                    self._db.execute(f"PRAGMA application_id={APPLICATION_ID}")
                    self._db.execute(f"PRAGMA user_version={VERSION}")
                self._db.execute("COMMIT")

    def _fault(self, error: sqlite3.Error) -> StoreUnusable:
        code, where = getattr(error, "sqlite_errorcode", 0) & 0xFF, str(self.path)
        if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            return StoreUnusable("another refdb is writing to the pool", where, "try again when it has finished")
        if code == sqlite3.SQLITE_FULL:
            return StoreUnusable("the disk is full; nothing was changed", where, "free some space and try again")
        if code in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
            return StoreUnusable(
                f"the pool cannot be read or written here ({error})",
                where,
                "see that the disk has space and is well and the folder may be written, and try again",
            )
        return StoreUnusable(f"the pool cannot be used ({error})", where, "move the file away and add the files anew")

    @contextmanager
    def change(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all that is done in it, or nothing."""
        try:
            self._db.execute("BEGIN IMMEDIATE")
        except sqlite3.Error as error:
            raise self._fault(error) from None
        with all_or_nothing(self._db, self._fault):
            yield self._db

    # Files

    def put(self, db: sqlite3.Connection, name: str, rows: Iterable[tuple[int, SharedRow]], tell: Any) -> int:
        """Add a file's rows within `change` and return how many; a sign that stands twice in it goes to `tell`.

        Raises
        ------
        BadInput
            The file's rows are there already, or the pool would grow beyond `MOST_ROWS`.
        """
        number = db.execute("SELECT ifnull(max(number), 0) + 1 FROM files").fetchone()[0]
        room = MOST_ROWS - db.execute("SELECT count(*) FROM shared").fetchone()[0]
        db.execute("INSERT INTO files VALUES (?, ?, ?, ?)", (number, name, f"{number}", date.today().isoformat()))
        insert = f"INSERT OR IGNORE INTO shared VALUES (?, {', '.join('?' * len(NAMES))})"
        count, signs = 0, []
        for line, row in rows:
            values = [getattr(row, n) for n in NAMES]
            if not db.execute(insert, [number, *values]).rowcount:
                tell(BadInput("the same studio and row stand there twice", f"{name} line {line}", "keep one of them"))
                continue
            count += 1
            signs.append(hashlib.sha256(repr(values).encode()).digest())
            if count > room:
                raise BadInput(f"the pool would hold more than {MOST_ROWS:,} rows", name, "remove a file first")
        digest = hashlib.sha256(b"".join(sorted(signs))).hexdigest()
        same = db.execute("SELECT number, name FROM files WHERE digest = ?", (digest,)).fetchone()
        if same is not None:
            raise BadInput(f"the same rows are there already, as file {same[0]}", name, "nothing is to be added")
        db.execute("UPDATE files SET digest = ? WHERE number = ?", (digest, number))
        return count

    def files(self) -> list[PoolFileRow]:
        """All files in the order they were added."""
        counted = (
            "SELECT count(*) FROM shared s WHERE s.file = f.number AND NOT EXISTS "
            "(SELECT 1 FROM shared o WHERE o.studio = s.studio AND o.row = s.row AND o.file > s.file)"
        )
        sql = (
            "SELECT f.number, f.name, f.added, count(*), count(DISTINCT s.studio), count(DISTINCT s.glass), "
            f"({counted}) FROM files f JOIN shared s ON s.file = f.number GROUP BY f.number ORDER BY f.number"
        )
        return [PoolFileRow(*row) for row in self._all(sql)]

    def digests(self) -> list[str]:
        """A hash of the rows of each file."""
        return [row[0] for row in self._all("SELECT digest FROM files ORDER BY number")]

    def remove(self, number: int) -> str:
        """Take a file's rows away and return its name; NotFound where there is none of this number."""
        with self.change() as db:
            found = db.execute("SELECT name FROM files WHERE number = ?", (number,)).fetchone()
            if found is None:
                raise NotFound(f"the pool has no file {number}", todo="refdb pool list has them all")
            db.execute("DELETE FROM shared WHERE file = ?", (number,))
            db.execute("DELETE FROM files WHERE number = ?", (number,))
        return str(found[0])

    # Rows

    def counted(self, glasses: Sequence[str] = ()) -> list[SharedRow]:
        """Each row once, of some classes or of all, in order of its signs."""
        marks = f" AND s.glass IN ({', '.join('?' * len(glasses))})" if glasses else ""
        return [SharedRow(*row) for row in self._all(f"{_COUNTED}{marks} ORDER BY s.studio, s.row", *glasses)]

    def studios_of(self, number: int) -> set[str]:
        """Signs of the studios of a file."""
        return {row[0] for row in self._all("SELECT DISTINCT studio FROM shared WHERE file = ?", number)}

    def _all(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        try:
            return self._db.execute(sql, values).fetchall()
        except sqlite3.Error as error:
            raise self._fault(error) from None

    # What is kept beside

    def kept(self, name: str) -> Any:
        """What was kept under a name, or None."""
        found = self._all("SELECT value FROM kept WHERE name = ?", name)
        return json.loads(found[0][0]) if found else None

    def keep(self, name: str, value: Any) -> None:
        """Keep something under a name, in the place of what was there."""
        with self.change() as db:
            db.execute("INSERT OR REPLACE INTO kept VALUES (?, ?)", (name, json.dumps(value)))

    @property
    def used(self) -> bool:
        """Whether verdicts take the pool without being asked to each time."""
        return self.kept("use") is True

    def use(self, on: bool) -> None:
        """Say whether they do."""
        self.keep("use", on)

    def backup(self, target: Path) -> None:
        """A copy of all of it in another file, which must not be there yet."""
        if target.exists():
            raise BadInput("there is a file of this name already", str(target), "give another name")
        try:
            copy_to(self._db, target)
        except sqlite3.Error as error:
            raise self._fault(error) from None
        except OSError as error:
            why = (error.strerror or "unknown reason").lower()
            raise BadInput(f"it cannot be written ({why})", str(target), "give another place") from None

    def is_copied_in(self, target: Path) -> bool:
        """Whether another file is a pool that holds the same."""
        try:
            with Pool(target) as other:
                return all(self._all(sql) == other._all(sql) for sql in _ALL_OF_IT)
        except StoreUnusable:
            return False

    def secret(self) -> bytes:
        """The number that the signs of one's own rows are made of; it never leaves this file."""
        found = self.kept(_SECRET)
        if found is None:
            self.keep_secret(drawn())
            found = self.kept(_SECRET)
        return bytes.fromhex(found)

    def keep_secret(self, secret: bytes) -> None:
        """Keep another number in its place."""
        self.keep(_SECRET, secret.hex())
