"""A CSV file of compositions, one glass a line: bad lines are told by number, good ones go on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from refdb.cli.common import typed
from refdb.cli.output import complain
from refdb.errors import BadInput
from refdb.store.csv_lines import LONGEST_LINE, MOST_COLUMNS, cells_of, lines_of, opened, separator_of, unreadable
from refdb.words import short_path, shortened

#: Lines that are read at once.
CHUNK = 2000
_NAMES = ("name", "glass", "label", "sample", "key", "id")
#: What a plain line has none of: quotes, and what Python takes for part of a number and people do not.
_ODD = re.compile(r'["_\x00-\x08\x0b\x0c\x0e-\x1f]')
_UNIT = re.compile(r"[\s_(\[]*(wt|weight|mol|mole)[\s_.]*(%|pct|percent|per cent)?[)\]\s]*$", re.IGNORECASE)


class Chunk(NamedTuple):
    """Sound lines of the file: their numbers, the names of the glasses, and per cents scaled to 100, a row each."""

    numbers: list[int]
    names: list[str]
    amounts: Any


class CompositionFile:
    """Reads a file of compositions in chunks; `bad` counts the lines told as bad, `good` the others."""

    def __init__(self, path: Path, basis: str) -> None:
        self.path, self.basis = path, basis
        self.bad = self.good = 0
        self.named = False
        self.mark = ","
        self.components: list[str] = []
        self.file = shortened(typed(path.name), 40)

    def chunks(self) -> Iterator[Chunk]:
        """Yield sound lines, at most `CHUNK` at once; BadInput when the file or its header cannot be used."""
        where = f"--from-csv {short_path(typed(str(self.path)), 60)}"
        try:
            with opened(self.path, where) as file:
                lines = lines_of(file)
                for number, text in lines:
                    self._take_header(number, text)
                    if self.components:
                        break
                else:
                    raise BadInput("the file is empty", "--from-csv", "begin it with a header, such as name,SiO2,Na2O")
                while some := list(islice(lines, CHUNK)):
                    chunk = self._chunk(some)
                    self.good += len(chunk.numbers)
                    if chunk.numbers:
                        yield chunk
                if not self.good and not self.bad:
                    raise BadInput(
                        "the file holds no glass below its header", f"--from-csv {self.file}", "put one glass a line"
                    )
        except OSError as error:
            raise unreadable(error, where) from None

    def _take_header(self, number: int, text: str) -> None:
        try:
            self.mark = separator_of(text)
            cells = _cells(text, self.mark)
            if cells:
                self._header(cells)
        except BadInput as error:
            raise BadInput(error.what, f"--from-csv {self.file} line {number}, the header", error.todo) from None

    def _chunk(self, lines: list[tuple[int, str]]) -> Chunk:
        """The sound ones of some lines: plain ones are checked all at once, the others each by itself."""
        import numpy as np

        from refdb.science.glass.composition import TOTAL_HIGH, TOTAL_LOW

        width, first = len(self.components), int(self.named)
        rows, due = [], width + first
        odd: dict[int, str] = {}
        for number, text in lines:
            cells = text.split(self.mark)
            if len(cells) == due and text.isascii() and len(text) <= LONGEST_LINE and not _ODD.search(text):
                try:
                    rows.append(
                        (
                            number,
                            cells[0].strip() if first else "",
                            [float(cell) if cell and not cell.isspace() else 0.0 for cell in cells[first:]],
                        )
                    )
                    continue
                except ValueError:
                    pass
            odd[number] = text
        table = np.array([row[2] for row in rows], dtype=float).reshape(-1, width)
        total = table.sum(axis=1)
        with np.errstate(invalid="ignore"):
            sound = (table >= 0).all(axis=1) & (total >= TOTAL_LOW) & (total <= TOTAL_HIGH)
            sound &= table[:, self.components.index("SiO2")] > 0 if "SiO2" in self.components else False
        table[sound] *= 100.0 / total[sound, None]
        texts = dict(lines)
        odd |= {rows[at][0]: texts[rows[at][0]] for at in np.flatnonzero(~sound).tolist()}
        kept = [(*rows[at][:2], table[at]) for at in np.flatnonzero(sound).tolist()]
        told = [line for number in sorted(odd) if (line := self._alone(number, odd[number])) is not None]
        if told:
            kept = sorted([*kept, *told], key=lambda line: line[0])
        return Chunk(
            [line[0] for line in kept],
            [line[1] for line in kept],
            np.array([line[2] for line in kept]) if told else table[sound],
        )

    def _alone(self, number: int, text: str) -> tuple[int, str, Any] | None:
        """One line that is not plain, or None for a blank one and for a bad one, which is told."""
        try:
            cells = _cells(text, self.mark)
            return self._line(number, cells) if cells else None
        except BadInput as error:
            self.bad += 1
            complain(BadInput(error.what, f"{self.file} line {number}", error.todo).line)
            return None

    def _header(self, cells: list[str]) -> None:
        from refdb.science.glass.composition import component_name

        if not cells or len(cells) > MOST_COLUMNS:
            raise BadInput(f"{len(cells)} columns", "", "name the oxides, such as name,SiO2,Na2O")
        self.named = cells[0].lower() in _NAMES
        heads = cells[1:] if self.named else cells
        found = []
        for head in heads:
            unit = _UNIT.search(head)
            if unit and unit[1].lower()[:2] != self.basis[:2]:
                other = "mol" if self.basis == "wt" else "wt"
                raise BadInput(
                    f"the column '{shortened(head, 30)}' is not in {self.basis}%", "", f"give --basis {other}"
                )
            found.append(component_name(_UNIT.sub("", head)))
        if not found:
            raise BadInput("no oxide is named", "", "name them, such as name,SiO2,Na2O")
        twice = next((name for name in found if found.count(name) > 1), None)
        if twice is not None:
            raise BadInput(f"{twice} stands twice", "", "give each component once")
        self.components = found

    def _line(self, number: int, cells: list[str]) -> tuple[int, str, Any]:
        from refdb.science.glass.composition import normalise

        due = len(self.components) + self.named
        if len(cells) != due:
            raise BadInput(f"{len(cells)} cells instead of {due}", "", "the header says what is due")
        name = cells[0] if self.named else ""
        amounts = [
            _amount(text, head) for text, head in zip(cells[1:] if self.named else cells, self.components, strict=True)
        ]
        given = {head: amount for head, amount in zip(self.components, amounts, strict=True) if amount}
        checked = normalise(given, self.basis).amounts
        if not checked.get("SiO2"):
            raise BadInput("the composition has no SiO2", "", "only silicate glasses can be estimated")
        return number, name, [checked.get(head, 0.0) for head in self.components]


def _cells(text: str, mark: str) -> list[str]:
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise BadInput("the line is not UTF-8", "", "save the file as UTF-8")
    return cells_of(text, mark)


def _amount(text: str, head: str) -> float:
    if not text:
        return 0.0
    try:
        if "_" not in text:
            return float(text)
        raise ValueError
    except ValueError:
        todo = "write a per cent with a point, such as 13.6; empty means none"
        raise BadInput(f"{head} is '{shortened(text, 20)}', which is not a number", "", todo) from None
