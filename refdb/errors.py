"""The errors refdb raises on purpose: each says what is wrong, where, and what to do about it."""

from __future__ import annotations


class RefdbError(Exception):
    """Base of every error meant for a person.

    Parameters
    ----------
    what : str
        What is wrong, as one short sentence without a full stop.
    where : str
        Where it was found: an option, a file with line and column, a key. May be empty.
    todo : str
        What to do about it. May be empty.
    """

    exit_status = 2

    def __init__(self, what: str, where: str = "", todo: str = "") -> None:
        self.what, self.where, self.todo = what, where, todo
        super().__init__(self.line)

    @property
    def line(self) -> str:
        """The whole message on one line, with control characters made harmless."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.todo:
            text += f"; {self.todo}"
        return "".join(c if c.isprintable() else "?" for c in text)


class BadInput(RefdbError):
    """Something a person typed or passed cannot be used."""


class Ambiguous(BadInput):
    """A name may mean several records; `choices` holds the key and the label of each, the likeliest first."""

    def __init__(self, what: str, where: str = "", todo: str = "", choices: tuple[tuple[str, str], ...] = ()) -> None:
        super().__init__(what, where, todo)
        self.choices = choices


class BadSource(RefdbError):
    """A row of the data sources is wrong: file, line and column are in `where`."""


class NotFound(RefdbError):
    """No record has this key; `near` holds the nearest keys."""

    exit_status = 3

    def __init__(self, what: str, where: str = "", todo: str = "", near: tuple[str, ...] = ()) -> None:
        super().__init__(what, where, todo)
        self.near = near


class StoreUnusable(RefdbError):
    """The store is missing, damaged, or of another version."""

    exit_status = 4


class NotConverged(RefdbError):
    """A calculation did not reach balance, so its answer is refused."""
