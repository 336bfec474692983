"""The question "does this glass suit this metal" at the terminal."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from refdb.cli.short_page import SCREEN, short_page
from refdb.cli.verdict_page import measure_text, verdict_page
from refdb.judge.evidence import GRADES
from refdb.judge.reason import CARE, NOT, SUITS, UNSURE, Measure, Reason
from refdb.judge.rules import Limit, Rule, Words
from refdb.judge.verdict import TEST_TILE, Caution, LayerNumbers, Stage, Verdict
from refdb.judge.wording import Context

PAIR = ("suits", "clear-hard-lead-free", "copper-sheet")


def stress(value: float) -> Measure:
    return Measure(value, value - 10, value + 10, "MPa")


def rule(key: str, title: str, speaks_of: str, source: str, words: Words) -> Rule:
    return Rule(key, title, speaks_of, source, "common practice", words, words.why, Limit(0.0, None, ""))


RULES = [
    rule("too-thin", "Metal after firing", "metal", "practice-a",
         Words("", "at least 0.75 mm", "Thin metal bends.", "Roll four cards.", "thin metal")),
    rule("squeezed", "Contraction gap", "pair", "practice-b",
         Words("", "up to 4,500 ppm", "It squeezes.", "Nothing.", "a wide gap")),
    rule("window", "Kiln window", "metal", "practice-c",
         Words("800 to 1068 °C", "below 1068 °C", "There is room.", "A softer glass.")),
]  # fmt: skip
VERDICT = Verdict(
    CARE,
    0.9,
    "The metal is on the thin side.",
    {
        "glass": "g",
        "glass_label": "Clear, hard",
        "metal": "m",
        "metal_label": "Copper clay",
        "shape": "flat",
        "metal_thickness_mm": {"value": 0.65, "low": 0.61, "high": 0.7},
        "first_coat_mm": 0.2,
        "kiln_c": 815.0,
        "kiln_offset_k": -10.0,
        "front_mm": {"value": 0.3, "low": 0.3, "high": 0.3},
        "back_mm": {"value": 0.0, "low": 0.0, "high": 0.0},
    },
    (
        Reason("too-thin", CARE, found=Measure(0.65, 0.61, 0.7, "mm"), split=(0.2, 0.8, 0.0)),
        Reason("squeezed", SUITS, found=Measure(2700.0, 2100.0, 3300.0, "ppm"), split=(1.0, 0.0, 0.0)),
        Reason("window", SUITS, split=(1.0, 0.0, 0.0)),
    ),
    {
        "gap_ppm": Measure(2700.0, 2100.0, 3300.0, "ppm"),
        "set_point_c": Measure(522.0, 471.0, 552.0, "°C"),
        "kiln_low_c": Measure(800.0, 800.0, 800.0, "°C"),
        "kiln_high_c": Measure(870.0, 870.0, 870.0, "°C"),
    },
    (
        Stage(
            "first coat, front",
            1,
            (
                LayerNumbers("metal", stress(58), stress(0), stress(-57)),
                LayerNumbers("front", stress(-87), stress(-55), stress(-25)),
            ),
            Measure(0.4, 0.3, 0.5, "mm"),
            Measure(0.0026, 0.001, 0.004, ""),
            Measure(8.8, 3.4, 22.9, "J/m²"),
        ),
    ),
    (Caution("Never quench a piece that carries glass.", "practice-d"),),
    {SUITS: 0.1, CARE: 0.9, NOT: 0.0},
    (),
    {"practice-a": "Practice of enamellers", "practice-b": "Another text"},
    context=Context(rules={r.key: r for r in RULES}, is_question=True),
)


def words(page) -> str:
    return " ".join(" ".join(page.lines).replace("\u00a0", " ").split())


def test_the_page_has_everything_in_order(plain_environment):
    page = verdict_page(VERDICT, note="3 cards before firing")
    text = words(page)
    wanted = [
        "Clear, hard on copper clay",
        "Suits with care: holds in 10 of 10 draws, plainly in 1",
        "The metal is on the thin side.",
        "0.65 mm (0.61 to 0.70); 3 cards before firing",
        "0.30 mm on the front, none on the back",
        "set to 815 °C, running 10 K cooler than it shows",
        "1 Metal after firing: suits with care, holds in 10 of 10 draws, plainly in 2 [practice-a]",
        "Found 0.65 mm (0.61 to 0.70). Limit: at least 0.75 mm.",
        "Thin metal bends.",
        "What would change it: roll four cards.",
        "2 Contraction gap: suits. Found 2,700 ppm (2,100 to 3,300). Limit: up to 4,500 ppm [practice-b].",
        "3 Kiln window: suits. 800 to 1068 °C. Limit: below 1068 °C [practice-c].",
        "contraction gap 2,700 ppm (2,100 to 3,300)",
        "glass sets at 522 °C (471 to 552)",
        "kiln window 800 to 870 °C",
        "edge release 8.8 J/m² (3.4 to 22.9) at most",
        "firing glass at its free face at the metal mm %",
        "first coat, front front -25 (-35 to -15) -87 (-97 to -77) 0.40 0.26",
        "Never quench a piece that carries glass. [practice-d]",
        "practice-a: Practice of enamellers",
        TEST_TILE,
    ]
    places = [text.index(w) for w in wanted]
    assert places == sorted(places)
    assert words(page).count("What would change it") == 1
    assert "behind the figures: practice-b" not in text
    assert page.lines[-1] == TEST_TILE


@pytest.mark.parametrize(
    "more", [(), ("--back", "0"), ("--front", "0.4mm", "--back", "0.25mm", "--shape", "domed", "--kiln", "815C")]
)
@pytest.mark.parametrize(
    "pair", [PAIR[1:], ("clear-hard-lead-free", "copper-clay"), ("window-soda-lime", "sterling-sheet")]
)
def test_a_whole_page_is_short_and_fits_eighty_columns(refdb, pair, more):
    """A page and a half of a usual window of fifty-odd lines, and one more reason for every further input."""
    lines = refdb("suits", *pair, *more, "--full").out.splitlines()
    assert max(map(len, lines)) <= 80
    assert 40 < len(lines) <= 130
    if not more and pair == PAIR[1:]:
        assert len(lines) <= 80


def test_both_faces_alike_share_a_row(refdb):
    alike = refdb(*PAIR, "--full").out
    unlike = refdb(*PAIR, "--back", "0.25mm", "--full").out
    assert "full build         both" in alike
    assert "full build         both" not in unlike
    assert "full build         front" in unlike


def test_a_source_is_one_line_and_the_figures_name_theirs(refdb):
    body = json.loads(refdb(*PAIR, "--json").out)
    shown = refdb(*PAIR, "--full").out.partition("Sources, in short")[2]
    for key in body["sources"]:
        assert re.search(rf"(^|[ ,]){re.escape(key)}[:,\n]", shown), key
    assert "behind the figures: " in shown


def test_the_page_in_studio_units(plain_environment):
    text = words(verdict_page(VERDICT, "studio"))
    for wanted in (
        "set to 1499 °F, running 18 °F cooler than it shows",
        "glass sets at 972 °F (880 to 1026)",
        "kiln window 1472 to 1598 °F",
    ):
        assert wanted in text


def test_the_screen_has_what_was_asked_what_comes_of_it_and_what_to_do(plain_environment):
    decided = (replace(VERDICT.reasons[0], deciding=True), *VERDICT.reasons[1:])
    text = words(short_page(replace(VERDICT, reasons=decided)))
    wanted = [
        "Clear, hard on copper clay",
        "Suits with care: holds in 10 of 10 draws, plainly in 1. The metal is on the thin side.",
        "1* Metal after firing: 0.65 mm (0.61 to 0.70) (holds in 10 of 10 draws, plainly in 2)",
        "limit: at least 0.75 mm.",
        "Do: roll four cards.",
        "Holds: contraction gap; kiln window.",
        "contraction gap 2,700 ppm (2,100 to 3,300); finished glass at -55 MPa (-65 to -45); kiln 800 to 870 °C.",
        "Take care: never quench a piece that carries glass",
        TEST_TILE,
    ]
    places = [text.index(w) for w in wanted]
    assert places == sorted(places)
    assert text.endswith("--full")


BUILDS = [
    (),
    ("--back", "0"),
    ("--metal-thickness", "0.3mm", "--shape", "domed", "--kiln", "815C"),
    ("--front", "0.45mm", "--back", "0.25mm", "--kiln", "700C", "--order", "back-first", "--between", "168 h"),
]


@pytest.mark.parametrize(
    "metal", ["copper-sheet", "copper-clay", "sterling-sheet", "low-carbon-steel", "aluminium-sheet"]
)
@pytest.mark.parametrize("build", BUILDS)
def test_whatever_is_asked_the_answer_is_one_screen(refdb, metal, build):
    """24 lines of 80 columns, whichever units; a glass of each kind, a hole in the figures and foils of the trade."""
    for glass in (
        "clear-hard-lead-free",
        "clear-medium-leaded",
        "red-opaque-cadmium",
        "steel-ground-coat",
        "painting-black",
        "window-soda-lime",
        "yellow-opaque-antimony",
        "borosilicate-3-3",
    ):
        for units in ("metric", "studio"):
            ran = refdb("suits", glass, metal, *build, "--units", units)
            lines = ran.out.splitlines()
            assert ran.status in (0, 1, 5), ran.err
            assert len(lines) <= SCREEN == 24, (glass, ran.out)
            assert max(map(len, lines)) <= 80, (glass, ran.out)
            assert TEST_TILE in lines[-1]


def test_the_screen_tells_the_verdict_of_the_whole_page(refdb):
    """Nothing that decides is left out: the outcome, the sentence and the first reason stand on both."""
    for arguments in (
        PAIR[1:],
        (PAIR[1], "copper-clay", "--metal-thickness", "2 cards"),
        ("painting-black", "copper-sheet"),
    ):
        short, full = (" ".join(refdb("suits", *arguments, *more).out.split()) for more in ((), ("--full",)))
        body = json.loads(refdb("suits", *arguments, "--json").out)
        for text in (short, full):
            assert body["sentence"] in text
            assert body["verdict"] in text.lower()
        for reason in [r for r in body["reasons"] if r["deciding"]][:1]:
            assert reason["title"].lower() in short.lower()
            assert reason["limit"] in short


def test_cannot_say_claims_no_sureness_and_names_what_is_missing(plain_environment):
    unsure = replace(
        VERDICT,
        outcome=UNSURE,
        confidence=0.4,
        sentence="Not known: the expansion (ask the maker).",
        missing=("the expansion (ask the maker)",),
    )
    text = words(verdict_page(unsure))
    assert "Cannot say Not known: the expansion" in text
    assert "draws" not in text.partition("Reasons")[0]
    refused = words(verdict_page(replace(unsure, outcome=NOT, sentence="It comes off.")))
    assert "Not known the expansion (ask the maker)" in refused


def test_numbers_do_not_claim_more_than_they_hold():
    assert measure_text(Measure(-0.3, -0.4, 0.2, "MPa")) == "0 MPa"
    assert measure_text(Measure(2440.4, 2440.4, 2440.4, "ppm")) == "2,440 ppm"
    assert measure_text(Measure(0.651, 0.6, 0.7, "mm")) == "0.65 mm (0.60 to 0.70)"
    assert measure_text(Measure(12.44, 11.5, 13.8, "ppm/K")) == "12.4 ppm/K (11.5 to 13.8)"
    assert measure_text(Measure(30.0, 30.0, 30.0, "K"), "studio") == "54 °F"


@pytest.mark.parametrize(
    ("arguments", "status", "verdict"),
    [
        (("clear-hard-lead-free", "copper-sheet"), 0, "suits"),
        (("borosilicate-3-3", "copper-sheet"), 1, "does not suit"),
        (("clear-hard-lead-free", "brass-70-30"), 1, "does not suit"),
        (("yellow-opaque-antimony", "copper-sheet"), 5, "cannot say"),
    ],
)
def test_exit_status_tells_the_verdict(refdb, arguments, status, verdict):
    ran = refdb("suits", *arguments, "--json")
    assert ran.status == status
    assert json.loads(ran.out)["verdict"] == verdict
    text = refdb("suits", *arguments)
    assert text.status == status
    assert text.out.splitlines()[2].lower().startswith(verdict)
    assert TEST_TILE in text.out.splitlines()[-1]
    whole = refdb("suits", *arguments, "--full")
    assert whole.status == status
    assert whole.out.splitlines()[2].lower().startswith(verdict)
    assert whole.out.rstrip().endswith(TEST_TILE)


def test_json_of_a_verdict_keeps_its_promises(refdb):
    body = json.loads(refdb(*PAIR, "--json").out)
    assert body["schema"] == "refdb/2"
    assert {"question", "verdict", "confidence", "reasons", "numbers", "cautions", "sources"} <= set(body)
    for reason in body["reasons"]:
        assert {"rule", "outcome", "found", "limit", "why", "remedy", "source"} <= set(reason)
        assert reason["source"] in body["sources"]
    for stage in body["numbers"]["stages"]:
        assert {"name", "layers", "bow_mm_per_30mm", "metal_plastic_strain", "release_j_per_m2"} <= set(stage)
        for layer in stage["layers"]:
            assert layer["mean_mpa"]["low"] <= layer["mean_mpa"]["value"] <= layer["mean_mpa"]["high"]
    assert body["question"]["metal_thickness_mm"] == {"value": 0.8, "low": 0.8, "high": 0.8}


def test_cards_of_clay_are_before_firing_and_cards_of_sheet_are_not(refdb):
    def thickness(metal):
        body = json.loads(refdb("suits", "clear-hard-lead-free", metal, "--metal-thickness", "3 cards", "--json").out)
        return body["question"]["metal_thickness_mm"]

    fired, sheet = thickness("copper-clay"), thickness("copper-sheet")
    assert (sheet["low"], sheet["high"]) == (0.75, 0.9)
    assert fired["high"] < sheet["high"]
    assert fired["value"] < 0.9 * sheet["value"]
    out = refdb("suits", "clear-hard-lead-free", "copper-clay", "--metal-thickness", "3 cards", "--full").out
    assert f"{fired['value']:.2f} mm ({fired['low']:.2f} to {fired['high']:.2f})" in out
    assert "before firing" in out


def test_a_share_that_is_refused_is_told_with_its_rule(refdb):
    """Two cards with glass on one face: the head says in how many draws it holds, a reason by which rule."""
    bare = ("suits", "clear-hard-lead-free", "copper-clay", "--metal-thickness", "2 cards", "--front", "0.2mm")
    out, full = (" ".join(refdb(*bare, "--back", "0", *more).out.split()) for more in ((), ("--full",)))
    holds = re.search(r"(?:Suits with care|Cannot say): holds in (\d) of 10 draws", out)
    assert holds
    assert int(holds[1]) < 9
    assert re.search(rf"1\* Tension in the glass, finished, .*?\(holds in {holds[1]} of 10 draws", out)
    assert re.search(
        rf"1 Tension in the glass, finished, .*?: (suits with care|cannot say), holds in {holds[1]} of 10 draws", full
    )


@pytest.mark.parametrize(
    ("outcome", "shares", "told"),
    [
        (SUITS, (0.55, 0.38, 0.07), "Suits: holds in 9 of 10 draws, plainly in 6"),
        (CARE, (0.0, 0.75, 0.25), "Suits with care: holds in 8 of 10 draws, always with care"),
        (UNSURE, (0.0, 0.58, 0.42), "Cannot say: holds in 6 of 10 draws, always with care"),
        (CARE, (0.47, 0.48, 0.05), "Suits with care: holds in 10 of 10 draws, plainly in 5"),
        (CARE, (0.8, 0.0, 0.2), "Suits with care: holds in 8 of 10 draws"),
        (NOT, (0.0, 0.0, 1.0), "Does not suit: holds in none of 10 draws"),
    ],
)
def test_shares_are_told_to_the_nearest_tenth(outcome, shares, told):
    verdict = replace(VERDICT, outcome=outcome, shares=dict(zip((SUITS, CARE, NOT), shares, strict=True)))
    for page in (verdict_page, short_page):
        assert told in words(page(verdict))


def test_two_cards_are_worse_than_four(refdb):
    def worst(cards):
        body = json.loads(
            refdb("suits", "clear-hard-lead-free", "copper-clay", "--metal-thickness", f"{cards} cards", "--json").out
        )
        return body["numbers"]["stages"][0]["layers"][-1]["top_mpa"]["value"]

    assert worst(2) > worst(4)


def test_units_of_what_is_typed_do_not_change_the_answer(refdb):
    one = json.loads(
        refdb(*PAIR, "--metal-thickness", "0.762mm", "--front", "0.254 mm", "--kiln", "1500F", "--json").out
    )
    two = json.loads(
        refdb(*PAIR, "--metal-thickness", "30 thou", "--front", "0.01 in", "--kiln", "1088.7056 K", "--json").out
    )
    assert one["verdict"] == two["verdict"]
    assert one["numbers"]["gap_ppm"]["value"] == pytest.approx(two["numbers"]["gap_ppm"]["value"], rel=1e-5)
    assert one["question"]["kiln_c"] == pytest.approx(two["question"]["kiln_c"], abs=0.001)


def test_own_figure_moves_the_gap_and_cubical_is_a_third(refdb):
    def gap(*arguments):
        return json.loads(refdb(*PAIR, *arguments, "--json").out)["numbers"]["gap_ppm"]["value"]

    span = ("--span", "20-400C")
    assert gap("--expansion", "11 ppm/K", *span) > gap("--expansion", "13 ppm/K", *span) + 500
    assert gap("--expansion", "36 ppm/K", *span, "--cubical") == pytest.approx(gap("--expansion", "12 ppm/K", *span))
    body = json.loads(refdb(*PAIR, "--expansion", "12 ppm/K", *span, "--json").out)
    assert body["sources"]["own-figure"]


def test_a_weak_class_can_be_lifted_by_the_makers_figure(refdb):
    """The grade rises and the outcome is the sample's; what would lift a weak grade stands beside it."""
    weak = ("suits", "blue-transparent-lead-free", "low-carbon-steel")
    before = json.loads(refdb(*weak, "--json").out)["evidence"]
    after = json.loads(refdb(*weak, "--expansion", "12.4 ppm/K", "--span", "20-400C", "--json").out)["evidence"]
    assert GRADES.index(after["grade"]) < GRADES.index(before["grade"])
    assert "strip" in before["lift"]
    assert before["weakest"] == {"record": "blue-transparent-lead-free", "property": "expansion"}
    for more in ((), ("--full",)):
        assert before["words"] in " ".join(refdb(*weak, *more).out.split())


def test_a_ranking_tells_what_refuses_and_not_what_is_missing_besides(refdb):
    out = " ".join(refdb("glasses", "--on", "copper-sheet").out.split())
    refused = out.partition("does not suit")[2]
    assert "line work on bare metal" in refused
    assert "not known" not in refused
    assert (
        "not known: expansion of opaque antimony yellow" in out.partition("cannot say")[2].partition("does not suit")[0]
    )


def test_ranking_ties_what_cannot_be_told_apart(refdb):
    rows = json.loads(refdb("glasses", "--on", "copper-sheet", "--json").out)["rows"]
    order = {"suits": 0, "suits with care": 1, "cannot say": 2, "does not suit": 3}
    assert [order[r["verdict"]] for r in rows] == sorted(order[r["verdict"]] for r in rows)
    assert [r["place"] for r in rows] == sorted(r["place"] for r in rows)
    for row in rows:
        assert row["tied"] == (sum(r["place"] == row["place"] for r in rows) > 1)
        assert row["decided_by"]
    out = refdb("glasses", "--on", "copper-sheet", "--lead-free", "--full").out
    assert max(map(len, out.splitlines())) <= 80
    printed = re.findall(r"(?m)^ +(\d+)(=?) +([a-z0-9-]+) ", out)
    wanted = {r["key"]: r for r in rows}
    assert len(printed) > 20
    for place, tie, key in printed:
        assert (int(place), tie == "=") == (wanted[key]["place"], wanted[key]["tied"])
    assert "clear-medium-leaded" not in out


def test_cards_of_a_sheet_are_questioned_on_the_short_answer_too(refdb):
    """Who types "copper" and "3 cards" means clay more often than not; the whole answer and the page said so, alone."""
    sheet = refdb("suits", "clear-hard-lead-free", "copper", "--metal-thickness", "3 cards").out
    assert "Cards measure rolled clay, sheet is sold by mm or gauge." in sheet
    clay = refdb("suits", "clear-hard-lead-free", "copper-clay", "--metal-thickness", "3 cards").out
    assert "Cards measure" not in clay
