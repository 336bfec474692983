"""The person's own workshop as the view sees it: only ever read, and looked at anew before every answer."""

from __future__ import annotations

import os
import sqlite3
import threading
from pathlib import Path

from refdb.errors import StoreUnusable
from refdb.frozen import dataclass
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import VERSION

#: How long a page waits for someone who is writing [s].
PATIENCE_S = 1.0


@dataclass(frozen=True)
class State:
    """The workshop at one moment: `opened` counts its openings, 0 where there is none to read; `fault` says why.

    `pool` counts how often what verdicts take from a pool has changed.
    """

    opened: int = 0
    version: int = 0
    fault: str = ""
    pool: int = 0

    @property
    def readable(self) -> bool:
        """Whether there is a workshop that can be read."""
        return self.opened > 0


ABSENT = State()


def address_of(path: Path) -> str:
    """What SQLite is told so that it reads and never writes; the file may be changed by others meanwhile."""
    log = Path(f"{path}-wal")
    # A folder that cannot be written has no room for the log's index; without a log none is needed.
    closed = not os.access(path.parent, os.W_OK) and not (log.exists() and log.stat().st_size)
    return f"{path.resolve().as_uri()}?mode=ro{'&immutable=1' if closed else ''}"


class ReadOnly(Workshop):
    """A workshop that is read and never written, not even to bring it up to date; it may pass between threads."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, patience_s=PATIENCE_S)

    def _opened(self, write: bool) -> sqlite3.Connection:
        db = self._connected(False)
        try:
            if self._version(db) < VERSION:
                raise StoreUnusable(
                    "the workshop was made by an older refdb",
                    str(self.path),
                    "bring it up to date with: refdb mine list",
                )
            return db
        except BaseException:
            db.close()
            raise

    def _connected(self, write: bool) -> sqlite3.Connection:
        db = sqlite3.connect(
            address_of(self.path), uri=True, timeout=self.patience_s, isolation_level=None, check_same_thread=False
        )
        db.row_factory = sqlite3.Row
        return db


class Watch:
    """Tells whether a workshop has changed, at the cost of a look at the file and its counter of changes.

    Parameters
    ----------
    path : Path
        The workshop; it need not exist, and may come, go and be replaced.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        self._shop: ReadOnly | None = None
        self._seen: tuple[int, ...] = ()
        self._opened = 0
        self._state = ABSENT

    def state(self) -> State:
        """The workshop now; the same object as before where nothing has changed."""
        with self._lock:
            found = self._now()
            if found != self._state:
                self._state = found
            return self._state

    def set_aside(self, fault: StoreUnusable) -> None:
        """Leave the workshop alone until its file changes: reading it came to nothing."""
        with self._lock:
            self._close()
            self._state = State(fault=fault.what)
            self._seen = self._whole()

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._close()

    def _now(self) -> State:
        # Until it is open, anything new about the file is a reason to try; then only whether it is the same file.
        seen = self._same() if self._shop is not None else self._whole()
        if not seen:
            self._close()
            self._seen = ()
            return ABSENT
        if seen != self._seen or (self._shop is None and not self._state.fault):
            self._close()
            self._seen = self._whole()
            try:
                self._shop = ReadOnly(self.path)
            except StoreUnusable as fault:
                return State(fault=fault.what)
            self._opened += 1
            self._seen = self._same()
        elif self._shop is None:
            return self._state
        try:
            assert self._shop is not None
            version: int = self._shop.connection.execute("PRAGMA data_version").fetchone()[0]
        except sqlite3.Error as error:
            why = self._shop.fault(error).what
            self._close()
            self._seen = self._whole()
            return State(fault=why)
        return State(self._opened, version)

    def _close(self) -> None:
        if self._shop is not None:
            self._shop.close()
            self._shop = None

    def _same(self) -> tuple[int, ...]:
        """Which file it is; where nobody here may write, also when it was last written, for then nothing counts."""
        try:
            found = self.path.stat()
        except OSError:
            return ()
        fixed = os.access(self.path.parent, os.W_OK)
        return (found.st_dev, found.st_ino) if fixed else (found.st_dev, found.st_ino, found.st_mtime_ns, found.st_size)

    def _whole(self) -> tuple[int, ...]:
        """Everything that tells of a change of the file and its log."""
        told: list[int] = []
        for path in (self.path, Path(f"{self.path}-wal")):
            try:
                found = path.stat()
            except OSError:
                if not told:
                    return ()
                continue
            told += [found.st_dev, found.st_ino, found.st_mtime_ns, found.st_size]
        return tuple(told)
