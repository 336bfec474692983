"""What a person wants of a build, in their words: "front at least 0.5 mm", "two fires at most"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from refdb.errors import BadInput
from refdb.frozen import dataclass, replace
from refdb.judge.fit.build import BACK_FIRST, FRONT_FIRST, TOGETHER
from refdb.judge.limits import KILN_MOST_C, THICKEST_M
from refdb.quantities import temperature_c, thickness
from refdb.words import shortened

#: Examples for whoever typed something else.
EXAMPLES = "'front at least 0.5 mm', 'no glass on the back', 'two fires at most', 'metal at most 0.6 mm', 'domed'"
_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_LEAST = r"at least|no less than|not less than|no thinner than|minimum|or more|or thicker"
_MOST = r"at most|no more than|not more than|no thicker than|no hotter than|up to|maximum|or less|or thinner|or fewer"
_SUBJECTS = (
    ("first", r"first coats?"),
    ("fires", r"fires|firings?|fire"),
    ("kiln", r"kiln"),
    ("front", r"front"),
    ("back", r"back|counter enamel|counter-enamel"),
    ("metal", r"metal|sheet|clay|cards?"),
)
_FILLING = (
    r"\b(?:i|want|wants|a|an|the|of|on|is|be|with|my|it|glass|thick|thickness|only|exactly|set|goes|face|piece|in)\b"
)
_ORDERS = (
    (TOGETHER, r"together|both faces (?:at once|first)"),
    (FRONT_FIRST, r"front.first"),
    (BACK_FIRST, r"back.first"),
)
#: Most firings that are counted.
_MOST_FIRES = 20


@dataclass(frozen=True)
class Range:
    """From least to most [m]; both ends count."""

    least: float = 0.0
    most: float = THICKEST_M

    @property
    def is_exact(self) -> bool:
        """Whether one thickness is wished for."""
        return self.least == self.most

    @property
    def words(self) -> str:
        """The range in millimetres, in words."""
        low, high = f"{self.least * 1e3:.2f} mm", f"{self.most * 1e3:.2f} mm"
        if self.most == 0:
            return "bare"
        if self.is_exact:
            return low
        if self.most >= THICKEST_M:
            return f"at least {low}"
        return f"at most {high}" if not self.least else f"{self.least * 1e3:.2f} to {high}"

    def __contains__(self, value: float) -> bool:
        return self.least - 1e-9 <= value <= self.most + 1e-9


ANY = Range()
_CALLED = {"front": "front", "back": "back", "metal": "metal", "first": "first coat"}


@dataclass(frozen=True)
class Wishes:
    """What a build has to be; what nothing is said of stays open.

    `metal_text` is a thickness as it was typed, where one is given outright ("3 cards"); `order` is one of
    `build.ORDERS`, empty for any; `in_words` says whether anything was wished in words, which asks for a search.
    """

    front: Range = ANY
    back: Range = ANY
    metal: Range = ANY
    first: Range = ANY
    metal_text: str = ""
    fires_most: int | None = None
    kiln_most_c: float = KILN_MOST_C
    shape: str = ""
    order: str = ""
    in_words: bool = False

    @property
    def are_open(self) -> bool:
        """Whether nothing is said of thickness, fires or kiln: there is a map then, but nothing to search for."""
        left = replace(self, shape="", order="", metal_text="", first=ANY, kiln_most_c=KILN_MOST_C)
        return left == Wishes()

    @property
    def words(self) -> str:
        """What is wished for, in a few words."""
        parts = [f"{_CALLED[name]} {held.words}" for name in _CALLED if (held := getattr(self, name)) != ANY]
        parts += [f"metal of {self.metal_text}"] if self.metal_text else []
        parts += [f"{self.fires_most} fires at most"] if self.fires_most else []
        parts += [f"kiln at most {self.kiln_most_c:.0f} °C"] if self.kiln_most_c != KILN_MOST_C else []
        return ", ".join([*parts, *(word for word in (self.shape, self.order) if word)])

    def as_dict(self) -> dict[str, Any]:
        """What is wished for as plain values, thicknesses in mm; what stays open is left away."""
        found: dict[str, Any] = {
            f"{name}_mm": [round(held.least * 1e3, 4), round(held.most * 1e3, 4)]
            for name in _CALLED
            if (held := getattr(self, name)) != ANY
        }
        others = {"metal": self.metal_text, "fires_most": self.fires_most, "shape": self.shape, "order": self.order}
        return found | {k: v for k, v in others.items() if v} | {"kiln_most_c": self.kiln_most_c}


NO_WISHES = Wishes()


def wishes_of(texts: Iterable[str], given: Wishes = NO_WISHES, where: str = "wish") -> Wishes:
    """Read wishes; several may stand in one text, with commas or "and" between them.

    Raises
    ------
    BadInput
        One that is not understood, or two that exclude each other.
    """
    found = given
    for text in texts:
        for part in re.split(r"[,;]| and ", text):
            if part.strip():
                found = replace(_with(found, part.strip(), where), in_words=True)
        if not text.strip():
            raise BadInput("nothing was typed", where, f"say what you want, such as {EXAMPLES}")
    return found


def _with(wishes: Wishes, text: str, where: str) -> Wishes:
    words = " ".join(text.lower().replace("\u2019", "'").split())
    words = re.sub(rf"\b(?:{'|'.join(_NUMBERS)})\b", lambda m: str(_NUMBERS.index(m[0]) + 1), words)
    if words in ("domed", "dome", "flat"):
        return _once(wishes, "shape", "flat" if words == "flat" else "domed", where)
    for order, pattern in _ORDERS:
        if re.fullmatch(rf"(?:the )?(?:both faces |first coats )?(?:{pattern})", words):
            return _once(wishes, "order", order, where)
    bare = re.fullmatch(
        r"(?:no glass on (?:the )?|bare )(front|back)|(front|back) (?:stays )?bare|(1) face(?: only)?", words
    )
    if bare:
        return _ranged(wishes, bare[1] or bare[2] or "back", Range(0.0, 0.0), where)
    least, most = re.search(rf"\b(?:{_LEAST})\b", words), re.search(rf"\b(?:{_MOST})\b", words)
    rest = re.sub(rf"\b(?:{_LEAST}|{_MOST})\b", " ", words)
    for subject, pattern in _SUBJECTS:
        if re.search(rf"\b(?:{pattern})\b", rest):
            if subject != "metal" or "card" not in rest:
                rest = re.sub(rf"\b(?:{pattern})\b", " ", rest)
            value = " ".join(re.sub(_FILLING, " ", re.sub(r"\b(?:clay|sheet|metal)\b", " ", rest)).split())
            if value and not (least and most):
                return _read(wishes, subject, value, bool(least), bool(most), where, text)
            break
    raise _unknown(text, where)


def _unknown(text: str, where: str) -> BadInput:
    return BadInput(f"'{shortened(text)}' is not understood", where, f"say such as {EXAMPLES}")


def _read(wishes: Wishes, subject: str, value: str, least: bool, most: bool, where: str, text: str) -> Wishes:
    """A wish about one thing: its value and which end of a range it is."""
    if subject == "fires":
        if least or not (value.isascii() and value.isdigit()) or not 0 < int(value) <= _MOST_FIRES:
            raise _unknown(text, where)
        return replace(wishes, fires_most=min(int(value), wishes.fires_most or _MOST_FIRES))
    if subject == "kiln":
        if least:
            raise _unknown(text, where)
        return replace(wishes, kiln_most_c=min(temperature_c(value, where=where), wishes.kiln_most_c))
    if subject == "metal" and "card" in value and not (least or most):
        return _once(wishes, "metal_text", value, where)
    if "card" in value:
        raise BadInput(
            "cards are counted before firing", where, "say 'clay of 3 cards', or the thickness after firing in mm"
        )
    length = thickness(value, where=where, zero_ok=subject in ("front", "back")).band
    return _ranged(wishes, subject, Range(0.0 if most else length.low, THICKEST_M if least else length.high), where)


def _once(wishes: Wishes, name: str, value: str, where: str) -> Wishes:
    if getattr(wishes, name) not in ("", value):
        raise BadInput(f"'{getattr(wishes, name)}' and '{value}' exclude each other", where, "wish for one of them")
    return replace(wishes, **{name: value})  # type: ignore[arg-type]


def _ranged(wishes: Wishes, name: str, more: Range, where: str) -> Wishes:
    held: Range = getattr(wishes, name)
    both = Range(max(held.least, more.least), min(held.most, more.most))
    if both.least > both.most + 1e-12:
        raise BadInput(
            f"the {name} cannot be at least {both.least * 1e3:g} mm and at most {both.most * 1e3:g} mm",
            where,
            "leave one of the two away",
        )
    return replace(wishes, **{name: both})  # type: ignore[arg-type]
