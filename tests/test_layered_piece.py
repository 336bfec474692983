"""The whole piece: facts of the trade (common practice, each with its nearest counter-example), and consistency."""

from types import SimpleNamespace

import pytest
from pieces import piece

from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.piece.clear_over_leaf import piece_of
from refdb.judge.piece.verdict import judge_piece, judge_pieces
from refdb.judge.reason import CARE, NOT, SUITS, UNSURE
from refdb.science.plate.cooled import cool_and_refire
from refdb.science.sampling import SAMPLES

HARD, MEDIUM, SOFT = "clear-hard-lead-free", "clear-medium-lead-free", "clear-soft-lead-free"
TURQUOISE = "turquoise-opaque-lead-free"
BASE = [
    "clean front",
    "mask back",
    f"coat front {HARD} 0.12",
    "fire 815",
    "clean back",
    f"coat back {HARD} 0.28",
    "fire 815",
]
FOIL = [*BASE, "leaf gold-foil-24k", "fire 800", f"coat front {MEDIUM} 0.15 washed", "fire 795"]


def found(ref, lines, *rules, under="", **more):
    """Outcomes of the findings of these rules; of the coat `under` alone, where one is named."""
    verdict = judge_piece(ref, piece(lines, **more))
    return [r.outcome for r in verdict.reasons if r.rule in rules and under in ("", r.subject.under)]


def test_a_sound_piece_suits(ref):
    """A balanced copper piece with foil under a softer clear, everything in order: plain suits."""
    verdict = judge_piece(ref, piece(FOIL))
    assert verdict.outcome == SUITS, verdict.sentence
    assert len(verdict.stages) == 4
    assert all(
        r.subject.metal == "copper-sheet" if r.rule == "least-metal" else r.subject.step for r in verdict.reasons
    )


@pytest.mark.parametrize("gone", range(len(FOIL)))
def test_removing_any_step_of_a_sound_piece_changes_something(ref, gone):
    """Every step of a sound piece carries a number or a reason."""
    whole = judge_piece(ref, piece(FOIL))
    less = judge_piece(ref, piece([line for k, line in enumerate(FOIL) if k != gone]))
    plain = [[(t.key, t.outcome, str(t.found)) for t in v.told] for v in (whole, less)]
    assert sorted(plain[0]) != sorted(plain[1])


@pytest.mark.trade
def test_the_same_hardness_over_a_colour_pulls_it_through_and_a_softer_one_does_not(ref):
    """Common practice: a clear of the colour's own hardness lets it come up; a softer clear does not."""
    colour = [*BASE, f"coat front {TURQUOISE} 0.12", "fire 795"]
    it = {"under": TURQUOISE}
    assert found(ref, [*colour, f"coat front {MEDIUM} 0.12", "fire 795"], "pull-through", **it) == [CARE]
    assert found(ref, [*colour, f"coat front {SOFT} 0.12", "fire 740"], "pull-through", **it) == [SUITS]
    assert found(ref, [*colour, f"coat front {HARD} 0.12", "fire 830"], "pull-through", **it)[0] != SUITS


@pytest.mark.trade
def test_hard_again_over_a_hard_white_and_a_softer_clear(ref):
    """Common practice: hard clear again over a hard colour comes through in spots, a medium one does not."""
    white = [*BASE, "coat front white-opaque-lead-free 0.12", "fire 820"]
    it = {"under": "white-opaque-lead-free"}
    assert found(ref, [*white, f"coat front {HARD} 0.12", "fire 830"], "pull-through", **it)[0] in (CARE, NOT)
    assert found(ref, [*white, f"coat front {SOFT} 0.12", "fire 740"], "pull-through", **it) == [SUITS]


@pytest.mark.trade
def test_silver_on_bare_copper_is_refused_and_gold_only_where_it_melts(ref):
    """Common practice and the diagrams: silver and copper first melt together at 779 °C, within reach of any kiln for
    enamel, so silver is refused whatever the fire; gold and copper not below 904 °C: gold wants care up to there.
    """

    def bare(leaf, heat):
        return ["clean front", "mask back", f"leaf {leaf}", f"fire {heat}"]

    assert [found(ref, bare("fine-silver-foil", heat), "leaf-on-metal") for heat in (760, 800)] == [[NOT], [NOT]]
    assert [found(ref, bare("gold-foil-24k", heat), "leaf-on-metal") for heat in (800, 899, 909)] == [
        [CARE],
        [CARE],
        [NOT],
    ]
    assert found(ref, FOIL, "leaf-on-metal") == []
    on_silver = [["clean front", "leaf gold-foil-24k", f"fire {heat}"] for heat in (800, 950, 961)]
    assert [found(ref, lines, "leaf-on-metal", metal="fine-silver-sheet") for lines in on_silver] == [
        [CARE],
        [CARE],
        [NOT],
    ]


@pytest.mark.trade
def test_line_work_goes_on_glass_and_never_on_bare_leaf(ref):
    """Common practice: drawing on bare foil scrapes off; on the clear over the foil it holds."""
    on_leaf = [*BASE, "leaf fine-silver-foil", "fire 800", "line front painting-black", "fire 780"]
    on_glass = [*FOIL, "line front painting-black", "fire 780"]
    assert found(ref, on_leaf, "line-on-leaf") == [NOT]
    assert judge_piece(ref, piece(on_leaf)).outcome == NOT
    assert found(ref, on_glass, "line-on-leaf") == []
    assert judge_piece(ref, piece(on_glass)).outcome in (SUITS, CARE)
    assert NOT in found(
        ref, ["clean front", "mask back", "line front painting-black", "fire 780"], "line-work-on-metal"
    )


@pytest.mark.trade
def test_line_work_last_or_under_a_clear(ref):
    """Common practice: a clear may lie over the drawing, an opaque may not."""
    drawn = [*FOIL, "line front painting-black", "fire 780"]
    assert found(ref, [*drawn, f"coat front {SOFT} 0.1", "fire 740"], "line-covered") == []
    assert found(ref, [*drawn, f"coat front {TURQUOISE} 0.1", "fire 780"], "line-covered") == [CARE]


@pytest.mark.trade
def test_leaf_wants_an_even_washed_clear_over_the_whole_face(ref):
    """Common practice: part cover, uneven or unwashed clear over foil each want care; the whole even coat does not."""
    foil = [*BASE, "leaf fine-silver-foil", "fire 800"]
    good = [*foil, f"coat front {MEDIUM} 0.15 washed", "fire 795"]
    rules = ("leaf-part-covered", "leaf-uneven-cover", "leaf-unwashed-cover", "leaf-hidden", "leaf-left-bare")
    assert [found(ref, good, rule) for rule in rules] == [[]] * 5
    assert found(ref, [*foil, f"coat front {MEDIUM} 0.15 washed part=0.5", "fire 795"], rules[0]) == [CARE]
    assert found(ref, [*foil, f"coat front {MEDIUM} 0.10 to=0.30 washed", "fire 795"], rules[1]) == [CARE]
    assert found(ref, [*foil, f"coat front {MEDIUM} 0.15 unwashed", "fire 795"], rules[2]) == [CARE]
    assert found(ref, [*foil, f"coat front {TURQUOISE} 0.15", "fire 795"], rules[3]) == [CARE]
    assert found(ref, foil, rules[4]) == [CARE]


@pytest.mark.trade
def test_both_faces_hold_where_one_face_does_not(ref):
    """Common practice: 0.30 mm on one face of thin copper cracks in time; the same on both faces holds."""
    first = ["clean front", "mask back", f"coat front {HARD} 0.12", "fire 815"]
    one = [*first, f"coat front {HARD} 0.18", "fire 815"]
    both = [*first, "clean back", f"coat back {HARD} 0.3", "fire 815", f"coat front {HARD} 0.18", "fire 815"]
    alone, pair = (judge_piece(ref, piece(lines, mm=0.4)) for lines in (one, both))
    assert alone.outcome == NOT
    assert pair.outcome in (SUITS, CARE)
    assert found(ref, one, "one-face") == [CARE]
    assert found(ref, both, "one-face") == []


@pytest.mark.trade
def test_uneven_faces_want_care_and_even_ones_do_not(ref):
    """Common practice: 0.12 mm against 0.40 mm is uneven; 0.28 against 0.30 is not."""

    def faces(front, back):
        return [
            "clean front",
            "mask back",
            f"coat front {HARD} {front}",
            "fire 815",
            "clean back",
            f"coat back {HARD} {back}",
            "fire 815",
        ]

    assert found(ref, faces(0.40, 0.12), "faces-alike") == [CARE]
    assert found(ref, faces(0.30, 0.28), "faces-alike") == [SUITS]


@pytest.mark.trade
def test_a_flash_fire_follows_stoning_and_a_refire_is_never_refused(ref):
    """Common practice: stone, then fire short and hot; a re-fire to heal a crack is normal."""
    assert found(ref, [*FOIL, "stone front", "fire 800 1"], "stoned-and-fired") == [SUITS]
    assert found(ref, [*FOIL, "stone front"], "stoned-and-left") == [CARE]
    again = judge_piece(ref, piece([*FOIL, "fire 795"]))
    assert again.outcome in (SUITS, CARE)
    assert [r.outcome for r in again.reasons if r.rule == "fired-again"] == [SUITS]


@pytest.mark.trade
def test_leaded_goes_over_lead_free_and_never_under(ref):
    """Common practice: leaded over lead-free holds; turned around it does not."""
    rule = "lead-order"
    over = [*BASE, "coat front clear-medium-leaded 0.12", "fire 760"]
    under = [
        "clean front",
        "mask back",
        "coat front clear-medium-leaded 0.12",
        "fire 760",
        f"coat front {MEDIUM} 0.12",
        "fire 790",
    ]
    assert found(ref, over, rule) == []
    assert found(ref, under, rule) == [NOT]
    assert found(
        ref, [*BASE, "coat front ruby-gold-transparent 0.1", "fire 790", f"coat front {SOFT} 0.1", "fire 740"], rule
    ) == [CARE]


@pytest.mark.trade
def test_scale_is_cleaned_off_before_the_second_face(ref):
    """Common practice: on copper the back scales in the first fire and is cleaned; fine silver does not scale."""
    dirty = [line for line in BASE if line != "clean back"]
    assert found(ref, dirty, "scale-under-glass") == [NOT]
    assert found(ref, BASE, "scale-under-glass") == []
    assert found(ref, dirty, "scale-under-glass", metal="fine-silver-sheet") == []
    bare = [line for line in BASE if line != "mask back"]
    assert found(ref, bare, "bare-face-scale") == [CARE]
    assert found(ref, BASE, "bare-face-scale") == []


@pytest.mark.trade
def test_joins_melt_or_hold(ref):
    """Solidus against the kiln: an easy solder lets go at 800 °C, a silver-manganese braze stays; hard joins first."""
    assert NOT in found(ref, ["join ag-155", *BASE], "join-in-fire")
    assert found(ref, ["join bag-23", *BASE], "join-in-fire") == []
    assert found(ref, ["join fusion", *BASE], "join-after-glass", "join-in-fire") == []
    assert found(ref, [*BASE, "join ag-155"], "join-after-glass") == [NOT]
    assert found(ref, [*BASE, "join soft-sac305"], "join-after-glass", "join-in-fire") == []
    assert NOT in found(ref, ["join soft-sac305", *BASE], "join-in-fire")


@pytest.mark.trade
def test_sterling_melts_where_fine_silver_stands(ref):
    """Ag-Cu diagram: sterling begins to melt near 779-803 °C, fine silver at 962 °C."""
    lines = ["clean front", "clean back", f"coat front {MEDIUM} 0.15", f"coat back {MEDIUM} 0.15", "fire 800"]
    assert NOT in found(ref, lines, "metal-melts", metal="sterling-sheet")
    assert found(ref, lines, "metal-melts", metal="fine-silver-sheet") == [SUITS]
    cool = [line.replace("800", "765") for line in lines]
    assert found(ref, cool, "metal-melts", metal="sterling-sheet") != [NOT]


@pytest.mark.parametrize("use", ["child", "food"])
def test_child_and_food_never_earn_a_plain_suits(ref, use):
    """Lead-free for a child or food wants a test; unknown or contained lead refuses; an adult's piece does not."""
    assert judge_piece(ref, piece(FOIL, use=use)).outcome == CARE
    assert judge_piece(ref, piece([*BASE, "coat front ruby-gold-transparent 0.1", "fire 790"], use=use)).outcome == NOT
    assert judge_piece(ref, piece(FOIL, use="adult")).outcome == SUITS


def test_the_kiln_is_held_against_every_range(ref):
    """Inside, just outside and far outside the range of the new glass."""

    def fired(heat):
        return found(ref, ["clean front", "mask back", f"coat front {HARD} 0.15", f"fire {heat}"], "setting")

    assert [fired(h) for h in (830, 890, 950, 780, 700)] == [[SUITS], [CARE], [NOT], [CARE], [NOT]]


def test_unfired_layers_and_empty_pieces_are_told(ref):
    assert judge_piece(ref, piece([*BASE, f"coat front {SOFT} 0.1"])).outcome == NOT
    assert judge_piece(ref, piece([f"coat front {SOFT} 0.1"])).outcome == NOT
    assert judge_piece(ref, piece(["clean front", "fire 800"])).outcome == UNSURE


def test_missing_figures_are_named(ref):
    """An opaque antimony yellow has no known expansion: cannot say, and the figure is named."""
    verdict = judge_piece(ref, piece([*BASE, "coat front yellow-opaque-antimony 0.1", "fire 780"]))
    assert verdict.outcome in (UNSURE, NOT)
    assert any("expansion" in m for m in verdict.missing)


def test_the_head_of_a_verdict_is_told_in_sentences(ref):
    """Which coat may come up through which; not the name of a rule, and not on what the expansion rests."""
    verdict = judge_piece(ref, piece_of("gold-foil-24k", ref.metal("copper-sheet"), ref.glass(HARD), ref.glass(HARD)))
    assert "the bed under the leaf" in verdict.sentence.lower()
    assert "flows as readily as lead-free hard clear above it" in verdict.sentence
    over = piece_of("gold-foil-24k", ref.metal("copper-sheet"), ref.glass(HARD), ref.glass("clear-for-gold"))
    rests = judge_piece(ref, over)
    assert "expansion" not in rests.sentence.lower()
    assert rests.evidence is not None
    assert (rests.evidence.weakest, rests.evidence.grade) == ("clear-for-gold", "likeness")
    colour = [*BASE, f"coat front {TURQUOISE} 0.12", "fire 795"]
    for lines, outcome, words in (
        ([*colour, f"coat front {MEDIUM} 0.12", "fire 795"], CARE, "may come up through"),
        ([*colour, f"coat front {HARD} 0.12", "fire 860"], NOT, "comes up through"),
    ):
        heads = [
            t.head
            for t in judge_piece(ref, piece(lines)).told
            if t.key == "pull-through" and t.reason.subject.under == TURQUOISE
        ]
        outcomes = found(ref, lines, "pull-through", under=TURQUOISE)
        assert (outcomes, [words in head for head in heads]) == ([outcome], [True])


def test_the_plain_build_gives_the_numbers_of_the_plain_question(ref):
    """The same glass on both faces, built up as `suits` builds it: finished stresses agree within 3 MPa."""
    lines = [
        "clean front",
        "mask back",
        f"coat front {HARD} 0.2",
        "fire 830",
        "clean back",
        f"coat back {HARD} 0.3",
        "fire 830",
        f"coat front {HARD} 0.1",
        "fire 830",
    ]
    whole = judge_piece(ref, piece(lines)).stages
    plain = suits(ref, HARD, "copper-sheet").stages
    for mine, other in ((whole[0], plain[0]), (whole[-1], plain[-1])):
        a = next(x for x in mine.layers if x.name.endswith("front"))
        b = next(x for x in other.layers if x.name == "front glass")
        assert a.bottom_mpa.value == pytest.approx(b.bottom_mpa.value, abs=3)
    last = whole[-1]
    assert abs(last.bow_mm_per_30mm.value - last.bow_left_mm_per_30mm.value) < 0.02


def test_the_same_piece_gives_the_same_verdict(ref):
    assert judge_piece(ref, piece(FOIL)).as_dict() == judge_piece(ref, piece(FOIL)).as_dict()


def test_pieces_judged_together_are_judged_as_each_alone(ref):
    pieces = [piece(FOIL), *(piece(BASE, mm=mm) for mm in (0.5, 0.9)), piece(BASE, metal="fine-silver-sheet")]
    assert [v.as_dict() for v in judge_pieces(ref, pieces)] == [judge_piece(ref, p).as_dict() for p in pieces]
    assert judge_pieces(ref, []) == []


def test_processes_that_share_the_work_judge_as_one(ref):
    """Enough pieces for three workers, thicknesses and heats mixed, in the order given."""
    pieces = [piece(FOIL, mm=0.6 + 0.01 * k) if k % 2 else piece([*BASE[:-1], f"fire {780 + k}"]) for k in range(140)]
    alone, shared = judge_pieces(ref, pieces), judge_pieces(ref, pieces, workers=3)
    assert [v.as_dict() for v in shared] == [v.as_dict() for v in alone]
    assert alone[1].as_dict() == judge_piece(ref, pieces[1]).as_dict()
    assert len({v.stages[-1].layers for v in alone}) > 60


def test_processes_that_cannot_be_forked_open_the_store_and_judge_as_one(ref, monkeypatch):
    from refdb.judge.piece import verdict

    pieces = [piece(BASE, mm=0.6 + 0.002 * k) for k in range(66)]
    alone = judge_pieces(ref, pieces)
    monkeypatch.setattr(verdict, "sys", SimpleNamespace(platform="darwin"))
    begun = []
    made = verdict._pool
    monkeypatch.setattr(verdict, "_pool", lambda *given: begun.append(1) or made(*given))
    assert [v.as_dict() for v in judge_pieces(ref, pieces, workers=2)] == [v.as_dict() for v in alone]
    assert begun == [1]


def test_a_coat_that_no_fire_follows_is_told_and_not_cooled(ref):
    verdict = judge_piece(ref, piece(["fire 815", "clean front", f"coat front {HARD} 0.12"]))
    assert verdict.outcome == NOT
    assert any(r.rule == "never-fired" for r in verdict.reasons)
    assert verdict.stages == ()


def test_states_that_are_alike_are_cooled_once(ref, monkeypatch):
    from refdb.judge import cooled_blocks

    cooled = []

    def counted(plates, again):
        cooled.append(len(plates.thickness_m))
        return cool_and_refire(plates, again)

    monkeypatch.setattr(cooled_blocks, "cool_and_refire", counted)
    judge_pieces(ref, [piece(FOIL), piece([*FOIL[:-1], "fire 800"]), piece([*FOIL[:-2], FOIL[-2], "fire 790"])])
    assert sum(cooled) == 3 * SAMPLES


def test_a_refire_leaves_the_plate_as_it_was_and_has_its_own_stage(ref):
    lines = ["clean front", f"coat front {HARD} 0.2", "fire 815"]
    once, twice = (judge_piece(ref, piece(more)).stages for more in (lines, [*lines, "fire 815"]))
    assert [len(once), len(twice)] == [1, 2]
    assert twice[0].name != twice[1].name
    assert twice[0].layers == twice[1].layers == once[0].layers


@pytest.mark.trade
def test_a_spot_of_a_glass_that_fits_badly_is_a_risk_to_itself_and_a_field_of_it_is_refused(ref):
    """Dots of strange glass are laid on enamel with care; half a face of the same chips off (common practice)."""
    strange = "window-soda-lime"
    spot, field = (
        [r for r in verdict.reasons if r.rule == "gap" and r.subject.glass == strange]
        for verdict in judge_pieces(
            ref, [piece([*BASE, f"coat front {strange} 0.12 part={part}", "fire 815"]) for part in (0.05, 0.5)]
        )
    )
    assert [(r.outcome, r.case, r.subject.zone) for r in spot] == [(CARE, "spot", "spot")]
    assert [(r.outcome, r.case, r.subject.zone) for r in field] == [(NOT, "", "")]
    assert spot[0].found == field[0].found


def test_a_glass_that_lies_once_as_a_spot_and_once_as_a_coat_is_no_spot(ref):
    lines = [*BASE, f"coat front {HARD} 0.1 part=0.05", "fire 815"]
    gaps = [r for r in judge_piece(ref, piece(lines)).reasons if r.rule == "gap"]
    assert [(r.case, r.subject.zone) for r in gaps] == [("", "")]
