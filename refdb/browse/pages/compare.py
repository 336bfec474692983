"""Two to four glasses on one metal, or metals under one glass, over each other."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.browse.pages.printed import held, range_text, triple, upper_first, value_text, with_unit
from refdb.browse.pages.suits import EXAMPLES, GRADE_WORDS, LABELS, UNITS
from refdb.browse.pages.suits_pictures import short_name, temperatures
from refdb.browse.server.query import address, all_of
from refdb.browse.site import Site, View, link_to_verdict
from refdb.errors import BadInput
from refdb.judge import limits
from refdb.judge.fit.compared import BUILD, FEWEST, MOST, Compared, Comparison, compare, together_words, worst_of
from refdb.judge.fit.question import STANDARD_TEXTS
from refdb.judge.reason import Measure
from refdb.judge.rules import RULES
from refdb.pictures.compared import Bar, Curve, bars, curves_together, line_key
from refdb.pictures.curves import hottest_c
from refdb.pictures.drawing import Triple, figure
from refdb.pictures.interval import Scale, interval, scale_of
from refdb.quantities.forgiving import completed
from refdb.records import Glass, Metal
from refdb.records.printed import holding
from refdb.science.expansion import glass_strain

PARAMETERS = ("glass", "metal", *BUILD)
#: What the page opens with.
_EXAMPLE = (("clear-hard-lead-free", "clear-medium-lead-free"), "copper-sheet")
_COUNT = ("No", "One", "Two", "Three", "Four")


def is_slow(site: Site, query: dict[str, str]) -> bool:
    """Whether a question is calculated."""
    built = any(query.get(name, usual) != usual for name, usual in STANDARD_TEXTS.items()) or "first" in query
    return built or site.bears_own(query)


def build(site: Site, query: dict[str, str]) -> View:
    """The comparison as the command gives it, or the question alone."""
    query = {name: completed(text, UNITS.get(name, "")) for name, text in query.items()}
    glasses = [site.ref.glass(key) for key in all_of(query, "glass")]
    metals = [site.ref.metal(key) for key in all_of(query, "metal")]
    fields = _form(site, query, glasses, metals)
    if not glasses or not metals or (len(glasses) < FEWEST and len(metals) < FEWEST):
        odd = next((name for name in BUILD if query.get(name, "") not in ("", STANDARD_TEXTS.get(name, ""))), "")
        if odd and not (glasses or metals):
            raise BadInput("a build is for glasses on a metal", LABELS[odd], "choose them too, or leave the build away")
        return View("compare.html", fields, "/compare")
    texts = {name: query[name] for name in BUILD if name in query}
    try:
        found = compare(site.ref, glasses, metals, texts, lambda name: LABELS[name])
    except BadInput as fault:
        return View("compare.html", fields | {"fault": _told(fault)}, "/compare", 400)
    return View("compare.html", fields | _answer(site, found, query), "/compare")


def _told(fault: BadInput) -> str:
    what = f"{upper_first(fault.where or '')}: {fault.what}" if fault.where else upper_first(fault.what)
    return f"{what}. {upper_first(fault.todo or '')}."


def _form(site: Site, query: dict[str, str], glasses: list[Glass], metals: list[Metal]) -> dict[str, Any]:
    """What the two forms show: of what there is one, and of what there may be four."""
    of = "metal" if len(metals) > 1 else "glass"
    picked = {"glass": [g.key for g in glasses], "metal": [m.key for m in metals]}
    if not query:
        picked = {"glass": list(_EXAMPLE[0]), "metal": [_EXAMPLE[1]]}
    fields: dict[str, Any] = {
        "title": "Compare glasses, or metals",
        "of": of,
        "forms": [
            (one, _places(picked[one], one == of), (picked[_other(one)] or [""])[0]) for one in ("glass", "metal")
        ],
        "groups": {kind: site.choices(kind, next(iter(picked[kind]), "")) for kind in ("glass", "metal")},
        "query": dict.fromkeys(BUILD, "") | query,
        "examples": EXAMPLES,
        "labels": LABELS,
        "fault": "",
        "rows": [],
        "ordinals": ("first", "second", "third", "fourth"),
    }
    if of == "metal":
        fields["forms"].reverse()
    return fields


def _other(kind: str) -> str:
    return "metal" if kind == "glass" else "glass"


def _places(picked: list[str], here: bool) -> list[str]:
    """What stands in each of the four fields of a form; the other form keeps what it shares."""
    found = picked[:MOST] if here or len(picked) <= 1 else picked[:1]
    return [*found, *[""] * (MOST - len(found))]


def _answer(site: Site, found: Comparison, query: dict[str, str]) -> dict[str, Any]:
    one = found.rows[0].question
    shared = one.metal if found.of == "glass" else one.glass
    name = short_name(shared)
    count = _COUNT[len(found.rows)]
    head = f"{count} glasses on {name}" if found.of == "glass" else f"{count} metals under {name}"
    return {
        "title": head,
        "sentence": found.sentence,
        "rows": [_row(n, row) for n, row in enumerate(found.rows, 1)],
        "stages": _stages(found),
        "curves": _curves(found),
        "gaps": _gaps(found),
        "windows": _windows(found),
        "together": [held(words) for words in together_words(found)],
        "built": _built(found),
        "command": _command(found, query),
        "piece": address("/piece/build"),
        "share_address": address("/compare", **query),
        "shared": shared,
    }


def _built(found: Comparison) -> str:
    build = found.rows[0].question.build
    faces = [
        f"{figure(band.value * 1e3, 2)} mm on the {face}"
        for band, face in ((build.front_m, "front"), (build.back_m, "back"))
    ]
    return f"{figure(build.metal_m.value * 1e3, 2)} mm of metal, glass {' and '.join(faces)}, {build.shape}"


def _row(place: int, row: Compared) -> dict[str, Any]:
    verdict, question = row.verdict, row.question
    gap = verdict.measures.get("gap_ppm")
    window = row.window_c
    return {
        "name": row.name,
        "line": Markup(line_key(place)),
        "place": f"{row.place}{'=' if row.tied else ''}",
        "outcome": verdict.outcome,
        "holds": holding(verdict.holds, "–"),
        "grade": verdict.evidence.grade if verdict.evidence else "",
        "grade_words": GRADE_WORDS[verdict.evidence.grade] if verdict.evidence else "not known",
        "gap": value_text(gap) if gap else "not known",
        "gap_range": range_text(gap) if gap else "",
        "kiln": with_unit(f"{figure(window[0])}–{figure(window[1])}", "°C") if window else "none",
        "decided_by": row.decided_by,
        "sentence": verdict.sentence,
        "link": link_to_verdict(question.glass.key, question.metal.key),
    }


def _stages(found: Comparison) -> list[tuple[str, list[dict[str, Any]]]]:
    """The most stretched glass of each after each firing, all on one scale."""
    stages = max((row.verdict.stages for row in found.rows), key=len)
    worst: list[list[Measure | None]] = [
        [worst_of(row.verdict.stages[n]) if n < len(row.verdict.stages) else None for row in found.rows]
        for n in range(len(stages))
    ]
    known = [m for cells in worst for m in cells if m is not None]
    if not known:
        return []
    scale = scale_of([v for m in known for v in (m.low, m.high)] + [0.0], 0.8)
    return [
        (f"{stage.fire}. {stage.name}", [_stress(cell, scale) for cell in cells])
        for stage, cells in zip(stages, worst, strict=True)
    ]


def _stress(cell: Measure | None, scale: Scale) -> dict[str, Any]:
    if cell is None:
        return {"value": "not known", "range": "", "plot": ""}
    return {
        "value": with_unit(figure(cell.value, signed=True), "MPa"),
        "range": f"{figure(cell.low, signed=True)} to {figure(cell.high, signed=True)}",
        "plot": Markup(interval(triple(cell), scale, limits=[0.0], bad_above=0.0)),
    }


def _curve(record: Glass | Metal, row: Compared, hottest: float) -> Curve | None:
    """The free expansion of one record as far as its verdict knows it."""
    name, measures = short_name(record), row.verdict.measures
    if isinstance(record, Metal):
        if len(record.points) < FEWEST:
            return None
        curve = record.curve
        return Curve([(t, float(curve(t)) * 1e6) for t in temperatures(min(hottest, curve.high_c))], name, False)
    if "set_point_c" not in measures:
        return None
    rate = measures["glass_expansion_ppm_per_k"].value
    ends = temperatures(measures["set_point_c"].value)
    return Curve([(t, float(glass_strain(t, rate))) for t in ends], name, True)


def _curves(found: Comparison) -> Markup | None:
    """All curves on one scale; None where one is not known."""
    rows = found.rows
    hottest = max(
        (hottest_c(r.verdict.measures["set_point_c"].high) for r in rows if "set_point_c" in r.verdict.measures),
        default=600.0,
    )
    of_glass = found.of == "glass"
    several = [_curve(r.question.glass if of_glass else r.question.metal, r, hottest) for r in rows]
    first = rows[0]
    shared = _curve(first.question.metal if of_glass else first.question.glass, first, hottest)
    known = [one for one in several if one is not None]
    if shared is None or len(known) < len(rows):
        return None
    named = [Curve(one.points, row.name, one.is_glass) for one, row in zip(known, rows, strict=True)]
    title = f"Free expansion of {', '.join(one.name for one in named)} and of {shared.name}"
    return Markup(curves_together(named, shared, hottest, "curves", title))


def _gaps(found: Comparison) -> Markup:
    limit, narrow = RULES["gap"].limit, RULES["gap-narrow"].limit
    assert limit is not None
    assert narrow is not None
    rows = []
    for row in found.rows:
        gap = row.verdict.measures.get("gap_ppm")
        rows.append(Bar(row.name, triple(gap) if gap else None, figure(gap.value) if gap else "not known"))
    ends = [(narrow.fine, ""), (limit.fine, ""), (limit.care or limit.fine, "")]
    return Markup(bars(rows, ends, ("", "holds", "", "not"), "gaps", "Contraction gap with its limits", "ppm"))


def _windows(found: Comparison) -> Markup:
    """Where each glass flows, and where its metal begins to melt less the margin."""
    rows, ends = [], []
    for row in found.rows:
        low, high = (row.verdict.measures.get(name) for name in ("kiln_low_c", "kiln_high_c"))
        solidus = row.question.metal.band("solidus")
        if solidus is not None:
            ends.append(solidus.value - limits.SOLIDUS_MARGIN_K)
        if low is None or high is None:
            rows.append(Bar(row.name, None, "not known"))
        elif high.value <= low.value:
            rows.append(Bar(row.name, None, f"none: it flows from {figure(low.value)} °C"))
        else:
            number = Triple((low.value + high.value) / 2, low.value, high.value)
            rows.append(Bar(row.name, number, f"{figure(low.value)}–{figure(high.value)}"))
    shown = [(end, "metal") for end in sorted(set(ends))] if found.of == "glass" else []
    return Markup(bars(rows, shown, (), "windows", "Kiln windows", "°C", block=True))


def _command(found: Comparison, query: dict[str, str]) -> str:
    questions = [row.question for row in found.rows]
    glasses = dict.fromkeys(q.glass.key for q in questions)
    metals = dict.fromkeys(q.metal.key for q in questions)
    built = [
        f'--{name.replace("_", "-")} "{query[name]}"'
        for name in BUILD
        if name in query and STANDARD_TEXTS.get(name) != query[name]
    ]
    return " ".join(["refdb compare", *glasses, *(f"--on {key}" for key in metals), *built])
