"""One record in full: every figure from every source, what rules name it, and what is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import JsonOption, Units, UnitsOption, complete_material, opened, typed
from refdb.cli.output import Column, Page, emit_json
from refdb.errors import NotFound

if TYPE_CHECKING:
    from refdb.records import FitRule, Material, Metal, Property, PropertyValue
    from refdb.store.reference import Reference

#: What a record of each kind should have; what of it is missing is said.
EXPECTED = {
    "metal": (
        "expansion",
        "youngs_modulus",
        "poisson_ratio",
        "density",
        "solidus",
        "flow_stress",
        "hardening",
        "flow_ratio_500c",
        "least_thickness",
    ),
    "glass": (
        "expansion",
        "set_point",
        "youngs_modulus",
        "poisson_ratio",
        "density",
        "fuse_low",
        "fuse_high",
    ),
    "leaf": ("solidus", "leaf_thickness"),
}
EXPECTED_OF_CLAY = ("shrinkage", "relative_density")
_KIND = {"metal": "base metal", "glass": "glass", "leaf": "leaf or foil"}
#: Tables whose rows can be shown by their key, besides materials and sources.
KEYED = ("practice_rules", "hazards", "fit_rules", "solders", "firing_phases", "exposure_limits")
_STEP_C = 100


def show(
    key: Annotated[
        str, typer.Argument(autocompletion=complete_material, help="A key that a list or `refdb find` gives.")
    ],
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """Show all that is known of one record.

    Every figure stands with its source; rival figures stand side by side.

    \b
    Example:
      refdb show copper-sheet
    """
    wanted = typed(key)
    with opened() as ref:
        try:
            record = ref.material(wanted)
        except NotFound:
            if not _shown_otherwise(ref, wanted.strip(), as_json):
                raise
            return
        if as_json:
            emit_json(_as_dict(ref, record))
        else:
            _page(ref, record, units).show()


def details_of(record: Material) -> dict[str, str]:
    """What is known of a record besides figures: the columns of its own table."""
    from refdb.store.schema import TABLE

    table = TABLE[f"{_kind(record)}_details"]
    return {
        c.name: str(getattr(record, c.name)) for c in table.columns if c.name not in ("material", "source")
    }


def _kind(record: Material) -> str:
    return str(getattr(record, "kind"))  # noqa: B009 - a class attribute of each kind, which the base does not have


def not_known(ref: Reference, record: Material) -> list[str]:
    """Labels of the properties that a record of this kind should have and does not."""
    wanted = EXPECTED[_kind(record)]
    if getattr(record, "form", "") == "clay":
        wanted += EXPECTED_OF_CLAY
    labels = {p.key: p.label for p in ref.properties()}
    gone = [labels.get(name, name.replace("_", " ")) for name in wanted if record.value(name) is None]
    if _kind(record) == "metal" and len(getattr(record, "points", ())) < 2:
        gone.append("expansion curve")
    return gone


def rules_naming(ref: Reference, record: Material) -> list[FitRule]:
    """Rules of surface and use that pick this glass or metal out, not those that hold for any."""
    from refdb.judge.selectors import matches
    from refdb.records import Glass, Metal

    if isinstance(record, Glass):
        return [r for r in ref.fit_rules() if r.glass != "any" and matches(r.glass, record)]
    if isinstance(record, Metal):
        return [r for r in ref.fit_rules() if r.metal != "any" and matches(r.metal, record)]
    return []


def _as_dict(ref: Reference, record: Material) -> dict[str, Any]:
    values = [{name: getattr(v, name) for name in v.__dataclass_fields__} for v in record.values]
    rules = rules_naming(ref, record)
    used = {record.source, *(v.source for v in record.values), *(r.source for r in rules)}
    body: dict[str, Any] = {
        "kind": _kind(record),
        "key": record.key,
        "label": record.label,
        "family": record.family,
        "summary": record.summary,
        "details": details_of(record),
        "source": record.source,
        "units": {p.key: p.unit for p in ref.properties()},
        "values": values,
    }
    points = getattr(record, "points", ())
    if points:
        body["expansion_points"] = [{"temp_c": t, "strain_ppm": s} for t, s in points]
    body["rules"] = [{n: getattr(r, n) for n in r.__dataclass_fields__} for r in rules]
    body["not_known"] = not_known(ref, record)
    body["sources"] = {s.key: s.citation for s in ref.sources() if s.key in used}
    return body


def _page(ref: Reference, record: Material, units: Units) -> Page:
    from refdb.store.schema import TABLE

    page = Page()
    page.sides(record.label, record.key)
    page.paragraph(f"{_KIND[_kind(record)]}, {record.family}")
    page.line()
    page.paragraph(record.summary)
    page.line()
    labels = {c.name: c.label for c in TABLE[f"{_kind(record)}_details"].columns}
    page.pairs(
        [*((labels[name], text) for name, text in details_of(record).items()), ("source", record.source)]
    )
    _figures(page, ref, record, units)
    points = getattr(record, "points", ())
    if points:
        _curve(page, ref, record, units)  # type: ignore[arg-type]
    rules = rules_naming(ref, record)
    if rules:
        page.heading("Rules that hold for it, with some glasses or metals")
        for rule in rules:
            page.paragraph(f"{rule.rule}: {rule.outcome}. {rule.found} [{rule.source}]", 2, 4)
    gone = not_known(ref, record)
    page.heading("Not known")
    page.paragraph(", ".join(gone) + "." if gone else "Nothing that a verdict needs is missing.", 2)
    used = {record.source, *(v.source for v in record.values)}
    page.heading("Sources")
    for source in ref.sources():
        if source.key in used:
            page.paragraph(f"{source.key}: {source.citation}", 2, 6)
    return page


def _figures(page: Page, ref: Reference, record: Material, units: Units) -> None:
    from refdb.cli.shown import number_of, range_of, span_of, unit_of

    page.heading("Figures, the preferred one of each marked *")
    if not record.values:
        page.paragraph("none", 2)
        return
    columns = [
        Column(""),
        Column("value", right=True),
        Column("low to high"),
        Column("span or basis", wraps=True),
        Column("source"),
    ]
    groups: list[tuple[Property, list[tuple[PropertyValue, list[str]]]]] = []
    for prop in ref.properties():
        rows = []
        for v in (v for v in record.values if v.property == prop.key):
            value = "" if v.value is None else number_of(v.value, prop, units)
            span = span_of(v.temp_low_c, v.temp_high_c, units)
            basis = v.basis if v.seen in v.basis or v.basis == v.seen else f"{v.basis}, {v.seen}"
            rows.append(
                (
                    v,
                    [
                        "*" if v.preferred else "",
                        value,
                        range_of(v, prop, units),
                        f"{span}, {basis}" if span else basis,
                        v.source,
                    ],
                )
            )
        if rows:
            groups.append((prop, rows))
    widths = page.table_widths(columns, [cells for _, rows in groups for _, cells in rows])
    page.table(columns, [], widths=widths)
    for prop, rows in groups:
        unit = unit_of(prop, units)
        page.paragraph(f"{prop.label}, {unit}" if unit else prop.label)
        for v, cells in rows:
            page.rows(columns, [cells], widths)
            about = [x for x in (v.locator, v.note) if x]
            if about:
                page.paragraph("; ".join(about), 8)


def _curve(page: Page, ref: Reference, metal: Metal, units: Units) -> None:
    from refdb.cli.shown import degrees

    sources = [
        r["source"]
        for r in ref.rows(
            "SELECT DISTINCT source FROM expansion_points WHERE material = ? ORDER BY source", metal.key
        )
    ]
    page.heading(f"Free expansion from {degrees(20, units)}, ppm [{', '.join(sources)}]")
    kept = [(t, s) for t, s in metal.points if t % _STEP_C == 0] or list(metal.points)
    page.paragraph("   ".join(f"{degrees(t, units)}:\u00a0{s:,.0f}" for t, s in kept).replace("   ", "; "), 2)


def _shown_otherwise(ref: Reference, key: str, as_json: bool) -> bool:
    """Show a record that is no material; False when there is none of this key."""
    from refdb.cli.find import show_source

    if ref.rows("SELECT key FROM sources WHERE key = ?", key.lower()):
        show_source(ref, key, as_json)
        return True
    for table in KEYED:
        rows = ref.rows(f"SELECT * FROM {table} WHERE key = ?", key.lower())
        if rows:
            _plain_rows(ref, table, rows, as_json)
            return True
    words = key.split()
    if len(words) == 2:
        rows = ref.rows(
            "SELECT * FROM contacts WHERE lower(metal_a) = lower(?1) AND lower(metal_b) = lower(?2)"
            " OR lower(metal_a) = lower(?2) AND lower(metal_b) = lower(?1)",
            *words,
        )
        if rows:
            _plain_rows(ref, "contacts", rows, as_json)
            return True
    return False


def _plain_rows(ref: Reference, table: str, rows: list[dict[str, Any]], as_json: bool) -> None:
    from refdb.cli.find import KIND_WORDS
    from refdb.store.schema import TABLE

    if as_json:
        emit_json(
            {
                "kind": KIND_WORDS[table],
                "rows": rows,
                "sources": {r["source"]: ref.source(r["source"]).citation for r in rows},
            }
        )
        return
    page = Page()
    for row in rows:
        page.sides(str(row.get("key") or f"{row['metal_a']} {row['metal_b']}"), KIND_WORDS[table])
        page.pairs(
            [
                *(
                    (c.label or c.name, _cell(row[c.name], c.unit))
                    for c in TABLE[table].columns
                    if c.name not in ("key", "source")
                ),
                ("source", f"{row['source']}: {ref.source(row['source']).citation}"),
            ]
        )
        page.line()
    page.show()


def _cell(value: Any, unit: str) -> str:
    if value is None:
        return ""
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{text} {unit}" if unit else text
