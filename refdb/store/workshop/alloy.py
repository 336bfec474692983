"""What a metal or leaf of one's own is made of, read from what was typed, and which class that is.

A composition is elements with per cents by mass. Families follow the trade's words; `_TRACE` and the tolerances are
from memory: about what sheets of one name differ by.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

from refdb.errors import BadInput
from refdb.words import shortened

_SYMBOLS = frozenset(
    re.findall(
        r"\w+",
        """
    H He Li Be B C N O F Ne Na Mg Al Si P S Cl Ar K Ca Sc Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge As Se Br Kr Rb Sr Y Zr Nb
    Mo Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe Cs Ba La Ce Pr Nd Pm Sm Eu Gd Tb Dy Ho Er Tm Yb Lu Hf Ta W Re Os Ir Pt Au
    Hg Tl Pb Bi Th U""",
    )
)
NAMES = {
    "aluminium": "Al",
    "aluminum": "Al",
    "antimony": "Sb",
    "arsenic": "As",
    "beryllium": "Be",
    "bismuth": "Bi",
    "boron": "B",
    "cadmium": "Cd",
    "calcium": "Ca",
    "carbon": "C",
    "chrome": "Cr",
    "chromium": "Cr",
    "cobalt": "Co",
    "copper": "Cu",
    "gallium": "Ga",
    "germanium": "Ge",
    "gold": "Au",
    "indium": "In",
    "iridium": "Ir",
    "iron": "Fe",
    "lead": "Pb",
    "lithium": "Li",
    "magnesium": "Mg",
    "manganese": "Mn",
    "mercury": "Hg",
    "molybdenum": "Mo",
    "nickel": "Ni",
    "niobium": "Nb",
    "nitrogen": "N",
    "oxygen": "O",
    "palladium": "Pd",
    "phosphorus": "P",
    "platinum": "Pt",
    "rhodium": "Rh",
    "ruthenium": "Ru",
    "silicon": "Si",
    "silver": "Ag",
    "sulphur": "S",
    "sulfur": "S",
    "tantalum": "Ta",
    "tellurium": "Te",
    "tin": "Sn",
    "titanium": "Ti",
    "tungsten": "W",
    "vanadium": "V",
    "zinc": "Zn",
    "zirconium": "Zr",
}
WORD_OF = {s: n for n, s in reversed(NAMES.items())}
_REST = frozenset(("balance", "bal", "rest", "remainder", "remaining"))
_AT_LEAST = frozenset((">", ">=", "≥", "min", "purer", "more", "higher"))
_AT_MOST = frozenset(("<", "<=", "≤", "max", "less", "lower"))
_FILLERS = frozenset(
    (
        "%",
        "percent",
        "per",
        "cent",
        "wt",
        "wt%",
        "pct",
        "mass",
        "weight",
        "by",
        "of",
        "and",
        "with",
        "or",
        "to",
        "up",
        "the",
        "a",
        "an",
        "in",
        "is",
        "about",
        "approx",
        "ca",
        "c.",
        "some",
        "pure",
        "powder",
        "organic",
        "binder",
        "clay",
        "sheet",
        "alloy",
        "+",
        "&",
        "~",
        "≈",
        "=",
        ":",
    )
)
_TRACE_WORDS = frozenset(("trace", "traces"))
#: What says nothing of the shares, and how "trace P" is turned about.
_ASIDE = re.compile(
    r"\([^()]*\)|\bfree (?:of|from) \w+(?: (?:and|or) \w+)?|\b\w+[- ]free\b|\btough pitch\b|"
    r"\bgrades? \d+(?: or \d+)?",
    re.IGNORECASE,
)
#: One part of a class's own text.
_PART = re.compile(
    r"(trace )?([A-Z][a-z]?)\b(?: (about )?(\d+(?:\.\d+)?)(?:-(\d+(?:\.\d+)?))?"
    r"( or less| or purer)?)?"
)
_TRACE_OF = re.compile(r"\btraces?(?: of)? ([A-Za-z]+)")
_BELOW_ZERO = re.compile(r"(?:^|[^\d\s]\s+)-\d")
_TOKEN = re.compile(r"[0-9]+(?:\.[0-9]+)?|[^\W\d_]+\.?%?|[<>]=?|[≤≥≈~%=:&+-]|–|\S")
_AS_WRITTEN = re.compile(r"[A-Z][a-z]?")
_TODO = 'write elements with their per cents, such as "Cu 95, Zn 5"'
#: Sum of the per cents below which something is missing, and above which there is too much.
LEAST_SUM, MOST_SUM = 95.0, 102.0
#: A share of this many per cent is a trace; of these elements, less.
_TRACE, _TRACES = 1.0, {"Zn": 0.5, "Sn": 0.5, "Ni": 0.5, "Pb": 0.1, "Cd": 0.05, "P": 0.01, "C": 0.05}
#: The same of what every steel holds.
_STEEL_TRACES = {"P": 0.1, "C": 0.1, "Mn": 2.0, "Si": 1.0}
#: How far a share may lie outside that of the class [per cent].
_TOLERANCE = {"Zn": 2.0, "Sn": 2.0, "P": 0.02, "C": 0.05, "Ge": 0.4, "Ni": 1.0, "Pb": 0.1, "Cd": 0.05}
_IN_SILVER, _IN_GOLD, _IN_STEEL, _ELSEWHERE = 1.5, 8.0, 3.0, 2.0
#: Per cents of zinc from which gilding metal is brass, and metals that melt out of another in the kiln.
BRASS_FROM = 12.5
#: The most that a class's "trace" stands for: phosphorus in tin bronze.
_NAMED_TRACE = 0.4
_MELTS_OUT = ("Pb", "Cd")
#: Elements of a leaf that spoil it in the fire.
_SPOIL_LEAF = ("Zn", "Sn", "Al", "Pb", "Cd")
SPOILT_LEAF = "burns, melts or fumes in the fire and spoils the glass"

#: Low and high per cent by chemical symbol.
Content = dict[str, tuple[float, float]]


class ClassMetal(NamedTuple):
    """A metal of the reference: its key, family, form, alloy as written there, and zinc [per cent] where known."""

    key: str
    family: str
    form: str
    alloy: str
    zinc: tuple[float, float] | None = None


def content_of(text: str, where: str = "alloy") -> Content:
    """Low and high share of each element [per cent], the most first.

    Raises
    ------
    BadInput
        A word is no element, a share is missing or twice there, or the shares do not add up to about 100.
    """
    pairs = _pairs(text, where)
    if not pairs:
        raise BadInput(f"'{shortened(text, 30)}' names no element", where, _TODO)
    found: Content = {}
    rest = ""
    for symbol, share in pairs:
        if symbol in found or symbol == rest:
            raise BadInput(f"{symbol} stands twice", where, "give each element once")
        if share is None and rest:
            raise BadInput(f"no per cent stands with {rest} or {symbol}", where, _TODO)
        if share is None:
            rest = symbol
        elif share[1] > 100 or share[0] > share[1]:
            raise BadInput(
                f"{symbol} {share[1]:g} is no share in per cent", where, "write parts in a hundred: 92.5, not 925"
            )
        else:
            found[symbol] = share
    low, high = (sum(s[n] for s in found.values()) for n in (0, 1))
    if low > MOST_SUM:
        raise BadInput(f"the shares add up to {low:g} %", where, "give them in per cent of the whole")
    if rest:
        found[rest] = (max(100.0 - high, 0.0), max(100.0 - low, 0.0))
    elif high < LEAST_SUM:
        raise BadInput(
            f"the shares add up to {high:g} %", where, 'give the others too, or say which is the rest: "Cu rest, Zn 5"'
        )
    return dict(sorted(found.items(), key=lambda s: -_middle(s[1])))


def _pairs(text: str, where: str) -> list[tuple[str, tuple[float, float] | None]]:
    """Elements with their shares in the order typed; None where no share is given or it is called the rest."""
    bare = _TRACE_OF.sub(r"\1 trace", _ASIDE.sub(" ", text))
    if _BELOW_ZERO.search(bare):
        raise BadInput("a share below zero", where, _TODO)
    elements: list[tuple[str, int]] = []
    shares: list[tuple[int, tuple[float, float] | None]] = []
    mode, at, dash = "", 0, False
    for token in _TOKEN.findall(bare):
        low = token.lower().rstrip(".")
        at += 1
        if token[0] in "0123456789":
            value = float(token)
            if dash and shares and shares[-1][0] == at - 2 and shares[-1][1] is not None:
                shares[-1] = (at, (shares[-1][1][0], value))
            else:
                shares.append((at, {">": (value, 100.0), "<": (0.0, value)}.get(mode, (value, value))))
            mode, dash = "", False
            continue
        dash = token in ("-", "–") or (low == "to" and bool(shares) and shares[-1][0] == at - 1)
        if dash or token in ",;/.|":
            continue
        if low in _AT_LEAST or low in _AT_MOST:
            most = low in _AT_MOST
            if low in ("purer", "more", "higher", "less", "lower") and shares and shares[-1][1] is not None:
                last = shares[-1][1]
                shares[-1] = (shares[-1][0], (0.0, last[1]) if most else (last[0], 100.0))
            else:
                mode = "<" if most else ">"
        elif low in _REST:
            shares.append((at, None))
        elif low in _TRACE_WORDS:
            shares.append((at, (0.0, 0.1)))
        elif low in _FILLERS and token not in _SYMBOLS:
            if low == "up":
                mode = "<"
        else:
            elements += [(symbol, at) for symbol in _symbols(token, low, where)]
    first = bool(shares) and bool(elements) and shares[0][0] < elements[0][1]
    return _joined(elements, shares, first, where)


def _symbols(token: str, low: str, where: str) -> list[str]:
    if low in NAMES:
        return [NAMES[low]]
    if token in _SYMBOLS or token.capitalize() in _SYMBOLS:
        return [token.capitalize()]
    run = _AS_WRITTEN.findall(token)
    if len(run) > 1 and "".join(run) == token and all(s in _SYMBOLS for s in run):
        return run
    raise BadInput(f"'{shortened(token, 30)}' is no element", where, _TODO)


def _joined(
    elements: list[tuple[str, int]], shares: list[tuple[int, tuple[float, float] | None]], first: bool, where: str
) -> list[tuple[str, tuple[float, float] | None]]:
    """Each element with the share that stands after it, or before it where the text begins with a share."""
    found: list[tuple[str, tuple[float, float] | None]] = []
    left = list(shares)
    order = list(reversed(elements)) if first else elements
    for n, (symbol, at) in enumerate(order):
        after = order[n + 1][1] if n + 1 < len(order) else (-1 if first else 10**9)
        near = [s for s in left if (after < s[0] < at if first else at < s[0] < after)]
        if len(near) > 1:
            raise BadInput(f"more than one share stands with {symbol}", where, _TODO)
        if near:
            left.remove(near[0])
        found.append((symbol, near[0][1] if near else None))
    if left:
        raise BadInput("a share stands with no element", where, _TODO)
    return found[::-1] if first else found


def _middle(share: tuple[float, float]) -> float:
    return (share[0] + share[1]) / 2


def said_of(content: Content, only: str = "") -> str:
    """Elements with their shares in words: "zinc (30 %)"."""
    parts = []
    for symbol, (low, high) in content.items():
        if only in ("", symbol):
            share = f"{low:g}" if low == high else f"{low:.4g} to {high:.4g}"
            parts.append(f"{WORD_OF.get(symbol, symbol)} ({share} %)")
    return ", ".join(parts)


def family_of(content: Content) -> str:
    """The family of the reference that such a metal belongs to; empty where it is none of them."""
    main = next(iter(content))
    share = {s: _middle(c) for s, c in content.items()}
    zinc, tin = share.get("Zn", 0.0), share.get("Sn", 0.0)
    if main == "Cu" and zinc >= BRASS_FROM:
        return "brass"
    if any(share.get(s, 0.0) > _TRACES[s] for s in _MELTS_OUT) or (share[main] < 50 and main != "Fe"):
        return ""
    if main == "Cu":
        if share.get("Ni", 0.0) > 2 or share.get("Ag", 0.0) > 2 or share.get("Al", 0.0) > 2:
            return ""
        return "gilding metal" if zinc > max(_TRACES["Zn"], tin) else "bronze" if tin > _TRACES["Sn"] else "copper"
    if main == "Fe":
        return "stainless steel" if share.get("Cr", 0.0) >= 10.5 else "steel"
    return {
        "Ag": "silver",
        "Au": "gold",
        "Al": "aluminium",
        "Ti": "titanium",
        "Ni": "nickel",
        "Pt": "platinum",
        "Pd": "palladium",
    }.get(main, "")


def _class_content(known: ClassMetal) -> Content:
    """The shares in a class's own text: what a part does not say is left open."""
    found: Content = {}
    rest = ""
    for part in re.split("[,;]", re.sub(r"\([^()]*\)", "", known.alloy)):
        match = _PART.match(part.strip())
        if match is None or match[2] not in _SYMBOLS:
            continue
        if match[4] is None:
            if match[1]:
                found[match[2]] = (0.0, _NAMED_TRACE)
            elif found or rest:
                # Named without a figure, after the main metal: as much as the others leave.
                found[match[2]] = (0.0, 10.0)
            else:
                rest = match[2]
            continue
        low, high = float(match[4]), float(match[5] or match[4])
        if match[3]:
            low, high = low / 2, high * 1.5
        found[match[2]] = (0.0 if match[6] == " or less" else low, 100.0 if match[6] == " or purer" else high)
    if rest:
        found = {rest: (0.0, 100.0), **found}
    if known.zinc is not None and known.zinc[1] > 0:
        found["Zn"] = known.zinc
    return found


def _distance(content: Content, known: ClassMetal) -> float:
    """How far a metal is from a class, in tolerances of the element that is farthest off."""
    of_class = _class_content(known)
    if not of_class:
        return 0.0
    main = next(iter(of_class))
    wide = {"silver": _IN_SILVER, "gold": _IN_GOLD, "steel": _IN_STEEL, "stainless steel": _IN_STEEL}.get(
        known.family, _ELSEWHERE
    )
    # What the class's own purity leaves open may be anything but what harms.
    open_share = max(100.0 - of_class[main][0], 0.0) if len(of_class) == 1 and of_class[main][0] > 0 else 0.0
    worst = 0.0
    for symbol in {*content, *of_class}:
        if symbol == main:
            continue
        share = _middle(content.get(symbol, (0.0, 0.0)))
        trace = _STEEL_TRACES.get(symbol) if main == "Fe" else None
        low, high = of_class.get(symbol, (0.0, trace or _TRACES.get(symbol, max(_TRACE, open_share))))
        tolerance = _TOLERANCE.get(symbol, wide)
        if symbol not in of_class:
            tolerance = max(high, 1e-9)
        # Less zinc than the class has is the lesser trouble.
        below = (low - share) / (tolerance * (2.0 if symbol == "Zn" else 1.0))
        above = (share - high) / tolerance
        worst = max(worst, below, above if symbol in of_class or above <= 0 else 1.0 + above)
    return worst


def poison_of(content: Content) -> str:
    """What to know of a metal that gives off lead or cadmium in the kiln; empty for any other."""
    held = [s for s in _MELTS_OUT if _middle(content.get(s, (0.0, 0.0))) > _TRACES[s]]
    if not held:
        return ""
    return f"It holds {' and '.join(said_of(content, s) for s in held)}, whose fume is poison: keep it out of the kiln."


def class_of(content: Content, classes: Mapping[str, ClassMetal], form: str = "") -> str:
    """The class of the reference that such a metal is like, or empty.

    In a family that enamel is never laid on, any class of it will do.
    """
    family = family_of(content)
    wanted = "sheet" if form == "cast" else form
    near = sorted(
        (_distance(content, c), c.form != "sheet", c.key)
        for c in classes.values()
        if c.family == family and wanted in ("", c.form)
    )
    return near[0][2] if near and (near[0][0] <= 1.0 or family == "brass") else ""


def is_like(content: Content, known: ClassMetal, classes: Mapping[str, ClassMetal]) -> bool:
    """Whether a metal may be called like a class: it is of its family, and near it or nearest to it."""
    if family_of(content) != known.family:
        return False
    return _distance(content, known) <= 1.0 or class_of(content, classes, known.form) == known.key


def checked_metal(
    text: str, like: str | None, form: str | None, classes: Mapping[str, ClassMetal], where: str = "alloy"
) -> None:
    """BadInput for a composition that cannot be read, or that is not that of the class it is said to be like."""
    content = content_of(text, where)
    if like is None or like not in classes or is_like(content, classes[like], classes):
        return
    better = class_of(content, classes, form or classes[like].form)
    raise BadInput(
        f"{like} is not such a metal: it holds {said_of(content)}",
        where,
        f"say what it is like with --like {better}"
        if better
        else "no class of the reference is such a metal: leave out what it is like, for nothing can stand in for it",
    )


def leaf_symbols(text: str, where: str = "metal") -> str:
    """The chemical symbols of a leaf, joined by blanks, the most first.

    Raises
    ------
    BadInput
        A word is no element, or one stands twice.
    """
    if re.search(r"\d", text):
        raise BadInput(f"'{shortened(text, 30)}' holds figures", where, 'give symbols alone, the most first: "Au Ag"')
    try:
        found = [symbol for symbol, _ in _pairs(text, where)]
    except BadInput as bad:
        raise BadInput(bad.what, where, 'give chemical symbols, the most first: "Au Ag"') from None
    if not found or len(set(found)) < len(found):
        raise BadInput(
            f"'{shortened(text, 30)}' does not name each metal once",
            where,
            'give chemical symbols, the most first: "Au Ag"',
        )
    return " ".join(found)


def checked_leaf(symbols: str, like: str | None, classes: Mapping[str, str], where: str = "metal") -> None:
    """BadInput for the metals of a leaf that are not those of the class that it is said to be like.

    `classes` holds the symbols of each class of leaf by its key.
    """
    if like is None or like not in classes or leaf_is_like(symbols, classes[like]):
        return
    better = leaf_class(symbols, classes)
    named = ", ".join(WORD_OF.get(s, s) for s in symbols.split())
    raise BadInput(
        f"{like} is not of such a metal: {named}",
        where,
        f"say what it is like with --like {better}"
        if better
        else "no class of the reference is such a leaf: leave out what it is like",
    )


def leaf_is_like(symbols: str, of_class: str) -> bool:
    """Whether leaf of these metals may be called like leaf of those: the same main metal and nothing more in it."""
    mine, theirs = symbols.split(), of_class.split()
    return not theirs or (mine[:1] == theirs[:1] and set(mine) <= set(theirs))


def leaf_class(symbols: str, classes: Mapping[str, str]) -> str:
    """The first class of leaf that is of these metals, or holds them; empty where there is none."""
    same = [k for k, s in sorted(classes.items()) if s.split() == symbols.split()]
    near = [k for k, s in sorted(classes.items()) if s and leaf_is_like(symbols, s)]
    return next(iter(same or near), "")


def spoils_leaf(symbols: str) -> str:
    """What in a leaf no fire leaves alone, in words; empty where there is nothing of the kind."""
    return " and ".join(WORD_OF[s] for s in symbols.split() if s in _SPOIL_LEAF)
