"""Small figures of the science, each against a law or a table that was not made here."""

from __future__ import annotations

import pytest

from refdb.science.firing.heating import HEAT_OF_FAMILY

#: Slope of the molar heat capacity with temperature, J/(mol K²), and molar mass, kg: Kelley's equations (US Bureau of
#: Mines Bulletins 476 and 584; from memory, in 10^-3 cal/(mol K²) as printed).
KELLEY = {
    "copper": (1.50, 0.06355), "gold": (1.24, 0.19697), "palladium": (1.38, 0.10642), "titanium": (2.40, 0.04787),
    "aluminium": (2.96, 0.02698),
}  # fmt: skip


@pytest.mark.parametrize("family", KELLEY)
def test_heat_capacity_rises_as_in_kelleys_equations(family):
    """Within 8 %, which the first figures of both allow."""
    slope, molar_mass_kg = KELLEY[family]
    assert HEAT_OF_FAMILY[family][1] == pytest.approx(slope * 4.184e-3 / molar_mass_kg, rel=0.08)
