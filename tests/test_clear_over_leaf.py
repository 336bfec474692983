"""Which clear goes over this leaf: facts of the trade with their nearest counter-examples, and the ranking."""

import pytest

from refdb.errors import BadInput, NotFound
from refdb.judge.clear_over_leaf import clears, is_clear, usual_bed
from refdb.judge.verdict import CARE, NOT, SUITS
from refdb.store.reference import Reference

HARD, MEDIUM, SOFT = "clear-hard-lead-free", "clear-medium-lead-free", "clear-soft-lead-free"


@pytest.fixture(scope="module")
def ref(store):
    with Reference(store) as found:
        yield found


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
        assert "Bed under the leaf" in ranked[HARD].because


@pytest.mark.trade
def test_clears_yellow_over_silver_leaf_as_over_silver_and_not_over_gold(ref, over_foil):
    """Common practice: a clear made for copper yellows over silver, a soft one too, one made for silver does not."""
    over_gold = {r.glass.key: r for r in clears(ref, "gold-foil-24k", "copper-sheet")}
    for key, yellows in ((MEDIUM, True), (SOFT, True), (HARD, False), ("clear-for-silver", False)):
        reasons = [ranked[key].verdict.reasons for ranked in (over_foil, over_gold)]
        told = [[r.found for r in some if r.rule == "Colour on this ground" and r.outcome == CARE] for some in reasons]
        assert any("ellow" in str(found) for found in told[0]) is yellows, key
        assert not any("ellow" in str(found) for found in told[1]), key
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
    assert ranked[MEDIUM].because == ""
    assert ranked[HARD].because
    assert ranked[MEDIUM].verdict.outcome == ranked[HARD].verdict.outcome == CARE
    assert ranked[MEDIUM].place == 1 < ranked[HARD].place


@pytest.mark.trade
def test_a_soft_bed_is_turned_around(ref):
    """Common practice: over a soft bed a hard clear moves the bed; over a hard bed a soft clear does not."""
    on_soft = {r.glass.key: r for r in clears(ref, "gold-foil-24k", "fine-silver-sheet", SOFT)}
    on_hard = {r.glass.key: r for r in clears(ref, "gold-foil-24k", "fine-silver-sheet", HARD)}
    beds = [[x.outcome for x in table[key].verdict.reasons if x.rule.startswith("Bed under the leaf")]
            for table, key in ((on_soft, HARD), (on_hard, SOFT))]
    assert beds[0] == [CARE]
    assert beds[1] == [SUITS]


@pytest.mark.trade
def test_foil_on_bare_copper_is_refused_where_the_clear_fires_above_the_eutectic(ref):
    """Ag-Cu eutectic 779 °C: a hard clear's fire melts the foil into bare copper; a soft clear's fire stays below."""
    bare = {r.glass.key: r for r in clears(ref, "fine-silver-foil", "copper-sheet", "bare")}
    assert bare[HARD].verdict.outcome == NOT
    rule = "Leaf on bare metal"
    assert [x.outcome for x in bare[SOFT].verdict.reasons if x.rule == rule] == [CARE]
    assert all(r.verdict.outcome != SUITS for r in bare.values())


def test_what_one_clear_alone_has_against_it_is_told_though_others_want_care_for_it(ref):
    """On bare copper a hard clear melts the foil into the metal, and a soft one only wants care for the same rule."""
    bare = {r.glass.key: r for r in clears(ref, "fine-silver-foil", "copper-sheet", "bare")}
    assert bare[HARD].verdict.outcome == NOT != bare[SOFT].verdict.outcome
    assert bare[HARD].because


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
