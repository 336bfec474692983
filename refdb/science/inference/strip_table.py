"""What a strip test rests on: the strip, its errors, and its bow over a table of expansions and drawn inputs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from refdb.errors import BadInput, NotConverged
from refdb.frozen import dataclass, field
from refdb.science.expansion import ROOM_C, glass_strain
from refdb.science.plate.cooled import STEP_K, cool_many
from refdb.science.plate.layers import Array, ByPlate, HardeningYield, Layer, Plates, ResidualMany
from refdb.science.sampling import normally_spread

#: Ends of the flat prior of a glass's expansion: mean linear over 20-400 °C [1/K].
LEAST_PER_K, MOST_PER_K = 0.5e-6, 30e-6
DRAWS = 96
_MEAN_TO_C = 400.0
#: Greatest step of the many; against 1 K it moves the curvature of copper and silver strips by 0.002 per metre at most.
_COARSE_STEP_K = 25.0
#: The same where only the lie of the land is wanted.
ROUGH_STEP_K = 50.0

BOW, LENGTH = "bow", "length"
SET, THICK_GLASS, THICK_METAL = "set point", "glass thickness", "metal thickness"
STIFF_GLASS, STIFF_METAL, METAL_EXPANSION = "glass stiffness", "metal stiffness", "metal expansion"
YIELD = "metal yield"


@dataclass(frozen=True)
class Errors:
    """Standard deviations of what a strip is measured by and made of; a band is `normal.NORMAL_END` of them each way.

    Parameters
    ----------
    bow_m : float
        Of the change of bow [m].
    set_k : float
        Of the setting temperature [K].
    flow, stiff_metal, stiff_glass, metal_thickness, glass_thickness, metal_expansion : float
        Of flow stress and hardening together, Young's moduli, thicknesses, and the metal's expansion, each as a
        fraction of its value (log-normal).
    length_m : float
        Of the length over which the bow is measured [m].
    """

    bow_m: float = 1e-4
    set_k: float = 30.0
    flow: float = 0.2
    metal_thickness: float = 0.0
    glass_thickness: float = 0.0
    stiff_metal: float = 0.0
    stiff_glass: float = 0.0
    metal_expansion: float = 0.0
    length_m: float = 1e-3


@dataclass(frozen=True)
class Strip:
    """One strip coated on one face, as measured; `expansion_from_bow` tells what each number means."""

    bow_m: float
    length_m: float
    metal: Layer
    glass: Layer
    bow_before_m: float = 0.0
    width_m: float | None = None
    errors: Errors = field(default_factory=Errors)

    @property
    def curvature_per_m(self) -> float:
        """Change of curvature in the firing [1/m]; positive with the glass on the convex side."""
        return curvature_of_bow(self.bow_m, self.length_m) - curvature_of_bow(self.bow_before_m, self.length_m)

    @property
    def curvature_errors_per_m(self) -> dict[str, float]:
        """Standard deviation of the curvature from each measured length [1/m]: the bow's, and the length's."""
        by_length = curvature_per_length(self.bow_m, self.length_m) - curvature_per_length(
            self.bow_before_m, self.length_m
        )
        return {
            BOW: self.errors.bow_m / bow_slope_m2(self.bow_m, self.length_m),
            LENGTH: self.errors.length_m * abs(by_length),
        }

    @property
    def curvature_error_per_m(self) -> float:
        """Standard deviation of the curvature from both measured lengths [1/m]."""
        return math.hypot(*self.curvature_errors_per_m.values())


def curvature_of_bow(bow_m: float, length_m: float) -> float:
    """Return the curvature of an arc that rises `bow_m` over a chord of `length_m` [1/m]: 8·bow/(length² + 4·bow²)."""
    return 8.0 * bow_m / (length_m**2 + 4.0 * bow_m**2)


def curvature_per_length(bow_m: float, length_m: float) -> float:
    """Return how the curvature of a given bow changes with the chord, dκ/dL [1/m²]; below zero for a bow above zero."""
    return -16.0 * bow_m * length_m / (length_m**2 + 4.0 * bow_m**2) ** 2


def bow_of_radius(radius_m: float, length_m: float) -> float:
    """Return the rise of an arc of this radius over a chord [m]; negative for a negative radius.

    Raises
    ------
    BadInput
        The chord is longer than the circle is wide.
    """
    if not (math.isfinite(radius_m) and abs(radius_m) >= length_m / 2 > 0):
        raise BadInput(
            "the radius must be at least half the length of the strip",
            "radius",
            "measure the radius of the bend, or give the bow instead",
        )
    return math.copysign(abs(radius_m) - math.sqrt(radius_m**2 - length_m**2 / 4.0), radius_m)


def bow_of_curvature(curvature_per_m: float, length_m: float) -> float:
    """Return the rise of an arc of this curvature over a chord [m]; half the chord at most, which is a half circle."""
    half = curvature_per_m * length_m / 2.0
    if abs(half) >= 1.0:
        return math.copysign(length_m / 2.0, half)
    return length_m / 2.0 * half / (1.0 + math.sqrt(1.0 - half * half))


def bow_slope_m2(bow_m: float, length_m: float) -> float:
    """Return how the bow grows with curvature [m²]; L²/8 for a small bow."""
    square = 4.0 * bow_m**2
    return (length_m**2 + square) ** 2 / (8.0 * max(length_m**2 - square, 1e-3 * length_m**2))


def checked(strip: Strip) -> Strip:
    """Return the strip when it can be.

    Raises
    ------
    BadInput
        One clear line about a length, temperature or error that cannot be.
    """
    for name, value in (
        ("length", strip.length_m),
        ("metal thickness", strip.metal.thickness_m),
        ("glass thickness", strip.glass.thickness_m),
    ):
        if not (math.isfinite(value) and value > 0):
            raise BadInput(f"must be a length above zero, not {value * 1e3:g} mm", name)
    if strip.width_m is not None and not (math.isfinite(strip.width_m) and strip.width_m > 0):
        raise BadInput(f"must be a length above zero, not {strip.width_m * 1e3:g} mm", "width")
    for name, bow in (("bow", strip.bow_m), ("bow before", strip.bow_before_m)):
        if not math.isfinite(bow) or abs(bow) >= strip.length_m / 2:
            raise BadInput(
                f"{bow * 1e3:g} mm is more than half of the length, {strip.length_m * 1e3:g} mm",
                name,
                "measure both in the same unit, the length straight from end to end",
            )
    if strip.glass.set_c is None or not math.isfinite(strip.glass.set_c):
        raise BadInput("the glass has no set point", "set point", "give it, or take that of a like glass")
    if strip.glass.set_c < ROOM_C + 50.0:
        raise BadInput(f"{strip.glass.set_c:g} °C is no set point of a glass", "set point")
    bad = [name for name, value in vars(strip.errors).items() if not (math.isfinite(value) and value >= 0)]
    if bad:
        raise BadInput("an error must be zero or more", bad[0].replace("_", " "))
    return strip


def draw(strips: Sequence[Strip]) -> list[dict[str, Array]]:
    """Return for each strip standard normal numbers (draws + 1,) of each of its inputs; the first row is all zero.

    Strips share the draws of the glass and of a metal of one name, and have thicknesses of their own.
    """
    names: list[str] = []
    owned: list[dict[str, str]] = []
    for place, strip in enumerate(strips):
        errors = strip.errors
        mine = {
            SET: ("", errors.set_k),
            YIELD: (strip.metal.name, errors.flow if strip.metal.flow_stress else 0.0),
            THICK_GLASS: (str(place), errors.glass_thickness),
            THICK_METAL: (str(place), errors.metal_thickness),
            METAL_EXPANSION: (strip.metal.name, errors.metal_expansion),
            STIFF_GLASS: ("", errors.stiff_glass),
            STIFF_METAL: (strip.metal.name, errors.stiff_metal),
        }
        owned.append({name: f"{name}|{whose}" for name, (whose, size) in mine.items() if size > 0})
        names += [name for name in owned[-1].values() if name not in names]
    samples = DRAWS * min(len(strips), 3)
    table = normally_spread(names, samples) if names else {}
    drawn = {name: np.concatenate(([0.0], column)) for name, column in table.items()}
    return [{name: drawn[key] for name, key in keys.items()} for keys in owned]


def glass_shape(strip: Strip) -> Any:
    """Return the free strain of the glass per unit of its mean over 20-400 °C.

    The curve of the glass layer gives the shape, and only its size is sought; without a curve that grows up to
    400 °C it is that of silicate glasses in general (`expansion.glass_strain`).
    """
    curve = strip.glass.strain
    try:
        mean = float(curve(_MEAN_TO_C)) / (_MEAN_TO_C - ROOM_C)
    except (ValueError, TypeError):
        mean = 0.0
    if not (math.isfinite(mean) and mean > 1e-9):
        return lambda temp_c: glass_strain(temp_c, 1.0)
    return lambda temp_c: np.asarray(curve(temp_c)) / mean


def elastic_slope(strip: Strip) -> float:
    """Return how the curvature of an unyielding strip falls with the glass's expansion [1/m per 1/K].

    Timoshenko (J. Opt. Soc. Am. 11 (1925) 233), equation 4, with E/(1−ν) for E.
    """
    metal, glass = strip.metal, strip.glass
    assert glass.set_c is not None
    m = metal.thickness_m / glass.thickness_m
    n = (metal.youngs_modulus_pa / (1 - metal.poisson_ratio)) / (glass.youngs_modulus_pa / (1 - glass.poisson_ratio))
    height = metal.thickness_m + glass.thickness_m
    strain = float(glass_shape(strip)(min(glass.set_c, getattr(metal.strain, "high_c", math.inf))))
    return -6 * strain * (1 + m) ** 2 / (height * (3 * (1 + m) ** 2 + (1 + m * n) * (m * m + 1 / (m * n))))


def bend(strip: Strip, per_k: Array, drawn: dict[str, Array], step_k: float = _COARSE_STEP_K) -> ResidualMany:
    """Return the strip cooled with each expansion of the glass and each draw.

    Parameters
    ----------
    strip : Strip
        Checked.
    per_k : array (n,)
        The glass's mean linear expansion over 20-400 °C [1/K].
    drawn : dict of str to array (n,)
        Standard normal numbers of the inputs.
    step_k : float
        Greatest temperature step [K].

    Returns
    -------
    ResidualMany
        Layers are metal, glass.
    """
    n, errors = len(per_k), strip.errors
    none = np.zeros(n)

    def factor(name: str, error: float) -> Array:
        return np.exp(error * drawn.get(name, none))

    metal, glass = strip.metal, strip.glass
    assert glass.set_c is not None
    set_c = np.maximum(glass.set_c + errors.set_k * drawn.get(SET, none), ROOM_C + 50.0)
    # Nothing is extrapolated: beyond the metal's curve the glass is taken to set at its end.
    set_c = np.minimum(set_c, getattr(metal.strain, "high_c", math.inf))
    shape, curve = glass_shape(strip), metal.strain
    plates = Plates(
        (metal.name, glass.name),
        np.stack(
            [
                metal.thickness_m * factor(THICK_METAL, errors.metal_thickness),
                glass.thickness_m * factor(THICK_GLASS, errors.glass_thickness),
            ],
            axis=1,
        ),
        np.stack(
            [
                metal.youngs_modulus_pa * factor(STIFF_METAL, errors.stiff_metal),
                glass.youngs_modulus_pa * factor(STIFF_GLASS, errors.stiff_glass),
            ],
            axis=1,
        ),
        np.stack([np.full(n, metal.poisson_ratio), np.full(n, glass.poisson_ratio)], axis=1),
        (
            ByPlate(lambda temp_c, k: k * curve(temp_c), (factor(METAL_EXPANSION, errors.metal_expansion),)),
            ByPlate(lambda temp_c, size: size * shape(temp_c), (np.asarray(per_k, dtype=float),)),
        ),
        np.stack([np.full(n, np.nan), set_c], axis=1),
        (_flow(metal, factor(YIELD, errors.flow)), None),
    )
    try:
        return _cool(plates, step_k)
    except ValueError as error:
        raise BadInput(f"the metal's expansion curve does not reach the set point ({error})", "metal") from None


def _cool(plates: Plates, step_k: float) -> ResidualMany:
    try:
        return cool_many(plates, step_k=step_k)
    except NotConverged:
        if step_k <= STEP_K:
            raise
        return cool_many(plates, step_k=STEP_K)


def _flow(metal: Layer, factor: Array) -> Any:
    flow = metal.flow_stress
    if flow is None:
        return None
    if isinstance(flow, HardeningYield):
        return HardeningYield(flow.stress_0_pa * factor, flow.hardening_pa * factor, flow.ratio_500c)
    column = factor[:, None]
    return lambda temp_c, plastic: column * flow(temp_c, plastic)


def curvatures(strip: Strip, per_k: Array, drawn: dict[str, Array], rows: int, step_k: float = _COARSE_STEP_K) -> Array:
    """Return the curvature (rows, expansions) of the first `rows` draws over a row of expansions [1/m]."""
    nodes = len(per_k)
    flat = bend(strip, np.tile(per_k, rows), {name: np.repeat(z[:rows], nodes) for name, z in drawn.items()}, step_k)
    return flat.curvature_per_m.reshape(rows, nodes)
