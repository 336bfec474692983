"""Kiln schedules of a clay, one under the other on one scale of time and one of temperature."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, figure, named_picture, path, rectangle, span, text

_LEFT, _RIGHT = 44.0, 328.0
_HOT_C, _TALL, _HEAD, _APART = 1100.0, 88.0, 36.0, 18.0
_COOL_C, _LETTERS = 600.0, 46
#: A ramp whose speed is not told is drawn so wide [h].
_UNTOLD_H = 0.4


@dataclass(frozen=True)
class Phase:
    """One hold: °C and minutes, each least and most; where, in words; °C an hour on the way up where told."""

    temp_c: tuple[float, float]
    hold_min: tuple[float, float]
    where: str
    speed_c_h: tuple[float, float] | None = None

    @property
    def ramp_h(self) -> float:
        """Hours on the way up, at the middle of the speed where that is told."""
        return sum(self.temp_c) / sum(self.speed_c_h) if self.speed_c_h else _UNTOLD_H

    @property
    def words(self) -> str:
        """What a reader of the drawing is told."""
        return f"{self.where}, {span(*self.temp_c)} °C, {span(*self.hold_min)} min"


@dataclass(frozen=True)
class Schedule:
    """A schedule with its name and how its metal takes glass."""

    name: str
    fit: str
    phases: tuple[Phase, ...]

    @property
    def hours(self) -> float:
        """From cold to the end of the longest hold."""
        return sum(p.ramp_h + p.hold_min[1] / 60 for p in self.phases) + _UNTOLD_H * len(self.phases)


def clay_ramps(schedules: Sequence[Schedule], melts_c: float | None, key: str, title: str) -> str:
    """The schedules, the first on top.

    Parameters
    ----------
    schedules : sequence of Schedule
        All drawn on the time of the longest.
    melts_c : float or None
        Where the metal begins to melt [°C], drawn where it lies on the axis.
    key, title : str
        Id of the picture on its page, and its title.
    """
    per_hour = (_RIGHT - _LEFT) / max(s.hours for s in schedules)
    parts: list[str] = []
    top = 0.0
    for schedule in schedules:
        parts += _one(schedule, top, per_hour, melts_c)
        top += _HEAD + _TALL + _APART
    parts.append(path(f"M{at(_LEFT)} {at(top + 4)}v8m0 -4h{at(per_hour)}m0 -4v8", "wk"))
    parts.append(text("one hour", _LEFT + per_hour + 8, top + 12, "q"))
    parts.append(text("dotted: speed not told", _RIGHT, top + 28, "q e"))
    told = "; ".join(f"{s.name}: {', then '.join(p.words for p in s.phases)} (for glass: {s.fit})" for s in schedules)
    melts = f". The metal begins to melt at {figure(melts_c)} °C" if melts_c is not None else ""
    return named_picture(key, title, f"{told}{melts}.", f"0 0 340 {at(top + 34)}", parts)


def _one(schedule: Schedule, top: float, per_hour: float, melts_c: float | None) -> list[str]:
    foot = top + _HEAD + _TALL

    def y(temp_c: float) -> float:
        return foot - _TALL * min(temp_c, _HOT_C) / _HOT_C

    parts = [text(schedule.name, 0, top + 14, "b"), text(f"for glass: {_brief(schedule.fit)}", 0, top + 28, "q")]
    for mark in (500, 1000):
        parts += [path(f"M{at(_LEFT)} {at(y(mark))}H{at(_RIGHT)}", "hl")]
        parts += [text(figure(mark), _LEFT - 6, y(mark) + 4, "q e")]
    parts.append(text("°C", _LEFT - 6, foot, "q i e"))
    if melts_c is not None and melts_c <= _HOT_C:
        parts.append(path(f"M{at(_LEFT)} {at(y(melts_c))}H{at(_RIGHT)}", "stop"))
    x, words = _LEFT, []
    for phase in schedule.phases:
        low, high = y(phase.temp_c[0]), y(phase.temp_c[1])
        middle, hot = (low + high) / 2, x + phase.ramp_h * per_hour
        least, most = (each / 60 * per_hour for each in phase.hold_min)
        kind = "wk" if phase.speed_c_h else "cb"
        parts.append(path(f"M{at(x)} {at(foot)}L{at(hot)} {at(middle)}", kind))
        parts.append(rectangle(hot, high, most, low - high, "me"))
        parts.append(rectangle(hot, high, max(least, 1.5), low - high, "gl"))
        end = hot + most
        x = end + _UNTOLD_H * per_hour
        parts.append(path(f"M{at(end)} {at(middle)}L{at(x)} {at(foot)}", "cb"))
        words += _words(phase, hot, end, low, high)
    return [*parts, path(f"M{at(_LEFT)} {at(foot)}H{at(_RIGHT)}", "ax"), *words]


def _brief(fit: str) -> str:
    """As much of how it takes glass as has room: the reason stands in the table."""
    return fit if len(fit) <= _LETTERS else fit.partition(":")[0].partition(";")[0][:_LETTERS]


def _words(phase: Phase, start: float, end: float, low: float, high: float) -> list[str]:
    """Three short lines within the picture: over a cool hold, under a hot one."""
    lines = (phase.where, f"{span(*phase.temp_c)} °C", f"{span(*phase.hold_min)} min")
    wide = 6.2 * max(len(line) for line in lines)
    place = min(max((start + end - wide) / 2, _LEFT + 4), _RIGHT - wide)
    first = high - 32 if phase.temp_c[1] < _COOL_C else low + 13
    return [text(line, place, first + 13 * n, "q on") for n, line in enumerate(lines)]
