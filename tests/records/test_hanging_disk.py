"""The heat record while its disk hangs: nobody waits longer than they like, and afterwards nothing is missing."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from hanging_disk import HangingDisk
from rampwarden.core.model import Event, EventName, Reading
from rampwarden.filed import Filed
from rampwarden.records import record_writer
from rampwarden.records.record_lines import FORMAT, End, Header
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from running_watch import PATIENCE_S, wait_for

HEADER = Header(format=FORMAT, started="2026-01-01T09:00:00Z", id="0123")
READINGS = [Reading(float(time_s), emf_uv=1000.5, junction_c=25.25) for time_s in range(100)]


def note(time_s: float) -> Event:
    """Give an event of this time."""
    return Event(time_s=time_s, event=EventName.NOTE, text="x")


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Iterator[HangingDisk]:
    """Give a disk that can be made to hang."""
    disk = HangingDisk(monkeypatch)
    yield disk
    disk.go_on()


@pytest.fixture
def writer(tmp_path: Path, disk: HangingDisk) -> Iterator[RecordWriter]:
    """Give a record on that disk, whose first event hangs."""
    writer = RecordWriter.create(tmp_path / "heat.jsonl", HEADER)
    disk.hang()
    assert writer.write_events([note(0.0)], 0.0) == [Filed(1, writer.run, on_disk=False)]
    assert disk.wait_hung(PATIENCE_S)
    yield writer
    disk.go_on()
    writer.close()


def test_what_comes_meanwhile_is_taken_and_stands_in_order_afterwards(writer: RecordWriter, disk: HangingDisk) -> None:
    """A minute of readings and alarms: none waits, none is lost, and their numbers are those they were told under."""
    told = []
    for reading in READINGS:
        writer.write(reading)
        told += writer.write_events([note(reading.time_s)], 0.0)
    assert not any(filed.on_disk for filed in told)
    assert writer.synced == 0
    disk.go_on()
    writer.flush()
    assert writer.synced == told[-1].number
    assert writer.write_events([note(100.0)])[0].on_disk
    assert (writer.trouble, writer.lost_lines) == ("", 0)
    writer.close()
    lines = [json.loads(line) for line in writer.path.read_bytes().splitlines()]
    assert [line["seq"] for line in lines] == list(range(203))
    events = [line for line in lines if line["kind"] == "event"][1:-1]
    assert [(line["seq"], line["time_s"], line["run"]) for line in events] == [
        (filed.number, reading.time_s, writer.run) for filed, reading in zip(told, READINGS, strict=True)
    ]


def test_a_disk_that_has_been_silent_for_long_is_not_waited_for_again(writer: RecordWriter) -> None:
    """Or each alarm of a hang would wait its whole patience; with an hour of it this test would not end."""
    assert writer._busy_since_s is not None
    writer._busy_since_s -= 7200.0
    assert writer.write_events([note(1.0)], 3600.0) == [Filed(2, writer.run, on_disk=False)]


def test_a_disk_that_has_been_silent_for_some_seconds_is_trouble_until_it_answers(
    writer: RecordWriter, disk: HangingDisk
) -> None:
    """Told by the clock alone: nothing comes back that could tell it."""
    assert writer._busy_since_s is not None
    assert writer.trouble == ""
    writer._busy_since_s -= record_writer._HANGING_S
    assert writer.trouble == f"{writer.path}: the disk does not answer"
    assert not writer.is_answering(0.3)
    disk.go_on()
    writer.flush()
    assert writer.trouble == ""
    assert writer.is_answering(0.3)


def test_a_sync_that_comes_back_in_time_is_on_the_disk(writer: RecordWriter, disk: HangingDisk) -> None:
    """Whoever has the patience is told the truth."""
    disk.go_on()
    assert writer.write_events([note(1.0), note(2.0)]) == [Filed(2, writer.run), Filed(3, writer.run)]


def test_an_end_on_a_hanging_disk_is_bounded_and_counts_what_is_lost(writer: RecordWriter) -> None:
    """Whoever stops the watch is told how much of its record is not in the file."""
    for reading in READINGS:
        writer.write(reading)
    writer.write(End(100.0))
    writer._busy_since_s = 0.0
    writer.close(0.01)
    assert writer.lost_lines == 101
    assert writer.trouble == f"{writer.path}: the disk does not answer"
    assert list(RecordReader(writer.path)) == [note(0.0)]


def test_a_full_queue_on_a_hanging_disk_lets_readings_go_and_nothing_else(
    writer: RecordWriter, disk: HangingDisk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bounded even then; the oldest readings go, and are counted."""
    monkeypatch.setattr(record_writer, "_MOST_WAITING", 20)
    writer._busy_since_s = 0.0
    for reading in READINGS:
        writer.write(reading)
        if reading.time_s % 10 == 0:
            writer.write_events([note(reading.time_s)], 0.0)
    disk.go_on()
    writer.close()
    lines = list(RecordReader(writer.path))
    assert [line for line in lines if isinstance(line, Event)] == [note(0.0), *(note(10.0 * n) for n in range(10))]
    kept = [line for line in lines if isinstance(line, Reading)]
    assert kept == READINGS[-len(kept) :]
    assert len(kept) + writer.lost_lines == 100


def test_each_run_has_an_id_of_its_own(tmp_path: Path) -> None:
    """So two runs that counted from the same number, because the power took lines, never share a key."""
    path = tmp_path / "heat.jsonl"
    runs = set()
    for number in range(5):
        writer = RecordWriter.create(path, HEADER) if not number else RecordWriter.resume(path, 1)
        runs.add(writer.run)
        writer.close()
    assert len(runs) == 5


def test_a_start_on_a_hanging_disk_gives_a_watch_all_the_same(
    tmp_path: Path, disk: HangingDisk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The header follows when the disk answers."""
    monkeypatch.setattr(record_writer, "_BEGIN_S", 0.0)
    disk.hang()
    writer = RecordWriter.create(tmp_path / "heat.jsonl", HEADER)
    writer.write(READINGS[0])
    assert writer.synced == -1
    disk.go_on()
    writer.close()
    assert list(RecordReader(writer.path)) == READINGS[:1]


def test_a_fault_of_ours_in_the_thread_is_trouble_and_not_its_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without its thread a record would stand still, and nobody would know."""
    writer = RecordWriter.create(tmp_path / "heat.jsonl", HEADER)
    append = writer._file.append

    def stumble(block: bytes) -> int:
        raise ValueError("a fault of ours")

    monkeypatch.setattr(writer._file, "append", stumble)
    writer.write_events([note(1.0)])
    assert writer.trouble == f"{writer.path}: fault in its writer: ValueError('a fault of ours')"
    monkeypatch.setattr(writer._file, "append", append)
    wait_for(lambda: not writer.trouble, "the record written again")
    writer.close()
    assert list(RecordReader(writer.path)) == [note(1.0)]
