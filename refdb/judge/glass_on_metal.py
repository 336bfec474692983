"""The main question: does this glass suit this metal, at these thicknesses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from refdb.judge import limits
from refdb.judge.builds import Build
from refdb.judge.cautions import cautions_for
from refdb.judge.numbers import Numbers, Triple
from refdb.judge.reasons import (
    evidence_reason,
    rule_reason,
    sampled_reason,
    sentence,
    short_of,
    worst_first,
    worst_stages,
)
from refdb.judge.selectors import holding
from refdb.judge.verdict import CARE, NOT, RANK, SUITS, UNSURE, Measure, Reason, Verdict
from refdb.quantities import Band
from refdb.records import FitRule, Glass, Hazard, Metal, PropertyValue
from refdb.store.schema import WEAK_BASES

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: The build-up whose numbers are precomputed for every glass on every metal.
STANDARD = "standard"

_GLASS_NEEDS = ("expansion", "set_point", "youngs_modulus", "poisson_ratio", "fuse_low", "fuse_high")
_METAL_NEEDS = ("expansion", "youngs_modulus", "poisson_ratio", "flow_stress", "hardening", "flow_ratio_500c",
                "solidus", "least_thickness")
_HOW_TO_GET = {
    "expansion": "ask the maker for it with its temperature span, or bend a test strip",
    "set_point": "ask the maker for the softening or transition temperature",
}


def suits(
    ref: Reference, glass: str | Glass, metal: str | Metal, *, metal_thickness_m: float | Band = 0.8e-3,
    front_m: float | Band = 0.3e-3, back_m: float | Band = 0.3e-3, first_m: float | None = None,
    shape: str = "flat", rise_m: float | Band | None = None, kiln_c: float | None = None,
    kiln_offset_k: float = 0.0,
) -> Verdict:
    """Judge a glass on a metal.

    Parameters
    ----------
    ref : Reference
        The open store.
    glass, metal : str, or a record
        Keys of the store, or records (`Glass.with_expansion` for a figure of one's own).
    metal_thickness_m, front_m, back_m : float or Band
        Thickness after firing of the metal and of the glass on each face [m]; a band is sampled.
    first_m : float, optional
        The most that is laid as a first coat on one face [m]; 0.20 mm.
    shape : "flat" or "domed"
        A dome resists bending; `rise_m` is its height over the rim [m], 1-3 mm where not given.
    kiln_c, kiln_offset_k : float
        The setting asked about [°C], and how much hotter the kiln is than it shows [K].

    Returns
    -------
    Verdict

    Raises
    ------
    NotFound, BadInput, StoreUnusable
    """
    glass = ref.glass(glass) if isinstance(glass, str) else glass
    metal = ref.metal(metal) if isinstance(metal, str) else metal
    build = Build(
        _as_band(metal_thickness_m), _as_band(front_m), _as_band(back_m),
        limits.FIRST_COAT_M if first_m is None else first_m, shape,
        Band(*limits.DOME_RISE_M) if rise_m is None else _as_band(rise_m), kiln_c, kiln_offset_k).checked()
    missing = missing_figures(glass, metal)
    numbers = None if missing else _numbers(ref, glass, metal, build)
    return judged(glass, metal, build, numbers, missing, ref.fit_rules(), ref.hazards(), ref)


def _as_band(value: float | Band) -> Band:
    return value if isinstance(value, Band) else Band.exact(float(value))


def missing_figures(glass: Glass, metal: Metal) -> tuple[str, ...]:
    """What a verdict needs and the store does not have, in words with how to get it."""
    gone = []
    for record, needs in ((glass, _GLASS_NEEDS), (metal, _METAL_NEEDS)):
        for name in needs:
            if record.value(name) is None:
                how = _HOW_TO_GET.get(name, "ask the maker")
                gone.append(f"{name.replace('_', ' ')} of {record.label.lower()} ({how})")
    if len(metal.points) < 2:
        gone.append(f"expansion curve of {metal.label.lower()} (no measured points)")
    return tuple(gone)


def _numbers(ref: Reference, glass: Glass, metal: Metal, build: Build) -> Numbers:
    if build == Build() and _own_figures(glass) == ():
        stored = ref.answer(glass.key, metal.key, STANDARD)
        if stored is not None:
            import json

            return Numbers.from_plain(json.loads(stored))
    from refdb.judge.sampled import sample

    return sample(glass, metal, build)


def _own_figures(glass: Glass) -> tuple[PropertyValue, ...]:
    return tuple(v for v in glass.values if v.source == "own-figure")


def judged(glass: Glass, metal: Metal, build: Build, numbers: Numbers | None, missing: tuple[str, ...],
           rules: list[FitRule], hazards: list[Hazard], ref: Reference | None = None) -> Verdict:
    """The verdict from numbers already sampled: reasons, outcome, confidence, cautions and sources."""
    reasons = [rule_reason(r) for r in holding(rules, glass, metal)]
    evidence = evidence_reason(glass, metal) if numbers is not None else None
    if evidence:
        reasons.append(evidence)
    keyed = {} if numbers is None else {k: sampled_reason(k, numbers.rules[k], numbers, metal)
                                        for k in worst_stages(numbers)}
    floor = max((RANK[r.outcome] for r in reasons), default=0)
    shares = _joint(numbers.shares if numbers else None, floor)
    outcome, confidence = _decide(shares, missing, floor)
    heads = {id(r): short_of(k, r.outcome) for k, r in keyed.items()}
    if evidence:
        heads[id(evidence)] = short_of("evidence", CARE)
    ordered = worst_first([*reasons, *keyed.values()])
    against = [heads.get(id(r)) or _clause(r.found) for r in ordered if r.outcome != SUITS]
    if outcome == UNSURE:
        text = _unsure(missing, numbers, shares)
    else:
        text = sentence(outcome, _saying(ordered, against, outcome), numbers, build)
    return Verdict(
        outcome, confidence, text, _question(glass, metal, build), ordered,
        _measures(numbers), tuple(s.as_stage() for s in numbers.stages) if numbers else (),
        cautions_for(hazards, glass, metal), dict(zip((SUITS, CARE, NOT), shares, strict=True)) if numbers else {},
        missing, _citations(ref, ordered, glass, metal, hazards) if ref else {})


def _joint(shares: Triple | None, floor: int) -> Triple:
    """Joint shares after the rules that hold for every draw."""
    if shares is None:
        return (0.0, 0.0, 0.0)
    fine, care, bad = shares
    return (shares, (0.0, fine + care, bad), (0.0, 0.0, 1.0))[floor]


def _decide(shares: Triple, missing: tuple[str, ...], floor: int) -> tuple[str, float]:
    # A definite refusal needs no figure that is missing.
    if floor == RANK[NOT]:
        return NOT, 1.0
    if missing:
        return UNSURE, 0.0
    best = max((NOT, CARE, SUITS), key=lambda o: shares[RANK[o]])
    share = shares[RANK[best]]
    return (best, share) if share >= limits.LEAST_SHARE else (UNSURE, share)


def _clause(found: Measure | str) -> str:
    """What a rule found, as half a sentence."""
    text = str(found).rstrip(".")
    return text[:1].lower() + text[1:]


def _saying(ordered: tuple[Reason, ...], against: list[str], outcome: str) -> list[str]:
    """Which reasons the head sentence names: those of the verdict's own outcome, else the worst there is."""
    bad = [r for r in ordered if r.outcome != SUITS]
    named = [a for a, r in zip(against, bad, strict=True) if r.outcome == outcome]
    return list(dict.fromkeys(named or against))


def _unsure(missing: tuple[str, ...], numbers: Numbers | None, shares: Triple) -> str:
    if missing:
        return "Not known: " + "; ".join(missing) + "."
    assert numbers is not None
    parts = ", ".join(f"{words} in {share * 10:.0f} of 10" for words, share in
                      zip((SUITS, CARE, NOT), shares, strict=True) if round(share * 10) > 0)
    return (f"The bands of the inputs allow more than one outcome ({parts}); what decides is the "
            f"{numbers.decides or 'sum of them'}: narrow that down first.")


def _measures(numbers: Numbers | None) -> dict[str, Measure]:
    units = {"gap_ppm": "ppm", "glass_expansion_ppm_per_k": "ppm/K", "metal_expansion_ppm_per_k": "ppm/K",
             "set_point_c": "°C", "metal_thickness_mm": "mm", "kiln_low_c": "°C", "kiln_high_c": "°C"}
    return {k: Measure(*v, units[k]) for k, v in numbers.measures.items()} if numbers else {}


def _question(glass: Glass, metal: Metal, build: Build) -> dict[str, Any]:
    def mm(band: Band) -> dict[str, float]:
        return {n: round(getattr(band, n) * 1e3, 4) for n in ("value", "low", "high")}

    question: dict[str, Any] = {
        "glass": glass.key, "glass_label": glass.label, "metal": metal.key, "metal_label": metal.label,
        "metal_thickness_mm": mm(build.metal_m), "front_mm": mm(build.front_m), "back_mm": mm(build.back_m),
        "first_coat_mm": round(build.first_m * 1e3, 4), "shape": build.shape,
        "kiln_c": build.kiln_c, "kiln_offset_k": build.kiln_offset_k}
    if build.shape == "domed":
        question["rise_mm"] = mm(build.rise_m)
    row = glass.value("expansion")
    if row is not None:
        band = row.band
        question["glass_expansion"] = {
            "ppm_per_k": {"value": band.value, "low": band.low, "high": band.high},
            "span_c": [row.temp_low_c, row.temp_high_c], "basis": row.basis}
    return question


def _citations(ref: Reference, reasons: tuple[Reason, ...], glass: Glass, metal: Metal,
               hazards: list[Hazard]) -> dict[str, str]:
    wanted = [r.source for r in reasons]
    for record, needs in ((glass, _GLASS_NEEDS), (metal, _METAL_NEEDS)):
        wanted += [row.source for row in (record.value(n) for n in needs) if row is not None]
    wanted += [c.source for c in cautions_for(hazards, glass, metal)]
    known = {s.key: s.citation for s in ref.sources()}
    own = {"own-figure": "A figure given with the question."}
    return {k: own.get(k) or known[k] for k in dict.fromkeys(wanted)}


@dataclass(frozen=True)
class Ranked:
    """A glass in its place on one metal; `tied` when others share the place."""

    place: int
    tied: bool
    glass: Glass
    verdict: Verdict


_ORDER = {SUITS: 0, CARE: 1, UNSURE: 2, NOT: 3}


def rank(ref: Reference, metal: str | Metal) -> list[Ranked]:
    """Every glass of the store on one metal at the standard build-up, best first.

    Glasses of the same outcome, evidence and class range tie: no order is made out of guessed expansions. Within
    an outcome, published figures come before guesses, and then the smaller chance of refusal in tenths.
    """
    metal = ref.metal(metal) if isinstance(metal, str) else metal
    rules, hazards = ref.fit_rules(), ref.hazards()
    rows = []
    for glass in ref.materials("glass"):
        assert isinstance(glass, Glass)
        missing = missing_figures(glass, metal)
        build = Build()
        numbers = None if missing else _numbers(ref, glass, metal, build)
        verdict = judged(glass, metal, build, numbers, missing, rules, hazards)
        rows.append((_rank_key(glass, verdict), glass.key, glass, verdict))
    rows.sort(key=lambda r: (r[0], r[1]))
    keys = [r[0] for r in rows]
    return [Ranked(keys.index(key) + 1, keys.count(key) > 1, glass, verdict) for key, _, glass, verdict in rows]


def _rank_key(glass: Glass, verdict: Verdict) -> tuple[Any, ...]:
    row = glass.value("expansion")
    weak = row is None or row.basis in WEAK_BASES
    refusals = round(verdict.shares.get(NOT, 0.0) * 10)
    return (_ORDER[verdict.outcome], weak, refusals)
