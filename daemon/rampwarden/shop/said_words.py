"""What furnaces on a broker say, read as the word of a stranger: whatever comes is bounded, and nothing in it steers.

The one place where text from a broker is taken in for people: every string is cut and freed from control characters and
marks of direction here, numbers and durations are held to what a furnace can say, and JSON of any depth is read or
refused, never a fault. What cannot be read gives None; an alarm in a state or of a priority that is not known here is
taken for the worst, because a newer furnace must not ring in vain.
"""

import math
import re
from dataclasses import dataclass
from typing import TypeVar

import msgspec
from msgspec import Struct

from rampwarden.core.model import AlarmState, CommandName, Priority
from rampwarden.errors import UNREADABLE_JSON
from rampwarden.outputs.mqtt import COMMANDS
from rampwarden.terminal_text import printable

# A description takes 3 kB, the longest list of alarms 8 kB.
LONGEST_BYTES = 65_536
_LONGEST_TEXT = 300
_LONGEST_NAME = 60
# More than there are kinds of alarms.
_MOST_ALARMS = 100
# Letters of a number, and what no furnace exceeds.
_LONGEST_NUMBER = 24
_GREATEST = 1e6
_DURATION = re.compile(r"PT(?:([0-9]{1,5})H)?(?:([0-9]{1,7})M)?(?:([0-9]{1,9})S)?")


class _Listed(Struct, frozen=True):
    alarm: str = ""
    state: str = ""
    priority: str = ""
    text: str = ""
    action: str = ""


class _Event(_Listed, frozen=True):
    late: bool = False


class _Property(Struct, frozen=True):
    settable: bool = False


class _Node(Struct, frozen=True):
    properties: dict[str, _Property] = {}


class _Description(Struct, frozen=True):
    name: str = ""
    nodes: dict[str, _Node] = {}


_Kind = TypeVar("_Kind")
_listed_decoder = msgspec.json.Decoder(tuple[_Listed, ...])
_event_decoder = msgspec.json.Decoder(_Event)
_description_decoder = msgspec.json.Decoder(_Description)


@dataclass(frozen=True, slots=True)
class Standing:
    """An alarm a furnace lists as not normal."""

    alarm: str
    state: AlarmState
    priority: Priority
    text: str = ""
    action: str = ""


@dataclass(frozen=True, slots=True)
class SaidEvent:
    """An event as it was told; `change` is what it says of an alarm, None for a message. `late`: history, not news."""

    text: str
    late: bool
    change: Standing | None


@dataclass(frozen=True, slots=True)
class SelfDescription:
    """What a device says of itself: its name, whether it is a furnace, and which commands it takes."""

    name: str
    is_furnace: bool
    takes: frozenset[CommandName]


def read_text(payload: bytes, longest: int = _LONGEST_TEXT) -> str:
    """Give a payload as text that a terminal may be shown."""
    return _shown(payload[: 4 * longest].decode(errors="replace").replace("\x00", ""), longest)


def read_standing(payload: bytes) -> tuple[Standing, ...] | None:
    """Read a list of alarms; no payload is none of them."""
    listed = _decoded(payload, _listed_decoder) if payload else ()
    return None if listed is None else tuple(_standing(each) for each in listed[:_MOST_ALARMS])


def read_event(payload: bytes) -> SaidEvent | None:
    """Read an event of an alarm or of the heat."""
    event = _decoded(payload, _event_decoder)
    if event is None:
        return None
    change = _standing(event) if event.alarm else None
    return SaidEvent(_shown(event.text, _LONGEST_TEXT), event.late, change)


def read_description(payload: bytes) -> SelfDescription | None:
    """Read `$description`."""
    description = _decoded(payload, _description_decoder)
    if description is None:
        return None
    return SelfDescription(
        _shown(description.name, _LONGEST_NAME),
        _has(description, "probe/temperature") and _has(description, "alarm/standing"),
        frozenset(name for name, (path, _) in COMMANDS.items() if _has(description, path, settable=True)),
    )


def read_number(text: str) -> float | None:
    """Give a number that a furnace may have said, None for anything else."""
    try:
        number = float(text) if len(text) <= _LONGEST_NUMBER else math.nan
    except ValueError:
        return None
    return number if abs(number) < _GREATEST else None


def read_duration_s(text: str) -> int | None:
    """Give an ISO 8601 duration of hours, minutes and seconds in seconds, None for anything else.

    >>> read_duration_s("PT1H30M")
    5400
    """
    match = _DURATION.fullmatch(text)
    if match is None or not any(match.groups()):
        return None
    hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return 3600 * hours + 60 * minutes + seconds


def _standing(said: _Listed) -> Standing:
    alarm, text = _shown(said.alarm, _LONGEST_NAME), _shown(said.text, _LONGEST_TEXT)
    try:
        state = AlarmState(said.state)
    except ValueError:
        state = AlarmState.UNACKNOWLEDGED
    try:
        priority = Priority(said.priority)
    except ValueError:
        priority = Priority.HIGH
    # An event's sentence begins with its alarm's name, which is shown beside it.
    return Standing(alarm, state, priority, text.removeprefix(f"{alarm} · "), _shown(said.action, _LONGEST_TEXT))


def _has(description: _Description, path: str, *, settable: bool = False) -> bool:
    node, _, key = path.partition("/")
    found = description.nodes.get(node, _Node()).properties.get(key)
    return found is not None and (found.settable or not settable)


def _shown(text: str, longest: int) -> str:
    return printable(text[:longest])


def _decoded(payload: bytes, decoder: msgspec.json.Decoder[_Kind]) -> _Kind | None:
    if len(payload) > LONGEST_BYTES:
        return None
    try:
        return decoder.decode(payload)
    except UNREADABLE_JSON:
        return None
