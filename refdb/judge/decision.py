"""How an outcome is chosen: the largest share of the sample, after the rules that hold for every draw."""

from __future__ import annotations

from refdb.judge import limits
from refdb.judge.numbers import Numbers, Triple
from refdb.judge.verdict import CARE, NOT, RANK, SUITS, UNSURE, Measure

#: What narrows the input that decides; anything else is the metal's own, which only the build can get round.
_HOW_TO_NARROW = {
    "glass expansion": "the maker's figure (--expansion, or kept with refdb mine add), or a strip test of your own jar",
    "set point": "the maker's softening or transition temperature, or thicker metal and thinner coats",
    "solidus": "the maker's sheet for this alloy, or a glass that fires cooler",
    "kiln range": "the maker's firing range",
    "kiln offset": "a kiln checked closer (refdb mine learn kiln), or a setting further from the limit",
    "thickness": "measure it",
}


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


def clause(found: Measure | str) -> str:
    """What a rule found, as half a sentence."""
    text = str(found).rstrip(".")
    return text[:1].lower() + text[1:]


def unsure(missing: tuple[str, ...], numbers: Numbers | None, shares: Triple) -> str:
    """The sentence of a `cannot say`: what is missing, or whose band decides."""
    if missing:
        return "Not known: " + "; ".join(missing) + "."
    assert numbers is not None
    parts = ", ".join(
        f"{words} in {share * 10:.0f} of 10"
        for words, share in zip((SUITS, CARE, NOT), shares, strict=True)
        if round(share * 10) > 0
    )
    how = next((h for name, h in _HOW_TO_NARROW.items() if name in numbers.decides), "thicker metal or thinner coats")
    return (
        f"What is known allows more than one outcome ({parts}); what decides is the "
        f"{numbers.decides or 'sum of the bands'}. To settle it: {how}."
    )
