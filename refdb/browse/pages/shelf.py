"""The person's own shelf: jars on metals, tiles, strips and firings, and the forms that write more of them down."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from refdb.browse.pages.grid import COMMON
from refdb.browse.pages.printed import held, with_unit
from refdb.browse.pages.shelf_forms import LABELS, SECRET, UNITS, WrongField
from refdb.browse.site import YOURS, Site, View, link_to, link_to_verdict, named
from refdb.judge.own.tiles import DIFFERS, SILENT, stands
from refdb.pictures.drawing import figure
from refdb.pictures.grid import SHORT
from refdb.pictures.looks import look, looks_once
from refdb.pictures.strip_drawing import strip_drawing
from refdb.quantities.firings import RESULTS
from refdb.records import Glass, Metal, OwnTile
from refdb.store.workshop.schema import OWN, SHOWED, TILE_OUTCOMES

#: So many jars and metals stand in the table, so many of the last records in each list.
MOST_JARS, MOST_METALS, MOST_LISTED = 24, 8, 12
#: Under this share of the most that was ever written down the stock is low.
LOW = 0.2
#: The drawing of each outcome of a tile.
LOOKS = {
    "sound": "sound",
    "crazed": "craze",
    "chipped": "chips",
    "cracked": "crack",
    "cloudy": "cloud",
    "pulled through": "pulled",
    "burnt": "burnt",
    "crawled": "crawl",
    "bubbled": "pinholes",
    "under fired": "grains",
}
#: Fields of a jar that are one of a few words.
_WORDS = {c.name: c for c in OWN["glass"].columns if c.name in ("optical", "hardness", "lead", "cadmium", "basis")}
_UNIT_WORDS = {"C": "°C", "min": "min", "mm": "mm", "ppm/K": "ppm/K"}
_EXAMPLES = {
    "kiln": "790",
    "minutes": "2.5",
    "front": "0.25",
    "back": "0 for bare",
    "metal_thickness": "0.8",
    "glass_thickness": "0.3",
    "length": "100",
    "bow": "4.4",
    "bow_before": "0",
    "name": "Jar 12",
    "expansion": "12.4",
    "span": "20-400",
    "fuses": "780-815",
}


def is_slow(site: Site) -> bool:
    """Whether the shelf is worked out."""
    return site.has_own


def build(site: Site, may_write: bool, said: Mapping[str, Any] | None = None) -> View:
    """The shelf.

    Parameters
    ----------
    site : Site
    may_write : bool
        Whether the reader gets forms.
    said : mapping, optional
        Of a form: its `kind`, its `form`, and the `fault` of one that came; and the name of what was `kept`.
    """
    said = said or {}
    shop = site.ref.shop
    jars = [g for g in site.ref.owned("glass") if isinstance(g, Glass)]
    metals = [m for m in site.ref.owned("metal") if isinstance(m, Metal)]
    tiles = site.ref.all_tiles() if shop is not None else []
    counts = {kind: shop.count(kind) if shop is not None else 0 for kind in OWN}
    fault = said.get("fault")
    writer = site.writer
    fields: dict[str, Any] = {
        "open": shop is not None,
        "shown": site.watch is not None,
        "counted": _counted(counts),
        "can_write": writer is not None,
        "may_write": may_write,
        "secret": (SECRET, writer.secret if may_write and writer is not None else ""),
        "columns": [(m.key, named(m)) for m in _columns(site, metals)],
        "rows": _rows(site, jars[:MOST_JARS], _columns(site, metals), tiles),
        "more_jars": max(len(jars) - MOST_JARS, 0),
        "tiles": [tile_told(site, t) for t in reversed(tiles[-MOST_LISTED:])],
        "strips": _strips(site) if shop is not None else [],
        "firings": _firings(site) if shop is not None else [],
        "more": {kind: max(counts[kind] - MOST_LISTED, 0) for kind in ("tile", "strip", "firing")},
        "drawings": Markup(looks_once(LOOKS.values())),
        "look": lambda key: Markup(look(key)),
        "kept": said.get("kept", ""),
        "undo": said.get("undo", ()),
        "filled": {} if fault else said.get("form", {}),
        "fault": fault,
        "wrong": said.get("kind", "") if fault else "",
    }
    if may_write:
        fields["forms"] = _forms(site, jars, said)
    return View("shelf.html", fields, "/shelf", said.get("status", 200))


def _counted(counts: Mapping[str, int]) -> str:
    """What there is, in a sentence."""
    words = [
        (counts["glass"], "jar", "jars"),
        (counts["metal"], "metal of your own", "metals of your own"),
        (counts["leaf"], "leaf", "kinds of leaf"),
        (counts["tile"], "tile", "tiles"),
        (counts["strip"], "strip", "strips"),
        (counts["firing"], "firing seen", "firings seen"),
    ]
    told = [f"{figure(n)} {one if n == 1 else many}" for n, one, many in words if n]
    return f"{', '.join(told)}." if told else ""


def _columns(site: Site, own: list[Metal]) -> list[Metal]:
    """Own metals first, then those of most workshops as far as there is room."""
    common = {m.key: m for m in site.metals if m.key in COMMON}
    # Of a metal that is sold as sheet and as clay the sheet stands here.
    sheets = [common[key] for key in COMMON if key in common and common[key].form != "clay"]
    return [*own, *sheets][:MOST_METALS]


def _rows(site: Site, jars: list[Glass], metals: list[Metal], tiles: list[OwnTile]) -> list[dict[str, Any]]:
    fired: dict[tuple[str, str], list[OwnTile]] = {}
    for tile in tiles:
        fired.setdefault((tile.glass, tile.metal), []).append(tile)
    stock = _stock(site)
    return [
        {
            "label": jar.label,
            "link": link_to(jar.key),
            "what": _what(jar),
            "stock": stock.get(jar.key),
            "cells": [_cell(site, jar, metal, fired.get((jar.key, metal.key), [])) for metal in metals],
        }
        for jar in jars
    ]


def _what(jar: Glass) -> str:
    words = [jar.hardness if jar.hardness != "unknown" else "", "lead-free" if jar.lead == "free" else "", jar.optical]
    return ", ".join(word for word in words if word and word != "unknown")


def _cell(site: Site, jar: Glass, metal: Metal, tiles: list[OwnTile]) -> dict[str, Any]:
    cell = site.cell(jar, metal)
    said = [stands(t.outcome, cell.outcome) for t in tiles]
    told = [word for word in said if word != SILENT]
    return {
        "metal": named(metal),
        "outcome": cell.outcome,
        "word": SHORT[cell.outcome],
        "holds": f"{cell.holds} of 10" if cell.holds is not None else "",
        "link": link_to_verdict(jar.key, metal.key),
        "tile": ("differs" if DIFFERS in told else "agrees") if told else "",
    }


def _stock(site: Site) -> dict[str, dict[str, Any]]:
    """What is left of each jar, of the most that was ever written down of it."""
    shop = site.ref.shop
    if shop is None:
        return {}
    most: dict[str, float] = {}
    for row in shop.rows("SELECT key, row FROM past WHERE kind = 'stock'"):
        most[row["key"]] = max(most.get(row["key"], 0.0), float(json.loads(row["row"])["grams"] or 0.0))
    found = {}
    for row in shop.listed("stock"):
        whole = max(most.get(row["key"], 0.0), row["grams"])
        share = row["grams"] / whole if whole else 0.0
        low = share < LOW
        of = f" of {figure(whole)}" if whole > row["grams"] else ""
        found[row["key"]] = {
            "words": f"{figure(row['grams'])}{of} g left{', low' if low else ''}",
            "width": f"{share * 100:.0f}",
            "low": low,
        }
    return found


def _called(site: Site, key: str) -> str:
    """A record as it is called; its key where it is no longer there."""
    found = next((r for r in site.ref.materials() if r.key == key), None)
    return key if found is None else named(found)


def tile_told(site: Site, tile: OwnTile) -> dict[str, Any]:
    """A tile as a page shows it: what came of it, on what, how it was fired, and whether its verdict agrees."""
    outcomes = [word.strip() for word in tile.outcome.split(";")]
    glass = next((g for g in site.glasses if g.key == tile.glass), None)
    metal = next((m for m in site.metals if m.key == tile.metal), None)
    verdict, agrees = "", ""
    if glass is not None and metal is not None:
        cell = site.cell(glass, metal)
        verdict = f"{cell.outcome}{f', {cell.holds} of 10' if cell.holds is not None else ''}"
        agrees = stands(tile.outcome, cell.outcome)
    faces = [f"{mm:g} mm {face}" for mm, face in ((tile.front_mm, "front"), (tile.back_mm, "back")) if mm]
    fired = [
        f"{tile.metal_mm:g} mm of metal" if tile.metal_mm else "",
        *faces,
        "bare back" if tile.back_mm == 0 else "",
        f"{tile.kiln_c:.0f} °C" if tile.kiln_c is not None else "",
        f"{tile.minutes:g} min" if tile.minutes is not None else "",
    ]
    return {
        "number": tile.number,
        "looks": [LOOKS[word] for word in outcomes if word in LOOKS][:1],
        "outcome": ", ".join(outcomes) + (f", {tile.showed}" if tile.showed else ""),
        "pair": f"{_called(site, tile.glass)} on {_called(site, tile.metal)}",
        "link": link_to_verdict(tile.glass, tile.metal) if verdict else "",
        "fired": held("; ".join(word for word in fired if word)),
        "verdict": verdict,
        "stands": agrees,
        "differs": agrees == DIFFERS,
        "date": tile.date,
        "note": tile.note or "",
    }


def _strips(site: Site) -> list[dict[str, Any]]:
    shop = site.ref.shop
    assert shop is not None
    rows = shop.rows("SELECT * FROM strips ORDER BY number DESC LIMIT ?", MOST_LISTED)
    return [
        {
            "number": row["number"],
            "pair": f"{_called(site, row['glass'])} on {_called(site, row['metal'])}",
            "found": _expansion(row),
            "picture": Markup(
                strip_drawing(
                    f"strip-{row['number']}",
                    f"Strip {row['number']}",
                    bow_mm=abs(row["bow_mm"]),
                    length_mm=row["length_mm"],
                    glass_outside=row["bow_mm"] >= 0,
                )
            ),
            "built": held(f"{row['metal_mm']:g} mm of metal, {row['glass_mm']:g} mm of glass"),
            "date": row["date"],
            "note": row["note"] or "",
        }
        for row in rows
    ]


def _expansion(row: Mapping[str, Any]) -> str:
    value, low, high = (row[f"expansion{end}_ppm_per_k"] for end in ("", "_low", "_high"))
    if value is None:
        return "no expansion written down"
    ends = f" ({low:.2f} to {high:.2f})" if low is not None and high is not None else ""
    return f"{with_unit(f'{value:.2f}', 'ppm/K')}{ends}"


def _firings(site: Site) -> list[dict[str, Any]]:
    shop = site.ref.shop
    assert shop is not None
    rows = shop.rows("SELECT * FROM firings ORDER BY number DESC LIMIT ?", MOST_LISTED)
    return [
        {
            "number": row["number"],
            "pair": f"{_called(site, row['glass'])} on {_called(site, row['metal'])}",
            "seen": held(f"{row['result']} after {row['minutes']:g} min at {row['kiln_c']:.0f} °C"),
            "built": held(f"{row['metal_mm']:g} mm of metal") if row["metal_mm"] else "",
            "date": row["date"],
        }
        for row in rows
    ]


def _forms(site: Site, jars: list[Glass], said: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The forms, with what was typed into the one that came back."""
    classes = [(family, records) for family, records in site.choices("glass", "") if family != YOURS]
    own_jars = [("your own", jars)]
    sent, fault = said.get("kind"), said.get("fault")
    typed = dict(said.get("form", {}))
    glasses, metals = site.choices("glass", ""), site.choices("metal", "")
    return [
        {
            "kind": kind,
            "labels": LABELS[kind],
            "units": {name: _UNIT_WORDS[unit] for name, unit in UNITS.items()},
            "examples": _EXAMPLES,
            "filled": dict.fromkeys(LABELS[kind], "") | (typed if kind == sent else {}),
            "wrong": fault.field if fault and kind == sent else "",
            "groups": {"glass": glasses if kind == "tile" else own_jars, "metal": metals, "like": classes},
            "words": {name: list(column.choices) for name, column in _WORDS.items()},
            "picks": {
                "outcome": [(word, LOOKS[word]) for word in TILE_OUTCOMES if word in LOOKS],
                "showed": list(SHOWED),
                "result": list(RESULTS),
            },
            "possible": kind in ("tile", "glass") or bool(jars),
        }
        for kind in LABELS
    ]


def wrong_field(fault: WrongField, kind: str, form: Mapping[str, str]) -> dict[str, Any]:
    """What the page is told of a form that could not be taken."""
    return {"kind": kind, "form": dict(form), "fault": fault, "status": 400}
