"""Questions at a terminal: asked until the answer can be read, or passed over by Enter alone."""

import sys
from collections.abc import Callable
from typing import TypeVar

import typer

from rampwarden.errors import RampwardenError
from rampwarden.terminal_text import printable

Answered = TypeVar("Answered")


def can_ask() -> bool:
    """Tell whether there is somebody at a terminal to be asked."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()


def answer_or_none(question: str, parse: Callable[[str], Answered]) -> Answered | None:
    """Ask until the answer can be read; None for Enter alone."""
    while True:
        text = str(typer.prompt(question, default="", show_default=False, err=True)).strip()
        if not text:
            return None
        try:
            return parse(text)
        except RampwardenError as error:
            typer.echo(f"  {printable(str(error))}", err=True)
