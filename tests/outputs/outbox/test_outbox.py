"""The outbox: everything a record holds is given until it is settled, over restarts, tears and full disks."""

import os
import random
import re
import stat
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.outputs.mqtt.broker import STARTED, alarm, message, wait_until

from hanging_disk import HangingDisk
from rampwarden.core.model import Event, Reading
from rampwarden.filed import Filed
from rampwarden.outputs.outbox import cursor as outbox_cursor
from rampwarden.outputs.outbox import record_queue
from rampwarden.outputs.outbox.cursor import CursorFile
from rampwarden.outputs.outbox.outbox import CurrentRecord, Outbox
from rampwarden.outputs.outbox.record_queue import OutboxItem
from rampwarden.records.record_lines import FORMAT, Header, encode_line
from rampwarden.records.record_writer import RecordWriter


@dataclass
class Heat:
    """A record being written and the outbox that reads it, as one life of a furnace has them."""

    folder: Path
    record_id: str = "heat-1"
    now_s: float = 100.0
    name: str = "furnace-1"
    patience_s: float = 30.0
    outbox: Outbox = field(init=False)

    def __post_init__(self) -> None:
        self.path = self.folder / f"{self.record_id}.jsonl"
        header = Header(FORMAT, "2026-01-01T09:00:00Z", id=self.record_id)
        self.record = RecordWriter.create(self.path, header)
        self.record.run = "aa"
        self.outbox = Outbox(self.name, CurrentRecord(self.path, self.record_id, STARTED, self.record))

    def opened(self) -> "Heat":
        assert self.outbox.open() == ""
        return self

    def tell(self, *events: Event) -> None:
        for event, filed in zip(events, self.record.write_events(events, self.patience_s), strict=True):
            self.outbox.tell(event, filed, self.now_s)

    def live(self) -> list[str]:
        return [item.key for item in self.outbox.live(self.now_s)]

    def backlog_items(self) -> list[OutboxItem]:
        items = []
        while self.outbox.backlog_waits:
            items += self.outbox.backlog()
        return items

    def backlog(self) -> list[str]:
        return [item.key for item in self.backlog_items()]

    def end(self) -> None:
        self.record.close()
        self.outbox.close()


@pytest.fixture
def heat(tmp_path: Path) -> Iterator[Callable[..., Heat]]:
    """Give a function that begins a heat in one folder; each is ended with the test."""
    heats: list[Heat] = []

    def begin(record_id: str = "heat-1", **how: object) -> Heat:
        heats.append(Heat(tmp_path, record_id, **how))  # type: ignore[arg-type]
        return heats[-1]

    yield begin
    for each in heats:
        each.end()


Begin = Callable[..., Heat]


def test_an_event_comes_the_moment_it_is_in_the_record_with_its_key_and_its_age(heat: Begin) -> None:
    """The key is the record and the line; readings between are no events."""
    one = heat().opened()
    one.record.write(Reading(1.0, emf_uv=8138.2, junction_c=24.8))
    one.tell(alarm(2.0))
    items = one.outbox.live(103.0)
    assert [(item.key, item.told_s, item.event.alarm) for item in items] == [("heat-1:aa:2", 100.0, "ramp-high")]
    assert one.live() == []


def test_a_line_still_being_written_moves_no_place(heat: Begin) -> None:
    """Half a line is not an event yet: whatever the writer says, the cursor goes by what stands in the file."""
    one = heat().opened()
    assert one.backlog() == []
    one.outbox.tell(message(1.0), Filed(1, "aa"), 100.0)
    one.record._synced = 1
    with one.path.open("ab") as file:
        file.write(b'{"seq":1,"kind":"event","time_s":1.0,"eve')
        file.flush()
        one.outbox.settle(one.outbox.live(100.0)[0], 100.0)
        one.outbox.save_if_due(100.0)
        place = one.outbox._cursor.place("heat-1")
        assert place is not None
        assert place.seq == -1
        file.write(b'nt":"note","text":"x","run":"aa"}\n')
    one.outbox.save_if_due(100.0)
    assert (place.seq, place.offset, place.also) == (1, one.path.stat().st_size, [])


def test_foreign_and_broken_lines_are_passed_over(heat: Begin) -> None:
    """A line that only looks like an event must not stop those behind it."""
    one = heat().opened()
    with one.path.open("ab") as file:
        file.write(b'{"kind":"event"}\nnonsense "kind":"event"\n\n\xff\xfe\n' + b"x" * 300_000 + b"\n")
    one.tell(alarm(2.0))
    keys = one.live() + one.live()
    assert keys == ["heat-1:aa:1"]


def test_what_was_settled_is_not_given_to_the_next_life(heat: Begin) -> None:
    """The cursor goes on from where it was written."""
    one = heat().opened()
    one.tell(alarm(1.0), message(2.0), message(3.0))
    for item in one.outbox.live(100.0)[:2]:
        one.outbox.settle(item, 100.0)
    one.end()
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:aa:3"]


def test_what_was_given_but_not_settled_comes_again_as_history(heat: Begin) -> None:
    """Nobody knows whether it arrived, so it is sent again; it is no longer news."""
    one = heat().opened()
    one.tell(alarm(1.0))
    assert one.live() == ["heat-1:aa:1"]
    one.end()
    two = heat("heat-2").opened()
    items = two.backlog_items()
    assert [(item.key, item.told_s) for item in items] == [("heat-1:aa:1", None)]


def test_what_is_settled_out_of_order_is_remembered_over_a_restart(heat: Begin) -> None:
    """A live alarm passes the backlog; a cursor that were only a number would send it twice or lose the backlog."""
    one = heat().opened()
    one.tell(*(message(float(n)) for n in range(5)))
    items = one.outbox.live(100.0)
    one.outbox.settle(items[3], 100.0)
    one.outbox.settle(items[0], 100.0)
    one.end()
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:aa:2", "heat-1:aa:3", "heat-1:aa:5"]


def test_what_is_given_back_comes_with_the_backlog_once(heat: Begin) -> None:
    """A link that breaks costs nothing but time."""
    one = heat().opened()
    one.backlog()
    one.tell(message(1.0), message(2.0), message(3.0))
    first, second, third = one.outbox.live(100.0)
    one.outbox.settle(second, 100.0)
    one.outbox.give_back(first)
    assert [(item.key, item.told_s) for item in one.backlog_items()] == [("heat-1:aa:1", 100.0)]
    assert one.backlog() == []
    one.outbox.give_back(third)
    one.now_s = 200.0
    assert one.live() == []
    assert [(item.key, item.told_s) for item in one.backlog_items()] == [("heat-1:aa:3", None)]


def test_new_events_come_live_while_a_backlog_is_still_behind(heat: Begin) -> None:
    """And do not come a second time when the backlog reaches them."""
    one = heat().opened()
    one.tell(message(1.0), message(2.0))
    for item in one.outbox.live(100.0):
        one.outbox.give_back(item)
    one.tell(alarm(3.0))
    assert one.live() == ["heat-1:aa:3"]
    assert one.backlog() == ["heat-1:aa:1", "heat-1:aa:2"]
    assert not one.outbox.backlog_waits


def test_older_records_come_first_and_are_forgotten_when_they_are_done(heat: Begin, tmp_path: Path) -> None:
    """The oldest news is the oldest; a finished record needs no place any more."""
    for name in ("heat-1", "heat-2"):
        one = heat(name).opened()
        one.tell(alarm(1.0), message(2.0))
        one.end()
    three = heat("heat-3").opened()
    three.tell(alarm(1.0))
    items = three.backlog_items()
    assert [item.key for item in items] == ["heat-1:aa:1", "heat-1:aa:2", "heat-2:aa:1", "heat-2:aa:2"]
    for item in (*items, *three.outbox.live(100.0)):
        three.outbox.settle(item, 100.0)
    assert three.backlog() == []
    three.end()
    text = (tmp_path / ".mqtt-cursor-furnace-1.json").read_text()
    assert "heat-1" not in text
    assert "heat-2" not in text
    assert '"seq":1' in text


def test_records_from_before_there_was_a_broker_are_left_alone(heat: Begin) -> None:
    """Years of heats are not news because somebody has just set up MQTT."""
    one = heat()
    one.tell(alarm(1.0))
    one.record.close()
    two = heat("heat-2").opened()
    assert two.backlog() == []


def test_another_furnaces_records_in_the_same_folder_are_none_of_ours(heat: Begin) -> None:
    """Two watches may share a folder of heats."""
    other = heat("heat-1", name="furnace-2").opened()
    other.tell(alarm(1.0))
    ours = heat("heat-2", name="furnace-1").opened()
    assert ours.backlog() == []


@pytest.mark.parametrize("deed", ["deleted", "replaced"])
def test_a_record_that_has_gone_is_said_and_skipped(heat: Begin, deed: str) -> None:
    """What it held cannot be sent any more; the heat goes on."""
    one = heat().opened()
    one.tell(alarm(1.0))
    one.end()
    one.path.unlink()
    if deed == "replaced":
        one.path.write_text(
            '{"kind":"header","format":"rampwarden-heat/1","started":"2026-01-02T09:00:00Z","id":"x"}\n'
        )
    two = heat("heat-2").opened()
    assert two.backlog() == []
    word = "is gone" if deed == "deleted" else "is another heat's record now"
    assert list(two.outbox.sayings) == [f"heat-1.jsonl {word}: what it still held is not sent"]


@pytest.mark.parametrize("content", ["", "{", '{"format":"rampwarden-cursor/9"}', '{"records":"x"}', "[1]"])
def test_a_cursor_that_cannot_be_read_is_put_aside_and_the_watch_begins(
    heat: Begin, tmp_path: Path, content: str
) -> None:
    """A torn file must not keep a furnace from being watched."""
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    cursor.write_text(content)
    one = heat().opened()
    assert "put aside" in one.outbox.sayings[0]
    assert cursor.with_suffix(".unreadable").read_text() == content
    one.tell(alarm(1.0))
    assert one.live() == ["heat-1:aa:1"]


def end_with_one_of_two_settled(heat: Heat) -> None:
    """Tell two events, have the first delivered, and end."""
    heat.tell(message(1.0), message(2.0))
    for item in heat.outbox.live(100.0)[:1]:
        heat.outbox.settle(item, 100.0)
    heat.end()


def test_a_record_shorter_than_its_cursor_is_searched_from_the_start(heat: Begin, tmp_path: Path) -> None:
    """A power cut can take lines back; what the cursor calls settled by number stays settled."""
    one = heat().opened()
    assert one.backlog() == []
    end_with_one_of_two_settled(one)
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    written = cursor.read_text()
    assert '"seq":1' in written
    cursor.write_text(re.sub(r'"check":"\w+"', '"check":""', re.sub(r'"offset":\d+', '"offset":999999', written)))
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:aa:2"]


@pytest.mark.parametrize("bit", range(8))
@pytest.mark.parametrize("place", [0.05, 0.3, 0.45, 0.6, 0.8, 0.95])
def test_a_flipped_bit_in_the_cursor_loses_no_event_and_stops_nobody(
    heat: Begin, tmp_path: Path, place: float, bit: int
) -> None:
    """A number that was read as another would pass over events; what is sent twice is known by its key."""
    one = heat().opened()
    end_with_one_of_two_settled(one)
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    data = bytearray(cursor.read_bytes())
    data[int(place * len(data))] ^= 1 << bit
    cursor.write_bytes(data)
    two = heat("heat-2").opened()
    said = " ".join(two.outbox.sayings)
    assert "heat-1:aa:2" in two.backlog() or "earlier records are not sent" in said or "is gone" in said
    two.tell(message(3.0))
    assert two.live() == ["heat-2:aa:1"]


def test_a_number_of_the_cursor_that_was_read_as_another_passes_over_nothing(heat: Begin, tmp_path: Path) -> None:
    """Its checksum tells: the record is sent once more from its beginning."""
    one = heat().opened()
    assert one.backlog() == []
    end_with_one_of_two_settled(one)
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    cursor.write_text(cursor.read_text().replace('"seq":1', '"seq":9'))
    two = heat("heat-2").opened()
    assert "1 of its records are sent once more from their beginning" in two.outbox.sayings[0]
    assert two.backlog() == ["heat-1:aa:1", "heat-1:aa:2"]


def test_a_rotten_line_among_the_undelivered_costs_itself_alone_and_is_said(heat: Begin) -> None:
    """One byte that is no text in one of three events: two are sent, and somebody is told of the third."""
    one = heat().opened()
    one.tell(message(1.0), message(2.0), message(3.0))
    one.end()
    data = one.path.read_bytes()
    at = data.index(b'"text":"', data.index(b'"seq":2')) + 8
    one.path.write_bytes(data[:at] + b"\xff" + data[at + 1 :])
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:aa:1", "heat-1:aa:3"]
    assert [each for each in two.outbox.sayings if "a line of it cannot be read and will not be sent" in each]


def test_what_was_carried_over_from_a_damaged_record_is_sent_from_that_one_alone(heat: Begin, tmp_path: Path) -> None:
    """Under its own key, though nobody can read its first line any more."""
    old = heat().opened()
    old.tell(message(1.0), message(2.0))
    old.end()
    old.path.write_bytes(b"#" + old.path.read_bytes()[1:])
    new = heat("heat-2")
    new.tell(message(1.0), message(2.0), message(3.0))
    new.outbox = Outbox(new.name, CurrentRecord(new.path, new.record_id, STARTED, new.record, carried=2))
    new.opened()
    assert new.backlog() == ["heat-1:aa:1", "heat-1:aa:2", "heat-2:aa:3"]
    new.end()
    # Its own first line says so too: a cursor that is read no more and begun again does not know it.
    header = Header(FORMAT, "2026-01-01T09:00:00Z", id=new.record_id, continued_id=old.record_id, carried=2)
    lines = new.path.read_bytes().splitlines(keepends=True)
    new.path.write_bytes(b"".join([encode_line(header, 0), *lines[1:]]))
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    cursor.write_text(cursor.read_text().replace('"seq":', '"seq":7'))
    assert heat("heat-3").opened().backlog() == ["heat-2:aa:3"]


def test_a_torn_last_line_of_an_old_record_is_no_event_and_no_obstacle(heat: Begin) -> None:
    """What was half written when the power went had not been told to anybody."""
    one = heat().opened()
    one.tell(message(1.0))
    one.end()
    with one.path.open("ab") as file:
        file.write(b'{"seq":7,"kind":"event","time_s":')
    two = heat("heat-2").opened()
    items = two.backlog_items()
    assert [item.key for item in items] == ["heat-1:aa:1"]
    two.outbox.settle(items[0], 100.0)
    assert two.backlog() == []
    assert not two.outbox.backlog_waits


@pytest.fixture
def hanging(monkeypatch: pytest.MonkeyPatch) -> Iterator[HangingDisk]:
    """Give a disk that can be made to hang."""
    disk = HangingDisk(monkeypatch)
    yield disk
    disk.go_on()


def test_an_event_the_disk_has_not_got_is_delivered_under_the_key_it_keeps(heat: Begin, hanging: HangingDisk) -> None:
    """A hanging disk must not silence an alarm; when it answers at last, that is no second news and no second key."""
    one = heat().opened()
    hanging.hang()
    one.patience_s = 0.0
    one.tell(alarm(1.0))
    [item] = one.outbox.live(100.0)
    assert (item.seq, item.key, item.told_s, item.on_disk) == (1, "heat-1:aa:1", 100.0, False)
    one.outbox.settle(item, 100.0)
    hanging.go_on()
    one.record.flush()
    assert one.live() == []
    assert one.backlog() == []
    one.end()
    two = heat("heat-2").opened()
    assert two.backlog() == [], "settled before it was on the disk is settled"


def test_an_event_the_disk_never_got_is_given_from_memory_and_then_from_the_record(
    heat: Begin, hanging: HangingDisk
) -> None:
    """Given back while the disk hangs, and again when it has it: the same key, and at the end marked as on the disk."""
    one = heat().opened()
    assert one.backlog() == []
    hanging.hang()
    one.patience_s = 0.0
    one.tell(alarm(1.0), message(2.0))
    for item in one.outbox.live(100.0):
        one.outbox.give_back(item)
    one.now_s = 200.0
    again = one.backlog_items()
    assert [(item.key, item.on_disk) for item in again] == [("heat-1:aa:1", False), ("heat-1:aa:2", False)]
    assert not one.outbox.backlog_waits, "nothing to do for a sender but wait"
    hanging.go_on()
    one.record.flush()
    for item in again:
        one.outbox.give_back(item)
    one.outbox.save_if_due(200.0)
    items = one.backlog_items()
    assert [(item.key, item.on_disk) for item in items] == [("heat-1:aa:1", True), ("heat-1:aa:2", True)]


def test_while_the_disk_hangs_no_record_is_read(
    heat: Begin, hanging: HangingDisk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On some file systems a reader waits for the writer: then nothing would be sent at all."""
    one = heat("heat-1").opened()
    one.tell(alarm(1.0))
    one.end()
    two = heat("heat-2").opened()
    hanging.hang()
    two.patience_s = 0.0
    two.tell(alarm(2.0))
    reads: list[int] = []
    monkeypatch.setattr(record_queue.os, "pread", lambda *_: reads.append(1) or b"")
    wait_until(lambda: not two.record.is_answering(0.1), "a disk that owes an answer")
    assert two.live() == ["heat-2:aa:1"]
    assert two.backlog() == []
    two.outbox.save_if_due(100.0)
    assert reads == []
    monkeypatch.undo()
    hanging.go_on()
    two.record.flush()
    assert two.backlog() == ["heat-1:aa:1"]


def test_what_was_settled_and_then_lost_with_the_power_settles_nothing_of_the_next_run(
    heat: Begin, hanging: HangingDisk
) -> None:
    """The next run counts from the same number again: its event is another one, and goes out under another key."""
    one = heat().opened()
    one.tell(message(1.0))
    one.outbox.settle(one.outbox.live(100.0)[0], 100.0)
    hanging.hang()
    one.patience_s = 0.0
    one.tell(alarm(2.0))
    one.outbox.settle(one.outbox.live(100.0)[0], 100.0)
    one.outbox.save_if_due(200.0)
    kept = one.path.read_bytes().splitlines(keepends=True)[:2]
    one.outbox.close()
    hanging.go_on()
    one.record.close()
    one.path.write_bytes(b"".join(kept))
    record = RecordWriter.resume(one.path, 2)
    outbox = Outbox(one.name, CurrentRecord(one.path, one.record_id, STARTED, record))
    assert outbox.open() == ""
    for event, filed in zip([alarm(9.0)], record.write_events([alarm(9.0)]), strict=True):
        outbox.tell(event, filed, 300.0)
    [item] = outbox.live(300.0)
    outbox.give_back(item)
    outbox.save_if_due(300.0)
    given = []
    while outbox.backlog_waits:
        given += outbox.backlog()
    assert [(each.seq, each.event.time_s) for each in given] == [(2, 9.0)]
    assert given[0].key != "heat-1:aa:2"
    outbox.close()
    record.close()


def test_a_record_that_was_put_back_is_read_on_where_it_is_now(heat: Begin) -> None:
    """The file has another number for the system then, and may have lines that were not there before."""
    one = heat().opened()
    one.tell(message(1.0))
    one.outbox.settle(one.outbox.live(100.0)[0], 100.0)
    assert one.backlog() == []
    whole = one.path.read_bytes()
    one.path.unlink()
    one.path.write_bytes(whole[: whole.index(b"\n") + 1] + b"a stranger's line\n" + whole[whole.index(b"\n") + 1 :])
    with one.path.open("ab") as file:
        file.write(b'{"seq":2,"kind":"event","time_s":1.0,"event":"note","text":"x","run":"aa"}\n')
    one.outbox.tell(message(2.0), Filed(2, "aa"), 100.0)
    one.record._synced = 2
    [item] = one.outbox.live(100.0)
    one.outbox.save_if_due(100.0)
    one.outbox.give_back(item)
    assert one.backlog() == ["heat-1:aa:2"]


def test_a_run_that_is_no_run_makes_no_key(heat: Begin) -> None:
    """It goes to a broker: what is not of our making stays out of it."""
    one = heat().opened()
    with one.path.open("ab") as file:
        file.write(b'{"seq":1,"kind":"event","time_s":1.0,"event":"note","text":"x","run":"\\u202e#+"}\n')
        file.write(b'{"seq":2,"kind":"event","time_s":1.0,"event":"note","text":"x"}\n')
    one.record._synced = 2
    one.outbox._told = 2
    one.outbox._running._newest_told = 2  # type: ignore[union-attr]
    assert one.backlog() == ["heat-1:2"], "and a line of an older version keeps its old key"


def test_a_refused_event_is_settled_and_its_key_kept(heat: Begin, tmp_path: Path) -> None:
    """It is not sent again, and somebody can see that it was not taken."""
    one = heat().opened()
    one.tell(alarm(1.0))
    [item] = one.outbox.live(100.0)
    one.outbox.refuse(item, "Not authorized", 100.0)
    one.end()
    assert (
        '"refused":[{"key":"heat-1:aa:1","reason":"Not authorized"}]'
        in (tmp_path / ".mqtt-cursor-furnace-1.json").read_text()
    )
    two = heat("heat-2").opened()
    assert two.backlog() == []
    assert two.outbox.refused_count == 1


def test_the_cursor_is_written_after_twenty_settled_or_two_seconds(
    heat: Begin, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It bounds what a kill repeats, without a disk write for every message."""
    one = heat().opened()
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    saved: list[str] = []
    sound = CursorFile.save

    def noted(self: CursorFile, data: bytes) -> str:
        saved.append(data.decode())
        return sound(self, data)

    monkeypatch.setattr(CursorFile, "save", noted)
    assert one.backlog() == []
    one.tell(*(message(float(n)) for n in range(40)))
    items = one.outbox.live(100.0)
    for item in items[:19]:
        one.outbox.settle(item, 100.0)
        one.outbox.save_if_due(100.0)
    one.outbox.settle(items[19], 100.0)
    one.outbox.save_if_due(100.0)
    wait_until(lambda: '"seq":20' in cursor.read_text(), "the cursor after twenty")
    one.outbox.settle(items[20], 100.0)
    one.outbox.save_if_due(101.9)
    one.outbox.save_if_due(102.1)
    wait_until(lambda: '"seq":21' in cursor.read_text(), "the cursor after two seconds")
    assert [seq for written in saved for seq in (-1, 20, 21) if f'"seq":{seq},' in written] == [20, 21]


def test_a_cursor_is_on_the_disk_before_it_takes_the_place_of_the_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A power cut leaves the old cursor or the new one: bytes, then name, then the folder that holds the name."""
    file, done = CursorFile(tmp_path, "furnace-1"), list[str]()

    def synced(descriptor: int) -> None:
        status = os.fstat(descriptor)
        named = "new" if file.path.exists() and file.path.read_bytes() == b"new" else "old"
        done.append(
            f"the folder, {named} name" if stat.S_ISDIR(status.st_mode) else f"{status.st_size} bytes, {named} name"
        )

    file.path.write_bytes(b"before")
    monkeypatch.setattr(outbox_cursor.os, "fsync", synced)
    assert file.save(b"new") == ""
    assert done == ["3 bytes, old name", "the folder, new name"]


def test_a_cursor_that_cannot_be_written_is_said_once_and_delivery_goes_on(heat: Begin, tmp_path: Path) -> None:
    """Then a restart repeats more; that is all."""
    one = heat().opened()
    (tmp_path / ".mqtt-cursor-furnace-1.tmp").mkdir()
    one.tell(*(message(float(n)) for n in range(60)))
    items = one.outbox.live(100.0)
    for item in items:
        one.outbox.settle(item, 100.0)
        one.outbox.save_if_due(100.0)
    assert len(items) == 60

    def said() -> bool:
        one.outbox.save_if_due(100.0)
        return bool(one.outbox.sayings)

    wait_until(said, "the trouble said")
    one.outbox.settle(items[0], 100.0)
    one.end()
    assert len(one.outbox.sayings) == 1
    assert "cannot be written" in one.outbox.sayings[0]


def test_only_one_process_delivers_for_a_furnace(heat: Begin) -> None:
    """The second is told who has the lock, and may have it once it is free."""
    one = heat().opened()
    two = heat("heat-2")
    assert "another watch on this computer" in two.outbox.open()
    two.tell(alarm(1.0))
    assert two.live() == []
    one.end()
    assert two.outbox.open() == ""
    assert two.backlog() == ["heat-2:aa:1"]


@given(seed=st.integers(0, 10_000))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_happens_every_event_is_settled_in_the_end(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    """Told, settled, given back, killed without a last word, in any order: nothing is left out at the end."""
    chance = random.Random(seed)
    folder = tmp_path_factory.mktemp("heats")
    told: set[str] = set()
    settled: Counter[str] = Counter()
    for life in range(4):
        heat = Heat(folder, f"heat-{life}").opened()
        held: list[OutboxItem] = []
        number = 0
        for _ in range(chance.randrange(60) if life < 3 else 0):
            match chance.choice(
                ["tell", "read", "live", "live", "backlog", "backlog", "settle", "settle", "back", "save"]
            ):
                case "tell":
                    number += 1
                    heat.tell(message(float(number)))
                    told.add(f"heat-{life}:aa:{heat.record._seq - 1}")
                case "read":
                    heat.record.write(Reading(float(number), temp_c=20.0))
                    heat.record.flush()
                case "live":
                    held += heat.outbox.live(heat.now_s)
                case "backlog" if heat.outbox.backlog_waits:
                    held += heat.outbox.backlog()
                case "settle" if held:
                    item = held.pop(chance.randrange(len(held)))
                    settled[item.key] += 1
                    heat.outbox.settle(item, heat.now_s)
                case "back" if held:
                    heat.outbox.give_back(held.pop(chance.randrange(len(held))))
                case "save":
                    heat.outbox.save_if_due(heat.now_s + 10)
            heat.now_s += chance.choice([0.0, 0.1, 7.0])
            assert len({item.key for item in held}) == len(held), "an event given twice at once"
        if life == 3:
            held += heat.outbox.live(heat.now_s) + heat.backlog_items()
            settled.update(item.key for item in held)
        if chance.random() < 0.5 and heat.outbox._writer is not None:
            # A kill: the lock and the files go, nothing more is written.
            heat.outbox._writer.put = lambda _cursor: None  # type: ignore[method-assign]
        heat.end()
    assert set(settled) == told
