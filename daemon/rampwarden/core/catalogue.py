"""The alarm catalogue: what each alarm means, how urgent it is, how long it may wait, and what to do.

An alarm is here because a person can do something about it in time (IEC 62682 calls that rationalisation). Delays and
deadbands are starting values: common practice, no source, unless a line says otherwise. Settings may change priority
and delays of an alarm, never its meaning.
"""

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from rampwarden.core.model import Priority


class AlarmName(StrEnum):
    """Every alarm the watch can raise."""

    RAMP_HIGH = "ramp-high"
    RAMP_FORECAST = "ramp-forecast"
    RAMP_LOW = "ramp-low"
    COOLING_FAST = "cooling-fast"
    TEMPERATURE_HIGH = "temperature-high"
    CEILING_FORECAST = "ceiling-forecast"
    SOAK_DEVIATION = "soak-deviation"
    SEGMENT_OVERDUE = "segment-overdue"
    SIGNAL_LOST = "signal-lost"
    SENSOR_OPEN = "sensor-open"
    SENSOR_SHORT = "sensor-short"
    SENSOR_RANGE = "sensor-range"
    SENSOR_STUCK = "sensor-stuck"
    SENSOR_REVERSED = "sensor-reversed"
    SENSOR_NOISY = "sensor-noisy"
    SENSOR_TYPE_SUSPECT = "sensor-type-suspect"
    SENSOR_LAGGING = "sensor-lagging"
    JUNCTION_RANGE = "junction-range"
    JUNCTION_RACING = "junction-racing"
    HEAT_FAILING = "heat-failing"
    FLAME_OUT = "flame-out"
    BOARD_RESTARTED = "board-restarted"
    RECORD_FAILING = "record-failing"
    BROKER_UNREACHABLE = "broker-unreachable"
    OUTPUT_FAILING = "output-failing"


@dataclass(frozen=True, slots=True)
class CatalogueEntry:
    """One alarm: `on_delay_s` and `off_delay_s` in seconds, `deadband` in the unit of the alarm's value.

    `waits_for_reading`: the delays end only on a reading that confirms them, never by the clock alone. One reading out
    of range, with the next one still on its way, is a spark and no alarm.
    """

    condition: str
    priority: Priority
    on_delay_s: float
    off_delay_s: float
    why: str
    action: str
    time_to_act: str
    deadband: float = 0.0
    waits_for_reading: bool = True


CATALOGUE: MappingProxyType[AlarmName, CatalogueEntry] = MappingProxyType(
    {
        AlarmName.RAMP_HIGH: CatalogueEntry(
            condition="the temperature stands more than the limit's climb above the lowest inside its window",
            priority=Priority.HIGH,
            # The climb budget is an average already: one more delay would only come later.
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="steam and uneven expansion crack a fresh wall",
            action="lower the heat or open the lid",
            time_to_act="minutes",
        ),
        AlarmName.RAMP_FORECAST: CatalogueEntry(
            condition="at the present ramp the climb limit will be broken",
            priority=Priority.LOW,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="turned down now, the limit is never broken",
            action="ease the heat a little",
            time_to_act="as the text says",
        ),
        AlarmName.RAMP_LOW: CatalogueEntry(
            condition="the ramp over its window stays below the segment's min_rate",
            priority=Priority.MEDIUM,
            on_delay_s=60.0,
            off_delay_s=60.0,
            why="graphite burns out of the wall while it lingers at red heat",
            action="raise the heat, look at the gas",
            time_to_act="ten minutes",
        ),
        AlarmName.COOLING_FAST: CatalogueEntry(
            condition="the temperature fell by more than the limit inside its window",
            priority=Priority.MEDIUM,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="cooling puts the hot face in tension, twice as hard as heating at the same rate",
            action="close the lid and every draught",
            time_to_act="minutes",
        ),
        AlarmName.TEMPERATURE_HIGH: CatalogueEntry(
            condition="the temperature stands above the segment's ceiling",
            priority=Priority.HIGH,
            on_delay_s=5.0,
            off_delay_s=60.0,
            why="overheating softens the glaze and shortens the crucible's life",
            action="lower the heat now",
            time_to_act="a minute",
            deadband=5.0,
        ),
        AlarmName.CEILING_FORECAST: CatalogueEntry(
            condition="at the present climb the segment's ceiling will be passed within a minute",
            priority=Priority.LOW,
            on_delay_s=5.0,
            off_delay_s=60.0,
            why="turned down now, the ceiling is never passed: furnace and probe go on climbing for a while",
            action="lower the heat now",
            time_to_act="as the text says",
        ),
        AlarmName.SOAK_DEVIATION: CatalogueEntry(
            condition="the soak has left its band",
            priority=Priority.MEDIUM,
            on_delay_s=60.0,
            off_delay_s=60.0,
            why="time outside the band does not count as soaked",
            action="bring it back into the band",
            time_to_act="minutes; the soak clock waits",
            deadband=3.0,
        ),
        AlarmName.SEGMENT_OVERDUE: CatalogueEntry(
            condition="the segment has lasted longer than its time limit",
            priority=Priority.MEDIUM,
            on_delay_s=0.0,
            off_delay_s=0.0,
            why="something the schedule counted on has not happened",
            action="look at the furnace; mark or skip the segment if it is done",
            time_to_act="minutes",
            waits_for_reading=False,
        ),
        AlarmName.SIGNAL_LOST: CatalogueEntry(
            condition="no reading has come for the set time",
            priority=Priority.HIGH,
            # The silence itself is timed by the watch; a second delay would add to it.
            on_delay_s=0.0,
            off_delay_s=5.0,
            why="nobody watches the heat while readings are missing; assume the furnace is hot",
            action="check cable and board, watch the furnace by eye",
            time_to_act="at once",
            waits_for_reading=False,
        ),
        AlarmName.SENSOR_OPEN: CatalogueEntry(
            condition="the board reports an open thermocouple",
            priority=Priority.HIGH,
            on_delay_s=2.0,
            off_delay_s=10.0,
            why="a broken thermocouple sees nothing; the furnace goes on heating",
            action="check plug and thermocouple, hold the heat",
            time_to_act="at once",
        ),
        AlarmName.SENSOR_SHORT: CatalogueEntry(
            condition="the board reports a short to ground or to its supply",
            priority=Priority.HIGH,
            on_delay_s=2.0,
            off_delay_s=10.0,
            why="a shorted thermocouple reads some other place or nothing",
            action="check the wires for contact with the furnace, hold the heat",
            time_to_act="at once",
        ),
        AlarmName.SENSOR_RANGE: CatalogueEntry(
            condition="the reading lies outside what the thermocouple can give, or the converter failed",
            priority=Priority.HIGH,
            on_delay_s=2.0,
            off_delay_s=10.0,
            why="the temperature is not known",
            action="check type, polarity and wiring, hold the heat",
            time_to_act="at once",
        ),
        AlarmName.JUNCTION_RANGE: CatalogueEntry(
            condition="the reference junction is outside its usual range, or its sensor failed",
            priority=Priority.LOW,
            on_delay_s=30.0,
            off_delay_s=60.0,
            why="each degree of error there is a degree of error in the reading",
            action="move the board away from the heat",
            time_to_act="this heat",
            deadband=2.0,
        ),
        # The diagnoses below are made of minutes: whatever delay they need is in them already.
        AlarmName.SENSOR_STUCK: CatalogueEntry(
            condition="not one step of movement for a minute and more, where readings scattered before",
            priority=Priority.HIGH,
            on_delay_s=0.0,
            off_delay_s=10.0,
            why="the furnace goes on unseen, and every limit seems kept",
            action="restart board and converter, hold the heat until the reading moves",
            time_to_act="at once",
        ),
        AlarmName.SENSOR_REVERSED: CatalogueEntry(
            condition="the reading falls below its own reference junction while the heat is on",
            priority=Priority.HIGH,
            on_delay_s=0.0,
            off_delay_s=10.0,
            why="crossed wires show the heat upside down",
            action="swap the two wires at the board, hold the heat meanwhile",
            time_to_act="minutes",
        ),
        AlarmName.SENSOR_NOISY: CatalogueEntry(
            condition="readings scatter several times as much as was usual in this heat, or more than is bearable",
            priority=Priority.LOW,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="margins widen with the scatter, so ramp alarms come later",
            action="look at plug, shield and cable run; keep away from mains and ignition leads",
            time_to_act="this heat",
        ),
        AlarmName.SENSOR_TYPE_SUSPECT: CatalogueEntry(
            condition="the reading at a known point (cold start, a pure metal's plateau) fits another type or format",
            priority=Priority.LOW,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="the wrong type is wrong by a hundred degrees and more at red heat",
            action="compare probe, cable and plug colours with the type that is set",
            time_to_act="before red heat",
        ),
        AlarmName.SENSOR_LAGGING: CatalogueEntry(
            condition="the probe's time constant is more than a fifth of the fastest window in force",
            priority=Priority.LOW,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="a fast ramp is seen late and too small",
            action="stay well below the limit; use a thinner probe or tube next time",
            time_to_act="this heat",
        ),
        AlarmName.JUNCTION_RACING: CatalogueEntry(
            condition="the reference junction changes by more than a degree a minute",
            priority=Priority.LOW,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="its sensor lags behind its terminals, and the difference is an error of the reading",
            action="shade the board from heat and draught",
            time_to_act="minutes",
        ),
        AlarmName.HEAT_FAILING: CatalogueEntry(
            condition="the climb dies away, or the soak sags, three windows running, and nobody marked a reason",
            priority=Priority.MEDIUM,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="a bottle freezes or runs empty unnoticed, and the pot lingers where it should not",
            action="look at flame, gauge and bottle; change the bottle or raise the heat, and mark what was done",
            time_to_act="ten minutes",
        ),
        AlarmName.FLAME_OUT: CatalogueEntry(
            condition="from one moment the temperature falls as an unheated furnace does, with no flicker left",
            priority=Priority.HIGH,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="unburnt gas flows into a hot furnace and pools low; relighting it explodes",
            action="close the gas valve, wait, air out; only then look, and relight as the burner's maker says",
            time_to_act="at once",
        ),
        AlarmName.BOARD_RESTARTED: CatalogueEntry(
            condition="the board's clock started again",
            priority=Priority.LOW,
            on_delay_s=0.0,
            # A restart is a moment; it stands this long so that a person can see it.
            off_delay_s=60.0,
            why="a loose supply shows first as restarts",
            action="check the board's power and USB cable",
            time_to_act="this heat",
            waits_for_reading=False,
        ),
        AlarmName.RECORD_FAILING: CatalogueEntry(
            condition="the heat record cannot be written",
            priority=Priority.MEDIUM,
            on_delay_s=0.0,
            off_delay_s=0.0,
            why="after the heat there would be nothing to look at; the watch itself goes on",
            action="free disk space or check the disk",
            time_to_act="minutes; lines wait in memory",
            waits_for_reading=False,
        ),
        AlarmName.BROKER_UNREACHABLE: CatalogueEntry(
            condition="no message reaches anybody over MQTT: link down, refused, or nobody subscribed",
            priority=Priority.MEDIUM,
            on_delay_s=0.0,
            off_delay_s=10.0,
            why="whoever relies on a phone or another room hears nothing; the bell alone is left",
            action="stay by the furnace, look at network and broker",
            time_to_act="minutes; events wait in the record",
            waits_for_reading=False,
        ),
        AlarmName.OUTPUT_FAILING: CatalogueEntry(
            condition="the bell, display, page or MQTT worker died of an error of ours and was started again",
            priority=Priority.MEDIUM,
            on_delay_s=0.0,
            off_delay_s=60.0,
            why="an alarm may have been shown or rung late or not at all",
            action="look at the alarms that stand, keep the record, report the error",
            time_to_act="minutes; the watch itself goes on",
            waits_for_reading=False,
        ),
    }
)

SUPPRESSED_IN_TRANSFER = frozenset(
    {
        AlarmName.RAMP_HIGH,
        AlarmName.RAMP_FORECAST,
        AlarmName.RAMP_LOW,
        AlarmName.COOLING_FAST,
        AlarmName.TEMPERATURE_HIGH,
        AlarmName.CEILING_FORECAST,
        AlarmName.SOAK_DEVIATION,
        AlarmName.SENSOR_OPEN,
        AlarmName.SENSOR_NOISY,
        AlarmName.HEAT_FAILING,
        AlarmName.FLAME_OUT,
    }
)
"""While the pot is carried the probe hangs in the air or is unplugged; what it says then is no news."""

SUPPRESSED_AFTERWARDS = frozenset(AlarmName) - {
    AlarmName.RECORD_FAILING,
    AlarmName.BROKER_UNREACHABLE,
    AlarmName.OUTPUT_FAILING,
}
"""Once the schedule is done the probe may be pulled and the board unplugged; only our own outputs still matter."""
