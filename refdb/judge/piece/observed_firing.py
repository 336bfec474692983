"""How a glass flows in a firing: by its class alone, or pinned by a firing that was seen.

Only a firing that ended in gloss pins a glass. Sugary and orange peel are states and not moments, and copper comes
clean after the glass shines, so minutes until it did are longer than those to gloss; such firings are not taken for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput, NotFound
from refdb.frozen import dataclass, replace
from refdb.judge.own import kiln
from refdb.judge.piece.in_kiln import Heated
from refdb.judge.rules import limit_of
from refdb.judge.wording import Spoken
from refdb.quantities.band import Band
from refdb.records import Glass, Metal, ObservedFiring

if TYPE_CHECKING:
    from refdb.science.firing.doses import Ranged
    from refdb.science.firing.fluidity import FiringCurve
    from refdb.store.reference import Reference

GLOSS, OXIDE_CLEARED = "gloss", "oxide cleared"
#: Sources of what a person wrote down begin so; their firings were in their own kiln.
_OWN = "own-"
#: Thinnest metal that carries glass where the metal's own least thickness is not known [m].
_LEAST_M = 0.5e-3
_ALIKE_K = 1.0


@dataclass(frozen=True)
class Pinned:
    """The curve of a glass as a firing pins it, and that firing.

    Where the thickness of its metal was not said there are three curves, for the middle and the ends of what is
    usual. `curve` is the middle one, its band wide enough for all of them.
    """

    record: ObservedFiring
    curve: FiringCurve
    curves: tuple[FiringCurve, ...]
    factor: float

    @property
    def own(self) -> bool:
        """Whether the person saw it."""
        return is_own(self.record)

    @property
    def words(self) -> str:
        """The firing in a few words."""
        whose = "the firing you saw" if self.own else "a firing of common practice"
        size = f", {self.record.metal_mm:g} mm" if self.record.metal_mm is not None else ""
        return f"{whose} ({self.record.kiln_c:.0f} °C, {self.record.minutes:g} min, {self.record.metal}{size})"


@dataclass(frozen=True)
class Basis(Spoken):
    """What minutes rest on, to follow them in a sentence: a firing that was seen, or the class of the glass."""

    pinned: Pinned | None

    def told(self, records: Mapping[str, Any]) -> str:
        """The same in words, with its source."""
        if self.pinned is None:
            return ", by its class"
        return f", by {self.pinned.words} [{self.pinned.record.source}]"


@dataclass(frozen=True)
class Flow(Spoken):
    """Which of two glasses flow as a firing that was seen tells: keys of glasses with what pins them."""

    pins: tuple[tuple[str, Pinned], ...] = ()

    def told(self, records: Mapping[str, Any]) -> str:
        """The same as a sentence; empty where classes tell both."""
        named = [f"{records[key].label} by {pin.words} [{pin.record.source}]" for key, pin in self.pins]
        return f" Flow: {'; '.join(named)}." if named else ""


@dataclass(frozen=True)
class Maturing:
    """Minutes at which a coat is no longer sugary, closes to an orange peel and shines, and what they rest on.

    Each is None where nothing can be told, see `reason`; `pinned` is None where only the class is known.
    """

    sugary: Ranged | None
    orange_peel: Ranged | None
    gloss: Ranged | None
    pinned: Pinned | None = None
    reason: str = ""


class Firings:
    """The firings of each glass: those a person gives with a question, before those that are stored.

    What the person saw was at the heat of their own kiln, `offset_k` above its setting; what is common practice was
    seen in kilns that are right on the whole, and stays as it is.

    Parameters
    ----------
    ref : Reference
        The store, which also knows of the person's kiln.
    own : iterable of ObservedFiring
        Given with the question; of one glass and result they stand in place of the stored ones.
    """

    def __init__(self, ref: Reference, own: Iterable[ObservedFiring] = ()) -> None:
        self.offset_k = kiln.offset_of(ref.kiln_offset())
        self._stored: Callable[[str], list[ObservedFiring]] = cache(ref.observed_firings)
        self._metal: Callable[[str], Metal] = cache(ref.metal)
        self._pins: dict[tuple[str, tuple[tuple[ObservedFiring, float], ...]], Pinned | None] = {}
        self.own = tuple(own)

    def with_own(self, own: Iterable[ObservedFiring]) -> Firings:
        """The same store with firings given for one piece."""
        other = object.__new__(Firings)
        other._stored, other._metal, other._pins = self._stored, self._metal, self._pins
        other.own, other.offset_k = (*self.own, *own), self.offset_k
        return other

    def at_ends(self, heat: Band) -> Iterator[tuple[float, Firings]]:
        """A heat of the kiln and the firings it is judged by: at the middle of what is believed of the kiln, and at
        both ends where it has any. One kiln is off by the same in both, so their ends go together.
        """
        for place in kiln.PLACES[:1] if heat.is_exact and self.offset_k.is_exact else kiln.PLACES:
            there = self.with_own(())
            there.offset_k = Band.exact(getattr(self.offset_k, place))
            yield getattr(heat, place), there

    def heat_c(self, record: ObservedFiring) -> float:
        """How hot a firing was [°C]."""
        return record.kiln_c + self.offset_k.value if is_own(record) else record.kiln_c

    def look_up(self, glass: Glass) -> None:
        """Look up everything that the firings of a glass name, so that the store is not needed for them again."""
        for record in self.of(glass.key):
            self._blanks(record)

    def of(self, glass: str) -> list[ObservedFiring]:
        """The firings of a glass."""
        own = [f for f in self.own if f.material == glass]
        results = {f.result for f in own}
        return [*own, *(f for f in self._stored(glass) if f.result not in results)]

    def pinned(self, glass: Glass, heat_c: float) -> Pinned | None:
        """The curve of a glass as the firing nearest to a heat of the kiln pins it; None where none can."""
        known = [(f, self.heat_c(f)) for f in self.of(glass.key) if f.result == GLOSS]
        for record, heat in sorted(known, key=lambda f: abs(f[1] - heat_c)):
            alike = ((record, heat), *((f, c) for f, c in known if f != record and abs(c - heat) <= _ALIKE_K))
            if (glass.key, alike) not in self._pins:
                self._pins[glass.key, alike] = _pinned(glass, tuple((f, c, self._blanks(f)) for f, c in alike))
            found = self._pins[glass.key, alike]
            if found is not None:
                return found
        return None

    def passed_over(self, glass: Glass, heat_c: float) -> str:
        """Why firings that are known of a glass do not pin it, as half a sentence; empty where one does or none is."""
        known = self.of(glass.key)
        if not known or self.pinned(glass, heat_c) is not None:
            return ""
        told = next((f for f in known if f.result == GLOSS), known[0])
        seen = f"{told.result} after {told.minutes:g} min at {told.kiln_c:.0f} °C"
        if told.result == GLOSS:
            return f"{seen} is known of it, but no glass does so on that metal, so it is passed over"
        return f"{seen} is known of it, which does not tell when it shines"

    def pair(self, under: Glass, over: Glass, heat_c: float) -> tuple[FiringCurve | None, FiringCurve | None]:
        """How two glasses flow against each other near a heat of the kiln; None for one of which nothing is known.

        A glass is pinned by its own firing, else goes by its class. Where common practice pins only one of the
        two, the other is moved as far: what is known of classes is how they stand to each other, and such a firing
        tells of the kiln and the trade's way of reading it as much as of the glass.
        """
        classes = [curve_of_class(glass) for glass in (under, over)]
        pins = [self.pinned(glass, heat_c) for glass in (under, over)]
        found = [pin.curve if pin is not None else known for pin, known in zip(pins, classes, strict=True)]
        for n, other in ((0, 1), (1, 0)):
            pin, known, lone = pins[n], classes[n], classes[other]
            if pin is not None and pins[other] is None and not pin.own and known is not None and lone is not None:
                found[other] = lone.moved(pin.curve.vft.t0_c - known.vft.t0_c)
        return found[0], found[1]

    def _blanks(self, record: ObservedFiring) -> tuple[tuple[str, float, float], ...]:
        """Family, thickness [m] and density of the metal, the middle one first; none where it is not known."""
        try:
            metal = self._metal(record.metal)
        except NotFound:
            return ()
        density = metal.band("density")
        if density is None:
            return ()
        return tuple((metal.family, m, density.value) for m in usual_thickness_m(record, metal))


def usual_thickness_m(record: ObservedFiring, metal: Metal) -> tuple[float, ...]:
    """The thickness of the metal of a firing [m]: as seen, else the middle and ends of what is usual.

    Usual is from the metal's own least thickness to that from which the trade counts metal as heavy.
    """
    if record.metal_mm is not None:
        return (record.metal_mm * 1e-3,)
    least = metal.band("least_thickness")
    low, high = least.low if least is not None else _LEAST_M, limit_of("one-face").fine * 1e-3
    return math.sqrt(low * high), low, high


def curve_of_class(glass: Glass) -> FiringCurve | None:
    """The curve of the class of a glass, from its usual range; None where that is not known."""
    from refdb.science.firing.fluidity import class_curve

    low, high, set_point = (glass.band(k) for k in ("fuse_low", "fuse_high", "set_point"))
    if low is None or high is None:
        return None
    return class_curve((low.value + high.value) / 2, low.value, high.value, set_point.value if set_point else None)


def is_own(record: ObservedFiring) -> bool:
    """Whether the person watched a firing, in their own kiln."""
    return record.source.startswith(_OWN)


def _pinned(
    glass: Glass, firings: tuple[tuple[ObservedFiring, float, tuple[tuple[str, float, float], ...]], ...]
) -> Pinned | None:
    """The curves that firings at one heat [°C] pin; None when they name no usable metal, or no glass does so."""
    from refdb.science.firing.heating import HEAT_OF_FAMILY, blank_of
    from refdb.science.firing.maturing import OBSERVED_FACTOR, OTHER_FACTOR, calibrated, prepare_calibration
    from refdb.science.firing.maturing import ObservedFiring as Watched

    start = curve_of_class(glass)
    watched = [
        Watched(heat_c, record.minutes, blank_of(family, metal_m, density, back_glass=True))
        for record, heat_c, blanks in firings
        for family, metal_m, density in blanks
        if family in HEAT_OF_FAMILY
    ]
    prepare_calibration(watched)
    curves: list[FiringCurve] = []
    for firing in watched:
        try:
            curves.append(calibrated(start, firing))
        except BadInput:
            continue
    if not curves:
        return None
    record = firings[0][0]
    # What was seen in another kiln, of another jar of the class, holds less closely here.
    other = 1.0 if is_own(record) else OTHER_FACTOR
    wider = math.hypot(math.log(OBSERVED_FACTOR), math.log(other)) / math.log(OBSERVED_FACTOR)
    middle = curves[0]
    away = [(c.vft.t0_c - middle.vft.t0_c, c) for c in curves]
    low, high = min(k + c.low_k * wider for k, c in away), max(k + c.high_k * wider for k, c in away)
    return Pinned(record, replace(middle, low_k=max(low, -500.0), high_k=min(high, 500.0)), tuple(curves), other)


def pin_or_refuse(record: ObservedFiring, glass: Glass, metal: Metal, offset_k: Band = kiln.TRUE) -> None:
    """Raise BadInput when a firing that ended in gloss cannot have been so: then nothing could be pinned by it.

    `offset_k` is how much hotter the kiln was than it showed; its middle is taken.
    """
    from refdb.science.firing.heating import blank_of
    from refdb.science.firing.maturing import ObservedFiring as Watched
    from refdb.science.firing.maturing import calibrated

    density = metal.band("density")
    if record.result != GLOSS or density is None:
        return
    middle_k = Band.exact(offset_k.value)
    for metal_m in usual_thickness_m(record, metal):
        blank = blank_of(metal.family, metal_m, density.value, back_glass=True)
        try:
            calibrated(curve_of_class(glass), Watched(record.kiln_c + middle_k.value, record.minutes, blank))
        except BadInput as bad:
            told = kiln.heat_words(record.kiln_c, middle_k)
            raise BadInput(f"{bad.what}; {told}" if told else bad.what, bad.where, bad.todo) from None


def maturing(
    glass: Glass,
    heat_c: float | Band,
    coat_m: float,
    into: Heated,
    firings: Firings,
    under: Sequence[tuple[Glass, float]] = (),
) -> Maturing:
    """Minutes to each stage of a coat in one firing.

    Parameters
    ----------
    glass : Glass
        Of the coat.
    heat_c : float or Band
        What the kiln is [°C]: its setting where it shows what it is.
    coat_m : float
        This coat once fired [m].
    into : Heated
        What goes into the kiln.
    firings : Firings
        What was seen.
    under : sequence of (Glass, float)
        What is molten right beneath it, nearest first, with its thickness [m].

    Returns
    -------
    Maturing
        With nine tenths of what is believed: of a class its whole range; pinned in the person's own kiln a factor
        of 1.3 in the minutes to gloss, by common practice 1.6, and in both wider where the thickness of the metal seen
        was not said. A band of the kiln widens it to what it is at both ends.
    """
    heat = heat_c if isinstance(heat_c, Band) else Band.exact(heat_c)
    each = [_maturing(glass, there_c, coat_m, into, there, under) for there_c, there in firings.at_ends(heat)]
    # What cannot be told at one end cannot be told of the band.
    gone = next((told for told in each if told.gloss is None), None)
    if len(each) == 1 or gone is not None:
        return gone or each[0]
    sugary, orange_peel, gloss = (
        _widest(some)
        for some in ([told.sugary for told in each], [told.orange_peel for told in each], [told.gloss for told in each])
    )
    return replace(each[0], sugary=sugary, orange_peel=orange_peel, gloss=gloss)


def _maturing(
    glass: Glass, kiln_c: float, coat_m: float, into: Heated, firings: Firings, under: Sequence[tuple[Glass, float]]
) -> Maturing:
    from refdb.science.firing.heating import HEAT_OF_FAMILY, blank_of
    from refdb.science.firing.maturing import OBSERVED_FACTOR, maturing_minutes, molten_beneath_m

    metal, density = into.metal, into.metal.band("density")
    start = curve_of_class(glass)
    pinned = firings.pinned(glass, kiln_c)
    if start is None and pinned is None:
        return Maturing(None, None, None, None, f"the kiln range of {glass.small} is not known")
    if density is None or metal.family not in HEAT_OF_FAMILY:
        return Maturing(None, None, None, None, f"how {metal.small} takes up heat is not known")
    blank = blank_of(metal.family, into.metal_m, density.value, back_glass=True)
    known_to = OBSERVED_FACTOR
    if pinned is not None:
        known_to = math.exp(math.hypot(math.log(OBSERVED_FACTOR), math.log(pinned.factor)))
    curves = pinned.curves if pinned is not None else (start,)
    deeper_m = 0.0
    if under and curves[0] is not None:
        beneath = ((firings.pair(other, glass, kiln_c)[0], m) for other, m in under)
        deeper_m = molten_beneath_m(curves[0], coat_m, beneath, kiln_c)
    told = [
        maturing_minutes(
            c,
            kiln_c,
            blank,
            coat_m,
            total_glass_m=into.glass_m,
            molten_beneath_m=deeper_m,
            kiln=into.kiln,
            known_to=known_to,
        )
        for c in curves
    ]
    if told[0].gloss is None:
        return Maturing(None, None, None, None, told[0].reason)
    sugary, orange_peel, gloss = (
        _hull([r for r in some if r is not None])
        for some in ([s.sugary for s in told], [s.orange_peel for s in told], [s.gloss for s in told])
    )
    return Maturing(sugary, orange_peel, gloss, pinned, told[0].reason)


def _widest(some: list[Ranged | None]) -> Ranged | None:
    """The first value, with the least and the most of all."""
    told = [r for r in some if r is not None]
    return told[0]._replace(low=min(r.low for r in told), high=max(r.high for r in told)) if told else None


def _hull(some: list[Ranged]) -> Ranged:
    """The first value with a band that holds all."""
    return some[0]._replace(low=min(r.low for r in some), high=max(r.high for r in some))
