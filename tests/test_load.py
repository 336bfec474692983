"""A heavy load in a small kiln: against the balance of heat, an integration coded apart, and what the trade sees."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pieces import piece

from refdb.errors import BadInput
from refdb.judge.piece.in_kiln import load_of, molten_under, whole_load
from refdb.judge.piece.states import walk
from refdb.judge.piece.steps import InKiln
from refdb.plan.load_text import in_kiln_of
from refdb.plan.piecefile import parse_piece
from refdb.plan.schedule import plan_of
from refdb.quantities.band import Band
from refdb.science.firing import load as loads
from refdb.science.firing.fluidity import class_curve
from refdb.science.firing.heating import Kiln, Rack, blank_of, heat_up
from refdb.science.firing.load import Load
from refdb.science.firing.maturing import maturing_minutes
from refdb.store.reference import Reference

COPPER = blank_of("copper", 1.0e-3, 8960.0, back_glass=True)
HARD = class_curve(815.0, 815.0, 815.0)
CLEAR = "clear-hard-lead-free"
BOWL = Load(0.040, 0.25)


def apart(load: Load, setting=815.0, drop=60.0, tau=60.0, glass_m=0.3e-3, until=240.0, step=0.02):
    """Copper of 1 mm and its rack in a kiln that a load pulls down, by plain Euler steps; °C of piece and kiln."""
    sigma, piece, rack, fall = 5.670374419e-8, 25.0, 25.0, drop
    stored, most = 0.6 * load.power_w, max(0.5 / 0.6, drop / tau)
    more, racks = max(load.area_m2 - 20e-4, 0.0), max(load.rack_kg - 0.12, 0.0) / 6.0
    found = []
    for n in range(round(until / step)):
        kiln = setting - fall
        k4, p4, r4 = ((x + 273.15) ** 4 for x in (kiln, piece, rack))
        to_piece = sigma * (0.88 + 0.88 * 0.7) * (k4 - p4) + 24.0 * (kiln - piece)
        to_rack = 1.2 * (sigma * 0.8 * (k4 - r4) + 12.0 * (kiln - rack))
        across = sigma * 0.88 * 0.3 * (r4 - p4) + 5.0 * (rack - piece)
        heat = 8.96 * (385.0 + 0.094 * piece) + 2550.0 * 1050.0 * glass_m
        found.append((n * step, piece, kiln))
        fall += step * ((more * to_piece + racks * to_rack) / stored - min(fall / tau, most))
        piece += step * (to_piece + across) / heat
        rack += step * (to_rack - across) / (6.0 * 560.0)
    return np.array(found).T


@pytest.mark.parametrize("load", [BOWL, Load(0.012, 0.12), Load(0.0005, 0.6, 1200.0)])
def test_against_an_integration_coded_apart(load):
    """Euler steps of 0.02 s written for this test; within 1 K for the piece and for the kiln."""
    times, pieces, kilns = apart(load)
    found = heat_up(815.0, COPPER, 0.3e-3, Kiln(load=load))
    for second in (5.0, 20.0, 45.0, 90.0, 180.0, 235.0):
        assert np.interp(second, found.time_s, found.piece_c) == pytest.approx(np.interp(second, times, pieces), abs=1)
        assert np.interp(second, found.time_s, found.kiln_c) == pytest.approx(np.interp(second, times, kilns), abs=1)


def test_heat_is_neither_made_nor_lost():
    """A kiln without a fall or spare time to recover: what its lining gave is what the load beyond the usual took."""
    kiln = Kiln(0.0, 3600.0, None, Load(0.04, 0.0))
    found = heat_up(815.0, COPPER, 0.3e-3, kiln)
    took = 0.038 * np.interp(30.0, found.time_s, found.piece_c - 25.0) * (8.96 * (385.0 + 0.047 * 600) + 803.0)
    gave = (815.0 - np.interp(30.0, found.time_s, found.kiln_c)) * 0.6 * 2000.0
    assert gave == pytest.approx(took, rel=0.03)


def test_a_usual_load_changes_nothing_and_more_of_anything_delays():
    small = heat_up(815.0, COPPER, 0.3e-3, Kiln(load=Load(10e-4, 0.06)))
    plain = heat_up(815.0, COPPER, 0.3e-3)
    assert np.array_equal(small.piece_c, plain.piece_c)

    def gloss(load):
        return maturing_minutes(HARD, 815.0, COPPER, kiln=Kiln(load=load)).gloss.value

    assert gloss(Load(0.003, 0.12)) > gloss(Load(0.002, 0.12)) == gloss(None)
    assert gloss(Load(0.04, 0.4)) > gloss(BOWL) > gloss(Load(0.04, 0.25, 3600.0)) > gloss(None)


@pytest.mark.trade
def test_a_bowl_of_200_mm_takes_three_to_five_minutes_and_a_small_piece_half_of_that(ref):
    """Common practice: 3 to 5 min for a bowl, 1.5 to 3 for a small piece of the same copper in the same kiln."""

    def minutes(mm, rise):
        made = piece([f"coat front {CLEAR} 0.12", "fire 815"], mm=1.0, shape="domed", rise_m=Band.exact(rise * 1e-3))
        return plan_of(ref, replace(made, width_m=mm * 1e-3, height_m=mm * 1e-3)).firings[0].minutes.band.value

    assert 3.0 <= minutes(200.0, 50.0) <= 5.0
    assert 1.5 <= minutes(30.0, 3.0) <= 3.0


def test_figures_of_the_load_are_those_of_their_rows(store):
    """Each constant lies in the row of practice that it is told by."""
    with Reference(store) as ref:
        rows = {r["key"]: r for r in ref.rows("SELECT * FROM practice_rules WHERE key LIKE 'kiln-%'")}
    power = rows["kiln-power"]
    assert (power["low"] * 1e3, power["high"] * 1e3) == (loads.POWER_W[0], loads.POWER_W[2])
    assert power["low"] * 1e3 <= loads.POWER_W[1] <= power["high"] * 1e3
    assert (
        rows["kiln-rack"]["low"] * 10 <= loads.RACK_KG_PER_M2 == Rack().mass_kg_per_m2 <= rows["kiln-rack"]["high"] * 10
    )
    usual = rows["kiln-usual-load"]
    assert usual["low"] <= loads.USUAL_AREA_M2 * 1e4 <= usual["high"]
    assert f"{loads.USUAL_RACK_KG * 1e3:.0f} g" in usual["statement"]
    assert {r["source"] for r in (power, rows["kiln-rack"], usual)} == {"from-memory"}


def test_a_dome_is_warmed_along_its_surface():
    """A cap's face is π(r² + h²); by hand for a bowl of 200 mm and 60 mm deep, with 6 kg/m² of rack."""
    made = replace(piece(["fire 800"], shape="domed", rise_m=Band.exact(0.06)), width_m=0.2, height_m=0.2)
    load = whole_load(made)
    assert load.area_m2 == pytest.approx(np.pi * (0.1**2 + 0.06**2), rel=1e-3)
    assert load.rack_kg == pytest.approx(6.0 * load.area_m2)
    assert load_of(replace(made, width_m=0.02, height_m=0.02, rise_m=Band.exact(0.001))) is None
    assert whole_load(replace(made, in_kiln=InKiln(3000.0, 0.1, 3))).area_m2 == pytest.approx(3 * load.area_m2)


FILE = """
[piece]
width = "60 mm"
height = "40 mm"
{}
[base]
metal = "copper-sheet"
thickness = "0.8 mm"
{}
[[step]]
do = "coat"
glass = "clear-hard-lead-free"
thickness = "0.15 mm"
[[step]]
do = "fire"
kiln = "815 C"
"""


def test_a_file_says_kiln_and_load_and_the_plan_tells_them(ref):
    said = parse_piece(FILE.format("quantity = 6", '[kiln]\npower = "1.5 kW"\nrack = "300 g"\nat_once = 3'), ref)
    assert said.in_kiln == InKiln(1500.0, 0.3, 3)
    plan, plain = plan_of(ref, said), plan_of(ref, parse_piece(FILE.format("quantity = 6", ""), ref))
    assert plan.firings[0].minutes.band.value > plain.firings[0].minutes.band.value
    assert plan.as_dict()["load"] | {"rows": 0} == {
        "power_w": 1500.0,
        "rack_g": 300.0,
        "pieces_at_once": 3,
        "area_cm2": pytest.approx(3 * 18.85, abs=0.02),
        "given": ["power_w", "rack_g"],
        "rows": 0,
    }
    assert any("3 pieces in at once on a rack of 300 g in a kiln of 1.5 kW" in t.text for t in plan.times)
    assert any("for all 6 fired 3 at a time" in t.text for t in plan.times)
    usual = next(t for t in plain.times if "in at once" in t.text)
    assert "power and rack as is usual" in usual.text
    assert usual.source == "from-memory"
    assert plain.as_dict()["load"]["given"] == []


@pytest.mark.parametrize(
    ("kiln", "says"),
    [
        ('power = "2"', "has no unit"),
        ('power = "2 kg"', "kg"),
        ('power = "900 kW"', "no kiln for enamel"),
        ('rack = "heavy"', "rack"),
        ('rack = "900 kg"', "no small kiln"),
        ("at_once = 0", "at_once"),
        ('watts = "2 kW"', "not known here"),
    ],
)
def test_kilns_and_loads_that_cannot_be(ref, kiln, says):
    with pytest.raises(BadInput, match=says) as caught:
        parse_piece(FILE.format("", f"[kiln]\n{kiln}"), ref)
    assert "[kiln]" in caught.value.line


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("2 kW, rack 150 g, 4 at once", InKiln(2000.0, 0.15, 4)),
        ("4 pieces at once, 1800 W", InKiln(1800.0, None, 4)),
        ("rack none", InKiln(None, 0.0, 1)),
    ],
)
def test_kiln_and_load_as_typed(text, found):
    assert in_kiln_of(text) == found


@pytest.mark.parametrize("text", ["", "2 kW, 3 kW", "0 at once", "rack", "fast", "9999 at once"])
def test_kiln_and_load_that_cannot_be_read(text):
    with pytest.raises(BadInput, match="--load"):
        in_kiln_of(text)


def test_what_is_molten_beneath_ends_at_leaf_and_leaves_spots_out(ref):
    lines = [
        f"coat front {CLEAR} 0.2",
        "fire 815",
        "leaf gold-foil-24k",
        "fire 780",
        "coat front clear-medium-lead-free 0.12",
        "coat front opal-lead-free 0.12 part=0.1",
        "fire 790",
        "coat front clear-soft-lead-free 0.1",
        "fire 780",
    ]
    made = piece(lines)
    trail = walk(
        made,
        {k: ref.glass(k) for k in {s.glass for s in made.steps if s.glass}},
        {"gold-foil-24k": ref.leaf("gold-foil-24k")},
    )
    first, medium, opal, soft = trail.coats

    def under(coat):
        return [(glass.key, m) for glass, m in molten_under(trail, coat)]

    assert under(first) == under(medium) == []
    assert under(soft) == under(opal) == [("clear-medium-lead-free", pytest.approx(0.12e-3))]
