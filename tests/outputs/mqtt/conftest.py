"""Brokers, consumers and furnaces that end with their test."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.outputs.mqtt.broker import MOSQUITTO, Broker, Consumer, Furnace

from rampwarden.outputs.mqtt.broker import BrokerAddress


@pytest.fixture
def make_broker(tmp_path: Path) -> Iterator[Callable[..., Broker]]:
    """Give a function that starts a broker with these settings."""
    if MOSQUITTO is None:
        pytest.skip("no mosquitto on this computer: see .ci/need-packages")
    brokers: list[Broker] = []

    def make(settings: str = "", **how: object) -> Broker:
        folder = tmp_path / f"broker-{len(brokers)}"
        folder.mkdir()
        broker = Broker(folder, settings, **how)  # type: ignore[arg-type]
        brokers.append(broker)
        broker.start()
        return broker

    yield make
    for broker in brokers:
        broker.thaw()
        broker.kill()


@pytest.fixture
def broker(make_broker: Callable[..., Broker]) -> Broker:
    """Give a broker that lets everybody in."""
    return make_broker()


@pytest.fixture
def listen(broker: Broker) -> Iterator[Callable[..., Consumer]]:
    """Give a function that lets somebody listen at the broker."""
    consumers: list[Consumer] = []

    def make(*topics: str, **how: object) -> Consumer:
        consumer = Consumer(broker.port, *topics, **how)  # type: ignore[arg-type]
        consumers.append(consumer)
        return consumer

    yield make
    broker.thaw()
    for consumer in consumers:
        consumer.close()


@pytest.fixture
def make_furnace(tmp_path: Path) -> Iterator[Callable[..., Furnace]]:
    """Give a function that lights a furnace at a broker."""
    furnaces: list[Furnace] = []

    def make(address: BrokerAddress | tuple[BrokerAddress, ...], **how: object) -> Furnace:
        furnace = Furnace(tmp_path, address, **how)  # type: ignore[arg-type]
        furnaces.append(furnace)
        return furnace.light()

    yield make
    for furnace in furnaces:
        furnace.end()
