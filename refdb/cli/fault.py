"""What went wrong: a symptom in a person's words, its likely causes, how to tell them apart, and what to do."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import CsvOption, JsonOption, one_form, opened, shortened, typed
from refdb.cli.fault_page import (
    Judged,
    apart_page,
    causes_page,
    listed_page,
    overview_page,
    rules_of,
    short_causes_page,
)
from refdb.cli.options import Argument, Option
from refdb.cli.output import emit_csv, emit_json
from refdb.errors import BadInput, NotFound
from refdb.store.fault_search import Meant, causes_of, meant
from refdb.store.topics import of_fault

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from refdb.records import Fault, Symptom
    from refdb.records.rules import Topic
    from refdb.store.workshop.beside_reference import Shelf

_LONGEST = 200
#: A rule that holds in no more than this share of draws still counts as a likely cause.
_SHARE_THAT_COUNTS = 0.8


def fault(
    words: Annotated[
        list[str] | None,
        Argument(
            metavar="[WORDS]...", help="What is seen, in words; without any, some questions, or in a pipe the list."
        ),
    ] = None,
    piece: Annotated[
        Path | None, Option("--piece", metavar="FILE", help="A piece file: causes that its judge found come first.")
    ] = None,
    full: Annotated[bool, Option("--full", help="Every cause, with how to avoid it, rules and sources.")] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell why it cracked, chipped or clouded, and what to do.

    Where words may mean several faults, all of them are shown with how to tell them apart.

    \b
    Examples:
      refdb fault chips at the edge
      refdb fault crazing --full
      refdb fault chips at the edge --piece moth.toml
    """
    one_form(as_json, as_csv)
    text = typed(" ".join(words or []))[:_LONGEST]
    if words and not any(c.isalnum() for c in text):
        raise BadInput("nothing to look for", todo="give a word, such as: refdb fault cracks")
    with opened() as ref:
        every = ref.symptoms()
        wanted = _wanted(ref, text) if words else Meant(tuple(every))
        found = causes_of(ref, wanted.symptoms)
        judged = Judged() if piece is None else _judged(ref, piece, found)
        if judged.asked:
            found = _judged_first(found, judged.met)
        used = {f.source for f in found}
        sources = {s.key: s for s in ref.sources() if s.key in used}
        subjects = of_fault(ref)
    if as_json or as_csv:
        rows = _rows(found, {s.key: s for s in wanted.symptoms}, judged)
        if as_csv:
            emit_csv([{name: _cell(value) for name, value in row.items()} for row in rows], list(rows[0]))
            return
        question = {"words": text} | ({} if piece is None else {"piece": str(piece)})
        said = {"said": wanted.said} if wanted.said else {}
        practice = {s.key: [t.key for t in subjects[s.key]] for s in wanted.symptoms if s.key in subjects}
        citations = {key: s.citation for key, s in sources.items()}
        emit_json({"question": question | said, "rows": rows, "practice": practice, "sources": citations})
    elif not words and piece is None:
        _without_words(every, found, full)
    elif full or judged.asked:
        shown = [f for f in found if f.key in judged.met] if not words and judged.met else found
        causes_page(wanted.symptoms, shown, sources, wanted.said, judged, subjects).show()
    else:
        _tell(wanted, found, text, subjects)


def _tell(wanted: Meant, found: Sequence[Fault], text: str, subjects: Mapping[str, Sequence[Topic]]) -> None:
    first = wanted.symptoms[0]
    if wanted.named or len(wanted.symptoms) == 1:
        held = [f for f in found if f.symptom == first.key]
        short_causes_page(first, held, wanted.symptoms[1:], text, wanted.said, subjects.get(first.key, ())).show()
    else:
        apart_page(text, wanted.symptoms, found, wanted.said).show()


def _without_words(every: Sequence[Symptom], found: Sequence[Fault], full: bool) -> None:
    """Some questions in a terminal; the list in a pipe, or in full where that is asked for."""
    if full:
        listed_page(every, found).show()
        return
    if not (sys.stdin is not None and sys.stdin.isatty() and sys.stdout is not None and sys.stdout.isatty()):
        overview_page(every, found).show()
        return
    from refdb.cli.fault_questions import asked

    left, told = asked(every)
    listed_page(left, found, f"{len(left)} of {len(every)} faults: {told or 'all'}").show()


def _wanted(ref: Shelf, text: str) -> Meant:
    """The symptoms meant by these words; NotFound with the nearest where there are none."""
    wanted = meant(ref, text)
    if not wanted.symptoms:
        near = [s.label for s in wanted.near]
        raise NotFound(
            f"no fault is described as '{shortened(text, 40)}'",
            todo=f"the nearest are: {'; '.join(near)}" if near else "refdb fault lists them",
            near=tuple(near),
        )
    return wanted


def _judged_first(found: Sequence[Fault], met: dict[str, list[str]]) -> list[Fault]:
    """Within a symptom what the judge found, the more of its rules the earlier; then what no file can tell; last what
    it looked for and did not find."""
    order = list(dict.fromkeys(f.symptom for f in found))
    return sorted(
        found,
        key=lambda f: (order.index(f.symptom), -len(met.get(f.key, ())) / max(len(rules_of(f)), 1), bool(rules_of(f))),
    )


def _rows(found: Sequence[Fault], symptoms: dict[str, Symptom], judged: Judged) -> list[dict[str, Any]]:
    """Plain rows, with what the judge of a piece says of each cause where one was asked."""
    from dataclasses import asdict

    return [
        asdict(f)
        | {n: getattr(symptoms[f.symptom], n) for n in ("label", "part", "when_seen")}
        | ({"in_the_piece": judged.met.get(f.key, []), "looked_for": bool(rules_of(f))} if judged.asked else {})
        for f in found
    ]


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "; ".join(value) if isinstance(value, list) else value


def _judged(ref: Shelf, path: Path, found: Sequence[Fault]) -> Judged:
    against = _against(ref, path)
    return Judged(True, {f.key: rules for f in found if (rules := _met(f, against))})


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


def _met(fault: Fault, against: dict[str, list[str]]) -> list[str]:
    """Those rules behind a cause that the judge found against a piece, each with its steps."""
    return [f"{rule} ({', '.join(dict.fromkeys(against[rule]))})" for rule in rules_of(fault) if rule in against]
