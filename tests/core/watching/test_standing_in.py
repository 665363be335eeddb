"""Another probe stands in for the followed one: told at once, judged with its doubt, and over by itself."""

import random
import tomllib
from collections.abc import Iterable, Iterator

import pytest
from tests.faults.model_board import SCHEDULE as STEEP_HEAT
from tests.faults.model_board import temperature_c

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import (
    AlarmState,
    ClockMark,
    Command,
    CommandName,
    Event,
    Fault,
    HeatStatus,
    Input,
    Notice,
    NoticeName,
    ProbeReading,
    Quality,
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters, OtherProbe

CHAMBER = OtherProbe("chamber", place="chamber")
BOTTLE = OtherProbe("bottle", place="bottle")
SCHEDULE = """
[[segment]]
name = "up"
kind = "ramp"
to = "300 C"
max_rate = "100 C / 10 min"

[[segment]]
name = "hold"
kind = "soak"
at = "300 C"
band = ["-20 C", "20 C"]
hold = "40 min"

[[segment]]
name = "carry"
kind = "transfer"
within = "20 min"

[[segment]]
name = "on"
kind = "ramp"
to = "900 C"
max_rate = "100 C / 10 min"
"""
RAMP_S = 2400
"""The pot climbs from 100 °C to the soak's 300 in 2000 s."""


def pot_c(second: float) -> float:
    # A wave of some minutes, so that there is something to be uncertain of; steps of the converter, so that it lives.
    wave_c = 0.4 * ((second / 97.0) % 2.0 - 1.0) + 0.25 * (int(second) * 7 % 5)
    return min(100.0 + 0.1 * second, 300.0) + wave_c


def course(
    last_s: int, fails: range = range(0), how: str = "open", chamber: bool = True, first_s: int = 1, off_c: float = 0.0
) -> Iterator[Input]:
    """A pot and its chamber, 25 °C hotter; in the seconds `fails` the pot's probe does, and reads `off_c` off later."""
    for second in range(first_s, last_s + 1):
        time_s = float(second)
        own_c = pot_c(second) + (off_c if fails and second >= fails.stop else 0.0)
        if second not in fails:
            yield Reading(time_s, temp_c=own_c)
        elif how == "open":
            yield Reading(time_s, faults=(Fault.OPEN,))
        elif how == "stuck":
            yield Reading(time_s, temp_c=pot_c(fails.start))
        if chamber:
            yield ProbeReading(time_s, "chamber", temp_c=pot_c(second) + 25.0)


def watched(items: Iterable[Input], *probes: OtherProbe, limit: str = "100 C / 10 min") -> tuple[Monitor, list[Event]]:
    schedule = parse_schedule(tomllib.loads(SCHEDULE.replace("100 C / 10 min", limit)), "test.toml")
    monitor = Monitor(schedule, MonitorParameters(place="pot", probes=probes))
    return monitor, [event for item in items for event in monitor.feed(item)]


def statuses(items: Iterable[Input]) -> Iterator[tuple[Input, HeatStatus, Monitor]]:
    monitor, _ = watched((), CHAMBER)
    for item in items:
        monitor.feed(item)
        yield item, monitor.status(), monitor


def said(events: Iterable[Event], words: str) -> list[float]:
    return [event.time_s for event in events if words in event.text]


@pytest.mark.parametrize("how", ["open", "silent"])
def test_it_is_told_within_a_quarter_of_a_minute_what_is_followed_and_how_surely(how: str) -> None:
    """And the temperature goes on, with its uncertainty, where one probe would have none."""
    monitor, events = watched(course(1900, range(1500, 1900), how), CHAMBER, BOTTLE)
    alarm = next(event for event in events if event.alarm == "standing-in")
    assert 1500.0 <= alarm.time_s <= 1515.0
    assert alarm.state is AlarmState.UNACKNOWLEDGED
    assert "the chamber probe stands in" in alarm.text
    assert "no cautions ahead" in alarm.text
    status = monitor.status()
    assert status.temp_c == pytest.approx(pot_c(1899), abs=4.0)
    assert status.quality is Quality.GOOD
    assert status.standing_in is not None
    assert status.standing_in.probe == "chamber"
    assert status.standing_in.expanded_c > status.standing_in.off_c > 0.0


def test_the_followed_probe_is_followed_again_after_a_minute_and_its_step_is_no_climb() -> None:
    """It reads 5 °C more than before: put back elsewhere, it is believed again, and nothing rings."""
    monitor, events = watched(course(2400, range(1200, 1400), off_c=4.9), CHAMBER, limit="60.5 C / 10 min")
    back = said(events, "the followed probe is followed again")
    assert len(back) == 1
    assert 1460.0 <= back[0] <= 1480.0
    assert monitor.status().standing_in is None
    assert [event.alarm for event in events if event.alarm == "ramp-high"] == []
    assert monitor.status().temp_c == pytest.approx(pot_c(2400) + 4.9, abs=1.0)


def test_a_probe_that_is_put_back_is_followed_only_once_it_is_known_what_it_differs_by() -> None:
    """On its way back it comes by the guess: a step taken there would be a false climb of the pot."""

    def put_back() -> Iterator[Input]:
        for item in course(2400, range(1200, 1400), off_c=-60.0):
            if isinstance(item, Reading) and item.temp_c is not None and item.time_s >= 1700.0:
                yield Reading(item.time_s, temp_c=pot_c(item.time_s))
            else:
                yield item

    _, events = watched(put_back(), CHAMBER, limit="70 C / 10 min")
    [back] = [event for event in events if "the followed probe is followed again" in event.text]
    assert 1760.0 <= back.time_s <= 1850.0
    assert abs(float(back.text.split("°C, ")[1].split()[0])) <= 2.0
    assert [event.alarm for event in events if event.alarm == "ramp-high"] == []


def test_a_probe_that_reads_elsewhere_is_not_believed_for_half_an_hour() -> None:
    """Sixty degrees beside the guess is no pot's: then it is, since nobody can stand in for ever."""
    _, events = watched(course(4000, range(1500, 1600), off_c=-60.0), CHAMBER)
    back = said(events, "the followed probe is followed again")
    assert back
    assert back[0] >= 1600.0 + 600.0


def test_a_stuck_probe_is_stood_in_for_when_it_is_told_to_be_stuck() -> None:
    """What was credited while it stood still is taken back, and what the other probe shows counts from then on."""
    items = course(3500, range(2600, 3500), "stuck")
    monitor, events = watched(items, CHAMBER)
    stuck = next(event.time_s for event in events if event.alarm == "sensor-stuck")
    told = next(event.time_s for event in events if event.alarm == "standing-in")
    assert stuck <= told <= stuck + 2.0
    assert said(events, "of the soak are taken back")
    assert monitor.soaked_s > 700.0


def test_a_soak_earns_by_a_guess_only_where_it_is_surely_in_its_band() -> None:
    """Every second credited while the chamber stands in was one in which band and doubt left room."""
    soaked_s = 0.0
    for item, status, monitor in statuses(course(3400, range(2300, 3300))):
        gained_s, soaked_s = monitor.soaked_s - soaked_s, monitor.soaked_s
        state = status.standing_in
        if gained_s > 0.0 and state is not None and item.time_s > 2320.0 and status.temp_c is not None:
            assert state.earns
            assert status.temp_c - state.off_c >= 280.0
            assert status.temp_c + state.off_c <= 320.0
    assert soaked_s > 0.0


def test_a_limit_of_less_climb_than_the_doubt_is_said_to_be_unguarded_and_the_soak_earns_nothing() -> None:
    """A chamber that jumps while the pot takes no notice tells so little that after a while nothing is judged by it."""

    def wandering() -> Iterator[Input]:
        for item in course(5200, range(2500, 5200)):
            if isinstance(item, ProbeReading):
                jump_c = 250.0 if (item.time_s / 1100.0) % 2.0 < 1.0 else 0.0
                yield ProbeReading(item.time_s, "chamber", temp_c=(item.temp_c or 0.0) + jump_c)
            else:
                yield item

    monitor, events = watched(wandering(), CHAMBER, limit="62 C / 10 min")
    state = monitor.status().standing_in
    assert state is not None
    assert state.unguarded == ("62 °C / 10 min",)
    assert not state.earns
    assert said(events, "not guarded: 62 °C / 10 min")
    assert said(events, "the soak clock stands still")
    assert not [event for event in events if event.alarm in ("ramp-high", "soak-deviation")]


def test_nothing_stands_in_while_the_pot_is_carried_nor_by_what_was_learnt_before() -> None:
    """The probes are in different vessels then."""
    items = [
        *course(2600, range(2500, 9999)),
        Command(2601.0, CommandName.MARK, text="transfer"),
        *course(2900, range(2500, 9999), first_s=2602),
    ]
    monitor, events = watched(items, CHAMBER)
    assert said(events, "nothing stands in while the pot is carried") == [2602.0]
    assert monitor.status().standing_in is None
    after = [event for event in events if event.time_s > 2602.0 and event.alarm == "standing-in"]
    assert [event.state for event in after] == []


def test_when_the_other_probe_is_lost_too_nobody_sees_the_heat() -> None:
    """That is said, and the heat is again as with one probe that has failed."""
    items = [*course(1700, range(1500, 9999)), *course(1750, range(1500, 9999), chamber=False, first_s=1701)]
    monitor, events = watched([*items, ClockMark(1760.0)], CHAMBER)
    lost = said(events, "says nothing either")
    assert len(lost) == 1
    assert 1710.0 <= lost[0] <= 1715.0
    assert monitor.status().standing_in is None
    # It comes back within five minutes: what was learnt still holds.
    again = [event for item in course(1800, range(1500, 9999), first_s=1761) for event in monitor.feed(item)]
    assert [event.alarm for event in again if event.alarm == "standing-in"]
    assert monitor.status().standing_in is not None


def test_too_little_seen_of_both_is_said_once() -> None:
    """The heat goes on as with one probe."""
    monitor, events = watched(course(400, range(200, 401)), CHAMBER)
    assert len(said(events, "nothing stands in for the followed probe")) == 1
    assert monitor.status().standing_in is None
    assert monitor.status().temp_c is None


def test_a_probe_on_the_bottle_stands_in_for_nothing() -> None:
    """Only pot and chamber say anything of each other."""
    items = [
        each
        for item in course(1700, range(1500, 1700), chamber=False)
        for each in (item, ProbeReading(item.time_s, "bottle", temp_c=10.0))
    ]
    monitor, events = watched(items, BOTTLE)
    assert monitor.status().standing_in is None
    assert said(events, "stands in") == []


def test_a_blind_time_is_no_failure() -> None:
    """After a restart of the watch the chamber may be the first to speak."""
    items = [
        *course(1500),
        Notice(1560.0, NoticeName.WATCH_RESUMED),
        ProbeReading(1561.0, "chamber", temp_c=280.0),
        *course(1700, first_s=1562),
    ]
    _, events = watched(items, CHAMBER)
    assert said(events, "stands in") == []


def test_the_readings_uncertainty_holds_the_guess() -> None:
    """Whatever states a temperature of that time states it with what it may be off by."""
    sound, _ = watched(course(1600), CHAMBER)
    monitor, _ = watched(course(1600, range(1500, 1600)), CHAMBER)
    before, now = sound.stated(), monitor.stated()
    assert before is not None
    assert now is not None
    state = monitor.status().standing_in
    assert state is not None
    assert now.temperature.guess == pytest.approx(state.off_c / 2.0)
    assert now.temperature.combined > before.temperature.combined
    assert monitor.expanded_uncertainty_c(300.0) > sound.expanded_uncertainty_c(300.0)


def test_however_the_clock_is_advanced_the_same_is_said() -> None:
    """A live heat and its replay take one path."""
    plain = watched(course(2200, range(1500, 1800)), CHAMBER)[1]
    monitor, _ = watched((), CHAMBER)
    cut = []
    for item in course(2200, range(1500, 1800)):
        cut += monitor.advance(item.time_s - 0.3)
        cut += monitor.feed(item)
    assert cut == plain


def test_that_nothing_can_stand_in_is_said_once_for_a_probe_that_reads_on_out_of_its_place() -> None:
    """It climbs four times as fast all at once, as in a flame, before both were seen for long enough."""
    schedule = parse_schedule(tomllib.loads(STEEP_HEAT), "test.toml")
    monitor = Monitor(schedule, MonitorParameters(probes=(CHAMBER,)))
    own, beside, events = random.Random(1), random.Random(2), []
    for second in range(360):
        events += monitor.feed(Reading(float(second), temp_c=temperature_c(second, own)))
        events += monitor.feed(ProbeReading(second + 0.01, "chamber", temp_c=temperature_c(second, beside) + 15.0))
    assert len(said(events, "nothing stands in for the followed probe (out of its place)")) == 1
