"""The components a glass may be written in: atomic weights, formulas, other names, and oxide equivalents."""

from __future__ import annotations

import re

#: Abridged standard atomic weights, g/mol (IUPAC Commission on Isotopic Abundances and Atomic Weights, 2021).
ATOMIC_WEIGHTS: dict[str, float] = {
    "H": 1.0080,
    "Li": 6.94,
    "Be": 9.0122,
    "B": 10.81,
    "O": 15.999,
    "F": 18.998,
    "Na": 22.990,
    "Mg": 24.305,
    "Al": 26.982,
    "Si": 28.085,
    "P": 30.974,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.098,
    "Ca": 40.078,
    "Ti": 47.867,
    "V": 50.942,
    "Cr": 51.996,
    "Mn": 54.938,
    "Fe": 55.845,
    "Co": 58.933,
    "Ni": 58.693,
    "Cu": 63.546,
    "Zn": 65.38,
    "Ga": 69.723,
    "Ge": 72.630,
    "As": 74.922,
    "Se": 78.971,
    "Rb": 85.468,
    "Sr": 87.62,
    "Y": 88.906,
    "Zr": 91.224,
    "Nb": 92.906,
    "Mo": 95.95,
    "Ag": 107.87,
    "Cd": 112.41,
    "Sn": 118.71,
    "Sb": 121.76,
    "Te": 127.60,
    "Cs": 132.91,
    "Ba": 137.33,
    "La": 138.91,
    "Ce": 140.12,
    "Pr": 140.91,
    "Nd": 144.24,
    "Er": 167.26,
    "Hf": 178.49,
    "Ta": 180.95,
    "W": 183.84,
    "Au": 196.97,
    "Pb": 207.2,
    "Bi": 208.98,
    "U": 238.03,
}

#: Every component a composition may name. Elements stand here only where analyses report them as such.
COMPONENTS: tuple[str, ...] = (
    "SiO2",
    "B2O3",
    "Al2O3",
    "P2O5",
    "GeO2",
    "TeO2",
    "Li2O",
    "Na2O",
    "K2O",
    "Rb2O",
    "Cs2O",
    "BeO",
    "MgO",
    "CaO",
    "SrO",
    "BaO",
    "ZnO",
    "CdO",
    "PbO",
    "PbO2",
    "Pb3O4",
    "Bi2O3",
    "TiO2",
    "ZrO2",
    "HfO2",
    "SnO",
    "SnO2",
    "As2O3",
    "As2O5",
    "Sb2O3",
    "Sb2O5",
    "V2O5",
    "Nb2O5",
    "Ta2O5",
    "MoO3",
    "WO3",
    "Ga2O3",
    "Y2O3",
    "La2O3",
    "CeO2",
    "Ce2O3",
    "Pr2O3",
    "Pr6O11",
    "Nd2O3",
    "Er2O3",
    "UO2",
    "UO3",
    "FeO",
    "Fe2O3",
    "Fe3O4",
    "MnO",
    "MnO2",
    "Mn2O3",
    "Mn3O4",
    "CoO",
    "Co2O3",
    "Co3O4",
    "NiO",
    "CuO",
    "Cu2O",
    "Cr2O3",
    "CrO3",
    "Ag2O",
    "SO3",
    "SeO2",
    "H2O",
    "LiF",
    "NaF",
    "KF",
    "MgF2",
    "CaF2",
    "SrF2",
    "BaF2",
    "ZnF2",
    "PbF2",
    "AlF3",
    "Na3AlF6",
    "Na2SiF6",
    "K2SiF6",
    "NaCl",
    "CdS",
    "F",
    "Cl",
    "S",
    "Se",
    "Ag",
    "Au",
)

#: Common words for a component.
WORDS: dict[str, str] = {
    "silica": "SiO2",
    "alumina": "Al2O3",
    "soda": "Na2O",
    "potash": "K2O",
    "lithia": "Li2O",
    "lime": "CaO",
    "magnesia": "MgO",
    "strontia": "SrO",
    "baryta": "BaO",
    "litharge": "PbO",
    "titania": "TiO2",
    "zirconia": "ZrO2",
    "cryolite": "Na3AlF6",
    "fluorspar": "CaF2",
    "fluorite": "CaF2",
    "fluorine": "F",
    "chlorine": "Cl",
    "f2": "F",
    "cl2": "Cl",
}

#: The oxide meant when somebody writes only the element.
USUAL_OXIDE: dict[str, str] = {
    "Si": "SiO2",
    "B": "B2O3",
    "Al": "Al2O3",
    "P": "P2O5",
    "Ge": "GeO2",
    "Te": "TeO2",
    "Li": "Li2O",
    "Na": "Na2O",
    "K": "K2O",
    "Rb": "Rb2O",
    "Cs": "Cs2O",
    "Be": "BeO",
    "Mg": "MgO",
    "Ca": "CaO",
    "Sr": "SrO",
    "Ba": "BaO",
    "Zn": "ZnO",
    "Cd": "CdO",
    "Pb": "PbO",
    "Bi": "Bi2O3",
    "Ti": "TiO2",
    "Zr": "ZrO2",
    "Hf": "HfO2",
    "Sn": "SnO2",
    "As": "As2O3",
    "Sb": "Sb2O3",
    "V": "V2O5",
    "Nb": "Nb2O5",
    "Ta": "Ta2O5",
    "Mo": "MoO3",
    "W": "WO3",
    "Ga": "Ga2O3",
    "Y": "Y2O3",
    "La": "La2O3",
    "Ce": "CeO2",
    "Pr": "Pr2O3",
    "Nd": "Nd2O3",
    "Er": "Er2O3",
    "U": "UO2",
    "Fe": "Fe2O3",
    "Mn": "MnO",
    "Co": "CoO",
    "Ni": "NiO",
    "Cu": "CuO",
    "Cr": "Cr2O3",
    "S": "SO3",
    "Se": "SeO2",
    "Ag": "Ag2O",
    "H": "H2O",
}

#: Moles of the oxides and halogens that one mole of a component brings, where it is not itself one of them.
#: Metals are counted in one valency each, so that two ways of writing the same glass give the same answer.
EQUIVALENTS: dict[str, dict[str, float]] = {
    "FeO": {"Fe2O3": 0.5},
    "Fe3O4": {"Fe2O3": 1.5},
    "MnO2": {"MnO": 1.0},
    "Mn2O3": {"MnO": 2.0},
    "Mn3O4": {"MnO": 3.0},
    "Co2O3": {"CoO": 2.0},
    "Co3O4": {"CoO": 3.0},
    "Cu2O": {"CuO": 2.0},
    "CrO3": {"Cr2O3": 0.5},
    "SnO": {"SnO2": 1.0},
    "As2O5": {"As2O3": 1.0},
    "Sb2O5": {"Sb2O3": 1.0},
    "PbO2": {"PbO": 1.0},
    "Pb3O4": {"PbO": 3.0},
    "Ce2O3": {"CeO2": 2.0},
    "Pr6O11": {"Pr2O3": 3.0},
    "UO3": {"UO2": 1.0},
    "LiF": {"Li2O": 0.5, "F": 1.0},
    "NaF": {"Na2O": 0.5, "F": 1.0},
    "KF": {"K2O": 0.5, "F": 1.0},
    "MgF2": {"MgO": 1.0, "F": 2.0},
    "CaF2": {"CaO": 1.0, "F": 2.0},
    "SrF2": {"SrO": 1.0, "F": 2.0},
    "BaF2": {"BaO": 1.0, "F": 2.0},
    "ZnF2": {"ZnO": 1.0, "F": 2.0},
    "PbF2": {"PbO": 1.0, "F": 2.0},
    "AlF3": {"Al2O3": 0.5, "F": 3.0},
    "Na3AlF6": {"Na2O": 1.5, "Al2O3": 0.5, "F": 6.0},
    "Na2SiF6": {"Na2O": 1.0, "SiO2": 1.0, "F": 6.0},
    "K2SiF6": {"K2O": 1.0, "SiO2": 1.0, "F": 6.0},
    "NaCl": {"Na2O": 0.5, "Cl": 1.0},
    "CdS": {"CdO": 1.0, "S": 1.0},
}

_PART = re.compile(r"([A-Z][a-z]?)(\d*)")


def elements_of(component: str) -> dict[str, int]:
    """Return how many atoms of each element one formula unit holds, for a formula without brackets.

    Parameters
    ----------
    component : str
        One of `COMPONENTS`.

    Returns
    -------
    dict of str to int
        Element symbol to count.
    """
    counts: dict[str, int] = {}
    for element, count in _PART.findall(component):
        counts[element] = counts.get(element, 0) + int(count or 1)
    return counts


#: Molar mass of every component, g/mol.
MOLAR_MASS_G_PER_MOL: dict[str, float] = {
    name: sum(ATOMIC_WEIGHTS[element] * count for element, count in elements_of(name).items()) for name in COMPONENTS
}


def oxide_equivalents(component: str) -> dict[str, float]:
    """Return the moles of oxides and halogens that one mole of a component brings to a glass.

    Parameters
    ----------
    component : str
        One of `COMPONENTS`; cryolite, for one, gives Na2O 1.5, Al2O3 0.5 and F 6.

    Returns
    -------
    dict of str to float
        Component to moles. Oxygen that fluorine replaces is not counted anywhere.
    """
    return EQUIVALENTS.get(component, {component: 1.0})
