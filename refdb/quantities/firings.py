"""A firing that someone watched, as they write it: "815C 3min copper 0.75mm", "815C 3min copper oxide cleared"."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from refdb.errors import BadInput

FORM = '"815C 3min copper 0.75mm"'
#: What may have been seen; the first is meant where nothing is said.
RESULTS = ("gloss", "oxide cleared", "orange peel", "sugary")
_FIGURE = re.compile(r"(?<![\w.-])-?\d[\d.,/-]*\s*(?:°\s*[CFK]|[A-Za-zµ]+)(?![\w-])")
_LONGEST = 200


class FiringText(NamedTuple):
    """Kiln setting [°C], minutes until `result` was seen, the metal as it was named, and its thickness [m]."""

    kiln_c: float
    minutes: float
    metal: str
    metal_m: float
    result: str


def firing_of_text(text: str, where: str, form: str = FORM) -> FiringText:
    """Read a firing: a setting, a time, a metal, its thickness, and what was seen where that was not gloss.

    Parameters
    ----------
    text : str
        As typed.
    where : str
        Names the place in faults.
    form : str
        How it ought to be written, for faults.

    Raises
    ------
    BadInput
    """
    from refdb.quantities import duration_min, length_m, temperature_c

    todo = f"write it as {form}"
    short = text.strip()[:60]
    lowered = " ".join(text[:_LONGEST].split())
    result = next((r for r in RESULTS if re.search(rf"\b{r}\b", lowered, re.IGNORECASE)), "")
    rest = re.sub(rf"\b{result}\b", " ", lowered, count=1, flags=re.IGNORECASE) if result else lowered
    figures, metals = _FIGURE.findall(rest), _FIGURE.sub(" ", rest).split()
    if len(text) > _LONGEST or len(figures) != 3 or len(metals) != 1:
        raise BadInput(f"'{short}' is not a setting, a time, a metal and its thickness", where, todo)
    kiln_c = temperature_c(figures[0], where=where)
    minutes = duration_min(figures[1], where=where)
    metal_m = length_m(figures[2], where=where)
    found = FiringText(kiln_c, minutes, metals[0], metal_m, result or RESULTS[0])
    bounded_firing(found, where, todo)
    return found


def bounded_firing(firing: FiringText, where: str | Callable[[str], str], todo: str) -> None:
    """BadInput for a firing that cannot be: `where` and `todo` as messages tell them; `where` may call each field."""
    at = where if callable(where) else lambda name: where
    if not 1e-4 <= firing.metal_m <= 1e-2:
        raise BadInput(f"{firing.metal_m * 1e3:g} mm of metal", at("metal_thickness"), "give 0.1 to 10 mm")
    if not 50.0 <= firing.kiln_c <= 1600.0:
        raise BadInput(f"{firing.kiln_c:.0f} °C is no kiln setting", at("kiln"), todo)
    if not 0.05 <= firing.minutes <= 60.0:
        raise BadInput(f"{firing.minutes:g} minutes in the kiln", at("minutes"), "give 0.05 to 60 minutes")
