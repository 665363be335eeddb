"""The shop: every furnace on a broker as somebody far away knows it, from the Homie convention's topics alone.

Takes messages and keeps, for each device that speaks like a furnace, its last words. A device is one because it
describes itself as one or because it lists alarms: an alarm whose furnace's description never came is an alarm all the
same. What it does not know it passes over, as the convention asks; what is history (`late`) changes nothing and is not
news. Times are given; what a change is worth (a line, a ring) is decided by whoever asks.
"""

import re
from dataclasses import dataclass, field
from enum import Enum

from rampwarden.core.model import AlarmState, CommandName
from rampwarden.outputs.mqtt import ALARM_EVENT, HEAT_EVENT, ArrivedMessage
from rampwarden.shop.said_words import (
    Standing,
    read_description,
    read_event,
    read_number,
    read_standing,
    read_text,
)

STATE, DESCRIPTION, STANDING = "$state", "$description", "alarm/standing"
# What a row of the overview is made of.
VALUES = (
    "probe/temperature",
    "probe/ramp",
    "schedule/segment",
    "schedule/segment-number",
    "schedule/segment-count",
    "schedule/phase",
    "schedule/to-next",
    "schedule/ramp-lowest",
    "schedule/ramp-highest",
)
_TEMPERATURE = VALUES[0]
_TOPIC = re.compile(r"([^/]{1,60})/5/([a-z0-9-]{1,60})/(.{1,200})")
# A device takes about 1 kB here: a broker full of nonsense must not take all memory, and it is said when it would.
MOST_DEVICES = 20_000
_LONGEST_VALUE = 60
_LONGEST_STATE = 20
# A furnace at work tells its list of alarms every 10 s, changed or not; three times unheard, something has failed that
# has no will.
SILENT_S = 30.0
# A list of alarms and an event go different ways: a list that comes this long after an event was told after it.
_AFTER_EVENT_S = 2.0
# More than there are kinds of alarms.
_MOST_TOLD = 100
_ENDED = ("disconnected", "lost", "sleeping")


class ChangeKind(Enum):
    """What has changed at a furnace. `WANTING`: something of it is yet to be asked for."""

    WANTING = "wanting"
    GONE = "gone"
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
    """One device's last words, those of a furnace above all.

    `heard_s` is when it last said anything itself, or since when it could be heard; `temp_s` when a live temperature
    came; both in seconds of the listener's own clock. `listed` and `to_describe` tell whether its list of alarms is
    known and its description wanted, on this connection. Values are kept while it `is_shown`: nobody renews others.
    `unreadable` names topics that hold what cannot be read.
    """

    base: str
    device: str
    state: str = ""
    name: str = ""
    described: bool = False
    to_describe: bool = True
    listed: bool = False
    is_furnace: bool = False
    is_shown: bool = False
    values: dict[str, str] = field(default_factory=dict)
    alarms: tuple[Standing, ...] = ()
    takes: frozenset[CommandName] = frozenset()
    heard_s: float = 0.0
    temp_s: float | None = None
    unreadable: set[str] = field(default_factory=set)
    _list: tuple[Standing, ...] = ()
    _told: dict[str, tuple[Standing, float]] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """The id, and the name for people where there is another."""
        return self.device if self.name in ("", self.device) else f"{self.device} ({self.name})"

    @property
    def is_live(self) -> bool:
        """Whether it is at work, as far as anybody knows: a word that means nothing here does not end a furnace."""
        return self.state not in _ENDED

    @property
    def lacks(self) -> list[str]:
        """The paths below its base that have not come and should have."""
        wanted = ((STATE, bool(self.state)), (STANDING, self.listed or not self.is_live))
        return [path for path, has_come in wanted if not has_come] + [DESCRIPTION] * self.to_describe

    def number(self, path: str) -> float | None:
        """Give a value as a number, None where it is none that a furnace could have said."""
        return read_number(self.values.get(path, ""))

    def silent_s(self, now_s: float) -> float:
        """Give for how long it has said nothing at all."""
        return now_s - self.heard_s

    def is_missing(self, now_s: float) -> bool:
        """Tell whether it should be heard and is not: its will came, or it has stopped saying anything."""
        return self.state == "lost" or (self.is_live and self.silent_s(now_s) > SILENT_S)

    def matches(self, letters: str) -> bool:
        """Tell whether these letters stand in its id or its name."""
        return letters.casefold() in self.title.casefold()

    def take_list(self, listed: tuple[Standing, ...], now_s: float) -> None:
        """Take its list of alarms; an event that is younger than the list stays beside it."""
        self._list, self.listed = listed, True
        names = {alarm.alarm for alarm in listed}
        self._told = {
            name: told for name, told in self._told.items() if name not in names and now_s - told[1] < _AFTER_EVENT_S
        }
        self._join()

    def take_change(self, change: Standing, now_s: float) -> None:
        """Take what an event says of an alarm: it may be all that comes."""
        is_listed = any(alarm.alarm == change.alarm for alarm in self._list)
        if change.state is not AlarmState.NORMAL and not is_listed and len(self._told) < _MOST_TOLD:
            self._told[change.alarm] = (change, now_s)
        else:
            self._told.pop(change.alarm, None)
        self._join()

    def _join(self) -> None:
        self.alarms = (
            *(alarm for alarm in self._list if alarm.state is not AlarmState.NORMAL),
            *(alarm for alarm, _ in self._told.values()),
        )


class Shop:
    """Every furnace found so far, by the base of its topics."""

    def __init__(self) -> None:
        self._devices: dict[str, Furnace] = {}
        self.passed_over = 0

    @property
    def devices(self) -> list[Furnace]:
        """Every device, furnaces or not."""
        return list(self._devices.values())

    @property
    def furnaces(self) -> list[Furnace]:
        """Every device that speaks like a furnace."""
        return [device for device in self._devices.values() if device.is_furnace]

    def find(self, device: str) -> Furnace | None:
        """Give a furnace by its id."""
        return next((furnace for furnace in self.furnaces if furnace.device == device), None)

    def hear_anew(self, now_s: float) -> None:
        """Begin to listen once more: what was known stays, and has to be heard again."""
        for device in self._devices.values():
            device.heard_s, device.listed, device.to_describe = now_s, False, True

    def take(self, message: ArrivedMessage, now_s: float) -> list[Change]:
        """Take note of a message; gives what has changed by it."""
        match = _TOPIC.fullmatch(message.topic)
        if match is None or not match[1].isprintable():
            return []
        prefix, device, path = match.groups()
        furnace = self._devices.get(f"{prefix}/5/{device}")
        if furnace is None:
            if not message.payload or path not in (STATE, STANDING, ALARM_EVENT, HEAT_EVENT):
                return []
            if len(self._devices) >= MOST_DEVICES:
                self.passed_over += 1
                return []
            furnace = Furnace(f"{prefix}/5/{device}", device, heard_s=now_s)
            self._devices[furnace.base] = furnace
            changes = self._hear(furnace, path, message, now_s)
            return changes if path == STATE else [*changes, Change(furnace, ChangeKind.WANTING)]
        return self._hear(furnace, path, message, now_s)

    def _hear(self, furnace: Furnace, path: str, message: ArrivedMessage, now_s: float) -> list[Change]:
        if path == STATE:
            return self._hear_state(furnace, read_text(message.payload, _LONGEST_STATE))
        if not message.retained:
            furnace.heard_s = now_s
        if path == DESCRIPTION:
            return self._hear_description(furnace, message.payload)
        if path == STANDING:
            return self._hear_standing(furnace, message.payload, now_s)
        if path in (ALARM_EVENT, HEAT_EVENT):
            return self._hear_event(furnace, message, now_s)
        if path in VALUES and furnace.is_shown:
            _hear_value(furnace, path, message, now_s)
        return []

    def _hear_state(self, furnace: Furnace, state: str) -> list[Change]:
        before, furnace.state = furnace.state, state
        if not state:
            del self._devices[furnace.base]
            return [Change(furnace, ChangeKind.GONE, "removed" if furnace.is_furnace else "")]
        if state == before:
            return []
        if state == "ready" and before:
            # It has connected anew, and may have described itself anew: only then the convention lets it.
            furnace.to_describe = True
        changes = [Change(furnace, ChangeKind.WANTING)]
        if before and "init" not in (before, state) and furnace.is_furnace:
            changes.append(Change(furnace, ChangeKind.STATE, state))
        return changes

    def _hear_description(self, furnace: Furnace, payload: bytes) -> list[Change]:
        furnace.described, furnace.to_describe = True, False
        description = read_description(payload)
        _note(furnace.unreadable, DESCRIPTION, is_bad=description is None)
        if description is None:
            return []
        furnace.name, furnace.takes = description.name, description.takes
        return _become_furnace(furnace) if description.is_furnace else []

    def _hear_standing(self, furnace: Furnace, payload: bytes, now_s: float) -> list[Change]:
        listed = read_standing(payload)
        _note(furnace.unreadable, STANDING, is_bad=listed is None)
        if listed is None:
            # What was known before stays: rubbish does not end an alarm.
            return []
        before = furnace.alarms
        furnace.take_list(listed, now_s)
        changes = _become_furnace(furnace) if payload else []
        # Renewed every few seconds, and mostly the same.
        return changes if furnace.alarms == before else [*changes, Change(furnace, ChangeKind.ALARMS)]

    def _hear_event(self, furnace: Furnace, message: ArrivedMessage, now_s: float) -> list[Change]:
        said = read_event(message.payload)
        if said is None or said.late or message.retained:
            return []
        if said.change is None:
            return [Change(furnace, ChangeKind.EVENT, said.text)]
        furnace.take_change(said.change, now_s)
        return [
            *_become_furnace(furnace),
            Change(furnace, ChangeKind.EVENT, said.text),
            Change(furnace, ChangeKind.ALARMS),
        ]


def _become_furnace(furnace: Furnace) -> list[Change]:
    if furnace.is_furnace:
        return []
    furnace.is_furnace = True
    return [Change(furnace, ChangeKind.STATE, furnace.state or "heard, state not yet known")]


def _hear_value(furnace: Furnace, path: str, message: ArrivedMessage, now_s: float) -> None:
    text = read_text(message.payload, _LONGEST_VALUE)
    if path == _TEMPERATURE:
        # What the broker had kept may be as old as its expiry allows; what comes live is of now.
        furnace.temp_s = None if not text else now_s if not message.retained else furnace.temp_s
    if text:
        furnace.values[path] = text
    else:
        furnace.values.pop(path, None)


def _note(names: set[str], name: str, *, is_bad: bool) -> None:
    if is_bad:
        names.add(name)
    else:
        names.discard(name)
