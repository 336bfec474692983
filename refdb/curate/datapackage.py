"""The Frictionless data package of `data_sources/`: what each file and column is, from the schema."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any

from refdb.curate.check import file_key
from refdb.store.schema import FILES, File
from refdb.store.table_schema import package, resource, table_schema

NAME = "datapackage.json"
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
_FILE_OF_COLUMN = {
    (name, column): target
    for name in ("answers", "builds")
    for column, target in (("glass", "glasses"), ("metal", "metals"))
}


def datapackage(present: Collection[str]) -> str:
    """Return the text of `datapackage.json` (data package and table schema, version 1).

    Parameters
    ----------
    present : collection of str
        Names of the files that exist; a generated file that is absent is left out.
    """
    described = package(
        "refdb-data-sources",
        "Reference data for studio enamelling",
        "Generic base metals, metal clays, glass classes and leaf; one row a fact, each with its source. README.md "
        "tells what the words mean and how to add a row.",
        [_resource(file) for file in FILES if file.name in present],
        {
            "licenses": [
                {
                    "name": "CC-BY-4.0",
                    "path": "https://creativecommons.org/licenses/by/4.0/",
                    "title": "Creative Commons Attribution 4.0 International",
                }
            ]
        },
    )
    return json.dumps(described, ensure_ascii=False, indent=2) + "\n"


def _resource(file: File) -> dict[str, Any]:
    name = file.name.removesuffix(".csv").replace("/", "-")
    references = [
        {"fields": column.name, "reference": {"resource": target, "fields": "key"}}
        for column in file.columns
        if (target := _FILE_OF_COLUMN.get((name, column.name)) or _FILE_OF.get(column.refers))
    ]
    schema = table_schema(file.columns, file_key(file), references)
    more = _ELSEWHERE.get(file.name.rpartition("/")[0])
    return resource(name.replace("_", "-"), file.name, file.description, schema, more)
