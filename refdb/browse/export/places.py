"""Where each page of an export stands: an address of the view, and the file it becomes."""

from __future__ import annotations

import hashlib
import posixpath
import re
from urllib.parse import parse_qsl, unquote

#: Pages that are exported, each with the sets of parameters that need no calculation of their own.
EXPORTED: dict[str, tuple[frozenset[str], ...]] = {
    path: tuple(frozenset(names.split()) for names in told)
    for path, told in {
        "/": ("",),
        "/about": ("",),
        "/builds": ("", "metal", "glass metal"),
        "/cautions": ("", "material", "use"),
        "/clears": ("", "leaf metal"),
        "/compare": ("glass metal",),
        "/faults": ("", "part", "words", "look", "look stage", "beneath look", "beneath look stage"),
        "/find": ("",),
        "/grid": ("", "metals"),
        "/materials": ("", "kind", "family kind", "kind sort", "kind down sort"),
        "/piece": ("example",),
        "/practice": ("", "topic"),
        "/sources": ("", "key"),
        "/suits": ("", "glass", "metal", "glass metal"),
    }.items()
}
#: Pages below these stand for one record each.
_RECORDS = ("/material/", "/practice/", "/about/")
_LONGEST = 100


def is_exported(address: str) -> bool:
    """Whether an address, without what follows a #, may be one of an export's."""
    path, _, query = address.partition("?")
    pairs = parse_qsl(query)
    names = frozenset(name for name, _ in pairs)
    if path.startswith(_RECORDS):
        return not query and "/" not in path.split("/", 2)[2]
    if path == "/compare" and len(pairs) == len(names):
        return False  # one glass on one metal has nothing beside it
    return names in EXPORTED.get(path, ())


def place_of(address: str) -> str:
    """The file of a page, from the export's folder: words of the address, in an order that does not matter there.

    Two addresses that ask the same are one file; small letters, digits and hyphens alone stand in its name, so that no
    system of files takes two for one.
    """
    path, _, query = address.partition("?")
    if path.startswith("/static/"):
        return path[1:]
    pairs = sorted(parse_qsl(query))
    words = [_safe(unquote(part)) for part in path.strip("/").split("/") if part] or ["index"]
    if pairs:
        words.append(_safe(".".join(f"{name}-{value}" for name, value in pairs)))
    return "/".join(words) + ".html"


def _safe(text: str) -> str:
    kept = re.sub(r"[^a-z0-9.]+", "-", text.lower()).strip("-.")[:_LONGEST]
    if kept == text:
        return kept
    return f"{kept}-{hashlib.sha256(text.encode()).hexdigest()[:8]}"


def leads(place: str, target: str) -> str:
    """The way from one file of the export to another, as a link says it."""
    return posixpath.relpath(target, posixpath.dirname(place) or ".")
