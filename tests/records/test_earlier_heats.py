"""What the records' folder tells of earlier heats: only of the same furnace and pot, and never more than is there."""

import math
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import EarlierHeat, Event, EventName, Input, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records import (
    FORMAT,
    End,
    Header,
    Learnt,
    RecordReader,
    RecordWriter,
    Replay,
    earlier_heats,
    encode_line,
    learn_earlier_heats,
)

TABLE: dict[str, object] = {
    "title": "T",
    "segment": [
        {"name": "up", "kind": "ramp", "to": "600 C", "max_rate": "60 C / 10 min"},
        {"name": "hold", "kind": "soak", "at": "600 C", "hold": "10 min"},
        {"name": "down", "kind": "cool", "to": "100 C"},
    ],
}
PORT, POT = "/dev/ttyUSB0", "K7"


def header(heat: str, **fields: object) -> Header:
    usual: dict[str, object] = {"schedule": TABLE, "crucible": POT, "board": {"port": PORT}}
    return msgspec.convert(
        {"kind": "header", "format": FORMAT, "started": "2026-01-01T09:00:00Z", "id": heat, **usual, **fields}, Header
    )


def course(pace: float) -> Iterator[Reading]:
    """A heat every five seconds: up at a pace (°C/s), hold, down with a time constant of half an hour."""
    up_s = 580.0 / pace
    for time_s in range(1, round(up_s + 700.0 + 5000.0), 5):
        if time_s < up_s:
            temp_c = 20.0 + pace * time_s
        elif time_s < up_s + 700.0:
            temp_c = 600.0
        else:
            temp_c = 20.0 + 580.0 * math.exp(-(time_s - up_s - 700.0) / 1800.0)
        yield Reading(float(time_s), temp_c=temp_c)


def keep(folder: Path, heat: str, pace: float = 0.08, until_s: float = math.inf, **fields: object) -> Path:
    """Let a monitor watch a heat into a record."""
    path = folder / f"{heat}.jsonl"
    writer = RecordWriter.create(path, header(heat, **fields))
    monitor = Monitor(parse_schedule(TABLE, "test"))
    last_s = 0.0
    for reading in course(pace):
        if reading.time_s > until_s:
            break
        writer.write(reading)
        writer.write_events(monitor.feed(reading))
        last_s = reading.time_s
    writer.write(End(last_s))
    writer.close()
    return path


def learnt(folder: Path, known: tuple[str, ...] = (), *, stops: bool = False) -> list[EarlierHeat]:
    return learn_earlier_heats(folder, header("now"), known, lambda: stops).heats


def test_gives_each_segment_with_how_long_it_took_and_its_course(tmp_path: Path) -> None:
    keep(tmp_path, "a")
    [heat] = learnt(tmp_path)
    assert heat.heat == "a"
    assert [leg.segment for leg in heat.legs] == ["ramp", "soak", "cool"]
    ramp, soak, cool = heat.legs
    assert ramp.lasted_s == pytest.approx(565.0 / 0.08, abs=10.0)
    assert (ramp.limit_c_per_s, soak.hold_s, cool.to_c) == (0.1, 600.0, 100.0)
    assert ramp.course[0][1] == pytest.approx(20.0, abs=2.0)
    assert cool.course[-1][1] == pytest.approx(100.0, abs=3.0)
    assert len(encode_line(heat)) < 4000


def test_only_of_the_same_furnace_and_pot_and_of_no_rehearsal(tmp_path: Path) -> None:
    keep(tmp_path, "same")
    keep(tmp_path, "other-port", board={"port": "/dev/ttyUSB1"})
    keep(tmp_path, "other-pot", crucible="K8")
    keep(tmp_path, "rehearsed", rehearsal=True)
    keep(tmp_path, "now")
    assert [heat.heat for heat in learnt(tmp_path)] == ["same"]


def test_a_heat_that_is_known_already_is_not_told_again(tmp_path: Path) -> None:
    for heat in ("a", "b"):
        keep(tmp_path, heat)
    assert [heat.heat for heat in learnt(tmp_path, ("a",))] == ["b"]


def test_a_segment_that_did_not_come_to_its_end_tells_nothing(tmp_path: Path) -> None:
    """A heat that broke off in its climb."""
    keep(tmp_path, "broken", until_s=3000.0)
    assert learnt(tmp_path) == []


def test_what_cannot_be_read_is_passed_over_and_nothing_is_learnt_once_it_is_to_stop(tmp_path: Path) -> None:
    keep(tmp_path, "a")
    (tmp_path / "b.jsonl").write_bytes(b"\x00\xff nothing of ours\n")
    (tmp_path / "c.jsonl").mkdir()
    found = learn_earlier_heats(tmp_path, header("now"), (), lambda: False)
    assert [heat.heat for heat in found.heats] == ["a"]
    assert found.unreadable == 2
    assert learnt(tmp_path, stops=True) == []
    assert learnt(tmp_path / "nowhere") == []


def test_a_record_that_is_larger_than_any_heat_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """But for its header: one of another furnace is none of ours, however large."""
    keep(tmp_path, "a")
    keep(tmp_path, "other-pot", crucible="K8")
    monkeypatch.setattr(earlier_heats, "_LARGEST_BYTES", 1000)
    assert learn_earlier_heats(tmp_path, header("now"), (), lambda: False) == Learnt([], 1)


def test_a_replay_knows_what_the_watch_had_learnt(tmp_path: Path) -> None:
    """The earlier heat is a line of the record, so the same times are told; without that line they are others."""
    keep(tmp_path, "a", pace=0.05)
    [earlier] = learnt(tmp_path)
    live = Monitor(parse_schedule(TABLE, "test"))
    path = tmp_path / "now.jsonl"
    writer = RecordWriter.create(path, header("now"))
    lines: list[Input] = [reading for reading in course(0.05) if reading.time_s < 3000.0]
    lines.insert(100, msgspec.structs.replace(earlier, time_s=500.0))
    for line in lines:
        writer.write(line)
        writer.write_events(live.feed(line))
    writer.close()
    told = live.status()
    with RecordReader(path) as reader:
        assert reader.tally.foreign_lines == 0
        replay = Replay(Monitor(parse_schedule(TABLE, "test")))
        list(replay.events(reader))
    assert replay.monitor.status() == told
    assert replay.monitor.earlier_heats == ("a",)
    without = Replay(Monitor(parse_schedule(TABLE, "test")))
    list(without.events(line for line in lines if not isinstance(line, EarlierHeat)))
    assert without.monitor.status().to_end_range_s != told.to_end_range_s


def test_a_record_of_the_first_version_names_its_segments_only(tmp_path: Path) -> None:
    path = keep(tmp_path, "a")
    old = tmp_path / "old"
    old.mkdir()
    writer = RecordWriter.create(old / "a.jsonl", header("a"))
    with RecordReader(path) as reader:
        for line in reader:
            if isinstance(line, Event):
                assert line.event is not EventName.SEGMENT_STARTED or line.segment_number is not None
                writer.write_events([msgspec.structs.replace(line, segment_number=None)])
            elif isinstance(line, Reading | End):
                writer.write(line)
    writer.close()
    assert learnt(old) == learnt(tmp_path)
