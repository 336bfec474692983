"""What the page of a whole piece shows once its file is read: judged, planned, drawn."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.browse.pages.piece import BENCH_STYLES_ADDRESS, STYLES_ADDRESS, address_of
from refdb.browse.pages.printed import (
    changes_of,
    how_sure,
    lower_first,
    reason_row,
    rests_on,
    told_tiles,
    triple,
    upper_first,
    value_text,
)
from refdb.browse.pages.suits import GRADE_WORDS, to_do
from refdb.browse.pages.suits_pictures import layer_rows, short_name
from refdb.browse.server.packed import packed, without_remarks
from refdb.browse.server.query import address
from refdb.browse.server.square_code import FINEST_VERSION, code_rows
from refdb.browse.site import Site, named
from refdb.errors import BadInput
from refdb.judge.bent import bent_words
from refdb.judge.piece.states import Fire, Walk, walk
from refdb.judge.piece.steps import Piece
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.piece.zones import layers_m
from refdb.judge.verdict import SUITS, Verdict
from refdb.pictures.build_order import build_order
from refdb.pictures.drawing import figure
from refdb.pictures.section import LayerStress, firing, stress_scale_mpa
from refdb.pictures.square import square_code
from refdb.plan import bench_sheet, lines, sheet
from refdb.plan.piecefile import parse_piece
from refdb.plan.schedule import plan_of
from refdb.plan.words import amount_span
from refdb.words import counted

#: Fires times coats of a piece that is judged on a page; more takes some seconds. The stress around a wire is worked
#: out through all that lies there: for each coat of the piece it takes as long as so many fires do.
MOST_ON_A_PAGE, A_WIRE_IN_FIRES = 800, 20


def answered(site: Site, text: str, where: str) -> tuple[Piece, Verdict, lines.Plan]:
    """A piece, what is judged of it, and its plan; BadInput or NotFound where its text cannot be read."""
    piece = not_too_long(parse_piece(text, site.ref, where))
    return piece, judge_piece(site.ref, piece), plan_of(site.ref, piece)


def not_too_long(piece: Piece) -> Piece:
    """The piece; BadInput where so many coats lie in so many fires that judging it takes too long."""
    fires = sum(step.do == "fire" for step in piece.steps)
    coats = sum(bool(step.glass) for step in piece.steps)
    wires = sum(step.do == "wire" for step in piece.steps)
    if (fires + A_WIRE_IN_FIRES * wires) * coats > MOST_ON_A_PAGE:
        around = f" around {counted(wires, 'wire', 'wires')}" if wires else ""
        what = (
            f"{counted(fires, 'fire', 'fires')} of {counted(coats, 'coat', 'coats')}{around} take too long for a page"
        )
        raise BadInput(what, "piece", "judge it at the terminal")
    return piece


def sheet_of(plan: lines.Plan, verdict: Verdict, script: str = "") -> Markup:
    """The sheet for the bench."""
    return Markup(sheet.sheet(plan, verdict, styles=STYLES_ADDRESS, script=script))


def bench_of(plan: lines.Plan, verdict: Verdict, whole: str, script: str = "", back: str = "") -> Markup:
    """The two pages for the kiln's side.

    `whole` and `script` are addresses, of all reasons and of what keeps ticks; `back` is the piece's own on the
    network, which is printed as a square code where it is short enough for one.
    """
    rows = code_rows(back, "l", FINEST_VERSION) if back else []
    code = square_code(rows, "back", "Square code: the address of this piece") if rows else ""
    return Markup(
        bench_sheet.bench_sheet(plan, verdict, whole=whole, styles=BENCH_STYLES_ADDRESS, script=script, code=code)
    )


def fields(site: Site, text: str, piece: Piece, verdict: Verdict, plan: lines.Plan) -> dict[str, Any]:
    """Everything the page of a judged piece shows."""
    reasons = [reason_row(told) for told in verdict.told]
    keys = {t.source for t in verdict.told} | {c.source for c in plan.cautions} | set(plan.sources)
    amounts = [
        {
            "what": a.what,
            "needed": amount_span(a.needed) if a.needed is not None else "",
            "take": amount_span(a.band),
            "unit": a.unit,
            "note": "; ".join(x for x in (a.note, a.short) if x),
        }
        for a in plan.amounts.rows
    ]
    size = f"{piece.width_m * 1e3:g} × {piece.height_m * 1e3:g} mm"
    thick = f"{figure(piece.base.thickness_m.value * 1e3, 2)} mm"
    return {
        "title": piece.title,
        "text": text,
        "verdict": verdict,
        "piece": piece,
        "plan": plan,
        "size": size,
        "metal_label": f"{named(plan.metal)}, {thick} after firing",
        "word": upper_first(verdict.outcome),
        "how_sure": how_sure(verdict),
        "grade_words": GRADE_WORDS,
        "to_do": to_do(verdict),
        "rests_on": rests_on(verdict),
        "changes": changes_of(verdict),
        "against": [r for r in reasons if r["outcome"] != SUITS],
        "holding": [r for r in reasons if r["outcome"] == SUITS],
        "stages": _stages(site, piece, verdict),
        "bent": bent_words(verdict.stages),
        "build": Markup(build_order(plan.build, "build", "The build, from the front down")),
        "amounts": amounts,
        "signs": [
            ("Not right yet", lines.by_firing(plan.firings, "under")),
            ("Too much", lines.by_firing(plan.firings, "over")),
        ],
        "own": lines.OWN,
        "sources": site.citations({k for k in keys if k != lines.OWN}),
        "tiles": told_tiles(verdict),
        "sheet": address_of(text, sheet=True),
        "bench": address_of(text).replace("/piece?", "/piece/bench?", 1),
        "change": _change(text),
    }


def _change(text: str) -> str:
    """Where the piece is changed step by step; empty where it is too long for an address."""
    try:
        return address("/piece/build", p=packed(without_remarks(text)))
    except BadInput:
        return ""


def _stages(site: Site, piece: Piece, verdict: Verdict) -> list[dict[str, Any]]:
    """Every firing drawn and as a table; coats as thick as they are over the whole face."""
    if not verdict.stages:
        return []
    ref = site.ref
    trail = walk(
        piece,
        {s.glass: ref.glass(s.glass) for s in piece.steps if s.glass},
        {s.leaf: ref.leaf(s.leaf) for s in piece.steps if s.leaf},
    )
    # A firing without any coat has no stage.
    fires = {f.number: f for f in trail.fires}
    outcomes = {r.subject.step: r.outcome for r in reversed(verdict.reasons)}
    drawn = [
        _layers(trail, fires[stage.fire], stage, short_name(ref.metal(piece.base.metal))) for stage in verdict.stages
    ]
    most = max(stress_scale_mpa(layers, ranges=False) for layers in drawn)
    deepest = max(sum(x.thickness_mm for x in layers) for layers in drawn)
    front = max(sum(x.thickness_mm for x in _above(layers)) for layers in drawn)
    found = []
    for n, (stage, layers) in enumerate(zip(verdict.stages, drawn, strict=True), 1):
        title = upper_first(stage.name)
        bow = stage.bow_mm_per_30mm
        found.append(
            {
                "title": title,
                "rows": layer_rows(stage, layers),
                "bow": f"{value_text(bow)} over 30 mm",
                "outcome": outcomes.get(fires[stage.fire].step.number, ""),
                "picture": Markup(
                    firing(layers, bow.value, f"stage-{n}", title, most_mpa=most, deepest_mm=deepest, front_mm=front)
                ),
            }
        )
    return found


def _layers(trail: Walk, fire: Fire, stage: Any, metal: str) -> list[LayerStress]:
    """From the front to the back; the layers of a stage run the other way."""
    thick = layers_m(trail, fire, stage.zone)
    return [
        LayerStress(
            metal if x.name == "metal" else lower_first(x.name),
            "metal" if x.name == "metal" else "glass",
            t * 1e3,
            triple(x.top_mpa),
            triple(x.mean_mpa),
            triple(x.bottom_mpa),
        )
        for x, t in reversed(list(zip(stage.layers, thick, strict=True)))
    ]


def _above(layers: list[LayerStress]) -> list[LayerStress]:
    return layers[: next(n for n, x in enumerate(layers) if x.kind == "metal")]
