"""Rules of order, surface and use of a layered piece: what no stress can tell, each with the step it is about."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from refdb.judge import limits
from refdb.judge.piece import rules_of_laying as layered_practice
from refdb.judge.piece.states import Coat, LeafOn, Walk
from refdb.judge.piece.steps import COLD_JOINS, Step
from refdb.judge.reasons import rule_reason
from refdb.judge.selectors import matches
from refdb.judge.verdict import CARE, NOT, SUITS, Reason
from refdb.records import Contact, FitRule, Metal, Reaction, Solder

_TRADE = "common-practice"


@dataclass(frozen=True)
class Known:
    """What the rules look up: the metal, rules of surface, contacts, solders and colour reactions of the store."""

    metal: Metal
    fit_rules: list[FitRule]
    contacts: list[Contact]
    solders: dict[str, Solder]
    reactions: list[Reaction]


def findings(trail: Walk, known: Known) -> list[Reason]:
    """Every finding of order, surface and use, in the order of the steps."""
    rules: tuple[Callable[[Walk, Known], Iterator[Reason]], ...] = (
        _fired,
        _on_metal,
        _leaf,
        _lines,
        _lead_order,
        _clean_and_mask,
        _joins,
        _stoned,
        _many_fires,
        _use,
        _colours,
        *layered_practice.RULES,
    )
    return [reason for rule in rules for reason in rule(trail, known)]


def _reason(
    rule: str, outcome: str, found: str, limit: str, why: str, remedy: str, step: Step | None, source: str = _TRADE
) -> Reason:
    return Reason(rule, outcome, found, limit, why, remedy, source, step=step.title if step else "")


def _fired(trail: Walk, known: Known) -> Iterator[Reason]:
    if not trail.fires:
        yield _reason(
            "Never fired",
            NOT,
            "No step fires the piece.",
            "at least one fire",
            "Powder that is not fired is not glass.",
            "Add a fire step.",
            None,
        )
    for item in trail.unfired:
        yield _reason(
            "Never fired",
            NOT,
            f"Nothing fires {_name(item)} after it is laid.",
            "a fire after every layer",
            "What is laid has to be fused.",
            "Add a fire after it.",
            item.step,
        )


def _name(item: Coat | LeafOn) -> str:
    return item.glass.label.lower() if isinstance(item, Coat) else item.leaf.label.lower()


def _on_metal(trail: Walk, known: Known) -> Iterator[Reason]:
    """Rules of surface hold for the coat that touches the metal only."""
    for face in trail.faces.values():
        if face and isinstance(face[0], Coat):
            coat = face[0]
            for rule in known.fit_rules:
                if matches(rule.glass, coat.glass) and matches(rule.metal, known.metal):
                    yield replace(rule_reason(rule), step=coat.step.title)


def _leaf(trail: Walk, known: Known) -> Iterator[Reason]:
    for on in trail.leaves:
        leaf, step = on.leaf, on.step
        if leaf.suited != SUITS:
            yield _reason(
                "Leaf in the fire",
                leaf.suited,
                f"{leaf.label}.",
                "a leaf that stands the fire",
                leaf.why,
                leaf.handling or "Take fine gold or fine silver.",
                step,
                leaf.source,
            )
        below = [i for i in trail.beneath(on) if isinstance(i, Coat)]
        if not below:
            yield from _leaf_on_metal(trail, known, on)
        elif not trail.is_fused(below[0], step):
            yield _reason(
                "Leaf on fused glass",
                CARE,
                "The glass beneath is still powder.",
                "fused glass beneath",
                "Powder sinks and gasses under the leaf and tears it.",
                "Fire the coat beneath first.",
                step,
            )
        yield from _leaf_covered(trail, on)
        yield from _leaf_heat(trail, known, on)


def _leaf_on_metal(trail: Walk, known: Known, on: LeafOn) -> Iterator[Reason]:
    contact = lowest_contact(known.contacts, on.leaf.metal, known.metal)
    fires = [f for f in trail.fires_after(on.step) if f.hottest_c is not None]
    # Of a kiln's band the hot end counts, for what has melted once stays so.
    fire = max(fires, key=lambda f: f.hottest_c or 0.0, default=None)
    hottest, told = (fire.hottest_c, fire.in_kiln) if fire is not None else (None, "")
    where = f"{on.leaf.label} on bare {known.metal.label.lower()}"
    if contact is None:
        yield _reason(
            "Leaf on bare metal",
            CARE,
            f"{where}: where the two first melt is not known.",
            "fused glass between leaf and metal",
            "Two metals in contact can melt far below either.",
            "Fuse a coat of glass first.",
            on.step,
        )
    elif hottest is not None and hottest >= contact.low:
        yield _reason(
            "Leaf on bare metal",
            NOT,
            f"{where} first melts at {contact.first_melts_c:.0f} °C{told}.",
            f"no fire above {contact.low - limits.SOLIDUS_MARGIN_K:.0f} °C while they touch",
            "Where two metals touch they form an alloy that melts below both, and the leaf sinks in.",
            "Fuse a coat of glass first; the leaf goes on the glass.",
            on.step,
            contact.source,
        )
    elif contact.low <= limits.USUAL_KILN_HOT_C:
        yield _reason(
            "Leaf on bare metal",
            NOT,
            f"{where} first melts at {contact.first_melts_c:.0f} °C{told}.",
            "fused glass between leaf and metal, whatever the kiln is set to",
            "No fire here is that hot, but kilns for enamel are, and a little more heat in one corner melts "
            "the leaf into the metal.",
            "Fuse a coat of glass first; the leaf goes on the glass.",
            on.step,
        )
    else:
        yield _reason(
            "Leaf on bare metal",
            CARE,
            f"{where} first melts at {contact.first_melts_c:.0f} °C{told}.",
            "fused glass between leaf and metal",
            "The fire stays below that, but nothing holds the leaf flat and glass takes badly over it.",
            "Fuse a coat of glass first.",
            on.step,
            contact.source,
        )


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
    leaf_words, base_words = leaf_metal.split(), symbols_of(metal)
    for word in base_words:
        held = [
            c for c in contacts if c.preferred and any({c.metal_a, c.metal_b} == {leaf, word} for leaf in leaf_words)
        ]
        if held:
            return min(held, key=lambda c: c.first_melts_c)
    return None


def _leaf_covered(trail: Walk, on: LeafOn) -> Iterator[Reason]:
    over = trail.above(on)
    coats = [i for i in over if isinstance(i, Coat)]
    if not coats:
        yield _reason(
            "Leaf left bare",
            CARE,
            f"Nothing covers {on.leaf.label.lower()}.",
            "a clear over the whole leaf",
            "Bare leaf rubs off, darkens, and takes no drawing.",
            "Cover it with an even coat of clear.",
            on.step,
        )
        return
    first = coats[0]
    if first.line:
        yield _reason(
            "Line work on bare leaf",
            NOT,
            "The drawing goes straight on the leaf.",
            "a fused clear between leaf and drawing",
            "Drawing colour holds to glass, not to metal: it scrapes off bare leaf.",
            "Fuse a clear over the leaf, then draw.",
            first.step,
        )
        return
    if first.glass.optical != "transparent":
        yield _reason(
            "Leaf hidden",
            CARE,
            f"{first.glass.label} hides the leaf.",
            "a transparent over the leaf",
            "The leaf is there to shine through.",
            "Cover it with a clear or a transparent colour.",
            first.step,
        )
    if first.step.coverage < limits.FULL_COVERAGE:
        yield _reason(
            "Clear over the whole face",
            CARE,
            f"The first coat over the leaf covers {first.step.coverage:.0%}.",
            "one even coat over the whole face",
            "At the edge of a part coat the leaf lifts, and the glass is stretched.",
            "Carry the clear over the whole face.",
            first.step,
        )
    band = first.thickness_m
    # Siftings are known no closer than their range, which says nothing of this coat.
    if band.high > limits.EVEN_COAT * band.low and not first.step.siftings:
        yield _reason(
            "An even coat over leaf",
            CARE,
            f"The coat varies from {band.low * 1e3:.2f} to {band.high * 1e3:.2f} mm.",
            "one even coat over the whole face",
            "Thin spots let the leaf gas and tear through.",
            "Sift it evenly.",
            first.step,
        )
    if first.step.washed is False:
        yield _reason(
            "Clarity over leaf",
            CARE,
            "The clear over the leaf is not washed.",
            "washed until the water is clear",
            "Fines fill the coat with bubbles too small to see singly: a grey veil over the shine.",
            "Wash the powder until the water runs clear.",
            first.step,
        )


def _leaf_heat(trail: Walk, known: Known, on: LeafOn) -> Iterator[Reason]:
    solidus = on.leaf.band("solidus")
    after = trail.fires_after(on.step)
    for fire in after:
        heat = fire.hottest_c
        if solidus is not None and heat is not None and heat > solidus.low - limits.SOLIDUS_MARGIN_K:
            yield _reason(
                "Leaf melts",
                NOT,
                f"{on.leaf.label} begins to melt at {solidus.value:.0f} °C{fire.in_kiln}.",
                f"at least {limits.SOLIDUS_MARGIN_K:.0f} K below that",
                "Molten leaf draws into beads and stains the glass.",
                "A cooler fire, or another leaf.",
                fire.step,
            )
    if on.leaf.metal.split()[:1] == ["Ag"] and known.metal.family == "copper" and len(after) > limits.SILVER_LEAF_FIRES:
        yield _reason(
            "Silver leaf on copper",
            CARE,
            f"{len(after)} fires after the leaf is laid.",
            f"at most {limits.SILVER_LEAF_FIRES}",
            "Copper grows a little in every fire and stretches thin silver until it breaks up.",
            "Thicker foil, or fewer fires.",
            on.step,
            "common-practice-guild",
        )


def _lines(trail: Walk, known: Known) -> Iterator[Reason]:
    for coat in (c for c in trail.coats if c.line):
        for over in (i for i in trail.above(coat) if isinstance(i, Coat) and not i.line):
            if over.glass.optical != "transparent":
                yield _reason(
                    "Line work covered",
                    CARE,
                    f"{over.glass.label} hides the drawing.",
                    "line work last, or under a softer clear",
                    "An opaque covers it, an opal clouds it.",
                    "Draw last, or cover with a clear.",
                    over.step,
                )


def _lead_order(trail: Walk, known: Known) -> Iterator[Reason]:
    for coat in trail.coats:
        under = [i for i in trail.beneath(coat) if isinstance(i, Coat) and i.glass.lead != "free"]
        if coat.glass.lead == "free" and under:
            sure = any(i.glass.lead == "contains" for i in under)
            word = "holds lead" if sure else "may hold lead"
            yield _reason(
                "Leaded over lead-free only",
                NOT if sure else CARE,
                f"{coat.glass.label} lies over {under[0].glass.label.lower()}, which {word}.",
                "leaded glass goes over lead-free, never under",
                "The leaded glass is softer and denser: it works up through the coat above and crazes it.",
                "Turn the two around, or keep to one family.",
                coat.step,
            )


def _clean_and_mask(trail: Walk, known: Known) -> Iterator[Reason]:
    scales = known.metal.bare_surface != "none"
    cleaned = {
        face: [s.number for s in trail.piece.steps if s.do == "clean" and s.face == face] for face in ("front", "back")
    }
    first_fire = trail.fires[0] if trail.fires else None
    if first_fire is not None and scales:
        for face in first_fire.bare:
            if face not in first_fire.masked:
                yield _reason(
                    "Scale on the bare face",
                    CARE,
                    f"The {face} is bare in the first fire.",
                    "a scale-inhibiting wash on a bare face",
                    "Scale grows on it, flakes on to the glass, and has to come off before that face is coated.",
                    f"Mask the {face} before the first fire.",
                    first_fire.step,
                )
    for face in ("front", "back"):
        if not trail.faces[face]:
            continue
        coat = trail.faces[face][0]
        fires_before = [f for f in trail.fires if f.step.number < coat.step.number]
        last = fires_before[-1].step.number if fires_before else 0
        if any(last < n < coat.step.number for n in cleaned[face]):
            continue
        if fires_before and scales:
            worse = isinstance(coat, LeafOn) or coat.glass.optical == "transparent"
            yield _reason(
                "Scale under the glass",
                NOT if worse else CARE,
                f"The {face} has been in the fire and is not cleaned before {_name(coat)}.",
                "bright metal under glass",
                "Glass does not hold to scale, and a transparent shows it black.",
                "Clean the face back to bright metal first.",
                coat.step,
            )
        else:
            yield _reason(
                "Clean metal",
                CARE,
                f"Nothing says that the {face} is cleaned before its first coat.",
                "an unbroken film of water on the metal",
                "Grease and finger marks keep glass off: it crawls and chips.",
                "Clean until water stays on as one film, and touch only the edges.",
                coat.step,
            )


def _joins(trail: Walk, known: Known) -> Iterator[Reason]:
    for step in (s for s in trail.piece.steps if s.do == "join"):
        after = [f for f in trail.fires_after(step) if f.step.kiln_c is not None]
        glass_before = any(f.step.number < step.number and f.coats for f in trail.fires)
        if step.solder in COLD_JOINS:
            if step.solder == "adhesive" and after:
                yield _reason(
                    "Join in the fire",
                    NOT,
                    "An adhesive join goes into the kiln.",
                    "adhesive after the last fire",
                    "It burns and smokes.",
                    "Glue after the last fire.",
                    step,
                )
            elif step.solder == "setting" and after:
                yield _reason(
                    "Set before the fire",
                    CARE,
                    "What is set goes into the kiln.",
                    "stones set after the last fire",
                    "Few stones stand the kiln: they crack, cloud or lose their colour.",
                    "Set it after the last fire.",
                    step,
                )
            elif step.solder != "none":
                yield _reason(
                    "The join holds",
                    SUITS,
                    f"Joined by {step.solder}, {len(after)} fires after it.",
                    "a join that does not melt",
                    "Nothing in it melts in the kiln.",
                    "",
                    step,
                )
            continue
        solder = known.solders[step.solder]
        soft = solder.liquidus_c is not None and solder.liquidus_c < limits.SOFT_SOLDER_C
        if glass_before and not soft:
            yield _reason(
                "Join after glass",
                NOT,
                f"{solder.label} flows at about {_melts(solder)}, with glass on the piece.",
                "hard joins before any glass",
                "The torch cracks the glass, and it softens before the solder flows.",
                "Join before the glass, or set, rivet or soft-solder after it.",
                step,
                solder.source,
            )
        begins = solder.solidus_c if solder.solidus_c is not None else solder.liquidus_c
        hottest = max((f.hottest_c or 0.0 for f in after), default=None)
        if hottest is None and (soft or not glass_before):
            yield _reason(
                "The join holds",
                SUITS,
                f"No fire follows {solder.label.lower()}.",
                "a join that melts above every fire",
                "It is not heated again.",
                "",
                step,
                solder.source,
            )
        elif hottest is not None and begins is not None and hottest <= begins - limits.SOLDER_MARGIN_K:
            yield _reason(
                "The join holds",
                SUITS,
                f"{solder.label} begins to melt at {begins:.0f} °C; the hottest fire is {hottest:.0f} °C"
                f"{' in this kiln' if after[0].in_kiln else ''}.",
                f"a solidus {limits.SOLDER_MARGIN_K:.0f} K above the kiln",
                "It stays well below its melting.",
                "",
                step,
                solder.source,
            )
        for fire in after:
            heat = fire.hottest_c
            assert heat is not None
            if begins is None:
                yield _reason(
                    "Join in the fire",
                    CARE,
                    f"Where {solder.label.lower()} melts is not known.",
                    "a join that melts above every fire",
                    "A join that melts lets go.",
                    "Ask the maker for its solidus.",
                    fire.step,
                    solder.source,
                )
            elif solder.liquidus_c is not None and heat >= solder.liquidus_c:
                yield _reason(
                    "Join in the fire",
                    NOT,
                    f"{solder.label} is liquid from {solder.liquidus_c:.0f} °C{fire.in_kiln}.",
                    f"a solidus {limits.SOLDER_MARGIN_K:.0f} K above the kiln",
                    "The join lets go in the kiln.",
                    "A cooler fire, or a join that melts higher.",
                    fire.step,
                    solder.source,
                )
            elif heat > begins - limits.SOLDER_MARGIN_K:
                yield _reason(
                    "Join in the fire",
                    CARE,
                    f"{solder.label} begins to melt at {begins:.0f} °C{fire.in_kiln}.",
                    f"a solidus {limits.SOLDER_MARGIN_K:.0f} K above the kiln",
                    "It holds only where the join is captive, lies flat and carries nothing.",
                    "A cooler fire, fusion, or a join that melts higher.",
                    fire.step,
                    solder.source,
                )


def _melts(solder: Solder) -> str:
    heat = solder.liquidus_c if solder.liquidus_c is not None else solder.solidus_c
    return f"{heat:.0f} °C" if heat is not None else "an unknown heat"


def _stoned(trail: Walk, known: Known) -> Iterator[Reason]:
    for step in (s for s in trail.piece.steps if s.do == "stone"):
        if trail.fires_after(step):
            yield _reason(
                "Stoned and fired again",
                SUITS,
                "A fire follows the stoning.",
                "glass-brush, then a short hot fire",
                "The fire closes the scratches and brings the shine back.",
                "",
                step,
            )
        else:
            yield _reason(
                "Stoned and left",
                CARE,
                "No fire follows the stoning.",
                "glass-brush, then a short hot fire",
                "The face stays matt, and open scratches hold dirt and start cracks.",
                "Fire once more, short and hot, or polish it through all grits.",
                step,
            )
    for fire in trail.fires:
        since = trail.fires[fire.number - 2].step.number if fire.number > 1 else 0
        leaf = any(since < on.step.number < fire.step.number for on in trail.leaves)
        if not fire.new and fire.coats and not leaf:
            yield _reason(
                "Fired again",
                SUITS,
                f"Firing {fire.number} adds nothing new.",
                "as often as it needs",
                "A re-fire heals a crack or brings back the shine.",
                "",
                fire.step,
            )


def _many_fires(trail: Walk, known: Known) -> Iterator[Reason]:
    count = len(trail.fires)
    if count > limits.MANY_FIRES:
        yield _reason(
            "Number of fires",
            CARE,
            f"{count} fires.",
            f"up to {limits.MANY_FIRES} are usual",
            "Every fire takes a little metal into the glass, deepens colours and tires leaf.",
            "Stop inner coats at orange peel, and lay several colours in one fire.",
            trail.fires[-1].step,
            "handbook-recalled",
        )
    for fire in trail.fires:
        if fire.step.minutes is not None and fire.step.minutes > limits.LONG_FIRE_MIN:
            yield _reason(
                "Long fire",
                CARE,
                f"{fire.step.minutes:g} minutes.",
                f"up to {limits.LONG_FIRE_MIN:g} minutes",
                "Long in a cool kiln the metal warps and scales; short and hot is better.",
                "A hotter, shorter fire.",
                fire.step,
                "common-practice-guild",
            )


def _use(trail: Walk, known: Known) -> Iterator[Reason]:
    use = trail.piece.use
    if use not in ("child", "food"):
        return
    source = "cpsia" if use == "child" else "iso-4531"
    whom = "a child" if use == "child" else "food"
    seen: set[str] = set()
    for coat in trail.coats:
        glass = coat.glass
        if glass.key in seen:
            continue
        seen.add(glass.key)
        for metal in ("lead", "cadmium"):
            content = getattr(glass, metal)
            if content != "free":
                word = "holds" if content == "contains" else "may hold"
                yield _reason(
                    f"{metal.capitalize()} for {whom}",
                    NOT,
                    f"{glass.label} {word} {metal}.",
                    f"no {metal}; what is not known counts as present",
                    f"{metal.capitalize()} is poisonous, and glass gives it up to sweat, acid food and sucking.",
                    "A glass whose maker states that it is free of lead and cadmium.",
                    coat.step,
                    source,
                )
    yield _reason(
        f"Made for {whom}",
        CARE,
        "A recipe alone proves nothing here.",
        "tested by the rules of the place where it is sold",
        "The law asks for a test of the finished thing, and local rules govern.",
        "Have a finished piece tested by a licensed laboratory.",
        None,
        source,
    )


def _colours(trail: Walk, known: Known) -> Iterator[Reason]:
    """Colours that change on this metal, over this leaf, or against this glass."""
    for coat in trail.coats:
        under = next(iter(trail.beneath(coat)), None)
        for reaction in known.reactions:
            if _touches(reaction, under, known.metal) and matches(reaction.glass, coat.glass):
                yield Reason(
                    "Colour on this ground",
                    reaction.outcome,
                    reaction.change,
                    "a colour that stays as meant",
                    reaction.why,
                    reaction.remedy,
                    reaction.source,
                    step=coat.step.title,
                )


def _touches(reaction: Reaction, under: Coat | LeafOn | None, metal: Metal) -> bool:
    """Whether a reaction is about what lies right beneath a coat."""
    if under is None:
        return reaction.holds(("metal", metal.family))
    if isinstance(under, LeafOn):
        return reaction.holds(("leaf", next(iter(under.leaf.metal.split()), "")))
    kind, _, words = reaction.ground.partition(" ")
    return kind == "glass" and matches(words, under.glass)
