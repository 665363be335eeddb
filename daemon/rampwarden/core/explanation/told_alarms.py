"""The alarms that an explanation raises: of what it says, these a person must act on at once or soon.

Stuck and disturbed sensors have alarms too, whose entries stand beside what else is known of the sensor.
"""

from rampwarden.core.alarm_entry import CHECK_THE_PROBE, AlarmEntry
from rampwarden.core.model import Priority
from rampwarden.core.short_orders import ShortOrder

FLAME_OUT = AlarmEntry(
    name="flame-out",
    condition="from one moment the heat is gone and the flame's flicker with it",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: gas is flowing",
    why="unburnt gas flows into a hot furnace and pools low; relighting it explodes",
    action="close the gas valve, wait, air out; only then look, and relight as the burner's maker says",
    short_order=ShortOrder.CLOSE_GAS,
    time_to_act="at once",
    rests_in_transfer=True,
    rests_in_doubt=True,
    is_opinion=True,
    # Gas without a flame is worse than a heat lost: whatever the reading is worth, somebody goes and looks.
    action_in_doubt="do not trust the reading: look at the flame; where none burns, close the gas valve",
    short_order_in_doubt=ShortOrder.SEE_FLAME,
    look_at=("the gas: weigh the bottle, look at regulator, hose and burner",),
)

HEAT_FAILING = AlarmEntry(
    name="heat-failing",
    condition="the climb dies away, or the soak sags, little by little: the gas, or somebody turned it down",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="the minutes it takes to tell it are the delay",
    why="a bottle freezes or runs empty unnoticed, and the pot lingers where it should not",
    # One probe cannot tell a flame turned down to a tenth from none: gas without a flame comes first.
    action="look at the flame: where none burns, close the gas valve; else see to gauge and bottle, and mark it",
    short_order=ShortOrder.SEE_FLAME,
    time_to_act="ten minutes",
    rests_in_transfer=True,
    rests_in_doubt=True,
    is_opinion=True,
    action_in_doubt=CHECK_THE_PROBE,
    short_order_in_doubt=ShortOrder.CHECK_PROBE,
    look_at=("the gas: weigh the bottle, look at regulator, hose and burner",),
    overtaken_by=("flame-out",),
)

TOLD_ALARMS = (HEAT_FAILING, FLAME_OUT)
"""What is judged by the explanation alone."""
