"""A person at the terminal of a running watch: a line typed is a word to it.

Enter alone acknowledges every alarm. The words are few because gloves are on.
"""

import sys
import threading
from collections.abc import Callable

from rampwarden.core.model import CommandName

HELP = "Enter acknowledges · n TEXT notes · m WORD marks (transfer, arrived, lid-open …) · skip WHY · Ctrl-C ends"

Obey = Callable[[CommandName, str], None]


def understand(line: str) -> tuple[CommandName, str] | None:
    """Give the command a typed line means and its text; None when it means nothing.

    >>> understand("n gas to 0.04 bar")
    (<CommandName.NOTE: 'note'>, 'gas to 0.04 bar')
    """
    word, _, text = line.strip().partition(" ")
    text = text.strip()
    match word:
        case "" | "a":
            return CommandName.ACKNOWLEDGE, ""
        case "n" if text:
            return CommandName.NOTE, text
        case "m" if text:
            return CommandName.MARK, text
        case "skip" if text:
            return CommandName.SKIP_SEGMENT, text
        case _:
            return None


def listen_to_keyboard(obey: Obey, misunderstood: Callable[[], None]) -> None:
    """Read lines from standard input in a thread of its own until it ends."""

    def read() -> None:
        for line in sys.stdin:
            command = understand(line)
            if command is None:
                misunderstood()
            else:
                obey(*command)

    threading.Thread(target=read, name="keyboard", daemon=True).start()
