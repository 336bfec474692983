"""The two pages for the kiln's side: what goes in, how hot, until when, and nothing that is not read there.

Page one holds the firings, unbroken, and what has to be done before; page two amounts, clay, cautions and room to
write. Why each line is so stands on the whole sheet (`plan.sheet`) and with the verdict.
"""

from __future__ import annotations

from pathlib import Path

from refdb.judge.limits import KILN_MOST_C, SOLIDUS_MARGIN_K
from refdb.judge.rules import limit_of
from refdb.judge.verdict import TEST_TILE, Verdict
from refdb.pictures.build_order import build_order
from refdb.pictures.drawing import NO_BREAK, escaped, figure
from refdb.pictures.firings import FiringBlock, firing_blocks
from refdb.pictures.marks import marks_once, says
from refdb.plan.clay import fresh_size_line
from refdb.plan.lines import Firing, Plan
from refdb.plan.words import amount_span
from refdb.records import Metal
from refdb.records.named import small
from refdb.words import set_quotes, tenths, units_held, upper_first

#: So many ticks before the kiln, cautions and amounts stand on the two pages; what is left out is said.
MOST_TICKS, MOST_CAUTIONS, MOST_AMOUNTS = 8, 9, 14
_LINES = 7
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_ROOM = Path(__file__).resolve().parent


def bench_sheet(
    plan: Plan, verdict: Verdict, *, whole: str = "", styles: str = "", script: str = "", code: str = ""
) -> str:
    """The two pages of one piece.

    Parameters
    ----------
    plan : Plan
        The plan of the piece.
    verdict : Verdict
        The judgement of the same piece.
    whole : str
        Address of the page with all reasons, where there is one.
    styles, script : str
        Addresses of the stylesheet and of the script that keeps ticks, where a server has them; without them the page
        carries its own style, and no script.
    code : str
        Markup of a square code that leads back to the piece.

    Returns
    -------
    str
        A whole HTML document; every text in it is escaped.
    """
    title = escaped(plan.piece.title)
    policy = f'<meta http-equiv="Content-Security-Policy" content="{escaped(_POLICY)}">'
    css = (_ROOM / "bench_sheet.css").read_text(encoding="utf-8")
    look = f'<link rel="stylesheet" href="{escaped(styles)}">' if styles else f"{policy}<style>\n{css}</style>"
    look += f'<script src="{escaped(script)}" defer></script>' if script else ""
    return set_quotes(
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width,initial-scale=1"><title>At the kiln: {title}</title>'
        f"{look}</head>\n<body>{marks_once()}<main data-ticks>"
        f"{_first(plan, verdict)}{_second(plan, verdict, whole, code)}</main></body></html>\n"
    )


def _first(plan: Plan, verdict: Verdict) -> str:
    """Verdict, the firings drawn and as a table, and what comes before them."""
    never, what = hottest_c(plan.metal, verdict)
    sure = "" if verdict.holds is None else f", holds in {tenths(verdict.holds)} of 10 draws"
    stop = f" <b>No firing above {figure(never)} °C.</b>" if plan.firings else ""
    rows = "".join(_firing(f) for f in plan.firings)
    heads = '<th scope="col">done</th><th scope="col"><span class="vh">no.</span></th>'
    heads += '<th scope="col">what goes in, dry; done when</th><th scope="col">kiln</th>'
    heads += '<th scope="col">minutes</th><th scope="col">yours</th>'
    table = (
        f'<table class="big5"><caption class="vh">The firings in their order</caption><thead><tr>{heads}</tr></thead>'
        f"<tbody>{rows}</tbody></table><p><b>The shine decides, not the clock.</b> Grainy or dimpled: put it back. "
        f"{_cooling(plan, verdict)} Then look along the edge.</p>"
        if plan.firings
        else "<p>No step of the file fires the piece.</p>"
    )
    return (
        f'<section class="side-a"><div class="top"><h1>{escaped(plan.piece.title)}</h1>'
        f'<p class="soft">at the kiln, side 1 of 2</p></div>'
        f'<p class="verd">{says(verdict.outcome, upper_first(verdict.outcome))}{sure}. '
        f"{escaped(units_held(verdict.sentence))}{stop}</p>{_pictures(plan, never, what)}{table}{_before(plan)}"
        "</section>"
    )


def _cooling(plan: Plan, verdict: Verdict) -> str:
    """Where a piece cools after each firing: in still air, unless verdict or file send it to the closed kiln."""
    lacking = [t for t in verdict.told if t.key == "slow-cooling"]
    if lacking:
        return escaped(units_held(max(lacking, key=lambda t: t.reason.values["minutes"]).remedy))
    slow = [str(f.number) for f in plan.firings if f.cooling is not None]
    if len(slow) == len(plan.firings):
        return "After each firing leave it in the closed kiln until it is cold."
    if slow:
        after = f"firing{'s' if len(slow) > 1 else ''} {', '.join(slow)}"
        return f"After {after} leave it in the closed kiln until it is cold, after the others in still air."
    return "After each firing still air until it is cold to the hand."


def hottest_c(metal: Metal, verdict: Verdict | None) -> tuple[float, str]:
    """The hottest setting that metal and joins surely stand [°C], and what lets go first beyond it."""
    solidus = metal.band("solidus")
    found = [(KILN_MOST_C, "the kiln’s own end")]
    if solidus is not None:
        found.append((solidus.low - SOLIDUS_MARGIN_K, f"{metal.small} begins to soften"))
    margin = limit_of("join-in-fire").fine
    for reason in verdict.reasons if verdict is not None else ():
        if reason.rule in ("join-holds", "join-in-fire") and "melts_c" in reason.values:
            found.append((reason.values["melts_c"] - margin, "the solder begins to let go"))
    return min(found)


def _pictures(plan: Plan, never_above_c: float, what: str) -> str:
    build = build_order(plan.build, "build", "The build, from the front down")
    if not plan.firings:
        return f'<div class="pics"><figure>{build}</figure></div>'
    blocks = [
        FiringBlock(f.kiln_c, "; ".join(f.what), cooling_min=f.cooling.minutes if f.cooling else None)
        for f in plan.firings
    ]
    firings = firing_blocks(blocks, never_above_c, what, "firings", "The firings in their order")
    return f'<div class="pics"><figure>{firings}</figure><figure>{build}</figure></div>'


def _range_held(words: str) -> str:
    """Minutes in words, whose range in brackets keeps to one line."""
    head, bracket, span = units_held(words).partition(" (")
    return head + bracket + span.replace(" ", NO_BREAK)


def _firing(firing: Firing) -> str:
    n = firing.number
    signs = " ".join(upper_first(line.text) for line in firing.right[:1])
    look = f"<small>{escaped(units_held(firing.minutes.look_words))}</small>" if firing.minutes.look_words else ""
    if firing.cooling is not None:
        slow = f"then {firing.cooling.minutes:g} min slowly{firing.cooling.span} in the closed kiln"
        look += f"<small>{escaped(units_held(slow))}</small>"
    return (
        f'<tr><td><input type="checkbox" id="f{n}"><label class="vh" for="f{n}">firing {n} is done</label></td>'
        f'<td class="no">{n}</td><th scope="row">{escaped(units_held(upper_first("; ".join(firing.what))))}'
        f'<span class="sign">{escaped(signs)}</span></th>'
        f'<td class="c">{figure(firing.kiln_c)} °C<small>{figure(firing.kiln_f)} °F</small></td>'
        f'<td class="mi">{escaped(_range_held(firing.minutes.words))}{look}</td><td class="yours"></td></tr>'
    )


def _before(plan: Plan) -> str:
    """One tick for each phase before the kiln: its first line stands for it."""
    ticks = []
    for number, phase in enumerate((p for p in plan.before if p.lines), 1):
        words = escaped(units_held(phase.lines[0].text))
        ticks.append(
            f'<li><input type="checkbox" id="b{number}"><label for="b{number}"><b>{escaped(phase.title)}.</b> '
            f"{words}</label></li>"
        )
    return f'<h2>Before the kiln</h2><ul class="prep">{"".join(ticks[:MOST_TICKS])}</ul>' if ticks else ""


def _second(plan: Plan, verdict: Verdict, whole: str, code: str) -> str:
    """Amounts, the clay as chosen, cautions, room to write, and where the reasons stand."""
    reasons = f' Why each line is so: <a href="{escaped(whole)}">all reasons and sources</a>.' if whole else ""
    lines = f'<div class="lines" aria-hidden="true">{"<i></i>" * _LINES}</div>'
    if code:
        told = "Opens this piece on a phone, as long as the computer that printed it is on."
        lines = f'<div class="back">{lines}<figure>{code}<figcaption>{told}</figcaption></figure></div>'
    return (
        f'<section class="side-b"><div class="top"><h2 class="again">{escaped(plan.piece.title)}</h2>'
        f'<p class="soft">side 2 of 2</p></div><div class="cols"><div>{_amounts(plan)}</div><div>{_clay(plan)}</div>'
        f"</div>{_cautions(plan)}<h2>Notes</h2>{lines}"
        f'<p class="soft">{escaped(TEST_TILE)}{reasons}</p></section>'
    )


def _amounts(plan: Plan) -> str:
    rows = "".join(
        f'<tr><th scope="row">{escaped(small(a.key, a.what))}</th>'
        f'<td class="n">{escaped(f"{amount_span(a.needed)} {a.unit}" if a.needed is not None else "")}</td>'
        f'<td class="n">{escaped(f"{amount_span(a.band)} {a.unit}")}</td></tr>'
        for a in plan.amounts.rows[:MOST_AMOUNTS]
    )
    more = len(plan.amounts.rows) - MOST_AMOUNTS
    left = f'<p class="soft">And {more} more on the whole sheet.</p>' if more > 0 else ""
    count = "" if plan.amounts.quantity == 1 else f" for all {plan.amounts.quantity:,}"
    return (
        f'<h2>Amounts{count}</h2><table class="tight"><caption class="vh">Amounts</caption><thead><tr><th scope="col">'
        f'what</th><th scope="col" class="n">on the piece</th><th scope="col" class="n">take</th></tr></thead>'
        f"<tbody>{rows}</tbody></table>{left}"
    )


def _clay(plan: Plan) -> str:
    chosen = next((s for s in plan.schedules if s.for_glass), None)
    if chosen is None:
        return ""
    phases = "".join(
        f"<li>{escaped(upper_first(p.title))}: <b>{_span(p.temp_c)} °C, {_span(p.hold_min)} min</b>, "
        f"{escaped(p.atmosphere)}</li>"
        for p in chosen.phases
    )
    line = fresh_size_line(plan.piece, plan.metal)
    size = "" if line is None else line.text
    return (
        f'<h2>The clay: {escaped(chosen.name)}</h2><ul class="plain">{phases}</ul><p>{escaped(units_held(size))}</p>'
        '<p class="soft">The leaflet of the clay’s maker governs.</p>'
    )


def _span(ends: tuple[float, float]) -> str:
    low, high = figure(ends[0]), figure(ends[1])
    return low if low == high else f"{low} to {high}"


def _cautions(plan: Plan) -> str:
    items = "".join(f"<li>{escaped(units_held(c.text))}</li>" for c in plan.cautions[:MOST_CAUTIONS])
    more = len(plan.cautions) - MOST_CAUTIONS
    left = f'<p class="soft">And {more} more with the verdict.</p>' if more > 0 else ""
    return f'<h2>Cautions</h2><ul class="safe">{items}</ul>{left}' if items else ""
