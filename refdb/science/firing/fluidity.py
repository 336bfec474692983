"""How fluid a glass is in a firing, with how well that is known.

A curve comes from the hardness of a class, or is pinned by one firing that was seen.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refdb.errors import BadInput
from refdb.frozen import dataclass, replace
from refdb.science.glass.estimated import GLOSS_LOG10_PA_S
from refdb.science.glass.viscosity import LOG10_AT_INFINITY, LOG10_LOWEST, Vft

Array = NDArray[np.float64]

#: Stiffer than this nothing flows in minutes, log10 Pa s.
_FROZEN = 14.0
#: The glass of a coat turns elastic some 20 K above its 10^12 Pa s (see `glass.estimated`).
SET_ABOVE_12_K = 20.0
#: Fragility where only the hardness is known, K: B of the curve with A = -2.8. It meets the typical temperatures of
#: 10^6.6 and 10^4 Pa s of glasses for enamel, from 570 and 702 °C for a gloss setting of 760 °C, to 4 K (computed);
#: single glasses lie 19 K lower to 64 K higher.
TYPICAL_B_K = 3150.0


@dataclass(frozen=True)
class FiringCurve:
    """A viscosity curve with its band.

    Attributes
    ----------
    vft : Vft
        The curve.
    low_k, high_k : float
        Nine tenths of what is believed lies within the curve moved by `low_k` (below or equal zero: softer) to
        `high_k` (harder), kelvins.
    seen_c : float or None
        Kiln setting of the firing that pinned it; None where none did.
    """

    vft: Vft
    low_k: float = 0.0
    high_k: float = 0.0
    seen_c: float | None = None

    def __post_init__(self) -> None:
        if not (-500.0 <= self.low_k <= 0.0 <= self.high_k <= 500.0):
            raise BadInput(
                "the band of a viscosity curve must hold the curve itself",
                "viscosity",
                "give low_k from -500 to 0 and high_k from 0 to 500 kelvins",
            )

    def moved(self, kelvins: float) -> FiringCurve:
        """The same curve moved up in temperature."""
        return replace(self, vft=replace(self.vft, t0_c=self.vft.t0_c + kelvins))

    @property
    def gloss_c(self) -> float:
        """Kiln setting for gloss in 2.5 minutes, °C: the temperature of 10^3.2 Pa s."""
        return self.vft.t0_c + self.vft.b / (GLOSS_LOG10_PA_S - self.vft.a)

    def fluidity_per_pa_s(self, temp_c: ArrayLike, moved_k: ArrayLike = 0.0) -> Array:
        """Return one over viscosity, 1/(Pa s), zero where the glass is stiffer than 10^14 Pa s.

        Parameters
        ----------
        temp_c : float or array
            Temperature of the glass.
        moved_k : float or array
            Moves the curve up in temperature.
        """
        above = np.asarray(temp_c, dtype=float) - self.vft.t0_c - np.asarray(moved_k, dtype=float)
        log10 = self.vft.a + self.vft.b / np.maximum(above, 1e-3)
        return np.asarray(np.where(log10 < _FROZEN, np.exp(-math.log(10.0) * np.minimum(log10, _FROZEN)), 0.0))

    def beyond(self, kiln_c: float) -> str:
        """Why no answer can be given at a kiln setting; empty when it can."""
        log10 = self.vft.a + self.vft.b / (kiln_c - self.vft.t0_c) if kiln_c > self.vft.t0_c else _FROZEN
        if log10 < LOG10_LOWEST:
            return (
                f"at {kiln_c:.0f} °C this glass would be thinner than the viscosity model reaches "
                f"(10^{LOG10_LOWEST:g} Pa·s)"
            )
        return ""


def refusal(curve: FiringCurve | None, kiln_c: float, name: str) -> str:
    """Why a glass cannot be followed at a kiln setting; empty when it can."""
    if curve is None:
        return f"no viscosity curve of the {name}: nothing pins it"
    return curve.beyond(kiln_c)


def class_curve(
    gloss_c: float, gloss_low_c: float, gloss_high_c: float, set_point_c: float | None = None
) -> FiringCurve:
    """Return a curve for a class of glass of which only the hardness is known.

    Parameters
    ----------
    gloss_c, gloss_low_c, gloss_high_c : float
        Kiln setting for gloss in about 2.5 minutes with its range, °C; the middle and the ends of the usual firing
        range serve.
    set_point_c : float, optional
        Where the cooling glass turns elastic, °C; without it a typical fragility is taken.

    Returns
    -------
    FiringCurve
        Its band is the range of the class. It says how classes stand to each other, and minutes only with their
        whole range.

    Notes
    -----
    log10 η = A + B/(T - T0) (Vogel, 1921; Fulcher, 1925; Tammann and Hesse, 1926) with A = -2.8, through 10^3.2 Pa s
    at the gloss setting and 10^12 Pa s at 20 K below the setting temperature; without one, or where it is too near
    the gloss setting or too far from it, B = 3150 K.

    Raises
    ------
    BadInput
        When the three settings are not in order.
    """
    if not 300.0 < gloss_low_c <= gloss_c <= gloss_high_c < 1500.0:
        raise BadInput("the gloss setting must lie within its range, between 300 and 1500 °C", "gloss setting")
    a = LOG10_AT_INFINITY
    to_gloss, to_set = GLOSS_LOG10_PA_S - a, 12.0 - a
    b = TYPICAL_B_K
    if set_point_c is not None:
        stiff_c = set_point_c - SET_ABOVE_12_K
        given = (gloss_c - stiff_c) / (1.0 / to_gloss - 1.0 / to_set)
        if TYPICAL_B_K / 2.0 < given < TYPICAL_B_K * 2.0:
            b = given
    vft = Vft(a, b, gloss_c - b / to_gloss, 2)
    return FiringCurve(vft, gloss_low_c - gloss_c, gloss_high_c - gloss_c)
