"""The judge: the verdict on a whole piece, firing by firing; a question about a glass on a metal is a small piece."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from refdb.frozen import dataclass, replace
from refdb.judge import decision
from refdb.judge.cautions import caution_of, hazards_of_techniques
from refdb.judge.clay import as_sintered
from refdb.judge.evidence import evidence_of
from refdb.judge.needs import missing_figures
from refdb.judge.numbers import Numbers, worst_of_each
from refdb.judge.own import kiln
from refdb.judge.own.tiles import tiles_of_piece
from refdb.judge.piece.fixed_rules import findings
from refdb.judge.piece.known import Known
from refdb.judge.piece.pull_through import prepare, rising
from refdb.judge.piece.reasons import of_question, reason_of
from refdb.judge.piece.rules_of_cooling import slow_cooling
from refdb.judge.piece.rules_of_laying import fire_times
from refdb.judge.piece.rules_of_order import on_metal
from refdb.judge.piece.shared import Shared
from refdb.judge.piece.states import Walk, walk
from refdb.judge.piece.steps import Piece, in_mm
from refdb.judge.reason import NOT, RANK, Measure, Reason, Triple
from refdb.judge.verdict import Caution, Verdict
from refdb.judge.wording import Context
from refdb.records import KilnOffset, Metal

if TYPE_CHECKING:
    from multiprocessing.pool import Pool

    from refdb.store.reference import Reference

#: So many pieces are sampled at a time; more would only take memory.
_TOGETHER = 64
#: Units of what is measured of a piece or a question.
_UNITS = {
    "gap_ppm": "ppm",
    "glass_expansion_ppm_per_k": "ppm/K",
    "metal_expansion_ppm_per_k": "ppm/K",
    "set_point_c": "°C",
    "metal_thickness_mm": "mm",
    "kiln_low_c": "°C",
    "kiln_high_c": "°C",
    "front_mm": "mm",
    "back_mm": "mm",
}


def judge_piece(ref: Reference, piece: Piece) -> Verdict:
    """Judge a piece.

    Parameters
    ----------
    ref : Reference
        The open store.
    piece : Piece
        As read from its file.

    Returns
    -------
    Verdict
        One stage a firing; each reason names its step.

    Raises
    ------
    NotFound, BadInput, StoreUnusable
    """
    return judge_pieces(ref, [piece])[0]


def judge_pieces(ref: Reference, pieces: Sequence[Piece], workers: int = 1, *, heats: bool = False) -> list[Verdict]:
    """Judge many pieces; what the store holds on them is looked up once, and what they have in common done once.

    A person's own kiln is judged by what it is: every setting is moved by how much hotter `ref` says that it is than
    it shows. The pieces themselves stay as they are.

    Parameters
    ----------
    ref : Reference
        The open store.
    pieces : sequence of Piece
        As read from their files.
    workers : int
        Processes to share the work; more than one only for many pieces. Where a process cannot be forked, each opens
        the store for itself, and a program that calls this has to be one that can be imported.
    heats : bool
        Whether the fires of the pieces are heats already, whatever a kiln has to be set to for them.

    Returns
    -------
    list of Verdict
        Those of `judge_piece`, in the order of the pieces.

    Raises
    ------
    NotFound, BadInput, StoreUnusable
    """
    shared = Shared(ref, None if heats else ref.kiln_offset())
    groups = [pieces[k : k + _TOGETHER] for k in range(0, len(pieces), _TOGETHER)]
    workers = min(workers, len(groups))
    if workers < 2:
        verdicts = [verdict for group in groups for verdict in _judged(shared, group)]
    else:
        with _pool(workers, ref, shared, pieces) as pool:
            verdicts = [verdict for judged in pool.imap(_judged_by_worker, groups) for verdict in judged]
    return [
        replace(verdict, tiles=tiles_of_piece(ref, piece, verdict))
        for piece, verdict in zip(pieces, verdicts, strict=True)
    ]


#: What a worker process judges by; empty in the process that was started by a person.
_inherited: list[Shared] = []


def _pool(workers: int, ref: Reference, shared: Shared, pieces: Sequence[Piece]) -> Pool:
    """Processes that judge pieces."""
    import multiprocessing

    # macOS has forks too, but what lies beneath its libraries is not made to go on in one.
    if sys.platform.startswith("linux"):
        # The store's connection must not be used on both sides of a fork.
        shared.look_up(pieces)
        return multiprocessing.get_context("fork").Pool(workers, _inherit, (shared,))
    return multiprocessing.get_context("spawn").Pool(workers, _open, (ref.opening(), shared.kiln))


def _open(opening: Callable[[], Reference], own_kiln: KilnOffset | None) -> None:
    _inherit(Shared(opening(), own_kiln))


def _inherit(shared: Shared) -> None:
    _inherited[:] = [shared]


def _judged_by_worker(pieces: Sequence[Piece]) -> list[Verdict]:
    return _judged(_inherited[0], pieces)


def _judged(shared: Shared, pieces: Sequence[Piece]) -> list[Verdict]:
    offset_k = kiln.offset_of(shared.kiln)
    followed = []
    for piece in pieces:
        glasses = {k: shared.glass(k) for k in {s.glass for s in piece.steps if s.glass}}
        leaves = {k: shared.leaf(k) for k in {s.leaf for s in piece.steps if s.leaf}}
        trail = walk(piece, glasses, leaves, offset_k)
        trail.metals = {s.metal: shared.metal(s.metal) for s in piece.steps if s.metal}
        followed.append(follow(trail, as_sintered(shared.metal(piece.base.metal), piece.base.sintered)))
    prepare((f.trail, f.metal) for f in followed)
    found = [findings_of(shared, f) for f in followed]
    sampled = iter(sample([f for f in followed if f.can_be_sampled]))
    return [
        verdict_of(
            shared, f, fixed, next(sampled) if f.can_be_sampled else None, _question(f.trail, f.metal, shared.kiln)
        )
        for f, fixed in zip(followed, found, strict=True)
    ]


@dataclass(frozen=True)
class Followed:
    """One piece followed through its steps: its walk, its metal, and what a sample of it would need and lacks."""

    trail: Walk
    metal: Metal
    missing: tuple[str, ...]
    can_be_sampled: bool


def follow(trail: Walk, metal: Metal) -> Followed:
    """A piece that was walked, and whether it can be sampled."""
    missing = tuple(dict.fromkeys(m for glass in trail.solid.values() for m in missing_figures(glass, metal)))
    fired = any(not trail.coats[n].line for f in trail.fires for n in f.coats)
    return Followed(trail, metal, missing, fired and not missing)


def sample(followed: Sequence[Followed]) -> list[Numbers]:
    """The sampled numbers of pieces that can be sampled."""
    return sample_beside(followed, ())[0]


def sample_beside(followed: Sequence[Followed], others: Sequence[Followed]) -> tuple[list[Numbers], list[Triple]]:
    """The sampled numbers of pieces that can be sampled, and of others the shares of their outcomes alone."""
    if not followed and not others:
        return [], []
    from refdb.judge.piece import sample as sampling

    whole, beside = ([(f.trail, f.metal) for f in some] for some in (followed, others))
    return sampling.sample_beside(whole, beside)


def findings_of(shared: Shared, followed: Followed) -> list[Reason]:
    """All that is found without a sample; of a question only what its rules speak of."""
    trail, metal = followed.trail, followed.metal
    if trail.piece.is_question:
        held = shared.rows.holding(trail.coats[0].glass, metal)
        found = [*{r.rule: r for r in on_metal(trail, metal, held)}.values(), *slow_cooling(trail)]
    else:
        rows = shared.rows
        known = Known(metal, rows.fit_rules, rows.contacts, rows.solders, rows.reactions, trail.metals)
        found = [
            *findings(trail, known),
            *rising(trail, metal, shared.firings),
            *fire_times(trail, metal, shared.firings),
        ]
    return found


def verdict_of(
    shared: Shared,
    followed: Followed,
    fixed: Sequence[Reason],
    numbers: Numbers | None,
    question: dict[str, Any],
    more_sources: Sequence[str] = (),
) -> Verdict:
    """The verdict from all that was found, sampled and not.

    Parameters
    ----------
    shared : Shared
    followed : Followed
    fixed : sequence of Reason
        From `findings_of`.
    numbers : Numbers or None
        From `sample`, or as they are stored; None where it could not be sampled.
    question : dict
        The question as the answer repeats it.
    more_sources : sequence of str
        Keys of sources behind the figures, besides those of reasons and cautions.
    """
    trail, metal, missing = followed.trail, followed.metal, followed.missing
    sampled: list[Reason] = []
    if numbers is not None:
        rows = worst_of_each(numbers.rules) if trail.piece.is_question else numbers.rules
        sampled = [reason_of(row, numbers, trail, metal) for row in rows]
    floor = max((RANK[r.outcome] for r in fixed), default=0)
    shares = decision.joint(numbers.shares if numbers else None, floor)
    if numbers is None and not missing and floor < RANK[NOT]:
        missing = ("any glass (lay a coat and fire it)",)
    outcome, confidence = decision.decide(shares, missing, floor)
    found = [*fixed, *sampled]
    ordered = decision.with_deciding(outcome, [of_question(r) for r in found] if trail.piece.is_question else found)
    context = _context(shared, followed)
    cautions: dict[str, Caution] = {}
    for glass in {c.glass.key: c.glass for c in trail.coats}.values():
        cautions |= {c.key: c for c in shared.rows.cautions(glass, metal)}
    cautions |= {c.key: c for c in _of_steps(shared, trail)}
    sources = [*((r.source or context.rule(r.rule).source) for r in ordered), *(c.source for c in cautions.values())]
    return Verdict(
        outcome,
        confidence,
        decision.sentence(outcome, ordered, context, numbers, missing, shares),
        question,
        ordered,
        {k: Measure(*v, _UNITS[k]) for k, v in numbers.measures.items()} if numbers else {},
        tuple(s.as_stage() for s in numbers.stages) if numbers else (),
        tuple(cautions.values()),
        dict(zip(RANK, shares, strict=True)) if numbers else {},
        missing,
        shared.rows.citations((*sources, *more_sources)),
        evidence=evidence_of(trail.solid.values(), metal),
        context=context,
    )


def _of_steps(shared: Shared, trail: Walk) -> list[Caution]:
    """Cautions of what is set in, and of techniques: smoke of lustre, zinc of brass wire."""
    steps = trail.piece.steps
    found = hazards_of_techniques(shared.rows.hazards, {s.do for s in steps}, {s.backing for s in steps})
    of_metals = [c for metal in trail.metals.values() for c in shared.rows.cautions(None, metal)]
    return [*(caution_of(h, step_known=True) for h in found), *of_metals]


def _context(shared: Shared, followed: Followed) -> Context:
    """What the words of the findings are put together from."""
    trail = followed.trail
    records: dict[str, Any] = {} if trail.piece.is_question else dict(shared.rows.solders)
    records |= {on.leaf.key: on.leaf for on in trail.leaves} | {followed.metal.key: followed.metal}
    records |= {c.glass.key: c.glass for c in trail.coats}
    records |= trail.metals
    steps = {} if trail.piece.is_question else {s.number: s.title for s in trail.piece.steps}
    return Context(
        records, shared.rows.rules, steps, {f.number: f.title for f in trail.fires}, is_question=trail.piece.is_question
    )


def _question(trail: Walk, metal: Metal, kept: KilnOffset | None) -> dict[str, Any]:
    """A piece as the answer repeats it."""
    piece, band = trail.piece, trail.piece.base.thickness_m
    # A kiln that no step sets is not asked about.
    of_kiln = kiln.question_of(kiln.offset_of(kept), kiln.rests_on(kept)) if kept is not None and trail.fires else {}
    return {
        "piece": piece.title,
        "metal": metal.key,
        "metal_label": metal.label,
        "metal_thickness_mm": in_mm(band),
        "said": piece.base.said,
        "width_mm": round(piece.width_m * 1e3, 3),
        "height_mm": round(piece.height_m * 1e3, 3),
        "area_mm2": round(piece.area_m2 * 1e6, 2),
        "quantity": piece.quantity,
        "use": piece.use,
        "shape": piece.shape,
        "steps": [s.title for s in piece.steps],
        **of_kiln,
        **({"taken": dict(piece.taken)} if piece.taken else {}),
    }
