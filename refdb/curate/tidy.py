"""The one form of the CSV files: sorted, columns in order, LF, few quotes. No figure is touched."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from contextlib import suppress
from pathlib import Path

from refdb.curate.check import file_key, sort_key
from refdb.curate.datapackage import NAME, datapackage
from refdb.curate.read import Problems, SourceLine, decoded, parsed
from refdb.errors import BadSource
from refdb.store.schema import FILES, File


def tidied(content: bytes, file: File) -> bytes:
    """Return a CSV file in its one form: rows sorted, blanks around cells gone, LF, few quotes.

    Columns in another order are put in order. Words and digits inside the cells stay as they are.

    Raises
    ------
    BadSource
        When the file cannot be read as CSV with the schema's columns.
    """
    problems = Problems()
    text = decoded(content.removeprefix(b"\xef\xbb\xbf"), file.name, problems)
    rows = [] if text is None else parsed(_in_order(text, file), file, problems)
    columns = [column for name in file_key(file) for column in file.columns if column.name == name]
    cells = []
    for row in rows:
        bare = {name: cell.strip() for name, cell in row.cells.items()}
        try:
            cells.append((sort_key(bare, columns), list(bare.values())))
        except ValueError:
            problems.add(SourceLine(file.name, row.line), columns[-1].name, "a number is due here", "correct the cell")
    problems.raise_if_any()
    cells.sort(key=lambda one: one[0])
    return _as_csv([[column.name for column in file.columns], *(row for _, row in cells)])


def _in_order(text: str, file: File) -> str:
    """Return the text with its columns in the schema's order, when they are the same columns in another."""
    names = [column.name for column in file.columns]
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error:
        return text
    if not rows or rows[0] == names or sorted(rows[0]) != sorted(names):
        return text
    if any(len(row) != len(names) for row in rows):
        return text
    places = [rows[0].index(name) for name in names]
    return _as_csv([[row[place] for place in places] for row in rows]).decode("utf-8")


def _as_csv(rows: list[list[str]]) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode("utf-8")


def stale(folder: Path) -> dict[str, bytes]:
    """Return, by name, the tidy content of each file of a folder that is not tidy.

    Raises
    ------
    BadSource
        When the folder or a file cannot be read.
    """
    due: dict[str, bytes] = {}
    present = []
    for file in FILES:
        path = folder / file.name
        if not path.exists():
            continue
        present.append(file.name)
        content = _content(path)
        if (tidy := tidied(content, file)) != content:
            due[file.name] = tidy
    if not present:
        raise BadSource("no file of the data sources is here", str(folder), "give the folder of the CSV files")
    package = datapackage(present).encode("utf-8")
    path = folder / NAME
    if not path.exists() or _content(path) != package:
        due[NAME] = package
    return due


def rewrite(folder: Path, due: dict[str, bytes]) -> None:
    """Write each file anew, each in one step; raises BadSource when one cannot be written."""
    for name, content in due.items():
        part = None
        try:
            handle, part = tempfile.mkstemp(prefix=f"{name}.", suffix=".part", dir=folder)
            with os.fdopen(handle, "wb") as out:
                out.write(content)
            os.chmod(part, 0o644)
            os.replace(part, folder / name)
        except OSError as error:
            if part is not None:
                with suppress(OSError):
                    os.unlink(part)
            raise BadSource(
                f"cannot write the file ({error.strerror})", str(folder / name), "check that you may write there"
            ) from None


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadSource(
            f"cannot read the file ({error.strerror})", str(path), "check that it is a plain file"
        ) from None
