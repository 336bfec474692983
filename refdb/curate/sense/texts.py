"""Words: sentences end, headings do not, nothing is said twice, and what a text points to is there."""

from __future__ import annotations

from collections.abc import Iterable

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
    "solders": ("label",),
    "hazards": ("hazard",),
    "reference_glasses": ("locator",),
}
_FREE = ("note", "authors", "as_printed", "numbers")
#: Columns that start with a capital, or with a small letter (a digit or symbol may always stand there).
_CAPITAL = ("label", "title", "name", "symptom")
_SMALL_LABELS = ("properties", "elements", "symptoms", "firing_phases")
_SMALL = ("family", "step", "hazard", "agent", "topic", "applies_to", "quantity", "colourant", "when_seen", "rule")
#: Tables whose rows are told apart by a key alone: two that say the same are one.
_KEYED = ("fit_rules", "colour_reactions", "faults", "solders", "firing_phases", "practice_rules", "hazards",
          "exposure_limits", "known_pairs", "observed_firings", "sources", "reference_glasses", "elements",
          "metal_details", "glass_details", "leaf_details", "properties")  # fmt: skip


def _check_form(records: Records, problems: Problems) -> None:
    """A sentence begins with a capital and ends with a full stop; a heading or a phrase does not end so."""
    for table in TABLES:
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


def _check_once(records: Records, problems: Problems) -> None:
    """A label, a title or a rule stands once; two rows that say all the same but their key are one."""
    for table in TABLES:
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


CHECKS: tuple[Check, ...] = (
    (_check_form, tuple(table.name for table in TABLES)),
    (_check_once, tuple(table.name for table in TABLES)),
    (_check_pointers, ("fit_rules", "colour_reactions", "known_pairs", "practice_rules", "materials", "hazards")),
)
