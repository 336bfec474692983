"""What is found of cooling: how slowly thick glass and wide pieces have to cool after each fire, in minutes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from refdb.frozen import dataclass
from refdb.judge import limits
from refdb.judge.piece.known import Known
from refdb.judge.piece.states import Coat, Fire, Walk
from refdb.judge.piece.steps import DRAWINGS, FACES
from refdb.judge.reason import CARE, WHOLE, Reason, Subject
from refdb.judge.rules import limit_of
from refdb.records import Glass
from refdb.science.expansion import ROOM_C
from refdb.science.plate.cooling import CHILLS, Body, chill_stress_pa, cooling_minutes, share_that_breaks

#: Temperatures are told to so much [K].
_ROUND_K = 5.0


@dataclass(frozen=True)
class Cooling:
    """How a piece has to cool after one fire, with all glass that is on it then.

    `total_m` is that glass at its thickest [m], `least_min` how long it needs from `high_c` to `low_c` [min], zero
    where it may go into still air, and `wide` whether that is for its width alone. `body` is its glass that a change of
    temperature stretches most.
    """

    fire: Fire
    total_m: float
    high_c: float
    low_c: float
    least_min: float
    wide: bool
    body: Body

    @property
    def given_min(self) -> float | None:
        """What the step says of it [min]; None for still air."""
        return self.fire.step.cooling_min

    @property
    def lacks(self) -> bool:
        """Whether it cools faster than it may."""
        return self.least_min > 0 and (self.given_min is None or self.given_min < self.least_min)


def cooling(trail: Walk, known: Known) -> Iterator[Reason]:
    """Glass that is thick in all, and pieces that are wide, where they cool faster than they may."""
    return slow_cooling(trail)


def slow_cooling(trail: Walk) -> Iterator[Reason]:
    """The same, which needs nothing of the store; of a question it is told of its last fire."""
    fires = trail.fires[-1:] if trail.piece.is_question else trail.fires
    for one in (c for c in coolings(trail, fires) if c.lacks):
        told = {"high_c": one.high_c, "low_c": one.low_c, "total_mm": one.total_m * 1e3}
        told["minutes"] = math.ceil(one.least_min)
        case, source = "", ""
        if one.wide:
            told["wide_mm"] = _wide_m(trail) * 1e3
            case, source = "wide", "from-memory"
        else:
            drop_k = one.high_c - ROOM_C
            told |= {name: _broken_in_10(one.body, drop_k, chill, one.total_m) for name, chill in _TOLD.items()}
        if one.given_min is not None:
            told["given_min"] = one.given_min
            case = f"{case}-short" if case else "short"
        about = WHOLE if trail.piece.is_question else Subject(one.fire.step.number, one.fire.number)
        yield Reason("slow-cooling", CARE, about, case=case, values=told, source=source)


def coolings(trail: Walk, fires: Sequence[Fire]) -> list[Cooling]:
    """How a piece has to cool after some of its fires; those are left out whose glass is not known so well.

    Glass is counted at its thickest: what parts of a face carry counts as if it lay everywhere.
    """
    return [one for one in (_cooling_after(trail, fire) for fire in fires) if one is not None]


def _cooling_after(trail: Walk, fire: Fire) -> Cooling | None:
    on = [i for face in FACES for i in fire.faces[face] if isinstance(i, Coat) and i.step.do not in DRAWINGS]
    held = [i for place in fire.faces.values() for i in place if isinstance(i, Coat) and i.step.do not in DRAWINGS]
    bodies = [(body_of(glass), glass.band("set_point")) for glass in {c.glass.key: c.glass for c in held}.values()]
    known = [(body, set_c.value) for body, set_c in bodies if body is not None and set_c is not None]
    if not on or len(known) < len(bodies):
        return None
    total_m = sum(c.thickness_m.value for c in on)
    high_c = _rounded(max(set_c for _, set_c in known) + limits.COOLING_ABOVE_K)
    low_c = _rounded(min(set_c for _, set_c in known) - limits.COOLING_BELOW_K)
    # As on a shelf: all heat leaves by one face.
    minutes = max(cooling_minutes(b, high_c, low_c, limits.COOLING_STRESS_MPA * 1e6, total_m) for b, _ in known)
    thick = total_m * 1e3 > limit_of("slow-cooling").fine
    wide = not thick and not trail.piece.is_question and _wide_m(trail) > limits.LARGE_PIECE_M
    least = minutes if thick else max(minutes, limits.LARGE_COOLING_MIN) if wide else 0.0
    return Cooling(fire, total_m, high_c, low_c, least, wide, max((b for b, _ in known), key=lambda b: b.pa_per_k))


def _wide_m(trail: Walk) -> float:
    return max(trail.piece.width_m, trail.piece.height_m)


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
