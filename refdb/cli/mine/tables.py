"""Rows of one's own as tables: for each kind its columns, and how a row fills each of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from refdb.cli.output import Column
from refdb.store.workshop.schema import NAMED, NUMBERED, PREFIX

Row = dict[str, Any]
#: A column of a table and what stands in it.
Cell = tuple[Column, Callable[[Row], str]]
KINDS = {
    "glass": "glasses",
    "metal": "metals",
    "leaf": "leaf and foil",
    "tile": "tiles",
    "strip": "strips",
    "stock": "stock",
    "firing": "firings",
    "kiln": "kiln",
}


def key_of_row(kind: str, row: Row) -> str:
    """The key by which a row is called."""
    if kind in NAMED:
        return f"{PREFIX}{row['key']}"
    return f"{kind}:{row['number']}" if kind in NUMBERED else str(row["key"])


def table(kind: str, rows: Sequence[Row]) -> tuple[list[Column], list[list[str]]]:
    """The columns of a kind's table, and the cells of each row."""
    key: Cell = (Column("key"), lambda row: key_of_row(kind, row))
    columns = (key, *_COLUMNS[kind])
    return [column for column, _ in columns], [[cell(row) for _, cell in columns] for row in rows]


def _word(head: str, name: str, empty: str = "-", wraps: bool = False) -> Cell:
    return Column(head, wraps=wraps), lambda row: row[name] or empty


def _figure(head: str, name: str, form: str = "g") -> Cell:
    return Column(head, right=True), lambda row: "-" if row.get(name) is None else f"{row[name]:{form}}"


def _range(head: str, low: str, high: str, joint: str) -> Cell:
    return (
        Column(head, right=True),
        lambda row: "-" if row[low] is None or row[high] is None else f"{row[low]:g}{joint}{row[high]:g}",
    )


def _outcome(row: Row) -> str:
    return str(row["outcome"]) + (f" ({row['showed']})" if row["showed"] else "")


def _fired(row: Row) -> str:
    setting = f"{row['kiln_c']:.0f} °C" if row["kiln_c"] is not None else ""
    minutes = f"{row['minutes']:.3g} min" if row["minutes"] is not None else ""
    return " ".join(x for x in (setting, minutes) if x) or "-"


_LIKE = _word("like", "like", wraps=True)
_EXPANSION = _figure("expansion\nppm/K", "expansion_ppm_per_k", ".4g")
_GLASS, _METAL = _word("glass", "glass", wraps=True), _word("metal", "metal", wraps=True)
_DATE = _word("date", "date")
#: Behind the key, which every table begins with.
_COLUMNS: dict[str, tuple[Cell, ...]] = {
    "glass": (
        _EXPANSION,
        _range("fuses\n°C", "fuse_low_c", "fuse_high_c", "-"),
        _word("hardness", "hardness"),
        _word("lead", "lead"),
        _LIKE,
    ),
    "metal": (_word("form", "form"), _EXPANSION, _figure("melts from\n°C", "solidus_c"), _LIKE),
    "leaf": (_word("metal", "metal"), _figure("thickness\nµm", "leaf_thickness_um"), _LIKE),
    "stock": (_figure("left\ng", "grams"), _word("on", "date"), _word("note", "note", "", wraps=True)),
    "strip": (_GLASS, _METAL, _figure("bow\nmm", "bow_mm"), _EXPANSION, _DATE),
    "firing": (
        _GLASS,
        _figure("kiln\n°C", "kiln_c", ".0f"),
        _figure("time\nmin", "minutes", ".3g"),
        _METAL,
        _figure("mm", "metal_mm", ".3g"),
        _word("seen", "result", wraps=True),
        _DATE,
    ),
    "kiln": (
        _figure("hotter than\nit shows, K", "offset_k"),
        _range("range\nK", "offset_low_k", "offset_high_k", " to "),
        _word("basis", "basis"),
        _DATE,
        _word("tiles", "tiles", wraps=True),
    ),
    "tile": (_GLASS, _METAL, (Column("came out", wraps=True), _outcome), (Column("fired"), _fired), _DATE),
}
