"""What is calculated for a question, and precomputed for the standard build: sampled numbers, and what would help."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from refdb.frozen import dataclass
from refdb.judge.fit.changes import Change, candidates, chosen, helps
from refdb.judge.fit.question import Question
from refdb.judge.numbers import Numbers
from refdb.judge.piece.states import walk
from refdb.judge.piece.verdict import Followed, follow, sample
from refdb.judge.reason import NOT, RANK, SUITS, Triple, outcome_of
from refdb.judge.selectors import words_of
from refdb.records import Glass

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: The build-up whose answers are precomputed for every glass on every metal.
STANDARD = "standard"
#: So many of each kind of change are tried at first, the smallest; mostly one of them helps.
_AT_FIRST = 4


def followed(question: Question) -> Followed:
    """The small piece of a question, followed through its firings."""
    glass = question.glass
    return follow(walk(question.piece, {glass.key: glass}, {}, question.build.kiln_offset_k), question.metal)


@dataclass(frozen=True)
class Answer:
    """The sampled numbers of a question, and the changes that would help it; what is stored for the standard build."""

    numbers: Numbers
    changes: tuple[Change, ...] = ()

    def to_plain(self, exact: bool = False) -> list[object]:
        """Lists and numbers only."""
        return [*self.numbers.to_plain(exact), [change.to_plain() for change in self.changes]]

    @classmethod
    def from_plain(cls, plain: list[object]) -> Answer:
        """The inverse of `to_plain`."""
        *numbers, changes = plain
        assert isinstance(changes, list)
        return cls(Numbers.from_plain(numbers), tuple(Change(*change) for change in changes))


def answer_of(question: Question, floor: int = 0, others: Iterable[Glass] = ()) -> Answer | None:
    """A question sampled, with the changes that would help it; None where a figure is missing.

    Parameters
    ----------
    question : Question
    floor : int
        Rank of the worst rule that holds for every draw: where that refuses, no change of build helps.
    others : iterable of Glass
        Glasses of the same colour, to be tried in its place.
    """
    found = followed(question)
    return answer_to(question, sample([found])[0], floor, others) if found.can_be_sampled else None


def answer_to(question: Question, numbers: Numbers, floor: int = 0, others: Iterable[Glass] = ()) -> Answer:
    """The same of a question that was sampled."""
    if floor == RANK[NOT] or outcome_of(numbers.shares) == SUITS:
        return Answer(numbers)
    return Answer(numbers, chosen(numbers.shares, _tried(numbers.shares, candidates(question, others))))


def _tried(before: Triple, asked: Sequence[tuple[str, float | str, Question]]) -> list[tuple[str, float | str, Triple]]:
    """The shares of each candidate up to the smallest of its kind that helps; what is larger need not be known."""
    from refdb.judge.piece.sample import shares_of_pieces

    found: list[tuple[str, float | str, Triple]] = []
    left = list(asked)
    while left:
        settled = {kind for kind, _, shares in found if helps(before, shares)}
        now: list[tuple[str, float | str, Question]] = []
        later: list[tuple[str, float | str, Question]] = []
        for one in left:
            if one[0] not in settled:
                # A second look is at all that is left: more looks would cost more than they save.
                few = found or sum(other[0] == one[0] for other in now) < _AT_FIRST
                (now if few else later).append(one)
        left = later
        pieces = [(kind, value, followed(question)) for kind, value, question in now]
        pieces = [one for one in pieces if one[2].can_be_sampled]
        shares = shares_of_pieces([(one.trail, one.metal) for _, _, one in pieces])
        found += [(kind, value, one) for (kind, value, _), one in zip(pieces, shares, strict=True)]
    return found


def alike_in_colour(ref: Reference, question: Question) -> Iterator[Glass]:
    """Other classes of the same colour and clarity that the trade makes for this metal, looked for once asked for."""
    glass, metal = question.glass, question.metal
    looks = (glass.colourant, glass.optical, glass.role)
    for other in ref.materials("glass"):
        if (
            isinstance(other, Glass)
            and other.key != glass.key
            and (other.colourant, other.optical, other.role) == looks
            and metal.family in words_of(other, "made_for")
        ):
            yield other
