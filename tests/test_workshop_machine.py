"""Any sequence of commands on own records, against a plain dictionary that does the same."""

from __future__ import annotations

import copy
import shutil
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from refdb.errors import BadInput, NotFound
from refdb.store.workshop.csv_files import Importer
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.forget import forget, to_forget

NAMED = ("glass", "metal", "leaf")
DAY = "2024-01-01"
NAMES = st.sampled_from(["a", "b", "c", "d"])
NOTES = st.sampled_from(["one", "two", "=three", "vier µ"])


class Shelf(RuleBasedStateMachine):
    """Jars by name with their notes, and tiles by number with the name of their jar.

    The model keeps, for each jar there is or was, one identity; restoring takes back the last thing done to the
    identity that has or had the name last.
    """

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="refdb-"))
        self.path = self.folder / "workshop.db"
        with Workshop(self.path, write=True):
            pass
        self.jars: dict[str, str] = {}
        self.tiles: dict[int, str] = {}
        self.most = 0
        #: The whole before the last change of a jar, with the names it had and got; None where restoring is not held.
        self.undo: tuple[dict[str, str], dict[int, str], str, str | None] | None = None

    def teardown(self) -> None:
        shutil.rmtree(self.folder)

    def shop(self) -> Workshop:
        return Workshop(self.path, write=True)

    def remembered(self, name: str, new: str | None) -> None:
        self.undo = copy.deepcopy(self.jars), copy.deepcopy(self.tiles), name, new

    def jar(self, name: str, note: str) -> dict[str, Any]:
        return {"name": name, "basis": "guess", "date": DAY, "note": note}

    @rule(name=NAMES, note=NOTES)
    def add(self, name: str, note: str) -> None:
        with self.shop() as shop:
            try:
                shop.add("glass", self.jar(name, note))
                assert name not in self.jars
                self.jars[name] = note
                self.undo = None
            except BadInput:
                assert name in self.jars

    @precondition(lambda self: self.jars)
    @rule(data=st.data(), new=NAMES, note=NOTES)
    def edit(self, data: st.DataObject, new: str, note: str) -> None:
        name = data.draw(st.sampled_from(sorted(self.jars)))
        with self.shop() as shop:
            try:
                shop.edit("glass", name, self.jar(new, note))
            except BadInput:
                assert new in self.jars
                assert new != name
                return
        assert new == name or new not in self.jars
        self.remembered(name, new)
        del self.jars[name]
        self.jars[new] = note
        self.tiles = {n: new if of == name else of for n, of in self.tiles.items()}

    @precondition(lambda self: self.jars)
    @rule(data=st.data())
    def remove(self, data: st.DataObject) -> None:
        name = data.draw(st.sampled_from(sorted(self.jars)))
        with self.shop() as shop:
            shop.remove("glass", name)
        self.remembered(name, None)
        del self.jars[name]

    @precondition(lambda self: self.undo is not None)
    @rule(by_new=st.booleans())
    def restore(self, by_new: bool) -> None:
        assert self.undo is not None
        jars, tiles, name, new = self.undo
        asked = new if by_new and new is not None else name
        with self.shop() as shop:
            _, row = shop.restore(NAMED, asked)
        assert row["note"] == jars[name]
        # What names the jar follows it: tiles that were added since, and those that waited under its new name.
        moved = {n: name if of == new else of for n, of in self.tiles.items()} if new is not None else self.tiles
        waited = {n for n, of in tiles.items() if of == new != name}
        before = {n: name if n in waited else of for n, of in tiles.items() if n in moved}
        assert {n: of for n, of in moved.items() if n in tiles} == before
        self.jars, self.tiles, self.undo = jars, dict(moved), None

    @rule(name=NAMES)
    def tile(self, name: str) -> None:
        with self.shop() as shop:
            row = {"glass": f"my:{name}", "metal": "copper-sheet", "outcome": "sound", "date": DAY}
            number = shop.add("tile", row)["number"]
        assert number > self.most
        self.most = number
        self.tiles[number] = name
        if self.undo is not None and name in (self.undo[2], self.undo[3]):
            self.undo = None

    @precondition(lambda self: self.tiles)
    @rule(data=st.data())
    def tile_removed_and_back(self, data: st.DataObject) -> None:
        number = data.draw(st.sampled_from(sorted(self.tiles)))
        with self.shop() as shop:
            shop.remove("tile", str(number))
            assert shop.row("tile", str(number)) is None
            assert shop.restore(("tile",), str(number))[1]["glass"] == f"my:{self.tiles[number]}"

    @rule(rows=st.dictionaries(NAMES, NOTES, max_size=3))
    def bring(self, rows: dict[str, str]) -> None:
        file = self.folder / "glasses.csv"
        lines = [f'{n},"{"" if not t.startswith("=") else chr(39)}{t}",guess,{DAY}' for n, t in rows.items()]
        file.write_text("\n".join(["name,note,basis,date", *lines]) + "\n", encoding="utf-8")
        known: dict[str, set[str]] = {"glass": set(), "metal": set(), "leaf": set()}
        report = Importer(known, lambda bad: None).run([file], self.path, "glass")
        clash = any(n in self.jars and self.jars[n] != t for n, t in rows.items())
        assert report.done == (not clash)
        if not clash and set(rows) - set(self.jars):
            self.jars |= rows
            self.undo = None

    @rule(name=NAMES)
    def erase(self, name: str) -> None:
        with self.shop() as shop:
            forget(shop, to_forget(shop, NAMED, name))
            with_name = shop.rows("SELECT 1 FROM past WHERE kind = 'glass' AND key = ?", name)
        assert with_name == []
        self.jars.pop(name, None)
        self.tiles = {n: of for n, of in self.tiles.items() if of != name}
        self.undo = None
        # Numbers of erased tiles may be given again.
        self.most = max(self.tiles, default=0)
        with self.shop() as shop:
            try:
                shop.restore(NAMED, name)
                raise AssertionError("something came back")
            except NotFound:
                pass

    @invariant()
    def same(self) -> None:
        with Workshop(self.path) as shop:
            assert {r["name"]: r["note"] for r in shop.listed("glass")} == self.jars
            assert {r["number"]: r["glass"] for r in shop.listed("tile")} == {
                n: f"my:{of}" for n, of in self.tiles.items()
            }
            assert shop.findings() == []
            loose = {of for of in self.tiles.values() if of not in self.jars}
            assert len(shop.loose_ends()) == len(loose)


Shelf.TestCase.settings = settings(
    max_examples=25, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck)
)
TestShelf = Shelf.TestCase
