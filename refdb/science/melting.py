"""Silver and copper: which solids and which liquid stand side by side at a temperature, from a published assessment.

Liquid and solid are each one solution of two metals with the interactions of Hayes, Lukas, Effenberg and Petzow,
Z. Metallkunde 77 (1986) 749, as the open solder database of NIST (1999) has them, in sub-regular form; what melting
costs each metal is after Dinsdale, Calphad 15 (1991) 317. Valid from 600 °C to the melting of copper; at most one
liquid. Equations: two phases stand side by side where each metal has the same chemical potential in both,
μ = μ° + R·T·ln x + (1 - x)²·(L0 + L1·(…)), and at the eutectic all three do.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from itertools import pairwise

from refdb.frozen import dataclass

_R = 8.31451
_KELVIN = 273.15
_SILVER_G, _COPPER_G = 107.8682, 63.546
#: Where silver and copper melt [°C], by the same assessment.
SILVER_MELTS_C, COPPER_MELTS_C = 961.78, 1084.62
#: The assessment is not asked below this [°C].
COLDEST_C = 600.0
#: From one temperature to the next [K], small enough for the last answer to be the first guess.
_STEP_K = 4.0


@dataclass(frozen=True)
class SilverCopper:
    """The diagram: temperatures [°C] and copper by weight [%].

    Each line is a tuple of (copper, temperature): `liquidus` from silver to copper, `solidus_silver` and
    `solidus_copper` from each metal to the eutectic, `solvus_silver` and `solvus_copper` from there down.
    """

    eutectic_c: float
    eutectic_copper: float
    most_in_silver: float
    least_in_copper: float
    liquidus: tuple[tuple[float, float], ...]
    solidus_silver: tuple[tuple[float, float], ...]
    solidus_copper: tuple[tuple[float, float], ...]
    solvus_silver: tuple[tuple[float, float], ...]
    solvus_copper: tuple[tuple[float, float], ...]


#: Chemical potentials of silver and of copper [J/mol] and the curvature of the energy, at a copper share by atoms.
_Phase = Callable[[float, float], tuple[float, float, float]]


def _solution(x: float, t: float, plain: float, skewed: float) -> tuple[float, float, float]:
    silver, copper = 1.0 - x, x
    of_silver = _R * t * math.log(silver) + copper**2 * (plain + skewed * (4 * silver - 1))
    of_copper = _R * t * math.log(copper) + silver**2 * (plain + skewed * (4 * silver - 3))
    return of_silver, of_copper, _R * t / (silver * copper) - 2 * plain + skewed * (12 * x - 6)


def _solid(x: float, t: float) -> tuple[float, float, float]:
    return _solution(x, t, 36061.88 - 10.44288 * t, -4310.12)


def _liquid(x: float, t: float) -> tuple[float, float, float]:
    silver, copper, curved = _solution(x, t, 17323.40 - 4.46819 * t, 1654.38 - 2.35285 * t)
    return (
        silver + 11025.076 - 8.89102 * t - 1.033905e-20 * t**7,
        copper + 12964.735 - 9.511904 * t - 5.8489e-21 * t**7,
        curved,
    )


def _side_by_side(t: float, one: _Phase, other: _Phase, guess: tuple[float, float]) -> tuple[float, float]:
    """Copper shares by atoms of two phases in equilibrium; RuntimeError where Newton does not settle."""
    x, y = guess
    for _ in range(80):
        a, b, bent = one(x, t)
        c, d, curved = other(y, t)
        # By Gibbs and Duhem, the potentials of a phase move by -x and 1 - x of its curvature.
        off_silver, off_copper = a - c, b - d
        determinant = bent * curved * (x - y)
        if not determinant:
            break
        dx = curved * (-off_silver * (1 - y) - off_copper * y) / -determinant
        dy = bent * (-off_silver * (1 - x) - off_copper * x) / -determinant
        part = 1.0
        while not (0 < x + part * dx < 1 and 0 < y + part * dy < 1):
            part /= 2
        x, y = x + part * dx, y + part * dy
        if abs(dx) + abs(dy) < 1e-12:
            return x, y
    raise RuntimeError(f"no equilibrium found at {t:.1f} K")


def _by_weight(x: float) -> float:
    copper = x * _COPPER_G
    return 100 * copper / (copper + (1 - x) * _SILVER_G)


def _eutectic() -> tuple[float, float, float, float]:
    """Temperature [K] and copper by atoms in the silver, the liquid and the copper: where both liquids are one."""

    def apart(t: float) -> tuple[float, float, float, float]:
        silver, left = _side_by_side(t, _solid, _liquid, (0.14, 0.40))
        copper, right = _side_by_side(t, _solid, _liquid, (0.95, 0.40))
        return right - left, silver, left, copper

    low, high = 1040.0, 1065.0
    for _ in range(60):
        middle = (low + high) / 2
        # Above the eutectic there is liquid between what each solid melts to.
        low, high = (low, middle) if apart(middle)[0] > 0 else (middle, high)
    _, silver, liquid, copper = apart(low)
    return low, silver, liquid, copper


def _marched(
    one: _Phase, other: _Phase, start: tuple[float, float], from_k: float, to_k: float
) -> list[tuple[float, tuple[float, float]]]:
    """Both shares at each temperature from one towards another, the last answer being the next guess."""
    steps = max(1, math.ceil(abs(to_k - from_k) / _STEP_K))
    found, guess = [(from_k, start)], start
    for n in range(1, steps):
        t = from_k + (to_k - from_k) * n / steps
        guess = _side_by_side(t, one, other, guess)
        found.append((t, guess))
    return found


def _line(points: list[tuple[float, tuple[float, float]]], which: int) -> tuple[tuple[float, float], ...]:
    return tuple((_by_weight(shares[which]), t - _KELVIN) for t, shares in points)


@cache
def silver_copper() -> SilverCopper:
    """The diagram, computed once; some milliseconds."""
    t, silver, liquid, copper = _eutectic()
    to_silver = _marched(_solid, _liquid, (silver, liquid), t, SILVER_MELTS_C + _KELVIN)
    to_copper = _marched(_solid, _liquid, (copper, liquid), t, COPPER_MELTS_C + _KELVIN)
    down = _marched(_solid, _solid, (silver, copper), t, COLDEST_C + _KELVIN)
    pure_silver, pure_copper = (0.0, SILVER_MELTS_C), (100.0, COPPER_MELTS_C)
    return SilverCopper(
        t - _KELVIN,
        _by_weight(liquid),
        _by_weight(silver),
        _by_weight(copper),
        (pure_silver, *reversed(_line(to_silver, 1)), *_line(to_copper, 1)[1:], pure_copper),
        (pure_silver, *reversed(_line(to_silver, 0))),
        (*_line(to_copper, 0), pure_copper),
        _line(down, 0),
        _line(down, 1),
    )


def _crossed(line: tuple[tuple[float, float], ...], copper: float) -> float:
    for (a, low), (b, high) in pairwise(line):
        if min(a, b) <= copper <= max(a, b):
            return low if a == b else low + (high - low) * (copper - a) / (b - a)
    raise ValueError(f"{copper:g} % lies beside the line")


def melting_of(copper: float) -> tuple[float, float]:
    """Where an alloy of silver with so much copper by weight [%] begins and ends to melt [°C].

    Raises
    ------
    ValueError
        Less than nothing, or more than a hundred.
    """
    if not 0 <= copper <= 100:
        raise ValueError(f"{copper:g} % of copper is none of an alloy")
    found = silver_copper()
    if copper <= found.most_in_silver:
        begins = _crossed(found.solidus_silver, copper)
    elif copper >= found.least_in_copper:
        begins = _crossed(found.solidus_copper, copper)
    else:
        begins = found.eutectic_c
    return begins, _crossed(found.liquidus, copper)
