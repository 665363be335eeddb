"""Real nats-server nodes with JetStream and MQTT, that can be killed and frozen one by one. Not a test itself."""

import contextlib
import shutil
import signal
import socket
import subprocess
from pathlib import Path

from tests.outputs.mqtt.broker import free_port, wait_until

from rampwarden.outputs.mqtt.broker import BrokerAddress

NATS = shutil.which("nats-server") or shutil.which("nats-server", path="/usr/sbin:/usr/local/sbin")
_SETTINGS = """\
server_name: {name}
listen: 127.0.0.1:-1
jetstream {{ store_dir: "{folder}", max_memory_store: 64M, max_file_store: 256M }}
mqtt {{ listen: "127.0.0.1:{port}", stream_replicas: {count}, ack_wait: "2s", max_ack_pending: 1000 }}
"""
_CLUSTER = """\
cluster {{ name: shop, listen: "127.0.0.1:{route}", routes: [{routes}] }}
"""


class Node:
    """One of them, with settings of its own."""

    def __init__(self, folder: Path, name: str = "node-1", *, count: int = 1, settings: str = "") -> None:
        self.port = free_port()
        self.log = folder / f"{name}.log"
        self._file = folder / f"{name}.conf"
        self._usual = _SETTINGS.format(name=name, folder=folder / name, port=self.port, count=count)
        self._file.write_text(self._usual + settings)
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> BrokerAddress:
        """Where furnaces find it."""
        return BrokerAddress("127.0.0.1", self.port)

    def start(self) -> None:
        """Start it, and wait until it takes connections."""
        if NATS is None:
            raise RuntimeError("there is no nats-server")
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [NATS, "-c", str(self._file)], stdout=log, stderr=log, stdin=subprocess.DEVNULL
            )
        wait_until(self._answers, f"an answer from {self.log.stem}; its log says: {self.log.read_text()}")

    def change(self, settings: str) -> None:
        """Let it go on with other settings."""
        self._file.write_text(self._usual + settings)
        self._signal(signal.SIGHUP)

    def kill(self) -> None:
        """End it as a power cut does."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def freeze(self) -> None:
        """Let it hold its connections and do nothing."""
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """Let it go on."""
        self._signal(signal.SIGCONT)

    def _signal(self, number: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(number)

    def _answers(self) -> bool:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1.0):
            return True
        return False


def cluster(folder: Path, count: int = 3) -> list[Node]:
    """Give so many nodes that know of each other, each with its own store, not started."""
    ports = [free_port() for _ in range(count)]
    routes = ", ".join(f'"nats://127.0.0.1:{port}"' for port in ports)
    return [
        Node(folder, f"node-{number}", count=count, settings=_CLUSTER.format(route=port, routes=routes))
        for number, port in enumerate(ports, start=1)
    ]
