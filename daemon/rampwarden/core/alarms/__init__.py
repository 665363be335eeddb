"""From conditions that come and go to alarms that stand, in states and in words."""

from rampwarden.core.alarms.alarm_words import (
    alarm_text,
    segment_aim,
    segment_limits,
    segment_rules,
    segment_text,
)
from rampwarden.core.alarms.answerable import AnswerBook
from rampwarden.core.alarms.desk import AlarmChange, AlarmDesk, AlarmInput

__all__ = [
    "AlarmChange",
    "AlarmDesk",
    "AlarmInput",
    "AnswerBook",
    "alarm_text",
    "segment_aim",
    "segment_limits",
    "segment_rules",
    "segment_text",
]
