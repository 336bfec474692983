"""What each kind of step of a piece file may say."""

from __future__ import annotations

from refdb.judge.piece.steps import DRAWINGS

#: What a step may say, beside `do` and `note`.
STEP_KEYS: dict[str, tuple[str, ...]] = {
    "coat": ("face", "glass", "thickness", "siftings", "coverage", "within", "washed", "dried"),
    "leaf": ("face", "leaf", "coverage", "dried", "pierced"),
    "line": ("face", "glass", "thickness", "coverage", "dried"),
    "fire": ("kiln", "minutes", "cooling", "vented"),
    "mask": ("face",),
    "clean": ("face",),
    "join": ("solder",),
    "stone": ("face",),
    "recess": ("face", "depth", "floor", "coverage"),
    "wire": ("face", "metal", "thickness", "height", "length", "bent"),
    "opening": ("size", "frame", "backing", "coverage"),
    "inset": ("face", "glass", "metal", "thickness", "size", "count", "coverage"),
    "paint": ("face", "glass", "thickness", "coverage", "dried"),
    "decal": ("face", "glass", "coverage", "dried"),
    "lustre": ("face", "lustre", "coverage", "dried"),
    "slip": ("face", "glass", "thickness", "coverage", "dried"),
}
#: Steps that lay a glass beside coats, and those that make or fill cells.
WITH_GLASS, CELLS = (*DRAWINGS, "slip"), ("recess", "wire", "opening", "inset")
#: Keys that are yes or no.
FLAGS = ("washed", "dried", "pierced", "bent", "vented")
