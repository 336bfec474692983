"""Glasses ranked on a metal."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from refdb.cli.common import names_in, one_form, say_taken, tell_taken
from refdb.cli.list_parts import NOTHING, grouped, of_family
from refdb.cli.output import Column, Page, emit_csv, emit_json
from refdb.judge.ranking import decided_by

if TYPE_CHECKING:
    from refdb.judge.ranking import Ranked
    from refdb.records import Metal
    from refdb.store.workshop.beside_reference import Shelf

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
    ref: Shelf, metal_text: str, family: str, wanted: Callable[[Any], bool], as_json: bool, as_csv: bool
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
        _page(metal, rows, [r.verdict.holds for r in found], names.question).show()


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


def _page(metal: Metal, rows: list[dict[str, Any]], holds: list[float | None], question: dict[str, Any]) -> Page:
    from refdb.records.printed import holding

    page = Page()
    page.paragraph(f"Glasses on {metal.small}, best first")
    tell_taken(page, question)
    page.paragraph(
        "0.80 mm of metal, 0.30 mm of glass on each face. Glasses with the same place tie: "
        "what is known of them does not tell them apart."
    )
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
        grouped(page, columns, table, [row["verdict"] for row in rows])
    else:
        page.paragraph(NOTHING)
    page.line()
    if any(row["own_tiles"] for row in rows):
        page.paragraph(
            "The places are computed; where a tile of yours says otherwise, trust the tile, and see refdb mine tiles."
        )
    page.paragraph(f"The whole story of one: refdb suits KEY {metal.key}")
    return page


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
