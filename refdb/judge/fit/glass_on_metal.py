"""The main question: does this glass suit this metal, at these thicknesses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput, NotFound
from refdb.judge import limits
from refdb.judge.cautions import cautions_for
from refdb.judge.decision import clause, decide, joint, unsure
from refdb.judge.fit.build import Build
from refdb.judge.numbers import Numbers
from refdb.judge.own import kiln
from refdb.judge.own.tiles import tiles_seen
from refdb.judge.reasons import (
    evidence_reasons,
    rule_reason,
    sampled_reason,
    sentence,
    short_of,
    worst_first,
    worst_stages,
)
from refdb.judge.selectors import holding, words_of
from refdb.judge.verdict import CARE, NOT, RANK, SUITS, UNSURE, Measure, Reason, Verdict
from refdb.quantities import Band
from refdb.records import FitRule, Glass, Hazard, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: The build-up whose numbers are precomputed for every glass on every metal.
STANDARD = "standard"

_GLASS_NEEDS = ("expansion", "set_point", "youngs_modulus", "poisson_ratio", "fuse_low", "fuse_high")
_METAL_NEEDS = (
    "expansion",
    "youngs_modulus",
    "poisson_ratio",
    "flow_stress",
    "hardening",
    "flow_ratio_500c",
    "solidus",
    "least_thickness",
)
_HOW_TO_GET = {
    "expansion": "ask the maker for it with its temperature span, or bend a test strip",
    "set_point": "ask the maker for the softening or transition temperature",
}
#: What people call a property whose key is a term of mechanics.
_PLAINLY = {"youngs_modulus": "stiffness", "poisson_ratio": "narrowing when stretched"}


def suits(
    ref: Reference,
    glass: str | Glass,
    metal: str | Metal,
    *,
    metal_thickness_m: float | Band = 0.8e-3,
    front_m: float | Band = 0.3e-3,
    back_m: float | Band = 0.3e-3,
    first_m: float | None = None,
    shape: str = "flat",
    rise_m: float | Band | None = None,
    kiln_c: float | None = None,
    kiln_offset_k: float | Band = 0.0,
    kiln_rests_on: str = "",
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
    kiln_c, kiln_offset_k : float or Band
        The setting asked about [°C], and how much hotter the kiln is than it shows [K]; a band of that is sampled
        where a setting is asked about.
    kiln_rests_on : str
        Where that is written down, in words, for the answer to say so.

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
        _as_band(metal_thickness_m),
        _as_band(front_m),
        _as_band(back_m),
        limits.FIRST_COAT_M if first_m is None else first_m,
        shape,
        Band(*limits.DOME_RISE_M) if rise_m is None else _as_band(rise_m),
        kiln_c,
        _as_band(kiln_offset_k, "kiln offset"),
        kiln_rests_on,
    ).checked()
    missing = missing_figures(glass, metal)
    numbers = None if missing else _numbers(ref, glass, metal, build, _as_stored(ref, glass, metal))
    verdict = judged(glass, metal, build, numbers, missing, ref.fit_rules(), ref.hazards(), ref)
    tiles = tiles_seen(ref, glass.key, metal.key, build, verdict.outcome)
    return replace(verdict, tiles=tiles) if tiles else verdict


def _as_band(value: float | Band, where: str = "") -> Band:
    if isinstance(value, Band):
        return value
    try:
        return Band.exact(float(value))
    except BadInput as bad:
        raise BadInput(bad.what, where, bad.todo) from None


def missing_figures(glass: Glass, metal: Metal) -> tuple[str, ...]:
    """What a verdict needs and the store does not have, in words with how to get it."""
    gone: list[str] = []
    for record, needs in ((glass, _GLASS_NEEDS), (metal, _METAL_NEEDS)):
        lacking = [name for name in needs if record.value(name) is None]
        if lacking and record.key.startswith("my:") and not record.like:
            named = ", ".join(_PLAINLY.get(name, name.replace("_", " ")) for name in lacking)
            alloyed = ", if one is of its alloy" if getattr(record, "alloy", "") else ""
            gone.append(
                f"{named} of {record.label} (say what class it is like{alloyed}: refdb mine edit {record.key} "
                "--like KEY)"
            )
            continue
        for name in lacking:
            how = _HOW_TO_GET.get(name, "ask the maker")
            gone.append(f"{_PLAINLY.get(name, name.replace('_', ' '))} of {record.label.lower()} ({how})")
    if len(metal.points) < 2 and not (metal.key.startswith("my:") and not metal.like):
        gone.append(f"expansion curve of {metal.label.lower()} (no measured points)")
    return tuple(gone)


def _numbers(ref: Reference, glass: Glass, metal: Metal, build: Build, stored: bool) -> Numbers:
    """Numbers of a build: the precomputed ones for records just as they are stored, else sampled."""
    if build == Build() and stored:
        answer = ref.answer(glass.key, metal.key, STANDARD)
        if answer is not None:
            import json

            return Numbers.from_plain(json.loads(answer))
    from refdb.judge.fit.sample import sample

    return sample(glass, metal, build)


def _as_stored(ref: Reference, glass: Glass, metal: Metal) -> bool:
    """Whether both records are those of the store, and not changed since."""
    try:
        return ref.glass(glass.key) == glass and ref.metal(metal.key) == metal
    except NotFound:
        return False


def judged(
    glass: Glass,
    metal: Metal,
    build: Build,
    numbers: Numbers | None,
    missing: tuple[str, ...],
    rules: list[FitRule],
    hazards: list[Hazard],
    ref: Reference | None = None,
) -> Verdict:
    """The verdict from numbers already sampled: reasons, outcome, confidence, cautions and sources."""
    reasons = [rule_reason(r) for r in holding(rules, glass, metal)]
    evidence = evidence_reasons(glass, metal) if numbers is not None else {}
    reasons += evidence.values()
    keyed = (
        {}
        if numbers is None
        else {k: sampled_reason(k, numbers.rules[k], numbers, metal) for k in worst_stages(numbers)}
    )
    floor = max((RANK[r.outcome] for r in reasons), default=0)
    shares = joint(numbers.shares if numbers else None, floor)
    outcome, confidence = decide(shares, missing, floor)
    heads = {id(r): short_of(k, r.outcome, numbers) for k, r in (evidence | keyed).items()}
    ordered = worst_first([*reasons, *keyed.values()])
    if outcome == UNSURE:
        text = unsure(missing, numbers, shares)
    else:
        named = [heads.get(id(r)) or clause(r.found) for r in ordered if r.outcome == outcome != SUITS]
        text = sentence(outcome, list(dict.fromkeys(named)) or _most_often(numbers, outcome), numbers)
    return Verdict(
        outcome,
        confidence,
        text,
        _question(glass, metal, build),
        ordered,
        _measures(numbers),
        tuple(s.as_stage() for s in numbers.stages) if numbers else (),
        cautions_for(hazards, glass, metal),
        dict(zip((SUITS, CARE, NOT), shares, strict=True)) if numbers else {},
        missing,
        _citations(ref, ordered, glass, metal, hazards, build) if ref else {},
    )


def _most_often(numbers: Numbers | None, outcome: str) -> list[str]:
    """What stands against it most often, where several rules together and none alone make the outcome."""
    assert numbers is not None
    rules = {k: numbers.rules[k].share_at_least(outcome) for k in worst_stages(numbers)}
    return [short_of(k, outcome, numbers) for k in sorted(rules, key=lambda k: -rules[k]) if rules[k] > 0]


def _measures(numbers: Numbers | None) -> dict[str, Measure]:
    units = {
        "gap_ppm": "ppm",
        "glass_expansion_ppm_per_k": "ppm/K",
        "metal_expansion_ppm_per_k": "ppm/K",
        "set_point_c": "°C",
        "metal_thickness_mm": "mm",
        "kiln_low_c": "°C",
        "kiln_high_c": "°C",
    }
    return {k: Measure(*v, units[k]) for k, v in numbers.measures.items()} if numbers else {}


def _question(glass: Glass, metal: Metal, build: Build) -> dict[str, Any]:
    def mm(band: Band) -> dict[str, float]:
        return {n: round(getattr(band, n) * 1e3, 4) for n in ("value", "low", "high")}

    question: dict[str, Any] = {
        "glass": glass.key,
        "glass_label": glass.label,
        "metal": metal.key,
        "metal_label": metal.label,
        "metal_thickness_mm": mm(build.metal_m),
        "front_mm": mm(build.front_m),
        "back_mm": mm(build.back_m),
        "first_coat_mm": round(build.first_m * 1e3, 4),
        "shape": build.shape,
        "kiln_c": build.kiln_c,
        **kiln.question_of(build.kiln_offset_k, build.kiln_rests_on),
    }
    if build.shape == "domed":
        question["rise_mm"] = mm(build.rise_m)
    row = glass.value("expansion")
    if row is not None:
        band = row.band
        # A maker's figure that was typed is not known to have been measured on this jar.
        basis = "as given" if row.source == "own-figure" and row.basis == "measured" else row.basis
        question["glass_expansion"] = {
            "ppm_per_k": {"value": band.value, "low": band.low, "high": band.high},
            "span_c": [row.temp_low_c, row.temp_high_c],
            "basis": basis,
        }
    return question


def _citations(
    ref: Reference, reasons: tuple[Reason, ...], glass: Glass, metal: Metal, hazards: list[Hazard], build: Build
) -> dict[str, str]:
    wanted = [*(r.source for r in reasons), limits.RELEASE_SOURCE]
    wanted += [limits.DOME_SOURCE] if build.shape == "domed" else []
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

    Within an outcome the smaller chance of refusal comes first, in tenths, then what is made for this metal, then
    the fewer doubts, of which weak evidence is one. Glasses alike in these tie: no order is made out of guessed
    expansions.
    """
    metal = ref.metal(metal) if isinstance(metal, str) else metal
    rules, hazards = ref.fit_rules(), ref.hazards()
    rows = []
    for glass in ref.materials("glass"):
        assert isinstance(glass, Glass)
        missing = missing_figures(glass, metal)
        build = Build()
        numbers = None if missing else _numbers(ref, glass, metal, build, stored=True)
        verdict = judged(glass, metal, build, numbers, missing, rules, hazards)
        rows.append((_rank_key(glass, metal, verdict), glass.key, glass, verdict))
    rows.sort(key=lambda r: (r[0], r[1]))
    keys = [r[0] for r in rows]
    return [Ranked(keys.index(key) + 1, keys.count(key) > 1, glass, verdict) for key, _, glass, verdict in rows]


def _rank_key(glass: Glass, metal: Metal, verdict: Verdict) -> tuple[int, int, bool, int]:
    refusals = round(verdict.shares.get(NOT, 0.0) * 10)
    doubts = sum(r.outcome != SUITS for r in verdict.reasons)
    return (_ORDER[verdict.outcome], refusals, metal.family not in words_of(glass, "made_for"), doubts)
