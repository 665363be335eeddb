"""Two publishers to be killed: a furnace with its record as outbox, and a plain one beside it. Not a test itself.

Each counts in a file what it has taken on, in memory that outlives a kill: the furnace in its heat record, the plain
publisher in a mapped counter.
"""

import mmap
import struct
import sys
import time
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from tests.outputs.mqtt.broker import Furnace, message

from rampwarden.outputs.mqtt.broker import BrokerAddress

_BETWEEN_EVENTS_S = 0.004
_COUNTER = struct.Struct("Q")


def burn(folder: Path, port: int, record_id: str) -> None:
    """Let a furnace tell an event every few milliseconds until it is killed; an empty id only drains the outbox."""
    furnace = Furnace(folder, BrokerAddress("127.0.0.1", port), record_id=record_id).light()
    print("burning", flush=True)
    for number in range(1_000_000):
        if record_id != "last":
            furnace.tell(message(float(number)))
        if number % 100 == 0:
            furnace.show()
        time.sleep(_BETWEEN_EVENTS_S)


def publish_plainly(counter: Path, port: int, run: str) -> None:
    """Publish at QoS 1 as examples do, counting each message the library has taken."""
    counter.write_bytes(bytes(_COUNTER.size))
    with counter.open("r+b") as file, mmap.mmap(file.fileno(), _COUNTER.size) as count:
        client = Client(CallbackAPIVersion.VERSION2, client_id="plain", protocol=MQTTProtocolVersion.MQTTv5)
        client.connect("127.0.0.1", port)
        client.loop_start()
        print("burning", flush=True)
        for number in range(1, 1_000_000):
            client.publish("plain", f"{run}:{number}", qos=1)
            _COUNTER.pack_into(count, 0, number)
            time.sleep(_BETWEEN_EVENTS_S)


def counted(counter: Path) -> int:
    """Give what a plain publisher had taken on when it was killed."""
    number: int = _COUNTER.unpack(counter.read_bytes())[0]
    return number


if __name__ == "__main__":
    what, place, port, name = sys.argv[1:]
    (burn if what == "furnace" else publish_plainly)(Path(place), int(port), name)
