"""A whole piece judged from its file, its text, or as a record: the question as a program asks it."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

from refdb.errors import BadInput
from refdb.judge.piece.steps import Piece
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.verdict import Verdict
from refdb.plan.piecefile import parse_piece, read_piece
from refdb.store.reference import Reference


def check_piece(ref: Reference, piece: Piece | str | PathLike[str]) -> Verdict:
    """Judge a whole piece, firing by firing.

    Parameters
    ----------
    ref : Reference
        The open store; opened with a workshop, its own jars may be named and its kiln counts.
    piece : Piece, path or str
        The piece, the path of its file, or the text of one: text with a line break is taken for the file's content.

    Returns
    -------
    Verdict
        One stage a firing; each reason names its step.

    Raises
    ------
    NotFound, BadInput, StoreUnusable

    Examples
    --------
    >>> import refdb
    >>> text = '''
    ... [piece]
    ... title = "leaf pendant"
    ... width = "20 mm"
    ... height = "30 mm"
    ... [base]
    ... metal = "copper-sheet"
    ... thickness = "0.8 mm"
    ... [[step]]
    ... do = "coat"
    ... glass = "clear-hard-lead-free"
    ... thickness = "0.2 mm"
    ... '''
    >>> with refdb.open_reference() as ref:
    ...     refdb.check_piece(ref, text).outcome
    'does not suit'
    """
    if isinstance(piece, Piece):
        return judge_piece(ref, piece)
    if isinstance(piece, str) and "\n" in piece:
        return judge_piece(ref, parse_piece(piece, ref))
    if isinstance(piece, (str, PathLike)):
        return judge_piece(ref, read_piece(Path(piece), ref))
    raise BadInput("is neither a piece nor a file", "piece", "give a path, the text of a piece file, or a Piece")
