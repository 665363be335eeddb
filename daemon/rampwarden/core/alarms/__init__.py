"""From conditions that come and go to alarms that stand, in states and in words."""

from rampwarden.core.alarms.alarm_words import alarm_text, segment_aim, segment_limits, segment_text
from rampwarden.core.alarms.desk import AlarmChange, AlarmDesk

__all__ = [
    "AlarmChange",
    "AlarmDesk",
    "alarm_text",
    "segment_aim",
    "segment_limits",
    "segment_text",
]
