"""Surface tension of molten glass from composition, and what a contrast between two coats does."""

from __future__ import annotations

from collections.abc import Mapping

#: mN/m for each mole per cent; oxides not named have no term of their own (Kucuk, Clare and Jones, 1999).
_PER_MOL_PCT = {
    "Li2O": 1.48, "K2O": -2.22, "MgO": 1.96, "CaO": 3.34, "BaO": 1.28, "SrO": 3.32, "FeO": 2.68, "MnO": 2.92,
    "PbO": -1.38, "B2O3": -2.86, "Al2O3": 3.47,
}  # fmt: skip
_CONSTANT, _SLOPE, _AT_C = 271.2, 0.04, 1400.0
#: Components that gather at the surface of a melt and lower its tension far more than in proportion (from
#: memory); no answer is given with more of them than this together, mol%.
_SURFACE_ACTIVE = ("F", "Cl", "SO3", "V2O5", "MoO3", "WO3", "CrO3", "As2O3", "Sb2O3")
_SURFACE_ACTIVE_MOST = 1.0
#: What stands for a class of glass of unknown composition, N/m: low, typical, high (computed from compositions of
#: enamels).
TYPICAL_N_PER_M = (0.24, 0.27, 0.30)
#: A contrast worth a warning, N/m: half of 20 mN/m, which at 10^3 Pa s and 0.12 mm spreads a melt by about
#: 0.24 mm in a minute (computed), twice the thickness of a coat.
CONTRAST_N_PER_M = 0.010


def surface_tension_n_per_m(mole_percent: Mapping[str, float], temp_c: float) -> float | None:
    """Return the surface tension of a molten silicate glass, N/m.

    Parameters
    ----------
    mole_percent : mapping of str to float
        Composition in mole per cent of oxides.
    temp_c : float
        Temperature, 600 to 1500 °C.

    Returns
    -------
    float or None
        None outside that span, or with more than 1 mol% of components that gather at the surface.

    Notes
    -----
    Kucuk, Clare and Jones (1999), fitted at 1400 °C (read in a summary with all coefficients), plus 0.04 mN/m for
    each kelvin below (read). Melts measured lie between 0.23 and 0.36 N/m.
    """
    if not 600.0 <= temp_c <= 1500.0:
        return None
    if sum(mole_percent.get(name, 0.0) for name in _SURFACE_ACTIVE) > _SURFACE_ACTIVE_MOST:
        return None
    terms = sum(_PER_MOL_PCT.get(name, 0.0) * amount for name, amount in mole_percent.items())
    return 1e-3 * (_CONSTANT + terms + _SLOPE * (_AT_C - temp_c))


def contrast_warning(under_n_per_m: float | None, over_n_per_m: float | None) -> str:
    """Return a sentence when an under coat would spread over the coat above it at a gap; empty otherwise."""
    if under_n_per_m is None or over_n_per_m is None or over_n_per_m - under_n_per_m < CONTRAST_N_PER_M:
        return ""
    gap = 1e3 * (over_n_per_m - under_n_per_m)
    return (
        f"The surface tension of the under coat is {gap:.0f} mN/m lower (computed): where it reaches a gap, it "
        "spreads over the coat above."
    )
