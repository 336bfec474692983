"""A verdict on one screen: what will happen, what it rests on, what to do, and the numbers that matter."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.cli.common import Units, tell_taken
from refdb.cli.output import SCREEN, Page
from refdb.cli.verdict_page import (
    as_understood,
    faces_of,
    found_text,
    how_sure,
    kiln_window,
    measure_text,
    metal_of,
    tiles_told,
    trust_told,
)
from refdb.frozen import dataclass
from refdb.judge.clay import ANY_SCHEDULE, NO_CARDS
from refdb.judge.reason import SUITS
from refdb.judge.verdict import TEST_TILE, Verdict
from refdb.judge.wording import Told
from refdb.records.printed import sure
from refdb.words import NEARLY_ALL, lower_first, upper_first

_MORE = "All of it: --full"


@dataclass(frozen=True)
class _Most:
    """How many of each are told at most; the rest is folded or left to the whole page."""

    reasons: int
    changes: int
    cautions: int
    tiles: int
    names: bool = True
    whole_title: bool = True


#: From the most that is told to the least; the first that fits the screen is shown.
_TRIED = (
    _Most(3, 3, 4, 2),
    _Most(2, 3, 4, 2),
    _Most(2, 2, 4, 1),
    _Most(1, 2, 4, 1),
    _Most(1, 2, 2, 1),
    _Most(1, 1, 2, 1),
    _Most(1, 1, 1, 1),
    _Most(1, 1, 1, 0),
    _Most(1, 1, 1, 0, names=False),
    _Most(1, 1, 1, 0, names=False, whole_title=False),
)


def short_page(verdict: Verdict, units: Units = "metric", note: str = "") -> Page:
    """The verdict on one screen; reasons that would not fit are told by name.

    `note` is on how the thickness of the metal was taken; of it is told what questions the metal that is meant.
    """
    page = Page()
    for most in _TRIED:
        page = _page(verdict, units, most, note)
        if len(page.lines) <= SCREEN:
            break
    return page


def _page(verdict: Verdict, units: Units, most: _Most, note: str) -> Page:
    page = Page(fahrenheit=units == "studio")
    question = verdict.question
    what = question.get("piece") or question.get("glass_label") or question.get("glass", "the glass")
    title = f"{what} on {metal_of(question)}: {build_told(verdict, units)}"
    if most.whole_title:
        page.paragraph(title, 0, 2)
    else:
        page.clipped(title)
    tell_taken(page, question)
    if NO_CARDS in note:
        page.paragraph(f"{upper_first(NO_CARDS)}.", 0, 2)
    page.line()
    page.paragraph(f"{upper_first(verdict.outcome)}{how_sure(verdict)}. {verdict.sentence}")
    trust_told(page, verdict)
    if verdict.evidence is not None:
        evidence = verdict.evidence
        lift = f" Better: {evidence.lift}." if evidence.lift and evidence.grade != "published" else ""
        page.paragraph(f"Rests on {evidence.words}.{lift}")
    against = [one for one in verdict.told if one.outcome != SUITS or one.reason.deciding]
    if against:
        page.line()
    for number, one in enumerate(against[: most.reasons], 1):
        _reason(page, number, one, units)
    _folded(page, against, [one for one in verdict.told if one not in against], most)
    if verdict.changes:
        found = "; ".join(
            f"{change.words}, {change.outcome} ({sure(change.holds)})" for change in verdict.changes[: most.changes]
        )
        page.paragraph(f"Tried on the plate, with the draws that hold: {found}.", 0, 2)
    numbers = _numbers(verdict, units)
    if numbers:
        page.paragraph(f"Numbers: {numbers}.", 0, 2)
    tiles_told(page, verdict, "Your own tiles of this glass on this metal", most.tiles)
    if verdict.cautions:
        names = _names(verdict)
        more = "" if len(names) <= most.cautions else f"; and {len(names) - most.cautions} more"
        page.paragraph(f"Take care: {'; '.join(names[: most.cautions])}{more}.", 0, 2)
    page.paragraph(f"{TEST_TILE} {_MORE}")
    return page


def build_told(verdict: Verdict, units: Units) -> str:
    """The build in a line: metal, faces, shape and kiln."""
    asked = dict(as_understood(verdict.question, units, ""))
    clay = ", any schedule" if verdict.question.get("clay_schedule") == ANY_SCHEDULE else ""
    told = (
        f"{asked.get('metal after firing', '')} of metal{clay}",
        ", ".join(faces_of(verdict.question)),
        asked.get("shape", ""),
        asked.get("kiln", ""),
    )
    return ", ".join(x for x in told if x)


def _reason(page: Page, number: int, one: Told, units: Units) -> None:
    """A finding in two or three lines: what it is, what was found against what limit, what to do."""
    where = f", {one.place or one.where}" if one.where else ""
    mark = "*" if one.reason.deciding else " "
    split = one.reason.split
    share = f" ({one.share_words})" if split is not None and max(split) < NEARLY_ALL else ""
    found = f"{upper_first(one.title)}{where}: {found_text(one, units)}{share}; limit: {one.limit}."
    page.paragraph(found, 0, 4, f"{number}{mark}  ")
    if one.remedy:
        page.paragraph(f"Do: {lower_first(one.remedy)}", 4)


def _folded(page: Page, against: Sequence[Told], fine: Sequence[Told], most: _Most) -> None:
    """What wants care besides, and what holds, by name or in number; what wants care at any step does not hold."""
    rules = {one.key for one in against}
    for words, some in (("Also", against[most.reasons :]), ("Holds", [one for one in fine if one.key not in rules])):
        names = list(dict.fromkeys(lower_first(one.rule.title) for one in some))
        if names:
            told = "; ".join(names) if most.names else f"{len(names)} more"
            page.paragraph(f"{words}: {told}.", 0, 2)


def _numbers(verdict: Verdict, units: Units) -> str:
    """The gap, the stress that stays, the kiln window: what a person at the bench compares."""
    told = []
    if "gap_ppm" in verdict.measures:
        told.append(f"contraction gap {measure_text(verdict.measures['gap_ppm'], units)}")
    if verdict.stages:
        glass = [x.mean_mpa for x in verdict.stages[-1].layers if x.name != "metal"]
        if glass:
            worst = max(glass, key=lambda m: m.value)
            told.append(f"finished glass at {measure_text(worst, units)}")
    window = kiln_window(verdict, units)
    return "; ".join([*told, *([f"kiln {window}"] if window else [])])


def _names(verdict: Verdict) -> list[str]:
    return list(dict.fromkeys(lower_first(caution.name or caution.text) for caution in verdict.cautions))
