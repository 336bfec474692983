"""One record in full: every figure from every source, what rules name it, and what is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import JsonOption, Units, UnitsOption, complete_material, names_in, opened, tell_taken, typed
from refdb.cli.options import Argument, Option
from refdb.cli.output import SCREEN, Column, Page, emit_json
from refdb.cli.short_record import KINDS, short_record
from refdb.errors import NotFound

if TYPE_CHECKING:
    from refdb.records import Material, Metal, Property, PropertyValue, ReferenceGlass
    from refdb.store.reference import Reference

#: Tables whose rows can be shown by their key, besides materials and sources.
KEYED = (
    "practice_rules",
    "hazards",
    "fit_rules",
    "colour_reactions",
    "symptoms",
    "faults",
    "synonyms",
    "observed_firings",
    "solders",
    "firing_phases",
    "known_pairs",
    "exposure_limits",
    "reference_glasses",
)
_STEP_C = 100


def show(
    name: Annotated[
        list[str],
        Argument(
            metavar="NAME...",
            autocompletion=complete_material,
            help="A name, or a key that a list or `refdb find` gives.",
        ),
    ],
    full: Annotated[bool, Option("--full", help="Every figure with its rivals, notes and sources.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """Show what is known of one record.

    With --full every figure stands with its source, and rival figures stand side by side.

    \b
    Examples:
      refdb show copper-sheet
      refdb show copper-sheet --full
    """
    wanted = typed(" ".join(name))
    with opened() as ref:
        names = names_in(ref)
        try:
            record = ref.material(wanted)
        except NotFound:
            if _shown_otherwise(ref, wanted.strip(), as_json, full):
                return
            found = names.key(wanted, None, "key")
            if _shown_otherwise(ref, found, as_json, full):
                return
            record = ref.material(found)
        if as_json:
            emit_json(_as_dict(ref, record) | names.question)
        else:
            page = _page(ref, record, units, names.question)
            if not full and len(page.lines) > SCREEN:
                page = short_record(ref, record, units, names.question)
            page.show()


def _as_dict(ref: Reference, record: Material) -> dict[str, Any]:
    from refdb.judge.known import details_of, kind_of, not_known, rules_naming
    from refdb.judge.own.effective import is_effective

    values = [
        {name: getattr(v, name) for name in v.__match_args__}
        | ({"effective": is_effective(v)} if v.property == "expansion" and kind_of(record) == "glass" else {})
        for v in record.values
    ]
    rules = rules_naming(ref.fit_rules(), record)
    used = {record.source, *(v.source for v in record.values), *(r.source for r in rules)}
    used |= {g.source for g in _published(ref, record)}
    body: dict[str, Any] = {
        "kind": kind_of(record),
        "key": record.key,
        "label": record.label,
        "family": record.family,
        "summary": record.summary,
        "details": details_of(record),
        "source": record.source,
        "units": {p.key: p.unit for p in ref.properties()},
        "values": values,
    }
    glasses = _published(ref, record)
    if glasses:
        from refdb.cli.published import published_dicts

        body["published_glasses"] = published_dicts(glasses)
    points = getattr(record, "points", ())
    if points:
        body["expansion_points"] = [{"temp_c": t, "strain_ppm": s} for t, s in points]
    body["rules"] = [{n: getattr(r, n) for n in r.__match_args__} for r in rules]
    body["not_known"] = not_known(ref, record)
    body["sources"] = {s.key: s.citation for s in ref.sources() if s.key in used}
    return body


def _page(ref: Reference, record: Material, units: Units, question: dict[str, Any]) -> Page:
    from refdb.judge.known import details_of, kind_of, not_known, rules_naming
    from refdb.store.material_tables import GLASS_DETAILS, LEAF_DETAILS, METAL_DETAILS

    page = Page()
    names = ref.source_names()
    page.sides(record.label, record.key)
    page.paragraph(f"{KINDS[kind_of(record)]}, {record.family}")
    tell_taken(page, question)
    page.line()
    page.paragraph(record.summary)
    page.line()
    details = {"glass": GLASS_DETAILS, "leaf": LEAF_DETAILS, "metal": METAL_DETAILS}
    labels = {c.name: c.label for c in details[kind_of(record)].columns}
    page.pairs([*((labels[name], text) for name, text in details_of(record).items()), ("source", names[record.source])])
    _figures(page, ref, record, units, names)
    glasses = _published(ref, record)
    if glasses:
        from refdb.cli.published import add_published

        add_published(page, glasses, ref.properties(), units, names)
    points = getattr(record, "points", ())
    if points:
        _curve(page, ref, record, units, names)  # type: ignore[arg-type]
    rules = rules_naming(ref.fit_rules(), record)
    if rules:
        page.heading("Rules that hold for it, with some glasses or metals")
        for rule in rules:
            page.paragraph(f"{rule.rule}: {rule.outcome}. {rule.found} [{names[rule.source]}]", 2, 4)
    gone = not_known(ref, record)
    page.heading("Not known")
    page.paragraph(", ".join(gone) + "." if gone else "Nothing that a verdict needs is missing.", 2)
    used = {record.source, *(v.source for v in record.values), *(g.source for g in glasses)}
    page.heading("Sources")
    for source in ref.sources():
        if source.key in used:
            page.paragraph(f"{source.name}: {source.citation}", 2, 6)
    return page


def _published(ref: Reference, record: Material) -> list[ReferenceGlass]:
    from refdb.judge.known import kind_of

    return ref.reference_glasses(record.key) if kind_of(record) == "glass" else []


def _figures(page: Page, ref: Reference, record: Material, units: Units, names: dict[str, str]) -> None:
    from refdb.judge.known import in_order, kind_of
    from refdb.judge.own.effective import EFFECTIVE, is_effective
    from refdb.records.printed import number_of, range_of, span_of, unit_of

    glassy = kind_of(record) == "glass"
    page.heading("Figures, the preferred one of each marked *")
    if not record.values:
        page.paragraph("none", 2)
        return
    columns = [
        Column(""),
        Column("value", right=True),
        Column("low to high"),
        Column("span or basis", wraps=True),
        Column("source", wraps=True),
    ]
    groups: list[tuple[Property, list[tuple[PropertyValue, list[str]]]]] = []
    for prop in in_order(ref.properties()):
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
                        names[v.source],
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
            effective = glassy and v.property == "expansion" and is_effective(v)
            about = [x for x in (v.locator, v.note, EFFECTIVE if effective else "") if x]
            if about:
                page.paragraph("; ".join(about), 8)


def _curve(page: Page, ref: Reference, metal: Metal, units: Units, names: dict[str, str]) -> None:
    from refdb.records.printed import degrees

    sources = [
        names[r["source"]]
        for r in ref.rows("SELECT DISTINCT source FROM expansion_points WHERE material = ? ORDER BY source", metal.key)
    ]
    page.heading(f"Free expansion from {degrees(20, units)}, ppm [{', '.join(sources)}]")
    kept = [(t, s) for t, s in metal.points if t % _STEP_C == 0] or list(metal.points)
    page.paragraph("   ".join(f"{degrees(t, units)}:\u00a0{s:,.0f}" for t, s in kept).replace("   ", "; "), 2)


def _shown_otherwise(ref: Reference, key: str, as_json: bool, full: bool) -> bool:
    """Show a record that is no material; False when there is none of this key."""
    if ref.rows("SELECT key FROM sources WHERE ? IN (key, lower(name))", key.lower()):
        from refdb.cli.find import show_source

        show_source(ref, key, as_json, full=full)
        return True
    for table in KEYED:
        rows = ref.rows(f"SELECT * FROM {table} WHERE key = ?", key.lower())
        if rows:
            _plain_rows(ref, table, rows, as_json)
            return True
    words = key.split()
    if len(words) == 2:
        rows = ref.rows(
            "SELECT * FROM contacts WHERE (lower(metal_a), lower(metal_b)) IN (VALUES (?, ?), (?, ?))",
            *key.lower().split(),
            *reversed(key.lower().split()),
        )
        if rows:
            _plain_rows(ref, "contacts", rows, as_json)
            return True
    return False


def _plain_rows(ref: Reference, table: str, rows: list[dict[str, Any]], as_json: bool) -> None:
    from refdb.records.solders import in_the_kiln
    from refdb.store.hits import KIND_WORDS
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
                ("in the kiln", in_the_kiln(row["solidus_c"], row["liquidus_c"]) if table == "solders" else ""),
                ("source", ref.source(row["source"]).citation),
            ]
        )
        page.line()
    page.show()


def _cell(value: Any, unit: str) -> str:
    if value is None:
        return ""
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{text} {unit}" if unit else text
