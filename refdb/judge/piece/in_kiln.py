"""What goes into the kiln in one firing: the metal to be warmed, the glass on it, and the load around it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from refdb.frozen import dataclass
from refdb.judge.limits import DOME_RISE_M
from refdb.judge.piece.states import Coat, Fire, LeafOn, Walk
from refdb.judge.piece.steps import Piece
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.science.firing.heating import Kiln
    from refdb.science.firing.load import Load

#: What a minute rests on where the file says nothing of kiln and load: rows of practice.
LOAD_ROWS = ("kiln-power", "kiln-rack", "kiln-usual-load")


@dataclass(frozen=True)
class Heated:
    """A piece in one firing: its metal, that metal's thickness and all glass on both faces [m], and the load.

    `load` is None for a usual small one.
    """

    metal: Metal
    metal_m: float
    glass_m: float
    load: Load | None = None

    @property
    def kiln(self) -> Kiln:
        """The kiln with what is in it."""
        from refdb.frozen import replace
        from refdb.science.firing.heating import USUAL_KILN

        if self.load is None:
            return USUAL_KILN
        return replace(USUAL_KILN, load=self.load, rack=USUAL_KILN.rack if self.load.rack_kg else None)


def heated(trail: Walk, fire: Fire, metal: Metal) -> Heated:
    """What goes into the kiln in a firing of a piece."""
    # The thickest metal is hot last: the land of a recess, and of openings the frame.
    glass_m = sum(trail.coats[n].thickness_m.value for n in fire.coats if trail.coats[n].step.do != "inset")
    return Heated(metal, trail.piece.base.thickness_m.value, glass_m, load_of(trail.piece))


def load_of(piece: Piece) -> Load | None:
    """The load of a piece's firings; None where its kiln and rack are as usual and it is small."""
    load = whole_load(piece)
    return load if not load.is_usual or not load.rack_kg else None


def whole_load(piece: Piece) -> Load:
    """The load of a piece's firings: as its file says, else one piece at a time on a usual rack in a usual kiln."""
    from refdb.science.firing.load import POWER_W, RACK_KG_PER_M2, USUAL_RACK_KG, Load

    said = piece.in_kiln
    area_m2 = _surface_m2(piece) * said.at_once
    rack_kg = said.rack_kg if said.rack_kg is not None else max(USUAL_RACK_KG, RACK_KG_PER_M2 * area_m2)
    return Load(area_m2, rack_kg, said.power_w if said.power_w is not None else POWER_W[1])


def _surface_m2(piece: Piece) -> float:
    """One face along a dome: that of a spherical cap over its outline."""
    if piece.area_given_m2 is not None or piece.shape != "domed":
        return piece.area_m2
    rise = piece.rise_m.value if piece.rise_m is not None else DOME_RISE_M[0]
    return piece.area_m2 * (1.0 + 4.0 * rise**2 / (piece.width_m * piece.height_m))


def molten_under(trail: Walk, coat: Coat) -> Sequence[tuple[Glass, float]]:
    """Glass right under a coat down to metal or leaf, nearest first, with its thickness [m]: what is molten with it.

    What covers less than the coat does is left out.
    """
    found: list[tuple[Glass, float]] = []
    for item in trail.beneath(coat):
        if isinstance(item, LeafOn):
            break
        if not item.line and (item.step.coverage >= coat.step.coverage or math.isclose(item.step.coverage, 1.0)):
            found.append((item.glass, item.thickness_m.value))
    return tuple(found)
