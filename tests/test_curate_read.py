"""The reader of the data sources: what it takes, and what it refuses with file, line and column."""

from __future__ import annotations

from pathlib import Path

import pytest
import small_sources
from hypothesis import given
from hypothesis import strategies as st

from refdb.curate.read import SHOWN, BadSources, Problems, Row, decoded, parsed, read_folder
from refdb.errors import BadSource
from refdb.store.schema import FILES

HAZARDS = next(file for file in FILES if file.name == "hazards.csv")


def read(folder: Path) -> dict[str, list[Row]]:
    problems = Problems()
    rows = read_folder(folder, problems)
    problems.raise_if_any()
    return rows


def refusal(folder: Path) -> str:
    with pytest.raises(BadSources) as caught:
        read(folder)
    return caught.value.line


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_sources.write(tmp_path / "sources")


def spoil(folder: Path, old: bytes, new: bytes, name: str = "hazards.csv") -> None:
    content = (folder / name).read_bytes()
    assert old in content
    (folder / name).write_bytes(content.replace(old, new, 1))


def test_every_row_comes_with_its_file_and_line(folder: Path) -> None:
    rows = read(folder)
    assert {file.name for file in FILES} == set(rows)
    points = rows["expansion_points.csv"]
    assert [(row.file, row.line, row.cells["temp_c"]) for row in points] == [
        ("expansion_points.csv", line, temp_c) for line, (temp_c, _) in enumerate(small_sources.CURVE, 2)
    ]


def test_crlf_gives_the_same_rows(folder: Path) -> None:
    plain = read(folder)
    for file in FILES:
        path = folder / file.name
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert read(folder) == plain


def test_answers_may_be_absent(folder: Path) -> None:
    (folder / "answers.csv").unlink()
    assert read(folder)["answers.csv"] == []


def test_a_cell_over_two_lines_keeps_later_line_numbers_true(folder: Path) -> None:
    spoil(
        folder,
        b"common-practice,Common practice,common practice,",
        b'common-practice,Common practice,common practice,"a\nb"',
        "sources.csv",
    )
    lines = [row.line for row in read(folder)["sources.csv"]]
    assert lines == [2, 4, 5, 6]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (b"key,step", b"\xef\xbb\xbfkey,step", "hazards.csv line 1: the file begins with a byte order mark"),
        (b"key,step", b"\xff\xfekey,step", "hazards.csv line 1: the file begins with a byte order mark"),
        (b"Wear gloves", b"Wear glov\xe9s", "hazards.csv line 2: byte 0xe9 is not UTF-8"),
        (b"Wear gloves", b"Wear\rgloves", "hazards.csv line 2: a lone carriage return"),
        (b",weight", b"", "hazards.csv line 1, column weight: the header lacks this column"),
        (b",note", b",note,colour", "hazards.csv line 1, column colour: the header has a column that"),
        (b",note", b",note,", "hazards.csv line 1, column (blank): the header has a column that"),
        (b",note", b",note,step", "hazards.csv line 1, column step: the header has it 2 times"),
        (b"key,step", b"step,key", "hazards.csv line 1: the columns stand in another order"),
        (b"key,step", b"Key,step", "hazards.csv line 1, column key: the header lacks this column"),
        (b"burns,firing", b"burns,firing,hot", "hazards.csv line 2: 12 cells instead of 11"),
        (b"burns,firing", b"burns", "hazards.csv line 2: 10 cells instead of 11"),
        (b"note\n", b"note\n\n", "hazards.csv line 2: a blank line"),
        (b"burns,firing", b'"burns"x,firing', "hazards.csv line 2: not sound CSV"),
        (b"burns,firing", b'"burns,firing', "hazards.csv line 2: not sound CSV"),
    ],
)
def test_a_misshapen_file_is_refused_with_its_place(folder: Path, old: bytes, new: bytes, expected: str) -> None:
    spoil(folder, old, new)
    line = refusal(folder)
    assert expected in line
    assert ";" in line  # and what to do


def test_an_empty_file_is_refused(folder: Path) -> None:
    (folder / "leaf.csv").write_bytes(b"")
    assert "leaf.csv line 1: the file is empty; begin it with the header key,label" in refusal(folder)


def test_a_missing_file_is_named(folder: Path) -> None:
    (folder / "solders.csv").unlink()
    assert refusal(folder).startswith("solders.csv: the file is missing; add it")


def test_a_file_of_no_table_is_named(folder: Path) -> None:
    (folder / "metal.csv").write_text("key\n")
    assert "metal.csv: this file is in no table of the schema" in refusal(folder)


def test_a_folder_in_place_of_a_file_is_named(folder: Path) -> None:
    (folder / "leaf.csv").unlink()
    (folder / "leaf.csv").mkdir()
    assert "leaf.csv: cannot read the file (is a directory)" in refusal(folder)


def test_a_missing_folder_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(BadSource, match="cannot read the folder") as caught:
        read(tmp_path / "nowhere")
    assert "\n" not in caught.value.line
    assert "nowhere" in caught.value.where


def test_all_problems_are_told_at_once_the_first_ten_in_words(folder: Path) -> None:
    for file in FILES[:13]:
        (folder / file.name).unlink()
    lines = refusal(folder).split("\n")
    assert len(lines) == SHOWN + 1
    assert lines[0].startswith("sources.csv")
    assert lines[-1] == "and 3 more"


@given(st.binary(max_size=400))
def test_any_bytes_are_rows_or_a_problem(content: bytes) -> None:
    problems = Problems()
    text = decoded(content, "hazards.csv", problems)
    rows = [] if text is None else parsed(text, HAZARDS, problems)
    assert rows or len(problems)


@given(st.text(max_size=200))
def test_any_text_under_a_sound_header_is_read_or_told(text: str) -> None:
    problems = Problems()
    header = ",".join(column.name for column in HAZARDS.columns)
    rows = parsed(f"{header}\n{text}", HAZARDS, problems)
    assert all(set(row.cells) == {column.name for column in HAZARDS.columns} for row in rows)
    assert rows or len(problems) or not text
