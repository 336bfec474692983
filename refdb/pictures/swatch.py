"""A small sample of a colour family, beside the words: how it looks, and how far one sees through it.

The hues are ours, one for each word of a class's key, and were measured on no glass: a page that shows them says so.
"""

from __future__ import annotations

from functools import cache

from refdb.pictures.drawing import escaped

#: Words of keys that name a colour, the most telling first: the first that stands in a key is taken.
FAMILIES = (
    "brown",
    "ruby",
    "red",
    "violet",
    "turquoise",
    "blue",
    "green",
    "amber",
    "yellow",
    "black",
    "grey",
    "white",
    "opal",
    "clear",
)
#: How much of the line behind is seen, by the kind of glass.
_LINE = {"transparent": "", "opalescent": " half", "opaque": " none"}
SAID = (
    "The tint beside a name is that of its family, not of this glass. The line behind it shows through a transparent "
    "one, faintly through an opalescent one, and not through an opaque one."
)


def family_of(key: str) -> str:
    """The colour that the key of a class names; empty where it names none, and for an own record."""
    words = [] if ":" in key else key.split("-")
    return next((name for name in FAMILIES if name in words), "")


@cache
def swatch(key: str, optical: str) -> str:
    """The sample of a class, by its key and its kind of glass; empty where the key names no colour."""
    name = family_of(key)
    if not name or optical not in _LINE:
        return ""
    line = '<path class="behind" d="M0 16L16 0"/>' if optical != "opaque" else ""
    return (
        f'<svg class="sw {escaped(name)}{_LINE[optical]}" viewBox="0 0 16 16" aria-hidden="true" focusable="false">'
        f'<rect class="ground" width="16" height="16"/>{line}'
        '<rect class="glass" x=".5" y=".5" width="15" height="15"/></svg>'
    )
