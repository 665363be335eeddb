"""A broker of another make, that speaks MQTT 3.1.1 alone: nats-server, as the nodes of a cluster are.

What three of them do when one is killed or frozen takes them ten seconds each time: `make bench-brokers`.
"""

import json
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from paho.mqtt.enums import MQTTProtocolVersion
from tests.outputs.mqtt.broker import Consumer, Furnace, alarm, wait_until
from tests.outputs.mqtt.nats_cluster import NATS, Node

from rampwarden.core.model import CommandName
from rampwarden.outputs.mqtt.broker import LinkParameters
from rampwarden.shop import Listener

BEARS = """\
authorization {{ users: [
  {{ user: furnace, password: word, permissions: {{ publish: ">", subscribe: {{ allow: ">", deny: [{deaf_to}] }} }} }}
  {{ user: somebody, password: word }}
] }}
"""
EXAMPLE = Path(__file__).parents[3] / "config" / "nats" / "node.conf"
COMMANDS_TOPIC = '"homie.5.furnace-1.alarm.acknowledge.set"'


@pytest.fixture
def make_node(tmp_path: Path) -> Iterator[Callable[..., Node]]:
    """Give a function that starts a node with these settings."""
    if NATS is None:
        pytest.skip("no nats-server on this computer: see .ci/need-packages")
    nodes: list[Node] = []

    def make(settings: str = "") -> Node:
        nodes.append(Node(tmp_path, settings=settings))
        nodes[-1].start()
        return nodes[-1]

    yield make
    for node in nodes:
        node.kill()


def somebody(node: Node) -> Consumer:
    """Give somebody who listens, and whose session the broker keeps while it is away."""
    return Consumer(node.port, "homie/5/+/alarm/event", version=MQTTProtocolVersion.MQTTv311, client_id="ear")


def keys(consumer: Consumer) -> list[str]:
    """Give the events' keys: such a broker carries them in the message alone."""
    return [json.loads(each.text)["key"] for each in list(consumer.heard)]


def acknowledge_until_obeyed(ear: Listener, furnace: Furnace, what: str) -> None:
    """Let somebody who listens acknowledge, again and again, until the furnace has heard of it."""

    def obeyed() -> bool:
        ear.poll(0.2)
        for heard in ear.shop.furnaces:
            ear.command(heard, CommandName.ACKNOWLEDGE, alarm="ramp-high")
        return bool(furnace.obeyed)

    wait_until(obeyed, what)


def test_events_told_while_it_is_dead_arrive_once_it_is_back(
    make_node: Callable[..., Node], make_furnace: Callable[..., Furnace]
) -> None:
    """All of them, and what arrives twice has the same key."""
    node = make_node()
    before = somebody(node)
    furnace = make_furnace(node.address)
    furnace.wait_reached()
    furnace.tell(alarm(1.0), alarm(2.0))
    wait_until(lambda: len(set(keys(before))) == 2, "two events")
    before.close()
    node.kill()
    furnace.tell(alarm(3.0), alarm(4.0))
    wait_until(lambda: furnace.reached[-1] is False, "noticed")
    node.start()
    after = somebody(node)
    furnace.tell(alarm(5.0))
    wait_until(lambda: len(set(keys(before) + keys(after))) == 5, "all five")
    after.close()


def test_a_broker_that_will_not_let_us_hear_is_asked_until_it_does(
    make_node: Callable[..., Node], make_furnace: Callable[..., Furnace], tmp_path: Path
) -> None:
    """A cluster that has lost a node refuses until it has found together again; here its rules do, until mended."""
    (tmp_path / "password").write_text("word\n")
    access = LinkParameters("furnace-1", user="furnace", password_file=tmp_path / "password")
    node = make_node(BEARS.format(deaf_to=COMMANDS_TOPIC))
    furnace = make_furnace(node.address, parameters=access, commands=(CommandName.ACKNOWLEDGE,))
    wait_until(lambda: node.log.read_text().count("Subscription Violation") > 1, "a refusal, and another request")
    node.change(BEARS.format(deaf_to=""))
    # Those who listen speak the older version too, where a command says its own time.
    user = LinkParameters("ear", user="somebody", password_file=tmp_path / "password")
    ear = Listener([node.address], user, "homie", "Ada")
    acknowledge_until_obeyed(ear, furnace, "a command that is heard")
    ear.close()
    assert furnace.obeyed[0].alarm == "ramp-high"


def test_the_example_keeps_each_furnace_to_its_own_topics(
    make_node: Callable[..., Node], make_furnace: Callable[..., Furnace], tmp_path: Path
) -> None:
    """One node of it, on loopback and in the clear; its people hear everybody and command."""
    (tmp_path / "password").write_text("change-me\n")
    rules = EXAMPLE.read_text(encoding="utf-8")
    node = make_node(rules[rules.index("authorization {") : rules.index("# Its own protocol")])
    furnace = make_furnace(
        node.address,
        parameters=LinkParameters("furnace-1", user="furnace-1", password_file=tmp_path / "password"),
        commands=(CommandName.ACKNOWLEDGE,),
    )
    furnace.wait_reached()
    ear = Listener(
        [node.address], LinkParameters("ear", user="operator", password_file=tmp_path / "password"), "homie", ""
    )
    stranger = Consumer(
        node.port,
        "homie/5/furnace-1/$state",
        user="furnace-1",
        password="change-me",
        client_id="thief",
        version=MQTTProtocolVersion.MQTTv311,
    )
    stranger.client.publish("homie/5/furnace-2/$state", "ready")
    acknowledge_until_obeyed(ear, furnace, "a command of the people")
    assert [each.device for each in ear.shop.devices] == ["furnace-1"]
    assert "Publish Violation" in node.log.read_text()
    ear.close()
    stranger.close()


@pytest.mark.skipif(NATS is None, reason="no nats-server on this computer: see .ci/need-packages")
def test_the_example_is_understood() -> None:
    """Whole, but for the certificates that it names."""
    assert NATS is not None
    said = (
        subprocess.run([NATS, "-t", "-c", EXAMPLE], check=False, capture_output=True, text=True)
        .stderr.strip()
        .splitlines()
    )
    assert said
    assert all("X509 certificate/key pair" in line for line in said), said
