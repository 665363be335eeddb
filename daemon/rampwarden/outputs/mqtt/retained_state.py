"""The retained state: what each retained topic should say now, and what of it the broker has yet to be told.

Policy: the newest value wins and older ones are forgotten, for state is not history; what happened stands in the
events. Values expire at the broker unless they are renewed. After each connection everything is told anew, because a
broker that was restarted may have forgotten it all (an acknowledged message only was in its memory).

Time is given; nothing here reads a clock or talks to a broker.
"""

from collections import deque
from dataclasses import dataclass

from rampwarden.core.model import HeatStatus
from rampwarden.outputs.mqtt.homie import EXPIRY_S, Device
from rampwarden.outputs.mqtt.homie_property import HeatFacts, Property
from rampwarden.outputs.mqtt.message import Message

# Two that each insist on their own word must not do so at full speed.
_CORRECTED_EVERY_S = 1.0


@dataclass(slots=True)
class _Topic:
    """What one topic should say (None: nothing), and what was last sent there, when."""

    wanted: str | None
    live: bool
    is_json: bool
    given_up: bool = False
    sent: str | None = None
    sent_s: float | None = None


class RetainedState:
    """The retained topics of one device."""

    def __init__(self, device: Device, heat: HeatFacts) -> None:
        self._device = device
        self._heat = heat
        self._topics: dict[str, _Topic] = {}
        self._due: dict[str, None] = {}
        self._announcement: deque[Message] = deque()
        self._begun = False
        self._contradicted = False
        self._corrected_s = float("-inf")

    @property
    def can_announce(self) -> bool:
        """Whether there is a status to announce, and that has not begun on this connection."""
        return bool(self._topics) and not self._begun

    def update(self, status: HeatStatus, now_s: float) -> None:
        """Take note of a new status; what has changed enough or is due for renewal will be sent."""
        for path, each, value in self._device.values(status, self._heat):
            self._want(path, value, each, now_s)
        for path, sentence in self._device.alerts(status):
            topic = self._topics.setdefault(path, _Topic(None, live=False, is_json=False))
            topic.wanted = sentence
            if topic.sent != sentence and not topic.given_up:
                self._due[path] = None

    def announce(self) -> None:
        """Say everything from the start: the convention asks for `init`, the description, every value, then `ready`."""
        device = self._device
        self._due.clear()
        self._begun = True
        self._announcement = deque(
            [
                Message(device.state_topic, b"init", retain=True),
                Message(device.description_topic, device.description().encode(), retain=True, is_json=True),
            ]
        )
        for path, topic in self._topics.items():
            topic.sent, topic.given_up = None, False
            # A topic that should say nothing is deleted all the same: an earlier life may have left something there.
            self._announcement.append(self._message(path, topic))
        self._announcement.append(Message(device.state_topic, b"ready", retain=True))

    def withdraw(self) -> None:
        """Forget what was being said: the connection is gone."""
        self._announcement.clear()
        self._due.clear()
        self._begun = False

    def contradicted(self) -> None:
        """Note that somebody else has written our state: an old life's will, or a stranger. It will be put right."""
        self._contradicted = True

    def give_up(self, path: str) -> None:
        """Say no more on a topic the broker refuses, until the next connection."""
        topic = self._topics.get(path)
        if topic is not None:
            topic.given_up = True
            self._due.pop(path, None)

    def farewell(self) -> list[Message]:
        """Give the last messages of a clean end: no alert outlives the watch that could take it back."""
        alerts = [path for path, topic in self._topics.items() if "/$alert/" in path and topic.sent is not None]
        self.withdraw()
        return [
            *(Message(path, b"", retain=True) for path in alerts),
            Message(self._device.state_topic, b"disconnected", retain=True),
        ]

    def take(self, now_s: float) -> Message | None:
        """Give the next message to send, or nothing."""
        if self._announcement:
            message = self._announcement.popleft()
            topic = self._topics.get(message.topic)
            if topic is None:
                return message
            path = message.topic
        elif not self._begun:
            return None
        elif self._contradicted and now_s - self._corrected_s >= _CORRECTED_EVERY_S:
            self._contradicted, self._corrected_s = False, now_s
            return Message(self._device.state_topic, b"ready", retain=True)
        elif self._due:
            path = next(iter(self._due))
            topic = self._topics[path]
        else:
            return None
        self._due.pop(path, None)
        topic.sent, topic.sent_s = topic.wanted, now_s
        return self._message(path, topic)

    def _want(self, path: str, value: str | None, each: Property, now_s: float) -> None:
        topic = self._topics.setdefault(path, _Topic(None, live=each.live, is_json=each.datatype == "json"))
        topic.wanted = value
        quiet_s = float("inf") if topic.sent_s is None else now_s - topic.sent_s
        if value == topic.sent:
            due = each.live and value is not None and quiet_s >= each.renew_s
        else:
            # A value that has gone is taken back at once; a change may wait its time.
            due = value is None or topic.sent is None or quiet_s >= each.settle_s
        if due and not topic.given_up:
            self._due[path] = None

    @staticmethod
    def _message(path: str, topic: _Topic) -> Message:
        if topic.wanted is None:
            return Message(path, b"", retain=True)
        expiry_s = EXPIRY_S if topic.live else None
        return Message(path, topic.wanted.encode(), retain=True, expiry_s=expiry_s, is_json=topic.is_json)
