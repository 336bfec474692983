"""A map of builds on one metal: for each thickness of glass on the front and on the back, the share that holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from refdb.frozen import dataclass, replace
from refdb.judge.fit.answer import followed
from refdb.judge.fit.build import Build
from refdb.judge.fit.holding import Holding
from refdb.judge.fit.question import Question
from refdb.judge.limits import HOLDS_BELOW
from refdb.judge.needs import missing_figures
from refdb.judge.reason import NOT, RANK, Triple, outcome_of
from refdb.quantities.band import Band
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Axes of the map that is shown [mm]; the last of each is thicker than a studio's coats mostly are.
FRONTS_MM = tuple(k / 20 for k in range(1, 13))
BACKS_MM = tuple(k / 10 for k in range(9))
USUAL = Build()


@dataclass(frozen=True)
class BuildMap:
    """Shares of the outcomes over fronts and backs [mm]: `shares[f][b]`, all of `build` but these two.

    `refused_by` is, where no cell holds, the key of the rule that refuses most of the one that comes nearest.
    """

    glass: Glass
    metal: Metal
    build: Build
    fronts_mm: tuple[float, ...]
    backs_mm: tuple[float, ...]
    shares: tuple[tuple[Triple, ...], ...]
    refused_by: str = ""

    def holds(self, front: int, back: int) -> float:
        """The share of the draws that hold, of the cell in this row and column."""
        return 1.0 - self.shares[front][back][2]

    def at(self, front: int, back: int, metal_text: str = "") -> Holding:
        """The build of a cell; `metal_text` is the thickness of the metal as it was typed."""
        coats = [Band.exact(mm * 1e-3) for mm in (self.fronts_mm[front], self.backs_mm[back])]
        build = replace(self.build, front_m=coats[0], back_m=coats[1])
        return Holding(Question(self.glass, self.metal, build), self.shares[front][back], (), metal_text)

    def one(self, metal_text: str = "") -> Holding:
        """The build of the cell nearest to the usual coats."""
        usual = Build()
        front, back = (
            min(range(len(axis)), key=lambda k: abs(axis[k] - coat.value * 1e3))
            for axis, coat in ((self.fronts_mm, usual.front_m), (self.backs_mm, usual.back_m))
        )
        return self.at(front, back, metal_text)

    def rows(self) -> list[dict[str, Any]]:
        """One flat row a cell."""
        return [
            {
                "front_mm": front,
                "back_mm": back,
                "holds": round(self.holds(f, b), 4),
                "verdict": outcome_of(self.shares[f][b]),
            }
            for f, front in enumerate(self.fronts_mm)
            for b, back in enumerate(self.backs_mm)
        ]


def build_map(
    ref: Reference,
    glass: Glass,
    metal: Metal,
    build: Build = USUAL,
    fronts_mm: Sequence[float] = FRONTS_MM,
    backs_mm: Sequence[float] = BACKS_MM,
) -> BuildMap | None:
    """Work out a map, all its cells in one batch; None where a figure that a verdict needs is missing.

    Parameters
    ----------
    ref : Reference
        The open store.
    glass, metal : Glass, Metal
    build : Build
        Metal thickness, first coat, shape, order and kiln; its front and back are not looked at.
    fronts_mm, backs_mm : sequence of float
        Glass on the faces [mm]; zero stands for a bare face, and not both may be.

    Raises
    ------
    BadInput, StoreUnusable
    """
    if missing_figures(glass, metal):
        return None
    from refdb.judge.fit.many import shares_of
    from refdb.judge.piece.shared import Shared
    from refdb.judge.piece.verdict import findings_of, sample

    questions = [
        Question(
            glass, metal, replace(build, front_m=Band.exact(front * 1e-3), back_m=Band.exact(back * 1e-3)).checked()
        )
        for front in fronts_mm
        for back in backs_mm
    ]
    fixed = findings_of(Shared(ref), followed(questions[0]))
    found = shares_of(questions, max((RANK[r.outcome] for r in fixed), default=0))
    nearest = min(range(len(found)), key=lambda k: found[k][2])
    refused = ""
    if found[nearest][2] >= HOLDS_BELOW - 1e-6:
        sampled = sample([followed(questions[nearest])])[0].rules
        refused = next((r.rule for r in fixed if r.outcome == NOT), max(sampled, key=lambda r: r.split[2]).rule)
    width = len(backs_mm)
    rows = tuple(tuple(found[k : k + width]) for k in range(0, len(found), width))
    return BuildMap(glass, metal, build, tuple(fronts_mm), tuple(backs_mm), rows, refused)
