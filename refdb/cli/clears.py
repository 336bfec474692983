"""Which clear goes over this leaf: every clear in the whole stack on the metal, ranked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import (
    CsvOption,
    JsonOption,
    complete_glass,
    complete_leaf,
    complete_metal,
    one_form,
    opened,
    typed,
)
from refdb.cli.output import Column, Page, emit_csv, emit_json

if TYPE_CHECKING:
    from refdb.judge.ranking import Ranked

_HEADER = ("place", "tied", "key", "label", "verdict", "confidence", "decided_by", "reason")


def clears(
    leaf: Annotated[str, typer.Argument(autocompletion=complete_leaf, help="Key of a leaf or foil.")],
    on: Annotated[
        str, typer.Option("--on", metavar="METAL", autocompletion=complete_metal, help="Key of the base metal.")
    ],
    under: Annotated[
        str | None,
        typer.Option(
            "--under",
            metavar="GLASS",
            autocompletion=complete_glass,
            help="Glass beneath the leaf, or bare; a hard lead-free clear by default.",
        ),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Rank the clears that can go over a leaf on a metal.

    \b
    Example:
      refdb clears gold-foil-24k --on fine-silver-clay
    """
    from refdb.judge.piece.clear_over_leaf import BARE, METAL_M, OVER_M, UNDER_M, bed_of
    from refdb.judge.piece.clear_over_leaf import clears as ranked_clears

    one_form(as_json, as_csv)
    with opened() as ref:
        the_leaf, metal = ref.leaf(typed(leaf)), ref.metal(typed(on))
        beneath = bed_of(ref, metal, typed(under) if under is not None else None)
        bed, bed_label = (BARE, "") if beneath is None else (beneath.key, beneath.label)
        ranked = ranked_clears(ref, the_leaf.key, metal.key, bed)
    rows = [_row(r) for r in ranked]
    if as_json:
        emit_json({"question": {"leaf": the_leaf.key, "metal": metal.key, "under": bed}, "rows": rows})
        return
    if as_csv:
        emit_csv(rows, _HEADER)
        return
    page = Page()
    lies = f"over {_small(bed_label)}" if bed_label else "laid on the bare metal"
    page.paragraph(f"Clears over {_small(the_leaf.label)} on {_small(metal.label)}, best first")
    page.paragraph(
        f"{METAL_M * 1e3:.2f} mm of metal; the leaf {lies}"
        + (f" ({UNDER_M * 1e3:.2f} mm)" if bed_label else "")
        + f"; {OVER_M * 1e3:.2f} mm of clear above; as much glass on the back. Clears with the same place tie: what "
        "is known of them does not tell them apart."
    )
    columns = [Column("place", right=True), Column("key"), Column("sure"), Column("against it", wraps=True)]
    table = [
        [
            f"{row['place']}{'=' if row['tied'] else ' '}",
            row["key"],
            "-" if row["verdict"] == "cannot say" else _sure(row["confidence"]),
            row["decided_by"] or "nothing of its own",
        ]
        for row in rows
    ]
    page.line()
    widths = page.table_widths(columns, table)
    page.table(columns, [], widths=widths)
    last = None
    for row, cells in zip(rows, table, strict=True):
        if row["verdict"] != last:
            last = row["verdict"]
            page.heading(last)
        page.rows(columns, [cells], widths)
    page.line()
    if ranked:
        _common(page, ranked)
    page.paragraph("Write the whole piece to see its firings: refdb piece new")
    page.show()


def _common(page: Page, ranked: list[Ranked]) -> None:
    """What stands against every clear alike, once."""
    from refdb.judge.piece.clear_over_leaf import against_all

    shared = against_all(ranked)
    if not shared:
        return
    page.heading("Holds for all of them")
    for told in shared:
        page.paragraph(f"{told.title}: {told.why} [{told.source}]", 2, 4)
    page.line()


def _row(ranked: Ranked) -> dict[str, Any]:
    verdict = ranked.verdict
    return {
        "place": ranked.place,
        "tied": ranked.tied,
        "key": ranked.glass.key,
        "label": ranked.glass.label,
        "verdict": verdict.outcome,
        "confidence": round(verdict.confidence, 4),
        "decided_by": ranked.because,
        "reason": verdict.sentence,
    }


def _small(label: str) -> str:
    from refdb.plan.words import small

    return small(label)


def _sure(confidence: float) -> str:
    from refdb.records.printed import sure

    return sure(confidence)
