"""What is done to words before they are shown; light, and beneath every room."""

from __future__ import annotations

import re
import unicodedata

#: The form of all JSON that is given out, by the name that stands in it.
SCHEMA = "refdb/2"
#: A blank between a number and its unit, a step and its number, or two sides of a size.
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:mm|µm|m|MPa|GPa|ppm/K|ppm|K|°C|°F|min|h|s|%|J/m²|kg/m³|mg/cm²|cards?)(?![\w²³]))"
    r"|(?<=\bstep) (?=\d)|(?<=\d) (?=× \d)|(?<=×) (?=\d)"
)


def upper_first(text: str) -> str:
    """The text as it stands at the head of a sentence: its first letter large."""
    return text[:1].upper() + text[1:]


def ended(text: str) -> str:
    """The text with a full stop, where it has no end of its own."""
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."


#: What keeps its capital within a sentence: "BAg-7", "SAC305", "Sn60Pb40", "P100", and an alloy told by its silver.
_FORMULA = re.compile(r"[A-Z][a-z]{0,2}-?[A-Z0-9]|(?:Ag|Au|Cu|Sn) [0-9]")


def lower_first(text: str) -> str:
    """The text as it stands within a sentence: its first letter small, but for a formula.

    >>> lower_first("Fine silver"), lower_first("BAg-7 begins to melt"), lower_first("Ag 155")
    ('fine silver', 'BAg-7 begins to melt', 'Ag 155')
    """
    return text if _FORMULA.match(text) else text[:1].lower() + text[1:]


#: From this share of the draws on all but hardly a draw came out alike, and no share is told.
NEARLY_ALL = 0.995


def tenths(share: float) -> int:
    """A share of the draws in tenths, to the nearest: the one rounding of all that is told "of 10"."""
    return int(share * 10 + 0.5 + 1e-9)


def shortened(text: str, most: int = 40) -> str:
    """The text in at most so many characters, an ellipsis for what was cut off."""
    return text if len(text) <= most else text[: most - 1] + "…"


def within(text: str, most: int) -> str:
    """As many whole words of a text, from its beginning, as fit in so many characters; one at the least."""
    if len(text) <= most:
        return text
    return text[: most + 1].rpartition(" ")[0] or text[:most]


#: What a shell would read as more than a letter, and the quotation marks of a text.
_OF_SHELLS = re.compile("[\"'`$\\\\!*?<>|&;()\u2018\u2019\u201c\u201d]+")


def typeable(text: str) -> str:
    """Words as one that can be typed behind a command: in quotation marks where there are several.

    >>> typeable("copper-sheet"), typeable("why's it cracked"), typeable("")
    ('copper-sheet', '"why s it cracked"', '')
    """
    plain = " ".join(_OF_SHELLS.sub(" ", text).split())
    return f'"{plain}"' if " " in plain else plain


def short_path(path: object, most: int = 80) -> str:
    """A path in at most so many characters; its beginning is cut off, since its end says which file is meant."""
    text = str(path)
    return text if len(text) <= most else "..." + text[3 - most :]


def units_held(text: str, no_break: str = "\u00a0") -> str:
    """The text with a no-break space in each number with its unit, size and step, so that no line ends there."""
    return _BEFORE_UNIT.sub(no_break, text)


#: Straight marks as they stand in escaped text.
_STRAIGHT = re.compile("&#39;|&#x27;|&#34;|&quot;")
_AS_TYPED = re.compile(r"<(code|textarea|script|style)\b.*?</\1", re.DOTALL)
_BEFORE_AN_OPENING = frozenset(" \u00a0\n([{\u2013\u2014\u201c")


def set_quotes(page: str) -> str:
    """HTML with typographic marks for the straight ones of its text; tags, code and what is being typed stay.

    Data and messages are typed with straight marks, which a terminal and a shell take back; pages are set. A mark
    right behind a digit stays, since it may be inches or feet.

    >>> set_quotes("<p>The maker&#39;s &#34;hard&#34; clear, 3&#34; wide: <code>&#39;jar&#39;</code></p>")
    '<p>The maker’s “hard” clear, 3&#34; wide: <code>&#39;jar&#39;</code></p>'
    """
    parts, end = list[str](), 0
    kept = [found.span() for found in _AS_TYPED.finditer(page)]
    for found in _STRAIGHT.finditer(page):
        start = found.start()
        before = page[start - 1 : start] or " "
        if before.isdigit() or page.rfind("<", 0, start) > page.rfind(">", 0, start):
            continue
        if any(first < start < last for first, last in kept):
            continue
        opens = before in _BEFORE_AN_OPENING or (before == ">" and page[page.rfind("<", 0, start) + 1] != "/")
        single = "39" in found[0] or "27" in found[0]
        parts += (page[end:start], ("\u2018" if opens else "\u2019") if single else "\u201c" if opens else "\u201d")
        end = found.end()
    return "".join(parts) + page[end:]


_NO_DECOMPOSITION = str.maketrans({"œ": "oe", "æ": "ae", "ø": "o", "ł": "l", "đ": "d"})
_POSSESSIVE = re.compile("['\u2019]s\\b")
_TOKENS = re.compile(r"[0-9]+|[^\W\d_]+")
#: One spelling for both Englishes, and one word for a fineness of gold.
_SPELLINGS = {"aluminum": "aluminium", "gray": "grey", "leaves": "leaf", "unleaded": "leadfree"}
#: Said in two words and still one: "lead" alone must not be taken for what is free of it.
_AFTER_LEAD = {"free": "leadfree", "bearing": "leaded", "containing": "leaded"}
#: Words that folding turns into others; a slip in one of them is a slip too.
TURNED = (*_SPELLINGS, *_AFTER_LEAD, "karat", "deoxidized", "enameling", "color")
_OF_FINENESS = frozenset(("k", "kt", "ct", "carat", "karat"))
_PLURAL_ES = ("sses", "xes", "ches", "shes")


def folded(text: str) -> str:
    """A name in the one form in which names are compared: small letters and digits, a blank between words.

    Accents, hyphens, plurals, the two English spellings and the ways to write a carat make no difference. The order
    of the words stays.
    """
    plain = _POSSESSIVE.sub("s", text.casefold())
    if not plain.isascii():
        plain = unicodedata.normalize("NFKD", plain.translate(_NO_DECOMPOSITION))
        plain = "".join(c for c in plain if not unicodedata.combining(c))
    words: list[str] = []
    for word in _TOKENS.findall(plain):
        one = _singular(word)
        before = words[-1] if words else ""
        if before == "lead" and one in _AFTER_LEAD:
            words[-1] = _AFTER_LEAD[one]
        else:
            words.append("carat" if one in _OF_FINENESS and before.isdigit() else _SPELLINGS.get(one, one))
    return " ".join(words)


def _singular(word: str) -> str:
    """The word without the ending of a plural, and with the British ending of a verb and of a colour."""
    if len(word) > 3 and word[-1] == "s" and word[-2] not in "sui":
        word = word[:-2] if word.endswith(_PLURAL_ES) else word[:-1]
    if "z" in word or "col" in word or "amel" in word:
        for american, british in (("ized", "ised"), ("izing", "ising"), ("ameling", "amelling"), ("color", "colour")):
            word = word.replace(american, british)
    return word


def counted(number: int, one: str, many: str) -> str:
    """A number with what is counted, in the singular for one."""
    return f"{number:,} {one if number == 1 else many}"
