"""Alloys, solders and leaf against the elements they are made of: sums, densities, melting, family, carat, fume."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from refdb.curate.cells import nearest
from refdb.curate.layout import METALS
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, keyed, middle, number, preferred, span
from refdb.store.workshop.alloy import GOLD_FROM

_SHARE = r"(\d+(?:\.\d+)?)"
_PART = re.compile(rf"(?<![A-Za-z-])([A-Z][a-z]?)(?![a-z])(?: about)? ?{_SHARE}?(?:-{_SHARE})?")
#: The shares of an alloy, as written, add up to this [%].
WHOLE = (97.5, 102.5)
#: A leaf begins to melt at most so far below the lowest of what is here of the same elements [K].
LEAF_BELOW_K = 60.0
#: Density against volume mixing; brasses contract by up to 2.5 % on mixing.
OFF_DENSITY = 0.035
#: From solidus to liquidus of a solder, at most [K].
SOLDER_RANGE_K = 220.0
#: A solder begins to melt no higher than what it holds most of [K], and is molten no higher than this above the mean of
#: its elements by their shares: what is chosen because it melts easily makes no compound that melts hard.
SOLIDUS_OVER_MAIN_K, LIQUIDUS_OVER_MEAN_K = 6.0, 90.0
#: The first element of each family of metals, and others that it holds.
FAMILIES = {
    "aluminium": ("Al",),
    "brass": ("Cu", "Zn"),
    "bronze": ("Cu",),
    "copper": ("Cu",),
    "gilding metal": ("Cu", "Zn"),
    "gold": ("Au",),
    "iron": ("Fe",),
    "nickel": ("Ni",),
    "palladium": ("Pd",),
    "platinum": ("Pt",),
    "silver": ("Ag",),
    "stainless steel": ("Fe", "Cr"),
    "steel": ("Fe",),
    "titanium": ("Ti",),
}
#: Zinc, at most, of copper alloys by family [%].
MOST_ZINC = {"gilding metal": 12.0, "copper": 0.1, "bronze": 5.0}
LEAST_ZINC = {"brass": 12.0}
#: Fume of a solder, by the element that gives it.
FUMES = {"zinc": "Zn", "cadmium": "Cd", "lead": "Pb"}


#: Words for what the kiln leaves on a bare metal, and the element it is of.
OXIDES = {
    "alumina": "Al", "zinc": "Zn", "tin": "Sn", "cuprous": "Cu", "copper": "Cu", "cupric": "Cu", "iron": "Fe",
    "nickel": "Ni", "palladium": "Pd", "germania": "Ge", "chromia": "Cr", "fire-stain": "Cu",
}  # fmt: skip
#: How leaf is fit to fire, by its metal (base, noble, Pt) and whether it is leaf or thicker.
SUITED = {
    ("noble", "foil"): ("suits",),
    ("noble", "leaf"): ("suits with care",),
    ("Pt", "leaf"): ("suits",),
    ("base", "leaf"): ("does not suit",),
    ("base", "foil"): ("suits with care", "does not suit"),
}
#: The elements of which a solder of each family holds one first or second, and a word of its label.
SOLDERS = {
    "silver braze": (("Ag",), r"Ag |BAg"),
    "gold solder": (("Au",), r"[Gg]old solder"),
    "jewellery silver solder": (("Ag",), r"[Ss]ilver"),
    "soft solder": (("Sn", "Pb"), r"Sn|SAC|[Ss]oft"),
    "copper-phosphorus": (("P", "Cu", "Ag"), r"CuP|[Pp]hos"),
    "copper-zinc": (("Zn",), r""),
    "copper braze": (("Cu",), r"[Cc]opper"),
    "eutectic": (("Ag", "Cu"), r""),
}


class Part(NamedTuple):
    """An element of an alloy and its share [%], least and most; both None where it is the rest."""

    symbol: str
    least: float | None
    most: float | None


def parts_of(text: str) -> list[Part]:
    """The elements of a composition as written, up to its first bracket or semicolon."""
    found = []
    for symbol, least, most in _PART.findall(re.split(r"[(;=]", text)[0]):
        low = float(least) if least else None
        found.append(Part(symbol, low, float(most) if most else low))
    return found


def shares(parts: Iterable[Part]) -> dict[str, float]:
    """Middle share of each element [%]; one without a number takes the rest."""
    parts = list(parts)
    found = {p.symbol: (p.least + p.most) / 2 for p in parts if p.least is not None and p.most is not None}
    rest = [p.symbol for p in parts if p.least is None]
    for symbol in rest:
        found.setdefault(symbol, max(0.0, 100.0 - sum(found.values())) if symbol == rest[0] else 0.0)
    return found


def _check_metals(records: Records, problems: Problems) -> None:
    """A base metal is made of known elements that add up, belongs to its family, and weighs and melts like them."""
    elements, figures, details = keyed(records, "elements", "symbol"), preferred(records), records["metal_details"]
    families = {str(r.values["key"]): str(r.values["family"]) for r in records["materials"]}
    for record in details:
        material, text = str(record.values["material"]), str(record.values["alloy"] or "")
        parts = parts_of(text)
        if not _are_known(record, "alloy", parts, elements, problems) or not parts:
            continue
        _check_shares(record, "alloy", parts, problems)
        _check_sum(record, "alloy", parts, problems)
        mixed = shares(parts)
        _check_family(record, families.get(material, ""), mixed, problems)
        _check_content(record, material, mixed, figures, problems)
        _check_density(record, material, mixed, elements, figures, problems)
        _check_melting(material, [elements[s] for s in mixed if s != "C"], figures, problems)


def _are_known(record: Record, column: str, parts: list[Part], elements: dict[str, Record], problems: Problems) -> bool:
    for part in parts:
        if part.symbol not in elements:
            todo = nearest(part.symbol, elements, "add it to elements.csv, or correct the symbol")
            problems.add(record, column, f"no element has the symbol '{part.symbol}'", todo)
            return False
    return True


def _check_shares(record: Record, column: str, parts: list[Part], problems: Problems) -> None:
    """Each share lies between nothing and all, and the least of a range stands first."""
    if minus := re.search(r"(?<![\d.])-\d[\d.]*", re.split(r"[(;=]", str(record.values[column]))[0]):
        problems.add(record, column, f"a share of {minus[0]}", "a share is no less than nothing")
    for part in parts:
        if part.least is not None and part.most is not None and not part.least <= part.most <= 100.0:
            what = f"{part.least:g} to {part.most:g} % of {part.symbol}"
            problems.add(record, column, what, "write the least share first; none is over 100")


def _check_sum(record: Record, column: str, parts: list[Part], problems: Problems) -> None:
    least = sum(p.least or 0.0 for p in parts)
    most = sum(p.most or 0.0 for p in parts)
    open_end = any(p.least is None for p in parts)
    if least > WHOLE[1] or (not open_end and most < WHOLE[0]):
        total = f"{least:g}" if least == most else f"{least:g} to {most:g}"
        problems.add(record, column, f"the shares add up to {total}", "they must make 100 between them")


def _check_family(record: Record, family: str, mixed: dict[str, float], problems: Problems) -> None:
    due = FAMILIES.get(family)
    if due is None:
        return
    # Low carat gold holds more copper than gold.
    main = "Au" if mixed.get("Au", 0.0) >= GOLD_FROM else max(mixed, key=lambda s: mixed[s])
    zinc = mixed.get("Zn", 0.0)
    wrong = main != due[0] or not set(due) <= mixed.keys()
    wrong |= not LEAST_ZINC.get(family, 0.0) <= zinc <= MOST_ZINC.get(family, 100.0)
    wrong |= family == "bronze" and "Zn" not in mixed and not {"Sn", "Si", "Al"} & mixed.keys()
    if wrong:
        what = f"an alloy of {', '.join(mixed)} is no {family}"
        problems.add(record, "family", what, "correct the composition or the family")


def _check_content(
    record: Record, material: str, mixed: dict[str, float], figures: dict[tuple[str, str], Record], problems: Problems
) -> None:
    """What is given of zinc and tin, and the carat in the name, agree with the composition."""
    for name, symbol in (("zinc_content", "Zn"), ("tin_content", "Sn")):
        given = figures.get((material, name))
        band = None if given is None else span(given)
        if given is not None and band is not None and not band[0] <= mixed.get(symbol, 0.0) <= band[1]:
            what = f"{band[0]:g} to {band[1]:g} %, yet the composition holds {mixed.get(symbol, 0.0):g} % {symbol}"
            problems.add(given, "value", what, "correct the one or the other")
        if given is None and mixed.get(symbol, 0.0) >= 1.0:
            what = f"{material} holds {mixed[symbol]:g} % {symbol} and has no {name.replace('_', ' ')}"
            problems.add(record, "alloy", what, "add it to property_values.csv")
    carat = re.match(r"gold-(\d+)k", material)
    if carat and abs(mixed.get("Au", 0.0) - int(carat[1]) / 24 * 100) > 0.6:
        what = f"{mixed.get('Au', 0.0):g} % of gold, yet {int(carat[1])} carat is {int(carat[1]) / 24 * 100:.1f} %"
        problems.add(record, "alloy", what, "correct the composition")


def _check_density(
    record: Record,
    material: str,
    mixed: dict[str, float],
    elements: dict[str, Record],
    figures: dict[tuple[str, str], Record],
    problems: Problems,
) -> None:
    volume = sum(share / (number(elements[s], "density_kg_m3") or 1.0) for s, share in mixed.items())
    given, sintered = figures.get((material, "density")), figures.get((material, "relative_density"))
    value = None if given is None else middle(given)
    if given is None or value is None or not volume:
        return
    solid = sum(mixed.values()) / volume
    dense = (middle(sintered) or 100.0) / 100.0 if sintered is not None else 1.0
    if abs(value / (solid * dense) - 1.0) > OFF_DENSITY:
        what = f"{material}: {value:g} kg/m³, yet its elements make {solid * dense:.0f}"
        problems.add(given, "value", what, "correct the density or the composition in metals.csv")
    for column in ("low", "high"):
        end = number(given, column)
        share = dense if sintered is None else (number(sintered, column) or 100.0) / 100.0
        if end is not None and abs(end / (solid * share) - 1.0) > 2 * OFF_DENSITY:
            what = f"{material}: {end:g} kg/m³, yet its elements make {solid * share:.0f}"
            problems.add(given, column, what, "correct that end of the band")


def _check_melting(
    material: str, elements: list[Record], figures: dict[tuple[str, str], Record], problems: Problems
) -> None:
    top = max((number(e, "melts_c") or 0.0 for e in elements), default=0.0)
    for name in ("solidus", "liquidus"):
        given = figures.get((material, name))
        value = None if given is None else middle(given)
        if given is not None and value is not None and value > top + 6.0:
            what = f"{material}: {name} {value:g} °C, above the {top:g} of all its elements"
            problems.add(given, "value", what, "correct it")


def _floors(
    records: Records, elements: dict[str, Record], figures: dict[tuple[str, str], Record]
) -> dict[frozenset[str], float]:
    """By elements, the lowest at which something of all of them begins to melt, less `LEAF_BELOW_K` [°C]."""
    found = {frozenset((symbol,)): number(r, "melts_c") or 0.0 for symbol, r in elements.items()}
    for record in records["metal_details"]:
        held = frozenset(part.symbol for part in parts_of(str(record.values["alloy"] or "")))
        figure = figures.get((str(record.values["material"]), "solidus"))
        solidus = None if figure is None else middle(figure)
        if solidus is not None and len(held) > 1:
            found[held] = min(solidus, found.get(held, solidus))
    for record in records["contacts"]:
        pair = frozenset(str(record.values[c]) for c in ("metal_a", "metal_b"))
        found.setdefault(pair, number(record, "first_melts_c") or 0.0)
    return {held: floor - LEAF_BELOW_K for held, floor in found.items()}


def _check_leaf(records: Records, problems: Problems) -> None:
    """A leaf weighs its thickness times a density of its metals, melts among them, and is as fine as its carat."""
    elements, figures = keyed(records, "elements", "symbol"), preferred(records)
    floors = _floors(records, elements, figures)
    for record in records["leaf_details"]:
        material, symbols = str(record.values["material"]), str(record.values["metal"] or "").split()
        if not _are_known(record, "metal", [Part(s, None, None) for s in symbols], elements, problems) or not symbols:
            continue
        made_of = [elements[s] for s in symbols]
        _check_melting(material, made_of, figures, problems)
        solidus, floor = figures.get((material, "solidus")), floors.get(frozenset(symbols))
        value = None if solidus is None else middle(solidus)
        if solidus is not None and value is not None and floor is not None and value < floor:
            what = f"{material}: {value:g} °C, yet nothing of {' and '.join(symbols)} melts below {floor:g}"
            problems.add(solidus, "value", what, "correct it; look at the unit")
        mass, thick = (figures.get((material, name)) for name in ("areal_mass", "leaf_thickness"))
        if mass is not None and thick is not None:
            heavy, deep = middle(mass), middle(thick)
            densities = [number(e, "density_kg_m3") or 0.0 for e in made_of]
            if heavy and deep and not min(densities) * 0.96 <= heavy / deep <= max(densities) * 1.04:
                what = f"{material}: mass over thickness is {heavy / deep:.0f} kg/m³"
                problems.add(mass, "value", what, f"its metals have {min(densities):g} to {max(densities):g}")
        carat, fine = re.search(r"-(\d+)k$", material), re.fullmatch(r"\d+", str(record.values["fineness"] or ""))
        if carat and fine and abs(int(fine[0]) - int(carat[1]) / 24 * 1000) > 3:
            what = f"{fine[0]}, yet {carat[1]} carat is {int(carat[1]) / 24 * 1000:.0f}"
            problems.add(record, "fineness", what, "correct the fineness") if int(carat[1]) < 24 else None


def _check_solders(records: Records, problems: Problems) -> None:
    """A solder's shares add up, it melts within reason and where its note says, and its fume is named."""
    elements = keyed(records, "elements", "symbol")
    floors = {
        frozenset(str(r.values[c]) for c in ("metal_a", "metal_b")): number(r, "low") or number(r, "first_melts_c")
        for r in sorted(records["contacts"], key=lambda r: -(number(r, "first_melts_c") or 0.0))
    }
    for record in records["solders"]:
        text = str(record.values["composition"] or "")
        parts = parts_of(text)
        if not _are_known(record, "composition", parts, elements, problems) or not parts:
            continue
        _check_shares(record, "composition", parts, problems)
        if not re.search(r"\bparts\b|-", text) and all(p.least is not None for p in parts[:2]):
            _check_sum(record, "composition", parts, problems)
        _check_solder_melting(record, shares(parts), elements, problems)
        pair = frozenset(p.symbol for p in parts)
        floor, solidus = floors.get(pair), number(record, "solidus_c")
        if floor is not None and solidus is not None and solidus < floor - 2.0:
            what = f"{solidus:g} °C, and {' and '.join(sorted(pair))} first melt together at {floor:g}"
            problems.add(record, "solidus_c", what, "correct one")
        held = {p.symbol for p in parts} | set(re.findall(r"[A-Z][a-z]?", text))
        hazard = str(record.values["hazard"] or "")
        for word, symbol in FUMES.items():
            hides = word == "zinc" and "Cd" in held
            if (symbol in held) != (word in hazard) and not hides:
                what = f"it holds {symbol}" if symbol in held else f"it holds no {symbol}"
                problems.add(record, "hazard", f"{what}, yet the hazard is '{hazard or 'blank'}'", "correct one")


def _check_solder_melting(
    record: Record, mixed: dict[str, float], elements: dict[str, Record], problems: Problems
) -> None:
    solidus, liquidus = number(record, "solidus_c"), number(record, "liquidus_c")
    melts = {symbol: number(elements[symbol], "melts_c") or 0.0 for symbol in mixed}
    main = max(mixed, key=lambda symbol: mixed[symbol])
    mean = sum(melts[symbol] * share for symbol, share in mixed.items()) / (sum(mixed.values()) or 1.0)
    for column, value, most in (
        ("solidus_c", solidus, melts[main] + SOLIDUS_OVER_MAIN_K),
        ("liquidus_c", liquidus, min(mean + LIQUIDUS_OVER_MEAN_K, max(melts.values()) + 2.0)),
    ):
        if value is not None and not 110.0 <= value <= most:
            what = f"{value:g} °C, yet its elements melt up to {most:.0f}"
            problems.add(record, column, what, "correct it; look at the unit")
    if solidus is not None and liquidus is not None and liquidus - solidus > SOLDER_RANGE_K:
        what = f"it melts over {liquidus - solidus:g} K"
        problems.add(record, "liquidus_c", what, f"no solder melts over more than {SOLDER_RANGE_K:g} K; correct one")


def _check_elements(records: Records, problems: Problems) -> None:
    """An element stands here when something is made of it, and is as dense and melts as its base metal does."""
    used = {symbol for r in records["leaf_details"] for symbol in str(r.values["metal"]).split()}
    used |= {str(r.values[c]) for r in records["contacts"] for c in ("metal_a", "metal_b")}
    for table, column in (("metal_details", "alloy"), ("solders", "composition")):
        for record in records[table]:
            used |= set(re.findall(r"[A-Z][a-z]?", str(record.values[column] or "")))
    figures = preferred(records)
    pure = {}
    for record in records["metal_details"]:
        parts = parts_of(str(record.values["alloy"] or ""))
        if len(parts) == 1 and (parts[0].least or 0.0) >= 95.0 and record.values["form"] == "sheet":
            pure[parts[0].symbol] = str(record.values["material"])
    for record in records["elements"]:
        symbol = str(record.values["symbol"])
        if METALS.get(symbol, record.values["name"]) != record.values["name"]:
            problems.add(record, "name", f"{symbol} is {METALS[symbol]}", "correct symbol or name")
        if symbol not in used:
            problems.add(record, "symbol", f"nothing here is made of {symbol}", "take it out, or correct the symbol")
        for column, name, off in (("density_kg_m3", "density", 60.0), ("melts_c", "liquidus", 4.0)):
            figure = figures.get((pure.get(symbol, ""), name))
            value, mine = None if figure is None else middle(figure), number(record, column)
            if value is not None and mine is not None and abs(value - mine) > off:
                problems.add(
                    record, column, f"{mine:g}, yet {pure[symbol]} has {value:g}", "correct the one or the other"
                )


def _check_surface(records: Records, problems: Problems) -> None:
    """The oxide said to cover a bare metal is of an element in it."""
    for record in records["metal_details"]:
        held = {p.symbol for p in parts_of(str(record.values["alloy"] or ""))}
        text = str(record.values["bare_surface"] or "")
        for word, symbol in OXIDES.items():
            if word in text and symbol not in held:
                what = f"'{text[:40]}' on an alloy without {symbol}"
                problems.add(record, "bare_surface", what, "correct the surface or the composition")
        if text == "none" and not held <= {"Ag", "Au", "Pt", "Pd"}:
            problems.add(record, "bare_surface", f"none on {', '.join(sorted(held))}", "say what the kiln does to it")


def _check_suited(records: Records, problems: Problems) -> None:
    """Whether a leaf is fit to fire follows from its metal and its thickness."""
    for record in records["leaf_details"]:
        symbols = str(record.values["metal"] or "").split()
        if not symbols:
            continue
        base = "base" if not {"Ag", "Au", "Pt", "Pd"} & set(symbols) else "Pt" if symbols[0] == "Pt" else "noble"
        due = SUITED.get((base, "leaf" if record.values["form"] == "leaf" else "foil"))
        if due is not None and record.values["suited"] not in (*due, None):
            what = f"'{record.values['suited']}' of {record.values['form']} of {symbols[0]}"
            problems.add(record, "suited", what, f"it can be: {', '.join(due)}")
        word = str(record.values["material"]).split("-")
        form = record.values["form"]
        if form in ("leaf", "foil") and {"leaf", "foil"} & set(word) and form not in word:
            problems.add(record, "form", f"'{form}', yet it is called {record.values['material']}", "correct one")


def _check_families(records: Records, problems: Problems) -> None:
    """A solder is of its family: by the elements it holds, and by its name."""
    for record in records["solders"]:
        due = SOLDERS.get(str(record.values["family"]))
        text, label = str(record.values["composition"] or ""), str(record.values["label"])
        if due is None or not text:
            continue
        main, word = due
        held = re.findall(r"[A-Z][a-z]?", text)
        if not set(main) & set(held) or (word and not re.search(word, label)):
            what = f"'{label[:30]}' of {text[:30]} is no {record.values['family']}"
            problems.add(record, "family", what, "correct the family")


CHECKS: tuple[Check, ...] = (
    (_check_elements, ("elements", "metal_details", "leaf_details", "solders", "contacts", "property_values")),
    (_check_surface, ("metal_details",)),
    (_check_suited, ("leaf_details",)),
    (_check_families, ("solders",)),
    (_check_metals, ("metal_details", "elements", "property_values", "materials")),
    (_check_leaf, ("leaf_details", "elements", "property_values", "metal_details", "contacts")),
    (_check_solders, ("solders", "elements", "contacts")),
)
