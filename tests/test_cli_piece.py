"""`refdb piece`: new, check, plan and schema, with their exit statuses and faults."""

from __future__ import annotations

import json
import re
import shlex
import sys

import pytest
from pieces import piece

from refdb.cli.piece import worst_status
from refdb.cli.short_page import SCREEN, short_page
from refdb.judge.piece.verdict import judge_pieces
from refdb.judge.verdict import TEST_TILE
from refdb.store.reference import Reference

HARD = "clear-hard-lead-free"


@pytest.fixture
def demo(refdb, tmp_path):
    path = tmp_path / "moth.toml"
    assert refdb("piece", "new", str(path), on=None).status == 0
    return path


@pytest.fixture
def bad(demo, tmp_path):
    """A piece that does not suit: window glass on copper, one face only."""
    path = tmp_path / "bad.toml"
    path.write_text(
        '[piece]\ntitle = "Bad"\nwidth = "3 cm"\nheight = "2 cm"\n[base]\nmetal = "copper-sheet"\n'
        'thickness = "0.5 mm"\n[[step]]\ndo = "coat"\nglass = "borosilicate-3-3"\nthickness = "0.4 mm"\n'
        '[[step]]\ndo = "fire"\nkiln = "815 C"\n'
    )
    return path


def one_line(ran, status: int, *words: str) -> None:
    assert ran.status == status, ran
    assert ran.out == ""
    assert ran.err.count("\n") == 1
    assert ran.err.startswith("refdb: ")
    assert all(c.isprintable() for c in ran.err[:-1])
    for word in words:
        assert word in ran.err


def test_new_writes_a_piece_that_is_fit_to_use(refdb, demo):
    ran = refdb("piece", "check", str(demo))
    assert ran.status == 0
    assert ran.err == ""
    assert "Moth brooch on fine silver clay" in ran.out
    assert "Suits with care" in ran.out
    assert "Fire a test tile" in ran.out


def test_new_never_overwrites(refdb, demo):
    before = demo.read_bytes()
    one_line(refdb("piece", "new", str(demo), on=None), 2, "already", str(demo)[-10:])
    assert demo.read_bytes() == before


def test_new_without_a_name(refdb, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert refdb("piece", "new", on=None).status == 0
    text = (tmp_path / "piece.toml").read_text(encoding="utf-8")
    assert "refdb piece check piece.toml" in text


@pytest.mark.parametrize("name", ["moth brooch.toml", "Ann's (2).toml", 'a "$HOME" `x`.toml', "plain-1.toml"])
def test_a_command_with_a_file_in_it_can_be_typed_as_it_is_told(refdb, tmp_path, monkeypatch, name):
    """In its message, in the file itself and in a plan: a shell takes the name for one word."""
    monkeypatch.chdir(tmp_path)
    said = refdb("piece", "new", name, on=None).out
    told = said.partition("then: ")[2], *(tmp_path / name).read_text(encoding="utf-8").splitlines()[1:3]
    told = (*told, next(x for x in refdb("piece", "plan", name).out.splitlines() if x.startswith("Why: ")))
    for line in told:
        command = line[line.index("refdb piece") :].partition("     ")[0]
        assert shlex.split(command)[2:] in (["check", name], ["plan", name])


def test_new_where_nothing_can_be_written(refdb, tmp_path):
    one_line(refdb("piece", "new", str(tmp_path / "none" / "x.toml"), on=None), 2, "cannot be written")
    one_line(refdb("piece", "new", str(tmp_path / ("x" * 5000)), on=None), 2, "cannot be written")


def test_check_as_json(refdb, demo):
    ran = refdb("piece", "check", str(demo), "--json")
    found = json.loads(ran.out)
    assert found["schema"] == "refdb/2"
    assert found["verdict"] == "suits with care"
    assert found["question"]["piece"] == "Moth brooch"
    assert len(found["numbers"]["stages"]) == 5
    assert all(r["source"] in found["sources"] for r in found["reasons"])
    assert any("step" in r for r in found["reasons"])


def test_what_does_not_suit_exits_with_one(refdb, bad):
    assert refdb("piece", "check", str(bad)).status == 1
    assert refdb("piece", "plan", str(bad)).status == 1
    assert refdb("piece", "check", str(bad), "--json").status == 1


def test_plan_as_text_and_as_json_agree(refdb, demo):
    text = refdb("piece", "plan", str(demo), "--container", "200x150x80 mm")
    found = json.loads(refdb("piece", "plan", str(demo), "--container", "200x150x80 mm", "--json").out)
    assert text.status == 0
    assert found["schema"] == "refdb/2"
    assert found["verdict"] == "suits with care"
    flat = " ".join(text.out.split())
    names = {row["key"]: row["name"] for row in json.loads(refdb("sources", "--json").out)["rows"]}
    names["own-figure"] = "The piece file"
    for firing in found["firings"]:
        assert f"{firing['kiln_c']:.0f} {firing['kiln_f']:.0f}" in flat
        for line in (*firing["prepare"], *firing["right"]):
            assert line["text"] in flat
    for phase in found["before"]:
        for line in phase["lines"]:
            assert f"{line['text']} [{names[line['source']]}]" in flat
    for amount in found["amounts"]:
        assert amount["what"] in text.out
        assert amount["low"] <= amount["value"] <= amount["high"]
    assert found["packing"]["per_batch"] == found["packing"]["per_layer"] * found["packing"]["layers"]
    assert f"{found['packing']['per_layer']} to a layer" in flat
    used = {line["source"] for f in found["firings"] for line in f["right"]}
    assert used <= set(found["sources"])


def test_plan_fits_eighty_columns(refdb, demo, bad):
    for path in (demo, bad):
        for command in ("plan", "check"):
            assert max(len(line) for line in refdb("piece", command, str(path)).out.split("\n")) <= 80


def test_studio_units_put_fahrenheit_first(refdb, demo):
    out = refdb("piece", "plan", str(demo), "--units", "studio").out
    head = next(line for line in out.split("\n") if "what goes in" in line)
    assert head.index("°F") < head.index("°C")
    assert "1481" in out


def test_a_sheet_is_written(refdb, demo, tmp_path):
    target = tmp_path / "moth.html"
    ran = refdb("piece", "plan", str(demo), "--html", str(target))
    assert ran.status == 0
    assert ran.out.count("\n") == 1
    assert "Moth brooch" in target.read_text(encoding="utf-8")


def test_several_sheets_go_to_a_folder(refdb, demo, bad, tmp_path):
    ran = refdb("piece", "plan", str(demo), str(bad), "--html", str(tmp_path / "sheets"))
    assert ran.status == 1
    assert sorted(p.name for p in (tmp_path / "sheets").iterdir()) == ["bad.html", "moth.html"]


@pytest.mark.parametrize(
    ("name", "words"),
    [("moth.txt", "a .html file"), ("none/moth.html", "cannot be written"), ("moth.toml", "a .html file")],
)
def test_a_sheet_that_cannot_be_written(refdb, demo, tmp_path, name, words):
    before = demo.read_bytes()
    one_line(refdb("piece", "plan", str(demo), "--html", str(tmp_path / name)), 2, words)
    assert demo.read_bytes() == before


def test_sheets_that_would_overwrite_each_other(refdb, demo, tmp_path):
    twin = tmp_path / "other" / "moth.toml"
    twin.parent.mkdir()
    twin.write_bytes(demo.read_bytes())
    one_line(refdb("piece", "plan", str(demo), str(twin), "--html", str(tmp_path / "out")), 2, "moth.html")
    (tmp_path / "a.html").write_text("")
    ran = refdb("piece", "plan", str(demo), str(twin), "--html", str(tmp_path / "a.html"))
    one_line(ran, 2, "need a folder")


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ("50x40x60 mm", "does not fit"),
        ("200x150 mm", "three inner lengths"),
        ("200x150x80", "--container"),
        ("200x150x-80 mm", "--container"),
        ("200x150x80 kg", "--container"),
        ("\x1b[2J", "--container"),
    ],
)
def test_containers_that_cannot_be(refdb, demo, size, words):
    one_line(refdb("piece", "plan", str(demo), "--container", size), 2, words)


@pytest.mark.parametrize("command", ["check", "plan"])
@pytest.mark.parametrize(
    ("text", "status", "words"),
    [
        ("[piece\n", 2, "line 1"),
        ("[piece]\n", 2, "[base]"),
        (
            '[piece]\nwidth="3 cm"\nheight="2 cm"\n'
            '[base]\nmetal="coper-sheet"\nthickness="1 mm"\n[[step]]\ndo="stone"\n',
            3,
            "copper-sheet",
        ),
    ],
)
def test_one_bad_file_is_one_line(refdb, tmp_path, command, text, status, words):
    path = tmp_path / "own.toml"
    path.write_text(text)
    one_line(refdb("piece", command, str(path)), status, words)


def test_a_missing_file(refdb, tmp_path):
    one_line(refdb("piece", "check", str(tmp_path / "gone.toml")), 2, "cannot be read", "refdb piece new")
    one_line(refdb("piece", "check", str(tmp_path / "\x1b[31m.toml")), 2, "cannot be read")


@pytest.mark.parametrize(
    "arguments",
    [("piece", "check"), ("piece", "plan"), ("piece", "chekc", "x.toml"), ("piece", "plan", "x.toml", "--htlm", "y")],
)
def test_usage(refdb, arguments):
    one_line(refdb(*arguments), 2, "--help")


def test_help_of_the_group_and_of_each_command(refdb):
    assert "plan" in refdb("piece").out
    assert refdb("piece").status == 0
    for name in ("new", "check", "plan", "schema"):
        ran = refdb("piece", name, "--help")
        assert ran.status == 0
        assert "Example" in ran.out


def test_one_bad_file_among_several_does_not_stop_the_rest(refdb, demo, bad, tmp_path):
    broken = tmp_path / "broken.toml"
    broken.write_text("[piece")
    ran = refdb("piece", "check", str(broken), str(demo))
    assert ran.status == 2
    assert ran.err.count("\n") == 1
    assert "Moth brooch" in ran.out
    rows = json.loads(refdb("piece", "plan", str(demo), str(broken), str(bad), "--json").out)["rows"]
    assert [("fault" in r) for r in rows] == [False, True, False]
    assert [r.get("verdict") for r in rows] == ["suits with care", None, "does not suit"]


def test_worst_status_counts():
    assert worst_status([]) == 0
    assert worst_status([0, 0]) == 0
    assert worst_status([0, 1, 5]) == 1
    assert worst_status([0, 5]) == 5
    assert worst_status([1, 2, 3]) == 2
    assert worst_status([1, 3]) == 3


def test_progress_shows_on_a_terminal_only(refdb, demo, bad, monkeypatch, capsys):
    assert "planning" not in refdb("piece", "plan", str(demo), str(bad)).err
    seen: list[str] = []
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    write = sys.stderr.write
    monkeypatch.setattr(sys.stderr, "write", lambda text: seen.append(text) or write(text))
    refdb("piece", "plan", str(demo), str(bad))
    assert any("planning 2 of 2: bad.toml" in text for text in seen)
    assert seen[-1] == "\r\x1b[K"
    seen.clear()
    refdb("piece", "plan", str(demo))
    assert seen == []


def test_markup_and_escapes_in_a_title(refdb, demo, tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(demo.read_text(encoding="utf-8").replace("Moth brooch", "<script>\\u001b[2J</script>"))
    ran = refdb("piece", "plan", str(path))
    assert "<script>?[2J</script>" in ran.out
    assert "\x1b" not in ran.out
    target = tmp_path / "own.html"
    refdb("piece", "plan", str(path), "--html", str(target))
    assert "<script" not in target.read_text(encoding="utf-8")


def test_the_schema_is_the_one_made_from_the_reader(refdb):
    from refdb.plan.piece_schema import FILE, schema_text

    ran = refdb("piece", "schema", on=None)
    assert ran.status == 0
    assert json.loads(ran.out)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert FILE.read_text(encoding="utf-8") == schema_text()


def test_ascii_terminals(refdb_process, demo):
    ran = refdb_process("piece", "plan", str(demo), settings={"LC_ALL": "C", "PYTHONIOENCODING": "ascii"})
    assert ran.returncode == 0
    assert ran.stderr == b""
    assert all(c < 128 for c in ran.stdout)


def test_what_holds_is_told_in_a_phrase_and_json_keeps_every_reason(refdb, demo):
    out = refdb("piece", "check", str(demo), "--full").out
    reasons = json.loads(refdb("piece", "check", str(demo), "--json").out)["reasons"]
    flat = " ".join(out.split())
    screen = refdb("piece", "check", str(demo)).out
    assert screen.count("\n") <= 24
    short = " ".join(screen.lower().split())
    holds = flat.partition("These hold, the nearest to its limit first: ")[2]
    assert holds
    for reason in reasons:
        title = reason["title"].partition(", ")[0] if reason["rule"] in ("gap", "gap-narrow") else reason["title"]
        assert (f"{title[:1].lower()}{title[1:]}" if reason["outcome"] == "suits" else title) in flat
        # On the screen a rule that is folded stands by its name alone.
        assert re.split("[,:]", title)[0].lower() in short
    assert holds.index("tension in the glass, between firings") < holds.index("metal thickness")
    assert out.count("\n") <= 85


def test_a_firing_that_was_seen_narrows_the_minutes_of_its_glass(refdb, demo):
    def minutes(*more: str) -> list[dict]:
        return [f["minutes"] for f in json.loads(refdb("piece", "plan", str(demo), "--json", *more).out)["firings"]]

    usual, seen = minutes(), minutes("--observed", "clear-hard-lead-free: 815C 3min copper 0.75mm")
    assert seen[0]["high"] / seen[0]["low"] < 0.6 * usual[0]["high"] / usual[0]["low"]
    assert seen[4] == usual[4]


def test_a_firing_that_was_seen_counts_in_the_check_too(refdb, demo):
    """How far the bed under the leaf comes up: a bed seen to shine sooner comes up further."""

    def bed(*more: str) -> float:
        reasons = json.loads(refdb("piece", "check", str(demo), "--json", *more).out)["reasons"]
        return next(r for r in reasons if r["rule"] == "leaf-bed")["found"]["value"]

    slow, quick = (bed("--observed", f"clear-hard-lead-free: 815C {m}min copper 0.75mm") for m in (4, 1.2))
    assert slow < bed() < quick


def test_stages_are_told_of_a_glass_that_was_seen_and_of_no_other(refdb, demo):
    found = json.loads(refdb("piece", "plan", str(demo), "--json").out)["firings"]
    told = {s["glass"] for f in found for s in f["minutes"].get("stages", ())}
    assert told == {"clear-hard-lead-free"}
    stage = found[0]["minutes"]["stages"][0]
    assert stage["sugary"]["value"] < stage["orange_peel"]["value"] < stage["gloss"]["value"]
    assert "Colour and surface" in found[0]["minutes"]["signs_decide"]
    more = ("--observed", "green-transparent-lead-free: 790C 2min silver 0.8mm")
    wrong = refdb("piece", "plan", str(demo), "--json", *more)
    assert wrong.status == 2
    assert "fine silver sheet, sterling silver sheet" in wrong.err
    more = ("--observed", "green-transparent-lead-free: 790C 2min fine-silver-sheet 0.8mm")
    found = json.loads(refdb("piece", "plan", str(demo), "--json", *more).out)["firings"]
    assert [s["glass"] for s in found[4]["minutes"]["stages"]] == ["green-transparent-lead-free"]
    text = " ".join(refdb("piece", "plan", str(demo), *more).out.split())
    assert "Lead-free transparent chrome green: an orange peel from" in text
    assert "Colour and surface are the authority" in text


@pytest.mark.parametrize(
    ("text", "status", "words"),
    [
        ("815C 3min copper 0.75mm", 2, "names no glass"),
        ("clear-hard-lead-free: 3min copper 0.75mm", 2, "is not a setting"),
        ("clear-hard-lead-free: 815C 300min copper 0.75mm", 2, "300 minutes in the kiln"),
        ("clear-hard-lead-free: 815C 3min coper-sheet 0.75mm", 3, "copper-sheet"),
        ("clear-hard-lead-free: 400C 3min copper 0.75mm", 2, "no glass shines"),
        ("clear-hard-lead-free: 815C 3min copper 75mm", 2, "0.1 to 10 mm"),
        ("clear-hard-lead-free: 815C 20min copper 0.75mm", 2, "at most 15 minutes"),
        ("no-such-glass: 815C 3min copper 0.75mm", 3, "no glass"),
        ("\x1b[2J: 1", 3, "no glass"),
    ],
)
def test_firings_that_cannot_have_been_seen(refdb, demo, text, status, words):
    for command in ("plan", "check"):
        one_line(refdb("piece", command, str(demo), "--observed", text), status, words)


def test_a_piece_that_cannot_be_judged_does_not_stop_the_others(refdb, demo, tmp_path, monkeypatch):
    """In a kiln far cooler than it shows, one fire is no fire for enamel; the line names file and step."""
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "mine.db"))
    assert refdb("mine", "kiln", "-90 K").status == 0
    cold = tmp_path / "cold.toml"
    cold.write_text(demo.read_text(encoding="utf-8").replace('"805 C"', '"120 C"'), encoding="utf-8")
    ran = refdb("piece", "check", str(demo), str(cold), str(demo), "--json")
    assert ran.status == 2
    assert len(ran.err.splitlines()) == 1
    assert all(word in ran.err for word in ("cold.toml", "step 4"))
    rows = json.loads(ran.out)["rows"]
    assert ["fault" in row for row in rows] == [False, True, False]
    assert rows[0]["verdict"] == rows[2]["verdict"]


def test_whatever_the_piece_the_answer_is_one_screen(store):
    """Pieces of many coats, leaves and fires, foul and clean, with much or little against them."""
    base = ["clean front", f"coat front {HARD} 0.12", "fire 815", "clean back", f"coat back {HARD} 0.2", "fire 815"]
    colours = [f"coat front {c}-transparent-lead-free 0.1" for c in ("blue", "green", "violet", "amber", "turquoise")]
    pieces = [
        piece(base),
        piece([*base, "fire 985"], "sterling-sheet"),
        piece([*base, "leaf fine-silver-foil", "fire 800", *colours, "fire 800", "leaf gold-foil-24k", "fire 740"]),
        piece([*base, *colours, *["fire 790"] * 12, "join ag-155", "stone front"], "copper-clay", use="food"),
        piece([f"coat front {HARD} 0.05 to=0.4 unwashed part=0.5", "leaf tin-leaf", "fire 700 9"], "titanium-sheet"),
        piece([*base, "coat front red-opaque-cadmium 0.1", "fire 780", "coat front yellow-opaque-antimony 0.1"]),
        piece(["clean front"]),
    ]
    with Reference(store) as ref:
        for verdict in judge_pieces(ref, pieces):
            for units in ("metric", "studio"):
                lines = short_page(verdict, units).lines
                assert len(lines) <= SCREEN, "\n".join(lines)
                assert max(map(len, lines)) <= 80
                assert TEST_TILE in lines[-1]


OWN = """
[piece]
title = "Trial"
width = "30 mm"
height = "20 mm"
[base]
metal = "my:kite-copper"
thickness = "0.8 mm"
[[step]]
do = "join"
solder = "ag-155"
[[step]]
do = "coat"
glass = "my:delft-blue"
thickness = "0.2 mm"
[[step]]
do = "fire"
kiln = "800 C"
"""


def test_names_of_ones_own_and_symbols_keep_their_letters_within_sentences(mine, tmp_path):
    """In a plan, in a verdict and in lists: "Delft Blue" is no "delft Blue", and silver no "ag"."""
    guess = ("--expansion", "12 to 13 ppm/K", "--span", "20-400C", "--basis", "guess")
    jar = ("--name", "Delft Blue", "--like", "blue-transparent-lead-free", *guess)
    assert mine("mine", "add", "glass", *jar).status == 0
    metal = ("--name", "Kite Copper", "--like", "copper-sheet", "--basis", "guess")
    assert mine("mine", "add", "metal", *metal).status == 0
    path, sheet = tmp_path / "own.toml", tmp_path / "own.html"
    path.write_text(OWN)
    mine("piece", "plan", str(path), "--html", str(sheet))
    told = [
        mine("piece", "plan", str(path)).out,
        sheet.read_text(encoding="utf-8"),
        *(mine("suits", "my:delft-blue", "my:kite-copper", *more).out for more in ((), ("--full",))),
        mine("glasses", "--on", "my:kite-copper").out,
        mine("clears", "fine-silver-foil", "--on", "my:kite-copper").out,
        mine("builds", "my:kite-copper", "--glass", "my:delft-blue").out,
    ]
    for text in told:
        assert "Kite Copper" in text or "Delft Blue" in text
        assert not re.search("kite [cC]opper|delft [bB]lue", text)
    for text in told[:2]:
        assert "Solder with Ag 155;" in text
