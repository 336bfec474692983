"""The columns of a file of shared tests, as people and the data package meet them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import Any

from refdb.quantities.firings import RESULTS
from refdb.records.pooled import FIRING, STRIP, TILE, SharedRow
from refdb.store import table_schema
from refdb.store.schema import ColumnSpec
from refdb.store.workshop.columns import number_column, text_column
from refdb.store.workshop.schema import SHOWED, TILE_OUTCOMES

KINDS = (TILE, STRIP, FIRING)
COLUMNS: tuple[ColumnSpec, ...] = (
    text_column("kind", choices=KINDS, required=True),
    text_column("studio", description="16 signs drawn at random, the same whenever a studio shares", required=True),
    text_column("jar", description="8 signs of a jar of that studio; tiles of one jar bear the same", required=True),
    text_column("row", description="12 signs of this very test, so that it is counted once", required=True),
    text_column("glass", description="key of the class that the jar is like", required=True),
    text_column("metal", description="key of a metal of the reference, or of the one it is like", required=True),
    number_column("metal_mm", "metal thickness", "mm", 0.02, 20, "of a strip too"),
    number_column("front_mm", "glass on the front", "mm", 0, 20, "of a strip its coat"),
    number_column("back_mm", "glass on the back", "mm", 0, 20),
    number_column("kiln_c", "kiln setting", "°C", 100, 1600),
    number_column("minutes", "time in the kiln", "min", 0.05, 1440),
    text_column(
        "outcome",
        description=f"of a tile one or more of {', '.join(TILE_OUTCOMES)}, joined by semicolons; of a firing one of "
        f"{', '.join(RESULTS)}; of a strip nothing",
    ),
    text_column("showed", "when it showed", SHOWED),
    text_column("month", description="of the test, as 2026-11", required=True),
    number_column("length_mm", "length", "mm", 1, 2000, "of a strip"),
    number_column("bow_mm", "bow", "mm", -1000, 1000, "of a strip, above zero with the glass on the outer side"),
    number_column("bow_before_mm", "bow before firing", "mm", -1000, 1000),
    number_column("bow_error_mm", "error of the bow", "mm", 0.001, 100, "a standard deviation"),
)
NAMES = tuple(c.name for c in COLUMNS)


def schema() -> dict[str, Any]:
    """The Frictionless table schema of a file of shared tests."""
    return table_schema.table_schema(COLUMNS, ["studio", "row"])


def written(rows: Iterable[SharedRow], file: io.TextIOBase) -> int:
    """Write rows as CSV and return how many; the header comes first."""
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(NAMES)
    count = 0
    for row in rows:
        values = (getattr(row, name) for name in NAMES)
        writer.writerow(
            ["" if v is None else repr(v).removesuffix(".0") if isinstance(v, float) else v for v in values]
        )
        count += 1
    return count
