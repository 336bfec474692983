"""What a heavy load does to a small kiln: pieces and rack take up heat faster than the elements give it.

The fall of the kiln at the door, and its recovery, already hold what a usual small load takes; only what goes in beyond
that pulls the kiln down further.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from refdb.errors import BadInput
from refdb.frozen import dataclass

Array = NDArray[np.float64]

#: One face of all pieces of a usual small load, m², and the rack that carries it, kg (from memory, wide).
USUAL_AREA_M2, USUAL_RACK_KG = 20e-4, 0.12
#: Rated power of a small kiln, W: low, typical, high (from memory).
POWER_W = (1000.0, 2000.0, 3600.0)
#: Rack for each area of the pieces on it, kg/m² (estimate: a mesh or trivet).
RACK_KG_PER_M2 = 6.0
#: Heat that lining and elements give for each kelvin they fall within a firing, over rated power, s/K (estimate: the
#: skin of a lining of insulating brick that feels two minutes, and the wire).
STORED_S_PER_K = 0.6
#: Share of the rated power that is left for a load where the kiln holds its heat (from memory, 0.4 to 0.7).
SPARE_SHARE = 0.5
#: How well all of this is known, as a factor in the fall that a load brings.
LOAD_FACTOR = 1.6
#: Bounds of what is believed: power, W, and rack, kg.
LEAST_W, MOST_W, MOST_RACK_KG = 100.0, 50e3, 100.0


@dataclass(frozen=True)
class Load:
    """What goes into a kiln at once.

    Attributes
    ----------
    area_m2 : float
        One face of all pieces together.
    rack_kg : float
        What carries them.
    power_w : float
        Rated power of the kiln.
    """

    area_m2: float
    rack_kg: float
    power_w: float = POWER_W[1]

    def __post_init__(self) -> None:
        if not (0.0 < self.area_m2 <= 10.0 and 0.0 <= self.rack_kg <= MOST_RACK_KG):
            raise BadInput("no kiln takes such a load", "load", "give pieces up to 10 m² and a rack up to 100 kg")
        if not LEAST_W <= self.power_w <= MOST_W:
            raise BadInput(f"no kiln for enamel has {self.power_w:g} W", "kiln power", "give 0.1 to 50 kW")

    @property
    def more_area_m2(self) -> float:
        """Pieces beyond a usual load."""
        return max(self.area_m2 - USUAL_AREA_M2, 0.0)

    @property
    def more_racks_m2(self) -> float:
        """Rack beyond the usual one, as the area of pieces that it would carry."""
        return max(self.rack_kg - USUAL_RACK_KG, 0.0) / RACK_KG_PER_M2

    @property
    def is_usual(self) -> bool:
        """Whether it takes no more than a usual load."""
        return self.more_area_m2 == 0.0 and self.more_racks_m2 == 0.0


class Flows(NamedTuple):
    """The balance of a piece and its rack, per area of the piece: `got` maps kiln and state [°C] to heat [W/m²] that
    piece and rack take up from the kiln, (2, n); `between` the heat they give each other; `heat` what they store
    [J/(m² K)]."""

    got: Callable[[Array, Array], Array]
    between: Callable[[Array], Array]
    heat: Callable[[Array], Array]


class Fall(NamedTuple):
    """How a kiln stands below its setting: the fall at the door [K], its recovery [s], and how much more than reckoned
    a load pulls it down [-]; (n,) each."""

    drop_k: Array
    recovery_s: Array
    factor: Array


def follow(
    times: Array, setting_c: Array, fall: Fall, load: Load, flows: Flows, room_c: float
) -> tuple[Array, Array, Array]:
    """Return piece [°C], its slope [K/s] and the kiln [°C] at times, (t, n) each.

    Notes
    -----
    dD/dt = Q/C - min(D/τ, P/C) with D how far the kiln is below its setting, from the fall at the door on; Q what
    pieces and rack beyond a usual load take up, C what the lining gives per kelvin, P the spare power, and P/C not less
    than the rate at which the kiln is known to recover from the door. Without more than a usual load D is
    drop·exp(-t/τ), as in `heating`. Fourth-order Runge-Kutta steps.
    """
    stored = STORED_S_PER_K * load.power_w / fall.factor
    most_rate = np.maximum(SPARE_SHARE / STORED_S_PER_K, fall.drop_k / fall.recovery_s)
    extra = np.array([[load.more_area_m2], [load.more_racks_m2]])

    def rate(state: Array) -> Array:
        got = flows.got(setting_c - state[2], state[:2])
        warms = (got + flows.between(state[:2])) / flows.heat(state[:2])
        falls = (extra * np.maximum(got, 0.0)).sum(axis=0) / stored - np.minimum(state[2] / fall.recovery_s, most_rate)
        return np.concatenate((warms, falls[None]))

    state = np.stack((np.full_like(setting_c, room_c), np.full_like(setting_c, room_c), fall.drop_k))
    found = np.empty((3, times.size, setting_c.size))
    for i, time in enumerate(times):
        k1 = rate(state)
        found[:, i] = state[0], k1[0], setting_c - state[2]
        if i + 1 == times.size:
            break
        step = times[i + 1] - time
        k2 = rate(state + k1 * (step / 2.0))
        k3 = rate(state + k2 * (step / 2.0))
        k4 = rate(state + k3 * step)
        state = state + (k1 + 2.0 * (k2 + k3) + k4) * (step / 6.0)
    return found[0], found[1], found[2]
