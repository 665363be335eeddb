"""The one alarm of the wall's difference; `wall_watch` judges it."""

from rampwarden.core.alarm_entry import CHECK_THE_PROBE, AlarmEntry
from rampwarden.core.model import Priority

WALL_COOLING = AlarmEntry(
    name="wall-cooling",
    condition="cooling puts a quarter of its reckoned strength on the wall's outer face",
    priority=Priority.LOW,
    on_delay_s=2.0,
    off_delay_s=60.0,
    about_delays="two seconds: one more step of the reckoning",
    why="what cracks a pot that cools is the difference through its wall, before any limit is broken",
    action="close the lid and every draught",
    time_to_act="until cooling-fast: a minute",
    deadband=2.0,
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    is_opinion=True,
    look_at=("fine cracks on the outside and round the rim, as cooling opens them",),
)

WALL_ALARMS = (WALL_COOLING,)
"""What is judged of the wall."""
