"""Rules against the glasses and metals that they pick: a rule speaks of what its key says, and pairs follow it."""

from __future__ import annotations

from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, keyed, words
from refdb.errors import BadInput
from refdb.judge.rules import RULES
from refdb.judge.selectors import GLASS_FIELDS, METAL_FIELDS, tokens_of

REFUSES = "does not suit"
#: How a ground is said in keys of colour reactions.
_GROUND_WORDS = {"leaf": {"Au": "gold", "Ag": "silver", "Cu": "copper"}, "wire": {"Ag": "silver", "Cu": "copper"}}
#: Words of keys that stand for more than the letters in a selector.
_MEANT = {
    "warm": ("amber", "violet"),
    "steel": ("steel",),
    "chromium": ("stainless",),
    "manganese": ("violet",),
    "leaded": ("lead:",),
    "specks": ("any", "opaque"),
    "chrome": ("any", "green"),
}
_LEAST_LETTERS = 3
#: Rules of the judge that look at the metal alone or the glass alone may refuse any pair.
PAIR_EXCEPTIONS = "the other texts"


def picks(selector: str, fields: tuple[str, ...], values: dict[str, str]) -> bool:
    """Whether a selector picks a record, given as its fields; what cannot be read picks nothing."""
    try:
        tokens = tokens_of(selector, fields)
    except BadInput:
        return False
    for inverse, name, wanted in tokens:
        held = set(words(values.get(name))) if name in ("holds", "made_for") else {values.get(name, "")}
        if name == "undercoat":
            held = {"yes" if values.get(name) else "no"}
        if bool(held & wanted) == inverse:
            return False
    return True


def _fields(records: Records, table: str) -> dict[str, dict[str, str]]:
    families = {str(r.values["key"]): str(r.values["family"]) for r in records["materials"]}
    return {
        key: {
            **{name: str(value or "") for name, value in record.values.items()},
            "key": key,
            "family": families.get(key, ""),
        }
        for key, record in keyed(records, table, "material").items()
    }


def _check_picked(records: Records, problems: Problems) -> None:
    """Every rule of fit picks a glass and a metal, and its outcome is a warning."""
    glasses, metals = _fields(records, "glass_details"), _fields(records, "metal_details")
    for record in records["fit_rules"]:
        if record.values["outcome"] == "suits":
            problems.add(record, "outcome", "a rule that warns of nothing", "say what care it asks for, or refuse")
        for column, fields, all_of in (("glass", GLASS_FIELDS, glasses), ("metal", METAL_FIELDS, metals)):
            text = str(record.values[column] or "any")
            if "own compositions" not in text and not any(picks(text, fields, v) for v in all_of.values()):
                problems.add(record, column, f"'{text[:50]}' picks nothing that is here", "correct the selector")


def _check_said(records: Records, problems: Problems) -> None:
    """A word of the key of a rule or a reaction stands in what it picks."""
    for table, columns in (("fit_rules", ("glass", "metal")), ("colour_reactions", ("glass", "ground"))):
        for record in records[table]:
            text = " ".join(str(record.values[c] or "") for c in columns)
            kind, _, symbols = str(record.values.get("ground") or "").partition(" ")
            for symbol in symbols.split("|"):
                text += f" {_GROUND_WORDS.get(kind, {}).get(symbol.strip(), '')}"
            parts = str(record.values["key"]).split("-")
            meant = [word for part in parts for word in _MEANT.get(part, (part[:5],)) if len(word) >= _LEAST_LETTERS]
            if not any(word in text for word in meant):
                what = f"nothing of '{record.values['key']}' stands in what it picks ('{text[:50].strip()}')"
                problems.add(record, columns[0], what, "correct the selectors or the key")
            _check_names(record, parts[parts.index("on") :] if "on" in parts else parts, text, columns, problems)


#: Words of a key that name a ground or a kind of glass, and must then stand in the selectors.
_STRICT = ("copper", "silver", "gold", "brass", "bronze", "steel", "titanium", "nickel", "palladium", "aluminium",
           "cadmium", "ruby", "amber", "blue", "turquoise", "violet", "opal")  # fmt: skip


def _check_names(record: Record, parts: list[str], text: str, columns: tuple[str, ...], problems: Problems) -> None:
    lost = [part for part in parts if part in _STRICT and part not in text and "any" not in text.split()]
    if lost:
        what = f"the key speaks of {lost[0]}, and the selectors ('{text[:50].strip()}') do not"
        problems.add(record, columns[1], what, "correct the selectors or the key")


def _check_pairs(records: Records, problems: Problems) -> None:
    """A known pair holds against no rule that refuses it, and a rule it points to speaks of it."""
    glasses, metals = _fields(records, "glass_details"), _fields(records, "metal_details")
    rules = keyed(records, "fit_rules")
    for record in records["known_pairs"]:
        glass, metal = glasses.get(str(record.values["glass"])), metals.get(str(record.values["metal"]))
        if glass is None or metal is None:
            continue
        refusing = [k for k, r in rules.items() if r.values["outcome"] == REFUSES and _speaks_of(r, glass, metal)]
        told = str(record.values["note"] or "")
        if record.values["holds"] == "yes" and refusing and PAIR_EXCEPTIONS not in told:
            what = f"it is said to hold, and the rule {refusing[0]} refuses it"
            problems.add(record, "holds", what, f"correct one, or say in the note that {PAIR_EXCEPTIONS} forbid it")
        for pointer in words(told):
            table, _, key = pointer.partition(" ")
            if table == "fit_rules" and key in rules and not _speaks_of(rules[key], glass, metal):
                what = f"the rule {key} does not speak of {record.values['glass']} on {record.values['metal']}"
                problems.add(record, "note", what, "correct the pair or the rule it points to")
        parts = set(str(record.values["metal"]).split("-"))
        if not any(part in str(record.values["key"]) for part in parts if len(part) > 2):
            what = f"'{record.values['key']}' names nothing of {record.values['metal']}"
            problems.add(record, "metal", what, "correct the metal or the key")
        _check_faces(record, problems)


def _check_faces(record: Record, problems: Problems) -> None:
    front, back = record.values["front_mm"], record.values["back_mm"]
    told = f"{record.values['key']} {record.values['words']}"
    if front != back and back != 0 and front != 0 and "uneven" not in told and "several" not in told:
        what = f"{front} mm in front and {back} mm behind"
        problems.add(record, "back_mm", what, "both faces alike, one bare, or say in the words that they are uneven")


def _speaks_of(rule: Record, glass: dict[str, str], metal: dict[str, str]) -> bool:
    return picks(str(rule.values["glass"]), GLASS_FIELDS, glass) and picks(
        str(rule.values["metal"]), METAL_FIELDS, metal
    )


def _check_refusals(records: Records, problems: Problems) -> None:
    """What refuses a build is a rule that refuses this glass on this metal, or one of the judge's that computes."""
    glasses, metals = _fields(records, "glass_details"), _fields(records, "metal_details")
    rules = keyed(records, "fit_rules")
    # Asked of the pairs that were refused, not of every glass on every metal, of which there are many more.
    for record in records["builds"]:
        by, pair = record.values["refused_by"], (str(record.values["glass"]), str(record.values["metal"]))
        if by is None or str(by) in RULES:
            continue
        rule, glass, metal = rules.get(str(by)), glasses.get(pair[0]), metals.get(pair[1])
        refuses = (
            rule is not None
            and glass is not None
            and metal is not None
            and rule.values["outcome"] == REFUSES
            and _speaks_of(rule, glass, metal)
        )
        if not refuses:
            what = f"'{by}' does not refuse {pair[0]} on {pair[1]}"
            problems.add(record, "refused_by", what, "generate the builds anew (scripts/make_builds.py)")


CHECKS: tuple[Check, ...] = (
    (_check_picked, ("fit_rules", "glass_details", "metal_details", "materials")),
    (_check_said, ("fit_rules", "colour_reactions")),
    (_check_pairs, ("known_pairs", "fit_rules", "glass_details", "metal_details", "materials")),
    (_check_refusals, ("builds", "fit_rules", "glass_details", "metal_details", "materials")),
)
