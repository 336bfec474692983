"""The pool on pages: what the command tells, only where a pool is in use, and shown to nobody who may not see it."""

from __future__ import annotations

import json
import re
import time
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from browse_client import Asking, Outline, numbers_not_told
from test_browse_no_commands import COMMAND, spoken
from test_pool import file_of
from test_pool_coverage import CLASS, simulate

from refdb.browse.pages.suits import GRADE_WORDS
from refdb.browse.server.application import build
from refdb.cli.main import main
from refdb.cli.mine.values import known_keys
from refdb.judge.evidence import GRADES
from refdb.store.pool.file import Pool
from refdb.store.pool.rows import rows_of
from refdb.store.reference import Reference

OTHER = "opal-lead-free"
SUITS = f"/suits?glass={CLASS}&metal=low-carbon-steel&metal_thickness=1.0+mm"


@pytest.fixture(scope="module")
def files(store, tmp_path_factory):
    """Thirty studios of a class that lies low, one of them a liar; and four that fired the standard build alone."""
    folder = tmp_path_factory.mktemp("shared")
    with Reference(store) as ref:
        truth, rng = simulate.Truth(mean=12.4, spread=0.4, liars=1), np.random.default_rng(8)
        many = simulate.studios(ref, CLASS, truth, 30, 16, simulate.DESIGNS["mixed"], rng)
        few = simulate.studios(ref, OTHER, simulate.Truth(), 4, 4, simulate.DESIGNS["standard"], rng)
    return [file_of(folder / "many.csv", many), file_of(folder / "few.csv", few)]


@pytest.fixture(scope="module")
def pooled(store, files, tmp_path_factory):
    """A workshop that uses its pool, and the view of it."""
    shop = tmp_path_factory.mktemp("own") / "workshop.db"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REFDB_STORE", str(store))
        patch.delenv("REFDB_POOL", raising=False)
        for words in (("add", *files), ("use",)):
            assert main(["--workshop", str(shop), "pool", *words]) == 0
    asking = Asking(store, workshop=shop)
    yield asking, shop
    asking.close()


@pytest.fixture
def command(store, pooled, capsys, monkeypatch):
    monkeypatch.setenv("REFDB_STORE", str(store))
    monkeypatch.delenv("REFDB_POOL", raising=False)

    def run(*words):
        capsys.readouterr()
        status = main(["--workshop", str(pooled[1]), *words, "--json"])
        return status, json.loads(capsys.readouterr().out)

    return run


def words_of(body):
    """The words of a page, those of each element apart."""
    return " ".join(unescape(re.sub("<[^>]+>", " ", body)).replace("\N{NO-BREAK SPACE}", " ").split())


def stands_there(three, digits, text):
    """Whether a middle with its low and high stands in a text, to so many digits."""
    wanted = pytest.approx([three[n] for n in ("value", "low", "high")], abs=0.51 * 10**-digits)
    shape = rf"([0-9]+\.[0-9]{{{digits}}})"
    return any([*map(float, found)] == wanted for found in re.findall(rf"{shape} \({shape} to {shape}\)", text))


def test_the_page_tells_what_the_command_tells_of_each_class(pooled, command):
    """Files with their counts, and of each class mean, spread and next jar, before and after, to the printed digit."""
    asking = pooled[0]
    text = words_of(asking.get("/pool").body)
    rows = command("pool", "learn")[1]["rows"]
    assert {r["glass"] for r in rows} == {CLASS, OTHER}
    for row in rows:
        for name, digits in (("mean_before", 1), ("mean", 2), ("spread", 2)):
            assert stands_there(row[name], digits, text), name
        assert stands_there(row["jar"], 1, text) or not row["taught"]
    assert "not taught" in text
    for one in command("pool", "list")[1]["rows"]:
        assert f"{one['number']}. {one['name']} {one['added']} {one['rows']} {one['studios']}" in text


def test_the_page_of_a_class_tells_what_its_command_tells(pooled, command):
    asking = pooled[0]
    body = asking.get(f"/pool?glass={CLASS}").body
    assert Outline(body).faults == []
    text = words_of(body)
    (row,) = command("pool", "learn", CLASS)[1]["rows"]
    for name, digits in (("mean_before", 1), ("mean", 2), ("spread_before", 1), ("spread", 2), ("jar", 1)):
        assert stands_there(row[name], digits, text), name
    for count in ("studios", "jars", "tiles", "strips"):
        assert f"{row[count]} {count}" in text
    shifts = {s["studio"][:6]: s for s in row["shifts"]}
    assert len(shifts) == 30
    for sign, shift in shifts.items():
        found = re.search(rf"{sign} ([+−]?[0-9.]+) ([+−]?[0-9.]+) to", text)
        assert found, sign
        assert float(found[1].replace("−", "-")) == pytest.approx(shift["value"], abs=0.06)
    (liar,) = row["unlike"]
    assert f"{liar['studio'][:6]} ({liar['chance'] * 100:.0f} %)" in text
    best = row["next_tile"]
    assert f"{best['metal_mm']:g} mm {best['metal']}, {best['front_mm']:g} mm of glass" in text
    assert len(re.findall('<svg class="fig"', body)) == 3


def test_a_class_has_its_bands_before_and_after_on_its_own_page(pooled, command):
    text = words_of(pooled[0].get(f"/material/{CLASS}").body)
    (row,) = command("pool", "learn", CLASS)[1]["rows"]
    for name, digits in (("mean_before", 1), ("mean", 2), ("jar_before", 1), ("jar", 1)):
        assert stands_there(row[name], digits, text), name
    untaught = Outline(pooled[0].get(f"/material/{OTHER}").body).text
    assert "The class's own band stays in verdicts." in untaught
    assert "Pooled tiles" not in Outline(pooled[0].get("/material/window-soda-lime").body).text


def test_pages_of_materials_work_out_no_verdict_before_it_is_asked_for(store, pooled, monkeypatch):
    """Of a class that the pool moved: its own page, and its line on a metal's. Once asked, the line has its mark."""
    sampled = []
    from refdb.judge.fit import answer as answers

    real = answers.answer_of
    monkeypatch.setattr(answers, "answer_of", lambda *given, **more: sampled.append(given) or real(*given, **more))
    asking = Asking(store, workshop=pooled[1])
    asking.get("/pool")
    with Reference(store) as ref:
        metals, glasses = (len(ref.materials(kind)) for kind in ("metal", "glass"))
    own = asking.get(f"/material/{CLASS}").body
    assert f"{metals} metals: {metals} to ask about" in words_of(own)
    assert len(re.findall(rf'<li><a href="/suits[?]glass={CLASS}&amp;metal=', own)) == metals
    assert f"{glasses} glasses: " in words_of(asking.get("/material/copper-sheet").body)
    assert "1 to ask about" in words_of(asking.get("/material/copper-sheet").body)
    assert sampled == []
    assert asking.get(f"/suits?glass={CLASS}&metal=fine-silver-clay").status == 200
    assert len(sampled) == 1
    assert "to ask about" not in words_of(asking.get("/material/fine-silver-clay").body)
    asking.close()


def test_the_pool_is_reached_from_the_head_and_the_front_page(pooled):
    body = pooled[0].get("/").body
    head, main = body.split("<main", 1)
    assert '<a href="/pool">Pool</a>' in head.split("<details", 1)[1]
    assert '<a href="/pool">' in main


def test_verdicts_on_pages_are_those_of_the_command(pooled, command):
    """With the pool in use; and the grade tells how many studios."""
    words = ("suits", CLASS, "low-carbon-steel", "--metal-thickness", "1.0 mm")
    verdict = command(*words)[1]
    assert verdict["evidence"]["grade"] == "pooled"
    assert command(*words, "--no-pool")[1]["evidence"]["grade"] != "pooled"
    text = Outline(pooled[0].get(SUITS).body).text
    assert numbers_not_told(verdict, text) == []
    assert "pooled tiles" in text


def test_every_grade_has_its_words_on_a_page():
    assert set(GRADE_WORDS) == set(GRADES)


@pytest.mark.parametrize("where", ["/pool", f"/pool?glass={CLASS}", f"/material/{CLASS}"])
def test_no_page_on_the_pool_names_a_command(pooled, where):
    assert not COMMAND.search(spoken(pooled[0].get(where).body))
    assert "refdb pool" not in spoken(pooled[0].get(where).body)


def test_of_a_class_without_a_row_the_page_says_so(pooled):
    answer = pooled[0].get("/pool?glass=window-soda-lime")
    assert answer.status == 404
    assert "has no row of" in answer.body
    assert pooled[0].get("/pool?glass=no-such-thing").status == 404


@pytest.mark.parametrize("how", ["no pool", "left out", "not shown"])
def test_without_a_pool_the_page_says_what_one_is(store, pooled, tmp_path, how):
    """None there; one that is there and not in use; and a view that others reach, without the shelf."""
    shop = {"no pool": tmp_path / "none.db", "left out": pooled[1], "not shown": None}[how]
    asking = Asking(store, workshop=shop)
    if how == "left out":
        asking.application = build(store, workshop=shop, pool=False)
    body = asking.get("/pool").body
    text = Outline(body).text
    assert "Turning it on" in text
    assert ("not shown to others" in text) == (how == "not shown")
    assert not re.search("many.csv|ppm/K", text)
    assert not COMMAND.search(spoken(body))
    assert "refdb pool" not in text
    assert "pooled" not in Outline(asking.get(SUITS).body).text
    asking.close()


def test_the_page_follows_the_pool(store, files, tmp_path, monkeypatch):
    """A file that is added, a setting that is changed and a file that is removed are seen by the next question."""
    monkeypatch.setenv("REFDB_STORE", str(store))
    monkeypatch.delenv("REFDB_POOL", raising=False)
    shop = tmp_path / "workshop.db"
    asking = Asking(store, workshop=shop)

    def after(*words):
        time.sleep(0.02)
        assert main(["--workshop", str(shop), "pool", *words]) == 0
        return Outline(asking.get("/pool").body).text

    assert "Turning it on" in Outline(asking.get("/pool").body).text
    assert "Turning it on" in after("add", files[1])
    assert "few.csv" in after("use")
    assert "many.csv" in after("add", files[0])
    assert "pooled tiles" in Outline(asking.get(SUITS).body).text
    assert "many.csv" not in after("remove", "2")
    assert "pooled tiles" not in Outline(asking.get(SUITS).body).text
    assert "Turning it on" in after("unuse")
    asking.close()


def test_a_pool_that_cannot_be_read_is_told_and_left_out(store, tmp_path):
    (tmp_path / "workshop-pool.db").write_bytes(b"no store" * 400)
    asking = Asking(store, workshop=tmp_path / "workshop.db")
    asking.application = build(store, workshop=tmp_path / "workshop.db", pool=True)
    text = Outline(asking.get("/pool").body).text
    assert "cannot be read just now" in text
    assert str(tmp_path) not in text
    assert asking.get(SUITS).status == 200
    asking.close()


def test_names_of_files_are_made_harmless(store, files, tmp_path):
    """A name may hold markup: it stands there as text."""
    with Pool(tmp_path / "workshop-pool.db", write=True) as pool:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("REFDB_STORE", str(store))
            known = known_keys()
        with pool.change() as db:
            pool.put(db, "<script>alert(1)</script>.csv", rows_of(Path(files[1]), known, print), print)
        pool.use(True)
    asking = Asking(store, workshop=tmp_path / "workshop.db")
    body = asking.get("/pool").body
    assert "<script>alert" not in body
    assert "&lt;script&gt;alert" in body
    asking.close()


@pytest.mark.parametrize(
    ("words", "pool", "workshop", "said"),
    [
        ((), None, True, ""),
        (("--pool",), True, True, "there is no pool"),
        (("--no-pool",), False, True, ""),
        (("--pool", "--host", "0.0.0.0"), True, False, "the pool is left out with your own shelf"),
        (("--pool", "--host", "0.0.0.0", "--shelf"), True, True, "there is no pool"),
    ],
)
def test_the_view_is_started_with_the_pool_where_its_shelf_is_shown(refdb, monkeypatch, words, pool, workshop, said):
    """To others on the network neither is shown unless asked for."""
    told = {}
    monkeypatch.setattr("refdb.browse.server.application.serve", lambda *_, **more: told.update(more))
    ran = refdb("browse", "--no-open", *words)
    assert ran.status == 0, ran.err
    assert told["pool"] is pool
    assert (told["workshop"] is not None) == workshop
    assert said in ran.err
    assert ("pool" in ran.err) == bool(said)
