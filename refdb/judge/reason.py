"""What a rule finds: its key, what it is about, an outcome and numbers; no word of it is prose."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from refdb.frozen import dataclass, field
from refdb.judge import limits

SUITS, CARE, NOT, UNSURE = "suits", "suits with care", "does not suit", "cannot say"
#: Best first; `cannot say` stands apart.
RANK = {SUITS: 0, CARE: 1, NOT: 2}
#: The three outcomes that a draw of the sample can have, by rank.
OUTCOMES = tuple(RANK)
#: All four in the order of a ranking, best first.
ORDER = {SUITS: 0, CARE: 1, UNSURE: 2, NOT: 3}

#: Parts of a piece that are judged as plates of their own, and how each is called after "at".
DEEPEST, SHALLOWEST, LAND, INSET, SPOT = "deepest", "shallowest", "land", "inset", "spot"
ZONES = {
    DEEPEST: "the deepest of the recess",
    SHALLOWEST: "the shallowest of the recess",
    LAND: "the land around the recess",
    INSET: "what is set in",
    SPOT: "a spot of another glass",
}

#: Shares of the draws at each of `OUTCOMES`, or a median with its 5-95 % band.
Triple = tuple[float, float, float]


@dataclass(frozen=True)
class Measure:
    """A number with its 5-95 % band and unit; formatted, it is its range where low and high differ in print."""

    value: float
    low: float
    high: float
    unit: str

    def __format__(self, spec: str) -> str:
        low, high = (format(x, spec) for x in (self.low, self.high))
        return low if low == high else f"{low} to {high}"


@dataclass(frozen=True)
class Subject:
    """What a finding is about; what is not named stays empty.

    `step` is the number of a step of the piece, `fire` of a firing; `glass`, `under`, `leaf` and `metal` are keys of
    records, `under` of the glass beneath or behind. `zone` is one of `ZONES`.
    """

    step: int | None = None
    fire: int | None = None
    face: str = ""
    glass: str = ""
    under: str = ""
    leaf: str = ""
    metal: str = ""
    zone: str = ""

    def as_dict(self) -> dict[str, Any]:
        """What is named, for JSON."""
        return {name: value for name, value in vars(self).items() if value not in (None, "")}


WHOLE = Subject()


@dataclass(frozen=True)
class Reason:
    """A finding of one rule.

    Parameters
    ----------
    rule : str
        Its key.
    outcome : str
        One of `OUTCOMES`, or `cannot say` where the sample leaves it open.
    subject : Subject
    found : Measure, optional
        The number that is held against the limit; None where a rule finds a fact.
    case : str
        Which of the rule's cases it is.
    values : mapping
        What the rule's words are filled with: numbers, keys of records, and what formats itself.
    split : tuple of float, optional
        Shares of the draws at each outcome; None for a rule that holds for every draw.
    source : str
        Key of a source, where it is not that of the rule.
    deciding : bool
        Whether it made the outcome of the verdict it belongs to.
    """

    rule: str
    outcome: str
    subject: Subject = WHOLE
    found: Measure | None = None
    case: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
    split: Triple | None = None
    source: str = ""
    deciding: bool = False

    @property
    def share(self) -> float:
        """Share of the draws at the outcome or a worse one; of a plain `suits`, at it. 1 where nothing is sampled."""
        return 1.0 if self.split is None else share_at_least(self.split, self.outcome)

    @property
    def worse(self) -> float:
        """Share of the draws at a worse outcome."""
        return 0.0 if self.split is None or self.outcome == SUITS else share_beyond(self.split, self.outcome)

    @property
    def at_outcome(self) -> float:
        """Share of the draws at the outcome itself."""
        return 1.0 if self.split is None else share_at_least(self.split, self.outcome) - self.worse


#: Less than one draw of any sample.
_ROUNDING = 1e-6


def outcome_of(split: Triple) -> str:
    """The outcome of shares of the draws (suits, care, not), by the share that does not hold.

    Where it holds, `suits` takes at least half of the draws: what does not hold weighs no less than what wants care, so
    that moving any share to a worse outcome never makes it better. `cannot say` where it is as open as a coin.
    """
    fine, care, bad = split
    if bad >= limits.REFUSED_FROM - _ROUNDING:
        return NOT
    if bad >= limits.RISK_BELOW - _ROUNDING:
        return UNSURE
    if bad >= limits.HOLDS_BELOW - _ROUNDING:
        return CARE
    return SUITS if fine >= care + bad - _ROUNDING else CARE


def share_at_least(split: Triple, outcome: str) -> float:
    """Share of the draws at this outcome or a worse one; for `suits`, the share that is fine."""
    fine, care, bad = split
    return {SUITS: fine, CARE: care + bad, UNSURE: bad, NOT: bad}[outcome]


def share_beyond(split: Triple, outcome: str) -> float:
    """Share of the draws at a worse outcome than this one."""
    _, care, bad = split
    return {SUITS: care + bad, CARE: bad, UNSURE: 0.0, NOT: 0.0}[outcome]
