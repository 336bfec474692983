"""A piece put together on the page by forms alone: every change leads to an address, and what is fired is judged."""

from __future__ import annotations

import json
import re
import time
from html import unescape
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

import pytest
from browse_client import Outline
from techniques import TECHNIQUES

from refdb.browse.pages.builder import TEMPLATES
from refdb.browse.pages.builder_forms import KINDS, NAMES
from refdb.browse.pages.piece import example
from refdb.browse.server.packed import packed, unpacked
from refdb.plan.sketch import Sketch

FORM = b"application/x-www-form-urlencoded"


def post(asking, fields, kind=FORM, path=b"/piece/build", **headers):
    body = urlencode(fields).encode()
    told = [(b"content-type", kind), (b"content-length", str(len(body)).encode())]
    told += [(k.replace("_", "-").encode(), v.encode()) for k, v in headers.items()]
    return asking.raw(path, method="POST", headers=told, body=[body])


def sent(asking, **fields):
    """The sketch that a form leads to."""
    answer = post(asking, fields)
    assert answer.status == 303, Outline(answer.body).text[:400]
    parts = urlsplit(answer.headers["location"])
    assert parts.path == "/piece/build"
    return Sketch.of(unpacked(dict(parse_qsl(parts.query))["p"]))


def page(asking, sketch, **more):
    answer = asking.get(f"/piece/build?{urlencode({'p': packed(sketch.text)} | more)}")
    assert answer.status == 200
    assert Outline(answer.body).faults == []
    return answer.body


def test_the_moth_brooch_is_built_from_nothing_by_forms(asking, refdb, tmp_path):
    """Every step of the example by its form; the file at the end is judged at the terminal as the page judges it."""
    wanted = Sketch.of(example())
    sketch = sent(asking)
    body = {k: str(v) for k, v in {**wanted.piece, **wanted.base}.items()}
    sketch = sent(asking, p=packed(sketch.text), do="body", **body)
    for step in wanted.steps:
        fields = {
            k: {True: "yes", False: "no"}.get(v, v) if isinstance(v, bool) else v for k, v in step.items() if k != "do"
        }
        sketch = sent(asking, p=packed(sketch.text), do="step", add=step["do"], **fields)
    assert [dict(s) for s in sketch.steps] == [dict(s) for s in wanted.steps]
    shown = Outline(page(asking, sketch))
    file = tmp_path / "moth.toml"
    file.write_text(asking.get(f"/piece/file?p={packed(sketch.text)}").body, encoding="utf-8")
    told = json.loads(refdb("piece", "check", str(file), "--json").out)
    assert told["verdict"][:1].upper() + told["verdict"][1:] in shown.text
    assert told["sentence"] in shown.text
    assert "so far, after 15 steps" in shown.text
    # The page of all reasons and the sheet take the same address.
    whole = asking.get(f"/piece?p={packed(sketch.text)}")
    assert told["sentence"] in Outline(whole.body).text
    assert asking.get(f"/piece/sheet?p={packed(sketch.text)}").status == 200


def test_a_coat_that_waits_for_its_fire_is_not_judged(asking):
    sketch = Sketch.of(example())
    more = sent(asking, p=packed(sketch.text), do="step", add="coat", glass="window-soda-lime", thickness="0,2")
    assert more.steps[-1]["thickness"] == "0.2 mm"
    before, after = Outline(page(asking, sketch)).text, Outline(page(asking, more)).text
    verdict = re.search(r"(Suits|Suits with care|Does not suit|Cannot say) so far, after 15 steps", before)[0]
    assert verdict in after
    assert "1 step waits for the next firing, unjudged." in after
    fired = sent(asking, p=packed(more.text), do="step", add="fire", kiln="1000 C")
    assert "Does not suit so far, after 17 steps" in Outline(page(asking, fired)).text


def test_a_piece_that_calls_things_by_names_is_changed_like_any(asking):
    """A file may say "hard clear": its forms show what that is, and never the first of the list in its place."""
    begun = (
        '[piece]\nwidth = "30 mm"\nheight = "20 mm"\n[base]\nmetal = "copper"\nthickness = "0.8 mm"\n[[step]]\n'
        'do = "coat"\nglass = "hard clear"\nthickness = "0.15 mm"\n'
    )
    sketch = Sketch.of(begun)
    for more, shown in (
        ({"change": "1"}, {"clear-hard-lead-free"}),
        ({"add": "coat"}, {"clear-hard-lead-free"}),
        ({"change": "body"}, {"copper-sheet"}),
    ):
        body = page(asking, sketch, **more)
        picked = re.findall(r'<option value="([^"]*)" selected', body)
        assert shown <= set(picked), more
    by_key = Sketch.of(begun.replace("hard clear", "clear-hard-lead-free"))
    settings = [re.search(r'name="kiln"[^>]*value="([^"]*)"', page(asking, s, add="fire"))[1] for s in (sketch, by_key)]
    assert settings[0] == settings[1]
    # What means nothing is told, not failed at.
    assert asking.get(f"/piece/build?{urlencode({'p': packed(begun.replace('hard clear', 'xyzzy'))})}").status == 404


def test_steps_are_moved_copied_changed_and_taken_away(asking):
    sketch = Sketch.of(example())
    for do, changed in (
        ("up-3", sketch.moved(3, -1)),
        ("down-3", sketch.moved(3, 1)),
        ("copy-3", sketch.copied(3)),
        ("remove-3", sketch.without(3)),
    ):
        assert sent(asking, p=packed(sketch.text), do=do) == changed
    changed = sent(
        asking,
        p=packed(sketch.text),
        do="step",
        change="3",
        glass="clear-medium-lead-free",
        face="back",
        thickness="0.2 mm",
    )
    assert changed.steps[2] == {"do": "coat", "face": "back", "glass": "clear-medium-lead-free", "thickness": "0.2 mm"}
    assert len(changed.steps) == len(sketch.steps)
    placed = sent(asking, p=packed(sketch.text), do="step", add="clean", face="front", at="2")
    assert placed.steps[1] == {"do": "clean", "face": "front"}


def test_slow_cooling_goes_through_the_form_the_page_the_search_and_the_file(asking, refdb, tmp_path):
    glass = {"glass": "clear-hard-lead-free", "thickness": "1 mm"}
    steps = (
        {"do": "clean"},
        {"do": "coat", **glass},
        {"do": "clean", "face": "back"},
        {"do": "coat", "face": "back", **glass},
    )
    sketch = Sketch({"width": "30 mm", "height": "30 mm"}, {"metal": "copper-sheet", "thickness": "3 mm"}, steps=steps)
    short = sent(asking, p=packed(sketch.text), do="step", add="fire", kiln="820", cooling="2")
    assert short.steps[-1] == {"do": "fire", "kiln": "820 C", "cooling": "2 min"}
    shown = page(asking, short, change="5")
    words = Outline(shown).text.replace("\u00a0", " ")
    assert "cooled slowly over 2 min" in words
    assert "2 min of slow cooling is too short for thick glass" in words
    assert 'name="cooling"' in shown
    better = sent(asking, p=packed(short.text), do="improve")
    assert "too short for thick glass" not in Outline(page(asking, better)).text
    file = tmp_path / "disc.toml"
    file.write_text(asking.get(f"/piece/file?p={packed(better.text)}").body, encoding="utf-8")
    told = json.loads(refdb("piece", "check", str(file), "--json").out)
    assert "slow-cooling" not in [r["rule"] for r in told["reasons"]]
    assert sent(asking, file=file.read_text(encoding="utf-8")) == better
    refused = post(asking, {"p": packed(short.text), "do": "step", "change": "5", "kiln": "820", "cooling": "soon"})
    assert refused.status == 400
    assert "does not start with a number" in Outline(refused.body).text


def test_what_a_form_does_not_show_is_kept(asking):
    sketch = Sketch.of(example()).with_step(
        4, {"do": "coat", "face": "back", "glass": "clear-hard-lead-free", "thickness": "0.1 mm", "dried": False}
    )
    changed = sent(
        asking,
        p=packed(sketch.text),
        do="step",
        change="4",
        glass="clear-hard-lead-free",
        face="back",
        thickness="0.12 mm",
    )
    assert changed.steps[3]["dried"] is False


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"add": "coat", "glass": "clear-hard-lead-free", "thickness": "three kilos"}, "thickness", "three kilos"),
        ({"add": "coat", "glass": "no such glass at all", "thickness": "0.1 mm"}, "glass", ""),
        ({"add": "fire", "kiln": "9999 C"}, "kiln", "9999"),
        ({"add": "fire", "kiln": ""}, "kiln", "The kiln setting is missing; fill it in, for example 800 C"),
        (
            {"add": "coat", "glass": "clear-hard-lead-free", "thickness": ""},
            "thickness",
            "The thickness is missing; fill it in, for example 0.15 mm",
        ),
        ({"add": "leaf", "leaf": "fine-silver-foil", "coverage": "300"}, "coverage", "coverage"),
        ({"add": "join", "solder": ""}, "solder", "The solder is missing; fill it in, for example none"),
    ],
)
def test_a_wrong_field_keeps_its_form_with_the_message_beside_it(asking, fields, field, words):
    answer = post(asking, {"p": packed(Sketch.of(example()).text), "do": "step"} | fields)
    assert answer.status == 400
    outline = Outline(answer.body)
    assert outline.faults == []
    wrong = [g for _, g in outline.tags if g.get("aria-invalid") == "true"]
    assert [g["name"] for g in wrong] == [field]
    assert wrong[0]["aria-describedby"] == "b-wrong"
    assert "b-wrong" in outline.ids
    assert words in outline.text
    for name, value in fields.items():
        if name not in ("add", "glass", "solder"):
            assert f'value="{value}"' in unescape(answer.body)


@pytest.mark.parametrize(
    ("table", "name", "value", "status", "words"),
    [
        ("glass", "glass", "qqqqz", 404, "qqqqz"),
        ("glass", "glass", "my:jar-that-is-gone", 404, "my:jar-that-is-gone"),
        ("leaf", "leaf", "qqqqz", 404, "qqqqz"),
        ("glass", "thickness", "3 parsecs", 400, "parsecs"),
        ("base", "metal", "qqqqz", 404, "qqqqz"),
        ("piece", "width", "3 parsecs", 400, "parsecs"),
    ],
)
def test_an_address_whose_piece_cannot_be_read_gives_its_form_back(asking, table, name, value, status, words):
    """As a bookmark does whose jar is gone, or a file that was sent: nothing is judged, and the field can be mended."""
    good = Sketch.of(example())
    number = next((n for n, s in enumerate(good.steps, 1) if table in s), 0)
    if number:
        bad = good.with_changed(number, dict(good.steps[number - 1]) | {name: value})
    else:
        bad = good.with_body(
            *(dict(t) | ({name: value} if k == table else {}) for k, t in (("piece", good.piece), ("base", good.base)))
        )
    answer = asking.get(f"/piece/build?{urlencode({'p': packed(bad.text)})}")
    assert answer.status == status
    outline = Outline(answer.body)
    assert outline.faults == []
    assert [g["name"] for _, g in outline.tags if g.get("aria-invalid") == "true"] == [name]
    assert "b-wrong" in outline.ids
    assert words in outline.text
    assert "so far" not in outline.text.partition("Add step")[0]
    # What was wrong stands in its field still, and the others keep what they held.
    held = {g["name"]: g.get("value") for tag, g in outline.tags if tag == "input" and g.get("name")}
    assert held.get(name, value) == value
    assert f'value="{value}"' in answer.body
    # Another step is changed as ever; the form with the right word leads on.
    fire = next(n for n, s in enumerate(good.steps, 1) if s["do"] == "fire")
    onwards = sent(asking, p=packed(bad.text), do="step", change=str(fire), kiln="799 C")
    assert onwards.steps[fire - 1]["kiln"] == "799 C"
    fields = {"do": "step", "change": str(number)} if number else {"do": "body"}
    whole = {k: str(v) for k, v in ({**good.piece, **good.base} if not number else good.steps[number - 1]).items()}
    kept = {k: {"True": "yes", "False": "no"}.get(v, v) for k, v in whole.items() if k != "do"}
    mended = sent(asking, p=packed(bad.text), **fields, **kept)
    assert "so far" in Outline(page(asking, mended)).text


def test_a_body_that_cannot_be_is_said_so_beside_its_field(asking):
    answer = post(
        asking,
        {
            "p": packed(Sketch.of(example()).text),
            "do": "body",
            "metal": "copper-sheet",
            "thickness": "0.8 mm",
            "width": "3 parsecs",
            "height": "30 mm",
        },
    )
    assert answer.status == 400
    assert [g["name"] for _, g in Outline(answer.body).tags if g.get("aria-invalid")] == ["width"]


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_template_holds(asking, name):
    sketch = sent(asking, template=name)
    text = Outline(page(asking, sketch)).text
    assert re.search(r"Suits( with care)? so far", text)
    assert TEMPLATES[name][0] in text


def test_a_piece_that_does_not_hold_is_improved(asking):
    sketch = Sketch.of(example())
    worse = sketch.without(2)
    assert "clean" in Outline(page(asking, worse)).text.lower()
    mended = sent(asking, p=packed(worse.with_changed(3, {"do": "fire", "kiln": "600 C"}).text), do="improve")
    assert "Suits" in Outline(page(asking, mended)).text


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_form_whose_fields_are_known(asking, kind):
    body = page(asking, Sketch.of(example()), add=kind)
    outline = Outline(body)
    names = [g["name"] for tag, g in outline.tags if tag in ("input", "select") and g.get("name")]
    assert set(names) <= set(NAMES)
    assert f"Step 16: {kind}" in outline.text
    labels = {g["for"] for g in outline.all("label")}
    assert all(f"b-{n}" in labels for n in names if n not in ("p", "add"))


@pytest.mark.parametrize("name", TECHNIQUES)
def test_every_technique_is_built_by_forms_and_changed_by_them(asking, name):
    wanted = TECHNIQUES[name].piece
    sketch = sent(asking)
    sketch = sent(
        asking, p=packed(sketch.text), do="body", **{k: str(v) for k, v in (wanted.piece | wanted.base).items()}
    )
    for step in wanted.steps:
        fields = {k: {True: "yes", False: "no"}.get(v, str(v)) for k, v in step.items() if k != "do"}
        sketch = sent(asking, p=packed(sketch.text), **{**fields, "do": "step", "add": str(step["do"])})
    assert sketch.steps == tuple(map(dict, wanted.steps))
    body = page(asking, sketch)
    assert "Suits" in Outline(body).text
    for number in range(1, len(sketch.steps) + 1):
        outline = Outline(page(asking, sketch, change=str(number)))
        assert f"Change step {number}" in outline.text


HOSTILE = (
    "<script>alert(1)</script>",
    "'; DROP TABLE materials; --",
    "../../etc/passwd",
    "x" * 190,
    "{{7*7}}",
    "\u202e",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_words_are_told_back_harmless_or_refused(asking, text):
    p = packed(Sketch.of(example()).text)
    for name in NAMES:
        fields = {"p": p, "do": "step", "add": "coat", "glass": "clear-hard-lead-free", "thickness": "0.1 mm"}
        answer = post(asking, fields | {name: text})
        assert answer.status in (303, 400, 404), name
        assert "<script>alert" not in answer.body
        assert "Traceback" not in answer.body
        if answer.status == 303:
            shown = asking.get(answer.headers["location"])
            assert shown.status in (200, 400)
            assert "<script>alert" not in shown.body
    titled = Sketch.of(example())
    titled = titled.with_body({**titled.piece, "title": text}, titled.base)
    assert "<script>alert" not in page(asking, titled)


def test_only_a_page_of_ours_may_send_and_nothing_broken_is_taken(asking):
    p = packed(Sketch.of(example()).text)
    assert post(asking, {"p": p, "do": "copy-1"}, sec_fetch_site="cross-site").status == 403
    for fields in (
        {"p": "!!"},
        {"p": p, "do": "nosuch"},
        {"p": p, "do": "up-0"},
        {"p": p, "do": "up-x"},
        {"p": p, "nosuch": "1"},
        {"template": "nosuch"},
        {"p": p, "do": "step", "add": "nosuch"},
        {"p": p, "do": "step", "change": "99", "face": "front"},
    ):
        answer = post(asking, fields)
        assert answer.status == (404 if fields.get("change") else 400), fields
        assert Outline(answer.body).faults == []
    for query in ("p=!!", "add=coat&p=", f"p={p}&add=nosuch", f"p={p}&change=99", f"p={p}&change=x", f"p={quote('é')}"):
        answer = asking.get(f"/piece/build?{query}")
        assert answer.status in (200, 400, 404), query
        assert "Traceback" not in answer.body
    assert asking.get(f"/piece?p={p}&text=x").status == 400
    assert asking.get("/piece/file?p=!!").status == 400


def test_a_step_is_answered_soon(asking):
    """Far below the patience of a person, so that a slow machine does not fail; `scripts/bench.py` measures it."""
    sketch = Sketch.of(example())
    page(asking, sketch)
    begun = time.process_time()
    page(asking, sketch, add="coat")
    assert time.process_time() - begun < 5
