"""Where alloys of silver, gold, copper, zinc, tin and palladium begin and end to melt, from published assessments.

A yardstick for the figures of the store; none of these numbers is ours. The liquid and the face-centred cubic solid
are each one solution with Redlich-Kister interactions [J/mol, K], put together after Muggianu; at the solidus a solid
of the alloy's own composition stands in equilibrium with its first liquid, at the liquidus the other way round.

- What melting costs each metal: A. T. Dinsdale, Calphad 15 (1991) 317, as in the SGTE unary database 5.0 (2009), read
  in the open copy that LibreCalphad carries. Liquid less face-centred cubic solid, below the melting point.
- Ag-Cu: Hayes, Lukas, Effenberg and Petzow, Z. Metallkunde 77 (1986) 749, as Kattner adapted it (NIST, 1999), read in
  the open databases of OpenCalphad.
- Cu-Sn: liquid of Shim and others (1996), solid of Lee (1999), read in the same NIST database. With the tin of SGTE 5.0
  its peritectic comes out where the handbooks have it; with the older tin written in that file it would not.
- Cu-Zn: COST 507, volume 2 (1998), read in the test databases of pycalphad.
- Au-Cu: Sundman, Fries and Oates, Calphad 22 (1998) 335, disordered solid, read in the test databases of pycalphad.
- Ag-Au: from memory (after Hassam and others, 1988). Only the small difference between liquid and solid counts, which
  the assessed gap of 2 K bounds; equal figures in both move the solidus of a carat gold by 6 K at most.
- Au-Pd and Ag-Pd: no assessment was open to us; see `FITTED`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

R = 8.31451
GRAMS_PER_MOL = {"Ag": 107.8682, "Au": 196.9665, "Cu": 63.546, "Pd": 106.42, "Sn": 118.71, "Zn": 65.38}

MELTING: dict[str, Callable[[float], float]] = {
    "Ag": lambda t: 11025.076 - 8.89102 * t - 1.033905e-20 * t**7,
    "Au": lambda t: 12552.0 - 9.385866 * t,
    "Cu": lambda t: 12964.735 - 9.511904 * t - 5.8489e-21 * t**7,
    "Pd": lambda t: (
        22488.716 - 166.578311 * t + 24.4630031 * t * np.log(t) - 20.091348e-3 * t**2 + 2.23956e-6 * t**3 - 741209 / t
    ),
    "Sn": lambda t: 1461.587 - 5.354382 * t + 1.2307e25 / t**9,
    "Zn": lambda t: 4480.348 - 9.167386 * t - 4.70514e26 / t**9,
}


def _gold_copper_solid(t: float) -> tuple[float, ...]:
    """The disordered solid of Sundman and others: its ordering energies fold into five terms."""
    au3cu, au2cu2, aucu3 = (
        -34590 - 4.695 * t * np.log(t),
        -54120 + 1.2 * t - 6.26 * t * np.log(t),
        -41520 - 4.695 * t * np.log(t),
    )
    gold = mixed = -2.25 * t
    copper = -1987.5 - 2.25 * t
    return (
        4 * (3940 + 10.32 * t) + 0.75 * (gold + copper) + 1.5 * mixed + 0.25 * (au3cu + 1.5 * au2cu2 + aucu3),
        1.5 * (gold - copper) + 0.5 * (au3cu - aucu3),
        -3 * mixed + 0.25 * (au3cu - 1.5 * au2cu2 + aucu3),
        -1.5 * (gold - copper),
        -0.75 * (gold + copper) + 1.5 * mixed,
    )


#: A solid of palladium that holds together by this much more than its liquid [J/mol] melts where AWS A5.8 prints it:
#: gold with 8 % of palladium (BVAu-8) from 1200 to 1240 °C. Nought, as for silver and palladium, gives the lowest
#: melting that could be.
FITTED = 7000.0

Interactions = dict[tuple[str, str], Callable[[float], Sequence[float]]]
LIQUID: Interactions = {
    ("Ag", "Au"): lambda t: (-16402 + 1.14 * t,),
    ("Ag", "Cu"): lambda t: (17323.40 - 4.46819 * t, 1654.38 - 2.35285 * t),
    ("Ag", "Pd"): lambda t: (0.0,),
    ("Au", "Cu"): lambda t: (-27900 - t, 4730, 3500 + 3.5 * t),
    ("Au", "Pd"): lambda t: (0.0,),
    ("Cu", "Sn"): lambda t: (-9002.8 - 5.8381 * t, -20100.4 + 3.6366 * t, -10528.4),
    ("Cu", "Zn"): lambda t: (-40695.54 + 12.65269 * t, 4402.72 - 6.55425 * t, 7818.10 - 3.25416 * t),
}
SOLID: Interactions = {
    ("Ag", "Au"): lambda t: (-15599.0,),
    ("Ag", "Cu"): lambda t: (36061.88 - 10.44288 * t, -4310.12),
    ("Ag", "Pd"): lambda t: (0.0,),
    ("Au", "Cu"): _gold_copper_solid,
    ("Au", "Pd"): lambda t: (-FITTED,),
    ("Cu", "Sn"): lambda t: (-11106.95 + 2.07910 * t, -15718.02 + 5.92467 * t),
    ("Cu", "Zn"): lambda t: (-42803.75 + 10.02258 * t, 2936.39 - 3.05323 * t, 9034.20 - 5.39314 * t),
}


def _excess(x: np.ndarray, t: float, metals: Sequence[str], pairs: Interactions) -> float:
    total = 0.0
    for i, one in enumerate(metals):
        for j in range(i + 1, len(metals)):
            terms = pairs[one, metals[j]](t)
            total += x[i] * x[j] * sum(term * (x[i] - x[j]) ** k for k, term in enumerate(terms))
    return total


def _potentials(x: np.ndarray, t: float, metals: Sequence[str], pairs: Interactions, *, liquid: bool) -> np.ndarray:
    """Chemical potentials [J/mol] against the pure solids; the slopes of the excess by central differences."""
    step = 1e-6
    each = np.eye(len(metals)) * step
    slopes = np.array(
        [(_excess(x + d, t, metals, pairs) - _excess(x - d, t, metals, pairs)) / (2 * step) for d in each]
    )
    melted = np.array([MELTING[m](t) for m in metals]) if liquid else 0.0
    return R * t * np.log(x) + _excess(x, t, metals, pairs) + slopes - x @ slopes + melted


def melting_range(
    weights: Mapping[str, float], *, liquid: Interactions = LIQUID, solid: Interactions = SOLID
) -> tuple[float, float]:
    """Solidus and liquidus [°C] of an alloy of these weights; RuntimeError where Newton does not settle."""
    metals = sorted(weights)
    own = np.array([weights[m] / GRAMS_PER_MOL[m] for m in metals])
    own /= own.sum()

    def unlike(unknown: np.ndarray, first_liquid: bool) -> np.ndarray:
        other, t = np.append(unknown[1:], 1 - unknown[1:].sum()), unknown[0]
        molten, firm = (other, own) if first_liquid else (own, other)
        return (
            _potentials(molten, t, metals, liquid, liquid=True) - _potentials(firm, t, metals, solid, liquid=False)
        ) / (R * t)

    def solved(first_liquid: bool) -> float:
        at = np.append(1200.0, own[:-1])
        steps = np.array([0.01] + [1e-6] * (len(metals) - 1))
        for _ in range(200):
            here = unlike(at, first_liquid)
            rise = np.array([(unlike(at + d, first_liquid) - here) / d.sum() for d in np.diag(steps)]).T
            move = np.linalg.solve(rise, -here)
            while True:
                there = at + move
                inside = (there[1:] > 1e-9).all() and there[1:].sum() < 1 - 1e-9
                if inside and abs(move[0]) < 60 and there[0] > 500:
                    break
                move = move / 2
            at = there
            if abs(move[0]) < 1e-6:
                return float(at[0]) - 273.15
        raise RuntimeError(f"no equilibrium found for {weights}")

    return solved(True), solved(False)
