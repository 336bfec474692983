"""Own records answer wherever a key of the reference does, with the class they are like standing in."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from refdb.errors import NotFound
from refdb.judge.evidence import GRADES
from refdb.judge.fit.glass_on_metal import rank, suits
from refdb.judge.piece.in_kiln import Heated
from refdb.judge.piece.observed_firing import Firings, maturing
from refdb.quantities import Band
from refdb.records import Glass, KilnOffset, Metal, ObservedFiring
from refdb.store.reference import Reference
from refdb.store.workshop.beside_reference import MOST_LISTED, Shelf
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.records import FAMILY, own_record

CLASS, METAL, FOIL = "clear-medium-lead-free", "copper-sheet", "gold-foil-24k"
#: A class of which firings are known.
HARD = "clear-hard-lead-free"
SHEET = {"basis": "maker's sheet", "date": "2024-05-31"}
JAR = {
    "name": "Jar 12",
    **SHEET,
    "expansion_ppm_per_k": 12.4,
    "expansion_from_c": 20.0,
    "expansion_to_c": 400.0,
    "fuse_low_c": 780.0,
    "fuse_high_c": 815.0,
    "lead": "free",
}


@pytest.fixture
def shop(tmp_path):
    with Workshop(tmp_path / "workshop.db", write=True) as shop:
        yield shop


@pytest.fixture
def shelf(store, shop):
    with Shelf(store, shop.path) as shelf:
        yield shelf


def test_without_a_workshop_it_is_the_reference(store, tmp_path):
    with Shelf(store, tmp_path / "none.db") as shelf, Reference(store) as ref:
        assert shelf.materials() == ref.materials()
        assert shelf.summaries("glasses") == ref.summaries("glasses")
        assert shelf.find("foil") == ref.find("foil")
        assert shelf.sources() == ref.sources()
        assert shelf.tiles(CLASS, METAL) == []
        assert shelf._shop is None
        with pytest.raises(NotFound, match="my:jar"):
            shelf.glass("my:jar")
    assert not (tmp_path / "none.db").exists()


def test_a_jar_has_its_own_figures_and_its_class_for_the_rest(shelf, shop):
    shop.add("glass", JAR | {"like": CLASS})
    jar, like = shelf.glass("my:Jar 12"), shelf.glass(CLASS)
    assert (jar.key, jar.label, jar.family, jar.like) == ("my:jar-12", "Jar 12", like.family, CLASS)
    row = jar.value("expansion")
    assert row is not None
    assert (row.band, row.temp_low_c, row.temp_high_c) == (Band.exact(12.4), 20.0, 400.0)
    assert (row.basis, row.source) == ("published", "own-makers-sheet")
    assert "maker's sheet, 2024-05-31" in row.locator
    for name in ("set_point", "youngs_modulus", "poisson_ratio", "density"):
        assert jar.band(name) == like.band(name)
        taken = jar.value(name)
        assert taken is not None
        assert taken.note.startswith(f"taken from {CLASS}")
    assert "lead-free medium clear" in jar.summary
    preferred = [v.property for v in jar.values if v.preferred]
    assert len(preferred) == len(set(preferred))
    assert jar.role == like.role
    assert jar.made_for == like.made_for


@pytest.mark.parametrize(
    ("row", "class_content", "due"),
    [
        ("free", "free", "free"),
        (None, "free", "unknown"),
        (None, "contains", "contains"),
        ("contains", "free", "contains"),
        ("free", "contains", "free"),
        (None, "unknown", "unknown"),
    ],
)
def test_a_class_does_not_make_a_jar_free_of_lead(shop, row, class_content, due):
    full = shop.row("glass", shop.add("glass", JAR | {"lead": row, "cadmium": row})["key"])
    like = Glass("c", "C", "clears", "", "", lead=class_content, cadmium=class_content)
    jar = own_record("glass", full, like)
    assert isinstance(jar, Glass)
    assert (jar.lead, jar.cadmium) == (due, due)


def test_a_jar_alone_lacks_what_nobody_told(shelf, shop):
    shop.add("glass", JAR)
    verdict = suits(shelf, "my:jar-12", METAL)
    assert verdict.outcome == "cannot say"
    assert any("set point" in m for m in verdict.missing)
    assert shelf.glass("my:jar-12").family == FAMILY
    assert "no figure" not in verdict.sentence


def test_the_verdict_is_that_of_the_class_with_the_same_figures(shelf, shop):
    """A jar with an own expansion and firing range is judged as the class with those figures put in by hand."""
    shop.add("glass", JAR | {"like": CLASS})
    verdict = suits(shelf, "my:jar-12", METAL)
    like = shelf.glass(CLASS).with_expansion(Band.exact(12.4), (20.0, 400.0), "published")
    fuse = {"fuse_low": 780.0, "fuse_high": 815.0}
    like = replace(
        like,
        values=tuple(
            replace(v, value=fuse[v.property], low=None, high=None) if v.preferred and v.property in fuse else v
            for v in like.values
        ),
    )
    same = suits(shelf, like, METAL)
    assert verdict.numbers == same.numbers
    assert (verdict.outcome, verdict.shares) == (same.outcome, same.shares)
    assert "own-makers-sheet" in verdict.sources
    assert json.loads(json.dumps(verdict.as_dict()))["question"]["glass"] == "my:jar-12"


def test_a_rule_that_names_a_class_holds_for_a_jar_like_it(shelf, shop):
    shop.add("glass", JAR | {"like": CLASS, "name": "Jar on silver"})
    rules = [r.key for r in shelf.fit_rules() if CLASS in r.glass]
    assert rules, "the reference has no rule that names this class any more"
    of_class = {r.rule for r in suits(shelf, CLASS, "fine-silver-sheet").reasons}
    of_jar = {r.rule for r in suits(shelf, "my:jar-on-silver", "fine-silver-sheet").reasons}
    assert set(rules) <= of_class
    assert set(rules) <= of_jar


def test_a_guess_is_graded_as_one_and_moves_no_outcome(shelf, shop):
    guess = {"basis": "guess", "expansion_low_ppm_per_k": 12.2, "expansion_high_ppm_per_k": 12.6}
    shop.add("glass", JAR | {"like": CLASS, "name": "Sure"})
    shop.add("glass", JAR | {"like": CLASS, "name": "Guessed"} | guess)
    sure, verdict = (suits(shelf, f"my:{name}", "low-carbon-steel") for name in ("sure", "guessed"))
    assert sure.evidence is not None
    assert verdict.evidence is not None
    assert (verdict.evidence.grade, verdict.evidence.weakest) == ("guess", "my:guessed")
    assert GRADES.index(sure.evidence.grade) < GRADES.index("guess")
    assert suits(shelf, "my:guessed", METAL).outcome == "suits"


def test_a_figure_of_the_person_is_not_told_as_a_lack_of_one(shelf, shop):
    """Of a jar with a figure of unknown origin it was said that none is known, and that the maker's be written down."""
    guess = {"basis": "guess", "expansion_low_ppm_per_k": 12.2, "expansion_high_ppm_per_k": 12.6}
    shop.add("glass", JAR | {"like": CLASS, "name": "Unsaid"} | guess)
    evidence = suits(shelf, "my:unsaid", METAL).evidence
    assert evidence is not None
    assert evidence.grade == "trade"
    assert evidence.words.startswith("your own figure")
    assert evidence.lift.startswith("say that it is the maker's")
    shop.add("glass", {"like": CLASS, "name": "Bare", "basis": "guess", "date": "2026-01-01"})
    bare = suits(shelf, "my:bare", METAL).evidence
    assert bare is not None
    assert "your own" not in bare.words


def test_an_own_metal_stretches_the_curve_of_its_class(shelf, shop):
    shop.add(
        "metal",
        {
            "name": "Old sheet",
            **SHEET,
            "like": METAL,
            "expansion_ppm_per_k": 17.0,
            "expansion_from_c": 20.0,
            "expansion_to_c": 300.0,
            "solidus_c": 1000.0,
        },
    )
    own, like = shelf.metal("my:old-sheet"), shelf.metal(METAL)
    assert (own.strain(300.0) - own.strain(20.0)) / 280.0 == pytest.approx(17.0e-6, rel=2e-3)
    ratio = own.strain(500.0) / like.strain(500.0)
    assert ratio == pytest.approx(own.strain(100.0) / like.strain(100.0), rel=1e-9)
    assert own.band("solidus") == Band.exact(1000.0)
    assert (
        suits(shelf, CLASS, "my:old-sheet").measures["metal_expansion_ppm_per_k"].value
        < suits(shelf, CLASS, METAL).measures["metal_expansion_ppm_per_k"].value
    )
    shop.add("metal", {"name": "Bare", **SHEET})
    assert shelf.metal("my:bare").points == ()
    assert suits(shelf, CLASS, "my:bare").outcome == "cannot say"
    assert suits(shelf, CLASS, "my:bare").missing


def test_a_class_that_is_gone_is_said_to_be(shelf, shop):
    shop.add("glass", JAR | {"like": "a-class-of-old"})
    jar = shelf.glass("my:jar-12")
    assert "a-class-of-old, which the reference does not have" in jar.summary
    assert jar.value("set_point") is None


def test_lists_searches_and_rankings_hold_own_records(shelf, shop):
    shop.add("glass", JAR | {"like": CLASS, "note": "From the blue tin"})
    shop.add("metal", {"name": "Old sheet", **SHEET, "like": METAL})
    shop.add("leaf", {"name": "Thick foil", **SHEET, "like": FOIL, "leaf_thickness_um": 5.0})
    assert shelf.leaf("my:thick-foil").band("leaf_thickness") == Band.exact(5e-6)
    assert [m.key for m in shelf.materials("glass")][-1] == "my:jar-12"
    row = shelf.summaries("glasses")[-1]
    assert (row["key"], row["expansion_ppm_per_k"], row["fuse_low_c"], row["youngs_modulus_gpa"]) == (
        "my:jar-12",
        12.4,
        780.0,
        shelf.summaries("glasses")[0]["youngs_modulus_gpa"]
        and next(r for r in shelf.summaries("glasses") if r["key"] == CLASS)["youngs_modulus_gpa"],
    )
    assert shelf.summaries("leaf")[-1]["leaf_thickness_um"] == pytest.approx(5.0)
    assert shelf.summaries("metals")[-1]["form"] == "sheet"
    assert shelf.find("JAR 12")[0]["key"] == "my:jar-12"
    assert shelf.find("blue tin")[0]["key"] == "my:jar-12"
    assert "my:jar-12" not in [r["key"] for r in shelf.find("jar copper")]
    places = {r.glass.key: r for r in rank(shelf, METAL)}
    assert places["my:jar-12"].verdict.outcome == suits(shelf, "my:jar-12", METAL).outcome
    assert {r.glass.key for r in rank(shelf, "my:old-sheet")} == set(places)
    assert shelf.source("own-test").title


def test_a_summary_row_is_the_view_s_own_for_the_same_figures(shelf, shop):
    """A jar without figures of its own, like a class, has the very row that SQL gives for the class."""
    shop.add("glass", {"name": "Twin", **SHEET, "like": CLASS, "lead": "free", "cadmium": "free"})
    rows = {r["key"]: r for r in shelf.summaries("glasses")}
    own, like = rows["my:twin"], rows[CLASS]
    for name in set(like) - {"key", "label", "summary", "source"}:
        due = pytest.approx(like[name]) if isinstance(like[name], float) else like[name]
        assert own[name] == due, name


def own_rows_of(text: str) -> int:
    return len(set(re.findall(r"my:jar-\d+", text)))


def test_long_shelves_are_whole_for_programs_and_pipes(refdb, shop):
    count = MOST_LISTED + 7
    with shop.change() as db:
        db.executemany(
            "INSERT INTO glasses (key, name, like, basis, date) VALUES (?, ?, ?, 'own test', '2024-01-01')",
            [(f"jar-{n}", f"Jar {n}", CLASS) for n in range(count)],
        )
    for more in (("--json",), ("--csv",), (), ("--all",)):
        ran = refdb("glasses", *more, "--workshop", str(shop.path))
        assert (ran.status, own_rows_of(ran.out), ran.err) == (0, count, ""), more
    assert refdb("show", f"my:jar-{MOST_LISTED + 6}", "--workshop", str(shop.path)).status == 0


def test_a_terminal_and_a_ranking_are_cut_and_say_how_to_see_the_rest(refdb, shop, monkeypatch):
    monkeypatch.setattr("refdb.store.workshop.beside_reference.MOST_LISTED", 3)
    for n in range(5):
        shop.add("glass", JAR | {"name": f"Jar {n}", "like": CLASS})
    on = ("glasses", "--on", METAL, "--full", "--workshop", str(shop.path))
    for more, listed in (((), 3), (("--json",), 3), (("--all",), 5), (("--all", "--csv"), 5)):
        ran = refdb(*on, *more)
        assert (ran.status, own_rows_of(ran.out)) == (0, listed), more
        assert ran.err == (
            "" if listed == 5 else "refdb: 2 records of your own are left out here; --all takes them in\n"
        )
    monkeypatch.setattr("refdb.cli.lists._whole", lambda show_all, for_programs: show_all)
    ran = refdb("glasses", "--workshop", str(shop.path))
    assert (own_rows_of(ran.out), "--all takes them in" in ran.err) == (3, True)
    ran = refdb("clears", FOIL, "--on", METAL, "--workshop", str(shop.path))
    assert "refdb mine list has them all" in ran.err


def test_watched_firings_come_as_those_of_the_reference(shelf, shop):
    shop.add("glass", JAR | {"like": HARD})
    shop.add("glass", {"name": "Plain", **SHEET, "like": HARD})
    assert shelf.observed_firings("my:jar-12") == []
    firing = {
        "glass": "my:jar-12",
        "kiln_c": 800.0,
        "minutes": 2.5,
        "metal": METAL,
        "metal_mm": 0.75,
        "result": "gloss",
        "date": "2024-06-01",
        "note": "blue tin",
    }
    shop.add("firing", firing)
    shop.add("firing", firing | {"kiln_c": 780.0, "minutes": 4.0, "metal_mm": None})
    found = shelf.observed_firings("my:jar-12")
    assert [type(f) for f in found] == [ObservedFiring] * 2
    assert [(f.kiln_c, f.minutes, f.metal_mm) for f in found] == [(780.0, 4.0, None), (800.0, 2.5, 0.75)]
    assert (found[1].key, found[1].material, found[1].metal, found[1].result) == (
        "firing:1",
        "my:jar-12",
        METAL,
        "gloss",
    )
    assert (found[1].basis, found[1].source, found[1].note) == ("measured", "own-test", "blue tin")
    assert shelf.source("own-test") in shelf.sources()
    of_class = shelf.observed_firings(HARD)
    assert of_class
    assert shelf.observed_firings()[-2:] == found
    # The class's stand in for a jar without a kiln range of its own, and never for a result that was watched.
    assert {(f.source, f.kiln_c, f.result) for f in shelf.observed_firings("my:plain")} == {
        (f.source, f.kiln_c, f.result) for f in of_class
    }
    assert {f.material for f in shelf.observed_firings("my:plain")} == {"my:plain"}
    shop.add("firing", firing | {"glass": "my:plain", "result": of_class[0].result})
    own = [f for f in shelf.observed_firings("my:plain") if f.result == of_class[0].result]
    assert [f.source for f in own] == ["own-test"]


def test_a_watched_firing_pins_the_minutes_of_a_jar(shelf, shop):
    """By the definition of a pin: a usual coat on the watched metal at its setting shines at the minutes watched."""
    shop.add("glass", JAR | {"like": CLASS})
    shop.add(
        "firing",
        {
            "glass": "my:jar-12",
            "kiln_c": 800.0,
            "minutes": 2.5,
            "metal": METAL,
            "metal_mm": 0.75,
            "result": "gloss",
            "date": "2024-06-01",
        },
    )
    firings = Firings(shelf)
    jar = shelf.glass("my:jar-12")
    pinned = firings.pinned(jar, 790.0)
    assert pinned is not None
    assert pinned.own
    told = maturing(jar, 800.0, 0.12e-3, Heated(shelf.metal(METAL), 0.75e-3, 0.24e-3), firings)
    assert told.gloss is not None
    assert told.gloss.value == pytest.approx(2.5, rel=0.05)
    assert Firings(shelf).pinned(shelf.glass(CLASS), 790.0) != pinned


def test_the_kiln_is_the_person_s_own(shelf, shop, store):
    assert shelf.kiln_offset() is None
    assert Reference(store).kiln_offset() is None
    shop.add("kiln", {"key": "kiln", "offset_k": 12.0, "basis": "own test", "date": "2024-06-01"})
    kept = shelf.kiln_offset()
    assert (kept.offset_k, kept.low_k, kept.high_k, kept.tiles) == (12.0, 12.0, 12.0, ())
    shop.add(
        "kiln",
        {
            "key": "kiln",
            "offset_k": -8.0,
            "offset_low_k": -14.0,
            "offset_high_k": 3.0,
            "tiles": "2; 11",
            "basis": "own test",
            "date": "2024-06-02",
            "note": "door ajar",
        },
    )
    assert shelf.kiln_offset() == KilnOffset(-8.0, -14.0, 3.0, "own test", "2024-06-02", (2, 11), "door ajar")
    shop.restore(("kiln",), "kiln")
    assert shelf.kiln_offset() == kept


def test_a_kiln_setting_is_judged_with_the_own_kiln(refdb, shop, tmp_path):
    """The same as with the offset typed; without a setting the kiln plays no part, and what is typed goes before."""
    shop.add("kiln", {"key": "kiln", "offset_k": 50.0, "basis": "own test", "date": "2024-06-01"})

    def told(workshop, *more):
        return json.loads(refdb("suits", CLASS, METAL, *more, "--json", "--workshop", str(workshop)).out)

    own, none = shop.path, tmp_path / "none.db"
    Workshop(none, write=True).close()
    at = ("--kiln", "815C")
    kept = told(own, *at)
    assert kept["question"].pop("kiln_rests_on") == "own test, 2024-06-01"
    assert kept == told(none, *at, "--kiln-offset", "50 K")
    assert told(own, *at)["verdict"] != told(none, *at)["verdict"]
    assert told(own, *at, "--kiln-offset", "0 K") == told(none, *at)
    assert told(own) == told(none)


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("my:jar-13", ("my:jar-13", "did you mean my:jar-12?")),
        ("my:", ("refdb",)),
        ("my:zzz", ("my:zzz",)),
        ("my:../../etc", ("no",)),
        ("my:" + "x" * 5000, ("xxx",)),
        ("my:'; DROP TABLE glasses; --", ("no",)),
    ],
)
def test_own_keys_that_are_not_there(refdb, shop, key, words):
    shop.add("glass", JAR)
    for command in (("show", key), ("suits", key, METAL), ("suits", CLASS, key), ("cautions", key)):
        ran = refdb(*command, "--workshop", str(shop.path))
        assert ran.status == 3, ran
        assert ran.err.count("\n") == 1
        assert len(ran.err) < 420
    for word in words:
        assert word in refdb("suits", key, METAL, "--workshop", str(shop.path)).err


def test_a_metal_is_no_glass(refdb, shop):
    shop.add("glass", JAR)
    ran = refdb("suits", CLASS, "my:jar-12", "--workshop", str(shop.path))
    assert ran.status == 3
    assert "is a glass, not a base metal" in ran.err


PIECE = """
[piece]
title = "A brooch"
width = "30 mm"
height = "20 mm"
[base]
metal = "{metal}"
thickness = "0.8 mm"
[[step]]
do = "coat"
glass = "{glass}"
thickness = "0.2 mm"
[[step]]
do = "coat"
face = "back"
glass = "{glass}"
thickness = "0.2 mm"
[[step]]
do = "fire"
kiln = "800 C"
[[step]]
do = "leaf"
leaf = "{leaf}"
[[step]]
do = "fire"
kiln = "800 C"
"""


def test_every_command_that_takes_a_key_takes_an_own_one(refdb, shop, tmp_path):
    shop.add("glass", JAR | {"like": CLASS})
    shop.add("metal", {"name": "Old sheet", **SHEET, "like": METAL})
    shop.add("leaf", {"name": "Thick foil", **SHEET, "like": FOIL})
    glass, metal, leaf = "my:jar-12", "my:old-sheet", "my:thick-foil"
    own, reference = tmp_path / "own.toml", tmp_path / "reference.toml"
    own.write_text(PIECE.format(glass=glass, metal=metal, leaf=leaf))
    reference.write_text(PIECE.format(glass=CLASS, metal=METAL, leaf=FOIL))
    commands = [
        ("suits", glass, metal),
        ("glasses", "--on", metal),
        ("show", glass),
        ("show", metal),
        ("show", leaf),
        ("find", "jar"),
        ("clears", leaf, "--on", metal, "--under", glass),
        ("cautions", glass),
        ("estimate", "SiO2 60, Na2O 20, CaO 20", "--on", metal),
        ("piece", "check", str(own)),
        ("piece", "plan", str(own)),
    ]
    for command in commands:
        for more in ((), ("--json",)):
            ran = refdb(*command, *more, "--workshop", str(shop.path))
            assert ran.status in (0, 1), (command, ran)
            assert ran.err == ""
            if more and command[0] in ("glasses", "clears", "find"):
                assert glass in ran.out
    for command in ("check", "plan"):
        mine = json.loads(refdb("piece", command, str(own), "--json", "--workshop", str(shop.path)).out)
        theirs = json.loads(refdb("piece", command, str(reference), "--json").out)
        assert set(mine) == set(theirs)
        if command == "check":
            assert mine["verdict"] in ("suits", "suits with care", "does not suit")


def test_a_metal_that_says_nothing_of_itself_can_be_in_a_piece(refdb, shop, tmp_path):
    shop.add("metal", {"name": "Odd", **SHEET})
    shop.add("leaf", {"name": "Odd leaf", **SHEET})
    file = tmp_path / "odd.toml"
    file.write_text(PIECE.format(glass=CLASS, metal="my:odd", leaf="my:odd-leaf"))
    for command in (
        ("piece", "check", str(file)),
        ("piece", "plan", str(file)),
        ("clears", "my:odd-leaf", "--on", "my:odd"),
        ("show", "my:odd"),
        ("show", "my:odd-leaf"),
    ):
        ran = refdb(*command, "--workshop", str(shop.path))
        assert ran.status in (0, 1, 5), (command, ran)


def test_keys_complete(store, shop):
    from types import SimpleNamespace

    from refdb.cli.common import completed

    shop.add("glass", JAR)
    shop.add("metal", {"name": "Jar lid", **SHEET})
    root = SimpleNamespace(params={"store": str(store), "workshop": str(shop.path)})
    context = SimpleNamespace(find_root=lambda: root)
    assert completed("glass", context, "my:j") == [("my:jar-12", "Jar 12")]
    assert [k for k, _ in completed(None, context, "my:")] == ["my:jar-12", "my:jar-lid"]
    assert completed("metal", context, "copper-sh") == [(METAL, "Copper sheet")]


def test_records_are_of_their_kind(shelf, shop):
    shop.add("metal", {"name": "Old sheet", **SHEET, "like": "copper-clay", "shrinkage_percent": 11.0})
    metal = shelf.metal("my:old-sheet")
    assert isinstance(metal, Metal)
    assert metal.form == "clay"
    assert metal.band("shrinkage") == Band.exact(11.0)
    assert metal.fired_in_carbon == shelf.metal("copper-clay").fired_in_carbon
