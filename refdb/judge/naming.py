"""Records by what people call them, and what an answer says of how the names were taken."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from refdb.errors import Ambiguous, BadInput, NotFound

if TYPE_CHECKING:
    from refdb.records import Glass, Leaf, Material, Metal
    from refdb.records.named import Named
    from refdb.store.reference import Reference

_Found = TypeVar("_Found")


def found_at(where: str, look_up: Callable[[], _Found]) -> _Found:
    """What is looked up; NotFound and Ambiguous name the place, an option or a field of a file."""
    try:
        return look_up()
    except NotFound as fault:
        raise NotFound(fault.what, where or fault.where, fault.todo, fault.near) from None
    except Ambiguous as fault:
        raise Ambiguous(fault.what, where or fault.where, fault.todo, fault.choices) from None


class Taking:
    """Looks records up by name, and remembers how each name was taken.

    Parameters
    ----------
    ref : Reference
        The open store.
    choose : callable, optional
        Asks the person which of several records is meant, and returns its key; without it `Ambiguous` is raised.

    Attributes
    ----------
    taken : dict
        For an answer: by the place of a name (such as "glass") what `Named.as_dict` gives. A key or a label leaves
        nothing here.
    thickness : str
        The thickness that was said with a metal, as in "18 gauge copper", or nothing.
    """

    def __init__(self, ref: Reference, choose: Callable[[Ambiguous], str] | None = None) -> None:
        self.ref, self.choose = ref, choose
        self.taken: dict[str, dict[str, Any]] = {}
        self.thickness = ""

    def key(self, text: str, kind: str | None, place: str) -> str:
        """The key of a name; raises what `Reference.named` raises, which names the place where that is an option."""
        where = place if place.startswith("--") else ""
        named = found_at(where, lambda: self._named(text, kind))
        if named.taken_as:
            self.taken[place] = named.as_dict()
        if named.thickness:
            self.thickness = named.thickness
        return named.key

    def _named(self, text: str, kind: str | None) -> Named:
        try:
            return self.ref.named(text, kind)
        except Ambiguous as several:
            if self.choose is None:
                raise
            return self.ref.named(self.choose(several), kind)

    def glass(self, text: str, place: str = "glass") -> Glass:
        """The glass of this name."""
        return self.ref.glass(self.key(text, "glass", place))

    def leaf(self, text: str, place: str = "leaf") -> Leaf:
        """The leaf of this name."""
        return self.ref.leaf(self.key(text, "leaf", place))

    def material(self, text: str, place: str = "material") -> Material:
        """The material of this name, of any kind but solder."""
        return self.ref.material(self.key(text, None, place))

    def sheet(self, text: str, place: str = "metal") -> Metal:
        """The metal of this name; a thickness may be said with it, see `thickness`."""
        return self.ref.metal(self.key(text, "metal", place))

    def metal(self, text: str, place: str = "metal", instead: str = "") -> Metal:
        """The metal of this name; BadInput where a thickness is said with it, with `instead` as what to do."""
        found = self.sheet(text, place)
        if self.thickness:
            raise BadInput(
                f"no thickness is taken here, such as {self.thickness}", place, instead or "name the metal alone"
            )
        return found

    @property
    def question(self) -> dict[str, Any]:
        """What is added to the question of an answer: `taken`, or nothing."""
        return {"taken": self.taken} if self.taken else {}


def taken_line(place_taken: Mapping[str, Any], width: int = 78) -> str:
    """How one name was taken, on one line: "hard clear: taken as lead-free hard clear; also: leaded hard clear"."""
    from refdb.records.named import small
    from refdb.words import shortened

    one = place_taken
    thick = f", {one['thickness']}" if one.get("thickness") else ""
    line = f"{shortened(one['typed'], 30)}: taken as {small(one['key'], one['label'])}{thick}"
    names = [small(other["key"], other["label"]) for other in one["also"]]
    for count in range(len(names), -1, -1):
        rest = len(names) - count
        more = f" and {rest} more" if rest and count else f"; also: {rest} more" if rest else ""
        also = f"; also: {', '.join(names[:count])}" if count else ""
        if len(line) + len(also) + len(more) <= width or not count:
            return line + also + more
    return line
