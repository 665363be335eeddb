"""The core's one door: what goes in, what comes out, and that time is only ever what is told."""

import math
import tomllib
from collections.abc import Iterable

import pytest

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import (
    AlarmState,
    ClockMark,
    Command,
    CommandName,
    Event,
    EventName,
    Fault,
    Input,
    Notice,
    NoticeName,
    Quality,
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.schedule import Schedule
from rampwarden.records.record_lines import encode_line

WHOLE = """
title = "A short heat"

[[segment]]
name = "drying"
kind = "ramp"
to = "200 C"
max_rate = "25 C / 15 min"

[[segment]]
name = "oven to furnace"
kind = "transfer"
within = "20 min"
arrive_above = "100 C"

[[segment]]
name = "to red heat"
kind = "ramp"
to = "650 C"
max_rate = "60 C / min"
min_rate = "5 C / min"
within = "1 h"

[[segment]]
name = "working temperature"
kind = "soak"
at = "650 C"
band = ["-20 C", "+20 C"]
hold = "10 min"
ceiling = "700 C"

[[segment]]
name = "closed furnace"
kind = "cool"
to = "60 C"
max_rate = "60 C / min"
"""

FREE = """
title = "No limits"
[[segment]]
name = "up"
kind = "ramp"
to = "1300 C"
"""


def plan(text: str = WHOLE) -> Schedule:
    return parse_schedule(tomllib.loads(text), "test.toml")


def line(from_c: float, to_c: float, seconds: int) -> list[float]:
    """Give a straight line of one temperature a second, its end included and its beginning not."""
    return [from_c + (to_c - from_c) * n / seconds for n in range(1, seconds + 1)]


def at_each_second(temps_c: Iterable[float], from_s: float = 0.0) -> list[Reading]:
    return [Reading(from_s + n, temp_c=temp_c) for n, temp_c in enumerate(temps_c)]


def feed_all(monitor: Monitor, items: Iterable[Input]) -> list[Event]:
    return [event for item in items for event in monitor.feed(item)]


def begin(monitor: Monitor, temp_c: float = 20.0, from_s: float = 0.0) -> list[Event]:
    """Start a heat with five readings, which the outlier gate believes."""
    return feed_all(monitor, at_each_second([temp_c] * 5, from_s))


def alarms(events: Iterable[Event]) -> list[tuple[float, str | None, AlarmState | None]]:
    return [(event.time_s, event.alarm, event.state) for event in events if event.event is EventName.ALARM]


def happenings(events: Iterable[Event]) -> list[tuple[EventName, str | None]]:
    return [(event.event, event.segment) for event in events]


# What the schedule brings about; what is merely observed of the furnace is tested where it is made.
PROGRESS = (EventName.HEAT_STARTED, EventName.SEGMENT_STARTED, EventName.SOAK_COMPLETE, EventName.HEAT_COMPLETE)


def to_bytes(events: Iterable[Event]) -> bytes:
    return b"".join(encode_line(event) for event in events)


def whole_heat() -> list[Input]:
    """Give a heat that keeps every limit of `WHOLE`, transfer and all."""
    temps_c = [160.0] * 60 + line(160.0, 200.0, 2000) + [200.0] * 60
    temps_c += (
        line(200.0, 60.0, 140) + [60.0] * 60 + line(60.0, 650.0, 1200) + [650.0, 649.9] * 350 + line(650.0, 50.0, 900)
    )
    return list(at_each_second(temps_c))


class TestAWholeHeat:
    def test_says_what_has_been_reached_and_nothing_else(self) -> None:
        """Every segment once, the soak, the end; no alarm, for every limit was kept."""
        monitor = Monitor(plan())
        events = feed_all(monitor, whole_heat())
        assert alarms(events) == []
        steps = [event for event in events if event.event in PROGRESS]
        assert happenings(steps) == [
            (EventName.HEAT_STARTED, None),
            (EventName.SEGMENT_STARTED, "drying"),
            (EventName.SEGMENT_STARTED, "oven to furnace"),
            (EventName.SEGMENT_STARTED, "to red heat"),
            (EventName.SEGMENT_STARTED, "working temperature"),
            (EventName.SOAK_COMPLETE, "working temperature"),
            (EventName.SEGMENT_STARTED, "closed furnace"),
            (EventName.HEAT_COMPLETE, "closed furnace"),
        ]
        assert [steps[0].text, steps[5].text, steps[7].text] == [
            "watching: A short heat",
            "working temperature · soaked for 10 min in its band",
            "the schedule is done",
        ]
        assert monitor.complete
        assert monitor.highest_c == 650.0

    @pytest.mark.parametrize("place", ["", "pot", "chamber"])
    def test_says_whose_soak_it_was_where_it_was_the_chambers(self, place: str) -> None:
        """What the record holds of a heat whose probe's place nobody has said is what it always was."""
        events = feed_all(Monitor(plan(), MonitorParameters(place=place)), whole_heat())
        (soaked,) = [event.text for event in events if event.event is EventName.SOAK_COMPLETE]
        whose = " by the chamber, and the pot comes after it" if place == "chamber" else ""
        assert soaked == f"working temperature · soaked for 10 min in its band{whose}"
        if place != "chamber":
            assert to_bytes(events) == to_bytes(feed_all(Monitor(plan()), whole_heat()))

    def test_goes_on_being_shown_after_its_end(self) -> None:
        """The temperature and its ramp are shown; no segment is judged any more, and the board may be unplugged."""
        monitor = Monitor(plan())
        feed_all(monitor, whole_heat())
        end_s = monitor.time_s or 0.0
        assert feed_all(monitor, at_each_second(line(50.0, 350.0, 600), end_s + 1.0)) == []
        status = monitor.status()
        assert (status.segment, status.phase, status.temp_c) == (None, "complete", 350.0)
        assert status.ramp is not None
        assert status.ramp.c_per_s == pytest.approx(0.5)
        assert monitor.advance(end_s + 700.0) == []
        [event] = monitor.feed(Notice(end_s + 701.0, NoticeName.RECORD_FAILING, text="disk full"))
        assert (event.alarm, event.segment, event.segment_number) == ("record-failing", None, None)

    def test_judges_no_limit_after_its_end(self) -> None:
        """Whoever ended the heat may do with the furnace as they like."""
        monitor = Monitor(plan())
        begin(monitor, 300.0)
        monitor.feed(Command(5.0, CommandName.END_HEAT))
        assert feed_all(monitor, at_each_second(line(300.0, 900.0, 120) + line(900.0, 300.0, 120), from_s=6.0)) == []

    def test_may_end_before_it_has_begun(self) -> None:
        """Ended by hand before the first temperature, the furnace is still shown."""
        monitor = Monitor(plan())
        monitor.feed(Command(0.0, CommandName.END_HEAT))
        assert begin(monitor, 300.0, from_s=1.0) == []
        assert monitor.status().temp_c == 300.0

    def test_has_the_same_ramp_whether_anybody_looks_or_not(self) -> None:
        watched, unwatched = Monitor(plan()), Monitor(plan())
        for item in whole_heat()[:4200]:
            assert watched.feed(item) == unwatched.feed(item)
            watched.status()
            watched.stated()
        assert watched.status().ramp == unwatched.status().ramp
        assert watched.stated() == unwatched.stated()
        assert watched.segment_end == unwatched.segment_end

    def test_keeps_no_event_back(self) -> None:
        """What a call caused it gives; the next gives only its own."""
        monitor = Monitor(plan())
        assert monitor.advance(100.0) == []
        assert [event.event for event in monitor.feed(ClockMark(100.0))] == [EventName.HEAT_STARTED]
        assert monitor.feed(ClockMark(101.0)) == []
        assert monitor.advance(102.0) == []


class TestTime:
    def test_begins_with_the_first_input(self) -> None:
        """Advancing before that is watching nothing."""
        monitor = Monitor(plan())
        assert monitor.advance(1e9) == []
        assert monitor.time_s is None
        assert monitor.status().time_s == 0.0
        monitor.feed(ClockMark(5.5))
        assert monitor.time_s == 5.5

    def test_never_runs_back(self) -> None:
        """A late input is answered at the clock's time."""
        monitor = Monitor(plan())
        begin(monitor)
        monitor.advance(8.0)
        assert monitor.advance(2.0) == []
        [event] = monitor.feed(Command(3.0, CommandName.NOTE, text="late"))
        assert event.time_s == 8.0
        assert monitor.time_s == 8.0

    def test_as_large_as_the_clock_of_an_age_changes_nothing(self) -> None:
        """Stamped in seconds since 1970 the same heat gives the same events, each so much later."""
        shift_s = 1.7e9
        small, large = Monitor(plan()), Monitor(plan())
        heat = whole_heat()
        events = feed_all(small, heat)
        shifted = [Reading(item.time_s + shift_s, temp_c=item.temp_c) for item in heat if isinstance(item, Reading)]
        moved = feed_all(large, shifted)
        assert [(event.time_s + shift_s, event.text) for event in events] == [(e.time_s, e.text) for e in moved]

    def test_that_jumps_by_a_month_costs_nothing(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """The clock goes straight to the seconds at which something is due, and there are few of them."""
        visited_s: list[float] = []
        tick = Monitor._tick

        def note_and_tick(self: Monitor, now_s: float) -> None:
            visited_s.append(now_s)
            tick(self, now_s)

        monkeypatch.setattr(Monitor, "_tick", note_and_tick)
        monitor = Monitor(plan(FREE + 'within = "40 d"\n'))
        begin(monitor)
        monitor.feed(Command(5.0, CommandName.SHELVE, alarm="ramp-low", minutes=60.0))
        monitor.feed(Notice(6.0, NoticeName.BOARD_RESTARTED))
        events = monitor.advance(30 * 86400.0)
        events += monitor.feed(Reading(60 * 86400.0, temp_c=20.0))
        assert len(visited_s) < 20
        assert alarms(events) == [
            (14.0, "signal-lost", AlarmState.UNACKNOWLEDGED),
            (66.0, "board-restarted", AlarmState.RETURNED_UNACKNOWLEDGED),
            (3605.0, "ramp-low", AlarmState.NORMAL),
            (2.0 + 40 * 86400.0, "segment-overdue", AlarmState.UNACKNOWLEDGED),
        ]

    def test_of_what_ends_by_itself_is_a_whole_second(self) -> None:
        """The grid makes the dates the same, however the calls fell."""
        monitor = Monitor(plan())
        monitor.feed(ClockMark(0.3))
        assert monitor.advance(10.9) == []
        [event] = monitor.advance(11.0)
        assert (event.time_s, event.alarm) == (11.0, "signal-lost")


class TestSilence:
    def test_is_an_alarm_on_the_grid_with_its_length(self) -> None:
        """Ten seconds after the last reading, rounded up to the grid, however late the call."""
        monitor = Monitor(plan())
        begin(monitor, from_s=0.4)
        [event] = monitor.advance(500.0)
        assert event.time_s == 15.0
        assert (event.value, event.limit, event.unit) == (10.6, 10.0, "s")
        assert event.text == (
            "signal-lost · no reading for 11 s · drying · check cable and board, watch the furnace by eye"
        )

    def test_names_its_cause_where_the_port_told_one(self) -> None:
        """The person at the furnace should not have to look for it."""
        monitor = Monitor(plan())
        begin(monitor)
        monitor.feed(Notice(5.0, NoticeName.PORT_LOST, text="the port is gone: unplugged?"))
        [event] = monitor.advance(60.0)
        assert event.text.startswith("signal-lost · no reading for 10 s: the port is gone: unplugged? · drying · ")

    def test_names_no_cause_that_is_over(self) -> None:
        """The port came back, the board behind it did not."""
        monitor = Monitor(plan())
        begin(monitor)
        monitor.feed(Notice(5.0, NoticeName.PORT_LOST, text="unplugged"))
        monitor.feed(Notice(6.0, NoticeName.PORT_OPENED))
        [event] = monitor.advance(60.0)
        assert event.text.startswith("signal-lost · no reading for 10 s · drying · ")

    def test_from_the_very_beginning_is_silence_too(self) -> None:
        """A board that never speaks is the first thing to hear of."""
        monitor = Monitor(plan())
        monitor.feed(ClockMark(100.0))
        [event] = monitor.advance(200.0)
        assert (event.time_s, event.alarm, event.segment) == (110.0, "signal-lost", None)

    def test_is_not_broken_by_notices_and_commands(self) -> None:
        """Only a reading is a reading."""
        monitor = Monitor(plan())
        begin(monitor)
        monitor.feed(Notice(9.0, NoticeName.GARBLED, count=3))
        monitor.feed(Notice(9.5, NoticeName.FRAMES_LOST, count=3))
        monitor.feed(Command(10.0, CommandName.NOTE, text="hm"))
        assert alarms(monitor.advance(60.0)) == [(14.0, "signal-lost", AlarmState.UNACKNOWLEDGED)]

    def test_is_broken_by_a_reading_of_any_kind(self) -> None:
        """A board that reports faults is there."""
        monitor = Monitor(plan())
        begin(monitor)
        for n in range(5, 60):
            monitor.feed(Reading(float(n), faults=(Fault.OPEN,)))
        assert monitor.status().quality is Quality.BAD
        assert "signal-lost" not in [alarm.alarm for alarm in monitor.status().alarms]

    def test_begins_when_the_last_reading_was_heard_however_old_it_was(self) -> None:
        """A board that was late is there."""
        monitor = Monitor(plan())
        monitor.feed(ClockMark(100.0))
        monitor.feed(Reading(60.0, temp_c=20.0))
        [event] = monitor.advance(200.0)
        assert (event.time_s, event.value) == (110.0, 10.0)

    def test_as_long_as_the_parameters_say(self) -> None:
        """A slow board is given longer."""
        monitor = Monitor(plan(), MonitorParameters(signal_lost_s=45.0))
        begin(monitor)
        assert alarms(monitor.advance(1e3)) == [(49.0, "signal-lost", AlarmState.UNACKNOWLEDGED)]

    def test_with_a_delay_of_its_own_is_still_an_alarm(self) -> None:
        """There is no reading that could confirm that there are none."""
        entry = CATALOGUE["signal-lost"]
        slow = {**CATALOGUE, "signal-lost": type(entry)(**{**fields_of(entry), "on_delay_s": 20.0})}
        monitor = Monitor(plan(), MonitorParameters(alarms=slow))
        begin(monitor)
        assert alarms(monitor.advance(1e3)) == [(34.0, "signal-lost", AlarmState.UNACKNOWLEDGED)]

    def test_shelved_and_still_there_comes_back(self) -> None:
        """It is told once, and must not be lost with the shelf."""
        monitor = Monitor(plan())
        begin(monitor)
        monitor.advance(20.0)
        monitor.feed(Command(20.0, CommandName.SHELVE, alarm="signal-lost", minutes=2.0))
        assert alarms(monitor.advance(1e3)) == [
            (140.0, "signal-lost", AlarmState.NORMAL),
            (140.0, "signal-lost", AlarmState.UNACKNOWLEDGED),
        ]


def fields_of(entry: object) -> dict[str, object]:
    return {name: getattr(entry, name) for name in type(entry).__slots__}  # type: ignore[attr-defined]


class TestReadings:
    def test_as_emf_are_converted_with_their_junction(self) -> None:
        """EMFs add: the same sum over another junction is the same temperature."""
        tc = thermocouple("K")
        for junction_c in (0.0, 24.81, 49.0):
            monitor = Monitor(plan(FREE))
            emf_uv = tc.emf_uv(500.0) - tc.emf_uv(junction_c)
            feed_all(monitor, [Reading(float(n), emf_uv=emf_uv, junction_c=junction_c) for n in range(5)])
            assert monitor.status().temp_c == pytest.approx(500.0, abs=1e-6)
            assert monitor.status().quality is Quality.GOOD

    def test_as_emf_without_a_junction_stand_over_one_at_zero(self) -> None:
        """What the published tables assume."""
        monitor = Monitor(plan(FREE))
        monitor.feed(Reading(0.0, emf_uv=thermocouple("K").emf_uv(500.0)))
        assert monitor.status().temp_c == pytest.approx(500.0, abs=1e-6)

    @pytest.mark.parametrize("letter", ["B", "E", "J", "N", "R", "S", "T"])
    def test_are_converted_as_the_type_they_come_from(self, letter: str) -> None:
        """The parameters name it."""
        monitor = Monitor(plan(FREE), MonitorParameters(thermocouple_type=letter))
        tc = thermocouple(letter)
        monitor.feed(Reading(0.0, emf_uv=tc.emf_uv(300.0) - tc.emf_uv(25.0), junction_c=25.0))
        assert monitor.status().temp_c == pytest.approx(300.0, abs=1e-5)

    def test_of_a_type_nobody_knows_are_refused_before_the_heat(self) -> None:
        """Not with the first reading."""
        with pytest.raises(ValueError, match="thermocouple type 'X' is unknown"):
            Monitor(plan(FREE), MonitorParameters(thermocouple_type="X"))

    def test_as_temperature_are_taken_as_they_are(self) -> None:
        """A board that converted is believed, and an EMF beside it is believed more."""
        monitor = Monitor(plan(FREE))
        monitor.feed(Reading(0.0, temp_c=123.4))
        assert monitor.status().temp_c == 123.4
        monitor.feed(Reading(1.0, emf_uv=0.0, junction_c=25.0, temp_c=123.4))
        assert monitor.status().temp_c == pytest.approx(25.0, abs=1e-6)

    @pytest.mark.parametrize(
        ("reading", "what"),
        [
            (Reading(10.0), "the reading carries neither an EMF nor a temperature"),
            (Reading(10.0, temp_c=1372.1), "1372.1 °C is outside type K's range"),
            (Reading(10.0, temp_c=-300.0), "-300 °C is outside type K's range"),
            (Reading(10.0, temp_c=math.nan), "nan °C is outside type K's range"),
            (Reading(10.0, emf_uv=math.nan, junction_c=20.0), "type K: nan µV"),
            (Reading(10.0, emf_uv=60000.0, junction_c=20.0), "type K: 60798.1 µV (measured plus reference junction)"),
            (Reading(10.0, emf_uv=0.0, junction_c=2000.0), "type K is defined from -270 to 1372 °C, not at 2000 °C"),
        ],
        ids=lambda value: "" if isinstance(value, Reading) else value[:30],
    )
    def test_that_can_be_no_temperature_are_an_alarm_and_no_exception(self, reading: Reading, what: str) -> None:
        """Two seconds of them."""
        monitor = Monitor(plan(FREE))
        begin(monitor)
        again = [type(reading)(10.0 + n, reading.emf_uv, reading.junction_c, reading.temp_c) for n in range(4)]
        events = feed_all(monitor, again)
        [event] = [event for event in events if event.alarm == "sensor-range"]
        assert event.time_s == 12.0
        assert event.text.startswith(f"sensor-range · {what}")
        assert monitor.status().temp_c is None
        assert monitor.highest_c == 20.0

    def test_of_one_instant_count_once(self) -> None:
        """A line sent twice, or two of them within the clock's resolution: nothing is drawn through them."""
        heat = whole_heat()
        doubled = [each for item in heat for each in (item, Reading(item.time_s, temp_c=900.0))]
        assert to_bytes(feed_all(Monitor(plan()), doubled)) == to_bytes(feed_all(Monitor(plan()), heat))

    def test_out_of_order_change_nothing(self) -> None:
        """Whatever was overtaken is set aside: the outlier gate counts on time that rises."""
        heat = whole_heat()
        with_stragglers: list[Input] = []
        for n, item in enumerate(heat):
            with_stragglers.append(item)
            if n > 10 and n % 3 == 0:
                with_stragglers += [Reading(item.time_s - 2.5, temp_c=300.0), Reading(item.time_s - 5.0, temp_c=5.0)]
        assert to_bytes(feed_all(Monitor(plan()), with_stragglers)) == to_bytes(feed_all(Monitor(plan()), heat))

    def test_that_were_late_but_in_order_are_measured_at_their_own_time(self) -> None:
        """The clock had run on; slope and soak go by when they were taken, events by when they were heard."""
        monitor = Monitor(plan(FREE))
        late = [Reading(float(n), temp_c=20.0 + 0.1 * n) for n in range(95)]
        begun = monitor.feed(ClockMark(100.0))
        events = feed_all(monitor, late)
        assert [event.time_s for event in begun + events] == [100.0, 100.0]
        ramp = monitor.status().ramp
        assert ramp is not None
        assert ramp.c_per_s == pytest.approx(0.1)

    def test_that_pause_overnight_after_the_first_few_are_no_trouble(self) -> None:
        """A watch begun in the evening and a board plugged in again in the morning: the pause is not its pace."""
        monitor = Monitor(plan())
        begin(monitor)
        events = feed_all(monitor, at_each_second(line(20.0, 21.0, 600), from_s=45000.0))
        assert {event.alarm for event in events} == {"signal-lost"}
        assert monitor.status().quality is Quality.GOOD

    def test_after_a_fault_are_believed_where_they_stand_near_the_last(self) -> None:
        """Else a plug that works every other reading would never be believed; what is far off is held as ever."""
        monitor = Monitor(plan())
        begin(monitor)
        for time_s, temp_c, quality in [(6.0, 21.0, Quality.GOOD), (8.0, 90.0, Quality.HELD)]:
            monitor.feed(Reading(time_s - 1.0, faults=(Fault.OPEN,)))
            monitor.feed(Reading(time_s, temp_c=temp_c))
            assert monitor.status().quality is quality

    def test_that_are_one_spark_count_for_nothing(self) -> None:
        """The outlier gate stands before every stage."""
        monitor = Monitor(plan())
        begin(monitor)
        events = feed_all(monitor, at_each_second([20.0, 900.0, 20.0, 20.0], from_s=5.0))
        assert events == []
        assert monitor.highest_c == 20.0


class TestJoining:
    @pytest.mark.parametrize(
        ("temp_c", "segment"),
        [
            (20.0, "drying"),
            (300.0, "to red heat"),
            (640.0, "working temperature"),
            (690.0, "working temperature"),
        ],
    )
    def test_a_warm_furnace_is_joined_where_it_stands(self, temp_c: float, segment: str) -> None:
        """At the first reading that is believed, which is the third."""
        monitor = Monitor(plan())
        events = begin(monitor, temp_c)
        assert [(event.time_s, event.segment) for event in events] == [(0.0, None), (2.0, segment)]
        assert monitor.status().segment == segment

    def test_a_sensor_that_is_open_at_first_joins_nothing(self) -> None:
        """There is no segment until there is a temperature."""
        monitor = Monitor(plan())
        feed_all(monitor, [Reading(float(n), faults=(Fault.OPEN,)) for n in range(5)])
        status = monitor.status()
        assert (status.segment, status.segment_number, status.phase) == (None, 1, "waiting for the first temperature")
        assert status.temp_c is None


class TestATransfer:
    def carried(self) -> Monitor:
        """Give a monitor whose pot has just left the oven."""
        monitor = Monitor(plan())
        feed_all(monitor, at_each_second([199.0] * 5 + [200.0]))
        assert monitor.status().segment == "oven to furnace"
        return monitor

    def test_suppresses_what_a_probe_in_the_air_says(self) -> None:
        """Unplugged, falling like a stone, plugged in and shooting up: no word of it."""
        monitor = self.carried()
        items: list[Input] = [Reading(6.0 + n, faults=(Fault.OPEN,)) for n in range(60)]
        items += at_each_second([60.0] * 30 + line(60.0, 99.0, 10), from_s=66.0)
        assert feed_all(monitor, items) == []

    def test_unsuppresses_at_the_arrival(self) -> None:
        """From then on a climb is a climb again, judged from there."""
        monitor = self.carried()
        feed_all(monitor, at_each_second(line(200.0, 60.0, 60) + line(60.0, 120.0, 120), from_s=6.0))
        assert monitor.status().segment == "to red heat"
        events = feed_all(monitor, at_each_second(line(120.0, 520.0, 100), from_s=186.0))
        assert "ramp-high" in [event.alarm for event in events]

    def test_tells_of_an_alarm_that_stood_when_it_began(self) -> None:
        """It is suppressed by design, and when the pot has arrived it is so no longer."""
        monitor = Monitor(plan())
        events = feed_all(monitor, at_each_second([150.0] * 60 + line(150.0, 200.0, 100)))
        events += feed_all(monitor, at_each_second(line(200.0, 60.0, 60) + line(60.0, 120.0, 120), from_s=160.0))
        told = [event.state for event in events if event.alarm == "ramp-high"]
        assert told == [AlarmState.UNACKNOWLEDGED, AlarmState.SUPPRESSED, AlarmState.NORMAL]

    def test_that_takes_too_long_is_told(self) -> None:
        """Lost on the way is no design."""
        monitor = self.carried()
        items = at_each_second([60.0] * 1300, from_s=6.0)
        [event] = [event for event in feed_all(monitor, items) if event.alarm is not None]
        assert (event.time_s, event.alarm, event.value, event.limit) == (1205.0, "segment-overdue", 1200.0, 1200.0)
        assert event.text == (
            "segment-overdue · 'oven to furnace' has run past its 20 min · oven to furnace"
            " · look at the furnace; mark or skip the segment if it is done"
        )
        [mark, returned, start] = monitor.feed(Command(1306.0, CommandName.MARK, text="arrived"))
        assert (mark.event, start.event) == (EventName.MARK, EventName.SEGMENT_STARTED)
        assert (returned.alarm, returned.state) == ("segment-overdue", AlarmState.RETURNED_UNACKNOWLEDGED)

    def test_is_begun_and_ended_by_a_persons_mark(self) -> None:
        """The word comes first, then what it did."""
        monitor = Monitor(plan())
        begin(monitor, 150.0)
        assert happenings(monitor.feed(Command(5.0, CommandName.MARK, text="transfer"))) == [
            (EventName.MARK, "drying"),
            (EventName.SEGMENT_STARTED, "oven to furnace"),
        ]
        assert happenings(monitor.feed(Command(6.0, CommandName.MARK, text="arrived"))) == [
            (EventName.MARK, "oven to furnace"),
            (EventName.SEGMENT_STARTED, "to red heat"),
        ]

    @pytest.mark.parametrize("mark", ["transfer", "arrived", "lid-open"])
    def test_is_nothing_a_mark_can_begin_before_the_first_temperature_or_after_the_end(self, mark: str) -> None:
        """Then it is a mark like any other; where another segment runs it asks what is meant (test_questions)."""
        monitor = Monitor(plan())
        assert [e.event for e in monitor.feed(Command(5.0, CommandName.MARK, text=mark))][-1] is EventName.MARK
        monitor.feed(Command(6.0, CommandName.END_HEAT))
        assert happenings(monitor.feed(Command(7.0, CommandName.MARK, text=mark))) == [(EventName.MARK, None)]

    def test_that_is_ended_with_the_heat_leaves_the_sensor_suppressed(self) -> None:
        """Whoever ended the heat may pull the probe."""
        monitor = self.carried()
        feed_all(monitor, [Reading(6.0 + n, faults=(Fault.OPEN,)) for n in range(10)])
        monitor.feed(Command(16.0, CommandName.END_HEAT))
        events = feed_all(monitor, [Reading(17.0 + n, faults=(Fault.OPEN,)) for n in range(5)])
        assert alarms(events) == []


class TestCommands:
    def with_alarm(self) -> Monitor:
        """Give a monitor with a standing record-failing at 5 s."""
        monitor = Monitor(plan())
        begin(monitor)
        monitor.feed(Notice(5.0, NoticeName.RECORD_FAILING, text="disk full"))
        return monitor

    def test_acknowledge_one_or_all(self) -> None:
        """With a name that one, without every one."""
        for name in ("record-failing", ""):
            monitor = self.with_alarm()
            [event] = monitor.feed(Command(6.0, CommandName.ACKNOWLEDGE, alarm=name))
            assert (event.alarm, event.state) == ("record-failing", AlarmState.ACKNOWLEDGED)
            assert event.text == "record-failing · acknowledged, still present · drying"
        assert monitor.feed(Command(7.0, CommandName.ACKNOWLEDGE)) == []

    def test_shelve_for_so_many_minutes_and_take_back(self) -> None:
        """It comes back by itself, or by hand before."""
        monitor = self.with_alarm()
        [event] = monitor.feed(Command(6.0, CommandName.SHELVE, alarm="record-failing", minutes=1.0))
        assert event.state is AlarmState.SHELVED
        [event] = monitor.feed(Command(7.0, CommandName.UNSHELVE, alarm="record-failing"))
        assert event.text == "record-failing · no longer shelved · drying"
        assert alarms(monitor.advance(8.0)) == [(8.0, "record-failing", AlarmState.UNACKNOWLEDGED)]

    def test_note_and_mark_stand_in_the_record(self) -> None:
        """With the segment they were spoken in."""
        monitor = self.with_alarm()
        [note] = monitor.feed(Command(6.0, CommandName.NOTE, text="gas to 0.04 bar"))
        assert (note.event, note.text, note.segment) == (EventName.NOTE, "gas to 0.04 bar", "drying")
        assert note.segment_number == 1
        [mark] = monitor.feed(Command(7.0, CommandName.MARK, text="lid-open"))
        assert (mark.event, mark.text, mark.segment) == (EventName.MARK, "lid-open", "drying")

    def test_skip_a_segment(self) -> None:
        """The next one begins now."""
        monitor = self.with_alarm()
        [event] = monitor.feed(Command(6.0, CommandName.SKIP_SEGMENT, text="dried yesterday"))
        assert (event.event, event.time_s, event.segment) == (EventName.SEGMENT_STARTED, 6.0, "oven to furnace")

    @pytest.mark.parametrize(("text", "said"), [("gas is out", "gas is out"), ("", "ended by hand")])
    def test_end_the_heat(self, text: str, said: str) -> None:
        """With the person's reason, or the fact."""
        monitor = self.with_alarm()
        [event] = monitor.feed(Command(6.0, CommandName.END_HEAT, text=text))
        assert (event.event, event.text) == (EventName.HEAT_ENDED, said)
        assert monitor.complete

    def test_end_the_heat_ends_what_its_segments_said(self) -> None:
        """An overdue segment is overdue no more; the record still fails."""
        monitor = Monitor(plan())
        begin(monitor, 300.0)
        monitor.feed(Notice(5.0, NoticeName.RECORD_FAILING))
        events = feed_all(monitor, at_each_second([300.0] * 3700, from_s=5.0))
        assert "segment-overdue" in [event.alarm for event in events]
        events = monitor.feed(Command(3800.0, CommandName.END_HEAT))
        assert (3800.0, "segment-overdue", AlarmState.RETURNED_UNACKNOWLEDGED) in alarms(events)
        standing = {alarm.alarm: alarm.state for alarm in monitor.status().alarms}
        assert standing["record-failing"] is AlarmState.UNACKNOWLEDGED

    @pytest.mark.parametrize(
        ("command", "text"),
        [
            (
                Command(6.0, CommandName.ACKNOWLEDGE, alarm="ramp-high"),
                "acknowledge ramp-high: an alarm that is normal cannot be acknowledged",
            ),
            (
                Command(6.0, CommandName.ACKNOWLEDGE, alarm="ramp-hihg"),
                "acknowledge ramp-hihg: there is no alarm 'ramp-hihg'",
            ),
            (
                Command(6.0, CommandName.MARK, text="bottle weighs 14,200 kg"),
                "mark: bottle-weighs 14,200 kg: 14,200 may mean 14.2 kg or 14200 kg; write one of these two",
            ),
            (
                Command(6.0, CommandName.SHELVE, minutes=5.0),
                "shelve: shelving needs an alarm and between 1 minute and 24 hours",
            ),
            *(
                (
                    Command(6.0, CommandName.SHELVE, alarm="ramp-high", minutes=minutes),
                    "shelve ramp-high: shelving needs an alarm and between 1 minute and 24 hours",
                )
                for minutes in (0.0, -5.0, 0.99, 1440.1, math.nan, math.inf)
            ),
            (Command(6.0, CommandName.UNSHELVE), "unshelve: unshelving needs an alarm"),
            (
                Command(6.0, CommandName.UNSHELVE, alarm="record-failing"),
                "unshelve record-failing: an alarm that is unacknowledged cannot be unshelved",
            ),
            (
                Command(6.0, CommandName.SHELVE, alarm="segment-overdue", minutes=5.0),
                "shelve segment-overdue: an alarm that is out-of-service cannot be shelved",
            ),
        ],
    )
    def test_that_cannot_be_are_refused_in_words(self, command: Command, text: str) -> None:
        """An event, never an exception; and nothing has changed."""
        monitor = Monitor(plan(), MonitorParameters(out_of_service=("segment-overdue",)))
        begin(monitor)
        monitor.feed(Notice(5.0, NoticeName.RECORD_FAILING, text="disk full"))
        before = monitor.status().alarms
        [event] = monitor.feed(command)
        assert (event.event, event.time_s, event.text) == (EventName.REFUSED, 6.0, text)
        assert monitor.status().alarms == before

    def test_about_a_heat_that_is_not_on_are_refused_too(self) -> None:
        """Before its first temperature and after its end."""
        monitor = Monitor(plan())
        monitor.feed(ClockMark(0.0))
        [event] = monitor.feed(Command(1.0, CommandName.SKIP_SEGMENT))
        assert event.text == "skip-segment: a heat that is waiting for the first temperature has no segment to skip"
        monitor.feed(Command(2.0, CommandName.END_HEAT))
        [event] = monitor.feed(Command(3.0, CommandName.END_HEAT))
        assert event.text == "end-heat: a heat that is complete cannot finish"
        [event] = monitor.feed(Command(4.0, CommandName.SKIP_SEGMENT))
        assert event.text == "skip-segment: a heat that is complete has no segment to skip"

    @pytest.mark.parametrize("name", CommandName)
    def test_may_be_the_first_thing_that_is_said(self, name: CommandName) -> None:
        """Before any reading, whatever they are."""
        events = Monitor(plan()).feed(Command(3.5, name, alarm="ramp-high", minutes=5.0, text="arrived"))
        assert events[0].event is EventName.HEAT_STARTED
        assert all(event.time_s == 3.5 for event in events)


class TestStatus:
    def test_holds_everything_a_display_needs(self) -> None:
        """In the middle of a climb."""
        monitor = Monitor(plan())
        feed_all(monitor, at_each_second(line(300.0, 400.0, 200)))
        status = monitor.status()
        assert (status.time_s, status.temp_c, status.quality) == (199.0, 400.0, Quality.GOOD)
        assert (status.segment, status.segment_number, status.segment_count) == ("to red heat", 3, 5)
        assert (status.phase, status.target_c) == ("ramping", 650.0)
        assert status.ramp is not None
        assert status.ramp.c_per_s == pytest.approx(0.5)
        assert status.allowed_c_per_s == pytest.approx((5 / 60, 1.0))
        assert status.to_next_s is not None
        assert 230.0 / 0.8 < status.to_next_s < 230.0 / 0.5, "between what people hold of the limit and its pace so far"
        assert status.to_end_s == pytest.approx(status.to_next_s + sum(status.later_s))
        for best_s, range_s in ((status.to_next_s, status.to_next_range_s), (status.to_end_s, status.to_end_range_s)):
            assert range_s is not None
            assert range_s[0] < best_s < range_s[1]
        assert (len(status.later_s), status.is_settling, status.stops_near_c) == (2, False, None)
        assert (status.soaked_s, status.hold_s, status.alarms) == (0.0, 0.0, ())
        monitor.advance(205.0)
        assert (monitor.status().time_s, monitor.status().read_s) == (205.0, 199.0)

    def test_shows_a_ramp_that_suits_the_segment(self) -> None:
        """A third of the fastest limit's window: five minutes while drying, half a minute on the way to red heat."""
        monitor = Monitor(plan())
        feed_all(monitor, at_each_second(line(150.0, 160.0, 400)))
        for to_skip, span_s in [(0, 300.0), (2, 30.0)]:
            for _ in range(to_skip):
                monitor.feed(Command(monitor.time_s or 0.0, CommandName.SKIP_SEGMENT))
            feed_all(monitor, at_each_second(line(160.0, 170.0, 400), from_s=(monitor.time_s or 0.0) + 1.0))
            ramp = monitor.status().ramp
            assert ramp is not None
            assert ramp.span_s == span_s

    def test_of_a_soak_shows_its_clock(self) -> None:
        """And what is left of it."""
        monitor = Monitor(plan())
        feed_all(monitor, at_each_second([650.0] * 103))
        status = monitor.status()
        assert (status.soaked_s, status.hold_s, status.to_next_s) == (100.0, 600.0, 500.0)

    def test_of_a_cooling_gives_its_limit_as_a_fall(self) -> None:
        """Downwards is negative."""
        monitor = Monitor(plan())
        begin(monitor, 650.0)
        monitor.feed(Command(5.0, CommandName.SKIP_SEGMENT))
        assert monitor.status().allowed_c_per_s == (-1.0, None)

    def test_without_limits_allows_anything(self) -> None:
        """And says so with None, up and down."""
        monitor = Monitor(plan(FREE))
        begin(monitor)
        assert monitor.status().allowed_c_per_s == (None, None)
        down = Monitor(plan('[[segment]]\nname = "down"\nkind = "cool"\nto = "60 C"\n'))
        begin(down, 500.0)
        assert down.status().allowed_c_per_s == (None, None)

    def test_before_anything_is_known_says_nothing(self) -> None:
        """A display that starts before the board."""
        status = Monitor(plan()).status()
        assert (status.temp_c, status.quality, status.ramp, status.segment) == (None, Quality.BAD, None, None)
        assert (status.to_next_s, status.to_end_s, status.alarms) == (None, None, ())


def test_a_record_older_than_an_alarm_still_replays() -> None:
    """Its header holds the catalogue of its day, in which that alarm is missing; the present one fills in."""
    monitor = Monitor(plan(), MonitorParameters(alarms={"ramp-high": CATALOGUE["ramp-high"]}))
    events = monitor.feed(Notice(0.0, NoticeName.BROKER_LOST, text="link down"))
    assert events[-1].alarm == "broker-unreachable"


def test_an_event_tells_segments_of_one_name_apart() -> None:
    """Two dryings in one schedule: name and number together say which."""
    rows: list[dict[str, object]] = [
        {"name": "drying", "kind": "ramp", "to": "100 C"},
        {"name": "drying", "kind": "ramp", "to": "200 C"},
    ]
    monitor = Monitor(parse_schedule({"title": "T", "segment": rows}, "t"))
    events = [event for n in range(400) for event in monitor.feed(Reading(float(n), temp_c=20.0 + 0.5 * n))]
    started = [(event.segment, event.segment_number) for event in events if event.event is EventName.SEGMENT_STARTED]
    assert started == [("drying", 1), ("drying", 2)]
    assert (events[0].segment_number, events[-1].segment_number) == (None, 2)


def test_no_ramp_is_drawn_across_a_time_in_which_nobody_watched() -> None:
    """What it was before says nothing of now; it is learnt anew from the readings since."""
    monitor = Monitor(parse_schedule(tomllib.loads(WHOLE), "test"))
    for second in range(300):
        monitor.feed(Reading(float(second), temp_c=30.0 + 0.02 * second))
    assert monitor.status().ramp is not None
    monitor.feed(Notice(340.0, NoticeName.WATCH_RESUMED, text="blind for 40 s"))
    for second in range(340, 360):
        monitor.feed(Reading(float(second), temp_c=36.0 + 0.02 * second))
        assert monitor.status().ramp is None
