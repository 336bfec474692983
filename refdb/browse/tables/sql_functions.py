"""Functions for those who enable SQL, from the same judge as every other answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from refdb.errors import RefdbError
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.verdict import Verdict
from refdb.store.reference import Reference


def expansion_gap_ppm(verdict: Verdict) -> float | None:
    """What the metal shrinks beyond the glass from the set point down [ppm]; None where it is not known."""
    gap = verdict.measures.get("gap_ppm")
    return None if gap is None else gap.value


def glass_stress_mpa(verdict: Verdict) -> float | None:
    """Mean stress of the front glass of the finished piece [MPa], tension positive; None where it is not known."""
    if not verdict.stages:
        return None
    return next((x.mean_mpa.value for x in verdict.stages[-1].layers if x.name == "front glass"), None)


FUNCTIONS: dict[str, Callable[[Verdict], Any]] = {
    "expansion_gap_ppm": expansion_gap_ppm,
    "glass_stress_mpa": glass_stress_mpa,
    "verdict": lambda verdict: verdict.outcome,
    "confidence": lambda verdict: verdict.confidence,
}


def register(connection: Any, ref: Callable[[], Reference]) -> None:
    """Give a connection the functions; each takes the keys of a glass and a metal, at the standard build-up.

    `ref` gives the store as it is open in the thread that asks.
    """
    for name, told in FUNCTIONS.items():
        connection.create_function(name, 2, _of(ref, told), deterministic=True)


def _of(ref: Callable[[], Reference], told: Callable[[Verdict], Any]) -> Callable[[Any, Any], Any]:
    def function(glass: Any, metal: Any) -> Any:
        if not isinstance(glass, str) or not isinstance(metal, str):
            return None
        try:
            return told(suits(ref(), glass, metal))
        except RefdbError:
            return None

    return function
