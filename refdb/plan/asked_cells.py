"""Recesses, openings, wires and insets without a piece file, as people type them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from refdb.errors import BadInput, NotFound
from refdb.frozen import replace
from refdb.judge.fit.question import metal_thickness
from refdb.judge.piece.steps import BACKINGS, Base, Step
from refdb.plan.asked_amounts import lengths_of
from refdb.plan.cells_text import MOST_SET_IN, MOST_WIRE_M
from refdb.quantities.amounts import fraction
from refdb.quantities.forgiving import completed
from refdb.quantities.lengths import thickness
from refdb.quantities.typed import Band
from refdb.words import shortened

if TYPE_CHECKING:
    from refdb.judge.naming import Taking

#: Sizes across and heights [m].
_LEAST_M, _MOST_M = 0.02e-3, 0.1
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_UNIT = r"(?: ?(?:mm|cm|m|inch(?:es)?|in|\"))"
_COVER = re.compile(rf"\b({_NUMBER}) ?(?:%|per ?cent)(?: of it)?", re.IGNORECASE)
_FACE = re.compile(r"\b(?:(?:in|on) (?:the )?)?(front|back)\b", re.IGNORECASE)
_TWO = re.compile(rf"(?<![\w.]){_NUMBER}{_UNIT}? ?(?:[x×*]|by) ?{_NUMBER}{_UNIT}?(?![\w.])", re.IGNORECASE)
_ONE = re.compile(rf"(?<![\w.]){_NUMBER}(?: ?(?:-|–|to) ?{_NUMBER})?{_UNIT}(?![\w.])", re.IGNORECASE)
_COUNT = re.compile(r"^([0-9]{1,6})(?: ?[x×])?(?=\s)", re.IGNORECASE)
_IDLE = re.compile(r"\b(?:of|long|deep|across|each|in all|wide|and|high|thick|at)\b|,", re.IGNORECASE)
#: What is said of each, as a message offers it.
_SUCH_AS = {
    "--recess": '"0.2-0.4 mm, 60 % front"',
    "--opening": '"5 mm, 40 %"',
    "--wire": '"fine silver 0.15x0.8 mm, 120 mm"',
    "--inset": '"3 opaque white 4x0.8 mm"',
    "--metal": '"copper 1.2 mm"',
}


class _Said:
    """What is said of one thing, from which parts are taken one by one."""

    def __init__(self, text: str, option: str) -> None:
        self.text, self.rest, self.option = text, text, option

    def fault(self, what: str) -> BadInput:
        return BadInput(what, self.option, f"write for example {_SUCH_AS[self.option]}")

    def taken(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        found = pattern.search(self.rest)
        if found:
            self.rest = f"{self.rest[: found.start()]} {self.rest[found.end() :]}"
        return found

    def cover(self) -> float:
        """Its share of the face, all of it where nothing is said."""
        found = self.taken(_COVER)
        share = fraction(f"{found[1].replace(',', '.')} %", where=self.option) if found else 1.0
        if not share > 0:
            raise self.fault("a cell that covers nothing")
        return share

    def length(self, what: str) -> Band:
        """One length with a unit [m]."""
        found = self.taken(_ONE)
        if found is None:
            raise self.fault(f"no {what} with its unit in '{shortened(self.text)}'")
        return thickness(completed(found[0].strip(), "mm"), where=self.option).band

    def pair(self, what: str) -> tuple[float, float]:
        """Two lengths parted by x [m]."""
        found = self.taken(_TWO)
        if found is None:
            raise self.fault(f"no {what} in '{shortened(self.text)}'")
        one, other = lengths_of(found[0], (2, 2), self.option, f"write for example {_SUCH_AS[self.option]}")
        for size in (one, other):
            if not _LEAST_M <= size <= _MOST_M:
                raise self.fault(f"{size * 1e3:g} mm is no size of it")
        return one, other

    def name(self, what: str) -> str:
        """What is left, as the name of a material."""
        name = " ".join(_IDLE.sub(" ", self.rest).split())
        if not name:
            raise self.fault(f"no {what} is named in '{shortened(self.text)}'")
        return name

    def done(self) -> None:
        """A fault where something is left that says nothing."""
        left = " ".join(_IDLE.sub(" ", self.rest).split())
        if left:
            raise self.fault(f"'{shortened(left)}' says nothing here")


def _each(text: str, option: str) -> Iterator[_Said]:
    """The things parted by semicolons."""
    parts = [" ".join(p.split()) for p in text.split(";") if p.strip()]
    if text and not parts:
        raise _Said(text, option).fault("nothing is said")
    for part in parts:
        yield _Said(part, option)


def cells_of(recess: str, opening: str, wire: str, inset: str, base: Base | None, names: Taking) -> tuple[Step, ...]:
    """All that is said of cells, in the order in which it is done.

    Raises
    ------
    BadInput, NotFound
        It cannot be read, or something is cut into metal of which nothing is said or which is too thin.
    """
    cut = (*recesses_of(recess), *openings_of(opening))
    if cut and base is None:
        raise BadInput("no metal to cut into", "--metal", f"write for example --metal {_SUCH_AS['--metal']}")
    for step in cut:
        if base is not None and step.depth_m is not None and step.depth_m.high >= base.thickness_m.low:
            deep, thick = step.depth_m.high * 1e3, base.thickness_m.low * 1e3
            raise BadInput(f"{deep:.3g} mm deep in metal of {thick:.3g} mm", "--recess", "leave a floor")
    return (*cut, *wires_of(wire, names), *insets_of(inset, names))


def metal_of(text: str, names: Taking) -> Base | None:
    """The metal with its thickness, "copper 1.2 mm"; None where nothing is said.

    Raises
    ------
    BadInput, NotFound
        No thickness, or no such metal.
    """
    if not text:
        return None
    said = _Said(" ".join(text.split()), "--metal")
    found = said.taken(re.compile(rf"(?<![\w.]){_NUMBER}(?: ?(?:-|–|to) ?{_NUMBER})?(?:{_UNIT}| ?cards?| ?ga(?:uge)?)"))
    if found is None:
        raise said.fault(f"no thickness with its unit in '{shortened(text)}'")
    metal = names.sheet(said.name("metal"), "--metal")
    fired = metal_thickness(found[0].strip(), metal, "--metal")
    return Base(metal.key, fired.band, fired.said, fired.note)


def recesses_of(text: str) -> list[Step]:
    """Recesses, one a face: "0.2-0.4 mm, 60 % front".

    Raises
    ------
    BadInput
    """
    found = []
    for said in _each(text, "--recess"):
        cover, face, deep = said.cover(), said.taken(_FACE), said.length("depth")
        said.done()
        found.append(Step(0, "recess", face[1].lower() if face else "front", depth_m=deep, coverage=cover))
    if len({s.face for s in found}) < len(found):
        raise BadInput("two recesses in one face", "--recess", "give the depth from the shallowest to the deepest")
    return found


def openings_of(text: str) -> list[Step]:
    """Openings: how far across, and how much of the face they take, "5 mm, 40 %".

    Raises
    ------
    BadInput
    """
    found = []
    for said in _each(text, "--opening"):
        cover, across = said.cover(), said.length("size")
        said.done()
        found.append(Step(0, "opening", size_m=across, coverage=cover, backing=BACKINGS[0]))
    if len(found) > 1:
        raise BadInput("openings of several sizes", "--opening", "give the size of most and the share of all")
    return found


def wires_of(text: str, names: Taking) -> list[Step]:
    """Wires: metal, thickness by height, and how much of it one piece takes, "fine silver 0.15x0.8 mm, 120 mm".

    Raises
    ------
    BadInput, NotFound
    """
    found = []
    for said in _each(text, "--wire"):
        thin, high = sorted(said.pair("thickness by height"))
        length = said.taken(_ONE)
        if length is None:
            raise said.fault(f"no length with its unit in '{shortened(said.text)}'")
        metres = lengths_of(length[0], (1, 1), "--wire", f"write for example {_SUCH_AS['--wire']}")[0]
        if not 1e-3 <= metres <= MOST_WIRE_M:
            raise said.fault(f"{metres * 1e3:g} mm is no length of wire for one piece")
        key = names.metal(said.name("metal"), "--wire").key
        found.append(
            Step(
                0, "wire", metal=key, thickness_m=Band.exact(thin), height_m=Band.exact(high), length_m=metres,
            )
        )  # fmt: skip
    return found


def insets_of(text: str, names: Taking) -> list[Step]:
    """What is set in: how many of it a piece, of what, across by thickness, "3 opaque white 4x0.8 mm".

    Raises
    ------
    BadInput, NotFound
    """
    found = []
    for said in _each(text, "--inset"):
        count = said.taken(_COUNT)
        number = int(count[1]) if count else 1
        if not 1 <= number <= MOST_SET_IN:
            raise said.fault(f"{number} is no number of insets for one piece")
        across, thick = said.pair("size by thickness")
        name = said.name("glass or metal")
        step = Step(0, "inset", size_m=Band.exact(across), thickness_m=Band.exact(thick), count=number)
        try:
            found.append(replace(step, glass=names.glass(name, "--inset").key))
        except NotFound as fault:
            try:
                found.append(replace(step, metal=names.metal(name, "--inset").key))
            except NotFound as other:
                near = (*fault.near, *other.near)
                todo = other.todo if other.near else fault.todo if near else "refdb glasses and refdb metals list them"
                what = f"no glass or metal is called '{shortened(name)}'"
                raise NotFound(what, "--inset", todo, near) from None
    return found
