"""What can still be read of a damaged workshop, brought into a new file; the damaged one is kept."""

from __future__ import annotations

import glob
import json
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from refdb.errors import BadInput, StoreUnusable
from refdb.store.workshop.aside import is_intact
from refdb.store.workshop.checksums import called, columns_of, key_column, past_sum, sum_of
from refdb.store.workshop.connection import NO_ROOM
from refdb.store.workshop.file import Row, Workshop
from refdb.store.workshop.files import part_of, passing_folder, remove_passed, remove_stale, sync, sync_folder
from refdb.store.workshop.schema import OWN
from refdb.store.workshop.tables import put

#: What may stand beside a file that is in use.
_LOGS = ("-wal", "-shm")
_MAGIC = b"SQLite format 3\x00"
#: What is kept of a row that was changed or removed.
_PAST = ("kind", "key", "row", "why", "at", "became", "crc")


@dataclass
class Repaired:
    """What came of a repair: rows saved by kind, what is lost or doubtful in words, and where the damaged file is."""

    saved: dict[str, int] = field(default_factory=dict)
    lost: list[str] = field(default_factory=list)
    doubtful: list[str] = field(default_factory=list)
    kept: Path | None = None


def repair(path: Path) -> Repaired:
    """Bring all that can be read of a damaged workshop into a new file, which takes its place.

    Each table is read from both ends, then key by key where an index or the checksums still name one.

    Returns
    -------
    Repaired
        `kept` is None where the file is sound, and then nothing was done.

    Raises
    ------
    StoreUnusable
        There is no workshop, nothing at all can be read of it, or the new file cannot be written.
    """
    if path.is_file():
        _resumed(path)
    with suppress(StoreUnusable), Workshop(path) as shop:
        if not shop.findings():
            return Repaired()
    if not path.is_file():
        raise StoreUnusable("no workshop here", str(path), "refdb mine add makes one")
    remove_stale(path)
    remove_passed()
    part = part_of(path)
    try:
        with passing_folder() as folder:
            found = _salvaged(_copied(path, Path(folder)), part, path)
        found.kept = _in_its_place(path, part)
    except OSError as error:
        raise StoreUnusable(
            f"it cannot be written ({(error.strerror or 'unknown reason').lower()}); nothing was changed",
            str(path),
            "free some space, or see that the folder may be written",
        ) from None
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            Path(f"{part}{end}").unlink(missing_ok=True)
    return found


def _copied(path: Path, folder: Path) -> Path:
    """A copy with its log, to be read without a change of the damaged file; a spoilt head is made good."""
    copy = folder / "damaged.db"
    shutil.copyfile(path, copy)
    if Path(f"{path}-wal").is_file():
        shutil.copyfile(f"{path}-wal", f"{copy}-wal")
    with copy.open("r+b") as file:
        if file.read(16) != _MAGIC:
            file.seek(0)
            file.write(_MAGIC)
    return copy


def _salvaged(copy: Path, part: Path, path: Path) -> Repaired:
    found = Repaired()
    known = False
    with closing(sqlite3.connect(copy, isolation_level=None)) as db, Workshop(part, write=True) as shop:
        db.text_factory = lambda octets: octets.decode("utf-8", "surrogateescape")
        for pragma in ("writable_schema=ON", "cell_size_check=OFF", "query_only=ON"):
            with suppress(sqlite3.Error):
                db.execute(f"PRAGMA {pragma}").fetchone()
        with shop.change() as target:
            for kind in OWN:
                known = _kind(db, shop, target, kind, found) or known
            _past(db, target, found)
        _logged_into_file(shop)
    if not known:
        raise StoreUnusable(
            "nothing can be read of it; it is left as it is", str(path), "put a copy made with refdb mine backup there"
        )
    return found


def _logged_into_file(shop: Workshop) -> None:
    """Have all that was written stand in the file itself, which alone takes the place of the damaged one.

    On closing, a log that could not be written over would be left beside without a word.
    """
    mode = shop.patiently(lambda: shop.connection.execute("PRAGMA journal_mode=DELETE").fetchone())[0]
    if mode != "delete":
        raise StoreUnusable("another program has the new file open", str(shop.path), "try again")


def _refuses(error: Exception) -> bool:
    """Whether it is the disk that refuses a row, not the row that cannot stand."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in NO_ROOM


def _kind(db: sqlite3.Connection, shop: Workshop, target: sqlite3.Connection, kind: str, found: Repaired) -> bool:
    """Save the rows of a kind; whether its table could be read at all."""
    rows, known = _rows(db, kind)
    sums = _sums(db, kind)
    saved = 0
    for key, row in rows.items():
        full = {n: row.get(n) for n in columns_of(kind)}
        name = _seen(called(kind, key))
        if not is_intact(kind, full) or (OWN[kind].named and shop.kind_of(str(key)) is not None):
            found.lost.append(f"{name} cannot be read as it stands")
            continue
        try:
            put(target, kind, full)
        except (sqlite3.Error, UnicodeError) as error:
            if _refuses(error):
                raise
            found.lost.append(f"{name} cannot be read as it stands")
            continue
        saved += 1
        if key in sums and sums[key] != sum_of(columns_of(kind), list(full.values())):
            found.doubtful.append(f"{name} is not as it was written down")
    unchecked = sum(key not in sums for key in rows)
    if unchecked and saved:
        found.doubtful.append(f"{unchecked:,} in {OWN[kind].table} have no checksum that could be read")
    found.lost += [f"{_seen(called(kind, key))} is lost" for key in sums if key not in rows]
    if not known:
        found.lost.append(f"the table of {OWN[kind].table} cannot be read")
    found.saved[kind] = saved
    return known


def _rows(db: sqlite3.Connection, kind: str) -> tuple[dict[Any, Row], bool]:
    """Rows of a kind by key, and whether its table could be read at all."""
    table, key = OWN[kind].table, key_column(kind)
    rows: dict[Any, Row] = {}
    whole, known = False, False
    for order in ("", f" ORDER BY {key} DESC"):
        if not whole:
            reader = _until_damage(db, f"SELECT * FROM {table}{order}")
            whole, known, read = reader
            for row in read:
                rows.setdefault(row.get(key), row)
    if not whole:
        for one in _keys(db, kind):
            if one not in rows:
                for row in _until_damage(db, f"SELECT * FROM {table} WHERE {key} = ?", one)[2]:
                    rows.setdefault(row.get(key), row)
    rows.pop(None, None)
    return rows, known or bool(rows)


def _until_damage(db: sqlite3.Connection, sql: str, *values: Any) -> tuple[bool, bool, list[Row]]:
    """Rows of a query up to where it fails: whether it did not, whether it could be asked at all, and the rows."""
    read: list[Row] = []
    known = False
    try:
        cursor = db.execute(sql, values)
        known = True
        names = [d[0] for d in cursor.description]
        for row in cursor:
            read.append(dict(zip(names, row, strict=True)))
    except (sqlite3.Error, UnicodeError):
        return False, known, read
    return True, True, read


def _keys(db: sqlite3.Connection, kind: str) -> Iterator[Any]:
    """Keys of a kind that the checksums, or an index of the table, still name."""
    key = key_column(kind)
    yield from _sums(db, kind)
    indexes = _until_damage(
        db, "SELECT name FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL AND tbl_name = ?", OWN[kind].table
    )[2]
    for index in indexes:
        sql = f"SELECT {key} FROM {OWN[kind].table} INDEXED BY {index['name']} ORDER BY 1"
        for row in _until_damage(db, sql)[2]:
            yield row[key]


def _sums(db: sqlite3.Connection, kind: str) -> dict[Any, int]:
    return {r["key"]: r["crc"] for r in _until_damage(db, "SELECT key, crc FROM sums WHERE kind = ?", kind)[2]}


def _past(db: sqlite3.Connection, target: sqlite3.Connection, found: Repaired) -> None:
    """Save what is kept of rows that were changed or removed."""
    whole, known, rows = _until_damage(db, "SELECT * FROM past")
    if not whole:
        numbers = {r.get("number") for r in rows}
        rows += [
            r for r in _until_damage(db, "SELECT * FROM past ORDER BY number DESC")[2] if r["number"] not in numbers
        ]
        found.lost.append("earlier states of your records cannot all be read" if known else "no earlier state is kept")
    saved = 0
    for row in rows:
        try:
            kind, key, text = (str(row[n]) for n in ("kind", "key", "row"))
            held = json.loads(text)
            if kind not in OWN or not isinstance(held, dict) or not set(held) <= set(columns_of(kind)):
                raise BadInput("no row")
            values = [*(row.get(n) for n in _PAST[:-1]), past_sum(kind, key, text)]
            target.execute(
                f"INSERT INTO past (number, {', '.join(_PAST)}) VALUES (?, {', '.join('?' * len(_PAST))})",
                (row["number"], *values),
            )
            saved += 1
        except (BadInput, ValueError, KeyError, sqlite3.Error) as error:
            if _refuses(error):
                raise
            found.lost.append("an earlier state of a record cannot be read")
    found.saved["past"] = saved


def _in_its_place(path: Path, part: Path) -> Path:
    """Put the new file in the place of the damaged one, which gets a name of its own beside it.

    The damaged file has both names until the new one takes the first, so that whenever this is stopped there is a
    workshop, or what a repair can be made of: `_resumed` gives its log back.
    """
    sync(part)
    number = 1
    while (kept := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    try:
        # Its log goes with it: a log that is not its own would spoil the new file.
        for end in _LOGS:
            with suppress(FileNotFoundError):
                _also_named(Path(f"{path}{end}"), Path(f"{kept}{end}"))
        _also_named(path, kept)
        sync_folder(path.parent)
        for end in _LOGS:
            Path(f"{path}{end}").unlink(missing_ok=True)
        os.replace(part, path)
    except OSError:
        _taken_back(path, kept)
        raise
    sync_folder(path.parent)
    return kept


def _also_named(file: Path, name: Path) -> None:
    """Give a file a second name, or where a system of files has none, a copy of that name."""
    try:
        os.link(file, name)
    except FileNotFoundError:
        raise
    except (OSError, NotImplementedError):
        shutil.copyfile(file, name)
        sync(name)


def _resumed(path: Path) -> None:
    """Take back what a repair that was stopped has begun: the damaged file has its own name and its log again."""
    for kept in path.parent.glob(f"{glob.escape(path.name)}.damaged-[0-9]*"):
        with suppress(OSError):
            if not kept.name.endswith(_LOGS) and os.path.samefile(kept, path):
                _taken_back(path, kept)


def _taken_back(path: Path, kept: Path) -> None:
    """Take its second name from a damaged file that has its own still, and give it its log back."""
    for end in _LOGS:
        mine, other = Path(f"{path}{end}"), Path(f"{kept}{end}")
        with suppress(OSError):
            if other.exists() and not mine.exists():
                os.replace(other, mine)
            other.unlink(missing_ok=True)
    kept.unlink(missing_ok=True)


def _seen(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")
