"""The sampled numbers of a piece or a question: what the reasons are made from, and what is precomputed.

Nothing here computes; `judge.piece.sample` fills these in, and they go to JSON and back without numpy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from refdb.frozen import dataclass
from refdb.judge.reason import Measure, Subject, Triple, outcome_of, share_at_least
from refdb.judge.verdict import LayerNumbers, Stage


@dataclass(frozen=True)
class RuleNumbers:
    """One rule about one subject over the sample: the share at each outcome, and what was found, 5-95 % band."""

    rule: str
    subject: Subject
    split: Triple
    found: Triple

    @property
    def outcome(self) -> str:
        """The outcome of its split."""
        return outcome_of(self.split)

    def share_at_least(self, outcome: str) -> float:
        """Share of the sample at this outcome or a worse one; for `suits`, the share that is fine."""
        return share_at_least(self.split, outcome)


class SampledLayer(NamedTuple):
    """Stress in one layer [MPa], tension positive: at its faces and its mean; at the rim too where there is one."""

    name: str
    bottom: Triple
    mean: Triple
    top: Triple
    rim_bottom: Triple | None = None
    rim_top: Triple | None = None

    def as_numbers(self) -> LayerNumbers:
        """The same as a verdict shows it."""
        faces = [None if t is None else Measure(*t, "MPa") for t in self[1:]]
        bottom, mean, top, rim_bottom, rim_top = faces
        assert bottom is not None
        assert mean is not None
        assert top is not None
        return LayerNumbers(self.name, bottom, mean, top, rim_bottom, rim_top)


@dataclass(frozen=True)
class SampledStage:
    """One firing: face stresses of each layer [MPa], bow, plastic strain of the metal, energy release rate.

    `bow_mm` holds what the fires before left in the metal, `left_mm`; None where they left nothing. `zone` is the part
    of the piece that it is, empty for the whole.
    """

    name: str
    fire: int
    layers: tuple[SampledLayer, ...]
    bow_mm: Triple
    plastic_strain: Triple
    release: Triple
    left_mm: Triple | None = None
    zone: str = ""

    def as_stage(self) -> Stage:
        """The same as a verdict shows it."""
        return Stage(
            self.name,
            self.fire,
            tuple(layer.as_numbers() for layer in self.layers),
            Measure(*self.bow_mm, "mm"),
            Measure(*self.plastic_strain, ""),
            Measure(*self.release, "J/m²"),
            Measure(*(self.left_mm or (0.0, 0.0, 0.0)), "mm"),
            self.zone,
        )


@dataclass(frozen=True)
class Numbers:
    """Everything sampled of a build: joint shares of the outcomes, each rule, measures and stages.

    `decides` names the input whose place in its band decides most; empty when the outcome never varies.
    """

    shares: Triple
    rules: tuple[RuleNumbers, ...]
    measures: dict[str, Triple]
    stages: tuple[SampledStage, ...]
    decides: str

    def to_plain(self, exact: bool = False) -> list[object]:
        """Lists and numbers only: shares as they are, the rest rounded to six significant digits unless `exact`.

        A measure that nothing spreads is one number, and a layer that is stressed alike throughout has one measure: a
        page of the store then holds two answers.
        """
        few = list if exact else _rounded
        return [
            list(self.shares) if exact else _whole(self.shares),
            [
                [r.rule, r.subject.as_dict(), list(r.split) if exact else _whole(r.split), few(r.found)]
                for r in self.rules
            ],
            {k: few(m) for k, m in self.measures.items()},
            [
                [
                    s.name,
                    s.fire,
                    [[x.name, *_faces(x, few)] for x in s.layers],
                    few(s.bow_mm),
                    few(s.plastic_strain),
                    few(s.release),
                    *(() if s.left_mm is None else (few(s.left_mm),)),
                ]
                for s in self.stages
            ],
            self.decides,
        ]

    @classmethod
    def from_plain(cls, plain: list[object]) -> Numbers:
        """The inverse of `to_plain`."""
        shares, rules, measures, stages, decides = plain
        assert isinstance(rules, list)
        assert isinstance(measures, dict)
        assert isinstance(stages, list)
        return cls(
            _triple(shares),
            tuple(
                RuleNumbers(str(key), Subject(**subject), _triple(split), _triple(found))
                for key, subject, split, found in rules
            ),
            {k: _triple(m) for k, m in measures.items()},
            tuple(
                SampledStage(
                    name,
                    int(fire),
                    tuple(
                        SampledLayer(n, *map(_triple, faces * 3 if len(faces) == 1 else faces)) for n, *faces in layers
                    ),
                    _triple(bow),
                    _triple(plastic),
                    _triple(release),
                    _triple(left[0]) if left else None,
                )
                for name, fire, layers, bow, plastic, release, *left in stages
            ),
            str(decides),
        )


def worst_of_each(rules: tuple[RuleNumbers, ...]) -> list[RuleNumbers]:
    """Each rule at its worst subject only: the worst stage of a build counts."""
    worst: dict[str, RuleNumbers] = {}
    for row in rules:
        held = worst.get(row.rule)
        if held is None or (row.split[::-1], row.found[0]) > (held.split[::-1], held.found[0]):
            worst[row.rule] = row
    return list(worst.values())


def _whole(shares: Triple) -> list[float]:
    # A share of 128 draws has seven decimals; fewer would let equal shares differ once they are stored.
    return [round(x, 7) for x in shares]


def _rounded(triple: Triple) -> list[float] | float:
    # A balanced plate's bow is zero up to rounding; the rounding is not worth keeping.
    rounded = [float(f"{x:.6g}") if abs(x) > 1e-9 else 0.0 for x in triple]
    return rounded[0] if rounded[0] == rounded[1] == rounded[2] else rounded


def _faces(layer: SampledLayer, few: Callable[[Triple], object]) -> list[object]:
    faces = [few(t) for t in layer[1:] if t is not None]
    return faces[:1] if len(faces) == 3 and faces[0] == faces[1] == faces[2] else faces


def _triple(values: object) -> Triple:
    if isinstance(values, float | int):
        return (float(values),) * 3
    assert isinstance(values, (list, tuple))
    a, b, c = values
    return (float(a), float(b), float(c))
