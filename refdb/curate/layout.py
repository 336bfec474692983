"""The SQL of the store, from the schema: tables with their CHECKs, indexes, views, the search tables."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from refdb.curate.convert import conversion
from refdb.store.schema import FILES, KINDS, TABLE, ColumnSpec, Table
from refdb.store.search_words import unaccented, with_denials


class Searched(NamedTuple):
    """A table that can be searched: the columns that head a hit, those of words people use, and marks left out."""

    title: tuple[str, ...]
    words: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()


SEARCHED: dict[str, Searched] = {
    "materials": Searched(("label",), ("family",)),
    "symptoms": Searched(("label",), ("words",)),
    "synonyms": Searched(("key",), ("words",), ("apart",)),
    "practice_rules": Searched(("statement",), ("topic", "applies_to", "asked")),
    "hazards": Searched(("hazard",), ("step", "asked"), ("trigger",)),
    "sources": Searched(("title",)),
    "fit_rules": Searched(("rule",), (), ("glass", "metal")),
    "colour_reactions": Searched(("change",), (), ("glass", "ground")),
    "observed_firings": Searched(("material", "result")),
    "contacts": Searched(("metal_a", "metal_b")),
    "solders": Searched(("label",), ("family",)),
    "firing_phases": Searched(("clay_family", "title")),
    "exposure_limits": Searched(("agent",)),
    "reference_glasses": Searched(("label",)),
}
#: So that "silver copper" finds the contact written Ag, Cu.
METALS = {
    "Ag": "silver", "Al": "aluminium", "Au": "gold", "Bi": "bismuth", "Cd": "cadmium", "Co": "cobalt",
    "Cr": "chromium", "Cu": "copper", "Fe": "iron", "Ge": "germanium", "In": "indium", "Mn": "manganese",
    "Ni": "nickel", "P": "phosphorus", "Pb": "lead", "Pd": "palladium", "Pt": "platinum", "Sb": "antimony",
    "Sn": "tin", "Ti": "titanium", "Zn": "zinc",
}  # fmt: skip
SEARCH_COLUMNS = ("key", "kind", "title", "words", "body")
SPELLING_COLUMNS = ("word", "uses")
_WORD = re.compile(r"[^\W_]+")
#: The file of each kind names its browse view.
VIEWS = {file.fixed["materials"]["kind"]: file for file in FILES if "materials" in file.fixed}
_LARGEST = "1.7976931348623157e308"


def table_sql(table: Table) -> str:
    """Return the CREATE TABLE statement of a table: STRICT, every CHECK, key and reference of the schema."""
    parts = [_column_sql(table, column) for column in table.columns]
    parts.append(f"PRIMARY KEY ({', '.join(table.key)})")
    parts += [f"UNIQUE ({', '.join(names)})" for names in table.unique]
    parts += [f"CHECK ({rule})" for rule in table.checks]
    return f"CREATE TABLE {table.name} (\n  " + ",\n  ".join(parts) + "\n) STRICT"


def _column_sql(table: Table, column: ColumnSpec) -> str:
    sql = f"{column.name} {column.type}"
    if column.required:
        sql += " NOT NULL"
    if rules := column_rules(table, column):
        sql += f" CHECK ({' AND '.join(rules)})"
    if column.refers:
        target, key = column.refers.split(".")
        sql += f" REFERENCES {target}({key})"
    return sql


def column_rules(table: Table, column: ColumnSpec) -> list[str]:
    """Return the SQL conditions on a column by itself: its choices, bounds, form of key, finite numbers."""
    name = column.name
    rules = []
    if column.required and column.type == "TEXT":
        rules.append(f"{name} != ''")
    if column.choices:
        rules.append(f"{name} IN ({', '.join(map(quoted, column.choices))})")
    if name == "key":
        rules.append(f"{name} NOT GLOB '*[^a-z0-9{'_' if table.name == 'properties' else ''}-]*'")
    if column.type != "TEXT" and column.low is not None:
        rules.append(f"{name} >= {column.low!r}")
    if column.type != "TEXT" and column.high is not None:
        rules.append(f"{name} <= {column.high!r}")
    if column.type == "REAL" and (column.low is None or column.high is None):
        rules.append(f"abs({name}) <= {_LARGEST}")
    return rules


def index_sql(table: Table) -> list[str]:
    """Return the CREATE INDEX statements of a table: one for each reference that no key begins with."""
    statements = [
        f"CREATE INDEX {table.name}_{column.name} ON {table.name}({column.name})"
        for column in table.columns
        if column.refers and column.name != table.key[0]
    ]
    if table.name == "property_values":
        statements.append(
            "CREATE UNIQUE INDEX one_preferred ON property_values(material, property) WHERE preferred = 1"
        )
    if table.name == "aliases":
        statements.append("CREATE INDEX aliases_folded ON aliases(folded)")
    return statements


def view_sql(kind: str, shown_units: Mapping[str, str], units: Mapping[str, str]) -> str:
    """Return the CREATE VIEW statement of a kind of material: its details, then preferred values in columns.

    Parameters
    ----------
    kind : str
        metal, glass or leaf.
    shown_units, units : mapping
        For each property to show: the unit people see, and the unit stored.

    Notes
    -----
    A figure that was printed only as a range shows the middle of it; the range stands in `property_values`.
    """
    file = VIEWS[kind]
    details = next(name for name in file.fills if name != "materials")
    columns = [f"m.{name}" for name in file.fills["materials"]] + [f"d.{name}" for name in file.fills[details]]
    columns += [
        "(SELECT "
        + _shown("coalesce(value, (low + high) / 2)", shown_units[name], units[name])
        + f" FROM property_values WHERE material = m.key AND property = {quoted(name)} AND preferred = 1)"
        f" AS {view_column(name, shown_units[name])}"
        for name in sorted(shown_units)
    ]
    return (
        f"CREATE VIEW {file.name.removesuffix('.csv')} AS\nSELECT\n  "
        + ",\n  ".join(columns)
        + f"\nFROM materials AS m JOIN {details} AS d ON d.material = m.key\nWHERE m.kind = {quoted(kind)}"
        + "\nORDER BY m.key"
    )


def _shown(value: str, shown: str, stored: str) -> str:
    to_stored = conversion(shown, stored)
    if to_stored.offset:
        back = conversion(stored, shown)
        value = f"{value} * {float(back.scale)!r} + {float(back.offset)!r}"
    elif to_stored.scale > 1:
        value = f"{value} / {float(to_stored.scale)!r}"
    elif to_stored.scale < 1:
        value = f"{value} * {float(1 / to_stored.scale)!r}"
    return f"round({value}, 6)"


def view_column(name: str, unit: str) -> str:
    """Return the column of a property in a view: its name, then its unit, as in `expansion_ppm_per_k`."""
    if unit == "1":
        return name
    words = {"degC": "c", "degF": "f", "µm": "um"}
    suffix = words.get(unit, unit).lower().replace("**", "").replace("^", "").replace("/", "_per_")
    suffix = "".join(c if c.isalnum() and c.isascii() else "_" for c in suffix).strip("_")
    return name if name.endswith(f"_{suffix}") else f"{name}_{suffix}"


def search_sql() -> list[str]:
    """Return the CREATE VIRTUAL TABLE statements of the one full-text index and of the words it holds."""
    return [
        "CREATE VIRTUAL TABLE search USING fts5(key, kind UNINDEXED, title, words, body, "
        "tokenize = 'porter unicode61 remove_diacritics 2')",
        "CREATE VIRTUAL TABLE spelling USING fts5(word, uses UNINDEXED, tokenize = 'trigram', detail = none)",
    ]


def search_rows(records: Mapping[str, Iterable[Mapping[str, object]]]) -> list[tuple[str, str, str, str, str]]:
    """Return the rows of the search table: key, kind, title, words and body.

    The kind is metal, glass or leaf for a material, else the table's name; the key is the row's own, and of
    a contact its two metals. A symptom is one row with all its causes. Marks that pick materials are left out.
    """
    bodies = {
        str(row["material"]): _free_text(TABLE[details], row, ())
        for details in (name for file in VIEWS.values() for name in file.fills if name != "materials")
        for row in records[details]
    }
    causes: dict[str, list[str]] = {}
    for row in records["faults"]:
        told = _free_text(TABLE["faults"], row, ("rules",))
        causes.setdefault(str(row["symptom"]), []).append(f"{row['key']}\n{told}")
    named: dict[str, list[str]] = {}
    for row in records["aliases"]:
        named.setdefault(str(row["record"]), []).append(str(row["alias"]))
    rows = []
    for name, searched in SEARCHED.items():
        for row in records[name]:
            key = str(row["key"]) if "key" in row else f"{row['metal_a']} {row['metal_b']}"
            kind = str(row["kind"]) if name == "materials" else name
            title = ", ".join(str(row[column]) for column in searched.title)
            words = "; ".join([str(row[column]) for column in searched.words if row[column]] + named.get(key, []))
            body = _free_text(TABLE[name], row, (*searched.title, *searched.words, *searched.marks))
            if name == "contacts":
                title = " on ".join(METALS.get(str(row[c]), str(row[c])) for c in searched.title)
                words = f"{title.replace(' on ', ' ')} {row['metal_a']} {row['metal_b']}"
            body = "\n".join(filter(None, (body, bodies.get(key, "") if name == "materials" else "")))
            if name == "symptoms":
                body = "\n".join((body, *causes.get(key, ())))
            rows.append((key, kind, title, with_denials(words), body))
    return rows


def spelling_rows(rows: Iterable[tuple[str, str, str, str, str]]) -> list[tuple[str, int]]:
    """Return the words of the search table, long enough to be misspelt, and how often each stands there."""
    uses = Counter(
        word
        for _, _, title, words, body in rows
        for word in _WORD.findall(unaccented(f"{title} {words} {body}".lower()))
        if len(word) > 3 and word.isalpha()
    )
    return sorted(uses.items())


def _free_text(table: Table, row: Mapping[str, object], but: Iterable[str]) -> str:
    """Return the free text of a row, a line each: no keys, no references, no words of a fixed list."""
    return "\n".join(
        str(row[column.name])
        for column in table.columns
        if column.type == "TEXT"
        and not column.choices
        and not column.refers
        and row[column.name]
        and column.name not in ("key", *but)
    )


def quoted(text: str) -> str:
    """Return a text as an SQL string."""
    return "'" + text.replace("'", "''") + "'"


def kinds() -> tuple[str, ...]:
    """Return the kinds of material that have a browse view."""
    return tuple(kind for kind in KINDS if kind in VIEWS)
