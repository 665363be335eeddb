""" "That was wrong", through the monitor: what is withdrawn, in which words, and what goes on protecting the pot."""

from pathlib import Path

import pytest

from pictured_heat import pictured_schedule
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
from rampwarden.records import RecordReader, Replay, parameters_of, schedule_of

WRONG, UNDO = CommandName.WRONG, CommandName.UNDO_WRONG
# A lid that is lifted for a while: the watch says so, twice.
LIFTED = Path(__file__).resolve().parents[1] / "old_records" / "lid-open" / "heat.jsonl.gz"


class Heat:
    """A heat of one's own, and all that was said of it."""

    def __init__(self) -> None:
        self.monitor = Monitor(pictured_schedule())
        self.time_s, self.temp_c = 0.0, 20.0
        self.events: list[Event] = []

    def take(self, item: Input) -> list[Event]:
        events = self.monitor.feed(item)
        self.events += events
        return events

    def climb(self, to_c: float, seconds: int) -> list[Event]:
        """Go in a straight line, a reading a second."""
        events, from_c = [], self.temp_c
        for step in range(1, seconds + 1):
            self.time_s += 1.0
            self.temp_c = from_c + (to_c - from_c) * step / seconds
            events += self.take(Reading(self.time_s, temp_c=self.temp_c))
        return events

    def say(self, name: CommandName, alarm: str = "", text: str = "") -> Event:
        [event] = self.take(Command(self.time_s, name, alarm=alarm, text=text))
        return event

    def raised(self, name: str) -> list[float]:
        """Give when an alarm rang."""
        return [each.time_s for each in self.events if each.alarm == name and each.state is AlarmState.UNACKNOWLEDGED]


def too_fast() -> Heat:
    """Give a heat that has climbed 30 °C in five minutes, where 25 in a quarter of an hour are allowed."""
    heat = Heat()
    heat.climb(22.0, 60)
    heat.climb(52.0, 300)
    assert heat.raised("ramp-high")
    return heat


def test_an_alarm_that_was_wrong_is_withdrawn_in_words_and_waits_for_nobody() -> None:
    """The event says when that was said which is taken back, and what to expect of it."""
    heat = too_fast()
    event = heat.say(WRONG, "ramp-high")
    assert (event.event, event.alarm, event.state) == (EventName.ALARM, "ramp-high", AlarmState.SAID_WRONG)
    assert event.withdraws == heat.raised("ramp-high")[-1]
    assert event.text == (
        "ramp-high · said to be wrong: withdrawn; it rings again if it grows worse, or if it is still so in 5 min"
        " · drying"
    )
    standing = {alarm.alarm: alarm.state for alarm in heat.monitor.status().alarms}
    assert standing["ramp-high"] is AlarmState.SAID_WRONG


def test_a_climb_that_goes_on_rings_again_long_before_the_five_minutes() -> None:
    """A fact protects whoever errs: a tap changes nothing of the pot."""
    heat = too_fast()
    said_s = heat.time_s
    heat.say(WRONG, "ramp-high")
    heat.climb(72.0, 200)
    again_s = heat.raised("ramp-high")[-1]
    assert said_s < again_s < said_s + 120.0


def test_a_climb_that_has_ended_does_not_ring_again_before_the_five_minutes() -> None:
    """Then it does while the budget is still broken, however often it is said; and never again once that is over."""
    heat = too_fast()
    said_s = heat.time_s
    heat.say(WRONG, "ramp-high")
    heat.climb(52.0, 400)
    assert heat.raised("ramp-high")[-1] == said_s + 300.0
    heat.say(WRONG, "ramp-high")
    heat.climb(52.0, 900)
    assert heat.raised("ramp-high")[1:] == [said_s + 300.0, said_s + 700.0]
    [alarm] = [alarm for alarm in heat.monitor.status().alarms if alarm.alarm == "ramp-high"]
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED


def test_a_caution_that_was_wrong_rests_until_it_has_been_gone_once() -> None:
    """It foretells; whoever is about to turn the flame down knows better."""
    heat = Heat()
    heat.climb(22.0, 60)
    while not heat.raised("ramp-forecast"):
        heat.climb(heat.temp_c + 0.05, 1)
    event = heat.say(WRONG)
    assert event.text == "ramp-forecast · withdrawn: said to be wrong; silent until it has ended once · drying"
    while not heat.raised("ramp-high"):
        heat.climb(heat.temp_c + 0.05, 1)
    assert len(heat.raised("ramp-forecast")) == 1


def test_an_open_sensor_that_was_wrong_rings_again_in_five_minutes() -> None:
    """No temperature is to be had, whatever anybody says."""
    heat = Heat()
    heat.climb(50.0, 600)
    for _ in range(700):
        heat.time_s += 1.0
        heat.take(Reading(heat.time_s, junction_c=20.0, faults=(Fault.OPEN,)))
        if len(heat.raised("sensor-open")) == 1 and heat.events[-1].state is AlarmState.UNACKNOWLEDGED:
            said_s = heat.time_s
            heat.say(WRONG, "sensor-open")
    assert said_s + 300.0 <= heat.raised("sensor-open")[1] <= said_s + 320.0


def test_silence_that_was_wrong_rings_again_in_five_minutes_without_a_reading() -> None:
    """Silence is told once; the clock alone brings it back."""
    heat = Heat()
    heat.climb(50.0, 600)
    heat.monitor.advance(620.0)
    heat.time_s = 620.0
    heat.say(WRONG, "signal-lost")
    assert heat.monitor.advance(919.0) == []
    [event] = heat.monitor.advance(920.0)
    assert (event.alarm, event.state) == ("signal-lost", AlarmState.UNACKNOWLEDGED)


def test_a_sensor_that_was_said_to_be_well_no_longer_makes_other_alarms_rest() -> None:
    """Whoever says so wants to be told what it shows."""
    heat = Heat()
    heat.climb(22.0, 60)
    while not heat.raised("ramp-forecast"):
        heat.climb(heat.temp_c + 0.05, 1)
    while not heat.raised("sensor-open"):
        heat.time_s += 1.0
        heat.take(Reading(heat.time_s, junction_c=20.0, faults=(Fault.OPEN,)))
    states = [each.state for each in heat.events if each.alarm == "ramp-forecast"]
    assert states == [AlarmState.UNACKNOWLEDGED, AlarmState.SUPPRESSED]
    heat.say(WRONG, "sensor-open")
    heat.take(Reading(heat.time_s + 1.0, junction_c=20.0, faults=(Fault.OPEN,)))
    states = [each.state for each in heat.events if each.alarm == "ramp-forecast"]
    assert states[-1] is AlarmState.NORMAL


def test_what_stood_and_is_over_can_be_answered_too() -> None:
    """It need not be acknowledged any more."""
    heat = Heat()
    heat.climb(22.0, 60)
    heat.take(Notice(heat.time_s, NoticeName.RECORD_FAILING, text="no space"))
    heat.take(Notice(heat.time_s, NoticeName.RECORD_WRITTEN))
    event = heat.say(WRONG, "record-failing")
    assert (event.state, event.withdraws) == (AlarmState.NORMAL, 60.0)
    assert event.text == "record-failing · said to have been wrong · drying"


def test_taken_back_the_alarm_rings_again_at_once() -> None:
    """And counts as the one it was."""
    heat = too_fast()
    said_s = heat.raised("ramp-high")[-1]
    heat.say(WRONG)
    event = heat.say(UNDO)
    assert (event.state, event.upholds) == (AlarmState.UNACKNOWLEDGED, said_s)
    assert event.text.startswith("ramp-high · stands after all: ")
    assert heat.say(WRONG, "ramp-high").withdraws == said_s


def until_said(count: int) -> tuple[Monitor, list[Event]]:
    """Watch the lid's heat until that many messages have come."""
    with RecordReader(LIFTED) as reader:
        run = Replay(Monitor(schedule_of(reader.header, "it"), parameters_of(reader.header, "it")))
        said: list[Event] = []
        for line in reader:
            said += [event for event in run.take(line) if event.event is EventName.OBSERVED]
            if len(said) == count:
                return run.monitor, said
    raise AssertionError(f"only {said}")


def test_a_message_that_was_wrong_is_withdrawn_in_words() -> None:
    """The newest, where none is named."""
    monitor, [said] = until_said(1)
    [event] = monitor.feed(Command(said.time_s + 5.0, WRONG))
    assert (event.event, event.withdraws) == (EventName.OBSERVED, said.time_s)
    assert event.text == f"said to be wrong, withdrawn: {said.text}"
    [event] = monitor.feed(Command(said.time_s + 9.0, UNDO))
    assert (event.event, event.upholds) == (EventName.OBSERVED, said.time_s)
    assert event.text == f"stands after all: {said.text}"


def test_a_message_is_known_by_its_words_whatever_was_said_since() -> None:
    """A finger is slower than the watch; how spaces were sent does not matter."""
    monitor, [first, second] = until_said(2)
    [event] = monitor.feed(Command(second.time_s, WRONG, text=f"  {first.text[:40].replace(' ', '  ')}"))
    assert event.withdraws == first.time_s
    [event] = monitor.feed(Command(second.time_s, WRONG))
    assert event.withdraws == second.time_s


@pytest.mark.parametrize(
    ("commands", "why"),
    [
        ([(WRONG, "", "")], "wrong: nothing of it has been said"),
        ([(WRONG, "ramp-low", "")], "wrong ramp-low: nothing of it has been said"),
        ([(WRONG, "", "the moon")], "wrong: nothing of it has been said"),
        ([(WRONG, "nonsense", "")], "wrong nonsense: there is no alarm 'nonsense'"),
        ([(UNDO, "", "")], "undo-wrong: nothing of it was said to be wrong"),
    ],
)
def test_what_was_not_said_cannot_be_wrong(commands: list[tuple[CommandName, str, str]], why: str) -> None:
    """Refused in words, as any command that cannot be."""
    heat = Heat()
    heat.climb(22.0, 60)
    for name, alarm, text in commands:
        event = heat.say(name, alarm, text)
    assert (event.event, event.text) == (EventName.REFUSED, why)


def test_to_say_it_twice_does_not_take_back_what_was_said_before() -> None:
    """Gloves press twice."""
    heat = too_fast()
    assert heat.raised("ramp-forecast"), "something must have been said before"
    assert heat.say(WRONG).alarm == "ramp-high"
    event = heat.say(WRONG)
    assert (event.event, event.text) == (EventName.REFUSED, "wrong: it is withdrawn already: ramp-high")


def test_what_a_soak_is_credited_goes_by_readings_and_not_by_words() -> None:
    """The answer is kept; nothing is credited for it."""
    monitor = Monitor(pictured_schedule())
    monitor.feed(Reading(0.0, temp_c=20.0))
    monitor._events.answers.note_message(0.0, "dry soak · 6 min are taken back", is_account=True)
    [event] = monitor.feed(Command(1.0, WRONG))
    assert event.text == "said to be wrong, but the soak clock goes by readings: dry soak · 6 min are taken back"


def test_an_explanation_that_was_wrong_is_shown_no_more_and_no_reason_for_anything() -> None:
    """Until something else is said; nor is it said to be over, since nobody was told that it went on."""
    monitor, [said] = until_said(1)
    assert monitor.status().statement is not None
    monitor.feed(Command(said.time_s, WRONG, text=said.text))
    assert monitor.status().statement is None
    with RecordReader(LIFTED) as reader:
        later = [line for line in reader if isinstance(line, Reading) and said.time_s < line.time_s < said.time_s + 300]
    events = [event for line in later for event in monitor.feed(line)]
    assert [event.text for event in events if event.event is EventName.OBSERVED] == []


def test_an_explanation_that_was_right_after_all_is_shown_again() -> None:
    """As it stood."""
    monitor, [said] = until_said(1)
    before = monitor.status().statement
    monitor.feed(Command(said.time_s, WRONG))
    monitor.feed(Command(said.time_s, UNDO))
    assert monitor.status().statement == before
