"""What can hurt someone, the usual caution, and the limits that govern."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.ask.cautions import USES, Cautions, cautions_about
from refdb.cli.common import CsvOption, JsonOption, chosen_from, complete_material, one_form, opened, typed
from refdb.cli.options import Argument, Option
from refdb.cli.output import SCREEN, Page, emit_csv, emit_json
from refdb.records.printed import caution_text
from refdb.words import lower_first, shortened, upper_first

if TYPE_CHECKING:
    from refdb.records import Hazard

_CLOSING = "Local rules, the maker's sheet and licensed practice govern."


def cautions(
    words: Annotated[
        list[str] | None,
        Argument(
            metavar="[WORDS]...", autocompletion=complete_material, help="A glass or metal, or words such as lead."
        ),
    ] = None,
    use: Annotated[str | None, Option("--use", metavar="USE", help="What the piece is for: child or food.")] = None,
    full: Annotated[bool, Option("--full", help="Every caution in full, and the limits.")] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell what can hurt someone, the usual caution, and the limits.

    \b
    Examples:
      refdb cautions clear-medium-leaded
      refdb cautions carbon monoxide
      refdb cautions --use food
    """
    one_form(as_json, as_csv)
    from refdb.records import Hazard

    text = typed(" ".join(words or []))
    used_for = chosen_from(use, USES, "--use") if use is not None else ""
    with opened() as ref:
        found = cautions_about(ref, text if words else None, used_for)
        names = ref.source_names()
        used = {h.source for h in found.hazards} | {r["source"] for r in found.limits}
        sources = {s.key: s.citation for s in ref.sources() if s.key in used} if as_json else {}
    if as_json:
        question = {"key": text if words else None} | ({"use": used_for} if used_for else {})
        emit_json(
            {
                "question": question | ({"said": found.said} if found.said else {}),
                "limits": found.limits,
                "rows": [{n: getattr(h, n) for n in h.__match_args__} for h in found.hazards],
                "sources": sources,
            }
        )
    elif as_csv:
        columns = list(Hazard.__match_args__)
        emit_csv([{n: getattr(h, n) for n in columns} for h in found.hazards], columns)
    elif full:
        _whole(found, names).show()
    else:
        _short(found, names).show()


def _head(page: Page, found: Cautions) -> None:
    if found.said:
        page.paragraph(f"{upper_first(found.said)}.")
    page.paragraph(f"Cautions {found.label}" if found.label else "Cautions, weightiest first")


def _short(found: Cautions, names: dict[str, str]) -> Page:
    """On one screen: of something asked about the weightiest in full; of all, one line each."""
    page = _whole(found, names)
    if len(page.lines) <= SCREEN:
        return page
    if found.label:
        for most in range(len(found.hazards), 0, -1):
            page = _part(found, names, most)
            if len(page.lines) <= SCREEN:
                return page
    page = Page()
    _head(page, found)
    room = SCREEN - len(page.lines) - 3
    for hazard in found.hazards[:room]:
        page.clipped(f"{upper_first(hazard.step)}: {hazard.hazard}", 2)
    left = len(found.hazards) - room
    more = f"And {left} more" if left > 0 else "Each in full"
    page.paragraph(f"{more}, and {len(found.limits)} limits: --full. One of them: refdb cautions WORDS. {_CLOSING}")
    return page


def _part(found: Cautions, names: dict[str, str], most: int) -> Page:
    """So many cautions in full, what the others are about, and how many limits there are."""
    page = Page()
    _head(page, found)
    for hazard in found.hazards[:most]:
        _caution(page, hazard, names)
    others = [lower_first(h.step) for h in found.hazards[most:]]
    limits = f"{len(found.limits)} limits" if found.limits else ""
    more = "; ".join(filter(None, (shortened(", ".join(others), 200), limits)))
    page.paragraph(f"More on {more}: --full. {_CLOSING}" if more else _CLOSING)
    return page


def _whole(found: Cautions, names: dict[str, str]) -> Page:
    page = Page()
    _head(page, found)
    if found.label:
        for hazard in found.hazards:
            _caution(page, hazard, names)
    else:
        for step in dict.fromkeys(h.step for h in found.hazards):
            page.heading(step)
            for hazard in (h for h in found.hazards if h.step == step):
                _caution(page, hazard, names, step=False)
    _limits(page, found.limits, names)
    page.line()
    page.paragraph(_CLOSING)
    return page


def _limits(page: Page, limits: list[dict[str, Any]], names: dict[str, str]) -> None:
    if limits:
        page.heading("Limits: pointers to the texts that govern")
    for row in limits:
        page.paragraph(
            f"{row['agent']}, {row['place']}: {row['limit_text']} ({row['instrument']}; {row['edition']}; "
            f"{row['seen']}) [{names[row['source']]}]",
            2,
            4,
        )


def _caution(page: Page, hazard: Hazard, names: dict[str, str], step: bool = True) -> None:
    page.paragraph(f"{caution_text(hazard, step)} [{names[hazard.source]}]", 2, 4)
