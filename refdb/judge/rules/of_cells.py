"""Rules of cells: recesses cut into the metal, wires set on glass, openings through the metal, and what is set in."""

from __future__ import annotations

from refdb.judge.limits import HOURS_FOR_GOOD, SOLIDUS_MARGIN_K, STRENGTH_MPA
from refdb.judge.rules.typed import Limit, Rule, Words
from refdb.science.plate.duration import duration_factor

_TRADE, _PRACTICE, _RECALLED = "common-practice", "common practice", "handbook-recalled"
#: Median strength while a load lasts for good [MPa].
_FOR_GOOD = STRENGTH_MPA[0] * duration_factor(HOURS_FOR_GOOD)
_CLOSE = "Cracks and dirt begin at the step, and stoning takes away glass that was wanted."

RULES = (
    Rule(
        "recess-floor",
        "Floor of the recess",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The floor is {thick:.2f} mm at the deepest.",
            "a floor of at least {fine:g} mm",
            "A thinner floor yields as the glass cools, and the front crazes.",
            "Thicker metal, or a shallower recess.",
        ),
        limit=Limit(0.5, None, "mm", falling=True),
    ),
    Rule(
        "recess-hollow",
        "Glass below the land",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The glass ends {low_mm:.2f} mm below the metal around it.",
            "up to {fine:g} mm below",
            f"The cell is not full. {_CLOSE}",
            "One more lay of glass, or a shallower recess.",
        ),
        limit=Limit(0.10, None, "mm"),
    ),
    Rule(
        "recess-proud",
        "Glass above the land",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The glass stands {high_mm:.2f} mm above the metal around it, and nothing stones it.",
            "up to {fine:g} mm above, or stoned level",
            "Glass that stands up at an edge of metal chips first.",
            "Stone it level after its last coat and fire once more, or lay less.",
        ),
        limit=Limit(0.05, None, "mm"),
    ),
    Rule(
        "wire-melts",
        "Wire in the fire",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "{Metal} begins to melt at {melts_c:.0f} °C{heat:in}.",
            "{fine:g} K between the kiln and the first melting of what is set in",
            "Wire that begins to melt sags, and its metal runs into the glass.",
            "A cooler fire, or wire that melts higher, such as fine silver or gold.",
        ),
        limit=Limit(SOLIDUS_MARGIN_K, SOLIDUS_MARGIN_K, "K", falling=True),
    ),
    Rule(
        "wire-contact",
        "Wire against metal",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "{Metal} lies on bare {under}; the two first melt together at {melts_c:.0f} °C{heat:in}.",
            "fused glass between metals that melt together in the fire",
            "Where the two touch they melt far below either alone, and the wire sinks away.",
            "Fuse a coat first and set the wire on that.",
            "{metal} touches {under}",
        ),
        cases={
            "melts": Words(head_not="{metal} touches {under}, and the two melt together in the fire"),
            "unknown": Words("{Metal} lies on bare {under}; where the two melt together is not known."),
            "wires": Words(
                "{Metal} and {under} stand side by side; where they touch they melt together at "
                "{melts_c:.0f} °C{heat:in}.",
                remedy="Keep glass between wires of unlike metals.",
            ),
        },
    ),
    Rule(
        "wire-bed",
        "Coat under the wire",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The coat under the wire is {total_mm:.2f} mm.",
            "at least {fine:g} mm of fused glass",
            "Through a thin coat the wire sinks to the metal.",
            "A base coat of 0.1 to 0.2 mm, fused before the wire is set.",
        ),
        limit=Limit(0.08, None, "mm", falling=True),
    ),
    Rule(
        "wire-drowned",
        "Wire below the glass",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The glass ends {low_mm:.2f} mm above the wire.",
            "up to {fine:g} mm above it",
            "A wire that lies deep does not show, and the glass over it is as thick as if no cell were there.",
            "Less glass, higher wire, or stone down to the wire.",
        ),
        limit=Limit(0.05, None, "mm"),
    ),
    Rule(
        "wire-proud",
        "Wire above the glass",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The wire stands {high_mm:.2f} mm above the glass, and nothing stones it.",
            "up to {fine:g} mm above, or stoned level",
            "Wire that stands up catches and tears at the glass beside it.",
            "Fill the cells to the height of the wire, or stone the wire level and fire once more.",
        ),
        limit=Limit(0.10, None, "mm"),
    ),
    Rule(
        "wire-falls",
        "Wire that stands",
        "step",
        _RECALLED,
        _PRACTICE,
        Words(
            "The wire has no bend to stand on.",
            "a bend in every piece of wire",
            "A straight wire falls over when the coat under it softens.",
            "Bend it so that it stands by itself.",
        ),
    ),
    Rule(
        "wire-pulls",
        "Wire against its glass",
        "step",
        "computed-here",
        "computed",
        Words(
            limit="up to {fine:.0f} MPa of pull across the side of the wire, what glass bears for good",
            why="Wire that shrinks more than its glass draws away from it: a dark line, then a crack.",
            remedy="Thinner or higher wire, a thicker base, or metal that shrinks less, such as fine gold.",
            head_care="the wire may draw away from its glass",
            head_not="the wire leaves the glass beside it stretched far enough to crack",
        ),
        fine="The wire stays in touch with its glass.",
        limit=Limit(_FOR_GOOD, None, "MPa"),
    ),
    Rule(
        "opening-empty",
        "Empty opening",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "No glass is laid in the openings.",
            "glass in every opening",
            "An opening without glass is only a hole.",
            'Lay coats that say within = "opening".',
        ),
    ),
    Rule(
        "opening-large",
        "Size of the opening",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The largest opening has {area_mm2:.0f} mm².",
            "up to {fine:g} mm²",
            "Powder spans a hole as water does in a loop; a larger window falls out or sags.",
            "Smaller openings, with bars of metal between them.",
        ),
        limit=Limit(100.0, 250.0, "mm²"),
    ),
    Rule(
        "opening-unbacked",
        "Nothing behind the opening",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "{across_mm:.1f} mm across, and nothing behind it.",
            "up to {fine:g} mm across without a backing",
            "Wet grains hold only across a small hole; the middle of a larger one opens in the fire.",
            "Back it with mica, or make it smaller.",
        ),
        limit=Limit(6.0, None, "mm"),
    ),
    Rule(
        "opening-etch",
        "Backing that is etched away",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "A copper foil is etched away from a frame of {metal}.",
            "a frame that the acid for copper leaves alone",
            "What eats the foil eats this frame too.",
            "Back it with mica, which peels off.",
        ),
    ),
    Rule(
        "opening-glass",
        "Glass in the opening",
        "firing",
        "computed-here",
        "computed",
        Words(
            limit="{fine:g} MPa of tension in glass that is free on both sides, at most {care:.0f} for good",
            why="Nothing lies behind this glass: what stretches it tears it, and no counter enamel helps.",
            remedy="A glass that contracts less than the frame, or a frame of another metal.",
            head_care="the frame pulls at the glass in the opening",
        ),
        fine="The frame squeezes the glass from all sides.",
        limit=Limit(0.0, _FOR_GOOD, "MPa"),
    ),
    Rule(
        "inset-thick",
        "Thick glass set in",
        "step",
        _RECALLED,
        _PRACTICE,
        Words(
            "{thick:.2f} mm thick.",
            "up to {fine:g} mm cooled in still air",
            "Thick glass is hot within when its skin is cold, and keeps the stress of that.",
            "Cool it slowly, in the closed kiln.",
        ),
        limit=Limit(2.0, None, "mm"),
        cases={
            "computed": Words(
                remedy="Cool it in the closed kiln from {high_c:.0f} to {low_c:.0f} °C over {minutes:.0f} min or more."
            )
        },
    ),
    Rule(
        "inset-misfit",
        "What is set in against its glass",
        "pair",
        "computed-here",
        "computed",
        Words(
            limit="{fine:g} MPa of tension around it, at most {care:.0f} for good",
            why="It contracts unlike the glass that holds it, and one of the two is stretched where they meet.",
            remedy="Set in a glass of nearer expansion, or keep it to dots and lines.",
            head_care="what is set in contracts unlike the glass that holds it",
        ),
        fine="The two contract nearly alike.",
        limit=Limit(5.0, _FOR_GOOD, "MPa"),
    ),
)
