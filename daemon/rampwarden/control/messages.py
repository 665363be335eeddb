"""What is said over a control socket: one line of JSON asks, one line of JSON answers.

    {"format":"rampwarden-control/1","request":"shelve","alarm":"ramp-low","minutes":20}
    {"format":"rampwarden-control/1","taken":true,"text":"Passed on at 14:10: shelve ramp-low."}

Policy. Everything that arrives is held to be hostile: lengths are bounded, and a request of another format is refused
with both formats named. Unknown keys are passed over, so that a newer client of the same format is understood. Opens no
socket.
"""

import re
from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType

import msgspec
from msgspec import Struct

from rampwarden.core.model import Command, CommandName, HeatStatus
from rampwarden.core.usual_marks import USUAL_MARKS
from rampwarden.errors import UNREADABLE_JSON, ControlError

FORMAT = "rampwarden-control/1"
STATUS = "status"
LONGEST_REQUEST = 65_536
"""Bytes of one request, newline included: a hundred times what any needs, and little enough for 16 at once."""
LONGEST_ANSWER = 262_144
"""Bytes of one answer: a status with every alarm of the catalogue standing has some 10 kB."""
LONGEST_TEXT = 500
"""Letters of a note, mark or reason, as in a heat's header."""

MARKS: Mapping[str, str] = MappingProxyType({each.name: each.meaning for each in USUAL_MARKS})
"""The usual marks. Any other word is taken too; only `transfer` and `arrived` move the heat."""


def promise(command: Command, at: datetime) -> str:
    """Say that the watch has a command and will not forget it while it runs.

    It is carried out within a second and written into the record; whether it could be done (there may be no segment to
    skip) stands in the events.
    """
    match command.command:
        case CommandName.NOTE:
            return f"Noted at {at:%H:%M}."
        case CommandName.MARK:
            return f"Marked {command.text!r} at {at:%H:%M}."
        case CommandName.ANSWER:
            return f"Answered at {at:%H:%M}: {command.text}"
        case _:
            what = " ".join(part for part in (str(command.command), command.alarm) if part)
            return f"Passed on at {at:%H:%M}: {what}."


_NOT_PLAIN = re.compile(r"[^ -~]")


class Request(Struct, frozen=True, omit_defaults=True):
    """One request: `status`, or a command's name with what it needs. When it was and by whom is the watch's to say."""

    format: str
    request: str
    alarm: str = ""
    minutes: float = 0.0
    text: str = ""
    question: int = 0


class AboutWatch(Struct, frozen=True):
    """Which watch this is: what does not change while it runs. `degrees` is in what it shows temperatures, C or F."""

    watch: str
    process: int
    port: str
    schedule: str
    record: str
    software: str
    degrees: str = "C"
    rehearsal: bool = False


class Snapshot(Struct, frozen=True):
    """Where the heat stood `age_s` real seconds ago; the watch takes it about once a second."""

    about: AboutWatch
    age_s: float
    status: HeatStatus


class Answer(Struct, frozen=True, omit_defaults=True):
    """The answer to one request: `taken` or not, with the reason or the promise in `text`."""

    format: str
    taken: bool
    text: str = ""
    snapshot: Snapshot | None = None


class _Envelope(Struct):
    format: object = None


def encode(message: Request | Answer) -> bytes:
    """Give a message's line, newline included."""
    return msgspec.json.encode(message) + b"\n"


def read_request(line: bytes) -> Request:
    """Read a request's line; raises `ControlError` with what is wrong with it."""
    _see_to_format(line, "the watch")
    try:
        return msgspec.json.decode(line, type=Request)
    except UNREADABLE_JSON as error:
        raise ControlError(f"not a request: {shown(str(error))}") from None


def read_answer(line: bytes) -> Answer:
    """Read an answer's line; raises `ControlError` with what is wrong with it."""
    _see_to_format(line, "this command")
    try:
        return msgspec.json.decode(line, type=Answer)
    except UNREADABLE_JSON as error:
        raise ControlError(f"not an answer: {shown(str(error))}") from None


def _see_to_format(line: bytes, who: str) -> None:
    """Look at the format alone first: everything else may have another shape in another version."""
    try:
        given = msgspec.json.decode(line, type=_Envelope).format
    except UNREADABLE_JSON as error:
        raise ControlError(f"no JSON object: {shown(str(error))}") from None
    if given != FORMAT:
        theirs = shown(given) if isinstance(given, str) else "none"
        raise ControlError(f"format {theirs}, but {who} speaks {FORMAT!r}; use the same version for both")


def shown(text: str) -> str:
    """Give what somebody sent, fit to be shown: short, and no letter that is more than a letter."""
    return repr(_NOT_PLAIN.sub("?", text[:60]))
