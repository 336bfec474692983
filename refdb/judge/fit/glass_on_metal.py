"""The main question: does this glass suit this metal, at these thicknesses; and which glasses suit a metal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Protocol, Unpack

from refdb.errors import NotFound
from refdb.frozen import replace
from refdb.judge import decision
from refdb.judge.evidence import GRADES
from refdb.judge.fit.answer import STANDARD, Answer, alike_in_colour, answer_to, followed
from refdb.judge.fit.build import Build
from refdb.judge.fit.changes import told as told_changes
from refdb.judge.fit.question import BuildGiven, Question, given
from refdb.judge.limits import DOME_SOURCE, RELEASE_SOURCE
from refdb.judge.naming import Taking
from refdb.judge.needs import sources_of_needs
from refdb.judge.numbers import Numbers
from refdb.judge.own.tiles import tiles_seen
from refdb.judge.piece.shared import Shared
from refdb.judge.piece.verdict import Followed, findings_of, sample, sample_beside, verdict_of
from refdb.judge.ranking import Ranking, in_places
from refdb.judge.reason import NOT, ORDER, RANK, SUITS, Reason, Triple
from refdb.judge.selectors import words_of
from refdb.judge.verdict import Verdict
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference


#: What is sampled of questions: the numbers of some, and of others the shares of their outcomes alone.
Sampled = tuple[list[Numbers], list[Triple]]


class Elsewhere(Protocol):
    """Has questions sampled somewhere else; gives what waits for them, or None where nobody does it."""

    def __call__(self, whole: Sequence[Question], others: Sequence[Question], /) -> Callable[[], Sampled] | None: ...

    @property
    def takes_all(self) -> bool:
        """Whether it is to take the question itself too, since there is something else to do here meanwhile."""


def suits(ref: Reference, glass: str | Glass, metal: str | Metal, **build: Unpack[BuildGiven]) -> Verdict:
    """Judge a glass on a metal.

    Parameters
    ----------
    ref : Reference
        The open store.
    glass, metal : str, or a record
        Keys or names, such as "hard clear" and "18 gauge copper", or records (`Glass.with_expansion` for a figure of
        one's own). How a name was taken stands in the question of the verdict, under `taken`.
    metal_thickness_m, front_m, back_m : float, str or Band, optional
        Thickness after firing of the metal and of the glass on each face: metres, text such as "0.8 mm", "20 ga" or
        "3 cards", or a band in metres, which is sampled. 0.8 mm of metal and 0.30 mm of glass on each face where
        nothing is said.
    first_m : float or str, optional
        The most that is laid as a first coat on one face; 0.20 mm.
    shape : "flat" or "domed"
        A dome resists bending; `rise_m` is its height over the rim, 1-3 mm where not given.
    kiln_c : float or str, optional
        The setting asked about: °C, or text such as "1500 F".
    kiln_offset_k : float, str or Band
        How much hotter the kiln is than it shows [K]; a band of that is sampled where a setting is asked about.
    kiln_rests_on : str
        Where that is written down, in words, for the answer to say so.

    Returns
    -------
    Verdict

    Raises
    ------
    NotFound, BadInput, StoreUnusable
        Of BadInput, `Ambiguous` where a name may mean several things.

    Examples
    --------
    >>> import refdb
    >>> with refdb.open_reference() as ref:
    ...     refdb.suits(ref, "clear-hard-lead-free", "copper-sheet", front_m="0.3 mm").outcome
    'suits'
    """
    return judge_question(ref, given(ref, glass, metal, **build))


def judge_question(ref: Reference, question: Question) -> Verdict:
    """The verdict on a question that is understood.

    Raises
    ------
    BadInput, StoreUnusable
    """
    return judge_beside(ref, question, ())[0]


def judge_beside(
    ref: Reference, question: Question, others: Sequence[Question], elsewhere: Elsewhere | None = None
) -> tuple[Verdict, Callable[[], list[str]]]:
    """The verdict on a question, and what tells which outcomes the verdicts on others have; all cooled in one call.

    Parameters
    ----------
    ref : Reference
    question : Question
    others : sequence of Question
    elsewhere : Elsewhere, optional
        Takes the others to where they are sampled meanwhile, or everything.

    Raises
    ------
    BadInput, StoreUnusable
    """
    shared, walked = Shared(ref), [followed(other) for other in others]
    found, answer, unsampled = _followed(ref, question)
    can = [k for k, one in enumerate(walked) if one.can_be_sampled]
    asked = [others[k] for k in can]
    taken = [question] if unsampled and elsewhere is not None and elsewhere.takes_all else []
    waits = elsewhere(taken, asked) if elsewhere is not None and (asked or taken) else None
    if waits is not None and taken:
        numbers, here = waits()
    else:
        numbers, here = sample_beside(unsampled, [walked[k] for k in can] if waits is None else [])
    verdict = _verdict(shared, ref, question, found, answer, numbers)
    tiles = tiles_seen(ref, question.glass.key, question.metal.key, question.build, verdict.outcome)
    floors = [_worst(findings_of(shared, one)) for one in walked]

    def outcomes() -> list[str]:
        sampled = iter(here if waits is None or taken else waits()[1])
        told = []
        for one, floor in zip(walked, floors, strict=True):
            shares = decision.joint(next(sampled) if one.can_be_sampled else None, floor)
            told.append(decision.decide(shares, one.missing, floor)[0])
        return told

    return replace(verdict, tiles=tiles) if tiles else verdict, outcomes


def sampled_questions(whole: Sequence[Question], others: Sequence[Question]) -> Sampled:
    """The numbers of questions that can be sampled, and the joint shares of the outcomes of others, by nothing but what
    they hold."""
    return sample_beside([followed(one) for one in whole], [followed(one) for one in others])


def _worst(fixed: Sequence[Reason]) -> int:
    """Rank of the worst that was found without a sample."""
    return max((RANK[r.outcome] for r in fixed), default=0)


def _followed(ref: Reference, question: Question) -> tuple[Followed, Answer | None, list[Followed]]:
    """A question followed, its answer where that is stored, and what is still to be sampled for one."""
    found = followed(question)
    answer = _stored(ref, question) if found.can_be_sampled else None
    return found, answer, [found] if found.can_be_sampled and answer is None else []


def _verdict(
    shared: Shared,
    ref: Reference,
    question: Question,
    found: Followed,
    answer: Answer | None,
    numbers: Sequence[Numbers],
    with_changes: bool = True,
) -> Verdict:
    """The verdict on a question without its tiles, from its answer or, where that is not stored, its numbers."""
    fixed = findings_of(shared, found)
    floor = _worst(fixed)
    if numbers:
        answer = (
            answer_to(question, numbers[0], floor, alike_in_colour(ref, question))
            if with_changes
            else Answer(numbers[0])
        )
    build = question.build
    sources = [RELEASE_SOURCE, *([DOME_SOURCE] if build.shape == "domed" else [])]
    sources += sources_of_needs(question.glass, question.metal)
    verdict = verdict_of(shared, found, fixed, answer.numbers if answer else None, question.as_dict(), sources)
    if answer is None or not answer.changes or verdict.outcome == SUITS:
        return verdict
    others = {str(c.value): ref.glass(str(c.value)) for c in answer.changes if c.kind == "glass"}
    of_glass = {key: (glass.label, _floor(shared, glass, question.metal)) for key, glass in others.items()}
    fails = verdict.shares.get(NOT, 0.0)
    return replace(verdict, changes=told_changes(answer.changes, verdict.outcome, fails, floor, of_glass))


def _floor(shared: Shared, glass: Glass, metal: Metal) -> int:
    """Rank of the worst row of surface or use about a glass on a metal."""
    return max((RANK[row.outcome] for row in shared.rows.holding(glass, metal)), default=0)


def _stored(ref: Reference, question: Question) -> Answer | None:
    """The precomputed answer, for records just as they are stored at the standard build."""
    glass, metal = question.glass, question.metal
    try:
        alike = question.build == Build() and ref.glass(glass.key) == glass and ref.metal(metal.key) == metal
    except NotFound:
        return None
    answer = ref.answer(glass.key, metal.key, STANDARD) if alike else None
    if answer is None:
        return None
    import json

    return Answer.from_plain(json.loads(answer))


def rank(ref: Reference, metal: str | Metal, glasses: Sequence[Glass] | None = None) -> Ranking:
    """Every glass of the store, or of some, on one metal at the standard build-up, best first.

    Within an outcome the smaller chance of refusal comes first, in tenths, then what is made for this metal, then
    the fewer doubts, then the better evidence. Glasses alike in these tie: no order is made out of guessed expansions.

    Raises
    ------
    NotFound, StoreUnusable

    Examples
    --------
    >>> import refdb
    >>> with refdb.open_reference() as ref:
    ...     refdb.rank(ref, "copper-sheet")[0].glass.key
    'clear-hard-lead-free'
    """
    metal = metal if isinstance(metal, Metal) else Taking(ref).metal(metal)
    shared = Shared(ref)
    rows = []
    for glass in ref.materials("glass") if glasses is None else glasses:
        assert isinstance(glass, Glass)
        question = Question(glass, metal)
        found, answer, unsampled = _followed(ref, question)
        verdict = _verdict(shared, ref, question, found, answer, sample(unsampled), with_changes=False)
        rows.append((weight_of(glass, metal, verdict), glass, verdict, ""))
    return in_places(rows)


def weight_of(glass: Glass, metal: Metal, verdict: Verdict) -> tuple[int, int, bool, int, int]:
    """What a ranking goes by, the lesser first: outcome, refusals in tenths, not made for it, doubts, evidence."""
    refusals = round(verdict.shares.get(NOT, 0.0) * 10)
    doubts = sum(r.outcome != SUITS for r in verdict.reasons)
    grade = GRADES.index(verdict.evidence.grade) if verdict.evidence is not None else len(GRADES)
    return (ORDER[verdict.outcome], refusals, metal.family not in words_of(glass, "made_for"), doubts, grade)
