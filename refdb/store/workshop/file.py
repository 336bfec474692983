"""The person's own store: one SQLite file in the user's data folder, which no upgrade of the reference touches.

What is removed or changed is kept in its table `past` and can be brought back.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any

from refdb.errors import BadInput, NotFound
from refdb.store.workshop.connection import WorkshopFile
from refdb.store.workshop.keys import key_of
from refdb.store.workshop.schema import NAMED, NUMBERED, OWN, PREFIX

Row = dict[str, Any]


class Workshop(WorkshopFile):
    """An open workshop: its rows by kind and key. Close it, or use it in a `with` statement.

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

    # Reading

    def table(self, kind: str) -> str:
        """The name of the table that holds a kind."""
        return OWN[kind].table

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

    def each(self, kind: str) -> Iterator[Row]:
        """Rows of a kind in order, one after another, however many there are."""
        own = OWN[kind]
        order = "number" if "number" in own.names else "key"
        found = self.patiently(lambda: self._db.execute(f"SELECT * FROM {own.table} ORDER BY {order}"))
        while (row := self.patiently(found.fetchone)) is not None:
            yield dict(row)

    def belonging(self, key: str) -> dict[str, int]:
        """How many tiles, strips and firings name a material by this key, by kind; kinds without any are left out."""
        counts = {
            k: int(self.rows(f"SELECT count(*) AS n FROM {OWN[k].table} WHERE ? IN (glass, metal)", key)[0]["n"])
            for k in NUMBERED
        }
        return {k: n for k, n in counts.items() if n}

    def near(self, key: str, kinds: tuple[str, ...] = NAMED, most: int = 3) -> list[str]:
        """The nearest keys, with their prefix."""
        from difflib import get_close_matches

        # Spelling is compared with those alone that begin alike: there may be a hundred thousand.
        keys: list[str] = []
        for kind in kinds:
            sql = f"SELECT key FROM {OWN[kind].table} WHERE key >= ? AND key < ? || '\U0010ffff' LIMIT 400"
            keys += [r["key"] for start in dict.fromkeys((key[:-1], key[:1])) for r in self.rows(sql, start, start)]
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

    def add(self, kind: str, row: Mapping[str, Any]) -> Row:
        """Add one checked row (see `rows`), and give it back with its key or number; BadInput for a taken name."""
        from refdb.store.workshop.tables import delete, put

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
            put(db, kind, full)
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
        from refdb.store.workshop.tables import delete, put, rename

        own = OWN[kind]
        full = dict(row)
        with self.change() as db:
            new = full["key"] = key_of(full["name"]) if own.named else key
            if own.named and new != key:
                self._free(new)
            self._keep(db, kind, key, "edited", new if new != key else None)
            if new != key:
                rename(db, key, new)
            delete(db, kind, key)
            put(db, kind, full)
        return full

    def remove(self, kind: str, key: str) -> None:
        """Take a row away; it is kept and can be restored. What names it stays, and waits for it."""
        from refdb.store.workshop.tables import delete

        with self.change() as db:
            self._keep(db, kind, key, "removed")
            delete(db, kind, key)

    def _keep(self, db: sqlite3.Connection, kind: str, key: str, why: str, became: str | None = None) -> None:
        from refdb.store.workshop.tables import keep

        row = self.row(kind, key)
        if row is not None:
            keep(db, kind, str(key), row, why, became)

    def restore(self, kinds: tuple[str, ...], key: str) -> tuple[str, Row]:
        """Bring back what was removed last under this key, or undo the last change of the record that has or had it.

        A record that was given another name gets its old one again, and what names it follows.

        Returns
        -------
        tuple
            The kind and the row that stands there now.

        Raises
        ------
        NotFound
            Nothing is kept under this key.
        BadInput
            The name has been taken since, or the renamed record was removed.
        """
        import json

        from refdb.store.workshop.tables import delete, put, rename

        marks = ", ".join("?" for _ in kinds)
        with self.change() as db:
            kept = self.rows(
                f"SELECT * FROM past WHERE kind IN ({marks}) AND (key = ? OR became = ?) ORDER BY number DESC LIMIT 1",
                *kinds,
                str(key),
                str(key),
            )
            if not kept:
                raise NotFound(f"nothing is kept under '{key}'", todo="refdb mine list --removed has what is")
            kind, was, row = kept[0]["kind"], str(kept[0]["key"]), json.loads(kept[0]["row"])
            now = self._now(kept[0])
            taken = self.kind_of(was) if kind in NAMED else None
            if taken and (taken != kind or now != was):
                raise BadInput(f"the name is taken by a {taken} of yours", PREFIX + was, "rename that one first")
            if now != was:
                self._keep(db, kind, now, "edited", was)
                rename(db, now, was)
                delete(db, kind, now)
            else:
                self._keep(db, kind, was, "edited")
                delete(db, kind, was)
            db.execute("DELETE FROM past WHERE number = ?", (kept[0]["number"],))
            put(db, kind, row)
        return kind, row

    def _now(self, kept: Row) -> str:
        """The key under which that stands now of which an earlier state is kept; BadInput where it was removed."""
        now = was = str(kept["key"])
        if kept["became"] is None:
            return now
        for later in self.rows(
            "SELECT key, why, became FROM past WHERE kind = ? AND number >= ? "
            "AND (became IS NOT NULL OR why = 'removed') ORDER BY number",
            kept["kind"],
            kept["number"],
        ):
            if later["key"] == now:
                if later["why"] == "removed":
                    raise BadInput(
                        f"it was renamed {PREFIX}{now}, and that was removed",
                        PREFIX + was,
                        f"bring that back first: refdb mine restore {PREFIX}{now}",
                    )
                now = later["became"]
        return now

    def removed(self) -> list[Row]:
        """What was removed and not brought back, latest first: kind, key and when."""
        return self.rows(
            "SELECT kind, key, max(at) AS at FROM past WHERE why = 'removed' GROUP BY kind, key ORDER BY at DESC, key"
        )

    # Care

    def findings(self) -> list[str]:
        """What is wrong with the file, in words; nothing when it is sound."""
        from refdb.store.workshop.care import findings

        return findings(self)

    def loose_ends(self) -> list[str]:
        """Names of own records that are not there, in words; tiles of a removed jar wait for it."""
        from refdb.store.workshop.care import loose_ends

        return loose_ends(self)
