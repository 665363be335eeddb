"""A crowd of furnaces on one connection: topics and payloads are the product's own, the packets are written by hand.

Each furnace is a `RetainedState` as in a watch; only what would take a process each (model heat, record, sender) is
left out. Packets of MQTT 5.0 are put together here because a client library would cost more than all that is measured.
At most twenty messages are unanswered at a time, as the broker asks. Not a test itself.
"""

import contextlib
import socket
import struct
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import count

from tests.outputs.mqtt.broker import STARTED, status

from rampwarden.core.model import CommandName, Event, StandingAlarm
from rampwarden.outputs.mqtt.broker import BrokerAddress
from rampwarden.outputs.mqtt.homie import Device, HeatFacts
from rampwarden.outputs.mqtt.message import Message
from rampwarden.outputs.mqtt.retained_state import RetainedState

_WINDOW = 20
_PATIENCE_S = 30.0
_CONNECT, _PUBLISH, _PUBACK, _PINGREQ = 0x10, 0x32, 0x40, 0xC0


class PlainPublisher:
    """One connection that only publishes, at QoS 1."""

    def __init__(self, broker: BrokerAddress, client_id: str) -> None:
        self._socket = socket.create_connection((broker.host, broker.port), timeout=_PATIENCE_S)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._rest = b""
        self._unanswered = 0
        self._number = 0
        # Version 5, a clean start, no keepalive, no properties.
        body = b"\x00\x04MQTT\x05\x02\x00\x00\x00" + _string(client_id)
        self._socket.sendall(_packet(_CONNECT, body))
        first = self._read()
        if first[0] != 0x20 or first[3 if first[1] < 128 else 4] != 0:
            raise OSError(f"the broker will not have the crowd: {first!r}")

    def publish(self, messages: Iterable[Message]) -> int:
        """Publish and wait until all are answered; gives how many there were."""
        batch: list[bytes] = []
        sent = 0
        for message in messages:
            batch.append(self._publish_packet(message))
            sent += 1
            if len(batch) == _WINDOW:
                self._send(batch)
        self._send(batch)
        return sent

    def close(self) -> None:
        """Go without a word."""
        self._socket.close()

    def _send(self, batch: list[bytes]) -> None:
        self._socket.sendall(b"".join(batch))
        waited = len(batch)
        batch.clear()
        while waited > 0:
            packet = self._read()
            waited -= packet[0] == _PUBACK

    def _publish_packet(self, message: Message) -> bytes:
        self._number = self._number % 65_535 + 1
        properties = b"\x01\x01" if message.payload else b""
        if message.expiry_s is not None:
            properties += b"\x02" + struct.pack(">I", message.expiry_s)
        if message.is_json:
            properties += b"\x03" + _string("application/json")
        head = _string(message.topic) + struct.pack(">H", self._number) + _length(len(properties)) + properties
        return _packet(_PUBLISH | (1 if message.retain else 0), head + message.payload)

    def _read(self) -> bytes:
        while True:
            packet, self._rest = _first_packet(self._rest)
            if packet:
                return packet
            data = self._socket.recv(65_536)
            if not data:
                raise OSError("the broker has hung up on the crowd")
            self._rest += data


def _string(text: str) -> bytes:
    data = text.encode()
    return struct.pack(">H", len(data)) + data


def _length(number: int) -> bytes:
    digits = bytearray()
    while True:
        number, digit = divmod(number, 128)
        digits.append(digit | (128 if number else 0))
        if not number:
            return bytes(digits)


def _packet(kind: int, body: bytes) -> bytes:
    return bytes([kind]) + _length(len(body)) + body


def _first_packet(data: bytes) -> tuple[bytes, bytes]:
    """Part the first whole packet from the rest; empty when it is not there yet."""
    length = 0
    for index in range(1, min(len(data), 5)):
        length |= (data[index] & 127) << (7 * (index - 1))
        if data[index] < 128:
            end = index + 1 + length
            return (data[:end], data[end:]) if len(data) >= end else (b"", data)
    return b"", data


class Crowd:
    """So many furnaces, `furnace-0001` onwards, which announce themselves and then live at one status a call."""

    def __init__(
        self,
        broker: BrokerAddress,
        size: int,
        *,
        first: int = 1,
        commands: tuple[CommandName, ...] = (),
        name: Callable[[int], str] = lambda number: f"the kiln of house {number}",
    ) -> None:
        self.size = size
        self._line = PlainPublisher(broker, f"crowd-{first}")
        # Of its own: somebody may speak up while the crowd lives in another thread.
        self._voice = PlainPublisher(broker, f"crowd-{first}-voice")
        self._devices = [
            Device("homie", f"furnace-{number:04}", name(number), commands) for number in range(first, first + size)
        ]
        self._states = [
            RetainedState(device, HeatFacts("heat-1", "first heat", "pot 7", STARTED)) for device in self._devices
        ]
        self._alarms: list[tuple[StandingAlarm, ...]] = [()] * size
        self._lives = [count(1) for _ in range(size)]
        self._keys = count(1)

    def announce(self) -> int:
        """Let every furnace say everything, as after a connection; gives how many messages that were."""
        return sum(self._line.publish(self._announced(index)) for index in range(self.size))

    def live(self, indexes: Sequence[int] | range) -> int:
        """Let these furnaces live a second; gives how many messages that were."""
        return self._line.publish(message for index in indexes for message in self._lived(index))

    def set_alarms(self, index: int, *alarms: StandingAlarm) -> None:
        """Let these alarms stand at a furnace from its next second on."""
        self._alarms[index] = alarms

    def tell(self, index: int, event: Event, *, late: bool = False) -> None:
        """Let an event of a furnace be told."""
        topic, text = self._devices[index].event(event, "heat-1", STARTED, f"heat-1:{next(self._keys)}", late=late)
        self._voice.publish([Message(topic, text.encode(), is_json=True)])

    def say(self, index: int, path: str, payload: bytes, *, retain: bool = True) -> None:
        """Publish something below a furnace's base."""
        self._voice.publish([Message(f"{self._devices[index].base}/{path}", payload, retain=retain)])

    def close(self) -> None:
        """Let them all go, without a word."""
        for line in (self._line, self._voice):
            with contextlib.suppress(OSError):
                line.close()

    def _announced(self, index: int) -> Iterator[Message]:
        self._show(index)
        self._states[index].announce()
        return self._due(index)

    def _lived(self, index: int) -> Iterator[Message]:
        self._show(index)
        return self._due(index)

    def _show(self, index: int) -> None:
        second = next(self._lives[index])
        self._states[index].update(
            status(float(second), 200.0 + index % 700 + second / 10, *self._alarms[index]), time.monotonic()
        )

    def _due(self, index: int) -> Iterator[Message]:
        while (message := self._states[index].take(time.monotonic())) is not None:
            yield message
