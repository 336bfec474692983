"""What a page tells is what the command tells: the same records in the same order, with the same figures."""

from __future__ import annotations

import json
import re
from urllib.parse import quote

import pytest
from browse_client import Asking, Outline


@pytest.fixture(scope="module")
def asking(store):
    found = Asking(store)
    yield found
    found.close()


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
