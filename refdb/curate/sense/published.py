"""Published glasses: compositions that add up, what is computed from them, and what was measured on them."""

from __future__ import annotations

import re
from collections import defaultdict

from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, number, span
from refdb.science.glass.coefficients import COEFFICIENTS
from refdb.science.glass.components import COMPONENTS, MOLAR_MASS_G_PER_MOL, oxide_equivalents

#: Compositions are recorded as batched: they add up to this [wt%], with what the note says is not recorded.
WHOLE = (99.2, 100.8)
_NOT_RECORDED = re.compile(r"(\d+(?:\.\d+)?) % of [^;.]*not recorded")
#: The computed expansion is linear in mole per cent; a glass rich in what has no factor is estimated otherwise.
OFF_EXPANSION = 0.03
NO_FACTOR_MOL_PCT = 1.0
OFF_OTHERWISE = 1.7
#: A measured value lies within so many half bands of the estimate.
MEASURED_WITHIN = 2.2
#: The set point is estimated above the transition by this [K], each rounded to a degree.
SET_ABOVE_TG_K = 20.0
#: What is computed for every glass that is within the limits of the models.
TOGETHER = ("density", "expansion", "glass_transition", "set_point")
#: Spans of expansion that the open glass data record [°C].
SPANS = ((20.0, 300.0), (20.0, 400.0))
_ANEW = "write estimates.csv anew (scripts/make_glass_estimates.py)"


def _made_of(records: Records) -> dict[str, dict[str, float]]:
    made_of: dict[str, dict[str, float]] = defaultdict(dict)
    for record in records["compositions"]:
        if record.values["component"] in COMPONENTS:
            made_of[str(record.values["glass"])][str(record.values["component"])] = number(record, "wt_pct") or 0.0
    return made_of


def computed_expansion(weights: dict[str, float]) -> tuple[float, float]:
    """The mean expansion over 20-400 °C [ppm/K] by the fitted factors, and the mole per cent that has no factor.

    Source: the regression on SciGlass in `science.glass.coefficients`, worked out here without numpy.
    """
    moles: dict[str, float] = defaultdict(float)
    for name, weight in weights.items():
        for part, count in oxide_equivalents(name).items():
            moles[part] += weight * count / MOLAR_MASS_G_PER_MOL[name]
    whole = sum(moles.values()) or 1.0
    factors = COEFFICIENTS["expansion"]
    others = sum(100.0 * m / whole for part, m in moles.items() if part not in factors)
    return sum(100.0 * m / whole * factors.get(part, 0.0) for part, m in moles.items()), others


def _check_estimates(records: Records, problems: Problems) -> None:
    """Estimates are of the compositions that stand here: their middle, their expansion, and one set for each glass."""
    made_of = _made_of(records)
    of_glass: dict[str, dict[str, Record]] = defaultdict(dict)
    for record in records["estimates"]:
        of_glass[str(record.values["glass"])][str(record.values["property"])] = record
        _check_middle(record, problems)
    for glass, found in of_glass.items():
        for name in TOGETHER if not found.keys().isdisjoint(TOGETHER) else ():
            if name not in found:
                what = f"{glass} has no estimate of {name.replace('_', ' ')}"
                problems.add(next(iter(found.values())), "property", what, _ANEW)
        _check_expansion(glass, found.get("expansion"), made_of.get(glass, {}), problems)
        a, b = (found.get(name) for name in ("glass_transition", "set_point"))
        rise = None if a is None or b is None else (number(b, "value") or 0.0) - (number(a, "value") or 0.0)
        if b is not None and rise is not None and abs(rise - SET_ABOVE_TG_K) > 1.01:
            problems.add(b, "value", f"{rise:g} K above the transition, not {SET_ABOVE_TG_K:g}", _ANEW)


def _check_middle(record: Record, problems: Problems) -> None:
    low, high, value = (number(record, c) for c in ("low", "high", "value"))
    if low is None or high is None or value is None:
        return
    middle, band = (low + high) / 2, high - low
    # Far from the data the band of the transition leans to one side.
    lean = 0.12 if record.values["property"] in ("glass_transition", "set_point") else 0.02
    if abs(value - middle) > lean * band + 1.01 * (band > 2.0):
        problems.add(record, "value", f"{value:g} is not the middle of {low:g} to {high:g}", _ANEW)
    if (record.values["words"] is not None) != (record.values["property"] == "gloss_setting"):
        problems.add(record, "words", "words go with a gloss setting alone", _ANEW)


def _check_expansion(glass: str, record: Record | None, weights: dict[str, float], problems: Problems) -> None:
    value = None if record is None else number(record, "value")
    if record is None or value is None or not weights:
        return
    due, others = computed_expansion(weights)
    if abs(value - due) > (OFF_EXPANSION if others < NO_FACTOR_MOL_PCT else OFF_OTHERWISE):
        what = f"{value:g} ppm/K, yet the composition of {glass} makes {due:.2f}"
        problems.add(record, "value", what, f"correct the composition, or {_ANEW}")


def _check_measured(records: Records, problems: Problems) -> None:
    """What was measured on a published glass lies near its estimate, and was read in the open glass data."""
    estimates = {(str(r.values["glass"]), str(r.values["property"])): r for r in records["estimates"]}
    for record in records["reference_values"]:
        if record.values["basis"] not in ("published", None):
            problems.add(record, "basis", f"'{record.values['basis']}'", "what was measured elsewhere is published")
        if record.values["seen"] not in ("read in a copy", None):
            problems.add(record, "seen", f"'{record.values['seen']}'", "the open glass data are a copy of the paper")
        span_c = (number(record, "temp_low_c"), number(record, "temp_high_c"))
        is_expansion = record.values["property"] == "expansion"
        if span_c != (None, None) and (span_c not in SPANS or not is_expansion):
            told = ", ".join(f"{a:g} to {b:g}" for a, b in SPANS)
            problems.add(record, "temp_low_c", "no span of these data", f"an expansion is over {told} °C, or blank")
        estimate = estimates.get((str(record.values["glass"]), str(record.values["property"])))
        value, band = number(record, "value"), None if estimate is None else span(estimate)
        if value is None or band is None or estimate is None:
            continue
        half, middle = (band[1] - band[0]) / 2, number(estimate, "value") or 0.0
        if abs(value - middle) > MEASURED_WITHIN * half:
            what = f"{value:g} was measured, and {middle:g} ± {half:g} is computed"
            problems.add(record, "value", what, "look at number and unit")


def _check_sums(records: Records, problems: Problems) -> None:
    """A recorded composition adds up, or its note says how much of what is not recorded."""
    made_of = _made_of(records)
    for record in records["reference_glasses"]:
        total = sum(made_of.get(str(record.values["key"]), {}).values())
        missing = _NOT_RECORDED.search(str(record.values["note"] or ""))
        whole = total + (float(missing[1]) if missing else 0.0)
        if total and not WHOLE[0] <= whole <= WHOLE[1]:
            what = f"its composition adds up to {total:.4g}"
            todo = f"recorded compositions make {WHOLE[0]:g} to {WHOLE[1]:g}; a note may say '5 % of … not recorded'"
            problems.add(record, "key", what, todo)


CHECKS: tuple[Check, ...] = (
    (_check_estimates, ("estimates", "compositions")),
    (_check_measured, ("reference_values", "estimates")),
    (_check_sums, ("reference_glasses", "compositions")),
)
