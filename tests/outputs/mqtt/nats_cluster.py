"""Real nats-server nodes with JetStream and MQTT, that can be killed and frozen one by one. Not a test itself."""

import shutil
from pathlib import Path

from tests.outputs.mqtt.broker import BrokerProcess, free_port

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


class Node(BrokerProcess):
    """One of them, with settings of its own."""

    def __init__(self, folder: Path, name: str = "node-1", *, count: int = 1, settings: str = "") -> None:
        super().__init__(folder / f"{name}.log")
        self._file = folder / f"{name}.conf"
        self._usual = _SETTINGS.format(name=name, folder=folder / name, port=self.port, count=count)
        self._file.write_text(self._usual + settings)

    def start(self) -> None:
        """Start it, and wait until it takes connections."""
        if NATS is None:
            raise RuntimeError("there is no nats-server")
        self.launch(NATS, "-c", str(self._file))
        self.await_answer()

    def change(self, settings: str) -> None:
        """Let it go on with other settings."""
        self._file.write_text(self._usual + settings)
        self.reload()


def cluster(folder: Path, count: int = 3) -> list[Node]:
    """Give so many nodes that know of each other, each with its own store, not started."""
    ports = [free_port() for _ in range(count)]
    routes = ", ".join(f'"nats://127.0.0.1:{port}"' for port in ports)
    return [
        Node(folder, f"node-{number}", count=count, settings=_CLUSTER.format(route=port, routes=routes))
        for number, port in enumerate(ports, start=1)
    ]
