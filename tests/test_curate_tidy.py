"""The formatter of the CSV files and the data package beside them."""

from __future__ import annotations

import csv
import json
import random
import subprocess
import sys
from pathlib import Path

import pytest
import small_sources

from refdb.curate.datapackage import NAME, datapackage
from refdb.curate.tidy import rewrite, stale, tidied
from refdb.errors import BadSource
from refdb.store.schema import FILES

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "data_sources"
FILE = {file.name: file for file in FILES}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = small_sources.write(tmp_path / "sources")
    rewrite(folder, stale(folder))
    return folder


def script(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "scripts/format_data.py", *arguments],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip


def test_the_small_sources_only_lack_their_package(tmp_path: Path) -> None:
    assert list(stale(small_sources.write(tmp_path / "sources"))) == [NAME]


def test_tidying_restores_a_shuffled_file_whatever_was_done_to_its_form(folder: Path) -> None:
    chance = random.Random(7)
    for file in FILES:
        tidy = (folder / file.name).read_bytes()
        header, *rows = list(csv.reader(tidy.decode().splitlines()))
        chance.shuffle(rows)
        order = list(range(len(header)))
        chance.shuffle(order)
        untidy = "\r\n".join(
            ",".join(f'"{row[at]}"' if row is header else f'"  {row[at]} "' for at in order) for row in (header, *rows)
        )
        assert tidied(b"\xef\xbb\xbf" + untidy.encode(), file) == tidy


def test_tidying_sorts_numbers_by_size_and_leaves_their_digits(folder: Path) -> None:
    rows = small_sources.ROWS["expansion_points.csv"][0]
    temps = ["1000", "20.0", "1e2", "+300"]
    path = small_sources.write(folder, {"expansion_points.csv": [{**rows, "temp_c": t} for t in temps]})
    tidy = tidied((path / "expansion_points.csv").read_bytes(), FILE["expansion_points.csv"]).decode()
    assert [line.split(",")[1] for line in tidy.splitlines()[1:]] == ["20.0", "1e2", "+300", "1000"]


def test_tidying_keeps_every_row_of_the_same_key(folder: Path) -> None:
    path = small_sources.write(folder, {"hazards.csv": small_sources.ROWS["hazards.csv"] * 3})
    assert tidied((path / "hazards.csv").read_bytes(), FILE["hazards.csv"]).count(b"burns,firing") == 3


def test_a_file_that_cannot_be_read_is_refused_and_nothing_is_written(folder: Path) -> None:
    (folder / "leaf.csv").write_bytes(b"key,label\nx,y\n")
    (folder / "hazards.csv").write_bytes((folder / "hazards.csv").read_bytes().replace(b"\n", b"\r\n"))
    before = {path: path.read_bytes() for path in folder.rglob("*.*")}
    ran = script("--in", str(folder))
    assert ran.returncode == 2
    assert ran.stderr.startswith("leaf.csv line 1, column family: the header lacks this column")
    assert "Traceback" not in ran.stderr
    assert {path: path.read_bytes() for path in folder.rglob("*.*")} == before


def test_the_script_checks_then_mends_then_is_content(folder: Path) -> None:
    path = folder / "metals.csv"
    tidy = path.read_bytes()
    header, *rows = tidy.splitlines(keepends=True)
    path.write_bytes(header + b"".join(reversed(rows)))
    untidy = path.read_bytes()
    ran = script("--check", "--in", str(folder))
    assert (ran.returncode, ran.stdout) == (1, "metals.csv: stale; run scripts/format_data.py\n")
    assert path.read_bytes() == untidy
    ran = script("--in", str(folder))
    assert (ran.returncode, ran.stdout) == (0, "metals.csv: written anew\n")
    assert path.read_bytes() == tidy
    assert script("--check", "--in", str(folder)).returncode == 0


def test_a_stale_or_missing_package_is_told(folder: Path) -> None:
    (folder / NAME).write_text("{}")
    assert list(stale(folder)) == [NAME]
    (folder / NAME).unlink()
    assert list(stale(folder)) == [NAME]


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadSource, match="no file of the data sources is here"):
        stale(tmp_path)


def test_the_package_describes_every_column_of_every_file() -> None:
    package = json.loads(datapackage(FILE))
    assert package["licenses"][0]["name"] == "CC-BY-4.0"
    resources = {resource["path"]: resource for resource in package["resources"]}
    assert list(resources) == list(FILE)
    for name, file in FILE.items():
        fields = resources[name]["schema"]["fields"]
        assert [field["name"] for field in fields] == [column.name for column in file.columns]
        assert {field["type"] for field in fields} <= {"string", "number", "integer"}
    values = {field["name"]: field for field in resources["property_values.csv"]["schema"]["fields"]}
    assert values["temp_low_c"]["unit"] == "°C"
    assert values["temp_low_c"]["constraints"] == {"minimum": -273.15, "maximum": 2500}
    assert "measured" in values["basis"]["constraints"]["enum"]
    assert values["value"]["type"] == "number"
    assert "constraints" not in values["value"]


def test_the_references_of_the_package_lead_to_its_resources() -> None:
    package = json.loads(datapackage(FILE))
    fields = {r["name"]: {f["name"] for f in r["schema"]["fields"]} for r in package["resources"]}
    references = [
        (resource["name"], key["fields"], key["reference"]["resource"], key["reference"]["fields"])
        for resource in package["resources"]
        for key in resource["schema"].get("foreignKeys", [])
    ]
    assert ("property-values", "source", "sources", "key") in references
    assert ("answers", "glass", "glasses", "key") in references
    assert [r for r in references if r[1] not in fields[r[0]] or r[3] not in fields[r[2]]] == []
    for resource in package["resources"]:
        assert set(resource["schema"]["primaryKey"]) <= fields[resource["name"]]


def test_an_absent_file_is_left_out_of_the_package() -> None:
    package = json.loads(datapackage([name for name in FILE if name != "answers.csv"]))
    assert "answers" not in [resource["name"] for resource in package["resources"]]


def test_the_curated_files_are_in_their_one_form() -> None:
    assert list(stale(DATA)) == []
