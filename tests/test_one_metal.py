"""The short way of a plate whose one metal yields linearly, against the general way, plate by plate.

The general way is held to finite elements of another hand in `test_plate_finite_elements.py`, and so is this one, which
every plate there takes; here the two are held to one another where no solver of finite elements is asked.
"""

import numpy as np
import pytest

from refdb.errors import BadInput
from refdb.science.expansion import glass_strain
from refdb.science.plate import ByPlate, HardeningYield, Plates
from refdb.science.plate.cooled import cool_and_refire, cool_many
from refdb.science.plate.one_metal import OneMetal


def plates(n: int, seed: int, hardening: tuple[float, float] = (0.0, 3e9), thinnest: float = 2e-4) -> Plates:
    """Glass on both faces or one, of a dome or flat, on metal soft and hard."""
    draw = np.random.default_rng(seed)

    def of(low: float, high: float) -> np.ndarray:
        return draw.uniform(low, high, n)

    even = np.ones(n)
    back = np.where(of(0, 1) < 0.3, 0.0, of(5e-5, 6e-4))
    glass_e, per_k, metal_per_k = of(55e9, 80e9), of(7e-6, 16e-6), of(9e-6, 22e-6)
    glass = ByPlate(glass_strain, (per_k,))
    return Plates(
        ("back", "metal", "front"),
        np.stack((back, of(thinnest, 2e-3), of(5e-5, 6e-4)), 1),
        np.stack((glass_e, of(60e9, 200e9), glass_e), 1),
        np.stack((0.22 * even, of(0.25, 0.45), 0.22 * even), 1),
        (glass, ByPlate(lambda temp, k: k * (temp - 20.0), (metal_per_k,)), glass),
        np.stack((of(420, 580), np.nan * even, of(420, 580)), 1),
        (None, HardeningYield(of(1e6, 200e6), of(*hardening), of(0.05, 1.0)), None),
        np.where(of(0, 1) < 0.5, 0.0, of(0, 5)),
    )


def both(many: Plates, monkeypatch: pytest.MonkeyPatch) -> list[list[np.ndarray]]:
    """All that is known of the plates once cooled and fired again, by either way."""
    found = []
    for short in (True, False):
        with monkeypatch.context() as held:
            if not short:
                held.setattr(OneMetal, "of", classmethod(lambda cls, *given: None))
            cooled, left = cool_and_refire(many, lambda cooled: np.arange(len(cooled.strain)) % 3 > 0)
        found.append(
            [
                cooled.bottom_pa,
                cooled.mean_pa,
                cooled.top_pa,
                cooled.plastic_strain * 1e9,
                cooled.curvature_per_m * 1e6,
                left * 1e6,
            ]
        )
    return found


@pytest.mark.parametrize("n", [1, 7, 400])
@pytest.mark.parametrize("hardening", [(0.0, 0.0), (0.0, 3e9)])
def test_either_way_comes_to_the_same_plate(n: int, hardening: tuple[float, float], monkeypatch: pytest.MonkeyPatch):
    short, general = both(plates(n, seed=n, hardening=hardening), monkeypatch)
    for one, other in zip(short, general, strict=True):
        # Pa, 1e-9 of strain and 1e-6 of a curvature: what a balance closed to a millipascal leaves.
        assert np.abs(one - other).max() < 50.0
        assert np.abs(other).max() > 1e4 or n == 1


def test_a_plate_with_next_to_no_metal_goes_the_general_way_and_is_answered():
    thin = plates(5, seed=3, thinnest=2e-4)
    thin.thickness_m[2, 1] = 1e-8
    low = np.zeros((3, 5))
    assert OneMetal.of(thin, low, low + 1e-3) is None
    assert np.isfinite(cool_many(thin).bottom_pa).all()


def test_what_is_fired_again_is_only_what_was_asked_for():
    many = plates(300, seed=8)
    _, none = cool_and_refire(many, lambda cooled: np.zeros(300, dtype=bool))
    _, all_ = cool_and_refire(many, lambda cooled: np.ones(300, dtype=bool))
    _, few = cool_and_refire(many, lambda cooled: np.arange(300) == 17)
    assert not none.any()
    assert few[17] == pytest.approx(all_[17], rel=1e-9, abs=1e-9)
    assert not np.delete(few, 17).any()
    assert np.abs(all_).max() > 0.01


def test_no_plates_are_refused():
    with pytest.raises(BadInput, match="no plates"):
        cool_and_refire(None, lambda cooled: None)  # type: ignore[arg-type]
