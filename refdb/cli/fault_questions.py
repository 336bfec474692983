"""What is asked in a terminal of a person who says nothing: when it showed, what it looks like, what lies beneath."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.cli.output import emit
from refdb.cli.prompts import prompt
from refdb.store.fault_search import narrowed
from refdb.store.rule_tables import GROUNDS, PARTS, STAGES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from refdb.records import Symptom

_QUESTIONS = (
    ("stage", "When did it show?", STAGES),
    ("part", "Where is it seen?", PARTS),
    ("beneath", "What lies beneath?", GROUNDS),
)


def asked(symptoms: Sequence[Symptom]) -> tuple[list[Symptom], str]:
    """The symptoms that the answers leave, and the answers in a sentence; an empty answer leaves all."""
    found = list(symptoms)
    told = []
    for name, question, choices in _QUESTIONS:
        left = [c for c in choices if narrowed(found, **{name: c})]
        if len(left) < 2:
            continue
        answer = _chosen(question, left)
        if answer:
            found = narrowed(found, **{name: answer})
            told.append(answer)
    return found, ", ".join(told)


def _chosen(question: str, choices: Sequence[str]) -> str:
    """The choice taken by its number or its first letters; empty where none was taken."""
    emit(f"{question}\n" + "".join(f"  {at}  {c}\n" for at, c in enumerate(choices, 1)))
    while True:
        answer = prompt("Number, or Enter for any").strip().lower()
        if not answer:
            return ""
        if answer.isascii() and answer.isdecimal() and 1 <= int(answer[:4]) <= len(choices):
            return choices[int(answer) - 1]
        begun = [c for c in choices if c.startswith(answer)]
        if len(begun) == 1:
            return begun[0]
        emit(f"  a number from 1 to {len(choices)}\n")
