"""How much of everything: against calculations by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from refdb.judge.piece.steps import Base, Piece, Step
from refdb.plan.amounts import amounts_of, face_area_m2, fresh_depth_m, fresh_size_m
from refdb.quantities import Band
from refdb.records import PropertyValue
from refdb.store.reference import Reference

GLASS, CLAY, SHEET = "clear-hard-lead-free", "copper-clay", "copper-sheet"


class Fixed(Reference):
    """The store with round figures for the density of glass and clay, so that a hand calculation stays true."""

    def glass(self, key):
        return _with(super().glass(key), "density", 2500.0, 2400.0, 2600.0)

    def metal(self, key):
        metal = _with(super().metal(key), "density", 8000.0, 7000.0, 8700.0)
        return _with(metal, "shrinkage", 20.0, 15.0, 25.0) if metal.form == "clay" else metal


def _with(record, name, value, low, high):
    row = PropertyValue(name, value, low, high, "", "", None, None, "from memory", "from memory", "from-memory")
    return replace(record, values=(*(v for v in record.values if v.property != name), row))


@pytest.fixture
def ref(store):
    with Fixed(store) as opened:
        yield opened


def piece(*steps: Step, metal: str = SHEET, **more) -> Piece:
    given = {"width_m": 0.03, "height_m": 0.02, "area_given_m2": 5e-4} | more
    return Piece("trial", base=Base(metal, Band.exact(1e-3)), steps=tuple(steps), **given)


def coat(number: int = 1, **more) -> Step:
    return Step(number, "coat", **({"glass": GLASS, "thickness_m": Band.exact(0.2e-3), "washed": False} | more))


def amount(found, key: str):
    return next(a for a in found.rows if a.key == key)


def close(band: Band, value: float, low: float, high: float) -> None:
    assert (band.value, band.low, band.high) == pytest.approx((value, low, high), rel=1e-4)


def test_powder_of_one_coat(ref):
    """By hand: 5 cm² × 0.02 cm × 2.5 g/cm³ (2.4 to 2.6) = 0.25 g (0.24 to 0.26) on the piece.

    Sifting loses 20 % (10 to 30 %): 0.25/0.8 = 0.3125 g; 0.24/0.9 = 0.26667; 0.26/0.7 = 0.37143.
    """
    found = amount(amounts_of(ref, piece(coat())), GLASS)
    close(found.needed, 0.25, 0.24, 0.26)
    close(found.band, 0.3125, 0.266667, 0.371429)
    assert found.unit == "g"


def test_washing_takes_more(ref):
    """By hand: 12.5 % (5 to 20 %) goes with the washing: 0.3125/0.875 = 0.35714 g; 0.26667/0.95; 0.37143/0.8."""
    close(amount(amounts_of(ref, piece(coat(washed=True))), GLASS).band, 0.357143, 0.280702, 0.464286)


def test_washing_follows_the_class_of_glass_unless_the_step_says(ref):
    asked = amount(amounts_of(ref, piece(coat(washed=None))), GLASS)
    assert ref.glass(GLASS).wash == "yes"
    assert asked.band == amount(amounts_of(ref, piece(coat(washed=True))), GLASS).band


def test_several_coats_pieces_and_partial_cover(ref):
    """By hand: front whole (0.25 g) and back 40 % of 0.1 mm (0.05 g), 12 pieces: 3.6 g on them, 4.5 g to take."""
    steps = (coat(1), coat(2, face="back", coverage=0.4, thickness_m=Band.exact(0.1e-3)))
    found = amount(amounts_of(ref, piece(*steps, quantity=12)), GLASS)
    assert found.needed.value == pytest.approx(12 * 0.30)
    assert found.band.value == pytest.approx(4.5)
    assert found.steps == (1, 2)


def test_a_thickness_with_a_range_widens_the_amount(ref):
    """By hand: 0.1 to 0.2 mm at 2.4 to 2.6 g/cm³ on 5 cm²: 0.12 to 0.26 g."""
    found = amount(amounts_of(ref, piece(coat(thickness_m=Band(0.15e-3, 0.1e-3, 0.2e-3)))), GLASS)
    close(found.needed, 0.1875, 0.12, 0.26)


def test_drawing_covers_little_unless_its_cover_is_given(ref):
    line = Step(1, "line", glass="painting-black", thickness_m=Band.exact(0.03e-3))
    usual = amount(amounts_of(ref, piece(line)), "painting-black")
    given = amount(amounts_of(ref, piece(replace(line, coverage=0.5))), "painting-black")
    assert usual.needed.high == pytest.approx(5e-4 * 0.2 * 0.03e-3 * 2600e3)
    assert given.needed.value == pytest.approx(5e-4 * 0.5 * 0.03e-3 * 2500e3)


def test_leaf_with_trim(ref):
    """By hand: 60 % of 5 cm² is 3 cm², 40 pieces 120 cm²; 7.5 % (5 to 10 %) of trim makes 129 (126 to 132) cm².

    A leaf of 80 mm covers 64 cm²: 126 cm² are 1.97 leaves, so 2; 132 cm² are 2.06, so 3.
    """
    found = amount(
        amounts_of(ref, piece(Step(1, "leaf", leaf="gold-foil-24k", coverage=0.6), quantity=40)), "gold-foil-24k"
    )
    close(found.needed, 120, 120, 120)
    close(found.band, 129, 126, 132)
    assert "2 to 3 leaves of 80 mm" in found.note


def test_holding_agent(ref):
    """By hand: two coats of 5 cm² at 0.003 to 0.01 ml/cm² are 0.03 to 0.10 ml thinned."""
    found = next(a for a in amounts_of(ref, piece(coat(1), coat(2, face="back"))).rows if a.unit == "ml")
    assert (found.band.low, found.band.high) == pytest.approx((0.03, 0.10))


def test_fresh_clay(ref):
    """By hand: 5 cm² × 0.1 cm × 8.0 g/cm³ (7.0 to 8.7) = 4.0 g (3.5 to 4.35) fired.

    Binder and water 12.5 % (5 to 20 %): 4.0/0.875 = 4.5714 g; 3.5/0.95 = 3.6842; 4.35/0.8 = 5.4375.
    """
    found = amount(amounts_of(ref, piece(coat(), metal=CLAY)), CLAY)
    close(found.needed, 4.0, 3.5, 4.35)
    close(found.band, 4.571429, 3.684211, 5.4375)


def test_fresh_size(ref):
    """By hand: 30 mm after 20 % (15 to 25 %) of shrinkage was 37.5 mm (35.29 to 40); a sheet stays as it is."""
    wide, high, thick = fresh_size_m(piece(metal=CLAY), ref.metal(CLAY))
    close(wide, 0.0375, 0.03 / 0.85, 0.04)
    close(high, 0.025, 0.02 / 0.85, 0.02 / 0.75)
    close(thick, 1.25e-3, 1e-3 / 0.85, 1e-3 / 0.75)
    assert fresh_size_m(piece(), ref.metal(SHEET))[0] == Band.exact(0.03)
    given = replace(piece(metal=CLAY), base=Base(CLAY, Band.exact(1e-3), fresh_width_m=0.05))
    assert fresh_size_m(given, ref.metal(CLAY))[0] == Band.exact(0.05)


def test_carbon(ref):
    """By hand: fresh 37.5 × 25 × 1.25 mm with 25 mm around: 8.75 × 7.5 × 5.125 cm less 1.171875 cm³ = 335.156 cm³."""
    found = next(a for a in amounts_of(ref, piece(coat(), metal=CLAY)).rows if a.unit == "cm³")
    assert found.band.value == pytest.approx(335.15625)


def test_a_clay_fired_in_the_open_needs_no_carbon(ref):
    assert all(a.unit != "cm³" for a in amounts_of(ref, piece(coat(), metal="fine-silver-clay")).rows)
    assert all(a.unit != "cm³" for a in amounts_of(ref, piece(coat())).rows)


def test_a_dome_has_more_area(ref):
    """By hand: a cap 3 mm high over a base of radius² 0.03·0.02/4 = 1.5e-4 m² has 1 + 9e-6/1.5e-4 = 1.06 its area."""
    assert face_area_m2(piece(shape="domed", rise_m=Band.exact(3e-3))).value == pytest.approx(5.3e-4)
    assert face_area_m2(piece()).value == 5e-4


def test_a_dome_stands_higher(ref):
    flat, domed = piece(metal=CLAY), piece(metal=CLAY, shape="domed", rise_m=Band.exact(3e-3))
    metal = ref.metal(CLAY)
    assert fresh_depth_m(domed, metal).value == pytest.approx(fresh_depth_m(flat, metal).value + 3e-3)


def test_what_cannot_be_weighed_is_said(store):
    class Bare(Reference):
        def glass(self, key):
            glass = super().glass(key)
            return replace(glass, values=tuple(v for v in glass.values if v.property != "density"))

    with Bare(store) as ref:
        found = amounts_of(ref, piece(coat()))
    assert len(found.missing) == 1
    assert GLASS in found.missing[0]
    assert all(a.key != GLASS for a in found.rows)


@pytest.mark.parametrize("change", [{"area_given_m2": 6e-4}, {"quantity": 2}])
def test_everything_on_the_piece_grows_with_it(ref, change):
    small, large = (amount(amounts_of(ref, piece(coat(), **c)), GLASS) for c in ({}, change))
    assert large.band.value > small.band.value


def test_every_amount_has_sources_of_the_store(ref):
    found = amounts_of(ref, piece(coat(), Step(2, "leaf", leaf="fine-silver-foil"), metal=CLAY, shape="domed"))
    known = {s.key for s in ref.sources()}
    for row in found.rows:
        assert row.sources
        assert set(row.sources) <= known


def test_what_the_stock_falls_short_of_is_told(store, tmp_path, monkeypatch):
    """A jar with less than the low end is short, one between may be short, one above is enough."""
    from dataclasses import replace

    from pieces import piece

    from refdb.plan.amounts import amounts_of
    from refdb.store.reference import Reference

    class Stocked(Reference):
        left = 0.0

        def grams_left(self, key):
            return self.left

    with Stocked(store) as ref:
        one = piece(["clean front", "coat front clear-hard-lead-free 0.15", "fire 815"])
        row = next(r for r in amounts_of(ref, one).rows if r.key == "clear-hard-lead-free")
        assert row.short.startswith(f"{row.what} is short: 0 g left")
        assert row.as_dict()["short"] is True
        assert "may be short" in replace(row, left=row.band.value).short
        assert replace(row, left=row.band.high).short == ""
    with Reference(store) as ref:
        assert all(r.left is None for r in amounts_of(ref, one).rows)
