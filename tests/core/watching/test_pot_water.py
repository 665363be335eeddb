"""Water told while it leaves: hold the oven, it has left, no recovery seen; and the weights beside it."""

import dataclasses
from collections.abc import Callable

import pytest

from rampwarden.core.model import Command, CommandName, Event, EventName, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.pot import IN_USE, NEW_POT, PotStanding
from rampwarden.core.quantities import parse_rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from wet_pot import climbing_oven, readings, wet_pot_c

SCHEDULE = Schedule(
    "drying",
    (
        Segment("drying", SegmentKind.RAMP, to_c=200.0, max_rates=(parse_rate("25 C / 15 min"),)),
        Segment("dry soak", SegmentKind.SOAK, at_c=200.0, hold_s=1800.0),
        Segment("over", SegmentKind.TRANSFER, arrive_above_c=100.0),
        Segment("up", SegmentKind.RAMP, to_c=900.0),
    ),
)
LEAVING, LEFT, MISSED = "water is leaving the wall", "its water has left: the climb", "no recovery of the climb"


def known(place: str = "pot", standing: PotStanding | None = NEW_POT) -> MonitorParameters:
    """Give the parameters of a watch with a registered pot."""
    return dataclasses.replace(MonitorParameters(), place=place, standing=standing)


def watched(
    monitor: Monitor, grams: float, oven_c: Callable[[float], float] | None = None, seconds: int = 10_000
) -> list[Event]:
    """Watch a pot with so much water in an oven."""
    course = wet_pot_c(grams, oven_c or climbing_oven(90.0), seconds)
    return [event for reading in readings(course) for event in monitor.feed(reading)]


def said(events: list[Event], begins: str) -> list[float]:
    """Give when something was said, s."""
    return [event.time_s for event in events if event.event is EventName.OBSERVED and event.text.startswith(begins)]


@pytest.mark.parametrize("grams", [100.0, 150.0, 250.0, 400.0])
@pytest.mark.parametrize("k_per_h", [60.0, 90.0])
def test_two_per_cent_of_water_and_more_are_told_once_and_their_end_too(grams: float, k_per_h: float) -> None:
    """Of 5 kg: first that it leaves, then that it has left."""
    monitor = Monitor(SCHEDULE, known())
    events = watched(monitor, grams, climbing_oven(k_per_h), 12_000)
    [leaving_s], [left_s] = said(events, LEAVING), said(events, LEFT)
    assert leaving_s < left_s
    assert said(events, MISSED) == []
    water = monitor.status().water
    assert water is not None
    assert (water.leaving_s, water.missed) == (leaving_s, False)
    assert water.slowest is not None
    assert water.slowest <= 0.7


@pytest.mark.parametrize("grams", [0.0, 25.0])
@pytest.mark.parametrize("k_per_h", [40.0, 60.0, 90.0, 300.0])
def test_of_a_dry_pot_nothing_is_said(grams: float, k_per_h: float) -> None:
    """Half a per cent is none that could be seen."""
    monitor = Monitor(SCHEDULE, known())
    events = watched(monitor, grams, climbing_oven(k_per_h), 12_000)
    assert said(events, LEAVING) == said(events, LEFT) == []
    assert monitor.status().water is None


def test_the_climb_after_the_last_water_says_why_it_is_fast() -> None:
    """It rings all the same: nothing is withheld for it."""
    events = watched(Monitor(SCHEDULE, known()), 250.0)
    [rings] = [event for event in events if event.alarm == "ramp-high" and event.raises_alarm]
    assert "; its water has left, and the pot runs after its oven · drying · lower the heat" in rings.text
    [unknown] = [
        event
        for event in watched(Monitor(SCHEDULE, known(standing=None)), 250.0)
        if event.alarm == "ramp-high" and event.raises_alarm
    ]
    assert unknown.time_s == rings.time_s
    assert "water" not in unknown.text


def test_a_dry_pot_that_climbs_too_fast_has_no_water_to_blame() -> None:
    """Its oven is too hot, and that is all."""
    events = watched(Monitor(SCHEDULE, known()), 0.0, climbing_oven(130.0))
    [rings] = [event for event in events if event.alarm == "ramp-high" and event.raises_alarm]
    assert "water" not in rings.text


def test_a_pot_that_is_carried_away_wet_is_not_shown_to_be_dry() -> None:
    """No recovery was seen, and none will be."""
    monitor = Monitor(SCHEDULE, known())
    events = watched(monitor, 400.0, seconds=6200)
    [_] = said(events, LEAVING)
    monitor.feed(Command(6201.0, CommandName.SKIP_SEGMENT))
    monitor.feed(Command(6202.0, CommandName.SKIP_SEGMENT))
    events = [event for second in range(6204, 6300, 4) for event in monitor.feed(Reading(float(second), temp_c=60.0))]
    [missed_s] = said(events, MISSED)
    assert missed_s <= 6230.0
    water = monitor.status().water
    assert water is not None
    assert (water.left_s, water.missed) == (None, True)


@pytest.mark.parametrize(
    "parameters",
    [known("chamber"), known(""), known(standing=None)],
    ids=["in the chamber", "nobody knows where", "not registered"],
)
def test_nothing_is_said_where_it_could_not_be_seen_or_of_whom_nobody_asked(parameters: MonitorParameters) -> None:
    """And all other events are what they are."""
    monitor = Monitor(SCHEDULE, parameters)
    events = watched(monitor, 250.0)
    assert monitor.status().water is None
    mine = ("water is", "its water", "weigh")
    with_it = [each for each in watched(Monitor(SCHEDULE, known()), 250.0) if not each.text.startswith(mine)]
    if parameters.place == "pot":
        assert [(each.time_s, each.alarm) for each in events] == [(each.time_s, each.alarm) for each in with_it]


def test_an_oven_that_stands_still_is_named_beside_the_water() -> None:
    """Its dial stands at 105 °C for an hour: one probe cannot tell that from water, and says both."""

    def stands_c(time_s: float) -> float:
        return min(20.0 + 0.025 * time_s, 105.0 + 0.025 * max(0.0, time_s - 7000.0))

    events = watched(Monitor(SCHEDULE, known()), 0.0, stands_c, 12_000)
    [text] = [event.text for event in events if event.text.startswith(LEAVING)]
    assert "or the oven stands still" in text


def test_a_segment_that_ends_near_the_boiling_point_slows_down_of_itself() -> None:
    """A soak at 110 °C is reached slowly, and that is no water."""
    low = dataclasses.replace(
        SCHEDULE,
        segments=(
            Segment("to 110", SegmentKind.RAMP, to_c=110.0),
            Segment("stay", SegmentKind.SOAK, at_c=110.0, hold_s=3600.0),
        ),
    )
    events = watched(Monitor(low, known()), 0.0, climbing_oven(90.0, 112.0))
    assert said(events, LEAVING) == []


def test_what_was_not_seen_whole_tells_no_slope() -> None:
    """Across a blind time nobody knows how it climbed."""
    monitor = Monitor(SCHEDULE, known())
    events: list[Event] = []
    for reading in readings(wet_pot_c(250.0, climbing_oven(90.0), 10_000)):
        if not 2400.0 < reading.time_s < 2700.0:
            events += monitor.feed(reading)
        elif reading.time_s == 2696.0:
            events += monitor.feed(Notice(2696.0, NoticeName.WATCH_RESUMED))
    assert said(events, LEAVING) == []


def test_weights_are_asked_for_once_where_a_pot_is_to_be_dried() -> None:
    """Not of one that is dry, nor where the weight was told already."""
    asks = "weigh the pot before it dries"
    assert len(said(watched(Monitor(SCHEDULE, known()), 0.0, seconds=600), asks)) == 1
    assert said(watched(Monitor(SCHEDULE, known(standing=IN_USE)), 0.0, seconds=600), asks) == []
    told = Monitor(SCHEDULE, known())
    told.feed(Command(0.0, CommandName.MARK, text="pot weighs 5.150 kg"))
    assert said(watched(told, 0.0, seconds=600), asks) == []


def test_weights_stand_beside_what_the_climb_showed() -> None:
    """Before, after, and the difference in grams."""
    monitor = Monitor(SCHEDULE, known())
    monitor.feed(Command(0.0, CommandName.MARK, text="pot weighs 5,15"))
    watched(monitor, 150.0)
    events = monitor.feed(Command(10_000.0, CommandName.MARK, text="Pot weighs 5.004 kg"))
    [text] = [event.text for event in events if event.event is EventName.OBSERVED]
    assert text == "pot · 5.004 kg, 146 g less than before; its climb showed water leave, and recovered"
    water = monitor.status().water
    assert water is not None
    assert (water.before_kg, water.after_kg) == (5.15, 5.004)
    alone = Monitor(SCHEDULE, known())
    watched(alone, 0.0)
    events = alone.feed(Command(10_000.0, CommandName.MARK, text="pot weighs 5.004 kg"))
    assert events[-1].text == "pot · 5.004 kg; what it weighed before it dried was not told"
    assert len(alone.feed(Command(10_001.0, CommandName.MARK, text="pot weighs nothing"))) == 1
