"""How far a verdict is from its nearest limit, in half-bands of what was found."""

from __future__ import annotations

from refdb.frozen import dataclass
from refdb.judge.rules import RULES
from refdb.judge.verdict import Verdict

#: Rules whose numbers run on without a step, so that a distance from their limit says something.
_RULES = ("tension-between", "tension-lasting", "gap", "release")


@dataclass(frozen=True)
class Margin:
    """Distance of the middle of what a rule found from where it would no longer hold.

    One `room` is as far as from the middle to the far end of its 5-95 % band: below zero it lies past the limit, at
    one or more the whole band holds.
    """

    rule: str
    room: float


def margin_of(verdict: Verdict) -> Margin | None:
    """The smallest room among tension, gap and release; None where no such number stands behind the verdict.

    A verdict that something else refuses has none either: room beside a refusal would mislead.
    """
    numbered = [r for r in verdict.reasons if r.rule in _RULES and r.found is not None]
    if any(r.deciding and (r.split is None or r.rule not in _RULES) for r in verdict.reasons):
        return None
    found = []
    for reason in numbered:
        limit = RULES[reason.rule].limit
        assert limit is not None
        assert limit.care is not None
        assert reason.found is not None
        half = reason.found.high - reason.found.value
        if half > 0:
            found.append(Margin(reason.rule, (limit.care - reason.found.value) / half))
    return min(found, key=lambda margin: margin.room, default=None)
