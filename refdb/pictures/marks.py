"""The four marks, a coat on its metal, and the strokes that say how sure."""

from __future__ import annotations

from functools import cache

from refdb.pictures.drawing import at, escaped
from refdb.words import tenths

#: Each outcome's name in ids.
NAMES = {"suits": "suits", "suits with care": "care", "does not suit": "not", "cannot say": "unsure"}

_METAL = '<rect x="2" y="20" width="40" height="8.5" fill="none" stroke="currentColor" stroke-width="2"/>'
_COATS = {
    "suits": '<path d="M1 9H43V19.2H1Z" fill="currentColor"/>',
    "care": '<path d="M1 9H15.5L22 17.2 28.5 9H43V19.2H1Z" fill="currentColor"/>',
    "not": '<path d="M1 9H19L15.8 13.8 18.2 19.2H1Z" fill="currentColor"/>'
    '<path transform="translate(1 -4.2) rotate(-14 23 18)" d="M23 9H42.5V18.6H22.2L19.8 13.6Z" '
    'fill="currentColor"/>',
    "unsure": '<path d="M2 15V10H7M10.75 10H15.75M19.5 10H24.5M28.25 10H33.25M37 10H42V15" fill="none" '
    'stroke="currentColor" stroke-width="2"/>',
}


@cache
def marks_once() -> str:
    """The definitions that a page carries once: the four marks and the hatching of cut metal."""
    symbols = "".join(
        f'<symbol id="m-{name}" viewBox="0 0 44 30">{_METAL}{coat}</symbol>' for name, coat in _COATS.items()
    )
    return (
        '<svg class="defs" width="0" height="0" aria-hidden="true" focusable="false">'
        + symbols
        + '<defs><pattern id="cut" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><path d="M0 0V6" class="hat"/></pattern></defs></svg>'
    )


@cache
def mark(outcome: str) -> str:
    """The mark of an outcome; the word has to stand beside it. KeyError for another word."""
    return f'<svg class="mark" aria-hidden="true"><use href="#m-{NAMES[outcome]}"/></svg>'


def says(outcome: str, word: str | None = None) -> str:
    """Mark and word, which never part."""
    return f'<span class="says">{mark(outcome)}{escaped(word or outcome)}</span>'


@cache
def icon() -> str:
    """The mark of a whole coat as an image of its own, readable on a light and on a dark ground."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 44 44"><rect width="44" height="44" fill="#fcfcf9"/>'
        f'<g transform="translate(0 4)" color="#0b4f58">{_METAL}{_COATS["suits"]}</g></svg>'
    )


def strokes(share: float, half: float = 0.0) -> str:
    """Ten strokes: solid in so many of them, half filled in as many more as `half` says, the rest hollow."""
    solid = tenths(share)
    filled = max(tenths(share + half), solid)
    parts = []
    for n in range(10):
        x = 6 + 13 * n
        if n < solid:
            parts.append(f'<path class="on" d="M{x} 2V16"/>')
            continue
        parts.append(f'<path class="off" d="M{at(x - 2.5)} 3H{at(x + 2.5)}V15H{at(x - 2.5)}Z"/>')
        if n < filled:
            parts.append(f'<path class="half" d="M{x} 9.6V15"/>')
    return f'<svg class="tenths" viewBox="0 0 130 18" aria-hidden="true">{"".join(parts)}</svg>'


@cache
def grade(place: int, places: int) -> str:
    """A short rule with its places, worst left, and a dot at one of them (0 is the best); its word stands beside it."""
    wide = 120 / (places - 1)
    ticks = "".join(f'<path d="M{at(6 + wide * n)} 4V14"/>' for n in range(places))
    dot = f'<circle class="at" cx="{at(126 - wide * place)}" cy="9" r="6.4"/>'
    return f'<svg class="rest" viewBox="0 0 132 18" aria-hidden="true"><path d="M6 9H126"/>{ticks}{dot}</svg>'


def split_bar(fine: float, care: float, bad: float) -> str:
    """Shares of the draws as one bar in true proportions: solid, tinted, hollow; the words stand under it."""
    parts, x = [], 0.0
    for name, share in (("s1", fine), ("s2", care), ("s3", bad)):
        width = 200 * share
        if width >= 0.5:
            parts.append(f'<rect class="{name}" x="{at(x)}" y="2" width="{at(width)}" height="13"/>')
        x += width
    bars = "".join(parts)
    return f'<svg class="split" viewBox="0 0 200 17" preserveAspectRatio="none" aria-hidden="true">{bars}</svg>'
