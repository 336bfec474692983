"""The precomputed answers: numbers and changes of every glass on every metal at the standard build-up."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path

from refdb.judge.fit.answer import STANDARD, Answer, alike_in_colour, answer_of
from refdb.judge.fit.question import Question
from refdb.records import Glass, Metal
from refdb.store.reference import Reference


def answered(ref: Reference, metal_key: str) -> Iterator[tuple[str, Answer]]:
    """Glass key and answer for each glass on one metal; pairs that lack a figure are left out."""
    metal = ref.metal(metal_key)
    for glass in ref.materials("glass"):
        assert isinstance(glass, Glass)
        question = Question(glass, metal)
        answer = answer_of(question, others=alike_in_colour(ref, question))
        if answer is not None:
            yield glass.key, answer


def rows_of(store: Path, metal_key: str) -> list[tuple[str, str, str, str]]:
    """The rows of answers.csv for one metal."""
    with Reference(store) as ref:
        return [(glass, metal_key, STANDARD, as_text(answer)) for glass, answer in answered(ref, metal_key)]


def as_text(answer: Answer) -> str:
    """An answer as the compact JSON of the store."""
    return json.dumps(answer.to_plain(), separators=(",", ":"), ensure_ascii=False)


def metal_keys(store: Path) -> list[str]:
    """All base metals of a store."""
    with Reference(store) as ref:
        return [m.key for m in ref.materials("metal") if isinstance(m, Metal)]


def as_csv(rows: list[tuple[str, str, str, str]]) -> str:
    """answers.csv, sorted by glass, metal and build."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("glass", "metal", "build", "numbers"))
    writer.writerows(sorted(rows))
    return text.getvalue()
