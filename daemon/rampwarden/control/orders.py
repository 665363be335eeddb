"""The command that a request asks for, held to be hostile until it is understood.

An alarm must be one of the catalogue, a text loses every character that steers a terminal. For the watch's end alone:
the catalogue brings every alarm's module with it, and who only asks does not wait for those.
"""

from collections.abc import Mapping
from types import MappingProxyType

from rampwarden.control.messages import LONGEST_TEXT, MARKS, STATUS, Request, shown
from rampwarden.core.catalogue import CATALOGUE, is_alarm
from rampwarden.core.model import Command, CommandName
from rampwarden.core.usual_marks import refuse_unusable
from rampwarden.errors import ControlError, QuantityError
from rampwarden.terminal_text import printable

_MOST_QUESTIONS = 100_000
_SHORTEST_SHELVED_MIN, _LONGEST_SHELVED_MIN = 1.0, 24 * 60.0
_NEEDS_TEXT: Mapping[CommandName, str] = MappingProxyType(
    {
        CommandName.NOTE: "a note needs its text",
        CommandName.MARK: f"a mark needs its word, such as {', '.join(MARKS)}",
        CommandName.SKIP_SEGMENT: "skipping a segment needs its reason",
        CommandName.ANSWER: "an answer needs its words",
    }
)
_OF_ANY_ALARM = (CommandName.ACKNOWLEDGE, CommandName.WRONG, CommandName.UNDO_WRONG)
"""What may be said without naming an alarm: then it is meant of all, or of the newest statement."""


def command_of(request: Request, by: str) -> Command:
    """Give the command a request asks for; raises `ControlError` when there is none such or it lacks something."""
    try:
        name = CommandName(request.request)
    except ValueError:
        known = ", ".join((STATUS, *CommandName))
        raise ControlError(f"no request {shown(request.request)}; known: {known}") from None
    if len(request.text) > LONGEST_TEXT:
        raise ControlError(f"{name}: a text of {len(request.text)} letters; at most {LONGEST_TEXT}")
    text = printable(" ".join(request.text.split()))
    if not text and name in _NEEDS_TEXT:
        raise ControlError(_NEEDS_TEXT[name])
    if name is CommandName.MARK:
        try:
            refuse_unusable(text)
        except QuantityError as error:
            raise ControlError(f"mark: {error}") from None
    alarm, minutes = "", 0.0
    if name in (*_OF_ANY_ALARM, CommandName.SHELVE, CommandName.UNSHELVE):
        alarm = _alarm(request.alarm, name)
    if name is CommandName.SHELVE:
        minutes = request.minutes
        if not _SHORTEST_SHELVED_MIN <= minutes <= _LONGEST_SHELVED_MIN:
            raise ControlError(f"shelve: {minutes:g} minutes; between 1 minute and 24 hours (1440)")
    question = request.question if name is CommandName.ANSWER else 0
    if not 0 <= question <= _MOST_QUESTIONS:
        raise ControlError(f"{name}: no question {question}; they are numbered from 1, and 0 is the oldest")
    return Command(0.0, name, alarm=alarm, minutes=minutes, text=text, by=by, question=question)


def _alarm(given: str, name: CommandName) -> str:
    if not given and name in _OF_ANY_ALARM:
        return ""
    if not is_alarm(given):
        what = f"no alarm {shown(given)}" if given else "which alarm?"
        raise ControlError(f"{name}: {what}; there are {', '.join(CATALOGUE)}")
    return given
