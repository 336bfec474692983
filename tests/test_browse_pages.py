"""Every page of the browse view: well formed, linked, accessible in its bones, and its numbers those of the judge."""

from __future__ import annotations

import json
import re
from urllib.parse import quote, urldefrag

import pytest
from browse_client import Outline, numbers_not_told

PAGES = (
    "/",
    "/find",
    "/find?q=foil",
    "/find?q=zzzz",
    "/suits",
    "/suits?glass=clear-hard-lead-free&metal=copper-sheet",
    "/suits?glass=borosilicate-3-3&metal=copper-sheet",
    "/suits?glass=painting-black&metal=copper-sheet",
    "/suits?glass=opal-lead-free&metal=copper-clay&metal_thickness=3+cards&shape=domed&rise=2+mm&kiln=800+C",
    "/suits?glass=clear-hard-lead-free&metal=copper-sheet&back=0+mm&front=0.05+mm",
    "/suits?metal=fine-silver-sheet",
    "/suits?glass=opal-lead-free",
    "/materials",
    "/materials?kind=glass&sort=expansion&down=1",
    "/materials?kind=metal&family=silver",
    "/material/copper-sheet",
    "/material/copper-clay",
    "/material/clear-hard-lead-free",
    "/material/painting-black",
    "/material/fine-silver-foil",
    "/grid",
    "/grid?lead=free&hardness=hard&metals=copper",
    "/practice",
    "/practice?topic=drying",
    "/practice?words=kiln",
    "/cautions",
    "/cautions?material=copper-clay",
    "/sources",
    "/sources?key=from-memory",
    "/about",
    "/compare",
    "/compare?glass=clear-hard-lead-free&glass=opal-lead-free&glass=window-soda-lime&metal=copper-clay",
    "/compare?glass=opal-lead-free&metal=copper-sheet&metal=fine-silver-sheet&metal=gold-24k&metal=brass-70-30",
    "/shelf",
    "/faults?look=cloud&stage=in+the+fire",
    "/faults",
    "/faults?words=crack",
    "/clears",
    "/clears?leaf=fine-silver-foil&metal=copper-sheet&under=bare",
    "/clears?leaf=gold-foil-24k&metal=fine-silver-clay",
    "/piece",
    "/piece?example=moth",
    "/piece?text=%5Bpiece%5D",
    "/reference",
    "/reference/contacts",
    "/reference/metals",
    "/reference/property_values",
    "/reference/materials/copper-sheet",
    "/nosuch",
    "/material/nosuch",
    "/suits?glass=x&metal=y",
)


@pytest.fixture(scope="module")
def page(asking):
    held = {}

    def get(address):
        if address not in held:
            held[address] = asking.get(address)
        return held[address]

    return get


@pytest.mark.parametrize("address", PAGES)
def test_a_page_is_well_formed(page, address):
    answer = page(address)
    expected = 404 if "nosuch" in address or "glass=x" in address else 400 if "%5Bpiece%5D" in address else 200
    assert answer.status == expected
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    outline = Outline(answer.body)
    assert outline.faults == []
    assert len(outline.ids) == len(set(outline.ids))
    assert outline.all("html")[0]["lang"] == "en"
    assert len(outline.all("h1")) == 1
    assert len(outline.all("main")) == 1
    skip = next(a for a in outline.all("a") if a.get("class") == "skip")
    assert skip["href"] == f"#{outline.all('main')[0]['id']}"


@pytest.mark.parametrize("address", PAGES)
def test_a_page_says_what_everything_is(page, address):
    outline = Outline(page(address).body)
    labelled = {given["for"] for given in outline.all("label")}
    for name in ("input", "select", "textarea"):
        for given in outline.all(name):
            assert given.get("type") == "hidden" or given.get("aria-label") or given["id"] in labelled
    for given in outline.all("section"):
        assert given.get("aria-label") or given.get("aria-labelledby") in outline.ids or "class" in given
    assert all(given.get("scope") for given in outline.all("th"))
    assert len(outline.all("caption")) == len(outline.all("table"))
    for given in outline.all("svg"):
        assert given.get("aria-hidden") == "true" or set(given["aria-labelledby"].split()) <= set(outline.ids)
    regions = [g for tag, g in outline.tags if g.get("role") == "region"]
    assert all(g.get("tabindex") == "0" for g in regions)


@pytest.mark.parametrize("address", PAGES)
def test_a_page_loads_our_one_script_no_inline_style_and_nothing_from_outside(page, address):
    outline = Outline(page(address).body)
    assert [s["src"].partition("?")[0] for s in outline.all("script")] == ["/static/refdb.js"]
    assert all("defer" in s for s in outline.all("script"))
    assert not re.search(r"<script[^>]*>[^<]", page(address).body)
    assert outline.all("style") == []
    for _, given in outline.tags:
        assert "style" not in given
        assert not [name for name in given if name.startswith("on")]
    loaded = [given["href"] for given in outline.all("link")]
    assert all(link.startswith("/static/") for link in loaded)
    # A piece alone is sent; everything else is asked for by its address.
    assert {f["action"] for f in outline.all("form") if f["method"] != "get"} <= {"/piece"}


def test_every_address_reachable_from_the_front_page_answers(asking):
    """Pages of ours are followed; of verdicts and of stored rows a few of each kind."""
    waiting, seen, kinds = ["/"], {"/"}, {}
    while waiting:
        address = waiting.pop()
        answer = asking.get(address)
        assert answer.status == 200, address
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        outline = Outline(answer.body)
        for link in outline.links:
            target, fragment = urldefrag(link)
            if not target:
                assert fragment in outline.ids, (address, link)
            if not target or not target.startswith("/"):
                assert not target or target.startswith("https://doi.org/"), link
                continue
            kind = re.sub(r"=[^&]*", "=", re.sub(r"(/material|/reference/[^/?]+)/[^?]*", r"\1/", target))
            kinds[kind] = kinds.get(kind, 0) + 1
            if target not in seen and kinds[kind] <= 12:
                seen.add(target)
                waiting.append(target)
    assert len(seen) > 100


def test_fragments_of_search_hits_are_on_their_pages(asking):
    words = ("copper", "kiln", "lead", "silver", "crack", "solder", "limit", "clay", "zinc in the metal")
    links = {link for word in words for link in Outline(asking.get(f"/find?q={quote(word)}").body).links if "#" in link}
    links = {link for link in links if link.startswith("/")}
    pages = {target: set(Outline(asking.get(target).body).ids) for target in {urldefrag(x)[0] for x in links}}
    assert {"/practice", "/practice/kiln", "/cautions", "/about"} <= set(pages)
    of_rules = {link for link in links if link.startswith("/practice#")}
    assert not any(f"/practice/kiln#{link.partition('#')[2]}" in links for link in of_rules)
    for link in links:
        target, fragment = urldefrag(link)
        assert fragment in pages[target], link


QUESTIONS = (
    ({}, ()),
    ({"metal_thickness": "0.65 mm", "back": "0 mm"}, ("--metal-thickness", "0.65 mm", "--back", "0 mm")),
    ({"shape": "domed", "rise": "2 mm", "kiln": "815 C"}, ("--shape", "domed", "--rise", "2 mm", "--kiln", "815 C")),
    ({"expansion": "12.4 ppm/K", "span": "20-400 C"}, ("--expansion", "12.4 ppm/K", "--span", "20-400 C")),
)


@pytest.mark.parametrize(("more", "options"), QUESTIONS)
@pytest.mark.parametrize(
    "pair",
    [
        ("clear-hard-lead-free", "copper-sheet"),
        ("opal-lead-free", "copper-clay"),
        ("borosilicate-3-3", "fine-silver-sheet"),
    ],
)
def test_the_numbers_of_a_verdict_are_those_of_the_command(asking, refdb, pair, more, options):
    from refdb.browse.server.query import address

    told = json.loads(refdb("suits", *pair, *options, "--json").out)
    outline = Outline(asking.get(address("/suits", glass=pair[0], metal=pair[1], **more)).body)
    assert numbers_not_told(told, outline.text) == []


@pytest.mark.parametrize("pair", [("clear-hard-lead-free", "copper-sheet"), ("clear-for-silver", "fine-silver-clay")])
def test_shares_of_draws_are_told_in_the_words_of_the_command(asking, refdb, pair):
    told = " ".join(refdb("suits", *pair, "--front", "0.3 mm", "--back", "0 mm", "--full").out.split())
    shares = re.findall(r"holds in (?:\d+|none) of 10 draws(?:, plainly in \d+|, always with care)?", told)
    assert len(set(shares)) > 1
    text = Outline(asking.get(f"/suits?glass={pair[0]}&metal={pair[1]}&front=0.3+mm&back=0+mm").body).text
    for share in shares:
        assert share.removeprefix("holds") in text


def test_a_ranking_is_that_of_the_command(asking, refdb):
    rows = json.loads(refdb("glasses", "--on", "copper-sheet", "--json").out)["rows"]
    found = Outline(asking.get("/suits?metal=copper-sheet").body).links
    links = [link for link in found if link.startswith("/suits?glass=") and "&metal=" in link]
    order = {"suits": 0, "suits with care": 1, "cannot say": 2, "does not suit": 3}
    assert [re.search("glass=([^&]*)", x)[1] for x in links] == [
        r["key"] for r in sorted(rows, key=lambda r: order[r["verdict"]])
    ]


def grid_of(body):
    """Outcome and share of each glass on each metal, as the rows of a grid tell them, and the glasses folded away."""
    found, folded = {}, set()
    for row in re.findall(r"<tr><th scope=\"row\">.*?</tr>", body):
        head, _, cells = row.partition("</th>")
        glasses = re.findall(r'href="/material/([^"]+)"', head)
        folded |= set(glasses[1:])
        for metal, outcome in re.findall(r'metal=([^"]+)" aria-label="[^"]*: ([^"]+)"', cells):
            for glass in glasses:
                assert (glass, metal) not in found
                found[glass, metal] = outcome
    return found, folded


def test_the_grid_holds_every_pair_with_the_outcome_of_its_verdict(asking, refdb):
    from refdb import open_reference
    from refdb.browse.pages.grid import COMMON

    usual, _ = grid_of(asking.get("/grid").body)
    every, folded = grid_of(asking.get("/grid?metals=every+metal").body)
    with open_reference(asking.application.databases["reference"].path) as ref:
        glasses, metals = ({r.key for r in ref.materials(kind)} for kind in ("glass", "metal"))
    assert set(every) == {(g, m) for g in glasses for m in metals}
    assert set(usual) == {(g, m) for g in glasses for m in COMMON}
    assert set(COMMON) <= metals
    pairs = [
        ("clear-hard-lead-free", "copper-sheet"),
        ("borosilicate-3-3", "titanium-sheet"),
        ("painting-black", "gold-24k"),
        ("window-soda-lime", "fine-silver-sheet"),
        *((glass, metal) for glass in sorted(folded) for metal in ("copper-sheet", "fine-silver-clay")),
    ]
    assert len(pairs) > 4
    for pair in pairs:
        told = json.loads(refdb("suits", *pair, "--json").out)
        shares = told["shares"]
        holds = f", holds in {int((1 - shares['does not suit']) * 10 + 0.5 + 1e-9)} of 10" if shares else ""
        assert every[pair] == told["verdict"] + (holds if not told["missing"] else ""), pair
        assert usual.get(pair, every[pair]) == every[pair]


def test_the_room_of_a_cell_is_the_nearest_of_three_limits(asking, refdb):
    """Read from the numbers of the command: no room beside a refusal by kiln or rule, the least of all rules else."""
    import refdb as api
    from refdb.judge.margin import margin_of
    from refdb.judge.rules import limit_of

    with api.open_reference(asking.application.databases["reference"].path) as ref:
        verdict = api.suits(ref, "clear-hard-lead-free", "fine-silver-sheet")
        found = margin_of(verdict)
        rooms = {
            r.rule: (limit - r.found.value) / (r.found.high - r.found.value)
            for r in verdict.reasons
            for rule in ("gap", "release")
            if r.rule == rule and (limit := limit_of(rule).care)
        }
        assert found is not None
        assert found.room <= min(rooms.values()) + 1e-9
        refused = api.suits(ref, "window-soda-lime", "copper-sheet")
        assert refused.outcome == "does not suit"
        assert margin_of(refused) is None
        thin = api.suits(ref, "clear-hard-lead-free", "fine-silver-sheet", metal_thickness_m=0.3e-3, back_m=0.0)
        told = margin_of(thin)
        assert told is None or told.rule in ("tension-between", "tension-lasting")


def test_a_material_shows_every_row_of_every_source(asking, refdb):
    told = json.loads(refdb("show", "copper-sheet", "--json").out)
    outline = Outline(asking.get("/material/copper-sheet").body)
    shown = [given["href"] for given in outline.all("a") if given.get("class") == "src"]
    assert len(shown) == len(told["values"])
    assert {f"#s-{v['source']}" for v in told["values"]} == set(shown)
    preferred = [v for v in told["values"] if v["preferred"]]
    assert sum(g.get("class") == "pref" for g in outline.all("tr")) == len(preferred)


def test_a_figure_that_is_missing_is_said_to_be(asking):
    text = Outline(asking.get("/material/painting-black").body).text
    assert "No figure is known." in text
    text = Outline(asking.get("/suits?glass=yellow-opaque-antimony&metal=copper-sheet").body).text
    assert "Cannot say" in text
    assert "Not known: expansion of opaque antimony yellow" in text


def test_a_sorted_list_says_so_and_goes_up_and_down(asking):
    def values(address):
        outline = Outline(asking.get(address).body)
        sorted_heads = [g["aria-sort"] for g in outline.all("th") if g.get("aria-sort") not in (None, "none")]
        numbers = re.findall(r"(\d+\.\d) to \d+\.\d", outline.text)
        return sorted_heads, [float(n) for n in numbers]

    up_heads, up = values("/materials?kind=metal&sort=expansion")
    down_heads, down = values("/materials?kind=metal&sort=expansion&down=1")
    assert (up_heads, down_heads) == (["ascending"], ["descending"])
    assert up[0] < up[-1]
    assert down[0] > down[-1]


def test_a_stored_table_has_units_in_its_heads_and_labels_of_sources(asking):
    text = Outline(asking.get("/reference/contacts").body).text
    assert "first melts, °C" in text
    assert "thermal expansion, ppm/K" in Outline(asking.get("/reference/metals").body).text
    links = Outline(asking.get("/reference/contacts").body).links
    assert any(link.startswith("/reference/sources/") for link in links)


def test_tables_are_there_as_json_and_csv(asking):
    rows = json.loads(asking.get("/reference/contacts.json?_shape=array&_size=5").body)
    assert len(rows) == 5
    text = asking.get("/reference/contacts.csv?_size=5")
    assert text.body.splitlines()[0].startswith("metal_a,metal_b,first_melts_c")


@pytest.mark.parametrize(
    ("query", "same"),
    [
        ("metal_thickness=0,8", "metal_thickness=0.8+mm"),
        ("metal_thickness=0.6", "metal_thickness=0.6+mm"),
        ("metal_thickness=.8", "metal_thickness=0.8+mm"),
        ("metal_thickness=%C2%BD+mm", "metal_thickness=0.5+mm"),
        ("metal_thickness=1+%C2%BC", "metal_thickness=1.25+mm"),
        ("metal_thickness=one+mm", "metal_thickness=1+mm"),
        ("metal_thickness=0.8mm.", "metal_thickness=0.8mm"),
        ("metal_thickness=0.8+%C2%B1+0.05", "metal_thickness=0.8+%C2%B1+0.05+mm"),
        ("metal_thickness=18g", "metal_thickness=18+ga"),
        ("metal_thickness=three+cards", "metal_thickness=3+cards"),
        ("front=0,2&kiln=815", "front=0.2+mm&kiln=815+C"),
        ("expansion=12,4&span=20-400+C", "expansion=12.4+ppm/K&span=20-400+C"),
    ],
)
def test_a_form_takes_what_people_type(asking, query, same):
    base = "/suits?glass=clear-hard-lead-free&metal=copper-sheet&"
    found, meant = (asking.get(base + q) for q in (query, same))
    assert found.status == 200
    assert Outline(found.body).text == Outline(meant.body).text


@pytest.mark.parametrize(
    ("typed", "told"), [("0.5mm", "0.5 mm"), ("20ga", "20 ga"), ("0.7-0.9mm", "0.7-0.9 mm"), ("", "0.8 mm")]
)
def test_the_heading_parts_a_unit_from_its_number(asking, typed, told):
    page = asking.get(f"/suits?glass=clear-hard-lead-free&metal=copper-sheet&metal_thickness={typed}").body
    assert f", {told}</h1>" in page.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("metal_thickness=3+kg", "metal_thickness"),
        ("kiln=hot", "kiln"),
        ("kiln=0", "kiln"),
        ("front=x&back=0.2+mm", "front"),
    ],
)
def test_a_wrong_field_is_redrawn_with_its_value_and_the_message_beside_it(asking, query, name):
    answer = asking.get(f"/suits?glass=opal-lead-free&metal=fine-silver-sheet&{query}")
    assert answer.status == 400
    outline = Outline(answer.body)
    assert outline.faults == []
    (wrong,) = [g for _, g in outline.tags if g.get("aria-invalid") == "true"]
    assert (wrong["name"], wrong["aria-describedby"]) == (name, "f-wrong")
    assert wrong["value"] == query.partition("=")[2].partition("&")[0].replace("+", " ")
    chosen = {g.get("value") for g in outline.all("option") if "selected" in g}
    assert {"opal-lead-free", "fine-silver-sheet"} <= chosen
    assert outline.text.count("Traceback") == 0


def test_cards_of_sheet_are_questioned(asking):
    def words(metal):
        return Outline(asking.get(f"/suits?glass=opal-lead-free&metal={metal}&metal_thickness=3+cards").body).text

    assert "ards measure rolled clay, sheet is sold by mm or gauge" in words("copper-sheet")
    assert "ards measure rolled clay" not in words("copper-clay")
