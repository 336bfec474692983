"""A plan as a page of text: what to do before the kiln, each firing, the amounts, and what can hurt."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from refdb.cli.common import Units
from refdb.cli.output import Column, Page
from refdb.cli.verdict_page import how_sure
from refdb.judge.verdict import TEST_TILE, Verdict
from refdb.plan.amount import Amount
from refdb.plan.amounts import Amounts
from refdb.plan.lines import SIGNS_DECIDE, Line, Plan, by_firing
from refdb.plan.packing import Packed
from refdb.plan.words import amount_span
from refdb.records.printed import degrees
from refdb.words import upper_first


def plan_page(plan: Plan, verdict: Verdict, file: str, units: Units = "metric") -> Page:
    """The whole page of one plan; `file` is how a command names it."""
    page = Page(fahrenheit=units == "studio")
    piece = plan.piece
    many = f", {piece.quantity:,} pieces" if piece.quantity > 1 else ""
    page.paragraph(f"{piece.title}: the plan{many}")
    page.line()
    page.paragraph(f"{upper_first(verdict.outcome)}{how_sure(verdict)}. {verdict.sentence}")
    page.paragraph(f"Why: refdb piece check {file}")
    _kiln_table(page, plan, units)
    for number, phase in enumerate(plan.before):
        page.heading(phase.title)
        _lines(page, phase.lines, plan)
        if number == 0 and plan.schedules:
            _clay(page, plan, units)
    _firings(page, plan, units)
    page.heading("After each firing")
    _lines(page, plan.between, plan)
    if plan.after:
        page.heading("At the end")
        _lines(page, plan.after, plan)
    page.heading("Time at the kiln")
    _lines(page, plan.times, plan)
    _amounts(page, plan)
    if plan.packed is not None:
        _packing(page, plan.packed, plan.names)
    page.heading("Cautions")
    for caution in plan.cautions:
        page.paragraph(f"{caution.text} [{plan.names[caution.source]}]", 2, 4)
    page.heading("Sources, in short (refdb sources NAME gives one in full)")
    for key, citation in plan.sources.items():
        page.clipped(f"{plan.names[key]}: {citation}", 2)
    page.line()
    page.paragraph(TEST_TILE)
    return page


def _lines(page: Page, lines: Iterable[Line], plan: Plan) -> None:
    for line in lines:
        page.paragraph(f"{line.text} [{plan.names[line.source]}]", 2, 4)


def _clay(page: Page, plan: Plan, units: Units) -> None:
    page.heading("Firing the clay: rival schedules side by side; its maker's leaflet governs")
    for schedule in plan.schedules:
        page.paragraph(f"{schedule.name} (for glass: {schedule.fit})", 2, 4)
        for phase in schedule.phases:
            heat = _span([degrees(t, units).partition(" ")[0] for t in phase.temp_c])
            unit = "°F" if units == "studio" else "°C"
            hold = _span([f"{x:g}" for x in phase.hold_min])
            carbon = "" if phase.carbon_mm is None else f", {phase.carbon_mm:g} mm around"
            told = "; ".join((f"{heat} {unit}, {hold} min, {phase.atmosphere}{carbon}", *phase.more))
            page.paragraph(f"{phase.title}: {told} [{plan.names[phase.source]}]", 4, 6)


def _span(ends: list[str]) -> str:
    return ends[0] if ends[0] == ends[1] else f"{ends[0]}-{ends[1]}"


def _kiln_table(page: Page, plan: Plan, units: Units) -> None:
    """Every firing in a row: what goes in, the setting and the minutes; it stands first, for it is what is sought."""
    firings = plan.firings
    page.heading("At the kiln")
    if plan.own_kiln is not None:
        page.paragraph(plan.kiln_words(units), 2)
    heads = ["°F", "°C"] if units == "studio" else ["°C", "°F"]
    columns = [
        Column("", right=True),
        Column("what goes in", wraps=True),
        *(Column(h, right=True) for h in heads),
        Column("minutes"),
    ]
    table = []
    for firing in firings:
        heat = [f"{firing.kiln_c:.0f}", f"{firing.kiln_f:.0f}"]
        table.append(
            [
                str(firing.number),
                "; ".join(firing.what),
                *(reversed(heat) if units == "studio" else heat),
                firing.minutes.words.replace(" min", "")
                + (f", then {firing.cooling.minutes:g} slowly" if firing.cooling else ""),
            ]
        )
    page.table(columns, table)


def _firings(page: Page, plan: Plan, units: Units) -> None:
    firings = plan.firings
    page.heading("Each firing")
    for firing in firings:
        minutes = firing.minutes
        page.line()
        look = f"{minutes.look_words}; " if minutes.look_words else ""
        page.paragraph(f"{firing.number}  {look}{minutes.words}: {minutes.note} [{plan.names[minutes.source]}]", 2, 5)
        for stages in minutes.stages:
            page.paragraph(f"{upper_first(stages.words)} [{plan.names[stages.source]}]", 5, 7)
        for lines in (firing.prepare, firing.right, firing.notes):
            for line in lines:
                page.paragraph(f"{line.text} [{plan.names[line.source]}]", 5, 7)
    if any(f.minutes.stages for f in firings):
        page.line()
        page.paragraph(SIGNS_DECIDE, 2)
    page.heading("Not right yet, or too much")
    for line, numbers in (*by_firing(firings, "under"), *by_firing(firings, "over")):
        page.paragraph(f"{line.text} ({numbers}) [{plan.names[line.source]}]", 2, 4)


def _amounts(page: Page, plan: Plan) -> None:
    page.heading("Amounts" + (f" for all {plan.piece.quantity:,}" if plan.piece.quantity > 1 else ""))
    amounts_table(page, plan.amounts, plan.names)


def amounts_table(page: Page, amounts: Amounts, names: Mapping[str, str]) -> None:
    """Amounts as a table, how each is made up, and what falls short; `names` are short ones of sources by key."""
    columns = [
        Column("what", wraps=True),
        Column("on the piece", right=True),
        Column("take, low to high", right=True),
        Column(""),
    ]
    table = [[a.what, amount_span(a.needed) if a.needed else "", amount_span(a.band), a.unit] for a in amounts.rows]
    page.table(columns, table)
    for words, keys in _hows(amounts.rows):
        page.paragraph(f"{words} [{'; '.join(names[k] for k in keys)}]", 2, 4)
    for amount in amounts.rows:
        if amount.short:
            page.paragraph(f"{amount.short} [own stock]", 2, 4)
    for gone in amounts.missing:
        page.paragraph(f"Not known: {gone}", 2, 4)


def _hows(rows: tuple[Amount, ...]) -> list[tuple[str, tuple[str, ...]]]:
    """How each amount is made up, those that are made up alike together."""
    told: dict[str, tuple[str, ...]] = {}
    for row in rows:
        words = f"{row.what}: {row.how}" if row.note or row.unit != "g" or not row.steps else f"Powder: {row.how}"
        words += f"; {row.note}" if row.note else ""
        told[words] = tuple(dict.fromkeys((*told.get(words, ()), *row.sources)))
    return list(told.items())


def _packing(page: Page, packed: Packed, names: dict[str, str]) -> None:
    box = packed.container
    sizes = " x ".join(f"{x * 1e3:g}" for x in (box.width_m, box.depth_m, box.height_m))
    page.heading(f"In a container of {sizes} mm")
    page.paragraph(f"{packed.words} [{'; '.join(names[k] for k in packed.sources)}]", 2, 4)
    if packed.note:
        page.paragraph(packed.note, 2, 4)
