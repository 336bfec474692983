"""How an outcome is chosen and said: by the share of the draws that do not hold, after the rules that hold for all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from refdb.frozen import replace
from refdb.judge import limits
from refdb.judge.numbers import Numbers
from refdb.judge.reason import CARE, NOT, ORDER, RANK, SUITS, UNSURE, Reason, Triple, outcome_of
from refdb.judge.rules import RULES
from refdb.judge.wording import Context, Told, told
from refdb.words import upper_first

#: What narrows the input that decides; anything else is the metal's own, which only the build can get round.
_HOW_TO_NARROW = {
    "expansion": "the maker's figure, or a strip test of your own jar",
    "set point": "the maker's softening or transition temperature, or thicker metal and thinner coats",
    "solidus": "the maker's sheet for this alloy, or a glass that fires cooler",
    "strength": "thinner first coats, both faces in one fire, or a shorter wait between firings",
    "kiln range": "the maker's firing range",
    "kiln offset": "a kiln checked closer by test tiles, or a setting further from the limit",
    "thickness": "measure it",
}
_HOLDS = "Every firing holds, and the finished glass is squeezed on every face it lies on."
_TOGETHER = "several things together stand against it, none alone"


def joint(shares: Triple | None, floor: int) -> Triple:
    """Joint shares once the worst rule that holds for every draw, of rank `floor`, is counted in."""
    if shares is None:
        return (0.0, 0.0, 0.0)
    fine, care, bad = shares
    return (shares, (0.0, fine + care, bad), (0.0, 0.0, 1.0))[floor]


def decide(shares: Triple, missing: tuple[str, ...], floor: int) -> tuple[str, float]:
    """Outcome and confidence, the share of the draws that have it; `cannot say` where a figure is missing.

    `suits with care` counts every draw that holds: where some do not, the care is that risk.
    """
    # A definite refusal needs no figure that is missing.
    if floor == RANK[NOT]:
        return NOT, 1.0
    if missing:
        return UNSURE, 0.0
    fine, care, bad = shares
    outcome = outcome_of(shares)
    return outcome, {SUITS: fine, CARE: fine + care, NOT: bad, UNSURE: max(shares)}[outcome]


def sentence(
    outcome: str,
    reasons: Sequence[Reason],
    context: Context,
    numbers: Numbers | None,
    missing: tuple[str, ...],
    shares: Triple,
) -> str:
    """The verdict in one or two sentences: what stands against it, what holds, or what is not known.

    Parameters
    ----------
    outcome : str
        As `decide` found it.
    reasons : sequence of Reason
        Worst first.
    context : Context
    numbers : Numbers or None
        None where nothing could be sampled.
    missing : tuple of str
        What is not known.
    shares : tuple of float
        As `joint` found them.
    """
    if missing and outcome == UNSURE:
        return "Not known: " + "; ".join(missing) + "."
    if outcome == SUITS:
        return _squeezed(numbers) if context.is_question and numbers is not None else _HOLDS
    # What is a consequence of another stands behind it here; the list keeps the graver before.
    made = sorted((r for r in reasons if r.deciding), key=lambda r: (-ORDER[r.outcome], not _is_cause(r)))
    heads = _heads(told(reason, context) for reason in made)
    text = upper_first("; ".join(heads[:2] or [_TOGETHER])) + "."
    return f"{text} {what_decides(numbers)}" if outcome == UNSURE and numbers is not None else text


def _heads(found: Iterable[Told]) -> list[str]:
    """What findings say at the head of a verdict, each thing once, with the place of the first that says it."""
    places: dict[str, str] = {}
    for one in found:
        places.setdefault(one.head, one.place)
    return [f"{head} ({place})" if place else head for head, place in places.items()]


def with_deciding(outcome: str, reasons: Sequence[Reason]) -> tuple[Reason, ...]:
    """The reasons worst first, those marked and in front that made an outcome.

    These are the ones that have it alone, or worse; where several together have it and none alone, those that come
    near to the nearest of them.
    """
    made = {id(r) for r in reasons if ORDER[r.outcome] >= ORDER[outcome]} if outcome != SUITS else set()
    if not made and outcome != SUITS:
        # Open or refused by draws that fail one rule here and another there; or care of several.
        part = 1 if outcome == CARE and all(_fails(r) < limits.HOLDS_BELOW / 2 for r in reasons) else 2
        weights = {id(r): sum(r.split[part:]) for r in reasons if r.split is not None}
        most = max(weights.values(), default=0.0)
        made = {key for key, weight in weights.items() if most > 0 and weight >= most / 2}
    marked = [replace(r, deciding=True) if id(r) in made else r for r in reasons]
    return tuple(sorted(marked, key=_weight))


def _fails(reason: Reason) -> float:
    return 0.0 if reason.split is None else reason.split[2]


def _is_cause(reason: Reason) -> bool:
    rule = RULES.get(reason.rule)
    return rule is not None and rule.cause


def _weight(reason: Reason) -> tuple[bool, int, float, float]:
    if reason.outcome == SUITS and not reason.deciding:
        return True, 0, 0.0, reason.share
    # The share of a plain `suits` is what is fine: the less, the more it weighs.
    doubt = 1.0 - reason.share if reason.outcome == SUITS else reason.share
    return not reason.deciding, -ORDER[reason.outcome], -_fails(reason), -doubt


def _squeezed(numbers: Numbers) -> str:
    """How much a finished glass is squeezed."""
    glass = [layer.mean for layer in numbers.stages[-1].layers if layer.name != "metal"]
    mean = -sum(m[0] for m in glass) / len(glass)
    faces = "both faces" if len(glass) > 1 else "its face"
    return f"The glass ends squeezed on {faces}, by about {mean:.0f} MPa, and should stay so."


def what_decides(numbers: Numbers) -> str:
    """Whose band decides an open verdict, and what would settle it, as two sentences."""
    how = next((h for name, h in _HOW_TO_NARROW.items() if name in numbers.decides), "thicker metal or thinner coats")
    return f"What decides is the {numbers.decides or 'sum of the bands'}. To settle it: {how}."
