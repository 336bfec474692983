"""What a pool teaches, as pages: belief before and after, as pictures of a line and in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from refdb.cli.output import Column, Page
from refdb.judge.own.effective import EFFECTIVE

if TYPE_CHECKING:
    from refdb.judge.own.pooling import BuildToFire, ClassLearnt

Triple = tuple[float, float, float]
#: Lines of a picture reach so far [ppm/K], and take so many columns.
_FROM, _TO, _COLUMNS = 6.0, 20.0, 57
#: So many studios, and builds, are shown on a page.
_MOST_STUDIOS, _MOST_BUILDS = 4, 5


def plain(learnt: ClassLearnt) -> dict[str, Any]:
    """One class for JSON: expansions effective, over 20 to 400 °C, in ppm/K; shifts in MPa."""
    after, before = learnt.pooled, learnt.before
    best = learnt.next_build
    return {
        "glass": learnt.glass.key,
        "studios": len(learnt.studios),
        "jars": len(learnt.studio_of_jar),
        "tiles": learnt.tiles,
        "strips": learnt.strips,
        "silent": learnt.silent,
        "left_out": dict(learnt.left_out),
        "taught": learnt.taught,
        "mean_before": _three(before.mean),
        "mean": _three(after.mean),
        "spread": _three(after.spread),
        "jar_before": _three(before.jar),
        "jar": _three(after.jar),
        "shifts": [
            {"studio": s, "value": round(v / 1e6, 2), "low": round(a / 1e6, 2), "high": round(b / 1e6, 2)}
            for s, (v, a, b) in zip(learnt.studios, after.shift_pa.tolist(), strict=True)
        ],
        "standing_out": [sign for sign, _, _ in learnt.standing_out],
        "unlike": [{"studio": s, "chance": round(p, 3)} for s, p in learnt.unlike],
        "beyond_prior": learnt.beyond_prior,
        "contradicting": [{"metal": b.metal, "front_over_metal": round(b.front, 2), "back_over_metal": round(b.back, 2),
                           "seen": b.seen, "expected": [round(x, 1) for x in b.expected], "apart": round(b.apart, 1)}
                          for b in learnt.contradicting],
        "next_tile": None if best is None else {**vars(best)},
    }  # fmt: skip


def _three(triple: Triple) -> dict[str, float]:
    return dict(zip(("value", "low", "high"), (round(x * 1e6, 3) for x in triple), strict=True))


def classes_page(learnt: Sequence[ClassLearnt]) -> Page:
    """All classes, a line each, and what to do next."""
    page = Page()
    tiles = sum(c.tiles + c.strips for c in learnt)
    studios = len({s for c in learnt for s in c.studios})
    page.paragraph(f"{studios:,} studios, {tiles:,} tiles that tell, {len(learnt)} classes; effective ppm/K, 5 to 95 %")
    heads = ("class", "studios", "mean was", "mean is", "jars ±", "next jar")
    shown = learnt[:8]
    page.table(
        [Column(h, right=h in ("studios", "jars ±"), wraps=h == "class") for h in heads],
        [
            (
                c.glass.key,
                f"{len(c.studios):,}",
                _range(c.before.mean).replace(" to ", "-"),
                _range(c.pooled.mean).replace(" to ", "-"),
                f"{c.pooled.spread[0] * 1e6:.1f}",
                _range(c.pooled.jar).replace(" to ", "-") if c.taught else "not taught",
            )
            for c in shown
        ],
    )
    if len(learnt) > len(shown):
        page.paragraph(f"{len(learnt) - len(shown)} more; --json has them all.")
    first = max(learnt, key=lambda c: c.next_build.gain_bit if c.next_build else 0.0, default=None)
    if first is not None and first.next_build is not None:
        page.heading(f"Fire next, of {first.glass.key}: {_build(first.next_build)}")
    for c in shown:
        for line in _doubts(c)[:1]:
            page.paragraph(f"{c.glass.key}: {line}", 0, 2)
    page.paragraph("refdb pool learn GLASS tells one class in full; verdicts use the pool with --pool.")
    return page


def class_page(learnt: ClassLearnt) -> Page:
    """One class: pictures of the belief before and after, the studios, and which tile to fire."""
    page = Page()
    page.paragraph(
        f"{learnt.glass.label}: {len(learnt.studios):,} studios, {len(learnt.studio_of_jar):,} jars, "
        f"{learnt.tiles:,} tiles, {learnt.strips:,} strips"
    )
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
            ("mean", f"{mean[0] * 1e6:.2f} ({_range(mean, 2)}), before {_range(learnt.before.mean)}"),
            ("between jars", f"± {spread[0] * 1e6:.2f} ({_range(spread, 2)})"),
            ("next jar", f"{jar[0] * 1e6:.1f} ({_range(jar)}), before {_range(learnt.before.jar)}"),
            ("studios", _shifts(learnt)),
            ("fire next", _build(learnt.next_build) if learnt.next_build else ""),
        ]
    )
    for line in _doubts(learnt):
        page.paragraph(line, 2, 4)
    page.paragraph(EFFECTIVE)
    return page


def _picture(triple: Triple) -> str:
    """A line from low to high with the middle marked, on the scale of the page."""
    middle, low, high = (round((x * 1e6 - _FROM) / (_TO - _FROM) * (_COLUMNS - 1)) for x in triple)
    low, high = max(low, 0), min(high, _COLUMNS - 1)
    return "".join("o" if k == middle else "=" if low <= k <= high else "." for k in range(_COLUMNS))


def _range(triple: Triple, digits: int = 1) -> str:
    return f"{triple[1] * 1e6:.{digits}f} to {triple[2] * 1e6:.{digits}f}"


def _shifts(learnt: ClassLearnt) -> str:
    shifts = sorted(zip(learnt.pooled.shift_pa[:, 0].tolist(), learnt.studios, strict=True), key=lambda x: -abs(x[0]))
    told = ", ".join(f"{s[:6]} {v / 1e6:+.1f} MPa" for v, s in shifts[:_MOST_STUDIOS])
    more = len(shifts) - _MOST_STUDIOS
    within = float((learnt.pooled.shift_pa[:, 2] - learnt.pooled.shift_pa[:, 1]).mean()) / 2e6
    before = 1.645 * learnt.pooled.prior.shift_pa / 1e6
    return (
        f"bear more (+) or less (-) tension than the model says before they craze, each within {within:.1f} MPa "
        f"({before:.1f} before): {told}"
    ) + (f", {more:,} more less far" if more > 0 else "")


def _build(best: BuildToFire) -> str:
    faces = f"{best.front_mm:g} mm of glass " + (f"and {best.back_mm:g} mm behind" if best.back_mm else "on one face")
    than = ""
    if best.gain_bit > 1.5 * best.standard_bit:
        times = best.gain_bit / max(best.standard_bit, 1e-9)
        than = f", {times:.0f} times" if times < 20 else ", where the standard build tells next to nothing"
        than += " what the standard build tells" if times < 20 else ""
    return f"{best.metal_mm:g} mm {best.metal}, {faces} ({best.gain_bit:.3f} bit a tile{than})"


def _doubts(learnt: ClassLearnt) -> list[str]:
    """What is to be minded, in sentences: nothing taught, data against the model, studios unlike the others."""
    found = []
    if learnt.beyond_prior:
        found.append("The tiles put the mean where hardly anything was believed before: look where they come from.")
    worst = learnt.contradicting
    if worst:
        b = worst[0]
        found.append(
            f"The tiles contradict the model: of {sum(b.seen)} on {b.metal} with {b.front:.2f} of its thickness in "
            f"front and {b.back:.2f} behind {b.seen[1]} crazed, {b.expected[1]:.0f} were due"
            + (f"; {len(worst) - 1} more builds." if len(worst) > 1 else ".")
        )
    for sign, low, high in learnt.standing_out[:_MOST_STUDIOS]:
        found.append(
            f"Studio {sign[:6]} stands out: its tiles craze at {low / 1e6:+.1f} to {high / 1e6:+.1f} MPa from where "
            "others' do; look at its kiln's reading, its coats and its cooling. The class allows for it."
        )
    if learnt.unlike:
        told = ", ".join(f"{s[:6]} ({p * 100:.0f} %)" for s, p in learnt.unlike[:_MOST_STUDIOS])
        found.append(f"Unlike all others, and hardly counted: {told}.")
    if not learnt.taught:
        found.append("Nothing to speak of was learnt: the class's own band stays in verdicts.")
    found += [f"{n:,} rows left out: {why}." for why, n in learnt.left_out.items()]
    return found
