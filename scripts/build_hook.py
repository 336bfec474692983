"""The build hook: a wheel, and an editable install, carries a store built from data_sources/."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CustomBuildHook(BuildHookInterface[Any]):
    """Builds `refdb/reference.db`, with its fingerprint beside it, before the files of a wheel are gathered."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the store; a source archive needs none, since whoever installs from it builds it then."""
        if self.target_name != "wheel":
            return
        root = Path(self.root)
        sys.path.insert(0, str(root))
        try:
            from refdb.curate.build import build
            from refdb.errors import RefdbError

            try:
                build(root / "data_sources", root / "refdb" / "reference.db")
            except RefdbError as error:
                # A message alone: a traceback would bury the line that says what to mend.
                raise SystemExit(error.line) from None
        finally:
            sys.path.remove(str(root))
