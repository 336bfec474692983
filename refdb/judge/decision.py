"""How an outcome is chosen, and the sentence that says it: the largest share of the sample decides.

Rules that hold for every draw come first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from refdb.judge import limits
from refdb.judge.numbers import Numbers, worst_of_each
from refdb.judge.reason import CARE, NOT, OUTCOMES, RANK, SUITS, UNSURE, Reason, Triple
from refdb.judge.wording import Context, Told, told
from refdb.words import upper_first

#: What narrows the input that decides; anything else is the metal's own, which only the build can get round.
_HOW_TO_NARROW = {
    "glass expansion": "the maker's figure, or a strip test of your own jar",
    "set point": "the maker's softening or transition temperature, or thicker metal and thinner coats",
    "solidus": "the maker's sheet for this alloy, or a glass that fires cooler",
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
    """Outcome and confidence: the largest share, or `cannot say` below a half or where a figure is missing.

    Where no outcome has a half but the piece holds in nine draws of ten, it suits with care, that sure: the draws
    differ only in how much care.
    """
    # A definite refusal needs no figure that is missing.
    if floor == RANK[NOT]:
        return NOT, 1.0
    if missing:
        return UNSURE, 0.0
    best = max((NOT, CARE, SUITS), key=lambda o: shares[RANK[o]])
    share = shares[RANK[best]]
    if share >= limits.LEAST_SHARE:
        return best, share
    holds = shares[RANK[SUITS]] + shares[RANK[CARE]]
    return (CARE, holds) if holds >= limits.HOLDS_SHARE else (UNSURE, share)


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
    if outcome == UNSURE:
        return unsure(missing, numbers, shares)
    if outcome == SUITS:
        return _squeezed(numbers) if context.is_question and numbers is not None else _HOLDS
    heads = _heads(told(r, context) for r in reasons if r.outcome == outcome)
    if not heads and numbers is not None:
        heads = _most_often(reasons, outcome, numbers, context)
    return upper_first("; ".join(heads[:2] or [_TOGETHER])) + "."


def _heads(found: Iterable[Told]) -> list[str]:
    """What findings say at the head of a verdict, each thing once, with the place of the first that says it."""
    places: dict[str, str] = {}
    for one in found:
        places.setdefault(one.head, one.place)
    return [f"{head} ({place})" if place else head for head, place in places.items()]


def _most_often(reasons: Sequence[Reason], outcome: str, numbers: Numbers, context: Context) -> list[str]:
    """What stands against it most often, where several rules together and none alone make the outcome."""
    often = {row.rule: row.share_at_least(outcome) for row in worst_of_each(numbers.rules)}
    against = [r for r in reasons if r.split is not None and often.get(r.rule, 0.0) > 0]
    against.sort(key=lambda r: -often[r.rule])
    return _heads(told(replace(r, outcome=outcome), context) for r in against)


def _squeezed(numbers: Numbers) -> str:
    """How much a finished glass is squeezed."""
    glass = [mean for name, _, mean, _ in numbers.stages[-1].layers if name != "metal"]
    mean = -sum(m[0] for m in glass) / len(glass)
    faces = "both faces" if len(glass) > 1 else "its face"
    return f"Finished, the glass is squeezed on {faces}, by about {mean:.0f} MPa, and should stay so."


def unsure(missing: tuple[str, ...], numbers: Numbers | None, shares: Triple) -> str:
    """The sentence of a `cannot say`: what is missing, or whose band decides."""
    if missing:
        return "Not known: " + "; ".join(missing) + "."
    assert numbers is not None
    parts = ", ".join(
        f"{words} in {share * 10:.0f} of 10"
        for words, share in zip(OUTCOMES, shares, strict=True)
        if round(share * 10) > 0
    )
    how = next((h for name, h in _HOW_TO_NARROW.items() if name in numbers.decides), "thicker metal or thinner coats")
    return (
        f"What is known allows more than one outcome ({parts}); what decides is the "
        f"{numbers.decides or 'sum of the bands'}. To settle it: {how}."
    )
