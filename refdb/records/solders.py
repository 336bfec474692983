"""What the kiln does to a soldered join, from where the solder begins and ends to melt."""

from __future__ import annotations

from typing import Final

#: Where the usual fires of enamel begin and end [°C]: the low end of the medium classes, less 10 K for what a kiln
#: shows; the high end of the hard ones. Common practice.
FIRES_C: Final = (790.0, 846.0)
#: Soft solder is what flows below this [°C], brazing filler what flows above (ISO 857-2, recalled).
SOFT_BELOW_C: Final = 450.0
SOFT: Final = (
    "only after the last fire; strip every trace before firing again, or it eats pits into silver, gold and copper"
)


def in_the_kiln(solidus_c: float | None, liquidus_c: float | None) -> str:
    """How a solder of this melting [°C] bears a usual fire of enamel; empty where it stays solid, or nothing is known.

    Where only one end is known it stands for the other.
    """
    begins = solidus_c if solidus_c is not None else liquidus_c
    if begins is None or begins >= FIRES_C[1]:
        return ""
    if (begins if liquidus_c is None else liquidus_c) < SOFT_BELOW_C:
        return SOFT
    if begins >= FIRES_C[0]:
        return "softens in the hotter fires of enamel"
    if liquidus_c is not None and liquidus_c >= FIRES_C[0]:
        return "half liquid in a usual fire of enamel"
    return "liquid in a usual fire of enamel"
