"""Margins, usual sizes and assumptions of the judge; thresholds of rules stand in `judge.rules`."""

from __future__ import annotations

#: Kelvins kept between the kiln and the first melting of the metal.
SOLIDUS_MARGIN_K = 15.0
#: The hot end of the usual kiln [°C] (common practice): leaf whose contact with the metal melts below it is never laid
#: bare.
USUAL_KILN_HOT_C = 815.0
#: Firing this far beyond a glass's usual range is done, with care.
RANGE_MARGIN_K = 30.0

#: Nothing at a jeweller's bench is thinner than this metal, nor thicker than that, glass or metal [m].
THINNEST_METAL_M, THICKEST_M = 0.02e-3, 20e-3
#: The first coat is sifted this thin unless told otherwise [m].
FIRST_COAT_M = 0.20e-3
#: One sifted coat once fired, thinnest and thickest [m] (common practice).
SIFTED_COAT_M = (0.10e-3, 0.20e-3)

#: A coat of at most this share of a face is a spot; more of it is a field (a judgement).
SPOT_COVERS = 0.10

#: What edges resist: plain glass on copper, and glass itself [J/m²]. Shown as a scale; never refuses.
RELEASE_SCALE = (2.0, 8.0)
RELEASE_SOURCE = "oh-1988"

#: Shares of the draws that do not hold: below the first it holds, below the second it holds with that risk, below the
#: third it is not told, and from there on it does not suit.
HOLDS_BELOW, RISK_BELOW, REFUSED_FROM = 0.10, 0.35, 0.65

#: Rise of a dome where none is given [m]: value, low, high.
DOME_RISE_M = (2.0e-3, 1.0e-3, 3.0e-3)
#: Half the width of a dome whose size is not asked about [m]: value, low, high (from memory: earring to brooch).
DOME_RADIUS_M = (15.0e-3, 8.0e-3, 30.0e-3)
#: Share of the upper bound of a dome's restraint that acts: value, low, high. Its rim bends freely, and its
#: own metal yields, so it lies anywhere between none and all.
DOME_GRIP = (0.5, 0.05, 0.95)
DOME_SOURCE = "from-memory"

#: A single expansion typed with a question is taken to be good to this, either way (from memory: dilatometer and
#: batch together) [ppm/K].
OWN_EXPANSION_PPM_PER_K = 0.3

#: Strength of a fresh fire-polished coat of some cm² under a short load: median, low, high [MPa]. Float's 45 MPa
#: (EN 572-1) is a 5 % fractile of large handled panes. Published means of small strips and discs: scratched, cut or
#: ground glass 48-66, fire-finished 88-127 and once 210, float 114 where rollers touched it and 243 where nothing did.
#: No enamel was among them; its bubbles and dust are flaws that no fire heals, so that the median is our judgement,
#: between glass with flaws and without.
STRENGTH_MPA = (75.0, 45.0, 125.0)
STRENGTH_SOURCE = "holland-turner-1934"
#: How much more a narrow ring at a rim bears than a whole coat: median, low, high [-]. Fire-finished strips 0.4 cm wide
#: bore 1.44 times what strips of about 1 cm did; a ring of half a millimetre is a tenth of a coat or less.
RING_STRONGER = (1.44, 1.2, 1.9)
RING_SOURCE = "holland-turner-1936"
#: A coat waits this long between two firings where nothing is said [h], and a finished piece for good [h].
HOURS_BETWEEN_FIRINGS, HOURS_FOR_GOOD = 24.0, 50 * 365.25 * 24
#: How much more a cooling glass contracts down from its set point than a straight line through 20-400 °C tells, since
#: between its transition and its set point it contracts like a liquid: value, low, high [-]. Computed with a relaxation
#: model against a set point 20 K above the transition: with a liquid of 2.2-3.2 times the glass, stress that relaxes
#: 1-9 times as fast as structure and 1-10 K/s, coats on copper, silver and steel need 0.033-0.116, in the middle 0.057.
#: None for a figure that a bent strip or tiles gave, which is effective already.
TRANSITION_CONTRACTION = (0.06, 0.03, 0.12)
POOL_SOURCE = "pooled-tiles"
EFFECTIVE_SOURCES = ("own-test", POOL_SOURCE)
#: How far the rim of a dome, which bends freely, goes beyond the stress of a flat piece along its meridian, as a part
#: of what full restraint would take away: value, low, high [-]. Computed with finite elements, beyond a wall thickness
#: from the edge: fine silver of 0.3 and 0.5 mm that yields, 0.2 mm of glass, radius 15 mm, rise 1-5 mm, either face.
RIM_BEYOND = (0.08, 0.02, 0.13)
#: How much of that bending the rim follows around, where it stretches besides as a hoop: value, low, high [-]. Computed
#: with finite elements as stands at `rim_hoop_pa`, and as wide as what its closed form misses.
RIM_FOLLOWED = (0.73, 0.43, 0.91)
#: Energy that a coat releases as it throws itself off: from where it wants care and where it surely goes, each with
#: low and high [J/m²] (trade-calibrated).
RELEASE_CARE_J_M2, RELEASE_NOT_J_M2 = (225.0, 150.0, 300.0), (450.0, 400.0, 500.0)
#: No kiln of a studio is taken to be hotter than this [°C] unless it is said (common practice).
KILN_MOST_C = 950.0
#: Glass in all, both faces together, beyond which a piece has to cool slowly [m] (computed: in still air its surface is
#: stretched there by some megapascals more than a thin coat's; a judgement).
THICK_GLASS_M = 1.5e-3
#: What uneven cooling may stretch glass by [MPa] (from memory: a plate of 6 mm is brought down in about an hour).
COOLING_STRESS_MPA = 1.0
#: Where slow cooling begins over a glass's set point, and ends under it [K]: the set point is that of a coat that cools
#: fast, and slow glass stiffens lower (from memory).
COOLING_ABOVE_K, COOLING_BELOW_K = 20.0, 80.0
#: Heat conductivity of glass [W/(m·K)] and its heat for a volume [J/(m³·K)] (from memory, to a fifth).
GLASS_HEAT = (1.1, 2.2e6)
#: A piece wider than this cools slowly too, for so many minutes at least (from memory: practice differs widely).
LARGE_PIECE_M, LARGE_COOLING_MIN = 0.15, 10
