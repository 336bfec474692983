"""Where two metals first melt, against where each melts by itself."""

from __future__ import annotations

import re

from refdb.curate.cells import nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, keyed, number, preferred

#: How far rounding and oxygen carry a melting point [K].
ROUND_K = 6.0
#: The deepest of these eutectics melts at 0.7 of the absolute temperature at which its lower metal melts.
DEEPEST = 0.68
#: Two sources on one pair and kind of reaction agree this well [K].
AGREE_K = 15.0
#: A band of first melting is at most this wide [K].
WIDEST_K = 290.0
#: Leaf that is laid by choice: where it touches a base metal must be known.
LAID = ("Ag", "Au", "Cu")
#: Words under which base metals stand besides symbols of elements, and what they are made of.
WORDS = {
    "brass": ("Cu", "Zn"),
    "bronze": ("Cu", "Sn"),
    "gilding metal": ("Cu", "Zn"),
    "sterling": ("Ag", "Cu"),
    "Cu2O": ("Cu",),
}


def _check_contacts(records: Records, problems: Problems) -> None:
    """A eutectic or minimum melts below both its metals, and so on for each kind of reaction."""
    melts = {s: number(r, "melts_c") or 0.0 for s, r in keyed(records, "elements", "symbol").items()}
    solid = _solidus_of_words(records)
    pairs: dict[tuple[str, str, str], Record] = {}
    for record in records["contacts"]:
        names = [str(record.values[c]) for c in ("metal_a", "metal_b")]
        unknown = [n for n in names if n not in melts and n not in WORDS]
        for name in unknown:
            column = "metal_a" if name == names[0] else "metal_b"
            todo = nearest(name, (*melts, *WORDS), f"write a symbol, or one of: {', '.join(WORDS)}")
            problems.add(record, column, f"'{name[:30]}' is no metal here", todo)
        if unknown:
            continue
        if names != sorted(names):
            problems.add(record, "metal_a", f"{names[0]} stands before {names[1]}", "write them in alphabetic order")
        ends = [melts[n] if n in melts else solid.get(n, max(melts.get(s, 0.0) for s in WORDS[n])) for n in names]
        # Phosphorus melts far below what it makes with copper, and boils.
        if "P" not in names:
            _check_one(record, names, min(ends), max(ends), problems)
        _check_words(record, names, problems)
        _check_agrees(record, pairs, names, problems)


def _solidus_of_words(records: Records) -> dict[str, float]:
    """The highest solidus of the base metals that a word stands for."""
    figures = preferred(records)
    found: dict[str, float] = {}
    for record in records["materials"]:
        key, family = str(record.values["key"]), str(record.values["family"])
        word = "sterling" if key.startswith("sterling") else family
        figure = figures.get((key, "solidus"))
        if figure is not None and word in WORDS:
            found[word] = max(found.get(word, 0.0), number(figure, "value") or 0.0)
    return found


def _check_one(record: Record, names: list[str], lower: float, higher: float, problems: Problems) -> None:
    first, reaction = number(record, "first_melts_c"), str(record.values["reaction"])
    if first is None:
        return
    alloy = any(name in WORDS for name in names)
    # The first melt on the side of the higher metal, where the row says so.
    rich = "-rich" in str(record.values["composition"] or "") and "zinc-rich" not in str(record.values["composition"])
    bounds = {
        "eutectic": (-273.0, lower + ROUND_K),
        "minimum": (-273.0, lower + ROUND_K),
        "peritectic": (lower - 15.0, higher if rich else lower + 25.0),
        "isomorphous": (lower - (200.0 if alloy else ROUND_K), lower + ROUND_K),
        "immiscible": (lower - ROUND_K, lower + ROUND_K),
        "ternary": (-273.0, lower + ROUND_K),
    }
    low, high = bounds.get(reaction, (-273.0, higher))
    if alloy and reaction == "peritectic":
        low = -273.0
    deepest = DEEPEST * (lower + 273.15) - 273.15
    if "Cu" in names and any(n in ("bronze", "brass") for n in names):
        deepest = -273.0
    if not alloy and not max(low, deepest) <= first <= high:
        what = f"{names[0]} and {names[1]}, {reaction}, first melt at {first:g} °C; the lower melts at {lower:g}"
        problems.add(record, "first_melts_c", what, "correct the temperature or the reaction")
    elif alloy and not max(low, deepest) <= first <= high:
        what = f"{names[0]} and {names[1]}, {reaction}, first melt at {first:g} °C; the lower at {lower:g}"
        problems.add(record, "first_melts_c", what, "correct the temperature or the reaction")
    if (reaction == "ternary") > alloy:
        problems.add(record, "reaction", "two elements make no ternary", "say what it is")
    ends = [number(record, c) for c in ("low", "high")]
    if ends[0] is not None and ends[1] is not None and ends[1] - ends[0] > WIDEST_K:
        problems.add(record, "high", f"the band is {ends[1] - ends[0]:g} K wide", f"at most {WIDEST_K:g} K")


def _check_words(record: Record, names: list[str], problems: Problems) -> None:
    """A composition names only elements of the pair."""
    held = {s for name in names for s in WORDS.get(name, (name,))} | ({"O"} if "Cu2O" in names else set())
    for symbol in re.findall(r"(?<![°\w])([A-Z][a-z]?)(?![a-z])", str(record.values["composition"] or "")):
        if symbol not in held:
            what = f"'{symbol}' is neither in {names[0]} nor in {names[1]}"
            problems.add(record, "composition", what, "correct the composition or the pair")


def _check_agrees(
    record: Record, pairs: dict[tuple[str, str, str], Record], names: list[str], problems: Problems
) -> None:
    key = (names[0], names[1], str(record.values["reaction"]))
    first = pairs.setdefault(key, record)
    a, b = number(first, "first_melts_c"), number(record, "first_melts_c")
    if a is not None and b is not None and abs(a - b) > AGREE_K:
        what = f"{b:g} °C, yet line {first.line} has {a:g} for the same pair and reaction"
        problems.add(record, "first_melts_c", what, "correct the one that is wrong")


def _check_known(records: Records, problems: Problems) -> None:
    """Silver, gold and copper leaf have a contact with every base metal that is of another element."""
    known = {frozenset(str(r.values[c]) for c in ("metal_a", "metal_b")) for r in records["contacts"]}
    leaves = {symbol for r in records["leaf_details"] for symbol in str(r.values["metal"]).split()}
    families = {str(r.values["key"]): str(r.values["family"]) for r in records["materials"]}
    for record in records["metal_details"]:
        main = re.match(r"[A-Z][a-z]?", str(record.values["alloy"] or ""))
        if main is None:
            continue
        family = families.get(str(record.values["material"]), "")
        word = family if family in WORDS else main[0]
        for leaf in (symbol for symbol in LAID if symbol in leaves):
            if leaf != word and frozenset((leaf, word)) not in known:
                what = f"where {leaf} on {word} first melts is not known"
                problems.add(record, "alloy", what, "add the pair to contacts.csv")


CHECKS: tuple[Check, ...] = (
    (_check_contacts, ("contacts", "elements", "property_values", "materials")),
    (_check_known, ("contacts", "metal_details", "leaf_details", "materials")),
)
