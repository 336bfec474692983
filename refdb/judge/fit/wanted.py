"""Wishes as a command, a page or a program gives them: options and words together, and the build that is left open."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from refdb.errors import BadInput
from refdb.frozen import replace
from refdb.judge.fit.build import Build
from refdb.judge.fit.question import metal_thickness
from refdb.judge.fit.wishes import ANY, Range, Wishes, wishes_of
from refdb.judge.limits import KILN_MOST_C
from refdb.quantities import temperature_c, thickness
from refdb.quantities.band import Band
from refdb.records import Metal


def wishes_from(texts: Sequence[str], options: Mapping[str, str], where: Callable[[str], str] = str) -> Wishes:
    """Wishes in words together with those of options; `where` says how an option is called in a message.

    Raises
    ------
    BadInput
    """
    given = Wishes()
    for name in ("front", "back", "first"):
        if text := options.get(name, "").strip():
            band = thickness(text, where=where(name), zero_ok=name != "first").band
            given = replace(given, **{name: Range(band.low, band.high)})  # type: ignore[arg-type]
    if given.front.most == 0 and given.back.most == 0:
        raise BadInput("there is no glass on either face", where("front"), "give one of them, such as 0.3mm")
    text = options.get("kiln_most", "").strip()
    most_c = temperature_c(text, where=where("kiln_most")) if text else KILN_MOST_C
    shape, order = (options.get(name, "").strip().lower() for name in ("shape", "order"))
    sheet = options.get("metal_thickness", "").strip()
    given = replace(given, kiln_most_c=most_c, shape=shape, order=order, metal_text=sheet)
    found = wishes_of(texts, given, where("wish"))
    usual = Build()
    replace(usual, shape=found.shape or usual.shape, order=found.order, kiln_most_c=found.kiln_most_c).checked()
    return found


def metal_of(metal: Metal, wishes: Wishes) -> Band:
    """The thickness of metal after firing that was typed, or the usual one [m].

    Raises
    ------
    BadInput
    """
    if not wishes.metal_text:
        return Build().metal_m
    if "card" in wishes.metal_text and metal.form != "clay":
        raise BadInput(f"{metal.small} is no clay, so it is not counted in cards", "wish", "give it in mm")
    return metal_thickness(wishes.metal_text, metal, "metal thickness").band


def build_of(metal: Metal, wishes: Wishes) -> Build:
    """What wishes leave to a map of front and back: metal, first coat, shape, order and kiln.

    Raises
    ------
    BadInput
    """
    usual = Build()
    first = usual.first_m if wishes.first == ANY else min(wishes.first.most, max(usual.first_m, wishes.first.least))
    return replace(
        usual,
        metal_m=metal_of(metal, wishes),
        first_m=first,
        shape=wishes.shape or usual.shape,
        order=wishes.order,
        kiln_most_c=wishes.kiln_most_c,
    ).checked()
