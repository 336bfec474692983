"""A checksum of every own record, by which `refdb verify` finds a figure that changed without a command.

Sums stand in a table of their own, which no look-up reads. They are CRC-32 of what stands in the columns that are not
empty, so that a later version may add columns.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Callable, Iterator, Sequence
from operator import itemgetter
from typing import Any

from refdb.store.workshop.schema import NAMED, NUMBERED, OWN, PREFIX

#: The version of the workshop from which on records have sums.
SINCE = 5
_BETWEEN = "\x1f"


def columns_of(kind: str) -> tuple[str, ...]:
    """All columns of the table of a kind, its key among them."""
    own = OWN[kind]
    return ("key", *own.names) if own.named else own.names


def key_column(kind: str) -> str:
    """The column by which rows of a kind are called."""
    return "number" if kind in NUMBERED else "key"


def called(kind: str, key: object) -> str:
    """A row as people call it."""
    return f"{PREFIX}{key}" if kind in NAMED else f"{kind}:{key}" if kind in NUMBERED else f"{kind} {key}"


def sum_of(names: Sequence[str], values: Sequence[Any]) -> int:
    """CRC-32 of the values that are not None, each with its name."""
    return _crc(_BETWEEN.join([f"{n}={v}" for n, v in zip(names, values, strict=True) if v is not None]))


def summed_by(kind: str, names: Sequence[str]) -> Callable[[Sequence[Any]], int]:
    """A function from the values of these columns, in their order, to the sum of a row that has no others."""
    order = [n for n in columns_of(kind) if n in names]
    pick, whole = itemgetter(*(names.index(n) for n in order)), _BETWEEN.join([f"{n}=%s" for n in order])

    def of_row(values: Sequence[Any]) -> int:
        found = pick(values)
        return sum_of(order, found) if None in found else _crc(whole % found)

    return of_row


def _crc(told: str) -> int:
    return zlib.crc32(told.encode("utf-8", "surrogateescape"))


def past_sum(kind: str, key: str, row: str) -> int:
    """CRC-32 of what is kept of a row that was changed or removed."""
    return _crc(_BETWEEN.join((kind, key, row)))


def mark(db: sqlite3.Connection, kind: str, where: str = "", *values: Any) -> None:
    """Write down the sums of rows of a kind as they stand, of those that `where` (SQL) picks or of all."""
    every, table = columns_of(kind), f"main.{OWN[kind].table}"
    # Columns that are empty in all of these rows have no part in their sums; most rows of a file fill all others.
    counts = db.execute(f"SELECT {', '.join(f'count({n})' for n in every)} FROM {table} {where}", values).fetchone()
    names = [name for name, filled in zip(every, counts, strict=True) if filled]
    whole = _BETWEEN.join([f"{name}=%s" for name in names])

    def of_row(*found: Any) -> int:
        return sum_of(names, found) if None in found else _crc(whole % found)

    db.create_function(f"sum_of_{kind}", len(names), of_row)
    db.execute(
        f"INSERT OR REPLACE INTO sums (kind, key, crc) SELECT '{kind}', {key_column(kind)}, "
        f"sum_of_{kind}({', '.join(names)}) FROM {table} {where}",
        values,
    )


def mark_all(db: sqlite3.Connection) -> None:
    """Write down the sums of everything as it stands."""
    for kind in OWN:
        mark(db, kind)
    db.create_function("past_sum", 3, past_sum)
    db.execute("UPDATE past SET crc = past_sum(kind, key, row)")


def unmark(db: sqlite3.Connection, kind: str, key: object) -> None:
    """Forget the sum of a row."""
    db.execute("DELETE FROM sums WHERE kind = ? AND key = ?", (kind, int(str(key)) if kind in NUMBERED else key))


def changed(db: sqlite3.Connection, kind: str) -> Iterator[tuple[Any, str]]:
    """Keys of rows of a kind that are not as they were written, with what is wrong: changed, lost or unknown."""
    names, key = columns_of(kind), key_column(kind)
    held = ", ".join(f"t.{n}" for n in names)
    cursor = db.cursor()
    cursor.row_factory = None
    for found, crc, *row in cursor.execute(
        f"SELECT t.{key}, s.crc, {held} FROM {OWN[kind].table} t "
        f"LEFT JOIN sums s ON s.kind = '{kind}' AND s.key = t.{key}"
    ):
        if crc is None:
            yield found, "unknown"
        elif crc != sum_of(names, row):
            yield found, "changed"
    for (found,) in cursor.execute(
        f"SELECT key FROM sums WHERE kind = '{kind}' AND key NOT IN (SELECT {key} FROM {OWN[kind].table}) ORDER BY key"
    ):
        yield found, "lost"


def changed_past(db: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    """Kind and key of what is kept of changed and removed rows, where that is not as it was written."""
    cursor = db.cursor()
    cursor.row_factory = None
    for kind, key, row, crc in cursor.execute("SELECT kind, key, row, crc FROM past ORDER BY number"):
        if crc != past_sum(kind, key, row):
            yield kind, key
