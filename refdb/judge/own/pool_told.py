"""What a pool teaches of a class, in plain values and in sentences: the terminal and the pages tell the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.science.normal import NORMAL_END
from refdb.words import counted

if TYPE_CHECKING:
    from refdb.judge.own.pooling import BuildToFire, ClassLearnt

Triple = tuple[float, float, float]
#: What no pool can know.
ALIKE_JARS = (
    "Jars of one batch in two studios count as two, since no names leave a studio: where many share a batch, the bands "
    "are somewhat too narrow."
)
#: So many studios are named in a sentence.
_MOST_STUDIOS = 4


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
        "spread_before": _three(before.spread),
        "spread": _three(after.spread),
        "spread_told": learnt.spread_told,
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


def range_text(triple: Triple, digits: int = 1) -> str:
    """Low to high of an expansion or a spread [1/K], in ppm/K."""
    return f"{triple[1] * 1e6:.{digits}f} to {triple[2] * 1e6:.{digits}f}"


def counts_told(learnt: ClassLearnt) -> str:
    """What a class's figures rest on: studios, jars, tiles and strips."""
    return ", ".join(
        counted(number, one, f"{one}s")
        for number, one in (
            (len(learnt.studios), "studio"),
            (len(learnt.studio_of_jar), "jar"),
            (learnt.tiles, "tile"),
            (learnt.strips, "strip"),
        )
    )


def shifts_told(learnt: ClassLearnt) -> str:
    """How far studios' tiles craze from where the model says, the furthest first."""
    shifts = sorted(zip(learnt.pooled.shift_pa[:, 0].tolist(), learnt.studios, strict=True), key=lambda x: -abs(x[0]))
    told = ", ".join(f"{s[:6]} {v / 1e6:+.1f} MPa" for v, s in shifts[:_MOST_STUDIOS])
    more = len(shifts) - _MOST_STUDIOS
    within = float((learnt.pooled.shift_pa[:, 2] - learnt.pooled.shift_pa[:, 1]).mean()) / 2e6
    before = NORMAL_END * learnt.pooled.prior.shift_pa / 1e6
    return (
        f"bear more (+) or less (-) tension than the model says before they craze, each within {within:.1f} MPa "
        f"({before:.1f} before): {told}"
    ) + (f", {more:,} more less far" if more > 0 else "")


def build_told(best: BuildToFire) -> str:
    """A build to fire next, with what a tile of it tells."""
    faces = f"{best.front_mm:g} mm of glass " + (f"and {best.back_mm:g} mm behind" if best.back_mm else "on one face")
    than = ""
    if best.gain_bit > 1.5 * best.standard_bit:
        times = best.gain_bit / max(best.standard_bit, 1e-9)
        than = f", {times:.0f} times" if times < 20 else ", where the standard build tells next to nothing"
        than += " what the standard build tells" if times < 20 else ""
    return f"{best.metal_mm:g} mm {best.metal}, {faces} ({best.gain_bit:.3f} bit a tile{than})"


def doubts_of(learnt: ClassLearnt) -> list[str]:
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
    elif not learnt.spread_told:
        found.append(
            "These tiles hardly tell how far jars differ, so the next jar's band leans on what was believed before: "
            "a strip of each jar tells most of it."
        )
    found += [f"{n:,} rows left out: {why}." for why, n in learnt.left_out.items()]
    return found
