"""An unfinished heat is taken up again at its place, and says honestly how long nobody watched."""

import os
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from rampwarden.clock import Moment
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import ClockMark, Command, CommandName, Event, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.errors import RecordError
from rampwarden.picture.keeper import PictureKeeper, about_heat
from rampwarden.picture.picture import Mode
from rampwarden.records.record_lines import FORMAT, End, Header, numbered
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.recovery import find_unfinished, take_up
from rampwarden.records.recovery.continuation import begin_anew
from rampwarden.records.replay import Replay

STARTED = datetime(2026, 1, 10, 9, 0, tzinfo=UTC)
BOOT = "6d1c8a52-0000-4000-8000-000000000001"
TABLE: dict[str, object] = {
    "title": "test heat",
    "segment": [
        {"name": "up", "kind": "ramp", "to": "100 C", "max_rate": "25 C / 15 min"},
        {"name": "soak", "kind": "soak", "at": "100 C", "band": ["-10 C", "+10 C"], "hold": "10 min"},
        {"name": "down", "kind": "cool", "to": "40 C"},
    ],
}
A_DAY_S = 86_400.0


def header(port: str = "/dev/board") -> Header:
    return Header(
        format=FORMAT,
        started=STARTED.isoformat(),
        schedule=TABLE,
        board={"port": port},
        boot=BOOT,
        zero_s=5000.0,
    )


def soaking(time_s: int) -> Reading:
    """A heat found at soaking temperature."""
    return Reading(float(time_s), temp_c=100.0 + 0.2 * (time_s % 3))


def write_heat(path: Path, until_s: int, make: Callable[[int], Reading] = soaking) -> Monitor:
    """Watch into `path` as the service does and break off without an end; gives the monitor as it stood."""
    monitor = Monitor(parse_schedule(TABLE, "test"))
    writer = RecordWriter.create(path, header())
    items: list[ClockMark | Reading] = [ClockMark(0.0), *(make(second) for second in range(1, until_s + 1))]
    for item in items:
        writer.write(item)
        writer.write_events(monitor.feed(item))
    writer.flush()
    writer.close()  # as a killed process leaves it: no end, no lock
    return monitor


def at(host_s: float, boot: str = BOOT, wall: datetime = STARTED) -> Callable[[], Moment]:
    return lambda: Moment(boot, host_s, wall)


def found(folder: Path, port: str, within_s: float, now: Moment) -> Path | None:
    unfinished = find_unfinished([folder], port, within_s, now).found
    return None if unfinished is None else unfinished.path


def at_wall(wall: datetime) -> Moment:
    return Moment("another", 0.0, wall)


def test_a_killed_watch_comes_back_at_its_place_with_its_soak_clock(tmp_path: Path) -> None:
    """Same machine start: the host's own clock tells to the millisecond how long it was blind."""
    before = write_heat(tmp_path / "heat.jsonl", 300)
    taken = take_up(tmp_path / "heat.jsonl", at(5000.0 + 420.0))
    assert taken.monitor.status() == before.status()
    assert taken.now_s == 420.0
    assert taken.blind_s == 120.0
    assert "blind for 2 min" in taken.sentence


def test_the_blind_time_is_signal_lost_and_is_not_soaked(tmp_path: Path) -> None:
    """Ten seconds after the last reading the alarm begins; the soak clock stands still until readings come again."""
    path = tmp_path / "heat.jsonl"
    soaked_s = write_heat(path, 300).status().soaked_s
    taken = take_up(path, at(5000.0 + 420.0))
    told = taken.monitor.feed(ClockMark(taken.now_s))
    told += taken.monitor.feed(Notice(taken.now_s, NoticeName.WATCH_RESUMED, text=taken.sentence))
    assert [(event.alarm, event.time_s) for event in told] == [("signal-lost", 310.0)]
    back: list[Event] = []
    for second in range(421, 431):
        back += taken.monitor.feed(soaking(second))
    assert [event.text for event in back] == [
        "signal-lost · back to normal after 1 min 56 s, not yet acknowledged · soak"
    ]
    assert taken.monitor.status().soaked_s == pytest.approx(soaked_s + 9.0)


def test_no_ramp_is_computed_across_the_blind_time(tmp_path: Path) -> None:
    """Ten degrees up while blind are no ramp of the first readings after."""
    path = tmp_path / "heat.jsonl"
    write_heat(path, 300)
    taken = take_up(path, at(5000.0 + 360.0))
    monitor = taken.monitor
    assert monitor.status().ramp is not None
    monitor.feed(Notice(taken.now_s, NoticeName.WATCH_RESUMED))
    assert monitor.status().ramp is None, "the ramp of before the blind time is none of the present"
    for second in range(361, 431):
        monitor.feed(Reading(float(second), temp_c=108.0))
    ramp = monitor.status().ramp
    assert ramp is not None
    assert abs(ramp.c_per_s) < 1e-6


def test_after_a_power_cut_the_wall_clock_tells(tmp_path: Path) -> None:
    """Another start of the machine: its own clock says nothing about the heat."""
    write_heat(tmp_path / "heat.jsonl", 300)
    taken = take_up(tmp_path / "heat.jsonl", at(12.0, boot="another", wall=STARTED + timedelta(minutes=8)))
    assert taken.now_s == 480.0
    assert taken.blind_s == 180.0


def test_a_clock_that_was_never_set_is_not_believed(tmp_path: Path) -> None:
    """A board without a clock battery wakes in the past: nobody watched for at least as long as it has been awake."""
    write_heat(tmp_path / "heat.jsonl", 300)
    taken = take_up(tmp_path / "heat.jsonl", at(12.0, boot="another", wall=STARTED - timedelta(days=400)))
    assert taken.now_s == 312.0
    assert taken.blind_s is None
    assert "blind for at least 12 s; how much longer no clock here can tell" in taken.sentence


def test_unacknowledged_alarms_ring_again(tmp_path: Path) -> None:
    """Whoever did not hear the first watch must hear the second."""
    path = tmp_path / "heat.jsonl"
    write_heat(path, 600, lambda second: Reading(float(second), temp_c=20.0 + second * 0.1))
    taken = take_up(path, at(5000.0 + 601.0))
    assert "ramp-high" in [event.alarm for event in taken.unacknowledged]


def test_the_watch_goes_on_in_the_same_record(tmp_path: Path) -> None:
    """Sequence numbers go on, a torn last line stays a torn line, and the whole record replays to what was told."""
    path = tmp_path / "heat.jsonl"
    write_heat(path, 300)
    with path.open("ab") as file:
        file.write(b'{"seq":999,"kind":"reading","time_s":301.0,"te')
    taken = take_up(path, at(5000.0 + 420.0))
    assert taken.torn
    writer = RecordWriter.resume(path, taken.next_seq)
    told: list[Event] = []
    for item in (ClockMark(taken.now_s), Notice(taken.now_s, NoticeName.WATCH_RESUMED), soaking(421), soaking(422)):
        writer.write(item)
        events = taken.monitor.feed(item)
        writer.write_events(events)
        told += events
    writer.write(End(422.0, "stopped"))
    writer.close()
    reader = RecordReader(path)
    lines = list(reader)
    assert reader.tally.foreign_lines == 1
    assert not reader.tally.torn
    recorded = [line for line in lines if isinstance(line, Event)]
    assert list(Replay(Monitor(parse_schedule(TABLE, "test"))).events(lines)) == recorded
    assert recorded[-len(told) :] == told
    numbers = [int(line.split(b",")[0][7:]) for line in path.read_bytes().splitlines() if line.endswith(b"}")]
    assert numbers == list(range(len(numbers)))


def test_an_event_that_was_cut_off_from_its_reading_is_still_to_be_told(tmp_path: Path) -> None:
    """A cut between a reading and the alarm it made: the alarm stands, so it must come into the record after all."""
    path = tmp_path / "heat.jsonl"
    write_heat(path, 600, lambda second: Reading(float(second), temp_c=20.0 + second * 0.1))
    whole = path.read_bytes()
    assert take_up(path, at(5000.0 + 601.0)).untold == ()
    start = whole.index(b'"alarm":"ramp-high"')
    start = whole.rindex(b"\n", 0, start) + 1
    for cut in (start, start + 30):
        path.write_bytes(whole[:cut])
        taken = take_up(path, at(5000.0 + 601.0))
        assert [(event.alarm, event.state) for event in taken.untold] == [("ramp-high", "unacknowledged")]


@pytest.mark.parametrize("cut", range(1, 4096, 61))
def test_a_record_cut_off_anywhere_in_its_last_lines_is_taken_up(tmp_path: Path, cut: int) -> None:
    """A power cut may end the file at any byte."""
    path = tmp_path / "heat.jsonl"
    write_heat(path, 300)
    os.truncate(path, path.stat().st_size - cut)
    taken = take_up(path, at(5000.0 + 420.0))
    assert taken.now_s == 420.0
    assert 225.0 < (taken.monitor.time_s or 0.0) <= 300.0


def test_only_the_newest_record_of_the_port_counts(tmp_path: Path) -> None:
    """Closed heats, other ports, old heats and other files are left alone."""
    now = datetime.now(UTC)
    assert found(tmp_path, "/dev/board", A_DAY_S, at_wall(now)) is None
    (tmp_path / "notes.jsonl").write_text("no record\n")
    write_heat(tmp_path / "a.jsonl", 5)
    assert found(tmp_path, "/dev/board", A_DAY_S, at_wall(now)) == tmp_path / "a.jsonl"
    assert found(tmp_path, "/dev/other", A_DAY_S, at_wall(now)) is None
    assert found(tmp_path, "/dev/board", A_DAY_S, at_wall(now + timedelta(days=2))) is None
    closed = RecordWriter.create(tmp_path / "b.jsonl", header())
    closed.write(ClockMark(0.0))
    closed.write(Command(1.0, CommandName.NOTE, text='a note that says "kind":"end"'))
    closed.sync()
    os.utime(tmp_path / "a.jsonl", (0.0, 0.0))
    assert found(tmp_path, "/dev/board", A_DAY_S, at_wall(now)) == tmp_path / "b.jsonl"
    closed.write(End(2.0))
    closed.close()
    assert found(tmp_path, "/dev/board", A_DAY_S, at_wall(now)) is None


@pytest.mark.parametrize("is_whole", [True, False])
def test_a_record_that_another_goes_on_with_is_not_taken_up_whoever_wrote_in_it_since(
    tmp_path: Path, is_whole: bool
) -> None:
    """A bit that flips in the old one makes it the newest file; the heat is in the other, which names it."""
    home, elsewhere = tmp_path / "heats", tmp_path / "provisional"
    home.mkdir()
    write_heat(home / "heat.jsonl", 300)
    with RecordReader(home / "heat.jsonl") as reader:
        old, lines = replace(reader.header, id="old"), list(reader)
    (home / "heat.jsonl").write_bytes(b"".join(numbered(old, lines)))
    path, _ = begin_anew(home / "heat.jsonl", old, lines, len(lines), elsewhere)
    content = (home / "heat.jsonl").read_bytes()
    (home / "heat.jsonl").write_bytes(content if is_whole else content.replace(b'"id":"old"', b'"id":"ol\x02', 1))
    os.utime(path, (time.time() - 60.0, time.time() - 60.0))
    search = find_unfinished([home, elsewhere], "/dev/board", A_DAY_S, at_wall(datetime.now(UTC)))
    assert search.found is not None
    assert search.found.path == path
    path.unlink()
    search = find_unfinished([home, elsewhere], "/dev/board", A_DAY_S, at_wall(datetime.now(UTC)))
    assert search.found is not None
    assert search.found.path == home / "heat.jsonl"


def test_within_one_start_of_the_machine_the_wall_clock_makes_no_record_old(tmp_path: Path) -> None:
    """A network that sets the clock by days while the watch is down must not cost the heat; real hours still count."""
    write_heat(tmp_path / "heat.jsonl", 300)
    wall = datetime.now(UTC) + timedelta(days=2)
    assert found(tmp_path, "/dev/board", A_DAY_S, Moment(BOOT, 5000.0 + 420.0, wall)) == tmp_path / "heat.jsonl"
    assert found(tmp_path, "/dev/board", A_DAY_S, Moment(BOOT, 5000.0 + 301.0 + A_DAY_S, wall)) is None
    assert found(tmp_path, "/dev/board", 0.0, Moment(BOOT, 5000.0 + 299.0, wall)) is None


def test_a_record_another_watch_writes_is_refused_by_name_of_its_process(tmp_path: Path) -> None:
    """Two writers in one file would spoil it."""
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, header())
    with pytest.raises(RecordError, match=f"is being written by process {os.getpid()} "):
        RecordWriter.resume(path, 1)
    writer.close()
    RecordWriter.resume(path, 1).close()


def test_an_empty_heat_is_not_taken_up(tmp_path: Path) -> None:
    """A header alone is no heat."""
    RecordWriter.create(tmp_path / "heat.jsonl", header()).close()
    with pytest.raises(RecordError, match="nothing can be read of what was watched in it"):
        take_up(tmp_path / "heat.jsonl", at(5000.0))


def test_a_display_sees_all_that_was_before_the_blind_time(tmp_path: Path) -> None:
    """Course, segment and what happened: whoever comes back to the furnace finds the heat, not an empty strip."""
    write_heat(tmp_path / "heat.jsonl", 300)
    schedule = parse_schedule(TABLE, "test")
    keeper = PictureKeeper(schedule, about_heat(schedule, Mode.LIVE, header().started))
    taken = take_up(tmp_path / "heat.jsonl", at(5000.0 + 420.0), keeper)
    keeper.show(taken.monitor.status())
    picture = keeper.picture()
    assert picture.course[0].time_s < 10.0
    assert picture.course[-1].time_s == 300.0
    assert picture.high_c == 110.0
    assert picture.present is not None
    assert picture.present.name == "soak"
    assert "soak" in [each.text.partition(" · ")[0] for each in picture.happenings]


def test_a_heat_begun_by_another_version_is_taken_up_with_what_is_known_of_it(tmp_path: Path) -> None:
    """An alarm nobody here knows costs nothing but itself, and who began the heat is said."""
    path = tmp_path / "heat.jsonl"
    write_heat(path, 300)
    first, rest = path.read_bytes().split(b"\n", 1)
    assert first.endswith(b"}")
    extra = b',"software":"rampwarden 0.0.1","parameters":{"alarms":{"gas-low":{"priority":"urgent"}}}}\n'
    path.write_bytes(first[:-1] + extra + rest)
    taken = take_up(path, at(5000.0 + 420.0))
    assert taken.now_s == 420.0
    unknown, begun = taken.remarks
    assert unknown == "1 of its settings is unknown to this version and was left out: alarms.gas-low"
    assert begun.startswith("begun by rampwarden 0.0.1, from here on judged by rampwarden ")


def test_a_heat_begun_by_this_version_leaves_nothing_to_remark(tmp_path: Path) -> None:
    """Nor does one of a record that names no version."""
    write_heat(tmp_path / "heat.jsonl", 300)
    assert take_up(tmp_path / "heat.jsonl", at(5000.0 + 420.0)).remarks == ()
