"""A verdict: the outcome in one of four words, how sure, the reasons worst first, the numbers and the cautions."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from refdb.judge.own.tiles import TileSeen

SUITS, CARE, NOT, UNSURE = "suits", "suits with care", "does not suit", "cannot say"
#: Best first; `cannot say` stands apart.
RANK = {SUITS: 0, CARE: 1, NOT: 2}

TEST_TILE = "Fire a test tile before the piece; the maker's sheet governs."


@dataclass(frozen=True)
class Measure:
    """A number with its 5-95 % band and unit, as a verdict shows it."""

    value: float
    low: float
    high: float
    unit: str


@dataclass(frozen=True)
class Reason:
    """One rule: what was found, the limit, why it matters and what would change it.

    `share` is how much of the sample the rule put at `outcome` or worse, 1 for rules that are not sampled, and
    `worse` how much of it beyond `outcome`; `found` is a `Measure` or words.
    """

    rule: str
    outcome: str
    found: Measure | str
    limit: str
    why: str
    remedy: str
    source: str
    share: float = 1.0
    step: str = ""
    worse: float = 0.0

    @property
    def at_outcome(self) -> float:
        """Share of the sample that the rule put at `outcome` itself."""
        return self.share if self.outcome == SUITS else self.share - self.worse

    @property
    def share_words(self) -> str:
        """In how many draws it came out so, and in how many worse; empty where hardly a draw differs."""
        from refdb.records.printed import sure

        words = f"in {sure(self.at_outcome)} draws" if self.at_outcome < 0.995 else ""
        if self.outcome == CARE and self.worse >= 0.05:
            words += f", {NOT} in {sure(self.worse).partition(' ')[0]}"
        return words


@dataclass(frozen=True)
class LayerNumbers:
    """Stress in one layer after one firing [MPa], tension positive."""

    name: str
    bottom_mpa: Measure
    mean_mpa: Measure
    top_mpa: Measure


@dataclass(frozen=True)
class Stage:
    """One firing: its layers bottom to top, and what the plate does."""

    name: str
    layers: tuple[LayerNumbers, ...]
    bow_mm_per_30mm: Measure
    metal_plastic_strain: Measure
    release_j_per_m2: Measure


@dataclass(frozen=True)
class Caution:
    """What can hurt someone, and where that stands; `key` is that of its hazard."""

    text: str
    source: str
    key: str = ""

    def as_dict(self) -> dict[str, str]:
        """The caution as JSON tells it."""
        return {"key": self.key, "text": self.text, "source": self.source}


@dataclass(frozen=True)
class Verdict:
    """The answer to one question.

    `confidence` is the share of the sample with this outcome; `shares` gives all three. `missing` names what is
    not known when the outcome is `cannot say`. `question` holds the inputs as they were understood; `tiles` are the
    person's own that bear on it.
    """

    outcome: str
    confidence: float
    sentence: str
    question: dict[str, Any]
    reasons: tuple[Reason, ...]
    measures: dict[str, Measure]
    stages: tuple[Stage, ...]
    cautions: tuple[Caution, ...]
    shares: dict[str, float] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    sources: dict[str, str] = field(default_factory=dict)
    tiles: tuple[TileSeen, ...] = ()

    @property
    def exit_status(self) -> int:
        """0 suits or suits with care, 1 does not suit, 5 cannot say."""
        return {SUITS: 0, CARE: 0, NOT: 1}.get(self.outcome, 5)

    @property
    def numbers(self) -> dict[str, Any]:
        """The measures and stages as plain dictionaries."""
        plain = self.as_dict()["numbers"]
        assert isinstance(plain, dict)
        return plain

    def as_dict(self) -> dict[str, Any]:
        """The stable form `refdb/1`, ready for JSON."""
        numbers: dict[str, Any] = {name: _measure(m) for name, m in self.measures.items()}
        numbers["stages"] = [
            {
                "name": s.name,
                "layers": [
                    {
                        "name": x.name,
                        "bottom_mpa": _measure(x.bottom_mpa),
                        "mean_mpa": _measure(x.mean_mpa),
                        "top_mpa": _measure(x.top_mpa),
                    }
                    for x in s.layers
                ],
                "bow_mm_per_30mm": _measure(s.bow_mm_per_30mm),
                "metal_plastic_strain": _measure(s.metal_plastic_strain),
                "release_j_per_m2": _measure(s.release_j_per_m2),
            }
            for s in self.stages
        ]
        reasons = []
        for r in self.reasons:
            found = _measure(r.found) | {"unit": r.found.unit} if isinstance(r.found, Measure) else {"text": r.found}
            reason = {
                "rule": r.rule,
                "outcome": r.outcome,
                "found": found,
                "limit": r.limit,
                "why": r.why,
                "remedy": r.remedy,
                "source": r.source,
                "share": round(r.share, 4),
            }
            worse = {"share_worse": round(r.worse, 4)} if r.worse and r.outcome != SUITS else {}
            reasons.append(reason | ({"step": r.step} if r.step else {}) | worse)
        return {
            "schema": "refdb/1",
            "question": self.question,
            "verdict": self.outcome,
            "confidence": round(self.confidence, 4),
            "sentence": self.sentence,
            "shares": {k: round(v, 4) for k, v in self.shares.items()},
            "missing": list(self.missing),
            "reasons": reasons,
            "numbers": numbers,
            "cautions": [c.as_dict() for c in self.cautions],
            "test_tile": TEST_TILE,
            "sources": self.sources,
            **({"tiles": [t.as_dict() for t in self.tiles]} if self.tiles else {}),
        }


def _measure(m: Measure) -> dict[str, float]:
    return {"value": _shown(m.value), "low": _shown(m.low), "high": _shown(m.high)}


def _shown(x: float) -> float:
    """Six significant digits: more would claim what the sample does not hold."""
    return float(f"{x:.6g}")
