"""Figures against the bounds of their property, and against what rival sources say."""

from __future__ import annotations

from refdb.curate.cells import nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, by_property, kinds, number, span, words

Bounds = dict[tuple[str, str], Record]


def _bounds(records: Records) -> Bounds:
    return {(str(r.values["property"]), str(r.values["kind"])): r for r in records["property_bounds"]}


def _check_bounds(records: Records, problems: Problems) -> None:
    """Every figure is of a property its kind of material has, within its bounds, and its band is not too wide."""
    bounds, kind_of = _bounds(records), kinds(records)
    units = {str(r.values["key"]): str(r.values["unit"]) for r in records["properties"]}
    for record in records["property_values"]:
        _within(record, kind_of.get(str(record.values["material"])), bounds, units, problems)
    for table in ("reference_values", "estimates"):
        for record in records[table]:
            _within(record, "glass", bounds, units, problems)


def _within(record: Record, kind: str | None, bounds: Bounds, units: dict[str, str], problems: Problems) -> None:
    name = str(record.values["property"])
    if kind is None or name not in units or problems.at(record):
        return  # told already
    bound, plain = bounds.get((name, kind)), name.replace("_", " ")
    if bound is None:
        others = sorted({p for p, k in bounds if k == kind})
        todo = nearest(name, others, "correct material or property, or bound it in property_bounds.csv")
        problems.add(record, "property", f"a {kind} has no {plain}", todo)
        return
    least, most, widest = (number(bound, c) for c in ("least", "most", "widest"))
    if least is None or most is None or widest is None:
        return  # told already
    for column in ("value", "low", "high"):
        value = number(record, column)
        if value is None or least <= value <= most:
            continue
        what = f"{value:g} {units[name]} cannot be the {plain} of a {kind}"
        todo = f"it lies between {least:g} and {most:g}; look at the unit and the decimal point"
        if name == "expansion" and value > most:
            what = f"a linear expansion of {value:g} {units[name]} is too much for a {kind}"
            todo = "it may be cubical: divide by three; or the unit is wrong"
        problems.add(record, column, what, todo)
    band = span(record)
    if record.file == "property_values.csv" and band is not None and band[1] - band[0] > widest * (1 + 1e-9):
        problems.add(
            record,
            "high",
            f"the band is {band[1] - band[0]:g} {units[name]} wide, more than {widest:g}",
            "narrow it, or widen property_bounds.csv and say there why",
        )


def _check_needed(records: Records, problems: Problems) -> None:
    """Each material has the figures its kind needs, or is named as one for which none was found."""
    have = {(str(r.values["property"]), str(r.values["material"])) for r in records["property_values"]}
    clays = {str(r.values["material"]) for r in records["metal_details"] if r.values["form"] == "clay"}
    of_kind: dict[str, set[str]] = {}
    place = {}
    for record in records["materials"]:
        of_kind.setdefault(str(record.values["kind"]), set()).add(str(record.values["key"]))
        place[str(record.values["key"])] = record
    for (name, kind), bound in _bounds(records).items():
        all_keys, without = of_kind.get(kind, set()), set(words(bound.values["none_found"]))
        plain = name.replace("_", " ")
        for key in sorted(without):
            if key not in all_keys:
                todo = nearest(key, all_keys, "correct the key")
                problems.add(bound, "none_found", f"'{key[:40]}' is no {kind}", todo)
            elif (name, key) in have:
                problems.add(bound, "none_found", f"{key} has a figure of {plain}", "take the key out here")
        needed = {"each": all_keys, "clay": all_keys & clays}.get(str(bound.values["needed"]), set())
        for key in sorted(needed - without):
            if (name, key) not in have:
                problems.add(
                    place[key],
                    "key",
                    f"{key} has no {plain}",
                    "add it to property_values.csv, or name the key under none_found in property_bounds.csv",
                )
        for key in sorted(all_keys - clays) if bound.values["needed"] == "clay" else ():
            if (name, key) in have:
                problems.add(place[key], "form", f"{key} is no clay, yet has a {plain}", "correct the one or the other")


def _check_rivals(records: Records, problems: Problems) -> None:
    """The band of the preferred figure lies near the bands of all other sources."""
    bounds, kind_of = _bounds(records), kinds(records)
    for (material, name), group in by_property(records).items():
        bound = bounds.get((name, kind_of.get(material, "")))
        apart = None if bound is None else number(bound, "apart")
        chosen = next((r for r in group if r.values["preferred"] == 1), None)
        if chosen is None or apart is None:
            continue
        mine = span(chosen)
        for record in group:
            other = span(record)
            if record is chosen or mine is None or other is None:
                continue
            gap = max(other[0] - mine[1], mine[0] - other[1])
            if gap > apart:
                problems.add(
                    record,
                    "value",
                    f"{material}, {name}: {gap:g} away from the preferred band in line {chosen.line}",
                    f"correct the one that is wrong, or widen its band; sources lie at most {apart:g} apart",
                )


CHECKS: tuple[Check, ...] = (
    (_check_bounds, ("property_values", "property_bounds", "reference_values", "estimates", "materials", "properties")),
    (_check_needed, ("property_values", "property_bounds", "materials", "metal_details")),
    (_check_rivals, ("property_values", "property_bounds", "materials")),
)
