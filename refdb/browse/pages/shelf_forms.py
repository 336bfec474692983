"""What is written down on the page of the shelf: a jar, tile, strip or firing, read strictly, kept in one change."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from refdb.browse.pages.printed import without_options
from refdb.browse.server.query import Busy
from refdb.browse.server.writing import PATIENCE_S, Writer
from refdb.browse.site import Site, is_yours
from refdb.errors import Ambiguous, BadInput, NotFound, StoreUnusable
from refdb.judge.naming import Taking
from refdb.plan.own.firings import firing_row, keep_firings
from refdb.plan.own.materials import clear_alike, known_keys, material_row
from refdb.plan.own.strips import keep_strip, measured_of, read_with_earlier, strip_row
from refdb.plan.own.tiles import tile_row
from refdb.quantities.forgiving import completed
from refdb.records import Glass
from refdb.store.workshop.cells import plain
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.keys import PREFIX

Record = TypeVar("Record")
#: How the fields of each form are called, in their order.
LABELS: dict[str, dict[str, str]] = {
    "tile": {
        "glass": "glass",
        "metal": "metal",
        "outcome": "what came of it",
        "showed": "when it showed",
        "kiln": "kiln",
        "minutes": "minutes",
        "front": "glass, front",
        "back": "glass, back",
        "metal_thickness": "metal thickness",
        "date": "fired on",
        "note": "whatever else",
    },
    "strip": {
        "glass": "jar",
        "metal": "metal of the strip",
        "metal_thickness": "metal thickness",
        "glass_thickness": "fired coat",
        "length": "length",
        "bow": "bow",
        "bow_before": "bow before firing",
        "note": "whatever else",
    },
    "firing": {
        "glass": "jar",
        "metal": "on",
        "kiln": "kiln set to",
        "minutes": "seen after",
        "metal_thickness": "metal thickness",
        "result": "what was seen",
        "date": "fired on",
    },
    "glass": {
        "name": "what you call it",
        "like": "most like",
        "optical": "look",
        "hardness": "hardness",
        "lead": "lead",
        "cadmium": "cadmium",
        "expansion": "expansion",
        "span": "span of the expansion",
        "cubical": "cubical",
        "fuses": "fires at",
        "basis": "what the figures rest on",
        "note": "whatever else",
    },
}
#: What a bare number is taken for, and what stands behind the field.
UNITS = {
    "kiln": "C",
    "minutes": "min",
    "expansion": "ppm/K",
    **dict.fromkeys(("span", "fuses"), "C"),
    **dict.fromkeys(("front", "back", "metal_thickness", "glass_thickness", "length", "bow", "bow_before"), "mm"),
}
#: Fields whose text is the person's own.
_AS_TYPED = frozenset({"name", "note"})
SECRET = "key"
#: What a link may fill in of the form of a tile.
FILLED = ("glass", "metal", "metal_thickness", "front", "back", "kiln")
#: What the undoing of a record is sent with.
UNDO = ("kind", "number")


class WrongField(BadInput):
    """A form that cannot be taken; `field` is the name of the field that is wrong, or empty."""

    def __init__(self, fault: BadInput | NotFound, labels: Mapping[str, str]) -> None:
        super().__init__(fault.what, fault.where, without_options(fault.todo or ""))
        where = fault.where or ""
        # The longest, for "glass" also begins "glass, front".
        held = [name for name, label in labels.items() if where == name or where.startswith(label)]
        self.field = max(held, key=lambda name: len(labels[name]), default="")


def kept(site: Site, writer: Writer, kind: str, form: Mapping[str, str]) -> str:
    """Write a record down and give its name back, such as tile:4, or glass:jar-12.

    Raises
    ------
    WrongField
        Something cannot be read, or is not known; nothing is then written.
    Busy
        Another program is writing.
    """
    labels = LABELS[kind]
    texts = {
        name: text.strip() if name in _AS_TYPED else completed(text, UNITS.get(name, ""))
        for name, text in form.items()
        if name in labels and text.strip()
    }
    try:
        for name in ("glass", "metal"):
            if name in labels and name not in texts:
                raise BadInput("is not chosen", labels[name], "choose one")
        return f"{kind}:{_KEEP[kind](site, writer, texts, labels.__getitem__)}"
    except (BadInput, NotFound) as fault:
        raise WrongField(fault, labels) from None
    except StoreUnusable as fault:
        raise Busy(f"your shelf cannot be written just now ({fault.what})", todo="send it again in a moment") from None


def _jar_row(site: Site, writer: Writer, texts: dict[str, str], where: Callable[[str], str]) -> str:
    """A jar, checked as the command checks it; its class follows from hardness and lead where none is chosen."""
    if "name" not in texts:
        raise BadInput("is missing", where("name"), "give one, such as Jar 12")
    if "expansion" in texts and "span" not in texts:
        raise BadInput("an expansion says little without its span", where("span"), "give the maker's, such as 20-400")
    if texts.get("cubical", "yes") != "yes":
        raise BadInput("is not known here", where("cubical"), "tick it, or leave it")
    known = known_keys(site.ref)
    like = texts.get("like", "")
    like = _class(site, like, where("like")) if like else clear_alike(texts, known["glass"])
    if like and like not in known["glass"]:
        raise BadInput("is a jar of yours, not a class of the store", where("like"), "choose a class")
    row = material_row("glass", texts | ({"like": like} if like else {}), known, where=where)
    with Workshop(writer.path, write=True, patience_s=PATIENCE_S) as shop:
        try:
            return str(shop.add("glass", row)["key"])
        except BadInput as fault:
            raise BadInput(fault.what, where("name"), "give another") from None


def _class(site: Site, text: str, where: str) -> str:
    return _taken(lambda name, at: Taking(site.ref).key(name, "glass", at), text, where)


def _tile(site: Site, writer: Writer, texts: dict[str, str], where: Callable[[str], str]) -> int:
    glass, metal = _glass(site, texts, where), _metal(site, texts, where)
    rest = {name: text for name, text in texts.items() if name not in ("glass", "metal")}
    row = tile_row(rest, glass.key, site.ref.metal(metal), where)
    with Workshop(writer.path, write=True, patience_s=PATIENCE_S) as shop:
        return int(shop.add("tile", row)["number"])


def _strip(site: Site, writer: Writer, texts: dict[str, str], where: Callable[[str], str]) -> int:
    jar = _jar(site, texts, where)
    metal = site.ref.metal(_metal(site, texts, where))
    if "bow" not in texts and {"metal_thickness", "glass_thickness", "length"} <= set(texts):
        raise BadInput("is not given", where("bow"), "measure it, and give it in mm")
    measured = measured_of(texts, where)
    reading, _, together = read_with_earlier(site.ref, measured, metal, jar, jar)
    note = plain(texts["note"], where("note")) if "note" in texts else None
    row = strip_row(jar.key, metal.key, measured, reading.triple, note)

    def placed(name: str) -> str:
        # An expansion beyond what glass can have comes of the bow.
        return where(name if name in texts else "bow")

    return int(keep_strip(writer.path, row, jar, together, placed, PATIENCE_S)["number"])


def _firing(site: Site, writer: Writer, texts: dict[str, str], where: Callable[[str], str]) -> int:
    jar = _jar(site, texts, where)
    rest = texts | {"metal": _metal(site, texts, where)}
    row = firing_row(site.ref, jar, rest, Taking(site.ref), where)
    with Workshop(writer.path, write=True, patience_s=PATIENCE_S) as shop, shop.change():
        return int(keep_firings(shop, jar.key, False, [row], where("kiln"))[0]["number"])


_KEEP: dict[str, Callable[..., int | str]] = {"tile": _tile, "strip": _strip, "firing": _firing, "glass": _jar_row}


def _glass(site: Site, texts: Mapping[str, str], where: Callable[[str], str]) -> Glass:
    return _taken(Taking(site.ref).glass, texts["glass"], where("glass"))


def _metal(site: Site, texts: Mapping[str, str], where: Callable[[str], str]) -> str:
    return _taken(Taking(site.ref).metal, texts["metal"], where("metal")).key


def _taken(take: Callable[[str, str], Record], text: str, where: str) -> Record:
    """The record that a text names; an error stands at the field, and says nothing of commands that list."""
    try:
        return take(text, where)
    except (Ambiguous, NotFound) as fault:
        raise BadInput(fault.what, where, "choose one") from None


def _jar(site: Site, texts: Mapping[str, str], where: Callable[[str], str]) -> Glass:
    jar = _glass(site, texts, where)
    if not is_yours(jar):
        raise BadInput("is no jar of yours", where("glass"), "choose a jar of your own")
    return jar


def undone(site: Site, writer: Writer, form: Mapping[str, Any]) -> None:
    """Take the record that was kept last away again; it can be brought back at the terminal.

    With a strip the jar gets back the figures that it had before.

    Raises
    ------
    BadInput
        There is none of this number or key, a number is not the last of its kind, or other records rest on it since.
    """
    kind, number = form.get("kind", ""), form.get("number", "")
    readable = bool(number) if kind == "glass" else number.isascii() and number.isdigit() and len(number) <= 9
    if kind not in _UNDO or not readable:
        raise BadInput("this cannot be undone here", todo="go back to the shelf")
    try:
        with Workshop(writer.path, write=True, patience_s=PATIENCE_S) as shop, shop.change():
            _UNDO[kind](shop, kind, number)
    except StoreUnusable as fault:
        raise Busy(f"your shelf cannot be written just now ({fault.what})", todo="send it again in a moment") from None


def _undo_numbered(shop: Workshop, kind: str, number: str) -> None:
    last = shop.rows(f"SELECT max(number) AS n FROM {kind}s")[0]["n"]
    if last is None or int(number) != last:
        raise BadInput("only the last one can be undone here", todo="go back to the shelf")
    shop.remove(kind, number)


def _undo_strip(shop: Workshop, kind: str, number: str) -> None:
    row = shop.row(kind, number)
    _undo_numbered(shop, kind, number)
    assert row is not None
    slug = row["glass"].removeprefix(PREFIX)
    jar = shop.row("glass", slug)
    if jar is None:
        raise BadInput("its jar is no longer there", todo="go back to the shelf")
    shop.restore(("glass",), slug)
    was = shop.row("glass", slug)
    of_strip = {name: value for name, value in row.items() if name.startswith("expansion_")}
    rest = [name for name in jar if not name.startswith("expansion_")]
    # The change that was undone has to be that of the strip, and nothing but it.
    if was is None or any(jar[n] != v for n, v in of_strip.items()) or any(jar[n] != was[n] for n in rest):
        raise BadInput("its jar was changed since", todo="take it back at the terminal")


#: That a jar was changed; what was taken away before it was written down again is no change of it.
_CHANGED = "SELECT 1 FROM past WHERE kind = 'glass' AND key = ? AND why <> 'removed'"


def _undo_jar(shop: Workshop, kind: str, key: str) -> None:
    if shop.row(kind, key) is None:
        raise BadInput("there is no such jar", todo="go back to the shelf")
    if shop.belonging(PREFIX + key) or shop.rows(_CHANGED, key):
        raise BadInput("it was changed since, or something rests on it", todo="take it away at the terminal")
    shop.remove(kind, key)


_UNDO: dict[str, Callable[[Workshop, str, str], None]] = {
    "tile": _undo_numbered,
    "firing": _undo_numbered,
    "strip": _undo_strip,
    "glass": _undo_jar,
}
