"""The reference with the person's own shelf beside it: every look-up that takes a key takes `my:NAME` too."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from refdb.errors import BadInput, StoreUnusable
from refdb.frozen import replace
from refdb.records import KilnOffset, Material, ObservedFiring, OwnTile, Source
from refdb.store.reference import Reference
from refdb.store.workshop.keys import NAMED, PREFIX, default_path, key_of, own_key
from refdb.store.workshop.sources import SOURCE_NAMES, SOURCES, own_sources

if TYPE_CHECKING:
    from refdb.records.named import Meaning
    from refdb.store.workshop.file import Workshop

#: At most so many own records of a kind stand in a list unless all are asked for; each is judged in a ranking.
MOST_LISTED = 300
#: Names looked through for one that is like another; of more those alone that begin with a word of it.
MOST_COMPARED = 200
#: At most so many own records are found by words.
_MOST_HITS = 50
_VIEWS = {"metal": "metals", "glass": "glasses", "leaf": "leaf"}


class Shelf(Reference):
    """A `Reference` that answers for own records as well.

    Parameters
    ----------
    path : Path
        The reference store.
    workshop : Path, optional
        The workshop; by default `keys.default_path()`. It is opened when a question needs it, and need not exist.
    lenient : bool
        Whether a workshop that cannot be read is left out, with the reason in `own_fault`, where no own record was
        asked for by its key; otherwise that raises StoreUnusable.
    """

    def opening(self) -> Callable[[], Self]:
        """What opens the same stores again in another process."""
        return partial(type(self), self.path, self.workshop_path, lenient=self.lenient)

    def __init__(self, path: Path, workshop: Path | None = None, *, lenient: bool = False) -> None:
        super().__init__(path)
        self.lenient = lenient
        self.own_fault: StoreUnusable | None = None
        self.workshop_path = workshop if workshop is not None else default_path()
        #: None for all.
        self.most_listed: int | None = MOST_LISTED
        self._shop: Workshop | None = None
        self._told_of_own = False
        self._likes: dict[tuple[str, str], Material | None] = {}
        self._left_out: dict[str, int] = {}

    @property
    def shop(self) -> Workshop | None:
        """The open workshop, or None where there is no file."""
        # An empty file is none: whoever makes one was stopped, or has only begun.
        if self._shop is None and self.workshop_path.is_file() and self.workshop_path.stat().st_size:
            # Who has no workshop does not wait for what one needs.
            if not self.lenient:
                from refdb.store.workshop.file import Workshop

                self._shop = Workshop(self.workshop_path)
            elif self.own_fault is None:
                from refdb.store.workshop.aside import Aside

                try:
                    self._shop = Aside(self.workshop_path, self._leaves_out)
                except StoreUnusable as fault:
                    self._leaves_out(fault)
        return self._shop

    def _leaves_out(self, fault: StoreUnusable) -> None:
        if not self.lenient:
            raise fault
        self.own_fault = self.own_fault or fault

    def _intact(self, kind: str, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """The rows without those that damage has spoilt."""
        from refdb.store.workshop.aside import is_intact, spoilt

        kept = [row for row in rows if is_intact(kind, row)]
        if len(kept) < len(rows):
            first = next(row for row in rows if not is_intact(kind, row))
            self._leaves_out(spoilt(kind, first, self.workshop_path))
        return kept

    @property
    def left_out(self) -> int:
        """How many own records lists have left out because there are more than `most_listed` of a kind."""
        return sum(self._left_out.values())

    def close(self) -> None:
        """Close both files."""
        super().close()
        if self._shop is not None:
            self._shop.close()
            self._shop = None

    # Materials

    def material(self, key: str, kind: str | None = None) -> Material:
        """The record of this key, of one kind or of any."""
        if not isinstance(key, str) or not key.strip().lower().startswith(PREFIX):
            return super().material(key, kind)
        return self._own(own_key(key), kind)

    def _own(self, key: str, kind: str | None) -> Material:
        shop = self.shop
        found = shop.kind_of(key) if shop is not None and key else None
        row = shop.row(found, key) if shop is not None and found is not None else None
        if self.own_fault is not None:
            raise self.own_fault
        if row is None or found is None or (kind is not None and found != kind):
            rows = [{"kind": found}] if found else []
            raise self._not_found(PREFIX + key, kind, rows)
        return self._record(found, row)

    def _record(self, kind: str, row: dict[str, Any]) -> Material:
        self._told_of_own = True
        like = (kind, row["like"] or "")
        if like not in self._likes:
            there = self.rows("SELECT 1 FROM materials WHERE key = ? AND kind = ?", like[1], kind)
            self._likes[like] = super().material(like[1], kind) if there else None
        from refdb.store.workshop.aside import is_intact, spoilt
        from refdb.store.workshop.records import own_record

        try:
            if is_intact(kind, row):
                return own_record(kind, row, self._likes[like])
        except (BadInput, ValueError, KeyError, TypeError):
            pass
        raise spoilt(kind, row, self.workshop_path)

    def materials(self, kind: str | None = None) -> list[Material]:
        """All records, of one kind or of all: the reference's, then own ones in order of key."""
        every = super().materials(kind)
        if self.shop is None:
            return every
        return [*every, *(record for k in NAMED if kind in (None, k) for record in self._listed(k))]

    def _listed(self, kind: str) -> list[Material]:
        return list(self._each_listed(kind))

    def _each_listed(self, kind: str) -> Iterator[Material]:
        assert self.shop is not None
        count, most = self.shop.count(kind), self.most_listed
        if most is not None and count > most:
            self._left_out[kind] = count - most
        for row in self.shop.each(kind) if most is None else self.shop.listed(kind, most):
            try:
                yield self._record(kind, row)
            except StoreUnusable as fault:
                self._leaves_out(fault)

    def summaries(self, view: str) -> list[dict[str, Any]]:
        """Rows of one of the views, own records after those of the reference."""
        rows = super().summaries(view)
        return [*rows, *(row for _, row in self._own_rows(next(k for k, v in _VIEWS.items() if v == view), rows))]

    def each(self, kind: str) -> Iterator[Material]:
        """The records that `materials` has of a kind, but one own record at a time is held."""
        yield from Reference.materials(self, kind)
        if self.shop is not None:
            yield from self._each_listed(kind)

    def each_summary(self, kind: str) -> Iterator[tuple[Material, dict[str, Any]]]:
        """The same, each with its row of the view."""
        rows = {row["key"]: row for row in Reference.summaries(self, _VIEWS[kind])}
        yield from ((record, rows[record.key]) for record in Reference.materials(self, kind))
        yield from self._own_rows(kind, list(rows.values()))

    def is_long(self, kind: str) -> bool:
        """Whether lists of a kind hold so many own records that they are better read twice than held."""
        return self.most_listed is None and self.shop is not None and self.shop.count(kind) > MOST_LISTED

    def _own_rows(self, kind: str, like: list[dict[str, Any]]) -> Iterator[tuple[Material, dict[str, Any]]]:
        """Own records of a kind, each with a row of the same columns as those of the reference."""
        if self.shop is None or not like:
            return
        shown = {p.key: p.shown_unit for p in self.properties()}
        factors = {"mm": 1e3, "um": 1e6, "GPa": 1e-9, "MPa": 1e-6, "mN/m": 1e3, "mg/cm**2": 100.0}
        names = {c: next((p for p in shown if c == p or c.startswith(f"{p}_")), None) for c in like[0]}
        for record in self._each_listed(kind):
            row: dict[str, Any] = {}
            for column, name in names.items():
                value = record.value(name) if name and not hasattr(record, column) else None
                row[column] = (
                    value.band.value * factors.get(shown[value.property], 1.0)
                    if value is not None
                    else getattr(record, column, None) or None
                )
            yield record, row

    def near(self, key: str, kind: str | None = None, most: int = 3) -> list[str]:
        """The nearest keys, own ones where the key is meant to be one."""
        if key.strip().lower().startswith(PREFIX):
            return [] if self.shop is None else self.shop.near(own_key(key), (kind,) if kind else NAMED, most)
        return super().near(key, kind, most)

    def own_named(self, text: str, kind: str | None = None) -> Meaning | None:
        """The person's own record of this name or key, of one kind or of any."""
        shop, key = self.shop, own_key(text)
        if self.own_fault is not None and text.strip().lower().startswith(PREFIX):
            raise self.own_fault
        if shop is None or not key:
            return None
        from refdb.records.named import Meaning

        for k in NAMED if kind is None else (kind,):
            for row in shop.rows(f"SELECT key, name FROM {shop.table(k)} WHERE key = ?", key):
                return Meaning(k, PREFIX + row["key"], row["name"])
        if self.own_fault is not None and text.strip().lower().startswith(PREFIX):
            raise self.own_fault
        return None

    def own_names(self, text: str, kind: str | None = None) -> list[Meaning]:
        """Own records whose names hold a word of a text or begin like it, some of them where there are many."""
        shop = self.shop
        if shop is None:
            return []
        from refdb.records.named import Meaning

        words = [w for w in key_of(text[:200]).split("-") if w][:12]
        found: list[Meaning] = []
        for k in NAMED if kind is None else (kind,):
            whole = shop.count(k) <= MOST_COMPARED
            where = " OR ".join(["(key >= ? AND key < ? || '\U0010ffff')"] * len(words))
            sql = f"SELECT key, name FROM {shop.table(k)}{'' if whole else f' WHERE {where}'} LIMIT {MOST_COMPARED}"
            if whole or words:
                begun = () if whole else (word for word in words for _ in range(2))
                found += [Meaning(k, PREFIX + r["key"], r["name"]) for r in shop.rows(sql, *begun)]
        return found

    def own_keys(self, kind: str | None, start: str, most: int = 100) -> list[dict[str, Any]]:
        """Keys and labels of own records that begin so, of one kind or of all."""
        shop, text = self.shop, start.strip().lower()
        if shop is None or not (text.startswith(PREFIX) or PREFIX.startswith(text)):
            return []
        head = text[len(PREFIX) :]
        return [
            {"key": PREFIX + r["key"], "label": r["name"]}
            for k in NAMED
            if kind in (None, k)
            for r in shop.rows(
                f"SELECT key, name FROM {shop.table(k)} WHERE key >= ? AND key < ? || '\U0010ffff' "
                "ORDER BY key LIMIT ?",
                head,
                head,
                most,
            )
        ]

    # Sources, words and tiles

    def sources(self) -> list[Source]:
        """All sources; those of own records too once one was asked for."""
        return [*super().sources(), *own_sources()] if self._told_of_own else super().sources()

    def source_names(self) -> dict[str, str]:
        """The short name of every source by its key, those of own records too."""
        return super().source_names() | SOURCE_NAMES

    def source(self, key: str) -> Source:
        """The source of this key; NotFound otherwise."""
        return next(s for s in own_sources() if s.key == key) if key in SOURCES else super().source(key)

    def own_hits(self, text: str, kinds: Collection[str] = ()) -> list[dict[str, Any]]:
        """Own records of some kinds, or of all, that hold all words of a text in name, key, colourant or note."""
        shop = self.shop
        if shop is None:
            return []
        words = key_of(text[:200]).split("-")[:20]
        thrice = [text for word in words for text in (word, f"%{word}%", f"%{word}%")]
        rows: list[dict[str, Any]] = []
        for kind in [k for k in NAMED if not kinds or k in kinds]:
            extra = {"glass": "colourant", "metal": "alloy", "leaf": "metal"}[kind]
            # Words are letters and digits alone, so none of them is a pattern.
            each = f"(instr(key, ?) OR note LIKE ? OR ({extra} IS NOT NULL AND {extra} LIKE ?))"
            sql = f"SELECT key, name, note FROM {shop.table(kind)} WHERE {' AND '.join([each] * len(words))}"
            rows += [
                {
                    "key": PREFIX + r["key"],
                    "kind": kind,
                    "title": r["name"],
                    "line": r["note"] or "From your own shelf.",
                }
                for r in shop.rows(f"{sql} ORDER BY name LIMIT ?", *thrice, _MOST_HITS - len(rows))
            ]
        return rows

    def grams_left(self, key: str) -> float | None:
        """What is written down as left of a material [g], or None."""
        shop = self.shop
        row = shop.row("stock", key) if shop is not None else None
        return None if row is None or not self._intact("stock", [row]) else float(row["grams"])

    def observed_firings(self, material_key: str | None = None) -> list[ObservedFiring]:
        """Firings of one glass, or of all with own ones last.

        Those of its class stand in for a jar that has none of the same result and no kiln range of its own.
        """
        if material_key is None:
            own = self._firings("SELECT * FROM firings ORDER BY glass, kiln_c, minutes")
            return [*super().observed_firings(), *own]
        if not material_key.startswith(PREFIX):
            return super().observed_firings(material_key)
        own = self._firings("SELECT * FROM firings WHERE glass = ? ORDER BY kiln_c, minutes", material_key)
        jar = self.shop.row("glass", own_key(material_key)) if self.shop is not None else None
        if jar is None or not jar["like"] or jar["fuse_low_c"] is not None:
            return own
        seen = {f.result for f in own}
        return [
            *own,
            *(replace(f, material=material_key) for f in super().observed_firings(jar["like"]) if f.result not in seen),
        ]

    def _firings(self, sql: str, *values: str) -> list[ObservedFiring]:
        shop = self.shop
        if shop is None:
            return []
        from refdb.store.workshop.records import own_firing

        found = [own_firing(row) for row in self._intact("firing", shop.rows(sql, *values))]
        self._told_of_own |= bool(found)
        return found

    def learnt_from(self, key: str) -> tuple[int, ...]:
        """Numbers of the own tiles that the expansion of a jar was learnt from and kept."""
        row = self.shop.row("glass", own_key(key)) if self.shop is not None and key.startswith(PREFIX) else None
        if row is None or row["expansion_tiles"] is None:
            return ()
        from refdb.store.workshop.cells import numbers_of

        return numbers_of(row["expansion_tiles"])

    def kiln_offset(self) -> KilnOffset | None:
        """How much hotter the person's kiln is than it shows, or None where nothing is written down."""
        shop = self.shop
        row = shop.row("kiln", "kiln") if shop is not None else None
        if row is None or not self._intact("kiln", [row]):
            return None
        from refdb.store.workshop.cells import numbers_of

        low, high = (row["offset_k"] if row[n] is None else row[n] for n in ("offset_low_k", "offset_high_k"))
        return KilnOffset(
            row["offset_k"], low, high, row["basis"], row["date"], numbers_of(row["tiles"]), row["note"] or ""
        )

    def all_tiles(self) -> list[OwnTile]:
        """Every own tile, oldest first."""
        return self._tiles("SELECT * FROM tiles ORDER BY number")

    def tiles(self, glass: str, metal: str) -> list[OwnTile]:
        """Own tiles of a glass on a metal, latest first."""
        return self._tiles(
            "SELECT * FROM tiles WHERE glass = ? AND metal = ? ORDER BY date DESC, number DESC", glass, metal
        )

    def _tiles(self, sql: str, *values: str) -> list[OwnTile]:
        shop = self.shop
        if shop is None:
            return []
        names = tuple(OwnTile.__match_args__)
        return [OwnTile(**{n: row[n] for n in names}) for row in self._intact("tile", shop.rows(sql, *values))]
