"""The alarms of what two probes show together: `two_probes` finds it."""

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt
from rampwarden.core.model import Priority
from rampwarden.core.short_orders import ShortOrder

PROBES_DISAGREE = AlarmEntry(
    name="probes-disagree",
    condition="of the pot's and the chamber's probe one alone made a step, or they part slowly on a soak",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: a step is weighed for a minute and a half, drift for half an hour",
    why="one of them no longer shows what it is taken for, and the schedule may follow that one",
    action="look at the probe that is named: its place, its wire; go by the other meanwhile",
    short_order=ShortOrder.CHECK_PROBE,
    time_to_act="ten minutes",
    rests_in_transfer=True,
    is_opinion=True,
    look_at=("the probes: compare them cold, and at a melting point",),
)

PROBE_UNSEATED = AlarmEntry(
    name="probe-unseated",
    condition="the chamber is hot and the followed probe, which should be on the pot, is not",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=30.0,
    about_delays="no on-delay: it is weighed for a minute and a half, or four minutes of a chamber that is hot already",
    why="whoever goes by it turns up the gas under a pot that is hot already",
    action="hold the heat, put the probe back to the pot; go by the chamber's meanwhile",
    short_order=ShortOrder.PROBE_BACK,
    time_to_act="at once",
    rests_in_transfer=True,
    doubts=ReadingDoubt.UNCERTAIN,
    is_opinion=True,
)

TWO_PROBE_ALARMS = (PROBES_DISAGREE, PROBE_UNSEATED)
"""What is judged by two probes together."""
