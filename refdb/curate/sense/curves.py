"""Expansion curves of metals: each whole, smooth and rising, and in keeping with the mean that is preferred."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, kinds, number, preferred

#: Slope of free strain between two points of a curve [ppm/K], and how far neighbouring slopes lie apart.
SLOPES = (5.0, 36.0)
BEND = 2.0
#: One wrong point makes two neighbouring bends of contrary sign [ppm/K]; nickel has some of its own at its Curie point.
DENT = 0.45
#: Points stand at 20 °C, 50 °C and every 50 K above, up to this far below the solidus [K], or to the limit [°C].
STEP_C = 50.0
#: A curve that stops earlier cannot be followed through a kiln firing.
REACHES_C = 600.0
#: Mean of the curve over the span of the preferred figure, against that figure [ppm/K].
OFF_MEAN = 0.25


def _curves(records: Records) -> dict[str, list[Record]]:
    curves: dict[str, list[Record]] = defaultdict(list)
    for record in records["expansion_points"]:
        if number(record, "temp_c") is not None and number(record, "strain_ppm") is not None:
            curves[str(record.values["material"])].append(record)
    return curves


def _check_curves(records: Records, problems: Problems) -> None:
    """Points of metals alone, from 0 at 20 °C up in steps of 50 K, without a jump in slope."""
    kind_of = kinds(records)
    for material, curve in _curves(records).items():
        points = [(number(r, "temp_c") or 0.0, number(r, "strain_ppm") or 0.0) for r in curve]
        if kind_of.get(material, "metal") != "metal":
            problems.add(curve[0], "material", f"this is a {kind_of[material]}", "only metals have a curve")
        elif points[0] != (20.0, 0.0):
            what = f"the curve of {material} begins with {points[0][1]:g} at {points[0][0]:g} °C"
            problems.add(curve[0], "temp_c", what, "begin with 0 at 20 °C")
        slopes = [(b[1] - a[1]) / (b[0] - a[0]) if b[0] > a[0] else 0.0 for a, b in pairwise(points)]
        for at, slope in enumerate(slopes):
            record, before = curve[at + 1], points[at]
            if not SLOPES[0] <= slope <= SLOPES[1]:
                what = f"{slope:.3g} ppm/K from {before[0]:g} °C to here"
                problems.add(record, "strain_ppm", what, f"metals have {SLOPES[0]:g} to {SLOPES[1]:g}")
            elif at and abs(slope - slopes[at - 1]) > BEND:
                what = f"the slope of {material} jumps from {slopes[at - 1]:.3g} to {slope:.3g} ppm/K"
                problems.add(record, "strain_ppm", what, "write the curve anew (scripts/make_expansion_points.py)")
            if at > 1 and _is_dent(slopes[at - 2 : at + 1]):
                what = f"the curve of {material} has a dent at {before[0]:g} °C"
                problems.add(curve[at], "strain_ppm", what, "write the curve anew (scripts/make_expansion_points.py)")
            if points[at + 1][0] - before[0] > STEP_C + 1e-9:
                what = f"nothing between {before[0]:g} and {points[at + 1][0]:g} °C"
                problems.add(record, "temp_c", what, f"give a point every {STEP_C:g} K")


def _is_dent(slopes: list[float]) -> bool:
    """Whether three slopes on end rise and fall, or fall and rise, as one wrong point between them makes them."""
    first, second = slopes[1] - slopes[0], slopes[2] - slopes[1]
    return first * second < 0 and min(abs(first), abs(second)) > DENT


def _check_whole(records: Records, problems: Problems) -> None:
    """Every metal of known expansion has a curve, up to a firing, whose mean is that expansion."""
    curves, figures = _curves(records), preferred(records)
    for record in records["materials"]:
        material = str(record.values["key"])
        chosen = figures.get((material, "expansion"))
        if record.values["kind"] != "metal" or chosen is None:
            continue
        points = {number(r, "temp_c"): number(r, "strain_ppm") or 0.0 for r in curves.get(material, ())}
        solidus = figures.get((material, "solidus"))
        melts = number(solidus, "value") if solidus is not None else None
        ends = max((t for t in points if t is not None), default=0.0)
        if ends < min(REACHES_C, (melts or REACHES_C) - STEP_C - 25.0):
            what = f"the curve of {material} ends at {ends:g} °C"
            problems.add(record, "key", what, "give expansion_points.csv points up to a firing")
        low, high, value = (number(chosen, c) for c in ("temp_low_c", "temp_high_c", "value"))
        if low in points and high in points and low is not None and high is not None and value is not None:
            mean = (points[high] - points[low]) / (high - low)
            if abs(mean - value) > OFF_MEAN:
                what = f"{material}: {value:g}, yet its curve has a mean of {mean:.4g} ppm/K over that span"
                problems.add(chosen, "value", what, "take the mean of the curve")
        elif points and not problems.at(chosen):
            at = " or ".join("a blank" if t is None else f"{t:g}" for t in (low, high))
            what = f"{material} has no point of its curve at {at} °C"
            problems.add(chosen, "temp_high_c", what, "prefer a mean over a span between points of the curve")


CHECKS: tuple[Check, ...] = (
    (_check_curves, ("expansion_points", "materials")),
    (_check_whole, ("expansion_points", "materials", "property_values")),
)
