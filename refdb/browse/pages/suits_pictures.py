"""The pictures of a verdict and the tables under them, from the verdict's own numbers."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.browse.pages.printed import held, lower_first, triple, value_text, whole_text, with_unit
from refdb.judge import limits
from refdb.judge.bent import bent_words
from refdb.judge.fit.build import State, firings
from refdb.judge.fit.question import Question
from refdb.judge.own.kiln import TRUE, runs_words
from refdb.judge.reason import Measure, Reason
from refdb.judge.remembered import Remembered
from refdb.judge.rules import RULES
from refdb.judge.verdict import LayerNumbers, Stage, Verdict
from refdb.pictures.curves import expansion_curves, hottest_c
from refdb.pictures.drawing import NO_BREAK, Triple, figure, span
from refdb.pictures.interval import interval, scale_of
from refdb.pictures.section import LayerStress, drawn_thicker, firing, section, stress_scale_mpa
from refdb.quantities import Band
from refdb.records import Material, Metal
from refdb.science.expansion import glass_strain
from refdb.words import upper_first

#: Rules of temperature, which are told and not drawn.
_UNDRAWN = {"setting", "metal-melts", "curve-end"}
_ROOM_C, _STEP_C = 20.0, 20.0
#: Curves of a glass on a metal hang on no thickness, so that those drawn last, 6 kB each, serve the next question.
_curves = Remembered[dict[str, Any]](64)


def short_name(record: Material) -> str:
    """A label without what follows its first comma, as it fits beside a drawing; one's own name stays whole."""
    return record.label if record.is_own else lower_first(record.label.partition(",")[0])


def build_words(question: Question, own: dict[str, Any] | None = None) -> str:
    """The build in one or two sentences."""
    build = question.build
    faces = []
    if build.front_m == build.back_m:
        faces.append(f"{_mm(build.front_m)} of glass on each face")
    else:
        for band, face in ((build.front_m, "front"), (build.back_m, "back")):
            faces.append(f"{_mm(band)} of glass on the {face}" if band.value > 0 else f"none on the {face}")
    count = len(firings(build))
    words = f"{_mm(build.metal_m)} of metal, {', '.join(faces)}, {build.shape}"
    if build.shape == "domed":
        words += f" by {_mm(build.rise_m)}"
    words += f", built up in {('one firing', 'two firings', 'three firings')[count - 1]}."
    if question.note:
        words += f" {upper_first(question.note).rstrip('.')}."
    if build.kiln_c is not None:
        words += f" Kiln set to {with_unit(figure(build.kiln_c), '°C')}."
    if build.kiln_offset_k != TRUE:
        written = f", as you wrote it down: {build.kiln_rests_on}" if build.kiln_rests_on else ""
        words += f" The kiln runs {held(runs_words(build.kiln_offset_k))}{written}."
    if own:
        band = own["ppm_per_k"]
        words += (
            f" Your figure for the glass: {with_unit(figure(band['value'], 1), 'ppm/K')} over "
            f"{own['span_c'][0]:.0f} to {with_unit(figure(own['span_c'][1]), '°C')}."
        )
    return words


def _mm(band: Band) -> str:
    value = figure(band.value * 1e3, 2)
    text = span(band.low * 1e3, band.high * 1e3, 2)
    return with_unit(f"{value} ({text})" if " to " in text else value, "mm")


def reason_plot(reason: Reason, verdict: Verdict, question: Question) -> str:
    """The small plot of one reason; empty where there is nothing to draw."""
    rule = RULES.get(reason.rule)
    if rule is not None and rule.key == "kiln":
        return _kiln_plot(verdict, question.metal)
    if rule is None or rule.limit is None or reason.found is None or rule.key in _UNDRAWN:
        return ""
    number, limit = triple(reason.found), rule.limit
    if limit.falling:
        least = question.metal.band("least_thickness") if rule.key == "least-metal" else None
        edge = least.value * 1e3 if least else limit.fine
        scale = scale_of([number.low, number.high, edge, 0.0], 0.8, 0.0)
        return interval(number, scale, limits=[edge], bad_below=edge)
    ends = list(dict.fromkeys((limit.fine, limit.fine if limit.care is None else limit.care)))
    scale = scale_of([number.low, number.high, *ends], 0.7, 0.0 if number.low >= 0 else None)
    return interval(number, scale, limits=ends, bad_above=max(ends))


def _kiln_plot(verdict: Verdict, metal: Metal) -> str:
    low, high = verdict.measures.get("kiln_low_c"), verdict.measures.get("kiln_high_c")
    solidus = metal.band("solidus")
    if low is None or high is None or solidus is None:
        return ""
    ceiling = solidus.value - limits.SOLIDUS_MARGIN_K
    a, b = sorted((low.value, high.value))
    scale = scale_of([a, b, ceiling], 0.7)
    return interval(Triple((a + b) / 2, a, b), scale, limits=[ceiling], bad_above=ceiling, dot=False)


def _layers(stage: Stage, state: State, question: Question, metal_name: str) -> list[LayerStress]:
    thickness = {"front glass": state.front_m, "metal": question.build.metal_m, "back glass": state.back_m}
    found = []
    for layer in reversed(stage.layers):
        name = metal_name if layer.name == "metal" else layer.name
        found.append(
            LayerStress(
                name,
                "metal" if layer.name == "metal" else "glass",
                thickness[layer.name].value * 1e3,
                triple(layer.top_mpa),
                triple(layer.mean_mpa),
                triple(layer.bottom_mpa),
            )
        )
    return found


def _row(layer: LayerNumbers, drawn: LayerStress, depth: float) -> dict[str, str]:
    def told(measure: Measure) -> str:
        return figure(measure.value, signed=True)

    def ranged(measure: Measure) -> str:
        return span(measure.low, measure.high, signed=True)

    return {
        "name": drawn.name,
        "depth": f"{figure(depth, 2)}–{figure(depth + drawn.thickness_mm, 2)}",
        "top": told(layer.top_mpa),
        "top_range": ranged(layer.top_mpa),
        "mean": told(layer.mean_mpa),
        "mean_range": ranged(layer.mean_mpa),
        "bottom": told(layer.bottom_mpa),
        "bottom_range": ranged(layer.bottom_mpa),
    }


def layer_rows(stage: Stage, layers: list[LayerStress]) -> list[dict[str, str]]:
    """The table of one firing, from the front to the back."""
    rows, depth = [], 0.0
    for numbers, layer in zip(reversed(stage.layers), layers, strict=True):
        rows.append(_row(numbers, layer, depth))
        depth += layer.thickness_mm
    return rows


def sections_of(verdict: Verdict, question: Question) -> dict[str, Any] | None:
    """The section of the finished piece and each firing, drawn and as tables; None without numbers."""
    if not verdict.stages:
        return None
    states = firings(question.build)
    name = short_name(question.metal)
    drawn = [_layers(stage, state, question, name) for stage, state in zip(verdict.stages, states, strict=True)]
    most = max(stress_scale_mpa(layers, ranges=False) for layers in drawn)
    deepest = max(sum(x.thickness_mm for x in layers) for layers in drawn)
    front = max(state.front_m.value for state in states) * 1e3
    outcomes = {r.subject.fire: r.outcome for r in reversed(verdict.reasons) if r.subject.fire is not None}
    stages = []
    for n, (stage, layers) in enumerate(zip(verdict.stages, drawn, strict=True), 1):
        rows = layer_rows(stage, layers)
        strain = stage.metal_plastic_strain
        title = f"{n}. {upper_first(stage.name)}"
        stages.append(
            {
                "title": title,
                "rows": rows,
                "outcome": outcomes.get(stage.fire),
                "picture": Markup(
                    firing(
                        layers,
                        stage.bow_mm_per_30mm.value,
                        f"stage-{n}",
                        title,
                        most_mpa=most,
                        deepest_mm=deepest,
                        front_mm=front,
                    )
                ),
                "words": _stage_words(stage, layers),
                "bow": _bow_words(stage.bow_mm_per_30mm),
                "strain": whole_text(Measure(strain.value * 100, strain.low * 100, strain.high * 100, "%")),
                "release": whole_text(stage.release_j_per_m2),
            }
        )
    return {
        "picture": Markup(section(drawn[-1], "section", "Stress through the depth of the finished piece")),
        "thicker": drawn_thicker(drawn[-1]),
        "rows": stages[-1]["rows"],
        "stages": stages,
        "bent": bent_words(verdict.stages),
    }


def _bow_words(bow: Measure) -> str:
    text = whole_text(bow)
    return f"bows {text} over 30{NO_BREAK}mm" if any(c in "123456789" for c in text) else "stays flat"


def _stage_words(stage: Stage, layers: list[LayerStress]) -> str:
    coats = [(x, d) for x, d in zip(reversed(stage.layers), layers, strict=True) if d.kind == "glass"]
    parts = []
    for numbers, drawn in coats:
        worst = numbers.top_mpa if numbers.name == "front glass" else numbers.bottom_mpa
        parts.append(
            f"{with_unit(figure(drawn.thickness_mm, 2), 'mm')} on the {numbers.name.partition(' ')[0]}, at "
            f"its surface {value_text(worst)} ({span(worst.low, worst.high)})"
        )
    return f"{'; '.join(parts)}."


def curves_of(verdict: Verdict, question: Question) -> dict[str, Any] | None:
    """The curves of free expansion and the gap, drawn and as a table; None without numbers."""
    measures = verdict.measures
    if "set_point_c" not in measures or len(question.metal.points) < 2:
        return None
    set_c, gap, expands = (triple(measures[m]) for m in ("set_point_c", "gap_ppm", "glass_expansion_ppm_per_k"))
    found = _curves.of(
        (question.metal,),
        lambda: _drawn_curves(question, set_c, gap, expands),
        (question.glass.label, set_c, gap, expands),
    )
    return found | {"set": whole_text(measures["set_point_c"]), "gap": whole_text(measures["gap_ppm"])}


def _drawn_curves(question: Question, set_c: Triple, gap: Triple, expands: Triple) -> dict[str, Any]:
    """The same but for the figures beside them."""
    curve = question.metal.curve
    names = (short_name(question.metal), short_name(question.glass))

    def glass(ppm_per_k: float) -> list[tuple[float, float]]:
        return [(t, float(glass_strain(t, ppm_per_k))) for t in temperatures(set_c.value)]

    metal = [(t, float(curve(t)) * 1e6) for t in temperatures(min(hottest_c(set_c.high), curve.high_c), set_c.value)]
    rows = []
    for temp in [*(t for t in (100.0, 200.0, 300.0, 400.0, 500.0) if t < set_c.value - 10), set_c.value]:
        m, g = float(curve(temp)) * 1e6, float(glass_strain(temp, expands.value))
        rows.append((figure(temp), figure(m), figure(g), figure(m - g)))
    title = f"Free expansion of {names[1]} and of {names[0]}"
    picture = expansion_curves(
        metal, glass(expands.value), glass(expands.low), glass(expands.high), set_c, gap, names, "curves", title
    )
    return {"picture": Markup(picture), "rows": rows, "metal": names[0], "glass": names[1]}


def temperatures(to_c: float, *more: float) -> list[float]:
    """Temperatures for a curve up to this one, from room temperature on [°C]."""
    steps = [_ROOM_C + _STEP_C * n for n in range(int((to_c - _ROOM_C) / _STEP_C) + 1)]
    return sorted({*steps, to_c, *(m for m in more if m <= to_c)})
