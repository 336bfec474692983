"""Take the measured surface tensions of enamel-like glasses out of the open SciGlass database.

Writes `data_sources/sciglass/surface_tension.csv`, from the same wheel and by the same rule as `extract_sciglass.py`.

    python scripts/extract_surface_tension.py [--cache FOLDER]
"""

from __future__ import annotations

import argparse
import csv
import tempfile
from pathlib import Path

from extract_sciglass import OXIDES, enamel_like, glass, number, plain, rows, wheel, write

#: Column here, column in the database; mN/m.
MEASURED = (("at_900_c_mn_per_m", "SUT900"), ("at_1200_c_mn_per_m", "SUT1200"))
#: What a silicate melt can have.
BOUNDS = (100.0, 600.0)


def main() -> None:
    """Write the file."""
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "refdb-sciglass")
    path = wheel(options.parse_args().cache)
    csv.field_size_limit(10_000_000)
    table = rows(path, "SciGK")
    heading = next(table)
    places = [heading.index(column) for _, column in MEASURED]
    measured: dict[tuple[str, str], list[float | None]] = {}
    for row in table:
        values = [number(row[at], 1.0, BOUNDS) for at in places]
        if any(v is not None for v in values):
            measured.setdefault((row[0], row[1]), values)
    found: dict[tuple[int, int], list[str]] = {}
    for kod, glasno, text in rows(path, "Gcomp"):
        values_of = measured.get((kod, glasno))
        weights = glass(text) if values_of else None
        if values_of and weights and enamel_like(weights):
            oxides = [plain(weights.get(k), 2) for k in OXIDES]
            found.setdefault((int(kod), int(glasno)), [kod, glasno, *oxides, *(plain(v, 1) for v in values_of)])
    write("surface_tension.csv", ["kod", "glasno", *OXIDES, *(name for name, _ in MEASURED)], found)


if __name__ == "__main__":
    main()
