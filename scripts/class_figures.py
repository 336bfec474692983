"""Work out what a class of glass is like from its published glasses, and hold the store's figures against it.

    python scripts/class_figures.py            print what was measured and what is computed, class by class
    python scripts/class_figures.py --check    exit 1 when a figure of property_values.csv says something else

The glasses are those of data_sources/sciglass/class_glasses.csv. One measurement counts once, however often it was
printed again; each paper weighs the same. Measured and computed never mix in one figure.
"""

from __future__ import annotations

import argparse
import csv
import math
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from refdb.science.glass import estimate  # noqa: E402
from refdb.science.glass.estimated import SET_ABOVE_TG_K, SET_SPREAD_K, GlassEstimate, hardness_class  # noqa: E402
from refdb.science.sampling import restated  # noqa: E402

DATA = ROOT / "data_sources"
#: Two records are one measurement when no component differs by more, wt%, and the figure by no more than this share.
SAME_WT_PCT, SAME_SHARE = 0.35, 0.011
#: Means over shorter spans than 20-400 °C are smaller, in enamel-like glasses of SciGlass by these factors.
SPANS = {"400": 1.0, "300": 0.974, "200": 0.943, "": 1.0}
#: Laboratory glass expands as steadily as silica: its means over 300 and 400 °C are alike.
STEADY = "borosilicate 3.3"
MEASURED = ("expansion", "tg", "dilatometric", "annealing", "littleton", "density", "youngs_modulus")
#: The same properties of an estimate, with the factor into the unit of the table.
COMPUTED = {
    "expansion": ("expansion_ppm_per_k", 1.0),
    "tg": ("tg_c", 1.0),
    "littleton": ("littleton_c", 1.0),
    "density": ("density_kg_m3", 1.0),
    "youngs_modulus": ("youngs_modulus_pa", 1e-9),
}
#: Half of the band that holds nine estimates in ten of one glass (data_sources/validation).
MODEL_BAND = {"expansion": 1.2, "tg": 64.0, "littleton": 40.0, "density": 75.0, "youngs_modulus": 7.5}
#: The regression overstates the modulus of 159 measured lead-free borosilicates of 18-33 % alkalis by this, GPa.
STIFFER_THAN_MEASURED_GPA = 1.9


class Spread(NamedTuple):
    """10th, 50th and 90th percentile, the measurements counted and the papers they stand in."""

    low: float
    value: float
    high: float
    count: int
    papers: int


@dataclass(frozen=True)
class Record:
    """A published glass: its composition in weight per cent and what was measured on it."""

    glass_class: str
    paper: str
    year: str
    components: dict[str, float]
    measured: dict[str, float]
    estimate: GlassEstimate


@cache
def records() -> tuple[Record, ...]:
    """Every row of class_glasses.csv, oldest first."""
    with (DATA / "sciglass" / "class_glasses.csv").open(encoding="utf-8", newline="") as file:
        found = [_record(row) for row in csv.DictReader(file)]
    return tuple(sorted(found, key=lambda r: r.year))


def _record(row: dict[str, str]) -> Record:
    components = {name: float(share) for name, share in (part.split() for part in row["components"].split("; "))}
    measured = {name: float(row[column]) for column in row if (name := _NAMES.get(column, "")) and row[column]}
    if "expansion" in measured and row["glass_class"] != STEADY:
        measured["expansion"] /= SPANS[row["to_c"]]
    total = sum(components.values())
    found = estimate({name: 100 * share / total for name, share in components.items()})
    return Record(row["glass_class"], row["kod"], row["year"], components, measured, found)


_NAMES = {
    "expansion_ppm_per_k": "expansion",
    "tg_c": "tg",
    "dilatometric_c": "dilatometric",
    "annealing_c": "annealing",
    "littleton_c": "littleton",
    "density_kg_m3": "density",
    "youngs_modulus_gpa": "youngs_modulus",
}


def of_class(name: str) -> list[Record]:
    """The glasses of a class, or of several joined by " + "; `leaded clear, soft` takes those computed soft."""
    whole, _, hardness = name.partition(", ") if name.startswith("leaded clear") else (name, "", "")
    return [
        r
        for r in records()
        if r.glass_class in whole.split(" + ") and (not hardness or hardness_class(r.estimate.gloss_c) == hardness)
    ]


def once(found: Iterable[Record], name: str) -> list[Record]:
    """Those with this figure, each measurement once."""
    kept: list[Record] = []
    for record in found:
        if name in record.measured and not any(_same(record, other, name) for other in kept):
            kept.append(record)
    return kept


def _same(one: Record, other: Record, name: str) -> bool:
    parts = set(one.components) | set(other.components)
    near = all(abs(one.components.get(p, 0.0) - other.components.get(p, 0.0)) <= SAME_WT_PCT for p in parts)
    return near and abs(one.measured[name] / other.measured[name] - 1.0) <= SAME_SHARE


def measured(class_name: str, name: str) -> Spread | None:
    """What was measured on the glasses of a class, each paper weighing the same."""
    kept = once(of_class(class_name), name)
    if not kept:
        return None
    of_paper = Counter(r.paper for r in kept)
    values = np.array([r.measured[name] for r in kept])
    weights = np.array([1.0 / of_paper[r.paper] for r in kept])
    order = np.argsort(values)
    values, weights = values[order], weights[order]
    places = (np.cumsum(weights) - weights / 2) / weights.sum()
    low, value, high = (float(np.interp(q, places, values)) for q in (0.1, 0.5, 0.9))
    return Spread(low, value, high, len(kept), len(of_paper))


def computed(class_name: str, name: str) -> Spread | None:
    """What the compositions of a class compute to, each composition once."""
    field, factor = COMPUTED[name]
    kept: list[Record] = []
    for record in of_class(class_name):
        alike = any(
            all(
                abs(record.components.get(p, 0.0) - other.components.get(p, 0.0)) <= SAME_WT_PCT
                for p in set(record.components) | set(other.components)
            )
            for other in kept
        )
        if not alike and getattr(record.estimate, field) is not None:
            kept.append(record)
    if not kept:
        return None
    values = [factor * getattr(r.estimate, field) for r in kept]
    low, value, high = (float(q) for q in np.percentile(values, (10, 50, 90)))
    return Spread(low, value, high, len(kept), len({r.paper for r in kept}))


def nine_tenths(found: Spread) -> Spread:
    """The percentiles, which hold eight tenths, as the band of nine tenths that a verdict reads."""
    low, high = restated(found.value, found.low, found.high, 0.8)
    return found._replace(low=low, high=high)


def figure_measured(name: str, prop: str) -> Spread:
    """The band of a class as measured."""
    found = measured(name, prop)
    assert found is not None, (name, prop)
    return nine_tenths(found)


def figure_computed(name: str, prop: str) -> Spread:
    """The middle of a class as computed, with the error of the model and the spread of the class in its band."""
    found = computed(name, prop)
    assert found is not None, (name, prop)
    half = math.hypot(MODEL_BAND[prop], (found.high - found.low) / 2)
    return found._replace(low=found.value - half, high=found.value + half)


def stiffness_computed(name: str) -> Spread:
    """Young's modulus of a lead-free borosilicate as computed, less what the regression overstates."""
    found = figure_computed(name, "youngs_modulus")
    low, value, high = (v - STIFFER_THAN_MEASURED_GPA for v in (found.low, found.value, found.high))
    return found._replace(low=low, value=value, high=high)


def set_point_measured(name: str) -> Spread:
    """Transformation temperature as measured, plus what quick cooling adds."""
    found = figure_measured(name, "tg")
    return _set_point(found, (found.high - found.low) / 2)


def set_point_computed(name: str) -> Spread:
    """Transformation temperature as computed, plus what quick cooling adds."""
    found = figure_computed(name, "tg")
    return _set_point(found, (found.high - found.low) / 2)


def set_point_two_ways(name: str) -> Spread:
    """The mean of two: by the regression for the transformation temperature, and by the viscosity (10^12 Pa s).

    They are taken to err independently. What practice says is no part of it: it is what this is held against.
    """
    found = figure_computed(name, "tg")
    stiff = [t for r in of_class(name) if (t := r.estimate.isokoms_c[12.0]) is not None]
    value = (found.value + float(np.median(stiff))) / 2 + SET_ABOVE_TG_K
    half = math.hypot((found.high - found.low) / 2, SET_SPREAD_K) / math.sqrt(2)
    return found._replace(value=value, low=value - half, high=value + half)


def _set_point(found: Spread, half: float) -> Spread:
    value, half = found.value + SET_ABOVE_TG_K, math.hypot(half, SET_SPREAD_K)
    return found._replace(value=value, low=value - half, high=value + half)


def _given(rule: Callable[..., Spread], *about: str) -> Callable[[], Spread]:
    return lambda: rule(*about)


#: Material or group of the store, property, source of the row, and how it is worked out.
FIGURES: dict[tuple[str, str, str], Callable[[], Spread]] = {}
for _material, _class in (
    ("lead-free-clears", "copper enamel, lead-free"),
    ("clear-soft-lead-free", "soft clear, lead-free"),
    ("clear-soft-leaded", "leaded clear, soft"),
    ("clear-medium-leaded", "leaded clear, medium"),
    ("clear-hard-leaded", "leaded clear, hard"),
    ("steel-ground-coat", "ground coat for steel"),
    ("steel-cover-coat-titania", "titania cover coat + titania cover coat, low-melting"),
    ("steel-cover-coat-zirconia", "zirconia cover coat"),
    ("window-soda-lime", "soda-lime"),
    ("borosilicate-3-3", "borosilicate 3.3"),
    ("lead-crystal-24", "lead crystal"),
):
    FIGURES[_material, "expansion", "sciglass-2019"] = _given(figure_measured, _class, "expansion")
for _material, _class in (
    ("steel-ground-coat", "ground coat for steel"),
    ("window-soda-lime", "soda-lime"),
    ("borosilicate-3-3", "borosilicate 3.3"),
    ("lead-crystal-24", "lead crystal"),
):
    FIGURES[_material, "set_point", "sciglass-2019"] = _given(set_point_measured, _class)
    FIGURES[_material, "glass_transition", "sciglass-2019"] = _given(figure_measured, _class, "tg")
    FIGURES[_material, "density", "sciglass-2019"] = _given(figure_measured, _class, "density")
for _material, _class in (
    ("lead-free-copper-glasses", "copper enamel, lead-free"),
    ("clear-soft-lead-free", "soft clear, lead-free"),
    ("clear-soft-leaded", "leaded clear, soft"),
    ("clear-medium-leaded", "leaded clear, medium"),
    ("clear-hard-leaded", "leaded clear, hard"),
    ("steel-cover-coat-titania", "titania cover coat"),
    ("steel-cover-coat-zirconia", "zirconia cover coat"),
):
    _rule = set_point_two_ways if _class == "copper enamel, lead-free" else set_point_computed
    FIGURES[_material, "set_point", "glass-regression"] = _given(_rule, _class)
    FIGURES[_material, "glass_transition", "glass-regression"] = _given(figure_computed, _class, "tg")
    FIGURES[_material, "density", "glass-regression"] = _given(figure_computed, _class, "density")
for _material, _class in (
    ("lead-free-copper-glasses", "copper enamel, lead-free"),
    ("enamels-for-steel", "ground coat for steel"),
):
    FIGURES[_material, "youngs_modulus", "glass-regression"] = _given(stiffness_computed, _class)
FIGURES["lead-glasses", "youngs_modulus", "sciglass-2019"] = _given(figure_measured, "leaded clear", "youngs_modulus")
FIGURES["window-soda-lime", "youngs_modulus", "sciglass-2019"] = _given(figure_measured, "soda-lime", "youngs_modulus")
FIGURES["lead-crystal-24", "dilatometric_softening", "sciglass-2019"] = _given(
    figure_measured, "lead crystal", "dilatometric"
)
FIGURES["lead-crystal-24", "littleton_softening", "sciglass-computed"] = _given(
    figure_computed, "lead crystal", "littleton"
)
#: How far a figure of the store may lie from what is worked out: half of what it is rounded to.
ROUNDED = {"expansion": 0.07, "density": 5.1, "youngs_modulus": 0.51}
ROUNDED_C = 1.01


def stale() -> list[str]:
    """The figures of property_values.csv that say something else, in words."""
    with (DATA / "property_values.csv").open(encoding="utf-8", newline="") as file:
        rows = {(r["material"], r["property"], r["source"]): r for r in csv.DictReader(file)}
    told = []
    for key, work in FIGURES.items():
        found = work()
        row = rows.get(key)
        due = (found.value, found.low, found.high)
        given = [float(row[n] or "nan") for n in ("value", "low", "high")] if row else []
        within = ROUNDED.get(key[1], ROUNDED_C)
        if not given or not all(abs(a - b) <= within for a, b in zip(given, due, strict=True)):
            said = " / ".join(f"{v:g}" for v in given) or "no row"
            told.append(f"{', '.join(key)}: {said}, worked out {' / '.join(f'{v:.2f}' for v in due)}")
    return told


def _print_class(name: str) -> None:
    print(f"\n{name}: {len(of_class(name))} records")
    for prop in MEASURED:
        found = measured(name, prop)
        if found is not None:
            print(
                f"  measured {prop:15} {found.value:8.1f} ({found.low:.1f} to {found.high:.1f}), "
                f"{found.count} measurements of {found.papers} papers"
            )
    for prop in COMPUTED:
        found = computed(name, prop)
        if found is not None:
            print(
                f"  computed {prop:15} {found.value:8.1f} ({found.low:.1f} to {found.high:.1f}), {found.count} glasses"
            )


def main() -> int:
    """Print or check; return the exit status."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--check", action="store_true", help="only tell which figures of the store say something else")
    parser.add_argument("--figures", action="store_true", help="print what the store's figures should say")
    options = parser.parse_args()
    if options.figures:
        for key, work in FIGURES.items():
            found = work()
            print(*key, f"{found.value:.2f} {found.low:.2f} {found.high:.2f}", found.count, found.papers, sep="|")
        return 0
    if options.check:
        wrong = stale()
        print("\n".join(wrong) or "every figure of a class says what its glasses say")
        return 1 if wrong else 0
    for name in sorted({r.glass_class for r in records()} | {f"leaded clear, {h}" for h in ("soft", "medium", "hard")}):
        _print_class(name)
    return 0


if __name__ == "__main__":
    sys.exit(main())
