"""From sampled rows and records to findings, and their order."""

from __future__ import annotations

from typing import Any

from refdb.frozen import replace
from refdb.judge import limits
from refdb.judge.numbers import Numbers, RuleNumbers
from refdb.judge.own.kiln import Heat
from refdb.judge.piece.states import Fire, Walk
from refdb.judge.reason import SPOT, Measure, Reason
from refdb.judge.rules import limit_of
from refdb.quantities.band import Band
from refdb.records import Glass, Metal
from refdb.science.plate.duration import duration_factor


def reason_of(row: RuleNumbers, numbers: Numbers, trail: Walk, metal: Metal) -> Reason:
    """The finding of one sampled row; its outcome is that of its shares."""
    fire = trail.fires[row.subject.fire - 1] if row.subject.fire is not None else None
    unit, case, source = limit_of(row.rule).unit, "", ""
    values: dict[str, Any] = {}
    if row.rule.startswith("tension"):
        case = "pulled" if glass_pulls(numbers) else "rim" if _hollow_alone(numbers, trail, row) else ""
        values = {"strength": _strength(row.rule, trail)}
    elif row.rule in ("gap", "gap-narrow") and row.subject.zone == SPOT:
        case = "spot"
    elif row.rule in ("setting", "setting-again") and fire is not None:
        unit, values = "°C", _setting(fire, trail.glass(row.subject.glass))
        case = values.pop("side") if row.rule == "setting" else ""
    elif row.rule == "metal-melts" and fire is not None:
        unit, values = "°C", {"heat": heat_of(fire), "safe_c": row.found[1]}
    elif row.rule == "kiln":
        low_c, high_c = numbers.measures["kiln_low_c"][0], numbers.measures["kiln_high_c"][0]
        most_c = trail.piece.kiln_most_c
        case = "beyond" if low_c > most_c else "" if high_c > low_c else "none"
        values = {"low_c": low_c, "high_c": high_c, "most_c": most_c}
    elif row.rule == "least-metal":
        least = metal.value("least_thickness")
        assert least is not None
        source, values = least.source, {"least_mm": least.band.value * 1e3}
    return Reason(row.rule, row.outcome, row.subject, Measure(*row.found, unit), case, values, row.split, source)


def glass_pulls(numbers: Numbers) -> bool:
    """Whether every glass shrinks more than the metal: then no build helps, only another pair."""
    gaps = [row.found[0] for row in numbers.rules if row.rule == "gap"]
    return bool(gaps) and max(gaps) < 0


def _hollow_alone(numbers: Numbers, trail: Walk, row: RuleNumbers) -> bool:
    """Whether a dome carries glass on its hollow face alone in a firing: then its rim is stretched around."""
    if trail.piece.shape != "domed":
        return False
    return any(s.fire == row.subject.fire and s.layers[-1].name == "metal" for s in numbers.stages)


def _strength(rule: str, trail: Walk) -> Measure:
    """The strength of the glass under the load of a rule of tension [MPa]."""
    lasts = limits.HOURS_FOR_GOOD if rule == "tension-lasting" else trail.piece.hours_between
    value, low, high = (x * duration_factor(lasts) for x in limits.STRENGTH_MPA)
    return Measure(value, low, high, "MPa")


def heat_of(fire: Fire) -> Heat:
    """The setting of a firing that has one, and what the kiln then is."""
    assert fire.step.kiln_c is not None
    return Heat(fire.step.kiln_c, fire.offset_k)


def _setting(fire: Fire, glass: Glass) -> dict[str, Any]:
    low, high = glass.band("fuse_low"), glass.band("fuse_high")
    assert low is not None
    assert high is not None
    assert fire.heat is not None
    side = "hot" if fire.heat.value > (low.value + high.value) / 2 else "cool"
    return {"heat": heat_of(fire), "low_c": low.value, "high_c": high.value, "side": side}


def of_question(reason: Reason) -> Reason:
    """A finding about a question: it has no steps, and all its fires are set alike, so that only stresses name one."""
    fire = reason.subject.fire if reason.rule.startswith("tension") else None
    return replace(reason, subject=replace(reason.subject, step=None, fire=fire))


def mm(band: Band) -> Measure:
    """A thickness in mm, to be printed from low to high."""
    return Measure(band.value * 1e3, band.low * 1e3, band.high * 1e3, "mm")
