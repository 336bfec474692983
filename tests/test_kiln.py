"""The person's own kiln: what it does to a verdict, a piece and a plan, and how that is told."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pieces import BASE, piece

from refdb.errors import BadInput
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.own.kiln import (
    TRUE,
    check_heat,
    heat_words,
    offset_of,
    question_of,
    rests_on,
    runs_words,
    setting_words,
)
from refdb.judge.piece.clear_over_leaf import clears
from refdb.judge.piece.in_kiln import Heated
from refdb.judge.piece.observed_firing import Firings, maturing
from refdb.judge.piece.verdict import judge_piece, judge_pieces
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE, Measure, Verdict
from refdb.plan.observed import observed_firings
from refdb.plan.schedule import plan_of
from refdb.plan.sheet import sheet
from refdb.quantities import Band, temperature_difference_band_k
from refdb.records import KilnOffset, ObservedFiring
from refdb.store.workshop.file import Workshop

HARD, SOFT, COPPER = "clear-hard-lead-free", "clear-soft-lead-free", "copper-sheet"
#: Leaf on bare copper: gold and copper first melt together at 904 °C at the least.
BARE = ["clean front", "clean back", "mask back", "leaf gold-foil-24k", f"coat front {HARD} 0.12 washed"]
COLOURED = [*BASE, "coat front turquoise-opaque-lead-free 0.12", "fire 790 3", f"coat front {HARD} 0.12", "fire 815 3"]


class InKiln:
    """A store whose person has a kiln that runs so much hotter than it shows, and these firings of common practice."""

    def __init__(
        self,
        ref,
        value: float,
        low: float | None = None,
        high: float | None = None,
        stored: list[ObservedFiring] | None = None,
    ) -> None:
        self._ref, self._stored = ref, stored
        self._kept = KilnOffset(
            value, value if low is None else low, value if high is None else high, "own test", "2024-06-01", (3, 4)
        )

    def __getattr__(self, name: str):
        return getattr(self._ref, name)

    def kiln_offset(self) -> KilnOffset:
        return self._kept

    def observed_firings(self, key: str | None = None) -> list[ObservedFiring]:
        return (
            self._ref.observed_firings(key)
            if self._stored is None
            else [f for f in self._stored if key in (None, f.material)]
        )


def seen(kiln_c: float, minutes: float, source: str = "own-figure") -> ObservedFiring:
    return ObservedFiring("one", HARD, kiln_c, minutes, COPPER, 0.75, "gloss", "measured", source)


def found_of(verdict: Verdict):
    """All of a verdict but its words: what is titled by a setting is left out, and what was found in words."""
    return (
        verdict.outcome,
        verdict.confidence,
        verdict.shares,
        verdict.missing,
        verdict.measures,
        [replace(s, name="") for s in verdict.stages],
        [(r.rule, r.outcome, r.share, r.worse, r.source, r.subject, r.case, r.found) for r in verdict.reasons],
    )


def reasons(verdict: Verdict, rule: str):
    return [r for r in verdict.reasons if r.rule == rule]


def words(verdict: Verdict, rule: str) -> str:
    """What the one finding of a rule says."""
    (found,) = (t.found for t in verdict.told if t.key == rule)
    return str(found)


# What it changes


@given(setting=st.integers(550, 1100), offset=st.integers(-150, 150))
@settings(max_examples=25, deadline=None)
def test_a_setting_in_an_exact_kiln_is_that_heat(ref, setting, offset):
    moved = suits(ref, HARD, COPPER, kiln_c=float(setting), kiln_offset_k=float(offset))
    assert found_of(moved) == found_of(suits(ref, HARD, COPPER, kiln_c=float(setting + offset)))


@given(settings_c=st.lists(st.integers(560, 1000), min_size=3, max_size=3), offset=st.integers(-120, 120))
# The middle of a range between the setting and the heat: what the kiln is decides whether that is cool or hot.
@example(settings_c=[560, 791, 560], offset=-1)
@settings(max_examples=12, deadline=None)
def test_a_piece_in_an_exact_kiln_is_the_piece_at_those_heats(ref, settings_c, offset):
    """Leaf, a join and coats above each other, so that every rule of heat has something to say."""

    def lines(off: int) -> list[str]:
        one, two, three = (c + off for c in settings_c)
        return [
            *BARE,
            "join silver-solder-hard-type",
            f"fire {one} 3",
            "clean back",
            f"coat back {SOFT} 0.2",
            "coat front turquoise-opaque-lead-free 0.12",
            f"fire {two}",
            "leaf gold-foil-24k",
            f"coat front {HARD} 0.12",
            f"fire {three} 2.5",
        ]

    moved, plain = judge_piece(InKiln(ref, offset), piece(lines(0))), judge_piece(ref, piece(lines(offset)))
    assert found_of(moved) == found_of(plain)


def test_taking_the_kiln_away_changes_the_answer(ref):
    lines = [*BASE[:3], "fire 860", *BASE[4:6], "fire 860"]
    assert suits(ref, HARD, COPPER, kiln_c=860.0, kiln_offset_k=60.0).outcome == NOT
    assert suits(ref, HARD, COPPER, kiln_c=860.0).outcome != NOT
    assert judge_piece(InKiln(ref, 60.0), piece(lines)).outcome == NOT
    assert judge_piece(ref, piece(lines)).outcome != NOT


def test_leaf_just_below_its_first_melting_sinks_in_a_hotter_kiln(ref):
    right, hotter = (judge_piece(store, piece([*BARE, "fire 894"])) for store in (ref, InKiln(ref, 15.0)))
    (cool,), (hot,) = (reasons(verdict, "leaf-on-metal") for verdict in (right, hotter))
    assert (cool.outcome, hot.outcome) == (CARE, NOT)
    assert "a fire at 894 °C is 909 °C in this kiln" in words(hotter, "leaf-on-metal")
    assert "in this kiln" not in words(right, "leaf-on-metal")


@pytest.mark.parametrize(
    ("value", "low", "high", "outcome"),
    [(5.0, 0.0, 9.0, CARE), (5.0, 0.0, 11.0, NOT), (-5.0, -10.0, 9.9, CARE), (-5.0, -10.0, 10.1, NOT)],
)
def test_what_is_not_sampled_takes_the_hot_end(ref, value, low, high, outcome):
    """894 °C and the hot end against 904 °C."""
    verdict = judge_piece(InKiln(ref, value, low, high), piece([*BARE, "fire 894"]))
    assert [r.outcome for r in reasons(verdict, "leaf-on-metal")] == [outcome]
    assert f"up to {894 + high:.0f} °C in this kiln" in words(verdict, "leaf-on-metal")


def test_a_join_is_held_against_the_hot_end(ref):
    """Against the solidus of the store; 30 K are kept below it."""
    begins = ref.solders()["gold-solder-18-ct-hard"].solidus_c
    lines = ["clean front", "join gold-solder-18-ct-hard", f"coat front {SOFT} 0.1", f"fire {begins - 40:.0f}"]

    def outcome(store) -> list[str]:
        return [
            r.outcome
            for r in reasons(judge_piece(store, piece(lines)), "join-holds")
            + reasons(judge_piece(store, piece(lines)), "join-in-fire")
        ]

    assert outcome(ref) == [SUITS]
    assert outcome(InKiln(ref, 5.0, 0.0, 9.0)) == [SUITS]
    assert outcome(InKiln(ref, 5.0, 0.0, 11.0)) == [CARE]


def test_leaf_that_melts_is_held_against_the_hot_end(ref):
    """Fine silver melts at 961.8 °C, and 15 K are kept below it."""
    lines = [*BASE, "leaf fine-silver-foil", f"coat front {HARD} 0.12", "fire 940"]
    for store, melts in ((ref, False), (InKiln(ref, 2.0, 0.0, 4.0), False), (InKiln(ref, 2.0, 0.0, 9.0), True)):
        assert bool(reasons(judge_piece(store, piece(lines)), "leaf-melts")) == melts


def test_a_kiln_that_no_fire_can_have_is_refused_in_one_line(ref):
    for value, heat in ((-300.0, "-200 °C"), (-60.0, "40 °C")):
        with pytest.raises(BadInput) as caught:
            judge_piece(InKiln(ref, value), piece([*BASE[:3], "fire 100"]))
        assert heat in caught.value.line
        assert "step 4" in caught.value.line
    check_heat(30.0, TRUE, "anywhere")


# The band


def test_the_band_of_the_kiln_is_drawn_with_the_rest(ref):
    """A setting right at the top of the range: half of the draws lie above it, and what was found spans the band."""
    high = ref.glass(HARD).band("fuse_high")
    assert high is not None
    verdict = suits(ref, HARD, COPPER, kiln_c=high.value - 10, kiln_offset_k=Band(10.0, 0.0, 20.0))
    (rule,) = reasons(verdict, "setting")
    assert isinstance(rule.found, Measure)
    assert (rule.found.value, rule.found.low, rule.found.high) == pytest.approx(
        (high.value, high.value - 10, high.value + 10), abs=0.5
    )
    assert verdict.shares[SUITS] == pytest.approx(0.5, abs=0.05)
    # Each end alone is sure, one each way, on metal so thick that the stress between the fires is sure too.
    ends = [
        suits(ref, HARD, COPPER, metal_thickness_m="1 mm", kiln_c=high.value - 10, kiln_offset_k=k) for k in (0.0, 20.0)
    ]
    assert [v.shares[SUITS] for v in ends] == [1.0, 0.0]


def test_all_else_is_drawn_as_without_a_kiln(ref):
    """The gap and the stress do not hang on the kiln, so its band moves none of their figures."""
    alone = suits(ref, HARD, COPPER, kiln_c=810.0)
    band = suits(ref, HARD, COPPER, kiln_c=810.0, kiln_offset_k=Band(8.0, 5.0, 11.0))
    for name, measure in alone.measures.items():
        assert (band.measures[name].value, band.measures[name].low, band.measures[name].high) == pytest.approx(
            (measure.value, measure.low, measure.high), rel=1e-9
        ), name
    lone, with_band = (judge_piece(store, piece(BASE)) for store in (ref, InKiln(ref, 8.0, 5.0, 11.0)))
    for one, other in zip(lone.stages, with_band.stages, strict=True):
        assert other.release_j_per_m2.value == pytest.approx(one.release_j_per_m2.value, rel=1e-9)


def test_without_a_setting_the_kiln_plays_no_part(ref):
    exact, band = (suits(ref, HARD, COPPER, kiln_offset_k=k) for k in (8.0, Band(8.0, 5.0, 11.0)))
    assert found_of(band) == found_of(exact)
    assert not reasons(band, "setting")


def test_all_firings_of_a_piece_share_one_kiln(ref):
    """Two coats, each fired where half of the draws overfire it: half in all; two kilns would make three quarters.

    A new coat is refused from 30 K above its range on.
    """
    high = ref.glass(HARD).band("fuse_high")
    at = f"fire {high.value + 30 - 10:.0f}"
    one = [f"coat front {HARD} 0.12", f"coat back {HARD} 0.12", at]
    kiln = InKiln(ref, 10.0, 0.0, 20.0)
    once, twice = (judge_piece(kiln, piece(lines)) for lines in (one, [*one, f"coat front {HARD} 0.05", at]))
    assert [r.split[2] for r in reasons(twice, "setting")] == pytest.approx([0.5, 0.5], abs=0.05)
    assert [v.shares[NOT] for v in (once, twice)] == pytest.approx([0.5, 0.5], abs=0.05)


def test_what_decides_may_be_the_kiln(ref):
    """20 K over the range in a kiln known to 60 K only: it may suit, want care or overfire."""
    verdict = suits(
        ref, HARD, COPPER, kiln_c=ref.glass(HARD).band("fuse_high").value + 20, kiln_offset_k=Band(0.0, -60.0, 60.0)
    )
    assert verdict.outcome == UNSURE
    assert "kiln offset" in verdict.sentence
    assert "a kiln checked closer by test tiles" in verdict.sentence


def test_a_coat_beneath_is_followed_at_both_ends(ref):
    """Its middle is that of the exact kiln; its band holds those of kilns at the ends, and is wider than either."""

    def index(*kiln: float):
        found = [
            r.found
            for r in judge_piece(InKiln(ref, *kiln), piece(COLOURED)).reasons
            if r.rule == "pull-through" and r.subject.under == "turquoise-opaque-lead-free" and r.found is not None
        ]
        assert len(found) == 1
        return found[0]

    band, middle, cool, hot = index(10.0, 0.0, 20.0), index(10.0), index(0.0), index(20.0)
    assert band.value == pytest.approx(middle.value)
    assert band.low == pytest.approx(min(x.low for x in (middle, cool, hot)))
    assert band.high == pytest.approx(max(x.high for x in (middle, cool, hot)))
    assert cool.value != hot.value


# Firings that were seen


def gloss(store, heat: float | Band, own: list[ObservedFiring], ref):
    told = maturing(ref.glass(HARD), heat, 0.12e-3, Heated(ref.metal(COPPER), 0.75e-3, 0.24e-3), Firings(store, own))
    assert told.gloss is not None, told.reason
    return told


@pytest.mark.parametrize("offset", [-25.0, 12.0, 40.0])
def test_what_the_person_saw_was_in_the_same_kiln(ref, offset):
    """The firing at its own setting gives its own minutes back to 1 %, in whatever kiln; so does the plan."""
    store = InKiln(ref, offset)
    told = gloss(store, 815.0 + offset, [seen(815.0, 2.4)], ref)
    assert told.gloss.value == pytest.approx(2.4, rel=0.01)
    assert "815 °C" in told.pinned.words
    watched = replace(piece([*BASE[:3], "fire 815"], mm=0.75), seen=(seen(815.0, 2.4),))
    plans = [plan_of(s, watched).firings[0] for s in (store, ref)]
    assert [p.kiln_c for p in plans] == [815.0, 815.0]
    bands = [p.minutes.band for p in plans]
    assert bands[0].value == pytest.approx(bands[1].value, rel=0.02)
    # Common practice was seen in kilns that are right, so it does move against this one.
    usual = [
        gloss(s, 815.0 + offset, [], ref).gloss.value
        for s in (InKiln(ref, offset, stored=[seen(815.0, 2.4, "common-practice")]),)
    ]
    assert (usual[0] < 2.35) if offset > 0 else (usual[0] > 2.45)


def test_a_kiln_known_to_a_band_hardly_widens_what_was_seen_in_it(ref):
    """One kiln is off by the same twice; what goes by common practice is as uncertain as the kiln."""
    kiln = {"value": 15.0, "low": 0.0, "high": 30.0}
    heat = Band(*(815.0 + k for k in kiln.values()))
    own = gloss(InKiln(ref, *kiln.values()), heat, [seen(815.0, 2.4)], ref).gloss
    assert own.high / own.value == pytest.approx(1.3, rel=0.01)
    usual = [
        gloss(InKiln(ref, *k, stored=[seen(815.0, 2.4, "common-practice")]), h, [], ref).gloss
        for k, h in ((kiln.values(), heat), ((15.0,), 830.0))
    ]
    assert usual[0].value == pytest.approx(usual[1].value)
    assert usual[0].low < usual[1].low
    assert usual[0].high > usual[1].high


def test_own_and_judged_firing_in_one_kiln_agree_as_if_it_were_right(ref):
    """Minutes of the file that fit what was seen fit it in a hotter kiln too; by common practice they would not."""
    lines = [*BASE[:3], "fire 815 2.4", *BASE[4:6], "fire 815 2.4"]
    watched = replace(piece(lines, mm=0.75), seen=(seen(815.0, 2.4),))
    told = [
        [r for r in judge_piece(s, watched).reasons if r.rule in ("short-fire", "long-fire", "past-gloss")]
        for s in (ref, InKiln(ref, -35.0))
    ]
    assert told == [[], []]
    cold = judge_piece(InKiln(ref, -35.0, stored=[seen(815.0, 2.4, "common-practice")]), piece(lines, mm=0.75))
    assert reasons(cold, "short-fire")


def test_what_is_typed_is_checked_at_the_heat_it_had(ref):
    """No glass shines in 3 min at 400 °C; one may have where the kiln was 250 K hotter. Refused, it says both heats."""
    text = [f"{HARD}: 400C 3min copper 0.75mm"]
    with pytest.raises(BadInput):
        observed_firings(text, ref)
    (firing,) = observed_firings(text, InKiln(ref, 250.0))
    assert firing.kiln_c == 400.0
    with pytest.raises(BadInput, match="a fire at 560 °C is 360 °C in this kiln"):
        observed_firings([f"{HARD}: 560C 3min copper 0.75mm"], InKiln(ref, -200.0))


# Once, and only where it belongs


def test_a_piece_read_once_may_be_judged_and_planned_as_often_as_one_likes(ref):
    store = InKiln(ref, 15.0, 5.0, 25.0)
    given_ = piece(COLOURED)
    before = repr(given_)
    first = judge_piece(store, given_).as_dict()
    plan = plan_of(store, given_).as_dict()
    assert judge_piece(store, given_).as_dict() == first
    assert judge_pieces(store, [given_, given_])[1].as_dict() == first
    assert plan_of(store, given_).as_dict() == plan
    assert repr(given_) == before


def test_many_processes_judge_in_the_same_kiln(ref):
    pieces = [piece([*BASE[:3], f"fire {c}"]) for c in range(700, 830)]
    store = InKiln(ref, 15.0, 5.0, 25.0)
    assert [v.as_dict() for v in judge_pieces(store, pieces, workers=2)] == [
        v.as_dict() for v in judge_pieces(store, pieces)
    ]


def test_a_right_kiln_changes_words_alone_and_none_not_even_those(ref):
    assert found_of(judge_piece(InKiln(ref, 0.0), piece(COLOURED))) == found_of(judge_piece(ref, piece(COLOURED)))
    assert not [k for k in judge_piece(ref, piece(COLOURED)).question if k.startswith("kiln")]
    assert "own_kiln" not in plan_of(ref, piece(COLOURED)).as_dict()


def test_clears_choose_their_own_heat_whatever_the_kiln(ref):
    alone, hot = (clears(s, "fine-silver-foil", COPPER) for s in (ref, InKiln(ref, 60.0, 40.0, 80.0)))
    assert [(r.place, r.glass.key, r.verdict.as_dict()) for r in alone] == [
        (r.place, r.glass.key, r.verdict.as_dict()) for r in hot
    ]


# Words


@pytest.mark.parametrize(
    ("band", "units", "words"),
    [
        ((10, 10, 10), "metric", "10 K hotter than it shows"),
        ((-10, -10, -10), "metric", "10 K cooler than it shows"),
        ((8, 5, 11), "metric", "8 K (5 to 11) hotter than it shows"),
        ((-8, -11, -5), "metric", "8 K (5 to 11) cooler than it shows"),
        ((10, 5, 15), "studio", "18 °F (9 to 27) hotter than it shows"),
        ((2, -3, 7), "metric", "2 K hotter than it shows (3 K cooler to 7 K hotter)"),
        ((0, 0, 0), "metric", "as hot as it shows"),
        ((0, 0, 3), "metric", "as hot as it shows (0 to 3 K hotter)"),
        ((0, -3, 3), "metric", "as hot as it shows (3 K cooler to 3 K hotter)"),
        ((0, -4, 0), "metric", "as hot as it shows (0 to 4 K cooler)"),
    ],
)
def test_how_a_kiln_runs(band, units, words):
    assert runs_words(Band(*band), units) == words


def test_what_an_offset_is_told_of():
    kept = KilnOffset(8.0, 5.0, 11.0, "own test", "2024-06-01", (3, 4))
    assert rests_on(kept) == "own test, 2024-06-01, tiles 3, 4"
    assert rests_on(replace(kept, tiles=(3,))) == "own test, 2024-06-01, tile 3"
    assert rests_on(None) == ""
    assert question_of(offset_of(kept), "x") == {
        "kiln_offset_k": 8.0,
        "kiln_offset_low_k": 5.0,
        "kiln_offset_high_k": 11.0,
        "kiln_rests_on": "x",
    }
    assert question_of(TRUE) == {"kiln_offset_k": 0.0}
    assert heat_words(800.0, TRUE) == ""
    assert setting_words(800.0, TRUE) == "800 °C"
    assert setting_words(800.0, offset_of(kept)) == "800 °C (805 to 811 °C in this kiln)"
    assert setting_words(800.0, Band.exact(-12.0)) == "800 °C (788 °C in this kiln)"


@pytest.mark.parametrize(
    ("text", "band"),
    [
        ("10 K", (10, 10, 10)),
        ("-10 C", (-10, -10, -10)),
        ("5-11 K", (8, 5, 11)),
        ("-11 to -5 K", (-8, -11, -5)),
        ("18F", (10, 10, 10)),
        ("9-27 F", (10, 5, 15)),
        ("10 +- 3 K", (10, 7, 13)),
        ("-3 to 5 K", (1, -3, 5)),
    ],
)
def test_a_range_of_offsets_is_read(text, band):
    found = temperature_difference_band_k(text)
    assert (found.value, found.low, found.high) == pytest.approx(band)


@pytest.mark.parametrize("text", ["11-5 K", "5-11", "5 to 9000 K", "-9000 K", "", "hot", "5-11 mm", "5 K - 6"])
def test_what_is_no_range_of_offsets_is_refused(text):
    with pytest.raises(BadInput) as caught:
        temperature_difference_band_k(text, where="--kiln-offset")
    assert "--kiln-offset" in caught.value.line


@pytest.fixture
def bench(tmp_path):
    """A workshop with a kiln, and a piece file beside it."""
    with Workshop(tmp_path / "shop.db", write=True) as shop:
        shop.add(
            "kiln",
            {
                "key": "kiln",
                "offset_k": 15.0,
                "offset_low_k": 5.0,
                "offset_high_k": 25.0,
                "basis": "own test",
                "date": "2024-06-01",
            },
        )
    text = (
        '[piece]\ntitle = "One"\nwidth = "30 mm"\nheight = "30 mm"\n[base]\nmetal = "copper-sheet"\nthickness = '
        '"0.75 mm"\n[[step]]\ndo = "clean"\n[[step]]\ndo = "coat"\nglass = "clear-hard-lead-free"\nthickness = '
        '"0.12 mm"\n[[step]]\ndo = "fire"\nkiln = "840 C"\n'
    )
    (tmp_path / "one.toml").write_text(text)
    return tmp_path


def test_every_page_says_how_the_kiln_runs(refdb, bench):
    file, own = str(bench / "one.toml"), ("--workshop", str(bench / "shop.db"))

    def told(*words: str) -> str:
        return " ".join(refdb(*words, *own).out.split())

    runs = "15 K (5 to 25) hotter than it shows"
    assert f"running {runs}, and judged so at every setting; own test, 2024-06-01" in told("piece", "check", file)
    assert "840 °C (845 to 865 °C in this kiln)" in json.dumps(
        json.loads(refdb("piece", "check", file, *own, "--json").out), ensure_ascii=False
    )
    plan = told("piece", "plan", file)
    assert f"Your kiln runs {runs} (own test, 2024-06-01)" in plan
    assert " 840 1544 " in plan
    whole = json.loads(refdb("piece", "plan", file, *own, "--json").out)
    assert whole["own_kiln"] == {
        "kiln_offset_k": 15.0,
        "kiln_offset_low_k": 5.0,
        "kiln_offset_high_k": 25.0,
        "kiln_rests_on": "own test, 2024-06-01",
    }
    assert whole["firings"][0]["kiln_c"] == 840.0
    refdb("piece", "plan", file, *own, "--html", str(bench / "one.html"))
    assert f"Your kiln runs {runs}" in (bench / "one.html").read_text(encoding="utf-8")
    assert f"set to 840 °C, running {runs}; own test, 2024-06-01" in told("suits", HARD, COPPER, "--kiln", "840C")
    typed = told("suits", HARD, COPPER, "--kiln", "840C", "--kiln-offset", "-11 to -5 K")
    assert "running 8 K (5 to 11) cooler than it shows" in typed
    assert "own test" not in typed


def test_a_sheet_without_a_kiln_says_nothing_of_it(ref):
    assert "Your kiln" not in sheet(plan_of(ref, piece(BASE)), judge_piece(ref, piece(BASE)))


def test_a_range_is_typed_with_the_question(refdb):
    asked = json.loads(refdb("suits", HARD, COPPER, "--kiln", "815C", "--kiln-offset", "5-11 K", "--json").out)
    assert {k: v for k, v in asked["question"].items() if k.startswith("kiln_offset")} == {
        "kiln_offset_k": 8.0,
        "kiln_offset_low_k": 5.0,
        "kiln_offset_high_k": 11.0,
    }
    ran = refdb("suits", HARD, COPPER, "--kiln", "815C", "--kiln-offset", "11-5 K")
    assert ran.status == 2
    assert ran.err.count("\n") == 1
