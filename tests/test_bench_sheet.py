"""The two pages for the kiln's side: what stands on them, and that on paper they are two."""

from __future__ import annotations

import base64
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from browse_client import Asking, Outline
from chromium_pipe import PROGRAM, Browser

import refdb.plan
from refdb.judge.piece.verdict import judge_piece
from refdb.plan.bench_sheet import bench_sheet, hottest_c
from refdb.plan.piecefile import parse_piece
from refdb.plan.schedule import plan_of
from refdb.store.reference import Reference

ROOM = Path(refdb.plan.__file__).parent
FILES = (ROOM / "new_piece.toml", *sorted((ROOM / "templates").glob("*.toml")))
PAPERS = {"A4": (8.27, 11.69), "letter": (8.5, 11.0)}
PDFINFO = shutil.which("pdfinfo")


def sheet_of(store, text):
    with Reference(store) as ref:
        piece = parse_piece(text, ref)
        plan, verdict = plan_of(ref, piece), judge_piece(ref, piece)
    return plan, verdict, bench_sheet(plan, verdict, whole="/piece?x=1")


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_every_firing_stands_on_it_with_its_heat_and_its_sign(store, file):
    plan, verdict, page = sheet_of(store, file.read_text(encoding="utf-8"))
    outline = Outline(page)
    assert outline.faults == []
    assert verdict.sentence in outline.text.replace("\u00a0", " ")
    rows = re.findall(r"<tr><td><input.*?</tr>", page, re.DOTALL)
    assert len(rows) == len(plan.firings)
    for row, firing in zip(rows, plan.firings, strict=True):
        words = Outline(f"<table>{row}</table>").text.replace("\u00a0", " ")
        assert f"{firing.kiln_c:.0f} °C" in words
        assert firing.minutes.words in words
        assert firing.right[0].text[1:] in words
        for what in firing.what:
            assert what[1:] in words
    # Nothing of commands, scripts or other addresses.
    assert "refdb " not in outline.text
    assert not outline.all("script")
    assert set(outline.links) == {"/piece?x=1"}
    boxes = [g["id"] for g in outline.all("input")]
    assert len(boxes) == len(set(boxes))
    assert {g["for"] for g in outline.all("label")} == set(boxes)


def test_thick_glass_is_sent_to_the_closed_kiln(store):
    text = FILES[0].read_text(encoding="utf-8")
    thin, thick = (sheet_of(store, t)[2] for t in (text, text.replace('"0.12 mm"', '"0.9 mm"')))
    air, kiln = "After each firing still air", "Cool it in the closed kiln"
    assert (air in thin, kiln in thin) == (True, False)
    assert (air in thick, kiln in thick) == (False, True)


def test_no_firing_is_hotter_than_metal_and_joins_stand(store):
    plan, verdict, page = sheet_of(store, FILES[0].read_text(encoding="utf-8"))
    hottest, what = hottest_c(plan.metal, verdict)
    # The pin of the example is soldered with a solder that begins to melt at 840 °C, and 30 K are left.
    assert (hottest, what) == (810.0, "the solder begins to let go")
    assert "No firing above 810 °C." in Outline(page).text
    bare = FILES[0].read_text(encoding="utf-8").replace('solder = "gold-solder-22-ct"', 'solder = "rivet"')
    plan, verdict, _ = sheet_of(store, bare)
    solidus = plan.metal.band("solidus")
    hottest, what = hottest_c(plan.metal, verdict)
    assert hottest == solidus.low - 15.0
    assert re.fullmatch("fine silver clay.* begins to soften", what)


def test_every_text_is_escaped(store):
    text = FILES[0].read_text(encoding="utf-8").replace("Moth brooch", "<script>alert(1)</script>")
    _, _, page = sheet_of(store, text.replace("the wings, laid wet", "<b>wet</b>"))
    assert "<script" not in page
    assert "<b>wet" not in page


def test_the_page_of_a_piece_leads_to_it(store):
    asking = Asking(store)
    page = asking.get("/piece?example=moth")
    (link,) = [x for x in Outline(page.body).links if x.startswith("/piece/bench?")]
    answer = asking.get(link)
    assert answer.status == 200
    assert "side 2 of 2" in Outline(answer.body).text
    assert asking.get("/static/bench_sheet.css").status == 200
    assert asking.get("/piece/bench").status == 400
    asking.close()


@pytest.mark.browser
@pytest.mark.skipif(PROGRAM is None or PDFINFO is None, reason="needs chromium and pdfinfo")
def test_it_prints_on_two_pages_of_either_paper(store, tmp_path):
    with Browser() as browser:
        for file in FILES:
            html = tmp_path / f"{file.stem}.html"
            html.write_text(sheet_of(store, file.read_text(encoding="utf-8"))[2], encoding="utf-8")
            browser.open(html.as_uri())
            for paper, (width, height) in PAPERS.items():
                pdf = tmp_path / f"{file.stem}-{paper}.pdf"
                told = browser.send(
                    "Page.printToPDF",
                    paperWidth=width,
                    paperHeight=height,
                    printBackground=True,
                    preferCSSPageSize=False,
                )
                pdf.write_bytes(base64.b64decode(told["data"]))
                said = subprocess.run([str(PDFINFO), str(pdf)], capture_output=True, text=True, check=True).stdout
                assert re.search(r"Pages:\s+2\n", said), (file.stem, paper, said)
