"""Pieces for tests, written as short lines: "coat front clear-hard-lead-free 0.12", "fire 815"."""

from __future__ import annotations

from refdb.judge.fit.answer import followed
from refdb.judge.fit.question import Question
from refdb.judge.numbers import Numbers
from refdb.judge.piece.steps import Base, Piece, Step
from refdb.judge.piece.verdict import sample
from refdb.quantities.typed import Band

HARD = "clear-hard-lead-free"
#: Steps with which a piece begins that is sound so far: a thin clear on the front, and more of it behind.
BASE = [
    *("clean front", "mask back", f"coat front {HARD} 0.12", "fire 815"),
    *("clean back", f"coat back {HARD} 0.2", "fire 815"),
]


def step(number: int, line: str) -> Step:
    """One step from a line; flags at the end: `unwashed`, `washed`, `part=0.5`, `to=0.2` (upper thickness in mm)."""
    words = line.split()
    do, rest = words[0], words[1:]
    flags = [w for w in rest if w in ("unwashed", "washed") or "=" in w]
    rest = [w for w in rest if w not in flags]
    given: dict = {"number": number, "do": do}
    if do in ("coat", "line"):
        thin = float(rest[2] if len(rest) > 2 else 0.03) * 1e-3
        thick = next((float(f[3:]) * 1e-3 for f in flags if f.startswith("to=")), thin)
        given |= {"face": rest[0], "glass": rest[1], "thickness_m": Band((thin + thick) / 2, thin, thick)}
        given["washed"] = True if "washed" in flags else False if "unwashed" in flags else None
    elif do == "leaf":
        given |= {"leaf": rest[0], "face": rest[1] if len(rest) > 1 else "front"}
    elif do == "fire":
        given |= {"kiln_c": float(rest[0]), "minutes": float(rest[1]) if len(rest) > 1 else None}
    elif do == "join":
        given["solder"] = rest[0]
    else:
        given["face"] = rest[0]
    for flag in flags:
        if flag.startswith("part="):
            given["coverage"] = float(flag[5:])
    return Step(**given)


def piece(lines: list[str], metal: str = "copper-sheet", mm: float | Band = 0.8, **more: object) -> Piece:
    """A piece of 30 by 30 mm from lines of steps."""
    band = mm.scaled(1e-3) if isinstance(mm, Band) else Band.exact(mm * 1e-3)
    steps = tuple(step(k, line) for k, line in enumerate(lines, 1))
    return Piece("test", 0.03, 0.03, Base(metal, band), steps, **more)  # type: ignore[arg-type]


def numbers_of(question: Question) -> Numbers:
    """The sampled numbers of a question that lacks no figure."""
    found = followed(question)
    assert found.can_be_sampled
    return sample([found])[0]
