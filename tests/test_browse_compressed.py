"""Over a network pages go compressed to who takes them so; here, and where a secret may stand, as they are."""

from __future__ import annotations

import pytest
from browse_client import Asking

from refdb.browse.server import compressed

VERDICT = "/suits?glass=clear-hard-lead-free&metal=copper-sheet"


@pytest.fixture(scope="module")
def afar(store):
    found = Asking(store, local=False)
    yield found
    found.close()


def test_whoever_takes_it_gets_the_same_page_in_a_third_of_the_bytes(afar):
    plain = afar.get(VERDICT, **{"accept-encoding": "identity"})
    packed = afar.get(VERDICT, **{"accept-encoding": "br, gzip;q=0.8"})
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    assert "accept-encoding" in packed.headers["vary"]
    assert packed.body == plain.body
    assert int(packed.headers["content-length"]) < len(plain.body.encode()) / 3
    assert packed.headers["content-security-policy"] == plain.headers["content-security-policy"]


@pytest.mark.parametrize("page", ["/static/refdb.css", "/reference/contacts?_size=max", "/reference/sources.json"])
def test_tables_and_files_go_so_too(afar, page):
    assert afar.get(page, **{"accept-encoding": "gzip"}).headers["content-encoding"] == "gzip"


@pytest.mark.parametrize("takes", ["", "identity", "br", "gzip;q=0", "xgzip"])
def test_whoever_does_not_take_it_gets_it_plain(afar, takes):
    assert "content-encoding" not in afar.get("/about", **{"accept-encoding": takes}).headers


def test_faults_the_shelf_and_this_computer_are_left_alone(afar, store):
    for page in ("/nowhere", "/shelf"):
        assert "content-encoding" not in afar.get(page, **{"accept-encoding": "gzip"}).headers
    here = Asking(store)
    assert "content-encoding" not in here.get("/about", **{"accept-encoding": "gzip"}).headers
    here.close()


def test_what_is_remembered_stays_bounded():
    packing = compressed.Compressed(None)
    for n in range(40):
        packing._compressed(f"{n} ".encode() * 60_000)
    assert 0 < packing._bytes <= compressed.MOST_REMEMBERED
    assert packing._bytes == sum(len(a) + len(b) for a, b in packing._done.items())
