"""What edition of the data a store holds: how far its sources were read, and the fingerprint kept beside it."""

from __future__ import annotations

import re
from pathlib import Path

from refdb.errors import StoreUnusable
from refdb.frozen import dataclass
from refdb.store.reference_file import ReferenceFile

SUFFIX = ".sha256"
#: As `sha256sum --check` reads it, which passes over the second line.
_FORM = re.compile(r"([0-9a-f]{64})  [^\n]*\n# rows ([0-9a-f]{64})\n")
#: More than the file ever holds.
_MOST_BYTES = 4096
RENEW = "install it again, or build it anew with `refdb build --from data_sources`"


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
        raise StoreUnusable("this is no fingerprint of a store", str(path), RENEW)
    return Seal(found[1], found[2])


@dataclass(frozen=True)
class Edition:
    """The day on which the latest of its sources was read, and the fingerprint of its rows as built, where known."""

    day: str | None
    fingerprint: str | None


def edition_of(store: Path) -> Edition:
    """The edition of the data in a store.

    Raises
    ------
    StoreUnusable
        It is no store of this version, or what lies beside it is no fingerprint.
    OSError
        It cannot be read.
    """
    with ReferenceFile(store) as file:
        day = file.rows("SELECT max(retrieved) AS day FROM sources")[0]["day"]
    seal = kept_seal(store.resolve())
    return Edition(day, seal.of_rows if seal else None)
