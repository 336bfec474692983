"""Where the person's own store is, and the keys of its records."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

from refdb.records.named import PREFIX as PREFIX

#: Kinds of material, the order in which names are looked for.
NAMED = ("glass", "metal", "leaf")
_BETWEEN = re.compile(r"[\W_]+")


def default_path() -> Path:
    """Where the workshop is: `REFDB_WORKSHOP`, or `workshop.db` in the user's data folder."""
    own = os.environ.get("REFDB_WORKSHOP", "")
    return Path(own) if own else user_folder() / "workshop.db"


def user_folder() -> Path:
    """The user's data folder for refdb, as platformdirs has it."""
    if sys.platform == "linux" and "ANDROID_DATA" not in os.environ:
        # The same folder without the time that its import takes; a test holds them equal.
        home = os.environ.get("XDG_DATA_HOME", "").strip() or os.path.expanduser("~/.local/share")
        return Path(home) / "refdb"
    from platformdirs import user_data_path

    return user_data_path("refdb", appauthor=False)


def key_of(name: str) -> str:
    """The key, without prefix, of a name: small letters and digits, words joined by hyphens; may be empty."""
    return _BETWEEN.sub("-", name.casefold()).strip("-")


def own_key(text: str) -> str:
    """The key without prefix of an own record as typed: "my:Jar 12", "Jar 12" and "jar-12" give "jar-12"."""
    text = text.strip()
    return key_of(text[len(PREFIX) :] if text.lower().startswith(PREFIX) else text)
