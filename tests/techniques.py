"""Pieces of ten and more techniques as piece files, each sound by common practice, and one change that spoils it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from refdb.plan.sketch import Sketch, Table

HARD, MEDIUM, SOFT, SILVER = (
    *("clear-hard-lead-free", "clear-medium-lead-free", "clear-soft-lead-free"),
    "clear-for-silver",
)
WHITE, BLACK, BLUE = "white-opaque-lead-free", "black-opaque-lead-free", "blue-transparent-lead-free"


def sketch(title: str, metal: str, mm: float, *steps: Table, **piece: str) -> Sketch:
    """A piece of 24 by 20 mm."""
    size = {"title": title, "width": "24 mm", "height": "20 mm"}
    return Sketch(size | piece, {"metal": metal, "thickness": f"{mm} mm"}, {}, steps)


def coat(glass: str, mm: float, face: str = "front", **more: object) -> Table:
    """A coat, washed where it is a clear."""
    washed = {"washed": True} if "clear" in glass or "transparent" in glass else {}
    return {"do": "coat", "face": face, "glass": glass, "thickness": f"{mm} mm", **washed, **more}  # type: ignore[dict-item]


def fire(kiln_c: int, **more: object) -> Table:
    """A fire."""
    return {"do": "fire", "kiln": f"{kiln_c} C", **more}  # type: ignore[dict-item]


def do(word: str, face: str = "front", **more: object) -> Table:
    """A step of another kind."""
    return {"do": word, "face": face, **more}  # type: ignore[dict-item]


def counter(glass: str, mm: float, kiln_c: int) -> tuple[Table, ...]:
    """Counter enamel first, the front masked and then cleaned."""
    return (do("clean", "back"), do("mask"), coat(glass, mm, "back"), fire(kiln_c), do("clean"))


@dataclass(frozen=True)
class Technique:
    """A sound piece, the change that spoils it, and the rule that then says so."""

    piece: Sketch
    spoil: Callable[[Sketch], Sketch]
    rule: str


def changed(number: int, **values: object) -> Callable[[Sketch], Sketch]:
    """A change of one step's values."""
    return lambda s: s.with_changed(number, {**s.steps[number - 1], **values})  # type: ignore[dict-item]


def based(**values: str) -> Callable[[Sketch], Sketch]:
    """A change of the base."""
    return lambda s: s.with_body(s.piece, {**s.base, **values})


_CLOISONNE = sketch(
    "Cloisonné",
    "copper-sheet",
    1.2,
    *counter(HARD, 0.4, 815),
    coat(HARD, 0.15),
    fire(815),
    {"do": "wire", "metal": "fine-silver-sheet", "thickness": "0.2 mm", "height": "0.4 mm", "bent": True},
    fire(785),
    coat(BLUE, 0.2),
    fire(785),
    coat(BLUE, 0.2),
    fire(785),
    do("stone"),
    fire(785),
)
_CHAMPLEVE = sketch(
    "Champlevé",
    "copper-sheet",
    1.5,
    do("recess", depth="0.35-0.45 mm", coverage="60 %"),
    *counter(HARD, 0.3, 815),
    coat(HARD, 0.2, within="recess"),
    fire(815),
    coat(BLUE, 0.2, within="recess"),
    fire(795),
    do("stone"),
    fire(795),
)
_BASSE_TAILLE = sketch(
    "Basse-taille",
    "fine-silver-sheet",
    1.2,
    do("recess", depth="0.1-0.25 mm"),
    *counter(SILVER, 0.2, 770),
    coat(SILVER, 0.15),
    fire(770),
    coat(SILVER, 0.15),
    fire(770),
)
_PLIQUE = sketch(
    "Plique-à-jour",
    "fine-silver-sheet",
    1.0,
    {"do": "opening", "size": "5 mm", "frame": "1.2 mm", "coverage": "40 %"},
    do("clean"),
    coat(SILVER, 0.4, within="opening"),
    fire(760),
    coat(SILVER, 0.4, within="opening"),
    fire(770),
)
_GRISAILLE = sketch(
    "Grisaille",
    "copper-sheet",
    1.0,
    *counter(HARD, 0.25, 815),
    coat(BLACK, 0.25),
    fire(800),
    do("paint", glass="white-painting", thickness="0.03 mm", coverage="40 %"),
    fire(780, vented=True),
    do("paint", glass="white-painting", thickness="0.03 mm", coverage="20 %"),
    fire(780, vented=True),
)
_MINIATURE = sketch(
    "Painted miniature",
    "copper-sheet",
    1.0,
    *counter(HARD, 0.25, 815),
    coat(WHITE, 0.2),
    fire(800),
    do("paint", glass="red-brown-painting", thickness="0.02 mm", coverage="30 %"),
    fire(770, vented=True),
    do("paint", glass="painting-black", thickness="0.02 mm", coverage="10 %"),
    fire(770, vented=True),
)
_LUSTRE = sketch(
    "Lustre over opaque",
    "copper-sheet",
    1.0,
    *counter(HARD, 0.25, 815),
    coat(WHITE, 0.25),
    fire(800),
    do("lustre", lustre="gold", coverage="20 %"),
    fire(720, vented=True),
)
_DECAL = sketch(
    "Decal",
    "copper-sheet",
    1.0,
    *counter(HARD, 0.25, 815),
    coat(WHITE, 0.25),
    fire(800),
    do("decal", glass="painting-black", coverage="30 %"),
    fire(770, vented=True),
)
_SLIP = sketch(
    "Sgraffito through slip",
    "copper-sheet",
    1.0,
    *counter(HARD, 0.3, 815),
    coat(HARD, 0.15),
    fire(815),
    do("slip", glass="liquid-base-white", thickness="0.12 mm", coverage="70 %"),
    fire(800),
)
_LUMP = sketch(
    "Lump in its own kind",
    "copper-sheet",
    1.2,
    *counter(HARD, 0.3, 815),
    coat(HARD, 0.25),
    fire(815),
    do("inset", glass=HARD, thickness="0.6 mm", size="4 mm", coverage="5 %"),
    fire(815),
)
_FOIL = sketch(
    "Foil under clear",
    "copper-sheet",
    1.0,
    *counter(HARD, 0.25, 815),
    coat(HARD, 0.12),
    fire(815),
    do("leaf", leaf="fine-silver-foil", coverage="60 %", pierced=True),
    fire(770),
    coat(MEDIUM, 0.12),
    fire(790),
)

TECHNIQUES: dict[str, Technique] = {
    # The wire goes under the coat that was to carry it.
    "cloisonné": Technique(_CLOISONNE, lambda s: s.moved(8, -2), "wire-contact"),
    "champlevé": Technique(_CHAMPLEVE, based(thickness="0.7 mm"), "tension-between"),
    "basse-taille": Technique(_BASSE_TAILLE, changed(1, depth="0.1-0.9 mm"), "tension-between"),
    "plique-à-jour": Technique(_PLIQUE, changed(1, size="18 mm"), "opening-large"),
    "grisaille": Technique(_GRISAILLE, changed(9, kiln="880 C"), "paint-hot"),
    "miniature": Technique(_MINIATURE, changed(9, vented=False), "burn-off"),
    "lustre": Technique(_LUSTRE, changed(9, kiln="790 C"), "lustre-hot"),
    "decal": Technique(_DECAL, lambda s: s.moved(8, -2), "late-on-glass"),
    "slip": Technique(_SLIP, lambda s: s.with_step(9, coat(SOFT, 0.1)), "slip-rewet"),
    "lump": Technique(_LUMP, changed(8, glass="borosilicate-3-3"), "inset-misfit"),
    "foil": Technique(_FOIL, lambda s: s.without(6).without(6), "leaf-on-metal"),
}
