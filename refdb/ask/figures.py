"""Answers that are figures: of a record, of how thick it has to be, and of a gauge or card in millimetres."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.ask.answers import Answered, address_of, taken_as
from refdb.ask.melting import melting_of
from refdb.ask.spans import Span, meant
from refdb.records.printed import number_of, range_of, span_of, unit_of
from refdb.words import ended, lower_first, upper_first

if TYPE_CHECKING:
    from refdb.records import Material
    from refdb.store.reference import Reference

#: What people call a figure; the first that holds counts.
_FIGURES: tuple[tuple[re.Pattern[str], tuple[str, ...]], ...] = tuple(
    (re.compile(rf"\b({words})\b"), properties)
    for words, properties in (
        (r"shrinks?|shrinkage|shrinking", ("shrinkage",)),
        (r"expansion|expands?|coe|cte|coefficient", ("expansion",)),
        (r"softens?|softening|littleton", ("littleton_softening", "dilatometric_softening")),
        (r"set point|sets|solidif(?:y|ies)", ("set_point",)),
        (r"glass transition|transition|tg|annealing point", ("glass_transition",)),
        (r"dense|denser|density|heavy|heavier|lighter|weighs?|specific gravity", ("density",)),
        (r"young ?s modulus|modulus|stiff|stiffness", ("youngs_modulus",)),
    )
)
#: The rule of practice on how thick the glass on a metal may be.
_OF_GLASS = "enamel-half-metal"
#: The subject of thickness, and how its rules say that they hold for the glass of a face.
_THICKNESS, _EACH_FACE = "thickness", "each face"
_NO_METAL = re.compile(r"\b(gauge|gage|ga|cards?|mm|millimet\w+|inch(es)?|thick(ness)?|equals?|mean|awg|b and s|in)\b")


def figures_meant(low: str) -> tuple[str, ...]:
    """The properties that a sentence asks for, the likeliest first; none where it asks for no figure."""
    return next((properties for words, properties in _FIGURES if words.search(low)), ())


def words_left(text: str) -> str:
    """A sentence without the words for a figure."""
    for words, _ in _FIGURES:
        text = words.sub(" ", text)
    return text


def of_figure(ref: Reference, span: Span, properties: tuple[str, ...]) -> Answered | None:
    """What is known of one property of a material."""
    kind = next((k for k in ("metal", "glass", "leaf") if k in span.kinds), "")
    named = meant(ref, span, kind) if kind else None
    if named is None:
        return None
    record = ref.material(named.key)
    known = [p for p in properties if record.value(p) is not None]
    labels = {p.key: p.label for p in ref.properties()}
    lines = [_told(ref, record, p) for p in known]
    if known and (kind == "glass" or "clay" in record.key):
        lines.append("The maker's sheet governs.")
    elif not known:
        lines = [f"Nothing is known of its {labels[properties[0]]}; the maker's sheet may have it."]
    return Answered(
        "figure",
        f"{labels[(known or [*properties])[0]]} of {named.meaning.small}{taken_as(named)}",
        tuple(lines),
        f"refdb show {record.key}",
        f"/material/{record.key}",
        (record.key,),
    )


#: Sets one thing against another.
_AGAINST = re.compile(r"\b(more|less|first|before|sooner|later|than|high(er)?|low(er)?|heavier|lighter|denser)\b")
#: Where a metal begins to melt.
MELTING = ("solidus",)


def compares(rest: str) -> bool:
    """Whether a sentence sets one of two things against the other."""
    return bool(_AGAINST.search(rest))


def without_asking(text: str) -> str:
    """A sentence without the words by which figures and their comparison are asked for."""
    return _AGAINST.sub(" ", words_left(text))


def of_two(ref: Reference, first: Span, second: Span, properties: tuple[str, ...]) -> Answered | None:
    """One property of two metals or two glasses: both figures, and which is the higher where their bands tell."""
    kind = next((k for k in ("metal", "glass") if k in first.kinds & second.kinds), "")
    named = [n for span in (first, second) if kind and (n := meant(ref, span, kind)) is not None]
    records = [ref.material(n.key) for n in named]
    rows = [next((r for p in properties if (r := record.value(p)) is not None), None) for record in records]
    if len(records) < 2 or records[0].key == records[1].key:
        return None
    label = next(p.label for p in ref.properties() if p.key == properties[0])
    known = [(r, record) for r, record in zip(rows, records, strict=True) if r is not None]
    lines = [f"{r.label}: its {label} is not known here." for r in records if r not in [k for _, k in known]]
    lines += [melting_of(record) if properties == MELTING else _told(ref, record, r.property) for r, record in known]
    if len(known) == len(records) and known[0][0].property == known[1][0].property:
        low, high = sorted(known, key=lambda pair: pair[0].band.value)
        apart = low[0].band.high < high[0].band.low
        first_line = f"{high[1].label} has the higher {label}."
        if properties == MELTING:
            first_line = f"{low[1].label} begins to melt first."
        lines.insert(0, first_line if apart else f"The bands of their {label} overlap: which is higher cannot be said.")
    return Answered(
        "figure", f"{label} of {' and of '.join(n.meaning.small for n in named)}{taken_as(*named)}", tuple(lines),
        f"refdb show {records[0].key}", f"/material/{records[0].key}", tuple(r.key for r in records),
    )  # fmt: skip


def of_both(ref: Reference, first: Span, second: Span, properties: tuple[str, ...]) -> Answered | None:
    """One property of a glass and of a metal, side by side."""
    found = [of_figure(ref, span, properties) for span in (first, second)]
    if first.kinds & second.kinds or any(f is None for f in found):
        return None
    a, b = (f for f in found if f is not None)
    lines = list(dict.fromkeys((*a.lines, *b.lines)))
    lines.sort(key=lambda line: line.startswith("The maker"))
    glass, metal = (a, b) if "glass" in first.kinds else (b, a)
    return Answered(
        "figure", f"{a.understood}; {b.understood}", tuple(lines), f"refdb suits {glass.keys[0]} {metal.keys[0]}",
        address_of("/suits", glass=glass.keys[0], metal=metal.keys[0]), (*a.keys, *b.keys),
    )  # fmt: skip


def _told(ref: Reference, record: Material, name: str) -> str:
    row, prop = record.value(name), next(p for p in ref.properties() if p.key == name)
    assert row is not None
    between = range_of(row, prop)
    span = span_of(row.temp_low_c, row.temp_high_c)
    figure = " ".join(w for w in (number_of(row.band.value, prop), unit_of(prop)) if w)
    held = "".join((f" ({between})" if between else "", f", from {span}" if span else ""))
    return f"{record.label}: {prop.label} {figure}{held}; {row.basis}."


def of_thickness(ref: Reference, metal_span: Span) -> Answered | None:
    """How thick a metal has to be for glass: what the trade takes, and what holds on the plate."""
    from refdb.judge.fit.one_face import FIRST_COATS_MM
    from refdb.judge.fit.ratios import made_for, ratios_on

    metal = meant(ref, metal_span, "metal")
    if metal is None:
        return None
    base = ref.metal(metal.key)
    lines = []
    least = base.value("least_thickness")
    if least is not None:
        prop = next(p for p in ref.properties() if p.key == "least_thickness")
        between = range_of(least, prop)
        held = f" ({between})" if between else ""
        lines.append(f"The trade takes at least {number_of(least.band.value, prop)} {unit_of(prop)}{held}.")
        lines += [ended(upper_first(least.note))] if least.note else []
    ratios = ratios_on(ref, base)
    classes = [r for g in made_for(ref, base) if (r := ratios.get(g.key)) is not None]
    coat = FIRST_COATS_MM[0]
    found = sorted(x for r in classes if (x := r.least_metal_mm(coat)) is not None)
    if found:
        span = f"{found[0]:.2f} mm" if found[0] == found[-1] else f"{found[0]:.2f} to {found[-1]:.2f} mm"
        lines.append(f"Computed, for a first coat of {coat:.2f} mm on one face: {span}, by the glass.")
    rules = ref.rows("SELECT key, statement FROM practice_rules WHERE key = ?", _OF_GLASS)
    lines += [ended(r["statement"]) for r in rules]
    if not lines:
        return None
    lines.append("Fire a test tile before the piece.")
    return Answered(
        "thickness", f"how thick {metal.meaning.small} has to be for glass{taken_as(metal)}", tuple(lines),
        f"refdb builds {base.key}", address_of("/builds", metal=base.key), (base.key, *(r["key"] for r in rules)),
    )  # fmt: skip


def of_coat(ref: Reference, metal_span: Span) -> Answered | None:
    """How thick the glass on a metal may be: what the trade lays, and what a first coat stands on the plate."""
    from refdb.judge.fit.ratios import made_for, ratios_on

    metal = meant(ref, metal_span, "metal")
    if metal is None:
        return None
    base = ref.metal(metal.key)
    of_metal = re.compile(rf"\b{re.escape(base.family)}\b")
    told = ref.rows("SELECT key, statement, applies_to FROM practice_rules WHERE topic = ? ORDER BY key", _THICKNESS)
    usual = {r["key"]: r for r in told}
    own = [r for r in told if str(r["applies_to"] or "").endswith(_EACH_FACE) and of_metal.search(str(r["applies_to"]))]
    rules = [*(own or [usual["total-fired"]]), usual[_OF_GLASS]]
    lines = [ended(r["statement"]) for r in rules]
    ratios = ratios_on(ref, base)
    known = [r for g in made_for(ref, base) if (r := ratios.get(g.key)) is not None and r.first is not None]
    if known:
        low, high = (f"{end(r.first or 0.0 for r in known):.2f}" for end in (min, max))
        span = low if low == high else f"{low} to {high}"
        lines.append(f"Computed, a first coat holds up to {span} of the metal's thickness, by the glass.")
    lines.append("Fire a test tile before the piece.")
    return Answered(
        "thickness", f"how thick the glass on {metal.meaning.small} may be{taken_as(metal)}", tuple(lines),
        f"refdb builds {base.key}", address_of("/builds", metal=base.key), (base.key, *(r["key"] for r in rules)),
    )  # fmt: skip


def of_gauge(low: str, thickness: str) -> Answered | None:
    """A gauge or a number of cards in millimetres, where a sentence holds nothing else."""
    from refdb.quantities.lengths import thickness as read
    from refdb.quantities.printed import format_number

    if not re.search(r"gau?ge|ga\b|card|inch|in\b|thou", thickness):
        return None
    band = read(thickness).band
    low_mm, high_mm = (format_number(x * 1e3, 3) for x in (band.low, band.high))
    told = f"{low_mm} mm" if low_mm == high_mm else f"{low_mm} to {high_mm} mm"
    cards, gauge = "card" in thickness, re.search(r"gau?ge|ga\b", thickness)
    note = ["Cards are counted before firing; clay shrinks."] if cards else []
    note += (
        ["Brown and Sharpe, for copper, brass, silver and gold; steel and the imperial gauge differ."] if gauge else []
    )
    keys = ("gauge-in-mm",) if gauge else ()
    return Answered(
        "gauge", f"how thick {thickness} is", (f"{upper_first(thickness)}: {told}.", *note),
        'refdb practice "thickness"', "/practice/thickness", keys,
    )  # fmt: skip


def asks_gauge_alone(rest: str) -> bool:
    """Whether nothing but a thickness and words of measure stand in what is left of a sentence."""
    return not _NO_METAL.sub(" ", lower_first(rest)).strip()
