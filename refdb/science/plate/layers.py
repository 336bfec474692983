"""What a layered plate is made of, and what is known of it once it has cooled; `plate` does the cooling."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from refdb.frozen import dataclass, field

Array = npt.NDArray[np.float64]
#: Which plates of a batch: a slice, or their places.
Part = slice | npt.NDArray[np.intp]


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
        """Flow stress at a temperature over that at 25 °C [-]; at least 0.05."""
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
        Name of the layer in the answer.
    thickness_m : float
        Thickness [m]; zero is allowed and leaves the layer without effect.
    youngs_modulus_pa, poisson_ratio : float
        Elastic constants [Pa], [-].
    strain : callable
        strain(temp_c) -> free thermal strain from 20 °C [-].
    set_c : float, optional
        Setting temperature of a glass [°C]; None for a layer that is solid from the start (metal).
    flow_stress : callable, optional
        flow_stress(temp_c, plastic_strain) -> flow stress [Pa]; None for an elastic layer.

    Examples
    --------
    >>> import refdb
    >>> refdb.Layer("copper", 0.8e-3, 115e9, 0.34, lambda temp_c: 18.5e-6 * (temp_c - 20.0)).set_c is None
    True
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
    `restraint_n_m` (n,) is the moment per width and curvature by which the shape restrains bending [N·m].
    """

    names: tuple[str, ...]
    thickness_m: Array
    youngs_modulus_pa: Array
    poisson_ratio: Array
    strain: tuple[Callable[[Array], Any], ...]
    set_c: Array
    flow_stress: tuple[Callable[[Any, Any], Any] | None, ...]
    restraint_n_m: Array | None = None

    def rows(self, part: Part) -> Plates:
        """Some of the plates; callables holding arrays are cut with it where they can be."""
        n = len(self.thickness_m)
        return Plates(
            self.names,
            self.thickness_m[part],
            self.youngs_modulus_pa[part],
            self.poisson_ratio[part],
            tuple(_cut_strain(s, part, n) for s in self.strain),
            self.set_c[part],
            tuple(_cut_flow(f, part, n) for f in self.flow_stress),
            None if self.restraint_n_m is None else self.restraint_n_m[part],
        )


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

    def cut(self, part: Part) -> ByPlate:
        """The same curve for some of the plates."""
        return ByPlate(self.function, tuple(p[part] for p in self.parameters))


def _cut_strain(curve: Callable[[Array], Any], part: Part, n: int) -> Callable[[Array], Any]:
    return curve.cut(part) if isinstance(curve, ByPlate) else curve


def _cut_flow(flow: Callable[[Any, Any], Any] | None, part: Part, n: int) -> Callable[[Any, Any], Any] | None:
    if isinstance(flow, HardeningYield):
        cut = [
            v[part] if isinstance(v, np.ndarray) and v.shape == (n,) else v
            for v in (flow.stress_0_pa, flow.hardening_pa, flow.ratio_500c)
        ]
        return HardeningYield(*cut)
    return flow
