"""What is found of order, surface, joins, number of fires and use: what no stress can tell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from refdb.judge.piece.known import Known
from refdb.judge.piece.reasons import heat_of
from refdb.judge.piece.states import Coat, Fire, LeafOn, Walk
from refdb.judge.piece.steps import COLD_JOINS, FACES, Step
from refdb.judge.piece.zones import is_spot
from refdb.judge.reason import CARE, NOT, SUITS, Reason, Subject
from refdb.judge.rules import limit_of
from refdb.judge.selectors import matches
from refdb.records import FitRule, Metal, Reaction, Solder

#: The row of `fit_rules.csv` that keeps glass not made for metal from use as a coat.
NO_ENAMEL = "not-an-enamel"
#: By whom a piece is used, as words; the sources of what is required for them.
_WHOM = {"child": ("a child", "cpsia"), "food": ("food", "iso-4531")}


def _about(item: Coat | LeafOn) -> str:
    return item.glass.key if isinstance(item, Coat) else item.leaf.key


def fired(trail: Walk, known: Known) -> Iterator[Reason]:
    """What is laid and never fired."""
    if not trail.fires:
        yield Reason("never-fired", NOT, case="whole")
    for item in trail.unfired:
        yield Reason("never-fired", NOT, Subject(item.step.number), values={"what": _about(item)})


def on_metal(trail: Walk, metal: Metal, rows: list[FitRule]) -> Iterator[Reason]:
    """Rules of surface: they hold for the coat that touches the metal; but glass that is no enamel is none higher up.

    A spot of such glass on fused enamel is how it is used.
    """
    for face in trail.faces.values():
        coats = [i for i in face if isinstance(i, Coat) and i.is_plate]
        for row in rows:
            if not matches(row.metal, metal):
                continue
            if face and isinstance(face[0], Coat) and matches(row.glass, face[0].glass):
                yield Reason(row.key, row.outcome, _of_coat(face[0], metal))
            if row.key == NO_ENAMEL:
                higher = {c.glass.key: c for c in coats if c is not face[0] and not is_spot(c)}
                yield from (
                    Reason(row.key, row.outcome, _of_coat(c, metal))
                    for c in higher.values()
                    if matches(row.glass, c.glass) and c.glass is not coats[0].glass
                )


def _of_coat(coat: Coat, metal: Metal) -> Subject:
    return Subject(coat.step.number, glass=coat.glass.key, metal=metal.key)


def surface(trail: Walk, known: Known) -> Iterator[Reason]:
    """Rules of surface of a whole piece."""
    return on_metal(trail, known.metal, known.fit_rules)


def clean_and_mask(trail: Walk, known: Known) -> Iterator[Reason]:
    """Faces that scale bare in the first fire, and faces that are not cleaned before their first coat."""
    scales = known.metal.bare_surface != "none"
    if trail.fires and scales:
        first = trail.fires[0]
        for face in first.bare:
            if face not in first.masked:
                yield Reason("bare-face-scale", CARE, Subject(first.step.number, first.number, face))
    for face in FACES:
        if not trail.faces[face]:
            continue
        item = trail.faces[face][0]
        about = Subject(item.step.number, face=face)
        before = [f.step.number for f in trail.fires if f.step.number < item.step.number]
        cleaned = [s.number for s in trail.piece.steps if s.do == "clean" and s.face == face]
        if any((before[-1] if before else 0) < n < item.step.number for n in cleaned):
            continue
        if before and scales:
            worse = isinstance(item, LeafOn) or item.glass.optical == "transparent"
            yield Reason("scale-under-glass", NOT if worse else CARE, about, values={"what": _about(item)})
        else:
            yield Reason("clean-metal", CARE, about)


def joins(trail: Walk, known: Known) -> Iterator[Reason]:
    """Joins that let go in the kiln, that come too late, or that hold."""
    for step in (s for s in trail.piece.steps if s.do == "join"):
        after = [f for f in trail.fires_after(step) if f.step.kiln_c is not None]
        if step.solder in COLD_JOINS:
            yield from _cold_join(step, after)
        else:
            glass_before = any(f.step.number < step.number and f.coats for f in trail.fires)
            yield from _soldered(step, known.solders[step.solder], after, glass_before)


def _cold_join(step: Step, after: list[Fire]) -> Iterator[Reason]:
    about = Subject(step.number)
    if step.solder == "adhesive" and after:
        yield Reason("join-in-fire", NOT, about, case="adhesive")
    elif step.solder == "setting" and after:
        yield Reason("set-before-fire", CARE, about)
    elif step.solder != "none":
        yield Reason("join-holds", SUITS, about, case="cold", values={"by": step.solder, "fires": len(after)})


def _soldered(step: Step, solder: Solder, after: list[Fire], glass_before: bool) -> Iterator[Reason]:
    about, margin_k = Subject(step.number), limit_of("join-in-fire").fine
    soft = solder.liquidus_c is not None and solder.liquidus_c < limit_of("join-after-glass").fine
    flows_c = solder.liquidus_c if solder.liquidus_c is not None else solder.solidus_c
    if glass_before and not soft:
        case, known = ("unknown", {}) if flows_c is None else ("", {"flows_c": flows_c})
        yield Reason(
            "join-after-glass", NOT, about, case=case, values={"solder": solder.key, **known}, source=solder.source
        )
    begins_c = solder.solidus_c if solder.solidus_c is not None else solder.liquidus_c
    hottest = max(after, key=lambda f: f.hottest_c or 0.0, default=None)
    if hottest is None and (soft or not glass_before):
        yield Reason("join-holds", SUITS, about, case="no-fire", values={"solder": solder.key}, source=solder.source)
    elif hottest is not None and begins_c is not None and (hottest.hottest_c or 0.0) <= begins_c - margin_k:
        values: dict[str, Any] = {
            "solder": solder.key,
            "melts_c": begins_c,
            "hottest_c": hottest.hottest_c,
            "heat": heat_of(after[0]),
            "margin": margin_k,
        }
        yield Reason("join-holds", SUITS, about, values=values, source=solder.source)
    for fire in after:
        yield from _join_in_fire(solder, fire, begins_c, margin_k)


def _join_in_fire(solder: Solder, fire: Fire, begins_c: float | None, margin_k: float) -> Iterator[Reason]:
    assert fire.hottest_c is not None
    about = Subject(fire.step.number, fire.number)
    values: dict[str, Any] = {"solder": solder.key, "heat": heat_of(fire)}
    if begins_c is None:
        yield Reason("join-in-fire", CARE, about, case="unknown", values=values, source=solder.source)
    elif solder.liquidus_c is not None and fire.hottest_c >= solder.liquidus_c:
        values["melts_c"] = solder.liquidus_c
        yield Reason("join-in-fire", NOT, about, case="liquid", values=values, source=solder.source)
    elif fire.hottest_c > begins_c - margin_k:
        values["melts_c"] = begins_c
        yield Reason("join-in-fire", CARE, about, values=values, source=solder.source)


def stoned(trail: Walk, known: Known) -> Iterator[Reason]:
    """Stoning with and without a fire after it, and fires that add nothing."""
    for step in (s for s in trail.piece.steps if s.do == "stone"):
        fired_after = bool(trail.fires_after(step))
        rule, outcome = ("stoned-and-fired", SUITS) if fired_after else ("stoned-and-left", CARE)
        yield Reason(rule, outcome, Subject(step.number))
    for fire in trail.fires:
        since = trail.fires[fire.number - 2].step.number if fire.number > 1 else 0
        laid = any(since < s.number < fire.step.number for s in trail.piece.steps_of("leaf", "wire", "inset", "lustre"))
        if not fire.new and fire.coats and not laid:
            yield Reason("fired-again", SUITS, Subject(fire.step.number, fire.number))


def many_fires(trail: Walk, known: Known) -> Iterator[Reason]:
    """More fires than are usual, and fires that last longer."""
    count = len(trail.fires)
    if count > limit_of("many-fires").fine:
        yield Reason("many-fires", CARE, Subject(trail.fires[-1].step.number), values={"fires": count})
    for fire in trail.fires:
        minutes = fire.step.minutes
        if minutes is not None and minutes > limit_of("long-fire").fine:
            yield Reason("long-fire", CARE, Subject(fire.step.number, fire.number), values={"minutes": minutes})


def use(trail: Walk, known: Known) -> Iterator[Reason]:
    """What a piece for food or for a child must not hold, and that it has to be tested."""
    if trail.piece.use not in _WHOM:
        return
    whom, source = _WHOM[trail.piece.use]
    for glass in {c.glass.key: c.glass for c in trail.coats}.values():
        step = next(c.step.number for c in trail.coats if c.glass.key == glass.key)
        for rule, content in (("lead-for-use", glass.lead), ("cadmium-for-use", glass.cadmium)):
            if content != "free":
                yield Reason(
                    rule, NOT, Subject(step, glass=glass.key), case="" if content == "contains" else "unknown",
                    values={"whom": whom}, source=source,
                )  # fmt: skip
    yield Reason("made-for-use", CARE, values={"whom": whom}, source=source)


def colours(trail: Walk, known: Known) -> Iterator[Reason]:
    """Colours that change on this metal, over this leaf, or against this glass."""
    for coat in trail.coats:
        under = next(iter(trail.beneath(coat)), None)
        for reaction in known.reactions:
            if _touches(reaction, under, known.metal) and matches(reaction.glass, coat.glass):
                yield Reason(reaction.key, reaction.outcome, Subject(coat.step.number, glass=coat.glass.key))


def _touches(reaction: Reaction, under: Coat | LeafOn | None, metal: Metal) -> bool:
    """Whether a reaction is about what lies right beneath a coat."""
    if under is None:
        return reaction.holds(("metal", metal.family))
    if isinstance(under, LeafOn):
        return reaction.holds(("leaf", next(iter(under.leaf.metal.split()), "")))
    kind, _, words = reaction.ground.partition(" ")
    return kind == "glass" and matches(words, under.glass)
