"""Every glass on the metals of most workshops, or on every metal in blocks of related ones that fit a page."""

from __future__ import annotations

from markupsafe import Markup

from refdb.browse.pages.fields import Field, all_filled, each_as_it_is
from refdb.browse.pages.printed import tint_of
from refdb.browse.server.query import address, chosen
from refdb.browse.site import YOURS, Site, View, by_family, family_of, is_yours, link_to, link_to_verdict
from refdb.pictures.grid import fit_grid, rows_alike
from refdb.records import Glass, Metal
from refdb.store.schema import TABLE

#: Families of metal that stand in one block, in order; a family named nowhere goes into the last.
BLOCKS = (
    ("Copper and gilding metal", ("copper", "gilding metal")),
    ("Silver", ("silver",)),
    ("Gold, platinum and palladium", ("gold", "platinum", "palladium")),
    ("Steel, titanium and nickel", ("steel", "coated steel", "stainless steel", "cast iron", "titanium", "nickel")),
    ("Brass, bronze, aluminium and others", ()),
)
PARAMETERS = ("lead", "hardness", "glasses", "metals")
#: Metals of most workshops, which stand in the grid where no others are asked for; and the word that asks for all.
COMMON = (
    "copper-sheet",
    "copper-clay-open",
    "copper-clay",
    "fine-silver-sheet",
    "fine-silver-clay",
    "sterling-sheet",
    "gilding-95-5",
    "low-carbon-steel",
)
EVERY = "every metal"
#: Families of glass that stand before the others, and after them.
FIRST, LAST = (YOURS, "clears"), ("enamels for steel", "enamels for titanium", "not enamels")
#: Pairs with the person's own that one page works out, each in some hundredths of a second.
MOST_OWN = 600
#: Own glasses that stand in the first grid, before all others; more are a click away.
FIRST_OWN = 12


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
    return not site.knows_cells or YOURS in query.values() or (_has_own_first(query) and site.has_own)


def build(site: Site, query: dict[str, str]) -> View:
    """The grid, narrowed to what the query asks for; where it asks for no family, the person's own come first."""
    every_glass, every_metal = site.glasses, site.metals
    asked = fields(site)
    family, metal_family, hardness, lead = (chosen(query, field.name, field.words) for field in asked)
    glasses = [
        g
        for g in every_glass
        if (not lead or g.lead == lead)
        and (not hardness or g.hardness == hardness)
        and (family_of(g) == family if family else _has_own_first(query) or not is_yours(g))
    ]
    more_own = 0
    if not family:
        own = [g for g in glasses if is_yours(g)]
        more_own = len(own[FIRST_OWN:])
        glasses = own[:FIRST_OWN] + [g for g in glasses if not is_yours(g)]
    metals = [m for m in every_metal if _is_wanted(m, metal_family)]
    if not metal_family:
        metals.sort(key=lambda m: COMMON.index(m.key))
    glasses, metals, left_out = _within_bounds(glasses, metals)
    families = sorted(by_family(list(glasses)), key=lambda group: _place_of(group[0]))
    groups = [(heading, [(g.key, g.label) for g in held]) for heading, held in families]
    by_key = {g.key: g for g in glasses}
    tables = []
    if groups:
        for heading, held in blocks(metals) if metal_family else [("Metals of most workshops", metals)]:
            table = fit_grid(
                [
                    (family, rows_alike((one, [site.cell(by_key[one[0]], m) for m in held]) for one in rows))
                    for family, rows in groups
                ],
                [(m.key, m.label) for m in held],
                link_to,
                link_to_verdict,
                f"{len(glasses)} glasses on {len(held)} metals: {heading}",
                lambda key: tint_of(by_key[key]),
            )
            tables.append((heading, Markup(table)))
    return View(
        "grid.html",
        {
            "tables": tables,
            "glass_count": len(glasses),
            "metal_count": len(metals),
            "fields": all_filled(asked, query),
            "left_out": left_out,
            "more_own": more_own,
            "yours": YOURS,
            "query": dict.fromkeys(PARAMETERS, "") | query,
            "everything": address("/grid"),
            "every": EVERY,
            "narrowed": bool(query),
        },
        "/grid",
    )


def fields(site: Site) -> tuple[Field, ...]:
    """What narrows the grid."""
    glasses, metals = (tuple(family for family, _ in by_family(list(held))) for held in (site.glasses, site.metals))
    hardnesses = TABLE["glass_details"].column("hardness").choices
    return (
        Field("glasses", "glasses", each_as_it_is(glasses), "all", always=True),
        Field("metals", "metals", each_as_it_is((EVERY, *metals)), "of most workshops", always=True),
        Field("hardness", "hardness", each_as_it_is(hardnesses), always=True),
        Field("lead", "lead", (("free", "free of lead"),), always=True),
    )


def _has_own_first(query: dict[str, str]) -> bool:
    return not query.get("glasses") and not query.get("metals")


def _place_of(family: str) -> int:
    """The person's own and what lies beneath everything first; glass that is no enamel last."""
    if family in FIRST:
        return FIRST.index(family)
    return len(FIRST) + (family in LAST)


def _is_wanted(metal: Metal, family: str) -> bool:
    if not family:
        return metal.key in COMMON
    return not is_yours(metal) if family == EVERY else family_of(metal) == family


def _within_bounds(glasses: list[Glass], metals: list[Metal]) -> tuple[list[Glass], list[Metal], int]:
    """As many as one page works out, and how many pairs are left out."""
    if not any(map(is_yours, (*glasses, *metals))) or len(glasses) * len(metals) <= MOST_OWN:
        return glasses, metals, 0
    pairs = len(glasses) * len(metals)
    if len(metals) > MOST_OWN // 2:
        metals = metals[: MOST_OWN // 2]
    glasses = glasses[: max(1, MOST_OWN // len(metals))]
    return glasses, metals, pairs - len(glasses) * len(metals)
