"""A record played at a human pace: the same events as ever, steered by keys, and told for what it is."""

import queue
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from invented_heat import FAST, GOOD, write_record
from rampwarden.cli.after.replay_paced import recorded_heat
from rampwarden.core.model import Event, EventName, HeatStatus
from rampwarden.core.monitor import Monitor
from rampwarden.filed import Filed
from rampwarden.picture.keeper import PictureKeeper, about_heat
from rampwarden.picture.picture import Mode, Picture
from rampwarden.playback import Order, Playback
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of

PATIENCE_S = 20.0


class Hearer:
    """An output that remembers what it is told."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        self.events.append(event)

    def show(self, status: HeatStatus) -> None:
        """Nothing to show."""


class Played:
    """A playback in a thread of its own."""

    def __init__(self, record: Path, pace: float, *, stays: bool) -> None:
        heat = recorded_heat(record, None)
        about = about_heat(heat.schedule, Mode.REPLAY, heat.started)
        self.keeper = PictureKeeper(heat.schedule, about, pace=pace)
        self.hearer = Hearer()
        self.playback = Playback(heat.lines, heat.new_monitor, self.keeper, [self.hearer], pace, stays=stays)
        self.stop = threading.Event()
        self._thread = threading.Thread(target=self.playback.run, args=[self.stop])
        self._thread.start()

    def await_picture(self, wanted: object) -> Picture:
        """Wait for a picture that is as wanted."""
        until_s = time.monotonic() + PATIENCE_S
        picture = self.keeper.picture()
        while not wanted(picture):  # type: ignore[operator]
            assert time.monotonic() < until_s, picture.status
            picture = self.keeper.wait(picture.number, 0.5)
        return picture

    def ends(self) -> None:
        """Wait for the end of the playback."""
        self._thread.join(PATIENCE_S)
        assert not self._thread.is_alive()

    def close(self) -> None:
        self.stop.set()
        self.ends()


@pytest.fixture
def played(tmp_path: Path) -> Iterator[Played]:
    """A heat at sixty times its pace, shown until somebody ends it."""
    it = Played(write_record(tmp_path / "heat.jsonl", FAST), 60.0, stays=True)
    yield it
    it.close()


def test_at_any_pace_the_events_are_those_of_a_replay(tmp_path: Path) -> None:
    """When a line comes is all that differs."""
    record = write_record(tmp_path / "heat.jsonl", FAST)
    with RecordReader(record) as reader:
        monitor = Monitor(schedule_of(reader.header, "x"), parameters_of(reader.header, "x"))
        replayed = list(Replay(monitor).events(reader))
    it = Played(record, 10_000.0, stays=False)
    it.ends()
    assert it.hearer.events == replayed
    assert it.playback.alarms_raised == sum(event.raises_alarm for event in replayed)
    assert it.keeper.picture().over


class Waits:
    """A host's clock, and the orders a playback waits for: none ever comes, and each wait moves the clock."""

    def __init__(self) -> None:
        self.now_s = 5000.0

    def monotonic(self) -> float:
        return self.now_s

    def get(self, timeout: float) -> Order:
        self.now_s += timeout
        raise queue.Empty


def test_it_takes_as_long_as_the_heat_did_by_its_pace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """5300 s at 50 times the pace are 106 s, whatever the steps it waits in."""
    heat, waits = recorded_heat(write_record(tmp_path / "heat.jsonl", GOOD), None), Waits()
    monkeypatch.setattr("rampwarden.playback.time", waits)
    keeper = PictureKeeper(heat.schedule, about_heat(heat.schedule, Mode.REPLAY, heat.started), pace=50.0)
    playback = Playback(heat.lines, heat.new_monitor, keeper, [], 50.0, stays=False)
    monkeypatch.setattr(playback, "_orders", waits)
    playback.run(threading.Event())
    assert waits.now_s - 5000.0 == pytest.approx(GOOD[-1][0] / 50.0, abs=0.1)


def test_the_clock_runs_on_where_the_record_is_silent(tmp_path: Path) -> None:
    """A minute without a reading looks like one, alarm and all."""
    courses = ((0.0, 20.0), (100.0, 30.0))
    record = write_record(tmp_path / "heat.jsonl", courses)
    lines = record.read_text().splitlines(True)
    record.write_text("".join([*lines[:-1], '{"kind":"end","time_s":4000.0}\n']))
    it = Played(record, 200.0, stays=True)
    it.await_picture(lambda picture: picture.status.time_s > 300.0)
    it.close()
    assert any(event.alarm == "signal-lost" and event.time_s < 120.0 for event in it.hearer.events)


def test_a_pause_holds_the_heat_and_says_so(played: Played) -> None:
    """Until it is asked to go on."""
    played.await_picture(lambda picture: picture.status.time_s > 20.0)
    played.playback.order(Order.PAUSE)
    held = played.await_picture(lambda picture: picture.paused)
    later = played.keeper.wait(held.number + 3, 1.0)
    assert later.status.time_s - held.status.time_s < 60.0
    assert played.keeper.wait(held.number + 6, 0.5).status.time_s == later.status.time_s
    played.playback.order(Order.PAUSE)
    played.await_picture(lambda picture: picture.status.time_s > later.status.time_s + 20.0)


def test_faster_and_slower_go_by_steps(played: Played) -> None:
    """From 60 to 120 and back, and the display knows."""
    played.playback.order(Order.FASTER)
    played.await_picture(lambda picture: picture.pace == 120.0)
    played.playback.order(Order.SLOWER)
    played.playback.order(Order.SLOWER)
    played.await_picture(lambda picture: picture.pace == 20.0)


def test_a_jump_forward_passes_over_in_silence_and_tells_what_stands_there(played: Played) -> None:
    """A bell that rang for each alarm on the way would ring for nothing."""
    for _ in range(3):
        played.playback.order(Order.FORWARD)
    picture = played.await_picture(lambda picture: picture.status.time_s > 1400.0)
    assert picture.course[0].time_s < 30.0
    raised = [event for event in played.hearer.events if event.state == "unacknowledged"]
    assert {event.alarm for event in raised} >= {"ramp-high"}
    assert all(not event.text for event in raised)


def test_a_jump_back_comes_to_the_same_place_again(played: Played) -> None:
    """By way of the beginning; nothing of what is to come is left on the screen."""
    played.playback.order(Order.PAUSE)
    for _ in range(5):
        played.playback.order(Order.FORWARD)
    there = played.await_picture(lambda picture: picture.status.time_s > 2400.0)
    for _ in range(2):
        played.playback.order(Order.FORWARD)
    played.await_picture(lambda picture: picture.status.time_s > 3400.0)
    for _ in range(2):
        played.playback.order(Order.BACK)
    back = played.await_picture(lambda picture: picture.status.time_s < 2500.0 and picture.course)
    assert back.status == there.status
    assert back.course == there.course
    assert [each.time_s for each in back.happenings] == [each.time_s for each in there.happenings]


def test_at_the_end_it_says_so_and_can_begin_again(played: Played) -> None:
    """The last picture stays for whoever looks."""
    for _ in range(11):
        played.playback.order(Order.FORWARD)
    picture = played.await_picture(lambda picture: picture.over)
    assert any(each.event is EventName.HEAT_COMPLETE for each in picture.happenings)
    played.playback.order(Order.BEGINNING)
    played.await_picture(lambda picture: not picture.over and picture.status.time_s < 200.0)
