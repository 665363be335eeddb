"""A pot that is still hot, a heat that goes the wrong way: facts told until the pot is cold, through the whole core."""

import math
import random
from collections.abc import Callable, Iterator

import pytest

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import AlarmState, Event, EventName, Fault, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters

Course = Callable[[float], float]

DRYING = {"name": "drying", "kind": "ramp", "to": "200 C", "max_rate": "25 C / 15 min"}
SOAK = {
    "name": "soak",
    "kind": "soak",
    "at": "1100 C",
    "band": ["-30 C", "+30 C"],
    "hold": "30 min",
    "ceiling": "1150 C",
}
COOL = {"name": "closed furnace", "kind": "cool", "to": "60 C", "max_rate": "120 C / 10 min"}


def heat(*segments: dict[str, object], top_c: float | None = None) -> Monitor:
    return Monitor(parse_schedule({"title": "test", "segment": list(segments)}, "test"), MonitorParameters(top_c=top_c))


def readings(course: Course, to_s: float, from_s: float = 0.0, flicker_c: float = 0.3) -> Iterator[Reading]:
    """Read a course once a second, with a flame's flicker on it."""
    dice = random.Random("still hot")
    wander_c = 0.0
    for second in range(int(from_s), int(to_s)):
        wander_c = 0.9 * wander_c + dice.gauss(0.0, 0.43 * flicker_c)
        yield Reading(float(second), temp_c=course(float(second)) + wander_c)


def hear(monitor: Monitor, source: Iterator[Reading]) -> list[Event]:
    return [event for reading in source for event in monitor.feed(reading)]


def raised(events: list[Event], alarm: str) -> list[float]:
    return [each.time_s for each in events if each.alarm == alarm and each.state is AlarmState.UNACKNOWLEDGED]


def trip(at_s: float, tau_s: float = 5400.0) -> Course:
    """An oven climbs at 20 °C in 15 min until its breaker trips, and then cools by Newton's law."""

    def course(time_s: float) -> float:
        top_c = 20.0 + 20.0 / 900.0 * min(time_s, at_s)
        return 22.0 + (top_c - 22.0) * math.exp(-max(0.0, time_s - at_s) / tau_s)

    return course


class TestHeatThatIsWanted:
    def test_an_oven_that_trips_is_told_within_eight_minutes(self) -> None:
        """At 144 °C in a ramp: six hours of cooling without a word, once."""
        [told_s] = raised(hear(heat(DRYING), readings(trip(5580.0), 9000.0)), "not-heating")
        assert 5580.0 + 300.0 < told_s < 5580.0 + 480.0

    def test_a_heavy_pot_in_an_oven_that_trips_is_told_by_the_first_degrees_it_loses(self) -> None:
        """Its own mass and the oven's hold it up: seven minutes after the trip it has lost 4 °C, after thirteen 8."""
        [told_s] = raised(hear(heat(DRYING), readings(trip(5580.0, tau_s=13500.0), 9000.0)), "not-heating")
        assert 5580.0 + 360.0 < told_s < 5580.0 + 560.0

    def test_a_lid_lifted_for_two_minutes_is_no_trip(self) -> None:
        """Nor any dip that is made good."""

        def course(time_s: float) -> float:
            since_s = time_s - 4000.0
            return 20.0 + time_s / 45.0 - (60.0 * math.exp(-max(0.0, since_s - 120.0) / 60.0) if since_s > 0.0 else 0.0)

        assert raised(hear(heat(DRYING), readings(course, 7000.0)), "not-heating") == []

    def test_a_thermostat_that_swings_is_no_trip(self) -> None:
        """It falls and comes back, every quarter of an hour; the first fall alone may be taken for one."""

        def course(time_s: float) -> float:
            return 20.0 + time_s / 60.0 + 12.0 * math.sin(2.0 * math.pi * time_s / 900.0)

        assert len(raised(hear(heat(DRYING), readings(course, 9000.0)), "not-heating")) <= 1

    def test_a_soak_may_fall_within_its_band(self) -> None:
        """What leaves the band is told as that."""
        sagging = readings(lambda time_s: 1120.0 - time_s / 120.0, 3000.0)
        assert raised(hear(heat(SOAK, COOL), sagging), "not-heating") == []

    @pytest.mark.parametrize("noise_c", [0.3, 0.7, 1.5])
    def test_a_sound_ramp_is_silent_in_any_noise(self, noise_c: float) -> None:
        """Three hours at four fifths of the limit, and a hold of half an hour in the middle."""

        def course(time_s: float) -> float:
            return 20.0 + 20.0 / 900.0 * (time_s - min(max(time_s - 3600.0, 0.0), 1800.0))

        assert raised(hear(heat(DRYING), readings(course, 9000.0, flicker_c=noise_c)), "not-heating") == []


class TestHeatThatIsLeftOn:
    @staticmethod
    def soaked(course_after: Course, **how: float) -> list[Event]:
        """Soak at 1100 °C for half an hour, and then whatever comes."""

        def course(time_s: float) -> float:
            return 1100.0 if time_s < 1800.0 else course_after(time_s - 1800.0)

        return hear(heat(SOAK, COOL, **how), readings(course, 9000.0))

    def test_is_told_within_twenty_minutes_while_the_pot_stays(self) -> None:
        """Gas turned to just what the furnace loses."""
        [told_s] = raised(self.soaked(lambda _since_s: 1100.0), "not-cooling")
        assert told_s - 1800.0 <= 1202.0

    def test_is_told_sooner_while_it_rises(self) -> None:
        """1100 to 1220 °C in an hour, once unheard: as a fact, then at the band's edge and the ceiling."""
        events = self.soaked(lambda since_s: 1100.0 + since_s / 30.0)
        assert raised(events, "not-cooling")[0] - 1800.0 < 960.0
        assert raised(events, "soak-deviation")[0] - 1800.0 == pytest.approx(30.0 * 30.0 + 60.0, abs=40.0)
        assert raised(events, "temperature-high")[0] - 1800.0 == pytest.approx(50.0 * 30.0, abs=60.0)

    def test_is_not_told_of_a_pot_that_runs_after_its_furnace(self) -> None:
        """Turned off in the middle of a climb, the wall still heats the pot for some minutes."""

        def course(since_s: float) -> float:
            return 25.0 + 1075.0 * math.exp(-since_s / 9000.0) + 60.0 * (1.0 - math.exp(-since_s / 300.0))

        assert raised(self.soaked(course), "not-cooling") == []

    def test_is_not_told_of_a_furnace_that_cools(self) -> None:
        """Fast at first, ever slower, by the furnace's own law."""
        events = self.soaked(lambda since_s: 25.0 + 1075.0 * math.exp(-since_s / 7200.0))
        assert raised(events, "not-cooling") == []


class TestUntilItIsCold:
    @staticmethod
    def poured() -> Monitor:
        """A schedule that ends with its soak; the pot stands at 1100 °C, and nothing is asked of it any more."""
        monitor = heat(SOAK)
        events = hear(monitor, readings(lambda _time_s: 1100.0, 1900.0))
        assert [each.event for each in events][-2:] == [EventName.SOAK_COMPLETE, EventName.SCHEDULE_DONE]
        return monitor

    def test_the_soaks_ceiling_stays_in_force(self) -> None:
        """Gas left on after the last line."""
        events = hear(self.poured(), readings(lambda time_s: 1100.0 + (time_s - 1900.0) / 30.0, 5500.0, 1900.0))
        assert raised(events, "temperature-high")
        assert raised(events, "not-cooling")

    def test_a_probe_that_is_pulled_is_a_low_notice_and_no_cold_pot(self) -> None:
        """It reads the room within a minute; nothing is ordered for a pot that nobody sees."""

        def course(time_s: float) -> float:
            return 25.0 + 1075.0 * math.exp(-max(0.0, time_s - 2000.0) / 8.0)

        monitor = self.poured()
        events = hear(monitor, readings(course, 4000.0, 1900.0))
        assert {each.alarm for each in events if each.state is AlarmState.UNACKNOWLEDGED} == {"cooling-unseen"}
        assert EventName.HEAT_COMPLETE not in [each.event for each in events]
        assert not monitor.complete

    def test_a_board_that_is_unplugged_is_the_same_low_notice(self) -> None:
        """Silence is no emergency any more."""
        events = self.poured().advance(1960.0)
        assert [(each.alarm, str(each.priority)) for each in events] == [("cooling-unseen", "low")]

    def test_a_thermocouple_that_is_unplugged_too(self) -> None:
        """The board says that it is open."""
        monitor = self.poured()
        told = hear(monitor, (Reading(float(second), faults=(Fault.OPEN,)) for second in range(1900, 1930)))
        assert {each.alarm for each in told if each.state is AlarmState.UNACKNOWLEDGED} == {"cooling-unseen"}

    def test_a_pot_that_cools_is_cold_at_last(self) -> None:
        """And then nothing is left to say."""
        monitor = self.poured()
        events = hear(
            monitor, readings(lambda time_s: 25.0 + 1075.0 * math.exp(-(time_s - 1900.0) / 3000.0), 14000.0, 1900.0)
        )
        assert [each.event for each in events if each.event is not EventName.ALARM] == [EventName.HEAT_COMPLETE]
        assert monitor.complete


def test_the_makers_top_is_a_ceiling_in_every_segment() -> None:
    """1080 °C on the sheet outranks the schedule's 1150."""
    events = hear(heat(SOAK, COOL, top_c=1080.0), readings(lambda _time_s: 1100.0, 60.0))
    assert raised(events, "temperature-high")
