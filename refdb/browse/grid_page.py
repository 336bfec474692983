"""Every glass on every metal, in blocks of related metals that fit a page."""

from __future__ import annotations

from markupsafe import Markup

from refdb.browse.query import address, chosen
from refdb.browse.site import Page, Site, by_family, link_to, link_to_verdict
from refdb.pictures.grid import fit_grid
from refdb.records import Metal
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


def blocks(metals: list[Metal]) -> list[tuple[str, list[Metal]]]:
    """Metals in their blocks; empty blocks are left out."""
    placed = {family for _, families in BLOCKS for family in families}
    found = []
    for heading, families in BLOCKS:
        held = [m for m in metals if m.family in families or (not families and m.family not in placed)]
        if held:
            found.append((heading, held))
    return found


def build(site: Site, query: dict[str, str]) -> Page:
    """The grid, narrowed to what the query asks for."""
    hardnesses = TABLE["glass_details"].column("hardness").choices
    glass_families = [family for family, _ in by_family(list(site.glasses))]
    metal_families = [family for family, _ in by_family(list(site.metals))]
    lead = chosen(query, "lead", ("free",))
    hardness = chosen(query, "hardness", hardnesses)
    family = chosen(query, "glasses", glass_families)
    metal_family = chosen(query, "metals", metal_families)
    glasses = [g for g in site.glasses if (not lead or g.lead == lead) and (not hardness or g.hardness == hardness)
               and (not family or g.family == family)]
    metals = [m for m in site.metals if not metal_family or m.family == metal_family]
    groups = [(heading, [(g.key, g.label) for g in held]) for heading, held in by_family(list(glasses))]
    tables = []
    if groups:
        outcomes = site.outcomes
        for heading, held in blocks(metals):
            table = fit_grid(groups, [(m.key, m.label) for m in held], lambda g, m: outcomes[(g, m)], link_to,
                             link_to_verdict, f"{len(glasses)} glasses on {len(held)} metals: {heading}")
            tables.append((heading, Markup(table)))
    return Page("grid.html", {
        "tables": tables, "glass_count": len(glasses), "metal_count": len(metals), "hardnesses": hardnesses,
        "glass_families": glass_families, "metal_families": metal_families,
        "query": dict.fromkeys(PARAMETERS, "") | query,
        "everything": address("/grid"), "narrowed": bool(query)}, "/grid")
