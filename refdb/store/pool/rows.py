"""Rows of a file of shared tests, checked one by one: whoever wrote them, they come from outside."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from refdb.errors import BadInput
from refdb.quantities.firings import RESULTS
from refdb.records.pooled import FIRING, STRIP, TILE, SharedRow
from refdb.store.csv_lines import MOST_COLUMNS, cells_of, lines_of, opened, separator_of, unreadable
from refdb.store.pool.columns import COLUMNS, NAMES
from refdb.store.workshop.cells import choice, number_reader, outcomes, past_month
from refdb.words import short_path, shortened

#: No face carries more glass than so many times its metal, and no strip bends by more than this part of its length.
MOST_RATIO, MOST_BOW = 10.0, 0.4
_SIGNS = {"studio": 16, "jar": 8, "row": 12}
_NEEDED = {
    TILE: ("outcome",),
    STRIP: ("metal_mm", "front_mm", "length_mm", "bow_mm"),
    FIRING: ("outcome", "kiln_c", "minutes"),
}
_MOST_REMEMBERED = 500
#: What ends a line elsewhere: a carriage return alone, next line, and the separators of lines and paragraphs.
_OTHER_ENDS = ("\r", "\x85", "\u2028", "\u2029")


class RowReader:
    """Reads rows of text cells into `SharedRow`.

    Parameters
    ----------
    header : sequence of str
        Names of the cells, in order.
    known : mapping
        Keys of the reference by kind of material.
    """

    def __init__(self, header: Sequence[str], known: Mapping[str, Collection[str]]) -> None:
        self.known = known
        columns = {c.name: c for c in COLUMNS}
        # Cells repeat down a column, and what was read once needs no second reading; signs do not repeat.
        self._readers: list[tuple[str, Callable[[str], Any], dict[str, Any] | None]] = [
            (name, self._reader(name, columns), None if name == "row" else {}) for name in header
        ]

    def _reader(self, name: str, columns: Mapping[str, Any]) -> Callable[[str], Any]:
        column = columns[name]
        if name in _SIGNS:
            shape = re.compile(f"[0-9a-f]{{{_SIGNS[name]}}}")
            return lambda text: _sign(text, name, shape)
        if name in ("glass", "metal"):
            return lambda text: self._key(text, name)
        if name == "month":
            return past_month
        if column.type == "REAL":
            return number_reader(column)
        if column.choices:
            return lambda text: choice(text, column)
        return str

    def _key(self, text: str, name: str) -> str:
        if text in self.known[name]:
            return text
        near = get_close_matches(text[:60].lower(), sorted(self.known[name]), 1, 0.6)
        raise BadInput(
            f"no {name} of the reference is called '{shortened(text, 30)}'",
            name,
            f"did you mean {near[0]}?" if near else f"refdb {'glasses' if name == 'glass' else 'metals'} has them all",
        )

    def row(self, cells: Sequence[str]) -> SharedRow:
        """The checked row; BadInput names the column in `where`."""
        found: dict[str, Any] = dict.fromkeys(NAMES)
        for (name, read, memory), cell in zip(self._readers, cells, strict=True):
            if not cell:
                continue
            value = None if memory is None else memory.get(cell)
            if value is None:
                value = read(cell)
                if memory is not None and len(memory) < _MOST_REMEMBERED:
                    memory[cell] = value
            found[name] = value
        return _checked(found)


def _checked(found: dict[str, Any]) -> SharedRow:
    for column in COLUMNS:
        if column.required and found[column.name] is None:
            raise BadInput("the cell is blank", column.name, "it is needed")
    kind = found["kind"]
    for name in _NEEDED[kind]:
        if found[name] is None:
            raise BadInput("the cell is blank", name, f"a {kind} needs it")
    metal, front, back = (found[n] for n in ("metal_mm", "front_mm", "back_mm"))
    if kind == TILE:
        found["outcome"] = outcomes(found["outcome"])
        if front == 0 and back == 0:
            raise BadInput("there is no glass on either face", "front_mm", "give one of them")
    elif kind == STRIP:
        if found["outcome"] is not None:
            raise BadInput("a strip has no outcome but its bow", "outcome", "leave it empty")
        if not front:
            raise BadInput("there is no coat on the strip", "front_mm", "give its thickness")
        if abs(found["bow_mm"]) > MOST_BOW * found["length_mm"]:
            raise BadInput("the strip cannot bend so far", "bow_mm", "it is in mm, under the middle of the length")
    elif found["outcome"] not in RESULTS:
        raise BadInput(
            f"'{shortened(found['outcome'], 30)}' is not among the words allowed here",
            "outcome",
            f"use one of: {', '.join(RESULTS)}",
        )
    for name, glass in (("front_mm", front), ("back_mm", back)):
        if metal is not None and glass is not None and glass > MOST_RATIO * metal:
            raise BadInput(f"{glass:g} mm of glass on {metal:g} mm of metal is no build", name, "thicknesses are in mm")
    return SharedRow(**found)


def _sign(text: str, name: str, shape: re.Pattern[str]) -> str:
    if shape.fullmatch(text) is None:
        raise BadInput(
            f"'{shortened(text, 20)}' is no sign", name, f"it is {_SIGNS[name]} of 0-9 and a-f, as mine share writes it"
        )
    return text


def rows_of(
    path: Path, known: Mapping[str, Collection[str]], tell: Callable[[BadInput], None]
) -> Iterator[tuple[int, SharedRow]]:
    """Sound rows of a file with their line numbers; each bad one goes to `tell`.

    Raises
    ------
    BadInput
        The file or its header cannot be used.
    """
    where = short_path(path, 60)
    with opened(path, where) as file:
        try:
            lines = lines_of(file, where)
            header, mark = _header(lines, where)
            reader = RowReader(header, known)
            for number, text in lines:
                try:
                    cells = cells_of(text, mark)
                    if not cells:
                        continue
                    if len(cells) != len(header):
                        raise BadInput(
                            f"{len(cells)} cells instead of {len(header)}", "", "the header says what is due"
                        )
                    row = reader.row(cells)
                except BadInput as error:
                    at = f"{path.name} line {number}{f', {error.where}' if error.where else ''}"
                    tell(BadInput(error.what, shortened(at, 100), error.todo))
                else:
                    yield number, row
        except OSError as error:
            raise unreadable(error, where) from None


def _header(lines: Iterator[tuple[int, str]], where: str) -> tuple[list[str], str]:
    """The columns of a file, and what separates them."""
    todo = "refdb pool columns tells which there are"
    text = next((text for _, text in lines if text.strip()), "")
    if not text:
        raise BadInput("the file is empty", where, f"begin it with a header; {todo}")
    if "\x00" in text or any(0xDC80 <= ord(c) <= 0xDCFF for c in text):
        raise BadInput("the file is not text in UTF-8", where, "save it as CSV in UTF-8")
    if any(end in text.rstrip("\r\n") for end in _OTHER_ENDS):
        raise BadInput("its lines end with signs that end none here", where, "save it as CSV with usual line ends")
    mark = separator_of(text)
    try:
        header = [h.lower() for h in cells_of(text, mark)]
    except BadInput as error:
        raise BadInput(error.what, where, error.todo) from None
    if len(header) > MOST_COLUMNS:
        raise BadInput(f"{len(header)} columns", where, todo)
    for name in header:
        if name not in NAMES:
            raise BadInput(f"no column of shared tests is called '{shortened(name)}'", where, todo)
        if header.count(name) > 1:
            raise BadInput(f"the column {name} stands twice", where, "keep one")
    gone = [c.name for c in COLUMNS if c.required and c.name not in header]
    if gone:
        raise BadInput(f"the column {gone[0]} is missing", where, todo)
    return header, mark
