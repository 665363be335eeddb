"""Sentences on their way to whoever typed a command: harmless, and on a terminal broken between words.

Elsewhere a line stays one line, for programs. Tables, JSON and CSV do not pass here: their lines mean something.
"""

import os
import sys

from rampwarden.terminal_text import folded, printable


def say(text: str, *, hanging: int = 4, to_errors: bool = False) -> None:
    """Print one line; on a terminal its further lines begin at column `hanging`."""
    stream = sys.stderr if to_errors else sys.stdout
    line = printable(text)
    if stream.isatty():
        line = folded(line, columns_of(stream.fileno()), hanging)
    print(line, file=stream, flush=True)


def columns_of(descriptor: int) -> int:
    """Give how wide a terminal is; 80 where it does not say."""
    try:
        return os.get_terminal_size(descriptor).columns or 80
    except OSError:
        return 80
