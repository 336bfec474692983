"""Statements on the tables of a workshop; the caller has opened a transaction."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from refdb.store.workshop.schema import NUMBERED, OWN, PREFIX


def put(db: sqlite3.Connection, table: str, row: Mapping[str, Any]) -> None:
    """Insert a row; columns that it does not name stay empty."""
    names = list(row)
    db.execute(
        f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' for _ in names)})", [row[n] for n in names]
    )


def delete(db: sqlite3.Connection, kind: str, key: str) -> None:
    """Delete the row of this key or number, where there is one."""
    column = "number" if kind in NUMBERED else "key"
    db.execute(f"DELETE FROM {OWN[kind].table} WHERE {column} = ?", (key,))


def rename(db: sqlite3.Connection, old: str, new: str) -> None:
    """Replace the key of a record in all tiles, strips, firings and stock."""
    for table, column in (
        ("tiles", "glass"),
        ("tiles", "metal"),
        ("strips", "glass"),
        ("strips", "metal"),
        ("firings", "glass"),
        ("firings", "metal"),
        ("stock", "key"),
    ):
        db.execute(f"UPDATE {table} SET {column} = ? WHERE {column} = ?", (PREFIX + new, PREFIX + old))


def copy_to(db: sqlite3.Connection, target: Path) -> None:
    """Copy a whole store into another file, which gets its name only when it is complete, and has no log beside it."""
    beside = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        with closing(sqlite3.connect(beside)) as copy:
            db.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE").fetchone()
        os.replace(beside, target)
    finally:
        beside.unlink(missing_ok=True)
