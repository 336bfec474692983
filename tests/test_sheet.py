"""The printed sheet: sound markup, nothing from outside, every text escaped, and the numbers of the plan on it."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from browse_client import as_typed

import refdb.plan
from refdb.judge.piece.verdict import judge_piece
from refdb.plan.packing import container_of
from refdb.plan.piecefile import parse_piece
from refdb.plan.schedule import plan_of
from refdb.plan.sheet import sheet
from refdb.store.reference import Reference

DEMO = (Path(refdb.plan.__file__).parent / "new_piece.toml").read_text(encoding="utf-8")
HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)>&\"'"
VOID = {"meta", "br", "input", "path", "rect"}


class Reader(HTMLParser):
    """Checks that tags are balanced, and keeps what the tests ask for."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> without a start"
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.words.append(as_typed(data))


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def opened(store):
    with Reference(store) as ref:
        yield ref


@pytest.fixture(scope="module")
def planned(opened):
    piece = parse_piece(DEMO, opened)
    return plan_of(opened, piece, container_of("200x150x80 mm")), judge_piece(opened, piece)


@pytest.fixture(scope="module")
def page(planned):
    return sheet(*planned, "moth.toml")


def test_markup_is_sound(page):
    reader = read(page)
    names = [tag for tag, _ in reader.tags]
    assert page.startswith("<!doctype html>")
    assert names.count("h1") == 1
    assert dict(reader.tags)["html"]["lang"] == "en"
    ids = [a["id"] for _, a in reader.tags if "id" in a]
    assert len(ids) == len(set(ids))
    labels = [a["for"] for tag, a in reader.tags if tag == "label"]
    assert set(labels) <= set(ids)
    boxes = [a for tag, a in reader.tags if tag == "input"]
    assert boxes
    assert all("aria-label" in a or a["id"] in labels for a in boxes)
    assert all(a.get("scope") in ("col", "row") for tag, a in reader.tags if tag == "th")


def test_nothing_comes_from_outside(page):
    reader = read(page)
    for tag, attributes in reader.tags:
        assert tag not in ("script", "link", "iframe", "img", "object", "form")
        assert not any(name.startswith("on") for name in attributes)
        assert "style" not in attributes
        assert all(
            value is None or not value.startswith(("http", "//", "data:", "javascript:"))
            for name, value in attributes.items()
            if name in ("href", "src")
        )
    assert "url(http" not in page
    assert "@import" not in page
    assert "default-src &#x27;none&#x27;" in page


def test_it_fits_either_paper(page):
    assert "@page { margin" in page
    assert "size:A4" not in page
    assert "size:letter" not in page.lower()


def test_every_text_is_escaped(opened):
    text = DEMO.replace("Moth brooch", HOSTILE.replace('"', '\\"')).replace("the wings, laid wet", "<b>wet</b>")
    piece = parse_piece(text, opened)
    page = sheet(plan_of(opened, piece), judge_piece(opened, piece), "<i>.toml")
    reader = read(page)
    names = {tag for tag, _ in reader.tags}
    assert not names & {"script", "img", "i.toml"}
    words = "".join(reader.words)
    assert HOSTILE in words
    assert "<b>wet</b>" in words
    assert "<i>.toml" in words


def test_the_firing_table_has_every_firing_with_box_first_and_own_column_last(page, planned):
    plan, _ = planned
    body = page[page.index('class="fire"') : page.index("</table>", page.index('class="fire"'))]
    rows = re.findall(r"<tr[^>]*>(.*?)</tr>", body, re.DOTALL)
    heads = re.findall(r"<th[^>]*>(.*?)</th>", rows[0])
    assert (heads[0], heads[-1]) == ("done", "yours")
    assert len(rows) - 1 == len(plan.firings)
    for row, firing in zip(rows[1:], plan.firings, strict=True):
        cells = re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.DOTALL)
        assert cells[0].startswith('<input type="checkbox"')
        assert cells[-1] == ""
        assert cells[3] == f"{firing.kiln_c:.0f}"
        assert cells[4] == f"{firing.kiln_f:.0f}"


def test_numbers_of_sources_lead_to_them(page):
    used = {int(n) for n in re.findall(r"<sup>\s*(\d+)</sup>", page)}
    listed = {int(n): key for n, key in re.findall(r"<li><b>(\d+)</b> ([^<>]+?): ", page)}
    assert used == set(listed)
    assert sorted(listed) == list(range(1, len(listed) + 1))
    assert "see refdb sources" not in page


def test_what_the_plan_says_is_on_the_sheet(page, planned):
    plan, verdict = planned
    words = " ".join("".join(read(page).words).split())
    for phase in plan.before:
        for line in phase.lines:
            assert " ".join(line.text.split()) in words
    for line in (*plan.between, *plan.after, *plan.times):
        assert " ".join(line.text.split()) in words
    for caution in plan.cautions:
        assert caution.text in words
    for amount in plan.amounts.rows:
        assert amount.what[1:] in words
    assert plan.packed.words in words
    assert verdict.sentence in words
    assert verdict.outcome[1:] in words
    assert "Fire a test tile" in words


def test_the_picture_tells_the_build(page, planned):
    plan, _ = planned
    description = re.search(r'<desc id="build-d">(.*?)</desc>', page)[1]
    for layer in plan.build:
        assert layer.label in description
    assert description.count("firing") == len(plan.build) - 1


def test_other_verdicts_have_their_word_and_mark(planned):
    plan, verdict = planned
    for outcome, mark in (("suits", "suits"), ("does not suit", "not"), ("cannot say", "unsure")):
        page = sheet(plan, replace(verdict, outcome=outcome, reasons=()))
        assert f'<use href="#m-{mark}"/>' in page
        assert f"{outcome[0].upper()}{outcome[1:]}</span>" in page
        read(page)


def test_sheet_metal_and_no_firing_print_too(opened):
    text = (
        '[piece]\nwidth = "3 cm"\nheight = "2 cm"\n[base]\nmetal = "copper-sheet"\nthickness = "0.8 mm"\n'
        '[[step]]\ndo = "clean"\n'
    )
    piece = parse_piece(text, opened)
    reader = read(sheet(plan_of(opened, piece), judge_piece(opened, piece)))
    assert "No step of the file fires the piece." in "".join(reader.words)


def test_stages_stand_on_the_sheet_of_a_glass_that_was_seen(planned, page):
    plan, _ = planned
    stages = [s for f in plan.firings for s in f.minutes.stages]
    assert stages
    words = " ".join(" ".join(read(page).words).split())
    assert "Colour and surface are the authority" in words
    for stage in stages:
        assert f"{stage.gloss.low:.1f}–{stage.gloss.high:.1f}" in words
        assert stage.by in words
    bare = tuple(replace(f, minutes=replace(f.minutes, stages=())) for f in plan.firings)
    assert "When each stage comes" not in sheet(replace(plan, firings=bare), planned[1])
