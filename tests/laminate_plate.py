"""An elastic plate in the laminate package lamfail, which this project did not write (classical laminate theory)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lamfail.lamfail import Lamfail
from laminate.laminate import Laminate
from loads.loads import Loads
from material.orthotropic import Orthotropic
from panel.panel import Panel
from ply.ply import Ply


@dataclass(frozen=True)
class Sheet:
    """One elastic layer: thickness [m], Young's modulus [Pa], Poisson's ratio [-], expansion [1/K]."""

    thickness_m: float
    youngs_pa: float
    poisson: float
    expansion_per_k: float


@dataclass(frozen=True)
class Bent:
    """Curvature [1/m] and stress [Pa] at the bottom and top of each sheet; positive when the top face is convex."""

    curvature_per_m: float
    bottom_pa: tuple[float, ...]
    top_pa: tuple[float, ...]


def cooled(sheets: Sequence[Sheet], rise_k: float) -> Bent:
    """Bend a plate, bottom to top, by a change of temperature [K]."""
    plies = []
    for k, sheet in enumerate(sheets):
        shear = sheet.youngs_pa / (2 * (1 + sheet.poisson))
        stuff = Orthotropic(
            matID=k,
            E1=sheet.youngs_pa,
            E2=sheet.youngs_pa,
            G12=shear,
            G13=shear,
            G23=shear,
            v12=sheet.poisson,
            alpha1=sheet.expansion_per_k,
            alpha2=sheet.expansion_per_k,
        )
        plies.append(Ply(k, 0.0, stuff, sheet.thickness_m))
    panel = Panel("plate", 0.03, 0.03, Laminate("plate", plies, 0.0), "SSSS")
    solved = Lamfail(panel, Loads("cooling", "plate", deltaT=rise_k))
    # stressM is the stress from the mechanical strain alone; `stress` would count the free thermal strain too.
    faces = [solved.stressM[str(k + 1)] for k in range(len(plies))]
    # The package's curvature is ∂ε/∂z, so the top is convex where it is positive.
    return Bent(
        float(solved.ek0[3]), tuple(float(f["bottom"][0]) for f in faces), tuple(float(f["top"][0]) for f in faces)
    )
