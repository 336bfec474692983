"""The question of a glass on a metal, as people type it or a program gives it, and the small piece it becomes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypedDict, Unpack

from refdb.errors import BadInput
from refdb.frozen import dataclass, field, replace
from refdb.judge.clay import NO_CARDS, schedule_told
from refdb.judge.fit.build import Build, firings
from refdb.judge.limits import OWN_EXPANSION_PPM_PER_K
from refdb.judge.naming import Taking
from refdb.judge.own import kiln
from refdb.judge.piece.steps import SHAPES, Base, Piece, Step, in_mm
from refdb.quantities import (
    Band,
    Thickness,
    duration_min,
    expansion_per_k,
    length_m,
    span_c,
    temperature_c,
    temperature_difference_band_k,
    thickness,
)
from refdb.records import Glass, KilnOffset, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: A length or a difference of temperature as a program may give it: in SI, as people type it, or as a band in SI.
Given = float | str | Band
#: What may be typed besides the glass and the metal.
FIELDS = (
    "metal_thickness",
    "front",
    "back",
    "shape",
    "first",
    "rise",
    "kiln",
    "kiln_offset",
    "expansion",
    "span",
    "cubical",
    "order",
    "between",
    "kiln_most",
)


def _as_typed(length_m: float) -> str:
    return f"{length_m * 1e3:g} mm"


#: What stands where nothing is typed: the build of `Build()`, which is the one home of these figures.
STANDARD_TEXTS = {
    "metal_thickness": _as_typed(Build().metal_m.value),
    "front": _as_typed(Build().front_m.value),
    "back": _as_typed(Build().back_m.value),
    "shape": Build().shape,
}


@dataclass(frozen=True)
class Question:
    """A question as it was understood.

    `note` says how the thickness of the metal was taken where that is not plain, `taken` how names were, as
    `judge.naming.Taking` has it.
    """

    glass: Glass
    metal: Metal
    build: Build = field(default_factory=Build)
    note: str = ""
    taken: Mapping[str, Any] = field(default_factory=dict, compare=False)

    @property
    def piece(self) -> Piece:
        """The question as a small piece: its coats and fires in the order of `firings`, and nothing of handling.

        Coats of one face are drawn as one thickness, however they are built up.
        """
        build, steps = self.build, list[Step]()
        laid = {"front": Band.exact(0.0), "back": Band.exact(0.0)}
        for state in firings(build):
            for face, target in (("front", state.front_m), ("back", state.back_m)):
                more = _less(target, laid[face])
                if more.value > 0:
                    steps.append(
                        Step(
                            len(steps) + 1,
                            "coat",
                            face,
                            self.glass.key,
                            thickness_m=more,
                            drawn_with=f"{face} thickness",
                        )
                    )
                laid[face] = target
            steps.append(Step(len(steps) + 1, "fire", kiln_c=build.kiln_c, name=state.name))
        return Piece(
            "",
            0.0,
            0.0,
            Base(self.metal.key, build.metal_m),
            tuple(steps),
            shape=build.shape,
            rise_m=build.rise_m,
            is_question=True,
            hours_between=build.hours_between,
            kiln_most_c=build.kiln_most_c,
        )

    def as_dict(self) -> dict[str, Any]:
        """The question as an answer repeats it."""
        build, glass = self.build, self.glass
        plain: dict[str, Any] = {
            "glass": glass.key,
            "glass_label": glass.label,
            "metal": self.metal.key,
            "metal_label": self.metal.label,
            "metal_thickness_mm": in_mm(build.metal_m),
            "front_mm": in_mm(build.front_m),
            "back_mm": in_mm(build.back_m),
            "first_coat_mm": round(build.first_m * 1e3, 4),
            "shape": build.shape,
            "kiln_c": build.kiln_c,
            **kiln.question_of(build.kiln_offset_k, build.kiln_rests_on),
        }
        schedule = schedule_told(self.metal)
        if schedule:
            plain["clay_schedule"] = schedule
        if build.order:
            plain["order"] = build.order
        plain |= {"hours_between": build.hours_between, "kiln_most_c": build.kiln_most_c}
        if build.shape == "domed":
            plain["rise_mm"] = in_mm(build.rise_m)
        row = glass.value("expansion")
        if row is not None:
            # A maker's figure that was typed is not known to have been measured on this jar.
            basis = "as given" if row.source == "own-figure" and row.basis == "measured" else row.basis
            plain["glass_expansion"] = {
                "ppm_per_k": {"value": row.band.value, "low": row.band.low, "high": row.band.high},
                "span_c": [row.temp_low_c, row.temp_high_c],
                "basis": basis,
            }
        return plain | ({"taken": dict(self.taken)} if self.taken else {})


def _less(band: Band, less: Band) -> Band:
    return Band(band.value - less.value, band.low - less.low, band.high - less.high)


class BuildGiven(TypedDict, total=False):
    """A build as a program gives it; what each means stands at `refdb.suits`."""

    metal_thickness_m: Given | None
    front_m: Given | None
    back_m: Given | None
    first_m: float | str | None
    shape: str
    rise_m: Given | None
    kiln_c: float | str | None
    kiln_offset_k: Given
    kiln_rests_on: str
    order: str
    hours_between: float
    kiln_most_c: float | str


def given(ref: Reference, glass: str | Glass, metal: str | Metal, **build: Unpack[BuildGiven]) -> Question:
    """A question as a program gives it.

    Raises
    ------
    NotFound, BadInput, StoreUnusable
    """
    names = Taking(ref)
    records = [(names.glass, glass, Glass, "glass"), (names.sheet, metal, Metal, "metal")]
    found: list[Any] = []
    for look_up, one, kind, where in records:
        if not isinstance(one, (str, kind)):
            raise BadInput("is neither a name nor a record", where, f"give the name or the key of a {where}")
        found.append(look_up(one) if isinstance(one, str) else one)
    plain = Build()
    sheet = _thickness(build.get("metal_thickness_m"), "metal_thickness_m", found[1])
    if names.thickness:
        said = metal_thickness(names.thickness, found[1], "metal")
        sheet = said if sheet is None else _alike(said, sheet, names, "metal_thickness_m")
    front, back, rise, first = (
        _thickness(value, where)
        for value, where in (
            (build.get("front_m"), "front_m"),
            (build.get("back_m"), "back_m"),
            (build.get("rise_m"), "rise_m"),
            (build.get("first_m"), "first_m"),
        )
    )
    kiln_c = build.get("kiln_c")
    asked_build = Build(
        plain.metal_m if sheet is None else sheet.band,
        plain.front_m if front is None else front.band,
        plain.back_m if back is None else back.band,
        plain.first_m if first is None else first.band.value,
        build.get("shape", plain.shape),
        plain.rise_m if rise is None else rise.band,
        temperature_c(kiln_c, where="kiln_c") if isinstance(kiln_c, str) else _number(kiln_c, "kiln_c"),
        _difference(build.get("kiln_offset_k", plain.kiln_offset_k)),
        build.get("kiln_rests_on", plain.kiln_rests_on),
        build.get("order", plain.order),
        _sure(build.get("hours_between", plain.hours_between), "hours_between", "hours"),
        temperature_c(most, where="kiln_most_c")
        if isinstance(most := build.get("kiln_most_c", plain.kiln_most_c), str)
        else _sure(most, "kiln_most_c", "°C"),
    )
    return Question(found[0], found[1], asked_build.checked(), "" if sheet is None else sheet.note, names.taken)


def thickness_once(names: Taking, typed: str, metal: Metal, where: str) -> str:
    """The thickness of the metal as it was typed or said with the metal; BadInput where both are there and differ."""
    if typed and names.thickness:
        _alike(metal_thickness(names.thickness, metal, where), metal_thickness(typed, metal, where), names, where)
    return typed or names.thickness


def _alike(said: Thickness, given: Thickness, names: Taking, where: str) -> Thickness:
    """The thickness that was given and that was said with the metal; BadInput where they differ."""
    if said.band != given.band:
        raise BadInput(f"the metal is named with another thickness, {names.thickness}", where, "give it once")
    return given


def _thickness(value: Given | None, where: str, metal: Metal | None = None) -> Thickness | None:
    if value is None:
        return None
    if isinstance(value, str):
        return (
            metal_thickness(value, metal, where) if metal is not None else thickness(value, where=where, zero_ok=True)
        )
    return Thickness(_band(value, where, "a length in metres, text such as '0.8 mm', or a Band"), "", "")


def _difference(value: Given) -> Band:
    if isinstance(value, str):
        return temperature_difference_band_k(value, where="kiln_offset_k")
    return _band(value, "kiln_offset_k", "kelvins, text such as '10 K', or a Band")


def _band(value: Any, where: str, todo: str) -> Band:
    if isinstance(value, Band):
        return value
    return Band.exact(_sure(value, where, todo))


def _sure(value: Any, where: str, todo: str) -> float:
    number = _number(value, where, todo)
    if number is None:
        raise BadInput("is nothing", where, f"give {todo}")
    return number


def _number(value: Any, where: str, todo: str = "a number") -> float | None:
    if value is None:
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        raise BadInput("is no number", where, f"give {todo}") from None
    if number != number or number in (float("inf"), float("-inf")):
        raise BadInput("is not finite", where, f"give {todo}")
    return number


def asked(
    glass: Glass,
    metal: Metal,
    texts: Mapping[str, str],
    where: Callable[[str], str],
    own_kiln: KilnOffset | None = None,
    names: Taking | None = None,
) -> Question:
    """Read a question as people type it.

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
    names : Taking, optional
        By what names the glass and the metal were looked up; a thickness said with the metal holds where none is typed.

    Raises
    ------
    BadInput
        Something cannot be read, or the build cannot be fired.
    """
    typed = {name: text for name, text in texts.items() if text.strip()}
    shape = typed.get("shape", STANDARD_TEXTS["shape"]).strip().lower()
    if shape not in SHAPES:
        raise BadInput(f"no shape is called '{shape[:40]}'", where("shape"), "use flat or domed")
    sheet_text = typed.get("metal_thickness", "")
    if names is not None:
        sheet_text = thickness_once(names, sheet_text, metal, where("metal_thickness"))
    sheet = metal_thickness(sheet_text or STANDARD_TEXTS["metal_thickness"], metal, where("metal_thickness"))
    front, back = (
        thickness(typed.get(name, STANDARD_TEXTS[name]), where=where(name), zero_ok=True).band
        for name in ("front", "back")
    )
    if front.value == 0 and back.value == 0:
        raise BadInput(
            "there is no glass on either face",
            f"{where('front')} and {where('back')}",
            "give one of them, such as 0.3mm",
        )
    plain = Build()
    first_m = thickness(typed["first"], where=where("first")).band.value if "first" in typed else plain.first_m
    if "rise" in typed and shape == "flat":
        raise BadInput("a flat piece has no rise", where("rise"), f"set {where('shape')} to domed")
    rise = Band.exact(length_m(typed["rise"], where=where("rise"))) if "rise" in typed else plain.rise_m
    build = _fired(
        replace(plain, metal_m=sheet.band, front_m=front, back_m=back, first_m=first_m), typed, where, own_kiln
    )
    build = replace(build, shape=shape, rise_m=rise).checked()
    taken = names.taken if names is not None else {}
    return Question(_with_own_figure(glass, typed, where), metal, build, sheet.note, taken)


def _fired(build: Build, typed: Mapping[str, str], where: Callable[[str], str], own_kiln: KilnOffset | None) -> Build:
    """The build with what was typed of its firings: the kiln, the order of faces and the wait between them."""
    kiln_c = temperature_c(typed["kiln"], where=where("kiln")) if "kiln" in typed else None
    kept = own_kiln if kiln_c is not None and "kiln_offset" not in typed else None
    build = replace(build, kiln_c=kiln_c, kiln_offset_k=kiln.offset_of(kept), kiln_rests_on=kiln.rests_on(kept))
    if "kiln_offset" in typed:
        offset_k = temperature_difference_band_k(typed["kiln_offset"], where=where("kiln_offset"))
        build = replace(build, kiln_offset_k=offset_k)
    if "between" in typed:
        build = replace(build, hours_between=duration_min(typed["between"], where=where("between")) / 60.0)
    if "kiln_most" in typed:
        build = replace(build, kiln_most_c=temperature_c(typed["kiln_most"], where=where("kiln_most")))
        if kiln_c is not None and kiln_c > build.kiln_most_c:
            told = f"the kiln is set to {kiln_c:.0f} °C, and {build.kiln_most_c:.0f} °C is the hottest that it goes"
            raise BadInput(told, where("kiln_most"), "change one of the two")
    return replace(build, order=typed.get("order", "").strip().lower())


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
    found = thickness(text, where=where)
    if "card" in found.said.lower():
        told = f"{found.note.rstrip('.')}; " if found.note else ""
        found = replace(found, note=told + NO_CARDS)
    return found


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
