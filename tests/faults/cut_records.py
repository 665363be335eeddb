"""A record cut off at any byte by a power cut, taken up and gone on with. Not a test itself."""

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

from rampwarden.clock import Moment
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import ClockMark, Event, Input, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records.record_lines import FORMAT, End, Header
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.recovery import TakenUp, take_up
from rampwarden.records.replay import Replay

LAST_BYTES = 4096
_STARTED = datetime(2026, 1, 10, 9, 0, tzinfo=UTC)
_BOOT, _ZERO_S = "one start of the machine", 5000.0
_TABLE: dict[str, object] = {
    "title": "cut off",
    "segment": [
        {"name": "up", "kind": "ramp", "to": "60 C", "max_rate": "10 C / 10 s"},
        {"name": "soak", "kind": "soak", "at": "60 C", "band": ["-5 C", "+5 C"], "hold": "10 s"},
        {"name": "on", "kind": "ramp", "to": "600 C", "max_rate": "10 C / 10 s"},
    ],
}


def write_heat(path: Path) -> bytes:
    """Watch a minute with alarms all over it, and give the record's bytes as a killed process leaves them."""
    header = Header(FORMAT, _STARTED.isoformat(), schedule=_TABLE, boot=_BOOT, zero_s=_ZERO_S)
    writer, monitor = RecordWriter.create(path, header), Monitor(parse_schedule(_TABLE, "cut off"))
    items: list[Input] = [ClockMark(0.0)]
    items += [Reading(float(second), temp_c=20.0 + min(2.0 * second, 40.0)) for second in range(1, 48)]
    items += [Reading(float(second), temp_c=60.0 + 3.0 * (second - 48)) for second in range(48, 66)]
    _feed(writer, monitor, items)
    writer.flush()
    writer.close()
    return path.read_bytes()


def find_fault(path: Path, whole: bytes, cut: int, filled_with: bytes = b"") -> str:
    """Cut `cut` bytes off, take the heat up and go on; gives what is not as it must be, or nothing.

    Some file systems give back a file of the old length with nothing in it where data had not come: `filled_with`.
    """
    path.write_bytes(whole[: len(whole) - cut] + filled_with * cut)
    survived = whole[: len(whole) - cut].rpartition(b"\n")[0].count(b"\n")
    taken = take_up(path, lambda: Moment(_BOOT, _ZERO_S + 120.0, _STARTED))
    told = _go_on(path, taken)
    with RecordReader(path) as reader:
        lines = list(reader)
    recorded = [line for line in lines if isinstance(line, Event)]
    if len(lines) < survived:
        return f"{survived} whole lines were left and {len(lines)} are read"
    if list(Replay(Monitor(parse_schedule(_TABLE, "cut off"))).events(lines)) != recorded:
        return "replayed it tells another story"
    if recorded[-len(told) :] != told:
        return "what was told afterwards is not what is recorded"
    raised = {event.alarm for event in recorded if event.alarm is not None}
    standing = {alarm.alarm for alarm in taken.monitor.status().alarms}
    return "" if standing <= raised else f"alarms stand that the record does not know: {standing - raised}"


def _go_on(path: Path, taken: TakenUp) -> list[Event]:
    writer = RecordWriter.resume(path, taken.next_seq)
    writer.write_events(list(taken.untold))
    items: list[Input] = [ClockMark(taken.now_s), Notice(taken.now_s, NoticeName.WATCH_RESUMED, text=taken.sentence)]
    items += [Reading(taken.now_s + second, temp_c=100.0) for second in range(1, 8)]
    told = [*taken.untold, *_feed(writer, taken.monitor, items)]
    writer.write(End(taken.now_s + 8.0, "stopped"))
    writer.close()
    return told


def _feed(writer: RecordWriter, monitor: Monitor, items: Iterable[Input]) -> list[Event]:
    told: list[Event] = []
    for item in items:
        writer.write(item)
        events = monitor.feed(item)
        writer.write_events(events)
        told += events
    return told
