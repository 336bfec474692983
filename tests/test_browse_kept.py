"""The store that remembers what it has read gives what the store gives."""

from __future__ import annotations

import pytest

from refdb.browse.server.cached_reference import Kept
from refdb.errors import NotFound
from refdb.store.reference import Reference


@pytest.fixture(scope="module")
def both(store):
    with Kept(store) as kept, Reference(store) as plain:
        yield kept, plain


def test_records_lists_rules_and_sources_are_the_same(both):
    kept, plain = both
    for kind in (None, "metal", "glass", "leaf"):
        assert kept.materials(kind) == plain.materials(kind)
    assert kept.metal(" Copper-Sheet ") == plain.metal("copper-sheet")
    for name in ("fit_rules", "hazards", "sources", "properties"):
        assert getattr(kept, name)() == getattr(plain, name)()
        assert getattr(kept, name)() is getattr(kept, name)()


def test_a_wrong_key_or_kind_is_told_as_before(both):
    kept, plain = both
    for key, kind in (("nosuch", None), ("copper-sheet", "glass"), ("", "metal"), ("a" * 300, None)):
        with pytest.raises(NotFound) as ours:
            kept.material(key, kind)
        with pytest.raises(NotFound) as theirs:
            plain.material(key, kind)
        assert ours.value.line == theirs.value.line


def test_a_table_that_is_not_there_counts_nothing(both):
    assert both[0].count("nosuch") == 0
    assert both[0].count("metals") == len(both[0].materials("metal"))
