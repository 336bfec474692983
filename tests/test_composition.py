"""Reading, checking and converting compositions."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.science.glass.components import (
    ATOMIC_WEIGHTS,
    COMPONENTS,
    EQUIVALENTS,
    MOLAR_MASS_G_PER_MOL,
    USUAL_OXIDE,
    elements_of,
    oxide_equivalents,
)
from refdb.science.glass.composition import (
    TEXT_LIMIT,
    component_name,
    mole_percent,
    normalise,
    oxide_mole_percent,
    parse_composition,
    unity_form,
    weight_percent,
)

COPPER_ENAMEL = {"SiO2": 48.0, "Na2O": 13.6, "K2O": 10.4, "B2O3": 8.0, "Al2O3": 7.0, "CaO": 5.0, "BaO": 8.0}

amounts = st.dictionaries(st.sampled_from(COMPONENTS), st.floats(0.01, 100.0), min_size=1, max_size=9).map(
    lambda found: {k: 100.0 * v / math.fsum(found.values()) for k, v in found.items()}
)


@pytest.mark.parametrize("component", COMPONENTS)
def test_molar_masses_agree_with_periodictable(component: str) -> None:
    """Against the package periodictable (IUPAC weights): five figures, so 0.005 in 110 or 5 in 10^5."""
    periodictable = pytest.importorskip("periodictable")
    assert MOLAR_MASS_G_PER_MOL[component] == pytest.approx(periodictable.formula(component).mass, rel=5e-5)


def test_every_atomic_weight_is_used() -> None:
    used = {element for name in COMPONENTS for element in elements_of(name)}
    assert used == set(ATOMIC_WEIGHTS)


@pytest.mark.parametrize("component", sorted(EQUIVALENTS))
def test_oxide_equivalents_keep_every_atom_but_oxygen(component: str) -> None:
    atoms: dict[str, float] = {}
    for oxide, count in oxide_equivalents(component).items():
        assert oxide in MOLAR_MASS_G_PER_MOL
        for element, number in elements_of(oxide).items():
            atoms[element] = atoms.get(element, 0.0) + number * count
    atoms.pop("O", None)
    assert atoms == {k: v for k, v in elements_of(component).items() if k != "O"}


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("SiO2", "SiO2"),
        ("SIO2", "SiO2"),
        ("sio2", "SiO2"),
        ("SiO₂", "SiO2"),
        (" K2O ", "K2O"),
        ("COO", "CoO"),
        ("Na3AlF6", "Na3AlF6"),
        ("na2sif6", "Na2SiF6"),
        ("silica", "SiO2"),
        ("Cryolite", "Na3AlF6"),
        ("F", "F"),
    ],
)
def test_component_name_takes_what_people_write(typed: str, name: str) -> None:
    assert component_name(typed) == name


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("Na", "Na2O"),
        ("si", "SiO2"),
        ("Pb", "PbO"),
        ("NaO", "Na2O"),
        ("Si02", "SiO2"),
        ("Al203", "Al2O3"),
        ("Al2O4", "Al2O3"),
        ("CaF", "CaF2"),
    ],
)
def test_wrong_component_is_answered_with_the_nearest(typed: str, hint: str) -> None:
    with pytest.raises(BadInput, match=re.escape(f"did you mean {hint}?")) as caught:
        component_name(typed)
    assert f"'{typed}'" in caught.value.line


@pytest.mark.parametrize("typed", ["O", "unobtainium", "", "x" * 5000, "\x1b[31m", "48"])
def test_senseless_component_is_refused_on_one_line(typed: str) -> None:
    with pytest.raises(BadInput) as caught:
        component_name(typed)
    assert len(caught.value.line) < 200
    assert caught.value.line.isprintable()


def test_every_usual_oxide_is_a_component() -> None:
    assert set(USUAL_OXIDE.values()) <= set(COMPONENTS)


@pytest.mark.parametrize(
    "text",
    [
        "SiO2 48, Na2O 13.6, K2O 10.4",
        "SiO2=48; Na2O=13.6; K2O=10.4",
        "48 SiO2 13.6 Na2O 10.4 K2O",
        "SiO2: 48\nNa2O: 13.6\nK2O: 10.4",
        "48% SiO2, 13.6% Na2O, 10.4% K2O",
        "SiO2 48 wt%, Na2O 13.6 wt%, K2O 10.4 wt.%",
        "SiO2,48,Na2O,13.6,K2O,10.4",
        "silica 48 soda 13.6 potash 10.4",
        "sio2 48,na2o 13.6,k2o 1.04e1",
        "48SiO2 13.6Na2O 10.4K2O",
        "SiO₂ 48 | Na₂O 13.6 | K₂O 10.4",
    ],
)
def test_parse_composition_reads_the_usual_ways_of_writing(text: str) -> None:
    assert parse_composition(text) == {"SiO2": 48.0, "Na2O": 13.6, "K2O": 10.4}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("  ,; ", "empty"),
        ("SiO2", "amount is missing beside 'SiO2'"),
        ("48", "name is missing"),
        ("SiO2 48 Na2O", "amount is missing beside 'Na2O'"),
        ("SiO2 48 13", "name is missing beside 13"),
        ("48 SiO2 13.6", "name is missing beside 13.6"),
        ("SiO2 Na2O 48 13", "amount is missing beside 'SiO2'"),
        ("SiO2 48, sio2 3", "SiO2 stands twice"),
        ("SiO2 -48", "negative"),
        ("SiO2 −48", "negative"),
        ("SiO2 48,5", "decimal sign"),
        ("SiO2 1e999", "finite"),
        ("SiO2 48 mol%, Na2O 52", "mole per cent"),
        ("Na 13", "did you mean Na2O"),
        ("@!", "cannot read"),
        ("SiO2 <48", "cannot read"),
        ("SiO2 nan", "missing"),
        ("SiO2 48 Zz9 3", "no component is called 'Zz9'"),
    ],
)
def test_parse_composition_refuses_on_one_clear_line(text: str, said: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_composition(text)
    assert said in caught.value.line
    assert caught.value.line.startswith("composition: ")
    assert "\n" not in caught.value.line


def test_parse_composition_refuses_long_text_unread() -> None:
    with pytest.raises(BadInput, match="characters long"):
        parse_composition("SiO2 48, " * 12_000)
    with pytest.raises(BadInput, match="twice"):
        parse_composition(("SiO2 1 " * TEXT_LIMIT)[:TEXT_LIMIT])


@given(st.text(max_size=60))
def test_parse_composition_never_fails_otherwise(text: str) -> None:
    try:
        found = parse_composition(text)
    except BadInput as error:
        found, line = {}, error.line
    else:
        line = "read"
        assert found
    assert line.isprintable()
    assert all(name in COMPONENTS and amount >= 0 for name, amount in found.items())


@pytest.mark.parametrize(
    ("given_amounts", "said"),
    [
        ({}, "empty"),
        ({"SiO2": 0.0}, "empty"),
        ({"SiO2": 50.0}, "add up to 50"),
        ({"SiO2": 97.9}, "add up to 97.9"),
        ({"SiO2": 102.1}, "add up to 102.1"),
        ({"SiO2": 0.7, "Na2O": 0.3}, "multiply by 100"),
        ({"SiO2": -1.0, "Na2O": 101.0}, "negative"),
        ({"SiO2": float("nan")}, "finite"),
        ({"SiO2": float("inf")}, "finite"),
        ({"SiO2": "100"}, "not a number"),
        ({"SiO2": None}, "not a number"),
        ({"SiO2": True}, "not a number"),
        ({"SiO2": 10**400}, "not a number"),
        ({3: 100.0}, "named by text"),
        ({"SiO2": 50.0, "sio2": 50.0}, "SiO2 stands twice"),
        ({"Si": 100.0}, "did you mean SiO2"),
    ],
)
def test_normalise_refuses_malformed_compositions(given_amounts: dict[str, float], said: str) -> None:
    with pytest.raises(BadInput) as caught:
        normalise(given_amounts)
    assert said in caught.value.line


@pytest.mark.parametrize("wrong", [None, [("SiO2", 100.0)], "SiO2 100", 5])
def test_normalise_refuses_what_is_no_mapping(wrong: object) -> None:
    with pytest.raises(BadInput, match="mapping"):
        normalise(wrong)  # type: ignore[arg-type]


def test_normalise_refuses_unknown_basis() -> None:
    with pytest.raises(BadInput, match="basis"):
        normalise({"SiO2": 100.0}, "volume")


@pytest.mark.parametrize("total", [98.0, 99.3, 100.0, 102.0])
def test_normalise_scales_and_reports_the_total(total: float) -> None:
    found = normalise({k: v * total / 100.0 for k, v in COPPER_ENAMEL.items()})
    assert found.total == pytest.approx(total)
    assert found.amounts == pytest.approx(COPPER_ENAMEL)


def test_analysis_with_fluorine_may_exceed_by_the_oxygen_it_replaces() -> None:
    """12 % F beside oxides takes the place of 5.05 % oxygen, so a sound analysis can add up to 105."""
    assert normalise({"SiO2": 60.0, "CaO": 33.0, "F": 12.0}).total == 105.0
    with pytest.raises(BadInput, match="add up to 105"):
        normalise({"SiO2": 60.0, "CaO": 45.0})


@given(amounts)
def test_weight_to_mole_and_back_returns(composition: dict[str, float]) -> None:
    back = weight_percent(mole_percent(composition), "mol")
    assert back == pytest.approx(composition, rel=1e-9)


@given(amounts, st.randoms())
def test_order_of_components_is_irrelevant(composition: dict[str, float], random: object) -> None:
    keys = list(composition)
    random.shuffle(keys)  # type: ignore[attr-defined]
    shuffled = {k: composition[k] for k in keys}
    assert mole_percent(shuffled) == pytest.approx(mole_percent(composition), rel=1e-12)


@given(amounts, st.floats(0.981, 1.019))
def test_scaling_the_total_changes_nothing(composition: dict[str, float], factor: float) -> None:
    scaled = {k: v * factor for k, v in composition.items()}
    assert mole_percent(scaled) == pytest.approx(mole_percent(composition), rel=1e-9)


def test_mole_percent_of_a_disilicate() -> None:
    """Na2Si2O5: two moles of silica to one of soda, by hand from IUPAC weights (60.083 and 61.979 g/mol)."""
    weights = {"SiO2": 100 * 120.166 / 182.145, "Na2O": 100 * 61.979 / 182.145}
    assert mole_percent(weights) == pytest.approx({"SiO2": 200 / 3, "Na2O": 100 / 3}, rel=1e-5)


def test_fluoride_and_oxide_with_fluorine_are_the_same_glass() -> None:
    fluoride = {"SiO2": 60.0, "Na2O": 20.0, "CaF2": 20.0}
    moles = mole_percent(fluoride, "mol")
    split = {"SiO2": 60.0, "Na2O": 20.0, "CaO": 20.0, "F": 40.0}
    split = {k: v / 1.4 for k, v in split.items()}
    assert moles == pytest.approx(fluoride)
    assert oxide_mole_percent(fluoride, "mol") == pytest.approx(oxide_mole_percent(split, "mol"))


def test_unity_form_sets_fluxes_to_one() -> None:
    found = unity_form(COPPER_ENAMEL)
    assert found is not None
    assert sum(found.fluxes.values()) == pytest.approx(1.0)
    moles = {k: v / MOLAR_MASS_G_PER_MOL[k] for k, v in COPPER_ENAMEL.items()}
    flux = sum(moles[k] for k in ("Na2O", "K2O", "CaO", "BaO"))
    assert found.others["SiO2"] == pytest.approx(moles["SiO2"] / flux)
    assert set(found.sesquioxides) == {"B2O3", "Al2O3"}


def test_unity_form_of_pure_silica_is_none() -> None:
    assert unity_form({"SiO2": 100.0}) is None
