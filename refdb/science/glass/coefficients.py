"""Coefficients, limits and error bands of the models of glass properties. Written by scripts/fit_glass.py.

Source: computed from SciGlass (EPAM Systems 2019, Open Database License) by Huber regression
on the glasses of data_sources/sciglass/enamel_like.csv. Bands enclose 90 % of measurements in
tenfold cross-validation grouped by paper.
"""

from __future__ import annotations

#: Property to term to factor for each mole per cent; ppm/K, °C, GPa, cm³/mol.
COEFFICIENTS: dict[str, dict[str, float]] = {
    "expansion": {
        "SiO2": 0.028673, "B2O3": -0.013118, "Al2O3": 0.0064252, "Li2O": 0.28067, "Na2O": 0.39527,
        "K2O": 0.43592, "MgO": 0.073923, "CaO": 0.138, "SrO": 0.16403, "BaO": 0.21299, "ZnO": 0.069433,
        "PbO": 0.16014, "TiO2": 0.043519, "ZrO2": -0.07431, "F": 0.10955,
    },
    "tg": {
        "SiO2": 6.0667, "B2O3": 4.7401, "Al2O3": 12.688, "Li2O": -3.4226, "Na2O": -1.7465, "K2O": 2.1843,
        "MgO": 9.2583, "CaO": 8.4065, "SrO": 8.3037, "BaO": 3.9678, "ZnO": 6.3917, "PbO": -0.28731,
        "TiO2": 9.0827, "ZrO2": 19.133, "F": 2.1557, "B2O3*psi/4": 7.8735, "R2O^2/100": 10.704,
        "Na2O*K2O/(Na2O+K2O)": -10.194, "Li2O*(Na2O+K2O)/R2O": -10.122,
    },
    "youngs_modulus": {
        "SiO2": 0.6805, "B2O3": 0.61646, "Al2O3": 1.1565, "Li2O": 1.3636, "Na2O": 0.47571, "K2O": 0.080026,
        "MgO": 1.213, "CaO": 1.2805, "SrO": 1.0666, "BaO": 0.75938, "ZnO": 0.83536, "PbO": 0.30674,
        "TiO2": 1.5169, "ZrO2": 2.296, "F": 0.51676, "B2O3*psi/4": 1.7611,
    },
    "molar_volume": {
        "SiO2": 0.26442, "B2O3": 0.30558, "Al2O3": 0.4035, "Li2O": 0.099044, "Na2O": 0.20097, "K2O": 0.34311,
        "MgO": 0.12334, "CaO": 0.13106, "SrO": 0.16253, "BaO": 0.20786, "ZnO": 0.14533, "PbO": 0.22246,
        "TiO2": 0.20466, "ZrO2": 0.19809, "F": 0.042625, "SnO2": 0.21787, "Sb2O3": 0.57958, "As2O3": 0.5176,
        "P2O5": 0.69619, "Fe2O3": 0.37569, "MnO": 0.075347, "CoO": 0.16361, "NiO": 0.23281, "CuO": 0.23327,
        "B2O3*psi/4": -0.10567,
    },
}

#: Property to oxide to the highest mole per cent answered.
HIGHEST_MOL_PCT: dict[str, dict[str, float]] = {
    "expansion": {
        "B2O3": 21.1, "Al2O3": 9.6, "Li2O": 35.0, "Na2O": 30.0, "K2O": 20.0, "MgO": 19.1, "CaO": 22.8,
        "SrO": 17.9, "BaO": 20.0, "ZnO": 35.0, "PbO": 20.0, "TiO2": 26.0, "ZrO2": 13.7, "F": 24.9,
        "SnO2": 10.0, "Sb2O3": 2.0, "As2O3": 2.0, "P2O5": 4.6, "Fe2O3": 15.8, "MnO": 19.9, "CoO": 19.6,
        "NiO": 12.0, "CuO": 17.3,
    },
    "tg": {
        "B2O3": 21.7, "Al2O3": 9.5, "Li2O": 31.0, "Na2O": 30.0, "K2O": 20.0, "MgO": 19.7, "CaO": 27.8,
        "SrO": 10.0, "BaO": 14.9, "ZnO": 30.0, "PbO": 21.8, "TiO2": 22.5, "ZrO2": 15.0, "F": 18.8,
        "SnO2": 10.0, "Sb2O3": 2.0, "As2O3": 2.0, "P2O5": 5.2, "Fe2O3": 10.0, "MnO": 11.1, "CoO": 17.6,
        "NiO": 2.7, "CuO": 2.0,
    },
    "youngs_modulus": {
        "B2O3": 21.2, "Al2O3": 9.5, "Li2O": 35.1, "Na2O": 30.0, "K2O": 20.0, "MgO": 20.8, "CaO": 29.5,
        "SrO": 27.0, "BaO": 20.0, "ZnO": 19.0, "PbO": 20.7, "TiO2": 26.0, "ZrO2": 10.9, "F": 30.1,
        "SnO2": 3.0, "Sb2O3": 5.1, "As2O3": 2.0, "P2O5": 6.0, "Fe2O3": 10.0, "MnO": 3.6, "CoO": 10.5,
        "NiO": 11.7, "CuO": 2.0,
    },
    "molar_volume": {
        "B2O3": 21.4, "Al2O3": 9.7, "Li2O": 35.0, "Na2O": 30.0, "K2O": 20.0, "MgO": 18.6, "CaO": 27.5,
        "SrO": 20.0, "BaO": 18.7, "ZnO": 35.0, "PbO": 20.1, "TiO2": 29.9, "ZrO2": 9.8, "F": 25.3,
        "SnO2": 10.0, "Sb2O3": 5.0, "As2O3": 2.0, "P2O5": 6.0, "Fe2O3": 14.3, "MnO": 11.0, "CoO": 17.5,
        "NiO": 2.0, "CuO": 2.0,
    },
}

#: Slope and constant (ppm/K) that bring Appen's factors to the same measurements.
APPEN_RECALIBRATION: tuple[float, float] = (0.9840, -0.1291)

#: Property to rows of (prediction, half-width of the band).
BANDS: dict[str, tuple[tuple[float, float], ...]] = {
    "expansion": (  # ppm/K
        (5.3224, 0.6715),
        (7.3647, 0.8644),
        (8.1356, 0.5915),
        (8.5099, 0.5067),
        (8.9542, 0.776),
        (9.4091, 0.8875),
        (10.017, 1.083),
        (11.123, 1.536),
        (13.314, 1.726),
    ),
    "tg": (  # °C
        (457.33, 74.13),
        (516.04, 67.14),
        (552.55, 62.93),
        (576.68, 49.85),
        (603.51, 60.06),
        (637.9, 40.76),
        (665.92, 62.76),
    ),
    "youngs_modulus": (  # GPa
        (64.564, 9.639),
        (70.807, 9.713),
        (73.531, 7.148),
        (76.158, 7.425),
        (80.916, 7.103),
        (86.533, 7.006),
        (93.327, 13.25),
    ),
    "density": (  # kg/m³
        (2425.9, 83.64),
        (2482.9, 35.53),
        (2521.7, 35.65),
        (2577.3, 48.27),
        (2713.9, 73.47),
        (2852.2, 77.71),
        (3188.4, 97.4),
    ),
    "littleton": (  # °C
        (637.05, 38.42),
        (682.84, 38.75),
        (711.32, 36.16),
        (738.41, 39.95),
        (788.94, 78.72),
    ),
    "gloss": (  # °C
        (927.87, 62.79),
        (975.59, 44.05),
        (993.77, 29.22),
    ),
}
