"""What is done to words before they are shown; light, and beneath every room."""

from __future__ import annotations

import re

#: The form of all JSON that is given out, by the name that stands in it.
SCHEMA = "refdb/2"
#: A blank between a number and its unit.
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:mm|µm|m|MPa|GPa|ppm/K|ppm|K|°C|°F|min|h|%|J/m²|kg/m³|mg/cm²|cards?)(?![\w²³]))"
)


def upper_first(text: str) -> str:
    """The text as it stands at the head of a sentence: its first letter large."""
    return text[:1].upper() + text[1:]


def lower_first(text: str) -> str:
    """The text as it stands within a sentence: its first letter small."""
    return text[:1].lower() + text[1:]


#: From this share of the draws on all but hardly a draw came out alike, and no share is told.
NEARLY_ALL = 0.995


def tenths(share: float) -> int:
    """A share of the draws in tenths, to the nearest: the one rounding of all that is told "of 10"."""
    return int(share * 10 + 0.5 + 1e-9)


def shortened(text: str, most: int = 40) -> str:
    """The text in at most so many characters, an ellipsis for what was cut off."""
    return text if len(text) <= most else text[: most - 1] + "…"


def units_held(text: str, no_break: str = "\u00a0") -> str:
    """The text with a no-break space between a number and its unit, so that no line ends between them."""
    return _BEFORE_UNIT.sub(no_break, text)
