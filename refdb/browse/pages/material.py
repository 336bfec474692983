"""The page of one base metal, glass or leaf: every figure from every source, and what it goes with."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.browse.pages import leaf_heat, melting, pool, ramps
from refdb.browse.pages.material_relations import published_of, reactions_of, seen_of
from refdb.browse.pages.printed import property_range, property_text, temperature_span, typeset, upper_first, whole_text
from refdb.browse.pages.shelf import MOST_LISTED, tile_told
from refdb.browse.pages.suits_pictures import short_name
from refdb.browse.site import OWN_TABLES, YOURS, Site, View, is_yours, link_to_verdict, named
from refdb.judge.cautions import cautions_for
from refdb.judge.fit.glass_on_metal import rank, suits
from refdb.judge.known import details_of, in_order, kind_of, missing_of, rules_naming
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE, Measure
from refdb.pictures.curves import one_curve
from refdb.pictures.drawing import Triple, figure
from refdb.pictures.interval import axis, interval, scale_of, window
from refdb.records import Glass, Leaf, Material, Metal, Property, PropertyValue
from refdb.records.printed import unit_of
from refdb.science.expansion import glass_mean_20_400, glass_strain
from refdb.store.schema import TABLE
from refdb.store.workshop.schema import OWN, PREFIX
from refdb.store.workshop.sources import SOURCES as OWN_SOURCES

KINDS = {"metal": "base metal", "glass": "glass", "leaf": "leaf or foil"}
_ORDER = (SUITS, CARE, UNSURE, NOT)
#: The two ends of the kiln setting of a glass, which are shown as one window.
_ENDS = ("fuse_low", "fuse_high")


def build(site: Site, key: str) -> View:
    """The page of the record of this key; NotFound with the nearest keys otherwise."""
    record = site.ref.material(key)
    kind = kind_of(record)
    labels = {c.name: c.label for c in TABLE[f"{kind}_details"].columns}
    details = [(labels[name], text) for name, text in details_of(record).items() if text and name != "form"]
    form = getattr(record, "form", "")
    whose = f", {YOURS}" if is_yours(record) else ""
    glance = [("kind", f"{KINDS[kind]}{f', {form}' if form else ''}{whose}"), ("family", record.family), *details]
    related = _related(site, record)
    curve = _curve(site, record)
    melts = melting.of_metal(site, record) if isinstance(record, Metal) else None
    heat = leaf_heat.of_leaf(site, record) if isinstance(record, Leaf) else None
    sinters = ramps.of_clay(site, record) if isinstance(record, Metal) else None
    rules = rules_naming(site.ref.fit_rules(), record)
    cautions = (
        cautions_for(
            site.ref.hazards(),
            record if isinstance(record, Glass) else None,
            record if isinstance(record, Metal) else None,
        )
        if kind != "leaf"
        else ()
    )
    reactions = reactions_of(site, record)
    published, seen = published_of(site, record), seen_of(site, record)
    used = {
        record.source,
        *(v.source for v in record.values),
        *(r.source for r in rules),
        *(c.source for c in cautions),
        *(r["source"] for r in (*reactions, *published, *seen)),
        *(curve["sources"] if curve else ()),
        *(melts["sources"] if melts else ()),
        *(heat["sources"] if heat else ()),
        *(sinters["sources"] if sinters else ()),
    }
    return View(
        "material.html",
        {
            "record": record,
            "kind": kind,
            "glance": glance,
            "properties": _properties(site, record),
            "related": related,
            "counts": [(o, sum(1 for r in related if r["outcome"] == o)) for o in _ORDER],
            "unasked": sum(1 for r in related if not r["outcome"]),
            "curve": curve,
            "melts": melts,
            "heat": heat,
            "sinters": sinters,
            "pooled": pool.of_class(site, record.key),
            "rules": rules,
            "reactions": reactions,
            "published": published,
            "seen": seen,
            "cautions": cautions,
            "sources": site.citations(used),
            "written": _written(record, kind),
            "tiles": _tiles(site, record),
        },
        "/materials",
    )


def _tiles(site: Site, record: Material) -> list[dict[str, Any]]:
    """The last tiles of a record of the person's own, the latest first; none for those of the store."""
    if not is_yours(record):
        return []
    held = [t for t in site.ref.all_tiles() if record.key in (t.glass, t.metal)]
    return [tile_told(site, tile) for tile in reversed(held[-MOST_LISTED:])]


def _written(record: Material, kind: str) -> str:
    """Where a record of the person's own stands as it was written down; empty for those of the store."""
    if not is_yours(record):
        return ""
    from datasette.utils import tilde_encode

    return f"{OWN_TABLES}/{OWN[kind].table}/{tilde_encode(record.key.removeprefix(PREFIX))}"


def _properties(site: Site, record: Material) -> list[dict[str, Any]]:
    """Each property with its rows, those without a figure last, so that a hole is seen."""
    held: dict[str, list[PropertyValue]] = {}
    for row in record.values:
        held.setdefault(row.property, []).append(row)
    gone = missing_of(record)
    titles = {s.key: (s.citation, s.kind) for s in site.ref.sources()}
    names = {p.key: p for p in site.ref.properties()}
    both = all(end in held for end in _ENDS)
    found = [
        _kiln_window(names, held, titles) if both and prop.key == _ENDS[0] else _property(prop, held[prop.key], titles)
        for prop in in_order(site.ref.properties())
        if prop.key in held and not (both and prop.key == _ENDS[1])
    ]
    for key in gone:
        prop = names.get(key)
        found.append(
            {
                "label": upper_first(prop.label if prop else key.replace("_", " ")),
                "description": prop.description if prop else "",
                "rows": [],
                "axis": "",
            }
        )
    return found


def _end(row: PropertyValue | None) -> tuple[float, bool] | None:
    return (row.band.value, row.preferred) if row else None


def _kiln_window(
    names: dict[str, Property], held: dict[str, list[PropertyValue]], titles: dict[str, tuple[str, str]]
) -> dict[str, Any]:
    """The kiln setting as one property: a row for each source, with a bar from its low end to its high end."""
    prop = names[_ENDS[0]]
    sides: dict[tuple[str, str], dict[str, PropertyValue]] = {}
    for end in _ENDS:
        for row in held[end]:
            sides.setdefault((row.source, row.locator), {})[end] = row
    scale = scale_of([row.band.value for ends in sides.values() for row in ends.values()], 0.5, 0.0)
    told = []
    for (source, locator), ends in sorted(sides.items(), key=lambda s: -sum(r.preferred for r in s[1].values())):
        low, high = (ends.get(end) for end in _ENDS)
        first = low or high
        values = [property_text(row.band.value, prop) for row in (low, high) if row]
        words = " to ".join(dict.fromkeys(values)) if low and high else f"{'from' if low else 'to'} {values[0]}"
        which = [word for word, row in (("low end", low), ("high end", high)) if row and row.preferred]
        basis = _how_known(first) if first else ""
        told.append(
            {
                "source": source,
                "title": titles[source][0],
                "preferred": bool(which),
                "which": which[0] if len(which) == 1 and low and high else "",
                "value": words,
                "range": "",
                "plot": Markup(window(_end(low), _end(high), scale)),
                "over": "",
                "note": "; ".join(dict.fromkeys(n for n in (basis, locator, *(r.note for r in ends.values())) if n)),
            }
        )
    unit = unit_of(prop)
    return {
        "label": f"Kiln setting, {unit}",
        "description": "From the low end to the high end of the usual setting for a fire of a few minutes.",
        "rows": told,
        "axis": Markup(axis(property_text(scale.low, prop), property_text(scale.high, prop))),
    }


def _how_known(row: PropertyValue) -> str:
    return row.basis if row.seen in row.basis or row.basis == row.seen else f"{row.basis}, {row.seen}"


def _property(prop: Property, rows: list[PropertyValue], titles: dict[str, tuple[str, str]]) -> dict[str, Any]:
    unit = unit_of(prop)
    numbers = [x for row in rows for x in (row.band.value, row.band.low, row.band.high)]
    scale = scale_of(numbers, 0.5, 0.0 if min(numbers) >= 0 else None)
    several = len({(r.temp_low_c, r.temp_high_c) for r in rows}) > 1
    preferred = next((r for r in rows if r.preferred), rows[0])
    told = []
    for row in rows:
        notes = [_how_known(row), row.locator, row.note]
        if several and (row.temp_low_c, row.temp_high_c) != (preferred.temp_low_c, preferred.temp_high_c):
            notes.append("another span: not to be set against the preferred row")
        band = row.band
        told.append(
            {
                "source": row.source,
                "title": titles[row.source][0],
                "preferred": row.preferred,
                "which": "",
                "value": "" if row.value is None else property_text(row.value, prop),
                "range": property_range(row, prop),
                "plot": Markup(
                    interval(
                        Triple(band.value, band.low, band.high),
                        scale,
                        preferred=row.preferred,
                        dot=row.value is not None,
                    )
                ),
                "over": temperature_span(row.temp_low_c, row.temp_high_c),
                "note": "; ".join(n for n in notes if n),
            }
        )
    return {
        "label": f"{upper_first(prop.label)}, {unit}" if unit else upper_first(prop.label),
        "description": prop.description,
        "rows": told,
        "axis": Markup(axis(property_text(scale.low, prop), property_text(scale.high, prop))),
    }


def _related(site: Site, record: Material) -> list[dict[str, Any]]:
    """What a glass or metal goes with, best first; nothing for leaf.

    Pairs of a class with a pool's band that nobody has asked about yet come last and have no outcome: to work out all
    of them takes many seconds.
    """
    found: list[tuple[str, Material, str]]
    if isinstance(record, Metal):
        asked = [g for g in site.glasses if site.ref.is_known(g, record)]
        ranked = rank(site.ref, record, None if len(asked) == len(site.glasses) else asked)
        found = [(r.verdict.outcome, r.glass, link_to_verdict(r.glass.key, record.key)) for r in ranked]
        known = {g.key for g in asked}
        found += [("", g, link_to_verdict(g.key, record.key)) for g in site.glasses if g.key not in known]
    elif isinstance(record, Glass):
        found = [
            (
                suits(site.ref, record, m).outcome if site.ref.is_known(record, m) else "",
                m,
                link_to_verdict(record.key, m.key),
            )
            for m in site.metals
        ]
    else:
        return []
    found.sort(key=lambda row: (*_ORDER, "").index(row[0]))
    return [{"outcome": o, "label": named(other), "link": link, "yours": is_yours(other)} for o, other, link in found]


def _curve(site: Site, record: Material) -> dict[str, Any] | None:
    """Free expansion of a metal from its points, or of a glass up to its set point; None where it is not known."""
    name = short_name(record)
    if isinstance(record, Metal) and len(record.points) >= 2:
        return _curve_of_metal(site, record, name)
    return _curve_of_glass(record, name) if isinstance(record, Glass) else None


def _curve_of_metal(site: Site, record: Metal, name: str) -> dict[str, Any]:
    points = [(t, s) for t, s in record.points if 20.0 <= t <= 1000.0]
    smooth = [
        (t, float(record.curve(t)) * 1e6)
        for t in sorted({*(float(t) for t in range(20, int(points[-1][0]) + 1, 20)), points[-1][0]})
        if record.curve.low_c <= t <= record.curve.high_c
    ]
    keys = [
        r["source"]
        for r in site.ref.rows(
            "SELECT DISTINCT source FROM expansion_points WHERE material = ? ORDER BY source",
            record.like if is_yours(record) else record.key,
        )
    ]
    own = record.value("expansion")
    if is_yours(record) and own is not None and own.source in OWN_SOURCES:
        # Its figure stretches the curve of its class.
        keys.append(own.source)
    return {
        "picture": Markup(one_curve(smooth, None, None, name, "metal", "curve", f"Free expansion of {name}")),
        "rows": [(figure(t), figure(s), "") for t, s in points if t % 100 == 0 or len(points) < 12],
        "ranged": False,
        "sources": keys,
        "words": f"{upper_first(name)} if it were free, from 20 °C.",
    }


def _curve_of_glass(record: Glass, name: str) -> dict[str, Any] | None:
    row, set_point = record.value("expansion"), record.band("set_point")
    if row is None or set_point is None or row.temp_low_c is None or row.temp_high_c is None:
        return None
    band = row.band
    means = [glass_mean_20_400(x, row.temp_low_c, row.temp_high_c) for x in (band.value, band.low, band.high)]
    temps = sorted({*(20.0 + 20 * n for n in range(int((set_point.value - 20) / 20) + 1)), set_point.value})
    lines = [[(t, float(glass_strain(t, mean))) for t in temps] for mean in means]

    def row_at(temp_c: float) -> tuple[str, str, str]:
        value, low, high = (figure(float(glass_strain(temp_c, mean))) for mean in means)
        return figure(temp_c), value, f"{low} to {high}"

    sets = whole_text(Measure(set_point.value, set_point.low, set_point.high, "°C"))
    title = f"Free expansion of {name}"
    return {
        "picture": Markup(one_curve(lines[0], lines[1], lines[2], name, "glass", "curve", title)),
        "rows": [row_at(t) for t in (100.0, 200.0, 300.0, 400.0, set_point.value)],
        "ranged": True,
        "sources": [row.source],
        "words": f"Drawn to its set point, {sets}; above it the glass carries no stress. Dotted: low and high, "
        f"from a mean of {typeset(f'{band.value:g}')} ppm/K over "
        f"{temperature_span(row.temp_low_c, row.temp_high_c)}.",
    }
