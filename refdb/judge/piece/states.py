"""Following a piece from step to step: what lies on each face, what is fused, and the state at every firing."""

from __future__ import annotations

from collections.abc import Mapping

from refdb.frozen import dataclass
from refdb.judge.own import kiln
from refdb.judge.piece.steps import DRAWINGS, LAYERS, Piece, Step
from refdb.quantities.typed import Band
from refdb.records import Glass, Leaf, Metal


@dataclass(frozen=True)
class Coat:
    """A layer of glass on one face or in an opening, in the order laid.

    `line` marks what does not count as a layer of its face: drawing, which is too thin, and what is set into glass.
    """

    number: int
    step: Step
    glass: Glass
    thickness_m: Band
    line: bool

    @property
    def face(self) -> str:
        """Front, back or opening."""
        return self.step.place

    @property
    def is_plate(self) -> bool:
        """Whether it is a layer on the metal."""
        return not self.line and self.step.within != "opening"


@dataclass(frozen=True)
class LeafOn:
    """A leaf on one face."""

    step: Step
    leaf: Leaf


Item = Coat | LeafOn


@dataclass(frozen=True)
class Fire:
    """One firing: which coats are on, which of them are new, and what else is on the faces.

    `faces` lists the items of each face from the metal out; `bare` the faces without any glass; `masked` and
    `cleaned` those masked before it, and cleaned since the fire before it. `offset_k` is how much hotter the kiln is
    than it shows.
    """

    number: int
    step: Step
    coats: tuple[int, ...]
    new: tuple[int, ...]
    faces: Mapping[str, tuple[Item, ...]]
    bare: tuple[str, ...]
    masked: tuple[str, ...]
    offset_k: Band = kiln.TRUE

    @property
    def title(self) -> str:
        """The firing with its step, or as it was named."""
        if self.step.name:
            return self.step.name
        heat = f" at {self.step.kiln_c:.0f} °C" if self.step.kiln_c is not None else ""
        return f"firing {self.number}{heat}, step {self.step.number}"

    @property
    def heat(self) -> Band | None:
        """What the kiln is at its setting [°C]; None where no setting is known."""
        return kiln.heat_c(self.step.kiln_c, self.offset_k) if self.step.kiln_c is not None else None

    @property
    def hottest_c(self) -> float | None:
        """The hot end of `heat`, for limits beyond which something melts."""
        return self.heat.high if self.heat is not None else None


class Walk:
    """All that a piece goes through; it grows while the piece is walked. `metals` are those that its steps set in."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece
        self.coats: list[Coat] = []
        self.leaves: list[LeafOn] = []
        self.fires: list[Fire] = []
        self.faces: dict[str, list[Item]] = {"front": [], "back": []}
        self.unfired: tuple[Item, ...] = ()
        self.metals: Mapping[str, Metal] = {}

    def fire_of(self, coat: Coat) -> Fire | None:
        """The firing that fuses a coat, or None when it is never fired."""
        return next((f for f in self.fires if coat.number in f.new), None)

    def fires_after(self, step: Step) -> list[Fire]:
        """The firings that come after a step."""
        return [f for f in self.fires if f.step.number > step.number]

    def beneath(self, item: Item) -> list[Item]:
        """What lies between an item and the metal, nearest first."""
        face = self.faces[item.step.place]
        return list(reversed(face[: face.index(item)]))

    def above(self, item: Item) -> list[Item]:
        """What is laid on an item later, nearest first."""
        face = self.faces[item.step.place]
        return face[face.index(item) + 1 :]

    @property
    def solid(self) -> dict[str, Glass]:
        """The glasses of all but drawing, by key, in the order in which they are first laid."""
        return {c.glass.key: c.glass for c in self.coats if c.step.do not in DRAWINGS}

    def before(self, step: Step) -> list[Item]:
        """What lies on the face of a step when it is done, from the metal out."""
        return [i for i in self.faces[step.face] if i.step.number < step.number]

    def after(self, step: Step) -> list[Item]:
        """What is laid on the face of a step later, in its order."""
        return [i for i in self.faces[step.face] if i.step.number > step.number]

    @property
    def offset_k(self) -> Band:
        """How much hotter the kiln is than it shows [K]; one kiln for all, none where no setting is known."""
        return next((f.offset_k for f in self.fires if f.step.kiln_c is not None), kiln.TRUE)

    def glass(self, key: str) -> Glass:
        """The glass of a coat."""
        return next(c.glass for c in self.coats if c.glass.key == key)

    def is_fused(self, coat: Coat, before: Step) -> bool:
        """Whether a coat has been through a fire before a step."""
        fire = self.fire_of(coat)
        return fire is not None and fire.step.number < before.number


def walk(piece: Piece, glasses: Mapping[str, Glass], leaves: Mapping[str, Leaf], offset_k: Band = kiln.TRUE) -> Walk:
    """Follow the steps of a piece.

    Parameters
    ----------
    piece : Piece
        Its steps hold the settings as the person sets them, and go on doing so.
    glasses, leaves : mapping
        The records that its steps name.
    offset_k : Band
        How much hotter the kiln is than it shows [K].

    Raises
    ------
    BadInput
        A fire is no heat of a kiln once the offset is counted in.
    """
    trail = Walk(piece)
    waiting: list[int] = []
    masked: set[str] = set()
    for step in piece.steps:
        if step.glass:
            assert step.thickness_m is not None
            coat = Coat(len(trail.coats), step, glasses[step.glass], step.thickness_m, step.do not in LAYERS)
            trail.coats.append(coat)
            trail.faces.setdefault(step.place, []).append(coat)
            waiting.append(coat.number)
        elif step.do == "leaf":
            on = LeafOn(step, leaves[step.leaf])
            trail.leaves.append(on)
            trail.faces[step.face].append(on)
        elif step.do == "mask":
            masked.add(step.face)
        elif step.do == "fire":
            if step.kiln_c is not None:
                kiln.check_heat(step.kiln_c, offset_k, step.title)
            fire = Fire(
                len(trail.fires) + 1,
                step,
                tuple(c.number for c in trail.coats),
                tuple(waiting),
                {face: tuple(items) for face, items in trail.faces.items()},
                tuple(f for f in ("front", "back") if not any(isinstance(i, Coat) for i in trail.faces[f])),
                tuple(sorted(masked)),
                offset_k,
            )
            trail.fires.append(fire)
            waiting = []
    last = max((f.step.number for f in trail.fires), default=0)
    trail.unfired = tuple(i for face in trail.faces.values() for i in face if i.step.number > last)
    return trail
