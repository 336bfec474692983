"""Take the enamel-like glasses out of the open SciGlass database.

The database travels as CSV tables inside the wheel of glasspy 0.4.0. This script downloads that wheel once
into a cache folder with pip, reads the tables straight out of it (nothing of the package is imported or
installed), and writes `data_sources/sciglass/enamel_like.csv` and `copper_enamels.csv`.

    python scripts/extract_sciglass.py [--cache FOLDER]
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from refdb.science.glass.components import COMPONENTS, MOLAR_MASS_G_PER_MOL, oxide_equivalents  # noqa: E402
from refdb.science.glass.features import DOMAIN_WT_PCT, MAJOR, MINOR, OTHERS_HIGHEST_MOL_PCT  # noqa: E402

WHEEL = "glasspy-0.4.0-py3-none-any.whl"
WHEEL_SHA256 = "ebc0590b8bc99be1729ca3ff3be314bfd6d098d3d8efbb12f1c280f86ed1a8e6"
TABLES = "glasspy/data/datafiles/select_{}.csv.zip"
OUT = ROOT / "data_sources" / "sciglass"

OXIDES = (*MAJOR, *MINOR)
#: Column here, column in the database, decimals kept, and the values that can be a silicate glass at all.
MEASURED = (
    ("expansion_1e-7_per_k", "TEC210", 1, (20.0, 300.0)),
    ("littleton_c", "LPT", 0, (250.0, 1200.0)),
    ("tg_c", "TG", 0, (150.0, 1000.0)),
    ("density_kg_m3", "DENSITY", 0, (1800.0, 7000.0)),
    ("youngs_modulus_gpa", "MOD_UNG", 1, (20.0, 160.0)),
    ("temp_log3_c", "T4", 0, (300.0, 1800.0)),
)
#: Published copper enamels, by the database's number for the paper.
COPPER = {
    "14282": "Yatsenko, Zubekhin and Nepomnyashchev, Steklo i Keramika 1998 (12) 26",
    "20699": "Zubekhin, Yatsenko and Klimenko, Steklo i Keramika 2001 (4) 24",
}


def wheel(cache: Path) -> Path:
    """Return the wheel in the cache folder, downloaded if need be, its checksum verified."""
    cache.mkdir(parents=True, exist_ok=True)
    path = cache / WHEEL
    if not path.exists():
        subprocess.run(
            [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--dest", str(cache), "glasspy==0.4.0"],
            check=True,
        )
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    if digest != WHEEL_SHA256:
        raise SystemExit(f"{path}: the checksum is {digest}, not {WHEEL_SHA256}; delete it and try again")
    return path


def rows(path: Path, table: str) -> Iterator[list[str]]:
    """Yield the rows of one table, its heading first, without unpacking it to disk."""
    with zipfile.ZipFile(path) as outer:
        packed = io.BytesIO(outer.read(TABLES.format(table)))
    with zipfile.ZipFile(packed) as inner, inner.open(inner.namelist()[0]) as raw:
        text = io.TextIOWrapper(raw, encoding="utf-8", errors="replace", newline="")
        yield from csv.reader(text, delimiter="\t")


def glass(text: str) -> dict[str, float] | None:
    """Return weight per cent of oxides scaled to 100, or None when the record is not one of ours.

    Refused: a component that refdb does not know, a total outside 98-102, weight and mole per cent that
    contradict each other, or more than OTHERS_HIGHEST_MOL_PCT of components outside `OXIDES`.
    """
    fields = text.split("\x7f")[1:-1]
    if not fields or len(fields) % 4:
        return None
    weights: dict[str, float] = {}
    moles_given: dict[str, float] = {}
    for at in range(0, len(fields), 4):
        name, _, weight, mole = fields[at : at + 4]
        known = _KNOWN.get(name.lower())
        if known is None or known in weights:
            return None
        try:
            weights[known], moles_given[known] = float(weight), float(mole)
        except ValueError:
            return None
    if not 98.0 <= sum(weights.values()) <= 102.0:
        return None
    moles = {k: v / MOLAR_MASS_G_PER_MOL[k] for k, v in weights.items()}
    total = sum(moles.values())
    if any(abs(100 * v / total - moles_given[k]) > 1.0 for k, v in moles.items()):
        return None
    parts: dict[str, float] = {}
    for name, amount in moles.items():
        for oxide, count in oxide_equivalents(name).items():
            parts[oxide] = parts.get(oxide, 0.0) + amount * count
    if sum(parts.get(k, 0.0) for k in OXIDES) < (1 - OTHERS_HIGHEST_MOL_PCT / 100) * sum(parts.values()):
        return None
    listed = {k: parts[k] * MOLAR_MASS_G_PER_MOL[k] for k in OXIDES if k in parts}
    return {k: 100 * v / sum(listed.values()) for k, v in listed.items()}


_KNOWN = {name.lower(): name for name in COMPONENTS} | {"f2": "F"}


def enamel_like(weights: dict[str, float]) -> bool:
    """Return whether a glass lies in the domain of the models."""
    amounts = weights | {"R2O": sum(weights.get(k, 0.0) for k in ("Li2O", "Na2O", "K2O"))}
    return all(low <= amounts.get(k, 0.0) <= high for k, (low, high) in DOMAIN_WT_PCT.items())


def number(text: str, scale: float, bounds: tuple[float, float]) -> float | None:
    """Return a measured value inside its bounds; the database writes nothing or 0 where it has none."""
    try:
        value = float(text) * scale
    except ValueError:
        return None
    return value if bounds[0] <= value <= bounds[1] else None


def plain(value: float | None, decimals: int) -> str:
    """Print a number shortly; nothing for None and zero."""
    if value is None:
        return ""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "" if text in ("0", "-0") else text


def main() -> None:
    """Write the two files."""
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "refdb-sciglass")
    path = wheel(options.parse_args().cache)
    csv.field_size_limit(10_000_000)

    compositions: dict[tuple[str, str], dict[str, float]] = {}
    table = rows(path, "Gcomp")
    next(table)
    for kod, glasno, text in table:
        weights = glass(text) if "SiO2" in text else None
        if weights and (enamel_like(weights) or kod in COPPER):
            compositions.setdefault((kod, glasno), weights)

    table = rows(path, "SciGK")
    heading = next(table)
    places = [
        (heading.index(column), 1000.0 if column == "DENSITY" else 1.0, decimals, bounds)
        for _, column, decimals, bounds in MEASURED
    ]
    any_expansion = heading.index("ANY_TEC")
    kept: dict[tuple[int, int], list[str]] = {}
    copper: dict[tuple[int, int], list[str]] = {}
    for row in table:
        kod, glasno = row[0], row[1]
        weights = compositions.get((kod, glasno))
        key = (int(kod), int(glasno)) if weights else (0, 0)
        if not weights or key in kept:
            continue
        oxides = [plain(weights.get(k), 2) for k in OXIDES]
        expansion = number(row[any_expansion], 1.0, MEASURED[0][3])
        if kod in COPPER and expansion is not None:
            copper[key] = [kod, glasno, COPPER[kod], *oxides, plain(expansion, 1)]
        values = [number(row[at], scale, bounds) for at, scale, _, bounds in places]
        expansion_210, littleton, tg, _, modulus, _ = values
        wanted = any(v is not None for v in (expansion_210, littleton, modulus)) or (
            weights.get("PbO", 0.0) >= 5.0 and tg is not None
        )
        if wanted and enamel_like(weights):
            kept[key] = [kod, glasno, *oxides, *(plain(v, d) for v, (_, _, d, _) in zip(values, places, strict=True))]

    OUT.mkdir(parents=True, exist_ok=True)
    measured = [name for name, *_ in MEASURED]
    write("enamel_like.csv", ["kod", "glasno", *OXIDES, *measured], kept)
    write("copper_enamels.csv", ["kod", "glasno", "paper", *OXIDES, "expansion_1e-7_per_k"], copper)


def write(name: str, heading: list[str], found: dict[tuple[int, int], list[str]]) -> None:
    """Write rows sorted by the database's own numbers."""
    with (OUT / name).open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(heading)
        writer.writerows(found[key] for key in sorted(found))
    print(f"{name}: {len(found)} glasses from {len({key[0] for key in found})} papers")


if __name__ == "__main__":
    main()
