"""What a run leaves word of when its disk lags behind, and what the next one makes of it."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from hanging_disk import HangingDisk
from rampwarden.core.model import Event, EventName, Reading
from rampwarden.filed import Filed, event_key
from rampwarden.outputs.outbox.cursor import CursorPosition
from rampwarden.outputs.outbox.record_queue import RecordQueue
from rampwarden.records import record_writer
from rampwarden.records.record_lines import FORMAT, Header
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.writing import run_note
from rampwarden.records.writing.run_note import Lag, RunNote
from running_watch import PATIENCE_S

HEADER = Header(format=FORMAT, started="2026-01-01T09:00:00Z", id="0123")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a folder that is held to be in memory."""
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/sda1 / ext4 rw 0 0\nnone {tmp_path} ext4 rw 0 0\nnone {tmp_path}/run tmpfs rw 0 0\n")
    monkeypatch.setattr(run_note, "_MOUNTS", mounts)
    (tmp_path / "run").mkdir()
    return tmp_path / "run"


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Iterator[HangingDisk]:
    """Give a disk that can be made to hang, and any lag counts."""
    monkeypatch.setattr(record_writer, "_LAGGING_S", 0.0)
    disk = HangingDisk(monkeypatch)
    yield disk
    disk.go_on()


def watch_until_killed(path: Path, folder: Path, disk: HangingDisk) -> list[Filed]:
    """Let a run put twenty readings and two events on a hanging disk, and be killed as far as its note goes.

    Gives where the two stood.
    """
    told: list[Filed] = []
    writer = RecordWriter.create(path, HEADER)
    assert writer.keep_note(folder, "0123", 0.0) == ""
    writer.write_events([Event(time_s=1.0, event=EventName.NOTE, text="on the disk")])
    writer.note_lag()
    whole = path.read_bytes()
    disk.hang()
    for second in range(60, 80):
        writer.write(Reading(float(second), temp_c=20.0))
        if second % 10 == 5:
            told += writer.write_events([Event(time_s=float(second), event=EventName.NOTE, text="told")], 0.0)
    assert disk.wait_hung(PATIENCE_S)
    writer.note_lag()
    note = folder / "0123.lag"
    left = note.read_bytes()
    disk.go_on()
    writer.close()
    assert not note.exists(), "a clean end leaves nothing to say"
    path.write_bytes(whole)
    note.write_bytes(left)
    return told


def test_after_a_kill_the_next_run_says_how_much_is_lost_and_from_when_to_when(
    tmp_path: Path, folder: Path, disk: HangingDisk
) -> None:
    """Once: the run after that has its own lines under those numbers."""
    path = tmp_path / "heat.jsonl"
    watch_until_killed(path, folder, disk)
    writer = RecordWriter.resume(path, 2)
    assert writer.keep_note(folder, "0123", 1.0) == (
        "its disk had not taken the last 22 lines, from 1 s to 1 min 19 s of the heat, "
        "2 of them events that had been told: they are lost"
    )
    writer._thread.join(0.0)
    again = RunNote(folder, "0123")
    assert again.left is not None
    assert again.left.words(2, 1.0) == ""
    again.close(keep=True)
    writer.close()


def test_what_was_told_before_a_kill_keeps_its_key_when_it_is_made_again(
    tmp_path: Path, folder: Path, disk: HangingDisk
) -> None:
    """By the inputs that are on the disk, or by time alone: once, in whatever line, and after another kill as well."""
    path = tmp_path / "heat.jsonl"
    first, second = watch_until_killed(path, folder, disk)
    assert not first.on_disk
    writer = RecordWriter.resume(path, 2)
    writer.keep_note(folder, "0123", 1.0)
    new = Event(time_s=75.0, event=EventName.NOTE, text="never told")
    again = Event(time_s=75.0, event=EventName.NOTE, text="told")
    disk.hang()
    filed = writer.write_events([new, again, again], 0.0)
    assert disk.wait_hung(PATIENCE_S)
    assert [(each.run, each.named) for each in filed] == [(writer.run, 0), (second.run, second.number), (writer.run, 0)]
    writer.note_lag()
    left = RunNote(folder, "0123").left
    assert left is not None
    assert [(each.line, each.run, each.number) for each in left.told][-2] == (3, second.run, second.number)
    disk.go_on()
    writer.close()
    place = CursorPosition("0123", path.name, 1)
    place.started = HEADER.started
    queue = RecordQueue(path, place, datetime.now(UTC), writer, None)
    keys = [item.key for item in queue.backlog()]
    queue.close()
    assert keys == [event_key("0123", each.run, each.named or each.number) for each in filed]
    assert keys[1] == event_key("0123", second.run, second.number)


def test_what_reached_the_record_after_all_is_not_lost() -> None:
    """A sync that hung is no loss to a kill: the system has the bytes."""
    lag = Lag(100, 60.0, [90, 95, 100])
    assert lag.words(100, 60.0) == ""
    assert lag.words(120, 80.0) == ""
    assert lag.words(97, 57.0) == (
        "its disk had not taken the last 3 lines, from 57 s to 1 min of the heat, "
        "1 of them events that had been told: they are lost"
    )


def test_of_a_disk_that_answers_it_is_noted_what_was_told(tmp_path: Path, folder: Path, disk: HangingDisk) -> None:
    """And the lag is taken back as soon as the disk has caught up."""
    writer = RecordWriter.create(tmp_path / "heat.jsonl", HEADER)
    writer.keep_note(folder, "0123", 0.0)
    disk.hang()
    writer.write_events([Event(time_s=1.0, event=EventName.NOTE, text="x")], 0.0)
    assert disk.wait_hung(PATIENCE_S)
    writer.note_lag()
    assert (folder / "0123.lag").read_bytes().startswith(b'{"last":1,"last_s":1.0,"events":[1],"told":[[')
    disk.go_on()
    writer.flush()
    writer.note_lag()
    assert (folder / "0123.lag").read_bytes().startswith(b'{"last":0,"last_s":0.0,"events":[],"told":[[')
    writer.close()


@pytest.mark.parametrize("left", [1, 2], ids=["cut", "gone from its middle"])
def test_what_was_told_keeps_its_key_though_somebody_destroyed_its_line(
    tmp_path: Path, folder: Path, left: int
) -> None:
    """The disk had it; the run after a kill makes it again from what is left."""
    path = tmp_path / "heat.jsonl"
    event = Event(time_s=2.0, event=EventName.NOTE, text="told")
    writer = RecordWriter.create(path, HEADER)
    writer.keep_note(folder, "0123", 0.0)
    [filed] = writer.write_events([event])
    writer.write(Reading(3.0, temp_c=20.0))
    writer.flush()
    note = (folder / "0123.lag").read_bytes()
    writer.close()
    (folder / "0123.lag").write_bytes(note)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([lines[0], *lines[2:]][:left]))
    after = RecordWriter.resume(path, 3 if left == 2 else 1)
    assert after.keep_note(folder, "0123", 1.0) == ""
    [again] = after.write_events([event])
    assert again.on_disk
    assert event_key("0123", again.run, again.named or again.number) == event_key("0123", filed.run, filed.number)
    after.close()


@pytest.mark.parametrize("content", [b"\xff", b"{", b"[" * 4000, b'{"last":"x","last_s":1}', b"[1]"])
def test_a_note_that_says_nothing_is_none(folder: Path, content: bytes) -> None:
    """Whoever left it."""
    (folder / "0123.lag").write_bytes(content)
    note = RunNote(folder, "0123")
    assert note.left is None
    note.close(keep=False)


def test_on_a_disk_no_note_is_kept(tmp_path: Path, folder: Path) -> None:
    """It might be the one that hangs; and nothing outside the folder is touched, whatever the id."""
    for place, name in ((tmp_path, "0123"), (folder, "../0123")):
        note = RunNote(place, name)
        note.write(Lag(1, 1.0))
        note.close(keep=True)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["mounts", "run"]
    assert list(folder.iterdir()) == []
