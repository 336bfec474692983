"""Erasing for good: a record with all that names it and all its earlier states, or every earlier state there is."""

from __future__ import annotations

import glob
import json
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from refdb.errors import StoreUnusable
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.files import remove_passed, remove_stale
from refdb.store.workshop.schema import NAMED, NUMBERED, OWN, PREFIX
from refdb.store.workshop.tables import delete


class ToForget(NamedTuple):
    """What would be erased.

    Attributes
    ----------
    rows : tuple of (str, key)
        Kind and key (or number) of each row that stands.
    past : tuple of int
        Numbers of the earlier states.
    """

    rows: tuple[tuple[str, Any], ...]
    past: tuple[int, ...]


def to_forget(shop: Workshop, kinds: tuple[str, ...] = (), key: str = "") -> ToForget:
    """What is to be erased with a record, whether it stands or was removed; without one, all earlier states."""
    kept = shop.rows("SELECT number, kind, key, became, row FROM past ORDER BY number DESC")
    if not kinds:
        return ToForget((), tuple(r["number"] for r in kept))
    rows = [(k, key) for k in kinds if shop.row(k, key) is not None]
    past = set(_states(kept, kinds, key))
    if set(kinds) & set(NAMED):
        own = PREFIX + key
        for kind in NUMBERED:
            sql = f"SELECT number FROM {OWN[kind].table} WHERE ? IN (glass, metal) ORDER BY number"
            rows += [(kind, r["number"]) for r in shop.rows(sql, own)]
        if shop.row("stock", own) is not None:
            rows.append(("stock", own))
        past |= {
            r["number"]
            for r in kept
            if r["kind"] in (*NUMBERED, "stock")
            and own in [v for n, v in json.loads(r["row"]).items() if n in ("glass", "metal", "key")]
        }
    for kind, number in rows:
        past |= set(_states(kept, (kind,), str(number)))
    return ToForget(tuple(rows), tuple(sorted(past)))


def _states(kept: list[dict[str, Any]], kinds: tuple[str, ...], key: str) -> Iterator[int]:
    """Numbers of the earlier states of a record, those under the names that it had before among them."""
    # From the latest on: a name counts as its own only before it was renamed from it.
    names = {key}
    for row in kept:
        if row["kind"] in kinds and (row["key"] in names or row["became"] in names):
            names.add(row["key"])
            yield row["number"]


class Erased(NamedTuple):
    """How far the bytes went with the rows.

    Attributes
    ----------
    rewritten : bool
        Whether the file was written anew, so that no page that was given up before holds any of them.
    log_emptied : bool
        Whether the log was emptied too; another program that has the workshop open may hold it a while longer.
    """

    rewritten: bool
    log_emptied: bool


def forget(shop: Workshop, what: ToForget) -> Erased:
    """Erase rows and earlier states so that no byte of them stays in the file or its log, or say where one may.

    What a repair or a copy that was stopped has left behind goes too.

    Raises
    ------
    StoreUnusable
        It cannot be written; then nothing was erased.
    """
    db = shop.connection
    db.execute("PRAGMA secure_delete=ON").fetchone()
    with shop.change():
        for kind, key in what.rows:
            delete(db, kind, key)
        db.executemany("DELETE FROM past WHERE number = ?", [(n,) for n in what.past])
    rewritten, log_emptied = False, False
    # What was to be erased is; on a full disk the rest of the work may fail.
    with suppress(StoreUnusable):
        shop.patiently(lambda: db.execute("VACUUM"))
        rewritten = True
    with suppress(StoreUnusable):
        log_emptied = shop.patiently(lambda: db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone())[0] == 0
    remove_stale(shop.path)
    remove_passed()
    return Erased(rewritten, log_emptied)


def copies_beside(path: Path) -> list[Path]:
    """Copies of the workshop that refdb made by itself, before a new version or a repair."""
    with suppress(OSError):
        return sorted(
            p for end in ("version", "damaged") for p in path.parent.glob(f"{glob.escape(path.name)}.{end}-[0-9]*")
        )
    return []
