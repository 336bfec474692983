"""What the judge finds at a number: for every rule with a limit a small situation made about that number."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from at_cell_limits import CELL_PROBES
from pieces import numbers_of, piece

from refdb.judge.fit.question import Question
from refdb.judge.piece import (
    held_against,
    pull_through,
    rules_of_cooling,
    rules_of_laying,
    rules_of_leaf,
    rules_of_order,
)
from refdb.judge.piece.known import Known
from refdb.judge.piece.states import walk
from refdb.judge.piece.steps import Piece
from refdb.judge.reason import CARE, NOT, SUITS, Reason
from refdb.judge.wording import Context, told
from refdb.quantities import Band
from refdb.records import Contact, Solder
from refdb.store.reference import Reference

HARD, SOFT, WHITE, OPAL = ("clear-hard-lead-free", "clear-soft-lead-free", "white-opaque-lead-free", "opal-lead-free")
COPPER, FOIL, GOLD = "copper-sheet", "fine-silver-foil", "gold-foil-24k"


def with_figure(record: Any, name: str, value: float, low: float | None = None, high: float | None = None) -> Any:
    """The record with one band of a property in place of all that it holds."""
    rows = [v for v in record.values if v.property == name]
    row = replace(rows[0], value=value, low=low or value, high=high or value, preferred=True)
    return replace(record, values=(*(v for v in record.values if v.property != name), row))


class Made:
    """Small situations made about a number, with records of the store that may be changed for it."""

    def __init__(self, ref: Reference, monkeypatch: pytest.MonkeyPatch) -> None:
        self.ref, self.monkeypatch = ref, monkeypatch
        self.glasses = {key: ref.glass(key) for key in (HARD, SOFT, WHITE, OPAL)}
        self.leaves = {key: ref.leaf(key) for key in (FOIL, GOLD)}
        self.metal = ref.metal(COPPER)
        self.known = Known(self.metal, [], ref.contacts(), {}, [])

    def outcome(self, key: str, x: float) -> str | None:
        """What the probe of a rule finds at a number; a finding of a rule without a sample can be told in words."""
        found = PROBES[key](self, x)
        if isinstance(found, held_against.Held):
            return (SUITS, CARE, NOT)[int(found.grades[0])]
        if isinstance(found, Reason):
            records = {**self.glasses, **self.leaves, **self.known.solders, COPPER: self.metal}
            assert told(found, Context(records)).limit
            return found.outcome
        return found

    def walk(self, lines: list[str] | Piece, **more: object) -> Any:
        return walk(lines if isinstance(lines, Piece) else piece(lines, **more), self.glasses, self.leaves)

    def one(self, found: Iterator[Any], key: str) -> Any:
        """The one finding of a rule, or None."""
        of_rule = [f for f in found if f.rule == key]
        assert len(of_rule) < 2
        return of_rule[0] if of_rule else None

    def fixed(self, rule: Callable[..., Iterator[Reason]], key: str, lines: list[str] | Piece) -> Reason | None:
        return self.one(rule(self.walk(lines), self.known), key)


def array(x: float) -> Any:
    return np.array([x])


def drawn_glass(low_c: float = 700.0, high_c: float = 900.0) -> SimpleNamespace:
    return SimpleNamespace(
        fuse_low_c=array(low_c), fuse_high_c=array(high_c), beyond=array(0.0), set_asked_c=array(500.0)
    )


#: The middle strength of a fresh coat under a short load [MPa], as it is drawn.
STRENGTH_MPA = 75.0


def tension(key: str, at: int) -> Callable[[Made, float], Any]:
    def probe(made: Made, x: float) -> Any:
        found = tensions(made, x)
        assert [f.rule for f in found] == ["tension-between", "tension-lasting"]
        assert [f.subject.fire for f in found] == [1, 2]
        return found[at]

    return probe


def tensions(
    made: Made,
    x: float,
    strength_mpa: Any = None,
    hours_between: float = 24.0,
    hoop: float | None = None,
    stronger: float = 1.0,
) -> list[Any]:
    """What is found where the glass is stretched so far after each of two fires, and around a rim by `hoop` [MPa]."""
    trail = made.walk([f"coat front {HARD} 0.1", "fire 800", f"coat front {HARD} 0.1", "fire 800"])
    assert trail.piece.hours_between == 24.0
    trail.piece = replace(trail.piece, hours_between=hours_between)
    strong = array(STRENGTH_MPA) if strength_mpa is None else strength_mpa
    state = SimpleNamespace(tension_mpa=array(x), hoop_mpa=None if hoop is None else array(hoop))
    drawn = SimpleNamespace(trail=trail, fires=trail.fires, strength_mpa=strong, ring_stronger=stronger)
    return list(held_against.tension(drawn, [state, state]))


def gap(key: str) -> Callable[[Made, float], Any]:
    def probe(made: Made, x: float) -> Any:
        drawn = SimpleNamespace(glasses={HARD: drawn_glass()}, gaps_ppm={HARD: array(x)}, first_step=lambda _: 1)
        drawn.lies_as_spots = lambda _: False
        return made.one(held_against.gap(drawn, []), key)

    return probe


def release(made: Made, x: float) -> Any:
    """The worst of two fires counts, whichever it is."""
    (one,), (other,) = (releases(made, *pair) for pair in ((x, 0.0), (0.0, x)))
    assert one.grades == other.grades
    return one


def releases(made: Made, *joules: float, care: Any = None, bad: Any = None) -> list[Any]:
    """What is found of the energies that are set free after each fire [J/m²]."""
    drawn = SimpleNamespace(
        solid=[SimpleNamespace(step=SimpleNamespace(number=1))],
        release_care=array(225.0) if care is None else care,
        release_not=array(450.0) if bad is None else bad,
    )
    return list(held_against.release(drawn, [SimpleNamespace(release_j_m2=array(x)) for x in joules]))


def kiln(made: Made, x: float) -> Any:
    drawn = SimpleNamespace(
        trail=SimpleNamespace(piece=SimpleNamespace(is_question=True, kiln_most_c=2000.0)),
        base=SimpleNamespace(solidus_c=array(1000.0)),
        glasses={HARD: drawn_glass(800.0, 800.0 + x)},
    )
    return made.one(held_against.kiln_window(drawn, []), "kiln")


def heat(key: str, *, again: bool = False) -> Callable[[Made, float], Any]:
    """A fire at 800 °C against ranges and a metal about it; `again` for a coat that is fused already."""

    def held(made: Made, glass: SimpleNamespace, solidus_c: float) -> Any:
        lines = [f"coat front {HARD} 0.1", "fire 800", f"coat front {SOFT} 0.1", "fire 800"]
        trail = made.walk(lines if again else lines[:2])
        base = SimpleNamespace(solidus_c=array(solidus_c))
        drawn = SimpleNamespace(trail=trail, base=base, offset_k=0.0, glasses={HARD: glass})
        return made.one((f for f in held_against.heat(drawn, []) if f.subject.fire == (2 if again else 1)), key)

    def probe(made: Made, x: float) -> Any:
        if key == "metal-melts":
            return held(made, drawn_glass(), 800.0 - x)
        # Glass that is fused has only to stand the heat; a new coat may miss its range at either end.
        hot = held(made, drawn_glass(850.0 if again else 700.0, 800.0 - x), 2000.0)
        assert again or hot.grades == held(made, drawn_glass(800.0 + x, 900.0), 2000.0).grades
        return hot

    return probe


def curve_end(made: Made, x: float) -> Any:
    glass = with_figure(made.glasses[HARD], "set_point", made.metal.curve.high_c + x)
    found = numbers_of(Question(glass, made.metal))
    row = made.one(iter(found.rules), "curve-end")
    return row and row.outcome


def faces(made: Made, key: str, front_mm: float, back_mm: float, metal_mm: float, wires: tuple[str, ...] = ()) -> Any:
    laid = [SimpleNamespace(face=f) for f, mm in (("front", front_mm), ("back", back_mm)) if mm > 0]
    of_face = {"front": array(front_mm * 1e-3), "back": array(back_mm * 1e-3)}
    drawn = SimpleNamespace(
        face_m=of_face.get,
        metal_m=array(metal_mm * 1e-3),
        solid=[SimpleNamespace(step=SimpleNamespace(number=1))],
        laid=laid,
        metal=made.metal,
        trail=SimpleNamespace(piece=SimpleNamespace(steps_of=lambda _: [SimpleNamespace(face=f) for f in wires])),
    )
    return made.one(held_against.thicknesses(drawn, []), key)


def on_either_face(made: Made, key: str, thick_mm: float, thin_mm: float, metal_mm: float) -> Any:
    """What is found whichever face is the thicker."""
    one, other = (faces(made, key, *pair, metal_mm) for pair in ((thick_mm, thin_mm), (thin_mm, thick_mm)))
    assert one.grades == other.grades
    return one


def least_metal(made: Made, x: float) -> Any:
    made.metal = with_figure(made.metal, "least_thickness", 0.5e-3, 0.4e-3, 0.6e-3)
    return faces(made, "least-metal", 0.1, 0.1, 0.5 + x)


def contact(first_c: float, low: float, high: float) -> Contact:
    return Contact("Ag", "Cu", first_c, low, high, "eutectic", "computed", "common-practice", True)


def leaf_on_metal(made: Made, x: float) -> Any:
    """Where the two first melt, the low end of what is known of it; the fire is cooler."""
    made.known = replace(made.known, contacts=[contact(850.0, x, 900.0)])
    return made.fixed(rules_of_leaf.leaves, "leaf-on-metal", [f"leaf {FOIL}", "fire 700"])


def leaf_cover(key: str, line: Callable[[float], str]) -> Callable[[Made, float], Any]:
    return lambda made, x: made.fixed(rules_of_leaf.leaves, key, [f"leaf {FOIL}", line(x), "fire 700"])


def leaf_melts(made: Made, x: float) -> Any:
    made.leaves[FOIL] = with_figure(made.leaves[FOIL], "solidus", 800.0, 780.0, 820.0)
    return made.fixed(rules_of_leaf.leaves, "leaf-melts", [f"leaf {FOIL}", f"fire {780 + x}"])


def foil_unpricked(made: Made, x: float) -> Any:
    made.leaves[FOIL] = with_figure(made.leaves[FOIL], "leaf_thickness", x * 0.8e-6, x * 0.5e-6, x * 1e-6)
    whole = piece([f"leaf {FOIL}"])
    whole = replace(whole, steps=(replace(whole.steps[0], pierced=False),))
    return made.fixed(rules_of_leaf.unpricked, "foil-unpricked", whole)


def rising(key: str, *between: str) -> Callable[[Made, float], Any]:
    def probe(made: Made, x: float) -> Any:
        made.monkeypatch.setattr(pull_through, "dose_share", lambda *_: (x, x / 9, x * 9))
        lines = [f"coat front {WHITE} 0.1", "fire 800", *between, f"coat front {HARD} 0.1", "fire 800"]
        firings = SimpleNamespace(with_own=lambda _: SimpleNamespace(pinned=lambda *_: None))
        return made.one(pull_through.rising(made.walk(lines), made.metal, firings), key)

    return probe


def surface_tension(made: Made, x: float) -> Any:
    made.glasses[HARD] = with_figure(made.glasses[HARD], "surface_tension", 0.3 + x * 1e-3)
    made.glasses[SOFT] = with_figure(made.glasses[SOFT], "surface_tension", 0.3)
    lines = [f"coat front {SOFT} 0.1", "fire 700", f"coat front {HARD} 0.1", "fire 800"]
    return made.fixed(rules_of_laying.surface_tensions, "surface-tension", lines)


def join(key: str, solder: Callable[[float], tuple[float, float]], *lines: str) -> Callable[[Made, float], Any]:
    def probe(made: Made, x: float) -> Any:
        made.known = replace(made.known, solders={"s": Solder("s", "Solder", "silver", *solder(x), "", "none")})
        return made.fixed(rules_of_order.joins, key, list(lines))

    return probe


def fires(made: Made, key: str, rule: Callable[..., Iterator[Reason]], before: list[str], count: float) -> Any:
    return made.fixed(rule, key, [*before, *["fire 700"] * math.ceil(count)])


def minutes(key: str, of_gloss: str) -> Callable[[Made, float], Any]:
    """Minutes in the fire as a multiple of one end of those in which the glass comes to its gloss."""
    gloss = Band(1.4, 1.0, 2.0)

    def probe(made: Made, x: float) -> Any:
        of_glass = SimpleNamespace(gloss=gloss, pinned=None)
        made.monkeypatch.setattr(rules_of_laying, "maturing", lambda *_: of_glass)
        trail = made.walk([f"coat front {HARD} 0.1", f"fire 800 {x * getattr(gloss, of_gloss)}"])
        firings = SimpleNamespace(with_own=lambda _: None)
        return made.one(rules_of_laying.fire_times(trail, made.metal, firings), key)

    return probe


def laid(rule: Callable[..., Iterator[Reason]], key: str, *lines: Callable[[float], str]) -> Callable[..., Any]:
    return lambda made, x: made.fixed(rule, key, [line(x) for line in lines])


def coat(glass: str, low: float, high: float, face: str = "front") -> str:
    return f"coat {face} {glass} {low:.6f} to={high:.6f}"


def fire(_: float) -> str:
    return "fire 700"


def soft_back(made: Made, x: float) -> Any:
    for key, middle in ((HARD, 800.0), (SOFT, 800.0 - x)):
        # The ends lie unlike far off, so that only the middle of the two tells.
        for name, value in (("fuse_low", middle - 10), ("fuse_high", middle + 10)):
            made.glasses[key] = with_figure(made.glasses[key], name, value, value - 40, value + 90)
    return made.fixed(rules_of_laying.soft_back, "soft-back", [f"coat front {HARD} 0.1", f"coat back {SOFT} 0.1"])


PROBES: dict[str, Callable[[Made, float], Any]] = {
    "tension-lasting": tension("tension-lasting", 1),
    "tension-between": tension("tension-between", 0),
    "gap": gap("gap"),
    "gap-narrow": gap("gap-narrow"),
    "release": release,
    "kiln": kiln,
    "setting": heat("setting"),
    "setting-again": heat("setting-again", again=True),
    "metal-melts": heat("metal-melts"),
    "curve-end": curve_end,
    "glass-of-metal": lambda made, x: on_either_face(made, "glass-of-metal", x, 0.0, 1.0),
    "faces-alike": lambda made, x: on_either_face(made, "faces-alike", 0.4, 0.4 * x, 2.0),
    "one-face": lambda made, x: on_either_face(made, "one-face", 0.2, 0.0, x),
    "least-metal": least_metal,
    "leaf-on-metal": leaf_on_metal,
    "leaf-part-covered": leaf_cover("leaf-part-covered", lambda x: f"coat front {HARD} 0.1 part={x}"),
    "leaf-uneven-cover": leaf_cover("leaf-uneven-cover", lambda x: coat(HARD, 0.1, 0.1 * x)),
    "leaf-melts": leaf_melts,
    "leaf-many-fires": lambda made, x: fires(made, "leaf-many-fires", rules_of_leaf.leaves, [f"leaf {FOIL}"], x),
    "foil-unpricked": foil_unpricked,
    "pull-through": rising("pull-through"),
    "leaf-bed": rising("leaf-bed", f"leaf {GOLD}"),
    "surface-tension": surface_tension,
    "join-after-glass": join("join-after-glass", lambda x: (300.0, x), f"coat front {HARD} 0.1", "fire 800", "join s"),
    "join-in-fire": join("join-in-fire", lambda x: (700.0 + x, 900.0), "join s", "fire 700"),
    "many-fires": lambda made, x: fires(made, "many-fires", rules_of_order.many_fires, [], x),
    "long-fire": laid(rules_of_order.many_fires, "long-fire", lambda x: f"fire 700 {x}"),
    "past-gloss": minutes("past-gloss", "high"),
    "short-fire": minutes("short-fire", "low"),
    "uneven-coat": laid(rules_of_laying.uneven, "uneven-coat", lambda x: coat(HARD, 0.1, 0.1 * x)),
    "thin-first-coat": laid(rules_of_laying.thin, "thin-first-coat", lambda x: coat(HARD, x / 2, x)),
    "thin-over-colour": laid(
        rules_of_laying.thin, "thin-over-colour", lambda _: coat(HARD, 0.2, 0.2), lambda x: coat(WHITE, x / 2, x)
    ),
    "thin-opal": laid(
        rules_of_laying.thin, "thin-opal", lambda _: coat(HARD, 0.2, 0.2), lambda x: coat(OPAL, x / 2, x)
    ),
    "slow-cooling": laid(rules_of_cooling.cooling, "slow-cooling", lambda x: coat(HARD, x, x), fire),
    "thick-at-once": laid(rules_of_laying.thick, "thick-at-once", lambda x: coat(HARD, x, x * 2), fire),
    "bare-beside-glass": laid(
        rules_of_laying.part_cover, "bare-beside-glass", lambda x: f"coat front {HARD} 0.1 part={x}", fire
    ),
    "soft-back": soft_back,
    **CELL_PROBES,
}
