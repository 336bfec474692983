"""The curated rows against outside sources, and their coverage; read with the standard library alone."""

from __future__ import annotations

import csv
import itertools
import math
import re
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from refdb.records import WEAK_BASES
from refdb.science.sampling import from_band, restated
from refdb.store.schema import FILES, TABLE

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "data_sources"
HAND_MADE = [file for file in FILES if file.name != "answers.csv"]


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@cache
def figures() -> tuple[dict[str, str], ...]:
    """The rows of property_values.csv, those of a group of glasses once for each glass of it."""
    groups = defaultdict(list)
    for row in rows("glass_groups"):
        groups[row["glass_group"]].append(row["glass"])
    return tuple(
        r | {"material": m} for r in rows("property_values") for m in groups.get(r["material"], [r["material"]])
    )


def figure(material: str, prop: str, source: str | None = None) -> dict[str, str]:
    """The preferred row of a material's property, or its row from one source."""
    found = [
        r
        for r in figures()
        if r["material"] == material
        and r["property"] == prop
        and (r["source"] == source if source else r["preferred"] == "1")
    ]
    assert len(found) == 1, (material, prop, source)
    return found[0]


def number(material: str, prop: str, source: str | None = None) -> float:
    return float(figure(material, prop, source)["value"])


@cache
def points(material: str) -> dict[float, float]:
    return {float(r["temp_c"]): float(r["strain_ppm"]) for r in rows("expansion_points") if r["material"] == material}


def mean(material: str, temp_c: float) -> float:
    """Mean expansion from 20 °C in ppm/K."""
    return points(material)[temp_c] / (temp_c - 20.0)


def integral(slope: Callable[[float], float], low: float, high: float) -> float:
    """Trapezium rule, fine enough for ppm."""
    n = 400
    step = (high - low) / n
    return step * (sum(slope(low + i * step) for i in range(1, n)) + (slope(low) + slope(high)) / 2)


# Outside sources

ELEMENTS = {
    "copper-sheet": "Cu",
    "fine-silver-sheet": "Ag",
    "gold-24k": "Au",
    "platinum-sheet": "Pt",
    "palladium-sheet": "Pd",
    "nickel-sheet": "Ni",
    "titanium-sheet": "Ti",
    "aluminium-sheet": "Al",
}


@pytest.mark.parametrize(("material", "symbol"), sorted(ELEMENTS.items()))
def test_density_of_the_elements(material: str, symbol: str) -> None:
    """periodictable prints three or four figures; annealed and rolled stock differ by up to 0.7 %."""
    periodictable = pytest.importorskip("periodictable")
    assert number(material, "density") == pytest.approx(1000 * getattr(periodictable, symbol).density, rel=0.007)


@pytest.mark.parametrize(
    ("material", "kelvin"), [("copper-sheet", 1357.77), ("fine-silver-sheet", 1234.93), ("gold-24k", 1337.33)]
)
def test_melting_points_are_fixed_points_of_its_90(material: str, kelvin: float) -> None:
    """International Temperature Scale of 1990, table 1: freezing points of Cu, Ag and Au, to 0.06 K."""
    assert number(material, "solidus") == pytest.approx(kelvin - 273.15, abs=0.06)


@pytest.mark.parametrize(
    ("material", "celsius"),
    [("platinum-sheet", 1768.2), ("palladium-sheet", 1554.8), ("nickel-sheet", 1455.0), ("titanium-sheet", 1668.0)],
)
def test_melting_points_of_other_elements(material: str, celsius: float) -> None:
    """CRC Handbook of Chemistry and Physics, melting points of the elements, rounded to 1 K."""
    assert number(material, "solidus") == pytest.approx(celsius, abs=1.0)


def test_silver_on_copper_melts_at_the_eutectic() -> None:
    """NIST Ag-Cu phase diagram: 779.1 °C; the usual handbook figure is 779 °C, hence 1 K."""
    melts = [
        float(r["first_melts_c"])
        for r in rows("contacts")
        if {r["metal_a"], r["metal_b"]} == {"Ag", "Cu"} and r["source"] in ("nist-agcu", "calphad-agcu")
    ]
    assert len(melts) == 2
    assert melts == pytest.approx([779.0, 779.0], abs=1.0)


def test_copper_against_the_certified_fit() -> None:
    """NIST StRD Hahn1, certified parameters b1 to b7 (expansion in 1e-6/K, T in K), 293-773 K, ±0.3 ppm/K."""
    b1, b2, b3, b4, b5, b6, b7 = (
        1.0776351733e00,
        -1.2269296921e-01,
        4.0863750610e-03,
        -1.4262662514e-06,
        -5.7609940901e-03,
        2.4053735503e-04,
        -1.2314450199e-07,
    )

    def slope(k: float) -> float:
        return (b1 + b2 * k + b3 * k**2 + b4 * k**3) / (1 + b5 * k + b6 * k**2 + b7 * k**3)

    for temp_c in (100.0, 200.0, 300.0, 400.0, 500.0):
        expected = integral(slope, 293.15, temp_c + 273.15) / (temp_c - 20)
        assert mean("copper-sheet", temp_c) == pytest.approx(expected, abs=0.3)


def check_means(material: str, tolerance: float, text: str) -> None:
    """Compare with means from 20 °C written as temperature:mean."""
    table = {float(t): float(m) for t, m in (pair.split(":") for pair in text.split())}
    assert {t: mean(material, t) for t in table} == pytest.approx(table, abs=tolerance)


def test_copper_against_lattice_parameters() -> None:
    """Wang & Reeber 1996, means 20-T, ±0.2 ppm/K (the spread between sources)."""
    check_means(
        "copper-sheet", 0.2, "100:17.01 200:17.42 300:17.8 400:18.17 500:18.53 600:18.9 700:19.27 800:19.65 900:20.04"
    )


def test_silver_against_an_equation_of_state() -> None:
    """Dorogokupets & Oganov 2007 at zero pressure, means 20-T, ±0.4 ppm/K (the spread between sources)."""
    check_means(
        "fine-silver-sheet",
        0.4,
        "100:19.14 200:19.59 300:20.05 400:20.51 500:20.99 600:21.5 700:22.05 800:22.63 900:23.27",
    )


def test_gold_against_an_equation_of_state() -> None:
    """Dorogokupets & Oganov 2007 at zero pressure, means 20-T, ±0.4 ppm/K."""
    check_means(
        "gold-24k", 0.4, "100:14.29 200:14.58 300:14.86 400:15.15 500:15.46 600:15.78 700:16.11 800:16.48 900:16.88"
    )


def test_platinum_against_its_table() -> None:
    """Arblaster 2006, means 20-T evaluated apart from this project, printed to 0.01 ppm/K."""
    check_means(
        "platinum-sheet", 0.01, "100:9.06 200:9.20 300:9.33 400:9.45 500:9.57 600:9.70 700:9.83 800:9.97 900:10.12"
    )


def test_carbon_steel_against_the_standard() -> None:
    """EN 1993-1-2:2005, 3.4.1.1, below 750 °C; the equation is 1.6 ppm off zero at 20 °C."""
    for temp_c, strain in points("low-carbon-steel").items():
        expected = 1.2e-5 * temp_c + 0.4e-8 * temp_c**2 - 2.416e-4
        assert strain == pytest.approx(1e6 * expected, abs=2.0)


def test_carbon_steel_against_a_second_code() -> None:
    """ASME BPVC II-D 2001 table TE-1, column B: 8.1e-6 per °F to 1000 °F; the codes differ by 0.6 ppm/K."""
    at_538 = points("low-carbon-steel")[550] * (538 - 20) / (550 - 20)
    assert at_538 / (538 - 20) == pytest.approx(8.1 * 1.8, abs=0.6)


def test_titanium_against_a_data_sheet() -> None:
    """Commercially pure titanium, printed 9.2 over 0-315 and 9.7 over 0-540 °C, ±0.35 ppm/K."""
    check_means("titanium-sheet", 0.35, "300:9.2 550:9.7")


@pytest.mark.parametrize(
    ("material", "expected"), [("gilding-90-10", 18.4), ("brass-85-15", 18.7), ("brass-70-30", 19.9)]
)
def test_copper_alloys_meet_their_measured_point(material: str, expected: float) -> None:
    """Data sheets of UNS C22000, C23000 and C26000: mean 20-300 °C, printed to 0.1 ppm/K."""
    assert mean(material, 300) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(("material", "expected"), [("stainless-304", 18.4), ("stainless-430", 11.4)])
def test_stainless_steels_meet_their_printed_point(material: str, expected: float) -> None:
    """Data sheets: means 0-538 °C; from 20 °C they are at most 0.1 ppm/K higher."""
    assert mean(material, 500) == pytest.approx(expected, abs=0.15)


def test_sterling_begins_to_melt_between_eutectic_and_handbook() -> None:
    """ASM Handbook 2: solidus 802 °C; the Ag-Cu eutectic at 779 °C bounds segregated metal."""
    row = figure("sterling-sheet", "solidus")
    assert float(row["value"]) == pytest.approx(802, abs=2)
    assert float(row["low"]) == pytest.approx(779, abs=1)


def test_borosilicate_and_window_against_their_standards() -> None:
    """ISO 3585: 3.3e-6/K; EN 572-1: 9e-6/K, over 20-300 °C, each to half the last figure printed."""
    assert number("borosilicate-3-3", "expansion") == pytest.approx(3.3, abs=0.05)
    assert number("window-soda-lime", "expansion") == pytest.approx(9.0, abs=0.5)


# The rows among themselves


def test_preferred_expansion_of_a_metal_is_the_mean_of_its_points() -> None:
    for metal in rows("metals"):
        row = figure(metal["key"], "expansion")
        assert (float(row["temp_low_c"]), float(row["temp_high_c"])) == (20, 500), metal["key"]
        assert float(row["value"]) == pytest.approx(mean(metal["key"], 500), abs=0.05), metal["key"]
        assert float(row["low"]) < float(row["value"]) < float(row["high"]), metal["key"]


def test_points_rise_smoothly_and_stop_below_melting() -> None:
    for metal in rows("metals"):
        curve = sorted(points(metal["key"]).items())
        assert curve[0] == (20.0, 0.0)
        assert curve[-1][0] >= 600
        assert curve[-1][0] < number(metal["key"], "solidus")
        slopes = [(s1 - s0) / (t1 - t0) for (t0, s0), (t1, s1) in itertools.pairwise(curve)]
        assert all(5 < slope < 36 for slope in slopes), metal["key"]
        # a joint between two sources may not look like a change of the metal
        assert all(abs(b - a) < 0.12 * a for a, b in itertools.pairwise(slopes)), (metal["key"], slopes)


def test_points_file_is_current() -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "make_expansion_points.py"), "--check"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("file", HAND_MADE, ids=lambda f: f.name)
def test_file_is_tidy(file: object) -> None:
    """Header as in the schema, sorted by key, no key twice, no stray space, plain line ends."""
    name = file.name  # type: ignore[attr-defined]
    raw = (FOLDER / name).read_bytes()
    assert raw.decode("utf-8").endswith("\n")
    assert b"\r" not in raw
    table = rows(name.removesuffix(".csv"))
    assert list(table[0]) == [c.name for c in file.columns]  # type: ignore[attr-defined]
    assert all(v is not None and v == v.strip() for r in table for v in r.values())
    names = TABLE[next(iter(file.fills))].key  # type: ignore[attr-defined]
    keys = [tuple(float(r[n]) if n == "temp_c" else r[n] for n in names) for r in table]
    assert len(set(keys)) == len(keys)
    assert keys == sorted(keys)


def test_every_source_named_exists() -> None:
    known = {r["key"] for r in rows("sources")}
    for file in HAND_MADE:
        for row in rows(file.name.removesuffix(".csv")):
            if "source" in row:
                assert row["source"] in known, (file.name, row)


def test_what_is_only_remembered_says_so() -> None:
    memory = {r["key"] for r in rows("sources") if r["kind"] == "from memory"}
    for row in rows("property_values"):
        if row["source"] in memory:
            assert row["seen"] == "from memory", row
            assert row["basis"] in WEAK_BASES, row


def test_remembered_metal_figures_have_wide_bands() -> None:
    for row in rows("property_values"):
        if row["preferred"] == "1" and row["property"] in ("flow_stress", "hardening", "flow_ratio_500c"):
            low, high = float(row["low"]), float(row["high"])
            assert high / low >= 1.3, row


def test_rival_figures_stand_side_by_side() -> None:
    count = Counter((r["material"], r["property"]) for r in figures())
    preferred = Counter((r["material"], r["property"]) for r in figures() if r["preferred"] == "1")
    assert preferred == dict.fromkeys(count, 1)
    assert count["copper-sheet", "expansion"] >= 5
    assert count["copper-sheet", "youngs_modulus"] >= 2
    assert sum(n > 1 for n in count.values()) >= 80


METAL_NEEDS = (
    "expansion",
    "youngs_modulus",
    "poisson_ratio",
    "density",
    "solidus",
    "flow_stress",
    "hardening",
    "flow_ratio_500c",
    "least_thickness",
)
CLAY_NEEDS = ("shrinkage", "relative_density")
GLASS_NEEDS = ("youngs_modulus", "poisson_ratio", "density", "fuse_low", "fuse_high")
#: Pigments and old yellows of which no glass with a measured expansion was found.
WITHOUT_EXPANSION = {"painting-black", "red-brown-painting", "yellow-opaque-antimony"}


def test_every_material_has_what_a_verdict_needs() -> None:
    have = defaultdict(set)
    for row in figures():
        if row["preferred"] == "1":
            have[row["material"]].add(row["property"])
    for metal in rows("metals"):
        needs = METAL_NEEDS + (CLAY_NEEDS if metal["form"] == "clay" else ())
        assert not set(needs) - have[metal["key"]], metal["key"]
    for glass in rows("glasses"):
        assert not set(GLASS_NEEDS) - have[glass["key"]], glass["key"]
        without = {"expansion", "set_point"} - have[glass["key"]]
        assert bool(without) == (glass["key"] in WITHOUT_EXPANSION), glass["key"]
    for leaf in rows("leaf"):
        assert not {"leaf_thickness", "solidus"} - have[leaf["key"]], leaf["key"]


def test_expansion_of_a_glass_is_linear_over_20_to_400() -> None:
    for glass in rows("glasses"):
        if glass["key"] not in WITHOUT_EXPANSION:
            row = figure(glass["key"], "expansion")
            assert (float(row["temp_low_c"]), float(row["temp_high_c"])) == (20, 400)
            assert 2.5 < float(row["low"]) < float(row["high"]) <= 16


#: Ranges that are no percentiles of a class: a standard's, and two that were judged.
NO_PERCENTILES = {"borosilicate-3-3", "opal-lead-free", "white-painting"}


def test_class_ranges_of_eight_tenths_are_stored_as_bands_of_nine() -> None:
    """Of an even spread on either side of the median a tenth lies beyond each printed end, and so it is drawn."""
    held = 0
    for glass in rows("glasses"):
        if glass["key"] in WITHOUT_EXPANSION | NO_PERCENTILES:
            continue
        row = figure(glass["key"], "expansion")
        if row["source"] not in ("sciglass-2019", "zubekhin-2001"):
            continue
        printed = re.fullmatch(r"([\d.]+) \(([\d.]+)-([\d.]+)\)", row["as_printed"])
        assert printed, glass["key"]
        value, *ends = map(float, printed.groups())
        band = [float(row[name]) for name in ("low", "high")]
        assert band == [pytest.approx(x, abs=0.006) for x in restated(value, *ends, 0.8)], glass["key"]
        drawn = from_band((np.arange(1000) + 0.5) / 1000, value, *band)
        for beyond in (drawn < ends[0], drawn > ends[1]):
            assert float(beyond.mean()) == pytest.approx(0.1, abs=0.005), glass["key"]
        held += 1
    assert held >= 30


def test_only_published_classes_claim_more_than_weak_evidence() -> None:
    firm = {
        g["key"]
        for g in rows("glasses")
        if g["key"] not in WITHOUT_EXPANSION and figure(g["key"], "expansion")["basis"] not in WEAK_BASES
    }
    assert firm == {
        "clear-hard-lead-free",
        "clear-medium-lead-free",
        "steel-ground-coat",
        "steel-cover-coat-titania",
        "steel-cover-coat-zirconia",
        "window-soda-lime",
        "borosilicate-3-3",
        "lead-crystal-24",
    }


def test_set_points_leave_thirty_kelvin_each_way() -> None:
    for glass in rows("glasses"):
        if glass["key"] not in WITHOUT_EXPANSION:
            row = figure(glass["key"], "set_point")
            assert float(row["low"]) <= float(row["value"]) - 30, glass["key"]
            assert float(row["high"]) >= float(row["value"]) + 30, glass["key"]


def test_clay_families_have_their_schedules() -> None:
    scheduled = {r["clay_family"] for r in rows("firing_phases")}
    assert {m["clay_family"] for m in rows("metals") if m["form"] == "clay"} <= scheduled
    copper = {
        r["clay_family"]: r
        for r in rows("firing_phases")
        if r["enamel"].startswith("yes") and r["clay_family"].startswith("copper")
    }
    assert copper["copper, carbon-fired"]["carbon_mm"] == "25"
    assert copper["copper, open-fired"]["carbon_mm"] == ""


def test_schedules_are_ranges_of_the_trade_and_no_leaflet() -> None:
    """No kind of one maker: ends in whole tens or fives, none turned from a round figure in °F, a band, no numbers
    in names; a phase of a leaflet would be one heat and one time."""
    for row in rows("firing_phases"):
        low, high = float(row["temp_low_c"]), float(row["temp_high_c"])
        assert low % 5 == high % 5 == 0, row["key"]
        assert high - low >= 30, row["key"]
        assert float(row["hold_high_min"]) >= 1.3 * float(row["hold_low_min"]), row["key"]
        assert not re.search(r"\d|kind|formula", row["schedule"]), row["key"]
        assert not re.search(r"-\d{3}$", row["key"]), row["key"]


def test_leaf_that_melts_below_the_fire_does_not_suit() -> None:
    for leaf in rows("leaf"):
        if number(leaf["key"], "solidus") < 815:
            assert leaf["suited"] == "does not suit", leaf["key"]
    assert {r["key"] for r in rows("leaf") if r["suited"] == "suits"} >= {"fine-silver-foil", "gold-foil-24k"}


def test_areal_mass_is_thickness_times_density() -> None:
    """Gold leaf of 0.1 µm weighs about 2 g a square metre (a common reference figure), so 0.115 µm 2.2 g."""
    assert number("gold-leaf-24k", "areal_mass") * 10 == pytest.approx(2.2, abs=0.1)  # mg/cm² to g/m²


def test_solders_begin_before_they_end() -> None:
    melting = [
        (float(r["solidus_c"]), float(r["liquidus_c"])) for r in rows("solders") if r["solidus_c"] and r["liquidus_c"]
    ]
    assert len(melting) >= 45
    assert all(low <= high for low, high in melting)
    assert math.isclose(next(float(r["solidus_c"]) for r in rows("solders") if r["key"] == "bag-8"), 779, abs_tol=1)


def test_no_caution_advises_quenching_glass() -> None:
    rule = next(r for r in rows("practice_rules") if r["key"] == "never-quench-glass")
    assert not rule["low"]
    assert not rule["high"]
    for row in (*rows("practice_rules"), *rows("hazards"), *rows("firing_phases"), *rows("faults")):
        for text in " ".join(row.values()).split(". "):
            if "quench" in text.lower():
                assert any(w in text.lower() for w in ("bare", "never")), text


@cache
def materials() -> dict[str, list]:
    """The materials as records, from the rows, without their figures."""
    from refdb.records import Glass, Metal

    made: dict[str, list] = {}
    for kind, name in ((Glass, "glasses"), (Metal, "metals")):
        own = kind.__dataclass_fields__
        made[name] = [kind(**{k: v for k, v in r.items() if k in own}) for r in rows(name)]
    return made


#: A glass known by its composition alone, of which the store holds no class.
WITHOUT_A_CLASS = {"steel-ground-unknown"}


def test_every_selector_can_be_read_and_picks_something() -> None:
    from refdb.judge.selectors import matches

    for row in (*rows("fit_rules"), *rows("colour_reactions")):
        picked = [g.key for g in materials()["glasses"] if matches(row["glass"], g)]
        assert bool(picked) != (row["key"] in WITHOUT_A_CLASS), row["key"]
    for row in rows("fit_rules"):
        assert [m.key for m in materials()["metals"] if matches(row["metal"], m)], row["key"]
    for row in rows("colour_reactions"):
        kind, _, words = row["ground"].partition(" ")
        if kind == "glass":
            assert [g.key for g in materials()["glasses"] if matches(words, g)], row["key"]


def test_colours_on_bare_metal_agree_with_the_rules_of_fit() -> None:
    """Neither refuses what the other passes: nothing that a fused clear cures is refused for its colour."""
    for row in rows("colour_reactions"):
        if row["ground"].split()[0] in ("metal", "alloy", "leaf", "wire"):
            assert row["outcome"] != "does not suit", row["key"]
        if row["outcome"] != "suits":
            assert row["remedy"], row["key"]


def test_every_cause_of_a_fault_names_rules_of_a_verdict_or_says_that_none_can_tell() -> None:
    from refdb.judge.rules import NOT_IN_FILE, keys_known

    known = keys_known(*([r["key"] for r in rows(name)] for name in ("fit_rules", "colour_reactions")))
    named = {w.strip() for r in rows("faults") for w in r["rules"].split(";") if r["rules"] != NOT_IN_FILE}
    assert named <= known
    assert {"tension-lasting", "gap", "one-face", "kiln-hot", "pull-through", "damp-coat", "clean-metal"} <= named


def test_observed_firings_lie_near_the_range_of_their_glass() -> None:
    for row in rows("observed_firings"):
        low, high = (number(row["material"], end) for end in ("fuse_low", "fuse_high"))
        assert low - 30 <= float(row["kiln_c"]) <= high + 30, row["key"]
        assert 1 <= float(row["minutes"]) <= 5, row["key"]


def test_coverage() -> None:
    assert len(rows("metals")) >= 45
    assert sum(m["form"] == "cast" for m in rows("metals")) >= 5
    assert len(rows("glasses")) >= 32
    assert len(rows("leaf")) >= 14
    assert len({(r["metal_a"], r["metal_b"]) for r in rows("contacts")}) >= 40
    assert len(rows("hazards")) >= 30
    assert len(rows("colour_reactions")) >= 40
    assert len({r["symptom"] for r in rows("faults")}) >= 25
    assert len(rows("faults")) >= 90
    assert len(rows("exposure_limits")) >= 25
    assert len(rows("practice_rules")) >= 100
    assert {
        "copper",
        "silver",
        "gilding metal",
        "brass",
        "bronze",
        "gold",
        "steel",
        "coated steel",
        "cast iron",
        "stainless steel",
        "titanium",
        "nickel",
        "nickel silver",
        "aluminium",
        "platinum",
        "palladium",
    } == {m["family"] for m in rows("metals")}


def test_every_source_has_a_short_name_of_its_own_that_fits_a_line():
    names = [r["name"] for r in rows("sources")]
    assert all(names)
    assert len({n.casefold() for n in names}) == len(names)
    assert max(map(len, names)) <= 40
    keys = {r["key"] for r in rows("sources")}
    assert not [n for n in names if n in keys or re.search(r"(?i)title not checked|forum|blog|\.com", n)]
