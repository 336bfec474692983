"""The table of the names people use for materials and solders besides their labels."""

from __future__ import annotations

from refdb.store.table import KINDS, SOURCE, ColumnSpec, Table, text

#: What has names.
NAMED_KINDS = (*KINDS, "solder")
#: English of both sides, of one, or another tongue; `standard` is a designation of alloys.
LANGUAGES = ("en", "en-gb", "en-us", "fr", "de", "standard")
ONLY, COMMONEST, CHOICE = "only", "commonest", "choice"

ALIASES = Table(
    "aliases",
    (
        text("alias", required=True, description="as people write it"),
        text("kind", required=True, choices=NAMED_KINDS, description="what the name is of"),
        text("record", required=True, description="the key of a material or a solder"),
        text("language", required=True, choices=LANGUAGES, description="standard is a designation of alloys"),
        text(
            "standing",
            required=True,
            choices=(ONLY, COMMONEST, CHOICE),
            description="only: it means nothing else of this kind; commonest: it is taken so, and the others are told; "
            "choice: one of several meanings",
        ),
        ColumnSpec("place", "INTEGER", "place", required=True, low=1, high=20, description="1 is told first"),
        SOURCE,
        text("folded", required=True, description="the alias as names are compared, see `words.folded`; by the build"),
    ),
    ("alias", "kind", "record"),
    "Names of materials and solders besides their labels, and what each may mean.",
)
