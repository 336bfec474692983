"""Rules of cooling: glass so thick, or a piece so wide, that it may not go straight into the open air."""

from __future__ import annotations

from refdb.judge.limits import LARGE_PIECE_M, THICK_GLASS_M
from refdb.judge.rules.typed import Limit, Rule, Words

_KEEP_OFF = "Never on cold metal or stone, in a draught, on a wet sponge or in water: glass is not quenched."
_WIDE_LIMIT = f"up to about {LARGE_PIECE_M * 1e3:.0f} mm wide a piece may cool in still air"
_WIDE_WHY = (
    "A rim that is cold squeezes a middle that is hot, and is stretched around it. How fast it may go is not worked "
    "out here; it is practice."
)

RULES = (
    Rule(
        "slow-cooling",
        "Cooling",
        "piece",
        "computed-here",
        "computed",
        Words(
            "{total_mm:.1f} mm of glass in all: a draught would break {draught} in 10, cold stone {slab}, water "
            "{water}.",
            "up to {fine:g} mm of glass in all may cool in still air",
            "Thick glass stays hot inside while its surface cools: the surface is stretched meanwhile, and what sets "
            "unevenly stays stretched for good.",
            "Cool it in the closed kiln from {high_c:.0f} to {low_c:.0f} °C over {minutes:.0f} min or more, and leave "
            f"it in there until it is cold. {_KEEP_OFF}",
            head_care="thick glass has to cool slowly, over {minutes:.0f} min from {high_c:.0f} to {low_c:.0f} °C",
        ),
        limit=Limit(THICK_GLASS_M * 1e3, None, "mm"),
        cases={
            "short": Words(
                "{given_min:g} min of slow cooling for {total_mm:.1f} mm of glass in all.",
                head_care="{given_min:g} min of slow cooling is too short for thick glass: it wants {minutes:.0f} min",
            ),
            "wide-short": Words(
                "{given_min:g} min of slow cooling for a piece {wide_mm:.0f} mm wide.",
                _WIDE_LIMIT,
                _WIDE_WHY,
                head_care="{given_min:g} min of slow cooling is too short: so wide a piece wants {minutes:.0f} min",
            ),
            "wide": Words(
                "{wide_mm:.0f} mm wide: its rim is cold long before its middle.",
                _WIDE_LIMIT,
                _WIDE_WHY,
                head_care="so wide a piece has to cool slowly, over {minutes:.0f} min from {high_c:.0f} to "
                "{low_c:.0f} °C",
            ),
        },
        of_question=True,
    ),
)
