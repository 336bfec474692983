"""A verdict: the outcome in one of four words, how sure, the reasons worst first, the numbers and the cautions."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

from refdb.frozen import dataclass, field
from refdb.judge.reason import CARE, NOT, OUTCOMES, SUITS, UNSURE, Measure, Reason
from refdb.judge.wording import Context, Told, told
from refdb.words import SCHEMA

if TYPE_CHECKING:
    from refdb.judge.evidence import Evidence
    from refdb.judge.fit.changes import Change
    from refdb.judge.own.tiles import TileSeen

TEST_TILE = "Fire a test tile before the piece; the maker's sheet governs."


@dataclass(frozen=True)
class LayerNumbers:
    """Stress in one layer after one firing [MPa], tension positive; of a dome its middle, and its rim apart."""

    name: str
    bottom_mpa: Measure
    mean_mpa: Measure
    top_mpa: Measure
    rim_bottom_mpa: Measure | None = None
    rim_top_mpa: Measure | None = None

    def as_dict(self) -> dict[str, Any]:
        """For JSON; the rim only where there is one."""
        rim = {"rim_bottom_mpa": self.rim_bottom_mpa, "rim_top_mpa": self.rim_top_mpa}
        faces = {"bottom_mpa": self.bottom_mpa, "mean_mpa": self.mean_mpa, "top_mpa": self.top_mpa} | rim
        return {"name": self.name} | {name: _measure(m) for name, m in faces.items() if m is not None}


@dataclass(frozen=True)
class Stage:
    """One firing, by its number and name: its layers bottom to top, and what the plate does.

    The bow holds what the fires before left in the metal, which stands apart too. `zone` is the part of the piece that
    this is, see `judge.piece.zones`; empty where all of it is alike.
    """

    name: str
    fire: int
    layers: tuple[LayerNumbers, ...]
    bow_mm_per_30mm: Measure
    metal_plastic_strain: Measure
    release_j_per_m2: Measure
    bow_left_mm_per_30mm: Measure = Measure(0.0, 0.0, 0.0, "mm")
    zone: str = ""


@dataclass(frozen=True)
class Caution:
    """What can hurt someone, and where that stands; `key` is that of its hazard, `name` what it is called in short."""

    text: str
    source: str
    key: str = ""
    name: str = ""

    def as_dict(self) -> dict[str, str]:
        """The caution as JSON tells it."""
        return {"key": self.key, "text": self.text, "source": self.source}


@dataclass(frozen=True)
class Verdict:
    """The answer to one question.

    `confidence` is the share of the sample with this outcome; `shares` gives all three. `missing` names what is
    not known when the outcome is `cannot say`. `question` holds the inputs as they were understood; `tiles` are the
    person's own that bear on it; `evidence` is what it rests on, which never moves the outcome; `changes` are
    the single changes found to help; `context` holds what the words of the reasons are put together from.
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
    evidence: Evidence | None = None
    changes: tuple[Change, ...] = ()
    context: Context = field(default_factory=Context, repr=False, compare=False)

    def __repr__(self) -> str:
        what = self.question.get("piece") or f"{self.question.get('glass')} on {self.question.get('metal')}"
        return f"<Verdict {what}: {self.outcome}, {self.confidence:.2f}>"

    @property
    def holds(self) -> float | None:
        """The share of the draws that hold, with care or without; None where a figure is missing for it."""
        if not self.shares or (self.missing and self.outcome == UNSURE):
            return None
        return self.shares[SUITS] + self.shares[CARE]

    @property
    def exit_status(self) -> int:
        """0 suits or suits with care, 1 does not suit, 5 cannot say."""
        return {SUITS: 0, CARE: 0, NOT: 1}.get(self.outcome, 5)

    @cached_property
    def told(self) -> tuple[Told, ...]:
        """The reasons in words, in their order."""
        return tuple(told(reason, self.context) for reason in self.reasons)

    @property
    def numbers(self) -> dict[str, Any]:
        """The measures and stages as plain dictionaries."""
        return {name: _measure(m) for name, m in self.measures.items()} | {
            "stages": [
                {
                    "name": s.name,
                    "fire": s.fire,
                    "layers": [layer.as_dict() for layer in s.layers],
                    "bow_mm_per_30mm": _measure(s.bow_mm_per_30mm),
                    "bow_left_mm_per_30mm": _measure(s.bow_left_mm_per_30mm),
                    "metal_plastic_strain": _measure(s.metal_plastic_strain),
                    "release_j_per_m2": _measure(s.release_j_per_m2),
                    **({"zone": s.zone} if s.zone else {}),
                }
                for s in self.stages
            ]
        }

    def rows(self) -> list[dict[str, Any]]:
        """The reasons as flat rows, for a table or a data frame."""
        return [
            {
                "rule": t.key,
                "title": t.title,
                "where": t.where,
                "outcome": t.outcome,
                "share": t.reason.share,
                **_found(t.found),
                "limit": t.limit,
                "source": t.source,
            }
            for t in self.told
        ]

    def as_dict(self) -> dict[str, Any]:
        """The stable form `refdb/2`, ready for JSON."""
        return {
            "schema": SCHEMA,
            "question": self.question,
            "verdict": self.outcome,
            "confidence": round(self.confidence, 4),
            "sentence": self.sentence,
            "shares": {k: round(v, 4) for k, v in self.shares.items()},
            "missing": list(self.missing),
            "evidence": None if self.evidence is None else self.evidence.as_dict(),
            "changes": [change.as_dict() for change in self.changes],
            "reasons": [_reason(t) for t in self.told],
            "numbers": self.numbers,
            "cautions": [c.as_dict() for c in self.cautions],
            "test_tile": TEST_TILE,
            "sources": self.sources,
            **({"tiles": [t.as_dict() for t in self.tiles]} if self.tiles else {}),
        }

    def _repr_html_(self) -> str:
        from html import escape

        rows = "".join(
            f"<tr><td>{escape(t.title)}</td><td>{escape(t.outcome)}</td><td>{escape(t.why)}</td></tr>"
            for t in self.told
            if t.outcome != SUITS
        )
        return f"<p><b>{escape(self.outcome)}</b>. {escape(self.sentence)}</p><table>{rows}</table>"


def _reason(t: Told) -> dict[str, Any]:
    """One reason for JSON."""
    found, subject, split = _found(t.found), t.reason.subject.as_dict(), t.reason.split
    plain: dict[str, Any] = {
        "rule": t.key,
        "title": t.title,
        "subject": subject,
        "outcome": t.outcome,
        "found": found,
        "limit": t.limit,
        "why": t.why,
        "remedy": t.remedy,
        "source": t.source,
        "share": round(t.reason.share, 4),
        "deciding": t.reason.deciding,
    }
    if t.reason.case:
        plain["case"] = t.reason.case
    if t.where:
        plain["step"] = t.where
    if split is not None:
        plain["split"] = {name: round(share, 4) for name, share in zip(OUTCOMES, split, strict=True)}
    return plain


def _found(found: Measure | str) -> dict[str, Any]:
    return _measure(found) | {"unit": found.unit} if isinstance(found, Measure) else {"text": found}


def _measure(m: Measure) -> dict[str, float]:
    return {"value": _shown(m.value), "low": _shown(m.low), "high": _shown(m.high)}


def _shown(x: float) -> float:
    """Six significant digits: more would claim what the sample does not hold."""
    return float(f"{x:.6g}")


__all__ = [
    "CARE",
    "NOT",
    "SUITS",
    "TEST_TILE",
    "UNSURE",
    "Caution",
    "LayerNumbers",
    "Measure",
    "Reason",
    "Stage",
    "Verdict",
]
