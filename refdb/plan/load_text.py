"""What is said of the kiln and its load, in a piece file and with a question: power, rack, pieces in at once."""

from __future__ import annotations

import re

from refdb.errors import BadInput
from refdb.judge.piece.steps import InKiln
from refdb.quantities import mass_kg, power_w

MOST_AT_ONCE = 1000
#: What a rack is called where there is none: the piece stands on its own edge, or the rack stays in the kiln.
NO_RACK = "none"
_WHERE = "--load"
_FORM = '"2 kW, rack 150 g, 4 at once"'
_AT_ONCE = re.compile(r"([0-9]{1,9}) (?:pieces? )?at once")


def read_in_kiln(power: str | None, rack: str | None, at_once: int, where: str) -> InKiln:
    """Read a kiln's rated power, the rack's mass or "none", and the pieces in at once; `where` leads every fault.

    Raises
    ------
    BadInput
    """
    from refdb.science.firing.load import LEAST_W, MOST_RACK_KG, MOST_W

    watts = None if power is None else power_w(power, where=f"{where} power")
    if watts is not None and not LEAST_W <= watts <= MOST_W:
        raise BadInput(f"no kiln for enamel has {watts:g} W", f"{where} power", "give 0.1 to 50 kW, or leave it out")
    kilos = None
    if rack is not None:
        kilos = 0.0 if rack.strip().lower() == NO_RACK else mass_kg(rack, where=f"{where} rack")
        if kilos > MOST_RACK_KG:
            raise BadInput(f"no small kiln takes a rack of {kilos:g} kg", f"{where} rack", "give its mass, or none")
    return InKiln(watts, kilos, at_once)


def in_kiln_of(text: str) -> InKiln:
    """Read what is typed of kiln and load, parts of it in any order: "2 kW, rack 150 g, 4 at once".

    Raises
    ------
    BadInput
    """
    given: dict[str, str] = {}
    for part in (" ".join(p.split()) for p in text.split(",")):
        low = part.lower()
        found = _AT_ONCE.fullmatch(low)
        name = "at once" if found else "rack" if low.startswith("rack") else "power"
        if not part or name in given:
            raise BadInput(f"'{text[:60]}' is not one power, one rack and one number", _WHERE, f"write it as {_FORM}")
        given[name] = found[1] if found else part[4:].strip(" :=") if name == "rack" else part
    at_once = int(given.get("at once", "1"))
    if not 1 <= at_once <= MOST_AT_ONCE:
        raise BadInput(f"{at_once} pieces at once", _WHERE, f"give a whole number from 1 to {MOST_AT_ONCE:,}")
    return read_in_kiln(given.get("power"), given.get("rack"), at_once, _WHERE)
