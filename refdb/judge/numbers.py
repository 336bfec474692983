"""The sampled numbers of one glass on one metal: what the reasons are told from, and what is precomputed.

Nothing here computes; `judge.sampled` fills these in, and they go to JSON and back without numpy.
"""

from __future__ import annotations

from dataclasses import dataclass

from refdb.judge.limits import LEAST_SHARE
from refdb.judge.verdict import CARE, NOT, SUITS, LayerNumbers, Measure, Stage

Triple = tuple[float, float, float]


@dataclass(frozen=True)
class RuleNumbers:
    """One rule over the sample: the share at each outcome, and what was found with its 5-95 % band."""

    shares: Triple
    found: Triple

    @property
    def outcome(self) -> str:
        """The outcome that half of the sample has or goes beyond, so no rule is worse than the whole verdict."""
        _, care, bad = self.shares
        if bad >= LEAST_SHARE:
            return NOT
        return CARE if care + bad >= LEAST_SHARE else SUITS

    def share_at_least(self, outcome: str) -> float:
        """Share of the sample at this outcome or a worse one; for `suits`, the share that is fine."""
        fine, care, bad = self.shares
        return {SUITS: fine, CARE: care + bad, NOT: bad}[outcome]

    def share_beyond(self, outcome: str) -> float:
        """Share of the sample at a worse outcome than this one."""
        _, care, bad = self.shares
        return {SUITS: care + bad, CARE: bad, NOT: 0.0}[outcome]


@dataclass(frozen=True)
class SampledStage:
    """One firing: face stresses of each layer [MPa], bow, plastic strain of the metal, release rate."""

    name: str
    layers: tuple[tuple[str, Triple, Triple, Triple], ...]
    bow_mm: Triple
    plastic_strain: Triple
    release: Triple

    def as_stage(self) -> Stage:
        """The same as a verdict shows it."""
        return Stage(
            self.name,
            tuple(
                LayerNumbers(n, Measure(*b, "MPa"), Measure(*m, "MPa"), Measure(*t, "MPa"))
                for n, b, m, t in self.layers
            ),
            Measure(*self.bow_mm, "mm"),
            Measure(*self.plastic_strain, ""),
            Measure(*self.release, "J/m²"),
        )


@dataclass(frozen=True)
class Numbers:
    """Everything sampled about a build: joint shares of the outcomes, each rule, measures and stages.

    `decides` names the input whose place in its band decides most; empty when the outcome never varies.
    """

    shares: Triple
    rules: dict[str, RuleNumbers]
    measures: dict[str, Triple]
    stages: tuple[SampledStage, ...]
    decides: str

    def to_plain(self) -> list[object]:
        """Lists and numbers only: shares as they are, the rest rounded to six significant digits."""
        return [
            _whole(self.shares),
            {k: [_whole(r.shares), _rounded(r.found)] for k, r in self.rules.items()},
            {k: _rounded(m) for k, m in self.measures.items()},
            [
                [
                    s.name,
                    [[n, _rounded(b), _rounded(m), _rounded(t)] for n, b, m, t in s.layers],
                    _rounded(s.bow_mm),
                    _rounded(s.plastic_strain),
                    _rounded(s.release),
                ]
                for s in self.stages
            ],
            self.decides,
        ]

    @classmethod
    def from_plain(cls, plain: list[object]) -> Numbers:
        """The inverse of `to_plain`."""
        shares, rules, measures, stages, decides = plain
        assert isinstance(rules, dict)
        assert isinstance(measures, dict)
        assert isinstance(stages, list)
        return cls(
            _triple(shares),
            {k: RuleNumbers(_triple(a), _triple(b)) for k, (a, b) in rules.items()},
            {k: _triple(m) for k, m in measures.items()},
            tuple(
                SampledStage(
                    name,
                    tuple((n, _triple(b), _triple(m), _triple(t)) for n, b, m, t in layers),
                    _triple(bow),
                    _triple(plastic),
                    _triple(release),
                )
                for name, layers, bow, plastic, release in stages
            ),
            str(decides),
        )


def _whole(shares: Triple) -> list[float]:
    # A share of 128 draws has seven decimals; fewer would let equal shares differ once they are stored.
    return [round(x, 7) for x in shares]


def _rounded(triple: Triple) -> list[float]:
    # A balanced plate's bow is zero up to rounding; the rounding is not worth keeping.
    return [float(f"{x:.6g}") if abs(x) > 1e-9 else 0.0 for x in triple]


def _triple(values: object) -> Triple:
    assert isinstance(values, (list, tuple))
    a, b, c = values
    return (float(a), float(b), float(c))
