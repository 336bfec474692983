"""Rows of a file on their way into a table of their own: written many at a time, each twin told by the line before."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence

from refdb.errors import BadInput
from refdb.store.workshop.checksums import summed_by
from refdb.store.workshop.keys import key_of
from refdb.store.workshop.schema import Own

#: So many rows are written in one call; more would only take memory.
_TOGETHER = 256
#: So many sets of filled columns are remembered with their statements.
_MOST_SHAPES = 200
#: A statement that writes rows, and what tells the sum of each.
_Insert = tuple[str, Callable[[Sequence[object]], int | None]]


def _no_sum(values: Sequence[object]) -> int | None:
    """Of rows that get their numbers later."""
    return None


class StagedRows:
    """Takes the rows of one file, in order.

    Parameters
    ----------
    db : Connection
        With the table `staged.new_KIND`.
    own : Own
        The kind of the rows.
    file : str
        Their file, as it is called.
    bad : callable
        Told the file, the line and the error of a row that stands there already.
    """

    def __init__(self, db: sqlite3.Connection, own: Own, file: str, bad: Callable[[str, int, BadInput], None]) -> None:
        self._db, self._own, self._file, self._bad = db, own, file, bad
        self._columns = frozenset(("key", *own.names))
        self._inserts: dict[tuple[str, ...], _Insert] = {}
        self._held: list[list[object]] = []
        self._held_by = ""
        self._sum: Callable[[Sequence[object]], int | None] = _no_sum
        self._filled: tuple[str, ...] = ("",)
        #: Rows that were written.
        self.good = 0

    def add(self, number: int, row: Mapping[str, object]) -> None:
        """Take the row of a line; what is empty in it is neither handed over nor written."""
        filled = tuple(row)
        if filled != self._filled or len(self._held) == _TOGETHER:
            self.write()
            (self._held_by, self._sum), self._filled = self._insert(filled), filled
        values = [*row.values()]
        self._held.append([self._file, number, self._sum(values), *values])

    def write(self) -> None:
        """Write what is held; before an error of a later line is told, so that lines are told in their order."""
        rows, self._held = self._held, []
        if not rows:
            return
        table = f"staged.new_{self._own.kind}"
        (last,) = self._db.execute(f"SELECT ifnull(max(rowid), 0) FROM {table}").fetchone()
        written = self._db.executemany(self._held_by, rows).rowcount
        if written < len(rows):
            # Two are the same. The staging file keeps no journal to roll back by, so these are taken out again.
            self._db.execute(f"DELETE FROM {table} WHERE rowid > ?", (last,))
            written = sum(self._one(row) for row in rows)
        self.good += written

    def _insert(self, filled: tuple[str, ...]) -> _Insert:
        """The statement that writes rows with these columns filled, and what tells their sums."""
        # Most rows of a file fill the same few columns.
        found = self._inserts.get(filled)
        if found is None:
            assert self._columns.issuperset(filled), filled
            if len(self._inserts) == _MOST_SHAPES:
                self._inserts.clear()
            found = self._inserts[filled] = (
                f"INSERT OR IGNORE INTO staged.new_{self._own.kind} ({', '.join(('file', 'line', 'crc', *filled))}) "
                f"VALUES ({', '.join('?' * (3 + len(filled)))})",
                summed_by(self._own.kind, filled) if self._own.named else _no_sum,
            )
        return found

    def _one(self, values: list[object]) -> bool:
        """Write one row; whether there was none like it."""
        if self._db.execute(self._held_by, values).rowcount:
            return True
        own, row = self._own, dict(zip(self._filled, values[3:], strict=True))
        column = "number" if "number" in own.names else "key"
        value = key_of(str(row["name"])) if own.named else row[column]
        file, line = self._db.execute(
            f"SELECT file, line FROM staged.new_{own.kind} WHERE {column} = ?", (value,)
        ).fetchone()
        what = "name" if own.named else column
        fault = BadInput(f"the same {what} stands in line {line} of {file}", what, "give each its own")
        self._bad(self._file, int(str(values[1])), fault)
        return False
