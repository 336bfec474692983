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

#: A single expansion typed with a question is taken to be good to this, either way (from memory: dilatometer and
#: batch together) [ppm/K].
OWN_EXPANSION_PPM_PER_K = 0.3
