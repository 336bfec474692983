"""Rules of what is laid over finished glass, each in a fire of its own: painting, decals, lustre; and of slip."""

from __future__ import annotations

from refdb.judge.rules.typed import Limit, Rule, Words

_TRADE, _PRACTICE, _RECALLED = "common-practice", "common practice", "handbook-recalled"

RULES = (
    Rule(
        "burn-off",
        "Burning off",
        "firing",
        _TRADE,
        _PRACTICE,
        Words(
            "Nothing says that the {what} is burnt off with the kiln vented.",
            "oil, lacquer and resin burnt off at the open or vented kiln, until the smoke has gone",
            "What cannot burn leaves carbon, boils under the film and dulls metal.",
            "Warm it at the kiln mouth until it stops smoking, then shut the door; say vented = true for that fire.",
        ),
        cases={"shut": Words("The {what} goes into a kiln that is shut at once.")},
    ),
    Rule(
        "late-on-glass",
        "On fused glass",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "The {what} lies on bare metal.",
            "fused glass beneath it",
            "On metal it scales off.",
            "Lay and fire a coat first.",
        ),
        cases={
            "powder": Words(
                "The {what} lies on powder that is not fused yet.",
                why="In loose powder it sinks and loses its outline.",
                remedy="Fire the coat beneath first.",
            )
        },
    ),
    Rule(
        "paint-thick",
        "Thick painting",
        "step",
        _RECALLED,
        _PRACTICE,
        Words(
            "{thick:.2f} mm in one fire.",
            "up to {fine:g} mm a fire",
            "Thick paint blisters over its oil, or flakes along the strokes.",
            "Thinner, and once more after the fire.",
        ),
        limit=Limit(0.05, None, "mm"),
    ),
    Rule(
        "paint-hot",
        "Painting in a hot fire",
        "firing",
        _TRADE,
        _PRACTICE,
        Words(
            "The kiln is {over_k:.0f} K above the range of {glass}.",
            "up to {fine:g} K above it, at most {care:g}",
            "Painting colours sink into the glass or burn out when they are fired too hot.",
            "A cooler fire, or paint after the hot fires.",
            "painting is fired hotter than its colour stands",
        ),
        limit=Limit(0.0, 30.0, "K"),
    ),
    Rule(
        "lustre-hot",
        "Fire over lustre",
        "firing",
        _TRADE,
        _PRACTICE,
        Words(
            "A fire at {heat:set} after the lustre.",
            "up to {fine:g} °C",
            "A hotter fire burns it off, or breaks the gold into purple.",
            "Fire the lustre last and cooler than the glass.",
            "the lustre is fired too hot",
        ),
        limit=Limit(760.0, 760.0, "°C"),
        cases={
            "soft": Words(
                "A fire at {heat:set} over {glass}, which flows from {low_c:.0f} °C.",
                "below the range of the glass beneath",
                "On glass that flows the film sinks and cracks.",
            )
        },
    ),
    Rule(
        "lustre-last",
        "Lustre last",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "A {what} is laid after the lustre.",
            "lustre after all else",
            "Glass does not take on the film, and its fire spoils it.",
            "Lay the lustre last of all.",
        ),
    ),
    Rule(
        "slip-rewet",
        "Slip made wet again",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "A {what} is laid wet on slip that is not fired yet.",
            "slip that stays dry until it is fired",
            "A drop on dry slip floats the clay apart, and the coat crawls there.",
            "Fire the slip first, or sift on to it dry.",
        ),
    ),
    Rule(
        "slip-thick",
        "Thick slip",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "{thick:.2f} mm in one coat.",
            "up to {fine:g} mm",
            "Thick slip cracks like mud as it dries.",
            "Thinner, and once more after the fire.",
        ),
        limit=Limit(0.15, None, "mm"),
    ),
)
