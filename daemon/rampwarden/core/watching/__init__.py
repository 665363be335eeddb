"""What the door composes: its events, and what happens to alarms, segments, commands and silence on the way."""

from typing import TYPE_CHECKING

from rampwarden.core.watching.heat_status import heat_status
from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.watching.alarm_reports import AlarmReports
    from rampwarden.core.watching.event_list import EventList
    from rampwarden.core.watching.explaining import Explaining
    from rampwarden.core.watching.orders import Orders
    from rampwarden.core.watching.other_probes import OtherProbes, probe_alarms
    from rampwarden.core.watching.pot_physics import PotPhysics
    from rampwarden.core.watching.probes_together import ProbesTogether
    from rampwarden.core.watching.questions import AskedQuestions
    from rampwarden.core.watching.schedule_passage import SchedulePassage
    from rampwarden.core.watching.silence import SIGNAL_ALARMS, SilenceWatch, unseen
    from rampwarden.core.watching.standing_in import StandingIn
    from rampwarden.core.watching.withholding import Withholding
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "SIGNAL_ALARMS",
    "AlarmReports",
    "AskedQuestions",
    "EventList",
    "Explaining",
    "Orders",
    "OtherProbes",
    "PotPhysics",
    "ProbesTogether",
    "SchedulePassage",
    "SilenceWatch",
    "StandingIn",
    "Withholding",
    "heat_status",
    "probe_alarms",
    "unseen",
]
