"""The lists: metals, glasses (ranked on a metal where asked) and leaf."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import (
    AllOption,
    CsvOption,
    FamilyOption,
    FullOption,
    JsonOption,
    PoolOption,
    Units,
    UnitsOption,
    chosen_from,
    complete_metal,
    one_form,
    opened,
    typed,
)
from refdb.cli.list_parts import NOTHING, chosen_family, grouped
from refdb.cli.options import Option
from refdb.cli.output import SCREEN, Column, Page, emit_csv_of, emit_json_rows
from refdb.frozen import dataclass
from refdb.store.reference import Reference

if TYPE_CHECKING:
    from refdb.records import Glass, Leaf, Material, Metal, Property
    from refdb.store.workshop.beside_reference import Shelf


@dataclass(frozen=True)
class _Listing:
    """What a list shows of a kind: the view behind JSON and CSV, the columns, the cells of a record, and a note."""

    kind: str
    view: str
    columns: list[Column]
    cells: Callable[[Any], list[str]]
    note: str


def metals(
    family: FamilyOption = "",
    form: Annotated[str, Option("--form", metavar="FORM", help="Only this form: sheet, clay or cast.")] = "",
    units: UnitsOption = "metric",
    show_all: AllOption = False,
    full: FullOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the base metals and metal clays.

    \b
    Example:
      refdb metals --family copper
    """
    if form:
        from refdb.store.schema import TABLE

        form = chosen_from(form, TABLE["metal_details"].column("form").choices, "--form")

    def wanted(record: Any) -> bool:
        return not form or record.form == form

    with opened(_whole(show_all, as_json or as_csv)) as ref:
        _listed(ref, _metal_listing(_Shown(ref, units)), family, wanted, as_json, as_csv, full)


def glasses(
    on: Annotated[
        str | None,
        Option(
            "--on",
            metavar="METAL",
            autocompletion=complete_metal,
            help="Rank them on this metal, 0.8 mm with 0.3 mm of glass on each face.",
        ),
    ] = None,
    family: FamilyOption = "",
    lead_free: Annotated[bool, Option("--lead-free", help="Only those known to be free of lead.")] = False,
    hardness: Annotated[
        str, Option("--hardness", metavar="CLASS", help="Only this class: soft, medium, hard, very-hard or unknown.")
    ] = "",
    units: UnitsOption = "metric",
    show_all: AllOption = False,
    full: FullOption = False,
    pool: PoolOption = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the classes of glass, or rank them on a metal.

    \b
    Example:
      refdb glasses --on copper-sheet --lead-free
    """
    if hardness:
        from refdb.store.schema import TABLE

        hardness = chosen_from(hardness, TABLE["glass_details"].column("hardness").choices, "--hardness")

    def wanted(record: Any) -> bool:
        return (not lead_free or record.lead == "free") and (not hardness or record.hardness == hardness)

    # In a ranking each own jar is judged, so all of a long shelf are only where that is said.
    with opened(show_all if on is not None else _whole(show_all, as_json or as_csv), pool=pool) as ref:
        if on is not None:
            from refdb.cli.ranking import ranked

            ranked(ref, typed(on), family, wanted, as_json, as_csv, full)
            return
        _listed(ref, _glass_listing(_Shown(ref, units)), family, wanted, as_json, as_csv, full)


def leaf(
    family: FamilyOption = "",
    units: UnitsOption = "metric",
    show_all: AllOption = False,
    full: FullOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the leaf and foil, and whether each can be fired.

    \b
    Example:
      refdb leaf --family "silver foil and leaf"
    """
    with opened(_whole(show_all, as_json or as_csv)) as ref:
        _listed(ref, _leaf_listing(_Shown(ref, units)), family, lambda record: True, as_json, as_csv, full)


def _whole(show_all: bool, for_programs: bool) -> bool:
    """Whether a list holds all own records: where that is asked for, for programs, and into a pipe or file."""
    return show_all or for_programs or not _on_screen()


def _on_screen() -> bool:
    return sys.stdout is not None and sys.stdout.isatty()


def _metal_listing(shown: _Shown) -> _Listing:
    def cells(metal: Metal) -> list[str]:
        figures = (shown(metal, name) for name in ("expansion", "solidus", "least_thickness"))
        return [metal.key, metal.form, *figures]

    columns = [
        Column("key"),
        Column("form"),
        Column("expansion\nppm/K", right=True),
        Column(f"melts from\n{shown.unit('solidus')}", right=True),
        Column("least\nmm", right=True),
    ]
    note = (
        "Expansion is the mean over the span that `refdb show KEY` gives; least is the least thickness after firing "
        "for an enamel base."
    )
    return _Listing("metal", "metals", columns, cells, note)


def _glass_listing(shown: _Shown) -> _Listing:
    def cells(glass: Glass) -> list[str]:
        return [glass.key, glass.hardness, glass.lead, shown(glass, "expansion"), shown.setting(glass)]

    columns = [
        Column("key"),
        Column("hardness"),
        Column("lead"),
        Column("expansion\nppm/K", right=True),
        Column(f"kiln setting\n{shown.unit('fuse_low')}", right=True),
    ]
    note = (
        "Ranges are those of the class: `refdb show KEY` tells what each rests on, and a maker's own figure is always "
        "better."
    )
    return _Listing("glass", "glasses", columns, cells, note)


def _leaf_listing(shown: _Shown) -> _Listing:
    def cells(leaf: Leaf) -> list[str]:
        return [leaf.key, leaf.form, leaf.metal, shown(leaf, "leaf_thickness"), leaf.suited]

    columns = [
        Column("key"),
        Column("form"),
        Column("metal"),
        Column("thickness\nµm", right=True),
        Column("in the fire"),
    ]
    return _Listing("leaf", "leaf", columns, cells, "`refdb show KEY` tells why, and how to handle it.")


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


def _listed(
    ref: Shelf, listing: _Listing, family: str, wanted: Callable[[Any], bool], as_json: bool, as_csv: bool, full: bool
) -> None:
    """Print the records of a family that are wanted, one after another, however many are the person's own.

    On a screen that they do not fit, they stand by name, unless `full`.
    """
    one_form(as_json, as_csv)
    chosen = chosen_family(family, (record.family for record in ref.each(listing.kind)))

    def is_meant(record: Any) -> bool:
        return chosen in ("", record.family) and wanted(record)

    if as_json or as_csv:
        rows = (row for record, row in ref.each_summary(listing.kind) if is_meant(record))
        if as_json:
            emit_json_rows(rows)
        else:
            columns = Reference.summaries(ref, listing.view)[:1]
            emit_csv_of(rows, list(columns[0]) if columns else ["key"])
        return
    page, is_long = Page(), ref.is_long(listing.kind)
    by_name = not full and _on_screen()
    # A long list is read once for the widths and once more to print.
    held = None if is_long else [r for r in ref.each(listing.kind) if is_meant(r)]

    def records() -> Iterator[Any]:
        return iter(held) if held is not None else filter(is_meant, ref.each(listing.kind))

    def cells() -> Iterator[tuple[str, list[str]]]:
        return ((record.family, listing.cells(record)) for record in records())

    if next(records(), None) is None:
        page.paragraph(NOTHING)
    elif not (is_long and by_name):
        widths = page.table_widths(listing.columns, (row for _, row in cells())) if is_long else None
        grouped(page, listing.columns, cells(), widths, is_long)
        page.line()
        page.paragraph(listing.note)
    if by_name and (len(page.lines) > SCREEN or (is_long and not page.lines)):
        page = _by_name([(record.family, record.key) for record in records()])
    page.show()


def _by_name(records: list[tuple[str, str]]) -> Page:
    """The keys of each family, as many as fit one screen."""
    families: dict[str, list[str]] = {}
    for family, key in records:
        families.setdefault(family, []).append(key)
    page = Page()
    for most in (len(records), 24, 12, 6, 4, 3, 2, 1):
        page = Page()
        for family, keys in families.items():
            more = f", and {len(keys) - most:,} more" if len(keys) > most else ""
            page.paragraph(f"{family}: {', '.join(keys[:most])}{more}", 0, 2)
        page.line()
        page.paragraph("With figures: --family NAME, or --full for all; refdb show KEY tells one.")
        if len(page.lines) <= SCREEN:
            break
    return page
