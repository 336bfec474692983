"""A wire that stands on edge in glass: what the two do to each other far from the wire's ends.

The base imposes its own contraction along the wire and, over some heights of glass, across it too. Metal that shrinks
more than the base is stretched along and, once it yields, thins: it then draws away from the glass at its sides.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.science.plate.layers import Array, HardeningYield, Plates
from refdb.science.plate.radial_return import Metal
from refdb.science.plate.wire_around import Stratum, around, layers_beneath
from refdb.science.plate.wire_body import Side, Wires
from refdb.science.plate.wire_modes import COUNT, GROWS_UP, MEANS, MOVES_FOOT, TALLER

_STEPS = 2
#: How far finite elements go from what is told here, down and up, over the largest stress of the wire: across its side,
#: and beside it. The ends of cases that had no part in the making of the model, and a little more.
MISSES_ACROSS, MISSES_BESIDE = (-0.03, 0.05), (-0.02, 0.05)


@dataclass(frozen=True)
class WireStress:
    """State at room temperature of n wires; arrays (n,), tension positive.

    `across_pa` is the stress across the wire's side, in wire and glass alike, on average over its height [Pa]: above
    zero it pulls the glass off the wire. `beside_pa` is the glass's own along the wire, right beside it [Pa];
    `along_pa` the wire's along itself, on average [Pa]; `plastic_strain` the wire's mean equivalent plastic strain [-];
    `residual_pa` what is left of the balances [Pa], about zero; `glass_pa` the stress of the glass without a wire, as
    it was given.
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
        return self._missed_pa(share, MISSES_ACROSS)

    def beside_missed_pa(self, share: Array) -> Array:
        """The same of the glass's own stress along the wire, right beside it [Pa]."""
        return self._missed_pa(share, MISSES_BESIDE)

    def _missed_pa(self, share: Array, ends: tuple[float, float]) -> Array:
        largest = np.max(np.abs((self.across_pa, self.along_pa, self.glass_pa)), axis=0)
        return np.asarray(largest * np.where(share < 0.0, -share * ends[0], share * ends[1]))


@dataclass(frozen=True)
class Base:
    """What lies beneath wires: `strata` from their feet down, and `flows` (n,), how far its metal flows, 0 to 1.

    Metal flows where the glass has stretched it, as it cools, far beyond what it bears: `flows` is the plastic share of
    its stretch. So far it gives way to the wire as well (`wire_around`).
    """

    strata: tuple[Stratum, ...]
    flows: Array


def wire_stress(
    plates: Plates,
    glass_pa: Array,
    base: Base | None = None,
    *,
    spacing_m: float | None = None,
    room_c: float = 20.0,
    steps: int = _STEPS,
) -> WireStress:
    """Cool wires in glass from the set point of the glass.

    Parameters
    ----------
    plates : Plates
        Two layers, in this order: the wire's metal, whose `thickness_m` is the wire's across, and the glass, whose
        `thickness_m` is its height and the wire's. The metal yields by a `HardeningYield` or not at all.
    glass_pa : array (n,)
        Mean stress in the plane of the same glass on the same base where there is no wire [Pa]: `mean_pa` of its layer
        in `ResidualMany`. Zero stands for a base that contracts like the glass.
    base : Base, optional
        What gives way beneath the wires; without it their feet and the glass stand on what does not.
    spacing_m : float, optional
        From the middle of one wire to the middle of the next [m]; None for a wire that stands alone.
    room_c, steps : float, int
        Where the cooling ends [°C], and in how many steps.

    Returns
    -------
    WireStress

    Raises
    ------
    BadInput
        A size not above zero, wires that overlap or are thicker than high, or layers that are not a metal and a glass.
    NotConverged
        The balances do not close.

    Notes
    -----
    Generalised plane strain in the frame of the base: along the wire the strain is the base's. The wire is a body that
    yields, von Mises with isotropic hardening, returned in three dimensions; it moves in modes over its height and its
    width (Ritz). Glass and base around it are elastic, in elements (`around`), the underside free. Nothing is fitted.
    On a base that does not give, in 64 cases held out, of every metal in the store, 0.06-0.8 mm thick, 0.25-1.5 mm high
    and up to as thick as high, finite elements lie within 5 % of the largest stress of the case. A base of 0.5-1.5 mm
    takes up to half of what the wire adds; elements that give with it, and yield with it, lie as near.
    Soft wire pulls no less: it is stretched further along and thins the more. The stress across is a mean, up to three
    times as high near the foot. Ends, bends and joints are not in it.
    """
    _refuse_nonsense(plates, glass_pa, spacing_m)
    glass_pa = np.asarray(glass_pa, dtype=float)
    sizes = plates.thickness_m[:, :2]
    groups = [
        _Group(plates, glass_pa, np.flatnonzero((sizes == one).all(axis=1)), base, spacing_m)
        for one in np.unique(sizes, axis=0)
    ]
    _cool(groups, plates, room_c, steps)
    found = np.zeros((5, len(glass_pa)))
    for group in groups:
        found[:, group.rows] = group.found()
    return WireStress(found[0], found[1], found[2], found[3], found[4], glass_pa)


def _cool(groups: list[_Group], plates: Plates, room_c: float, steps: int) -> None:
    """Take all wires to where the cooling ends, in so many steps."""
    set_c = plates.set_c[:, 1]
    started = [curve(set_c) for curve in plates.strain]
    done = 0.0
    for part in np.linspace(0.0, 1.0, steps + 1)[1:]:
        temp = set_c + part * (room_c - set_c)
        metal, own = (curve(temp) - start for curve, start in zip(plates.strain, started, strict=True))
        of_metal = Metal.of(plates, temp)
        for group in groups:
            rows = group.rows
            group.cool(of_metal.rows(rows), metal[rows], own[rows], part, part / max(done, part / 2.0))
        done = part


def _refuse_nonsense(plates: Plates, glass_pa: Array, spacing_m: float | None) -> None:
    if plates.thickness_m.shape[1:] != (2,) or np.isnan(plates.set_c[:, 1]).any():
        raise BadInput("a wire in glass is a metal and a glass, in this order", "wire", "give two layers")
    if not (np.isfinite(plates.thickness_m).all() and (plates.thickness_m > 0).all()):
        raise BadInput("thickness and height must be above zero", "wire", "give both in metres")
    if (plates.thickness_m[:, 0] > plates.thickness_m[:, 1] * (1.0 + 1e-9)).any():
        raise BadInput("a wire that is thicker than high is not reckoned with", "wire", "a cloison stands on its edge")
    if spacing_m is not None and not spacing_m > plates.thickness_m[:, 0].max():
        raise BadInput("wires must lie further apart than they are thick", "wire", "give the way from middle to middle")
    if np.shape(glass_pa) != plates.thickness_m.shape[:1] or not np.isfinite(glass_pa).all():
        raise BadInput("the stress of the glass must be one number for each wire", "wire")
    flow = plates.flow_stress[0] if plates.flow_stress else None
    if not (flow is None or isinstance(flow, HardeningYield)):
        raise BadInput("the wire yields by a HardeningYield or not at all", "wire")


class _Group:
    """Wires of one size among those of a batch, with the glass around them and the base."""

    def __init__(
        self, plates: Plates, film_pa: Array, rows: npt.NDArray[np.intp], base: Base | None, spacing_m: float | None
    ) -> None:
        self.rows, self.film_pa = rows, film_pa[rows]
        self.young, self.poisson = plates.youngs_modulus_pa[rows, 1], plates.poisson_ratio[rows, 1]
        thick, high = plates.thickness_m[rows[0]]
        half = float(thick / high / 2.0)
        gap = None if spacing_m is None else float(spacing_m / 2.0 / high) - half
        typical = float(high), float(self.young.mean())
        strata = () if base is None else base.strata
        stiffness, across = around(self.poisson, half, gap, layers_beneath(strata, *typical, flows=0.0))
        if base is not None and base.flows[rows].any():
            # What flowing metal gives more hardly hangs on the glass; of how far it flows it is a parabola.
            middle, most = np.array([self.poisson.mean()]), float(base.flows[rows].max())
            (stiff, pulls), *soft = (
                around(middle, half, gap, layers_beneath(strata, *typical, flows=most * x)) for x in (0.0, 0.5, 1.0)
            )
            x = base.flows[rows] / most
            for weight, (gives, then) in zip((4.0 * x * (1.0 - x), x * (2.0 * x - 1.0)), soft, strict=True):
                stiffness = stiffness + weight[:, None, None] * (gives - stiff)
                across = across + weight[:, None] * (then - pulls)
        self.kept = np.arange(COUNT) if strata else np.flatnonzero(~MOVES_FOOT)
        self.stiffness = self.young[:, None, None] * stiffness[:, self.kept[:, None], self.kept]
        self.across = across[:, self.kept]
        self.wires = Wires(half, len(rows), self.kept)
        #: Movement where no wire is: the glass only grows or shrinks in height.
        self.at_rest = np.zeros((len(rows), len(self.kept)))

    def cool(self, metal: Metal, of_metal: Array, own: Array, part: float, ahead: float) -> None:
        """Go on to free strains (n,) of metal and glass, in this part of the cooling."""
        film = part * self.film_pa
        base = own + film * (1.0 - self.poisson) / self.young
        self.at_rest[:, self.kept == GROWS_UP] = (own - 2.0 * self.poisson * film / self.young - base)[:, None]
        forces = -np.einsum("npq,nq->np", self.stiffness, self.at_rest) - film[:, None] * MEANS[self.kept]
        self.wires.cool(metal, of_metal - base, Side(forces, self.stiffness), ahead)

    def found(self) -> Array:
        """What stands at the end, in the order of `WireStress`; (5, n)."""
        more = self.wires.moved - self.at_rest
        across = self.young * (self.across * more).sum(axis=1)
        # Plane strain: nothing more along; up and down the mean strain is that of the top against the foot.
        taller = more @ TALLER[self.kept]
        up = (self.young * taller + self.poisson * (1.0 + self.poisson) * across) / (1.0 - self.poisson**2)
        beside = self.poisson * (across + up) + self.film_pa
        wires = self.wires
        return np.array((across + self.film_pa, beside, wires.along_pa(), wires.slip(), wires.left))
