"""The page of a verdict, the ranking of one metal or glass, and the form that asks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from markupsafe import Markup

from refdb.browse.pages.printed import (
    how_sure,
    range_text,
    reason_row,
    rests_on,
    told_tiles,
    upper_first,
    value_text,
    whole_text,
)
from refdb.browse.pages.suits_pictures import build_words, curves_of, reason_plot, sections_of
from refdb.browse.server.query import address, chosen
from refdb.browse.site import Site, View, is_yours, link_to_verdict, named
from refdb.errors import BadInput, RefdbError
from refdb.judge.fit.beside import Beside, judge_with_neighbours
from refdb.judge.fit.build import Build
from refdb.judge.fit.glass_on_metal import rank, suits
from refdb.judge.fit.question import FIELDS, STANDARD_TEXTS, Question, asked
from refdb.judge.limits import RELEASE_SCALE, RELEASE_SOURCE
from refdb.judge.own.tiles import otherwise
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE, Verdict
from refdb.quantities.forgiving import completed
from refdb.records.printed import holding, sure

PARAMETERS = ("glass", "metal", *FIELDS)
#: How the form calls each field.
LABELS = {
    "metal_thickness": "metal thickness",
    "front": "front glass",
    "back": "back glass",
    "first": "first coat",
    "shape": "shape",
    "rise": "rise of the dome",
    "order": "order of faces",
    "between": "time between fires",
    "kiln": "kiln setting",
    "kiln_offset": "kiln runs hotter by",
    "kiln_most": "hottest the kiln goes",
    "expansion": "your glass expands",
    "span": "over the span",
    "cubical": "that figure is cubical",
}
EXAMPLES = {
    "metal_thickness": "0.8 mm",
    "front": "0.3 mm",
    "back": "0.3 mm",
    "first": "0.2 mm",
    "rise": "2 mm",
    "kiln": "815 C",
    "kiln_offset": "10 K",
    "expansion": "12.4 ppm/K",
    "span": "20-400 C",
}
#: What an address may say and the form of the page has no field for.
_NOT_IN_THE_FORM = ("order", "between", "kiln_most")
#: What a bare number is taken for.
UNITS = dict.fromkeys(("metal_thickness", "front", "back", "first", "rise"), "mm") | {
    "kiln": "C",
    "kiln_most": "C",
    "kiln_offset": "K",
    "expansion": "ppm/K",
}
_MEASURES = {
    "gap_ppm": "contraction gap",
    "glass_expansion_ppm_per_k": "glass expands",
    "metal_expansion_ppm_per_k": "metal expands",
    "set_point_c": "glass sets at",
}
#: What a map of builds takes over from a question.
_OF_BUILDS = ("metal_thickness", "first", "shape", "order", "kiln_most")
_OF_COMPARING = ("metal_thickness", "front", "back", "first", "shape")
#: So many of a ranking its link lays side by side.
_BEST = 3
#: A grade of evidence in two or three words; the whole of it stands in the numbers.
GRADE_WORDS = {
    "measured": "measured on this jar",
    "published": "published figures",
    "pooled": "pooled tiles",
    "trade": "the trade’s word",
    "likeness": "similar materials",
    "guess": "a guess",
}
#: From so many rows on a reason that they share is said once, over them.
SAID_ONCE_FROM = 3
#: So many things to do stand on the first screen of a phone, before the test tile.
MOST_TO_DO = 2
_ORDER = (SUITS, CARE, UNSURE, NOT)
#: Between a number and the unit that was typed right behind it.
_JOINED_UNIT = re.compile(r"(?<=\d)(?=[^\W\d_])")


def is_standard(query: dict[str, str]) -> bool:
    """Whether a question is answered from what is precomputed, without calculating."""
    return all(STANDARD_TEXTS.get(name) == value for name, value in query.items() if name in FIELDS)


def is_slow(site: Site, query: dict[str, str]) -> bool:
    """Whether a question is calculated."""
    return not is_standard(query) or (("glass" in query or "metal" in query) and site.bears_own(query))


def field_of(fault: RefdbError, labels: Mapping[str, str]) -> str:
    """The field at which an error stands, by its label or its name; empty where it is none of these."""
    where = fault.where or ""
    named_so = where.replace(" ", "_")
    return next((name for name, label in labels.items() if where.startswith(label) or named_so == name), "")


def build(site: Site, query: dict[str, str]) -> View:
    """The page that answers a query: a verdict, a ranking, or the form alone."""
    chosen(query, "cubical", ("yes",))
    glass, metal = query.get("glass", ""), query.get("metal", "")
    if glass and metal:
        typed, query = query, {name: completed(text, UNITS.get(name, "")) for name, text in query.items()}
        records = site.ref.glass(glass), site.ref.metal(metal)
        try:
            question = asked(*records, query, lambda name: LABELS[name], site.ref.kiln_offset())
            verdict, near = judge_with_neighbours(site.ref, question, query.get("metal_thickness", ""), site.aside)
        except BadInput as fault:
            wrong = field_of(fault, LABELS)
            if not wrong or wrong in _NOT_IN_THE_FORM:
                raise
            return View("ask.html", form_fields(site, typed) | {"fault": fault, "wrong": wrong}, "/suits", 400)
        return View("suits.html", verdict_fields(site, question, verdict, near, query), "/suits")
    for name in FIELDS:
        if name in query:
            raise BadInput(
                "a build is judged for one glass on one metal", LABELS[name], "choose both, or leave the build away"
            )
    if metal:
        return _on_metal(site, metal)
    if glass:
        return _of_glass(site, glass)
    return View("ask.html", form_fields(site, {}), "/suits")


def form_fields(site: Site, query: dict[str, str]) -> dict[str, Any]:
    """What the form of a question shows."""
    return {
        "glass_groups": site.choices("glass", query.get("glass", "")),
        "metal_groups": site.choices("metal", query.get("metal", "")),
        "query": dict.fromkeys(PARAMETERS, "") | query,
        "wrong": "",
        "fault": None,
        "labels": LABELS,
        "examples": EXAMPLES,
    }


def _command(query: dict[str, str]) -> str:
    """The same question as typed at a terminal."""
    parts = ["refdb suits", query["glass"], query["metal"]]
    for name in FIELDS:
        if name not in query or STANDARD_TEXTS.get(name) == query[name]:
            continue
        option = f"--{name.replace('_', '-')}"
        value = query[name]
        quoted = value if value.isalnum() else '"' + "".join(f"\\{c}" if c in '"\\$`' else c for c in value) + '"'
        parts.append(option if name == "cubical" else f"{option} {quoted}")
    return " ".join(parts)


def verdict_fields(
    site: Site, question: Question, verdict: Verdict, near: Callable[[], Sequence[Beside]], query: dict[str, str]
) -> dict[str, Any]:
    """Everything the page of a verdict shows."""
    glass, metal = question.glass, question.metal
    shown = query | {"glass": glass.key, "metal": metal.key}
    reasons = [
        reason_row(told)
        | {
            "plot": Markup(reason_plot(told.reason, verdict, question)),
            "split": told.reason.split,
            "settled": told.outcome == SUITS and not told.reason.deciding,
        }
        for told in verdict.told
    ]
    low, high = RELEASE_SCALE
    keys = {t.source for t in verdict.told} | {c.source for c in verdict.cautions} | set(verdict.sources)
    if verdict.stages:
        keys.add(RELEASE_SOURCE)
    known = {s.key for s in site.ref.sources()}
    sources = [*site.citations(keys), *((k, c) for k, c in verdict.sources.items() if k not in known)]
    measures = [
        (label, whole_text(verdict.measures[name])) for name, label in _MEASURES.items() if name in verdict.measures
    ]
    own = verdict.question.get("glass_expansion") if "expansion" in query else None
    return form_fields(site, shown) | {
        "verdict": verdict,
        "glass": glass,
        "metal": metal,
        "title": f"{glass.label} on {named(metal)}",
        "thick": question_thickness(question, query),
        "grade_words": GRADE_WORDS,
        "sure": sure,
        "built": build_words(question, own),
        "how_sure": how_sure(verdict),
        "rests_on": rests_on(verdict),
        "changes": verdict.changes,
        "to_do": to_do(verdict),
        "word": upper_first(verdict.outcome),
        "unsure": verdict.outcome == UNSURE,
        "made": [r for r in reasons if not r["settled"]],
        "settled": [r for r in reasons if r["settled"]],
        "measures": measures,
        "sections": sections_of(verdict, question),
        "curves": curves_of(verdict, question),
        "sources": sources,
        "tiles": told_tiles(verdict),
        "command": _command(shown),
        "release": f"{low:g} to {high:g}",
        "release_source": RELEASE_SOURCE,
        "record": "" if site.writer is None else tile_address(question),
        "share_address": address("/suits", **shown),
        "builds_address": address(
            "/builds", glass=glass.key, metal=metal.key, **{k: query[k] for k in _OF_BUILDS if k in query}
        ),
        "compare_address": address(
            "/compare", glass=glass.key, metal=metal.key, **{k: query[k] for k in _OF_COMPARING if k in query}
        ),
        "advanced": any(name in query for name in ("kiln", "kiln_offset", "expansion", "span", "cubical", "rise")),
        # Last of all: they may come from another process, which works beside this one until then.
        "beside": [
            {
                "text": one.text,
                "outcome": one.outcome,
                "asked": one.asked,
                "link": address("/suits", **(shown | {"metal_thickness": one.text})),
            }
            for one in near()
        ],
    }


def question_thickness(question: Question, query: dict[str, str]) -> str:
    """The thickness of the metal as it was typed, a blank before its unit, else as it is taken."""
    typed = query.get("metal_thickness", "").strip()
    return _JOINED_UNIT.sub(" ", typed) or f"{question.build.metal_m.value * 1e3:g} mm"


def tile_address(question: Question) -> str:
    """Where a tile of this very build is written down, with glass, metal and thicknesses after firing filled in."""
    build = question.build
    thick = {"metal_thickness": build.metal_m, "front": build.front_m, "back": build.back_m}
    filled = {name: f"{band.value * 1e3:.4g}" for name, band in thick.items()}
    kiln = {} if build.kiln_c is None else {"kiln": f"{build.kiln_c:g}"}
    return address("/shelf", glass=question.glass.key, metal=question.metal.key, **filled, **kiln) + "#add-tile"


def to_do(verdict: Verdict) -> list[str]:
    """What to do about a verdict in two sentences at most: own tiles, deeds the trade asks for, what was computed."""
    made = [told for told in verdict.told if told.reason.deciding and told.remedy]
    deeds = [told.remedy for told in made if told.reason.split is None]
    changes = [f"{upper_first(c.words)}: then it {c.outcome}." for c in verdict.changes]
    found = [
        *filter(None, [otherwise(verdict.tiles)]),
        *deeds,
        *changes,
        *(told.remedy for told in made if told.reason.split is not None),
    ]
    return list(dict.fromkeys(found))[:MOST_TO_DO]


def _on_metal(site: Site, key: str) -> View:
    metal = site.ref.metal(key)
    rows = [
        {
            "place": f"{r.place}=" if r.tied else str(r.place),
            "key": r.glass.key,
            "label": named(r.glass),
            "yours": is_yours(r.glass),
            "link": link_to_verdict(r.glass.key, metal.key),
            **_in_short(r.verdict),
        }
        for r in rank(site.ref, metal)
    ]
    return View(
        "ranked.html",
        form_fields(site, {"metal": metal.key})
        | {
            "title": f"Glasses on {named(metal)}, best first",
            "rows": _grouped(rows),
            "what": "glass",
            "record": metal,
            "build": Build(),
            "ties": True,
            "compare": _compared(rows, glass="", metal=metal.key),
            "left_out": site.ref.left_out_of("glass"),
        },
        "/suits",
    )


def _of_glass(site: Site, key: str) -> View:
    glass = site.ref.glass(key)
    rows = []
    for metal in site.metals:
        verdict = suits(site.ref, glass, metal)
        rows.append(
            {
                "place": "",
                "key": metal.key,
                "label": named(metal),
                "yours": is_yours(metal),
                "link": link_to_verdict(glass.key, metal.key),
                **_in_short(verdict),
            }
        )
    return View(
        "ranked.html",
        form_fields(site, {"glass": glass.key})
        | {
            "title": f"Metals under {named(glass)}",
            "rows": _grouped(rows),
            "what": "metal",
            "record": glass,
            "build": Build(),
            "ties": False,
            "compare": _compared(rows, glass=glass.key, metal=""),
            "left_out": site.ref.left_out_of("metal"),
        },
        "/suits",
    )


def _compared(rows: list[dict[str, Any]], **one: str) -> str:
    """The address that lays the best of a ranking side by side."""
    kind = next(name for name, key in one.items() if not key)
    best = sorted(rows, key=lambda row: _ORDER.index(row["outcome"]))[:_BEST]
    several = {f"{kind} {n}" if n > 1 else kind: row["key"] for n, row in enumerate(best, 1)}
    return address("/compare", **several, **{name: key for name, key in one.items() if key})


def _in_short(verdict: Verdict) -> dict[str, str]:
    gap = verdict.measures.get("gap_ppm")
    return {
        "outcome": verdict.outcome,
        "because": verdict.sentence,
        "holds": holding(verdict.holds, "–"),
        "gap": value_text(gap) if gap else "not known",
        "range": range_text(gap) if gap else "",
    }


def _grouped(rows: list[dict[str, Any]]) -> list[tuple[str, str, list[dict[str, Any]]]]:
    """Outcome, what most of its rows say, and the rows, which then leave that out."""
    found = []
    for outcome in _ORDER:
        held = [r for r in rows if r["outcome"] == outcome]
        if not held:
            continue
        ((most, count),) = Counter(r["because"] for r in held).most_common(1)
        shared = most if count >= SAID_ONCE_FROM else ""
        found.append((outcome, shared, [r | {"because": ""} if shared and r["because"] == shared else r for r in held]))
    return found
