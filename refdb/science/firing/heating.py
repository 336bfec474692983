"""How a thin metal piece warms in a kiln: radiation and convection on a lumped plate, with its rack.

A blank of a millimetre conducts so well that it has one temperature; what it takes up is set by the kiln, by the
drop of the kiln when the door opens, and by the mass to be warmed.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.science.firing.load import RACK_KG_PER_M2, Fall, Flows, Load, follow

Array = NDArray[np.float64]

#: Stefan-Boltzmann constant, W/(m² K⁴) (CODATA 2018, exact to the figures given).
STEFAN_BOLTZMANN = 5.670374419e-8
KELVIN = 273.15
#: Natural convection on each face, W/(m² K): Nu = 0.27 to 0.54 Ra^(1/4) at kiln temperature (from memory).
CONVECTION_W_PER_M2_K = 12.0
#: Emissivity of a face that carries powder or glass: tables give 0.8 to 0.97 for glass (read); chosen here.
GLASS_EMISSIVITY = 0.88
#: Density and heat capacity of glass for its part of the heat capacity (from memory, ±5 %).
GLASS_DENSITY_KG_M3, GLASS_HEAT_CAPACITY_J_PER_KG_K = 2550.0, 1050.0
#: Longest time followed, s: a coat that has not matured by then is not fired in a small kiln.
LONGEST_S = 900.0
ROOM_C = 25.0
#: Emissivity of what the rack radiates with (estimate: oxidised steel and fibre, 0.8).
_RACK_EMISSIVITY = 0.8
_STEP_S, _STEP_FRACTION = 2.0, 0.5
_LATE_S, _LATE_STEP_S, _LATE_STEP_FRACTION = 120.0, 12.0, 2.4
#: Times between two steps are filled in by cubics, no further apart than this early and late.
_FILLED_S, _LATE_FILLED_S = 0.5, 5.0

#: Heat capacity of metals as a + b·T, J/(kg K) with T in °C, from memory (±5 %), and the emissivity of a face
#: that went through the kiln bare: copper and steel as tables give them for oxidised metal (read), the others
#: from memory. Firing times depend little on either: 10 % of heat capacity is about 2 % of the time.
HEAT_OF_FAMILY: dict[str, tuple[float, float, float]] = {
    "copper": (385.0, 0.094, 0.75), "silver": (235.0, 0.047, 0.10), "steel": (450.0, 0.45, 0.85),
    "gilding metal": (385.0, 0.094, 0.7), "brass": (380.0, 0.09, 0.6), "bronze": (375.0, 0.09, 0.6),
    "gold": (128.0, 0.025, 0.1), "platinum": (132.0, 0.027, 0.12), "palladium": (242.0, 0.05, 0.15),
    "stainless steel": (480.0, 0.2, 0.7), "nickel": (440.0, 0.15, 0.6), "titanium": (520.0, 0.2, 0.6),
    "aluminium": (890.0, 0.45, 0.1), "nickel silver": (393.0, 0.095, 0.6), "cast iron": (458.0, 0.45, 0.85),
    "coated steel": (450.0, 0.45, 0.9),
}  # fmt: skip


@dataclass(frozen=True)
class Blank:
    """The metal of a piece, as a lumped thermal mass.

    Attributes
    ----------
    mass_kg_per_m2 : float
        Mass of the metal per area of one face.
    heat_capacity_j_per_kg_k, heat_capacity_slope : float
        Heat capacity at 0 °C, and its rise per °C.
    back_emissivity : float
        Emissivity of the face that looks down; `GLASS_EMISSIVITY` when it carries glass.
    """

    mass_kg_per_m2: float
    heat_capacity_j_per_kg_k: float
    heat_capacity_slope: float = 0.0
    back_emissivity: float = 0.75

    def __post_init__(self) -> None:
        if not (0.0 < self.mass_kg_per_m2 < 1e3 and 0.0 < self.heat_capacity_j_per_kg_k < 1e4):
            raise BadInput("a mass and a heat capacity above zero are needed", "metal")
        if not 0.0 < self.back_emissivity <= 1.0:
            raise BadInput("an emissivity lies between 0 and 1", "metal")


def blank_of(family: str, thickness_m: float, density_kg_m3: float, back_glass: bool = False) -> Blank:
    """Return the blank of a family of metal.

    Parameters
    ----------
    family : str
        A key of `HEAT_OF_FAMILY`.
    thickness_m, density_kg_m3 : float
        Of the metal; of a sintered clay, after firing.
    back_glass : bool
        Whether the back carries glass.

    Raises
    ------
    BadInput
        When the family is not known here.
    """
    if family not in HEAT_OF_FAMILY:
        raise BadInput(
            f"no heat capacity is known for '{family}'", "metal", f"use one of: {', '.join(sorted(HEAT_OF_FAMILY))}"
        )
    capacity, slope, emissivity = HEAT_OF_FAMILY[family]
    return Blank(thickness_m * density_kg_m3, capacity, slope, GLASS_EMISSIVITY if back_glass else emissivity)


@dataclass(frozen=True)
class Rack:
    """What carries the piece, per area of the piece (an assumption: a mesh or trivet of a small kiln)."""

    mass_kg_per_m2: float = RACK_KG_PER_M2
    heat_capacity_j_per_kg_k: float = 560.0
    area: float = 1.2
    shade: float = 0.3
    contact_w_per_m2_k: float = 5.0


@dataclass(frozen=True)
class Kiln:
    """A small kiln: how far it falls when the door opens, how soon it recovers, and what goes in at once.

    The usual fall of 60 K, recovered by two thirds in 60 s, is an assumption; it costs more time than the
    thickness of the metal does. It holds what a usual small load takes; `load` is told where there is more.
    """

    door_drop_k: float = 60.0
    recovery_s: float = 60.0
    rack: Rack | None = Rack()
    load: Load | None = None

    def __post_init__(self) -> None:
        if not (0.0 <= self.door_drop_k <= 600.0 and 0.0 < self.recovery_s <= 3600.0):
            raise BadInput(
                "the fall of the kiln or its recovery cannot be so", "kiln", "give 0 to 600 K, and more than 0 s"
            )


USUAL_KILN = Kiln()


class HeatUp(NamedTuple):
    """Times, s, shape (t,); temperatures of piece and kiln, °C, shape (t,) or (t, n)."""

    time_s: Array
    piece_c: Array
    kiln_c: Array


@dataclass(frozen=True)
class Charge:
    """What goes into a hot kiln; the fields are the parameters of `heat_up`."""

    kiln_c: ArrayLike
    blank: Blank
    glass_thickness_m: float = 0.25e-3
    kiln: Kiln = USUAL_KILN
    door_drop_k: ArrayLike | None = None
    recovery_s: ArrayLike | None = None
    load_factor: ArrayLike | None = None


def heat_up(
    kiln_c: ArrayLike,
    blank: Blank,
    glass_thickness_m: float = 0.25e-3,
    kiln: Kiln = USUAL_KILN,
    *,
    door_drop_k: ArrayLike | None = None,
    recovery_s: ArrayLike | None = None,
    load_factor: ArrayLike | None = None,
    longest_s: float = LONGEST_S,
    room_c: float = ROOM_C,
) -> HeatUp:
    """Return the temperature of a piece over time after it enters a hot kiln.

    Parameters
    ----------
    kiln_c : float or array (n,)
        Setting of the kiln, °C; an array follows n pieces at once.
    blank : Blank
        The metal.
    glass_thickness_m : float
        Glass on both faces together, as solid glass.
    kiln : Kiln
        The kiln and rack.
    door_drop_k, recovery_s : float or array (n,), optional
        In place of those of `kiln`, for many kilns at once.
    load_factor : float or array (n,), optional
        How much more than reckoned the load pulls the kiln down.
    longest_s : float
        How long to follow it.
    room_c : float
        Temperature of the piece as it goes in.

    Returns
    -------
    HeatUp
        At every half second or oftener for two minutes, then at every 5 s or less; times to gloss are within
        0.2 % of those of far finer steps.

    Raises
    ------
    BadInput
        For a setting that no kiln has, or a glass thickness below zero.

    Notes
    -----
    Per area, C dT/dt = σ(ε_top + ε_back(1-f))(T_k⁴ - T⁴) + 2h(T_k - T) + σ ε_back f (T_r⁴ - T⁴) + h_r(T_r - T),
    with C of metal and glass, the rack (T_r, shading a fraction f of the back) warmed by the kiln likewise, and the
    kiln at T_k = setting - drop·exp(-t/recovery), or lower under a heavy load (`load.follow`). Stefan-Boltzmann law;
    solved by the classical Runge-Kutta method of fourth order. The lead of the powder over the metal, some 50 K in
    the first 20 s, is left out.
    """
    charge = Charge(kiln_c, blank, glass_thickness_m, kiln, door_drop_k, recovery_s, load_factor)
    return heat_ups([charge], longest_s, room_c)[0]


def heat_ups(charges: Sequence[Charge], longest_s: float = LONGEST_S, room_c: float = ROOM_C) -> list[HeatUp]:
    """Return what `heat_up` does for many charges, those whose steps and surfaces are alike together."""
    courses = [_Course(charge, longest_s) for charge in charges]
    groups: dict[Hashable, list[int]] = {}
    for k, course in enumerate(courses):
        groups.setdefault(course.alike, []).append(k)
    found: dict[int, HeatUp] = {}
    for members in groups.values():
        alike = [courses[k] for k in members]
        followed = _followed(alike, room_c) if alike[0].load is None else [_followed_loaded(c, room_c) for c in alike]
        found |= zip(members, followed, strict=True)
    return [found[k] for k in range(len(charges))]


class _Course:
    """A charge made ready to be followed; courses with equal `alike` can be followed together."""

    def __init__(self, charge: Charge, longest_s: float) -> None:
        kiln, blank = charge.kiln, charge.blank
        setting, drop, tau, factor = np.broadcast_arrays(
            np.asarray(charge.kiln_c, dtype=float),
            np.asarray(kiln.door_drop_k if charge.door_drop_k is None else charge.door_drop_k, dtype=float),
            np.asarray(kiln.recovery_s if charge.recovery_s is None else charge.recovery_s, dtype=float),
            np.asarray(1.0 if charge.load_factor is None else charge.load_factor, dtype=float),
        )
        if not np.all(np.isfinite(setting)) or np.any(setting < 50.0) or np.any(setting > 1600.0):
            raise BadInput("a kiln is set between 50 and 1600 °C", "kiln setting", "give its setting in °C")
        if not 0.0 <= charge.glass_thickness_m < 0.1:
            raise BadInput("the glass cannot be so thick", "glass thickness", "give it in metres, 0 or more")
        self.shape = setting.shape
        self.setting, self.drop, self.tau, self.factor = (np.ravel(x) for x in (setting, drop, tau, factor))
        glass_heat = GLASS_DENSITY_KG_M3 * GLASS_HEAT_CAPACITY_J_PER_KG_K * charge.glass_thickness_m
        self.heat = blank.mass_kg_per_m2 * blank.heat_capacity_j_per_kg_k + glass_heat
        self.heat_slope = blank.mass_kg_per_m2 * blank.heat_capacity_slope
        self.times, steps = _times(self.heat, float(setting.max()), longest_s)
        self.rack, self.back_emissivity = kiln.rack, blank.back_emissivity
        self.load = kiln.load if kiln.load is not None and not kiln.load.is_usual else None
        self.alike = (self.rack, self.back_emissivity, steps, self.load)


class _Exchange:
    """Piece and rack as one system: what each gets from the kiln, and what they give each other, for temperatures and
    their fourth powers."""

    def __init__(self, course: _Course) -> None:
        rack, back = course.rack, course.back_emissivity
        shade, contact = (rack.shade, rack.contact_w_per_m2_k) if rack else (0.0, 0.0)
        rack_area = rack.area if rack else 0.0
        self.rack_heat = rack.mass_kg_per_m2 * rack.heat_capacity_j_per_kg_k if rack else 1.0
        self.from_kiln4 = STEFAN_BOLTZMANN * np.array(
            [[GLASS_EMISSIVITY + back * (1.0 - shade)], [rack_area * _RACK_EMISSIVITY]]
        )
        self.from_kiln = CONVECTION_W_PER_M2_K * np.array([[2.0], [rack_area]])
        between = np.array([[-1.0, 1.0], [1.0, -1.0]])
        self.between4, self.between = STEFAN_BOLTZMANN * back * shade * between, contact * between


def _followed_loaded(course: _Course, room_c: float) -> HeatUp:
    """A course whose load pulls the kiln down."""
    assert course.load is not None
    with_rack = _Exchange(course)
    heat_at_0, heat_slope = (
        np.array([[x], [y]]) for x, y in ((course.heat, with_rack.rack_heat), (course.heat_slope, 0))
    )

    def got(kiln_c: Array, state: Array) -> Array:
        return np.asarray(
            with_rack.from_kiln4 * (_fourth(kiln_c) - _fourth(state)) + with_rack.from_kiln * (kiln_c - state)
        )

    flows = Flows(
        got,
        lambda state: with_rack.between4 @ _fourth(state) + with_rack.between @ state,
        lambda state: heat_at_0 + heat_slope * state,
    )
    fall = Fall(course.drop, course.tau, course.factor)
    pieces, slopes, kilns = follow(course.times, course.setting, fall, course.load, flows, room_c)
    filled_s, filled_c = _filled(course.times, pieces, slopes)
    kiln_c = np.stack([np.interp(filled_s, course.times, one) for one in kilns.T], axis=1)
    return HeatUp(filled_s, filled_c.reshape(-1, *course.shape), kiln_c.reshape(-1, *course.shape))


def _followed(courses: Sequence[_Course], room_c: float) -> list[HeatUp]:
    setting, drop, tau = (np.concatenate([getattr(c, name) for c in courses]) for name in ("setting", "drop", "tau"))
    times, exchange = courses[0].times, _Exchange(courses[0])
    from_kiln4, from_kiln, rack_heat = exchange.from_kiln4, exchange.from_kiln, exchange.rack_heat
    lost4 = exchange.between4 - np.diag(from_kiln4[:, 0])
    lost = exchange.between - np.diag(from_kiln[:, 0])
    counts = [c.setting.size for c in courses]
    heat_at_0 = np.full((2, setting.size), rack_heat)
    heat_at_0[0] = np.repeat([c.heat for c in courses], counts)
    heat_slope = np.zeros((2, setting.size))
    heat_slope[0] = np.repeat([c.heat_slope for c in courses], counts)

    def rate(state: Array, got: Array) -> Array:
        return np.asarray((got + lost4 @ _fourth(state) + lost @ state) / (heat_at_0 + heat_slope * state))

    def got(times_s: Array) -> Array:
        hot = setting - drop * np.exp(-times_s[:, None] / tau)
        return np.asarray(from_kiln4 * _fourth(hot)[:, None] + from_kiln * hot[:, None])

    state = np.full((2, setting.size), room_c)
    pieces, slopes = np.empty((2, times.size, setting.size))
    steps = np.diff(times)
    at_ends, at_middles = got(times), got(times[:-1] + steps / 2.0)
    for i, step in enumerate(steps.tolist()):
        k1 = rate(state, at_ends[i])
        pieces[i], slopes[i] = state[0], k1[0]
        k2 = rate(state + k1 * (step / 2.0), at_middles[i])
        k3 = rate(state + k2 * (step / 2.0), at_middles[i])
        k4 = rate(state + k3 * step, at_ends[i + 1])
        state = state + (k1 + 2.0 * (k2 + k3) + k4) * (step / 6.0)
    pieces[-1], slopes[-1] = state[0], rate(state, at_ends[-1])[0]
    filled_s, filled_c = _filled(times, pieces, slopes)
    kilns = setting - drop * np.exp(-filled_s[:, None] / tau)
    ends = np.cumsum(counts)[:-1]
    return [
        HeatUp(filled_s, piece.reshape(-1, *c.shape), kiln.reshape(-1, *c.shape))
        for c, piece, kiln in zip(courses, np.split(filled_c, ends, axis=1), np.split(kilns, ends, axis=1), strict=True)
    ]


def _filled(times: Array, values: Array, slopes: Array) -> tuple[Array, Array]:
    """More times between those of the steps, and values there by the cubic of both ends and their slopes."""
    steps = np.diff(times)
    parts = np.ceil(steps / np.where(times[:-1] < _LATE_S, _FILLED_S, _LATE_FILLED_S) - 1e-9).astype(int)
    at = np.repeat(np.arange(steps.size), parts)
    u = (np.arange(at.size) - np.repeat(np.cumsum(parts) - parts, parts)) / parts[at]
    rise = u * u * (3.0 - 2.0 * u)
    from_0, from_1 = ((x * steps[at])[:, None] for x in (u * (1.0 - u) ** 2, u * u * (u - 1.0)))
    more = values[at] + rise[:, None] * (values[at + 1] - values[at]) + from_0 * slopes[at] + from_1 * slopes[at + 1]
    return np.append(times[at] + steps[at] * u, times[-1]), np.concatenate([more, values[-1:]])


def _fourth(temp_c: Array) -> Array:
    """Fourth power of the absolute temperature, K⁴; two squarings are far quicker than a power."""
    squared = (temp_c + KELVIN) ** 2
    return squared * squared


def _times(heat: float, hottest_c: float, longest_s: float) -> tuple[Array, tuple[float, ...]]:
    """Times of the steps, and what they follow from: a fraction of the time in which the piece follows the kiln.

    Steps come from a ladder, so that pieces nearly alike have the same.
    """
    gain = 8.0 * STEFAN_BOLTZMANN * (hottest_c + KELVIN) ** 3 + 2.0 * CONVECTION_W_PER_M2_K
    follows = heat / gain
    step = max(_rung(_STEP_FRACTION * follows, _STEP_S), 0.02)
    late_step = max(_rung(_LATE_STEP_FRACTION * follows, _LATE_STEP_S), step)
    early = np.arange(0.0, min(_LATE_S, longest_s) + step / 2.0, step)
    late = np.arange(early[-1] + late_step, longest_s + late_step / 2.0, late_step)
    return np.concatenate([early, late]), (step, late_step, longest_s)


def _rung(value: float, highest: float) -> float:
    """The highest rung of a ladder from `highest` down, each half of the one above, that is not over a value."""
    return highest * 0.5 ** max(0, math.ceil(math.log2(highest / value) - 1e-9))
