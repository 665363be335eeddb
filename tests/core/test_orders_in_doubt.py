"""What an alarm tells a person to do: nothing when it is over or set aside, and never by a reading that is in doubt.

Whole heats through the monitor. An alarm that rings because of a doubtful reading goes on ringing: its order alone is
another.
"""

import random
import tomllib
from collections.abc import Iterator

import pytest

from rampwarden.core.alarm_entry import CHECK_THE_PROBE, ReadingDoubt
from rampwarden.core.catalogue import CATALOGUE, DOUBTING, ENTRIES, SUPPRESSED_IN_DOUBT, orders_in_doubt
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import AlarmState, Command, CommandName, Event, EventName, Fault, Reading, StandingAlarm
from rampwarden.core.monitor import Monitor

PLAIN = "lower the heat or open the lid"


class Watched:
    """A monitor under one ramp, fed a reading each second."""

    def __init__(self, limits: str, temp_c: float = 20.0) -> None:
        text = f'[[segment]]\nname = "up"\nkind = "ramp"\nto = "900 C"\n{limits}\n'
        self.monitor = Monitor(parse_schedule(tomllib.loads(text), "test.toml"))
        self.time_s, self.temp_c = 0.0, temp_c
        self.events: list[Event] = []
        self._dice = random.Random("orders in doubt")

    def go(self, c_per_s: float, seconds: int, noise_c: float = 0.05, junction_c: float | None = None) -> "Watched":
        """Let the reading go on in a straight line, with scatter."""
        for _ in range(seconds):
            self.time_s += 1.0
            self.temp_c += c_per_s
            shown_c = self.temp_c + self._dice.choice((-noise_c, noise_c))
            self.take(Reading(self.time_s, temp_c=shown_c, junction_c=junction_c))
        return self

    def open(self, seconds: int) -> "Watched":
        """Let the thermocouple be open."""
        for _ in range(seconds):
            self.time_s += 1.0
            self.take(Reading(self.time_s, faults=(Fault.OPEN,)))
        return self

    def say(self, command: CommandName, alarm: str, minutes: float = 0.0) -> "Watched":
        self.take(Command(self.time_s, command, alarm=alarm, minutes=minutes))
        return self

    def take(self, item: Reading | Command) -> None:
        self.events += self.monitor.feed(item)

    def standing(self, alarm: str) -> StandingAlarm | None:
        return next((each for each in self.monitor.status().alarms if each.alarm == alarm), None)

    def action(self, alarm: str) -> str:
        found = self.standing(alarm)
        assert found is not None, [each.alarm for each in self.monitor.status().alarms]
        return found.action

    def raised(self, alarm: str) -> list[Event]:
        return [event for event in self._of(alarm) if event.state is AlarmState.UNACKNOWLEDGED]

    def texts(self, alarm: str) -> list[str]:
        return [event.text for event in self._of(alarm)]

    def _of(self, alarm: str) -> Iterator[Event]:
        return (event for event in self.events if event.event is EventName.ALARM and event.alarm == alarm)


def noisy_heat() -> Watched:
    """Quiet for long enough to know what is usual, then a loose plug."""
    heat = Watched('max_rate = "25 C / 5 min"').go(0.02, 420).go(0.02, 200, noise_c=2.0)
    assert heat.standing("sensor-noisy") is not None
    return heat


def lagging_heat() -> Watched:
    """A lid lifted for a minute, as a probe with a time constant of 40 s sees it; the window allows 12 s."""
    heat = Watched('max_rate = "40 C / 1 min"\nmin_rate = "5 C / 1 min"', 300.0).go(0.2, 300)
    true_c = shown_c = heat.temp_c
    for second in range(300):
        true_c += 0.2
        shown_c += (true_c - (150.0 if second < 60 else 0.0) - shown_c) / 40.0
        heat.go(shown_c - heat.temp_c, 1)
    assert heat.standing("sensor-lagging") is not None
    return heat


class TestAReadingThatScatters:
    """It has a meaning still, and margins that grew with the scatter; it is no reason to hurry to the burner."""

    def test_lets_a_dangerous_climb_ring_with_another_order(self) -> None:
        heat = noisy_heat().go(0.5, 180, noise_c=2.0)
        (raised,) = heat.raised("ramp-high")
        assert raised.text.endswith(f" · up · {CHECK_THE_PROBE}")
        assert PLAIN not in raised.text
        assert heat.action("ramp-high") == CHECK_THE_PROBE

    def test_silences_no_alarm_less_urgent_either(self) -> None:
        """What is noisy in truth shows a fall all the same, and to look at the probe is worth a ring."""
        heat = Watched('max_rate = "60 C / 5 min"\nmin_rate = "10 C / 5 min"').go(0.1, 420).go(0.1, 200, noise_c=2.0)
        assert heat.standing("sensor-noisy") is not None
        heat.go(-0.1, 600, noise_c=2.0)
        (raised,) = heat.raised("ramp-low")
        assert raised.text.endswith(CHECK_THE_PROBE)
        assert heat.action("ramp-low") == CHECK_THE_PROBE

    def test_takes_the_order_from_an_alarm_that_stood_before(self) -> None:
        heat = Watched('max_rate = "25 C / 5 min"').go(0.02, 420).go(0.3, 150)
        assert heat.raised("ramp-high")[0].text.endswith(PLAIN)
        assert heat.action("ramp-high") == PLAIN
        heat.go(0.3, 200, noise_c=2.0)
        assert heat.action("ramp-high") == CHECK_THE_PROBE

    def test_gives_the_order_back_when_it_has_been_quiet(self) -> None:
        heat = noisy_heat().go(0.5, 180, noise_c=2.0)
        assert heat.action("ramp-high") == CHECK_THE_PROBE
        heat.go(0.5, 240)
        assert heat.action("sensor-noisy") == ""
        assert heat.action("ramp-high") == PLAIN

    def test_is_in_doubt_though_somebody_has_shelved_the_word_for_it(self) -> None:
        heat = noisy_heat().say(CommandName.SHELVE, "sensor-noisy", minutes=30.0).go(0.5, 180, noise_c=2.0)
        assert heat.action("sensor-noisy") == ""
        assert heat.raised("ramp-high")[0].text.endswith(CHECK_THE_PROBE)


def test_a_reading_that_may_be_of_another_type_orders_nothing_either() -> None:
    """A cold start at its junction's zero: not compensated, so every figure after it is some degrees off."""
    heat = Watched('max_rate = "4 C / 15 min"', 0.0).go(0.0, 300, junction_c=21.0)
    assert heat.standing("sensor-type-suspect") is not None
    heat.go(0.1, 60, junction_c=21.0)
    (raised,) = heat.raised("ramp-high")
    assert raised.text.endswith(CHECK_THE_PROBE)
    # Once it has climbed on, the reading is taken for what it says again.
    assert heat.go(0.1, 300, junction_c=21.0).action("ramp-high") == PLAIN


class TestAProbeThatLags:
    """What it shows of a climb is at least so: to wait with that order until somebody has looked would be the worse."""

    def test_still_orders_less_heat(self) -> None:
        heat = lagging_heat().go(1.2, 120)
        assert heat.raised("ramp-high")[0].text.endswith(PLAIN)
        assert heat.action("ramp-high") == PLAIN

    def test_does_not_order_more(self) -> None:
        heat = lagging_heat().go(0.0, 240)
        assert heat.raised("ramp-low")[-1].text.endswith(CHECK_THE_PROBE)
        assert heat.action("ramp-low") == CHECK_THE_PROBE


class TestNoReadingAtAll:
    """An open thermocouple: what orders by the reading rests, and what is dangerous stands on with another order."""

    def test_changes_the_order_of_a_climb_and_lets_the_rest_be_silent(self) -> None:
        heat = Watched('max_rate = "25 C / 5 min"\nmin_rate = "1 C / 5 min"').go(0.3, 150)
        assert heat.action("ramp-high") == PLAIN
        assert heat.standing("ramp-forecast") is not None
        heat.open(5)
        assert heat.action("ramp-high") == CHECK_THE_PROBE
        assert heat.standing("ramp-forecast") is None
        assert heat.texts("ramp-forecast")[-1] == "ramp-forecast · rests: the reading is in doubt · up"
        assert heat.action("sensor-open") == CATALOGUE["sensor-open"].action

    def test_shelved_it_still_lets_them_rest(self) -> None:
        heat = Watched('max_rate = "25 C / 5 min"').go(0.3, 150).open(5)
        heat.say(CommandName.SHELVE, "sensor-open", minutes=30.0).open(5)
        assert heat.standing("ramp-forecast") is None
        assert heat.action("ramp-high") == CHECK_THE_PROBE


class TestAnAlarmSetAside:
    """Obeyed, an order of yesterday does harm."""

    def test_orders_nothing_while_shelved(self) -> None:
        heat = Watched('max_rate = "25 C / 5 min"').go(0.3, 150)
        heat.say(CommandName.ACKNOWLEDGE, "ramp-high")
        assert heat.action("ramp-high") == PLAIN
        heat.say(CommandName.SHELVE, "ramp-high", minutes=30.0)
        assert heat.action("ramp-high") == ""

    def test_orders_nothing_once_it_is_over(self) -> None:
        heat = Watched('max_rate = "25 C / 5 min"').go(0.3, 150).go(0.0, 500)
        found = heat.standing("ramp-high")
        assert found is not None
        assert (found.state, found.action) == (AlarmState.RETURNED_UNACKNOWLEDGED, "")


def test_every_alarm_that_rests_in_doubt_has_another_order_for_it() -> None:
    """Where the reading is only uncertain it rings on, and then must not say what it usually says."""
    for entry in ENTRIES:
        assert entry.name not in SUPPRESSED_IN_DOUBT or entry.action_in_doubt
        assert not entry.action_in_doubt or entry.doubts is ReadingDoubt.NONE


@pytest.mark.parametrize("name", DOUBTING)
def test_what_doubts_the_reading_is_never_silenced_by_it(name: str) -> None:
    """The order that is left is the sensor's own."""
    in_doubt = orders_in_doubt((name,))
    assert "ramp-low" in in_doubt
    assert ("ramp-high" in in_doubt) is (name != "sensor-lagging")
    assert in_doubt.isdisjoint(DOUBTING)
    assert {"signal-lost", "segment-overdue"}.isdisjoint(in_doubt)


def test_nothing_in_doubt_leaves_every_order_as_it_stands() -> None:
    assert orders_in_doubt(()) == frozenset()
    assert len(DOUBTING) == len({entry.name for entry in ENTRIES if entry.doubts is not ReadingDoubt.NONE}) > 0


class TestWhatTheExplanationSaysOfTheSensor:
    """It raises the sensor's own alarms, so what they leave of the reading holds for them as well."""

    def test_leaps_beside_the_course_order_the_probe_to_be_checked(self) -> None:
        heat = Watched('max_rate = "25 C / 5 min"').go(0.02, 420).go(0.3, 120)
        assert heat.action("ramp-high") == PLAIN
        for _ in range(8):
            heat.take(Reading(heat.time_s + 0.4, temp_c=heat.temp_c + 300.0))
            heat.go(0.3, 5)
        found = heat.standing("sensor-noisy")
        assert found is not None
        assert "something disturbs the wires" in found.text
        assert heat.action("ramp-high") == CHECK_THE_PROBE

    def test_a_reading_that_hangs_lets_orders_rest_before_the_watch_of_a_minute_says_so(self) -> None:
        heat = Watched('max_rate = "25 C / 5 min"').go(0.02, 420).go(0.15, 120)
        assert heat.standing("ramp-forecast") is not None
        heat.go(0.0, 45, noise_c=0.0)
        found = heat.standing("sensor-stuck")
        assert found is not None
        assert "hangs" in found.text
        assert heat.standing("ramp-forecast") is None
