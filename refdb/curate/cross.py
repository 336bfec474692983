"""Checks of the sources that look across rows and tables."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable

from refdb.curate.cells import Value, nearest
from refdb.curate.naming import check_names
from refdb.curate.practice import PRACTISED, check_practice
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.rules import SELECTED, check_selections
from refdb.curate.sense import SENSE, Check
from refdb.science.glass.components import COMPONENTS
from refdb.store.schema import HELD, TABLES, Table
from refdb.store.table import LONGEST_NAME

#: Firm evidence, and the kinds of source that cannot give it.
_FIRM = ("measured", "standard", "published")
_NOT_FIRM = ("common practice", "from memory", "computed")
_NUMBERS = ("value", "low", "high")


def check_records(records: Records, problems: Problems, touched: frozenset[str] | None = None) -> None:
    """Note what is wrong between rows and tables: keys, bands, evidence, preference, sense, each table's rules.

    `touched` names the tables that may have changed since everything was found sound; by default all of them.
    """
    due = [table for table in TABLES if touched is None or table.name in touched]
    for table in due:
        _check_uniqueness(table, records[table.name], problems)
        _check_bands(table, records[table.name], problems)
    for check, tables in (*_CHECKS, *SENSE):
        if touched is None or not touched.isdisjoint(tables):
            check(records, problems)
    for table in due:
        _check_rules(table, records[table.name], problems)


def _check_preferred(records: Records, problems: Problems) -> None:
    """Exactly one row of each material and property is preferred; the others stand beside it."""
    groups: dict[tuple[object, object], list[Record]] = defaultdict(list)
    for record in records["property_values"]:
        if record.values["preferred"] is None:
            return  # told already, and any count would be wrong
        groups[record.values["material"], record.values["property"]].append(record)
    for (material, name), group in groups.items():
        chosen = [record for record in group if record.values["preferred"] == 1]
        if not chosen:
            problems.add(group[0], "preferred", f"no row of {material}, {name} is preferred", "mark one of them with 1")
        for record in chosen[1:]:
            problems.add(
                record,
                "preferred",
                f"{material}, {name} has another preferred row in line {chosen[0].line}",
                "keep 1 in one of them",
            )


def _check_made_for(records: Records, problems: Problems) -> None:
    """Every family a glass is made for is a family of some metal; "none" alone says it is made for none."""
    families = {
        str(record.values["family"])
        for record in records["materials"]
        if record.values["kind"] == "metal" and record.values["family"]
    }
    for record in records["glass_details"]:
        made_for = str(record.values["made_for"] or "none")
        for family in [] if made_for == "none" else made_for.split(";"):
            if families and family.strip() not in families:
                problems.add(
                    record,
                    "made_for",
                    f"'{family.strip()}' is no family of a metal",
                    nearest(family.strip(), families, "one of: " + ", ".join(sorted(families))),
                )


def _check_held(records: Records, problems: Problems) -> None:
    """Note contents of a glass that no caution has a word for."""
    for record in records["glass_details"]:
        for word in str(record.values["holds"]).split(";") if record.values["holds"] else []:
            if word.strip() not in HELD:
                problems.add(
                    record,
                    "holds",
                    f"'{word.strip()[:40]}' is not known here",
                    nearest(word.strip(), HELD, "one of: " + ", ".join(HELD)),
                )


def _check_compositions(records: Records, problems: Problems) -> None:
    """Each published glass is of a class, and has a composition in known components; `sense` holds its total."""
    composed = {record.values["glass"] for record in records["compositions"]}
    for record in records["compositions"]:
        component = record.values["component"]
        if component is not None and component not in COMPONENTS:
            problems.add(
                record,
                "component",
                f"no component is called '{str(component)[:40]}'",
                nearest(str(component), COMPONENTS, "write oxides or fluorides, such as SiO2, CaF2"),
            )
    glasses = {record.values["key"] for record in records["materials"] if record.values["kind"] == "glass"}
    for record in records["reference_glasses"]:
        key, material = record.values["key"], record.values["material"]
        if key not in composed:
            problems.add(record, "key", "this glass has no composition", "add its components to compositions.csv")
        if material not in glasses and not problems.at(record):
            problems.add(record, "material", "this is not a class of glass", "give the key of a glass")


def _check_uniqueness(table: Table, records: Iterable[Record], problems: Problems) -> None:
    for names in (table.key, *table.unique):
        seen: dict[tuple[Value, ...], Record] = {}
        for record in records:
            key = tuple(record.values[name] for name in names)
            if None in key:
                continue
            if key in seen and not (table.name.endswith("_details")):
                first = seen[key]
                column = "key" if names == ("key",) else ", ".join(names)
                problems.add(
                    record,
                    column,
                    f"already given in {first.file} line {first.line}",
                    "rename one, or take one out" if names == table.key else "they must differ",
                )
            seen.setdefault(key, record)


def _check_bands(table: Table, records: Iterable[Record], problems: Problems) -> None:
    names = [column.name for column in table.columns]
    pairs = [(low, low.replace("low", "high")) for low in names if "low" in low and low.replace("low", "high") in names]
    if "solidus_c" in names:
        pairs.append(("solidus_c", "liquidus_c"))
    middle = next((name for name in ("value", "first_melts_c") if name in names and "low" in names), "")
    for record in records:
        for low, high in pairs:
            if _above(record, low, high):
                problems.add(record, low, f"it is above {high}", f"exchange {low} and {high}")
            elif middle and low == "low" and (_above(record, low, middle) or _above(record, middle, high)):
                problems.add(
                    record, middle, "it lies outside its own low and high", "widen low and high, or correct the value"
                )


def _above(record: Record, first: str, second: str) -> bool:
    a, b = record.values[first], record.values[second]
    return isinstance(a, (int, float)) and isinstance(b, (int, float)) and a > b


def _check_names(records: Records, problems: Problems) -> None:
    """The short name of a source is short, and no other source's, in whatever case it is written."""
    taken: dict[str, Record] = {}
    for record in records["sources"]:
        name = str(record.values["name"] or "")
        if len(name) > LONGEST_NAME:
            problems.add(record, "name", f"{len(name)} characters", f"say it in {LONGEST_NAME} or fewer")
        first = taken.setdefault(name.casefold(), record)
        if name and first is not record:
            problems.add(record, "name", f"line {first.line} has the name '{name}' already", "tell the two apart")


def _check_sources(records: Records, problems: Problems) -> None:
    """A firm basis needs a source that can give it; a number needs a unit."""
    kinds = {record.values["key"]: record.values["kind"] for record in records["sources"]}
    for table in TABLES:
        names = {column.name for column in table.columns}
        for record in records[table.name]:
            values = record.values
            if "basis" in names:
                kind, basis = kinds.get(values.get("source")), values["basis"]
                if basis == "standard" and kind not in ("standard", None):
                    problems.add(
                        record,
                        "basis",
                        f"basis 'standard', yet its source is '{kind}'",
                        "give the standard as the source, or say 'published'",
                    )
                elif basis in _FIRM and kind in _NOT_FIRM:
                    problems.add(
                        record,
                        "basis",
                        f"basis '{basis}', yet its source is '{kind}'",
                        "name the publication as the source, or weaken the basis",
                    )
            if "unit" in names and not values["unit"] and any(values.get(name) is not None for name in _NUMBERS):
                problems.add(record, "unit", "a number without its unit", "give the unit; 1 for a plain number")


def _check_rules(table: Table, records: Iterable[Record], problems: Problems) -> None:
    """Try the table's own CHECKs on every row that is sound so far, in SQLite, where they will hold."""
    sound = [record for record in records if not problems.at(record)]
    if not table.checks or not sound:
        return
    names = [column.name for column in table.columns]
    marks = ", ".join(f"? AS {name}" for name in names)
    memory = sqlite3.connect(":memory:")
    try:
        for rule in table.checks:
            for record in sound:
                row = memory.execute(
                    f"SELECT NOT ({rule}) FROM (SELECT {marks})", [record.values[name] for name in names]
                ).fetchone()
                if row[0]:
                    problems.add(record, _first_named(rule, names), f"this must hold: {rule}", "correct the row")
    finally:
        memory.close()


_CHECKS: tuple[Check, ...] = (
    (_check_names, ("sources",)),
    (check_names, ("materials", "aliases", "solders")),
    (_check_sources, tuple(table.name for table in TABLES if any(c.name in ("basis", "unit") for c in table.columns))),
    (_check_preferred, ("property_values",)),
    (_check_made_for, ("materials", "glass_details")),
    (_check_held, ("glass_details",)),
    (_check_compositions, ("compositions", "reference_glasses", "materials")),
    (check_selections, SELECTED),
    (check_practice, PRACTISED),
)


def _first_named(rule: str, names: Iterable[str]) -> str:
    places = {name: rule.find(name) for name in names if name in rule}
    return min(places, key=lambda name: (places[name], -len(name)))
