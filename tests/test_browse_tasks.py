"""What a jeweller comes for, done in a real browser by clicks and keys alone, with scripts and without, and counted."""

from __future__ import annotations

import json
import re

import pytest
from browse_client import served
from chromium_pipe import PROGRAM, Browser
from hand import Hand

from refdb.browse.server.application import build
from refdb.browse.server.writing import Writer
from refdb.cli.main import main
from refdb.store.workshop.file import Workshop

pytestmark = [pytest.mark.slow, pytest.mark.skipif(PROGRAM is None, reason="there is no chromium on this computer")]

#: Clicks and keys of a task are fewer than this.
FEWER_THAN = 10
JARS = (("Jar 12", "clear-medium-lead-free", "12.4 ppm/K"), ("Sea jar", "clear-hard-lead-free", "11.9 ppm/K"))


@pytest.fixture(scope="module")
def shelf(store, tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "shelf.db"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REFDB_STORE", str(store))
        for name, like, expansion in JARS:
            given = ("--name", name, "--like", like, "--expansion", expansion, "--span", "20-400C")
            assert main(["--workshop", str(path), "mine", "add", "glass", *given, "--basis", "maker's sheet"]) == 0
    return path


@pytest.fixture(scope="module")
def address(store, shelf):
    with served(build(store, workshop=shelf, writer=Writer(shelf))) as found:
        yield found


@pytest.fixture(scope="module")
def browser():
    with Browser() as opened:
        yield opened


@pytest.fixture(
    params=[(360, True), (360, False), (1440, True), (1440, False)],
    ids=["phone", "phone, no script", "desk", "desk, no script"],
)
def hand(request, browser, address):
    width, scripts = request.param
    browser.size(width, 640 if width == 360 else 900)
    browser.scripts(scripts)
    held = Hand(browser, address + "/")
    held.scripts, held.wide = scripts, width > 1000
    yield held
    browser.scripts(True)
    assert 0 < held.count < FEWER_THAN


def to_part(hand, name):
    """Go to a part of the store by the line of links at the head, on a phone by the list behind it."""
    here = f"//nav[@aria-label='Parts of the store']//a[.='{name}']"
    if not hand.wide and hand.browser.send("DOM.performSearch", query=f"details.others {here}")["resultCount"] == 0:
        folded = f"//details[@class='others']//a[.='{name}']"
        if hand.browser.send("DOM.performSearch", query=folded)["resultCount"]:
            hand.click("details.others summary", loads=False)
    hand.click(here)


def test_my_jar_on_three_cards_of_copper_clay(hand):
    form = "//form[@action='/suits'][.//select[@name='glass']]"
    hand.choose(f"{form}//select[@name='glass']", "Jar 12")
    hand.choose(f"{form}//select[@name='metal']", "open")
    hand.choose(f"{form}//select[@name='metal_thickness']", "three")
    hand.click(f"{form}//button")
    assert hand.words("h1").startswith("Jar 12 on open-fired copper clay")
    assert "3 cards" in hand.words("h1")
    assert hand.words(".brief .word").lower() in ("suits", "suits with care", "does not suit", "cannot say")


def test_which_clear_goes_over_gold_foil_on_copper_clay(hand):
    form = "//form[@action='/clears']"
    if hand.scripts:
        hand.pick(f"{form}//select[@name='metal']", "open copper clay")
    else:
        hand.choose(f"{form}//select[@name='metal']", "open-fired")
    hand.click(f"{form}//button")
    assert "gold foil" in hand.words("h1").lower()
    assert "copper clay" in hand.words("h1").lower()
    assert "clear" in hand.words(".ranks tbody tr").lower()


def test_the_moth_brooch_without_a_file(hand, store, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("REFDB_STORE", str(store))
    assert main(["piece", "new", str(tmp_path / "moth.toml")]) == 0
    capsys.readouterr()
    main(["piece", "check", str(tmp_path / "moth.toml"), "--json"])
    told = json.loads(capsys.readouterr().out)
    hand.click("//a[.='Put it together']")
    hand.click("//button[@value='moth']")
    assert "moth" in hand.words("main").lower()
    assert hand.words(".steps .step").startswith("1 ")
    assert hand.words("main .word").lower().startswith(told["verdict"] + " so far")


def test_why_it_peels_by_a_drawing(hand):
    to_part(hand, "Faults")
    hand.click("//ul[@class='looks']//a[contains(@href, 'look=lift')]")
    assert "comes off whole" in hand.words("h1")
    hand.click("//ul[@class='quest']//a")
    assert hand.words(".causes tbody tr")
    assert hand.words(".causes tbody td[data-l='what to do']")


def test_two_jars_over_each_other(hand):
    to_part(hand, "Shelf")
    hand.click("//a[.='Compare jars over each other']")
    hand.choose("//select[@name='glass'][1]", "Jar 12")
    hand.choose("(//select[@name='glass'])[2]", "Sea jar")
    hand.click("//form[@action='/compare']//button")
    heads = hand.words(".beside thead")
    assert "Jar 12" in heads
    assert "Sea jar" in heads
    assert "gap" in hand.words(".beside tbody")
    assert hand.words(".beside .because")


def test_the_least_metal_for_a_coat(hand):
    form = "//form[@action='/builds']"
    hand.click("//a[.='Builds that hold, metal by metal']")
    hand.choose(f"{form}//select[@name='glass']", "Jar 12")
    hand.click(f"{form}//button")
    hand.click("#wish", loads=False)
    hand.write("front at least 0.3 mm")
    hand.key("Enter", loads=True)
    # The thinnest metal comes first.
    thinnest = [float(mm) for mm in re.findall(r"([\d.]+) mm of metal, 0\.[3-9]\d? mm", hand.words(".best"))]
    assert thinnest
    assert thinnest == sorted(thinnest)


def test_a_tile_is_written_down(hand, shelf):
    with Workshop(shelf) as shop:
        before = shop.count("tile")
    to_part(hand, "Shelf")
    hand.click("//a[.='tile']", loads=False)
    hand.choose("#tile-glass", "Jar 12")
    hand.choose("#tile-metal", "copper sheet")
    hand.click("//form[@action='/shelf/tile']//label[contains(., 'sound')]", loads=False)
    hand.click("//button[.='Keep the tile']")
    assert "Kept as tile:" in hand.words(".last")
    with Workshop(shelf) as shop:
        assert shop.count("tile") == before + 1


def test_the_bench_sheet_is_two_pages_of_paper(hand, tmp_path):
    hand.click("//a[.='a moth brooch']")
    hand.click("//a[contains(@href, '/piece/bench')]")
    hand.browser.printed(tmp_path / "sheet.pdf")
    assert len(re.findall(rb"/Type\s*/Page\b", (tmp_path / "sheet.pdf").read_bytes())) == 2


def test_the_cautions_of_a_leaded_glass(hand):
    hand.click("#q", loads=False)
    hand.write("leaded clear cautions")
    hand.key("Enter", loads=True)
    text = hand.words("main")
    for caution in ("lead poisoning by breathing and swallowing", "harm the unborn"):
        assert caution in text
    hand.click("//a[.='All of it']")
    assert "leaded medium clear" in hand.words("h1")
    assert "with the lips" in hand.words("main")
