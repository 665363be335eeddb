"""Corners between segments, through the whole core: what is forgiven, what is not, and what a lid does."""

import numpy as np
import pytest

from benchmarks.noise_model import CLASSES, Array, Pace, simulate
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.limits import tightest
from rampwarden.core.model import AlarmState, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor

pytestmark = pytest.mark.long


# A limit, what it is in °C/s, and for how long its segment goes on at four fifths of it, s.
LIMITS = {
    "25 C / 15 min": (25.0 / 900.0, 1500.0),
    "10 C / min": (10.0 / 60.0, 500.0),
    "100 C / min": (100.0 / 60.0, 240.0),
}
PAIRS = [(first, second) for first in LIMITS for second in LIMITS if first != second]
HEATS_OF_A_PAIR = 6
FROM_C = 60.0
LAG_S = 12.0


def two_ramps(first: str, second: str, corner_c: float) -> Monitor:
    """Give a monitor of two ramps under these limits, with the corner at `corner_c`."""
    segments = [
        {"name": "first", "kind": "ramp", "to": f"{corner_c:.1f} C", "max_rate": first},
        {"name": "second", "kind": "ramp", "to": "1300 C", "max_rate": second},
    ]
    return Monitor(parse_schedule({"title": "a corner", "segment": segments}, "test"))


def raised(monitor: Monitor, times_s: Array, temps_c: Array) -> set[str]:
    """Feed a whole course; gives the alarms that were raised."""
    alarms: set[str] = set()
    for time_s, temp_c in zip(times_s, temps_c, strict=True):
        for event in monitor.feed(Reading(float(time_s), temp_c=float(temp_c))):
            if event.alarm and event.state is AlarmState.UNACKNOWLEDGED:
                alarms.add(event.alarm)
    return alarms


@pytest.mark.parametrize("noise", ["low", "mid", "high"])
def test_four_fifths_of_each_limit_is_silent_across_the_corner(noise: str) -> None:
    """36 heats of every noise class, from any limit to any other: no caution, no alarm.

    The heat is turned down when the probe, which lags by 12 s, shows the corner: it goes on showing the old ramp.
    """
    heard = []
    for number, (first, second) in enumerate(PAIRS):
        (slow, lasts_s), (fast, goes_on_s) = LIMITS[first], LIMITS[second]
        corner_c = FROM_C + 0.8 * slow * (lasts_s - LAG_S)

        def course(time_s: Array, slow: float = slow, fast: float = fast, lasts_s: float = lasts_s) -> Array:
            return FROM_C + 0.8 * (slow * np.minimum(time_s, lasts_s) + fast * np.maximum(time_s - lasts_s, 0.0))

        heats = simulate(
            course, CLASSES[noise], int(lasts_s + goes_on_s), HEATS_OF_A_PAIR, seed=611 + number, pace=Pace(lag_s=LAG_S)
        )
        for heat in range(HEATS_OF_A_PAIR):
            alarms = raised(two_ramps(first, second, corner_c), heats.time_s[:, heat], heats.temp_c[:, heat])
            heard += [(first, second, heat, alarm) for alarm in alarms if alarm.startswith("ramp")]
    assert heard == []


def straight(*points: tuple[float, float]) -> tuple[Array, Array]:
    """Give readings a second apart on straight lines through these points (s, °C)."""
    times_s = np.arange(0.0, points[-1][0] + 1.0)
    return times_s, np.interp(times_s, *zip(*points, strict=True))


def test_a_climb_shared_by_two_segments_is_told() -> None:
    """22 °C at the end of one and 22 at the start of the next, under 25 and 24 °C in 15 min: 44 within one window."""
    monitor = two_ramps("25 C / 15 min", "24 C / 15 min", 122.0)
    course = straight((0.0, 100.0), (1200.0, 100.0), (1320.0, 122.0), (1440.0, 144.0))
    assert "ramp-high" in raised(monitor, *course)
    told = next(alarm for alarm in monitor.status().alarms if alarm.alarm == "ramp-high")
    assert "across two segments, limit 25" in told.text


def test_what_the_laxer_of_both_allows_is_not_told() -> None:
    """12 °C and 12 °C, a minute apart, keep both limits and the laxer one across the corner."""
    monitor = two_ramps("25 C / 15 min", "24 C / 15 min", 112.0)
    course = straight((0.0, 100.0), (1200.0, 100.0), (1320.0, 112.0), (1440.0, 124.0))
    assert "ramp-high" not in raised(monitor, *course)


def test_a_short_window_that_begins_at_the_corner_knows_what_was_just_before() -> None:
    """20 of 25 °C in the last seconds of a slow segment, then 9 of 10 in the first of a brisk one."""
    monitor = two_ramps("25 C / 15 min", "10 C / min", 120.0)
    course = straight((0.0, 100.0), (1200.0, 100.0), (1215.0, 120.0), (1235.0, 129.0), (1260.0, 129.0))
    assert "ramp-high" in raised(monitor, *course)


def test_through_three_segments_within_one_window_the_laxest_rules() -> None:
    """A brisk one between two slow ones: its own climb is nobody's fault."""
    segments = [
        {"name": "slow", "kind": "ramp", "to": "120 C", "max_rate": "25 C / 15 min"},
        {"name": "brisk", "kind": "ramp", "to": "200 C", "max_rate": "20 C / min"},
        {"name": "slow again", "kind": "ramp", "to": "400 C", "max_rate": "25 C / 15 min"},
    ]
    monitor = Monitor(parse_schedule({"title": "three", "segment": segments}, "test"))
    course = straight((0.0, 100.0), (900.0, 120.0), (1200.0, 200.0), (2100.0, 218.0))
    assert "ramp-high" not in raised(monitor, *course)


def test_a_lid_lifted_while_drying_moves_dot_and_alarm_together() -> None:
    """Half a minute open costs 60 °C of reading and no alarm; at no second does the dot stand outside."""
    segments = [{"name": "drying", "kind": "ramp", "to": "400 C", "max_rate": "25 C / 15 min"}]
    monitor = Monitor(parse_schedule({"title": "a lid", "segment": segments}, "test"))
    times_s = np.arange(0.0, 4200.0)
    calm_c = 60.0 + 0.8 * 25.0 / 900.0 * times_s
    open_s = np.clip(times_s - 2400.0, 0.0, None)
    shut_s = np.clip(times_s - 2430.0, 0.0, None)
    depth_c = 62.0 * ((1.0 - np.exp(-np.minimum(open_s, 30.0) / 8.0)) * np.exp(-shut_s / 8.0))
    outside = []
    for time_s, temp_c in zip(times_s, calm_c - depth_c, strict=True):
        events = monitor.feed(Reading(float(time_s), temp_c=float(temp_c)))
        assert not [event for event in events if event.alarm == "ramp-high"]
        high_c = monitor.edges().high_c
        if high_c is not None and temp_c > high_c:
            outside.append(time_s)
    assert outside == []
    assert depth_c.max() > 60.0


def test_a_climb_that_breaks_its_limit_takes_dot_and_alarm_out_together() -> None:
    """The other side of the lid: the dot is outside by more than its margin only while it is found."""
    segments = [{"name": "drying", "kind": "ramp", "to": "400 C", "max_rate": "25 C / 15 min"}]
    monitor = Monitor(parse_schedule({"title": "too fast", "segment": segments}, "test"))
    standing = []
    for time_s, temp_c in zip(*straight((0.0, 60.0), (1200.0, 86.0), (1500.0, 126.0)), strict=True):
        monitor.feed(Reading(float(time_s), temp_c=float(temp_c)))
        edges = [] if monitor.limits is None else monitor.limits.edges()
        alarmed = any(alarm.alarm == "ramp-high" for alarm in monitor.status().alarms)
        assert any(edge.crossed_by(float(temp_c)) for edge in edges) == alarmed
        assert tightest(edges) == monitor.edges()
        standing.append(alarmed)
    assert standing[-1]
    assert not standing[0]


class TestBlindTime:
    """What stood before a gap and after it is known, though its course is not."""

    @staticmethod
    def heard(blind_s: float, climbed_c: float, *, resumed: bool) -> set[str]:
        """Drying at 60 °C, blind for so long, and then read at so much more for a minute."""
        segments = [{"name": "drying", "kind": "ramp", "to": "400 C", "max_rate": "25 C / 15 min"}]
        monitor = Monitor(parse_schedule({"title": "blind", "segment": segments}, "test"))
        alarms = raised(monitor, *straight((0.0, 60.0), (1800.0, 90.0)))
        if resumed:
            monitor.feed(Notice(1800.0 + blind_s, NoticeName.WATCH_RESUMED))
        times_s = 1800.0 + blind_s + np.arange(60.0)
        return (alarms | raised(monitor, times_s, np.full(60, 90.0 + climbed_c))) - {"signal-lost"}

    @pytest.mark.parametrize("resumed", [False, True])
    @pytest.mark.parametrize(("blind_s", "climbed_c"), [(600.0, 60.0), (1800.0, 80.0), (7200.0, 300.0)])
    def test_a_climb_that_no_course_could_make_within_the_limit_is_told(
        self, blind_s: float, climbed_c: float, resumed: bool
    ) -> None:
        """Ten minutes and 60 °C; half an hour, two windows, and 80; two hours, eight windows, and 300."""
        assert "ramp-high" in self.heard(blind_s, climbed_c, resumed=resumed)

    @pytest.mark.parametrize("resumed", [False, True])
    @pytest.mark.parametrize(("blind_s", "climbed_c"), [(600.0, 15.0), (1800.0, 45.0), (7200.0, 180.0)])
    def test_a_climb_that_a_course_within_the_limit_could_have_made_is_not(
        self, blind_s: float, climbed_c: float, resumed: bool
    ) -> None:
        """It is not known to have kept the limit either: that is the account's to say."""
        assert "ramp-high" not in self.heard(blind_s, climbed_c, resumed=resumed)

    def test_is_told_for_what_it_is(self) -> None:
        """No window of fifteen minutes is claimed to have been seen."""
        segments = [{"name": "drying", "kind": "ramp", "to": "400 C", "max_rate": "25 C / 15 min"}]
        monitor = Monitor(parse_schedule({"title": "blind", "segment": segments}, "test"))
        raised(monitor, *straight((0.0, 60.0), (600.0, 70.0)))
        raised(monitor, 2400.0 + np.arange(5.0), np.full(5, 160.0))
        told = next(alarm for alarm in monitor.status().alarms if alarm.alarm == "ramp-high")
        assert "90 °C while nobody watched for 30 min, limit 25 within 15 min" in told.text
