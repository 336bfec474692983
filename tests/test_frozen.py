"""`refdb.frozen.dataclass` held against Python's own `dataclasses.dataclass`: all that the tree uses of it."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
import subprocess
import sys
from dataclasses import FrozenInstanceError, asdict, astuple, field, fields, is_dataclass, replace
from functools import cached_property
from typing import Any, ClassVar

import pytest

from refdb import frozen


class Plain:
    """A base that is no dataclass; its property is inherited."""

    @property
    def doubled(self) -> float:
        return 2 * self.a  # type: ignore[attr-defined]


def made_by(dataclass: Any, field: Any = field) -> dict[str, Any]:
    """The same classes, by one or by the other."""

    @dataclass(frozen=True)
    class Bare:
        pass

    @dataclass(frozen=True)
    class One:
        a: float

    @dataclass(frozen=True)
    class Two(Plain):
        """Two values."""

        a: float
        b: str = "two"

    @dataclass(frozen=True)
    class Many(Plain):
        KIND: ClassVar[str] = "many"
        a: float
        b: tuple[int, ...] = ()
        c: dict[str, int] = field(default_factory=dict, compare=False)
        d: str = field(default="d", repr=False)
        e: list[int] = field(default_factory=list, hash=False)

        @cached_property
        def kept(self) -> float:
            return self.a + 1

    @dataclass(frozen=True)
    class Below(Two):
        a: float = 7.0
        z: int = 26

    @dataclass(frozen=True, repr=False)
    class Quiet:
        a: int

        def __repr__(self) -> str:
            return f"quiet {self.a}"

    @dataclass(frozen=True)
    class Sly:
        a: int
        __hash__ = None  # type: ignore[assignment]

        def __eq__(self, other: object) -> bool:
            return True

    @dataclass(frozen=True)
    class Checked:
        a: int
        b: int = 0

        def __post_init__(self) -> None:
            if self.a < self.b:
                raise ValueError("a is below b")

    return {c.__name__: c for c in (Bare, One, Two, Many, Below, Quiet, Sly, Checked)}


OURS, THEIRS = made_by(frozen.dataclass, frozen.field), made_by(dataclasses.dataclass)
#: Fields may also be told in Python's own words.
MIXED = made_by(frozen.dataclass)
CALLS: list[tuple[str, tuple[Any, ...], dict[str, Any]]] = [
    ("Bare", (), {}),
    ("One", (1.5,), {}),
    ("One", (), {"a": float("inf")}),
    ("Two", (1,), {}),
    ("Two", (1, "b"), {}),
    ("Two", (), {"b": "x", "a": 2}),
    ("Many", (1,), {}),
    ("Many", (1,), {"d": "other", "b": (1, 2)}),
    ("Many", (), {"e": [3], "c": {"k": 1}, "a": 0}),
    ("Many", (1, (2,), {"c": 3}, "d", [5]), {}),
    ("Below", (), {}),
    ("Below", (1, "b", 3), {}),
    ("Below", (), {"z": 1}),
    ("Quiet", (4,), {}),
    ("Checked", (4, 3), {}),
    ("Checked", (4,), {}),
]
FALSE_CALLS: list[tuple[str, tuple[Any, ...], dict[str, Any]]] = [
    ("Bare", (1,), {}),
    ("One", (), {}),
    ("One", (1, 2), {}),
    ("One", (1,), {"a": 1}),
    ("One", (1,), {"c": 1}),
    ("Two", (), {"b": "x"}),
    ("Two", (1, "b"), {"a": 1}),
    ("Two", (1,), {"a": 1}),
    ("Many", (1,), {"KIND": "few"}),
    ("Many", (1,), {"b": (), "nothing": 1}),
    ("Checked", (1, 2), {}),
]


def told(one: Any) -> dict[str, Any]:
    """All that is seen of an instance, in words of its own class."""
    try:
        hashed: Any = hash(one)
    except TypeError:
        hashed = "unhashable"
    return {
        "repr": repr(one).replace("made_by.<locals>.", ""),
        "vars": list(vars(one).items()),
        "hash": hashed,
        "asdict": asdict(one),
        "astuple": astuple(one),
        "is": is_dataclass(one),
    }


@pytest.mark.parametrize(("name", "args", "given"), CALLS)
@pytest.mark.parametrize("classes", [OURS, MIXED])
def test_an_instance_is_as_one_of_a_dataclass(classes, name, args, given):
    ours, theirs = classes[name](*args, **given), THEIRS[name](*args, **given)
    assert told(ours) == told(theirs)
    assert ours == classes[name](*args, **given)
    assert ours != theirs
    assert theirs != ours
    assert (ours.doubled == theirs.doubled) if hasattr(theirs, "doubled") else not hasattr(ours, "doubled")


@pytest.mark.parametrize("name", OURS)
@pytest.mark.parametrize("classes", [OURS, MIXED])
def test_what_is_asked_of_a_class_is_the_same(classes, name):
    ours, theirs = classes[name], THEIRS[name]

    def of(cls: Any) -> list[Any]:
        return [(f.name, f.type, f.default, f.default_factory, f.repr, f.hash, f.compare) for f in fields(cls)]

    assert of(ours) == of(theirs)
    assert str(inspect.signature(ours)) == str(inspect.signature(theirs))
    assert ours.__match_args__ == theirs.__match_args__
    assert ours.__dataclass_params__.frozen
    for f in fields(theirs):
        assert getattr(ours, f.name, "none") == getattr(theirs, f.name, "none")
    assert (ours.__hash__ is None) == (theirs.__hash__ is None)


@pytest.mark.parametrize("many", [False, True])
@pytest.mark.parametrize(("name", "args", "given"), FALSE_CALLS)
def test_what_a_dataclass_refuses_is_refused(name, args, given, many):
    ours = made_by(frozen.dataclass)[name]
    if many:
        made_often(ours)
    with pytest.raises((TypeError, ValueError)) as theirs:
        THEIRS[name](*args, **given)
    with pytest.raises(theirs.type):
        ours(*args, **given)


def made_often(cls: Any) -> None:
    before = cls.__init__
    for _ in range(frozen._MANY):
        cls(*range(len(cls.__match_args__), 0, -1))
    assert cls.__init__ is not before


@pytest.mark.parametrize(("name", "args", "given"), CALLS)
def test_an_instance_stays_the_same_once_the_compiled_init_has_come(name, args, given):
    ours = made_by(frozen.dataclass)[name]
    before = told(ours(*args, **given))
    made_often(ours)
    assert told(ours(*args, **given)) == before


def test_defaults_that_are_made_are_made_anew_and_others_shared():
    one, other = OURS["Many"](1), OURS["Many"](1)
    assert one.c == {}
    assert one.c is not other.c
    assert one.d is other.d


def test_equal_means_equal_in_the_fields_that_are_compared():
    many = OURS["Many"]
    assert many(1, c={"x": 1}) == many(1)
    assert hash(many(1, c={"x": 1}, e=[1])) == hash(many(1))
    assert many(1, e=[1]) != many(1)
    assert many(1, d="x") != many(1)
    assert OURS["Two"](7.0, "two") != OURS["Below"]()
    assert OURS["One"](float("nan")) != OURS["One"](float("nan"))


@pytest.mark.parametrize("name", ["One", "Two", "Many", "Below"])
def test_nothing_of_an_instance_can_be_changed(name):
    one = OURS[name](1)
    for wanted in ("a", "anything"):
        with pytest.raises(FrozenInstanceError, match=f"cannot assign to field '{wanted}'"):
            setattr(one, wanted, 2)
    with pytest.raises(FrozenInstanceError, match="cannot delete field 'a'"):
        del one.a
    assert one.a == 1


def test_a_subclass_without_the_decorator_may_hold_more():
    for classes in (OURS, THEIRS):

        class Loose(classes["Two"]):  # type: ignore[misc]
            pass

        one = Loose(1)
        one.more = 2
        assert (one.more, one.b) == (2, "two")
        with pytest.raises(FrozenInstanceError):
            one.a = 2
        del one.more
        assert not hasattr(one, "more")


def test_a_value_is_kept_that_was_worked_out():
    one = OURS["Many"](1)
    assert one.kept == 2
    assert "kept" in vars(one)
    assert one == OURS["Many"](1)


def test_replace_copy_and_checks():
    one = OURS["Two"](1)
    assert replace(one, b="x") == OURS["Two"](1, "x")
    assert copy.copy(one) == copy.deepcopy(one) == one
    with pytest.raises(TypeError):
        replace(one, c=1)
    with pytest.raises(ValueError, match="below"):
        replace(OURS["Checked"](1), a=-1)


def test_a_true_dataclass_may_stand_on_one_made_here_but_not_under_it():
    @dataclasses.dataclass(frozen=True)
    class Above(OURS["Two"]):  # type: ignore[misc]
        c: int = 3

    assert Above(1, c=4) == Above(1, "two", 4)
    assert [f.name for f in fields(Above)] == ["a", "b", "c"]
    with pytest.raises(TypeError, match="another make"):

        @frozen.dataclass(frozen=True)
        class Under(THEIRS["Two"]):  # type: ignore[misc]
            c: int = 3


def test_fields_of_kinds_that_are_not_made_are_refused():
    with pytest.raises(TypeError, match="only plain fields"):

        @frozen.dataclass(frozen=True)
        class Shut:
            a: int = field(default=1, init=False)

    with pytest.raises(TypeError, match="only plain fields"):

        @frozen.dataclass(frozen=True)
        class Passing:
            a: dataclasses.InitVar[int]


def test_a_default_is_given_or_made_but_not_both():
    for said in (field, frozen.field):
        with pytest.raises(ValueError, match="cannot specify both"):
            said(default=1, default_factory=list)


def test_records_and_bands_are_pickled():
    from refdb.quantities.band import Band
    from refdb.records import Source

    source = Source(**{f.name: f.name for f in fields(Source)})
    for one in (Band(2.0, 1.0, 3.0), source):
        for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1):
            again = pickle.loads(pickle.dumps(one, protocol))
            assert again == one
            assert hash(again) == hash(one)


def test_a_class_costs_little_until_it_is_asked_more():
    """No method is compiled for it: that is what this is for."""
    program = (
        "import builtins, dataclasses; calls = []; real = dataclasses.dataclass\n"
        "dataclasses.dataclass = lambda *a, **k: calls.append(1) or real(*a, **k)\n"
        "import refdb.records; from refdb.quantities.band import Band\n"
        "b = Band(2.0, 1.0, 3.0); hash(b), repr(b), b == b\n"
        "print(len(calls)); dataclasses.replace(b, value=2.5); print(len(calls))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["0", "1"]


def test_every_frozen_class_is_made_so():
    """One that is not costs every command that imports it a third of a millisecond."""
    from pathlib import Path

    package = Path(frozen.__file__).parent
    texts = {p.relative_to(package): p.read_text(encoding="utf-8") for p in package.rglob("*.py")}
    made = [p for p, text in texts.items() if "\n@dataclass(frozen=True" in text]
    # Of rows with slots there are many thousands while a store is built; no other command reads them.
    wrong = [str(p) for p in made if "refdb.frozen import" not in texts[p] and "slots=True" not in texts[p]]
    assert len(made) > 50
    assert not wrong, "take dataclass from refdb.frozen"


@pytest.mark.parametrize(("name", "args", "given"), CALLS)
def test_replace_is_as_that_of_dataclasses(name, args, given):
    ours, theirs = OURS[name](*args, **given), THEIRS[name](*args, **given)
    assert told(frozen.replace(ours)) == told(replace(theirs))
    if hasattr(ours, "a"):
        assert told(frozen.replace(ours, a=9)) == told(replace(theirs, a=9))
        assert ours == OURS[name](*args, **given)
    with pytest.raises(TypeError):
        frozen.replace(ours, nothing=1)


def test_replace_leaves_out_what_was_worked_out_and_checks_again():
    one = OURS["Many"](1)
    assert one.kept == 2
    assert frozen.replace(one, a=5).kept == 6
    with pytest.raises(ValueError, match="below"):
        frozen.replace(OURS["Checked"](1), a=-1)
