"""One record on one screen: what it is, the preferred figure of each property, rules that name it, what is missing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.cli.common import Units, tell_taken
from refdb.cli.output import SCREEN, Page
from refdb.frozen import dataclass
from refdb.words import upper_first

if TYPE_CHECKING:
    from refdb.records import Material
    from refdb.records.rules import FitRule
    from refdb.store.reference import Reference

#: What each kind of record is called.
KINDS = {"metal": "base metal", "glass": "glass", "leaf": "leaf or foil"}


@dataclass(frozen=True)
class _Most:
    """How many figures are told, and whether rules are told by name."""

    figures: int
    rules: bool
    details: int = 99


#: From the most that is told to the least; the first that fits the screen is shown.
_TRIED = (
    *(_Most(figures, True) for figures in (99, 8, 7, 6, 5, 4)),
    *(_Most(figures, False) for figures in (6, 5, 4)),
    *(_Most(4, False, details) for details in (6, 5, 4, 3, 2, 1)),
)


def short_record(ref: Reference, record: Material, units: Units, question: dict[str, Any]) -> Page:
    """A material on one screen; figures come in the order in which the bench asks for them."""
    from refdb.judge.known import details_of, kind_of, not_known, rules_naming
    from refdb.store.material_tables import GLASS_DETAILS, LEAF_DETAILS, METAL_DETAILS

    kind = kind_of(record)
    tables = {"glass": GLASS_DETAILS, "leaf": LEAF_DETAILS, "metal": METAL_DETAILS}
    labels = {c.name: c.label for c in tables[kind].columns}
    details = [(labels[name], text) for name, text in details_of(record).items()]
    figures, rules, gone = _figures(ref, record, units), rules_naming(ref.fit_rules(), record), not_known(ref, record)
    page = Page()
    for most in _TRIED:
        page = Page()
        page.sides(record.label, record.key)
        page.paragraph(f"{KINDS[kind]}, {record.family}. {record.summary}")
        tell_taken(page, question)
        page.pairs(details[: most.details])
        page.line()
        page.pairs(figures[: most.figures])
        if len(figures) > most.figures:
            page.paragraph(f"and {', '.join(label for label, _ in figures[most.figures :])}", 2, 4)
        page.line()
        _rules(page, rules, by_name=most.rules)
        page.paragraph(f"Not known: {', '.join(gone)}." if gone else "", 0, 2)
        page.paragraph("Every figure with its rivals and sources: --full")
        if len(page.lines) <= SCREEN:
            break
    return page


def _figures(ref: Reference, record: Material, units: Units) -> list[tuple[str, str]]:
    """The preferred figure of each property, with its span and what it rests on."""
    from refdb.judge.known import in_order
    from refdb.records.printed import number_of, range_of, span_of, unit_of

    found = []
    for prop in in_order(ref.properties()):
        value = next((v for v in record.values if v.property == prop.key and v.preferred), None)
        if value is None:
            continue
        unit, band = unit_of(prop, units), range_of(value, prop, units)
        number = "" if value.value is None else number_of(value.value, prop, units)
        figure = f"{number} ({band})" if number and band else number or band
        span = span_of(value.temp_low_c, value.temp_high_c, units)
        told = f"{figure} {unit}" if unit else figure
        found.append((prop.label, ", ".join(x for x in (told, span, value.basis) if x)))
    return found


def _rules(page: Page, rules: list[FitRule], *, by_name: bool) -> None:
    """The rules that name it, by what they say; or how many there are."""
    said: dict[str, list[str]] = {}
    for rule in rules:
        said.setdefault(rule.outcome, []).append(rule.rule)
    for outcome, names in said.items():
        told = "; ".join(dict.fromkeys(names)) if by_name else f"rules of the trade, with some partners ({len(names)})"
        page.paragraph(f"{upper_first(outcome)}: {told}.", 0, 2)
