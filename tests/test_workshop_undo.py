"""Own records keep their identity: renaming can be undone, nothing stands twice, and what leads nowhere is told."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from refdb.errors import BadInput
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import OWN

NAMED = ("glass", "metal", "leaf")
DAY = "2024-01-01"
TILE = {"glass": "my:a", "metal": "copper-sheet", "outcome": "sound", "date": DAY}
STRIP = {"glass": "my:a", "metal": "copper-sheet", "metal_mm": 0.5, "glass_mm": 0.3, "length_mm": 100.0, "bow_mm": 4.4}
FIRING = {"glass": "my:a", "kiln_c": 815.0, "minutes": 3.0, "metal": "copper-sheet", "result": "gloss", "date": DAY}


def jar(name: str, **more: object) -> dict[str, object]:
    return {"name": name, "basis": "guess", "date": DAY, **more}


@pytest.fixture
def path(tmp_path) -> Path:
    """A workshop with the jar my:a, and a tile, a strip, a firing and stock of it."""
    found = tmp_path / "workshop.db"
    with Workshop(found, write=True) as shop:
        shop.add("glass", jar("a"))
        shop.add("tile", TILE)
        shop.add("strip", {**STRIP, "date": DAY})
        shop.add("firing", FIRING)
        shop.add("stock", {"key": "my:a", "grams": 45.0, "date": DAY})
    return found


def names_of(shop: Workshop) -> set[str]:
    """Every key that tiles, strips, firings and stock name of a glass."""
    return {r["glass"] for k in ("tile", "strip", "firing") for r in shop.listed(k)} | {
        r["key"] for r in shop.listed("stock")
    }


def sound(shop: Workshop) -> None:
    assert shop.findings() == []
    assert shop.loose_ends() == []


@pytest.mark.parametrize("asked", ["a", "b"])
def test_a_rename_is_undone_by_either_name(path, asked):
    with Workshop(path, write=True) as shop:
        shop.edit("glass", "a", jar("B", note="changed too"))
        assert names_of(shop) == {"my:b"}
        kind, row = shop.restore(NAMED, asked)
        assert (kind, row["name"], row["note"]) == ("glass", "a", None)
        assert [r["key"] for r in shop.listed("glass")] == ["a"]
        assert names_of(shop) == {"my:a"}
        sound(shop)
        shop.restore(NAMED, asked)
        assert [(r["key"], r["note"]) for r in shop.listed("glass")] == [("b", "changed too")]
        assert names_of(shop) == {"my:b"}
        sound(shop)


def test_a_chain_of_renames_is_undone_to_any_of_its_names(path):
    with Workshop(path, write=True) as shop:
        for old, new in (("a", "b"), ("b", "c"), ("c", "d")):
            shop.edit("glass", old, jar(new))
        shop.restore(NAMED, "a")
        assert [r["key"] for r in shop.listed("glass")] == ["a"]
        assert names_of(shop) == {"my:a"}
        sound(shop)


def test_what_was_removed_before_a_rename_comes_back_under_the_new_name(path):
    with Workshop(path, write=True) as shop:
        for kind in ("tile", "strip", "firing"):
            shop.remove(kind, "1")
        shop.remove("stock", "my:a")
        shop.edit("glass", "a", jar("B"))
        for kind in ("tile", "strip", "firing"):
            assert shop.restore((kind,), "1")[1]["glass"] == "my:b"
        assert shop.restore(("stock",), "my:b")[1]["grams"] == 45.0
        assert names_of(shop) == {"my:b"}
        sound(shop)


def test_a_name_taken_since_and_a_renamed_record_that_was_removed_are_told(path):
    with Workshop(path, write=True) as shop:
        shop.edit("glass", "a", jar("B"))
        shop.add("glass", jar("a", note="another"))
        with pytest.raises(BadInput, match="taken by a glass"):
            shop.restore(NAMED, "a")
        shop.remove("glass", "a")
        shop.remove("glass", "b")
        # The other jar of this name was removed last.
        assert shop.restore(NAMED, "a")[1]["note"] == "another"
        with pytest.raises(BadInput, match="it was renamed my:b, and that was removed"):
            shop.restore(NAMED, "a")
        assert [r["key"] for r in shop.listed("glass")] == ["a"]


def test_a_renamed_record_is_brought_back_before_its_old_name(path):
    with Workshop(path, write=True) as shop:
        shop.edit("glass", "a", jar("B"))
        shop.remove("glass", "b")
        with pytest.raises(BadInput, match="bring that back first: refdb mine restore my:b"):
            shop.restore(NAMED, "a")
        shop.restore(NAMED, "b")
        shop.restore(NAMED, "a")
        assert [r["key"] for r in shop.listed("glass")] == ["a"]
        sound(shop)


def test_the_command_undoes_a_rename(mine):
    assert mine("mine", "add", "glass", "--name", "a", "--basis", "guess").status == 0
    assert mine("mine", "tile", "my:a", "copper-sheet", "--outcome", "sound").status == 0
    assert mine("mine", "edit", "my:a", "--name", "B").status == 0
    assert "Restored: my:a" in mine("mine", "restore", "my:a").out
    rows = json.loads(mine("mine", "list", "--json").out)["rows"]
    assert [(r["key"], r.get("glass")) for r in rows] == [("my:a", None), ("tile:1", "my:a")]


def test_verify_tells_what_leads_nowhere_and_that_it_hurts_nothing(refdb, path):
    with Workshop(path, write=True) as shop:
        shop.edit("glass", "a", jar("a", expansion_tiles="1; 7"))
        shop.add("kiln", {"key": "kiln", "offset_k": 5.0, "tiles": "9", "basis": "guess", "date": DAY})
        assert shop.loose_ends() == [
            "the expansion of my:a was learnt from tiles that are gone: 7",
            "the offset of the kiln was learnt from tiles that are gone: 9",
        ]
        shop.remove("glass", "a")
    ran = refdb("verify", str(path))
    assert ran.status == 0, ran
    said = " ".join(ran.out.split())
    for words in ("Sound: your own shelf", "Loose ends", "no glass of yours is my:a, which 1 tile and 1 strip and 1 "):
        assert words in said
    assert "nothing of yours is my:a, of which some is in stock" in said
    assert len(json.loads(refdb("verify", str(path), "--json").out)["workshop_loose"]) == 3


def test_a_metal_in_the_place_of_a_glass_is_a_loose_end(path):
    with Workshop(path, write=True) as shop:
        shop.remove("glass", "a")
        shop.add("metal", jar("a"))
        assert shop.loose_ends() == ["no glass of yours is my:a, which 1 tile and 1 strip and 1 firing name"]


# Checksums

FLIPS = [
    ("UPDATE glasses SET name = 'ä'", "my:a is not as it was written down"),
    ("UPDATE tiles SET kiln_c = 915 WHERE number = 1", "tile:1 is not as it was written down"),
    ("UPDATE strips SET bow_mm = 4.5", "strip:1 is not as it was written down"),
    ("UPDATE firings SET minutes = 3.0000000000000004", "firing:1 is not as it was written down"),
    ("UPDATE stock SET grams = 54", "stock my:a is not as it was written down"),
    ("DELETE FROM tiles", "tile:1 was written down and is gone"),
    ("INSERT INTO glasses (key, name, basis, date) VALUES ('z', 'z', 'guess', 'x')", "my:z was put there by something"),
    ("UPDATE past SET row = replace(row, '44', '45')", "an earlier state of tile:2 is not as it was kept"),
    ("UPDATE glasses SET note = CAST(x'ff' AS TEXT)", "my:a is not as it was written down"),
]


@pytest.mark.parametrize(("change", "told"), FLIPS)
def test_a_figure_that_changed_without_a_command_is_found(refdb, path, change, told):
    with Workshop(path, write=True) as shop:
        shop.add("tile", {**TILE, "minutes": 44.0})
        shop.remove("tile", "2")
        sound(shop)
    with sqlite3.connect(path) as db:
        db.execute(change)
    db.close()
    with Workshop(path) as shop:
        (only,) = shop.findings()
        assert told in only
    ran = refdb("verify", str(path))
    assert ran.status == 1, ran
    assert told in " ".join(ran.out.split())


def test_whatever_a_command_writes_has_its_sum(path):
    with Workshop(path, write=True) as shop:
        shop.add("metal", jar("m", alloy="Cu 95, Zn 5", solidus_c=900))
        shop.add("leaf", jar("l", leaf_thickness_um=3))
        shop.add("stock", {"key": "my:a", "grams": 40, "date": DAY})
        shop.add("kiln", {"key": "kiln", "offset_k": 5, "basis": "guess", "date": DAY})
        shop.edit("metal", "m", jar("M2", note="ü…"))
        shop.restore(("stock",), "my:a")
        shop.remove("leaf", "l")
        sound(shop)
        held = sum(shop.count(k) for k in OWN)
        assert shop.rows("SELECT count(*) AS n FROM sums") == [{"n": held}]


def test_a_column_of_a_later_version_changes_no_sum(path, monkeypatch):
    from refdb.store.workshop import schema

    new = schema.number_column("weight_g", "weight", "g", 0, 100)
    with sqlite3.connect(path) as db:
        db.execute("ALTER TABLE glasses ADD COLUMN weight_g REAL")
    db.close()
    monkeypatch.setitem(schema.OWN, "glass", OWN["glass"]._replace(columns=(*OWN["glass"].columns, new)))
    with Workshop(path) as shop:
        assert shop.findings() == []
