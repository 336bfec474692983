"""The piece file: TOML in, a `Piece` out; every fault is one line that says where and what to do."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from refdb.errors import BadInput
from refdb.judge.clay import Sintered, sintered_of
from refdb.judge.fit.question import metal_thickness, thickness_once
from refdb.judge.naming import Taking, found_at
from refdb.judge.piece.steps import (
    COLD_JOINS,
    DOINGS,
    DRAWINGS,
    FACES,
    LUSTRES,
    SHAPES,
    USES,
    Base,
    InKiln,
    Piece,
    Step,
)
from refdb.plan.load_text import MOST_AT_ONCE, read_in_kiln
from refdb.plan.step_keys import CELLS, FLAGS, STEP_KEYS, WITH_GLASS
from refdb.quantities import area_m2, duration_min, fraction, length_m, temperature_c, thickness
from refdb.quantities.band import Band, shown
from refdb.records import Metal
from refdb.store.reference import Reference

MOST_BYTES = 1_000_000
MOST_STEPS = 200
MOST_PIECES = 100_000
#: Slow cooling of more than a week is a slip of the pen [min].
MOST_COOLING_MIN = 10_080
#: Dots in a line: the time to read a key of many parts grows with the square of their number.
_MOST_DOTS = 200
#: Fired thickness that one sifting leaves [m]: value, low, high; common practice.
SIFTING_M = (0.12e-3, 0.10e-3, 0.20e-3)
#: A line of drawing is about this thick when fired [m].
LINE_M = (0.03e-3, 0.01e-3, 0.06e-3)

_PIECE_KEYS = ("title", "width", "height", "area", "quantity", "use", "shape", "rise")
KILN_KEYS = ("power", "rack", "at_once")
_BASE_KEYS = ("metal", "thickness", "schedule", "fresh_width", "fresh_height")


def read_piece(path: Path, ref: Reference) -> Piece:
    """Read a piece file.

    Parameters
    ----------
    path : Path
        A TOML file of at most `MOST_BYTES`.
    ref : Reference
        The store, for its keys and the shrinkage of clays.

    Raises
    ------
    BadInput, NotFound
    """
    return parse_piece(read_text(path), ref, str(path))


def read_text(path: Path) -> str:
    """The text of a piece file of at most `MOST_BYTES`; BadInput for one that cannot be read."""
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "no such name"
        raise BadInput(f"the file cannot be read ({why})", str(path), "refdb piece new writes one") from None
    if len(content) > MOST_BYTES:
        raise BadInput(
            f"the file is larger than {MOST_BYTES / 1e6:.0f} MB", str(path), "a piece file is a page of text"
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput("the file is not text in UTF-8", str(path), "save it as UTF-8") from None


def parse_piece(text: str, ref: Reference, where: str = "piece") -> Piece:
    """Read a piece from the text of its file; `where` names it in faults."""
    try:
        size = len(text.encode())
    except UnicodeEncodeError:
        raise BadInput("the piece holds characters that cannot be read", where, "save it as UTF-8") from None
    if size > MOST_BYTES:
        raise BadInput(f"the piece is longer than {MOST_BYTES / 1e6:.0f} MB", where, "a piece file is a page of text")
    if any(line.count(".") > _MOST_DOTS for line in text.split("\n")):
        raise BadInput(f"a line holds more than {_MOST_DOTS} dots", where, "see refdb piece new")
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadInput(f"not TOML ({_short(str(error))})", where, "see refdb piece new") from None
    except ValueError:
        raise BadInput("not TOML (a number in it has too many digits)", where, "see refdb piece new") from None
    return _Reader(ref, where).piece(data)


def _short(text: str, most: int = 160) -> str:
    """Text cut in its middle, as what TOML says ends with the place."""
    return text if len(text) <= most else f"{text[: most - 63]}...{text[-60:]}"


def _told(value: object) -> str:
    """A value as a message repeats it, without quotes."""
    return shown(value)[1:-1]


class _Reader:
    """Reads the tables of one file; every fault names the file and the place in it."""

    def __init__(self, ref: Reference, where: str) -> None:
        self.ref, self.file = ref, where
        self.names = Taking(ref)

    def fault(self, what: str, place: str, todo: str = "") -> BadInput:
        return BadInput(what, f"{self.file}, {place}", todo)

    def piece(self, data: Mapping[str, Any]) -> Piece:
        self.known(data, ("piece", "base", "kiln", "step"), "top level")
        piece = self.table(data, "piece")
        base_table = self.table(data, "base")
        steps = data.get("step")
        self.known(piece, _PIECE_KEYS, "[piece]")
        self.known(base_table, _BASE_KEYS, "[base]")
        if not isinstance(steps, list) or not steps:
            raise self.fault("there is no step", "[[step]]", "list what is done, in order, as [[step]] tables")
        if len(steps) > MOST_STEPS:
            raise self.fault(f"{len(steps):,} steps", "[[step]]", f"give at most {MOST_STEPS}")
        shape = self.word(piece, "shape", SHAPES, "[piece]", "flat")
        width, height = self.length(piece, "width", "[piece]"), self.length(piece, "height", "[piece]")
        area = self.area(piece["area"]) if "area" in piece else None
        # The area may follow a dome, so a little more than the outline is no mistake.
        if area is not None and area > 1.5 * width * height:
            raise self.fault(
                f"{area * 1e4:g} cm2 is more than {width * 1e3:g} by {height * 1e3:g} mm holds",
                "[piece] area",
                "give the area of one face, or leave it out",
            )
        base = self.base(base_table)
        return Piece(
            self.words(piece, "title", "[piece]", "Untitled piece") or "Untitled piece",
            width,
            height,
            base,
            self.steps(steps, base, min(width, height)),
            self.whole(piece, "quantity", "[piece]", 1, MOST_PIECES),
            self.word(piece, "use", USES, "[piece]", "adult"),
            shape,
            self.thick(piece["rise"], "[piece] rise").band if "rise" in piece else None,
            area,
            in_kiln=self.in_kiln(self.table(data, "kiln")) if "kiln" in data else InKiln(),
            taken=self.names.taken,
        )

    def steps(self, tables: list[Any], base: Base, least_m: float) -> tuple[Step, ...]:
        read = tuple(self.step(k, s) for k, s in enumerate(tables, 1))
        if any(s.do in CELLS or s.within for s in read):
            from refdb.plan.cells_text import check_cells

            return check_cells(self, read, base, least_m)
        return read

    def in_kiln(self, table: Mapping[str, Any]) -> InKiln:
        self.known(table, KILN_KEYS, "[kiln]")
        return read_in_kiln(
            self.text(table["power"], "[kiln] power") if "power" in table else None,
            self.text(table["rack"], "[kiln] rack") if "rack" in table else None,
            self.whole(table, "at_once", "[kiln]", 1, MOST_AT_ONCE),
            f"{self.file}, [kiln]",
        )

    def base(self, table: Mapping[str, Any]) -> Base:
        if "metal" not in table:
            raise self.fault("the metal is missing", "[base]", 'say metal = "copper-sheet"')
        metal = self.record(self.names.sheet, table["metal"], "[base] metal")
        place = f"{self.file}, [base] thickness"
        typed = self.text(table.get("thickness", ""), "[base] thickness")
        said = thickness_once(self.names, typed, metal, place)
        if "thickness" not in table and not said:
            raise self.fault("the thickness is missing", "[base]", 'say thickness = "0.8 mm" or "3 cards"')
        band = metal.band("shrinkage")
        shrinkage = band.scaled(0.01) if band is not None else None
        if metal.form != "clay":
            for key in ("fresh_width", "fresh_height"):
                if key in table:
                    raise self.fault("only clay has a size before firing", f"[base] {key}", "leave it out")
        fired = metal_thickness(said, metal, place)
        fresh = self.thick(said, "[base] thickness").band if "card" in fired.said.lower() else None
        return Base(
            metal.key,
            fired.band,
            fired.said,
            fired.note,
            fresh if shrinkage else None,
            fresh_width_m=self.length(table, "fresh_width", "[base]") if "fresh_width" in table else None,
            fresh_height_m=self.length(table, "fresh_height", "[base]") if "fresh_height" in table else None,
            sintered=self.sintered(metal, table["schedule"]) if "schedule" in table else None,
        )

    def sintered(self, metal: Metal, value: Any) -> Sintered:
        place = "[base] schedule"
        return sintered_of(self.ref, metal, self.text(value, place), f"{self.file}, {place}")

    def step(self, number: int, table: Any) -> Step:
        place = f"step {number}"
        if not isinstance(table, dict):
            raise self.fault("a step is a table", place, "write [[step]]")
        do = self.word(table, "do", DOINGS, place)
        self.known(table, ("do", "note", *STEP_KEYS[do]), place)
        face = self.word(table, "face", FACES, place, "front") if "face" in STEP_KEYS[do] else "front"
        made: dict[str, Any] = {"number": number, "do": do, "face": face, "note": self.words(table, "note", place, "")}
        if do in ("coat", *WITH_GLASS):
            if "glass" not in table:
                raise self.fault("the glass is missing", place, 'say glass = "clear-hard-lead-free"')
            made["glass"] = self.record(self.names.glass, table["glass"], f"{place} glass").key
            made |= self.coat_thickness(table, do, place)
        if do == "leaf":
            if "leaf" not in table:
                raise self.fault("the leaf is missing", place, 'say leaf = "fine-silver-foil"')
            made["leaf"] = self.record(self.names.leaf, table["leaf"], f"{place} leaf").key
        if do in CELLS or "within" in table:
            from refdb.plan.cells_text import read_cells

            made |= read_cells(self, table, do, place)
        if do == "lustre":
            made["lustre"] = self.word(table, "lustre", LUSTRES, place)
        if "coverage" in table:
            made["coverage"] = self.share(table["coverage"], f"{place} coverage")
        for key in (k for k in FLAGS if k in table):
            if not isinstance(table[key], bool):
                raise self.fault("not a yes or no", f"{place} {key}", "say true or false")
            made[key] = table[key]
        if do == "fire":
            if "kiln" not in table:
                raise self.fault("the kiln setting is missing", place, 'say kiln = "800 C"')
            made["kiln_c"] = self.read(temperature_c, table["kiln"], f"{place} kiln")
            if not 100 <= made["kiln_c"] <= 1400:
                raise self.fault(f"{made['kiln_c']:.0f} °C is no kiln setting", f"{place} kiln", 'say kiln = "800 C"')
            if "minutes" in table:
                made["minutes"] = self.minutes(table["minutes"], f"{place} minutes", "in the kiln", 0.1, 60)
            if "cooling" in table:
                made["cooling_min"] = self.minutes(
                    table["cooling"], f"{place} cooling", "of slow cooling", 1, MOST_COOLING_MIN
                )
        if do == "join":
            made["solder"] = self.solder(table, place)
        return Step(**made)

    def coat_thickness(self, table: Mapping[str, Any], do: str, place: str) -> dict[str, Any]:
        if "thickness" in table and "siftings" in table:
            raise self.fault("thickness and siftings are both given", place, "give one of them")
        if "thickness" in table:
            return {"thickness_m": self.thick(table["thickness"], f"{place} thickness").band}
        if do in DRAWINGS:
            return {"thickness_m": Band(*LINE_M)}
        if "siftings" in table:
            count = self.whole(table, "siftings", place, 1, 20)
            return {"siftings": count, "thickness_m": Band(*SIFTING_M).scaled(count)}
        raise self.fault("the thickness is missing", place, 'say thickness = "0.15 mm" or siftings = 1')

    def solder(self, table: Mapping[str, Any], place: str) -> str:
        if "solder" not in table:
            raise self.fault(
                "the solder is missing",
                place,
                f'say solder = "{COLD_JOINS[0]}", {", ".join(COLD_JOINS[1:])}, or one of the store\'s solders',
            )
        text = self.text(table["solder"], f"{place} solder").strip()
        if text.lower() in COLD_JOINS:
            return text.lower()
        key: str = self.found(lambda: self.names.key(text, "solder", f"{place} solder"), f"{place} solder")
        return key

    def record(self, look_up: Callable[[str, str], Any], value: Any, place: str) -> Any:
        """What the store has under a name; NotFound and Ambiguous name the place in the file."""
        return self.found(lambda: look_up(self.text(value, place), place), place)

    def found(self, look_up: Callable[[], Any], place: str) -> Any:
        return found_at(f"{self.file}, {place}", look_up)

    # Plain values

    def table(self, data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
        found = data.get(name)
        if not isinstance(found, dict):
            raise self.fault(f"the table [{name}] is missing", "top level", "see refdb piece new")
        return found

    def known(self, table: Mapping[str, Any], keys: tuple[str, ...], place: str) -> None:
        for key in table:
            if key not in keys:
                near = get_close_matches(key, keys, 1, 0.5)
                raise self.fault(
                    f"'{key[:60]}' is not known here",
                    place,
                    f"did you mean {near[0]}?" if near else f"use {', '.join(keys)}",
                )

    def text(self, value: Any, place: str) -> str:
        if not isinstance(value, str):
            raise self.fault("not a text", place, 'write it in quotes, such as "copper-sheet"')
        return value

    def words(self, table: Mapping[str, Any], key: str, place: str, default: str) -> str:
        found = self.text(table.get(key, default), f"{place} {key}")
        if len(found) > 200:
            raise self.fault("longer than 200 characters", f"{place} {key}", "shorten it")
        return "".join(c if c.isprintable() else "?" for c in " ".join(found.split()))

    def word(self, table: Mapping[str, Any], key: str, words: tuple[str, ...], place: str, default: str = "") -> str:
        found = self.text(table.get(key, default), f"{place} {key}").strip().lower()
        if found not in words:
            near = get_close_matches(found, words, 1, 0.5)
            what = f"'{found[:60]}' is not known" if found else "is missing"
            raise self.fault(what, f"{place} {key}", f"did you mean {near[0]}?" if near else f"use {', '.join(words)}")
        return found

    def whole(self, table: Mapping[str, Any], key: str, place: str, default: int, most: int) -> int:
        found = table.get(key, default)
        if not isinstance(found, int) or isinstance(found, bool) or not 1 <= found <= most:
            raise self.fault(
                f"{_told(found)} is no number of {key}" if key == "siftings" else f"a {key} of {_told(found)}",
                f"{place} {key}",
                f"give a whole number from 1 to {most:,}",
            )
        return found

    def read(self, parser: Callable[..., Any], value: Any, place: str) -> Any:
        return parser(self.text(value, place), where=f"{self.file}, {place}")

    def length(self, table: Mapping[str, Any], key: str, place: str) -> float:
        if key not in table:
            raise self.fault(f"the {key} is missing", place, f'say {key} = "30 mm"')
        found: float = self.read(length_m, table[key], f"{place} {key}")
        if not 1e-3 <= found <= 1.0:
            raise self.fault(f"{found * 1e3:g} mm is no size of a small piece", f"{place} {key}", "give 1 mm to 1 m")
        return found

    def thick(self, value: Any, place: str, shrinkage: Band | None = None) -> Any:
        return thickness(self.text(value, place), where=f"{self.file}, {place}", shrinkage=shrinkage)

    def area(self, value: Any) -> float:
        """An area in mm² or cm², as number and unit."""
        found: float = self.read(area_m2, value, "[piece] area")
        if not 1e-6 <= found <= 1.0:
            raise self.fault(
                f"'{_told(value)}' is no area of a small piece", "[piece] area", 'write it as "7.2 cm2" or "720 mm2"'
            )
        return found

    def number(self, value: Any, parser: Callable[..., Any], place: str) -> float:
        """A bare number, or text that `parser` reads; a whole number too long for a float is infinite."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            return float(self.read(parser, value, place))
        try:
            return float(value)
        except OverflowError:
            return math.inf if value > 0 else -math.inf

    def share(self, value: Any, place: str) -> float:
        found = self.number(value, fraction, place)
        if not 0 < found <= 1:
            raise self.fault(f"a coverage of {_told(value)}", place, 'give a share above 0 and up to 1, such as "40 %"')
        return found

    def minutes(self, value: Any, place: str, of_what: str, least: float, most: float) -> float:
        found = self.number(value, duration_min, place)
        if not least <= found <= most:
            said = _told(value) if isinstance(value, int | float) else f"{found:g}"
            raise self.fault(f"{said} minutes {of_what}", place, f"give {least:g} to {most:,}, or leave it out")
        return found
