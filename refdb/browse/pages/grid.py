"""Every glass on every metal, in blocks of related metals that fit a page."""

from __future__ import annotations

from markupsafe import Markup

from refdb.browse.server.query import address, chosen
from refdb.browse.site import YOURS, Site, View, by_family, family_of, is_yours, link_to, link_to_verdict
from refdb.pictures.grid import fit_grid
from refdb.records import Glass, Metal
from refdb.store.schema import TABLE

#: Families of metal that stand in one block, in order; a family named nowhere goes into the last.
BLOCKS = (
    ("Copper and gilding metal", ("copper", "gilding metal")),
    ("Silver", ("silver",)),
    ("Gold, platinum and palladium", ("gold", "platinum", "palladium")),
    ("Steel, titanium and nickel", ("steel", "stainless steel", "titanium", "nickel")),
    ("Brass, bronze, aluminium and others", ()),
)
PARAMETERS = ("lead", "hardness", "glasses", "metals")
#: Pairs with the person's own that one page works out, each in some hundredths of a second.
MOST_OWN = 600


def blocks(metals: list[Metal]) -> list[tuple[str, list[Metal]]]:
    """Metals in their blocks; empty blocks are left out."""
    placed = {family for _, families in BLOCKS for family in families}
    found = []
    own = [m for m in metals if is_yours(m)]
    if own:
        found.append((YOURS.capitalize(), own))
    for heading, families in BLOCKS:
        held = [
            m for m in metals if not is_yours(m) and (m.family in families or (not families and m.family not in placed))
        ]
        if held:
            found.append((heading, held))
    return found


def is_slow(site: Site, query: dict[str, str]) -> bool:
    """Whether a grid is calculated: the first, and any with the person's own."""
    return not site.knows_outcomes or YOURS in query.values()


def build(site: Site, query: dict[str, str]) -> View:
    """The grid, narrowed to what the query asks for; the person's own are in it when they are asked for."""
    hardnesses = TABLE["glass_details"].column("hardness").choices
    every_glass, every_metal = site.glasses, site.metals
    glass_families = [family for family, _ in by_family(list(every_glass))]
    metal_families = [family for family, _ in by_family(list(every_metal))]
    lead = chosen(query, "lead", ("free",))
    hardness = chosen(query, "hardness", hardnesses)
    family = chosen(query, "glasses", glass_families)
    metal_family = chosen(query, "metals", metal_families)
    glasses = [
        g
        for g in every_glass
        if (not lead or g.lead == lead)
        and (not hardness or g.hardness == hardness)
        and (family_of(g) == family if family else not is_yours(g))
    ]
    metals = [m for m in every_metal if (family_of(m) == metal_family if metal_family else not is_yours(m))]
    glasses, metals, left_out = _within_bounds(glasses, metals)
    groups = [(heading, [(g.key, g.label) for g in held]) for heading, held in by_family(list(glasses))]
    by_key = {g.key: g for g in glasses}
    tables = []
    if groups:
        for heading, held in blocks(metals):
            columns = {m.key: m for m in held}
            table = fit_grid(
                groups,
                [(m.key, m.label) for m in held],
                lambda g, m, c=columns: site.outcome(by_key[g], c[m]),  # type: ignore[misc]
                link_to,
                link_to_verdict,
                f"{len(glasses)} glasses on {len(held)} metals: {heading}",
            )
            tables.append((heading, Markup(table)))
    return View(
        "grid.html",
        {
            "tables": tables,
            "glass_count": len(glasses),
            "metal_count": len(metals),
            "hardnesses": hardnesses,
            "glass_families": glass_families,
            "metal_families": metal_families,
            "left_out": left_out,
            "has_own": YOURS in (*glass_families, *metal_families),
            "yours": YOURS,
            "query": dict.fromkeys(PARAMETERS, "") | query,
            "everything": address("/grid"),
            "narrowed": bool(query),
        },
        "/grid",
    )


def _within_bounds(glasses: list[Glass], metals: list[Metal]) -> tuple[list[Glass], list[Metal], int]:
    """As many as one page works out, and how many pairs are left out."""
    if not any(map(is_yours, (*glasses, *metals))) or len(glasses) * len(metals) <= MOST_OWN:
        return glasses, metals, 0
    pairs = len(glasses) * len(metals)
    if len(metals) > MOST_OWN // 2:
        metals = metals[: MOST_OWN // 2]
    glasses = glasses[: max(1, MOST_OWN // len(metals))]
    return glasses, metals, pairs - len(glasses) * len(metals)
