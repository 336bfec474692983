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
- Ag-Zn and Au-Zn: neither; see `ZINC_BOUND`.
- Cu-Sn, the body-centred solid: Shim and others (1996), as the liquid.
- Fe-C: Gustafson, Scand. J. Metallurgy 14 (1985) 259, read in the open steel database of OpenCalphad.
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

#: Zinc with silver and with gold bound this share as strongly as with copper: the middle of nought and as much.
ZINC_BOUND = 0.5

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


def zinc_bound(pairs: Interactions, share: float) -> Interactions:
    """The pairs with zinc held to silver and to gold by this share of what holds it to copper."""
    own = pairs["Cu", "Zn"]

    def held(t: float) -> tuple[float, ...]:
        return tuple(share * term for term in own(t))

    return {**pairs, ("Ag", "Zn"): held, ("Au", "Zn"): held}


LIQUID, SOLID = zinc_bound(LIQUID, ZINC_BOUND), zinc_bound(SOLID, ZINC_BOUND)
#: The body-centred solid of copper and tin: what the metals themselves lose against face-centred ones, and the pair.
BODY_CENTRED = (
    {"Cu": lambda t: 4017 - 1.255 * t, "Sn": lambda t: -1110 + 2.46 * t},
    lambda t: (-44821.6 + 51.2164 * t, -6876.5 - 56.4271 * t),
)


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


def _newton(unlike: Callable[[np.ndarray], np.ndarray], at: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """The root near a first guess; RuntimeError where it does not settle."""
    for _ in range(100):
        here = unlike(at)
        rise = np.array([(unlike(at + d) - here) / d.sum() for d in np.diag(steps)]).T
        move = np.linalg.solve(rise, -here)
        at = at + move
        if np.all(np.abs(move) < steps * 1e-3):
            return at
    raise RuntimeError("no equilibrium found")


def copper_tin_peritectic() -> tuple[float, tuple[float, float, float]]:
    """Temperature [°C] and weight per cent of tin in the liquid, the face-centred and the body-centred solid."""
    bodies, pair = BODY_CENTRED

    def unlike(unknown: np.ndarray) -> np.ndarray:
        t, metals = unknown[0], ("Cu", "Sn")
        liquid, face, body = (np.array([1 - x, x]) for x in unknown[1:])
        molten = _potentials(liquid, t, metals, LIQUID, liquid=True)
        firm = _potentials(face, t, metals, SOLID, liquid=False)
        other = _potentials(body, t, metals, {metals: pair}, liquid=False) + [bodies[m](t) for m in metals]
        return np.concatenate([molten - firm, molten - other]) / 1000

    found = _newton(unlike, np.array([1070.0, 0.16, 0.08, 0.13]), np.array([0.01, 1e-5, 1e-5, 1e-5]))
    tin = [100 * x * GRAMS_PER_MOL["Sn"] / (x * GRAMS_PER_MOL["Sn"] + (1 - x) * GRAMS_PER_MOL["Cu"]) for x in found[1:]]
    return found[0] - 273.15, (tin[0], tin[1], tin[2])


def _iron(t: float) -> float:
    return 1225.7 + 124.134 * t - 23.5143 * t * np.log(t) - 4.39752e-3 * t**2 - 5.8927e-8 * t**3 + 77359 / t


def _carbon(t: float) -> float:
    powers = -4.723e-4 * t**2 + 2562600 / t - 2.643e8 / t**2 + 1.2e10 / t**3
    return -17368.441 + 170.73 * t - 24.3 * t * np.log(t) + powers


def _steel(carbon: float, t: float, *, body: bool) -> np.ndarray:
    """Potentials [J/mol] of iron and carbon in a solid of so many atoms of carbon to one of iron; below 1811 K."""
    gaps = 3 if body else 1
    y = carbon / gaps
    face = -1462.4 + 8.282 * t - 1.15 * t * np.log(t) + 6.4e-4 * t**2
    tau = t / 1043
    magnetic = -R * t * np.log(3.22) * (tau**-5 / 10 + tau**-15 / 315 + tau**-25 / 1500) / 1.55828 if body else 0.0
    bare = _iron(t) + (magnetic if body else face)
    filled = bare + gaps * _carbon(t) + (322050 + 75.667 * t if body else 77207 - 15.877 * t)
    pair = -190 * t if body else -34671.0
    slope = filled - bare + gaps * R * t * np.log(y / (1 - y)) + (1 - 2 * y) * pair
    whole = (1 - y) * bare + y * filled + gaps * R * t * (y * np.log(y) + (1 - y) * np.log(1 - y)) + y * (1 - y) * pair
    return np.array([whole - y * slope, slope / gaps])


def _molten_steel(x: float, t: float) -> np.ndarray:
    """Potentials [J/mol] of iron and carbon in the liquid with this share of carbon atoms; below 1811 K."""
    iron = _iron(t) + 12040.17 - 6.55843 * t - 3.6751551e-21 * t**7
    carbon = _carbon(t) + 117369 - 24.63 * t
    terms = (-124320 + 28.5 * t, 19300.0, 49260 - 19 * t)

    def excess(share: float) -> float:
        return share * (1 - share) * sum(term * (2 * share - 1) ** k for k, term in enumerate(terms))

    slope = (excess(x + 1e-6) - excess(x - 1e-6)) / 2e-6
    return np.array(
        [iron + R * t * np.log(1 - x) + excess(x) - x * slope, carbon + R * t * np.log(x) + excess(x) + (1 - x) * slope]
    )


def steel_solidus(carbon: float) -> float:
    """Where iron with this weight per cent of carbon begins to melt [°C].

    Up to 0.09 % the solid is body-centred, from 0.18 to 1.9 face-centred; between them it melts at the peritectic.
    """
    atoms = carbon / 12.011 / ((100 - carbon) / 55.847)
    body = carbon < 0.1

    def unlike(unknown: np.ndarray) -> np.ndarray:
        return (_molten_steel(unknown[1], unknown[0]) - _steel(atoms, unknown[0], body=body)) / 1000

    first = np.array([1800 - 1600 * atoms * (3 if body else 1), min(0.2, 4 * atoms)])
    return float(_newton(unlike, first, np.array([0.01, 1e-6]))[0]) - 273.15
