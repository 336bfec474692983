"""What a person may say of a jar, a metal or a leaf of their own: every attribute once.

`ATTRIBUTES` feeds the tables, the CSV files and their data package, the options of `mine add` and `mine edit`, what
is printed, and the records. A new attribute is a new entry, with `since` one above the version of the workshop; it is
asked for in a terminal or shown in a list only where those name it.
"""

from __future__ import annotations

from typing import NamedTuple

from refdb.frozen import dataclass
from refdb.store.schema import CONTENT, TABLE, ColumnSpec
from refdb.store.workshop.columns import BASES, TILES, band_columns, basis_columns, number_column, text_column
from refdb.store.workshop.keys import NAMED

#: Unit of a column: the same as the reference writes it, and how many of it make one of its canonical unit.
RECORD_UNITS = {"°C": ("degC", 1.0), "ppm/K": ("ppm/K", 1.0), "percent": ("percent", 1.0), "µm": ("um", 1e6)}


class Figure(NamedTuple):
    """How the columns of a figure are called, which property it is, and how wide a guess of it is.

    `stem` and `suffix` make the names `stem_suffix`, `stem_low_suffix` and `stem_high_suffix`; a range has the last
    two only. `guess` is how far the figure may be off where nothing says what it rests on [unit of the column].
    """

    stem: str
    suffix: str
    unit: str
    property: str = ""
    guess: float = 0.0
    is_range: bool = False


@dataclass(frozen=True)
class Attribute:
    """One attribute of materials.

    Attributes
    ----------
    option : str
        Its option without the hyphens before it, words joined by an underscore; empty where it has none.
    kinds : tuple of str
        Kinds of material that have it.
    columns : tuple of ColumnSpec
        The columns it fills, in the order of the CSV file; a word has one, called as its option.
    metavar, help : str
        Of the option.
    figure : Figure, optional
        Where it is a number; a word otherwise.
    record : str
        The field of the record that a word fills; what is not said is then taken from the class.
    since : int
        Version of the workshop that first has it.
    """

    option: str
    kinds: tuple[str, ...]
    columns: tuple[ColumnSpec, ...]
    metavar: str = "TEXT"
    help: str = ""
    figure: Figure | None = None
    record: str = ""
    since: int = 1

    @property
    def is_word(self) -> bool:
        """Whether it is a word or free text about the material itself."""
        return bool(self.option) and self.figure is None and self.option not in ABOUT


#: Attributes of the row rather than of the material.
ABOUT = ("basis", "date", "note")
_GLASS, _METAL, _LEAF = (TABLE[f"{kind}_details"].column for kind in NAMED)
_FORM = "sheet, clay or cast; leaf or foil."
_CONTENT = "free, contains or unknown."


def _band(
    option: str,
    kinds: tuple[str, ...],
    figure: Figure,
    label: str,
    bounds: tuple[float, float],
    metavar: str,
    about: str,
    since: int = 1,
) -> Attribute:
    """An attribute with value, low and high; `bounds` are those of the columns, in their unit."""
    columns = band_columns(figure.stem, label, figure.unit, figure.suffix, *bounds)
    return Attribute(option, kinds, columns, metavar, about, figure, since=since)


ATTRIBUTES: tuple[Attribute, ...] = (
    Attribute(
        "name",
        NAMED,
        (
            text_column(
                "name",
                description="the key is my: and the name in small letters, its words joined by hyphens",
                required=True,
            ),
        ),
        "NAME",
        'How you call it, such as "Jar 12".',
    ),
    Attribute(
        "like",
        NAMED,
        (text_column("like", description="key of the class of the reference that stands in for what is not known"),),
        "KEY",
        "The class that stands in for what is not known of it.",
    ),
    Attribute(
        "optical",
        ("glass",),
        (text_column("optical", choices=_GLASS("optical").choices),),
        "WORD",
        "transparent, opaque or opalescent.",
        record="optical",
    ),
    Attribute(
        "hardness",
        ("glass",),
        (text_column("hardness", choices=_GLASS("hardness").choices),),
        "CLASS",
        "soft, medium, hard or very hard.",
        record="hardness",
    ),
    Attribute("lead", ("glass",), (text_column("lead", choices=CONTENT),), "WORD", _CONTENT, record="lead"),
    Attribute("cadmium", ("glass",), (text_column("cadmium", choices=CONTENT),), "WORD", _CONTENT, record="cadmium"),
    Attribute("colourant", ("glass",), (text_column("colourant"),), "TEXT", "What colours it.", record="colourant"),
    Attribute("form", ("metal",), (text_column("form", choices=_METAL("form").choices),), "FORM", _FORM, record="form"),
    Attribute(
        "alloy",
        ("metal",),
        (text_column("alloy", "composition", description="elements with their per cents: Cu 95, Zn 5"),),
        "TEXT",
        'Composition, such as "Cu 95, Zn 5".',
        record="alloy",
    ),
    Attribute(
        "metal",
        ("leaf",),
        (text_column("metal", description="chemical symbols, most first"),),
        "SYMBOLS",
        "Of a leaf: Au, or Ag.",
        record="metal",
    ),
    Attribute(
        "fineness",
        ("leaf",),
        (text_column("fineness", description="parts in a thousand, as sold"),),
        "TEXT",
        "Parts in a thousand, as sold.",
        record="fineness",
    ),
    Attribute("form", ("leaf",), (text_column("form", choices=_LEAF("form").choices),), "FORM", _FORM, record="form"),
    Attribute(
        "expansion",
        ("glass", "metal"),
        (
            number_column("expansion_ppm_per_k", "thermal expansion", "ppm/K", 0.1, 30, "linear; needs its span"),
            number_column("expansion_low_ppm_per_k", "low", "ppm/K", 0.1, 30),
            number_column("expansion_high_ppm_per_k", "high", "ppm/K", 0.1, 30),
            number_column("expansion_from_c", "from", "°C", -273.15, 2500, "span of the expansion"),
            number_column("expansion_to_c", "to", "°C", -273.15, 2500, "span of the expansion"),
            text_column("expansion_as_given", "as given", description="as it was typed or printed"),
            *basis_columns("expansion"),
        ),
        "FIGURE",
        '"12.4 ppm/K", 124e-7/K or "12-13 ppm/K"; needs a span.',
        Figure("expansion", "ppm_per_k", "ppm/K", "expansion", 1.5),
    ),
    Attribute("", ("glass",), (text_column("expansion_tiles", "learnt from tiles", description=TILES),), since=3),
    Attribute(
        "fuses",
        ("glass",),
        (
            number_column("fuse_low_c", "fuses from", "°C", 300, 1400),
            number_column("fuse_high_c", "fuses to", "°C", 300, 1400),
            *basis_columns("fuse"),
        ),
        "RANGE",
        "Kiln settings it is fired at: 780-815C.",
        Figure("fuse", "c", "°C", is_range=True),
    ),
    _band(
        "set_point",
        ("glass",),
        Figure("set_point", "c", "°C", "set_point", 40.0),
        "set point",
        (100, 1200),
        "TEMP",
        "Where it turns rigid: 520C or 500-540C.",
    ),
    _band(
        "solidus",
        ("metal",),
        Figure("solidus", "c", "°C", "solidus", 30.0),
        "begins to melt",
        (100, 2500),
        "TEMP",
        "Where it begins to melt: 900C.",
    ),
    _band(
        "shrinkage",
        ("metal",),
        Figure("shrinkage", "percent", "percent", "shrinkage", 3.0),
        "shrinkage",
        (0, 60),
        "SHARE",
        'Of a clay in firing: "10-12 %".',
    ),
    Attribute(
        "schedule",
        ("metal",),
        (
            text_column(
                "schedule",
                "kiln schedule",
                description="of a clay, as its packet says: phases as heat, time, open or carbon, joined by semicolons",
            ),
        ),
        "PHASES",
        'Of a clay, as its packet says: "345 C, 30 min, open; 900 C, 3 h, carbon".',
        record="schedule",
        since=4,
    ),
    _band(
        "thickness",
        ("leaf",),
        Figure("leaf_thickness", "um", "µm", "leaf_thickness", 1.0),
        "leaf thickness",
        (0.05, 500),
        "LENGTH",
        'Of a leaf: "3 um" or 2-4um.',
    ),
    Attribute(
        "basis",
        NAMED,
        (text_column("basis", "basis", BASES, "of every figure that does not say its own", True),),
        "WORDS",
        '"maker\'s sheet", "own test" or guess (a guess needs a range).',
    ),
    Attribute(
        "date",
        NAMED,
        (text_column("date", description="ISO date of every figure that does not say its own", required=True),),
        "DATE",
        "Of the figures, as 2024-05-31; today.",
    ),
    Attribute("note", NAMED, (text_column("note"),), "TEXT", "Whatever else."),
)


def attributes_of(kind: str) -> tuple[Attribute, ...]:
    """The attributes of a kind of material, in the order of its CSV file."""
    return tuple(a for a in ATTRIBUTES if kind in a.kinds)


def figures_of(kind: str) -> tuple[Figure, ...]:
    """The figures of a kind that have a value, low and high."""
    return tuple(a.figure for a in attributes_of(kind) if a.figure is not None and not a.figure.is_range)


def attribute(option: str) -> Attribute:
    """The first attribute with this option; KeyError where there is none."""
    for found in ATTRIBUTES:
        if found.option == option:
            return found
    raise KeyError(option)
