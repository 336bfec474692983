"""What is wrong with a workshop, in words: damage, records that changed by themselves, and names that lead nowhere."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from refdb.store.workshop.cells import numbers_of
from refdb.store.workshop.checksums import called, changed, changed_past
from refdb.store.workshop.schema import NAMED, NUMBERED, OWN, PREFIX

if TYPE_CHECKING:
    from refdb.store.workshop.connection import WorkshopFile

MOST = 20
_WRONG = {
    "changed": "is not as it was written down",
    "lost": "was written down and is gone",
    "unknown": "was put there by something else than refdb",
}
_WORDS = {"tile": ("tile", "tiles"), "strip": ("strip", "strips"), "firing": ("firing", "firings")}


def findings(shop: WorkshopFile) -> list[str]:
    """What is wrong with the file; nothing when it is sound. At most `MOST` lines of a sort."""
    found = [
        f"integrity check: {r['integrity_check']}"
        for r in shop.rows(f"PRAGMA integrity_check({MOST})")
        if r["integrity_check"] != "ok"
    ]
    tables = {r["name"] for r in shop.rows("SELECT name FROM sqlite_master WHERE type = 'table'")}
    found += [
        f"the table {name} is missing"
        for name in (*(own.table for own in OWN.values()), "past", "sums")
        if name not in tables
    ]
    if found:
        return found
    every = " UNION ALL ".join(f"SELECT key FROM {OWN[k].table}" for k in NAMED)
    found += [
        f"{PREFIX}{r['key']} stands in two lists"
        for r in shop.rows(f"SELECT key FROM ({every}) GROUP BY key HAVING count(*) > 1 LIMIT {MOST}")
    ]
    return found + shop.patiently(lambda: _changed(shop))


def _changed(shop: WorkshopFile) -> list[str]:
    db = shop.connection
    before = db.text_factory
    # A flipped bit may leave what is no text.
    db.text_factory = lambda octets: octets.decode("utf-8", "surrogateescape")
    try:
        found = [
            f"{_seen(called(kind, key))} {_WRONG[why]}" for kind in OWN for key, why in islice(changed(db, kind), MOST)
        ]
        found += [
            f"an earlier state of {_seen(called(kind, key))} is not as it was kept"
            for kind, key in islice(changed_past(db), MOST)
        ]
    finally:
        db.text_factory = before
    return found


def _seen(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")


def loose_ends(shop: WorkshopFile) -> list[str]:
    """Own records that tiles, strips, firings or stock name and that are not there, and tiles that were learnt from.

    That is no damage: tiles may be imported before their jars, and stay where a jar is removed.
    """
    named: dict[tuple[str, str], dict[str, int]] = {}
    for kind in NUMBERED:
        for of in ("glass", "metal"):
            for row in shop.rows(
                f"SELECT {of} AS key, count(*) AS n FROM {OWN[kind].table} WHERE {of} LIKE '{PREFIX}%' AND "
                f"substr({of}, {len(PREFIX) + 1}) NOT IN (SELECT key FROM {OWN[of].table}) GROUP BY 1 LIMIT {MOST}"
            ):
                named.setdefault((of, row["key"]), {})[kind] = row["n"]
    found = [f"no {of} of yours is {key}, which {_counted(counts)} name" for (of, key), counts in named.items()]
    every = " UNION ALL ".join(f"SELECT key FROM {OWN[k].table}" for k in NAMED)
    found += [
        f"nothing of yours is {row['key']}, of which some is in stock"
        for row in shop.rows(
            f"SELECT key FROM stock WHERE key LIKE '{PREFIX}%' AND substr(key, {len(PREFIX) + 1}) NOT IN ({every}) "
            f"ORDER BY key LIMIT {MOST}"
        )
    ]
    return [*found, *_unlearnt(shop)][:MOST]


def _counted(counts: dict[str, int]) -> str:
    return " and ".join(f"{n:,} {_WORDS[kind][n != 1]}" for kind, n in counts.items())


def _unlearnt(shop: WorkshopFile) -> list[str]:
    """Figures that were learnt from tiles which are no longer there."""
    learnt = [
        (f"the expansion of {PREFIX}{r['key']}", r["tiles"])
        for r in shop.rows("SELECT key, expansion_tiles AS tiles FROM glasses WHERE expansion_tiles IS NOT NULL")
    ] + [("the offset of the kiln", r["tiles"]) for r in shop.rows("SELECT tiles FROM kilns WHERE tiles IS NOT NULL")]
    there = {r["number"] for r in shop.rows("SELECT number FROM tiles")} if learnt else set()
    lost = ((what, [n for n in numbers_of(tiles) if n not in there]) for what, tiles in learnt)
    return [f"{what} was learnt from tiles that are gone: {', '.join(map(str, n))}" for what, n in lost if n]
