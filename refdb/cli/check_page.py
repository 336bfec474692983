"""The verdict on a whole piece as a page of text: what wants care in full, what holds in a phrase each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from refdb.cli.common import Units
from refdb.cli.output import Column, Page
from refdb.cli.verdict_page import (
    as_understood,
    figure,
    head_of,
    measure_text,
    reason_head,
    reason_told,
    release_of,
    tiles_told,
)
from refdb.judge.verdict import SUITS, TEST_TILE, UNSURE, LayerNumbers, Measure, Reason, Stage, Verdict
from refdb.records.printed import sure

_NOTES = (
    "* MPa, below zero squeezed; bow over 30 mm, above zero convex at the front; plastic strain of the metal. "
    "Every coat of every firing: --json"
)
#: The start of a rule that goes on with the glass it is about.
_GAP = "Contraction gap"
#: How the coats of a whole piece end their names: each says its face.
_OF_PIECE = (", front", ", back")


def check_page(verdict: Verdict, units: Units = "metric", note: str = "") -> Page:
    """The whole page; `note` says how the thickness of the metal was understood."""
    page = head_of(verdict, units)
    page.line()
    page.pairs(as_understood(verdict.question, units, note))
    _reasons(page, verdict.reasons, units)
    _stages(page, verdict.stages)
    tiles_told(page, verdict, "Your own tiles of these glasses on this metal")
    if verdict.missing and verdict.outcome != UNSURE:
        page.heading("Not known")
        for gone in verdict.missing:
            page.paragraph(gone, 2, 4)
    if verdict.cautions:
        page.heading("Cautions")
        for caution in verdict.cautions:
            page.paragraph(f"{caution.text} [{caution.source}]", 2, 4)
    page.line()
    if verdict.sources:
        page.paragraph(f"Sources (refdb sources KEY tells each): {', '.join(verdict.sources)}.", 0, 2)
    page.paragraph(TEST_TILE)
    return page


def _reasons(page: Page, reasons: Sequence[Reason], units: Units) -> None:
    """What stands against the piece in full, alike reasons once; then what holds."""
    alike: dict[tuple[str, ...], list[Reason]] = {}
    for reason in reasons:
        if reason.outcome != SUITS:
            key = (reason.rule, reason.outcome, reason.limit, reason.why, reason.remedy, reason.source)
            alike.setdefault(key, []).append(reason)
    if alike:
        page.heading("Reasons, worst first")
    for number, same in enumerate(alike.values(), 1):
        page.paragraph(f"{reason_head(same[0])} [{same[0].source}]", 1, 5, f"{number:>2}  ")
        told = [f"{reason_told(same[0], units)}. {same[0].why}"]
        for other in same[1:]:
            found = measure_text(other.found, units) if isinstance(other.found, Measure) else other.found.rstrip(".")
            told.append(f"The same {f'in {other.step}' if other.step else 'again'}: {found}.")
        if same[0].remedy:
            told.append(f"What would change it: {same[0].remedy[:1].lower()}{same[0].remedy[1:]}")
        page.paragraph(" ".join(told), 5)
    holds = phrases_of_what_holds(r for r in reasons if r.outcome == SUITS)
    if holds:
        page.line()
        page.paragraph(f"These hold, the nearest to its limit first: {'; '.join(holds)}.", 0, 2)


def phrases_of_what_holds(reasons: Iterable[Reason]) -> list[str]:
    """Each rule that holds in one phrase with its steps and the least share of draws, in the order given."""
    rules: dict[str, list[Reason]] = {}
    for reason in reasons:
        rules.setdefault(_GAP if reason.rule.startswith(_GAP) else reason.rule, []).append(reason)
    phrases = []
    for rule, same in rules.items():
        steps = sorted({int(n) for r in same if (n := r.step.partition(",")[0].removeprefix("step ")).isdigit()})
        told = [f"step{'s' if len(steps) > 1 else ''} {', '.join(map(str, steps))}"] if steps else []
        least = min(r.share for r in same)
        if least < 0.995:
            told.append(f"{'at least ' if len(same) > 1 else ''}{sure(least)}")
        phrases.append(f"{rule[:1].lower()}{rule[1:]}" + (f" ({'; '.join(told)})" if told else ""))
    return phrases


def _stages(page: Page, stages: Sequence[Stage]) -> None:
    """A line a firing: the glass surface nearest to being stretched, the bow and the yield of the metal."""
    if not stages:
        return
    page.heading("After each firing, the face of glass nearest to being stretched*")
    columns = [
        Column("firing"),
        Column("coat", wraps=True),
        Column("MPa*", right=True),
        Column("bow*\nmm", right=True),
        Column("yield*\n%", right=True),
    ]
    rows = []
    for stage in stages:
        coat, stress = _nearest_to_tension(stage.layers)
        title = stage.name.removeprefix("firing ").replace(" at ", ": ").partition(", step")[0]
        rows.append(
            [
                title,
                coat,
                measure_text(stress, with_unit=False),
                figure(stage.bow_mm_per_30mm.value, 2),
                figure(stage.metal_plastic_strain.value * 100, 2),
            ]
        )
    page.table(columns, rows)
    page.paragraph(_NOTES, 2)
    page.paragraph(f"Energy an edge sets free: {release_of(tuple(stages))}", 2)


def _nearest_to_tension(layers: Sequence[LayerNumbers]) -> tuple[str, Measure]:
    faces = [(x.name, m) for x in layers if x.name.endswith(_OF_PIECE) for m in (x.top_mpa, x.bottom_mpa)]
    return max(faces, key=lambda face: face[1].high)
