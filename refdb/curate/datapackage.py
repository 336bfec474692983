"""The Frictionless data package of `data_sources/`: what each file and column is, from the schema."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any

from refdb.curate.check import file_key
from refdb.store.schema import FILES, Column, File

NAME = "datapackage.json"
_TYPES = {"TEXT": "string", "REAL": "number", "INTEGER": "integer"}
#: Keys of materials stand in three files; only where the kind is plain can one file be named.
_FILE_OF = {
    "sources.key": "sources",
    "properties.key": "properties",
    "reference_glasses.key": "sciglass-reference-glasses",
}
#: What a folder holds under another licence than the rest, and whom to name for it.
_ELSEWHERE: dict[str, dict[str, Any]] = {
    "sciglass": {
        "licenses": [
            {
                "name": "ODbL-1.0",
                "path": "https://opendatacommons.org/licenses/odbl/1-0/",
                "title": "Open Data Commons Open Database License v1.0",
            }
        ],
        "sources": [
            {
                "title": "SciGlass, open release (SciGlass contributors; EPAM Systems, 2019)",
                "path": "https://doi.org/10.5281/zenodo.8287159",
            }
        ],
    }
}
_FILE_OF_COLUMN = {("answers", "glass"): "glasses", ("answers", "metal"): "metals"}


def datapackage(present: Collection[str]) -> str:
    """Return the text of `datapackage.json` (data package and table schema, version 1).

    Parameters
    ----------
    present : collection of str
        Names of the files that exist; a generated file that is absent is left out.
    """
    package = {
        "profile": "tabular-data-package",
        "name": "refdb-data-sources",
        "title": "Reference data for studio enamelling",
        "description": "Generic base metals, metal clays, glass classes and leaf; one row a fact, each with "
        "its source. README.md tells what the words mean and how to add a row.",
        "licenses": [
            {
                "name": "CC-BY-4.0",
                "path": "https://creativecommons.org/licenses/by/4.0/",
                "title": "Creative Commons Attribution 4.0 International",
            }
        ],
        "resources": [_resource(file) for file in FILES if file.name in present],
    }
    return json.dumps(package, ensure_ascii=False, indent=2) + "\n"


def _resource(file: File) -> dict[str, Any]:
    name = file.name.removesuffix(".csv").replace("/", "-")
    schema: dict[str, Any] = {
        "fields": [_field(column) for column in file.columns],
        "missingValues": [""],
        "primaryKey": list(file_key(file)),
    }
    references = [
        {"fields": column.name, "reference": {"resource": target, "fields": "key"}}
        for column in file.columns
        if (target := _FILE_OF_COLUMN.get((name, column.name)) or _FILE_OF.get(column.refers))
    ]
    if references:
        schema["foreignKeys"] = references
    return {
        "profile": "tabular-data-resource",
        "name": name.replace("_", "-"),
        "path": file.name,
        "description": file.description,
        **_ELSEWHERE.get(file.name.rpartition("/")[0], {}),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "doubleQuote": True, "lineTerminator": "\n", "header": True},
        "schema": schema,
    }


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": _TYPES[column.type], "title": column.label or column.name}
    description = [column.description] if column.description else []
    if column.refers == "materials.key":
        description.append("a key of metals.csv, glasses.csv or leaf.csv")
    if column.unit:
        field["unit"] = column.unit
        description.append(f"in {column.unit}")
    if description:
        field["description"] = "; ".join(description)
    constraints: dict[str, Any] = {}
    if column.required:
        constraints["required"] = True
    if column.choices:
        constraints["enum"] = list(column.choices)
    if column.type != "TEXT" and column.low is not None:
        constraints["minimum"] = column.low
    if column.type != "TEXT" and column.high is not None:
        constraints["maximum"] = column.high
    if constraints:
        field["constraints"] = constraints
    return field
