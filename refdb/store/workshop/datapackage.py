"""The Frictionless data package of a person's own CSV files."""

from __future__ import annotations

from typing import Any

from refdb.store import table_schema
from refdb.store.workshop.schema import OWN, Own


def package() -> dict[str, Any]:
    """The data package of an export, one resource a kind (data package and table schema, version 1)."""
    return table_schema.package(
        "refdb-own",
        "Materials and results of one's own",
        "A ' stands before text that a spreadsheet would take for a formula, a number or a date; it is no part of the "
        "text.",
        [table_schema.resource(own.table, own.file, own.description, schema(own)) for own in OWN.values()],
    )


def schema(own: Own) -> dict[str, Any]:
    """The table schema of one kind."""
    key = ["name"] if own.named else ["key"] if own.kind == "stock" else []
    return table_schema.table_schema(own.columns, key)
