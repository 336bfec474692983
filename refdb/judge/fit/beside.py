"""The same question at a little less and a little more metal, of each only its outcome."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from refdb.frozen import dataclass, replace
from refdb.judge import decision
from refdb.judge.fit.answer import followed
from refdb.judge.fit.many import shares_of
from refdb.judge.fit.question import Question, metal_thickness
from refdb.judge.piece.verdict import Shared, findings_of
from refdb.judge.reason import RANK

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


def thicknesses(ref: Reference, question: Question, said: str, outcome: str) -> tuple[Beside, ...]:
    """A question at the thickness asked about and at its two neighbours.

    Parameters
    ----------
    ref : Reference
        The open store.
    question : Question
    said : str
        The thickness of the metal as it was typed; empty where nothing was.
    outcome : str
        The verdict's on the question itself.

    Returns
    -------
    tuple of Beside
        Thinnest first; empty where the thickness is a range or no neighbour can be fired.

    Raises
    ------
    BadInput, StoreUnusable
    """
    texts, here = _texts(question, said)
    if not texts:
        return ()
    others = [
        replace(
            question,
            build=replace(question.build, metal_m=metal_thickness(text, question.metal, "thickness").band).checked(),
        )
        for text in texts
        if text != here
    ]
    found = iter(outcomes(ref, others))
    return tuple(Beside(text, outcome if text == here else next(found), text == here) for text in texts)


def outcomes(ref: Reference, questions: Sequence[Question]) -> list[str]:
    """The outcome of each question, as its verdict has it.

    Raises
    ------
    StoreUnusable
    """
    shared = Shared(ref)
    walked = [followed(question) for question in questions]
    # Sampled together, so that they are cooled in one call.
    sampled = iter(shares_of([q for q, one in zip(questions, walked, strict=True) if one.can_be_sampled]))
    found = []
    for one in walked:
        floor = max((RANK[r.outcome] for r in findings_of(shared, one)), default=0)
        shares = decision.joint(next(sampled) if one.can_be_sampled else None, floor)
        found.append(decision.decide(shares, one.missing, floor)[0])
    return found


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
