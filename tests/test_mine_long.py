"""Long lists of one's own: the same text as short ones, row after row, in memory that does not grow with them."""

from __future__ import annotations

import csv
import io
import json
import sys
import tracemalloc

import pytest

from refdb.cli.main import main
from refdb.cli.output import emit_json_rows
from refdb.store.reference import default_path
from refdb.store.workshop.beside_reference import Shelf
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import OWN

FORMS = {"text": (), "json": ("--json",), "csv": ("--csv",)}


def filled(path, count):
    with Workshop(path, write=True) as shop, shop.change() as db:
        db.executemany(
            f"INSERT INTO {OWN['glass'].table} (key, name, basis, date, like, note) VALUES (?, ?, ?, ?, ?, ?)",
            (
                (f"jar-{n:06}", f"Jar {n} µ", "own test", "2024-05-31", "clear-hard-lead-free", f"shelf {n % 50}")
                for n in range(count)
            ),
        )
    return path


class Counted(io.TextIOBase):
    """Takes text and keeps none of it."""

    encoding = "utf-8"

    def __init__(self) -> None:
        super().__init__()
        self.lines = 0

    def write(self, text: str) -> int:
        self.lines += text.count("\n")
        return len(text)


@pytest.mark.parametrize("words", [("mine", "list", "glass"), ("glasses",)], ids=" ".join)
@pytest.mark.parametrize("form", FORMS)
def test_a_list_ten_times_as_long_needs_no_more_memory(tmp_path, monkeypatch, form, words):
    peaks = {}
    for count in (600, 600, 6_000):
        path = tmp_path / f"{count}.db"
        if not path.exists():
            filled(path, count)
        out = Counted()
        monkeypatch.setattr(sys, "stdout", out)
        tracemalloc.start()
        try:
            assert main(["--workshop", str(path), *words, *FORMS[form]]) == 0
            peaks[count] = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
        assert out.lines > count
    assert peaks[6_000] < 1.3 * peaks[600], peaks


def test_every_row_of_a_long_list_is_there_once_and_in_order(mine):
    filled(mine.path, 1_203)
    due = [f"my:jar-{n:06}" for n in range(1_203)]
    told = json.loads(mine("mine", "list", "glass", "--json").out)
    assert [row["key"] for row in told["rows"]] == due
    rows = list(csv.DictReader(io.StringIO(mine("mine", "list", "glass", "--csv").out)))
    assert [row["key"] for row in rows] == due
    assert rows[3]["name"] == "Jar 3 µ"
    lines = mine("mine", "list", "glass").out.splitlines()
    assert lines[0] == "glasses"
    assert [line.split()[0] for line in lines if "my:jar" in line] == due
    assert len({line.index("my:") for line in lines if "my:jar" in line}) == 1


def test_a_long_shelf_stands_whole_and_in_order_beside_the_classes(mine):
    """What is read twice is what a list that is held has, whichever form, and what is chosen of it."""
    filled(mine.path, 703)
    due = [f"my:jar-{n:06}" for n in range(703)]
    with Shelf(default_path(), mine.path) as ref:
        ref.most_listed = None
        classes = [m.key for m in ref.materials("glass")][:-703]
        views = {row["key"]: row for row in ref.summaries("glasses")}
    told = json.loads(mine("glasses", "--json").out)["rows"]
    assert [row["key"] for row in told] == classes + due
    assert all(row == views[row["key"]] for row in told)
    rows = list(csv.DictReader(io.StringIO(mine("glasses", "--csv").out)))
    assert [(row["key"], row["family"]) for row in rows] == [(row["key"], row["family"]) for row in told]
    lines = mine("glasses").out.splitlines()
    assert [line.split()[0] for line in lines if "my:jar" in line] == due
    soft = mine("glasses", "--hardness", "soft")
    assert "my:jar" not in soft.out
    assert mine("glasses", "--family", "clears", "--json").out.count("my:jar") == 703
    nothing = mine("glasses", "--hardness", "soft", "--family", "clears", "--lead-free")
    assert nothing.status == 0
    wrong = mine("glasses", "--family", "nonsense")
    assert (wrong.status, wrong.out, wrong.err.count("\n")) == (2, "", 1)


@pytest.mark.parametrize("words", [(), ("--removed", "glass")])
def test_a_table_of_several_kinds_is_not_written_as_csv(mine, words):
    ran = mine("mine", "list", *words, "--csv")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "mine export" in ran.err


@pytest.mark.parametrize("rows", [[], [{"a": -0.0, "b": ["x\x1b", None]}], [{"a": 1}, {"a": {"b": 2.5}}]])
def test_rows_one_by_one_are_the_document_of_all_at_once(capsys, rows):
    from refdb.cli.output import emit_json

    emit_json({"rows": rows})
    whole = capsys.readouterr().out
    emit_json_rows(iter(rows))
    assert capsys.readouterr().out == whole
