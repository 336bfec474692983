"""Names in addresses of the browse view: taken as the command takes them, and told with the other meanings as links."""

from __future__ import annotations

import re

import pytest
from browse_client import Asking, Outline

from refdb.browse.server.query import address


@pytest.fixture(scope="module")
def asking(answered_store):
    client = Asking(answered_store)
    yield client
    client.close()


def links_of(outline):
    return {a["href"] for a in outline.all("a") if "href" in a}


def test_a_page_by_names_is_that_by_keys_and_says_so(asking):
    page = asking.get(address("/suits", glass="hard clear", metal="copper"))
    assert page.status == 200
    outline = Outline(page.body)
    assert "Lead-free hard clear on copper sheet" in outline.text
    assert '"hard clear" is taken as lead-free hard clear; also: leaded hard clear.' in outline.text
    assert address("/suits", glass="clear-hard-leaded", metal="copper") in links_of(outline)
    plain = Outline(asking.get(address("/suits", glass="clear-hard-lead-free", metal="copper-sheet")).body)
    assert "is taken as" not in plain.text
    assert plain.text in outline.text or outline.text.endswith(plain.text[-2000:])


@pytest.mark.parametrize(
    ("path", "told"),
    [
        (address("/clears", leaf="gold foil", metal="copper"), '"gold foil" is taken as 24 carat gold foil'),
        (address("/clears", leaf="gold foil", metal="copper", under="bare"), "laid on the bare metal"),
        (address("/builds", metal="copper clay"), '"copper clay" is taken as carbon-fired copper clay'),
        (address("/suits", metal="steel"), '"steel" is taken as low-carbon enamelling steel'),
        (address("/suits", glass="flux", metal="18 gauge copper"), "1.02 mm"),
        ("/material/hard%20clear", "Lead-free hard clear"),
    ],
)
def test_names_are_taken_on_every_page_of_a_question(asking, path, told):
    page = asking.get(path)
    assert page.status == 200
    assert told in Outline(page.body).text.replace("\u00a0", " ")


def test_what_may_mean_several_things_is_asked_back_with_links(asking):
    page = asking.get(address("/suits", glass="turquoise", metal="copper-sheet"))
    assert page.status == 400
    outline = Outline(page.body)
    for key in ("turquoise-transparent-lead-free", "turquoise-opaque-lead-free"):
        again = address("/suits", glass=key, metal="copper-sheet")
        assert again in links_of(outline)
        assert asking.get(again).status == 200


def test_what_means_nothing_is_not_found(asking):
    for path in (
        address("/suits", glass="lead amber", metal="copper"),
        address("/suits", glass="nonsense", metal="copper"),
        "/material/nonsense",
    ):
        assert asking.get(path).status == 404
    mixed = address("/suits", glass="hard clear", metal="18 gauge copper", metal_thickness="0.8 mm")
    assert asking.get(mixed).status == 400
    assert asking.get(address("/clears", leaf="gold foil", metal="18 gauge copper")).status == 400


def test_both_ends_of_a_kiln_setting_are_one_property(asking):
    """The rows of hard enamels: the low end computed, the high end of practitioners, whose low end is a rival."""
    body = asking.get("/material/clear-hard-lead-free").body
    part = body.partition("Kiln setting, °C</th>")[2].partition("</tbody>")[0]
    assert [" ".join(re.sub(r"<[^>]+>", " ", v).split()) for v in re.findall(r'class="n v">(.*?)</td>', part)] == [
        "from 800",
        "816 to 871",
        "840 to 900",
    ]
    assert "high end preferred" in part
    assert "low end, °C" not in body
