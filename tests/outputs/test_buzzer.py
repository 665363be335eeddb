"""The board's buzzer: heartbeats only while the loop runs, the most urgent pattern, and a farewell only when asked."""

from binascii import crc_hqx
from collections.abc import Callable

import pytest
import structlog

from rampwarden.core.instrument.buzzer_lines import Pattern, annunciation, heartbeat
from rampwarden.core.model import AlarmState, Event, EventName, HeatStatus, Priority, Quality
from rampwarden.outputs.buzzer import PATIENCE_MS, Buzzer

STATUS = HeatStatus(0.0, 20.0, Quality.GOOD, None, None, 1, 1, "", None, (None, None), 0.0, 0.0, None, None, ())


class Line:
    """Where lines go, and what they say."""

    def __init__(self) -> None:
        self.dropped = 0
        self.farewell: Callable[[], bytes] = bytes
        self.said: list[bytes] = []

    def say(self, line: bytes) -> None:
        """Keep it."""
        self.said.append(line)

    def taken(self) -> list[tuple[str, int]]:
        """Give the kinds and numbers said since the last time."""
        words = [tuple(line.decode().split("*")[0][1:].split(",")) for line in self.said]
        self.said.clear()
        return [(kind, int(number)) for kind, _, number in words]


def alarm(name: str, state: AlarmState, priority: Priority = Priority.HIGH) -> Event:
    """An alarm's change."""
    return Event(0.0, EventName.ALARM, alarm=name, state=state, priority=priority)


@pytest.fixture
def line() -> Line:
    """A line to a board."""
    return Line()


def test_a_line_has_the_checksum_of_what_stands_between_its_signs() -> None:
    """As a frame has."""
    for text in (heartbeat(65_535, 60_000), annunciation(0, Pattern.SILENT)):
        body, _, crc = text.strip().removeprefix(b"$").partition(b"*")
        assert crc_hqx(body, 0) == int(crc, 16)


@pytest.mark.parametrize("patience_ms", [-1, 1, 499, 60_001])
def test_a_patience_that_is_none_is_refused(patience_ms: int) -> None:
    """Too short for a busy computer, too long for a dead-man's handle."""
    with pytest.raises(ValueError, match="patience"):
        heartbeat(0, patience_ms)


def test_each_look_of_the_loop_is_a_heartbeat_with_the_pattern(line: Line) -> None:
    """And between the looks nothing comes: a loop that hangs falls silent."""
    buzzer = Buzzer(line, lambda: False)
    assert line.taken() == []
    buzzer.show(STATUS)
    assert line.taken() == [("HB", PATIENCE_MS), ("AN", 0)]
    buzzer.tell(alarm("ramp-high", AlarmState.UNACKNOWLEDGED))
    assert line.taken() == [("AN", 3)]
    buzzer.show(STATUS)
    assert line.taken() == [("HB", PATIENCE_MS), ("AN", 3)]


def test_the_most_urgent_unacknowledged_alarm_is_sounded(line: Line) -> None:
    """Acknowledged, shelved or gone, the next one is; a lesser one beside it changes nothing."""
    buzzer = Buzzer(line, lambda: False)
    buzzer.tell(alarm("ramp-low", AlarmState.UNACKNOWLEDGED, Priority.MEDIUM))
    buzzer.tell(alarm("ramp-high", AlarmState.UNACKNOWLEDGED))
    buzzer.tell(alarm("junction-range", AlarmState.UNACKNOWLEDGED, Priority.LOW))
    buzzer.tell(alarm("ramp-high", AlarmState.ACKNOWLEDGED))
    buzzer.tell(alarm("ramp-low", AlarmState.RETURNED_UNACKNOWLEDGED, Priority.MEDIUM))
    buzzer.tell(alarm("junction-range", AlarmState.SHELVED, Priority.LOW))
    buzzer.tell(Event(0.0, EventName.NOTE, text="no alarm"))
    assert line.taken() == [("AN", 2), ("AN", 3), ("AN", 2), ("AN", 1), ("AN", 0)]


def test_a_watch_that_was_asked_to_end_says_farewell_and_one_that_dies_does_not(line: Line) -> None:
    """So that only the second lets the board sound by itself."""
    asked = False
    Buzzer(line, lambda: asked)
    assert line.farewell() == b""
    asked = True
    assert line.farewell() == annunciation(0, Pattern.SILENT) + heartbeat(1, 0)


def test_numbers_of_lines_go_round(line: Line) -> None:
    """65535 is followed by 0."""
    buzzer = Buzzer(line, lambda: False)
    for _ in range(33_000):
        buzzer.show(STATUS)
    numbers = [int(text.split(b",")[1]) for text in line.said]
    assert numbers[65_535:65_537] == [65_535, 0]


def test_a_board_that_takes_nothing_is_told_of_once(line: Line) -> None:
    """Somebody relies on its sound."""
    buzzer = Buzzer(line, lambda: False)
    buzzer.show(STATUS)
    line.dropped = 3
    with structlog.testing.capture_logs() as logs:
        for _ in range(3):
            buzzer.show(STATUS)
    (entry,) = logs
    assert "It will not sound" in entry["event"]
