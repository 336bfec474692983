"""Steps of cells and of what is laid over finished glass, as lines of a plan."""

from __future__ import annotations

from collections.abc import Iterable

from refdb.judge.piece.steps import Step
from refdb.plan.allowances import Allowances
from refdb.plan.lines import OWN, Line
from refdb.plan.signs import practice_lines
from refdb.plan.words import millimetres
from refdb.store.reference import Reference

#: Steps that have lines here; coats have them where they lie in a cell.
TECHNIQUES = ("recess", "wire", "opening", "inset", "paint", "decal", "lustre", "slip")
#: Those that are done to the metal, before the first fire.
TO_METAL = ("recess", "opening")
#: Rows of practice that go with a step, beside its own line.
_PRACTICE: dict[str, tuple[str, ...]] = {
    "recess": ("champleve-walls", "basse-taille-depth"),
    "wire": ("cloisonne-stand", "cloisonne-corners"),
    "opening": ("plique-no-counter",),
    "inset": ("slow-thick",),
    "paint": ("painting-grain", "oil-burn-off"),
    "decal": ("decal-lay", "decal-burn"),
    "lustre": ("lustre-thin", "lustre-smoke"),
    "slip": ("liquid-dry", "liquid-scratch"),
}
_BACKED = {"mica": ("plique-by-mica",), "copper foil": ("plique-by-shell",), "none": ("plique-by-water",)}


def technique_lines(ref: Reference, step: Step, allowed: Allowances, note: str) -> Iterable[Line]:
    """The sentence of a step to tick, and the rows of practice that go with it."""
    yield Line(f"{_sentence(ref, step)}{note}", OWN, step.number)
    keys = _PRACTICE.get(step.do, ()) + _BACKED.get(step.backing, ())
    yield from practice_lines(allowed, keys, step.number)


def what_goes_in(ref: Reference, step: Step) -> str:
    """A step that lays no glass, as what goes into the kiln with it."""
    if step.do == "lustre":
        return f"{step.lustre} lustre, {step.face}"
    kind = "wire" if step.do == "wire" else "set in"
    return f"{kind}: {ref.metal(step.metal).small}, {step.face}"


def _sentence(ref: Reference, step: Step) -> str:
    cover = "" if step.coverage >= 1.0 else f" over {step.coverage * 100:.0f} % of it"
    named = ref.glass(step.glass).small if step.glass else ""
    metal = ref.metal(step.metal).small if step.metal else ""
    face = f"the {step.face}"
    if step.do == "recess":
        assert step.depth_m is not None
        return f"Cut the recess in {face}{cover}: {millimetres(step.depth_m, 2)} deep."
    if step.do == "wire":
        assert step.thickness_m is not None
        assert step.height_m is not None
        size = f"{millimetres(step.thickness_m, 2)} thick, {millimetres(step.height_m, 2)} high"
        long = "" if step.length_m is None else f", {step.length_m * 1e3:g} mm in all"
        return f"Bend wire of {metal}, {size}{long}, and set it on {face}."
    if step.do == "opening":
        assert step.size_m is not None
        assert step.frame_m is not None
        behind = "with nothing behind them" if step.backing == "none" else f"backed with {step.backing}"
        return (
            f"Pierce the openings, up to {millimetres(step.size_m)} across with {millimetres(step.frame_m)} of metal "
            f"between them; they are filled {behind}."
        )
    if step.do == "inset":
        assert step.thickness_m is not None
        assert step.size_m is not None
        size = f"{millimetres(step.size_m)} across, {millimetres(step.thickness_m)} thick"
        many = "" if step.count == 1 else f"{step.count} of them, "
        return f"Set {named or metal} into {face}: {many}{size}."
    if step.do == "paint":
        assert step.thickness_m is not None
        return f"Paint {face}{cover} with {named}: {millimetres(step.thickness_m, 2)} once fired, then dry."
    if step.do == "decal":
        return f"Lay the decal in {named} on {face}{cover}, then dry."
    if step.do == "lustre":
        return f"Brush {step.lustre} lustre on {face}{cover}, then dry."
    assert step.thickness_m is not None
    if step.do == "slip":
        return f"Pour or spray {named} on {face}{cover}: {millimetres(step.thickness_m, 2)} once fired; dry it."
    where = "the openings" if step.within == "opening" else f"the recess of {face}"
    return f"Lay {named} in {where}{cover}: {millimetres(step.thickness_m, 2)} once fired, then dry."
