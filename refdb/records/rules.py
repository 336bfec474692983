"""Records of rules, reactions, faults, hazards and firings, and of what a person wrote down of kiln and tiles."""

from __future__ import annotations

from refdb.frozen import dataclass


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
class Symptom:
    """What is seen when something went wrong; `words` are what people call it, separated by semicolons.

    So are the `stages` at which it is seen, and what lies `beneath` it; an empty `beneath` is anything.
    """

    key: str
    label: str
    part: str
    when_seen: str
    stages: str
    beneath: str
    how_to_tell: str
    words: str
    basis: str
    source: str


@dataclass(frozen=True)
class Topic:
    """A subject of practice: `words` are what people call it, `rules` those of the judge whose remedy it tells.

    Both, and the `pictures` of its page, are separated by semicolons.
    """

    key: str
    topic: str
    part: str
    lead: str
    words: str
    pictures: str
    rules: str
    basis: str
    source: str


@dataclass(frozen=True)
class Fault:
    """One likely cause of a symptom; `rank` 1 is the likeliest, `rules` are those of a verdict that foresee it."""

    key: str
    symptom: str
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
    """What can hurt someone, and the usual caution; `trigger` says when it holds: see `judge.cautions`.

    `agents` are those of the exposure limits that bear on it, separated by semicolons.
    """

    key: str
    step: str
    hazard: str
    caution: str
    trigger: str
    weight: int
    agents: str
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
