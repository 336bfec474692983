"""Drawing the inputs of a verdict within their bands, each by its name, the same every time."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np

from refdb.frozen import dataclass
from refdb.judge import limits
from refdb.judge.reason import Triple
from refdb.judge.remembered import Remembered
from refdb.judge.rules import Limit
from refdb.quantities.typed import Band
from refdb.records import Glass, Metal
from refdb.science.expansion import StrainCurve, contraction_gap_ppm, glass_mean_20_400
from refdb.science.plate import Array, ByPlate, HardeningYield
from refdb.science.sampling import SAMPLES, evenly_spread, from_band, spread_table

METAL_INPUTS = (
    "metal yield",
    "metal expansion",
    "yield at heat",
    "solidus",
    "metal stiffness",
    "metal Poisson's ratio",
)
GLASS_INPUTS = (
    "glass expansion",
    "set point",
    "glass stiffness",
    "kiln range low",
    "kiln range high",
    "glass Poisson's ratio",
    "transition contraction",
)
DOME_INPUTS = ("rise of the dome", "grip of the dome", "rim of the dome")
#: Those of the hoop around a dome's rim: last of all, so that nothing of a flat piece hangs on them.
HOOP_INPUTS = ("hoop of the rim", "radius of the dome", "strength of a ring")
#: What no glass, metal or shape is asked for: strength, and the energy at which a coat throws itself off.
COMMON_INPUTS = ("glass strength", "release that wants care", "release that throws off")
#: Inputs of a question on one glass, in the order of their weight: the first columns of a sample are the most even.
QUESTION_INPUTS = (
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
    "transition contraction",
    *COMMON_INPUTS,
    *DOME_INPUTS,
)


Drawn = TypeVar("Drawn")
#: A dome of no grip at all would be flat.
_LEAST_GRIP = 1e-3


def of_glass(name: str, glass: Glass) -> str:
    """The name of a glass's input where several glasses take part."""
    return f"{name} of {glass.small}"


@dataclass(frozen=True)
class MetalDraws:
    """A metal's inputs over the sample, SI; `strain` is its free strain in every draw."""

    strain: ByPlate
    youngs_pa: Array
    poisson: Array
    flow: HardeningYield
    solidus_c: Array


@dataclass(frozen=True)
class GlassDraws:
    """A glass's inputs over the sample, SI.

    `figure_per_k` is its mean expansion over 20-400 °C as it is known, `per_k` what it effectively contracts down from
    the set point; `beyond` marks draws whose set point the metal's curve does not reach.
    """

    per_k: Array
    figure_per_k: Array
    set_c: Array
    youngs_pa: Array
    poisson: Array
    fuse_low_c: Array
    fuse_high_c: Array
    set_asked_c: Array
    beyond: Array


@dataclass(frozen=True)
class Rim:
    """The rim of a dome over the sample: how far it goes beyond a flat piece's stress along the meridian, and how much
    of its bending it follows around [-]; and its radius [m]."""

    beyond: Array
    followed: Array
    radius_m: Array


@dataclass(frozen=True)
class _Scaled:
    """A metal's strain curve times a factor; alike where the curve is the same one."""

    curve: StrainCurve

    def __call__(self, temp_c: Any, factor: Any) -> Any:
        return self.curve(temp_c) * factor


@lru_cache(maxsize=1024)
def _drawn(inputs: int, place: int, samples: int, value: float, low: float, high: float) -> Array:
    """Values of one of so many inputs; pieces judged together have most of them in common."""
    drawn = np.asarray(from_band(spread_table(inputs, samples)[place], value, low, high), dtype=float)
    drawn.flags.writeable = False
    return drawn


#: Inputs of metals and glasses and the gaps between them, a few kilobytes each: questions that differ in thicknesses or
#: fires alone have them in common.
_MOST_REMEMBERED = 256
_metals = Remembered["tuple[MetalDraws, frozenset[str]]"](_MOST_REMEMBERED)
_glasses = Remembered["tuple[GlassDraws, frozenset[str]]"](_MOST_REMEMBERED)
_gaps = Remembered[Array](_MOST_REMEMBERED)


class Draws:
    """Fractions of every named input, and values drawn from bands by them.

    Parameters
    ----------
    names : iterable of str
        Every input that may be asked for.
    samples : int
        How many draws.
    fractions : array (names, samples), optional
        Where each input stands in its band in each draw; evenly spread where not given.
    """

    def __init__(self, names: Iterable[str], samples: int = SAMPLES, fractions: Array | None = None) -> None:
        self.samples, self._fractions = samples, fractions
        self._names = tuple(names)
        self._place = {name: k for k, name in enumerate(self._names)}
        self._inputs = len(self._place)
        #: What all that is drawn hangs on beside the bands.
        self._mark = self._names, samples, b"" if fractions is None else fractions.tobytes()
        self._wide: set[str] = set()

    def of(self, name: str, band: Band | None) -> Array:
        """Values of an input (samples,); the band must be known."""
        assert band is not None, name
        if not band.is_exact:
            self._wide.add(name)
        if self._fractions is not None:
            at = self._fractions[self._place[name]]
            return np.asarray(from_band(at, band.value, band.low, band.high), dtype=float)
        return _drawn(self._inputs, self._place[name], self.samples, band.value, band.low, band.high)

    def thickness(self, name: str, band: Band, least_m: float) -> Array:
        """Thickness of a layer that is there [m]: never below `least_m`, whatever its band."""
        return np.maximum(self.of(name, band), least_m if band.value > 0 else 0.0)

    @property
    def wide(self) -> dict[str, Array]:
        """The fractions of the inputs that have any width."""
        spread = evenly_spread(self._place, self.samples)
        return {name: column for name, column in spread.items() if name in self._wide}

    def metal(self, metal: Metal, which: str = "") -> MetalDraws:
        """The inputs of a metal; `which` is what follows their names where it is not the base."""
        found, wide = _metals.of((metal,), lambda: self._found(lambda: self._metal(metal, which)), (self._mark, which))
        self._wide |= wide
        return found

    def _found(self, draw: Callable[[], Drawn]) -> tuple[Drawn, frozenset[str]]:
        """What is drawn, and which of its inputs have any width."""
        before, self._wide = self._wide, set()
        try:
            return draw(), frozenset(self._wide)
        finally:
            self._wide = before

    def _metal(self, metal: Metal, which: str) -> MetalDraws:
        expansion = metal.band("expansion")
        assert expansion is not None

        def of(name: str, band: Band | None) -> Array:
            return self.of(f"{name}{which}", band)

        factor = of("metal expansion", expansion) / expansion.value
        return MetalDraws(
            ByPlate(_Scaled(metal.curve), (factor,)),
            of("metal stiffness", metal.band("youngs_modulus")),
            np.minimum(of("metal Poisson's ratio", metal.band("poisson_ratio")), 0.49),
            HardeningYield(
                np.maximum(of("metal yield", metal.band("flow_stress")), 1e6),
                np.maximum(of("metal yield", metal.band("hardening")), 0.0),
                np.clip(of("yield at heat", metal.band("flow_ratio_500c")), 0.05, 1.0),
            ),
            of("solidus", metal.band("solidus")),
        )

    def glass(self, glass: Glass, metal: Metal, several: bool = False) -> GlassDraws:
        """The inputs of a glass on a metal; `several` where more than one glass takes part."""
        found, wide = _glasses.of(
            (glass, metal),
            lambda: self._found(lambda: self._glass(glass, metal, several)),
            (self._mark, several, limits.TRANSITION_CONTRACTION),
        )
        self._wide |= wide
        return found

    def _glass(self, glass: Glass, metal: Metal, several: bool) -> GlassDraws:
        row = glass.value("expansion")
        assert row is not None
        assert row.temp_low_c is not None
        assert row.temp_high_c is not None

        def named(name: str) -> str:
            return of_glass(name, glass) if several else name

        set_c = self.of(named("set point"), glass.band("set_point"))
        known_to_c = metal.curve.high_c
        figure = glass_mean_20_400(self.of(named("glass expansion"), row.band) * 1e-6, row.temp_low_c, row.temp_high_c)
        more: float | Array = 0.0
        if row.source not in limits.EFFECTIVE_SOURCES:
            more = self.of(named("transition contraction"), Band(*limits.TRANSITION_CONTRACTION))
        return GlassDraws(
            figure * (1.0 + more),
            np.asarray(figure, dtype=float),
            np.minimum(set_c, known_to_c),
            self.of(named("glass stiffness"), glass.band("youngs_modulus")),
            self.of(named("glass Poisson's ratio"), glass.band("poisson_ratio")),
            self.of(named("kiln range low"), glass.band("fuse_low")),
            self.of(named("kiln range high"), glass.band("fuse_high")),
            set_c,
            (set_c > known_to_c).astype(float),
        )

    def dome(self, rise_m: Band | None, radius_m: Band | None = None) -> tuple[Array, Array, Rim | None]:
        """Rise [m] and grip [-] in each draw, and the rim; zeros and None for a flat piece.

        Where the radius is not known, any that is usual may be it.
        """
        if rise_m is None:
            return np.zeros(self.samples), np.zeros(self.samples), None
        rise = np.maximum(self.of("rise of the dome", rise_m), 0.0)
        radius = self.of("radius of the dome", radius_m or Band(*limits.DOME_RADIUS_M))
        rim = Rim(
            np.maximum(self.of("rim of the dome", Band(*limits.RIM_BEYOND)), 0.0),
            self.of("hoop of the rim", Band(*limits.RIM_FOLLOWED)),
            # Nothing is more than half a ball.
            np.maximum(radius, rise),
        )
        return rise, np.clip(self.of("grip of the dome", Band(*limits.DOME_GRIP)), _LEAST_GRIP, 1.0), rim


def gap_ppm(metal: MetalDraws, glass: GlassDraws) -> Array:
    """The contraction gap of a glass on a metal over the sample [ppm]."""

    def find() -> Array:
        found = np.asarray(contraction_gap_ppm(metal.strain, glass.per_k, glass.set_c), dtype=float)
        found.flags.writeable = False
        return found

    return _gaps.of((metal, glass), find)


def graded(value: Array, limit: Limit) -> Array:
    """0, 1 or 2 in each draw: up to the limit's `fine`, up to its `care`, beyond; never 2 where it has no `care`."""
    care = np.inf if limit.care is None else limit.care
    return np.where(value > care, 2, np.where(value > limit.fine, 1, 0)).astype(float)


def shares(outcomes: Array) -> list[Triple]:
    """Share of the draws at each outcome, for each row (rules, samples)."""
    counts = np.stack([(outcomes == k).sum(axis=1) for k in range(3)], axis=1) / float(outcomes.shape[1])
    return [(fine, care, bad) for fine, care, bad in counts.tolist()]
