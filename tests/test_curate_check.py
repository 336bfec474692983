"""Every kind of bad row is refused with file, line and column, and an existing store stays as it was."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import small_sources
from hypothesis import example, given, settings
from hypothesis import strategies as st

from refdb.curate.build import build
from refdb.curate.check import check
from refdb.curate.read import BadSources, Problems, Row
from refdb.store.schema import FILES

VALUES = "property_values.csv"
#: Places of rows in the small sources.
GLASS_EXPANSION, COPPER_EXPANSION, COPPER_RIVAL, COPPER_SOLIDUS, COPPER_MODULUS, LEAF_THICKNESS = range(6)

BAD_CELLS = [
    # file, row, changed cells, column told, words told
    ("metals.csv", 0, {"summary": ""}, "summary", "the cell is blank"),
    (VALUES, 0, {"source": ""}, "source", "the cell is blank"),
    (VALUES, 0, {"preferred": ""}, "preferred", "the cell is blank"),
    (VALUES, 0, {"value": "NaN"}, "value", "'NaN' is not a number"),
    (VALUES, 0, {"value": "inf"}, "value", "'inf' is not a number"),
    (VALUES, 0, {"value": "1e999"}, "value", "1e999 is not a finite number"),
    (VALUES, 0, {"value": "11,5"}, "value", "'11,5' has a decimal comma; write a point"),
    (VALUES, 0, {"value": "11.5 "}, "value", "blanks around the cell"),
    (VALUES, 0, {"value": "about 11"}, "value", "'about 11' is not a number"),
    (VALUES, 0, {"value": "−11"}, "value", "is not a number"),
    (VALUES, 0, {"value": "٣"}, "value", "is not a number"),
    (VALUES, 0, {"value": "0x10"}, "value", "is not a number"),
    (VALUES, 0, {"value": "1_0"}, "value", "is not a number"),
    (VALUES, 0, {"preferred": "yes"}, "preferred", "'yes' is not a whole number"),
    (VALUES, 0, {"preferred": "2"}, "preferred", "2 is out of bounds"),
    (VALUES, 0, {"basis": "publishd"}, "basis", "'publishd' is not among the words"),
    (VALUES, 0, {"basis": "publishd"}, "basis", "did you mean published?"),
    ("glasses.csv", 0, {"lead": "maybe"}, "lead", "one of: free, contains, unknown"),
    (VALUES, 0, {"value": "121"}, "value", "it lies outside its own low and high"),
    (VALUES, 0, {"value": "99"}, "value", "it lies outside its own low and high"),
    (VALUES, 0, {"value": "", "low": "130"}, "low", "it is above high"),
    (VALUES, 0, {"temp_low_c": "400", "temp_high_c": "20"}, "temp_low_c", "it is above temp_high_c"),
    (VALUES, 0, {"temp_low_c": "400"}, "temp_low_c", "this must hold"),
    (VALUES, 0, {"temp_high_c": "4000"}, "temp_high_c", "4000 is out of bounds"),
    (VALUES, 0, {"value": "", "low": ""}, "value", "this must hold: value IS NOT NULL"),
    (VALUES, 0, {"unit": "per degree"}, "unit", "'per degree'"),
    (VALUES, 0, {"unit": "GPa"}, "unit", "GPa cannot be turned into ppm/K"),
    (VALUES, COPPER_SOLIDUS, {"unit": "F"}, "unit", "farad"),
    (VALUES, COPPER_SOLIDUS, {"unit": "delta_degF"}, "unit", "delta_degF cannot be turned into degC"),
    (VALUES, COPPER_MODULUS, {"unit": "mPa"}, "low", "cannot be the youngs modulus of a metal"),
    (VALUES, 0, {"temp_low_c": "", "temp_high_c": ""}, "temp_low_c", "without its temperature span"),
    (VALUES, 0, {"temp_high_c": ""}, "temp_high_c", "without its temperature span"),
    (VALUES, 0, {"value": "330", "high": "360"}, "value", "it may be cubical: divide by three"),
    (VALUES, 0, {"high": "301"}, "high", "it may be cubical: divide by three"),
    (VALUES, 0, {"material": "clear-hrad"}, "material", "did you mean clear-hard?"),
    (VALUES, 0, {"source": "no-such-book"}, "source", "no sources row has the key 'no-such-book'"),
    (VALUES, 0, {"property": "expansoin"}, "property", "did you mean expansion?"),
    ("hazards.csv", 0, {"source": "nowhere"}, "source", "no sources row has the key 'nowhere'"),
    ("hazards.csv", 0, {"trigger": "Lead"}, "trigger", "no trigger is called 'Lead'; did you mean lead?"),
    ("hazards.csv", 0, {"trigger": "never"}, "trigger", "no trigger is called 'never'"),
    ("hazards.csv", 0, {"trigger": "lead or zink"}, "trigger", "no trigger is called 'zink'; did you mean zinc?"),
    ("hazards.csv", 0, {"trigger": "glass"}, "trigger", "the selector '' cannot be read"),
    ("hazards.csv", 0, {"trigger": "glass "}, "trigger", "blanks around the cell"),
    ("hazards.csv", 0, {"trigger": "glass lead"}, "trigger", "the selector 'lead' cannot be read"),
    ("hazards.csv", 0, {"trigger": "glass leed:free"}, "trigger", "the selector 'leed:free' cannot be read"),
    ("hazards.csv", 0, {"trigger": "metal lead:free"}, "trigger", "the selector 'lead:free' cannot be read"),
    ("hazards.csv", 0, {"trigger": "glass lead:fre"}, "trigger", "no glass has the lead 'fre'; did you mean free?"),
    ("hazards.csv", 0, {"trigger": "glass holds:cobold"}, "trigger", "the holds 'cobold'; did you mean cobalt?"),
    ("hazards.csv", 0, {"trigger": "metal family:coper"}, "trigger", "the family 'coper'; did you mean copper?"),
    ("hazards.csv", 0, {"trigger": "always or glass family:cleers"}, "trigger", "'cleers'; did you mean clears?"),
    ("glasses.csv", 0, {"holds": "cobold"}, "holds", "'cobold' is not known here; did you mean cobalt?"),
    ("glasses.csv", 0, {"holds": "cobalt;"}, "holds", "'' is not known here"),
    (VALUES, COPPER_RIVAL, {"preferred": "1"}, "preferred", "has another preferred row in line 3"),
    (VALUES, COPPER_EXPANSION, {"preferred": "0"}, "preferred", "no row of copper-sheet, expansion is preferred"),
    (VALUES, COPPER_RIVAL, {"source": "made-up-handbook"}, "material, property, source", "already given in"),
    ("metals.csv", 1, {"key": "copper-sheet"}, "key", "already given in metals.csv line 2"),
    ("leaf.csv", 0, {"key": "copper-sheet"}, "key", "already given in metals.csv line 2"),
    ("metals.csv", 1, {"key": "Silver-sheet"}, "key", "is not a key; write lower-case words joined by hyphens"),
    ("metals.csv", 1, {"key": "silver--sheet"}, "key", "is not a key"),
    ("metals.csv", 1, {"key": "silver_sheet"}, "key", "is not a key"),
    ("metals.csv", 1, {"key": "silver sheet"}, "key", "is not a key"),
    ("metals.csv", 1, {"key": "argent-feuille-é"}, "key", "is not a key"),
    ("properties.csv", 5, {"key": "youngs-modulus"}, "key", "joined by underscores"),
    ("metals.csv", 1, {"key": "a-sheet"}, "key", "the rows are not sorted here; run the formatter"),
    ("expansion_points.csv", 1, {"temp_c": "200"}, "", "the rows are not sorted here; run the formatter"),
    ("metals.csv", 0, {"summary": "soft\x07red"}, "summary", "an unseen character (U+0007)"),
    ("metals.csv", 0, {"summary": "soft\nred"}, "summary", "an unseen character (U+000A)"),
    ("metals.csv", 0, {"summary": "soft\u200bred"}, "summary", "an unseen character (U+200B)"),
    ("metals.csv", 0, {"summary": " soft"}, "summary", "blanks around the cell"),
    ("metals.csv", 0, {"summary": "soft\u00a0"}, "summary", "blanks around the cell"),
    ("sources.csv", 1, {"retrieved": "31.5.2024"}, "retrieved", "write it as 2024-05-31"),
    ("sources.csv", 1, {"doi": "doi:10.1000/182"}, "doi", "write it bare"),
    ("sources.csv", 1, {"year": "1990.5"}, "year", "is not a whole number"),
    ("sources.csv", 1, {"year": "199"}, "year", "199 is out of bounds"),
    ("sources.csv", 1, {"name": ""}, "name", "the cell is blank"),
    ("sources.csv", 1, {"name": "common Practice"}, "name", "line 2 has the name 'common Practice' already"),
    ("sources.csv", 1, {"name": "A name of far more than forty characters."}, "name", "41 characters"),
    (VALUES, COPPER_MODULUS, {"source": "made-up-handbook"}, "basis", "basis 'standard', yet its source is 'handbook'"),
    (VALUES, LEAF_THICKNESS, {"basis": "measured"}, "basis", "yet its source is 'common practice'"),
    (VALUES, COPPER_RIVAL, {"basis": "published"}, "basis", "yet its source is 'computed'"),
    (VALUES, LEAF_THICKNESS, {"basis": "published"}, "basis", "yet its source is 'common practice'"),
    (VALUES, COPPER_EXPANSION, {"basis": "from memory"}, "seen", "seen 'read', yet it is basis 'from memory'"),
    (VALUES, COPPER_RIVAL, {"seen": "read"}, "seen", "seen 'read', yet it is basis 'computed'"),
    ("exposure_limits.csv", 0, {"seen": "read"}, "seen", "'read', yet of its source only 'from memory' is known"),
    ("fit_rules.csv", 0, {"source": "made-up-standard"}, "source", "is not known to speak of fit_rules"),
    ("contacts.csv", 0, {"source": "reckoned"}, "basis", "yet its source is 'computed'"),
    ("source_subjects.csv", 0, {"subject": "alias"}, "subject", "no row cites common-practice for alias"),
    ("source_subjects.csv", 2, {"seen": "read"}, "seen", "no row of exposure_limits is so seen"),
    (VALUES, COPPER_SOLIDUS, {"as_printed": "1948 °F"}, "value", "is not what is printed ('1948 °F')"),
    (VALUES, GLASS_EXPANSION, {"low": "105"}, "low", "10.5 ppm/K is not what is printed ('110 (100-120)')"),
    (VALUES, COPPER_SOLIDUS, {"property": "leaf_thickness", "unit": "um"}, "property", "a metal has no leaf thickness"),
    (VALUES, COPPER_RIVAL, {"value": "24", "as_printed": "24"}, "value", "away from the preferred band in line 3"),
    (VALUES, COPPER_MODULUS, {"low": "50", "as_printed": "50-130"}, "high", "the band is 8e+10 Pa wide"),
    ("property_bounds.csv", 3, {"none_found": "silver"}, "none_found", "did you mean silver-sheet?"),
    ("property_bounds.csv", 3, {"none_found": "copper-sheet"}, "none_found", "copper-sheet has a figure of expansion"),
    ("property_bounds.csv", 0, {"unit": "GPa"}, "unit", "GPa cannot be turned into kg/m**3"),
    ("properties.csv", 0, {"shown_unit": "mm"}, "shown_unit", "mm cannot be turned into kg/m**3"),
    ("properties.csv", 0, {"unit": "pebbles"}, "unit", "'pebbles' is not a unit"),
    ("glasses.csv", 0, {"made_for": "copper; sliver"}, "made_for", "did you mean silver?"),
    ("solders.csv", 0, {"solidus_c": "800"}, "solidus_c", "it is above liquidus_c"),
    ("contacts.csv", 0, {"first_melts_c": "790"}, "first_melts_c", "outside its own low and high"),
    ("firing_phases.csv", 0, {"hold_low_min": "200"}, "hold_low_min", "it is above hold_high_min"),
    ("firing_phases.csv", 0, {"temp_low_c": "950"}, "temp_low_c", "it is above temp_high_c"),
    ("hazards.csv", 0, {"trigger": "practice dryng"}, "trigger", "did you mean drying?"),
    ("hazards.csv", 0, {"trigger": "list"}, "trigger", "no trigger is called 'list'"),
    ("hazards.csv", 0, {"agents": "silica; quartz"}, "agents", "no limit is of the agent 'quartz'"),
    ("practice_rules.csv", 0, {"unit": ""}, "unit", "a number without its unit"),
    ("practice_rules.csv", 0, {"low": "20"}, "low", "it is above high"),
    ("exposure_limits.csv", 0, {"unit": ""}, "unit", "a number without its unit"),
    ("fit_rules.csv", 0, {"metal": "colour:red"}, "metal", "the selector 'colour:red' cannot be read"),
    ("fit_rules.csv", 0, {"glass": "lead"}, "glass", "the selector 'lead' cannot be read"),
    ("colour_reactions.csv", 0, {"glass": "role:"}, "glass", "the selector 'role:' cannot be read"),
    ("colour_reactions.csv", 0, {"ground": "metal coper"}, "ground", "did you mean copper?"),
    ("colour_reactions.csv", 0, {"ground": "alloy copper"}, "ground", "'copper' is not known as alloy"),
    ("colour_reactions.csv", 0, {"ground": "leaf Au"}, "ground", "'Au' is not known as leaf"),
    ("colour_reactions.csv", 0, {"ground": "glass hue:red"}, "ground", "the selector 'hue:red' cannot be read"),
    ("colour_reactions.csv", 0, {"ground": "copper"}, "ground", "'copper' is no kind of ground"),
    ("colour_reactions.csv", 0, {"outcome": "bad"}, "outcome", "bad"),
    ("faults.csv", 0, {"rules": "gapp"}, "rules", "no verdict has the rule 'gapp'"),
    ("faults.csv", 0, {"rules": ""}, "rules", "nothing says which rule"),
    ("faults.csv", 0, {"rules": "gap; not in a piece file"}, "rules", "no verdict has the rule 'not in a piece file'"),
    ("faults.csv", 0, {"rank": "3"}, "rank", "the causes of this symptom are ranked 2, 3"),
    ("faults.csv", 1, {"rank": "1"}, "symptom, rank", "already given"),
    ("symptoms.csv", 0, {"stages": "some day"}, "stages", "'some day' is not known here"),
    ("symptoms.csv", 0, {"beneath": "copper; wood"}, "beneath", "'wood' is not known here"),
    ("observed_firings.csv", 0, {"metal": "clear-hard"}, "metal", "this is a glass"),
    ("observed_firings.csv", 0, {"material": "copper-sheet"}, "material", "this is a metal"),
    ("observed_firings.csv", 0, {"minutes": "0"}, "minutes", "0"),
    ("metals.csv", 0, {"label": "sheet, copper"}, "label", "a list, not a name"),
    ("metals.csv", 0, {"label": "copper " * 6 + "sheet"}, "label", "more than 40"),
    ("metals.csv", 1, {"label": "Copper sheets"}, "label", "the metal copper-sheet is called so too"),
    ("aliases.csv", 2, {"record": "gold-sheet"}, "record", "no metal has the key 'gold-sheet'"),
    ("aliases.csv", 2, {"record": "clear-hard"}, "record", "no metal has the key 'clear-hard'"),
    ("aliases.csv", 2, {"alias": "?!"}, "alias", "no letter and no digit"),
    ("aliases.csv", 2, {"alias": "Copper-Sheet"}, "alias", "copper-sheet is called so too"),
    ("aliases.csv", 1, {"standing": "only"}, "standing", "it means copper-sheet too"),
    ("aliases.csv", 1, {"standing": "commonest"}, "standing", "two meanings are the commonest"),
    ("aliases.csv", 2, {"standing": "choice"}, "standing", "it has no other meaning here"),
    ("known_pairs.csv", 0, {"metal": "clear-hard"}, "metal", "this is a glass"),
    ("known_pairs.csv", 0, {"glass": "copper-sheet"}, "glass", "this is a metal"),
    ("known_pairs.csv", 0, {"glass": "clear-had"}, "glass", "clear-hard"),
    ("known_pairs.csv", 0, {"used_for": "gapp"}, "used_for", "the judge has no rule 'gapp'"),
    ("known_pairs.csv", 0, {"holds": "no"}, "holds", "failure"),
    ("known_pairs.csv", 0, {"rise_mm": "2"}, "rise_mm", "domed"),
    ("known_pairs.csv", 0, {"front_mm": "0", "back_mm": "0"}, "front_mm", "back_mm"),
]


def refusal(tmp_path: Path, rows: dict[str, list[dict[str, str]]]) -> str:
    """Build from the changed rows over an existing store; return the message, the store being untouched."""
    target = tmp_path / "store.db"
    target.write_bytes(b"an older store")
    with pytest.raises(BadSources) as caught:
        build(small_sources.write(tmp_path / "sources", rows), target)
    assert target.read_bytes() == b"an older store"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sources", "store.db"]
    return caught.value.line


def test_the_small_sources_themselves_are_sound(tmp_path: Path) -> None:
    report = build(small_sources.write(tmp_path / "sources"), tmp_path / "store.db")
    assert report.rows["property_values"] == 6


@pytest.mark.parametrize(("file", "row", "cells", "column", "words"), BAD_CELLS)
def test_a_bad_row_is_refused_with_its_place(
    tmp_path: Path, file: str, row: int, cells: dict[str, str], column: str, words: str
) -> None:
    message = refusal(tmp_path, small_sources.changed(file, row, **cells))
    told = [line for line in message.split("\n") if line.startswith(f"{file} line ") and words in line]
    assert told, message
    if "sorted" not in words and "no row of" not in words:
        assert told[0].startswith(f"{file} line {row + 2}, column {column}"), message
    assert ", column " in told[0]
    assert "; " in told[0]


@pytest.mark.parametrize(
    ("file", "row", "cells"),
    [
        (VALUES, 0, {"value": "120"}),
        (VALUES, 0, {"value": ""}),
        (VALUES, 0, {"low": "", "high": ""}),
        (VALUES, 0, {"value": "299", "high": "300", "low": "115", "as_printed": "299 (115-300)"}),
        (VALUES, COPPER_RIVAL, {"basis": "estimate"}),
        ("contacts.csv", 0, {"note": "read twice"}),
        (VALUES, COPPER_MODULUS, {"low": "1.10e2"}),
        ("glasses.csv", 0, {"made_for": "none"}),
        ("sources.csv", 1, {"authors": "O’Brien, Å.; Müller, K."}),
        ("metals.csv", 0, {"summary": 'Red, "soft", 815\u00a0°C.'}),
        ("firing_phases.csv", 0, {"temp_low_c": "900"}),
    ],
)
def test_the_nearest_sound_row_is_taken(tmp_path: Path, file: str, row: int, cells: dict[str, str]) -> None:
    build(small_sources.write(tmp_path / "s", small_sources.changed(file, row, **cells)), tmp_path / "store.db")


#: Shares; one rule; measures; one stage with two layers, bow, strain and release; what decides; no changes.
ANSWER: list[Any] = [
    [0.75, 0.25, 0.0],
    [["gap", {"step": 1, "glass": "clear-hard"}, [0.75, 0.25, 0.0], [2500.0, 1500.0, 3500.0]]],
    {
        "gap_ppm": [2500.0, 1500.0, 3500.0],
        "glass_expansion_ppm_per_k": [12.6, 11.6, 13.6],
        "metal_expansion_ppm_per_k": [17.6, 17.4, 17.8],
        "set_point_c": [520.0, 480.0, 560.0],
        "metal_thickness_mm": [0.8, 0.8, 0.8],
        "kiln_low_c": [800.0, 800.0, 800.0],
        "kiln_high_c": [870.0, 870.0, 870.0],
    },
    [
        [
            "full build",
            1,
            [["metal", [20.0, 10.0, 30.0], [25.0, 15.0, 35.0], [30.0, 20.0, 40.0]]],
            [0.1, 0.0, 0.2],
            [0.001, 0.0, 0.002],
            [30.0, 20.0, 50.0],
        ]
    ],
    "metal yield",
    [],
]


def changed_answer(*path: int | str, to: object) -> str:
    """The sound answer as JSON, with what stands at a path exchanged."""
    whole = json.loads(json.dumps(ANSWER))
    at = whole
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = to
    return json.dumps(whole)


def answer(**cells: str) -> dict[str, list[dict[str, str]]]:
    sound = {"glass": "clear-hard", "metal": "copper-sheet", "build": "usual", "numbers": json.dumps(ANSWER)}
    return {"answers.csv": [{**sound, **cells}]}


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"glass": "copper-sheet"}, "glass", "this is a metal"),
        ({"metal": "silver-foil"}, "metal", "this is a leaf"),
        ({"metal": "tin"}, "metal", "no materials row has the key 'tin'"),
        ({"numbers": '{"gap": NaN}'}, "numbers", "not JSON with finite numbers"),
        ({"numbers": '{"gap": [1e999]}'}, "numbers", "not JSON with finite numbers"),
        ({"numbers": "{gap}"}, "numbers", "not JSON with finite numbers"),
        ({"numbers": "[" * 100_000}, "numbers", "not JSON with finite numbers"),
        ({"numbers": '{"gap": [1.5, 2]}'}, "numbers", "it has not the form of an answer"),
        ({"numbers": changed_answer(0, 0, to=0.8)}, "numbers", "do not add up to 1"),
        ({"numbers": changed_answer(0, to=[0.5, 0.5])}, "numbers", "not the form"),
        ({"numbers": changed_answer(1, 0, 0, to="gapp")}, "numbers", "no rule is called 'gapp'"),
        ({"numbers": changed_answer(1, 0, 2, to=[0.5, 0.25, 0.25])}, "numbers", "refuses more often"),
        ({"numbers": changed_answer(1, 0, 3, 0, to=3600.0)}, "numbers", "gap: 3600 lies outside its band"),
        ({"numbers": changed_answer(2, "set_point_c", 0, to=900.0)}, "numbers", "set_point_c: 900 lies outside"),
        ({"numbers": changed_answer(2, "kiln_low_c", to=[1472.0] * 3)}, "numbers", "kiln_low_c cannot be 1472"),
        ({"numbers": changed_answer(2, "gap_ppm", to=[5000.0, 4000.0, 6000.0])}, "numbers", "does not follow"),
        ({"numbers": changed_answer(3, to=[])}, "numbers", "there is no stage"),
        ({"numbers": changed_answer(3, 0, 1, to=2)}, "numbers", "stage 1 is of fire 2"),
        ({"numbers": changed_answer(3, 0, 4, to=[0.5, 0.4, 0.6])}, "numbers", "plastic strain of stage 1 cannot be"),
        ({"numbers": changed_answer(3, 0, 2, 0, 1, to=[20.0, 30.0, 40.0])}, "numbers", "metal in stage 1: 20 lies"),
    ],
)
def test_a_bad_answer_is_refused(tmp_path: Path, cells: dict[str, str], column: str, words: str) -> None:
    message = refusal(tmp_path, answer(**cells))
    assert f"answers.csv line 2, column {column}: " in message
    assert words in message


def test_a_sound_answer_is_taken(tmp_path: Path) -> None:
    report = build(small_sources.write(tmp_path / "sources", answer()), tmp_path / "store.db")
    assert report.rows["answers"] == 1


def ratios(**cells: str) -> dict[str, list[dict[str, str]]]:
    sound = {
        "glass": "clear-hard",
        "metal": "copper-sheet",
        "first_ratio": "0.58",
        "first_even": "0.9",
        "bare_ratio": "0.45",
        "bare_even": "0.6",
        "refused_by": "",
    }
    return {"builds.csv": [{**sound, **cells}]}


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"glass": "copper-sheet"}, "glass", "this is a metal"),
        ({"metal": "silver-foil"}, "metal", "this is a leaf"),
        ({"bare_even": "1.2"}, "bare_even", "1.2 is no ratio"),
        ({"first_ratio": ""}, "refused_by", "stands just where there is no ratio"),
        ({"refused_by": "gap"}, "refused_by", "stands just where there is no ratio"),
    ],
)
def test_a_bad_ratio_is_refused(tmp_path: Path, cells: dict[str, str], column: str, words: str) -> None:
    assert f"builds.csv line 2, column {column}: {words}" in refusal(tmp_path, ratios(**cells))


def test_sound_ratios_are_taken(tmp_path: Path) -> None:
    report = build(small_sources.write(tmp_path / "sources", ratios()), tmp_path / "store.db")
    assert report.rows["builds"] == 1


def test_all_problems_of_all_files_are_told_in_order(tmp_path: Path) -> None:
    rows = {
        **small_sources.changed("hazards.csv", 0, weight="0"),
        **small_sources.changed("sources.csv", 0, kind="blog"),
        **small_sources.changed(VALUES, 0, value="x", unit="y", basis="z"),
    }
    lines = refusal(tmp_path, rows).split("\n")
    assert [line.split(":")[0] for line in lines] == [
        "sources.csv line 2, column kind",
        "property_values.csv line 2, column value",
        "property_values.csv line 2, column basis",
        "property_values.csv line 2, column unit",
        "hazards.csv line 2, column weight",
    ]


def test_an_unreadable_file_does_not_make_its_keys_dangle(tmp_path: Path) -> None:
    folder = small_sources.write(tmp_path / "sources")
    (folder / "sources.csv").unlink()
    with pytest.raises(BadSources) as caught:
        build(folder, tmp_path / "store.db")
    assert [problem.where for problem in caught.value.problems] == ["sources.csv"]


PLACES = [(file.name, column.name) for file in FILES for column in file.columns if small_sources.ROWS[file.name]]


@pytest.mark.parametrize("cells", [{"value": "1e308"}, {"value": "-1e308"}, {"as_printed": "1e308"}])
def test_a_number_that_its_unit_takes_beyond_a_float_is_refused(tmp_path: Path, cells: dict[str, str]) -> None:
    """A modulus is printed in GPa and kept in Pa."""
    at = next(i for i, row in enumerate(small_sources.ROWS[VALUES]) if row["unit"] == "GPa")
    assert f"{VALUES} line {at + 2}, column " in refusal(tmp_path, small_sources.changed(VALUES, at, **cells))


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(PLACES), st.text(max_size=20) | st.floats().map(str) | st.integers().map(str))
@example(("exposure_limits.csv", "limit_text"), "1e400 µg/m³")
@example(("practice_rules.csv", "statement"), f"1e{'9' * 5000} mm")
@example(("property_values.csv", "as_printed"), "1e400")
@example(("property_values.csv", "temp_low_c"), "warm")
@example(("practice_rules.csv", "key"), "mesh-000")
@example(("property_bounds.csv", "low"), "1e308")
@example(("property_values.csv", "temp_high_c"), "")
def test_any_text_in_any_cell_is_taken_or_told(place: tuple[str, str], text: str) -> None:
    rows = {
        file.name: [
            Row(file.name, line, {c.name: cells.get(c.name, "") for c in file.columns})
            for line, cells in enumerate(small_sources.ROWS[file.name], start=2)
        ]
        for file in FILES
    }
    rows[place[0]][0].cells[place[1]] = text
    try:
        records = check(rows, Problems())
    except BadSources as refused:
        odd = [problem for problem in refused.problems if ".csv" not in problem.where or "\n" in problem.line]
    else:
        odd = [] if records["sources"] else ["no record of any source"]
    assert not odd
