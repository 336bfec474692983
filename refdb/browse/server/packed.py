"""A piece in an address: its file, squeezed small enough to be kept as a bookmark."""

from __future__ import annotations

import base64
import binascii
import tomllib
import zlib

from refdb.errors import BadInput

#: Letters of a squeezed piece in an address, and bytes of the file that it may grow to.
LONGEST_PACKED, LONGEST_UNPACKED = 6_000, 60_000


def packed(text: str) -> str:
    """The text in letters, digits, - and _; BadInput where it is too long for an address, or no text."""
    try:
        raw = text.encode()
    except UnicodeEncodeError:
        raise BadInput("holds characters that cannot be read", "piece", "type it again") from None
    squeezed = base64.urlsafe_b64encode(zlib.compress(raw, 9)).rstrip(b"=").decode()
    if len(squeezed) > LONGEST_PACKED or len(raw) > LONGEST_UNPACKED:
        raise BadInput("this piece is too long for an address", "piece", "keep it as a file, and send that")
    return squeezed


def unpacked(letters: str) -> str:
    """The text of `packed`; BadInput for what is none, and for what would grow too large."""
    try:
        raw = base64.b64decode(letters + "=" * (-len(letters) % 4), altchars=b"-_", validate=True)
        grown = zlib.decompressobj()
        text = grown.decompress(raw, LONGEST_UNPACKED + 1)
        whole = grown.eof and not grown.unused_data and len(text) <= LONGEST_UNPACKED
        if len(letters) > LONGEST_PACKED or not whole:
            raise ValueError
        return text.decode()
    except (ValueError, binascii.Error, zlib.error):
        raise BadInput("this address holds no piece", "piece", "begin again from the page of a piece") from None


def without_remarks(text: str) -> str:
    """A piece file without its remarks and empty lines, which say nothing to the judge; as it was where that is unsure.

    Only what reads as the very same values is given back.
    """
    lines = [line.strip() for line in text.splitlines()]
    bare = [line for line in lines if line and not line.startswith("#")]
    shorn = [line.rpartition("#")[0].rstrip() if "#" in line else line for line in bare]
    try:
        meant = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return text
    for tried in (shorn, bare):
        short = "\n".join(tried) + "\n"
        try:
            if tomllib.loads(short) == meant:
                return short
        except tomllib.TOMLDecodeError:
            continue
    return text
