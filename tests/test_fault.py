"""The command that goes from a symptom to its causes."""

from __future__ import annotations

import json

import pytest

from refdb.records import Fault, Symptom
from refdb.store.fault_search import causes_of, meant, narrowed, split
from refdb.store.rule_tables import GROUNDS, PARTS, STAGES
from refdb.store.topics import of_fault


@pytest.fixture
def faults(ref) -> list[Fault]:
    return ref.faults()


@pytest.fixture
def symptoms(ref) -> list[Symptom]:
    return ref.symptoms()


def keys(ref, text: str) -> list[str]:
    return [s.key for s in meant(ref, text).symptoms]


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        ("chips at the edge", "edge-chip"),
        ("why did it chip", "edge-chip"),
        ("crazed", "crazing"),
        ("hairline", "hairline"),
        ("cloudy", "cloudy"),
        ("my clear went milky", "cloudy"),
        ("it bent", "warp"),
        ("warped", "warp"),
        ("bubbles", "bubbles"),
        ("black spots", "black-dots"),
        ("yellow over silver", "yellow-silver"),
        ("leaf disappeared", "leaf-gone"),
        ("the copper is still red", "copper-red"),
        ("a bumpy surface", "orange-peel"),
        ("line work scratches off", "line-scrape"),
        ("stuck to the trivet support", "sticking"),
        ("BUBBLES!", "bubbles"),
    ],
)
def test_words_of_a_person_find_the_symptom(ref, asked, first):
    assert keys(ref, asked)[0] == first


#: What people say, and every symptom it may mean that has to be offered; the first of them stands first.
MEANINGS = {
    "peels": ("pop-off", "orange-peel", "foil-blister", "line-scrape"),
    "flakes": ("pop-off", "fish-scale", "edge-chip"),
    "comes off": ("pop-off",),
    "came off": ("pop-off",),
    "does not stick": ("pop-off", "foil-blister", "wires-moved"),
    "won't stick": ("pop-off", "foil-blister", "wires-moved"),
    "no adhesion": ("pop-off",),
    "spots": ("black-dots", "black-specks", "pull-through", "speckled"),
    "scratches": ("scratches",),
    "ran": ("ran",),
    "grainy": ("grainy",),
    "dark red": ("copper-red", "dull-warm", "pink-brown"),
    "fish scale": ("fish-scale",),
    "shatter": ("shatter",),
    "pinging": ("pinging",),
    "turned yellow": ("yellow-silver", "white-yellowed"),
    "green stain": ("copper-green", "healed-green", "edge-burn", "green-metal"),
    "muddy": ("muddy",),
    "lost its shine": ("dull-skin",),
    "collapsed": ("collapsed",),
    "wire sank": ("wires-gone",),
    "wires moved": ("wires-moved",),
    "fall through": ("open-cell",),
    "firescale": ("fire-scale", "fire-stain", "black-specks"),
    "firestain": ("fire-stain",),
    "dimples": ("dimples",),
    "soot": ("soot",),
    "rust": ("rust",),
    "speckled": ("speckled", "black-dots", "black-specks", "pull-through"),
    "cracks": ("crazing", "hairline", "cracks-return"),
    "cracks come back": ("cracks-return",),
}


#: Of these no meaning stands before the others.
EQUALLY_LIKELY = ("flakes", "does not stick", "won't stick", "firescale", "spots", "turned yellow")


@pytest.mark.parametrize("asked", MEANINGS)
def test_words_that_may_mean_several_faults_offer_all_of_them(ref, asked):
    found = keys(ref, asked)
    assert set(MEANINGS[asked]) <= set(found)
    assert found[0] == MEANINGS[asked][0] or asked in EQUALLY_LIKELY


@pytest.mark.parametrize(
    ("asked", "first", "never"),
    [
        ("peels off in sheets", "pop-off", "orange-peel"),
        ("orange peel", "orange-peel", "pop-off"),
        ("stuck to the shelf", "sticking", "pop-off"),
        ("will not stick to the metal", "pop-off", "sticking"),
        ("green line in the crack", "healed-green", "edge-burn"),
    ],
)
def test_what_tells_two_faults_apart_is_heeded(ref, asked, first, never):
    found = keys(ref, asked)
    assert found[0] == first
    assert never not in found[:2]


def test_causes_stand_in_order_of_likelihood(ref, symptoms):
    for symptom in symptoms:
        held = causes_of(ref, [symptom])
        assert [f.rank for f in held] == list(range(1, len(held) + 1)), symptom.key
        assert len(held) >= 2


def test_several_sights_are_looked_for_each_on_its_own(ref):
    both = keys(ref, "why did it chip, craze or cloud?")
    assert {"edge-chip", "crazing", "cloudy"} <= set(both)
    one = meant(ref, "bubbles").symptoms
    assert meant(ref, "bubbles and bubbles").symptoms[0] == one[0]
    assert meant(ref, "bubbles, qqqq").symptoms[0] == one[0]


def test_a_cause_is_found_by_what_it_says(ref):
    assert {"leaf-gone", "wires-gone"} <= set(keys(ref, "eutectic"))


def test_idle_words_find_nothing(ref):
    assert meant(ref, "the").symptoms == ()
    assert meant(ref, "why is it").symptoms == ()


def test_every_symptom_is_found_by_its_key_its_label_and_each_of_its_words(ref, symptoms):
    for symptom in symptoms:
        assert keys(ref, symptom.key)[0] == symptom.key
        assert symptom.key in keys(ref, symptom.label)
        for word in split(symptom.words):
            assert symptom.key in keys(ref, word), (symptom.key, word)


def test_three_answers_leave_few_symptoms_and_lose_none(symptoms):
    for symptom in symptoms:
        for stage in split(symptom.stages):
            for ground in split(symptom.beneath) or GROUNDS:
                left = narrowed(symptoms, stage, symptom.part, ground)
                assert symptom in left
                assert len(left) <= 17
    assert {p for s in symptoms for p in [s.part]} == set(PARTS)
    assert {t for s in symptoms for t in split(s.stages)} == set(STAGES)


def test_a_page_tells_causes_apart_on_one_screen(refdb):
    ran = refdb("fault", "crazing")
    assert ran.status == 0
    assert ran.out.count("\n") <= 24
    for word in ("tell:", "do:", "4 causes", "--full", "test tile"):
        assert word in ran.out
    assert ran.out.index("  1  ") < ran.out.index("  2  ") < ran.out.index("  3  ")


def test_a_whole_page_gives_cause_check_remedy_and_prevention(refdb):
    ran = refdb("fault", "crazing", "--full")
    assert ran.status == 0
    for word in ("tell", "do", "avoid", "rules", "tension-lasting", "[Common practice]", "Sources", "test tile"):
        assert word in ran.out


@pytest.mark.parametrize("asked", [*MEANINGS, "bubbles", "pits", "black", "yellow", "clay", "foil", "edges"])
def test_every_answer_fits_one_screen_and_names_how_many_causes(refdb, asked):
    ran = refdb("fault", asked)
    assert ran.status == 0
    assert ran.out.count("\n") <= 24
    assert "causes" in ran.out


@pytest.mark.parametrize("full", [(), ("--full",)])
def test_a_fault_names_the_subject_of_practice_that_its_page_links_to(ref, refdb, full):
    of_page = of_fault(ref)
    for key, first in (("wires-gone", "cloisonne"), ("open-cell", "plique-a-jour")):
        assert of_page[key][0].key == first
        assert f"How it is done: refdb practice {first}" in " ".join(refdb("fault", key, *full).out.split())
        assert json.loads(refdb("fault", key, "--json").out)["practice"][key][0] == first
    assert refdb("practice", "plique-a-jour").status == 0


@pytest.mark.trade
@pytest.mark.parametrize(
    ("symptom", "first", "later"),
    [
        # What a practitioner would look at first, against a subject that few who have the fault work in.
        ("pop-off", {"cleaning", "pickling"}, {"other-glasses", "shipping", "clay-rings", "hollow-clay"}),
        ("crazing", {"counter-enamel", "fit", "thickness"}, {"old-and-unknown-glass", "size-and-mass", "torch"}),
        ("cloudy", {"washing"}, {"basse-taille", "guilloche"}),
        ("edge-chip", {"fit"}, {"setting", "shipping"}),
        ("crawl", {"cleaning"}, {"liquid-enamel", "grisaille"}),
        ("warp", {"counter-enamel", "thickness"}, {"size-and-mass", "champleve"}),
        ("clay-crack", {"metal-clay"}, {"two-clays", "things-in-clay"}),
        ("steam-pits", {"drying"}, {"torch"}),
        ("shatter", {"cooling"}, {"other-glasses", "things-in-clay"}),
        ("grainy", {"firing"}, {"lessons", "kiln-truth"}),
    ],
)
def test_the_nearest_subject_of_practice_stands_first(ref, symptom, first, later):
    keys = [t.key for t in of_fault(ref)[symptom]]
    assert set(keys[: len(first)]) == first
    assert later <= set(keys[len(first) :])


def test_a_subject_of_one_way_of_working_leads_its_own_faults(ref):
    """The nearest counter-examples: faults that come of that way alone."""
    of = of_fault(ref)
    own = {"open-cell": "plique-a-jour", "wires-moved": "cloisonne", "gold-pale": "gold-foil-bonded-to-silver"}
    own |= {"lustre-spoilt": "lustre-and-liquid-gold", "scratches": "finishing", "ring-size": "clay-rings"}
    assert {s: of[s][0].key for s in own} == own


def test_without_words_in_a_pipe_every_symptom_is_named_by_what_it_is_seen_in(refdb, faults, symptoms):
    ran = refdb("fault")
    assert ran.status == 0
    assert ran.out.count("\n") <= 24
    rows = json.loads(refdb("fault", "--json").out)["rows"]
    assert len(rows) == len(faults)
    named = {w.strip(" ,") for line in ran.out.splitlines() for w in line.partition(":")[2].split() or line.split()}
    assert {s.key for s in symptoms} <= named
    assert len(symptoms) >= 60
    whole = refdb("fault", "--full").out
    for symptom in symptoms:
        assert symptom.label[:20] in whole, symptom.key


def test_in_a_terminal_two_or_three_questions_narrow_it(refdb, monkeypatch, symptoms):
    """Answers as a person types them: by number, by the beginning of a word, and Enter for any."""
    from refdb.cli import fault_questions

    answers = iter(["²", "9" * 5_000, "as", "99", "1", ""])
    monkeypatch.setattr(fault_questions, "prompt", lambda *a, **k: next(answers))
    left, told = fault_questions.asked(symptoms)
    assert told == "as it cools, cracks and loss"
    assert {"crazing", "hairline", "shatter"} <= {s.key for s in left}
    assert all("as it cools" in split(s.stages) and s.part == "cracks and loss" for s in left)


def test_a_misspelt_word_is_read_as_the_nearest_and_it_is_said(refdb):
    ran = refdb("fault", "bublies")
    assert ran.status == 0
    assert "read as “bubbles”" in ran.out or 'read as "bubbles"' in ran.out
    assert "Bubbles in the glass" in ran.out


def test_nothing_found_is_one_line(refdb):
    ran = refdb("fault", "xylophone")
    assert (ran.status, ran.out, ran.err.count("\n")) == (3, "", 1)


@pytest.mark.parametrize("words", ["?!", " ", "--", "\x1b[31m", "x" * 100_000, "%_*\"'", "é" * 300])
def test_hostile_words_are_one_line(refdb, words):
    ran = refdb("fault", "--", words)
    assert ran.status in (2, 3)
    assert ran.err.count("\n") == 1
    assert len(ran.err) < 500
    assert "\x1b" not in ran.err


def test_json_and_csv_exclude_each_other(refdb):
    assert refdb("fault", "--json", "--csv").status == 2


def test_a_cause_can_be_shown_and_found(refdb):
    assert refdb("show", "crazing-expansion").status == 0
    assert refdb("show", "crazing").status == 0
    assert "crazing" in refdb("find", "network", "cracks").out
    assert "fault" in refdb("sources", "edinburgh-encyclopaedia").out


def test_every_source_of_a_row_is_cited(refdb):
    body = json.loads(refdb("fault", "cracked", "--json").out)
    assert {r["source"] for r in body["rows"]} == set(body["sources"])
    assert body["question"] == {"words": "cracked"}


def test_a_piece_file_puts_what_its_judge_found_first(refdb, tmp_path):
    path = tmp_path / "one-face.toml"
    path.write_text(
        '[piece]\nwidth = "3 cm"\nheight = "2 cm"\n[base]\nmetal = "copper-sheet"\nthickness = "0.5 mm"\n'
        '[[step]]\ndo = "clean"\n[[step]]\ndo = "coat"\nglass = "clear-hard-lead-free"\nthickness = "0.4 mm"\n'
        '[[step]]\ndo = "fire"\nkiln = "815 C"\n'
    )
    usual = json.loads(refdb("fault", "crazing", "--json").out)["rows"]
    rows = json.loads(refdb("fault", "crazing", "--piece", str(path), "--json").out)["rows"]
    assert {r["key"] for r in rows} == {r["key"] for r in usual}
    assert all("in_the_piece" not in r for r in usual)
    found = [r for r in rows if r["in_the_piece"]]
    assert found
    assert any("one-face" in rule for r in found for rule in r["in_the_piece"])
    assert rows[0] in found
    assert "in the piece" in refdb("fault", "crazing", "--piece", str(path)).out


_STEPS = (
    '[piece]\nwidth = "3 cm"\nheight = "2 cm"\n[base]\nmetal = "copper-sheet"\nthickness = "0.8 mm"\n'
    '[[step]]\ndo = "clean"\n[[step]]\ndo = "mask"\nface = "back"\n[[step]]\ndo = "coat"\n'
    'glass = "clear-hard-lead-free"\nthickness = "0.15 mm"\n%s[[step]]\ndo = "fire"\nkiln = "%s"\n%s'
)


@pytest.mark.parametrize(
    ("symptom", "key", "coat", "kiln", "fire"),
    [
        ("bubbles", "bubbles-damp", "dried = false\n", "830 C", ""),
        ("dark cloud", "dark-cloud-damp", "dried = false\n", "830 C", ""),
        ("grains jumped", "steam-pits-wet", "dried = false\n", "830 C", ""),
        ("milky", "cloudy-fines", "washed = false\n", "830 C", ""),
        ("orange peel", "peel-short", "", "830 C", "minutes = 0.6\n"),
        ("copper still red", "copper-red-cool", "", "700 C", ""),
        ("beads", "crawl-too-hot", "", "900 C", ""),
        ("blackened edges", "edge-burn-over-fired", "", "830 C", "minutes = 14\n"),
    ],
)
def test_a_piece_file_brings_the_cause_it_tells_of_to_the_top(refdb, tmp_path, symptom, key, coat, kiln, fire):
    """With the slip in the file its cause comes first and is marked; in the sound file it is not found."""
    path, sound = tmp_path / "slip.toml", tmp_path / "sound.toml"
    path.write_text(_STEPS % (coat, kiln, fire))
    sound.write_text(_STEPS % ("dried = true\nwashed = true\n", "830 C", ""))
    rows = json.loads(refdb("fault", symptom, "--piece", str(path), "--json").out)["rows"]
    held = [r for r in rows if r["symptom"] == rows[0]["symptom"]]
    found = [r["key"] for r in held if r["in_the_piece"]]
    assert key in found
    assert [r["key"] for r in held][: len(found)] == found
    cannot = [r["looked_for"] for r in held[len(found) :]]
    assert cannot == sorted(cannot)
    well = json.loads(refdb("fault", symptom, "--piece", str(sound), "--json").out)["rows"]
    assert key not in [r["key"] for r in well if r["in_the_piece"]]


def test_too_cool_and_too_hot_are_told_apart(refdb, tmp_path):
    """What comes of a cool kiln is not found in a hot one, nor the other way round."""

    def found(kiln: str) -> set[str]:
        path = tmp_path / "kiln.toml"
        path.write_text(_STEPS % ("", kiln, ""))
        rows = json.loads(refdb("fault", "--piece", str(path), "--json").out)["rows"]
        return {r["key"] for r in rows if r["in_the_piece"]}

    cool, hot, right = found("700 C"), found("920 C"), found("835 C")
    assert {"peel-cool", "cloudy-under-fired"} <= cool - hot
    assert {"crawl-too-hot", "pinholes-over-fired"} <= hot - cool
    assert not {"peel-cool", "crawl-too-hot"} & right


def test_what_no_piece_file_can_tell_is_said(refdb, tmp_path):
    path = tmp_path / "slip.toml"
    path.write_text(_STEPS % ("dried = false\n", "830 C", ""))
    out = " ".join(refdb("fault", "bubbles", "--piece", str(path)).out.split())
    assert "damp-coat (step 3)" in out
    assert "a piece file cannot tell" in out
    assert "looked for and not found" in out
    assert "not in a piece file" not in " ".join(refdb("fault", "bubbles").out.split())


def test_a_piece_without_words_shows_only_what_was_found(refdb, tmp_path):
    path = tmp_path / "slip.toml"
    path.write_text(_STEPS % ("dried = false\n", "830 C", ""))
    out = refdb("fault", "--piece", str(path)).out
    assert "damp-coat (step 3)" in out
    assert "a piece file cannot tell" not in out
    assert out.count("\n") < 140


def test_a_piece_file_that_cannot_be_read(refdb, tmp_path):
    ran = refdb("fault", "crazing", "--piece", str(tmp_path / "gone.toml"))
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
