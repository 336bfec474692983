"""Which clear goes over this leaf: facts of the trade with their nearest counter-examples, and the ranking."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.errors import BadInput, NotFound
from refdb.judge.piece.clear_over_leaf import clears, is_clear, usual_bed
from refdb.judge.piece.steps import Base, Piece, Step
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE
from refdb.quantities import Band

HARD, MEDIUM, SOFT = "clear-hard-lead-free", "clear-medium-lead-free", "clear-soft-lead-free"
#: Reactions by which a clear yellows over silver leaf.
YELLOWS = {"clear-medium-leaf-silver", "clear-soft-leaf-silver"}


@pytest.fixture(scope="module")
def over_foil(ref):
    """Clears over fine-silver foil on copper, on a hard bed."""
    return {r.glass.key: r for r in clears(ref, "fine-silver-foil", "copper-sheet")}


def test_every_clear_of_the_store_is_ranked(ref, over_foil):
    assert set(over_foil) == {g.key for g in ref.materials("glass") if is_clear(g)}
    assert {HARD, MEDIUM, SOFT, "clear-for-silver", "clear-medium-leaded"} <= set(over_foil)
    assert "window-soda-lime" not in over_foil
    assert "blue-transparent-lead-free" not in over_foil


@pytest.mark.trade
def test_a_softer_clear_goes_over_a_hard_bed_and_its_equal_wants_care(ref, over_foil):
    """Common practice: softer than the bed, or the bed moves and tears the foil; the same hardness wants care."""
    over_gold = {r.glass.key: r for r in clears(ref, "gold-foil-24k", "copper-sheet")}
    assert over_gold[MEDIUM].place == 1
    assert over_gold[MEDIUM].verdict.outcome == SUITS
    for ranked in (over_gold, over_foil):
        assert ranked[HARD].verdict.outcome == CARE
        assert "bed under the leaf" in ranked[HARD].because


@pytest.mark.trade
def test_clears_yellow_over_silver_leaf_as_over_silver_and_not_over_gold(ref, over_foil):
    """Common practice: a clear made for copper yellows over silver, a soft one too, one made for silver does not."""
    over_gold = {r.glass.key: r for r in clears(ref, "gold-foil-24k", "copper-sheet")}
    for key, yellows in ((MEDIUM, True), (SOFT, True), (HARD, False), ("clear-for-silver", False)):
        reasons = [ranked[key].verdict.reasons for ranked in (over_foil, over_gold)]
        told = [[r.rule for r in some if r.rule in YELLOWS and r.outcome == CARE] for some in reasons]
        assert (bool(told[0]), bool(told[1])) == (yellows, False), key
    assert over_foil["clear-for-silver"].place < over_foil[SOFT].place


def test_the_bed_where_none_is_named_is_one_that_the_metal_bears(ref):
    """Sterling may begin to melt at 779 °C: a medium bed; copper bears the hard one."""
    assert usual_bed(ref, ref.metal("sterling-sheet")).key == MEDIUM
    assert usual_bed(ref, ref.metal("copper-sheet")).key == HARD
    assert any(r.verdict.outcome != NOT for r in clears(ref, "gold-foil-24k", "sterling-sheet"))
    assert all(r.verdict.outcome == NOT for r in clears(ref, "gold-foil-24k", "sterling-sheet", HARD))


def test_a_clear_with_nothing_against_it_stands_before_one_with(ref):
    """What holds for all of them (22 carat leaf wants care) does not hide what one alone has against it."""
    ranked = {r.glass.key: r for r in clears(ref, "gold-leaf-22k", "fine-silver-sheet")}
    made, hard = ranked["clear-for-silver"], ranked[HARD]
    assert made.because == ""
    assert hard.because
    assert made.verdict.outcome == hard.verdict.outcome == CARE
    assert made.place == 1 < hard.place


@pytest.mark.trade
def test_a_soft_bed_is_turned_around(ref):
    """Common practice: over a soft bed a hard clear moves the bed; over a hard bed a soft clear does not."""
    on_soft = {r.glass.key: r for r in clears(ref, "gold-foil-24k", "fine-silver-sheet", SOFT)}
    on_hard = {r.glass.key: r for r in clears(ref, "gold-foil-24k", "fine-silver-sheet", HARD)}
    beds = [
        [x.outcome for x in table[key].verdict.reasons if x.rule == "leaf-bed"]
        for table, key in ((on_soft, HARD), (on_hard, SOFT))
    ]
    assert beds[0] == [CARE]
    assert beds[1] == [SUITS]


@pytest.mark.trade
def test_silver_on_bare_copper_is_refused_under_every_clear(ref):
    """Common practice: silver leaf goes on fused glass, never on bare copper (Ag-Cu eutectic 779 °C), however cool the
    clear's own fire is; on bare fine silver, which melts nothing, gold foil is not refused for that."""
    silver = [leaf.key for leaf in ref.materials("leaf") if leaf.metal.split()[:1] == ["Ag"]]
    copper = [metal.key for metal in ref.materials("metal") if metal.family in ("copper", "gilding metal", "brass")]
    assert len(silver) >= 3 <= len(copper)
    for leaf in silver:
        for metal in copper:
            for ranked in clears(ref, leaf, metal, "bare"):
                assert ranked.verdict.outcome in (NOT, UNSURE), (leaf, metal, ranked.glass.key)
                assert [x.outcome for x in ranked.verdict.reasons if x.rule == "leaf-on-metal"] == [NOT]
    over = clears(ref, "gold-foil-24k", "fine-silver-sheet", "bare")
    assert {x.outcome for r in over for x in r.verdict.reasons if x.rule == "leaf-on-metal"} == {CARE}


@pytest.mark.trade
@given(
    kiln_c=st.integers(100, 1100),
    metal=st.sampled_from(["copper-sheet", "copper-clay", "gilding-95-5"]),
    leaf=st.sampled_from(["fine-silver-foil", "fine-silver-leaf"]),
)
def test_silver_on_bare_copper_is_refused_at_every_setting(ref, kiln_c, metal, leaf):
    """The same at any kiln setting of a whole piece, and where none is said."""
    steps = (
        Step(1, "clean"),
        Step(2, "leaf", leaf=leaf),
        Step(3, "coat", glass=SOFT, thickness_m=Band.exact(2e-4)),
        Step(4, "fire", kiln_c=None if kiln_c < 500 else float(kiln_c)),
    )
    verdict = judge_piece(ref, Piece("foil on metal", 0.03, 0.03, Base(metal, Band.exact(8e-4)), steps))
    assert verdict.outcome == NOT


@pytest.mark.trade
def test_leaf_that_burns_is_refused_under_every_clear(ref):
    """Common practice: aluminium leaf melts below the fire; gold foil stands it."""
    assert {r.verdict.outcome for r in clears(ref, "aluminium-leaf", "copper-sheet")} == {NOT}
    assert {r.verdict.outcome for r in clears(ref, "gold-foil-24k", "copper-sheet")} <= {SUITS, CARE}


def test_equal_clears_tie_and_the_best_stands_first(over_foil):
    order = sorted(over_foil.values(), key=lambda r: r.place)
    ranks = [[SUITS, CARE, "cannot say", NOT].index(r.verdict.outcome) for r in order]
    assert ranks == sorted(ranks)
    for r in order:
        assert r.tied == (sum(o.place == r.place for o in order) > 1)


def test_wrong_words_are_one_line(ref):
    with pytest.raises(NotFound, match="did you mean"):
        clears(ref, "fine-silver-fol", "copper-sheet")
    with pytest.raises(NotFound):
        clears(ref, "fine-silver-foil", "copper-sheet", "no-such-glass")
    with pytest.raises(BadInput, match="no bed"):
        clears(ref, "fine-silver-foil", "copper-sheet", "painting-black")
