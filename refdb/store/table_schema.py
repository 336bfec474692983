"""Frictionless descriptions of CSV files (data package and table schema, version 1), made of their columns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from refdb.store.schema import ColumnSpec

_TYPES = {"TEXT": "string", "REAL": "number", "INTEGER": "integer"}


def table_schema(
    columns: Iterable[ColumnSpec], key: Iterable[str] = (), foreign_keys: Iterable[Mapping[str, Any]] = ()
) -> dict[str, Any]:
    """The table schema of some columns, with the primary key and the foreign keys where there are any."""
    schema: dict[str, Any] = {"fields": [_field(column) for column in columns], "missingValues": [""]}
    for name, value in (("primaryKey", list(key)), ("foreignKeys", list(foreign_keys))):
        if value:
            schema[name] = value
    return schema


def resource(
    name: str, path: str, description: str, schema: Mapping[str, Any], more: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """The resource of one CSV file in UTF-8; `more` goes behind the description, such as a licence of its own."""
    return {
        "profile": "tabular-data-resource",
        "name": name,
        "path": path,
        "description": description,
        **(more or {}),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "doubleQuote": True, "lineTerminator": "\n", "header": True},
        "schema": schema,
    }


def package(
    name: str,
    title: str,
    description: str,
    resources: Iterable[Mapping[str, Any]],
    more: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The data package of some resources; `more` goes behind the description, such as licences."""
    return {
        "profile": "tabular-data-package",
        "name": name,
        "title": title,
        "description": description,
        **(more or {}),
        "resources": list(resources),
    }


def _field(column: ColumnSpec) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": _type(column), "title": column.label or column.name}
    description = [column.description] if column.description else []
    if column.refers == "materials.key":
        description.append("a key of metals.csv, glasses.csv or leaf.csv")
    if column.unit:
        field["unit"] = column.unit
        description.append(f"in {column.unit}")
    if description:
        field["description"] = "; ".join(description)
    limits: dict[str, Any] = {}
    if column.required:
        limits["required"] = True
    if column.choices:
        limits["enum"] = list(column.choices)
    if column.type != "TEXT":
        limits |= {n: v for n, v in (("minimum", column.low), ("maximum", column.high)) if v is not None}
    if limits:
        field["constraints"] = limits
    return field


def _type(column: ColumnSpec) -> str:
    return "date" if column.name == "date" or column.name.endswith("_date") else _TYPES[column.type]
