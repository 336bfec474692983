"""A verdict as a page of text: the answer first, then its reasons, numbers, cautions and sources."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from refdb.cli.common import Units, tell_taken
from refdb.cli.output import Column, Page
from refdb.judge.bent import bent_words
from refdb.judge.limits import RELEASE_SCALE, RELEASE_SOURCE
from refdb.judge.own.kiln import TRUE, runs_words
from refdb.judge.own.tiles import otherwise
from refdb.judge.verdict import SUITS, TEST_TILE, UNSURE, LayerNumbers, Measure, Stage, Verdict
from refdb.judge.wording import Told, split_words
from refdb.quantities.band import Band
from refdb.quantities.printed import fahrenheit
from refdb.records.named import small
from refdb.records.printed import degrees, span_of
from refdb.store.workshop.keys import PREFIX
from refdb.words import lower_first, upper_first

_DECIMALS = {"MPa": 0, "ppm": 0, "°C": 0, "K": 0, "mm": 2, "ppm/K": 1, "J/m²": 1, "%": 2}
_BOW_AND_YIELD = "* bow over 30 mm, above zero convex at the front; plastic strain of the metal"
_MOST_TILES = 5
_MEASURES = {
    "gap_ppm": "contraction gap",
    "glass_expansion_ppm_per_k": "glass expands",
    "metal_expansion_ppm_per_k": "metal expands",
    "set_point_c": "glass sets at",
}


def measure_text(measure: Measure, units: Units = "metric", *, with_unit: bool = True) -> str:
    """A number with its unit, and its low and high where they differ in print."""
    numbers, unit = (measure.value, measure.low, measure.high), measure.unit
    if units == "studio" and unit in ("°C", "K"):
        numbers = tuple(fahrenheit(x) if unit == "°C" else x * 1.8 for x in numbers)  # type: ignore[assignment]
        unit = "°F"
    decimals = _DECIMALS.get(measure.unit, 2)
    value, low, high = (figure(x, decimals, degrees=unit in ("°C", "°F")) for x in numbers)
    head = f"{value} {unit}" if unit and with_unit else value
    return head if low == high else f"{head} ({low} to {high})"


def figure(value: float, decimals: int, degrees: bool = False) -> str:
    """A number with so many decimals and thousands apart; no minus before nothing."""
    text = f"{value:.{decimals}f}" if degrees else f"{value:,.{decimals}f}"
    return text.lstrip("-") if not any(c in "123456789" for c in text) else text


def verdict_page(verdict: Verdict, units: Units = "metric", note: str = "") -> Page:
    """The whole page; `note` says how the thickness of the metal was understood."""
    page = head_of(verdict, units)
    page.line()
    page.pairs(as_understood(verdict.question, units, note))
    if verdict.reasons:
        page.heading("Reasons, worst first")
        for number, one in enumerate(verdict.told, 1):
            _reason(page, number, one, units)
    if verdict.measures or verdict.stages:
        page.heading("Numbers, with the range that holds nine draws in ten")
        page.pairs(
            [
                *(
                    (label, measure_text(verdict.measures[name], units))
                    for name, label in _MEASURES.items()
                    if name in verdict.measures
                ),
                ("kiln window", kiln_window(verdict, units)),
                ("edge release", release_of(verdict.stages)),
            ]
        )
        _stages(page, verdict.stages)
    if verdict.missing and verdict.outcome != UNSURE:
        page.heading("Not known")
        for gone in verdict.missing:
            page.paragraph(gone, 2, 4)
    tiles_told(page, verdict, "Your own tiles of this glass on this metal")
    if verdict.cautions:
        page.heading("Cautions")
        for caution in verdict.cautions:
            page.paragraph(f"{caution.text} [{caution.source}]", 2, 4)
    _sources(page, verdict)
    page.line()
    page.paragraph(TEST_TILE)
    return page


#: The ends of a kiln window known no closer than this [K] are told with their ranges.
_WIDE_K = 30.0


def kiln_window(verdict: Verdict, units: Units) -> str:
    low, high = verdict.measures.get("kiln_low_c"), verdict.measures.get("kiln_high_c")
    if low is None or high is None:
        return ""
    if high.value <= low.value:
        return "none"
    ends = [
        f"{verb} at {span_of(end.low, end.high, units)}"
        for verb, end in (("begin", low), ("end", high))
        if end.high - end.low >= _WIDE_K
    ]
    told = span_of(low.value, high.value, units)
    return f"{told}; it may {' and '.join(ends)}" if ends else told


def release_of(stages: tuple[Stage, ...]) -> str:
    """The energy an edge sets free in the worst firing, with its scale."""
    if not stages:
        return ""
    worst = max((s.release_j_per_m2 for s in stages), key=lambda m: m.value)
    low, high = RELEASE_SCALE
    return (
        f"{measure_text(worst)} at most; a scale only: plain glass on copper holds about {low:g}, "
        f"glass itself {high:g} [{RELEASE_SOURCE}]"
    )


def _sources(page: Page, verdict: Verdict) -> None:
    """What the page names, a line each, then the keys of what its figures rest on."""
    if not verdict.sources:
        return
    page.heading("Sources, in short (refdb sources KEY gives one in full)")
    named = {*(t.source for t in verdict.told), *(c.source for c in verdict.cautions), RELEASE_SOURCE}
    for key, citation in verdict.sources.items():
        if key in named:
            page.clipped(f"{key}: {citation}", 2)
    figures = [key for key in verdict.sources if key not in named]
    if figures:
        page.paragraph(f"behind the figures: {', '.join(figures)}", 2, 4)


def trust_told(page: Page, verdict: Verdict) -> None:
    """What to do where own tiles disagree, and how the jar learns from them."""
    trust = otherwise(verdict.tiles)
    if trust:
        jar = str(verdict.question.get("glass", ""))
        learn = f" What they teach of the jar: refdb mine learn {jar}" if jar.startswith(PREFIX) else ""
        page.paragraph(f"{trust}{learn}")


def tiles_told(page: Page, verdict: Verdict, heading: str, most: int = _MOST_TILES) -> None:
    """The person's own tiles that bear on the question, beside the verdict."""
    if verdict.tiles:
        page.heading(heading)
        for seen in verdict.tiles[:most]:
            page.paragraph(seen.text, 2, 4)
        if len(verdict.tiles) > most:
            page.paragraph(f"{'and ' if most else ''}{len(verdict.tiles) - most} more: refdb mine tiles", 2)


def metal_of(question: Mapping[str, Any]) -> str:
    """The metal that was asked about, within a sentence."""
    key = str(question.get("metal", "the metal"))
    return small(key, str(question.get("metal_label") or key))


def head_of(verdict: Verdict, units: Units = "metric") -> Page:
    """A new page with the question, the verdict, its sentence, and what it rests on."""
    page = Page(fahrenheit=units == "studio")
    question = verdict.question
    glass = question.get("piece") or question.get("glass_label") or question.get("glass", "the glass")
    page.paragraph(f"{glass} on {metal_of(question)}")
    tell_taken(page, question)
    page.line()
    page.paragraph(f"{upper_first(verdict.outcome)}{how_sure(verdict)}")
    page.paragraph(verdict.sentence)
    trust_told(page, verdict)
    if verdict.evidence is not None:
        lift = f" What would lift that: {verdict.evidence.lift}." if verdict.evidence.lift else ""
        page.paragraph(f"Rests on {verdict.evidence.words}.{lift}")
    for change in verdict.changes:
        page.paragraph(f"Tried on the plate: {change.words} gives {change.outcome}.", 2, 4)
    return page


def how_sure(verdict: Verdict) -> str:
    """In how many draws it holds, to follow the outcome; empty where nothing was sampled or a figure is missing."""
    if not verdict.shares or (verdict.missing and verdict.outcome == UNSURE):
        return ""
    return f": {split_words(list(verdict.shares.values()))}"


def _mm(question: Mapping[str, Any], name: str) -> str:
    band = question.get(name)
    return measure_text(Measure(band["value"], band["low"], band["high"], "mm")) if band else ""


def faces_of(question: Mapping[str, Any]) -> list[str]:
    """The glass of each face of a question, or of both where they are alike; none of a whole piece."""
    front, back = (_mm(question, name) for name in ("front_mm", "back_mm"))
    if front and front == back:
        return [f"{front} on each face"]
    return [
        f"{thick} on the {face}" if question[f"{face}_mm"]["value"] > 0 else f"none on the {face}"
        for thick, face in ((front, "front"), (back, "back"))
        if thick
    ]


def as_understood(question: dict[str, Any], units: Units, note: str) -> list[tuple[str, str]]:
    """The question as it was understood, in pairs of what and how."""
    faces = [*faces_of(question)]
    first = question.get("first_coat_mm")
    if faces and first is not None:
        faces.append(f"first coat at most {first:.2f} mm")
    shape = str(question.get("shape", "")).replace("flat", "")
    if question.get("rise_mm"):
        shape += f", {_mm(question, 'rise_mm')} high"
    kiln = _kiln(question, units)
    own = question.get("glass_expansion")
    grows = ""
    if own:
        band = own["ppm_per_k"]
        grows = (
            f"{measure_text(Measure(band['value'], band['low'], band['high'], 'ppm/K'))}, "
            f"{span_of(own['span_c'][0], own['span_c'][1], units)}, {own['basis']}"
        )
    return [
        ("metal after firing", f"{_mm(question, 'metal_thickness_mm')}{f'; {note}' if note else ''}"),
        ("glass", ", ".join(faces)),
        ("shape", shape),
        ("kiln", kiln),
        ("expansion of glass", grows),
    ]


def _kiln(question: dict[str, Any], units: Units) -> str:
    """How the kiln is set, how it runs against what it shows, and what that rests on."""
    value = question.get("kiln_offset_k") or 0.0
    offset_k = Band(value, question.get("kiln_offset_low_k", value), question.get("kiln_offset_high_k", value))
    rests = question.get("kiln_rests_on", "")
    asked = [f"set to {degrees(question['kiln_c'], units)}"] if question.get("kiln_c") is not None else []
    if offset_k != TRUE or rests:
        runs = f"running {runs_words(offset_k, units)}"
        asked = (
            [f"{runs}, and judged so at every setting"]
            if question.get("piece")
            else [*(asked or ["any setting"]), runs]
        )
    return ", ".join(asked) + (f"; {rests}" if rests else "")


def reason_head(told: Told) -> str:
    """The rule, its step, its outcome and in how many draws."""
    where = f", {told.where}" if told.where else ""
    share = f", {told.share_words}" if told.share_words else ""
    return f"{upper_first(told.title)}{where}: {told.outcome}{share}"


def found_text(told: Told, units: Units) -> str:
    """What was found, as a number with its unit or a sentence without its full stop."""
    return measure_text(told.found, units) if isinstance(told.found, Measure) else told.found.rstrip(".")


def reason_told(told: Told, units: Units) -> str:
    """What was found, and the limit."""
    found = f"{'Found ' if isinstance(told.found, Measure) else ''}{found_text(told, units)}"
    return f"{found}. Limit: {told.limit.rstrip('.')}"


def _reason(page: Page, number: int, told: Told, units: Units) -> None:
    head, found = reason_head(told), reason_told(told, units)
    if told.outcome == SUITS and not told.reason.deciding:
        page.paragraph(f"{head}. {found} [{told.source}].", 1, 5, f"{number:>2}  ")
        return
    page.paragraph(f"{head} [{told.source}]", 1, 5, f"{number:>2}  ")
    page.paragraph(f"{found}. {told.why}", 5)
    if told.remedy:
        page.paragraph(f"What would change it: {lower_first(told.remedy)}", 5)


def _stages(page: Page, stages: tuple[Stage, ...]) -> None:
    """A table of the firings: stress in the glass at its free face and at the metal, bow, yield of the metal."""
    if not stages:
        return
    page.line()
    page.paragraph("Stress in the glass after each firing, MPa (below zero it is squeezed)", 2)
    columns = [
        Column("firing", wraps=True),
        Column("glass"),
        Column("at its free face", right=True),
        Column("at the metal", right=True),
        Column("bow*\nmm", right=True),
        Column("yield*\n%", right=True),
    ]
    rows = []
    for stage in stages:
        faces = [
            (name, *(measure_text(m, with_unit=False) for m in ends))
            for layer in reversed(stage.layers)
            for name, *ends in _glass_faces(layer)
        ]
        if len(faces) == 2 and faces[0][1:] == faces[1][1:]:
            faces = [("both", *faces[0][1:])]
        bow = figure(stage.bow_mm_per_30mm.value, 2)
        yields = figure(stage.metal_plastic_strain.value * 100, 2)
        rows += [[stage.name, *face, bow, yields] if n == 0 else ["", *face, "", ""] for n, face in enumerate(faces)]
    page.table(columns, rows)
    bent = bent_words(stages, advice=False)
    page.paragraph(f"{_BOW_AND_YIELD}. {bent}" if bent else _BOW_AND_YIELD, 2)


def _glass_faces(layer: LayerNumbers) -> list[tuple[str, Measure, Measure]]:
    """Which face a layer of glass is on, the stress at its free face and at the metal; nothing for metal."""
    if layer.name.startswith("front"):
        return [("front", layer.top_mpa, layer.bottom_mpa)]
    return [("back", layer.bottom_mpa, layer.top_mpa)] if layer.name.startswith("back") else []
