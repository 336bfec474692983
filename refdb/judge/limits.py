"""Every threshold of a verdict, once, with its source and the reason in words.

A threshold is data here and nowhere else: rules, pages and help read it from this file.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limit:
    """A threshold: up to `fine` is good, up to `care` wants care, beyond does not suit.

    Values are in `unit`; `source` is a key of the sources; `words` is the limit as a verdict prints it.
    """

    key: str
    rule: str
    fine: float
    care: float
    unit: str
    source: str
    basis: str
    words: str
    why: str
    remedy: str


#: Annealed-glass strength 45 MPa (EN 572-1) times the duration factor of EN 16612 for permanent load, 0.29.
#: Float-glass figures without a material factor; bubbly enamel is weaker.
TENSION_LASTING = Limit(
    "tension-lasting",
    "Tension in the glass, finished",
    0.0,
    45.0 * 0.29,
    "MPa",
    "en-16612",
    "standard",
    "squeezed is good; stretched up to 13 MPa wants care",
    "Glass that stays stretched at a surface cracks in time, for damp air feeds every scratch. The figure is for "
    "sound float glass; bubbly enamel is weaker.",
    "Thicker metal, glass of the same thickness on both faces, or a glass of lower expansion.",
)

#: The same for a week on the shelf between two firings: 45 MPa times 0.663·168^(−1/16) = 0.481.
TENSION_BETWEEN = Limit(
    "tension-between",
    "Tension in the glass, between firings",
    0.0,
    45.0 * 0.481,
    "MPa",
    "en-16612",
    "standard",
    "squeezed is good; stretched up to 22 MPa for a week wants care",
    "While only one face carries glass the piece bends, and the free surface of the glass is stretched.",
    "Keep the first coat thin, coat the other face soon, or take thicker metal.",
)

GAP = Limit(
    "gap",
    "Contraction gap",
    4500.0,
    6000.0,
    "ppm",
    "trade-calibrated",
    "computed",
    "up to 4,500 ppm holds; up to 6,000 wants care",
    "Once the cooling glass has set, the metal shrinks more than it does and squeezes it. When that is too much "
    "the coat chips off at edges and curves. The limit is set so that pairs the trade knows fall on the right side.",
    "A glass of higher expansion, or a metal of lower.",
)

#: Kelvins kept between the kiln and the first melting of the metal.
SOLIDUS_MARGIN_K = 15.0
#: The hot end of the usual kiln [°C] (common practice): leaf whose contact with the metal melts below it is never laid
#: bare.
USUAL_KILN_HOT_C = 815.0
#: Firing this far beyond a glass's usual range is done, with care.
RANGE_MARGIN_K = 30.0

KILN = Limit(
    "kiln",
    "Kiln window",
    0.0,
    RANGE_MARGIN_K,
    "K",
    "common-practice",
    "common practice",
    f"from the low end of the glass's range to {SOLIDUS_MARGIN_K:.0f} K below the first melting of the metal",
    "The glass has to flow before the metal begins to melt or sag.",
    "A softer glass, or a metal that melts higher.",
)

#: Glass of one face against the metal, and of both faces together.
ONE_FACE_OF_METAL = Limit(
    "glass-of-metal",
    "Glass against metal",
    1.0,
    1.0,
    "of the metal's thickness",
    "common-practice",
    "common practice",
    "one coat no thicker than the metal; both together thicker than it wants care",
    "The thicker the glass against its metal, the less the metal can carry of what the glass does to it.",
    "Thinner coats, or thicker metal.",
)

#: Back over front, thinner over thicker: below this the faces are uneven.
FACES_ALIKE = Limit(
    "faces-alike",
    "Glass of both faces",
    0.7,
    0.0,
    "of the thicker face",
    "common-practice-guild",
    "common practice",
    "the thinner face at least 0.7 of the thicker",
    "Uneven faces pull unevenly: the piece bows, and the thin side ends up stretched.",
    "Bring both faces to about the same thickness.",
)

#: Metal thickness from which the trade leaves the back bare [mm]; what tension does on thinner metal is computed.
COUNTER_ALWAYS = Limit(
    "one-face",
    "One face only",
    1.3,
    1.3,
    "mm",
    "common-practice-suppliers",
    "common practice",
    "metal up to 1.0 mm always carries glass on both faces; flat metal from 1.3 mm may do without",
    "With glass on one face only the piece bows at every firing, and the glass cracks in time.",
    "Coat the back with glass of about the same thickness.",
)

LEAST_METAL = Limit(
    "least-metal",
    "Metal thickness",
    0.0,
    0.0,
    "mm",
    "common-practice",
    "common practice",
    "see the metal's own least thickness",
    "Thin metal bends with its glass and gets soft in the fire.",
    "Thicker metal; of clay, three cards or more before firing.",
)

SETTING = Limit(
    "setting",
    "Kiln setting",
    0.0,
    RANGE_MARGIN_K,
    "K",
    "common-practice",
    "common practice",
    f"inside the glass's range, up to {RANGE_MARGIN_K:.0f} K outside it with care, and "
    f"{SOLIDUS_MARGIN_K:.0f} K below the first melting of the metal",
    "Too cool, the glass does not wet the metal and chips later; too hot, it crawls, pits and loses its colour, or "
    "the metal melts under it.",
    "Set the kiln inside the kiln window shown with the numbers.",
)

CURVE_END = Limit(
    "curve-end",
    "Metal's expansion curve",
    0.0,
    0.0,
    "°C",
    "computed-here",
    "computed",
    "the set point within the metal's known curve",
    "The glass may set hotter than the metal's expansion is known, so the gap is told only up to there.",
    "A glass that sets lower.",
)

#: A coat between firings is left at most this long on one face, for the strength under load [h].
HOURS_BETWEEN_FIRINGS = 168.0
#: The first coat is sifted this thin unless told otherwise [m].
FIRST_COAT_M = 0.20e-3

#: What edges resist: plain glass on copper, and glass itself [J/m²]. Shown as a scale; never refuses.
RELEASE_SCALE = (2.0, 8.0)
RELEASE_SOURCE = "oh-1988"

#: Below this share of the sample no outcome is told.
LEAST_SHARE = 0.5
#: From this share of the sample on, a piece that holds is told to hold, though with how much care is open.
HOLDS_SHARE = 0.9

#: Rise of a dome where none is given [m]: value, low, high.
DOME_RISE_M = (2.0e-3, 1.0e-3, 3.0e-3)
#: Share of the upper bound of a dome's restraint that acts: value, low, high. Its rim bends freely, and its
#: own metal yields, so it lies anywhere between none and all.
DOME_GRIP = (0.5, 0.05, 0.95)
DOME_SOURCE = "from-memory"

#: Layered pieces. A clear over leaf covers at least this share of the face, and varies no more than by this factor.
FULL_COVERAGE, EVEN_COAT = 0.98, 1.6
#: Fires that thin silver on copper takes (common practice of enamellers' associations).
SILVER_LEAF_FIRES = 4
#: More fires than this want care; a fire longer than this warps the metal [min].
MANY_FIRES, LONG_FIRE_MIN = 10, 5.0
#: A solder that flows below this is soft [°C]; a join's solidus lies this far above the kiln [K].
SOFT_SOLDER_C, SOLDER_MARGIN_K = 450.0, 30.0

#: One sifted coat once fired, thinnest and thickest [m]; a coat that covers another colour; metal foil from which gas
#: finds no way out (common practice).
SIFTED_COAT_M, COVERS_M, PRICKED_FROM_M = (0.10e-3, 0.20e-3), 0.12e-3, 5e-6
#: A back is softer when the middle of its kiln range lies this much lower [K]; fires that a colour stands which burns
#: out; how many times its longest time to gloss a fire may last.
SOFTER_K, COLOUR_FIRES, TOO_LONG = 15.0, 2, 2.0

SURFACE_TENSION = Limit(
    "surface-tension",
    "Surface tension of two coats",
    10.0,
    10.0,
    "mN/m",
    "computed-here",
    "computed",
    "the coat above at most 10 mN/m higher, where the two are known apart",
    "The coat beneath, of lower surface tension, spreads over the coat above wherever it reaches a gap, and the coat "
    "above draws back into beads.",
    "Turn the two around, or take glasses of one family.",
)

PULL_THROUGH = Limit(
    "pull-through",
    "Coat beneath coming up",
    0.6,
    3.0,
    "of its own gloss dose",
    "trade-calibrated",
    "computed",
    "the coat beneath gets at most 0.6 of its own gloss dose; beyond 3 it comes through",
    "A coat beneath that flows as readily as the one above rises through it in spots while the grains close.",
    "A softer glass above, a harder one beneath, or a shorter fire.",
)

#: A single expansion typed with a question is taken to be good to this, either way (from memory: dilatometer and
#: batch together) [ppm/K].
OWN_EXPANSION_PPM_PER_K = 0.3

EVIDENCE_SOURCE = "common-practice"
ALL_LIMITS = (
    PULL_THROUGH,
    SURFACE_TENSION,
    TENSION_LASTING,
    TENSION_BETWEEN,
    GAP,
    KILN,
    SETTING,
    CURVE_END,
    ONE_FACE_OF_METAL,
    FACES_ALIKE,
    COUNTER_ALWAYS,
    LEAST_METAL,
)
BY_KEY = {limit.key: limit for limit in ALL_LIMITS}
