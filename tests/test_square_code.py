"""The address for a phone: one that it can open, as the code that the library makes, and nothing without it."""

from __future__ import annotations

import ipaddress
import sys

import pytest

from refdb.browse.server.application import is_loopback, reachable
from refdb.browse.server.square_code import code_lines

ADDRESS = "http://192.168.178.23:8733/shelf?token=abcdefghjkmnpqrstuvw"


def test_every_address_stands_for_one_that_can_be_opened():
    for host in ("0.0.0.0", "::", "[::]"):
        found = reachable(host)
        number = ipaddress.ip_address(found.strip("[]"))
        # On no network at all it stays as it was given.
        assert found == host or not number.is_unspecified
    assert reachable("192.0.2.7") == "192.0.2.7"
    assert reachable("bench.local") == "bench.local"
    assert is_loopback("127.0.0.1")


def test_the_lines_are_the_modules_that_the_library_made():
    """Against segno's own matrix: each character holds two modules, light around it on all sides."""
    segno = pytest.importorskip("segno")
    matrix = [[bool(x) for x in row] for row in segno.make(ADDRESS, error="m", micro=False).matrix]
    lines = code_lines(ADDRESS)
    dark = {"█": (False, False), "▀": (False, True), "▄": (True, False), " ": (True, True)}
    drawn = [[dark[c][half] for c in line] for line in lines for half in (0, 1)]
    size = len(matrix)
    assert [row[4 : 4 + size] for row in drawn[4 : 4 + size]] == matrix
    assert not any(any(row) for row in drawn[:4] + drawn[4 + size :])
    assert not any(any(row[:4]) or any(row[4 + size :]) for row in drawn)
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80


def test_without_the_library_there_is_no_code(monkeypatch):
    monkeypatch.setitem(sys.modules, "segno", None)
    assert code_lines(ADDRESS) == []
