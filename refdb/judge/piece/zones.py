"""Parts of a piece whose metal and glass are not as thick as elsewhere: the ends of a recess, its land, an inset.

Each is judged as a plate of its own. The glass over a recess is taken to end level: no glass is lost, so that what a
deep place takes is missing on the land, and coats are thicker in the same proportion.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from refdb.frozen import dataclass, field
from refdb.judge import limits
from refdb.judge.piece.states import Coat, Fire, Walk
from refdb.judge.piece.steps import FACES, Step
from refdb.judge.reason import DEEPEST, INSET, LAND, SHALLOWEST

#: Less glass than this on the land is wiped or stoned off [m].
BARE_M = 0.02e-3


@dataclass(frozen=True)
class Zone:
    """One part: its name, the metal cut away [m], and by face how thick its coats are, as a share of what is told.

    `shares` holds for each face the share of coats within a recess and that of others. `inset` is the glass set in.
    """

    name: str = ""
    cut_m: float = 0.0
    shares: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    inset: Coat | None = None

    def share(self, coat: Coat) -> float:
        """How thick a coat is here, as a share of what is told of it."""
        within, over = self.shares.get(coat.face, (1.0, 1.0))
        return within if coat.step.within == "recess" else over


PLAIN = Zone()


def zones_of(trail: Walk) -> tuple[Zone, ...]:
    """The parts of a piece that have to be judged; of one without recess and inset only the whole.

    Parameters
    ----------
    trail : Walk

    Returns
    -------
    tuple of Zone
        The deepest and the shallowest place and the land of its recesses, then where the thickest glass is set in.
    """
    recesses = trail.piece.steps_of("recess")
    found = list(_of_recess(trail, recesses)) if recesses else [PLAIN]
    insets = [c for c in trail.coats if c.step.do == "inset"]
    if insets:
        thickest = max(insets, key=lambda c: c.thickness_m.value)
        mean = _zone(trail, recesses, INSET, [depth_m(r)[1] for r in recesses])
        found.append(Zone(INSET, mean.cut_m, mean.shares, thickest))
    return tuple(found)


def is_spot(coat: Coat) -> bool:
    """Whether a coat is no more than a spot on its face.

    A spot cannot bend the piece. In the plate it is a layer thinned by its share of the face: it takes the strain of
    the piece there, as an inclusion in a coat does, and its stress is its own.
    """
    return coat.is_plate and coat.step.coverage <= limits.SPOT_COVERS


def depth_m(recess: Step) -> tuple[float, float, float]:
    """The shallowest, mean and deepest place of a recess [m]."""
    assert recess.depth_m is not None
    return recess.depth_m.low, recess.depth_m.value, recess.depth_m.high


def _of_recess(trail: Walk, recesses: Sequence[Step]) -> Iterator[Zone]:
    yield _zone(trail, recesses, DEEPEST, [depth_m(r)[2] for r in recesses])
    if any(depth_m(r)[0] < depth_m(r)[2] for r in recesses):
        yield _zone(trail, recesses, SHALLOWEST, [depth_m(r)[0] for r in recesses])
    if any(r.coverage < 1.0 for r in recesses):
        yield _zone(trail, recesses, LAND, [None for _ in recesses])


def _zone(trail: Walk, recesses: Sequence[Step], name: str, depths: Sequence[float | None]) -> Zone:
    """A zone so deep in each recess, or on the land of it."""
    shares = {r.face: _shares(trail, r, depth) for r, depth in zip(recesses, depths, strict=True)}
    return Zone(name, sum(d for d in depths if d is not None), shares)


def _shares(trail: Walk, recess: Step, depth: float | None) -> tuple[float, float]:
    """How thick coats within a recess and over it are at a depth, or on its land, as shares of what is told."""
    within_m, over_m = filled_m(trail, recess)
    in_recess, land = level_m(trail, recess)
    if depth is None:
        return 0.0, land / over_m if land > BARE_M else 0.0
    if within_m + over_m <= 0.0:
        return 1.0, 1.0
    share = max(in_recess + depth - depth_m(recess)[1], 0.0) / (within_m + over_m)
    return share, share


def level_m(trail: Walk, recess: Step) -> tuple[float, float]:
    """How thick glass lies in a recess where it is of its mean depth, and on its land [m]."""
    within_m, over_m = filled_m(trail, recess)
    cover = recess.coverage
    # What coats over the whole face still have to fill up to the land.
    hollow = max(depth_m(recess)[1] - within_m, 0.0)
    land = max(over_m - cover * hollow, 0.0)
    return within_m + min(over_m + hollow * (1.0 - cover), over_m / cover), land


def filled_m(trail: Walk, recess: Step) -> tuple[float, float]:
    """Glass on the face of a recess as it is told [m]: what lies within it, and over the whole face."""
    coats = [c for c in trail.coats if c.is_plate and c.face == recess.face]
    thick = [(c.step.within == "recess", c.thickness_m.value * c.step.coverage) for c in coats]
    return sum(t for inside, t in thick if inside), sum(t for inside, t in thick if not inside)


def layers_m(trail: Walk, fire: Fire, name: str) -> list[float]:
    """Thickness of every layer of a zone in a firing [m], from the outermost of the back to that of the front."""
    zone = next((z for z in zones_of(trail) if z.name == name), PLAIN)
    coats = [c for c in trail.coats if c.number in fire.coats and (c.is_plate or c is zone.inset)]
    thick = {
        c.number: c.thickness_m.value * (1.0 if c is zone.inset else c.step.coverage * zone.share(c)) for c in coats
    }
    back, front = ([c for c in coats if c.face == face and thick[c.number] > 0.0] for face in reversed(FACES))
    metal_m = trail.piece.base.thickness_m.value - zone.cut_m
    return [*(thick[c.number] for c in reversed(back)), metal_m, *(thick[c.number] for c in front)]
