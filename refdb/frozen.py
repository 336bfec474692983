"""Frozen dataclasses that cost next to nothing to define.

`dataclasses.dataclass` writes and compiles half a dozen methods for each class, a third of a millisecond and more. A
verdict meets a hundred such classes, and makes a few instances of most: a fourth of the time of a short command went
there. The decorator here has the same name and the same meaning, and uses methods written once. What is seldom asked
for (`fields`, `replace`, `asdict`, the signature) is taken from a true dataclass, which is made when it is first
wanted; so is the compiled `__init__`, once a class has made so many instances that it pays. `field` stands in for that
of Python, whose module loads `inspect`: as much time again. Of fields, no more than is used here can be said.
"""

from __future__ import annotations

import sys
from operator import attrgetter
from typing import TYPE_CHECKING, Any

#: Holds the place of a value that is not there; nobody else has it.
_ABSENT: Any = object()

if TYPE_CHECKING:
    # So that checkers of types know all that they know of dataclasses.
    from dataclasses import dataclass, field, replace
else:

    def field(*, default=_ABSENT, default_factory=_ABSENT, repr=True, hash=None, compare=True):
        """As `dataclasses.field`."""
        return _Field(default, default_factory, repr, hash, compare)

    def replace(one, /, **changes):
        """As `dataclasses.replace`."""
        return type(one)(**{name: getattr(one, name) for name in type(one).__match_args__} | changes)

    def dataclass(*, frozen, repr=True):
        """As `dataclasses.dataclass(frozen=True)`, which is the only kind of class made here.

        Parameters
        ----------
        frozen : bool
            True, so that it stands written where the class is defined.
        repr : bool
            Whether the class is given a `__repr__`.
        """
        assert frozen
        return lambda cls: _framed(cls, repr)


__all__ = ["dataclass", "field", "replace"]
_NAME = "__refdb_fields__"
#: From so many instances on, the two microseconds that the compiled `__init__` saves where fields are named have paid
#: for its compilation and for what that loads.
_MANY = 3000


class _Field:
    """What is said of a field."""

    __slots__ = ("compare", "default", "default_factory", "hash", "repr")

    def __init__(self, default: Any, default_factory: Any, repr: bool, hash: bool | None, compare: bool) -> None:
        if default is not _ABSENT and default_factory is not _ABSENT:
            raise ValueError("cannot specify both default and default_factory")
        self.default, self.default_factory = default, default_factory
        self.repr, self.hash, self.compare = repr, hash, compare


def _ours(cls: type, name: str, given: Any) -> Any:
    """What is said of a field, where Python's own `field` said it; anything else as it is."""
    dataclasses = sys.modules.get("dataclasses")
    if dataclasses is None or not isinstance(given, dataclasses.Field):
        return given
    if not given.init:
        raise TypeError(f"{cls.__name__}.{name}: of dataclasses, only plain fields are made here")
    default, make = (_ABSENT if x is dataclasses.MISSING else x for x in (given.default, given.default_factory))
    return _Field(default, make, given.repr, given.hash, given.compare)


class _Fields:
    """What the methods need to know of the fields of a class, in their order."""

    __slots__ = ("compared", "defaults", "hashed", "names", "shown")

    def __init__(self, cls: type) -> None:
        own: dict[str, Any] = {}
        for base in reversed(cls.__mro__[1:]):
            inherited = base.__dict__.get(_NAME)
            if inherited is not None:
                own |= inherited
            elif "__dataclass_fields__" in base.__dict__:
                raise TypeError(f"{cls.__name__}: its base {base.__name__} is a dataclass of another make")
        # Annotations are text here; those of the class alone, not of its bases.
        for name, kind in cls.__annotations__.items():
            if str(kind).startswith(("ClassVar", "typing.ClassVar")):
                continue
            own[name] = _ours(cls, name, cls.__dict__.get(name, _ABSENT))
            if "InitVar" in str(kind) or "KW_ONLY" in str(kind):
                raise TypeError(f"{cls.__name__}.{name}: of dataclasses, only plain fields are made here")
        setattr(cls, _NAME, own)
        self.names = tuple(own)
        #: By name, whether the default is made anew each time, and the default or what makes it.
        self.defaults: dict[str, tuple[bool, Any]] = {}
        self.compared, self.hashed, self.shown = [], [], []
        for name, given in own.items():
            plain = not isinstance(given, _Field)
            if plain:
                if given is not _ABSENT:
                    self.defaults[name] = False, given
            elif given.default_factory is not _ABSENT:
                self.defaults[name] = True, given.default_factory
            elif given.default is not _ABSENT:
                self.defaults[name] = False, given.default
            if plain or given.compare:
                self.compared.append(name)
            if plain or (given.compare if given.hash is None else given.hash):
                self.hashed.append(name)
            if plain or given.repr:
                self.shown.append(name)


def _framed(cls: Any, with_repr: bool) -> Any:
    """Give a class the methods of a frozen dataclass."""
    fields = _Fields(cls)
    for name in cls.__annotations__:
        if isinstance(getattr(cls, _NAME).get(name), _Field):
            if name in fields.defaults and not fields.defaults[name][0]:
                setattr(cls, name, fields.defaults[name][1])
            else:
                delattr(cls, name)
    written = cls.__dict__
    methods = {
        "__init__": _init(cls, fields),
        "__eq__": _eq(cls, fields.compared),
        "__setattr__": _refusing(cls, fields.names, "assign to", object.__setattr__),
        "__delattr__": _refusing(cls, fields.names, "delete", object.__delattr__),
    }
    if with_repr:
        methods["__repr__"] = _repr(fields.shown)
    if written.get("__hash__") is None:
        methods["__hash__"] = _hash(fields.hashed)
    for name, method in methods.items():
        if name not in written or name == "__hash__":
            setattr(cls, name, method)
    setattr(cls, "__match_args__", fields.names)  # noqa: B010
    # Nothing of these is needed to make an instance or to compare two.
    for name in ("__dataclass_fields__", "__dataclass_params__", "__signature__"):
        setattr(cls, name, _OfTwin(cls, name))
    return cls


def _init(cls: Any, fields: _Fields) -> Any:
    names, count = fields.names, len(fields.names)
    checks, so_far = hasattr(cls, "__post_init__"), 0
    # All fields in their order, so that `vars` has them in it too however they are given.
    start = {name: fields.defaults.get(name, (True, None)) for name in names}
    plain = {name: _ABSENT if made else default for name, (made, default) in start.items()}
    makers = [(name, make) for name, (made, make) in fields.defaults.items() if made]
    required = [name for name in names if name not in fields.defaults]

    def __init__(self: Any, /, *args: Any, **given: Any) -> None:  # noqa: N807
        nonlocal so_far
        so_far += 1
        if so_far == _MANY:
            cls.__init__ = _twin(cls).__init__
        values = self.__dict__
        if given or len(args) != count:
            values.update(plain)
            values.update(given)
            fits = len(args) <= count and len(values) == count and given.keys().isdisjoint(names[: len(args)])
            values.update(zip(names, args, strict=False))
            if not fits or any(values[name] is _ABSENT for name in required):
                raise TypeError(_misfit(type(self).__name__, names, args, given, required))
            for name, make in makers:
                if values[name] is _ABSENT:
                    values[name] = make()
        else:
            values.update(zip(names, args, strict=True))
        if checks:
            self.__post_init__()

    return __init__


def _misfit(cls: str, names: tuple[str, ...], args: tuple[Any, ...], given: dict[str, Any], required: list[str]) -> str:
    """Why arguments do not fit the fields, in Python's own words."""
    start = f"{cls}.__init__() "
    if len(args) > len(names):
        return f"{start}takes {len(names) + 1} positional arguments but {len(args) + 1} were given"
    for name in given:
        if name not in names:
            return f"{start}got an unexpected keyword argument {name!r}"
    for name in names[: len(args)]:
        if name in given:
            return f"{start}got multiple values for argument {name!r}"
    missing = [name for name in required if name not in given and name not in names[: len(args)]]
    return f"{start}missing required arguments: {', '.join(map(repr, missing))}"


def _values(names: list[str]) -> Any:
    """A function that gives the values of these fields as a tuple."""
    if len(names) > 1:
        return attrgetter(*names)
    return (lambda one: (getattr(one, names[0]),)) if names else (lambda one: ())


def _eq(cls: type, names: list[str]) -> Any:
    of = _values(names)

    def __eq__(self: Any, other: Any) -> Any:  # noqa: N807
        return of(self) == of(other) if other.__class__ is self.__class__ else NotImplemented

    return __eq__


def _hash(names: list[str]) -> Any:
    of = _values(names)

    def __hash__(self: Any) -> int:  # noqa: N807
        return hash(of(self))

    return __hash__


def _repr(names: list[str]) -> Any:
    def __repr__(self: Any) -> str:  # noqa: N807
        return f"{type(self).__qualname__}({', '.join(f'{n}={getattr(self, n)!r}' for n in names)})"

    return __repr__


def _refusing(cls: type, names: tuple[str, ...], deed: str, otherwise: Any) -> Any:
    """`__setattr__` or `__delattr__` that refuses; a subclass may hold more, as with a true dataclass."""

    def refuse(self: Any, name: str, *value: Any) -> None:
        if type(self) is cls or name in names:
            from dataclasses import FrozenInstanceError

            raise FrozenInstanceError(f"cannot {deed} field {name!r}")
        otherwise(self, name, *value)

    return refuse


class _OfTwin:
    """An attribute of a class that is looked up in its twin, a true dataclass, the first time it is asked for."""

    __slots__ = ("cls", "name")

    def __init__(self, cls: type, name: str) -> None:
        self.cls, self.name = cls, name

    def __get__(self, one: Any, of: type | None = None) -> Any:
        twin = _twin(self.cls)
        if self.name == "__signature__":
            import inspect

            found: Any = inspect.signature(twin)
        else:
            found = getattr(twin, self.name)
        setattr(self.cls, self.name, found)
        return found


def _twin(cls: Any) -> Any:
    """A true dataclass with the fields of one that was made here."""
    import dataclasses

    fields = getattr(cls, _NAME)
    body: dict[str, Any] = {
        name: _theirs(given) if isinstance(given, _Field) else given
        for name, given in fields.items()
        if given is not _ABSENT
    }
    notes: dict[str, Any] = {}
    for base in reversed(cls.__mro__):
        notes |= getattr(base, "__annotations__", {})
    body["__annotations__"] = {name: notes[name] for name in fields}
    body["__module__"], body["__doc__"] = cls.__module__, cls.__doc__
    if hasattr(cls, "__post_init__"):
        body["__post_init__"] = cls.__post_init__
    return dataclasses.dataclass(frozen=True)(type(cls.__name__, (), body))


def _theirs(given: _Field) -> Any:
    """What is said of a field as Python's own `field` says it."""
    import dataclasses

    said = {name: getattr(given, name) for name in given.__slots__ if getattr(given, name) is not _ABSENT}
    return dataclasses.field(**said)
