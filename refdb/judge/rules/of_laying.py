"""Rules of laying and firing a coat: dry, washed, even, neither too thin nor too thick, long enough in the fire."""

from __future__ import annotations

from refdb.judge.limits import SIFTED_COAT_M
from refdb.judge.rules.of_leaf import EVEN_COAT, FULL_COVERAGE
from refdb.judge.rules.typed import Limit, Rule, Words

_TRADE, _PRACTICE = "common-practice", "common practice"
_GUILD, _SUPPLIERS = "common-practice-guild", "common-practice-suppliers"
_ONE_COAT_MM, _FULL_COAT_MM = (x * 1e3 for x in SIFTED_COAT_M)

RULES = (
    Rule(
        "past-gloss",
        "Long fire",
        "firing",
        "computed-here",
        "computed",
        Words(
            limit="{Glass} shines within {gloss_min:.1f} min{basis}; up to twice that",
            why="Long past its gloss a coat crawls, pits and takes up oxide, and what lies beneath comes up.",
            remedy="Take it out when it shines.",
            head_care="long fire",
        ),
        limit_plainly="up to {fine:g} times the minutes within which its glass shines",
        limit=Limit(2.0, None, "min"),
        fault_key="long-fire",
    ),
    Rule(
        "short-fire",
        "Minutes in the fire",
        "firing",
        "computed-here",
        "computed",
        Words(
            limit="{Glass} shines after {gloss_min:.1f} min at the earliest{basis}",
            why="Taken out before it shines it is bumpy and full of bubbles, does not clear its oxide, and holds "
            "badly to the metal.",
            remedy="Leave it in until it shines.",
            head_care="too few minutes in the fire",
        ),
        limit_plainly="until its glass shines at the earliest",
        limit=Limit(1.0, None, "min", falling=True),
    ),
    Rule(
        "damp-coat",
        "Dry before the fire",
        "step",
        "fisher-1904",
        _PRACTICE,
        Words(
            "The file says that it goes into the kiln damp.",
            "no vapour at the kiln mouth",
            "Water boils in the kiln: it throws grains off, leaves bubbles and blisters, and its steam oxidises the "
            "metal beneath.",
            "Dry it until no vapour rises at the kiln mouth.",
        ),
    ),
    Rule(
        "unwashed",
        "Washed glass",
        "step",
        "common-practice-practitioners",
        _PRACTICE,
        Words(
            "{Glass} is not washed.",
            "washed until the water is clear",
            "Fines fill a transparent with bubbles too small to see singly: it turns milky.",
            "Wash the powder until the water runs clear.",
        ),
    ),
    Rule(
        "uneven-coat",
        "Even coat",
        "step",
        _GUILD,
        _PRACTICE,
        Words(
            "{Glass} varies over {thick:.2f} mm.",
            "the thickest place at most {fine:g} times the thinnest",
            "Cracks run from thin to thick, thin edges burn, and heaped ones chip.",
            "Sift or lay it evenly, just up to the edge.",
        ),
        limit=Limit(EVEN_COAT, None, "of the thinnest place"),
    ),
    Rule(
        "thin-first-coat",
        "First coat thin",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "{Glass} lies {thick:.2f} mm thin on the metal.",
            "at least {fine:.2f} mm, one sifted coat",
            "A thin coat takes up more oxide than it can clear: black dots in an opaque, green under a clear.",
            "A fuller first coat.",
        ),
        limit=Limit(_ONE_COAT_MM, None, "mm", falling=True),
    ),
    Rule(
        "thin-over-colour",
        "Thin over another colour",
        "step",
        _GUILD,
        _PRACTICE,
        Words(
            "{Glass} lies {thick:.2f} mm thin over {under}.",
            "at least {fine:.2f} mm, of an even sieve",
            "Where grains leave gaps, what lies beneath comes up in spots.",
            "A fuller coat, or two.",
        ),
        limit=Limit(0.12, None, "mm", falling=True),
    ),
    Rule(
        "thin-opal",
        "Opal thin",
        "step",
        _GUILD,
        _PRACTICE,
        Words(
            "{Glass} is laid {thick:.2f} mm thin.",
            "at least {fine:.2f} mm, better two coats",
            "An opal this thin stays clear or only faintly milky.",
            "Two coats of opal.",
        ),
        limit=Limit(_ONE_COAT_MM, None, "mm", falling=True),
    ),
    Rule(
        "thick-at-once",
        "Thick at once",
        "firing",
        _SUPPLIERS,
        _PRACTICE,
        Words(
            "At least {total_mm:.2f} mm of glass goes on the {face} at once, for firing {fire}.",
            "up to {fine:.2f} mm for one fire, two full coats",
            "A thick coat cracks as it dries, draws into beads along the cracks, and keeps its bubbles.",
            "Two thinner coats with a fire between.",
        ),
        limit=Limit(2 * _FULL_COAT_MM, None, "mm"),
    ),
    Rule(
        "bare-beside-glass",
        "Bare metal beside glass",
        "face",
        _SUPPLIERS,
        _PRACTICE,
        Words(
            "The first coat covers {coverage:.0%} of the {face}.",
            "the whole face, or the bare part masked",
            "The bare part scales in the fire, specks the glass, and shows as dots under the next coat.",
            "Cover the whole face, or mask what stays bare.",
        ),
        limit=Limit(FULL_COVERAGE, None, "of the face", falling=True),
    ),
    Rule(
        "soft-back",
        "Back softer than the front",
        "pair",
        _GUILD,
        _PRACTICE,
        Words(
            "{Glass} behind {under}.",
            "a back at least as hard as the front",
            "The back melts before the front is done, and sticks to what it stands on.",
            "A harder glass on the back.",
        ),
        # The middle of the back's kiln range below that of the front.
        limit=Limit(15.0, None, "K"),
    ),
)
