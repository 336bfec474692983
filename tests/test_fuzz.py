"""Inputs nobody means: those that failed once, some thousands of new ones, and pieces changed by forms in any order."""

from __future__ import annotations

import ast
import copy
import json
import random
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from refdb.browse.pages import builder
from refdb.browse.pages.builder_forms import KINDS
from refdb.browse.server.packed import packed, unpacked
from refdb.browse.site import Site, View
from refdb.errors import BadInput, RefdbError
from refdb.plan.piecefile import parse_piece
from refdb.plan.sketch import Sketch
from refdb.store.reference import default_path

HERE = Path(__file__).resolve().parent
FAILED_ONCE = [tuple(one) for one in json.loads((HERE / "fuzz_failures.json").read_text(encoding="utf-8"))]


@pytest.fixture(scope="module")
def fuzz():
    sys.path.insert(0, str(HERE.parent / "scripts"))
    try:
        import fuzz
    finally:
        sys.path.pop(0)
    return fuzz


@pytest.fixture(scope="module")
def known(fuzz, store):
    return fuzz.targets(store)


@pytest.mark.parametrize(("name", "text"), FAILED_ONCE)
def test_what_failed_once_is_read_or_refused(fuzz, known, name, text):
    assert fuzz.fault_of(known[name], text) == ""


def test_every_reader_takes_what_is_meant(known):
    """Each has at least one text that is read without a refusal, so that what is changed of it goes deep."""
    for name, target in known.items():
        taken = 0
        for text in target.seeds:
            try:
                target.read(text)
            except RefdbError:
                continue
            taken += 1
        assert taken, name


#: Readers that no target has, and who tries them instead.
ELSEWHERE = {
    "numbers_of": "reads what the workshop wrote; test_workshop_damage",
    "wishes_from": "hands texts to wishes_of and to the readers of lengths",
    "wants_sheet": "looks at one word of a form; test_browse_sent",
}
#: Rooms whose functions of texts are no readers, or have others to try them.
ROOMS_ELSEWHERE = {"cli": "hands texts on", "curate": "the rows of the house; mutate_data", "pictures": "", "words": ""}


def readers():
    """Public functions of a text that may refuse it, by file and name: in the rooms that read what people type."""
    package = HERE.parent / "refdb"
    for path in sorted(package.rglob("*.py")):
        room = path.relative_to(package).parts[0]
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if room in ROOMS_ELSEWHERE or not isinstance(node, ast.FunctionDef) or not node.args.args:
                continue
            refuses = any(isinstance(n, ast.Raise) for n in ast.walk(node)) or "BadInput" in (
                ast.get_docstring(node) or ""
            )
            reads = node.args.args[0].arg in ("text", "typed", "words", "texts", "fields", "form")
            if refuses and reads and not node.name.startswith("_"):
                yield str(path), node.name


def test_every_reader_of_text_is_tried(known):
    """A function that reads a text is met by a text of some target; a new one without a target fails here."""
    met = set()

    def note(frame, event, _):
        if event == "call":
            met.add((frame.f_code.co_filename, frame.f_code.co_name))

    found = set(readers())
    assert len(found) > 50
    before = sys.getprofile()
    sys.setprofile(note)
    try:
        for target in known.values():
            for text in target.seeds:
                with suppress(RefdbError):
                    target.read(text)
    finally:
        sys.setprofile(before)
    assert {name for file, name in found - met} == set(ELSEWHERE)


def test_new_inputs_are_read_or_refused(fuzz, known):
    draw = random.Random(20)
    for name, target in known.items():
        for _ in range(max(target.often // 2, 3)):
            text = fuzz.input_of(draw, target)
            assert fuzz.fault_of(target, text) == "", (name, text)


def test_a_fault_is_found_told_and_shortened(fuzz):
    """The reader here fails at a sign of its own, which only changed bytes bring in."""

    def read(text: str) -> float:
        if "\x1b" in text:
            raise KeyError(text)
        if "e" in text:
            raise BadInput("no number", "", "")
        return float("inf") if "9" in text else 1.0

    target = fuzz.Target(read, ("12 mm",))
    assert fuzz.fault_of(target, "12") == ""
    assert "neither where nor what to do" in fuzz.fault_of(target, "e")
    assert "not finite" in fuzz.fault_of(target, "99")
    fault = fuzz.fault_of(target, "ab\x1bcd")
    assert fault.startswith("KeyError in test_fuzz.py")
    assert fuzz.shortened(target, "ab\x1bcd", fault) == "\x1b"
    count, faults = fuzz.tried((1, 0, 50, "count", str(default_path())))
    assert (count, faults) == ({"count": 50}, {})


LENGTHS = st.sampled_from(["0.1 mm", "0,15", "0.2-0.3 mm"])
GLASSES = st.sampled_from(["clear-hard-lead-free", "opaque-white-lead-free", "window-soda-lime"])
PLACES = st.integers(1, 9)


class Builder(RuleBasedStateMachine):
    """A piece on the page that is put together by forms, against a plain list of its steps.

    The page of a form that is not taken judges what has been fired so far, which takes a while: here nothing is fired
    when a form goes wrong.
    """

    site: Site

    def __init__(self) -> None:
        super().__init__()
        self.sketch = self.led(builder.sent(self.site, {}))
        self.steps: list[dict[str, Any]] = []

    def led(self, answer: str | View) -> Sketch:
        assert isinstance(answer, str), answer.fields.get("fault", answer)
        address = urlsplit(answer)
        assert address.path == "/piece/build"
        return Sketch.of(unpacked(parse_qs(address.query)["p"][0]))

    def send(self, **form: str) -> Sketch:
        return self.led(builder.sent(self.site, {"p": packed(self.sketch.text), **form}))

    @rule(glass=GLASSES, thickness=LENGTHS, face=st.sampled_from(["front", "back"]))
    def coat(self, glass: str, thickness: str, face: str) -> None:
        self.sketch = self.send(do="step", add="coat", glass=glass, thickness=thickness, face=face)
        said = thickness if "mm" in thickness else "0.15 mm"
        self.steps.append({"do": "coat", "glass": glass, "face": face, "thickness": said})

    @rule(kind=st.sampled_from(["clean", "stone"]), at=PLACES)
    def deed(self, kind: str, at: int) -> None:
        self.sketch = self.send(do="step", add=kind, at=str(at))
        self.steps.insert(at - 1, {"do": kind})

    @rule(at=PLACES, note=st.sampled_from(["one", "zwei µ", "'three'", '"\\']))
    def noted(self, at: int, note: str) -> None:
        if at > len(self.steps):
            return
        step = {k: v for k, v in self.steps[at - 1].items() if k not in ("do", "note")}
        self.sketch = self.send(do="step", change=str(at), note=note, **step)
        self.steps[at - 1]["note"] = note

    @rule(at=PLACES, do=st.sampled_from(["up", "down", "copy", "remove"]))
    def arranged(self, at: int, do: str) -> None:
        if at > len(self.steps):
            with pytest.raises(BadInput):
                self.send(do=f"{do}-{at}")
            return
        self.sketch = self.send(do=f"{do}-{at}")
        step = self.steps.pop(at - 1)
        if do == "copy":
            self.steps.insert(at - 1, step)
            self.steps.append(copy.deepcopy(step))
        elif do != "remove":
            self.steps.insert(max(at - 2, 0) if do == "up" else at, step)

    @rule(width=LENGTHS, quantity=st.integers(1, 40))
    def body(self, width: str, quantity: int) -> None:
        wide = {"0.1 mm": "21 mm", "0,15": "35", "0.2-0.3 mm": "30 mm"}[width]
        self.sketch = self.send(
            do="body", metal="copper-sheet", thickness="0.8 mm", width=wide, height="20", quantity=str(quantity)
        )
        assert self.sketch.piece["width"] == (wide if "mm" in wide else "35 mm")
        assert self.sketch.piece["quantity"] == quantity

    @rule(
        kind=st.sampled_from(KINDS),
        field=st.sampled_from(["thickness", "glass", "kiln", "coverage", "size"]),
        text=st.sampled_from(["three kilos", "９ mm", "nan", "x" * 190]),
    )
    def goes_wrong(self, kind: str, field: str, text: str) -> None:
        """A form that is not taken is shown again with what stood in it; one that is, changes nothing kept here."""
        answer = builder.sent(self.site, {"p": packed(self.sketch.text), "do": "step", "add": kind, field: text})
        if isinstance(answer, View):
            assert answer.status == 400
        else:
            assert len(self.led(answer).steps) == len(self.steps) + 1

    @invariant()
    def is_what_was_sent(self) -> None:
        assert [dict(step) for step in self.sketch.steps] == self.steps
        assert Sketch.of(unpacked(packed(self.sketch.text))) == self.sketch
        if self.steps:
            piece = parse_piece(self.sketch.text, self.site.ref)
            assert len(piece.steps) == len(self.steps)


@pytest.fixture(scope="module")
def site(store):
    made = Site(store, None)
    yield made
    made.leave_workshop()


def test_a_piece_changed_by_forms_in_any_order_is_what_was_sent(site):
    from hypothesis.stateful import run_state_machine_as_test

    kind = type("BuilderHere", (Builder,), {"site": site})
    run_state_machine_as_test(
        kind,
        settings=settings(
            max_examples=12,
            stateful_step_count=20,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            derandomize=True,
        ),
    )
