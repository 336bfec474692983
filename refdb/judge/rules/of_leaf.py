"""Rules of leaf, of line work, and of one coat rising through another."""

from __future__ import annotations

from refdb.judge.limits import SOLIDUS_MARGIN_K, USUAL_KILN_HOT_C
from refdb.judge.rules.typed import Limit, Rule, Words

_TRADE, _PRACTICE = "common-practice", "common practice"
#: A clear over leaf, and a first coat on metal that scales, cover at least this share of the face.
FULL_COVERAGE = 0.98
#: A coat varies no more than by this factor, thickest place over thinnest.
EVEN_COAT = 1.6

_FLOW_UNKNOWN = Words(
    "How {under} under {glass} flow against each other is not known at this heat.",
    head_care="how {under} under {glass} flow against each other is not known at this heat",
)

RULES = (
    Rule(
        "leaf-in-fire",
        "Leaf in the fire",
        "leaf",
        _TRADE,
        _PRACTICE,
        Words("{Leaf}.", "a leaf that stands the fire", "{leaf.why}", "{leaf.handling}"),
        cases={"no-handling": Words(remedy="Take fine gold or fine silver.")},
    ),
    Rule(
        "leaf-on-powder",
        "Leaf on fused glass",
        "leaf",
        _TRADE,
        _PRACTICE,
        Words(
            "The glass beneath is still powder.",
            "fused glass beneath",
            "Powder sinks and gasses under the leaf and tears it.",
            "Fire the coat beneath first.",
        ),
    ),
    Rule(
        "leaf-on-metal",
        "Leaf on bare metal",
        "leaf",
        _TRADE,
        _PRACTICE,
        Words(
            "{Leaf} on bare {metal} first melts at {melts_c:.0f} °C{heat:in}.",
            "fused glass between leaf and metal",
            "The fire stays below that, but nothing holds the leaf flat and glass takes badly over it.",
            "Fuse a coat of glass first; the leaf goes on the glass.",
        ),
        limit=Limit(USUAL_KILN_HOT_C, USUAL_KILN_HOT_C, "°C", falling=True),
        cases={
            "unknown": Words(
                "{Leaf} on bare {metal}: where the two first melt is not known.",
                why="Two metals in contact can melt far below either.",
            ),
            "melts": Words(
                limit="no fire above {safe_c:.0f} °C while they touch",
                why="Where two metals touch they form an alloy that melts below both, and the leaf sinks in.",
            ),
            "within-reach": Words(
                limit="fused glass between leaf and metal, whatever the kiln is set to",
                why="No fire here is that hot, but kilns for enamel are, and a little more heat in "
                "one corner melts the leaf into the metal.",
            ),
        },
    ),
    Rule(
        "leaf-left-bare",
        "Leaf left bare",
        "leaf",
        _TRADE,
        _PRACTICE,
        Words(
            "Nothing covers {leaf}.",
            "a clear over the whole leaf",
            "Bare leaf rubs off, darkens, and takes no drawing.",
            "Cover it with an even coat of clear.",
        ),
    ),
    Rule(
        "leaf-hidden",
        "Leaf hidden",
        "leaf",
        _TRADE,
        _PRACTICE,
        Words(
            "{Glass} hides the leaf.",
            "a transparent over the leaf",
            "The leaf is there to shine through.",
            "Cover it with a clear or a transparent colour.",
        ),
    ),
    Rule(
        "leaf-part-covered",
        "Clear over the whole face",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The first coat over the leaf covers {coverage:.0%}.",
            "one even coat over the whole face",
            "At the edge of a part coat the leaf lifts, and the glass is stretched.",
            "Carry the clear over the whole face.",
        ),
        limit=Limit(FULL_COVERAGE, None, "of the face", falling=True),
    ),
    Rule(
        "leaf-uneven-cover",
        "An even coat over leaf",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The coat varies from {low_mm:.2f} to {high_mm:.2f} mm.",
            "one even coat over the whole face",
            "Thin spots let the leaf gas and tear through.",
            "Sift it evenly.",
        ),
        limit=Limit(EVEN_COAT, None, "of the thinnest place"),
    ),
    Rule(
        "leaf-unwashed-cover",
        "Clarity over leaf",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The clear over the leaf is not washed.",
            "washed until the water is clear",
            "Fines fill the coat with bubbles too small to see singly: a grey veil over the shine.",
            "Wash the powder until the water runs clear.",
        ),
    ),
    Rule(
        "leaf-melts",
        "Leaf melts",
        "firing",
        _TRADE,
        _PRACTICE,
        Words(
            "{Leaf} begins to melt at {melts_c:.0f} °C{heat:in}.",
            f"at least {SOLIDUS_MARGIN_K:.0f} K below that",
            "Molten leaf draws into beads and stains the glass.",
            "A cooler fire, or another leaf.",
        ),
        limit=Limit(-SOLIDUS_MARGIN_K, -SOLIDUS_MARGIN_K, "K"),
    ),
    # Common practice of enamellers' associations.
    Rule(
        "leaf-many-fires",
        "Silver leaf on copper",
        "leaf",
        "common-practice-guild",
        _PRACTICE,
        Words(
            "{fires} fires after the leaf is laid.",
            "at most {fine:g}",
            "Copper grows a little in every fire and stretches thin silver until it breaks up.",
            "Thicker foil, or fewer fires.",
        ),
        limit=Limit(4, None, "fires"),
    ),
    # Leaf thinner than this lets gas through by itself.
    Rule(
        "foil-unpricked",
        "Foil pricked",
        "leaf",
        "chapin-1911",
        _PRACTICE,
        Words(
            "{Leaf} is laid whole.",
            "foil pricked all over",
            "Gas under the foil has no way out and lifts it in blisters.",
            "Prick it all over, 2 to 5 mm apart.",
        ),
        limit=Limit(5.0, None, "µm"),
    ),
    Rule(
        "line-on-leaf",
        "Line work on bare leaf",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The drawing goes straight on the leaf.",
            "a fused clear between leaf and drawing",
            "Drawing colour holds to glass, not to metal: it scrapes off bare leaf.",
            "Fuse a clear over the leaf, then draw.",
        ),
    ),
    Rule(
        "line-covered",
        "Line work covered",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "{Glass} hides the drawing.",
            "line work last, or under a softer clear",
            "An opaque covers it, an opal clouds it.",
            "Draw last, or cover with a clear.",
        ),
    ),
    Rule(
        "pull-through",
        "Coat beneath coming up",
        "pair",
        "trade-calibrated",
        "computed",
        Words(
            limit="the coat beneath gets at most {fine:g} of its own gloss dose; beyond {care:g} it comes through",
            why="A coat beneath that flows as readily as the one above rises through it in spots while the grains "
            "close.{flow}",
            remedy="A softer glass above, a harder one beneath, or a shorter fire.",
            head_care="{under} may come up through {glass}",
            head_not="{under} comes up through {glass}",
        ),
        fine="The coat beneath stays stiff while the one above flows.{flow}",
        limit=Limit(0.6, 3.0, "of its own gloss dose"),
        cases={"unknown": _FLOW_UNKNOWN},
        subject=": {under} under {glass}",
    ),
    # A bed that moves tears the leaf, which the leaf's own strength may yet hold together: it never refuses.
    Rule(
        "leaf-bed",
        "Bed under the leaf",
        "pair",
        "trade-calibrated",
        "computed",
        Words(
            limit="the bed gets at most {fine:g} of its own gloss dose",
            why="A bed that flows as readily as the clear above it moves, and tears the leaf or lets it wander.{flow}",
            remedy="A softer glass above, a harder one beneath, or a shorter fire.",
            head_care="the bed under the leaf, {under}, flows as readily as {glass} above it",
        ),
        fine="The coat beneath stays stiff while the one above flows.{flow}",
        limit=Limit(0.6, None, "of its own gloss dose"),
        cases={"unknown": _FLOW_UNKNOWN},
        subject=": {under} under {glass}",
    ),
    Rule(
        "surface-tension",
        "Surface tension of two coats",
        "pair",
        "computed-here",
        "computed",
        Words(
            limit="the coat above at most {fine:.0f} mN/m higher, as computed; a difference is known to about 30",
            why="The coat beneath, of lower surface tension, may spread over the coat above wherever it reaches a gap, "
            "and the coat above may draw back into beads. Of pairs computed to be 10 to 20 mN/m apart, six in ten "
            "were measured so far apart.",
            remedy="Turn the two around, or take glasses of one family.",
            head_care="{glass} may draw back into beads over {under}",
        ),
        limit=Limit(10.0, None, "mN/m"),
        subject=": {glass} over {under}",
    ),
    Rule(
        "lead-order",
        "Leaded over lead-free only",
        "pair",
        _TRADE,
        _PRACTICE,
        Words(
            "{Glass} lies over {under}, which holds lead.",
            "leaded glass goes over lead-free, never under",
            "The leaded glass is softer and denser: it works up through the coat above and crazes it.",
            "Turn the two around, or keep to one family.",
        ),
        cases={"unknown": Words("{Glass} lies over {under}, which may hold lead.")},
    ),
)
