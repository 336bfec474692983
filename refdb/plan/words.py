"""How a plan writes labels and sizes."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.quantities.typed import Band


def millimetres(band: Band, decimals: int = 1) -> str:
    """A length [m] in mm, low to high where they differ in print."""
    low, high = f"{band.low * 1e3:.{decimals}f}", f"{band.high * 1e3:.{decimals}f}"
    return f"{low} mm" if low == high else f"{low} to {high} mm"


def minutes_span(band: Band) -> str:
    """Whole minutes, low to high."""
    low, high = f"{band.low:.0f}", f"{band.high:.0f}"
    return f"{low} min" if low == high else f"{low} to {high} min"


def listed(names: Sequence[str]) -> str:
    """Names that may hold commas, as a list in a sentence."""
    return names[0] if len(names) == 1 else f"{'; '.join(names[:-1])}; and {names[-1]}"


def amount_figure(value: float) -> str:
    """An amount as it is weighed: two significant digits below ten, whole numbers from a hundred."""
    if value >= 100:
        return f"{value:,.0f}"
    if value >= 10:
        return f"{value:.1f}"
    return f"{value:.2f}" if value >= 0.1 else f"{value:.2g}"


def amount_span(band: Band) -> str:
    """Low to high of an amount; a whole number that is known is a count."""
    if band.is_exact and band.low.is_integer() and band.low >= 10:
        return f"{band.low:,.0f}"
    low, high = amount_figure(band.low), amount_figure(band.high)
    return low if low == high else f"{low} to {high}"
