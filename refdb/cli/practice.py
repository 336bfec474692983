"""How it is done: rules of practice by topic, kiln schedules of clays, and solders."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import (
    CsvOption,
    JsonOption,
    UnitsOption,
    complete_metal,
    names_in,
    one_form,
    opened,
    say_taken,
    shortened,
    tell_taken,
    typed,
)
from refdb.cli.options import Argument, Option
from refdb.cli.output import SCREEN, Page, emit_csv, emit_json
from refdb.errors import BadInput, NotFound
from refdb.records.printed import caution_text, hazard_named
from refdb.store.practice_search import Practice, practice_of
from refdb.words import ended, upper_first

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def practice(
    words: Annotated[
        list[str] | None, Argument(metavar="[WORDS]...", help="A topic, or words of a rule; without any, the topics.")
    ] = None,
    on: Annotated[
        str | None,
        Option("--on", metavar="METAL", autocompletion=complete_metal, help="Only what is said of this metal."),
    ] = None,
    full: Annotated[bool, Option("--full", help="Every rule, with its reason, figure and source.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell how it is done, from cleaning to after-care.

    Words find rules of practice, kiln schedules of clays, and solders.

    \b
    Examples:
      refdb practice drying
      refdb practice --on copper
    """
    one_form(as_json, as_csv)
    text = typed(" ".join(words or []))
    if words and not any(c.isalnum() for c in text):
        raise BadInput("nothing to look for", todo="give a word, such as: refdb practice drying")
    from refdb.judge.cautions import hazards_of_practice
    from refdb.store.schema import TABLE

    with opened() as ref:
        named = names_in(ref)
        metal = ref.metal(named.key(typed(on), "metal", "--on")) if on is not None else None
        if as_csv:
            say_taken(named)
        found = practice_of(ref, text, metal)
        names = ref.source_names()
        hazards = hazards_of_practice(ref.hazards(), found.work) if text.strip() else []
        if not found.rows:
            raise NotFound(
                f"no rule of practice holds '{shortened(text, 40)}'" + (f" for {metal.label}" if metal else ""),
                todo=f"the topics are: {shortened(', '.join(found.topics), 200)}",
            )
        sources = {s.key: s.citation for s in ref.sources()} if as_json else {}
    if as_json:
        from dataclasses import asdict

        used = {*(r["source"] for r in found.rows), *(h.source for h in hazards)}
        said = {"said": found.said} if found.said else {}
        emit_json(
            {
                "question": {"words": text} | ({"on": metal.key} if metal else {}) | said | named.question,
                "rows": found.rules,
                "schedules": found.phases,
                "solders": found.solders,
                "cautions": [asdict(h) for h in hazards],
                "sources": {key: citation for key, citation in sources.items() if key in used},
            }
        )
    elif as_csv:
        emit_csv(found.rules, [c.name for c in TABLE["practice_rules"].columns])
    elif not text.strip() and metal is None and not full:
        _topics(found.rules).show()
    elif full:
        page = _whole(found, named.question, units, names)
        if hazards:
            page.heading("What can hurt, and the usual caution (limits: refdb cautions WORDS)")
        for hazard in hazards:
            page.paragraph(f"{caution_text(hazard)} [{names[hazard.source]}]", 2, 4)
        page.show()
    else:
        care = _care([hazard_named(h) for h in hazards])
        about = f"On {metal.small}" if metal else ""
        _short(found, named.question, about, care, units, names).show()


def _topics(rules: Sequence[dict[str, Any]]) -> Page:
    """The topics in as many columns as fit, each with the number of its rules."""
    counts: dict[str, int] = {}
    for rule in rules:
        counts[rule["topic"]] = counts.get(rule["topic"], 0) + 1
    page = Page()
    page.paragraph(f"What there is to read: {len(counts)} topics, each with the number of its rules")
    page.line()
    page.paragraph(", ".join(f"{topic}\u00a0{count}" for topic, count in sorted(counts.items())), 2)
    page.line()
    page.paragraph("Read one: refdb practice WORDS; for one metal: refdb practice --on METAL")
    return page


#: Of what can hurt, so many characters stand on the short page.
_CARE = 220


def _care(names: list[str]) -> str:
    """As many hazards as fit, whole, and how many more there are."""
    most = next((n for n in range(len(names), 1, -1) if len("; ".join(names[:n])) <= _CARE), 1)
    left = len(names) - most
    return "; ".join(names[:most]) + (f"; and {left} more" if left > 0 else "")


#: From the most that is told of a rule to the least: its reason, and its figure and source.
_TRIED = ((True, True), (False, True), (False, False))


def _short(
    found: Practice, question: Mapping[str, Any], about: str, care: str, units: str, names: dict[str, str]
) -> Page:
    """As much as fits the screen, and how much more there is."""
    total = len(found.rows)
    for reason, figure in _TRIED:
        page = _part(found, total, question, about, care, units, names, reason, figure)
        if len(page.lines) <= SCREEN:
            return page
    for most in range(total - 1, 0, -1):
        page = _part(found, most, question, about, care, units, names, False, False)
        if len(page.lines) <= SCREEN:
            break
    return page


def _part(
    found: Practice,
    most: int,
    question: Mapping[str, Any],
    about: str,
    care: str,
    units: str,
    names: dict[str, str],
    reason: bool,
    figure: bool,
) -> Page:
    """So many rows, in the order in which they were found."""
    from refdb.records.practice import amount_of

    page = Page(fahrenheit=units == "studio")
    tell_taken(page, question)
    if found.said:
        page.paragraph(f"{upper_first(found.said)}.")
    if about:
        page.paragraph(about)
    shown = found.rows[:most]
    rules = [r for r in shown if "topic" in r]
    for topic in dict.fromkeys(r["topic"] for r in rules):
        page.paragraph(upper_first(topic))
        for rule in (r for r in rules if r["topic"] == topic):
            told = f"{ended(rule['statement'])} {ended(rule['reason'] or '') if reason else ''}"
            amount = amount_of(rule, units)
            page.paragraph(told + (f" ({amount}) [{names[rule['source']]}]" if figure and amount else ""), 2, 4)
    phases = [p for p in shown if "clay_family" in p]
    for family in dict.fromkeys((p["clay_family"], p["schedule"]) for p in phases):
        steps = [p["title"] for p in phases if (p["clay_family"], p["schedule"]) == family]
        page.paragraph(f"Kiln schedule, {family[0]}, {family[1]}: {', '.join(steps)}", 0, 2)
    solders = [s for s in shown if "composition" in s]
    if solders:
        page.paragraph(f"{len(solders)} solders: {shortened('; '.join(s['label'] for s in solders), 200)}", 0, 2)
    if care:
        page.paragraph(f"Take care: {care}.", 0, 2)
    left = len(found.rows) - most
    page.paragraph((f"And {left} more. " if left else "") + "Reasons, figures and sources: --full")
    return page


def _whole(found: Practice, question: Mapping[str, Any], units: str, names: dict[str, str]) -> Page:
    page = Page()
    tell_taken(page, question)
    if found.said:
        page.paragraph(f"{upper_first(found.said)}.")
    _rules(page, found.rules, units, names)
    _schedules(page, found.phases, units, names)
    _solders(page, found.solders, units, names)
    return page


def _rules(page: Page, rules: list[dict[str, Any]], units: str, names: dict[str, str]) -> None:
    from refdb.records.practice import amount_of

    for topic in dict.fromkeys(r["topic"] for r in rules):
        page.heading(topic)
        for rule in (r for r in rules if r["topic"] == topic):
            page.paragraph(f"{ended(rule['statement'])} {ended(rule['reason'] or '')}", 2, 4)
            amount = amount_of(rule, units)
            about = [
                x
                for x in (
                    amount,
                    f"for {rule['applies_to']}" if rule["applies_to"] else "",
                    rule["basis"],
                    rule["note"] or "",
                    f"otherwise: {rule['faults'].replace(';', ',')}" if rule["faults"] else "",
                )
                if x
            ]
            page.paragraph(f"{'; '.join(about)} [{names[rule['source']]}]", 6)


def _schedules(page: Page, phases: list[dict[str, Any]], units: str, names: dict[str, str]) -> None:
    from refdb.records.printed import degrees, span_of

    if phases:
        page.heading("Kiln schedules of clays: the maker's leaflet governs")
    for name in dict.fromkeys((p["clay_family"], p["schedule"]) for p in phases):
        page.paragraph(f"{name[0]}: {name[1]}", 2)
        for p in (p for p in phases if (p["clay_family"], p["schedule"]) == name):
            hold = f"{p['hold_low_min']:g}" + (
                "" if p["hold_low_min"] == p["hold_high_min"] else f" to {p['hold_high_min']:g}"
            )
            told = [
                degrees(p["temp_low_c"], units)
                if p["temp_low_c"] == p["temp_high_c"]
                else span_of(p["temp_low_c"], p["temp_high_c"], units),
                f"hold {hold} min",
                "" if p["ramp"] == "any" else p["ramp"],
                p["atmosphere"],
                {"none": "no lid", "lid": "lid on"}.get(p["cover"] or "", p["cover"] or ""),
                f"{p['carbon_mm']:g} mm of carbon around" if p["carbon_mm"] else "",
                f"{p['spacing_mm']:g} mm between pieces" if p["spacing_mm"] else "",
                p["note"] or "",
            ]
            page.paragraph(
                f"{p['title']}: {'; '.join(x for x in told if x)} [{names[p['source']]}]", 4, None, f"{p['phase']}  "
            )
        told_of_glass = dict.fromkeys(p["enamel"] for p in phases if (p["clay_family"], p["schedule"]) == name)
        page.paragraph(f"glass on it: {'; '.join(told_of_glass)}", 4, 7)


def _solders(page: Page, solders: list[dict[str, Any]], units: str, names: dict[str, str]) -> None:
    from refdb.records.printed import degrees
    from refdb.records.solders import in_the_kiln

    if solders:
        page.heading("Solders")
    for s in solders:
        told = [
            s["composition"],
            f"melts from {degrees(s['solidus_c'], units)}" if s["solidus_c"] is not None else "",
            f"flows by {degrees(s['liquidus_c'], units)}" if s["liquidus_c"] is not None else "",
            in_the_kiln(s["solidus_c"], s["liquidus_c"]),
            s["hazard"] or "",
            s["note"] or "",
        ]
        page.paragraph(f"{s['label']}: {'; '.join(x for x in told if x)} [{names[s['source']]}]", 2, 6)
