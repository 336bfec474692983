"""Which builds hold: thicknesses, order of faces and glasses that meet a person's wishes, and a map of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from refdb.frozen import replace
from refdb.judge.fit.build import TOGETHER, Build, firings
from refdb.judge.fit.holding import Holding
from refdb.judge.fit.one_face import COAT_M, THICKEST_METAL_M, Ratio, inputs_of
from refdb.judge.fit.question import Question, thickness_once
from refdb.judge.fit.ratios import made_for, ratios_on
from refdb.judge.fit.wanted import metal_of, wishes_from
from refdb.judge.fit.wishes import ANY, Range, Wishes
from refdb.judge.limits import HOLDS_BELOW
from refdb.judge.naming import Taking
from refdb.judge.reason import ORDER, RANK
from refdb.quantities.band import Band
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: What is tried [mm]: metal in twentieths of a millimetre while it is thin, first coats, and the back over the front.
METALS_MM = (*(k / 20 for k in range(4, 21)), 1.1, 1.2, 1.4, 1.6, THICKEST_METAL_M * 1e3)
FIRSTS_MM = (0.20, 0.15, 0.10)
BACK_OVER_FRONT = (1.0, 0.75, 0.5, 1.25, 0.0)
#: Of a wish for a range, its end and so many steps [mm] towards the other.
MORE_MM = (0.0, 0.1, 0.2)
#: Margins closer than this are one.
_MARGIN = 0.02
#: Where hardly a draw fails, nothing is gained by more metal.
_SURE = 0.995


class Builds(list[Holding]):
    """Builds that hold, the thinnest metal first, then the fewest fires, then the widest margin.

    `ratios` has of each glass how thick one coat may be over the metal; `refused_by` is, where none holds, the key of
    the rule that refuses most of the draws of the one that comes nearest.
    """

    def __init__(self, found: Iterable[Holding], ratios: dict[str, Ratio], refused_by: str = "") -> None:
        super().__init__(found)
        self.ratios = ratios
        self.refused_by = refused_by

    def rows(self) -> list[dict[str, Any]]:
        """One flat row a build, for a table or a data frame."""
        return [one.row() for one in self]

    def __repr__(self) -> str:
        if not self:
            return "<No builds that hold>"
        thinnest = self[0].question.build.metal_m.value * 1e3
        return f"<{len(self)} builds that hold, from {thinnest:g} mm of metal>"


def builds(
    ref: Reference,
    metal: str | Metal,
    glass: str | Glass | None = None,
    *,
    wish: str | Sequence[str] = (),
    front: str = "",
    back: str = "",
    metal_thickness: str = "",
    first: str = "",
    shape: str = "",
    order: str = "",
    kiln_most: str = "",
) -> Builds:
    """Find the builds of a metal that hold and meet wishes.

    Parameters
    ----------
    ref : Reference
        The open store.
    metal, glass : str, or a record
        Keys or names, or records; without a glass every class that the trade makes for the metal is tried.
    wish : str or sequence of str
        "front at least 0.5 mm", "no glass on the back", "two fires at most", "metal at most 0.6 mm", "domed".
    front, back, metal_thickness, first : str
        Thickness after firing as it is typed, "0.3 mm", "20 ga" or, of a clay, "3 cards". 0.3 mm on the front where
        nothing is said.
    shape, order, kiln_most : str
        As `refdb suits` takes them.

    Returns
    -------
    Builds
        Those that no other beats in verdict, metal, fires and margin at once; with no glass, the best of each class.

    Raises
    ------
    NotFound, BadInput, StoreUnusable

    Examples
    --------
    >>> import refdb
    >>> with refdb.open_reference() as ref:
    ...     found = refdb.builds(ref, "copper-sheet", "clear-hard-lead-free", wish="no glass on the back")
    >>> found[0].outcome, found[0].fires
    ('suits with care', 2)
    """
    names = Taking(ref)
    metal = names.sheet(metal) if isinstance(metal, str) else metal
    glass = names.glass(glass) if isinstance(glass, str) else glass
    metal_thickness = thickness_once(names, metal_thickness, metal, "metal_thickness")
    told = {"front": front, "back": back, "metal_thickness": metal_thickness, "first": first}
    told |= {"shape": shape, "order": order, "kiln_most": kiln_most}
    wishes = wishes_from([wish] if isinstance(wish, str) and wish else wish or (), told)
    return search(ref, metal, glass, wishes)


def search(ref: Reference, metal: Metal, glass: Glass | None, wishes: Wishes) -> Builds:
    """The builds of a metal that meet wishes which are read; see `builds`.

    Raises
    ------
    BadInput, StoreUnusable
    """
    ratios = ratios_on(ref, metal, glass)
    groups: dict[Any, list[Glass]] = {}
    for one in [glass] if glass is not None else made_for(ref, metal):
        if one.key in ratios and ratios[one.key].refused_by in ("", "release"):
            groups.setdefault(inputs_of(one), []).append(one)
    found: list[Holding] = []
    nearest: list[Holding] = []
    for same in groups.values():
        held, near = _of_glass(ref, same[0], metal, wishes, ratios[same[0].key], every=glass is not None)
        found += [replace(one, alike=tuple(g.key for g in same[1:])) for one in held]
        nearest += near
    if not found:
        refused = ratios[glass.key].refused_by if glass is not None and glass.key in ratios else ""
        return Builds((), ratios, refused or _refusing(nearest))
    return Builds(sorted(_together(found), key=_place), ratios)


def _together(found: Sequence[Holding]) -> list[Holding]:
    """Glasses that hold in one build with one verdict as one row."""
    groups: dict[Any, list[Holding]] = {}
    for one in found:
        groups.setdefault((one.question.build, one.outcome), []).append(one)
    rows = []
    for same in groups.values():
        least = min(same, key=lambda one: (one.holds, one.question.glass.key))
        others = [key for one in same for key in (one.question.glass.key, *one.alike)]
        rows.append(replace(least, alike=tuple(sorted(key for key in others if key != least.question.glass.key))))
    return rows


def _refusing(nearest: Sequence[Holding]) -> str:
    """The rule that refuses most of the draws of the build that comes nearest to holding."""
    if not nearest:
        return ""
    from refdb.judge.fit.answer import followed
    from refdb.judge.piece.verdict import sample

    best = max(nearest, key=lambda one: one.holds)
    return max(sample([followed(best.question)])[0].rules, key=lambda rule: rule.split[2]).rule


def _place(one: Holding) -> tuple[Any, ...]:
    return (*_merits(one)[1:], ORDER[one.outcome], one.question.glass.key)


def _merits(one: Holding) -> tuple[float, ...]:
    """What builds are weighed by, less is better: verdict, metal, fires, margin in steps, both faces wet at once."""
    margin = -round(one.holds / _MARGIN) * _MARGIN if one.holds < _SURE else -1.0
    wet = float(one.question.build.order == TOGETHER)
    return ORDER[one.outcome], one.question.build.metal_m.value, one.fires, margin, wet


def _of_glass(
    ref: Reference, glass: Glass, metal: Metal, wishes: Wishes, ratio: Ratio, every: bool
) -> tuple[list[Holding], list[Holding]]:
    """Builds of one glass that nothing beats, without `every` the first alone; and what came nearest to holding."""
    from refdb.judge.fit.answer import followed
    from refdb.judge.fit.many import shares_of
    from refdb.judge.piece.shared import Shared
    from refdb.judge.piece.verdict import findings_of

    floor = max((RANK[r.outcome] for r in findings_of(Shared(ref), followed(Question(glass, metal)))), default=0)
    kept: list[Holding] = []
    nearest: list[Holding] = []
    for metal_m, typed in _metals(metal, wishes):
        asked = [Question(glass, metal, build) for build in _builds(metal_m, wishes, ratio, short=not every)]
        tried = [Holding(q, shares, (), typed) for q, shares in zip(asked, shares_of(asked, floor), strict=True)]
        for one in tried:
            if one.shares[2] < HOLDS_BELOW - 1e-6 and not any(_beats(other, one) for other in kept):
                kept = [other for other in kept if not _beats(one, other)] + [one]
        nearest = [max([*nearest, *tried], key=lambda one: one.holds)] if tried else nearest
        if kept and (not every or any(_is_best(one, floor) for one in kept)):
            break
    kept.sort(key=_place)
    return (kept if every else kept[:1]), nearest


def _is_best(one: Holding, floor: int) -> bool:
    """Whether thicker metal has nothing more to give: the best verdict there is, hardly a draw fails, no face wet."""
    return ORDER[one.outcome] == floor and one.holds >= _SURE and one.question.build.order != TOGETHER


def _beats(one: Holding, other: Holding) -> bool:
    """Whether a build is as good in everything; of two alike the one tried first."""
    return all(a <= b for a, b in zip(_merits(one), _merits(other), strict=True))


def _metals(metal: Metal, wishes: Wishes) -> Iterator[tuple[Band, str]]:
    """Thicknesses of metal to try, thinnest first, with the text where one was typed."""
    if wishes.metal_text:
        sheet = metal_of(metal, wishes)
        if wishes.metal == ANY or sheet.value in wishes.metal:
            yield sheet, wishes.metal_text
        return
    if wishes.metal.is_exact:
        yield Band.exact(wishes.metal.least), ""
        return
    ends = (wishes.metal.least * 1e3,) if wishes.metal.least else ()
    for mm in sorted({*METALS_MM, *ends}):
        if mm * 1e-3 in wishes.metal:
            yield Band.exact(mm * 1e-3), ""


def _builds(metal_m: Band, wishes: Wishes, ratio: Ratio, short: bool) -> Iterator[Build]:
    """Builds to try on one thickness of metal, each once; what a first coat alone forbids is left out.

    A piece that has a state which does not hold does not hold: so flat ones are sifted by the ratio.
    """
    seen = set()
    for front in _fronts(wishes):
        if front > metal_m.high + 1e-9:
            continue
        for back in _backs(wishes, front):
            for first in _firsts(wishes, short):
                for order in [wishes.order] if wishes.order else ["", TOGETHER]:
                    build = Build(
                        metal_m,
                        Band.exact(front),
                        Band.exact(back),
                        first,
                        wishes.shape or "flat",
                        order=order,
                        kiln_most_c=wishes.kiln_most_c,
                    ).checked()
                    states = firings(build)
                    if states in seen or len(states) > (wishes.fires_most or len(states)):
                        continue
                    seen.add(states)
                    alone = max(states[0].front_m.value, states[0].back_m.value)
                    one_face = min(states[0].front_m.value, states[0].back_m.value) == 0
                    too_thick = alone >= COAT_M - 1e-9 and alone > (ratio.first or 0.0) * metal_m.high * 1.05
                    if not (one_face and too_thick and build.shape == "flat" and metal_m.is_exact):
                        yield build


def _fronts(wishes: Wishes) -> list[float]:
    if wishes.front == ANY:
        if wishes.back.most == 0 or wishes.back == ANY or wishes.back.least == 0:
            return [Build().front_m.value]
        return [wishes.back.least]
    return _of_range(wishes.front)


def _backs(wishes: Wishes, front: float) -> list[float]:
    if wishes.back == ANY and front == 0:
        return [Build().back_m.value]
    if wishes.back == ANY:
        return list(dict.fromkeys(round(front * k * 20e3) / 20e3 for k in BACK_OVER_FRONT))
    return _of_range(wishes.back)


def _of_range(wished: Range) -> list[float]:
    """The end that asks least of the metal is the thin one; where only the thick one is set, that."""
    if wished.is_exact:
        return [wished.least]
    from_low = wished.least > 0
    tried = (wished.least + mm * 1e-3 if from_low else wished.most - mm * 1e-3 for mm in MORE_MM)
    return [round(m, 7) for m in tried if m in wished and m > 1e-6]


def _firsts(wishes: Wishes, short: bool) -> list[float]:
    if wishes.first == ANY:
        return [mm * 1e-3 for mm in (FIRSTS_MM[::2] if short else FIRSTS_MM)]
    found = [mm * 1e-3 for mm in FIRSTS_MM if mm * 1e-3 in wishes.first]
    return found or [wishes.first.least or wishes.first.most]
