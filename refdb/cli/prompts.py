"""Questions that wait for an answer in a terminal."""

from __future__ import annotations


class Stopped(Exception):
    """Whoever was asked wants no more of it: Ctrl-C, the end of the input, or no."""


def prompt(question: str, needed: bool = False, err: bool = False) -> str:
    """What is typed in answer; empty where Enter alone was pressed and nothing is needed.

    Raises
    ------
    Stopped
        Ctrl-C, or the end of the input.
    """
    import typer

    try:
        return str(typer.prompt(question, default=None if needed else "", show_default=False, err=err))
    except typer.Abort:
        raise Stopped from None


def confirm(question: str, err: bool = False) -> bool:
    """Whether the answer is yes; Stopped as for `prompt`."""
    import typer

    try:
        return typer.confirm(question, err=err)
    except typer.Abort:
        raise Stopped from None
