"""A verdict as a page of text: the answer first, then its reasons, numbers, cautions and sources."""

from __future__ import annotations

from typing import Any

from refdb.cli.common import Units
from refdb.cli.output import Column, Page
from refdb.cli.shown import degrees, span_of, sure
from refdb.judge.limits import RELEASE_SCALE, RELEASE_SOURCE
from refdb.judge.verdict import CARE, NOT, SUITS, TEST_TILE, UNSURE, Measure, Reason, Stage, Verdict

_DECIMALS = {"MPa": 0, "ppm": 0, "°C": 0, "K": 0, "mm": 2, "ppm/K": 1, "J/m²": 1, "%": 2}
_MEASURES = {
    "gap_ppm": "contraction gap",
    "glass_expansion_ppm_per_k": "glass expands",
    "metal_expansion_ppm_per_k": "metal expands",
    "set_point_c": "glass sets at",
}
_LAYERS = {"front": "front glass", "back": "back glass"}


def measure_text(measure: Measure, units: Units = "metric", *, with_unit: bool = True) -> str:
    """A number with its unit, and its low and high where they differ in print."""
    numbers, unit = (measure.value, measure.low, measure.high), measure.unit
    if units == "studio" and unit in ("°C", "K"):
        offset = 32.0 if unit == "°C" else 0.0
        numbers, unit = tuple(x * 1.8 + offset for x in numbers), "°F"  # type: ignore[assignment]
    decimals = _DECIMALS.get(measure.unit, 2)
    value, low, high = (_figure(x, decimals, degrees=unit in ("°C", "°F")) for x in numbers)
    head = f"{value} {unit}" if unit and with_unit else value
    return head if low == high else f"{head} ({low} to {high})"


def _figure(value: float, decimals: int, degrees: bool = False) -> str:
    text = f"{value:.{decimals}f}" if degrees else f"{value:,.{decimals}f}"
    return text.lstrip("-") if not any(c in "123456789" for c in text) else text


def verdict_page(verdict: Verdict, units: Units = "metric", note: str = "") -> Page:
    """The whole page; `note` says how the thickness of the metal was understood."""
    page = _head(verdict)
    page.line()
    page.pairs(_as_understood(verdict.question, units, note))
    if verdict.reasons:
        page.heading("Reasons, worst first")
        for number, reason in enumerate(verdict.reasons, 1):
            _reason(page, number, reason, units)
    if verdict.measures or verdict.stages:
        page.heading("Numbers, with the range that holds nine draws in ten")
        page.pairs(
            [
                *(
                    (label, measure_text(verdict.measures[name], units))
                    for name, label in _MEASURES.items()
                    if name in verdict.measures
                ),
                ("kiln window", _kiln_window(verdict, units)),
            ]
        )
        _stages(page, verdict.stages)
    if verdict.missing and verdict.outcome != UNSURE:
        page.heading("Not known")
        for gone in verdict.missing:
            page.paragraph(gone, 2, 4)
    if verdict.cautions:
        page.heading("Cautions")
        for caution in verdict.cautions:
            page.paragraph(f"{caution.text} [{caution.source}]", 2, 4)
    if verdict.sources:
        page.heading("Sources")
        for key, citation in verdict.sources.items():
            page.paragraph(f"{key}: {citation}", 2, 6)
    page.line()
    page.paragraph(TEST_TILE)
    return page


def _kiln_window(verdict: Verdict, units: Units) -> str:
    low, high = verdict.measures.get("kiln_low_c"), verdict.measures.get("kiln_high_c")
    if low is None or high is None:
        return ""
    return span_of(low.value, high.value, units) if high.value > low.value else "none"


def brief_page(verdict: Verdict, units: Units = "metric") -> Page:
    """The verdict, its sentence and the two worst reasons."""
    page = _head(verdict)
    page.line()
    for number, reason in enumerate(verdict.reasons[:2], 1):
        _reason(page, number, reason, units)
    page.line()
    page.paragraph(TEST_TILE)
    return page


def _head(verdict: Verdict) -> Page:
    page = Page()
    question = verdict.question
    glass = question.get("glass_label") or question.get("glass", "the glass")
    metal = question.get("metal_label") or question.get("metal", "the metal")
    page.paragraph(f"{glass} on {str(metal)[:1].lower()}{str(metal)[1:]}")
    page.line()
    page.paragraph(
        f"{verdict.outcome[:1].upper()}{verdict.outcome[1:]}, {_how_sure(verdict)}"
        if _how_sure(verdict)
        else f"{verdict.outcome[:1].upper()}{verdict.outcome[1:]}"
    )
    page.paragraph(verdict.sentence)
    return page


def _how_sure(verdict: Verdict) -> str:
    if verdict.outcome == UNSURE:
        return ""
    others = [
        f"{name} in {sure(verdict.shares[name])}"
        for name in (SUITS, CARE, NOT)
        if name != verdict.outcome and round(verdict.shares.get(name, 0.0) * 10) >= 1
    ]
    return f"sure in {sure(verdict.confidence)}" + (f" ({', '.join(others)})" if others else "")


def _as_understood(question: dict[str, Any], units: Units, note: str) -> list[tuple[str, str]]:
    def mm(name: str) -> str:
        band = question.get(name)
        return measure_text(Measure(band["value"], band["low"], band["high"], "mm")) if band else ""

    faces = [
        f"{mm(name)} on the {face}" if question[name]["value"] > 0 else f"none on the {face}"
        for name, face in (("front_mm", "front"), ("back_mm", "back"))
        if question.get(name)
    ]
    first = question.get("first_coat_mm")
    if faces and first is not None:
        faces.append(f"the first coat at most {first:.2f} mm")
    shape = str(question.get("shape", ""))
    if question.get("rise_mm"):
        shape += f", {mm('rise_mm')} high"
    kiln = ""
    if question.get("kiln_c") is not None:
        kiln = f"set to {degrees(question['kiln_c'], units)}"
    if question.get("kiln_offset_k"):
        offset = question["kiln_offset_k"]
        by = measure_text(Measure(abs(offset), abs(offset), abs(offset), "K"), units)
        kiln = f"{kiln or 'any setting'}, running {by} {'hotter' if offset > 0 else 'cooler'} than it shows"
    own = question.get("glass_expansion")
    grows = ""
    if own:
        band = own["ppm_per_k"]
        grows = (
            f"{measure_text(Measure(band['value'], band['low'], band['high'], 'ppm/K'))}, "
            f"{span_of(own['span_c'][0], own['span_c'][1], units)}, {own['basis']}"
        )
    return [
        ("metal after firing", f"{mm('metal_thickness_mm')}{f'; {note}' if note else ''}"),
        ("glass", ", ".join(faces)),
        ("shape", shape),
        ("kiln", kiln),
        ("expansion of glass", grows),
    ]


def _reason(page: Page, number: int, reason: Reason, units: Units) -> None:
    step = f", {reason.step}" if reason.step else ""
    share = f" in {sure(reason.share)} draws" if reason.share < 0.995 else ""
    page.paragraph(
        f"{reason.rule[:1].upper()}{reason.rule[1:]}{step}: {reason.outcome}{share} [{reason.source}]",
        1,
        5,
        f"{number:>2}  ",
    )
    found = (
        f"Found {measure_text(reason.found, units)}"
        if isinstance(reason.found, Measure)
        else reason.found.rstrip(".")
    )
    told = f"{found}. Limit: {reason.limit.rstrip('.')}."
    if reason.outcome == SUITS:
        page.paragraph(f"{told} {reason.why}", 5)
        return
    page.paragraph(told, 5)
    page.paragraph(reason.why, 5)
    if reason.remedy:
        page.paragraph(f"What would change it: {reason.remedy[:1].lower()}{reason.remedy[1:]}", 5)


def _stages(page: Page, stages: tuple[Stage, ...]) -> None:
    if not stages:
        return
    page.line()
    page.paragraph("Stress after each firing, MPa: minus is squeezed, plus is stretched", 2)
    columns = [
        Column("layer"),
        Column("at its top", right=True),
        Column("mean", right=True),
        Column("at its bottom", right=True),
    ]
    tables = [
        [
            [
                _LAYERS.get(x.name, x.name),
                *(measure_text(m, with_unit=False) for m in (x.top_mpa, x.mean_mpa, x.bottom_mpa)),
            ]
            for x in reversed(stage.layers)
        ]
        for stage in stages
    ]
    widths = page.table_widths(columns, [row for table in tables for row in table], 4)
    page.table(columns, [], 4, widths)
    for stage, table in zip(stages, tables, strict=True):
        strain = stage.metal_plastic_strain
        percent = Measure(strain.value * 100, strain.low * 100, strain.high * 100, "%")
        page.paragraph(
            f"{stage.name}: bow {measure_text(stage.bow_mm_per_30mm)} over 30 mm; "
            f"metal yields {measure_text(percent)}; edge releases {measure_text(stage.release_j_per_m2)}",
            2,
            4,
        )
        page.rows(columns, table, widths, 4)
    low, high = RELEASE_SCALE
    page.paragraph(
        f"A bow above zero is convex at the front. Plain glass on copper resists a release of "
        f"about {low:g} J/m², glass itself about {high:g} [{RELEASE_SOURCE}].",
        2,
    )
