"""The sample: every band of the inputs goes through the plate, the gap and the kiln window together."""

from __future__ import annotations

from typing import Any

import numpy as np

from refdb.judge import limits
from refdb.judge.builds import THINNEST_METAL_M, Build, Firing, firings
from refdb.judge.numbers import Numbers, RuleNumbers, SampledStage, Triple
from refdb.quantities import Band
from refdb.records import Glass, Metal
from refdb.science.expansion import contraction_gap_ppm, glass_mean_20_400, glass_strain
from refdb.science.fracture import release_rate
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, cool_many, dome_restraint_n_m
from refdb.science.spread import SAMPLES, band_of, evenly_spread, from_band, most_telling

#: The chord over which a bow is told [m].
BOW_CHORD_M = 0.030
#: A coat is never thinner than this, whatever its band [m].
THINNEST_COAT_M = 1e-6

_INPUTS = (
    "glass expansion", "set point", "metal yield", "metal thickness", "metal expansion", "glass stiffness",
    "front thickness", "back thickness", "yield at heat", "solidus", "kiln range low", "kiln range high",
    "metal stiffness", "glass Poisson's ratio", "metal Poisson's ratio", "rise of the dome", "grip of the dome",
)


def _draw(glass: Glass, metal: Metal, build: Build,
          samples: int) -> tuple[dict[str, Array], dict[str, Array], set[str]]:
    """Fractions drawn for each input, the inputs they give (SI), and which of them have any width."""
    fractions = evenly_spread(_INPUTS, samples)
    wide = {name for name, band in (("front thickness", build.front_m), ("back thickness", build.back_m))
            if not band.is_exact}

    def of(name: str, band: Band | None) -> Array:
        assert band is not None, name
        if not band.is_exact:
            wide.add(name)
        return np.asarray(from_band(fractions[name], band.value, band.low, band.high), dtype=float)

    row = glass.value("expansion")
    assert row is not None
    assert row.temp_low_c is not None
    assert row.temp_high_c is not None
    expansion = metal.band("expansion")
    assert expansion is not None
    drawn = {
        "glass_per_k": glass_mean_20_400(of("glass expansion", row.band) * 1e-6, row.temp_low_c, row.temp_high_c),
        "set_c": of("set point", glass.band("set_point")),
        "glass_e": of("glass stiffness", glass.band("youngs_modulus")),
        "glass_nu": of("glass Poisson's ratio", glass.band("poisson_ratio")),
        "metal_factor": of("metal expansion", expansion) / expansion.value,
        "metal_e": of("metal stiffness", metal.band("youngs_modulus")),
        "metal_nu": np.minimum(of("metal Poisson's ratio", metal.band("poisson_ratio")), 0.49),
        "yield_0": np.maximum(of("metal yield", metal.band("flow_stress")), 1e6),
        "hardening": np.maximum(of("metal yield", metal.band("hardening")), 0.0),
        "ratio_500": np.clip(of("yield at heat", metal.band("flow_ratio_500c")), 0.05, 1.0),
        "solidus_c": of("solidus", metal.band("solidus")),
        "fuse_low_c": of("kiln range low", glass.band("fuse_low")),
        "fuse_high_c": of("kiln range high", glass.band("fuse_high")),
        "metal_m": np.maximum(of("metal thickness", build.metal_m), THINNEST_METAL_M),
        "rise_m": np.zeros(samples), "grip": np.zeros(samples),
    }
    if build.shape == "domed":
        drawn["rise_m"] = np.maximum(of("rise of the dome", build.rise_m), 0.0)
        drawn["grip"] = np.clip(of("grip of the dome", Band(*limits.DOME_GRIP)), 0.0, 1.0)
    return fractions, drawn, wide


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
    fractions, drawn, wide = _draw(glass, metal, build, samples)
    states = firings(build)
    front = [_coat(fractions["front thickness"], s.front_m) for s in states]
    back = [_coat(fractions["back thickness"], s.back_m) for s in states]
    known_to_c = metal.curve.high_c
    beyond = drawn["set_c"] > known_to_c
    set_c = drawn["set_c"]
    drawn["set_c"] = np.minimum(set_c, known_to_c)
    stages, tension = _stages(states, front, back, drawn, metal, samples)
    outcomes: dict[str, Array] = {}
    found: dict[str, Array] = {}
    for state, worst in zip(states, tension, strict=True):
        limit = limits.TENSION_LASTING if state.finished else limits.TENSION_BETWEEN
        outcomes[f"{limit.key}:{state.name}"] = _graded(worst, limit.fine, limit.care)
        found[f"{limit.key}:{state.name}"] = worst
    gap = contraction_gap_ppm(_metal_strain(metal, drawn["metal_factor"]), drawn["glass_per_k"], drawn["set_c"])
    outcomes["gap"], found["gap"] = _graded(gap, limits.GAP.fine, limits.GAP.care), gap
    if beyond.any():
        outcomes["curve-end"], found["curve-end"] = beyond.astype(float), set_c
    _kiln(drawn, build, outcomes, found)
    _thicknesses(drawn, front[-1], back[-1], metal, build, outcomes, found)
    overall = np.max(np.stack(list(outcomes.values())), axis=0)
    measures = {
        "gap_ppm": gap, "glass_expansion_ppm_per_k": drawn["glass_per_k"] * 1e6,
        "metal_expansion_ppm_per_k": _metal_strain(metal, drawn["metal_factor"])(drawn["set_c"])
        / (drawn["set_c"] - 20.0) * 1e6,
        "set_point_c": drawn["set_c"], "metal_thickness_mm": drawn["metal_m"] * 1e3,
        "kiln_low_c": drawn["fuse_low_c"],
        "kiln_high_c": np.minimum(drawn["fuse_high_c"], drawn["solidus_c"] - limits.SOLIDUS_MARGIN_K),
    }
    telling = most_telling({k: v for k, v in fractions.items() if k in wide}, overall)
    return Numbers(
        _shares(overall), {k: RuleNumbers(_shares(outcomes[k]), _band(found[k])) for k in outcomes},
        {k: _band(v) for k, v in measures.items()}, stages, telling)


def _coat(fraction: Array, band: Band) -> Array:
    """Thickness of a coat at fractions of its band [m]; a coat that is there never vanishes in a draw."""
    least = THINNEST_COAT_M if band.value > 0 else 0.0
    return np.asarray(np.maximum(from_band(fraction, band.value, band.low, band.high), least), dtype=float)


def _metal_strain(metal: Metal, factor: Array) -> ByPlate:
    curve = metal.curve
    return ByPlate(lambda temp_c, k: curve(temp_c) * k, (factor,))


def _stages(states: tuple[Firing, ...], front: list[Array], back: list[Array], drawn: dict[str, Array],
            metal: Metal, samples: int) -> tuple[tuple[SampledStage, ...], list[Array]]:
    """Cool all states of all draws at once; also the worst tension in glass of each state [MPa]."""
    count = len(states)

    def tiled(name: str) -> Array:
        return np.tile(drawn[name], count)

    metal_m, glass_e, metal_e = tiled("metal_m"), tiled("glass_e"), tiled("metal_e")
    thickness = np.stack((np.concatenate(back), metal_m, np.concatenate(front)), axis=1)
    youngs = np.stack((glass_e, metal_e, glass_e), axis=1)
    poisson = np.stack((tiled("glass_nu"), tiled("metal_nu"), tiled("glass_nu")), axis=1)
    glass = ByPlate(glass_strain, (tiled("glass_per_k"),))
    set_c = np.stack((tiled("set_c"), np.full(samples * count, np.nan), tiled("set_c")), axis=1)
    flow = HardeningYield(tiled("yield_0"), tiled("hardening"), tiled("ratio_500"))
    many = cool_many(Plates(
        ("back glass", "metal", "front glass"), thickness, youngs, poisson,
        (glass, _metal_strain(metal, tiled("metal_factor")), glass), set_c, (None, flow, None),
        tiled("grip") * dome_restraint_n_m((youngs * thickness).sum(axis=1), tiled("rise_m"))))
    modulus = youngs / (1 - poisson)
    release = np.maximum(*(release_rate(many.bottom_pa, many.top_pa, thickness, modulus, k) for k in (0, 2)))
    bow = many.curvature_per_m * BOW_CHORD_M**2 / 8 * 1e3
    worst = np.where(thickness > 0, np.maximum(many.bottom_pa, many.top_pa), -np.inf)[:, (0, 2)].max(axis=1) / 1e6
    stages, tension = [], []
    for j, state in enumerate(states):
        part = slice(j * samples, (j + 1) * samples)
        layers = tuple(
            (name, _band(many.bottom_pa[part, k] / 1e6), _band(many.mean_pa[part, k] / 1e6),
             _band(many.top_pa[part, k] / 1e6))
            for k, name in ((0, "back glass"), (1, "metal"), (2, "front glass")) if thickness[part, k].max() > 0)
        stages.append(SampledStage(state.name, layers, _band(bow[part]), _band(many.plastic_strain[part, 1]),
                                   _band(release[part])))
        tension.append(worst[part])
    return tuple(stages), tension


def _kiln(drawn: dict[str, Array], build: Build, outcomes: dict[str, Array], found: dict[str, Array]) -> None:
    ceiling = drawn["solidus_c"] - limits.SOLIDUS_MARGIN_K
    low, high = drawn["fuse_low_c"], drawn["fuse_high_c"]
    window = np.minimum(high, ceiling) - low
    outcomes["kiln"] = np.where(window <= 0, 2, np.where(ceiling < high, 1, 0)).astype(float)
    found["kiln"] = window
    if build.kiln_c is None:
        return
    heat = build.kiln_c + build.kiln_offset_k
    beyond = np.maximum(heat - high, low - heat)
    outcomes["setting"] = np.where(
        (heat > ceiling) | (beyond > limits.RANGE_MARGIN_K), 2, np.where(beyond > 0, 1, 0)).astype(float)
    found["setting"] = np.full(len(low), heat)


def _thicknesses(drawn: dict[str, Array], front: Array, back: Array, metal: Metal, build: Build,
                 outcomes: dict[str, Array], found: dict[str, Array]) -> None:
    metal_m = drawn["metal_m"]
    thick, thin = np.maximum(front, back), np.minimum(front, back)
    whole = limits.ONE_FACE_OF_METAL.fine
    # A hair of rounding must not turn 0.30 + 0.30 on 0.60 mm into a fault.
    over = 1.0 + 1e-9
    outcomes["glass-of-metal"] = np.where(
        thick > metal_m * whole * over, 2, np.where(front + back > metal_m * whole * over, 1, 0)).astype(float)
    found["glass-of-metal"] = (front + back) / metal_m
    if build.front_m.value > 0 and build.back_m.value > 0:
        outcomes["faces-alike"] = np.where(thin < limits.FACES_ALIKE.fine * thick / over, 1, 0).astype(float)
        found["faces-alike"] = thin / thick
    else:
        outcomes["one-face"] = np.where(metal_m * 1e3 < limits.COUNTER_ALWAYS.fine, 1, 0).astype(float)
        found["one-face"] = metal_m * 1e3
    least = metal.band("least_thickness")
    assert least is not None
    outcomes["least-metal"] = np.where(metal_m * over < least.value, 1, 0).astype(float)
    found["least-metal"] = metal_m * 1e3


def _graded(value: Array, fine: float, care: float) -> Array:
    return np.where(value > care, 2, np.where(value > fine, 1, 0)).astype(float)


def _shares(outcome: Array) -> Triple:
    count = float(len(outcome))
    return (float((outcome == 0).sum() / count), float((outcome == 1).sum() / count),
            float((outcome == 2).sum() / count))


def _band(values: Any) -> Triple:
    return band_of(np.asarray(values, dtype=float))
