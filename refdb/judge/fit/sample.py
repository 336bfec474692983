"""The sample: every band of the inputs goes through the plate, the gap and the kiln window together."""

from __future__ import annotations

import numpy as np

from refdb.judge import limits
from refdb.judge.draws import Draws, GlassDraws, MetalDraws, gap_ppm, graded, shares
from refdb.judge.fit.build import THINNEST_METAL_M, Build, firings
from refdb.judge.numbers import Numbers, RuleNumbers
from refdb.judge.own import kiln
from refdb.judge.stack import THINNEST_COAT_M, Sheet, Stack, cooled, thickness_rules
from refdb.records import Glass, Metal
from refdb.science.plate import Array
from refdb.science.sampling import SAMPLES, band_of, most_telling

# In the order of their weight: the first columns of the sample are the most even.
_INPUTS = (
    "glass expansion",
    "set point",
    "metal yield",
    "metal thickness",
    "metal expansion",
    "glass stiffness",
    "front thickness",
    "back thickness",
    "yield at heat",
    "solidus",
    "kiln range low",
    "kiln range high",
    "metal stiffness",
    "glass Poisson's ratio",
    "metal Poisson's ratio",
    "rise of the dome",
    "grip of the dome",
)


def sample(glass: Glass, metal: Metal, build: Build, samples: int = SAMPLES) -> Numbers:
    """Put every band of the inputs through the calculation.

    Parameters
    ----------
    glass, metal : Glass, Metal
        Records with a preferred figure for everything the glass-on-metal judge needs. A set point beyond the
        metal's expansion curve is taken at the curve's end, and the rule "curve-end" says so.
    build : Build
        The piece, checked.
    samples : int
        Draws; the same each time.

    Returns
    -------
    Numbers
    """
    # Last, and only where it is asked about, so that what is drawn of the others does not hang on it.
    sampled_kiln = build.kiln_c is not None and not build.kiln_offset_k.is_exact
    draws = Draws((*_INPUTS, kiln.INPUT) if sampled_kiln else _INPUTS, samples)
    base, drawn = draws.metal(metal), draws.glass(glass, metal)
    metal_m = draws.thickness("metal thickness", build.metal_m, THINNEST_METAL_M)
    states = firings(build)
    front = [draws.thickness("front thickness", s.front_m, THINNEST_COAT_M) for s in states]
    back = [draws.thickness("back thickness", s.back_m, THINNEST_COAT_M) for s in states]
    rise_m, grip = draws.dome(build.rise_m if build.shape == "domed" else None)
    ((stages, tension),) = cooled(
        [
            Stack(
                (
                    Sheet("back glass", drawn, back),
                    Sheet("metal", None, [metal_m] * len(states)),
                    Sheet("front glass", drawn, front),
                ),
                base,
                [s.name for s in states],
                rise_m,
                grip,
            )
        ]
    )
    outcomes: dict[str, Array] = {}
    found: dict[str, Array] = {}
    for state, worst in zip(states, tension, strict=True):
        limit = limits.TENSION_LASTING if state.finished else limits.TENSION_BETWEEN
        outcomes[f"{limit.key}:{state.name}"] = graded(worst, limit.fine, limit.care)
        found[f"{limit.key}:{state.name}"] = worst
    gap = gap_ppm(base, drawn)
    outcomes["gap"], found["gap"] = graded(gap, limits.GAP.fine, limits.GAP.care), gap
    if drawn.beyond.any():
        outcomes["curve-end"], found["curve-end"] = drawn.beyond, drawn.set_asked_c
    _kiln(
        base,
        drawn,
        build,
        draws.of(kiln.INPUT, build.kiln_offset_k) if sampled_kiln else build.kiln_offset_k.value,
        outcomes,
        found,
    )
    thickness_rules(
        front[-1], back[-1], metal_m, metal, build.front_m.value > 0 and build.back_m.value > 0, outcomes, found
    )
    each = np.stack(list(outcomes.values()))
    overall = each.max(axis=0)
    measures = {
        "gap_ppm": gap,
        "glass_expansion_ppm_per_k": drawn.per_k * 1e6,
        "metal_expansion_ppm_per_k": base.strain(drawn.set_c) / (drawn.set_c - 20.0) * 1e6,
        "set_point_c": drawn.set_c,
        "metal_thickness_mm": metal_m * 1e3,
        "kiln_low_c": drawn.fuse_low_c,
        # The window that is told keeps to where the metal surely does not melt yet.
        "kiln_high_c": np.minimum(drawn.fuse_high_c, _surely_solid_c(metal, base) - limits.SOLIDUS_MARGIN_K),
    }
    whole, *of_rules = shares(np.vstack((overall, each)))
    return Numbers(
        whole,
        {k: RuleNumbers(s, band_of(found[k])) for k, s in zip(outcomes, of_rules, strict=True)},
        {k: band_of(v) for k, v in measures.items()},
        stages,
        most_telling(draws.wide, overall),
    )


def _surely_solid_c(metal: Metal, base: MetalDraws) -> Array:
    solidus = metal.band("solidus")
    assert solidus is not None
    return np.minimum(base.solidus_c, solidus.low)


def _kiln(
    base: MetalDraws,
    drawn: GlassDraws,
    build: Build,
    offset_k: float | Array,
    outcomes: dict[str, Array],
    found: dict[str, Array],
) -> None:
    ceiling = base.solidus_c - limits.SOLIDUS_MARGIN_K
    low, high = drawn.fuse_low_c, drawn.fuse_high_c
    window = np.minimum(high, ceiling) - low
    outcomes["kiln"] = np.where(window <= 0, 2.0, np.where(ceiling < high, 1.0, 0.0))
    found["kiln"] = window
    if build.kiln_c is None:
        return
    heat = build.kiln_c + offset_k
    beyond = np.maximum(heat - high, low - heat)
    outcomes["setting"] = np.where(
        (heat > ceiling) | (beyond > limits.RANGE_MARGIN_K), 2.0, np.where(beyond > 0, 1.0, 0.0)
    )
    found["setting"] = np.broadcast_to(heat, low.shape)
