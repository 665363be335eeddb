"""What is said over a control socket: one line of JSON asks, one line of JSON answers.

    {"format":"rampwarden-control/1","request":"shelve","alarm":"ramp-low","minutes":20}
    {"format":"rampwarden-control/1","taken":true,"text":"taken: …"}

Policy. Everything that arrives is held to be hostile: lengths are bounded, an alarm must be one of the catalogue, a
text loses every character that steers a terminal, and a request of another format is refused with both formats named.
Unknown keys are passed over, so that a newer client of the same format is understood. Opens no socket.
"""

import re
from collections.abc import Mapping
from types import MappingProxyType

import msgspec
from msgspec import Struct

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import Command, CommandName, HeatStatus
from rampwarden.errors import UNREADABLE_JSON, ControlError
from rampwarden.terminal_text import printable

FORMAT = "rampwarden-control/1"
STATUS = "status"
LONGEST_REQUEST = 65_536
"""Bytes of one request, newline included: a hundred times what any needs, and little enough for 16 at once."""
LONGEST_ANSWER = 262_144
"""Bytes of one answer: a status with every alarm of the catalogue standing has some 10 kB."""
LONGEST_TEXT = 500
"""Letters of a note, mark or reason, as in a heat's header."""

MARKS: Mapping[str, str] = MappingProxyType(
    {
        "lid-open": "the lid is open",
        "lid-closed": "the lid is shut again",
        "transfer": "the pot leaves the oven: begins the schedule's transfer",
        "arrived": "the pot stands in the furnace: ends the transfer",
        "bottle-changed": "another gas bottle",
        "charged": "metal was put in",
        "flame-out": "the flame went out",
        "dial": "the dial was touched: a reading that moves then is believed again",
    }
)
"""The usual marks. Any other word is taken too; only `transfer` and `arrived` move the heat."""

TAKEN = "taken: carried out within a second, and written into the record with what came of it"
"""What an answer promises: the watch has it and will not forget it while it runs. It is not done yet, and whether it
could be done (there may be no segment to skip) stands in the events."""

_SHORTEST_SHELVED_MIN, _LONGEST_SHELVED_MIN = 1.0, 24 * 60.0
_NEEDS_TEXT: Mapping[CommandName, str] = MappingProxyType(
    {
        CommandName.NOTE: "a note needs its text",
        CommandName.MARK: f"a mark needs its word, such as {', '.join(MARKS)}",
        CommandName.SKIP_SEGMENT: "skipping a segment needs its reason",
    }
)
_OF_ANY_ALARM = (CommandName.ACKNOWLEDGE, CommandName.WRONG, CommandName.UNDO_WRONG)
"""What may be said without naming an alarm: then it is meant of all, or of the newest statement."""
# What the decoder raises on bytes that are none of ours: bad UTF-8 and a thousand brackets among them.
_NOT_PLAIN = re.compile(r"[^ -~]")


class Request(Struct, frozen=True, omit_defaults=True):
    """One request: `status`, or a command's name with what it needs. When it was and by whom is the watch's to say."""

    format: str
    request: str
    alarm: str = ""
    minutes: float = 0.0
    text: str = ""


class AboutWatch(Struct, frozen=True):
    """Which watch this is: what does not change while it runs."""

    watch: str
    process: int
    port: str
    schedule: str
    record: str
    software: str


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
        raise ControlError(f"not a request: {_shown(str(error))}") from None


def read_answer(line: bytes) -> Answer:
    """Read an answer's line; raises `ControlError` with what is wrong with it."""
    _see_to_format(line, "this command")
    try:
        return msgspec.json.decode(line, type=Answer)
    except UNREADABLE_JSON as error:
        raise ControlError(f"not an answer: {_shown(str(error))}") from None


def command_of(request: Request, by: str) -> Command:
    """Give the command a request asks for; raises `ControlError` when there is none such or it lacks something."""
    try:
        name = CommandName(request.request)
    except ValueError:
        known = ", ".join((STATUS, *CommandName))
        raise ControlError(f"no request {_shown(request.request)}; known: {known}") from None
    if len(request.text) > LONGEST_TEXT:
        raise ControlError(f"{name}: a text of {len(request.text)} letters; at most {LONGEST_TEXT}")
    text = printable(" ".join(request.text.split()))
    if not text and name in _NEEDS_TEXT:
        raise ControlError(_NEEDS_TEXT[name])
    alarm, minutes = "", 0.0
    if name in (*_OF_ANY_ALARM, CommandName.SHELVE, CommandName.UNSHELVE):
        alarm = _alarm(request.alarm, name)
    if name is CommandName.SHELVE:
        minutes = request.minutes
        if not _SHORTEST_SHELVED_MIN <= minutes <= _LONGEST_SHELVED_MIN:
            raise ControlError(f"shelve: {minutes:g} minutes; between 1 minute and 24 hours (1440)")
    return Command(0.0, name, alarm=alarm, minutes=minutes, text=text, by=by)


def _alarm(given: str, name: CommandName) -> str:
    if not given and name in _OF_ANY_ALARM:
        return ""
    if given not in CATALOGUE:
        what = f"no alarm {_shown(given)}" if given else "which alarm?"
        raise ControlError(f"{name}: {what}; there are {', '.join(CATALOGUE)}")
    return given


def _see_to_format(line: bytes, who: str) -> None:
    """Look at the format alone first: everything else may have another shape in another version."""
    try:
        given = msgspec.json.decode(line, type=_Envelope).format
    except UNREADABLE_JSON as error:
        raise ControlError(f"no JSON object: {_shown(str(error))}") from None
    if given != FORMAT:
        shown = _shown(given) if isinstance(given, str) else "none"
        raise ControlError(f"format {shown}, but {who} speaks {FORMAT!r}; use the same version for both")


def _shown(text: str) -> str:
    """Give what somebody sent, fit to be shown: short, and no letter that is more than a letter."""
    return repr(_NOT_PLAIN.sub("?", text[:60]))
