"""What cannot be is refused in the curated rows themselves: one wrong cell at a time, and the nearest right one taken.

The expected refusals are physics and arithmetic (melting points, sums, densities of the elements) and the rows' own
words; none of the wrong cells was ever in the data.
"""

from __future__ import annotations

import sys
from functools import cache

import pytest
from conftest import ROOT

sys.path.insert(0, str(ROOT / "scripts"))

import mutate_data

from refdb.curate.check import check
from refdb.curate.read import BadSources, Problems, Row
from refdb.curate.record import Records

PV = "property_values.csv"
Where = dict[str, str]


@cache
def sources() -> tuple[mutate_data.Rows, Records]:
    return mutate_data.read(mutate_data.FOLDER)


def told(file: str, where: Where, cells: dict[str, str]) -> list[str]:
    """What the build says when some cells of the one row found are changed; empty when it takes them."""
    rows, sound = sources()
    found = [i for i, row in enumerate(rows[file]) if all(row.cells[n] == text for n, text in where.items())]
    assert len(found) == 1, (file, where, len(found))
    changed = list(rows[file])
    old = changed[found[0]]
    changed[found[0]] = Row(old.file, old.line, {**old.cells, **cells})
    assert changed[found[0]] != old
    try:
        check({**rows, file: changed}, Problems(), sound, file)
    except BadSources as bad:
        return [problem.line for problem in bad.problems]
    return []


def figure(material: str, prop: str, **more: str) -> Where:
    return {"material": material, "property": prop, **(more or {"preferred": "1"})}


def key(text: str) -> Where:
    return {"key": text}


WRONG = [
    # a figure beyond its kind of material, printed so
    (PV, figure("copper-sheet", "density"), {"value": "894", "low": "", "high": "", "as_printed": "894"}, "cannot be"),
    (PV, figure("copper-sheet", "youngs_modulus"), {"unit": "MPa"}, "cannot be the youngs modulus of a metal"),
    (
        PV,
        figure("copper-sheet", "expansion"),
        {"property": "fuse_low"},
        "no row of copper-sheet, expansion is preferred",
    ),
    (PV, figure("window-soda-lime", "density"), {"property": "shrinkage", "unit": "percent"}, "a glass has no"),
    (PV, figure("copper-sheet", "solidus"), {"preferred": "0"}, "no row of copper-sheet, solidus is preferred"),
    (PV, figure("copper-sheet", "liquidus"), {"material": "gold-24k"}, "copper-sheet has no liquidus"),
    (PV, figure("copper-sheet", "density"), {"value": "8490", "low": ""}, "its elements make 8960"),
    (PV, figure("aluminium-sheet", "flow_stress"), {"low": "51"}, "it is above high"),
    (PV, figure("aluminium-sheet", "flow_stress"), {"low": "16"}, "is not what is printed"),
    (PV, figure("copper-sheet", "youngs_modulus"), {"as_printed": "241"}, "is not what is printed"),
    # orders and rivals
    (PV, figure("brass-70-30", "solidus"), {"value": "961", "high": "965", "low": "", "as_printed": "961"}, "liquidus"),
    (PV, figure("sterling-sheet", "solidus"), {"high": "902"}, "a solidus up to 902"),
    (
        PV,
        figure("fine-silver-sheet", "solidus"),
        {"value": "1763", "low": "", "high": "", "as_printed": "1763"},
        "line",
    ),
    (PV, figure("opal-lead-free", "fuse_low"), {"value": "762", "as_printed": "762"}, None),
    (PV, figure("opal-lead-free", "fuse_high"), {"value": "759", "as_printed": "759"}, "kiln settings from"),
    ("glasses.csv", key("clear-hard-lead-free"), {"hardness": "soft"}, "it is called 'hard'"),
    ("glasses.csv", key("steel-ground-coat"), {"hardness": "soft"}, "the middle of its kiln settings is"),
    (
        PV,
        figure("lead-crystal-24", "set_point"),
        {"value": "602", "low": "", "high": "", "as_printed": "602"},
        "a coat sets",
    ),
    (PV, figure("window-soda-lime", "set_point"), {"value": "500", "low": "", "as_printed": "500-600"}, "a coat sets"),
    (PV, figure("painting-black", "fuse_low"), {"value": "700", "as_printed": "700"}, "kiln settings is 750"),
    (
        PV,
        figure("clear-soft-lead-free", "set_point"),
        {"value": "436", "as_printed": "436 (409-602)"},
        "its published glasses compute to",
    ),
    (PV, figure("copper-sheet", "solidus"), {"unit": "kelvin"}, "no metal here melts over more than 215 K"),
    (PV, figure("sterling-clay", "solidus"), {"unit": "kelvin"}, "no metal here melts over more than 215 K"),
    (PV, figure("stainless-304", "solidus"), {"unit": "degF"}, "no metal here melts over more than 215 K"),
    (PV, figure("fine-silver-foil", "solidus"), {"unit": "degF"}, "nothing of Ag melts below 901.8"),
    (PV, figure("brass-leaf", "solidus"), {"unit": "degF"}, "nothing of Cu and Zn melts below"),
    (PV, figure("gold-leaf-double", "solidus"), {"unit": "degF"}, "melts below"),
    (PV, figure("paillons", "solidus"), {"unit": "kelvin"}, "nothing of Au and Ag melts below 901"),
    # alloys and their elements
    ("metals.csv", key("brass-70-30"), {"alloy": "Cu 90, Zn 30 (UNS C26000)"}, "the shares add up to 120"),
    ("metals.csv", key("brass-70-30"), {"alloy": "Cu 85, Zn 15"}, "the composition holds 15 % Zn"),
    ("metals.csv", key("brass-70-30"), {"alloy": "Cu 70, Zm 30"}, "no element has the symbol 'Zm'"),
    ("metals.csv", key("brass-70-30"), {"family": "bronze"}, "is no bronze"),
    ("metals.csv", key("fine-silver-sheet"), {"bare_surface": "chromia"}, "on an alloy without Cr"),
    ("metals.csv", key("gold-18k-yellow"), {"alloy": "Au 58.5, Ag 21.5, Cu 20"}, "18 carat is 75.0 %"),
    ("metals.csv", key("sterling-sheet"), {"alloy": "Ag 92.5, Zn 7.5"}, "has no zinc content"),
    ("metals.csv", key("copper-clay"), {"clay_family": "copper"}, "no schedule fires 'copper'"),
    (
        PV,
        figure("gold-22k-yellow", "density"),
        {"value": "15400", "low": "", "high": "", "as_printed": "15400"},
        "its elements",
    ),
    ("elements.csv", {"symbol": "Cu"}, {"melts_c": "1984"}, "yet copper-sheet has 1084.6"),
    ("elements.csv", {"symbol": "Zn"}, {"symbol": "Zr"}, "nothing here is made of Zr"),
    ("leaf.csv", key("gold-leaf-22k"), {"fineness": "750"}, "22 carat is 917"),
    ("leaf.csv", key("fine-silver-foil"), {"suited": "does not suit"}, "'does not suit' of foil of Ag"),
    ("solders.csv", key("bag-5"), {"composition": "Ag45 Cu30 Zn35"}, "the shares add up to 110"),
    ("solders.csv", key("bag-5"), {"hazard": ""}, "it holds Zn, yet the hazard is 'blank'"),
    ("solders.csv", key("bag-3"), {"hazard": "zinc fume"}, "it holds Cd"),
    ("solders.csv", key("bag-5"), {"liquidus_c": "1370"}, "its elements melt up to"),
    ("solders.csv", key("bag-5"), {"solidus_c": "1251", "liquidus_c": "1369"}, "its elements melt up to"),
    ("solders.csv", key("bag-22"), {"solidus_c": "1259.6", "liquidus_c": "1290.2"}, "its elements melt up to 968"),
    ("solders.csv", key("bag-4"), {"solidus_c": "1239.8", "liquidus_c": "1434.2"}, "its elements melt up to 968"),
    ("solders.csv", key("soft-sac305"), {"liquidus_c": "424.4"}, "its elements melt up to"),
    ("solders.csv", key("soft-sn99cu1"), {"liquidus_c": "440.6"}, "its elements melt up to"),
    ("solders.csv", key("soft-sn95sb5"), {"solidus_c": "455", "liquidus_c": "464"}, "its elements melt up to 238"),
    ("metals.csv", key("nickel-silver"), {"alloy": "Cu 75-65, Ni 10-18, Zn 17-27"}, "75 to 65 % of Cu"),
    ("metals.csv", key("stainless-430"), {"alloy": "Fe, Cr 36-18 (AISI 430)"}, "36 to 18 % of Cr"),
    ("metals.csv", key("palladium-sheet"), {"alloy": "Pd 95-109.9"}, "95 to 109.9 % of Pd"),
    ("metals.csv", key("low-carbon-steel"), {"alloy": "Fe, C -4.92 or less"}, "a share of -4.92"),
    ("exposure_limits.csv", key("air-cadmium-uk"), {"value": "0.05"}, "0.05 stands neither first nor as the least"),
    ("exposure_limits.csv", key("air-nitrogen-dioxide-eu"), {"value": "1"}, "1 stands neither first"),
    ("practice_rules.csv", key("copper-hydrogen"), {"low": "750.2"}, "750.2"),
    ("practice_rules.csv", key("repair-tin"), {"low": "572", "high": "572"}, "572"),
    ("solders.csv", key("soft-sn63pb37"), {"solidus_c": "138"}, "Pb and Sn first melt together at 183"),
    # contacts
    (
        "contacts.csv",
        {"metal_a": "Ag", "metal_b": "Al"},
        {"first_melts_c": "1053", "low": "1040", "high": "1058"},
        "melt at 1053",
    ),
    (
        "contacts.csv",
        {"metal_a": "Ag", "metal_b": "Fe"},
        {"reaction": "eutectic", "metal_b": "Zn"},
        "first melt at 961",
    ),
    (
        "contacts.csv",
        {"metal_a": "Al", "metal_b": "Fe"},
        {"composition": "about 2 wt% Ti"},
        "'Ti' is neither in Al nor in Fe",
    ),
    ("contacts.csv", {"metal_a": "Ag", "metal_b": "Ni"}, {"metal_b": "Nj"}, "'Nj' is no metal here"),
    ("contacts.csv", {"metal_a": "Ag", "metal_b": "Ti"}, {"metal_b": "W"}, "where Ag on Ti first melts is not known"),
    # curves
    ("expansion_points.csv", {"material": "copper-sheet", "temp_c": "300"}, {"strain_ppm": "5194.9"}, "copper-sheet"),
    ("expansion_points.csv", {"material": "copper-sheet", "temp_c": "300"}, {"strain_ppm": "3900"}, "the slope"),
    ("expansion_points.csv", {"material": "copper-sheet", "temp_c": "300"}, {"temp_c": "302"}, "nothing between"),
    (
        "expansion_points.csv",
        {"material": "copper-sheet", "temp_c": "20"},
        {"material": "window-soda-lime"},
        "only metals have a curve",
    ),
    # classes of glass
    ("glasses.csv", key("clear-medium-leaded"), {"lead": "free"}, "it is called 'lead"),
    ("glasses.csv", key("red-opaque-cadmium"), {"cadmium": "free"}, "it is called 'cadmium'"),
    ("glasses.csv", key("lead-crystal-24"), {"lead": "free"}, "% of PbO"),
    ("glasses.csv", key("ruby-gold-transparent"), {"lead": "free"}, "the hazard is"),
    ("glasses.csv", key("blue-transparent-lead-free"), {"hazard": "cobalt and nickel dust"}, "the hazard names nickel"),
    ("glasses.csv", key("blue-transparent-lead-free"), {"optical": "opaque"}, "it is called 'transparent'"),
    ("glasses.csv", key("blue-transparent-lead-free"), {"wash": "no"}, "'no' for transparent glass"),
    ("glasses.csv", key("blue-transparent-lead-free"), {"family": "clears"}, "speaks of clears"),
    ("glasses.csv", key("painting-black"), {"undercoat": ""}, "a line work that"),
    (
        "sciglass/compositions.csv",
        {"glass": "zubekhin-2001-44", "component": "SiO2"},
        {"wt_pct": "45"},
        "yet the composition",
    ),
    (
        "sciglass/compositions.csv",
        {"glass": "zubekhin-2001-44", "component": "Na2O"},
        {"component": "CaO"},
        "zubekhin-2001-44",
    ),
    (
        "sciglass/reference_values.csv",
        {"glass": "azarov-leskov-1964-42-7", "property": "expansion"},
        {"value": "17.8"},
        "is computed",
    ),
    (
        "sciglass/estimates.csv",
        {"glass": "yatsenko-1998-48", "property": "density"},
        {"value": "2700"},
        "estimates.csv",
    ),
    # limits, amounts, schedules
    ("practice_rules.csv", key("mesh-80"), {"low": "17.7", "high": "18"}, "through 80 meshes to the inch"),
    ("practice_rules.csv", key("fire-setting"), {"low": "1400"}, "low"),
    ("practice_rules.csv", key("fire-setting"), {"unit": "min"}, "'kiln setting' in 'min'"),
    ("firing_phases.csv", key("silver-high"), {"temp_low_c": "1598", "temp_high_c": "1652"}, "clay is molten at"),
    ("firing_phases.csv", key("silver-high"), {"atmosphere": "carbon"}, "carbon around a piece"),
    ("known_pairs.csv", key("brass-black"), {"holds": "yes", "failure": ""}, "the rule brass-zinc refuses it"),
    ("known_pairs.csv", key("brass-black"), {"note": "fit_rules brass-zink"}, "did you mean brass-zinc?"),
    # rules, texts, sources
    ("fit_rules.csv", key("brass-zinc"), {"outcome": "suits"}, "a rule that warns of nothing"),
    ("fit_rules.csv", key("britannia-fire-stain"), {"metal": "key:britania-silver"}, "picks nothing that is here"),
    ("colour_reactions.csv", key("blue-gold"), {"ground": "metal silver"}, "the key speaks of gold"),
    (
        "practice_rules.csv",
        key("handle-edges"),
        {"statement": "After cleaning, touch only the edges"},
        "no whole sentence",
    ),
    ("practice_rules.csv", key("handle-edges"), {"topic": "Skin leaves grease."}, "a sentence where a word"),
    ("sources.csv", key("lu-2005"), {"year": "2050"}, "yet the key says 2005"),
    ("sources.csv", key("iso-17672"), {"kind": "paper"}, "keys of standards begin"),
    (
        PV,
        figure("copper-sheet", "expansion"),
        {"source": "timoshenko-1925"},
        "is not known to speak of expansion of metal",
    ),
    ("expansion_points.csv", {"material": "gold-24k", "temp_c": "300"}, {"seen": "read"}, "yet of its source only"),
    ("aliases.csv", {"alias": "0.999 silver", "record": "fine-silver-clay"}, {"place": "3"}, "count them 1, 2, 3"),
]


@pytest.mark.parametrize(("file", "where", "cells", "words"), WRONG)
def test_what_cannot_be_is_refused(file: str, where: Where, cells: dict[str, str], words: str | None) -> None:
    lines = told(file, where, cells)
    if words is None:
        assert lines == []
        return
    assert any(words in line for line in lines), lines or "taken"
    assert all(" line " in line and ", column " in line and "; " in line for line in lines)


@pytest.mark.parametrize(
    ("file", "where", "cells"),
    [
        (PV, figure("copper-sheet", "density"), {"value": "8930", "as_printed": "8930"}),
        (PV, figure("brass-70-30", "solidus"), {"value": "915", "as_printed": "915"}),
        (PV, figure("copper-foil", "solidus"), {"value": "1083", "as_printed": "1083"}),
        ("metals.csv", key("brass-70-30"), {"alloy": "Cu 69.5, Zn 30.5 (UNS C26000)"}),
        ("solders.csv", key("bag-5"), {"solidus_c": "675", "liquidus_c": "745"}),
        ("solders.csv", key("soft-sn95sb5"), {"solidus_c": "234", "liquidus_c": "241"}),
        ("metals.csv", key("nickel-silver"), {"alloy": "Cu 55-64, Ni 11-18, Zn 17-27 (UNS C77000)"}),
        ("exposure_limits.csv", key("air-manganese-eu"), {"value": "0.2"}),
        ("contacts.csv", {"metal_a": "Ag", "metal_b": "Al"}, {"first_melts_c": "566"}),
        ("expansion_points.csv", {"material": "gold-24k", "temp_c": "900"}, {"strain_ppm": "14955"}),
        ("glasses.csv", key("clear-for-silver"), {"wash": "optional"}),
        ("practice_rules.csv", key("handle-edges"), {"statement": "Once it is clean, touch only the edges."}),
        ("known_pairs.csv", key("brass-black"), {"front_mm": "0.25", "back_mm": "0.25"}),
    ],
)
def test_the_nearest_right_cell_is_taken(file: str, where: Where, cells: dict[str, str]) -> None:
    assert told(file, where, cells) == []


def test_looking_again_at_one_file_tells_what_looking_at_all_does() -> None:
    rows, sound = sources()
    again = check(rows, Problems(), sound, "property_values.csv")
    assert {name: len(found) for name, found in again.items()} == {name: len(found) for name, found in sound.items()}


def test_a_dropped_point_of_a_curve_and_a_dropped_component_are_missed() -> None:
    rows, sound = sources()
    for file, where in (
        ("expansion_points.csv", {"material": "copper-sheet", "temp_c": "300"}),
        ("sciglass/compositions.csv", {"glass": "zubekhin-2001-44", "component": "SiO2"}),
        (PV, figure("copper-sheet", "least_thickness")),
    ):
        left = [row for row in rows[file] if not all(row.cells[n] == text for n, text in where.items())]
        assert len(left) == len(rows[file]) - 1
        with pytest.raises(BadSources):
            check({**rows, file: left}, Problems(), sound, file)
