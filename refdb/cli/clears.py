"""Which clear goes over this leaf: every clear in the whole stack on the metal, ranked."""

from __future__ import annotations

from collections.abc import Sequence
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
from refdb.cli.list_parts import grouped
from refdb.cli.options import Argument, Option
from refdb.cli.output import SCREEN, Column, Page, emit_csv, emit_json
from refdb.frozen import dataclass
from refdb.records.printed import holding
from refdb.words import lower_first, upper_first

if TYPE_CHECKING:
    from refdb.judge.ranking import Ranked, Ranking
    from refdb.judge.wording import Told

_HEADER = ("place", "tied", "key", "label", "verdict", "confidence", "decided_by", "reason")
_COLUMNS = (Column("place", right=True), Column("key"), Column("holds"))
_NOTHING = "nothing"
_TIES = "Clears of one place tie: what is known does not tell them apart."
_PIECE = "The whole piece, firing by firing: refdb piece new"


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
    sizes = (
        f"{METAL_M * 1e3:.2f} mm of metal; the leaf {lies}; {OVER_M * 1e3:.2f} mm of clear above; as much glass on the "
        "back."
    )
    title = f"Clears over {the_leaf.small} on {metal.small}, best first"
    if full:
        _whole_page(title, sizes, names.question, ranked).show()
        return
    lies = f"over {beneath.small}; {OVER_M * 1e3:.2f} mm of each" if beneath is not None else "laid on the bare metal"
    brief = f"{METAL_M * 1e3:.2f} mm of metal; the leaf {lies}."
    _short_page(title, (sizes, brief), names.question, ranked).show()


def _whole_page(title: str, sizes: str, question: dict[str, Any], ranked: Ranking) -> Page:
    """Every clear with what stands against it in full."""
    from refdb.judge.piece.clear_over_leaf import against_all

    page = Page()
    page.paragraph(title)
    tell_taken(page, question)
    page.paragraph(f"{sizes} {_TIES}")
    columns = [*_COLUMNS, Column("against it", wraps=True)]
    table = [[*_cells(r), r.because or _NOTHING] for r in ranked]
    page.line()
    if table:
        grouped(page, columns, zip((r.verdict.outcome for r in ranked), table, strict=True))
    page.line()
    shared = against_all(ranked)
    if shared:
        page.heading("Holds for all of them")
        for told in shared:
            page.paragraph(f"{told.title}: {told.why} [{told.source}]", 2, 4)
        page.line()
    if ranked:
        _care(page, ranked, full=True)
    page.paragraph(_PIECE)
    return page


@dataclass(frozen=True)
class _Most:
    """How much the short page tells: whether ties are explained and names whole, and how many clears and deeds."""

    ties: bool
    names: bool
    clears: int
    deeds: int


def _short_page(title: str, build: tuple[str, str], question: dict[str, Any], ranked: Ranking) -> Page:
    """The ranking on one screen: each clear with what stands against it, named, and below what to do about each."""
    from refdb.judge.piece.clear_over_leaf import against_all, against_each

    page, against, shared, (sizes, brief) = Page(), against_each(ranked), against_all(ranked), build
    every = len(ranked)
    tried = [_Most(ties, names, every, 99) for ties, names in ((True, True), (False, True), (False, False))]
    tried += [_Most(False, False, every, deeds) for deeds in (4, 3, 2, 1)]
    tried += [_Most(False, False, clears, 1) for clears in range(min(every, SCREEN) - 1, 0, -1)]
    for most in tried:
        page = Page()
        page.paragraph(title)
        tell_taken(page, question)
        page.paragraph(f"{sizes} {_TIES}" if most.ties else sizes if most.names else brief)
        _short_rows(page, ranked[: most.clears], against, every - most.clears, whole=most.names)
        _deeds(page, against[: most.clears], shared, most.deeds)
        if ranked:
            _care(page, ranked, full=False)
        page.paragraph(f"{_PIECE}. All of it: --full")
        if len(page.lines) <= SCREEN:
            break
    return page


def _short_rows(
    page: Page, ranked: Sequence[Ranked], against: Sequence[Sequence[Told]], left: int, *, whole: bool
) -> None:
    """The clears under their outcomes, each with the name of what stands against it most."""
    columns = [*_COLUMNS, Column("against it", wraps=True)]
    table = []
    for one, found in zip(ranked, against, strict=False):
        more = f", and {len(found) - 1} more" if len(found) > 1 else ""
        against_it = f"{_name(found[0])}{more}" if found else _NOTHING
        # What a name says after its first comma stands beside the deed below.
        table.append([*_cells(one), against_it if whole else against_it.partition(",")[0]])
    widths = page.table_widths(columns, table)
    if whole:
        page.line()
    page.table(columns, [], widths=widths)
    last = None
    for one, cells in zip(ranked, table, strict=True):
        if one.verdict.outcome != last:
            last = one.verdict.outcome
            page.paragraph(f"{last}:", 0)
        page.rows(columns, [cells], widths)
    if left > 0:
        page.paragraph(f"and {left:,} more", 2)
    if whole:
        page.line()


def _name(told: Told) -> str:
    """What stands against a clear, in few words: the name of a rule, or what a row of the store says."""
    from refdb.judge.rules import RULES

    if isinstance(told.found, str) and told.reason.rule not in RULES:
        return lower_first(told.found.rstrip("."))
    return lower_first(told.rule.title)


def _deeds(page: Page, against: Sequence[Sequence[Told]], shared: Sequence[Told], most: int) -> None:
    """What to do about each thing that stands against some of them, and about what stands against all, once."""
    first = max(1, most - 2)
    for told in shared[:first]:
        page.paragraph(f"For all of them: {lower_first(told.title)}.{_do(told)}", 0, 2)
    if len(shared) > first:
        page.paragraph(f"For all of them too: {'; '.join(lower_first(told.title) for told in shared[first:])}.", 0, 2)
    found = {(_name(told[0]), _do(told[0])): None for told in against if told}
    for name, deed in list(found)[:most]:
        page.paragraph(f"{upper_first(name)}.{deed}", 0, 2)
    if len(found) > most:
        page.paragraph(f"And what to do about {len(found) - most} more.")


def _do(told: Told) -> str:
    return f" Do: {lower_first(told.remedy)}" if told.remedy else ""


def _cells(ranked: Ranked) -> list[str]:
    return [f"{ranked.place}{'=' if ranked.tied else ' '}", ranked.glass.key, holding(ranked.verdict.holds)]


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


def _care(page: Page, ranked: Ranking, *, full: bool) -> None:
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
