"""Check the rows of `data_sources/` and turn them into the records of the store.

Every problem is gathered before any is raised, each with its file, line and column and what to do about it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from refdb.curate.cells import CellError, Value, check_date, check_doi, check_key, nearest, value_of
from refdb.curate.convert import conversion
from refdb.curate.cross import check_records
from refdb.curate.read import Problems, Row
from refdb.curate.record import Record, Records
from refdb.errors import BadSource
from refdb.store.schema import FILES, TABLE, TABLES, ColumnSpec, File, Table

#: Bounds no real material passes: a slip of unit (mPa for MPa) or of a decimal point is caught here.
_PLAUSIBLE = {
    "expansion": (-5.0, 30.0, "ppm/K"),
    "youngs_modulus": (0.5, 700.0, "GPa"),
    "poisson_ratio": (0.0, 0.5, "1"),
    "density": (500.0, 23_000.0, "kg/m**3"),
    "solidus": (100.0, 3500.0, "degC"),
    "liquidus": (100.0, 3500.0, "degC"),
    "flow_stress": (0.5, 3000.0, "MPa"),
    "hardening": (0.0, 50_000.0, "MPa"),
    "flow_ratio_500c": (0.0, 1.5, "1"),
    "proof_stress": (0.0, 3000.0, "MPa"),
    "tensile_strength": (0.5, 5000.0, "MPa"),
    "zinc_content": (0.0, 100.0, "percent"),
    "tin_content": (0.0, 100.0, "percent"),
    "shrinkage": (0.0, 60.0, "percent"),
    "relative_density": (20.0, 100.0, "percent"),
    "least_thickness": (0.01, 20.0, "mm"),
    "set_point": (200.0, 1200.0, "degC"),
    "glass_transition": (200.0, 1200.0, "degC"),
    "dilatometric_softening": (200.0, 1300.0, "degC"),
    "littleton_softening": (250.0, 1700.0, "degC"),
    "gloss_setting": (300.0, 1800.0, "degC"),
    "fuse_low": (300.0, 1800.0, "degC"),
    "fuse_high": (300.0, 1800.0, "degC"),
    "leaf_thickness": (0.01, 2000.0, "um"),
    "surface_tension": (100.0, 600.0, "mN/m"),
    "areal_mass": (0.001, 1000.0, "mg/cm**2"),
}
_UNIT_COLUMNS = ("value", "low", "high")


def check(rows: Mapping[str, Iterable[Row]], problems: Problems) -> Records:
    """Return the records of every table, their values in the store's units.

    Parameters
    ----------
    rows : mapping
        The rows of each file, by file name, as `read.read_folder` returns them.
    problems : Problems
        What reading has found already; what is wrong with the rows is added.

    Raises
    ------
    BadSource
        When anything at all is wrong; it carries every problem found.
    """
    records: Records = {table.name: [] for table in TABLES}
    keys = _keys(rows)
    units = {row.cells["key"]: row.cells["unit"] for row in rows["properties.csv"]}
    for file in FILES:
        near: dict[tuple[str, str], str] = {}
        for row in rows[file.name]:
            cells = _cells(row, file, problems)
            _check_references(row, file, keys, near, problems)
            if file.name == "properties.csv":
                _check_property(row, problems)
            if file.name == "property_values.csv":
                _to_canonical(row, cells, units, problems)
            elif "property" in cells:
                _check_as_stored(row, cells, units, problems)
            for table, names in file.fills.items():
                records[table].append(Record(file.name, row.line, _values(TABLE[table], names, cells, file)))
        _check_order(rows[file.name], file, problems)
    check_records(records, problems)
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
            _check_plausible(row, column, float(cells[column] or 0.0), name, canonical, problems)


def _check_as_stored(row: Row, cells: dict[str, Value], units: Mapping[str, str], problems: Problems) -> None:
    """Check value, low and high that stand in the property's own unit already."""
    name = row.cells["property"]
    for column in _UNIT_COLUMNS:
        value = cells.get(column)
        if isinstance(value, float) and name in units:
            _check_plausible(row, column, value, name, units[name], problems)


@lru_cache(maxsize=256)
def _is_per_kelvin(canonical: str) -> bool:
    try:
        conversion("ppm/K", canonical)
    except BadSource:
        return False
    return True


def _check_plausible(row: Row, column: str, value: float, name: str, canonical: str, problems: Problems) -> None:
    if name not in _PLAUSIBLE:
        return
    low, high, unit = _PLAUSIBLE[name]
    try:
        bounds = conversion(unit, canonical)
    except BadSource as bad:
        problems.add(row, "property", f"the canonical unit of {name} is odd: {bad.what}", bad.todo)
        return
    if value > bounds(high) and name == "expansion":
        problems.add(
            row,
            column,
            f"a linear expansion above {high:g} {unit}",
            "it may be cubical: divide by three; or the unit is wrong",
        )
    elif not bounds(low) <= value <= bounds(high):
        problems.add(
            row,
            column,
            f"{value:g} {canonical} cannot be a {name.replace('_', ' ')}",
            f"it must lie between {low:g} and {high:g} {unit}; look at the unit and the decimal point",
        )


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
