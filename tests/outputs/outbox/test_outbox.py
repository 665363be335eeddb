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

from rampwarden.core.model import Event, Reading
from rampwarden.outputs.outbox import cursor as outbox_cursor
from rampwarden.outputs.outbox.cursor import CursorFile
from rampwarden.outputs.outbox.outbox import CurrentRecord, Outbox
from rampwarden.outputs.outbox.record_queue import OutboxItem
from rampwarden.records.record_lines import FORMAT, Header
from rampwarden.records.record_writer import RecordWriter


@dataclass
class Heat:
    """A record being written and the outbox that reads it, as one life of a furnace has them."""

    folder: Path
    record_id: str = "heat-1"
    now_s: float = 100.0
    name: str = "furnace-1"
    outbox: Outbox = field(init=False)

    def __post_init__(self) -> None:
        self.path = self.folder / f"{self.record_id}.jsonl"
        header = Header(FORMAT, "2026-01-01T09:00:00Z", id=self.record_id)
        self.record = RecordWriter.create(self.path, header)
        self.outbox = Outbox(self.name, CurrentRecord(self.path, self.record_id, STARTED))

    def opened(self) -> "Heat":
        assert self.outbox.open() == ""
        return self

    def tell(self, *events: Event) -> None:
        self.record.write_events(list(events))
        for event in events:
            self.outbox.tell(event, self.now_s)

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
        each.outbox.close()


Begin = Callable[..., Heat]


def test_an_event_comes_the_moment_it_is_in_the_record_with_its_key_and_its_age(heat: Begin) -> None:
    """The key is the record and the line; readings between are no events."""
    one = heat().opened()
    one.record.write(Reading(1.0, emf_uv=8138.2, junction_c=24.8))
    one.tell(alarm(2.0))
    items = one.outbox.live(103.0)
    assert [(item.key, item.told_s, item.event.alarm) for item in items] == [("heat-1:2", 100.0, "ramp-high")]
    assert one.live() == []


def test_a_line_still_being_written_waits_until_it_is_whole(heat: Begin) -> None:
    """Half a line is not an event yet."""
    one = heat().opened()
    with one.path.open("ab") as file:
        file.write(b'{"seq":1,"kind":"event","time_s":1.0,"eve')
        file.flush()
        assert one.live() == []
        file.write(b'nt":"note","text":"x"}\n')
    assert one.live() == ["heat-1:1"]


def test_foreign_and_broken_lines_are_passed_over(heat: Begin) -> None:
    """A line that only looks like an event must not stop those behind it."""
    one = heat().opened()
    with one.path.open("ab") as file:
        file.write(b'{"kind":"event"}\nnonsense "kind":"event"\n\n\xff\xfe\n' + b"x" * 300_000 + b"\n")
    one.tell(alarm(2.0))
    keys = one.live() + one.live()
    assert keys == ["heat-1:1"]


def test_what_was_settled_is_not_given_to_the_next_life(heat: Begin) -> None:
    """The cursor goes on from where it was written."""
    one = heat().opened()
    one.tell(alarm(1.0), message(2.0), message(3.0))
    for item in one.outbox.live(100.0)[:2]:
        one.outbox.settle(item, 100.0)
    one.end()
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:3"]


def test_what_was_given_but_not_settled_comes_again_as_history(heat: Begin) -> None:
    """Nobody knows whether it arrived, so it is sent again; it is no longer news."""
    one = heat().opened()
    one.tell(alarm(1.0))
    assert one.live() == ["heat-1:1"]
    one.end()
    two = heat("heat-2").opened()
    items = two.backlog_items()
    assert [(item.key, item.told_s) for item in items] == [("heat-1:1", None)]


def test_what_is_settled_out_of_order_is_remembered_over_a_restart(heat: Begin) -> None:
    """A live alarm passes the backlog; a cursor that were only a number would send it twice or lose the backlog."""
    one = heat().opened()
    one.tell(*(message(float(n)) for n in range(5)))
    items = one.outbox.live(100.0)
    one.outbox.settle(items[3], 100.0)
    one.outbox.settle(items[0], 100.0)
    one.end()
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:2", "heat-1:3", "heat-1:5"]


def test_what_is_given_back_comes_with_the_backlog_once(heat: Begin) -> None:
    """A link that breaks costs nothing but time."""
    one = heat().opened()
    one.backlog()
    one.tell(message(1.0), message(2.0), message(3.0))
    first, second, third = one.outbox.live(100.0)
    one.outbox.settle(second, 100.0)
    one.outbox.give_back(first)
    assert [(item.key, item.told_s) for item in one.backlog_items()] == [("heat-1:1", 100.0)]
    assert one.backlog() == []
    one.outbox.give_back(third)
    one.now_s = 200.0
    assert one.live() == []
    assert [(item.key, item.told_s) for item in one.backlog_items()] == [("heat-1:3", None)]


def test_new_events_come_live_while_a_backlog_is_still_behind(heat: Begin) -> None:
    """And do not come a second time when the backlog reaches them."""
    one = heat().opened()
    one.tell(message(1.0), message(2.0))
    for item in one.outbox.live(100.0):
        one.outbox.give_back(item)
    one.tell(alarm(3.0))
    assert one.live() == ["heat-1:3"]
    assert one.backlog() == ["heat-1:1", "heat-1:2"]
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
    assert [item.key for item in items] == ["heat-1:1", "heat-1:2", "heat-2:1", "heat-2:2"]
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
    assert one.live() == ["heat-1:1"]


def test_a_record_shorter_than_its_cursor_is_searched_from_the_start(heat: Begin, tmp_path: Path) -> None:
    """A power cut can take lines back; what the cursor calls settled by number stays settled."""
    one = heat().opened()
    assert one.backlog() == []
    one.tell(message(1.0), message(2.0))
    for item in one.outbox.live(100.0)[:1]:
        one.outbox.settle(item, 100.0)
    one.end()
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    written = cursor.read_text()
    assert '"seq":1' in written
    cursor.write_text(re.sub(r'"check":"\w+"', '"check":""', re.sub(r'"offset":\d+', '"offset":999999', written)))
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:2"]


@pytest.mark.parametrize("bit", range(8))
@pytest.mark.parametrize("place", [0.05, 0.3, 0.45, 0.6, 0.8, 0.95])
def test_a_flipped_bit_in_the_cursor_loses_no_event_and_stops_nobody(
    heat: Begin, tmp_path: Path, place: float, bit: int
) -> None:
    """A number that was read as another would pass over events; what is sent twice is known by its key."""
    one = heat().opened()
    one.tell(message(1.0), message(2.0))
    for item in one.outbox.live(100.0)[:1]:
        one.outbox.settle(item, 100.0)
    one.end()
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    data = bytearray(cursor.read_bytes())
    data[int(place * len(data))] ^= 1 << bit
    cursor.write_bytes(data)
    two = heat("heat-2").opened()
    said = " ".join(two.outbox.sayings)
    assert "heat-1:2" in two.backlog() or "earlier records are not sent" in said or "is gone" in said
    two.tell(message(3.0))
    assert two.live() == ["heat-2:1"]


def test_a_number_of_the_cursor_that_was_read_as_another_passes_over_nothing(heat: Begin, tmp_path: Path) -> None:
    """Its checksum tells: the record is sent once more from its beginning."""
    one = heat().opened()
    assert one.backlog() == []
    one.tell(message(1.0), message(2.0))
    for item in one.outbox.live(100.0)[:1]:
        one.outbox.settle(item, 100.0)
    one.end()
    cursor = tmp_path / ".mqtt-cursor-furnace-1.json"
    cursor.write_text(cursor.read_text().replace('"seq":1', '"seq":9'))
    two = heat("heat-2").opened()
    assert "1 of its records are sent once more from their beginning" in two.outbox.sayings[0]
    assert two.backlog() == ["heat-1:1", "heat-1:2"]


def test_a_rotten_line_among_the_undelivered_costs_itself_alone_and_is_said(heat: Begin) -> None:
    """One byte that is no text in one of three events: two are sent, and somebody is told of the third."""
    one = heat().opened()
    one.tell(message(1.0), message(2.0), message(3.0))
    one.end()
    data = one.path.read_bytes()
    at = data.index(b'"text":"', data.index(b'"seq":2')) + 8
    one.path.write_bytes(data[:at] + b"\xff" + data[at + 1 :])
    two = heat("heat-2").opened()
    assert two.backlog() == ["heat-1:1", "heat-1:3"]
    assert [each for each in two.outbox.sayings if "a line of it cannot be read and will not be sent" in each]


def test_what_was_carried_over_from_a_damaged_record_is_sent_from_that_one_alone(heat: Begin, tmp_path: Path) -> None:
    """Under its own key, though nobody can read its first line any more."""
    old = heat().opened()
    old.tell(message(1.0), message(2.0))
    old.end()
    old.path.write_bytes(b"#" + old.path.read_bytes()[1:])
    new = heat("heat-2")
    new.tell(message(1.0), message(2.0), message(3.0))
    new.outbox = Outbox(new.name, CurrentRecord(new.path, new.record_id, STARTED, carried=2))
    new.opened()
    assert new.backlog() == ["heat-1:1", "heat-1:2", "heat-2:3"]


def test_a_torn_last_line_of_an_old_record_is_no_event_and_no_obstacle(heat: Begin) -> None:
    """What was half written when the power went had not been told to anybody."""
    one = heat().opened()
    one.tell(message(1.0))
    one.end()
    with one.path.open("ab") as file:
        file.write(b'{"seq":7,"kind":"event","time_s":')
    two = heat("heat-2").opened()
    items = two.backlog_items()
    assert [item.key for item in items] == ["heat-1:1"]
    two.outbox.settle(items[0], 100.0)
    assert two.backlog() == []
    assert not two.outbox.backlog_waits


def test_an_event_the_disk_would_not_take_is_still_delivered_and_later_is_no_news(heat: Begin) -> None:
    """A full disk must not silence an alarm; when it is written at last, it is history."""
    one = heat().opened()
    event = alarm(1.0)
    one.outbox.tell(event, 100.0)
    [item] = one.outbox.live(100.0)
    assert (item.seq, item.key, item.event, item.told_s) == (None, "heat-1:unrecorded-1.0-1", event, 100.0)
    one.outbox.settle(item, 100.0)
    one.record.write_events([event])
    [again] = one.outbox.live(200.0)
    assert (again.key, again.told_s) == ("heat-1:1", None)


def test_an_event_found_before_it_is_told_is_not_taken_for_one_the_disk_refused(heat: Begin) -> None:
    """The sender may look between the writing and the telling."""
    one = heat().opened()
    one.record.write_events([alarm(1.0)])
    assert one.live() == ["heat-1:1"]
    one.outbox.tell(alarm(1.0), 100.0)
    assert one.live() == []


def test_a_refused_event_is_settled_and_its_key_kept(heat: Begin, tmp_path: Path) -> None:
    """It is not sent again, and somebody can see that it was not taken."""
    one = heat().opened()
    one.tell(alarm(1.0))
    [item] = one.outbox.live(100.0)
    one.outbox.refuse(item, "Not authorized", 100.0)
    one.end()
    assert (
        '"refused":[{"key":"heat-1:1","reason":"Not authorized"}]'
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
    assert two.backlog() == ["heat-2:1"]


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
                    told.add(f"heat-{life}:{heat.record._seq - 1}")
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
