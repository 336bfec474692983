"""A table as its page shows it: rows by a title, what matters first, and every cell in words."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import Any, NamedTuple

from markupsafe import Markup

from refdb.browse.site import OWN_TABLES, Site, link_to, link_to_verdict
from refdb.browse.tables.words import MATERIALS, CellWords
from refdb.store.workshop.keys import PREFIX
from refdb.store.workshop.schema import OWN
from refdb.words import lower_first, upper_first

#: What a row is called by: columns, and what joins their words.
_TITLES: dict[str, tuple[str, ...]] = {
    "aliases": ("alias",),
    "answers": ("glass", "metal"),
    "builds": ("glass", "metal"),
    "colour_reactions": ("glass", "ground"),
    "compositions": ("glass", "component"),
    "contacts": ("metal_a", "metal_b"),
    "elements": ("name",),
    "estimates": ("glass", "property"),
    "expansion_points": ("material", "temp_c"),
    "exposure_limits": ("agent", "place"),
    "faults": ("cause",),
    "firing_phases": ("clay_family", "schedule", "title"),
    "fit_rules": ("rule",),
    "glass_details": ("material",),
    "glass_groups": ("glass_group", "glass"),
    "hazards": ("hazard",),
    "known_pairs": ("words",),
    "leaf_details": ("material",),
    "metal_details": ("material",),
    "observed_firings": ("material", "result"),
    "practice_rules": ("statement",),
    "practice_topics": ("topic",),
    "property_bounds": ("property", "kind"),
    "property_values": ("material", "property"),
    "reference_values": ("glass", "property"),
    "source_subjects": ("source", "subject"),
    "sources": ("name",),
    "synonyms": ("words",),
}
_OWN_TITLES: dict[str, tuple[str, ...]] = {
    "tiles": ("glass", "metal"),
    "strips": ("glass", "metal"),
    "firings": ("glass", "metal"),
    "stock": ("key",),
    "kilns": ("key",),
}
_JOINTS = {
    "answers": " on ",
    "builds": " on ",
    "colour_reactions": " ",
    "compositions": ": ",
    "contacts": " with ",
    "estimates": ": ",
    "expansion_points": " at ",
    "exposure_limits": ", ",
    "firing_phases": ", ",
    "firings": " on ",
    "glass_groups": ": ",
    "observed_firings": ": ",
    "property_bounds": " of ",
    "property_values": ": ",
    "reference_values": ": ",
    "source_subjects": ": ",
    "strips": " on ",
    "tiles": " on ",
}
#: The head of titles, where the heads of their columns make none.
_HEADS = {"contacts": "metals touching"}
#: What is shown on a phone besides the title, in this order, and stands first elsewhere.
_FIRST: dict[str, tuple[str, ...]] = {
    "aliases": ("kind", "record", "standing"),
    "answers": ("numbers",),
    "builds": ("first_ratio", "bare_ratio", "refused_by"),
    "colour_reactions": ("outcome", "change", "remedy"),
    "compositions": ("wt_pct", "low", "high"),
    "contacts": ("first_melts_c", "reaction", "source"),
    "elements": ("symbol", "density_kg_m3", "melts_c"),
    "exposure_limits": ("limit_text", "instrument"),
    "faults": ("symptom", "how_to_tell", "remedy"),
    "firing_phases": ("temp_low_c", "temp_high_c", "hold_low_min", "hold_high_min", "ramp"),
    "fit_rules": ("outcome", "glass", "metal", "found", "remedy"),
    "glass_details": ("optical", "hardness", "lead", "role"),
    "glasses": ("expansion_ppm_per_k", "fuse_low_c", "fuse_high_c", "optical", "lead"),
    "hazards": ("step", "caution"),
    "known_pairs": ("holds", "failure", "metal_mm", "front_mm", "back_mm"),
    "leaf": ("suited", "solidus_c", "leaf_thickness_um"),
    "leaf_details": ("suited", "why", "form"),
    "materials": ("kind", "family", "summary"),
    "metal_details": ("form", "alloy", "preparation"),
    "metals": ("expansion_ppm_per_k", "solidus_c", "form", "family"),
    "observed_firings": ("kiln_c", "minutes", "metal"),
    "practice_rules": ("topic", "reason", "low", "high", "unit"),
    "practice_topics": ("part", "lead"),
    "properties": ("shown_unit", "description"),
    "property_bounds": ("least", "most", "unit"),
    "property_values": ("value", "low", "high", "preferred", "source"),
    "reference_values": ("value", "low", "high"),
    "solders": ("solidus_c", "liquidus_c", "family", "hazard"),
    "sources": ("authors", "year", "title", "kind"),
    "symptoms": ("part", "when_seen", "how_to_tell"),
    "tiles": ("outcome", "kiln_c", "minutes", "date"),
    "strips": ("expansion_ppm_per_k", "bow_mm", "date"),
    "firings": ("result", "kiln_c", "minutes", "date"),
    "stock": ("grams", "date"),
    "kilns": ("offset_k", "date"),
}
_OWN_FIRST: dict[str, tuple[str, ...]] = {
    "glasses": ("like", "expansion_ppm_per_k", "basis"),
    "metals": ("like", "thickness_mm", "basis"),
    "leaf": ("like", "basis"),
}
_USUAL = ("label", "name")
_NUMBERED = frozenset(own.table for own in OWN.values() if "number" in own.names)
_MOST_FIRST = 4


class Head(NamedTuple):
    """The head of a column: its name in the store, empty where it cannot be sorted by, its words, and over numbers?"""

    sort: str
    words: str
    numeric: bool = False


class Line(NamedTuple):
    """A row: its title and address, and cells with head, words, whether it is a number, and whether phones show it."""

    title: str
    href: str
    cells: list[tuple[str, Any, bool, bool]]


class Laid(NamedTuple):
    """A table laid out."""

    heads: list[Head]
    lines: list[Line]


#: So many rows are worked out or written before the loop sees to others.
ROWS_AT_ONCE = 5


async def turn() -> str:
    """Let the loop see to others, and say nothing: a long table is written in parts, so that no one waits for it."""
    await asyncio.sleep(0)
    return ""


def laid_out(site: Site, head: Callable[..., str]) -> Callable[..., Awaitable[Laid]]:
    """A function from database, table, and what Datasette made of columns and rows, to the table as it is shown."""
    words = CellWords(site)

    async def laid(database: str, table: str, columns: Sequence[Mapping[str, Any]], rows: Sequence[Any]) -> Laid:
        own = database == OWN_TABLES.strip("/")
        names = [c["name"] for c in columns if c["name"] != "Link"]
        title = _title_columns(table, names, own)
        first = _first_columns(table, own)
        rest = [name for name in names if name not in title and name not in ("key", "number")]
        shown = [n for n in first if n in rest] + [n for n in rest if n not in first]
        on_phone = {n for n in first if n in rest} or set(shown[:_MOST_FIRST])
        sortable = {c["name"] for c in columns if c["sortable"]}
        lines, figures = [], set()
        for n_row, row in enumerate(rows, 1):
            if n_row % ROWS_AT_ONCE == 0:
                await turn()
            held = {cell["column"]: cell["raw"] for cell in row}
            told = [(n, words.of(table, n, held.get(n), held)) for n in shown]
            numeric = {n for n in shown if isinstance(held.get(n), (int, float))}
            figures |= numeric
            cells = [
                (head(table, n, database), _of_verdict(words, table, n, text, held), n in numeric, n in on_phone)
                for n, text in told
            ]
            lines.append(Line(_title(words, table, title, held, own), _href(row, held, table, own), cells))
        called = _HEADS.get(table) or _JOINTS.get(table, " ").join(head(table, name, database) for name in title)
        heads = [
            Head(title[0] if title[0] in sortable else "", called),
            *(Head(n if n in sortable else "", head(table, n, database), n in figures) for n in shown),
        ]
        return Laid(heads, lines)

    return laid


def _first_columns(table: str, own: bool) -> tuple[str, ...]:
    return (_OWN_FIRST.get(table) if own else None) or _FIRST.get(table, ())


def _title_columns(table: str, names: Sequence[str], own: bool) -> tuple[str, ...]:
    given = (_OWN_TITLES if own else _TITLES).get(table, ())
    found = tuple(name for name in given if name in names)
    if found:
        return found
    return next(((name,) for name in _USUAL if name in names), tuple(names[:1]) or ("row",))


def _title(words: CellWords, table: str, columns: Sequence[str], row: Mapping[str, Any], own: bool) -> str:
    parts = [_plain(words.of(table, name, row.get(name), row)) for name in columns]
    for n, name in enumerate(columns):
        if n and name in MATERIALS and not str(row.get(name)).startswith(PREFIX):
            parts[n] = lower_first(parts[n])
    if own and table == "stock":
        # Its key is that of a material.
        parts = [_plain(words.of(table, "glass", row.get("key"), row))]
    if table == "expansion_points" and len(parts) > 1:
        parts[-1] += "\u00a0°C"
    text = _JOINTS.get(table, " ").join(part for part in parts if part)
    if own and table in _NUMBERED and row.get("number") is not None:
        text = f"{table.removesuffix('s')} {row['number']}: {text}"
    return upper_first(text) or "one row"


def _plain(told: Any) -> str:
    return str(Markup(told).striptags()) if isinstance(told, Markup) else str(told)


def _href(row: Any, held: Mapping[str, Any], table: str, own: bool) -> str:
    """Where a row has a page: that of Datasette, or of the material that a line of a list is."""
    for cell in row:
        if cell["value_type"] == "pk":
            return str(cell["value"]).split('"')[1]
        if cell.get("is_special_link_column"):
            return str(cell["value"]).split('"')[1]
    key = held.get("key")
    return link_to(key) if isinstance(key, str) and not own else ""


def _of_verdict(words: CellWords, table: str, column: str, told: Any, row: Mapping[str, Any]) -> Any:
    if table == "answers" and column == "numbers":
        return Markup('<a href="{}">{}</a>').format(words.verdict_of(row), told)
    return told


def row_laid(site: Site, head: Callable[..., str]) -> Callable[..., dict[str, Any]]:
    """A function from database, table and the one row of a page to its title, its facts, and the page it is read on."""
    words = CellWords(site)

    def laid(database: str, table: str, rows: Sequence[Any]) -> dict[str, Any]:
        own = database == OWN_TABLES.strip("/")
        held = {cell["column"]: cell["raw"] for cell in rows[0]}
        called = _title_columns(table, list(held), own)
        title = _title(words, table, called, held, own)
        first = _first_columns(table, own)
        names = [*(n for n in first if n in held), *(n for n in held if n not in first and n != "key")]
        if len(called) == 1 and not own:
            names = [n for n in names if n not in called]
        facts = [
            (head(table, n, database), _of_verdict(words, table, n, words.of(table, n, held[n], held), held))
            for n in names
        ]
        if "key" in held:
            facts.append(("key, as files and JSON name it", held["key"]))
        return {"title": title, "facts": [(h, t) for h, t in facts if t != ""], "page": _page(table, held, own)}

    return laid


def _page(table: str, held: Mapping[str, Any], own: bool) -> tuple[str, str]:
    """Address and words of the page on which a person reads what a row holds; empty where there is none."""
    key = str(held.get("key", ""))
    if own:
        return (
            (link_to(PREFIX + key), "its page") if table in ("glasses", "metals", "leaf") else ("/shelf", "your shelf")
        )
    if table == "materials":
        return link_to(key), "its page"
    if table == "sources":
        return f"/sources?key={key}", "what rests on it"
    if table == "practice_topics":
        return f"/practice/{key}", "its page"
    if table in ("answers", "builds"):
        return link_to_verdict(held["glass"], held["metal"]), "the verdict"
    return "", ""
