"""Glass that relaxes as it cools, in structure and in stress: an oracle that shares nothing with our sharp set point.

Tool-Narayanaswamy-Moynihan: the fictive temperature follows the temperature by a stretched exponential of reduced
time, and the time of relaxation follows both temperatures (Narayanaswamy, J. Am. Ceram. Soc. 54 (1971) 491; the sum
over steps is that of Moynihan et al., J. Am. Ceram. Soc. 59 (1976) 12; both from memory). Stress relaxes by a stretched
exponential of the same reduced time, run as many times as fast as is asked. Temperatures are even through the piece.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

#: The slope of the logarithm of the time of relaxation with 1/T [K]: about 600 kJ/mol, of soda-lime glass near its
#: transition (from memory).
ACTIVATION_K = 72_000.0
ZERO_C = 273.15


@dataclass(frozen=True)
class Relaxing:
    """A glass that relaxes.

    `tau_s` [s] is the time of relaxation in equilibrium at `at_c` [°C]; `mixing` is the share of the temperature in it,
    the rest is the fictive temperature's; `exponent` and `stress_exponent` are those of the stretched exponentials;
    stress relaxes `stress_speed` times as fast as structure. `solid` and `liquid` give the expansion coefficient [1/K]
    at a temperature [°C].
    """

    solid: Callable[[np.ndarray], np.ndarray]
    liquid: Callable[[np.ndarray], np.ndarray]
    tau_s: float = 100.0
    at_c: float = 500.0
    activation_k: float = ACTIVATION_K
    mixing: float = 0.5
    exponent: float = 0.55
    stress_exponent: float = 0.55
    stress_speed: float = 1.0

    def log_tau(self, temp_c: float, fictive_c: float) -> float:
        """Logarithm of the time of relaxation [ln s]."""
        inverse = self.mixing / (temp_c + ZERO_C) + (1 - self.mixing) / (fictive_c + ZERO_C)
        return float(np.log(self.tau_s) + self.activation_k * (inverse - 1 / (self.at_c + ZERO_C)))


@dataclass(frozen=True)
class History:
    """One run: fictive temperature [°C] and reduced time [-] at each temperature, and the glass's free strain [-]."""

    temp_c: np.ndarray
    fictive_c: np.ndarray
    reduced: np.ndarray
    free: np.ndarray


def relaxed(glass: Relaxing, time_s: np.ndarray, temp_c: np.ndarray) -> History:
    """The structure of a glass that starts in equilibrium and follows a course of temperature.

    A change of temperature counts from the middle of its step. A step of no time is a jump.
    """
    moved = np.diff(temp_c)
    fictive, reduced = np.full(len(temp_c), float(temp_c[0])), np.zeros(len(temp_c))
    middle = np.zeros(len(moved))
    for k, (step, span) in enumerate(zip(moved, np.diff(time_s), strict=True)):
        before = fictive[k] + (fictive[k] - fictive[max(k - 1, 0)]) / 2
        grown = span * np.exp(-glass.log_tau(temp_c[k] + step / 2, before))
        reduced[k + 1] = reduced[k] + grown
        middle[k] = reduced[k] + grown / 2
        left = np.exp(-((reduced[k + 1] - middle[: k + 1]) ** glass.exponent))
        fictive[k + 1] = temp_c[k + 1] - left @ moved[: k + 1]
    between = temp_c[:-1] + moved / 2
    solid, liquid = glass.solid(between), glass.liquid(between)
    free = np.concatenate(([0.0], np.cumsum(solid * moved + (liquid - solid) * np.diff(fictive))))
    return History(temp_c, fictive, reduced, free)


def cooling(high_c: float, low_c: float, rate_k_s: float, step_k: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Time [s] and temperature [°C] of an even cooling."""
    temp = np.linspace(high_c, low_c, round((high_c - low_c) / step_k) + 1)
    return (high_c - temp) / rate_k_s, temp


def share_left(glass: Relaxing, past: np.ndarray, now: float) -> np.ndarray:
    """Share of a stress laid on at each past reduced time that is left."""
    return np.exp(-((glass.stress_speed * (now - past)) ** glass.stress_exponent))


def stress_on_rigid(glass: Relaxing, history: History, metal: np.ndarray, modulus_pa: float) -> float:
    """Stress [Pa] left in a coat on metal that does not give; `metal` is its free strain at each temperature."""
    forced = np.diff(metal - history.free)
    middle = (history.reduced[1:] + history.reduced[:-1]) / 2
    return float(modulus_pa * (share_left(glass, middle, history.reduced[-1]) @ forced))


def stress_on_elastic(
    glass: Relaxing,
    history: History,
    metal: np.ndarray,
    thickness_m: tuple[float, float],
    modulus_pa: tuple[float, float],
) -> tuple[float, float, float]:
    """Stress at the coat's lower and upper face [Pa] and curvature [1/m] of a coat on one face of elastic metal.

    Thickness and biaxial modulus are of metal and coat, the metal below; nothing is stressed at the start. At every
    step the forces and moments of what the coat still remembers, of the step itself and of the metal balance.
    """
    total = sum(thickness_m)
    edges = np.array([-total / 2, thickness_m[0] - total / 2, total / 2])
    moments = np.array([np.diff(edges ** (n + 1)) / (n + 1) for n in range(3)])
    matrix = [m * np.array([[a, b], [b, d]]) for m, (a, b, d) in zip(modulus_pa, moments.T, strict=True)]
    of_metal = [m * np.array([a, b]) for m, (a, b, _) in zip(modulus_pa, moments.T, strict=True)]
    steps = len(history.temp_c) - 1
    middle = (history.reduced[1:] + history.reduced[:-1]) / 2
    laid = np.zeros((steps, 2))
    whole = np.zeros(2)
    shrunk = np.diff(history.free)
    for k in range(steps):
        kept = share_left(glass, middle[: k + 1], history.reduced[k + 1])
        # Strain and curvature of the plate after the step: the metal from its whole strain, the coat from its memory.
        memory = matrix[1] @ (kept[:k] @ laid[:k]) if k else np.zeros(2)
        coat = kept[k] * matrix[1]
        load = (metal[k + 1] - metal[0]) * of_metal[0] + coat @ whole + kept[k] * shrunk[k] * of_metal[1] - memory
        now = np.linalg.solve(matrix[0] + coat, load)
        laid[k] = now - whole - (shrunk[k], 0.0)
        whole = now
    left = kept @ laid
    low, high = (modulus_pa[1] * (left[0] + z * left[1]) for z in edges[1:])
    return float(low), float(high), float(whole[1])


def transition_c(glass: Relaxing) -> float:
    """The fictive temperature [°C] that a cooling of 10 K in a minute leaves: the usual meaning of the transition."""
    return float(relaxed(glass, *cooling(glass.at_c + 150, glass.at_c - 200, 10 / 60)).fictive_c[-1])


def with_transition(glass: Relaxing, tg_c: float) -> Relaxing:
    """The same glass with its time of relaxation moved so that its transition lies at a temperature [°C]."""
    for _ in range(4):
        glass = replace(glass, at_c=glass.at_c + tg_c - transition_c(glass))
    return glass


def stress_in_slab(
    glass: Relaxing, course: tuple[np.ndarray, np.ndarray], hotter_k: float, modulus_pa: float, planes: int = 6
) -> tuple[float, float]:
    """Stress [Pa] at the mid-plane of a slab of this glass alone that was cooled evenly on both faces.

    `course` is time [s] and temperature [°C] of its faces; its middle is `hotter_k` hotter, with a parabola between, as
    the steady state is. The first figure is at the end of that cooling, the second once the whole has evened out
    so cold that nothing relaxes any more. `modulus_pa` is biaxial.
    """
    # Gauss's points from the middle to a face, and the middle itself, which weighs nothing.
    points, weights = np.polynomial.legendre.leggauss(2 * planes)
    depth = np.concatenate(([0.0], points[planes:]))
    weight = np.concatenate(([0.0], weights[planes:]))
    time, face = course
    histories = [relaxed(glass, time, face + hotter_k * (1 - z * z)) for z in depth]
    shrunk = np.array([np.diff(h.free) for h in histories])
    middle = np.array([(h.reduced[1:] + h.reduced[:-1]) / 2 for h in histories])
    laid = np.zeros_like(shrunk)
    kept = np.zeros_like(shrunk)
    for k in range(shrunk.shape[1]):
        kept[:, : k + 1] = [
            share_left(glass, m[: k + 1], h.reduced[k + 1]) for m, h in zip(middle, histories, strict=True)
        ]
        memory = (kept[:, :k] * laid[:, :k]).sum(axis=1)
        # One strain for all planes, so that their forces balance; where all is forgotten at once any will do.
        held = np.maximum(kept[:, k], 1e-200)
        step = (weight @ (held * shrunk[:, k] - memory)) / (weight @ held)
        laid[:, k] = step - shrunk[:, k]
    hot = modulus_pa * float(kept[0] @ laid[0])
    cold = float(glass.solid(face[-1:])[0])
    return hot, hot + modulus_pa * cold * hotter_k * (1 - float(weight @ (1 - depth**2) / weight.sum()))
