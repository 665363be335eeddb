"""The bell beside a broker: it rests while somebody is reached, and takes over at once when nobody is."""

import contextlib
import os
from collections.abc import Callable, Iterator

import pytest
from tests.outputs.mqtt.broker import Broker, Consumer, Furnace, alarm, wait_until

from rampwarden.core.model import AlarmState
from rampwarden.outputs.bell import Bell


@pytest.fixture
def ringing(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Bell, Callable[[], int]]]:
    """Give a bell and a function that counts its strokes."""
    monkeypatch.setattr("rampwarden.outputs.bell._BETWEEN_STROKES_S", 0.0)
    read, write = os.pipe()
    os.set_blocking(read, False)
    strokes = [0]

    def count() -> int:
        with contextlib.suppress(BlockingIOError):
            strokes[0] += len(os.read(read, 4096))
        return strokes[0]

    with contextlib.closing(Bell(write)) as bell:
        bell.start()
        yield bell, count
    os.close(read)
    os.close(write)


def test_a_resting_bell_is_silent_and_rings_for_what_waits_the_moment_it_takes_over(
    ringing: tuple[Bell, Callable[[], int]],
) -> None:
    """Alarms raised while it rested are still unacknowledged: they must not be missed."""
    bell, strokes = ringing
    bell.rest(True)
    bell.tell(alarm(1.0))
    bell.tell(alarm(1.0, name="ramp-low"))
    bell.tell(alarm(2.0, AlarmState.ACKNOWLEDGED, name="ramp-low"))
    bell.rest(True)
    assert strokes() == 0
    bell.rest(False)
    wait_until(lambda: strokes() == 3, "three strokes")
    bell.rest(True)
    bell.tell(alarm(3.0, AlarmState.ACKNOWLEDGED))
    bell.rest(False)
    bell.tell(alarm(4.0, name="ramp-low"))
    wait_until(lambda: strokes() == 6, "three more, for the new alarm alone")


def test_the_bell_takes_over_when_the_broker_dies_and_rests_again_when_it_is_back(
    broker: Broker,
    listen: Callable[..., Consumer],
    make_furnace: Callable[..., Furnace],
    ringing: tuple[Bell, Callable[[], int]],
) -> None:
    """The alarm had been delivered, and nobody has acknowledged it: an answer of the broker is not a person."""
    bell, strokes = ringing
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address, bell=bell)
    furnace.wait_showing(lambda: bell._resting, "the bell at rest")
    bell.tell(alarm(61.0))
    furnace.tell(alarm(61.0))
    consumer.wait_for("alarm/event", "ramp-high")
    assert strokes() == 0
    broker.kill()
    wait_until(lambda: strokes() >= 3, "the bell")
    broker.start()
    furnace.wait_showing(lambda: bell._resting, "the bell at rest again")
