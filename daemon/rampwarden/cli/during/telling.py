"""What the commands that tell a running watch something do; `commands` and `plain_calls` have how they are typed.

Knows no command line, so that acknowledging an alarm costs no more than saying so.
"""

import os

from rampwarden.cli.saying import say
from rampwarden.control import FORMAT, Request, ask
from rampwarden.core.model import CommandName


def acknowledge(alarm: str = "", *, watch: str = "") -> None:
    """Acknowledge one alarm, or with no name every one."""
    tell(watch, CommandName.ACKNOWLEDGE, alarm=alarm)


def note(*words: str, watch: str = "") -> None:
    """Write a note of so many words into the heat's record."""
    tell(watch, CommandName.NOTE, text=" ".join(words))


def mark(*words: str, watch: str = "") -> None:
    """Mark what has just been done or seen at the furnace."""
    tell(watch, CommandName.MARK, text=" ".join(words))


def answer(*words: str, question: int = 0, watch: str = "") -> None:
    """Answer a question by its number, or the one that has waited longest."""
    tell(watch, CommandName.ANSWER, text=" ".join(words), question=question)


def tell(
    watch: str, command: CommandName, alarm: str = "", minutes: float = 0.0, text: str = "", question: int = 0
) -> None:
    """Tell the watch called `watch`, or the only one, and print its answer; raises `ControlError` where none is had."""
    said = ask(os.environ, watch, Request(FORMAT, command, alarm, minutes, text, question))
    say(said.text)
