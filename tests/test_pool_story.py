"""The pool as two studios would meet it, from the first tile to taking a file out again, on a screen of 80 by 24."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from test_pool_coverage import CLASS

#: Metal and coat [mm], and what each of three jars of a low-lying class showed: thin metal crazes, thick holds.
TILES = (("0.5mm", "0.2mm", "sound"), ("0.4mm", "0.3mm", "crazed"), ("0.4mm", "0.2mm", "crazed"),
         ("0.6mm", "0.3mm", "crazed"), ("0.8mm", "0.2mm", "sound"))  # fmt: skip
ASKED = ("suits", CLASS, "copper-sheet", "--metal-thickness", "0.5mm", "--front", "0.2mm", "--back", "0")


@pytest.fixture
def studios(refdb, tmp_path):
    """Two workshops with three jars each, and the file that each shares."""
    files = []
    for name in ("north", "south"):
        here = ("--workshop", str(tmp_path / name / "workshop.db"))
        for number in range(3):
            jar = f"Jar {name} {number}"
            refdb(*here, "mine", "add", "glass", "--name", jar, "--like", CLASS, "--basis", "guess")
            for metal, coat, outcome in TILES:
                build = ("--metal-thickness", metal, "--front", coat, "--back", "0", "--outcome", outcome)
                ran = refdb(*here, "mine", "tile", f"my:jar-{name}-{number}", "copper-sheet", *build)
                assert ran.status == 0, ran.err
        files.append(str(tmp_path / f"{name}.csv"))
        for yes in ((), ("--yes",)):
            fits(refdb(*here, "mine", "share", files[-1], *yes))
    return files


def fits(ran, status=(0,)):
    """What was said, on one screen; the long names of test folders count for nothing."""
    assert ran.status in status, ran.err
    lines = [re.sub(r"/\S+/", "", line) for line in (ran.out + ran.err).splitlines()]
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    return ran.out


def test_two_studios_share_learn_use_and_take_back(refdb, tmp_path, studios):
    """Nothing of either studio is named in what the other gets, and what is taken back leaves no trace."""
    ours, theirs = studios
    here = ("--workshop", str(tmp_path / "north" / "workshop.db"))
    assert "north" not in Path(ours).read_text("utf-8")

    def asked(*more):
        return json.loads(refdb(*here, *ASKED, *more, "--json").out)

    before = asked()
    fits(refdb(*here, "pool", "add", ours))
    alone = json.loads(refdb(*here, "pool", "learn", "--json").out)["rows"][0]
    assert "15 good" in fits(refdb(*here, "pool", "add", theirs, "--check"))
    fits(refdb(*here, "pool", "add", theirs))
    assert "south.csv" in fits(refdb(*here, "pool", "list"))
    for words in ((), (CLASS,)):
        assert "ire next" in fits(refdb(*here, "pool", "learn", *words))
    both = json.loads(refdb(*here, "pool", "learn", "--json").out)["rows"][0]
    assert (alone["studios"], both["studios"]) == (1, 2)
    assert both["taught"]
    width = [one["mean"]["high"] - one["mean"]["low"] for one in (alone, both)]
    assert width[1] < width[0]
    once = asked("--pool")
    fits(refdb(*here, *ASKED, "--pool"), (0, 1, 5))
    assert once["evidence"]["words"] == "pooled tiles (2 studios, 30 tiles)"
    assert asked() == before
    fits(refdb(*here, "pool", "use"))
    assert asked() == once
    fits(refdb(*here, "pool", "remove", "2"))
    assert json.loads(refdb(*here, "pool", "learn", "--json").out)["rows"][0] == alone
    fits(refdb(*here, "pool", "unuse"))
    assert asked() == before
