"""Every pair of the store, and every page with every key, answers: nothing in the data may meet a hole in the code."""

import json
import re
from html import unescape
from itertools import product
from urllib.parse import quote

import pytest
from browse_client import as_typed

from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.piece.clear_over_leaf import clears
from refdb.judge.piece.steps import Base, Piece, Step
from refdb.judge.piece.verdict import judge_pieces
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE
from refdb.quantities import Band

OUTCOMES = {SUITS, CARE, NOT, UNSURE}
THIN = Band.exact(0.2e-3)


def keys(ref, kind):
    found = [m.key for m in ref.materials(kind)]
    assert len(found) > 20
    return found


def coated(metal, glass, coats):
    """A flat piece with one coat, or with that and one more on it and one behind."""
    steps = []
    for face in ("front", "back", "front")[: 1 if coats == 1 else 3]:
        steps += [
            Step(len(steps) + 1, "clean", face=face),
            Step(len(steps) + 2, "coat", face=face, glass=glass, thickness_m=THIN),
            Step(len(steps) + 3, "fire", kiln_c=800.0, minutes=3.0),
        ]
    return Piece("every pair", 0.03, 0.03, Base(metal, Band.exact(0.8e-3)), tuple(steps))


@pytest.mark.parametrize(
    ("coats", "each"), [(1, 7), pytest.param(1, 1, marks=pytest.mark.slow), pytest.param(2, 1, marks=pytest.mark.slow)]
)
def test_every_glass_on_every_metal_is_judged_as_a_piece(ref, coats, each):
    """Each seventh pair, in which every glass and every metal comes up, and all of them where there is time."""
    pairs = list(product(keys(ref, "metal"), keys(ref, "glass")))[::each]
    assert [{k for k, _ in pairs}, {k for _, k in pairs}] == [set(keys(ref, kind)) for kind in ("metal", "glass")]
    verdicts = judge_pieces(ref, [coated(metal, glass, coats) for metal, glass in pairs])
    assert len(verdicts) == len(pairs)
    for (metal, glass), verdict in zip(pairs, verdicts, strict=True):
        assert verdict.outcome in OUTCOMES
        assert json.dumps(verdict.as_dict(), allow_nan=False)
        assert verdict.reasons or verdict.missing, (metal, glass)
        assert all(t.why and t.limit and t.title for t in verdict.told)


def test_every_glass_on_every_metal_is_judged_as_a_question(ref):
    for metal, glass in product(keys(ref, "metal"), keys(ref, "glass")):
        verdict = suits(ref, glass, metal)
        assert verdict.outcome in OUTCOMES
        assert json.dumps(verdict.as_dict(), allow_nan=False)


def agreeing(ref, asking, leaf, metal):
    """The command's rows, once the page and the command it prints are seen to agree with them."""
    ranked = clears(ref, leaf, metal)
    answer = asking.get(f"/clears?leaf={leaf}&metal={quote(metal)}")
    assert answer.status == 200, (leaf, metal)
    rows = re.findall(r"<tr[^>]*>(.*?)</tr>", answer.body, re.S)
    order = [key for row in rows for key in re.findall(r'href="/material/([^"]+)"', row)[:1]]
    order = [key for key in order if key in {r.glass.key for r in ranked}]
    assert order == [r.glass.key for r in ranked], (leaf, metal)
    words = [w.lower() for w in re.findall(r"suits with care|does not suit|cannot say|suits", answer.body.lower())]
    assert {r.verdict.outcome for r in ranked} <= set(words)
    assert f"refdb clears {leaf} --on {metal}<" in answer.body.replace("</code>", "<").replace("</kbd>", "<")
    return ranked


@pytest.mark.parametrize(
    ("leaf", "metal"),
    [
        ("gold-foil-24k", "sterling-sheet"),
        ("gold-foil-24k", "aluminium-sheet"),
        ("fine-silver-foil", "copper-sheet"),
        ("tin-leaf", "titanium-sheet"),
        ("white-gold-leaf-12k", "brass-70-30"),
        ("paillons", "silver-deoxidised"),
    ],
)
def test_the_page_of_clears_ranks_as_the_command_it_prints(ref, asking, leaf, metal):
    agreeing(ref, asking, leaf, metal)


@pytest.mark.slow
@pytest.mark.parametrize("part", range(4))
def test_every_leaf_on_every_metal_is_ranked_alike_by_page_and_command(ref, asking, part):
    leaves = keys(ref, "leaf")[part::4]
    assert len(leaves) >= 5
    for leaf, metal in product(leaves, keys(ref, "metal")):
        assert all(r.verdict.outcome in OUTCOMES for r in agreeing(ref, asking, leaf, metal))


def heading(body):
    """The text of a page's heading."""
    return unescape(re.sub(r"<[^>]+>", "", re.search(r"<h1[^>]*>(.*?)</h1>", body, re.S)[1])).strip()


def pages_of_keys(ref):
    """Addresses that name a record, each with what its page must say of it."""
    for kind in ("metal", "glass", "leaf"):
        for material in ref.materials(kind):
            yield f"/material/{material.key}", material.label
            yield f"/cautions?material={material.key}", material.label
            yield f"/find?q={quote(material.label)}", material.label
    for metal in ref.materials("metal"):
        yield f"/suits?glass=clear-hard-lead-free&metal={metal.key}", metal.label
    for glass in ref.materials("glass"):
        yield f"/suits?glass={glass.key}&metal=fine-silver-sheet", glass.label
    for source in ref.sources():
        yield f"/sources?key={source.key}", source.citation[:25]


def test_every_page_with_every_key_says_what_it_is_about(ref, asking):
    for address, words in pages_of_keys(ref):
        answer = asking.get(address)
        assert answer.status == 200, address
        assert heading(answer.body), address
        told = as_typed(unescape(re.sub(r"<[^>]+>", "", answer.body))).lower()
        assert words.lower() in told, (address, words)


def test_a_failure_of_the_program_is_one_line_and_no_verdict(refdb, monkeypatch):
    """An error that nobody foresaw ends with 70 (EX_SOFTWARE), never with the status of "does not suit"."""

    def broken(*_, **__):
        raise KeyError("curve-end")

    monkeypatch.setattr("refdb.store.reference.Reference.metal", broken)
    monkeypatch.delenv("REFDB_TRACEBACK", raising=False)
    told = refdb("suits", "clear-hard-lead-free", "copper-sheet")
    assert (told.status, told.out) == (70, "")
    assert told.err.count("\n") == 1
    assert "Traceback" not in told.err
    monkeypatch.setenv("REFDB_TRACEBACK", "1")
    assert "Traceback" in refdb("suits", "clear-hard-lead-free", "copper-sheet").err
