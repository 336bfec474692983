"""The page of each subject of practice: the rules of the command, drawings, faults and cautions, and short enough."""

from __future__ import annotations

import json
import re
from html import unescape
from urllib.parse import quote
from xml.etree import ElementTree

import pytest
from browse_client import Asking, as_typed

from refdb.pictures.how import DRAWINGS, drawing, drawings
from refdb.store.reference import Reference
from refdb.store.topics import of_fault, of_rule, topics


@pytest.fixture(scope="module")
def every(store):
    with Reference(store) as ref:
        yield topics(ref)


@pytest.fixture(scope="module")
def browser(store):
    asked = Asking(store)
    yield asked
    asked.close()


def _plain(body: str) -> str:
    return as_typed(" ".join(unescape(re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " ").split()))


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_sound_and_tells_what_it_shows(name):
    root = ElementTree.fromstring(drawing(name))
    space = "{http://www.w3.org/2000/svg}" if root.tag.startswith("{") else ""
    title, said = root.find(f"{space}title"), root.find(f"{space}desc")
    assert title is not None
    assert said is not None
    assert len(said.text) > 60
    words = [t.text for t in root.iter(f"{space}text")]
    assert len(words) >= 2
    # Figures have one home, the rules.
    assert not [w for w in words if re.search(r"\d", w)]
    for node in root.iter(f"{space}text"):
        wide = 6.6 * len(node.text)
        x, kind = float(node.get("x")), (node.get("class") or "").split()
        left = x - wide if "e" in kind else x - wide / 2 if "m" in kind else x
        assert left >= -14, node.text
        assert left + wide <= 354, node.text


def test_every_drawing_is_shown_and_no_other(every):
    shown = [p.strip() for t in every for p in t.pictures.split(";") if p.strip()]
    assert sorted(shown) == sorted(DRAWINGS)
    assert len(DRAWINGS) >= 65
    assert [t.key for t in every if not t.pictures] == []
    with pytest.raises(KeyError):
        drawings(["no such drawing"])


def test_each_subject_has_a_page_with_the_rules_of_the_command(every, browser, refdb):
    for topic in every:
        answer = browser.get(f"/practice/{topic.key}")
        assert answer.status == 200, topic.key
        told = _plain(answer.body)
        found = json.loads(refdb("practice", topic.topic, "--json").out)
        for row in found["rows"]:
            assert _plain(row["statement"]) in told, (topic.key, row["key"])
        for hazard in found["cautions"]:
            assert _plain(hazard["caution"])[:40] in told, (topic.key, hazard["key"])
        # Three minutes at 235 words a minute, links and sources aside.
        read = [topic.lead, *(f"{r['statement']} {r['reason'] or ''}" for r in found["rows"])]
        read += [f"{h['step']} {h['hazard']} {h['caution']}" for h in found["cautions"]]
        assert len(" ".join(read).split()) <= 3 * 235, topic.key


@pytest.mark.parametrize("address", ["/practice/Torch", "/practice/" + quote("cloisonné"), "/practice/keum-boo"])
def test_a_subject_is_found_by_its_names(browser, address):
    assert browser.get(address).status == 200


def test_an_unknown_subject_is_not_found_and_offers_the_nearest(browser):
    answer = browser.get("/practice/cloisonee-x")
    assert answer.status == 404
    assert "cloisonné" in unescape(answer.body)
    assert browser.get("/practice/torch?x=1").status == 400


def test_faults_and_reasons_lead_to_their_subjects(store, browser):
    with Reference(store) as ref:
        prevents, remedies = of_fault(ref), of_rule(ref)
    assert {t.key for t in prevents["open-cell"]} == {"plique-a-jour"}
    assert 'href="/practice/plique-a-jour"' in browser.get("/faults?words=open-cell").body
    assert [t.key for t in remedies["one-face"]] == ["counter-enamel"]
    page = browser.get("/suits?glass=clear-hard-lead-free&metal=copper-sheet&back=0+mm&metal_thickness=0.5+mm").body
    assert 'href="/practice/counter-enamel"' in page


def test_the_list_of_subjects_links_to_every_page(every, browser):
    body = browser.get("/practice").body
    for topic in every:
        assert f'href="/practice/{topic.key}"' in body
