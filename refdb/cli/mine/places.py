"""What a typed key of one's own may be of, and whether there is a file to look into."""

from __future__ import annotations

from refdb.cli.common import seen_workshop, typed
from refdb.errors import BadInput


def there() -> bool:
    """Whether there is a workshop file; where there is none, opening it to read raises the error that says so."""
    return seen_workshop().is_file()


def place(key: str) -> tuple[tuple[str, ...], str]:
    """The kinds that a typed key may be of, and the key without prefix, or the number."""
    from refdb.store.workshop.keys import own_key
    from refdb.store.workshop.schema import NAMED, NUMBERED

    text = typed(key).strip().lower()
    if text == "kiln":
        return (text,), text
    for kind in NUMBERED:
        if text.startswith(f"{kind}:"):
            number = text.partition(":")[2]
            if not number.isdecimal() or not number.isascii() or len(number) > 9:
                raise BadInput(f"'{number[:20]}' is no number", key[:40], f"write it as {kind}:3")
            return (kind,), str(int(number))
    return NAMED, own_key(typed(key))
