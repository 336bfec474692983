"""Figures against the bounds of their property, and against what rival sources say."""

from __future__ import annotations

from collections import defaultdict

from refdb.curate.cells import nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, by_property, kinds, number, span, words

Bounds = dict[tuple[str, str], Record]

#: Span over which the preferred mean expansion of each kind of material is taken [°C].
PREFERRED_SPAN = {"glass": (20.0, 400.0), "metal": (20.0, 500.0)}
SPAN_BEGINS = (0.0, 15.0, 20.0, 21.0, 25.0)
SPAN_ENDS = (25.0, 93.0, 100.0, 200.0, 250.0, 300.0, 315.0, 350.0, 400.0, 500.0, 538.0, 540.0, 600.0, 815.0)
#: Bounds are judged by at least so many figures, and reach beyond them by this share of what those span, at most.
FEW = 5
ROOM = 0.8
#: The widest band allowed over the widest there is.
LOOSE = 1.9


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


def _check_spans(records: Records, problems: Problems) -> None:
    """An expansion is from about room temperature; the preferred one of a glass over 20-400, of a metal 20-500 °C."""
    kind_of = kinds(records)
    for record in records["property_values"]:
        low, high = number(record, "temp_low_c"), number(record, "temp_high_c")
        if low is None or high is None or low >= high:
            continue  # told already
        kind = kind_of.get(str(record.values["material"]), "")
        if record.values["property"] != "expansion":
            problems.add(record, "temp_low_c", "a span of temperature", "only an expansion has one")
        elif record.values["preferred"] == 1 and (low, high) != PREFERRED_SPAN.get(kind, (low, high)):
            told = " to ".join(f"{x:g}" for x in PREFERRED_SPAN[kind])
            problems.add(record, "temp_high_c", f"preferred over {low:g} to {high:g} °C", f"prefer one over {told} °C")
        elif low not in SPAN_BEGINS or high not in SPAN_ENDS:
            what = f"a span from {low:g} to {high:g} °C"
            problems.add(record, "temp_low_c", what, "correct it; spans begin near room temperature, at full tens")


def _check_tight(records: Records, problems: Problems) -> None:
    """Bounds are near what is there: one that no figure comes near holds back no slip."""
    kind_of = kinds(records)
    seen: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for record in records["property_values"]:
        band = span(record)
        if band is not None:
            seen[str(record.values["property"]), kind_of.get(str(record.values["material"]), "")].append(band)
    for pair, bound in _bounds(records).items():
        bands, least, most, widest = seen.get(pair), *(number(bound, c) for c in ("least", "most", "widest"))
        if not bands or len(bands) < FEW or least is None or most is None or widest is None:
            continue
        low, high = min(b[0] for b in bands), max(b[1] for b in bands)
        room = max(ROOM * (high - low), 0.5 * abs(high))
        for column, beyond in (("least", low - least), ("most", most - high)):
            if beyond > room:
                problems.add(bound, column, f"{beyond:g} beyond every figure here", "draw it nearer")
        wide = sorted(b[1] - b[0] for b in bands if b[1] > b[0])
        if len(wide) >= FEW and widest > LOOSE * wide[-1]:
            problems.add(bound, "widest", f"{widest:g}, and the widest band here is {wide[-1]:g}", "draw it nearer")


CHECKS: tuple[Check, ...] = (
    (_check_spans, ("property_values", "materials")),
    (_check_tight, ("property_values", "property_bounds", "materials")),
    (_check_bounds, ("property_values", "property_bounds", "reference_values", "estimates", "materials", "properties")),
    (_check_needed, ("property_values", "property_bounds", "materials", "metal_details")),
    (_check_rivals, ("property_values", "property_bounds", "materials")),
)
