"""A piece as its maker describes it: the base, and the steps in the order they are done."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from refdb.frozen import dataclass, field
from refdb.judge.clay import Sintered
from refdb.judge.limits import HOURS_BETWEEN_FIRINGS, KILN_MOST_C
from refdb.quantities.typed import Band
from refdb.records import ObservedFiring

USES = ("adult", "child", "food", "display")
SHAPES = ("flat", "domed")
DOINGS = (
    *("coat", "leaf", "line", "fire", "mask", "clean", "join", "stone"),
    *("recess", "wire", "opening", "inset", "paint", "decal", "lustre", "slip"),
)
FACES = ("front", "back")
#: What is laid as glass: as a layer that counts in the plate, and as drawing, too thin to count.
LAYERS, DRAWINGS = ("coat", "slip"), ("line", "paint", "decal")
#: What a coat can lie in, instead of over its face.
WITHIN = ("recess", "opening")
#: What closes an opening while it is filled, and how it comes off.
BACKINGS = ("none", "mica", "copper foil")
#: The films that lustres and liquid metals leave.
LUSTRES = ("gold", "platinum", "silver", "copper", "mother of pearl")

#: Joins that melt nothing.
COLD_JOINS = ("none", "rivet", "setting", "adhesive", "fusion")


@dataclass(frozen=True)
class Step:
    """One thing done. Which fields hold depends on `do`; `number` counts from 1 as the file lists them.

    `thickness_m` is the fired thickness of this coat [m]; `siftings` is kept where it was given instead. `coverage`
    is the share of the face it covers. `washed`, `dried` and `pierced` are None where nothing is said. `solder` is a
    key of the solders, or one of `COLD_JOINS`. `name` is what a fire is called where it has no step of its own to be
    known by; coats that share `drawn_with` are drawn as one thickness in a sample.

    `depth_m` goes from the shallowest to the deepest place of a recess, `height_m` is that of a wire, `size_m` the
    distance across an opening or an inset and `frame_m` the metal between openings [m]. `metal` is the key of a wire's
    or an inset's, `length_m` how much wire of a step one piece takes [m], `count` how many insets. `within` is where a
    coat lies instead of over its face, one of `WITHIN`, or empty. `bent` and `vented` are None where nothing is said.
    `cooling_min` is how long a fire's piece then takes through the set point in the closed kiln [min]; None for air.
    """

    number: int
    do: str
    face: str = "front"
    glass: str = ""
    leaf: str = ""
    thickness_m: Band | None = None
    siftings: int | None = None
    coverage: float = 1.0
    washed: bool | None = None
    dried: bool | None = None
    pierced: bool | None = None
    solder: str = ""
    kiln_c: float | None = None
    minutes: float | None = None
    note: str = ""
    name: str = ""
    drawn_with: str = ""
    depth_m: Band | None = None
    height_m: Band | None = None
    size_m: Band | None = None
    frame_m: Band | None = None
    metal: str = ""
    within: str = ""
    backing: str = ""
    lustre: str = ""
    length_m: float | None = None
    count: int = 1
    bent: bool | None = None
    vented: bool | None = None
    cooling_min: float | None = None

    @property
    def place(self) -> str:
        """Where it lies: a face, or "opening"."""
        return "opening" if self.within == "opening" else self.face

    @cached_property
    def title(self) -> str:
        """The step in a few words, with its number."""
        what = {
            "coat": f"{self.glass} on the {self.face}",
            "leaf": f"{self.leaf} on the {self.face}",
            "line": f"line work on the {self.face}",
            "mask": f"mask the {self.face}",
            "clean": f"clean the {self.face}",
            "stone": f"stone the {self.face}",
            "join": f"join with {self.solder}",
            "recess": f"recess in the {self.face}",
            "wire": f"wire of {self.metal} on the {self.face}",
            "opening": "openings through the metal",
            "inset": f"{self.glass or self.metal} set in the {self.face}",
            "paint": f"painting on the {self.face}",
            "decal": f"decal on the {self.face}",
            "lustre": f"{self.lustre} lustre on the {self.face}",
            "slip": f"slip of {self.glass} on the {self.face}",
        }.get(self.do, "")
        if self.within == "opening":
            what = f"{self.glass} in the openings"
        if self.do == "fire":
            what = f"fire at {self.kiln_c:.0f} °C" if self.kiln_c is not None else "fire"
        return f"step {self.number}, {what}"


@dataclass(frozen=True)
class Base:
    """The metal: its key, thickness after firing [m], how that was said, a clay's size before firing [m] and how it was
    sintered, where that is said."""

    metal: str
    thickness_m: Band
    said: str = ""
    note: str = ""
    fresh_thickness_m: Band | None = None
    fresh_width_m: float | None = None
    fresh_height_m: float | None = None
    sintered: Sintered | None = None


@dataclass(frozen=True)
class InKiln:
    """What the kiln and its load are said to be: rated power [W], rack [kg], pieces in at once; None as is usual."""

    power_w: float | None = None
    rack_kg: float | None = None
    at_once: int = 1


@dataclass(frozen=True)
class Piece:
    """A whole piece. `area_m2` is that of one face; `rise_m` the height of a dome over its rim.

    `seen` holds firings that the person watched and gives with the piece; they go before stored ones. `is_question`
    marks the small piece that a question about a glass on a metal becomes: nothing is said of how it is handled, so
    rules of handling are silent, and its coats need not be told apart. `hours_between` is how long a coat waits for the
    next fire, `kiln_most_c` the hottest that the kiln goes, `in_kiln` what it is and what goes into it at once. `taken`
    says how names were taken, see `judge.naming`.
    """

    title: str
    width_m: float
    height_m: float
    base: Base
    steps: tuple[Step, ...]
    quantity: int = 1
    use: str = "adult"
    shape: str = "flat"
    rise_m: Band | None = None
    area_given_m2: float | None = None
    seen: tuple[ObservedFiring, ...] = ()
    is_question: bool = False
    hours_between: float = HOURS_BETWEEN_FIRINGS
    kiln_most_c: float = KILN_MOST_C
    in_kiln: InKiln = InKiln()
    taken: Mapping[str, Any] = field(default_factory=dict, compare=False)

    def steps_of(self, *doings: str) -> tuple[Step, ...]:
        """Its steps of these kinds, in order."""
        return tuple(s for s in self.steps if s.do in doings)

    @property
    def area_m2(self) -> float:
        """Area of one face [m²]: as given, or of the ellipse in width and height."""
        return self.area_given_m2 or 0.7854 * self.width_m * self.height_m


def in_mm(band: Band) -> dict[str, float]:
    """A thickness [m] in mm, as a question holds it."""
    return {n: round(getattr(band, n) * 1e3, 4) for n in ("value", "low", "high")}
