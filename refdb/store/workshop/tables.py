"""Statements on the tables of a workshop; the caller has opened a transaction."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

from refdb.store.workshop.checksums import key_column, mark, past_sum, unmark
from refdb.store.workshop.files import part_of, remove_stale, sync, sync_folder
from refdb.store.workshop.schema import NUMBERED, OWN, PREFIX


def put(db: sqlite3.Connection, kind: str, row: Mapping[str, Any]) -> None:
    """Insert a row of a kind, with its checksum; columns that it does not name stay empty."""
    names, own = list(row), OWN[kind]
    db.execute(
        f"INSERT INTO {own.table} ({', '.join(names)}) VALUES ({', '.join('?' for _ in names)})",
        [row[n] for n in names],
    )
    column = key_column(kind)
    mark(db, kind, f"WHERE {column} = ?", row[column])


def delete(db: sqlite3.Connection, kind: str, key: str) -> None:
    """Delete the row of this key or number, where there is one."""
    db.execute(f"DELETE FROM {OWN[kind].table} WHERE {key_column(kind)} = ?", (key,))
    unmark(db, kind, key)


def keep(db: sqlite3.Connection, kind: str, key: str, row: Mapping[str, Any], why: str, became: str | None) -> None:
    """Keep a row as it was before it is changed or removed; `became` is its new key where it gets another name."""
    text = _json(row)
    at = datetime.now().astimezone().isoformat(timespec="seconds")
    db.execute(
        "INSERT INTO past (kind, key, row, why, at, became, crc) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (kind, key, text, why, at, became, past_sum(kind, key, text)),
    )


def _json(what: object) -> str:
    # Who only looks things up has no use for it.
    import json

    return json.dumps(what, ensure_ascii=False)


def rename(db: sqlite3.Connection, old: str, new: str) -> None:
    """Replace the key of a record in all tiles, strips, firings and stock, and in what is kept of them."""
    was, now = PREFIX + old, PREFIX + new
    for kind in NUMBERED:
        for column in ("glass", "metal"):
            db.execute(f"UPDATE {OWN[kind].table} SET {column} = ? WHERE {column} = ?", (now, was))
        mark(db, kind, "WHERE ? IN (glass, metal)", now)
    if db.execute("UPDATE stock SET key = ? WHERE key = ?", (now, was)).rowcount:
        unmark(db, "stock", was)
        mark(db, "stock", "WHERE key = ?", now)
    kept = db.execute(
        f"SELECT number, kind, key, row FROM past WHERE kind IN ({', '.join('?' * len(NUMBERED))}, 'stock') "
        "AND instr(row, ?)",
        (*NUMBERED, _json(was)),
    ).fetchall()
    import json

    for number, kind, key, text in map(tuple, kept):
        row = {n: now if n in ("glass", "metal", "key") and v == was else v for n, v in json.loads(text).items()}
        key, text = now if kind == "stock" and key == was else key, _json(row)
        db.execute(
            "UPDATE past SET key = ?, row = ?, crc = ? WHERE number = ?", (key, text, past_sum(kind, key, text), number)
        )


def copy_to(db: sqlite3.Connection, target: Path) -> None:
    """Copy a whole store into another file, which gets its name only when it is complete, and has no log beside it."""
    remove_stale(target)
    beside = part_of(target)
    try:
        with closing(sqlite3.connect(beside)) as copy:
            db.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE").fetchone()
        sync(beside)
        os.replace(beside, target)
        sync_folder(target.parent)
    finally:
        for end in ("", "-journal", "-wal", "-shm"):
            Path(f"{beside}{end}").unlink(missing_ok=True)
