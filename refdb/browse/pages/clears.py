"""Which clear goes over a leaf: the question as a sentence, and every clear in its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.browse.pages import leaf_heat
from refdb.browse.pages.printed import reason_row, upper_first
from refdb.browse.server.query import address
from refdb.browse.site import Site, View, is_yours, link_to, named
from refdb.errors import BadInput
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE
from refdb.records.printed import holding, sure

if TYPE_CHECKING:
    from refdb.judge.ranking import Ranked

PARAMETERS = ("leaf", "metal", "under")
#: What the question stands at before anything is chosen.
_STANDARD = {"leaf": "gold-foil-24k", "metal": "fine-silver-clay", "under": ""}


def is_slow(site: Site, query: dict[str, str]) -> bool:
    """Whether a question is calculated."""
    return "leaf" in query and "metal" in query


def build(site: Site, query: dict[str, str]) -> View:
    """The ranking, or the question alone."""
    # What judges whole pieces is loaded only by those who ask for it.
    from refdb.judge.piece.clear_over_leaf import BARE, METAL_M, OVER_M, UNDER_M, against_all, bed_of, usual_bed
    from refdb.judge.piece.clear_over_leaf import clears as ranked_clears
    from refdb.judge.ranking import cautions_of

    if not query:
        heat = leaf_heat.of_all(site, site.ref.metal(_standard(site)["metal"]))
        told = {"title": "Which clear over this leaf?", "groups": [], "heat": heat}
        return View(
            "clears.html", form_fields(site, {}) | told | {"sources": site.citations(heat["sources"])}, "/clears"
        )
    for name in ("leaf", "metal"):
        if name not in query:
            raise BadInput("is not chosen", name, "choose a leaf and a metal")
    leaf, metal = site.ref.leaf(query["leaf"]), site.ref.metal(query["metal"])
    bed = bed_of(site.ref, metal, query.get("under"))
    said = bed != usual_bed(site.ref, metal)
    under = bed.key if bed else BARE
    shown = {"leaf": leaf.key, "metal": metal.key} | ({"under": under} if said else {})
    ranked = ranked_clears(site.ref, leaf.key, metal.key, under)
    heat = leaf_heat.of_all(site, metal)
    shared = [reason_row(told) for told in against_all(ranked)]
    cautions = cautions_of(ranked)
    return View(
        "clears.html",
        form_fields(site, shown)
        | {
            "title": f"Clears over {named(leaf)} on {named(metal)}, best first",
            "groups": _grouped(ranked),
            "best": _best(ranked),
            "leaf": leaf,
            "metal": metal,
            "bed": bed,
            "shared": shared,
            "sizes": tuple(f"{x * 1e3:.2f} mm" for x in (METAL_M, UNDER_M, OVER_M)),
            "heat": heat,
            "cautions": cautions,
            "sources": site.citations(
                {*(s["source"] for s in shared), *heat["sources"], *(c.source for _, some in cautions for c in some)}
            ),
            "share_address": address("/clears", **shown),
            "command": f"refdb clears {leaf.key} --on {metal.key}" + (f" --under {under}" if said else ""),
        },
        "/clears",
    )


def form_fields(site: Site, query: dict[str, str]) -> dict[str, Any]:
    """What the sentence of the question shows."""
    beds = [
        (family, [g for g in held if g.role not in ("line work", "not an enamel")])
        for family, held in site.choices("glass", query.get("under", ""))
    ]
    return {
        "leaf_groups": site.choices("leaf", query.get("leaf", "")),
        "metal_groups": site.choices("metal", query.get("metal", "")),
        "left_out": site.ref.left_out_of("glass"),
        "bed_groups": [(family, held) for family, held in beds if held],
        "query": _standard(site) | query,
    }


def _standard(site: Site) -> dict[str, str]:
    """What the question stands at before anything is chosen; in an export on a metal that is there."""
    is_there = not site.only_on or _STANDARD["metal"] in site.only_on
    return _STANDARD if is_there else _STANDARD | {"metal": site.only_on[0]}


def _words(ranked: Ranked) -> dict[str, str]:
    """What stands against a clear, and the sentence of its verdict where that says more."""
    sentence = ranked.verdict.sentence
    if ranked.because and ranked.because.rstrip(".").lower() in sentence.lower():
        return {"because": sentence, "sentence": ""}
    return {"because": ranked.because or "Nothing against it.", "sentence": sentence}


def _best(ranked: list[Ranked]) -> dict[str, str]:
    """What comes first, in one line and one sentence."""
    first = ranked[0].verdict
    level = [r for r in ranked if r.place == ranked[0].place]
    sure_of = first.outcome if first.holds is None else f"{first.outcome}, holds {sure(first.holds)}"
    if first.outcome == NOT:
        return {
            "outcome": NOT,
            "names": "none of these clears",
            "sentence": f"The least unfit: {named(level[0].glass)}.",
        }
    names = named(level[0].glass) + (f" and {len(level) - 1} like it" if len(level) > 1 else "")
    return {"outcome": first.outcome, "names": names, "sentence": f"{upper_first(sure_of)}. {first.sentence}"}


def _grouped(ranked: list[Ranked]) -> list[tuple[str, list[dict[str, Any]]]]:
    rows = [
        (
            r.verdict.outcome,
            {
                "place": f"{r.place}=" if r.tied else str(r.place),
                "link": link_to(r.glass.key),
                "label": named(r.glass),
                "yours": is_yours(r.glass),
                "holds": holding(r.verdict.holds, "–"),
                **_words(r),
            },
        )
        for r in ranked
    ]
    return [
        (outcome, held)
        for outcome in (SUITS, CARE, UNSURE, NOT)
        if (held := [row for found, row in rows if found == outcome])
    ]
