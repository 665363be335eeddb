"""How an alarm that stands reads in a line: its state first, then name, place and time, and what is so now."""

from collections.abc import Mapping
from types import MappingProxyType

from rampwarden.core.model import AlarmState, HeatStatus, StandingAlarm
from rampwarden.core.quantities import heat_clock

STATE_WORDS: Mapping[AlarmState, str] = MappingProxyType(
    {
        AlarmState.UNACKNOWLEDGED: "NEW",
        AlarmState.ACKNOWLEDGED: "ACKNOWLEDGED",
        AlarmState.RETURNED_UNACKNOWLEDGED: "ENDED",
        AlarmState.SHELVED: "SHELVED",
        AlarmState.SAID_WRONG: "WITHDRAWN",
    }
)
"""Each state that is shown, in a word that stands first and is never cut."""


def state_words(alarm: StandingAlarm) -> str:
    """Give an alarm's state in a word."""
    return STATE_WORDS.get(alarm.state, str(alarm.state))


def place_and_time(alarm: StandingAlarm) -> str:
    """Say when it rang, by the heat's own clock, and in which segment."""
    return heat_clock(alarm.raised_s) + ("" if alarm.segment is None else f" {alarm.segment}")


def yielding_words(alarm: StandingAlarm) -> str:
    """Say that it orders nothing because another's order comes first; empty where it does not."""
    return f"{alarm.yields_to} comes first" if alarm.yields_to else ""


def alarm_lines(alarm: StandingAlarm) -> list[str]:
    """Give an alarm in one line or two: what it is, and what to do about it now."""
    worst = f" · at worst {alarm.worst}" if alarm.worst and alarm.ended_s is None else ""
    first = (
        f"{state_words(alarm)} · {alarm.priority} · {alarm.alarm} since {place_and_time(alarm)} · {alarm.text}{worst}"
    )
    todo = alarm.action or yielding_words(alarm)
    return [first, f"    → {todo}"] if todo else [first]


def first_order_words(status: HeatStatus) -> str:
    """Give the one order to carry out first, with the alarm it comes from; empty while none stands."""
    first = next((alarm for alarm in status.alarms if alarm.is_first), None)
    return "" if first is None else f"{first.order} ({first.alarm})"
