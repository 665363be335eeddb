"""From conditions that come and go to alarms that stand, in states and in words."""

from rampwarden.core.alarms.alarm_words import alarm_text, segment_aim, segment_limits, segment_text
from rampwarden.core.alarms.desk import AlarmChange, AlarmDesk, AlarmInput
from rampwarden.core.alarms.statements import Statements

__all__ = [
    "AlarmChange",
    "AlarmDesk",
    "AlarmInput",
    "Statements",
    "alarm_text",
    "segment_aim",
    "segment_limits",
    "segment_text",
]
