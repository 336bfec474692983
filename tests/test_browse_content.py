"""What a page tells is what the command tells: the same records in the same order, with the same figures."""

from __future__ import annotations

import json
import re
from html import unescape
from urllib.parse import quote, unquote

import pytest
from browse_client import Outline, as_typed


def rows_of(refdb, *words):
    """The rows of a command; none where it says that there is no such thing."""
    ran = refdb(*words, "--json")
    assert ran.status in (0, 3), ran.err
    return json.loads(ran.out)["rows"] if ran.status == 0 else []


def row_ids(body):
    """The ids of the rows of a page's tables, in order."""
    return re.findall(r'<tr role="row" id="([^"]+)"', body)


SIGHTS = (
    "crack", "cracks", "cracked", "crazing", "chip", "chipped edge", "black spots", "spots", "bubbles", "blister",
    "cloudy", "milky", "haze", "bent", "warped", "pits", "pinholes", "yellow", "leaf disappeared", "foil", "dull",
    "scratched", "stuck", "peel", "bumpy", "hairline", "dark", "eutectic", "why did it chip, craze or cloud?",
    "copper still red", "qqqq", "the",
)  # fmt: skip


@pytest.mark.parametrize("words", SIGHTS)
def test_a_sight_leads_to_the_same_causes_in_the_same_order(asking, refdb, words):
    told = [row["key"] for row in rows_of(refdb, "fault", *words.split())]
    assert told or words in ("qqqq", "the")
    assert row_ids(asking.get(f"/faults?words={quote(words)}").body) == told


def text_of(answer):
    return Outline(answer.body).text


def links_to(body, start):
    """What follows a start of addresses, for each link that has it, in order."""
    return [unquote(link.removeprefix(start)) for link in Outline(body).links if link.startswith(start)]


def shown(value):
    """A text as the pages set it: a hyphen before a figure as a minus, units held to their figures."""
    return " ".join(str(value).replace("\N{NO-BREAK SPACE}", " ").split())


def test_the_front_page_counts_what_the_lists_hold(asking, refdb):
    text = text_of(asking.get("/"))
    counts = {name: len(rows_of(refdb, name)) for name in ("metals", "glasses", "leaf", "fault", "practice", "sources")}
    for head, count in (
        ("Metals and metal clays", counts["metals"]),
        ("Glasses", counts["glasses"]),
        ("Leaf and foil", counts["leaf"]),
        ("Verdicts, every glass on every metal", counts["metals"] * counts["glasses"]),
        ("Faults and their causes", counts["fault"]),
        ("Practice", counts["practice"]),
        ("Sources", counts["sources"]),
    ):
        assert re.search(rf"{head}\W*{count:,}(?!\d)", text), (head, count)


@pytest.mark.parametrize("words", ["foil", "silver copper", "lead", "copper", "opal", "pickle", "melt", "qqqq"])
def test_a_search_finds_the_same_records_in_the_same_order(asking, refdb, words):
    told = rows_of(refdb, "find", *words.split())
    body = as_typed(asking.get(f"/find?q={quote(words)}").body)
    hits = [
        (link, title, kind.lower(), line)
        for kind, group in re.findall(r"<h2 id=\"h-\d+\">(.*?)</h2></div>\s*(<ol .*?)</section>", body, re.S)
        for link, title, line in re.findall(
            r"<li><a href=\"([^\"]*)\">(.*?)</a>(?:<br><span class=\"soft\">(.*?)</span>)?</li>", group
        )
    ]
    assert len(hits) == len(told)
    kinds = list(dict.fromkeys(row["kind"] for row in told))
    for (link, title, kind, line), row in zip(hits, sorted(told, key=lambda r: kinds.index(r["kind"])), strict=True):
        assert (unescape(title), kind, unescape(line)) == (row["title"], row["kind"], row["line"])
        if row["kind"] != "metals touching":
            assert unquote(link).endswith(row["key"])


@pytest.mark.parametrize(("kind", "command"), [("metal", "metals"), ("glass", "glasses"), ("leaf", "leaf")])
def test_a_list_of_materials_holds_the_records_and_figures_of_the_command(asking, refdb, kind, command):
    told = {row["key"]: row for row in rows_of(refdb, command)}
    body = asking.get(f"/materials?kind={kind}").body
    assert sorted(links_to(body, "/material/")) == sorted(told)
    for row in re.findall(r'<tr role="row"><th role="rowheader" scope="row"><a href="/material/.*?</tr>', body, re.S):
        record = told[re.search(r"/material/([^\"]*)", row)[1]]
        assert unescape(re.search(r">([^<]*)</a>", row)[1]) == record["label"]
        cells = {unescape(k): unescape(v) for k, v in re.findall(r'data-l="([^"]*)"[^>]*>([^<]*)<', row)}
        for head, name in (("form", "form"), ("hardness", "hardness"), ("lead", "lead"), ("in the fire", "suited")):
            if head in cells:
                assert cells[head] == (record[name] or "–")
        for head, name, slack in (
            ("expansion, ppm/K", "expansion_ppm_per_k", 0.051),
            ("begins to melt, °C", "solidus_c", 0.51),
            ("least for enamel, mm", "least_thickness_mm", 0.0051),
            ("thickness, µm", "leaf_thickness_um", 0.01),
        ):
            if head not in cells:
                continue
            ends = [float(x.replace(",", "")) for x in re.findall(r"[\d.,]+", cells[head])]
            assert bool(ends) == (record[name] is not None), (record["key"], head)
            if ends:
                assert min(ends) - slack <= record[name] <= max(ends) + slack, (record["key"], head)


@pytest.mark.parametrize("command", ["metals", "glasses", "leaf"])
def test_the_page_of_a_material_tells_what_the_command_shows(asking, refdb, command):
    for row in rows_of(refdb, command)[::4]:
        told = json.loads(refdb("show", row["key"], "--json").out)
        body = asking.get(f"/material/{row['key']}").body
        text = shown(Outline(body).text)
        for words in (told["label"], told["family"], told["summary"], *filter(None, told["details"].values())):
            assert shown(words) in text, (row["key"], words)
        # Both ends of a kiln setting that one source gives are one row.
        lows = {v["source"] for v in told["values"] if v["property"] == "fuse_low"}
        sources = [v["source"] for v in told["values"] if v["property"] != "fuse_high" or v["source"] not in lows]
        assert sorted(re.findall(r'class="src" href="#s-([^"]*)"', body)) == sorted(sources), row["key"]
        figures = re.findall(r'<td role="cell" class="n v">([^<]*)</td>', body)
        count = sum(1 + (" to " in f) for f in figures if f)
        assert count == sum(v["value"] is not None for v in told["values"])
        for property_missing in told.get("missing", []):
            assert "No figure is known" in text, property_missing


@pytest.mark.parametrize("words", ["", "drying", "leaf", "silver", "900", "pickle", "solder", "qqqq"])
def test_practice_holds_the_same_rules_schedules_and_solders(asking, refdb, words):
    ran = refdb("practice", *words.split(), "--json")
    told = json.loads(ran.out) if ran.status == 0 else {"rows": [], "schedules": [], "solders": [], "cautions": []}
    answer = asking.get(f"/practice?words={quote(words)}" if words else "/practice")
    text = shown(text_of(answer))
    rules = re.findall(r'<li id="([^"]+)"', answer.body)
    assert sorted(rules) == sorted(r["key"] for r in (*told["rows"], *told["cautions"]))
    if words:
        assert sorted(row_ids(answer.body)) == sorted(r["key"] for r in (*told["schedules"], *told["solders"]))
    for rule in told["rows"]:
        assert shown(rule["statement"]) in text
        piece = shown(re.search(rf'<li id="{rule["key"]}">(.*?)</li>', answer.body, re.S)[1])
        for end in (rule["low"], rule["high"]):
            assert end is None or f"{end:g}" in unescape(piece), rule["key"]
    for phase in told["schedules"]:
        row = unescape(re.search(rf'<tr role="row" id="{phase["key"]}">.*?</tr>', answer.body, re.S)[0])
        for name in ("temp_low_c", "temp_high_c", "hold_low_min", "hold_high_min"):
            assert phase[name] is None or f"{phase[name]:g}" in row, (phase["key"], name)
    for solder in told["solders"]:
        row = re.search(rf'<tr role="row" id="{solder["key"]}">.*?</tr>', answer.body, re.S)[0].replace(",", "")
        for name in ("solidus_c", "liquidus_c"):
            assert solder[name] is None or f"{solder[name]:g}" in row, (solder["key"], name)


@pytest.mark.parametrize("key", ["", "clear-medium-leaded", "copper-sheet", "red-opaque-cadmium", "lead", "Pickle"])
def test_cautions_are_those_of_the_command(asking, refdb, key):
    ran = refdb("cautions", *([key] if key else []), "--json")
    # Of a glass or a metal the page is led to by its key; everything else are words.
    name = "material" if "-" in key else "words"
    answer = asking.get(f"/cautions?{name}={key}" if key else "/cautions")
    if ran.status == 3:
        assert answer.status == 404
        return
    told = json.loads(ran.out)
    steps = list(dict.fromkeys(h["step"] for h in told["rows"]))
    # A page sets them under their steps; within one the order is that of the command.
    grouped = [h["key"] for step in steps for h in told["rows"] if h["step"] == step]
    assert re.findall(r'<li id="([^"]+)"', answer.body) == grouped
    assert row_ids(answer.body) == [limit["key"] for limit in told["limits"]]
    text = shown(text_of(answer))
    for row in told["rows"]:
        assert shown(row["caution"]) in text
    for limit in told["limits"]:
        assert shown(limit["limit_text"]) in text


def test_cautions_of_a_ranking_are_those_of_the_command(asking, refdb):
    """Lead is told with the clears that may hold it, as the whole answer of the command does."""
    whole = refdb("clears", "fine-silver-foil", "--on", "copper-sheet", "--full").out
    _, _, told = whole.partition("Cautions with ")
    cautions = re.findall(r"^  (\w.*?): .*?\n(?=  \w|\n|\w)", told, re.M | re.S)
    text = text_of(asking.get("/clears?leaf=fine-silver-foil&metal=copper-sheet"))
    _, _, page = text.partition("Cautions")
    assert "Every step with lead glass" in cautions
    assert all(head in page for head in cautions)


def test_every_list_tells_in_how_many_draws_it_holds_and_no_other_share(asking, refdb):
    """A clear that held in 10 of 10 draws on one screen was "sure in 9 of 10" on the other: another share."""
    ran = refdb("clears", "fine-silver-foil", "--on", "copper-sheet").out
    told = dict(re.findall(r"^ +\d+=? +(\S+) +(\d+ of 10) ", ran, re.M))
    body = asking.get("/clears?leaf=fine-silver-foil&metal=copper-sheet").body
    shown_there = re.findall(r'href="[^"]*/([\w-]+)">[^<]*</a>.*?data-l="holds in">([^<]+)<', body)
    assert dict(shown_there) == told
    assert len(told) > 8
    ranks = dict(
        re.findall(r"^ +\d+=? +(\S+) +(\d+ of 10) ", refdb("glasses", "--on", "copper-sheet", "--full").out, re.M)
    )
    for key in ("clear-hard-lead-free", "clear-soft-leaded", "borosilicate-3-3"):
        shares = json.loads(refdb("suits", key, "copper-sheet", "--json").out)["shares"]
        held = shares["suits"] + shares["suits with care"]
        assert ranks[key] == f"{int(held * 10 + 0.5)} of 10"


def test_sources_are_those_of_the_command_with_what_rests_on_each(asking, refdb):
    told = rows_of(refdb, "sources")
    page = asking.get("/sources")
    assert sorted(links_to(page.body, "/sources?key=")) == sorted(s["key"] for s in told)
    text = shown(text_of(page))
    for source in told:
        assert shown(source["citation"]) in text
        one = rows_of(refdb, "sources", source["key"])
        listed = re.search(rf'<li id="s-{source["key"]}">.*?rests on it:</i>(.*?)</span>', page.body)[1]
        assert sum(int(n.replace(",", "")) for n in re.findall(r"(?:^|, | )([\d,]*\d) ", listed)) == len(one), source
    for source in told[::5]:
        one = rows_of(refdb, "sources", source["key"])
        body = as_typed(asking.get(f"/sources?key={source['key']}").body)
        rests = re.findall(r'<li><a href="[^"]*">(.*?)</a> <span class="soft">(.*?)</span></li>', body)
        assert {unescape(key) for key, _ in rests} == {str(row["key"]) for row in one}
        whats = " ".join(unescape(what) for _, what in rests)
        assert all(str(row["what"]).replace("_", " ") in whats for row in one), source["key"]


def test_the_page_on_verdicts_tells_the_versions_of_the_command(asking, refdb):
    code, data, mark = refdb("--version").out.splitlines()
    text = Outline(asking.get("/about").body).text
    assert f"{code}, {data}." in " ".join(text.split())
    assert mark.split()[1] in text


def test_the_page_on_verdicts_holds_every_limit_and_rule_of_the_command(asking, refdb):
    body = asking.get("/about").body
    text = shown(Outline(body).text).lower()
    limits = rules = 0
    for source in rows_of(refdb, "sources"):
        for row in rows_of(refdb, "sources", source["key"]):
            if row["place"] == "limits of a verdict" and ": " in row["what"]:
                limits += 1
                rule, _, words = row["what"].partition(": ")
                assert shown(rule).lower() in text
                assert shown(words).lower() in text
            elif row["place"] == "rule of fit":
                rules += 1
                assert f'id="{row["key"]}"' in body
    assert limits == body.count('data-l="limit"')
    assert rules == body.count('data-l="what is found"')
