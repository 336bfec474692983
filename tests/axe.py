"""axe-core on the page that a browser has open."""

from __future__ import annotations

import importlib.util
import json
import os
from collections.abc import Collection
from pathlib import Path
from typing import Any

import pytest
from chromium_pipe import Browser

WEIGHTS = ("minor", "moderate", "serious", "critical")


def source() -> str:
    """The text of axe-core; the test is skipped where it is not installed, and fails so under CI."""
    found = importlib.util.find_spec("axe_core_python")
    if found is None or found.submodule_search_locations is None:
        assert "CI" not in os.environ, "axe-core-python is not installed"
        pytest.skip("axe-core-python is not installed")
    return next(Path(found.submodule_search_locations[0]).rglob("axe.min.js")).read_text(encoding="utf-8")


def broken(browser: Browser, rules: str, weights: Collection[str] = WEIGHTS) -> list[Any]:
    """Every rule of these weights that the open page breaks: its name, how often, and where first."""
    browser.ask(rules + ";0")
    found = browser.send(
        "Runtime.evaluate",
        awaitPromise=True,
        returnByValue=True,
        expression="""
        axe.run(document, {resultTypes: ['violations']}).then(r =>
            JSON.stringify({passes: r.passes.length, bad: r.violations.map(v =>
                [v.impact, v.id, v.nodes.length, v.nodes[0].html.slice(0, 120)])}))""",
    )
    told = json.loads(found["result"]["value"])
    assert told["passes"] > 10
    return [rest for impact, *rest in told["bad"] if impact is None or impact in weights]
