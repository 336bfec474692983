"""The command `estimate`: one composition, a file of them, and the verdict that may follow."""

from __future__ import annotations

import csv
import io
import json
import random
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refdb.cli import composition_file
from refdb.judge.fit.from_composition import KEY, figures_of, glass_of, suits_estimated
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE
from refdb.science.glass import estimate
from refdb.science.glass.composition import mole_percent, parse_composition
from refdb.store.reference import Reference

COPPER_ENAMEL = "SiO2 48, Na2O 13.6, K2O 10.4, B2O3 8, Al2O3 7, CaO 5, BaO 8"
LEADED = "SiO2 50, PbO 30, K2O 12, Na2O 4, B2O3 4"
TITANIA = "SiO2 46, B2O3 11, Na2O 22, TiO2 21"
FIELDS = {
    "expansion": "expansion_ppm_per_k expansion_low expansion_high",
    "glass_transition": "tg_c tg_low tg_high",
    "set_point": "set_point_c set_point_low set_point_high",
    "littleton_softening": "littleton_c littleton_low littleton_high",
    "gloss_setting": "gloss_c gloss_low gloss_high",
    "youngs_modulus": "youngs_modulus_pa youngs_modulus_low youngs_modulus_high",
    "poisson_ratio": "poisson_ratio poisson_low poisson_high",
    "density": "density_kg_m3 density_low density_high",
}


def fault(ran, *words: str, status: int = 2) -> None:
    """Check that a run told one line only, with these words."""
    assert ran.status == status, ran
    assert ran.out == ""
    assert ran.err.count("\n") == 1
    assert len(ran.err) < 420
    for word in words:
        assert word in ran.err


@pytest.mark.parametrize("text", [COPPER_ENAMEL, LEADED, TITANIA])
def test_the_numbers_are_those_of_the_estimate(refdb, store, text) -> None:
    found = estimate(parse_composition(text))
    body = json.loads(refdb("estimate", text, "--json").out)
    rows = {row["property"]: row for row in body["properties"]}
    assert set(rows) == set(FIELDS)
    with Reference(store) as ref:
        known = {s.key for s in ref.sources()}
    for name, fields in FIELDS.items():
        value, low, high = (getattr(found, field) for field in fields.split())
        assert (rows[name]["value"], rows[name]["low"], rows[name]["high"]) == (value, low, high)
        if value is not None:
            assert low < value < high
            assert rows[name]["source"] in known & set(body["sources"])
    assert body["weight_percent"] == found.weight_percent
    assert body["hardness"]["class"] == found.hardness
    assert body["warnings"] == list(found.warnings)


def test_the_page_shows_those_numbers(refdb) -> None:
    found = estimate(parse_composition(COPPER_ENAMEL))
    out = refdb("estimate", COPPER_ENAMEL).out
    for label, numbers, scale, form in (
        ("expansion 20 to 400 °C, ppm/K", FIELDS["expansion"], 1.0, ".1f"),
        ("glass transition, °C", FIELDS["glass_transition"], 1.0, ".0f"),
        ("set point, °C", FIELDS["set_point"], 1.0, ".0f"),
        ("Littleton softening point, °C", FIELDS["littleton_softening"], 1.0, ".0f"),
        ("gloss setting, °C", FIELDS["gloss_setting"], 1.0, ".0f"),
        ("Young's modulus, GPa", FIELDS["youngs_modulus"], 1e-9, ".1f"),
        ("density, kg/m³", FIELDS["density"], 1.0, ",.0f"),
    ):
        value, low, high = (format(getattr(found, n) * scale, form) for n in numbers.split())
        assert re.search(rf"{re.escape(label)} +{re.escape(value)}  {re.escape(low)} to {re.escape(high)} ", out)
    assert f"{found.expansion_appen_raw:.1f}" in out
    assert re.search(r"hardness class +hard  medium to very hard", out)
    assert "10^6.6 at 652 °C" in out
    assert "within" not in out


def test_studio_units_on_the_page_and_metric_in_json(refdb) -> None:
    found = estimate(parse_composition(COPPER_ENAMEL))
    assert f"{found.gloss_c * 1.8 + 32:.0f}" in refdb("estimate", COPPER_ENAMEL, "--units", "studio").out
    assert (
        refdb("estimate", COPPER_ENAMEL, "--units", "studio", "--json").out
        == refdb("estimate", COPPER_ENAMEL, "--json").out
    )


def test_unity_form_has_one_mole_of_fluxes(refdb) -> None:
    """Seger: moles of everything for one mole of R2O + RO; silica here is its mole per cent over that of fluxes."""
    unity = json.loads(refdb("estimate", COPPER_ENAMEL, "--json").out)["unity_form"]
    moles = mole_percent(parse_composition(COPPER_ENAMEL))
    assert sum(unity["fluxes"].values()) == pytest.approx(1.0)
    fluxes = sum(moles[name] for name in ("Na2O", "K2O", "CaO", "BaO"))
    assert unity["others"]["SiO2"] == pytest.approx(moles["SiO2"] / fluxes)
    assert set(unity["sesquioxides"]) == {"B2O3", "Al2O3"}


def test_moles_and_weights_of_one_glass_give_one_answer(refdb) -> None:
    moles = ", ".join(f"{name} {amount}" for name, amount in mole_percent(parse_composition(COPPER_ENAMEL)).items())
    by_moles = json.loads(refdb("estimate", moles, "--basis", "mol", "--json").out)["properties"]
    by_weight = json.loads(refdb("estimate", COPPER_ENAMEL, "--json").out)["properties"]
    for one, two in zip(by_moles, by_weight, strict=True):
        assert one["value"] == pytest.approx(two["value"], rel=1e-9)
    assert json.loads(refdb("estimate", moles, "--json").out)["properties"][0]["value"] != pytest.approx(
        by_weight[0]["value"], rel=1e-3
    )


def test_words_need_no_quotes(refdb) -> None:
    assert refdb("estimate", *COPPER_ENAMEL.split()).out == refdb("estimate", COPPER_ENAMEL).out


@pytest.mark.parametrize("setting", [{}, {"LC_ALL": "C"}, {"REFDB_UNITS": "studio"}])
@pytest.mark.parametrize(
    "arguments", [(COPPER_ENAMEL,), (LEADED, "--on", "sterling-sheet"), (TITANIA,), ("SiO2 100",), ("--help",)]
)
def test_no_line_is_wider_than_80_columns(refdb, monkeypatch, arguments, setting) -> None:
    for name, value in setting.items():
        monkeypatch.setenv(name, value)
    ran = refdb("estimate", *arguments)
    assert ran.err == ""
    assert [line for line in ran.out.splitlines() if len(line) > 80 or line != line.rstrip()] == []
    assert "LC_ALL" not in setting or ran.out.isascii()


def test_nothing_known_of_a_glass_is_told_and_not_called_an_answer(refdb) -> None:
    ran = refdb("estimate", "SiO2 100")
    assert ran.status == 5
    assert ran.out.count("outside the model") > 6
    assert refdb("estimate", COPPER_ENAMEL).status == 0
    assert refdb("estimate", TITANIA).status == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("SiO2 48, Na2O 13.6",), ("add up to 61.6", "98 to 102")),
        (("SiO2 0.48, Na2O 0.52",), ("add up to 1", "multiply by 100")),
        (("SiO2 60, Na2O -40",), ("Na2O is negative",)),
        (("SiO3 48, Na2O 52",), ("'SiO3'", "did you mean SiO2?")),
        (("Si 48, Na2O 52",), ("element", "SiO2")),
        (("SiO2 48, SiO2 52",), ("SiO2 stands twice",)),
        (("SiO2 48, silica 52",), ("SiO2 stands twice",)),
        (("Na2O 50, B2O3 50",), ("no SiO2", "silicate")),
        (("Na2O 50, K2O 50",), ("no SiO2",)),
        (("SiO2 0, Na2O 100",), ("no SiO2",)),
        (("SiO2 nan, Na2O 40",), ("an amount is missing beside 'SiO2'",)),
        (("SiO2 1e999, Na2O 40",), ("SiO2",)),
        (("",), ("the composition is empty",)),
        ((), ("the composition is empty",)),
        (("x" * 100_000,), ("100000 characters",)),
        (("SiO2 60, \udcff 40",), ("composition",)),
        (("SiO2 60\x00, Na2O 40",), ("composition",)),
        (("SiO2 48,5, Na2O 51.5",), ("decimal sign", "point")),
        (("SiO2 60, Na2O 40", "--basis", "vol"), ("--basis", "wt, mol")),
        (("SiO2 60, Na2O 40", "--front", "0.3mm"), ("--front", "--on METAL")),
        (("SiO2 60, Na2O 40", "--on", "copper-sheet", "--front", "5 kg"), ("--front", "unit")),
        (("SiO2 60, Na2O 40", "--on", "copper-sheet", "--front", "0", "--back", "0"), ("no glass on either face",)),
        (("SiO2 60, Na2O 40", "--csv"), ("--csv", "--from-csv")),
        (("SiO2 60, Na2O 40", "--check"), ("--check", "--from-csv")),
        (("SiO2 60, Na2O 40", "--json", "--csv"), ("--json and --csv",)),
        (("SiO2 60", "--from-csv", "x.csv"), ("exclude each other",)),
    ],
)
def test_a_composition_that_cannot_be(refdb, arguments, words) -> None:
    fault(refdb("estimate", *arguments), *words)


def test_a_metal_that_is_none(refdb) -> None:
    fault(refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheat"), "copper-sheet", status=3)


# The verdict that may follow


def test_the_verdict_is_that_of_the_record_made_of_the_estimate(refdb, store) -> None:
    from refdb.judge.fit.question import asked

    with Reference(store) as ref:
        question = asked(
            glass_of(estimate(parse_composition(COPPER_ENAMEL))),
            ref.metal("copper-sheet"),
            {"metal_thickness": "1 mm"},
            str,
        )
        verdict = suits_estimated(ref, question)
    ran = refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheet", "--metal-thickness", "1 mm", "--json")
    body = json.loads(ran.out)["on"]
    assert body == json.loads(json.dumps(verdict.as_dict()))
    assert body["question"]["glass"] == KEY
    assert body["question"]["glass_expansion"]["basis"] == "computed"
    assert ran.status == verdict.exit_status == 0


def test_the_verdict_says_that_the_expansion_is_computed(refdb) -> None:
    ran = refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheet", "--json")
    on = json.loads(ran.out)["on"]
    assert on["evidence"]["grade"] == "likeness"
    assert on["evidence"]["weakest"] == {"record": on["question"]["glass"], "property": "expansion"}
    assert on["evidence"]["words"] in " ".join(refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheet").out.split())


def test_the_whole_band_of_the_estimate_is_in_the_sample(refdb) -> None:
    """What goes through the plate has the band of the estimate (the sample's 5-95 % is read off 128 draws)."""
    found = estimate(parse_composition(COPPER_ENAMEL))
    numbers = json.loads(refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheet", "--json").out)["on"]["numbers"]
    sampled = numbers["glass_expansion_ppm_per_k"]
    assert sampled["low"] == pytest.approx(found.expansion_low, abs=0.05)
    assert sampled["high"] == pytest.approx(found.expansion_high, abs=0.05)
    assert numbers["set_point_c"]["high"] == pytest.approx(found.set_point_high, abs=2.0)
    assert numbers["kiln_low_c"]["value"] == pytest.approx(found.gloss_c, abs=1.0)


def test_what_is_outside_the_model_is_missing_by_name(refdb) -> None:
    ran = refdb("estimate", TITANIA, "--on", "low-carbon-steel", "--json")
    body = json.loads(ran.out)["on"]
    assert ran.status == 5
    assert body["verdict"] == UNSURE
    missing = " ".join(body["missing"])
    assert "fuse low" in missing
    assert "fuse high" in missing
    assert "expansion of glass" not in missing


def test_outcomes_differ_with_the_glass_and_set_the_exit_status(refdb) -> None:
    hard = "SiO2 62, Na2O 12, B2O3 12, Al2O3 6, CaO 8"
    hard_on_copper = refdb("estimate", hard, "--on", "copper-sheet", "--json")
    rich_on_steel = refdb(
        "estimate",
        "SiO2 44, Na2O 17.5, K2O 13.7, B2O3 4.8, Al2O3 7, CaO 5, BaO 8",
        "--on",
        "low-carbon-steel",
        "--json",
    )
    on_copper = refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheet", "--json")
    assert json.loads(on_copper.out)["on"]["verdict"] == SUITS
    assert on_copper.status == 0
    assert json.loads(rich_on_steel.out)["on"]["verdict"] == NOT
    assert rich_on_steel.status == 1
    assert json.loads(hard_on_copper.out)["on"]["verdict"] != SUITS
    assert hard_on_copper.status == {CARE: 0, NOT: 1, UNSURE: 5}[json.loads(hard_on_copper.out)["on"]["verdict"]]
    gap = json.loads(hard_on_copper.out)["on"]["numbers"]["gap_ppm"]["value"]
    assert gap > json.loads(on_copper.out)["on"]["numbers"]["gap_ppm"]["value"] + 1000


def test_lead_is_read_from_the_composition() -> None:
    leaded, free = (glass_of(estimate(parse_composition(text))) for text in (LEADED, COPPER_ENAMEL))
    assert (leaded.lead, leaded.cadmium) == ("contains", "free")
    assert free.lead == "free"
    assert glass_of(estimate({"SiO2": 60, "Na2O": 25, "CaO": 14, "CdS": 1})).cadmium == "contains"


def test_figures_leave_out_what_is_not_known() -> None:
    assert {"expansion", "set_point"} <= set(figures_of(estimate(parse_composition(TITANIA))))
    assert "fuse_low" not in figures_of(estimate(parse_composition(TITANIA)))
    assert all(f.basis == "computed" for f in figures_of(estimate(parse_composition(LEADED))).values())


# Many from a file

HEAD = ("SiO2", "Na2O", "K2O", "B2O3", "Al2O3", "CaO", "BaO")


def random_glass(rng: random.Random) -> list[float]:
    parts = [
        rng.uniform(40, 60),
        rng.uniform(5, 15),
        rng.uniform(5, 12),
        rng.uniform(2, 10),
        rng.uniform(1, 6),
        rng.uniform(1, 6),
        rng.uniform(0, 8),
    ]
    return [round(100 * part / sum(parts), 3) for part in parts]


@pytest.fixture
def written(tmp_path):
    def write(text: str | bytes):
        path = tmp_path / "glasses.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return str(path)

    return write


def test_ten_thousand_lines_with_bad_ones(refdb, written) -> None:
    rng = random.Random(1)
    spoilt = {
        "sum": lambda a: [a[0] - 20, *a[1:]],
        "negative": lambda a: [a[0] + 2 * a[1], -a[1], *a[2:]],
        "word": lambda a: [a[0], "much", *a[2:]],
        "short": lambda a: a[:3],
        "no silica": lambda a: [0, 100, 0, 0, 0, 0, 0],
        "infinite": lambda a: ["inf", *a[1:]],
        "open quote": lambda a: ['"' + str(a[0]), *a[1:]],
    }
    glasses, lines, bad = {}, [f"name,{','.join(HEAD)}"], set()
    for number in range(2, 10_002):
        amounts = random_glass(rng)
        if number % 97 == 5:
            kind = rng.choice(list(spoilt))
            bad.add(number)
            amounts = spoilt[kind](amounts)
        else:
            glasses[number] = amounts
        lines.append(f"g{number}," + ",".join(map(str, amounts)))
    path = written("\n".join(lines) + "\n")
    ran = refdb("estimate", "--from-csv", path, "--csv")
    assert ran.status == 2
    told = {int(found) for found in re.findall(r"^refdb: glasses\.csv line (\d+): ", ran.err, re.MULTILINE)}
    assert told == bad
    assert f"{len(glasses):,} good, {len(bad)} bad" in ran.err
    rows = {int(row["line"]): row for row in csv.DictReader(io.StringIO(ran.out))}
    assert set(rows) == set(glasses)
    for number in rng.sample(sorted(glasses), 40):
        found, row = estimate(dict(zip(HEAD, glasses[number], strict=True))), rows[number]
        assert row["name"] == f"g{number}"
        assert row["hardness"] == (found.hardness if found.gloss_c is not None else "")
        for column, value, digits in (
            ("expansion_20_400c_ppm_per_k", found.expansion_ppm_per_k, 2),
            ("expansion_20_400c_low_ppm_per_k", found.expansion_low, 2),
            ("set_point_high_c", found.set_point_high, 0),
            ("gloss_setting_c", found.gloss_c, 0),
            ("littleton_softening_c", found.littleton_c, 0),
            ("density_kg_per_m3", found.density_kg_m3, 0),
        ):
            assert (
                row[column] == ""
                if value is None
                else float(row[column]) == pytest.approx(value, abs=0.51 * 10**-digits)
            )
            assert (column in row["not_known"].split("; ")) == (value is None) or "low" in column or "high" in column
    kept = refdb("estimate", "--from-csv", path, "--csv", "--keep-good")
    assert kept.status == 0
    assert kept.out == ran.out
    checked = refdb("estimate", "--from-csv", path, "--check")
    assert checked.status == 2
    assert checked.out == f"{len(glasses):,} good, {len(bad)} bad\n"
    assert {int(n) for n in re.findall(r"^refdb: glasses\.csv line (\d+): ", checked.err, re.MULTILINE)} == bad


def test_forms_of_one_file_agree(refdb, written) -> None:
    path = written(f'name,{",".join(HEAD)}\none,48,13.6,10.4,8,7,5,8\n"two, too",60,20,,,,20,\n')
    rows = list(csv.DictReader(io.StringIO(refdb("estimate", "--from-csv", path, "--csv").out)))
    plain = json.loads(refdb("estimate", "--from-csv", path, "--json").out)
    assert plain["schema"] == "refdb/2"
    assert [row["name"] for row in plain["rows"]] == [row["name"] for row in rows] == ["one", "two, too"]
    for one, two in zip(rows, plain["rows"], strict=True):
        assert {k: float(v) for k, v in one.items() if k.endswith(("_c", "_k"))} == {
            k: v for k, v in two.items() if k.endswith(("_c", "_k"))
        }
    table = refdb("estimate", "--from-csv", path)
    assert table.err == ""
    assert re.search(r"one +12\.4 +10\.7-14\.0 +561 +844  hard", table.out)
    assert max(map(len, table.out.splitlines())) <= 80


def test_a_file_in_mole_per_cent(refdb, written) -> None:
    moles = mole_percent(parse_composition(COPPER_ENAMEL))
    path = written(f"{','.join(f'{name} mol%' for name in moles)}\n{','.join(map(str, moles.values()))}\n")
    ran = refdb("estimate", "--from-csv", path, "--basis", "mol", "--on", "copper-sheet", "--json")
    row = json.loads(ran.out)["rows"][0]
    assert row["expansion_20_400c_ppm_per_k"] == round(
        estimate(parse_composition(COPPER_ENAMEL)).expansion_ppm_per_k, 2
    )
    alone = json.loads(refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheet", "--json").out)["on"]
    assert row["confidence"] == alone["confidence"]


def test_oxygen_that_fluorine_replaces_may_be_taken_off_the_total(refdb, written) -> None:
    """Oxides and fluorine beside them: 6 % F stands for 2.5 % O, so 102.4 is 99.9."""
    amounts = {"SiO2": 56.4, "Na2O": 20, "CaO": 20, "F": 6}
    path = written(f"{','.join(amounts)}\n{','.join(map(str, amounts.values()))}\n66.4,20,20,0\n")
    ran = refdb("estimate", "--from-csv", path, "--json")
    assert re.findall(r"line (\d+):", ran.err) == ["3"]
    row = json.loads(ran.out)["rows"][0]
    assert row["density_kg_per_m3"] == round(estimate(amounts).density_kg_m3)


def test_a_file_is_judged_line_by_line(refdb, written) -> None:
    path = written(f"name,{','.join(HEAD)}\none,48,13.6,10.4,8,7,5,8\nstrange,90,5,5,,,,\n")
    rows = json.loads(refdb("estimate", "--from-csv", path, "--on", "copper-sheet", "--json").out)["rows"]
    alone = json.loads(refdb("estimate", COPPER_ENAMEL, "--on", "copper-sheet", "--json").out)["on"]
    assert (rows[0]["verdict"], rows[0]["confidence"]) == (alone["verdict"], alone["confidence"])
    assert rows[1]["verdict"] == UNSURE


@pytest.mark.parametrize(
    "text",
    [
        b"\xef\xbb\xbfname,SiO2,Na2O,CaO\r\nx,60,20,20\r\n",
        b"SiO2 wt%,Na2O (wt%),CaO_wt_pct\n60,20,20\n",
        b"Glass,silica,soda,lime\nx, 60 ,20,20",
        b"name,SiO2,Na2O,CaO\n\nx,60,20,20\n,,,\n\n",
        b"name,SIO2,na2o,CaO,PbO\nx,60,20,20,\n",
        b"\xef\xbb\xbfname;SiO2;Na2O;CaO\r\nx;60;20;20\r\n",
        b"name\tSiO2\tNa2O\tCaO\nx\t60\t20\t20\n",
        b'name;SiO2;Na2O;CaO\n"a; b";60;20;20\n',
    ],
)
def test_files_that_are_taken(refdb, written, text) -> None:
    ran = refdb("estimate", "--from-csv", written(text), "--json")
    assert ran.status == 0
    assert ran.err == ""
    expected = estimate({"SiO2": 60, "Na2O": 20, "CaO": 20}).expansion_ppm_per_k
    assert [r["expansion_20_400c_ppm_per_k"] for r in json.loads(ran.out)["rows"]] == [round(expected, 2)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", ("the file is empty", "header")),
        (b"name,SiO2,Na2O\n", ("no glass below its header", "glasses.csv")),
        (b"\xef\xbb\xbfname;SiO2;Na2O\n\n", ("no glass below its header", "glasses.csv")),
        (b"name;SiO3;Na2O\nx;60;40\n", ("glasses.csv line 1, the header", "SiO3")),
        (b"name,SiO3,Na2O\nx,60,40\n", ("SiO3", "did you mean SiO2?", "header")),
        (b"name,Si,Na2O\nx,60,40\n", ("element", "SiO2")),
        (b"name,SiO2,Na2O,silica\nx,60,40,0\n", ("SiO2 stands twice",)),
        (b"name,SiO2 mol%,Na2O\nx,60,40\n", ("--basis mol",)),
        (b"name\nx\n", ("no oxide is named",)),
        (b"\xff\xfen\x00", ("not UTF-8",)),
        (b"SiO2," * 300, ("301 columns",)),
        (b"x" * 100_000, ("too long",)),
        (b"\x00\x01,\x02\n", ("header",)),
    ],
)
def test_files_that_are_refused_leave_nothing_on_standard_output(refdb, written, text, words) -> None:
    for form in ("--csv", "--json"):
        fault(refdb("estimate", "--from-csv", written(text), form), *words)


def test_a_decimal_comma_is_told_with_file_and_line(refdb, written) -> None:
    ran = refdb("estimate", "--from-csv", written("name;SiO2;Na2O;CaO\nx;60,5;20;19.5\ny;60;20;20\n"), "--csv")
    assert ran.status == 2
    assert "glasses.csv line 2: SiO2 is '60,5'" in ran.err
    assert [row["name"] for row in csv.DictReader(io.StringIO(ran.out))] == ["y"]


def test_without_a_sound_line_there_is_no_table(refdb, written) -> None:
    ran = refdb("estimate", "--from-csv", written("name,SiO2,Na2O\nx,6,4\n"))
    assert (ran.status, ran.out) == (2, "")
    assert "0 good, 1 bad; nothing to estimate" in ran.err


def test_names_that_begin_like_a_formula_stay_text(refdb, written) -> None:
    names = ["=1+1", "+x", "-x", "@x", "plain", "007"]
    path = written("name,SiO2,Na2O,CaO\n" + "".join(f"{name},60,20,20\n" for name in names))
    rows = list(csv.DictReader(io.StringIO(refdb("estimate", "--from-csv", path, "--csv").out)))
    assert [row["name"] for row in rows] == ["'=1+1", "'+x", "'-x", "'@x", "plain", "007"]
    as_json = json.loads(refdb("estimate", "--from-csv", path, "--json").out)["rows"]
    assert [row["name"] for row in as_json] == names


def test_a_file_that_is_none(refdb, tmp_path) -> None:
    fault(refdb("estimate", "--from-csv", str(tmp_path / "gone.csv")), "--from-csv", "no such file")
    fault(refdb("estimate", "--from-csv", str(tmp_path)), "is a directory")


def test_a_bad_thickness_is_told_before_anything_is_printed(refdb, written) -> None:
    path = written("SiO2,Na2O\n60,40\n")
    fault(refdb("estimate", "--from-csv", path, "--on", "copper-sheet", "--back", "5 kg", "--json"), "--back")


def test_a_line_without_end_is_one_bad_line_and_memory_stays_small(refdb, written) -> None:
    path = written(b"SiO2,Na2O\n" + b"6" * 2_000_000 + b"\n60,40\n" + b"\xff\xff,1\n")
    ran = refdb("estimate", "--from-csv", path, "--csv")
    assert ran.status == 2
    assert "line 2: the line is too long" in ran.err
    assert "line 4: the line is not UTF-8" in ran.err
    assert len(ran.out.splitlines()) == 2
    assert ran.out.splitlines()[1].startswith("3,")


def test_chunks_stay_small(written) -> None:
    path = written("SiO2,Na2O\n" + "60,40\n" * 5000)
    sizes = [len(c.numbers) for c in composition_file.CompositionFile(Path(path), "wt").chunks()]
    assert sum(sizes) == 5000
    assert max(sizes) <= composition_file.CHUNK


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=300) | st.text(alphabet='SiO2,Na2 ."\n\r;-605', max_size=200).map(str.encode))
def test_whatever_the_file_holds_is_answered_or_told(refdb, written, content) -> None:
    ran = refdb("estimate", "--from-csv", written(b"SiO2,Na2O\n" + content), "--csv")
    assert ran.status in (0, 2)
    assert (ran.status == 2) == ("bad" in ran.err or "no glass below its header" in ran.err)
    assert all(line.startswith("refdb: ") for line in ran.err.splitlines())


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(max_size=60) | st.text(alphabet="SiO2NaKPbB3 ,.;=5-0", max_size=60))
def test_whatever_is_typed_is_answered_or_told(refdb, text) -> None:
    ran = refdb("estimate", "--", text)
    assert ran.status in (0, 2, 5)
    if ran.status == 2:
        assert ran.out == ""
        assert ran.err.count("\n") == 1
