"""What every draw of a piece is held against: tension, gap, heat and thicknesses, each a rule of `judge.rules`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from refdb.judge import limits
from refdb.judge.draws import graded
from refdb.judge.reason import Subject
from refdb.judge.rules import limit_of
from refdb.judge.stack import HAIR
from refdb.science.plate import Array

if TYPE_CHECKING:
    from refdb.judge.piece.sample import Drawn


@dataclass(frozen=True)
class Held:
    """One rule about one subject in every draw: grade 0, 1 or 2, and what was found; (samples,) each."""

    rule: str
    subject: Subject
    grades: Array
    found: Array


SampledRule = Callable[["Drawn", Sequence[Array]], Iterator[Held]]


def tension(piece: Drawn, tensions: Sequence[Array]) -> Iterator[Held]:
    """The worst tension in glass after each firing [MPa]; the last firing's lasts."""
    for fire, worst in zip(piece.fires, tensions, strict=True):
        rule = "tension-lasting" if fire is piece.trail.fires[-1] else "tension-between"
        yield Held(rule, Subject(step=fire.step.number, fire=fire.number), graded(worst, limit_of(rule)), worst)


def gap(piece: Drawn, tensions: Sequence[Array]) -> Iterator[Held]:
    """The contraction gap of each glass [ppm], and whether the metal's curve reaches its set point."""
    limit = limit_of("gap")
    for key, drawn in piece.glasses.items():
        subject, found = Subject(step=piece.first_step(key), glass=key), piece.gaps_ppm[key]
        yield Held("gap", subject, graded(found, limit), found)
        if drawn.beyond.any():
            yield Held("curve-end", subject, drawn.beyond, drawn.set_asked_c)


def kiln_window(piece: Drawn, tensions: Sequence[Array]) -> Iterator[Held]:
    """Whether any setting lies between the glass that flows and the metal that melts; of a question alone."""
    if not piece.trail.piece.is_question:
        return
    ceiling = piece.base.solidus_c - limits.SOLIDUS_MARGIN_K
    for key, drawn in piece.glasses.items():
        window = np.minimum(drawn.fuse_high_c, ceiling) - drawn.fuse_low_c
        closed = window <= limit_of("kiln").fine
        yield Held(
            "kiln", Subject(glass=key), np.where(closed, 2.0, np.where(ceiling < drawn.fuse_high_c, 1.0, 0.0)), window
        )


def heat(piece: Drawn, tensions: Sequence[Array]) -> Iterator[Held]:
    """The kiln of each firing against the metal, and against every glass that is on."""
    ceiling = piece.base.solidus_c - limits.SOLIDUS_MARGIN_K
    for fire in piece.trail.fires:
        if fire.step.kiln_c is None:
            continue
        kiln_c = np.broadcast_to(fire.step.kiln_c + piece.offset_k, ceiling.shape)
        subject = Subject(step=fire.step.number, fire=fire.number)
        yield Held("metal-melts", subject, np.where(kiln_c > ceiling, 2.0, 0.0), ceiling)
        new = {piece.trail.coats[n].glass.key for n in fire.new}
        for key in dict.fromkeys(piece.trail.coats[n].glass.key for n in fire.coats):
            drawn = piece.glasses.get(key)
            if drawn is None:
                continue
            over, under = kiln_c - drawn.fuse_high_c, drawn.fuse_low_c - kiln_c
            # A coat fired before has only to stand the heat; a new one has to flow in it, and stands it if it does.
            rule, beyond = ("setting", np.maximum(over, under)) if key in new else ("setting-again", over)
            about = Subject(step=fire.step.number, fire=fire.number, glass=key)
            yield Held(rule, about, graded(beyond, limit_of(rule)), kiln_c)


def thicknesses(piece: Drawn, tensions: Sequence[Array]) -> Iterator[Held]:
    """Glass against metal, the faces against each other, and the metal against its least thickness."""
    front, back, metal_m = piece.face_m("front"), piece.face_m("back"), piece.metal_m
    thick, thin = np.maximum(front, back), np.minimum(front, back)
    last = Subject(step=piece.solid[-1].step.number)
    whole = metal_m * limit_of("glass-of-metal").fine * HAIR
    yield Held(
        "glass-of-metal",
        last,
        np.where(thick > whole, 2.0, np.where(front + back > whole, 1.0, 0.0)),
        (front + back) / metal_m,
    )
    if {x.face for x in piece.laid} == {"front", "back"}:
        yield Held(
            "faces-alike", last, np.where(thin < limit_of("faces-alike").fine * thick / HAIR, 1.0, 0.0), thin / thick
        )
    else:
        yield Held("one-face", last, np.where(metal_m * 1e3 < limit_of("one-face").fine, 1.0, 0.0), metal_m * 1e3)
    least = piece.metal.band("least_thickness")
    assert least is not None
    yield Held(
        "least-metal", Subject(metal=piece.metal.key), np.where(metal_m * HAIR < least.value, 1.0, 0.0), metal_m * 1e3
    )


#: Every sampled rule, in the order in which findings stand where they weigh alike.
SAMPLED_RULES: tuple[SampledRule, ...] = (tension, gap, kiln_window, heat, thicknesses)
