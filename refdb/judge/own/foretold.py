"""What the plate foretells of tiles of one jar, over expansions and over draws of what all of them share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from refdb.errors import BadInput
from refdb.judge import limits
from refdb.judge.draws import METAL_INPUTS, Draws
from refdb.judge.needs import missing_figures
from refdb.quantities.band import Band
from refdb.records import Glass, Metal
from refdb.science.expansion import ROOM_C, contraction_gap_ppm, glass_strain
from refdb.science.inference.tiles import FiredTile
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, cool_many
from refdb.science.plate.duration import duration_factor
from refdb.science.sampling import lattice

#: Draws of what tiles share. On simulated jars twice as many cover the truth no better.
DRAWS = 48
#: The plate is cooled at expansions so far apart [1/K]; between them its stresses are taken as straight.
_NODE_PER_K = 0.5e-6
#: Points of a lattice for tiles of many jars, where errors do not average out: the mean of a class comes within some
#: 0.01 ppm/K of what eight times as many give, while 48 to 384 of the usual draws put it off by 0.02 to 0.12.
LATTICE = 256
#: How much each input of a jar and of a metal decides, in the order of `_OF_JAR` and of `METAL_INPUTS`.
_JAR_WEIGHTS, _METAL_WEIGHTS = (0.3, 0.15, 0.06, 0.015), (0.21, 0.12, 0.09, 0.003, 0.03, 0.006)
_OF_JAR = ("glass strength", "set point", "glass stiffness", "glass Poisson's ratio")


class Foretold:
    """Tiles of one jar, each foretold once, in the same draws of strength, set point, stiffness and of each metal.

    The transition's contraction is no input here: the grid is of effective expansions, which hold it.

    Parameters
    ----------
    glass : Glass
    metals : sequence of Metal
        Every metal that a tile may be of; each has a yield of its own, which its tiles share.
    grid_per_k : array (n,)
        Effective mean linear expansions over 20-400 °C [1/K].
    draws : int
    even : bool
        Whether the draws are the points of a lattice.
    """

    def __init__(
        self, glass: Glass, metals: Sequence[Metal], grid_per_k: Array, draws: int = DRAWS, even: bool = False
    ) -> None:
        self.glass, self.grid_per_k, self.draws, self.even = glass, grid_per_k, draws, even
        self.metals = {m.key: m for m in metals}
        self._told: dict[tuple[str, float, float, float], tuple[FiredTile, Array]] = {}
        nodes = int(np.ceil((grid_per_k[-1] - grid_per_k[0]) / _NODE_PER_K)) + 1
        self._nodes = np.linspace(grid_per_k[0], grid_per_k[-1], nodes)
        apart = np.abs(grid_per_k - self._nodes[:, None]) / (self._nodes[1] - self._nodes[0])
        self._between: Array = np.maximum(0.0, 1.0 - apart)

    def tile(self, metal: str, metal_m: float, front_m: float, back_m: float, outcome: str = "") -> FiredTile:
        """A finished tile in every draw, (draws, n) each.

        Raises
        ------
        BadInput
            A figure of the glass or of the metal is not known.
        """
        told, _ = self._known(metal, metal_m, front_m, back_m)
        return FiredTile(outcome, told.tension_pa, told.gap_ppm, told.strength_pa)

    def curvature(self, metal: str, metal_m: float, front_m: float) -> Array:
        """Curvature of a strip coated on its front alone, (draws, n), positive with the glass outside [1/m].

        Raises
        ------
        BadInput
            A figure of the glass or of the metal is not known.
        """
        return self._known(metal, metal_m, front_m, 0.0)[1]

    def _known(self, metal: str, metal_m: float, front_m: float, back_m: float) -> tuple[FiredTile, Array]:
        key = (metal, metal_m, front_m, back_m)
        if key not in self._told:
            self._told[key] = self._cooled(self.metals[metal], metal_m, front_m, back_m)
        return self._told[key]

    def _drawn(self, metal: Metal) -> Draws:
        """Draws of the jar and of this metal: the columns of other metals stay theirs."""
        own = [METAL_INPUTS if key == metal.key else [f"{n} of {key}" for n in METAL_INPUTS] for key in self.metals]
        names = [*_OF_JAR, *(name for names in own for name in names)]
        fractions = lattice((*_JAR_WEIGHTS, *_METAL_WEIGHTS * len(own)), self.draws) if self.even else None
        return Draws(names, self.draws, fractions)

    def _cooled(self, metal: Metal, metal_m: float, front_m: float, back_m: float) -> tuple[FiredTile, Array]:
        gone = missing_figures(self.glass, metal)
        if gone:
            raise BadInput(f"not known: {'; '.join(gone)}", self.glass.key)
        if not (metal_m > 0 and max(front_m, back_m) > 0):
            raise BadInput("there is no metal, or no glass on either face", self.glass.key)
        drawn = self._drawn(metal)
        base = drawn.metal(metal)
        set_c = np.clip(drawn.of("set point", self.glass.band("set_point")), ROOM_C + 1, metal.curve.high_c)
        glass_e = drawn.of("glass stiffness", self.glass.band("youngs_modulus"))
        glass_nu = drawn.of("glass Poisson's ratio", self.glass.band("poisson_ratio"))
        strength = drawn.of("glass strength", Band(*limits.STRENGTH_MPA)) * 1e6
        nodes = len(self._nodes)

        def rows(*layers: Array) -> Array:
            return np.repeat(np.stack(layers, axis=1), nodes, axis=0)

        def each(of: Array) -> Array:
            return np.repeat(of, nodes)

        (factor,) = base.strain.parameters
        free = ByPlate(glass_strain, (np.tile(self._nodes, self.draws),))
        nowhere = np.full(self.draws, np.nan)
        thickness = np.tile([back_m, metal_m, front_m], (nodes * self.draws, 1))
        many = cool_many(
            Plates(
                ("back", "metal", "front"),
                thickness,
                rows(glass_e, base.youngs_pa, glass_e),
                rows(glass_nu, base.poisson, glass_nu),
                (free, ByPlate(base.strain.function, (each(factor),)), free),
                rows(set_c, nowhere, set_c),
                (
                    None,
                    HardeningYield(
                        each(base.flow.stress_0_pa), each(base.flow.hardening_pa), each(base.flow.ratio_500c)
                    ),
                    None,
                ),
            )
        )
        faces = [
            stress[:, layer].reshape(self.draws, nodes) @ self._between
            for layer, there_m in ((0, back_m), (2, front_m))
            if there_m > 0
            for stress in (many.bottom_pa, many.top_pa)
        ]
        gap = contraction_gap_ppm(
            ByPlate(base.strain.function, (factor[:, None],)), self.grid_per_k[None, :], set_c[:, None]
        )
        tile = FiredTile(
            "", np.max(faces, axis=0), np.asarray(gap, dtype=float), strength * duration_factor(limits.HOURS_FOR_GOOD)
        )
        return tile, many.curvature_per_m.reshape(self.draws, nodes) @ self._between
