"""Each alarm that a limit, a fault, the clock or a notice raises, by the smallest heat that deserves it.

Alarms that are diagnoses, made of minutes of scatter and shape, are tested where they are made.
"""

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from rampwarden.core.alarm_entry import names
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument import SENSOR_ALARMS
from rampwarden.core.limits import HEAT_ALARMS
from rampwarden.core.model import (
    AlarmState,
    Command,
    CommandName,
    Event,
    EventName,
    Fault,
    Input,
    Notice,
    NoticeName,
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule
from rampwarden.core.standing_in import STANDING_IN_ALARMS


def plan(kind: str, keys: str) -> Schedule:
    text = f'[[segment]]\nname = "the segment"\nkind = "{kind}"\n{keys}\n'
    return parse_schedule(tomllib.loads(text), "test.toml")


class Board:
    """A board that sends a reading each second."""

    def __init__(self, temp_c: float) -> None:
        self.time_s = 0.0
        self.temp_c = temp_c

    def hold(self, seconds: int) -> Iterator[Input]:
        yield from self.drift(0.0, seconds)

    def drift(self, c_per_s: float, seconds: int) -> Iterator[Input]:
        for _ in range(seconds):
            self.time_s += 1.0
            self.temp_c += c_per_s
            yield Reading(self.time_s, temp_c=self.temp_c)

    def fault(self, *faults: Fault, seconds: int) -> Iterator[Input]:
        for _ in range(seconds):
            self.time_s += 1.0
            yield Reading(self.time_s, faults=faults)

    def junction(self, junction_c: float, seconds: int) -> Iterator[Input]:
        for _ in range(seconds):
            self.time_s += 1.0
            yield Reading(self.time_s, emf_uv=8000.0, junction_c=junction_c)

    def out_of_range(self, seconds: int) -> Iterator[Input]:
        for _ in range(seconds):
            self.time_s += 1.0
            yield Reading(self.time_s, temp_c=2500.0)

    def silence(self, seconds: int) -> Iterator[Input]:
        self.time_s += seconds
        yield from ()

    def notice(self, name: NoticeName, text: str = "") -> Iterator[Input]:
        yield Notice(self.time_s, name, text=text)


@dataclass(frozen=True)
class Case:
    """The heat that raises an alarm, and what the alarm must name."""

    alarm: str
    schedule: Schedule
    heat: Callable[[], Iterator[Input]]
    fact: str  # a part of the text
    limit: float | None
    unit: str | None
    value: Callable[[float | None], bool]
    before_s: float  # when it must have been raised by
    not_before_s: float


def none(value: float | None) -> bool:
    return value is None


def between(low: float, high: float) -> Callable[[float | None], bool]:
    return lambda value: value is not None and low <= value <= high


def climbing_too_fast() -> Iterator[Input]:
    """60 °C in five minutes under 25 in fifteen, then held until the window has forgotten it."""
    board = Board(100.0)
    yield from board.hold(60)
    yield from board.drift(0.2, 300)
    yield from board.hold(1200)


def climbing_a_little_too_fast() -> Iterator[Input]:
    """1.4 times the limit for a while, eased in time."""
    board = Board(100.0)
    yield from board.hold(120)
    yield from board.drift(1.4 * 25.0 / 900.0, 500)
    yield from board.hold(900)


def climbing_too_slowly() -> Iterator[Input]:
    """Standing still at red heat, then going on."""
    board = Board(400.0)
    yield from board.hold(300)
    yield from board.drift(0.5, 300)


def cooling_too_fast() -> Iterator[Input]:
    """The lid was open: 60 °C in a minute under 10."""
    board = Board(900.0)
    yield from board.hold(60)
    yield from board.drift(-1.0, 60)
    yield from board.hold(300)


def too_hot() -> Iterator[Input]:
    """15 °C above the ceiling and back below."""
    board = Board(690.0)
    yield from board.drift(1.0, 25)
    yield from board.drift(-1.0, 25)
    yield from board.hold(120)


def out_of_the_band() -> Iterator[Input]:
    """30 °C low for three minutes."""
    board = Board(400.0)
    yield from board.hold(60)
    yield from board.drift(-1.0, 30)
    yield from board.hold(180)
    yield from board.drift(1.0, 30)
    yield from board.hold(120)


def never_arriving() -> Iterator[Input]:
    """Slower than its time limit, then there."""
    board = Board(100.0)
    yield from board.hold(90)
    yield from board.drift(2.0, 100)


def board_silent() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.silence(60)
    yield from board.hold(20)


def open_sensor() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.fault(Fault.OPEN, seconds=20)
    yield from board.hold(30)


def shorted_sensor() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.fault(Fault.SHORT_GROUND, seconds=20)
    yield from board.hold(30)


def reading_nonsense() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.out_of_range(20)
    yield from board.hold(30)


def plug_crackling() -> Iterator[Input]:
    """A wire that is open for two readings of three: each good one ends the delay of sensor-open."""
    board = Board(100.0)
    yield from board.hold(20)
    for _ in range(8):
        yield from board.fault(Fault.OPEN, seconds=2)
        yield from board.hold(1)
    yield from board.hold(90)


def hot_junction() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.junction(25.0, 20)
    yield from board.junction(61.2, 60)
    yield from board.junction(25.0, 90)


def board_restarting() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.notice(NoticeName.BOARD_RESTARTED)
    yield from board.hold(90)


def record_failing() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.notice(NoticeName.RECORD_FAILING, "heat.jsonl: no space left on device")
    yield from board.hold(30)
    yield from board.notice(NoticeName.RECORD_WRITTEN, "written again")
    yield from board.hold(5)


def broker_gone() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.notice(NoticeName.BROKER_LOST, "broker.local: link down for 10 s")
    yield from board.hold(30)
    yield from board.notice(NoticeName.BROKER_REACHED)
    yield from board.hold(30)


def bell_dying() -> Iterator[Input]:
    board = Board(100.0)
    yield from board.hold(20)
    yield from board.notice(NoticeName.OUTPUT_FAILING, "the bell had died")
    yield from board.hold(70)


def nearing_the_ceiling() -> Iterator[Input]:
    """10 °C/min towards 700 °C, turned down half a minute before."""
    board = Board(650.0)
    yield from board.drift(1.0 / 6.0, 265)
    yield from board.hold(120)


def oven_tripping() -> Iterator[Input]:
    """It falls at 1.5 °C/min for seven minutes until somebody resets the breaker."""
    board = Board(140.0)
    yield from board.hold(60)
    yield from board.drift(-0.025, 420)
    yield from board.drift(0.05, 400)


def gas_left_on() -> Iterator[Input]:
    """It cools for twelve minutes, and then somebody puts the flame back for seven."""
    board = Board(900.0)
    yield from board.drift(-0.1, 720)
    yield from board.drift(0.03, 420)
    yield from board.drift(-0.1, 400)


def unplugged_while_hot() -> Iterator[Input]:
    """Past the last line of its schedule, at 110 °C."""
    board = Board(100.0)
    yield from board.drift(1.0, 10)
    yield from board.silence(60)
    yield from board.hold(20)


FREE = plan("ramp", 'to = "1300 C"')
DRYING = plan("ramp", 'to = "1300 C"\nmax_rate = "25 C / 15 min"')
CASES = [
    Case(
        "ramp-high", DRYING, climbing_too_fast, "°C within 15 min, limit 25", 100.0, "°C/h",
        between(100.0, 200.0), 300.0, 60.0 + 125.0,
    ),
    Case(
        "ramp-forecast", DRYING, climbing_a_little_too_fast, "°C/h, may be over the limit of 100", 100.0,
        "°C/h", between(100.0, 160.0), 620.0, 120.0,
    ),
    Case(
        "ramp-low", plan("ramp", 'to = "1300 C"\nmin_rate = "10 C / min"'), climbing_too_slowly,
        "0 °C/min over 1 min, at least 10 wanted", 10.0, "°C/min", between(-0.01, 0.01), 125.0, 100.0,
    ),
    Case(
        "cooling-fast", plan("cool", 'to = "60 C"\nmax_rate = "10 C / min"'), cooling_too_fast,
        "°C within 1 min, limit 10", 10.0, "°C/min", between(10.0, 30.0), 100.0, 70.0,
    ),
    Case(
        "temperature-high", plan("soak", 'at = "680 C"\nhold = "9 h"\nceiling = "700 C"'), too_hot,
        "°C, ceiling 700", 700.0, "°C", between(700.1, 715.0), 17.0, 16.0,
    ),
    Case(
        "ceiling-forecast", plan("ramp", 'to = "700 C"\nceiling = "700 C"'), nearing_the_ceiling,
        "°C/min: ceiling 700 passed in about ", 700.0, "°C", between(688.0, 693.0), 248.0, 240.0,
    ),
    Case(
        "soak-deviation", plan("soak", 'at = "400 C"\nhold = "9 h"'), out_of_the_band,
        "370 °C, band 385 to 415", 385.0, "°C", between(370.0, 370.0), 136.5, 135.5,
    ),
    Case(
        "not-heating", FREE, oven_tripping, "it falls where the segment wants heat", None, "°C",
        between(8.0, 10.0), 440.0, 418.0,
    ),
    Case(
        "not-cooling", plan("cool", 'to = "60 C"'), gas_left_on, "it should cool and rises", None, "°C",
        between(7.0, 10.0), 1060.0, 1020.0,
    ),
    Case(
        "segment-overdue", plan("ramp", 'to = "200 C"\nwithin = "2 min"'), never_arriving,
        "'the segment' has run past its 2 min", 120.0, "s", between(120.0, 121.0), 124.0, 122.0,
    ),
    Case(
        "signal-lost", FREE, board_silent, "no reading for 10 s", 10.0, "s", between(10.0, 10.0), 30.0, 30.0
    ),
    Case(
        "cooling-unseen", plan("ramp", 'to = "105 C"'), unplugged_while_hot, "no reading for 10 s", 10.0, "s",
        between(10.0, 10.0), 20.0, 20.0,
    ),
    Case("sensor-open", FREE, open_sensor, "the thermocouple is open", None, None, none, 23.0, 23.0),
    Case(
        "sensor-short", FREE, shorted_sensor, "the thermocouple is shorted to ground", None, None, none, 23.0,
        23.0,
    ),
    Case(
        "sensor-range", FREE, reading_nonsense, "2500 °C is outside type K's range", None, "°C",
        between(2500.0, 2500.0), 23.0, 23.0,
    ),
    Case(
        "sensor-intermittent", FREE, plug_crackling, "8 of the last 11 readings cannot be believed, mostly because the "
        "thermocouple is open", None, "%", between(72.0, 73.0), 31.0, 31.0,
    ),
    Case(
        "junction-range", FREE, hot_junction, "reference junction at 61.2 °C, usual -10 to 50", 50.0, "°C",
        between(61.2, 61.2), 51.0, 51.0,
    ),
    Case(
        "board-restarted", FREE, board_restarting, "the board started again", None, None, none, 20.0, 20.0
    ),
    Case(
        "record-failing", FREE, record_failing, "heat.jsonl: no space left on device", None, None, none, 20.0,
        20.0,
    ),
    Case(
        "broker-unreachable", FREE, broker_gone, "broker.local: link down for 10 s", None, None, none, 20.0,
        20.0,
    ),
    Case(
        "output-failing", FREE, bell_dying, "the bell had died", None, None, none, 20.0, 20.0,
    ),
]  # fmt: skip


def told(case: Case) -> list[Event]:
    monitor = Monitor(case.schedule)
    return [event for item in case.heat() for event in monitor.feed(item) if event.event is EventName.ALARM]


def test_every_such_alarm_has_its_heat() -> None:
    """One that cannot be raised protects nothing."""
    by_clock_or_notice = {name for name, entry in CATALOGUE.items() if not entry.waits_for_reading}
    # What stands in follows a failure that has its own alarm, and wants a second probe: `watching/test_standing_in.py`.
    by_clock_or_notice -= {*names(STANDING_IN_ALARMS)}
    # One that only a person's seeing it ends has its own tests: `test_start_warning.py`.
    by_clock_or_notice -= {name for name, entry in CATALOGUE.items() if entry.ends_when_seen}
    assert [case.alarm for case in CASES] == [
        name for name in CATALOGUE if name in {*names(HEAT_ALARMS), *names(SENSOR_ALARMS), *by_clock_or_notice}
    ]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.alarm)
def test_an_alarm_is_raised_once_and_returns(case: Case) -> None:
    """In time, with value, limit, segment and action, and back to normal when its cause is gone."""
    events = [event for event in told(case) if event.alarm == case.alarm]
    assert [event.state for event in events] == [AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED]
    raised, returned = events
    entry = CATALOGUE[case.alarm]
    assert case.not_before_s <= raised.time_s <= case.before_s
    assert case.value(raised.value), raised.value
    assert (raised.limit, raised.unit, raised.priority) == (case.limit, case.unit, entry.priority)
    assert case.fact in raised.text
    assert raised.text.startswith(f"{case.alarm} · ")
    action = entry.action_milder if case.alarm == "ramp-forecast" else entry.action  # foretold early, and eased in time
    assert raised.text.endswith(f" · the segment · {action}")
    assert returned.text.startswith(f"{case.alarm} · back to normal after ")
    said, _, worst = returned.text.removesuffix(" · the segment").partition("; at worst ")
    assert said.endswith(", not yet acknowledged")
    # The worst is told where it grew after the alarm rang, and by its figure wherever it has one that was followed.
    assert bool(worst) <= (returned.worst is not None)
    if entry.waits_for_reading and not entry.is_opinion and raised.value is not None:
        assert returned.worst is not None


def test_a_caution_that_becomes_pressing_rings_again_and_asks_for_less_heat() -> None:
    """Whoever acknowledged it while there was time has not heard of that; and it does so once."""
    board, monitor = Board(100.0), Monitor(DRYING)
    events, orders = list[Event](), list[str]()
    for item in [*board.hold(120), *board.drift(1.4 * 25.0 / 900.0, 640)]:
        events += [event for event in monitor.feed(item) if event.alarm == "ramp-forecast"]
        orders += [alarm.order for alarm in monitor.status().alarms if alarm.alarm == "ramp-forecast"]
        if len(events) == 1:
            events += monitor.feed(Command(item.time_s, CommandName.ACKNOWLEDGE))
    raised, seen, pressing = events
    assert [raised.state, seen.state, pressing.state] == [
        AlarmState.UNACKNOWLEDGED,
        AlarmState.ACKNOWLEDGED,
        AlarmState.UNACKNOWLEDGED,
    ]
    assert [each.raises_alarm for each in events] == [True, False, False], "it is counted once"
    assert [each.pressing for each in events] == [False, False, True]
    entry = CATALOGUE["ramp-forecast"]
    assert raised.text.endswith(entry.action_milder)
    assert pressing.text.endswith(entry.action)
    assert list(dict.fromkeys(orders)) == [entry.short_order_milder, entry.short_order]
    climbed_c = 25.0 - 1.4 * 25.0 / 900.0 * 75.0
    assert pressing.time_s == pytest.approx(120.0 + climbed_c / (1.4 * 25.0 / 900.0), abs=60.0)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.alarm)
def test_an_alarm_comes_alone(case: Case) -> None:
    """One cause, one alarm; only a climb may be foretold before it is one."""
    may_come_too = {"ramp-forecast"} if case.alarm == "ramp-high" else set()
    came = {event.alarm for event in told(case)} & {other.alarm for other in CASES}
    assert came - may_come_too == {case.alarm}


@pytest.mark.parametrize(
    ("silent", "what"),
    [
        (NoticeName.RECORD_FAILING, "record-failing · the record cannot be written"),
        (NoticeName.BROKER_LOST, "broker-unreachable · the broker cannot be reached"),
        (NoticeName.BOARD_RESTARTED, "board-restarted · the board started again"),
    ],
)
def test_a_notice_without_words_still_makes_a_sentence(silent: NoticeName, what: str) -> None:
    """Outside any segment, too."""
    [_, event] = Monitor(FREE).feed(Notice(0.0, silent))
    assert event.text.startswith(what + " · ")
    assert event.segment is None


def test_a_narrow_escape_is_no_alarm() -> None:
    """Half of each delay: a second of open sensor, four of too hot, half a minute out of the band."""
    board = Board(400.0)
    schedule = plan("soak", 'at = "400 C"\nhold = "9 h"\nceiling = "430 C"')
    monitor = Monitor(schedule)
    items = [
        *board.hold(30),
        *board.fault(Fault.OPEN, seconds=1),
        *board.hold(30),
        *board.drift(4.0, 8),
        *board.drift(-4.0, 8),
        *board.hold(60),
        *board.drift(-4.0, 5),
        *board.hold(30),
        *board.drift(4.0, 5),
        *board.hold(120),
    ]
    assert [event for item in items for event in monitor.feed(item) if event.event is EventName.ALARM] == []
