"""A thickness said with the metal itself, as in "18 gauge copper" or "three cards of copper clay"."""

from __future__ import annotations

import re

_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_NUMBER = rf"(?:[0-9]{{1,3}}(?:[.,/][0-9]{{1,4}})?|[.,][0-9]{{1,4}}|{'|'.join(_NUMBERS)})"
_UNIT = (
    r"(?:(?:playing[ -])?cards?|g|ga\.?|gau?ges?|awg|swg|b ?& ?s|mm|mil+imet(?:er|re)s?|µm|μm|um|microns?|"
    r'in\.?|inch(?:es)?|"|thou)'
)
_SAID = rf"(?P<said>{_NUMBER}(?: ?(?:-|to) ?{_NUMBER})?)[ -]?(?P<unit>{_UNIT})(?: thick)?"
_AHEAD = re.compile(rf"{_SAID}(?:,? of|,)? +(?P<rest>\S.*)", re.IGNORECASE)
_BEHIND = re.compile(rf"(?P<rest>.*?\S)(?:,| at| in| of)? +{_SAID}", re.IGNORECASE)
_SPELT = re.compile(rf"\b(?:{'|'.join(_NUMBERS)})\b", re.IGNORECASE)
_AS_READ = {"g": "ga", "gauges": "gauge", "gages": "gage"}


def parted(text: str) -> tuple[str, str]:
    """The thickness in a text, in a form that `thickness` reads, and the rest of it; "" and the text where none is.

    Examples
    --------
    >>> parted("18 gauge copper"), parted("three cards of copper clay"), parted("copper, 0.8 mm")
    (('18 gauge', 'copper'), ('3 cards', 'copper clay'), ('0.8 mm', 'copper'))
    """
    clean = " ".join(text.split())
    found = _AHEAD.fullmatch(clean) or _BEHIND.fullmatch(clean)
    if found is None:
        return "", clean
    number = _SPELT.sub(lambda m: str(_NUMBERS.index(m[0].lower()) + 1), found["said"]).replace(" to ", "-")
    unit = found["unit"].lower()
    return f"{number} {_AS_READ.get(unit, unit)}", found["rest"]
