"""Glasses ranked on a metal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from refdb.cli.common import names_in, one_form, say_taken, tell_taken
from refdb.cli.list_parts import NOTHING, grouped, of_family
from refdb.cli.output import SCREEN, Column, Page, emit_csv, emit_json
from refdb.judge.ranking import decided_by
from refdb.judge.verdict import SUITS
from refdb.store.workshop.keys import PREFIX

if TYPE_CHECKING:
    from refdb.judge.ranking import Ranked
    from refdb.records import Metal
    from refdb.store.workshop.beside_reference import Shelf

#: So many keys stand under a reason where not all have room.
_SOME = 2
_HEADER = [
    "place",
    "tied",
    "key",
    "label",
    "verdict",
    "confidence",
    "gap_ppm",
    "gap_low_ppm",
    "gap_high_ppm",
    "decided_by",
    "reason",
    "own_tiles",
]


def ranked(
    ref: Shelf, metal_text: str, family: str, wanted: Callable[[Any], bool], as_json: bool, as_csv: bool, full: bool
) -> None:
    """Print the glasses of a family that are wanted, best first on a metal.

    Raises
    ------
    BadInput, NotFound
        No glass is of the family; there is no such metal.
    """
    from refdb.judge.fit.glass_on_metal import rank

    one_form(as_json, as_csv)
    names = names_in(ref)
    metal = names.metal(metal_text, instead="glasses are ranked on 0.8 mm; refdb builds takes a thickness")
    kept = {g.key for g in of_family(ref.materials("glass"), family) if wanted(g)}
    tiles = _own_tiles(ref, metal.key)
    found = [r for r in rank(ref, metal.key) if r.glass.key in kept]
    rows = [_row(r, tiles.get(r.glass.key, "")) for r in found]
    if as_json:
        emit_json({"question": {"metal": metal.key, **names.question}, "rows": rows})
    elif as_csv:
        emit_csv(rows, _HEADER)
        say_taken(names)
    else:
        page = _whole_page(metal, rows, [r.verdict.holds for r in found], names.question)
        (page if full or len(page.lines) <= SCREEN else _short_page(metal, rows, names.question)).show()


def _row(found: Ranked, own_tiles: str) -> dict[str, Any]:
    """A row of JSON and CSV; figures in ppm, None where none was reckoned."""
    gap = found.verdict.measures.get("gap_ppm")
    values = (
        found.place,
        found.tied,
        found.glass.key,
        found.glass.label,
        found.verdict.outcome,
        round(found.verdict.confidence, 4),
        gap and round(gap.value),
        gap and round(gap.low),
        gap and round(gap.high),
        decided_by(found.verdict),
        found.verdict.sentence,
        own_tiles,
    )
    return dict(zip(_HEADER, values, strict=True))


def _begun(metal: Metal, question: dict[str, Any], *, ties: bool = True) -> Page:
    page = Page()
    page.paragraph(f"Glasses on {metal.small}, best first")
    tell_taken(page, question)
    told = "Glasses with the same place tie: what is known of them does not tell them apart."
    page.paragraph(f"0.80 mm of metal, 0.30 mm of glass on each face. {told if ties else ''}")
    return page


def _ended(page: Page, metal: Metal, rows: Sequence[dict[str, Any]], more: str = "") -> Page:
    if any(row["own_tiles"] for row in rows):
        page.paragraph(
            "The places are computed; where a tile of yours says otherwise, trust the tile, and see refdb mine tiles."
        )
    page.paragraph(f"The whole story of one: refdb suits KEY {metal.key}{more}")
    return page


def _short_page(metal: Metal, rows: Sequence[dict[str, Any]], question: dict[str, Any]) -> Page:
    """The ranking on one screen: the glasses of a place in a line, with what stands against them.

    Where that does not fit, the glasses of the last outcomes stand by what is against them, then in number alone.
    """
    held: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        held.setdefault(row["verdict"], []).append(row)
    tellings = [_by_place] * len(held)
    tried = [(list(tellings), len(rows))]
    # The places of what holds go before the names of what wants care, and those after all that does not hold.
    steps = [(n, way) for n in range(len(held) - 1, 1, -1) for way in (_by_reason, _some_by_reason, _in_number)]
    steps += [(1, _by_reason), (0, _by_reason), (1, _some_by_reason), (1, _in_number)]
    for number, way in steps:
        if number < len(held):
            tellings[number] = way
            tried.append((list(tellings), len(rows)))
    tried += [(tellings, most) for most in (60, 40, 30, 20, 10, 5, 2)]
    for ways, most in tried:
        page = _begun(metal, question, ties=_by_place in ways)
        page.line()
        for (outcome, some), way in zip(held.items(), ways, strict=True):
            page.paragraph(f"{outcome} ({len(some):,})")
            way(page, some[:most])
            if len(some) > most and way is not _in_number:
                page.paragraph(f"and {len(some) - most:,} more", 2)
        _ended(page, metal, rows, ". All of it: --full")
        if len(page.lines) <= SCREEN:
            break
    return page


def _by_place(page: Page, rows: Sequence[dict[str, Any]]) -> None:
    """The keys of each place, those that the same stands against in one line."""
    lines: dict[tuple[int, bool, str], list[str]] = {}
    for row in rows:
        lines.setdefault((row["place"], row["tied"], _against(row)), []).append(row["key"])
    for (place, tied, reason), keys in lines.items():
        words = ", ".join(keys) + (f": {reason}" if reason else "")
        page.paragraph(words, 2, 8, f"{f'{place}=' if tied else place:>3}  ")


def _by_reason(page: Page, rows: Sequence[dict[str, Any]]) -> None:
    """The keys under what stands against them, the best first."""
    for reason, keys in _reasons(rows).items():
        page.paragraph(f"{reason}: {', '.join(keys)}" if reason else ", ".join(keys), 2, 4)


def _some_by_reason(page: Page, rows: Sequence[dict[str, Any]]) -> None:
    """The first keys under what stands against them."""
    for reason, keys in _reasons(rows).items():
        more = f", and {len(keys) - _SOME} more" if len(keys) > _SOME else ""
        page.paragraph(
            f"{reason}: {', '.join(keys[:_SOME])}{more}" if reason else f"{', '.join(keys[:_SOME])}{more}", 2, 4
        )


def _in_number(page: Page, rows: Sequence[dict[str, Any]]) -> None:
    """What stands against how many."""
    told = []
    for reason, keys in _reasons(rows).items():
        own = ", ".join(key for key in keys[:_SOME] if key.startswith(PREFIX))
        told.append(f"{reason} ({len(keys)}{f': {own}' if own else ''})")
    page.paragraph("; ".join(told), 2, 4)


def _reasons(rows: Sequence[dict[str, Any]]) -> dict[str, list[str]]:
    """The keys under what stands against them, the person's own first, for they are what lies at hand."""
    found: dict[str, list[str]] = {}
    for row in rows:
        found.setdefault(_against(row), []).append(row["key"])
    return {reason: sorted(keys, key=lambda key: not key.startswith(PREFIX)) for reason, keys in found.items()}


def _against(row: dict[str, Any]) -> str:
    """What decided against a glass, and what own tiles of it came out as; empty where nothing did."""
    decided = "" if row["verdict"] == SUITS else row["decided_by"]
    tile = f"your tile {row['own_tiles']}" if row["own_tiles"] else ""
    return "; ".join(x for x in (decided, tile) if x)


def _whole_page(metal: Metal, rows: list[dict[str, Any]], holds: list[float | None], question: dict[str, Any]) -> Page:
    """The ranking as a table: in how many draws each holds, the gap, and what decided."""
    from refdb.records.printed import holding

    page = _begun(metal, question)
    columns = [
        Column("place", right=True),
        Column("key"),
        Column("holds"),
        Column("gap, ppm", right=True),
        Column("decided by", wraps=True),
    ]
    table = [
        [
            f"{row['place']}{'=' if row['tied'] else ' '}",
            row["key"],
            holding(share),
            "-" if row["gap_ppm"] is None else f"{row['gap_ppm']:,}",
            f"{row['decided_by']}; your tile {row['own_tiles']}" if row["own_tiles"] else row["decided_by"],
        ]
        for row, share in zip(rows, holds, strict=True)
    ]
    page.line()
    if rows:
        grouped(page, columns, zip((row["verdict"] for row in rows), table, strict=True))
    else:
        page.paragraph(NOTHING)
    page.line()
    return _ended(page, metal, rows)


def _own_tiles(ref: Shelf, metal: str) -> dict[str, str]:
    """What own tiles on a metal came out as, by glass; words of all that failed, or sound."""
    from refdb.store.workshop.schema import TILE_OUTCOMES

    seen: dict[str, set[str]] = {}
    for tile in ref.all_tiles():
        if tile.metal == metal:
            seen.setdefault(tile.glass, set()).update(w.strip() for w in tile.outcome.split(";"))
    return {
        glass: ", ".join(w for w in TILE_OUTCOMES if w in words and (w != "sound" or words == {"sound"}))
        for glass, words in seen.items()
    }
