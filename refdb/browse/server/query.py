"""The part of an address after its question mark, read strictly: known names, once each, short and printable."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from urllib.parse import parse_qsl, urlencode

from refdb.browse.server.packed import LONGEST_PACKED
from refdb.errors import BadInput, RefdbError

LONGEST_QUERY = 4000
LONGEST_TEXT = 200
#: Bytes of a piece file in an address; percent signs can make three of each.
LONGEST_PIECE = 8000
#: The longest address that a piece file may stand in.
LONGEST_PIECE_ADDRESS = 25_000
_MOST_FIELDS = 40


class Busy(RefdbError):
    """More is asked than can be worked out soon."""


class TooLarge(RefdbError):
    """What was sent is larger than it may be."""


def read_query(text: str, known: Sequence[str], longest: int = LONGEST_QUERY) -> dict[str, str]:
    """The parameters of an address by name, without the empty ones.

    Raises
    ------
    BadInput
        A name that the page does not know, one given twice, or a value that is too long or not printable.
    """
    if len(text) > longest:
        raise BadInput("the question is too long", todo="shorten it, or begin again from the front page")
    try:
        pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=_MOST_FIELDS)
    except ValueError:
        raise BadInput("the question has too many parts", todo="begin again from the front page") from None
    found: dict[str, str] = {}
    for name, value in pairs:
        if name not in known:
            shown = name if len(name) <= 40 else name[:37] + "…"
            names = ", ".join(known) if known else "no parts at all"
            raise BadInput(f"this page takes no '{shown}'", todo=f"it takes {names}")
        if name in found:
            raise BadInput("is given twice", name, "give it once")
        if name == "text":
            if len(value.encode("utf-8", "replace")) > LONGEST_PIECE:
                raise BadInput(f"is longer than {LONGEST_PIECE:,} bytes", "piece", "send it as a file instead")
            if "\ufffd" in value:
                raise BadInput("holds characters that cannot be read", "piece", "save it as UTF-8")
            found[name] = value
            continue
        if len(value) > (LONGEST_PACKED if name == "p" else LONGEST_TEXT):
            raise BadInput(f"is longer than {LONGEST_TEXT} characters", name, "shorten it")
        if not all(c.isprintable() or c == " " for c in value) or "\ufffd" in value:
            raise BadInput("holds characters that cannot be read", name, "type it again")
        found[name] = value.strip()
    return {name: value for name, value in found.items() if value}


def chosen(query: Mapping[str, str], name: str, known: Sequence[str], standard: str = "") -> str:
    """A parameter that has to be one of a few words; `standard` where it is not given."""
    if name not in query:
        return standard
    if query[name] not in known:
        raise BadInput(f"'{query[name][:40]}' is not known here", name, f"use one of: {', '.join(known)}")
    return query[name]


def address(path: str, **parts: str | None) -> str:
    """An address with those parameters that are not empty."""
    kept = {name: value for name, value in parts.items() if value}
    return f"{path}?{urlencode(kept)}" if kept else path
