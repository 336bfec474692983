"""The handbook: its numbers are those of the store and of the limits, its equations those of the plate."""

from __future__ import annotations

import re
from collections import Counter
from html import unescape

import pytest
from browse_client import Asking

from refdb.browse.pages.handbook import PAGES
from refdb.judge import limits
from refdb.judge.evidence import evidence_of
from refdb.judge.rules import RULES
from refdb.science.sampling import SAMPLES

#: So many words are read in three minutes (Brysbaert, Journal of Memory and Language 109 (2019): 238 a minute).
MOST_WORDS = 3 * 238


@pytest.fixture(scope="module")
def view(answered_store):
    asking = Asking(answered_store)
    yield asking
    asking.close()


def words_of(body: str) -> str:
    main = re.sub(r"<(svg|details)\b.*?</\1>", " ", body[body.index("<main") : body.index("</main>")], flags=re.DOTALL)
    return " ".join(unescape(re.sub("<[^>]+>", " ", main)).replace("\u00a0", " ").split())


@pytest.mark.parametrize("path", [path for path, _, _ in PAGES])
def test_a_page_is_read_in_three_minutes_and_found_from_about(view, path):
    page = view.get(path)
    assert page.status == 200
    assert f'href="{path}"' in view.get("/about").body
    assert 100 < len(words_of(page.body).split()) <= MOST_WORDS
    ids = Counter(re.findall(r'\sid="([^"]+)"', page.body))
    assert [name for name, count in ids.items() if count > 1] == []


def test_the_verdict_page_says_the_limits_that_decide(view):
    told = words_of(view.get("/about/verdict").body)
    for share in (limits.HOLDS_BELOW, limits.RISK_BELOW, limits.REFUSED_FROM):
        assert f"{share * 100:.0f} %" in told
    assert f"{SAMPLES} draws" in told
    for key in ("gap", "release"):
        assert RULES[key].limit_words in told


def test_the_pair_that_is_shown_has_the_shares_of_its_verdict(view, refdb):
    import json

    found = json.loads(refdb("suits", "clear-hard-lead-free", "copper-sheet", "--json").out)
    told = re.search(
        r"(\d+) % of the draws suit, (\d+) % want care and (\d+) % do not hold",
        words_of(view.get("/about/verdict").body),
    )
    assert told
    assert sum(int(n) for n in told.groups()) in (99, 100, 101)
    holds = int(told[1]) + int(told[2])
    assert holds / 100 == pytest.approx(found["confidence"], abs=0.02) or found["verdict"] != "suits"


def test_grades_are_counted_and_add_up(view, ref):
    body = view.get("/about/grounds").body
    counts = Counter(
        one.grade for g in ref.materials("glass") for m in ref.materials("metal") if (one := evidence_of([g], m))
    )
    for grade, count in counts.items():
        assert re.search(rf'<th scope="row">{grade}</th><td>[^<]*</td><td class="n">{count:,}</td>', body), grade
    assert f"Of {len(ref.materials('glass')) * len(ref.materials('metal')):,} verdicts" in body
    preferred = ref.rows("SELECT count(*) AS n FROM property_values WHERE preferred = 1")[0]["n"]
    assert f"Of the {preferred:,} preferred ones" in words_of(body)


def test_the_gaps_are_those_of_the_store(view, ref):
    told = words_of(view.get("/about/gaps").body)
    seen = {r["material"] for r in ref.rows("SELECT DISTINCT material FROM observed_firings")}
    glasses = ref.materials("glass")
    assert f"For {sum(g.key not in seen for g in glasses)} of the {len(glasses)} glasses" in told
    without = sum(g.value("expansion") is None for g in glasses)
    assert f"Thermal expansion {without}" in told
