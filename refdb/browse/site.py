"""What all pages share: the store, the templates, the navigation, and the pages already built."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from refdb import __version__
from refdb.browse.kept import Kept
from refdb.browse.query import address
from refdb.browse.words import held, lower_first, upper_first
from refdb.judge.verdict import TEST_TILE
from refdb.pictures import marks
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from jinja2 import Environment

ROOM = Path(__file__).resolve().parent
TEMPLATES, STATIC = ROOM / "templates", ROOM / "static"
#: Bytes of pages kept built, and the longest query of one that is.
MOST_KEPT, LONGEST_KEPT = 3_000_000, 400


@dataclass(frozen=True)
class Page:
    """A page still to be written: its template, what fills it, and its place in the navigation."""

    template: str
    fields: dict[str, Any] = field(default_factory=dict)
    current: str = ""
    status: int = 200


def link_to(key: str) -> str:
    """The address of a material."""
    return f"/material/{key}"


def link_to_verdict(glass: str, metal: str) -> str:
    """The address of a verdict at the standard build-up."""
    return f"/suits?glass={glass}&metal={metal}"


class Site:
    """The open view: one store, read by any thread, and one set of templates."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._local = threading.local()
        self._built: OrderedDict[tuple[str, str], bytes] = OrderedDict()
        self._bytes = 0
        self.ref.count("materials")

    @property
    def ref(self) -> Kept:
        """The store as this thread has it open."""
        found: Kept | None = getattr(self._local, "ref", None)
        if found is None:
            found = self._local.ref = Kept(self.path)
        return found

    def close(self) -> None:
        """Close what this thread has open."""
        found: Kept | None = getattr(self._local, "ref", None)
        if found is not None:
            found.close()
            del self._local.ref

    @cached_property
    def styles(self) -> bytes:
        """The stylesheet."""
        return (STATIC / "refdb.css").read_bytes()

    @cached_property
    def styles_address(self) -> str:
        """The stylesheet's address, which changes with what is in it."""
        import hashlib

        return f"/static/refdb.css?v={hashlib.sha256(self.styles).hexdigest()[:12]}"

    @cached_property
    def navigation(self) -> list[tuple[str, str]]:
        """Addresses and names of the parts of the store."""
        parts = [("/suits", "Suits"), ("/clears", "Clears"), ("/piece", "Piece"), ("/materials", "Materials"),
                 ("/grid", "Grid")]
        if "faults" in self.ref.tables:
            parts.append(("/faults", "Faults"))
        return [*parts, ("/practice", "Practice"), ("/cautions", "Cautions"), ("/sources", "Sources"),
                ("/about", "About")]

    def furnish(self, environment: Environment) -> None:
        """Give an environment what every template may use."""
        environment.globals.update(
            navigation=self.navigation, styles=self.styles_address, version=__version__, test_tile=TEST_TILE,
            marks_once=lambda: Markup(marks.marks_once()), mark=lambda outcome: Markup(marks.mark(outcome)),
            says=lambda outcome, word=None: Markup(marks.says(outcome, word)),
            strokes=lambda share: Markup(marks.strokes(share)), link_to=link_to, link_to_verdict=link_to_verdict,
            address=address, current="")
        environment.filters["lower_first"] = lower_first
        environment.filters["upper_first"] = upper_first
        environment.filters["held"] = held

    @cached_property
    def environment(self) -> Environment:
        """Templates of our own pages; everything is escaped, and a missing value is an error."""
        from jinja2 import Environment, FileSystemLoader, StrictUndefined

        environment = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
                                  trim_blocks=True, lstrip_blocks=True, auto_reload=False)
        self.furnish(environment)
        return environment

    def written(self, page: Page) -> bytes:
        """A page as HTML."""
        template = self.environment.get_template(page.template)
        return template.render(page.fields | {"current": page.current}).encode()

    def kept(self, name: str, query: str) -> bytes | None:
        """A page built before, or None."""
        found = self._built.get((name, query))
        if found is not None:
            self._built.move_to_end((name, query))
        return found

    def keep(self, name: str, query: str, body: bytes) -> None:
        """Remember a page; the one unused for longest makes room."""
        if len(query) > LONGEST_KEPT or (name, query) in self._built:
            return
        self._built[(name, query)] = body
        self._bytes += len(body)
        while self._bytes > MOST_KEPT:
            self._bytes -= len(self._built.popitem(last=False)[1])

    @cached_property
    def outcomes(self) -> dict[tuple[str, str], str]:
        """Outcome of every glass on every metal at the standard build-up."""
        from refdb.judge.glass_on_metal import rank

        return {(r.glass.key, metal.key): r.verdict.outcome for metal in self.metals for r in rank(self.ref, metal)}

    @property
    def metals(self) -> list[Metal]:
        """All base metals."""
        return [m for m in self.ref.materials("metal") if isinstance(m, Metal)]

    @property
    def glasses(self) -> list[Glass]:
        """All glasses."""
        return [g for g in self.ref.materials("glass") if isinstance(g, Glass)]

    def citations(self, keys: set[str]) -> list[tuple[str, str]]:
        """Key and citation of each of these sources, in order of key."""
        return [(s.key, s.citation) for s in self.ref.sources() if s.key in keys]


#: What builds a page: the site, and the query of the address.
Builder = Callable[[Site, dict[str, str]], Page]


def by_family(records: list[Any]) -> list[tuple[str, list[Any]]]:
    """Records under their families, in order."""
    groups: dict[str, list[Any]] = {}
    for record in records:
        groups.setdefault(record.family, []).append(record)
    return list(groups.items())
