"""How many pieces go into the kiln at once, and how many are finished in the time there is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import JsonOption, opened, typed
from refdb.cli.options import Argument, Option
from refdb.cli.output import Page, emit_json

if TYPE_CHECKING:
    from refdb.plan.kiln_day import KilnDay


def kiln(
    pieces: Annotated[list[str], Argument(metavar="PIECES...", help='How many of what: "12 pendants".')],
    size: Annotated[str, Option("--size", metavar="SIZE", help='Of a piece: "30x24 mm", "1 in square".')],
    floor: Annotated[str, Option("--floor", metavar="SIZE", help='What they stand on: "150x120 mm".')],
    fires: Annotated[int, Option("--fires", metavar="NUMBER", help="How often each piece is fired.")] = 3,
    minutes: Annotated[str | None, Option("--minutes", metavar="TIME", help='One fire, "2.5 min"; 1 to 4 min.')] = None,
    time: Annotated[str | None, Option("--time", metavar="TIME", help='Time there is, with heating up: "3 h".')] = None,
    cooling: Annotated[
        str | None, Option("--cooling", metavar="TIME", help='Slow cooling after the last fire, "25 min".')
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Tell how many pieces the kiln takes, and how long all take.

    While one load is in the kiln the others cool and dry. A full kiln fires more slowly: refdb piece plan FILE --load
    tells the minutes.

    \b
    Example:
      refdb kiln 12 pendants --size "30x24 mm" --floor "120x100 mm" --time "3 h"
    """
    from refdb.plan.allowances import Allowances
    from refdb.plan.asked_amounts import count_of, size_of
    from refdb.plan.kiln_day import floor_of, kiln_day
    from refdb.quantities.amounts import duration_min
    from refdb.quantities.forgiving import completed
    from refdb.quantities.typed import Band

    count, (wide, high, _), room = count_of(typed(" ".join(pieces))), size_of(typed(size)), floor_of(typed(floor))
    one = None
    if minutes is not None:
        one = Band.exact(duration_min(completed(typed(minutes), "min"), where="--minutes"))
    there_is = None if time is None else duration_min(completed(typed(time), "min"), where="--time")
    slow = None if cooling is None else duration_min(completed(typed(cooling), "min"), where="--cooling")
    with opened() as ref:
        day = kiln_day(
            Allowances(ref), count, (wide, high), room, fires, minutes=one, time_min=there_is, cooling_min=slow
        )
        short = ref.source_names()
    if as_json:
        question: dict[str, Any] = {
            "quantity": count,
            "size_mm": [round(x * 1e3, 3) for x in (wide, high)],
            "floor_mm": [round(x * 1e3, 3) for x in room],
            "fires": fires,
            "time_min": there_is,
        } | ({} if slow is None else {"cooling_min": slow})
        emit_json({"question": question, **day.as_dict()})
    else:
        _page(day, room, there_is, short).show()


def _page(day: KilnDay, room: tuple[float, float], there_is: float | None, short: dict[str, str]) -> Page:
    from refdb.plan.words import minutes_span

    page = Page()
    loads = f"{day.loads:,} load{'s' if day.loads != 1 else ''}"
    sure = ", more cannot lie there" if day.per_load == day.at_most else f", {day.at_most:,} at the very most"
    floor = " x ".join(f"{x * 1e3:g}" for x in room)
    page.paragraph(
        f"{min(day.per_load, day.quantity):,} at once on {floor} mm ({day.per_load:,} fit {day.gap_m * 1e3:g} mm apart "
        f"and to the wall{sure}); {day.quantity:,} in {loads}."
    )
    page.paragraph(f"A fire of one load: {minutes_span(day.one)}, with the kiln's recovery.")
    if day.slow is not None:
        page.paragraph(
            f"After its last fire a load keeps the kiln shut for {minutes_span(day.slow)}, until it is cold; then it "
            "heats up anew."
        )
    page.paragraph(
        f"All of them, {day.fires} fire{'s' if day.fires != 1 else ''} each: {minutes_span(day.all)}, with the kiln "
        "heating up; loads cool and dry meanwhile."
    )
    if day.done is not None and there_is is not None:
        low, high = day.done
        sure = f"{low:,}" if low == high else f"{low:,} to {high:,}"
        page.paragraph(f"In {there_is:g} min: {sure} of {day.quantity:,} finished.")
    rests = "; ".join(dict.fromkeys(short[k] for k in day.sources.values()))
    page.paragraph(f"Rests on figures of practice [{rests}]; your own kiln may be faster or slower.")
    return page
