"""refdb: does this glass suit this metal, at this thickness, and why.

`ref = refdb.open_reference()` opens the store, `refdb.suits(ref, glass, metal, …)` judges a glass on a metal,
`refdb.builds`, `refdb.clears`, `refdb.rank` and `refdb.check_piece` the other questions; `refdb.science` holds the pure
functions. Everything listed in `__all__` is stable and imported when it is first used. Only errors of `refdb.errors`
are raised.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.science.lazy import exported

if TYPE_CHECKING:
    from refdb import science
    from refdb.errors import Ambiguous, BadInput, BadSource, NotConverged, NotFound, RefdbError, StoreUnusable
    from refdb.judge.fit.builds import Builds, builds
    from refdb.judge.fit.glass_on_metal import rank, suits
    from refdb.judge.fit.holding import Holding
    from refdb.judge.piece.clear_over_leaf import clears
    from refdb.judge.ranking import Ranked, Ranking
    from refdb.judge.reason import Measure, Reason
    from refdb.judge.verdict import Verdict
    from refdb.plan.checking import check_piece
    from refdb.quantities.band import Band
    from refdb.science.glass.properties import estimate
    from refdb.science.inference.strip import expansion_from_bow
    from refdb.science.plate import Layer, Plates, cool, cool_many
    from refdb.store.opening import open_reference

__version__ = "0.2.0"
__all__ = [
    "Ambiguous",
    "BadInput",
    "BadSource",
    "Band",
    "Builds",
    "Holding",
    "Layer",
    "Measure",
    "NotConverged",
    "NotFound",
    "Plates",
    "Ranked",
    "Ranking",
    "Reason",
    "RefdbError",
    "StoreUnusable",
    "Verdict",
    "__version__",
    "builds",
    "check_piece",
    "clears",
    "cool",
    "cool_many",
    "estimate",
    "expansion_from_bow",
    "open_reference",
    "rank",
    "science",
    "suits",
]

_ERRORS = ("Ambiguous", "BadInput", "BadSource", "NotConverged", "NotFound", "RefdbError", "StoreUnusable")
__getattr__, __dir__ = exported(
    __name__,
    dict.fromkeys(_ERRORS, "errors")
    | dict.fromkeys(("Layer", "Plates", "cool", "cool_many"), "science.plate")
    | dict.fromkeys(("Builds", "builds"), "judge.fit.builds")
    | dict.fromkeys(("rank", "suits"), "judge.fit.glass_on_metal")
    | dict.fromkeys(("Ranked", "Ranking"), "judge.ranking")
    | dict.fromkeys(("Measure", "Reason"), "judge.reason")
    | {
        "Band": "quantities.band",
        "Holding": "judge.fit.holding",
        "Verdict": "judge.verdict",
        "check_piece": "plan.checking",
        "clears": "judge.piece.clear_over_leaf",
        "estimate": "science.glass.properties",
        "expansion_from_bow": "science.inference.strip",
        "open_reference": "store.opening",
        "science": "",
    },
)
