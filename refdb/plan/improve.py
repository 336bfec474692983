"""The fewest changes to a piece file that make it hold, each tried on the plate."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.errors import RefdbError
from refdb.frozen import dataclass
from refdb.judge import limits
from refdb.judge.piece.steps import Piece
from refdb.judge.piece.verdict import judge_pieces
from refdb.judge.reason import CARE, NOT, ORDER, SUITS
from refdb.judge.verdict import Verdict
from refdb.plan.edits import FOR, THICKER_TENTHS, WANTED, Edit
from refdb.plan.piece_text import PieceText
from refdb.plan.piecefile import parse_piece
from refdb.store.reference import Reference

#: A piece that needs more changes than this is another piece.
MOST_EDITS = 8


@dataclass(frozen=True)
class Improved:
    """What was found: the edits in their order, the text with all of them, and the verdicts before and after."""

    edits: tuple[Edit, ...]
    text: str
    before: Verdict
    after: Verdict

    @property
    def holds(self) -> bool:
        """Whether the piece holds in nine of ten draws with the edits."""
        return holds(self.after)


def holds(verdict: Verdict) -> bool:
    """Whether a piece holds in nine of ten draws, and nothing forbids it."""
    return verdict.outcome in (SUITS, CARE) and verdict.shares.get(NOT, 0.0) < limits.HOLDS_BELOW


def improve_text(ref: Reference, text: str, where: str = "piece") -> Improved:
    """Search the fewest edits of a piece file that make it hold.

    Parameters
    ----------
    ref : Reference
        The open store.
    text : str
        Of the file.
    where : str
        How it is called in faults.

    Returns
    -------
    Improved
        Edit by edit the one that helps most is taken, until it holds and no fire lacks slow cooling, nothing helps, or
        `MOST_EDITS` were taken. An edit of a value that was set before takes the place of the earlier one.

    Raises
    ------
    NotFound, BadInput, StoreUnusable
    """
    piece = parse_piece(text, ref, where)
    (before,) = judge_pieces(ref, [piece])
    written, verdict, taken = PieceText.of(text, len(piece.steps)), before, list[Edit]()
    thickest_mm = piece.base.thickness_m.value * 1e3 + THICKER_TENTHS / 10
    for _ in range(MOST_EDITS):
        if holds(verdict) and not _wants(verdict):
            break
        rules = WANTED if holds(verdict) else tuple(FOR)
        edits = [e for e in _edits(ref, written, piece, verdict, rules) if e.metal_mm <= thickest_mm + 1e-9]
        found = _best(ref, edits, where, _score(verdict))
        if found is None:
            break
        edit, piece, verdict = found
        taken = [*_without(taken, edit), edit]
        written = edit.text
    return Improved(tuple(taken), written.text, before, verdict)


def _without(taken: Sequence[Edit], edit: Edit) -> list[Edit]:
    """The edits less the one whose value this one sets anew; a step keeps its number only until others are added."""
    if not edit.sets:
        return list(taken)
    added = max((k for k, earlier in enumerate(taken) if not earlier.sets), default=-1)
    since = -1 if edit.metal_mm else added
    return [earlier for k, earlier in enumerate(taken) if k <= since or earlier.sets != edit.sets]


def _wants(verdict: Verdict) -> bool:
    """Whether a deed is wanted that a word in the file settles, though the piece holds."""
    return any(r.rule in WANTED and r.outcome != SUITS for r in verdict.reasons)


def _best(
    ref: Reference, edits: Sequence[Edit], where: str, present: tuple[float, ...]
) -> tuple[Edit, Piece, Verdict] | None:
    """The edit that helps most, with its piece and verdict; None where none helps."""
    tried: list[tuple[Edit, Piece]] = []
    for edit in edits:
        try:
            tried.append((edit, parse_piece(edit.text.text, ref, where)))
        except RefdbError:
            continue
    verdicts = judge_pieces(ref, [piece for _, piece in tried]) if tried else []
    scored = [(_score(verdict), k) for k, verdict in enumerate(verdicts)]
    if not scored or min(scored)[0] >= present:
        return None
    # Of those that make it hold the smallest is enough; they stand in order of size.
    enough = [(score[-1], k) for score, k in scored if holds(verdicts[k])]
    best = min(enough)[1] if enough else min(scored)[1]
    return (*tried[best], verdicts[best])


def _score(verdict: Verdict) -> tuple[float, ...]:
    """Less is better: what forbids it, draws that fail beyond what is allowed, then what wants care."""
    forbids = sum(r.outcome == NOT and r.split is None for r in verdict.reasons)
    fails = max((r.split[2] for r in verdict.reasons if r.split is not None), default=0.0)
    all_fail = verdict.shares.get(NOT, 0.0) if verdict.shares else float(ORDER[verdict.outcome] > 0)
    care = sum(r.outcome != SUITS for r in verdict.reasons)
    return forbids, round(max(all_fail, fails), 3), care


def _edits(ref: Reference, text: PieceText, piece: Piece, verdict: Verdict, rules: Sequence[str]) -> list[Edit]:
    """Every edit that findings of some rules call for; a setting or a coat may be called for more than once."""
    found: dict[str, Edit] = {}
    for reason in verdict.reasons:
        if reason.outcome != SUITS and reason.rule in rules:
            for make in FOR.get(reason.rule, ()):
                found |= {edit.words: edit for edit in make(ref, text, piece, reason)}
    return list(found.values())
