"""Write data_sources/expansion_points.csv: free thermal strain of every metal from 20 °C, point by point.

Each curve is the source's own equation or table, evaluated here; nothing is fetched and nothing is random, so
the file is the same every time. Alloys without a curve of their own borrow one and are labelled so:

- copper-zinc, copper-tin: copper's curve times the ratio of the measured mean expansions;
- silver-copper and the golds: the volume-weighted mean of the curves of the metals in them, copper and zinc together
  counted as brass;
- cast iron: carbon steel's curve scaled to a recalled mean.

Run `python scripts/make_expansion_points.py` to write the file, with `--check` to only compare.
"""

from __future__ import annotations

import csv
import io
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

TARGET = Path(__file__).resolve().parent.parent / "data_sources" / "expansion_points.csv"
ROOM_C = 20.0
KELVIN = 273.15
HEADER = ("material", "temp_c", "strain_ppm", "seen", "source")

Curve = Callable[[float], float]  # temperature in °C -> strain from 20 °C in ppm

# Lu, Selleby & Sundman 2005: V = V0·exp(a·T + b·T² + c·T³ + d/T), T in K (coefficients a, b, c, d).
LU_2005 = {
    "Ag": (4.87439e-05, 1.33148e-08, 0.0, 0.076014),
    "Au": (4.21579e-05, 0.0, 4.7670667e-12, 0.062982),
    "Fe": (3.42756e-05, 8.14005e-09, 0.0, 0.291672),
    "Pd": (3.11002e-05, 7.4407e-09, 0.0, 0.0),
    "Ti": (2.47929e-05, 5.1783e-09, 0.0, 0.144379),
}
# NIST StRD, Hahn1: certified b1..b7 of the instantaneous expansion of copper in ppm/K, T in K.
HAHN1 = (
    1.0776351733,
    -1.2269296921e-1,
    4.0863750610e-3,
    -1.4262662514e-6,
    -5.7609940901e-3,
    2.4053735503e-4,
    -1.2314450199e-7,
)
# Arblaster 2006, equation (ii): dL/L(293.15 K) = sum c_i·T^i.
ARBLASTER = (-2.39745e-3, 7.08788e-6, 5.24850e-9, -6.69487e-12, 5.70500e-15, -2.36906e-18, 3.95580e-22)
# Logarithmic strain of aluminium after Touloukian and others 1975: c1·T + c2·T² + c3·T³.
ALUMINIUM = (1.14374e-5, 2.08484e-8, -6.99557e-12)
# Mean expansion in ppm/K from 20 °C to the temperature.
WANG_REEBER = (
    (100, 17.01),
    (200, 17.42),
    (300, 17.8),
    (400, 18.17),
    (500, 18.53),
    (600, 18.9),
    (700, 19.27),
    (800, 19.65),
    (900, 20.04),
)
NICKEL_TABLE = (
    (100, 13.3),
    (200, 13.9),
    (300, 14.3),
    (400, 14.8),
    (500, 15.2),
    (600, 15.6),
    (700, 15.8),
    (800, 16.2),
    (900, 16.5),
)
# Mean expansion in ppm/K from 0 °C to the temperature.
STAINLESS_304 = ((100, 17.2), (315, 17.8), (538, 18.4), (649, 18.7))
STAINLESS_430 = ((100, 10.4), (315, 11.0), (538, 11.4), (815, 12.4))
DENSITY = {"Ag": 10490.0, "Au": 19300.0, "Cu": 8960.0, "Ni": 8900.0, "Pd": 12020.0, "brass": 8740.0}


def lu(element: str) -> Curve:
    """Strain from the volume of Lu, Selleby & Sundman (2005)."""
    a, b, c, d = LU_2005[element]

    def exponent(kelvin: float) -> float:
        return a * kelvin + b * kelvin**2 + c * kelvin**3 + d / kelvin

    return lambda t: 1e6 * math.expm1((exponent(t + KELVIN) - exponent(ROOM_C + KELVIN)) / 3)


def hahn1(temp_c: float) -> float:
    """Strain of copper: Simpson integral of the certified fit."""
    b1, b2, b3, b4, b5, b6, b7 = HAHN1

    def slope(t: float) -> float:
        k = t + KELVIN
        return (b1 + b2 * k + b3 * k**2 + b4 * k**3) / (1 + b5 * k + b6 * k**2 + b7 * k**3)

    steps = 200
    width = (temp_c - ROOM_C) / steps
    total = slope(ROOM_C) + slope(temp_c)
    for i in range(1, steps):
        total += slope(ROOM_C + i * width) * (4 if i % 2 else 2)
    return total * width / 3


def interpolated(table: tuple[tuple[int, float], ...], temp_c: float) -> float:
    """Value of a table at a temperature; below its first row the first slope is carried on."""
    for (t0, m0), (t1, m1) in pairwise(table):
        if temp_c <= t1:
            return m0 + (m1 - m0) * (temp_c - t0) / (t1 - t0)
    raise ValueError(f"{temp_c} °C lies above the table")


def mean_from_20(table: tuple[tuple[int, float], ...]) -> Curve:
    """Strain from a table of means that start at 20 °C."""
    return lambda t: interpolated(table, t) * (t - ROOM_C)


def mean_from_0(table: tuple[tuple[int, float], ...]) -> Curve:
    """Strain from 20 °C from a table of means that start at 0 °C."""
    return lambda t: interpolated(table, t) * t - interpolated(table, ROOM_C) * ROOM_C


def copper(temp_c: float) -> float:
    """NIST fit up to 580 °C, where its data thin out; Wang & Reeber above."""
    return hahn1(temp_c) if temp_c <= 580 else mean_from_20(WANG_REEBER)(temp_c)


def arblaster(temp_c: float) -> float:
    """Strain of platinum."""
    kelvin = temp_c + KELVIN
    return 1e6 * sum(c * kelvin**i for i, c in enumerate(ARBLASTER))


def aluminium(temp_c: float) -> float:
    """Strain of aluminium from the logarithmic-strain polynomial."""

    def exponent(kelvin: float) -> float:
        return sum(c * kelvin ** (i + 1) for i, c in enumerate(ALUMINIUM))

    return 1e6 * math.expm1(exponent(temp_c + KELVIN) - exponent(ROOM_C + KELVIN))


def carbon_steel(temp_c: float) -> float:
    """EN 1993-1-2:2005, 3.4.1.1, below 750 °C."""
    return 1e6 * (1.2e-5 * temp_c + 0.4e-8 * temp_c**2 - 2.416e-4)


def cast_iron(temp_c: float) -> float:
    """Carbon steel's strain, scaled to 13.0 ppm/K over 20-500 °C."""
    return carbon_steel(temp_c) * 13.0 * 480 / carbon_steel(500)


def austenitic_tail(temp_c: float) -> float:
    """EN 1993-1-2 annex C above 649 °C, joined to the table there."""

    def annex_c(t: float) -> float:
        return (16 + 4.79e-3 * t - 1.243e-6 * t**2) * (t - ROOM_C)

    return annex_c(temp_c) - annex_c(649) + mean_from_0(STAINLESS_304)(649)


def like_copper(mean_ppm_per_k: float, top_c: float) -> Curve:
    """Copper's curve scaled to a measured mean from 20 °C to `top_c`."""
    factor = mean_ppm_per_k * (top_c - ROOM_C) / copper(top_c)
    return lambda t: factor * copper(t)


def between(one: Curve, other: Curve) -> Curve:
    """Midway between two curves, where two sheets print one figure over different spans."""
    return lambda t: (one(t) + other(t)) / 2


def mixed(**weight_percent: float) -> Curve:
    """Volume-weighted mean of the curves of the metals in an alloy."""
    curves: dict[str, Curve] = {
        "Ag": lu("Ag"),
        "Au": lu("Au"),
        "Cu": copper,
        "Ni": mean_from_20(NICKEL_TABLE),
        "Pd": lu("Pd"),
        # 15 % of zinc, as in the copper and zinc of low carat golds
        "brass": like_copper(18.7, 300),
    }
    volumes = {metal: share / DENSITY[metal] for metal, share in weight_percent.items()}
    whole = sum(volumes.values())
    return lambda t: sum(v * curves[metal](t) for metal, v in volumes.items()) / whole


@dataclass(frozen=True)
class Part:
    """A stretch of a material's curve: up to which temperature, from which source, and how it was seen."""

    curve: Curve
    top_c: float
    source: str
    seen: str = "computed"


COPPER = (Part(copper, 580, "nist-strd-hahn1"), Part(copper, 900, "wang-reeber-1996"))
SILVER = (Part(lu("Ag"), 900, "lu-2005"),)
STEEL = (Part(carbon_steel, 700, "en-1993-1-2"),)
BORROWED, MIXED = "estimate-copper-curve", "estimate-mixing-rule"

MATERIALS: dict[str, tuple[Part, ...]] = {
    "aluminium-sheet": (Part(aluminium, 600, "touloukian-1975"),),
    "brass-70-30": (Part(like_copper(19.9, 300), 850, BORROWED),),
    "brass-85-15": (Part(like_copper(18.7, 300), 900, BORROWED),),
    "britannia-silver": (Part(mixed(Ag=95.8, Cu=4.2), 850, MIXED),),
    "bronze-cast": (Part(like_copper(18.4, 300), 750, BORROWED),),
    "bronze-clay": (Part(like_copper(18.4, 300), 800, BORROWED),),
    "bronze-sheet": (Part(between(like_copper(17.8, 200), like_copper(17.8, 300)), 900, BORROWED),),
    "cast-iron": (Part(cast_iron, 700, "estimate-steel-curve"),),
    "copper-clay": COPPER,
    "copper-clay-open": COPPER,
    "copper-electroformed": COPPER,
    "copper-phosphorus-deoxidised": COPPER,
    "copper-sheet": COPPER,
    "fine-silver-cast": SILVER,
    "fine-silver-clay": SILVER,
    "fine-silver-electroformed": SILVER,
    "fine-silver-sheet": SILVER,
    "gilding-90-10": (Part(like_copper(18.4, 300), 900, BORROWED),),
    "gilding-95-5": (Part(like_copper(18.1, 300), 900, BORROWED),),
    "gold-10k-yellow": (Part(mixed(Au=41.7, Ag=11.0, brass=47.3), 750, MIXED),),
    "gold-14k-yellow": (Part(mixed(Au=58.5, Ag=25.0, Cu=16.5), 750, MIXED),),
    "gold-18k-white-nickel": (Part(mixed(Au=75.0, Ni=13.5, Cu=8.5, brass=3.0), 850, MIXED),),
    "gold-18k-white-palladium": (Part(mixed(Au=75.0, Pd=12.5, Ag=12.5), 900, MIXED),),
    "gold-18k-yellow": (Part(mixed(Au=75.0, Ag=12.5, Cu=12.5), 850, MIXED),),
    "gold-18k-yellow-cast": (Part(mixed(Au=75.0, Ag=12.5, Cu=12.5), 800, MIXED),),
    "gold-22k-yellow": (Part(mixed(Au=91.7, Ag=5.0, Cu=3.3), 900, MIXED),),
    "gold-24k": (Part(lu("Au"), 1000, "lu-2005"),),
    "gold-9k-yellow": (Part(mixed(Au=37.5, Ag=11.0, brass=51.5), 750, MIXED),),
    "low-carbon-steel": STEEL,
    "nickel-silver": (Part(like_copper(16.7, 300), 900, BORROWED),),
    "nickel-sheet": (Part(mean_from_20(NICKEL_TABLE), 900, "data-sheet-nickel", "read in a copy"),),
    "palladium-sheet": (Part(lu("Pd"), 1000, "lu-2005"),),
    "platinum-950": (Part(arblaster, 1000, "arblaster-2006"),),
    "platinum-sheet": (Part(arblaster, 1000, "arblaster-2006"),),
    "silver-clay-960": (Part(mixed(Ag=96.0, Cu=4.0), 850, MIXED),),
    "silver-deoxidised": (Part(mixed(Ag=93.5, Cu=6.5), 700, MIXED),),
    "silicon-bronze": (Part(like_copper(18.0, 300), 900, BORROWED),),
    "stainless-304": (
        Part(mean_from_0(STAINLESS_304), 649, "data-sheet-steels"),
        Part(austenitic_tail, 800, "en-1993-1-2", "from memory"),
    ),
    "stainless-430": (
        Part(mean_from_0(STAINLESS_430), 538, "data-sheet-steels"),
        Part(mean_from_0(STAINLESS_430), 800, "from-memory", "from memory"),
    ),
    "steel-clay": (Part(lu("Fe"), 700, "lu-2005"),),
    "steel-pre-coated": STEEL,
    "sterling-cast": (Part(mixed(Ag=92.5, Cu=7.5), 750, MIXED),),
    "sterling-clay": (Part(mixed(Ag=92.5, Cu=7.5), 750, MIXED),),
    "sterling-sheet": (Part(mixed(Ag=92.5, Cu=7.5), 750, MIXED),),
    "titanium-sheet": (Part(lu("Ti"), 850, "lu-2005"),),
}


def rows() -> list[tuple[str, str, str, str, str]]:
    """All rows of the file, sorted by material and temperature."""
    out = []
    for material, parts in sorted(MATERIALS.items()):
        for temp_c in (20, *range(50, int(parts[-1].top_c) + 1, 50)):
            part = next(p for p in parts if temp_c <= p.top_c)
            strain = 0.0 if temp_c == 20 else part.curve(float(temp_c))
            out.append((material, str(temp_c), f"{strain:.1f}", part.seen, part.source))
    return out


def text() -> str:
    """The whole file."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(rows())
    return out.getvalue()


def main(arguments: list[str]) -> int:
    """Write the file, or with --check say whether it is current."""
    if arguments not in ([], ["--check"]):
        print("usage: make_expansion_points.py [--check]", file=sys.stderr)
        return 2
    wanted = text()
    if arguments:
        found = TARGET.read_text(encoding="utf-8") if TARGET.exists() else ""
        if found != wanted:
            print(f"{TARGET.name}: not current; run scripts/make_expansion_points.py", file=sys.stderr)
            return 1
        return 0
    with TARGET.open("w", encoding="utf-8", newline="") as file:
        file.write(wanted)
    print(f"{TARGET.name}: {wanted.count(chr(10)) - 1} points of {len(MATERIALS)} metals")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
