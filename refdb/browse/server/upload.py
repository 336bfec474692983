"""A piece that is sent to its page: the body of the question, read within bounds and taken apart strictly."""

from __future__ import annotations

import asyncio
import logging
import re
from collections.abc import Awaitable, Callable, Mapping
from typing import Any
from urllib.parse import parse_qsl

from python_multipart import FormParser
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import File, parse_options_header

from refdb.browse.server.packed import LONGEST_PACKED, LONGEST_UNPACKED
from refdb.browse.server.query import TooLarge
from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.plan.piecefile import MOST_BYTES

#: Bytes of a body: a piece, whose line ends a browser makes longer, and what is around it.
LONGEST_BODY = MOST_BYTES * 5 // 4
#: Bytes too many that are still taken in and thrown away, so that the sender reads the answer; and for how long [s].
_MOST_WASTED, _PATIENCE_S = 64_000_000, 30.0
_MOST_PARTS, _LONGEST_KIND, _LONGEST_BOUNDARY = 20, 300, 70
# The parser warns of every broken form, with which anyone could fill the terminal.
logging.getLogger("python_multipart").setLevel(logging.CRITICAL)
Receive = Callable[[], Awaitable[Mapping[str, Any]]]


@dataclass(frozen=True)
class Sent:
    """One field of a form: what it holds, and the name of the file, which is None where it is none."""

    content: bytes
    file_name: str | None = None


def too_large(where: str = "piece") -> TooLarge:
    """The refusal of what is larger than a piece file may be."""
    return TooLarge(f"this is larger than {MOST_BYTES / 1e6:.0f} MB", where, "a piece file is a page of text")


def _too_long(longest: int) -> TooLarge:
    if longest == LONGEST_BODY:
        return too_large()
    return TooLarge(f"this is larger than {longest // 1000} kB", "form", "shorten what was typed")


async def body_of(receive: Receive, length: str | None, longest: int = LONGEST_BODY) -> bytes:
    """The body of a question.

    Parameters
    ----------
    receive : callable
        Gives the messages of the question.
    length : str or None
        What the question says of its own length.
    longest : int
        Bytes that are taken.

    Raises
    ------
    TooLarge
        It says that it is too long, or proves to be.
    BadInput
        The sending broke off, or took too long.
    """
    told = int(length) if length is not None and re.fullmatch("[0-9]{1,19}", length) else 0
    if told > longest + _MOST_WASTED:
        raise _too_long(longest)
    parts: list[bytes] = []
    size = 0
    try:
        async with asyncio.timeout(_PATIENCE_S):
            more = True
            while more:
                message = await receive()
                if message["type"] != "http.request":
                    raise BadInput("the sending broke off", "piece", "send it again")
                size += len(message.get("body", b""))
                more = message.get("more_body", False)
                if max(size, told) <= longest:
                    parts.append(message.get("body", b""))
                elif size > longest + _MOST_WASTED:
                    break
    except TimeoutError:
        raise BadInput("the sending took too long", "piece", "send it again") from None
    if max(size, told) > longest:
        raise _too_long(longest)
    return b"".join(parts)


def fields_of(kind: str, body: bytes, known: tuple[str, ...]) -> dict[str, Sent]:
    """The fields of a form by name.

    Parameters
    ----------
    kind : str
        The content type that was told, with its boundary.
    body : bytes
        What was sent.
    known : tuple of str
        Names that are taken.

    Raises
    ------
    BadInput
        It is no form, it is broken, or a field is not known or given twice.
    """
    head = kind.partition(";")[0].strip().lower()
    if head == "multipart/form-data":
        pairs = _parts(kind, body)
    elif head == "application/x-www-form-urlencoded":
        pairs = _pairs(body)
    else:
        raise BadInput("what was sent is no form", "piece", "send it from the page of a piece")
    found: dict[str, Sent] = {}
    for name, sent in pairs:
        if name not in known:
            shown = name if len(name) <= 40 else name[:37] + "…"
            raise BadInput(f"this page takes no '{shown}'", todo=f"it takes {', '.join(known)}")
        if name in found:
            raise BadInput("is given twice", name, "give it once")
        found[name] = sent
    return found


def _pairs(body: bytes) -> list[tuple[str, Sent]]:
    try:
        pairs = parse_qsl(body.decode("ascii"), keep_blank_values=True, max_num_fields=_MOST_PARTS, encoding="latin-1")
    except UnicodeDecodeError:
        raise _broken() from None
    except ValueError:
        raise BadInput("the form has too many parts", "piece", "send it from the page of a piece") from None
    return [(name, Sent(value.encode("latin-1"))) for name, value in pairs]


def _parts(kind: str, body: bytes) -> list[tuple[str, Sent]]:
    """The parts of a form in many parts; nothing stands before its first boundary or behind its last."""
    if len(kind) > _LONGEST_KIND or not kind.isascii():
        raise _broken()
    boundary = parse_options_header(kind)[1].get(b"boundary", b"")
    whole = body.strip()
    if not 1 <= len(boundary) <= _LONGEST_BOUNDARY or not whole.endswith(b"--" + boundary + b"--"):
        raise _broken()
    found: list[tuple[str, Sent]] = []
    ends: list[bool] = []

    def take(name: bytes | None, content: bytes | None, file_name: bytes | None = None) -> None:
        if len(found) >= _MOST_PARTS:
            raise BadInput("the form has too many parts", "piece", "send it from the page of a piece")
        file = None if file_name is None else file_name.decode("utf-8", "replace")
        found.append(((name or b"").decode("utf-8", "replace"), Sent(content or b"", file)))

    def take_file(file: File) -> None:
        file.file_object.seek(0)
        take(file.field_name, file.file_object.read(), file.file_name)

    try:
        form = FormParser(
            "multipart/form-data",
            lambda field: take(field.field_name, field.value),
            take_file,
            lambda: ends.append(True),
            boundary,
            config={"MAX_MEMORY_FILE_SIZE": LONGEST_BODY, "UPLOAD_ERROR_ON_BAD_CTE": True},
        )
        form.write(whole)
    except FormParserError:
        raise _broken() from None
    if not ends:
        raise _broken()
    return found


def _broken() -> BadInput:
    return BadInput("what was sent is broken", "piece", "send it again, or paste its text")


#: Letters of one field of a form, but for a file and a piece squeezed into one.
_LONGEST_FIELD = 200


def texts_of(fields: Mapping[str, Sent]) -> dict[str, str]:
    """The fields of a form as texts, without the empty ones.

    Raises
    ------
    BadInput
        One is too long, or no text.
    """
    found: dict[str, str] = {}
    for name, sent in fields.items():
        try:
            text = sent.content.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise BadInput("holds characters that cannot be read", name, "type it again") from None
        most = {"p": LONGEST_PACKED, "file": LONGEST_UNPACKED}.get(name, _LONGEST_FIELD)
        if len(text) > most:
            raise BadInput(f"is longer than {most:,} letters", name, "shorten it")
        if name != "file" and not text.isprintable():
            raise BadInput("holds characters that cannot be read", name, "type it again")
        if text.strip():
            found[name] = text
    return found


def readable(fields: Mapping[str, Sent]) -> dict[str, str]:
    """What can be read of each field that was filled in, to be shown again whatever is wrong with it."""
    texts = {name: sent.content.decode("utf-8-sig", "replace") for name, sent in fields.items()}
    return {name: "".join(c if c.isprintable() else " " for c in text) for name, text in texts.items() if text.strip()}


@dataclass(frozen=True)
class SentPiece:
    """A piece that was sent: its text, how it is called in messages, and whether it came as a file."""

    text: str
    where: str
    as_file: bool


def wants_sheet(fields: Mapping[str, Sent]) -> bool:
    """Whether the sheet to print is asked for, not the page."""
    wanted = fields["as"].content if "as" in fields else b""
    if wanted not in (b"", b"sheet"):
        raise BadInput("this is not known here", "as", "leave it away, or say sheet")
    return wanted == b"sheet"


def piece_of(fields: Mapping[str, Sent]) -> SentPiece:
    """The text of the piece in a form, pasted or as a file.

    Raises
    ------
    TooLarge
        It is larger than a piece file may be.
    BadInput
        There is none, there are two, or it is not text in UTF-8.
    """
    file, pasted = fields.get("file"), fields.get("text")
    if file is not None and not file.file_name and not file.content:
        file = None
    if file is not None and pasted is not None and pasted.content.strip():
        raise BadInput("a file and a text are both given", "piece", "give one of them")
    if file is None and (pasted is None or not pasted.content.strip()):
        raise BadInput("there is no piece", "piece", "choose its file, or paste its text")
    if file is not None:
        where = "".join(c for c in (file.file_name or "").replace("\\", "/").rpartition("/")[2] if c.isprintable())
        content, where = file.content, where[-60:] or "piece"
    else:
        assert pasted is not None
        # A browser sends every line end of a field as two bytes.
        content, where = pasted.content.replace(b"\r\n", b"\n"), "piece"
    if len(content) > MOST_BYTES:
        raise too_large(where)
    try:
        return SentPiece(content.decode("utf-8"), where, file is not None)
    except UnicodeDecodeError:
        raise BadInput("this is not text in UTF-8", where, "save it as UTF-8") from None
