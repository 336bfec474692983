"""Which builds hold: ratios of a metal, a map of a glass on it, and builds for a wish."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from refdb.browse.pages.suits import LABELS as OF_SUITS
from refdb.browse.pages.suits import field_of
from refdb.browse.server.query import address
from refdb.browse.site import Site, View
from refdb.errors import BadInput
from refdb.judge.fit.build_map import BuildMap, build_map
from refdb.judge.fit.builds import search
from refdb.judge.fit.holding import Holding
from refdb.judge.fit.one_face import FIRST_COATS_MM, THICKEST_METAL_M, Ratio
from refdb.judge.fit.question import STANDARD_TEXTS
from refdb.judge.fit.ratios import folded, made_for, ratios_on, standing_for
from refdb.judge.fit.wanted import build_of, wishes_from
from refdb.judge.fit.wishes import Wishes
from refdb.judge.needs import missing_figures
from refdb.judge.rules import RULES
from refdb.pictures.heat_map import heat_map, key_of, shares_table
from refdb.records import Glass
from refdb.words import lower_first

OPTIONS = ("metal_thickness", "front", "back", "first", "shape", "order", "kiln_most")
PARAMETERS = ("metal", "glass", *OPTIONS, "wish")
LABELS = {"wish": "your wish", "order": "order of faces", "kiln_most": "hottest the kiln goes"} | OF_SUITS
#: What is in the form before anything is asked.
USUAL = {"glass": "clear-hard-lead-free", "metal": "copper-sheet"}
MOST = 8


def is_slow(site: Site, query: dict[str, str]) -> bool:
    """Whether a question is calculated."""
    return bool(query.keys() - {"metal"}) or site.bears_own(query)


def build(site: Site, query: dict[str, str]) -> View:
    """The ratios of a metal, a map, or builds for a wish, as the command tells them; the question alone without one."""
    if not query:
        return View("builds.html", _fields(site, USUAL, Wishes()) | {"title": "Which builds hold?"}, "/builds")
    try:
        return _answered(site, query)
    except BadInput as fault:
        wrong = field_of(fault, LABELS)
        if wrong not in ("wish", "metal_thickness"):
            raise
        shown = USUAL | query
        fields = _fields(site, shown, Wishes()) | {"metal": site.ref.metal(shown["metal"])}
        fields |= {"title": "Which builds hold?", "fault": fault, "wrong": wrong}
        return View("builds.html", fields, "/builds", 400)


def _answered(site: Site, query: dict[str, str]) -> View:
    # The form sends what is usual as well; it asks for nothing more than a metal alone does.
    query = {name: text for name, text in query.items() if text != STANDARD_TEXTS.get(name)}
    metal = site.ref.metal(query.get("metal", USUAL["metal"]))
    glass = site.ref.glass(query["glass"]) if "glass" in query else None
    wishes = wishes_from([query["wish"]] if "wish" in query else [], query, lambda name: LABELS[name])
    shown = query | {"metal": metal.key}
    fields = _fields(site, shown, wishes) | {"metal": metal, "glass": glass}
    ratios = ratios_on(site.ref, metal, glass)
    if glass is None and wishes.are_open and wishes != Wishes():
        fold = standing_for(classes := made_for(site.ref, metal), ratios)
        if fold is None:
            raise BadInput(f"no glass of the store is made for {metal.small}", "glass", "choose one")
        glass = fields["glass"] = fold[0]
        fields["stands"] = fold[1], len(classes)
    of = f"{glass.small} on {metal.small}" if glass is not None else metal.small
    fields["title"] = f"Builds that hold: {of}"
    if glass is not None:
        fields["ratio"] = _ratio(ratios.get(glass.key))
    if not wishes.are_open:
        found = search(site.ref, metal, glass, wishes)
        rule = RULES.get(found.refused_by)
        fields["found"] = [_found(one, glass is None) for one in found[:MOST]]
        fields["refused"] = lower_first(rule.title) if rule is not None else ""
        fields["more"] = max(len(found) - MOST, 0)
    elif glass is not None:
        fields["missing"] = missing_figures(glass, metal)
        found_map = build_map(site.ref, glass, metal, build_of(metal, wishes))
        fields["map"] = _map(found_map, wishes)
        if found_map is not None and found_map.refused_by:
            rule = RULES.get(found_map.refused_by)
            fields["nothing"], fields["ratio"] = True, None
            fields["refused"] = lower_first(rule.title) if rule is not None else ""
    else:
        fields["classes"] = _classes(made_for(site.ref, metal), ratios)
    fields["command"] = _command(shown)
    return View("builds.html", fields, "/builds")


def _fields(site: Site, shown: Mapping[str, str], wishes: Wishes) -> dict[str, Any]:
    """What every form of the page shows."""
    nothing: dict[str, Any] = dict.fromkeys(("metal", "glass", "ratio", "map", "found", "classes", "command"))
    return nothing | {
        "missing": (),
        "fault": None,
        "wrong": "",
        "stands": None,
        "nothing": False,
        "refused": "",
        "more": 0,
        "wished": wishes.words,
        "query": dict.fromkeys(PARAMETERS, "") | dict(shown),
        "glass_groups": site.choices("glass", shown.get("glass", "")),
        "metal_groups": site.choices("metal", shown.get("metal", "")),
        "first_coats": [f"{mm:.2f} mm" for mm in FIRST_COATS_MM],
        "thickest": f"{THICKEST_METAL_M * 1e3:g} mm",
        "keys": [Markup(key_of(share)) for share in (1.0, 0.65, 0.25)],
    }


def _ratio(ratio: Ratio | None) -> dict[str, Any] | None:
    """A ratio in figures and what goes with it; None where none is known."""
    if ratio is None:
        return None
    rule = RULES.get(ratio.refused_by)
    return {
        "first": f"{ratio.first:.2f}" if ratio.first is not None else "",
        "bare": f"{ratio.bare:.2f}" if ratio.bare is not None else "",
        "even": f"{ratio.first_even:.2f}" if ratio.first_even is not None else "",
        "least": [(f"{mm:.2f} mm", f"{ratio.least_metal_mm(mm) or 0:.2f} mm") for mm in FIRST_COATS_MM],
        "refused": lower_first(rule.title) if rule is not None else ratio.refused_by,
    }


def _classes(classes: list[Glass], ratios: dict[str, Ratio]) -> list[dict[str, Any]]:
    """Classes with one map in one row."""
    return [
        {
            "least": [f"{mm:.2f}" for mm in fold.least_metal_mm],
            "first": _span(fold.first),
            "bare": _span(fold.bare),
            "glasses": [(g.key, g.label) for g in fold.glasses],
        }
        for fold in folded(classes, ratios)
    ]


def _span(ends: tuple[float, float]) -> str:
    low, high = (f"{end:.2f}" for end in ends)
    return low if low == high else f"{low} to {high}"


def _found(one: Holding, with_glass: bool) -> dict[str, Any]:
    question = one.question
    front = f"{question.build.front_m.value * 1e3:.2f} mm on the front"
    coat = f"{question.build.back_m.value * 1e3:.2f} mm on the back"
    first = min(question.build.first_m, max(question.build.front_m.value, question.build.back_m.value)) * 1e3
    return {
        "glass": question.glass.label if with_glass else "",
        "others": len(one.alike),
        "metal": one.metal_text or f"{question.build.metal_m.value * 1e3:.2f} mm",
        "front": front if question.build.front_m.value else "the front bare",
        "back": coat if question.build.back_m.value else "the back bare",
        "first": f"first coat {first:.2f} mm" + (", both faces together" if question.build.order == "together" else ""),
        "fires": "one fire" if one.fires == 1 else f"{one.fires} fires",
        "outcome": one.outcome,
        "holds": f"{int(one.holds * 100 + 1e-6)} of 100 hold",
        "link": link_of(one),
    }


def link_of(one: Holding) -> str:
    """The address of the verdict on a build."""
    return address("/suits", glass=one.question.glass.key, metal=one.question.metal.key, **one.asked)


def _map(found: BuildMap | None, wishes: Wishes) -> dict[str, Any] | None:
    """The picture of a map and its table; every cell leads to its verdict."""
    if found is None:
        return None

    def cell(row: int, column: int) -> Holding:
        return found.at(row, column, wishes.metal_text)

    def told(row: int, column: int) -> str:
        back = f"{found.backs_mm[column]:g} mm back" if found.backs_mm[column] else "back bare"
        return f"front {found.fronts_mm[row]:g} mm, {back}: {int(found.holds(row, column) * 100 + 1e-6)} of 100 hold"

    columns = [f"{mm:.1f}" if mm else "0" for mm in found.backs_mm]
    rows = [f"{mm:.2f}" for mm in found.fronts_mm]
    sheet = found.build.metal_m.scaled(1e3)
    on = f"{sheet.value:.2f} mm of metal" + ("" if sheet.is_exact else f" ({sheet.low:.2f} to {sheet.high:.2f})")
    parts = (columns, rows, found.holds, lambda r, c: link_of(cell(r, c)), told)
    return {
        "on": f"On {on}, first coat {found.build.first_m * 1e3:.2f} mm, {found.build.shape}",
        "picture": Markup(
            heat_map(
                "map",
                "How many of ten draws hold, over glass on the front and on the back",
                "Dark cells hold in nine of ten draws, tinted ones in five or more. The table below has every share.",
                *parts,
                ("glass on the back, mm", "glass on the front, mm"),
            )
        ),
        "table": Markup(
            shares_table(*parts, ("Of a hundred draws so many hold; glass on the back across, mm", "front, mm"))
        ),
    }


def _command(shown: Mapping[str, str]) -> str:
    """The same question as typed at a terminal."""
    parts = [f"refdb builds {shown['metal']}"]
    for name in ("glass", *OPTIONS, "wish"):
        if shown.get(name):
            value = shown[name]
            safe = value.replace("-", "").replace(".", "").isalnum()
            quoted = value if safe else '"' + "".join(f"\\{c}" if c in '"\\$`' else c for c in value) + '"'
            parts.append(f"--{name.replace('_', '-')} {quoted}")
    return " ".join(parts)
