"""The heat record while there is no room for it: nothing raises, nothing is lost, and what is too much is counted."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from rampwarden.core.model import (
    ClockMark,
    Command,
    CommandName,
    Event,
    EventName,
    Notice,
    NoticeName,
    Reading,
)
from rampwarden.records import record_writer
from rampwarden.records.record_lines import FORMAT, End, Header, Line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from small_disk import SmallDisk, may_mount, small_disk

HEADER = Header(format=FORMAT, started="2026-01-01T09:00:00Z")


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    """Give a disk of 64 kB."""
    if not may_mount():
        pytest.skip("mounting a small disk needs root")
    with small_disk(tmp_path / "disk") as mounted:
        yield mounted


def note(time_s: float) -> Event:
    """Give an event of this time."""
    return Event(time_s=time_s, event=EventName.NOTE, text="x" * 80)


def readings(first: int, count: int) -> list[Line]:
    """Give so many readings, a second apart."""
    return [Reading(float(time_s), emf_uv=1000.5, junction_c=25.25) for time_s in range(first, first + count)]


def put(writer: RecordWriter, lines: list[Line]) -> None:
    """Write lines as the watch does."""
    for line in lines:
        if isinstance(line, Event):
            writer.write_events([line])
        elif not isinstance(line, Header):
            writer.write(line)


def seqs(path: Path) -> list[int]:
    """Give the sequence numbers in the file; a line that is no JSON fails here."""
    return [json.loads(line)["seq"] for line in path.read_text().splitlines()]


class FailingDisk:
    """Stands in for the system's calls on the record: takes so many bytes more, then fails with `error`."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.room: int | None = None
        self.sync_fails = False
        self._write, self._fdatasync = os.write, os.fdatasync
        monkeypatch.setattr(record_writer.os, "write", self.write)
        monkeypatch.setattr(record_writer.os, "fdatasync", self.fdatasync)

    def write(self, descriptor: int, data: bytes) -> int:
        if self.room is None:
            return self._write(descriptor, data)
        if not self.room:
            raise OSError(28, "No space left on device")
        written = self._write(descriptor, data[: self.room])
        self.room -= written
        return written

    def fdatasync(self, descriptor: int) -> None:
        if self.sync_fails:
            raise OSError(5, "Input/output error")
        self._fdatasync(descriptor)


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> FailingDisk:
    """Give a disk that fails on request, without root."""
    return FailingDisk(monkeypatch)


# A disk that is really full


@pytest.mark.root
def test_a_full_disk_is_told_and_once_there_is_room_nothing_was_lost(disk: SmallDisk) -> None:
    """Lines wait in memory, `trouble` says why; then all of them stand in the file, in order."""
    path = disk.folder / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    put(writer, readings(0, 20))
    writer.flush()
    assert writer.trouble == ""
    disk.fill()
    put(writer, [*readings(20, 200), note(220.0), *readings(221, 50), note(271.0)])
    assert writer.trouble == f"{path}: No space left on device"
    stuck = path.read_bytes()
    assert len(stuck) < 20_000
    disk.free()
    writer.flush()
    assert writer.trouble == ""
    assert path.read_bytes().startswith(stuck), "what was written stays; the rest comes behind it"
    writer.close()
    assert writer.lost_lines == 0
    assert seqs(path) == list(range(1 + 20 + 200 + 1 + 50 + 1))


@pytest.mark.root
def test_a_line_that_was_half_written_when_the_disk_filled_is_completed(disk: SmallDisk) -> None:
    """Its second half comes first, before any other byte."""
    path = disk.folder / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    disk.fill()
    put(writer, [note(float(time_s)) for time_s in range(60)])
    half = path.read_bytes()
    assert not half.endswith(b"\n"), "the last page of the file ends in the middle of a line"
    put(writer, readings(60, 30))
    disk.free()
    writer.close()
    assert path.read_bytes().startswith(half)
    assert seqs(path) == list(range(1 + 60 + 30))


@pytest.mark.root
def test_a_heat_that_begins_on_a_full_disk_gets_its_header_later(disk: SmallDisk) -> None:
    """The watch starts all the same; its record is whole once there is room."""
    path = disk.folder / "heat.jsonl"
    disk.fill()
    writer = RecordWriter.create(path, HEADER)
    assert writer.trouble
    put(writer, [note(1.0), *readings(2, 10)])
    disk.free()
    writer.close()
    assert list(RecordReader(path)) == [note(1.0), *readings(2, 10)]


@pytest.mark.root
def test_what_still_does_not_fit_at_the_end_is_counted(disk: SmallDisk) -> None:
    """The file is left readable up to its torn line, and the count says what it lacks."""
    path = disk.folder / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    disk.fill()
    put(writer, [*readings(0, 500), End(500.0)])
    writer.close()
    reader = RecordReader(path)
    assert len(list(reader)) + writer.lost_lines == 501
    assert writer.trouble == f"{path}: No space left on device"


# The same without root


FILE_SIZE_LIMIT = """
import json, resource, signal, sys
from pathlib import Path
from rampwarden.core.model import Event, EventName, Reading
from rampwarden.records.record_lines import FORMAT, Header
from rampwarden.records.record_writer import RecordWriter

signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
path = Path(sys.argv[1])
writer = RecordWriter.create(path, Header(format=FORMAT, started="2026-01-01T09:00:00Z"))
hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
for time_s in range(40):
    writer.write(Reading(float(time_s), emf_uv=1000.5, junction_c=25.25))
writer.write_events([Event(time_s=40.0, event=EventName.NOTE, text="full")])
trouble, size = writer.trouble, path.stat().st_size
half = not path.read_bytes().endswith(b"\\n")
resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
writer.flush()
after = writer.trouble
writer.close()
print(json.dumps([trouble, size, half, after, writer.lost_lines]))
"""


def test_a_limit_on_the_size_of_files_is_met_like_a_full_disk(tmp_path: Path) -> None:
    """The system writes what fits, in the middle of a line; the rest follows when the limit is lifted."""
    path = tmp_path / "heat.jsonl"
    done = subprocess.run(
        [sys.executable, "-c", FILE_SIZE_LIMIT, str(path)], check=True, capture_output=True, text=True
    )
    assert json.loads(done.stdout) == [f"{path}: File too large", 1000, True, "", 0]
    assert seqs(path) == list(range(42))


@pytest.mark.parametrize("room", range(0, 420, 7))
def test_wherever_the_disk_fills_up_nothing_is_lost(room: int, failing: FailingDisk, tmp_path: Path) -> None:
    """Between lines, within one, at its last byte; filled and freed again and again."""
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    lines = [*readings(0, 2), note(2.0), *readings(3, 2), note(5.0)]
    failing.room = room
    for line in lines:
        put(writer, [line])
        writer.flush()
        failing.room = (failing.room or 0) + 13
    failing.room = None
    writer.close()
    assert (writer.trouble, writer.lost_lines) == ("", 0)
    assert list(RecordReader(path)) == lines
    assert seqs(path) == list(range(1 + len(lines)))


def test_too_many_lines_drop_readings_and_keep_all_that_is_rare(
    failing: FailingDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The oldest readings and clock marks go, as many as counted; events, commands, notices and the end stay."""
    monkeypatch.setattr(record_writer, "_MOST_WAITING", 50)
    path = tmp_path / "heat.jsonl"
    failing.room = 0
    writer = RecordWriter.create(path, HEADER)
    rare: list[Line] = []
    last: list[Line] = []
    for time_s in range(0, 400, 10):
        word = Command(float(time_s), CommandName.NOTE, text='"kind":"reading"')
        news = Notice(time_s + 1.0, NoticeName.GARBLED, count=1)
        last = [ClockMark(time_s + 3.0), *readings(time_s + 4, 6)]
        put(writer, [word, news, note(time_s + 2.0), *last])
        rare += [word, news, note(time_s + 2.0)]
    put(writer, [End(400.0)])
    failing.room = None
    writer.close()
    lines = list(RecordReader(path))
    kept = [line for line in lines if isinstance(line, Reading | ClockMark)]
    assert [line for line in lines if line not in kept] == [*rare, End(400.0)]
    assert len(kept) + writer.lost_lines == 40 * 7
    assert kept == last[len(last) - len(kept) :], "the newest stay"
    numbers = seqs(path)
    assert numbers == sorted(set(numbers))
    assert numbers[-1] + 1 - len(numbers) == writer.lost_lines, "a gap in the numbers shows each lost line"


def test_the_backlog_holds_readings_up_to_its_bound_and_not_more(
    failing: FailingDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With room for fifty lines the fifty newest are kept, the header among them."""
    monkeypatch.setattr(record_writer, "_MOST_WAITING", 50)
    path = tmp_path / "heat.jsonl"
    failing.room = 0
    writer = RecordWriter.create(path, HEADER)
    put(writer, readings(0, 1000))
    assert writer.lost_lines == 951
    failing.room = None
    writer.close()
    assert list(RecordReader(path)) == readings(951, 49)


def test_a_half_written_reading_is_never_dropped(
    failing: FailingDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its first half is on the disk: without the second the next line would be spoilt as well."""
    monkeypatch.setattr(record_writer, "_MOST_WAITING", 10)
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    failing.room = 5
    put(writer, readings(0, 1))
    writer.flush()
    put(writer, readings(1, 100))
    failing.room = None
    writer.close()
    reader = RecordReader(path)
    lines = list(reader)
    assert (lines[0], lines[-1]) == (readings(0, 1)[0], readings(100, 1)[0])
    assert reader.tally.foreign_lines == 0
    assert len(lines) + writer.lost_lines == 101


def test_a_sync_that_failed_is_told_and_made_up_for(failing: FailingDisk, tmp_path: Path) -> None:
    """Bytes handed over are not yet on the disk: until a sync works, the record is in trouble."""
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    failing.sync_fails = True
    writer.write_events([note(1.0)])
    assert writer.trouble == f"{path}: Input/output error"
    writer.flush()
    assert writer.trouble == f"{path}: Input/output error", "a flush without a sync mends nothing"
    failing.sync_fails = False
    writer.flush()
    assert writer.trouble == ""
    writer.close()


def test_a_name_that_is_no_text_can_be_told_too(failing: FailingDisk, tmp_path: Path) -> None:
    """`trouble` becomes a line of the record, and that is UTF-8."""
    path = tmp_path / os.fsdecode(b"heat\xff.jsonl")
    writer = RecordWriter.create(path, HEADER)
    failing.room = 0
    writer.write_events([note(1.0)])
    writer.write(Notice(1.0, NoticeName.RECORD_FAILING, text=writer.trouble))
    failing.room = None
    writer.close()
    (_, line) = RecordReader(path)
    assert isinstance(line, Notice)
    assert line.text == f"{tmp_path}/heat\ufffd.jsonl: No space left on device"
