"""The reference store, read only: look-ups by key and by words."""

from __future__ import annotations

import os
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput, NotFound
from refdb.records import (
    Contact,
    EstimatedValue,
    Fault,
    FitRule,
    Glass,
    Hazard,
    KilnOffset,
    Leaf,
    Material,
    Metal,
    ObservedFiring,
    OwnTile,
    Property,
    PropertyValue,
    Reaction,
    ReferenceGlass,
    ReferenceValue,
    Solder,
    Source,
    Symptom,
)
from refdb.store.reference_file import ReferenceFile
from refdb.store.rule_tables import PARTS
from refdb.words import shortened

if TYPE_CHECKING:
    from refdb.records.named import Meaning, Named

_KINDS: dict[str, type[Material]] = {"metal": Metal, "glass": Glass, "leaf": Leaf}
_DETAILS = {"metal": "metal_details", "glass": "glass_details", "leaf": "leaf_details"}
_MOST_KEY_LENGTH = 200


def default_path() -> Path:
    """Where the reference store is: `REFDB_STORE`, or the file shipped with the package."""
    own = os.environ.get("REFDB_STORE", "")
    return Path(own) if own else Path(__file__).resolve().parent.parent / "reference.db"


class Reference(ReferenceFile):
    """An open reference store: its records by key and by words. Close it, or use it in a `with` statement.

    `remembered` is for what others work out of all its rows: a store that keeps what it has read keeps that too, for as
    long as it holds; None where nothing is kept.
    """

    remembered: dict[str, Any] | None = None

    # Materials

    def metal(self, key: str) -> Metal:
        """The base metal or clay of this key; NotFound with the nearest keys otherwise."""
        found = self.material(key, "metal")
        assert isinstance(found, Metal)
        return found

    def glass(self, key: str) -> Glass:
        """The glass class of this key; NotFound with the nearest keys otherwise."""
        found = self.material(key, "glass")
        assert isinstance(found, Glass)
        return found

    def leaf(self, key: str) -> Leaf:
        """The leaf or foil of this key; NotFound with the nearest keys otherwise."""
        found = self.material(key, "leaf")
        assert isinstance(found, Leaf)
        return found

    def material(self, key: str, kind: str | None = None) -> Material:
        """The record of this key, of one kind or of any; BadInput for what is no text."""
        if not isinstance(key, str):
            raise BadInput("is no key", str(kind or "material"), "give the key of a record, as text")
        clean = key.strip().lower() if len(key) <= _MOST_KEY_LENGTH else ""
        rows = self.rows("SELECT * FROM materials WHERE key = ?", clean) if clean else []
        if not rows or (kind and rows[0]["kind"] != kind):
            raise self._not_found(key, kind, rows)
        return self._records(rows[0]["kind"], rows)[0]

    def _records(self, kind: str, rows: list[dict[str, Any]]) -> list[Material]:
        """Rows of `materials` of one kind as records; of several, all that belongs to any of them is read at once."""
        alone = len(rows) == 1
        of = "material = ?" if alone else "material IN (SELECT key FROM materials WHERE kind = ?)"
        which = rows[0]["key"] if alone else kind
        details = {r["material"]: _words(r) for r in self.rows(f"SELECT * FROM {_DETAILS[kind]} WHERE {of}", which)}
        values = self._values(of, which)
        points: dict[str, list[tuple[float, float]]] = {}
        carbon: set[str] = set()
        if kind == "metal":
            for r in self.rows(f"SELECT * FROM expansion_points WHERE {of} ORDER BY temp_c", which):
                points.setdefault(r["material"], []).append((r["temp_c"], r["strain_ppm"]))
            if any(one["clay_family"] for one in details.values()):
                sql = "SELECT DISTINCT clay_family FROM firing_phases WHERE carbon_mm IS NOT NULL"
                carbon = {r["clay_family"] for r in self.rows(sql)}
        found = []
        for row in rows:
            key = row["key"]
            fields: dict[str, Any] = row | details[key] | {"values": tuple(values.get(key, ()))}
            del fields["kind"], fields["material"]
            if kind == "metal":
                fields["points"] = tuple(points.get(key, ()))
                fields["fired_in_carbon"] = fields["clay_family"] in carbon
            found.append(_KINDS[kind](**fields))
        return found

    def _values(self, of: str, which: str) -> dict[str, list[PropertyValue]]:
        """Figures by material, in the order in which properties are listed."""
        names = [n for n in PropertyValue.__match_args__ if n != "taken_from"]
        found: dict[str, list[PropertyValue]] = {}
        for row in self.rows(
            "SELECT v.* FROM property_values v JOIN properties p ON p.key = v.property "
            f"WHERE v.{of} ORDER BY p.rowid, v.preferred DESC, v.source",
            which,
        ):
            given: dict[str, Any] = {n: ("" if row[n] is None and n in ("locator", "note") else row[n]) for n in names}
            given["preferred"] = bool(row["preferred"])
            found.setdefault(row["material"], []).append(PropertyValue(**given))
        return found

    def _not_found(self, key: str, kind: str | None, rows: list[dict[str, Any]]) -> NotFound:
        what = {"metal": "base metal", "glass": "glass", "leaf": "leaf"}.get(kind or "", "record")
        shown = shortened(key, 60)
        if not key.strip():
            return NotFound(f"no {what} is named", todo=f"give a key; {_list_of(kind)} lists them")
        if rows:
            return NotFound(f"'{shown}' is a {rows[0]['kind']}, not a {what}", todo=f"{_list_of(kind)} lists them")
        near = self.near(key, kind)
        todo = f"did you mean {' or '.join(near)}?" if near else f"{_list_of(kind)} lists them"
        return NotFound(f"no {what} has the key '{shown}'", todo=todo, near=tuple(near))

    def near(self, key: str, kind: str | None = None, most: int = 3) -> list[str]:
        """The nearest keys: by spelling, then by words in common."""
        from refdb.store.names import nearest

        return [one.key for one in nearest(self, key, kind, most)]

    def named(self, text: str, kind: str | None = None) -> Named:
        """What a name or a key means; see `store.names.resolve`, which says what it raises."""
        from refdb.store.names import resolve

        return resolve(self, text, kind)

    def own_named(self, text: str, kind: str | None = None) -> Meaning | None:
        """The person's own record of this name or key; the reference itself has none."""
        return None

    def own_names(self, text: str, kind: str | None = None) -> list[Meaning]:
        """Own records whose names are like a text; the reference itself has none."""
        return []

    def materials(self, kind: str | None = None) -> list[Material]:
        """All records, of one kind or of all, in order of family and key."""
        if kind is not None and kind not in _KINDS:
            raise BadInput(f"no kind of material is called '{kind}'", todo="use metal, glass or leaf")
        found: list[Material] = []
        for one in sorted(_KINDS) if kind is None else (kind,):
            rows = self.rows("SELECT * FROM materials WHERE kind = ? ORDER BY family, key", one)
            found += self._records(one, rows) if rows else []
        return found

    def summaries(self, view: str) -> list[dict[str, Any]]:
        """Rows of one of the views `metals`, `glasses` and `leaf`: one row a material, preferred values in columns."""
        if view not in ("metals", "glasses", "leaf"):
            raise BadInput(f"no list is called '{view}'", todo="use metals, glasses or leaf")
        return self.rows(f"SELECT * FROM {view} ORDER BY family, key")

    def reference_glasses(self, material_key: str | None = None) -> list[ReferenceGlass]:
        """Published glasses of one class, or of all, with what was measured and what is computed for each."""
        where, values = ("WHERE material = ?", (material_key,)) if material_key is not None else ("", ())
        return [
            self._reference_glass(r)
            for r in self.rows(f"SELECT * FROM reference_glasses {where} ORDER BY material, key", *values)
        ]

    def _reference_glass(self, row: dict[str, Any]) -> ReferenceGlass:
        key = row["key"]
        parts = self.rows(
            "SELECT component, wt_pct FROM compositions WHERE glass = ? ORDER BY wt_pct DESC, component", key
        )
        measured = self._of_glass("reference_values", key, tuple(ReferenceValue.__match_args__))
        estimated = self._of_glass("estimates", key, tuple(EstimatedValue.__match_args__))
        return ReferenceGlass(
            **_words(row),
            composition=tuple((p["component"], p["wt_pct"]) for p in parts),
            measured=tuple(ReferenceValue(**r) for r in measured),
            estimated=tuple(EstimatedValue(**r | {"words": r["words"] or ""}) for r in estimated),
        )

    def _of_glass(self, table: str, key: str, names: tuple[str, ...]) -> list[dict[str, Any]]:
        columns = ", ".join(f"v.{name}" for name in names)
        return self.rows(
            f"SELECT {columns} FROM {table} v JOIN properties p ON p.key = v.property "
            "WHERE v.glass = ? ORDER BY p.rowid",
            key,
        )

    # Sources and properties

    def source(self, key: str) -> Source:
        """The source of this key or name; NotFound otherwise."""
        rows = self.rows(
            "SELECT * FROM sources WHERE key = ? OR lower(name) = lower(?) ORDER BY key <> ?", key, key, key
        )
        if not rows:
            from difflib import get_close_matches

            keys = [r["key"] for r in self.rows("SELECT key FROM sources")]
            near = get_close_matches(key[:_MOST_KEY_LENGTH], keys, 3, 0.5)
            raise NotFound(
                f"no source has the key or name '{key[:60]}'",
                todo=f"did you mean {' or '.join(near)}?" if near else "refdb sources lists them",
                near=tuple(near),
            )
        return _source(rows[0])

    def sources(self) -> list[Source]:
        """All sources in order of key."""
        return [_source(r) for r in self.rows("SELECT * FROM sources ORDER BY key")]

    def source_names(self) -> dict[str, str]:
        """The short name of every source by its key."""
        return {r["key"]: r["name"] for r in self.rows("SELECT key, name FROM sources")}

    def resting_on(self, source: str) -> list[dict[str, Any]]:
        """What rests on a source: rows with table, key and what."""
        return self.rows(
            "SELECT place, key, what FROM ("
            "SELECT 'property_values' AS place, material AS key, property AS what, source FROM property_values "
            "UNION ALL SELECT 'expansion_points', material, count(*) || ' points', source FROM expansion_points "
            "GROUP BY source, material "
            "UNION ALL SELECT 'contacts', metal_a || ' on ' || metal_b, reaction, source FROM contacts "
            "UNION ALL SELECT 'fit_rules', key, rule, source FROM fit_rules "
            "UNION ALL SELECT 'colour_reactions', key, change, source FROM colour_reactions "
            "UNION ALL SELECT 'faults', key, cause, source FROM faults "
            "UNION ALL SELECT 'symptoms', key, label, source FROM symptoms "
            "UNION ALL SELECT 'synonyms', key, words, source FROM synonyms "
            "UNION ALL SELECT 'observed_firings', key, result, source FROM observed_firings "
            "UNION ALL SELECT 'solders', key, label, source FROM solders "
            "UNION ALL SELECT 'firing_phases', key, title, source FROM firing_phases "
            "UNION ALL SELECT 'practice_rules', key, topic, source FROM practice_rules "
            "UNION ALL SELECT 'practice_topics', key, topic, source FROM practice_topics "
            "UNION ALL SELECT 'known_pairs', key, words, source FROM known_pairs "
            "UNION ALL SELECT 'hazards', key, hazard, source FROM hazards "
            "UNION ALL SELECT 'exposure_limits', key, agent, source FROM exposure_limits "
            "UNION ALL SELECT 'reference_glasses', key, label, source FROM reference_glasses "
            "UNION ALL SELECT 'aliases', record, count(*) || ' names', source FROM aliases GROUP BY source, record) "
            "WHERE source = ?",
            source,
        )

    def properties(self) -> list[Property]:
        """All properties in the order of the list."""
        return [Property(**r) for r in self.rows("SELECT * FROM properties ORDER BY rowid")]

    # Rules, hazards, practice

    def fit_rules(self) -> list[FitRule]:
        """All rules of surface and use."""
        return [FitRule(**r) for r in self.rows("SELECT * FROM fit_rules ORDER BY key")]

    def contacts(self) -> list[Contact]:
        """All contacts; of the rows of one pair and temperature the one with a band is preferred."""
        return [
            Contact(
                r["metal_a"],
                r["metal_b"],
                r["first_melts_c"],
                r["first_melts_c"] if r["low"] is None else r["low"],
                r["first_melts_c"] if r["high"] is None else r["high"],
                r["reaction"],
                r["basis"],
                r["source"],
                r["low"] is not None,
            )
            for r in self.rows("SELECT * FROM contacts WHERE first_melts_c IS NOT NULL ORDER BY rowid")
        ]

    def solders(self) -> dict[str, Solder]:
        """All solders by key."""
        return {
            r["key"]: Solder(
                r["key"], r["label"], r["family"], r["solidus_c"], r["liquidus_c"], r["hazard"] or "", r["source"]
            )
            for r in self.rows("SELECT * FROM solders ORDER BY key")
        }

    def colour_reactions(self) -> list[Reaction]:
        """All colour reactions."""
        return [Reaction(**_words(r)) for r in self.rows("SELECT * FROM colour_reactions ORDER BY key")]

    def faults(self) -> list[Fault]:
        """All causes of faults, by the key of their symptom and likeliest first."""
        return [Fault(**_words(r)) for r in self.rows("SELECT * FROM faults ORDER BY symptom, rank")]

    def symptoms(self) -> list[Symptom]:
        """All symptoms, by what they are seen in and then by name."""
        order = {part: place for place, part in enumerate(PARTS)}
        every = [Symptom(**_words(r)) for r in self.rows("SELECT * FROM symptoms")]
        return sorted(every, key=lambda s: (order[s.part], s.label))

    def observed_firings(self, material_key: str | None = None) -> list[ObservedFiring]:
        """Firings of one glass, or of all, as they were seen or are said to go."""
        where, values = ("WHERE material = ?", (material_key,)) if material_key is not None else ("", ())
        rows = self.rows(f"SELECT * FROM observed_firings {where} ORDER BY material, kiln_c, minutes", *values)
        return [ObservedFiring(**_words(r) | {"metal_mm": r["metal_mm"]}) for r in rows]

    def hazards(self) -> list[Hazard]:
        """All hazards, weightiest first."""
        columns = "key, step, hazard, caution, trigger, weight, agents, basis, source, note"
        return [Hazard(**_words(r)) for r in self.rows(f"SELECT {columns} FROM hazards ORDER BY weight, key")]

    def grams_left(self, key: str) -> float | None:
        """What a person has left of a material [g]; the reference itself holds no stock."""
        return None

    def find(self, text: str, most: int = 50) -> list[dict[str, Any]]:
        """Records that hold the words of a text, the best first: rows with key, kind, title and a line of the text.

        See `store.search`; raises BadInput without a word.
        """
        from refdb.store.search import search
        from refdb.store.search_words import EVERYWHERE

        hits = search(self, text, (), most, lines=True, idle=EVERYWHERE).hits
        return [{"key": h.key, "kind": h.kind, "title": h.title, "line": h.line} for h in hits]

    def own_hits(self, text: str, kinds: Collection[str] = ()) -> list[dict[str, Any]]:
        """Own records that hold all words; the reference itself has none, see `workshop.beside_reference`."""
        return []

    def tiles(self, glass: str, metal: str) -> list[OwnTile]:
        """Tiles of a glass on a metal; the reference itself has none, see `workshop.beside_reference`."""
        return []

    def kiln_offset(self) -> KilnOffset | None:
        """How much hotter the person's kiln is than it shows; see `workshop.beside_reference`."""
        return None

    def answer(self, glass: str, metal: str, build: str) -> str | None:
        """The precomputed numbers (JSON) of a glass on a metal at a standard build-up, or None."""
        rows = self.rows("SELECT numbers FROM answers WHERE glass = ? AND metal = ? AND build = ?", glass, metal, build)
        return rows[0]["numbers"] if rows else None

    def answers(self, build: str, glass: str | None = None, metal: str | None = None) -> list[dict[str, Any]]:
        """Precomputed numbers at a standard build-up, of one glass or metal or of all."""
        return self.rows(
            "SELECT glass, metal, numbers FROM answers WHERE build = ? AND glass = ifnull(?, glass) "
            "AND metal = ifnull(?, metal)",
            build,
            glass,
            metal,
        )

    def builds(self, metal: str, glass: str | None = None) -> list[dict[str, Any]]:
        """Precomputed ratios of coat to metal on one metal, of one glass or of all, in order of glass."""
        return self.rows(
            "SELECT * FROM builds WHERE metal = ? AND glass = ifnull(?, glass) ORDER BY glass", metal, glass
        )


def _list_of(kind: str | None) -> str:
    return {"metal": "refdb metals", "glass": "refdb glasses", "leaf": "refdb leaf"}.get(kind or "", "refdb find WORD")


def _source(row: dict[str, Any]) -> Source:
    return Source(**(_words(row) | {"year": row["year"]}))


def _words(row: dict[str, Any]) -> dict[str, Any]:
    """A row with empty text where nothing stands."""
    return {k: "" if v is None else v for k, v in row.items()}
