"""What a firing looks like when it is right, under-fired and over-fired: which rows of practice hold for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from refdb.judge.piece.states import Coat, Fire, Item, LeafOn
from refdb.plan.allowances import Allowances
from refdb.plan.lines import Line
from refdb.records import Metal

#: Families whose oxide a first clear has to dissolve.
RED_OXIDE = ("copper", "gilding metal", "bronze", "brass")


def practice_lines(allowed: Allowances, keys: Iterable[str], step: int = 0, reasons: bool = False) -> tuple[Line, ...]:
    """Rows of practice as lines, each once, with the reason where asked."""
    found = []
    for key in dict.fromkeys(keys):
        row = allowed.row(key)
        text = row["statement"] + (f" {row['reason']}" if reasons and row["reason"] else "")
        found.append(Line(text, row["source"], step))
    return tuple(found)


def ground_of(item: Item, faces: Sequence[Item], metal: Metal) -> str:
    """What shines through a coat: "leaf", "glass", or the family of the metal it lies on."""
    beneath = faces[: list(faces).index(item)]
    if not beneath:
        return metal.family
    return "leaf" if isinstance(beneath[-1], LeafOn) else "glass"


def sees_silver(item: Coat, faces: Sequence[Item], metal: Metal) -> bool:
    """Whether silver touches this coat from beneath."""
    beneath = faces[: list(faces).index(item)]
    if not beneath:
        return metal.family == "silver"
    last = beneath[-1]
    return isinstance(last, LeafOn) and "Ag" in last.leaf.metal.split()


def signs_of(fire: Fire, new: Sequence[Item], metal: Metal) -> tuple[list[str], list[str], list[str], list[str]]:
    """Keys of the rows that tell a firing right, under-fired and over-fired, and of notes that go with it."""
    right: list[str] = []
    under: list[str] = []
    over: list[str] = []
    notes: list[str] = []
    for item in new:
        faces = fire.faces[item.step.place]
        if isinstance(item, LeafOn):
            right.append("look-right-leaf")
            under.append("look-under-leaf")
            over.append("look-over-leaf")
            continue
        glass = item.glass
        ground = ground_of(item, faces, metal)
        under.append("look-under")
        over.append("stage-over")
        if item.line:
            right.append("line-shiny")
            continue
        if item.face == "back":
            right.append("look-right-back")
        elif glass.optical == "transparent" and ground in RED_OXIDE:
            right.append("look-right-clear-copper")
        elif glass.optical == "transparent" and ground in ("leaf", "silver", "gold"):
            right.append("look-right-clear-silver")
        elif glass.optical == "opalescent":
            right.append("look-right-opal")
        else:
            right.append("look-right-gloss")
        if glass.optical == "transparent" and ground in RED_OXIDE:
            under.append("under-fired-sign")
            if glass.hardness in ("hard", "very hard"):
                notes.append("minute-after-gloss")
        if glass.optical == "transparent" and sees_silver(item, faces, metal):
            over.append("look-over-silver")
        if glass.optical == "opalescent":
            over.append("look-over-opal")
        if glass.optical == "opaque":
            over.append("look-over-opaque")
    if not new:
        right.append("look-right-gloss" if fire.coats else "look-right-bare")
        if fire.coats:
            over.append("stage-over")
    return right, under, over, notes
