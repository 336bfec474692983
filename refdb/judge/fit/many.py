"""Many questions at once, of each only how its draws come out: what maps and searches of builds are made from."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.judge.decision import joint
from refdb.judge.fit.answer import followed
from refdb.judge.fit.question import Question
from refdb.judge.piece.sample import shares_of_pieces
from refdb.judge.reason import Triple

#: So many are sampled at a time; more would only take memory.
_TOGETHER = 1024


def shares_of(questions: Sequence[Question], floor: int = 0) -> list[Triple]:
    """The shares of the draws at each outcome, as `suits` finds them, of each question.

    Parameters
    ----------
    questions : sequence of Question
        Of glasses and metals that lack no figure.
    floor : int
        Rank of the worst rule that holds for every draw.
    """
    found: list[Triple] = []
    for k in range(0, len(questions), _TOGETHER):
        trails = [followed(question) for question in questions[k : k + _TOGETHER]]
        found += shares_of_pieces([(one.trail, one.metal) for one in trails])
    return [joint(shares, floor) for shares in found]


def failing(questions: Sequence[Question]) -> list[float]:
    """The share of the draws that do not hold, of each question."""
    return [shares[2] for shares in shares_of(questions)]
