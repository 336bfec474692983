"""Several glasses on one metal, or several metals under one glass, side by side: each verdict is the judge's own."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.judge.fit.glass_on_metal import judge_question, weight_of
from refdb.judge.fit.question import Question, asked
from refdb.judge.ranking import decided_by
from refdb.judge.reason import NOT, UNSURE, Measure
from refdb.judge.verdict import Stage, Verdict
from refdb.records import Glass, Metal
from refdb.words import tenths, upper_first

if TYPE_CHECKING:
    from refdb.judge.naming import Taking
    from refdb.store.reference import Reference

FEWEST, MOST = 2, 4
#: What may be said of the build, which is one for all.
BUILD = ("metal_thickness", "front", "back", "first", "shape")


@dataclass(frozen=True)
class Compared:
    """One of several, in its place; `tied` where another shares it."""

    place: int
    tied: bool
    question: Question
    verdict: Verdict
    name: str

    @property
    def decided_by(self) -> str:
        """What decided its verdict, in a few words."""
        return decided_by(self.verdict)

    @property
    def window_c(self) -> tuple[float, float] | None:
        """The kiln settings at which the glass flows and the metal holds [°C]; None where there are none."""
        low, high = (self.verdict.measures.get(name) for name in ("kiln_low_c", "kiln_high_c"))
        return (low.value, high.value) if low is not None and high is not None and high.value > low.value else None


@dataclass(frozen=True)
class Together:
    """The settings that serve all [°C], None where no setting does, and the keys of glasses, the hardest first."""

    common_c: tuple[float, float] | None
    order: tuple[str, ...]


@dataclass(frozen=True)
class Comparison:
    """Two to four of a kind on or under one, in the order in which they were asked for; `sentence` says who leads."""

    of: str
    rows: tuple[Compared, ...]
    sentence: str
    together: Together | None

    def as_dict(self, taken: Mapping[str, Any]) -> dict[str, Any]:
        """For JSON; `taken` tells how names were."""
        questions = [row.question for row in self.rows]
        plain: dict[str, Any] = {
            "glasses": list(dict.fromkeys(q.glass.key for q in questions)),
            "metals": list(dict.fromkeys(q.metal.key for q in questions)),
        }
        together = self.together
        return {
            "question": plain | ({"taken": dict(taken)} if taken else {}),
            "sentence": self.sentence,
            "together": None
            if together is None
            else {"kiln_c": None if together.common_c is None else list(together.common_c), "order": together.order},
            "rows": [
                {
                    "place": row.place,
                    "tied": row.tied,
                    "glass": row.question.glass.key,
                    "metal": row.question.metal.key,
                    "decided_by": row.decided_by,
                    "answer": row.verdict.as_dict(),
                }
                for row in self.rows
            ],
        }


def worst_of(stage: Stage) -> Measure | None:
    """The most stretched face of any glass after one firing [MPa]; None where there is no glass."""
    faces = [m for x in stage.layers if x.name != "metal" for m in (x.bottom_mpa, x.top_mpa)]
    return max(faces, key=lambda m: m.value, default=None)


def compare(
    ref: Reference,
    glasses: Sequence[Glass],
    metals: Sequence[Metal],
    texts: Mapping[str, str] | None = None,
    where: Callable[[str], str] = str,
    names: Taking | None = None,
) -> Comparison:
    """Judge two to four glasses on one metal, or two to four metals under one glass.

    Parameters
    ----------
    ref : Reference
        The open store.
    glasses, metals : sequence of records
        One of the two holds one.
    texts, where, names
        The build as it was typed, by the names of `BUILD`, and the rest as `judge.fit.question.asked` takes it.

    Raises
    ------
    BadInput
        Too few, too many, one twice, or a build that cannot be read.
    """
    of = "metal" if len(glasses) == 1 else "glass"
    several: Sequence[Glass | Metal] = metals if of == "metal" else glasses
    _checked(glasses, metals, several, of)
    questions = [asked(g, m, texts or {}, where, None, names) for g in glasses for m in metals]
    verdicts = [judge_question(ref, question) for question in questions]
    weights = [weight_of(q.glass, q.metal, v) for q, v in zip(questions, verdicts, strict=True)]
    rows = tuple(
        Compared(1 + sum(w < weight for w in weights), weights.count(weight) > 1, q, v, one.small)
        for weight, q, v, one in zip(weights, questions, verdicts, several, strict=True)
    )
    return Comparison(of, rows, _leads(rows, weights), _together(rows) if of == "glass" else None)


def _checked(glasses: Sequence[Glass], metals: Sequence[Metal], several: Sequence[Glass | Metal], of: str) -> None:
    plural = {"glass": "glasses", "metal": "metals"}[of]
    if len(glasses) > 1 and len(metals) > 1:
        raise BadInput(
            "several glasses and several metals are given", todo="compare glasses on one metal, or metals under one"
        )
    if not FEWEST <= len(several) <= MOST:
        raise BadInput(
            f"{len(several)} {of if len(several) == 1 else plural} cannot be compared",
            plural,
            f"give {FEWEST} to {MOST} glasses on one metal, or as many metals under one glass",
        )
    for one in several:
        if sum(one.key == other.key for other in several) > 1:
            raise BadInput(f"{one.small} is given twice", plural, "give each once")


def _leads(rows: Sequence[Compared], weights: Sequence[tuple[int, int, bool, int, int]]) -> str:
    """Who comes first and by what, in a sentence or two."""
    first = [row for row in rows if row.place == 1]
    names = _listed([row.name for row in first])
    if len(first) == len(rows):
        return f"{upper_first(names)} tie: what is known of them does not tell them apart."
    if len(first) > 1:
        return f"{upper_first(names)} come first, and tie: what is known does not tell them apart."
    one = first[0]
    if one.verdict.outcome in (NOT, UNSURE):
        said = "does not suit either" if one.verdict.outcome == NOT else "cannot be told for sure"
        return f"Nothing here suits. {upper_first(one.name)} comes first, and {said}."
    best, next_best = min(weights), min(w for w, row in zip(weights, rows, strict=True) if row.place > 1)
    part = next(n for n, (a, b) in enumerate(zip(best, next_best, strict=True)) if a != b)
    second = next(row for w, row in zip(weights, rows, strict=True) if w == next_best)
    return f"{upper_first(one.name)} comes first: it {one.verdict.outcome}, {_parted(part, one, second)}."


def _parted(part: int, one: Compared, second: Compared) -> str:
    """What sets the first apart from the next, by the place in the weight where the two differ."""
    holds = [
        f"in {tenths(sum(list(row.verdict.shares.values())[:2]))} of 10" if row.verdict.shares else "in no draw"
        for row in (one, second)
    ]
    outcome = second.verdict.outcome
    later = f"nothing can be said of {second.name}" if outcome == UNSURE else f"{second.name} {outcome}"
    return (
        f"while {later}",
        f"and holds {holds[0]} draws against {holds[1].removeprefix('in ')} for {second.name}",
        "and the trade makes the two for one another",
        f"and less speaks against it than against {second.name}",
        f"and its figures are better known than those of {second.name}",
    )[part]


def _together(rows: Sequence[Compared]) -> Together | None:
    """What follows for using several glasses on one piece, by their kiln windows; None where one has none."""
    windows = [row.window_c for row in rows]
    known = [w for w in windows if w is not None]
    if len(known) < len(rows):
        return None
    low, high = max(w[0] for w in known), min(w[1] for w in known)
    hardest = sorted(zip(known, rows, strict=True), key=lambda pair: -pair[0][0])
    apart = len({w[0] for w in known}) == len(known)
    return Together(
        (low, high) if high > low else None, tuple(row.question.glass.key for _, row in hardest) if apart else ()
    )


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]


def together_words(found: Comparison) -> list[str]:
    """What follows for using them together, in sentences; empty for metals."""
    if found.of != "glass":
        return []
    if found.together is None:
        return ["One of them has no kiln window on this metal, so they cannot be fired on one piece here."]
    common, order = found.together.common_c, found.together.order
    told = [
        f"All flow at {common[0]:.0f} to {common[1]:.0f} °C."
        if common
        else "No one kiln setting serves all of them: each goes into a fire of its own."
    ]
    if order:
        names = {row.question.glass.key: row.name for row in found.rows}
        told.append(f"What needs most heat goes down first: {', then '.join(names[key] for key in order)}.")
    return told
