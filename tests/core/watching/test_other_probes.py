"""Probes beside the followed one: a chain and alarms each, and none of it touches the heat that is followed."""

import dataclasses
import tomllib
from collections.abc import Iterable

from rampwarden.core.alarm_entry import names
from rampwarden.core.catalogue import CATALOGUE, OF_PROBES, alarm_names, entry_of, is_alarm
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument import SENSOR_ALARMS
from rampwarden.core.model import (
    ClockMark,
    Command,
    CommandName,
    Event,
    Fault,
    Input,
    Notice,
    NoticeName,
    Priority,
    ProbeReading,
    Quality,
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters, OtherProbe
from rampwarden.records import FORMAT, End, Header, changed_parameters, parameters_of
from rampwarden.records.record_lines import decoder, encode_line

CHAMBER = OtherProbe("chamber", place="chamber", ceiling_c=900.0)
BOTTLE = OtherProbe("bottle", place="bottle", board="second")
TWO_SEGMENTS = """
[[segment]]
name = "up"
kind = "ramp"
to = "200 C"
max_rate = "100 C / 10 min"

[[segment]]
name = "carry"
kind = "transfer"
within = "10 min"

[[segment]]
name = "hold"
kind = "soak"
at = "200 C"
band = ["-20 C", "20 C"]
hold = "10 min"
"""


def watched(items: Iterable[Input], *probes: OtherProbe) -> tuple[Monitor, list[Event]]:
    schedule = parse_schedule(tomllib.loads(TWO_SEGMENTS), "test.toml")
    monitor = Monitor(schedule, MonitorParameters(probes=probes))
    return monitor, [event for item in items for event in monitor.feed(item)]


def both(seconds: int, *, pot_faults: tuple[Fault, ...] = (), others: bool = True) -> Iterable[Input]:
    """A quiet pot at 100 °C, and beside it a chamber at 150 and a bottle at 10 °C."""
    for second in range(1, seconds + 1):
        yield Reading(float(second), temp_c=None if pot_faults else 100.0, faults=pot_faults)
        if others:
            yield ProbeReading(float(second), "chamber", temp_c=150.0)
            yield ProbeReading(float(second), "bottle", temp_c=10.0)


def rung(events: Iterable[Event]) -> list[tuple[float, str]]:
    return [(event.time_s, event.alarm or "") for event in events if event.raises_alarm]


def test_other_probes_change_nothing_of_the_followed_heat() -> None:
    """The same heat with and without them says the same at the same times."""
    course = [Reading(float(second), temp_c=100.0 + 0.5 * second) for second in range(1, 900)]
    beside = [
        each for reading in course for each in (reading, ProbeReading(reading.time_s, "chamber", faults=(Fault.OPEN,)))
    ]
    alone, with_chamber = watched(course)[1], watched(beside, CHAMBER)[1]
    assert any(event.alarm for event in alone)
    assert [event for event in with_chamber if "chamber" not in (event.alarm or "")] == alone
    assert rung(with_chamber)[0] == (3.0, "chamber:sensor-open")


def test_one_that_works_only_now_and_then_is_told_as_such_and_a_plain_fault_only_once() -> None:
    """Two of three readings out of range; or open for half a minute, which is told already."""
    told = []
    for spoil in (lambda n: n > 20 and n % 3, lambda n: 20 < n < 50):
        items: list[Input] = []
        for n in range(1, 90):
            items.append(Reading(float(n), temp_c=100.0))
            faults = (Fault.OPEN,) if spoil(n) and len(told) == 1 else ()
            items.append(ProbeReading(float(n), "chamber", temp_c=2500.0 if spoil(n) else 150.0, faults=faults))
        told.append([alarm for _, alarm in rung(watched(items, CHAMBER)[1])])
    assert told == [["chamber:sensor-intermittent"], ["chamber:sensor-open"]]


def test_an_alarm_names_its_probe_and_says_what_to_look_at() -> None:
    """Nobody has to guess which of four wires is meant."""
    items = [ProbeReading(float(second), "bottle", faults=(Fault.SHORT_GROUND,)) for second in range(1, 6)]
    event = next(event for event in watched(items, CHAMBER, BOTTLE)[1] if event.raises_alarm)
    assert event.alarm == "bottle:sensor-short"
    assert event.priority is Priority.MEDIUM
    assert event.text == (
        "bottle:sensor-short · the thermocouple is shorted to ground · check the bottle probe and its wiring"
    )


def test_a_fault_of_one_never_silences_another() -> None:
    """Pot, chamber and bottle fail one after the other: each is told within its two seconds."""

    def failing() -> Iterable[Input]:
        for second in range(1, 60):
            time_s = float(second)
            pot = (Fault.OPEN,) if second > 30 else ()
            yield Reading(time_s, temp_c=None if pot else 100.0, faults=pot)
            yield ProbeReading(time_s, "chamber", temp_c=150.0, faults=(Fault.OPEN,) if second > 10 else ())
            yield ProbeReading(time_s, "bottle", temp_c=10.0, faults=(Fault.OPEN,) if second > 40 else ())

    told = rung(watched(failing(), CHAMBER, BOTTLE)[1])
    assert told == [(13.0, "chamber:sensor-open"), (33.0, "sensor-open"), (43.0, "bottle:sensor-open")]


def test_a_probe_that_never_comes_is_lost_and_the_others_are_watched() -> None:
    """Ten seconds, counted from the start; what is the matter with its board's port is named."""
    trouble = Notice(0.5, NoticeName.PORT_LOST, text="no such port", board="second")
    items = [ClockMark(0.0), trouble, *(item for item in both(30) if getattr(item, "probe", "") != "bottle")]
    monitor, events = watched(items, CHAMBER, BOTTLE)
    assert rung(events) == [(10.0, "bottle:signal-lost")]
    lost = next(event for event in events if event.raises_alarm)
    assert "no reading from board second for 10 s: no such port" in lost.text
    chamber, bottle = monitor.status().probes
    assert (chamber.temp_c, chamber.quality, chamber.read_s) == (150.0, Quality.GOOD, 30.0)
    assert (bottle.temp_c, bottle.quality, bottle.read_s) == (None, Quality.BAD, None)


def test_the_followed_probe_s_silence_is_not_broken_by_the_others() -> None:
    """A chamber that speaks is no sign of life of the pot's board; nor is the second board's port its cause."""
    items = [*both(5), Notice(5.5, NoticeName.PORT_LOST, text="second is gone", board="second")]
    items += [ProbeReading(float(second), "chamber", temp_c=150.0) for second in range(6, 30)]
    events = watched(items, CHAMBER, BOTTLE)[1]
    assert (15.0, "signal-lost") in rung(events)
    text = next(event.text for event in events if event.alarm == "signal-lost")
    assert "second" not in text


def test_a_ceiling_of_its_own_rings_as_loudly_as_the_pot_s() -> None:
    """5 °C over its 900 °C for the alarm's own delay, and back below the deadband."""
    course = [*[890.0] * 30, *[905.0] * 60, *[880.0] * 200]
    items = [ProbeReading(float(second), "chamber", temp_c=temp_c) for second, temp_c in enumerate(course, start=1)]
    events = [event for event in watched(items, CHAMBER)[1] if event.alarm == "chamber:temperature-high"]
    assert events[0].raises_alarm
    assert (events[0].priority, events[0].value, events[0].limit) == (Priority.HIGH, 905.0, 900.0)
    assert events[-1].text.split(" · ")[1].startswith("back to normal")


def test_an_alarm_of_another_probe_is_acknowledged_by_its_name() -> None:
    """One word for all of them does as well."""
    items: list[Input] = [ProbeReading(float(second), "chamber", faults=(Fault.OPEN,)) for second in range(1, 6)]
    items.append(Command(6.0, CommandName.ACKNOWLEDGE, alarm="chamber:sensor-open"))
    assert watched(items, CHAMBER)[1][-1].text.startswith("chamber:sensor-open · acknowledged")


def test_while_the_pot_is_carried_only_what_is_carried_rests() -> None:
    """A second probe in the pot hangs in the air; the chamber's stays where it is."""
    in_pot = OtherProbe("charge", place="pot")
    items: list[Input] = [*both(5, others=False), Command(5.5, CommandName.SKIP_SEGMENT)]
    for second in range(6, 14):
        items += [ProbeReading(float(second), probe, faults=(Fault.OPEN,)) for probe in ("charge", "chamber")]
    assert rung(watched(items, in_pot, CHAMBER)[1]) == [(8.0, "chamber:sensor-open")]


def test_once_the_heat_is_ended_they_rest_too() -> None:
    """Boards are unplugged then."""
    items: list[Input] = [*both(5), Command(6.0, CommandName.END_HEAT), ClockMark(60.0)]
    assert rung(watched(items, CHAMBER, BOTTLE)[1]) == []


def test_a_restart_names_its_board() -> None:
    """A loose supply is looked for at the right board."""
    items = [*both(3), Notice(3.5, NoticeName.BOARD_RESTARTED, text="its clock started again", board="second")]
    restarted = next(event for event in watched(items, CHAMBER, BOTTLE)[1] if event.raises_alarm)
    assert restarted.alarm == "board-restarted"
    assert "board second: its clock started again" in restarted.text


def test_readings_of_a_probe_that_nobody_named_say_nothing() -> None:
    """A line that says so may stand in a record whose header lost its probes."""
    monitor, events = watched([ProbeReading(1.0, "stranger", faults=(Fault.OPEN,)), *both(5)])
    assert rung(events) == []
    assert monitor.status().probes == ()


def test_every_alarm_of_a_probe_has_an_entry_that_says_nothing_against_the_pot() -> None:
    """No report judges the pot by another probe, and no order rests because of it."""
    assert set(names(SENSOR_ALARMS)) < set(OF_PROBES)
    for alarm in alarm_names(["chamber"]):
        assert is_alarm(alarm)
        entry = entry_of(alarm)
        assert entry.name == alarm
        if alarm not in CATALOGUE:
            assert entry.doubts.value == "none"
            assert not entry.report.breaks_schedule
            assert not entry.report.casts_doubt
    assert not any(is_alarm(alarm) for alarm in ("", ":sensor-open", "chamber:ramp-high", "chamber:", "sensor-opened"))


def test_delays_that_settings_gave_an_alarm_hold_for_each_probe() -> None:
    """[alarms.sensor-open] on_delay is one key for all of them."""
    slow = {**CATALOGUE, "sensor-open": dataclasses.replace(CATALOGUE["sensor-open"], on_delay_s=20.0)}
    schedule = parse_schedule(tomllib.loads(TWO_SEGMENTS), "test.toml")
    monitor = Monitor(schedule, MonitorParameters(probes=(CHAMBER,), alarms=slow))
    items = [ProbeReading(float(second), "chamber", faults=(Fault.OPEN,)) for second in range(1, 40)]
    told = rung(event for item in items for event in monitor.feed(item))
    assert (21.0, "chamber:sensor-open") in told


def test_their_lines_replay_and_no_line_of_a_single_probe_s_record_is_like_them() -> None:
    """A kind of its own: whoever knows `reading` only never takes a chamber for the pot."""
    items = [*both(40), *(ProbeReading(float(second), "chamber", faults=(Fault.OPEN,)) for second in range(41, 50))]
    lines = [encode_line(item, seq) for seq, item in enumerate(items, start=1)]
    assert b'"kind":"probe"' in lines[1]
    assert not any(b"probe" in encode_line(item, 1) for item in items if isinstance(item, Reading))
    again = [line for line in map(decoder.decode, lines) if not isinstance(line, Header | Event | End)]
    assert again == items
    assert watched(again, CHAMBER, BOTTLE)[1] == watched(items, CHAMBER, BOTTLE)[1]


def test_a_header_carries_them_and_a_single_probe_s_says_nothing() -> None:
    """What a replay measures them by is never guessed."""
    parameters = MonitorParameters(probes=(CHAMBER, BOTTLE))
    changed = changed_parameters(parameters)
    assert list(changed) == ["probes"]
    header = Header(format=FORMAT, started="2026-01-01T00:00:00Z", parameters=changed)
    assert parameters_of(decoder.decode(encode_line(header)), "here").probes == parameters.probes  # type: ignore[arg-type]
    assert changed_parameters(MonitorParameters()) == {}
