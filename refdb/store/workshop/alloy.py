"""Which class of metal of the reference a metal of one's own is like, by what it is made of.

Families follow the trade's words; the shares of traces and the tolerances are from memory: about what sheets of one
name differ by.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

from refdb.errors import BadInput
from refdb.store.workshop.composition import SYMBOLS, Content, content_of, middle, said_of

#: One part of a class's own text.
_PART = re.compile(
    r"(trace )?([A-Z][a-z]?)\b(?: (about )?(\d+(?:\.\d+)?)(?:-(\d+(?:\.\d+)?))?"
    r"( or less| or purer)?)?"
)
#: A share of this many per cent is a trace; of these elements, less.
_TRACE, _TRACES = 1.0, {"Zn": 0.5, "Sn": 0.5, "Ni": 0.5, "Pb": 0.1, "Cd": 0.05, "P": 0.01, "C": 0.05}
#: The same of what every steel holds.
_STEEL_TRACES = {"P": 0.1, "C": 0.1, "Mn": 2.0, "Si": 1.0}
#: How far a share may lie outside that of the class [per cent].
_TOLERANCE = {"Zn": 2.0, "Sn": 2.0, "P": 0.02, "C": 0.05, "Ge": 0.4, "Ni": 1.0, "Pb": 0.1, "Cd": 0.05}
_IN_SILVER, _IN_GOLD, _IN_STEEL, _ELSEWHERE = 1.5, 8.0, 3.0, 2.0
#: Per cents of zinc from which gilding metal is brass.
BRASS_FROM = 12.5
#: Per cents from which an alloy is called gold, though it holds more copper: 8 carat, the least that is sold as such.
GOLD_FROM = 33.0
#: Per cents of nickel from which such brass is nickel silver, and of carbon from which steel is cast iron.
NICKEL_SILVER_FROM, CAST_IRON_FROM = 5.0, 2.0
#: The most that a class's "trace" stands for: phosphorus in tin bronze.
_NAMED_TRACE = 0.4
#: Metals that melt out of another in the kiln.
_MELTS_OUT = ("Pb", "Cd")
#: Families that enamel is never laid on.
_NEVER_LAID_ON = ("brass", "nickel silver")


class ClassMetal(NamedTuple):
    """A metal of the reference: its key, family, form, alloy as written there, and zinc [per cent] where known."""

    key: str
    family: str
    form: str
    alloy: str
    zinc: tuple[float, float] | None = None


def family_of(content: Content) -> str:
    """The family of the reference to which a metal of these contents belongs; "" where it belongs to none."""
    main = next(iter(content))
    share = {s: middle(c) for s, c in content.items()}
    zinc, tin = share.get("Zn", 0.0), share.get("Sn", 0.0)
    if main == "Cu" and zinc >= BRASS_FROM:
        return "nickel silver" if share.get("Ni", 0.0) >= NICKEL_SILVER_FROM else "brass"
    if any(share.get(s, 0.0) > _TRACES[s] for s in _MELTS_OUT):
        return ""
    if share.get("Au", 0.0) >= GOLD_FROM:
        return "gold"
    if share[main] < 50 and main != "Fe":
        return ""
    if main == "Cu":
        if share.get("Ni", 0.0) > 2 or share.get("Ag", 0.0) > 2 or share.get("Al", 0.0) > 2:
            return ""
        if zinc > max(_TRACES["Zn"], tin):
            return "gilding metal"
        return "bronze" if tin > _TRACES["Sn"] or share.get("Si", 0.0) > _TRACE else "copper"
    if main == "Fe":
        if share.get("C", 0.0) >= CAST_IRON_FROM:
            return "cast iron"
        return "stainless steel" if share.get("Cr", 0.0) >= 10.5 else "steel"
    return {
        "Ag": "silver",
        "Au": "gold",
        "Al": "aluminium",
        "Ti": "titanium",
        "Ni": "nickel",
        "Pt": "platinum",
        "Pd": "palladium",
    }.get(main, "")


def _class_content(known: ClassMetal) -> Content:
    """Low and high contents [per cent] by the text of a class; wide bounds where it gives no figure."""
    found: Content = {}
    rest = ""
    for part in re.split("[,;]", re.sub(r"\([^()]*\)", "", known.alloy)):
        match = _PART.match(part.strip())
        if match is None or match[2] not in SYMBOLS:
            continue
        if match[4] is None:
            if match[1]:
                found[match[2]] = (0.0, _NAMED_TRACE)
            elif found or rest:
                # Named without a figure, after the main metal: as much as the others leave.
                found[match[2]] = (0.0, 10.0)
            else:
                rest = match[2]
            continue
        low, high = float(match[4]), float(match[5] or match[4])
        if match[3]:
            low, high = low / 2, high * 1.5
        found[match[2]] = (0.0 if match[6] == " or less" else low, 100.0 if match[6] == " or purer" else high)
    if rest:
        found = {rest: (0.0, 100.0), **found}
    if known.zinc is not None and known.zinc[1] > 0:
        found["Zn"] = known.zinc
    return found


def _distance(content: Content, known: ClassMetal) -> float:
    """Largest distance of a content from those of a class, over all elements, in tolerances of the element."""
    of_class = _class_content(known)
    if not of_class:
        return 0.0
    main = next(iter(of_class))
    wide = {"silver": _IN_SILVER, "gold": _IN_GOLD, "steel": _IN_STEEL, "stainless steel": _IN_STEEL}.get(
        known.family, _ELSEWHERE
    )
    # What the class's own purity leaves open may be anything but what harms.
    open_share = max(100.0 - of_class[main][0], 0.0) if len(of_class) == 1 and of_class[main][0] > 0 else 0.0
    worst = 0.0
    for symbol in {*content, *of_class}:
        if symbol == main:
            continue
        share = middle(content.get(symbol, (0.0, 0.0)))
        trace = _STEEL_TRACES.get(symbol) if main == "Fe" else None
        low, high = of_class.get(symbol, (0.0, trace or _TRACES.get(symbol, max(_TRACE, open_share))))
        tolerance = _TOLERANCE.get(symbol, wide)
        if symbol not in of_class:
            tolerance = max(high, 1e-9)
        # Less zinc than the class has is the lesser trouble.
        below = (low - share) / (tolerance * (2.0 if symbol == "Zn" else 1.0))
        above = (share - high) / tolerance
        worst = max(worst, below, above if symbol in of_class or above <= 0 else 1.0 + above)
    return worst


def poison_of(content: Content) -> str:
    """A sentence of caution on a metal that gives off lead or cadmium in the kiln; "" for any other."""
    held = [s for s in _MELTS_OUT if middle(content.get(s, (0.0, 0.0))) > _TRACES[s]]
    if not held:
        return ""
    return f"It holds {' and '.join(said_of(content, s) for s in held)}, whose fume is poison: keep it out of the kiln."


def class_of(content: Content, classes: Mapping[str, ClassMetal], form: str = "") -> str:
    """Key of the class of the reference that is nearest to a metal of these contents; "" where none is near.

    In a family that enamel is never laid on, any class of it will do.
    """
    family = family_of(content)
    # A casting is like a class that is cast, or else like a sheet; of sheets alike, the plain one comes first.
    wanted = {"": ("sheet", "clay", "cast"), "cast": ("cast", "sheet")}.get(form, (form,))
    near = sorted(
        (_distance(content, c), wanted.index(c.form), not c.key.endswith("-sheet"), c.key)
        for c in classes.values()
        if c.family == family and c.form in wanted
    )
    return near[0][3] if near and (near[0][0] <= 1.0 or family in _NEVER_LAID_ON) else ""


def is_like(content: Content, known: ClassMetal, classes: Mapping[str, ClassMetal]) -> bool:
    """Whether a class may stand in for a metal: both are of one family, and it is within tolerance or the nearest."""
    if family_of(content) != known.family:
        return False
    return _distance(content, known) <= 1.0 or class_of(content, classes, known.form) == known.key


def checked_metal(
    text: str, like: str | None, form: str | None, classes: Mapping[str, ClassMetal], where: str = "alloy"
) -> None:
    """BadInput for a composition that cannot be read, or that is not that of the class it is said to be like."""
    content = content_of(text, where)
    if like is None or like not in classes or is_like(content, classes[like], classes):
        return
    better = class_of(content, classes, form or classes[like].form)
    raise BadInput(
        f"{like} is not such a metal: it holds {said_of(content)}",
        where,
        f"say what it is like with --like {better}"
        if better
        else "no class of the reference is such a metal: leave out what it is like, for nothing can stand in for it",
    )
