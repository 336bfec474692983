"""Classes of glass against their own names, hazards and published compositions."""

from __future__ import annotations

import re
from collections import defaultdict

from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, by_property, keyed, middle, number, preferred, span, words
from refdb.store.schema import HELD

#: A word of the key or label, the column it settles, and what that then is.
NAMED = (
    (r"lead-free", "lead", ("free",)),
    (r"leaded|lead crystal|lead-crystal", "lead", ("contains",)),
    (r"cadmium", "cadmium", ("contains",)),
    (r"antimony", "lead", ("contains",)),
    (r"opaque|black|white|painting|counter", "optical", ("opaque",)),
    (r"transparent|clear|window|crystal|borosilicate", "optical", ("transparent",)),
    (r"opal\b|opal-", "optical", ("opalescent",)),
    (r"\bsoft\b", "hardness", ("soft", "medium")),
    (r"\bmedium\b", "hardness", ("medium",)),
    (r"\bhard\b", "hardness", ("hard",)),
    (r"window|crystal|borosilicate", "hardness", ("very hard",)),
    (r"counter", "role", ("counter enamel",)),
    (r"ground coat", "role", ("ground coat",)),
    (r"cover coat", "role", ("cover coat",)),
    (r"painting black|for painting$", "role", ("line work",)),
    (r"window|crystal|borosilicate", "role", ("not an enamel",)),
    (r"clear for|base white|hard clear|for titanium", "role", ("base coat",)),
    (r"soft clear", "role", ("finishing coat",)),
)
#: Words of which the key of each family holds one.
FAMILY_WORDS = {
    "ambers and yellows": ("amber", "yellow"),
    "blacks and greys": ("black", "grey"),
    "blues and greens": ("blue", "green", "turquoise"),
    "clears": ("clear",),
    "enamels for steel": ("steel",),
    "enamels for titanium": ("titanium",),
    "painting colours": ("painting",),
    "reds, pinks and violets": ("red", "ruby", "violet", "pink"),
    "undercoats and counter enamels": ("counter", "base"),
    "whites and opals": ("white", "opal"),
}
#: What a role needs beneath it or not, and whether the trade washes it.
NEEDS_UNDERCOAT = {"line work": True, "cover coat": True, "base coat": False, "ground coat": False}
WASH = {"transparent": ("yes", "optional"), "opalescent": ("yes",), "opaque": ("no", "optional")}
#: Oxides in weight per cent from which a glass counts as holding the element.
TRACE = 0.3
HELD_AS = {"lead": ("PbO", "PbF2"), "cadmium": ("CdO", "CdS", "CdF2")}
#: Words of the column `hazard` for an element that may or does stand in the glass.
_MAY = re.compile(r"\b(may|some|many|classic|old|unknown|possible)\b")
#: A class figure against what is computed from its published glasses: how far it may lie outside all their bands.
BESIDE = {"density": 150.0, "youngs_modulus": 8e9, "expansion": 1.2, "glass_transition": 40.0}
#: How far the set point of a class may lie outside those computed for its published glasses [K]. Middles are compared,
#: since the bands of so many kelvin each would hold any figure; a ground coat for steel lies 63 K out.
SET_POINT_BESIDE_K = 70.0


def _check_names(records: Records, problems: Problems) -> None:
    """What a class is called is what its columns say."""
    named = keyed(records, "materials")
    for record in records["glass_details"]:
        material = named.get(str(record.values["material"]))
        if material is None:
            continue
        text = f"{material.values['key']} {material.values['label']}".lower()
        for pattern, column, due in NAMED:
            found = re.search(pattern, text)
            if found and record.values[column] not in (*due, None) and not _is_other(pattern, text):
                what = f"'{record.values[column]}', yet it is called '{found[0].strip()}'"
                problems.add(record, column, what, f"it can be: {', '.join(due)}")
        family, family_words = str(material.values["family"]), FAMILY_WORDS.get(str(material.values["family"]))
        key = str(material.values["key"])
        if family_words and not any(word in key for word in family_words):
            what = f"nothing in '{key}' speaks of {family}"
            problems.add(material, "family", what, f"such keys hold: {', '.join(family_words)}")
        if (family == "not enamels") != (record.values["role"] == "not an enamel"):
            problems.add(record, "role", f"'{record.values['role']}' in the family '{family}'", "correct one")
        _check_use(record, problems)


def _is_other(pattern: str, text: str) -> bool:
    """White and black are opaque but as words in the names of clear things; hard and soft of an opaque are its own."""
    return ("white" in pattern and ("clear" in text or "opal" in text)) or (pattern == "antimony" and "free" in text)


def _check_use(record: Record, problems: Problems) -> None:
    """Undercoat, washing, hazards and made_for agree with role and looks."""
    role, optical = str(record.values["role"]), str(record.values["optical"])
    needs = NEEDS_UNDERCOAT.get(role)
    if needs is not None and needs != bool(record.values["undercoat"]):
        what = f"a {role} that {'lies on metal' if needs else 'needs glass beneath it'}"
        problems.add(record, "undercoat", what, "correct role or undercoat")
    if record.values["wash"] is not None and record.values["wash"] not in WASH.get(optical, (record.values["wash"],)):
        what = f"'{record.values['wash']}' for {optical} glass"
        problems.add(record, "wash", what, f"the trade says: {', '.join(WASH[optical])}")
    if (role == "not an enamel") == bool(record.values["made_for"]):
        problems.add(record, "made_for", f"'{role}' is made for '{record.values['made_for'] or 'none'}'", "correct one")
    hazard = str(record.values["hazard"] or "")
    for name in ("lead", "cadmium"):
        told = bool(re.search(rf"\b{name}\b", hazard))
        due = {"contains": told and not _MAY.search(hazard), "unknown": told, "free": not told}
        if not due.get(str(record.values[name]), True):
            what = f"'{record.values[name]}', yet the hazard is '{hazard or 'blank'}'"
            problems.add(record, name, what, f"say in both whether it holds {name}")
    for name in HELD:
        if re.search(rf"\b{name}\b", hazard) and name not in words(record.values["holds"]):
            what = f"the hazard names {name}, and it is not said to hold it"
            problems.add(record, "holds", what, "name it there too")
    for name in words(record.values["holds"]):
        if name[:6] not in f"{hazard} {record.values['colourant'] or ''}":
            what = f"'{name}', of which neither hazard nor colourant speaks"
            problems.add(record, "holds", what, "name it there too, or take it out")


def _check_compositions(records: Records, problems: Problems) -> None:
    """Lead and cadmium of a class against the published glasses of it; a label's silica against the composition."""
    made_of: dict[str, dict[str, float]] = defaultdict(dict)
    for record in records["compositions"]:
        made_of[str(record.values["glass"])][str(record.values["component"])] = number(record, "wt_pct") or 0.0
    glasses: dict[str, list[Record]] = defaultdict(list)
    for record in records["reference_glasses"]:
        glasses[str(record.values["material"])].append(record)
        _check_label(record, made_of.get(str(record.values["key"]), {}), problems)
    for record in records["glass_details"]:
        for glass in glasses[str(record.values["material"])]:
            holding = made_of.get(str(glass.values["key"]), {})
            for name, oxides in HELD_AS.items():
                share = sum(holding.get(oxide, 0.0) for oxide in oxides)
                wrong = share > TRACE and record.values[name] == "free"
                if wrong or (name == "lead" and share <= TRACE and record.values[name] == "contains"):
                    what = f"'{record.values[name]}', yet {glass.values['key']} holds {share:g} % of {oxides[0]}"
                    problems.add(record, name, what, "correct the one or the other")


#: What a label says a glass holds, and the least of it in weight per cent.
_IN_LABEL: tuple[tuple[str, tuple[str, ...]], ...] = (("silica", ("SiO2",)), ("lead oxide", ("PbO",)))
_RICH: dict[str, tuple[str, ...]] = {
    "zirconia": ("ZrO2",), "titania": ("TiO2",), "magnesia": ("MgO",), "strontia": ("SrO",), "baria": ("BaO",),
    "lithia": ("Li2O",), "fluor": ("F", "LiF", "KF", "CaF2", "Na2SiF6", "NaF", "AlF3", "Na3AlF6", "K2SiF6", "PbF2"),
    "boro": ("B2O3",), "manganese": ("MnO", "MnO2", "Mn2O3"), "tin oxide": ("SnO2", "SnO"), "cobalt": ("CoO", "Co3O4"),
    "chromium": ("Cr2O3",), "iron": ("Fe2O3", "FeO"), "lead": ("PbO",), "zinc": ("ZnO",),
}  # fmt: skip


def _check_label(record: Record, holding: dict[str, float], problems: Problems) -> None:
    label = str(record.values["label"] or "").lower()
    if not holding:
        return
    for word, oxides in _IN_LABEL:
        told = re.search(rf"(\d+(?:\.\d+)?) % {word}", label)
        share = sum(holding.get(o, 0.0) for o in oxides)
        if told and abs(share - float(told[1])) > (0.06 if "." in told[1] else 0.55):
            what = f"{told[1]} % of {word}, yet the composition has {share:g}"
            problems.add(record, "label", what, "correct the one or the other")
    for word, needed in _RICH.items():
        if word in label and not sum(holding.get(o, 0.0) for o in needed):
            what = f"'{word}' in the label, and no {needed[0]} in the composition"
            problems.add(record, "label", what, "correct the one or the other")


def _check_beside_estimates(records: Records, problems: Problems) -> None:
    """A figure measured on a published glass lies near what its composition gives, and so does the class figure."""
    estimates = {(str(r.values["glass"]), str(r.values["property"])): r for r in records["estimates"]}
    of_class: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for record in records["reference_glasses"]:
        for name in BESIDE:
            found = estimates.get((str(record.values["key"]), name))
            band = None if found is None else span(found)
            if band is not None:
                of_class[str(record.values["material"]), name].append(band)
    for (material, name), group in by_property(records).items():
        bands = of_class.get((material, name))
        for record in group if bands else ():
            mine = span(record)
            if mine is None or not bands or record.values["preferred"] != 1:
                continue
            low, high = min(b[0] for b in bands), max(b[1] for b in bands)
            gap = max(low - mine[1], mine[0] - high)
            if gap > BESIDE[name]:
                what = f"{material}, {name}: {gap:g} outside what its published glasses compute to"
                problems.add(record, "value", what, "correct the class figure or the compositions")


def _check_set_points(records: Records, problems: Problems) -> None:
    """The set point of a class lies among those that its published compositions give."""
    computed = {
        str(r.values["glass"]): at
        for r in records["estimates"]
        if r.values["property"] == "set_point" and (at := middle(r)) is not None
    }
    of_class: dict[str, list[float]] = defaultdict(list)
    for record in records["reference_glasses"]:
        if str(record.values["key"]) in computed:
            of_class[str(record.values["material"])].append(computed[str(record.values["key"])])
    for (material, name), record in preferred(records).items():
        value, among = middle(record), of_class.get(material)
        if name != "set_point" or value is None or not among:
            continue
        out = max(min(among) - value, value - max(among))
        if out > SET_POINT_BESIDE_K:
            what = f"{material}: set point {value:g}, its published glasses compute to {min(among):g}-{max(among):g} °C"
            problems.add(record, "value", what, "correct the set point or the compositions")


CHECKS: tuple[Check, ...] = (
    (_check_names, ("glass_details", "materials")),
    (_check_compositions, ("glass_details", "reference_glasses", "compositions")),
    (_check_beside_estimates, ("property_values", "reference_glasses", "estimates")),
    (_check_set_points, ("property_values", "reference_glasses", "estimates")),
)
