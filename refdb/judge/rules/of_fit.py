"""Rules of fit: whether glass, metal, thickness and heat go together; every draw of a sample is held against them."""

from __future__ import annotations

from refdb.judge.limits import RANGE_MARGIN_K, SOLIDUS_MARGIN_K
from refdb.judge.rules.typed import Limit, Rule, Words

_MARGINS = f"up to {RANGE_MARGIN_K:.0f} K outside"
#: What an expansion rests on that is no figure of its own, by the basis of its row.
_WEAK = {
    "analogue": "figures of similar glasses, not of enamels for this metal",
    "common practice": "common practice, no measurement",
    "from memory": "recalled, no source in hand",
    "no evidence": "no published figure; taken from related glasses",
    "taken": "no figure of its own is known; that of {like} stands in",
}
#: What the tension rules say where the glass shrinks more than the metal: then no build helps, only another pair.
_PULLED = Words(
    why="The glass shrinks more than the metal as both cool, and ends up stretched wherever it lies.",
    remedy="A glass of lower expansion, or a metal of higher.",
    head_care="the glass shrinks more than the metal and may end up stretched",
    head_not="the glass shrinks more than the metal, is stretched and will crack",
)
#: Strength of annealed float glass, a 5 % fractile (EN 572-1) [MPa].
FLOAT_STRENGTH_MPA = 45.0
#: Duration factors of EN 16612: 0.663·t^(−1/16), for a load that lasts, and for a week (t = 168 h) between firings.
LASTING, A_WEEK = 0.29, 0.481

RULES = (
    # Float-glass figures without a material factor; bubbly enamel is weaker.
    Rule(
        "tension-lasting",
        "Tension in the glass, finished",
        "firing",
        "en-16612",
        "standard",
        Words(
            limit="squeezed is good; stretched up to {care:.0f} MPa wants care",
            why="Glass that stays stretched at a surface cracks in time, for damp air feeds every scratch. The figure "
            "is for sound float glass; bubbly enamel is weaker.",
            remedy="Thicker metal, glass of the same thickness on both faces, or a glass of lower expansion.",
            head_care="finished, the glass may end up stretched at a surface",
            head_not="finished, the glass is stretched and will crack",
        ),
        fine="Squeezed glass does not crack by itself; it takes a knock to start one.",
        limit=Limit(0.0, FLOAT_STRENGTH_MPA * LASTING, "MPa"),
        cases={"pulled": _PULLED},
        of_question=True,
    ),
    Rule(
        "tension-between",
        "Tension in the glass, between firings",
        "firing",
        "en-16612",
        "standard",
        Words(
            limit="squeezed is good; stretched up to {care:.0f} MPa for a week wants care",
            why="While only one face carries glass the piece bends, and the free surface of the glass is stretched.",
            remedy="Keep the first coat thin, coat the other face soon, or take thicker metal.",
            head_care="between firings the free face of the first coat may be stretched",
            head_not="the first coat alone on one face is stretched far enough to crack",
        ),
        fine="The coat is safe to leave as it is until the next fire.",
        limit=Limit(0.0, FLOAT_STRENGTH_MPA * A_WEEK, "MPa"),
        cases={"pulled": _PULLED},
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
        limit=Limit(4500.0, 6000.0, "ppm"),
        of_question=True,
        subject=", {glass}",
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
        cases={"none": Words(found="glass from {low_c:.0f} °C, metal to {high_c:.0f} °C")},
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
            limit="one coat no thicker than the metal; both together thicker than it wants care",
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
        of_question=True,
    ),
    Rule(
        "evidence-glass",
        "Evidence for the expansion",
        "glass",
        "common-practice",
        "common practice",
        Words(
            found="{Glass}",
            limit="a measured or published figure for a plain suits",
            why="Glasses of one class and hardness differ by 3 ppm/K and more; hardness does not tell expansion.",
            remedy="The maker's figure, kept with your own jar, or a strip test of it.",
            head_care="the expansion of {glass} is an estimate from others like it, not a measurement",
        ),
        fine="A computed expansion is the weakest input here.",
        cases={case: Words("{Glass}: " + told) for case, told in _WEAK.items()}
        | {
            "computed": Words(
                "Computed from the composition, not measured: {expansion:.1f} ppm/K, nine glasses in ten between "
                "{low:.1f} and {high:.1f}",
                limit="none, since the whole band is in the sample",
            )
        },
        of_question=True,
        fault_key="evidence",
    ),
    Rule(
        "evidence-metal",
        "Evidence for the expansion",
        "metal",
        "common-practice",
        "common practice",
        Words(
            found="{Metal}",
            limit="a measured or published figure for a plain suits",
            why="What squeezes the glass is the small difference of two expansions, so a guess of one goes a long way.",
            remedy="A measured expansion of this alloy.",
            head_care="the expansion of {metal} is an estimate, not a measurement",
        ),
        cases={case: Words("{Metal}: " + told) for case, told in _WEAK.items()},
        of_question=True,
        fault_key="evidence",
    ),
)
