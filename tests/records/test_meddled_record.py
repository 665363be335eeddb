"""A record that others delete, move, replace or cut short while it is being written: put back, and said."""

import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from rampwarden.core.model import ClockMark, Event, EventName, Notice, NoticeName, Reading
from rampwarden.records import record_writer
from rampwarden.records.locks import writer_of
from rampwarden.records.record_lines import FORMAT, End, Header, Line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.writing import journal
from rampwarden.records.writing.journal import Journal
from running_watch import wait_for

HEADER = Header(format=FORMAT, started="2026-01-01T09:00:00Z", id="0123", title="x" * 300)
NOTE = Event(time_s=50.0, event=EventName.NOTE, text="still here")


def readings(first: int, count: int) -> list[Line]:
    """Give so many readings, a second apart."""
    return [Reading(float(time_s), emf_uv=1000.5, junction_c=25.25) for time_s in range(first, first + count)]


@pytest.fixture(autouse=True)
def looking_always(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the writer look after its record at every turn."""
    monkeypatch.setattr(record_writer, "_LOOK_EVERY_S", 0.0)


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[RecordWriter]:
    """Give a record with ten readings in it."""
    writer = RecordWriter.create(tmp_path / "heats" / "heat.jsonl", HEADER)
    put(writer, readings(0, 10))
    yield writer
    writer.close()


def put(writer: RecordWriter, lines: list[Line]) -> None:
    """Write lines and have them in the file."""
    for line in lines:
        assert isinstance(line, Reading | End)
        writer.write(line)
    writer.flush()


def numbers(path: Path) -> list[int]:
    """Give the sequence numbers in the file; a line that is no JSON fails here."""
    return [json.loads(line)["seq"] for line in path.read_bytes().splitlines()]


def delete(path: Path) -> None:
    path.unlink()


def delete_with_its_folder(path: Path) -> None:
    path.unlink()
    path.parent.rmdir()


def move(path: Path) -> None:
    path.rename(path.with_name("elsewhere.jsonl"))


def replace(path: Path) -> None:
    other = path.with_name("other")
    other.write_bytes(path.read_bytes()[:200])
    other.rename(path)


@pytest.mark.parametrize(
    ("meddle", "what"),
    [
        (delete, "was deleted"),
        (delete_with_its_folder, "was deleted"),
        (move, "was moved away"),
        (replace, "was replaced by another file"),
    ],
)
def test_a_record_that_lost_its_name_is_put_back_whole_and_gone_on_with(
    meddle: Callable[[Path], None], what: str, writer: RecordWriter
) -> None:
    """By itself, without anything having to be written; what had come before and what comes after stand in one file."""
    path = writer.path
    meddle(path)
    reports: list[str] = []
    wait_for(lambda: reports.extend(writer.take_reports()) or reports, "word of what was done")
    other = "; what stood in its place is now heat.jsonl.aside-1" if meddle is replace else ""
    assert reports == [f"{path} {what} while it was being written; it was put back whole{other}"]
    assert writer.trouble == ""
    [filed] = writer.write_events([NOTE])
    assert filed.on_disk
    put(writer, readings(60, 2))
    writer.close()
    assert list(RecordReader(path)) == [*readings(0, 10), NOTE, *readings(60, 2)]
    assert numbers(path) == list(range(14))
    assert [each.name for each in path.parent.iterdir() if each.name.startswith(".")] == [], "no half copy is left"


def test_nothing_that_stands_in_its_place_is_lost(writer: RecordWriter) -> None:
    """Whoever put it there may want it; it gets another name, and never that of a third."""
    path = writer.path
    path.with_name("heat.jsonl.aside-1").write_text("the third")
    replace(path)
    stranger = path.read_bytes()
    wait_for(writer.take_reports, "word of what was done")
    assert path.with_name("heat.jsonl.aside-1").read_text() == "the third"
    assert path.with_name("heat.jsonl.aside-2").read_bytes() == stranger


def test_a_record_that_was_put_back_is_held_against_a_second_writer(writer: RecordWriter) -> None:
    """The lock goes with the file, and the file is another one now."""
    delete(writer.path)
    wait_for(writer.take_reports, "word of what was done")
    assert f"process {os.getpid()}" in (writer_of(writer.path) or "")


def test_a_line_of_somebody_elses_is_no_meddling(writer: RecordWriter) -> None:
    """A note added by hand costs nothing; the record goes on behind it."""
    with writer.path.open("ab") as file:
        file.write(b'{"kind":"notice","time_s":11,"notice":"garbled","text":"by hand"}\n')
    put(writer, readings(20, 1))
    writer.flush()
    assert writer.take_reports() == []
    assert len(list(RecordReader(writer.path))) == 12


def test_a_record_that_cannot_be_put_back_is_trouble_until_it_can(
    writer: RecordWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The heat goes on in the open handle meanwhile, and nothing of it is missing afterwards."""
    path = writer.path
    rename = Path.rename

    def refuse(self: Path, target: Path) -> Path:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "rename", refuse)
    delete(path)
    wait_for(lambda: writer.trouble, "trouble")
    assert writer.trouble == f"{path} was deleted, and cannot be put back: Permission denied"
    put(writer, readings(10, 5))
    [filed] = writer.write_events([NOTE])
    assert not filed.on_disk, "a file without a name is on no disk that anybody finds again"
    assert writer.take_reports() == [writer.trouble], "said once, however often it is tried"
    monkeypatch.setattr(Path, "rename", rename)
    wait_for(lambda: not writer.trouble, "the record put back")
    assert writer.synced == filed.number
    writer.close()
    assert list(RecordReader(path)) == [*readings(0, 15), NOTE]


# Cut short


@pytest.mark.parametrize("size", [0, 50, 430, 700])
def test_a_record_cut_short_is_written_anew_from_memory(size: int, writer: RecordWriter) -> None:
    """To nothing, within the header, within a line: all of it stands there again, and the rest comes behind."""
    path = writer.path
    before = path.read_bytes()
    os.truncate(path, size)
    reports: list[str] = []
    wait_for(lambda: reports.extend(writer.take_reports()) or reports, "word of what was done")
    assert reports == [
        f"{path} was cut short while it was being written; it was put back whole; "
        "what stood in its place is now heat.jsonl.aside-1"
    ]
    assert path.with_name("heat.jsonl.aside-1").read_bytes() == before[:size], "what was left is left to whoever cut it"
    put(writer, [*readings(10, 5), End(15.0)])
    writer.close()
    assert path.read_bytes().startswith(before)
    assert list(RecordReader(path)) == [*readings(0, 15), End(15.0)]


def test_an_unfinished_record_gone_on_with_is_written_anew_with_what_came_before(tmp_path: Path) -> None:
    """What an earlier run wrote is read once at the start, for this."""
    path = tmp_path / "heat.jsonl"
    first = RecordWriter.create(path, HEADER)
    put(first, readings(0, 10))
    first.close()
    with path.open("ab") as file:
        file.write(b'{"seq":11,"kind":"rea')
    writer = RecordWriter.resume(path, 11)
    put(writer, readings(10, 5))
    os.truncate(path, 0)
    wait_for(writer.take_reports, "word of what was done")
    writer.close()
    reader = RecordReader(path)
    assert list(reader) == readings(0, 15)
    assert reader.tally.foreign_lines == 1, "the torn line, as it stood"


def test_cut_again_and_again_nothing_is_lost(writer: RecordWriter) -> None:
    """Whoever cut it once may have a habit."""
    path = writer.path
    for turn in range(3):
        os.truncate(path, 100 * turn)
        wait_for(writer.take_reports, "word of what was done")
        put(writer, readings(10 + turn, 1))
    writer.close()
    assert list(RecordReader(path)) == readings(0, 13)


def test_what_memory_has_let_go_is_missing_and_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond its bound the oldest goes: a replay then meets a time in which nobody watched, with both its ends."""
    monkeypatch.setattr(journal, "_BLOCK", 1000)
    monkeypatch.setattr(journal, "_MOST_KEPT", 2000)
    path = tmp_path / "heat.jsonl"
    writer = RecordWriter.create(path, HEADER)
    for second in range(300):
        put(writer, readings(second, 1))
    os.truncate(path, 600)
    reports: list[str] = []
    wait_for(lambda: reports.extend(writer.take_reports()) or reports, "word of what was done")
    put(writer, readings(300, 1))
    os.truncate(path, 0)
    wait_for(writer.take_reports, "word of the second time")
    writer.close()
    lines = list(RecordReader(path))
    [gap] = [line for line in lines if isinstance(line, Notice)]
    assert gap.notice is NoticeName.WATCH_RESUMED
    at = lines.index(gap)
    before, after = lines[:at], lines[at + 1 :]
    assert before == readings(0, len(before))
    assert after == readings(301 - len(after), len(after))
    assert gap.count == 301 - len(before) - len(after) > 0
    assert f"it was put back, but {gap.count} lines from " in reports[0]
    found = numbers(path)
    assert found == sorted(set(found))


def test_what_the_file_still_has_makes_up_for_what_memory_has_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cut behind what was let go loses nothing."""
    monkeypatch.setattr(journal, "_BLOCK", 1000)
    monkeypatch.setattr(journal, "_MOST_KEPT", 500)
    lines = [b'{"seq":%d,"kind":"clock","time_s":%d.0}\n' % (number, number) for number in range(1000)]
    kept = Journal()
    for line in lines:
        kept.add(line)
    whole = b"".join(lines)
    pieces, gap = kept.whole([whole[:30_000], whole[30_000:-5]])
    assert b"".join(pieces) == whole
    assert gap is None
    pieces, gap = kept.whole([whole[:20_007]])
    assert gap is not None
    assert b"".join(pieces).count(b"\n") == 1000 - (gap.last - gap.first + 1) + 1
    assert (
        gap.words == f"{gap.last - gap.first + 1} lines from 8 min to {gap.to_s / 60:.0f} min of the heat are missing"
    )


def test_bytes_without_any_line_are_bounded_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """A gigabyte of zeros in a record must not cost one of memory."""
    monkeypatch.setattr(journal, "_BLOCK", 1000)
    monkeypatch.setattr(journal, "_LONGEST_OPEN", 4000)
    kept = Journal()
    for _ in range(100):
        kept.add(b"\0" * 999)
    assert len(kept._open) < 5000
    pieces, _ = kept.whole([])
    assert b"".join(pieces) == b"\0" * 99_900


def test_the_clock_marks_of_a_silence_are_kept_as_well(writer: RecordWriter) -> None:
    """Everything that was written is, and nothing that was not."""
    writer.write(ClockMark(20.0))
    writer.flush()
    os.truncate(writer.path, 0)
    wait_for(writer.take_reports, "word of what was done")
    writer.write(ClockMark(30.0))
    writer.close()
    assert list(RecordReader(writer.path)) == [*readings(0, 10), ClockMark(20.0), ClockMark(30.0)]


def test_a_copy_is_on_the_disk_before_it_has_the_records_name(
    writer: RecordWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A power cut in between leaves no file of that name that holds nothing."""
    done: list[str] = []
    fdatasync, rename = os.fdatasync, Path.rename
    monkeypatch.setattr(os, "fdatasync", lambda descriptor: (done.append("bytes"), fdatasync(descriptor))[1])
    monkeypatch.setattr(os, "fsync", lambda _: done.append("folder"))

    def renamed(self: Path, target: Path) -> Path:
        named = rename(self, target)
        done.append("name")
        return named

    monkeypatch.setattr(Path, "rename", renamed)
    writer.path.unlink()
    wait_for(writer.take_reports, "word of what was done")
    assert done[-3:] == ["bytes", "name", "folder"]
