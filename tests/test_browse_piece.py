"""The pages of a whole piece and of clears over leaf, and the functions for those who enable SQL."""

import json
import re
from pathlib import Path
from urllib.parse import quote

import pytest
from browse_client import Asking

from refdb.browse.pages.piece import example


@pytest.fixture(scope="module")
def with_sql(store):
    from refdb.browse.server.application import build

    found = Asking(Path(store))
    found.application = build(Path(store), sql=True)
    yield found
    found.close()


@pytest.mark.parametrize(
    "address",
    [
        "/piece",
        "/piece?example=moth",
        "/piece/sheet?example=moth",
        "/clears",
        "/clears?leaf=fine-silver-foil&metal=copper-sheet",
    ],
)
def test_pages_answer_in_our_look(asking, address):
    answer = asking.get(address)
    assert answer.status == 200
    assert answer.body.count("<h1") == 1
    assert '<html lang="en"' in answer.body


def test_a_pasted_piece_gives_the_verdict_of_the_command(asking, refdb, tmp_path):
    """Outcome and sentence equal `piece check --json` for the same file."""
    file = tmp_path / "moth.toml"
    file.write_text(example(), encoding="utf-8")
    told = json.loads(refdb("piece", "check", str(file), "--json").out)
    page = asking.get(f"/piece?text={quote(example())}").body
    word = re.search(r'<p class="word">.*?</svg> ([^<]+)</p>', page)[1]
    assert word.lower() == told["verdict"]
    assert page == asking.get(f"/piece?text={quote(example())}").body
    for stage in told["numbers"]["stages"]:
        assert stage["name"][1:] in page


@pytest.mark.parametrize(
    "text",
    [
        "a",
        "[piece]",
        '[piece]\ntitle = "<script>alert(1)</script>"',
        "x" * 7000,
        example().replace("fine-silver-clay", "fine-silver-cly"),
    ],
)
def test_a_piece_that_cannot_be_read_is_told_in_our_look(asking, text):
    answer = asking.get(f"/piece?text={quote(text)}")
    assert answer.status == 400
    assert "<script>" not in answer.body
    assert "Traceback" not in answer.body


def test_a_hostile_title_is_escaped(asking):
    body = asking.get(f"/piece?text={quote(example().replace('Moth brooch', '<b onclick=x>moth</b>'))}").body
    assert "<b onclick" not in body
    assert "&lt;b onclick" in body


def test_a_firing_before_any_coat_does_not_shift_the_stages(asking):
    """Bare copper fired first: the page answers, and its one stage is the second firing's."""
    text = (
        '[piece]\nwidth = "30 mm"\nheight = "30 mm"\n[base]\nmetal = "copper-sheet"\nthickness = "0.8 mm"\n'
        '[[step]]\ndo = "fire"\nkiln = "760 C"\n[[step]]\ndo = "clean"\n[[step]]\ndo = "coat"\n'
        'glass = "clear-hard-lead-free"\nthickness = "0.15 mm"\n[[step]]\ndo = "fire"\nkiln = "815 C"\n'
    )
    answer = asking.get(f"/piece?text={quote(text)}")
    assert answer.status == 200
    assert "Firing 2 at 815" in answer.body.replace("\u00a0", " ")
    assert "<h3>Firing 1" not in answer.body


def test_too_long_a_piece_and_unknown_words_are_refused(asking):
    assert asking.get(f"/piece?text={quote('# ' + 'x' * 30_000)}").status in (400, 413, 414)
    assert asking.get("/piece?example=tiger").status == 400
    assert asking.get("/piece?colour=red").status == 400


def test_clears_stand_in_the_order_of_the_command(asking, refdb):
    """The keys on the page, in order, equal those of `clears --json`."""
    told = json.loads(refdb("clears", "fine-silver-foil", "--on", "copper-sheet", "--json").out)
    rows = told["rows"]
    page = asking.get("/clears?leaf=fine-silver-foil&metal=copper-sheet").body
    keys = [r.get("glass") or r.get("key") for r in rows]
    places = [page.index(f'/material/{key}"') for key in keys]
    assert places == sorted(places)


@pytest.mark.parametrize("query", ["leaf=nope&metal=copper-sheet", "leaf=fine-silver-foil&metal=nope"])
def test_unknown_leaf_or_metal_is_not_found(asking, query):
    assert asking.get(f"/clears?{query}").status == 404


def test_sql_is_off_unless_it_is_enabled_and_then_has_the_judges_functions(asking, with_sql, refdb):
    """verdict, confidence, expansion_gap_ppm and glass_stress_mpa equal `suits --json`; errors become NULL."""
    sql = (
        "select verdict('clear-hard-lead-free','copper-sheet') as v, "
        "confidence('clear-hard-lead-free','copper-sheet') as c, "
        "expansion_gap_ppm('clear-hard-lead-free','copper-sheet') as gap, "
        "glass_stress_mpa('clear-hard-lead-free','copper-sheet') as stress, verdict('nope','copper-sheet') as none, "
        "verdict(1, 2) as nonsense"
    )
    address = f"/reference.json?sql={quote(sql)}&_shape=array"
    assert asking.get(address).status in (400, 403, 404)
    row = json.loads(with_sql.get(address).body)[0]
    told = json.loads(refdb("suits", "clear-hard-lead-free", "copper-sheet", "--json").out)
    assert row["v"] == told["verdict"]
    assert row["c"] == pytest.approx(told["confidence"], abs=1e-4)
    assert row["gap"] == pytest.approx(told["numbers"]["gap_ppm"]["value"], rel=1e-4)
    last = told["numbers"]["stages"][-1]["layers"][-1]
    assert row["stress"] == pytest.approx(last["mean_mpa"]["value"], rel=1e-4)
    assert row["none"] is None
    assert row["nonsense"] is None
