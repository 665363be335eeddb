"""A start never refuses an unfinished heat, whatever is wrong with its record or its folder, and always says so.

Damages are drawn from seeds: any length, any place. The heat stands in its soak with an alarm that nobody has
acknowledged, so that a start afresh could be told from one that goes on.
"""

import errno
import os
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import pytest
from tests.assembly.broken_off_heat import PORT, SCHEDULE, SOAKED_S, TABLE, WATCHED_S, broken_off

from rampwarden.assembly import heat_start, record_places, unfinished_record
from rampwarden.assembly.heat_start import LostHeat, WatchedHeat, find_heat, fresh_heat, unfinished_heat
from rampwarden.assembly.record_places import provisional_folders
from rampwarden.clock import present_moment
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import ClockMark, Event, EventName, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.errors import RecordError
from rampwarden.outputs.outbox import CurrentRecord, Outbox
from rampwarden.outputs.outbox.cursor import Cursor, CursorFile, CursorPosition, encoded
from rampwarden.records.record_lines import End
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.replay import Replay
from rampwarden.settings import Settings, load_settings

pytestmark = pytest.mark.long


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Settings:
    """Give the settings of a workshop whose folders are all below `tmp_path`."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "run"))
    (tmp_path / "schedule.toml").write_text(SCHEDULE)
    return load_settings(None, {"board.port": PORT, "watch.records": str(tmp_path / "heats")}, {}).settings


@contextmanager
def started(settings: Settings, schedule: Path | None = None) -> Iterator[WatchedHeat | LostHeat]:
    """Start as the watch does, and let the record go afterwards."""
    heat = unfinished_heat(settings, find_heat(settings), schedule)
    yield heat
    if isinstance(heat, WatchedHeat):
        heat.writer.close()


def go_on(heat: WatchedHeat) -> Path:
    """Watch a little further and close the record."""
    for item in (ClockMark(heat.already_s), Notice(heat.already_s, NoticeName.WATCH_RESUMED)):
        heat.writer.write(item)
        heat.writer.write_events(heat.monitor.feed(item))
    for second in range(1, 4):
        reading = Reading(heat.already_s + second, temp_c=100.0)
        heat.writer.write(reading)
        heat.writer.write_events(heat.monitor.feed(reading))
    heat.writer.write(End(heat.already_s + 4.0, "stopped"))
    heat.writer.close()
    return heat.writer.path


def refusing(why: int) -> RecordError:
    error = RecordError(os.strerror(why))
    error.__cause__ = OSError(why, os.strerror(why))
    return error


def said(heat: WatchedHeat | LostHeat) -> str:
    return "; ".join((heat.trouble, *heat.shape))


def damaged(data: bytes, chance: random.Random) -> tuple[bytes, int]:
    """Damage a record somewhere; gives it and how many of its bytes are not as they were."""
    length = min(len(data), int(2 ** chance.uniform(0, 18)))
    at = chance.choice((0, len(data) - length, chance.randrange(len(data) - length + 1)))
    match chance.randrange(6):
        case 0:
            return data[:at], len(data) - at
        case 1:
            return data[:at] + bytes(length) + data[at + length :], length
        case 2:
            return data[:at] + chance.randbytes(length) + data[at + length :], length
        case 3:
            return data + (bytes(length) if chance.random() < 0.5 else chance.randbytes(length)), 0
        case 4:
            bit = bytearray(data)
            bit[at] ^= 1 << chance.randrange(8)
            return bytes(bit), 1
        case _:
            return data[:at] + data[at + length :], length


@pytest.mark.parametrize("seed", range(120))
def test_a_damaged_record_is_gone_on_with_or_its_loss_is_said(shop: Settings, tmp_path: Path, seed: int) -> None:
    """Whatever is whole of it counts; and the record the heat goes on in replays to where the watch stands."""
    chance = random.Random(seed)
    path = broken_off(shop)
    whole = path.read_bytes()
    data, lost = damaged(whole, chance)
    path.write_bytes(data)
    with started(shop, tmp_path / "schedule.toml") as heat:
        if isinstance(heat, LostHeat):
            readings = data.count(b'"kind":"reading"')
            assert heat.trouble, f"given up in silence with {readings} readings left"
            assert readings <= 1, f"{heat.trouble}: {readings} readings were left"
            return
        assert heat.taken_up
        assert heat.writer.path.exists()
        if lost > 200:
            is_cut_short = data == whole[: len(data)]
            assert said(heat) or is_cut_short or "torn" in heat.taken_up, "lines are missing and nothing is said"
        if lost < 2000:
            assert heat.monitor.soaked_s > SOAKED_S - 60, "the soak's clock goes on"
        state = heat.monitor.status()
        record = go_on(heat)
    with RecordReader(record) as reader:
        replayed = Monitor(heat.schedule)
        list(Replay(replayed).events(reader))
    assert replayed.soaked_s >= state.soaked_s
    assert {alarm.alarm for alarm in replayed.status().alarms} >= {alarm.alarm for alarm in state.alarms}


@pytest.mark.parametrize(("gone", "words"), [(1, "a line of it is gone"), (40, "40 lines of it are gone")])
def test_lines_that_were_cut_cleanly_out_of_a_record_are_missed(shop: Settings, gone: int, words: str) -> None:
    """Every line that is left can be read; their numbers tell."""
    path = broken_off(shop)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:500] + lines[500 + gone :]))
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert words in said(heat)
        assert heat.writer.path == path


def test_a_line_that_cannot_be_read_is_not_counted_as_gone_as_well(shop: Settings) -> None:
    """It stands where it stood; only what is not there at all is gone."""
    path = broken_off(shop)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:500], b"{rotten}\n", *lines[501:505], *lines[508:]]))
    with started(shop) as heat:
        assert "a line of it cannot be read" in said(heat)
        assert "3 lines of it are gone" in said(heat)


def test_a_sound_record_is_gone_on_with_in_itself_and_nothing_is_said(shop: Settings, tmp_path: Path) -> None:
    """So that what is said means something."""
    path = broken_off(shop)
    with started(shop, tmp_path / "schedule.toml") as heat:
        assert isinstance(heat, WatchedHeat)
        assert (heat.writer.path, said(heat), heat.trouble_stands) == (path, "", False)
        assert heat.keeper.picture().about.record == str(path)


@pytest.mark.parametrize("rubbish", [b"\0", b"\xa5", b"\n"])
def test_rubbish_of_any_length_at_the_end_costs_nothing_that_stands_before_it(shop: Settings, rubbish: bytes) -> None:
    """Far more than any line; what comes then is numbered on and stands alone."""
    path = broken_off(shop)
    with path.open("ab") as file:
        file.write(rubbish * 300_000)
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert heat.monitor.time_s == WATCHED_S
        record = go_on(heat)
    assert record == path
    with RecordReader(record) as reader:
        assert isinstance(list(reader)[-1], End)


def test_a_record_that_was_gone_on_with_anew_names_the_old_one_and_is_taken_up_itself(
    shop: Settings, tmp_path: Path
) -> None:
    """Alarm, soak clock and place in the schedule are kept; the damaged file stays as it is."""
    path = broken_off(shop)
    data = b"#" + path.read_bytes()[1:]
    path.write_bytes(data)
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert heat.trouble == (
            "broken-off.jsonl cannot be continued (its first line is damaged): "
            "the heat goes on in broken-off-continued.jsonl"
        )
        assert (heat.header.continues, heat.header.continued_id) == ("broken-off.jsonl", "0123456789abcdef")
        assert heat.header.id != "0123456789abcdef"
        assert heat.keeper.picture().about.record.endswith("broken-off-continued.jsonl")
        soaked_s = heat.monitor.soaked_s
    assert path.read_bytes() == data
    with started(shop) as again:
        assert isinstance(again, WatchedHeat)
        assert (again.writer.path.name, again.trouble) == ("broken-off-continued.jsonl", "")
        assert again.monitor.soaked_s == soaked_s
        assert [event.alarm for event in again.unacknowledged] == [event.alarm for event in heat.unacknowledged]


def test_a_line_dated_years_ahead_is_not_believed(shop: Settings) -> None:
    """One flipped bit must not make every later reading an old one; the new record tells what the watch goes on by."""
    path = broken_off(shop)
    data = path.read_bytes().replace(b'"time_s":400.0,', b'"time_s":840400.0,', 1)
    path.write_bytes(data)
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert "a line of it cannot be dated as written" in heat.trouble
        assert heat.monitor.time_s == WATCHED_S
        assert heat.monitor.soaked_s > SOAKED_S


@pytest.mark.parametrize("time_s", ["1e300", "-1e300", "9e6"])
def test_a_last_line_dated_beyond_the_present_is_not_believed(shop: Settings, time_s: str) -> None:
    """Neither is a traceback made of it."""
    path = broken_off(shop)
    with path.open("ab") as file:
        file.write(b'{"seq":9999,"kind":"reading","time_s":%b,"temp_c":100.0}\n' % time_s.encode())
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert heat.monitor.time_s == WATCHED_S
        assert said(heat)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda file: file.write_text(SCHEDULE.replace("2 h", "3 h")), "is not what this heat began under"),
        (lambda file: file.write_text("title = ["), "not a TOML file"),
        (lambda file: file.write_text("title = 'none'"), "schedule"),
        (lambda file: file.write_bytes(b"\xff\xfe"), "not a TOML file"),
        (lambda file: file.write_text("x = " + "9" * 5000), "not a TOML file"),
        (lambda file: file.unlink(), "cannot read the schedule"),
    ],
)
def test_the_records_own_schedule_rules_the_unfinished_heat_and_it_is_said(
    shop: Settings, tmp_path: Path, change: Callable[[Path], object], words: str
) -> None:
    """A schedule that is edited during a heat counts from the next one."""
    broken_off(shop)
    file = tmp_path / "schedule.toml"
    change(file)
    with started(shop, file) as heat:
        assert isinstance(heat, WatchedHeat)
        assert heat.schedule == parse_schedule(TABLE, "test")
        assert words in heat.shape[0]
        assert "this heat goes on under the schedule in its record, broken-off.jsonl" in heat.shape[0]


def test_a_schedule_that_is_lost_with_the_header_is_taken_from_its_file(shop: Settings, tmp_path: Path) -> None:
    """And where that is lost too, a new heat may be refused, but by name."""
    path = broken_off(shop)
    _, rest = path.read_bytes().split(b"\n", 1)
    path.write_bytes(b"\0" * 300 + b"\n" + rest)
    with started(shop, tmp_path / "schedule.toml") as heat:
        assert isinstance(heat, WatchedHeat)
        assert "the heat goes on under" in heat.shape[0]
    heat.writer.path.unlink()
    with started(shop, None) as lost:
        assert isinstance(lost, LostHeat)
        assert "its schedule cannot be read" in lost.trouble


@pytest.mark.parametrize("why", [errno.EROFS, errno.EACCES, errno.EIO])
def test_a_folder_that_cannot_be_written_costs_no_heat(
    shop: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, why: int
) -> None:
    """It goes on in a provisional place; at the next start, in its folder again if that can be written by then."""
    path = broken_off(shop)
    resume, begin_anew = RecordWriter.resume, unfinished_record.begin_anew

    def resumed(at: Path, next_seq: int) -> RecordWriter:
        if at == path:
            raise refusing(why)
        return resume(at, next_seq)

    def begun(*arguments: object) -> object:
        if arguments[-1] == path.parent:
            raise refusing(why)
        return begin_anew(*arguments)  # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr(RecordWriter, "resume", resumed)
        patch.setattr(unfinished_record, "begin_anew", begun)
        with started(shop) as heat:
            assert isinstance(heat, WatchedHeat)
            assert heat.trouble_stands
            assert heat.writer.path == tmp_path / "run" / "records" / "broken-off-continued.jsonl"
            assert os.strerror(why) in heat.trouble
            assert f"kept in {heat.writer.path} for now" in heat.trouble
            soaked_s = heat.monitor.soaked_s
        with started(shop) as again:
            assert isinstance(again, WatchedHeat)
            assert (again.writer.path, again.trouble_stands) == (heat.writer.path, True)
    with started(shop) as home:
        assert isinstance(home, WatchedHeat)
        assert (home.writer.path.parent, home.trouble_stands) == (path.parent, False)
        assert home.monitor.soaked_s == soaked_s


def test_where_no_disk_is_to_be_had_the_record_is_kept_in_memory(
    shop: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The watch starts all the same, and says what will be lost."""
    path = broken_off(shop)
    resume = RecordWriter.resume

    def resumed(at: Path, next_seq: int) -> RecordWriter:
        if at.suffix:
            raise refusing(errno.EROFS)
        return resume(at, next_seq)

    monkeypatch.setattr(RecordWriter, "resume", resumed)
    monkeypatch.setattr(unfinished_record, "provisional_folders", lambda _environment: iter(()))
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert "kept in memory alone" in heat.trouble
        assert heat.writer.path != path
        with RecordReader(heat.writer.path) as reader:
            replayed = Monitor(heat.schedule)
            list(Replay(replayed).events(reader))
        assert replayed.status() == heat.monitor.status()


def test_a_fresh_heats_record_goes_elsewhere_and_home_at_its_end(shop: Settings, tmp_path: Path) -> None:
    """Where its folder is a file, as on a disk that could not be mounted."""
    shop.watch.records.write_text("no folder")
    heat = fresh_heat(shop, tmp_path / "schedule.toml", None, lasting=True)
    assert heat.trouble_stands
    assert heat.writer.path.parent == tmp_path / "run" / "records"
    heat.writer.close()
    where, sentence = record_places.bring_home(heat.writer.path, shop.watch.records)
    assert where == heat.writer.path
    assert f"save it: cp {where}" in sentence
    shop.watch.records.unlink()
    home, sentence = record_places.bring_home(heat.writer.path, shop.watch.records)
    assert (home.parent, heat.writer.path.exists()) == (shop.watch.records, False)
    assert f"brought to {home}" in sentence
    with RecordReader(home) as reader:
        assert reader.header.id == heat.header.id


def test_a_fresh_heats_record_goes_elsewhere_when_there_is_no_room_for_it(
    shop: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk takes the file and not a byte of it: nothing of the heat may wait in memory alone for that."""
    write = os.write

    def full(descriptor: int, data: bytes) -> int:
        if Path(f"/proc/self/fd/{descriptor}").readlink().parent == shop.watch.records:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return write(descriptor, data)

    monkeypatch.setattr(os, "write", full)
    heat = fresh_heat(shop, tmp_path / "schedule.toml", None, lasting=True)
    assert heat.writer.path.parent == tmp_path / "run" / "records"
    assert "No space left on device" in heat.trouble
    assert "save it before this computer is switched off" in heat.trouble
    assert list(shop.watch.records.iterdir()) == []
    heat.writer.write(Reading(1.0, temp_c=20.0))
    heat.writer.close()
    assert len(heat.writer.path.read_bytes().splitlines()) == 2


def test_what_waited_in_a_provisional_place_goes_out_from_home_under_its_keys(
    shop: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The broker was away, and the record's folder too; home is on the disk before the other is given up."""
    shop.watch.records.write_text("no folder")
    heat = fresh_heat(shop, tmp_path / "schedule.toml", None, lasting=True)
    began = datetime.fromisoformat(heat.header.started)
    before = Outbox("left", CurrentRecord(heat.writer.path, heat.header.id, began, heat.writer))
    assert before.open() == ""
    told = [Event(float(second), EventName.NOTE, text=str(second)) for second in range(3)]
    for event, filed in zip(told, heat.writer.write_events(told, 30.0), strict=True):
        before.tell(event, filed, 100.0)
    first, *rest = before.live(100.0)
    before.settle(first, 100.0)
    heat.writer.close()
    before.close()
    shop.watch.records.unlink()
    synced: list[Path] = []
    monkeypatch.setattr(record_places, "sync_folder", synced.append)
    home, sentence = record_places.bring_home(heat.writer.path, shop.watch.records, "left")
    assert sentence == f"the record has been brought to {home}"
    assert synced == [shop.watch.records]
    next_heat = fresh_heat(shop, tmp_path / "schedule.toml", None, lasting=True)
    after = Outbox("left", CurrentRecord(next_heat.writer.path, next_heat.header.id, began, next_heat.writer))
    assert after.open() == ""
    given: list[str] = []
    while after.backlog_waits:
        given += [item.key for item in after.backlog()]
    assert given == [item.key for item in rest]
    assert not after.sayings
    after.close()
    next_heat.writer.close()


def test_a_cursor_that_another_watch_holds_is_not_written_to(shop: Settings, tmp_path: Path) -> None:
    """It is said that what waits is not sent; the record comes home all the same."""
    shop.watch.records.mkdir()
    old = tmp_path / "run" / "records"
    old.mkdir(parents=True)
    (old / "heat.jsonl").write_text("{}\n")
    other = CursorFile(shop.watch.records, "left")
    assert other.lock() == ""
    home, sentence = record_places.bring_home(old / "heat.jsonl", shop.watch.records, "left")
    assert home.parent == shop.watch.records
    assert "already sends for this furnace" in sentence
    assert sentence.endswith("what the broker has not got of heat.jsonl is not sent")
    other.close()


def test_a_heat_taken_up_from_a_provisional_place_brings_its_old_record_home(shop: Settings) -> None:
    """It goes on in a new record there; what waits of the old one is sent from beside it."""
    folder = next(provisional_folders(os.environ))
    away = shop.model_copy(update={"watch": shop.watch.model_copy(update={"records": folder})})
    folder.mkdir(parents=True)
    path = broken_off(away)
    cursor = CursorFile(folder, shop.mqtt.device)
    assert cursor.save(encoded(Cursor(records=[CursorPosition("0123456789abcdef", path.name, 7)]))) == ""
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert heat.writer.path.parent == shop.watch.records
        assert not path.exists()
        assert f"brought to {shop.watch.records / path.name}" in said(heat)
        brought = CursorFile(shop.watch.records, shop.mqtt.device).load().cursor
        assert [(each.id, each.file, each.seq) for each in brought.records] == [("0123456789abcdef", path.name, 7)]


def test_a_rehearsal_is_refused_its_record(shop: Settings, tmp_path: Path) -> None:
    """There is no furnace to watch."""
    shop.watch.records.write_text("no folder")
    with pytest.raises(RecordError, match="is a file, not a folder"):
        fresh_heat(shop, tmp_path / "schedule.toml", None, lasting=False)


def test_a_clock_that_gives_the_same_second_twice_gives_two_records(shop: Settings, tmp_path: Path) -> None:
    """A host without a battery begins each time in the same second of 1970."""
    first = fresh_heat(shop, tmp_path / "schedule.toml", None, lasting=True)
    first.writer.close()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(heat_start, "record_path", lambda *_: first.writer.path)
        second = fresh_heat(shop, tmp_path / "schedule.toml", None, lasting=True)
    second.writer.close()
    assert second.writer.path.name == f"{first.writer.path.stem}-2.jsonl"


def test_a_heat_that_is_too_old_is_given_up_with_a_word(shop: Settings) -> None:
    """Longer ago than anybody wants to go on with it."""
    now = present_moment()
    broken_off(shop, zero_s=round(now.host_s - 60_000.0, 3))
    with started(shop) as lost:
        assert isinstance(lost, LostHeat)
        assert lost.shape == (
            "broken-off.jsonl: was broken off 16 h 25 min ago and not closed; that is longer than "
            "watch.resume_within (12 h), so a new heat begins",
        )


def test_an_unexpected_fault_of_the_replay_costs_the_heat_and_not_the_watch(
    shop: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody has thought of everything that may stand in a file."""
    broken_off(shop)
    monkeypatch.setattr(heat_start, "take_up", lambda *_, **__: 1 / 0)
    with started(shop) as lost:
        assert isinstance(lost, LostHeat)
        assert "cannot be replayed (ZeroDivisionError" in lost.trouble


def test_a_header_of_which_only_pieces_are_left_gives_the_rest(shop: Settings) -> None:
    """Each field by itself: a schedule that is whole is watched, though what stood before it is not."""
    path = broken_off(shop, crucible="A3", metal="bronze")
    data = path.read_bytes()
    at = data.index(b'"started"')
    path.write_bytes(data[:at] + b"\xff" * 12 + data[at + 12 :])
    with started(shop) as heat:
        assert isinstance(heat, WatchedHeat)
        assert (heat.header.crucible, heat.header.metal) == ("A3", "bronze")
        assert heat.schedule == parse_schedule(TABLE, "test")
        assert heat.header.started.startswith(str(present_moment().wall.year))
        assert not heat.shape
