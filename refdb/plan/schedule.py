"""The order of work of a piece: the clay, the metal, the powders, each firing, and what to do between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from refdb.frozen import replace
from refdb.judge.clay import as_sintered
from refdb.judge.own.kiln import offset_of
from refdb.judge.piece.observed_firing import OXIDE_CLEARED, Firings
from refdb.judge.piece.rules_of_cooling import coolings, slow_cooling
from refdb.judge.piece.states import Coat, Fire, Item, LeafOn, Walk, walk
from refdb.judge.piece.steps import COLD_JOINS, Piece, Step
from refdb.judge.wording import Context, told
from refdb.plan.allowances import Allowances
from refdb.plan.amounts import amounts_of, is_washed
from refdb.plan.around import cautions_of, load_line, times_of
from refdb.plan.build_rows import build_order
from refdb.plan.clay import against_the_fires, clay_schedules, fresh_size_line, packed_in_carbon
from refdb.plan.lines import OWN, OWN_CITATION, OWN_NAME, Firing, Line, Minutes, Phase, Plan, SlowCooling
from refdb.plan.minutes import COMPUTED, minutes_of_firing
from refdb.plan.packing import Container
from refdb.plan.signs import RED_OXIDE, ground_of, practice_lines, signs_of
from refdb.plan.technique_lines import TECHNIQUES, TO_METAL, technique_lines, what_goes_in
from refdb.plan.words import listed, millimetres
from refdb.quantities.typed import Band
from refdb.records import Metal
from refdb.store.reference import Reference
from refdb.words import lower_first, upper_first

#: Steps that stand with the metal where they come before the first firing.
_WITH_METAL = ("join", "clean", "mask", *TO_METAL)
#: What is laid that is no coat, before the name of its glass.
_KINDS = {"line": "drawing in ", "paint": "painting in ", "decal": "decal in ", "inset": "set in: ", "slip": "slip of "}
_FAMILIES_OF_RULES = {
    "copper, carbon-fired": ("clay-families", "clay-dense-bright", "clay-sinter-check", "clay-no-acid", "clay-burnish"),
    "copper, open-fired": ("clay-families", "clay-sinter-check", "clay-open-pickle", "clay-burnish"),
}


def plan_of(ref: Reference, piece: Piece, container: Container | None = None) -> Plan:
    """Plan a piece.

    Parameters
    ----------
    ref : Reference
        The open store.
    piece : Piece
        As read from its file. It is planned as it stands; whether it is sound is for `judge_piece`. Its settings are
        told as they are set; minutes are those of what `ref` says that the person's kiln then is.
    container : Container, optional
        A firing container into which the unfired pieces are to be packed.

    Returns
    -------
    Plan
        Every line with the key of its source.

    Raises
    ------
    NotFound, BadInput, StoreUnusable
    """
    allowed = Allowances(ref)
    metal = as_sintered(ref.metal(piece.base.metal), piece.base.sintered)
    kept = ref.kiln_offset()
    trail = walk(
        piece,
        {k: ref.glass(k) for k in {s.glass for s in piece.steps if s.glass}},
        {k: ref.leaf(k) for k in {s.leaf for s in piece.steps if s.leaf}},
        offset_of(kept),
    )
    schedules = against_the_fires(clay_schedules(ref, metal), trail)
    firings = tuple(_firings(ref, trail, metal, allowed, Firings(ref, piece.seen)))
    slow_min = max((float(r.values["minutes"]) for r in slow_cooling(trail)), default=None)
    times, kiln_minutes = times_of(piece, firings, schedules, allowed, slow_min)
    if firings:
        times = (*times, load_line(piece, allowed))
    plan = Plan(
        piece,
        metal,
        schedules,
        tuple(_before(ref, trail, metal, allowed)),
        firings,
        _between(trail, metal, allowed),
        _after(ref, trail, allowed),
        times,
        kiln_minutes,
        amounts_of(ref, piece, allowed),
        cautions_of(ref, trail, metal),
        build_order(ref, trail, metal),
        {},
        {},
        packed_in_carbon(piece, metal, schedules, container, allowed) if container is not None else None,
        kept if firings else None,
    )
    return _with_sources(ref, plan)


def _before(ref: Reference, trail: Walk, metal: Metal, allowed: Allowances) -> Iterable[Phase]:
    piece = trail.piece
    if metal.form == "clay":
        lines = [*practice_lines(allowed, ("clay-least-cards", "clay-thickest"))]
        size = fresh_size_line(piece, metal)
        lines += [] if size is None else [size]
        lines += practice_lines(allowed, ("clay-dry-slowly", "clay-dry-time"))
        yield Phase("The clay", tuple(lines))
        keys = _FAMILIES_OF_RULES.get(metal.clay_family, ("clay-burnish",))
        yield Phase("After the clay is fired", practice_lines(allowed, keys))
    metal_lines = []
    if metal.preparation:
        metal_lines.append(Line(metal.preparation, metal.source))
    if piece.shape == "domed" and metal.form != "clay":
        metal_lines += practice_lines(allowed, ("dome-first",))
    metal_lines += practice_lines(allowed, ("water-break", "handle-edges"))
    first = trail.fires[0] if trail.fires else None
    if first is not None and first.bare and metal.bare_surface != "none":
        metal_lines += practice_lines(allowed, ("scale-inhibitor",))
    if first is not None:
        metal_lines += [
            line
            for s in trail.piece.steps
            if s.number < first.step.number and s.do in _WITH_METAL
            for line in _step_lines(ref, s, allowed)
        ]
    if any(s.do == "join" and s.solder not in COLD_JOINS for s in piece.steps):
        metal_lines += practice_lines(allowed, ("solder-not-under",))
    yield Phase("The metal", tuple(metal_lines))
    yield Phase("The powders", tuple(_powder_lines(trail, metal, allowed)))
    yield Phase("Drying", practice_lines(allowed, ("dry-first", "dry-time", "dry-then-fire")))
    yield Phase("The kiln", practice_lines(allowed, ("preheat", "support-edges", "support-wash")))


def _powder_lines(trail: Walk, metal: Metal, allowed: Allowances) -> Iterable[Line]:
    washed: dict[str, Coat] = {}
    plain: dict[str, Coat] = {}
    for coat in trail.coats:
        (washed if is_washed(coat.step, coat.glass) else plain).setdefault(coat.glass.key, coat)
    if washed:
        names = listed([c.glass.small for c in washed.values()])
        row = allowed.row("wash-transparents")
        yield Line(f"Wash {names} in clean water until it runs clear.", row["source"])
        if metal.family == "silver" or any(leaf.leaf.metal.startswith("Ag") for leaf in trail.leaves):
            yield from practice_lines(allowed, ("wash-over-silver",))
    rest = [c for k, c in plain.items() if k not in washed]
    if any(c.glass.optical == "opaque" for c in rest):
        yield from practice_lines(allowed, ("wash-opaques",))
    yield from practice_lines(allowed, ("agent-sifting",))
    if trail.leaves:
        yield from practice_lines(allowed, ("agent-leaf", "leaf-no-fingers"))


# Firings


def _firings(ref: Reference, trail: Walk, metal: Metal, allowed: Allowances, watched: Firings) -> Iterable[Firing]:
    seen: set[int] = set()
    done = 0
    for fire in trail.fires:
        new = [i for face in fire.faces.values() for i in face if i.step.number not in seen]
        new.sort(key=lambda i: i.step.number)
        seen |= {i.step.number for i in new}
        steps = [s for s in trail.piece.steps if done < s.number < fire.step.number]
        fresh = [i for i in new if isinstance(i, Coat)]
        assert fire.step.kiln_c is not None
        assert fire.heat is not None
        stoned = any(s.do == "stone" for s in steps)
        minutes = minutes_of_firing(trail, fire, fresh, metal, allowed, watched)
        if not new and stoned and fire.step.minutes is None:
            row = allowed.row("flash-fire")
            minutes = Minutes(Band(1.0, 0.5, 1.5), "about 1 min", row["source"], False, row["note"])
        right, under, over, notes = signs_of(fire, new, metal)
        slow = _slow(trail, fire)
        yield Firing(
            fire.number,
            fire.step.number,
            _what(ref, fire, new, steps),
            fire.step.kiln_c,
            minutes,
            tuple(_prepare(ref, steps, fire, allowed)),
            practice_lines(allowed, right),
            practice_lines(allowed, under),
            practice_lines(allowed, over),
            (
                *practice_lines(allowed, notes),
                *_cleared(fresh, fire, metal, watched),
                *(() if slow is None else (_slow_line(slow, fire),)),
                *((Line(fire.step.note, OWN, fire.step.number),) if fire.step.note else ()),
            ),
            slow,
        )
        done = fire.step.number


def _slow(trail: Walk, fire: Fire) -> SlowCooling | None:
    if fire.step.cooling_min is None:
        return None
    found = next(iter(coolings(trail, [fire])), None)
    high_c, low_c = (None, None) if found is None else (found.high_c, found.low_c)
    return SlowCooling(fire.step.cooling_min, high_c, low_c)


def _slow_line(slow: SlowCooling, fire: Fire) -> Line:
    return Line(
        f"Then leave it in: let the closed kiln fall{slow.span} over {slow.minutes:g} min, and keep it shut until the "
        "piece is cold.",
        OWN if slow.high_c is None else COMPUTED,
        fire.step.number,
    )


def _cleared(fresh: Sequence[Coat], fire: Fire, metal: Metal, watched: Firings) -> Iterable[Line]:
    """How long copper took to come clean under these glasses, where that was seen: longer than to gloss."""
    for coat in fresh:
        if coat.line or coat.glass.optical != "transparent" or metal.family not in RED_OXIDE:
            continue
        if ground_of(coat, fire.faces[coat.face], metal) != metal.family:
            continue
        for seen in (f for f in watched.of(coat.glass.key) if f.result == OXIDE_CLEARED):
            yield Line(
                f"Under {coat.glass.small} the copper came clean after {seen.minutes:g} min at "
                f"{seen.kiln_c:.0f} °C ({seen.metal}); the glass shines before that, so it says nothing of "
                "gloss.",
                seen.source,
            )


def _prepare(ref: Reference, steps: Sequence[Step], fire: Fire, allowed: Allowances) -> Iterable[Line]:
    """What is done before this firing, step by step; what comes before the first firing stands with the metal."""
    for step in steps:
        if fire.number == 1 and step.do in _WITH_METAL:
            continue
        yield from _step_lines(ref, step, allowed)
        if step.do == "leaf":
            thick = ref.leaf(step.leaf).band("leaf_thickness")
            thin_gold = ref.leaf(step.leaf).metal.startswith("Au") and thick is not None and thick.high <= 5e-6
            yield from practice_lines(allowed, ("leaf-gold-porous" if thin_gold else "leaf-prick",), step.number)
        if step.do == "stone":
            yield from practice_lines(allowed, ("stoning-grit", "flash-fire"), step.number)


def _step_lines(ref: Reference, step: Step, allowed: Allowances) -> Iterable[Line]:
    """A step of the file as a sentence to tick, and what goes with it where it is of a technique of its own."""
    note = f" {upper_first(step.note)}" if step.note else ""
    note += "" if not note or note.endswith((".", "?")) else "."
    if step.do in TECHNIQUES or step.within:
        yield from technique_lines(ref, step, allowed, note)
        return
    yield _step_line(ref, step, allowed, note)


def _step_line(ref: Reference, step: Step, allowed: Allowances, note: str) -> Line:
    face = f"the {step.face}"
    if step.do in ("coat", "line"):
        thick = step.thickness_m
        assert thick is not None
        how = f"{step.siftings} siftings, " if (step.siftings or 0) > 1 else "one sifting, " if step.siftings else ""
        cover = "" if step.coverage >= 1.0 else f" over {step.coverage * 100:.0f} % of it"
        verb = "Draw with" if step.do == "line" else "Lay"
        return Line(
            f"{verb} {ref.glass(step.glass).small} on {face}{cover}: {how}{millimetres(thick, 2)} "
            f"once fired, then dry.{note}",
            OWN,
            step.number,
        )
    if step.do == "leaf":
        cover = "" if step.coverage >= 1.0 else f", {step.coverage * 100:.0f} % of it"
        return Line(f"Lay {ref.leaf(step.leaf).small} on {face}{cover}.{note}", OWN, step.number)
    if step.do == "join":
        if step.solder in COLD_JOINS:
            words = {
                "none": "Join nothing.",
                "rivet": "Rivet the joint.",
                "setting": "Set it.",
                "adhesive": "Glue it.",
                "fusion": "Fuse the joint.",
            }
            return Line(f"{words[step.solder]}{note}", OWN, step.number)
        row = ref.rows("SELECT * FROM solders WHERE key = ?", step.solder)[0]
        begins = row["solidus_c"] if row["solidus_c"] is not None else row["liquidus_c"]
        word = "begins to melt" if row["solidus_c"] is not None else "is liquid"
        melts = f"; it {word} at {begins:.0f} °C" if begins is not None else ""
        return Line(f"Solder with {lower_first(row['label'])}{melts}.{note}", row["source"], step.number)
    if step.do == "mask":
        return Line(
            f"Brush {face} with a scale-inhibiting wash.{note}", allowed.row("scale-inhibitor")["source"], step.number
        )
    if step.do == "clean":
        return Line(
            f"Clean {face} until water stays on as one unbroken film.{note}",
            allowed.row("water-break")["source"],
            step.number,
        )
    return Line(
        f"Stone {face} wet, rinse and brush it clean.{note}", allowed.row("stoning-grit")["source"], step.number
    )


def _what(ref: Reference, fire: Fire, new: Sequence[Item], steps: Sequence[Step]) -> tuple[str, ...]:
    others = tuple(what_goes_in(ref, s) for s in steps if s.do == "lustre" or (s.metal and not s.glass))
    if not new and not others:
        return ("again, nothing new",) if fire.coats else ("the bare metal",)
    return (*(_item_words(i) for i in new), *others)


def _item_words(item: Item) -> str:
    step = item.step
    cover = f", {step.coverage * 100:.0f} %" if step.coverage < 1.0 else ""
    note = f" ({step.note.rstrip('.')})" if step.note else ""
    if isinstance(item, LeafOn):
        return f"{item.leaf.small}, {step.face}{cover}{note}"
    kind = _KINDS.get(step.do, "")
    return f"{kind}{item.glass.small}, {item.face}{cover}, {millimetres(item.thickness_m, 2)}{note}"


def _between(trail: Walk, metal: Metal, allowed: Allowances) -> tuple[Line, ...]:
    slowly = tuple(_slowly(trail))
    given = [str(f.number) for f in trail.fires if f.step.cooling_min is not None]
    # What has to cool in the kiln is not told to cool in open air too.
    air = [] if slowly or (given and len(given) == len(trail.fires)) else ["cool-slowly", "cool-time"]
    if given:
        after = f"firing{'s' if len(given) > 1 else ''} {', '.join(given)}"
        slowly = (Line(f"After {after} not in the open: it cools in the closed kiln, as said there.", OWN), *slowly)
    keys = ["never-quench-glass", *air, "look-colour-cold", "look-edge-lift"]
    if metal.bare_surface != "none":
        keys.append("edges-clean")
    if len(trail.fires) > 2:
        keys.append("inner-orange-peel")
    if trail.leaves:
        keys.append("leaf-cover")
    return (*slowly, *practice_lines(allowed, keys, reasons=True))


def _slowly(trail: Walk) -> Iterator[Line]:
    """How slowly thick glass and wide pieces have to cool, as the verdict says it."""
    for reason in sorted(slow_cooling(trail), key=lambda r: -r.values["minutes"])[:1]:
        said = told(reason, Context({}))
        yield Line(f"{said.remedy} {said.why}", said.source)


def _after(ref: Reference, trail: Walk, allowed: Allowances) -> tuple[Line, ...]:
    last = max((f.step.number for f in trail.fires), default=0)
    steps = [x for s in trail.piece.steps if s.number > last for x in _step_lines(ref, s, allowed)]
    return (*steps, *practice_lines(allowed, ("after-care-wear",)))


def _with_sources(ref: Reference, plan: Plan) -> Plan:
    known = {s.key: s.citation for s in ref.sources()} | {OWN: OWN_CITATION}
    wanted: list[str] = [p.source for s in plan.schedules for p in s.phases]
    for phase in plan.before:
        wanted += [x.source for x in phase.lines]
    for f in plan.firings:
        wanted += [f.minutes.source, *(s.source for s in f.minutes.stages)]
        wanted += [x.source for x in (*f.prepare, *f.right, *f.under, *f.over, *f.notes)]
    wanted += [x.source for x in (*plan.between, *plan.after, *plan.times)]
    wanted += [k for a in plan.amounts.rows for k in a.sources]
    wanted += [c.source for c in plan.cautions]
    wanted += list(plan.packed.sources) if plan.packed else []
    return replace(
        plan,
        sources={k: known[k] for k in dict.fromkeys(wanted) if k in known},
        names=ref.source_names() | {OWN: OWN_NAME},
    )
