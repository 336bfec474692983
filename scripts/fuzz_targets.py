"""Everything of refdb that reads what people type, send or bring in files, each as one function of a text.

A reader gets a text and returns what it made of it, or raises one of refdb's own errors. A text of several fields has
them apart by `FIELD`; bytes that are no UTF-8 stand in it as lone surrogates. `scripts/fuzz.py` tries them all.
"""

from __future__ import annotations

import atexit
import io
import shutil
import tempfile
from collections.abc import Callable, Mapping
from contextlib import redirect_stderr
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from refdb.store.reference import Reference

#: Stands between the fields of one input.
FIELD = "\x1f"
Read = Callable[[str], Any]
_NUMBERS = ("0", "1", "12", "0.8", "0,8", "-3", "1e3", "1e999", "-0.0", "½", "1/2", "٣", "１", "²", "nan", "inf", "1_0")
_JOINTS = (" ", "-", "–", " to ", "±", "+/-", "/", "^", ",", ";", "(", ")", "about ", "<", "~", "%", "\ud800", "\x00")
_PLAIN = (*_NUMBERS, *_JOINTS)
_WISHED = (
    *("front", "back", "metal", "glass", "at least", "at most", "mm", "two", "three", "fires", "no", "on the", "bare"),
    *("domed", "flat", "both faces together", "one face only", "and", "up to", "815 C", "between", "to"),
)
_COMPOSED = ("SiO2", "Na2O", "B₂O₃", "PbO", "F", "Cu", "Ag", "Zn", "wt%", "mol", "copper", "silver", "rest", ":", "=")


@dataclass(frozen=True)
class Target:
    """What reads, texts it takes, words that texts are made of, how often it is chosen, and how long it refuses."""

    read: Read
    seeds: tuple[str, ...]
    words: tuple[str, ...] = _PLAIN
    often: int = 100
    most: int = 420


def targets(store: Path) -> dict[str, Target]:
    """All targets by name, on a store that stays open until the process ends."""
    ref = Reference(store)
    folder = Path(tempfile.mkdtemp(prefix="refdb-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    atexit.register(ref.close)
    return {
        **_quantities(),
        **_compositions(),
        **_questions(ref),
        **_pieces(ref),
        **_files(folder, ref),
        **_sent(store),
    }


def _fields(text: str, names: tuple[str, ...]) -> dict[str, str]:
    """The fields of an input by name, without the empty ones."""
    return {name: value for name, value in zip(names, text.split(FIELD), strict=False) if value}


def _of_our_digits(read: Read) -> Read:
    """A reader of numbers, which must not take those of another script."""

    def read_so(text: str) -> Any:
        found = read(text)
        assert all(c.isascii() for c in text if c.isdecimal()), "a number of another script was read"
        return found

    return read_so


def _quantities() -> dict[str, Target]:
    from refdb import quantities as q
    from refdb.plan.asked_amounts import coats_of, count_of, size_of
    from refdb.plan.kiln_day import floor_of
    from refdb.plan.load_text import in_kiln_of
    from refdb.plan.packing import container_of
    from refdb.quantities.firings import firing_of_text
    from refdb.quantities.forgiving import completed
    from refdb.quantities.schedules import phases_of
    from refdb.store.workshop.cells import iso_date, outcomes, past_month

    def of(read: Read, units: str, *seeds: str) -> Target:
        return Target(_of_our_digits(read), seeds, (*_PLAIN, *units.split()))

    def filled_in(text: str) -> str:
        found = completed(text, "mm")
        others = [[c for c in said if c.isdecimal() and not c.isascii()] for said in (text, found)]
        assert others[0] == others[1], "a number of another script was read"
        return found

    length = "mm cm m in inch um µm mil ft ga gauge cards card px din ſ SWG"
    units_of_firing = "815C 3min copper 0.75mm oxide cleared gloss F min s"
    heat = "C °C F K degrees celsius ° Δ"
    return {
        "length": of(lambda t: q.length_m(t, signed=True), length, "0.8 mm", "1 1/2 in", "0,3-0,4 mm"),
        "thickness": of(
            lambda t: q.thickness(t, zero_ok=True), length, "20 ga", "3 cards", "0.7-0.9 mm", "0.8 ± 0.1 mm"
        ),
        "area": of(q.area_m2, "cm2 mm^2 cm² in2 m² sq", "7.2 cm2", "1 sq in"),
        "mass": of(q.mass_kg, "g kg mg oz ozt ct dwt lb u", "45 g", "1/2 oz"),
        "time": of(q.duration_min, "min h s sec minutes hours days week a", "2.5 min", "1 h 30 min", "3-4 min"),
        "power": of(q.power_w, "W kW hp", "2.4 kW"),
        "temperature": of(q.temperature_c, heat, "815 C", "1500F", "1088 K"),
        "temperatures": of(q.temperature_band_c, heat, "780-815 C", "800 ± 10 C"),
        "difference": of(q.temperature_difference_k, heat, "15 K", "30 F"),
        "differences": of(q.temperature_difference_band_k, heat, "-10 to 20 K", "5 ± 3 K"),
        "span": of(q.span_c, heat, "20-400 C", "70-570F"),
        "expansion": of(
            q.expansion_per_k, "ppm/K ppm/°C 1/K /K e-6/K e-7 x 10^-6 strain", "12.4 ppm/K", "124e-7/K", "9-10"
        ),
        "fraction": of(q.fraction, "% percent", "40 %", "0.4"),
        "fractions": of(q.fraction_band, "% percent", "10-12 %"),
        "completed": Target(filled_in, ("0,3", "1 1/2", "0.3mm")),
        "firing": Target(
            lambda t: firing_of_text(t, "here"),
            ("815C 3min copper 0.75mm", "1500 F 90 s copper 20 ga oxide cleared"),
            (*_PLAIN, *units_of_firing.split()),
        ),
        "date": of(iso_date, "2024-05-31 - 0 W", "2024-05-31"),
        "month": of(past_month, "2024-05 - 0", "2024-05"),
        "schedule": of(phases_of, "C min open carbon ; ,", "345 C, 15 min; 870 C, 2.5 h, carbon"),
        "floor": of(floor_of, "mm x × by in cm", "150x120 mm", "6 in x 5 in"),
        "container": of(container_of, "mm x × by in cm", "200x150x80 mm", "8 in x 6 in x 3 in"),
        "kiln and load": of(in_kiln_of, "kW W g rack none at once pieces ,", "2 kW, rack 150 g, 4 at once"),
        "tile outcome": of(outcomes, "sound crazed chipped and bowed", "crazed, chipped"),
        "count": Target(count_of, ("12 pendants", "a dozen"), (*_PLAIN, "dozen", "a", "pairs of", "two", "brooch")),
        "size": of(size_of, "mm x × by round across cm", "30 x 20 mm", "25 mm round"),
        "coats": Target(
            coats_of,
            ("hard clear 0.2 mm both; 2 coats opaque white front 60 %", "2 x 0.15 mm clear"),
            (*_PLAIN, "2 x", "coats of", "front", "both", "mm", "clear", "washed", "60 %"),
        ),
    }


def _compositions() -> dict[str, Target]:
    from refdb.science.glass.composition import parse_composition
    from refdb.store.workshop.alloy import ClassMetal, checked_metal
    from refdb.store.workshop.composition import content_of
    from refdb.store.workshop.leaf_metals import leaf_symbols

    words = (*_PLAIN, *_COMPOSED)
    known = {"copper-sheet": ClassMetal("copper-sheet", "copper", "sheet", "Cu 99.9", None)}
    return {
        "composition": Target(parse_composition, ("SiO2 48, Na2O 13.6, PbO 30", "SiO2=55 mol% B2O3=10"), words),
        "leaf metals": Target(leaf_symbols, ("Au Ag", "gold, silver"), words),
        "own metal": Target(
            lambda t: checked_metal(t, "copper-sheet", None, known), ("Cu 99.9", "Ag 92.5, rest Cu"), words
        ),
        "alloy": Target(content_of, ("Cu 70, Zn 30", "Ag 92.5, rest Cu", "copper, 5-10 zinc", "Ag925"), words),
    }


def _questions(ref: Reference) -> dict[str, Target]:
    from refdb.ask.cautions import cautions_about
    from refdb.ask.question import answered
    from refdb.judge.fit.question import FIELDS, asked
    from refdb.judge.fit.wishes import wishes_of
    from refdb.judge.naming import Taking
    from refdb.plan.asked_cells import cells_of, metal_of
    from refdb.plan.observed import observed_firings
    from refdb.plan.own.firings import firing_row
    from refdb.plan.own.materials import material_row
    from refdb.plan.own.strips import measured_of
    from refdb.plan.own.tiles import tile_row
    from refdb.store.names import resolve
    from refdb.store.practice_search import practice_of
    from refdb.store.search import search
    from refdb.store.topics import topic_of

    glass, metal = ref.glass("clear-hard-lead-free"), ref.metal("copper-sheet")
    fields = tuple(FIELDS)
    own = {kind: [m.key for m in ref.materials(kind=kind)] for kind in ("glass", "metal", "leaf")}
    jar = ("name", "like", "hardness", "lead", "optical", "expansion", "span", "basis", "fuse", "composition", "date")
    firing = ("kiln", "minutes", "metal", "metal_thickness", "result", "date")

    def cells(text: str) -> Any:
        metal_text, *four = (text.split(FIELD) + [""] * 5)[:5]
        base = metal_of(metal_text, Taking(ref))
        return cells_of(four[0], four[1], four[2], four[3], base, Taking(ref))

    def cautioned(text: str) -> Any:
        return [h.key for h in cautions_about(ref, text).hazards]

    strip = (
        "metal_thickness",
        "glass_thickness",
        "length",
        "bow",
        "radius",
        "bow_before",
        "bow_error",
        "width",
        "set_point",
    )
    tile = ("outcome", "showed", "metal_thickness", "front", "back", "kiln", "minutes", "date", "note")
    words = "hard clear copper sheet silver foil gauge 18 on my: opaque white lead free why crack how hot"
    named = (*_PLAIN, *words.split())
    sizes = "mm C F K min domed flat front-first h 815 0.3"
    measures = (*_PLAIN, FIELD, *sizes.split())
    return {
        "suits": Target(
            lambda t: asked(glass, metal, _fields(t, fields), str),
            (FIELD.join(("0.8 mm", "0.3mm", "0.3mm")), FIELD * 8),
            measures,
        ),
        "strip": Target(
            lambda t: measured_of(_fields(t, strip)),
            (FIELD.join(("0.5mm", "0.3mm", "100mm", "4.4mm")), FIELD.join(("0.5mm", "0.2mm", "80mm", "", "400mm"))),
            measures,
        ),
        "tile": Target(
            lambda t: tile_row(_fields(t, tile), glass.key, metal),
            (FIELD.join(("crazed", "", "0.8mm", "0.3mm", "0", "815C", "2.5", "2024-05-31", "note")),),
            measures,
        ),
        "wish": Target(
            _of_our_digits(lambda t: wishes_of([t])),
            ("front at least 0.5 mm, no glass on the back", "two fires at most; domed", "metal 0.6 to 0.8 mm"),
            (*_PLAIN, *_WISHED),
        ),
        "cells": Target(
            cells,
            (
                FIELD.join(
                    ("copper 1.2 mm", "0.2-0.4 mm, 60 % front; 0.3 mm back", "", "fine silver 0.15x0.8 mm, 120 mm")
                ),
                FIELD.join(("copper 1.2 mm", "", "5 mm, 40 %", "", "3 opaque white 4x0.8 mm")),
            ),
            (*measures, *words.split(), "x", "60 %", ";", "front", "back", "120 mm"),
            25,
            700,
        ),
        "jar": Target(
            lambda t: material_row("glass", _fields(t, jar), own),
            (
                FIELD.join(("Jar 12", "clear-hard-lead-free")),
                FIELD.join(("A", *[""] * 4, "12.4 ± 0.5 ppm/K", "20-400 C", "guess")),
            ),
            (*measures, *_COMPOSED, "clear-hard-lead-free", "hard", "free", "contains", "maker", "guess", "none"),
            25,
            700,
        ),
        "firing of a jar": Target(
            lambda t: firing_row(ref, glass, _fields(t, firing), Taking(ref)),
            (FIELD.join(("815 C", "2.5 min", "copper", "0.8 mm", "gloss", "2024-05-31")),),
            (*measures, *words.split(), "gloss", "orange-peel", "2 cards"),
            25,
            700,
        ),
        "firing that was seen": Target(
            lambda t: observed_firings(t.split(FIELD), ref),
            ("clear-hard-lead-free: 815C 3min copper 0.75mm", "opal: 1500F 2 min copper sheet 20 ga oxide cleared"),
            (*measures, *words.split(), ":", "clear-hard-lead-free:", "oxide cleared", "gloss"),
            25,
            700,
        ),
        "cautions": Target(cautioned, ("lead", "hard clear", "what if a child licks it"), named, 4, 700),
        "practice": Target(lambda t: practice_of(ref, t).said, ("washing", "how is it pickled"), named, 4, 700),
        "subject": Target(lambda t: topic_of(ref, t).key, ("pickling", "washing powder"), named, 4, 700),
        "name": Target(lambda t: resolve(ref, t), ("hard clear", "18 gauge copper", "my:jar"), named, 8, 700),
        "question": Target(lambda t: answered(ref, t), ("which clear goes on silver foil?", "is lead safe"), named, 4),
        "search": Target(lambda t: search(ref, t), ("foil", "lead-free clear"), named, 4),
    }


def _pieces(ref: Reference) -> dict[str, Target]:
    from refdb.browse.pages import builder_forms as forms
    from refdb.browse.server.packed import packed, unpacked
    from refdb.plan.piecefile import parse_piece
    from refdb.plan.sketch import Sketch

    example = Path(forms.__file__).parents[2].joinpath("plan", "new_piece.toml").read_text(encoding="utf-8")
    short = (
        '[piece]\nwidth = "30 mm"\nheight = "20 mm"\n[base]\nmetal = "copper-sheet"\nthickness = "0.8 mm"\n[[step]]\n'
        'do = "coat"\nglass = "clear-hard-lead-free"\nthickness = "0.15 mm"\n[[step]]\ndo = "fire"\nkiln = "815 C"\n'
    )
    toml = (
        *_PLAIN,
        '"',
        "\n",
        "[[step]]",
        "[piece]",
        "[base]",
        "[kiln]",
        "{",
        "}",
        "[",
        "]",
        "=",
        "true",
        "do",
        "glass",
        "kiln",
    )
    toml += tuple(f'{name} = "' for name in forms.NAMES) + tuple(f'\ndo = "{kind}"\n' for kind in forms.KINDS)
    toml += ('do = "recess"', 'do = "wire"', 'do = "opening"', 'do = "inset"', 'depth = "0.3 mm"', 'coverage = "40 %"')
    cells = (Path(forms.__file__).parents[2] / "plan" / "templates" / "moth_antennae.toml").read_text(encoding="utf-8")
    begun = Sketch.of(short)

    def codec(text: str) -> str:
        held = unpacked(text)
        assert unpacked(packed(held)) == held, "another text comes back"
        return held

    def sketched(text: str) -> Any:
        sketch = Sketch.of(text)
        # Of numbers that are none, no two are alike.
        assert "nan" in text or Sketch.of(sketch.text) == sketch, "another sketch comes back"
        return sketch

    def filled(text: str) -> Any:
        form = _fields(text, ("add", *forms.NAMES))
        sketch = begun.with_step(2, forms.step_of(form.get("add", ""), form, {}))
        found = parse_piece(unpacked(packed(sketch.text)), ref, "step 2")
        return parse_piece(forms.body_of(form, sketch).text, ref, "the body") and found

    letters = (*(packed(t) for t in (short, "", "x" * 9000)), "eJw", "-_", "====", "A" * 6001)
    body = {"metal": "copper-sheet", "thickness": "0.8 mm", "width": "30", "height": "20 mm"}
    steps = ({"add": "coat", "glass": "clear-hard-lead-free"}, {"add": "fire", "kiln": "815"}, {"add": "clean"})
    forms_of = tuple(FIELD.join((body | step).get(n, "") for n in ("add", *forms.NAMES)) for step in steps)
    return {
        "piece": Target(lambda t: parse_piece(t, ref, "own.toml"), (short, example, cells), toml, 30, 700),
        "sketch": Target(sketched, (short, example), toml, 30),
        "address of a piece": Target(codec, letters, letters),
        "form of a step": Target(filled, forms_of, (*_PLAIN, FIELD, *forms.KINDS), 30, 700),
    }


def _files(folder: Path, ref: Reference) -> dict[str, Target]:
    from refdb.cli.composition_file import CompositionFile
    from refdb.errors import BadInput
    from refdb.store.csv_lines import cells_of, lines_of, opened
    from refdb.store.pool.columns import NAMES
    from refdb.store.pool.rows import rows_of
    from refdb.store.workshop.alloy import ClassMetal
    from refdb.store.workshop.csv_files import header_of
    from refdb.store.workshop.rows import Cells
    from refdb.store.workshop.schema import OWN

    pool_known = {k: [m.key for m in ref.materials(kind=k)] for k in ("glass", "metal", "leaf")}
    own_known = {
        "glass": pool_known["glass"],
        "metal": {"copper-sheet": ClassMetal("copper-sheet", "copper", "sheet", "Cu 99.9", None)},
        "leaf": {"fine-silver-foil": "Ag"},
    }
    path = folder / "own.csv"

    def kept(text: str) -> Path:
        path.write_bytes(text.encode("utf-8", "surrogatepass" if "\ud800" in text else "surrogateescape"))
        return path

    def held(bad: BadInput) -> None:
        # What is told line by line is held to the same as what ends the reading.
        refusal_faults(bad, 420)

    def own(text: str) -> Any:
        with opened(kept(text), "own.csv") as file:
            lines = lines_of(file)
            for _, line in lines:
                if line.strip():
                    kind, header, mark = header_of(line, "own.csv", None, {})
                    reader = Cells(kind, header, own_known, {})
                    found = []
                    for _, more in lines:
                        try:
                            if len(cells := cells_of(more, mark)) == len(header):
                                found.append(reader.row(cells))
                        except BadInput as bad:
                            held(bad)
                    return [v for row in found for v in row.values()]
        return None

    def pooled(text: str) -> Any:
        return [v for _, row in rows_of(kept(text), pool_known, held) for v in vars(row).values()]

    def compositions(text: str) -> Any:
        with redirect_stderr(io.StringIO()) as told:
            found = [float(x) for chunk in CompositionFile(kept(text), "wt").chunks() for x in chunk.amounts.ravel()]
        assert all(line.isprintable() and len(line) <= 420 for line in told.getvalue().split("\n")), "a line told"
        return found

    def csv_of(names: tuple[str, ...], values: Mapping[str, str]) -> str:
        row = ",".join(values.get(n, "") for n in names)
        return f"{','.join(names)}\n{row}\n{row}\n"

    sheets = tuple(
        csv_of(o.names, {"name": "Jar", "basis": "guess", "date": "2024-05-31", "number": "1"}) for o in OWN.values()
    )
    shared = csv_of(
        NAMES,
        {
            "studio": "0" * 16,
            "row": "a" * 12,
            "glass": "clear-hard-lead-free",
            "metal": "copper-sheet",
            "kind": "tile",
            "outcome": "sound",
        },
    )
    glasses = "name,SiO2,Na2O,PbO\nfirst,48,13.6,30\nsecond;55,10,0\n"
    cells = (
        *_PLAIN,
        *_COMPOSED,
        "\n",
        "\r\n",
        '"',
        ";",
        "\t",
        ",,,",
        "\ufeff",
        "name",
        "basis",
        "guess",
        "clear-hard-lead-free",
    )
    return {
        "file of one's own": Target(own, sheets, cells, 25),
        "file of a pool": Target(pooled, (shared,), cells, 25),
        "file of compositions": Target(compositions, (glasses,), cells, 25),
    }


def _sent(store: Path) -> dict[str, Target]:
    from urllib.parse import quote, urlencode

    from browse_client import Asking

    from refdb.browse.server.public_address import read_address
    from refdb.browse.server.query import read_query
    from refdb.browse.server.upload import fields_of, piece_of, texts_of
    from refdb.browse.views import ROUTES
    from refdb.errors import RefdbError

    names = sorted({name for route in ROUTES for name in route.parameters})
    query = (*(f"&{name}=" for name in names), "%00", "%ff", "%ED%A0%80", "+", "&", "=", "%", ";", "glass=a&glass=b")
    words = (*query, *_PLAIN, "clear-hard-lead-free", "copper-sheet", "foil", "lead")
    asking: list[Any] = []
    cheap = [
        r.address
        for r in ROUTES
        if r.address in ("/find", "/faults", "/practice", "/cautions", "/sources", "/materials")
    ]

    def queried(text: str) -> Any:
        for route in ROUTES:
            try:
                read_query(text, route.parameters, several=route.several)
            except RefdbError as error:
                refusal_faults(error, 1_000)

    def bytes_of(text: str) -> bytes:
        return text.encode("utf-8", "surrogatepass" if "\ud800" in text else "surrogateescape")

    def form(text: str) -> Any:
        head, _, body = text.partition(FIELD)
        fields = fields_of(head, bytes_of(body), ("text", "file", "as", "p", "glass"))
        texts_of(fields)
        return piece_of(fields).text

    def page(text: str) -> Any:
        if not asking:
            asking.append(Asking(store))
        place, _, rest = text.partition("?")
        at = (
            cheap[len(place) % len(cheap)]
            if place != "/material"
            else f"/material/{quote(rest[:60], errors='replace')}"
        )
        answer = asking[0].raw(at.encode(), query=rest.encode("latin-1", "replace"))
        assert answer.status in (200, 302, 303, 400, 404, 414), f"status {answer.status}"
        assert "Traceback" not in answer.body, "a traceback"
        assert "<script>alert" not in answer.body, "what was sent comes back"

    plain = "application/x-www-form-urlencoded" + FIELD + urlencode({"text": "[piece]"})
    parts = (
        "multipart/form-data; boundary=m"
        + FIELD
        + '--m\r\nContent-Disposition: form-data; name="text"\r\n\r\nx\r\n--m--'
    )
    return {
        "address": Target(
            lambda t: read_address(t).scheme,
            ("https://enamel.example.org", "192.0.2.7:8733", "http://[::1]:80"),
            (*_PLAIN, "http://", "https://", ":", ":8001", "[", "::1", "]", "localhost", ".", "@", "/", "?", "#", "\\"),
        ),
        "query": Target(queried, tuple(f"{n}=copper" for n in names[:6]), words),
        "form": Target(
            form, (plain, parts), (*words, FIELD, "--m", "--m--", "\r\n", "name=", "filename=", "boundary="), 60
        ),
        "page": Target(
            page, ("?q=foil", "x?words=lead", "/material?copper-sheet", "xx?kind=glass&sort=expansion"), words, 1
        ),
    }


def refusal_faults(error: Any, most: int) -> None:
    """AssertionError where an error of refdb's own is none that a person can use."""
    assert error.what.strip(), "a refusal that says nothing"
    assert error.where.strip() or error.todo.strip(), f"neither where nor what to do: {error.line}"
    assert error.line.isprintable(), "a refusal that steers the terminal"
    assert len(error.line) <= most, f"a refusal of {len(error.line)} characters"
