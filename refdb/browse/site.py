"""What all pages share: the stores, the templates, the navigation, and the pages already built."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from markupsafe import Markup

from refdb import __version__
from refdb.browse.pages.options import options
from refdb.browse.pages.printed import cell_of, held, lower_first, quoted, tint_of, upper_first, without_options
from refdb.browse.server.cached_reference import Answers, Kept
from refdb.browse.server.query import address, versioned
from refdb.browse.server.turns import Turns
from refdb.browse.server.watched_pool import LearntPool
from refdb.browse.server.watched_workshop import ABSENT, State, Watch
from refdb.errors import NotFound, StoreUnusable
from refdb.frozen import dataclass, replace
from refdb.judge.evidence import GRADES
from refdb.judge.verdict import TEST_TILE
from refdb.pictures import marks
from refdb.pictures.grid import Cell
from refdb.pictures.swatch import SAID as TINTS
from refdb.records import Glass, Material, Metal
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import PREFIX

if TYPE_CHECKING:
    from jinja2 import Environment

    from refdb.browse.server.aside import Aside
    from refdb.browse.server.writing import Writer
    from refdb.records.rules import Topic

ROOM = Path(__file__).resolve().parent
TEMPLATES, STATIC = ROOM / "templates", ROOM / "static"
#: Bytes of pages kept built, and the longest query of one that is.
MOST_KEPT, LONGEST_KEPT = 3_000_000, 400
#: So many links stand in the line at the head of a page on a phone; the others fold away there.
IN_LINE = 3
#: What stands for the family of the person's own records, and where their tables are.
YOURS, OWN_TABLES = "your own", "/workshop"


@dataclass(frozen=True)
class View:
    """A page still to be written: its template, what fills it, its place in the navigation, how names were taken."""

    template: str
    fields: dict[str, Any] = field(default_factory=dict)
    current: str = ""
    status: int = 200
    taken: tuple[dict[str, Any], ...] = ()


def link_to(key: str) -> str:
    """The address of a material."""
    return f"/material/{quote(key, safe=':')}"


def link_to_verdict(glass: str, metal: str) -> str:
    """The address of a verdict at the standard build-up."""
    return f"/suits?glass={quote(glass, safe=':')}&metal={quote(metal, safe=':')}"


def is_yours(record: Material | str) -> bool:
    """Whether a record, or the one of a key, is the person's own."""
    return (record if isinstance(record, str) else record.key).startswith(PREFIX)


def family_of(record: Material) -> str:
    """The family under which a record stands in lists."""
    return YOURS if is_yours(record) else record.family


def named(record: Material) -> str:
    """A record as it is called inside a sentence; a name that the person gave stays as it was given."""
    return record.small


class Site:
    """The open view: the store and the person's own beside it, read by any thread, and one set of templates.

    Parameters
    ----------
    path : Path
        The store.
    workshop : Path, optional
        The person's own, which need not exist; None for none at all.
    local : bool
        Whether it will be reached from this computer alone.
    sql : bool
        Whether readers may write SQL.
    names : frozenset of str
        Names under which it may be asked for from elsewhere.
    writer : Writer, optional
        Who may write in the workshop from a page; None where nobody may.
    pool : bool, optional
        Whether verdicts take the pool beside the workshop; None for as the pool is set.
    """

    def __init__(
        self,
        path: Path,
        workshop: Path | None = None,
        *,
        local: bool = True,
        sql: bool = False,
        names: frozenset[str] = frozenset(),
        writer: Writer | None = None,
        pool: bool | None = None,
    ) -> None:
        self.path, self.local, self.sql, self.names = path, local, sql, names
        self.writer = writer
        #: Where others on the network open these pages, such as http://192.0.2.7:8733; empty where nobody can.
        self.network_address = ""
        #: Metals to which the questions of an export are kept; empty for all.
        self.only_on: tuple[str, ...] = ()
        #: Calculations that are asked for and not done.
        self.waiting = 0
        self.watch = None if workshop is None else Watch(workshop)
        self.state = ABSENT
        #: The same view without the workshop, once it has been asked for.
        self.bare: Site | None = None
        #: Told whenever the workshop has changed.
        self.changed: Callable[[State], None] = lambda state: None
        #: One calculation at a time, beside the loop that serves pages.
        self.worker = Turns()
        #: The second process that calculates, where there is one.
        self.aside: Aside | None = None
        self.pool = LearntPool(path, workshop, pool, self.worker, self._forget_figures)
        #: Long forms are read one at a time beside it too.
        self.reader = ThreadPoolExecutor(1, thread_name_prefix="refdb-form")
        self._answers = Answers()
        self._cells: dict[tuple[str, str], Cell] = {}
        self._of_thread = threading.local()
        self._opened: list[Kept] = []
        self._built: OrderedDict[tuple[str, str], bytes] = OrderedDict()
        self._bytes = 0
        self.ref.count("materials")
        self.look()

    @property
    def ref(self) -> Kept:
        """The stores as this thread has them open."""
        found: Kept | None = getattr(self._of_thread, "ref", None)
        if found is None:
            found = self._of_thread.ref = Kept(self.path, self.watch.path if self.watch else None, self._answers)
            self._opened.append(found)
        found.renew(self.state, self.pool.seen.figures)
        return found

    def look(self) -> None:
        """See whether the workshop has changed; if so, no page that was built before is shown again."""
        if self.watch is None:
            return
        state = replace(self.watch.state(), pool=self.pool.look())
        if state != self.state:
            self.state = state
            self._built.clear()
            self._bytes = 0
            self.changed(state)

    def _forget_figures(self) -> None:
        self._cells.clear()
        self.__dict__.pop("_source_names", None)

    def leave_workshop(self) -> None:
        """Close the workshop in every thread, and remove its write-ahead log unless someone else has it open."""
        if self.watch is None:
            return
        self.state = ABSENT
        self.changed(ABSENT)
        self.watch.close()
        for found in self._opened:
            found.renew(ABSENT, self.pool.seen.figures)
        if self.watch.path.is_file():
            # Who may write tidies up on closing; the connections of the view may not.
            with suppress(StoreUnusable):
                Workshop(self.watch.path).close()

    def sets_aside(self, fault: StoreUnusable) -> bool:
        """Whether an error came of reading the workshop, which is then not read again until its file changes."""
        if self.watch is None or fault.where != str(self.watch.path):
            return False
        self.watch.set_aside(fault)
        self.look()
        return True

    def bears_own(self, query: dict[str, str]) -> bool:
        """Whether own records, or a pool, can bear on the answer, which then takes a calculation."""
        own = any(is_yours(value.strip().lower()) for value in query.values()) or self.has_own
        return own or bool(self.pool.seen.figures)

    @property
    def has_own(self) -> bool:
        """Whether there is any own glass or metal."""
        return bool(self.ref.owned("glass") or self.ref.owned("metal"))

    def shelf(self) -> dict[str, Any]:
        """Whether the workshop is open, and why it cannot be; every page shows it."""
        return {"open": self.state.readable, "fault": self.state.fault}

    def close(self) -> None:
        """Close what this thread has open."""
        found: Kept | None = getattr(self._of_thread, "ref", None)
        if found is not None:
            found.close()
            del self._of_thread.ref

    @cached_property
    def styles(self) -> bytes:
        """The stylesheet."""
        return (STATIC / "refdb.css").read_bytes()

    @cached_property
    def styles_address(self) -> str:
        """The stylesheet's address, which changes with what is in it."""
        return versioned("/static/refdb.css", self.styles)

    @cached_property
    def script(self) -> bytes:
        """What a page can do besides; every page works without it."""
        return (STATIC / "refdb.js").read_bytes()

    @cached_property
    def script_address(self) -> str:
        """The script's address, which changes with what is in it."""
        return versioned("/static/refdb.js", self.script)

    @cached_property
    def navigation(self) -> list[tuple[str, str]]:
        """Addresses and names of the parts of the store; those that fit one line of a phone come first."""
        parts = [
            ("/suits", "Suits"),
            ("/clears", "Clears"),
            ("/piece", "Piece"),
            ("/grid", "Grid"),
            ("/builds", "Builds"),
            ("/compare", "Compare"),
            *((("/shelf", "Shelf"),) if self.watch is not None else ()),
            ("/materials", "Materials"),
        ]
        if "faults" in self.ref.tables:
            parts.append(("/faults", "Faults"))
        return [
            *parts,
            *((("/pool", "Pool"),) if self.watch is not None else ()),
            ("/practice", "Practice"),
            ("/cautions", "Cautions"),
            ("/sources", "Sources"),
            ("/about", "About"),
        ]

    def furnish(self, environment: Environment) -> None:
        """Give an environment what every template may use."""
        environment.globals.update(
            navigation=(self.navigation[:IN_LINE], self.navigation[IN_LINE:]),
            styles=self.styles_address,
            script=self.script_address,
            version=__version__,
            test_tile=TEST_TILE,
            marks_once=lambda: Markup(marks.marks_once()),
            mark=lambda outcome: Markup(marks.mark(outcome)),
            says=lambda outcome, word=None: Markup(marks.says(outcome, word)),
            strokes=lambda share, half=0.0: Markup(marks.strokes(share, half)),
            grade=lambda word: Markup(marks.grade(GRADES.index(word), len(GRADES))),
            split_bar=lambda split: Markup(marks.split_bar(*split)),
            link_to=link_to,
            link_to_verdict=link_to_verdict,
            address=address,
            current="",
            taken=(),
            options=lambda groups, picked: options(groups, picked, named),
            shelf=self.shelf,
            is_yours=is_yours,
            named=named,
            swatch=tint_of,
            tints_said=TINTS,
            source_name=self.source_name,
            practice_for=self.practice_for,
            own_tables=OWN_TABLES,
        )
        environment.filters.update(
            lower_first=lower_first, upper_first=upper_first, held=held, quoted=quoted, without_options=without_options
        )

    @cached_property
    def environment(self) -> Environment:
        """Templates of our own pages; everything is escaped, and a missing value is an error."""
        from jinja2 import Environment, FileSystemLoader, StrictUndefined

        environment = Environment(
            loader=FileSystemLoader(TEMPLATES),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        self.furnish(environment)
        return environment

    def written(self, page: View) -> bytes:
        """A page as HTML."""
        template = self.environment.get_template(page.template)
        return template.render(page.fields | {"current": page.current, "taken": page.taken}).encode()

    def kept(self, name: str, query: str) -> bytes | None:
        """A page built before, or None."""
        found = self._built.get((name, query))
        if found is not None:
            self._built.move_to_end((name, query))
        return found

    def keep(self, name: str, query: str, body: bytes, state: State | None = None) -> None:
        """Remember a page that was begun at this state of the workshop; the one unused for longest makes room."""
        if len(query) > LONGEST_KEPT or (name, query) in self._built or state not in (None, self.state):
            return
        self._built[(name, query)] = body
        self._bytes += len(body)
        while self._bytes > MOST_KEPT:
            self._bytes -= len(self._built.popitem(last=False)[1])

    @property
    def knows_cells(self) -> bool:
        """Whether all pairs of the store have been worked out for the grid."""
        counts = [sum(not is_yours(r) for r in self.ref.materials(kind)) for kind in ("glass", "metal")]
        return len(self._cells) >= counts[0] * counts[1]

    def cell(self, glass: Glass, metal: Metal) -> Cell:
        """What the grid shows of a glass on a metal at the standard build-up; those of the store are remembered."""
        pair = (glass.key, metal.key)
        found = self._cells.get(pair)
        if found is None:
            from refdb.judge.fit.glass_on_metal import suits

            found = cell_of(suits(self.ref, glass, metal))
            if not (is_yours(glass) or is_yours(metal)):
                self._cells[pair] = found
        return found

    @property
    def metals(self) -> list[Metal]:
        """All base metals, the person's own last."""
        return [m for m in self.ref.materials("metal") if isinstance(m, Metal)]

    @property
    def glasses(self) -> list[Glass]:
        """All glasses, the person's own last."""
        return [g for g in self.ref.materials("glass") if isinstance(g, Glass)]

    def choices(self, kind: str, picked: str) -> list[tuple[str, list[Any]]]:
        """Records of a kind to choose from, by family; one that was picked is there even where lists leave it out."""
        records = list(self.ref.materials(kind))
        if is_yours(picked) and picked not in {r.key for r in records}:
            with suppress(NotFound):
                records.append(self.ref.material(picked, kind))
        return by_family(records)

    def source_name(self, key: str) -> str:
        """The short name of a source; the key itself where it is none of the store's or the shelf's."""
        return self._source_names.get(key, key)

    @cached_property
    def _source_names(self) -> dict[str, str]:
        return self.ref.source_names()

    def practice_for(self, rule: str) -> list[tuple[str, str]]:
        """Address and name of the subjects of practice that tell the remedy of a rule of the judge."""
        return [(f"/practice/{t.key}", t.topic) for t in self._practice_for.get(rule, ())]

    @cached_property
    def _practice_for(self) -> dict[str, list[Topic]]:
        from refdb.store.topics import of_rule

        return of_rule(self.ref)

    def citations(self, keys: set[str]) -> list[tuple[str, str]]:
        """Key and citation of each of these sources, in order of key."""
        return [(s.key, s.citation) for s in self.ref.sources() if s.key in keys]


#: What builds a page: the site, and the query of the address.
Builder = Callable[[Site, dict[str, str]], View]


def by_family(records: list[Any]) -> list[tuple[str, list[Any]]]:
    """Records under their families, in order; the person's own come first."""
    groups: dict[str, list[Any]] = {YOURS: []} if any(map(is_yours, records)) else {}
    for record in records:
        groups.setdefault(family_of(record), []).append(record)
    return list(groups.items())
