"""Pages speak of what stands on them: no option and no command, but where they say how to go on at the terminal."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from browse_client import Asking, Outline, write_shelf

#: Pages that no link leads to: what cannot be answered, and answers to what people type.
STARTS = (
    "/",
    "/nosuch",
    "/find?q=zzzz",
    "/find?q=",
    "/faults?words=qqqq",
    "/practice?words=qqqq",
    "/cautions?material=lead",
    "/suits?glass=yellow-opaque-antimony&metal=copper-sheet",
    "/suits?glass=window-soda-lime&metal=copper-clay&front=0.5+mm&back=0+mm",
    "/suits?glass=nosuch&metal=copper-sheet",
    "/suits?glass=opal-lead-free&metal=copper-sheet&front=thick",
    "/clears?leaf=gold-foil-24k&metal=copper-sheet",
    "/clears?leaf=nosuch&metal=copper-sheet",
    "/piece?text=a",
    "/piece?example=moth",
    "/workshop",
)
#: Of addresses that differ only in what stands behind the question mark, or in the key of a record.
MOST_ALIKE = 5
COMMAND = re.compile(
    r"(?<![\w-])--[a-z][\w-]*|refdb (?:mine|build|find|show|suits|piece|metals|glasses|leaf|sources)\b"
)


def spoken(body: str) -> str:
    """The words of a page, without a piece file on it and what it says of the terminal."""
    body = re.sub(r"<textarea.*?</textarea>", "", body, flags=re.S)
    return Outline(re.sub(r"At the terminal.*?(?=</p>)", "", body, flags=re.S)).text


def walked(asking: Asking) -> dict[str, str]:
    """The words of every page that links lead to, but only some of many that are alike."""
    found: dict[str, str] = {}
    alike: Counter[str] = Counter()
    waiting = list(STARTS)
    while waiting:
        address = waiting.pop(0).partition("#")[0]
        kind = re.sub(r"\?.*|(?<=/material/).*|(?<=/reference/).*|(?<=/workshop/).*", "", address)
        # The sheet is the paper that the command prints, to the byte.
        if address in found or kind == "/piece/sheet" or not address.startswith("/") or alike[kind] >= MOST_ALIKE:
            continue
        alike[kind] += 1
        answer = asking.get(address)
        if "text/html" not in answer.headers.get("content-type", ""):
            continue
        found[address] = spoken(answer.body)
        waiting += Outline(answer.body).links
    return found


@pytest.fixture(scope="module", params=["the store alone", "with a shelf", "a shelf that cannot be read"])
def pages(request, store, tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "shelf.db"
    if request.param == "with a shelf":
        write_shelf(
            path,
            store,
            ("add", "glass", "--name", "Jar 12", "--like", "opal-lead-free", "--basis", "guess"),
            ("add", "metal", "--name", "Thin copper", "--like", "copper-sheet", "--basis", "guess"),
            ("tile", "my:jar-12", "copper-sheet", "--outcome", "sound", "--metal-thickness", "0.8mm"),
        )
    elif request.param == "a shelf that cannot be read":
        path.write_bytes(b"no workshop" * 1000)
    asking = Asking(store, workshop=path)
    yield walked(asking)
    asking.close()


def test_no_page_names_an_option_or_a_command(pages):
    assert len(pages) > 50
    named = {address: found[0] for address, text in pages.items() if (found := COMMAND.search(text))}
    assert named == {}
