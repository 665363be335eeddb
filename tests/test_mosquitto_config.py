"""The broker's example configuration: a furnace stays within its own topics, and a kill takes nothing that was kept."""

import contextlib
import shutil
import socket
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from tests.outputs.mqtt.broker import MOSQUITTO, Broker, Consumer, Furnace, alarm, free_port, standing, wait_until

from rampwarden.core.model import CommandName
from rampwarden.outputs.mqtt.broker import LinkParameters

_EXAMPLES = Path(__file__).resolve().parent.parent / "config" / "mosquitto"
_USERS = ("furnace-1", "furnace-2", "operator", "display", "historian", "bridge")
_OURS = ("listener", "certfile", "keyfile", "cafile", "tls_version", "log_dest")

pytestmark = pytest.mark.skipif(
    MOSQUITTO is None or shutil.which("mosquitto_passwd") is None, reason="no mosquitto: see .ci/need-packages"
)


@dataclass
class Shop:
    """The broker of the example, and ways to act at it as somebody."""

    folder: Path
    broker: Broker

    def consumer(self, user: str, *topics: str, client_id: str = "") -> Consumer:
        return Consumer(self.broker.port, *topics, user=user, password=f"secret of {user}", client_id=client_id)

    def furnace(self, name: str) -> Furnace:
        secret = self.folder / f"{name}.secret"
        secret.write_text(f"secret of {name}\n")
        place = self.folder / name
        place.mkdir(exist_ok=True)
        parameters = LinkParameters(name, user=name, password_file=secret)
        commands = (CommandName.ACKNOWLEDGE,)
        return Furnace(place, self.broker.address, device_id=name, parameters=parameters, commands=commands).light()

    def may_publish(self, user: str, topic: str) -> bool:
        """Tell whether the broker takes a message of this user there."""
        refusals: list[bool] = []
        client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        client.username_pw_set(user, f"secret of {user}")
        client.on_publish = lambda _client, _data, _number, reason, _properties: refusals.append(reason.is_failure)
        client.connect("127.0.0.1", self.broker.port)
        client.loop_start()
        client.publish(topic, "x", qos=1)
        wait_until(lambda: refusals, f"an answer to {user} on {topic}")
        client.disconnect()
        client.loop_stop()
        return not refusals[0]


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """Give the example's broker, on a port of its own and without its certificates."""
    for user in _USERS:
        made = ["-c"] if user == _USERS[0] else []
        command = ["mosquitto_passwd", *made, "-b", str(tmp_path / "passwords"), user, f"secret of {user}"]
        subprocess.run(command, check=True, capture_output=True)
    (tmp_path / "acl").write_text((_EXAMPLES / "acl").read_text())
    (tmp_path / "acl").chmod(0o600)
    text = (_EXAMPLES / "mosquitto.conf").read_text()
    kept = [line for line in text.splitlines() if line and line[0] != "#" and line.split()[0] not in _OURS]
    settings = "\n".join(kept).replace("/etc/mosquitto/", f"{tmp_path}/").replace("/var/lib/mosquitto/", f"{tmp_path}/")
    broker = Broker(tmp_path, settings)
    broker.start()
    yield Shop(tmp_path, broker)
    broker.kill()


@pytest.mark.parametrize(
    ("user", "topic", "allowed"),
    [
        ("furnace-1", "homie/5/furnace-1/probe/temperature", True),
        ("furnace-1", "homie/5/furnace-1/$state", True),
        ("furnace-1", "rehearsal/5/furnace-1/alarm/event", True),
        ("furnace-1", "rehearsal/5/furnace-2/alarm/event", False),
        ("furnace-1", "answers/operator/furnace-1", True),
        ("furnace-1", "answers/operator/furnace-2", False),
        ("furnace-1", "answers/operator", False),
        ("display", "answers/operator/furnace-1", False),
        ("operator", "answers/historian/furnace-1", False),
        ("furnace-1", "homie/5/furnace-2/probe/temperature", False),
        ("furnace-1", "homie/5/furnace-2/alarm/acknowledge/set", False),
        ("furnace-1", "homie/5/furnace-11/$state", False),
        ("operator", "homie/5/furnace-1/alarm/acknowledge/set", True),
        ("operator", "homie/5/furnace-1/heat/note/set", True),
        ("operator", "homie/5/furnace-1/$state", False),
        ("operator", "homie/5/furnace-1/alarm/event", False),
        ("display", "homie/5/furnace-1/alarm/acknowledge/set", False),
        ("historian", "homie/5/furnace-1/heat/note/set", False),
    ],
)
def test_everybody_says_only_what_is_theirs_to_say(shop: Shop, user: str, topic: str, *, allowed: bool) -> None:
    """A furnace below its own name, an operator commands, the others nothing."""
    assert shop.may_publish(user, topic) is allowed


def test_a_furnace_lives_under_these_rules_and_takes_an_operators_word(shop: Shop) -> None:
    """Nothing it needs is refused: state, values, alerts, events, its commands, its answers."""
    furnace = shop.furnace("furnace-1")
    with contextlib.ExitStack() as ending:
        ending.callback(furnace.end)
        operator = shop.consumer("operator", "homie/#", "answers/#")
        ending.callback(operator.close)
        operator.wait_for("$state", "ready")
        furnace.show(standing())
        furnace.tell(alarm(61.0))
        operator.wait_for("$alert/ramp-high", "142")
        operator.wait_for("alarm/event", "ramp-high")
        topic = "homie/5/furnace-1/alarm/acknowledge/set"
        nosy = shop.consumer("display", "answers/#", "homie/#")
        ending.callback(nosy.close)
        nosy.wait_for("$state", "ready")
        operator.say(topic, "{}", MessageExpiryInterval=20, ResponseTopic="answers/operator/furnace-1")
        operator.wait_for("answers/operator/furnace-1", '"taken":true')
        furnace.show(temp_c=240.0)
        nosy.wait_for("probe/temperature", "240.0")
        assert not [heard.topic for heard in nosy.heard if heard.topic.startswith("answers/")]
        assert furnace.reached[-1] is True
        assert furnace.lost() == []


def test_nobody_throws_a_furnace_out_by_taking_its_client_id(shop: Shop) -> None:
    """Who connects as `display` is `display` to the broker, whatever id it asks for."""
    furnace = shop.furnace("furnace-1")
    with contextlib.ExitStack() as ending:
        ending.callback(furnace.end)
        operator = shop.consumer("operator", "homie/#")
        ending.callback(operator.close)
        operator.wait_for("$state", "ready")
        thief = shop.consumer("display", "homie/#", client_id="furnace-1")
        ending.callback(thief.close)
        thief.wait_for("$state", "ready")
        furnace.show(temp_c=240.0)
        thief.wait_for("probe/temperature", "240.0")
        operator.wait_for("probe/temperature", "240.0")
        assert furnace.lost() == []
        assert "lost" not in operator.texts("$state")


def test_a_killed_broker_still_has_what_it_kept_and_what_waits_for_the_historian(shop: Shop) -> None:
    """Written within a second of the change; a broker as it comes would have forgotten all of it."""
    historian = Historian(shop)
    historian.come()
    historian.go()
    furnace = shop.furnace("furnace-1")
    with contextlib.closing(shop.consumer("display", "homie/#")) as display:
        furnace.tell(*(alarm(float(n)) for n in range(50)))
        wait_until(lambda: len(display.keys()) == 50, "the events taken")
        display.wait_for("probe/temperature", "231.4")
    stored = shop.folder / "mosquitto.db"
    wait_until(lambda: stored.is_file() and b"heat-1:aa:50" in stored.read_bytes(), "everything on the disk")
    shop.broker.kill()
    furnace.end()
    shop.broker.start()
    historian.come()
    wait_until(lambda: len(set(historian.keys)) == 50, "what waited for the historian")
    historian.go()
    with contextlib.closing(shop.consumer("display", "homie/#")) as display:
        display.wait_for("$description", "{")


def test_two_brokers_joined_by_the_example_share_a_furnace_and_a_command(shop: Shop, tmp_path: Path) -> None:
    """Whoever listens at the second hears a furnace at the first once, and reaches it."""
    text = (_EXAMPLES / "bridge.conf").read_text()
    text = text.replace("broker-a:8883", str(shop.broker.address)).replace("change-me", "secret of bridge")
    kept = [line for line in text.splitlines() if line and line[0] != "#" and not line.startswith("bridge_cafile")]
    (tmp_path / "b").mkdir()
    second = Broker(tmp_path / "b", "\n".join(kept))
    with contextlib.ExitStack() as ending:
        ending.callback(second.kill)
        second.start()
        far = Consumer(second.port, "homie/#", "answers/#")
        ending.callback(far.close)
        furnace = shop.furnace("furnace-1")
        ending.callback(furnace.end)
        far.wait_for("$state", "ready")
        furnace.wait_reached()
        furnace.tell(alarm(61.0))
        far.wait_for("alarm/event", "ramp-high")
        topic = "homie/5/furnace-1/alarm/acknowledge/set"
        far.say(topic, "{}", MessageExpiryInterval=20, ResponseTopic="answers/far/furnace-1")
        far.wait_for("answers/far/furnace-1", '"taken":true')
        furnace.show(temp_c=240.0)
        far.wait_for("probe/temperature", "240.0")
    assert len(furnace.obeyed) == 1
    assert far.keys() == ["heat-1:aa:1"]


def test_the_whole_example_starts_with_certificates(tmp_path: Path) -> None:
    """Every line is one mosquitto knows, those for TLS included."""
    if shutil.which("openssl") is None:
        pytest.skip("no openssl on this computer")
    (tmp_path / "certs").mkdir()
    words = (
        "req -x509 -newkey ed25519 -nodes -days 2 -subj /CN=localhost -keyout certs/broker.key -out certs/broker.pem"
    )
    subprocess.run(["openssl", *words.split()], cwd=tmp_path, check=True, capture_output=True)
    shutil.copy(tmp_path / "certs" / "broker.pem", tmp_path / "certs" / "ca.pem")
    (tmp_path / "passwords").touch(mode=0o600)
    shutil.copy(_EXAMPLES / "acl", tmp_path / "acl")
    text = (_EXAMPLES / "mosquitto.conf").read_text()
    text = text.replace("/etc/mosquitto/", f"{tmp_path}/").replace("/var/lib/mosquitto/", f"{tmp_path}/")
    ports = (free_port(), free_port())
    text = text.replace("listener 8883", f"listener {ports[0]} 127.0.0.1").replace(
        "listener 1883", f"listener {ports[1]}"
    )
    broker = Broker(tmp_path, text)
    with contextlib.ExitStack() as ending:
        ending.callback(broker.kill)
        broker.start()
        for port in ports:
            wait_until(lambda port=port: answers(port), f"port {port}: {broker.log.read_text()}")


def answers(port: int) -> bool:
    """Tell whether somebody listens on a port."""
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=5):
        return True
    return False


class Historian:
    """Somebody whose subscription the broker keeps while they are away."""

    def __init__(self, shop: Shop) -> None:
        self._port = shop.broker.port
        self.keys: list[str] = []
        self._client = self._new()

    def _new(self) -> Client:
        client = Client(CallbackAPIVersion.VERSION2, "historian", clean_session=False)
        client.username_pw_set("historian", "secret of historian")
        client.on_message = lambda _client, _data, message: self.keys.append(
            message.payload.decode().partition('"key":"')[2].partition('"')[0]
        )
        return client

    def come(self) -> None:
        """Come, and hear every event."""
        subscribed: list[bool] = []
        self._client = self._new()
        self._client.on_connect = lambda client, *_: client.subscribe("homie/5/+/alarm/event", 1)
        self._client.on_subscribe = lambda *_: subscribed.append(True)
        self._client.connect("127.0.0.1", self._port)
        self._client.loop_start()
        wait_until(lambda: subscribed, "the historian's subscription")

    def go(self) -> None:
        """Go; the broker keeps what comes."""
        self._client.disconnect()
        self._client.loop_stop()
