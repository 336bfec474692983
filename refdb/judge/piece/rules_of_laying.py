"""Rules of laying and firing that a piece file can tell of: dry, washed, even, neither too thin nor too thick."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from refdb.judge import limits
from refdb.judge.piece.observed_firing import Firings, Maturing, maturing
from refdb.judge.piece.states import Coat, Fire, LeafOn, Walk
from refdb.judge.reasons import rule_reason
from refdb.judge.selectors import matches
from refdb.judge.verdict import CARE, Measure, Reason
from refdb.quantities.typed import Band
from refdb.records import Metal
from refdb.science.glass.surface_tension import contrast_warning

if TYPE_CHECKING:
    from refdb.judge.piece.rules_of_order import Known


def _care(rule: str, found: str | Measure, limit: str, why: str, remedy: str, step: str, source: str) -> Reason:
    return Reason(rule, CARE, found, limit, why, remedy, source, step=step)


def _solid(trail: Walk, face: str) -> list[Coat]:
    return [i for i in trail.faces[face] if isinstance(i, Coat) and not i.line]


def damp(trail: Walk, known: Known) -> Iterator[Reason]:
    """What the file says goes into the kiln damp."""
    for step in (s for s in trail.piece.steps if s.dried is False):
        if trail.fires_after(step):
            yield _care(
                "Dry before the fire",
                "The file says that it goes into the kiln damp.",
                "no vapour at the kiln mouth",
                "Water boils in the kiln: it throws grains off, leaves bubbles and blisters, and its steam "
                "oxidises the metal beneath.",
                "Dry it until no vapour rises at the kiln mouth.",
                step.title,
                "fisher-1904",
            )


def unpricked(trail: Walk, known: Known) -> Iterator[Reason]:
    """Foil that the file says is not pricked; leaf and thin gold let gas through by themselves."""
    for on in trail.leaves:
        thick = on.leaf.band("leaf_thickness")
        if on.step.pierced is False and thick is not None and thick.high > limits.PRICKED_FROM_M:
            yield _care(
                "Foil pricked",
                f"{on.leaf.label} is laid whole.",
                "foil pricked all over",
                "Gas under the foil has no way out and lifts it in blisters.",
                "Prick it all over, 2 to 5 mm apart.",
                on.step.title,
                "chapin-1911",
            )


def unwashed(trail: Walk, known: Known) -> Iterator[Reason]:
    """Transparent glass of a kind that is washed, and is not; right over leaf another rule says so."""
    for coat in trail.coats:
        beneath = trail.beneath(coat)
        over_leaf = beneath and isinstance(beneath[0], LeafOn)
        glass = coat.glass
        if coat.step.washed is False and glass.optical == "transparent" and glass.wash == "yes" and not over_leaf:
            yield _care(
                "Washed glass",
                f"{glass.label} is not washed.",
                "washed until the water is clear",
                "Fines fill a transparent with bubbles too small to see singly: it turns milky.",
                "Wash the powder until the water runs clear.",
                coat.step.title,
                "common-practice-practitioners",
            )


def uneven(trail: Walk, known: Known) -> Iterator[Reason]:
    """Coats whose thickness the file gives as a wide range; siftings are known no closer, so they do not count."""
    for coat in trail.coats:
        beneath = trail.beneath(coat)
        over_leaf = beneath and isinstance(beneath[0], LeafOn)
        band = coat.thickness_m
        if not (coat.line or over_leaf or coat.step.siftings) and band.high > limits.EVEN_COAT * band.low:
            yield _care(
                "Even coat",
                f"{coat.glass.label} varies over {_mm(band)} mm.",
                f"the thickest place at most {limits.EVEN_COAT:g} times the thinnest",
                "Cracks run from thin to thick, thin edges burn, and heaped ones chip.",
                "Sift or lay it evenly, just up to the edge.",
                coat.step.title,
                "common-practice-guild",
            )


def thin(trail: Walk, known: Known) -> Iterator[Reason]:
    """Coats too thin for what lies beneath: metal that scales, or another colour; and opals too thin to cloud."""
    for face in ("front", "back"):
        coats = _solid(trail, face)
        for coat in coats:
            band, step = coat.thickness_m, coat.step.title
            first = trail.faces[face][0] is coat
            if first and known.metal.bare_surface != "none" and band.high < limits.SIFTED_COAT_M[0]:
                yield _care(
                    "First coat thin",
                    f"{coat.glass.label} lies {_mm(band)} mm thin on the metal.",
                    f"at least {_mm(limits.SIFTED_COAT_M[0])} mm, one sifted coat",
                    "A thin coat takes up more oxide than it can clear: black dots in an opaque, green under a clear.",
                    "A fuller first coat.",
                    step,
                    "common-practice",
                )
            under = next((i for i in trail.beneath(coat) if not (isinstance(i, Coat) and i.line)), None)
            hides = isinstance(under, Coat) and coat.glass.optical == "opaque" and coat.glass.key != under.glass.key
            if isinstance(under, Coat) and hides and band.high < limits.COVERS_M:
                yield _care(
                    "Thin over another colour",
                    f"{coat.glass.label} lies {_mm(band)} mm thin over {under.glass.label.lower()}.",
                    f"at least {_mm(limits.COVERS_M)} mm, of an even sieve",
                    "Where grains leave gaps, what lies beneath comes up in spots.",
                    "A fuller coat, or two.",
                    step,
                    "common-practice-guild",
                )
        opals = [c for c in coats if c.glass.optical == "opalescent"]
        if opals and sum(c.thickness_m.high for c in opals) < limits.SIFTED_COAT_M[0]:
            yield _care(
                "Opal thin",
                f"{opals[0].glass.label} is laid {_mm(opals[0].thickness_m)} mm thin.",
                f"at least {_mm(limits.SIFTED_COAT_M[0])} mm, better two coats",
                "An opal this thin stays clear or only faintly milky.",
                "Two coats of opal.",
                opals[0].step.title,
                "common-practice-guild",
            )


def thick(trail: Walk, known: Known) -> Iterator[Reason]:
    """More than two full coats laid on a face for one fire."""
    for fire in trail.fires:
        for face in ("front", "back"):
            new = [c for c in _solid(trail, face) if c.number in fire.new]
            total = sum(c.thickness_m.low * c.step.coverage for c in new)
            if new and total > 2 * limits.SIFTED_COAT_M[1]:
                yield _care(
                    "Thick at once",
                    f"At least {_mm(total)} mm of glass goes on the {face} at once, for firing {fire.number}.",
                    f"up to {_mm(2 * limits.SIFTED_COAT_M[1])} mm for one fire, two full coats",
                    "A thick coat cracks as it dries, draws into beads along the cracks, and keeps its bubbles.",
                    "Two thinner coats with a fire between.",
                    new[-1].step.title,
                    "common-practice-suppliers",
                )


def part_cover(trail: Walk, known: Known) -> Iterator[Reason]:
    """A face of metal that scales, of which the first fire with glass leaves a part bare."""
    if known.metal.bare_surface == "none":
        return
    for face in ("front", "back"):
        coats = _solid(trail, face)
        fire = trail.fire_of(coats[0]) if coats else None
        if fire is None or face in fire.masked:
            continue
        first = [c for c in coats if c.number in fire.new and trail.faces[face].index(c) <= len(fire.new)]
        cover = sum(c.step.coverage for c in first)
        if cover < limits.FULL_COVERAGE:
            yield _care(
                "Bare metal beside glass",
                f"The first coat covers {cover:.0%} of the {face}.",
                "the whole face, or the bare part masked",
                "The bare part scales in the fire, specks the glass, and shows as dots under the next coat.",
                "Cover the whole face, or mask what stays bare.",
                coats[0].step.title,
                "common-practice-suppliers",
            )


def soft_back(trail: Walk, known: Known) -> Iterator[Reason]:
    """A back whose outermost glass is softer than that of the front."""
    front, back = _solid(trail, "front"), _solid(trail, "back")
    if not front or not back:
        return
    middles = [_middle(coats[-1]) for coats in (front, back)]
    if middles[0] is not None and middles[1] is not None and middles[1] < middles[0] - limits.SOFTER_K:
        yield _care(
            "Back softer than the front",
            f"{back[-1].glass.label} behind {front[-1].glass.label.lower()}.",
            "a back at least as hard as the front",
            "The back melts before the front is done, and sticks to what it stands on.",
            "A harder glass on the back.",
            back[-1].step.title,
            "common-practice-guild",
        )


def _middle(coat: Coat) -> float | None:
    low, high = coat.glass.band("fuse_low"), coat.glass.band("fuse_high")
    return None if low is None or high is None else (low.value + high.value) / 2


def colour_fires(trail: Walk, known: Known) -> Iterator[Reason]:
    """Colours that stand few fires, wherever they lie; on the metal itself the rule of fit says so already."""
    for rule in (r for r in known.fit_rules if r.key.endswith("-fires")):
        for coat in trail.coats:
            fires = [f for f in trail.fires_after(coat.step) if coat.number in f.coats]
            if (
                len(fires) > limits.COLOUR_FIRES
                and trail.faces[coat.face][0] is not coat
                and matches(rule.glass, coat.glass)
                and matches(rule.metal, known.metal)
            ):
                told = rule_reason(rule)
                yield Reason(
                    told.rule,
                    told.outcome,
                    f"{told.found} Here it gets {len(fires)}.",
                    told.limit,
                    told.why,
                    told.remedy,
                    told.source,
                    step=coat.step.title,
                )


def tension_contrast(trail: Walk, known: Known) -> Iterator[Reason]:
    """A coat of clearly higher surface tension than the one it is fired on; nothing is told where one is unknown."""
    limit = limits.SURFACE_TENSION
    for over in (c for c in trail.coats if not c.line):
        under = next((i for i in trail.beneath(over) if not (isinstance(i, Coat) and i.line)), None)
        # Leaf keeps the two apart, and one glass has one tension.
        if not isinstance(under, Coat) or under.glass.key == over.glass.key or trail.fire_of(over) is None:
            continue
        rows = [c.glass.value("surface_tension") for c in (over, under)]
        if rows[0] is None or rows[1] is None:
            continue
        above, below = rows[0].band, rows[1].band
        value, low, high = (above.value - below.value, above.low - below.high, above.high - below.low)
        # Told of the typical figures, and only where the bands leave no doubt which is higher.
        if contrast_warning(below.value, above.value) and low > 0:
            yield _care(
                f"{limit.rule}: {over.glass.label.lower()} over {under.glass.label.lower()}",
                Measure(value * 1e3, low * 1e3, high * 1e3, limit.unit),
                limit.words,
                limit.why,
                limit.remedy,
                over.step.title,
                rows[0].source,
            )


def fire_times(trail: Walk, metal: Metal, firings: Firings) -> Iterator[Reason]:
    """Firings whose minutes in the file are surely too short or far too long for what is new in them."""
    firings = firings.with_own(trail.piece.seen)
    metal_m = trail.piece.base.thickness_m.value
    for fire in trail.fires:
        minutes, heat = fire.step.minutes, fire.heat
        if minutes is None or heat is None:
            continue
        glass_m = sum(trail.coats[n].thickness_m.value for n in fire.coats)
        slowest: tuple[Maturing, Coat] | None = None
        for coat in (trail.coats[n] for n in fire.new if not trail.coats[n].line):
            told = maturing(coat.glass, heat, coat.thickness_m.value, metal, metal_m, glass_m, firings)
            if told.gloss is None:
                continue
            if minutes < told.gloss.low and _must_shine(trail, coat, fire):
                yield _care(
                    "Minutes in the fire",
                    Measure(minutes, minutes, minutes, "min"),
                    f"{coat.glass.label} shines after {told.gloss.low:.1f} min at the earliest{_basis(told)}",
                    "Taken out before it shines it is bumpy and full of bubbles, does not "
                    "clear its oxide, and holds badly to the metal.",
                    "Leave it in until it shines.",
                    fire.step.title,
                    "computed-here",
                )
            if slowest is None or told.gloss.high > (slowest[0].gloss or told.gloss).high:
                slowest = (told, coat)
        if slowest is None or slowest[0].gloss is None or minutes > limits.LONG_FIRE_MIN:
            continue
        if minutes > limits.TOO_LONG * slowest[0].gloss.high:
            told, coat = slowest
            assert told.gloss is not None
            yield _care(
                "Long fire",
                Measure(minutes, minutes, minutes, "min"),
                f"{coat.glass.label} shines within {told.gloss.high:.1f} min{_basis(told)}; up to twice that",
                "Long past its gloss a coat crawls, pits and takes up oxide, and what lies beneath comes up.",
                "Take it out when it shines.",
                fire.step.title,
                "computed-here",
            )


def _must_shine(trail: Walk, coat: Coat, fire: Fire) -> bool:
    """Whether a coat has to shine in this fire: the one that bonds to the metal, and one that gets no other."""
    return trail.faces[coat.face][0] is coat or fire is trail.fires[-1]


def _basis(told: Maturing) -> str:
    return f", by {told.pinned.words} [{told.pinned.record.source}]" if told.pinned is not None else ", by its class"


def _mm(size_m: Band | float) -> str:
    """A thickness in mm, low to high where they differ in print."""
    band = size_m if isinstance(size_m, Band) else Band.exact(size_m)
    low, high = (f"{x * 1e3:.2f}" for x in (band.low, band.high))
    return low if low == high else f"{low} to {high}"


RULES = (damp, unpricked, unwashed, uneven, thin, thick, part_cover, soft_back, colour_fires, tension_contrast)
