"""The public interface: what it holds, that it is light, that only errors of our own leave it, and its examples."""

import doctest
import importlib
import inspect
import subprocess
import sys
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

import refdb
from refdb.errors import RefdbError
from refdb.judge.reason import NOT, SUITS

DOCUMENTED = {
    "suits": "refdb.judge.fit.glass_on_metal",
    "rank": "refdb.judge.fit.glass_on_metal",
    "clears": "refdb.judge.piece.clear_over_leaf",
    "check_piece": "refdb.plan.checking",
    "open_reference": "refdb.store.opening",
    "estimate": "refdb.science.glass.properties",
    "expansion_from_bow": "refdb.science.inference.strip",
    "cool": "refdb.science.plate.cooled",
    "cool_many": "refdb.science.plate.cooled",
    "Layer": "refdb.science.plate.layers",
    "Band": "refdb.quantities.band",
}
#: What nobody means by a key, a length or a piece.
WRONG = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.lists(st.integers(), max_size=2),
    st.just(object()), st.just(10**400), st.just("\ud800"),
)  # fmt: skip


@pytest.fixture(scope="module")
def ref(store):
    with refdb.open_reference(store) as found:
        yield found


def test_everything_that_is_named_is_there_and_listed():
    assert set(refdb.__all__) <= set(dir(refdb))
    for name in refdb.__all__:
        assert getattr(refdb, name) is not None
    with pytest.raises(AttributeError):
        _ = refdb.nothing_of_the_kind


def test_the_package_and_a_standard_question_are_light():
    """Neither the import nor a precomputed answer loads numpy, pint, sqlite_utils or datasette."""
    told = subprocess.run(
        [sys.executable, "-c", "import sys, refdb; r = refdb.open_reference(); "
         "refdb.suits(r, 'clear-hard-lead-free', 'copper-sheet').as_dict(); "
         "print([m for m in ('numpy', 'pint', 'sqlite_utils', 'datasette', 'typer') if m in sys.modules])"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert told.stdout.strip() == "[]"


@pytest.mark.parametrize("name", DOCUMENTED)
def test_each_example_gives_what_it_says(name):
    """The examples in the docstrings of the public interface, run."""
    module = importlib.import_module(DOCUMENTED[name])
    thing = getattr(module, name)
    assert inspect.getdoc(thing)
    found = doctest.DocTestFinder(recurse=False).find(thing, name, module=module, globs={"refdb": refdb})
    assert sum(len(one.examples) for one in found) > 0, f"{name} has no example"
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    for one in found:
        runner.run(one)
    assert runner.failures == 0


def test_numbers_text_and_bands_ask_the_same(ref):
    asked = [
        refdb.suits(ref, "clear-hard-lead-free", "copper-sheet", metal_thickness_m=size, kiln_c=kiln).as_dict()
        for size, kiln in ((0.7e-3, 815.0), ("0.7 mm", "815 C"), (refdb.Band.exact(0.7e-3), "1499 F"))
    ]
    for other in asked[1:]:
        other["question"]["kiln_c"] = asked[0]["question"]["kiln_c"]
    assert asked[0]["shares"] == asked[1]["shares"] == asked[2]["shares"]


#: Where something wrong may be given.
PLACES = (
    *("glass", "metal", "metal_thickness_m", "front_m", "first_m", "rise_m", "kiln_c", "kiln_offset_k", "shape"),
    *("leaf", "under", "piece", "rank", "record", "layers", "plates", "composition"),
)


@given(WRONG, st.sampled_from(PLACES))
def test_only_errors_of_our_own_leave_it(ref, wrong, where):
    plain = {"glass": "clear-hard-lead-free", "metal": "copper-sheet"}
    calls = {
        "leaf": lambda: refdb.clears(ref, wrong, "copper-sheet"),
        "under": lambda: refdb.clears(ref, "no-such-leaf", "copper-sheet", wrong),
        "piece": lambda: refdb.check_piece(ref, wrong),
        "rank": lambda: refdb.rank(ref, wrong),
        "record": lambda: ref.material(wrong),
        "layers": lambda: refdb.cool(wrong),
        "plates": lambda: refdb.cool_many(wrong),
        "composition": lambda: refdb.estimate(wrong),
    }
    ask = calls.get(where, lambda: refdb.suits(ref, **plain | {where: wrong}))
    with suppress(RefdbError):
        ask()


def test_answers_are_short_to_look_at(ref):
    verdict = refdb.suits(ref, "clear-hard-lead-free", "copper-sheet")
    ranking = refdb.rank(ref, "copper-sheet")
    for thing in (verdict, ranking, ref.glass("clear-hard-lead-free"), ref.metal("copper-sheet"), ref):
        assert len(repr(thing)) < 100
    assert verdict.outcome in verdict._repr_html_()
    assert ranking[0].glass.label in ranking._repr_html_()


def test_rows_are_flat(ref):
    verdict = refdb.suits(ref, "borosilicate-3-3", "copper-sheet")
    assert verdict.outcome == NOT
    rows = verdict.rows()
    assert {row["rule"] for row in rows} == {reason.rule for reason in verdict.reasons}
    assert all(not isinstance(value, (dict, list)) for row in rows for value in row.values())
    ranked = refdb.rank(ref, "copper-sheet").rows()
    assert [row["place"] for row in ranked] == sorted(row["place"] for row in ranked)
    assert ranked[0]["verdict"] == SUITS


def test_a_workshop_is_read_only_where_it_is_asked_for(store, mine, refdb_own_jar):
    key = refdb_own_jar
    with refdb.open_reference(store, workshop=mine.path) as ref:
        assert ref.glass(key).key == key
    with refdb.open_reference(store) as ref, pytest.raises(refdb.NotFound):
        ref.glass(key)
    with pytest.raises(refdb.BadInput):
        refdb.open_reference(store, workshop=5)


@pytest.fixture
def refdb_own_jar(mine):
    made = mine("mine", "add", "glass", "--name", "jar 12", "--like", "clear-hard-lead-free")
    assert made.status == 0, made.err
    return "my:jar-12"
