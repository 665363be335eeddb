"""Somebody who listens to a whole shop: one connection, every furnace on it, and the commands sent from here.

Owns its connection like the sender does, but has nothing to lose: when the link goes, what was known is shown with its
age, and everything is heard again once there is another. What is asked of the broker stands in `gathering.py`. One
thread, whoever calls `poll`, owns it.
"""

import contextlib
import queue
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

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
    SubscriptionGranted,
    SubscriptionRefused,
    Up,
    json_text,
)
from rampwarden.shop.furnaces import Change, ChangeKind, Furnace, Shop
from rampwarden.shop.gathering import Gathering

# Some ten seconds of what five thousand furnaces say to a listener that shows fifty of them.
_MOST_ARRIVED = 20_000
# As many as a broker has in flight by itself; what is asked of whoever sends commands would slow alarms down here.
_MOST_UNANSWERED = 100
# So many are looked at in one go: a flood must not keep anybody from seeing and hearing.
_MOST_AT_ONCE = 2_000
# What comes within this time is looked at together, which costs far less than one by one; unless an answer is awaited
# that lets the next question be asked.
_TOGETHER_S = 0.05


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
    """Hears every furnace under `prefix` (all prefixes: ``+``), or the `only` one of that id.

    `by` is how commands from here are signed.
    """

    def __init__(
        self, brokers: Sequence[BrokerAddress], parameters: LinkParameters, prefix: str, by: str, only: str = "+"
    ) -> None:
        self.shop = Shop()
        self.is_up = False
        self._gathering = Gathering(self.shop, f"{prefix}/5/{only}")
        self._parameters = parameters
        self._by = by
        # A broker that binds ids to users knows a client by its user.
        self._answers = f"answers/{parameters.user or parameters.client_id}/"
        self._asked: set[str] = set()
        self._answers_number = 0
        self._back_off = BackOff(brokers, random.Random())
        self._link: Link | None = None
        self._news: queue.SimpleQueue[tuple[Link, News]] = queue.SimpleQueue()

    @property
    def asked(self) -> int:
        """How many answers to questions are still to come: while there are any, the shop may not be whole."""
        return self._gathering.asked

    def lacking(self) -> list[str]:
        """Say what is missing of the shop, a sentence each."""
        return self._gathering.lacking()

    def poll(self, timeout_s: float) -> list[Change | LinkChange | CommandAnswer]:
        """Wait for something to come, no longer than this, and give everything that has changed by it."""
        changes: list[Change | LinkChange | CommandAnswer] = []
        self._tend_link(changes)
        with contextlib.suppress(queue.Empty):
            first = self._news.get(timeout=timeout_s)
            if not self._gathering.asked:
                time.sleep(min(_TOGETHER_S, timeout_s))
            self._take(*first, changes)
            for _ in range(_MOST_AT_ONCE):
                self._take(*self._news.get_nowait(), changes)
        if self._link is not None and self.is_up:
            now_s = time.monotonic()
            self._gathering.note_dropped(self._link.passed_over, now_s)
            self._gathering.step(self._link, now_s)
        return changes

    def show(self, furnaces: Sequence[Furnace]) -> bool:
        """Have the values of these furnaces and of no others; gives whether that is any change."""
        return self._link is not None and self.is_up and self._gathering.show(self._link, furnaces)

    def command(self, furnace: Furnace, name: CommandName, **fields: object) -> str:
        """Send a command; gives why that is not possible, or nothing. An answer follows, if the furnace gives one."""
        if not furnace.described:
            return f"{furnace.device} has not yet said which commands it takes"
        if name not in furnace.takes:
            return f"{furnace.device} takes no {name} over MQTT; its settings would have to allow it: [mqtt] commands"
        if self._link is None or not self.is_up:
            return "no connection"
        body = {key: value for key, value in fields.items() if value}
        if self._link.old_version:
            # There a message has no expiry: a furnace goes by this that it does not come late.
            body["time"] = datetime.now(UTC).isoformat(timespec="seconds")
        message = Message(
            f"{furnace.base}/{COMMANDS[name][0]}/set",
            json_text({**body, "by": self._by}).encode(),
            expiry_s=OLDEST_S,
            is_json=True,
            response_topic=self._answers + furnace.device,
        )
        self._asked.add(message.response_topic)
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
                most_unanswered=_MOST_UNANSWERED,
            )
        except BrokerError as error:
            self._back_off.failed(now_s)
            changes.append(LinkChange(False, str(error)))
            return
        self._link.open()

    def _tell(self, link: Link, news: News) -> None:
        self._news.put((link, news))

    def _take(self, link: Link, news: News, changes: list[Change | LinkChange | CommandAnswer]) -> None:
        if link is not self._link:
            return
        match news:
            case Up():
                self.is_up = True
                self._back_off.connected(time.monotonic())
                self._answers_number = link.subscribe([f"{self._answers}+"])
                self._gathering.begin(link, time.monotonic())
                changes.append(LinkChange(True, str(link.address)))
            case Down():
                self._lose(link, news)
                changes.append(LinkChange(False, f"{link.address}: {news.why}"))
            case SubscriptionRefused():
                self._take_refusal(link, news, changes)
            case SubscriptionGranted():
                if self._gathering.grant(news.number):
                    changes.append(LinkChange(True, str(link.address)))
            case ArrivedMessage():
                link.looked_at()
                self._take_message(news, changes)
            case Answered() if news.refused:
                changes.append(CommandAnswer(f"the broker refuses the command: {news.words}"))

    def _take_refusal(
        self, link: Link, news: SubscriptionRefused, changes: list[Change | LinkChange | CommandAnswer]
    ) -> None:
        if news.number == self._answers_number:
            changes.append(CommandAnswer(f"the broker will bring no answers to commands: {news.words}"))
            return
        was_deaf = self._gathering.is_deaf
        if self._gathering.refuse(news.number, news.words, time.monotonic()) and not was_deaf:
            changes.append(LinkChange(False, f"{link.address} refuses to let us listen: {news.words}"))

    def _take_message(self, message: ArrivedMessage, changes: list[Change | LinkChange | CommandAnswer]) -> None:
        if message.topic.startswith(self._answers):
            if message.topic not in self._asked:
                # Its last level says who answers, and a broker's rules that nobody else does.
                return
            changes.append(CommandAnswer(message.payload[:2000].decode(errors="replace")[:500]))
            return
        self._gathering.came(message.topic)
        for change in self.shop.take(message, time.monotonic()):
            if change.kind is ChangeKind.WANTING:
                self._gathering.want(change.furnace)
            elif change.kind is ChangeKind.GONE:
                self._gathering.forget(change.furnace)
            changes.append(change)

    def _lose(self, link: Link, news: Down) -> None:
        now_s = time.monotonic()
        link.drop()
        if news.wants_older_version:
            self._back_off.use_old_version()
        elif news.hung_up:
            self._back_off.hung_up()
        if self.is_up:
            self._back_off.lost(now_s, taken_over=news.taken_over)
        else:
            self._back_off.failed(now_s)
        self._link, self.is_up = None, False
