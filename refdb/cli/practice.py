"""How it is done, and what can hurt someone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import CsvOption, JsonOption, UnitsOption, complete_material, one_form, opened, shortened, typed
from refdb.cli.output import Page, emit_csv, emit_json
from refdb.errors import BadInput, NotFound

if TYPE_CHECKING:
    from refdb.records import Hazard

_CLOSING = "Local rules, the maker's sheet and licensed practice govern."


def practice(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORDS]...", help="Words that must all stand in a rule; without any, the topics."),
    ] = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell how it is done, from cleaning to after-care.

    Words find rules of practice, kiln schedules of clays, and solders.

    \b
    Example:
      refdb practice drying
    """
    one_form(as_json, as_csv)
    text = typed(" ".join(words or []))
    if words and not any(c.isalnum() for c in text):
        raise BadInput("nothing to look for", todo="give a word, such as: refdb practice drying")
    from refdb.store.schema import TABLE

    with opened() as ref:
        rules = ref.matching("practice_rules", text)
        phases = ref.matching("firing_phases", text) if text.strip() else []
        solders = ref.matching("solders", text) if text.strip() else []
        names = ref.source_names()
        if text.strip() and not (rules or phases or solders):
            topics = sorted({r["topic"] for r in ref.matching("practice_rules", "")})
            raise NotFound(
                f"no rule of practice holds '{shortened(text, 40)}'",
                todo=f"the topics are: {shortened(', '.join(topics), 200)}",
            )
        if as_json:
            used = {r["source"] for r in (*rules, *phases, *solders)}
            emit_json(
                {
                    "question": {"words": text},
                    "rows": rules,
                    "schedules": phases,
                    "solders": solders,
                    "sources": {s.key: s.citation for s in ref.sources() if s.key in used},
                }
            )
            return
    if as_csv:
        emit_csv(rules, [c.name for c in TABLE["practice_rules"].columns])
        return
    page = Page()
    if not text.strip():
        _topics(page, rules)
    else:
        _rules(page, rules, units, names)
        _schedules(page, phases, units, names)
        _solders(page, solders, units, names)
    page.show()


def _topics(page: Page, rules: list[dict[str, Any]]) -> None:
    counts: dict[str, int] = {}
    for rule in rules:
        counts[rule["topic"]] = counts.get(rule["topic"], 0) + 1
    page.paragraph("What there is to read, with the number of rules")
    page.line()
    page.pairs([(topic, str(count)) for topic, count in sorted(counts.items())])
    page.line()
    page.paragraph("Read one: refdb practice WORDS")


def _rules(page: Page, rules: list[dict[str, Any]], units: str, names: dict[str, str]) -> None:
    from refdb.records.practice import amount_of

    for topic in dict.fromkeys(sorted(r["topic"] for r in rules)):
        page.heading(topic)
        for rule in (r for r in rules if r["topic"] == topic):
            page.paragraph(f"{_ended(rule['statement'])} {_ended(rule['reason'] or '')}", 2, 4)
            amount = amount_of(rule, units)
            about = [
                x
                for x in (
                    amount,
                    f"for {rule['applies_to']}" if rule["applies_to"] else "",
                    rule["basis"],
                    rule["note"] or "",
                )
                if x
            ]
            page.paragraph(f"{'; '.join(about)} [{names[rule['source']]}]", 6)


def _ended(text: str) -> str:
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."


def _schedules(page: Page, phases: list[dict[str, Any]], units: str, names: dict[str, str]) -> None:
    from refdb.records.printed import span_of

    if phases:
        page.heading("Kiln schedules of clays: the maker's leaflet governs")
    for name in dict.fromkeys((p["clay_family"], p["schedule"]) for p in phases):
        page.paragraph(f"{name[0]}: {name[1]}", 2)
        for p in (p for p in phases if (p["clay_family"], p["schedule"]) == name):
            hold = f"{p['hold_low_min']:g}" + (
                "" if p["hold_low_min"] == p["hold_high_min"] else f" to {p['hold_high_min']:g}"
            )
            told = [
                span_of(p["temp_low_c"], p["temp_high_c"], units),
                f"hold {hold} min",
                p["ramp"],
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

    if solders:
        page.heading("Solders")
    for s in solders:
        told = [
            s["composition"],
            f"melts from {degrees(s['solidus_c'], units)}" if s["solidus_c"] is not None else "",
            f"flows by {degrees(s['liquidus_c'], units)}" if s["liquidus_c"] is not None else "",
            s["hazard"] or "",
            s["note"] or "",
        ]
        page.paragraph(f"{s['label']}: {'; '.join(x for x in told if x)} [{names[s['source']]}]", 2, 6)


def cautions(
    key: Annotated[
        str | None,
        typer.Argument(
            metavar="[KEY]", autocompletion=complete_material, help="A glass or metal, or a word such as lead."
        ),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell what can hurt someone, the usual caution, and the limits.

    \b
    Example:
      refdb cautions clear-medium-leaded
    """
    one_form(as_json, as_csv)
    from refdb.store.schema import TABLE

    with opened() as ref:
        label = ""
        hazards = [] if key is not None else ref.hazards()
        limits = [] if key is not None else ref.rows("SELECT * FROM exposure_limits ORDER BY agent, key")
        names = ref.source_names()
        if key is not None:
            from refdb.judge.lookups import hazards_about

            record, hazards = hazards_about(ref, typed(key))
            label = f"for {record.label}" if record else f"on {shortened(typed(key).strip(), 40)}"
        if as_json:
            used = {h.source for h in hazards} | {r["source"] for r in limits}
            emit_json(
                {
                    "question": {"key": key},
                    "limits": limits,
                    "rows": [{n: getattr(h, n) for n in h.__dataclass_fields__} for h in hazards],
                    "sources": {s.key: s.citation for s in ref.sources() if s.key in used},
                }
            )
            return
    if as_csv:
        columns = [c.name for c in TABLE["hazards"].columns]
        emit_csv([{n: getattr(h, n) for n in columns} for h in hazards], columns)
        return
    _cautions(hazards, limits, label, names)


def _cautions(hazards: list[Hazard], limits: list[dict[str, Any]], label: str, names: dict[str, str]) -> None:
    page = Page()
    page.paragraph(f"Cautions {label}" if label else "Cautions, weightiest first")
    if label:
        for hazard in hazards:
            _caution(page, hazard, names)
    else:
        for step in dict.fromkeys(h.step for h in hazards):
            page.heading(step)
            for hazard in (h for h in hazards if h.step == step):
                _caution(page, hazard, names)
    if limits:
        page.heading("Limits: pointers to the texts that govern")
        for row in limits:
            page.paragraph(
                f"{row['agent']}, {row['place']}: {row['limit_text']} ({row['instrument']}) [{names[row['source']]}]",
                2,
                4,
            )
    page.line()
    page.paragraph(_CLOSING)
    page.show()


def _caution(page: Page, hazard: Hazard, names: dict[str, str]) -> None:
    page.paragraph(
        f"{hazard.hazard[:1].upper()}{_ended(hazard.hazard[1:])} {_ended(hazard.caution)} [{names[hazard.source]}]",
        2,
        4,
    )
