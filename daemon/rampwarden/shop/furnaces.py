"""The shop: every furnace on a broker as somebody far away knows it, from the Homie convention's topics alone.

Takes messages and keeps, for each device that describes itself as a furnace, its last words. What it does not know it
passes over, as the convention asks; what is history (`late`) changes nothing and is not news. Times are given; what a
change is worth (a line, a ring) is decided by whoever asks.
"""

import re
from dataclasses import dataclass, field
from enum import Enum
from typing import TypeVar

import msgspec
from msgspec import Struct

from rampwarden.core.model import AlarmState, CommandName, Priority
from rampwarden.outputs.mqtt import COMMANDS, ArrivedMessage

_TOPIC = re.compile(r"([^/]{1,60})/5/([a-z0-9-]{1,60})/(.{1,200})")
# More than any shop has: a broker full of nonsense must not take all memory.
_MOST_FURNACES = 1000
_MOST_VALUES = 200
_LONGEST = 65_536
# A furnace that is ready says its temperature each second; silent this long, something has failed that has no will.
SILENT_S = 30.0


class Standing(Struct, frozen=True):
    """An alarm a furnace lists as not normal."""

    alarm: str
    state: AlarmState
    priority: Priority
    text: str = ""
    action: str = ""


class _Said(Struct, frozen=True):
    text: str = ""
    late: bool = False


class _Property(Struct, frozen=True):
    settable: bool = False


class _Node(Struct, frozen=True):
    properties: dict[str, _Property] = {}


class _Description(Struct, frozen=True):
    name: str = ""
    nodes: dict[str, _Node] = {}


_Kind = TypeVar("_Kind")
_standing_decoder = msgspec.json.Decoder(tuple[Standing, ...])
_said_decoder = msgspec.json.Decoder(_Said)
_description_decoder = msgspec.json.Decoder(_Description)


class ChangeKind(Enum):
    """What has changed at a furnace."""

    FOUND = "found"
    STATE = "state"
    EVENT = "event"
    ALARMS = "alarms"


@dataclass(frozen=True, slots=True)
class Change:
    """Something worth a line. `text` is empty where only the picture changes."""

    furnace: "Furnace"
    kind: ChangeKind
    text: str = ""


@dataclass(slots=True)
class Furnace:
    """One furnace's last words. `heard_s` is when a live temperature came, on the listener's own clock."""

    base: str
    device: str
    state: str = ""
    name: str = ""
    is_furnace: bool = False
    values: dict[str, str] = field(default_factory=dict)
    alarms: tuple[Standing, ...] = ()
    takes: frozenset[CommandName] = frozenset()
    heard_s: float | None = None

    @property
    def title(self) -> str:
        """The id, and the name for people where there is another."""
        return self.device if self.name in ("", self.device) else f"{self.device} ({self.name})"

    @property
    def is_live(self) -> bool:
        """Whether it says it is at work."""
        return self.state in ("init", "ready")

    def number(self, path: str) -> float | None:
        """Give a value as a number, None where it is none."""
        try:
            return float(self.values[path])
        except (KeyError, ValueError):
            return None

    def silent_s(self, now_s: float) -> float | None:
        """Give for how long a furnace at work has said no temperature; None before the first."""
        return None if self.heard_s is None else now_s - self.heard_s


class Shop:
    """Every furnace found so far, by the base of its topics."""

    def __init__(self) -> None:
        self._devices: dict[str, Furnace] = {}

    @property
    def furnaces(self) -> list[Furnace]:
        """Every device that has described itself as a furnace."""
        return [device for device in self._devices.values() if device.is_furnace]

    def find(self, device: str) -> Furnace | None:
        """Give a furnace by its id."""
        return next((furnace for furnace in self.furnaces if furnace.device == device), None)

    def take(self, message: ArrivedMessage, now_s: float) -> list[Change]:
        """Take note of a message; gives what has changed by it."""
        match = _TOPIC.fullmatch(message.topic)
        if match is None or len(message.payload) > _LONGEST:
            return []
        prefix, device, path = match.groups()
        text = message.payload.decode(errors="replace").replace("\x00", "")
        base = f"{prefix}/5/{device}"
        furnace = self._devices.get(base)
        if furnace is None:
            if path != "$state" or len(self._devices) >= _MOST_FURNACES:
                return []
            furnace = self._devices[base] = Furnace(base, device, state=text)
            return [Change(furnace, ChangeKind.FOUND)]
        if path == "$state":
            return self._take_state(furnace, text)
        if path == "$description":
            return self._take_description(furnace, text)
        if path in ("alarm/event", "heat/event"):
            return self._take_event(furnace, message, text)
        if path == "alarm/standing":
            furnace.alarms = _decoded(message.payload, _standing_decoder) or ()
            return [Change(furnace, ChangeKind.ALARMS)]
        self._take_value(furnace, path, text, message, now_s)
        return []

    def _take_state(self, furnace: Furnace, text: str) -> list[Change]:
        before, furnace.state = furnace.state, text
        if not text:
            del self._devices[furnace.base]
        if not furnace.is_live:
            furnace.heard_s = None
        if not furnace.is_furnace or before == text or "init" in (before, text):
            return []
        return [Change(furnace, ChangeKind.STATE, text or "removed")]

    def _take_description(self, furnace: Furnace, text: str) -> list[Change]:
        description = _decoded(text.encode(), _description_decoder)
        if description is None:
            return []
        before = furnace.is_furnace
        furnace.name = description.name
        probe, alarms = description.nodes.get("probe", _Node()), description.nodes.get("alarm", _Node())
        furnace.is_furnace = "temperature" in probe.properties and "standing" in alarms.properties
        furnace.takes = frozenset(name for name, (path, _) in COMMANDS.items() if _settable(description, path))
        return [Change(furnace, ChangeKind.STATE, furnace.state)] if furnace.is_furnace and not before else []

    def _take_event(self, furnace: Furnace, message: ArrivedMessage, text: str) -> list[Change]:
        said = _decoded(text.encode(), _said_decoder)
        if said is None or said.late or message.retained:
            return []
        return [Change(furnace, ChangeKind.EVENT, said.text)]

    def _take_value(self, furnace: Furnace, path: str, text: str, message: ArrivedMessage, now_s: float) -> None:
        if path.startswith("$") or path.endswith("/set") or len(furnace.values) >= _MOST_VALUES:
            return
        furnace.values[path] = text
        if path == "probe/temperature":
            # What the broker had kept may be as old as its expiry allows; what comes live is of now.
            furnace.heard_s = None if not text else now_s if not message.retained else furnace.heard_s
        if not text:
            del furnace.values[path]


def _settable(description: _Description, path: str) -> bool:
    node, _, key = path.partition("/")
    return description.nodes.get(node, _Node()).properties.get(key, _Property()).settable


def _decoded(data: bytes, decoder: msgspec.json.Decoder[_Kind]) -> _Kind | None:
    try:
        return decoder.decode(data)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None
