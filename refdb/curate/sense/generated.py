"""What scripts work out: answers, builds and estimates have the shape their readers expect, and add up."""

from __future__ import annotations

import json
import math
import re
from typing import Any

from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, kinds, number
from refdb.judge.fit.answer import Answer
from refdb.judge.numbers import SampledStage
from refdb.judge.reason import Triple
from refdb.judge.rules import RULES
from refdb.store.schema import OUTCOMES

_ANEW = "generate the answers anew (scripts/make_answers.py)"
_BUILDS_ANEW = "generate the builds anew (scripts/make_builds.py)"
_RATIOS = ("first_ratio", "first_even", "bare_ratio", "bare_even")
#: Bounds of the measures of an answer; what is not named is in MPa, mm or J/m² and only has to be finite.
MEASURES = {
    "gap_ppm": (-8000.0, 16_000.0),
    "glass_expansion_ppm_per_k": (2.0, 20.0),
    "metal_expansion_ppm_per_k": (6.0, 32.0),
    "set_point_c": (250.0, 900.0),
    "metal_thickness_mm": (0.02, 20.0),
    "kiln_low_c": (400.0, 1300.0),
    "kiln_high_c": (400.0, 1300.0),
}
STRESS_MPA = 3000.0
#: What a stage tells besides its layers, and within what it lies [mm, 1, J/m², mm].
OF_STAGE = (("bow", -15.0, 15.0), ("plastic strain", 0.0, 0.2), ("release", 0.0, 5000.0), ("bow left", -15.0, 15.0))


def wrong_with(plain: Any) -> str:
    """What is wrong with the JSON of an answer, in a few words; empty when nothing is.

    It is read as `judge.fit.answer` reads it, so its form has one home; then shares, bands and sizes are looked at.
    """
    try:
        answer = Answer.from_plain(plain)
        about = [(n.rule, json.dumps(n.subject.as_dict())) for n in answer.numbers.rules]
    except (AssertionError, AttributeError, KeyError, TypeError, ValueError):
        return "it has not the form of an answer"
    numbers = answer.numbers
    if wrong := _wrong_shares(numbers.shares):
        return wrong
    for rule in numbers.rules:
        if rule.rule not in RULES:
            return f"no rule is called '{rule.rule[:40]}'"
        if wrong := _wrong_shares(rule.split) or _wrong_band(rule.found, rule.rule):
            return wrong
        if rule.split[2] > numbers.shares[2] + 1e-9:
            return f"{rule.rule} refuses more often than all together"
    if len(set(about)) != len(about):
        return "a rule stands twice for one subject"
    if wrong := _wrong_measures(numbers.measures) or _wrong_stages(numbers.stages):
        return wrong
    outcomes = [change.outcome for change in answer.changes if change.outcome not in OUTCOMES]
    return f"'{outcomes[0]}' is no outcome" if outcomes else ""


def _wrong_shares(shares: Triple) -> str:
    if not all(0 <= x <= 1 for x in shares) or abs(sum(shares) - 1) > 1e-6:
        return f"the shares {', '.join(f'{x:g}' for x in shares)} do not add up to 1"
    return ""


def _wrong_band(band: Triple, name: str, low: float = -math.inf, high: float = math.inf) -> str:
    value, least, most = band
    slack = 1e-5 * max(abs(least), abs(most), abs(value))
    if not least - slack <= value <= most + slack:
        return f"{name}: {value:g} lies outside its band"
    if not low <= least <= most + slack or most > high:
        return f"{name} cannot be {least:g} to {most:g}"
    return ""


def _wrong_measures(measures: dict[str, Triple]) -> str:
    missing = [name for name in MEASURES if name not in measures]
    if missing:
        return f"{missing[0]} is missing"
    for name, band in measures.items():
        if wrong := _wrong_band(band, name, *MEASURES.get(name, (-math.inf, math.inf))):
            return wrong
    rise = measures["set_point_c"][0] - 20.0
    gap = (measures["metal_expansion_ppm_per_k"][0] - measures["glass_expansion_ppm_per_k"][0]) * rise
    # The metal's mean is over another span, and the glass contracts faster near its set point.
    if abs(measures["gap_ppm"][0] - gap) > 0.2 * abs(gap) + 1200.0:
        return f"a gap of {measures['gap_ppm'][0]:g} ppm does not follow from the expansions ({gap:.0f})"
    return ""


def _wrong_stages(stages: tuple[SampledStage, ...]) -> str:
    if not stages:
        return "there is no stage"
    for at, stage in enumerate(stages, 1):
        if stage.fire != at:
            return f"stage {at} is of fire {stage.fire}"
        for layer in stage.layers:
            for band in (face for face in layer[1:] if face is not None):
                if wrong := _wrong_band(band, f"{layer.name} in stage {at}", -STRESS_MPA, STRESS_MPA):
                    return wrong
        of_stage = (stage.bow_mm, stage.plastic_strain, stage.release, stage.left_mm)
        for told, (name, low, high) in zip(of_stage, OF_STAGE, strict=True):
            if told is not None and (wrong := _wrong_band(told, f"{name} of stage {at}", low, high)):
                return wrong
    return ""


def _check_answers(records: Records, problems: Problems) -> None:
    """A precomputed answer is about a glass and a metal, and is of the shape that `judge.fit.answer` reads."""
    kind_of = kinds(records)
    for record in records["answers"]:
        _check_pair(record, kind_of, _ANEW, problems)
        if record.values["numbers"] is None:
            continue
        try:
            wrong = wrong_with(json.loads(str(record.values["numbers"]), parse_float=_finite, parse_constant=_finite))
        except (ValueError, RecursionError):
            wrong = "not JSON with finite numbers"
        if wrong:
            problems.add(record, "numbers", wrong, _ANEW)
        else:
            _check_about(record, str(record.values["numbers"]), problems)


def _check_about(record: Record, text: str, problems: Problems) -> None:
    """The subjects of an answer's rules are its own glass and metal."""
    for column in ("glass", "metal"):
        named = set(re.findall(rf'"{column}":"([^"]*)"', text))
        if named - {record.values[column]}:
            what = f"it speaks of {sorted(named - {record.values[column]})[0]}, not of {record.values[column]}"
            problems.add(record, "numbers", what, _ANEW)


def _finite(text: str) -> float:
    """A number of JSON; raises ValueError for one that is not finite."""
    if not math.isfinite(value := float(text)):
        raise ValueError(text)
    return value


def _check_pair(record: Record, kind_of: dict[str, str], anew: str, problems: Problems) -> None:
    for column in ("glass", "metal"):
        if kind_of.get(str(record.values[column]), column) != column:
            problems.add(record, column, f"this is a {kind_of[str(record.values[column])]}", anew)


def _check_builds(records: Records, problems: Problems) -> None:
    """A precomputed ratio is about a glass and a metal, above nothing and at most one, and is there or refused."""
    kind_of, refusing = kinds(records), {*RULES, *(str(r.values["key"]) for r in records["fit_rules"])}
    for record in records["builds"]:
        _check_pair(record, kind_of, _BUILDS_ANEW, problems)
        ratios = {column: number(record, column) for column in _RATIOS}
        for column, ratio in ratios.items():
            if ratio is not None and not 0 < ratio <= 1:
                problems.add(record, column, f"{ratio:g} is no ratio", _BUILDS_ANEW)
        by = record.values["refused_by"]
        if (ratios["first_ratio"] is None) != (by is not None):
            problems.add(record, "refused_by", "stands just where there is no ratio", _BUILDS_ANEW)
        if by is not None and str(by) not in refusing:
            problems.add(record, "refused_by", f"no rule is called '{str(by)[:40]}'", _BUILDS_ANEW)
        # What five draws in ten stand, nine need not; a bare face for good is the harder case where both hold at all.
        for less, more in (("first_ratio", "first_even"), ("bare_ratio", "bare_even"), ("bare_ratio", "first_ratio"),
                           ("bare_even", "first_even")):  # fmt: skip
            a, b = ratios[less], ratios[more]
            one_face = less.startswith("bare") != more.startswith("bare")
            if a is None or (b is None and one_face):
                continue
            if b is None or a > b + 1e-9:
                what = f"{a:g}, more than {more} ({'none' if b is None else f'{b:g}'})"
                problems.add(record, less, what, _BUILDS_ANEW)


def _check_whole(records: Records, problems: Problems) -> None:
    """Answers and builds hold the same pairs: each glass with every metal, or with none."""
    pairs = {
        table: {(str(r.values["glass"]), str(r.values["metal"])): r for r in records[table]}
        for table in ("answers", "builds")
    }
    if not all(pairs.values()):
        return
    for table, found in pairs.items():
        glasses, metals = ({pair[at] for pair in found} for at in (0, 1))
        for glass in sorted(glasses):
            lost = sorted(metal for metal in metals if (glass, metal) not in found)
            if lost:
                first = next(record for pair, record in found.items() if pair[0] == glass)
                problems.add(first, "metal", f"{glass} has no row for {lost[0]}", f"generate {table}.csv anew")


CHECKS: tuple[Check, ...] = (
    (_check_answers, ("answers", "materials")),
    (_check_builds, ("builds", "materials", "fit_rules")),
    (_check_whole, ("answers", "builds")),
)
