"""From conditions that come and go to alarms that stand, in states and in words."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.alarms.alarm_words import alarm_text, segment_aim, segment_limits, segment_rules, segment_text
    from rampwarden.core.alarms.answerable import AnswerBook
    from rampwarden.core.alarms.desk import RAISING, AlarmChange, AlarmDesk, AlarmInput
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "RAISING",
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
