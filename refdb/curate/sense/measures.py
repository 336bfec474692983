"""Numbers beside words: limits, amounts of practice and schedules hold what their own texts say."""

from __future__ import annotations

import re
from collections import defaultdict

from refdb.curate.convert import conversion
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, keyed, number, preferred
from refdb.curate.sense.printed import holds, numbers_in
from refdb.errors import BadSource
from refdb.quantities.printed import fahrenheit

#: How people write the units of limits and amounts.
WRITTEN = {
    "ug/m**3": ("µg/m³",),
    "mg/m**3": ("mg/m³",),
    "ug/L": ("µg/L",),
    "mg/L": ("mg/L",),
    "ug/mL": ("µg/mL",),
    "ug/dL": ("µg/dL", "µg/100 ml", "µg/100 mL"),
    "ug/cm**2/week": ("µg/cm² a week",),
    "ug/cm**2": ("µg/cm²",),
    "mg/kg": ("mg/kg",),
    "1/mL": ("fibres/mL", "/mL", "per mL"),
    "ppm": ("ppm",),
    "percent": ("%",),
    "shade": ("shade", "scale"),
    "g": (" g",),
}
#: How a statement writes a unit of practice: where it does, its numbers are those of the row.
SPOKEN = {
    "degC": r"\d ?(°C|K\b)",
    "mm": r"\d ?mm\b",
    "um": r"\d ?µm",
    "min": r"\bmin(utes?)?\b",
    "percent": r"%",
    "s": r"\d s\b",
    "g/cm**2": r"\d g\b",
    "ppm/K": r"ppm/K",
}
#: Between what an amount of practice lies, by its unit, and how often the high end holds the low one.
AMOUNTS = {
    "1": (0.005, 50.0),
    "cm**2": (1.0, 5000.0),
    "degC": (100.0, 1000.0),
    "delta_degC": (5.0, 200.0),
    "gauge": (8.0, 34.0),
    "grit": (60.0, 3000.0),
    "h": (0.2, 48.0),
    "min": (0.2, 120.0),
    "mm": (0.01, 130.0),
    "percent": (0.002, 70.0),
    "s": (1.0, 90.0),
    "times": (1.0, 25.0),
    "um": (2.0, 250.0),
}
MOST_OVER_LEAST = 50.0
#: What is measured, by a word of the quantity, and the units it is measured in.
MEASURED_IN = (
    (r"\b(time|interval)\b", ("min", "h", "s", "months", "day")),
    (r"\b(temperature|setting|plate|melts at)\b|^(water|bath)$", ("degC",)),
    (r"\b(fires|lays|rounds|fills|grounds|rinses)\b", ("times",)),
    (r"\bgrit\b", ("grit",)),
    (r"\bgauge\b", ("gauge",)),
    (r"\b(strength|zinc|carbon)\b|\bextra area\b", ("percent",)),
    (r"^share$", ("percent", "1")),
    (r"^area$", ("cm**2",)),
    (r"\b(over|divisor|parts|by volume|to seeds|to acid)\b", ("1",)),
    (r"\b(drop|error)\b", ("delta_degC",)),
    (r"^(thickness|depth|aperture|spacing|hole|width|height|radius|floor|grain|skin|foil|shell|ground)$",
     ("mm", "um", "cm")),
)  # fmt: skip
#: A sieve of so many meshes to the inch lets pass about this divided by that number [µm]; ASTM E11 within a tenth.
MESH_UM = 15_000.0
#: Words for a kind of place, and how keys of limits that hold there begin.
PLACES = (("air at work", "air"), ("blood", "blood"), ("jewellery", "jewellery|children|adult"), ("ware", "food"),
          ("kiln", "eyes"), ("torch", "eyes"))  # fmt: skip
#: Where limits in air hold, which are told with those of a short time.
AIR = "air at work"
NUMBER_WORDS = {
    "half": 0.5, "a third": 1 / 3, "a quarter": 0.25, "a tenth": 0.1, "a fifth": 0.2, "one": 1.0, "two": 2.0,
    "three": 3.0, "four": 4.0, "five": 5.0, "six": 6.0, "seven": 7.0, "eight": 8.0, "nine": 9.0, "ten": 10.0,
    "twelve": 12.0, "fifteen": 15.0, "twenty": 20.0, "thirty": 30.0, "a minute": 1.0, "a day": 24.0, "an hour": 1.0,
    "half an hour": 30.0, "half a minute": 0.5, "double": 2.0, "twice": 2.0, "a metre": 1000.0,
}  # fmt: skip
#: Two limits on one agent in one kind of place, of different countries, differ by no more than this factor.
COUNTRIES_DIFFER = 200.0
#: Sintering may pass the solidus of its alloy, but stays this far below the liquidus [K].
BELOW_LIQUIDUS_K = 2.0
_CARBON = re.compile(r"carbon")
_FAHRENHEIT = re.compile(r"[\d.]+(?: ?(?:-|to|or|and) ?[\d.]+)? ?°F")


def _spoken(text: str) -> list[tuple[float, float]]:
    found = list(numbers_in(text))
    lower = text.lower()
    found += [(value, 0.01 * value) for word, value in NUMBER_WORDS.items() if re.search(rf"\b{word}\b", lower)]
    return found


def _check_limits(records: Records, problems: Problems) -> None:
    """A limit's number and unit stand in its words, its law in its source, and countries differ within reason."""
    sources = keyed(records, "sources")
    groups: dict[tuple[str, str, str], list[tuple[float, Record]]] = defaultdict(list)
    for record in records["exposure_limits"]:
        value, unit, text = number(record, "value"), record.values["unit"], str(record.values["limit_text"] or "")
        if value is not None and not holds(numbers_in(text), value):
            problems.add(record, "value", f"{value:g} does not stand in '{text[:40]}'", "copy it anew")
        elif value is not None and str(record.values["place"]).startswith(AIR) and not _leads(value, text):
            what = f"{value:g} stands neither first nor as the least in '{text[:40]}'"
            problems.add(record, "value", what, "keep the limit of the whole shift, or the least")
        if value is not None and unit in WRITTEN and not any(word in text for word in WRITTEN[str(unit)]):
            problems.add(record, "unit", f"'{unit}' is not the unit of '{text[:40]}'", "correct one")
        if value is None and unit is not None:
            problems.add(record, "unit", "a unit without its number", "give both or neither")
        if record.values["seen"] == "computed":
            problems.add(record, "seen", "a limit in law is not computed", "say how it was seen")
        _check_called(record, problems)
        source = sources.get(str(record.values["source"]))
        if source is not None and source.values["kind"] == "standard":
            _check_instrument(record, source, problems)
        place = str(record.values["place"] or "").split(",")[0].split(" (")[0]
        if value is not None and unit is not None:
            dimension, amount = _comparable(value, str(unit))
            groups[str(record.values["agent"]), place, dimension].append((amount, record))
    for (agent, place, _), group in groups.items():
        group.sort(key=lambda one: one[0])
        if group[0][0] * COUNTRIES_DIFFER < group[-1][0]:
            what = f"{agent}, {place}: {group[-1][0] / group[0][0]:.0f} times line {group[0][1].line}"
            problems.add(group[-1][1], "value", what, "look at number and unit of both")


def _leads(value: float, text: str) -> bool:
    """Whether a limit is the first of those in its words, before those of a quarter of an hour, or the least."""
    told = numbers_in(text)
    return holds(told[:1], value) or holds([min(told)], value)


def _comparable(value: float, unit: str) -> tuple[str, float]:
    """A limit in a unit that limits of its kind can be compared in."""
    for dimension in ("ug/m**3", "ug/L", "percent", "ug/cm**2"):
        try:
            return dimension, conversion(unit, dimension)(value)
        except BadSource:
            continue
    return unit, value


def _check_called(record: Record, problems: Problems) -> None:
    """Agent and place are what the key says."""
    parts, place = str(record.values["key"]).split("-"), str(record.values["place"] or "")
    agent = str(record.values["agent"] or "").lower()
    if parts[0] not in ("eyes", "adult") and not any(p[:4] in agent for p in parts if len(p) > 2):
        problems.add(record, "agent", f"'{agent[:40]}', of which the key says nothing", "correct agent or key")
    for word, begins in PLACES:
        if word in place.split(",")[0].split(" (")[0] and not re.match(begins, str(record.values["key"])):
            if parts[0] not in ("pregnancy",):
                what = f"'{place[:40]}', and the key begins with '{parts[0]}'"
                problems.add(record, "place", what, "correct place or key")
            break


def _check_instrument(record: Record, source: Record, problems: Problems) -> None:
    text = str(record.values["instrument"] or "")
    cited = " ".join(str(source.values[c] or "") for c in ("title", "container", "locator", "name", "note", "authors"))
    cited += f" {source.values['key']}"
    digits = {d for d in re.findall(r"\d+", text) if len(d) > 2}
    if digits and not digits & set(re.findall(r"\d+", cited)):
        what = f"'{text[:40]}', yet the source is '{source.values['key']}'"
        problems.add(record, "instrument", what, "cite the text that lays the limit down")


def _check_practice(records: Records, problems: Problems) -> None:
    """The numbers of a practice stand in its statement, reason, quantity or note; so does its unit."""
    for record in records["practice_rules"]:
        told = " ".join(str(record.values[c] or "") for c in ("statement", "quantity", "reason", "note"))
        if record.values["unit"] is None:
            if record.values["quantity"] is not None:
                problems.add(record, "quantity", "a quantity without its number", "give low, high and unit, or none")
            continue
        unit, ends = str(record.values["unit"]), {c: number(record, c) for c in ("low", "high")}
        for pattern, units in MEASURED_IN:
            if re.search(pattern, str(record.values["quantity"] or "")) and unit not in units:
                what = f"'{record.values['quantity']}' in '{unit}'"
                problems.add(record, "unit", what, f"it is measured in: {', '.join(units)}")
        mesh = re.fullmatch(r"mesh-(0*[1-9]\d*)", str(record.values["key"]))
        for column, value in ends.items() if mesh else ():
            if mesh and value is not None and not 0.9 <= value * float(mesh[1]) / MESH_UM <= 1.1:
                what = f"{value:g} µm through {mesh[1]} meshes to the inch"
                problems.add(record, column, what, f"about {MESH_UM / float(mesh[1]):.0f} µm")
        spoken, writes = _spoken(told), SPOKEN.get(unit)
        low, high = AMOUNTS.get(unit, (0.0, float("inf")))
        for column, value in ends.items():
            if value is None:
                continue
            # A temperature may stand in the reason alone, which of other amounts tells others.
            where = f"{record.values['statement']} {record.values['reason'] if unit == 'degC' else ''}"
            if writes and re.search(writes, where):
                if not _is_spoken(value, unit, spoken, told):
                    what = f"{value:g} stands neither in the statement, the reason nor in the note"
                    problems.add(record, column, what, "copy it anew, or say in the note where it comes from")
            elif not low <= value <= high and not _is_spoken(value, unit, spoken, told):
                todo = f"amounts in that unit lie between {low:g} and {high:g}; look at the unit"
                problems.add(record, column, f"{value:g} {unit}", todo)
        if None in ends.values() and len(set(ends.values())) == 1:
            problems.add(record, "unit", "a unit without a number", "give low or high")
        elif ends["low"] and ends["high"] and ends["high"] > MOST_OVER_LEAST * ends["low"]:
            problems.add(record, "high", f"{ends['high'] / ends['low']:.0f} times the low end", "look at both numbers")


def _is_spoken(value: float, unit: str, spoken: list[tuple[float, float]], told: str) -> bool:
    scales = {"1": (1.0, 100.0), "percent": (1.0,), "um": (1.0, 0.001), "h": (1.0, 60.0), "min": (1.0, 1 / 60)}
    if unit == "degC" and "°F" in told:
        # A number in °F is none in °C.
        return holds(_spoken(_FAHRENHEIT.sub(" ", told)), value) or holds(spoken, fahrenheit(value))
    if any(holds(spoken, value * scale) for scale in scales.get(unit, (1.0,))):
        return True
    # A ratio of an old recipe: one part to twenty.
    return unit == "1" and any(holds([(a / b, 0.003)], value) for a, _ in spoken for b, _ in spoken if b)


def _check_phases(records: Records, problems: Problems) -> None:
    """Phases of a schedule are counted from 1, and no phase melts the metal it sinters."""
    solid = _liquidus_of_clays(records)
    of_schedule: dict[tuple[str, str], list[Record]] = defaultdict(list)
    for record in records["firing_phases"]:
        family = str(record.values["clay_family"])
        of_schedule[family, str(record.values["schedule"])].append(record)
        top, low = number(record, "temp_high_c"), number(record, "temp_low_c")
        melts = solid.get(family)
        if top is not None and melts is not None and top > melts - BELOW_LIQUIDUS_K:
            what = f"{top:g} °C, and {family} clay is molten at {melts:g}"
            problems.add(record, "temp_high_c", what, "correct it; look at the unit")
        sinters, floor = "sinter" in str(record.values["title"]), 590.0
        if low is not None and not (floor if sinters else 200.0) <= low <= (1100.0 if sinters else 700.0):
            what = f"{low:g} °C to {record.values['title']}"
            problems.add(record, "temp_low_c", what, "correct it; look at the unit")
        if top is not None and low is not None and top - low > 110.0:
            problems.add(record, "temp_high_c", f"from {low:g} to {top:g} °C", "a phase spans at most 110 K")
        _check_carbon(record, problems)
        told = re.search(r"-(\d{3})$", str(record.values["key"]))
        if told and top is not None and int(told[1]) != top:
            problems.add(record, "temp_high_c", f"{top:g}, yet its key ends in {told[1]}", "correct one")
    for (family, schedule), group in of_schedule.items():
        found = sorted(int(number(r, "phase") or 0) for r in group)
        if found != list(range(1, len(group) + 1)):
            what = f"the phases of {family}, {schedule} are {', '.join(map(str, found))}"
            problems.add(group[0], "phase", what, "count them from 1")
    for record in records["metal_details"]:
        of = record.values["clay_family"]
        if of is not None and not any(known == of for known, _ in of_schedule):
            problems.add(record, "clay_family", f"no schedule fires '{of}'", "correct it, or add its phases")
        if (of is not None) != (record.values["form"] == "clay"):
            what = f"'{record.values['form']}' and clay family '{of or 'blank'}'"
            problems.add(record, "clay_family", what, "correct one")


def _check_carbon(record: Record, problems: Problems) -> None:
    inside = bool(_CARBON.search(str(record.values["atmosphere"])))
    for column in ("carbon_mm", "spacing_mm"):
        value = number(record, column)
        if inside != (value is not None):
            what = f"{'a blank' if value is None else f'{value:g}'} in '{record.values['atmosphere']}'"
            problems.add(record, column, what, "carbon around a piece stands just where it is fired in carbon")
        elif value is not None and not 5.0 <= value <= 60.0:
            problems.add(record, column, f"{value:g} mm", "it lies between 5 and 60 mm")
    least, most = number(record, "hold_low_min"), number(record, "hold_high_min")
    if least is not None and most is not None and not (least >= 2.0 and most <= min(300.0, 6.5 * least)):
        what = f"{least:g} to {most:g} min"
        problems.add(record, "hold_high_min", what, "a hold is of 2 to 300 min; look at the number")


def _liquidus_of_clays(records: Records) -> dict[str, float]:
    figures = preferred(records)
    found: dict[str, float] = {}
    for record in records["metal_details"]:
        family, figure = record.values["clay_family"], figures.get((str(record.values["material"]), "liquidus"))
        value = None if figure is None else number(figure, "value")
        if family is not None and value is not None:
            found[str(family)] = max(found.get(str(family), 0.0), value)
    return found


#: Bounds of a known pair: metal, one coat, rise [mm] and kiln [°C]; what is beyond is told in its words.
PAIR_BOUNDS = {
    "metal_mm": (0.1, 25.0),
    "front_mm": (0.0, 6.0),
    "back_mm": (0.0, 6.0),
    "first_mm": (0.05, 2.0),
    "rise_mm": (0.5, 60.0),
    "kiln_c": (480.0, 1000.0),
}
#: Glass of one face over the metal, where the pair holds; and where it fails by something else than thickness.
MOST_OVER_METAL = 2.0


def _check_pairs(records: Records, problems: Problems) -> None:
    """A build that the trade knows is of a thickness and a kiln that a studio has."""
    for record in records["known_pairs"]:
        for column, (low, high) in PAIR_BOUNDS.items():
            value = number(record, column)
            if value is not None and not low <= value <= high:
                problems.add(record, column, f"{value:g}", f"a studio has {low:g} to {high:g}; look at the unit")
        metal, front, back = (number(record, c) for c in ("metal_mm", "front_mm", "back_mm"))
        if record.values["holds"] == "yes" and metal and max(front or 0.0, back or 0.0) > MOST_OVER_METAL * metal:
            what = f"{max(front or 0.0, back or 0.0):g} mm of glass on {metal:g} mm of metal is said to hold"
            problems.add(record, "front_mm", what, "correct one")


def _check_firings(records: Records, problems: Problems) -> None:
    """A watched firing is of a heat and a time at which glass on a small piece fires."""
    for record in records["observed_firings"]:
        kiln, minutes = number(record, "kiln_c"), number(record, "minutes")
        if kiln is not None and not 600.0 <= kiln <= 1000.0:
            problems.add(record, "kiln_c", f"{kiln:g} °C", "a studio kiln stands at 600 to 1000 °C; look at the unit")
        if minutes is not None and not 0.5 <= minutes <= 20.0:
            problems.add(record, "minutes", f"{minutes:g} min", "a coat takes half a minute to 20; look at the number")


CHECKS: tuple[Check, ...] = (
    (_check_limits, ("exposure_limits", "sources")),
    (_check_practice, ("practice_rules",)),
    (_check_phases, ("firing_phases", "metal_details", "property_values")),
    (_check_pairs, ("known_pairs",)),
    (_check_firings, ("observed_firings",)),
)
