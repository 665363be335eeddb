"""The gas in a running heat: when a bottle that falls short is told, and what marks, flame and schedule make of it."""

import dataclasses
import math

import pytest

from courses import FLAME, noisy
from rampwarden.core.model import ClockMark, Command, CommandName, Event, EventName, Fault, ProbeReading, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters, OtherProbe
from rampwarden.core.physics import Bottle, GasSupply
from rampwarden.core.quantities import parse_rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.core.watching.gas_ahead import burning_ahead

SUPPLY = GasSupply(Bottle(9.0, 8.8, 8.0, 0.31), 10.0, 10.0, 1.0, {"*": 20.0}, tare_kg=8.0, weighed=True)
LONG_S = 9000.0
SCHEDULE = Schedule(
    "up, hold, down",
    (
        Segment("up", SegmentKind.RAMP, to_c=1000.0, max_rates=(parse_rate("60 C / 2 min"),)),
        Segment("hold", SegmentKind.SOAK, at_c=1000.0, hold_s=LONG_S),
        Segment("down", SegmentKind.COOL, to_c=60.0),
    ),
)


def known(gas: GasSupply | None = SUPPLY) -> MonitorParameters:
    """Give the parameters of a watch that knows bottle and burner."""
    return dataclasses.replace(MonitorParameters(), gas=gas)


def temp_c(time_s: float) -> float:
    """Climb at 20 °C/min and hold."""
    return min(20.0 + time_s / 3.0, 1000.0)


def watched(monitor: Monitor, to_s: float, from_s: float = 0.0) -> list[Event]:
    """Watch a reading each five seconds."""
    events = []
    for time_s, reading_c in noisy(temp_c, to_s, FLAME):
        if time_s >= from_s and time_s % 5.0 == 0.0:
            events += monitor.feed(Reading(time_s, temp_c=reading_c))
    return events


def rung(events: list[Event]) -> list[float]:
    """Give when bottle-short was raised, s."""
    return [event.time_s for event in events if event.alarm == "bottle-short" and event.raises_alarm]


def mark(monitor: Monitor, time_s: float, text: str) -> list[Event]:
    """Give what is said to a person's mark."""
    return monitor.feed(Command(time_s, CommandName.MARK, text=text))


def test_a_bottle_that_does_not_last_the_heat_is_told_at_least_a_quarter_of_an_hour_ahead() -> None:
    """8.8 kg, 20 kW at 10 °C: short at 102 min, and the heat needs three hours and a half."""
    monitor = Monitor(SCHEDULE, known())
    [first_s] = rung(watched(monitor, 6000.0))
    assert 15 * 60.0 <= 6120.0 - first_s <= 45 * 60.0
    gas = monitor.status().gas
    assert gas is not None
    assert gas.kw == 20.0
    assert gas.short_in_s is not None
    assert gas.short_in_s <= 300.0
    assert gas.short_left_kg == pytest.approx(6.1, abs=0.15)


def test_a_bottle_that_lasts_is_said_to_and_rings_nothing() -> None:
    """A soak of ten minutes is over before it matters."""
    hold = dataclasses.replace(SCHEDULE.segments[1], hold_s=600.0)
    monitor = Monitor(
        dataclasses.replace(SCHEDULE, segments=(SCHEDULE.segments[0], hold, SCHEDULE.segments[2])), known()
    )
    assert rung(watched(monitor, 2700.0)) == []
    gas = monitor.status().gas
    assert gas is not None
    assert gas.short_in_s is None
    assert gas.end_left_kg == pytest.approx(7.2, abs=0.4)
    watched(monitor, 6000.0, 2705.0)
    done = monitor.status().gas
    assert done is not None
    assert done.kw == 0.0
    figures = monitor.physics.gas_figures
    assert figures is not None
    assert figures.burned_s == pytest.approx(2940.0 + 600.0, abs=90.0)


def test_a_heat_that_drags_on_is_reckoned_again() -> None:
    """It climbs at a fifth of what was meant: the bottle that would have lasted does not."""
    hold = dataclasses.replace(SCHEDULE.segments[1], hold_s=600.0)
    monitor = Monitor(
        dataclasses.replace(SCHEDULE, segments=(SCHEDULE.segments[0], hold, SCHEDULE.segments[2])), known()
    )
    said: list[Event] = []
    for time_s, reading_c in noisy(lambda time_s: 20.0 + time_s / 15.0, 5400.0, FLAME):
        said += monitor.feed(Reading(time_s, temp_c=reading_c))
        if time_s == 60.0:
            # In its first minute nothing is known of its pace, so the schedule's own is taken.
            gas = monitor.status().gas
            assert gas is not None
            assert gas.short_in_s is None
    [first_s] = rung(said)
    assert 6120.0 - first_s >= 15 * 60.0


def test_a_changed_bottle_ends_it_and_the_next_is_told_in_its_turn() -> None:
    """The mark is the one people set already."""
    monitor = Monitor(SCHEDULE, known())
    watched(monitor, 5000.0)
    assert "bottle-short" in {alarm.alarm for alarm in monitor.status().alarms}
    mark(monitor, 5000.0, "bottle changed")
    events = watched(monitor, 9900.0, 5005.0)
    [first_s] = rung(events)
    assert first_s > 5000.0 + 3000.0
    over = next(event for event in events if event.alarm == "bottle-short")
    assert "back to normal" in over.text
    assert over.time_s < 5100.0
    figures = monitor.physics.gas_figures
    assert figures is not None
    assert figures.changes == 1


def test_a_weight_is_taken_in_and_answered() -> None:
    """What had been reckoned stands beside what the scale says."""
    monitor = Monitor(SCHEDULE, known())
    watched(monitor, 3000.0)
    events = mark(monitor, 3000.0, "bottle weighs 15.2 kg")
    assert [(event.event, event.text) for event in events] == [
        (EventName.MARK, "bottle weighs 15.2 kg"),
        (
            EventName.OBSERVED,
            "bottle · 7.2 kg left by weight, 7.5 had been reckoned; reckoned on by the weight",
        ),
    ]
    gas = monitor.status().gas
    assert gas is not None
    assert gas.left_kg == 7.2


def test_a_flame_that_is_known_to_be_out_takes_nothing() -> None:
    """Until it burns again: what is left is left."""
    monitor = Monitor(SCHEDULE, known())

    def out_c(time_s: float) -> float:
        lost_s = max(0.0, time_s - 4200.0)
        return 20.0 + (temp_c(time_s) - 20.0) * math.exp(-lost_s / 4000.0)

    left: list[float] = []
    for time_s, reading_c in noisy(out_c, 5400.0, FLAME, lit_until_s=4200.0):
        monitor.feed(Reading(time_s, temp_c=reading_c))
        if time_s in (4800.0, 5399.0):
            gas = monitor.status().gas
            assert gas is not None
            left.append(gas.left_kg)
    assert "flame-out" in {alarm.alarm for alarm in monitor.status().alarms}
    assert left[0] == left[1]


def test_a_bottle_is_drawn_on_while_the_probe_is_broken() -> None:
    """Readings without any temperature carry the clock on; what was reckoned does not wait for a good one."""
    monitor = Monitor(SCHEDULE, known())
    watched(monitor, 3000.0)
    events = []
    for time_s in range(3005, 5400, 5):
        events += monitor.feed(Reading(float(time_s), faults=(Fault.OPEN,)))
    assert len(rung(events)) == 1
    gas = monitor.status().gas
    assert gas is not None
    assert gas.left_kg == pytest.approx(8.8 - 5400.0 * 20.0 / 46350.0, abs=0.05)


def test_without_a_bottle_nothing_is_reckoned_and_marks_are_marks() -> None:
    """As it was before."""
    monitor = Monitor(SCHEDULE, known(None))
    assert rung(watched(monitor, 6000.0)) == []
    assert monitor.status().gas is None
    assert monitor.physics.gas_figures is None
    assert [event.event for event in mark(monitor, 6000.0, "bottle weighs 15.2 kg")] == [EventName.MARK]


def test_all_other_events_are_the_same_with_a_bottle() -> None:
    """What is reckoned besides changes nothing of the watch."""
    with_it = [event for event in watched(Monitor(SCHEDULE, known()), 6000.0) if event.alarm != "bottle-short"]
    assert with_it == watched(Monitor(SCHEDULE, known(None)), 6000.0)


def test_it_is_told_the_same_however_often_somebody_asks() -> None:
    """An alarm rests on it: a replay, which asks nothing, must find the same."""
    asked, unasked = Monitor(SCHEDULE, known()), Monitor(SCHEDULE, known())
    said = []
    for time_s, reading_c in noisy(temp_c, 5000.0, FLAME):
        if time_s % 5.0 == 0.0:
            said += asked.feed(Reading(time_s, temp_c=reading_c))
            asked.status()
            said += asked.advance(time_s + 2.0)
    quiet = watched(unasked, 5000.0)
    quiet += unasked.feed(ClockMark(5000.0))
    assert [event for event in said if event.alarm == "bottle-short"] == [
        event for event in quiet if event.alarm == "bottle-short"
    ]


def test_what_burns_ahead_goes_by_the_present_pace_and_later_by_the_limits() -> None:
    """Nothing known, nothing promised; a lid that is open is no pace."""
    powers = (20.0, 9.0, 0.0)
    ahead = burning_ahead(SCHEDULE, powers, 0, 500.0, 0.25, 0.0)
    assert [each.kw for each in ahead] == list(powers)
    assert ahead[0].seconds == pytest.approx(485.0 / 0.25)
    assert ahead[1].seconds == LONG_S + 300.0
    slow = burning_ahead(SCHEDULE, powers, 0, 500.0, -0.3, 0.0)
    assert slow[0].seconds == pytest.approx(485.0 / 0.4)
    assert burning_ahead(SCHEDULE, powers, 1, 1000.0, 0.0, 4000.0)[0].seconds == LONG_S - 4000.0
    free = dataclasses.replace(
        SCHEDULE, segments=(Segment("up", SegmentKind.RAMP, to_c=1000.0), *SCHEDULE.segments[1:])
    )
    assert burning_ahead(free, powers, 0, 500.0, 0.0, 0.0)[0].seconds is None
    assert burning_ahead(free, powers, 0, 500.0, 0.1, 0.0)[0].seconds == pytest.approx(4850.0)
    later = dataclasses.replace(SCHEDULE, segments=(SCHEDULE.segments[0], SCHEDULE.segments[0], SCHEDULE.segments[2]))
    assert burning_ahead(later, powers, 0, 500.0, 0.25, 0.0)[1].seconds == 0.0


def test_a_probe_in_the_bottles_place_shows_the_liquid() -> None:
    """Read by a further probe, wherever it is connected; one in the room shows nothing of the bottle."""
    for place, seen in (("bottle", True), ("room", False)):
        parameters = dataclasses.replace(known(), probes=(OtherProbe(name="cold", place=place),))
        monitor = Monitor(SCHEDULE, parameters)
        watched(monitor, 600.0)
        for second in range(10):
            monitor.feed(ProbeReading(600.0 + second, "cold", temp_c=-7.5))
        gas = monitor.status().gas
        assert gas is not None
        assert gas.liquid_seen is seen
        assert (gas.liquid_c == -7.5) is seen
