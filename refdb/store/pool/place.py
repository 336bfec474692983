"""Where the pool of a workshop is; apart, since every look-up asks and most have none."""

from __future__ import annotations

from pathlib import Path


def pool_path(workshop: Path) -> Path:
    """The pool's file, which need not exist: beside the workshop."""
    return workshop.with_name(f"{workshop.stem}-pool.db")
