"""The lists: metals, glasses and leaf, sortable by a link; and what holds a word."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from refdb.ask.question import answered
from refdb.browse.pages.fields import Field, each_as_it_is
from refdb.browse.pages.printed import property_text, typeset
from refdb.browse.server.query import address, chosen
from refdb.browse.site import YOURS, Site, View, by_family, family_of, is_yours, link_to
from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.records import Material, Property
from refdb.store.hits import kind_words
from refdb.store.search import search
from refdb.store.search_words import EVERYWHERE

if TYPE_CHECKING:
    from refdb.store.reference import Reference

PARAMETERS = ("kind", "family", "sort", "down")
_HEADINGS = {"metal": "Metals and metal clays", "glass": "Glasses", "leaf": "Leaf and foil"}
_HARDNESS = ("soft", "medium", "hard", "very hard", "unknown")

#: Where each kind of search hit leads.
HITS: dict[str, Callable[[str], str]] = {
    **dict.fromkeys(("metal", "glass", "leaf"), link_to),
    **dict.fromkeys(("practice_rules", "firing_phases", "solders"), lambda key: f"/practice#{key}"),
    **dict.fromkeys(("hazards", "exposure_limits"), lambda key: f"/cautions#{key}"),
    "faults": lambda key: f"/faults#{key}",
    "symptoms": lambda key: address("/faults", words=key),
    "synonyms": lambda key: f"/reference/synonyms/{key}",
    "fit_rules": lambda key: f"/about#{key}",
    "sources": lambda key: f"/sources?key={key}",
    "colour_reactions": lambda key: f"/reference/colour_reactions/{key}",
    "observed_firings": lambda key: f"/reference/observed_firings/{key}",
    "known_pairs": lambda key: f"/reference/known_pairs/{key}",
    "reference_glasses": lambda key: f"/reference/reference_glasses/{key}",
    "aliases": link_to,
    "contacts": lambda key: address(
        "/reference/contacts", **dict(zip(("metal_a__exact", "metal_b__exact"), key.split(" ", 1), strict=False))
    ),
}


def hit_address(ref: Reference, kind: str, key: str) -> str:
    """Where a hit of a search leads: a rule of practice to its place on the page of its subject."""
    if kind == "practice_rules":
        held = ref.rows("SELECT t.key FROM practice_topics t JOIN practice_rules r USING (topic) WHERE r.key = ?", key)
        return f"/practice/{held[0]['key']}#{key}" if held else HITS[kind](key)
    return HITS[kind](key) if kind in HITS else ""


@dataclass(frozen=True)
class SortableColumn:
    """A column of a list: its name in addresses, its head, how it sorts, whether numbers stand in it, and its head
    where there is little room.
    """

    name: str
    head: str
    cell: Callable[[Material], str]
    order: Callable[[Material], Any]
    number: bool = False
    short: str = ""


def _columns(kind: str, properties: dict[str, Property]) -> list[SortableColumn]:
    def band(key: str) -> Callable[[Material], str]:
        def told(record: Material) -> str:
            row, prop = record.value(key), properties.get(key)
            if row is None or prop is None:
                return "–"
            if key == "expansion":
                low, high = (typeset(f"{x:.1f}") for x in (row.band.low, row.band.high))
            else:
                low, high = (property_text(x, prop) for x in (row.band.low, row.band.high))
            return low if low == high else f"{low} to {high}"

        return told

    def value(key: str) -> Callable[[Material], Any]:
        def order(record: Material) -> Any:
            found = record.band(key)
            return (found is None, found.value if found else 0.0)

        return order

    def words(name: str) -> Callable[[Material], str]:
        return lambda record: str(getattr(record, name)) or "–"

    def setting(record: Material) -> str:
        low, high = record.band("fuse_low"), record.band("fuse_high")
        if low is None or high is None:
            return "–"
        return (
            f"{property_text(low.value, properties['fuse_low'])} to "
            f"{property_text(high.value, properties['fuse_high'])}"
        )

    name = SortableColumn("name", "name", lambda r: r.label, lambda r: r.label.lower())
    if kind == "metal":
        return [
            name,
            SortableColumn("form", "form", words("form"), words("form")),
            SortableColumn("expansion", "expansion, ppm/K", band("expansion"), value("expansion"), True, "ppm/K"),
            SortableColumn("melts", "begins to melt, °C", band("solidus"), value("solidus"), True, "melts, °C"),
            SortableColumn(
                "least", "least for enamel, mm", band("least_thickness"), value("least_thickness"), True, "least, mm"
            ),
        ]
    if kind == "glass":
        return [
            name,
            SortableColumn("hardness", "hardness", words("hardness"), lambda r: _HARDNESS.index(words("hardness")(r))),
            SortableColumn("lead", "lead", words("lead"), words("lead")),
            SortableColumn("expansion", "expansion, ppm/K", band("expansion"), value("expansion"), True, "ppm/K"),
            SortableColumn("setting", "kiln setting, °C", setting, value("fuse_low"), True, "kiln, °C"),
        ]
    return [
        name,
        SortableColumn("form", "form", words("form"), words("form")),
        SortableColumn("metal", "metal", words("metal"), words("metal")),
        SortableColumn("thickness", "thickness, µm", band("leaf_thickness"), value("leaf_thickness"), True, "µm"),
        SortableColumn("fire", "in the fire", words("suited"), words("suited")),
    ]


def materials(site: Site, query: dict[str, str]) -> View:
    """All records, or those of one kind or family, in the order asked for."""
    kind = chosen(query, "kind", tuple(_HEADINGS))
    down = chosen(query, "down", ("1",)) == "1"
    sort, family = query.get("sort", ""), query.get("family", "")
    if (sort or down or family) and not kind:
        raise BadInput("a list is sorted or narrowed within one kind", "kind", "choose one")
    properties = {p.key: p for p in site.ref.properties()}
    sections = []
    for each, heading in _HEADINGS.items():
        if kind and each != kind:
            continue
        columns = _columns(each, properties)
        records = site.ref.materials(each)
        families = [name for name, _ in by_family(list(records))]
        if family:
            chosen(query, "family", families)
            records = [r for r in records if family_of(r) == family]
        if sort:
            chosen(query, "sort", [c.name for c in columns])
            column = next(c for c in columns if c.name == sort)
            records = _sorted(records, column, down)
            groups: list[tuple[str, list[Any]]] = [("", list(records))]
        else:
            groups = by_family(list(records))
        sections.append(
            {
                "kind": each,
                "heading": heading,
                "count": len(records),
                "families": families,
                "own_count": sum(map(is_yours, records)),
                "left_out": site.ref.left_out_of(each),
                "heads": [_head(each, family, c, sort, down) for c in columns],
                "groups": [
                    (name, [(r, [(c.cell(r), c.number) for c in columns[1:]]) for r in held]) for name, held in groups
                ],
            }
        )
    return View("materials.html", {"sections": sections, "kind": kind, "family": family, "sort": sort}, "/materials")


def fields(site: Site, query: dict[str, str]) -> tuple[Field, ...]:
    """What narrows and sorts a list: of the kind that is asked for, or of all where it is none."""
    kinds = [query["kind"]] if query.get("kind") in _HEADINGS else list(_HEADINGS)
    families = dict.fromkeys(name for each in kinds for name, _ in by_family(list(site.ref.materials(each))))
    columns = {column.name: column.head for each in kinds for column in _columns(each, {})}
    return (
        Field(
            "kind", "kind", tuple((each, heading.lower()) for each, heading in _HEADINGS.items()), "all", always=True
        ),
        Field("family", "family", each_as_it_is(families), "all"),
        Field("sort", "sort by", tuple(columns.items()), "family"),
        Field("down", "order", (("1", "the other way round"),), "as usual"),
    )


def _sorted(records: list[Material], column: SortableColumn, down: bool) -> list[Material]:
    """In the order of a column, ties by key; what has no figure stays last either way."""
    if column.number:
        known = [r for r in records if not column.order(r)[0]]
        return sorted(known, key=lambda r: (column.order(r), r.key), reverse=down) + [
            r for r in records if column.order(r)[0]
        ]
    return sorted(records, key=lambda r: (column.order(r), r.key), reverse=down)


def _head(kind: str, family: str, column: SortableColumn, sort: str, down: bool) -> dict[str, Any]:
    here = column.name == sort
    turned = "1" if here and not down else ""
    return {
        "head": column.head,
        "number": column.number,
        "short": column.short or column.head,
        "aria": ("descending" if down else "ascending") if here else "none",
        "link": address("/materials", kind=kind, family=family, sort=column.name, down=turned),
    }


def find(site: Site, query: dict[str, str]) -> View:
    """Records that hold the words, by kind, the best first, after the answer to a question that was understood."""
    text = query.get("q", "")
    groups: dict[str, list[dict[str, str]]] = {}
    told: dict[str, Any] = {"text": text, "count": 0, "said": "", "near": [], "answer": None}
    if any(c.isalnum() for c in text):
        found = search(site.ref, text, lines=True, idle=EVERYWHERE)
        near = [] if found.hits else [*found.near] or site.ref.near(text)
        told |= {
            "count": len(found.hits),
            "said": found.said_of_all(),
            "near": near,
            "answer": answered(site.ref, text),
        }
        for hit in found.hits:
            what = kind_words(hit.kind) + (f", {YOURS}" if is_yours(hit.key) else "")
            groups.setdefault(what, []).append(
                {"title": hit.title, "line": hit.line, "link": hit_address(site.ref, hit.kind, hit.key)}
            )
    return View("find.html", told | {"groups": list(groups.items())})
