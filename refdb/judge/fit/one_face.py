"""How thick one coat may be over its metal: the plate has no length of its own, so that one ratio says it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from refdb.frozen import dataclass
from refdb.judge import limits
from refdb.judge.fit.build import Build
from refdb.judge.fit.question import Question
from refdb.judge.reason import NOT
from refdb.quantities.band import Band
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: The coat with which the ratio is found [m]; what a coat sets free as it leaves grows with its thickness.
COAT_M = limits.FIRST_COAT_M
#: The thickest metal that is tried [m]; thicker is nobody's at the bench.
THICKEST_METAL_M = 2.0e-3
#: Ratios are scanned from a coat on that metal to one as thick as its metal, in coarse steps first.
THINNEST, STEP, COARSE = COAT_M / THICKEST_METAL_M, 0.01, 0.05
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

    def row(self) -> dict[str, Any]:
        """The ratios as plain values, and the least metal [mm] for each first coat."""
        least = {f"least_metal_mm_for_{mm:.2f}": self.least_metal_mm(mm) for mm in FIRST_COATS_MM}
        return {
            "first_ratio": self.first,
            "first_even": self.first_even,
            "bare_ratio": self.bare,
            "bare_even": self.bare_even,
            **least,
            "refused_by": self.refused_by,
        }


def one_face_ratio(ref: Reference, glass: Glass, metal: Metal) -> Ratio | None:
    """Find the ratio of a glass on a metal by scanning; None where a figure that a verdict needs is missing.

    Raises
    ------
    StoreUnusable
    """
    from refdb.judge.fit.answer import followed
    from refdb.judge.piece.shared import Shared
    from refdb.judge.piece.verdict import findings_of, sample

    thinnest = _asked(glass, metal, THINNEST, bare=False)
    found = followed(thinnest)
    if not found.can_be_sampled:
        return None
    refused = [r.rule for r in findings_of(Shared(ref), found) if r.outcome == NOT]
    if refused:
        return Ratio(None, None, None, None, refused[0])
    from refdb.judge.fit.many import failing

    told = []
    for bare in (False, True):

        def asked(ratios: Sequence[float], bare: bool = bare) -> list[float]:
            return failing([_asked(glass, metal, r, bare) for r in ratios])

        told.append(_crossings(asked))
    (first, first_even), (whole, whole_even) = told
    by = ""
    if first is None:
        by = max(sample([found])[0].rules, key=lambda rule: rule.split[2]).rule
    return Ratio(first, first_even, whole, whole_even, by)


def _asked(glass: Glass, metal: Metal, ratio: float, bare: bool) -> Question:
    coat = Band.exact(COAT_M)
    return Question(
        glass, metal, Build(Band.exact(COAT_M / ratio), coat, Band.exact(0.0) if bare else coat, COAT_M).checked()
    )


def _crossings(failing: Callable[[Sequence[float]], list[float]]) -> tuple[float | None, float | None]:
    """The greatest ratio up to which nine of ten hold, and five; None where not even the smallest does."""
    coarse = list(_steps(THINNEST, 1.0, COARSE))
    known = dict(zip(coarse, failing(coarse), strict=True))
    fine = set[float]()
    for most in (limits.HOLDS_BELOW, EVEN):
        low, high = _bracket(known, most)
        if low is not None and high is not None:
            fine |= set(_steps(low + STEP, high - STEP, STEP))
    ordered = sorted(fine - set(known))
    known |= dict(zip(ordered, failing(ordered), strict=True)) if ordered else {}
    return _bracket(known, limits.HOLDS_BELOW)[0], _bracket(known, EVEN)[0]


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
