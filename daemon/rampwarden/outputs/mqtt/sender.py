"""The sender: the one thread that talks to the broker, and the order in which it does so.

Everything reaches it through one queue: what the watch tells, what the link reports, the wish to end. It alone
publishes, so order, pacing and the window are decided in one place and need no lock. It connects, tries the next broker
when one fails, waits longer each time with a little chance in it so that a hundred furnaces do not return together, and
never gives up. A fault of its own costs the connection, never the sender.
"""

import queue
import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from rampwarden.core.model import Command, CommandName, Event, HeatStatus
from rampwarden.errors import BrokerError
from rampwarden.filed import Filed
from rampwarden.outputs.mqtt.back_off import BackOff
from rampwarden.outputs.mqtt.broker import BrokerAddress, LinkParameters
from rampwarden.outputs.mqtt.commands import CommandDesk
from rampwarden.outputs.mqtt.hearing import Hearing
from rampwarden.outputs.mqtt.homie import Device
from rampwarden.outputs.mqtt.homie_property import HeatFacts
from rampwarden.outputs.mqtt.lanes import Lanes
from rampwarden.outputs.mqtt.link import (
    Answered,
    Down,
    Link,
    News,
    SubscriptionGranted,
    SubscriptionRefused,
    Up,
)
from rampwarden.outputs.mqtt.message import ArrivedMessage, Message
from rampwarden.outputs.mqtt.reachability import Reachability, ReachState
from rampwarden.outputs.mqtt.retained_state import RetainedState
from rampwarden.outputs.outbox import Outbox
from rampwarden.plain_logs import structlog

_LOCK_TRIED_AGAIN_S = 4.0
# At a clean end: so long for what is still news, and so long for the last words.
_LAST_NEWS_S = 2.0
_LAST_WORDS_S = 2.0
# A fault that comes again at once must not become a busy loop.
# Sentences of this furnace's own delivery that every output hears in one run; more are only logged.
_MOST_SAID = 20
_AFTER_FAULT_S = 1.0
# What it takes to put a message on the wire, that is handed over already.
_LET_OUT_S = 0.0005
_CERTIFICATE_DAYS = 30
_COUNTED_EVERY_S = 1.0


@dataclass(frozen=True, slots=True)
class Told:
    """The watch has told an event, at monotonic second `told_s`; `filed` is where it stands in the record."""

    event: Event
    filed: Filed
    told_s: float


@dataclass(frozen=True, slots=True)
class Shown:
    """There is a newer status to look at."""


@dataclass(frozen=True, slots=True)
class Finish:
    """End. Without a `farewell` the broker sends the will: a watch that fails must not look like one that was ended."""

    farewell: bool = True


Inbox = queue.SimpleQueue[Told | Shown | Finish | tuple[Link, News]]


class Sender:
    """Runs one device's traffic. `on_verdict` and `on_command` are called from the sender's thread."""

    def __init__(
        self,
        brokers: Sequence[BrokerAddress],
        parameters: LinkParameters,
        device: Device,
        heat: HeatFacts,
        outbox: Outbox,
        commands: CommandDesk,
        on_verdict: Callable[[ReachState], None],
        on_command: Callable[[Command], None],
    ) -> None:
        self.inbox: Inbox = queue.SimpleQueue()
        self.status: HeatStatus | None = None
        """The newest status; older ones are of no interest to anybody, so this is no queue."""
        self._parameters = parameters
        self._device = device
        self._outbox = outbox
        self.waiting = 0
        """How many events need sending yet, as of the last round."""
        self._commands = commands
        self._on_verdict = on_verdict
        self._on_command = on_command
        now_s = self.beat_s = time.monotonic()
        self._retained = RetainedState(device, heat)
        self._reachability = Reachability(now_s)
        self._lanes = Lanes(device, outbox, self._retained, self._reachability)
        self._back_off = BackOff(brokers, random.Random())
        self._hearing = Hearing()
        self._link: Link | None = None
        self._is_up = False
        self._opened_s = now_s
        self._locked = False
        self._next_lock_s = self._next_count_s = now_s
        self._finishing_s: float | None = None
        self._farewell = True
        self._said: set[str] = set()
        self._log = structlog.get_logger()

    def prepare(self) -> None:
        """Find the place in the records, before the watch writes its first event: all that comes then is news."""
        self._tend_outbox(time.monotonic())

    def run(self) -> None:
        """Work until told to finish; gives back only then."""
        while self._finishing_s is None:
            try:
                self._work()
            except Exception as error:
                # The outermost loop of this thread: the fault is said and counted, and the next connection is made.
                self._log.error(f"MQTT: fault in the sender, connecting anew: {error!r}", exc_info=True)
                self._lose(f"fault in the sender: {error!r}")
                time.sleep(_AFTER_FAULT_S)
        self._part()

    def _work(self) -> None:
        while self._finishing_s is None:
            self._take(self._patience_s())
            now_s = self.beat_s = time.monotonic()
            self._tend_outbox(now_s)
            self._tend_link(now_s)
            self._pump(now_s)
            self._outbox.save_if_due(now_s)
            self._say()
            self._judge(now_s)
            self._count_waiting(now_s)

    def _count_waiting(self, now_s: float) -> None:
        """Count for whoever gathers figures: not with every answer, since each takes a look at all that waits."""
        if now_s >= self._next_count_s:
            self._next_count_s = now_s + _COUNTED_EVERY_S
            self.waiting = self._outbox.waiting

    def _patience_s(self) -> float:
        now_s = time.monotonic()
        if self._link is None:
            due_s = self._back_off.wait_s(now_s) if self._locked else self._next_lock_s - now_s
            return min(max(due_s, 0.0), 1.0)
        return self._lanes.pause_s(now_s)

    # What comes in

    def _take(self, patience_s: float) -> None:
        """Take everything that has come, waiting for the first of it."""
        try:
            thing = self.inbox.get(timeout=patience_s) if patience_s else self.inbox.get_nowait()
            while True:
                self._take_one(thing)
                thing = self.inbox.get_nowait()
        except queue.Empty:
            return

    def _take_one(self, thing: Told | Shown | Finish | tuple[Link, News]) -> None:
        match thing:
            case Told(event, filed, told_s):
                self._outbox.tell(event, filed, told_s)
            case Shown():
                if self.status is not None:
                    self._retained.update(self.status, time.monotonic())
            case Finish(farewell):
                self._finishing_s = time.monotonic()
                self._farewell = farewell
            case (link, news) if link is self._link:
                self._take_link_news(link, news)

    def _take_link_news(self, link: Link, news: News) -> None:
        now_s = time.monotonic()
        match news:
            case Up():
                self._welcome(link, news, now_s)
            case Down():
                if news.wants_older_version:
                    self._back_off.use_old_version()
                elif news.hung_up:
                    self._back_off.hung_up()
                self._lose(news.why, taken_over=news.taken_over)
            case Answered():
                self._back_off.answered()
                self._lanes.answered(news, now_s)
            case SubscriptionRefused():
                was_deaf = self._hearing.is_deaf
                if self._hearing.refused(news.number, now_s) and not was_deaf:
                    self._log.warning(
                        f"MQTT: {link.address} lets us hear neither commands nor our own state: {news.words}; it is "
                        "asked again until it does"
                    )
            case SubscriptionGranted():
                if self._hearing.granted(news.number):
                    self._log.info(f"MQTT: {link.address} lets us hear commands and our own state again")
            case ArrivedMessage():
                link.looked_at()
                self._take_message(news, now_s)

    def _take_message(self, message: ArrivedMessage, now_s: float) -> None:
        if message.topic == self._device.state_topic:
            if message.payload != b"ready" and not message.retained:
                self._retained.contradicted()
            return
        judgement = self._commands.judge(message, datetime.now(UTC), now_s)
        if judgement is None:
            return
        if judgement.answer is not None:
            self._lanes.answer(judgement.answer)
        if judgement.command is None:
            self._log.warning(f"MQTT: command not taken: {judgement.why_not}")
            return
        self._on_command(judgement.command)
        # The convention closes a command's loop by saying its value back on the property.
        self._lanes.answer(Message(message.topic.removesuffix("/set"), message.payload, is_json=True))

    # The connection

    def _tend_outbox(self, now_s: float) -> None:
        if not self._locked and now_s >= self._next_lock_s:
            trouble = self._outbox.open()
            self._locked = not trouble
            self._next_lock_s = now_s + _LOCK_TRIED_AGAIN_S
            if trouble:
                self._reachability.hold(trouble)
        self._lanes.take_news(now_s)

    def _tend_link(self, now_s: float) -> None:
        link = self._link
        if link is None:
            if self._locked and self._back_off.is_due(now_s):
                self._connect(now_s)
            return
        owing_s = self._lanes.unanswered_s if self._is_up else self._opened_s
        if owing_s is not None and now_s - owing_s >= self._back_off.patience_s:
            self._lose("no answer", silent=True)
        elif self._is_up:
            self._hearing.step(link, now_s)

    def _connect(self, now_s: float) -> None:
        address = self._back_off.address
        will = Message(self._device.state_topic, b"lost", retain=True)
        try:
            link = Link(address, self._parameters, self._tell, will=will, old_version=self._back_off.old_version)
        except BrokerError as error:
            self._reachability.link_down(str(error), now_s)
            self._back_off.failed(now_s)
            return
        self._link, self._opened_s = link, now_s
        link.open()

    def _tell(self, link: Link, news: News) -> None:
        self.inbox.put((link, news))

    def _welcome(self, link: Link, news: Up, now_s: float) -> None:
        self._is_up = True
        self._back_off.connected(now_s)
        self._reachability.link_up()
        self._lanes.link_up(link, news.window)
        self._hearing.begin()
        self._hearing.ask(link, [self._device.state_topic, *self._commands.topics], now_s)
        self._log.info(f"MQTT: connected to {link.address} as {self._parameters.client_id}")
        if link.old_version:
            self._log.warning(
                f"MQTT: {link.address} does not speak version 5; going on with 3.1.1, where a refused message "
                "counts as taken, nobody listening goes unnoticed and an old value does not disappear"
            )
        if news.certificate_ends is not None:
            days = (news.certificate_ends - datetime.now(UTC)).days
            if days < _CERTIFICATE_DAYS:
                self._log.warning(f"MQTT: the certificate of {link.address} ends in {days} days")

    def _lose(self, why: str, *, taken_over: bool = False, silent: bool = False) -> None:
        """Give the link up and see when the next may be tried."""
        now_s = time.monotonic()
        link, self._link = self._link, None
        was_up, self._is_up = self._is_up, False
        if link is not None:
            link.drop()
        self._lanes.link_down(now_s)
        self._retained.withdraw()
        self._reachability.link_down(why, now_s)
        rival = False
        if silent:
            self._back_off.silent(now_s)
        elif was_up:
            rival = self._back_off.lost(now_s, taken_over=taken_over)
        else:
            self._back_off.failed(now_s)
        if was_up and link is not None:
            self._log.warning(f"MQTT: lost {link.address}: {why}")
        if rival:
            words = f"another client uses the id {self._parameters.client_id}? the broker keeps throwing us out; {why}"
            self._reachability.hold(words)
            self._log.warning(f"MQTT: {words}")

    def _pump(self, now_s: float) -> None:
        if self._is_up and self._retained.can_announce:
            self._retained.announce()
        try:
            if self._lanes.pump(now_s, news_only=True):
                # The library's thread puts it on the wire, and would wait for as long as we go on working.
                time.sleep(_LET_OUT_S)
            self._lanes.pump(now_s)
        except BrokerError as error:
            self._lose(str(error))

    # What goes out besides messages

    def _judge(self, now_s: float) -> None:
        where = str(self._link.address if self._link is not None else self._back_off.address)
        unanswered_s, alarm_s = self._lanes.unanswered_s, self._lanes.alarm_waiting_s
        self._on_verdict(self._reachability.judge(now_s, unanswered_s, alarm_s, where))

    def _say(self) -> None:
        while self._lanes.sayings:
            # Of messages that the broker refused: said on every output it would be a message that is refused.
            self._log.warning(f"MQTT: {self._lanes.sayings.popleft()}")
        while self._outbox.sayings:
            saying = f"MQTT: {self._outbox.sayings.popleft()}"
            if saying in self._said or len(self._said) >= _MOST_SAID:
                self._log.warning(saying)
            else:
                self._said.add(saying)
                self._on_command(Command(0.0, CommandName.NOTE, text=saying, by="rampwarden"))

    # The end

    def _part(self) -> None:
        """Send what is still news, say goodbye, and close; bounded in time, because somebody waits for it."""
        try:
            if self._is_up:
                self._settle_until(time.monotonic() + _LAST_NEWS_S)
            if self._is_up and self._farewell:
                self._lanes.send(self._retained.farewell(), time.monotonic())
                self._settle_until(time.monotonic() + _LAST_WORDS_S)
            if self._link is not None:
                (self._link.close if self._farewell else self._link.drop)()
            self._lanes.link_down(time.monotonic())
        except Exception as error:
            self._log.error(f"MQTT: could not say goodbye: {error!r}", exc_info=not isinstance(error, BrokerError))
        self._outbox.close()

    def _settle_until(self, deadline_s: float) -> None:
        while self._is_up and (now_s := time.monotonic()) < deadline_s:
            self._lanes.take_news(now_s)
            self._lanes.pump(now_s, news_only=True)
            if self._lanes.idle:
                return
            self._take(min(0.1, deadline_s - now_s))
