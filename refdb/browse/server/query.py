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
#: So often a parameter is given that may be given several times.
MOST_OF_ONE = 4


class Busy(RefdbError):
    """More is asked than can be worked out soon."""


class TooLarge(RefdbError):
    """What was sent is larger than it may be."""


def read_query(
    text: str, known: Sequence[str], longest: int = LONGEST_QUERY, several: Sequence[str] = ()
) -> dict[str, str]:
    """The parameters of an address by name, without the empty ones.

    One of `several` may be given `MOST_OF_ONE` times: the second is then found under "name 2", and so on.

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
    for given, value in pairs:
        name = given
        if name not in known:
            shown = name if len(name) <= 40 else name[:37] + "…"
            names = ", ".join(known) if known else "no parts at all"
            raise BadInput(f"this page takes no '{shown}'", todo=f"it takes {names}")
        if name in several and not value.strip():
            continue
        if name in several:
            name = next((n for n in _numbered(given) if n not in found), given)
        if name in found:
            times = f"more than {MOST_OF_ONE} times" if name in several else "twice"
            raise BadInput(f"is given {times}", given, "give it once" if times == "twice" else "give fewer")
        if name == "text":
            if len(value.encode("utf-8", "replace")) > LONGEST_PIECE:
                raise BadInput(f"is longer than {LONGEST_PIECE:,} bytes", "piece", "send it as a file instead")
            if "\ufffd" in value:
                raise BadInput("holds characters that cannot be read", "piece", "save it as UTF-8")
            found[name] = value
            continue
        most = LONGEST_PACKED if name == "p" else LONGEST_TEXT
        if len(value) > most:
            raise BadInput(f"is longer than {most:,} characters", name, "shorten it")
        if not all(c.isprintable() or c == " " for c in value) or "\ufffd" in value:
            raise BadInput("holds characters that cannot be read", name, "type it again")
        found[name] = value.strip()
    return {name: value for name, value in found.items() if value}


def _numbered(name: str) -> list[str]:
    return [name, *(f"{name} {n}" for n in range(2, MOST_OF_ONE + 1))]


def all_of(query: Mapping[str, str], name: str) -> list[str]:
    """Every value of a parameter that may be given several times, in order."""
    return [query[one] for one in _numbered(name) if one in query]


def chosen(query: Mapping[str, str], name: str, known: Sequence[str], standard: str = "") -> str:
    """A parameter that has to be one of a few words; `standard` where it is not given."""
    if name not in query:
        return standard
    if query[name] not in known:
        raise BadInput(f"'{query[name][:40]}' is not known here", name, f"use one of: {', '.join(known)}")
    return query[name]


def address(path: str, **parts: str | None) -> str:
    """An address with those parameters that are not empty; "name 2" stands for a second one of that name."""
    kept = [(name.partition(" ")[0], value) for name, value in parts.items() if value]
    return f"{path}?{urlencode(kept)}" if kept else path


def versioned(path: str, body: bytes) -> str:
    """The address of a file that is kept by browsers for as long as it stays as it is."""
    import hashlib

    return f"{path}?v={hashlib.sha256(body).hexdigest()[:12]}"
