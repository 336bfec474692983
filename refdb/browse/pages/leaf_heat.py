"""Leaf against the kiln: where it melts, alone and on metal, beside the kiln windows of glass, with a table behind."""

from __future__ import annotations

from collections import Counter
from typing import Any

from markupsafe import Markup

from refdb.browse.pages.melting import usual_kiln
from refdb.browse.pages.suits_pictures import short_name
from refdb.browse.site import Site, is_yours, named
from refdb.frozen import replace
from refdb.pictures.drawing import Triple, figure, span
from refdb.pictures.heat_bars import COLDEST_C, HOTTEST_C, HeatRow, heat_bars
from refdb.records import Contact, Leaf, Metal

#: Metals that leaf meets, of those in the store, in this order.
_BESIDE = (
    "copper-sheet", "fine-silver-sheet", "sterling-sheet", "gilding-95-5", "gold-18k-yellow", "low-carbon-steel",
    "bronze-sheet", "brass-70-30",
)  # fmt: skip
_HARDNESS = ("soft", "medium", "hard")
_NO_ENAMEL = "not an enamel"


def _windows(site: Site) -> tuple[list[HeatRow], list[tuple[str, str, str]], set[str]]:
    """By hardness the window that most classes have, for the picture and the table, and the sources."""
    rows, told, used = [], [], set()
    for hardness in _HARDNESS:
        held: Counter[tuple[int, int]] = Counter()
        for glass in site.glasses:
            low, high = glass.value("fuse_low"), glass.value("fuse_high")
            if is_yours(glass) or glass.role == _NO_ENAMEL or glass.hardness != hardness or not (low and high):
                continue
            held[round(low.band.value), round(high.band.value)] += 1
            used |= {low.source, high.source}
        if held:
            window, count = held.most_common(1)[0]
            least, most = min(w[0] for w in held), max(w[1] for w in held)
            rows.append(HeatRow(f"{hardness} enamels", window_c=window))
            among = f"{count} of {held.total()} classes; all of them {figure(least)} to {figure(most)}"
            told.append((f"{hardness} enamels", span(*window), among))
    return rows, told, used


def _triple(contact: Contact) -> Triple:
    return Triple(contact.first_melts_c, contact.low, contact.high)


def _melting(leaf: Leaf) -> Triple | None:
    band = leaf.band("solidus")
    return Triple(band.value, band.low, band.high) if band else None


def _told(found: Triple | None) -> str:
    if found is None:
        return "not known"
    return figure(found.value) if found.is_exact else f"{figure(found.value)} ({span(found.low, found.high)})"


def _alone(name: str, below: str, found: Triple) -> HeatRow:
    """A row with where a leaf melts, which is told in words where it lies beyond the axis."""
    beyond = not COLDEST_C <= found.value <= HOTTEST_C
    return HeatRow(name, f"melts at {figure(found.value)} °C" if beyond else below, melts_c=found)


def _on(metal: Metal) -> str:
    return f"on {short_name(metal).removesuffix(' sheet')}"


def of_leaf(site: Site, leaf: Leaf) -> dict[str, Any] | None:
    """One leaf, alone and laid bare on each metal; None where its melting is not known."""
    from refdb.judge.piece.rules_of_leaf import lowest_contact

    alone = _melting(leaf)
    if alone is None:
        return None
    contacts, metals = site.ref.contacts(), {m.key: m for m in site.metals}
    meets = [(m, lowest_contact(contacts, leaf.metal, m)) for key in _BESIDE if (m := metals.get(key))]
    rows = [_alone("alone", "", alone)]
    rows += [HeatRow(_on(m), contact_c=_triple(c)) for m, c in meets if c]
    table = [("alone", _told(alone), "")]
    table += [(_on(m), _told(_triple(c) if c else None), c.reaction if c else "") for m, c in meets]
    value = leaf.value("solidus")
    used = {c.source for _, c in meets if c} | ({value.source} if value else set())
    return _shown(site, f"{named(leaf)} melts", rows, table, used, f"{named(leaf)} against the kiln")


def of_all(site: Site, on: Metal) -> dict[str, Any]:
    """Every leaf, alone and laid bare on one metal; alike ones in one row."""
    from refdb.judge.piece.rules_of_leaf import lowest_contact

    contacts = site.ref.contacts()
    alike: dict[tuple[Triple, Triple | None], list[Leaf]] = {}
    used: set[str] = set()
    for leaf in site.ref.materials("leaf"):
        if not isinstance(leaf, Leaf) or is_yours(leaf) or (alone := _melting(leaf)) is None:
            continue
        contact = lowest_contact(contacts, leaf.metal, on)
        value = leaf.value("solidus")
        used |= {value.source} if value else set()
        used |= {contact.source} if contact else set()
        alike.setdefault((alone, _triple(contact) if contact else None), []).append(leaf)
    order = sorted(alike, key=lambda found: -found[0].value)
    rows, table = [], []
    for alone, touching in order:
        held = alike[alone, touching]
        below = f"and {len(held) - 1} alike" if len(held) > 1 else ""
        rows.append(replace(_alone(short_name(held[0]), below, alone), contact_c=touching))
        table.append((", ".join(named(one) for one in held), _told(alone), _told(touching)))
    name = short_name(on)
    return _shown(site, "leaf", rows, table, used, f"Leaf on {name} against the kiln") | {"on": name}


def _shown(
    site: Site, heading: str, rows: list[HeatRow], table: list[tuple[str, str, str]], used: set[str], title: str
) -> dict[str, Any]:
    windows, told, sources = _windows(site)
    low, high, kiln_source = usual_kiln(site)
    said = "; ".join(f"{name} {first}" for name, first, *_ in table)
    wanted = "; ".join(f"{name} {window}" for name, window, _ in told)
    words = f"In °C. {said}. Kiln windows: {wanted}. The usual kiln: {span(low, high)}."
    groups = [(heading, rows), ("kiln windows", windows)]
    return {
        "picture": Markup(heat_bars(groups, (low, high), "heat", title, words)),
        "rows": table,
        "windows": told,
        "sources": sorted({*used, *sources, kiln_source}),
    }
