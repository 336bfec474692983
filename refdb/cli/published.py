"""The published glasses of a class: composition, and measured beside computed figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refdb.cli.common import Units
from refdb.cli.estimate_page import amounts_text, figure_text
from refdb.cli.output import Column, Page
from refdb.records.printed import number_of, span_of, unit_of
from refdb.science.expansion import glass_mean_20_400

if TYPE_CHECKING:
    from refdb.records import EstimatedValue, Property, ReferenceGlass, ReferenceValue

#: Properties of a published glass in the order they are shown; a computed one alone is shown for the first six.
_ORDER = (
    "expansion",
    "glass_transition",
    "set_point",
    "littleton_softening",
    "gloss_setting",
    "density",
    "dilatometric_softening",
    "youngs_modulus",
)
_COMPUTED_ALONE = _ORDER[:6]


def within(measured: ReferenceValue, computed: EstimatedValue) -> bool:
    """Whether a measured figure lies in the band of the computed one, an expansion restated to 20-400 °C.

    One whose span was not recorded is taken as it stands.
    """
    value = measured.value
    if measured.property == "expansion" and measured.temp_low_c is not None and measured.temp_high_c is not None:
        value = float(glass_mean_20_400(value, measured.temp_low_c, measured.temp_high_c))
    return computed.low <= value <= computed.high


def add_published(
    page: Page,
    glasses: Sequence[ReferenceGlass],
    properties: Sequence[Property],
    units: Units,
    names: Mapping[str, str],
) -> None:
    """Add the published glasses of a class to its page, their sources by name; nothing when there are none."""
    if not glasses:
        return
    page.heading("Published glasses of this class, measured beside computed from the composition")
    page.paragraph(
        "Compositions and measured figures as recorded in the open SciGlass data (ODbL), weight per "
        "cent. Computed: expansion over 20 to 400 °C, softening at 10^6.6 Pa·s; the range holds nine "
        "measurements in ten.",
        2,
    )
    by_key = {p.key: p for p in properties}
    columns = [
        Column(""),
        Column("measured", right=True),
        Column("computed", right=True),
        Column("low to high"),
        Column("within"),
    ]
    tables = [_rows(glass, by_key, units) for glass in glasses]
    widths = page.table_widths(columns, [row for rows in tables for row in rows])
    for glass, rows in zip(glasses, tables, strict=True):
        page.line()
        page.paragraph(f"{glass.label}; {glass.published_as} [{names[glass.source]}]", 2, 4)
        page.paragraph(amounts_text(glass.composition), 4)
        page.paragraph("; ".join(x for x in (glass.note, _span(glass, units)) if x), 4)
        page.table(columns, rows, 2, widths)


def _rows(glass: ReferenceGlass, properties: dict[str, Property], units: Units) -> list[list[str]]:
    measured = {m.property: m for m in glass.measured}
    computed = {e.property: e for e in glass.estimated}
    rows = []
    for name in (n for n in _ORDER if n in properties):
        found, guess = measured.get(name), computed.get(name)
        if found is None and (guess is None or name not in _COMPUTED_ALONE):
            if name == "expansion":
                rows.append([_label(properties[name], units), "-", "-", "outside the model", ""])
            continue
        prop = properties[name]
        why_not = "not computed" if name == "dilatometric_softening" else "outside the model"
        cells = [_label(prop, units), "-", "-", why_not, ""]
        if found is not None:
            cells[1] = number_of(found.value, prop, units)
        if guess is not None:
            cells[2], cells[3] = figure_text(prop, guess.value, guess.low, guess.high, units)
        if found is not None and guess is not None:
            cells[4] = "yes" if within(found, guess) else "no"
        rows.append(cells)
        if name == "gloss_setting" and guess is not None and guess.words:
            head, _, spread = guess.words.partition(" (")
            rows.append(["hardness class", "-", head, spread.rstrip(")"), ""])
    return rows


def _label(prop: Property, units: Units) -> str:
    name = {"expansion": "expansion", "littleton_softening": "softening point"}.get(prop.key, prop.label)
    unit = unit_of(prop, units)
    return f"{name}, {unit}" if unit else name


def _span(glass: ReferenceGlass, units: Units) -> str:
    """Over which span its expansion was measured; that computed is over 20 to 400 °C."""
    found = next((m for m in glass.measured if m.property == "expansion"), None)
    if found is None:
        return ""
    span = span_of(found.temp_low_c, found.temp_high_c, units)
    return f"expansion measured over {span}" if span else "expansion measured over a span that is not recorded"


def published_dicts(glasses: Sequence[ReferenceGlass]) -> list[dict[str, Any]]:
    """The published glasses of a class ready for JSON, in the units of the store."""
    found = []
    for glass in glasses:
        computed = {e.property: e for e in glass.estimated}
        plain: dict[str, Any] = {
            name: getattr(glass, name)
            for name in ("key", "label", "for_metal", "published_as", "source", "locator", "note")
        }
        plain["weight_percent"] = dict(glass.composition)
        plain["measured"] = [
            {name: getattr(m, name) for name in m.__match_args__}
            | {"within_computed": within(m, computed[m.property]) if m.property in computed else None}
            for m in glass.measured
        ]
        plain["computed"] = [{name: getattr(e, name) for name in e.__match_args__} for e in glass.estimated]
        found.append(plain)
    return found
