"""Opening the store: the reference alone, or with a person's own workshop beside it."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

from refdb.errors import BadInput
from refdb.store.reference import Reference, default_path


def open_reference(
    path: str | PathLike[str] | None = None, *, workshop: bool | str | PathLike[str] | None = None
) -> Reference:
    """Open a reference store read only.

    Parameters
    ----------
    path : str or path, optional
        The store; by default that which `REFDB_STORE` names, or the one that came with the package.
    workshop : bool, str or path, optional
        True for the person's own workshop where it usually lies, or the file of one: then keys that begin with `my:`
        are known too, and settings are judged in the person's own kiln. Without it nothing of a person's is read.

    Returns
    -------
    Reference
        Close it, or use it in a `with` statement.

    Raises
    ------
    BadInput
        What was given is no path.
    StoreUnusable
        There is no store there, it cannot be read, or it is of another version.

    Examples
    --------
    >>> import refdb
    >>> with refdb.open_reference() as ref:
    ...     ref.metal("copper-sheet").label
    'Copper sheet'
    """
    store = default_path() if path is None else _path(path, "path")
    if workshop is None or workshop is False:
        return Reference(store)
    from refdb.store.workshop.beside_reference import Shelf

    return Shelf(store, None if workshop is True else _path(workshop, "workshop"))


def _path(given: object, where: str) -> Path:
    if isinstance(given, (str, PathLike)):
        return Path(given)
    raise BadInput("is no path of a file", where, "give text or a pathlib.Path")
