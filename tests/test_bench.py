"""The measuring script: what it keeps of a run, and what it says of another."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def bench():
    before, path = dict(os.environ), list(sys.path)
    spec = importlib.util.spec_from_file_location("bench", ROOT / "scripts" / "bench.py")
    found = importlib.util.module_from_spec(spec)
    sys.modules["bench"] = found
    spec.loader.exec_module(found)
    yield found
    del sys.modules["bench"]
    sys.path[:] = path
    os.environ.clear()
    os.environ.update(before)


def test_a_run_held_against_itself_has_not_moved(bench):
    rows = [bench.Row("a", 2.0, goal=3), bench.Row("b", None), bench.Row("c", 0.0, "")]
    assert list(bench.moved(rows, json.loads(json.dumps(bench.kept(rows))))) == []


def test_what_moved_is_told_and_what_wavers_is_not(bench):
    then = json.loads(json.dumps(bench.kept([
        bench.Row("slower", 4.0, goal=5), bench.Row("steady", 4.0), bench.Row("gone", 1.0), bench.Row("none", None),
        bench.Row("fewer", 0.0, "", 0),
    ])))  # fmt: skip
    now = [
        bench.Row("slower", 6.0, goal=5),
        bench.Row("steady", 4.3),
        bench.Row("came", 1.0),
        bench.Row("none", 2.0),
        bench.Row("fewer", 2.0, "", 0),
    ]
    assert list(bench.moved(now, then)) == [
        "slower: 4 to 6 x, +50 %; ok, now MISS",
        "came: new",
        "none: not measured, now shown",
        "fewer: 0 to 2; ok, now MISS",
        "gone: not measured in this run",
    ]
    then["machine"]["processors"] = 99
    assert next(bench.moved(now, then)).startswith("that run was on another machine")


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"machine": {}, "rows": [{}]}', '{"machine": {}, "rows": 1}'])
def test_a_file_that_is_no_run_is_told_in_one_line(bench, tmp_path, text):
    path = tmp_path / "run.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match="no run that --json wrote"):
        bench.run_before(path)
    with pytest.raises(ValueError, match="no run that --json wrote"):
        bench.run_before(tmp_path / "nothing.json")


def test_the_build_takes_a_copy_that_has_grown(bench, tmp_path):
    """Copies of all materials pass every check, and stand in the lists."""
    from refdb import open_reference
    from refdb.curate.build import build

    bench.multiplied(ROOT / "data_sources", tmp_path / "grown", 3)
    script = ROOT / "scripts" / "format_data.py"
    subprocess.run([sys.executable, str(script), "--in", str(tmp_path / "grown")], check=True, capture_output=True)
    build(tmp_path / "grown", tmp_path / "grown.db")
    with open_reference(ROOT / "refdb" / "reference.db") as ref, open_reference(tmp_path / "grown.db") as grown:
        assert len(grown.materials()) == 3 * len(ref.materials())
        first, copy = grown.metal("copper-sheet"), grown.metal("copper-sheet-copy2")
        assert [v.value for v in copy.values] == [v.value for v in first.values]


def test_the_view_stands_two_seconds_of_abuse(bench):
    """Every kind of abuse is done and answered as it should be; how fast is not asked of a busy machine."""
    rows = {row.what.partition(": ")[2]: row for row in bench.abuse(0.03)}
    assert rows["failures of the reader"].verdict == "ok"
    assert rows["answers 500 and above but 503"].verdict == "ok"
    assert rows["p99 of a kept page"].found > 0
    assert rows["memory at the end over the first third"].found > 0.5
    told = dict(pair.split("=") for pair in rows["answers 500 and above but 503"].note.split())
    # What each kind of abuse is told first; a slow machine comes to no more.
    assert {"400", "404", "414", "none"} <= told.keys()


@pytest.mark.parametrize("text", ["0", "-1", "x", "nan", "1e9"])
def test_no_number_of_minutes_is_no_number_of_minutes(bench, text, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["bench.py", "--long", text])
    with pytest.raises(SystemExit) as ended:
        bench.main()
    assert ended.value.code == 2
    assert "--long" in capsys.readouterr().err
