"""Which build of tile would tell most of a jar's expansion next."""

from __future__ import annotations

from refdb.errors import RefdbError
from refdb.frozen import dataclass
from refdb.judge.own.tile_update import Learnt, sizes_of
from refdb.science.inference.tiles import expected_gain

#: Metal, front and back that can be cut, sifted and fired as a tile [mm] (common practice).
BUILDS_MM = (
    (0.3, 0.1, 0.0),
    (0.3, 0.2, 0.0),
    (0.3, 0.2, 0.2),
    (0.5, 0.1, 0.0),
    (0.5, 0.2, 0.0),
    (0.5, 0.3, 0.0),
    (0.5, 0.3, 0.3),
    (0.8, 0.2, 0.0),
    (0.8, 0.3, 0.0),
    (0.8, 0.5, 0.0),
    (0.8, 0.3, 0.3),
)
#: A build has to tell so many times as much as another tile like the last to be worth naming (our judgement).
WORTH_IT = 1.5
#: Less than this tells next to nothing [bit]: a coin-toss whose odds the tile moves by a tenth (our judgement).
LEAST_BIT = 0.01


@dataclass(frozen=True)
class TileAdvice:
    """The build that would tell most, of one metal [mm], and what it and one more of the last build tell [bit]."""

    metal: str
    metal_mm: float
    front_mm: float
    back_mm: float
    gain_bit: float
    last_bit: float

    @property
    def tells(self) -> bool:
        """Whether even the best build tells anything to speak of."""
        return self.gain_bit >= LEAST_BIT

    @property
    def worth_it(self) -> bool:
        """Whether it tells clearly more than one more of the last."""
        return self.tells and self.gain_bit >= WORTH_IT * self.last_bit


def which_tile(learnt: Learnt) -> TileAdvice | None:
    """The build that is expected to tell most of the expansion, of the metal of the last tile that told something.

    The expected information gain of each build of `BUILDS_MM` under the belief after, what all tiles of the jar share
    averaged out. None where no tile can be foretold, or for a kiln.
    """
    seen = learnt.tiles or learnt.counted
    plates = learnt.foretold
    if plates is None or not seen or seen[-1].metal not in plates.metals:
        return None
    last = seen[-1]
    try:
        own = expected_gain(learnt.update, plates.tile(last.metal, *sizes_of(last)))
        gains = {
            (metal, front, back): expected_gain(
                learnt.update, plates.tile(last.metal, metal * 1e-3, front * 1e-3, back * 1e-3)
            )
            for metal, front, back in BUILDS_MM
        }
    except RefdbError:
        return None
    best = max(gains, key=lambda build: gains[build])
    return TileAdvice(last.metal, *best, gains[best], own)
