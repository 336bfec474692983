"""Which clear goes over this leaf: every clear in the whole stack on the metal, ranked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import (
    CsvOption,
    JsonOption,
    PoolOption,
    complete_glass,
    complete_leaf,
    complete_metal,
    names_in,
    one_form,
    opened,
    say_taken,
    tell_taken,
    typed,
)
from refdb.cli.options import Argument, Option
from refdb.cli.output import Column, Page, emit_csv, emit_json
from refdb.records.printed import holding
from refdb.words import lower_first

if TYPE_CHECKING:
    from refdb.judge.ranking import Ranked, Ranking

_HEADER = ("place", "tied", "key", "label", "verdict", "confidence", "decided_by", "reason")


def clears(
    leaf: Annotated[
        list[str], Argument(metavar="LEAF...", autocompletion=complete_leaf, help="A leaf or foil, by name or key.")
    ],
    on: Annotated[str, Option("--on", metavar="METAL", autocompletion=complete_metal, help="The base metal.")],
    under: Annotated[
        str | None,
        Option(
            "--under",
            metavar="GLASS",
            autocompletion=complete_glass,
            help="Glass beneath the leaf, or bare; a hard lead-free clear by default.",
        ),
    ] = None,
    full: Annotated[bool, Option("--full", help="Every reason in full.")] = False,
    pool: PoolOption = None,
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
    with opened(pool=pool) as ref:
        names = names_in(ref)
        the_leaf, metal = names.leaf(typed(" ".join(leaf))), names.metal(typed(on))
        beneath = bed_of(ref, metal, typed(under) if under is not None else None, names)
        bed = BARE if beneath is None else beneath.key
        ranked = ranked_clears(ref, the_leaf.key, metal.key, bed)
    rows = [_row(r) for r in ranked]
    if as_json:
        question = {"leaf": the_leaf.key, "metal": metal.key, "under": bed, **names.question}
        emit_json({"question": question, "rows": rows})
        return
    if as_csv:
        emit_csv(rows, _HEADER)
        say_taken(names)
        return
    lies = f"over {beneath.small} ({UNDER_M * 1e3:.2f} mm)" if beneath is not None else "laid on the bare metal"
    page = Page()
    page.paragraph(f"Clears over {the_leaf.small} on {metal.small}, best first")
    tell_taken(page, names.question)
    page.paragraph(
        f"{METAL_M * 1e3:.2f} mm of metal; the leaf {lies}; {OVER_M * 1e3:.2f} mm of clear above; as much glass on the "
        "back. Clears of one place tie: what is known does not tell them apart."
    )
    _ranking(page, ranked, full)
    if ranked:
        _common(page, ranked, full)
        _care(page, ranked, full)
    page.paragraph("The whole piece, firing by firing: refdb piece new" + ("" if full else ". All of it: --full"))
    page.show()


def _ranking(page: Page, ranked: Ranking, full: bool) -> None:
    """A table of the clears under their outcomes; in short, what stands against one is cut at the line's end."""
    columns = [Column("place", right=True), Column("key"), Column("holds"), Column("against it", wraps=full)]
    table = [
        [f"{r.place}{'=' if r.tied else ' '}", r.glass.key, holding(r.verdict.holds), r.because or "nothing of its own"]
        for r in ranked
    ]
    widths = page.table_widths(columns, table)
    if not full:
        room = page.width - 2 - sum(widths[:3]) - 6
        table = [[*row[:3], row[3] if len(row[3]) <= room else f"{row[3][: room - 3].rstrip()}..."] for row in table]
        widths[3] = room
    page.line()
    page.table(columns, [], widths=widths)
    last = None
    for one, cells in zip(ranked, table, strict=True):
        if one.verdict.outcome != last:
            last = one.verdict.outcome
            page.heading(last) if full else page.paragraph(f"{last}:", 0)
        page.rows(columns, [cells], widths)
    page.line()


def _common(page: Page, ranked: Ranking, full: bool) -> None:
    """What stands against every clear alike, once."""
    from refdb.judge.piece.clear_over_leaf import against_all

    shared = against_all(ranked)
    if not full and shared:
        page.paragraph(f"For all of them: {'; '.join(lower_first(told.title) for told in shared)}.", 0, 2)
    elif shared:
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


def _care(page: Page, ranked: Ranking, full: bool) -> None:
    """What can hurt someone: with clears that have it of their own, and with all of them."""
    from refdb.judge.ranking import cautions_of

    short = []
    for glasses, cautions in cautions_of(ranked):
        with_ = f"with {', '.join(glass.key for glass in glasses) or 'all of them'}"
        if full:
            page.heading(f"Cautions {with_}")
            for caution in cautions:
                page.paragraph(f"{caution.text} [{caution.source}]", 2, 4)
            page.line()
        more = f", and {len(cautions) - 1} more" if len(cautions) > 1 else ""
        short.append(f"{with_}: {lower_first(cautions[0].name)}{more}")
    if not full:
        page.paragraph(f"Take care {'; '.join(short)}.", 0, 2)
