"""The lanes: which message goes out next, how many may be on their way, and what an answer means.

Policy. Live alarms and messages first, then answers to commands, then state, then the backlog, which is paced and may
use half the window only, so that there is always room for an alarm. Events are never dropped: one that cannot be sent
goes back to the outbox. An event that waited more than a few seconds is history, joins the backlog and is marked late.
What the broker refuses for good is not sent again; where it is only busy we wait.

Owns no thread and no connection: a link is lent to it while it is up.
"""

from collections import deque
from dataclasses import dataclass

from rampwarden.core.monitor_alarms import BROKER_UNREACHABLE
from rampwarden.errors import BrokerError
from rampwarden.outputs.mqtt.homie import Device
from rampwarden.outputs.mqtt.link import WINDOW, Answered, Link
from rampwarden.outputs.mqtt.message import Message
from rampwarden.outputs.mqtt.reachability import Reachability
from rampwarden.outputs.mqtt.retained_state import RetainedState
from rampwarden.outputs.outbox import FRESH_S, Outbox, OutboxItem

# The backlog goes no faster than this. Sent at full speed, a consumer that needs 2 ms a message lost four in five of
# 5,000 at a broker's default limits; at 300 a second it had them all.
_BACKLOG_PER_S = 200.0
# Unheard alarms: the last word is said again this often, so that it is noticed when somebody begins to listen.
_SAY_AGAIN_S = 10.0
_NOBODY = 0x10
# Reason codes after which the same message may be taken later: unspecified, implementation specific, quota exceeded.
_BUSY = frozenset({0x80, 0x83, 0x97})
_TRIES = 5
_BUSY_PAUSE_S = 1.0


@dataclass(slots=True)
class _Flight:
    """A message on its way; `item` is the event it carries, if it carries one."""

    message: Message
    sent_s: float
    item: OutboxItem | None = None


class Lanes:
    """The traffic of one device."""

    def __init__(self, device: Device, outbox: Outbox, retained: RetainedState, reach: Reachability) -> None:
        self._device = device
        self._outbox = outbox
        self._retained = retained
        self._reachability = reach
        self._link: Link | None = None
        self._window = WINDOW
        self._flights: dict[int, _Flight] = {}
        self._live: deque[OutboxItem] = deque()
        self._tries: dict[str, int] = {}
        self._answers: deque[Message] = deque()
        self._behind: deque[OutboxItem] = deque()
        self._next_behind_s = 0.0
        self._pause_until_s = 0.0
        self._last_alarm: Message | None = None
        self._say_again_s = 0.0
        self.sayings: deque[str] = deque()

    # What there is to send

    def link_up(self, link: Link, window: int) -> None:
        """Send over `link` from now on."""
        self._link, self._window = link, window

    def link_down(self, now_s: float) -> None:
        """Take back what is on its way: nobody knows whether it arrived. What is still news goes first again."""
        self._link = None
        self._pause_until_s = 0.0
        for flight in reversed(self._flights.values()):
            if flight.item is not None:
                self._take_back(flight.item, now_s)
        self._flights.clear()
        for item in self._behind:
            self._outbox.give_back(item)
        self._behind.clear()
        self._answers.clear()

    def take_news(self, now_s: float) -> None:
        """Fetch what is new, and let go of what has become history."""
        self._live.extend(self._outbox.live(now_s))
        for item in list(self._live):
            if self._is_late(item, now_s):
                self._live.remove(item)
                self._outbox.give_back(item)

    def answer(self, message: Message) -> None:
        """Send an answer to a command."""
        self._answers.append(message)

    @property
    def idle(self) -> bool:
        """Whether nothing new waits and nothing is on its way; the backlog does not count."""
        return not self._live and not self._flights and not self._answers

    @property
    def unanswered_s(self) -> float | None:
        """When the oldest message still on its way was sent."""
        return min((flight.sent_s for flight in self._flights.values()), default=None)

    @property
    def alarm_waiting_s(self) -> float | None:
        """When the oldest alarm was told that is news and has not been answered."""
        sent = (flight.item for flight in self._flights.values() if flight.item is not None)
        waiting = (item for item in (*self._live, *sent) if item.event.alarm is not None)
        return min((item.told_s for item in waiting if item.told_s is not None), default=None)

    # Sending

    def pump(self, now_s: float, *, news_only: bool = False) -> bool:
        """Send what may be sent now; tells whether anything was. Raises `BrokerError` when the link cannot take it."""
        sent = False
        while self._link is not None and len(self._flights) < self._window and now_s >= self._pause_until_s:
            flight = self._next_news(now_s) or (None if news_only else self._next_other(now_s))
            if flight is None:
                break
            try:
                number = self._link.publish(flight.message)
            except BrokerError:
                if flight.item is not None:
                    self._take_back(flight.item, now_s)
                raise
            self._flights[number] = flight
            sent = True
        return sent

    def send(self, messages: list[Message], now_s: float) -> None:
        """Send these at once, past every lane; for the last words of a clean end."""
        if self._link is not None:
            for message in messages:
                self._flights[self._link.publish(message)] = _Flight(message, now_s)

    def pause_s(self, now_s: float) -> float:
        """Give how long there is nothing to do unless something comes."""
        if self._link is None:
            return 1.0
        if now_s < self._pause_until_s:
            return self._pause_until_s - now_s
        if len(self._flights) < self._window // 2 and (self._behind or self._outbox.backlog_waits):
            return max(0.0, self._next_behind_s - now_s)
        return 1.0

    def _next_news(self, now_s: float) -> _Flight | None:
        if self._live:
            return self._event_flight(self._live.popleft(), now_s)
        return _Flight(self._answers.popleft(), now_s) if self._answers else None

    def _next_other(self, now_s: float) -> _Flight | None:
        if self._reachability.unheard and self._last_alarm is not None and now_s >= self._say_again_s:
            self._say_again_s = now_s + _SAY_AGAIN_S
            return _Flight(self._last_alarm, now_s)
        message = self._retained.take(now_s)
        if message is not None:
            return _Flight(message, now_s)
        if len(self._flights) >= self._window // 2 or now_s < self._next_behind_s:
            return None
        return self._next_behind(now_s)

    def _next_behind(self, now_s: float) -> _Flight | None:
        if not self._behind and self._outbox.backlog_waits:
            self._behind.extend(self._outbox.backlog())
        if not self._behind:
            return None
        # Not from now on but from when it was due, or every wait would be a little too long.
        self._next_behind_s = max(self._next_behind_s + 1 / _BACKLOG_PER_S, now_s - 0.1)
        return self._event_flight(self._behind.popleft(), now_s)

    # Answers

    def answered(self, news: Answered, now_s: float) -> None:
        """Take note of the broker's answer to one message."""
        flight = self._flights.pop(news.number, None)
        if flight is None:
            return
        item = flight.item
        if news.code in _BUSY and item is not None and self._tries.get(item.key, 0) < _TRIES:
            self._tries[item.key] = self._tries.get(item.key, 0) + 1
            self._pause_until_s = now_s + _BUSY_PAUSE_S * self._tries[item.key]
            self._take_back(item, now_s)
        elif news.refused:
            self._refused(flight, news, now_s)
        else:
            self._reachability.accepted(flight.message.topic)
            self._note_hearing(flight, heard=news.code != _NOBODY, now_s=now_s)
            self._settled(item, now_s)

    def _refused(self, flight: _Flight, news: Answered, now_s: float) -> None:
        topic = flight.message.topic
        if self._reachability.refused(topic, news.words, alarms=topic.startswith(self._device.base)):
            self.sayings.append(f"the broker refuses {topic}: {news.words}")
        self._retained.give_up(topic)
        if flight.item is not None:
            self._outbox.refuse(flight.item, news.words, now_s)
            self._tries.pop(flight.item.key, None)

    def _settled(self, item: OutboxItem | None, now_s: float) -> None:
        if item is not None:
            self._outbox.settle(item, now_s)
            self._tries.pop(item.key, None)

    def _take_back(self, item: OutboxItem, now_s: float) -> None:
        """Put an event that was not delivered first in line again, or back into the outbox once it is history."""
        if self._is_late(item, now_s):
            self._outbox.give_back(item)
        else:
            self._live.appendleft(item)

    def _note_hearing(self, flight: _Flight, *, heard: bool, now_s: float) -> None:
        item = flight.item
        if item is None:
            if flight.message is self._last_alarm and heard:
                self._reachability.alarm_answered(heard=True, about_reach=False)
            return
        if item.event.alarm is None or self._is_late(item, now_s):
            return
        about_reach = item.event.alarm == BROKER_UNREACHABLE.name
        self._reachability.alarm_answered(heard=heard, about_reach=about_reach)
        if self._reachability.unheard:
            self._last_alarm = self._event_message(item, late=True)
            self._say_again_s = now_s + _SAY_AGAIN_S

    def _is_late(self, item: OutboxItem, now_s: float) -> bool:
        return item.told_s is None or now_s - item.told_s > FRESH_S

    def _event_flight(self, item: OutboxItem, now_s: float) -> _Flight:
        return _Flight(self._event_message(item, late=self._is_late(item, now_s)), now_s, item)

    def _event_message(self, item: OutboxItem, *, late: bool) -> Message:
        topic, body = self._device.event(
            item.event, item.record_id, item.started, item.key, late=late, on_disk=item.on_disk
        )
        user = (("key", item.key), ("late", "1" if late else "0"))
        return Message(topic, body.encode(), is_json=True, user=user)
