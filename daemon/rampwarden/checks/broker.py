"""Is the broker there, does an alarm come back from it, and does anybody else listen?

Sends one message the way alarms go, and waits for it on the same connection: a broker that binds ids to users lets no
second one stand beside it. Its client id is its own, so that elsewhere a running watch is not thrown out. The message
says that it is a check; it is neither kept by the broker nor an alarm.
"""

import dataclasses
import queue
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TypeVar

from rampwarden.assembly.mqtt import BrokerAccess
from rampwarden.checks.check import Check, fine, look_again, will_not_work
from rampwarden.core.model import Event, EventName
from rampwarden.errors import BrokerError
from rampwarden.outputs.mqtt import (
    ALARM_EVENT,
    Answered,
    ArrivedMessage,
    BrokerAddress,
    Device,
    Down,
    Link,
    Message,
    News,
    SubscriptionRefused,
    Up,
)

_CONNECT_S = 8.0
_ANSWER_S = 5.0
# A subscription's own answer is not told; a message sent before it took hold is sent again.
_AGAIN_S = 0.5
_NOBODY = 0x10  # MQTT 5.0, 3.4.2.1: no matching subscribers
_TEXT = "check before lighting up: this is how an alarm would arrive"
_Wanted = TypeVar("_Wanted")


class _Line:
    """One connection and what it has told."""

    def __init__(self, address: BrokerAddress, access: BrokerAccess, *, old_version: bool) -> None:
        self._told: queue.SimpleQueue[News] = queue.SimpleQueue()
        parameters = dataclasses.replace(access.parameters, client_id=f"{access.parameters.client_id}-check")
        self.link = Link(address, parameters, lambda _link, news: self._told.put(news), old_version=old_version)
        self.link.open()

    def wait(self, wanted: Callable[[News], _Wanted | None], patience_s: float) -> _Wanted | None:
        """Give the first news that `wanted` takes, None after `patience_s`; raises `BrokerError` when the line ends."""
        until_s = time.monotonic() + patience_s
        while (left_s := until_s - time.monotonic()) > 0:
            try:
                news = self._told.get(timeout=left_s)
            except queue.Empty:
                break
            if isinstance(news, Down):
                raise _LineDownError(news)
            if isinstance(news, SubscriptionRefused):
                raise BrokerError(f"may not listen to what it sends: {news.words}")
            found = wanted(news)
            if found is not None:
                return found
        return None


class _LineDownError(BrokerError):
    """The line ended; `news` says how."""

    def __init__(self, news: Down) -> None:
        super().__init__(news.why)
        self.news = news


def judge_broker(access: BrokerAccess, device: Device) -> Check:
    """Judge the first of the brokers that lets us in."""
    troubles = []
    for address in access.brokers:
        try:
            return _judge_one(address, access, device)
        except BrokerError as error:
            troubles.append(f"{address}: {error}")
    return will_not_work("broker", "; ".join(troubles))


def _judge_one(address: BrokerAddress, access: BrokerAccess, device: Device) -> Check:
    try:
        return _round_trip(address, access, device, old_version=False)
    except _LineDownError as error:
        # Some hang up on version 5 without a word.
        if not (error.news.wants_older_version or error.news.hung_up):
            raise
    return _round_trip(address, access, device, old_version=True)


def _round_trip(address: BrokerAddress, access: BrokerAccess, device: Device, *, old_version: bool) -> Check:
    line = _Line(address, access, old_version=old_version)
    try:
        if line.wait(_up, _CONNECT_S) is None:
            raise BrokerError("does not answer")
        return _send_and_wait(f"{address}", line, device, old_version=old_version)
    finally:
        line.link.close()


def _send_and_wait(shown: str, line: _Line, device: Device, *, old_version: bool) -> Check:
    message = _message(device)
    number = line.link.publish(message)
    answer = line.wait(_answer_to(number), _ANSWER_S)
    if answer is None:
        raise BrokerError("lets us in, but does not answer a message")
    if answer.refused:
        return will_not_work("broker", f"{shown} refuses our alarms: {answer.words}")
    line.link.subscribe([message.topic], ours=True)
    began_s = time.monotonic()
    while time.monotonic() < began_s + _ANSWER_S:
        sent_s = time.monotonic()
        line.link.publish(message)
        if line.wait(_came_back(message), _AGAIN_S) is not None:
            took = f"a message came back in {1000 * (time.monotonic() - sent_s):.0f} ms"
            if answer.code == _NOBODY:
                return look_again("broker", f"{shown}: {took}, but nobody else listens for alarms")
            if old_version:
                return look_again("broker", f"{shown}: {took}; it speaks MQTT 3.1.1, which does not tell who listens")
            return fine("broker", f"{shown}: {took}, and somebody listens")
    return will_not_work("broker", f"{shown} takes our alarms, but they do not come back: look at its rights (ACL)")


def _message(device: Device) -> Message:
    note = Event(0.0, EventName.NOTE, text=_TEXT)
    _, body = device.event(note, "", datetime.now(UTC), "check", late=False)
    return Message(f"{device.base}/{ALARM_EVENT}", body.encode(), is_json=True, expiry_s=30)


def _up(news: News) -> Up | None:
    return news if isinstance(news, Up) else None


def _answer_to(number: int) -> Callable[[News], Answered | None]:
    return lambda news: news if isinstance(news, Answered) and news.number == number else None


def _came_back(sent: Message) -> Callable[[News], ArrivedMessage | None]:
    return lambda news: news if isinstance(news, ArrivedMessage) and news.payload == sent.payload else None
