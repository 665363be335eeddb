"""A person at the terminal of a running watch: a line typed is a word to it.

Enter alone acknowledges every alarm. The words are few because gloves are on.
"""

import sys
import threading
from collections.abc import Callable

from rampwarden.core.model import Command, CommandName

HELP = "Enter acknowledges · n TEXT notes · m WORD marks (transfer, arrived, lid-open …) · skip WHY · Ctrl-C ends"


def understand(line: str) -> Command | None:
    """Give the command a typed line means; None when it means nothing.

    >>> understand("n gas to 0.04 bar").text
    'gas to 0.04 bar'
    """
    word, _, text = line.strip().partition(" ")
    text = text.strip()
    match word:
        case "" | "a":
            return _command(CommandName.ACKNOWLEDGE)
        case "n" if text:
            return _command(CommandName.NOTE, text)
        case "m" if text:
            return _command(CommandName.MARK, text)
        case "skip" if text:
            return _command(CommandName.SKIP_SEGMENT, text)
        case _:
            return None


def _command(name: CommandName, text: str = "") -> Command:
    return Command(0.0, name, text=text, by="terminal")


def listen_to_keyboard(obey: Callable[[Command], None], misunderstood: Callable[[], None]) -> None:
    """Read lines from standard input in a thread of its own until it ends."""

    def read() -> None:
        for line in sys.stdin:
            command = understand(line)
            if command is None:
                misunderstood()
            else:
                obey(command)

    threading.Thread(target=read, name="keyboard", daemon=True).start()
