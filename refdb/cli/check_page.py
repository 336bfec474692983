"""The verdict on a whole piece as a page of text: what wants care in full, what holds in a phrase each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from refdb.cli.common import Units
from refdb.cli.output import Column, Page
from refdb.cli.verdict_page import (
    as_understood,
    figure,
    found_text,
    head_of,
    measure_text,
    reason_head,
    reason_told,
    release_of,
    tiles_told,
)
from refdb.judge.bent import bent_words
from refdb.judge.verdict import SUITS, TEST_TILE, UNSURE, LayerNumbers, Measure, Stage, Verdict
from refdb.judge.wording import Told
from refdb.records.printed import sure
from refdb.words import NEARLY_ALL, lower_first

_NOTES = (
    "* MPa, below zero squeezed; bow over 30 mm, above zero convex at the front; plastic strain of the metal. "
    "Every coat of every firing: --json."
)
#: How the coats of a whole piece end their names: each says its face.
_OF_PIECE = (", front", ", back")


def check_page(verdict: Verdict, units: Units = "metric", note: str = "") -> Page:
    """The whole page; `note` says how the thickness of the metal was understood."""
    page = head_of(verdict, units)
    page.line()
    page.pairs(as_understood(verdict.question, units, note))
    _reasons(page, verdict.told, units)
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


def _reasons(page: Page, reasons: Sequence[Told], units: Units) -> None:
    """What stands against the piece in full, alike reasons once; then what holds."""
    alike: dict[tuple[str, ...], list[Told]] = {}
    for one in reasons:
        if one.outcome != SUITS or one.reason.deciding:
            key = (one.key, one.reason.case, one.outcome, one.title, one.limit, one.why, one.remedy, one.source)
            alike.setdefault(key, []).append(one)
    if alike:
        page.heading("Reasons, worst first")
    for number, (first, *others) in enumerate(alike.values(), 1):
        page.paragraph(f"{reason_head(first)} [{first.source}]", 1, 5, f"{number:>2}  ")
        told = [f"{reason_told(first, units)}. {first.why}"]
        for other in others:
            told.append(f"The same {f'in {other.where}' if other.where else 'again'}: {found_text(other, units)}.")
        if first.remedy:
            told.append(f"What would change it: {lower_first(first.remedy)}")
        page.paragraph(" ".join(told), 5)
    holds = phrases_of_what_holds(one for one in reasons if one.outcome == SUITS and not one.reason.deciding)
    if holds:
        page.line()
        page.paragraph(f"These hold, the nearest to its limit first: {'; '.join(holds)}.", 0, 2)


def phrases_of_what_holds(reasons: Iterable[Told]) -> list[str]:
    """Each rule that holds in one phrase with its steps and the least share of draws, in the order given."""
    rules: dict[tuple[str, str], list[Told]] = {}
    for one in reasons:
        rules.setdefault(_folded_by(one), []).append(one)
    phrases = []
    for (_, title), same in rules.items():
        steps = sorted({one.step for one in same if one.step is not None})
        told = [f"step{'s' if len(steps) > 1 else ''} {', '.join(map(str, steps))}"] if steps else []
        least = min(one.reason.share for one in same)
        if least < NEARLY_ALL:
            told.append(f"{'at least ' if len(same) > 1 else ''}{sure(least)}")
        phrases.append(lower_first(title) + (f" ({'; '.join(told)})" if told else ""))
    return phrases


def _folded_by(one: Told) -> tuple[str, str]:
    """By what findings fold: the gaps of several glasses are one phrase, other pairs stay apart."""
    title = one.rule.title if one.key in ("gap", "gap-narrow") else one.title
    return one.rule.title, title


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
    page.paragraph(f"{_NOTES} {bent_words(stages, advice=False)}".rstrip(), 2)
    page.paragraph(f"Energy an edge sets free: {release_of(tuple(stages))}", 2)


def _nearest_to_tension(layers: Sequence[LayerNumbers]) -> tuple[str, Measure]:
    faces = [(x.name, m) for x in layers if x.name.endswith(_OF_PIECE) for m in (x.top_mpa, x.bottom_mpa)]
    return max(faces, key=lambda face: face[1].high)
