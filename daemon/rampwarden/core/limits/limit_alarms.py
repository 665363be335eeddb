"""The alarms that a segment's limits raise; `segment_limits` judges them."""

from rampwarden.core.alarm_entry import CHECK_THE_PROBE, AlarmEntry, ReportMeaning
from rampwarden.core.model import Priority

RAMP_HIGH = AlarmEntry(
    name="ramp-high",
    condition="the temperature stands more than the limit's climb above the lowest inside its window",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: the window is an average already, one more would only come later",
    why="steam and uneven expansion crack a fresh wall",
    action="lower the heat or open the lid",
    time_to_act="minutes",
    rests_in_transfer=True,
    action_in_doubt=CHECK_THE_PROBE,
    report=ReportMeaning.HEATED_TOO_FAST,
    look_at=(
        "cracks: upright from the rim, or at the bottom edge through the base",
        "the ring when tapped: do not lift a pot that sounds dull",
    ),
)

RAMP_FORECAST = AlarmEntry(
    name="ramp-forecast",
    condition="at the present ramp the climb limit will be broken",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: a caution that waits is none",
    why="turned down now, the limit is never broken",
    action="ease the heat a little",
    time_to_act="as the text says",
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    is_opinion=True,
)

RAMP_LOW = AlarmEntry(
    name="ramp-low",
    condition="the ramp over its window stays below the segment's min_rate",
    priority=Priority.MEDIUM,
    on_delay_s=60.0,
    off_delay_s=60.0,
    about_delays="a minute, because the flame is turned down and up again while the lid is open",
    why="graphite burns out of the wall while it lingers at red heat",
    action="raise the heat, look at the gas",
    time_to_act="ten minutes",
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    wants_more_heat=True,
    report=ReportMeaning.TOO_SLOW,
    look_at=(
        "the upper 50 mm: grey, white or soft where graphite has burnt out",
        "its mass against the last one",
    ),
)

COOLING_FAST = AlarmEntry(
    name="cooling-fast",
    condition="the temperature fell by more than the limit inside its window",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: the window is an average already",
    why="cooling puts the hot face in tension, twice as hard as heating at the same rate",
    action="close the lid and every draught",
    time_to_act="minutes",
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    report=ReportMeaning.COOLED_TOO_FAST,
    look_at=("fine cracks on the outside and round the rim, as cooling opens them",),
)

TEMPERATURE_HIGH = AlarmEntry(
    name="temperature-high",
    condition="the temperature stands above the segment's ceiling",
    priority=Priority.HIGH,
    on_delay_s=5.0,
    off_delay_s=60.0,
    about_delays="five seconds let a spark pass and cost a degree or two",
    why="overheating softens the glaze and shortens the crucible's life",
    action="lower the heat now",
    time_to_act="a minute",
    deadband=5.0,
    rests_in_transfer=True,
    action_in_doubt=CHECK_THE_PROBE,
    report=ReportMeaning.OVERHEATED,
    look_at=("the glaze: a network of cracks, or notches at the melt line",),
)

CEILING_FORECAST = AlarmEntry(
    name="ceiling-forecast",
    condition="at the present climb the segment's ceiling will be passed within a minute",
    priority=Priority.LOW,
    on_delay_s=5.0,
    off_delay_s=60.0,
    about_delays="five seconds let a spark pass; half a minute and more is left",
    why="turned down now, the ceiling is never passed: furnace and probe go on climbing for a while",
    action="lower the heat now",
    time_to_act="as the text says",
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    is_opinion=True,
)

SOAK_DEVIATION = AlarmEntry(
    name="soak-deviation",
    condition="the soak has left its band",
    priority=Priority.MEDIUM,
    on_delay_s=60.0,
    off_delay_s=60.0,
    about_delays="a minute: the soak clock waits anyway, nothing is lost by looking twice",
    why="time outside the band does not count as soaked",
    action="bring it back into the band",
    time_to_act="minutes; the soak clock waits",
    deadband=3.0,
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    report=ReportMeaning.OUT_OF_BAND,
)

NOT_HEATING = AlarmEntry(
    name="not-heating",
    condition="the temperature has fallen for minutes where the segment wants heat",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: it is made of minutes already",
    why="an oven that has tripped says nothing, and the heat is lost meanwhile",
    action="look at oven, burner and switch",
    time_to_act="ten minutes",
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    report=ReportMeaning.TOO_SLOW,
)

NOT_COOLING = AlarmEntry(
    name="not-cooling",
    condition="the temperature rises, or stays, where the segment should cool",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: it is made of minutes already",
    why="gas or current left on goes on heating the pot, past its soak and its ceiling",
    action="turn the heat off at the valve or switch; keep lid and flue shut",
    time_to_act="ten minutes",
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    report=ReportMeaning.OVERHEATED,
)

HEAT_ALARMS = (
    RAMP_HIGH,
    RAMP_FORECAST,
    RAMP_LOW,
    COOLING_FAST,
    TEMPERATURE_HIGH,
    CEILING_FORECAST,
    SOAK_DEVIATION,
    NOT_HEATING,
    NOT_COOLING,
)
"""What is judged of every accepted temperature."""
