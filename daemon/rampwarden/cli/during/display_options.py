"""Options of every command that can draw a display."""

from typing import Annotated

import typer

PlainOption = Annotated[bool, typer.Option("--plain", help="Plain lines, no display.")]
