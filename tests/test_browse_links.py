"""Every link of the site leads somewhere: each address answers, and each part of a page that is named is there."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from urllib.parse import urljoin, urlsplit

import pytest
from browse_client import Asking, Outline, write_shelf

from refdb.browse.server.writing import Writer

pytestmark = pytest.mark.slow
#: Of addresses that differ only in what stands behind a name, so many are opened.
MOST_ALIKE = 5
#: What a formula is made of stands alone with a slash.
STANDS_ALONE = "<mspace/> closes itself"


def kind_of(address: str) -> str:
    """An address without what differs from one of its like to another."""
    bare = re.sub(r"(?<=/material/).*|(?<=/practice/).*|(?<=/workshop/)[^?]*|(?<=/reference/)[^?]*", "", address)
    return re.sub(r"=[^&]*", "=", bare)


@pytest.fixture(scope="module", params=["the store alone", "with a shelf that is written"])
def asking(request, store, tmp_path_factory):
    path = None
    if request.param != "the store alone":
        path = tmp_path_factory.mktemp("own") / "shelf.db"
        write_shelf(
            path,
            store,
            ("add", "glass", "--name", "Jar 12", "--like", "opal-lead-free", "--basis", "guess"),
            ("add", "metal", "--name", "Thin copper", "--like", "copper-sheet", "--basis", "guess"),
            ("tile", "my:jar-12", "copper-sheet", "--outcome", "crazed"),
        )
    opened = Asking(store, workshop=path, writer=Writer(path) if path else None, sql=path is not None)
    yield opened
    opened.application.refdb_site.leave_workshop()
    opened.close()


def test_no_link_of_the_site_is_dead_and_no_id_stands_twice(asking):
    ids: dict[str, set[str]] = {}
    named = defaultdict(set)
    waiting, known, alike = [("/", "")], {"/"}, Counter()
    faults = []
    while waiting:
        address, via = waiting.pop(0)
        alike[kind_of(address)] += 1
        if alike[kind_of(address)] > MOST_ALIKE:
            continue
        answer = asking.get(address)
        if answer.status in (301, 302, 303):
            waiting.append((urlsplit(answer.headers["location"])._replace(scheme="", netloc="").geturl(), address))
            continue
        if answer.status != 200:
            faults.append((address, answer.status, f"on {via}"))
            continue
        if "text/html" not in answer.headers.get("content-type", ""):
            continue
        outline = Outline(answer.body)
        ids[address] = set(outline.ids)
        faults += [(address, fault) for fault in outline.faults if fault != STANDS_ALONE]
        faults += [(address, "twice", name) for name, times in Counter(outline.ids).items() if times > 1]
        for link in outline.links:
            target = urlsplit(urljoin(f"http://here{address}", link))
            if target.scheme != "http" or target.netloc != "here":
                continue
            to = target.path + (f"?{target.query}" if target.query else "")
            if target.fragment:
                named[to].add((target.fragment, address))
            if to not in known:
                known.add(to)
                waiting.append((to, address))
    for to, parts in named.items():
        faults += [(to, "has no part", part, f"on {via}") for part, via in parts if to in ids and part not in ids[to]]
    assert faults == []
    assert len(ids) > 150
