"""What a glass is made of: reading, checking and converting compositions.

Compositions are mappings of component to amount, in weight or mole per cent. Only malformed input raises;
a glass that is merely strange (no silica, nothing but alkali) passes and is judged by the models.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from refdb.errors import BadInput
from refdb.frozen import dataclass, field
from refdb.science.glass.components import (
    ATOMIC_WEIGHTS,
    COMPONENTS,
    MOLAR_MASS_G_PER_MOL,
    USUAL_OXIDE,
    WORDS,
    oxide_equivalents,
)

#: A total within these is taken for an analysis and scaled to 100 (common practice for chemical analyses).
TOTAL_LOW, TOTAL_HIGH = 98.0, 102.0
#: Longest text read as a composition; the longest real one has some thirty components.
TEXT_LIMIT = 2000
BASES = ("wt", "mol")

_WHERE = "composition"
_BY_LOWER = {name.lower(): name for name in COMPONENTS} | WORDS
_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_HALOGENS = {"F": "O", "Cl": "O"}
_FLUXES = (
    "Li2O",
    "Na2O",
    "K2O",
    "Rb2O",
    "Cs2O",
    "BeO",
    "MgO",
    "CaO",
    "SrO",
    "BaO",
    "ZnO",
    "CdO",
    "PbO",
    "MnO",
    "CoO",
    "NiO",
    "CuO",
)
_SESQUIOXIDES = (
    "B2O3",
    "Al2O3",
    "Fe2O3",
    "Cr2O3",
    "Bi2O3",
    "Sb2O3",
    "As2O3",
    "La2O3",
    "Y2O3",
    "Nd2O3",
    "Pr2O3",
    "Er2O3",
    "Ga2O3",
)
_TOKEN = re.compile(
    r"\s*(?:(?P<number>[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]{1,3})?)"
    r"|(?P<word>[^\W\d_₀-₉]\w*))"
)
_SPACING = re.compile(r"[\s,;:=|%]*")


@dataclass(frozen=True)
class Normalised:
    """A checked composition, scaled to 100.

    Attributes
    ----------
    amounts : dict of str to float
        Component to per cent on `basis`, summing to 100, in the order given; zeros are left out.
    total : float
        What the amounts added up to as given.
    basis : str
        "wt" or "mol".
    """

    amounts: dict[str, float]
    total: float
    basis: str


@dataclass(frozen=True)
class UnityForm:
    """Moles of everything for one mole of fluxes together (Seger, H., Gesammelte Schriften, 1896)."""

    fluxes: dict[str, float] = field(default_factory=dict)
    sesquioxides: dict[str, float] = field(default_factory=dict)
    others: dict[str, float] = field(default_factory=dict)


def _shown(text: str) -> str:
    return text if len(text) <= 30 else text[:27] + "..."


def component_name(text: str) -> str:
    """Return the standard spelling of a component.

    Parameters
    ----------
    text : str
        A formula in any case ("SIO2", "SiO₂") or a common word ("silica", "cryolite").

    Returns
    -------
    str
        One of `components.COMPONENTS`.

    Raises
    ------
    BadInput
        Nothing is called that; the nearest name is offered.
    """
    if not isinstance(text, str):
        raise BadInput(f"a component must be named by text, not {type(text).__name__}", _WHERE)
    plain = " ".join(text.translate(_SUBSCRIPTS).split())
    found = _BY_LOWER.get(plain.lower())
    if found:
        return found
    element = plain[:1].upper() + plain[1:].lower()
    if element in USUAL_OXIDE:
        raise BadInput(
            f"'{plain}' is an element, and its oxide is wanted", _WHERE, f"did you mean {USUAL_OXIDE[element]}?"
        )
    if element == "O":
        raise BadInput("oxygen is counted with the oxides", _WHERE, "leave 'O' out")
    raise BadInput(f"no component is called '{_shown(plain)}'", _WHERE, _nearest(plain))


def _letters(text: str) -> str:
    return "".join(c for c in text.lower() if c.isalpha())


def _nearest(text: str) -> str:
    import difflib

    if len(text) <= 30:
        same = [known for known, name in _BY_LOWER.items() if _letters(name) == _letters(text) != ""]
        near = difflib.get_close_matches(text.lower(), same or _BY_LOWER, n=1, cutoff=0.5)
        if near:
            return f"did you mean {_BY_LOWER[near[0]]}?"
    return "write oxides or fluorides, such as SiO2, Na2O, CaF2"


def _amount(name: str, value: object) -> float:
    if isinstance(value, bool) or not hasattr(value, "__float__"):
        raise BadInput(f"the amount of {name} is not a number", _WHERE, "give a per cent such as 13.6")
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        raise BadInput(f"the amount of {name} is not a number", _WHERE, "give a per cent such as 13.6") from None
    if not math.isfinite(number):
        raise BadInput(f"the amount of {name} is not a finite number", _WHERE, "give a per cent such as 13.6")
    if number < 0:
        raise BadInput(f"the amount of {name} is negative ({number:g})", _WHERE, "amounts are zero or more")
    return number


def normalise(composition: Mapping[str, float], basis: str = "wt") -> Normalised:
    """Check a composition and scale it to 100.

    Parameters
    ----------
    composition : mapping of str to float
        Component to per cent. Fluorine and chlorine may be given as elements beside the oxides.
    basis : str
        "wt" for weight per cent, "mol" for mole per cent.

    Returns
    -------
    Normalised
        Standard names, amounts summing to 100, and the total as given.

    Raises
    ------
    BadInput
        Unknown, doubled or negative component, an amount that is no number, nothing at all, or a total
        outside 98-102 (also after taking off the oxygen that fluorine and chlorine replace).
    """
    if basis not in BASES:
        raise BadInput(f"the basis '{_shown(str(basis))}' is unknown", _WHERE, "use 'wt' or 'mol'")
    if not isinstance(composition, Mapping):
        raise BadInput("a composition is a mapping of component to amount", _WHERE)
    amounts: dict[str, float] = {}
    given: dict[str, str] = {}
    for key, value in composition.items():
        name = component_name(key)
        if name in given:
            both = f"'{given[name]}' and '{key}'" if given[name] != key else f"'{key}'"
            raise BadInput(f"{name} stands twice ({_shown(both)})", _WHERE, "give each component once")
        given[name] = key
        amounts[name] = _amount(name, value)
    total = math.fsum(amounts.values())
    if not amounts or total == 0.0:
        raise BadInput("the composition is empty", _WHERE, "give components and per cents, such as SiO2 48")
    replaced = sum(amounts.get(h, 0.0) * ATOMIC_WEIGHTS["O"] / (2.0 * ATOMIC_WEIGHTS[h]) for h in _HALOGENS)
    corrected = total - replaced if basis == "wt" else total
    if not (TOTAL_LOW <= total <= TOTAL_HIGH or TOTAL_LOW <= corrected <= TOTAL_HIGH):
        todo = (
            "multiply by 100 if these are fractions"
            if 0.98 <= total <= 1.02
            else (f"the total must be {TOTAL_LOW:g} to {TOTAL_HIGH:g}; is a component missing or mistyped?")
        )
        raise BadInput(f"the amounts add up to {total:.4g}, not 100", _WHERE, todo)
    return Normalised({k: 100.0 * v / total for k, v in amounts.items() if v > 0}, total, basis)


def _scaled(amounts: Mapping[str, float]) -> dict[str, float]:
    total = math.fsum(amounts.values())
    return {k: 100.0 * v / total for k, v in amounts.items()}


def mole_percent(composition: Mapping[str, float], basis: str = "wt") -> dict[str, float]:
    """Return the composition in mole per cent, summing to 100; arguments and errors as for `normalise`."""
    amounts = normalise(composition, basis).amounts
    if basis == "mol":
        return amounts
    return _scaled({k: v / MOLAR_MASS_G_PER_MOL[k] for k, v in amounts.items()})


def weight_percent(composition: Mapping[str, float], basis: str = "wt") -> dict[str, float]:
    """Return the composition in weight per cent, summing to 100; arguments and errors as for `normalise`."""
    amounts = normalise(composition, basis).amounts
    if basis == "wt":
        return amounts
    return _scaled({k: v * MOLAR_MASS_G_PER_MOL[k] for k, v in amounts.items()})


def oxide_mole_percent(composition: Mapping[str, float], basis: str = "wt") -> dict[str, float]:
    """Return mole per cent of plain oxides and halogens, each metal in one valency.

    Fluorides are split into oxide and fluorine, so that CaF2 and CaO with F are the same glass. Arguments
    and errors as for `normalise`.
    """
    parts: dict[str, float] = {}
    for name, moles in mole_percent(composition, basis).items():
        for oxide, count in oxide_equivalents(name).items():
            parts[oxide] = parts.get(oxide, 0.0) + moles * count
    return _scaled(parts)


def unity_form(composition: Mapping[str, float], basis: str = "wt") -> UnityForm | None:
    """Return the Seger or unity formula: moles for one mole of fluxes (R2O + RO) together.

    Returns
    -------
    UnityForm or None
        None when the glass holds no flux, so that nothing can be set to one. Arguments and errors as for
        `normalise`.
    """
    moles = oxide_mole_percent(composition, basis)
    flux = sum(v for k, v in moles.items() if k in _FLUXES)
    if flux == 0.0:
        return None
    scaled = {k: v / flux for k, v in moles.items()}
    return UnityForm(
        {k: v for k, v in scaled.items() if k in _FLUXES},
        {k: v for k, v in scaled.items() if k in _SESQUIOXIDES},
        {k: v for k, v in scaled.items() if k not in _FLUXES and k not in _SESQUIOXIDES},
    )


def parse_composition(text: str) -> dict[str, float]:
    """Read a composition as people type it.

    Parameters
    ----------
    text : str
        "SiO2 48, Na2O 13.6", "SiO2=48; Na2O=13.6" or "48 SiO2 13.6 Na2O". Decimals take a point.

    Returns
    -------
    dict of str to float
        Standard name to amount as given; not yet scaled and its total not yet checked.

    Raises
    ------
    BadInput
        Empty or too long text, an unknown or doubled component, a number without a name or a name
        without a number.
    """
    if not isinstance(text, str):
        raise BadInput("a composition is read from text", _WHERE)
    if len(text) > TEXT_LIMIT:
        raise BadInput(f"the text is {len(text)} characters long", _WHERE, f"a composition takes at most {TEXT_LIMIT}")
    tokens = _tokens(text.replace("−", "-"))
    if not tokens:
        raise BadInput("the composition is empty", _WHERE, 'write for example "SiO2 48, Na2O 13.6"')
    name_first = isinstance(tokens[0], str)
    amounts: dict[str, float] = {}
    for at in range(0, len(tokens), 2):
        first = tokens[at]
        second = tokens[at + 1] if at + 1 < len(tokens) else None
        name, number = (first, second) if name_first else (second, first)
        if not isinstance(name, str):
            amounts_there = [f"{part:g}" for part in (number, first) if isinstance(part, float)]
            beside = amounts_there[0] if amounts_there else f"'{_shown(str(first))}'"
            raise BadInput(f"a name is missing beside {beside}", _WHERE, "write each component with its amount")
        if not isinstance(number, float):
            raise BadInput(
                f"an amount is missing beside '{_shown(name)}'", _WHERE, "write each component with its amount"
            )
        known = component_name(name)
        if known in amounts:
            raise BadInput(f"{known} stands twice", _WHERE, "give each component once")
        amounts[known] = _amount(known, number)
    return amounts


def _tokens(text: str) -> list[str | float]:
    """Split text into names and numbers; `wt` and `%` are passed over."""
    tokens: list[str | float] = []
    at = _end_of_spacing(text, 0)
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise BadInput(f"cannot read '{_shown(text[at:])}'", _WHERE, 'write for example "SiO2 48, Na2O 13.6"')
        end = match.end()
        number, word = match.group("number"), match.group("word")
        if number is not None:
            if re.match(",[0-9]", text[end : end + 2]):
                piece = _shown(text[at : end + 4].strip())
                raise BadInput(
                    f"the comma in '{piece}' may be a decimal sign",
                    _WHERE,
                    "write decimals with a point, and a space after a comma between components",
                )
            tokens.append(float(number))
        elif word.lower() in ("wt", "weight"):
            end = end + 1 if text[end : end + 1] == "." else end
        elif word.lower() in ("mol", "mole"):
            raise BadInput(
                "the amounts are marked as mole per cent",
                _WHERE,
                "leave 'mol' out of the text and state the basis beside it",
            )
        else:
            tokens.append(word)
        at = _end_of_spacing(text, end)
    return tokens


def _end_of_spacing(text: str, at: int) -> int:
    match = _SPACING.match(text, at)
    return match.end() if match else at
