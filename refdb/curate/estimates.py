"""The properties of the published glasses computed from their compositions, ready for the store."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

COMPOSITIONS, ESTIMATES = "sciglass/compositions.csv", "sciglass/estimates.csv"
#: Property of the store, the fields of an estimate (value, low, high), and the decimals kept.
PROPERTIES = (
    ("density", ("density_kg_m3", "density_low", "density_high"), 0),
    ("expansion", ("expansion_ppm_per_k", "expansion_low", "expansion_high"), 2),
    ("glass_transition", ("tg_c", "tg_low", "tg_high"), 0),
    ("gloss_setting", ("gloss_c", "gloss_low", "gloss_high"), 0),
    ("littleton_softening", ("littleton_c", "littleton_low", "littleton_high"), 0),
    ("set_point", ("set_point_c", "set_point_low", "set_point_high"), 0),
    ("youngs_modulus", ("youngs_modulus_pa", "youngs_modulus_low", "youngs_modulus_high"), -8),
)
_HEADER = ("glass", "property", "value", "low", "high", "words")


def compositions_in(folder: Path) -> dict[str, dict[str, float]]:
    """Weight per cent of each component of each published glass, from the CSV file in a folder of sources."""
    found: dict[str, dict[str, float]] = {}
    with (folder / COMPOSITIONS).open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["glass"], {})[row["component"]] = float(row["wt_pct"])
    return found


def estimated(glasses: Mapping[str, Mapping[str, float]]) -> Iterator[tuple[str, ...]]:
    """Rows of estimates.csv; a property outside the limits of its model has none.

    Parameters
    ----------
    glasses : mapping
        Key to composition in weight per cent; scaled to 100 first, since a published analysis may leave out
        traces.
    """
    from refdb.science.glass import estimate

    for key, amounts in sorted(glasses.items()):
        total = sum(amounts.values())
        found = estimate({name: 100.0 * amount / total for name, amount in amounts.items()})
        for name, fields, decimals in PROPERTIES:
            values = [getattr(found, field) for field in fields]
            if None not in values:
                words = found.hardness_words if name == "gloss_setting" else ""
                yield (key, name, *(_printed(value, decimals) for value in values), words)


def _printed(value: float, decimals: int) -> str:
    rounded = round(value, decimals)
    return f"{rounded:.{max(decimals, 0)}f}"


def as_csv(rows: Iterable[tuple[str, ...]]) -> str:
    """estimates.csv, sorted by glass and property."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_HEADER)
    writer.writerows(sorted(rows))
    return text.getvalue()
