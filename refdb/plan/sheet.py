"""The sheet for the bench: one page of HTML without script or outside file, to print and to tick off."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from refdb.judge.verdict import CARE, NOT, TEST_TILE, Verdict
from refdb.judge.wording import Told
from refdb.pictures.build_order import build_order
from refdb.pictures.drawing import escaped, figure
from refdb.pictures.marks import marks_once, says
from refdb.plan.lines import OWN, SIGNS_DECIDE, ClaySchedule, Firing, Line, Plan, by_firing
from refdb.plan.technique_lines import TECHNIQUES
from refdb.plan.words import amount_span
from refdb.quantities.printed import fahrenheit
from refdb.quantities.typed import Band
from refdb.records.named import small
from refdb.words import lower_first, set_quotes, tenths, units_held, upper_first

_MOST_WATCHED = 6
#: What the line of a firing names by itself, so its sentence is not repeated there.
_LAID = ("coat", "line", "leaf", *TECHNIQUES)
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_NO_BREAK = "\u00a0"
_NOT_CITED = "see refdb sources"


def sheet(plan: Plan, verdict: Verdict, file_name: str = "", *, styles: str = "", script: str = "") -> str:
    """The page of one piece.

    Parameters
    ----------
    plan : Plan
        The plan of the piece.
    verdict : Verdict
        The judgement of the same piece.
    file_name : str
        The file it comes from, for the foot of the page.
    styles, script : str
        Addresses of the stylesheet and of the script where a server has them; without them the page carries its own
        style, no script, and nothing on it is folded.

    Returns
    -------
    str
        A whole HTML document; every text in it is escaped.
    """
    return _Sheet(plan, verdict, file_name, folds=bool(styles)).page(styles, script)


class _Sheet:
    """Writes one sheet; sources get numbers in the order in which the page needs them."""

    def __init__(self, plan: Plan, verdict: Verdict, file_name: str, *, folds: bool) -> None:
        self.plan, self.verdict, self.file_name, self.folds = plan, verdict, file_name, folds
        self.citations = {**verdict.sources, **plan.sources}
        self.numbers: dict[str, int] = {}
        self.boxes = 0

    def page(self, styles: str, script: str) -> str:
        plan = self.plan
        title = escaped(plan.piece.title)
        css = (Path(__file__).resolve().parent / "sheet.css").read_text(encoding="utf-8")
        policy = f'<meta http-equiv="Content-Security-Policy" content="{escaped(_POLICY)}">'
        look = f'<link rel="stylesheet" href="{escaped(styles)}">' if styles else f"<style>\n{css}</style>"
        look += f'<script src="{escaped(script)}" defer></script>' if script else ""
        body = "\n".join(
            part
            for part in (
                self.head(),
                self.first(),
                self.clay(),
                self.before(),
                self.amounts(),
                self.packing(),
                self.cautions(),
                self.kiln(),
                self.signs(),
                self.between(),
                self.end(),
                self.notes(),
                self.sources(),
            )
            if part
        )
        return set_quotes(
            f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
            f"{'' if styles else policy}"
            f'<meta name="viewport" content="width=device-width,initial-scale=1">'
            f"<title>Bench sheet: {title}</title>\n{look}</head>\n"
            f"<body>{marks_once()}\n<main>\n{body}\n</main></body></html>\n"
        )

    # Parts of the page

    def head(self) -> str:
        piece, verdict = self.plan.piece, self.verdict
        size = f"{piece.width_m * 1e3:g} × {piece.height_m * 1e3:g} mm"
        many = f"{piece.quantity:,} pieces, " if piece.quantity > 1 else ""
        band = piece.base.thickness_m
        said = f" ({piece.base.said})" if "card" in piece.base.said.lower() else ""
        lead = (
            f"{self.plan.metal.label}, {figure(band.value * 1e3, 2)} mm{said}, {piece.shape}. {many}{size}"
            f"{'' if piece.use == 'adult' else ', for ' + piece.use}."
        )
        word = upper_first(verdict.outcome)
        certain = "" if verdict.holds is None else f"Holds in {tenths(verdict.holds)} of 10 draws. "
        told = units_held(certain + verdict.sentence)
        picture = build_order(self.plan.build, "build", "The build, from the front down")
        return (
            f'<div class="head"><div><h1>{escaped(piece.title)}</h1><p class="lead">{escaped(units_held(lead))}</p>'
            f'<p>{says(verdict.outcome, word)}. <span class="soft">{escaped(told)}</span></p>'
            f"</div><figure>{picture}</figure></div>"
        )

    def first(self) -> str:
        watched: dict[tuple[str, str, str], list[Told]] = {}
        for one in self.verdict.told:
            if one.outcome in (NOT, CARE):
                watched.setdefault((one.key, one.title, one.why), []).append(one)
        told = "".join(f"<li>{self.watch(alike)}</li>" for alike in list(watched.values())[:_MOST_WATCHED])
        watch = f'<h3>To watch</h3><ul class="plain">{told}</ul>' if told else ""
        return self.section(
            "First",
            '<div class="tile"><h3>Fire a test tile</h3><p>'
            f"Same metal, same coats, same firings. {escaped(TEST_TILE)}</p></div>{watch}",
        )

    def watch(self, alike: Sequence[Told]) -> str:
        """Reasons of one rule as one item, with the steps they are about."""
        first = alike[0]
        steps = [one.place for one in alike if one.place]
        where = f" ({', '.join(steps)})" if steps else ""
        remedy = f" {first.remedy}" if first.remedy else ""
        return (
            f"<b>{escaped(upper_first(first.title + where))}.</b> {escaped(first.why + remedy)}{self.key(first.source)}"
        )

    def clay(self) -> str:
        if not self.plan.schedules:
            return ""
        making = self.plan.before[0]
        rows = "".join(self.schedule(s) for s in self.plan.schedules if s.for_glass)
        unfit = [f"{s.name} ({s.fit.removeprefix('no: ')})" for s in self.plan.schedules if not s.for_glass]
        left = f'<p class="soft">Not for glass: {escaped("; ".join(unfit))}.</p>' if unfit else ""
        table = _table(
            "Schedules for this clay, side by side: its maker’s leaflet governs.",
            ("schedule", "phase", "°C#", "°F#", "hold, min#", "where", "for glass"),
            rows,
            "dense",
        )
        fired = self.plan.before[1]
        after = f"<h3>{escaped(fired.title)}</h3>{self.ticks(fired.lines, 'ticks cols')}"
        return self.section(
            "The clay",
            self.ticks(making.lines, "ticks cols") + table + left + after,
            "full",
            "Making and firing the clay, with its schedules",
        )

    def schedule(self, schedule: ClaySchedule) -> str:
        cells = []
        for number, phase in enumerate(schedule.phases):
            carbon = f", {phase.carbon_mm:g} mm around" if phase.carbon_mm is not None else ""
            where = "; ".join((f"{phase.atmosphere}{carbon}", *phase.more))
            fit = schedule.fit if number == len(schedule.phases) - 1 else ""
            name = escaped(schedule.name if number == 0 else "")
            heats = f'<td class="n">{_span(phase.temp_c)}</td><td class="n">{_span(_fahrenheit(phase.temp_c))}</td>'
            cells.append(
                f'<tr><th scope="row">{name}</th><td>{escaped(phase.title)}</td>{heats}'
                f'<td class="n">{_span(phase.hold_min)}</td>'
                f'<td class="small">{escaped(where)}{self.key(phase.source)}</td><td>{escaped(fit)}</td></tr>'
            )
        return "".join(cells)

    def before(self) -> str:
        phases = self.plan.before[2 if self.plan.schedules else 0 :]
        parts = [f"<div><h3>{escaped(p.title)}</h3>{self.ticks(p.lines)}</div>" for p in phases if p.lines]
        folded = ", ".join(
            p.title if n == 0 else lower_first(p.title) for n, p in enumerate(p for p in phases if p.lines)
        )
        return self.section("Before the kiln", f'<div class="cols flow">{"".join(parts)}</div>', "full", folded)

    def amounts(self) -> str:
        amounts = self.plan.amounts
        firing_of = {n: f.number for f in self.plan.firings for n in self.steps_of(f)}
        rows = []
        for a in amounts.rows:
            firings = sorted({firing_of[n] for n in a.steps if n in firing_of}) if a.key else []
            note = f'<br><span class="soft">{escaped(a.note)}</span>' if a.note else ""
            keys = "".join(self.key(k) for k in a.sources)
            needed = f"{amount_span(a.needed)} {a.unit}" if a.needed is not None else ""
            rows.append(
                f'<tr><th scope="row">{escaped(small(a.key, a.what))}{keys}{note}</th>'
                f'<td class="n">{", ".join(map(str, firings))}</td>'
                f'<td class="n">{escaped(needed)}</td>'
                f'<td class="n">{escaped(f"{amount_span(a.band)} {a.unit}")}</td></tr>'
            )
        count = "one piece" if amounts.quantity == 1 else f"all {amounts.quantity:,} pieces"
        area = f"{figure(amounts.area_m2.value * 1e4, 1)} cm² a face"
        gone = "".join(f'<p class="soft">Not known: {escaped(x)}.</p>' for x in amounts.missing)
        caption = f"For {count}, {area}. Dry powder; what to take allows for what falls beside and for washing."
        table = _table(caption, ("what", "firing#", "on the piece#", "take#"), "".join(rows), "dense")
        return self.section("Amounts", table + gone, folded=f"{len(rows)} rows")

    def steps_of(self, firing: Firing) -> Iterable[int]:
        last = next((f.step for f in reversed(self.plan.firings) if f.number < firing.number), 0)
        return range(last + 1, firing.step)

    def packing(self) -> str:
        packed = self.plan.packed
        if packed is None:
            return ""
        box = packed.container
        size = " × ".join(f"{x * 1e3:g}" for x in (box.width_m, box.depth_m, box.height_m))
        keys = "".join(self.key(k) for k in packed.sources)
        note = f"<p>{escaped(packed.note)}</p>" if packed.note else ""
        return self.section("In the container", f"<p>In {size} mm: {escaped(packed.words)}{keys}</p>{note}")

    def cautions(self) -> str:
        items = "".join(f"<li>{escaped(c.text)}{self.key(c.source)}</li>" for c in self.plan.cautions)
        return self.section(
            "Cautions", f'<ul class="plain cols">{items}</ul>', "full", f"{len(self.plan.cautions)} cautions"
        )

    def kiln(self) -> str:
        rows = "".join(self.firing(f) for f in self.plan.firings)
        table = _table(
            "Look, do not count: the minutes are a range, the shine is the sign. Write what you saw in the last "
            "column.",
            ("done", "no.#", "what goes in", "°C#", "°F#", "minutes", "take it out when", "yours"),
            rows,
            "fire",
        )
        times = "".join(f"<li>{escaped(t.text)}{self.key(t.source)}</li>" for t in self.plan.times)
        nothing = "" if self.plan.firings else "<p>No step of the file fires the piece.</p>"
        own = f"<p>{escaped(self.plan.kiln_words())}</p>" if self.plan.own_kiln is not None else ""
        return self.section("At the kiln", f'{own}{table}{nothing}<ul class="plain soft">{times}</ul>', "full")

    def firing(self, firing: Firing) -> str:
        tick = f'<input type="checkbox" aria-label="firing {firing.number} done">'
        steps = self.plan.piece.steps
        before, beside = "", ""
        for line in firing.prepare:
            laid = bool(line.step) and steps[line.step - 1].do in _LAID
            if not (laid and line.source == OWN):
                told = f"{escaped(line.text)}{self.key(line.source)} "
                before, beside = (before, beside + told) if laid else (before + told, beside)
        what = "; ".join(firing.what)
        what = f"{before}{escaped(upper_first(what))}. {beside}"
        told = "".join(f"{escaped(x.text)}{self.key(x.source)} " for x in (*firing.right, *firing.notes))
        minutes = firing.minutes
        words = escaped(minutes.words.replace(" min", "").replace(" or longer", f"{_NO_BREAK}or longer"))
        look = f'<br><span class="soft">{escaped(minutes.look_words)}</span>' if minutes.look_words else ""
        look += f"<br>then {firing.cooling.minutes:g} slowly" if firing.cooling is not None else ""
        return (
            f'<tr><td>{tick}</td><td class="n">{firing.number}</td><th scope="row">{what}</th>'
            f'<td class="n">{firing.kiln_c:.0f}</td><td class="n">{firing.kiln_f:.0f}</td>'
            f'<td class="nw">{words}{self.key(minutes.source)}{look}</td><td class="small">{told}</td>'
            '<td class="own"></td></tr>'
        )

    def signs(self) -> str:
        parts = []
        for which, title in (("under", "Not yet"), ("over", "Too much")):
            items = "".join(
                f"<li>{escaped(line.text)} ({escaped(numbers)}){self.key(line.source)}</li>"
                for line, numbers in by_firing(self.plan.firings, which)
            )
            parts.append(f'<div><h3>{title}</h3><ul class="plain">{items}</ul></div>' if items else "")
        inner = f'<div class="cols">{"".join(parts)}</div>' if any(parts) else ""
        inner += self.minutes_notes()
        return (
            self.section("What to look for", inner, "full", "Signs of too little and too much")
            if self.plan.firings
            else ""
        )

    def minutes_notes(self) -> str:
        """What the minutes rest on, those of several firings together."""
        notes: dict[str, list[Firing]] = {}
        for firing in self.plan.firings:
            if firing.minutes.note:
                notes.setdefault(firing.minutes.note, []).append(firing)
        told = [f"firing {', '.join(str(f.number) for f in some)} {note}" for note, some in notes.items()]
        words = ". ".join(upper_first(x) for x in told)
        return self.stages() + (f'<p class="soft">The minutes: {escaped(words)}.</p>' if told else "")

    def stages(self) -> str:
        """Minutes to each stage of the glasses that a firing pins, as a table."""
        rows = "".join(
            f'<tr><th scope="row">{escaped(small(s.glass, s.label))}<br>'
            f'<span class="soft">by {escaped(s.by)}{self.key(s.source)}</span></th>'
            f'<td class="n">{f.number}</td><td class="n">{_dashed(s.orange_peel)}</td>'
            f'<td class="n">{_dashed(s.gloss)}{" or longer" if s.open_ended else ""}</td></tr>'
            for f in self.plan.firings
            for s in f.minutes.stages
        )
        if not rows:
            return ""
        heads = ("glass", "firing#", "first look, min#", "gloss from, min#")
        return _table(f"When each stage comes, low to high. {SIGNS_DECIDE}", heads, rows, "dense")

    def between(self) -> str:
        told = f"{len(self.plan.between)} lines"
        return self.section("After each firing", self.ticks(self.plan.between, "ticks cols"), "full", told)

    def end(self) -> str:
        return self.section("At the end", self.ticks(self.plan.after), "keep") if self.plan.after else ""

    def notes(self) -> str:
        return self.section("Notes", '<div class="lines" aria-hidden="true"><i></i><i></i><i></i><i></i></div>', "keep")

    def sources(self) -> str:
        names = self.plan.names
        items = "".join(
            f"<li><b>{number}</b> {escaped(names.get(key, key))}: {escaped(self.citations.get(key, _NOT_CITED))}. </li>"
            for key, number in self.numbers.items()
        )
        origin = f"From {self.file_name}. " if self.file_name else ""
        return self.section(
            "Sources",
            f'<ul class="refs">{items}</ul><p class="soft">{escaped(origin)}'
            "The small numbers name the source of a line; refdb sources NAME gives it in full.</p>",
            folded=f"{len(self.numbers)} sources",
        )

    # Small things

    def section(self, title: str, inner: str, shape: str = "", folded: str = "") -> str:
        """A section; `folded` is what a phone shows in its stead until it is opened."""
        if folded and self.folds:
            inner = f"<details><summary>{escaped(folded)}</summary>{inner}</details>"
        self.boxes += 1
        name = f"h{self.boxes}"
        kind = f"sec {shape}".strip()
        return (
            f'<section class="{kind}" aria-labelledby="{name}"><div class="side">'
            f'<h2 id="{name}">{escaped(title)}</h2></div>{inner}</section>'
        )

    def ticks(self, lines: Sequence[Line], shape: str = "ticks") -> str:
        items = []
        for line in lines:
            self.boxes += 1
            items.append(
                f'<li><input type="checkbox" id="c{self.boxes}"><label for="c{self.boxes}">'
                f"{escaped(line.text)}{self.key(line.source)}</label></li>"
            )
        return f'<ul class="{shape}">{"".join(items)}</ul>'

    def key(self, source: str) -> str:
        number = self.numbers.setdefault(source, len(self.numbers) + 1)
        return f"<sup>{_NO_BREAK}{number}</sup>"


def _table(caption: str, heads: Sequence[str], rows: str, shape: str) -> str:
    """A table; a head that ends in "#" is that of numbers, and "yours" that of the column to write in."""
    cells = []
    for head in heads:
        kind = ' class="n"' if head.endswith("#") else ' class="own"' if head == "yours" else ""
        cells.append(f'<th scope="col"{kind}>{escaped(head.rstrip("#"))}</th>')
    return (
        f'<div class="wide" role="region" aria-label="{escaped(caption.partition(".")[0])}" tabindex="0">'
        + _with_roles(
            f'<table class="{shape}"><caption>{escaped(caption)}</caption>'
            f"<thead><tr>{''.join(cells)}</tr></thead><tbody>{rows}</tbody></table>"
        )
        + "</div>"
    )


def _with_roles(table: str) -> str:
    """A table that stays one for a screen reader where a phone shows its rows as blocks; its words are escaped."""
    for tag, role in (
        ("<table", "table"),
        ("<thead", "rowgroup"),
        ("<tbody", "rowgroup"),
        ("<tr", "row"),
        ("<td", "cell"),
        ('<th scope="col"', "columnheader"),
        ('<th scope="row"', "rowheader"),
    ):
        table = table.replace(tag, f'{tag} role="{role}"')
    return table


def _dashed(band: Band) -> str:
    low, high = f"{band.low:.1f}", f"{band.high:.1f}"
    return low if low == high else f"{low}–{high}"


def _fahrenheit(temps_c: Sequence[float]) -> list[float]:
    return [fahrenheit(t) for t in temps_c]


def _span(ends: Sequence[float]) -> str:
    low, high = f"{ends[0]:.0f}", f"{ends[1]:.0f}"
    return low if low == high else f"{low}–{high}"
