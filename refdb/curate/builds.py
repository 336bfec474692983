"""The precomputed ratios of coat to metal: of every glass on every metal, as `judge.fit.one_face` finds them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import astuple
from pathlib import Path
from typing import Any

from refdb.judge.fit.one_face import Ratio, inputs_of, one_face_ratio
from refdb.records import Glass
from refdb.store.glass_tables import BUILDS
from refdb.store.reference import Reference

#: Key of a glass, key of a metal, and the fields of their ratio.
Row = tuple[str, str, tuple[Any, ...]]


def ratios(ref: Reference, metal_key: str) -> Iterator[tuple[str, Ratio]]:
    """Glass key and ratio for each glass on one metal; pairs that lack a figure are left out."""
    metal = ref.metal(metal_key)
    known: dict[tuple[Any, ...], Ratio | None] = {}
    for glass in ref.materials("glass"):
        assert isinstance(glass, Glass)
        alike = inputs_of(glass)
        if alike not in known:
            known[alike] = one_face_ratio(ref, glass, metal)
        found = known[alike]
        if found is not None:
            yield glass.key, found


def rows_of(store: Path, metal_key: str) -> list[Row]:
    """The rows of builds.csv for one metal."""
    with Reference(store) as ref:
        return [(glass, metal_key, astuple(found)) for glass, found in ratios(ref, metal_key)]


def as_csv(rows: list[Row]) -> str:
    """builds.csv, sorted by glass and metal; what is not there is an empty cell."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(column.name for column in BUILDS.columns)
    writer.writerows((glass, metal, *ratio) for glass, metal, ratio in sorted(rows))
    return text.getvalue()
