"""Amounts without a piece file: how many, how large and which coats, as people type them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

from refdb.errors import BadInput
from refdb.frozen import replace
from refdb.judge.limits import SIFTED_COAT_M
from refdb.judge.piece.steps import FACES, Base, Piece, Step
from refdb.quantities.amounts import fraction
from refdb.quantities.forgiving import completed
from refdb.quantities.lengths import length_m, thickness
from refdb.quantities.typed import Band
from refdb.words import shortened

#: A size of a piece [m].
_SMALLEST_M, _LARGEST_M = 1e-3, 1.0
_MOST_PIECES, _MOST_COATS, _LONGEST = 10_000, 50, 100
_COUNTS = {
    "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19, "dozen": 12, "score": 20, "hundred": 100,
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
_TENS = re.compile(
    r"\b((?:twen|thir|for|fif|six|seven|eigh|nine)ty)[ -](one|two|three|four|five|six|seven|eight|nine)\b"
)
_TIMES = re.compile(r"\s*(?:[x×*]|by)\s*", re.IGNORECASE)
_UNIT = re.compile(r'[A-Za-zµμ"][A-Za-z. ]*$')
#: Words for the form of a piece or a floor: those with four corners, and all.
SQUARE_CORNERED = ("square", "rectangle", "rectangular")
_FORMS = ("oval", "round", "circle", "circular", "disc", *SQUARE_CORNERED)
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_FACE = re.compile(r"\b(?:on (?:the )?)?(front|back|both)(?: faces?| sides?)?\b", re.IGNORECASE)
_COVER = re.compile(rf"\b({_NUMBER}) ?(?:%|per ?cent)(?: of it)?", re.IGNORECASE)
_LAYERS = re.compile(r"\b([0-9]{1,3}) ?(?:[x×]|times|coats?(?: of)?|siftings?(?: of)?)(?=\s|$)", re.IGNORECASE)
_THICK = re.compile(
    rf"(?<![\w.-]){_NUMBER}(?: ?(?:-|–|to) ?{_NUMBER})?"
    r"(?: ?(?:mm|cm|µm|μm|um|microns?|inch(?:es)?|in|\"|cards?))?(?![\w.])",
    re.IGNORECASE,
)
_WITHIN = re.compile(r"\b(?:in|into|within) (?:the |a )?(recess(?:es)?|openings?)\b", re.IGNORECASE)
_WASHED = re.compile(r"\b(un)?washed\b", re.IGNORECASE)


class Coats(NamedTuple):
    """One kind of coat as typed: name of the glass, one coat's fired thickness [m], how many, faces, cover, washed.

    `within` is "recess" or "opening" where it lies in one; `is_said` tells whether its thickness was.
    """

    glass: str
    thickness_m: Band
    layers: int
    faces: tuple[str, ...]
    cover: float
    washed: bool | None
    within: str = ""
    is_said: bool = True


def count_of(text: str, where: str = "how many") -> int:
    """How many pieces: "12 pendants", "a dozen", "twenty-five", "6 pairs of earrings", "brooch" for one.

    Raises
    ------
    BadInput
        No number that a bench makes, or several pieces without one.
    """
    plain = _TENS.sub(lambda m: str(_COUNTS[m[1]] + _COUNTS[m[2]]), text.lower())
    words = re.findall(r"[\w.,-]+", plain)
    count, read = 1.0, False
    for word in words:
        factor: float | None = _COUNTS.get(word)
        if re.fullmatch(r"[-+]?[0-9][0-9.,]*", word):
            try:
                factor = float(word.replace(",", ""))
            except ValueError:
                raise BadInput(
                    f"'{shortened(word)}' is no number of pieces", where, "write for example 12 pendants"
                ) from None
        if word in ("pair", "pairs"):
            factor, read = 2.0, True
        elif factor is None:
            break
        count, read = count * factor, True
    several = any(word.endswith("s") and not word.endswith("ss") for word in words)
    if not words or (not read and (several or any(c.isdigit() for c in text))):
        raise BadInput("no number of pieces", where, "write for example 12 pendants")
    if not 1 <= count <= _MOST_PIECES or count != int(count):
        raise BadInput(f"{count:g} is no number of pieces", where, f"give a whole number from 1 to {_MOST_PIECES:,}")
    return int(count)


def size_of(text: str, where: str = "--size") -> tuple[float, float, bool]:
    """Width and height [m], and whether the piece is square-cornered: "30x24 mm", "30 mm round", "1 in square".

    Raises
    ------
    BadInput
        Not one or two lengths from 1 mm to 1 m.
    """
    plain, form = split_form(text)
    square = form in SQUARE_CORNERED
    sizes = lengths_of(plain, (1, 2), where, 'write for example "30x24 mm" or "30 mm round"')
    for size in sizes:
        if not _SMALLEST_M <= size <= _LARGEST_M:
            raise BadInput(f"{size * 1e3:g} mm is no size of a small piece", where, "give 1 mm to 1 m")
    return sizes[0], sizes[-1], square


def split_form(text: str) -> tuple[str, str]:
    """A size and the word for its form that ends it, in small letters; an empty word where there is none."""
    words = text.strip().split()
    form = words[-1].lower().rstrip("s") if words else ""
    if form not in _FORMS:
        form = ""
    return " ".join(words[:-1] if form else words), form


def lengths_of(text: str, counts: tuple[int, int], where: str, todo: str) -> list[float]:
    """Lengths parted by x [m], so many at least and at most; a unit at the end holds for all, mm where there is none.

    Raises
    ------
    BadInput
    """
    parts = [p.strip() for p in _TIMES.split(text.strip())] if len(text) <= _LONGEST else []
    if not counts[0] <= len(parts) <= counts[1] or not all(parts):
        numbers = ("", "one", "two", "three")
        join = "or" if counts[1] - counts[0] == 1 else "to"
        raise BadInput(f"not {numbers[counts[0]]} {join} {numbers[counts[1]]} lengths", where, todo)
    unit = _UNIT.search(parts[-1])
    after = f" {unit[0]}" if unit else " mm"
    return [length_m(completed(p) if _UNIT.search(p) else f"{completed(p)}{after}", where=where) for p in parts]


def coats_of(text: str, where: str = "--coats") -> list[Coats]:
    """Coats, parted by a comma or a semicolon: "hard clear 0.2 mm both; 2 coats opaque white front 60 %".

    What is not said: one coat, the front, all of it, and the thickness of one sifted coat; a bare number is in mm.

    Raises
    ------
    BadInput
        A coat without a glass, or a number that cannot be read.
    """
    found = []
    for part in re.split(r";|,(?!\d)", text):
        if part.strip():
            found.append(_coat(" ".join(part.split()), where))
    if not 1 <= len(found) <= _MOST_COATS:
        raise BadInput("no coats", where, 'write for example "hard clear 0.2 mm both; opaque white 0.1 mm front"')
    return found


def _coat(part: str, where: str) -> Coats:
    rest = part

    def taken(pattern: re.Pattern[str]) -> re.Match[str] | None:
        nonlocal rest
        match = pattern.search(rest)
        if match:
            rest = f"{rest[: match.start()]} {rest[match.end() :]}"
        return match

    within = taken(_WITHIN)
    face, cover, layers, washed, thick = (taken(p) for p in (_FACE, _COVER, _LAYERS, _WASHED, _THICK))
    name = re.sub(r"^(?:of|with)\b|\b(?:on|at|each|of|with)$", "", " ".join(rest.split()), flags=re.IGNORECASE).strip()
    if not name:
        raise BadInput(f"no glass is named in '{shortened(part)}'", where, "write for example hard clear 0.2 mm both")
    at = f"{where}, {shortened(name)}"
    low, high = SIFTED_COAT_M
    band = Band((low + high) / 2, low, high)
    if thick:
        band = thickness(completed(thick[0].strip(), "mm"), where=at).band
    times = int(layers[1]) if layers else 1
    if not 1 <= times <= _MOST_COATS:
        raise BadInput(f"{times} is no number of coats", at, f"give 1 to {_MOST_COATS}")
    share = fraction(f"{cover[1].replace(',', '.')} %", where=at) if cover else 1.0
    if not share > 0:
        raise BadInput("a coat that covers nothing", at, "leave it out")
    faces = FACES if face and face[1].lower() == "both" else (face[1].lower() if face else "front",)
    unwashed = None if washed is None else washed[1] is None
    inside = "" if within is None else "recess" if within[1].lower().startswith("recess") else "opening"
    return Coats(name, band, times, faces, share, unwashed, inside, thick is not None)


def piece_of(
    title: str,
    quantity: int,
    size: tuple[float, float, bool],
    coats: list[Coats],
    key_of: Callable[[str], str],
    cells: Sequence[Step] = (),
    base: Base | None = None,
) -> Piece:
    """The small piece whose amounts are asked for.

    Parameters
    ----------
    title, quantity, size, coats
        As typed, see `count_of`, `size_of` and `coats_of`.
    key_of : callable
        Finds the key of a glass by its name.
    cells : sequence of Step
        Recesses, openings, wires and insets; a coat in a recess or in openings whose thickness is not said fills them.
    base : Base, optional
        The metal; without it that takes no part, since what is asked for lies on it.

    Raises
    ------
    BadInput
        A coat in a recess or in openings that there are not.
    """
    wide, high, square = size
    base = base or Base("copper-sheet", Band.exact(0.8e-3))
    steps = [replace(step, number=n) for n, step in enumerate(cells, 1)]
    for coat in coats:
        key = key_of(coat.glass)
        for face in coat.faces:
            thick = coat.thickness_m.scaled(float(coat.layers))
            if coat.within:
                deep = _depth(coat, face, cells, base)
                thick = thick if coat.is_said else deep
            steps.append(
                Step(
                    len(steps) + 1, "coat", face, key, thickness_m=thick, siftings=coat.layers,
                    coverage=coat.cover, washed=coat.washed, within=coat.within,
                )
            )  # fmt: skip
    return Piece(title, wide, high, base, tuple(steps), quantity, area_given_m2=wide * high if square else None)


def _depth(coat: Coats, face: str, cells: Sequence[Step], base: Base) -> Band:
    """How deep the recess or the openings are in which a coat lies [m]."""
    for cell in cells:
        if cell.do == coat.within and (cell.do == "opening" or cell.face == face):
            return base.thickness_m if cell.depth_m is None else cell.depth_m
    none = "there are no openings" if coat.within == "opening" else f"there is no recess in the {face}"
    todo = '--opening "5 mm, 40 %"' if coat.within == "opening" else f'--recess "0.3 mm, 60 % {face}"'
    raise BadInput(none, f"--coats, {shortened(coat.glass)}", f"say {todo}")
