"""What holds a word, and the sources with what rests on each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import CsvOption, JsonOption, one_form, opened, typed
from refdb.cli.options import Argument, Option
from refdb.cli.output import SCREEN, Page, emit_csv, emit_json
from refdb.errors import NotFound
from refdb.store.hits import KIND_WORDS, kind_words
from refdb.words import shortened, upper_first

if TYPE_CHECKING:
    from collections.abc import Sequence

    from refdb.ask.answers import Answered
    from refdb.records import Source
    from refdb.store.reference import Reference

PLACES = KIND_WORDS | {"property_values": "figures", "expansion_points": "expansion points"}


def find(
    text: Annotated[list[str], Argument(metavar="TEXT...", help="Words, their beginnings, or a question.")],
    full: Annotated[bool, Option("--full", help="Every record found, with the line that holds the words.")] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Find the records that hold these words, or answer a question.

    Where no record holds all words, the nearest are shown, and it is said so. A question that is understood is
    answered first, with how it was understood.

    \b
    Examples:
      refdb find silver foil
      refdb find does hard clear suit copper at 3 cards
    """
    one_form(as_json, as_csv)
    words = typed(" ".join(text))
    from refdb.ask.question import answered
    from refdb.store.search import search
    from refdb.store.search_words import EVERYWHERE

    with opened() as ref:
        answer = answered(ref, words)
        found = search(ref, words, lines=full or as_json or as_csv, idle=EVERYWHERE)
        if not found.hits and answer is None:
            near = found.near or tuple(ref.near(words))
            raise NotFound(
                f"nothing in the store holds '{shortened(words, 60)}'",
                todo=f"did you mean {' or '.join(near)}?" if near else "try fewer or other words",
                near=near,
            )
    rows = [
        {"key": h.key, "kind": kind_words(h.kind), "title": h.title, "line": h.line, "whole": h.whole}
        for h in found.hits
    ]
    said = found.said_of_all()
    if as_json:
        question = {"text": words} | ({"said": said} if said else {})
        emit_json({"question": question} | ({"answer": answer.as_dict()} if answer else {}) | {"rows": rows})
    elif as_csv:
        emit_csv(rows, ["key", "kind", "title", "line"])
    else:
        page = Page()
        if answer is not None:
            _answer(page, answer, full)
        if full or len(page.lines) < SCREEN:
            page.lines += found_page(rows, "" if answer else said, full, SCREEN - len(page.lines)).lines
        page.show()


#: So many lines are told of each of several answers.
_OF_EACH = 3


def _answer(page: Page, answer: Answered, full: bool) -> None:
    """How a sentence was understood, its answer, and where all of it stands; each where it asks several things."""
    for one in answer.each:
        page.paragraph(one.head, 0, 2)
        # Each has to leave room for the others; what governs stands last.
        short = len(answer.each) > 1 and len(one.lines) > _OF_EACH and not full
        for line in (*one.lines[: _OF_EACH - 1], one.lines[-1]) if short else one.lines:
            page.paragraph(line, 2, 4)
        page.paragraph(f"All of it: {one.command}")
        page.line()


#: So many records are shown on one screen, by kind, each with its whole title.
_ON_SCREEN = 15


def found_page(rows: Sequence[dict[str, Any]], said: str, full: bool, lines: int = SCREEN) -> Page:
    """The records by kind, in the order of the best of each kind, on so many lines."""
    page = Page()
    for most in range(len(rows) if full else min(len(rows), _ON_SCREEN), 0, -1):
        page = _by_kind(rows, said, most, full)
        if full or len(page.lines) <= lines:
            break
    return page


def _by_kind(rows: Sequence[dict[str, Any]], said: str, most: int, full: bool) -> Page:
    page = Page()
    if said:
        page.paragraph(f"{upper_first(said)}.")
    for kind in dict.fromkeys(r["kind"] for r in rows[:most]):
        page.paragraph(upper_first(kind))
        for row in (r for r in rows[:most] if r["kind"] == kind):
            if full:
                page.sides(row["title"].rstrip("."), row["key"])
                page.paragraph(row["line"], 4)
                continue
            page.beside(upper_first(row["title"].rstrip(".")), row["key"])
    left = len(rows) - most
    page.paragraph(
        (f"And {left} more: --full. " if left > 0 else "") + "All of one: refdb show KEY; of a fault: refdb fault KEY"
    )
    return page


def sources(
    key: Annotated[
        list[str] | None,
        Argument(
            metavar="[KEY]", help="A source by key or name, to see what rests on it; a kind of source; or words of it."
        ),
    ] = None,
    full: Annotated[bool, Option("--full", help="Every source with its citation.")] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the sources, or show one and what rests on it.

    \b
    Examples:
      refdb sources crc-elements
      refdb sources "EN 572-1"
      refdb sources handbook
    """
    one_form(as_json, as_csv)
    from refdb.store.schema import SOURCE_KINDS

    text = typed(" ".join(key or []))
    with opened() as ref:
        every, said, narrowed = ref.sources(), "", False
        if key is not None and text.strip().lower() in SOURCE_KINDS:
            every, narrowed = [s for s in every if s.kind == text.strip().lower()], True
        elif key is not None:
            try:
                show_source(ref, text, as_json, as_csv, full=full)
                return
            except NotFound:
                every, said = _by_words(ref, text)
                narrowed = True
    if as_json or as_csv:
        names = list(every[0].__match_args__) if every else ["key"]
        rows = [{name: getattr(s, name) for name in names} | {"citation": s.citation} for s in every]
        if as_json:
            emit_json({"rows": rows})
        else:
            emit_csv(rows, [*names, "citation"])
        return
    if not (narrowed or full):
        _kinds_page(every).show()
        return
    for most in range(len(every), 0, -1):
        page = _sources_page(every, most, said)
        if full or len(page.lines) <= SCREEN:
            break
    page.show()


def _kinds_page(every: Sequence[Source]) -> Page:
    """The kinds of source with how many there are and some of their names."""
    from refdb.store.schema import SOURCE_KINDS

    page = Page()
    for kind in SOURCE_KINDS:
        names = [s.name for s in every if s.kind == kind]
        if names:
            page.pairs([(f"{kind} {len(names)}", shortened(", ".join(names), 2 * page.width - 50))])
    page.line()
    page.paragraph("What rests on one: refdb sources KEY; of one kind: refdb sources KIND; all: --full")
    return page


def _sources_page(every: Sequence[Source], most: int, said: str) -> Page:
    """So many sources with their citations, by kind."""
    from refdb.store.schema import SOURCE_KINDS

    page = Page()
    if said:
        page.paragraph(f"{upper_first(said)}.")
    for kind in SOURCE_KINDS:
        held = [s for s in every[:most] if s.kind == kind]
        if held:
            page.heading(kind)
        for source in held:
            page.paragraph(f"{source.name} ({source.key}): {source.citation}", 2, 6)
    page.line()
    left = len(every) - most
    page.paragraph(f"What rests on one: refdb sources KEY{f'; {left} more: --full' if left else ''}")
    return page


def _by_words(ref: Reference, text: str) -> tuple[list[Source], str]:
    """The sources that hold these words; the NotFound of the key where none does."""
    from refdb.store.search import search

    found = search(ref, text, ("sources",)) if any(c.isalnum() for c in text) else None
    if found is None or not found.whole:
        ref.source(text.strip().lower())
        return [], ""
    held = {s.key: s for s in ref.sources()}
    return [held[h.key] for h in found.hits if h.whole and h.key in held], found.said("source")


def show_source(ref: Reference, key: str, as_json: bool, as_csv: bool = False, *, full: bool = False) -> None:
    """Print one source and what rests on it; on one screen unless `full`."""
    source = ref.source(key.strip().lower())
    rows = [row | {"place": PLACES.get(row["place"], row["place"])} for row in ref.resting_on(source.key)]
    from refdb.judge.lookups import limits_resting_on

    rows += [
        {"place": "limits of a verdict", "key": name, "what": what} for name, what in limits_resting_on(source.key)
    ]
    if as_json:
        emit_json(
            {
                "source": {n: getattr(source, n) for n in source.__match_args__} | {"citation": source.citation},
                "rows": rows,
            }
        )
        return
    if as_csv:
        emit_csv(rows, ["place", "key", "what"])
        return
    for most in (None, *([] if full else (12, 8, 5, 3, 2, 1))):
        page = _source_page(source, rows, most)
        if len(page.lines) <= SCREEN:
            break
    page.show()


def _source_page(source: Source, rows: list[dict[str, Any]], most: int | None) -> Page:
    """A source and what rests on it: all of it, or by name so many of each kind."""
    page = Page()
    page.sides(source.name, source.kind)
    page.paragraph(source.citation)
    page.pairs([("key", source.key), ("licence", source.licence), ("read on", source.retrieved), ("note", source.note)])
    if not rows:
        page.line()
        page.paragraph(
            "No row of the store is taken from it; it stands behind a calculation, or is kept for comparison."
        )
    for place in dict.fromkeys(row["place"] for row in rows):
        held = [row for row in rows if row["place"] == place]
        if most is None:
            page.heading(f"{place} ({len(held)})")
        groups: dict[str, list[str]] = {}
        for row in held:
            groups.setdefault(str(row["key"]), []).append(str(row["what"]).replace("_", " "))
        if most is None:
            for name, whats in groups.items():
                page.paragraph(f"{name}: {', '.join(whats)}", 2, 6)
        else:
            more = f", and {len(groups) - most:,} more" if len(groups) > most else ""
            page.paragraph(f"{place} ({len(held)}): {', '.join(list(groups)[:most])}{more}", 0, 2)
    if most is not None:
        page.heading("What of each rests on it: --full")
    return page
