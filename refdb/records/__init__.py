"""What the store holds, as frozen records: sources, property values, base metals, glasses, leaf and their rules.

Records know no database and no screen. Values are in the canonical units of their property: °C, Pa, m, kg/m³,
ppm/K for expansion.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.quantities.band import Band

if TYPE_CHECKING:
    from refdb.science.expansion import StrainCurve


#: What a figure rests on.
BASES = (
    "measured",
    "standard",
    "published",
    "computed",
    "estimate",
    "analogue",
    "common practice",
    "from memory",
    "no evidence",
)
#: A class value resting on one of these never earns a plain "suits".
WEAK_BASES = ("analogue", "common practice", "from memory", "no evidence")


@dataclass(frozen=True)
class Source:
    """Where a number or a sentence comes from."""

    key: str
    kind: str
    authors: str
    year: int | None
    title: str
    container: str = ""
    locator: str = ""
    doi: str = ""
    licence: str = ""
    retrieved: str = ""
    note: str = ""

    @property
    def citation(self) -> str:
        """One line: authors, year, title, container, locator, DOI; the kind where nothing was published."""
        year = f" ({self.year})" if self.year else ""
        head = f"{self.authors}{year}" if self.authors else ""
        tail = ", ".join(x for x in (self.container, self.locator, f"doi {self.doi}" if self.doi else "") if x)
        title = self.title if self.authors or not year else f"{self.title}{year}"
        text = ". ".join(x for x in (head, title, tail) if x)
        if self.kind in ("common practice", "from memory", "computed") and self.kind not in text.lower():
            text = f"{text} [{self.kind}]"
        return text


@dataclass(frozen=True)
class Property:
    """A measured or estimated quantity: label and units."""

    key: str
    label: str
    unit: str
    shown_unit: str
    description: str


@dataclass(frozen=True)
class PropertyValue:
    """One figure from one source, in the property's canonical unit.

    `taken_from` is the key of the record whose figure stands in, where a person's own has none.
    """

    property: str
    value: float | None
    low: float | None
    high: float | None
    as_printed: str
    unit_as_printed: str
    temp_low_c: float | None
    temp_high_c: float | None
    basis: str
    seen: str
    source: str
    locator: str = ""
    preferred: bool = True
    note: str = ""
    taken_from: str = ""

    @cached_property
    def band(self) -> Band:
        """Value with low and high; a missing end is the value, a missing value the middle."""
        value = self.value
        if value is None:
            assert self.low is not None
            assert self.high is not None
            value = (self.low + self.high) / 2
        return Band(value, value if self.low is None else self.low, value if self.high is None else self.high)


@dataclass(frozen=True)
class ReferenceValue:
    """One figure measured on a published glass, in the property's canonical unit; a span may be unrecorded."""

    property: str
    value: float
    low: float | None
    high: float | None
    temp_low_c: float | None
    temp_high_c: float | None
    basis: str
    seen: str


@dataclass(frozen=True)
class EstimatedValue:
    """One property computed from a composition, with the band that holds nine measurements in ten.

    `words` is the hardness class that goes with a gloss setting, and how far it may lie off.
    """

    property: str
    value: float
    low: float
    high: float
    words: str = ""


@dataclass(frozen=True)
class ReferenceGlass:
    """A published glass of a class: its composition, what was measured on it, and what is computed for it.

    `composition` holds components with weight per cent, most first.
    """

    key: str
    material: str
    label: str
    for_metal: str
    published_as: str
    source: str
    locator: str
    note: str = ""
    composition: tuple[tuple[str, float], ...] = ()
    measured: tuple[ReferenceValue, ...] = ()
    estimated: tuple[EstimatedValue, ...] = ()


@dataclass(frozen=True)
class Material:
    """What base metals, glasses and leaf have in common."""

    key: str
    label: str
    family: str
    summary: str
    source: str
    values: tuple[PropertyValue, ...] = field(default=(), repr=False)

    def value(self, property_key: str) -> PropertyValue | None:
        """The preferred figure of a property, or None where none is known."""
        return self._preferred.get(property_key)

    @cached_property
    def _preferred(self) -> dict[str, PropertyValue]:
        return {v.property: v for v in reversed(self.values) if v.preferred}

    def band(self, property_key: str) -> Band | None:
        """The preferred figure with its band, or None where none is known."""
        found = self.value(property_key)
        return found.band if found else None


@dataclass(frozen=True)
class Metal(Material):
    """A base metal or a metal clay after firing."""

    form: str = "sheet"
    alloy: str = ""
    clay_family: str = ""
    bare_surface: str = ""
    preparation: str = ""
    points: tuple[tuple[float, float], ...] = field(default=(), repr=False)
    fired_in_carbon: bool = False
    #: Of a person's own: the class of the reference that it is like.
    like: str = ""
    kind = "metal"

    @cached_property
    def curve(self) -> StrainCurve:
        """Free thermal strain from 20 °C as a curve; raises BadInput where no points are known."""
        from refdb.science.expansion import StrainCurve

        if len(self.points) < 2:
            raise BadInput("no expansion curve is known for this metal", self.key)
        return StrainCurve([t for t, _ in self.points], [s * 1e-6 for _, s in self.points])

    def strain(self, temp_c: Any) -> Any:
        """Free thermal strain from 20 °C [-] at a temperature or an array of them [°C]; ValueError outside."""
        return self.curve(temp_c)


@dataclass(frozen=True)
class Glass(Material):
    """A class of glass, or a person's own jar."""

    optical: str = "transparent"
    hardness: str = "unknown"
    lead: str = "unknown"
    cadmium: str = "unknown"
    role: str = "base coat"
    made_for: str = ""
    colourant: str = ""
    undercoat: str = ""
    wash: str = "optional"
    hazard: str = ""
    holds: str = ""
    #: Of a person's own: the class of the reference that it is like.
    like: str = ""
    kind = "glass"

    def with_expansion(self, ppm_per_k: Band, span_c: tuple[float, float], basis: str = "measured") -> Glass:
        """The same glass with a figure of the person's own in place of the class range."""
        own = PropertyValue(
            "expansion",
            ppm_per_k.value,
            ppm_per_k.low,
            ppm_per_k.high,
            f"{ppm_per_k.value:g}",
            "ppm/K",
            span_c[0],
            span_c[1],
            basis,
            "read",
            "own-figure",
            preferred=True,
        )
        kept = tuple(replace(v, preferred=False) if v.property == "expansion" else v for v in self.values)
        return replace(self, values=(*kept, own))


@dataclass(frozen=True)
class Leaf(Material):
    """A metal leaf or foil."""

    metal: str = ""
    fineness: str = ""
    form: str = "leaf"
    suited: str = "suits with care"
    why: str = ""
    handling: str = ""
    kind = "leaf"


@dataclass(frozen=True)
class FitRule:
    """A fact of surface or use that no stress can tell, with the glasses and metals it holds for."""

    key: str
    rule: str
    glass: str
    metal: str
    outcome: str
    found: str
    limit_text: str
    why: str
    remedy: str
    source: str


@dataclass(frozen=True)
class Contact:
    """Where two metals that touch in the kiln first melt [°C]; the preferred row of a pair has a low and high."""

    metal_a: str
    metal_b: str
    first_melts_c: float
    low: float
    high: float
    reaction: str
    basis: str
    source: str
    preferred: bool


@dataclass(frozen=True)
class Solder:
    """A class of solder or braze, with where it begins and ends melting [°C]; None where not known."""

    key: str
    label: str
    family: str
    solidus_c: float | None
    liquidus_c: float | None
    hazard: str
    source: str


@dataclass(frozen=True)
class Reaction:
    """What a colour does on a metal or over a leaf; `ground` is a kind and words joined by |.

    Kinds: metal (families), alloy (keys of metals), leaf and wire (chemical symbols), glass (a selector), and handled
    (families, leaf or any) for what only the handling or the fire brings about.
    """

    key: str
    glass: str
    ground: str
    outcome: str
    change: str
    why: str
    remedy: str
    basis: str
    source: str

    def holds(self, touches: tuple[str, str]) -> bool:
        """Whether it is about this ground: ("metal", family) or ("leaf", chemical symbol)."""
        kind, _, words = self.ground.partition(" ")
        return kind == touches[0] and touches[1] in (w.strip() for w in words.split("|"))


@dataclass(frozen=True)
class Fault:
    """One likely cause of a symptom; `rank` 1 is the likeliest, `rules` are those of a verdict that foresee it."""

    key: str
    symptom: str
    when_seen: str
    cause: str
    how_to_tell: str
    remedy: str
    prevention: str
    rank: int
    rules: str
    basis: str
    source: str


@dataclass(frozen=True)
class ObservedFiring:
    """How long a glass was seen, or is said, to take at a kiln setting [°C, min] on a metal."""

    key: str
    material: str
    kiln_c: float
    minutes: float
    metal: str
    metal_mm: float | None
    result: str
    basis: str
    source: str
    note: str = ""


@dataclass(frozen=True)
class KilnOffset:
    """How much hotter a person's kiln is than it shows [K], with its ends, and what that rests on.

    `tiles` are the numbers of own tiles it was learnt from.
    """

    offset_k: float
    low_k: float
    high_k: float
    basis: str
    date: str
    tiles: tuple[int, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Hazard:
    """What can hurt someone, and the usual caution; `trigger` says when it holds: see `judge.cautions`."""

    key: str
    step: str
    hazard: str
    caution: str
    trigger: str
    weight: int
    basis: str
    source: str
    note: str = ""


@dataclass(frozen=True)
class OwnTile:
    """A fired test of a person's own: thicknesses [mm], kiln setting [°C], minutes, what came of it and when.

    `outcome` is words joined by semicolons; what was not written down is None.
    """

    number: int
    glass: str
    metal: str
    metal_mm: float | None
    front_mm: float | None
    back_mm: float | None
    kiln_c: float | None
    minutes: float | None
    outcome: str
    showed: str | None
    date: str
    note: str | None
