"""A question that cannot be answered comes back as its form: with what was typed, and at the wrong field why."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from browse_client import Asking, Outline
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"


@pytest.fixture(scope="module")
def asking(store):
    asked = Asking(store)
    yield asked
    asked.close()


def fields(outline):
    return [(g["name"], g["value"]) for g in outline.all("input") if (g.get("id") or "").startswith("f-")]


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
    assert why in answer.body.partition('id="f-wrong">')[2].partition("</span>")[0].replace("&#39;", "'")
    # All that was typed is there, to be sent again as it was.
    typed = [part.split("=") for part in path.partition("?")[2].split("&")]
    assert {(n, v.replace("+", " ")) for n, v in typed} <= set(fields(outline))
    assert [g["action"] for g in outline.all("form")] == [path.partition("?")[0]]


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


@pytest.mark.parametrize("path", ["/material/qqqqz", "/sources?key=qqqqz", "/nosuch"])
def test_where_nothing_was_asked_there_is_no_form(asking, path):
    assert Outline(asking.get(path).body).all("form") == []


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    path=st.sampled_from(["/suits", "/clears", "/builds", "/compare", "/cautions"]),
    typed=st.lists(
        st.tuples(
            st.sampled_from(["glass", "metal", "leaf", "under", "front", "shape", "material", "wish", "x"]),
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
