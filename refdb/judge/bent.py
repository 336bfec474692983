"""What the fires of a piece leave bent for good, in words, with what would leave less."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from refdb.judge.verdict import Stage

#: A bow over 30 mm that no one sees [mm].
SEEN_MM = 0.02
_ADVICE = (
    "The metal yields while a coat on one face cools, and does not spring all the way back when the glass melts again. "
    "Thicker metal keeps less of it. A weight laid on as it leaves the kiln presses it flat, but may crack the glass."
)


def bent_words(stages: Sequence[Stage], advice: bool = True) -> str:
    """What the fires before the last left in the metal, and with `advice` what to do about it; empty where they left
    nothing to be seen."""
    left = stages[-1].bow_left_mm_per_30mm if stages else None
    if left is None or abs(left.value) < SEEN_MM:
        return ""
    most = max(abs(left.low), abs(left.high))
    found = (
        f"Of the last bow {abs(left.value):.2f} mm (at most {most:.2f}) stayed from the fires before; both faces in "
        "one fire leave none."
    )
    return f"{found} {_ADVICE}" if advice else found
