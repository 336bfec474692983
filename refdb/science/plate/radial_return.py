"""Metal that yields in three dimensions, von Mises with isotropic hardening, returned along the radius of its surface.

Strain and stress are told along three axes and in the one shear of the plane of the first two, which is told twofold
where it is a strain.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from refdb.errors import NotConverged
from refdb.frozen import dataclass
from refdb.science.plate.layers import Array, HardeningYield, Plates

EVEN = np.array([1.0, 1.0, 1.0, 0.0])
APART = np.diag([1.0, 1.0, 1.0, 0.5]) - np.outer(EVEN, EVEN) / 3.0
_TWICE = np.array([1.0, 1.0, 1.0, 2.0])
_MOST_ITERATIONS, _MOST_HALVINGS = 60, 12
_TOLERANCE_PA = 1.0


@dataclass(frozen=True)
class Metal:
    """Elastic constants and yield of the metals of a batch at one temperature; (n,) each, [Pa]."""

    shear_pa: Array
    bulk_pa: Array
    yields_pa: Array
    hardens_pa: Array

    @classmethod
    def of(cls, plates: Plates, temp: Array, layer: int = 0) -> Metal:
        """That of a layer at temperatures (n,) [°C]; one without a `HardeningYield` never yields."""
        young, poisson = plates.youngs_modulus_pa[:, layer], plates.poisson_ratio[:, layer]
        yields, hardens = np.full(len(temp), np.inf), np.zeros(len(temp))
        flow = plates.flow_stress[layer] if plates.flow_stress else None
        if isinstance(flow, HardeningYield):
            factor = flow.factor(temp)
            yields, hardens = (np.broadcast_to(x * factor, temp.shape) for x in (flow.stress_0_pa, flow.hardening_pa))
        return cls(young / (2.0 * (1.0 + poisson)), young / (3.0 * (1.0 - 2.0 * poisson)), yields, hardens)

    def rows(self, part: Any) -> Metal:
        """Those of a part of the batch."""
        return Metal(self.shear_pa[part], self.bulk_pa[part], self.yields_pa[part], self.hardens_pa[part])


@dataclass(frozen=True)
class State:
    """Strain, stress (n, points, 4) and equivalent plastic strain (n, points) at the points of bodies."""

    strain: Array
    stress: Array
    slip: Array

    def rows(self, part: Any) -> State:
        """Those of a part of the batch."""
        return State(self.strain[part], self.stress[part], self.slip[part])


class Returned(NamedTuple):
    """What goes with a strain, and the slope of the stress with it.

    Of what is not even, `keeps` (n, points) of the elastic slope is left, and where it flows (n, points),
    `factor` [Pa] times `normal` (n, points, 4) twice comes to it.
    """

    stress: Array
    slip: Array
    keeps: Array
    flows: Array
    factor: Array
    normal: Array


def returned(metal: Metal, before: State, strain: Array) -> Returned:
    """Return the stress that goes with a strain (n, points, 4), on the yield surface where it would lie outside."""
    more = strain - before.strain
    shear, bulk = metal.shear_pa[:, None], metal.bulk_pa[:, None]
    trial = before.stress + (2.0 * shear)[..., None] * (more @ APART) + (bulk * (more @ EVEN))[..., None] * EVEN
    level = trial[:, :, :3].mean(axis=2)[..., None] * EVEN
    apart = trial - level
    size = np.sqrt(1.5 * (apart**2 @ _TWICE))
    rise = metal.hardens_pa[:, None]
    over = np.maximum(size - metal.yields_pa[:, None] - rise * before.slip, 0.0)
    stiff = 3.0 * shear + rise
    amount, size = over / stiff, np.where(over > 0.0, size, 1.0)
    keeps = 1.0 - 3.0 * shear * amount / size
    factor = 9.0 * shear**2 * (amount / size - 1.0 / stiff)
    normal = apart / size[..., None]
    return Returned(level + apart * keeps[..., None], before.slip + amount, keeps, over > 0.0, factor, normal)


class Balance(NamedTuple):
    """Forces of the modes that are left [Pa], their slope [Pa], and the state they belong to."""

    off: Array
    slope: Array
    state: State


def to_balance(
    moved: Array, state: State, balance: Callable[[Any, Array], Balance], what: str
) -> tuple[Array, State, Array]:
    """Find where the forces of bodies balance, by Newton's method.

    Parameters
    ----------
    moved : array (n, modes)
        Where to begin.
    state : State
        One of the size of that which is looked for.
    balance : callable
        balance(rows, moved) -> what is left of the forces of these of the batch.
    what : str
        What it is, in the words of a refusal.

    Returns
    -------
    tuple
        Movement, state, and the largest force left (n,) [Pa].

    Raises
    ------
    NotConverged
        The balances do not close.
    """
    moved, left = moved.copy(), np.zeros(len(moved))
    after = State(state.strain.copy(), state.stress.copy(), state.slip.copy())
    rows = np.arange(len(moved))
    now = balance(rows, moved)
    for _ in range(_MOST_ITERATIONS):
        after.strain[rows], after.stress[rows], after.slip[rows] = now.state.strain, now.state.stress, now.state.slip
        left[rows] = np.abs(now.off).max(axis=1)
        wide = left[rows] > _TOLERANCE_PA
        if not wide.any():
            return moved, after, left
        rows, off = rows[wide], now.off[wide]
        step = np.asarray(-np.linalg.solve(now.slope[wide], off[..., None])[..., 0])
        moved[rows], now = _go(rows, moved[rows], step, off, balance)
    raise NotConverged(f"{what} does not come to balance while it cools", what)


def _go(
    rows: Any, moved: Array, step: Array, off: Array, balance: Callable[[Any, Array], Balance]
) -> tuple[Array, Balance]:
    """Take a step of Newton's, shortened where it overshoots: the balance is the slope of a convex energy."""
    downhill = -np.einsum("nN,nN->n", off, step)
    share = np.ones(len(step))
    for _ in range(_MOST_HALVINGS):
        there = moved + share[:, None] * step
        then = balance(rows, there)
        beyond = np.einsum("nN,nN->n", then.off, step) > 0.5 * downhill
        beyond &= np.abs(then.off).max(axis=1) > _TOLERANCE_PA
        if not beyond.any():
            break
        share = np.where(beyond, share / 2.0, share)
    return there, then
