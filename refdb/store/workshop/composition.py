"""What a metal is made of, read from what was typed: elements with per cents by mass."""

from __future__ import annotations

import re

from refdb.errors import BadInput
from refdb.words import shortened

SYMBOLS = frozenset(
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
#: Parts of a text that say nothing of the contents: in brackets, "free of", grades.
_ASIDE = re.compile(
    r"\([^()]*\)|\bfree (?:of|from) \w+(?: (?:and|or) \w+)?|\b\w+[- ]free\b|\btough pitch\b|"
    r"\bgrades? \d+(?: or \d+)?",
    re.IGNORECASE,
)
_TRACE_OF = re.compile(r"\btraces?(?: of)? ([A-Za-z]+)")
_BELOW_ZERO = re.compile(r"(?:^|[^\d\s]\s+)-\d")
_TOKEN = re.compile(r"[0-9]+(?:\.[0-9]+)?|[^\W\d_]+\.?%?|[<>]=?|[≤≥≈~%=:&+-]|–|\S")
_AS_WRITTEN = re.compile(r"[A-Z][a-z]?")
_TODO = 'write elements with their per cents, such as "Cu 95, Zn 5"'
#: Sum of the per cents below which something is missing, and above which there is too much.
LEAST_SUM, MOST_SUM = 95.0, 102.0
#: Low and high per cent by chemical symbol.
Content = dict[str, tuple[float, float]]


def content_of(text: str, where: str = "alloy") -> Content:
    """Low and high content of each element [per cent by mass], by chemical symbol, largest first.

    Raises
    ------
    BadInput
        A word is no element, a share is missing or twice there, or the shares do not add up to about 100.
    """
    pairs = pairs_of(text, where)
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
    return dict(sorted(found.items(), key=lambda s: -middle(s[1])))


def pairs_of(text: str, where: str) -> list[tuple[str, tuple[float, float] | None]]:
    """Elements with low and high content [per cent], in the order typed; None for no figure and for "the rest"."""
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
        elif low in _FILLERS and token not in SYMBOLS:
            if low == "up":
                mode = "<"
        else:
            elements += [(symbol, at) for symbol in _symbols(token, low, where)]
    first = bool(shares) and bool(elements) and shares[0][0] < elements[0][1]
    return _joined(elements, shares, first, where)


def _symbols(token: str, low: str, where: str) -> list[str]:
    if low in NAMES:
        return [NAMES[low]]
    if token in SYMBOLS or token.capitalize() in SYMBOLS:
        return [token.capitalize()]
    run = _AS_WRITTEN.findall(token)
    if len(run) > 1 and "".join(run) == token and all(s in SYMBOLS for s in run):
        return run
    raise BadInput(f"'{shortened(token, 30)}' is no element", where, _TODO)


def _joined(
    elements: list[tuple[str, int]], shares: list[tuple[int, tuple[float, float] | None]], first: bool, where: str
) -> list[tuple[str, tuple[float, float] | None]]:
    """Elements, each with the figure behind it, or before it where the text begins with a figure (`first`)."""
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


def middle(share: tuple[float, float]) -> float:
    """The mean of a low and a high content [per cent]."""
    return (share[0] + share[1]) / 2


def said_of(content: Content, only: str = "") -> str:
    """Elements with their contents in words, such as "zinc (30 %)"; one element alone where `only` names it."""
    parts = []
    for symbol, (low, high) in content.items():
        if only in ("", symbol):
            share = f"{low:g}" if low == high else f"{low:.4g} to {high:.4g}"
            parts.append(f"{WORD_OF.get(symbol, symbol)} ({share} %)")
    return ", ".join(parts)
