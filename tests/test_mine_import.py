"""CSV files in and out: every fault by line and reason, all or nothing, and an export that imports to the same."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import refdb.store.workshop.datapackage as own_package
from refdb.errors import BadInput
from refdb.store.workshop.csv_files import Importer, export
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.rows import Cells, checked
from refdb.store.workshop.schema import NAMED, OWN, OWN_BASES, SHOWED, TILE_OUTCOMES

KNOWN = {
    "glass": {"clear-hard-lead-free", "clear-medium-lead-free"},
    "metal": {"copper-sheet"},
    "leaf": {"gold-foil-24k"},
}
HEAD = "name,expansion_ppm_per_k,expansion_from_c,expansion_to_c,basis,date"
GOOD = "Jar {},12.4,20,400,own test,2024-05-31"


def imported(folder: Path, content: bytes | str, name: str = "glasses.csv", **more):
    """The report, the bad lines told, and the names in the workshop afterwards."""
    file = folder / name
    file.write_bytes(content.encode() if isinstance(content, str) else content)
    told: list[str] = []
    defaults = more.pop("defaults", None)
    importer = Importer(KNOWN, lambda bad: told.append(bad.line), defaults=defaults)
    report = importer.run([file], folder / "workshop.db", more.pop("kind", None), **more)
    path = folder / "workshop.db"
    if not path.exists():
        return report, told, []
    with Workshop(path) as shop:
        assert shop.findings() == []
        return report, told, [r["name"] for k in NAMED for r in shop.listed(k)]


def body(*lines: str, head: str = HEAD) -> str:
    return "\n".join([head, *lines]) + "\n"


@pytest.mark.parametrize(
    "content",
    [
        body(GOOD.format(1), GOOD.format(2)).encode("utf-8-sig"),
        body(GOOD.format(1), GOOD.format(2)).replace("\n", "\r\n").encode(),
        body(GOOD.format(1), GOOD.format(2)).replace(",", ";").encode(),
        body(GOOD.format(1), GOOD.format(2)).replace(",", "\t").encode(),
        body(GOOD.format(1), "", ",,,,,", GOOD.format(2)).rstrip("\n").encode(),
        body('"Jar 1"," 12.4 ","20",400,"own test",2024-05-31', GOOD.format(2)).encode(),
        body("Jar 1,12.4 ppm/K,68F,400C,Own-Test,2024-05-31", GOOD.format(2)).encode(),
        body(GOOD.format(1), GOOD.format(2), head=HEAD.upper()).encode(),
    ],
    ids=["mark", "crlf", "semicolons", "tabs", "blank lines", "quotes", "units", "capitals"],
)
def test_what_spreadsheets_write_is_read(tmp_path, content):
    report, told, names = imported(tmp_path, content)
    assert told == []
    assert (report.good, report.bad, report.done) == ({"glass": 2}, 0, True)
    assert names == ["Jar 1", "Jar 2"]
    with Workshop(tmp_path / "workshop.db") as shop:
        row = shop.row("glass", "jar-1")
    assert row is not None
    assert (row["expansion_ppm_per_k"], row["expansion_from_c"], row["expansion_to_c"]) == (12.4, 20.0, 400.0)
    assert row["basis"] == "own test"


BAD_LINES = [
    ('Jar 9,"12,4",20,400,own test,2024-05-31', "decimal comma"),
    ("Jar 9,12,4,20,400,own test,2024-05-31", "7 cells instead of 6"),
    ("Jar 9,12.4,20,400,own test", "5 cells instead of 6"),
    ("Jar 9,12.4 %,20,400,own test,2024-05-31", "per cent"),
    ("Jar 9,12.4 mm,20,400,own test,2024-05-31", "expansion_ppm_per_k"),
    ("Jar 9,12.4,20 mm,400,own test,2024-05-31", "expansion_from_c"),
    ("Jar 9,125,20,400,own test,2024-05-31", "cubical"),
    ("Jar 9,1.24e-5,20,400,own test,2024-05-31", "ppm/K"),
    ("Jar 9,nan,20,400,own test,2024-05-31", "out of bounds"),
    ("Jar 9,inf,20,400,own test,2024-05-31", "out of bounds"),
    ("Jar 9,1_2,20,400,own test,2024-05-31", "not a number"),
    ("Jar 9,twelve,20,400,own test,2024-05-31", "not a number"),
    ("Jar 9,12-13,20,400,own test,2024-05-31", "not a number"),
    ("Jar 9,12-13 ppm/K,20,400,own test,2024-05-31", "a range in one cell"),
    ("Jar 9,12.4,,400,own test,2024-05-31", "span"),
    ("Jar 9,12.4,,,own test,2024-05-31", "span"),
    ("Jar 9,,20,400,own test,2024-05-31", "without its expansion"),
    ("Jar 9,12.4,400,20,own test,2024-05-31", "does not rise"),
    ("Jar 9,12.4,20,400,guess,2024-05-31", "guess without a range"),
    ("Jar 9,12.4,20,400,hearsay,2024-05-31", "own test"),
    ("Jar 9,12.4,20,400,own test,31.5.2024", "not a date"),
    ("Jar 9,12.4,20,400,own test,2024-02-30", "not a date"),
    ("Jar 9,12.4,20,400,,2024-05-31", "basis"),
    (",12.4,20,400,own test,2024-05-31", "name"),
    ("???,12.4,20,400,own test,2024-05-31", "makes no key"),
    ("=cmd|' /C calc'!A0,12.4,20,400,own test,2024-05-31", "formula"),
    ("@SUM(A1),12.4,20,400,own test,2024-05-31", "formula"),
    ("+1,12.4,20,400,own test,2024-05-31", "formula"),
    ("Jar 1,12.5,20,400,own test,2024-05-31", "stands in line 2"),
    ("JAR_1,12.5,20,400,own test,2024-05-31", "stands in line 2"),
    ("Jar\x07 9,12.4,20,400,own test,2024-05-31", "cannot be seen"),
    ('"Jar 9,12.4,20,400,own test,2024-05-31', "not sound CSV"),
    ('"Jar"9,12.4,20,400,own test,2024-05-31', "not sound CSV"),
    ("x" * 30_000 + ",12.4,20,400,own test,2024-05-31", "too long"),
    ("x" * 200 + ",12.4,20,400,own test,2024-05-31", "at most 80"),
    ("J\\xe4r 9,12.4,20,400,own test,2024-05-31", "not UTF-8"),
]


@pytest.mark.parametrize(("line", "reason"), BAD_LINES)
def test_a_bad_line_is_told_by_number_and_nothing_is_taken(tmp_path, line, reason):
    content = body(GOOD.format(1), line, GOOD.format(3)).encode().replace(b"\\xe4", b"\xe4")
    report, told, names = imported(tmp_path, content)
    assert len(told) == 1, told
    assert told[0].startswith("glasses.csv line 3")
    assert reason in told[0]
    assert "\n" not in told[0]
    assert len(told[0]) < 300
    assert (report.bad, report.done, names) == (1, False, [])


def test_the_good_lines_are_taken_where_that_is_asked_for(tmp_path):
    lines = [GOOD.format(1), *(line for line, _ in BAD_LINES), GOOD.format(3)]
    content = body(*lines).encode().replace(b"\\xe4", b"\xe4")
    report, told, names = imported(tmp_path, content, keep_good=True)
    assert names == ["Jar 1", "Jar 3"]
    assert report.bad == len(told) == len(BAD_LINES)
    numbers = [int(t.split("line ")[1].split(",")[0].split(":")[0]) for t in told]
    assert numbers == list(range(3, 3 + len(BAD_LINES)))


@pytest.mark.parametrize("more", [{}, {"keep_good": True}, {"check": True}])
def test_a_file_without_a_good_line_makes_no_workshop(tmp_path, more):
    """Nor its folder; each bad line is told once, though a first import reads its files twice."""
    lines = [line for line, _ in BAD_LINES[:5]]
    file = tmp_path / "glasses.csv"
    file.write_text(body(*lines))
    told: list[str] = []
    target = tmp_path / "deep" / "workshop.db"
    report = Importer(KNOWN, lambda bad: told.append(bad.line)).run([file], target, **more)
    assert (report.bad, len(told), report.good) == (5, 5, {"glass": 0})
    assert not target.parent.exists()
    file.write_text(body(*lines, GOOD.format(1)))
    told.clear()
    report = Importer(KNOWN, lambda bad: told.append(bad.line)).run([file], target, **more)
    assert (report.bad, len(told)) == (5, 5)
    assert target.exists() == more.get("keep_good", False)


def test_names_that_clash_between_files_are_told_before_a_workshop_is_made(tmp_path):
    glass, metal = tmp_path / "glasses.csv", tmp_path / "metals.csv"
    glass.write_text("name,basis,date\nSame,own test,2024-01-01\n")
    metal.write_text("name,basis,date\nsame,own test,2024-01-01\n")
    told: list[str] = []
    report = Importer(KNOWN, lambda bad: told.append(bad.line)).run([glass, metal], tmp_path / "workshop.db")
    assert (report.bad, report.done, len(told)) == (1, False, 1)
    assert "my:same is a glass too" in told[0]
    assert not (tmp_path / "workshop.db").exists()


def test_files_of_an_earlier_version_are_read(tmp_path):
    """The header as the second version exported strips, before errors were kept."""
    head = (
        "number,glass,metal,metal_mm,glass_mm,length_mm,width_mm,bow_mm,bow_before_mm,set_point_c,"
        "expansion_ppm_per_k,expansion_low_ppm_per_k,expansion_high_ppm_per_k,date,note"
    )
    line = "3,my:jar,copper-sheet,0.5,0.3,100,,4.4,,,,,,2024-01-01,'=x"
    _, told, _ = imported(tmp_path, f"{head}\n{line}\n", "strips.csv")
    assert told == []
    with Workshop(tmp_path / "workshop.db") as shop:
        row = shop.row("strip", "3")
    assert row is not None
    assert (row["bow_mm"], row["bow_error_mm"], row["metal_low_mm"], row["note"]) == (4.4, None, None, "=x")


def test_a_dry_run_leaves_nothing_behind(tmp_path):
    report, told, names = imported(tmp_path, body(GOOD.format(1), "Jar 2,x,20,400,own test,2024-01-01"), check=True)
    assert (report.good, report.bad, report.done, len(told), names) == ({"glass": 1}, 1, False, 1, [])
    assert not (tmp_path / "workshop.db").exists()
    imported(tmp_path, body(GOOD.format(1)))
    report, told, names = imported(tmp_path, body(GOOD.format(1).replace("12.4", "9"), GOOD.format(2)), check=True)
    assert names == ["Jar 1"]
    assert "you have another glass my:jar-1 already" in told[0]


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("", ("empty",)),
        ("name,basis", ("date is missing", "--date")),
        ("basis,date", ("name is missing",)),
        (HEAD + ",colour", ("no column", "colourant")),
        (HEAD + ",shoe_size", ("no column", "refdb mine columns")),
        (HEAD + ",name", ("twice",)),
        ("name basis date", ("no column",)),
        ("a" * 500, ("no column",)),
        (",".join(["name"] * 300), ("300 columns",)),
        ('"name,basis,date', ("not sound CSV",)),
    ],
)
def test_a_header_that_cannot_be_used_refuses_the_file(tmp_path, head, words):
    with pytest.raises(BadInput) as caught:
        imported(tmp_path, head + "\n" + GOOD.format(1) + "\n" if head else "\n\n", keep_good=True)
    for word in words:
        assert word in caught.value.line
    assert "glasses.csv" in caught.value.line


@pytest.mark.parametrize(
    "content", [body(GOOD.format(1)).encode("utf-16"), b"\x00\x01\x02" * 99, b"SQLite format 3\x00" + bytes(5000)]
)
def test_what_is_no_text_refuses_the_file(tmp_path, content):
    with pytest.raises(BadInput) as caught:
        imported(tmp_path, content)
    assert "\n" not in caught.value.line


def test_files_that_cannot_be_read(tmp_path):
    importer = Importer(KNOWN, lambda bad: None)
    for path in (tmp_path / "none.csv", tmp_path, tmp_path / "a\x00b.csv"):
        with pytest.raises(BadInput):
            importer.run([path], tmp_path / "workshop.db")


def test_the_kind_is_told_by_the_name_the_columns_or_the_option(tmp_path):
    leaf = "name,leaf_thickness_um,basis,date\nFoil,3,own test,2024-01-01\n"
    assert imported(tmp_path, leaf, "list.csv")[2] == ["Foil"]
    with pytest.raises(BadInput, match="--kind"):
        imported(tmp_path, "name,basis,date\nX,guess,2024-01-01\n", "list.csv")
    assert imported(tmp_path, "name,basis,date\nX,guess,2024-01-01\n", "list.csv", kind="metal")[2] == ["X", "Foil"]


def test_cubical_is_divided_by_three(tmp_path):
    lines = [
        "A,37.2,20,400,own test,2024-01-01,yes",
        "B,12.4,20,400,own test,2024-01-01,no",
        "C,12.4,20,400,own test,2024-01-01,",
    ]
    _, told, _ = imported(tmp_path, body(*lines, head=HEAD + ",cubical"))
    assert told == []
    with Workshop(tmp_path / "workshop.db") as shop:
        assert [r["expansion_ppm_per_k"] for r in shop.listed("glass")] == pytest.approx([12.4] * 3, abs=1e-9)
        assert shop.listed("glass")[0]["expansion_as_given"] == "37.2 ppm/K, cubical"
    for line, reason in (
        ("D,37.2,20,400,own test,2024-01-01,no", "cubical"),
        ("D,12.4,20,400,own test,2024-01-01,maybe", "yes nor no"),
    ):
        assert reason in imported(tmp_path, body(line, head=HEAD + ",cubical"))[1][0]


def test_rows_that_stand_there_already_are_passed_over(tmp_path):
    imported(tmp_path, body(GOOD.format(1)))
    report, told, names = imported(tmp_path, body(GOOD.format(1), GOOD.format(2)))
    assert (report.there, report.good, told, names) == (1, {"glass": 1}, [], ["Jar 1", "Jar 2"])


def test_a_basis_and_date_for_all_lines(tmp_path):
    _, told, names = imported(
        tmp_path, "name,note\nA,x\nB,y\n", kind="glass", defaults={"basis": "maker's sheet", "date": "2024-01-02"}
    )
    assert (told, names) == ([], ["A", "B"])


def test_a_long_file_is_never_held_as_a_whole(tmp_path):
    """Twenty thousand here; what is held does not grow from four to twenty thousand lines."""
    import tracemalloc

    peaks = []
    for rows in (4_000, 20_000):
        folder = tmp_path / str(rows)
        folder.mkdir()
        file = folder / "glasses.csv"
        with file.open("w") as out:
            out.write(HEAD + "\n")
            out.writelines(GOOD.format(n) + "\n" for n in range(rows))
        tracemalloc.start()
        report = Importer(KNOWN, print).run([file], folder / "workshop.db")
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert report.good == {"glass": rows}
    assert peaks[1] < 1.5 * peaks[0]
    assert peaks[1] < 3_000_000


# Export and import again

WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc", "Cf", "Co", "Cn", "Zl", "Zp"]), max_size=30)
STARTS = st.sampled_from(["", "=", "+", "-", "@", "'", "''=", '"', ";", ",", "007", "1/2", "'12:30", "May 5", "true"])
TEXTS = st.builds(lambda a, b: (a + " ".join(b.split())).strip(), STARTS, WORDS)


def numbers(low: float, high: float):
    return st.floats(low, high, allow_nan=False, allow_infinity=False).map(lambda x: float(f"{x:.9g}"))


@st.composite
def rows(draw, kind):
    """A row that may be added, of any kind; what its columns forbid is left out."""
    own = OWN[kind]
    row = {}
    for column in own.columns:
        if not column.required and draw(st.booleans()):
            continue
        if column.name in ("glass", "metal", "key") and kind in ("tile", "strip", "stock", "firing"):
            row[column.name] = draw(st.sampled_from(["my:jar", "clear-hard-lead-free", "copper-sheet"]))
        elif column.name.endswith("tiles"):
            row[column.name] = "; ".join(map(str, sorted(draw(st.sets(st.integers(1, 10**8), min_size=1, max_size=5)))))
        elif column.name == "like":
            row["like"] = draw(st.sampled_from(sorted(KNOWN[kind])))
        elif column.name == "alloy":
            row["alloy"] = draw(st.sampled_from(["Cu 99.9", "Cu 95, Zn 5", "70 % copper, 30 % zinc", "CuZn30"]))
        elif column.name == "metal" and kind == "leaf":
            row["metal"] = draw(st.sampled_from(["Au", "Au Ag Cu", "Ag"]))
        elif column.name == "outcome":
            row["outcome"] = "; ".join(sorted({draw(st.sampled_from(TILE_OUTCOMES))}))
        elif column.type == "INTEGER":
            continue
        elif column.type == "REAL":
            row[column.name] = draw(numbers(column.low, column.high))
        elif column.choices:
            row[column.name] = draw(st.sampled_from(column.choices))
        elif column.name.endswith("date"):
            row[column.name] = draw(st.dates(date(1950, 1, 1), date(2024, 1, 1))).isoformat()
        else:
            row[column.name] = draw(TEXTS) or None
    if own.named:
        row["name"] = f"{draw(STARTS)}{draw(st.integers(0, 10**9))} {draw(WORDS)}".strip()[:80]
    return {k: v for k, v in row.items() if v is not None}


def accepted(kind, row):
    """The row as the checks leave it, or None where they refuse it."""
    known = {
        "glass": {*KNOWN["glass"], "copper-sheet"},
        "metal": {*KNOWN["metal"], "clear-hard-lead-free"},
        "leaf": KNOWN["leaf"],
    }
    if kind in NAMED and not row["name"].isprintable():
        row["name"] = "".join(c if c.isprintable() else " " for c in row["name"])
    try:
        return checked(OWN[kind], row, known)
    except BadInput:
        return None


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_importing_an_export_gives_the_same_again(tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("export")
    known = {
        "glass": {*KNOWN["glass"], "copper-sheet"},
        "metal": {*KNOWN["metal"], "clear-hard-lead-free"},
        "leaf": KNOWN["leaf"],
    }
    with Workshop(folder / "first.db", write=True) as shop:
        for kind in OWN:
            for row in data.draw(st.lists(rows(kind), max_size=2)):
                good = accepted(kind, row)
                if good is not None and (kind not in NAMED or shop.kind_of(good["key"]) is None):
                    shop.add(kind, good)
        first = {kind: shop.listed(kind) for kind in OWN}
        export(shop, folder / "out")
    files = [folder / "out" / own.file for own in OWN.values()]
    told: list[str] = []
    for times in range(2):
        report = Importer(known, lambda bad: told.append(bad.line)).run(files, folder / "second.db")
        assert told == []
        assert report.there == (sum(map(len, first.values())) if times else 0)
    if not (folder / "second.db").exists():
        assert not any(first.values())
        return
    with Workshop(folder / "second.db") as shop:
        assert {kind: shop.listed(kind) for kind in OWN} == first
        export(shop, folder / "again")
    for own in OWN.values():
        assert (folder / "out" / own.file).read_bytes() == (folder / "again" / own.file).read_bytes()


def test_an_export_is_safe_in_a_spreadsheet_and_plain_to_any_reader(tmp_path):
    """Read back by the csv module alone, against the table schema beside it."""
    with Workshop(tmp_path / "workshop.db", write=True) as shop:
        for name in ("=1+1", "@x", "'quoted'", "-9", "+3", 'a "b", c;d', "plain"):
            shop.add(
                "glass",
                {"name": name, "basis": "own test", "date": "2024-01-01", "note": f"={name}", "set_point_c": 510.0},
            )
        shop.add(
            "tile",
            {
                "glass": "my:plain",
                "metal": "copper-sheet",
                "outcome": "crazed; bubbled",
                "showed": SHOWED[2],
                "date": "2024-01-01",
                "kiln_c": 815.0,
            },
        )
        counts = export(shop, tmp_path / "out")
        with pytest.raises(BadInput, match="there already"):
            export(shop, tmp_path / "out")
    assert counts == {"glass": 7, "metal": 0, "leaf": 0, "tile": 1, "strip": 0, "stock": 0, "firing": 0, "kiln": 0}
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text())
    for resource in package["resources"]:
        text = (tmp_path / "out" / resource["path"]).read_text("utf-8")
        found = list(csv.DictReader(io.StringIO(text)))
        fields = {f["name"]: f for f in resource["schema"]["fields"]}
        assert text.splitlines()[0].split(",") == list(fields)
        for row in found:
            for name, cell in row.items():
                assert not cell.startswith(("=", "+", "-", "@")) or fields[name]["type"] == "number"
                limits = fields[name].get("constraints", {})
                if not cell:
                    assert not limits.get("required")
                    continue
                if fields[name]["type"] in ("number", "integer"):
                    assert limits["minimum"] <= float(cell) <= limits["maximum"]
                assert cell in limits.get("enum", [cell])


def test_the_schema_that_is_shipped_is_the_one_of_the_columns():
    shipped = Path(own_package.__file__).with_name("mine.schema.json").read_text("utf-8")
    assert json.loads(shipped) == own_package.package()
    names = [r["path"] for r in json.loads(shipped)["resources"]]
    assert names == [
        "glasses.csv",
        "metals.csv",
        "leaf.csv",
        "tiles.csv",
        "strips.csv",
        "stock.csv",
        "firings.csv",
        "kilns.csv",
    ]


def test_every_basis_has_a_word_that_verdicts_know():
    from refdb.records import BASES, WEAK_BASES

    assert set(OWN_BASES.values()) <= set(BASES)
    assert OWN_BASES["guess"] in WEAK_BASES
    assert OWN_BASES["own test"] not in WEAK_BASES


def test_cells_read_twice_are_read_alike():
    cells = Cells(OWN["glass"], ["name", "hardness", "set_point_c", "basis", "date"], KNOWN)
    lines = [["A", "Very-Hard", "950F", "Makers sheet", "2024-01-01"]] * 3
    found = [cells.row(line) for line in lines]
    assert found[0] == found[1] == found[2]
    assert (found[0]["hardness"], found[0]["basis"], found[0]["set_point_c"]) == ("very hard", "maker's sheet", 510.0)


def test_a_twin_among_many_is_told_and_the_rows_of_a_file_of_the_same_name_stay(tmp_path):
    """Rows are written many at a time; those of another folder's glasses.csv stand at the very same lines."""
    files = []
    for folder, first in (("a", 0), ("b", 1000)):
        (tmp_path / folder).mkdir()
        files.append(tmp_path / folder / "glasses.csv")
        names = [*range(first, first + 300), first + 7, *range(first + 300, first + 400)]
        files[-1].write_text(body(*(GOOD.format(n) for n in names)), encoding="utf-8")
    told: list[str] = []
    report = Importer(KNOWN, lambda bad: told.append(bad.line)).run(files, tmp_path / "workshop.db", None)
    assert report.bad == 2
    assert [line.partition(": ")[2][:37] for line in told] == ["the same name stands in line 9 of glas"[:37]] * 2
    assert report.good["glass"] == 800


def test_cells_read_before_are_read_as_if_they_were_new():
    """What a row has in common with one before it is not checked again; names, dates and notes are its own."""
    head = [*HEAD.split(","), "note"]
    again = Cells(OWN["glass"], head, KNOWN, {"basis": "hearsay", "date": "2020-01-01"})
    for n, date_ in ((1, "2024-05-31"), (2, ""), (3, "2024-06-01")):
        cells = [f"Jar {n}", "12.4", "20", "400", "own test", date_, f"shelf {n}"]
        fresh = Cells(OWN["glass"], head, KNOWN, {"basis": "hearsay", "date": "2020-01-01"})
        assert again.row(cells) == fresh.row(cells)
        assert again.row(cells)["basis"] == "own test"
    for wrong in (["", *cells[1:]], ["???", *cells[1:]], [*cells[:5], "2024-02-30", ""]):
        with pytest.raises(BadInput):
            again.row(wrong)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("glasses.csv", body("Jar 1,12.4,-0,400,own test,2024-05-31")),
        (
            "glasses.csv",
            body("Émail Ⅳ,12.400,20.0,4e2,own test,2024-05-31", "jar 0001,1.24e1,0,400,own test,2024-05-31"),
        ),
        ("metals.csv", "name,like,shrinkage_percent,basis,date\nOld,copper-sheet,-0,own test,2024-05-31\n"),
        ("leaf.csv", "name,metal,leaf_thickness_um,basis,date\nThin,Au,.12,own test,2024-05-31\n"),
    ],
)
def test_the_sum_told_on_the_way_in_is_that_of_what_stands_there(tmp_path, name, content):
    from refdb.store.workshop.checksums import mark_all

    imported(tmp_path, content, name, keep_good=True)
    with Workshop(tmp_path / "workshop.db", write=True) as shop:
        held = shop.rows("SELECT kind, key, crc FROM sums")
        mark_all(shop.connection)
        assert held == shop.rows("SELECT kind, key, crc FROM sums")
        assert held
