"""What every draw of a piece is held against: tension, gap, heat and thicknesses, each a rule of `judge.rules`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from refdb.frozen import dataclass
from refdb.judge import limits
from refdb.judge.draws import graded
from refdb.judge.reason import SPOT, Subject
from refdb.judge.rules import limit_of
from refdb.judge.stack import HAIR, Worst
from refdb.science.plate import Array
from refdb.science.plate.duration import duration_factor

if TYPE_CHECKING:
    from refdb.judge.piece.sample import Drawn


@dataclass(frozen=True)
class Held:
    """One rule about one subject in every draw: grade 0, 1 or 2, and what was found; (samples,) each."""

    rule: str
    subject: Subject
    grades: Array
    found: Array


SampledRule = Callable[["Drawn", Sequence[Worst]], Iterator[Held]]


def tension(piece: Drawn, states: Sequence[Worst]) -> Iterator[Held]:
    """The worst tension in glass after each firing [MPa], against its strength while that lasts."""
    for fire, state in zip(piece.fires, states, strict=True):
        lasting = fire is piece.trail.fires[-1]
        rule = "tension-lasting" if lasting else "tension-between"
        hours = limits.HOURS_FOR_GOOD if lasting else piece.trail.piece.hours_between
        strong = piece.strength_mpa * duration_factor(hours)
        worst, fails = state.tension_mpa, state.tension_mpa > strong
        if state.hoop_mpa is not None:
            fails = fails | (state.hoop_mpa > strong * piece.ring_stronger)
            worst = np.maximum(worst, state.hoop_mpa)
        grades = np.where(fails, 2.0, np.where(worst > limit_of(rule).fine, 1.0, 0.0))
        yield Held(rule, Subject(step=fire.step.number, fire=fire.number), grades, worst)


def release(piece: Drawn, states: Sequence[Worst]) -> Iterator[Held]:
    """The most energy that a coat sets free as it leaves, in the worst firing [J/m²]."""
    worst = np.max([state.release_j_m2 for state in states], axis=0)
    grades = np.where(worst > piece.release_not, 2.0, np.where(worst > piece.release_care, 1.0, 0.0))
    yield Held("release", Subject(step=piece.solid[-1].step.number), grades, worst)


def gap(piece: Drawn, states: Sequence[Worst]) -> Iterator[Held]:
    """The contraction gap of each glass [ppm], and whether the metal's curve reaches its set point.

    Too wide it throws the coat off; too narrow nothing squeezes the glass, and the smallest error stretches it.
    """
    limit, least = limit_of("gap"), limit_of("gap-narrow").fine
    for key, found in piece.gaps_ppm.items():
        spot = piece.lies_as_spots(key)
        drawn = piece.glasses[key]
        subject = Subject(step=piece.first_step(key), glass=key, zone=SPOT if spot else "")
        # The limit is that of whole coats, which chip off from the edge of a piece. Of a spot a wide gap is a risk to
        # itself; what it does to the piece the plate tells.
        yield Held("gap", subject, np.minimum(graded(found, limit), 1.0 if spot else 2.0), found)
        yield Held("gap-narrow", subject, np.where(found < least, 1.0, 0.0), found)
        if drawn.beyond.any():
            yield Held("curve-end", subject, drawn.beyond, drawn.set_asked_c)


def kiln_window(piece: Drawn, states: Sequence[Worst]) -> Iterator[Held]:
    """Whether any setting lies between the glass that flows and the metal that melts; of a question alone."""
    if not piece.trail.piece.is_question:
        return
    ceiling = piece.base.solidus_c - limits.SOLIDUS_MARGIN_K
    for key, drawn in piece.glasses.items():
        most = np.minimum(ceiling, piece.trail.piece.kiln_most_c)
        window = np.minimum(drawn.fuse_high_c, most) - drawn.fuse_low_c
        closed = window <= limit_of("kiln").fine
        narrowed = most < drawn.fuse_high_c
        yield Held("kiln", Subject(glass=key), np.where(closed, 2.0, np.where(narrowed, 1.0, 0.0)), window)


def heat(piece: Drawn, states: Sequence[Worst]) -> Iterator[Held]:
    """The kiln of each firing against the metal, and against every glass that is on."""
    ceiling = piece.base.solidus_c - limits.SOLIDUS_MARGIN_K
    for fire in piece.trail.fires:
        if fire.step.kiln_c is None:
            continue
        kiln_c = np.broadcast_to(fire.step.kiln_c + piece.offset_k, ceiling.shape)
        subject = Subject(step=fire.step.number, fire=fire.number)
        yield Held("metal-melts", subject, np.where(kiln_c > ceiling, 2.0, 0.0), ceiling)
        # What is set in keeps its shape, so that it need not flow.
        new = {c.glass.key for c in map(piece.trail.coats.__getitem__, fire.new) if c.step.do != "inset"}
        for key in dict.fromkeys(piece.trail.coats[n].glass.key for n in fire.coats):
            drawn = piece.glasses.get(key)
            if drawn is None:
                continue
            over, under = kiln_c - drawn.fuse_high_c, drawn.fuse_low_c - kiln_c
            # A coat fired before has only to stand the heat; a new one has to flow in it, and stands it if it does.
            rule, beyond = ("setting", np.maximum(over, under)) if key in new else ("setting-again", over)
            about = Subject(step=fire.step.number, fire=fire.number, glass=key)
            yield Held(rule, about, graded(beyond, limit_of(rule)), kiln_c)


def thicknesses(piece: Drawn, states: Sequence[Worst]) -> Iterator[Held]:
    """Glass against metal, the faces against each other, and the metal against its least thickness."""
    front, back, metal_m = piece.face_m("front"), piece.face_m("back"), piece.metal_m
    thick, thin = np.maximum(front, back), np.minimum(front, back)
    last = Subject(step=piece.solid[-1].step.number)
    whole = metal_m * limit_of("glass-of-metal").fine * HAIR
    # Found is what the outcome speaks of: the one coat that refuses, else both together.
    # Wires part a coat into cells, which are daily filled higher than the metal is thick; there the plate tells more.
    parted = {step.face for step in piece.trail.piece.steps_of("wire")}
    refused = np.any(
        [face_m > whole for name, face_m in (("front", front), ("back", back)) if name not in parted], axis=0
    )
    yield Held(
        "glass-of-metal",
        last,
        np.where(refused, 2.0, np.where(front + back > whole, 1.0, 0.0)),
        np.where(refused, thick, front + back) / metal_m,
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
SAMPLED_RULES: tuple[SampledRule, ...] = (tension, release, gap, kiln_window, heat, thicknesses)
#: Those that speak of a plate, and so of every zone by itself.
OF_ZONES: tuple[SampledRule, ...] = (tension, release, thicknesses)
