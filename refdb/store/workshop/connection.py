"""The file of a workshop: opened, brought up to date, read and changed while other processes may do the same.

Every change is one transaction of a write-ahead log, synced to the disk. Whoever has to wait for another process
waits, within bounds.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Self, TypeVar

from refdb.errors import BadInput, StoreUnusable
from refdb.store.workshop.schema import APPLICATION_ID, MIGRATIONS, VERSION

#: How long a process waits for others before it gives up [s].
PATIENCE_S = 30.0
_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
#: What SQLite says where nothing can be written.
NO_ROOM = (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)
_Answer = TypeVar("_Answer")
Row = dict[str, Any]


def _no_room(error: sqlite3.Error) -> bool:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in NO_ROOM


def signs_of(db: sqlite3.Connection) -> tuple[int, int, int]:
    """Whose file it is, its version and how many tables it has, of one state, whatever others write meanwhile."""
    alone = not db.in_transaction
    if alone:
        db.execute("BEGIN")
    try:
        application, version, tables = (
            int(db.execute(sql).fetchone()[0])
            for sql in ("PRAGMA application_id", "PRAGMA user_version", "SELECT count(*) FROM sqlite_master")
        )
    finally:
        if alone and db.in_transaction:
            db.execute("ROLLBACK")
    return application, version, tables


@contextmanager
def all_or_nothing(db: sqlite3.Connection, fault: Callable[[sqlite3.Error], Exception]) -> Iterator[None]:
    """End a transaction that has begun: committed, or rolled back on any error; one of SQLite is told by `fault`."""
    try:
        yield
        db.execute("COMMIT")
    except BaseException as error:
        try:
            if db.in_transaction:
                db.execute("ROLLBACK")
        except sqlite3.Error:
            pass
        if isinstance(error, sqlite3.Error):
            raise fault(error) from None
        raise


class WorkshopFile:
    """An open file of a workshop: opened, brought to the present version, read, and changed in transactions.

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

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    @property
    def connection(self) -> sqlite3.Connection:
        """The SQLite connection, for statements that attach other files."""
        return self._db

    # Opening

    def _opened(self, write: bool) -> sqlite3.Connection:
        db = self._connected(write)
        try:
            try:
                version = self._version(db)
            except sqlite3.Error as error:
                if write or not _no_room(error):
                    raise
                db.close()
                db = self._without_room()
                version = self._version(db)
            if version < VERSION and not write:
                db = self._up_to_date(db)
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

    def _without_room(self) -> sqlite3.Connection:
        """A connection that reads where nothing can be written, not even the index of the log."""
        log = Path(f"{self.path}-wal")
        held = log.exists() and log.stat().st_size
        address = f"{self.path.resolve().as_uri()}?mode={'rw' if held else 'ro&immutable=1'}"
        db = sqlite3.connect(address, uri=True, timeout=self.patience_s, isolation_level=None)
        db.row_factory = sqlite3.Row
        if held:
            # The index of the log is then held in memory.
            db.execute("PRAGMA locking_mode=EXCLUSIVE").fetchone()
        return db

    def _up_to_date(self, db: sqlite3.Connection) -> sqlite3.Connection:
        """A connection that reads the file at the present version; a copy in memory where it cannot be written."""
        try:
            with closing(self._connected(True)) as writer:
                self._migrate(writer)
        except (sqlite3.Error, OSError) as error:
            if isinstance(error, sqlite3.Error) and not _no_room(error):
                raise
            copy = sqlite3.connect(":memory:", isolation_level=None)
            copy.row_factory = sqlite3.Row
            db.backup(copy)
            db.close()
            self._bring_up(copy, self._version(copy))
            return copy
        db.close()
        return self._connected(False)

    def _version(self, db: sqlite3.Connection) -> int:
        """The version of the file, 0 where it is empty; StoreUnusable where it is not ours to open."""
        application, version, tables = signs_of(db)
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
        self._bring_up(db, found)

    def _bring_up(self, db: sqlite3.Connection, found: int) -> None:
        # Here and below: what writes is loaded where something is written, and a look-up does not wait for it.
        from refdb.store.workshop.checksums import SINCE, mark_all

        db.execute("BEGIN IMMEDIATE")
        try:
            # Another process may have been quicker.
            for step in range(self._version(db), VERSION):
                for statement in MIGRATIONS[step]:
                    db.execute(statement)
            if 0 < found < SINCE:
                mark_all(db)
            db.execute(f"PRAGMA application_id={APPLICATION_ID}")
            db.execute(f"PRAGMA user_version={VERSION}")
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise

    def copy_before(self, version: int) -> Path:
        """Path of the copy that is made before a file of this version is brought up to date."""
        return self.path.with_name(f"{self.path.name}.version-{version}")

    def _copied_aside(self, db: sqlite3.Connection, version: int) -> None:
        from refdb.store.workshop.tables import copy_to

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
                "refdb mine repair saves what can be read, or put a copy made with refdb mine backup in its place",
            )
        return StoreUnusable(f"the workshop cannot be used ({error})", where, "look it over with refdb verify")

    def patiently(self, work: Callable[[], _Answer]) -> _Answer:
        """Return what `work` returns, repeated while other processes lock the file, for `patience_s` at most.

        Raises
        ------
        StoreUnusable
            The file stays locked, or SQLite fails otherwise.
        """
        until = time.monotonic() + self.patience_s
        while True:
            try:
                return work()
            except sqlite3.Error as error:
                if getattr(error, "sqlite_errorcode", 0) & 0xFF not in _BUSY or time.monotonic() > until:
                    raise self.fault(error) from None
            from random import uniform

            time.sleep(uniform(0.005, 0.05))

    # Reading

    def rows(self, sql: str, *values: Any) -> list[Row]:
        """All rows of a query as dictionaries."""
        return self.patiently(lambda: [dict(r) for r in self._db.execute(sql, values)])

    # Changing and copying

    @contextmanager
    def change(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all that is done in it, or nothing; a change within a change is part of it."""
        if self._db.in_transaction:
            yield self._db
            return
        self.patiently(lambda: self._db.execute("BEGIN IMMEDIATE"))
        with all_or_nothing(self._db, self.fault):
            yield self._db

    @staticmethod
    def may_be_copied_to(target: Path) -> None:
        """BadInput where a file of this name is there already, or none can be made."""
        from refdb.store.workshop.files import part_of

        if target.exists():
            raise BadInput("there is a file of this name already", str(target), "give another name")
        if not target.parent.is_dir():
            raise BadInput("there is no such folder to write the copy into", str(target.parent), "give another place")
        try:
            # So that what is wrong with the place is not laid to the workshop.
            probe = part_of(target)
            probe.touch()
            probe.unlink()
        except OSError as error:
            raise _unwritten(target, error) from None

    def backup(self, target: Path) -> None:
        """A copy of the whole workshop in another file, which must not be there yet."""
        from refdb.store.workshop.tables import copy_to

        self.may_be_copied_to(target)
        try:
            self.patiently(lambda: copy_to(self._db, target))
        except OSError as error:
            raise _unwritten(target, error) from None


def _unwritten(target: Path, error: OSError) -> BadInput:
    why = (error.strerror or "unknown reason").lower()
    return BadInput(f"it cannot be written ({why})", str(target), "give another place")
