"""The person's own kiln: how much hotter it is than it shows, as a band, and what that rests on."""

from __future__ import annotations

from typing import Any

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.quantities.band import Band
from refdb.records import KilnOffset

#: A kiln that shows what it is.
TRUE = Band.exact(0.0)
#: The input of a sample by its name.
INPUT = "kiln offset"
#: The ends of a band, its middle first.
PLACES = ("value", "low", "high")
#: Heats that any calculation follows [°C].
_COOLEST_C, _HOTTEST_C = 50.0, 1600.0


def offset_of(kept: KilnOffset | None) -> Band:
    """How much hotter a kiln is than it shows [K]; zero where nothing is written down."""
    return TRUE if kept is None else Band(kept.offset_k, kept.low_k, kept.high_k)


def rests_on(kept: KilnOffset | None) -> str:
    """What an offset that is written down rests on, in a few words."""
    if kept is None:
        return ""
    tiles = f"tile{'s' if len(kept.tiles) > 1 else ''} {', '.join(map(str, kept.tiles))}" if kept.tiles else ""
    return ", ".join(x for x in (kept.basis, kept.date, tiles) if x)


def question_of(offset_k: Band, rests: str = "") -> dict[str, Any]:
    """An offset as a question holds it; its ends only where it has any."""
    ends = {} if offset_k.is_exact else {"kiln_offset_low_k": offset_k.low, "kiln_offset_high_k": offset_k.high}
    return {"kiln_offset_k": offset_k.value} | ends | ({"kiln_rests_on": rests} if rests else {})


def heat_c(setting_c: float, offset_k: Band) -> Band:
    """The heat of a kiln at a setting [°C]."""
    return Band(setting_c + offset_k.value, setting_c + offset_k.low, setting_c + offset_k.high)


def heat_words(setting_c: float, offset_k: Band) -> str:
    """A setting and the hottest it may be, as half a sentence; empty for a kiln that shows what it is."""
    if offset_k == TRUE:
        return ""
    most = "" if offset_k.is_exact else "up to "
    return f"a fire at {setting_c:.0f} °C is {most}{setting_c + offset_k.high:.0f} °C in this kiln"


def setting_words(setting_c: float, offset_k: Band) -> str:
    """A setting, and what the kiln then is where it does not show it."""
    if offset_k == TRUE:
        return f"{setting_c:.0f} °C"
    heat = heat_c(setting_c, offset_k)
    low, high = f"{heat.low:.0f}", f"{heat.high:.0f}"
    return f"{setting_c:.0f} °C ({low if low == high else f'{low} to {high}'} °C in this kiln)"


def check_heat(setting_c: float, offset_k: Band, where: str) -> None:
    """Raise BadInput for a fire that no kiln can have once its offset is counted in."""
    heat = heat_c(setting_c, offset_k)
    if offset_k != TRUE and not _COOLEST_C <= heat.low <= heat.high <= _HOTTEST_C:
        end = heat.low if heat.low < _COOLEST_C else heat.high
        raise BadInput(
            f"{setting_c:.0f} °C is {end:.0f} °C in this kiln, which no kiln for enamel is",
            where,
            "check the setting, and the kiln: refdb mine show kiln",
        )


def runs_words(offset_k: Band, units: str = "metric") -> str:
    """How a kiln runs against what it shows, to follow "runs": "8 K (5 to 11) hotter than it shows"."""
    factor, unit = (1.8, "°F") if units == "studio" else (1.0, "K")
    value, low, high = (round(x * factor) for x in (offset_k.value, offset_k.low, offset_k.high))

    def told(number: int) -> str:
        return f"{abs(number)} {unit} {'cooler' if number < 0 else 'hotter'}"

    ends = sorted((abs(low), abs(high)))
    if low * high < 0 or value == 0:
        head = f"{told(value)} than it shows" if value else "as hot as it shows"
        between = f"{told(low)} to {told(high)}" if low * high < 0 else f"{ends[0]} to {told(low or high)}"
        return head if low == high else f"{head} ({between})"
    span = f" ({ends[0]} to {ends[1]})" if low != high else ""
    return f"{abs(value)} {unit}{span} {'cooler' if value < 0 else 'hotter'} than it shows"


@dataclass(frozen=True)
class Heat:
    """The setting of a firing [°C] and what the kiln is hotter than it shows [K].

    As words in a template: `set` the setting, and what the kiln then is; `in` half a sentence to follow another, empty
    for a kiln that shows what it is; `here` " in this kiln" where it does not.
    """

    setting_c: float
    offset_k: Band = TRUE

    def __format__(self, spec: str) -> str:
        if spec == "set":
            return setting_words(self.setting_c, self.offset_k)
        words = heat_words(self.setting_c, self.offset_k)
        if spec == "here":
            return " in this kiln" if words else ""
        return f"; {words}" if words else ""
