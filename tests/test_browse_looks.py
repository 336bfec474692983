"""Faults by look: a drawing leads to every fault, no question is asked in vain, and the causes are the store's."""

from __future__ import annotations

import json
import re

import pytest
from browse_client import Outline

from refdb.browse.pages.looks import BY_KEY, LOOKS, asked
from refdb.pictures.looks import drawings, look, looks_once
from refdb.store.fault_search import split
from refdb.store.reference import Reference
from refdb.store.rule_tables import GROUNDS, STAGES


@pytest.fixture(scope="module")
def symptoms(store):
    with Reference(store) as ref:
        return ref.symptoms()


def test_every_fault_can_be_reached_by_a_drawing(symptoms):
    drawn = {key for one in BY_KEY.values() for key in one.symptoms}
    assert drawn == {s.key for s in symptoms}


def test_every_drawing_is_there_once():
    keys = [one.key for _, _, held in LOOKS for one in held]
    assert len(keys) == len(set(keys))
    assert set(keys) <= set(drawings())
    once = looks_once(keys)
    ids = re.findall(r'id="([^"]+)"', once)
    assert len(ids) == len(set(ids))
    assert all(f"#look-{key}" in look(key) for key in keys)
    assert "style=" not in once
    with pytest.raises(KeyError):
        looks_once(["nosuch"])


@pytest.mark.parametrize("key", BY_KEY)
def test_answers_leave_what_they_say_and_never_nothing(symptoms, key):
    by_key = {s.key: s for s in symptoms}
    left, questions = asked(BY_KEY[key], symptoms, "", "")
    assert [s.key for s in left] == list(BY_KEY[key].symptoms)
    for question in questions:
        counts = [c["count"] for c in question["choices"]]
        assert min(counts) >= 1
        # It parts them: no two answers would be one question in vain.
        assert len(counts) > 1
        assert min(counts) < len(left) or len(set(counts)) > 1
    for stage in STAGES:
        found, _ = asked(BY_KEY[key], symptoms, stage, "")
        assert [s.key for s in found] == [k for k in BY_KEY[key].symptoms if stage in split(by_key[k].stages)]


def test_what_differs_in_nothing_is_not_asked(symptoms):
    assert asked(BY_KEY["moons"], symptoms, "", "")[1] == []
    # A drawing that may be many things is asked about.
    assert asked(BY_KEY["crack"], symptoms, "", "")[1] != []


def test_each_drawing_leads_by_plain_links_to_a_fault_with_what_to_do(asking, refdb):
    front = Outline(asking.get("/faults").body)
    chosen = [link for link in front.links if link.startswith("/faults?look=")]
    assert len(chosen) == len(BY_KEY)
    for link in chosen:
        page = Outline(asking.get(link).body)
        deeper = [x.partition("#")[0] for x in page.links if "stage=" in x or "beneath=" in x]
        for further in deeper[:2]:
            answer = Outline(asking.get(further).body)
            assert answer.faults == []
            last = next((x for x in answer.links if x.startswith("/faults?words=")), "")
            assert "what to do" in (Outline(asking.get(last).body).text if last else answer.text)
    told = json.loads(refdb("fault", "fish-scale", "--json").out)["rows"]
    words = Outline(asking.get("/faults?look=moons").body).text
    for row in told:
        assert row["cause"] in words
        assert row["remedy"] in words


@pytest.mark.parametrize(
    "query", ["look=nosuch", "look=craze&stage=never", "stage=later", "beneath=copper", "look=craze&beneath=wood"]
)
def test_what_is_not_offered_is_refused(asking, query):
    assert asking.get(f"/faults?{query}").status == 400


def test_an_answer_narrows(asking):
    def count(query):
        page = asking.get(f"/faults?{query}").body
        return len(re.findall(r'<li><a href="(?:#f-|/faults\?words=)', page))

    assert count("look=cloud") == len(BY_KEY["cloud"].symptoms)
    assert 0 < count("look=cloud&stage=later") < count("look=cloud")
    assert set(GROUNDS) >= {"copper", "silver"}
