"""Rules of surface, joins, number of fires and use, which a piece file can tell of and no stress can."""

from __future__ import annotations

from refdb.judge.rules.typed import Limit, Rule, Words

_TRADE, _PRACTICE, _GUILD = "common-practice", "common practice", "common-practice-guild"

RULES = (
    Rule(
        "never-fired",
        "Never fired",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "Nothing fires {what} after it is laid.",
            "a fire after every layer",
            "What is laid has to be fused.",
            "Add a fire after it.",
        ),
        cases={
            "whole": Words(
                "No step fires the piece.",
                "at least one fire",
                "Powder that is not fired is not glass.",
                "Add a fire step.",
            )
        },
    ),
    Rule(
        "bare-face-scale",
        "Scale on the bare face",
        "face",
        _TRADE,
        _PRACTICE,
        Words(
            "The {face} is bare in the first fire.",
            "a scale-inhibiting wash on a bare face",
            "Scale grows on it, flakes on to the glass, and has to come off before that face is coated.",
            "Mask the {face} before the first fire.",
        ),
    ),
    Rule(
        "scale-under-glass",
        "Scale under the glass",
        "face",
        _TRADE,
        _PRACTICE,
        Words(
            "The {face} has been in the fire and is not cleaned before {what}.",
            "bright metal under glass",
            "Glass does not hold to scale, and a transparent shows it black.",
            "Clean the face back to bright metal first.",
        ),
    ),
    Rule(
        "clean-metal",
        "Clean metal",
        "face",
        _TRADE,
        _PRACTICE,
        Words(
            "Nothing says that the {face} is cleaned before its first coat.",
            "an unbroken film of water on the metal",
            "Grease and finger marks keep glass off: it crawls and chips.",
            "Clean until water stays on as one film, and touch only the edges.",
        ),
    ),
    Rule(
        "join-after-glass",
        "Join after glass",
        "join",
        _TRADE,
        _PRACTICE,
        Words(
            "{Solder} flows at about {flows_c:.0f} °C, with glass on the piece.",
            "hard joins before any glass",
            "The torch cracks the glass, and it softens before the solder flows.",
            "Join before the glass, or set, rivet or soft-solder after it.",
        ),
        # A solder that flows below this is soft.
        limit=Limit(450.0, 450.0, "°C"),
        cases={"unknown": Words("{Solder} flows at about an unknown heat, with glass on the piece.")},
    ),
    Rule(
        "join-in-fire",
        "Join in the fire",
        "join",
        _TRADE,
        _PRACTICE,
        Words(
            "{Solder} begins to melt at {melts_c:.0f} °C{heat:in}.",
            "a solidus {fine:.0f} K above the kiln",
            "It holds only where the join is captive, lies flat and carries nothing.",
            "A cooler fire, fusion, or a join that melts higher.",
        ),
        limit=Limit(30.0, 30.0, "K", falling=True),
        cases={
            "adhesive": Words(
                "An adhesive join goes into the kiln.",
                "adhesive after the last fire",
                "It burns and smokes.",
                "Glue after the last fire.",
            ),
            "unknown": Words(
                "Where {solder} melts is not known.",
                "a join that melts above every fire",
                "A join that melts lets go.",
                "Ask the maker for its solidus.",
            ),
            "liquid": Words(
                "{Solder} is liquid from {melts_c:.0f} °C{heat:in}.",
                why="The join lets go in the kiln.",
                remedy="A cooler fire, or a join that melts higher.",
            ),
        },
    ),
    Rule(
        "join-holds",
        "The join holds",
        "join",
        _TRADE,
        _PRACTICE,
        Words(
            "{Solder} begins to melt at {melts_c:.0f} °C; the hottest fire is {hottest_c:.0f} °C{heat:here}.",
            "a solidus {margin:.0f} K above the kiln",
            "It stays well below its melting.",
        ),
        fine="It stays well below its melting.",
        cases={
            "cold": Words(
                "Joined by {by}, {fires} fires after it.",
                "a join that does not melt",
                "Nothing in it melts in the kiln.",
            ),
            "no-fire": Words(
                "No fire follows {solder}.", "a join that melts above every fire", "It is not heated again."
            ),
        },
    ),
    Rule(
        "set-before-fire",
        "Set before the fire",
        "join",
        _TRADE,
        _PRACTICE,
        Words(
            "What is set goes into the kiln.",
            "stones set after the last fire",
            "Few stones stand the kiln: they crack, cloud or lose their colour.",
            "Set it after the last fire.",
        ),
    ),
    Rule(
        "stoned-and-left",
        "Stoned and left",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "No fire follows the stoning.",
            "glass-brush, then a short hot fire",
            "The face stays matt, and open scratches hold dirt and start cracks.",
            "Fire once more, short and hot, or polish it through all grits.",
        ),
    ),
    Rule(
        "stoned-and-fired",
        "Stoned and fired again",
        "step",
        _TRADE,
        _PRACTICE,
        Words(
            "A fire follows the stoning.",
            "glass-brush, then a short hot fire",
            "The fire closes the scratches and brings the shine back.",
        ),
        fine="The fire closes the scratches and brings the shine back.",
    ),
    Rule(
        "fired-again",
        "Fired again",
        "firing",
        _TRADE,
        _PRACTICE,
        Words(
            "Firing {fire} adds nothing new.",
            "as often as it needs",
            "A re-fire heals a crack or brings back the shine.",
        ),
        fine="A re-fire heals a crack or brings back the shine.",
    ),
    Rule(
        "many-fires",
        "Number of fires",
        "piece",
        "handbook-recalled",
        _PRACTICE,
        Words(
            "{fires} fires.",
            "up to {fine:g} are usual",
            "Every fire takes a little metal into the glass, deepens colours and tires leaf.",
            "Stop inner coats at orange peel, and lay several colours in one fire.",
        ),
        limit=Limit(10, None, "fires"),
    ),
    Rule(
        "long-fire",
        "Long fire",
        "firing",
        _GUILD,
        _PRACTICE,
        Words(
            "{minutes:g} minutes.",
            "up to {fine:g} minutes",
            "Long in a cool kiln the metal warps and scales; short and hot is better.",
            "A hotter, shorter fire.",
        ),
        limit=Limit(5.0, None, "min"),
    ),
    Rule(
        "lead-for-use",
        "Lead",
        "glass",
        "cpsia",
        _PRACTICE,
        Words(
            "{Glass} holds lead.",
            "no lead; what is not known counts as present",
            "Lead is poisonous, and glass gives it up to sweat, acid food and sucking.",
            "A glass whose maker states that it is free of lead and cadmium.",
        ),
        cases={"unknown": Words("{Glass} may hold lead.")},
        subject=" for {whom}",
    ),
    Rule(
        "cadmium-for-use",
        "Cadmium",
        "glass",
        "cpsia",
        _PRACTICE,
        Words(
            "{Glass} holds cadmium.",
            "no cadmium; what is not known counts as present",
            "Cadmium is poisonous, and glass gives it up to sweat, acid food and sucking.",
            "A glass whose maker states that it is free of lead and cadmium.",
        ),
        cases={"unknown": Words("{Glass} may hold cadmium.")},
        subject=" for {whom}",
    ),
    Rule(
        "made-for-use",
        "Made",
        "piece",
        "cpsia",
        _PRACTICE,
        Words(
            "A recipe alone proves nothing here.",
            "tested by the rules of the place where it is sold",
            "The law asks for a test of the finished thing, and local rules govern.",
            "Have a finished piece tested by a licensed laboratory.",
        ),
        subject=" for {whom}",
    ),
)
