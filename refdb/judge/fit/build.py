"""How a coat is built up: the firings of a plain piece, each a state that has to hold."""

from __future__ import annotations

from math import isfinite

from refdb.errors import BadInput
from refdb.frozen import dataclass, replace
from refdb.judge.limits import (
    DOME_RISE_M,
    FIRST_COAT_M,
    HOURS_BETWEEN_FIRINGS,
    KILN_MOST_C,
    THICKEST_M,
    THINNEST_METAL_M,
)
from refdb.judge.own.kiln import TRUE
from refdb.judge.piece.steps import SHAPES
from refdb.quantities import Band

#: No dome of a piece is higher [m], and no kiln for enamel is set cooler or hotter [°C].
HIGHEST_RISE_M = 100e-3
COOLEST_KILN_C, HOTTEST_KILN_C = 100.0, 1400.0
#: Which face gets the first coat, or both in one fire.
FRONT_FIRST, BACK_FIRST, TOGETHER = ORDERS = ("front-first", "back-first", "together")
#: A coat waits no longer than this between firings [h]: ten years.
MOST_HOURS = 87_660.0
#: No kiln is off by more [K].
MOST_OFFSET_K = 300.0


@dataclass(frozen=True)
class Build:
    """Thicknesses of a piece after firing [m], its shape, and how the kiln is set.

    `first_m` is the most a first coat is laid; `order` one of `ORDERS`, in which faces get it, empty for the face with
    more glass first; `hours_between` how long a coat waits for the next fire. `kiln_c` is the setting asked about, if
    any, `kiln_offset_k` what the kiln is hotter than it shows and `kiln_most_c` the hottest it goes; `kiln_rests_on`
    says in words where that is written down.
    """

    metal_m: Band = Band(0.8e-3, 0.8e-3, 0.8e-3)
    front_m: Band = Band(0.3e-3, 0.3e-3, 0.3e-3)
    back_m: Band = Band(0.3e-3, 0.3e-3, 0.3e-3)
    first_m: float = FIRST_COAT_M
    shape: str = "flat"
    rise_m: Band = Band(*DOME_RISE_M)
    kiln_c: float | None = None
    kiln_offset_k: Band = TRUE
    kiln_rests_on: str = ""
    order: str = ""
    hours_between: float = HOURS_BETWEEN_FIRINGS
    kiln_most_c: float = KILN_MOST_C

    def checked(self) -> Build:
        """This build, or BadInput for one that cannot be fired."""
        if self.shape not in SHAPES:
            raise BadInput(f"no shape is called '{self.shape}'", "shape", "use flat or domed")
        for where, band in (("metal thickness", self.metal_m), ("front", self.front_m), ("back", self.back_m)):
            if band.low < 0 or band.high > THICKEST_M:
                raise BadInput(
                    f"{band.value * 1e3:g} mm is no thickness of a piece", where, f"give 0 to {THICKEST_M * 1e3:g} mm"
                )
        if self.metal_m.low < THINNEST_METAL_M:
            raise BadInput(
                f"{self.metal_m.value * 1e3:g} mm of metal carries no glass",
                "metal thickness",
                "give the thickness after firing, such as 0.8mm",
            )
        if self.front_m.value <= 0 and self.back_m.value <= 0:
            raise BadInput("there is no glass on either face", "front and back", "give one of them, such as 0.3mm")
        if self.kiln_c is not None and not isfinite(self.kiln_c):
            raise BadInput("a kiln setting must be a number", "kiln", "give a temperature such as 815 °C")
        if self.kiln_c is not None and not COOLEST_KILN_C <= self.kiln_c <= HOTTEST_KILN_C:
            raise BadInput(
                f"{self.kiln_c:.0f} °C is no setting of a kiln for enamel",
                "kiln",
                f"give {COOLEST_KILN_C:.0f} to {HOTTEST_KILN_C:.0f} °C, such as 815C or 1500F",
            )
        most_k = max(self.kiln_offset_k.low, self.kiln_offset_k.high, key=abs)
        if abs(most_k) > MOST_OFFSET_K:
            raise BadInput(
                f"no kiln is off by {abs(most_k):.0f} K",
                "kiln offset",
                f"give at most {MOST_OFFSET_K:.0f} K, such as 10K or 18F",
            )
        if not 0 < self.first_m <= THICKEST_M:
            raise BadInput(f"{self.first_m * 1e3:g} mm is no first coat", "first", "give a thickness such as 0.2mm")
        if self.order and self.order not in ORDERS:
            raise BadInput(f"no order of faces is called '{self.order[:40]}'", "order", f"use {', '.join(ORDERS)}")
        if not 0 < self.hours_between <= MOST_HOURS:
            raise BadInput(
                f"{self.hours_between:g} h is no wait between firings", "between", "give a time such as 1 day"
            )
        if not COOLEST_KILN_C <= self.kiln_most_c <= HOTTEST_KILN_C:
            raise BadInput(
                f"{self.kiln_most_c:.0f} °C is not the most of a kiln for enamel",
                "kiln most",
                f"give {COOLEST_KILN_C:.0f} to {HOTTEST_KILN_C:.0f} °C, such as 1000C",
            )
        if self.shape == "domed" and self.rise_m.low <= 0:
            raise BadInput("a dome needs a rise above zero", "rise", "give its height over the rim, such as 2mm")
        if self.shape == "domed" and self.rise_m.high > HIGHEST_RISE_M:
            raise BadInput(
                f"{self.rise_m.value * 1e3:g} mm is no rise of a dome",
                "rise",
                f"give its height over the rim, at most {HIGHEST_RISE_M * 1e3:g} mm",
            )
        return self


@dataclass(frozen=True)
class State:
    """One state of a build: the share of each face's glass that is on, and whether it is the finished piece."""

    name: str
    front_m: Band
    back_m: Band
    finished: bool


def _most(band: Band, limit: float) -> Band:
    return Band(min(band.value, limit), min(band.low, limit), min(band.high, limit))


_NONE = Band(0.0, 0.0, 0.0)


def firings(build: Build) -> tuple[State, ...]:
    """The states of a build: first coat on one face, then the other face, then all of it.

    The face with more glass is coated first unless the order says otherwise; `together` fires both first coats at
    once. States that add nothing are left out.
    """
    first = {"front": _most(build.front_m, build.first_m), "back": _most(build.back_m, build.first_m)}
    glazed = [face for face in ("front", "back") if first[face].value > 0]
    if build.order == BACK_FIRST or (not build.order and build.back_m.value > build.front_m.value):
        glazed.reverse()
    if build.order == TOGETHER and len(glazed) == 2:
        states = [State("first coats, both faces", first["front"], first["back"], finished=False)]
    else:
        alone = {face: first[face] if face == glazed[0] else _NONE for face in ("front", "back")}
        states = [State(f"first coat, {glazed[0]}", alone["front"], alone["back"], finished=False)]
        if len(glazed) == 2:
            states.append(State(f"then the {glazed[1]}", first["front"], first["back"], finished=False))
    if (build.front_m, build.back_m) == (states[-1].front_m, states[-1].back_m):
        states[-1] = replace(states[-1], finished=True)
    else:
        states.append(State("full build", build.front_m, build.back_m, finished=True))
    return tuple(states)
