"""An expansion as verdicts take it: effective, or a dilatometer's figure with the transition's contraction added."""

from __future__ import annotations

from refdb.judge.limits import EFFECTIVE_SOURCES, OWN_EXPANSION_PPM_PER_K, TRANSITION_CONTRACTION
from refdb.quantities.band import Band
from refdb.records import PropertyValue
from refdb.science.expansion import glass_mean_20_400

#: What to mind where an effective expansion and a dilatometer's may meet.
EFFECTIVE = (
    "This is an effective expansion: what the glass contracts on its metal, all the way down from its set point, as a "
    f"mean over 20 to 400 °C. It is right for verdicts, and lies {TRANSITION_CONTRACTION[1] * 100:.0f} to "
    f"{TRANSITION_CONTRACTION[2] * 100:.0f} %, about 1 ppm/K, above what a dilatometer gives for the same glass."
)


def is_effective(figure: PropertyValue) -> bool:
    """Whether an expansion came from a bent strip or from fired tiles."""
    return figure.source in EFFECTIVE_SOURCES


def figure_20_400(figure: PropertyValue) -> Band:
    """An expansion as it was given, over 20-400 °C [1/K]; its span must be known.

    A figure without a band is good to `limits.OWN_EXPANSION_PPM_PER_K`, or to half of itself where it is very small.
    """
    assert figure.temp_low_c is not None
    assert figure.temp_high_c is not None
    band = figure.band.scaled(1e-6)
    if band.is_exact:
        apart = min(OWN_EXPANSION_PPM_PER_K * 1e-6, band.value / 2)
        band = Band(band.value, band.value - apart, band.value + apart)
    return Band(*(float(glass_mean_20_400(x, figure.temp_low_c, figure.temp_high_c)) for x in _three(band)))


def effective_20_400(figure: PropertyValue) -> Band:
    """The same as an effective expansion, its ends with those of the transition's contraction [1/K]."""
    band = figure_20_400(figure)
    if is_effective(figure):
        return band
    return Band(*(x * (1 + more) for x, more in zip(_three(band), TRANSITION_CONTRACTION, strict=True)))


def _three(band: Band) -> tuple[float, float, float]:
    return band.value, band.low, band.high
