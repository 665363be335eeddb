"""Replaying lines: what a header gives for it, and what is counted on the way."""

import dataclasses
from collections.abc import Iterable

import msgspec
import pytest

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import ClockMark, Event, EventName, Priority, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.errors import RecordError, ScheduleError
from rampwarden.records.record_lines import FORMAT, End, Header, Line
from rampwarden.records.replay import Replay, ReplaySummary, parameters_of, schedule_of

TABLE: dict[str, object] = {"title": "T", "segment": [{"name": "up", "kind": "ramp", "to": "1000 C"}]}


def header(**fields: object) -> Header:
    """Give a header with these fields."""
    return msgspec.convert({"kind": "header", "format": FORMAT, "started": "2026-01-01T09:00:00Z", **fields}, Header)


def replayed(lines: Iterable[Line]) -> tuple[list[Event], ReplaySummary]:
    """Give the events of these lines, and the summary."""
    run = Replay(Monitor(parse_schedule(TABLE, "test")))
    return list(run.events(lines)), run.summary


def test_a_header_that_names_nothing_gives_the_defaults() -> None:
    """Enough to replay by."""
    assert parameters_of(header(), "x") == MonitorParameters()


def test_the_thermocouple_named_in_the_header_is_the_one_that_is_replayed() -> None:
    """Unless the parameters name another, which are what the watch used."""
    assert parameters_of(header(thermocouple="N"), "x").thermocouple_type == "N"
    both = header(thermocouple="N", parameters={"thermocouple_type": "S"})
    assert parameters_of(both, "x").thermocouple_type == "S"


def test_parameters_in_the_header_are_those_of_the_day() -> None:
    """And keys this version does not know are kept out of the way."""
    given = header(parameters={"signal_lost_s": 25.0, "junction_range_c": [0, 40], "later": {"x": 1}})
    parameters = parameters_of(given, "x")
    assert (parameters.signal_lost_s, parameters.junction_range_c) == (25.0, (0.0, 40.0))


def test_a_record_older_than_a_field_of_its_entries_takes_it_from_the_catalogue() -> None:
    """What such a record carries of an alarm it changed: no name, nothing of transfers, nothing for a report."""
    older = ("condition", "priority", "on_delay_s", "off_delay_s", "why", "action", "time_to_act", "deadband")
    now = msgspec.to_builtins(CATALOGUE["ramp-high"])
    entry = {**{key: now[key] for key in older}, "off_delay_s": 7.0, "waits_for_reading": True}
    parameters = parameters_of(header(parameters={"alarms": {"ramp-high": entry}}), "x")
    assert parameters.alarms["ramp-high"] == dataclasses.replace(CATALOGUE["ramp-high"], off_delay_s=7.0)


def test_a_record_older_than_an_alarm_is_replayed_with_it_at_its_default() -> None:
    """Its header names only alarms that were changed then; the others are the catalogue's."""
    entry = {**msgspec.to_builtins(CATALOGUE["ramp-high"]), "priority": "low"}
    parameters = parameters_of(header(parameters={"alarms": {"ramp-high": entry}}), "x")
    assert parameters.alarms["ramp-high"].priority is Priority.LOW
    assert set(parameters.alarms) == set(CATALOGUE)
    Monitor(parse_schedule(TABLE, "test"), parameters).feed(Reading(0.0, temp_c=20.0))


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"thermocouple": "Q"}, "thermocouple type 'Q' is unknown"),
        ({"parameters": {"thermocouple_type": "Z"}}, "thermocouple type 'Z' is unknown"),
        ({"parameters": {"signal_lost_s": "soon"}}, "Expected `float`, got `str`"),
        ({"parameters": {"alarms": {"party": {}}}}, "there is no alarm 'party'"),
        ({"parameters": {"alarms": ["ramp-high"]}}, "Expected `object`, got `array`"),
        ({"parameters": {"alarms": {"ramp-high": 3}}}, "Expected `object`, got `int`"),
        ({"parameters": {"out_of_service": ["party"]}}, "there is no alarm 'party'"),
    ],
)
def test_parameters_that_cannot_be_used_are_told_with_the_record(fields: dict[str, object], why: str) -> None:
    """One line: the record, then what is wrong in its header."""
    with pytest.raises(RecordError) as caught:
        parameters_of(header(**fields), "heat.jsonl")
    assert str(caught.value).startswith("heat.jsonl: the header's parameters cannot be used: ")
    assert why in str(caught.value)


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
