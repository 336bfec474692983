"""Changes that make no difference anyone could notice, with the reason: (file, line, what it becomes) -> why."""

from __future__ import annotations

EQUIVALENTS: dict[tuple[str, str, str], str] = {}
