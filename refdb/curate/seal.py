"""The fingerprint kept beside a store, by which any bit that changed since the build is found; standard library only.

It guards against decay and accident: whoever can change the store on purpose can change its fingerprint as well.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from refdb.curate.dump import fingerprint
from refdb.errors import StoreUnusable
from refdb.frozen import dataclass

SUFFIX = ".sha256"
#: As `sha256sum --check` reads it, which passes over the second line.
_FORM = re.compile(r"([0-9a-f]{64})  [^\n]*\n# rows ([0-9a-f]{64})\n")
#: More than the file ever holds.
_MOST_BYTES = 4096
_TODO = "install it again, or build it anew with `refdb build --from data_sources`"


@dataclass(frozen=True)
class Seal:
    """SHA-256 of a store's bytes and of its canonical dump, in hexadecimal."""

    of_bytes: str
    of_rows: str

    def text(self, store: Path) -> str:
        """The text of the fingerprint's file."""
        name = store.name.replace("\n", "?")
        return f"{self.of_bytes}  {name}\n# rows {self.of_rows}\n"


def seal_path(store: Path) -> Path:
    """Path of a store's fingerprint: beside it, named after it."""
    return store.with_name(store.name + SUFFIX)


def hash_of(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal; raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def kept_seal(store: Path) -> Seal | None:
    """The fingerprint kept beside a store, or None where there is none.

    Raises
    ------
    StoreUnusable
        What is there is no fingerprint.
    OSError
        It cannot be read.
    """
    path = seal_path(store)
    try:
        with path.open("rb") as file:
            found = _FORM.fullmatch(file.read(_MOST_BYTES).decode("utf-8", "surrogateescape"))
    except FileNotFoundError:
        return None
    if found is None:
        raise StoreUnusable("this is no fingerprint of a store", str(path), _TODO)
    return Seal(found[1], found[2])


def is_as_built(store: Path) -> bool:
    """Whether a store was held to its fingerprint, and is byte for byte as it was built; False where there is none.

    Raises
    ------
    StoreUnusable
        The store is not as it was built, or its fingerprint is none.
    OSError
        One of them cannot be read.
    """
    if not store.is_file():
        return False  # `dump.verify` tells
    store = store.resolve()
    seal = kept_seal(store)
    if seal is None:
        return False
    if hash_of(store) != seal.of_bytes:
        raise StoreUnusable(f"the store is not as it was built: {_changed(store, seal)}", str(store), _TODO)
    return True


def _changed(store: Path, seal: Seal) -> str:
    try:
        same = fingerprint(store) == seal.of_rows
    except StoreUnusable:
        return "it can no longer be read whole"
    return "its rows are the same, but bytes around them changed" if same else "what its rows say has changed"
