"""The tables behind the pages: in words, by a title, what matters first; SQL with its fault beside what was typed."""

from __future__ import annotations

import json
import re
from urllib.parse import quote

import pytest
from browse_client import Asking, Outline, write_shelf

from refdb.browse.tables.laid_out import _FIRST, _TITLES
from refdb.store.schema import TABLE


@pytest.fixture(scope="module")
def with_sql(store, tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "shelf.db"
    write_shelf(
        path,
        store,
        ("add", "glass", "--name", "Jar 12", "--like", "opal-lead-free", "--basis", "guess"),
        ("tile", "my:jar-12", "copper-sheet", "--outcome", "crazed"),
    )
    opened = Asking(store, workshop=path, sql=True)
    yield opened
    opened.close()


def cells(body):
    """The words of every cell and row head of the table of a page."""
    table = body.partition("<tbody")[2].partition("</tbody>")[0]
    return [re.sub("<[^>]*>", "", cell) for cell in re.findall(r"<t[hd].*?</t[hd]>", table, re.S)]


#: What stands in files for machines: selectors, alternatives, names with an underscore (but that of a folder), units.
TOKENS = re.compile(
    r"\b(?:key|family|optical|made_for|lead|cadmium|role|holds):\S|\w\|\w|\b(?!data_sources/)[a-z]+_[a-z]|\*\*|\bdegC\b"
)


def test_no_table_shows_what_is_written_for_machines(asking):
    tables = [link for link in Outline(asking.get("/reference").body).links if re.fullmatch("/reference/[a-z_]+", link)]
    assert len(tables) > 25
    for address in tables:
        answer = asking.get(f"{address}?_size=500")
        assert answer.status == 200
        shown = cells(answer.body)
        assert shown, address
        assert [c for c in shown if TOKENS.search(c)] == [], address
        assert "…" not in "".join(shown), address
        assert all(c.strip() for c in re.findall(r'<th scope="row"[^>]*>(.*?)</th>', answer.body)), address


def test_columns_that_come_first_and_titles_are_there():
    own = {"metals", "glasses", "leaf", "tiles", "strips", "firings", "stock", "kilns"}
    for table, names in (*_FIRST.items(), *_TITLES.items()):
        if table not in own:
            assert set(names) <= {c.name for c in TABLE[table].columns}, table


def test_the_figures_of_a_table_are_those_of_the_command(asking, refdb):
    told = json.loads(refdb("show", "fine-silver-foil", "--json").out)
    assert told["units"]["leaf_thickness"] == "m"
    thick = next(v for v in told["values"] if v["property"] == "leaf_thickness" and v["preferred"])
    shown = cells(asking.get("/reference/property_values?material=fine-silver-foil&property=leaf_thickness").body)
    assert f"{thick['value'] * 1e6:g}\u00a0µm" in shown


def test_a_colour_and_a_rule_are_told_as_a_person_says_them(asking):
    text = Outline(asking.get("/reference/colour_reactions?_size=500").body).text
    assert "Any glass on copper or gilding metal, by handling or fire" in text
    assert "Lead-free transparent amber over leaf of gold" in text
    rules = Outline(asking.get("/reference/fit_rules").body).text
    assert "glass in need of an undercoat; not cover coat or line work" in rules


def test_a_row_is_called_by_what_it_is(with_sql):
    for address, title in (
        ("/reference/colour_reactions/amber-gold", "Lead-free transparent amber on gold"),
        ("/reference/materials/copper-sheet", "Copper sheet"),
        ("/reference/sources/from-memory", "From memory"),
        ("/workshop/tiles/1", "Tile 1: Jar 12 on copper sheet"),
        ("/workshop/glasses/jar-12", "Jar 12"),
    ):
        body = with_sql.get(address).body
        outline = Outline(body)
        assert outline.faults == []
        assert f" {title} " in outline.text, address
        assert "<dt>number</dt>" in body or "<dt>key, as files and JSON name it</dt>" in body


def test_narrowing_says_so_and_leads_back(asking):
    outline = Outline(asking.get("/reference/contacts?metal_a__exact=Ag&_sort_desc=first_melts_c").body)
    assert "rows, narrowed" in outline.text
    assert "/reference/contacts" in outline.links
    picked = [g["value"] for g in outline.all("option") if "selected" in g]
    assert picked == ["metal_a", "exact", "contains", "first_melts_c"]


@pytest.mark.parametrize(
    ("sql", "fault"),
    [
        ("selct key from materials", "Statement must be a SELECT."),
        ("select nosuch from materials", "No such column: nosuch."),
        ("select key from materials where", "Incomplete input."),
        ("delete from materials", "Statement must be a SELECT."),
        ("select '<script>' from nosuch", "No such table: nosuch."),
        (
            "with recursive n(i) as (select 1 union all select i + 1 from n) select count(*) from n",
            "This took longer than a second and was stopped; ask for less.",
        ),
    ],
)
@pytest.mark.parametrize("database", ["reference", "workshop"])
def test_a_question_in_sql_that_fails_is_still_in_its_field(with_sql, database, sql, fault):
    """SQLite's own message stands at the field."""
    if database == "workshop":
        sql = sql.replace("materials", "tiles")
    answer = with_sql.get(f"/{database}?sql={quote(sql)}")
    assert answer.status == 400
    outline = Outline(answer.body)
    assert outline.faults == []
    assert [
        g for g in outline.all("textarea") if g.get("aria-invalid") == "true" and g["aria-describedby"] == "f-wrong"
    ]
    assert sql in outline.text
    assert fault in outline.text
    assert "<script>' from" not in answer.body


def test_a_question_in_sql_is_answered_in_our_look(with_sql):
    sql = "select label, verdict('opal-lead-free', key) as v from materials where key = :which"
    answer = with_sql.get(f"/reference?sql={quote(sql)}&which=copper-sheet")
    outline = Outline(answer.body)
    assert answer.status == 200
    assert outline.faults == []
    assert "Copper sheet" in outline.text
    assert [g["value"] for g in outline.all("input")] == ["copper-sheet"]
    assert 'style="' not in answer.body
    assert "<script>" not in answer.body
    assert "Ask in SQL" in Outline(with_sql.get("/reference").body).text


def test_without_sql_nothing_asks_for_it(asking):
    assert "SQL" not in Outline(asking.get("/reference").body).text
