"""How heavy a page is as it goes over the line: compressed, with the style sheet and the script that it asks for."""

from __future__ import annotations

import gzip
import re

import pytest
from browse_client import Asking
from test_browse_lengths import PAGES

pytestmark = pytest.mark.slow

#: Bytes, compressed as web servers do it; and of the few pages that hold a whole table.
MOST = 42_000
MOST_OF = {"/practice": 80_000, "/faults": 65_000, "/reference/property_values?_size=max": 56_000}
#: Beside those whose length is held: the long ones, and the longest of the tables.
MORE = (
    "/grid",
    "/grid?show=all",
    "/pool",
    "/nowhere",
    "/reference",
    "/reference/property_values?_size=max",
    "/reference/contacts?_size=max",
)


@pytest.fixture(scope="module")
def asking(answered_store):
    found = Asking(answered_store)
    yield found
    found.close()


def weight(text: str) -> int:
    return len(gzip.compress(text.encode(), 6))


@pytest.mark.parametrize("page", [*PAGES, *MORE])
def test_a_page_is_light(page, asking):
    body = asking.get(page).body
    files = {*re.findall(r'<link rel="stylesheet" href="([^"]+)"', body), *re.findall(r'<script src="([^"]+)"', body)}
    assert files
    assert weight(body) + sum(weight(asking.get(file).body) for file in files) <= MOST_OF.get(page, MOST)
