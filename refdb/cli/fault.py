"""What went wrong: a symptom in a person's words, its likely causes, how to tell them apart, and what to do."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import CsvOption, JsonOption, one_form, opened, shortened, typed
from refdb.cli.output import Column, Page, emit_csv, emit_json
from refdb.errors import BadInput, NotFound
from refdb.store.fault_search import matching, nearest_symptoms

if TYPE_CHECKING:
    from collections.abc import Sequence

    from refdb.records import Fault, Source
    from refdb.store.workshop.beside_reference import Shelf

_LONGEST = 200
#: A rule that holds in no more than this share of draws still counts as a likely cause.
_SHARE_THAT_COUNTS = 0.8
_CLOSING = "Fire a test tile of what you change. Which cause is likeliest, and how to tell, are our own judgement."


def fault(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORDS]...", help="What is seen, in words; without any, the list of symptoms."),
    ] = None,
    piece: Annotated[
        Path | None,
        typer.Option("--piece", metavar="FILE", help="A piece file: causes that its judge found come first."),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell why it cracked, chipped or clouded, and what to do.

    \b
    Examples:
      refdb fault chips at the edge
      refdb fault chips at the edge --piece moth.toml
    """
    one_form(as_json, as_csv)
    text = typed(" ".join(words or []))[:_LONGEST]
    if words and not any(c.isalnum() for c in text):
        raise BadInput("nothing to look for", todo="give a word, such as: refdb fault cracks")
    with opened() as ref:
        found = _found(ref, text) if words else ref.faults()
        against = None if piece is None else _against(ref, piece)
        met = {f.key: rules for f in found if against and (rules := _met(f, against))}
        if against is not None:
            found = _judged_first(found, met)
        used = {f.source for f in found}
        sources = {s.key: s for s in ref.sources() if s.key in used}
    if as_json:
        question = {"words": text} | ({} if piece is None else {"piece": str(piece)})
        emit_json(
            {
                "question": question,
                "rows": _rows(found, met, piece is not None),
                "sources": {key: s.citation for key, s in sources.items()},
            }
        )
    elif as_csv:
        rows = _rows(found, met, piece is not None)
        emit_csv([{name: _cell(value) for name, value in row.items()} for row in rows], list(rows[0]))
    elif not words and piece is None:
        _symptoms(found)
    else:
        shown = [f for f in found if f.key in met] if not words and met else found
        _causes(shown, sources, met, judged=piece is not None)


def _found(ref: Shelf, text: str) -> list[Fault]:
    """The causes meant by these words; NotFound with the nearest symptoms where there are none."""
    found = matching(ref, text)
    if not found:
        near = nearest_symptoms(ref.faults(), text)
        raise NotFound(
            f"no fault is described as '{shortened(text, 40)}'",
            todo=f"the nearest are: {'; '.join(near)}",
            near=tuple(near),
        )
    return found


def _judged_first(found: Sequence[Fault], met: dict[str, list[str]]) -> list[Fault]:
    """Within a symptom what the judge found, the more of its rules the earlier; then what no file can tell; last what
    it looked for and did not find."""
    order = list(dict.fromkeys(f.symptom for f in found))
    return sorted(
        found,
        key=lambda f: (order.index(f.symptom), -len(met.get(f.key, ())) / max(len(_rules(f)), 1), bool(_rules(f))),
    )


def _rows(found: Sequence[Fault], met: dict[str, list[str]], judged: bool) -> list[dict[str, Any]]:
    """Plain rows, with what the judge of a piece says of each cause where one was asked."""
    return [
        asdict(f) | ({"in_the_piece": met.get(f.key, []), "looked_for": bool(_rules(f))} if judged else {})
        for f in found
    ]


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "; ".join(value) if isinstance(value, list) else value


def _against(ref: Shelf, path: Path) -> dict[str, list[str]]:
    """What the judge holds against a piece: keys of rules, each with the steps it is about."""
    from refdb.judge.piece.verdict import judge_piece
    from refdb.judge.reason import SUITS
    from refdb.plan.piecefile import read_piece

    against: dict[str, list[str]] = {}
    for told in judge_piece(ref, read_piece(path, ref)).told:
        if told.outcome == SUITS and (told.rule.only_good or told.reason.share > _SHARE_THAT_COUNTS):
            continue
        against.setdefault(told.fault_key, []).append(told.place or "the whole piece")
    return against


def _rules(fault: Fault) -> list[str]:
    """Keys of the rules that foresee a cause; none where nothing in a piece file tells of it."""
    from refdb.judge.rules import NOT_IN_FILE

    return [] if fault.rules == NOT_IN_FILE else [rule.strip() for rule in fault.rules.split(";")]


def _met(fault: Fault, against: dict[str, list[str]]) -> list[str]:
    """Those rules behind a cause that the judge found against a piece, each with its steps."""
    return [f"{rule} ({', '.join(dict.fromkeys(against[rule]))})" for rule in _rules(fault) if rule in against]


def _symptoms(faults: Sequence[Fault]) -> None:
    counts: dict[tuple[str, str], int] = {}
    for f in faults:
        counts[f.symptom, f.when_seen] = counts.get((f.symptom, f.when_seen), 0) + 1
    page = Page()
    columns = [Column("symptom", wraps=True), Column("seen", wraps=True), Column("causes", right=True)]
    page.table(columns, [[symptom, when, str(n)] for (symptom, when), n in counts.items()], 0)
    page.line()
    page.paragraph("Causes and remedies: refdb fault WORDS")
    page.show()


def _causes(faults: Sequence[Fault], sources: dict[str, Source], met: dict[str, list[str]], judged: bool) -> None:
    page = Page()
    if judged and not met:
        page.paragraph("The judge finds none of these causes in the piece; they stand in their usual order.")
    for symptom in dict.fromkeys(f.symptom for f in faults):
        held = [f for f in faults if f.symptom == symptom]
        page.heading(symptom)
        page.paragraph(f"seen {held[0].when_seen}", 2)
        for place, f in enumerate(held, 1):
            page.line()
            page.paragraph(f"{f.cause} [{sources[f.source].name}]", 2, None, f"{place}  ")
            page.pairs(
                [
                    ("in the piece", _in_the_piece(f, met.get(f.key, [])) if judged else ""),
                    ("tell", f.how_to_tell),
                    ("do", f.remedy),
                    ("avoid", f.prevention),
                    ("rules", ", ".join(_rules(f))),
                ],
                5,
            )
    page.heading("Sources")
    for source in sources.values():
        page.paragraph(f"{source.name}: {source.citation}", 2, 6)
    page.line()
    page.paragraph(_CLOSING)
    page.show()


def _in_the_piece(fault: Fault, found: list[str]) -> str:
    """What the judge of a piece says of a cause."""
    if not _rules(fault):
        return "a piece file cannot tell"
    return ", ".join(found) or "looked for and not found"
