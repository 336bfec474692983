"""The forms of the piece builder: their fields, what stands in them, and what a filled form says."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from refdb.browse.site import Site, named
from refdb.errors import BadInput, NotFound, RefdbError
from refdb.frozen import dataclass
from refdb.judge.piece.steps import BACKINGS, COLD_JOINS, FACES, LUSTRES, SHAPES, USES, WITHIN
from refdb.plan.sketch import Sketch, Table, Value, completed
from refdb.plan.step_keys import STEP_KEYS

#: Kinds of step as the form names them, the ones most wanted first.
KINDS = (
    *("coat", "leaf", "line", "fire", "clean", "mask", "stone", "join"),
    *("recess", "wire", "opening", "inset", "paint", "decal", "lustre", "slip"),
)
_LABELS = {
    "glass": "glass",
    "leaf": "leaf or foil",
    "solder": "solder or join",
    "face": "face",
    "thickness": "thickness once fired",
    "coverage": "covers",
    "washed": "washed",
    "pierced": "pricked",
    "within": "lies in",
    "depth": "depth",
    "floor": "or the metal left under it",
    "bent": "bent to stand",
    "length": "length of it on one piece",
    "count": "how many of them",
    "size": "across",
    "frame": "metal between them",
    "backing": "closed with",
    "lustre": "film of",
    "vented": "vented until smoke has gone",
    "kiln": "kiln setting",
    "minutes": "minutes, where you know them",
    "cooling": "slow cooling after it",
    "title": "name",
    "width": "width",
    "height": "height",
    "area": "area of one face",
    "quantity": "how many",
    "use": "for",
    "shape": "shape",
    "rise": "rise of the dome",
    "metal": "metal",
    "schedule": "how a clay is fired",
}
_HINTS = {
    "thickness": "such as 0.15 mm, or 0.1-0.2 mm",
    "coverage": "of this face, such as 60 %",
    "kiln": "such as 800 C or 1470 F",
    "minutes": "left away, they are worked out",
    "cooling": "in the closed kiln, such as 25 min; left away, still air",
    "area": "left away, an ellipse is taken",
    "rise": "of a domed piece, such as 2 mm",
    "depth": "from shallowest to deepest, such as 0.2-0.4 mm",
    "floor": "such as 0.5 mm; leave one of the two empty",
    "wire_height": "such as 0.8 mm",
    "size": "of the largest, such as 5 mm",
    "frame": "such as 1 mm",
    "length": "such as 120 mm; only amounts need it",
    "count": "left away, one",
    "schedule": "its schedule, such as high heat; empty for sheet",
    "metal_thickness": "0.8 mm, 20 ga; of a clay also 3 cards",
}
_YES_NO = (("", "not said"), ("yes", "yes"), ("no", "no"))
#: Fields of a step that a form shows, in its order; what a file may say besides is kept as it is.
_SHOWN = (
    *("glass", "leaf", "solder", "metal", "lustre", "face", "within", "depth", "floor", "thickness", "height"),
    *("length", "size", "count", "frame", "backing", "coverage", "washed", "pierced", "bent"),
    *("kiln", "minutes", "cooling", "vented"),
)
_FLAGS = ("washed", "pierced", "bent", "vented")
#: What stands in a new step of a kind, where no other of the kind came before it.
_BEGINS: dict[str, dict[str, str]] = {
    "recess": {"depth": "0.3-0.4 mm", "coverage": "60 %"},
    "wire": {"metal": "fine-silver-sheet", "thickness": "0.2 mm", "height": "0.8 mm"},
    "opening": {"size": "5 mm", "frame": "1 mm"},
    "inset": {"thickness": "0.5 mm", "size": "3 mm"},
    "paint": {"glass": "painting-black"},
    "decal": {"glass": "painting-black"},
    "slip": {"glass": "liquid-base-white", "thickness": "0.12 mm"},
    "coat": {"thickness": "0.15 mm"},
}
BODY = ("title", "metal", "thickness", "schedule", "width", "height", "area", "quantity", "use", "shape", "rise")
#: What is changed where the body is, as an address says it.
BODY_PLACE = "body"
#: Those of them that stand with the metal.
_OF_BASE = ("metal", "thickness", "schedule")
#: All names that a form of the builder may send.
NAMES = ("p", "do", "add", "change", "at", "note", *_SHOWN, *(n for n in BODY if n not in _SHOWN), "file", "template")


@dataclass(frozen=True)
class Field:
    """One field: its name and label, what stands in it, and what may be chosen, empty for a text."""

    name: str
    label: str
    value: str = ""
    hint: str = ""
    groups: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = ()
    wide: bool = False


def step_fields(site: Site, kind: str, step: Table, sketch: Sketch) -> list[Field]:
    """The fields of a step of a kind, filled from a step that is there or with what is usual."""
    found = []
    for name in _SHOWN:
        if name in STEP_KEYS[kind] or (kind == "join" and name == "solder"):
            # What a step that is there does not say stays unsaid.
            value = _key(site, name, shown(step.get(name, "" if step else _usual(site, kind, name, sketch))))
            groups = _groups(site, name, value)
            if groups and (kind == "inset" or not value) and name in ("glass", "metal"):
                groups = (("", (("", "none"),)), *groups)
            hint = _HINTS.get("wire_height" if name == "height" else name, "")
            label = name if name == "thickness" and kind in ("wire", "inset") else _LABELS[name]
            found.append(Field(name, label, value, hint, groups, name in _LISTS))
    return [*found, Field("note", "note for the bench sheet", shown(step.get("note", "")), wide=True)]


def body_fields(site: Site, sketch: Sketch) -> list[Field]:
    """The fields of the body."""
    held = {**sketch.piece, **sketch.base}
    usual: dict[str, Value] = {"metal": "copper-sheet", "thickness": "0.8 mm", "quantity": 1}
    usual |= {"use": USES[0], "shape": SHAPES[0]}
    found = []
    for name in BODY:
        value = _key(site, name, shown(held.get(name, usual.get(name, ""))))
        hint = _HINTS["metal_thickness"] if name == "thickness" else _HINTS.get(name, "")
        label = "thickness of the metal" if name == "thickness" else _LABELS[name]
        found.append(Field(name, label, value, hint, _groups(site, name, value), name in ("title", "metal")))
    return found


_LISTS = ("glass", "leaf", "solder", "metal")


def _groups(site: Site, name: str, picked: str) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    """What may be chosen for a field, under headings; empty for what is typed."""
    if name in ("glass", "leaf", "metal"):
        return tuple(
            (family, tuple((r.key, named(r)) for r in records)) for family, records in site.choices(name, picked)
        )
    if name == "solder":
        solders = site.ref.solders().values()
        return (
            ("joins that melt nothing", tuple((word, word) for word in COLD_JOINS)),
            ("solders", tuple((s.key, s.label) for s in solders)),
        )
    if name == "within":
        return (("", (("", "over the face"), *((word, f"in the {word}") for word in WITHIN))),)
    plain = {"face": FACES, "use": USES, "shape": SHAPES, "backing": BACKINGS, "lustre": LUSTRES}.get(name)
    if plain is not None:
        return (("", tuple((word, word) for word in plain)),)
    return (("", _YES_NO),) if name in _FLAGS else ()


def _usual(site: Site, kind: str, name: str, sketch: Sketch) -> Value:
    """What stands in a new step: the glass and face last used, the middle of the settings that wait for a fire."""
    last = next((s for s in reversed(sketch.steps) if name in s and s.get("do") == kind), None)
    if name == "kiln":
        return _wanted_setting(site, sketch) or (last[name] if last is not None else "800 C")
    if name == "face":
        return next((s["face"] for s in reversed(sketch.steps) if "face" in s), "front")
    usual = {"glass": "clear-hard-lead-free", "leaf": "gold-foil-24k", "solder": "none"} | _BEGINS.get(kind, {})
    if last is not None and name in usual:
        return last[name]
    return usual.get(name, "")


def _wanted_setting(site: Site, sketch: Sketch) -> str:
    """The middle of the narrowest range of the glasses that wait for a fire; empty where nothing waits."""
    waiting = sketch.steps[len(sketch.fired.steps) :]
    glasses = {str(s["glass"]) for s in waiting if "glass" in s}
    ranges = []
    for key in glasses:
        try:
            glass = site.ref.glass(_key(site, "glass", key))
        except NotFound:
            continue  # told where the piece is read
        low, high = glass.band("fuse_low"), glass.band("fuse_high")
        if low is not None and high is not None:
            ranges.append((low.value, high.value))
    if not ranges:
        return ""
    low_c, high_c = max(r[0] for r in ranges), min(r[1] for r in ranges)
    middle = (low_c + high_c) / 2 if low_c <= high_c else low_c
    return f"{5 * round(middle / 5):.0f} C"


def _key(site: Site, name: str, text: str) -> str:
    """The key of what a piece calls by a name, so that it can be chosen; anything else as it is."""
    if name not in ("glass", "leaf", "metal") or not text:
        return text
    try:
        return site.ref.named(text, name).key
    except RefdbError:
        return text


def refilled(field: Field, value: str, is_wrong: bool) -> Field:
    """A field with what stood in a form that was sent; in the wrong one, what cannot be chosen stands first."""
    groups = field.groups
    if groups and is_wrong and not any(value == key for _, choices in groups for key, _ in choices):
        groups = (("", ((value, f"“{value}”" if value else "none"),)), *groups)
    return Field(field.name, field.label, value, field.hint, groups, field.wide)


def shown(value: Value) -> str:
    """A value of a piece file as it stands in a field."""
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else f"{value}"


def step_of(kind: str, form: Mapping[str, str], before: Table) -> dict[str, Value]:
    """The step that a filled form says; what the form does not show is kept from the step before.

    Raises
    ------
    BadInput
        A kind that there is not.
    """
    if kind not in KINDS:
        raise BadInput("there is no such step", "add", f"add one of: {', '.join(KINDS)}")
    shown = {name for name in _SHOWN if name in STEP_KEYS[kind]} | {"note"}
    kept = {k: v for k, v in before.items() if k not in shown and k != "do"} if before.get("do") == kind else {}
    step: dict[str, Value] = {"do": kind}
    for name in (*_SHOWN, "note"):
        text = form.get(name, "").strip()
        if name not in shown or not text:
            continue
        if name in _FLAGS:
            if text not in ("yes", "no"):
                raise BadInput("is neither yes nor no", name, "choose one")
            step[name] = text == "yes"
        else:
            step[name] = text if name == "note" else completed(name, text)
    if "thickness" in step:
        kept.pop("siftings", None)
    return step | kept


def body_of(form: Mapping[str, str], sketch: Sketch) -> Sketch:
    """The sketch on the body that a filled form says."""
    piece: dict[str, Value] = {}
    base: dict[str, Value] = {k: v for k, v in sketch.base.items() if k not in _OF_BASE}
    for name in BODY:
        text = form.get(name, "").strip()
        if not text or (name == "rise" and form.get("shape") == "flat"):
            continue
        table = base if name in _OF_BASE else piece
        if name == "quantity":
            if not (text.isascii() and text.isdecimal() and len(text) < 8):
                raise BadInput(f"'{text[:20]}' is no number of pieces", "quantity", "give a whole number")
            table[name] = int(text)
        else:
            table[name] = text if name == "title" else completed(name, text)
    return sketch.with_body(piece, base)


#: What an error of a piece file says to write, by its key: on a page it is a field, with an example.
_WRITE = re.compile(r'say (\w+) = "([^"]*)".*')


def for_example(todo: str) -> str:
    """What to do about a piece file, as it is said of a field."""
    return _WRITE.sub(r"fill it in, for example \2", todo)


def wrong_field(fault: RefdbError) -> str:
    """The field that an error of a piece file names last, or that it says is to be written; or nothing."""
    told = _WRITE.fullmatch(fault.todo or "")
    if told and told[1] in NAMES:
        return told[1]
    words = (fault.where or "").replace("[", " ").replace("]", " ").split()
    return words[-1] if words and words[-1] in NAMES else ""


_SAID = (("washed", "washed"), ("pierced", "pricked"), ("bent", "bent to stand"), ("vented", "vented"))


def words_of(step: Table, labels: Mapping[str, str]) -> tuple[str, str]:
    """A step in a line and its details in another."""
    kind, face = str(step.get("do", "")), str(step.get("face", "front"))
    glass, metal = (labels.get(str(step.get(name)), step.get(name)) for name in ("glass", "metal"))
    what = {
        "coat": f"Coat the {face}: {glass}",
        "leaf": f"Lay {labels.get(str(step.get('leaf')), step.get('leaf'))} on the {face}",
        "line": f"Draw on the {face}: {glass}",
        "fire": f"Fire at {_in_degrees(str(step.get('kiln')))}",
        "clean": f"Clean the {face}",
        "mask": f"Mask the {face}",
        "stone": f"Stone the {face}",
        "join": f"Join: {labels.get(str(step.get('solder')), step.get('solder'))}",
        "recess": f"Recess in the {face}",
        "wire": f"Wire of {metal} on the {face}",
        "opening": "Openings through the metal",
        "inset": f"Set into the {face}: {glass if 'glass' in step else metal}",
        "paint": f"Paint the {face}: {glass}",
        "decal": f"Decal on the {face}: {glass}",
        "lustre": f"Lustre on the {face}: {step.get('lustre')}",
        "slip": f"Slip on the {face}: {glass}",
    }.get(kind, kind)
    shown: dict[str, Any] = {
        "within": "in the {}",
        "depth": "{} deep",
        "floor": "{} left under it",
        "height": "{} high",
        "length": "{} long",
        "count": "{} of them",
        "size": "{} across",
        "frame": "{} between them",
        "thickness": "{} thick" if kind in ("wire", "inset") else "{} once fired",
        "siftings": "{} siftings",
        "coverage": "covers {}",
        "minutes": "for {}",
        "cooling": "cooled slowly over {}",
    }
    details = [text.format(step[name]) for name, text in shown.items() if name in step]
    details += [word for name, word in _SAID if step.get(name) is True]
    details += ["unwashed"] if step.get("washed") is False else []
    details += [str(step["note"])] if step.get("note") else []
    return what, "; ".join(details)


def _in_degrees(setting: str) -> str:
    """A kiln setting as it is printed, such as "800 °C"; what is written otherwise stays so."""
    head, _, unit = setting.rpartition(" ")
    return f"{head} °{unit}" if unit in ("C", "F") else setting
