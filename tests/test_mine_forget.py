"""What is forgotten is gone: no table, no log, no page given up before holds a byte of it."""

from __future__ import annotations

import io
import json
import sqlite3
from pathlib import Path

import pytest
from browse_client import Asking

from refdb.store.workshop.file import Workshop

SECRET = "zyzzyva"


def made(mine) -> None:
    """A jar of the secret name with all that can name it, some of it removed, renamed or changed, and another jar."""
    for arguments in (
        ("add", "glass", "--name", SECRET, "--basis", "guess", "--note", f"{SECRET} {'x' * 400}"),
        ("add", "glass", "--name", "Other", "--basis", "guess"),
        ("tile", f"my:{SECRET}", "copper-sheet", "--outcome", "sound"),
        ("tile", f"my:{SECRET}", "copper-sheet", "--outcome", "crazed"),
        ("tile", "my:other", "copper-sheet", "--outcome", "sound"),
        ("stock", f"my:{SECRET}", "45g"),
        ("stock", f"my:{SECRET}", "40g"),
        ("edit", f"my:{SECRET}", "--observed", "815C 3min copper 0.75mm"),
        ("edit", f"my:{SECRET}", "--note", "none"),
        ("edit", f"my:{SECRET}", "--name", "Plain"),
        ("edit", "my:plain", "--name", f"{SECRET} two"),
        ("remove", "tile:2"),
        ("edit", "my:other", "--note", "an earlier state of another"),
    ):
        assert mine("mine", *arguments).status == 0, arguments


def bytes_beside(path: Path) -> bytes:
    """All bytes of the workshop and what lies beside it."""
    return b"".join(p.read_bytes() for p in path.parent.glob(f"{path.name}*")).lower()


@pytest.mark.parametrize("removed", [False, True])
def test_a_record_goes_with_all_that_names_it(mine, removed):
    made(mine)
    assert SECRET.encode() in bytes_beside(mine.path)
    if removed:
        assert mine("mine", "remove", f"my:{SECRET}-two").status == 0
    ran = mine("mine", "forget", f"my:{SECRET}-two", "--yes", "--json")
    assert ran.status == 0, ran
    told = json.loads(ran.out)["forgotten"]
    assert (told.get("glass", 0), told["tile"], told["firing"], told["stock"]) == (0 if removed else 1, 1, 1, 1)
    assert SECRET.encode() not in bytes_beside(mine.path)
    assert b"plain" not in bytes_beside(mine.path)
    assert mine("mine", "restore", f"my:{SECRET}-two").status == 3
    assert mine("mine", "restore", "tile:2").status == 3
    with Workshop(mine.path) as shop:
        assert shop.findings() == shop.loose_ends() == []
        assert [r["key"] for r in shop.listed("glass")] == ["other"]
        assert [r["glass"] for r in shop.listed("tile")] == ["my:other"]
    assert mine("mine", "restore", "my:other").status == 0


def test_an_earlier_record_of_a_name_that_another_has_now_stays(mine):
    for arguments in (
        ("add", "glass", "--name", "A", "--basis", "guess"),
        ("edit", "my:a", "--name", "B"),
        ("add", "glass", "--name", "A", "--basis", "guess", "--note", "another"),
        ("edit", "my:a", "--note", "changed"),
        ("forget", "my:b", "--yes"),
    ):
        assert mine("mine", *arguments).status == 0, arguments
    assert mine("mine", "restore", "my:a").status == 0
    assert json.loads(mine("mine", "show", "my:a", "--json").out)["row"]["note"] == "another"
    assert mine("mine", "show", "my:b").status == 3


def test_without_a_key_all_earlier_states_go_and_what_stands_stays(mine):
    made(mine)
    with Workshop(mine.path) as shop:
        before = {k: shop.listed(k) for k in ("glass", "tile", "stock", "firing")}
    assert mine("mine", "forget", "--yes").status == 0
    with Workshop(mine.path) as shop:
        assert shop.rows("SELECT * FROM past") == []
        assert {k: shop.listed(k) for k in before} == before
        assert shop.findings() == []
    assert b"an earlier state" in bytes_beside(mine.path)
    assert b"'45" not in bytes_beside(mine.path)
    assert b"xxxxxxxx" not in bytes_beside(mine.path)
    assert "Nothing was there to erase" in mine("mine", "forget", "--yes").out


def test_one_tile_goes_alone(mine):
    made(mine)
    assert mine("mine", "forget", "tile:2", "--yes").status == 0
    assert mine("mine", "restore", "tile:2").status == 3
    with Workshop(mine.path) as shop:
        assert [r["number"] for r in shop.listed("tile")] == [1, 3]


def test_in_a_pipe_it_must_be_meant(mine):
    made(mine)
    before = sqlite3.connect(mine.path).execute("SELECT count(*) FROM past").fetchall()
    ran = mine("mine", "forget", f"my:{SECRET}-two")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "say --yes if that is meant" in ran.err
    assert mine("mine", "show", f"my:{SECRET}-two").status == 0
    assert sqlite3.connect(mine.path).execute("SELECT count(*) FROM past").fetchall() == before
    ran = mine("mine", "forget", "my:never-was", "--yes")
    assert (ran.status, ran.err.count("\n")) == (3, 1)


def test_copies_that_may_hold_it_are_named(mine):
    made(mine)
    copy = Path(f"{mine.path}.version-3")
    copy.touch()
    ran = mine("mine", "forget", f"my:{SECRET}-two", "--yes", "--json")
    assert json.loads(ran.out)["copies"] == [str(copy)]


def test_the_browse_view_no_longer_holds_it(mine, store):
    made(mine)
    asking = Asking(store, workshop=mine.path)
    try:
        address = "/workshop/past.json?_shape=array"
        assert len(json.loads(asking.get(address).body)) > 3
        assert mine("mine", "forget", "--yes").status == 0
        assert json.loads(asking.get(address).body) == []
    finally:
        asking.close()


@pytest.mark.parametrize(
    ("answer", "erased"), [("y", True), ("yes", True), ("n", False), ("", False), ("maybe\nno", False)]
)
def test_in_a_terminal_it_asks_and_only_yes_erases(mine, monkeypatch, answer, erased):
    made(mine)

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Terminal(f"{answer}\n"))
    ran = mine("mine", "forget", f"my:{SECRET}-two")
    assert "Erase " in ran.err
    assert " for good? [y/N]" in ran.err
    assert (ran.status == 0) == erased
    assert (SECRET.encode() in bytes_beside(mine.path)) == (not erased)
    with Workshop(mine.path) as shop:
        assert (shop.row("glass", f"{SECRET}-two") is None) == erased


def test_a_question_that_nobody_answers_erases_nothing(mine, monkeypatch):
    made(mine)

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Terminal(""))
    ran = mine("mine", "forget", f"my:{SECRET}-two")
    assert ran.status != 0
    assert "Traceback" not in ran.err
    assert SECRET.encode() in bytes_beside(mine.path)
