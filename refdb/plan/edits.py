"""The changes to a piece file that a finding calls for: each a word for it, and the text with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import ceil, floor, pi, sqrt

from refdb.frozen import dataclass
from refdb.judge import limits
from refdb.judge.piece.steps import Piece, Step
from refdb.judge.reason import Reason
from refdb.judge.rules import limit_of
from refdb.plan.piece_text import PieceText
from refdb.records import Glass
from refdb.store.reference import Reference

#: Metal is tried up to this much thicker than the piece has it at first, in tenths of a millimetre.
THICKER_TENTHS = 10
#: The coat that wire is set on, in the middle of `cloisonne-base`, and a dot that no misfit cracks [mm].
_BED_MM, _DOT_MM = 0.15, 2


@dataclass(frozen=True)
class Edit:
    """One change: the words for it, and the text with it.

    `sets` names the value that it sets, so that a later edit of the same takes its place; empty where steps are added
    or several values change. `metal_mm` is the thickness of the metal where that is set.
    """

    words: str
    text: PieceText
    sets: tuple[str | int, ...] = ()
    metal_mm: float = 0.0


def _set(words: str, text: PieceText, table: str, number: int, key: str, value: str, metal_mm: float = 0.0) -> Edit:
    """An edit that sets one value of one table."""
    return Edit(words, text.with_value(table, number, key, value), (table, number, key), metal_mm)


Maker = Callable[[Reference, PieceText, Piece, Reason], Iterator[Edit]]


def _cleaned(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    step, face = reason.subject.step, reason.subject.face
    if step is not None:
        yield Edit(f"clean the {face} before step {step}", text.with_step(step, {"do": '"clean"', "face": f'"{face}"'}))


def _masked(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    step, face = reason.subject.step, reason.subject.face
    if step is not None:
        yield Edit(f"mask the {face} before step {step}", text.with_step(step, {"do": '"mask"', "face": f'"{face}"'}))


def _said(key: str, value: str, words: str) -> Maker:
    """An edit that sets one word of the step that a finding is about."""

    def make(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
        if reason.subject.step is not None:
            number = reason.subject.step
            yield _set(words.format(step=number), text, "step", number, key, value)

    return make


def _fired_after(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """A fire right after the step, or after all, as hot as the glass there wants."""
    number = reason.subject.step or len(piece.steps)
    step = piece.steps[number - 1]
    glass = step.glass or next((s.glass for s in reversed(piece.steps[:number]) if s.glass), "")
    setting = _middle(ref.glass(glass)) if glass else None
    if setting is not None:
        fire = {"do": '"fire"', "kiln": f'"{setting:.0f} C"'}
        yield Edit(f"fire at {setting:.0f} °C after step {number}", text.with_step(number + 1, fire))


def _fired_before(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """A fire of the coat beneath before the leaf is laid."""
    number = reason.subject.step
    beneath = next((s for s in reversed(piece.steps[: (number or 1) - 1]) if s.do == "coat"), None)
    setting = _middle(ref.glass(beneath.glass)) if beneath is not None else None
    if number is not None and setting is not None:
        fire = {"do": '"fire"', "kiln": f'"{setting:.0f} C"'}
        yield Edit(f"fire at {setting:.0f} °C before step {number}", text.with_step(number, fire))


def _set_kiln(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """The setting of a fire to what each glass that is new in it wants."""
    number = reason.subject.step
    if number is None or piece.steps[number - 1].do != "fire":
        return
    new: list[str] = []
    for step in reversed(piece.steps[: number - 1]):
        if step.do == "fire":
            break
        new += [step.glass] if step.glass else []
    for glass in dict.fromkeys([*new, *([reason.subject.glass] if reason.subject.glass else [])]):
        record = ref.glass(glass)
        low, setting = record.band("fuse_low"), _middle(record)
        for kiln in {setting, low.value + 5 if low is not None else None} - {None}:
            words = f"set the kiln of step {number} to {kiln:.0f} °C"
            yield _set(words, text, "step", number, "kiln", f'"{kiln:.0f} C"')


def _lustre_fire(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """The setting of a fire after lustre to what film and glass stand."""
    number = reason.subject.step
    low = ref.glass(reason.subject.glass).band("fuse_low") if reason.subject.glass else None
    most_c = limit_of("lustre-hot").fine
    kiln = min(most_c, low.value if low is not None else most_c) - limits.RANGE_MARGIN_K
    if number is not None:
        words = f"set the kiln of step {number} to {kiln:.0f} °C"
        yield _set(words, text, "step", number, "kiln", f'"{kiln:.0f} C"')


def _minutes(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """Minutes in the fire by when its glass shines, or the longest that is usual."""
    number = reason.subject.step
    if number is None:
        return
    gloss = reason.values.get("gloss_min")
    minutes = limit_of("long-fire").fine if gloss is None else ceil(gloss * 2) / 2
    words = f"{minutes:g} minutes in the fire of step {number}"
    yield _set(words, text, "step", number, "minutes", f'"{minutes:g} min"')


def _cooled(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """Slow cooling after a fire for as long as its glass needs; told to five minutes where it is long."""
    number, least = reason.subject.step, reason.values["minutes"]
    if number is not None:
        minutes = least if least <= 20 else 5 * ceil(least / 5)
        words = f"{minutes} min of slow cooling in the closed kiln after the fire of step {number}"
        yield _set(words, text, "step", number, "cooling", f'"{minutes} min"')


def _thinner(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """A coat so much thinner that all glass together may cool in still air."""
    over_mm = reason.values["total_mm"] - limit_of("slow-cooling").fine
    for step in (s for s in piece.steps if s.do == "coat" and s.thickness_m is not None):
        assert step.thickness_m is not None
        mm = floor((step.thickness_m.value * 1e3 - over_mm) * 20 + 1e-6) / 20
        if over_mm > 0 and mm >= 0.1:
            yield _of_coat(text, step, mm)


def _coats(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """Every coat a little thinner or thicker, and the first one thin."""
    for step in (s for s in piece.steps if s.do == "coat" and s.thickness_m is not None):
        assert step.thickness_m is not None
        mm = step.thickness_m.value * 1e3
        others = {round(mm * share * 20) / 20 for share in (0.5, 0.67, 0.8, 1.25, 1.5, 2.0)} | {0.1}
        for other in sorted(others, key=lambda x: abs(x - mm)):
            if 0.1 <= other <= 1.0 and abs(other - mm) > 0.01:
                yield _of_coat(text, step, other)


def _of_coat(text: PieceText, step: Step, mm: float) -> Edit:
    words = f"{mm:.2f} mm of {step.glass} in step {step.number}"
    return _set(words, text, "step", step.number, "thickness", f'"{mm:.2f} mm"')


def _metal(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """Thicker metal, a tenth at a time."""
    first = int(piece.base.thickness_m.value * 1e4 + 1e-9) + 1
    for tenth in range(first, first + THICKER_TENTHS):
        mm = tenth / 10
        yield _set(f"metal of {mm:.1f} mm", text, "base", 1, "thickness", f'"{mm:.1f} mm"', mm)


def _even(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """A coat of one thickness, its middle; a thin one as thick as the limit."""
    step = piece.steps[(reason.subject.step or 1) - 1]
    if step.thickness_m is not None:
        least = limit_of(reason.rule).fine if limit_of(reason.rule).unit == "mm" else 0.0
        yield _of_coat(text, step, max(step.thickness_m.value * 1e3, least))


def _counter(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """Counter enamel: the glass of the bare face's other side, as thick, fired before that."""
    coats = [s for s in piece.steps if s.do == "coat" and s.thickness_m is not None]
    faces = {s.face for s in coats}
    if len(faces) != 1 or not coats:
        return
    bare = "back" if "front" in faces else "front"
    first = coats[0]
    total = sum(s.thickness_m.value for s in coats if s.thickness_m is not None) * 1e3
    setting = _middle(ref.glass(first.glass))
    if setting is None:
        return
    at = first.number
    fire = {"do": '"fire"', "kiln": f'"{setting:.0f} C"'}
    coat = {"do": '"coat"', "face": f'"{bare}"', "glass": f'"{first.glass}"', "thickness": f'"{total:.2f} mm"'}
    clean = {"do": '"clean"', "face": f'"{bare}"'}
    again = {"do": '"clean"', "face": f'"{first.face}"'}
    done = text.with_step(at, again).with_step(at, fire).with_step(at, coat).with_step(at, clean)
    yield Edit(f"{total:.2f} mm of {first.glass} on the {bare} first, and a fire of it", done)


def _other_glass(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """Another class of the same colour for the glass that a finding is about."""
    key = reason.subject.glass
    if not key:
        return
    glass = ref.glass(key)
    looks = (glass.colourant, glass.optical, glass.role)
    for other in ref.materials("glass"):
        if isinstance(other, Glass) and other.key != key and (other.colourant, other.optical, other.role) == looks:
            done = text
            for step in piece.steps:
                if step.glass == key:
                    done = done.with_value("step", step.number, "glass", f'"{other.key}"')
            yield Edit(f"put {other.key} in place of {key}", done)


def _bedded(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """A fused coat under wire that lies on bare metal, of the first glass that its face gets."""
    number, face = reason.subject.step, reason.subject.face
    if number is None or reason.case == "wires":
        return
    glass = next((s.glass for s in piece.steps if s.do == "coat" and s.face == face), "")
    setting = _middle(ref.glass(glass)) if glass else None
    if setting is not None:
        coat = {"do": '"coat"', "face": f'"{face}"', "glass": f'"{glass}"', "thickness": f'"{_BED_MM} mm"'}
        fire = {"do": '"fire"', "kiln": f'"{setting:.0f} C"'}
        done = text.with_step(number, fire).with_step(number, coat)
        yield Edit(f"{_BED_MM} mm of {glass} on the {face} before step {number}, and a fire of it", done)


def _smaller_opening(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """Openings as large as powder spans, to the whole millimetre."""
    number, most = reason.subject.step, int(2.0 * sqrt(limit_of("opening-large").fine / pi))
    if number is not None:
        yield Edit(f"openings of {most} mm in step {number}", text.with_value("step", number, "size", f'"{most} mm"'))


def _like_its_glass(ref: Reference, text: PieceText, piece: Piece, reason: Reason) -> Iterator[Edit]:
    """What is set in as a dot, or of the glass that holds it."""
    number, under = reason.subject.step, reason.subject.under
    if number is None:
        return
    yield Edit(
        f"no more than {_DOT_MM} mm across in step {number}", text.with_value("step", number, "size", f'"{_DOT_MM} mm"')
    )
    if under:
        yield Edit(f"set in {under} in step {number}", text.with_value("step", number, "glass", f'"{under}"'))


def _middle(glass: Glass) -> float | None:
    low, high = glass.band("fuse_low"), glass.band("fuse_high")
    return None if low is None or high is None else round((low.value + high.value) / 2)


#: Rules whose deed is written into the file even where the piece holds without it.
WANTED = ("slow-cooling",)
_BUILD: tuple[Maker, ...] = (_coats, _metal, _counter)
#: What may be tried against a finding, by its rule.
FOR: dict[str, tuple[Maker, ...]] = {
    "clean-metal": (_cleaned,),
    "scale-under-glass": (_cleaned,),
    "bare-face-scale": (_masked,),
    "never-fired": (_fired_after,),
    "stoned-and-left": (_fired_after,),
    "leaf-on-powder": (_fired_before,),
    "setting": (_set_kiln, _other_glass),
    "setting-again": (_set_kiln,),
    "metal-melts": (_set_kiln, _other_glass),
    "leaf-melts": (_set_kiln,),
    "join-in-fire": (_set_kiln,),
    "short-fire": (_minutes,),
    "past-gloss": (_minutes,),
    "long-fire": (_minutes,),
    "unwashed": (_said("washed", "true", "wash the glass of step {step}"),),
    "leaf-unwashed-cover": (_said("washed", "true", "wash the glass of step {step}"),),
    "damp-coat": (_said("dried", "true", "dry step {step} before the fire"),),
    "foil-unpricked": (_said("pierced", "true", "prick the foil of step {step}"),),
    "leaf-part-covered": (_said("coverage", "1.0", "carry the coat of step {step} over the whole face"),),
    "bare-beside-glass": (_said("coverage", "1.0", "carry the coat of step {step} over the whole face"),),
    "uneven-coat": (_even,),
    "leaf-uneven-cover": (_even,),
    "thin-first-coat": (_even,),
    "thin-over-colour": (_even,),
    "thin-opal": (_even,),
    "burn-off": (_said("vented", "true", "burn off with the kiln vented in step {step}"),),
    "wire-contact": (_bedded,),
    "opening-large": (_smaller_opening,),
    "opening-unbacked": (_said("backing", '"mica"', "back the openings of step {step} with mica"),),
    "opening-etch": (_said("backing", '"mica"', "back the openings of step {step} with mica"),),
    "inset-misfit": (_like_its_glass,),
    "wire-falls": (_said("bent", "true", "bend the wire of step {step} so that it stands"),),
    "slip-rewet": (_fired_before,),
    "late-on-glass": (_fired_before,),
    "recess-floor": (_metal,),
    "lustre-hot": (_lustre_fire,),
    "gap": (_other_glass,),
    "gap-narrow": (_other_glass,),
    "pull-through": (_other_glass,),
    "slow-cooling": (_cooled, _thinner),
    **dict.fromkeys(
        ("tension-between", "tension-lasting", "glass-of-metal", "faces-alike", "one-face", "release", "least-metal"),
        _BUILD,
    ),
}
