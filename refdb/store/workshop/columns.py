"""Columns of the workshop: their bounds, the words for what a figure rests on, and how one is declared."""

from __future__ import annotations

from refdb.store.schema import ColumnSpec

#: What a figure of one's own rests on, and the word that the verdicts use for it.
OWN_BASES = {"maker's sheet": "published", "own test": "measured", "guess": "from memory"}
BASES = tuple(OWN_BASES)
#: Longest name, longest note or other text, and longest list of tiles [characters].
MOST_NAME, MOST_TEXT, MOST_TILES = 80, 500, 10_000
#: Description of a column that holds numbers of tiles.
TILES = "numbers of the own tiles that the figure was learnt from, joined by semicolons"


def text_column(
    name: str, label: str = "", choices: tuple[str, ...] = (), description: str = "", required: bool = False
) -> ColumnSpec:
    """A column of text, called `label` on paper (by default its name), with the words that may stand in it."""
    return ColumnSpec(name, "TEXT", label or name.replace("_", " "), "", required, choices, "", None, None, description)


def number_column(
    name: str, label: str, unit: str, low: float, high: float, description: str = "", required: bool = False
) -> ColumnSpec:
    """A column of numbers in `unit`, from `low` to `high`."""
    return ColumnSpec(name, "REAL", label, unit, required, (), "", low, high, description)


def basis_columns(stem: str) -> tuple[ColumnSpec, ColumnSpec]:
    """The columns that say what one figure rests on and since when, where it is not what the row says."""
    return (
        text_column(f"{stem}_basis", f"basis of the {stem.replace('_', ' ')}", BASES),
        text_column(f"{stem}_date", f"date of the {stem.replace('_', ' ')}"),
    )


def band_columns(stem: str, label: str, unit: str, suffix: str, low: float, high: float) -> tuple[ColumnSpec, ...]:
    """The five columns of a figure: value, low, high, what it rests on, and since when."""
    return (
        number_column(f"{stem}_{suffix}", label, unit, low, high),
        number_column(f"{stem}_low_{suffix}", "low", unit, low, high),
        number_column(f"{stem}_high_{suffix}", "high", unit, low, high),
        *basis_columns(stem),
    )


def nine_digits(value: float) -> float:
    """A figure without its last digits, which conversion blurs."""
    return float(f"{value:.9g}")
