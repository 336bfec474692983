"""Coefficients and limits of Fluegel's polynomial model of glass viscosity, as tables.

Source: A. Fluegel, "Glass viscosity calculation based on a global statistical modelling approach", Glass
Technology: European Journal of Glass Science and Technology A 48(1), 2007, 13-30, Tables 3 to 6, read in a
copy. The copy had lost eight minus signs in the table for 10^1.5 Pa s; they are put back here
(`RESTORED_SIGNS`), which brings the model's own figures for its five reference glasses (Table 12) back to
within 2 degrees. The tables for 10^6.6 and 10^12 Pa s needed nothing.
"""

from __future__ import annotations

#: Degrees Celsius for each mole per cent (or product of mole per cents) of the oxides other than silica.
COEFFICIENTS_C: dict[float, dict[str, float]] = {
    1.5: {
        "Constant": 1824.497, "Al2O3": 19.341, "B2O3": -22.347, "B2O3^2": 0.60376, "BaO": -18.931,
        "Bi2O3": -42.416, "CaO": -17.453, "CaO^2": 0.12038, "CeO2": -22.418, "Cl": -8.563, "CuO": -30.913,
        "F": -11.739, "Fe2O3": -13.611, "K2O": -31.907, "K2O^2": 0.61234, "K2O^3": -0.006662,
        "Li2O": -30.336, "Li2O^2": 0.22499, "MgO": -5.038, "MnO2": -17.05, "K2O*MgO": 0.59449,
        "Na2O": -30.61, "Na2O^2": 0.27887, "Nd2O3": -39.662, "PbO": -21.349, "SO3": -13.908, "SrO": -17.292,
        "ThO2": -17.185, "TiO2": -10.323, "UO2": -17.672, "V2O5": -21.727, "ZnO": -6.28, "ZrO2": 0.173,
        "B2O3*Na2O": -0.28237, "B2O3*K2O": -0.2789, "B2O3*Li2O": -0.16843, "Al2O3*Na2O": -0.23085,
        "Al2O3*Li2O": -0.38421, "Al2O3*MgO": -0.44589, "Al2O3*CaO": -0.93909, "Na2O*K2O": 0.58773,
        "Na2O*Li2O": 0.20691, "Na2O*CaO": 0.19254, "K2O*Li2O": 0.24924, "K2O*CaO": 0.29628,
        "MgO*CaO": -0.17394, "Al2O3*Na2O*CaO": 0.03362,
    },
    6.6: {
        "Constant": 939.479, "Al2O3": 5.812, "B2O3": -4.366, "B2O3^2": -0.17367, "BaO": -3.385,
        "CaO": -1.791, "F": -9.328, "Fe2O3": -11.013, "K2O": -20.659, "K2O^2": 0.58116, "K2O^3": -0.00937,
        "Li2O": -25.075, "Li2O^2": 0.46012, "MgO": 0.93, "Na2O": -19.051, "Na2O^2": 0.32209,
        "Na2O^3": -0.00208, "P2O5": 14.857, "PbO": -8.871, "SrO": -2.191, "TiO2": -2.862, "ZnO": -1.065,
        "ZrO2": 12.425, "B2O3*Na2O": 0.32005, "B2O3*K2O": 0.42514, "B2O3*Li2O": 0.39626,
        "B2O3*CaO": -0.24066, "Al2O3*Na2O": 0.08442, "Al2O3*K2O": 0.48055, "Na2O*K2O": 0.15519,
        "Na2O*Li2O": 0.20781, "Na2O*CaO": 0.09392, "K2O*Li2O": 0.46938, "K2O*MgO": 0.26354,
        "K2O*CaO": 0.47564, "MgO*CaO": -0.15553, "B2O3*Al2O3*Na2O": -0.033573, "Al2O3*Na2O*CaO": -0.00678,
        "Na2O*MgO*CaO": -0.012589,
    },
    12.0: {
        "Constant": 624.829, "Al2O3": 4.929, "B2O3": -1.121, "BaO": -1.11, "CaO": 6.84, "CaO^2": -0.08269,
        "F": -8.123, "Fe2O3": -8.453, "K2O": -12.46, "K2O^2": 0.39706, "K2O^3": -0.005382, "Li2O": -11.571,
        "Li2O^2": 0.27802, "Li2O^3": -0.002576, "MgO": 1.141, "Na2O": -12.854, "Na2O^2": 0.35785,
        "Na2O^3": -0.004179, "PbO": -4.349, "SrO": 1.388, "TiO2": 3.864, "ZrO2": 8.927,
        "B2O3*Na2O": 0.38413, "B2O3*CaO": -0.20958, "B2O3*Al2O3": -0.3338, "Al2O3*CaO": -0.13741,
        "Na2O*K2O": 0.06169, "Na2O*Li2O": 0.08558, "Na2O*CaO": -0.10283, "K2O*Li2O": 0.17538,
        "K2O*MgO": 0.27425, "K2O*CaO": 0.2247, "MgO*CaO": -0.21563, "CaO*Li2O": -0.8817,
        "Al2O3*Na2O*CaO": 0.013868,
    },
}

#: Terms at 10^1.5 Pa s whose sign is reconstructed.
RESTORED_SIGNS: tuple[str, ...] = (
    "B2O3*Na2O", "B2O3*K2O", "B2O3*Li2O", "Al2O3*Na2O", "Al2O3*Li2O",
    "Al2O3*MgO", "Al2O3*CaO", "MgO*CaO",
)

#: Highest mole per cent the model was fitted on, at 10^1.5, 10^6.6 and 10^12 Pa s.
HIGHEST_MOL_PCT: dict[str, tuple[float, float, float]] = {
    "Al2O3": (11.3, 12.7, 10.0),
    "B2O3": (18.15, 16.97, 16.97),
    "BaO": (10.0, 8.0, 19.2),
    "CaO": (33.47, 33.1, 50.14),
    "F": (10.31, 10.31, 4.55),
    "Fe2O3": (6.99, 2.15, 0.57),
    "K2O": (41.67, 30.0, 34.05),
    "Li2O": (35.9, 33.3, 45.0),
    "MgO": (16.9, 20.0, 16.61),
    "Na2O": (44.0, 42.0, 42.0),
    "PbO": (49.96, 50.0, 56.0),
    "SrO": (7.37, 7.37, 18.02),
    "TiO2": (9.26, 3.29, 25.0),
    "ZnO": (5.19, 8.0, 2.81),
    "ZrO2": (9.78, 2.77, 1.76),
    "SiO2": (89.2, 87.1, 91.97),
}

#: Lowest mole per cent of silica, likewise.
LOWEST_SILICA_MOL_PCT: tuple[float, float, float] = (42.62, 42.62, 41.4)
