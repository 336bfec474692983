"""What a plan consists of: lines with their source, phases, firings, and the whole."""

from __future__ import annotations

from typing import Any

from refdb.frozen import dataclass
from refdb.judge.own.kiln import offset_of, question_of, rests_on, runs_words
from refdb.judge.piece.in_kiln import LOAD_ROWS, whole_load
from refdb.judge.piece.steps import Piece
from refdb.judge.verdict import TEST_TILE, Caution
from refdb.pictures.build_strip import BuildLayer
from refdb.plan.amounts import Amounts
from refdb.plan.packing import Packed
from refdb.quantities.printed import fahrenheit
from refdb.quantities.typed import Band
from refdb.records import KilnOffset, Metal
from refdb.records.named import small

#: Source of what the person wrote in the file.
OWN = "own-figure"
OWN_CITATION, OWN_NAME = "What the piece file says", "The piece file"


@dataclass(frozen=True)
class Line:
    """One sentence of a plan, and the key of its source; `step` is the step of the file it comes from, 0 for none."""

    text: str
    source: str
    step: int = 0

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON."""
        return {"text": self.text, "source": self.source} | ({"step": self.step} if self.step else {})


@dataclass(frozen=True)
class Phase:
    """A part of the work with its lines in order."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class ClayPhase:
    """One phase of a schedule for a clay, as its row says it."""

    title: str
    atmosphere: str
    ramp: str
    temp_c: tuple[float, float]
    hold_min: tuple[float, float]
    cover: str
    carbon_mm: float | None
    spacing_mm: float | None
    note: str
    source: str

    @property
    def more(self) -> tuple[str, ...]:
        """Ramp, cover, spacing and note, where there is something to say of them."""
        return tuple(
            x
            for x in (
                f"ramp: {self.ramp}" if self.ramp != "any" else "",
                f"cover: {self.cover}" if self.cover not in ("", "none") else "",
                f"pieces {self.spacing_mm:g} mm apart" if self.spacing_mm is not None else "",
                self.note,
            )
            if x
        )


@dataclass(frozen=True)
class ClaySchedule:
    """One of the rival schedules of a clay family; `fit` says whether its metal is fit for glass."""

    name: str
    fit: str
    phases: tuple[ClayPhase, ...]

    @property
    def for_glass(self) -> bool:
        """Whether it is meant to carry glass."""
        return not self.fit.startswith("no")

    @property
    def in_carbon(self) -> bool:
        """Whether a phase of it is buried in carbon."""
        return any(p.carbon_mm is not None for p in self.phases)

    @property
    def hold_min(self) -> tuple[float, float]:
        """All holds together [min]."""
        return sum(p.hold_min[0] for p in self.phases), sum(p.hold_min[1] for p in self.phases)

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        phases = [
            {
                "title": p.title,
                "atmosphere": p.atmosphere,
                "ramp": p.ramp,
                "temp_c": list(p.temp_c),
                "hold_min": list(p.hold_min),
                "cover": p.cover,
                "carbon_mm": p.carbon_mm,
                "spacing_mm": p.spacing_mm,
                "note": p.note,
                "source": p.source,
            }
            for p in self.phases
        ]
        return {"name": self.name, "fit_for_enamel": self.fit, "phases": phases}


#: Said wherever minutes to a stage are printed.
SIGNS_DECIDE = "Colour and surface are the authority: look, and take the minutes as when to begin looking."


@dataclass(frozen=True)
class Ripening:
    """Minutes [min] until a coat is no longer sugary, until it closes to an orange peel, and until it shines.

    Told of a glass that a firing pins; `by` says which, `source` where that stands. Gloss is `open_ended` when it
    may take longer than is followed.
    """

    glass: str
    label: str
    sugary: Band
    orange_peel: Band
    gloss: Band
    open_ended: bool
    by: str
    source: str

    @property
    def words(self) -> str:
        """The first look and gloss in a sentence, in tenths of a minute."""
        gloss = f"{tenths(self.gloss)} or longer" if self.open_ended else tenths(self.gloss)
        return (
            f"{small(self.glass, self.label)}: an orange peel from {tenths(self.orange_peel)} min, gloss from {gloss}; "
            f"by {self.by}"
        )

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON; what is open above has no "high"."""
        gloss: dict[str, float | None] = {**_band(self.gloss)}
        if self.open_ended:
            gloss["high"] = None
        return {
            "glass": self.glass,
            "sugary": _band(self.sugary),
            "orange_peel": _band(self.orange_peel),
            "gloss": gloss,
            "by": self.by,
            "source": self.source,
        }


def tenths(band: Band) -> str:
    """Low to high in tenths."""
    low, high = f"{band.low:.1f}", f"{band.high:.1f}"
    return low if low == high else f"{low}-{high}"


@dataclass(frozen=True)
class Minutes:
    """How long a firing takes [min]: a band whose high end may be open, in words, and what it rests on.

    `band` is None where no figure can be given; `open_ended` when gloss may not come at this setting at all;
    `stages` are those of the new glasses that a firing pins; `first_look` [min] is when the slowest new coat has closed
    to an orange peel, before which a look tells nothing and only cools the kiln.
    """

    band: Band | None
    words: str
    source: str
    open_ended: bool = False
    note: str = ""
    stages: tuple[Ripening, ...] = ()
    first_look: Band | None = None

    @property
    def look_words(self) -> str:
        """The first look in seconds, to the nearest five; empty where it is not known."""
        if self.first_look is None:
            return ""
        value, low, high = (
            5 * round(x * 12) for x in (self.first_look.value, self.first_look.low, self.first_look.high)
        )
        return f"first look after {value} s" + ("" if low == high else f" ({low} to {high})")


@dataclass(frozen=True)
class SlowCooling:
    """Slow cooling of a firing as the file gives it [min], between which temperatures [°C], None where not known."""

    minutes: float
    high_c: float | None
    low_c: float | None

    @property
    def span(self) -> str:
        """Its temperatures in words, with a space before them; empty where they are not known."""
        return "" if self.high_c is None else f" from {self.high_c:.0f} to {self.low_c:.0f} °C"

    def as_dict(self) -> dict[str, float | None]:
        """Ready for JSON."""
        return {"minutes": self.minutes, "high_c": self.high_c, "low_c": self.low_c}


@dataclass(frozen=True)
class Firing:
    """One firing: its step, what goes in new, the setting, the time, what to look for, and its slow cooling, if any."""

    number: int
    step: int
    what: tuple[str, ...]
    kiln_c: float
    minutes: Minutes
    prepare: tuple[Line, ...]
    right: tuple[Line, ...]
    under: tuple[Line, ...]
    over: tuple[Line, ...]
    notes: tuple[Line, ...] = ()
    cooling: SlowCooling | None = None

    @property
    def kiln_f(self) -> float:
        """The setting in °F."""
        return fahrenheit(self.kiln_c)


@dataclass(frozen=True)
class Plan:
    """The order of work of a piece, with the kiln, the amounts, and how it is packed where that was asked.

    `own_kiln` is how much hotter the person's kiln is than it shows, where that is written down and something is
    fired.
    """

    piece: Piece
    metal: Metal
    schedules: tuple[ClaySchedule, ...]
    before: tuple[Phase, ...]
    firings: tuple[Firing, ...]
    between: tuple[Line, ...]
    after: tuple[Line, ...]
    times: tuple[Line, ...]
    kiln_minutes: Band
    amounts: Amounts
    cautions: tuple[Caution, ...]
    build: tuple[BuildLayer, ...]
    sources: dict[str, str]
    #: Short names of the sources by key.
    names: dict[str, str]
    packed: Packed | None = None
    own_kiln: KilnOffset | None = None

    def kiln_words(self, units: str = "metric") -> str:
        """How the person's kiln runs and what that rests on, as a sentence; empty where nothing is written down."""
        if self.own_kiln is None:
            return ""
        return (
            f"Your kiln runs {runs_words(offset_of(self.own_kiln), units)} ({rests_on(self.own_kiln)}). Settings "
            "are as you set them; minutes are told for what the kiln then is."
        )

    def as_dict(self) -> dict[str, Any]:
        """The plan ready for JSON; a figure that is open above has no "high"."""

        def lines(some: tuple[Line, ...]) -> list[dict[str, Any]]:
            return [x.as_dict() for x in some]

        found: dict[str, Any] = {
            "clay_schedules": [schedule.as_dict() for schedule in self.schedules],
            "before": [{"title": p.title, "lines": lines(p.lines)} for p in self.before],
            "firings": [
                {
                    "number": f.number,
                    "step": f.step,
                    "what": list(f.what),
                    "kiln_c": round(f.kiln_c, 1),
                    "kiln_f": round(f.kiln_f, 1),
                    "minutes": _minutes(f.minutes),
                    "prepare": lines(f.prepare),
                    "right": lines(f.right),
                    "under": lines(f.under),
                    "over": lines(f.over),
                    "notes": lines(f.notes),
                }
                | ({} if f.cooling is None else {"cooling": f.cooling.as_dict()})
                for f in self.firings
            ],
            "between": lines(self.between),
            "after": lines(self.after),
            "times": lines(self.times),
            "kiln_minutes": _band(self.kiln_minutes),
            "amounts": [a.as_dict() for a in self.amounts.rows],
            "amounts_missing": list(self.amounts.missing),
        }
        if self.firings:
            found["load"] = load_as_dict(self.piece)
        if self.own_kiln is not None:
            found["own_kiln"] = question_of(offset_of(self.own_kiln), rests_on(self.own_kiln))
        if self.packed is not None:
            found["packing"] = self.packed.as_dict()
        return found | {
            "cautions": [c.as_dict() for c in self.cautions],
            "test_tile": TEST_TILE,
            "sources": self.sources,
        }


def load_as_dict(piece: Piece) -> dict[str, Any]:
    """For what kiln and load the minutes are reckoned; `given` names what the file says of it."""
    load, said = whole_load(piece), piece.in_kiln
    given = {"power_w": said.power_w, "rack_g": said.rack_kg}
    return {
        "power_w": load.power_w,
        "rack_g": round(load.rack_kg * 1e3, 1),
        "pieces_at_once": said.at_once,
        "area_cm2": round(load.area_m2 * 1e4, 2),
        "given": [name for name, value in given.items() if value is not None],
        "rows": list(LOAD_ROWS),
    }


def _minutes(minutes: Minutes) -> dict[str, Any]:
    found: dict[str, Any] = {"words": minutes.words, "source": minutes.source}
    if minutes.band is not None:
        found |= _band(minutes.band)
        if minutes.open_ended:
            found["high"] = None
    if minutes.first_look is not None:
        found["first_look"] = _band(minutes.first_look)
    if minutes.stages:
        found |= {"stages": [s.as_dict() for s in minutes.stages], "signs_decide": SIGNS_DECIDE}
    return found | ({"note": minutes.note} if minutes.note else {})


def _band(band: Band) -> dict[str, float]:
    return {k: round(getattr(band, k), 2) for k in ("value", "low", "high")}


def by_firing(firings: tuple[Firing, ...], which: str) -> list[tuple[Line, str]]:
    """Signs of one kind, each once, with the firings it may be seen in: "firing 1" or "firings 1, 2"."""
    found: dict[Line, list[int]] = {}
    for firing in firings:
        for line in getattr(firing, which):
            found.setdefault(line, []).append(firing.number)
    return [
        (line, f"firing{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}")
        for line, numbers in found.items()
    ]
