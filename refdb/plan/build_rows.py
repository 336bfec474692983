"""The build of a piece from the front down, as rows for a picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from refdb.judge.piece.states import Item, LeafOn, Walk
from refdb.judge.piece.steps import Step
from refdb.plan.words import millimetres, small
from refdb.records import Metal
from refdb.store.reference import Reference

#: Label, kind (as `pictures.build_order.BuildLayer` has it), thickness [m] and firing.
Row = tuple[str, str, float, str]


def build_order(ref: Reference, trail: Walk, metal: Metal) -> tuple[Row, ...]:
    """The build from the front down: label, kind, thickness [m] and its firing.

    Kinds are glass, leaf, line and metal, and what stands in them: wire, inset, recess, opening, and glass within.
    """
    fired = {i.step.number: f.number for f in reversed(trail.fires) for face in f.faces.values() for i in face}

    def firing(number: int) -> str:
        after = fired.get(number) or next((f.number for f in trail.fires if f.step.number > number), "")
        return str(after)

    thickness = trail.piece.base.thickness_m
    rows: list[Row] = [
        *reversed([_row(ref, x, firing) for x in _laid(trail, "front")]),
        *_cut(trail, "front"),
        (small(metal.label), "metal", thickness.value, ""),
        *_cut(trail, "back"),
        *(_row(ref, x, firing) for x in _laid(trail, "back")),
    ]
    return tuple(rows)


def _laid(trail: Walk, face: str) -> list[Item | Step]:
    """What lies on a face, from the metal out, with wires and what is set in; glass in openings with the front."""
    items: list[Item | Step] = [*trail.faces[face], *(trail.faces.get("opening", ()) if face == "front" else ())]
    items += [s for s in trail.piece.steps_of("wire", "inset", "lustre") if s.face == face and not s.glass]
    return sorted(items, key=lambda x: x.number if isinstance(x, Step) else x.step.number)


def _row(ref: Reference, item: Item | Step, firing: Callable[[int], str]) -> Row:
    number = item.number if isinstance(item, Step) else item.step.number
    fire = firing(number)
    if isinstance(item, Step):
        if item.do == "lustre":
            return f"{item.lustre} lustre", "leaf", 0.0, fire
        high = item.height_m or item.thickness_m
        label = small(ref.metal(item.metal).label)
        return f"{'wire of ' if item.do == 'wire' else ''}{label}", item.do, high.value if high else 0.0, fire
    if isinstance(item, LeafOn):
        thick = item.leaf.band("leaf_thickness")
        return small(item.leaf.label), "leaf", thick.value if thick else 0.0, fire
    kind = "within" if item.step.within else "inset" if item.step.do == "inset" else "line" if item.line else "glass"
    return small(item.glass.label), kind, item.thickness_m.value, fire


def _cut(trail: Walk, face: str) -> Iterator[Row]:
    """What is cut into the metal from a face, and through it."""
    for step in trail.piece.steps_of("recess", "opening"):
        if step.do == "recess" and step.face == face and step.depth_m is not None:
            yield f"recess, {millimetres(step.depth_m, 2)}", "recess", step.depth_m.value, ""
        elif step.do == "opening" and face == "front" and step.size_m is not None:
            yield f"openings, {millimetres(step.size_m)} across", "opening", trail.piece.base.thickness_m.value, ""
