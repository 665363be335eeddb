"""What spoke against a heat when it began stands, whole, until somebody has acknowledged it."""

import tomllib

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import AlarmState, Command, CommandName, Event, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor

SAID = "metal: A3 is for bronze, and aluminium is to be melted; class: the schedule is for another than A3"


def watched() -> tuple[Monitor, list[Event]]:
    text = '[[segment]]\nname = "up"\nkind = "ramp"\nto = "900 C"\n'
    monitor = Monitor(parse_schedule(tomllib.loads(text), "test.toml"))
    events = monitor.feed(Notice(0.0, NoticeName.START_WARNING, text=SAID))
    return monitor, events


def test_it_stands_however_long_nobody_comes() -> None:
    """Readings, hours and other alarms take nothing of it away."""
    monitor, events = watched()
    for minute in range(180):
        events += monitor.feed(Reading(60.0 * minute, temp_c=20.0 + minute))
    (alarm,) = [each for each in monitor.status().alarms if each.alarm == "start-warning"]
    assert (alarm.state, alarm.text) == (AlarmState.UNACKNOWLEDGED, SAID)
    assert (alarm.order, alarm.raised_s) == ("READ THE WARNING", 0.0)
    assert SAID in next(event.text for event in events if event.alarm == "start-warning")


def test_it_is_over_once_somebody_has_acknowledged_it() -> None:
    """It is read once and takes no room afterwards; the record says that it was seen."""
    monitor, _ = watched()
    monitor.feed(Reading(5.0, temp_c=20.0))
    events = monitor.feed(Command(12.0, CommandName.ACKNOWLEDGE, by="ada"))
    assert [(event.state, event.text) for event in events if event.alarm == "start-warning"] == [
        (AlarmState.ACKNOWLEDGED, "start-warning · acknowledged"),
        (AlarmState.NORMAL, "start-warning · seen after 12 s"),
    ]
    assert monitor.status().alarms == ()
    assert monitor.feed(Command(13.0, CommandName.ACKNOWLEDGE)) == []


def test_acknowledging_ends_no_other_alarm() -> None:
    """An alarm whose condition stands is still there, as ever."""
    monitor, _ = watched()
    monitor.feed(Notice(1.0, NoticeName.RECORD_FAILING, text="the disk is full"))
    monitor.feed(Command(2.0, CommandName.ACKNOWLEDGE))
    assert [(each.alarm, each.state) for each in monitor.status().alarms] == [
        ("record-failing", AlarmState.ACKNOWLEDGED)
    ]
