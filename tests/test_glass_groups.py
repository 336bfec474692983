"""Figures that a group of glasses shares: one row in the sources, one in the store for each glass, counted once."""

from __future__ import annotations

import csv
import sqlite3
import subprocess
import sys
from collections import defaultdict
from contextlib import closing
from pathlib import Path

import pytest
import small_sources

from refdb.curate.build import build
from refdb.curate.read import BadSources

ROOT = Path(__file__).resolve().parents[1]
SHARED = {
    "material": "all-of-them",
    "property": "poisson_ratio",
    "value": "0.22",
    "as_printed": "0.22",
    "unit": "1",
    "basis": "published",
    "seen": "read",
    "source": "made-up-handbook",
    "preferred": "1",
}
MEMBERS = [{"glass_group": "all-of-them", "glass": "clear-hard"}]


def with_group(folder: Path, members: list[dict[str, str]] = MEMBERS, **cells: str) -> Path:
    values = [*small_sources.ROWS["property_values.csv"], SHARED | cells]
    values.sort(key=lambda r: (r["material"], r["property"], r["source"]))
    subjects = [
        *small_sources.ROWS["source_subjects.csv"],
        {"source": "made-up-handbook", "subject": "poisson_ratio of glass", "seen": "read"},
    ]
    subjects.sort(key=lambda r: (r["source"], r["subject"]))
    changed = {"property_values.csv": values, "glass_groups.csv": members, "source_subjects.csv": subjects}
    return small_sources.write(folder, changed)


def test_a_shared_figure_is_taken_for_each_glass_and_keeps_its_group(tmp_path: Path) -> None:
    report = build(with_group(tmp_path / "sources"), tmp_path / "store.db")
    with closing(sqlite3.connect(report.target)) as store:
        found = store.execute(
            "SELECT material, value, shared_by FROM property_values WHERE property = 'poisson_ratio'"
        ).fetchall()
        assert found == [("clear-hard", 0.22, "all-of-them")]
        assert store.execute("SELECT count(*) FROM property_values WHERE shared_by IS NULL").fetchone()[0] == 6


@pytest.mark.parametrize(
    ("members", "cells", "said"),
    [
        ([{"glass_group": "all-of-them", "glass": "clear-harder"}], {}, "no materials row has the key 'clear-harder'"),
        ([{"glass_group": "copper-sheet", "glass": "clear-hard"}], {}, "'copper-sheet' is the key of a material"),
        ([*MEMBERS, {"glass_group": "idle", "glass": "clear-hard"}], {}, "no figure stands for 'idle'"),
        (
            MEMBERS,
            {"property": "expansion", "temp_low_c": "20", "temp_high_c": "400", "unit": "ppm/K"},
            "already given",
        ),
    ],
)
def test_a_group_that_makes_no_sense_is_refused(tmp_path: Path, members, cells, said) -> None:
    with pytest.raises(BadSources) as caught:
        build(with_group(tmp_path / "sources", members, **cells), tmp_path / "store.db")
    assert said in caught.value.line


def test_every_shared_figure_of_the_store_stands_once(store) -> None:
    with (ROOT / "data_sources" / "property_values.csv").open(encoding="utf-8", newline="") as file:
        written = list(csv.DictReader(file))
    with closing(sqlite3.connect(store)) as database:
        rows = database.execute("SELECT material, property, source, shared_by FROM property_values").fetchall()
    facts = {(group or material, prop, source) for material, prop, source, group in rows}
    assert facts == {(r["material"], r["property"], r["source"]) for r in written}
    assert len(written) < len(rows)


def test_no_figure_of_glasses_is_copied_from_one_to_the_next() -> None:
    """What several classes have alike stands under a group: no figure of a glass occurs twice with one note."""
    with (ROOT / "data_sources" / "glasses.csv").open(encoding="utf-8", newline="") as file:
        glasses = {row["key"] for row in csv.DictReader(file)}
    alike = defaultdict(list)
    with (ROOT / "data_sources" / "property_values.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["material"] in glasses and row["property"] in (
                "expansion",
                "set_point",
                "density",
                "youngs_modulus",
            ):
                cells = ("property", "value", "low", "high", "source", "note", "preferred")
                alike[tuple(row[c] for c in cells)].append(row["material"])
    assert {k: v for k, v in alike.items() if len(v) > 1} == {}


def test_the_figures_of_a_class_are_those_of_its_glasses() -> None:
    """Worked out again from data_sources/sciglass/class_glasses.csv, to the last digit kept."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "class_figures.py"), "--check"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_verify_tells_how_much_is_only_remembered(refdb, store) -> None:
    """Counted again from the sources: a fact once, whatever glasses share it."""
    with (ROOT / "data_sources" / "glasses.csv").open(encoding="utf-8", newline="") as file:
        glasses = {row["key"] for row in csv.DictReader(file)}
    with (ROOT / "data_sources" / "glass_groups.csv").open(encoding="utf-8", newline="") as file:
        glasses |= {row["glass_group"] for row in csv.DictReader(file)}
    used = ("expansion", "set_point", "youngs_modulus", "poisson_ratio", "density", "fuse_low", "fuse_high")
    with (ROOT / "data_sources" / "property_values.csv").open(encoding="utf-8", newline="") as file:
        facts = [
            r
            for r in csv.DictReader(file)
            if r["material"] in glasses and r["property"] in used and r["preferred"] == "1"
        ]
    recalled = sum("from memory" in (r["seen"], r["basis"]) for r in facts)
    said = " ".join(refdb("verify").out.split())
    assert f"{len(facts)} figures of glass that verdicts use" in said
    assert f"{recalled} ({recalled / len(facts):.0%}) only from memory" in said
    assert recalled / len(facts) <= 0.20
