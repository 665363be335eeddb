"""The wall's difference in a running heat: what rings, when, and of what it is silent."""

import dataclasses
import math
from collections.abc import Callable, Iterator

import pytest

from courses import FLAME, noisy
from rampwarden.core.model import Event, EventName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.physics import PotWall
from rampwarden.core.quantities import parse_rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

FIRECLAY = PotWall(0.012, 5.11e-7, 1.05, 72.73)
SIC = PotWall(0.020, 1.76e-6, 4.2, 88.42)
GRAPHITE = PotWall(0.020, 5.3e-6, 12.0, 141.67)

HOT_C, CLIMBS_S, SOAKS_S = 900.0, 1760.0, 900.0
COOLS_FROM_S = CLIMBS_S + SOAKS_S
LID_S = COOLS_FROM_S + 600.0
SCHEDULE = Schedule(
    "up, hold, down",
    (
        Segment("up", SegmentKind.RAMP, to_c=HOT_C),
        Segment("hold", SegmentKind.SOAK, at_c=HOT_C, hold_s=SOAKS_S - 60.0),
        Segment("down", SegmentKind.COOL, to_c=60.0, max_rates=(parse_rate("120 C / 10 min"),)),
    ),
)


def course(lid_c: float) -> Callable[[float], float]:
    """Climb at 30 °C/min, hold, cool at 3 °C/min, and lose `lid_c` more in the 90 s from `LID_S` on."""

    def temp_c(time_s: float) -> float:
        climbed_c = min(20.0 + 0.5 * time_s, HOT_C)
        cooled_c = 0.05 * max(0.0, time_s - COOLS_FROM_S)
        return climbed_c - cooled_c - lid_c * min(max(time_s - LID_S, 0.0), 90.0) / 90.0

    return temp_c


def heat(parameters: MonitorParameters, lid_c: float, to_s: float = LID_S + 600.0) -> Iterator[tuple[Monitor, Event]]:
    """Watch such a heat in a flame's noise, and give each event with the monitor as it stands."""
    monitor = Monitor(SCHEDULE, parameters)
    for time_s, temp_c in noisy(course(lid_c), to_s, FLAME, lit_until_s=COOLS_FROM_S):
        for event in monitor.feed(Reading(time_s, temp_c=temp_c)):
            yield monitor, event


def raised(parameters: MonitorParameters, lid_c: float) -> dict[str, float]:
    """Give when each alarm was first raised, s."""
    first: dict[str, float] = {}
    for _, event in heat(parameters, lid_c):
        if event.raises_alarm and event.alarm:
            first.setdefault(event.alarm, event.time_s)
    return first


def known(wall: PotWall | None, place: str = "pot") -> MonitorParameters:
    """Give the parameters of a watch that knows its wall."""
    return dataclasses.replace(MonitorParameters(), place=place, wall=wall)


@pytest.mark.parametrize(("wall", "ahead_s"), [(FIRECLAY, 50.0), (SIC, 42.0)], ids=["fireclay", "silicon carbide"])
def test_a_lid_lifted_while_it_cools_is_a_caution_before_the_limit_is_broken(wall: PotWall, ahead_s: float) -> None:
    """112 °C in 90 s where 120 in ten minutes are allowed: some 50 s ahead of cooling-fast."""
    first = raised(known(wall), 112.0)
    assert set(first) == {"wall-cooling", "cooling-fast"}
    assert first["cooling-fast"] - first["wall-cooling"] >= ahead_s


def test_a_wall_that_it_does_not_harm_says_nothing() -> None:
    """Clay-graphite conducts ten times as well: the limit alone speaks."""
    assert set(raised(known(GRAPHITE), 112.0)) == {"cooling-fast"}


def test_nothing_rings_while_it_heats_or_cools_shut() -> None:
    """The climb puts two thirds of its strength on the inner face of the fireclay, by estimate: shown, and no more."""
    parameters = known(FIRECLAY)
    assert raised(parameters, 0.0) == {}
    *_, (monitor, _) = heat(parameters, 0.0)
    climb, *_, cooling = monitor.physics.wall_peaks
    assert climb.through_k == pytest.approx(0.5 * FIRECLAY.settling_s / 2.0, abs=5.0)
    assert climb.strength_share == pytest.approx(climb.through_k / 3.0 / FIRECLAY.stands_k, abs=0.05)
    assert cooling.segment == 3
    assert cooling.through_k < 0.0


@pytest.mark.parametrize("parameters", [known(None), known(FIRECLAY, place="")], ids=["no wall", "no place"])
def test_without_a_wall_or_a_place_nothing_is_followed_and_events_are_as_before(parameters: MonitorParameters) -> None:
    """An estimate of an unknown wall, or by a probe that hangs nobody knows where, is none."""
    *_, (monitor, _) = heat(parameters, 112.0)
    assert monitor.status().wall is None
    assert monitor.physics.wall_peaks == ()
    assert set(raised(parameters, 112.0)) == {"cooling-fast"}


def test_with_a_wall_all_other_events_are_the_same() -> None:
    """What is reckoned besides changes nothing of the watch."""
    without = [event for _, event in heat(known(None), 112.0)]
    with_it = [event for _, event in heat(known(FIRECLAY), 112.0) if event.alarm != "wall-cooling"]
    assert with_it == without


def test_the_caution_is_over_with_the_heat() -> None:
    """Ended by hand in the midst of it, nothing is left standing that nobody will ever judge again."""
    from rampwarden.core.model import Command, CommandName

    monitor = Monitor(SCHEDULE, known(FIRECLAY))
    for time_s, temp_c in noisy(course(112.0), LID_S + 60.0, FLAME, lit_until_s=COOLS_FROM_S):
        monitor.feed(Reading(time_s, temp_c=temp_c))
    assert "wall-cooling" in {alarm.alarm for alarm in monitor.status().alarms}
    events = monitor.feed(Command(LID_S + 60.0, CommandName.END_HEAT))
    events += monitor.advance(LID_S + 130.0)
    assert [event.state for event in events if event.alarm == "wall-cooling"] != []
    assert EventName.HEAT_ENDED in {event.event for event in events}


def test_a_pulled_probe_shows_nothing_of_the_wall() -> None:
    """It reads the room within seconds, and the wall is as hot as it was."""
    monitor = Monitor(SCHEDULE, known(FIRECLAY))
    schedule_done_s = COOLS_FROM_S + 16800.0

    def temp_c(time_s: float) -> float:
        return course(0.0)(time_s) if time_s < pulled_s else 30.0

    pulled_s = LID_S + 10_000.0
    assert pulled_s < schedule_done_s
    before = None
    for time_s, reading_c in noisy(temp_c, pulled_s + 120.0, FLAME, lit_until_s=COOLS_FROM_S):
        if time_s == pulled_s - 30.0:
            before = monitor.physics.wall_peaks
        monitor.feed(Reading(time_s, temp_c=reading_c))
    assert monitor.physics.wall_peaks == before


@pytest.mark.parametrize("lag_s", [3.0, 8.0, 20.0])
def test_a_pulled_probe_rings_no_caution(lag_s: float) -> None:
    """Its fall is no wall's: nothing is said in the seconds before it is known for what it is."""
    pulled_s = LID_S + 600.0

    def temp_c(time_s: float) -> float:
        stood_c = course(0.0)(min(time_s, pulled_s))
        return stood_c if time_s < pulled_s else 25.0 + (stood_c - 25.0) * math.exp(-(time_s - pulled_s) / lag_s)

    monitor = Monitor(SCHEDULE, known(FIRECLAY))
    told = []
    for time_s, reading_c in noisy(temp_c, pulled_s + 300.0, FLAME, lit_until_s=COOLS_FROM_S):
        told += [event.alarm for event in monitor.feed(Reading(time_s, temp_c=reading_c)) if event.raises_alarm]
    assert "wall-cooling" not in told


def test_a_probe_that_hangs_in_the_air_while_the_pot_is_carried_shows_nothing_of_the_wall() -> None:
    """It falls by a hundred degrees and comes back to its pot: none of that went through the wall."""
    schedule = Schedule(
        "carried",
        (
            Segment("oven", SegmentKind.RAMP, to_c=190.0),
            Segment("over", SegmentKind.TRANSFER, arrive_above_c=100.0),
            Segment("furnace", SegmentKind.RAMP, to_c=700.0),
        ),
    )

    def temp_c(time_s: float) -> float:
        if time_s < 3420.0:
            return 20.0 + 0.05 * time_s
        if time_s < 3600.0:
            return 40.0 + 151.0 * math.exp(-(time_s - 3420.0) / 15.0)
        return 185.0 + 0.05 * (time_s - 3600.0) - 145.0 * math.exp(-(time_s - 3600.0) / 15.0)

    monitor = Monitor(schedule, known(FIRECLAY))
    for time_s, reading_c in noisy(temp_c, 5400.0, FLAME):
        monitor.feed(Reading(time_s, temp_c=reading_c))
        if 3600.0 < time_s < 3780.0:
            assert monitor.status().wall is None
    assert monitor.status().segment == "furnace"
    assert monitor.status().wall is not None
    assert {peak.segment for peak in monitor.physics.wall_peaks} == {1, 3}
    even_k = 0.05 * FIRECLAY.settling_s / 2.0
    assert all(abs(peak.through_k) < even_k + 4.0 for peak in monitor.physics.wall_peaks)


def test_what_a_sensor_in_doubt_showed_is_no_difference_of_the_wall() -> None:
    """A value that hung through a climb and then leaps: the leap went through no wall."""

    def temp_c(time_s: float) -> float:
        return 400.0 + 0.1 * (time_s if not 900.0 < time_s < 1500.0 else 900.0)

    monitor = Monitor(SCHEDULE, known(FIRECLAY))
    for time_s, reading_c in noisy(temp_c, 1510.0, FLAME):
        monitor.feed(Reading(time_s, temp_c=reading_c if not 900.0 < time_s < 1500.0 else 490.0))
    assert all(peak.at_s <= 930.0 for peak in monitor.physics.wall_peaks)
    assert monitor.physics.wall_peaks


def test_a_lid_opened_where_heat_is_wanted_rings_nothing_of_the_wall() -> None:
    """Somebody charges, and is at the furnace: the difference is shown and kept."""
    parameters = known(FIRECLAY)
    monitor = Monitor(SCHEDULE, parameters)

    def temp_c(time_s: float) -> float:
        return course(0.0)(time_s) - 60.0 * min(max(time_s - CLIMBS_S - 300.0, 0.0), 60.0) / 60.0

    told = []
    for time_s, reading_c in noisy(temp_c, CLIMBS_S + 420.0, FLAME):
        told += [event.alarm for event in monitor.feed(Reading(time_s, temp_c=reading_c)) if event.raises_alarm]
    assert "wall-cooling" not in told
    wall = monitor.status().wall
    assert wall is not None
    assert wall.through_k < -30.0
