"""A piece put together on the page: a form for each kind of step, the verdict so far, and all of it in the address.

Nothing is kept. Each change is a form that is sent and answered with the address of the piece as it then is, so that
the browser's Back undoes it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from markupsafe import Markup

from refdb.browse.pages import builder_forms as forms
from refdb.browse.pages.piece import example
from refdb.browse.pages.printed import how_sure, upper_first, value_text
from refdb.browse.server.packed import packed, unpacked
from refdb.browse.server.query import address, chosen
from refdb.browse.site import Site, View, named
from refdb.errors import BadInput, NotFound, RefdbError, StoreUnusable
from refdb.frozen import dataclass
from refdb.judge.piece.steps import Piece
from refdb.judge.verdict import SUITS, Stage, Verdict
from refdb.pictures.build_order import build_order
from refdb.pictures.firings import FiringBlock, firing_blocks
from refdb.plan.bench_sheet import hottest_c
from refdb.plan.piecefile import parse_piece
from refdb.plan.sketch import Sketch

PARAMETERS = ("p", "add", "change")
WHERE = "/piece/build"
#: Steps of a piece that is improved on the page: each edit is tried on all of them.
MOST_IMPROVED = 40
#: Whole pieces to begin from: their words, and the file, which is empty for the example of all pages.
TEMPLATES = {
    "moth": ("Moth brooch", "Fine silver clay, domed; greens over gold foil, an opal spot.", ""),
    "antennae": (
        "Moth with wire antennae",
        "Fine silver, its wings carved; greens between wires.",
        "moth_antennae.toml",
    ),
    "pendant": ("Leaf pendant", "Copper sheet, domed; a clear, then a transparent green.", "pendant.toml"),
    "panel": ("Small panel", "Copper sheet, flat; a white ground and line work.", "panel.toml"),
    "class-set": ("Discs for a class", "Twelve copper discs, one opaque colour each.", "class_set.toml"),
}
_FOLDER = Path(__file__).resolve().parent.parent.parent / "plan" / "templates"
_NEW = Sketch(
    {"title": "New piece", "width": "30 mm", "height": "30 mm"}, {"metal": "copper-sheet", "thickness": "0.8 mm"}
)


@dataclass(frozen=True)
class Filled:
    """A form that was sent and could not be taken: what stood in it, the message, and the field that it is about."""

    values: Mapping[str, str]
    fault: str
    field: str


def is_slow(site: Site, query: dict[str, str]) -> bool:
    """Whether a piece is judged."""
    return "p" in query


def build(site: Site, query: dict[str, str]) -> View:
    """The builder with a piece in it, or what to begin from."""
    if query and "p" not in query:
        raise BadInput("there is no piece to change", "piece", "begin with one from the page of pieces")
    if not query:
        return View("builder_begin.html", {"templates": _templates()}, "/piece")
    return page(site, Sketch.of(unpacked(query["p"])), query)


def begun(query: Mapping[str, str]) -> str:
    """The address of a template, or of a new piece."""
    name = query.get("template", "")
    if not name:
        return address(WHERE, p=packed(_NEW.text), change="body")
    chosen(dict(query), "template", tuple(TEMPLATES))
    file = TEMPLATES[name][2]
    text = (_FOLDER / file).read_text(encoding="utf-8") if file else example()
    return address(WHERE, p=packed(Sketch.of(text).text))


def _templates() -> list[tuple[str, str, str]]:
    return [(name, title, words) for name, (title, words, _) in TEMPLATES.items()]


def sent(site: Site, form: Mapping[str, str]) -> str | View:
    """Where a form that was sent leads: the address of the piece as it now is, or its page with the form to be mended.

    Raises
    ------
    BadInput
        The form holds no piece, or asks for what there is not.
    """
    if "p" not in form:
        return address(WHERE, p=packed(Sketch.of(form["file"]).text)) if "file" in form else begun(form)
    sketch = Sketch.of(unpacked(form["p"]))
    do, _, number = form.get("do", "").partition("-")
    if do in ("up", "down", "copy", "remove"):
        at = _number(number)
        moved = {
            "up": lambda: sketch.moved(at, -1),
            "down": lambda: sketch.moved(at, 1),
            "copy": lambda: sketch.copied(at),
            "remove": lambda: sketch.without(at),
        }[do]()
        return address(WHERE, p=packed(moved.text)) + "#h-st"
    if do == "improve":
        from refdb.plan.improve import improve_text

        if len(sketch.steps) > MOST_IMPROVED:
            raise BadInput("a piece of so many steps takes too long here", "piece", "improve it at the terminal")
        return address(WHERE, p=packed(Sketch.of(improve_text(site.ref, sketch.text).text).text))
    if do not in ("step", "body"):
        raise BadInput("this is not known here", "do", "use a button of the page")
    changed: Sketch | None = None
    at = -1
    try:
        changed, at = _filled(sketch, form, do)
        _checked(site, changed, at)
    except StoreUnusable:
        raise
    except (BadInput, NotFound) as fault:
        if changed is not None and _place(fault) not in ("", forms.BODY_PLACE if not at else str(at)):
            # The form is right; what is wrong elsewhere is told by the page of the piece.
            return address(WHERE, p=packed(changed.text))
        asked = {"add": form.get("add", ""), "change": form.get("change", "") or ("body" if do == "body" else "")}
        return page(
            site,
            sketch,
            {k: v for k, v in asked.items() if v},
            Filled(form, _told(fault), forms.wrong_field(fault)),
            400,
        )
    return address(WHERE, p=packed(changed.text))


def _filled(sketch: Sketch, form: Mapping[str, str], do: str) -> tuple[Sketch, int]:
    """The sketch with what a form says, and the number of the step that it is about, 0 for the body."""
    if do == "body":
        return forms.body_of(form, sketch), 0
    if "change" in form:
        number = _number(form["change"])
        before = sketch.steps[number - 1] if number <= len(sketch.steps) else {}
        return sketch.with_changed(number, forms.step_of(str(before.get("do", "")), form, before)), number
    at = _number(form.get("at") or str(len(sketch.steps) + 1))
    return sketch.with_step(at, forms.step_of(form.get("add", ""), form, {})), at


def _checked(site: Site, sketch: Sketch, at: int) -> None:
    """BadInput or NotFound where the file of a sketch cannot be read; a body without a step is tried with one."""
    tried = sketch if sketch.steps else sketch.with_step(1, {"do": "fire", "kiln": "800 C"})
    parse_piece(tried.text, site.ref, f"step {at}" if at else "the body")


def _told(fault: RefdbError) -> str:
    todo = "" if "refdb " in fault.todo else forms.for_example(fault.todo)
    near = f"did you mean {' or '.join(fault.near)}" if isinstance(fault, NotFound) and fault.near else todo
    what = upper_first(f"{fault.what}{f'; {near}' if near else ''}")
    return "".join(c if c.isprintable() else "?" for c in what)


def _number(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 4):
        raise BadInput("this is no number of a step", "step", "use a button of the page")
    return int(text)


def page(site: Site, sketch: Sketch, query: Mapping[str, str], filled: Filled | None = None, status: int = 200) -> View:
    """The builder with a piece in it, and the form that is asked for."""
    p = packed(sketch.text)
    laid = any("glass" in s or "leaf" in s for s in sketch.steps)
    fired = sketch.fired
    piece = verdict = None
    try:
        piece = parse_piece(sketch.text, site.ref, "piece") if laid or fired.steps else None
        verdict = _judged(site, fired)
    except StoreUnusable:
        raise
    except (BadInput, NotFound) as fault:
        if filled is None:
            query, filled, status = _to_mend(sketch, fault)
    adding, changing = query.get("add", ""), query.get("change", "")
    if adding:
        chosen(dict(query), "add", forms.KINDS)
    kind, fields, heading, at = _form(site, sketch, adding, changing)
    if filled is not None:
        fields = [forms.refilled(f, filled.values.get(f.name, f.value), f.name == filled.field) for f in fields]
    labels = _labels(site, sketch)
    left = len(sketch.steps) - len(fired.steps)
    last = sketch.steps[-1] if sketch.steps else None
    return View(
        "builder.html",
        {
            "title": str(sketch.piece.get("title") or "New piece"),
            "body": _body_words(site, sketch),
            "p": p,
            "where": WHERE,
            "link": lambda **more: address(WHERE, p=p, **more),
            "kinds": forms.KINDS,
            "kind": kind,
            "heading": heading,
            "fields": fields,
            "at": at,
            "adding": adding,
            "changing": changing,
            "filled": filled,
            "count": len(sketch.steps),
            "verdict": verdict,
            "word": upper_first(verdict.outcome) if verdict else "",
            "how_sure": how_sure(verdict) if verdict else "",
            "so_far": len(fired.steps),
            "waits": left,
            "last": forms.words_of(last, labels)[0] if last else "",
            "groups": _groups(sketch, labels, verdict),
            "drawn": _drawn(site, piece) if piece is not None and laid else None,
            "blocks": _blocks(site, piece, verdict) if piece is not None and fired.steps else None,
            "improves": verdict is not None and not left,
            "whole": address("/piece", p=p) if sketch.steps else "",
            "sheet": address("/piece/sheet", p=p) if sketch.steps else "",
            "bench": address("/piece/bench", p=p) if sketch.steps else "",
            "file": address("/piece/file", p=p),
            "text": sketch.text,
            "templates": _templates(),
        },
        "/piece",
        status,
    )


def _to_mend(sketch: Sketch, fault: BadInput | NotFound) -> tuple[dict[str, str], Filled, int]:
    """The form of the step or body that a piece cannot be read for, as it stands, with the message at its field.

    Raises
    ------
    BadInput, NotFound
        The fault itself, where it is about no form.
    """
    place, field = _place(fault), forms.wrong_field(fault)
    if place == forms.BODY_PLACE:
        table = {**sketch.piece, **sketch.base}
    elif place and int(place) <= len(sketch.steps) and sketch.steps[int(place) - 1].get("do") in forms.KINDS:
        table = dict(sketch.steps[int(place) - 1])
    else:
        raise fault
    told = Filled({field: forms.shown(table[field])} if field in table else {}, _told(fault), field)
    return {"change": place}, told, 404 if isinstance(fault, NotFound) else 400


def _place(fault: RefdbError) -> str:
    """Which form of the builder a fault of a piece file is about: the number of a step, or the body; or nothing."""
    where = (fault.where or "").partition(", ")[2] or fault.where or ""
    if where.startswith(("[piece]", "[base]")):
        return forms.BODY_PLACE
    step = re.match(r"step ([0-9]{1,3})\b", where)
    return step[1] if step else ""


def _form(
    site: Site, sketch: Sketch, adding: str, changing: str
) -> tuple[str, list[forms.Field], str, list[tuple[str, str]]]:
    """Kind, fields and heading of the form that is asked for, and where a new step may go; no fields where none is."""
    after = len(sketch.steps) + 1
    if changing == forms.BODY_PLACE:
        return "body", forms.body_fields(site, sketch), "The body", []
    if changing:
        number = _number(changing)
        if not 1 <= number <= len(sketch.steps):
            raise NotFound(f"this piece has no step {number}", todo="go back to the piece")
        step = sketch.steps[number - 1]
        kind = str(step.get("do", ""))
        if kind not in forms.KINDS:
            raise BadInput("this step cannot be changed here", f"step {number}", "change it in the file")
        return kind, forms.step_fields(site, kind, step, sketch), f"Step {number}: {kind}", []
    if adding:
        places = [
            (str(after), f"at the end, as step {after}"),
            *((str(n), f"before step {n}") for n in range(after - 1, 0, -1)),
        ]
        return adding, forms.step_fields(site, adding, {}, sketch), f"Step {after}: {adding}", places
    return "", [], "", []


def _labels(site: Site, sketch: Sketch) -> dict[str, str]:
    """Records that a sketch names, as they are called in a sentence."""
    found: dict[str, str] = {}
    for name in ("glass", "leaf", "metal"):
        for key in {str(s[name]) for s in sketch.steps if name in s}:
            try:
                found[key] = named(site.ref.material(key, name))
            except NotFound:
                continue
    return found | {key: solder.label for key, solder in site.ref.solders().items()}


def _body_words(site: Site, sketch: Sketch) -> str:
    piece, base = sketch.piece, sketch.base
    try:
        metal = named(site.ref.metal(str(base.get("metal", ""))))
    except NotFound:
        metal = str(base.get("metal", "no metal yet"))
    many = f"; {piece['quantity']} pieces" if piece.get("quantity", 1) not in (1, "1") else ""
    shape = piece.get("shape", "flat")
    return (
        f"{upper_first(metal)}, {base.get('thickness', 'no thickness yet')}, {shape}, "
        f"{piece.get('width', '?')} by {piece.get('height', '?')}{many}."
    )


def _judged(site: Site, fired: Sketch) -> Verdict | None:
    """The verdict as far as the piece is fired; None where no glass has been fired yet."""
    if not fired.steps or not any("glass" in s for s in fired.steps):
        return None
    from refdb.browse.pages.piece_answer import not_too_long
    from refdb.judge.piece.verdict import judge_piece

    return judge_piece(site.ref, not_too_long(parse_piece(fired.text, site.ref, "piece")))


def _drawn(site: Site, piece: Piece) -> Markup:
    """The build as it stands."""
    from refdb.judge.piece.states import walk
    from refdb.plan.build_rows import build_order as ordered

    trail = walk(
        piece,
        {s.glass: site.ref.glass(s.glass) for s in piece.steps if s.glass},
        {s.leaf: site.ref.leaf(s.leaf) for s in piece.steps if s.leaf},
    )
    rows = ordered(site.ref, trail, site.ref.metal(piece.base.metal))
    return Markup(build_order(rows, "build", "The build so far, from the front down"))


def _blocks(site: Site, piece: Piece, verdict: Verdict | None) -> Markup:
    """The firings as blocks, with the heat that metal or joins no longer stand."""
    fires: list[FiringBlock] = []
    new: list[str] = []
    for step in piece.steps:
        if step.glass:
            new.append(step.glass)
        if step.do == "fire" and step.kiln_c is not None:
            bands = [(g.band("fuse_low"), g.band("fuse_high")) for g in map(site.ref.glass, new)]
            lows = [low.value for low, _ in bands if low is not None]
            highs = [high.value for _, high in bands if high is not None]
            words = f"{len(new)} new {'coat' if len(new) == 1 else 'coats'}" if new else "nothing new"
            window = (max(lows, default=None), min(highs, default=None))
            fires.append(FiringBlock(step.kiln_c, words, *window, step.cooling_min))
            new = []
    never, what = hottest_c(site.ref.metal(piece.base.metal), verdict)
    return Markup(firing_blocks(fires, never, what, "firings", "The firings in their order"))


def _groups(
    sketch: Sketch, labels: Mapping[str, str], verdict: Verdict | None
) -> list[tuple[str, list[dict[str, Any]]]]:
    """The steps under the firing that ends each group; what no firing ends stands under none."""
    against: dict[int, list[str]] = {}
    for told in verdict.told if verdict else ():
        if told.step is not None and told.reason.deciding:
            against.setdefault(told.step, []).append(told.head or told.title)
    stages = {stage.fire: stage for stage in verdict.stages} if verdict else {}
    outcomes = (
        {t.reason.subject.fire: t.outcome for t in reversed(verdict.told) if t.reason.subject.fire} if verdict else {}
    )
    groups: list[tuple[str, list[dict[str, Any]]]] = []
    held: list[dict[str, Any]] = []
    for number, step in enumerate(sketch.steps, 1):
        what, details = forms.words_of(step, labels)
        row: dict[str, Any] = {
            "number": number,
            "what": what,
            "details": details,
            "fire": step.get("do") == "fire",
            "against": "; ".join(against.get(number, ())),
            "outcome": "",
            "stress": "",
        }
        held.append(row)
        if row["fire"]:
            stage = stages.get(len(groups) + 1)
            if stage is not None:
                row["outcome"], row["stress"] = outcomes.get(stage.fire, SUITS), _stress_words(stage)
            groups.append((f"Firing {len(groups) + 1}", held))
            held = []
    return [*groups, ("Not fired yet", held)] if held else groups


def _stress_words(stage: Stage) -> str:
    """The most stretched glass of a firing and its bow, in words."""
    worst = max((x.mean_mpa for x in stage.layers if x.name != "metal"), key=lambda m: m.value)
    state = "squeezed" if worst.value < 0 else "stretched"
    return f"{state}, {value_text(worst)}; bow {value_text(stage.bow_mm_per_30mm)} over 30 mm"
