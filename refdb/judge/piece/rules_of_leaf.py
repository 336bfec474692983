"""What is found of leaf, of line work on it, and of leaded glass: what no stress can tell."""

from __future__ import annotations

from collections.abc import Iterator

from refdb.judge.limits import SOLIDUS_MARGIN_K
from refdb.judge.own.kiln import Heat
from refdb.judge.piece.known import Known
from refdb.judge.piece.reasons import heat_of
from refdb.judge.piece.states import Coat, LeafOn, Walk
from refdb.judge.reason import CARE, NOT, SUITS, Reason, Subject
from refdb.judge.rules import limit_of
from refdb.records import Contact, Metal


def leaves(trail: Walk, known: Known) -> Iterator[Reason]:
    """Findings of every leaf: what it is, what lies beneath and above it, and the fires after it."""
    for on in trail.leaves:
        step, about = on.step, Subject(on.step.number, leaf=on.leaf.key)
        if on.leaf.suited != SUITS:
            case = "" if on.leaf.handling else "no-handling"
            yield Reason("leaf-in-fire", on.leaf.suited, about, case=case, source=on.leaf.source)
        below = [i for i in trail.beneath(on) if isinstance(i, Coat)]
        if not below:
            yield _on_metal(trail, known, on)
        elif not trail.is_fused(below[0], step):
            yield Reason("leaf-on-powder", CARE, about)
        yield from _covered(trail, on)
        yield from _heat(trail, known, on)


def _on_metal(trail: Walk, known: Known, on: LeafOn) -> Reason:
    contact = lowest_contact(known.contacts, on.leaf.metal, known.metal)
    about = Subject(on.step.number, leaf=on.leaf.key, metal=known.metal.key)
    if contact is None:
        return Reason("leaf-on-metal", CARE, about, case="unknown")
    fires = [f for f in trail.fires_after(on.step) if f.hottest_c is not None]
    # Of a kiln's band the hot end counts, for what has melted once stays so.
    fire = max(fires, key=lambda f: f.hottest_c or 0.0, default=None)
    values = {
        "melts_c": contact.first_melts_c,
        "safe_c": contact.low - SOLIDUS_MARGIN_K,
        "heat": heat_of(fire) if fire is not None else Heat(0.0),
    }
    if fire is not None and fire.hottest_c is not None and fire.hottest_c >= contact.low:
        return Reason("leaf-on-metal", NOT, about, case="melts", values=values, source=contact.source)
    if contact.low <= limit_of("leaf-on-metal").fine:
        return Reason("leaf-on-metal", NOT, about, case="within-reach", values=values)
    return Reason("leaf-on-metal", CARE, about, values=values, source=contact.source)


def symbols_of(metal: Metal) -> list[str]:
    """The words under which contacts list a base metal: alloy words first, then its main element."""
    words = {
        "sterling-sheet": "sterling",
        "sterling-clay": "sterling",
        "britannia-silver": "sterling",
        "silver-deoxidised": "sterling",
        "silver-clay-960": "sterling",
    }
    found = [words[k] for k in (metal.key, metal.like) if k in words]
    if metal.family in ("brass", "bronze", "gilding metal"):
        found.append(metal.family)
    # A person's own metal may say nothing of what it is made of.
    main = next(iter(metal.alloy.split()), "")
    return [*found, "".join(c for c in main.rstrip(",") if c.isalpha())]


def lowest_contact(contacts: list[Contact], leaf_metal: str, metal: Metal) -> Contact | None:
    """The contact of a leaf's metals with a base metal that melts first, or None where none is known."""
    leaves = leaf_metal.split()
    if set(leaves) == {"Cu", "Zn"}:
        # Zinc in brass is no free zinc, which melts 500 K lower.
        leaves = ["brass"]
    for word in symbols_of(metal):
        pairs = [{leaf, word} for leaf in leaves]
        held = [c for c in contacts if c.preferred and {c.metal_a, c.metal_b} in pairs]
        if held:
            return min(held, key=lambda c: c.first_melts_c)
    return None


def _covered(trail: Walk, on: LeafOn) -> Iterator[Reason]:
    first = next((i for i in trail.above(on) if isinstance(i, Coat)), None)
    if first is None:
        yield Reason("leaf-left-bare", CARE, Subject(on.step.number, leaf=on.leaf.key))
        return
    about = Subject(first.step.number, glass=first.glass.key, leaf=on.leaf.key)
    if first.line:
        yield Reason("line-on-leaf", NOT, about)
        return
    if first.glass.optical != "transparent":
        yield Reason("leaf-hidden", CARE, about)
    if first.step.coverage < limit_of("leaf-part-covered").fine:
        yield Reason("leaf-part-covered", CARE, about, values={"coverage": first.step.coverage})
    band = first.thickness_m
    # Siftings are known no closer than their range, which says nothing of this coat.
    if band.high > limit_of("leaf-uneven-cover").fine * band.low and not first.step.siftings:
        values = {"low_mm": band.low * 1e3, "high_mm": band.high * 1e3}
        yield Reason("leaf-uneven-cover", CARE, about, values=values)
    if first.step.washed is False:
        yield Reason("leaf-unwashed-cover", CARE, about)


def _heat(trail: Walk, known: Known, on: LeafOn) -> Iterator[Reason]:
    solidus = on.leaf.band("solidus")
    after = trail.fires_after(on.step)
    for fire in after if solidus is not None else ():
        if solidus and fire.hottest_c is not None and fire.hottest_c - solidus.low > limit_of("leaf-melts").fine:
            about = Subject(fire.step.number, fire.number, leaf=on.leaf.key)
            yield Reason("leaf-melts", NOT, about, values={"melts_c": solidus.value, "heat": heat_of(fire)})
    silver_on_copper = on.leaf.metal.split()[:1] == ["Ag"] and known.metal.family == "copper"
    if silver_on_copper and len(after) > limit_of("leaf-many-fires").fine:
        about = Subject(on.step.number, leaf=on.leaf.key)
        yield Reason("leaf-many-fires", CARE, about, values={"fires": len(after)})


def unpricked(trail: Walk, known: Known) -> Iterator[Reason]:
    """Foil that the file says is not pricked; leaf and thin gold let gas through by themselves."""
    for on in trail.leaves:
        thick = on.leaf.band("leaf_thickness")
        if on.step.pierced is False and thick is not None and thick.high * 1e6 > limit_of("foil-unpricked").fine:
            yield Reason("foil-unpricked", CARE, Subject(on.step.number, leaf=on.leaf.key))


def lines(trail: Walk, known: Known) -> Iterator[Reason]:
    """Drawing that an opaque or an opal covers."""
    for coat in (c for c in trail.coats if c.line):
        for over in (i for i in trail.above(coat) if isinstance(i, Coat) and not i.line):
            if over.glass.optical != "transparent":
                yield Reason("line-covered", CARE, Subject(over.step.number, glass=over.glass.key))


def lead_order(trail: Walk, known: Known) -> Iterator[Reason]:
    """Lead-free glass over glass that holds lead, or may."""
    for coat in trail.coats:
        under = [i for i in trail.beneath(coat) if isinstance(i, Coat) and i.glass.lead != "free"]
        if coat.glass.lead == "free" and under:
            sure = any(i.glass.lead == "contains" for i in under)
            about = Subject(coat.step.number, glass=coat.glass.key, under=under[0].glass.key)
            yield Reason("lead-order", NOT if sure else CARE, about, case="" if sure else "unknown")
