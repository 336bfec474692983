"""The layered model of a chill (`layered_chill`): the sudden limit, convergence, and two independent cases."""

from __future__ import annotations

import pytest
from layered_chill import Conductor, quench_stress_pa

GLASS = Conductor(1.1, 2550.0 * 850.0, 65e9, 0.22, 11.5e-6)
COPPER = Conductor(360.0, 8960.0 * (385.0 + 0.094 * 60.0), 120e9, 0.34, 17.7e-6)


def chilled(transfer: float, drop: float = 100.0, **more: int) -> float:
    return quench_stress_pa(drop, transfer, GLASS, COPPER, 0.15e-3, 0.75e-3, **more) / 1e6


def test_sudden_limit():
    """Thermoelasticity: E alpha dT/(1-nu) = 95.83 MPa for an unmoved base; 95.77 by a solution apart from here."""
    assert chilled(1e9) == pytest.approx(65e9 * 11.5e-6 * 100 / 0.78 / 1e6, rel=1e-3)
    assert chilled(1e9) == pytest.approx(95.77, abs=0.005)


def test_water():
    """30.42 MPa for 100 K at 5000 W/m2K, by a solution apart from here printed to 0.01."""
    assert chilled(5000.0) == pytest.approx(30.42, abs=0.005)


def test_cells_do_not_matter():
    assert chilled(5000.0, cells=15) == pytest.approx(chilled(5000.0, cells=60), rel=2e-4)


def test_air_is_mild_and_water_is_not():
    assert 0 < chilled(20.0) < chilled(100.0) < 1.5
    assert chilled(5000.0, drop=600.0) > 150
