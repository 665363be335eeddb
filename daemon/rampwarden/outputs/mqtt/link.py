"""One connection to one broker, from the first packet to the last; never reused.

Owns the client library and everything that must be said to it before a connection. A connection that is lost is not
mended here: whoever uses a link makes another, so that no half-sent message of an old connection ever turns up in a new
one. What happens is told as `News` through one function, which must only put it in a queue.

Traps this is built around, each met with the library's version 2.2: an exception in a callback ends its thread without
a word while it goes on saying it is connected; a lock held round a publish and taken in a callback is a deadlock; what
is published while disconnected is kept and sent later all the same; a refused message counts as published unless its
reason code is read; and its stop waits for messages that may never be answered. So callbacks only enqueue, guarded,
nothing is published before `Up`, reason codes are read, and a link is dropped by shutting its socket.
"""

import contextlib
import socket
import ssl
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import cast

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from rampwarden.errors import BrokerError
from rampwarden.outputs.mqtt.broker import HUNG_UP, BrokerAddress, LinkParameters, explain
from rampwarden.outputs.mqtt.message import ArrivedMessage, Message

# More in flight gains nothing: measured, a window of 20 acknowledges as many messages a second as one of 100.
WINDOW = 20
# A publisher that falls silent is noticed by the broker after 1.5 times this, and its will sent.
KEEPALIVE_S = 15
_CONNECT_TIMEOUT_S = 4.0
# Linux gives up a connection whose bytes go unacknowledged this long; left alone it would take many minutes.
_TCP_USER_TIMEOUT_MS = 10_000
_FAILED = 0x80
_UNSUPPORTED_VERSION = 0x84
_TAKEN_OVER = 0x8E


@dataclass(frozen=True, slots=True)
class Up:
    """The broker has accepted us. `window` is how many messages it takes unanswered."""

    window: int
    certificate_ends: datetime | None = None


@dataclass(frozen=True, slots=True)
class Down:
    """The connection is gone or was never made. `hung_up`: without a word to our first packet."""

    why: str
    wants_older_version: bool = False
    hung_up: bool = False
    taken_over: bool = False


@dataclass(frozen=True, slots=True)
class Answered:
    """The broker has answered a message; `code` is MQTT's reason code, from 0x80 on a refusal."""

    number: int
    code: int
    words: str

    @property
    def refused(self) -> bool:
        """Whether the broker did not take it."""
        return self.code >= _FAILED


@dataclass(frozen=True, slots=True)
class SubscriptionRefused:
    """The broker will not send us what we asked for; `number` is the one that `subscribe` gave."""

    words: str
    number: int = 0


@dataclass(frozen=True, slots=True)
class SubscriptionGranted:
    """The broker will send us what we asked for by this number."""

    number: int


News = Up | Down | Answered | SubscriptionRefused | SubscriptionGranted | ArrivedMessage


class Link:
    """One connection. `tell` is called from other threads with each piece of news, and must return at once.

    `most_arrived` is how many messages may wait to be looked at; what comes beyond that is dropped and counted, because
    whoever sends commands faster is not operating a furnace. `most_unanswered` is how many a broker may send before the
    first of them is answered.
    """

    def __init__(
        self,
        address: BrokerAddress,
        parameters: LinkParameters,
        tell: Callable[["Link", News], None],
        *,
        will: Message | None = None,
        old_version: bool = False,
        most_arrived: int = 50,
        most_unanswered: int = 10,
    ) -> None:
        self.address = address
        self.passed_over = 0
        self.old_version = old_version
        self._tell = tell
        self._lock = threading.Lock()
        self._dropped = False
        self._arrived = 0
        self._most_arrived = most_arrived
        self._most_unanswered = most_unanswered
        self._accepted = False
        self._ended = threading.Event()
        version = MQTTProtocolVersion.MQTTv311 if old_version else MQTTProtocolVersion.MQTTv5
        self._client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=parameters.client_id,
            clean_session=True if old_version else None,
            protocol=version,
            reconnect_on_failure=False,
        )
        self._prepare(parameters, will)
        self._opener = threading.Thread(target=self._open, name="mqtt connecting", daemon=True)

    def open(self) -> None:
        """Begin to connect, in a thread of its own: names and handshakes may take their time."""
        self._opener.start()

    def subscribe(self, topics: Sequence[str], *, qos: int = 1, kept: bool = True, ours: bool = False) -> int:
        """Ask for messages, those that the broker has `kept` too, and our own only if `ours`.

        Gives the number that a `SubscriptionRefused` would carry. MQTT 3.1.1 sends what was kept in any case.
        """
        if not topics:
            return 0
        if self.old_version:
            _, number = self._client.subscribe([(topic, qos) for topic in topics])
        else:
            handling = SubscribeOptions.RETAIN_SEND_ON_SUBSCRIBE if kept else SubscribeOptions.RETAIN_DO_NOT_SEND
            options = SubscribeOptions(qos=qos, noLocal=not ours, retainHandling=handling)
            _, number = self._client.subscribe([(topic, options) for topic in topics])
        return number or 0

    def unsubscribe(self, topics: Sequence[str]) -> None:
        """Ask for these no longer."""
        if topics:
            self._client.unsubscribe(list(topics))

    def publish(self, message: Message) -> int:
        """Hand over a message and give the number its `Answered` will carry; raises `BrokerError` on a dead link."""
        info = self._client.publish(
            message.topic, message.payload, qos=1, retain=message.retain, properties=self._properties(message)
        )
        if info.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise BrokerError(f"{self.address}: {message.topic} could not be handed over: {info.rc.name}")
        return info.mid

    def looked_at(self) -> None:
        """Note that an arrived message has been dealt with, which makes room for another."""
        with self._lock:
            self._arrived -= 1

    def close(self, patience_s: float = 1.0) -> None:
        """Part in peace, so that the will stays unsent; whoever does not answer is dropped."""
        self._opener.join(patience_s)
        self._client.disconnect()
        self._ended.wait(patience_s)
        self.drop()

    def drop(self) -> None:
        """Cut the connection; its threads end by themselves."""
        with self._lock:
            self._dropped = True
        # The library's socket type names only what it uses itself; it is a plain or a TLS socket.
        connection = cast(socket.socket | None, self._client.socket())
        if connection is not None:
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)

    # What the client must know before it connects

    def _prepare(self, parameters: LinkParameters, will: Message | None) -> None:
        client = self._client
        client.connect_timeout = _CONNECT_TIMEOUT_S
        client.max_inflight_messages_set(WINDOW)
        context = parameters.context()
        if context is not None:
            client.tls_set_context(context)
        if parameters.user:
            client.username_pw_set(parameters.user, parameters.password())
        if will is not None:
            client.will_set(will.topic, will.payload, qos=1, retain=will.retain)
        client.on_socket_open = self._guarded(self._take_socket)
        client.on_connect = self._guarded(self._take_connect)
        client.on_disconnect = self._guarded(self._take_disconnect)
        client.on_publish = self._guarded(self._take_answer)
        client.on_subscribe = self._guarded(self._take_subscribed)
        client.on_message = self._guarded(self._take_message)

    def _open(self) -> None:
        try:
            if self.old_version:
                self._client.connect(self.address.host, self.address.port, KEEPALIVE_S)
            else:
                properties = _properties_of(PacketTypes.CONNECT)
                # No session outlives the connection: what was missed comes from the record, and an old command must
                # not be carried out later.
                properties.SessionExpiryInterval = 0
                properties.ReceiveMaximum = self._most_unanswered
                self._client.connect(
                    self.address.host, self.address.port, KEEPALIVE_S, clean_start=True, properties=properties
                )
        except (OSError, ValueError) as error:
            self._down(Down(explain(error)))
            return
        with self._lock:
            dropped = self._dropped
        if dropped:
            self.drop()
        else:
            self._client.loop_start()

    def _properties(self, message: Message) -> Properties | None:
        if self.old_version:
            return None
        properties = _properties_of(PacketTypes.PUBLISH)
        if message.expiry_s is not None:
            properties.MessageExpiryInterval = message.expiry_s
        if message.is_json:
            properties.ContentType = "application/json"
        if message.payload:
            properties.PayloadFormatIndicator = 1
        if message.user:
            properties.UserProperty = list(message.user)
        if message.response_topic:
            properties.ResponseTopic = message.response_topic
        if message.correlation is not None:
            properties.CorrelationData = message.correlation
        return properties

    # Callbacks: the library's thread runs them, and they only enqueue

    def _guarded(self, take: Callable[..., None]) -> Callable[..., None]:
        def callback(*arguments: object) -> None:
            try:
                take(*arguments)
            except Exception as error:
                self._down(Down(f"a fault in handling what the broker sent: {error!r}"))

        return callback

    def _down(self, news: Down) -> None:
        self._ended.set()
        self._tell(self, news)

    def _take_socket(self, _client: Client, _data: object, connection: socket.socket) -> None:
        # Without it small messages wait up to 40 ms for the acknowledgement of those before them.
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if hasattr(socket, "TCP_USER_TIMEOUT"):
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, _TCP_USER_TIMEOUT_MS)

    def _take_connect(
        self, client: Client, _data: object, _flags: ConnectFlags, reason: ReasonCode, properties: Properties | None
    ) -> None:
        if reason.is_failure:
            older = reason.value == _UNSUPPORTED_VERSION
            self._down(Down(f"the broker will not have us: {reason}", wants_older_version=older))
            return
        self._accepted = True
        window = getattr(properties, "ReceiveMaximum", WINDOW) if properties is not None else WINDOW
        self._tell(self, Up(min(WINDOW, window), _certificate_end(client.socket())))

    def _take_disconnect(
        self, _client: Client, _data: object, _flags: object, reason: ReasonCode, _properties: object
    ) -> None:
        if self._accepted:
            self._down(Down(f"the connection ended: {reason}", taken_over=reason.value == _TAKEN_OVER))
        else:
            self._down(Down(HUNG_UP, hung_up=True))

    def _take_answer(
        self, _client: Client, _data: object, number: int, reason: ReasonCode, _properties: object
    ) -> None:
        self._tell(self, Answered(number, reason.value, str(reason)))

    def _take_subscribed(
        self, _client: Client, _data: object, number: int, reasons: list[ReasonCode], _properties: object
    ) -> None:
        refused = next((reason for reason in reasons if reason.is_failure), None)
        news = SubscriptionGranted(number) if refused is None else SubscriptionRefused(str(refused), number)
        self._tell(self, news)

    def _take_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        with self._lock:
            if self._arrived >= self._most_arrived:
                self.passed_over += 1
                return
            self._arrived += 1
        properties = message.properties
        self._tell(
            self,
            ArrivedMessage(
                topic=message.topic,
                payload=bytes(message.payload),
                retained=message.retain,
                expiry_s=getattr(properties, "MessageExpiryInterval", None),
                response_topic=getattr(properties, "ResponseTopic", ""),
                correlation=getattr(properties, "CorrelationData", None),
                user=tuple(getattr(properties, "UserProperty", ())),
            ),
        )


def _certificate_end(connection: object) -> datetime | None:
    certificate = connection.getpeercert() if isinstance(connection, ssl.SSLSocket) else None
    if not certificate or "notAfter" not in certificate:
        return None
    return datetime.fromtimestamp(ssl.cert_time_to_seconds(str(certificate["notAfter"])), UTC)


def _properties_of(packet: int) -> Properties:
    return Properties(packet)  # type: ignore[no-untyped-call]  # the library leaves this one class untyped
