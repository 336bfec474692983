"""Estimates of many glasses from a CSV file, line by line: bad lines are told by number, good ones go on."""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TextIO

from refdb.cli.common import Units, opened, typed
from refdb.cli.estimate_page import BETTER
from refdb.cli.output import SCHEMA, Column, Page, complain, emit, no_formula, unsigned, written_for
from refdb.errors import BadInput
from refdb.records.printed import degrees
from refdb.words import shortened

if TYPE_CHECKING:
    from refdb.judge.verdict import Verdict

_BAD_LINES = 2
_CHUNK = 2000
_LONGEST_LINE = 20_000
_MOST_COLUMNS = 200
_NAMES = ("name", "glass", "label", "sample", "key", "id")
#: What a plain line has none of: quotes, and what Python takes for part of a number and people do not.
_ODD = re.compile(r'["_\x00-\x08\x0b\x0c\x0e-\x1f]')
_UNIT = re.compile(r"[\s_(\[]*(wt|weight|mol|mole)[\s_.]*(%|pct|percent|per cent)?[)\]\s]*$", re.IGNORECASE)
#: Column of the output, field of the estimates and what that is multiplied by, decimals.
_FIGURES = tuple(
    (f"{head}{end}{unit}", f"{field}{end or tail}", scale, decimals)
    for head, unit, field, tail, scale, decimals in (
        ("expansion_20_400c", "_ppm_per_k", "expansion", "_ppm_per_k", 1.0, 2),
        ("glass_transition", "_c", "tg", "_c", 1.0, 0),
        ("set_point", "_c", "set_point", "_c", 1.0, 0),
        ("littleton_softening", "_c", "littleton", "_c", 1.0, 0),
        ("gloss_setting", "_c", "gloss", "_c", 1.0, 0),
        ("youngs_modulus", "_gpa", "youngs_modulus", "_pa", 1e-9, 1),
        ("density", "_kg_per_m3", "density", "_kg_m3", 1.0, 0),
    )
    for end in ("", "_low", "_high")
)
_VALUES = [name for name, field, _, _ in _FIGURES if not field.endswith(("_low", "_high"))]


class Chunk(NamedTuple):
    """Sound lines of the file: their numbers, the names of the glasses, and per cents scaled to 100, a row each."""

    numbers: list[int]
    names: list[str]
    amounts: Any


class Reader:
    """Reads a file of compositions in chunks; `bad` counts the lines told as bad, `good` the others."""

    def __init__(self, path: Path, basis: str) -> None:
        self.path, self.basis = path, basis
        self.bad = self.good = 0
        self.named = False
        self.mark = ","
        self.components: list[str] = []
        self.file = shortened(typed(path.name), 40)

    def chunks(self) -> Iterator[Chunk]:
        """Yield sound lines, at most `_CHUNK` at once; BadInput when the file or its header cannot be used."""
        try:
            with self.path.open(encoding="utf-8-sig", errors="surrogateescape", newline="") as file:
                lines = _lines(file)
                for number, text in lines:
                    self._take_header(number, text)
                    if self.components:
                        break
                else:
                    raise BadInput("the file is empty", "--from-csv", "begin it with a header, such as name,SiO2,Na2O")
                while some := list(islice(lines, _CHUNK)):
                    chunk = self._chunk(some)
                    self.good += len(chunk.numbers)
                    if chunk.numbers:
                        yield chunk
                if not self.good and not self.bad:
                    raise BadInput(
                        "the file holds no glass below its header", f"--from-csv {self.file}", "put one glass a line"
                    )
        except OSError as error:
            raise BadInput(
                f"cannot read the file ({(error.strerror or 'unknown reason').lower()})",
                f"--from-csv {shortened(typed(str(self.path)), 60)}",
                "give a CSV file",
            ) from None

    def _take_header(self, number: int, text: str) -> None:
        try:
            # A spreadsheet in many languages separates cells by semicolons.
            self.mark = max(",;\t", key=text.count)
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
            if len(cells) == due and text.isascii() and len(text) <= _LONGEST_LINE and not _ODD.search(text):
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

        if not cells or len(cells) > _MOST_COLUMNS:
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


def _lines(file: TextIO) -> Iterator[tuple[int, str]]:
    """Lines with their numbers; one that is far too long is cut, so that memory stays small."""
    number = 0
    while text := file.readline(_LONGEST_LINE):
        number += 1
        rest = text
        while not rest.endswith("\n") and (rest := file.readline(_LONGEST_LINE)):
            text = text[:_LONGEST_LINE] + "…"
        yield number, text


def _cells(text: str, mark: str) -> list[str]:
    if len(text) > _LONGEST_LINE:
        raise BadInput("the line is too long", "", "is a line end missing?")
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise BadInput("the line is not UTF-8", "", "save the file as UTF-8")
    try:
        rows = list(csv.reader([text.rstrip("\r\n")], delimiter=mark, strict=True))
    except csv.Error as error:
        raise BadInput(f"not sound CSV ({error})", "", "check the double quotes") from None
    cells = [cell.strip() for cell in rows[0]] if rows else []
    return cells if any(cells) else []


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


def estimate_table(
    path: Path,
    basis: str,
    on: str | None,
    texts: Mapping[str, str],
    check: bool,
    keep_good: bool,
    units: Units,
    as_json: bool,
    as_csv: bool,
) -> int:
    """Estimate every glass of a CSV file and print the answers; return the exit status."""
    reader = Reader(path, basis)
    if check:
        for _ in reader.chunks():
            pass
    else:
        with ExitStack() as stack:
            judge = _Judge(stack, on, texts) if on is not None else None
            kind = _Json if as_json else _Csv if as_csv else _Text
            writer = None
            for chunk in reader.chunks():
                # Made only now, so that a file whose header is refused leaves nothing on standard output.
                writer = writer or kind(judge is not None, units)
                writer.write(_answers(chunk, reader, judge))
            (writer or kind(judge is not None, units)).close()
    if check or reader.bad:
        told = f"{reader.good:,} good, {reader.bad:,} bad"
        if check:
            emit(f"{told}\n")
        else:
            complain(f"{told}; {'the good ones are above' if reader.good else 'nothing to estimate'}")
    return _BAD_LINES if reader.bad and not keep_good else 0


class _Judge:
    """Judges one composition after another on one metal."""

    def __init__(self, stack: ExitStack, on: str, texts: Mapping[str, str]) -> None:
        from refdb.judge.fit.question import asked
        from refdb.records import Glass

        self.ref = stack.enter_context(opened())
        self.question = asked(
            Glass("", "", "", "", ""), self.ref.metal(typed(on)), texts, lambda name: f"--{name.replace('_', '-')}"
        )

    def verdict(self, amounts: Mapping[str, float], basis: str) -> Verdict:
        from refdb.judge.fit.from_composition import glass_of, suits_estimated
        from refdb.science.glass import estimate

        return suits_estimated(self.ref, replace(self.question, glass=glass_of(estimate(amounts, basis))))


#: Answers of a chunk by column; None where nothing is known.
Answers = dict[str, list[Any]]


def _answers(chunk: Chunk, reader: Reader, judge: _Judge | None) -> Answers:
    from refdb.science.glass import estimate_many
    from refdb.science.glass.estimated import hardness_class

    found = estimate_many(chunk.amounts, reader.components, reader.basis)
    answers: Answers = {"line": chunk.numbers, "name": chunk.names}
    for name, field, scale, _ in _FIGURES:
        values = (getattr(found, field) * scale).tolist()
        answers[name] = [value if value == value else None for value in values]
    answers["hardness"] = [hardness_class(value) for value in answers["gloss_setting_c"]]
    known = zip(*(answers[name] for name in _VALUES), strict=True)
    answers["not_known"] = [
        "; ".join(name for name, value in zip(_VALUES, row, strict=True) if value is None) if None in row else ""
        for row in known
    ]
    if judge is not None:
        verdicts = [
            judge.verdict({c: a for c, a in zip(reader.components, row, strict=True) if a}, reader.basis)
            for row in chunk.amounts.tolist()
        ]
        answers["verdict"] = [verdict.outcome for verdict in verdicts]
        answers["confidence"] = [verdict.confidence for verdict in verdicts]
    return answers


def _header(judged: bool) -> list[str]:
    return [
        "line",
        "name",
        *(name for name, *_ in _FIGURES),
        "hardness",
        "not_known",
        *(("verdict", "confidence") if judged else ()),
    ]


_DECIMALS = {name: decimals for name, _, _, decimals in _FIGURES} | {"confidence": 4}


def _rounded(answers: Answers) -> Answers:
    """The same with the digits each figure deserves; whole numbers where none stand after the point."""
    short = dict(answers)
    for name, digits in _DECIMALS.items():
        if name in short:
            # `round` without digits gives a whole number.
            given = (digits,) if digits else ()
            short[name] = [None if value is None else unsigned(round(value, *given)) for value in answers[name]]
    return short


class _Csv:
    """Writes the answers as CSV, chunk by chunk."""

    def __init__(self, judged: bool, units: Units) -> None:
        self._put([_header(judged)])

    def write(self, answers: Answers) -> None:
        # None is written as an empty cell; names are the only text that comes from outside.
        short = _rounded(answers)
        self._put(zip(*(short | {"name": [no_formula(name) for name in short["name"]]}).values(), strict=True))

    def _put(self, rows: Iterable[Sequence[Any]]) -> None:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(rows)
        lines = text.getvalue()
        emit(lines if lines.isascii() else "\n".join(written_for(x, sys.stdout) for x in lines.split("\n")))

    def close(self) -> None:
        """Nothing is left to write."""


class _Json:
    """Writes the answers as one JSON document, chunk by chunk."""

    def __init__(self, judged: bool, units: Units) -> None:
        emit(f'{{"schema": "{SCHEMA}", "rows": [')
        self.before = "\n"

    def write(self, answers: Answers) -> None:
        import json

        short = _rounded(answers)
        rows = [
            json.dumps(dict(zip(short, row, strict=True)), allow_nan=False) for row in zip(*short.values(), strict=True)
        ]
        emit(self.before + ",\n".join(rows))
        self.before = ",\n"

    def close(self) -> None:
        """End the document."""
        emit("\n]}\n")


class _Text:
    """Gathers short cells and prints one table at the end."""

    def __init__(self, judged: bool, units: Units) -> None:
        self.judged, self.units = judged, units
        self.rows: list[list[str]] = []

    def write(self, answers: Answers) -> None:
        for cells in zip(*answers.values(), strict=True):
            row = dict(zip(answers, cells, strict=True))
            low, high = row["expansion_20_400c_low_ppm_per_k"], row["expansion_20_400c_high_ppm_per_k"]
            expansion = row["expansion_20_400c_ppm_per_k"]
            self.rows.append(
                [
                    shortened(row["name"] or f"line {row['line']}", 24),
                    "" if expansion is None else f"{expansion:.1f}",
                    "" if expansion is None else f"{low:.1f}-{high:.1f}",
                    *(self._degrees(row[name]) for name in ("set_point_c", "gloss_setting_c")),
                    row["verdict"] if self.judged else row["hardness"] or "",
                ]
            )

    def _degrees(self, temp_c: float | None) -> str:
        return "" if temp_c is None else degrees(temp_c, self.units).partition(" ")[0]

    def close(self) -> None:
        """Print the table; nothing where no line was sound."""
        if not self.rows:
            return
        page, unit = Page(), degrees(0, self.units).rpartition(" ")[2]
        columns = [
            Column("glass"),
            Column("expansion\nppm/K", right=True),
            Column("nine in ten", right=True),
            Column(f"set point\n{unit}", right=True),
            Column(f"gloss at\n{unit}", right=True),
            Column("verdict" if self.judged else "hardness"),
        ]
        page.table(columns, self.rows)
        page.line()
        page.paragraph(
            "Expansion over 20 to 400 °C; an empty cell is outside the model. --csv gives every figure "
            f"with its range. {BETTER}"
        )
        page.show()
