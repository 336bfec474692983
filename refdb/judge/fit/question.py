"""The question of a glass on a metal as people type it, turned into records and a build."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from refdb.errors import BadInput
from refdb.judge.fit.build import SHAPES, Build
from refdb.judge.limits import DOME_RISE_M, FIRST_COAT_M, OWN_EXPANSION_PPM_PER_K
from refdb.judge.own.kiln import offset_of, rests_on
from refdb.quantities import (
    Band,
    Thickness,
    expansion_per_k,
    length_m,
    span_c,
    temperature_c,
    temperature_difference_band_k,
    thickness,
)
from refdb.records import Glass, KilnOffset, Metal

#: What may be typed besides the glass and the metal, and what stands where nothing is typed.
STANDARD_TEXTS = {"metal_thickness": "0.8 mm", "front": "0.3 mm", "back": "0.3 mm", "shape": "flat"}
FIELDS = (*STANDARD_TEXTS, "first", "rise", "kiln", "kiln_offset", "expansion", "span", "cubical")


@dataclass(frozen=True)
class Asked:
    """A question as it was understood; `note` says how the thickness of the metal was taken where that is not plain."""

    glass: Glass
    metal: Metal
    build: Build
    note: str

    @property
    def arguments(self) -> dict[str, Any]:
        """The build as `refdb.suits` takes it."""
        b = self.build
        return {
            "metal_thickness_m": b.metal_m,
            "front_m": b.front_m,
            "back_m": b.back_m,
            "first_m": b.first_m,
            "shape": b.shape,
            "rise_m": b.rise_m,
            "kiln_c": b.kiln_c,
            "kiln_offset_k": b.kiln_offset_k,
            "kiln_rests_on": b.kiln_rests_on,
        }


def asked(
    glass: Glass,
    metal: Metal,
    texts: Mapping[str, str],
    where: Callable[[str], str],
    own_kiln: KilnOffset | None = None,
) -> Asked:
    """Read a question.

    Parameters
    ----------
    glass, metal : Glass, Metal
        Records of the store.
    texts : mapping
        What was typed, by the names of `FIELDS`; a name that is absent or empty takes its standard.
    where : callable
        How a field is called where it was typed, for messages.
    own_kiln : KilnOffset, optional
        What is written down of the person's kiln; it holds where a setting is asked about and no offset is typed.

    Raises
    ------
    BadInput
        Something cannot be read, or the build cannot be fired.
    """
    given = {name: text for name, text in texts.items() if text.strip()}
    shape = given.get("shape", "flat").strip().lower()
    if shape not in SHAPES:
        raise BadInput(f"no shape is called '{shape[:40]}'", where("shape"), "use flat or domed")
    sheet = metal_thickness(
        given.get("metal_thickness", STANDARD_TEXTS["metal_thickness"]), metal, where("metal_thickness")
    )
    front, back = (
        thickness(given.get(name, STANDARD_TEXTS[name]), where=where(name), zero_ok=True).band
        for name in ("front", "back")
    )
    if front.value == 0 and back.value == 0:
        raise BadInput(
            "there is no glass on either face",
            f"{where('front')} and {where('back')}",
            "give one of them, such as 0.3mm",
        )
    first_m = thickness(given["first"], where=where("first")).band.value if "first" in given else FIRST_COAT_M
    if "rise" in given and shape == "flat":
        raise BadInput("a flat piece has no rise", where("rise"), f"set {where('shape')} to domed")
    rise = Band.exact(length_m(given["rise"], where=where("rise"))) if "rise" in given else Band(*DOME_RISE_M)
    kiln_c = temperature_c(given["kiln"], where=where("kiln")) if "kiln" in given else None
    kept = own_kiln if kiln_c is not None and "kiln_offset" not in given else None
    offset_k = (
        temperature_difference_band_k(given["kiln_offset"], where=where("kiln_offset"))
        if "kiln_offset" in given
        else offset_of(kept)
    )
    build = Build(sheet.band, front, back, first_m, shape, rise, kiln_c, offset_k, rests_on(kept)).checked()
    return Asked(_with_own_figure(glass, given, where), metal, build, sheet.note)


def metal_thickness(text: str, metal: Metal, where: str) -> Thickness:
    """The thickness after firing; cards of a clay shrink by what the store knows of it, those of sheet stay."""
    shrinkage = metal.band("shrinkage")
    if metal.form == "clay" and shrinkage is not None:
        return thickness(text, where=where, shrinkage=shrinkage.scaled(0.01))
    if metal.form == "clay" and "card" in text.lower():
        raise BadInput(
            "the shrinkage of this clay is not known, so cards cannot be counted",
            where,
            "give the thickness after firing, such as 0.7mm",
        )
    return thickness(text, where=where)


def _with_own_figure(glass: Glass, given: Mapping[str, str], where: Callable[[str], str]) -> Glass:
    """The glass with the expansion that was typed, or as it is when none was."""
    if "expansion" not in given:
        for name in ("span", "cubical"):
            if name in given:
                raise BadInput(
                    "there is no figure for it to belong to",
                    where(name),
                    f'give {where("expansion")} too, such as "12.4 ppm/K"',
                )
        return glass
    if "span" not in given:
        raise BadInput(
            "an expansion says little without its span of temperature",
            where("expansion"),
            f"add the maker's span in {where('span')}, such as 20-400C",
        )
    band = expansion_per_k(given["expansion"], cubical="cubical" in given, where=where("expansion"))
    shown = band.scaled(1e6)
    if shown.is_exact:
        # A single figure is no surer than the dilatometer and the batch.
        apart = min(OWN_EXPANSION_PPM_PER_K, shown.value / 2)
        shown = Band(shown.value, shown.value - apart, shown.value + apart)
    return glass.with_expansion(shown, span_c(given["span"], where=where("span")))
