"""What a piece file says of cells: recesses, wires, openings, and what is set into the glass."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Protocol

from refdb.frozen import replace
from refdb.judge.limits import THICKEST_M, THINNEST_METAL_M
from refdb.judge.piece.steps import BACKINGS, WITHIN, Base, Step
from refdb.quantities.band import Band
from refdb.quantities.lengths import length_m

if TYPE_CHECKING:
    from refdb.errors import BadInput

#: Nothing that is set or cut is smaller than this across, nor larger [m].
_SIZES_M = (0.1e-3, 0.1)
#: A piece takes no more wire than this [m], and no more insets of a step.
MOST_WIRE_M, MOST_SET_IN = 20.0, 500
#: A floor is written to this [m]; less is left to rounding.
_HAIR_M = 1e-9


class Reads(Protocol):
    """The reader of a file, as far as it is used here."""

    file: str
    names: Any

    def fault(self, what: str, place: str, todo: str = "") -> BadInput:
        """A fault at a place of the file."""

    def thick(self, value: Any, place: str, shrinkage: Band | None = None) -> Any:
        """A thickness with what was said of it."""

    def word(self, table: Mapping[str, Any], key: str, words: tuple[str, ...], place: str, default: str = "") -> str:
        """One of some words."""

    def read(self, parser: Any, value: Any, place: str) -> Any:
        """What a parser makes of a text."""

    def whole(self, table: Mapping[str, Any], key: str, place: str, default: int, most: int) -> int:
        """A whole number from one up."""

    def record(self, look_up: Any, value: Any, place: str) -> Any:
        """What the store has under a name."""


def read_cells(reader: Reads, table: Mapping[str, Any], do: str, place: str) -> dict[str, Any]:
    """The fields of a step that makes or fills cells.

    Raises
    ------
    BadInput, NotFound
        A key is missing, or its value makes no sense.
    """
    made: dict[str, Any] = {}
    if "within" in table:
        made["within"] = reader.word(table, "within", WITHIN, place)
    if do == "recess":
        if ("depth" in table) == ("floor" in table):
            raise reader.fault(
                "depth and floor are both given" if "depth" in table else "the depth is missing",
                place,
                'say depth = "0.2-0.4 mm", or floor = "0.5 mm" for the metal that is left',
            )
        key = "depth" if "depth" in table else "floor"
        # A floor is turned into a depth when the metal is known.
        made["depth_m" if key == "depth" else "height_m"] = reader.thick(table[key], f"{place} {key}").band
    elif do == "wire":
        made["metal"] = _metal(reader, table, place)
        made["thickness_m"] = _needed(reader, table, "thickness", "0.2 mm", place)
        made["height_m"] = _needed(reader, table, "height", "0.8 mm", place)
        if made["height_m"].value < made["thickness_m"].value:
            raise reader.fault("the wire is thicker than high", f"{place} height", "a cloison stands on its edge")
        if "length" in table:
            made["length_m"] = _length(reader, table["length"], f"{place} length")
    elif do == "opening":
        made["size_m"] = _size(reader, table, "size", "6 mm", place)
        made["frame_m"] = _size(reader, table, "frame", "1 mm", place)
        made["backing"] = reader.word(table, "backing", BACKINGS, place, "none")
    elif do == "inset":
        if ("glass" in table) == ("metal" in table):
            raise reader.fault(
                "glass and metal are both given" if "glass" in table else "what is set is missing",
                place,
                'say glass = "white-opaque-lead-free" or metal = "fine-silver-sheet"',
            )
        if "glass" in table:
            made["glass"] = reader.record(reader.names.glass, table["glass"], f"{place} glass").key
        else:
            made["metal"] = _metal(reader, table, place)
        made["thickness_m"] = _needed(reader, table, "thickness", "1 mm", place)
        made["size_m"] = _size(reader, table, "size", "3 mm", place)
        made["count"] = reader.whole(table, "count", place, 1, MOST_SET_IN)
    return made


def _length(reader: Reads, value: Any, place: str) -> float:
    found: float = reader.read(length_m, value, place)
    if not _SIZES_M[0] <= found <= MOST_WIRE_M:
        raise reader.fault(f"{found * 1e3:g} mm of wire", place, f"give 1 mm to {MOST_WIRE_M:g} m, for one piece")
    return found


def _metal(reader: Reads, table: Mapping[str, Any], place: str) -> str:
    if "metal" not in table:
        raise reader.fault("the metal is missing", place, 'say metal = "fine-silver-sheet"')
    found: str = reader.record(reader.names.metal, table["metal"], f"{place} metal").key
    return found


def _needed(reader: Reads, table: Mapping[str, Any], key: str, such_as: str, place: str) -> Band:
    if key not in table:
        raise reader.fault(f"the {key} is missing", place, f'say {key} = "{such_as}"')
    found: Band = reader.thick(table[key], f"{place} {key}").band
    return found


def _size(reader: Reads, table: Mapping[str, Any], key: str, such_as: str, place: str) -> Band:
    found = _needed(reader, table, key, such_as, place)
    if not _SIZES_M[0] <= found.low <= found.high <= _SIZES_M[1]:
        what = f"a {key} of {found.value * 1e3:g} mm"
        raise reader.fault(what, f"{place} {key}", f"give {_SIZES_M[0] * 1e3:g} to {_SIZES_M[1] * 1e3:g} mm")
    return found


def check_cells(reader: Reads, steps: tuple[Step, ...], base: Base, least_m: float) -> tuple[Step, ...]:
    """The steps with every depth worked out, held against the metal, the size and each other.

    Parameters
    ----------
    reader : Reads
    steps : tuple of Step
    base : Base
    least_m : float
        The smaller of the width and height of the piece [m].

    Raises
    ------
    BadInput
        A recess through the metal, a second one on a face, a coat within what is not there, an opening as large as
        the piece.
    """
    done: list[Step] = []
    for step in steps:
        place = f"step {step.number}"
        if step.do == "recess":
            done.append(_recess(reader, step, done, base, place))
            continue
        if step.within:
            made = [s for s in done if s.do == step.within and (s.do == "opening" or s.face == step.face)]
            if not made:
                where = f" on the {step.face}" if step.within == "recess" else ""
                raise reader.fault(f"there is no {step.within}{where} before it", f"{place} within", "make it first")
        if step.do == "opening" and any(s.do == "opening" for s in done):
            raise reader.fault("the openings are told twice", place, "tell the largest one")
        if step.size_m is not None and step.size_m.low >= least_m:
            raise reader.fault(
                f"{step.size_m.low * 1e3:g} mm is more than a piece of {least_m * 1e3:g} mm holds",
                f"{place} size",
                "give the distance across it",
            )
        done.append(step)
    return tuple(done)


def _recess(reader: Reads, step: Step, done: list[Step], base: Base, place: str) -> Step:
    if any(s.do == "recess" and s.face == step.face for s in done):
        raise reader.fault(
            f"the {step.face} has a recess already", place, 'tell all of it in one: depth = "0.2-0.4 mm"'
        )
    if any(s.do in ("coat", "slip") and s.face == step.face for s in done):
        raise reader.fault("a recess under glass that is laid already", place, "cut it before the first coat")
    metal = base.thickness_m
    if step.height_m is not None:
        floor = step.height_m
        depth = Band(metal.value - floor.value, metal.value - floor.high, metal.value - floor.low)
        if depth.low <= _HAIR_M:
            raise reader.fault(
                f"a floor of {floor.high * 1e3:g} mm in metal of {metal.value * 1e3:g} mm",
                f"{place} floor",
                "give less than the metal",
            )
    else:
        assert step.depth_m is not None
        depth = step.depth_m
    other = next((s.depth_m.high for s in done if s.do == "recess" and s.depth_m is not None), 0.0)
    if depth.high + other > metal.low - THINNEST_METAL_M or depth.high > THICKEST_M:
        raise reader.fault(
            f"{(depth.high + other) * 1e3:g} mm deep in metal of {metal.low * 1e3:g} mm",
            f"{place} depth",
            "leave a floor, or use thicker metal",
        )
    return replace(step, depth_m=depth, height_m=None)
