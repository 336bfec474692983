"""Glasses in their places: what a ranking holds, however it was made."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from refdb.frozen import dataclass
from refdb.judge.verdict import SUITS, UNSURE, Caution, Verdict
from refdb.records import Glass
from refdb.words import lower_first


@dataclass(frozen=True)
class Ranked:
    """A glass in its place; `tied` when others share it.

    `because` is what stands against this glass and not against all of them, where that was asked; else empty.
    """

    place: int
    tied: bool
    glass: Glass
    verdict: Verdict
    because: str = ""

    def row(self) -> dict[str, Any]:
        """The place, the glass and its verdict as plain values."""
        return {
            "place": self.place,
            "tied": self.tied,
            "glass": self.glass.key,
            "label": self.glass.label,
            "verdict": self.verdict.outcome,
            "confidence": round(self.verdict.confidence, 4),
            "because": self.because,
        }


class Ranking(list[Ranked]):
    """Ranked glasses, best first."""

    def rows(self) -> list[dict[str, Any]]:
        """One flat row a glass, for a table or a data frame."""
        return [ranked.row() for ranked in self]

    def __repr__(self) -> str:
        first = f", {self[0].glass.key} first" if self else ""
        return f"<Ranking of {len(self)} glasses{first}>"

    def _repr_html_(self) -> str:
        from html import escape

        cells = [
            f"<tr><td>{r.place}{'=' if r.tied else ''}</td><td>{escape(r.glass.label)}</td>"
            f"<td>{escape(r.verdict.outcome)}</td><td>{escape(r.because)}</td></tr>"
            for r in self
        ]
        return f"<table>{''.join(cells)}</table>"


def in_places(found: Iterable[tuple[Any, Glass, Verdict, str]]) -> Ranking:
    """Glasses ranked by their weights, the lesser first; those of one weight tie and stand in order of key.

    Parameters
    ----------
    found : iterable of tuple
        Weight, glass, verdict and what stands against it alone.
    """
    rows = sorted(found, key=lambda row: (row[0], row[1].key))
    weights = [row[0] for row in rows]
    return Ranking(
        Ranked(weights.index(weight) + 1, weights.count(weight) > 1, glass, verdict, because)
        for weight, glass, verdict, because in rows
    )


def cautions_of(ranked: Sequence[Ranked]) -> list[tuple[tuple[Glass, ...], tuple[Caution, ...]]]:
    """What can hurt someone with glasses of a ranking: what some have of their own first, then what all have.

    Parameters
    ----------
    ranked : sequence of Ranked

    Returns
    -------
    list of tuple
        Glasses in their order and their cautions, weightiest first; no glasses where the cautions are those of all.
    """
    cautions = {c.key: c for r in ranked for c in r.verdict.cautions}
    held: dict[tuple[Glass, ...], list[Caution]] = {}
    for key, caution in cautions.items():
        glasses = tuple(r.glass for r in ranked if any(c.key == key for c in r.verdict.cautions))
        held.setdefault(() if len(glasses) == len(ranked) else glasses, []).append(caution)
    return [(glasses, tuple(some)) for glasses, some in sorted(held.items(), key=lambda item: not item[0])]


def decided_by(verdict: Verdict) -> str:
    """What decided a verdict, in a few words."""
    if verdict.missing and verdict.outcome == UNSURE:
        return "not known: " + verdict.missing[0].partition(" (")[0]
    if verdict.outcome == SUITS:
        return "nothing against it"
    worst = next((t for t in verdict.told if t.outcome == verdict.outcome), None)
    return lower_first((worst or verdict.told[0]).title) if verdict.reasons else ""
