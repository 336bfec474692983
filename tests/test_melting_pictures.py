"""Silver against copper, and leaf against the kiln: the figures against what others found, the pictures against them.

Yardsticks: the diagram of NIST (1999), printed 779.1 °C and 71.6 % of silver; the melting points of the CRC Handbook;
`alloy_melting`, which solves the same assessment in another way; and the contacts that the store quotes. Common
practice: silver on bare copper runs in the usual kiln, and on fused glass it does not.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter

import pytest
from alloy_melting import melting_range
from browse_client import Asking

from refdb.judge.piece.rules_of_leaf import lowest_contact
from refdb.science.melting import COPPER_MELTS_C, SILVER_MELTS_C, melting_of, silver_copper

STERLING_COPPER = 7.5
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def view(answered_store):
    asking = Asking(answered_store)
    yield asking
    asking.close()


def drawn(page: str, key: str) -> ET.Element:
    """The picture whose title has this id, read as XML."""
    (svg,) = (s for s in re.findall(r"<svg.*?</svg>", page, re.DOTALL) if f'id="{key}-t"' in s)
    return ET.fromstring(svg)


def words_of(svg: ET.Element) -> str:
    return " ".join(t.text or "" for t in svg.iter() if t.tag.removeprefix(SVG) in ("text", "desc"))


def test_the_eutectic_is_the_published_one():
    found = silver_copper()
    assert found.eutectic_c == pytest.approx(779.1, abs=0.2)
    assert found.eutectic_copper == pytest.approx(100 - 71.6, abs=0.2)


def test_the_metals_alone_melt_as_the_handbook_says():
    assert pytest.approx((961.78, 1084.62), abs=0.1) == (SILVER_MELTS_C, COPPER_MELTS_C)
    assert melting_of(0.0) == (SILVER_MELTS_C, SILVER_MELTS_C)
    assert melting_of(100.0) == (COPPER_MELTS_C, COPPER_MELTS_C)


@pytest.mark.parametrize("copper", [1.0, 4.2, STERLING_COPPER, 98.0])
def test_alloys_melt_as_another_solver_finds(copper):
    """To 5 K, for between its points the diagram is straight."""
    assert melting_of(copper) == pytest.approx(melting_range({"Ag": 100 - copper, "Cu": copper}), abs=5)


@pytest.mark.parametrize("copper", [12.0, 28.0, 60.0, 90.0])
def test_between_the_two_solids_all_begins_at_the_eutectic(copper):
    begins, molten = melting_of(copper)
    assert begins == silver_copper().eutectic_c <= molten


@pytest.mark.parametrize("copper", [-0.1, 100.1, float("nan")])
def test_no_alloy_holds_less_than_nothing(copper):
    with pytest.raises(ValueError, match="copper"):
        melting_of(copper)


def test_the_solid_of_silver_holds_ever_less_copper_as_it_cools():
    line = silver_copper().solvus_silver
    assert [c for c, _ in line] == sorted((c for c, _ in line), reverse=True)
    assert line[0][0] == pytest.approx(silver_copper().most_in_silver)


@pytest.mark.parametrize(("key", "name"), [("sterling-sheet", "sterling"), ("britannia-silver", "britannia")])
def test_an_alloy_is_marked_where_its_own_solidus_stands(view, ref, key, name):
    page = view.get(f"/material/{key}").body
    told = words_of(drawn(page, "agcu"))
    band = ref.metal(key).band("solidus")
    assert f"begins to melt at {band.value:.0f} °C" in told or f"begins to melt at {band.value - 1:.0f} °C" in told
    assert name in told.lower()


@pytest.mark.parametrize("path", ["/material/copper-clay", "/material/fine-silver-sheet", "/practice/two-clays"])
def test_the_diagram_stands_where_silver_and_copper_may_meet(view, path):
    page = view.get(path).body
    told = words_of(drawn(page, "agcu"))
    assert "begin to melt at 779 °C" in told
    assert "760 to 815" in told
    assert '<th scope="row" class="n">28.4</th><td class="n">779</td><td class="n">779</td>' in page


@pytest.mark.parametrize("path", ["/material/brass-70-30", "/material/gold-24k", "/practice/drying"])
def test_the_diagram_stands_nowhere_else(view, path):
    assert 'id="agcu-t"' not in view.get(path).body


def test_a_leaf_is_drawn_where_the_store_says_it_melts(view, ref):
    page = view.get("/material/fine-silver-foil").body
    told = words_of(drawn(page, "heat"))
    assert "alone 962" in told
    assert "on copper 779" in told
    band = ref.leaf("fine-silver-foil").band("solidus")
    spots = [float(c.get("cx", "")) for c in drawn(page, "heat").iter() if c.get("class") == "spot"]
    # 132 to 322 are 500 to 1100 °C.
    assert spots == pytest.approx([132 + 190 * (band.value - 500) / 600], abs=0.1)


def test_every_leaf_has_its_row(view, ref):
    page = view.get("/clears").body
    table = page[page.index("Where leaf melts, and what glass wants") :]
    for leaf in ref.materials("leaf"):
        assert leaf.label.partition(",")[0].lower() in table.lower(), leaf.key


def test_the_chosen_metal_is_the_one_that_leaf_lies_on(view):
    page = view.get("/clears?leaf=gold-foil-24k&metal=fine-silver-clay").body
    assert "bare on fine silver clay" in page
    assert "bare on copper" not in page


def test_brass_leaf_holds_no_free_zinc(ref):
    """Zinc melts at 419.5 °C, brass with copper from its own solidus; silver on copper stays as it is."""
    contacts, copper = ref.contacts(), ref.metal("copper-sheet")
    assert lowest_contact(contacts, "Cu Zn", copper).first_melts_c > 900
    assert lowest_contact(contacts, "Ag", copper).first_melts_c == pytest.approx(779, abs=1)


@pytest.mark.parametrize("path", ["/clears", "/material/fine-silver-foil", "/material/sterling-clay"])
def test_no_name_on_a_page_is_given_twice(view, path):
    ids = Counter(re.findall(r'\sid="([^"]+)"', view.get(path).body))
    assert [name for name, count in ids.items() if count > 1] == []


@pytest.mark.parametrize("key", ["fine-silver-clay", "copper-clay", "copper-clay-open", "sterling-clay"])
def test_rival_schedules_of_a_clay_stand_under_each_other(view, ref, key):
    """Each schedule of the clay's family by its name, each hold with its own least and most, and no other family's."""
    page = view.get(f"/material/{key}").body
    told = words_of(drawn(page, "ramps"))
    family = ref.metal(key).clay_family
    for row in ref.rows("SELECT * FROM firing_phases"):
        held = f"{row['temp_low_c']:.0f} to {row['temp_high_c']:.0f} °C"
        if row["clay_family"] == family:
            assert row["schedule"].lower() in told.lower()
            assert held in told
            assert f"{row['hold_low_min']:.0f} to {row['hold_high_min']:.0f} min" in told
        elif held not in {
            f"{r['temp_low_c']:.0f} to {r['temp_high_c']:.0f} °C"
            for r in ref.rows("SELECT * FROM firing_phases WHERE clay_family = ?", family)
        }:
            assert held not in told


def test_a_speed_that_is_told_is_drawn_to_scale(view):
    """Burning off at 275 °C an hour to 315 °C takes an hour and nine minutes; the hold after it at least a quarter."""
    svg = drawn(view.get("/material/copper-clay").body, "ramps")
    ramp = next(p.get("d", "") for p in svg.iter() if p.get("class") == "wk" and "L" in p.get("d", ""))
    start, end = (float(part.split()[0]) for part in ramp[1:].split("L"))
    least = next(float(r.get("width", "")) for r in svg.iter() if r.get("class") == "gl")
    assert (end - start) / least == pytest.approx(315 / 275 / 0.25, rel=0.02)


def test_no_schedule_is_drawn_for_a_metal_that_is_no_clay(view):
    assert 'id="ramps-t"' not in view.get("/material/copper-sheet").body
