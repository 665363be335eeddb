"""The alarm that says that another probe is followed, as little as that may be."""

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.model import Priority

STANDING_IN = AlarmEntry(
    name="standing-in",
    condition="the followed probe has failed, and another one stands in for it",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=0.0,
    about_delays="no delays: what is followed changes in one moment, and whoever steers must know it",
    why="the heat goes on by a temperature that is guessed: it may be further off with every minute",
    action="check the followed probe and its wiring; until it is back, keep further from every limit",
    time_to_act="minutes",
    waits_for_reading=False,
)

STANDING_IN_ALARMS = (STANDING_IN,)
"""What is judged here."""
