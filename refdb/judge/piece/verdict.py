"""The verdict on a whole piece, firing by firing: stresses, order, heat, surface and use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

from refdb.judge import limits
from refdb.judge.cautions import cautions_for
from refdb.judge.decision import clause, decide, joint, unsure
from refdb.judge.fit.glass_on_metal import missing_figures
from refdb.judge.numbers import Numbers, RuleNumbers
from refdb.judge.own import kiln
from refdb.judge.own.tiles import tiles_of_piece
from refdb.judge.piece.observed_firing import Firings
from refdb.judge.piece.pull_through import coming_up, prepare, rises
from refdb.judge.piece.rules_of_laying import fire_times
from refdb.judge.piece.rules_of_order import Known, findings
from refdb.judge.piece.states import Fire, Walk, walk
from refdb.judge.piece.steps import Piece, Step
from refdb.judge.reasons import EVIDENCE_RULE, evidence_reasons, short_of, worst_first
from refdb.judge.verdict import CARE, NOT, RANK, SUITS, UNSURE, Caution, Measure, Reason, Verdict
from refdb.records import KilnOffset, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: So many pieces are sampled at a time; more would only take memory.
_TOGETHER = 64

_FINE = {
    "tension-lasting": "Finished, the glass is squeezed, and squeezed glass does not crack by itself.",
    "tension-between": "The glass holds at this stage.",
    "gap": "The metal squeezes this glass enough and not too much.",
    "setting": "The glass flows at this setting.",
    "setting-again": "What is already fused stands this heat.",
    "metal-melts": "The metal stays well below its melting.",
    "glass-of-metal": "There is metal enough to carry this much glass.",
    "faces-alike": "Both faces pull alike, so the piece stays flat.",
    "one-face": "Metal this thick resists bending by glass on one face.",
    "least-metal": "The metal is thick enough for an enamel base.",
    "curve-end": "The metal's expansion is known up to where the glass sets.",
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
        Processes to share the work; more than one only where a process can be forked, and for many pieces.
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
    shared = _Shared(ref, heats)
    groups = [pieces[k : k + _TOGETHER] for k in range(0, len(pieces), _TOGETHER)]
    workers = min(workers, len(groups))
    if workers > 1:
        import multiprocessing

        workers = workers if "fork" in multiprocessing.get_all_start_methods() else 1
    if workers < 2:
        verdicts = [verdict for group in groups for verdict in _judged(shared, group)]
    else:
        # The store's connection must not be used on both sides of a fork.
        shared.look_up(pieces)
        with multiprocessing.get_context("fork").Pool(workers, _inherit, (shared,)) as pool:
            verdicts = [verdict for judged in pool.imap(_judged_by_worker, groups) for verdict in judged]
    return [
        replace(verdict, tiles=tiles_of_piece(ref, piece, verdict))
        for piece, verdict in zip(pieces, verdicts, strict=True)
    ]


_inherited: list[_Shared] = []


def _inherit(shared: _Shared) -> None:
    _inherited[:] = [shared]


def _judged_by_worker(pieces: Sequence[Piece]) -> list[Verdict]:
    return _judged(_inherited[0], pieces)


def _judged(shared: _Shared, pieces: Sequence[Piece]) -> list[Verdict]:
    followed = [_Followed(shared, piece) for piece in pieces]
    prepare((f.trail, f.metal) for f in followed)
    for one in followed:
        one.apply_rules(shared)
    sampled = _sampled_numbers(followed)
    return [_verdict(shared, f, numbers) for f, numbers in zip(followed, sampled, strict=True)]


class _Shared:
    """What pieces judged together have in common, looked up when first wanted."""

    def __init__(self, ref: Reference, heats: bool) -> None:
        self.kiln = None if heats else ref.kiln_offset()
        self.metal, self.glass, self.leaf = cache(ref.metal), cache(ref.glass), cache(ref.leaf)
        self.fit_rules, self.contacts, self.solders = ref.fit_rules(), ref.contacts(), ref.solders()
        self.reactions, self.hazards = ref.colour_reactions(), ref.hazards()
        self.citations = {s.key: s.citation for s in ref.sources()}
        self.firings = Firings(ref)

    def look_up(self, pieces: Sequence[Piece]) -> None:
        """Look up everything that pieces name."""
        for metal in {p.base.metal for p in pieces}:
            self.metal(metal)
        for leaf in {s.leaf for p in pieces for s in p.steps if s.leaf}:
            self.leaf(leaf)
        for glass in {s.glass for p in pieces for s in p.steps if s.glass}:
            self.firings.look_up(self.glass(glass))


class _Followed:
    """One piece followed through its steps, with all that can be said without a sample."""

    def __init__(self, shared: _Shared, piece: Piece) -> None:
        self.metal = shared.metal(piece.base.metal)
        glasses = {k: shared.glass(k) for k in {s.glass for s in piece.steps if s.glass}}
        leaves = {k: shared.leaf(k) for k in {s.leaf for s in piece.steps if s.leaf}}
        self.trail = walk(piece, glasses, leaves, kiln.offset_of(shared.kiln))
        self.fixed: list[Reason] = []
        self.missing: tuple[str, ...] = ()
        self.can_be_sampled = False

    def apply_rules(self, shared: _Shared) -> None:
        """Find what needs no sample, and whether there can be one."""
        trail, metal = self.trail, self.metal
        known = Known(metal, shared.fit_rules, shared.contacts, shared.solders, shared.reactions)
        self.fixed = [
            *findings(trail, known),
            *rises(trail, metal, shared.firings),
            *fire_times(trail, metal, shared.firings),
        ]
        solid = list({c.glass.key: c.glass for c in trail.coats if not c.line}.values())
        self.missing = tuple(dict.fromkeys(m for glass in solid for m in missing_figures(glass, metal)))
        fired = any(not trail.coats[n].line for f in trail.fires for n in f.coats)
        self.can_be_sampled = fired and not self.missing
        for glass in solid if self.can_be_sampled else ():
            first = next(c.step for c in trail.coats if c.glass.key == glass.key)
            self.fixed += [
                replace(r, step=first.title)
                for k, r in evidence_reasons(glass, metal).items()
                if k == "evidence-glass" or glass is solid[0]
            ]


def _sampled_numbers(followed: Sequence[_Followed]) -> list[Numbers | None]:
    if not any(f.can_be_sampled for f in followed):
        return [None] * len(followed)
    from refdb.judge.piece.sample import sample_pieces

    found = iter(sample_pieces([(f.trail, f.metal) for f in followed if f.can_be_sampled]))
    return [next(found) if f.can_be_sampled else None for f in followed]


def _verdict(shared: _Shared, followed: _Followed, numbers: Numbers | None) -> Verdict:
    trail, metal, fixed, missing = followed.trail, followed.metal, followed.fixed, followed.missing
    piece = trail.piece
    sampled = {} if numbers is None else {k: _sampled(k, r, trail, metal) for k, r in numbers.rules.items()}
    floor = max((RANK[r.outcome] for r in fixed), default=0)
    shares = joint(numbers.shares if numbers else None, floor)
    if numbers is None and not missing and floor < RANK[NOT]:
        missing = ("any glass (lay a coat and fire it)",)
    outcome, confidence = decide(shares, missing, floor)
    ordered = worst_first([*fixed, *sampled.values()])
    heads = {id(r): short_of(_plain(k), r.outcome) for k, r in sampled.items()}
    if outcome == UNSURE:
        text = unsure(missing, numbers, shares)
    elif outcome == SUITS:
        text = "Every firing holds, and the finished glass is squeezed on every face it lies on."
    else:
        named = {heads.get(id(r)) or clause(_found(r)): r for r in reversed(ordered) if r.outcome == outcome}
        told = [f"{words} ({_where(r)})" if r.step else words for words, r in reversed(named.items())]
        text = "; ".join(told[:2] or ["several things together stand against it, none alone"])
        text = text[0].upper() + text[1:] + "."
    cautions: dict[str, Caution] = {}
    for glass in {c.glass.key: c.glass for c in trail.coats}.values():
        cautions |= {c.text: c for c in cautions_for(shared.hazards, glass, metal)}
    known = shared.citations
    wanted = [r.source for r in ordered] + [c.source for c in cautions.values()]
    units = {"metal_thickness_mm": "mm", "front_mm": "mm", "back_mm": "mm"}
    return Verdict(
        outcome,
        confidence,
        text,
        _question(piece, metal, trail.fires, shared.kiln),
        ordered,
        {k: Measure(*v, units[k]) for k, v in numbers.measures.items()} if numbers else {},
        tuple(s.as_stage() for s in numbers.stages) if numbers else (),
        tuple(cautions.values()),
        dict(zip((SUITS, CARE, NOT), shares, strict=True)) if numbers else {},
        missing,
        {k: known[k] for k in dict.fromkeys(wanted) if k in known},
    )


def _plain(key: str) -> str:
    head = key.partition(":")[0]
    return {"setting-again": "setting", "metal-melts": "kiln"}.get(head, head)


def _found(reason: Reason) -> str:
    """What a reason found, as half a sentence for the head of the verdict."""
    if reason.rule == EVIDENCE_RULE:
        label = str(reason.found).partition(":")[0]
        return f"the expansion of {label[:1].lower()}{label[1:]} is an estimate, not a measurement"
    if not isinstance(reason.found, Measure):
        return reason.found
    return coming_up(reason) or reason.rule


def _where(reason: Reason) -> str:
    return reason.step.partition(",")[0]


def _sampled(key: str, numbers: RuleNumbers, trail: Walk, metal: Metal) -> Reason:
    """The reason of one sampled rule of a piece, with the step it is about."""
    head, _, rest = key.partition(":")
    number, _, glass = rest.partition(":")
    fire = next((f for f in trail.fires if str(f.step.number) == number), None)
    heat = kiln.setting_words(fire.step.kiln_c, fire.offset_k) if fire and fire.step.kiln_c is not None else ""
    step: Step | None = trail.piece.steps[int(number) - 1] if number else None
    limit = limits.BY_KEY[_plain(key)]
    outcome = numbers.outcome
    found: Measure | str = Measure(*numbers.found, limit.unit)
    rule, words, source = limit.rule, limit.words, limit.source
    why = limit.why if outcome != SUITS else _FINE[head]
    record = next((c.glass for c in trail.coats if c.glass.key == glass), None)
    if head in ("setting", "setting-again") and record is not None:
        low, high = record.band("fuse_low"), record.band("fuse_high")
        assert low is not None
        assert high is not None
        found = f"{heat} for {record.label.lower()}"
        words = f"{low.value:.0f} to {high.value:.0f} °C; up to {limits.RANGE_MARGIN_K:.0f} K outside wants care"
        if head == "setting-again":
            rule, words = "Kiln setting for what is fused", f"up to {high.value:.0f} °C"
    elif head == "metal-melts":
        rule = "Metal in the fire"
        found = f"{heat}; this metal is safe to {numbers.found[1]:.0f} °C"
        words = f"{limits.SOLIDUS_MARGIN_K:.0f} K below its first melting"
    elif head == "gap" and record is not None:
        rule = f"Contraction gap, {record.label.lower()}"
    elif head == "least-metal":
        row = metal.value("least_thickness")
        assert row is not None
        words, source = f"at least {row.band.value * 1e3:.2f} mm for this metal", row.source
    return Reason(
        rule,
        outcome,
        found,
        words,
        why,
        limit.remedy if outcome != SUITS else "",
        source,
        numbers.share_at_least(outcome),
        step.title if step else trail.about(head),
        numbers.share_beyond(outcome),
    )


def _question(piece: Piece, metal: Metal, fires: Sequence[Fire], kept: KilnOffset | None) -> dict[str, Any]:
    band = piece.base.thickness_m
    # A kiln that no step sets is not asked about.
    of_kiln = kiln.question_of(kiln.offset_of(kept), kiln.rests_on(kept)) if kept is not None and fires else {}
    return {
        "piece": piece.title,
        "metal": metal.key,
        "metal_label": metal.label,
        "metal_thickness_mm": {n: round(getattr(band, n) * 1e3, 4) for n in ("value", "low", "high")},
        "said": piece.base.said,
        "width_mm": round(piece.width_m * 1e3, 3),
        "height_mm": round(piece.height_m * 1e3, 3),
        "area_mm2": round(piece.area_m2 * 1e6, 2),
        "quantity": piece.quantity,
        "use": piece.use,
        "shape": piece.shape,
        "steps": [s.title for s in piece.steps],
        **of_kiln,
    }
