"""All printing of the command line: aligned text, JSON and CSV, to any terminal, pipe or encoding."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from itertools import islice
from typing import Any, TextIO

from refdb.errors import RefdbError
from refdb.frozen import dataclass
from refdb.quantities.printed import ascii_fallback, fahrenheit
from refdb.words import SCHEMA, within

NARROWEST, STANDARD, WIDEST = 60, 80, 100
#: Signs our own text uses; an encoding that lacks one gets ASCII throughout, so that columns still meet.
_SIGNS = "°µ–−×·²³±≤≥…’“”"
_NO_BREAK = "\u00a0"
#: Signs that steer a terminal or turn the direction of text, and halves of signs, which no encoding takes.
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
#: Blanks of any kind but the one that holds words together.
_BLANKS = re.compile(r"[^\S\u00a0]+")
_UNITS = re.compile(r"(?<=\d) (?=(?:mm|µm|m|MPa|GPa|ppm/K|ppm|K|°C|°F|min|h|%|J/m²|kg/m³|mg/cm²|cards?)(?![\w²³]))")


#: Lines of the screen that an answer fits unless all of it is asked for.
SCREEN = 24
#: So many letters of a fault are told.
LONGEST_FAULT = 240
#: So many lines or rows of a long list are written at once.
_AT_ONCE = 500


class OutputError(RefdbError):
    """The answer cannot be written where it should go."""


class NoOutputError(OutputError):
    """There is no standard output to write to."""

    exit_status = 4


class OutputClosedError(Exception):
    """Whoever read the answer has gone away."""


def _shows(encoding: str, text: str) -> bool:
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True


@cache
def _shows_ours(encoding: str) -> bool:
    return _shows(encoding, _SIGNS)


def shows_signs(stream: TextIO | None = None) -> bool:
    """Whether a stream can show °, µ and the like; an explicit LC_ALL=C asks for ASCII too."""
    stream = sys.stdout if stream is None else stream
    if os.environ.get("LC_ALL") in ("C", "POSIX"):
        return False
    return _shows_ours(getattr(stream, "encoding", None) or "ascii")


def written_for(text: str, stream: TextIO | None) -> str:
    """The text as the stream can show it: ASCII look-alikes where it lacks our signs, then "?"."""
    if not text.isascii() and not shows_signs(stream):
        return ascii_fallback(text)
    encoding = getattr(stream, "encoding", None) or "ascii"
    return text if text.isascii() or _shows(encoding, text) else text.encode(encoding, "replace").decode(encoding)


def page_width() -> int:
    """Columns to fill: 80 in a pipe, the terminal's own width between 60 and 100 on a screen."""
    if sys.stdout is None or not sys.stdout.isatty():
        return STANDARD
    import shutil

    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((STANDARD, 24)).columns))


def emit(text: str) -> None:
    """Write text to standard output as it is, but for signs that steer a terminal, which are shown as "?".

    Raises
    ------
    OutputClosedError
        When the reader has gone, as `head` does.
    OutputError
        When it cannot be written, for instance on a full disk.
    NoOutputError
        When there is no standard output.
    """
    if sys.stdout is None:
        raise NoOutputError("the answer cannot be written (standard output is closed)", todo="write it to a file")
    try:
        text = _UNSEEN.sub("?", text)
        try:
            sys.stdout.write(text)
        except UnicodeEncodeError as error:
            sys.stdout.write(text.encode(error.encoding, "replace").decode(error.encoding))
        sys.stdout.flush()
    except BrokenPipeError:
        raise OutputClosedError from None
    except OSError as error:
        raise OutputError(
            f"the answer cannot be written ({(error.strerror or 'unknown reason').lower()})",
            todo="free some space or write elsewhere",
        ) from None


def complain(text: str) -> None:
    """Write one line to standard error; that it cannot be written is passed over."""
    if sys.stderr is None:
        return
    line = written_for(f"refdb: {text}", sys.stderr)
    try:
        sys.stderr.write(line + "\n")
        sys.stderr.flush()
    except OSError:
        pass


def emit_json(payload: dict[str, Any]) -> None:
    """Write a JSON document of the schema `refdb/2`."""
    import json

    body = payload if "schema" in payload else {"schema": SCHEMA, **payload}
    text = json.dumps(unsigned(body), ensure_ascii=not shows_signs(), indent=2, allow_nan=False)
    emit(_UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text) + "\n")


def unsigned(value: Any) -> Any:
    """A value of JSON with every zero without its sign."""
    if isinstance(value, float):
        return value + 0.0
    if isinstance(value, dict):
        return {name: unsigned(part) for name, part in value.items()}
    return [unsigned(part) for part in value] if isinstance(value, list | tuple) else value


def emit_json_rows(rows: Iterable[dict[str, Any]]) -> None:
    """Write `{"schema", "rows"}` as `emit_json` does, one row after another."""
    import json

    def lines() -> Iterator[str]:
        yield f'{{\n  "schema": "{SCHEMA}",\n  "rows": ['
        first = True
        for row in rows:
            text = json.dumps(unsigned(row), ensure_ascii=not shows_signs(), indent=2, allow_nan=False)
            text = _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text).replace("\n", "\n    ")
            yield f"{'' if first else ','}\n    {text}"
            first = False
        yield "]\n}\n" if first else "\n  ]\n}\n"

    _emit_parts(lines())


def emit_csv(rows: Sequence[dict[str, Any]], header: Sequence[str]) -> None:
    """Write rows as CSV with a header line; what is not known is an empty cell.

    A ' stands before text that a spreadsheet would take for a formula.
    """
    _emit_encoded("".join(_csv_lines(rows, header)))


def emit_csv_of(rows: Iterable[dict[str, Any]], header: Sequence[str]) -> None:
    """Write rows as `emit_csv` does, one after another."""
    _emit_parts(_csv_lines(rows, header), _emit_encoded)


def _csv_lines(rows: Iterable[dict[str, Any]], header: Sequence[str]) -> Iterator[str]:
    import csv
    import io

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    for row in rows:
        yield text.getvalue()
        text.seek(0)
        text.truncate()
        writer.writerow(["" if row.get(name) is None else no_formula(unsigned(row[name])) for name in header])
    yield text.getvalue()


def _emit_parts(parts: Iterable[str], write: Callable[[str], None] = emit) -> None:
    """Write parts of a text, some hundreds at a time."""
    waiting = iter(parts)
    while some := list(islice(waiting, _AT_ONCE)):
        write("".join(some))


def _emit_encoded(text: str) -> None:
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    emit(text if _shows(encoding, text) else ascii_fallback_lines(text))


def no_formula(cell: Any) -> Any:
    """A cell for CSV: text that begins like a formula has a ' before it, as in an export of one's own shelf."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@")) else cell


def ascii_fallback_lines(text: str) -> str:
    """`ascii_fallback` line by line, so that line ends stay."""
    return "\n".join(ascii_fallback(line) for line in text.split("\n"))


_CELSIUS = re.compile(r"(?<![\w.,-])(\d[\d,]*(?:\.\d+)?)(?:( to |-|–)(\d[\d,]*(?:\.\d+)?))? °C")


def in_fahrenheit(text: str) -> str:
    """Text with the temperatures in it, as "815 °C" or "780 to 815 °C", in °F."""

    def told(number: str) -> str:
        return f"{fahrenheit(float(number.replace(',', ''))):.0f}"

    return _CELSIUS.sub(lambda m: told(m[1]) + (m[2] + told(m[3]) if m[3] else "") + " °F", text)


@dataclass(frozen=True)
class Column:
    """A column of a table: its head (lines), whether numbers stand in it, and whether its text may wrap."""

    head: str
    right: bool = False
    wraps: bool = False


class Page:
    """Lines of text for people, laid out to a width and then written at once."""

    def __init__(self, width: int | None = None, *, fahrenheit: bool = False) -> None:
        self.width = width or page_width()
        self.fahrenheit = fahrenheit
        self.plain = not shows_signs()
        self.lines: list[str] = []

    def fit(self, text: str) -> str:
        """Text as the terminal shows it, on one line, with units held to their numbers."""
        if self.fahrenheit:
            text = in_fahrenheit(text)
        text = _UNITS.sub(_NO_BREAK, _BLANKS.sub(" ", text.replace("−", "-")).strip())
        return ascii_fallback(text) if self.plain else text

    def line(self, text: str = "") -> None:
        """One line as it is; an empty one after nothing, or after another, is left out."""
        if text or (self.lines and self.lines[-1]):
            self.lines.append(text)

    def paragraph(self, text: str, indent: int = 0, hang: int | None = None, mark: str = "") -> None:
        """Wrapped text after a mark; lines after the first are indented by `hang` where that is given."""
        if text.strip():
            hang = indent + len(mark) if hang is None else hang
            self.lines.extend(self._filled(text, self.width, " " * indent + mark, " " * hang))

    def clipped(self, text: str, indent: int = 0) -> None:
        """One line, cut with an ellipsis where it is too long."""
        self.lines.append(" " * indent + self.cut(text, self.width - indent))

    def cut(self, text: str, room: int) -> str:
        """Text as the terminal shows it, in so many columns: whole words, with an ellipsis for what was cut off."""
        whole, dots = self.fit(text), "..." if self.plain else "…"
        return whole if len(whole) <= room else within(whole, room - len(dots)).rstrip() + dots

    def _filled(self, text: str, width: int, first: str = "", rest: str = "") -> list[str]:
        import textwrap

        return textwrap.wrap(
            self.fit(text),
            max(width, 8),
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
            break_long_words=True,
        )

    def heading(self, text: str) -> None:
        """A heading with an empty line before it."""
        self.line()
        self.paragraph(text)

    def sides(self, left: str, right: str) -> None:
        """One line with text at both sides, or two where they do not fit."""
        left, right = self.fit(left), self.fit(right)
        room = self.width - len(left) - len(right)
        if room >= 2:
            self.lines.append(left + " " * room + right)
        else:
            self.paragraph(left)
            self.paragraph(right, 2)

    def beside(self, text: str, right: str, indent: int = 2) -> None:
        """Wrapped text with something short at the right end of its first line."""
        right = self.fit(right)
        room = self.width - len(right) - 2
        first, *more = self._filled(text, room, " " * indent)
        self.lines.append(f"{first:<{room}}  {right}")
        self.paragraph(" ".join(more), indent + 2)

    def pairs(self, pairs: Iterable[tuple[str, str]], indent: int = 2) -> None:
        """Labels with their text beside them; pairs without text are left out."""
        kept = [(self.fit(a), b) for a, b in pairs if b]
        left = max((len(a) for a, _ in kept), default=0)
        for label, text in kept:
            at = indent + left + 2
            lines = self._filled(text, self.width - at)
            self.lines.append(f"{' ' * indent}{label:<{left}}  {lines[0]}")
            self.lines.extend(" " * at + more for more in lines[1:])

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        indent: int = 2,
        widths: Sequence[int] | None = None,
    ) -> None:
        """A table with its heads; `widths` (see `table_widths`) lines several tables up with each other."""
        widths = list(widths or self.table_widths(columns, rows, indent))
        heads = [[self.fit(x) for x in c.head.split("\n")] for c in columns]
        most = max(len(h) for h in heads)
        for n in range(most):
            cells = [h[n - most + len(h)] if n >= most - len(h) else "" for h in heads]
            if any(cells):
                self._row(columns, [[cell] for cell in cells], widths, indent)
        self.rows(columns, rows, widths, indent)

    def rows(
        self, columns: Sequence[Column], rows: Sequence[Sequence[str]], widths: Sequence[int], indent: int = 2
    ) -> None:
        """Rows of a table without its heads."""
        for row in rows:
            cells_of = [
                self._filled(cell, width) if column.wraps else [self.fit(cell)]
                for column, cell, width in zip(columns, row, widths, strict=True)
            ]
            self._row(columns, cells_of, widths, indent)

    def table_widths(self, columns: Sequence[Column], rows: Iterable[Sequence[str]], indent: int = 2) -> list[int]:
        """Widths of the columns: what their text needs, the wrapping ones sharing what is left."""
        widths = [max(len(self.fit(x)) for x in c.head.split("\n")) for c in columns]
        for row in rows:
            widths = [max(w, len(self.fit(cell))) for w, cell in zip(widths, row, strict=True)]
        room = self.width - indent - 2 * (len(columns) - 1)
        wrapping = [n for n, c in enumerate(columns) if c.wraps]
        fixed = sum(w for n, w in enumerate(widths) if n not in wrapping)
        for place, n in enumerate(wrapping):
            share = (room - fixed) // (len(wrapping) - place)
            widths[n] = min(widths[n], max(share, 8))
            fixed += widths[n]
        return widths

    def _row(self, columns: Sequence[Column], cells: list[list[str]], widths: Sequence[int], indent: int) -> None:
        for n in range(max(len(c) for c in cells)):
            parts = [(c[n] if n < len(c) else "") for c in cells]
            text = "  ".join(
                f"{p:>{w}}" if column.right else f"{p:<{w}}"
                for p, w, column in zip(parts, widths, columns, strict=True)
            )
            self.line((" " * indent + text).rstrip())

    def show_so_far(self) -> None:
        """Write what a long page holds once that is much; its last line waits for what follows."""
        if len(self.lines) > _AT_ONCE:
            *self.lines, last = self.lines
            self.show()
            self.lines = [last]

    def show(self) -> None:
        """Write the page."""
        text = "\n".join(self.lines).replace(_NO_BREAK, " ") + "\n"
        out = sys.stdout
        emit("\n".join(written_for(line, out) for line in text.split("\n")) if not text.isascii() else text)
