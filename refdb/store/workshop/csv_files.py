"""CSV files of a person's own: imported line by line into a staging table, then all at once; and exported."""

from __future__ import annotations

import csv
import io
import json
import os
import sqlite3
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryDirectory

from refdb.errors import BadInput, StoreUnusable
from refdb.store.csv_lines import MOST_COLUMNS, cells_of, lines_of, opened, separator_of, unreadable
from refdb.store.workshop.cells import guarded
from refdb.store.workshop.checksums import mark
from refdb.store.workshop.datapackage import package
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.files import part_of, remove_stale, sync, sync_folder
from refdb.store.workshop.rows import Cells
from refdb.store.workshop.schema import MIGRATIONS, NAMED, OWN, PREFIX, Own
from refdb.store.workshop.staged_rows import StagedRows
from refdb.words import short_path, shortened

#: Lines between two tellings of how far it is.
STEP = 5000
_IMPORT_ONLY = ("cubical",)
#: The description of an export, and what its unfinished folder is named after.
DESCRIPTION, EXPORT = "datapackage.json", "export"


@dataclass
class Report:
    """What came of an import: rows by kind, those that stood there already, and the bad lines (with their files)."""

    good: dict[str, int] = field(default_factory=dict)
    there: int = 0
    bad: int = 0
    done: bool = False


class Importer:
    """Imports files, handing each bad line on as it is met.

    Parameters
    ----------
    known : mapping
        Keys of the reference by kind of material.
    tell : callable
        Gets every bad line as one `BadInput`.
    progress : callable
        Gets the file and the number of lines read, every `STEP` lines.
    defaults : mapping
        What stands where a cell is empty.
    named : callable, optional
        From a kind and a name to the key of the reference; see `Cells`.
    """

    def __init__(
        self,
        known: Mapping[str, Collection[str]],
        tell: Callable[[BadInput], None],
        progress: Callable[[str, int], None] = lambda name, lines: None,
        defaults: Mapping[str, str] | None = None,
        named: Callable[[str, str], str] | None = None,
    ) -> None:
        self.known, self.tell, self.progress, self.named = known, tell, progress, named
        self.defaults = dict(defaults or {})
        self.report = Report()

    def run(
        self,
        files: Sequence[Path],
        workshop: Path,
        kind: str | None = None,
        *,
        check: bool = False,
        keep_good: bool = False,
    ) -> Report:
        """Import files in one transaction: all their lines, or with `keep_good` the good ones, or nothing.

        Raises
        ------
        BadInput
            A file or its header cannot be used.
        StoreUnusable
            The workshop cannot be used; nothing was changed.
        """
        with TemporaryDirectory(prefix="refdb-") as folder:
            # A staging file without a name goes when its connection does, whatever happens.
            staged = "" if workshop.exists() else str(Path(folder, "lines.db"))
            if staged:
                # A workshop is made only for lines that will stand in it.
                self._look_over(files, staged, kind)
                if check or (self.report.bad and not keep_good):
                    return self.report
                if not any(self.report.good.values()):
                    self.report.done = True
                    return self.report
            with Workshop(workshop, write=not check) as shop:
                db = shop.connection
                try:
                    db.execute("ATTACH ? AS staged", (staged,))
                    if not self.report.good:
                        self._stage(db, files, kind)
                    self._compare(db)
                    if check or (self.report.bad and not keep_good):
                        return self.report
                    with shop.change():
                        # Another process may have added one of the names meanwhile.
                        self._compare(db)
                        if not self.report.bad or keep_good:
                            self._move(shop)
                            self.report.done = True
                except sqlite3.Error as error:
                    raise shop.fault(error) from None
        return self.report

    def _look_over(self, files: Sequence[Path], staged: str, kind: str | None) -> None:
        """Read files as they would go into an empty workshop."""
        try:
            with closing(sqlite3.connect("", isolation_level=None)) as db:
                for statement in (s for step in MIGRATIONS for s in step):
                    db.execute(statement)
                db.execute("ATTACH ? AS staged", (staged,))
                self._stage(db, files, kind)
                self._compare(db)
        except sqlite3.Error as error:
            raise StoreUnusable(
                f"the file cannot be looked over ({error})", str(files[0]), "free some space for temporary files"
            ) from None

    # Reading into the staging tables

    def _stage(self, db: sqlite3.Connection, files: Sequence[Path], kind: str | None) -> None:
        # Nobody else sees these tables, and a crash may lose them.
        db.execute("PRAGMA staged.journal_mode=OFF").fetchone()
        db.execute("PRAGMA staged.synchronous=OFF")
        for own in OWN.values():
            names = ("key", *own.names) if own.named else own.names
            unique = "number" if "number" in own.names else "key"
            # No types: what goes in is checked already.
            db.execute(f"CREATE TABLE staged.new_{own.kind} (file, line, crc, {', '.join(names)}, UNIQUE ({unique}))")
        db.execute("BEGIN")
        try:
            for path in files:
                self._file(db, path, kind)
            db.execute("COMMIT")
        finally:
            if db.in_transaction:
                db.execute("ROLLBACK")

    def _file(self, db: sqlite3.Connection, path: Path, kind: str | None) -> None:
        where = short_path(path, 60)
        with opened(path, where) as file:
            try:
                self._lines(db, path.name, lines_of(file), kind)
            except OSError as error:
                raise unreadable(error, where) from None

    def _lines(self, db: sqlite3.Connection, name: str, lines: Iterator[tuple[int, str]], kind: str | None) -> None:
        own: Own | None = None
        header: list[str] = []
        mark = ","
        for number, text in lines:
            if text.strip():
                try:
                    own, header, mark = header_of(text, name, kind, self.defaults)
                except BadInput as error:
                    raise BadInput(error.what, f"{name} line {number}, the header", error.todo) from None
                break
        if own is None:
            raise BadInput("the file is empty", name, "begin it with a header; refdb mine columns tells which")
        defaults = {n: v for n, v in self.defaults.items() if n in own.names}
        reader, width = Cells(own, header, self.known, defaults, self.named), len(header)
        rows = StagedRows(db, own, name, self._bad)
        for number, text in lines:
            if not number % STEP:
                self.progress(name, number)
            try:
                cells = cells_of(text, mark)
                if not cells:
                    continue
                if len(cells) != width:
                    raise BadInput(f"{len(cells)} cells instead of {width}", "", _todo_cells(cells, width))
                rows.add(number, reader.row(cells))
            except BadInput as error:
                rows.write()
                self._bad(name, number, error)
        rows.write()
        self.report.good[own.kind] = self.report.good.get(own.kind, 0) + rows.good

    def _bad(self, name: str, number: int, error: BadInput) -> None:
        self.report.bad += 1
        self.tell(BadInput(error.what, f"{name} line {number}{f', {error.where}' if error.where else ''}", error.todo))

    # Comparing with what is there, and moving

    def _compare(self, db: sqlite3.Connection) -> None:
        """Delete staged rows that the workshop has already, and report and delete those that clash with its rows."""
        for kind, count in self.report.good.items():
            own = OWN[kind]
            if not count:
                continue
            column = "number" if "number" in own.names else "key"
            places = [(own.table, kind)] + ([(OWN[k].table, k) for k in NAMED if k != kind] if own.named else [])
            # Most come into a new workshop: nothing clashes there, and to see that of every row takes its time.
            places = [p for p in places if db.execute(f"SELECT EXISTS (SELECT 1 FROM main.{p[0]})").fetchone()[0]]
            if (own.table, kind) in places:
                same = " AND ".join(f"n.{c} IS o.{c}" for c in own.names)
                self.report.there += db.execute(
                    f"DELETE FROM staged.new_{kind} AS n WHERE EXISTS (SELECT 1 FROM main.{own.table} o "
                    f"WHERE o.{column} = n.{column} AND {same})"
                ).rowcount
            for table, word in places:
                clashes = f"staged.new_{kind} n JOIN main.{table} o ON o.{column} = n.{column}"
                for file, line, key in db.execute(f"SELECT n.file, n.line, n.{column} FROM {clashes} ORDER BY 1, 2"):
                    shown = f"{PREFIX}{key}" if own.named else str(key)
                    self._bad(
                        file,
                        line,
                        BadInput(
                            f"you have another {word} {shown} already",
                            "name" if own.named else column,
                            "change that one with refdb mine edit, or remove it first",
                        ),
                    )
                db.execute(f"DELETE FROM staged.new_{kind} WHERE rowid IN (SELECT n.rowid FROM {clashes})")
            if own.named:
                for other in (k for k in NAMED[NAMED.index(kind) + 1 :] if self.report.good.get(k)):
                    both = f"staged.new_{kind} a JOIN staged.new_{other} b ON a.key = b.key"
                    for file, line, key in db.execute(f"SELECT b.file, b.line, b.key FROM {both} ORDER BY 1, 2"):
                        self._bad(file, line, BadInput(f"{PREFIX}{key} is a {kind} too", "name", "give each its own"))
                    db.execute(f"DELETE FROM staged.new_{other} WHERE rowid IN (SELECT b.rowid FROM {both})")
            self.report.good[kind] = db.execute(f"SELECT count(*) FROM staged.new_{kind}").fetchone()[0]

    def _move(self, shop: Workshop) -> None:
        db = shop.connection
        for kind, count in self.report.good.items():
            if not count:
                continue
            own = OWN[kind]
            if "number" in own.names:
                most = db.execute(f"SELECT ifnull(max(number), 0) FROM staged.new_{kind}").fetchone()[0]
                start = max(shop.next_number(kind) - 1, most)
                db.execute(f"UPDATE staged.new_{kind} SET number = ? + rowid WHERE number IS NULL", (start,))
            names = ", ".join((*(("key",) if own.named else ()), *own.names))
            order = "number" if "number" in own.names else "key"
            db.execute(f"INSERT INTO main.{own.table} ({names}) SELECT {names} FROM staged.new_{kind} ORDER BY {order}")
            if own.named:
                db.execute(
                    f"INSERT OR REPLACE INTO main.sums SELECT '{kind}', key, crc FROM staged.new_{kind} ORDER BY key"
                )
            else:
                # Their numbers are theirs only now.
                mark(db, kind, f"WHERE {order} IN (SELECT {order} FROM staged.new_{kind}) ORDER BY {order}")


def _todo_cells(cells: Sequence[str], width: int) -> str:
    if len(cells) > width:
        return "put a cell with a comma in it between double quotes, and write decimals with a point"
    return "the header says what is due; an empty cell still has its comma"


def header_of(text: str, name: str, kind: str | None, defaults: Mapping[str, str]) -> tuple[Own, list[str], str]:
    """The kind of a file, its columns, and what separates them.

    Raises
    ------
    BadInput
        The kind is not plain, or a column is unknown, stands twice or is missing.
    """
    if "\x00" in text:
        raise BadInput("the file is not text in UTF-8", "", "save it as CSV in UTF-8")
    mark = separator_of(text)
    header = [h.lower() for h in cells_of(text, mark)]
    if len(header) > MOST_COLUMNS:
        raise BadInput(f"{len(header)} columns", "", "refdb mine columns tells which there are")
    own = _kind_of(header, name, kind)
    allowed = (*own.names, *(_IMPORT_ONLY if own.kind in ("glass", "metal") else ()))
    for head in header:
        if head not in allowed:
            near = get_close_matches(head[:60], allowed, 1, 0.6)
            todo = f"did you mean {near[0]}?" if near else f"refdb mine columns {own.kind} tells which there are"
            raise BadInput(f"no column of a {own.kind} is called '{shortened(head)}'", "", todo)
        if header.count(head) > 1:
            raise BadInput(f"the column {head} stands twice", "", "keep one")
    for column in own.columns:
        if column.required and column.name not in header and column.name not in defaults:
            option = f", or give --{column.name}" if column.name in ("basis", "date") else ""
            raise BadInput(f"the column {column.name} is missing", "", f"add it{option}")
    return own, header, mark


def _kind_of(header: Sequence[str], name: str, kind: str | None) -> Own:
    if kind is not None:
        return OWN[kind]
    by_name = next((own for own in OWN.values() if own.file == name.lower()), None)
    if by_name is not None:
        return by_name
    fits = [own for own in OWN.values() if set(header) <= {*own.names, *_IMPORT_ONLY}]
    if len(fits) == 1:
        return fits[0]
    raise BadInput("it is not plain what the rows are", "", f"say --kind and one of: {', '.join(OWN)}")


def export(shop: Workshop, folder: Path) -> dict[str, int]:
    """Write every kind as a CSV file with datapackage.json beside them; rows by kind.

    Raises
    ------
    BadInput
        The folder holds one of the files already, or cannot be written.
    """
    counts: dict[str, int] = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        names = [own.file for own in OWN.values()] + [DESCRIPTION]
        there = next((n for n in names if (folder / n).exists()), None)
        if there is not None:
            raise BadInput(f"{there} is there already", short_path(folder, 60), "give an empty folder")
        remove_stale(folder / EXPORT)
        part = part_of(folder / EXPORT)
        part.mkdir()
        try:
            for kind, own in OWN.items():
                with (part / own.file).open("w", encoding="utf-8", newline="") as file:
                    counts[kind] = _written(shop, own, file)
            text = json.dumps(package(), ensure_ascii=False, indent=2) + "\n"
            (part / DESCRIPTION).write_text(text, "utf-8")
            for name in names:
                sync(part / name)
            # The description comes last: where it stands, all is there.
            for name in names:
                os.replace(part / name, folder / name)
            sync_folder(folder)
        except BaseException:
            # None of these names was taken before.
            for name in names:
                (folder / name).unlink(missing_ok=True)
            raise
        finally:
            rmtree(part, ignore_errors=True)
    except OSError as error:
        raise StoreUnusable(
            f"it cannot be written ({(error.strerror or 'unknown reason').lower()})",
            short_path(folder, 60),
            "give another folder",
        ) from None
    return counts


def _written(shop: Workshop, own: Own, file: io.TextIOBase) -> int:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(own.names)
    free = [c.type == "TEXT" and not c.choices and not c.name.endswith(("date", "tiles")) for c in own.columns]
    count = 0
    for row in shop.stream(own.kind):
        writer.writerow(
            ["" if v is None else guarded(v) if text else _figure(v) for v, text in zip(row, free, strict=True)]
        )
        count += 1
    return count


def _figure(value: object) -> object:
    return repr(value).removesuffix(".0") if isinstance(value, float) else value
