"""Read the CSV files of `data_sources/`, strictly: nothing is guessed, nothing is skipped."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple, Protocol

from refdb.errors import BadSource
from refdb.store.schema import FILES, File

#: Files that may be absent: they are generated, and a store without them still holds every fact.
OPTIONAL = ("answers.csv", "builds.csv", "sciglass/estimates.csv")
SHOWN = 10


class BadSources(BadSource):
    """All the problems of one reading of the sources; the first gives what, where and what to do."""

    def __init__(self, problems: Sequence[BadSource]) -> None:
        self.problems = tuple(problems)
        first = self.problems[0]
        super().__init__(first.what, first.where, first.todo)

    @property
    def line(self) -> str:
        """The first ten problems, one a line, and how many more there are."""
        lines = [problem.line for problem in self.problems[:SHOWN]]
        more = len(self.problems) - len(lines)
        if more > 0:
            lines.append(f"and {more:,} more")
        return "\n".join(lines)


class Placed(Protocol):
    """Anything that knows the file and line it came from."""

    @property
    def file(self) -> str: ...
    @property
    def line(self) -> int: ...


class SourceLine(NamedTuple):
    """A line of a file; line 0 is the file as a whole."""

    file: str
    line: int = 0


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a file: its cells as text, and the line on which it begins."""

    file: str
    line: int
    cells: dict[str, str]


def where(file: str, line: int = 0, column: str = "") -> str:
    """Return the place in words: file, line (when not 0) and column (when not empty)."""
    text = f"{file} line {line}" if line else file
    return f"{text}, column {column}" if column else text


class Problems:
    """Gathers what is wrong with the sources, so that one run tells all of it."""

    def __init__(self) -> None:
        self._found: list[tuple[int, int, BadSource]] = []
        self._places: set[tuple[str, int]] = set()
        self._rank = {file.name: rank for rank, file in enumerate(FILES)}

    def add(self, place: Placed, column: str, what: str, todo: str = "") -> None:
        """Note one problem in a column (empty: the whole line) of a place."""
        problem = BadSource(what, where(place.file, place.line, column), todo)
        self._found.append((self._rank.get(place.file, -1), place.line, problem))
        self._places.add((place.file, place.line))

    def at(self, place: Placed) -> bool:
        """Whether anything is wrong with this line."""
        return (place.file, place.line) in self._places

    def __len__(self) -> int:
        return len(self._found)

    def raise_if_any(self) -> None:
        """Raise them all as one `BadSources`, ordered by file and line; return when there are none."""
        if self._found:
            raise BadSources([problem for _, _, problem in sorted(self._found, key=lambda one: one[:2])])


def read_folder(folder: Path, problems: Problems) -> dict[str, list[Row]]:
    """Return the rows of every file of the schema, by file name.

    Parameters
    ----------
    folder : Path
        The folder that holds the CSV files.
    problems : Problems
        Receives whatever is wrong with the form of a file; its sound rows are returned all the same.

    Raises
    ------
    BadSource
        When the folder itself cannot be listed.
    """
    try:
        present = sorted(path.name for path in folder.iterdir())
    except OSError as error:
        raise BadSource(
            f"cannot read the folder ({_reason(error)})", str(folder), "give a folder that holds the CSV files"
        ) from None
    known = {file.name for file in FILES}
    for name in present:
        if name.lower().endswith(".csv") and name not in known:
            problems.add(SourceLine(name), "", "this file is in no table of the schema", "rename it or move it out")
    return {file.name: _rows(folder, file, problems) for file in FILES}


def _rows(folder: Path, file: File, problems: Problems) -> list[Row]:
    path = folder / file.name
    if file.name in OPTIONAL and not path.exists():
        return []
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        problems.add(SourceLine(file.name), "", "the file is missing", f"add it, with the header {_header(file)}")
        return []
    except OSError as error:
        problems.add(
            SourceLine(file.name), "", f"cannot read the file ({_reason(error)})", "check that it is a plain file"
        )
        return []
    text = decoded(content, file.name, problems)
    return [] if text is None else parsed(text, file, problems)


def decoded(content: bytes, name: str, problems: Problems) -> str | None:
    """Return a file's text, its lines ended by LF, or None (and a problem) when it is not plain UTF-8."""
    if content.startswith((b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")):
        problems.add(SourceLine(name, 1), "", "the file begins with a byte order mark", "save it as UTF-8 without one")
        return None
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        problems.add(
            SourceLine(name, line), "", f"byte 0x{content[error.start]:02x} is not UTF-8", "save the file as UTF-8"
        )
        return None
    text = text.replace("\r\n", "\n")
    if "\r" in text:
        line = text.count("\n", 0, text.index("\r")) + 1
        problems.add(SourceLine(name, line), "", "a lone carriage return", "end lines with LF or CR LF")
        return None
    return text


def parsed(text: str, file: File, problems: Problems) -> list[Row]:
    """Return the rows of a file's text; a wrong header refuses the file, a wrong length only its row."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows: list[Row] = []
    names = [column.name for column in file.columns]
    begins = 1
    try:
        for cells in reader:
            if begins == 1:
                if not _header_is_right(cells, names, file, problems):
                    return []
            elif not cells:
                problems.add(SourceLine(file.name, begins), "", "a blank line", "take it out")
            elif len(cells) != len(names):
                problems.add(
                    SourceLine(file.name, begins),
                    "",
                    f"{len(cells)} cells instead of {len(names)}",
                    "put a cell with a comma in it between double quotes",
                )
            else:
                rows.append(Row(file.name, begins, dict(zip(names, cells, strict=True))))
            begins = reader.line_num + 1
    except csv.Error as error:
        problems.add(
            SourceLine(file.name, begins), "", f"not sound CSV ({error})", "check the double quotes of this row"
        )
        return []
    if begins == 1:
        problems.add(SourceLine(file.name, 1), "", "the file is empty", f"begin it with the header {_header(file)}")
    return rows


def _header_is_right(cells: list[str], names: list[str], file: File, problems: Problems) -> bool:
    before = len(problems)
    for name, times in Counter(cells).items():
        if times > 1:
            problems.add(SourceLine(file.name, 1), name, f"the header has it {times} times", "keep one")
    for name in _absent(names, cells):
        problems.add(SourceLine(file.name, 1), name, "the header lacks this column", f"the header is {_header(file)}")
    for name in _absent(cells, names):
        problems.add(
            SourceLine(file.name, 1),
            name.strip() or "(blank)",
            "the header has a column that the schema lacks",
            f"the header is {_header(file)}",
        )
    if len(problems) == before and cells != names:
        problems.add(
            SourceLine(file.name, 1), "", "the columns stand in another order", f"the header is {_header(file)}"
        )
    return len(problems) == before


def _absent(names: Iterable[str], others: Sequence[str]) -> list[str]:
    return [name for name in dict.fromkeys(names) if name not in others]


def _header(file: File) -> str:
    return ",".join(column.name for column in file.columns)


def _reason(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()
