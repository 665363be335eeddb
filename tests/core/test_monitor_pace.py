"""Readings that come seldom: a spot thermometer's log, once a minute, is watched like any other."""

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import Event, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import parameters_for_interval

SOAK = {"name": "soak", "kind": "soak", "at": "200 C", "hold": "30 min"}


def soaked(interval_s: float, pause_s: float = 0.0) -> list[Event]:
    """Soak at 200 °C with one reading every `interval_s`, and once a pause."""
    monitor = Monitor(parse_schedule({"title": "slow", "segment": [SOAK]}, "test"), parameters_for_interval(interval_s))
    times = [interval_s * count + (pause_s if count > 10 else 0.0) for count in range(60)]
    return [event for time_s in times for event in monitor.feed(Reading(time_s, temp_c=200.0))]


def test_one_reading_a_minute_is_no_lost_signal_and_is_soaked() -> None:
    """The soak clock credits the usual step, whatever it is."""
    events = soaked(60.0)
    assert [event.alarm for event in events if event.alarm] == []
    assert [str(event.event) for event in events][-2:] == ["soak-complete", "schedule-done"]


def test_a_pause_in_such_a_log_is_a_lost_signal_and_is_not_soaked() -> None:
    """Three steps without a reading are silence, and nobody saw the band meanwhile."""
    without, with_pause = soaked(60.0), soaked(60.0, pause_s=600.0)
    [raised] = [event for event in with_pause if event.alarm and event.state == "unacknowledged"]
    assert (raised.alarm, raised.time_s) == ("signal-lost", 780.0)
    [done] = [event for event in without if event.event == "soak-complete"]
    [later] = [event for event in with_pause if event.event == "soak-complete"]
    assert later.time_s - done.time_s == 660.0
