"""How thick one coat may be over its metal: the plate has no length of its own, so that one ratio says it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from refdb.judge import limits
from refdb.judge.fit.build import Build
from refdb.judge.fit.question import Question
from refdb.judge.reason import NOT
from refdb.quantities.band import Band
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Ratios are scanned so finely, up to a coat as thick as the metal, each of these first.
STEP, COARSE = 0.01, 0.05
#: The coat with which the ratio is found [m]; what a coat sets free as it leaves grows with its thickness.
COAT_M = limits.FIRST_COAT_M
#: First coats for which the least metal is told [mm], and the step in which metal is told [mm].
FIRST_COATS_MM, METAL_STEP_MM = (0.20, 0.10), 0.05
#: As many fail as hold.
EVEN = 0.5


@dataclass(frozen=True)
class Ratio:
    """Thickest coat over metal [-] that holds in nine of ten draws, and in five (`even`).

    `first` is a coat whose like goes on the other face in the next fire, `bare` one that leaves the other face bare.
    None where no thickness holds so often; `refused_by` is then the key of the rule that refuses most.
    """

    first: float | None
    first_even: float | None
    bare: float | None
    bare_even: float | None
    refused_by: str = ""

    def least_metal_mm(self, coat_mm: float) -> float | None:
        """The thinnest metal for a first coat, in steps of 0.05 mm; None where none holds."""
        if self.first is None:
            return None
        steps = coat_mm / self.first / METAL_STEP_MM
        return round(-(-(steps - 1e-9) // 1) * METAL_STEP_MM, 2)


#: For a list of questions the share of the draws that do not hold, of each.
Failing = Callable[[Sequence[Question]], list[float]]


def one_face_ratio(ref: Reference, glass: Glass, metal: Metal) -> Ratio | None:
    """Find the ratio of a glass on a metal by scanning; None where a figure that a verdict needs is missing.

    Raises
    ------
    StoreUnusable
    """
    from refdb.judge.fit.answer import followed
    from refdb.judge.fit.many import failing
    from refdb.judge.piece.verdict import Shared, findings_of, sample

    thinnest = _asked(glass, metal, STEP, bare=False)
    found = followed(thinnest)
    if not found.can_be_sampled:
        return None
    refused = [r.rule for r in findings_of(Shared(ref), found) if r.outcome == NOT]
    if refused:
        return Ratio(None, None, None, None, refused[0])
    told: list[float | None] = []
    for bare in (False, True):

        def asked(ratios: Sequence[float], bare: bool = bare) -> list[float]:
            return failing([_asked(glass, metal, r, bare) for r in ratios])

        told += _crossings(asked)
    by = ""
    if told[0] is None:
        by = max(sample([found])[0].rules, key=lambda rule: rule.split[2]).rule
    return Ratio(*told, by)


def _asked(glass: Glass, metal: Metal, ratio: float, bare: bool) -> Question:
    coat = Band.exact(COAT_M)
    return Question(
        glass, metal, Build(Band.exact(COAT_M / ratio), coat, Band.exact(0.0) if bare else coat, COAT_M).checked()
    )


def _crossings(failing: Callable[[Sequence[float]], list[float]]) -> list[float | None]:
    """The greatest ratio up to which nine of ten hold, and five; None where not even the smallest does."""
    coarse = [STEP, *_steps(COARSE, 1.0, COARSE)]
    known = dict(zip(coarse, failing(coarse), strict=True))
    limits_of = (limits.HOLDS_BELOW, EVEN)
    fine = set[float]()
    for most in limits_of:
        low, high = _bracket(known, most)
        if low is not None and high is not None:
            fine |= set(_steps(low + STEP, high - STEP, STEP))
    ordered = sorted(fine - set(known))
    known |= dict(zip(ordered, failing(ordered), strict=True)) if ordered else {}
    return [_bracket(known, most)[0] for most in limits_of]


def _steps(low: float, high: float, step: float) -> Iterator[float]:
    for k in range(round((high - low) / step) + 1):
        yield round(low + k * step, 2)


def _bracket(known: dict[float, float], most: float) -> tuple[float | None, float | None]:
    """The last ratio before the first that fails too often, and that one."""
    last: float | None = None
    for ratio in sorted(known):
        if known[ratio] >= most - 1e-6:
            return last, ratio
        last = ratio
    return last, None


def inputs_of(glass: Glass) -> tuple[Any, ...]:
    """What the plate and the kiln know of a glass: classes alike in it have one map."""
    row = glass.value("expansion")
    figure = (
        None if row is None else (row.band, row.temp_low_c, row.temp_high_c, row.source in limits.EFFECTIVE_SOURCES)
    )
    names = ("set_point", "youngs_modulus", "poisson_ratio", "fuse_low", "fuse_high")
    return (figure, *(glass.band(name) for name in names))


def with_metal(question: Question, metal_m: Band) -> Question:
    """The question on metal of another thickness."""
    return replace(question, build=replace(question.build, metal_m=metal_m).checked())
