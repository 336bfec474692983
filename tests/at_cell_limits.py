"""What the judge finds at a number of cells, and of what is laid over finished glass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
from pieces import piece, step

from refdb.judge.piece import held_in_cells, rules_of_cells, rules_of_late
from refdb.judge.piece.steps import Piece, Step
from refdb.judge.stack import Inside
from refdb.quantities import Band

if TYPE_CHECKING:
    from at_limits import Made

HARD, SOFT = "clear-hard-lead-free", "clear-soft-lead-free"
SILVER = "fine-silver-sheet"


def mm(x: float) -> Band:
    return Band.exact(x * 1e-3)


def made_of(*steps: str | dict[str, Any], metal_mm: float = 0.8) -> Piece:
    """A piece from lines of steps, and from fields of those that no line can tell."""
    done = tuple(
        step(k, one) if isinstance(one, str) else Step(**{"number": k, **one}) for k, one in enumerate(steps, 1)
    )
    return replace(piece(["fire 700"], mm=metal_mm), steps=done)


def found(rule: Callable[..., Any], key: str, *steps: Callable[[float], str | dict[str, Any]]) -> Callable[..., Any]:
    return lambda made, x: made.fixed(rule, key, made_of(*(one(x) for one in steps)))


def said(line: str | dict[str, Any]) -> Callable[[float], str | dict[str, Any]]:
    return lambda _: line


def recess(depth_mm: float) -> dict[str, Any]:
    return {"do": "recess", "depth_m": mm(depth_mm), "coverage": 0.5}


def filled(thick_mm: float) -> dict[str, Any]:
    return {"do": "coat", "glass": HARD, "thickness_m": mm(thick_mm), "within": "recess"}


def wire(height_mm: float) -> dict[str, Any]:
    return {"do": "wire", "metal": SILVER, "thickness_m": mm(0.2), "height_m": mm(height_mm)}


def opening(across_mm: float, backing: str = "mica") -> dict[str, Any]:
    return {"do": "opening", "size_m": mm(across_mm), "frame_m": mm(1.0), "backing": backing}


def set_in(thick_mm: float) -> dict[str, Any]:
    return {"do": "inset", "glass": HARD, "thickness_m": mm(thick_mm), "size_m": mm(3.0)}


def wire_melts(made: Made, x: float) -> Any:
    from at_limits import with_figure

    metal = with_figure(made.ref.metal(SILVER), "solidus", 850.0 + x, 800.0 + x, 900.0 + x)
    made.known = replace(made.known, metals={SILVER: metal})
    return made.fixed(
        rules_of_cells.metals_set, "wire-melts", made_of(f"coat front {HARD} 0.1", "fire 700", wire(0.5), "fire 800")
    )


def opening_glass(made: Made, x: float) -> Any:
    trail = made.walk(
        made_of(opening(5.0), {"do": "coat", "glass": HARD, "thickness_m": mm(0.5), "within": "opening"}, "fire 800")
    )
    made.monkeypatch.setattr(held_in_cells, "_of_frame", lambda *_: None)
    pull = SimpleNamespace(glass_pa=np.array([x * 1e6]))
    made.monkeypatch.setattr(held_in_cells, "opening_stress", lambda *_: pull)
    drawn = SimpleNamespace(trail=trail, glasses={HARD: None}, strength_mpa=np.array([75.0]), metal_m=np.array([1e-3]))
    return made.one(held_in_cells.glass_in_openings(drawn), "opening-glass")


def wire_pulls(made: Made, x: float) -> Any:
    trail = made.walk(made_of(f"coat front {HARD} 0.1", "fire 700", wire(0.5), f"coat front {SOFT} 0.5", "fire 800"))
    trail.metals = {SILVER: made.ref.metal(SILVER)}
    none = np.array([0.0])
    made.monkeypatch.setattr(held_in_cells, "inside", lambda *_: Inside(np.zeros((3, 1)), none))
    made.monkeypatch.setattr(held_in_cells, "_beneath", lambda *_: None)
    pull = SimpleNamespace(
        across_pa=np.array([x * 1e6]), beside_pa=none, across_missed_pa=lambda _: none, beside_missed_pa=lambda _: none
    )
    made.monkeypatch.setattr(held_in_cells, "wire_stress", lambda *_: pull)
    glass = SimpleNamespace(set_c=np.array([520.0]), per_k=none, youngs_pa=none, poisson=none)
    metal = SimpleNamespace(youngs_pa=none, poisson=none, strain=None, flow=None)
    made.monkeypatch.setattr(held_in_cells, "Plates", lambda *_: None)
    drawn = SimpleNamespace(
        trail=trail,
        zones=[SimpleNamespace(fires=trail.fires, state_of=[0])],
        glasses={SOFT: glass},
        sheet_numbers=[-1, 0, 1],
        stack=None,
        draws=SimpleNamespace(metal=lambda *_: metal, of=lambda *_: none),
        strength_mpa=np.array([75.0]),
    )
    return made.one(held_in_cells.wires(drawn), "wire-pulls")


def inset_misfit(made: Made, x: float) -> Any:
    trail = made.walk(
        made_of(
            f"coat front {SOFT} 0.1",
            "fire 700",
            {"do": "inset", "glass": HARD, "thickness_m": mm(0.5), "size_m": mm(3.0)},
            "fire 800",
        )
    )
    one = SimpleNamespace(
        per_k=np.array([1e-5]), set_c=np.array([520.0]), youngs_pa=np.array([7e10]), poisson=np.array([0.22])
    )
    made.monkeypatch.setattr(held_in_cells, "misfit_tension_pa", lambda _: np.array([x * 1e6]))
    drawn = SimpleNamespace(trail=trail, glasses={HARD: one, SOFT: one}, strength_mpa=np.array([75.0]))
    return made.one(held_in_cells.insets(drawn), "inset-misfit")


def paint_hot(made: Made, x: float) -> Any:
    from at_limits import with_figure

    made.glasses[HARD] = with_figure(made.glasses[HARD], "fuse_high", 750.0)
    lines = [f"coat front {SOFT} 0.1", "fire 700", {"do": "paint", "glass": HARD, "thickness_m": mm(0.02)}]
    return made.fixed(rules_of_late.painted, "paint-hot", made_of(*lines, f"fire {750 + x}"))


def _hard(thick_mm: float) -> str:
    return f"coat front {HARD} {thick_mm:.6f}"


BED, FIRE = said(f"coat front {HARD} 0.1"), said("fire 700")
CELL_PROBES: dict[str, Callable[[Any, float], Any]] = {
    "recess-floor": found(rules_of_cells.recesses, "recess-floor", lambda x: recess(0.8 - x)),
    "recess-hollow": found(rules_of_cells.recesses, "recess-hollow", said(recess(0.5)), lambda x: filled(0.5 - x)),
    "recess-proud": found(rules_of_cells.recesses, "recess-proud", said(recess(0.5)), lambda x: filled(0.5 + x)),
    "wire-melts": wire_melts,
    "wire-bed": found(rules_of_cells.wires, "wire-bed", lambda x: f"coat front {HARD} {x:.6f}", FIRE, said(wire(0.5))),
    "wire-drowned": found(
        rules_of_cells.wires, "wire-drowned", BED, said(wire(0.5)), lambda x: f"coat front {HARD} {0.5 + x:.6f}"
    ),
    "wire-proud": found(
        rules_of_cells.wires, "wire-proud", BED, said(wire(0.5)), lambda x: f"coat front {HARD} {0.5 - x:.6f}"
    ),
    # mm² of a round opening.
    "wire-pulls": wire_pulls,
    "opening-large": found(rules_of_cells.openings, "opening-large", lambda x: opening((x / 0.785398) ** 0.5)),
    "opening-unbacked": found(rules_of_cells.openings, "opening-unbacked", lambda x: opening(x, "none")),
    "opening-glass": opening_glass,
    "inset-thick": found(rules_of_cells.insets, "inset-thick", BED, FIRE, set_in),
    "inset-misfit": inset_misfit,
    "paint-thick": found(
        rules_of_late.painted, "paint-thick", lambda x: {"do": "paint", "glass": HARD, "thickness_m": mm(x)}
    ),
    "paint-hot": paint_hot,
    "lustre-hot": found(
        rules_of_late.lustred, "lustre-hot", BED, FIRE, said({"do": "lustre", "lustre": "gold"}), lambda x: f"fire {x}"
    ),
    "slip-thick": found(
        rules_of_late.slipped, "slip-thick", lambda x: {"do": "slip", "glass": HARD, "thickness_m": mm(x)}
    ),
}
