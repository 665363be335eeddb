"""What a person tells a running watch from any terminal: one command each, and each is one line on its socket.

An answer of "taken" promises that the watch has it. What came of it stands in the log, in the record and in
`rampwarden status`.
"""

from typing import Annotated

import typer

from rampwarden.cli.during import telling
from rampwarden.cli.during.status import WatchOption
from rampwarden.control import MARKS
from rampwarden.core.model import CommandName

_MARKS_HELP = (
    "What you did or saw: " + "; ".join(f"{word} ({meaning})" for word, meaning in MARKS.items()) + "; or your own."
)

AlarmArgument = Annotated[str, typer.Argument(help="The alarm's name, such as ramp-low.", show_default=False)]
WhyOption = Annotated[str, typer.Option("--why", help="The reason, for the record.", show_default=False)]


def acknowledge(
    alarm: Annotated[str, typer.Argument(help="The alarm's name; none: every alarm.", show_default=False)] = "",
    watch: WatchOption = "",
) -> None:
    """Acknowledge an alarm: seen and being dealt with. The bell falls silent, the alarm stays until it is over."""
    telling.acknowledge(alarm, watch=watch)


def shelve(
    alarm: AlarmArgument,
    minutes: Annotated[float, typer.Argument(min=1, max=1440, help="For how long; it then comes back by itself.")],
    watch: WatchOption = "",
) -> None:
    """Set an alarm aside for a while."""
    telling.tell(watch, CommandName.SHELVE, alarm=alarm, minutes=minutes)


def unshelve(alarm: AlarmArgument, watch: WatchOption = "") -> None:
    """Take an alarm back that was set aside."""
    telling.tell(watch, CommandName.UNSHELVE, alarm=alarm)


def wrong(
    alarm: Annotated[
        str, typer.Argument(help="The alarm's name; none: the newest statement.", show_default=False)
    ] = "",
    undo: Annotated[bool, typer.Option("--undo", help="Take that back: it was right after all.")] = False,
    watch: WatchOption = "",
) -> None:
    """Say that the watch was wrong: what it said is withdrawn. What protects the pot rings again if it grows worse."""
    telling.tell(watch, CommandName.UNDO_WRONG if undo else CommandName.WRONG, alarm=alarm)


def note(
    text: Annotated[list[str], typer.Argument(help="At most 500 letters.", show_default=False)],
    watch: WatchOption = "",
) -> None:
    """Write a note into the heat's record."""
    telling.note(*text, watch=watch)


def mark(
    words: Annotated[list[str], typer.Argument(help=_MARKS_HELP, show_default=False)],
    watch: WatchOption = "",
) -> None:
    """Mark what you have just done or seen at the furnace, some marks with a value: gauge 1.2 bar."""
    telling.mark(*words, watch=watch)


def answer(
    words: Annotated[list[str], typer.Argument(help="One of the answers offered, or your own.", show_default=False)],
    question: Annotated[
        int, typer.Option("--question", min=0, help="The question's number; 0: the one that has waited longest.")
    ] = 0,
    watch: WatchOption = "",
) -> None:
    """Answer what the watch asks: the question that has waited longest, or one by its number."""
    telling.answer(*words, question=question, watch=watch)


def skip_segment(why: WhyOption, watch: WatchOption = "") -> None:
    """End the present segment on your word and go on with the next."""
    telling.tell(watch, CommandName.SKIP_SEGMENT, text=why)


def end_heat(why: WhyOption = "", watch: WatchOption = "") -> None:
    """End the heat on your word: no schedule any more. Readings are still recorded until the watch is stopped."""
    telling.tell(watch, CommandName.END_HEAT, text=why)
