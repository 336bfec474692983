"""Which clear goes over this leaf: every clear put into the whole stack on the metal, judged and ranked."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import TYPE_CHECKING

from refdb.errors import BadInput
from refdb.frozen import replace
from refdb.judge import limits
from refdb.judge.evidence import GRADES
from refdb.judge.naming import Taking
from refdb.judge.piece.steps import Base, Piece, Step
from refdb.judge.piece.verdict import judge_pieces
from refdb.judge.ranking import Ranked, Ranking, in_places
from refdb.judge.reason import NOT, ORDER, SUITS, Reason
from refdb.judge.rules import RULES
from refdb.judge.verdict import Verdict
from refdb.judge.wording import Context, Told, told
from refdb.quantities.typed import Band
from refdb.records import Glass, Metal
from refdb.words import upper_first

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: What lies under the leaf where nothing is said: the first of these that the metal bears.
USUAL_UNDER = "clear-hard-lead-free"
#: What is typed for leaf laid on the metal itself.
BARE = "bare"
_BEDS = (USUAL_UNDER, "clear-medium-lead-free", "clear-soft-lead-free")
#: A small piece: thicknesses after firing [m].
METAL_M, UNDER_M, OVER_M, SIDE_M = 0.8e-3, 0.15e-3, 0.15e-3, 0.03


def is_clear(glass: Glass) -> bool:
    """Whether a glass is a colourless transparent made as an enamel."""
    return glass.optical == "transparent" and not glass.colourant and glass.role != "not an enamel"


def clears(ref: Reference, leaf: str, metal: str, under: str | None = None) -> Ranking:
    """Every clear of the store over a leaf, best first.

    Parameters
    ----------
    ref : Reference
        The open store.
    leaf, metal : str
        Keys or names of the leaf and of the base.
    under : str, optional
        Key or name of the glass beneath the leaf, or "bare" for leaf laid on the metal itself; where nothing is said,
        the `usual_bed`.

    Returns
    -------
    Ranking
        Best first: by outcome, the chance of refusal in tenths, whether anything stands against this clear alone, and
        what it rests on. Clears alike in all four tie.

    Raises
    ------
    NotFound, BadInput, StoreUnusable

    Examples
    --------
    >>> import refdb
    >>> with refdb.open_reference() as ref:
    ...     found = refdb.clears(ref, "gold-foil-24k", "fine-silver-clay")
    >>> found[0].place, found.rows()[0]["verdict"]
    (1, 'suits with care')
    """
    names = Taking(ref)
    leaf, base = names.leaf(leaf).key, names.metal(metal)
    metal = base.key
    bed = bed_of(ref, base, under)
    if bed is not None and bed.role == "line work":
        raise BadInput(f"{bed.small} is no bed for leaf", "under", "name a clear or a base coat")
    glasses = [g for g in ref.materials("glass") if isinstance(g, Glass) and is_clear(g)]
    # What is chosen here are heats that suit the glasses, whatever the person's kiln has to be set to for them.
    verdicts = judge_pieces(ref, [piece_of(leaf, base, bed, glass) for glass in glasses], heats=True)
    rows = list(zip(glasses, verdicts, strict=True))
    against = [_against(verdict) for verdict in verdicts]
    common = _common(against)
    own = [[r for key, r in a.items() if key not in common] for a in against]
    return in_places(
        (_key(verdict, mine), glass, verdict, _because(mine, verdict.context))
        for (glass, verdict), mine in zip(rows, own, strict=True)
    )


def bed_of(ref: Reference, metal: Metal, under: str | None = None, names: Taking | None = None) -> Glass | None:
    """The glass beneath a leaf: that of the name `under`, None for "bare", the `usual_bed` where nothing is said.

    Raises
    ------
    NotFound
        No glass has that key.
    """
    if under is None or not under.strip():
        return usual_bed(ref, metal)
    return None if under.strip().lower() == BARE else (names or Taking(ref)).glass(under.strip(), "under")


def usual_bed(ref: Reference, metal: Metal) -> Glass:
    """The clear that lies under leaf where nothing is said: hard, or the hardest that this metal bears."""
    beds = [ref.glass(key) for key in _BEDS]
    solidus = metal.band("solidus")
    if solidus is None:
        return beds[0]
    ceiling = solidus.low - limits.SOLIDUS_MARGIN_K
    return next((bed for bed in beds if (low := bed.band("fuse_low")) is not None and low.value <= ceiling), beds[0])


def _against(verdict: Verdict) -> dict[Hashable, Reason]:
    """What stands against a clear, worst first, each by what makes it the same objection against another.

    The same rule at another outcome is not the same objection, and neither is another number; a row of the store that
    names no glass in its words is the same whichever clear it is about.
    """
    found: dict[Hashable, Reason] = {}
    for reason in (r for r in verdict.reasons if r.outcome != SUITS):
        about = replace(reason.subject, step=None, fire=None)
        if reason.rule not in RULES:
            about = replace(about, glass="")
        found.setdefault((reason.rule, reason.outcome, about, reason.found), reason)
    return found


def _common(against: Sequence[Mapping[Hashable, Reason]]) -> set[Hashable]:
    return set.intersection(*(set(a) for a in against)) if against else set()


def against_all(ranked: Sequence[Ranked]) -> list[Told]:
    """What stands against every clear of a ranking alike, in words."""
    against = [_against(r.verdict) for r in ranked]
    common = _common(against)
    return [told(r, ranked[0].verdict.context) for key, r in against[0].items() if key in common] if against else []


def against_each(ranked: Sequence[Ranked]) -> list[list[Told]]:
    """What stands against each clear of a ranking and not against all of them, worst first, in words."""
    against = [_against(r.verdict) for r in ranked]
    common = _common(against)
    return [
        [told(r, one.verdict.context) for key, r in found.items() if key not in common]
        for one, found in zip(ranked, against, strict=True)
    ]


def _because(reasons: list[Reason], context: Context) -> str:
    """The worst of a clear's own reasons, in words."""
    if not reasons:
        return ""
    worst = told(reasons[0], context)
    return worst.found.rstrip(".") if isinstance(worst.found, str) else upper_first(worst.head)


def piece_of(leaf: str, metal: Metal, bed: Glass | None, clear: Glass) -> Piece:
    """A small flat piece: bed, counter enamel of the bed's glass, leaf, and the clear, each fired as it wants."""
    steps: list[Step] = []

    def add(do: str, **given: object) -> None:
        steps.append(Step(len(steps) + 1, do, **given))  # type: ignore[arg-type]

    def fire(glass: Glass, on: float | None = None) -> None:
        heat = setting(glass, metal)
        add("fire", kiln_c=heat if on is None or heat is None else min(heat, on))

    back = bed or clear
    add("clean", face="front")
    add("clean", face="back")
    add("mask", face="back")
    if bed is not None:
        add("coat", glass=bed.key, thickness_m=Band.exact(UNDER_M), washed=True)
        fire(bed)
        add("clean", face="back")
        add("coat", face="back", glass=back.key, thickness_m=Band.exact(UNDER_M + OVER_M))
        fire(back)
    add("leaf", leaf=leaf)
    fire(bed or clear, setting(clear, metal))
    add("coat", glass=clear.key, thickness_m=Band.exact(OVER_M), washed=True)
    if bed is None:
        add("clean", face="back")
        add("coat", face="back", glass=back.key, thickness_m=Band.exact(OVER_M))
    fire(clear)
    return Piece("leaf under a clear", SIDE_M, SIDE_M, Base(metal.key, Band.exact(METAL_M)), tuple(steps))


def setting(glass: Glass, metal: Metal) -> float | None:
    """The middle of a glass's kiln range, kept below the metal's melting where the range allows [°C]."""
    low, high, solidus = glass.band("fuse_low"), glass.band("fuse_high"), metal.band("solidus")
    if low is None or high is None:
        return None
    middle = (low.value + high.value) / 2
    if solidus is not None:
        middle = max(low.value, min(middle, solidus.low - limits.SOLIDUS_MARGIN_K - 5.0))
    return round(middle)


def _key(verdict: Verdict, own: list[Reason]) -> tuple[int, int, bool, int]:
    grade = GRADES.index(verdict.evidence.grade) if verdict.evidence is not None else len(GRADES)
    return ORDER[verdict.outcome], round(verdict.shares.get(NOT, 0.0) * 10), bool(own), grade
