"""One cell of the sources: its text into a value of its column, or a sentence on what is wrong with it."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Collection
from datetime import date

from refdb.store.schema import ColumnSpec
from refdb.words import shortened

Value = str | int | float | None

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_WHOLE = re.compile(r"[+-]?[0-9]{1,15}")
_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
#: Control, format and private characters: invisible on the screen, and a trap for every search.
_UNSEEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff\ue000-\uf8ff\ufeff"
    "\ufff9-\ufffb]"
)
_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_PROPERTY_KEY = re.compile(r"[a-z0-9]+(?:_[a-z0-9]+)*")


class CellError(Exception):
    """What is wrong with a cell, and what to do about it."""

    def __init__(self, what: str, todo: str = "") -> None:
        super().__init__(what)
        self.what, self.todo = what, todo


def value_of(text: str, column: ColumnSpec) -> Value:
    """Return the value of a cell, None when it is blank.

    Raises
    ------
    CellError
        When the cell is blank but required, holds unseen characters or surrounding blanks, is not a number
        where one is due, is out of the column's bounds, or is not among its choices.
    """
    if found := _UNSEEN.search(text):
        raise CellError(f"an unseen character (U+{ord(found[0]):04X}) in the cell", "type the cell anew")
    if text != text.strip():
        raise CellError("blanks around the cell", "run the formatter (scripts/format_data.py)")
    if not text:
        if column.required:
            raise CellError("the cell is blank", f"give the {column.label or column.name}")
        return None
    if column.type == "TEXT":
        if column.choices and text not in column.choices:
            raise CellError(
                f"'{shortened(text)}' is not among the words allowed here",
                nearest(text, column.choices, "one of: " + ", ".join(column.choices)),
            )
        return text
    value = whole(text) if column.type == "INTEGER" else number(text)
    low = -math.inf if column.low is None else column.low
    high = math.inf if column.high is None else column.high
    if not low <= value <= high:
        raise CellError(f"{shortened(text)} is out of bounds", f"it must lie between {low:g} and {high:g}")
    return value


def number(text: str) -> float:
    """Return the finite number a cell holds; raises CellError."""
    if not _NUMBER.fullmatch(text):
        if _COMMA.fullmatch(text):
            raise CellError(f"'{shortened(text)}' has a decimal comma", "write a point")
        raise CellError(f"'{shortened(text)}' is not a number", "write digits with a point, such as 16.6 or 1e-6")
    value = float(text)
    if not math.isfinite(value):
        raise CellError(f"{shortened(text)} is not a finite number", "write a number that can be stored")
    return value


def whole(text: str) -> int:
    """Return the whole number a cell holds; raises CellError."""
    if not _WHOLE.fullmatch(text):
        raise CellError(f"'{shortened(text)}' is not a whole number", "write digits only")
    return int(text)


def check_key(text: str, *, of_property: bool = False) -> None:
    """Raise CellError unless this is lower-case words joined by hyphens (a property: by underscores)."""
    pattern, joint = (_PROPERTY_KEY, "underscores") if of_property else (_KEY, "hyphens")
    if not pattern.fullmatch(text):
        raise CellError(f"'{shortened(text)}' is not a key", f"write lower-case words joined by {joint}")


def check_date(text: str) -> None:
    """Raise CellError unless this is an ISO date."""
    try:
        date.fromisoformat(text)
    except ValueError:
        raise CellError(f"'{shortened(text)}' is not a date", "write it as 2024-05-31") from None


def check_doi(text: str) -> None:
    """Raise CellError unless this is a bare DOI."""
    if not re.fullmatch(r"10\.[0-9]{4,9}/[!-~]+", text):
        raise CellError(f"'{shortened(text)}' is not a DOI", "write it bare, as in 10.1000/182")


def nearest(text: str, words: Collection[str], otherwise: str) -> str:
    """Return a question that offers the nearest word, or the other sentence where no word is near."""
    near = difflib.get_close_matches(text[:80].lower(), words, 1, 0.6)
    return f"did you mean {near[0]}?" if near else otherwise
