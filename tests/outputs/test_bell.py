"""The bell: how often, how soon again, when it stops, and that a dead terminal hurts nobody."""

import contextlib
import os
import pty
import select
import threading
import time
import tty
from collections.abc import Iterator

import pytest
from tests.outputs.mqtt.broker import wait_until

from full_terminal import fill_terminal
from rampwarden.core.model import AlarmState, Event, EventName, Notice, NoticeName, Priority
from rampwarden.outputs import bell as bell_module
from rampwarden.outputs.bell import Bell, ring_again_after_s

PATIENCE_S = 10.0


def alarm(name: str, priority: Priority, state: AlarmState = AlarmState.UNACKNOWLEDGED) -> Event:
    """Give the event of an alarm that goes into this state."""
    return Event(time_s=0.0, event=EventName.ALARM, alarm=name, priority=priority, state=state)


class HandClock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


class Ears:
    """A bell on a pipe, and whoever hears it."""

    def __init__(self) -> None:
        self._hearing, self._ringing = os.pipe()
        self.clock = HandClock()
        self.bell = Bell(self._ringing, self.clock)
        self.bell.start()

    def alarm(self, name: str, priority: Priority, state: AlarmState = AlarmState.UNACKNOWLEDGED) -> None:
        """Let an alarm change its state."""
        self.bell.tell(alarm(name, priority, state))

    def hear(self, strokes: int) -> None:
        """Wait for so many strokes."""
        heard = b""
        while len(heard) < strokes:
            readable, _, _ = select.select([self._hearing], [], [], PATIENCE_S)
            assert readable, f"{strokes} strokes expected, only {len(heard)} came"
            heard += os.read(self._hearing, strokes - len(heard))
        assert heard == b"\a" * strokes

    def pass_time(self, seconds: float) -> None:
        """Let time pass, and wait until the bell has done all it will do about it."""
        await_rest(self.bell)
        self.clock.now_s += seconds
        self.alarm("some other alarm", Priority.LOW, AlarmState.NORMAL)
        await_rest(self.bell)

    def hears_no_more(self) -> None:
        """End the bell; whatever it had still to say would be heard now."""
        self.bell.close()
        self.hears_nothing()

    def hears_nothing(self) -> None:
        """Check that no stroke waits to be heard."""
        readable, _, _ = select.select([self._hearing], [], [], 0)
        assert not readable, f"{len(os.read(self._hearing, 100))} strokes too many"

    def close(self) -> None:
        """Let go of everything."""
        self.bell.close()
        os.close(self._hearing)
        os.close(self._ringing)


def await_rest(bell: Bell) -> None:
    """Wait until the bell's thread waits for something new: what it was told before, it has dealt with."""
    lock = bell._lock
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        with lock:
            if lock._waiters:  # type: ignore[attr-defined]  # a condition has no other way to tell
                return
        time.sleep(0.001)
    pytest.fail("the bell's thread never came to rest")


@pytest.fixture
def ears(monkeypatch: pytest.MonkeyPatch) -> Iterator[Ears]:
    """Give a bell that does not pause between its strokes."""
    monkeypatch.setattr(bell_module, "_BETWEEN_STROKES_S", 0.0)
    listening = Ears()
    yield listening
    listening.close()


# Strokes


@pytest.mark.parametrize(("priority", "strokes"), [(Priority.HIGH, 3), (Priority.MEDIUM, 2), (Priority.LOW, 1)])
def test_the_number_of_strokes_tells_the_priority(priority: Priority, strokes: int, ears: Ears) -> None:
    """Three, two, one; and no more."""
    ears.alarm("ramp-high", priority)
    ears.hear(strokes)
    ears.hears_no_more()


def test_messages_and_other_states_do_not_ring(ears: Ears) -> None:
    """Only an alarm that nobody has acknowledged does."""
    ears.bell.tell(Event(time_s=0.0, event=EventName.SOAK_COMPLETE, text="soaked"))
    for state in AlarmState:
        if state is not AlarmState.UNACKNOWLEDGED:
            ears.alarm("ramp-high", Priority.HIGH, state)
    ears.hears_no_more()


def test_an_alarm_that_comes_back_rings_again(ears: Ears) -> None:
    """Returned and raised anew is news."""
    ears.alarm("ramp-high", Priority.HIGH)
    ears.hear(3)
    ears.alarm("ramp-high", Priority.HIGH, AlarmState.RETURNED_UNACKNOWLEDGED)
    ears.alarm("ramp-high", Priority.HIGH)
    ears.hear(3)
    ears.hears_no_more()


# Again, and faster


def test_pauses_grow_shorter_for_high_alarms_alone() -> None:
    """Every 30 s at first, every 15 s after two minutes, every 8 s after five; medium every 2 min, low never."""
    assert [ring_again_after_s(Priority.HIGH, age_s) for age_s in (0, 119, 120, 299, 300, 9000)] == [
        30,
        30,
        15,
        15,
        8,
        8,
    ]
    assert [ring_again_after_s(Priority.MEDIUM, age_s) for age_s in (0, 9000)] == [120, 120]
    assert [ring_again_after_s(Priority.LOW, age_s) for age_s in (0, 9000)] == [None, None]


def test_a_high_alarm_rings_again_at_30_60_90_120_135_seconds_and_so_on(ears: Ears) -> None:
    """Not a tenth of a second early; and faster the longer nobody comes."""
    ears.alarm("ramp-high", Priority.HIGH)
    ears.hear(3)
    for pause_s in (30, 30, 30, 30, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 8, 8, 8):
        ears.pass_time(pause_s - 0.1)
        ears.hears_nothing()
        ears.pass_time(0.1)
        ears.hear(3)
    ears.hears_no_more()


def test_a_medium_alarm_rings_again_after_two_minutes(ears: Ears) -> None:
    """With its own two strokes."""
    ears.alarm("ramp-low", Priority.MEDIUM)
    ears.hear(2)
    ears.pass_time(119.9)
    ears.hears_nothing()
    ears.pass_time(0.1)
    ears.hear(2)
    ears.hears_no_more()


def test_a_low_alarm_rings_once(ears: Ears) -> None:
    """However long it waits; the bell would be switched off otherwise."""
    ears.alarm("ramp-high", Priority.HIGH)
    ears.hear(3)
    ears.alarm("ramp-forecast", Priority.LOW)
    ears.hear(3)
    ears.alarm("ramp-high", Priority.HIGH, AlarmState.ACKNOWLEDGED)
    ears.pass_time(500.0)
    ears.hears_no_more()


def test_each_ring_is_that_of_the_most_urgent_alarm_waiting(ears: Ears) -> None:
    """So a low alarm that comes and goes cannot put off the next ring of a high one."""
    ears.alarm("ramp-high", Priority.HIGH)
    ears.hear(3)
    ears.pass_time(20.0)
    ears.alarm("ramp-forecast", Priority.LOW)
    ears.hear(3)
    ears.alarm("ramp-high", Priority.HIGH, AlarmState.ACKNOWLEDGED)
    ears.alarm("ramp-low", Priority.MEDIUM)
    ears.hear(2)
    ears.hears_no_more()


@pytest.mark.parametrize(
    "state", [AlarmState.ACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.NORMAL, AlarmState.SHELVED]
)
def test_it_stops_when_the_alarm_is_acknowledged_or_gone(state: AlarmState, ears: Ears) -> None:
    """Whatever ended it."""
    ears.alarm("ramp-high", Priority.HIGH)
    ears.hear(3)
    ears.alarm("ramp-high", Priority.HIGH, state)
    ears.pass_time(1000.0)
    ears.hears_no_more()


def test_it_goes_on_for_the_alarm_that_still_waits(ears: Ears) -> None:
    """Acknowledging one of two silences that one."""
    ears.alarm("ramp-high", Priority.HIGH)
    ears.hear(3)
    ears.alarm("ramp-low", Priority.MEDIUM)
    ears.hear(3)
    ears.alarm("ramp-high", Priority.HIGH, AlarmState.ACKNOWLEDGED)
    ears.pass_time(120.0)
    ears.hear(2)
    ears.hears_no_more()


# A terminal that does not read


def test_a_terminal_that_stopped_reading_holds_up_neither_tell_nor_close(monkeypatch: pytest.MonkeyPatch) -> None:
    """The worker waits for it, and nobody waits for the worker."""
    monkeypatch.setattr(bell_module, "_BETWEEN_STROKES_S", 0.0)
    master, slave = pty.openpty()
    fill_terminal(slave)
    os.set_blocking(master, False)
    bell = Bell(slave)
    bell.start()
    bell.tell(alarm("first", Priority.HIGH))
    wait_until(lambda: bell._to_ring is None, "the worker at its terminal")
    # Nobody reads yet: whatever waited for the terminal here would wait for ever.
    for number in range(1000):
        bell.tell(alarm(f"alarm {number}", Priority.HIGH))
    bell.close()
    workers = [thread for thread in threading.enumerate() if thread.name == "bell"]
    assert workers, "it is still ringing at a terminal that takes nothing, and was left behind"
    # Now somebody reads again, and it can end.
    for worker in workers:
        while worker.is_alive():
            with contextlib.suppress(BlockingIOError):
                os.read(master, 65_536)
            worker.join(0.01)
    os.close(slave)
    os.close(master)


def test_a_terminal_that_is_gone_is_rung_again_when_it_is_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """Errors of the one ring do not end the bell."""
    monkeypatch.setattr(bell_module, "_BETWEEN_STROKES_S", 0.0)
    master, slave = pty.openpty()
    tty.setraw(slave)
    os.close(master)
    bell = Bell(slave)
    bell.start()
    bell.tell(alarm("a", Priority.HIGH))
    await_rest(bell)
    hearing, ringing = os.pipe()
    os.dup2(ringing, slave)
    bell.tell(alarm("b", Priority.LOW))
    assert os.read(hearing, 1) == b"\a"
    bell.close()
    for descriptor in (slave, hearing, ringing):
        os.close(descriptor)


def test_a_worker_that_dies_says_so_starts_again_and_rings_for_what_still_waits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An error of ours in the bell must not leave a furnace without one."""
    healthy, notices = Bell._ring, list[Notice]()

    def fail_once(bell: Bell, strokes: int) -> None:
        monkeypatch.setattr(Bell, "_ring", healthy)
        raise ZeroDivisionError(f"{strokes} strokes")

    monkeypatch.setattr(Bell, "_ring", fail_once)
    monkeypatch.setattr(bell_module, "_BETWEEN_STROKES_S", 0.0)
    reading, writing = os.pipe()
    with contextlib.closing(Bell(writing)) as bell:
        bell.start(notices.append)
        bell.tell(alarm("ramp-high", Priority.HIGH))
        readable, _, _ = select.select([reading], [], [], PATIENCE_S)
        assert readable
    assert os.read(reading, 10) == b"\a\a\a"
    [notice] = notices
    assert notice.notice is NoticeName.OUTPUT_FAILING
    assert notice.text == "the bell had died (ZeroDivisionError: 3 strokes); it is started again"
    os.close(reading)
    os.close(writing)


def test_a_question_is_one_stroke_and_does_not_come_again() -> None:
    """It may wait; the checklist, which is asked before any segment, is read without."""
    ears = Ears()
    ears.bell.tell(Event(0.0, EventName.ASKED, text="Tongs dry", question=1))
    ears.bell.tell(Event(0.0, EventName.ASKED, text="Is there mist?", question=2, segment="drying"))
    ears.hear(1)
    ears.pass_time(600.0)
    ears.hears_no_more()
