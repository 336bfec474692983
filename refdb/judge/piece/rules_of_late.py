"""What is found of painting, decals and lustre over finished glass, and of slip: what no stress can tell."""

from __future__ import annotations

from collections.abc import Iterator

from refdb.judge.piece.known import FixedRule, Known
from refdb.judge.piece.reasons import heat_of, mm
from refdb.judge.piece.states import Coat, Fire, Walk
from refdb.judge.piece.steps import Step
from refdb.judge.reason import CARE, NOT, Reason, Subject
from refdb.judge.rules import limit_of

#: What holds oil, lacquer or resin, and how it is called.
_ORGANIC = {"paint": "painting", "decal": "decal", "lustre": "lustre"}
_CALLED = _ORGANIC | {"line": "drawing", "inset": "setting"}
#: What is laid wet, unless it is sifted.
_WET = ("coat", "slip", "line", "paint", "decal", "lustre", "wire", "inset")


def _next_fire(trail: Walk, step: Step) -> Fire | None:
    return next(iter(trail.fires_after(step)), None)


def burnt_off(trail: Walk, known: Known) -> Iterator[Reason]:
    """Fires with oil, lacquer or resin in them, of which the file does not say that the kiln is vented."""
    told: set[int] = set()
    for step in trail.piece.steps_of(*_ORGANIC):
        fire = _next_fire(trail, step)
        if fire is None:
            if step.do == "lustre":
                yield Reason("never-fired", NOT, Subject(step.number), values={"what": "lustre"})
            continue
        if fire.number in told or fire.step.vented:
            continue
        told.add(fire.number)
        about, shut = Subject(fire.step.number, fire.number), fire.step.vented is False
        yield Reason(
            "burn-off", NOT if shut else CARE, about, case="shut" if shut else "", values={"what": _ORGANIC[step.do]}
        )


def on_glass(trail: Walk, known: Known) -> Iterator[Reason]:
    """Painting, decals and lustre on bare metal, or on powder."""
    for step in trail.piece.steps_of(*_ORGANIC):
        under = [i for i in trail.before(step) if isinstance(i, Coat) and i.is_plate]
        about, values = Subject(step.number, face=step.face), {"what": _ORGANIC[step.do]}
        if not under:
            yield Reason("late-on-glass", NOT, about, values=values)
        elif not trail.is_fused(under[-1], step):
            yield Reason("late-on-glass", CARE, about, case="powder", values=values)


def painted(trail: Walk, known: Known) -> Iterator[Reason]:
    """Painting that is thick, and fires that are hotter than the colour stands."""
    hot = limit_of("paint-hot")
    for step in trail.piece.steps_of("paint", "decal"):
        assert step.thickness_m is not None
        if step.do == "paint" and step.thickness_m.value * 1e3 > limit_of("paint-thick").fine:
            about = Subject(step.number, glass=step.glass)
            yield Reason("paint-thick", CARE, about, values={"thick": mm(step.thickness_m)})
        most = trail.glass(step.glass).band("fuse_high")
        for fire in trail.fires_after(step):
            over_k = -1.0 if most is None or fire.hottest_c is None else fire.hottest_c - most.value
            if over_k > hot.fine:
                about = Subject(fire.step.number, fire.number, glass=step.glass)
                beyond = hot.care is not None and over_k > hot.care
                yield Reason("paint-hot", NOT if beyond else CARE, about, values={"over_k": over_k})


def lustred(trail: Walk, known: Known) -> Iterator[Reason]:
    """Lustre that is not the last, or is fired hotter than it or the glass beneath stands."""
    for step in trail.piece.steps_of("lustre"):
        after = trail.after(step)
        if after:
            what = _CALLED.get(after[0].step.do, after[0].step.do)
            yield Reason("lustre-last", NOT, Subject(after[0].step.number), values={"what": what})
        under = [i for i in trail.before(step) if isinstance(i, Coat) and i.is_plate]
        low = under[-1].glass.band("fuse_low") if under else None
        for fire in trail.fires_after(step):
            if fire.hottest_c is None:
                continue
            about = Subject(fire.step.number, fire.number, glass=under[-1].glass.key if under else "")
            if fire.hottest_c > limit_of("lustre-hot").fine:
                yield Reason("lustre-hot", NOT, about, values={"heat": heat_of(fire)})
            elif low is not None and fire.hottest_c > low.value:
                yield Reason("lustre-hot", CARE, about, case="soft", values={"heat": heat_of(fire), "low_c": low.value})


def slipped(trail: Walk, known: Known) -> Iterator[Reason]:
    """Slip that is thick, or made wet again before it is fired."""
    for step in trail.piece.steps_of("slip"):
        assert step.thickness_m is not None
        if step.thickness_m.high * 1e3 > limit_of("slip-thick").fine:
            about = Subject(step.number, glass=step.glass)
            yield Reason("slip-thick", CARE, about, values={"thick": mm(step.thickness_m)})
        fire = _next_fire(trail, step)
        end = fire.step.number if fire is not None else len(trail.piece.steps) + 1
        for later in trail.piece.steps_of(*_WET):
            if step.number < later.number < end and later.face == step.face and not later.siftings:
                what = _CALLED.get(later.do, later.do)
                yield Reason("slip-rewet", NOT, Subject(later.number, face=step.face), values={"what": what})


LATE_RULES: tuple[FixedRule, ...] = (burnt_off, on_glass, painted, lustred, slipped)
