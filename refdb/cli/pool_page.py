"""What a pool teaches, as pages: belief before and after, as pictures of a line and in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from refdb.cli.output import Column, Page
from refdb.judge.own.effective import EFFECTIVE
from refdb.judge.own.pool_told import ALIKE_JARS, Triple, build_told, counts_told, doubts_of, range_text, shifts_told
from refdb.words import counted

if TYPE_CHECKING:
    from refdb.judge.own.pooling import ClassLearnt

#: Lines of a picture reach so far [ppm/K], and take so many columns.
_FROM, _TO, _COLUMNS = 6.0, 20.0, 57


def classes_page(learnt: Sequence[ClassLearnt]) -> Page:
    """All classes, a line each, and what to do next."""
    page = Page()
    tiles = sum(c.tiles + c.strips for c in learnt)
    studios = len({s for c in learnt for s in c.studios})
    told = ", ".join(
        (
            counted(studios, "studio", "studios"),
            counted(tiles, "tile that tells", "tiles that tell"),
            counted(len(learnt), "class", "classes"),
        )
    )
    page.paragraph(f"{told}; effective ppm/K, 5 to 95 %")
    heads = ("class", "studios", "mean was", "mean is", "jars ±", "next jar")
    shown = learnt[:8]
    page.table(
        [Column(h, right=h in ("studios", "jars ±"), wraps=h == "class") for h in heads],
        [
            (
                c.glass.key,
                f"{len(c.studios):,}",
                range_text(c.before.mean).replace(" to ", "-"),
                range_text(c.pooled.mean).replace(" to ", "-"),
                f"{c.pooled.spread[0] * 1e6:.1f}",
                range_text(c.pooled.jar).replace(" to ", "-") if c.taught else "not taught",
            )
            for c in shown
        ],
    )
    if len(learnt) > len(shown):
        page.paragraph(f"{len(learnt) - len(shown)} more; --json has them all.")
    first = max(learnt, key=lambda c: c.next_build.gain_bit if c.next_build else 0.0, default=None)
    if first is not None and first.next_build is not None:
        page.heading(f"Fire next, of {first.glass.key}: {build_told(first.next_build)}")
    for c in shown:
        for line in doubts_of(c)[:1]:
            page.paragraph(f"{c.glass.key}: {line}", 0, 2)
    page.paragraph("refdb pool learn GLASS tells one class in full; verdicts use the pool with --pool.")
    return page


def class_page(learnt: ClassLearnt) -> Page:
    """One class: pictures of the belief before and after, the studios, and which tile to fire."""
    page = Page()
    page.paragraph(f"{learnt.glass.label}: {counts_told(learnt)}")
    page.line(f"{'':15}{_FROM:<6g}{'ppm/K, 20 to 400 °C':^{_COLUMNS - 12}}{_TO:>6g}")
    for name, triple in (
        ("mean before", learnt.before.mean),
        ("mean after", learnt.pooled.mean),
        ("jar before", learnt.before.jar),
        ("next jar", learnt.pooled.jar),
    ):
        page.line(f"  {name:<12} {_picture(triple)}".rstrip())
    mean, jar, spread = (x for x in (learnt.pooled.mean, learnt.pooled.jar, learnt.pooled.spread))
    page.line()
    page.pairs(
        [
            ("mean", f"{mean[0] * 1e6:.2f} ({range_text(mean, 2)}), before {range_text(learnt.before.mean)}"),
            (
                "between jars",
                f"± {spread[0] * 1e6:.2f} ({range_text(spread, 2)}), before {range_text(learnt.before.spread)}",
            ),
            ("next jar", f"{jar[0] * 1e6:.1f} ({range_text(jar)}), before {range_text(learnt.before.jar)}"),
            ("studios", shifts_told(learnt)),
            ("fire next", build_told(learnt.next_build) if learnt.next_build else ""),
        ]
    )
    for line in doubts_of(learnt):
        page.paragraph(line, 2, 4)
    page.paragraph(EFFECTIVE)
    page.paragraph(ALIKE_JARS)
    return page


def _picture(triple: Triple) -> str:
    """A line from low to high with the middle marked, on the scale of the page."""
    middle, low, high = (round((x * 1e6 - _FROM) / (_TO - _FROM) * (_COLUMNS - 1)) for x in triple)
    low, high = max(low, 0), min(high, _COLUMNS - 1)
    return "".join("o" if k == middle else "=" if low <= k <= high else "." for k in range(_COLUMNS))
