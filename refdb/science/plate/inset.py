"""Stress around something set into glass that contracts unlike it: Lamé's sphere in a body without end."""

from __future__ import annotations

import numpy as np

from refdb.science.plate.layers import Array


def misfit_pressure_pa(misfit: Array, inset: tuple[Array, Array], around: tuple[Array, Array]) -> Array:
    """Return the radial stress where a sphere meets the glass around it, Pa; above zero it is pulled outward.

    Parameters
    ----------
    misfit : array
        How much more the sphere contracts than the glass around it, free, from where both are set [-].
    inset, around : tuple of array
        Young's modulus [Pa] and Poisson's ratio [-] of each.

    Notes
    -----
    Elastic; p = misfit / ((1 + ν)/(2E) of what is around + (1 − 2ν)/E of the sphere). Around the sphere the radial
    stress is p and the stress along its surface −p/2, both falling as 1/r³; within it p stands in every direction. What
    is flat, or stands out of the glass, is held less and has less.
    """
    (young_i, poisson_i), (young_a, poisson_a) = inset, around
    return np.asarray(misfit / ((1.0 + poisson_a) / (2.0 * young_a) + (1.0 - 2.0 * poisson_i) / young_i))


def misfit_tension_pa(pressure_pa: Array) -> Array:
    """Return the greatest tension in or around a sphere from its radial stress, Pa: across where it meets, or along."""
    return np.where(pressure_pa > 0.0, pressure_pa, -pressure_pa / 2.0)
