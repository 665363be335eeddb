"""However the same inputs are cut into calls, the same events come out, to the byte.

That is what makes a replay worth anything: a live heat, its replay and a rehearsal take one path. The heats here are
short and rough, so that as much as possible happens in them at once: faults, silence, late readings, words, notices.
"""

import random
import tomllib
from collections.abc import Iterable
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rampwarden.core.alarms.desk import TRANSITIONS
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.heat.schedule_parsing import parse_schedule
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
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.records.record_lines import encode_line

SCHEDULE = parse_schedule(
    tomllib.loads("""
[[segment]]
name = "up"
kind = "ramp"
to = "60 C"
max_rate = ["10 C / 30 s", "3 C / s"]
within = "45 s"

[[segment]]
name = "over"
kind = "transfer"
within = "20 s"
ceiling = "90 C"

[[segment]]
name = "on"
kind = "ramp"
to = "100 C"
max_rate = "30 C / 20 s"
min_rate = "2 C / 10 s"

[[segment]]
name = "hold"
kind = "soak"
at = "105 C"
band = ["-10 C", "+10 C"]
hold = "6 s"
out_of_band = "restart"
ceiling = "116 C"
within = "90.5 s"

[[segment]]
name = "down"
kind = "cool"
to = "30 C"
max_rate = "10 C / 20 s"
"""),
    "rough.toml",
)
# Delays of fractions of a second and of none, so that things fall due between grid seconds and upon them.
DELAYS = {
    "sensor-open": (0.5, 1.0),
    "temperature-high": (1.25, 2.5),
    "soak-deviation": (3.0, 3.0),
    "ramp-low": (2.2, 2.2),
    "ramp-high": (0.0, 4.5),
    "signal-lost": (0.75, 1.5),
    "record-failing": (0.3, 0.3),
}
ALARMS = {
    name: replace(entry, on_delay_s=DELAYS[name][0], off_delay_s=DELAYS[name][1]) if name in DELAYS else entry
    for name, entry in CATALOGUE.items()
}
PARAMETERS = MonitorParameters(signal_lost_s=4.0, alarms=ALARMS, out_of_service=("junction-range",))

# What may happen next; `Rough` below makes inputs of it.
STEPS_S = st.sampled_from([0.1, 0.25, 0.5, 1.0, 1.0, 1.7])
HAPPENINGS = st.one_of(
    st.tuples(st.just("climb"), st.integers(1, 40), st.sampled_from([-3.0, -0.5, 0.0, 0.3, 0.6, 1.0, 2.0]), STEPS_S),
    st.tuples(st.just("jump"), st.sampled_from([-300.0, -30.0, 10.0, 40.0, 2000.0])),
    st.tuples(st.just("fault"), st.integers(1, 6), st.lists(st.sampled_from(Fault), min_size=1, max_size=2), STEPS_S),
    st.tuples(st.just("silence"), st.sampled_from([0.5, 3.99, 4.0, 4.5, 12.0, 100.0, 299.6, 90000.0])),
    st.tuples(st.just("mark"), st.sampled_from([0.0, 0.3, 1.0, 20.0])),
    st.tuples(st.just("late"), st.sampled_from([0.2, 1.0, 6.0]), st.integers(1, 8)),
    st.tuples(st.just("same instant")),
    st.tuples(
        st.just("command"),
        st.sampled_from(CommandName),
        st.sampled_from(["", "nonsense", *CATALOGUE]),
        st.sampled_from([0.0, 1.0, 1.5, 60.0]),
        st.sampled_from(["", "transfer", "arrived", "lid-open"]),
    ),
    st.tuples(
        st.just("answer"),
        st.sampled_from([CommandName.WRONG, CommandName.WRONG, CommandName.UNDO_WRONG]),
        st.sampled_from(["", "signal-lost", "record-failing", "ramp-high", "sensor-open"]),
    ),
    st.tuples(st.just("notice"), st.sampled_from(NoticeName)),
)


class Rough:
    """Makes a list of inputs, the clock marks before late ones included, as a record of the watch would hold them."""

    def __init__(self, from_s: float, from_c: float) -> None:
        self.time_s = from_s
        self.temp_c = from_c
        self.items: list[Input] = []

    def happen(self, what: str, *how: object) -> None:
        getattr(self, what.replace(" ", "_"))(*how)

    def reading(self) -> None:
        self.items.append(Reading(self.time_s, temp_c=self.temp_c))

    def climb(self, count: int, slope_c_per_s: float, step_s: float) -> None:
        for _ in range(count):
            self.time_s += step_s
            self.temp_c += slope_c_per_s * step_s
            self.reading()

    def jump(self, by_c: float) -> None:
        self.temp_c = max(self.temp_c + by_c, -250.0) if self.temp_c < 1000.0 else 80.0

    def fault(self, count: int, faults: list[Fault], step_s: float) -> None:
        for _ in range(count):
            self.time_s += step_s
            self.items.append(Reading(self.time_s, faults=tuple(faults)))

    def silence(self, seconds: float) -> None:
        self.time_s += seconds

    def mark(self, seconds: float) -> None:
        self.time_s += seconds
        self.items.append(ClockMark(self.time_s))

    def late(self, by_s: float, count: int) -> None:
        """The clock had run on by the time these came."""
        for n in range(count):
            self.items.append(ClockMark(self.time_s + by_s))
            self.temp_c += 0.2
            self.items.append(Reading(self.time_s + by_s * n / count, temp_c=self.temp_c))
        self.time_s += by_s

    def same_instant(self) -> None:
        self.reading()
        self.items.append(Reading(self.time_s, temp_c=self.temp_c + 1.0))

    def command(self, name: CommandName, alarm: str, minutes: float, text: str) -> None:
        self.items.append(Command(self.time_s, name, alarm=str(alarm), minutes=minutes, text=text))

    def answer(self, name: CommandName, alarm: str) -> None:
        self.items.append(Command(self.time_s, name, alarm=alarm))

    def notice(self, name: NoticeName) -> None:
        self.items.append(Notice(self.time_s, name, count=2, text=f"the notice {name}"))


# How long a heat takes to make says nothing but how busy the machine is.
BUSY_MACHINE = [HealthCheck.too_slow]


@st.composite
def heats(draw: st.DrawFn) -> list[Input]:
    """Any heat, joined anywhere; its stamps begin at nothing, between two seconds, or in this age."""
    from_s = draw(st.sampled_from([0.0, 0.3, 17.0, 1.7e9 + 0.7]))
    rough = Rough(from_s, from_c=draw(st.sampled_from([20.0, 55.0, 70.0, 96.0, 104.0])))
    rough.climb(4, 0.3, 1.0)
    for happening in draw(st.lists(HAPPENINGS, min_size=5, max_size=40)):
        rough.happen(*happening)
    return rough.items


def watch(items: Iterable[Input], cuts: random.Random | None = None) -> list[Event]:
    """Watch a heat; with `cuts`, let the clock run to random moments between the inputs."""
    monitor = Monitor(SCHEDULE, PARAMETERS)
    events: list[Event] = []
    for item in items:
        if cuts is not None and monitor.time_s is not None and item.time_s > monitor.time_s:
            for time_s in moments(cuts, monitor.time_s, item.time_s):
                events += monitor.advance(time_s)
        events += monitor.feed(item)
    end_s = (monitor.time_s or 0.0) + 200.0
    for time_s in moments(cuts, monitor.time_s or 0.0, end_s) if cuts is not None else []:
        events += monitor.advance(time_s)
    return events + monitor.advance(end_s)


def moments(cuts: random.Random, from_s: float, to_s: float) -> list[float]:
    """Give a few moments between two times: anywhere, on whole seconds, on the ends, twice, and even backwards."""
    some = [cuts.uniform(from_s, to_s) for _ in range(cuts.randrange(4))]
    some += [float(round(time_s)) for time_s in some if from_s <= round(time_s) <= to_s]
    some += cuts.choice([[], [from_s], [to_s], [to_s, to_s]])
    if cuts.random() < 0.7:
        some.sort()
    return some


def to_bytes(events: Iterable[Event]) -> bytes:
    return b"".join(encode_line(event) for event in events)


@settings(max_examples=100, deadline=None, suppress_health_check=BUSY_MACHINE)
@given(heats(), st.integers(0, 2**32))
def test_the_same_inputs_give_the_same_bytes_however_they_are_cut(heat: list[Input], seed: int) -> None:
    """As they stand, and twice with the clock let run in between."""
    expected = to_bytes(watch(heat))
    cuts = random.Random(seed)
    assert to_bytes(watch(heat, cuts)) == expected
    assert to_bytes(watch(heat, cuts)) == expected


@settings(max_examples=80, deadline=None, suppress_health_check=BUSY_MACHINE)
@given(heats())
def test_whatever_happens_the_events_make_sense(heat: list[Input]) -> None:
    """In order of time; and every alarm goes only where the table lets it, from where it was last said to be.

    A normal alarm may be suppressed without a word, and then a person may shelve it: the table allows that from normal.
    """
    events = watch(heat)
    assert events[0].event is EventName.HEAT_STARTED
    times_s = [event.time_s for event in events]
    assert times_s == sorted(times_s)
    steps = {(before, after) for (before, _), after in TRANSITIONS.items()}
    told: dict[str, AlarmState] = {}
    for event in events:
        if event.event is EventName.ALARM:
            assert event.alarm is not None
            assert event.state is not None
            assert (told.get(event.alarm, AlarmState.NORMAL), event.state) in steps
            told[event.alarm] = event.state
            assert event.text.startswith(f"{event.alarm} · ")
            assert " ·  · " not in event.text


def test_the_heats_here_are_rough_enough() -> None:
    """A generator that only ever made quiet heats would prove nothing; this one heat of its making is not quiet."""
    rough = Rough(0.3, 20.0)
    for happening in [
        ("climb", 20, 0.3, 1.0),
        ("climb", 20, 2.0, 1.0),
        ("command", CommandName.SHELVE, "ramp-high", 1.0, ""),
        ("silence", 12.0),
        ("fault", 3, [Fault.OPEN], 1.0),
        ("climb", 20, -3.0, 1.0),
        ("climb", 20, 2.0, 1.0),
        ("notice", NoticeName.RECORD_FAILING),
        ("late", 6.0, 8),
        ("climb", 25, 0.6, 1.0),
        ("climb", 40, 2.0, 1.0),
        ("climb", 40, -3.0, 1.0),
        ("silence", 100.0),
    ]:
        rough.happen(*happening)
    alarms = {event.alarm for event in watch(rough.items)} - {None}
    assert len(alarms) >= 5, alarms
