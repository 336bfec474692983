"""Words: sentences end, headings do not, nothing is said twice, and what a text points to is there."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from functools import partial

from refdb.curate.cells import Value, nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, words
from refdb.store.schema import TABLES, Table

#: Columns of whole sentences, by table; every other text but a note or an author ends without a full stop.
SENTENCES = {
    "properties": ("description",),
    "property_bounds": ("reason",),
    "materials": ("summary",),
    "metal_details": ("preparation",),
    "leaf_details": ("why", "handling"),
    "fit_rules": ("found", "why", "remedy"),
    "colour_reactions": ("change", "why", "remedy"),
    "symptoms": ("how_to_tell",),
    "faults": ("cause", "how_to_tell", "remedy", "prevention"),
    "practice_rules": ("statement", "reason"),
    "practice_topics": ("lead",),
    "known_pairs": ("words",),
    "hazards": ("caution",),
}
#: Columns in which a text may stand once, by table.
ONCE = {
    "sources": ("title", "name", "doi"),
    "properties": ("label", "description"),
    "elements": ("name",),
    "materials": ("label", "summary"),
    "leaf_details": ("why",),
    "fit_rules": ("found",),
    "practice_rules": ("statement", "reason"),
    "practice_topics": ("topic", "lead"),
    "solders": ("label",),
    "hazards": ("hazard",),
    "reference_glasses": ("locator",),
}
#: How keys of standards and of laws begin.
STANDARDS = (
    "asme-", "astm-", "cfr-", "cpsia", "din-", "en-", "eu-", "fda-", "iec-", "iso-", "niosh-", "reach-", "sor-", "uk-",
)  # fmt: skip
OLDEST, NEWEST = 1700, 2026
LONGEST_PRINT = 60
_FREE = ("note", "authors", "as_printed", "numbers")
#: Columns that start with a capital, or with a small letter (a digit or symbol may always stand there).
_CAPITAL = ("label", "title", "name", "symptom")
_SMALL_LABELS = ("properties", "elements", "symptoms", "firing_phases")
_SMALL = ("family", "step", "hazard", "agent", "topic", "applies_to", "quantity", "colourant", "when_seen", "rule")
#: Tables whose rows are told apart by a key alone: two that say the same are one.
_KEYED = ("fit_rules", "colour_reactions", "faults", "solders", "firing_phases", "practice_rules", "hazards",
          "exposure_limits", "known_pairs", "observed_firings", "sources", "reference_glasses", "elements",
          "metal_details", "glass_details", "leaf_details", "properties", "synonyms", "symptoms",
          "practice_topics")  # fmt: skip


def _check_form(table: Table, records: Records, problems: Problems) -> None:
    """A sentence begins with a capital and ends with a full stop; a heading or a phrase does not end so."""
    sentences = SENTENCES.get(table.name, ())
    for column in table.columns:
        name = column.name
        if column.type != "TEXT" or column.refers or column.choices or name in _FREE:
            continue
        for record in records[table.name]:
            text = record.values.get(name)
            if isinstance(text, str):
                _check_one(record, name, text, name in sentences, table, problems)


def _check_one(record: Record, name: str, text: str, sentence: bool, table: Table, problems: Problems) -> None:
    if sentence and not text.endswith((".", "?", "!")):
        problems.add(record, name, "this is no whole sentence", "end it with a full stop, or move it where it belongs")
    elif sentence and text[0].islower():
        problems.add(record, name, "the sentence begins with a small letter", "begin it with a capital")
    elif not sentence and text.endswith("."):
        problems.add(record, name, "a sentence where a word or phrase is due", "move it where it belongs")
    elif name in _CAPITAL and text[0].islower() and table.name not in _SMALL_LABELS:
        problems.add(record, name, "it begins with a small letter", "begin it with a capital")
    elif name in _SMALL and text[:2].istitle() and text[1:2].islower() and table.name != "sources":
        problems.add(record, name, "it begins with a capital", "begin it with a small letter")


def _check_once(table: Table, records: Records, problems: Problems) -> None:
    """A label, a title or a rule stands once; two rows that say all the same but their key are one."""
    for name in ONCE.get(table.name, ()):
        _check_column(records[table.name], name, problems)
    if table.name in _KEYED:
        _check_rows(table, records[table.name], problems)


def _check_column(records: Iterable[Record], name: str, problems: Problems) -> None:
    first: dict[str, Record] = {}
    for record in records:
        text = record.values.get(name)
        if not isinstance(text, str):
            continue
        before = first.setdefault(text.casefold(), record)
        if before is not record:
            problems.add(record, name, f"{before.file} line {before.line} says the same", "say here what is meant here")


def _check_rows(table: Table, records: Iterable[Record], problems: Problems) -> None:
    names = [c.name for c in table.columns if c.name not in (*table.key, "weight", "rank")]
    first: dict[tuple[Value, ...], Record] = {}
    for record in records:
        before = first.setdefault(tuple(record.values[name] for name in names), record)
        if before is not record:
            todo = "take one out, or say what sets them apart"
            problems.add(record, table.key[0], f"all but its key is as in line {before.line}", todo)


def _check_pointers(records: Records, problems: Problems) -> None:
    """Keys named inside a text are there: in selectors (`key:…`), and as file and key in the note of a known pair."""
    known = {table.name: {str(r.values.get("key")) for r in records[table.name]} for table in TABLES}
    of_kind = {
        kind: {str(r.values["key"]) for r in records["materials"] if r.values["kind"] == kind}
        for kind in ("glass", "metal")
    }
    for table in ("fit_rules", "colour_reactions"):
        for record in records[table]:
            for column, kind in (("glass", "glass"), ("metal", "metal"), ("ground", "glass")):
                text = str(record.values.get(column) or "")
                if column == "ground":
                    text = text.removeprefix("glass ") if text.startswith("glass ") else ""
                if text and not problems.at(record):
                    _check_keys(record, column, text, of_kind[kind], problems)
    for record in records["known_pairs"]:
        for pointer in words(record.values["note"]):
            table, _, key = pointer.partition(" ")
            if table in known and " " not in key and key not in known[table]:
                todo = nearest(key, known[table], f"give a key of {table}.csv")
                problems.add(record, "note", f"{table}.csv has no '{key[:40]}'", todo)


def _check_keys(record: Record, column: str, text: str, known: set[str], problems: Problems) -> None:
    parts = (part.strip().removeprefix("!") for part in text.split(";"))
    for key in (key for part in parts if part.startswith("key:") for key in part.removeprefix("key:").split("|")):
        if key not in known:
            problems.add(record, column, f"'{key[:40]}' is no key here", nearest(key, known, "correct the key"))


def _check_aliases(records: Records, problems: Problems) -> None:
    """The meanings of an alias are told in order: 1, 2, 3."""
    groups: dict[tuple[Value, Value], list[Record]] = defaultdict(list)
    for record in records["aliases"]:
        groups[record.values["alias"], record.values["kind"]].append(record)
    for (alias, _), group in groups.items():
        places = sorted(int(str(r.values["place"] or 0)) for r in group)
        if places != list(range(1, len(group) + 1)):
            what = f"the meanings of '{alias}' stand in the places {', '.join(map(str, places))}"
            problems.add(group[0], "place", what, "count them 1, 2, 3")


def _check_sources(records: Records, problems: Problems) -> None:
    """A source is as old as its key says, no younger than the day it was read, and its kind has what it needs."""
    for record in records["sources"]:
        key, year, kind = str(record.values["key"]), record.values["year"], str(record.values["kind"])
        found = re.match(r"\d{4}(?=-)", str(record.values["retrieved"] or ""))
        read = found[0] if found else ""
        told = re.search(r"-((?:17|18|19|20)\d\d)$", key)
        off = 2 if kind == "common practice" else 0
        of_standard = key.startswith(STANDARDS)
        if told and isinstance(year, int) and abs(year - int(told[1])) > off and not of_standard:
            problems.add(record, "year", f"{year}, yet the key says {told[1]}", "correct one")
        if isinstance(year, int) and (year > int(read or NEWEST) or year < OLDEST):
            problems.add(record, "year", f"{year}, and it was read in {read or 'no year'}", "correct the year")
        if kind != "standard" and of_standard:
            problems.add(record, "kind", f"'{kind}' of {key}", "keys of standards begin with the body that issues them")
        authors = str(record.values["authors"] or "")
        if kind in ("from memory", "computed") and authors:
            problems.add(record, "authors", f"authors of what is {kind}", "correct the kind")
        if authors and not authors[0].isupper():
            problems.add(record, "authors", "it begins with a small letter", "give names; a remark goes into the note")
        if told and kind not in ("paper", "handbook", "dataset", "library", "standard", "common practice"):
            problems.add(record, "kind", f"'{kind}' of {key}", "a key with a year is of a publication")


def _check_prints(records: Records, problems: Problems) -> None:
    """What is printed is short: a remark goes into the note."""
    for record in records["property_values"]:
        if len(str(record.values["as_printed"] or "")) > LONGEST_PRINT:
            problems.add(record, "as_printed", "too long for a figure", "copy the figure; a remark goes into the note")


def _check_records(records: Records, problems: Problems) -> None:
    """Glasses of one paper stand in one record of the open glass data; causes of a fault have its name in their key."""
    first: dict[Value, tuple[str, Record]] = {}
    for record in records["reference_glasses"]:
        for column in ("published_as", "for_metal"):
            if re.search(r"\d", str(record.values[column] or "")):
                problems.add(record, column, f"'{record.values[column]}'", "move it where it belongs")
        number = re.fullmatch(r"SciGlass record (\d+), glass \d+", str(record.values["locator"] or ""))
        if number is None:
            continue
        metal = re.search(r"enamel for (\w+)", str(record.values["published_as"] or ""))
        if metal and record.values["for_metal"] not in (metal[1], "steel" if "sheet" in metal[1] else metal[1]):
            what = f"'{record.values['for_metal'] or 'blank'}', yet it was published as '{metal[0]}'"
            problems.add(record, "for_metal", what, "correct one")
        told, other = first.setdefault(record.values["source"], (number[1], record))
        if told != number[1]:
            what = f"record {number[1]}, yet line {other.line} has {told} for the same paper"
            problems.add(record, "locator", what, "correct one")
    for record in records["faults"]:
        key, symptom = str(record.values["key"]), str(record.values["symptom"] or "")
        if symptom and not any(part[:2] == key[:2] or part in key for part in symptom.split("-")):
            problems.add(record, "symptom", f"'{symptom[:40]}', of which the key says nothing", "correct one")


CHECKS: tuple[Check, ...] = (
    (_check_aliases, ("aliases",)),
    (_check_sources, ("sources",)),
    (_check_prints, ("property_values",)),
    (_check_records, ("reference_glasses", "faults")),
    *((partial(_check_form, table), (table.name,)) for table in TABLES),
    *((partial(_check_once, table), (table.name,)) for table in TABLES),
    (_check_pointers, ("fit_rules", "colour_reactions", "known_pairs", "practice_rules", "materials", "hazards")),
)
