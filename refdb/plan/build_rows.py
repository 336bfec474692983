"""The build of a piece from the front down, as layers for a picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from refdb.judge.piece.states import Coat, Item, LeafOn, Walk
from refdb.judge.piece.steps import Step
from refdb.judge.piece.zones import Zone, depth_m, zones_of
from refdb.judge.reason import DEEPEST, LAND, SHALLOWEST
from refdb.pictures.build_strip import BuildLayer
from refdb.plan.words import millimetres
from refdb.records import Metal
from refdb.store.reference import Reference


def build_order(ref: Reference, trail: Walk, metal: Metal) -> tuple[BuildLayer, ...]:
    """The build from the front down: glass, leaf, line work and metal, and what stands in them or is cut into them."""
    fired = {i.step.number: f.number for f in reversed(trail.fires) for face in f.faces.values() for i in face}
    zones = {z.name: z for z in zones_of(trail)} if trail.piece.steps_of("recess") else {}

    def firing(number: int) -> str:
        after = fired.get(number) or next((f.number for f in trail.fires if f.step.number > number), "")
        return str(after)

    def layer(item: Item | Step) -> BuildLayer:
        return _layer(ref, item, firing, _places(trail, item, zones) if isinstance(item, Coat) else ())

    return (
        *reversed([layer(x) for x in _laid(trail, "front")]),
        *_cut(trail, "front"),
        BuildLayer(metal.small, "metal", trail.piece.base.thickness_m.value * 1e3),
        *_cut(trail, "back"),
        *(layer(x) for x in _laid(trail, "back")),
    )


def _laid(trail: Walk, face: str) -> list[Item | Step]:
    """What lies on a face, from the metal out, with wires and what is set in; glass in openings with the front."""
    items: list[Item | Step] = [*trail.faces[face], *(trail.faces.get("opening", ()) if face == "front" else ())]
    items += [s for s in trail.piece.steps_of("wire", "inset", "lustre") if s.face == face and not s.glass]
    return sorted(items, key=lambda x: x.number if isinstance(x, Step) else x.step.number)


def _places(trail: Walk, coat: Coat, zones: dict[str, Zone]) -> tuple[float, ...]:
    """How thick a coat over a recess is on its land, at its shallowest and at its deepest [mm], as it is judged."""
    if not coat.is_plate or not any(r.face == coat.face for r in trail.piece.steps_of("recess")):
        return ()
    deepest = zones[DEEPEST]
    shares = (zones[LAND].share(coat) if LAND in zones else 0.0, zones.get(SHALLOWEST, deepest).share(coat))
    thick = coat.thickness_m.value * coat.step.coverage * 1e3
    return (*(thick * x for x in shares), thick * deepest.share(coat))


def _layer(ref: Reference, item: Item | Step, firing: Callable[[int], str], places: tuple[float, ...]) -> BuildLayer:
    number = item.number if isinstance(item, Step) else item.step.number
    fire = firing(number)
    if isinstance(item, Step):
        if item.do == "lustre":
            return BuildLayer(f"{item.lustre} lustre", "leaf", 0.0, fire)
        label = ref.metal(item.metal).small
        if item.do == "wire":
            return BuildLayer(f"wire of {label}", "wire", item.height_m.value * 1e3 if item.height_m else 0.0, fire)
        return BuildLayer(label, "set metal", item.thickness_m.value * 1e3 if item.thickness_m else 0.0, fire)
    if isinstance(item, LeafOn):
        thick = item.leaf.band("leaf_thickness")
        return BuildLayer(item.leaf.small, "leaf", thick.value * 1e3 if thick else 0.0, fire)
    within = item.step.within == "opening"
    kind = "within" if within else "inset" if item.step.do == "inset" else "line" if item.line else "glass"
    return BuildLayer(item.glass.small, kind, item.thickness_m.value * 1e3, fire, places)


def _cut(trail: Walk, face: str) -> Iterator[BuildLayer]:
    """What is cut into the metal from a face, and through it."""
    for step in trail.piece.steps_of("recess", "opening"):
        if step.do == "recess" and step.face == face and step.depth_m is not None:
            low, _, high = depth_m(step)
            label = f"recess, {millimetres(step.depth_m, 2)}"
            yield BuildLayer(label, "recess", high * 1e3, "", (low * 1e3, high * 1e3), step.coverage)
        elif step.do == "opening" and face == "front" and step.size_m is not None:
            backing = step.backing if step.backing != "none" else ""
            label = f"openings, {millimetres(step.size_m)} across{f', on {backing}' if backing else ''}"
            through = trail.piece.base.thickness_m.value * 1e3
            yield BuildLayer(label, "opening", through, backing=backing)
