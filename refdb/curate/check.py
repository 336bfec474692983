"""Check the rows of `data_sources/` and turn them into the records of the store.

Every problem is gathered before any is raised, each with its file, line and column and what to do about it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from refdb.curate.cells import CellError, Value, check_date, check_doi, check_key, nearest, value_of
from refdb.curate.convert import conversion
from refdb.curate.cross import check_records
from refdb.curate.groups import SHARED_BY, check_groups, groups_of, spread
from refdb.curate.read import Problems, Row
from refdb.curate.record import Record, Records
from refdb.errors import BadSource
from refdb.store.schema import FILES, TABLE, TABLES, ColumnSpec, File, Table
from refdb.words import folded

_UNIT_COLUMNS = ("value", "low", "high")
#: Files whose rows are read again when another changes, since their cells depend on it.
_READ_FOR = {"property_values.csv": ("properties.csv", "glass_groups.csv"), "property_bounds.csv": ("properties.csv",)}


def check(
    rows: Mapping[str, Iterable[Row]], problems: Problems, sound: Records | None = None, changed: str = ""
) -> Records:
    """Return the records of every table, their values in the store's units.

    Parameters
    ----------
    rows : mapping
        The rows of each file, by file name, as `read.read_folder` returns them.
    problems : Problems
        What reading has found already; what is wrong with the rows is added.
    sound : Records, optional
        The records of the same rows before one file was changed: what that change cannot touch is not looked at again.
    changed : str
        The file that was changed since.

    Raises
    ------
    BadSource
        When anything at all is wrong; it carries every problem found.
    """
    due = {
        file.name for file in FILES if sound is None or file.name == changed or changed in _READ_FOR.get(file.name, ())
    }
    touched = {table for file in FILES if file.name in due for table in file.fills}
    records: Records = {
        table.name: [r for r in (sound or {}).get(table.name, ()) if r.file not in due] for table in TABLES
    }
    keys = _keys(rows)
    units = {row.cells["key"]: row.cells["unit"] for row in rows["properties.csv"]}
    groups = groups_of(rows)
    for file in FILES:
        near: dict[tuple[str, str], str] = {}
        again = file.name in due
        if not again and not any(c.refers.split(".")[0] in touched for c in file.columns):
            continue
        for row, group in (one for written in rows[file.name] for one in spread(written, groups)):
            _check_references(row, file, keys, near, problems)
            if not again:
                continue
            cells = _cells(row, file, problems)
            cells[SHARED_BY] = group
            if file.name == "properties.csv":
                _check_property(row, problems)
            if file.name == "property_values.csv":
                _to_canonical(row, cells, units, problems)
            elif file.name == "property_bounds.csv":
                _bounds_to_canonical(row, cells, units, problems)
            for table, names in file.fills.items():
                records[table].append(Record(file.name, row.line, _values(TABLE[table], names, cells, file)))
        if again:
            _check_order(rows[file.name], file, problems)
    check_groups(rows, keys["materials.key"], problems)
    check_records(records, problems, frozenset(touched) if sound is not None else None)
    problems.raise_if_any()
    return records


def file_key(file: File) -> tuple[str, ...]:
    """Return the primary key of a file: the columns by which it is sorted and no two rows are alike."""
    return TABLE[next(iter(file.fills))].key


def _keys(rows: Mapping[str, Iterable[Row]]) -> dict[str, set[str]]:
    """Return the keys that may be referred to, by `table.column`; those of bad rows are among them."""
    keys: dict[str, set[str]] = {column.refers: set() for file in FILES for column in file.columns if column.refers}
    for target in keys:
        table, column = target.split(".")
        for file in FILES:
            if table in file.fills:
                keys[target].update(row.cells[column] for row in rows[file.name])
    return keys


def _cells(row: Row, file: File, problems: Problems) -> dict[str, Value]:
    """Return the values of a row's sound cells by column; what is wrong with the others goes to the problems."""
    cells: dict[str, Value] = {}
    for column in file.columns:
        text = row.cells[column.name]
        try:
            cells[column.name] = value_of(text, column)
            if not text:
                continue
            if column.name == "key":
                check_key(text, of_property=file.name == "properties.csv")
            elif column.name == "retrieved":
                check_date(text)
            elif column.name == "doi":
                check_doi(text)
        except CellError as bad:
            problems.add(row, column.name, bad.what, bad.todo)
    return cells


def _values(table: Table, names: tuple[str, ...], cells: dict[str, Value], file: File) -> dict[str, Value]:
    fixed = file.fixed.get(table.name, {})
    values: dict[str, Value] = {}
    for column in table.columns:
        if column.name in fixed:
            values[column.name] = fixed[column.name]
        elif column.name in names:
            values[column.name] = cells.get("unit" if column.name == "unit_as_printed" else column.name)
        elif column.name == "material":
            values[column.name] = cells.get("key")
        elif column.name == "folded":
            values[column.name] = folded(str(cells.get("alias") or ""))
    return values


def _check_references(
    row: Row, file: File, keys: dict[str, set[str]], near: dict[tuple[str, str], str], problems: Problems
) -> None:
    for column in file.columns:
        text = row.cells[column.name]
        if not column.refers or not text or text in keys[column.refers]:
            continue
        known = keys[column.refers]
        if not known and len(problems):
            continue  # the file referred to could not be read at all, and that is told
        table = column.refers.split(".")[0]
        if (text, column.refers) not in near:
            near[text, column.refers] = nearest(text, known, f"add it to the {table}, or correct the key")
        problems.add(row, column.name, f"no {table} row has the key '{text[:60]}'", near[text, column.refers])


def _check_property(row: Row, problems: Problems) -> None:
    for name in ("unit", "shown_unit"):
        try:
            conversion(row.cells[name], row.cells["unit"])
        except BadSource as bad:
            problems.add(row, name, bad.what, bad.todo)
            return


def _to_canonical(row: Row, cells: dict[str, Value], units: Mapping[str, str], problems: Problems) -> None:
    """Convert value, low and high in place to the property's own unit, and check their order and bounds."""
    name, unit = row.cells["property"], row.cells["unit"]
    if name not in units or not unit:
        return  # told already
    canonical = units[name]
    try:
        convert = conversion(unit, canonical)
        is_expansion = name == "expansion" or _is_per_kelvin(canonical)
    except BadSource as bad:
        problems.add(row, "unit", bad.what, bad.todo)
        return
    if is_expansion:
        for column in ("temp_low_c", "temp_high_c"):
            if not row.cells[column]:
                problems.add(
                    row,
                    column,
                    "an expansion without its temperature span",
                    "give the span in °C over which it is the mean",
                )
    for column in _UNIT_COLUMNS:
        value = cells.get(column)
        if isinstance(value, float):
            cells[column] = convert(value)


def _bounds_to_canonical(row: Row, cells: dict[str, Value], units: Mapping[str, str], problems: Problems) -> None:
    """Convert the bounds of a property in place to its own unit; widest and apart are differences."""
    name, unit = row.cells["property"], row.cells["unit"]
    if name not in units or not unit:
        return  # told already
    try:
        convert = conversion(unit, units[name])
    except BadSource as bad:
        problems.add(row, "unit", bad.what, bad.todo)
        return
    for column, shift in (("least", True), ("most", True), ("widest", False), ("apart", False)):
        value = cells.get(column)
        if isinstance(value, float):
            cells[column] = convert(value) - (0.0 if shift else convert(0.0))


@lru_cache(maxsize=256)
def _is_per_kelvin(canonical: str) -> bool:
    try:
        conversion("ppm/K", canonical)
    except BadSource:
        return False
    return True


def sort_key(cells: Mapping[str, str], columns: Iterable[ColumnSpec]) -> tuple[str | float, ...]:
    """Return the sort key of a row: text by code point, numbers by size; ValueError for a cell that is no number."""
    return tuple(cells[c.name] if c.type == "TEXT" else float(cells[c.name]) for c in columns)


def _check_order(rows: Iterable[Row], file: File, problems: Problems) -> None:
    columns = [column for name in file_key(file) for column in file.columns if column.name == name]
    before: tuple[str | float, ...] | None = None
    for row in rows:
        try:
            now = sort_key(row.cells, columns)
        except ValueError:
            continue  # told already
        if before is not None and now < before:
            problems.add(
                row, columns[0].name, "the rows are not sorted here", "run the formatter (scripts/format_data.py)"
            )
            return
        before = now
