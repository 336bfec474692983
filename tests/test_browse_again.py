"""A question that cannot be answered comes back as its form: with what was typed, and at the wrong field why."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from browse_client import Outline, as_typed
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"


def fields(outline):
    return [(g["name"], g["value"]) for g in outline.all("input") if (g.get("id") or "").startswith("f-")]


def selected(outline):
    """Of every choice of a form what is picked, and all that can be."""
    found, name = {}, ""
    for tag, told in outline.tags:
        if tag == "select":
            name = told["name"]
            found[name] = ("", [])
        elif tag == "option" and name:
            word = told.get("value")
            found[name] = (word if "selected" in told else found[name][0], [*found[name][1], word])
    return found


def said_at_the_field(answer):
    return as_typed(answer.body.partition('id="f-wrong">')[2].partition("</span>")[0])


def mended(asked, name, word):
    return {n: v for n, v in (asked | {name: word}).items() if v}


@pytest.mark.parametrize(
    ("path", "status", "wrong", "value", "why"),
    [
        (f"/suits?glass=qqqqz&metal={COPPER}&front=0.4", 404, "glass", "qqqqz", "No glass is called 'qqqqz'."),
        (f"/suits?glass={CLEAR}&metal=qqqqz", 404, "metal", "qqqqz", "No base metal is called 'qqqqz'."),
        (f"/suits?glass={CLEAR}&front=0.4", 400, "front", "0.4", "Choose both, or leave the build away."),
        (f"/clears?leaf=qqqqz&metal={COPPER}", 404, "leaf", "qqqqz", "is called 'qqqqz'."),
        (
            f"/clears?leaf=gold-foil-24k&metal={COPPER}&under=qqqqz",
            404,
            "under",
            "qqqqz",
            "No glass is called 'qqqqz'.",
        ),
        (f"/suits?glass={CLEAR}&metal={COPPER}&order=0", 400, "order", "0", "Use front-first, back-first, together."),
        (f"/suits?glass={CLEAR}&metal={COPPER}&between=0", 400, "between", "0", "has no unit"),
        (f"/suits?glass={CLEAR}&metal={COPPER}&kiln_most=0", 400, "kiln_most", "0", "is not the most of a kiln"),
        (
            f"/suits?glass={CLEAR}&metal={COPPER}&kiln=816C&kiln_most=700C",
            400,
            "kiln_most",
            "700C",
            "hottest that it goes",
        ),
        ("/clears?leaf=gold-foil-24k", 400, "metal", "", "Choose a leaf and a metal."),
        ("/clears?leaf=gold-foil-24k&metal=18g+copper", 400, "metal", "18g copper", "Name the metal alone."),
        (f"/builds?metal={COPPER}&shape=round", 400, "shape", "round", "Use flat or domed."),
        ("/builds?metal=qqqqz", 404, "metal", "qqqqz", "is called 'qqqqz'."),
        (f"/compare?glass={CLEAR}&glass=qqqqz&metal={COPPER}", 404, "glass", "qqqqz", "No glass is called 'qqqqz'."),
        ("/cautions?material=qqqqz", 404, "material", "qqqqz", "is called 'qqqqz'."),
    ],
)
def test_the_form_comes_back_with_its_values_and_the_message_at_the_field(asking, path, status, wrong, value, why):
    answer = asking.get(path)
    assert answer.status == status
    outline = Outline(answer.body)
    assert outline.faults == []
    at = [g for g in outline.all("input") if g.get("aria-invalid") == "true"]
    assert [(g["name"], g["value"], g["aria-describedby"]) for g in at] == [(wrong, value, "f-wrong")]
    assert why in said_at_the_field(answer)
    # All that was typed is there, to be sent again as it was.
    typed = [part.split("=") for part in path.partition("?")[2].split("&")]
    assert {(n, v.replace("+", " ")) for n, v in typed} <= set(fields(outline))
    assert [g["action"] for g in outline.all("form")] == [path.partition("?")[0]]


@pytest.mark.parametrize(
    ("path", "name", "value", "why", "offers"),
    [
        ("/grid?metals=silvr&lead=free", "metals", "silvr", "'silvr' is not known here. Choose one.", "silver"),
        ("/grid?glasses=blue", "glasses", "blue", "Choose one.", "blues and greens"),
        ("/grid?hardness=stone", "hardness", "stone", "Choose one.", "very hard"),
        ("/grid?lead=full", "lead", "full", "Choose one.", "free"),
        ("/materials?kind=glas", "kind", "glas", "Choose one.", "glass"),
        ("/materials?kind=metal&family=tin", "family", "tin", "Choose one.", "copper"),
        ("/materials?kind=glass&sort=price", "sort", "price", "Choose one.", "hardness"),
        ("/materials?kind=glass&sort=name&down=2", "down", "2", "Choose one.", "1"),
        ("/materials?sort=name", "kind", "", "A list is sorted or narrowed within one kind. Choose one.", "glass"),
        ("/faults?part=edge", "part", "edge", "Choose one.", "surface"),
        ("/faults?look=net", "look", "net", "Choose one.", "craze"),
        ("/faults?stage=later", "look", "", "A question is asked of a drawing. Choose a drawing first.", "craze"),
        ("/faults?look=craze&stage=noon", "stage", "noon", "Choose one.", "as it cools"),
        ("/faults?look=craze&beneath=tin", "beneath", "tin", "Choose one.", "copper"),
        ("/practice?topic=foiling", "topic", "foiling", "Choose one.", "washing"),
        ("/cautions?use=dog", "use", "dog", "Choose one.", "child"),
        ("/cautions?material=copper-sheet&use=dog", "use", "dog", "Choose one.", "food"),
        ("/piece?example=beetle", "example", "beetle", "Choose one.", "moth"),
    ],
)
def test_a_word_that_is_none_of_a_few_comes_back_in_its_field_with_those(asking, path, name, value, why, offers):
    answer = asking.get(path)
    assert answer.status == 400
    outline = Outline(answer.body)
    assert outline.faults == []
    at = [g for _, g in outline.tags if g.get("aria-invalid") == "true"]
    assert [(g["name"], g["aria-describedby"]) for g in at] == [(name, "f-wrong")]
    assert why in said_at_the_field(answer)
    picked = selected(outline)
    assert picked[name][0] == value
    assert offers in picked[name][1]
    # The rest of the question is there too, and the form goes where it came from.
    typed = dict(part.split("=") for part in path.partition("?")[2].split("&"))
    asked = {n: one for n, (one, _) in picked.items()} | dict(fields(outline))
    assert {n: asked[n] for n in typed} == {n: v.replace("+", " ") for n, v in typed.items()}
    assert [g["action"] for g in outline.all("form")] == [path.partition("?")[0]]
    # With a word that is offered it is answered.
    assert asking.get(f"{path.partition('?')[0]}?{urlencode(mended(asked, name, offers))}").status == 200


@pytest.mark.parametrize(
    ("path", "name", "why", "near"),
    [
        ("/practice?on=unobtainium&words=drying", "on", "No base metal is called 'unobtainium'.", None),
        ("/cautions?words=qqqqz", "words", "No material and no caution is called 'qqqqz'.", None),
        ("/sources?key=iso", "key", "Did you mean ISO 9453", "/sources?key=iso-9453"),
        ("/pool?glass=opal+12", "glass", "Did you mean lead-free opal", "/pool?glass=opal-lead-free"),
        ("/find?q=foil&q=leaf", "q", "Is given twice.", None),
    ],
)
def test_a_name_that_is_none_comes_back_in_its_field(asking, path, name, why, near):
    answer = asking.get(path)
    outline = Outline(answer.body)
    assert answer.status in (400, 404)
    assert outline.faults == []
    at = [g for _, g in outline.tags if g.get("aria-invalid") == "true"]
    assert [g["name"] for g in at] == [name]
    assert at[0]["value"] in path.replace("+", " ")
    assert why in said_at_the_field(answer)
    assert near is None or near in outline.links


@pytest.mark.parametrize(
    "path", ["/grid", "/materials", "/faults", "/practice", "/sources", "/find", "/pool", "/builds"]
)
def test_an_unknown_part_of_an_address_marks_no_field_and_leaves_the_form(asking, path):
    answer = asking.get(f"{path}?colour=red")
    outline = Outline(answer.body)
    assert answer.status == 400
    assert "This page takes no 'colour'." in outline.text
    assert [g["action"] for g in outline.all("form")] == [path]
    assert not [g for _, g in outline.tags if g.get("aria-invalid")]


@pytest.mark.parametrize(
    ("name", "value", "why"),
    [
        ("kiln_offset", "800", "no kiln is off by"),
        ("shape", "round", "no shape is called"),
        ("front", "thick", "thick"),
    ],
)
def test_the_form_of_a_verdict_marks_its_own_fields(asking, name, value, why):
    outline = Outline(asking.get(f"/suits?glass={CLEAR}&metal={COPPER}&{name}={value}").body)
    assert outline.faults == []
    at = [g for _, g in outline.tags if g.get("aria-invalid") == "true"]
    assert [(g["name"], g["id"], g["aria-describedby"]) for g in at] == [(name, f"f-{name}", "f-wrong")]
    assert outline.ids.count("f-wrong") == 1
    assert why in outline.text


def test_mended_it_is_answered(asking):
    outline = Outline(asking.get(f"/suits?glass=qqqqz&metal={COPPER}&front=0.4").body)
    mended = dict(fields(outline)) | {"glass": "hard clear"}
    assert asking.get(f"/suits?{urlencode(mended)}").status == 200


def test_what_is_near_asks_the_same_question(asking):
    outline = Outline(asking.get(f"/suits?glass=opal+12&metal={COPPER}&front=0.4").body)
    assert outline.text.count("Did you mean lead-free opal") == 2
    assert f"/suits?glass=opal-lead-free&metal={COPPER}&front=0.4" in outline.links


@pytest.mark.parametrize("path", ["/material/qqqqz", "/about?x=1", "/nosuch"])
def test_where_nothing_was_asked_there_is_no_form(asking, path):
    assert Outline(asking.get(path).body).all("form") == []


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    path=st.sampled_from(["/suits", "/clears", "/builds", "/compare", "/cautions", "/grid", "/materials", "/faults"]),
    typed=st.lists(
        st.tuples(
            st.sampled_from(
                ["glass", "metal", "leaf", "under", "front", "shape", "material", "wish", "kind", "metals", "x"]
            ),
            st.text(max_size=30) | st.sampled_from(["<script>", '"><b>', COPPER, CLEAR, "my:", "0,8", "a" * 400]),
        ),
        max_size=5,
    ),
)
def test_whatever_is_typed_comes_back_as_words(asking, path, typed):
    answer = asking.get(f"{path}?{urlencode(typed)}")
    assert answer.status in (200, 400, 404, 414)
    assert "<script>" not in answer.body
    assert Outline(answer.body).faults == []
