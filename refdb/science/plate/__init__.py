"""The layered plate: stress in glass and metal after cooling from the kiln.

`cool` cools one plate of layers, `cool_many` many at once; `cooled` says what is solved, and its sources.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.science.lazy import exported

if TYPE_CHECKING:
    from refdb.science.plate.cooled import cool, cool_many
    from refdb.science.plate.dome import dome_restraint_n_m, dome_rim, rim_hoop_pa, rim_hoop_strain
    from refdb.science.plate.layers import (
        Array,
        ByPlate,
        HardeningYield,
        Layer,
        LayerStress,
        Plates,
        Residual,
        ResidualMany,
    )

__all__ = [
    "Array",
    "ByPlate",
    "HardeningYield",
    "Layer",
    "LayerStress",
    "Plates",
    "Residual",
    "ResidualMany",
    "cool",
    "cool_many",
    "dome_restraint_n_m",
    "dome_rim",
    "rim_hoop_pa",
    "rim_hoop_strain",
]

__getattr__, __dir__ = exported(
    __name__,
    dict.fromkeys(__all__, "layers")
    | dict.fromkeys(("cool", "cool_many"), "cooled")
    | dict.fromkeys(("dome_restraint_n_m", "dome_rim", "rim_hoop_pa", "rim_hoop_strain"), "dome"),
)
