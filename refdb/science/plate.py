"""The layered plate: stress in glass and metal after cooling from the kiln.

Equal-biaxial plane stress through the thickness; the in-plane strain is strain₀ + curvature·z with z up from
the middle of the plate and layers listed from bottom to top. Glass carries no stress above its set point and
is linear elastic below it; metal is elastic-plastic (von Mises, isotropic hardening, yield falling with
temperature). The plate is marched down in temperature; at each step the stresses are returned to the yield
surface and ∫σ dz = 0 and ∫σ z dz = 0 are solved by Newton's method with a line search.

In this state the von Mises stress is |σ|, the biaxial modulus is E/(1−ν), and the equivalent plastic strain
is twice the in-plane one. Elastic limits are those of Timoshenko (J. Opt. Soc. Am. 11 (1925) 233) for two
layers, with E/(1−ν) for E, and of Hsueh (Thin Solid Films 418 (2002) 182) for many. A dome resists bending;
its resistance enters the balance of moments as a spring, see `dome_restraint_n_m`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from refdb.errors import BadInput, NotConverged
from refdb.science.expansion import ROOM_C

Array = npt.NDArray[np.float64]

STEP_K = 5.0
_CHUNK = 1024
_POINTS = 15
_TOLERANCE = 1e-9
_MOST_ITERATIONS, _MOST_HALVINGS = 100, 12


@dataclass(frozen=True)
class HardeningYield:
    """Flow stress (stress_0 + hardening·p)·f(T), with f falling linearly from 1 at 25 °C to `ratio_500c`.

    Parameters
    ----------
    stress_0_pa, hardening_pa : float or array (n,)
        Flow stress of annealed metal at zero plastic strain and its rise per unit plastic strain [Pa].
    ratio_500c : float or array (n,)
        Flow stress at 500 °C over that at 25 °C [-].
    """

    stress_0_pa: Any
    hardening_pa: Any
    ratio_500c: Any = 1.0

    def factor(self, temp_c: Any) -> Any:
        """Flow stress at a temperature over that at 25 °C [-]; never below a twentieth."""
        return np.maximum(1.0 + (self.ratio_500c - 1.0) * (np.asarray(temp_c) - 25.0) / 475.0, 0.05)

    def __call__(self, temp_c: Any, plastic_strain: Any) -> Any:
        """Flow stress [Pa] at a temperature [°C] and an equivalent plastic strain [-]."""
        return (self.stress_0_pa + self.hardening_pa * np.asarray(plastic_strain)) * self.factor(temp_c)


@dataclass(frozen=True)
class Layer:
    """One layer of a plate.

    Parameters
    ----------
    name : str
        What it is called in the answer.
    thickness_m : float
        Thickness [m]; zero is allowed and leaves the layer without effect.
    youngs_modulus_pa, poisson_ratio : float
        Elastic constants [Pa], [-].
    strain : callable
        strain(temp_c) -> free thermal strain from 20 °C [-].
    set_c : float, optional
        Set point of a glass [°C]; None for a layer that is solid from the start (metal).
    flow_stress : callable, optional
        flow_stress(temp_c, plastic_strain) -> flow stress [Pa]; None for an elastic layer.
    """

    name: str
    thickness_m: float
    youngs_modulus_pa: float
    poisson_ratio: float
    strain: Callable[[Any], Any]
    set_c: float | None = None
    flow_stress: Callable[[Any, Any], Any] | None = None


@dataclass(frozen=True)
class LayerStress:
    """Stress in one layer at room temperature [Pa], tension positive, and the metal's largest plastic strain."""

    name: str
    bottom_pa: float
    mean_pa: float
    top_pa: float
    plastic_strain: float


@dataclass(frozen=True)
class Residual:
    """A cooled plate.

    `curvature_per_m` is positive when the top face is convex; `strain` is the in-plane strain of the middle of
    the plate against free metal at 20 °C; `residual_force` [N/m] and `residual_moment` [N] are what is left of
    the two balances, about zero.
    """

    curvature_per_m: float
    strain: float
    layers: tuple[LayerStress, ...]
    residual_force: float
    residual_moment: float


@dataclass(frozen=True)
class Plates:
    """n plates of the same L layers, bottom to top; arrays (n, L) unless said otherwise.

    `strain` and `flow_stress` hold one callable a layer that takes temperatures (n,) (and plastic strain
    (n, points) for the flow stress) and gives values for the n plates. `set_c` is NaN for metal.
    `restraint_n_m` (n,) is the moment per width and curvature by which the shape resists bending [N·m].
    """

    names: tuple[str, ...]
    thickness_m: Array
    youngs_modulus_pa: Array
    poisson_ratio: Array
    strain: tuple[Callable[[Array], Any], ...]
    set_c: Array
    flow_stress: tuple[Callable[[Any, Any], Any] | None, ...]
    restraint_n_m: Array | None = None

    def rows(self, part: slice) -> Plates:
        """The plates of a slice; callables holding arrays are cut with it where they can be."""
        n = len(self.thickness_m)
        return Plates(
            self.names, self.thickness_m[part], self.youngs_modulus_pa[part], self.poisson_ratio[part],
            tuple(_cut_strain(s, part, n) for s in self.strain), self.set_c[part],
            tuple(_cut_flow(f, part, n) for f in self.flow_stress),
            None if self.restraint_n_m is None else self.restraint_n_m[part])


@dataclass(frozen=True)
class ResidualMany:
    """Cooled plates: arrays (n,) and, for layers, (n, L); meanings and signs as in `Residual`."""

    curvature_per_m: Array
    strain: Array
    bottom_pa: Array
    mean_pa: Array
    top_pa: Array
    plastic_strain: Array
    residual_force: Array
    residual_moment: Array


@dataclass(frozen=True)
class ByPlate:
    """A strain curve whose numbers differ from plate to plate: `function(temp_c, *parameters)`.

    `parameters` are arrays (n,); cutting a batch into parts cuts them too.
    """

    function: Callable[..., Any]
    parameters: tuple[Array, ...] = field(default=())

    def __call__(self, temp_c: Any) -> Any:
        """Free strain from 20 °C [-] of each plate at its own temperature."""
        return self.function(temp_c, *self.parameters)

    def cut(self, part: slice) -> ByPlate:
        """The same curve for the plates of a slice."""
        return ByPlate(self.function, tuple(p[part] for p in self.parameters))


def _cut_strain(curve: Callable[[Array], Any], part: slice, n: int) -> Callable[[Array], Any]:
    return curve.cut(part) if isinstance(curve, ByPlate) else curve


def _cut_flow(flow: Callable[[Any, Any], Any] | None, part: slice, n: int) -> Callable[[Any, Any], Any] | None:
    if isinstance(flow, HardeningYield):
        cut = [v[part] if isinstance(v, np.ndarray) and v.shape == (n,) else v
               for v in (flow.stress_0_pa, flow.hardening_pa, flow.ratio_500c)]
        return HardeningYield(*cut)
    return flow


def dome_restraint_n_m(stiffness_n_per_m: Any, rise_m: Any) -> Any:
    """How strongly a shallow dome resists a change of its curvature, per width.

    Parameters
    ----------
    stiffness_n_per_m : float or array
        Σ E·h through the wall, glass and metal [N/m].
    rise_m : float or array
        Height of the dome over its rim [m].

    Returns
    -------
    float or array
        Σ E·h · rise²/24 [N·m]: moment per width for unit change of curvature, besides the wall's own bending.

    Notes
    -----
    Energy method for a shallow spherical cap with free edge whose curvature changes evenly: the membrane
    stresses follow from ∇⁴F = −(E/R)∇²w with R = a²/(2·rise), and the size a drops out. An even change of
    curvature is the stiffest way a dome can bend, so this is an upper bound; the rim itself bends more freely.
    """
    return stiffness_n_per_m * rise_m**2 / 24.0


def cool(layers: Sequence[Layer], room_c: float = ROOM_C, step_k: float = STEP_K) -> Residual:
    """Cool one plate from the highest set point of its glasses to room temperature.

    Parameters
    ----------
    layers : sequence of Layer
        Bottom to top.
    room_c : float
        Final temperature [°C].
    step_k : float
        Greatest temperature step [K].

    Returns
    -------
    Residual

    Raises
    ------
    BadInput
        No layer, no set point, or a number that cannot be.
    NotConverged
        Force and moment do not vanish; no answer is given then.
    """
    if not layers:
        raise BadInput("a plate needs at least one layer")
    row = [[layer.thickness_m, layer.youngs_modulus_pa, layer.poisson_ratio,
            math.nan if layer.set_c is None else layer.set_c] for layer in layers]
    table = np.array(row, dtype=float)
    plates = Plates(
        tuple(layer.name for layer in layers), table[None, :, 0], table[None, :, 1], table[None, :, 2],
        tuple(layer.strain for layer in layers), table[None, :, 3], tuple(layer.flow_stress for layer in layers))
    many = cool_many(plates, room_c, step_k)
    return Residual(
        float(many.curvature_per_m[0]), float(many.strain[0]),
        tuple(LayerStress(layer.name, float(many.bottom_pa[0, k]), float(many.mean_pa[0, k]),
                          float(many.top_pa[0, k]), float(many.plastic_strain[0, k]))
              for k, layer in enumerate(layers)),
        float(many.residual_force[0]), float(many.residual_moment[0]))


def cool_many(plates: Plates, room_c: float = ROOM_C, step_k: float = STEP_K) -> ResidualMany:
    """Cool many plates at once; each starts at its own highest set point.

    Parameters
    ----------
    plates : Plates
        n plates of L layers.
    room_c, step_k : float
        Final temperature [°C] and greatest temperature step [K].

    Returns
    -------
    ResidualMany

    Raises
    ------
    BadInput, NotConverged
        As `cool`.
    """
    _refuse_nonsense(plates, room_c, step_k)
    parts = [_march(plates.rows(slice(k, k + _CHUNK)), room_c, step_k)
             for k in range(0, len(plates.thickness_m), _CHUNK)]
    return ResidualMany(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _refuse_nonsense(plates: Plates, room_c: float, step_k: float) -> None:
    thickness, nu = plates.thickness_m, plates.poisson_ratio
    if thickness.ndim != 2 or not thickness.size:
        raise BadInput("a plate needs at least one layer")
    if not (np.isfinite(thickness).all() and (thickness >= 0).all() and (thickness.sum(axis=1) > 0).all()):
        raise BadInput("layer thicknesses must be finite, none negative and not all zero")
    if not (np.isfinite(plates.youngs_modulus_pa).all() and (plates.youngs_modulus_pa > 0).all()):
        raise BadInput("Young's modulus must be positive and finite")
    if not ((nu > -1).all() and (nu < 0.5).all()):
        raise BadInput("Poisson's ratio must lie between -1 and 0.5")
    if np.isnan(plates.set_c).all(axis=1).any():
        raise BadInput("no layer has a set point, so nothing is stressed by cooling")
    if np.nanmin(plates.set_c) <= room_c:
        raise BadInput(f"a set point must lie above room temperature ({room_c:g} °C)")
    if not step_k > 0:
        raise BadInput("the temperature step must be positive")


def _lobatto(points: int) -> tuple[Array, Array]:
    """Gauss-Lobatto nodes and weights on [-1, 1]; the ends are nodes, so face stresses need no extrapolation."""
    inner = np.polynomial.legendre.Legendre.basis(points - 1).deriv().roots()
    nodes = np.concatenate(([-1.0], np.sort(inner), [1.0]))
    weights = 2.0 / (points * (points - 1) * np.polynomial.legendre.Legendre.basis(points - 1)(nodes) ** 2)
    return nodes, weights


_NODES, _WEIGHTS = _lobatto(_POINTS)


class _State:
    """Stresses of one part of a batch while it cools: elastic layers as a + b·z, plastic ones point by point."""

    def __init__(self, plates: Plates) -> None:
        n, count = plates.thickness_m.shape
        h = plates.thickness_m
        edges = np.concatenate((np.zeros((n, 1)), np.cumsum(h, axis=1)), axis=1)
        edges -= edges[:, -1:] / 2
        self.restraint = np.zeros(n) if plates.restraint_n_m is None else plates.restraint_n_m
        self.low, self.high, self.total = edges[:, :-1], edges[:, 1:], h.sum(axis=1)
        modulus = plates.youngs_modulus_pa / (1.0 - plates.poisson_ratio)
        self.plastic = [k for k in range(count) if plates.flow_stress[k] is not None]
        self.elastic = [k for k in range(count) if plates.flow_stress[k] is None]
        e, p = self.elastic, self.plastic
        self.modulus_e = modulus[:, e]
        self.s0 = h[:, e]
        self.s1 = (self.high[:, e] ** 2 - self.low[:, e] ** 2) / 2
        self.s2 = (self.high[:, e] ** 3 - self.low[:, e] ** 3) / 3
        self.offset, self.slope = np.zeros((n, len(e))), np.zeros((n, len(e)))
        middle = (self.high + self.low)[:, p] / 2
        self.z = (middle[:, :, None] + h[:, p, None] / 2 * _NODES).reshape(n, -1)
        self.w = (h[:, p, None] / 2 * _WEIGHTS).reshape(n, -1)
        self.modulus_p = np.repeat(modulus[:, p], _POINTS, axis=1)
        self.flows = [plates.flow_stress[k] for k in p]
        self.stress, self.strain_p = np.zeros_like(self.z), np.zeros_like(self.z)


def _march(plates: Plates, room_c: float, step_k: float) -> tuple[Array, ...]:
    state = _State(plates)
    n = len(state.total)
    start = np.nanmax(plates.set_c, axis=1)
    set_c = np.where(np.isnan(plates.set_c), start[:, None], plates.set_c)
    steps = max(1, math.ceil(float((start - room_c).max()) / step_k))
    metal = next((k for k in range(len(plates.names)) if np.isnan(plates.set_c[:, k]).all()), 0)
    strain0 = np.array(np.broadcast_to(plates.strain[metal](start), (n,)), dtype=float)
    curvature = np.zeros(n)
    # The last increment is the first guess of the next one.
    guess = np.zeros((n, 2))
    force, moment = np.zeros(n), np.zeros(n)
    temp = start
    free = _free_strains(plates, np.minimum(temp[:, None], set_c))
    for k in range(1, steps + 1):
        new_temp = start + (room_c - start) * (k / steps)
        share = np.clip((set_c - new_temp[:, None]) / (temp - new_temp)[:, None], 0.0, 1.0)
        new_free = _free_strains(plates, np.minimum(new_temp[:, None], set_c))
        guess, force, moment = _step(state, new_temp, share, new_free - free, guess, curvature)
        strain0 = strain0 + guess[:, 0]
        curvature = curvature + guess[:, 1]
        temp, free = new_temp, new_free
    bottom, mean, top, plastic = _faces(state, len(plates.names))
    scale = (np.maximum(np.abs(bottom), np.abs(top)) * plates.thickness_m).sum(axis=1) + 1e4 * state.total
    if not ((np.abs(force) <= 1e-6 * scale).all() and (np.abs(moment) <= 1e-6 * scale * state.total).all()):
        raise NotConverged("force and moment of the cooled plate do not balance", todo="no answer can be given")
    return curvature, strain0, bottom, mean, top, plastic, force, moment


def _free_strains(plates: Plates, temps: Array) -> Array:
    return np.stack([np.broadcast_to(plates.strain[k](temps[:, k]), temps[:, k].shape)
                     for k in range(temps.shape[1])], axis=1)


def _step(state: _State, temp: Array, share: Array, free: Array, guess: Array,
          curvature: Array) -> tuple[Array, Array, Array]:
    """Find the strain increment that balances force and moment, and move the state there."""
    e, p = state.elastic, state.plastic
    # Elastic layers: increments of offset and slope are linear in the two unknowns.
    weight_e = state.modulus_e * share[:, e]
    k00, k01, k11 = ((weight_e * s).sum(axis=1) for s in (state.s0, state.s1, state.s2))
    k11 = k11 + state.restraint
    base = state.offset - state.modulus_e * free[:, e]
    base_force = (base * state.s0 + state.slope * state.s1).sum(axis=1)
    base_moment = (base * state.s1 + state.slope * state.s2).sum(axis=1) + state.restraint * curvature
    points = _Return(state, temp, share[:, p], free[:, p])
    size = state.total * 1e6

    x = guess.copy()
    residual, tangent = points(x)
    residual += np.stack((base_force + k00 * x[:, 0] + k01 * x[:, 1],
                          base_moment + k01 * x[:, 0] + k11 * x[:, 1]), axis=1)
    merit = np.maximum(np.abs(residual[:, 0]), np.abs(residual[:, 1]) / state.total)
    for _ in range(_MOST_ITERATIONS):
        open_ = merit > _TOLERANCE * size
        if not open_.any():
            break
        a = k00 + tangent[0]
        b = k01 + tangent[1]
        d = k11 + tangent[2]
        det = a * d - b * b
        move = np.stack((d * residual[:, 0] - b * residual[:, 1], a * residual[:, 1] - b * residual[:, 0]), axis=1)
        move = np.where(open_[:, None], -move / det[:, None], 0.0)
        # The balance is the gradient of a convex energy: a step is shortened until it no longer overshoots.
        before = np.abs((residual * move).sum(axis=1))
        length = np.ones(len(x))
        for _ in range(_MOST_HALVINGS):
            tried = x + length[:, None] * move
            new_residual, new_tangent = points(tried)
            new_residual += np.stack((base_force + k00 * tried[:, 0] + k01 * tried[:, 1],
                                      base_moment + k01 * tried[:, 0] + k11 * tried[:, 1]), axis=1)
            after = (new_residual * move).sum(axis=1) * open_
            over = after > 0.5 * before
            if not over.any():
                break
            length = np.where(over, length * before / np.where(over, before + after, 1.0), length)
        x, residual, tangent = tried, new_residual, new_tangent
        merit = np.maximum(np.abs(residual[:, 0]), np.abs(residual[:, 1]) / state.total)
    else:
        raise NotConverged("force and moment of a plate do not balance while it cools", todo="no answer can be given")
    state.offset = base + weight_e * x[:, :1]
    state.slope = state.slope + weight_e * x[:, 1:]
    points.keep()
    return x, residual[:, 0], residual[:, 1]


class _Return:
    """The plastic layers over one step: return to the yield surface, with force, moment and tangent stiffness."""

    def __init__(self, state: _State, temp: Array, share: Array, free: Array) -> None:
        self.state, self.temp = state, temp
        self.share = np.repeat(share, _POINTS, axis=1)
        self.trial_base = state.stress - state.modulus_p * np.repeat(free, _POINTS, axis=1)
        self.gain = state.modulus_p * self.share
        self.wz = state.w * state.z
        self.linear = all(isinstance(f, HardeningYield) for f in state.flows)
        flow, slope = self._flow(state.strain_p)
        self.flow, self.slope = flow, 2 * slope
        self.stiff = state.modulus_p / (state.modulus_p + self.slope)

    def _flow(self, strain: Array) -> tuple[Array, Array]:
        """Flow stress and its slope with plastic strain at every point."""
        values, slopes = [np.zeros((len(self.temp), 0))], [np.zeros((len(self.temp), 0))]
        for k, flow in enumerate(self.state.flows):
            part = strain[:, k * _POINTS:(k + 1) * _POINTS]
            if isinstance(flow, HardeningYield):
                factor = np.asarray(flow.factor(self.temp))[:, None]
                rise = np.broadcast_to(_column(flow.hardening_pa) * factor, part.shape)
                values.append(_column(flow.stress_0_pa) * factor + rise * part)
            else:
                assert flow is not None
                value = np.broadcast_to(flow(self.temp[:, None], part), part.shape)
                rise = (flow(self.temp[:, None], part + 1e-7) - value) / 1e-7
                values.append(np.asarray(value, dtype=float))
            slopes.append(np.asarray(np.broadcast_to(rise, part.shape), dtype=float))
        return np.concatenate(values, axis=1), np.concatenate(slopes, axis=1)

    def _map(self, x: Array) -> tuple[Array, Array, Array]:
        """Stress, in-plane plastic increment (unsigned) and tangent modulus at every point."""
        state = self.state
        trial = self.trial_base + self.gain * (x[:, :1] + x[:, 1:] * state.z)
        over = np.abs(trial) - self.flow
        yielded = over > 0
        slip = np.where(yielded, over / (state.modulus_p + self.slope), 0.0)
        stiff = self.stiff
        if not self.linear and yielded.any():
            for _ in range(30):
                flow, slope = self._flow(state.strain_p + 2 * slip)
                miss = np.where(yielded, np.abs(trial) - state.modulus_p * slip - flow, 0.0)
                stiff = state.modulus_p / (state.modulus_p + 2 * slope)
                slip = np.maximum(slip + miss / (state.modulus_p + 2 * slope), 0.0)
                if np.abs(miss).max() <= 1e-3:
                    break
        stress = trial - np.sign(trial) * state.modulus_p * slip
        tangent = np.where(yielded, (1.0 - stiff), 1.0) * self.gain
        return stress, slip, tangent

    def __call__(self, x: Array) -> tuple[Array, tuple[Array, Array, Array]]:
        stress, self.slip, tangent = self._map(x)
        self.stress = stress
        state = self.state
        residual = np.stack((np.einsum("ij,ij->i", state.w, stress), np.einsum("ij,ij->i", self.wz, stress)), axis=1)
        stiffness = (np.einsum("ij,ij->i", state.w, tangent), np.einsum("ij,ij->i", self.wz, tangent),
                     np.einsum("ij,ij,ij->i", self.wz, state.z, tangent))
        return residual, stiffness

    def keep(self) -> None:
        """Make the stresses and plastic strains last asked for those of the state."""
        self.state.stress = self.stress
        self.state.strain_p = self.state.strain_p + 2 * self.slip


def _column(value: Any) -> Any:
    array = np.asarray(value, dtype=float)
    return array[:, None] if array.ndim == 1 else array


def _faces(state: _State, count: int) -> tuple[Array, Array, Array, Array]:
    n = len(state.total)
    bottom, mean, top, plastic = (np.zeros((n, count)) for _ in range(4))
    e = state.elastic
    bottom[:, e] = state.offset + state.slope * state.low[:, e]
    top[:, e] = state.offset + state.slope * state.high[:, e]
    mean[:, e] = (bottom[:, e] + top[:, e]) / 2
    for j, k in enumerate(state.plastic):
        part = slice(j * _POINTS, (j + 1) * _POINTS)
        stress = state.stress[:, part]
        bottom[:, k], top[:, k] = stress[:, 0], stress[:, -1]
        mean[:, k] = stress @ _WEIGHTS / 2
        plastic[:, k] = state.strain_p[:, part].max(axis=1)
    return bottom, mean, top, plastic
