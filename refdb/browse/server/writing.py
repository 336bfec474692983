"""Who may write in the person's own shelf from a page: nobody, unless the view was started so.

Three locks stand one behind the other. The guard passes a form on only from a page of this very view. Every form holds
a secret that is new with each start and stands on no page of another site. Where the view is open to the network, the
browser has also to bring a cookie, which it gets from the link that the terminal shows.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import field
from http.cookies import CookieError, SimpleCookie
from pathlib import Path

from refdb.frozen import dataclass

COOKIE = "refdb-write"
#: Letters of the word in the link: none that are taken for one another; so many that they cannot be guessed.
_LETTERS, _COUNT = "abcdefghjkmnpqrstuvwxyz23456789", 20
#: Bytes of a form that is written down.
LONGEST_FORM = 16_000
#: How long a change waits for another program that writes [s].
PATIENCE_S = 5.0


def new_token() -> str:
    """A word for the link of the terminal."""
    return "".join(secrets.choice(_LETTERS) for _ in range(_COUNT))


@dataclass(frozen=True)
class Writer:
    """Who may write.

    Attributes
    ----------
    path : Path
        The workshop; it is made with the first record where it is not there.
    token : str
        What the cookie has to hold; empty where this computer alone is served.
    over_https : bool
        Whether the view is opened over https alone, so that the cookie is sent over nothing else.
    secret : str
        What every form holds.
    """

    path: Path
    token: str = ""
    over_https: bool = False
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(24))

    def knows(self, cookies: str) -> bool:
        """Whether a browser with these cookies may see forms and send them."""
        if not self.token:
            return True
        try:
            held = SimpleCookie(cookies).get(COOKIE)
        except CookieError:
            return False
        return held is not None and self.is_token(held.value)

    def is_token(self, text: str) -> bool:
        """Whether this is the word of the link."""
        return bool(self.token) and hmac.compare_digest(text.encode(), self.token.encode())

    def is_secret(self, text: str) -> bool:
        """Whether a form holds what the forms of this start hold."""
        return hmac.compare_digest(text.encode(), self.secret.encode())

    @property
    def cookie(self) -> str:
        """What is set where the word of the link was right."""
        sent = "; Secure" if self.over_https else ""
        return f"{COOKIE}={self.token}; Path=/shelf; HttpOnly; SameSite=Strict{sent}"
