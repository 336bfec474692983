"""Temperatures of one material against one another: a glass stiffens, softens and fires in this order."""

from __future__ import annotations

from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, by_property, keyed, middle, preferred, span

Found = dict[tuple[str, str], Record]

#: A coat turns elastic from a little below the transition of its glass to a little above the dilatometric softening.
SET_BELOW_TG_K = 25.0
SET_ABOVE_SOFTENING_K = 30.0
#: Middle of the usual kiln settings of each hardness class [°C]; the classes of the trade overlap.
HARDNESS_C = {"soft": (720, 765), "medium": (755, 810), "hard": (815, 845), "very hard": (890, 1180)}
#: From the low to the high end of the usual settings [K].
FIRE_SPAN_K = (15.0, 110.0)
#: From solidus to liquidus of a base metal, at most [K]; cast tin bronze melts over the longest.
MELTS_OVER_K = 215.0
#: What melts at one temperature has it recorded within this [K].
MELTS_AT_ONCE_K = 4.0
#: Two properties, and by how much the second is higher at least [K].
ORDERED = (
    ("glass_transition", "dilatometric_softening", 0.0),
    ("glass_transition", "littleton_softening", 40.0),
    ("dilatometric_softening", "littleton_softening", 20.0),
    ("littleton_softening", "fuse_low", 20.0),
    ("set_point", "fuse_low", 100.0),
    ("dilatometric_softening", "fuse_low", 60.0),
    ("solidus", "liquidus", 0.0),
)


def _check_orders(records: Records, problems: Problems) -> None:
    """Temperatures stand in the order in which a material passes them."""
    found = preferred(records)
    for (material, name), record in found.items():
        for first, second, least in ORDERED:
            if name != first or (material, second) not in found:
                continue
            a, b = middle(record), middle(found[material, second])
            if a is not None and b is not None and b - a < least:
                problems.add(
                    record,
                    "value",
                    f"{material}: {first.replace('_', ' ')} {a:g}, {second.replace('_', ' ')} {b:g} °C",
                    f"the second is at least {least:g} K higher; correct one",
                )
        if name == "solidus" and (material, "liquidus") in found:
            a, b = middle(record), middle(found[material, "liquidus"])
            if a is not None and b is not None and b - a > MELTS_OVER_K:
                what = f"{material}: it melts from {a:g} to {b:g} °C"
                todo = f"no metal here melts over more than {MELTS_OVER_K:g} K; look at the unit of both"
                problems.add(record, "value", what, todo)
        if name == "set_point":
            _check_set_point(record, found, material, problems)
    for (material, name), group in by_property(records).items():
        top = span(found[material, "liquidus"]) if (material, "liquidus") in found else None
        for record in group if name == "solidus" and top is not None else ():
            band = span(record)
            if band is not None and top is not None and band[1] > top[1] + MELTS_AT_ONCE_K:
                problems.add(record, "high", f"a solidus up to {band[1]:g}, a liquidus of {top[1]:g} °C", "correct one")


def _check_set_point(record: Record, found: Found, material: str, problems: Problems) -> None:
    value = middle(record)
    for name, least, most in (
        ("glass_transition", -SET_BELOW_TG_K, 200.0),
        ("dilatometric_softening", -300.0, SET_ABOVE_SOFTENING_K),
    ):
        beside = middle(found[material, name]) if (material, name) in found else None
        if value is not None and beside is not None and not least <= value - beside <= most:
            problems.add(
                record,
                "value",
                f"{material}: set point {value:g}, {name.replace('_', ' ')} {beside:g} °C",
                "a coat sets between the transition and the dilatometric softening of its glass; correct one",
            )


def _check_fires(records: Records, problems: Problems) -> None:
    """The usual kiln settings of a glass are a span of some width, and in keeping with its hardness class."""
    found = preferred(records)
    for material, record in keyed(records, "glass_details", "material").items():
        ends = [found.get((material, name)) for name in ("fuse_low", "fuse_high")]
        low, high = (None if end is None else middle(end) for end in ends)
        if low is None or high is None or ends[1] is None:
            continue
        if not FIRE_SPAN_K[0] <= high - low <= FIRE_SPAN_K[1]:
            problems.add(
                ends[1],
                "value",
                f"{material}: kiln settings from {low:g} to {high:g} °C",
                f"the high end is {FIRE_SPAN_K[0]:g} to {FIRE_SPAN_K[1]:g} K above the low one",
            )
        usual = HARDNESS_C.get(str(record.values["hardness"]))
        centre = (low + high) / 2
        if usual is not None and not usual[0] <= centre <= usual[1]:
            problems.add(
                record,
                "hardness",
                f"'{record.values['hardness']}', yet the middle of its kiln settings is {centre:g} °C",
                f"that of such a glass is {usual[0]} to {usual[1]} °C",
            )


CHECKS: tuple[Check, ...] = (
    (_check_orders, ("property_values",)),
    (_check_fires, ("property_values", "glass_details")),
)
