"""Spoil the curated rows at random, as slips of the hand would, and tell which of them the build refuses.

    python scripts/mutate_data.py --count 5000 --seed 1
    python scripts/mutate_data.py --count 300 --accepted       # lists what was taken, by kind

Each mutation changes one row (or takes one out, or puts one in), the file is sorted again as the formatter would, and
the checks of the build run on it in memory. What is refused only for its order, or is no change, does not count.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from refdb.curate.check import check, file_key, sort_key
from refdb.curate.read import BadSources, Problems, Row, read_folder
from refdb.curate.record import Records
from refdb.store.schema import FILES, ColumnSpec, File

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "data_sources"
TRIES = 200

Rows = dict[str, list[Row]]


@dataclass(frozen=True)
class Place:
    """A row of a file that is to be spoilt."""

    file: File
    rows: list[Row]
    at: int

    @property
    def row(self) -> Row:
        """The row itself."""
        return self.rows[self.at]

    def columns(self, wanted: Callable[[ColumnSpec], bool]) -> list[ColumnSpec]:
        """The columns wanted whose cell in this row is filled."""
        return [c for c in self.file.columns if wanted(c) and self.row.cells[c.name]]

    def changed(self, **cells: str) -> list[Row] | None:
        """The rows with some cells of this row changed; None where they are as they were."""
        if all(self.row.cells[name] == text for name, text in cells.items()):
            return None
        row = Row(self.row.file, self.row.line, {**self.row.cells, **cells})
        return [*self.rows[: self.at], row, *self.rows[self.at + 1 :]]


class Mutation(NamedTuple):
    """One spoilt file: what was done, where, and the rows it has now."""

    kind: str
    file: File
    told: str
    rows: list[Row]


Spoil = Callable[[random.Random, Place], list[Row] | None]


def _is_number(column: ColumnSpec) -> bool:
    return column.type != "TEXT"


def _printed(value: float) -> str:
    return f"{value:.10g}"


def _number(change: Callable[[float], float], wanted: Callable[[ColumnSpec], bool] = _is_number) -> Spoil:
    """A mutation that changes one number of a row."""

    def spoil(chance: random.Random, place: Place) -> list[Row] | None:
        columns = place.columns(lambda c: wanted(c) and c.name != "preferred")
        if not columns:
            return None
        column = chance.choice(columns)
        return place.changed(**{column.name: _printed(change(float(place.row.cells[column.name])))})

    return spoil


def _is_celsius(column: ColumnSpec) -> bool:
    return column.unit == "°C"


def _fahrenheit(chance: random.Random, place: Place) -> list[Row] | None:
    """The numbers of one column as they would be in °F; of a figure, its whole band as well."""
    cells = place.row.cells
    if cells.get("unit") == "degC":
        names = [n for n in ("value", "low", "high") if cells.get(n)]
    else:
        columns = place.columns(_is_celsius)
        names = [chance.choice(columns).name] if columns else []
    return place.changed(**{n: _printed(float(cells[n]) * 1.8 + 32) for n in names}) if names else None


def _pairs(place: Place) -> list[tuple[str, str]]:
    names = [c.name for c in place.file.columns]
    pairs = [(n, n.replace("low", "high")) for n in names if "low" in n and n.replace("low", "high") in names]
    return [*pairs, *([("solidus_c", "liquidus_c")] if "solidus_c" in names else [])]


def _exchange_ends(chance: random.Random, place: Place) -> list[Row] | None:
    cells = place.row.cells
    pairs = [(a, b) for a, b in _pairs(place) if cells[a] and cells[b]]
    if not pairs:
        return None
    low, high = chance.choice(pairs)
    return place.changed(**{low: cells[high], high: cells[low]})


def _whole_band(factor: float) -> Spoil:
    def spoil(chance: random.Random, place: Place) -> list[Row] | None:
        cells = place.row.cells
        names = [n for n in ("value", "first_melts_c", "low", "high") if cells.get(n)]
        if len(names) < 2:
            return None
        return place.changed(**{n: _printed(float(cells[n]) * factor) for n in names})

    return spoil


def _digits(chance: random.Random, place: Place) -> list[Row] | None:
    """Two digits of a number that stand side by side, exchanged."""
    columns = place.columns(_is_number)
    if not columns:
        return None
    name = chance.choice(columns).name
    text = place.row.cells[name]
    spots = [i for i in range(len(text) - 1) if text[i : i + 2].isdigit() and text[i] != text[i + 1]]
    if not spots:
        return None
    at = chance.choice(spots)
    return place.changed(**{name: text[:at] + text[at + 1] + text[at] + text[at + 2 :]})


def _another(wanted: Callable[[ColumnSpec], bool]) -> Spoil:
    """A mutation that puts another cell of the same column, or another of its choices, into a row."""

    def spoil(chance: random.Random, place: Place) -> list[Row] | None:
        columns = place.columns(wanted)
        if not columns:
            return None
        column = chance.choice(columns)
        known = column.choices or sorted({r.cells[column.name] for r in place.rows} - {""})
        return place.changed(**{column.name: chance.choice(known)})

    return spoil


def _key_to_another(keys: dict[str, list[str]]) -> Spoil:
    def spoil(chance: random.Random, place: Place) -> list[Row] | None:
        columns = place.columns(lambda c: bool(c.refers) and c.refers != "sources.key")
        if not columns:
            return None
        column = chance.choice(columns)
        return place.changed(**{column.name: chance.choice(keys[column.refers])})

    return spoil


def _source(keys: dict[str, list[str]]) -> Spoil:
    def spoil(chance: random.Random, place: Place) -> list[Row] | None:
        columns = place.columns(lambda c: c.refers == "sources.key")
        return place.changed(**{columns[0].name: chance.choice(keys["sources.key"])}) if columns else None

    return spoil


def _seen_raised(chance: random.Random, place: Place) -> list[Row] | None:
    return place.changed(seen="read") if place.row.cells.get("seen") else None


def _drop(chance: random.Random, place: Place) -> list[Row] | None:
    return [*place.rows[: place.at], *place.rows[place.at + 1 :]]


def _double(keys: dict[str, list[str]]) -> Spoil:
    """A row written down again under another key."""

    def spoil(chance: random.Random, place: Place) -> list[Row] | None:
        cells = dict(place.row.cells)
        name = chance.choice(file_key(place.file))
        column = next(c for c in place.file.columns if c.name == name)
        if column.refers:
            cells[name] = chance.choice(keys[column.refers])
        else:
            cells[name] = _printed(float(cells[name]) + 7) if _is_number(column) else f"{cells[name]}-two"
        taken = {tuple(r.cells[k] for k in file_key(place.file)) for r in place.rows}
        if tuple(cells[k] for k in file_key(place.file)) in taken:
            return None
        return [*place.rows, Row(place.row.file, 9999, cells)]

    return spoil


def _is_free_text(column: ColumnSpec) -> bool:
    return (
        column.type == "TEXT" and not column.refers and not column.choices and column.name not in ("key", "retrieved")
    )


def _columns_exchanged(chance: random.Random, place: Place) -> list[Row] | None:
    """Two cells of a row in each other's place: two texts, or two numbers."""
    kind = chance.choice((_is_free_text, _is_number))
    columns = place.columns(kind)
    if len(columns) < 2:
        return None
    a, b = (c.name for c in chance.sample(columns, 2))
    return place.changed(**{a: place.row.cells[b], b: place.row.cells[a]})


def _texts_exchanged(chance: random.Random, place: Place) -> list[Row] | None:
    """A text of one row and that of another in each other's place."""
    columns = place.columns(_is_free_text)
    other = chance.randrange(len(place.rows))
    if not columns or other == place.at:
        return None
    name = chance.choice(columns).name
    mine, theirs = place.row.cells[name], place.rows[other].cells[name]
    if mine == theirs or not theirs:
        return None
    rows = list(place.rows)
    rows[place.at] = Row(place.row.file, place.row.line, {**place.row.cells, name: theirs})
    rows[other] = Row(rows[other].file, rows[other].line, {**rows[other].cells, name: mine})
    return rows


def kinds(rows: Rows) -> dict[str, Spoil]:
    """Every kind of slip, by name."""
    keys: dict[str, list[str]] = {}
    for file in FILES:
        for table in file.fills:
            for column in file.columns:
                keys.setdefault(f"{table}.{column.name}", []).extend(r.cells[column.name] for r in rows[file.name])
    return {
        "number doubled": _number(lambda x: x * 2),
        "number tenfold": _number(lambda x: x * 10),
        "number a tenth": _number(lambda x: x / 10),
        "number and 300": _number(lambda x: x + 300),
        "sign flipped": _number(lambda x: -x),
        "digits exchanged": _digits,
        "low and high exchanged": _exchange_ends,
        "doubled with its band": _whole_band(2),
        "halved with its band": _whole_band(0.5),
        "°F for °C": _fahrenheit,
        "unit changed": _another(lambda c: c.name in ("unit", "shown_unit")),
        "choice changed": _another(lambda c: bool(c.choices)),
        "seen raised": _seen_raised,
        "key changed": _key_to_another(keys),
        "source changed": _source(keys),
        "row dropped": _drop,
        "row doubled": _double(keys),
        "columns exchanged": _columns_exchanged,
        "text copied": _another(_is_free_text),
        "texts exchanged": _texts_exchanged,
    }


def mutations(rows: Rows, seed: int, count: int) -> Iterator[Mutation]:
    """Yield spoilt files: the kinds in turn, a file by the root of its rows, a row of it by chance."""
    chance = random.Random(seed)
    spoils = kinds(rows)
    files = [file for file in FILES if rows[file.name]]
    weights = [len(rows[file.name]) ** 0.5 for file in files]
    for turn in range(count):
        kind = list(spoils)[turn % len(spoils)]
        for _ in range(TRIES):
            file = chance.choices(files, weights)[0]
            place = Place(file, rows[file.name], chance.randrange(len(rows[file.name])))
            spoilt = spoils[kind](chance, place)
            if spoilt is not None and spoilt != place.rows:
                told = f"{place.file.name} line {place.row.line}: {_difference(place, spoilt)}"
                yield Mutation(kind, file, told, spoilt)
                break


def _difference(place: Place, spoilt: list[Row]) -> str:
    if len(spoilt) != len(place.rows):
        return ", ".join(place.row.cells[name] for name in file_key(place.file))[:80]
    now = spoilt[place.at].cells
    return "; ".join(f"{n}: {old[:30]} -> {now[n][:30]}" for n, old in place.row.cells.items() if now[n] != old)


def refusal(rows: Rows, sound: Records, mutation: Mutation) -> str:
    """The first line with which a mutation is refused; empty when it is taken."""
    columns = [c for name in file_key(mutation.file) for c in mutation.file.columns if c.name == name]
    try:
        spoilt = sorted(mutation.rows, key=lambda row: sort_key(row.cells, columns))
    except ValueError:
        spoilt = mutation.rows
    try:
        check({**rows, mutation.file.name: spoilt}, Problems(), sound, mutation.file.name)
    except BadSources as bad:
        return bad.problems[0].line
    return ""


def read(folder: Path) -> tuple[Rows, Records]:
    """The rows of a folder of sources and their records; raises BadSource when they are not sound."""
    problems = Problems()
    rows = read_folder(folder, problems)
    return rows, check(rows, problems)


def run(count: int, seed: int) -> tuple[Counter[tuple[str, str]], Counter[tuple[str, str]], dict[str, list[str]]]:
    """Counts of mutations and of those refused, by kind and file, and what was taken by kind."""
    rows, sound = read(FOLDER)
    tried: Counter[tuple[str, str]] = Counter()
    refused: Counter[tuple[str, str]] = Counter()
    taken: dict[str, list[str]] = defaultdict(list)
    for mutation in mutations(rows, seed, count):
        place = (mutation.kind, mutation.file.name)
        tried[place] += 1
        if refusal(rows, sound, mutation):
            refused[place] += 1
        else:
            taken[mutation.kind].append(mutation.told)
    return tried, refused, taken


def _table(title: str, tried: Counter[tuple[str, str]], refused: Counter[tuple[str, str]], at: int) -> None:
    print(f"\n{title:34}{'tried':>7}{'refused':>9}{'share':>8}")
    total: Counter[str] = Counter()
    held: Counter[str] = Counter()
    for place, number in tried.items():
        total[place[at]] += number
        held[place[at]] += refused[place]
    for name in sorted(total, key=lambda n: held[n] / total[n]):
        print(f"{name:34}{total[name]:7}{held[name]:9}{held[name] / total[name]:8.0%}")
    print(f"{'all':34}{sum(total.values()):7}{sum(held.values()):9}{sum(held.values()) / sum(total.values()):8.1%}")


#: Why what is left of each kind cannot be known from the rows alone.
UNKNOWABLE = {
    "texts exchanged": "a sentence in the wrong row is still a sentence; only its numbers and names can be held to it",
    "text copied": "as above, where the column may say the same twice (remarks, laws, places)",
    "row dropped": "nothing else speaks of a fact that stands alone: an alias, a limit, a practice, a rival figure",
    "digits exchanged": "the slip is smaller than the band of the figure, or than the spread of materials",
    "columns exchanged": "both cells are of one form, and their meanings are known to the reader alone",
    "choice changed": "a judgement (suits with care or not, a tongue, a kind of source) that no other cell repeats",
    "row doubled": "a worked-out row of two glasses can be the same, and so can a rival figure",
    "number a tenth": "a thickness that was tried, or a ratio worked out",
    "number doubled": "as above; an amount of practice whose statement gives no number",
    "number tenfold": "the few elements that stand in one solder alone",
    "doubled with its band": "an amount of practice, or a contact that only memory knows",
    "halved with its band": "as above",
    "key changed": "another glass or metal for which the sentence is as likely",
    "source changed": "another source that speaks of the same subject, seen as well",
    "seen raised": "a source of which other rows of the subject were read",
    "number and 300": "the few elements that stand in one solder alone",
    "sign flipped": "a lower bound, which holds back less and is not wrong",
    "°F for °C": "the few elements that stand in one solder alone",
    "unit changed": "a quantity whose word is used once",
    "low and high exchanged": "nothing is left",
}


def main() -> int:
    """Try the mutations and print what share was refused, by kind and by file."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--accepted", action="store_true", help="list what was taken")
    asked = parser.parse_args()
    tried, refused, taken = run(asked.count, asked.seed)
    _table("kind", tried, refused, 0)
    _table("file", tried, refused, 1)
    for kind, lines in taken.items() if asked.accepted else ():
        print(f"\n{kind}: {UNKNOWABLE[kind]}")
        for line in lines:
            print(f"  {line}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
