"""`refdb verify --against`: every kind of change that is made to a store is told, with what it was, and nothing else.

The oracle is the change itself, made by SQL on a copy of the store that is built from the sources.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from refdb.cli.against_page import HEADER
from refdb.cli.output import SCREEN, STANDARD
from refdb.curate.between import CHANGED, GONE, NEW, between
from refdb.store.schema import SCHEMA_VERSION, TABLES

METAL, GLASS, SOURCE = "copper-sheet", "clear-hard-lead-free", "crc-elements"
FIGURE = {"material": METAL, "property": "density", "source": SOURCE}


@pytest.fixture
def spoilt(store: Path, tmp_path: Path) -> Callable[..., Path]:
    """A copy of the store after some SQL: the older of the two, so the store of the tests is what it became."""

    def make(*statements: str) -> Path:
        target = tmp_path / "then.db"
        shutil.copyfile(store, target)
        with closing(sqlite3.connect(target)) as database, database:
            for sql in statements:
                assert database.execute(sql).rowcount != 0, sql
        return target

    return make


def of(path: Path, sql: str) -> Any:
    with closing(sqlite3.connect(path)) as database:
        return database.execute(sql).fetchone()[0]


def test_of_the_same_store_nothing_changed(refdb, store, tmp_path):
    copy = tmp_path / "copy.db"
    shutil.copyfile(store, copy)
    ran = refdb("verify", "--against", str(copy))
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("Nothing changed")
    found = between(copy, store)
    assert found.same
    assert (found.rows, found.verdicts, found.moved) == ((), (), 0)
    assert found.pairs == of(store, "SELECT count(*) FROM answers") > 1000
    body = json.loads(refdb("verify", "--against", str(copy), "--json").out)
    assert body["same"] is True
    assert refdb("verify", "--against", str(copy), "--csv").out == ",".join(HEADER) + "\n"


@pytest.mark.parametrize(
    ("sql", "kind", "columns"),
    [
        ("UPDATE property_values SET value = value + 7, low = NULL, high = NULL", CHANGED, {"value"}),
        ("UPDATE property_values SET basis = 'estimate', note = 'otherwise'", CHANGED, {"basis", "note"}),
        ("UPDATE property_values SET value = value * (1 + 1e-9), low = NULL, high = NULL", CHANGED, {"value"}),
        ("DELETE FROM property_values", NEW, None),
    ],
)
def test_a_figure_is_told_with_what_it_was(refdb, spoilt, store, sql, kind, columns):
    place = f"WHERE material = '{METAL}' AND property = 'density' AND source = '{SOURCE}'"
    now = of(store, f"SELECT value FROM property_values {place}")
    then = spoilt(f"{sql} {place}")
    (row,) = between(then, store).rows
    assert (row.table, row.key, row.kind) == ("property_values", FIGURE, kind)
    assert set(row.values) >= (columns or {"value", "basis"})
    if "value" in row.values:
        was = None if kind == NEW else of(then, f"SELECT value FROM property_values {place}")
        assert (
            row.values["value"] == pytest.approx((was, now), rel=1e-11) if was else row.values["value"] == (None, now)
        )
    ran = refdb("verify", "--against", str(then))
    assert ran.status == 1
    assert ran.out.startswith("Changed: 1 figure, 0 of")
    line = next(line for line in ran.out.splitlines() if line.strip().startswith(METAL))
    assert SOURCE in line
    assert "density" in line


def test_two_figures_that_agree_to_six_digits_are_told_apart(refdb, spoilt):
    place = f"WHERE material = '{METAL}' AND property = 'density' AND source = '{SOURCE}'"
    then = spoilt(f"UPDATE property_values SET value = value * (1 + 1e-9), low = NULL, high = NULL {place}")
    line = next(line for line in refdb("verify", "--against", str(then)).out.splitlines() if METAL in line)
    was, _, now = line.partition("was ")[2].partition(", now ")
    assert was.partition(";")[0] != now.split()[0]


def test_a_figure_that_is_gone_is_told_and_named(refdb, spoilt, store):
    then = spoilt(
        "INSERT INTO property_values SELECT material, property, value, low, high, as_printed, unit_as_printed, "
        "temp_low_c, temp_high_c, basis, seen, 'lu-2005', locator, 0, note, shared_by FROM property_values "
        f"WHERE material = '{METAL}' AND property = 'density' AND source = '{SOURCE}'"
    )
    (row,) = between(then, store).rows
    assert (row.kind, row.key) == (GONE, FIGURE | {"source": "lu-2005"})
    assert row.values["value"][1] is None
    assert "lu-2005, gone: " in refdb("verify", "--against", str(then)).out


#: For each kind of row beside the figures of materials: what is done to it, and how it is told.
ROWS = {
    "expansion_points": ("UPDATE expansion_points SET strain_ppm = strain_ppm + 1", CHANGED),
    "contacts": ("UPDATE contacts SET first_melts_c = first_melts_c + 1, low = NULL, high = NULL", CHANGED),
    "fit_rules": ("UPDATE fit_rules SET why = why || '!'", CHANGED),
    "practice_rules": ("UPDATE practice_rules SET statement = statement || '!'", CHANGED),
    "hazards": ("UPDATE hazards SET caution = caution || '!'", CHANGED),
    "exposure_limits": ("UPDATE exposure_limits SET limit_text = limit_text || '!'", CHANGED),
    "aliases": ("DELETE FROM aliases", NEW),
    "faults": ("DELETE FROM faults", NEW),
    "sources": ("UPDATE sources SET title = title || '!'", CHANGED),
    "materials": ("UPDATE materials SET summary = summary || '!'", CHANGED),
    "builds": ("UPDATE builds SET first_ratio = coalesce(first_ratio, 0) + 0.01", CHANGED),
    "estimates": ("DELETE FROM estimates", NEW),
}


def test_a_row_of_any_other_kind_is_told(refdb, spoilt, store):
    made = {name: f"{sql} WHERE rowid = (SELECT min(rowid) FROM {name})" for name, (sql, _) in ROWS.items()}
    then = spoilt(*made.values())
    found = between(then, store)
    assert sorted((row.table, row.kind) for row in found.rows) == sorted((name, ROWS[name][1]) for name in ROWS)
    assert found.counts() == {name: {CHANGED: 0, NEW: 0, GONE: 0} | {kind: 1} for name, (_, kind) in ROWS.items()}
    ran = refdb("verify", "--against", str(then), "--full")
    said = " ".join(ran.out.split())
    assert ran.status == 1
    for row in found.rows:
        assert ", ".join(f"{part:g}" if isinstance(part, float) else part for part in row.key.values()) in said, row
    assert "0 of" in ran.out.splitlines()[0]


def test_every_table_of_the_store_is_compared(store, spoilt):
    """Emptied one after the other, each is told as new with all its rows; only the answers are told as verdicts."""
    tables = [table.name for table in TABLES if table.name != "answers"]
    counts = {name: of(store, f"SELECT count(*) FROM {name}") for name in tables}
    then = spoilt(*(f"DELETE FROM {name}" for name in tables if counts[name]))
    told = between(then, store).counts()
    assert {name: kinds[NEW] for name, kinds in told.items()} == {name: n for name, n in counts.items() if n}


def plain_of(shares: list[float], store: Path) -> str:
    numbers = json.loads(of(store, f"SELECT numbers FROM answers WHERE glass = '{GLASS}' AND metal = '{METAL}'"))
    return json.dumps([shares, *numbers[1:]]).replace("'", "''")


PAIR = f"WHERE glass = '{GLASS}' AND metal = '{METAL}'"


@pytest.mark.parametrize(("shares", "outcome"), [([0.1, 0.2, 0.7], "does not suit"), ([0.0, 0.5, 0.5], "cannot say")])
def test_a_stored_verdict_is_told_with_both_outcomes(refdb, spoilt, answered_store, shares, outcome):
    now = json.loads(of(answered_store, f"SELECT numbers FROM answers {PAIR}"))[0]
    then = spoilt(f"UPDATE answers SET numbers = '{plain_of(shares, answered_store)}' {PAIR}")
    found = between(then, answered_store)
    (one,) = found.verdicts
    assert (found.rows, found.moved) == ((), 0)
    assert (one.glass, one.metal, one.old, one.new) == (GLASS, METAL, tuple(shares), tuple(now))
    assert one.outcomes[0] == outcome
    assert one.turns == (one.outcomes[0] != one.outcomes[1])
    body = json.loads(refdb("verify", str(answered_store), "--against", str(then), "--json").out)
    assert [(v["old"], v["new"], v["old_shares"]) for v in body["verdicts"]] == [(*one.outcomes, shares)]
    said = refdb("verify", str(answered_store), "--against", str(then)).out
    assert (f"{GLASS} on {METAL}: was {outcome}, now {one.outcomes[1]}" in said) == one.turns
    assert "none worked out anew" in " ".join(said.split())


def test_shares_that_move_within_an_outcome_are_counted_apart(refdb, spoilt, answered_store):
    now = json.loads(of(answered_store, f"SELECT numbers FROM answers {PAIR}"))[0]
    near = [now[0] - 1 / 128, now[1] + 1 / 128, now[2]]
    then = spoilt(f"UPDATE answers SET numbers = '{plain_of(near, answered_store)}' {PAIR}")
    (one,) = between(then, answered_store).verdicts
    assert not one.turns
    said = refdb("verify", str(answered_store), "--against", str(then)).out
    assert "0 come out otherwise, 1 moved within their outcome" in said
    assert f"{GLASS} on {METAL}" in refdb("verify", str(answered_store), "--against", str(then), "--full").out


def test_numbers_that_move_without_the_shares_are_counted(spoilt, answered_store):
    then = spoilt(f"UPDATE answers SET numbers = numbers || ' ' {PAIR}")
    found = between(then, answered_store)
    assert (found.verdicts, found.moved) == ((), 1)
    assert not found.same


def test_a_pair_without_an_answer_is_told(refdb, spoilt, answered_store):
    then = spoilt(f"DELETE FROM answers {PAIR}")
    (one,) = between(then, answered_store).verdicts
    assert one.old is None
    assert one.turns
    said = refdb("verify", str(answered_store), "--against", str(then)).out
    assert f"{GLASS} on {METAL}: was not kept, now {one.outcomes[1]}" in said


def test_a_changed_index_alone_is_told_as_that(refdb, spoilt, store):
    then = spoilt("DELETE FROM spelling WHERE rowid = (SELECT min(rowid) FROM spelling)")
    found = between(then, store)
    assert (found.rows, found.verdicts, found.same) == ((), (), False)
    ran = refdb("verify", "--against", str(then))
    assert ran.status == 1
    assert "only the index" in ran.out


def test_all_at_once_fits_the_screen_and_programs_get_every_value(refdb, spoilt, store):
    then = spoilt(
        "UPDATE property_values SET value = value + 1 WHERE low IS NULL AND high IS NULL",
        *(sql for sql, kind in ROWS.values() if kind == CHANGED),
        "DELETE FROM aliases",
        "UPDATE answers SET numbers = '[[1.0, 0.0, 0.0]]' WHERE glass > 'm'",
        "DELETE FROM answers WHERE glass < 'c'",
    )
    lines = refdb("verify", "--against", str(then)).out.splitlines()
    assert len(lines) <= SCREEN
    assert max(map(len, lines)) <= STANDARD
    assert any(line.strip().startswith("and ") for line in lines)
    found = between(then, store)
    body = json.loads(refdb("verify", "--against", str(then), "--json").out)
    assert len(body["rows"]) == len(found.rows) > 2000
    assert body["counts"] == found.counts()
    rows = list(csv.DictReader(io.StringIO(refdb("verify", "--against", str(then), "--csv").out)))
    figures = [r for r in rows if r["table"] == "property_values" and r["column"] == "value"]
    assert len(figures) == sum("value" in row.values for row in found.of("property_values"))
    assert all(float(r["new"]) == pytest.approx(float(r["old"]) - 1, rel=1e-9) for r in figures)
    assert len(rows) == sum(max(1, len(row.values)) for row in found.rows) + len(found.verdicts)


def one_line(ran, status: int, *words: str) -> None:
    assert (ran.status, ran.out) == (status, "")
    assert ran.err.count("\n") == 1
    assert all(word in ran.err for word in words), ran.err


def test_what_is_no_store_of_this_version_is_one_line(refdb, spoilt, tmp_path, mine):
    one_line(refdb("verify", "--against", str(tmp_path / "gone.db")), 4, "gone.db", "no store")
    one_line(refdb("verify", "--against", str(tmp_path)), 4, "no store")
    then = spoilt(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    one_line(refdb("verify", "--against", str(then)), 4, "then.db", f"version {SCHEMA_VERSION + 1}")
    one_line(refdb("verify", str(then), "--against", str(then)), 4, "then.db")
    then = spoilt("PRAGMA application_id = 7")
    one_line(refdb("verify", "--against", str(then)), 4, "not a refdb store")
    then = spoilt("UPDATE answers SET numbers = '[]' " + PAIR)
    one_line(refdb("verify", "--against", str(then)), 4, "then.db", f"{GLASS} on {METAL}")
    then = spoilt("DROP TABLE hazards")
    one_line(refdb("verify", "--against", str(then)), 4, "then.db", "hazards")
    then.write_bytes(then.read_bytes()[:200_000])
    one_line(refdb("verify", "--against", str(then)), 4, "then.db")
    assert mine("mine", "add", "glass", "--name", "jar", "--like", GLASS).status == 0
    one_line(refdb("verify", "--against", str(mine.path)), 4, "not a refdb store")


def test_options_that_cannot_go_together_are_two(refdb, store):
    one_line(refdb("verify", "--csv"), 2, "--against")
    one_line(refdb("verify", "--full"), 2, "--against")
    one_line(refdb("verify", "--against", str(store), "--csv", "--json"), 2, "--csv")
