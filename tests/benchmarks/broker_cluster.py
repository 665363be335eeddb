"""Three nats-server nodes on this computer, killed and frozen in turn while a furnace tells five alarms a second.

Printed for each blow: how long nobody was reached, within the 25 s after it and the 15 s after the node was back (nodes
choose anew then too, and drop who is connected), the longest that an alarm took to somebody whose session the cluster
keeps, and how many commands, one a second, the furnace heard in the 25 s. At the end: alarms lost (0 or exit status 1),
and how many came twice, which is told by their key alone.
"""

import contextlib
import itertools
import json
import os
import sys
import tempfile
import threading
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import structlog
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from tests.outputs.mqtt.broker import Furnace, alarm, wait_until
from tests.outputs.mqtt.nats_cluster import NATS, Node, cluster

from rampwarden.core.model import CommandName

_EVERY_S = 0.2
_AFTER_BLOW_S = 25.0
_AFTER_MENDING_S = 15.0
_GRANTED_WITHIN_S = 5.0
_LAST_ONES_S = 60.0
_TOPIC = "homie/5/furnace-1/alarm/acknowledge/set"


class Ear:
    """Somebody who listens at whichever node lets them, and orders something each second."""

    def __init__(self, nodes: list[Node]) -> None:
        self.heard: list[tuple[float, str, float]] = []
        """When, which key, and at which second of the heat it happened."""
        self.listens = False
        self._nodes = itertools.cycle(reversed(nodes))
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="ear")
        self._thread.start()

    def close(self) -> None:
        self._ended.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._ended.is_set():
            with contextlib.suppress(OSError):
                self._hear_at(next(self._nodes))
            self.listens = False
            self._ended.wait(0.2)

    def _hear_at(self, node: Node) -> None:
        client = Client(
            CallbackAPIVersion.VERSION2, client_id="ear", clean_session=False, protocol=MQTTProtocolVersion.MQTTv311
        )
        over, granted = threading.Event(), threading.Event()
        client.on_connect = lambda *_: client.subscribe("homie/5/+/alarm/event", 1)
        client.on_subscribe = lambda *told: over.set() if told[3][0].is_failure else granted.set()
        client.on_disconnect = lambda *_: over.set()
        client.on_message = self._take
        client.connect_timeout = 2.0
        client.connect(node.address.host, node.port, 5)
        client.loop_start()
        if granted.wait(_GRANTED_WITHIN_S):
            self.listens = True
            while not over.wait(1.0) and not self._ended.is_set():
                order = {"alarm": "ramp-high", "time": datetime.now(UTC).isoformat()}
                client.publish(_TOPIC, json.dumps(order), qos=1)
        client.disconnect()
        client.loop_stop()

    def _take(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        body = json.loads(message.payload)
        self.heard.append((time.monotonic(), body["key"], body["elapsed_s"]))


class Load:
    """A furnace that tells an alarm every so often, and what is seen of it meanwhile."""

    def __init__(self, furnace: Furnace) -> None:
        self.told: dict[float, float] = {}
        self._furnace = furnace

    def run(self, seconds: float) -> tuple[float, int]:
        """Go on for so long; gives how long nobody was reached, and how many commands were heard."""
        began_s = time.monotonic()
        obeyed, unreached_s = len(self._furnace.obeyed), 0.0
        while (now_s := time.monotonic()) < began_s + seconds:
            number = float(len(self.told) + 1)
            self.told[number] = now_s
            self._furnace.tell(alarm(number))
            self._furnace.show()
            time.sleep(_EVERY_S)
            unreached_s += 0.0 if self._furnace.reached[-1:] == [True] else time.monotonic() - now_s
        return unreached_s, len(self._furnace.obeyed) - obeyed


def main() -> int:
    """Print the table."""
    if NATS is None:
        print("there is no nats-server on this computer: see .ci/need-packages")
        return 1
    structlog.configure(logger_factory=structlog.ReturnLoggerFactory())
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as ending:
        nodes = cluster(Path(folder))
        for node in nodes:
            ending.callback(node.kill)
            node.start()
        ear = ending.enter_context(contextlib.closing(Ear(nodes)))
        wait_until(lambda: ear.listens, "somebody who listens")
        furnace = Furnace(
            Path(folder), tuple(node.address for node in nodes), commands=(CommandName.ACKNOWLEDGE,)
        ).light()
        ending.callback(furnace.end)
        load = Load(furnace)
        load.run(_AFTER_MENDING_S)
        print(f"load {os.getloadavg()[0]:.1f}")
        print("blow           unreached s  after mending s  longest s  commands heard", flush=True)
        for blow, mending, at in (
            ("kill", "start", 0),
            ("freeze", "thaw", 1),
            ("kill", "start", 2),
            ("freeze", "thaw", 0),
        ):
            began_s = time.monotonic()
            getattr(nodes[at], blow)()
            unreached_s, obeyed = load.run(_AFTER_BLOW_S)
            getattr(nodes[at], mending)()
            again_s, _ = load.run(_AFTER_MENDING_S)
            late = [at_s - load.told[second] for at_s, _, second in list(ear.heard) if load.told[second] > began_s]
            figures = f"{unreached_s:11.1f} {again_s:16.1f} {max(late, default=-1):10.1f} {obeyed:15}"
            print(f"{blow + ' node ' + str(at + 1):14} {figures}", flush=True)
        with contextlib.suppress(AssertionError):
            wait_until(lambda: {second for _, _, second in ear.heard} >= load.told.keys(), "all", _LAST_ONES_S)
        lost = load.told.keys() - {second for _, _, second in ear.heard}
        twice = sum(count - 1 for count in Counter(key for _, key, _ in ear.heard).values())
        keys = {key for _, key, _ in ear.heard}
        print(f"{len(load.told)} alarms told, {len(lost)} lost, {twice} messages more than {len(keys)} keys")
        return int(bool(lost))


if __name__ == "__main__":
    sys.exit(main())
