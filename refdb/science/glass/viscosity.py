"""Viscosity of glass: temperatures of given viscosity from composition, and the curve through them.

An isokom is the temperature at which a glass has a stated viscosity. Fluegel's model gives three (10^1.5,
10^6.6 and 10^12 Pa s); a Vogel-Fulcher-Tammann curve runs through them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from refdb.frozen import dataclass
from refdb.science.glass.fluegel2007 import COEFFICIENTS_C, HIGHEST_MOL_PCT, LOWEST_SILICA_MOL_PCT

Array = NDArray[np.float64]

#: log10 of the viscosity in Pa s of the three isokoms.
ISOKOM_LOG10_PA_S: tuple[float, float, float] = (1.5, 6.6, 12.0)
#: Of a component the model has a term for but prints no limit for; chosen here, small on purpose.
UNLISTED_HIGHEST_MOL_PCT = 1.0
#: Of all components the model has no term for, together; chosen here, small on purpose.
UNMODELLED_HIGHEST_MOL_PCT = 2.0
#: log10 of viscosity in Pa s at infinite temperature when only two isokoms can be used: the mean of the
#: curves through the measured isokoms of five reference glasses, which give -2.60 to -2.97 (computed).
LOG10_AT_INFINITY = -2.8
#: The curve is not answered outside these, log10 Pa s.
LOG10_LOWEST, LOG10_HIGHEST = 1.0, 12.5


@dataclass(frozen=True)
class Vft:
    """A Vogel-Fulcher-Tammann curve, log10(viscosity / Pa s) = a + b / (T - t0), T in degrees Celsius.

    Attributes
    ----------
    a, b, t0_c : float
        Its constants; b in kelvins.
    isokoms_used : int
        3 when it runs through three isokoms, 2 when `a` was assumed.
    """

    a: float
    b: float
    t0_c: float
    isokoms_used: int = 3

    def log10_viscosity_pa_s(self, temp_c: float) -> float | None:
        """Return log10 of the viscosity in Pa s, or None outside 10^1 to 10^12.5 Pa s."""
        if not math.isfinite(temp_c) or temp_c <= self.t0_c:
            return None
        log10 = self.a + self.b / (temp_c - self.t0_c)
        return log10 if LOG10_LOWEST <= log10 <= LOG10_HIGHEST else None

    def temp_c(self, log10_pa_s: float) -> float | None:
        """Return the temperature in degrees Celsius of a viscosity, or None outside 10^1 to 10^12.5 Pa s."""
        if not LOG10_LOWEST <= log10_pa_s <= LOG10_HIGHEST:
            return None
        return self.t0_c + self.b / (log10_pa_s - self.a)


def vft_constants(temps_c: Array) -> tuple[Array, Array, Array, Array]:
    """Return the constants of the curve through each row of isokoms.

    Parameters
    ----------
    temps_c : array, shape (n, 3)
        Temperatures of 10^1.5, 10^6.6 and 10^12 Pa s in degrees Celsius; NaN where unknown.

    Returns
    -------
    a, b, t0_c, isokoms_used : arrays, shape (n,)
        Constants as in `Vft`, and 3 where all three isokoms are met, 2 where the first was unknown or bends
        the curve the wrong way and `a` was assumed. NaN (and 0) where no curve exists.

    Notes
    -----
    Closed form of three equations in three unknowns (Vogel, 1921; Fulcher, 1925; Tammann and Hesse, 1926).
    """
    high, middle, low = temps_c.T
    v_high, v_middle, v_low = ISOKOM_LOG10_PA_S
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = (v_middle - v_high) / (v_low - v_middle) * (middle - low) / (high - middle)
        three = (low < middle) & (middle < high) & (ratio > 0.0) & (ratio < 1.0)
        t0 = (low - ratio * high) / (1.0 - ratio)
        b = (v_low - v_middle) / (1.0 / (low - t0) - 1.0 / (middle - t0))
        a = v_middle - b / (middle - t0)
        a2 = LOG10_AT_INFINITY
        t0_two = ((v_low - a2) * low - (v_middle - a2) * middle) / (v_low - v_middle)
        two = ~three & (low < middle) & (t0_two > -273.15)
    a = np.where(three, a, np.where(two, a2, np.nan))
    b = np.where(three, b, np.where(two, (v_low - a2) * (low - t0_two), np.nan))
    t0 = np.where(three, t0, np.where(two, t0_two, np.nan))
    return a, b, t0, np.where(three, 3.0, np.where(two, 2.0, 0.0))


def vft_through(temp_1_5_c: float, temp_6_6_c: float, temp_12_c: float) -> Vft | None:
    """Return the Vogel-Fulcher-Tammann curve through isokoms.

    Parameters
    ----------
    temp_1_5_c, temp_6_6_c, temp_12_c : float
        Temperatures of 10^1.5, 10^6.6 and 10^12 Pa s in degrees Celsius; the first may be NaN when unknown.

    Returns
    -------
    Vft or None
        `isokoms_used` tells whether all three are met. None where no such curve exists.
    """
    a, b, t0, used = vft_constants(np.array([[temp_1_5_c, temp_6_6_c, temp_12_c]]))
    return Vft(float(a[0]), float(b[0]), float(t0[0]), int(used[0])) if used[0] else None


def _column(names: Sequence[str], component: str) -> int | None:
    wanted = "MnO" if component == "MnO2" else component
    return names.index(wanted) if wanted in names else None


def isokom_temp_c(moles: Array, names: Sequence[str], log10_pa_s: float) -> Array:
    """Return the temperature at which glasses have a given viscosity, limits not looked at.

    Parameters
    ----------
    moles : array, shape (n, k)
        Mole per cent of oxides and halogens, rows summing to 100.
    names : sequence of str
        The k components, as `composition.oxide_mole_percent` writes them.
    log10_pa_s : float
        1.5, 6.6 or 12.

    Returns
    -------
    array, shape (n,)
        Degrees Celsius.

    Notes
    -----
    Fluegel (2007), Tables 4 to 6. The table for 10^1.5 Pa s has eight reconstructed signs.
    """
    temp = np.zeros(moles.shape[0])
    for term, coefficient in COEFFICIENTS_C[log10_pa_s].items():
        product: Array | float = 1.0
        if term != "Constant":
            for factor in term.split("*"):
                name, _, power = factor.partition("^")
                at = _column(names, name)
                if at is None:
                    product = 0.0
                    break
                product = product * moles[:, at] ** int(power or 1)
        temp = temp + coefficient * product
    return temp


def isokom_limits_kept(moles: Array, names: Sequence[str], log10_pa_s: float) -> NDArray[np.bool_]:
    """Return whether each glass lies inside the model's limits; arguments as for `isokom_temp_c`."""
    which = ISOKOM_LOG10_PA_S.index(log10_pa_s)
    inside = np.ones(moles.shape[0], dtype=bool)
    unmodelled = np.zeros(moles.shape[0])
    modelled = _modelled(log10_pa_s)
    for at, name in enumerate(names):
        if name in HIGHEST_MOL_PCT:
            inside &= moles[:, at] <= HIGHEST_MOL_PCT[name][which] + 1e-9
        elif name in modelled:
            inside &= moles[:, at] <= UNLISTED_HIGHEST_MOL_PCT
        else:
            unmodelled = unmodelled + moles[:, at]
    inside &= unmodelled <= UNMODELLED_HIGHEST_MOL_PCT
    silica = _column(names, "SiO2")
    if silica is None:
        return np.zeros(moles.shape[0], dtype=bool)
    return inside & (moles[:, silica] >= LOWEST_SILICA_MOL_PCT[which] - 1e-9)


def _modelled(log10_pa_s: float) -> set[str]:
    found = {factor.partition("^")[0] for term in COEFFICIENTS_C[log10_pa_s] for factor in term.split("*")}
    if "MnO2" in found:
        found.add("MnO")
    return (found | {"SiO2"}) - {"Constant"}


def isokoms_c(moles: Array, names: Sequence[str]) -> Array:
    """Return the three isokoms of each glass, °C, NaN outside their limits; shape (n, 3)."""
    return np.stack(
        [
            np.where(isokom_limits_kept(moles, names, level), isokom_temp_c(moles, names, level), np.nan)
            for level in ISOKOM_LOG10_PA_S
        ],
        axis=1,
    )


def broken_isokom_limits(moles: Mapping[str, float], log10_pa_s: float) -> tuple[str, ...]:
    """Return a short phrase for each limit of the viscosity model that one glass breaks.

    Parameters
    ----------
    moles : mapping of str to float
        Mole per cent of oxides and halogens.
    log10_pa_s : float
        1.5, 6.6 or 12.

    Returns
    -------
    tuple of str
        Such as "ZrO2 4.1 mol%, above 2.77"; empty inside the limits.
    """
    which = ISOKOM_LOG10_PA_S.index(log10_pa_s)
    modelled = _modelled(log10_pa_s) | set(HIGHEST_MOL_PCT)
    broken: list[str] = []
    silica, least = moles.get("SiO2", 0.0), LOWEST_SILICA_MOL_PCT[which]
    if silica < least - 1e-9:
        broken.append(f"SiO2 {silica:.1f} mol%, below {least:g}")
    unmodelled = {k: v for k, v in moles.items() if k not in modelled and v > 0}
    for name, amount in moles.items():
        if name not in modelled:
            continue
        most = HIGHEST_MOL_PCT[name][which] if name in HIGHEST_MOL_PCT else UNLISTED_HIGHEST_MOL_PCT
        if amount > most + 1e-9:
            broken.append(f"{name} {amount:.1f} mol%, above {most:g}")
    if sum(unmodelled.values()) > UNMODELLED_HIGHEST_MOL_PCT:
        names = " and ".join(sorted(unmodelled))
        broken.append(
            f"{names} {sum(unmodelled.values()):.1f} mol% without a term, above {UNMODELLED_HIGHEST_MOL_PCT:g}"
        )
    return tuple(broken)
