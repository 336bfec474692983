"""The same question at a little less and a little more metal, of each only its outcome."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from refdb.frozen import dataclass, replace
from refdb.judge.fit.glass_on_metal import Elsewhere, judge_beside
from refdb.judge.fit.question import Question, metal_thickness
from refdb.judge.verdict import Verdict

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Sheet as it is sold [mm], and cards of a clay, between which a step is one place.
_SHEET_MM = (0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0)
_CARDS = (1, 2, 3, 4, 5, 6)


@dataclass(frozen=True)
class Beside:
    """One thickness of metal: as it is typed, the outcome, and whether it is the one that was asked about."""

    text: str
    outcome: str
    asked: bool


def judge_with_neighbours(
    ref: Reference, question: Question, said: str, elsewhere: Elsewhere | None = None
) -> tuple[Verdict, Callable[[], tuple[Beside, ...]]]:
    """The verdict on a question, and what tells the outcome at the thickness asked about and at its two neighbours.

    Parameters
    ----------
    ref : Reference
        The open store.
    question : Question
    said : str
        The thickness of the metal as it was typed; empty where nothing was.
    elsewhere : Elsewhere, optional
        As for `judge_beside`.

    Returns
    -------
    Verdict
    callable
        Gives a tuple of Beside, thinnest first; empty where the thickness is a range or no neighbour can be fired.

    Raises
    ------
    BadInput, StoreUnusable
    """
    texts, here = _texts(question, said)
    others = [
        replace(
            question,
            build=replace(question.build, metal_m=metal_thickness(text, question.metal, "thickness").band).checked(),
        )
        for text in texts
        if text != here
    ]
    verdict, outcomes = judge_beside(ref, question, others, elsewhere)

    def near() -> tuple[Beside, ...]:
        found = iter(outcomes())
        return tuple(Beside(t, verdict.outcome if t == here else next(found), t == here) for t in texts)

    return verdict, near


def _texts(question: Question, said: str) -> tuple[tuple[str, ...], str]:
    """What may be typed for the metal, thinnest first, and which of them is the question's own."""
    cards = said.lower().replace("cards", "card").partition(" card")
    if question.metal.form == "clay" and cards[1] and cards[0].isdecimal() and int(cards[0]) in _CARDS:
        at = _CARDS.index(int(cards[0]))
        near = _CARDS[max(0, at - 1) : at + 2]
        return tuple(_cards(n) for n in near), _cards(_CARDS[at])
    band = question.build.metal_m
    if band.low != band.high:
        return (), ""
    mm, own = round(band.value * 1e3, 4), said.strip()
    near_mm = sorted({*_SHEET_MM, mm})
    at = near_mm.index(mm)
    # Typed as a gauge or in inches it stays so, for to a hundredth of a millimetre nobody calls a sheet.
    here = own if own and not own.endswith("mm") else f"{mm:g} mm"
    return tuple(here if x == mm else f"{x:g} mm" for x in near_mm[max(0, at - 1) : at + 2]), here


def _cards(count: int) -> str:
    return f"{count} card{'s' if count > 1 else ''}"
