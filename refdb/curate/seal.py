"""The fingerprint kept beside a store, by which any bit that changed since the build is found; standard library only.

It guards against decay and accident: whoever can change the store on purpose can change its fingerprint as well.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from refdb.curate.dump import fingerprint
from refdb.errors import StoreUnusable
from refdb.store.edition import RENEW, Seal, kept_seal


def hash_of(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal; raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


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
        raise StoreUnusable(f"the store is not as it was built: {_changed(store, seal)}", str(store), RENEW)
    return True


def _changed(store: Path, seal: Seal) -> str:
    try:
        same = fingerprint(store) == seal.of_rows
    except StoreUnusable:
        return "it can no longer be read whole"
    return "its rows are the same, but bytes around them changed" if same else "what its rows say has changed"
