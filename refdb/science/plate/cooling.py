"""How slowly glass has to cool, and what a chill does to it: stress that comes from temperatures within the wall.

It comes on top of what metal and glass do to each other. None of it is a leave to quench: edges, curves and a chill on
one side only are worse, and glass near its set point has no pressure in reserve.
"""

from __future__ import annotations

import math

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.science.normal import NORMAL_END


@dataclass(frozen=True)
class Body:
    """Glass as heat sees it, SI units: conductivity k [W/(m·K)] and heat for a volume ρc [J/(m³·K)]."""

    youngs_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    conductivity_w_per_m_k: float
    heat_per_volume_j_per_m3_k: float

    @property
    def pa_per_k(self) -> float:
        """Stress of glass that is held and cools by one kelvin, Eα/(1−ν) [Pa/K]."""
        return self.youngs_modulus_pa * self.expansion_per_k / (1.0 - self.poisson_ratio)

    @property
    def diffusivity_m2_per_s(self) -> float:
        """k/ρc [m²/s]."""
        return self.conductivity_w_per_m_k / self.heat_per_volume_j_per_m3_k


#: Convection [W/(m²·K)]: value, low, high. Gases that move by themselves 2-25, driven 25-250, boiling from 2,500 up.
CHILLS: dict[str, tuple[float, float, float]] = {
    "still air": (10.0, 2.0, 25.0),
    "a draught": (80.0, 25.0, 250.0),
    "cold metal or stone": (500.0, 200.0, 2000.0),
    "a wet sponge": (1500.0, 500.0, 5000.0),
    "water": (5000.0, 2500.0, 20000.0),
}
#: Where these ranges come from; those of a cold slab and a wet sponge lie between and are our judgement.
CHILLS_SOURCE = "cengel-convection"


def ramp_stress_pa(body: Body, rate_k_per_s: float, half_thickness_m: float) -> float:
    """Return the tension at the surface of a plate that cools steadily.

    Parameters
    ----------
    body : Body
    rate_k_per_s : float
        How fast the plate cools [K/s], from zero.
    half_thickness_m : float
        From the surface to the plane through which no heat goes [m]: half of a plate that cools on both faces, all of
        one that lies on a shelf.

    Returns
    -------
    float
        Eα/(1−ν)·R·L²/(3κ) [Pa].

    Notes
    -----
    The temperature is a parabola, RL²/2κ hotter inside; its mean lies two thirds of that above the surface. The
    classic result for a plate (Timoshenko and Goodier, Theory of Elasticity, from memory). Through the range in which
    glass sets the same parabola is frozen in, and leaves half of this as tension inside once all is cold; structure
    that relaxes meanwhile adds to it, in all two fifths of what stays (Gardon and Narayanaswamy, J. Am. Ceram. Soc. 53
    (1970) 380, abstract), so that somewhat less than this stays, as `tests/test_annealing.py` computes.

    Raises
    ------
    BadInput
        A rate below zero or a thickness that is not above it.
    """
    if not (rate_k_per_s >= 0 and math.isfinite(rate_k_per_s)):
        raise BadInput("must be zero or more", "rate", "give kelvins per second")
    _above_zero(half_thickness_m)
    return body.pa_per_k * rate_k_per_s * half_thickness_m**2 / (3.0 * body.diffusivity_m2_per_s)


def slowest_needed_k_per_s(body: Body, stress_pa: float, half_thickness_m: float) -> float:
    """Return the rate of cooling at which the surface bears no more than a stress [K/s]: `ramp_stress_pa` backwards."""
    if not (stress_pa > 0 and math.isfinite(stress_pa)):
        raise BadInput("must be above zero", "stress", "give pascals")
    return stress_pa / ramp_stress_pa(body, 1.0, half_thickness_m)


def cooling_minutes(body: Body, from_c: float, to_c: float, stress_pa: float, half_thickness_m: float) -> float:
    """Return how long a plate has to take between two temperatures so that its surface bears no more than a stress.

    Parameters
    ----------
    body : Body
    from_c, to_c : float
        Both ends [°C], the hotter first.
    stress_pa : float
        What the surface may bear [Pa].
    half_thickness_m : float
        As in `ramp_stress_pa` [m].

    Returns
    -------
    float
        Minutes; they grow with the square of the thickness.

    Raises
    ------
    BadInput
        Temperatures the wrong way round, or a number that cannot be.
    """
    if not from_c >= to_c:
        raise BadInput("must not rise", "cooling", "give the hotter temperature first")
    return (from_c - to_c) / slowest_needed_k_per_s(body, stress_pa, half_thickness_m) / 60.0


def chill_share(biot: float) -> float:
    """Return the greatest stress at the surface of a chilled plate over that of a chill without end [-].

    Parameters
    ----------
    biot : float
        Heat transfer times half the thickness over conductivity, hL/k, above zero.

    Returns
    -------
    float
        1/(1.5 + 3.25/Bi − 0.5·e^(−16/Bi)), from zero to one.

    Notes
    -----
    The approximation that is handed on in books on thermal shock as Manson's (from memory). Its error against the exact
    series of a plate is below 8 % for Bi of 0.01 to 100.

    Raises
    ------
    BadInput
        A number that is not above zero.
    """
    if not (biot > 0 and math.isfinite(biot)):
        raise BadInput("must be above zero", "Biot number")
    return 1.0 / (1.5 + 3.25 / biot - 0.5 * math.exp(-16.0 / biot))


def chill_stress_pa(body: Body, drop_k: float, convection_w_per_m2_k: float, half_thickness_m: float) -> float:
    """Return the greatest tension at the surface of a plate that meets something colder [Pa].

    Parameters
    ----------
    body : Body
    drop_k : float
        How much colder it is [K].
    convection_w_per_m2_k : float
        Heat transfer [W/(m²·K)], one of `CHILLS` or another.
    half_thickness_m : float
        As in `ramp_stress_pa` [m].
    """
    _above_zero(half_thickness_m)
    biot = convection_w_per_m2_k * half_thickness_m / body.conductivity_w_per_m_k
    return body.pa_per_k * drop_k * chill_share(biot)


def share_that_breaks(stress_pa: float, median_pa: float, low_pa: float, high_pa: float) -> float:
    """Return the share of pieces that a stress is too much for [-].

    Parameters
    ----------
    stress_pa : float
        Tension [Pa]; none breaks at zero or below.
    median_pa, low_pa, high_pa : float
        Strength [Pa]: middle, and the ends between which nine in ten lie. Each half is log-normal.
    """
    if stress_pa <= 0:
        return 0.0
    end = low_pa if stress_pa < median_pa else high_pa
    spread = abs(math.log(end / median_pa)) / NORMAL_END
    return 0.5 * (1.0 + math.erf(math.log(stress_pa / median_pa) / spread / math.sqrt(2.0)))


def _above_zero(half_thickness_m: float) -> None:
    if not (half_thickness_m > 0 and math.isfinite(half_thickness_m)):
        raise BadInput("must be above zero", "thickness", "give metres")
