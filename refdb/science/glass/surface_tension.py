"""Surface tension of molten glass, and what a contrast between two coats does."""

from __future__ import annotations

#: What stands for a class of glass of unknown composition, N/m: low, typical, high (computed from compositions of
#: enamels at 800 °C by Kucuk, Clare and Jones, Glass Technol. 40 (1999) 149; some for gold lie up to 0.04 above).
TYPICAL_N_PER_M = (0.24, 0.27, 0.30)
#: A contrast worth a warning, N/m: half of 20 mN/m, which at 10^3 Pa s and 0.12 mm spreads a melt by about
#: 0.24 mm in a minute (computed), twice the thickness of a coat.
CONTRAST_N_PER_M = 0.010


def contrast_warning(under_n_per_m: float | None, over_n_per_m: float | None) -> str:
    """Return a sentence when an under coat would spread over the coat above it at a gap; empty otherwise."""
    if under_n_per_m is None or over_n_per_m is None or over_n_per_m - under_n_per_m < CONTRAST_N_PER_M:
        return ""
    gap = 1e3 * (over_n_per_m - under_n_per_m)
    return (
        f"The surface tension of the under coat is {gap:.0f} mN/m lower (computed): where it reaches a gap, it "
        "spreads over the coat above."
    )
