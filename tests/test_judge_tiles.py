"""A person's own tiles beside the verdict."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest
from pieces import piece

from refdb.judge.fit.build import Build
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.own.tiles import AGREES, DIFFERS, SILENT, stands, tiles_of_piece, tiles_seen
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.reason import NOT, SUITS, UNSURE, Reason, Subject
from refdb.quantities import Band
from refdb.store.reference import Reference
from refdb.store.workshop.beside_reference import Shelf
from refdb.store.workshop.file import Workshop

GLASS, METAL = "clear-hard-lead-free", "copper-sheet"
TILE = {
    "glass": GLASS,
    "metal": METAL,
    "outcome": "sound",
    "date": "2024-06-01",
    "metal_mm": 0.8,
    "front_mm": 0.3,
    "back_mm": 0.3,
}


@pytest.mark.parametrize(
    ("tile", "verdict", "due"),
    [
        ("sound", "suits", AGREES),
        ("sound", "suits with care", AGREES),
        ("sound", "does not suit", DIFFERS),
        ("sound", "cannot say", AGREES),
        ("crazed", "suits", DIFFERS),
        ("chipped", "suits", DIFFERS),
        ("cracked; bubbled", "suits", DIFFERS),
        ("crazed", "does not suit", AGREES),
        ("crazed", "suits with care", AGREES),
        ("cloudy", "suits", SILENT),
        ("burnt; pulled through", "does not suit", SILENT),
        ("sound; bubbled", "suits", AGREES),
    ],
)
def test_how_a_tile_stands_to_a_verdict(tile, verdict, due):
    assert stands(tile, verdict) == due


@pytest.fixture
def shelf(store, tmp_path):
    path = tmp_path / "mine.db"
    with Workshop(path, write=True) as shop:
        for more in (
            {},
            {"outcome": "crazed", "showed": "within a day", "kiln_c": 815.0, "minutes": 2.5, "note": "odd"},
            {"outcome": "crazed", "front_mm": 1.2},
            {"metal": "fine-silver-sheet"},
            {"outcome": "chipped", "date": "2024-07-01", "metal_mm": None},
        ):
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
    assert {s.tile.number: s.another_build for s in tiles_seen(shelf, GLASS, METAL, build, "suits")} == {
        1: True,
        2: True,
        3: False,
        5: True,
    }


def test_the_page_shows_them(refdb, shelf):
    for more in ((), ("--full",)):
        ran = refdb("suits", GLASS, METAL, *more, "--workshop", str(shelf.workshop_path))
        assert ran.status == 0
        assert "Your own tiles of this glass on this metal" in ran.out
        told = " ".join(ran.out.split())
        assert "it disagrees with the verdict" in told
        assert told.index("Your own tiles come before this verdict: 2 of 3 say otherwise.") < told.index("Rests on")
    assert "Your own tiles" not in refdb("suits", GLASS, METAL).out


BOTH = [f"coat front {GLASS} 0.3", f"coat back {GLASS} 0.3", "fire 815 3"]


def of_piece(shelf, lines, **more):
    made = piece(lines, **more)
    verdict = judge_piece(shelf, made)
    return verdict, tiles_of_piece(shelf, made, verdict)


def test_the_tiles_of_a_piece_s_glass_on_its_base_bear_on_it(shelf):
    """The same tiles, in the same standing, as beside the verdict on the pair."""
    verdict, seen = of_piece(shelf, BOTH)
    assert verdict.outcome != "does not suit"
    assert sorted(t.tile.number for t in seen) == [1, 2, 3, 5]
    assert [t.another_build for t in seen] == [False, False, False, True]
    assert {t.tile.number for t in seen if t.another_build} == {3}
    assert of_piece(shelf, BOTH, metal="fine-silver-sheet")[1][0].tile.number == 4
    assert of_piece(shelf, BOTH, metal="low-carbon-steel")[1] == ()
    thick = {t.tile.number: t.another_build for t in of_piece(shelf, BOTH, mm=1.6)[1]}
    assert thick == {1: True, 2: True, 3: True, 5: False}, "the metal of tile 5 is not known"


def test_a_sound_tile_disagrees_with_a_refusal_for_stress_and_not_with_one_for_heat(shelf):
    """Thin copper with thick glass on one face is refused for tension; the same pair too hot, for the fire."""
    thin = [f"coat front {GLASS} 0.3", "fire 815 3"]
    with Workshop(shelf.workshop_path, write=True) as shop:
        shop.add("tile", TILE | {"metal_mm": 0.2, "back_mm": 0.0, "date": "2024-08-01"})
    verdict, seen = of_piece(shelf, thin, mm=0.2)
    assert verdict.outcome == "does not suit"
    same = [t for t in seen if not t.another_build]
    assert [(t.tile.number, t.stands) for t in same if t.tile.number == 6] == [(6, DIFFERS)]
    hot = [f"coat front {GLASS} 0.3", f"coat back {GLASS} 0.3", "fire 1080 3"]
    verdict, seen = of_piece(shelf, hot)
    assert verdict.outcome == "does not suit"
    assert {t.tile.number: t.stands for t in seen}[1] == AGREES


@pytest.mark.parametrize(
    ("outcome", "found", "due"),
    [
        # An open verdict leaves room for both, whatever one of its rules finds alone.
        (UNSURE, {"tension-lasting": NOT}, (AGREES, AGREES)),
        (UNSURE, {"gap": SUITS}, (AGREES, AGREES)),
        # Refused by several rules together, none of which refuses alone: of the fit each is open.
        (NOT, {"tension-lasting": UNSURE, "gap": UNSURE, "kiln": SUITS}, (AGREES, AGREES)),
        (NOT, {"tension-between": UNSURE, "gap": NOT}, (DIFFERS, AGREES)),
        (NOT, {"kiln": NOT, "gap": SUITS}, (AGREES, DIFFERS)),
        (NOT, {"kiln": NOT}, (AGREES, AGREES)),
    ],
)
def test_a_tile_is_held_against_what_is_found_of_the_fit_alone(shelf, outcome, found, due):
    """A sound tile and a crazed one of one build, beside findings put together by hand."""
    with Workshop(shelf.workshop_path, write=True) as shop:
        shop.add("tile", TILE | {"outcome": "sound", "date": "2024-09-01"})
        shop.add("tile", TILE | {"outcome": "crazed", "date": "2024-09-02"})
    reasons = [Reason(rule, one, Subject(glass=GLASS)) for rule, one in found.items()]
    seen = tiles_of_piece(shelf, piece(BOTH), SimpleNamespace(outcome=outcome, reasons=reasons))
    stand = {t.tile.number: t.stands for t in seen}
    assert (stand[6], stand[7]) == due


def test_a_piece_of_several_glasses_is_another_build_than_any_tile(shelf):
    other = "clear-medium-lead-free"
    _, seen = of_piece(shelf, [*BOTH, f"coat front {other} 0.1", "fire 800 3"])
    assert sorted(t.tile.number for t in seen) == [1, 2, 3, 5]
    assert all(t.another_build for t in seen)
    # A drawn line, and glass that never sees the fire, are no coats of the finished piece.
    _, seen = of_piece(shelf, [*BOTH[:2], "line front painting-black", "fire 815 3", f"coat front {other} 0.1"])
    assert not all(t.another_build for t in seen)


def test_coats_of_a_part_of_a_face_leave_its_thickness_open(shelf):
    """A tile with 0.3 mm in front is of the same build as 0.3 mm over all with more on a part of it."""
    _, seen = of_piece(shelf, [*BOTH[:2], f"coat front {GLASS} 0.6 part=0.4", "fire 815 3"])
    assert not {t.tile.number: t for t in seen}[1].another_build
    _, seen = of_piece(shelf, [*BOTH[:2], f"coat front {GLASS} 0.6", "fire 815 3"])
    assert {t.tile.number: t for t in seen}[1].another_build


def test_the_reference_alone_has_no_tiles_of_a_piece(store):
    with Reference(store) as ref:
        made = piece(BOTH)
        assert tiles_of_piece(ref, made, judge_piece(ref, made)) == ()
