"""What is found of cooling: how slowly thick glass and wide pieces have to cool, in minutes."""

from __future__ import annotations

import math
from collections.abc import Iterator

from refdb.judge import limits
from refdb.judge.piece.known import Known
from refdb.judge.piece.states import Coat, Walk
from refdb.judge.piece.steps import DRAWINGS, FACES
from refdb.judge.reason import CARE, Reason
from refdb.judge.rules import limit_of
from refdb.records import Glass
from refdb.science.expansion import ROOM_C
from refdb.science.plate.cooling import CHILLS, Body, chill_stress_pa, cooling_minutes, share_that_breaks

#: Temperatures are told to so much [K].
_ROUND_K = 5.0


def cooling(trail: Walk, known: Known) -> Iterator[Reason]:
    """Glass that is thick in all, and pieces that are wide."""
    return slow_cooling(trail)


def slow_cooling(trail: Walk) -> Iterator[Reason]:
    """The same, which needs nothing of the store.

    Glass is counted at its thickest: what parts of a face carry counts as if it lay everywhere.
    """
    coats = [c for face in FACES for c in trail.faces[face] if isinstance(c, Coat) and c.step.do not in DRAWINGS]
    bodies = {key: (body_of(glass), glass.band("set_point")) for key, glass in trail.solid.items()}
    if not coats or any(body is None or set_c is None for body, set_c in bodies.values()):
        return
    known = [(body, set_c) for body, set_c in bodies.values() if body is not None and set_c is not None]
    total_m = sum(c.thickness_m.value for c in coats)
    high_c = _rounded(max(set_c.value for _, set_c in known) + limits.COOLING_ABOVE_K)
    low_c = _rounded(min(set_c.value for _, set_c in known) - limits.COOLING_BELOW_K)
    # As on a shelf: all heat leaves by one face.
    minutes = max(cooling_minutes(b, high_c, low_c, limits.COOLING_STRESS_MPA * 1e6, total_m) for b, _ in known)
    told = {"high_c": high_c, "low_c": low_c, "total_mm": total_m * 1e3}
    if total_m * 1e3 > limit_of("slow-cooling").fine:
        body = max((b for b, _ in known), key=lambda b: b.pa_per_k)
        broken = {name: _broken_in_10(body, high_c - ROOM_C, chill, total_m) for name, chill in _TOLD.items()}
        yield Reason("slow-cooling", CARE, values={**told, **broken, "minutes": math.ceil(minutes)})
    elif not trail.piece.is_question and max(trail.piece.width_m, trail.piece.height_m) > limits.LARGE_PIECE_M:
        wide = max(trail.piece.width_m, trail.piece.height_m)
        least = max(math.ceil(minutes), limits.LARGE_COOLING_MIN)
        yield Reason(
            "slow-cooling", CARE, case="wide", values={**told, "wide_mm": wide * 1e3, "minutes": least},
            source="from-memory",
        )  # fmt: skip


_TOLD = {"draught": "a draught", "slab": "cold metal or stone", "water": "water"}


def body_of(glass: Glass) -> Body | None:
    """A glass as heat sees it; None where a figure of it is missing."""
    young, poisson, grows = (glass.band(name) for name in ("youngs_modulus", "poisson_ratio", "expansion"))
    if young is None or poisson is None or grows is None:
        return None
    return Body(young.value, poisson.value, grows.value * 1e-6, *limits.GLASS_HEAT)


def _broken_in_10(body: Body, drop_k: float, chill: str, thick_m: float) -> int:
    """How many of ten pieces break by a chill, over the range of its heat transfer; strength of a short time."""
    strength = [x * 1e6 for x in limits.STRENGTH_MPA]
    shares = [share_that_breaks(chill_stress_pa(body, drop_k, h, thick_m), *strength) for h in CHILLS[chill]]
    return round(10.0 * sum(shares) / len(shares))


def _rounded(temp_c: float) -> float:
    return round(temp_c / _ROUND_K) * _ROUND_K
