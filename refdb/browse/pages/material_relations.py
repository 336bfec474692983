"""What a material's page tells beyond its own figures: colour reactions, published glasses, firings seen."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.browse.pages.printed import lower_first, property_text, temperature_span, typeset, with_unit
from refdb.browse.site import Site, is_yours, named
from refdb.judge.selectors import matches
from refdb.pictures.drawing import Triple
from refdb.pictures.interval import interval, scale_of
from refdb.records import Glass, Leaf, Material, Metal, Property, Reaction, ReferenceGlass
from refdb.records.printed import unit_of

_MOST_NAMED = 3
_GROUNDS = {
    "metal": "on",
    "alloy": "on",
    "leaf": "over leaf of",
    "wire": "against wire of",
    "glass": "with other glass",
    "handled": "on",
}


def _meets(reaction: Reaction, record: Material) -> bool:
    """Whether a reaction is about this record."""
    kind, _, words = reaction.ground.partition(" ")
    named = set(words.split("|"))
    if isinstance(record, Glass):
        return reaction.glass != "any" and matches(reaction.glass, record)
    if isinstance(record, Metal):
        return record.key in named if kind == "alloy" else kind in ("metal", "handled") and record.family in named
    if isinstance(record, Leaf):
        return "leaf" in named if kind == "handled" else kind == "leaf" and bool(named & set(record.metal.split()))
    return False


def reactions_of(site: Site, record: Material) -> list[dict[str, str]]:
    """Colour reactions of a record, each with what it meets in words."""
    if "colour_reactions" not in site.ref.tables:
        return []
    found = []
    for reaction in site.ref.colour_reactions():
        if _meets(reaction, record):
            other = _ground_words(site, reaction.ground) if isinstance(record, Glass) else _glass_words(site, reaction)
            found.append(
                {
                    "with": other,
                    "outcome": reaction.outcome,
                    "change": reaction.change,
                    "why": reaction.why,
                    "remedy": reaction.remedy,
                    "source": reaction.source,
                }
            )
    return found


def _ground_words(site: Site, ground: str) -> str:
    kind, _, words = ground.partition(" ")
    if kind == "glass":
        return _GROUNDS["glass"]
    names = words.split("|")
    if kind == "alloy":
        labels = {m.key: named(m) for m in site.metals}
        names = [labels.get(name, name) for name in names]
    if kind == "handled" and names == ["any"]:
        return "by handling or fire"
    tail = ", by handling or fire" if kind == "handled" else ""
    return f"{_GROUNDS.get(kind, kind)} {', '.join(names)}{tail}"


def _glass_words(site: Site, reaction: Reaction) -> str:
    if reaction.glass == "any":
        return "any glass"
    labels = [lower_first(g.label) for g in site.glasses if not is_yours(g) and matches(reaction.glass, g)]
    more = len(labels) - _MOST_NAMED
    return "; ".join(labels[:_MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")


def published_of(site: Site, record: Material) -> list[dict[str, Any]]:
    """Published glasses of a class: composition, and what was measured beside what is computed."""
    if not isinstance(record, Glass) or "reference_glasses" not in site.ref.tables:
        return []
    properties = {p.key: p for p in site.ref.properties()}
    found = []
    for glass in site.ref.reference_glasses(record.key):
        parts = ", ".join(f"{name} {typeset(f'{share:g}')}" for name, share in glass.composition)
        found.append(
            {
                "label": glass.label,
                "as": glass.published_as,
                "locator": glass.locator,
                "note": glass.note,
                "source": glass.source,
                "composition": parts,
                "rows": _beside(glass, properties),
            }
        )
    return found


def _beside(glass: ReferenceGlass, properties: dict[str, Property]) -> list[dict[str, Any]]:
    measured = {v.property: v for v in glass.measured}
    computed = {v.property: v for v in glass.estimated}
    rows = []
    for key, prop in properties.items():
        m, c = measured.get(key), computed.get(key)
        if m is None and c is None:
            continue
        numbers = [*((m.value,) if m else ()), *((c.value, c.low, c.high) if c else ())]
        scale = scale_of(numbers, 0.5, 0.0 if min(numbers) >= 0 else None)
        plot = interval(Triple(c.value, c.low, c.high), scale, preferred=False) if c else ""
        if m:
            plot = _with_dot(plot, interval(Triple(m.value, m.value, m.value), scale))
        unit = unit_of(prop)
        rows.append(
            {
                "label": f"{prop.label}, {unit}" if unit else prop.label,
                "measured": property_text(m.value, prop) if m else "",
                "over": temperature_span(m.temp_low_c, m.temp_high_c) if m else "",
                "computed": property_text(c.value, prop) if c else "",
                "range": f"{property_text(c.low, prop)} to {property_text(c.high, prop)}" if c else "",
                "words": c.words if c else "",
                "plot": Markup(plot),
            }
        )
    return rows


def _with_dot(plot: str, other: str) -> str:
    """The dot of one plot drawn into another on the same scale."""
    if not plot:
        return other
    return plot.removesuffix("</svg>") + other[other.index("<circle") :]


def seen_of(site: Site, record: Material) -> list[dict[str, str]]:
    """How long a glass was seen, or is said, to take in the kiln."""
    if not isinstance(record, Glass) or "observed_firings" not in site.ref.tables:
        return []
    labels = {m.key: named(m) for m in site.metals}
    found = []
    for seen in site.ref.observed_firings(record.key):
        thick = "" if seen.metal_mm is None else f", {with_unit(typeset(format(seen.metal_mm, '.2f')), 'mm')}"
        found.append(
            {
                "text": f"{seen.result.capitalize()} in {with_unit(typeset(format(seen.minutes, 'g')), 'min')} at "
                f"{with_unit(format(seen.kiln_c, '.0f'), '°C')} on {labels.get(seen.metal, seen.metal)}"
                f"{thick}.",
                "note": seen.note,
                "basis": seen.basis,
                "source": seen.source,
            }
        )
    return found
