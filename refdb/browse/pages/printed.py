"""Numbers and labels as the pages print them: true minus, no-break spaces, commas between thousands."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.judge.margin import margin_of
from refdb.judge.own.tiles import DIFFERS
from refdb.judge.verdict import UNSURE, Measure, Verdict
from refdb.judge.wording import Told, split_words
from refdb.pictures.drawing import MINUS, NO_BREAK, Triple, figure, span
from refdb.pictures.grid import Cell
from refdb.pictures.swatch import swatch
from refdb.records import Glass, Material, Property, PropertyValue
from refdb.records.printed import number_of, sure
from refdb.words import lower_first as lower_first
from refdb.words import set_quotes, tenths, units_held
from refdb.words import upper_first as upper_first

DECIMALS = {"MPa": 0, "ppm": 0, "°C": 0, "K": 0, "mm": 2, "ppm/K": 1, "J/m²": 1, "%": 2}

#: Commands that messages name, and the page that stands for each.
_LISTS = {
    "refdb metals": ("/materials?kind=metal", "all metals"),
    "refdb glasses": ("/materials?kind=glass", "all glasses"),
    "refdb leaf": ("/materials?kind=leaf", "all leaf"),
    "refdb sources": ("/sources", "all sources"),
    "refdb piece new": ("/piece?example=moth", "a piece file that can be read"),
    "from the page of a piece": ("/piece", "the page of pieces"),
    "from the page of pieces": ("/piece", "the page of pieces"),
    "refdb find solder": ("/find?q=solder", "all solders"),
}


def tint_of(record: Material) -> Markup:
    """The tint before the name of a glass of the store; nothing where its class names no colour."""
    return Markup(swatch(record.key, record.optical) if isinstance(record, Glass) else "")


def without_options(todo: str) -> str:
    """What to do about an error, with the name of a field where it names an option."""
    return todo.replace("add --cubical", "tick “cubical”")


def on_a_page(todo: str) -> tuple[str, tuple[str, str] | None]:
    """What to do about an error: in words, and as address and name of a page where it names a command that lists."""
    listed = next((where for words, where in _LISTS.items() if words in todo), None)
    return ("" if "refdb " in todo else upper_first(without_options(todo))), listed


def held(text: str) -> str:
    """Text whose units stay on the line of their numbers."""
    return units_held(text, NO_BREAK)


def quoted(page: object) -> Markup:
    """A page with typographic quotation marks and apostrophes."""
    return Markup(set_quotes(str(page)))


def with_unit(number: str, unit: str) -> str:
    """A printed number with its unit held to it."""
    return f"{number}{NO_BREAK}{unit}" if unit else number


def value_text(measure: Measure) -> str:
    """The value of a measure with its unit."""
    return with_unit(figure(measure.value, DECIMALS.get(measure.unit, 2)), measure.unit)


def range_text(measure: Measure) -> str:
    """Low to high of a measure; empty where both print alike."""
    decimals = DECIMALS.get(measure.unit, 2)
    text = span(measure.low, measure.high, decimals)
    return text if " to " in text else ""


def whole_text(measure: Measure) -> str:
    """Value with unit, and low to high in brackets."""
    held = range_text(measure)
    return f"{value_text(measure)} ({held})" if held else value_text(measure)


def triple(measure: Measure, factor: float = 1.0) -> Triple:
    """A measure as the pictures take it."""
    return Triple(measure.value * factor, measure.low * factor, measure.high * factor)


def typeset(number: str) -> str:
    """A plainly printed number with a true minus and commas between thousands."""
    head, point, tail = number.partition(".")
    sign = MINUS if head.startswith("-") else ""
    digits = head.lstrip("-")
    if digits.isdigit() and len(digits) > 3:
        digits = f"{int(digits):,}"
    return f"{sign}{digits}{point}{tail}" if digits.replace(",", "").isdigit() else number.replace("-", MINUS)


def property_text(value: float, prop: Property) -> str:
    """A stored value in the unit in which people see it, without the unit."""
    return typeset(number_of(value, prop))


def property_range(row: PropertyValue, prop: Property) -> str:
    """Low to high of a stored row; empty where it is a single figure."""
    if row.low is None and row.high is None:
        return ""
    low, high = property_text(row.band.low, prop), property_text(row.band.high, prop)
    return "" if low == high else f"{low} to {high}"


def temperature_span(low_c: float | None, high_c: float | None) -> str:
    """A span of temperature such as "20–400 °C"; empty where none is given."""
    if low_c is None or high_c is None:
        return ""
    return with_unit(f"{typeset(f'{low_c:.0f}')}–{typeset(f'{high_c:.0f}')}", "°C")


def how_sure(verdict: Verdict) -> str:
    """In how many draws it holds, as a sentence; empty where nothing was sampled."""
    return f"{upper_first(split_words(list(verdict.shares.values())))}." if verdict.shares else ""


def rests_on(verdict: Verdict) -> str:
    """What a verdict rests on and what would lift that, in a sentence or two; empty without evidence."""
    evidence = verdict.evidence
    if evidence is None:
        return ""
    return f"Rests on {evidence.words}." + (f" What would lift that: {evidence.lift}." if evidence.lift else "")


def changes_of(verdict: Verdict) -> list[dict[str, str]]:
    """Each change that was found to help, with the outcome it gives."""
    return [
        {"words": upper_first(change.words), "outcome": change.outcome, "holds": sure(change.holds)}
        for change in verdict.changes
    ]


def told_tiles(verdict: Verdict) -> list[tuple[str, bool]]:
    """The person's own tiles that bear on a verdict, a line each, and whether the two disagree."""
    return [(held(seen.text), seen.stands == DIFFERS and not seen.another_build) for seen in verdict.tiles]


def reason_row(told: Told) -> dict[str, Any]:
    """A finding as the table of reasons shows it."""
    number = told.found if isinstance(told.found, Measure) else None
    return {
        "rule": told.title,
        "key": told.key,
        "outcome": told.outcome,
        "step": told.where,
        "why": told.why,
        "source": told.source,
        "remedy": told.remedy,
        "share": told.share_words,
        "limit": told.limit,
        "found": told.found if number is None else value_text(number),
        "range": "" if number is None else range_text(number),
    }


def cell_of(verdict: Verdict) -> Cell:
    """A verdict as the grid shows it."""
    margin = margin_of(verdict)
    holds = tenths(sum(list(verdict.shares.values())[:2])) if verdict.shares and not verdict.missing else None
    if margin is not None:
        return Cell(verdict.outcome, holds, margin.room)
    if verdict.missing and verdict.outcome == UNSURE:
        return Cell(verdict.outcome, None, None, "not known")
    kiln = any(r.deciding and r.rule in ("kiln", "setting") for r in verdict.reasons)
    return Cell(verdict.outcome, holds, None, "by its kiln" if kiln else "by a rule")
