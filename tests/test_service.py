"""The run loop with scripted inputs: what happens in which order, and that a replay tells the same story."""

import contextlib
import json
import random
import re
import threading
from collections.abc import Callable, Iterator, MutableMapping
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
import structlog

from hanging_disk import HangingDisk
from rampwarden import service
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.limits import Edges
from rampwarden.core.model import (
    ClockMark,
    Command,
    CommandName,
    Event,
    EventName,
    Fault,
    HeatStatus,
    Input,
    Measurement,
    Notice,
    NoticeName,
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.errors import PortError
from rampwarden.filed import Filed
from rampwarden.records import record_writer
from rampwarden.records.record_lines import FORMAT, End, Header, Line, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.replay import Replay
from rampwarden.service import Output, Watch
from small_disk import SmallDisk, may_mount, small_disk

TABLE: dict[str, object] = {
    "title": "T",
    "segment": [
        {"name": "drying", "kind": "ramp", "to": "200 C", "max_rate": "25 C / 5 min"},
        {"name": "up", "kind": "ramp", "to": "1000 C"},
    ],
}
Step = Reading | Notice | ClockMark | Callable[[], None] | None


class ScriptedSource:
    """Gives a list of inputs; a callable among them is called, and at the end the watch is stopped."""

    def __init__(self, steps: list[Step], stop: threading.Event) -> None:
        self.steps = steps
        self.started = self.stopped = False
        self.start_error: Exception | None = None
        self._stop = stop
        self._given = iter(steps)

    def start(self) -> None:
        self.started = True
        if self.start_error is not None:
            raise self.start_error

    def stop(self) -> None:
        self.stopped = True

    def next(self, timeout_s: float) -> Reading | Notice | ClockMark | None:
        for step in self._given:
            if not callable(step):
                return step
            step()
        self._stop.set()
        return None


class ScriptedClock:
    """Stands where the script puts it."""

    speed = 1.0

    def __init__(self) -> None:
        self.time_s = 0.0

    def now_s(self) -> float:
        return self.time_s

    def wall(self) -> datetime:
        return datetime(2026, 1, 1, tzinfo=UTC)


class Ears:
    """An output that remembers, and can be told to do something whenever it hears an event."""

    def __init__(self, whenever: Callable[[Event], None] = lambda _: None) -> None:
        self.events: list[Event] = []
        self.filed: list[Filed | None] = []
        self.shown: list[HeatStatus] = []
        self._whenever = whenever

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        self.events.append(event)
        self.filed.append(filed)
        self._whenever(event)

    def show(self, status: HeatStatus) -> None:
        self.shown.append(status)


class Heat:
    """One scripted heat: its parts, and what came of it."""

    def __init__(self, path: Path, *outputs: Output) -> None:
        self.path = path
        self.clock = ScriptedClock()
        self.stop = threading.Event()
        header = Header(format=FORMAT, started="2026-01-01T09:00:00Z", schedule=TABLE)
        self.writer = RecordWriter.create(path, header)
        self.source = ScriptedSource([], self.stop)
        self.monitor = Monitor(parse_schedule(TABLE, "test"))
        self.watch = Watch(self.source, self.clock, self.monitor, self.writer, outputs, status_every_s=60.0)

    def at(self, time_s: float) -> Callable[[], None]:
        """Give the step that sets the clock."""

        def set_clock() -> None:
            self.clock.time_s = time_s

        return set_clock

    def say(self, word: Command | Notice) -> Callable[[], None]:
        """Give the step in which somebody says a word."""
        return lambda: self.watch.hear(word)

    def run(self, *steps: Step) -> list[Line]:
        """Watch these steps; gives the lines of the record."""
        self.source._given = iter(steps)
        self.watch.run(self.stop)
        with RecordReader(self.path) as reader:
            lines = list(reader)
            assert (reader.tally.foreign_lines, reader.tally.torn) == (0, False)
        return lines


@pytest.fixture(autouse=True)
def quiet_log() -> None:
    """Keep log lines out of the way: they are tested elsewhere."""
    structlog.configure(logger_factory=structlog.ReturnLoggerFactory())


@pytest.fixture
def log_output() -> Iterator[list[MutableMapping[str, object]]]:
    """Give what is logged."""
    with structlog.testing.capture_logs() as lines:
        yield lines


def recorded_events(path: Path) -> list[bytes]:
    """Give the events of a record as bytes, without their numbers and whose numbers they are."""
    lines = [line for line in path.read_bytes().splitlines(keepends=True) if b'"kind":"event"' in line]
    return [re.sub(rb',"run":"[0-9a-f]+"}\n$', b"}\n", b"{" + line.partition(b",")[2]) for line in lines]


def replayed_events(path: Path) -> list[bytes]:
    """Give the events a replay of the record gives, as bytes."""
    with RecordReader(path) as reader:
        return [encode_line(event) for event in Replay(Monitor(parse_schedule(TABLE, "test"))).events(reader)]


# Order


def test_an_input_is_recorded_before_the_events_it_causes(tmp_path: Path) -> None:
    """A record reads as cause, then effect; it begins with the clock and ends with an end."""
    heat = Heat(tmp_path / "heat.jsonl")
    lines = heat.run(Reading(1.0, temp_c=20.0), Reading(2.0, temp_c=20.0), Reading(3.0, temp_c=20.0))
    assert lines[0] == ClockMark(0.0)
    assert isinstance(lines[1], Event)
    assert lines[1].event is EventName.HEAT_STARTED
    started = next(index for index, line in enumerate(lines) if isinstance(line, Event) and line.segment == "drying")
    assert isinstance(lines[started - 1], Reading)
    assert lines[-1] == End(3.0, "stopped")


def test_no_output_hears_of_an_event_before_it_is_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Read from the file by the output itself, and after a sync that came behind the last byte."""
    path = tmp_path / "heat.jsonl"
    synced: list[int] = []
    monkeypatch.setattr(record_writer.os, "fdatasync", lambda _: synced.append(path.stat().st_size))

    def check(event: Event) -> None:
        assert encode_line(event)[1:-2] in path.read_bytes()
        assert synced[-1] == path.stat().st_size

    ears = Ears(check)
    heat = Heat(path, ears)
    heat.run(*[Reading(float(time_s), temp_c=20.0) for time_s in range(1, 6)], heat.at(60.0), None, None)
    assert [event.event for event in ears.events] == [
        EventName.HEAT_STARTED,
        EventName.SEGMENT_STARTED,
        EventName.ALARM,
    ]


def test_every_output_hears_every_event_in_order(tmp_path: Path) -> None:
    """And the record has the same."""
    first, second = Ears(), Ears()
    heat = Heat(tmp_path / "heat.jsonl", first, second)
    lines = heat.run(*[Reading(float(time_s), temp_c=20.0) for time_s in range(1, 6)], heat.at(60.0), None)
    assert first.events == second.events == [line for line in lines if isinstance(line, Event)]


# Time


def test_a_reading_that_comes_late_is_preceded_by_how_far_the_clock_had_run(tmp_path: Path) -> None:
    """Else a replay could not know that the silence before it had been judged already."""
    heat = Heat(tmp_path / "heat.jsonl")
    lines = heat.run(Reading(1.0, temp_c=20.0), ClockMark(10.0), Reading(9.2, temp_c=20.0), Reading(9.6, temp_c=20.0))
    inputs = [line for line in lines if not isinstance(line, Event)]
    assert inputs == [
        ClockMark(0.0),
        Reading(1.0, temp_c=20.0),
        ClockMark(9.5),
        Reading(9.2, temp_c=20.0),
        Reading(9.6, temp_c=20.0),
        End(9.6, "stopped"),
    ]
    assert recorded_events(heat.path) == replayed_events(heat.path)


def test_silence_is_judged_half_a_second_late_and_dated_right(tmp_path: Path) -> None:
    """A reading on its way is still in time; the alarm stands on the grid regardless."""
    heat = Heat(tmp_path / "heat.jsonl")
    lines = heat.run(Reading(1.0, temp_c=20.0), ClockMark(11.4), ClockMark(11.5))
    alarms = [line for line in lines if isinstance(line, Event) and line.alarm]
    assert [(alarm.alarm, alarm.time_s) for alarm in alarms] == [("signal-lost", 11.0)]
    assert lines[-2] == alarms[0]


def test_silence_of_the_source_itself_lets_time_pass_too(tmp_path: Path) -> None:
    """A source that gives nothing at all is no reason to stand still."""
    heat = Heat(tmp_path / "heat.jsonl")
    lines = heat.run(Reading(1.0, temp_c=20.0), heat.at(30.0), None)
    assert [line.alarm for line in lines if isinstance(line, Event) and line.alarm] == ["signal-lost"]


def test_times_are_recorded_to_the_millisecond(tmp_path: Path) -> None:
    """The record is read by people too."""
    heat = Heat(tmp_path / "heat.jsonl")
    lines = heat.run(heat.at(1.23456789), heat.say(Command(0.0, CommandName.NOTE, text="x")), None)
    command = next(line for line in lines if isinstance(line, Command))
    assert command.time_s == 0.735


# Words


def test_a_word_from_another_thread_is_dated_recorded_and_obeyed(tmp_path: Path) -> None:
    """Its own time is not asked; who said it is kept."""
    heat = Heat(tmp_path / "heat.jsonl")

    def say_elsewhere() -> None:
        word = Command(-5.0, CommandName.NOTE, text="gas changed", by="terminal")
        speaker = threading.Thread(target=heat.watch.hear, args=(word,))
        speaker.start()
        speaker.join()

    lines = heat.run(Reading(20.0, temp_c=20.0), heat.at(25.0), say_elsewhere, ClockMark(25.0))
    said = next(index for index, line in enumerate(lines) if isinstance(line, Command))
    assert lines[said] == Command(24.5, CommandName.NOTE, text="gas changed", by="terminal")
    assert any(isinstance(line, Event) and line.text == "gas changed" for line in lines[said:])


def test_a_word_never_turns_the_clock_back(tmp_path: Path) -> None:
    """The newest reading may be younger than what the clock minus its lag says."""
    heat = Heat(tmp_path / "heat.jsonl")
    lines = heat.run(
        Reading(20.0, temp_c=20.0), heat.at(20.1), heat.say(Command(0.0, CommandName.NOTE, text="x")), ClockMark(20.1)
    )
    assert next(line for line in lines if isinstance(line, Command)).time_s == 20.0


def test_acknowledging_reaches_the_alarm_and_every_output(tmp_path: Path) -> None:
    """From unacknowledged to acknowledged, as events."""
    ears = Ears()
    heat = Heat(tmp_path / "heat.jsonl", ears)
    heat.run(
        Reading(1.0, temp_c=20.0), ClockMark(20.0), heat.say(Command(0.0, CommandName.ACKNOWLEDGE)), ClockMark(21.0)
    )
    states = [event.state for event in ears.events if event.alarm == "signal-lost"]
    assert states == ["unacknowledged", "acknowledged"]


# Ends


def test_a_stopped_watch_says_so_and_lets_go_of_its_source(tmp_path: Path) -> None:
    """The schedule was not done: stopped, not complete."""
    heat = Heat(tmp_path / "heat.jsonl")
    assert heat.run(Reading(1.0, temp_c=20.0))[-1] == End(1.0, "stopped")
    assert heat.source.stopped


def test_a_heat_that_was_ended_by_hand_is_complete(tmp_path: Path) -> None:
    """Somebody said that it is done."""
    heat = Heat(tmp_path / "heat.jsonl")
    lines = heat.run(Reading(1.0, temp_c=20.0), heat.say(Command(0.0, CommandName.END_HEAT)), ClockMark(5.0))
    assert isinstance(lines[-1], End)
    assert lines[-1].reason == "complete"


def test_a_source_that_cannot_start_leaves_a_closed_record(tmp_path: Path) -> None:
    """The error goes on to whoever started the watch; nothing is left open or running."""
    heat = Heat(tmp_path / "heat.jsonl")
    heat.source.start_error = PortError("no port")
    with pytest.raises(PortError):
        heat.run()
    with RecordReader(heat.path) as reader:
        assert list(reader)[-1] == End(0.0, "stopped")
    assert heat.source.stopped


def test_the_record_is_closed_before_the_port_is_let_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Closing a port that hangs takes seconds, and whoever stops the watch may not wait for them."""
    heat = Heat(tmp_path / "heat.jsonl")
    seen: list[bytes] = []
    monkeypatch.setattr(heat.source, "stop", lambda: seen.append(heat.path.read_bytes()))
    heat.run(Reading(1.0, temp_c=20.0))
    assert b'"kind":"end"' in seen[0]


def test_a_finished_source_is_read_to_its_end(tmp_path: Path) -> None:
    """Neither a pause nor a mark of earlier silence is its end: only silence until the time its clock stands at."""
    heat = Heat(tmp_path / "heat.jsonl")
    heat.clock.time_s = 50.0
    steps: list[Step] = [None, ClockMark(49.2), Reading(49.0, temp_c=20.0), None, Reading(49.5, temp_c=20.0)]
    heat.source._given = iter([*steps, ClockMark(50.0), Reading(99.0)])
    heat.watch.run(threading.Event(), finished=lambda: True)
    with RecordReader(heat.path) as reader:
        lines = list(reader)
    assert [line for line in lines if isinstance(line, Reading)] == [
        Reading(49.0, temp_c=20.0),
        Reading(49.5, temp_c=20.0),
    ]


def test_alarms_that_were_raised_are_counted_once_each(tmp_path: Path) -> None:
    """Not their acknowledgement, not their return."""
    heat = Heat(tmp_path / "heat.jsonl")
    heat.run(
        Reading(1.0, temp_c=20.0),
        ClockMark(20.0),
        *[Reading(20.0 + time_s, temp_c=20.0) for time_s in range(10)],
        ClockMark(60.0),
    )
    assert heat.watch.alarms_raised == 2


def test_outputs_are_shown_where_the_heat_stands(tmp_path: Path) -> None:
    """At the latest after the first input; what the pot is ready for at the end, and not before."""
    ears = Ears()
    heat = Heat(tmp_path / "heat.jsonl", ears)
    heat.run(Reading(1.0, temp_c=20.0))
    assert [(status.time_s, status.readiness is None) for status in ears.shown] == [(1.0, True), (1.0, False)]
    assert heat.watch.status().time_s == 1.0


# A disk that fails


def notices(lines: list[Line]) -> list[str]:
    """Give the names of the notices among these lines."""
    return [str(line.notice) for line in lines if isinstance(line, Notice)]


def alarm_states(events: list[Event]) -> list[str]:
    """Give what became of record-failing."""
    return [str(event.state) for event in events if event.alarm == "record-failing"]


@pytest.fixture
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the watch look around after every input instead of once a second."""
    monkeypatch.setattr("rampwarden.service._LOOK_EVERY_S", 0.0)


@pytest.mark.root
@pytest.mark.usefixtures("at_once")
def test_a_full_disk_is_an_alarm_the_watch_goes_on_and_nothing_is_lost(tmp_path: Path) -> None:
    """Raised while lines wait, returned once they are written; then the record replays to the same events."""
    if not may_mount():
        pytest.skip("mounting a small disk needs root")
    with small_disk(tmp_path / "disk") as disk:
        _watch_through_a_full_disk(disk)


def _watch_through_a_full_disk(disk: SmallDisk) -> None:
    ears = Ears()
    heat = Heat(disk.folder / "heat.jsonl", ears)
    readings = [Reading(float(time_s), temp_c=20.0) for time_s in range(1, 301)]
    settled = heat.writer.flush
    lines = heat.run(
        *readings[:50], disk.fill, *readings[50:250], settled, None, disk.free, *readings[250:], settled, None
    )
    assert [line for line in lines if isinstance(line, Reading)] == readings
    assert notices(lines) == ["record-failing", "record-written"]
    failing, written = (line for line in lines if isinstance(line, Notice))
    assert failing.text == f"{heat.path}: No space left on device"
    assert (written.text, written.count) == ("the record is written again; 0 lines lost", 0)
    assert alarm_states(ears.events) == ["unacknowledged", "returned-unacknowledged"]
    assert (heat.writer.lost_lines, heat.writer.trouble) == (0, "")
    assert recorded_events(heat.path) == replayed_events(heat.path) == [encode_line(event) for event in ears.events]


@pytest.mark.usefixtures("at_once")
def test_a_disk_that_takes_nothing_is_an_alarm_also_without_a_file_system_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same by failing calls, for machines where nobody may mount."""
    ears = Ears()
    heat = Heat(tmp_path / "heat.jsonl", ears)
    write = record_writer.os.write

    def refuse(descriptor: int, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    def fill() -> None:
        monkeypatch.setattr(record_writer.os, "write", refuse)

    def free() -> None:
        monkeypatch.setattr(record_writer.os, "write", write)

    readings = [Reading(float(time_s), temp_c=20.0) for time_s in range(1, 61)]
    settled = heat.writer.flush
    lines = heat.run(*readings[:20], fill, *readings[20:40], settled, None, free, *readings[40:], settled, None)
    assert [line for line in lines if isinstance(line, Reading)] == readings
    assert notices(lines) == ["record-failing", "record-written"]
    assert alarm_states(ears.events) == ["unacknowledged", "returned-unacknowledged"]
    assert recorded_events(heat.path) == replayed_events(heat.path)


@pytest.mark.usefixtures("at_once")
def test_a_sync_that_failed_once_is_told_even_if_the_next_one_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fails now and then is a disk to be looked at."""
    ears = Ears()
    heat = Heat(tmp_path / "heat.jsonl", ears)
    failures = [OSError(5, "Input/output error")]

    def fdatasync(_: int) -> None:
        if failures:
            raise failures.pop()

    def spoil() -> None:
        monkeypatch.setattr(record_writer.os, "fdatasync", fdatasync)

    note = heat.say(Command(0.0, CommandName.NOTE, text="x"))
    lines = heat.run(Reading(1.0, temp_c=20.0), spoil, note, None, heat.writer.flush, Reading(2.0, temp_c=20.0))
    assert notices(lines) == ["record-failing", "record-written"]
    assert alarm_states(ears.events) == ["unacknowledged", "returned-unacknowledged"]


# A disk that hangs


class Onlooker:
    """A follower that remembers what it was told to be on the disk."""

    def __init__(self) -> None:
        self.on_disk: list[int] = []

    def follow(self, item: Input, measurement: Measurement | None, edges: Edges) -> None:
        """Look on."""

    def note_on_disk(self, number: int) -> None:
        """Remember."""
        self.on_disk.append(number)


@pytest.fixture
def hanging(monkeypatch: pytest.MonkeyPatch) -> Iterator[HangingDisk]:
    """Give a disk that can be made to hang, and a watch with no patience for it."""
    monkeypatch.setattr("rampwarden.service._SYNC_PATIENCE_S", 0.0)
    disk = HangingDisk(monkeypatch)
    yield disk
    disk.go_on()


@pytest.mark.usefixtures("at_once")
def test_a_disk_that_hangs_holds_back_no_alarm_and_loses_no_line(tmp_path: Path, hanging: HangingDisk) -> None:
    """Every alarm is told as not yet on disk, and its own trouble is one; then all stands in the record, in order."""
    ears, onlooker = Ears(), Onlooker()
    heat = Heat(tmp_path / "heat.jsonl", ears)
    heat.watch._follower = onlooker
    readings = [Reading(float(time_s), temp_c=20.0) for time_s in range(1, 6)]
    told: list[Filed | None] = []

    def hang() -> None:
        heat.writer.flush()
        hanging.hang()

    def see_hanging() -> None:
        assert hanging.wait_hung(20.0)
        assert heat.writer._busy_since_s is not None
        heat.writer._busy_since_s -= record_writer._HANGING_S
        assert [event.alarm for event in ears.events if event.alarm] == ["signal-lost"]

    def go_on() -> None:
        assert alarm_states(ears.events) == ["unacknowledged"]
        told.extend(ears.filed)
        assert onlooker.on_disk == []
        hanging.go_on()
        heat.writer.flush()

    lines = heat.run(
        *readings, heat.writer.sync, hang, heat.at(60.0), None, see_hanging, None, None, go_on, None, heat.writer.flush
    )
    unfiled = [(event.alarm, filed.on_disk) for event, filed in zip(ears.events, told, strict=False) if filed][-2:]
    assert unfiled == [("signal-lost", False), ("record-failing", False)]
    assert notices(lines) == ["record-failing", "record-written"]
    assert alarm_states(ears.events) == ["unacknowledged", "returned-unacknowledged"]
    assert onlooker.on_disk
    assert [line for line in lines if isinstance(line, Reading)] == readings
    assert recorded_events(heat.path) == replayed_events(heat.path) == [encode_line(event) for event in ears.events]
    numbered = [json.loads(line) for line in heat.path.read_text().splitlines()]
    assert [line["seq"] for line in numbered] == list(range(len(numbered)))
    keys = [(line["seq"], line["run"]) for line in numbered if line["kind"] == "event"]
    assert keys == [(filed.number, filed.run) for filed in ears.filed if filed], "what it was told as is what it is"


def test_an_event_not_yet_on_disk_is_logged_as_such(
    tmp_path: Path, hanging: HangingDisk, log_output: list[MutableMapping[str, object]]
) -> None:
    """Whoever reads the log later should know that the record may lack it."""
    heat = Heat(tmp_path / "heat.jsonl")
    note = heat.say(Command(0.0, CommandName.NOTE, text="one"))
    other = heat.say(Command(0.0, CommandName.NOTE, text="two"))

    def patient() -> None:
        hanging.go_on()
        heat.writer.sync()
        heat.watch._patience = _Patient()  # type: ignore[assignment]

    heat.run(Reading(1.0, temp_c=20.0), hanging.hang, note, None, patient, other, None)
    said = [str(line["event"]) for line in log_output if line.get("kind") == "note"]
    assert said == ["note · one · not yet on disk", "note · two"]


class _Patient(contextlib.AbstractContextManager[float]):
    def __enter__(self) -> float:
        return 30.0

    def __exit__(self, kind: type[BaseException] | None, error: object, trace: object) -> None:
        """Have waited."""


def test_what_was_waited_for_the_disk_comes_back_within_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that answers just before patience runs out must not hold back more with every event."""
    now = [100.0]
    monkeypatch.setattr("rampwarden.service.time.monotonic", lambda: now[0])
    patience = service._Patience()

    def wait(takes_s: float) -> float:
        with patience as most_s:
            now[0] += min(takes_s, max(0.0, most_s))
        return round(most_s, 6)

    assert [wait(0.29) for _ in range(4)] == [0.3, 0.097, 0.0291, 0.00873]
    now[0] += 0.5
    assert wait(0.0) == pytest.approx(0.15, abs=0.01)
    now[0] += 0.5
    assert wait(0.0) == pytest.approx(0.3, abs=0.01)
    now[0] += 3600.0
    assert wait(0.0) == 0.3


@pytest.mark.usefixtures("at_once")
def test_a_record_that_was_deleted_is_an_alarm_although_it_is_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody has laid hands on it: that has to be known, and nothing has to be done any more."""
    monkeypatch.setattr(record_writer, "_LOOK_EVERY_S", 0.0)
    ears = Ears()
    heat = Heat(tmp_path / "heat.jsonl", ears)
    readings = [Reading(float(time_s), temp_c=20.0) for time_s in range(1, 6)]
    lines = heat.run(*readings[:3], heat.path.unlink, heat.writer.flush, *readings[3:])
    assert notices(lines) == ["record-failing", "record-written"]
    assert alarm_states(ears.events) == ["unacknowledged", "returned-unacknowledged"]
    assert [line for line in lines if isinstance(line, Reading)] == readings
    failing = next(line for line in lines if isinstance(line, Notice))
    assert failing.text == f"{heat.path} was deleted while it was being written; it was put back whole"
    assert recorded_events(heat.path) == replayed_events(heat.path)


# Live equals replay


def random_steps(heat: Heat, dice: random.Random) -> list[Step]:
    """Make up a heat: jitter, late readings, faults, silence, notices, words, restarts, all in any order."""
    steps: list[Step] = []
    time_s, temp_c = 0.0, 20.0
    for _ in range(400):
        pause_s = dice.choice([0.1, 1.0, 1.0, 1.0, 1.0, 2.5, 15.0])
        time_s = round(time_s + pause_s, 3)
        temp_c += dice.uniform(-1.0, 4.0) * min(pause_s, 2.0)
        steps.append(heat.at(time_s + dice.choice([0.0, 0.0, 0.3, 4.0])))
        late_s = dice.choice([0.0, 0.0, 0.0, 0.2, 3.0])
        kind = dice.random()
        if kind < 0.75:
            faults = (dice.choice(list(Fault)),) if dice.random() < 0.1 else ()
            steps.append(Reading(max(0.0, round(time_s - late_s, 3)), temp_c=round(temp_c, 2), faults=faults))
        elif kind < 0.8:
            steps.append(None)
        elif kind < 0.9:
            steps.append(ClockMark(time_s))
        elif kind < 0.95:
            steps.append(Notice(max(0.0, round(time_s - late_s, 3)), dice.choice(list(NoticeName)), 1, "news"))
        else:
            name = dice.choice(list(CommandName))
            alarm = dice.choice(["", "signal-lost", "ramp-high", "nonsense"])
            word = Command(0.0, name, alarm=alarm, minutes=dice.choice([0.0, 1.0]), text="word")
            if name is not CommandName.END_HEAT or dice.random() < 0.1:
                steps.append(heat.say(word))
    return steps


@pytest.mark.parametrize("seed", range(25))
def test_whatever_comes_a_replay_gives_the_same_events_to_the_byte(seed: int, tmp_path: Path) -> None:
    """Late, silent, faulty, restarted, commanded: the record tells the whole story."""
    heat = Heat(tmp_path / "heat.jsonl")
    heat.run(*random_steps(heat, random.Random(seed)))
    live = recorded_events(heat.path)
    assert len(live) > 5
    assert live == replayed_events(heat.path)


def test_sequence_numbers_have_no_gap_whatever_came(tmp_path: Path) -> None:
    """Other outputs point at them."""
    heat = Heat(tmp_path / "heat.jsonl")
    heat.run(*random_steps(heat, random.Random(99)))
    numbers = [json.loads(line)["seq"] for line in heat.path.read_text().splitlines()]
    assert numbers == list(range(len(numbers)))
    assert msgspec.json.decode(heat.path.read_bytes().splitlines()[0])["kind"] == "header"
