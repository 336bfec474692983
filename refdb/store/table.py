"""What a table of the store and its columns are, and the columns, words and checks that many tables share."""

from __future__ import annotations

from typing import NamedTuple

SOURCE_KINDS = ("standard", "handbook", "paper", "dataset", "library", "common practice", "from memory", "computed")
SEEN = ("read", "read in a copy", "from memory", "computed")
KINDS = ("metal", "glass", "leaf")
OUTCOMES = ("suits", "suits with care", "does not suit")
CONTENT = ("free", "contains", "unknown")
#: The longest short name of a source.
LONGEST_NAME = 40
#: What a glass may hold besides lead and cadmium that hurts.
HELD = ("antimony", "arsenic", "chromium", "cobalt", "manganese", "nickel", "selenium")


class ColumnSpec(NamedTuple):
    """One column: its name in the store, SQLite type, label for people, unit, and what may stand in it."""

    name: str
    type: str = "TEXT"
    label: str = ""
    unit: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    refers: str = ""
    low: float | None = None
    high: float | None = None
    description: str = ""


class Table(NamedTuple):
    """One table: its columns, primary key, further CHECKs (SQL) and uniqueness, and a sentence on what it is."""

    name: str
    columns: tuple[ColumnSpec, ...]
    key: tuple[str, ...]
    description: str
    checks: tuple[str, ...] = ()
    unique: tuple[tuple[str, ...], ...] = ()

    def column(self, name: str) -> ColumnSpec:
        """Return the column of this name; raises KeyError when there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)


def text(name: str, label: str = "", **more: object) -> ColumnSpec:
    """A column of text; its label is by default its name."""
    return ColumnSpec(name, "TEXT", label or name.replace("_", " "), **more)  # type: ignore[arg-type]


def number(name: str, label: str = "", unit: str = "", **more: object) -> ColumnSpec:
    """A column of numbers in `unit`."""
    return ColumnSpec(name, "REAL", label or name.replace("_", " "), unit, **more)  # type: ignore[arg-type]


KEY = text("key", required=True, description="lower case words joined by hyphens")
SOURCE = text("source", required=True, refers="sources.key")
MATERIAL = text("material", required=True, refers="materials.key")
NOTE = text("note")

SPAN_CHECK = "(temp_low_c IS NULL) = (temp_high_c IS NULL) AND (temp_low_c IS NULL OR temp_low_c < temp_high_c)"
BAND_CHECK = "(low IS NULL OR value IS NULL OR low <= value) AND (high IS NULL OR value IS NULL OR value <= high)"
