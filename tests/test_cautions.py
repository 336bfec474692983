"""Cautions: each hazard is met where it belongs, on the page as in the command."""

from __future__ import annotations

import csv
import html
import json
import re
from functools import cache
from urllib.parse import quote

import pytest
from browse_client import Asking
from conftest import SOURCES

from refdb.judge.cautions import ALWAYS, OF_PIECE, WORDS, cautions_for, hazards_of, parts_of, triggers
from refdb.store.reference import Reference


def _rows(name: str) -> list[dict[str, str]]:
    with (SOURCES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


NAMES = {row["key"]: row["name"] for row in _rows("sources")}
HAZARDS = {row["key"]: row for row in _rows("hazards")}
GLASSES, METALS, LEAVES = ({row["key"]: row for row in _rows(name)} for name in ("glasses", "metals", "leaf"))
LIMITS = {row["key"]: row for row in _rows("exposure_limits")}
KEYS = [*GLASSES, *METALS, *LEAVES]


@pytest.fixture(scope="module")
def browser(store, tmp_path_factory):
    asking = Asking(store, workshop=tmp_path_factory.mktemp("none") / "none.db")
    yield asking
    asking.close()


def of_command(refdb, *words: str) -> list[str]:
    """The keys of the hazards that `refdb cautions` tells, in its order."""
    return [row["key"] for row in json.loads(refdb("cautions", *words, "--json").out)["rows"]]


def of_page(browser: Asking, key: str = "") -> dict[str, str]:
    """The hazards of the page, by key, with what it says of each."""
    answer = browser.get(f"/cautions?material={key}" if key else "/cautions")
    assert answer.status == 200
    return {
        found[1]: html.unescape(re.sub(r"<[^>]*>", "", found[2]))
        for found in re.finditer(r'<li id="([a-z0-9-]+)">(.*?)</li>', answer.body, re.S)
    }


@pytest.mark.parametrize("key", KEYS)
def test_the_page_tells_what_the_command_tells(refdb, browser, key):
    told, seen = of_command(refdb, key), of_page(browser, key)
    assert sorted(seen) == sorted(told)
    assert len(set(told)) == len(told)
    for name, words in seen.items():
        assert HAZARDS[name]["caution"][:20] in words.replace("\u00a0", " ")
        assert NAMES[HAZARDS[name]["source"]] in words


@pytest.mark.parametrize("key", KEYS)
def test_every_material_is_told_what_always_holds_and_nothing_of_the_list(refdb, key):
    told = set(of_command(refdb, key))
    assert {k for k, row in HAZARDS.items() if row["trigger"] == ALWAYS} <= told
    assert not {k for k, row in HAZARDS.items() if row["trigger"] in OF_PIECE} & told


@pytest.mark.parametrize("key", GLASSES)
def test_every_glass_is_told_what_its_row_says_it_holds(refdb, key):
    """Worked out from the sources alone; unknown content counts as present."""
    row = GLASSES[key]
    held = {w.strip() for w in row["holds"].split(";") if w}
    due = {
        "lead-glass": row["lead"] != "free",
        "lead-wear": row["lead"] != "free",
        "cadmium-glass": row["cadmium"] != "free",
        "cadmium-wear": row["cadmium"] != "free",
        "arsenic-opals": "arsenic" in held or (row["optical"] == "opalescent" and row["lead"] != "free"),
        "antimony-colours": "antimony" in held,
        "selenium-fume": "selenium" in held,
        "lead-pregnancy": row["lead"] != "free" or row["cadmium"] != "free",
        "lead-hygiene": row["lead"] != "free" or row["cadmium"] != "free",
        "lead-blood": row["lead"] != "free",
        **{f"{metal}-dust": metal in held for metal in ("cobalt", "nickel", "chromium", "manganese")},
    }
    told = of_command(refdb, key)
    assert {k: k in told for k in due} == due


@pytest.mark.parametrize("key", GLASSES)
def test_what_a_glass_holds_is_what_its_words_name(key):
    """The row's own words on its colourant and its hazard name all that it is marked as holding, and no more."""
    row = GLASSES[key]
    words = f"{row['colourant']} {row['hazard']}".lower()
    named = {w for w in ("cobalt", "nickel", "chromium", "manganese", "selenium") if w in words}
    named |= {
        whole
        for stem, whole in (("arsen", "arsenic"), ("antimon", "antimony"), ("sulphosel", "selenium"))
        if stem in words
    }
    assert {w.strip() for w in row["holds"].split(";") if w} == named


@pytest.mark.parametrize(
    ("key", "due"),
    [("brass-70-30", "zinc-fume"), ("copper-clay", "clay-carbon-monoxide"), ("nickel-sheet", "nickel-skin")],
)
def test_metals_are_told_theirs(refdb, key, due):
    assert due in of_command(refdb, key)
    assert due not in of_command(refdb, "fine-silver-sheet")


@pytest.mark.parametrize(
    ("glass", "metal", "due"),
    [
        ("opal-leaded", "copper-sheet", "arsenic-opals"),
        ("steel-ground-coat", "low-carbon-steel", "cobalt-dust"),
        ("yellow-opaque-antimony", "copper-sheet", "antimony-colours"),
        ("red-opaque-cadmium", "copper-sheet", "selenium-fume"),
        ("clear-medium-leaded", "brass-70-30", "zinc-fume"),
    ],
)
def test_a_verdict_shows_what_its_glass_and_metal_hold(refdb, glass, metal, due):
    told = json.loads(refdb("suits", glass, metal, "--json").out)["cautions"]
    (found,) = [c for c in told if c["key"] == due]
    assert HAZARDS[due]["caution"][1:] in found["text"]
    assert found["source"] == HAZARDS[due]["source"]


#: A piece whose steps do all that a hazard can belong to.
_PIECE = """
[piece]
title = "everything"
width = "30 mm"
height = "30 mm"
use = "{use}"
[base]
metal = "{metal}"
thickness = "1 mm"
{steps}
"""
_STEPS = {
    "joining": 'do = "join"\nsolder = "bag-8"',
    "cadmium solder": 'do = "join"\nsolder = "bag-3"',
    "stoning": 'do = "stone"\nface = "front"',
    "cleaning": 'do = "clean"\nface = "front"',
    "painting": 'do = "line"\nface = "front"\nglass = "painting-black"\nthickness = "0.03 mm"',
}


def _shown_by(refdb, browser, tmp_path, row: dict[str, str], kind: str, text: str) -> tuple[str, set[str], set[str]]:
    """A question that a part of a trigger makes, from the store alone; the hazards its answer shows, and its page's."""
    if kind == "practice":
        rule = next(r for r in _rows("practice_rules") if r["topic"] == text)
        ran = refdb("practice", *text.split(), "--json")
        page = browser.get(f"/practice?topic={quote(text)}")
        assert rule["key"] in {r["key"] for r in json.loads(ran.out)["rows"]}
        return text, {c["key"] for c in json.loads(ran.out)["cautions"]}, set(_ids(page.body, "cautions"))
    if kind == "word" and text in OF_PIECE:
        step = _STEPS.get(text, 'do = "fire"\nkiln = "800 C"')
        coat = 'do = "coat"\nface = "front"\nglass = "clear-medium-lead-free"\nthickness = "0.15 mm"'
        steps = f"[[step]]\n{coat}\n[[step]]\n{step}"
        file = tmp_path / "piece.toml"
        file.write_text(
            _PIECE.format(use=text if text in ("child", "food") else "adult", metal="copper-sheet", steps=steps)
        )
        told = json.loads(refdb("piece", "plan", str(file), "--json").out)["cautions"]
        return str(file), {c["key"] for c in told}, set()
    if kind == "word":
        probe = {"lead": ("clear-medium-leaded", "copper-sheet"), "cadmium": ("red-opaque-cadmium", "copper-sheet")}
        glass, metal = probe.get(text, ("clear-medium-lead-free", _metal_of(text)))
    else:
        held = {k: r for k, r in (GLASSES if kind == "glass" else METALS).items() if _picked(kind, text, k)}
        glass = next(iter(held)) if kind == "glass" else "clear-medium-lead-free"
        metal = next(iter(held)) if kind == "metal" else "copper-sheet"
    told = json.loads(refdb("suits", glass, metal, "--json").out)["cautions"]
    page = browser.get(f"/cautions?material={glass if kind == 'glass' or text in ('lead', 'cadmium') else metal}")
    return f"{glass} on {metal}", {c["key"] for c in told}, set(re.findall(r'<li id="([a-z0-9-]+)"', page.body))


def _ids(body: str, section: str) -> list[str]:
    """The keys in one section of a page."""
    found = re.search(rf'<section class="sec" id="{section}".*?</section>', body, re.S)
    return re.findall(r'<li id="([a-z0-9-]+)"', found[0]) if found else []


def _metal_of(word: str) -> str:
    """A metal for which a word of a trigger holds; any where it always holds."""
    known = {"zinc": "brass-70-30", "clay in carbon": "copper-clay", "nickel": "nickel-sheet"}
    return known.get(word, "copper-sheet")


@cache
def _picked(kind: str, selector: str, key: str) -> bool:
    """Whether a selector picks a row, read here from the row alone."""
    row = (GLASSES if kind == "glass" else METALS)[key]
    for token in selector.split("; "):
        name, words = token.split(":")
        if not {w.strip() for w in row[name].split(";")} & set(words.split("|")):
            return False
    return True


@pytest.mark.parametrize("key", HAZARDS)
def test_every_part_of_every_trigger_is_met_by_a_question_whose_answer_shows_it(refdb, browser, tmp_path, key):
    """All hazards: the question is built from the trigger and the rows; answer and page both show the hazard."""
    row = HAZARDS[key]
    for kind, text in parts_of(row["trigger"]):
        asked, told, seen = _shown_by(refdb, browser, tmp_path, row, kind, text)
        # What every verdict ends with is not said twice among its cautions.
        assert key in told or key == "test-tile-first", asked
        assert key in seen or not seen, asked


def test_the_whole_list_holds_every_hazard_and_every_limit(refdb, browser):
    assert set(of_command(refdb)) == set(of_page(browser)) == set(HAZARDS)
    told = json.loads(refdb("cautions", "--json").out)
    assert {r["key"] for r in told["limits"]} == set(LIMITS)
    used = {text for row in HAZARDS.values() for kind, text in parts_of(row["trigger"]) if kind == "word"}
    assert used == set(WORDS)


#: What the trade handles that a law limits in air, by agent.
_IN_AIR = (
    "lead", "cadmium", "arsenic, inorganic", "antimony", "selenium", "cobalt", "nickel compounds", "chromium(VI)",
    "manganese", "respirable crystalline silica", "refractory ceramic fibre", "asbestos", "carbon monoxide",
    "hydrogen fluoride", "nitrogen dioxide", "nitric acid", "hydrogen sulphide",
)  # fmt: skip


@pytest.mark.parametrize("agent", [*_IN_AIR, "lead in blood", "infrared", "lead in jewellery", "nickel on skin"])
def test_an_agent_has_its_limit_in_three_jurisdictions(agent):
    places = [row["place"] for row in LIMITS.values() if row["agent"] == agent]
    for place in ("United States", "Europe", "United Kingdom"):
        assert any(place in p for p in places), (agent, place)
    assert all(row["edition"] for row in LIMITS.values())


def test_the_three_laws_on_lead_are_told_with_it(refdb):
    """29 CFR 1910.1025, Directive (EU) 2024/869 and the Control of Lead at Work Regulations 2002, in µg/m³."""
    limits = {r["key"]: r for r in json.loads(refdb("cautions", "lead", "--json").out)["limits"]}
    scale = {"ug/m**3": 1.0, "mg/m**3": 1000.0}
    air = {k: limits[k]["value"] * scale[limits[k]["unit"]] for k in ("air-lead", "air-lead-eu", "air-lead-uk")}
    assert air == {"air-lead": 50, "air-lead-eu": 30, "air-lead-uk": 150}
    assert "then 15" in limits["blood-lead-eu"]["limit_text"]
    assert not [k for k in limits if k.startswith("air-antimony")]


def test_an_own_leaded_opal_is_told_of_arsenic(mine):
    mine("mine", "add", "glass", "--name", "jar", "--optical", "opalescent")
    told = json.loads(mine("cautions", "my:jar", "--json").out)["rows"]
    assert {"arsenic-opals", "lead-glass"} <= {row["key"] for row in told}


def test_a_glass_known_by_its_composition_is_told_of_what_stands_in_it(refdb):
    def told(last: str) -> set[str]:
        ran = refdb(
            "estimate", f"SiO2 57, Na2O 16, K2O 10, B2O3 10, CaO 6, {last} 1", "--on", "low-carbon-steel", "--json"
        )
        assert ran.err == ""
        return {c["key"] for c in _found(json.loads(ran.out), "cautions")}

    assert "cobalt-dust" in told("CoO")
    assert "cobalt-dust" not in told("ZnO")


def _found(body: object, name: str) -> list[dict[str, str]]:
    """The list of this name, wherever it stands in JSON."""
    if isinstance(body, dict):
        if name in body:
            return body[name]
        body = list(body.values())
    return [row for part in body for row in _found(part, name)] if isinstance(body, list) else []


def test_the_order_is_by_weight_and_what_always_holds_stands_last(store):
    with Reference(store) as ref:
        for glass in ref.materials("glass"):
            held = hazards_of(ref.hazards(), glass, ref.metal("brass-70-30"))
            marks = [(h.trigger == ALWAYS, h.weight, h.key) for h in held]
            assert marks == sorted(marks)


@pytest.mark.parametrize(
    ("glass", "metal", "held", "not_held"),
    [
        ("clear-medium-leaded", "copper-sheet", {"lead"}, {"cadmium", "clay in carbon"}),
        ("red-opaque-cadmium", "copper-sheet", {"cadmium"}, {"lead"}),
        ("clear-hard-lead-free", "copper-clay", {"clay in carbon"}, {"lead", "cadmium"}),
        ("clear-hard-lead-free", "fine-silver-clay", set(), {"clay in carbon", "zinc"}),
        ("clear-hard-lead-free", "brass-70-30", {"zinc"}, {"nickel"}),
        ("clear-hard-lead-free", "nickel-sheet", {"nickel"}, {"zinc"}),
        ("clear-hard-lead-free", "stainless-304", {"nickel"}, set()),
        ("clear-hard-lead-free", "gold-18k-white-palladium", set(), {"nickel"}),
        ("counter-enamel-mixed", "copper-sheet", {"lead", "cadmium"}, set()),
    ],
)
def test_cautions_follow_what_is_in_the_glass_and_the_metal(ref, glass, metal, held, not_held):
    the_glass, the_metal = ref.glass(glass), ref.metal(metal)
    assert held | {"always"} <= triggers(the_glass, the_metal)
    assert not not_held & triggers(the_glass, the_metal)
    hazards = ref.hazards()
    shown = cautions_for(hazards, the_glass, the_metal)
    assert shown
    assert len({c.key for c in shown}) == len(shown)
    text = " ".join(c.text.lower() for c in shown)
    for word in held & {"lead", "cadmium", "nickel", "zinc"}:
        assert word in text
    for word in not_held & {"lead", "cadmium"}:
        assert word not in text
    assert ("carbon monoxide" in text) == ("clay in carbon" in held)


def test_a_weighty_caution_is_never_pushed_out(ref):
    """Lead, cadmium and a clay in carbon together: the first of each is still among those shown."""
    shown = cautions_for(ref.hazards(), ref.glass("counter-enamel-mixed"), ref.metal("copper-clay"))
    text = " ".join(c.text.lower() for c in shown)
    for word in ("lead", "cadmium", "carbon monoxide"):
        assert word in text


def test_a_deed_says_what_it_means_without_the_hazard_beside_it():
    """Verdicts and plans tell the deed after the work alone: nothing in it may point back to what is not shown."""
    back = re.compile(
        r"\b(all|both|either|any|each) (three|two|four|of (them|these|those))\b|\bboth\b(?! \w+ and)", re.I
    )
    assert [key for key, row in HAZARDS.items() if back.search(row["caution"])] == []


def test_practice_of_a_subject_tells_what_hurts_in_its_own_work(browser, refdb):
    """One rule on stripping stands among those on gold leaf; the acids of stripping are no hazard of laying leaf."""
    told = json.loads(refdb("practice", "gold leaf", "--json").out)
    assert {r["topic"] for r in told["rows"]} > {"leaf"}
    due = {key for key, row in HAZARDS.items() if ("practice", "leaf") in parts_of(row["trigger"])}
    assert {h["key"] for h in told["cautions"]} == due
    page = browser.get("/practice?words=gold leaf".replace(" ", "+"))
    assert "hydrofluoric" not in page.body
    acids = json.loads(refdb("practice", "stripping", "--json").out)["cautions"]
    assert {"bifluoride", "etch-nitric"} <= {h["key"] for h in acids}
