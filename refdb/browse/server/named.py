"""The names in an address: what each was taken for, and the same question with another meaning."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from refdb.browse.server.query import address
from refdb.errors import Ambiguous, NotFound
from refdb.frozen import replace
from refdb.judge.fit.question import thickness_once
from refdb.judge.naming import Taking
from refdb.judge.piece.clear_over_leaf import BARE
from refdb.records.named import small

if TYPE_CHECKING:
    from refdb.browse.site import Site, View

#: Parameters that name a record, and its kind.
_KINDS = {"glass": "glass", "metal": "metal", "leaf": "leaf", "under": "glass", "on": "metal"}


def _kind(name: str) -> str:
    """The kind of record that a parameter names, or the second one of that name; empty for none."""
    return _KINDS.get(name.partition(" ")[0], "")


@dataclass
class NamedQuery:
    """A query whose names are turned into keys, once, when its page is built; `NotFound` and `Ambiguous` come then."""

    site: Site
    path: str
    asked: dict[str, str]
    takes_thickness: bool = False
    found: tuple[dict[str, str], list[dict[str, Any]]] | None = None

    @property
    def query(self) -> dict[str, str]:
        """The query by keys."""
        if self.found is None:
            self.found = self._found()
        return self.found[0]

    def told(self, page: View) -> View:
        """The page with how the names were taken."""
        return replace(page, taken=tuple(self.found[1])) if self.found else page

    def _found(self) -> tuple[dict[str, str], list[dict[str, Any]]]:
        names, query = Taking(self.site.ref), dict(self.asked)
        for name in [name for name in query if _kind(name)]:
            if name == "under" and query[name].strip().lower() == BARE:
                continue
            try:
                query[name] = self._key(names, name, query[name])
            except Ambiguous as several:
                links = tuple((label, self._again(name, key)) for key, label in several.choices)
                raise AmbiguousQuery(several, name, links) from None
            except NotFound as unknown:
                links = tuple((self._label(key), self._again(name, key)) for key in unknown.near)
                raise UnknownInQuery(unknown, name, links) from None
        if names.thickness and self.takes_thickness:
            metal = self.site.ref.metal(query["metal"])
            query["metal_thickness"] = thickness_once(
                names, query.get("metal_thickness", ""), metal, "thickness of the metal"
            )
        told = [
            {
                "typed": one["typed"],
                "label": small(one["key"], one["label"]),
                "also": [
                    (small(other["key"], other["label"]), self._again(name, other["key"])) for other in one["also"]
                ],
            }
            for name, one in names.taken.items()
        ]
        return query, told

    def _key(self, names: Taking, name: str, text: str) -> str:
        if _kind(name) == "metal" and not self.takes_thickness:
            return names.metal(text, name).key
        return names.key(text, _kind(name), name)

    def _label(self, key: str) -> str:
        try:
            return self.site.ref.material(key).small
        except NotFound:
            return key

    def _again(self, name: str, key: str) -> str:
        return address(self.path, **(self.asked | {name: key}))


class AmbiguousQuery(Ambiguous):
    """A name in an address that may mean several things; `links` ask the same question with each, by its label."""

    def __init__(self, several: Ambiguous, where: str, links: tuple[tuple[str, str], ...]) -> None:
        super().__init__(several.what, where, "choose one", several.choices)
        self.links = links


class UnknownInQuery(NotFound):
    """A name in an address that is none; `field` is the parameter, `links` ask the same with each of what is near."""

    def __init__(self, unknown: NotFound, field: str, links: tuple[tuple[str, str], ...]) -> None:
        super().__init__(unknown.what, unknown.where, unknown.todo, unknown.near)
        self.field, self.links = field, links


@contextmanager
def at_field(path: str, query: Mapping[str, str], field: str, label: Callable[[str], str]) -> Iterator[None]:
    """Say of a name that is not found in which field it stands, with links that ask the same with each of what is near.

    Raises
    ------
    UnknownInQuery
        For any `NotFound` that comes.
    """
    try:
        yield
    except NotFound as unknown:
        links = tuple((label(key), address(path, **{**query, field: key})) for key in unknown.near)
        raise UnknownInQuery(unknown, field, links) from None
