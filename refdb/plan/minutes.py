"""How long a firing takes, and how surely that can be told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from refdb.judge.piece.in_kiln import heated, molten_under
from refdb.judge.piece.observed_firing import Firings, Maturing, maturing
from refdb.judge.piece.states import Coat, Fire, Walk
from refdb.plan.allowances import Allowances
from refdb.plan.lines import OWN, Minutes, Ripening
from refdb.quantities.band import Band
from refdb.records import Glass, Metal

#: Where minutes rest on the class of a glass and the physics of a coat that levels.
COMPUTED = "computed-here"


def minutes_of_firing(
    trail: Walk, fire: Fire, new: Sequence[Coat], metal: Metal, allowed: Allowances, firings: Firings
) -> Minutes:
    """Minutes of one firing: as the person gave them, else to gloss of the slowest new coat, else what is usual.

    Parameters
    ----------
    trail : Walk
        The piece.
    fire : Fire
        The firing, at a setting.
    new : sequence of Coat
        Coats that have not been through a fire; drawing does not count.
    metal : Metal
        The base metal.
    allowed : Allowances
        For the usual time of a fire.
    firings : Firings
        Those that were seen: they narrow the range, and give the stages of their glasses.
    """
    own, heat, setting_c = fire.step.minutes, fire.heat, fire.step.kiln_c
    assert heat is not None
    assert setting_c is not None
    into = heated(trail, fire, metal)
    slowest: tuple[Coat, Band, bool, Maturing] | None = None
    refused: list[str] = []
    stages: dict[str, Ripening] = {}
    for coat in (c for c in new if not c.line):
        told = maturing(coat.glass, heat, coat.thickness_m.value, into, firings, molten_under(trail, coat))
        gloss = _gloss(coat.glass, setting_c, told)
        if isinstance(gloss, str):
            refused.append(gloss)
            continue
        one = _stages(coat, told, *gloss)
        held = stages.get(coat.glass.key)
        if one is not None and (held is None or one.gloss.value > held.gloss.value):
            stages[coat.glass.key] = one
        if slowest is None or gloss[0].value > slowest[1].value:
            slowest = (coat, *gloss, told)
    ripening = tuple(stages.values())
    said = _said_of(slowest, heat, firings) if slowest is not None else None
    note = said.note if said is not None else f"; {refused[0]}" if refused else ""
    look = _first_look(slowest[3]) if slowest is not None else None
    if own is not None:
        return Minutes(Band.exact(own), f"{own:g} min", OWN, False, f"as the file says{note}", ripening, look)
    if slowest is not None and said is not None:
        _, band, is_open, _ = slowest
        basis = f"{said.basis}; colour and shine decide"
        return Minutes(band, _words(band, is_open), COMPUTED, is_open, basis, ripening, look)
    usual, basis = allowed["fire-short-hot"], f"as is usual{note}; colour and shine decide"
    return Minutes(usual.band, _words(usual.band, False), usual.source, False, basis, ripening)


def _first_look(told: Maturing) -> Band | None:
    """When the coat has closed, and a look tells something [min]."""
    if told.orange_peel is None or not math.isfinite(told.orange_peel.high):
        return None
    value, low, high = told.orange_peel
    return Band(value, low, high)


class _Said(NamedTuple):
    """What is said of the slowest coat: beside other minutes, and as the basis of its own."""

    note: str
    basis: str


def _said_of(slowest: tuple[Coat, Band, bool, Maturing], heat: Band, firings: Firings) -> _Said:
    coat, band, is_open, told = slowest
    words = _words(band, is_open)
    if told.pinned is not None:
        by = f"by {told.pinned.words}"
        return _Said(f"; {coat.glass.small} shines after {words}, {by}", f"to gloss of {coat.glass.small}, {by}")
    passed = firings.passed_over(coat.glass, heat.value)
    why = f" ({passed})" if passed else ""
    hardness = _hardness(coat.glass)
    return _Said(
        f"; {hardness} of its class shines after {words}{why}", f"to gloss of {hardness} known by its class only{why}"
    )


def _gloss(glass: Glass, setting_c: float, told: Maturing) -> tuple[Band, bool] | str:
    """Minutes to gloss with their full range and whether that is open above, or why they cannot be told."""
    from refdb.science.firing.doses import LONGEST_MINUTES

    if told.gloss is None:
        return told.reason
    value, low, high = told.gloss
    if not math.isfinite(low):
        return (
            f"{_hardness(glass)} does not shine within {LONGEST_MINUTES:g} min at {setting_c:.0f} °C: too cold for it"
        )
    is_open = high > LONGEST_MINUTES
    top = LONGEST_MINUTES if is_open else high
    return Band(min(value, top), min(low, top), top), is_open


def _stages(coat: Coat, told: Maturing, gloss: Band, is_open: bool) -> Ripening | None:
    """The stages of a coat, told only of a glass that a firing pins."""
    from refdb.science.firing.doses import LONGEST_MINUTES

    if told.pinned is None or told.sugary is None or told.orange_peel is None:
        return None
    sugary, peel = (Band(*(min(x, LONGEST_MINUTES) for x in ranged)) for ranged in (told.sugary, told.orange_peel))
    return Ripening(
        coat.glass.key, coat.glass.label, sugary, peel, gloss, is_open, told.pinned.words, told.pinned.record.source
    )


def _hardness(glass: Glass) -> str:
    return f"a {glass.hardness} glass" if glass.hardness != "unknown" else "a glass of unknown hardness"


def _words(band: Band, is_open: bool) -> str:
    value, low, high = _half(band.value), _half(band.low), _half(band.high)
    if is_open:
        return f"{value} min ({low} or longer)"
    return f"{value} min" if low == high else f"{value} min ({low} to {high})"


def _half(minutes: float) -> str:
    """Minutes to the nearest half: nobody at a kiln counts closer."""
    whole = max(1, round(minutes * 2))
    return f"{whole // 2 or ''}{'½' if whole % 2 else ''}"
