"""Rules of fit: whether glass, metal, thickness and heat go together; every draw of a sample is held against them."""

from __future__ import annotations

from refdb.judge.limits import (
    HOURS_BETWEEN_FIRINGS,
    HOURS_FOR_GOOD,
    RANGE_MARGIN_K,
    RELEASE_CARE_J_M2,
    RELEASE_NOT_J_M2,
    SOLIDUS_MARGIN_K,
    STRENGTH_MPA,
)
from refdb.judge.rules.typed import Limit, Rule, Words
from refdb.science.plate.duration import duration_factor

_MARGINS = f"up to {RANGE_MARGIN_K:.0f} K outside"
#: What the tension rules say where the glass shrinks more than the metal: then no build helps, only another pair.
_PULLED = Words(
    why="The glass shrinks more than the metal as both cool, and ends up stretched wherever it lies.",
    remedy="A glass of lower expansion, or a metal of higher.",
    head_care="the glass shrinks more than the metal and may end up stretched",
    head_not="the glass shrinks more than the metal, is stretched and will crack",
)
#: What they say where a dome carries glass on its hollow face alone.
_RIM = Words(
    why="A dome that carries glass on its hollow face alone bends as it cools; its rim widens and stretches the glass "
    "around.",
    remedy="Coat the domed face first, or both faces in one fire; or keep the first coat thin.",
    head_care="glass on the hollow face alone may be stretched around the rim",
    head_not="glass on the hollow face alone is stretched around the rim far enough to crack",
)
#: Median strength while a load lasts for good, and while a coat waits for the next fire [MPa].
_FOR_GOOD, _BETWEEN = (STRENGTH_MPA[0] * duration_factor(h) for h in (HOURS_FOR_GOOD, HOURS_BETWEEN_FIRINGS))

RULES = (
    Rule(
        "tension-lasting",
        "Tension in the glass, finished",
        "firing",
        "en-16612",
        "standard",
        Words(
            limit="squeezed is good; stretched up to its strength, {strength:.0f} MPa, wants care",
            why="Glass that stays stretched at a surface cracks in time, for damp air feeds every scratch. "
            "Bubbly enamel is weaker.",
            remedy="Thicker metal, glass of the same thickness on both faces, or a glass of lower expansion.",
            head_care="finished, the glass may end up stretched at a surface",
            head_not="finished, the glass is stretched and will crack",
        ),
        fine="Squeezed glass does not crack by itself; it takes a knock to start one.",
        limit_plainly="squeezed is good; stretched up to its strength, about {care:.0f} MPa, wants care",
        limit=Limit(0.0, _FOR_GOOD, "MPa"),
        cases={"pulled": _PULLED, "rim": _RIM},
        of_question=True,
    ),
    Rule(
        "tension-between",
        "Tension in the glass, between firings",
        "firing",
        "en-16612",
        "standard",
        Words(
            limit="squeezed is good; stretched up to its strength, {strength:.0f} MPa, wants care",
            why="While only one face carries glass the piece bends, and the free surface of the glass is stretched.",
            remedy="Keep the first coat thin, coat the other face soon, or take thicker metal.",
            head_care="between firings the free face of the first coat may be stretched",
            head_not="the first coat alone on one face is stretched far enough to crack",
        ),
        fine="The coat is safe to leave as it is until the next fire.",
        limit_plainly="squeezed is good; stretched up to its strength, about {care:.0f} MPa, wants care",
        limit=Limit(0.0, _BETWEEN, "MPa"),
        cases={"pulled": _PULLED, "rim": _RIM},
        of_question=True,
    ),
    Rule(
        "gap",
        "Contraction gap",
        "glass",
        "trade-calibrated",
        "computed",
        Words(
            limit="up to {fine:,.0f} ppm holds; up to {care:,.0f} wants care",
            why="Once the cooling glass has set, the metal shrinks more than it does and squeezes it. When that is too "
            "much the coat chips off at edges and curves. The limit is set so that pairs the trade knows fall on the "
            "right side.",
            remedy="A glass of higher expansion, or a metal of lower.",
            head_care="the metal shrinks a good deal more than the glass",
            head_not="the metal shrinks so much more than the glass that the coat chips off",
        ),
        fine="The metal does not shrink so much more than the glass that the coat lifts.",
        cases={
            "spot": Words(
                limit="up to {fine:,.0f} ppm holds; a spot wants care beyond",
                why="It is only a spot, too small to throw a whole coat off from the edge, but it may crack or spring "
                "off by itself.",
                remedy="Keep the spot thin, or take a glass nearer to the one around it.",
                head_care="the metal shrinks a good deal more than the glass of a spot",
            )
        },
        # Pairs of data_sources/known_pairs.csv that say so in their column were used to set these, with the contraction
        # of the glass between its transition and its set point counted.
        limit=Limit(4150.0, 4700.0, "ppm"),
        of_question=True,
        subject=", {glass}",
    ),
    Rule(
        "gap-narrow",
        "Least contraction gap",
        "glass",
        "trade-calibrated",
        "computed",
        Words(
            limit="at least {fine:,.0f} ppm, so that something squeezes the glass",
            why="The glass shrinks nearly as much as the metal: nothing squeezes it, and the smallest error stretches "
            "it.",
            remedy="A glass of lower expansion, or a metal of higher.",
            head_care="the glass shrinks nearly as much as the metal, so that nothing squeezes it",
        ),
        cases={
            "spot": Words(
                why="It is only a spot, but nothing squeezes it: it may craze by itself inside a sound coat.",
                head_care="the glass of a spot shrinks nearly as much as the metal, so that nothing squeezes it",
            )
        },
        fine="The metal shrinks enough more than the glass to squeeze it.",
        limit=Limit(300.0, None, "ppm", falling=True),
        of_question=True,
        fault_key="gap",
        subject=", {glass}",
    ),
    Rule(
        "release",
        "Energy at the edge",
        "piece",
        "trade-calibrated",
        "computed",
        Words(
            limit="care from about {fine:.0f} J/m² on; from about {care:.0f} a coat flies off",
            why="What is stored in a thick coat that is squeezed hard is set free where it ends: it shells off at the "
            "edge, whatever the gap.",
            remedy="Thinner coats, thinner metal, or a glass that shrinks more like the metal.",
            head_care="so much energy is stored that the coat may shell off at its edge",
            head_not="so much energy is stored that the coat throws itself off at its edge",
        ),
        fine="What an edge sets free is too little to throw the coat off.",
        limit=Limit(RELEASE_CARE_J_M2[0], RELEASE_NOT_J_M2[0], "J/m²"),
        of_question=True,
        fault_key="gap",
    ),
    Rule(
        "kiln",
        "Kiln window",
        "metal",
        "common-practice",
        "common practice",
        Words(
            found="{low_c:.0f} to {high_c:.0f} °C",
            limit=f"from the low end of the glass's range to {SOLIDUS_MARGIN_K:.0f} K below the first melting of the "
            "metal",
            why="The glass has to flow before the metal begins to melt or sag.",
            remedy="A softer glass, or a metal that melts higher.",
            head_care="the melting of the metal narrows the kiln window",
            head_not="the metal begins to melt before the glass flows",
        ),
        fine="The glass flows well before the metal begins to melt.",
        limit=Limit(0.0, 0.0, "K", falling=True),
        cases={
            "none": Words(found="glass from {low_c:.0f} °C, metal to {high_c:.0f} °C"),
            "beyond": Words(
                found="glass from {low_c:.0f} °C; the kiln is taken to reach {most_c:.0f} °C",
                why="The glass flows only hotter than a studio kiln goes.",
                remedy="A softer glass, or a kiln that is hotter.",
                head_care="the glass may flow only hotter than a studio kiln goes",
                head_not="the glass flows only hotter than a studio kiln goes",
            ),
        },
        of_question=True,
    ),
    Rule(
        "setting",
        "Kiln setting",
        "firing",
        "common-practice",
        "common practice",
        Words(
            found="{heat:set} for {glass}",
            limit="{low_c:.0f} to {high_c:.0f} °C; " + _MARGINS + " wants care",
            why="Too cool, the glass does not wet the metal and chips later; too hot, it crawls, pits and loses its "
            "colour.",
            remedy="Set the kiln inside the glass's range.",
            head_care="the kiln is set a little outside the glass's range",
            head_not="the kiln is set where this cannot work",
        ),
        fine="The glass flows at this setting.",
        limit_plainly="inside the glass's range; up to {care:.0f} K outside wants care",
        limit=Limit(0.0, RANGE_MARGIN_K, "K"),
        cases={"hot": Words(), "cool": Words()},
        of_question=True,
        fault_keys={"hot": "kiln-hot", "cool": "kiln-cool"},
    ),
    Rule(
        "setting-again",
        "Kiln setting for what is fused",
        "firing",
        "common-practice",
        "common practice",
        Words(
            found="{heat:set} for {glass}",
            limit="up to {high_c:.0f} °C",
            why="Glass that is fused already only has to stand the heat; too hot, it crawls, pits and loses its "
            "colour.",
            remedy="Set the kiln inside the glass's range.",
            head_care="the kiln is set hotter than what is fused already stands",
        ),
        fine="What is already fused stands this heat.",
        limit_plainly="up to the hot end of the range of every glass that is fused already",
        limit=Limit(0.0, None, "K"),
        fault_key="kiln-hot",
    ),
    Rule(
        "metal-melts",
        "Metal in the fire",
        "firing",
        "common-practice",
        "common practice",
        Words(
            found="{heat:set}; this metal is safe to {safe_c:.0f} °C",
            limit=f"{SOLIDUS_MARGIN_K:.0f} K below its first melting",
            why="Where the metal begins to melt it sags, and takes its glass along.",
            remedy="A cooler fire and a softer glass, or a metal that melts higher.",
            head_care="the fire is close to the melting of the metal",
            head_not="the metal begins to melt in the fire",
        ),
        fine="The metal stays well below its melting.",
        limit=Limit(-SOLIDUS_MARGIN_K, -SOLIDUS_MARGIN_K, "K"),
        of_question=True,
        fault_key="kiln",
    ),
    Rule(
        "curve-end",
        "Metal's expansion curve",
        "glass",
        "computed-here",
        "computed",
        Words(
            limit="the set point within the metal's known curve",
            why="The glass may set hotter than the metal's expansion is known, so the gap is told only up to there.",
            remedy="A glass that sets lower.",
            head_care="the metal's expansion is not known up to where the glass sets",
        ),
        fine="The metal's expansion is known up to where the glass sets.",
        limit=Limit(0.0, None, "°C"),
        of_question=True,
    ),
    Rule(
        "glass-of-metal",
        "Glass against metal",
        "piece",
        "common-practice",
        "common practice",
        Words(
            limit="no coat thicker than metal but in cells; care if both are",
            why="The thicker the glass against its metal, the less the metal can carry of what the glass does to it.",
            remedy="Thinner coats, or thicker metal.",
            head_care="both coats together are thicker than the metal",
            head_not="one coat is thicker than the metal",
        ),
        fine="There is metal enough to carry this much glass.",
        limit=Limit(1.0, 1.0, "of the metal's thickness"),
        of_question=True,
    ),
    Rule(
        "faces-alike",
        "Glass of both faces",
        "piece",
        "common-practice-guild",
        "common practice",
        Words(
            limit="the thinner face at least {fine:g} of the thicker",
            why="Uneven faces pull unevenly: the piece bows, and the thin side ends up stretched.",
            remedy="Bring both faces to about the same thickness.",
            head_care="the two faces carry unlike amounts of glass",
        ),
        fine="Both faces pull alike, so the piece stays flat.",
        limit=Limit(0.7, None, "of the thicker face", falling=True),
        of_question=True,
    ),
    # From here on the trade leaves the back bare; what tension does on thinner metal is computed.
    Rule(
        "one-face",
        "One face only",
        "piece",
        "common-practice-suppliers",
        "common practice",
        Words(
            limit="metal up to 1.0 mm always carries glass on both faces; from {fine:g} mm it may do without",
            why="With glass on one face only the piece bows at every firing, and the glass cracks in time.",
            remedy="Coat the back with glass of about the same thickness.",
            head_care="only one face carries glass",
        ),
        fine="Metal this thick resists bending by glass on one face.",
        limit=Limit(1.3, None, "mm", falling=True),
        of_question=True,
    ),
    Rule(
        "least-metal",
        "Metal thickness",
        "metal",
        "common-practice",
        "common practice",
        Words(
            limit="at least {least_mm:.2f} mm for this metal",
            why="Thin metal bends with its glass and gets soft in the fire.",
            remedy="Thicker metal; of clay, three cards or more before firing.",
            head_care="the metal is thinner than the trade uses for glass",
        ),
        fine="The metal is thick enough for an enamel base.",
        limit_plainly="at least the metal's own least thickness",
        limit=Limit(0.0, None, "mm", falling=True),
        cause=True,
        of_question=True,
    ),
)
