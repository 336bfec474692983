"""The answers to sentences: a few lines of words, the command and the address that tell the whole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from refdb.ask.melting import begins_at, melting_of
from refdb.ask.spans import Sentence, Span, meant
from refdb.frozen import dataclass, field
from refdb.records.printed import caution_text, degrees, holding, span_of
from refdb.words import ended, lower_first, typeable, upper_first, within

if TYPE_CHECKING:
    from refdb.records.named import Named
    from refdb.store.reference import Reference

#: The metal meant where a leaf is named and no metal.
_USUAL_METAL = "copper-sheet"
#: Where leaf may lie and where not.
_BED_RULE = "leaf-on-glass"
#: The subject that tells what words mean.
_WORDS = "words of the trade"
_MOST = 4
_SCATTERED = "No one entry holds all of this. The nearest"


@dataclass(frozen=True)
class Answered:
    """An answer: what it is of, how the sentence was understood, its lines, and where the whole stands.

    `kind` is verdict, ranking, clears, bed, heat, melting, contact, figure, thickness, gauge, cautions, fault, record
    or practice; `keys` are the records it rests on. `unknown` are words of the sentence that stand nowhere in the
    store, `beside` those that it says nothing of; `apart` where no one record holds all of its words. `then`
    answers its second question, where it asks two things.
    """

    kind: str
    understood: str
    lines: tuple[str, ...]
    command: str
    address: str
    keys: tuple[str, ...] = ()
    outcome: str = ""
    more: dict[str, Any] = field(default_factory=dict)
    unknown: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    apart: bool = False
    then: Answered | None = None

    @property
    def each(self) -> tuple[Answered, ...]:
        """This answer and those to what was asked after it."""
        return (self, *(self.then.each if self.then is not None else ()))

    @property
    def sure(self) -> bool:
        """Whether nothing of the sentence is left unanswered."""
        return not (self.unknown or self.beside)

    @property
    def head(self) -> str:
        """How the sentence was understood, and what of it is not known or not answered, in a sentence or two."""
        if self.sure:
            return f"{_SCATTERED if self.apart else 'Understood as'}: {self.understood}."
        told = [f"Nothing here speaks of {_quoted(self.unknown)}."] if self.unknown else []
        told += [f"This says nothing of {_quoted(self.beside)}."] if self.beside else []
        return f"{' '.join(told)} The nearest: {self.understood}."

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain values."""
        told = {"kind": self.kind, "understood": self.understood, "lines": list(self.lines), "command": self.command}
        told |= {name: list(words) for name in ("unknown", "beside") if (words := getattr(self, name))}
        told |= {"keys": list(self.keys)} | ({"outcome": self.outcome} if self.outcome else {})
        return told | ({"then": self.then.as_dict()} if self.then is not None else {})


def _quoted(words: tuple[str, ...]) -> str:
    return " or ".join(f"“{word}”" for word in words[:_MOST])


def taken_as(*named: Named | None) -> str:
    """What else the names may mean."""
    known = [n for n in named if n is not None and n.also]
    also = [f"{n.typed} may also be {' or '.join(m.small for m in n.also[:2])}" for n in known]
    return f" ({'; '.join(also)})" if also else ""


def address_of(path: str, **query: str) -> str:
    return f"{path}?{urlencode({k: v for k, v in query.items() if v})}"


def of_verdict(ref: Reference, glass_span: Span, metal_span: Span, thickness: str) -> Answered | None:
    """Whether a glass suits a metal."""
    from refdb.judge.fit.glass_on_metal import judge_question
    from refdb.judge.fit.question import asked
    from refdb.judge.verdict import TEST_TILE

    glass, metal = meant(ref, glass_span, "glass"), meant(ref, metal_span, "metal")
    if glass is None or metal is None:
        return None
    thick = thickness or metal.thickness
    texts = {"metal_thickness": thick} if thick else {}
    question = asked(ref.glass(glass.key), ref.metal(metal.key), texts, lambda name: name.replace("_", " "))
    verdict = judge_question(ref, question)
    how = "" if verdict.holds is None else f", holds in {holding(verdict.holds)} draws"
    lines = [upper_first(f"{verdict.outcome}{how}."), verdict.sentence]
    if question.note:
        lines.append(upper_first(ended(question.note)))
    deeds = [t for t in verdict.told if t.outcome == verdict.outcome and t.remedy]
    lines += [upper_first(f"{t.title}: {ended(t.remedy)}") for t in deeds[:1]]
    lines.append(TEST_TILE)
    option, at = (f' --metal-thickness "{thick}"', f" at {thick}") if thick else ("", "")
    return Answered(
        "verdict",
        f"does {glass.meaning.small} suit {metal.meaning.small}{at}{taken_as(glass, metal)}",
        tuple(line for line in lines if line),
        f"refdb suits {glass.key} {metal.key}{option}",
        address_of("/suits", glass=glass.key, metal=metal.key, metal_thickness=thick),
        (glass.key, metal.key),
        verdict.outcome,
    )


def of_ranking(ref: Reference, metal_span: Span, glass_span: Span | None) -> Answered | None:
    """Which glasses suit a metal; of one sort where it is named."""
    from refdb.judge.fit.glass_on_metal import rank

    metal = meant(ref, metal_span, "metal")
    glass = meant(ref, glass_span, "glass") if glass_span is not None else None
    if metal is None:
        return None
    ranked = rank(ref, metal.key)
    wanted = None if glass is None else {glass.key, *(m.key for m in glass.also)}
    kept = [r for r in ranked if wanted is None or r.glass.key in wanted]
    counts: dict[str, int] = {}
    for r in kept:
        counts[r.verdict.outcome] = counts.get(r.verdict.outcome, 0) + 1
    what = f"sorts of {glass.typed}" if glass is not None else "classes of glass"
    lines = [f"Of {len(kept)} {what}: {', '.join(_counted(n, outcome) for outcome, n in counts.items())}."]
    if [*counts] == ["does not suit"] and len(kept) > 1:
        # Of glasses that none suits no list is wanted, but why.
        said = [r.verdict.sentence for r in kept]
        kept = [r for r in kept if r.verdict.sentence == max(said, key=said.count)]
        lines.append(kept[0].verdict.sentence)
    else:
        lines += [f"{r.glass.label}: {r.verdict.outcome}, holds in {holding(r.verdict.holds)}" for r in kept[:_MOST]]
    lines += _rules_against(kept)
    return Answered(
        "ranking",
        f"which {f'of {glass.typed}' if glass is not None else 'glasses'} suit {metal.meaning.small}{taken_as(metal)}",
        tuple(lines),
        f"refdb glasses --on {metal.key}",
        address_of("/suits", metal=metal.key),
        (metal.key, *(r.glass.key for r in kept[:_MOST])),
        next(iter(counts), ""),
    )


def _counted(count: int, outcome: str) -> str:
    """How many glasses have this outcome: "12 do not suit"."""
    if count != 1:
        outcome = outcome.replace("does not", "do not").replace("suits", "suit")
    return f"{count} {outcome.replace('cannot say', 'cannot be said')}"


def _rules_against(kept: list[Any]) -> list[str]:
    """What stands against the best of them, once."""
    if not kept or kept[0].verdict.outcome == "suits":
        return []
    worst = next((t for t in kept[0].verdict.told if t.outcome == kept[0].verdict.outcome), None)
    return [f"{upper_first(worst.title)}: {ended(worst.remedy)}"] if worst is not None and worst.remedy else []


def of_clears(ref: Reference, leaf_span: Span, metal_span: Span | None) -> Answered | None:
    """Which clear goes over a leaf."""
    from refdb.judge.piece.clear_over_leaf import clears

    leaf = meant(ref, leaf_span, "leaf")
    metal = meant(ref, metal_span, "metal") if metal_span is not None else None
    if leaf is None:
        return None
    base = ref.metal(metal.key if metal is not None else _USUAL_METAL)
    ranked = clears(ref, leaf.key, base.key)
    against = [f"; {lower_first(r.because)}" if r.because else "" for r in ranked]
    lines = [f"{r.glass.label}: {r.verdict.outcome}{more}" for r, more in zip(ranked, against, strict=True)]
    usual = "" if metal is not None else ", as no metal is named"
    return Answered(
        "clears",
        f"which clear goes over {leaf.meaning.small} on {base.small}{usual}{taken_as(leaf, metal)}",
        tuple(lines[: _MOST + 1]),
        f"refdb clears {leaf.key} --on {base.key}",
        address_of("/clears", leaf=leaf.key, metal=base.key),
        (leaf.key, base.key, *(r.glass.key for r in ranked[:_MOST])),
        ranked[0].verdict.outcome if ranked else "",
    )


def of_bed(ref: Reference, leaf_span: Span, metal_span: Span | None) -> Answered | None:
    """What lies under a leaf: the usual bed, and what the trade says of it."""
    from refdb.judge.piece.clear_over_leaf import UNDER_M, usual_bed

    leaf = meant(ref, leaf_span, "leaf")
    metal = meant(ref, metal_span, "metal") if metal_span is not None else None
    if leaf is None:
        return None
    base = ref.metal(metal.key if metal is not None else _USUAL_METAL)
    bed = usual_bed(ref, base)
    usual = "" if metal is not None else ", as no metal is named"
    lines = [
        f"{bed.label}, about {UNDER_M * 1e3:g} mm, fused before the leaf is laid: the hardest clear that "
        f"{base.small} bears, so that it stays firm while what lies above is fired."
    ]
    lines += [ended(r["statement"]) for r in ref.rows("SELECT statement FROM practice_rules WHERE key = ?", _BED_RULE)]
    return Answered(
        "bed",
        f"what goes under {leaf.meaning.small} on {base.small}{usual}{taken_as(leaf, metal)}",
        tuple(lines),
        f"refdb clears {leaf.key} --on {base.key} --under {bed.key}",
        address_of("/clears", leaf=leaf.key, metal=base.key, under=bed.key),
        (leaf.key, base.key, bed.key),
    )


def of_heat(ref: Reference, glass_span: Span | None, metal_span: Span | None) -> Answered | None:
    """How hot a glass is fired, on a metal where one is named; how a clay is fired where no glass is."""
    glass = meant(ref, glass_span, "glass") if glass_span is not None else None
    metal = meant(ref, metal_span, "metal") if metal_span is not None else None
    if glass is None:
        return _heat_of_metal(ref, metal) if metal is not None else None
    record = ref.glass(glass.key)
    low, high = record.band("fuse_low"), record.band("fuse_high")
    lines = []
    if low is not None and high is not None:
        lines.append(f"{record.label}: kiln setting {span_of(low.value, high.value)}, {_basis(record, 'fuse_low')}.")
    else:
        lines.append(f"No kiln setting is known for {record.small}; the maker's sheet has it.")
    base = ref.metal(metal.key) if metal is not None else None
    melts = base.band("solidus") if base is not None else None
    if base is not None and melts is not None:
        lines.append(f"{base.label} {begins_at(melts)}; stay at least 15 °C below.")
    looks = ref.rows("SELECT statement FROM practice_rules WHERE key LIKE 'look-right-%' ORDER BY key")
    lines += [ended(r["statement"]) for r in looks if _about(r, record.label)][:1]
    lines.append("The maker's sheet governs; fire a test tile.")
    command = f"refdb suits {glass.key} {metal.key}" if metal is not None else f"refdb show {glass.key}"
    address = address_of("/suits", glass=glass.key, metal=metal.key) if metal is not None else f"/material/{glass.key}"
    on = f" on {metal.meaning.small}" if metal is not None else ""
    return Answered(
        "heat", f"how hot is {glass.meaning.small} fired{on}{taken_as(glass, metal)}", tuple(lines), command, address,
        (glass.key, *((metal.key,) if metal is not None else ())),
    )  # fmt: skip


def _about(rule: dict[str, Any], label: str) -> bool:
    words = {w.strip(",.;").lower() for w in str(rule["statement"]).split()[:4]}
    return bool(words & (set(label.lower().split()) - {"a", "the", "lead-free", "leaded"}))


def _basis(record: Any, name: str) -> str:
    found = record.value(name)
    return str(found.basis) if found is not None else ""


def _heat_of_metal(ref: Reference, metal: Named) -> Answered | None:
    base = ref.metal(metal.key)
    lines = []
    phases = ref.rows("SELECT * FROM firing_phases WHERE clay_family = ? ORDER BY schedule, phase", base.clay_family)
    for p in phases[:_MOST]:
        held = f", {p['hold_low_min']:g} to {p['hold_high_min']:g} min" if p["hold_low_min"] is not None else ""
        heat = span_of(p["temp_low_c"], p["temp_high_c"])
        lines.append(f"{upper_first(p['schedule'])}, {p['title']}: {heat}{held}.")
    melts = base.band("solidus")
    if melts is not None:
        lines.append(f"{base.label} {begins_at(melts)}.")
    if not phases:
        rule = ref.rows("SELECT statement FROM practice_rules WHERE key = 'fire-setting'")
        lines += [ended(r["statement"]) for r in rule]
    else:
        lines.append("The maker's leaflet of the clay governs.")
    return Answered(
        "heat", f"how hot is {metal.meaning.small} fired{taken_as(metal)}", tuple(lines), f"refdb show {metal.key}",
        f"/material/{metal.key}", (metal.key,),
    )  # fmt: skip


def of_melting(ref: Reference, metal_span: Span) -> Answered | None:
    """Where a metal begins and ends melting."""
    metal = meant(ref, metal_span, "metal")
    if metal is None:
        return None
    base = ref.metal(metal.key)
    lines = [melting_of(base)]
    return Answered(
        "melting", f"where does {metal.meaning.small} melt{taken_as(metal)}", tuple(lines), f"refdb show {metal.key}",
        f"/material/{metal.key}", (metal.key,),
    )  # fmt: skip


#: The chemical symbols of families of metals, as contacts name them; an alloy is named by its family.
_SYMBOLS = {"silver": "Ag", "copper": "Cu", "gold": "Au", "aluminium": "Al", "nickel": "Ni", "platinum": "Pt",
            "palladium": "Pd", "steel": "Fe", "stainless steel": "Fe", "titanium": "Ti"}  # fmt: skip


def _symbol(ref: Reference, span: Span) -> tuple[str, str]:
    """What contacts call a thing, and its label."""
    kind = "metal" if "metal" in span.kinds else "leaf"
    named = meant(ref, span, kind)
    if named is None:
        return "", ""
    if kind == "leaf":
        leaf = ref.leaf(named.key)
        return leaf.metal.split()[0] if leaf.metal else "", leaf.label
    base = ref.metal(named.key)
    return ("sterling" if base.key.startswith("sterling") else _SYMBOLS.get(base.family, base.family)), base.label


def of_contact(ref: Reference, first: Span, second: Span) -> Answered | None:
    """What two metals that touch do in the kiln."""
    (a, label_a), (b, label_b) = _symbol(ref, first), _symbol(ref, second)
    rows = ref.rows(
        "SELECT * FROM contacts WHERE (metal_a, metal_b) IN (VALUES (?, ?), (?, ?)) ORDER BY low IS NULL, rowid",
        a,
        b,
        b,
        a,
    )
    if not rows or a == b or rows[0]["first_melts_c"] is None:
        return None
    row = rows[0]
    held = span_of(row["low"], row["high"]) if row["low"] is not None and row["low"] != row["high"] else ""
    lines = [
        f"Where {lower_first(label_a)} and {lower_first(label_b)} touch, melting begins at about "
        f"{degrees(row['first_melts_c'])}{f' ({held})' if held else ''}: {row['reaction']}.",
        "Fused glass between them keeps them apart.",
    ]
    return Answered(
        "contact", f"what {lower_first(label_a)} and {lower_first(label_b)} do where they touch", tuple(lines),
        f'refdb show "{row["metal_a"]} {row["metal_b"]}"',
        address_of("/reference/contacts", metal_a__exact=row["metal_a"], metal_b__exact=row["metal_b"]),
        (f"{row['metal_a']} {row['metal_b']}",), more={"melts": row["first_melts_c"]},
    )  # fmt: skip


def of_cautions(ref: Reference, sentence: Sentence, named: Span | None, use: str, words: str) -> Answered | None:
    """What may hurt someone: of a use, of a thing that is named, of the words, or all; weightiest first."""
    from refdb.ask.cautions import cautions_about
    from refdb.errors import NotFound

    kind = "" if named is None else "metal" if "metal" in named.kinds else "glass" if "glass" in named.kinds else ""
    record = meant(ref, named, kind) if named is not None and kind else None
    try:
        found = cautions_about(ref, record.key if record is not None else None if use or not words else words, use)
    except NotFound:
        return None
    lines = [caution_text(h) for h in found.hazards[:3]]
    lines += [f"Limit, {r['agent']}, {r['place']}: {r['limit_text']}." for r in found.limits[:1]]
    lines.append("Local rules, the maker's sheet and licensed practice govern.")
    option = f" --use {use}" if use else ""
    asked = record.key if record is not None else "" if use else within(" ".join(words.split()), 40)
    return Answered(
        "cautions", f"cautions {found.label or 'of all kinds'}{taken_as(record)}", tuple(lines),
        f"refdb cautions {typeable(asked)}{option}".replace("  ", " "),
        address_of("/cautions", words=asked, use=use),
        tuple(h.key for h in found.hazards[:3]), more={"use": use}, apart=bool(found.said),
    )  # fmt: skip


def of_faults(ref: Reference, low: str) -> Answered | None:
    """What went wrong: the faults that the words may mean, told apart."""
    from refdb.store.fault_search import causes_of
    from refdb.store.fault_search import meant as faults_meant

    found = faults_meant(ref, low)
    if not found.symptoms:
        return None
    lines = []
    for s in found.symptoms[:_MOST]:
        causes = causes_of(ref, [s])
        lines.append(f"{s.label} ({len(causes)} causes). {s.how_to_tell} Likeliest: {lower_first(causes[0].cause)}")
    first = found.symptoms[0].key if len(found.symptoms) == 1 else within(low.rstrip("?"), 60)
    return Answered(
        "fault", "what went wrong", tuple(lines),
        f"refdb fault {typeable(first)}", address_of("/faults", words=first),
        tuple(s.key for s in found.symptoms[:_MOST]), apart=bool(found.said),
    )  # fmt: skip


def of_record(ref: Reference, span: Span) -> Answered | None:
    """What a material is."""
    kind = next((k for k in ("metal", "glass", "leaf") if k in span.kinds), "")
    named = meant(ref, span, kind) if kind else None
    if named is None:
        return None
    record = ref.material(named.key)
    told = ref.rows("SELECT key, statement FROM practice_rules WHERE topic = ?", _WORDS)
    words = [r for r in told if r["statement"].lower().startswith(named.typed.lower())]
    lines = (*(ended(r["statement"]) for r in words), f"{record.label}, {record.family}.", ended(record.summary))
    return Answered(
        "record", f"what is {named.typed}{taken_as(named)}", lines, f"refdb show {record.key}",
        f"/material/{record.key}", (record.key, *(r["key"] for r in words)),
    )  # fmt: skip
