"""Cells of a person's own tables, from text to values: dates, words, numbers with or without a unit, plain text."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from datetime import date, timedelta

from refdb.errors import BadInput
from refdb.store.schema import ColumnSpec
from refdb.store.workshop.columns import MOST_TEXT, nine_digits
from refdb.store.workshop.schema import TILE_OUTCOMES
from refdb.words import shortened

#: What a formula of a spreadsheet begins with.
FORMULA = ("=", "+", "-", "@")
_DATE = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
_WHOLE = re.compile("0|[1-9][0-9]{0,9}")
#: Letters that may stand in a number, a time or a date.
_OF_FIGURES = re.compile(
    r"(?i)(?<=\d)[.]?e(?=[+-]?\d)|(?<=\d)\s*[ap]\.?m\.?$|"
    r"\b(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\b|(?<=\d)(?:st|nd|rd|th)\b"
)
_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")


def guarded(text: str) -> str:
    """Text for an exported cell: with a ' before it where a spreadsheet would change it."""
    return "'" + text if _changes(text) else text


def text_of(cell: str, column: str) -> str:
    """Text of an imported cell, without the ' of `guarded`; BadInput where it could be a formula."""
    first = cell[0]
    if first in FORMULA:
        raise BadInput(
            f"'{shortened(cell, 20)}' begins like a formula", column, "if it is meant as text, put a ' before it"
        )
    return cell[1:] if first == "'" and _changes(cell[1:]) else cell


def _changes(text: str) -> bool:
    """Whether a spreadsheet would take a text for a formula, number, date or boolean, or it begins with a '.

    Whole numbers are left: they come back as they are. Months are known by their English names.
    """
    if text.startswith((*FORMULA, "'")) or text.lower() in ("true", "false"):
        return True
    if not any(c.isdigit() for c in text) or _WHOLE.fullmatch(text):
        return False
    return not any(c.isalpha() for c in _OF_FIGURES.sub(" ", text))


def plain(text: str, column: str, most: int = MOST_TEXT) -> str:
    """The text, stripped; BadInput for characters that do not print, bytes not in UTF-8, or too many characters."""
    text = text.strip()
    if not text.isprintable():
        text = "".join(" " if c.isspace() and ord(c) > 0x9F else c for c in text)
        odd = next((c for c in text if not c.isprintable()), "")
        if 0xDC00 <= ord(odd or " ") <= 0xDFFF:
            raise BadInput("not UTF-8", column, "write it, or save its file, as UTF-8")
        if odd:
            raise BadInput(f"a sign that cannot be seen (U+{ord(odd):04X})", column, "type it anew")
    if len(text) > most:
        raise BadInput(f"{len(text):,} signs", column, f"use at most {most}")
    return text


def number_reader(column: ColumnSpec) -> Callable[[str], float]:
    """A function from a cell to a number in the unit of the column; it converts other units, and raises BadInput."""
    low, high = column.low, column.high
    assert low is not None
    assert high is not None

    def read(text: str) -> float:
        try:
            if "_" in text or not text.isascii():
                raise ValueError
            value = float(text)
        except ValueError:
            value = _with_unit(text, column)
        if not low <= value <= high:
            raise BadInput(f"{shortened(text, 20)} is out of bounds", column.name, bounds_told(column, value))
        # SQLite knows no zero below zero, and a sum is told before it is written.
        return value + 0.0

    return read


def bounds_told(column: ColumnSpec, value: float) -> str:
    """What to do about a value outside the bounds of its column."""
    if column.unit == "ppm/K" and column.low == 0.1:
        if value > 30:
            return "above 30 ppm/K it may be cubical (divide by 3), or the 125 of a label, which is 12.5 ppm/K"
        return "it is in ppm/K: 12.4 stands for 12.4e-6/K"
    return f"it must lie between {column.low:g} and {column.high:g} {column.unit}".rstrip()


def _with_unit(text: str, column: ColumnSpec) -> float:
    """The number, in the unit of the column, of a text such as "1500F"; BadInput for no unit or a wrong one."""
    if _COMMA.fullmatch(text):
        raise BadInput(f"'{shortened(text, 20)}' has a decimal comma", column.name, "write a point")
    if text.endswith("%") and column.unit != "percent":
        raise BadInput(f"'{shortened(text, 20)}' is a per cent", column.name, f"give it in {column.unit or 'numbers'}")
    if not re.search(r"[0-9].*[A-Za-z°%µ]", text):
        raise BadInput(
            f"'{shortened(text, 20)}' is not a number",
            column.name,
            "write digits with a point; an empty cell means not known",
        )
    from refdb.store.workshop.measures import MEASURES

    if column.unit not in MEASURES:
        raise BadInput(f"'{shortened(text, 20)}' is not a number", column.name, "write digits")
    return nine_digits(MEASURES[column.unit].number(text, column.name))


def whole_number(text: str, column: str = "number") -> int:
    """The number of a row, from 1; BadInput for anything else."""
    if not re.fullmatch(r"[0-9]{1,9}", text) or not int(text):
        raise BadInput(
            f"'{shortened(text, 20)}' is not a number of a row",
            column,
            "leave it empty for a new one" if column == "number" else "join numbers by semicolons: 1; 4",
        )
    return int(text)


def iso_date(text: str, column: str = "date") -> str:
    """An ISO date between 1900 and 2100."""
    try:
        # Of the forms of the standard the one that people write; Python reads weeks too.
        found = date.fromisoformat(text) if _DATE.fullmatch(text) else None
    except ValueError:
        found = None
    if found is not None and found.year > 2100:
        raise BadInput(f"{text} is in the future", column, "give the day it was written down or tested")
    if found is None or found.year < 1900:
        raise BadInput(f"'{shortened(text, 20)}' is not a date", column, "write it as 2024-05-31")
    return text


def today() -> date:
    """Today, by the clock of this machine."""
    return date.today()


def past_date(text: str, column: str = "date") -> str:
    """An ISO date from 1900 to tomorrow, which is today east of here; BadInput for any other."""
    iso_date(text, column)
    if text > (today() + timedelta(days=1)).isoformat():
        raise BadInput(f"{text} is in the future", column, "give the day it was written down or tested")
    return text


def past_month(text: str, column: str = "month") -> str:
    """A month as 2026-11, from 1900 to the one after this, for clocks differ; BadInput for any other."""
    try:
        iso_date(f"{text}-01", column)
    except BadInput:
        raise BadInput(f"'{shortened(text, 20)}' is not a month", column, "write it as 2026-11") from None
    now = today()
    if 12 * int(text[:4]) + int(text[5:]) > 12 * now.year + now.month + 1:
        raise BadInput(f"{text} is in the future", column, "give the month of the test")
    return text


def choice(text: str, column: ColumnSpec) -> str:
    """The choice of a column that a text means, in any case, with blanks, hyphens or underscores, or BadInput."""
    if text in column.choices:
        return text
    wanted = " ".join(text.lower().replace("-", " ").replace("_", " ").replace("’", "'").split())
    for word in column.choices:
        if word.replace("-", " ") == wanted or word.replace("'", "").replace("-", " ") == wanted:
            return word
    raise BadInput(
        f"'{shortened(text, 30)}' is not among the words allowed here",
        column.name,
        f"use one of: {', '.join(column.choices)}",
    )


def numbers_of(text: str | None, column: str = "tiles") -> tuple[int, ...]:
    """Row numbers in a cell such as "1; 4", sorted, each once; () for an empty cell; BadInput for anything else."""
    parts = [p.strip() for p in re.split("[;,]", text or "") if p.strip()]
    return tuple(sorted({whole_number(p, column) for p in parts}))


def numbers_text(numbers: Collection[int]) -> str | None:
    """Row numbers as a cell, such as "1; 4"; None where there are none."""
    return "; ".join(str(n) for n in sorted(numbers)) or None


def outcomes(text: str) -> str:
    """The outcomes of a tile in the order of `TILE_OUTCOMES`, joined by "; "; BadInput for unknown ones."""
    words = [" ".join(w.lower().replace("-", " ").split()) for w in re.split("[;,]", text) if w.strip()]
    unknown = next((w for w in words if w not in TILE_OUTCOMES), None)
    if unknown is not None or not words:
        raise BadInput(
            f"no outcome is called '{shortened(unknown or '', 30)}'",
            "outcome",
            f"use one or more of: {', '.join(TILE_OUTCOMES)}",
        )
    found = [w for w in TILE_OUTCOMES if w in words]
    if "sound" in found and len(found) > 1 and {"crazed", "chipped", "cracked"} & set(found):
        raise BadInput("a tile cannot be both sound and broken", "outcome", "say what it was at the end")
    return "; ".join(found)
