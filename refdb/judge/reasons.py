"""From sampled numbers to reasons in a practitioner's words, worst first."""

from __future__ import annotations

from refdb.judge import limits
from refdb.judge.numbers import Numbers, RuleNumbers
from refdb.judge.verdict import CARE, NOT, RANK, SUITS, Measure, Reason
from refdb.records import WEAK_BASES, FitRule, Glass, Metal, PropertyValue

_FINE_WHY = {
    "tension-lasting": "Squeezed glass does not crack by itself; it takes a knock to start one.",
    "tension-between": "The coat is safe to leave on one face until the other is fired.",
    "gap": "The metal does not shrink so much more than the glass that the coat lifts.",
    "kiln": "The glass flows well before the metal begins to melt.",
    "setting": "The glass flows at this setting and the metal stands it.",
    "glass-of-metal": "There is metal enough to carry this much glass.",
    "faces-alike": "Both faces pull alike, so the piece stays flat.",
    "one-face": "Metal this thick resists bending by one coat.",
    "least-metal": "The metal is thick enough for an enamel base.",
    "curve-end": "The metal's expansion is known up to where the glass sets.",
}

#: What a rule says in the sentence at the head of a verdict, for each of the two worse outcomes.
_SHORT = {
    "tension-lasting": (
        "finished, the glass may end up stretched at a surface",
        "finished, the glass is stretched and will crack",
    ),
    "tension-between": (
        "between firings the free face of the first coat may be stretched",
        "the first coat alone on one face is stretched far enough to crack",
    ),
    "gap": (
        "the metal shrinks a good deal more than the glass",
        "the metal shrinks so much more than the glass that the coat chips off",
    ),
    "kiln": ("the melting of the metal narrows the kiln window", "the metal begins to melt before the glass flows"),
    "setting": ("the kiln is set a little outside the glass's range", "the kiln is set where this cannot work"),
    "curve-end": ("the metal's expansion is not known up to where the glass sets", ""),
    "glass-of-metal": ("both coats together are thicker than the metal", "one coat is thicker than the metal"),
    "faces-alike": ("the two faces carry unlike amounts of glass", ""),
    "one-face": ("only one face carries glass", "only one face carries glass, on metal this thin"),
    "least-metal": ("the metal is thinner than the trade uses for glass", ""),
    "evidence-glass": ("the expansion of this glass is an estimate from others like it, not a measurement", ""),
    "evidence-metal": ("the expansion of this metal is an estimate, not a measurement", ""),
}


#: What the tension rules say where the glass shrinks more than the metal: then no build helps, only another pair.
_PULLED_WHY = "The glass shrinks more than the metal as both cool, and ends up stretched wherever it lies."
_PULLED_REMEDY = "A glass of lower expansion, or a metal of higher."
_PULLED_SHORT = (
    "the glass shrinks more than the metal and may end up stretched",
    "the glass shrinks more than the metal, is stretched and will crack",
)


def pulled(rule_key: str, numbers: Numbers) -> bool:
    """Whether a rule is about tension that comes of the glass shrinking more than the metal."""
    return rule_key.startswith("tension") and numbers.measures["gap_ppm"][0] < 0


def short_of(rule_key: str, outcome: str, numbers: Numbers | None = None) -> str:
    """A rule as half a sentence, for the head of a verdict; empty when it has none."""
    pair = _SHORT.get(rule_key.partition(":")[0])
    if numbers is not None and pulled(rule_key, numbers):
        pair = _PULLED_SHORT
    return "" if pair is None or outcome == SUITS else pair[1 if outcome == NOT else 0]


def sampled_reason(key: str, numbers: RuleNumbers, all_numbers: Numbers, metal: Metal) -> Reason:
    """The reason of one sampled rule; its outcome is the one half of the sample has or goes beyond."""
    head, _, step = key.partition(":")
    limit = limits.BY_KEY[head]
    source = limit.source
    outcome = numbers.outcome
    found: Measure | str = Measure(*numbers.found, limit.unit)
    words = limit.words
    if head == "kiln":
        low, high = all_numbers.measures["kiln_low_c"], all_numbers.measures["kiln_high_c"]
        found = (
            f"{low[0]:.0f} to {high[0]:.0f} °C"
            if high[0] > low[0]
            else f"glass from {low[0]:.0f} °C, metal to {high[0]:.0f} °C"
        )
    elif head == "setting":
        found = Measure(*numbers.found, "°C")
    elif head == "least-metal":
        row = metal.value("least_thickness")
        assert row is not None
        words = f"at least {row.band.value * 1e3:.2f} mm for this metal"
        source = row.source
    why, remedy = (limit.why, limit.remedy) if outcome != SUITS else (_FINE_WHY[head], "")
    if outcome != SUITS and pulled(key, all_numbers):
        why, remedy = _PULLED_WHY, _PULLED_REMEDY
    return Reason(
        limit.rule,
        outcome,
        found,
        words,
        why,
        remedy,
        source,
        numbers.share_at_least(outcome),
        step,
        numbers.share_beyond(outcome),
    )


def worst_stages(numbers: Numbers) -> list[str]:
    """Keys of the sampled rules, each rule at its worst stage only: the worst stage counts."""
    worst: dict[str, str] = {}
    for key, rule in numbers.rules.items():
        head = key.partition(":")[0]
        held = numbers.rules.get(worst.get(head, ""))
        if held is None or (rule.shares[::-1], rule.found[0]) > (held.shares[::-1], held.found[0]):
            worst[head] = key
    return list(worst.values())


def rule_reason(rule: FitRule) -> Reason:
    """The reason of a rule of surface or use."""
    return Reason(rule.rule, rule.outcome, rule.found, rule.limit_text, rule.why, rule.remedy, rule.source)


EVIDENCE_RULE = "Evidence for the expansion"
_EVIDENCE = {
    "glass": (
        "Glasses of one class and hardness differ by 3 ppm/K and more; hardness does not tell expansion.",
        "The maker's figure (--expansion; for a piece keep it with refdb mine add), or a strip test of your own jar.",
    ),
    "metal": (
        "What squeezes the glass is the small difference of two expansions, so a guess of one goes a long way.",
        "A measured expansion of this alloy.",
    ),
}


def evidence_reasons(glass: Glass, metal: Metal) -> dict[str, Reason]:
    """What keeps a plain `suits` away when an expansion is not a measured or published figure, by rule key."""
    found = {}
    for record in (glass, metal):
        row = record.value("expansion")
        if row is not None and row.basis in WEAK_BASES:
            why, remedy = _EVIDENCE[record.kind]
            found[f"evidence-{record.kind}"] = Reason(
                EVIDENCE_RULE,
                CARE,
                f"{record.label}: {_basis_words(row)}",
                "a measured or published figure for a plain suits",
                why,
                remedy,
                row.source,
            )
    return found


def _basis_words(row: PropertyValue) -> str:
    if row.note.startswith("taken from "):
        return f"no figure of its own is known; that of {row.note.split(';')[0].removeprefix('taken from ')} stands in"
    return {
        "analogue": "figures of similar glasses, not of enamels for this metal",
        "common practice": "common practice, no measurement",
        "from memory": "recalled, no source in hand",
        "no evidence": "no published figure; taken from related glasses",
    }[row.basis]


def worst_first(reasons: list[Reason]) -> tuple[Reason, ...]:
    """Reasons in order: worst outcome first, then the larger share beyond it, then at it, then as they came."""
    # A chance of refusal in less than a twentieth of the sample is not shown, so it does not order either.
    return tuple(
        sorted(
            reasons,
            key=lambda r: (
                (-RANK[r.outcome], -r.worse if r.worse >= 0.05 else 0.0, -r.share)
                if r.outcome != SUITS
                else (0, 0.0, r.share)
            ),
        )
    )


def sentence(outcome: str, worst: list[str], numbers: Numbers | None) -> str:
    """The verdict in one or two sentences: what stands against it, or what holds."""
    if outcome == SUITS and numbers is not None:
        last = numbers.stages[-1]
        glass = [m for n, _, m, _ in last.layers if n != "metal"]
        mean = -sum(m[0] for m in glass) / len(glass)
        faces = "both faces" if len(glass) > 1 else "its face"
        return f"Finished, the glass is squeezed on {faces}, by about {mean:.0f} MPa, and should stay so."
    text = "; ".join(worst[:2])
    return text[0].upper() + text[1:] + "."
