"""CSV files that people bring, read line by line, so that a bad line is told by its number and memory stays small."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from refdb.errors import BadInput

#: Longest line [characters], and most columns.
LONGEST_LINE, MOST_COLUMNS = 20_000, 200
#: A line that goes on for so long [characters] is taken to have no end, as that of a device has none.
_ENDLESS = 50_000_000


def opened(path: Path, where: str) -> TextIO:
    """The file as text, any byte that is not UTF-8 as a lone surrogate; BadInput at `where` if it cannot be opened."""
    try:
        return path.open(encoding="utf-8-sig", errors="surrogateescape", newline="")
    except (OSError, ValueError) as error:
        raise unreadable(error, where) from None


def unreadable(error: Exception, where: str) -> BadInput:
    """The error of a file that cannot be opened or read, as one clear line."""
    why = (getattr(error, "strerror", None) or "no such name").lower()
    return BadInput(f"cannot read the file ({why})", where, "give a CSV file")


def lines_of(file: TextIO, where: str = "") -> Iterator[tuple[int, str]]:
    """Lines with their numbers from 1; of one that is longer than `LONGEST_LINE` a little more than that is kept.

    `where` is named in an error.

    Raises
    ------
    BadInput
        A line has no end.
    """
    number = 0
    while text := file.readline(LONGEST_LINE):
        number += 1
        rest, length = text, len(text)
        while rest[-1] != "\n" and (rest := file.readline(LONGEST_LINE)):
            text, length = text[:LONGEST_LINE] + "…", length + len(rest)
            if length > _ENDLESS:
                raise BadInput("a line has no end", f"{where} line {number}".strip(), "give a CSV file")
        yield number, text


def separator_of(header: str) -> str:
    """What separates cells: a spreadsheet in many languages writes semicolons, some write tabs."""
    return max(",;\t", key=header.count)


def cells_of(text: str, mark: str) -> list[str]:
    """The cells of a line without the blanks around them; none for a blank line.

    Raises
    ------
    BadInput
        The line is too long, or its double quotes do not fit.
    """
    if '"' not in text:
        cells = list(map(str.strip, text.split(mark)))
    else:
        try:
            rows = list(csv.reader([text.rstrip("\r\n")], delimiter=mark, strict=True))
        except csv.Error as error:
            todo = "check the double quotes; a cell holds no line end"
            raise BadInput(f"not sound CSV ({error})", "", todo) from None
        cells = [cell.strip() for cell in rows[0]] if rows else []
    if len(text) > LONGEST_LINE:
        raise BadInput("the line is too long", "", "is a line end missing?")
    return cells if any(cells) else []
