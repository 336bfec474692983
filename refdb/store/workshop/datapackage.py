"""The Frictionless data package of a person's own CSV files, from the columns as they are described once."""

from __future__ import annotations

from typing import Any

from refdb.store.schema import Column
from refdb.store.workshop.schema import OWN, Own

_TYPES = {"TEXT": "string", "REAL": "number", "INTEGER": "integer"}


def package() -> dict[str, Any]:
    """The data package of an export, one resource a kind (data package and table schema, version 1)."""
    return {
        "profile": "tabular-data-package",
        "name": "refdb-own",
        "title": "Materials and results of one's own",
        "description": "A ' stands before text that a spreadsheet would take for a formula, a number or a date; it "
        "is no part of the text.",
        "resources": [_resource(own) for own in OWN.values()],
    }


def schema(own: Own) -> dict[str, Any]:
    """The table schema of one kind."""
    found: dict[str, Any] = {"fields": [_field(c) for c in own.columns], "missingValues": [""]}
    if own.named:
        found["primaryKey"] = ["name"]
    elif own.kind == "stock":
        found["primaryKey"] = ["key"]
    return found


def _resource(own: Own) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": own.table,
        "path": own.file,
        "description": own.description,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "doubleQuote": True, "lineTerminator": "\n", "header": True},
        "schema": schema(own),
    }


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": _TYPES[column.type], "title": column.label}
    if column.name == "date" or column.name.endswith("_date"):
        field["type"] = "date"
    about = [column.description] if column.description else []
    if column.unit:
        field["unit"] = column.unit
        about.append(f"in {column.unit}")
    if about:
        field["description"] = "; ".join(about)
    limits: dict[str, Any] = {}
    if column.required:
        limits["required"] = True
    if column.choices:
        limits["enum"] = list(column.choices)
    if column.type != "TEXT" and column.low is not None:
        limits |= {"minimum": column.low, "maximum": column.high}
    if limits:
        field["constraints"] = limits
    return field
