"""An export in the hands of others: a Frictionless validator, and a spreadsheet that opens, shows and saves it."""

from __future__ import annotations

import csv
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest

from refdb.store.workshop.csv_files import Importer, export
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.keys import key_of
from refdb.store.workshop.schema import OWN

KNOWN = {"glass": {"clear-hard-lead-free"}, "metal": {"copper-sheet"}, "leaf": {"gold-foil-24k"}}
#: Names and notes that a spreadsheet would change, or that need care in CSV.
ODD = (
    "=1+1",
    '=HYPERLINK("x")',
    "+49 1",
    "-9",
    "@SUM(A1)",
    "'quoted'",
    "''twice",
    'a "b", c; d',
    "Émail grün 815 °C",
    "007",
    "1/2",
    "3e5",
    "5 %",
    "12:30",
    "1-2",
    "(5)",
    "12.",
    "1.10",
    ".5",
    "9 pm",
    "May 5",
    "5 May 2024",
    "TRUE",
    "false",
    "2024-5-1",
    "1 1/2",
    "1234567890123456789",
    "999",
    "0.1 µm – ½",
    "plain",
)
SHEET = {"basis": "maker's sheet", "date": "2024-05-31"}
#: Of a CSV file on the way in and out: comma, double quote, UTF-8, from line 1; and cells as they are, not as shown.
COMMAS, AS_THEY_ARE = "44,34,76,1", ",,0,false,false,false"


@pytest.fixture
def shelf(tmp_path) -> Path:
    """A workshop with rows of every kind, and its export."""
    path = tmp_path / "workshop.db"
    with Workshop(path, write=True) as shop:
        for n, text in enumerate(ODD):
            shop.add(
                "glass",
                {
                    **SHEET,
                    "name": f"Jar {n}",
                    "note": text,
                    "colourant": text,
                    "set_point_c": float(f"{510 + n / 7:.9g}"),
                },
            )
            if shop.kind_of(key_of(text)) is None:
                shop.add("metal", {**SHEET, "name": text, "note": text})
        shop.add("leaf", {**SHEET, "name": "Thick, foil", "fineness": "585/1000", "leaf_thickness_um": 5.0})
        shop.add(
            "tile",
            {
                "glass": "my:jar-1",
                "metal": "copper-sheet",
                "outcome": "crazed; bubbled",
                "note": "=A1",
                "front_mm": 0.3,
                "kiln_c": 815.0,
                "showed": "within a day",
                "date": "2024-06-01",
            },
        )
        shop.add(
            "strip",
            {
                "glass": "my:jar-1",
                "metal": "copper-sheet",
                "metal_mm": 0.5,
                "glass_mm": 0.3,
                "length_mm": 100.0,
                "bow_mm": -4.4,
                "bow_error_mm": 0.05,
                "date": "2024-06-02",
            },
        )
        shop.add("stock", {"key": "my:jar-1", "grams": 42.5242847, "date": "2024-06-03", "note": "1/2"})
        shop.add(
            "firing",
            {
                "glass": "my:jar-1",
                "kiln_c": 815.0,
                "minutes": 2.5,
                "metal": "copper-sheet",
                "metal_mm": 0.75,
                "result": "oxide cleared",
                "date": "2024-06-04",
            },
        )
        shop.add(
            "kiln",
            {
                "key": "kiln",
                "offset_k": -12.5,
                "offset_low_k": -20.0,
                "offset_high_k": -4.0,
                "tiles": "1; 4",
                "basis": "own test",
                "date": "2024-06-05",
            },
        )
        export(shop, tmp_path / "out")
    return tmp_path / "out"


def rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def test_a_frictionless_validator_finds_the_export_valid(shelf):
    """By the package frictionless, against the data package and table schemas of the export alone."""
    import frictionless

    report = frictionless.validate(str(shelf / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    assert report.stats["tasks"] == len(OWN)
    assert {t.name: t.stats["rows"] for t in report.tasks} == {
        own.table: len(rows(shelf / own.file)) - 1 for own in OWN.values()
    }


@pytest.mark.parametrize(
    ("file", "old", "new", "fault"),
    [
        ("tiles.csv", "within a day", "some day", "constraint-error"),
        ("strips.csv", "-4.4", "bent", "type-error"),
        ("firings.csv", "815", "9999", "constraint-error"),
        ("stock.csv", "2024-06-03", "3.6.24", "type-error"),
        ("kilns.csv", "own test", "", "constraint-error"),
        ("glasses.csv", "Jar 1,", "Jar 2,", "primary-key"),
        ("metals.csv", "name,", "label,", "incorrect-label"),
        ("stock.csv", "my:jar-1,", "my:jar-1,x,", "extra-cell"),
    ],
)
def test_the_validator_sees_what_the_schema_forbids(shelf, file, old, new, fault):
    """The schema says enough for an outside validator to find each of these faults; the export itself is spoilt."""
    import frictionless

    text = (shelf / file).read_text("utf-8")
    assert old in text
    (shelf / file).write_text(text.replace(old, new, 1), "utf-8")
    report = frictionless.validate(str(shelf / "datapackage.json"))
    assert fault in {e[0] for e in report.flatten(["type"])}


def calc(folder: Path, target: str, *files: Path, reading: str = "") -> None:
    """Let LibreOffice Calc open files and save them in another form, without a window, as a new user."""
    program = shutil.which("soffice")
    if program is None:
        pytest.skip("LibreOffice Calc is not installed")
    ran = subprocess.run(
        [
            program,
            f"-env:UserInstallation={(folder / 'profile').as_uri()}",
            "--headless",
            "--norestore",
            *([f"--infilter=CSV:{reading}"] if reading else []),
            "--convert-to",
            target,
            "--outdir",
            str(folder),
            *map(str, files),
        ],
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    made = [folder / f"{f.stem}.{target.partition(':')[0]}" for f in files]
    assert all(m.is_file() for m in made), ran.stderr


def formulas(sheet: Path) -> int:
    with zipfile.ZipFile(sheet) as inside:
        return inside.read("content.xml").decode("utf-8").count("table:formula=")


def alike(before: str, after: str) -> bool:
    """Whether a cell is the same text, or the same number to the nine digits that are kept."""
    if before == after:
        return True
    try:
        return float(before) == pytest.approx(float(after), rel=1e-9, abs=0)
    except ValueError:
        return False


@pytest.mark.spreadsheet
@pytest.mark.xdist_group("spreadsheet")
def test_a_spreadsheet_opens_every_file_and_changes_no_cell(shelf, tmp_path):
    """By LibreOffice Calc: no cell becomes a formula; saved as CSV again every cell is the same, and imports alike."""
    folder = tmp_path / "calc"
    folder.mkdir()
    files = [shelf / own.file for own in OWN.values()]
    calc(folder, "ods", *files, reading=COMMAS)
    assert [formulas(folder / f"{f.stem}.ods") for f in files] == [0] * len(files)
    calc(folder, f"csv:Text - txt - csv (StarCalc):{COMMAS}{AS_THEY_ARE}", *(folder / f"{f.stem}.ods" for f in files))
    for file in files:
        before, after = rows(file), rows(folder / file.name)
        assert len(before) == len(after) > 1, file.name
        for line, (old, new) in enumerate(zip(before, after, strict=True), 1):
            odd = [(a, b) for a, b in zip(old, new, strict=True) if not alike(a, b)]
            assert odd == [], f"{file.name} line {line}"
    told: list[str] = []
    report = Importer(KNOWN, lambda bad: told.append(bad.line)).run(
        [folder / own.file for own in OWN.values()], shelf.parent / "workshop.db"
    )
    assert told == []
    assert report.there == sum(len(rows(f)) - 1 for f in files)


@pytest.mark.spreadsheet
@pytest.mark.xdist_group("spreadsheet")
def test_a_spreadsheet_does_change_such_texts_without_their_quote(tmp_path):
    """By LibreOffice Calc, so that the test above has teeth: bare, these very texts are evaluated or rewritten."""
    bare = [t for t in ODD if not t.startswith("'")]
    with (tmp_path / "bare.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["text"], *([t] for t in bare)])
    calc(tmp_path, "ods", tmp_path / "bare.csv", reading=COMMAS)
    assert formulas(tmp_path / "bare.ods") >= 1
    calc(tmp_path, f"csv:Text - txt - csv (StarCalc):{COMMAS}{AS_THEY_ARE}", tmp_path / "bare.ods")
    changed = {a for a, (b,) in zip(bare, rows(tmp_path / "bare.csv")[1:], strict=True) if a != b}
    assert {"=1+1", "007", "1/2", "3e5", "12:30", "(5)", ".5", "1.10", "May 5", "false"} <= changed
    assert not {'a "b", c; d', "Émail grün 815 °C", "999", "plain"} & changed
