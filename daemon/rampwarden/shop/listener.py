"""Somebody who listens to a whole shop: one connection, every furnace on it, and the commands sent from here.

Owns its connection like the sender does, but has nothing to lose: when the link goes, what was known is shown with its
age, and everything is heard again once there is another. One thread, whoever calls `poll`, owns it.
"""

import queue
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass

from rampwarden.core.model import CommandName
from rampwarden.errors import BrokerError
from rampwarden.outputs.mqtt import (
    COMMANDS,
    OLDEST_S,
    Answered,
    ArrivedMessage,
    BackOff,
    BrokerAddress,
    Down,
    Link,
    LinkParameters,
    Message,
    News,
    SubscriptionRefused,
    Up,
    json_text,
)
from rampwarden.shop.furnaces import Change, ChangeKind, Furnace, Shop

# A hundred furnaces say a few hundred messages a second; this is half a minute of them.
_MOST_ARRIVED = 10_000


@dataclass(frozen=True, slots=True)
class LinkChange:
    """The connection has come (`text` names the broker) or gone (`text` says why)."""

    is_up: bool
    text: str


@dataclass(frozen=True, slots=True)
class CommandAnswer:
    """What became of a command."""

    text: str


class Listener:
    """Hears every furnace under `prefix` (all prefixes: ``+``); `by` is how commands from here are signed."""

    def __init__(self, brokers: Sequence[BrokerAddress], parameters: LinkParameters, prefix: str, by: str) -> None:
        self.shop = Shop()
        self.is_up = False
        self._parameters = parameters
        self._discovery = f"{prefix}/5/+/$state"
        self._by = by
        self._answers = f"answers/{parameters.client_id}"
        self._back_off = BackOff(brokers, random.Random())
        self._link: Link | None = None
        self._news: queue.SimpleQueue[tuple[Link, News]] = queue.SimpleQueue()

    def poll(self, timeout_s: float) -> list[Change | LinkChange | CommandAnswer]:
        """Wait for something to come, no longer than this, and give everything that has changed by it."""
        changes: list[Change | LinkChange | CommandAnswer] = []
        self._tend_link(changes)
        try:
            link, news = self._news.get(timeout=timeout_s)
            while True:
                if link is self._link:
                    self._take(link, news, changes)
                link, news = self._news.get_nowait()
        except queue.Empty:
            return changes

    def command(self, furnace: Furnace, name: CommandName, **fields: object) -> str:
        """Send a command; gives why that is not possible, or nothing. An answer follows, if the furnace gives one."""
        if name not in furnace.takes:
            return f"{furnace.device} takes no {name} over MQTT; its settings would have to allow it: [mqtt] commands"
        if self._link is None or not self.is_up:
            return "no connection"
        body = {key: value for key, value in fields.items() if value}
        message = Message(
            f"{furnace.base}/{COMMANDS[name][0]}/set",
            json_text({**body, "by": self._by}).encode(),
            expiry_s=OLDEST_S,
            is_json=True,
            response_topic=self._answers,
        )
        try:
            self._link.publish(message)
        except BrokerError as error:
            return str(error)
        return ""

    def close(self) -> None:
        """Part from the broker."""
        if self._link is not None:
            self._link.close()
            self._link = None

    def _tend_link(self, changes: list[Change | LinkChange | CommandAnswer]) -> None:
        now_s = time.monotonic()
        if self._link is not None or not self._back_off.is_due(now_s):
            return
        try:
            self._link = Link(
                self._back_off.address,
                self._parameters,
                self._tell,
                old_version=self._back_off.old_version,
                most_arrived=_MOST_ARRIVED,
            )
        except BrokerError as error:
            self._back_off.failed(now_s)
            changes.append(LinkChange(False, str(error)))
            return
        self._link.open()

    def _tell(self, link: Link, news: News) -> None:
        self._news.put((link, news))

    def _take(self, link: Link, news: News, changes: list[Change | LinkChange | CommandAnswer]) -> None:
        match news:
            case Up():
                self.is_up = True
                self._back_off.connected(time.monotonic())
                link.subscribe([self._discovery, self._answers])
                changes.append(LinkChange(True, str(link.address)))
            case Down():
                self._lose(link, news)
                changes.append(LinkChange(False, f"{link.address}: {news.why}"))
            case SubscriptionRefused():
                changes.append(LinkChange(False, f"{link.address} refuses to let us listen: {news.words}"))
            case ArrivedMessage():
                link.looked_at()
                self._take_message(link, news, changes)
            case Answered() if news.refused:
                changes.append(CommandAnswer(f"the broker refuses the command: {news.words}"))

    def _take_message(
        self, link: Link, message: ArrivedMessage, changes: list[Change | LinkChange | CommandAnswer]
    ) -> None:
        if message.topic == self._answers:
            changes.append(CommandAnswer(message.payload.decode(errors="replace")[:500]))
            return
        for change in self.shop.take(message, time.monotonic()):
            if change.kind is ChangeKind.FOUND:
                link.subscribe([f"{change.furnace.base}/#"])
            changes.append(change)

    def _lose(self, link: Link, news: Down) -> None:
        now_s = time.monotonic()
        link.drop()
        if news.wants_older_version:
            self._back_off.use_old_version()
        if self.is_up:
            self._back_off.lost(now_s, taken_over=news.taken_over)
        else:
            self._back_off.failed(now_s)
        self._link, self.is_up = None, False
