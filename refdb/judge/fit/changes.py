"""What would change it: the smallest single change of a question that makes it hold, found on the plate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from refdb.frozen import dataclass, replace
from refdb.judge import limits
from refdb.judge.fit.build import ORDERS, TOGETHER, Build, firings
from refdb.judge.fit.question import Question
from refdb.judge.reason import CARE, NOT, ORDER, RANK, SUITS, Triple, outcome_of
from refdb.quantities import Band, thickness
from refdb.records import Glass, Metal
from refdb.records.named import small

#: At most so many are told.
MOST = 3
#: Steps of thickness: metal in tenths of a millimetre up to this [mm], glass in twentieths down to this [mm].
_THICKEST_METAL_MM, _THINNEST_COAT_MM = 3.0, 0.1
#: No slab of clay is rolled thicker.
_MOST_CARDS = 12
#: What is tried, the least trouble at the bench first.
KINDS = ("first", "order", "front", "back", "metal_thickness", "kiln", "glass")


@dataclass(frozen=True)
class Change:
    """One change and what comes of it.

    `kind` is one of `KINDS`; `value` is the new thickness [mm, or cards of a clay as people type them], setting [°C],
    order of faces or key of a glass, whose `label` is kept beside it. `confidence` is the share of draws with that
    outcome, `holds` the share that holds, with care or without.
    """

    kind: str
    value: float | str
    outcome: str
    confidence: float
    holds: float = 0.0
    label: str = ""

    @property
    def words(self) -> str:
        """The change in a few words."""
        told = f"{self.value:.2f} mm" if isinstance(self.value, float) else str(self.value)
        return {
            "first": f"a first coat of at most {told}",
            "order": "both faces in one first fire" if self.value == TOGETHER else f"the first coat {told}",
            "front": f"{told} of glass on the front",
            "back": f"{told} of glass on the back",
            "metal_thickness": f"metal of {told}",
            "kiln": f"a kiln set to {self.value:.0f} °C" if isinstance(self.value, float) else told,
            "glass": small(told, self.label or told),
        }[self.kind]

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "change": {"kind": self.kind, "value": self.value},
            "words": self.words,
            "outcome": self.outcome,
            "confidence": round(self.confidence, 4),
        }

    def to_plain(self) -> list[Any]:
        """As it is stored."""
        return [self.kind, self.value, self.outcome, round(self.confidence, 4), round(self.holds, 4)]


def candidates(question: Question, others: Iterable[Glass] = ()) -> list[tuple[str, float | str, Question]]:
    """Every single change that is tried, the smallest of each kind first; what cannot be fired is left out.

    Parameters
    ----------
    question : Question
    others : iterable of Glass
        Glasses of the same colour that are made for the metal.
    """
    found: list[tuple[str, float | str, Question]] = []
    for kind, value, build in _builds(question):
        if build != question.build:
            found.append((kind, value, replace(question, build=build.checked())))
    found += [("glass", glass.key, replace(question, glass=glass)) for glass in others]
    return found


def _builds(question: Question) -> Iterator[tuple[str, float | str, Build]]:
    build = question.build
    front, back, metal = (band.value * 1e3 for band in (build.front_m, build.back_m, build.metal_m))
    first = min(build.first_m * 1e3, max(front, back))
    for mm in _down(first):
        yield "first", mm, replace(build, first_m=mm * 1e-3)
    if front > 0 and back > 0:
        for order in dict.fromkeys((TOGETHER, *ORDERS)):
            if firings(replace(build, order=order)) != firings(build):
                yield "order", order, replace(build, order=order)
    for kind, here, there in (("front", front, back), ("back", back, front)):
        towards = [there] if there > 0 and abs(here - there) > 1e-6 else []
        for mm in [*towards, *(_down(here) if here > 0 else ())]:
            coat = Band.exact(mm * 1e-3)
            yield kind, mm, replace(build, front_m=coat) if kind == "front" else replace(build, back_m=coat)
    for thicker, band in _thicker(question.metal, metal):
        yield "metal_thickness", thicker, replace(build, metal_m=band)
    low, high = question.glass.band("fuse_low"), question.glass.band("fuse_high")
    if build.kiln_c is not None and low is not None and high is not None:
        middle = round((low.value + high.value) / 2)
        for setting in sorted({middle, round(low.value) + 5}, key=lambda c: abs(c - (build.kiln_c or 0.0))):
            yield "kiln", float(setting), replace(build, kiln_c=float(setting))


def _thicker(metal: Metal, mm: float) -> Iterator[tuple[float | str, Band]]:
    """Thicker metal: a clay in cards as it is rolled, anything else in tenths of a millimetre."""
    shrinkage = metal.band("shrinkage")
    if metal.form == "clay" and shrinkage is not None:
        for count in range(1, _MOST_CARDS + 1):
            band = thickness(f"{count} cards", shrinkage=shrinkage.scaled(0.01)).band
            if band.value * 1e3 > mm + 1e-6:
                yield f"{count} cards", band
        return
    for tenth in range(int(mm * 10 + 1e-9) + 1, int(_THICKEST_METAL_MM * 10) + 1):
        yield tenth / 10, Band.exact(tenth * 1e-4)


def _down(mm: float) -> Iterator[float]:
    """Thinner coats in twentieths of a millimetre."""
    for twentieth in range(int(mm * 20 - 1e-9), int(_THINNEST_COAT_MM * 20) - 1, -1):
        yield twentieth / 20


def helps(before: Triple, after: Triple) -> bool:
    """Whether a change is worth telling: where too many draws fail, that it holds; where it holds, that it does so
    plainly."""
    if before[2] >= limits.HOLDS_BELOW:
        return after[2] < limits.HOLDS_BELOW
    return outcome_of(after) == SUITS != outcome_of(before)


def chosen(before: Triple, tried: Sequence[tuple[str, float | str, Triple]]) -> tuple[Change, ...]:
    """The smallest change of each kind that helps, the best outcome first, at most `MOST`.

    Parameters
    ----------
    before : tuple of float
        Shares of the draws as the question stands.
    tried : sequence of tuple
        Kind, value and shares of each candidate, as `candidates` ordered them.
    """
    found: dict[str, Change] = {}
    for kind, value, after in tried:
        if kind not in found and helps(before, after):
            outcome = outcome_of(after)
            share = {SUITS: after[0], CARE: after[0] + after[1], NOT: after[2]}.get(outcome, max(after))
            found[kind] = Change(kind, value, outcome, share, 1.0 - after[2])
    ordered = sorted(found.values(), key=lambda c: (ORDER[c.outcome], KINDS.index(c.kind)))
    return tuple(ordered[:MOST])


def told(
    changes: Sequence[Change], outcome: str, fails: float, floor: int, of_glass: Mapping[str, tuple[str, int]]
) -> tuple[Change, ...]:
    """The changes as they are beside a verdict: no better than the rules that hold for every draw, and an improvement.

    Parameters
    ----------
    changes : sequence of Change
        As the sample has them.
    outcome : str
        Of the verdict.
    fails : float
        Share of its draws that do not hold.
    floor : int
        Rank of the worst rule that holds for every draw of the question.
    of_glass : mapping
        Label and that rank for each other glass.
    """
    found = []
    for change in changes:
        label, rank = of_glass[str(change.value)] if change.kind == "glass" else ("", floor)
        if rank == RANK[NOT]:
            continue
        if rank == RANK[CARE] and change.outcome == SUITS:
            change = replace(change, outcome=CARE, confidence=max(change.confidence, change.holds))
        after = change.outcome
        if ORDER[after] < ORDER[outcome] or (after == outcome and fails >= limits.HOLDS_BELOW):
            found.append(replace(change, label=label))
    return tuple(found)
