"""Estimates of many glasses from a CSV file, printed chunk by chunk as text, CSV or JSON."""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterable, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refdb.cli.common import Units, names_in, opened, say_taken, typed
from refdb.cli.composition_file import Chunk, CompositionFile
from refdb.cli.estimate_page import BETTER
from refdb.cli.output import Column, Page, complain, emit, no_formula, unsigned, written_for
from refdb.frozen import replace
from refdb.records.printed import degrees
from refdb.words import SCHEMA, shortened

if TYPE_CHECKING:
    from refdb.judge.verdict import Verdict

_BAD_LINES = 2
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
    reader = CompositionFile(path, basis)
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
        names = names_in(self.ref)
        metal = names.sheet(typed(on), "on")
        say_taken(names)
        self.question = asked(
            Glass("", "", "", "", ""), metal, texts, lambda name: f"--{name.replace('_', '-')}", names=names
        )

    def verdict(self, amounts: Mapping[str, float], basis: str) -> Verdict:
        from refdb.judge.fit.from_composition import glass_of, suits_estimated
        from refdb.science.glass import estimate

        return suits_estimated(self.ref, replace(self.question, glass=glass_of(estimate(amounts, basis))))


#: Answers of a chunk by column; None where nothing is known.
Answers = dict[str, list[Any]]


def _answers(chunk: Chunk, reader: CompositionFile, judge: _Judge | None) -> Answers:
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
