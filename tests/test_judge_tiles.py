"""A person's own tiles beside the verdict."""

from __future__ import annotations

import json

import pytest

from refdb.judge.builds import Build
from refdb.judge.glass_on_metal import suits
from refdb.judge.tiles import AGREES, DIFFERS, SILENT, stands, tiles_seen
from refdb.quantities import Band
from refdb.store.shelf import Shelf
from refdb.store.workshop import Workshop

GLASS, METAL = "clear-hard-lead-free", "copper-sheet"
TILE = {"glass": GLASS, "metal": METAL, "outcome": "sound", "date": "2024-06-01", "metal_mm": 0.8, "front_mm": 0.3,
        "back_mm": 0.3}


@pytest.mark.parametrize(("tile", "verdict", "due"), [
    ("sound", "suits", AGREES), ("sound", "suits with care", AGREES), ("sound", "does not suit", DIFFERS),
    ("sound", "cannot say", AGREES), ("crazed", "suits", DIFFERS), ("chipped", "suits", DIFFERS),
    ("cracked; bubbled", "suits", DIFFERS), ("crazed", "does not suit", AGREES), ("crazed", "suits with care", AGREES),
    ("cloudy", "suits", SILENT), ("burnt; pulled through", "does not suit", SILENT),
    ("sound; bubbled", "suits", AGREES),
])
def test_how_a_tile_stands_to_a_verdict(tile, verdict, due):
    assert stands(tile, verdict) == due


@pytest.fixture
def shelf(store, tmp_path):
    path = tmp_path / "mine.db"
    with Workshop(path, write=True) as shop:
        for more in ({},
                     {"outcome": "crazed", "showed": "within a day", "kiln_c": 815.0, "minutes": 2.5, "note": "odd"},
                     {"outcome": "crazed", "front_mm": 1.2}, {"metal": "fine-silver-sheet"},
                     {"outcome": "chipped", "date": "2024-07-01", "metal_mm": None}):
            shop.add("tile", TILE | more)
    with Shelf(store, path) as shelf:
        yield shelf


def test_the_tiles_of_the_pair_come_with_the_verdict(shelf, store):
    verdict = suits(shelf, GLASS, METAL)
    assert verdict.outcome == "suits"
    assert [t.tile.number for t in verdict.tiles] == [5, 2, 1, 3]
    assert [t.stands for t in verdict.tiles] == [DIFFERS, DIFFERS, AGREES, DIFFERS]
    assert [t.another_build for t in verdict.tiles] == [False, False, False, True]
    text = verdict.tiles[1].text
    for word in ("tile:2", "crazed", "within a day", "815 °C", "2.5 min", "disagrees with the verdict", "odd"):
        assert word in text
    body = json.loads(json.dumps(verdict.as_dict()))
    assert [t["number"] for t in body["tiles"]] == [5, 2, 1, 3]
    assert body["tiles"][1]["stands"] == "disagrees"
    with Shelf(store, shelf.workshop_path.with_name("none.db")) as other:
        plain = suits(other, GLASS, METAL).as_dict()
    assert "tiles" not in plain
    del body["tiles"]
    assert body == json.loads(json.dumps(plain))


def test_a_refused_pair_that_held_is_said_to_disagree(shelf):
    with Workshop(shelf.workshop_path, write=True) as shop:
        shop.add("tile", TILE | {"glass": "borosilicate-glass"})
    keys = [g.key for g in shelf.materials("glass")]
    glass = next(k for k in keys if suits(shelf, k, METAL).outcome == "does not suit")
    with Workshop(shelf.workshop_path, write=True) as shop:
        shop.add("tile", TILE | {"glass": glass})
    assert suits(shelf, glass, METAL).tiles[0].stands == DIFFERS


def test_a_band_of_thickness_takes_in_the_tiles_within_it(shelf):
    build = Build(Band(0.8e-3, 0.7e-3, 0.9e-3), Band.exact(1.1e-3), Band.exact(0.3e-3))
    assert {s.tile.number: s.another_build for s in tiles_seen(shelf, GLASS, METAL, build, "suits")} == \
        {1: True, 2: True, 3: False, 5: True}


def test_the_page_shows_them(refdb, shelf):
    for more in ((), ("--brief",)):
        ran = refdb("suits", GLASS, METAL, *more, "--workshop", str(shelf.workshop_path))
        assert ran.status == 0
        assert "Your own tiles of this glass on this metal" in ran.out
        assert "it disagrees with the verdict" in " ".join(ran.out.split())
    assert "Your own tiles" not in refdb("suits", GLASS, METAL).out
