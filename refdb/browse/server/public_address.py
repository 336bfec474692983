"""The address by which others on the network open the view, where the person says it rather than this computer."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from refdb.browse.server.guard import is_number
from refdb.errors import BadInput
from refdb.frozen import dataclass

_OPTION = "--address"
_TODO = "give it as http://bench.local:8733, a name or number of this computer"
#: A name as the network has it: labels of letters, digits and inner hyphens.
_NAME = re.compile(r"(?=.{1,253}\Z)[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*")


@dataclass(frozen=True)
class PublicAddress:
    """How the view is opened from elsewhere.

    Attributes
    ----------
    scheme : "http" or "https"
    name : str
        A host name or number in small letters; a number of six groups and more stands in brackets.
    port : int, optional
        The port that was said.
    """

    scheme: str
    name: str
    port: int | None

    def at(self, port: int) -> str:
        """The whole address, without a stroke at its end; `port` is the one listened on, taken where none was said.

        With https something else answers for the view, so its own port is not named.
        """
        told = self.port if self.port is not None or self.scheme == "https" else port
        return f"{self.scheme}://{self.name}" + ("" if told is None else f":{told}")


def read_address(text: str) -> PublicAddress:
    """The address that was typed; one without http:// is taken to have it.

    Raises
    ------
    BadInput
        It is none, or holds more than a host and a port.
    """
    typed = text.strip()
    whole = typed if "://" in typed else f"http://{typed}"
    try:
        parts = urlsplit(whole)
        name, port = (parts.hostname or "").rstrip("."), parts.port
    except ValueError:
        raise BadInput("is no address", _OPTION, _TODO) from None
    if parts.scheme not in ("http", "https") or any(c.isspace() or not c.isprintable() for c in whole):
        raise BadInput("is no address of pages", _OPTION, _TODO)
    if parts.path not in ("", "/") or any(c in whole for c in "?#@\\"):
        raise BadInput("holds more than a host and a port", _OPTION, _TODO)
    if port == 0 or not (is_number(name) or (_NAME.fullmatch(name) and not name.replace(".", "").isdigit())):
        raise BadInput("names no computer", _OPTION, _TODO)
    return PublicAddress(parts.scheme, f"[{name}]" if ":" in name else name, port)
