"""The heat record as a file: what goes in comes out, what is damaged costs only itself, nothing is overwritten."""

import gzip
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from rampwarden.core.model import (
    AlarmState,
    ClockMark,
    Command,
    CommandName,
    Event,
    EventName,
    Fault,
    Notice,
    NoticeName,
    Priority,
    Reading,
)
from rampwarden.errors import RecordError
from rampwarden.records import record_reader, record_writer
from rampwarden.records.record_lines import FORMAT, End, Header, Line, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from running_watch import wait_for

HEADER = Header(format=FORMAT, started="2026-01-01T09:00:00Z", id="0123", title="Dry · 25 °C")
ALARM = Event(
    time_s=12.5,
    event=EventName.ALARM,
    alarm="ramp-high",
    state=AlarmState.UNACKNOWLEDGED,
    priority=Priority.HIGH,
    value=142.5,
    limit=100.0,
    unit="°C/h",
    segment="drying",
    text='ramp-high · "142 °C/h" over 15 min · \\ · lower the heat',
)
EVERY_KIND: list[Line] = [
    ClockMark(0.0),
    Reading(0.1),
    Reading(12.25, emf_uv=8138.2, junction_c=24.81, faults=(Fault.OPEN, Fault.SHORT_GROUND), channel=3),
    Reading(12.5, temp_c=-40.125),
    Event(time_s=12.5, event=EventName.HEAT_STARTED, text="watching"),
    ALARM,
    Command(13.0, CommandName.SHELVE, alarm="ramp-high", minutes=2.5, text="gas changed\n\x1b[2J", by="terminal"),
    Notice(14.0, NoticeName.GARBLED, count=7, text="�\x00 $TC"),
    End(15.0, "complete"),
]


def write(path: Path, lines: list[Line], header: Header = HEADER) -> None:
    """Write a whole record the way the watch does: events synced, all else in line."""
    writer = RecordWriter.create(path, header)
    for line in lines:
        if isinstance(line, Event):
            writer.write_events([line])
        elif not isinstance(line, Header):
            writer.write(line)
    writer.close()


def read(path: Path) -> tuple[list[Line], int, bool]:
    """Give the lines after the header, how many were foreign, and whether the end is torn."""
    reader = RecordReader(path)
    lines = list(reader)
    return lines, reader.tally.foreign_lines, reader.tally.torn


def header_of(path: Path) -> Header:
    """Give a record's header."""
    with RecordReader(path) as reader:
        return reader.header


def written_by_hand(path: Path, *lines: bytes) -> Path:
    """Make a record of a header and these bytes."""
    path.write_bytes(encode_line(HEADER, 0) + b"".join(lines))
    return path


def refusal(path: Path) -> str:
    """Give the one line somebody reads whose record cannot be opened."""
    with pytest.raises(RecordError) as caught:
        RecordReader(path)
    return str(caught.value)


# Writing


def test_every_kind_of_line_comes_back_as_it_was(tmp_path: Path) -> None:
    """Values, units, quotes, control characters and the header itself."""
    path = tmp_path / "heat.jsonl"
    write(path, EVERY_KIND)
    reader = RecordReader(path)
    assert reader.header == HEADER
    assert list(reader) == EVERY_KIND
    assert (reader.tally.foreign_lines, reader.tally.torn) == (0, False)


def test_each_line_is_one_line_and_numbered_from_the_header_on(tmp_path: Path) -> None:
    """`seq` stands first, without gaps: other outputs point at it."""
    path = tmp_path / "heat.jsonl"
    write(path, EVERY_KIND)
    lines = path.read_bytes().splitlines(keepends=True)
    assert len(lines) == 1 + len(EVERY_KIND)
    for number, line in enumerate(lines):
        assert line.startswith(b'{"seq":%d,"kind":"' % number)
        assert line.endswith(b"}\n")


def test_events_can_be_read_from_outside_before_write_events_returns(tmp_path: Path) -> None:
    """The readings before them too: another process sees the file as it will be found after a crash."""
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    writer.write(Reading(1.0, temp_c=20.0))
    writer.write_events([ALARM])
    script = f"print(open({str(path)!r}).read(), end='')"
    seen = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True)
    lines = [encode_line(Reading(1.0, temp_c=20.0), 1), encode_line(ALARM, 2, writer.run)]
    assert seen.stdout.splitlines(keepends=True)[1:] == lines
    writer.close()


def test_events_are_on_the_disk_before_write_events_returns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut takes what was never synced: the sync comes after the last byte and before the return."""
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    synced: list[int] = []
    monkeypatch.setattr(record_writer.os, "fdatasync", lambda descriptor: synced.append(os.fstat(descriptor).st_size))
    writer.write(Reading(1.0, temp_c=20.0))
    assert synced == [], "readings alone wait for the next second"
    writer.write_events([ALARM, ALARM])
    assert synced == [path.stat().st_size]
    writer.write_events([])
    assert len(synced) == 1, "nothing to say is nothing to sync"
    writer.close()


def test_header_and_name_are_on_the_disk_before_the_first_reading(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file whose name was never synced is gone with the power."""
    synced: list[str] = []
    monkeypatch.setattr(record_writer.os, "fdatasync", lambda _: synced.append("file"))
    monkeypatch.setattr(record_writer.os, "fsync", lambda _: synced.append("folder"))
    writer = RecordWriter.create(tmp_path / "heat.jsonl", HEADER)
    assert synced == ["file", "folder"]
    writer.close()


def test_readings_reach_the_file_with_the_next_flush(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not with each write: that would wear the disk out."""
    monkeypatch.setattr(record_writer, "_FLUSH_EVERY_S", 3600.0)
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    size = path.stat().st_size
    writer.write(Reading(1.0, temp_c=20.0))
    assert path.stat().st_size == size
    writer.flush()
    assert path.stat().st_size > size
    writer.close()


def test_more_readings_between_two_flushes_than_may_wait_are_written_not_dropped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fast rehearsal must not lose lines on a healthy disk."""
    monkeypatch.setattr(record_writer, "_MOST_WAITING", 10)
    path = tmp_path / "heat.jsonl"
    readings: list[Line] = [Reading(float(time_s), temp_c=20.0) for time_s in range(95)]
    write(path, readings)
    assert read(path)[0] == readings


def test_readings_reach_the_file_by_themselves_too(tmp_path: Path) -> None:
    """Within the second, whatever happens to this process then; nobody has to ask for it."""
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    size = path.stat().st_size
    writer.write(Reading(1.0, temp_c=20.0))
    wait_for(lambda: path.stat().st_size > size, "the reading in the file")
    writer.close()


def test_a_record_is_never_overwritten(tmp_path: Path) -> None:
    """Not even an empty file; the message says what to do."""
    path = tmp_path / "heat.jsonl"
    path.touch()
    with pytest.raises(RecordError) as caught:
        RecordWriter.create(path, HEADER)
    assert str(caught.value) == f"{path}: is there already; a record is never overwritten, choose another name"
    assert path.read_bytes() == b""


def test_a_missing_folder_is_made(tmp_path: Path) -> None:
    """The first heat of a new machine needs no preparation."""
    path = tmp_path / "heats" / "2026" / "heat.jsonl"
    write(path, [])
    assert header_of(path) == HEADER


def test_a_folder_that_is_a_file_is_told_as_such(tmp_path: Path) -> None:
    """And not as a record that exists, which is what the system's error would suggest."""
    (tmp_path / "heats").touch()
    with pytest.raises(RecordError) as caught:
        RecordWriter.create(tmp_path / "heats" / "heat.jsonl", HEADER)
    assert str(caught.value) == (
        f"{tmp_path}/heats/heat.jsonl: cannot make the heat record: {tmp_path}/heats: is a file, not a folder"
    )


def test_a_record_is_for_its_owner_and_group_alone(tmp_path: Path) -> None:
    """Mode 0640: whoever is in the group may read, nobody else."""
    before = os.umask(0)
    try:
        write(tmp_path / "heat.jsonl", [])
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "heat.jsonl").stat().st_mode) == 0o640


def test_a_schedule_with_much_to_say_fits_the_header(tmp_path: Path) -> None:
    """A hundred segments with a paragraph each is more than any other line may have."""
    header = Header(format=FORMAT, started="2026-01-01T09:00:00Z", schedule={"segment": ["x" * 1000] * 100})
    write(tmp_path / "heat.jsonl", [ClockMark(1.0)], header)
    reader = RecordReader(tmp_path / "heat.jsonl")
    assert reader.header == header
    assert list(reader) == [ClockMark(1.0)]


def test_a_header_nobody_could_read_back_is_refused_before_the_heat(tmp_path: Path) -> None:
    """Better than a whole heat that cannot be replayed; and no file is left."""
    header = Header(format=FORMAT, started="2026-01-01T09:00:00Z", schedule={"say": "x" * 2_000_000})
    with pytest.raises(RecordError, match="the schedule is too long"):
        RecordWriter.create(tmp_path / "heat.jsonl", header)
    assert not (tmp_path / "heat.jsonl").exists()


# Reading what is damaged


def test_a_record_torn_at_any_of_its_last_bytes_loses_only_the_torn_line(tmp_path: Path) -> None:
    """Whatever a crash cut off, every line before it is read, and the tear is told."""
    path = tmp_path / "heat.jsonl"
    write(path, EVERY_KIND)
    whole = path.read_bytes()
    ends = [index + 1 for index, byte in enumerate(whole) if byte == ord("\n")]
    for size in range(len(whole) - 300, len(whole)):
        path.write_bytes(whole[:size])
        # A line that lacks nothing but its newline is all there.
        complete = sum(end <= size + 1 for end in ends) - 1
        lines, foreign, torn = read(path)
        assert lines == EVERY_KIND[:complete]
        assert foreign == 0
        assert torn == (size not in ends and size + 1 not in ends)


def test_a_record_that_is_only_its_header_is_read_as_empty(tmp_path: Path) -> None:
    """A watch that was killed at once leaves no more."""
    assert read(written_by_hand(tmp_path / "heat.jsonl")) == ([], 0, False)


@pytest.mark.parametrize(
    "foreign",
    [
        b"hello\n",
        b"{}\n",
        b"[1]\n",
        b'{"kind":"reading"}\n',
        b'{"kind":"reading","time_s":"soon"}\n',
        b'{"kind":"reading","time_s":1e999}\n',
        b'{"kind":"reading","time_s":1,"faults":["tired"]}\n',
        b'{"kind":"event","time_s":1,"event":"party"}\n',
        b'{"kind":"telegram","time_s":1}\n',
        b'{"time_s":1}\n',
        b'{"kind":"clock","time_s":1\n',
        b'{"kind":"command","time_s":1,"command":"note","text":"\xff\xfe"}\n',
        b"\x00" * 4096 + b"\n",
        b"\x00" * 10 + b'{"kind":"clock","time_s":1}\n',
        b'{"kind":"clock","time_s":1,"x":' + b"[" * 20_000 + b"\n",
        b'{"kind":"reading","time_s":1,"text":"' + b"x" * 1_000_000 + b'"}\n',
        b"x" * 65_536 + b"\n",
        b"x" * 65_537 + b"\n",
    ],
    ids=lambda line: repr(line[:40]),
)
def test_a_foreign_line_is_counted_and_skipped(foreign: bytes, tmp_path: Path) -> None:
    """Whatever it is, once; the lines around it are read."""
    before, after = encode_line(ClockMark(1.0), 1), encode_line(ClockMark(2.0), 2)
    path = written_by_hand(tmp_path / "heat.jsonl", before, foreign, after)
    assert read(path) == ([ClockMark(1.0), ClockMark(2.0)], 1, False)


def test_a_megabyte_without_a_newline_at_the_end_is_one_foreign_line(tmp_path: Path) -> None:
    """It costs no memory and no time to speak of."""
    path = written_by_hand(tmp_path / "heat.jsonl", encode_line(ClockMark(1.0), 1), b"x" * 1_000_000)
    assert read(path) == ([ClockMark(1.0)], 1, False)


def test_nul_bytes_at_the_end_are_a_tear(tmp_path: Path) -> None:
    """What a file system leaves after a power cut when it knew the length but not the bytes."""
    path = written_by_hand(tmp_path / "heat.jsonl", encode_line(ClockMark(1.0), 1), b"\x00" * 3000)
    assert read(path) == ([ClockMark(1.0)], 0, True)


def test_blank_lines_mean_nothing(tmp_path: Path) -> None:
    """An editor adds them; they are no damage."""
    path = written_by_hand(tmp_path / "heat.jsonl", b"\n", encode_line(ClockMark(1.0), 1), b"  \r\n")
    assert read(path) == ([ClockMark(1.0)], 0, False)


def test_unknown_keys_are_kept_out_of_the_way(tmp_path: Path) -> None:
    """A newer version may say more; numbers without a point are numbers."""
    line = b'{"seq":9,"time_s":3,"note":{"a":[1]},"kind":"reading","emf_uv":12,"humidity":0.4}\n'
    path = written_by_hand(tmp_path / "heat.jsonl", line)
    assert read(path) == ([Reading(3.0, emf_uv=12.0)], 0, False)


# Headers


def test_a_header_needs_only_kind_format_and_start(tmp_path: Path) -> None:
    """Enough to replay against a schedule given on the command line."""
    path = tmp_path / "heat.jsonl"
    path.write_bytes(b'{"kind":"header","format":"rampwarden-heat/1","started":"2026-01-01T09:00:00Z"}\n')
    assert header_of(path) == Header(format=FORMAT, started="2026-01-01T09:00:00Z")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n",
        b"hello\n",
        b'{"kind":"reading","time_s":1}\n',
        b'{"kind":"header","format":"rampwarden-heat/1"}\n',
        b'{"kind":"header","format":"rampwarden-heat/1","started":"\xff"}\n',
        b"\x00" * 5000,
        b"[" * 100_000,
        b"x" * 3_000_000,
    ],
    ids=lambda content: repr(content[:30]),
)
def test_a_file_without_header_is_refused_as_no_record(content: bytes, tmp_path: Path) -> None:
    """One line that says what was looked for."""
    path = tmp_path / "heat.jsonl"
    path.write_bytes(content)
    assert refusal(path) == f"{path}: no heat record: its first line is no header of format {FORMAT}"


@pytest.mark.parametrize("other", ["rampwarden-heat/2", "rampwarden-heat", "something/1"])
def test_another_format_is_refused_by_name(other: str, tmp_path: Path) -> None:
    """Older, newer or another's: better refused than misread."""
    path = tmp_path / "heat.jsonl"
    path.write_bytes(encode_line(Header(format=other, started="2026-01-01T09:00:00Z")))
    assert refusal(path) == f"{path}: format '{other}'; this version reads {FORMAT}"


def test_a_file_that_cannot_be_opened_is_told_with_the_reason(tmp_path: Path) -> None:
    """Missing, or a folder."""
    assert refusal(tmp_path / "no.jsonl") == f"{tmp_path}/no.jsonl: cannot read: No such file or directory"
    assert refusal(tmp_path) == f"{tmp_path}: cannot read: Is a directory"


# Compressed records


def test_a_gzipped_record_reads_like_a_plain_one_whatever_its_name(tmp_path: Path) -> None:
    """Known by its first bytes, not by its ending."""
    path = tmp_path / "heat.jsonl"
    write(path, EVERY_KIND)
    path.write_bytes(gzip.compress(path.read_bytes()))
    assert read(path) == (EVERY_KIND, 0, False)


def test_a_gzip_cut_off_anywhere_gives_every_line_before_the_cut(tmp_path: Path) -> None:
    """Checked against what the decompressor itself can give; only a partial line is lost."""
    clocks: list[Line] = [ClockMark(time_s * time_s % 977 / 8) for time_s in range(20_000)]
    plain = b"".join([encode_line(HEADER, 0), *(encode_line(clock, seq) for seq, clock in enumerate(clocks, start=1))])
    packed = gzip.compress(plain)
    path = tmp_path / "heat.jsonl.gz"
    for size in (400, len(packed) // 3, len(packed) // 2, len(packed) - 9, len(packed) - 1):
        path.write_bytes(packed[:size])
        whole = record_reader.zlib.decompressobj(31).decompress(packed[:size]).count(b"\n") - 1
        assert whole > 0
        assert read(path) == (clocks[:whole], 0, True)


def test_a_gzip_cut_off_in_its_header_line_is_refused(tmp_path: Path) -> None:
    """There is nothing to replay, and the reason is told."""
    path = tmp_path / "heat.jsonl.gz"
    path.write_bytes(gzip.compress(encode_line(HEADER))[:15])
    assert refusal(path).startswith(f"{path}: cannot read: Compressed file ended before")


def test_a_gzip_damaged_in_the_middle_is_told_with_the_reason(tmp_path: Path) -> None:
    """In the header's block or later, by the decompressor or the checksum: one line, no traceback."""
    plain = encode_line(HEADER) + b"".join(encode_line(ClockMark(float(time_s))) for time_s in range(20_000))
    packed = bytearray(gzip.compress(plain))
    path = tmp_path / "heat.jsonl.gz"
    for place in (20, len(packed) // 2, len(packed) - 6):
        path.write_bytes(packed[:place] + bytes([packed[place] ^ 0xFF, 0xFF]) + packed[place + 2 :])
        with pytest.raises(RecordError) as caught:
            list(RecordReader(path))
        reason = str(caught.value).removeprefix(f"{path}: ")
        assert reason.startswith(("cannot read: ", "reading failed: "))
        assert "None" not in reason


def test_a_reader_left_early_closes_its_file(tmp_path: Path) -> None:
    """Whoever stops before the last line leaves no file open behind."""
    path = tmp_path / "heat.jsonl"
    write(path, EVERY_KIND)
    with RecordReader(path) as reader:
        next(iter(reader))
    with pytest.raises(ValueError, match="closed file"):
        list(reader)
