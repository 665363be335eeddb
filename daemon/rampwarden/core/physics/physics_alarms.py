"""The alarms of what is reckoned: `wall_watch` judges the wall, `bottle_watch` the gas."""

from rampwarden.core.alarm_entry import CHECK_THE_PROBE, AlarmEntry
from rampwarden.core.model import Priority
from rampwarden.core.short_orders import ShortOrder

WALL_COOLING = AlarmEntry(
    name="wall-cooling",
    condition="cooling puts a quarter of its reckoned strength on the wall's outer face",
    priority=Priority.LOW,
    on_delay_s=2.0,
    off_delay_s=60.0,
    about_delays="two seconds: one more step of the reckoning",
    why="what cracks a pot that cools is the difference through its wall, before any limit is broken",
    action="close the lid and every draught",
    short_order=ShortOrder.CLOSE_LID,
    time_to_act="until cooling-fast: a minute",
    deadband=2.0,
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    short_order_in_doubt=ShortOrder.CHECK_PROBE,
    is_opinion=True,
    look_at=("fine cracks on the outside and round the rim, as cooling opens them",),
)

BOTTLE_SHORT = AlarmEntry(
    name="bottle-short",
    condition="the bottle is reckoned to come to its least pressure within 20 min, before the heat is done with it",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: it is looked ahead once a minute",
    why="a bottle goes cold by its own boiling: the flame fades with half of the gas still in it",
    action="have a full bottle at hand, as warm as the workshop; change it with the valve shut, and mark it",
    short_order=ShortOrder.FULL_BOTTLE,
    time_to_act="as the text says",
    is_opinion=True,
)

PHYSICS_ALARMS = (WALL_COOLING, BOTTLE_SHORT)
"""What is judged of wall and bottle."""
