"""How many pieces a kiln fires at once, and what it gets done in a time: packing, recovery, cooling and drying."""

from __future__ import annotations

import math
from typing import Any

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.plan.allowances import Allowances
from refdb.plan.asked_amounts import SQUARE_CORNERED, lengths_of, split_form
from refdb.plan.packing import layout, most_certain
from refdb.quantities.typed import Band

#: Lengths are packed in steps of this [m].
_GRAIN_M = 1e-4
_MOST_M, _MOST_FIRES = 1.0, 50
#: Figures of practice that a day rests on.
KEYS = ("kiln-gap", "fire-short-hot", "kiln-recovery", "kiln-heat-up", "cool-time", "dry-time")


@dataclass(frozen=True)
class KilnDay:
    """What a kiln gets done; times in minutes, low for all that goes fast and high for all that goes slowly.

    `per_load` pieces lie on the floor at once, `at_most` can never lie there; `one` is a fire with its recovery, `all`
    the whole quantity with heating up; `done` pieces come out finished in the time given, None where none is. `slow` is
    how long a load keeps the kiln shut after its last fire, None where it cools in air.
    """

    quantity: int
    fires: int
    per_load: int
    at_most: int
    loads: int
    gap_m: float
    one: Band
    all: Band
    done: tuple[int, int] | None
    sources: dict[str, str]
    slow: Band | None = None

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON."""

        def plain(band: Band) -> dict[str, float]:
            return {k: round(getattr(band, k), 2) for k in ("value", "low", "high")}

        found: dict[str, Any] = {
            "per_load": self.per_load,
            "per_load_at_most": self.at_most,
            "loads": self.loads,
            "gap_mm": round(self.gap_m * 1e3, 2),
            "one_fire_min": plain(self.one),
            "all_min": plain(self.all),
            "sources": self.sources,
        }
        if self.slow is not None:
            found["slow_cooling_min"] = plain(self.slow)
        return found if self.done is None else found | {"done": {"low": self.done[0], "high": self.done[1]}}


def floor_of(text: str, where: str = "--floor") -> tuple[float, float]:
    """Width and depth of what the pieces stand on [m]: "150x120 mm", "6 in x 5 in"; a third length is left aside.

    One length is the side of a square: "150 mm".

    Raises
    ------
    BadInput
        A round floor; not one to three lengths above zero and up to 1 m.
    """
    plain, form = split_form(text)
    if form not in ("", *SQUARE_CORNERED):
        raise BadInput("a round floor is not reckoned", where, "give the largest square that lies on it")
    sizes = lengths_of(plain, (1, 3), where, 'write width x depth, such as "150x120 mm"')
    if not 0 < min(sizes) <= max(sizes) <= _MOST_M:
        raise BadInput(f"{max(sizes):g} m is no floor of a small kiln", where, 'write for example "150x120 mm"')
    return sizes[0], sizes[1] if len(sizes) > 1 else sizes[0]


def kiln_day(
    allowed: Allowances,
    quantity: int,
    size_m: tuple[float, float],
    floor_m: tuple[float, float],
    fires: int,
    *,
    minutes: Band | None = None,
    time_min: float | None = None,
    cooling_min: float | None = None,
) -> KilnDay:
    """Pack pieces on the floor of a kiln, and count its loads and its time.

    Parameters
    ----------
    allowed : Allowances
        Figures of practice.
    quantity : int
        Pieces in all.
    size_m, floor_m : (float, float)
        Of a piece, as a rectangle, and of the floor or rack [m].
    fires : int
        How often each piece is fired.
    minutes : Band, optional
        One fire from door to door [min]; as is usual where nothing is said.
    time_min : float, optional
        Time there is, with heating up [min].
    cooling_min : float, optional
        Slow cooling of each load after its last fire [min]; in still air where nothing is said.

    Raises
    ------
    BadInput
        A piece that does not fit, or no number of fires.

    Notes
    -----
    While one load is in the kiln the others cool and dry. So a round of all loads takes the longer of their fires and
    of what one load needs until it can go in again, and all rounds come on top of the kiln's heating up. A load that
    cools slowly stays in after its last fire until it is cold, and the kiln heats up anew for the next one.
    """
    if not 1 <= fires <= _MOST_FIRES:
        raise BadInput(f"{fires} fires", "--fires", f"give a whole number from 1 to {_MOST_FIRES}")
    rows = {key: allowed[key] for key in KEYS}
    gap = rows["kiln-gap"].band.low
    wide, high = (math.ceil((x + gap) / _GRAIN_M - 1e-6) for x in size_m)
    # A gap to the wall as well as between pieces.
    across, along = (math.floor((x - gap) / _GRAIN_M + 1e-6) for x in floor_m)
    if not ((wide <= across and high <= along) or (high <= across and wide <= along)):
        raise BadInput(
            f"a piece of {size_m[0] * 1e3:g} x {size_m[1] * 1e3:g} mm does not fit {floor_m[0] * 1e3:g} x "
            f"{floor_m[1] * 1e3:g} mm with {gap * 1e3:g} mm to the wall",
            "--floor",
            "give a larger floor",
        )
    each = len(layout(across, along, wide, high))
    loads = math.ceil(quantity / each)
    fire = minutes or rows["fire-short-hot"].band
    one = fire.plus(rows["kiln-recovery"].band)
    again = one.plus(rows["cool-time"].band, rows["dry-time"].band)
    heat = rows["kiln-heat-up"].band

    slow = None if cooling_min is None else allowed["kiln-cool-down"].band.plus(Band.exact(cooling_min))

    def taken(count: int) -> Band:
        round_ = Band(*(max(count * getattr(one, k), getattr(again, k)) for k in ("value", "low", "high")))
        if slow is None:
            return heat.plus(round_.scaled(fires))
        last = fire.plus(slow).scaled(count)
        return round_.scaled(fires - 1).plus(last, heat.scaled(count))

    done = None
    if time_min is not None:
        counts = [
            max((k for k in range(1, loads + 1) if getattr(taken(k), end) <= time_min), default=0)
            for end in ("high", "low")
        ]
        done = (min(counts[0] * each, quantity), min(counts[1] * each, quantity))
    used = {key: row.source for key, row in rows.items() if minutes is None or key != "fire-short-hot"}
    if slow is not None:
        used["kiln-cool-down"] = allowed["kiln-cool-down"].source
    most = most_certain(across, along, wide, high)
    return KilnDay(quantity, fires, each, most, loads, gap, one, taken(loads), done, used, slow)
