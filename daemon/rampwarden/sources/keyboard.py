"""A person at the terminal of a running watch: a line typed is a word to it.

Enter alone acknowledges every alarm. The words are few because gloves are on.
"""

import os
import threading
import time
from collections.abc import Callable

from rampwarden.core.model import Command, CommandName

HELP = (
    "Enter acknowledges · w: that was wrong · n TEXT notes · m WORD marks (transfer, arrived, lid-open …) · "
    "r WORDS replies to a question · skip WHY · Ctrl-C ends"
)

# What each word needs beside it, as it is asked for.
_LACKS = {
    "n": "a note needs its text, as in: n new gas bottle",
    "m": "a mark needs its word, as in: m lid-open",
    "r": "a reply needs its words, as in: r done",
    "skip": "the reason is kept in the record, as in: skip the pot is hot",
}

# What a terminal passes on as one line (common practice, no source).
_LONGEST_LINE = 4096
_AWAY_S = 1.0


def understand(line: str) -> Command | None:
    """Give the command a typed line means; None when it means nothing.

    >>> understand("n gas to 0.04 bar").text
    'gas to 0.04 bar'
    >>> understand("w ramp-high").alarm
    'ramp-high'
    """
    word, _, text = line.strip().partition(" ")
    text = text.strip()
    match word:
        case "" | "a":
            return _command(CommandName.ACKNOWLEDGE)
        case "w":
            return _command(CommandName.WRONG, alarm=text)
        case "u":
            return _command(CommandName.UNDO_WRONG, alarm=text)
        case "n" if text:
            return _command(CommandName.NOTE, text)
        case "m" if text:
            return _command(CommandName.MARK, text)
        case "r" if text:
            return _command(CommandName.ANSWER, text)
        case "skip" if text:
            return _command(CommandName.SKIP_SEGMENT, text)
        case _:
            return None


def why_not(line: str) -> str:
    """Say what a line that means nothing lacks, or what would mean something.

    >>> why_not("skip")
    'the reason is kept in the record, as in: skip the pot is hot'
    """
    return _LACKS.get(line.strip(), f"not understood · {HELP}")


def _command(name: CommandName, text: str = "", alarm: str = "") -> Command:
    return Command(0.0, name, alarm=alarm, text=text, by="terminal")


def listen_to_keyboard(
    obey: Callable[[Command], None], misunderstood: Callable[[str], None], descriptor: int = 0
) -> None:
    """Read lines from a terminal in a thread of its own, as long as the process lives.

    `misunderstood` is told what to say of a line that means nothing.

    The descriptor is read as it is: a thread that waits inside `sys.stdin` holds a lock the interpreter needs to end,
    and bytes that are no UTF-8 would end it.
    """

    def read() -> None:
        begun = b""
        while True:
            *lines, begun = (begun + _read(descriptor)).split(b"\n")
            begun = begun[-_LONGEST_LINE:]
            for line in lines:
                text = line.decode(errors="replace")
                command = understand(text)
                if command is None:
                    misunderstood(why_not(text))
                else:
                    obey(command)

    threading.Thread(target=read, name="keyboard", daemon=True).start()


def _read(descriptor: int) -> bytes:
    try:
        data = os.read(descriptor, _LONGEST_LINE)
    except OSError:
        data = b""
    if not data:
        # Ctrl-D was pressed, or the terminal is not ours now (in the background) or no more: it may be again.
        time.sleep(_AWAY_S)
    return data
