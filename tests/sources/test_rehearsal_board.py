"""The rehearsal's board: real bytes through a real pseudo-terminal, on a clock that never runs ahead of them."""

import contextlib
import os
import select
import threading
import time
import tty
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from rampwarden.clock import Clock
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.framing import Frame, FrameDecoder
from rampwarden.core.schedule import Schedule
from rampwarden.sources.furnace_faults import FaultName
from rampwarden.sources.rehearsal_board import ModelHeat, RehearsalBoard, SimulatedClock

PATIENCE_S = 20.0


def short_schedule() -> Schedule:
    """Twenty minutes of ramp with everything a fault of line or sensor wants."""
    table = {
        "title": "short",
        "segment": [
            {"name": "up", "kind": "ramp", "to": "200 C", "max_rate": "60 C / 5 min", "min_rate": "20 C / 5 min"},
            {"name": "hold", "kind": "soak", "at": "200 C", "hold": "1 min"},
        ],
    }
    return parse_schedule(table, "test")


class Listener:
    """The other end of the port, as the watch would hold it."""

    def __init__(self, port: str) -> None:
        self.descriptor = os.open(port, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self.descriptor)
        self.decoder = FrameDecoder()

    def hear(self, wait_s: float) -> list[Frame]:
        """Take what has come, waiting at most `wait_s` for it."""
        readable, _, _ = select.select([self.descriptor], [], [], wait_s)
        return self.decoder.feed(os.read(self.descriptor, 65536)) if readable else []

    def hear_to_the_end(self, board: RehearsalBoard) -> list[Frame]:
        """Take everything until the heat is over."""
        frames: list[Frame] = []
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            over = board.finished.is_set()
            heard = self.hear(0.01)
            frames += heard
            if over and not heard:
                return frames
        raise TimeoutError(f"heat not over after {PATIENCE_S} s, {len(frames)} frames")


@contextlib.contextmanager
def playing(speed: float, fault: FaultName | None = None) -> Iterator[tuple[RehearsalBoard, Listener]]:
    board = RehearsalBoard(ModelHeat(short_schedule(), fault=fault), speed, datetime(2026, 1, 1, 9, tzinfo=UTC))
    listener = Listener(board.port)
    board.start()
    try:
        yield board, listener
    finally:
        board.stop()
        os.close(listener.descriptor)


def until(condition: Callable[[], object], wait_s: float = PATIENCE_S) -> None:
    """Wait until a condition holds."""
    end_s = time.monotonic() + wait_s
    while not condition():
        assert time.monotonic() < end_s, "condition never held"
        time.sleep(0.002)


def test_a_whole_heat_comes_through_the_port_frame_by_frame() -> None:
    """Every frame once, in order, with the right CRC, one a second of the board's own clock."""
    with playing(speed=50_000.0) as (board, listener):
        frames = listener.hear_to_the_end(board)
        assert listener.decoder.garbled == 0
        assert [frame.seq for frame in frames] == list(range(len(frames)))
        assert [frame.board_ms for frame in frames] == [1000 * count for count in range(len(frames))]
        assert board.clock.now_s() == len(frames) - 1


def test_the_port_and_its_bytes_repeat_with_the_seed() -> None:
    """What comes out of the port is exactly what the model made."""
    model = ModelHeat(short_schedule())
    made = []
    while not model.over:
        made.append(model.next_frame())
    expected = FrameDecoder().feed(b"".join(frame for frame in made if frame is not None))
    with playing(speed=50_000.0) as (board, listener):
        assert listener.hear_to_the_end(board) == expected


def test_bytes_are_written_before_the_clock_moves_to_their_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """A reader can never see a clock ahead of bytes that are not yet in the port."""
    board = RehearsalBoard(ModelHeat(short_schedule()), 50_000.0)
    clock_at_write: list[tuple[float, int]] = []
    write = os.write

    def watched_write(descriptor: int, data: bytes) -> int:
        (frame,) = FrameDecoder().feed(data)
        clock_at_write.append((board.clock.now_s(), frame.board_ms or 0))
        return write(descriptor, data)

    monkeypatch.setattr("rampwarden.sources.rehearsal_board.os.write", watched_write)
    board.start()
    until(lambda: len(clock_at_write) > 100)
    board.stop()
    later = [(now_s, board_ms / 1000.0) for now_s, board_ms in clock_at_write if board_ms > 0]
    assert all(now_s < frame_s for now_s, frame_s in later)


def test_a_watch_that_does_not_read_holds_up_the_furnace_and_loses_nothing() -> None:
    """The port fills, the clock stands still, and all of it is there when the watch reads on."""
    with playing(speed=1_000_000.0) as (board, listener):
        seen_s = -1.0
        while seen_s != (seen_s := board.clock.now_s()) or seen_s == 0.0:
            time.sleep(0.05)
        assert not board.finished.is_set()
        assert board.clock.now_s() == seen_s
        frames = listener.hear_to_the_end(board)
        assert [frame.seq for frame in frames] == list(range(len(frames)))


class Silence:
    """Ten minutes of a board that says nothing, a second at a time; making each takes `work_s` of a `Host`'s time."""

    def __init__(self, host: "Host", work_s: float) -> None:
        self.time_s = -1.0
        self._host, self._work_s = host, work_s

    @property
    def over(self) -> bool:
        return self.time_s >= 600.0

    def next_frame(self) -> None:
        self.time_s += 1.0
        self._host.now_s += self._work_s


class Host(threading.Event):
    """A host's time that passes only where somebody works or waits for an event, which never comes."""

    def __init__(self) -> None:
        super().__init__()
        self.now_s = 5000.0

    def monotonic(self) -> float:
        return self.now_s

    def wait(self, timeout: float | None = None) -> bool:
        self.now_s += timeout or 0.0
        return False


@pytest.mark.parametrize(("work_s", "lasts_s"), [(0.0, 3.0), (0.004, 3.0), (0.01, 6.01)])
def test_the_pace_is_what_was_asked_for(monkeypatch: pytest.MonkeyPatch, work_s: float, lasts_s: float) -> None:
    """At 200 ten minutes last three seconds, or longer on a machine too slow for it; never less."""
    host = Host()
    monkeypatch.setattr("rampwarden.sources.rehearsal_board.time", host)
    board = RehearsalBoard(Silence(host, work_s), 200.0)
    monkeypatch.setattr(board, "_stopping", host)
    board.start()
    assert board.finished.wait(PATIENCE_S)
    board.stop()
    assert host.now_s - 5000.0 == pytest.approx(lasts_s, abs=0.011)


def test_the_clock_goes_on_through_a_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    """90 seconds without a frame are 90 seconds of the clock, second by second, not a standstill and a jump."""
    moved_to_s: list[float] = []
    move_to = SimulatedClock.move_to

    def watched_move_to(clock: SimulatedClock, time_s: float) -> None:
        moved_to_s.append(time_s)
        move_to(clock, time_s)

    monkeypatch.setattr(SimulatedClock, "move_to", watched_move_to)
    with playing(speed=50_000.0, fault=FaultName.SILENCE) as (board, listener):
        frames = listener.hear_to_the_end(board)
    gaps_ms = [(after.board_ms or 0) - (before.board_ms or 0) for before, after in pairwise(frames)]
    assert max(gaps_ms) == 91_000
    assert moved_to_s == [float(second) for second in range(len(moved_to_s))]


def test_a_heat_is_finished_half_a_minute_after_its_last_segment() -> None:
    """The watch sees the end of it before the board falls silent."""
    heat = ModelHeat(short_schedule())
    while not heat.operator.complete:
        heat.next_frame()
    complete_s = heat.time_s
    assert not heat.over
    while not heat.over:
        heat.next_frame()
    assert heat.time_s == complete_s + 30.0


def test_stop_ends_a_rehearsal_at_once_wherever_it_stands() -> None:
    """Also at real time, in the middle of a wait, and in front of a full port; a second stop does no harm."""
    for speed in (1.0, 1_000_000.0):
        with playing(speed) as (board, _):
            until(lambda: board.clock.now_s() > 0.0 or speed == 1.0)  # noqa: B023  # the loop's own values are meant
            # At real time the heat would be over in twenty minutes.
            board.stop()
            assert board.finished.is_set()
            assert not any(thread.name == "model furnace" for thread in threading.enumerate())


def test_a_board_that_was_never_started_can_be_stopped() -> None:
    """The watch may fail before the furnace is lit."""
    board = RehearsalBoard(ModelHeat(short_schedule()), 60.0)
    board.stop()
    assert not board.finished.is_set()


def test_the_simulated_clock_is_a_clock_and_dates_the_heat() -> None:
    """Seconds from the start, wall time from a given one."""
    simulated = SimulatedClock(60.0, datetime(2026, 1, 1, 9, tzinfo=UTC))
    clock: Clock = simulated
    simulated.move_to(90.0)
    assert (clock.now_s(), clock.speed) == (90.0, 60.0)
    assert clock.wall() == datetime(2026, 1, 1, 9, 1, 30, tzinfo=UTC)
