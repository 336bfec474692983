"""A person's own tiles beside a computed verdict: what each says of the fit, and whether the two agree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.frozen import dataclass
from refdb.judge.fit.build import Build
from refdb.judge.reason import NOT, ORDER, SUITS, UNSURE
from refdb.judge.rules import FULL_COVERAGE
from refdb.quantities.band import Band
from refdb.records import OwnTile

if TYPE_CHECKING:
    from refdb.judge.piece.steps import Piece
    from refdb.judge.verdict import Verdict
    from refdb.store.reference import Reference

#: Outcomes that tell of stress; the others tell of heat, dirt or the hand.
BROKEN = {"crazed", "chipped", "cracked"}
AGREES, DIFFERS, SILENT = "agrees", "disagrees", "says nothing of the fit"
#: Thicknesses further apart than this share, or this many mm, make another build.
_SHARE, _MM = 0.25, 0.05


@dataclass(frozen=True)
class TileSeen:
    """A tile that bears on a question, and how it stands to the verdict; `another_build` where thicknesses differ."""

    tile: OwnTile
    stands: str
    another_build: bool

    def as_dict(self) -> dict[str, Any]:
        """For JSON: the tile as it was written down, with how it stands to the verdict."""
        return {
            **{n: getattr(self.tile, n) for n in self.tile.__match_args__},
            "stands": self.stands,
            "another_build": self.another_build,
        }

    @property
    def text(self) -> str:
        """One line: number, date, outcome, build, and how it stands to the verdict."""
        t = self.tile
        faces = " and ".join(
            f"{mm:g} mm on the {face}" for mm, face in ((t.front_mm, "front"), (t.back_mm, "back")) if mm
        )
        fired = " ".join(
            x
            for x in (
                f"at {t.kiln_c:.0f} °C" if t.kiln_c is not None else "",
                f"for {t.minutes:g} min" if t.minutes is not None else "",
            )
            if x
        )
        build = ", ".join(x for x in (f"{t.metal_mm:g} mm of metal" if t.metal_mm else "", faces, fired) if x)
        words = f"tile:{t.number}, {t.date}: {t.outcome}{f', {t.showed}' if t.showed else ''}"
        end = self.stands if self.stands == SILENT else f"{self.stands} with the verdict"
        other = ", of another build than asked" if self.another_build else ""
        return f"{words}{f' ({build})' if build else ''}; it {end}{other}.{f' {t.note}' if t.note else ''}"


def tiles_seen(ref: Reference, glass: str, metal: str, build: Build, outcome: str) -> tuple[TileSeen, ...]:
    """Own tiles of a glass on a metal, beside a verdict of this outcome; disagreeing ones of the same build first."""
    seen = [TileSeen(t, stands(t.outcome, outcome), _other(t, build)) for t in ref.tiles(glass, metal)]
    return tuple(sorted(seen, key=lambda s: (s.another_build, s.stands != DIFFERS)))


def otherwise(seen: tuple[TileSeen, ...]) -> str:
    """What to do where own tiles of the build asked for disagree with a verdict; empty where none does."""
    telling = [one.stands for one in seen if not one.another_build and one.stands != SILENT]
    against = telling.count(DIFFERS)
    if not against:
        return ""
    told = f"{against} of {len(telling)} say" if len(telling) > 1 else "it says"
    return f"Your own tile{'s come' if len(telling) > 1 else ' comes'} before this verdict: {told} otherwise."


#: Rules of a piece that a tile's crazing or chipping bears on.
_OF_FIT = ("tension-lasting", "tension-between", "gap", "glass-of-metal", "faces-alike", "one-face", "least-metal")


def tiles_of_piece(ref: Reference, piece: Piece, verdict: Verdict) -> tuple[TileSeen, ...]:
    """Own tiles of a piece's glasses on its base, beside its verdict.

    Parameters
    ----------
    ref : Reference
        The store; with a person's own shelf it has tiles.
    piece : Piece
    verdict : Verdict
        Of that piece.

    Returns
    -------
    tuple of TileSeen
        Disagreeing ones of the same build first. A tile is held against what the verdict finds of the fit alone, and
        of the contraction gap of its own glass, not against heat, order or use. It is of another build where its
        thicknesses differ from those of the finished piece, and always where the piece carries several glasses.
    """
    last = max((s.number for s in piece.steps if s.do == "fire"), default=0)
    coats = [s for s in piece.steps if s.do == "coat" and s.thickness_m is not None and s.number < last]
    glasses = tuple(dict.fromkeys(s.glass for s in coats))

    def face(name: str) -> Band:
        laid = [(s.thickness_m, s.coverage) for s in coats if s.face == name and s.thickness_m is not None]
        # Where a coat covers a part of the face, the glass is thinner beside it.
        return Band(
            sum(b.value for b, _ in laid),
            sum(b.low for b, share in laid if share >= FULL_COVERAGE),
            sum(b.high for b, _ in laid),
        )

    build = Build(metal_m=piece.base.thickness_m, front_m=face("front"), back_m=face("back"))
    seen = [
        TileSeen(t, stands(t.outcome, _fit_of(glass, verdict)), len(glasses) > 1 or _other(t, build))
        for glass in glasses
        for t in ref.tiles(glass, piece.base.metal)
    ]
    return tuple(sorted(seen, key=lambda s: (s.another_build, s.stands != DIFFERS)))


def _fit_of(glass: str, verdict: Verdict) -> str:
    """What a verdict on a piece finds of the fit of one of its glasses; `cannot say` where it finds nothing of it."""
    if verdict.outcome == UNSURE:
        return UNSURE
    found = [r.outcome for r in verdict.reasons if r.rule in _OF_FIT and (r.rule != "gap" or r.subject.glass == glass)]
    return max(found, key=ORDER.__getitem__, default=UNSURE)


def stands(tile_outcome: str, outcome: str) -> str:
    """How the outcome of a tile stands to a verdict: a sound one against a refusal, a broken one against a plain yes.

    A verdict of `suits with care` or `cannot say` leaves room for both.
    """
    words = {w.strip() for w in tile_outcome.split(";")}
    if words & BROKEN:
        return DIFFERS if outcome == SUITS else AGREES
    if "sound" in words:
        return DIFFERS if outcome == NOT else AGREES
    return SILENT


def _other(tile: OwnTile, build: Build) -> bool:
    pairs = ((tile.metal_mm, build.metal_m), (tile.front_mm, build.front_m), (tile.back_mm, build.back_m))
    return any(
        mm is not None and not band.low * 1e3 - max(_MM, _SHARE * mm) <= mm <= band.high * 1e3 + max(_MM, _SHARE * mm)
        for mm, band in pairs
    )
