"""Where the heat stands in its schedule, and how long it has to go."""

from typing import TYPE_CHECKING

from rampwarden.core.heat.schedule_doubts import ScheduleDoubt, schedule_doubts
from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.heat.heat_course import HeatCourse
    from rampwarden.core.heat.legs import Leg, legs_ahead
    from rampwarden.core.heat.pulled_probe import PULLED_WITHIN_S, PulledProbe
    from rampwarden.core.heat.schedule_parsing import parse_schedule
    from rampwarden.core.heat.time_to_go import Outlook, TimeToGo, planned_s
    from rampwarden.core.heat.tracker import LONGEST_CREDITED_S, HeatProgress, HeatTracker, Milestone, Phase
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "LONGEST_CREDITED_S",
    "PULLED_WITHIN_S",
    "HeatCourse",
    "HeatProgress",
    "HeatTracker",
    "Leg",
    "Milestone",
    "Outlook",
    "Phase",
    "PulledProbe",
    "ScheduleDoubt",
    "TimeToGo",
    "legs_ahead",
    "parse_schedule",
    "planned_s",
    "schedule_doubts",
]
