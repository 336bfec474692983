"""What stands in a cell of a table, in words: materials, sources and rules by name, selectors and units spelt out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any

from markupsafe import Markup

from refdb.browse.pages.printed import held, typeset, with_unit
from refdb.browse.site import Site, is_yours, link_to, link_to_verdict
from refdb.errors import BadInput, NotFound
from refdb.judge.cautions import parts_of
from refdb.judge.rules import RULES
from refdb.judge.selectors import GLASS_FIELDS, METAL_FIELDS, tokens_of
from refdb.records.printed import number_of, unit_of, unit_words
from refdb.store.workshop.keys import PREFIX
from refdb.words import lower_first

#: Columns that hold the key of a material, in the store and on the shelf; so many names stand in one cell.
MATERIALS, MOST_NAMED = frozenset({"material", "glass", "metal", "like"}), 3
_SELECTORS = {("fit_rules", "glass"), ("fit_rules", "metal"), ("colour_reactions", "glass")}
_RULES = {("faults", "rules"), ("practice_topics", "rules"), ("known_pairs", "used_for"), ("builds", "refused_by")}
_SYMPTOMS = {("faults", "symptom"), ("practice_rules", "faults")}
_SYMBOLS = {("contacts", "metal_a"), ("contacts", "metal_b"), ("leaf_details", "metal"), ("leaf", "metal")}
_OF_PROPERTY = frozenset({"property_values", "reference_values", "estimates", "property_bounds"})
_FIGURES, _WIDTHS = frozenset({"value", "low", "high", "least", "most"}), frozenset({"widest", "apart"})
_UNITS = frozenset({"unit", "shown_unit", "unit_as_printed"})
#: Where a word of a selector says nothing of what it is about: how it begins.
_BEGIN = {"made_for": "made for ", "holds": "with ", "bare_surface": "with a skin of ", "family": "", "role": ""}
#: Words of these fields name no material by themselves.
_BARE = frozenset({"made_for", "holds", "bare_surface", "lead", "cadmium", "undercoat", "optical", "hardness", "form"})
_WHOLE = {
    ("lead", "contains"): "leaded",
    ("lead", "unknown"): "of unknown lead",
    ("lead", "free"): "lead-free",
    ("cadmium", "contains"): "with cadmium",
    ("cadmium", "unknown"): "of unknown cadmium",
    ("cadmium", "free"): "without cadmium",
    ("undercoat", "yes"): "in need of an undercoat",
    ("undercoat", "no"): "in need of no undercoat",
}
_FIELDS = tuple(dict.fromkeys((*GLASS_FIELDS, *METAL_FIELDS)))
_GROUNDS = {"metal": "on ", "alloy": "on ", "leaf": "over leaf of ", "wire": "against wire of ", "handled": "on "}


class CellWords:
    """Words for cells of the tables of one site."""

    def __init__(self, site: Site) -> None:
        self.site = site

    @cached_property
    def _labels(self) -> dict[str, str]:
        return {m.key: m.label for m in self.site.ref.materials() if not is_yours(m)}

    @cached_property
    def _properties(self) -> dict[str, Any]:
        return {p.key: p for p in self.site.ref.properties()}

    @cached_property
    def _elements(self) -> dict[str, str]:
        return self._pairs("SELECT symbol, name FROM elements")

    @cached_property
    def _symptoms(self) -> dict[str, str]:
        return self._pairs("SELECT key, label FROM symptoms")

    @cached_property
    def _rules(self) -> dict[str, str]:
        fit = self._pairs("SELECT key, rule FROM fit_rules")
        reactions = self._pairs("SELECT key, change FROM colour_reactions")
        return (
            {key: change.rstrip(".") for key, change in reactions.items()}
            | fit
            | {key: rule.title for key, rule in RULES.items()}
        )

    def _pairs(self, sql: str) -> dict[str, str]:
        return {str(key): str(word) for key, word in (row.values() for row in self.site.ref.rows(sql))}

    def of(self, table: str, column: str, value: Any, row: Mapping[str, Any]) -> Any:
        """A cell in words; text that means itself comes back as it is, to be escaped where it is printed."""
        if value is None or value == "":
            return ""
        place = (table, column)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return self._number(table, column, float(value), row)
        if not isinstance(value, str):
            return value
        if place == ("aliases", "record") or (column in MATERIALS and place not in _SELECTORS | _SYMBOLS):
            return self._material(table, value)
        told = self._told(place, value)
        return held(value) if told is None else told

    def _told(self, place: tuple[str, str], value: str) -> Any:
        table, column = place
        if column == "source":
            return _linked(f"/reference/sources/{value}", self.site.source_name(value))
        if column in _UNITS:
            words = unit_words(value) or "a pure number"
            return _typed_out(words)
        if column == "property" and value in self._properties:
            return self._properties[value].label
        readers: tuple[tuple[set[tuple[str, str]], Callable[[str], Any]], ...] = (
            (_SELECTORS, lambda text: self.selector(text, column)),
            (_RULES, lambda text: _each(text, self._rules)),
            (_SYMPTOMS, lambda text: _each(text, self._symptoms)),
            (_SYMBOLS, self._symbols),
            ({("colour_reactions", "ground")}, self.ground),
            ({("hazards", "trigger")}, self._trigger),
            ({("property_bounds", "none_found")}, lambda text: _each(text, self._labels)),
        )
        for places, read in readers:
            if place in places:
                return read(value)
        if table == "known_pairs" and column == "note":
            return self._note(value)
        if table == "answers" and column == "numbers":
            return "the numbers of the verdict"
        if table in ("glass_groups", "property_values") and column in ("glass_group", "shared_by"):
            return value.replace("-", " ")
        if table == "source_subjects" and column == "subject":
            return self._subject(value)
        return None

    def _number(self, table: str, column: str, value: float, row: Mapping[str, Any]) -> Any:
        prop = self._properties.get(str(row.get("property", ""))) if table in _OF_PROPERTY else None
        if prop is not None and column in _FIGURES | _WIDTHS:
            unit = unit_of(prop)
            return with_unit(typeset(number_of(value, prop)), "K" if unit == "°C" and column in _WIDTHS else unit)
        if column in ("preferred", "wash") and value in (0.0, 1.0):
            return "yes" if value else "no"
        if not math.isfinite(value):
            return str(value)
        if column in ("year", "number", "temp_c", "place", "weight", "rank") and value.is_integer():
            return f"{value:.0f}"
        text = f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"
        return typeset(f"{float(text):.0f}" if float(text).is_integer() else text)

    def _material(self, table: str, key: str) -> Any:
        if is_yours(key):
            try:
                called = self.site.ref.material(key).label
            except NotFound:
                called = key.removeprefix(PREFIX).replace("-", " ")
            return _linked(link_to(key), called)
        if key in self._labels:
            return _linked(link_to(key), self._labels[key])
        if table in ("compositions", "reference_values", "estimates"):
            label = self._published.get(key)
            return _linked(f"/reference/reference_glasses/{key}", label) if label else key
        return self._solders.get(key, key)

    def _symbols(self, text: str) -> str:
        words = text.split()
        if all(word in self._elements for word in words):
            return ", ".join(self._elements[word] for word in words)
        return text

    @cached_property
    def _solders(self) -> dict[str, str]:
        return self._pairs("SELECT key, label FROM solders")

    @cached_property
    def _published(self) -> dict[str, str]:
        return self._pairs("SELECT key, label FROM reference_glasses")

    def selector(self, text: str, kind: str = "glass") -> str:
        """A selector of glasses or metals in words; as it is where it cannot be read."""
        if text == "any":
            return f"any {kind}"
        try:
            tokens = tokens_of(text, _FIELDS)
        except BadInput:
            return text
        told = []
        for inverse, name, words in tokens:
            known = [_WHOLE.get((name, word)) for word in sorted(words)]
            if name == "key":
                said = self._some(sorted(words))
            elif all(known):
                said = " or ".join(str(word) for word in known)
            else:
                said = _BEGIN.get(name, "") + " or ".join(sorted(words))
            told.append(f"not {said}" if inverse else said)
        first = tokens[0][1]
        if first in _BARE and not tokens[0][0]:
            told[0] = f"{told[0]} {kind}" if first in ("lead", "optical", "hardness", "form") else f"{kind} {told[0]}"
        return "; ".join(told)

    def _some(self, keys: list[str]) -> str:
        names = [lower_first(self._labels.get(key, key)) for key in keys]
        more = len(names) - MOST_NAMED
        return " or ".join(names[:MOST_NAMED]) + (f", and {more} more" if more > 0 else "")

    def ground(self, text: str) -> str:
        """What a colour lies on or meets, in words."""
        kind, _, rest = text.partition(" ")
        words = rest.split("|")
        if kind == "glass":
            return f"beside {self.selector(rest)}"
        if kind == "handled" and words == ["any"]:
            return "on anything, by handling or fire"
        if kind == "alloy":
            return _GROUNDS[kind] + self._some(words)
        if kind in ("leaf", "wire"):
            words = [self._elements.get(word, word) for word in words]
        tail = ", by handling or fire" if kind == "handled" else ""
        return f"{_GROUNDS.get(kind, '')}{' or '.join(words)}{tail}"

    def _trigger(self, text: str) -> str:
        told = []
        for kind, rest in parts_of(text):
            if kind == "practice":
                told.append(f"practice: {rest}")
            elif kind == "word":
                told.append(rest)
            else:
                told.append(self.selector(rest, kind))
        return "; ".join(told)

    def _note(self, text: str) -> str:
        """A note that may name rows of other tables as file and key."""
        parts = []
        for part in text.split("; "):
            table, _, key = part.partition(" ")
            if table == "fit_rules":
                parts.append(f"rule: {self._rules.get(key, key)}")
            elif table == "practice_rules":
                parts.append(f"practice: {self._practice.get(key, key)}")
            else:
                parts.append(part)
        return "; ".join(parts)

    @cached_property
    def _practice(self) -> dict[str, str]:
        return self._pairs("SELECT key, statement FROM practice_rules")

    def _subject(self, text: str) -> str:
        head, of, tail = text.partition(" of ")
        prop = self._properties.get(head)
        return f"{prop.label if prop else head.replace('_', ' ')}{of}{tail}"

    def verdict_of(self, row: Mapping[str, Any]) -> str:
        """The address of the verdict on the glass and the metal of a row; empty where it names none."""
        glass, metal = row.get("glass"), row.get("metal")
        return link_to_verdict(glass, metal) if isinstance(glass, str) and isinstance(metal, str) else ""


def _each(text: str, names: Mapping[str, str]) -> str:
    return "; ".join(lower_first(names.get(word, word)) for word in (part.strip() for part in text.split(";")))


def _typed_out(unit: str) -> str:
    """A unit of a source that no property is kept in, without what only a reader of units needs."""
    for written, meant in (("**2", "²"), ("**3", "³"), ("ug/", "µg/"), ("1e-6/delta_degF", "ppm/°F"), ("delta_", "")):
        unit = unit.replace(written, meant)
    return unit


def _linked(href: str, words: str) -> Markup:
    return Markup('<a href="{}">{}</a>').format(href, words)
