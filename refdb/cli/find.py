"""What holds a word, and the sources with what rests on each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from refdb.cli.common import CsvOption, JsonOption, one_form, opened, shortened, typed
from refdb.cli.output import Page, emit_csv, emit_json
from refdb.errors import NotFound
from refdb.store.hits import KIND_WORDS, plain_line

if TYPE_CHECKING:
    from refdb.store.reference import Reference

PLACES = KIND_WORDS | {"property_values": "figures", "expansion_points": "expansion points"}


def find(
    text: Annotated[list[str], typer.Argument(metavar="TEXT...", help="Words, or their beginnings.")],
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Find the records that hold all these words.

    \b
    Example:
      refdb find silver foil
    """
    one_form(as_json, as_csv)
    words = typed(" ".join(text))
    with opened() as ref:
        rows = [
            row | {"kind": KIND_WORDS.get(row["kind"], row["kind"]), "line": plain_line(row["line"])}
            for row in ref.find(words)
        ]
        if not rows:
            near = ref.near(words)
            raise NotFound(
                f"nothing in the store holds '{shortened(words, 60)}'",
                todo=f"did you mean {' or '.join(near)}?" if near else "try fewer or other words",
                near=tuple(near),
            )
    if as_json:
        emit_json({"question": {"text": words}, "rows": rows})
    elif as_csv:
        emit_csv(rows, ["key", "kind", "title", "line"])
    else:
        page = Page()
        for row in rows:
            page.sides(row["key"], row["kind"])
            title = row["title"].rstrip(".")
            page.paragraph(f"{title}. {row['line']}" if row["line"] else f"{title}.", 4)
        page.line()
        page.paragraph("All of one record: refdb show KEY")
        page.show()


def sources(
    key: Annotated[
        str | None, typer.Argument(metavar="[KEY]", help="A source by key or name, to see what rests on it.")
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the sources, or show one and what rests on it.

    \b
    Examples:
      refdb sources crc-elements
      refdb sources "EN 572-1"
    """
    one_form(as_json, as_csv)
    with opened() as ref:
        if key is not None:
            show_source(ref, typed(key), as_json, as_csv)
            return
        every = ref.sources()
    if as_json or as_csv:
        names = list(every[0].__dataclass_fields__) if every else ["key"]
        rows = [{name: getattr(s, name) for name in names} | {"citation": s.citation} for s in every]
        if as_json:
            emit_json({"rows": rows})
        else:
            emit_csv(rows, [*names, "citation"])
        return
    from refdb.store.schema import SOURCE_KINDS

    page = Page()
    for kind in SOURCE_KINDS:
        held = [s for s in every if s.kind == kind]
        if held:
            page.heading(kind)
            for source in held:
                page.paragraph(f"{source.name} ({source.key}): {source.citation}", 2, 6)
    page.line()
    page.paragraph("What rests on one: refdb sources NAME")
    page.show()


def show_source(ref: Reference, key: str, as_json: bool, as_csv: bool = False) -> None:
    """Print one source and what rests on it."""
    source = ref.source(key.strip().lower())
    rows = [row | {"place": PLACES.get(row["place"], row["place"])} for row in ref.resting_on(source.key)]
    from refdb.judge.lookups import limits_resting_on

    rows += [
        {"place": "limits of a verdict", "key": name, "what": what} for name, what in limits_resting_on(source.key)
    ]
    if as_json:
        emit_json(
            {
                "source": {n: getattr(source, n) for n in source.__dataclass_fields__} | {"citation": source.citation},
                "rows": rows,
            }
        )
        return
    if as_csv:
        emit_csv(rows, ["place", "key", "what"])
        return
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
        page.heading(f"{place} ({len(held)})")
        groups: dict[str, list[str]] = {}
        for row in held:
            groups.setdefault(str(row["key"]), []).append(str(row["what"]).replace("_", " "))
        for name, whats in groups.items():
            page.paragraph(f"{name}: {', '.join(whats)}", 2, 6)
    page.show()
