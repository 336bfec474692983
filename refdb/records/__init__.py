"""What the store holds, as frozen records: sources, property values, base metals, glasses and leaf; rules beside.

Records know no database and no screen. Values are in the canonical units of their property: °C, Pa, m, kg/m³,
ppm/K for expansion.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.frozen import dataclass, field, replace
from refdb.quantities.band import Band
from refdb.records.named import is_own, small
from refdb.records.rules import (
    Contact,
    Fault,
    FitRule,
    Hazard,
    KilnOffset,
    ObservedFiring,
    OwnTile,
    Reaction,
    Solder,
    Symptom,
)

if TYPE_CHECKING:
    from refdb.science.expansion import StrainCurve

__all__ = [
    "BASES",
    "POOLED",
    "WEAK_BASES",
    "Contact",
    "EstimatedValue",
    "Fault",
    "FitRule",
    "Glass",
    "Hazard",
    "KilnOffset",
    "Leaf",
    "Material",
    "Metal",
    "ObservedFiring",
    "OwnTile",
    "Property",
    "PropertyValue",
    "Reaction",
    "ReferenceGlass",
    "ReferenceValue",
    "Solder",
    "Source",
    "Symptom",
]

#: What a figure rests on.
BASES = (
    "measured",
    "standard",
    "published",
    "pooled",
    "computed",
    "estimate",
    "analogue",
    "common practice",
    "from memory",
    "no evidence",
)
#: On shared test tiles of many studios.
POOLED = "pooled"
#: A class value resting on one of these never earns a plain "suits".
WEAK_BASES = ("analogue", "common practice", "from memory", "no evidence")


@dataclass(frozen=True)
class Source:
    """Where a number or a sentence comes from; `name` is what people are shown in its place."""

    key: str
    name: str
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


@dataclass(frozen=True, repr=False)
class Material:
    """What base metals, glasses and leaf have in common."""

    key: str
    label: str
    family: str
    summary: str
    source: str
    values: tuple[PropertyValue, ...] = field(default=(), repr=False)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.key}>"

    @property
    def is_own(self) -> bool:
        """Whether it is the person's own."""
        return is_own(self.key)

    @property
    def small(self) -> str:
        """Its label within a sentence; a name that the person gave stays as it was given."""
        return small(self.key, self.label)

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


@dataclass(frozen=True, repr=False)
class Metal(Material):
    """A base metal or a metal clay after firing."""

    form: str = "sheet"
    alloy: str = ""
    clay_family: str = ""
    bare_surface: str = ""
    preparation: str = ""
    points: tuple[tuple[float, float], ...] = field(default=(), repr=False)
    fired_in_carbon: bool = False
    #: Of a person's own clay: the kiln schedule of its packet, as `quantities.schedules` writes it.
    schedule: str = ""
    #: Of a person's own: the class of the reference that it is like.
    like: str = ""
    #: Of a clay, the schedule of its family that fired it, where that is said.
    fired_by: str = ""
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


@dataclass(frozen=True, repr=False)
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


@dataclass(frozen=True, repr=False)
class Leaf(Material):
    """A metal leaf or foil."""

    metal: str = ""
    fineness: str = ""
    form: str = "leaf"
    suited: str = "suits with care"
    why: str = ""
    handling: str = ""
    kind = "leaf"
