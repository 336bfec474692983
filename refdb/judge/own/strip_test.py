"""A bent strip from records and measures: what the strip test needs, with an error for everything not exactly known."""

from __future__ import annotations

import math

from refdb.errors import BadInput
from refdb.frozen import dataclass, replace
from refdb.quantities.band import Band
from refdb.records import Glass, Metal
from refdb.science.inference.strip import Errors, Strip
from refdb.science.normal import NORMAL_END
from refdb.science.plate import HardeningYield, Layer

#: Standard deviations of what callipers and a rule give where no range is told (from memory): metal, fired coat [m].
METAL_ERROR_M, COAT_ERROR_M = 0.01e-3, 0.02e-3
#: The same of a bow measured with a rule or feeler gauges.
BOW_ERROR_M = 1e-4
#: And of a set point that was given without a range [K].
SET_ERROR_K = 10.0
_OF_METAL = ("youngs_modulus", "poisson_ratio", "flow_stress", "hardening", "flow_ratio_500c", "expansion")
_OF_GLASS = ("youngs_modulus", "poisson_ratio", "set_point")


@dataclass(frozen=True)
class Measured:
    """What was measured of a strip [m]; `bow_m` above zero with the glass outside; `set_c` where it is known."""

    metal_m: Band
    glass_m: Band
    length_m: float
    bow_m: float
    bow_before_m: float = 0.0
    width_m: float | None = None
    bow_error_m: float = BOW_ERROR_M
    set_c: Band | None = None


def strip_of(glass: Glass | None, metal: Metal, measured: Measured, stand_in: Glass) -> tuple[Strip, tuple[str, ...]]:
    """The strip for `refdb.science.inference.strip.read_strips`, and what was taken for granted, in words.

    Parameters
    ----------
    glass : Glass or None
        What the coat is, or is like; its expansion is not looked at.
    metal : Metal
    measured : Measured
    stand_in : Glass
        The class whose figures stand in where those of the glass are not known.

    Raises
    ------
    BadInput
        The metal lacks a figure.
    """
    gone = [name.replace("_", " ") for name in _OF_METAL if metal.value(name) is None]
    if gone or len(metal.points) < 2:
        raise BadInput(
            f"not known of it: {', '.join(gone) or 'its expansion curve'}",
            metal.key,
            "make the strip of a metal whose figures are known, such as copper-sheet",
        )
    of_metal = {name: _band(metal, name) for name in _OF_METAL}
    of_glass, taken = {}, []
    for name in _OF_GLASS:
        whose = glass if glass is not None and glass.value(name) is not None else stand_in
        of_glass[name] = _band(whose, name)
        if whose is stand_in and not (name == "set_point" and measured.set_c is not None):
            taken.append(name.replace("_", " ").replace("youngs", "Young's").replace("poisson", "Poisson's"))
    notes = [f"{_listed(taken)} of {stand_in.key}, for nothing else is known"] if taken else []
    set_c = measured.set_c or of_glass["set_point"]
    set_error_k = SET_ERROR_K if set_c.is_exact else (set_c.high - set_c.low) / 2 / NORMAL_END
    notes.append(
        f"set point {set_c.value:.0f} °C, {set_c.value - NORMAL_END * set_error_k:.0f} to "
        f"{set_c.value + NORMAL_END * set_error_k:.0f}"
    )
    flow = of_metal["flow_stress"]
    notes.append(
        f"the metal soft, as it is after firing: it yields at {flow.low / 1e6:.0f} to {flow.high / 1e6:.0f} MPa"
    )
    errors = Errors(
        measured.bow_error_m,
        set_error_k,
        _share(flow),
        _thickness_share(measured.metal_m, METAL_ERROR_M),
        _thickness_share(measured.glass_m, COAT_ERROR_M),
        _share(of_metal["youngs_modulus"]),
        _share(of_glass["youngs_modulus"]),
        _share(of_metal["expansion"]),
    )
    sheet, coat = _layers(metal, measured, of_metal, of_glass, set_c.value)
    strip = Strip(measured.bow_m, measured.length_m, sheet, coat, measured.bow_before_m, measured.width_m, errors)
    return strip, tuple(notes)


def _layers(
    metal: Metal, measured: Measured, of_metal: dict[str, Band], of_glass: dict[str, Band], set_c: float
) -> tuple[Layer, Layer]:
    """The metal and the coat of a strip, as the plate takes them."""
    flow = of_metal["flow_stress"]
    sheet = Layer(
        metal.key,
        measured.metal_m.value,
        of_metal["youngs_modulus"].value,
        of_metal["poisson_ratio"].value,
        metal.curve,
        None,
        HardeningYield(flow.value, of_metal["hardening"].value, of_metal["flow_ratio_500c"].value),
    )
    coat = Layer(
        "glass",
        measured.glass_m.value,
        of_glass["youngs_modulus"].value,
        of_glass["poisson_ratio"].value,
        lambda temp_c: 0.0 * temp_c,
        set_c,
    )
    return sheet, coat


def _band(record: Glass | Metal, name: str) -> Band:
    band = record.band(name)
    assert band is not None
    return band


def _share(band: Band) -> float:
    """Standard deviation of the logarithm, from the ends of a band."""
    return math.log(band.high / band.low) / 2 / NORMAL_END if band.low > 0 else 0.0


def _thickness_share(band: Band, error_m: float) -> float:
    return error_m / band.value if band.is_exact else _share(band)


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def same_glass(strips: list[Strip]) -> list[Strip]:
    """Strips of one glass with the set point and stiffness of the last, so that they are weighed as one glass."""
    last = strips[-1]
    return [
        replace(
            s,
            glass=replace(
                s.glass,
                set_c=last.glass.set_c,
                youngs_modulus_pa=last.glass.youngs_modulus_pa,
                poisson_ratio=last.glass.poisson_ratio,
            ),
            errors=replace(s.errors, set_k=last.errors.set_k, stiff_glass=last.errors.stiff_glass),
        )
        for s in strips
    ]
