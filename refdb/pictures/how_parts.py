"""The small vocabulary of the drawings that show how it is done: metal, glass, powder, arrows and words."""

from __future__ import annotations

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, path, text


@dataclass(frozen=True)
class Sketch:
    """What a drawing shows: its title, a sentence for those who do not see it, and its parts as markup."""

    title: str
    said: str
    parts: tuple[str, ...]


def metal(data: str) -> str:
    return path(data, "me") + path(data, "", ' fill="url(#cut)"')


def glass(data: str) -> str:
    return path(data, "gl")


def line(data: str) -> str:
    return path(data, "wk")


def named(words: str, x: float, y: float, to_x: float, to_y: float, shape: str = "i") -> str:
    """A word with a thin line to what it names; the line begins under the word's nearer end."""
    ends = "e" in shape.split()
    begin = x - 3 if ends else x + 3
    if "m" in shape.split():
        begin = x
    lift = 4 if to_y > y else -11
    return path(f"M{at(begin)} {at(y + lift)}L{at(to_x)} {at(to_y)}", "ld") + text(words, x, y, shape)


def grains(x: float, y: float, width: float, rows: int, step: float = 7.0) -> str:
    """Powder lying on a line that ends at height y."""
    rings = []
    for row in range(rows):
        across = int((width - row * step) // step)
        for n in range(across):
            rings.append(
                f"M{at(x + row * step / 2 + n * step)} {at(y - 3 - row * 5.5)}"
                "m-2.4 0a2.4 2.4 0 1 0 4.8 0a2.4 2.4 0 1 0 -4.8 0"
            )
    return path("".join(rings), "gl")


def arrow(x: float, y: float, to_x: float, to_y: float) -> str:
    """An arrow along the upright or the level."""
    if x == to_x:
        back = -6 if to_y > y else 6
        head = f"M{at(to_x - 4)} {at(to_y + back)}L{at(to_x)} {at(to_y)}L{at(to_x + 4)} {at(to_y + back)}"
    else:
        back = -6 if to_x > x else 6
        head = f"M{at(to_x + back)} {at(to_y - 4)}L{at(to_x)} {at(to_y)}L{at(to_x + back)} {at(to_y + 4)}"
    return line(f"M{at(x)} {at(y)}L{at(to_x)} {at(to_y)}{head}")
