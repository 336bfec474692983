"""The sheet on paper, A4 and letter: nothing beyond the margins, no row cut, heads repeated, pages filled."""

from __future__ import annotations

import base64
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from chromium_pipe import PROGRAM, Browser

import refdb.plan
from refdb.judge.piece.verdict import judge_piece
from refdb.plan.packing import container_of
from refdb.plan.piecefile import parse_piece
from refdb.plan.schedule import plan_of
from refdb.plan.sheet import sheet
from refdb.store.reference import Reference

PDFTOTEXT = shutil.which("pdftotext")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(PROGRAM is None or PDFTOTEXT is None, reason="needs chromium and pdftotext"),
]
#: Width and height of the paper [inch].
PAPERS = {"A4": (8.27, 11.69), "letter": (8.5, 11.0)}
#: 15 mm in points, less what rounding takes.
MARGIN_PT = 15 / 25.4 * 72 - 3
_WORD = re.compile(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>')
_PAGE = re.compile(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', re.DOTALL)


@pytest.fixture(scope="module")
def html(store, tmp_path_factory) -> Path:
    text = (Path(refdb.plan.__file__).parent / "new_piece.toml").read_text(encoding="utf-8")
    target = tmp_path_factory.mktemp("sheet") / "moth.html"
    with Reference(store) as ref:
        piece = parse_piece(text, ref)
        page = sheet(plan_of(ref, piece, container_of("200x150x80 mm")), judge_piece(ref, piece), "moth.toml")
    target.write_text(page, encoding="utf-8")
    return target


@pytest.fixture(scope="module")
def printed(html) -> dict[str, list[tuple[float, float, list[tuple[float, ...]], list[str]]]]:
    """Of each paper its pages: width, height, boxes of the words [pt], and the words."""
    found = {}
    with Browser() as browser:
        browser.open(html.as_uri())
        for paper, (width, height) in PAPERS.items():
            pdf = html.with_name(f"{paper}.pdf")
            told = browser.send("Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=True)
            pdf.write_bytes(base64.b64decode(told["data"]))
            boxes = subprocess.run(
                [str(PDFTOTEXT), "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True, timeout=60
            ).stdout
            found[paper] = [
                (
                    float(w),
                    float(h),
                    [tuple(map(float, m.groups()[:4])) for m in _WORD.finditer(inner)],
                    [m[5] for m in _WORD.finditer(inner)],
                )
                for w, h, inner in _PAGE.findall(boxes)
            ]
    return found


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_lies_beyond_the_margins(printed, paper):
    for width, height, boxes, _ in printed[paper]:
        for left, top, right, bottom in boxes:
            assert left >= MARGIN_PT
            assert right <= width - MARGIN_PT
            assert top >= MARGIN_PT - 6
            assert bottom <= height - MARGIN_PT + 6


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_but_the_last_is_filled(printed, paper):
    """The lowest word of a page stands in its lowest fifth."""
    pages = printed[paper]
    assert 2 <= len(pages) <= 4
    for _, height, boxes, _ in pages[:-1]:
        assert max(bottom for _, _, _, bottom in boxes) > 0.8 * height


@pytest.mark.parametrize("paper", PAPERS)
def test_the_head_of_the_kiln_table_stands_above_its_rows_on_every_page(printed, paper):
    """Each firing's setting is on one page with the head of its column; all five are printed once."""
    settings = ["805", "805", "780", "795", "785"]
    seen = []
    for _, _, boxes, words in printed[paper]:
        heads = [box for box, word in zip(boxes, words, strict=True) if word == "yours"]
        # 1436 °F is a setting of a clay schedule as well, on an earlier page.
        marks = [
            (box, word)
            for box, word in zip(boxes, words, strict=True)
            if word in ("1481", "1463", "1445") or (word == "1436" and heads)
        ]
        if not marks:
            continue
        assert len(heads) == 1
        assert all(box[1] > heads[0][1] for box, _ in marks)
        seen += [word for _, word in marks]
    assert seen == [f"{float(c) * 1.8 + 32:.0f}" for c in settings]


@pytest.mark.parametrize("paper", PAPERS)
def test_no_row_is_cut(printed, paper):
    """The words of what goes in last stand on the page of their setting, all of them below the row before."""
    last = ["one", "spot", "on", "each"]
    for _, _, _, words in printed[paper]:
        if "1445" in words:
            text = " ".join(words)
            assert " ".join(last) in text
            assert "75" in words
            assert "second," in words
            return
    raise AssertionError("the last firing is on no page")
