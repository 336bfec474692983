"""Silver against copper as a picture with a table behind it, for the pages of these metals and of practice."""

from __future__ import annotations

import re
from typing import Any

from markupsafe import Markup

from refdb.browse.pages.suits_pictures import short_name
from refdb.browse.site import Site
from refdb.pictures.drawing import NO_BREAK, figure
from refdb.pictures.phases import Alloy, Diagram, two_metals
from refdb.records import Metal
from refdb.words import upper_first

#: Where the figures come from: the assessment computed, and the published diagram that it is held against.
SOURCES = ("calphad-agcu", "nist-agcu")
#: The row with the usual settings of a kiln.
_KILN = "fire-setting"
_PARTS = re.compile(r"\b([A-Z][a-z]?) (\d+(?:\.\d+)?)")
_FAMILIES = {"silver": 0.0, "copper": 100.0}
_SHARES = (0.0, 2.0, 7.5, 15.0, 40.0, 60.0, 80.0, 100.0)
_NEAR_PURE = 0.5


def usual_kiln(site: Site) -> tuple[float, float, str]:
    """The usual settings of a kiln [°C] and their source."""
    (row,) = site.ref.rows("SELECT low, high, source FROM practice_rules WHERE key = ?", _KILN)
    return row["low"], row["high"], row["source"]


def copper_in(metal: Metal) -> float | None:
    """Copper by weight [%] of a metal of silver and copper alone; None where it holds anything else of note."""
    parts = {symbol: float(share) for symbol, share in _PARTS.findall(metal.alloy)}
    if set(parts) == {"Ag", "Cu"} and abs(sum(parts.values()) - 100) < _NEAR_PURE:
        return parts["Cu"]
    first = metal.alloy.partition(" ")[0].rstrip(",")
    if (
        set(parts) <= {"Ag", "Cu"}
        and len(parts) < 2
        and min(parts.values(), default=100.0) > 99
        and first in ("Ag", "Cu")
    ):
        return 100.0 if first == "Cu" else 0.0
    return None


def of_metal(site: Site, metal: Metal) -> dict[str, Any] | None:
    """The diagram on the page of a metal of the silver or copper family, which is marked in it; None for others."""
    if metal.family not in _FAMILIES:
        return None
    copper = copper_in(metal)
    mixed = copper is not None and _NEAR_PURE < copper < 100 - _NEAR_PURE
    return diagram(site, metal if mixed else None, copper if mixed else None)


def of_rules(site: Site, rules: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The diagram for a subject of practice, where a rule of it rests on the diagram; None for others."""
    return diagram(site, None, None) if any(r["source"] in SOURCES for r in rules) else None


def diagram(site: Site, metal: Metal | None, copper: float | None) -> dict[str, Any]:
    """Picture, rows, words and sources, with an alloy marked where one is given."""
    from refdb.science.melting import melting_of, silver_copper

    found = silver_copper()
    low, high, kiln_source = usual_kiln(site)
    name = upper_first(short_name(metal)) if metal else ""
    alloy = Alloy(name, copper, *melting_of(copper)) if copper is not None else None
    drawn = Diagram(
        found.liquidus,
        found.solidus_silver,
        found.solidus_copper,
        found.solvus_silver,
        found.solvus_copper,
        (found.eutectic_copper, found.eutectic_c),
    )
    picture = two_metals(drawn, (low, high), ("silver", "copper"), alloy, "agcu", "Silver and copper together")
    shares = sorted({*_SHARES, round(found.eutectic_copper, 1), *([copper] if copper is not None else [])})
    return {
        "picture": Markup(picture),
        "rows": [(figure(share, 1), *(figure(t) for t in melting_of(share))) for share in shares],
        "words": _words(found.eutectic_c, high, alloy),
        "sources": (*SOURCES, kiln_source),
    }


def _words(eutectic_c: float, hot_c: float, alloy: Alloy | None) -> str:
    def held(temp_c: float) -> str:
        return f"{figure(temp_c)}{NO_BREAK}°C"

    said = (
        f"Wherever silver touches copper, liquid forms at {held(eutectic_c)}, inside the usual kiln, though either "
        "metal alone bears far more. Fused glass between them keeps them apart."
    )
    if alloy is None:
        return said
    over = alloy.begins_c - hot_c
    where = f"{figure(over)}{NO_BREAK}K over the hot end of the usual kiln" if over > 0 else "inside the usual kiln"
    return (
        f"{alloy.name} begins to melt at {held(alloy.begins_c)}, {where}; cast or segregated metal holds some that "
        f"melts at {held(eutectic_c)}. {said}"
    )
