"""What all pictures share: escaping, coordinates, printed numbers, and the frame that names a picture."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from refdb.frozen import dataclass

MINUS = "\u2212"
NO_BREAK = "\u00a0"


@dataclass(frozen=True)
class Triple:
    """A number with its low and high."""

    value: float
    low: float
    high: float

    @property
    def is_exact(self) -> bool:
        """Whether low and high do not differ."""
        return self.low == self.high


def escaped(text: object) -> str:
    """Text made harmless for markup and for attributes in double quotes."""
    return escape(str(text), quote=True)


def at(number: float) -> str:
    """A coordinate with one decimal at most."""
    text = f"{number:.1f}"
    if text[-2:] != ".0":
        return text
    return "0" if text == "-0.0" else text[:-2]


def figure(value: float, decimals: int = 0, *, signed: bool = False) -> str:
    """A number as it is printed: comma between thousands, true minus, a plus sign where asked for."""
    text = f"{value:,.{decimals}f}"
    if not text.strip("-0,."):
        return text.lstrip("-")
    if text.startswith("-"):
        return MINUS + text[1:]
    return f"+{text}" if signed else text


def span(low: float, high: float, decimals: int = 0, *, signed: bool = False) -> str:
    """Low to high in words; one number where both print alike."""
    a, b = figure(low, decimals, signed=signed), figure(high, decimals, signed=signed)
    return a if a == b else f"{a} to {b}"


def named_picture(
    key: str, title: str, description: str, box: str, parts: Iterable[str], shape: str = "fig", role: str = "img"
) -> str:
    """A picture with a title and a description that screen readers tell.

    Parameters
    ----------
    key : str
        Unique on the page; the ids of title and description are made from it.
    title, description : str
        Plain text; escaped here.
    box : str
        The viewBox.
    parts : iterable of str
        Markup, already escaped.
    shape : str
        Class of the svg element.
    role : str
        "img", or "group" for a picture with links in it.
    """
    name = escaped(key)
    return (
        f'<svg class="{escaped(shape)}" viewBox="{escaped(box)}" role="{escaped(role)}" '
        f'aria-labelledby="{name}-t {name}-d">'
        f'<title id="{name}-t">{escaped(title)}</title><desc id="{name}-d">{escaped(description)}</desc>'
        f"{''.join(parts)}</svg>"
    )


def text(words: str, x: float, y: float, shape: str = "") -> str:
    """A line of text at a place; `shape` gives its classes."""
    kind = f' class="{shape}"' if shape else ""
    return f'<text{kind} x="{at(x)}" y="{at(y)}">{escaped(words)}</text>'


def path(data: str, shape: str, more: str = "") -> str:
    """A path of a class."""
    return f'<path class="{shape}" d="{data}"{more}/>'


def rectangle(x: float, y: float, width: float, height: float, shape: str) -> str:
    """A rectangle of a class."""
    return f'<rect class="{shape}" x="{at(x)}" y="{at(y)}" width="{at(max(width, 0))}" height="{at(max(height, 0))}"/>'
