"""A wire that stands on edge in glass: what the two do to each other far from the wire's ends.

The base imposes its own contraction along the wire and, over some heights of glass, across it too. Metal that shrinks
more than the base is stretched along and, once it yields, thins: it then draws away from the glass at its sides.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from refdb.errors import BadInput, NotConverged
from refdb.frozen import dataclass
from refdb.science.plate.layers import Array, HardeningYield, Plates

_STEPS = 16
_MOST_ITERATIONS, _MOST_HALVINGS = 100, 12
_TOLERANCE_PA = 1.0
#: Stiffness that the base lends a wire's foot across, over E′·(half the wire over its height): computed with finite
#: elements, elastic wires of 0.1-0.8 mm in 0.4-1.0 mm of glass, of 0.4-0.8 the middle.
_FOOT = 0.5
#: How far the glass beside a wire takes part up and down, over h·√(G/E′).
_FADES = 1.4 * 2.0 / np.pi
#: How far finite elements go from what is told here, down and up, over the largest stress of the wire: across its side,
#: and beside it. 88 cases of ten metals on four bases, 0.08-0.8 mm thick and 0.25-1.5 mm high, up to as thick as high.
_MISSES_ACROSS, _MISSES_BESIDE = (-0.10, 0.16), (-0.25, 0.16)
#: The same of a wire that is squeezed until it yields: most is pressure across that is missing.
_SQUEEZED_ACROSS, _SQUEEZED_BESIDE = (-0.70, 0.16), (-0.25, 0.35)
_UNIT = np.eye(3)
_MEAN = np.full((3, 3), 1.0 / 3.0)


@dataclass(frozen=True)
class WireStress:
    """State at room temperature of n wires; arrays (n,), tension positive.

    `across_pa` is the stress across the wire's side, in wire and glass alike, on average over its height [Pa]: above
    zero it pulls the glass off the wire. `beside_pa` is the glass's own along the wire, right beside it [Pa];
    `along_pa` the wire's along itself [Pa]; `plastic_strain` the wire's equivalent plastic strain [-]; `residual_pa`
    what is left of the balances [Pa], about zero; `glass_pa` the stress of the glass without a wire, as it was given.
    """

    across_pa: Array
    beside_pa: Array
    along_pa: Array
    plastic_strain: Array
    residual_pa: Array
    glass_pa: Array

    def across_missed_pa(self, share: Array) -> Array:
        """How far the stress across may truly lie from what is told [Pa]; `share` from -1, the low end, to 1, the high.

        The error of the model, as finite elements show it: see `wire_stress`.
        """
        return self._missed_pa(share, _MISSES_ACROSS, _SQUEEZED_ACROSS)

    def beside_missed_pa(self, share: Array) -> Array:
        """The same of the glass's own stress along the wire, right beside it [Pa]."""
        return self._missed_pa(share, _MISSES_BESIDE, _SQUEEZED_BESIDE)

    def _missed_pa(self, share: Array, ends: tuple[float, float], of_squeezed: tuple[float, float]) -> Array:
        squeezed = (self.plastic_strain > 0.0) & (self.along_pa < 0.0)
        low, high = (np.where(squeezed, soft, other) for soft, other in zip(of_squeezed, ends, strict=True))
        largest = np.max(np.abs((self.across_pa, self.along_pa, self.glass_pa)), axis=0)
        return np.asarray(largest * np.where(share < 0.0, -share * low, share * high))


def wire_stress(
    plates: Plates, glass_pa: Array, *, spacing_m: float | None = None, room_c: float = 20.0, steps: int = _STEPS
) -> WireStress:
    """Cool wires in glass from the set point of the glass.

    Parameters
    ----------
    plates : Plates
        Two layers, in this order: the wire's metal, whose `thickness_m` is the wire's across, and the glass, whose
        `thickness_m` is its height and the wire's. The metal yields by a `HardeningYield` or not at all.
    glass_pa : array (n,)
        Mean stress in the plane of the same glass on the same base where there is no wire [Pa]: `mean_pa` of its layer
        in `ResidualMany`, which tells by how much the base contracts. Zero stands for a base that contracts like the
        glass.
    spacing_m : float, optional
        From the middle of one wire to the middle of the next [m]; None for a wire that stands alone.
    room_c : float
        Where the cooling ends [°C].
    steps : int
        Steps of cooling.

    Returns
    -------
    WireStress

    Raises
    ------
    BadInput
        A size that is not above zero, wires that overlap, or layers that are not one metal and one glass.
    NotConverged
        The balances do not close.

    Notes
    -----
    Shear lag (Cox, Br. J. Appl. Phys. 3 (1952) 72, from memory) in generalised plane strain. Across, glass and wire
    are strips held by the base at their foot: one side face moves by λ/E′ a unit of stress, E′ = E/(1−ν²),
    λ = h·√(E′/3G). Along the height the wire's sides are held by the shear of the glass, which fades over 2h/π·√(G/E′).
    Along the wire the strain is the base's. The wire is one point, von Mises with isotropic hardening, returned in
    three dimensions; its foot and its sides bear no more than its metal's yield in shear. Two factors of these springs
    were set by elastic finite elements. Fine silver and copper a third of their height thick or less, in glass that the
    base squeezes by some 90 MPa, are within 5 % of the largest stress of their case, or 8 MPa, of finite elements with
    metal that yields. Every other wire that is no thicker than high is told with the model's error,
    `WireStress.across_missed_pa` and `beside_missed_pa`: most of it is pressure that is missing where very soft wire,
    such as platinum or fine gold, shrinks less than its base. The stress across is a mean: near the foot it is up to
    three times as high, at the free surface lower. Ends, bends and joints of wires, where stress gathers, are not in
    it.
    """
    _refuse_nonsense(plates, glass_pa, spacing_m)
    wire = _Wire(plates, np.asarray(glass_pa, dtype=float), spacing_m)
    set_c = plates.set_c[:, 1]
    started = [curve(set_c) for curve in plates.strain]
    for part in np.linspace(0.0, 1.0, steps + 1)[1:]:
        temp = set_c + part * (room_c - set_c)
        metal, glass = (curve(temp) - start for curve, start in zip(plates.strain, started, strict=True))
        wire.cool(temp, metal, glass, part)
    return WireStress(wire.side, wire.beside, wire.stress[:, 1].copy(), wire.slip.copy(), wire.left, wire.glass_pa)


def _refuse_nonsense(plates: Plates, glass_pa: Array, spacing_m: float | None) -> None:
    if plates.thickness_m.shape[1:] != (2,) or np.isnan(plates.set_c[:, 1]).any():
        raise BadInput("a wire in glass is a metal and a glass, in this order", "wire", "give two layers")
    if not (np.isfinite(plates.thickness_m).all() and (plates.thickness_m > 0).all()):
        raise BadInput("thickness and height must be above zero", "wire", "give both in metres")
    if spacing_m is not None and not spacing_m > plates.thickness_m[:, 0].max():
        raise BadInput("wires must lie further apart than they are thick", "wire", "give the way from middle to middle")
    if np.shape(glass_pa) != plates.thickness_m.shape[:1] or not np.isfinite(glass_pa).all():
        raise BadInput("the stress of the glass must be one number for each wire", "wire")
    flow = plates.flow_stress[0] if plates.flow_stress else None
    if not (flow is None or isinstance(flow, HardeningYield)):
        raise BadInput("the wire yields by a HardeningYield or not at all", "wire")


class _Springs(NamedTuple):
    """What holds the wire, stress by strain of the wire [Pa]; (n,) each.

    `glass` and `foot` across, by the glass at its sides and by the base under it; `sides` up and down.
    """

    glass: Array
    foot: Array
    sides: Array


class _Balance(NamedTuple):
    """Forces across and up that are left [Pa] (n, 2), their slope (n, 2, 2), and the state they belong to."""

    off: Array
    slope: Array
    stress: Array
    slip: Array
    side: Array
    up_and_down: Array


class _Wire:
    """Strain and stress (n, 3) of the wires of a batch: across, along, up; all told against the wire's start."""

    def __init__(self, plates: Plates, glass_pa: Array, spacing_m: float | None) -> None:
        self.young, self.poisson = plates.youngs_modulus_pa[:, 0], plates.poisson_ratio[:, 0]
        self.glass_young, self.glass_poisson = plates.youngs_modulus_pa[:, 1], plates.poisson_ratio[:, 1]
        flow = plates.flow_stress[0] if plates.flow_stress else None
        self.flow = flow if isinstance(flow, HardeningYield) else None
        self.glass_pa = glass_pa
        self.shear = self.young / (2.0 * (1.0 + self.poisson))
        self.bulk = self.young / (3.0 * (1.0 - 2.0 * self.poisson))
        self.half_over_height = plates.thickness_m[:, 0] / plates.thickness_m[:, 1] / 2.0
        self.springs = self._springs(plates.thickness_m, spacing_m)
        n = len(glass_pa)
        self.moved, self.strain, self.stress = np.zeros((3, n, 3))
        self.slip, self.left, self.side, self.beside = np.zeros((4, n))

    def _springs(self, sizes: Array, spacing_m: float | None) -> _Springs:
        half, height = sizes[:, 0] / 2.0, sizes[:, 1]

        def plane(young: Array, poisson: Array) -> tuple[Array, Array]:
            stiff = young / (1.0 - poisson**2)
            return stiff, height * np.sqrt(stiff / (1.5 * young / (1.0 + poisson)))

        (metal, _), (glass, reach) = plane(self.young, self.poisson), plane(self.glass_young, self.glass_poisson)
        to_next = np.ones_like(half) if spacing_m is None else np.tanh((spacing_m / 2.0 - half) / reach)
        foot = _FOOT * metal * half / height
        shear = self.glass_young / (2.0 * (1.0 + self.glass_poisson))
        fades = _FADES * height * np.sqrt(shear / glass)
        self.half_over_fades = half / fades
        along = height / np.sqrt(metal * half * fades / shear)
        share = 1.0 - np.tanh(along) / along
        return _Springs(half * glass / (reach * to_next), foot, metal * share / (1.0 - share))

    def cool(self, temp: Array, metal: Array, glass: Array, part: float) -> None:
        """Go on to temperatures (n,) [°C] with free strains (n,) since the glass set; `part` of the way is done."""
        film = part * self.glass_pa
        base = glass + film * (1.0 - self.glass_poisson) / self.glass_young
        up = glass - 2.0 * self.glass_poisson * film / self.glass_young
        most = self._shear_at_most(temp)
        moved = self.moved.copy()
        moved[:, 1] = base

        def out_of_balance(moved: Array) -> _Balance:
            stress, slip, tangent = self._returned(temp, moved - metal[:, None])
            across = moved[:, 0] - base
            foot, stiff_foot = _held(self.springs.foot, across, most * self.half_over_height)
            sides, stiff_sides = _held(self.springs.sides, moved[:, 2] - up, most / self.half_over_height / 2.0)
            glass_side = film - self.springs.glass * across
            slope = tangent[:, ::2, ::2].copy()
            slope[:, 0, 0] += stiff_foot + self.springs.glass
            slope[:, 1, 1] += stiff_sides
            off = np.stack((stress[:, 0] + foot - glass_side, stress[:, 2] + sides), axis=-1)
            return _Balance(off, slope, stress, slip, glass_side, sides)

        now = out_of_balance(moved)
        for _ in range(_MOST_ITERATIONS):
            self.left = np.abs(now.off).max(axis=1)
            if self.left.max() <= _TOLERANCE_PA:
                break
            step = np.asarray(-np.linalg.solve(now.slope, now.off[..., None])[..., 0], dtype=float)
            moved, now = _go(moved, step, now, out_of_balance)
        else:
            raise NotConverged("a wire in glass does not come to balance while it cools", "wire")
        self.moved, self.strain, self.stress, self.slip = moved, moved - metal[:, None], now.stress, now.slip
        self.side = now.side
        # What the wire is held back by, up and down, the glass beside it bears the other way.
        self.beside = film + self.glass_poisson * (self.side - film + now.up_and_down * self.half_over_fades)

    def _shear_at_most(self, temp: Array) -> Array:
        """The shear stress at which the wire's metal flows [Pa]; (n,), without end where it never does."""
        if self.flow is None:
            return np.full(len(temp), np.inf)
        return np.asarray(self.flow(temp, self.slip) / 3.0**0.5)

    def _returned(self, temp: Array, strain: Array) -> tuple[Array, Array, Array]:
        """Stress (n, 3), plastic strain (n,) and slope (n, 3, 3) that go with a strain: the radial return."""
        n = len(strain)
        stiff = 2.0 * self.shear[:, None, None] * (_UNIT - _MEAN) + 3.0 * self.bulk[:, None, None] * _MEAN
        trial = self.stress + np.einsum("nij,nj->ni", stiff, strain - self.strain)
        if self.flow is None:
            return trial, self.slip, stiff
        level = trial.mean(axis=1, keepdims=True)
        apart = trial - level
        size = np.sqrt(1.5 * (apart**2).sum(axis=1))
        factor = self.flow.factor(temp)
        first, rise = (np.broadcast_to(x * factor, n) for x in (self.flow.stress_0_pa, self.flow.hardening_pa))
        over = np.maximum(size - first - rise * self.slip, 0.0)
        amount = over / (3.0 * self.shear + rise)
        size = np.where(over > 0, size, 1.0)
        keeps = 1.0 - 3.0 * self.shear * amount / size
        normal = apart / size[:, None]
        slope = 2.0 * self.shear[:, None, None] * keeps[:, None, None] * (_UNIT - _MEAN)
        slope = slope + 3.0 * self.bulk[:, None, None] * _MEAN
        more = 9.0 * self.shear**2 * (amount / size - 1.0 / (3.0 * self.shear + rise))
        slope = slope + np.where(over > 0, more, 0.0)[:, None, None] * normal[:, :, None] * normal[:, None, :]
        return level + apart * keeps[:, None], self.slip + amount, slope


def _held(spring: Array, strain: Array, most: Array) -> tuple[Array, Array]:
    """Stress and slope [Pa] of a spring that bears no more than `most`, since the wire's own metal flows in shear."""
    ratio = spring * strain / most
    softer = (1.0 + ratio**4) ** -0.25
    return spring * strain * softer, spring * softer**5


def _go(moved: Array, step: Array, now: _Balance, at: Callable[[Array], _Balance]) -> tuple[Array, _Balance]:
    """Take a step of Newton's, shortened where it overshoots: the balance is the slope of a convex energy."""
    downhill = -np.einsum("ni,ni->n", now.off, step)
    share = np.ones(len(step))
    for _ in range(_MOST_HALVINGS):
        there = moved.copy()
        there[:, ::2] += share[:, None] * step
        then = at(there)
        beyond = np.einsum("ni,ni->n", then.off, step) > 0.5 * downhill
        beyond &= np.abs(then.off).max(axis=1) > _TOLERANCE_PA
        if not beyond.any():
            break
        share = np.where(beyond, share / 2.0, share)
    return there, then
