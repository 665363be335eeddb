"""Replaying lines: what a header gives for it, and what is counted on the way."""

from collections.abc import Iterable

import msgspec
import pytest

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import ClockMark, Event, EventName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.errors import RecordError, ScheduleError
from rampwarden.records.record_lines import FORMAT, End, Header, Line
from rampwarden.records.replay import Replay, ReplaySummary, schedule_of

TABLE: dict[str, object] = {"title": "T", "segment": [{"name": "up", "kind": "ramp", "to": "1000 C"}]}


def header(**fields: object) -> Header:
    """Give a header with these fields."""
    return msgspec.convert({"kind": "header", "format": FORMAT, "started": "2026-01-01T09:00:00Z", **fields}, Header)


def replayed(lines: Iterable[Line]) -> tuple[list[Event], ReplaySummary]:
    """Give the events of these lines, and the summary."""
    run = Replay(Monitor(parse_schedule(TABLE, "test")))
    return list(run.events(lines)), run.summary


def test_a_header_without_schedule_says_how_to_give_one() -> None:
    """A record from elsewhere may carry none."""
    with pytest.raises(RecordError) as caught:
        schedule_of(header(), "heat.jsonl")
    assert str(caught.value) == "heat.jsonl: the record carries no schedule; give one with --schedule FILE"


def test_a_faulty_schedule_in_the_header_is_told_with_its_place() -> None:
    """As one in a file would be."""
    with pytest.raises(ScheduleError, match=r"^heat.jsonl \(schedule in its header\): segment 1 'up': to = "):
        schedule_of(header(schedule={"segment": [{"name": "up", "kind": "ramp", "to": "hot"}]}), "heat.jsonl")


def test_the_summary_counts_what_went_by() -> None:
    """Readings, those converted by the board, first and last time, highest temperature, whether it was closed."""
    lines: list[Line] = [
        ClockMark(0.5),
        Reading(1.0, temp_c=20.0),
        Reading(2.0, temp_c=20.5),
        Reading(3.0, emf_uv=0.0, junction_c=21.0),
        Reading(4.0, temp_c=20.7),
        End(9.5, "stopped"),
    ]
    _, summary = replayed(lines)
    assert (summary.readings, summary.converted_by_board) == (4, 3)
    assert (summary.first_s, summary.last_s, summary.closed) == (1.0, 9.5, True)
    assert summary.highest_c == pytest.approx(21.0)


def test_a_record_that_goes_on_after_its_end_is_not_closed() -> None:
    """It was taken up again and broke off."""
    assert replayed([ClockMark(0.0), End(1.0)])[1].closed
    assert not replayed([ClockMark(0.0), End(1.0), Event(time_s=2.0, event=EventName.NOTE)])[1].closed
    assert not replayed([ClockMark(0.0)])[1].closed


def test_a_record_s_own_events_let_time_pass_and_say_nothing() -> None:
    """A forged alarm in a record is not an alarm; that its time was reached is all it tells."""
    forged = Event(time_s=30.0, event=EventName.ALARM, alarm="ramp-high", text="forged")
    events, _ = replayed([ClockMark(0.0), forged])
    assert "forged" not in [event.text for event in events]
    assert [(event.alarm, event.time_s) for event in events if event.alarm] == [("signal-lost", 10.0)]


def test_nothing_to_replay_gives_nothing() -> None:
    """No lines, no events, no highest temperature."""
    assert replayed([]) == ([], ReplaySummary())
