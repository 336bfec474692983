"""The lists: metals, glasses (ranked on a metal where asked) and leaf."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import (
    AllOption,
    CsvOption,
    FamilyOption,
    JsonOption,
    Units,
    UnitsOption,
    chosen_from,
    complete_metal,
    one_form,
    opened,
    typed,
)
from refdb.cli.output import Column, Page, emit_csv, emit_json
from refdb.words import lower_first

if TYPE_CHECKING:
    from refdb.judge.verdict import Verdict
    from refdb.records import Glass, Leaf, Material, Metal, Property
    from refdb.store.reference import Reference
    from refdb.store.workshop.beside_reference import Shelf


def metals(
    family: FamilyOption = "",
    form: Annotated[str, typer.Option("--form", metavar="FORM", help="Only this form: sheet, clay or cast.")] = "",
    units: UnitsOption = "metric",
    show_all: AllOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the base metals and metal clays.

    \b
    Example:
      refdb metals --family copper
    """
    from refdb.store.schema import TABLE

    if form:
        form = chosen_from(form, TABLE["metal_details"].column("form").choices, "--form")

    def wanted(record: Any) -> bool:
        return not form or record.form == form

    with opened(_whole(show_all, as_json or as_csv)) as ref:
        shown = _Shown(ref, units)

        def cells(record: Any) -> list[str]:
            metal: Metal = record
            return [
                metal.key,
                metal.form,
                shown(metal, "expansion"),
                shown(metal, "solidus"),
                shown(metal, "least_thickness"),
            ]

        columns = [
            Column("key"),
            Column("form"),
            Column("expansion\nppm/K", right=True),
            Column(f"melts from\n{shown.unit('solidus')}", right=True),
            Column("least\nmm", right=True),
        ]
        _listed(
            ref,
            "metal",
            "metals",
            family,
            wanted,
            columns,
            cells,
            as_json,
            as_csv,
            "Expansion is the mean over the span that `refdb show KEY` gives; least is the least "
            "thickness after firing for an enamel base.",
        )


def glasses(
    on: Annotated[
        str | None,
        typer.Option(
            "--on",
            metavar="METAL",
            autocompletion=complete_metal,
            help="Rank them on this metal, 0.8 mm with 0.3 mm of glass on each face.",
        ),
    ] = None,
    family: FamilyOption = "",
    lead_free: Annotated[bool, typer.Option("--lead-free", help="Only those known to be free of lead.")] = False,
    hardness: Annotated[
        str,
        typer.Option("--hardness", metavar="CLASS", help="Only this class: soft, medium, hard, very-hard or unknown."),
    ] = "",
    units: UnitsOption = "metric",
    show_all: AllOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the classes of glass, or rank them on a metal.

    \b
    Example:
      refdb glasses --on copper-sheet --lead-free
    """
    from refdb.store.schema import TABLE

    if hardness:
        hardness = chosen_from(hardness, TABLE["glass_details"].column("hardness").choices, "--hardness")

    def wanted(record: Any) -> bool:
        return (not lead_free or record.lead == "free") and (not hardness or record.hardness == hardness)

    # In a ranking each own jar is judged, so all of a long shelf are only where that is said.
    with opened(show_all if on is not None else _whole(show_all, as_json or as_csv)) as ref:
        if on is not None:
            _ranked(ref, typed(on), family, wanted, as_json, as_csv)
            return
        shown = _Shown(ref, units)

        def cells(record: Any) -> list[str]:
            glass: Glass = record
            return [glass.key, glass.hardness, glass.lead, shown(glass, "expansion"), shown.setting(glass)]

        columns = [
            Column("key"),
            Column("hardness"),
            Column("lead"),
            Column("expansion\nppm/K", right=True),
            Column(f"kiln setting\n{shown.unit('fuse_low')}", right=True),
        ]
        _listed(
            ref,
            "glass",
            "glasses",
            family,
            wanted,
            columns,
            cells,
            as_json,
            as_csv,
            "Ranges are those of the class: `refdb show KEY` tells what each rests on, and a maker's "
            "own figure is always better.",
        )


def leaf(
    family: FamilyOption = "",
    units: UnitsOption = "metric",
    show_all: AllOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the leaf and foil, and whether each can be fired.

    \b
    Example:
      refdb leaf --family "silver foil and leaf"
    """
    with opened(_whole(show_all, as_json or as_csv)) as ref:
        shown = _Shown(ref, units)

        def cells(record: Any) -> list[str]:
            found: Leaf = record
            return [found.key, found.form, found.metal, shown(found, "leaf_thickness"), found.suited]

        columns = [
            Column("key"),
            Column("form"),
            Column("metal"),
            Column("thickness\nµm", right=True),
            Column("in the fire"),
        ]
        _listed(
            ref,
            "leaf",
            "leaf",
            family,
            lambda record: True,
            columns,
            cells,
            as_json,
            as_csv,
            "`refdb show KEY` tells why, and how to handle it.",
        )


def _whole(show_all: bool, for_programs: bool) -> bool:
    """Whether a list holds all own records: where that is asked for, for programs, and into a pipe or file."""
    return show_all or for_programs or sys.stdout is None or not sys.stdout.isatty()


class _Shown:
    """Cells with the range of a property."""

    def __init__(self, ref: Reference, units: Units) -> None:
        self.properties: dict[str, Property] = {p.key: p for p in ref.properties()}
        self.units = units

    def unit(self, key: str) -> str:
        from refdb.records.printed import unit_of

        return unit_of(self.properties[key], self.units) if key in self.properties else ""

    def __call__(self, record: Material, key: str) -> str:
        from refdb.records.printed import short_range

        prop, row = self.properties.get(key), record.value(key)
        if prop is None or row is None:
            return "-"
        if key == "expansion":
            low, high = f"{row.band.low:.1f}", f"{row.band.high:.1f}"
            return low if low == high else f"{low}-{high}"
        return short_range(row, prop, self.units)

    def setting(self, glass: Glass) -> str:
        from refdb.records.printed import number_of

        low, high = glass.value("fuse_low"), glass.value("fuse_high")
        if low is None or high is None:
            return "-"
        return "-".join(number_of(v.band.value, self.properties[v.property], self.units) for v in (low, high))


def _of_family(records: Sequence[Any], family: str, option: str = "--family") -> list[Any]:
    if not family:
        return list(records)
    wanted = chosen_from(family, sorted({r.family for r in records}), option)
    return [r for r in records if r.family == wanted]


def _listed(
    ref: Reference,
    kind: str,
    view: str,
    family: str,
    wanted: Callable[[Any], bool],
    columns: list[Column],
    cells: Callable[[Any], list[str]],
    as_json: bool,
    as_csv: bool,
    note: str,
) -> None:
    one_form(as_json, as_csv)
    records = [r for r in _of_family(ref.materials(kind), family) if wanted(r)]
    if as_json or as_csv:
        keys = {r.key for r in records}
        every = ref.summaries(view)
        rows = [row for row in every if row["key"] in keys]
        if as_json:
            emit_json({"rows": rows})
        else:
            emit_csv(rows, list(every[0]) if every else ["key"])
        return
    page = Page()
    table = [cells(r) for r in records]
    if not table:
        page.paragraph("Nothing in the store is all that was asked for.")
    else:
        _grouped(page, columns, table, [r.family for r in records])
        page.line()
        page.paragraph(note)
    page.show()


def _grouped(page: Page, columns: list[Column], table: list[list[str]], headings: list[str]) -> None:
    """A table whose rows stand under headings, the heads of its columns once at the top."""
    widths = page.table_widths(columns, table)
    page.table(columns, [], widths=widths)
    last = None
    for heading, row in zip(headings, table, strict=True):
        if heading != last:
            page.heading(heading)
            last = heading
        page.rows(columns, [row], widths)


def _ranked(
    ref: Shelf, metal_key: str, family: str, wanted: Callable[[Any], bool], as_json: bool, as_csv: bool
) -> None:
    from refdb.judge.fit.glass_on_metal import rank
    from refdb.records.printed import sure

    one_form(as_json, as_csv)
    metal = ref.metal(metal_key)
    kept = {g.key for g in _of_family(ref.materials("glass"), family) if wanted(g)}
    ranked = [r for r in rank(ref, metal.key) if r.glass.key in kept]
    broken = _own_tiles(ref, metal.key)
    rows: list[dict[str, Any]] = []
    for r in ranked:
        gap = r.verdict.measures.get("gap_ppm")
        rows.append(
            {
                "place": r.place,
                "tied": r.tied,
                "key": r.glass.key,
                "label": r.glass.label,
                "verdict": r.verdict.outcome,
                "confidence": round(r.verdict.confidence, 4),
                "gap_ppm": gap and round(gap.value),
                "gap_low_ppm": gap and round(gap.low),
                "gap_high_ppm": gap and round(gap.high),
                "decided_by": _decided_by(r.verdict),
                "reason": r.verdict.sentence,
                "own_tiles": broken.get(r.glass.key, ""),
            }
        )
    if as_json:
        emit_json({"question": {"metal": metal.key}, "rows": rows})
        return
    if as_csv:
        header = [
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
        emit_csv(rows, header)
        return
    page = Page()
    page.paragraph(f"Glasses on {lower_first(metal.label)}, best first")
    page.paragraph(
        "0.80 mm of metal, 0.30 mm of glass on each face. Glasses with the same place tie: "
        "what is known of them does not tell them apart."
    )
    columns = [
        Column("place", right=True),
        Column("key"),
        Column("sure"),
        Column("gap, ppm", right=True),
        Column("decided by", wraps=True),
    ]
    table = [
        [
            f"{row['place']}{'=' if row['tied'] else ' '}",
            row["key"],
            "-" if row["verdict"] == "cannot say" else sure(row["confidence"]),
            "-" if row["gap_ppm"] is None else f"{row['gap_ppm']:,}",
            f"{row['decided_by']}; your tile {row['own_tiles']}" if row["own_tiles"] else row["decided_by"],
        ]
        for row in rows
    ]
    page.line()
    if rows:
        _grouped(page, columns, table, [row["verdict"] for row in rows])
    else:
        page.paragraph("Nothing in the store is all that was asked for.")
    page.line()
    if any(row["own_tiles"] for row in rows):
        page.paragraph(
            "The places are computed; where a tile of yours says otherwise, trust the tile, and see refdb mine tiles."
        )
    page.paragraph(f"The whole story of one: refdb suits KEY {metal.key}")
    page.show()


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


def _decided_by(verdict: Verdict) -> str:
    if verdict.missing and verdict.outcome == "cannot say":
        return "not known: " + verdict.missing[0].partition(" (")[0]
    if verdict.outcome == "suits":
        return "nothing against it"
    worst = next((t for t in verdict.told if t.outcome == verdict.outcome), None)
    return (worst or verdict.told[0]).title.lower() if verdict.reasons else ""
