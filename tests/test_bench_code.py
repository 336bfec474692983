"""The square code on the bench sheet: it is the library's, a camera's software reads it, and it leads to the piece.

Yardsticks: segno's own matrix for the address, and, where it is installed, the decoder zxing-cpp.
"""

from __future__ import annotations

import re
import tomllib
from urllib.parse import urlencode

import pytest
from browse_client import Asking

from refdb.browse.pages.piece import example
from refdb.browse.server.packed import packed, unpacked, without_remarks
from refdb.browse.server.square_code import FINEST_VERSION, code_rows
from refdb.pictures.square import MODULE_MM, QUIET

THERE = "http://192.0.2.7:8733"
#: A camera near enough to fill its picture reads modules of this side (common practice) [mm].
LEAST_MM = 0.35


@pytest.fixture(scope="module")
def view(answered_store):
    asking = Asking(answered_store)
    asking.application.refdb_site.network_address = THERE
    yield asking
    asking.close()


def drawn(page: str) -> list[list[bool]]:
    """The modules of the code on a page, read from its path; light ones around it cut off."""
    (svg,) = re.findall(r'<svg class="code".*?</svg>', page)
    side = int(re.search(r'viewBox="0 0 (\d+) ', svg)[1])
    assert float(re.search(r'width="([\d.]+)mm"', svg)[1]) == pytest.approx(side * MODULE_MM, abs=0.06)
    field = [[False] * side for _ in range(side)]
    for x, y, wide in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", svg):
        for n in range(int(wide)):
            field[int(y)][int(x) + n] = True
    assert not any(any(row) for row in field[:QUIET] + field[-QUIET:])
    return [row[QUIET:-QUIET] for row in field[QUIET:-QUIET]]


def bench(view: Asking, **query: str) -> str:
    answer = view.get(f"/piece/bench?{urlencode(query)}")
    assert answer.status == 200
    return answer.body


@pytest.mark.parametrize("how", ["example", "p", "text"])
def test_the_code_leads_back_to_the_piece(view, how):
    segno = pytest.importorskip("segno")
    query = {"example": {"example": "moth"}, "p": {"p": packed(example())}, "text": {"text": example()}}[how]
    way = "example=moth" if how == "example" else f"p={packed(without_remarks(example()))}"
    modules = drawn(bench(view, **query))
    made = segno.make(f"{THERE}/piece?{way}", error="l", micro=False, boost_error=True)
    assert modules == [[bool(x) for x in row] for row in made.matrix]
    assert made.version <= FINEST_VERSION
    assert MODULE_MM >= LEAST_MM
    found = view.get(f"/piece?{way}").body
    (title,) = re.findall(r"<h1.*?</h1>", view.get(f"/piece?{urlencode(query)}").body, re.DOTALL)
    assert title in found


def test_a_decoder_reads_it(view):
    import numpy as np
    import zxingcpp as reader

    rows = np.pad(np.array(drawn(bench(view, p=packed(example()))), dtype=bool), QUIET)
    picture = np.where(np.kron(rows, np.ones((3, 3), dtype=bool)), 0, 255).astype("uint8")
    (found,) = reader.read_barcodes(picture)
    assert found.text == f"{THERE}/piece?p={packed(without_remarks(example()))}"


def test_there_is_none_where_nobody_else_can_open_it(answered_store):
    asking = Asking(answered_store)
    page = bench(asking, example="moth")
    asking.close()
    assert 'class="code"' not in page
    assert "on a phone" not in page


def test_a_piece_too_long_for_a_code_has_none_and_still_its_sheet():
    assert code_rows("x" * 1200, "l", FINEST_VERSION) != []
    assert code_rows("x" * 1300, "l", FINEST_VERSION) == []
    assert code_rows("x" * 6000, "l", FINEST_VERSION) == []


@pytest.mark.parametrize(
    "text",
    [
        example(),
        'title = "a # b" # said\n\n# all\nn = 1\n',
        'title = """\n# kept\n\nthis\n"""\n',
        "not = = toml # at all",
        'a = "#"\n',
    ],
)
def test_what_is_left_without_remarks_means_the_same(text):
    short = without_remarks(text)
    assert len(short) <= len(text)
    assert unpacked(packed(short)) == short
    try:
        meant = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assert short == text
    else:
        assert tomllib.loads(short) == meant


def test_remarks_are_most_of_the_example():
    """So that its code has modules enough to be read: shorter by more than half."""
    assert len(packed(without_remarks(example()))) < len(packed(example())) / 2
