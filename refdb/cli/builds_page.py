"""The pages of `refdb builds`: ratios by class, a map in signs, and builds that were found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from refdb.cli.output import Column, Page
from refdb.judge.fit.one_face import FIRST_COATS_MM, THICKEST_METAL_M, Ratio
from refdb.judge.fit.ratios import Fold, folded
from refdb.judge.verdict import TEST_TILE
from refdb.words import lower_first

if TYPE_CHECKING:
    from refdb.cli.common import Units
    from refdb.judge.fit.build_map import BuildMap
    from refdb.judge.fit.builds import Builds
    from refdb.judge.fit.holding import Holding
    from refdb.judge.fit.wishes import Wishes
    from refdb.records import Glass, Metal

#: So many builds are told.
MOST = 8
#: Of so many classes with one map each is named.
MOST_NAMED = 6
#: Shares of the draws that hold from which a cell has each sign.
SIGNS = ((0.9, "#"), (0.5, "+"), (0.0, "."))
_ROUNDING = 1e-6


def ratios_page(metal: Metal, classes: Sequence[Glass], ratios: dict[str, Ratio], full: bool) -> Page:
    """How thick one coat may be on a metal, by class; classes with one map are one row."""
    page = Page()
    page.paragraph(f"{metal.label}: the coats that hold in nine of ten draws")
    page.line()
    rows = [_single(g, ratios[g.key]) for g in classes if g.key in ratios] if full else _folds(classes, ratios)
    if rows:
        page.line("  least metal, mm    coat over metal")
        heads = (*(f"{mm:.2f}" for mm in FIRST_COATS_MM), "first", "back bare")
        page.table([*(Column(head, right=True) for head in heads), Column("glasses", wraps=True)], rows)
        page.line()
        page.paragraph(
            f"Least metal for a first coat of {' and '.join(heads[:2])} mm. First: a first coat, as much on the other "
            "face in the next fire; back bare: all the glass of a piece coated on one face. Times the thickness of the "
            "metal."
        )
    _left_out(page, metal, classes, ratios)
    page.paragraph(
        f'A map: refdb builds {metal.key} --glass KEY. For what you want: --wish "front at least 0.5 mm". '
        f"{'' if full else 'Every class: --full. '}{TEST_TILE}"
    )
    return page


def _left_out(page: Page, metal: Metal, classes: Sequence[Glass], ratios: dict[str, Ratio]) -> None:
    """What has no ratio, and why."""
    refused = [g.key for g in classes if g.key in ratios and ratios[g.key].first is None]
    unknown = [g.key for g in classes if g.key not in ratios]
    if not classes:
        page.paragraph(f"No glass of the store is made for {metal.small}; any can be tried with --glass.")
    if refused:
        page.paragraph(f"Refused: {', '.join(refused)}.", 0, 2)
    if unknown:
        page.paragraph(f"A figure is missing: {', '.join(unknown)}.", 0, 2)


def _folds(classes: Sequence[Glass], ratios: dict[str, Ratio]) -> list[list[str]]:
    return [[*_figures(fold), _named(fold)] for fold in folded(classes, ratios)]


def _figures(fold: Fold) -> list[str]:
    least = (f"{mm:.2f}" for mm in fold.least_metal_mm)
    return [
        *least,
        *(a if a == b else f"{a}-{b}" for a, b in ((f"{x:.2f}", f"{y:.2f}") for x, y in (fold.first, fold.bare))),
    ]


def _named(fold: Fold) -> str:
    """The glasses of a fold where they are few; how hard they are where they are many."""
    count = len(fold.glasses)
    if count <= MOST_NAMED:
        return ", ".join(g.key for g in fold.glasses)
    hardness = [h for h in ("hard", "medium", "soft") if any(g.hardness == h for g in fold.glasses)]
    words = f"{', '.join(hardness[:-1])} and {hardness[-1]} share it" if len(hardness) > 1 else "".join(hardness)
    return f"{count} classes: {words}"


def _single(glass: Glass, ratio: Ratio) -> list[str]:
    least = [ratio.least_metal_mm(mm) for mm in FIRST_COATS_MM]
    return [*("-" if x is None else f"{x:.2f}" for x in (*least, ratio.first, ratio.bare)), glass.key]


def map_page(
    glass: Glass,
    metal: Metal,
    found: BuildMap | None,
    ratio: Ratio | None,
    stands: tuple[int, int],
    metal_text: str = "",
) -> Page:
    """One glass on one metal: its ratio, and a map of front and back in signs."""
    page = Page()
    page.paragraph(f"{glass.label} on {metal.small}: the builds that hold")
    if stands[0]:
        page.paragraph(
            f"It stands for {stands[0]} of the {stands[1]} classes made for this metal; name one with --glass."
        )
    if found is None or not found.refused_by or ratio is None or ratio.first is None:
        page.paragraph(ratio_words(ratio))
    if found is None:
        from refdb.judge.needs import missing_figures

        page.paragraph(f"No map, for a figure is missing: {'; '.join(missing_figures(glass, metal))}.")
        return page
    page.line()
    build = found.build
    band = build.metal_m.scaled(1e3)
    sheet = f"{band.value:.2f}" if band.is_exact else f"{band.value:.2f} ({band.low:.2f}-{band.high:.2f})"
    shape = "" if build.shape == "flat" else f", {build.shape}"
    page.line(f"  front, mm   on {sheet} mm of metal, first coat {build.first_m * 1e3:.2f} mm{shape}")
    for f in reversed(range(len(found.fronts_mm))):
        cells = "".join(f"{sign_of(found.holds(f, b)):>5}" for b in range(len(found.backs_mm)))
        page.line(f"  {found.fronts_mm[f]:>9.2f} {cells}")
    page.line("  back, mm  " + "".join(f"{mm:>5.1f}" for mm in found.backs_mm))
    page.paragraph("# holds in nine of ten draws, + in half, . in fewer.", 2)
    if found.refused_by:
        page.paragraph(f"Nothing here holds in nine of ten{_refused(found.refused_by)}.")
    page.paragraph(f"The verdict on one: {found.one(metal_text).command}. {TEST_TILE}")
    return page


def sign_of(holds: float) -> str:
    """The sign of a cell by the share of its draws that hold; nine in ten is meant as a verdict means it."""
    return next((sign for least, sign in SIGNS if holds > least + _ROUNDING), SIGNS[-1][1])


def ratio_words(ratio: Ratio | None) -> str:
    """A ratio in two sentences."""
    if ratio is None:
        return ""
    if ratio.first is None:
        from refdb.judge.rules import RULES

        rule = RULES.get(ratio.refused_by)
        why = f": {lower_first(rule.title)}" if rule is not None else ""
        coat, metal = f"{FIRST_COATS_MM[0]:.2f} mm", f"{THICKEST_METAL_M * 1e3:g} mm"
        return f"A coat of {coat} does not hold in nine of ten draws on metal up to {metal}{why}."
    least = ", ".join(f"{ratio.least_metal_mm(mm) or 0:.2f} mm for {mm:.2f}" for mm in FIRST_COATS_MM)
    bare = "" if ratio.bare is None else f", {ratio.bare:.2f} where the back stays bare"
    return f"In nine of ten a first coat holds up to {ratio.first:.2f} of the metal{bare}. Least metal: {least}."


def found_page(metal: Metal, glass: Glass | None, wishes: Wishes, found: Builds, full: bool, units: Units) -> Page:
    """Builds for a wish, each with the command that gives its verdict."""
    page = Page(fahrenheit=units == "studio")
    of = f" with {glass.small}" if glass is not None else ""
    page.paragraph(f"Builds of {metal.small}{of} that hold in nine of ten draws: {wishes.words}")
    page.line()
    if not found:
        page.paragraph(f"None that was tried holds{_refused(found.refused_by)}. Change a wish, or leave one away.")
        page.paragraph(f"How thick a coat may be: refdb builds {metal.key}")
        return page
    for number, one in enumerate(found if full else found[:MOST], 1):
        page.paragraph(_told(one, glass is None), 0, 3, f"{number}  ")
        page.paragraph(one.command, 3, 5)
    page.line()
    more = len(found) - MOST
    page.paragraph(f"{f'{more} more: --full. ' if more > 0 and not full else ''}{TEST_TILE}")
    return page


def _refused(rule: str) -> str:
    from refdb.judge.rules import RULES

    return f"; what stands most against the best: {lower_first(RULES[rule].title)}" if rule in RULES else ""


def _told(one: Holding, with_glass: bool) -> str:
    build = one.question.build
    first = min(build.first_m, max(build.front_m.value, build.back_m.value)) * 1e3
    front = f"front {build.front_m.value * 1e3:.2f}" if build.front_m.value else "front bare"
    back = f"{build.back_m.value * 1e3:.2f} back" if build.back_m.value else "back bare"
    fires = "1 fire" if one.fires == 1 else f"{one.fires} fires"
    glass = one.question.glass.key + (f" and {len(one.alike)} more, " if one.alike else ", ") if with_glass else ""
    sheet = one.metal_text or f"{build.metal_m.value * 1e3:.2f} mm"
    return (
        f"{glass}{sheet} of metal, {front}, {back}, first coat {first:.2f}"
        f"{', ' + build.order if build.order else ''}: {fires}; {one.outcome}, {holds_words(one.holds)} hold"
    )


def holds_words(holds: float) -> str:
    """How many of a hundred draws hold."""
    return f"{min(int(holds * 100 + _ROUNDING), 100)} of 100"
