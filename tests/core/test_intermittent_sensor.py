"""A sensor that works now and then, through the whole core: the watch is never both silent and blind for long."""

import random
import tomllib
from collections.abc import Callable, Iterable, Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intermittent_mixes import (
    TOLD_WITHIN_S,
    Course,
    bad_frame,
    drawn_course,
    drawn_lonely,
    drawn_mix,
    judge_mix,
    lonely_delay_s,
    told_within_s,
    watch,
)
from rampwarden.core.alarm_entry import CHECK_THE_PROBE
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import AlarmState, Event, EventName, Fault, Reading
from rampwarden.core.monitor import Monitor

EXACT_S = 1e-3
CLIMB = '[[segment]]\nname = "up"\nkind = "ramp"\nto = "1200 C"\nmax_rate = "60 C / min"\n'
SOAK = '[[segment]]\nname = "soak"\nkind = "soak"\nat = "300 C"\nband = ["-20 C", "+20 C"]\nhold = "10 min"\n'
Spoil = Callable[[int, float, float], Reading]


def opened_for_nine_of_ten(number: int, time_s: float, temp_c: float) -> Reading:
    return Reading(time_s, temp_c=temp_c, faults=(Fault.OPEN,) if number % 10 else ())


def out_of_range_for_two_of_three(number: int, time_s: float, temp_c: float) -> Reading:
    return Reading(time_s, temp_c=2500.0 if number % 3 else temp_c)


def spikes_every_other_time(number: int, time_s: float, temp_c: float) -> Reading:
    return Reading(time_s, temp_c=900.0 if number % 2 else temp_c)


def spikes_for_three_of_four(number: int, time_s: float, temp_c: float) -> Reading:
    return Reading(time_s, temp_c=temp_c if number % 4 == 0 else 900.0 + 200.0 * (number % 4))


def sound(_number: int, time_s: float, temp_c: float) -> Reading:
    return Reading(time_s, temp_c=temp_c)


def board(spoil: Spoil, seconds: float, from_s: float = 0.0, c_per_s: float = 0.0, hz: int = 10) -> Iterator[Reading]:
    """Read ten times a second, from 300 °C on, through a wire that spoils frames."""
    dice = random.Random("intermittent")
    for number in range(round(seconds * hz)):
        since_s = number / hz
        yield spoil(number, round(from_s + since_s, 3), 300.0 + c_per_s * since_s + dice.gauss(0.0, 0.2))


def hear(monitor: Monitor, readings: Iterable[Reading]) -> list[Event]:
    return [event for reading in readings for event in monitor.feed(reading)]


def monitor(text: str = CLIMB) -> Monitor:
    return Monitor(parse_schedule(tomllib.loads(text), "test.toml"))


def raised(events: Iterable[Event]) -> dict[str, float]:
    """Give when each alarm was first raised, s."""
    first: dict[str, float] = {}
    for event in events:
        if event.alarm is not None and event.state is AlarmState.UNACKNOWLEDGED:
            first.setdefault(event.alarm, event.time_s)
    return first


class TestAClimb:
    """Of 240 °C/min where 60 are allowed, at ten readings a second. None of this once rang in fifty seconds."""

    @pytest.mark.parametrize("spoil", [opened_for_nine_of_ten, out_of_range_for_two_of_three, spikes_every_other_time])
    def test_is_told_though_most_readings_are_bad(self, spoil: Spoil) -> None:
        """What can be believed among them shows it as a sound sensor would."""
        told = []
        for each in (sound, spoil):
            watch = monitor()
            events = hear(watch, board(sound, 60.0))
            events += hear(watch, board(each, 60.0, 60.0, c_per_s=4.0))
            told.append(raised(events)["ramp-high"])
        assert told[1] - told[0] <= 2.0

    @pytest.mark.parametrize("spoil", [opened_for_nine_of_ten, out_of_range_for_two_of_three])
    def test_sends_somebody_to_the_probe_as_well(self, spoil: Spoil) -> None:
        """Both ring, and the order of the climb is not to be trusted while the sensor is in doubt."""
        watch = monitor()
        hear(watch, board(sound, 60.0))
        events = hear(watch, board(spoil, 60.0, 60.0, c_per_s=4.0))
        assert raised(events)["sensor-intermittent"] <= 75.0
        actions = {alarm.alarm: alarm.action for alarm in watch.status().alarms}
        assert actions["ramp-high"] == CHECK_THE_PROBE
        assert "check plug, wires and board" in actions["sensor-intermittent"]


class TestBeforeTheFirstSegment:
    def test_spikes_every_other_reading_are_not_silent(self) -> None:
        """Nothing was ever believed, so nothing has begun: and that must be said. Once nothing in 75 s."""
        watch = monitor()
        events = hear(watch, board(spikes_every_other_time, 20.0))
        assert raised(events)["sensor-intermittent"] <= TOLD_WITHIN_S
        assert watch.status().segment is None


class TestOnePlainFault:
    def test_rings_once(self) -> None:
        """An open thermocouple is told by its own alarm, and by no other, while it stands or when it is over."""
        watch = monitor()
        events = hear(watch, board(sound, 60.0, hz=1))
        events += hear(watch, board(opened_for_nine_of_ten, 9.0, 60.0, hz=1))
        events += hear(
            watch,
            board(lambda _n, time_s, temp_c: Reading(time_s, temp_c=temp_c, faults=(Fault.OPEN,)), 40.0, 70.0, hz=1),
        )
        events += hear(watch, board(sound, 120.0, 110.0, hz=1))
        assert set(raised(events)) == {"sensor-open"}


class TestInterference:
    def test_that_grows_so_bad_that_too_few_are_left_is_one_alarm(self) -> None:
        """Spikes now and then are sensor-noisy; once most are spikes that rests, and comes back by itself no more."""
        watch = monitor()
        events = hear(watch, board(sound, 120.0, hz=1))
        rare = lambda number, time_s, temp_c: Reading(time_s, temp_c=900.0 if number % 6 == 0 else temp_c)  # noqa: E731
        events += hear(watch, board(rare, 120.0, 120.0, hz=1))
        assert set(raised(events)) == {"sensor-noisy"}
        events = hear(watch, board(spikes_for_three_of_four, 60.0, 240.0, hz=1))
        assert set(raised(events)) == {"sensor-intermittent"}
        assert [alarm.alarm for alarm in watch.status().alarms] == ["sensor-intermittent"]
        rests = [event for event in events if event.alarm == "sensor-noisy"]
        assert [event.text for event in rests] == ["sensor-noisy · rests: the reading is in doubt · up"]
        events = hear(watch, board(sound, 200.0, 300.0, hz=1))
        assert raised(events) == {}


class TestASoak:
    def test_earns_nothing_by_readings_in_doubt(self) -> None:
        """Two of three readings are bad: the soak clock stands from when that began."""
        watch = monitor(SOAK)
        events = hear(watch, board(sound, 200.0, hz=2))
        before_s = watch.status().soaked_s
        events += hear(watch, board(out_of_range_for_two_of_three, 200.0, 200.0, hz=2))
        assert watch.status().soaked_s <= before_s + 10.0
        events += hear(watch, board(sound, 200.0, 400.0, hz=2))
        assert watch.status().soaked_s > before_s + 100.0
        assert any("taken back" in event.text for event in events if event.event is EventName.OBSERVED)

    def test_that_is_done_and_still_hot_is_unseen(self) -> None:
        """Once the schedule is done a probe that gives spikes alone is the low notice that a pulled one is."""
        watch = monitor(SOAK.replace("10 min", "1 min"))
        hear(watch, board(sound, 90.0, hz=2))
        events = hear(watch, board(spikes_every_other_time, 60.0, 90.0, hz=1))
        assert set(raised(events)) == {"cooling-unseen"}


@pytest.mark.parametrize("seed", range(36))
def test_a_drawn_mix_is_never_both_silent_and_blind_for_longer_than_fifteen_seconds(seed: int) -> None:
    """Whatever comes at 0.2 to 10 Hz (four readings of a very slow board); `make bench-intermittent` draws 2,000."""
    judged = judge_mix(drawn_mix("test", seed))
    within_s = told_within_s(drawn_mix("test", seed).interval_s)
    assert judged.blind_s <= within_s + EXACT_S
    assert judged.told_late_s is not None
    assert judged.told_late_s <= within_s


@settings(max_examples=40, deadline=None)
@given(
    pattern=st.lists(st.sampled_from(("good", "open", "short", "range", "converter", "anywhere")), min_size=1),
    interval_s=st.sampled_from((0.1, 0.3, 1.0, 2.0, 3.7, 5.0)),
    clean=st.integers(0, 20),
    seed=st.integers(0, 1000),
)
def test_no_pattern_of_frames_is_both_silent_and_blind(
    pattern: list[str], interval_s: float, clean: int, seed: int
) -> None:
    """Recurring in whatever order, from the start or later, on a course of its own."""
    dice = random.Random(seed)
    course = drawn_course(dice, seed, 0.0)

    def readings(course: Course) -> Iterator[Reading]:
        for number, (time_s, temp_c) in enumerate(course.sound(interval_s, 150.0)):
            frame = pattern[number % len(pattern)]
            if number < clean or frame == "good":
                yield Reading(time_s, temp_c=temp_c)
            else:
                yield bad_frame(frame, time_s, temp_c, 0.0, dice)

    assert watch(course, interval_s, readings(course)).blind_s <= told_within_s(interval_s) + EXACT_S


@pytest.mark.parametrize("seed", range(12))
def test_single_bad_frames_raise_nothing(seed: int) -> None:
    """Further apart than ten seconds, or one in twenty."""
    lonely = drawn_lonely("test", seed)
    assert watch(lonely.course, lonely.interval_s, lonely.readings(900.0)).first_s == {}


@pytest.mark.long
def test_single_bad_frames_hardly_delay_what_is_true() -> None:
    """By two seconds or two readings, once it is known what a fire's readings scatter by.

    That knowledge is a little other without the bad ones, and where a margin decides it may be a reading more.
    """
    late = []
    for seed in range(5):
        lonely = drawn_lonely("test", seed, 1500.0)
        late.append(lonely_delay_s(lonely) - max(2.0, 2.0 * lonely.interval_s))
    assert sorted(late)[-2] <= 0.01
    assert max(late) <= 3.0
